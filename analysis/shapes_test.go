package analysis

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// shaper makes programs of all shapes that control flow has: loops, calls, tables,
// changes of the instruction set, distances that lines count.
type shaper struct {
	*generator
	a32, wide bool // wide: A32 or T32
	have      isa.Features
	v5        bool // pop {pc} and the like change the instruction set
	both      bool // A32 and Thumb code in one program
	out       []string
	n         int      // labels so far
	routines  []string // names, the first is where it begins
	after     []string // lines behind the routine: tables, pools
	deep      int
	bind      map[string]int // 0: global, 1: weak
	macros    []string
}

func (s *shaper) line(format string, args ...any) {
	s.out = append(s.out, "\t"+fmt.Sprintf(format, args...))
}

func (s *shaper) label(name string) { s.out = append(s.out, name+":") }

func (s *shaper) fresh() string {
	s.n++
	return fmt.Sprintf("l%d", s.n)
}

// set is the letter of lines that set the flags.
func (s *shaper) set() string {
	if s.unified || s.wide {
		return "s"
	}
	return ""
}

// ordinary is a line that neither jumps nor moves the stack pointer.
func (s *shaper) ordinary() string {
	low := func() string { return isa.Reg(s.low()).String() }
	if s.wide && s.IntN(3) == 0 {
		x := s.wideFiller(0, 0)
		for strings.HasPrefix(x, "b") && !strings.HasPrefix(x, "bic") {
			x = s.wideFiller(0, 0)
		}
		return x
	}
	f := s.set()
	switch s.IntN(16) {
	case 0, 1:
		return fmt.Sprintf("mov%s %s, #%d", f, low(), s.IntN(256))
	case 2:
		return fmt.Sprintf("add%s %s, %s, #%d", f, low(), low(), s.IntN(8))
	case 3:
		return fmt.Sprintf("sub%s %s, %s, %s", f, low(), low(), low())
	case 4:
		r := low()
		if s.wide {
			return fmt.Sprintf("%s%s %s, %s, %s", pick(s.generator, "adc", "sbc", "and", "orr", "eor"), f, r, r, low())
		}
		return fmt.Sprintf("%s%s %s, %s", pick(s.generator, "adc", "sbc", "and", "orr", "eor"), f, r, low())
	case 5:
		return fmt.Sprintf("cmp %s, #%d", low(), s.IntN(256))
	case 6:
		return fmt.Sprintf("cmp %s, %s", low(), low())
	case 7:
		return fmt.Sprintf("mov r%d, %s", s.high(), low())
	case 8:
		return fmt.Sprintf("mov %s, r%d", low(), s.high())
	case 9:
		return fmt.Sprintf("%s %s, [sp, #%d]", pick(s.generator, "ldr", "str"), low(), 4*s.IntN(4))
	case 10:
		return fmt.Sprintf("%s %s, [%s, #%d]", pick(s.generator, "ldr", "str"), low(), low(), 4*s.IntN(8))
	case 11:
		return fmt.Sprintf("ldr %s, =%#x", low(), 0x1234500+s.IntN(200))
	case 12:
		return fmt.Sprintf("tst %s, %s", low(), low())
	case 13:
		return fmt.Sprintf("%s %s, [%s, #%d]", pick(s.generator, "ldrb", "strb"), low(), low(), s.IntN(32))
	case 14:
		if s.wide {
			return fmt.Sprintf("mov%s %s, %s, lsl #%d", f, low(), low(), 1+s.IntN(31))
		}
		return fmt.Sprintf("lsl%s %s, %s, #%d", f, low(), low(), 1+s.IntN(31))
	}
	return fmt.Sprintf("add r%d, r%d", s.high(), s.high())
}

func (s *shaper) some(n int) {
	for range s.IntN(n) + 1 {
		l := s.ordinary()
		switch s.IntN(24) {
		case 0:
			l += " @ the signal arm"
		case 1:
			l += " /* the points */"
		case 2:
			l = "/* track */ " + l
		case 3:
			if s.IntN(2) == 0 {
				l += "; " + s.ordinary()
			}
		case 4:
			if len(s.macros) > 0 {
				l = s.macros[s.IntN(len(s.macros))]
			}
		case 5:
			s.line(".rept %d", 1+s.IntN(3))
			s.line("%s", l)
			l = ".endr"
		}
		s.line("%s", l)
	}
}

// block makes a piece of a routine.
func (s *shaper) block() {
	if s.deep++; s.deep > 3 {
		s.deep--
		s.some(3)
		return
	}
	defer func() { s.deep-- }()
	cond := isa.Cond(s.IntN(14))
	f := s.set()
	switch s.IntN(17) {
	case 0, 1:
		s.some(4)
	case 2: // a loop that carries flags
		l, r := s.fresh(), s.IntN(4)+4
		s.line("mov%s r%d, #%d", f, r, 1+s.IntN(4))
		s.line("cmp r0, r1")
		s.label(l)
		s.some(2)
		x := s.low() & 3
		s.line("adc%s r%d, r%d", f, x, s.low()&3)
		switch s.IntN(3) {
		case 0:
			s.line("sub%s r%d, r%d, #1", f, r, r)
			s.line("bne %s", l)
		case 1:
			s.line("b%s %s", cond, l)
		default:
			s.line("sub%s r%d, r%d, #1", f, r, r)
			s.some(2)
			s.line("b%s %s", pick(s.generator, "cs", "pl", "hi"), l)
		}
	case 3: // a choice
		a, b := s.fresh(), s.fresh()
		s.line("b%s %s", cond, a)
		s.block()
		if s.IntN(2) == 0 {
			s.line("b %s", b)
			s.label(a)
			s.block()
			s.label(b)
		} else {
			s.label(a)
			s.label(b)
		}
	case 4, 5: // a call, at times of one that answers in a flag
		s.line("bl %s", s.callee())
		if s.IntN(2) == 0 {
			l := s.fresh()
			s.line("b%s %s", cond, l)
			s.some(2)
			s.label(l)
		}
	case 6:
		s.table()
	case 7: // distances
		s.distance(cond)
	case 8: // a pool in the way
		l := s.fresh()
		s.line("ldr %s, =%#x", isa.Reg(s.low()), s.Uint32())
		s.line("b %s", l)
		if s.IntN(2) == 0 {
			s.line(".ltorg")
		} else {
			s.line(".align 2")
			s.line(".word %d", s.IntN(1000))
		}
		s.label(l)
	case 9: // an IT block
		if s.wide && !s.a32 && s.unified {
			s.line("ite %s", cond)
			s.line("mov%s r%d, #%d", cond, s.low(), s.IntN(256))
			s.line("add%s r%d, r%d, #%d", cond.Invert(), s.low(), s.low(), s.IntN(8))
			return
		}
		s.some(3)
	case 10: // the stack
		r := isa.RegList(s.IntN(256) | 1)
		if s.a32 && !s.unified {
			s.line("stmfd sp!, %s", r)
		} else {
			s.line("push %s", r)
		}
		s.block()
		if s.a32 && !s.unified {
			s.line("ldmfd sp!, %s", r)
		} else {
			s.line("pop %s", r)
		}
	case 11: // a compare and its branches
		l := s.fresh()
		s.line("cmp r%d, #%d", s.low(), s.IntN(20))
		s.some(1)
		s.line("b%s %s", cond, l)
		s.block()
		s.label(l)
	case 12: // another instruction set for a while
		if s.both && s.deep == 1 {
			s.other()
			return
		}
		s.some(2)
	case 13: // a number of lines in between
		l := s.fresh()
		s.line("b%s %s", cond, l)
		for range 2 + s.IntN(6) {
			s.some(10)
		}
		s.label(l)
	case 14: // a call through a register
		r := s.low() & 3
		s.line("ldr r%d, =%s", r, s.routines[s.IntN(len(s.routines))])
		if s.v5 {
			s.line("blx r%d", r)
		}
		s.line("mov%s r%d, #%d", f, r, s.IntN(256)) // no numbers are made of the address
	case 15: // an address and what is there
		l := s.fresh()
		if s.IntN(2) == 0 {
			s.line("adr r2, %s", l)
			s.line("ldr r2, [r2]")
		} else {
			s.line("ldr r2, %s", l)
		}
		s.after = append(s.after, "\t.align 2", l+":", fmt.Sprintf("\t.word %d, %d", s.IntN(9999), s.IntN(9999)))
	default:
		s.line("svc #%d", s.IntN(9))
		if !s.unified && !s.a32 {
			s.out[len(s.out)-1] = strings.Replace(s.out[len(s.out)-1], "svc", "swi", 1)
		}
	}
}

// callee is a routine, or one of another file.
func (s *shaper) callee() string {
	if s.IntN(6) == 0 {
		return "elsewhere"
	}
	return s.routines[s.IntN(len(s.routines))]
}

// table makes a jump by an index.
func (s *shaper) table() {
	n := 3 + s.IntN(2)
	var names []string
	for range n {
		names = append(names, s.fresh())
	}
	end := s.fresh()
	f := s.set()
	s.line("mov%s r1, #%d", f, n-1)
	if s.wide {
		s.line("and%s r0, r0, #%d", f, 1)
	} else {
		s.line("mov%s r1, #1", f)
		s.line("and%s r0, r1", f)
	}
	cases := func() {
		for i, l := range names {
			s.label(l)
			s.line("mov%s r1, #%d", f, i) // no numbers are made of the address
			s.some(2)
			if i < n-1 || s.IntN(2) == 0 {
				s.line("b %s", end)
			}
		}
		s.label(end)
	}
	t := s.fresh()
	switch k := s.IntN(6); {
	case s.a32 && k < 2: // words
		s.line("ldr pc, [pc, r0, lsl #2]")
		s.line("b %s", end)
		for _, l := range names {
			s.line(".word %s", l)
		}
		cases()
	case s.a32 && k < 4: // branches
		s.line("cmp r0, #%d", n-1)
		s.line("addls pc, pc, r0, lsl #2")
		s.line("b %s", end)
		for _, l := range names {
			s.line("b %s", l)
		}
		cases()
	case s.a32: // pieces of the same length
		s.line("cmp r0, #1")
		s.line("addls pc, pc, r0, lsl #3")
		s.line("b %s", end)
		for range 2 {
			s.line("%s", s.ordinary())
			s.line("b %s", end)
		}
		s.label(end)
	case s.wide && k < 2: // TBB by labels
		s.line("tbb [pc, r0]")
		s.label(t)
		for _, l := range names {
			s.line(".byte (%s-%s)/2", l, t)
		}
		s.line(".align 1")
		cases()
	case s.wide && k < 4:
		s.line("tbh [pc, r0, lsl #1]")
		s.label(t)
		for _, l := range names {
			s.line(".hword (%s-%s)/2", l, t)
		}
		cases()
	case s.wide && k == 4: // by numbers
		s.line("tbb [pc, r0]")
		s.line(".byte 1, 3")
		s.line("nop.n")
		s.line("b %s", end)
		s.line("%s", fmt.Sprintf("mov r%d, r%d", s.low(), s.high()))
		s.line("b %s", end)
		s.label(end)
	case k < 2: // pieces of the same length
		s.line("lsl%s r0, r0, #2", f)
		s.line("add pc, r0")
		s.line("nop")
		for range 2 {
			s.line("%s", s.ordinary())
			s.line("b %s", end)
		}
		s.label(end)
	case k < 4: // branches
		s.line("lsl%s r0, r0, #1", f)
		s.line("add pc, r0")
		s.line("nop")
		for _, l := range names {
			s.line("b %s", l)
		}
		cases()
	default: // words
		s.line("lsl%s r0, r0, #2", f)
		s.line("ldr r1, =%s", t)
		s.line("ldr r1, [r1, r0]")
		s.line("mov pc, r1")
		s.after = append(s.after, "\t.align 2", t+":")
		for _, l := range names {
			s.after = append(s.after, "\t.word "+l)
		}
		cases()
	}
}

// distance makes lines that count on places.
func (s *shaper) distance(cond isa.Cond) {
	size := 2
	if s.a32 {
		size = 4
	}
	plain := func() {
		if s.a32 {
			s.line("mov%s r%d, #%d", s.set(), s.low(), s.IntN(256))
		} else {
			s.line("mov r%d, r%d", s.low(), s.high())
		}
	}
	switch s.IntN(5) {
	case 0:
		n := s.IntN(3)
		s.line("b%s .+%d", pick(s.generator, "", cond.String()), (2+n)*size)
		for range n + 1 {
			plain()
		}
	case 1:
		l := s.fresh()
		s.line("mov%s r7, #2", s.set())
		s.label(l)
		plain()
		s.line("sub%s r7, r7, #1", s.set())
		s.line("bne .-%d", 2*size)
	case 2:
		l := s.fresh()
		s.line("b %s+%d", l, 2*size)
		s.label(l)
		plain()
		plain()
		plain()
	case 3:
		r := s.low()
		s.line("ldr r%d, =%s+%d", r, s.routines[0], 4*s.IntN(4))
		s.line("ldr r%d, [r%d]", r, r)
	case 4:
		l := s.fresh()
		if s.a32 {
			s.line("ldr r%d, [pc, #0]", s.low())
			s.line("b %s", l)
		} else {
			s.line(".align 2")
			s.line("ldr r%d, [pc, #0]", s.low())
			s.line("b %s", l)
		}
		s.line(".word %d", s.IntN(9999))
		s.label(l)
	}
}

// other goes into the other instruction set and back.
func (s *shaper) other() {
	l := s.fresh()
	if s.a32 {
		switch s.IntN(3) {
		case 0:
			s.line("adr r3, %s", l)
			s.line("add r3, r3, #1")
			s.line("bx r3")
		case 1:
			s.line("ldr r3, =%s+1", l)
			s.line("bx r3")
		default:
			s.line("add r3, pc, #1")
			s.line("bx r3")
		}
		s.line(".thumb")
		s.label(l)
	} else {
		s.line(".align 2")
		if s.IntN(2) == 0 {
			s.line("bx pc")
			s.line("nop")
		} else {
			s.line("adr r3, %s", l)
			s.line("bx r3")
			s.line(".align 2")
		}
		s.line(".arm")
		s.label(l)
	}
	s.a32, s.wide = !s.a32, !s.a32 || s.have.Has(isa.FeatT32)
	s.some(3)
	l = s.fresh()
	if s.a32 {
		s.line("adr r3, %s", l)
		s.line("add r3, r3, #1")
		s.line("bx r3")
		s.line(".thumb")
	} else {
		s.line(".align 2")
		s.line("bx pc")
		s.line("nop")
		s.line(".arm")
	}
	s.label(l)
	s.a32, s.wide = !s.a32, !s.a32 || s.have.Has(isa.FeatT32)
}

// routine makes one.
func (s *shaper) routine(name string) {
	s.line(".align 2")
	switch s.bind[name] {
	case 0:
		s.line(".global %s", name)
	case 1:
		s.line(".weak %s", name)
	}
	if s.a32 {
		s.line(".type %s, %%function", name)
	} else {
		s.line(".thumb_func")
	}
	s.label(name)
	frame := isa.RegList(0xf0)
	switch s.IntN(3) {
	case 0:
		frame = 1<<4 | 1<<14
	case 1:
		frame = 1 << 14
	default:
		frame |= 1 << 14
	}
	leaf := s.IntN(3) == 0
	push, pop := "push", "pop"
	if s.a32 && !s.unified {
		push, pop = "stmfd sp!,", "ldmfd sp!,"
	}
	if !leaf {
		s.line("%s %s", push, frame)
	}
	for range 1 + s.IntN(4) {
		s.block()
	}
	if leaf { // without calls
		s.out = slices.DeleteFunc(s.out, func(l string) bool {
			return strings.HasPrefix(l, "\tbl ") || strings.HasPrefix(l, "\tblx ")
		})
	}
	// The assembler writes a branch of two bytes to a weak Thumb routine so that it leads
	// to the instruction in front of it: no such branch.
	to := s.routines[s.IntN(len(s.routines))]
	switch {
	case leaf && s.IntN(3) == 0 && s.bind[to] != 1:
		s.line("b %s", to)
	case leaf:
		s.line("bx lr")
	case s.v5 || s.IntN(2) == 0 && !s.both:
		s.line("%s %s", pop, frame&^(1<<14)|1<<15)
	case s.a32:
		s.line("%s %s", pop, frame)
		s.line("bx lr")
	default:
		if frame &^= 1 << 14; frame != 0 {
			s.line("pop %s", frame)
		}
		s.line("pop {r3}")
		s.line("bx r3")
	}
	if s.IntN(3) > 0 {
		s.line(".ltorg")
	}
	s.out = append(s.out, s.after...)
	s.after = nil
}

// shape makes a program without errors, with the flags of the assembler.
func (s *shaper) shape() (text, arch string) {
	s.bind = map[string]int{}
	s.out, s.after, s.macros, s.routines, s.n, s.deep = nil, nil, nil, nil, 0, 0
	arch = pick(s.generator, "armv4t", "armv4t", "armv5te", "armv6", "armv7-a", "armv6s-m", "armv7-m")
	target, _ := isa.Arch(arch)
	s.have = target.Have
	s.v5 = s.have.Has(isa.FeatV5T)
	s.a32 = s.have.Has(isa.FeatA32) && s.IntN(4) == 0
	s.both = s.have.Has(isa.FeatA32) && s.IntN(3) == 0
	s.wide = s.a32 || s.have.Has(isa.FeatT32)
	s.unified = s.IntN(3) > 0 || s.wide && !s.a32 || arch == "armv6s-m"
	s.line(".arch %s", arch)
	s.line(".syntax %s", map[bool]string{true: "unified", false: "divided"}[s.unified])
	s.line(".%s", map[bool]string{true: "arm", false: "thumb"}[s.a32])
	if s.IntN(3) == 0 {
		s.line(".macro step")
		s.line("%s", s.ordinary())
		s.line(".endm")
		s.macros = append(s.macros, "step")
	}
	if s.IntN(3) == 0 {
		s.line(".macro turn reg, by=1")
		s.line("add%s \\reg, \\reg, #\\by", s.set())
		s.line(".endm")
		s.macros = append(s.macros, "turn r2", "turn r1, 3")
	}
	for i := range 2 + s.IntN(3) {
		name := fmt.Sprintf("f%d", i)
		s.routines = append(s.routines, name)
		if s.bind[name] = s.IntN(4); i == 0 {
			s.bind[name] = 0
		}
	}
	if s.IntN(5) == 0 {
		s.line(".word 0x20001000, %s", s.routines[0])
	}
	for _, name := range s.routines {
		s.routine(name)
	}
	return strings.Join(s.out, "\n") + "\n", arch
}

// TestSlipsInShapes puts slips into generated programs of all shapes, lets the safe
// rewrites mend them, and carries out both, as TestRealSlips does.
func TestSlipsInShapes(t *testing.T) {
	t.Parallel()
	l := newLinker(t)
	proof := reftest.Begin(t)
	g := &generator{Rand: reftest.Rand(52, 7)}
	s := &shaper{generator: g}
	counts := newSlipCounts()
	goal := reftest.Count(24, 200, 20000)
	clean, all := 0, 0
	for counts.met < goal && all < 20*goal+100 {
		text, arch := s.shape()
		all++
		slipper := &slipper{&generator{Rand: g.Rand, unified: s.unified}, t, 4}
		set := &Settings{}
		r, err := Analyze(context.Background(), &Input{Path: "shape.s", File: syntax.Parse(text), Set: set})
		if err != nil {
			t.Fatal(err)
		}
		bad := ""
		for _, d := range r.Each() {
			if d.Severity == finding.Error {
				bad = fmt.Sprintf("%s: %s", r.prog.File.Line(r.prog.File.LineAt(d.Span.Start)).Text, d.Message)
			}
		}
		if bad != "" {
			counts.failed[arch+": "+bad]++
			continue
		}
		clean++
		var list []int32
		for i := range r.prog.Items {
			it := &r.prog.Items[i]
			if it.Stmt.Kind == syntax.Instruction && it.File == 0 && it.Match.Form != nil && it.Match.Effects().Flow != isa.FlowTrap {
				list = append(list, it.Index)
			}
		}
		for range 3 {
			slipper.try(l, r, text, &r.prog.Items[list[g.IntN(len(list))]], set, nil, counts)
		}
		if counts.differ > 20 {
			t.Fatal("too many differences")
		}
	}
	proof.Counted("shapes: %d programs, %d without an error", all, clean)
	counts.report(t, proof, "slips in shapes")
	if counts.met < goal {
		t.Errorf("only %d of %d slips were run", counts.met, goal)
	}
	counts.floor(t, 77, 63)
}
