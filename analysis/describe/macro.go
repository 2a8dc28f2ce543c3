package describe

import (
	"slices"
	"strings"

	"narrowgauge/analysis/program"
)

// callee is the macro that an item calls.
func (r *View) callee(it *program.Item) *program.Macro {
	if it.Flags&program.Calls == 0 {
		return nil
	}
	for _, m := range r.Macros {
		if !strings.EqualFold(m.Name, it.Stmt.Name) && !(m.Cond && strings.HasPrefix(it.Stmt.Name, m.Name)) {
			continue
		}
		if _, ok := slices.BinarySearch(m.Calls, it.Index); ok {
			return m
		}
	}
	return nil
}
