package describe

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// LensKind is what a lens over a line tells.
type LensKind string

// The kinds, as the setting lenses takes them.
const (
	LensRoutine LensKind = "routine" // bytes, stack and callers of a routine
	LensCycles  LensKind = "cycles"  // how long it takes
	LensOther   LensKind = "other"   // how many bytes it would have in the other instruction set
	LensBudget  LensKind = "budget"  // how much of a section's budget is taken
)

// LensKinds lists all kinds, and those that are shown if nobody chooses.
var (
	LensKinds     = []LensKind{LensRoutine, LensCycles, LensOther, LensBudget}
	LensesAtFirst = []LensKind{LensRoutine, LensCycles, LensBudget}
)

// Lens is a text over a line. Those of cycles and the other instruction set have none at first:
// LensText finds it.
type Lens struct {
	Span finding.Span // the name that it is about
	Kind LensKind
	Name string // of the routine or the section
	Text string
}

// maxLenses bounds those of a file.
const maxLenses = 2000

// LensesIn lists the lenses of some kinds over the lines of a file of the program, in the order of
// the text; budget has the bytes that sections may take, by their names.
func (r *View) LensesIn(path string, kinds []LensKind, budget map[string]int64) (out []Lens) {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	if slices.Contains(kinds, LensBudget) {
		out = r.budgetLenses(id, budget)
	}
	if len(r.Items) <= maxGraph {
		r.graph(func(paths *flow.Paths) { out = r.routineLenses(out, paths, id, kinds) })
	}
	slices.SortStableFunc(out, func(a, b Lens) int { return a.Span.Start - b.Span.Start })
	return out
}

// routineLenses adds those over the routines of a file.
func (r *View) routineLenses(out []Lens, paths *flow.Paths, id int32, kinds []LensKind) []Lens {
	r.eachRoutine(id, func(it *program.Item, y *program.Symbol) bool {
		sum, ok := paths.RoutineAt(it, y.Function)
		if !ok {
			return true
		}
		at := r.NameLoc(it)
		for _, kind := range kinds {
			switch l := (Lens{at.Span, kind, y.Name, ""}); kind {
			case LensRoutine:
				l.Text = lensText(sum)
				out = append(out, l)
			case LensCycles:
				if sum.Timed() {
					out = append(out, l)
				}
			case LensOther:
				out = append(out, l)
			}
		}
		return len(out) < maxLenses
	})
	return out
}

// eachRoutine calls f for the labels of a file that may begin a routine, until it gives false.
func (r *View) eachRoutine(id int32, f func(it *program.Item, y *program.Symbol) bool) {
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != id || it.Stmt.Kind != syntax.Label || strings.HasPrefix(it.Stmt.Name, ".L") {
			continue
		}
		if y := r.labelOf(it); y != nil && !f(it, y) {
			return
		}
	}
}

// lensText says what is known of a routine at once.
func lensText(sum *flow.Routine) string {
	text := wording.Plural(int(sum.Bytes), "byte", "bytes")
	if sum.Stack > 0 {
		text += fmt.Sprintf(" · %d bytes of stack%s", sum.Stack, unlessCalls(sum))
	}
	switch n := len(sum.Callers); {
	case n > 0:
		text += " · called " + wording.Plural(n, "time", "times")
	default:
		text += " · not called here"
	}
	return text
}

// routineNamed sums up the routine that begins at a label of a name; it is nil where none does.
func (r *View) routineNamed(paths *flow.Paths, name string) *flow.Routine {
	y := r.SymbolOf(name)
	if y == nil || !y.Label || y.Item < 0 || len(r.Items) > maxGraph {
		return nil
	}
	sum, _ := paths.RoutineAt(&r.Items[y.Item], y.Function)
	return sum
}

// CyclesText says how long a routine takes, the shortest and the longest way; empty where
// nothing is known.
func (r *View) CyclesText(name string) string {
	var sum *flow.Routine
	var cycles []flow.Cost
	r.graph(func(paths *flow.Paths) {
		if sum = r.routineNamed(paths, name); sum != nil {
			cycles = sum.Cycles()
		}
	})
	var list []string
	for _, c := range cycles {
		switch {
		case c.Least < 0:
			continue // it does not come back
		case c.Most < 0:
			list = append(list, fmt.Sprintf("%d cycles or more on %s", c.Least, c.Core))
		case c.Most == c.Least:
			list = append(list, fmt.Sprintf("%d cycles on %s", c.Least, c.Core))
		default:
			list = append(list, fmt.Sprintf("%d–%d cycles on %s", c.Least, c.Most, c.Core))
		}
	}
	if len(list) == 0 {
		return ""
	}
	return strings.Join(list, ", ") + unlessCalls(sum)
}

// OtherSource writes a routine in the other instruction set, as a source of its own in unified
// syntax, and names that set; ok is false where some line has no counterpart, or one that sets
// other flags that matter.
func (r *View) OtherSource(name string) (source, set string, ok bool) {
	r.graph(func(paths *flow.Paths) { source, set, ok = r.otherSource(paths, name) })
	return source, set, ok
}

func (r *View) otherSource(paths *flow.Paths, name string) (source, set string, ok bool) {
	sum := r.routineNamed(paths, name)
	if sum == nil || sum.Lines == 0 {
		return "", "", false
	}
	state := r.Environments[sum.Items[0].Environment].Mode
	inside := map[int64]bool{} // offsets of the lines
	for _, it := range sum.Items {
		inside[it.Offset] = true
	}
	set = "A32"
	head := ".syntax unified\n.arm\n"
	if state == isa.A {
		set, head = "T16", ".syntax unified\n.thumb\n"
		if r.Environments[sum.Items[0].Environment].Have.Has(isa.FeatT32) {
			set = "T32"
		}
	}
	var b strings.Builder
	b.WriteString(head)
	for _, it := range sum.Items {
		text, ok := r.otherLine(paths, it, state, inside)
		if !ok {
			return "", "", false
		}
		fmt.Fprintf(&b, "place%d: %s\n", it.Offset, text)
	}
	return b.String(), set, true
}

// otherLine is a line of a routine in the other instruction set.
func (r *View) otherLine(paths *flow.Paths, it *program.Item, state isa.State, inside map[int64]bool) (text string, ok bool) {
	e := &r.Environments[it.Environment]
	if it.Match.Form == nil || it.Flags&program.Refused != 0 || e.Mode != state {
		return "", false
	}
	if it.Stmt.Mnemonic.OpensBlock() {
		return "", true // the lines after it have its condition in their names
	}
	o := it.Match.Other(e.Have, it.Offset)
	if o.Inst.Row == nil {
		return "", false
	}
	if diff := o.Flags ^ it.Match.Effects().FlagsWritten; diff != 0 && paths.DeadFlags(it, diff) != diff {
		return "", false
	}
	target := ""
	if n := len(it.Stmt.Ops); n > 0 {
		op := &it.Stmt.Ops[n-1]
		target = syntax.WithoutComments(r.LineText(it)[op.Start:op.End])
		if f := it.Match.Form; op.Kind != isa.OpLit && f.Address(f.Operands()-1) {
			v := r.ValueOf(op, it)
			if v.Kind != program.Address || v.Section != it.Section || !inside[v.N] {
				if f.Row.Flow == isa.FlowNext {
					return "", false // data near the code: its distance is not known there
				}
				target = "elsewhere"
			} else {
				target = fmt.Sprintf("place%d", v.N)
			}
		}
	}
	return o.Text(it.Offset, target), true
}

// sectionSize is what a section of the program takes in bytes, its subsections with it; exact is
// false where something in it has no known size.
func (r *View) sectionSize(sec int16) (bytes int64, exact bool) {
	s := &r.Sections[sec]
	bytes, exact = s.Size, s.Exact
	return bytes, exact
}

// budgetLenses tell how much of their budgets sections take, over the first line of each in a file.
func (r *View) budgetLenses(id int32, budget map[string]int64) (out []Lens) {
	seen := map[string]bool{}
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != id || it.Size == 0 {
			continue
		}
		name := r.Sections[it.Section].Name
		most := budget[name]
		if most <= 0 || seen[name] {
			continue
		}
		seen[name] = true
		size, exact := r.sectionSize(r.Sections[it.Section].Main)
		text := fmt.Sprintf("%s: %d of %d bytes, %d %%", name, size, most, size*100/most)
		if !exact {
			text = fmt.Sprintf("%s: %d of %d bytes or more", name, size, most)
		}
		out = append(out, Lens{r.StmtLoc(it).Span, LensBudget, name, text})
	}
	return out
}
