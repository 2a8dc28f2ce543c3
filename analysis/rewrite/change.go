package rewrite

import (
	"sort"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// change leads from one text to another: the edits of one attempt, or of several that are
// made at once.
type change struct {
	edits []finding.Edit // sorted, none overlaps another
	of    []int          // of which attempt each is
	by    []int          // how far the text after each has moved
}

// newChange puts the edits of attempts together. ok is false where they overlap; then
// clash is an attempt that can be left out for that.
func newChange(attempts []*attempt) (ch *change, clash int, ok bool) {
	ch = &change{}
	n := 0
	for _, a := range attempts {
		n += len(a.edits)
	}
	list := make([]struct {
		finding.Edit
		of int
	}, 0, n)
	for i, a := range attempts {
		for _, e := range a.edits {
			list = append(list, struct {
				finding.Edit
				of int
			}{e, i})
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].Span.Start < list[j].Span.Start })
	by := 0
	for i := range list {
		e := &list[i]
		if i > 0 && list[i-1].Span.End > e.Span.Start {
			return nil, e.of, false
		}
		by += len(e.New) - (e.Span.End - e.Span.Start)
		ch.edits, ch.of, ch.by = append(ch.edits, e.Edit), append(ch.of, e.of), append(ch.by, by)
	}
	return ch, 0, true
}

// apply makes the edits.
func (ch *change) apply(f *syntax.File) *syntax.File {
	list := make([]syntax.Change, len(ch.edits))
	for i, e := range ch.edits {
		list[i] = syntax.Change{Start: e.Span.Start, End: e.Span.End, New: e.New}
	}
	return f.EditAll(list)
}

// before is how far the edits in front of edit i move the text.
func (ch *change) before(i int) int {
	if i == 0 {
		return 0
	}
	return ch.by[i-1]
}

// start is where the text that edit i writes begins in the edited text.
func (ch *change) start(i int) int { return ch.edits[i].Span.Start + ch.before(i) }

// moved is where a byte of the text is after the edits: after what is inserted in front of
// it, and at the start of what takes its place.
func (ch *change) moved(at int) int {
	i := sort.Search(len(ch.edits), func(i int) bool { return ch.edits[i].Span.End > at })
	if i < len(ch.edits) && ch.edits[i].Span.Start <= at {
		return ch.start(i)
	}
	return at + ch.before(i)
}

// writer is the attempt whose edits wrote a byte of the edited text, -1 for none.
func (ch *change) writer(at int) int {
	i := sort.Search(len(ch.edits), func(i int) bool { return ch.start(i) > at }) - 1
	if i < 0 || at >= ch.start(i)+len(ch.edits[i].New) {
		return -1
	}
	return ch.of[i]
}

// each calls f for the edits of an attempt with the stretch of the edited text that each
// wrote.
func (ch *change) each(attempt int, f func(e *finding.Edit, from, to int)) {
	for i := range ch.edits {
		if ch.of[i] == attempt {
			at := ch.start(i)
			f(&ch.edits[i], at, at+len(ch.edits[i].New))
		}
	}
}

// wrote says whether edits of an attempt are in a stretch of the edited text.
func (ch *change) wrote(attempt int, s finding.Span) (in bool) {
	ch.each(attempt, func(_ *finding.Edit, from, to int) { in = in || from < s.End && to > s.Start })
	return in
}
