// Package demo_test builds the demo firmware with the reference assembler and
// linker and runs it in an emulator, so that the demo stays a program that
// works, and lets narrowgauge check it.
package demo_test

import (
	"debug/elf"
	"encoding/binary"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// sources lists the files of the firmware.
func sources(t *testing.T) []string {
	t.Helper()
	names, err := filepath.Glob("*.s")
	names = slices.DeleteFunc(names, func(name string) bool { return name == showcase || name == running })
	if err != nil || len(names) == 0 {
		t.Fatalf("no sources: %v", err)
	}
	return names
}

// build assembles every file and links them; a warning fails the test, too.
func build(t *testing.T) *elf.File {
	t.Helper()
	reftest.Require(t, "arm-none-eabi-as", "arm-none-eabi-ld")
	dir := t.TempDir()
	image := filepath.Join(dir, "signalbox.elf")
	link := []string{"--fatal-warnings", "-T", "signalbox.ld", "-o", image}
	for _, source := range sources(t) {
		object := filepath.Join(dir, strings.TrimSuffix(source, ".s")+".o")
		if out, err := exec.Command("arm-none-eabi-as", "--fatal-warnings", "-march=armv4t", "-o", object, source).CombinedOutput(); err != nil {
			t.Fatalf("%s: %v\n%s", source, err, out)
		}
		link = append(link, object)
	}
	if out, err := exec.Command("arm-none-eabi-ld", link...).CombinedOutput(); err != nil {
		t.Fatalf("link: %v\n%s", err, out)
	}
	file, err := elf.Open(image)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { file.Close() })
	return file
}

// TestBuild needs no emulator.
func TestBuild(t *testing.T) {
	build(t)
}

// TestNoFindings runs the command line over the firmware, which is correct: a
// finding here is a false alarm.
func TestNoFindings(t *testing.T) {
	program := filepath.Join(t.TempDir(), "narrowgauge")
	reftest.Build(t, "../..", program)
	out, err := exec.Command(program, append([]string{"check", "--format", "json"}, sources(t)...)...).CombinedOutput()
	if err != nil || strings.TrimSpace(string(out)) != "[]" {
		t.Errorf("check: %v\n%s", err, out)
	}
}

// box is the firmware in an emulated core with the railway around it.
type box struct {
	t      *testing.T
	engine *unicorn.Engine
	addr   map[string]uint32 // of symbols; of functions without the mark of T16 code
	code   []byte            // the image in ROM, from address 0
	regs   [15]uint32
	mem    []unicorn.Region // RAM and the I/O registers as they are now
	ticks  uint32

	// The world outside.
	blades   [3]int // 0 normal, travel reverse
	stuck    int    // number of the point that does not move, or -1
	dark     int    // number of the signal whose other lamps are broken, or -1
	occupied uint32 // bit n: section n
	buttons  uint32
}

const (
	travel  = 20 // ticks that a point takes
	ramBase = 0x20000000

	// As in layout.inc.
	pointsDrive, pointsDetect  = 0x40010000, 0x40010004
	signalLamps, signalProof   = 0x40020000, 0x40020020
	trackSensors, panelButtons = 0x40030000, 0x40060000
	red, yellow, green         = 1, 2, 4
)

// start runs the firmware from the reset vector to the first wait for a tick.
func start(t *testing.T) *box {
	t.Helper()
	file := build(t)
	b := &box{t: t, engine: unicorn.Open(t, "armv4t"), addr: map[string]uint32{}, stuck: -1, dark: -1}
	symbols, err := file.Symbols()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range symbols {
		b.addr[s.Name] = uint32(s.Value)
		if elf.ST_TYPE(s.Info) == elf.STT_FUNC {
			b.addr[s.Name] &^= 1 // the mark of T16 code
		}
	}
	for _, p := range file.Progs {
		if p.Type == elf.PT_LOAD && p.Filesz > 0 {
			data := make([]byte, p.Filesz)
			if _, err := p.ReadAt(data, 0); err != nil {
				t.Fatal(err)
			}
			if end := int(p.Paddr + p.Filesz); end > len(b.code) {
				b.code = append(b.code, make([]byte, end-len(b.code))...)
			}
			copy(b.code[p.Paddr:], data)
		}
	}
	b.engine.Map(0, 0x8000)
	b.engine.Map(ramBase, 0x1000)
	// At power-on, RAM holds rubbish.
	b.mem = []unicorn.Region{{Addr: ramBase, Data: slices.Repeat([]byte{0xee}, 0x1000)}}
	for page := uint32(0x40010000); page <= 0x40060000; page += 0x10000 {
		b.engine.Map(page, 0x1000)
		b.mem = append(b.mem, unicorn.Region{Addr: page, Data: make([]byte, 0x40)})
	}
	b.run(0, false)
	return b
}

// run runs from an address to the wait for a tick.
func (b *box) run(addr uint32, thumb bool) {
	b.t.Helper()
	r := b.engine.Run(unicorn.Snippet{Addr: addr, Code: b.code[addr:], Thumb: thumb,
		Stop: b.addr["wait_tick"] + 2, Limit: 100_000, Regs: b.regs, Mem: b.mem})
	if r.Why != unicorn.Reached || !r.Thumb {
		b.t.Fatalf("tick %d: ended with %v at %#x", b.ticks, r.Why, r.Regs[15])
	}
	b.regs, b.mem = [15]uint32(r.Regs[:15]), r.Mem
}

// at finds the bytes from an address on.
func (b *box) at(addr uint32) []byte {
	for _, m := range b.mem {
		if addr-m.Addr < uint32(len(m.Data)) {
			return m.Data[addr-m.Addr:]
		}
	}
	b.t.Fatalf("no memory at %#x", addr)
	return nil
}

func (b *box) load(addr uint32) uint32     { return binary.LittleEndian.Uint32(b.at(addr)) }
func (b *box) store(addr, value uint32)    { binary.LittleEndian.PutUint32(b.at(addr), value) }
func (b *box) lamps(signal int) uint32     { return b.load(signalLamps + 4*uint32(signal)) }
func (b *box) want(signal int, lit uint32) { b.t.Helper(); b.wantAll(map[int]uint32{signal: lit}) }

// wantAll wants the signals named to show these lamps, the others red.
func (b *box) wantAll(lit map[int]uint32) {
	b.t.Helper()
	for signal := range 4 {
		want, ok := lit[signal]
		if !ok {
			want = red
		}
		if got := b.lamps(signal); got != want {
			b.t.Errorf("tick %d: signal %d shows lamps %#b, want %#b", b.ticks, signal, got, want)
		}
	}
}

// tick lets n ticks of 10 ms pass. The emulator takes no interrupts; what the
// handler does, counting the tick, is done here.
func (b *box) tick(n int) {
	b.t.Helper()
	for range n {
		drive, detect := b.load(pointsDrive), uint32(0)
		for i := range b.blades {
			switch {
			case i == b.stuck:
			case drive>>(2*i)&1 != 0:
				b.blades[i] = max(b.blades[i]-1, 0)
			case drive>>(2*i+1)&1 != 0:
				b.blades[i] = min(b.blades[i]+1, travel)
			}
			switch b.blades[i] {
			case 0:
				detect |= 1 << (2 * i)
			case travel:
				detect |= 2 << (2 * i)
			}
		}
		b.store(pointsDetect, detect)
		for signal := range 4 {
			proof := b.lamps(signal)
			if signal == b.dark {
				proof &= red
			}
			b.store(signalProof+4*uint32(signal), proof)
		}
		b.store(trackSensors, b.occupied)
		b.store(panelButtons, b.buttons)
		b.ticks++
		b.store(b.addr["tick_count"], b.ticks)
		b.regs[2] = b.ticks                // as if wait_tick had just read it
		b.run(b.addr["wait_tick"]+4, true) // from its comparison on
	}
}

// press pushes a button of the panel and lets go: 0-4 set a route, 8-12 cancel.
func (b *box) press(button int) {
	b.t.Helper()
	b.buttons = 1 << button
	b.tick(2)
	b.buttons = 0
	b.tick(2)
}

// said takes what was reported since the last time out of the ring. The
// serial line itself is never ready here.
func (b *box) said() string {
	head, tail := b.at(b.addr["ring_head"]), b.at(b.addr["ring_tail"])
	var text []byte
	for ; tail[0] != head[0]; tail[0]++ {
		text = append(text, b.at(b.addr["ring"] + uint32(tail[0]))[0])
	}
	return strings.ReplaceAll(string(text), "\r\n", "; ")
}

func (b *box) wantSaid(want string) {
	b.t.Helper()
	if got := b.said(); got != want {
		b.t.Errorf("tick %d: reported %q, want %q", b.ticks, got, want)
	}
}

// ready starts the box and lets the sensors settle.
func ready(t *testing.T) *box {
	t.Helper()
	b := start(t)
	b.wantAll(nil)
	b.tick(10)
	b.wantSaid("signal box ready; all signals at danger; ")
	return b
}

// TestTrain follows a train over route 0 into platform 1.
func TestTrain(t *testing.T) {
	b := ready(t)
	b.press(0)
	b.want(0, green)
	b.wantSaid("clear: west to platform 1; ")

	b.press(1) // wants the same point
	b.want(0, green)
	b.wantSaid("refused: west to platform 2; ")

	b.occupied = 1 << 1 // dirt: three samples are not a train
	b.tick(3)
	b.occupied = 0
	b.tick(10)
	b.want(0, green)

	b.occupied = 1 << 1
	b.tick(5)
	b.wantAll(nil)
	b.wantSaid("train in: west to platform 1; ")
	b.tick(1000) // it is on the points: they stay locked
	b.press(1)
	b.wantSaid("refused: west to platform 2; ")
	b.occupied = 1 << 2
	b.tick(40)
	b.wantSaid("")
	b.tick(20)
	b.wantSaid("released: west to platform 1; ")
	b.press(0) // platform 1 is taken
	b.wantSaid("refused: west to platform 1; ")
	b.wantAll(nil)
}

// TestPoints: no signal clears before its points are detected, and it falls
// back when they are lost.
func TestPoints(t *testing.T) {
	b := ready(t)
	b.press(1)
	for b.blades[0] != travel {
		b.wantAll(nil)
		if b.tick(1); b.ticks > 1000 {
			t.Fatal("the point does not move")
		}
	}
	b.tick(3)
	b.want(0, yellow)
	if drive := b.load(pointsDrive); drive != 0 {
		t.Errorf("motors still on: %#b", drive)
	}
	b.press(2)
	b.wantAll(map[int]uint32{0: yellow, 1: green})
	b.said()

	b.blades[0]--
	b.tick(1)
	b.want(1, green)
	b.wantSaid("proof lost, back to danger: west to platform 2; ")
}

// TestCancel: a cancelled route keeps its points for eight seconds.
func TestCancel(t *testing.T) {
	b := ready(t)
	b.press(4)
	b.tick(travel + 5)
	b.want(3, yellow)
	b.press(12)
	b.wantAll(nil)
	b.tick(700)
	b.press(1)
	b.tick(120)
	b.wantSaid("clear: siding to platform 2; refused: west to platform 2; released: siding to platform 2; ")
}

// TestFailures: a point that sticks and a lamp that is broken.
func TestFailures(t *testing.T) {
	b := ready(t)
	b.stuck = 1
	b.press(3)
	b.tick(200)
	if drive := b.load(pointsDrive); drive != 0 {
		t.Errorf("motor still on: %#b", drive)
	}
	b.tick(400)
	b.wantAll(nil)
	b.wantSaid("motor gave up: point 01; points did not prove: platform 2 to east; released: platform 2 to east; ")

	b.dark = 0
	b.press(0)
	b.tick(20)
	b.wantAll(nil)
	b.wantSaid("clear: west to platform 1; lamp failed: signal 00; proof lost, back to danger: west to platform 1; ")
	b.tick(100)
	b.said()
	b.press(0)
	b.tick(500)
	b.wantAll(nil)
}

// TestGuard: a stack that grew too far stops the railway, in A32.
func TestGuard(t *testing.T) {
	b := ready(t)
	b.press(0)
	b.want(0, green)
	b.store(b.addr["stack_guard"], 0)
	b.store(b.addr["tick_count"], b.ticks+1)
	b.regs[2] = b.ticks + 1
	addr := b.addr["wait_tick"] + 4
	r := b.engine.Run(unicorn.Snippet{Addr: addr, Code: b.code[addr:], Thumb: true,
		Stop: b.addr["wait_tick"] + 2, Limit: 100_000, Regs: b.regs, Mem: b.mem})
	b.mem = r.Mem
	if r.Why != unicorn.Limited || r.Thumb {
		t.Errorf("ended with %v, T16 %v at %#x, want the endless loop of fail_safe", r.Why, r.Thumb, r.Regs[15])
	}
	b.wantAll(nil)
}
