package flow

import (
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// A jump by ADD to pc goes into steps of equal size. How far, the lines above may say.

// Bounds of what is looked at: steps, and lines above the jump.
const (
	mostSteps = 256
	mostAbove = 16
)

// stepsOf finds where ADD to pc leads, which reads as ahead: to the steps that an index
// can choose which the lines above compare with a constant or mask; or, where they say
// nothing, to branches that follow one another, and behind the last of them, where the
// last case may be. ok is false where neither is there.
func (g *graph) stepsOf(it *program.Item, ops []isa.Operand, ahead int64) (targets []int32, ok bool) {
	k, by, index := g.Position(it), int64(0), isa.NoReg
	switch last := &ops[len(ops)-1]; {
	case len(ops) > 2 && last.Kind == isa.OpShift && last.Shift == isa.LSL && last.Known && last.Reg > 15 && ops[len(ops)-2].Kind == isa.OpReg:
		index, by = ops[len(ops)-2].Reg, last.Imm
		if len(ops) == 4 && (ops[1].Kind != isa.OpReg || ops[1].Reg != isa.PC) {
			return nil, false
		}
	case last.Kind == isa.OpReg && (len(ops) == 2 || len(ops) == 3 && ops[1].Kind == isa.OpReg && ops[1].Reg == isa.PC):
		if index, by, k = g.scaled(it.Section, k, last.Reg); index == isa.NoReg {
			return nil, false
		}
	default:
		return nil, false
	}
	size := int64(1) << by
	if by < 1 || by > 8 || index > 14 {
		return nil, false
	}
	if most, known := g.indexBound(it, k, index); known {
		for i := int64(0); i <= most; i++ {
			t := g.place(program.Value{Kind: program.Address, Section: it.Section, N: ahead + i*size})
			if t < 0 || g.steps[t].data || g.item(t).Offset != ahead+i*size {
				return nil, false
			}
			targets = append(targets, t)
		}
		return targets, true
	}
	first := g.place(program.Value{Kind: program.Address, Section: it.Section, N: ahead})
	for t := first; t >= 0 && len(targets) < mostSteps; t++ {
		x := g.item(t)
		if x == nil || g.steps[t].data || x.Offset != ahead+int64(len(targets))*size {
			break
		}
		targets = append(targets, t)
		if g.steps[t].way != jumps || g.steps[t].runsOn || x.Size != size {
			break
		}
	}
	return targets, len(targets) > 2
}

// scaled looks above a position for the shift that makes an offset of an index: the index,
// by how many places it is shifted, and the position of the shift. NoReg: there is none.
func (g *graph) scaled(sec int16, k int, offset isa.Reg) (index isa.Reg, by int64, at int) {
	for n := 0; n < mostAbove; n++ {
		if k = g.straightAbove(sec, k); k < 0 {
			break
		}
		x := &g.Items[g.Order[sec][k]]
		if x.Match.Form == nil || NextOf(g.Program, x) == Stops {
			break
		}
		e := x.Match.Effects()
		if !e.Writes.Has(offset) {
			continue
		}
		ops := g.OperandsOf(x)
		if len(ops) < 2 {
			break
		}
		last := &ops[len(ops)-1]
		if opOf(x) != "lsl" || e.Conditional || last.Kind != isa.OpImm || !last.Known || ops[len(ops)-2].Kind != isa.OpReg {
			break
		}
		return ops[len(ops)-2].Reg, last.Imm, k
	}
	return isa.NoReg, 0, 0
}

// indexBound is how large an index can be at a jump: what the straight line above position
// k has compared it with, for the jump's own condition or that of a branch that leads past
// it, or the mask that it comes from.
func (g *graph) indexBound(jump *program.Item, k int, index isa.Reg) (most int64, known bool) {
	less, asked := false, false // asked: what is compared decides, with ≤, or with < if less
	ask := func(c isa.Cond) {
		switch c {
		case condLS:
			less, asked = false, true
		case condCC:
			less, asked = true, true
		}
	}
	if jump.Match.Effects().Conditional {
		ask(conditionOf(jump))
	}
	sec := jump.Section
	flags := true                            // they are those at the condition
	if from := g.Position(jump); from != k { // what is between the shift and the jump
		for n := g.straightAbove(sec, from); n >= k; n = g.straightAbove(sec, n) {
			flags = flags && g.Items[g.Order[sec][n]].Match.Effects().FlagsWritten == 0
		}
	}
	for n := 0; n < mostAbove; n++ {
		if k = g.straightAbove(sec, k); k < 0 {
			break
		}
		x := &g.Items[g.Order[sec][k]]
		if x.Match.Form == nil {
			break
		}
		e, l := x.Match.Effects(), g.lineOf(x)
		ops := g.OperandsOf(x)
		switch {
		case l.way == jumps && l.runsOn:
			if !asked || !flags {
				less, asked, flags = false, false, true
				ask(conditionOf(x).Invert())
			}
			continue
		case l.way != goesOn:
			return 0, false
		case opOf(x) == "cmp" && asked && flags && !e.Conditional && len(ops) == 2 && ops[0].Reg == index && ops[1].Kind == isa.OpImm && ops[1].Known:
			most = ops[1].Imm
			if less {
				most--
			}
			return most, most >= 0 && most < mostSteps
		case e.Writes.Has(index) && len(ops) == 0:
			return 0, false
		case e.Writes.Has(index):
			last := &ops[len(ops)-1]
			if opOf(x) == "and" && !e.Conditional && last.Kind == isa.OpImm && last.Known {
				return last.Imm, last.Imm >= 0 && last.Imm < mostSteps
			}
			return 0, false
		}
		flags = flags && e.FlagsWritten == 0
	}
	return 0, false
}

// conditionOf is the condition on which an item with an encoding does what it does, that of a
// branch outside of an IT block included.
func conditionOf(it *program.Item) isa.Cond {
	c := it.Match.Condition()
	if c >= isa.AL && it.Match.Form.Row.Flow == isa.FlowBranch && it.Match.Form.Row.Has("c") {
		c = isa.Cond(it.Match.Values().Get("c"))
	}
	return c
}

// The conditions of a number that is not above another one, or below it.
const (
	condCC isa.Cond = 3
	condLS isa.Cond = 9
)
