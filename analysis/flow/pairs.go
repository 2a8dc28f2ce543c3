package flow

import (
	"sort"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
)

// Pairs says which items of a program and of the result of edits are the same statement.
type Pairs struct {
	// After is, by item of the program, that of the result, and Before the other way
	// round; -1 for one that begins in an edit.
	After, Before []int32
	// Edit is the edit in which an item of the program begins, NewEdit that in which
	// one of the result does; -1 for the others.
	Edit, NewEdit []int32
}

// Pair pairs the items of a program with those of the result of edits, which are sorted. It
// is nil where they do not pair: the edits change what is assembled elsewhere, as under
// an .if that asks for a distance.
func (r *Paths) Pair(after *Paths, edits []finding.Edit) *Pairs {
	old, grown := make([]finding.Span, len(edits)), make([]finding.Span, len(edits))
	more := 0
	for i, e := range edits {
		old[i] = e.Span
		grown[i] = finding.Span{Start: e.Span.Start + more, End: e.Span.Start + more + len(e.New)}
		more += len(e.New) - (e.Span.End - e.Span.Start)
	}
	p := &Pairs{}
	var a, b []int32
	p.After, p.Edit, a = r.outside(old)
	p.Before, p.NewEdit, b = after.outside(grown)
	if len(a) != len(b) {
		return nil
	}
	for i := range a {
		if !r.sameStatement(after, edits, &r.Items[a[i]], &after.Items[b[i]]) {
			return nil
		}
		p.After[a[i]], p.Before[b[i]] = b[i], a[i]
	}
	return p
}

// outside lists the items that begin in none of the spans, which are sorted; in says in
// which one the others do, and none is -1 for each.
func (r *Paths) outside(spans []finding.Span) (none, in, rest []int32) {
	none, in = make([]int32, len(r.Items)), make([]int32, len(r.Items))
	rest = make([]int32, 0, len(r.Items))
	for i := range r.Items {
		it := &r.Items[i]
		none[i], in[i] = -1, -1
		if it.File == 0 {
			at := r.File.LineStart(int(it.Line)) + int(it.Stmt.Start)
			if k := sort.Search(len(spans), func(k int) bool { return spans[k].End > at }); k < len(spans) && spans[k].Start <= at {
				in[i] = int32(k)
				continue
			}
		}
		rest = append(rest, it.Index)
	}
	return none, in, rest
}

// sameStatement says whether two items are the same statement of a source, which edits may
// have changed after its beginning. Lines that they do not touch are shared.
func (r *Paths) sameStatement(after *Paths, edits []finding.Edit, x, y *program.Item) bool {
	switch {
	case x.Section != y.Section || x.File != y.File:
		return false
	case x.Stmt == y.Stmt:
		return true
	case x.Stmt.Kind == y.Stmt.Kind && r.StatementText(x) == after.StatementText(y):
		return true
	case x.File != 0:
		return false
	}
	s := r.Span(0, int(x.Line), x.Stmt.Start, x.Stmt.End)
	k := sort.Search(len(edits), func(k int) bool { return edits[k].Span.End >= s.Start })
	return k < len(edits) && edits[k].Span.Start <= s.End
}

// StatementText is the text of a statement; that of a prelude, which stands before the
// source, is empty.
func (r *Paths) StatementText(it *program.Item) string {
	if it.Stmt.Start < 0 {
		return ""
	}
	text := r.LineText(it)
	return text[min(int(it.Stmt.Start), len(text)):min(int(it.Stmt.End), len(text))]
}
