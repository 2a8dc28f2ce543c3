package server

import (
	"slices"

	"go.lsp.dev/protocol"
	"go.lsp.dev/uri"

	"narrowgauge/analysis"
)

// Findings that take long come after the others. What the client shows of them stays meanwhile,
// where the text is the same, so that it does not flicker with each letter that is typed.

// markLate marks the findings of a page that are not among the early ones.
func markLate(p page, path string, early []analysis.Diagnostic) {
	type place struct {
		code string
		span analysis.Span
	}
	known := make(map[place]bool, len(early))
	for i := range early {
		if d := &early[i]; d.Path == path {
			known[place{d.Code, d.Span}] = true
		}
	}
	for i := range p.found {
		f := &p.found[i]
		f.late = f.code != "" && !known[place{f.code, f.span}]
	}
}

// moves says where the lines of a text are in a later one: those before the first that differs,
// and those after the last.
type moves struct {
	uri         string
	same, after int // lines from the start, and from where, that are in both
	by          int // lines that the latter have moved
}

func movesOf(docURI string, old, now *text) moves {
	a, b := old.file, now.file
	n, m := a.NumLines(), b.NumLines()
	same := 0
	for same < min(n, m) && a.Line(same).Text == b.Line(same).Text {
		same++
	}
	last := 0
	for last < min(n, m)-same && a.Line(n-1-last).Text == b.Line(m-1-last).Text {
		last++
	}
	return moves{docURI, same, n - last, m - n}
}

// line is where a line is; ok is false where it is not there any more, or not the same.
func (m moves) line(n uint32) (to uint32, ok bool) {
	switch {
	case int(n) < m.same:
		return n, true
	case int(n) >= m.after:
		return uint32(int(n) + m.by), true
	}
	return n, false
}

func (m moves) lines(r protocol.Range) (protocol.Range, bool) {
	from, ok := m.line(r.Start.Line)
	to, also := m.line(r.End.Line)
	if !ok || !also || to-from != r.End.Line-r.Start.Line {
		return r, false
	}
	r.Start.Line, r.End.Line = from, to
	return r, true
}

// carried are the late findings of a page of an older text whose lines are in the text now.
func carried(was page, m moves, old, now *text) (out []finding) {
	for _, f := range was.found {
		if !f.late {
			continue
		}
		line := int(f.wire.Range.Start.Line)
		r, ok := m.lines(f.wire.Range)
		if !ok {
			continue
		}
		by := now.file.LineStart(int(r.Start.Line)) - old.file.LineStart(line)
		f.span.Start, f.span.End = f.span.Start+by, f.span.End+by
		f.wire.Range = r
		f.wire.RelatedInformation = slices.Clone(f.wire.RelatedInformation)
		for i := range f.wire.RelatedInformation {
			if l := &f.wire.RelatedInformation[i].Location; l.URI == uri.URI(m.uri) {
				l.Range, _ = m.lines(l.Range)
			}
		}
		out = append(out, f)
	}
	return out
}

// lateOf marks the late findings among the pages of a run; or, where only the early ones are
// there, adds those that was, what has been said before, had of them.
func (s *Server) lateOf(pages map[docKey]page, r *run, res staged, was *pageSet, early bool) {
	key := r.doc.key
	p, ok := pages[key]
	if !ok || !res.Late() {
		return
	}
	if !early {
		markLate(p, r.doc.name(), res.Early())
		return
	}
	if was == nil || was.doc == nil || was.doc.key != key || !slices.ContainsFunc(was.pages[key].found, func(f finding) bool { return f.late }) {
		return
	}
	old, now := was.doc.text, r.doc.text
	p.found = append(p.found, carried(was.pages[key], movesOf(r.doc.uri, old, now), old, now)...)
	slices.SortStableFunc(p.found, func(a, b finding) int { return a.span.Start - b.span.Start })
	pages[key] = p
}
