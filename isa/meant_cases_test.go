package isa

import (
	"strings"
	"testing"
)

// TestMeantCases holds which instruction a refused line means by its words.
func TestMeantCases(t *testing.T) {
	reg := func(r Reg) Operand { return Operand{Kind: OpReg, Reg: r} }
	imm := func(n int64) Operand { return Operand{Kind: OpImm, Imm: n, Known: true} }
	mem := func(r Reg, n int64) Operand { return Operand{Kind: OpMem, Reg: r, Off: OffImm, Imm: n, Known: true} }
	late, lateMem := imm(0), mem(1, 0)
	late.Known, lateMem.Known = false, false
	for _, c := range []struct {
		name string
		sets bool
		ops  []Operand
		op   string // of what is meant, "" for nothing
		cond string
	}{
		{"add", true, []Operand{reg(8), reg(8), imm(300)}, "add", "al"},
		{"add", false, []Operand{reg(8), reg(8), imm(300)}, "add", "al"},
		{"addne", true, []Operand{reg(0), reg(1), imm(3)}, "add", "ne"},
		{"add", true, []Operand{reg(8), reg(8), late}, "", "al"},
		{"ldrh", true, []Operand{reg(0), mem(1, 200)}, "ldrh", "al"}, // LDRHS is another one
		{"ldrh", false, []Operand{reg(0), mem(1, 200)}, "ldrh", "al"},
		{"strh", true, []Operand{reg(0), mem(1, 200)}, "strh", "al"},
		{"ldrhs", true, []Operand{reg(0), mem(1, 200)}, "ldr", "cs"},
		{"ldrheq", true, []Operand{reg(0), mem(1, 200)}, "ldrh", "eq"},
		{"ldr", true, []Operand{reg(0), lateMem}, "", "al"},
		{"cmp", true, []Operand{reg(8), imm(300)}, "cmp", "al"},
		{"cmp", true, []Operand{reg(8), late}, "", "al"},
		{"b", true, []Operand{late}, "", "al"},
	} {
		x, _ := Find(c.name)
		if x == nil {
			t.Fatalf("no %s", c.name)
		}
		m, ok := x.Meant(c.sets, 0, c.ops)
		if ok != (c.op != "") {
			t.Errorf("%s %+v: %v", c.name, c.ops, ok)
			continue
		}
		if !ok {
			continue
		}
		op, cond := strings.Fields(m.Values.row.Name)[0], m.Cond
		if m.Values.row.Has("cond") {
			cond = Cond(m.Values.Get("cond"))
		}
		if want, _ := CondByName(c.cond); !strings.EqualFold(op, c.op) || cond != want {
			t.Errorf("%s %+v: means %s under %v, want %s under %s", c.name, c.ops, op, cond, c.op, c.cond)
		}
	}
}
