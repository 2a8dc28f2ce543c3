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

// cures says of each attempt whether its finding is gone after all of them, and its edits
// brought no new one; stray are new findings elsewhere. New is what no finding at the
// same statement said before, but for what was there and not said: another finding of
// the kind in what is left of the statement, of which a line tells the first only, and
// what is in a section in which offsets were not known.
func (t *trial) cures() (cured []bool, stray []*finding.Diagnostic) {
	r, after := t.before, t.after
	codes := map[string]bool{}
	mine := map[*finding.Diagnostic]bool{}
	own := map[toldAt]int{}
	here := func(d *finding.Diagnostic) toldAt {
		at := r.toldAt(d)
		if at.path == r.Path {
			at.at = t.moved(at.at)
		}
		return at
	}
	cured = make([]bool, len(t.attempts))
	for i, a := range t.attempts {
		cured[i] = true
		codes[a.diagnostic.Code] = true
		mine[a.diagnostic] = true
		own[here(a.diagnostic)] = i
	}
	counts := func(d *finding.Diagnostic) bool { return d.Severity <= finding.Warning || codes[d.Code] }
	had := map[toldAt]int{}
	late := slices.ContainsFunc(t.attempts, func(a *attempt) bool { return a.late })
	for _, d := range r.told(late) {
		if counts(d) && !mine[d] {
			had[here(d)]++
		}
	}
	var fresh []*finding.Diagnostic
	for _, d := range after.told(late) {
		if !counts(d) {
			continue
		}
		at := after.toldAt(d)
		if k, is := own[at]; is && d.Span.Start == t.moved(t.attempts[k].diagnostic.Span.Start) {
			cured[k] = false
		} else if had[at] > 0 {
			had[at]--
		} else {
			fresh = append(fresh, d)
		}
	}
	for _, d := range fresh {
		at, w := after.toldAt(d), -1
		if d.Path == r.Path {
			w = t.writer(d.Span.Start)
		}
		k, isOwn := own[at]
		switch {
		case w >= 0:
			same := here(t.attempts[w].diagnostic)
			if same.code = d.Code; had[same] > 0 {
				had[same]-- // went to another one of the statements that took the place of this
			} else if d.Severity <= finding.Warning || d.Code == t.attempts[w].diagnostic.Code {
				cured[w] = false
			}
		case isOwn && t.wrote(k, d.Span):
			cured[k] = false // the statement is refused in other words
		case isOwn, t.unjudged(d):
		default:
			stray = append(stray, d)
		}
	}
	return cured, stray
}

// told are the findings, with those of what goes wrong when the program runs if late is set.
func (r *Subject) told(late bool) (list []*finding.Diagnostic) {
	for i := range r.diags {
		list = append(list, &r.diags[i])
	}
	for i := range r.late {
		if late {
			list = append(list, &r.late[i])
		}
	}
	return list
}

// unjudged says whether a finding of the edited program is in a section in which
// offsets were not known before the edits.
func (t *trial) unjudged(d *finding.Diagnostic) bool {
	if d.Path != t.before.Path {
		return false
	}
	it := t.after.ItemAt(d.Span.Start)
	return it != nil && slices.ContainsFunc(t.before.Sections, func(s program.Section) bool {
		return s.Name == t.after.Sections[it.Section].Name && !s.Exact
	})
}
