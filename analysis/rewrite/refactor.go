package rewrite

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Refactoring is another way to write something that nothing is wrong with.
type Refactoring struct {
	Name    string // of its kind, as in "name-constant"; unique at a place
	Title   string
	Extract bool // it gives something a name or a place of its own; else it writes it differently
	Edits   []finding.Edit
	same    bool // the assembled bytes are the same
	counts  bool // the line that it takes apart counts a distance from itself
}

// Refactorings lists what may be done at a place of the root file, which nobody has proven yet.
func (r *Subject) Refactorings(span finding.Span) []Refactoring {
	it := r.ItemAt(span.Start)
	if it == nil || it.File != 0 || r.Changed(it) || it.Stmt.Directive == syntax.AutoAlign {
		return nil
	}
	f := &refactoring{rewriting: r.rewriting(it, &finding.Diagnostic{}), at: span.Start}
	f.numbers()
	f.local()
	f.branch()
	f.pool()
	return f.list
}

// Refactored proves one of these: the edits, where the bytes that are assembled stay as they are,
// or as the title says; ok is false where they do not.
func (r *Subject) Refactored(ctx context.Context, x *Refactoring) (title string, ok bool, err error) {
	changes := make([]syntax.Change, 0, len(x.Edits))
	for _, e := range x.Edits {
		changes = append(changes, syntax.Change{Start: e.Span.Start, End: e.Span.End, New: e.New})
	}
	after, err := r.again(ctx, r.File.EditAll(changes))
	if err != nil {
		return "", false, err
	}
	if !noWorse(r.diags, after.diags) {
		return "", false, nil
	}
	if x.same {
		return x.Title, slices.Equal(r.contents(), after.contents()), nil
	}
	// What counts on distances, as a branch to ".+8" or a table behind TBB, would lead elsewhere.
	pairs := r.Pair(&after.Paths, x.Edits)
	if x.counts || pairs == nil || len(r.MovedStretches(&after.Paths, pairs, r.counted())) > 0 {
		return "", false, nil
	}
	return fmt.Sprintf("%s (%+d bytes)", x.Title, after.allBytes()-r.allBytes()), true, nil
}

// noWorse says whether no check has more findings than before.
func noWorse(before, after []finding.Diagnostic) bool {
	count := map[string]int{}
	for i := range before {
		count[before[i].Code]++
	}
	for i := range after {
		if count[after[i].Code]--; count[after[i].Code] < 0 {
			return false
		}
	}
	return true
}

func (r *Subject) allBytes() (n int64) {
	for i := range r.Sections {
		n += r.Sections[i].Size
	}
	return n
}

// contents are what the program's statements assemble to, one after the other: places, sizes,
// codes and values.
func (r *Subject) contents() (out []string) {
	value := func(v program.Value) string {
		switch v.Kind {
		case program.Number:
			return fmt.Sprint(v.N)
		case program.Address:
			return fmt.Sprintf("%d+%d", v.Section, v.N)
		}
		name := ""
		if v.Symbol != nil {
			name = v.Symbol.Name
		}
		return fmt.Sprintf("%d:%s+%d", v.Kind, name, v.N)
	}
	for i := range r.Items {
		it := &r.Items[i]
		if it.Size == 0 {
			continue
		}
		s := fmt.Sprintf("%d %d %d", it.Section, it.Offset, it.Size)
		if it.Match.Form != nil {
			s += fmt.Sprintf(" %x", it.Match.Encode())
		}
		for k := range it.Stmt.Ops {
			if o := &it.Stmt.Ops[k]; o.IsStr && o.Names != nil {
				s += " " + strconv.Quote(o.Names.Str)
			} else {
				r.At = it.Index
				s += " " + value(r.Value(o, it))
			}
		}
		out = append(out, s)
	}
	for i := range r.Literals {
		l := &r.Literals[i]
		out = append(out, fmt.Sprintf("%d %d %s", l.Section, l.Offset, value(l.Value)))
	}
	return out
}

// refactoring collects those at a place.
type refactoring struct {
	*rewriting
	at   int // byte of the file
	list []Refactoring
}

func (f *refactoring) offer(x Refactoring) {
	if len(x.Edits) > 0 {
		slices.SortStableFunc(x.Edits, func(a, b finding.Edit) int { return a.Span.Start - b.Span.Start })
		f.list = append(f.list, x)
	}
}

// freeName is a name that the program does not have, which begins with a word.
func (f *refactoring) freeName(name string) string {
	text := f.subject.File.Text()
	for n, try := 2, name; ; n++ {
		if program.WordIn(text, try, 0) < 0 && f.subject.SymbolOf(try) == nil {
			return try
		}
		try = fmt.Sprintf("%s_%d", name, n)
	}
}

// indentOf is the white space that a new line above another one begins with.
func (f *refactoring) indentOf(line int) string {
	file := f.subject.File
	for n := line; n < file.NumLines() && n < line+40; n++ {
		l := file.Line(n)
		if len(l.Stmts) > 0 && l.Stmts[0].Kind != syntax.Label && l.Stmts[0].Start > 0 && strings.TrimSpace(l.Text[:l.Stmts[0].Start]) == "" {
			return l.Text[:l.Stmts[0].Start]
		}
	}
	return "\t"
}

// definitionsEnd is the line of the root file above which a definition can be put that all code
// sees: the first one with code, data or a label, or that opens something; -1 where that is below
// the place.
func (f *refactoring) definitionsEnd() int {
	file := f.subject.File
	for n := 0; n <= int(f.item.Line); n++ {
		l := file.Line(n)
		if l.StartsInComment() || strings.HasPrefix(strings.TrimSpace(l.Text), "#if") {
			if strings.HasPrefix(strings.TrimSpace(l.Text), "#if") {
				return n
			}
			continue
		}
		for i := range l.Stmts {
			switch s := &l.Stmts[i]; s.Kind {
			case syntax.Label, syntax.Instruction, syntax.Unknown:
				return n
			case syntax.Directive:
				switch s.Directive.Effect {
				case syntax.EffMacro, syntax.EffIf, syntax.EffRept, syntax.EffInclude:
					return n
				}
			}
		}
		if n == int(f.item.Line) {
			return n
		}
	}
	return -1
}

// local offers to make a label that only this file names a numeric one. The dialect of modules
// has none.
func (f *refactoring) local() {
	s, r := f.item.Stmt, f.subject
	if s.Kind != syntax.Label || s.Number >= 0 || s.NoColon != f.columns() || f.modules() || r.Shared != nil && r.Shared() || f.at > r.File.LineStart(int(f.item.Line))+int(s.End) {
		return
	}
	y := r.SymbolOf(s.Name)
	if y == nil || y.Item != f.item.Index || y.Global || y.Weak || y.Function || y.ThumbFn || y.Object || y.Extern || y.Value.Kind != program.Address {
		return
	}
	number := f.freeLocal()
	edits := []finding.Edit{f.rename(number)}
	for i := range r.Items {
		it := &r.Items[i]
		for k := range it.Stmt.Ops {
			o := &it.Stmt.Ops[k]
			text := r.LineText(it)
			if int(o.End) > len(text) || program.WordIn(text[o.Start:o.End], s.Name, 0) < 0 {
				continue
			}
			if it.File != 0 || r.Changed(it) || o.IsStr || o.Kind == isa.OpLit {
				return // what others name stays, and what a pool names that may be far away
			}
			to := f.behind(number)
			if it.Index < f.item.Index {
				to = f.ahead(number)
			}
			from := r.File.LineStart(int(it.Line))
			for at := program.WordIn(text[:o.End], s.Name, int(o.Start)); at >= 0; at = program.WordIn(text[:o.End], s.Name, at+len(s.Name)) {
				edits = append(edits, finding.Edit{Span: finding.Span{Start: from + at, End: from + at + len(s.Name)}, New: to})
			}
		}
	}
	if len(edits) < 2 || len(edits) != f.mentions(s.Name) {
		return // something else names it: a macro, a condition
	}
	f.offer(Refactoring{Name: "local-label", Title: fmt.Sprintf("make %s a numeric local label, %s", s.Name, f.labelled(number)), same: true, Edits: edits})
}

// mentions counts the whole words of a name in the file's lines, without their comments at the end.
func (f *refactoring) mentions(name string) (n int) {
	file := f.subject.File
	for i := range file.NumLines() {
		l := file.Line(i)
		text := l.Text
		if l.Comment >= 0 && !strings.HasPrefix(text[l.Comment:], "#") && !strings.HasPrefix(text[l.Comment:], "/*") {
			text = text[:l.Comment]
		}
		for at := program.WordIn(text, name, 0); at >= 0; at = program.WordIn(text, name, at+len(name)) {
			n++
		}
	}
	return n
}

// branch offers to split a branch on a condition, so that it reaches farther.
func (f *refactoring) branch() {
	it := f.item
	if it.Match.Form == nil || it.Slot != 0 || it.Match.Form.Row.Flow != isa.FlowBranch && !it.Match.Effects().Conditional || len(it.Stmt.Ops) != 1 {
		return
	}
	low := strings.TrimSuffix(strings.TrimSuffix(strings.ToLower(f.name), ".w"), ".n")
	cond, ok := isa.CondByName(strings.TrimPrefix(low, "b"))
	if !ok || cond >= isa.AL || len(low) != 3 || low[0] != 'b' {
		return
	}
	number := f.freeLocal()
	stmts := []string{f.statement("b"+oppositeOf(f.item.Stmt.Name, cond), f.ahead(number)), f.statement("b", f.opText(0)), f.labelled(number)}
	f.offer(Refactoring{Name: "split-branch", Title: "branch on the opposite condition around a branch that reaches farther", counts: f.countsFromItself(), Edits: f.replaceHere(stmts)})
}

// pool offers to put the literals so far into a pool after the routine that the place is in.
func (f *refactoring) pool() {
	r, it := f.subject, f.item
	if it.Stmt.Kind != syntax.Instruction {
		return
	}
	order := r.Order[it.Section]
	waiting := false
	for k := r.Position(it); k >= 0; k-- {
		x := &r.Items[order[k]]
		if x.Flags&program.HasPool != 0 {
			break
		}
		waiting = waiting || x.Literal >= 0
	}
	for k := r.Position(it); k < len(order); k++ {
		x := &r.Items[order[k]]
		waiting = waiting || x.Literal >= 0
		if x.Flags&program.HasPool != 0 || x.File != 0 {
			return
		}
		if x.Stmt.Kind != syntax.Instruction || x.Slot != 0 || flow.NextOf(r.Program, x) != flow.Stops || !f.lastInLine(x) || r.Changed(x) {
			continue
		}
		if n := k + 1; n < len(order) && r.Items[order[n]].Stmt.Kind == syntax.Instruction {
			continue // a branch to it would come past the pool, but it is of the same routine
		}
		if waiting {
			f.offer(Refactoring{Name: "extract-pool", Title: "place the literals so far in a pool after this routine", Extract: true,
				Edits: []finding.Edit{f.insertAfter(int(x.Line), f.indent()+f.inCase(f.poolDirective()))}})
		}
		return
	}
}
