package assemble

import (
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// lookAhead finds for each place in the sections what a label there names: the
// instruction after it, past other labels and alignment; and what states instructions have.
func (p *pass) lookAhead() {
	p.Ahead = make([][]int32, len(p.Order))
	for s, order := range p.Order {
		ahead, next := make([]int32, len(order)+1), int32(-1)
		ahead[len(order)] = next
		for k := len(order) - 1; k >= 0; k-- {
			it := &p.Items[order[k]]
			if next = aheadOf(it, next); next == it.Index {
				p.States[p.Environments[it.Environment].Mode] = true
			}
			ahead[k] = next
		}
		p.Ahead[s] = ahead
	}
}

// aheadOf is the instruction that a label in front of an item names, if next is the one that a
// label behind it names.
func aheadOf(it *program.Item, next int32) int32 {
	switch {
	case it.Stmt.Kind == syntax.Instruction:
		return it.Index
	case it.Stmt.Kind == syntax.Label, it.Size == 0, it.Stmt.Kind == syntax.Directive && program.Aligns(it.Stmt.Directive.Effect):
		return next
	}
	return -1
}
