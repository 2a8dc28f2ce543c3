package rewrite

import (
	"slices"
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/isa"
)

// used is the set of registers that the statement mentions.
func (c *rewriting) used() isa.RegList { return flow.Mentioned(c.ops) }

// scratch finds n registers for a detour, low ones where others do not go
// everywhere. Those of them that are not provably dead are saved by a push before
// and a pop after, which is no way out for statements that touch the stack pointer
// or go elsewhere.
func (c *rewriting) scratch(n int, avoid isa.RegList) (regs []isa.Reg, saved isa.RegList, ok bool) {
	avoid |= c.used()
	all := isa.RegList(0xff)
	if c.wide() {
		all = 0x1fff
	}
	dead := c.subject.DeadRegs(c.item, all&^avoid)
	if c.environment.Mode == isa.A && dead.Has(12) {
		regs = append(regs, 12) // the one that is there for it: AAPCS32, "ip"
	}
	for r := isa.Reg(0); r < 13 && len(regs) < n; r++ {
		if dead.Has(r) && !slices.Contains(regs, r) {
			regs = append(regs, r)
		}
	}
	for r := isa.Reg(7); len(regs) < n && r < 8; r-- {
		if !avoid.Has(r) && !dead.Has(r) {
			regs = append(regs, r)
			saved |= flow.RegBit(r)
		}
	}
	if len(regs) < n || saved != 0 && (c.used().Has(isa.SP) || c.mayLeave()) {
		return nil, 0, false
	}
	return regs, saved, true
}

// mayLeave says whether the line may go elsewhere, so that what is after it is
// not sure to be executed.
func (c *rewriting) mayLeave() bool {
	if m := c.item.Stmt.Mnemonic; m != nil {
		for _, f := range m.FormsOf(c.environment.Mode) {
			if f.Row.Flow != isa.FlowNext && f.Row.Flow != isa.FlowTrap {
				return true
			}
		}
	}
	for i := range c.ops {
		if o := &c.ops[i]; o.Kind == isa.OpReg && o.Reg == isa.PC && i == 0 || o.Kind == isa.OpList && o.List.Has(isa.PC) {
			return true
		}
	}
	return false
}

// detour adds a candidate that uses scratch registers: saved ones are pushed
// before and popped after.
func (c *rewriting) detour(title string, wrong isa.Flags, regs []isa.Reg, saved isa.RegList, stmts ...string) {
	push, pop := c.mnemonic("push"), c.mnemonic("pop")
	if sets, _ := c.intent(); saved != 0 && sets == yes && c.wide() {
		// Behind a change of the flags the condition may be another one.
		if _, _, cond := c.operation(); cond != isa.AL && c.environment.Mode == isa.T {
			return
		}
		push, pop = "push", "pop"
	}
	k := candidate{title: title, wrong: wrong, safe: true}
	var names []string
	for _, r := range regs {
		names = append(names, c.scratchName(r))
	}
	if saved != 0 {
		list := c.inCase(saved.String())
		stmts = append(append([]string{c.statement(push, list)}, stmts...), c.statement(pop, list))
		k.title += ", saving " + strings.Trim(list, "{}")
		if c.subject.PushHarms() {
			k.safe, k.notes = false, append(k.notes, "r13 has more uses than the stack")
		} else if c.subject.StackUnset(c.item) {
			k.safe, k.notes = false, append(k.notes, "the stack pointer is set up only below")
		}
		var dead []string
		for _, r := range regs {
			if !saved.Has(r) {
				dead = append(dead, c.inCase(r.String()))
			}
		}
		names = dead
	}
	switch len(names) {
	case 0:
	case 1:
		k.title += ", using " + names[0] + " which is dead here"
	default:
		k.title += ", using " + strings.Join(names, ", ") + " which are dead here"
	}
	k.edits = c.replace(stmts...)
	c.add(k)
}

// matches says whether the statement has an encoding.
func (c *rewriting) matches(mn string, ops ...isa.Operand) (isa.Match, bool) {
	m, w := isa.Find(strings.ToLower(mn))
	if m == nil {
		return isa.Match{}, false
	}
	q := isa.Query{Have: c.environment.Have, Unified: c.environment.Unified, PC: c.item.Offset, Width: w, A32: c.environment.Mode == isa.A, IT: c.item.Slot.Unpack()}
	return m.Match(&q, ops)
}

func regOp(r isa.Reg) isa.Operand { return isa.Operand{Kind: isa.OpReg, Reg: r} }

func lowReg(o *isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg < 8 && !o.Writeback }

// copyLow is the copy of a low register into another.
func (c *rewriting) copyLow(d, s string) string { return c.statement(c.flagSetting("mov"), d, s) }

// loadConst writes the statement that puts v into the low register reg: a move
// where that goes and the flags may change, else a load from the literal pool.
func (c *rewriting) loadConst(reg string, v int64, text string, keepFlags bool) string {
	if !keepFlags && v >= 0 && v < 256 {
		return c.statement(c.flagSetting("mov"), reg, "#"+text)
	}
	return c.statement("ldr", reg, "="+text)
}

// commutes says whether the sources of an operation may change places.
func commutes(op string) bool {
	a, _ := isa.ArithmeticOf(op)
	return a.Commutes
}

// spelled finds the spelling of an operation that takes the operands: as the
// author has it, with the flag letter, without. keeps are the flags that the
// operation should set and does not, as ADD with a high register.
func (c *rewriting) spelled(base string, ops ...isa.Operand) (name string, keeps isa.Flags, ok bool) {
	list := []string{base}
	if c.environment.Unified {
		list = []string{base + "s", base}
	}
	if c.base() == base {
		list = append([]string{c.name}, list...)
	}
	for _, n := range list {
		if m, ok := c.matches(n, ops...); ok {
			if m.Effects().FlagsWritten == 0 {
				keeps = isa.NZCV
			}
			return n, keeps, true
		}
	}
	return "", 0, false
}

// copyBefore is the copy of a low register in front of an operation. The
// divided syntax's MOV is an add of 0, which spoils C and V: where they matter,
// a shift by 0 copies. So it does in front of an operation that reads C.
func (c *rewriting) copyBefore(d, s string, reads bool) string {
	if c.environment.Unified || !reads && c.subject.DeadFlags(c.item, isa.C|isa.V) == isa.C|isa.V {
		return c.copyLow(d, s)
	}
	return c.statement("lsl", d, s, "#0")
}

// negate writes the negation of a low register in place.
func (c *rewriting) negate(reg string) string {
	if c.environment.Unified {
		return c.statement("rsbs", reg, reg, "#0")
	}
	return c.statement("neg", reg, reg)
}

// matchesSub tries the statement with low in the place of high.
func (c *rewriting) matchesSub(mn string, high, low isa.Reg) (isa.Match, bool) {
	ops := append([]isa.Operand{}, c.ops...)
	for i := range ops {
		if ops[i].Kind != isa.OpNone && ops[i].Reg == high {
			ops[i].Reg = low
		}
		if ops[i].Off == isa.OffReg && ops[i].Index == high {
			ops[i].Index = low
		}
	}
	if m, ok := c.matches(mn, ops...); ok {
		return m, true
	}
	if !c.environment.Unified {
		return c.matches(strings.TrimSuffix(mn, "s"), ops...)
	}
	if !setsFlags(mn + "s") {
		return isa.Match{}, false
	}
	return c.matches(mn+"s", ops...)
}

func immOp(v int64) isa.Operand { return isa.Operand{Kind: isa.OpImm, Imm: v, Known: true} }

// memOp is a memory operand without index, at an offset from a base register.
func memOp(base isa.Reg, off int64) isa.Operand {
	if off == 0 {
		return isa.Operand{Kind: isa.OpMem, Reg: base}
	}
	return isa.Operand{Kind: isa.OpMem, Off: isa.OffImm, Reg: base, Imm: off, Known: true}
}

// plainRegs says whether all operands but the last are registers without '!'.
func (c *rewriting) plainRegs() bool {
	for i := range c.ops[:len(c.ops)-1] {
		if c.ops[i].Kind != isa.OpReg || c.ops[i].Writeback {
			return false
		}
	}
	return true
}
