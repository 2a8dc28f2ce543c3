package analysis

import (
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/image"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// Where things are.
const (
	tracedMoved = 0x9800_0000 // how far sections are below where the image has them: M profile runs no code up there (DDI 0403E, B3.1)
	tracedEnd   = 0x0001_0000 // where f goes back to
	tracedData  = 0x2000_0000 // where the programs store
	tracedStack = 0x3000_0000 // where the stack pointer is at first
	tracedSize  = 0x4000      // of each of them, and of each section
	tracedSteps = 20_000      // of a run, at most
)

// TestKnownEmulated runs random routines with loops, calls, tables and words on the stack on the
// emulator, in T16, T32 and A32, from random states: before each instruction, all that is said
// to be known of registers, flags and the stack is what the emulator has. One program in four
// is straight-line code, in which all registers have to be known.
func TestKnownEmulated(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	var engines [3]*unicorn.Engine
	for i, arch := range []string{"armv6-m", "armv7e-m", "armv7-a"} {
		engines[i] = tracedEngine(t, arch)
	}
	rnd := reftest.Rand(15, 4)
	var c, straight knownCounts
	runs := 0
	n := reftest.Count(240, 3000, 200_000)
	for i := range n {
		set, text, counts := i%3, "", &c
		if plain := i/3%4 == 3; plain {
			text, counts = straightProgram(rnd, set), &straight
		} else {
			text = randomProgram(rnd, set)
		}
		r := analyze(t, nil, text)
		said := newClaims(r, text, counts)
		for range 3 {
			if err := trace(engines[set], rnd, said, set); err != nil {
				t.Fatal(err)
			}
			runs++
		}
	}
	proof.Counted("routines on the emulator: %d, %d runs, 0 wrong claims before %d lines: %d of %d registers known exactly, %d in part, %d of %d flags, %d words on the stack; straight-line code: %d of %d registers known after each line (%.1f %%)",
		n, runs, c.lines, c.exact, c.regs, c.part, c.flags, 4*c.lines, c.slots, straight.exact, straight.regs, 100*float64(straight.exact)/float64(straight.regs))
	if c.exact*10 < c.regs || c.slots == 0 || c.flags == 0 || straight.exact < straight.regs {
		t.Error("too little is known")
	}
}

// TestKnownEmulatedNotices: a claim that is wrong is found.
func TestKnownEmulatedNotices(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	e := tracedEngine(t, "armv6-m")
	for i, spoil := range []func(c *claims, last int32){
		func(c *claims, last int32) { c.lines[last].Regs[2].Val++ },
		func(c *claims, last int32) { c.lines[last].Flags[1] = values.Number(0) },
		func(c *claims, last int32) { delete(c.lines, last) },
		func(c *claims, last int32) { c.lines[last].Regs[0] = values.Number(9) },
	} {
		var n knownCounts
		r := analyze(t, nil, knownHeads[0]+"\t.balign 4\nf: push {r4}\n\tmovs r0, #1\n\tlsls r0, r0, #3\n\tcmp r0, #8\n\tpop {r2}\n\tbx lr\n")
		last := r.prog.Items[len(r.prog.Items)-1].Index
		c := newClaims(r, "", &n)
		if err := trace(e, reftest.Rand(1, 2), c, 0); err != nil {
			t.Fatal(err)
		}
		if spoil(c, last); trace(e, reftest.Rand(1, 2), c, 0) == nil {
			t.Errorf("wrong claim %d is not noticed", i)
		}
	}
}

func tracedEngine(t *testing.T, arch string) *unicorn.Engine {
	e := unicorn.Open(t, arch)
	e.Follow(tracedSteps)
	e.Map(tracedEnd, 0x1000)
	e.Map(tracedData, tracedSize)
	e.Map(tracedStack-tracedSize, 2*tracedSize)
	for sec := range int16(8) {
		at, _ := image.Address(sec, 0)
		e.Map(at-tracedMoved, tracedSize)
	}
	return e
}

// trace runs f of a program on the emulator, from a random state, and compares what is said.
func trace(e *unicorn.Engine, rnd *rand.Rand, said *claims, set int) error {
	p := said.r.prog
	img := image.New(eval.New(p))
	s := unicorn.Snippet{Thumb: set < 2, Stop: tracedEnd, Limit: tracedSteps, Flags: rnd.Uint32N(16) << 28, Watched: tracedStack - unicorn.WatchedSize}
	for i := range s.Regs {
		if s.Regs[i] = uint32(rnd.IntN(4)); rnd.IntN(3) == 0 {
			s.Regs[i] = rnd.Uint32()
		}
	}
	s.Regs[isa.SP], s.Regs[isa.LR] = tracedStack, tracedEnd
	if s.Thumb {
		s.Regs[isa.LR] |= 1
	}
	f := &p.Items[p.SymbolOf("f").Item]
	for sec := range p.Sections {
		at, ok := image.Address(int16(sec), 0)
		if size := p.Sections[sec].Size; !ok || size > tracedSize {
			return fmt.Errorf("section %d has %d bytes\n%s", sec, size, said.text)
		}
		code, err := sectionBytes(p, img, int16(sec))
		switch {
		case err != nil:
			return fmt.Errorf("%w\n%s", err, said.text)
		case int16(sec) == f.Section:
			s.Addr, s.Code = at-tracedMoved+uint32(f.Offset), code[f.Offset:]
		default:
			s.Mem = append(s.Mem, unicorn.Region{Addr: at - tracedMoved, Data: code})
		}
	}
	stack := make([]byte, 512)
	for i := range stack {
		stack[i] = byte(rnd.Uint32())
	}
	s.Mem = append(s.Mem, unicorn.Region{Addr: tracedStack - 256, Data: stack})
	if r := e.Run(s); r.Why != unicorn.Reached {
		return fmt.Errorf("%v at %#x\n%s", r.Why, r.Regs[15], said.text)
	}
	said.moved, said.entries = tracedMoved, map[int32][16]uint32{}
	for _, x := range e.Steps(nil) {
		it := img.At(x.Regs[15] + tracedMoved)
		if it == nil {
			return fmt.Errorf("at %#x\n%s", x.Regs[15], said.text)
		}
		flags := uint32(0)
		for i, f := range []uint32{unicorn.FlagN, unicorn.FlagZ, unicorn.FlagC, unicorn.FlagV} {
			if x.Flags&f != 0 {
				flags |= 1 << i
			}
		}
		err := said.hold(it, &x.Regs, flags, func(addr uint32) uint32 { return binary.LittleEndian.Uint32(x.Mem[addr-s.Watched:]) })
		if err != nil {
			return err
		}
	}
	return nil
}

// sectionBytes are the bytes of a section: the encodings of its instructions, literals and data.
func sectionBytes(p *program.Program, img *image.Image, sec int16) ([]byte, error) {
	at, _ := image.Address(sec, 0)
	out := make([]byte, p.Sections[sec].Size)
	for i := range out {
		out[i] = dataByte(p, img, at+uint32(i), tracedMoved)
	}
	for _, i := range p.Order[sec] {
		it := &p.Items[i]
		if it.Stmt.Kind != syntax.Instruction {
			continue
		}
		if it.Match.Form == nil || it.Match.Deferred() || it.Flags&program.Refused != 0 || it.Slot.ItSize() != 0 {
			return nil, fmt.Errorf("no code of its own: %s", p.LineText(it))
		}
		row, w := it.Match.Form.Row, it.Match.Encode()
		switch code := out[it.Offset:]; {
		case row.Size() == 2:
			binary.LittleEndian.PutUint16(code, uint16(w))
		case row.State == isa.T:
			binary.LittleEndian.PutUint16(code, uint16(w>>16))
			binary.LittleEndian.PutUint16(code[2:], uint16(w))
		default:
			binary.LittleEndian.PutUint32(code, w)
		}
	}
	return out, nil
}
