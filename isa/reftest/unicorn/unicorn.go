// Package unicorn runs snippets of A32 and Thumb code on the Unicorn CPU
// emulator, for tests: what an instruction does to registers, flags and
// memory. It links the library (Debian: libunicorn-dev) only with the build
// tag reftools; without the tag [Open] counts the library as a missing tool.
//
//	e := unicorn.Open(t, "armv4t")
//	e.Map(0x8000, 0x1000)
//	r := e.Run(unicorn.Snippet{
//		Addr: 0x8000, Code: []byte{0x88, 0x18}, Thumb: true, // adds r0, r1, r2
//		Stop: 0x8002, Limit: 1,
//		Regs: [15]uint32{1: 40, 2: 2},
//	})
//	// r.Why == unicorn.Reached, r.Regs[0] == 42, r.Flags&unicorn.FlagZ == 0
//
// An engine is for one goroutine at a time, and may run any number of
// snippets: a run takes some microseconds. Each run starts from the snippet's
// registers, flags and memory regions and from a fresh processor state
// (privileged, interrupts masked, no IT block); only memory outside the
// snippet's regions carries over from one run to the next.
//
// # Limits of the emulator
//
// Found with Unicorn 2.0.1 and held by this package's tests:
//
//   - A model lacks the later instructions, with exceptions: the A profile
//     models and the Cortex-M0 run CBZ, IT and the NOP hints on every
//     architecture, and SETEND runs on the M profile too. A result other than
//     Undefined therefore doesn't show that an architecture has these.
//   - An unaligned access faults on ARMv6-M, as it should. On the other models
//     it reads and writes the bytes where they are, also for ARMv4T and
//     ARMv5TE, whose LDR rotates the aligned word instead.
//   - Out of unprivileged Thread mode of the M profile (CONTROL.nPRIV) a run
//     brings no way back: the next one is in it, too.
//   - With a limit, a run may go on after some instructions that end a block of
//     translated code in an IT block: what follows had better stay where it is.
//   - YIELD and WFE count as Undefined on every model.
package unicorn

import (
	"bytes"
	"encoding/binary"
	"testing"

	"narrowgauge/isa/reftest"
)

// The condition flags in their places in CPSR and xPSR (Arm ARM, "The
// Application Program Status Register").
const (
	FlagN uint32 = 1 << 31
	FlagZ uint32 = 1 << 30
	FlagC uint32 = 1 << 29
	FlagV uint32 = 1 << 28
	FlagQ uint32 = 1 << 27
	// FlagsGE are the four flags of parallel arithmetic.
	FlagsGE uint32 = 15 << 16
)

// models names the emulated core for an architecture: of those that the
// library has, one without later instructions. The last has all that the
// library knows.
var models = map[string]model{
	"armv4t":       {name: "TI925T"},
	"armv5te":      {name: "ARM926EJ-S"},
	"armv6":        {name: "ARM1136 r0p2"},
	"armv6k":       {name: "ARM1176"},
	"armv6-m":      {name: "Cortex-M0", mProfile: true},
	"armv7-m":      {name: "Cortex-M3", mProfile: true},
	"armv7e-m":     {name: "Cortex-M4", mProfile: true},
	"armv8-m.main": {name: "Cortex-M33", mProfile: true},
	"armv7-a":      {name: "Cortex-A8"},
	"armv7ve":      {name: "Cortex-A15"},
	"armv8-a":      {name: "max"},
}

type model struct {
	name     string
	mProfile bool
}

// Model is the name of the core that is taken for an architecture ("armv4t"),
// empty for one that Open doesn't know.
func Model(arch string) string { return models[arch].name }

// Region is a piece of memory.
type Region struct {
	Addr uint32
	Data []byte
}

// Floats are the registers of floating point.
type Floats struct {
	D     [32]uint64
	FPSCR uint32
}

// Snippet is what to run. Code and Mem must lie in memory that Engine.Map made.
type Snippet struct {
	Addr  uint32 // where Code is put and started
	Code  []byte // little-endian
	Thumb bool   // start in T16/T32 code; the M profile has nothing else
	// Stop is the address before whose instruction the run ends. It is an
	// address only: it means the same whether T16 or A32 code gets there.
	Stop  uint32
	Limit int        // most instructions to execute, at least 1
	Regs  [15]uint32 // r0 to r14
	Flags uint32     // FlagN … FlagsGE
	Mem   []Region   // written before the run, read back after it
	// Floats are set before the run and read after it; nil: they are left alone. Code that
	// uses them needs them enabled: see EnableFloats.
	Floats *Floats
	// Watched is the address of the memory that steps have, in memory that Engine.Map made.
	Watched uint32
}

// Step is the state before an instruction of a run; what an IT block leaves out is none: r15
// is its address, Mem what is at Snippet.Watched.
type Step struct {
	Regs  [16]uint32
	Flags uint32 // FlagN … FlagsGE
	Mem   [WatchedSize]byte
}

// WatchedSize is how many bytes of memory a step has.
const WatchedSize = 256

// Why is the reason for a run's end.
type Why uint8

// The reasons.
const (
	Reached   Why = iota // arrived at Stop
	Limited              // executed Limit instructions, without arriving at Stop
	Undefined            // an instruction that the model doesn't have, or UDF
	Raised               // an exception: Result.Exception says which
	Faulted              // memory that isn't mapped: Result.Fault is the address
	Failed               // another error of the emulator: Result.Code
)

var whyNames = [...]string{"reached", "limited", "undefined", "raised", "faulted", "failed"}

// String is the constant's name in lower case.
func (w Why) String() string {
	if int(w) < len(whyNames) {
		return whyNames[w]
	}
	return "why?"
}

// Values of Result.Exception: the numbers that the emulator itself counts by
// (from memory; the tests raise each of them).
const (
	ExceptionSVC       = 2
	ExceptionDataAbort = 4
	ExceptionBKPT      = 7
)

// Result is the state after a run.
type Result struct {
	Why       Why
	Regs      [16]uint32 // r0 to r15; r15 is the address of the next instruction, bit 0 clear
	Flags     uint32     // FlagN … FlagsGE
	Thumb     bool       // the state at the end
	Mem       []Region   // the snippet's regions as they are now, in newly made slices
	Floats    *Floats    // where the snippet has them
	Exception int        // with Raised: the emulator's number
	Fault     uint32     // with Faulted: the address
	Code      int        // the library's error number (uc_err), 0 for none
}

// Engine is an emulated core with its memory.
type Engine struct {
	t     testing.TB
	model model
	impl
}

// Open makes an engine for an architecture, one that Model knows. It is closed
// at the test's end. Without the library the test is skipped, or fails in CI.
func Open(t testing.TB, arch string) *Engine {
	t.Helper()
	reftest.Need(t, Built, "Unicorn (build tag reftools)")
	m, ok := models[arch]
	if !ok {
		t.Fatalf("unicorn: no model for %s", arch)
	}
	e := &Engine{t: t, model: m}
	if err := e.open(arch, m.mProfile); err != nil {
		t.Fatalf("unicorn: open %s: %v", arch, err)
	}
	t.Cleanup(e.close)
	return e
}

// Map makes size bytes of memory at addr, zeroed, for code and data. Both are
// multiples of 4096.
func (e *Engine) Map(addr, size uint32) {
	e.t.Helper()
	if err := e.mapMemory(addr, size); err != nil {
		e.t.Fatalf("unicorn: map %#x, %#x bytes: %v", addr, size, err)
	}
}

// Fill writes the same bytes so many times, from addr up.
func (e *Engine) Fill(addr uint32, data []byte, times int) {
	e.t.Helper()
	if err := e.write(addr, bytes.Repeat(data, times)); err != nil {
		e.t.Fatalf("unicorn: %v", err)
	}
}

// EnableFloats lets code use floating point from now on, on a core of the A profile. at
// is an address in memory that Map made, for a few instructions.
func (e *Engine) EnableFloats(at uint32) {
	e.t.Helper()
	var code []byte
	for _, w := range []uint32{
		0xee010f50, // mcr p15, 0, r0, c1, c0, 2: CPACR (DDI 0406C, B4.1.40)
		0xf57ff06f, // isb
		0xeee81a10, // vmsr fpexc, r1: EN (DDI 0406C, B4.1.57)
	} {
		code = binary.LittleEndian.AppendUint32(code, w)
	}
	end := at + uint32(len(code))
	r := e.Run(Snippet{Addr: at, Code: code, Stop: end, Limit: 3, Regs: [15]uint32{0: 0xf << 20, 1: 1 << 30}})
	if r.Why != Reached {
		e.t.Fatalf("unicorn: floating point is not enabled: %v", r.Why)
	}
}

// Follow has the steps of each run noted from now on, at most so many. It comes before the
// first run: what has been translated by then is run as it is.
func (e *Engine) Follow(most int) {
	e.t.Helper()
	if err := e.follow(most); err != nil {
		e.t.Fatalf("unicorn: %v", err)
	}
}

// Steps appends the steps of the last run to a list.
func (e *Engine) Steps(list []Step) []Step { return e.steps(list) }

// Run runs a snippet. Whatever the code does is a result; the test fails only
// for a snippet that can't be set up.
func (e *Engine) Run(s Snippet) Result {
	e.t.Helper()
	if s.Limit < 1 {
		e.t.Fatalf("unicorn: limit %d", s.Limit)
	}
	if e.model.mProfile && !s.Thumb {
		e.t.Fatalf("unicorn: %s has no A32 code", e.model.name)
	}
	r, err := e.run(&s, e.model.mProfile)
	if err != nil {
		e.t.Fatalf("unicorn: %v", err)
	}
	return r
}
