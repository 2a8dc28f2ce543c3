package rewrite

import (
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// regions numbers the regions of the code, by item: what execution reaches from one
// place to another, calls apart. A routine is one, mostly.
func (r *Subject) regions() []int32 {
	of := make([]int32, len(r.Items))
	parent := []int32{0}
	root := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	type jump struct {
		from *program.Item
		to   int
	}
	var jumps []jump
	for sec, order := range r.Order {
		w := flow.Walker{Paths: &r.Paths, Sec: int16(sec)}
		fresh := true
		for _, i := range order {
			it := &r.Items[i]
			if fresh {
				parent = append(parent, int32(len(parent)))
				fresh = false
			}
			of[i] = int32(len(parent) - 1)
			if it.Stmt.Kind != syntax.Instruction {
				fresh = it.Size > 0 && it.Stmt.Kind == syntax.Directive
				continue
			}
			leaves, runsOn := isa.FlowNext, true
			if it.Match.Form != nil {
				leaves, runsOn = it.Match.Effects().Flow, flow.NextOf(r.Program, it) != flow.Stops
			} else if it.Stmt.Mnemonic != nil {
				leaves, _, runsOn = r.EvidentFlow(it)
			}
			fresh = !runsOn
			if leaves == isa.FlowJump || leaves == isa.FlowBranch {
				if k, ok := w.Target(it); ok {
					jumps = append(jumps, jump{it, k})
				}
			}
		}
	}
	for _, j := range jumps {
		a, b := root(of[j.from.Index]), root(of[r.Order[j.from.Section][j.to]])
		parent[a] = b
	}
	for i := range of {
		of[i] = root(of[i])
	}
	return of
}
