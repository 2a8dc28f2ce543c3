package describe

import (
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// Where is the place of a line in the program.
type Where struct {
	Section string // empty: no line of the program is there
	Offset  int64  // of the line in its section, in bytes; -1 where something of unknown size is before it
	// Routine is the routine that the line belongs to, and Bytes its size; empty where none is
	// known.
	Routine string
	Bytes   int64
}

// maxLabels bounds how many labels above a line are asked whether they begin its routine.
const maxLabels = 64

// WhereIn is the place of the line at byte offset off of a file of the program: that of the
// statement there, or of the last one above.
func (r *View) WhereIn(path string, off int) (w Where) {
	id := r.FileOf(path)
	if id < 0 {
		return w
	}
	var it *program.Item
	for i := range r.Items {
		x := &r.Items[i]
		if x.File != id || x.Stmt.Directive == syntax.AutoAlign {
			continue
		}
		if r.StmtLoc(x).Span.Start > off {
			break
		}
		it = x
	}
	if it == nil {
		return w
	}
	s := &r.Sections[it.Section]
	if w.Section, w.Offset = s.Name, it.Offset; !s.Exact {
		w.Offset = -1
	}
	if it.Flags&program.IsCode == 0 && it.Stmt.Kind != syntax.Label || len(r.Items) > maxGraph {
		return w
	}
	r.graph(func(paths *flow.Paths) { w.Routine, w.Bytes = r.routineAround(paths, it) })
	return w
}

// routineAround is the routine that an item is in, and how many bytes it takes; empty without
// one.
func (r *View) routineAround(paths *flow.Paths, it *program.Item) (name string, bytes int64) {
	order, asked := r.Order[it.Section], 0
	for k := r.Position(it); k >= 0 && k < len(order) && asked < maxLabels; k-- {
		x := &r.Items[order[k]]
		if x.Stmt.Kind != syntax.Label || strings.HasPrefix(x.Stmt.Name, ".L") {
			continue
		}
		y := r.labelOf(x)
		if y == nil {
			continue
		}
		asked++
		if sum, ok := paths.RoutineAt(x, y.Function); ok {
			return y.Name, sum.Bytes
		}
	}
	return "", 0
}
