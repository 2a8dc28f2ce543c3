package isa_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// textDisagreements lists the codes whose text means another code, and
// why. A pattern is matched against lines such as "armv4t divided mov-high as
// add-imm3: 4600 mov r0, r0".
var textDisagreements = []disagreement{
	{` (add|sub)-imm3 as (add|sub)-imm8: `, `with one register as source and destination, assemblers take the encoding with eight bits`},
	{` (unified|divided) nop as mov-high: `, `without T32 assemblers write NOP as MOV r8, r8`},
	{` unified hint as nothing: `, `hints without a name can be written only with T32`},
}

// again writes a decoded instruction, reads the text and gives the row and the
// code that it means.
func again(in *isa.Inst, have isa.Features, unified bool) (text, row string, code uint32) {
	text = in.Text(unified, 0)
	l := syntax.Parse(text).Line(0)
	if len(l.Stmts) != 1 || l.Stmts[0].Kind != syntax.Instruction || l.Stmts[0].Err != nil {
		return text, "no instruction", 0
	}
	s := &l.Stmts[0]
	ops := operands(s)
	for i := range ops {
		if ops[i].Kind == isa.OpExpr && ops[i].Bare {
			// The text has a target's address, which the parser takes for a number.
			ops[i].Bare, ops[i].Imm = false, int64(int32(uint32(ops[i].Imm)))
		}
	}
	m, ok := s.Mnemonic.Match(&isa.Query{Have: have, Unified: unified, Width: s.Width}, ops)
	if !ok {
		return text, "nothing", 0
	}
	return text, m.Form.Row.ID, m.Encode()
}

// TestRoundTrip decodes all halfwords and the 32-bit codes, writes them in
// both syntaxes, and reads the text again: it has to mean the same code.
func TestRoundTrip(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	halves, wides := halfwords(), wideCodes()
	var lines []string
	total := 0
	for _, arch := range decodeArches() {
		target, _ := isa.Arch(arch)
		try := func(first, second uint16) {
			in, ok := isa.Decode(target.Have, first, second)
			if !ok || in.Unpredictable {
				return
			}
			for _, unified := range []bool{true, false} {
				if in.Form(unified) == nil || !unified && ofT32(in.Row) {
					continue // T32 code has no divided spelling of its own
				}
				total++
				if text, row, code := again(&in, target.Have, unified); row != in.Row.ID || code != in.Word {
					syntax := map[bool]string{true: "unified", false: "divided"}[unified]
					lines = append(lines, fmt.Sprintf("%s %s %s as %s: %x %s", arch, syntax, in.Row.ID, row, in.Word, text))
				}
			}
		}
		for _, h := range halves {
			try(h, reftest.Nop16)
		}
		for _, w := range wides {
			try(uint16(w>>16), uint16(w))
		}
	}
	judge(t, textDisagreements, lines)
	proof.Counted("round trip: %d texts, %d stand for another code", total, len(lines))
}

func FuzzDecode(f *testing.F) {
	for _, w := range []uint32{0x2001_46c0, 0xb500_4770, 0xf7ff_fffe, 0xbf08_4608, 0xf3bf_8f4f, 0xf3ef_8010, 0xde00_dead} {
		f.Add(uint16(w>>16), uint16(w), uint8(w))
	}
	names := isa.ArchNames()
	f.Fuzz(func(t *testing.T, first, second uint16, which uint8) {
		target, _ := isa.Arch(names[int(which)%len(names)])
		in, ok := isa.Decode(target.Have, first, second)
		if !ok {
			return
		}
		want := uint32(first)
		if in.Row.Size() == 4 {
			want = want<<16 | uint32(second)
		}
		if in.Word != want || in.Encode() != want && !in.Unpredictable {
			t.Errorf("%04x %04x: word %x, encoded %x", first, second, in.Word, in.Encode())
		}
		in.Effects()
		for _, unified := range []bool{true, false} {
			if in.Text(unified, 0x8000) == "" {
				t.Errorf("%x has no text", want)
			}
		}
	})
}

func FuzzMatch(f *testing.F) {
	for _, s := range []string{"movs r0, #1", "push {r4-r7, lr}", "ldr r0, [pc, #8]", "beq .+8", "ADDS R0, R1, #-3", "movs r0, r1, lsl #2", "cpsid aif", "dmb 15", "ldmia r0, {r1}"} {
		f.Add(s, true, uint8(8))
	}
	names := isa.ArchNames()
	f.Fuzz(func(t *testing.T, text string, unified bool, which uint8) {
		target, _ := isa.Arch(names[int(which)%len(names)])
		text, _, _ = strings.Cut(text, "\n")
		for i := range syntax.Parse(text).Line(0).Stmts {
			s := &syntax.Parse(text).Line(0).Stmts[i]
			if s.Kind != syntax.Instruction || s.Err != nil {
				continue
			}
			q := isa.Query{Have: target.Have, Unified: unified, Width: s.Width}
			ops := operands(s)
			m, ok := s.Mnemonic.Match(&q, ops)
			if !ok {
				for _, r := range s.Mnemonic.Refuse(&q, ops, nil) {
					if r.Reason == isa.OK || r.Op >= max(len(ops), r.Form.Operands()) || r.Form.String() == "" {
						t.Errorf("%q: refusal %+v", text, r)
					}
				}
				continue
			}
			w := m.Encode()
			first, second := uint16(w), uint16(0)
			if m.Form.Row.Size() == 4 {
				first, second = uint16(w>>16), uint16(w)
			}
			if in, ok := isa.Decode(target.Have, first, second); !ok || in.Row != m.Form.Row {
				t.Errorf("%q: %x is of row %s and decodes to %+v", text, w, m.Form.Row.ID, in)
			}
			if m.Effects() != (func() isa.Effects { in, _ := isa.Decode(target.Have, first, second); return in.Effects() })() {
				t.Errorf("%q: the effects of statement and code differ", text)
			}
		}
	})
}

// sample is source as a firmware has it.
const sample = `movs r0, #12
	push {r4, r5, r6, lr}
	ldr r3, [r0, #8]
	adds r3, r3, #1
	str r3, [r0, #8]
	lsls r1, r3, #2
	ldrb r2, [r4, r1]
	cmp r2, #0
	beq .+16
	mov r8, r0
	bl .+200
	ands r2, r1
	uxtb r2, r2
	subs r5, r5, r2
	bne .-20
	ldrsh r6, [r4, r5]
	sub sp, #16
	pop {r4, r5, r6, pc}`

// BenchmarkMatch binds one statement an iteration.
func BenchmarkMatch(b *testing.B) {
	target, _ := isa.Arch("armv6-m")
	f := syntax.Parse(sample)
	type statement struct {
		mnemonic *isa.Mnemonic
		ops      []isa.Operand
	}
	var list []statement
	for i := range f.NumLines() {
		s := &f.Line(i).Stmts[0]
		list = append(list, statement{s.Mnemonic, operands(s)})
	}
	q := isa.Query{Have: target.Have, Unified: true}
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		s := &list[i%len(list)]
		if _, ok := s.mnemonic.Match(&q, s.ops); !ok {
			b.Fatal(f.Line(i % len(list)).Text)
		}
	}
}

// BenchmarkDecode decodes one halfword an iteration.
func BenchmarkDecode(b *testing.B) {
	target, _ := isa.Arch("armv6-m")
	b.ReportAllocs()
	n := 0
	for i := 0; b.Loop(); i++ {
		if _, ok := isa.Decode(target.Have, uint16(i*31), 0xf800); ok {
			n++
		}
	}
}

// TestNoAllocations holds the hot paths to what the analysis counts on.
func TestNoAllocations(t *testing.T) {
	target, _ := isa.Arch("armv6-m")
	q := isa.Query{Have: target.Have, Unified: true}
	s := &syntax.Parse("adds r0, r1, #3").Line(0).Stmts[0]
	ops := operands(s)
	for name, f := range map[string]func(){
		"Match":   func() { m, _ := s.Mnemonic.Match(&q, ops); _ = m.Encode(); _ = m.Effects() },
		"Decode":  func() { in, _ := isa.Decode(target.Have, 0x1cc8, 0); _ = in.Encode() },
		"Find":    func() { isa.Find("adds") },
		"Find .n": func() { isa.Find("adds.n") },
	} {
		if n := testing.AllocsPerRun(100, f); n != 0 {
			t.Errorf("%s makes %v allocations", name, n)
		}
	}
}

// TestRefuseAllocations holds that what is wrong with a statement is found out without an
// allocation for each form: sources that somebody else has written may have 200,000 wrong lines.
func TestRefuseAllocations(t *testing.T) {
	target, _ := isa.Arch("armv7-a")
	q := isa.Query{Have: target.Have, Unified: true}
	s := &syntax.Parse("ldr r0, [r1, #70000]").Line(0).Stmts[0]
	ops := operands(s)
	room := s.Mnemonic.Refuse(&q, ops, nil)
	if len(room) < 20 {
		t.Fatalf("%d refusals: the name has too few forms for this test", len(room))
	}
	for name, f := range map[string]func(){
		"Nearest": func() { s.Mnemonic.Nearest(&q, ops) },
		"Refuse":  func() { room = s.Mnemonic.Refuse(&q, ops, room) },
	} {
		if n := testing.AllocsPerRun(100, f); n > 1 {
			t.Errorf("%s makes %v allocations", name, n)
		}
	}
}

// TestNearConstants compares the constants next to others, and those that differ by others, with
// what looking at all of them says.
func TestNearConstants(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 11))
	for _, state := range []isa.State{isa.T, isa.A} {
		var all []uint32
		for i := range uint32(1 << 12) {
			c := isa.ExpandT32(i)
			if state == isa.A {
				c = isa.Unrotate(i)
			}
			all = append(all, c)
		}
		for range 300 {
			v := rnd.Uint32()>>rnd.UintN(32) | 1<<(rnd.UintN(4)) // 0 is a constant itself
			var below, above, first uint32
			for _, c := range all {
				if c <= v && c > below {
					below = c
				}
				if c >= v && (above == 0 || c < above) {
					above = c
				}
			}
			for _, c := range append([]uint32{above}, all...) {
				if _, ok := state.Constant(c - v); ok && c > v {
					first = c
					break
				}
			}
			if b, a := state.NearConstants(v); b != below || a != above {
				t.Errorf("%v: near %#x: %#x and %#x, want %#x and %#x", state, v, b, a, below, above)
			}
			if a, b, ok := state.Difference(v); ok != (first != 0) || ok && (a != first || a-b != v) {
				t.Errorf("%v: %#x is %#x - %#x, want %#x first", state, v, a, b, first)
			}
		}
	}
}
