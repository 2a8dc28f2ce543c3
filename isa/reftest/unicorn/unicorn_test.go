package unicorn

import (
	"bytes"
	"encoding/binary"
	"slices"
	"testing"
)

// The encodings and the rules that these tests cite of the Arm ARM and the
// ARMv6-M ARM are from memory; the emulator confirms them.

const (
	codeAt = 0x8000
	dataAt = 0x2000_0000
)

var architectures = slices.Sorted(func(yield func(string) bool) {
	for a := range models {
		if !yield(a) {
			return
		}
	}
})

func t16(words ...uint16) []byte {
	var b []byte
	for _, w := range words {
		b = binary.LittleEndian.AppendUint16(b, w)
	}
	return b
}

func a32(words ...uint32) []byte {
	var b []byte
	for _, w := range words {
		b = binary.LittleEndian.AppendUint32(b, w)
	}
	return b
}

func open(t testing.TB, arch string) *Engine {
	t.Helper()
	e := Open(t, arch)
	e.Map(codeAt, 0x1000)
	e.Map(dataAt, 0x1000)
	return e
}

// straight is a snippet that runs through code from its first instruction to
// its end.
func straight(thumb bool, code []byte) Snippet {
	return Snippet{Addr: codeAt, Code: code, Thumb: thumb, Stop: codeAt + uint32(len(code)), Limit: len(code) / 2}
}

// ADDS (register) T1, 0b0001100 Rm Rn Rd, with the flags that the Arm ARM's
// AddWithCarry gives; and that one engine runs different code at one address.
func TestAdd(t *testing.T) {
	for _, arch := range architectures {
		t.Run(arch, func(t *testing.T) {
			e := open(t, arch)
			for _, c := range []struct{ a, b, sum, flags uint32 }{
				{40, 2, 42, 0},
				{0xffff_ffff, 1, 0, FlagZ | FlagC},
				{0x7fff_ffff, 1, 0x8000_0000, FlagN | FlagV},
				{0x8000_0000, 0x8000_0000, 0, FlagZ | FlagC | FlagV},
			} {
				s := straight(true, t16(0x1888)) // adds r0, r1, r2
				s.Regs = [15]uint32{1: c.a, 2: c.b, 14: 0xabcd}
				r := e.Run(s)
				if r.Why != Reached || r.Regs[0] != c.sum || r.Flags != c.flags || r.Regs[14] != 0xabcd || !r.Thumb {
					t.Errorf("%#x + %#x: %+v", c.a, c.b, r)
				}
				s.Code = t16(0x1a88) // subs r0, r1, r2
				if r := e.Run(s); r.Why != Reached || r.Regs[0] != c.a-c.b {
					t.Errorf("%#x - %#x: %+v", c.a, c.b, r)
				}
			}
		})
	}
}

// ADCS T1, 0b0100000101 Rm Rdn, takes the carry that is handed in; a move does
// not change the flags.
func TestFlagsIn(t *testing.T) {
	for _, arch := range architectures {
		t.Run(arch, func(t *testing.T) {
			e := open(t, arch)
			s := straight(true, t16(0x4148)) // adcs r0, r1
			s.Regs = [15]uint32{10, 20}
			if r := e.Run(s); r.Regs[0] != 30 {
				t.Errorf("carry clear: %+v", r)
			}
			s.Flags = FlagC
			if r := e.Run(s); r.Regs[0] != 31 || r.Flags != 0 {
				t.Errorf("carry set: %+v", r)
			}
			s = straight(true, t16(0x4680)) // mov r8, r0
			s.Regs[0], s.Flags = 7, FlagN|FlagV
			if r := e.Run(s); r.Regs[8] != 7 || r.Flags != FlagN|FlagV {
				t.Errorf("move: %+v", r)
			}
		})
	}
}

// STRH (immediate) T1, 0b10000 imm5 Rn Rt: two bytes, offset in units of 2.
func TestMemory(t *testing.T) {
	for _, arch := range architectures {
		e := open(t, arch)
		s := straight(true, t16(0x80c8)) // strh r0, [r1, #6]
		s.Regs = [15]uint32{0x1234_5678, dataAt}
		before := bytes.Repeat([]byte{0xee}, 10)
		s.Mem = []Region{{dataAt, before}}
		r := e.Run(s)
		want := []byte{0xee, 0xee, 0xee, 0xee, 0xee, 0xee, 0x78, 0x56, 0xee, 0xee}
		if r.Why != Reached || len(r.Mem) != 1 || r.Mem[0].Addr != dataAt || !bytes.Equal(r.Mem[0].Data, want) {
			t.Errorf("%s: %+v", arch, r)
		}
		if before[6] != 0xee {
			t.Errorf("%s: the snippet's own data changed", arch)
		}
		s.Regs[1] = 0x4000_0000
		if r := e.Run(s); r.Why != Faulted || r.Fault != 0x4000_0006 {
			t.Errorf("%s: unmapped: %+v", arch, r)
		}
		s.Regs[1] = dataAt
		if r := e.Run(s); r.Why != Reached || !bytes.Equal(r.Mem[0].Data, want) {
			t.Errorf("%s: after a fault: %+v", arch, r)
		}
	}
}

// What an architecture doesn't have is undefined on its model (Arm ARM and
// ARMv6-M ARM, each instruction's "Encoding T1: ARMv…"), but for what the
// package's documentation lists.
func TestRestriction(t *testing.T) {
	const (
		t4, t5, t6, t6k, m0, m3, m4, m33, a8, a15, all = "armv4t", "armv5te", "armv6", "armv6k", "armv6-m", "armv7-m", "armv7e-m", "armv8-m.main", "armv7-a", "armv7ve", "armv8-a"
	)
	for _, c := range []struct {
		name string
		code []byte
		has  []string
		also []string // models that run it although the architecture lacks it
	}{
		{"movs r0, #1", t16(0x2001), architectures, nil},
		{"rev r0, r1", t16(0xba08), []string{t6, t6k, m0, m3, m4, m33, a8, a15, all}, nil},
		{"cpsie i", t16(0xb662), []string{t6, t6k, m0, m3, m4, m33, a8, a15, all}, nil},
		{"dmb sy", t16(0xf3bf, 0x8f5f), []string{m0, m3, m4, m33, a8, a15, all}, nil},
		{"mrs r0, primask", t16(0xf3ef, 0x8010), []string{m0, m3, m4, m33}, nil},
		{"movw r0, #1", t16(0xf240, 0x0001), []string{m3, m4, m33, a8, a15, all}, nil},
		{"udf #0", t16(0xde00), nil, nil},
		{"setend le", t16(0xb650), []string{t6, t6k, a8, a15, all}, []string{m0, m3, m4, m33}},
		{"cbz r0, .+4", t16(0xb100, 0x46c0), []string{m3, m4, m33, a8, a15, all}, []string{t4, t5, t6, t6k, m0}},
		{"it eq; moveq r0, #1", t16(0xbf08, 0x2001), []string{m3, m4, m33, a8, a15, all}, []string{t4, t5, t6, t6k, m0}},
		{"nop", t16(0xbf00), []string{m0, m3, m4, m33, a8, a15, all}, []string{t4, t5, t6, t6k}},
		{"yield", t16(0xbf10), nil, nil},
	} {
		var got []string
		for _, arch := range architectures {
			e := open(t, arch)
			s := straight(true, c.code)
			s.Regs[0] = 1
			switch r := e.Run(s); r.Why {
			case Reached:
				got = append(got, arch)
			case Undefined:
			default:
				t.Errorf("%s on %s: %+v", c.name, arch, r)
			}
		}
		if want := slices.Sorted(slices.Values(slices.Concat(c.has, c.also))); !slices.Equal(got, want) {
			t.Errorf("%s: on %v, want %v", c.name, got, want)
		}
	}
}

// UADD8 is of the DSP extension, which the Cortex-M4 has and the Cortex-M3
// lacks. (On the oldest cores its first halfword is the second one of a BL.)
func TestDSP(t *testing.T) {
	for arch, want := range map[string]Why{"armv6-m": Undefined, "armv7-m": Undefined, "armv7e-m": Reached, "armv8-m.main": Reached, "armv7-a": Reached} {
		if r := open(t, arch).Run(straight(true, t16(0xfa80, 0xf041))); r.Why != want {
			t.Errorf("%s: %+v", arch, r)
		}
	}
}

// The division in A32 came with the Virtualization Extensions, CRC32 with ARMv8
// (DDI 0406, "SDIV"; DDI 0487, "CRC32").
func TestLater(t *testing.T) {
	for _, c := range []struct {
		name string
		code uint32
		runs map[string]Why
	}{
		{"sdiv r0, r1, r2", 0xe710f211, map[string]Why{"armv7-a": Undefined, "armv7ve": Reached, "armv8-a": Reached}},
		{"crc32b r0, r1, r2", 0xe1010042, map[string]Why{"armv7-a": Undefined, "armv7ve": Undefined, "armv8-a": Reached}},
	} {
		for arch, want := range c.runs {
			if r := open(t, arch).Run(straight(false, binary.LittleEndian.AppendUint32(nil, c.code))); r.Why != want {
				t.Errorf("%s on %s: %+v", c.name, arch, r)
			}
		}
	}
}

// BX switches between the states by bit 0; BLX exists from ARMv5T on (Arm ARM,
// "BX" and "BLX (register)").
func TestInterworking(t *testing.T) {
	e := open(t, "armv4t")
	s := Snippet{Addr: codeAt, Thumb: true, Stop: codeAt + 12, Limit: 10}
	s.Code = append(t16(0x4718, 0x46c0, 0x46c0, 0x46c0), a32(0xe3a0_0005)...) // bx r3; nops; A32: mov r0, #5
	s.Regs[3] = codeAt + 8
	if r := e.Run(s); r.Why != Reached || r.Regs[0] != 5 || r.Thumb {
		t.Errorf("to A32: %+v", r)
	}
	s = Snippet{Addr: codeAt, Stop: codeAt + 6, Limit: 10}
	s.Code = append(a32(0xe12f_ff13), t16(0x2009)...) // bx r3; T16: movs r0, #9
	s.Regs[3] = codeAt + 4 | 1
	if r := e.Run(s); r.Why != Reached || r.Regs[0] != 9 || !r.Thumb {
		t.Errorf("to T16: %+v", r)
	}
	for arch, want := range map[string]Why{"armv4t": Undefined, "armv5te": Reached, "armv6-m": Reached} {
		e := open(t, arch)
		s := Snippet{Addr: codeAt, Code: t16(0x4798), Thumb: true, Stop: codeAt + 8, Limit: 1} // blx r3
		s.Regs[3] = codeAt + 8 | 1
		if r := e.Run(s); r.Why != want || want == Reached && r.Regs[14] != codeAt+2|1 {
			t.Errorf("blx on %s: %+v", arch, r)
		}
	}
}

func TestEnds(t *testing.T) {
	for _, arch := range architectures {
		e := open(t, arch)
		loop := Snippet{Addr: codeAt, Code: t16(0x3001, 0xe7fd), Thumb: true, Stop: codeAt + 4, Limit: 20} // adds r0, #1; b .-2
		if r := e.Run(loop); r.Why != Limited || r.Regs[0] != 10 {
			t.Errorf("%s: loop: %+v", arch, r)
		}
		if r := e.Run(straight(true, t16(0xdf05, 0x2001))); r.Why != Raised || r.Exception != ExceptionSVC || r.Regs[0] != 0 {
			t.Errorf("%s: svc: %+v", arch, r)
		}
		want := Raised // BKPT: ARMv5T (Arm ARM, "BKPT")
		if arch == "armv4t" {
			want = Undefined
		}
		if r := e.Run(straight(true, t16(0xbe00))); r.Why != want || want == Raised && r.Exception != ExceptionBKPT {
			t.Errorf("%s: bkpt: %+v", arch, r)
		}
		if r := e.Run(straight(true, t16(0x2001))); r.Why != Reached || r.Regs[0] != 1 || r.Exception != 0 {
			t.Errorf("%s: after the others: %+v", arch, r)
		}
	}
}

// A run must not leave a trace in the next: an IT block cut short, masked
// interrupts, another mode or stack.
func TestFresh(t *testing.T) {
	e := open(t, "armv7-m")
	it := straight(true, t16(0xbf01, 0x2001)) // itttt eq; moveq r0, #1
	it.Limit = 2
	e.Run(it)
	if r := e.Run(straight(true, t16(0x2003))); r.Why != Reached || r.Regs[0] != 3 {
		t.Errorf("after half an IT block: %+v", r)
	}
	// cpsid i; then MRS r0, PRIMASK (T1 of the ARMv6-M ARM, SYSm 16).
	e = open(t, "armv6-m")
	both := t16(0xb672, 0xf3ef, 0x8010)
	if r := e.Run(straight(true, both)); r.Why != Reached || r.Regs[0] != 1 {
		t.Errorf("cpsid: %+v", r)
	}
	if r := e.Run(straight(true, both[2:])); r.Why != Reached || r.Regs[0] != 0 {
		t.Errorf("interrupts still masked: %+v", r)
	}
	// MSR CPSR_c, #0x13 (A1: 0xe321f013): Supervisor mode, whose r13 is its own.
	e = open(t, "armv4t")
	s := straight(false, a32(0xe321_f013, 0xe3a0_d001)) // mov sp, #1
	s.Regs[13] = 0x1000
	if r := e.Run(s); r.Why != Reached || r.Regs[13] != 1 {
		t.Errorf("mode change: %+v", r)
	}
	s = straight(false, a32(0xe10f_0000, 0xe1a0_100d)) // mrs r0, cpsr; mov r1, sp
	s.Regs[13] = 0x2000
	if r := e.Run(s); r.Why != Reached || r.Regs[0]&0x1f != 0x1f || r.Regs[1] != 0x2000 {
		t.Errorf("after a mode change: %+v", r)
	}
}

// An unaligned LDR faults on ARMv6-M (ARMv6-M ARM, "Alignment support").
// Elsewhere the bytes are read where they are: right from ARMv7 on, and for
// the older ones the limit that the package's documentation states.
func TestUnaligned(t *testing.T) {
	for _, arch := range architectures {
		e := open(t, arch)
		s := straight(true, t16(0x6808)) // ldr r0, [r1]
		s.Regs[1] = dataAt + 1
		s.Mem = []Region{{dataAt, []byte{1, 2, 3, 4, 5, 6, 7, 8}}}
		r := e.Run(s)
		if arch == "armv6-m" {
			if r.Why != Raised || r.Exception != ExceptionDataAbort {
				t.Errorf("%s: %+v", arch, r)
			}
		} else if r.Why != Reached || r.Regs[0] != 0x0504_0302 {
			t.Errorf("%s: %+v", arch, r)
		}
	}
}

func BenchmarkRun(b *testing.B) {
	e := open(b, "armv4t")
	s := straight(true, t16(0x1888, 0x80c8, 0x46c0, 0x46c0))
	s.Mem = []Region{{dataAt, make([]byte, 16)}}
	n := uint32(0)
	for b.Loop() {
		n++
		s.Regs = [15]uint32{1: dataAt, 2: 2, 3: n}
		s.Code[0] = byte(n)&0x38 | 0x80 // other code each time
		if r := e.Run(s); r.Why == Failed {
			b.Fatal(r)
		}
	}
}

// TestSteps: the states that a run goes through, with flags and memory, in a loop and in an IT
// block.
func TestSteps(t *testing.T) {
	e := Open(t, "armv7-m")
	e.Follow(16)
	e.Map(codeAt, 0x1000)
	e.Map(dataAt, 0x1000)
	s := straight(true, t16(
		0x3801, // subs r0, #1
		0x6008, // str r0, [r1]
		0xd1fc, // bne back to the first
		0xbf14, // ite ne
		0x2203, // movne r2, #3
		0x2204, // moveq r2, #4
		0x4613, // mov r3, r2
	))
	s.Regs, s.Watched, s.Limit = [15]uint32{0: 2, 1: dataAt + 8}, dataAt, 20
	if r := e.Run(s); r.Why != Reached || r.Regs[3] != 4 {
		t.Fatalf("%+v", r)
	}
	var got []uint32
	steps := e.Steps(nil)
	for _, x := range steps {
		got = append(got, (x.Regs[15]-codeAt)/2)
	}
	if want := []uint32{0, 1, 2, 0, 1, 2, 3, 5, 6}; !slices.Equal(got, want) {
		t.Fatalf("steps at %v", got)
	}
	for i, want := range []struct{ r0, flags, mem uint32 }{{2, 0, 0}, {1, FlagC, 0}, {1, FlagC, 1}, {1, FlagC, 1}, {0, FlagZ | FlagC, 1}, {0, FlagZ | FlagC, 0}} {
		if x := steps[i]; x.Regs[0] != want.r0 || x.Flags != want.flags || binary.LittleEndian.Uint32(x.Mem[8:]) != want.mem {
			t.Errorf("step %d: r0 %d, flags %x, %x", i, x.Regs[0], x.Flags, x.Mem[8:12])
		}
	}
	if steps[7].Regs[2] != 0 || steps[8].Regs[2] != 4 {
		t.Errorf("in the block: %v", steps[6:])
	}
}
