package describe

import (
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// columnLocalAt is the numeric local label that a token such as %B1 means; nil
// for other tokens.
func (r *View) columnLocalAt(t *token) *program.Symbol {
	if t.op < 0 || t.op >= len(t.it.Stmt.Ops) || r.File.Dialect() != syntax.Columns {
		return nil
	}
	col := int32(t.span.Start - r.File.LineStart(r.File.LineAt(t.span.Start)))
	var found *program.Symbol
	t.it.Stmt.Ops[t.op].Expr.Walk(func(e *syntax.Expr) {
		if e.Op == syntax.ExprLocal && e.Name != "" && e.Start <= col && col <= e.End {
			found = r.localOf(e, t.it)
		}
	})
	return found
}
