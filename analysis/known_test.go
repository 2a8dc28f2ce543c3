package analysis

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/image"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// TestKnown carries out random routines with loops, calls, tables and words on the stack from
// random states, in T16, T32 and A32: before each line, all that is said to be known of
// registers, flags and the stack is what is there.
func TestKnown(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(15, 2)
	var c knownCounts
	n := reftest.Count(240, 3000, 200_000)
	for i := range n {
		text := randomProgram(rnd, i%3)
		r := analyze(t, nil, text)
		for _, d := range r.Each() {
			if d.Severity == Error {
				t.Fatalf("%s\n%s", d.Message, text)
			}
		}
		checkKnown(t, rnd, r, text, &c)
		if t.Failed() {
			return
		}
	}
	proof.Counted("routines: %d, %d lines carried out, %d of %d registers known exactly, %d in part, %d of %d flags, %d words on the stack", n, c.lines, c.exact, c.regs, c.part, c.flags, 4*c.lines, c.slots)
	if c.exact*10 < c.regs || c.slots == 0 || c.flags == 0 {
		t.Error("too little is known")
	}
}

type knownCounts struct{ lines, regs, exact, part, flags, slots int }

// claims is what is said of a program, line by line, and what has been true on a way through it.
type claims struct {
	r       *Result
	k       *flow.Known
	lines   map[int32]*flow.State
	begins  map[int32]bool       // lines whose registers others are told by
	entries map[int32][16]uint32 // what they were there, when last carried out
	moved   uint32               // how far sections are below where the image has them
	text    string
	c       *knownCounts
}

func newClaims(r *Result, text string, c *knownCounts) *claims {
	x := &claims{r: r, k: (&flow.Paths{Evaluator: eval.New(r.prog)}).Known(), lines: map[int32]*flow.State{}, begins: map[int32]bool{}, text: text, c: c}
	x.k.Each(func(l *flow.Line) {
		x.lines[l.Item.Index] = l.Kept()
		for i := range l.Before.Regs {
			if b := l.Before.Regs[i].Base; b.Kind == values.Entry {
				x.begins[x.k.Entry(b).Index] = true
			}
		}
	})
	return x
}

// hold compares what is said before a line with what is there: registers, flags as NZCV from
// bit 0, and words of memory. It gives the first claim that is wrong.
func (x *claims) hold(it *program.Item, regs *[16]uint32, flags uint32, word func(addr uint32) uint32) error {
	if x.begins[it.Index] {
		x.entries[it.Index] = *regs
	}
	x.c.lines++
	at := func(w values.Word) uint32 {
		switch w.Base.Kind {
		case values.Section, values.Part:
			a, _ := image.Address(int16(w.Base.ID), 0)
			return a - x.moved
		case values.Entry:
			return x.entries[x.k.Entry(w.Base).Index][w.Base.Reg]
		}
		return 0
	}
	fail := func(format string, args ...any) error {
		return fmt.Errorf("line %d, %s: %s\n%s", it.Line+1, x.r.prog.LineText(it), fmt.Sprintf(format, args...), x.text)
	}
	before := x.lines[it.Index]
	if before == nil {
		return fail("it is said not to be reached")
	}
	for i, w := range before.Regs {
		x.c.regs++
		if w.Lo == w.Hi && w.Base.Kind == values.None || w.Base.Kind != values.None && w.Base.Kind != values.Part {
			x.c.exact++
		} else if w.Mask != 0 || w.Lo != 0 || w.Hi != ^uint32(0) {
			x.c.part++
		}
		if !w.Has(regs[i], at(w)) {
			return fail("r%d is %#x, said is %+v", i, regs[i], w)
		}
	}
	for i, w := range before.Flags {
		if w.Lo == w.Hi {
			x.c.flags++
		}
		if !w.Has(flags>>i&1, 0) {
			return fail("flags are %04b, said of %d is %+v", flags, i, w)
		}
	}
	var wrong error
	before.Slots(func(off int32, w values.Word) {
		x.c.slots++
		sp := before.Regs[isa.SP]
		a := x.entries[x.k.Entry(sp.Base).Index][isa.SP] + uint32(off)
		if v := word(a); wrong == nil && !w.Has(v, at(w)) {
			wrong = fail("at sp %d is %#x, said is %+v", off, v, w)
		}
	})
	return wrong
}

// checkKnown carries out f from some states and compares.
func checkKnown(t *testing.T, rnd *rand.Rand, r *Result, text string, c *knownCounts) {
	t.Helper()
	said := newClaims(r, text, c)
	img := image.New(eval.New(r.prog))
	for range 3 {
		s := randomState(rnd)
		s.Mem = exec.NewSparse(func(addr uint32) byte { return dataByte(r.prog, img, addr, 0) })
		said.entries = map[int32][16]uint32{}
		f := &r.prog.Items[r.prog.SymbolOf("f").Item]
		s.Regs[isa.PC], _ = image.Address(f.Section, f.Offset)
		s.Regs[isa.LR] = returnTo
		if r.prog.Environments[r.prog.Last].Mode == isa.T {
			s.Regs[isa.LR] |= 1
		}
		word := func(a uint32) uint32 {
			return uint32(s.Mem.Load(a)) | uint32(s.Mem.Load(a+1))<<8 | uint32(s.Mem.Load(a+2))<<16 | uint32(s.Mem.Load(a+3))<<24
		}
		for steps := 0; s.Regs[isa.PC] != returnTo; steps++ {
			it := img.At(s.Regs[isa.PC])
			if it == nil || steps > 20000 {
				t.Fatalf("at %#x after %d steps\n%s", s.Regs[isa.PC], steps, text)
			}
			if err := said.hold(it, &s.Regs, uint32(s.Flags), word); err != nil {
				t.Fatal(err)
			}
			res, ok := img.Step(it, &s, true)
			if !ok || res.End != exec.Done {
				t.Fatalf("%s: %v\n%s", r.prog.LineText(it), res.End, text)
			}
		}
	}
}

// dataByte is a byte of the program's literals and tables, of anything else by its address.
// Sections are moved down by so many bytes from where the image has them, in words that are
// addresses.
func dataByte(p *program.Program, img *image.Image, addr, moved uint32) byte {
	part := func(v program.Value, n uint32) (byte, bool) {
		w, ok := img.Word(v)
		if _, _, in := image.Place(w); in && v.Kind != program.Number {
			w -= moved
		}
		return byte(w >> (8 * n)), ok
	}
	if v, ok := img.Literal(addr &^ 3); ok {
		if b, ok := part(v, addr&3); ok {
			return b
		}
	}
	sec, off, ok := image.Place(addr)
	if !ok || int(sec) >= len(p.Order) {
		return byte(addr * 7)
	}
	for _, i := range p.Order[sec] {
		d := &p.Items[i]
		if off >= d.Offset && off < d.Offset+d.Size && d.Stmt.Directive != nil && len(d.Stmt.Ops) > 0 {
			unit := d.Size / int64(len(d.Stmt.Ops))
			if unit == 0 {
				break
			}
			n := (off - d.Offset) / unit
			if b, ok := part(img.Value(&d.Stmt.Ops[n], d), uint32((off-d.Offset)%unit)); ok {
				return b
			}
		}
	}
	return byte(addr * 7)
}

// knownHeads are the beginnings of random programs in T16, T32 and A32.
var knownHeads = [3]string{"\t.cpu cortex-m0\n\t.syntax unified\n\t.thumb\n", "\t.cpu cortex-m4\n\t.syntax unified\n\t.thumb\n", "\t.arch armv7-a\n\t.syntax unified\n\t.arm\n"}

// randomProgram writes routines f, g and h of an instruction set: 0 is T16, 1 T32, 2 A32.
func randomProgram(rnd *rand.Rand, set int) string {
	w := &programWriter{rnd: rnd, set: set}
	w.routine("f", []string{"g", "h"})
	w.routine("g", []string{"h"})
	w.routine("h", nil)
	return knownHeads[set] + "\t.balign 4\n" + w.b.String() + "\t.section .rodata\n\t.balign 4\nratab: .word 0x1234, 77, -5, 0x80000001\nrahalf: .hword 1, 0xfffe, 300, 4\nrabyte: .byte 1, 200, 3, 255\n"
}

type programWriter struct {
	rnd   *rand.Rand
	set   int
	b     strings.Builder
	name  string
	calls []string
	label int
	used  isa.RegList // counters of loops
	depth int         // bytes below the saved registers
}

func (w *programWriter) line(format string, args ...any) {
	fmt.Fprintf(&w.b, "\t"+format+"\n", args...)
}

// reg is a register that may be written.
func (w *programWriter) reg() isa.Reg {
	for {
		if r := isa.Reg(w.rnd.IntN(8)); !w.used.Has(r) {
			return r
		}
	}
}

func (w *programWriter) any() isa.Reg { return isa.Reg(w.rnd.IntN(8)) }

func (w *programWriter) pick(list ...string) string { return list[w.rnd.IntN(len(list))] }

func (w *programWriter) routine(name string, calls []string) {
	w.name, w.calls, w.used, w.depth = name, calls, 0, 0
	saved := isa.RegList(w.rnd.IntN(16)) << 4
	if w.set > 0 && w.rnd.IntN(3) == 0 {
		saved |= 1 << 8
	}
	fmt.Fprintf(&w.b, "%s:\n", name)
	leaf := len(calls) == 0 && w.rnd.IntN(2) == 0
	list := func(r isa.Reg) string { return strings.Trim((saved | 1<<r).String(), "{}") }
	if !leaf {
		w.line("push {%s}", list(isa.LR))
	}
	w.block(4+w.rnd.IntN(14), 0)
	if leaf {
		w.line("bx lr")
	} else {
		w.line("pop {%s}", list(isa.PC))
	}
	w.line(".balign 4")
	w.line(".ltorg")
	fmt.Fprintf(&w.b, "%stab: .word 11, 0x%x, %sx, 9\n%sx:\n", name, w.rnd.Uint32(), name, name)
}

func (w *programWriter) block(n, nest int) {
	for range n {
		switch k := w.rnd.IntN(16); {
		case k == 0 && nest < 2:
			w.label++
			l := fmt.Sprintf(".L%d", w.label)
			w.line("cmp %v, #%d", w.any(), w.rnd.IntN(256))
			w.line("b%s %s", w.pick("eq", "ne", "hs", "lo", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le"), l)
			w.block(1+w.rnd.IntN(4), nest+1)
			fmt.Fprintf(&w.b, "%s:\n", l)
		case k == 1 && nest < 2:
			w.loop(nest)
		case k == 2 && len(w.calls) > 0 && w.used == 0:
			w.line("bl %s", w.calls[w.rnd.IntN(len(w.calls))])
		case k == 3 && w.depth == 0:
			w.line("sub sp, #16")
			w.depth = 16
			w.block(1+w.rnd.IntN(4), nest+1)
			w.depth = 0
			w.line("add sp, #16")
		case k == 4 && w.depth > 0:
			w.line("str %v, [sp, #%d]", w.any(), 4*w.rnd.IntN(4))
			w.line("ldr %v, [sp, #%d]", w.reg(), 4*w.rnd.IntN(4))
		case k == 5:
			r := w.reg()
			w.line("push {%v}", w.any())
			w.block(w.rnd.IntN(2), 2)
			w.line("pop {%v}", r)
		case k == 6:
			w.memory()
		case k < 9 && w.set == 1:
			w.wide()
		case k < 9 && w.set == 2:
			w.a32()
		default:
			w.plain()
		}
	}
}

// loop writes one that counts.
func (w *programWriter) loop(nest int) {
	r := w.reg()
	if w.used != 0 {
		return
	}
	w.label++
	l := fmt.Sprintf(".L%d", w.label)
	n := 1 + w.rnd.IntN(6)
	w.used |= 1 << r
	defer func() { w.used &^= 1 << r }()
	if w.rnd.IntN(2) == 0 {
		w.line("movs %v, #%d", r, n)
		fmt.Fprintf(&w.b, "%s:\n", l)
		w.block(1+w.rnd.IntN(4), nest+1)
		w.line("subs %v, #1", r)
		w.line("b%s %s", w.pick("ne", "gt", "hi"), l)
		return
	}
	w.line("movs %v, #0", r)
	fmt.Fprintf(&w.b, "%s:\n", l)
	w.block(1+w.rnd.IntN(4), nest+1)
	w.line("adds %v, #1", r)
	w.line("cmp %v, #%d", r, n)
	w.line("b%s %s", w.pick("ne", "lo", "lt"), l)
}

// plain writes lines that each instruction set has.
func (w *programWriter) plain() {
	r, a, b := w.reg(), w.any(), w.any()
	switch w.rnd.IntN(12) {
	case 0:
		w.line("movs %v, #%d", r, w.rnd.IntN(256))
	case 1:
		w.line("%s %v, %v, %v", w.pick("adds", "subs"), r, a, b)
	case 2:
		w.line("%s %v, %v, #%d", w.pick("adds", "subs"), r, a, w.rnd.IntN(8))
	case 3:
		w.line("%s %v, %v, #%d", w.pick("lsls", "lsrs", "asrs"), r, a, 1+w.rnd.IntN(31))
	case 4:
		w.line("%s %v, %v, %v", w.pick("ands", "orrs", "eors", "bics", "adcs", "sbcs"), r, r, b)
	case 5:
		w.line("%s %v, %v, %v", w.pick("lsls", "lsrs", "asrs", "rors"), r, r, b)
	case 6:
		w.line("mvns %v, %v", r, a)
	case 7:
		w.line("%s %v, %v", w.pick("uxtb", "uxth", "sxtb", "sxth", "rev", "rev16", "revsh"), r, a)
	case 8:
		w.line("%s %v, %v", w.pick("cmp", "cmn", "tst"), a, b)
	case 9:
		w.line("rsbs %v, %v, #0", r, a)
	case 10:
		if r != a {
			w.line("muls %v, %v, %v", r, a, r)
		}
	case 11:
		w.line("mov %v, %v", r, isa.Reg(w.rnd.IntN(13)))
	}
}

// memory writes loads of constants and stores.
func (w *programWriter) memory() {
	r := w.reg()
	switch w.rnd.IntN(12) {
	case 10, 11: // a table at an index that is known in part
		i := w.reg()
		if i == r || w.used != 0 {
			return
		}
		k := w.rnd.IntN(3)
		w.line("movs %v, #%d", r, w.rnd.IntN(4))
		w.line("ands %v, %v, %v", i, i, r)
		if k < 2 {
			w.line("lsls %v, %v, #%d", i, i, 2-k)
		}
		w.line("ldr %v, =%s", r, []string{"ratab", "rahalf", "rabyte"}[k])
		if w.rnd.IntN(2) == 0 {
			w.line("adds %v, %v, %v", r, r, i)
			w.line("%s %v, [%v]", []string{"ldr", "ldrh", "ldrb"}[k], w.reg(), r)
		} else {
			w.line("%s %v, [%v, %v]", []string{"ldr", "ldrh", "ldrb"}[k], w.reg(), r, i)
		}
	case 7:
		if w.depth > 0 { // parts of a word on the stack
			w.line("mov %v, sp", r)
			w.line("%s %v, [%v, #%d]", w.pick("strb", "strh"), w.any(), r, 2*w.rnd.IntN(8))
			w.line("ldr %v, [sp, #%d]", w.reg(), 4*w.rnd.IntN(4))
		}
	case 8:
		a, b := w.any(), w.any()
		if a < b && !w.used.Has(a) && !w.used.Has(b) {
			w.line("push {%v, %v}", a, b)
			w.line("add %v, sp, #%d", a, 4*w.rnd.IntN(2))
			w.line("ldr %v, [%v]", w.reg(), a)
			w.line("pop {%v, %v}", a, b)
		}
	case 9:
		if a, b := w.reg(), w.reg(); w.depth > 0 && w.set > 0 && a != b {
			a &^= 1
			if b = a + 1; !w.used.Has(a) && !w.used.Has(b) {
				w.line("%s %v, %v, [sp, #%d]", w.pick("strd", "ldrd"), a, b, 8*w.rnd.IntN(2))
			}
		}
	case 0:
		w.line("ldr %v, =0x%x", r, w.rnd.Uint32())
	case 1:
		w.line("ldr %v, %stab+%d", r, w.name, 4*w.rnd.IntN(2))
	case 2:
		w.line("ldr %v, =ratab", r)
		w.line("ldr %v, [%v, #%d]", w.reg(), r, 4*w.rnd.IntN(4))
	case 3:
		w.line("ldr %v, =rahalf", r)
		w.line("ldrh %v, [%v, #%d]", w.reg(), r, 2*w.rnd.IntN(4))
	case 4:
		w.line("ldr %v, =rabyte", r)
		w.line("ldrb %v, [%v, #%d]", w.reg(), r, w.rnd.IntN(4))
	case 5:
		w.line("ldr %v, =0x20000100", r)
		w.line("str %v, [%v, #%d]", w.any(), r, 4*w.rnd.IntN(4))
	case 6:
		if w.depth > 0 {
			w.line("mov %v, sp", r)
			w.line("str %v, [%v, #%d]", w.any(), r, 4*w.rnd.IntN(4))
		} else {
			w.line("adr %v, %stab", r, w.name)
		}
	}
}

// wide writes lines of T32.
func (w *programWriter) wide() {
	r, a, b := w.reg(), w.any(), w.any()
	switch w.rnd.IntN(13) {
	case 9:
		if high := w.reg(); r != high {
			w.line("%s %v, %v, %v, %v", w.pick("umull", "smull", "umlal", "smlal"), r, high, a, b)
		}
	case 10:
		w.line("%s %v, %v, %v, %v", w.pick("mla", "mls"), r, a, b, w.any())
	case 11:
		w.line("%s %v, %v, %v", w.pick("uadd8", "sadd16", "uxtab", "sxtah", "uxtab16", "smulbb", "smultb", "qadd", "uqsub8", "rsbs", "orn"), r, a, b)
	case 12:
		w.line("bfc %v, #%d, #%d", r, w.rnd.IntN(16), 1+w.rnd.IntN(16))
	case 0:
		w.line("movw %v, #%d", r, w.rnd.IntN(65536))
	case 1:
		w.line("movt %v, #%d", r, w.rnd.IntN(65536))
	case 2:
		w.line("%s %v, %v, #%d, #%d", w.pick("ubfx", "sbfx", "bfi"), r, a, w.rnd.IntN(16), 1+w.rnd.IntN(16))
	case 3:
		w.line("cmp %v, #%d", a, w.rnd.IntN(256))
		w.line("ite %s", "hi")
		w.line("movhi %v, #%d", r, w.rnd.IntN(256))
		w.line("addls %v, %v, #1", r, b)
	case 4:
		w.line("%s %v, %v, %v, %s #%d", w.pick("add", "sub", "orr", "eors", "bics", "adds"), r, a, b, w.pick("lsl", "lsr", "asr", "ror"), 1+w.rnd.IntN(31))
	case 5:
		w.line("%s %v, %v, %v", w.pick("udiv", "sdiv"), r, a, b)
	case 6:
		w.line("%s %v, %v", w.pick("clz", "rbit"), r, a)
	case 7:
		w.line("%s %v, #%d, %v", w.pick("usat", "ssat"), r, 1+w.rnd.IntN(31), a)
	case 8:
		w.label++
		w.line("%s %v, .L%d", w.pick("cbz", "cbnz"), a, w.label)
		w.line("mov %v, #%d", r, w.rnd.IntN(256))
		fmt.Fprintf(&w.b, ".L%d:\n", w.label)
	}
}

// a32 writes lines of A32.
func (w *programWriter) a32() {
	r, a, b := w.reg(), w.any(), w.any()
	cond := w.pick("", "eq", "ne", "hi", "ls", "ge", "lt", "mi", "cs")
	switch w.rnd.IntN(10) {
	case 7:
		if high := w.reg(); r != high && r != a && high != a {
			w.line("%s%s %v, %v, %v, %v", w.pick("umull", "smull", "umlal", "smlal"), cond, r, high, a, b)
		}
	case 8:
		w.line("%s%s %v, %v, %v", w.pick("uadd8", "sadd16", "uxtab", "sxtah", "smulbb", "qadd", "pkhbt"), cond, r, a, b)
	case 9:
		w.line("push {%v}", a)
		w.line("ldr%s %v, [sp], #0", cond, r)
		w.line("add sp, sp, #4")
	case 0:
		w.line("mov%s %v, #%d", cond, r, w.rnd.IntN(256)<<(2*w.rnd.IntN(12)))
	case 1:
		w.line("%s%s %v, %v, %v, %s #%d", w.pick("add", "sub", "rsb", "orr", "eor", "bic", "adc"), cond, r, a, b, w.pick("lsl", "lsr", "asr", "ror"), 1+w.rnd.IntN(31))
	case 2:
		w.line("%s %v, %v, %v, %s %v", w.pick("adds", "subs", "orrs", "ands"), r, a, b, w.pick("lsl", "lsr", "asr", "ror"), w.any())
	case 3:
		w.line("mov%s %v, %v, rrx", cond, r, a)
	case 4:
		w.line("mla%s %v, %v, %v, %v", cond, r, a, b, w.any())
	case 5:
		w.line("cmp%s %v, #%d", cond, a, w.rnd.IntN(200))
	case 6:
		if w.used == 0 && len(w.calls) > 0 {
			w.line("bl%s %s", cond, w.calls[0])
		}
	}
}

// TestKnownStraight: after straight-line code from a state that is known, all is known.
func TestKnownStraight(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(15, 3)
	known, all := 0, 0
	missing := map[string]int{}
	for i := range reftest.Count(150, 3000, 30000) {
		r := analyze(t, nil, straightProgram(rnd, i%3))
		(&flow.Paths{Evaluator: eval.New(r.prog)}).Known().Each(func(l *flow.Line) {
			if l.After == nil || l.Item.Line < straightKnown {
				return
			}
			for g := range 13 {
				all++
				if _, ok := l.After.Regs[g].Exact(); ok {
					known++
				} else {
					missing[l.Item.Stmt.Name]++
				}
			}
		})
	}
	proof.Counted("registers after straight-line code: %d of %d known", known, all)
	if known < all {
		t.Errorf("not known: %v", missing)
	}
}

// straightKnown is the line of a straight program, from 0, from which on all is known.
const straightKnown = 32

// straightProgram gives all registers and flags a value, and goes on without a branch.
func straightProgram(rnd *rand.Rand, set int) string {
	w := &programWriter{rnd: rnd, set: set, name: "f"}
	for r := 12; r >= 0; r-- {
		low := min(r, 7)
		w.line("ldr r%d, =0x%x", low, rnd.Uint32()>>rnd.IntN(32))
		w.line("mov r%d, r%d", r, low)
	}
	w.line("cmp r%d, r%d", rnd.IntN(8), rnd.IntN(8))
	for range 20 {
		switch k := rnd.IntN(3); {
		case k == 0 && w.set == 1:
			w.wide()
		case k == 0 && w.set == 2:
			w.a32()
		default:
			w.plain()
		}
	}
	return knownHeads[set] + "\t.balign 4\nf:\n" + w.b.String() + "\tbx lr\n"
}
