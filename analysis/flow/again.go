package flow

import (
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Followed is what Check has looked at besides what each line means for execution: stretches
// of lines from where a register is made to where it is branched to.
type Followed struct{ stretches [][2]int32 }

// Concern says whether Check may find something else in a program that differs from the one
// that it has looked at in the meaning of some items.
func (f *Followed) Concern(old, now *program.Program, items []int32) bool {
	return slices.ContainsFunc(items, func(i int32) bool {
		a, b := &old.Items[i], &now.Items[i]
		return !straight(old, a) || !straight(now, b) || NextOf(old, a) != NextOf(now, b) ||
			slices.ContainsFunc(f.stretches, func(s [2]int32) bool { return s[0] <= i && i <= s[1] })
	})
}

// straight says whether an item has nothing to do with where execution goes.
func straight(r *program.Program, it *program.Item) bool {
	if it.Stmt.Kind != syntax.Instruction {
		return true
	}
	for k := range it.Stmt.Ops {
		if o := &it.Stmt.Ops[k]; o.Kind != isa.OpImm && (o.Reg == isa.PC || o.Index == isa.PC) {
			return false
		}
	}
	if it.Match.Form == nil {
		return r.Environments[it.Environment].Mode == isa.T || NextOf(r, it) != GoesOn
	}
	e := it.Match.Effects()
	return it.Match.Form.Row.Flow == isa.FlowNext && e.Flow == isa.FlowNext && !e.Reads.Has(isa.PC) && !e.Writes.Has(isa.PC)
}
