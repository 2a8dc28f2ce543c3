package rewrite

import (
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
)

// toldAt is what is compared of a finding: its code, and where the statement begins
// that it is about.
type toldAt struct {
	path string
	at   int // byte offset
	code string
}

func (r *Subject) toldAt(d *finding.Diagnostic) toldAt {
	t := toldAt{d.Path, d.Span.Start, d.Code}
	if d.Path == r.Path {
		if it := r.ItemAt(d.Span.Start); it != nil {
			t.at = r.Span(0, int(it.Line), it.Stmt.Start, it.Stmt.End).Start
		}
	}
	return t
}

// moved is where a byte of the root file is after edits, sorted by position: after
// what is inserted in front of it, and at the start of what takes its place.
func moved(edits []finding.Edit, at int) int {
	by := 0
	for _, e := range edits {
		switch {
		case e.Span.End <= at:
			by += len(e.New) - (e.Span.End - e.Span.Start)
		case e.Span.Start <= at:
			return e.Span.Start + by
		}
	}
	return at + by
}

// inserted says whether a byte of the edited file is one that the edits wrote.
func inserted(edits []finding.Edit, at int) bool {
	by := 0
	for _, e := range edits {
		start := e.Span.Start + by
		if at >= start && at < start+len(e.New) {
			return true
		}
		by += len(e.New) - (e.Span.End - e.Span.Start)
	}
	return false
}

// cures says whether the finding is gone after edits, whose result is analysed in
// after, and nothing new has come. New is what no finding at the same statement said
// before, but for what was there and not said: another finding of the kind in what is
// left of the statement, of which a line tells the first only, and what is in a section
// in which offsets were not known.
func (c *rewriting) cures(edits []finding.Edit, after *Subject) bool {
	counts := func(d *finding.Diagnostic) bool {
		return d.Code == c.diagnostic.Code || d.Severity <= finding.Warning
	}
	here := func(d *finding.Diagnostic) toldAt {
		t := c.subject.toldAt(d)
		if t.path == c.subject.Path {
			t.at = moved(edits, t.at)
		}
		return t
	}
	had := map[toldAt]int{}
	for i := range c.subject.diags {
		if d := &c.subject.diags[i]; d != c.diagnostic && counts(d) {
			had[here(d)]++
		}
	}
	own, place := here(c.diagnostic), moved(edits, c.diagnostic.Span.Start)
	var fresh []*finding.Diagnostic
	for i := range after.diags {
		d := &after.diags[i]
		if !counts(d) {
			continue
		}
		t := after.toldAt(d)
		switch {
		case t == own && d.Span.Start == place:
			return false
		case had[t] > 0:
			had[t]--
		default:
			fresh = append(fresh, d)
		}
	}
	for _, d := range fresh {
		t := after.toldAt(d)
		written := d.Path == c.subject.Path && inserted(edits, d.Span.Start)
		same := own
		same.code = d.Code
		switch {
		case written && had[same] > 0:
			had[same]-- // went to another one of the statements that took the place of this
		case written:
			return false
		case t == own, c.unjudged(d, after):
		default:
			return false
		}
	}
	return true
}

// unjudged says whether a finding of the edited program is in a section in which
// offsets were not known before the edits.
func (c *rewriting) unjudged(d *finding.Diagnostic, after *Subject) bool {
	if d.Path != c.subject.Path {
		return false
	}
	it := after.ItemAt(d.Span.Start)
	return it != nil && slices.ContainsFunc(c.subject.Sections, func(s program.Section) bool {
		return s.Name == after.Sections[it.Section].Name && !s.Exact
	})
}
