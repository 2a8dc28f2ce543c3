package program

import (
	"narrowgauge/analysis/syntax"
)

// NarrowData says whether the item is data of less than a word, for which there is
// no relocation by a distance.
func (r *Program) NarrowData(it *Item) bool {
	return it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffData && r.Unit(it) < 4
}
