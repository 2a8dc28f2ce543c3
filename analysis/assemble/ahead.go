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
			switch {
			case it.Stmt.Kind == syntax.Instruction:
				next = it.Index
				p.States[p.Environments[it.Environment].Mode] = true
			case it.Stmt.Kind == syntax.Label, it.Size == 0, it.Stmt.Kind == syntax.Directive && program.Aligns(it.Stmt.Directive.Effect):
			default:
				next = -1
			}
			ahead[k] = next
		}
		p.Ahead[s] = ahead
	}
}
