package format

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// rounds bounds how often a result is formatted again until nothing changes.
const rounds = 6

// Edits lists the changes that lay out the lines first to last of a file, both counted
// from 0 and within it; the style is that of the whole file. Spans are in bytes; they are
// sorted, do not overlap, and none reaches over a line end. Nil: there is nothing to do.
func Edits(f *syntax.File, o Options, first, last int) []finding.Edit {
	inside := func(line int) bool { return line >= first && line <= last }
	now := map[int]string{} // lines that have changed, as they are
	for range rounds {
		changed := f
		if len(now) > 0 {
			changed = with(f, now)
		}
		more := false
		list := lines(changed)
		s := learn(changed, list, o)
		for i := range list {
			p := &list[i]
			if !inside(p.line) {
				continue
			}
			if text, ok := s.line(changed, p); ok {
				now[p.line], more = text, true
			}
		}
		if !more {
			return edits(f, now, first, last)
		}
	}
	return nil
}

// with is a file with other texts in the place of some of its lines.
func with(f *syntax.File, now map[int]string) *syntax.File {
	var changes []syntax.Change
	for i := range f.NumLines() {
		if text, ok := now[i]; ok {
			at := f.LineStart(i)
			changes = append(changes, syntax.Change{Start: at, End: at + len(f.Line(i).Text), New: text})
		}
	}
	return f.EditAll(changes)
}

// edits are the smallest changes that make the lines what they are to be.
func edits(f *syntax.File, now map[int]string, first, last int) (out []finding.Edit) {
	for i := first; i <= last && i < f.NumLines(); i++ {
		if text, ok := now[i]; ok {
			out = differences(out, f.LineStart(i), f.Line(i).Text, text)
		}
	}
	return out
}

// differences adds the edits between two texts of one line. They have the same
// characters but for blanks and the case of letters; each stretch of blanks and each word
// that differs is an edit.
func differences(out []finding.Edit, at int, old, now string) []finding.Edit {
	run := func(s string, i int, blanks bool) int {
		for i < len(s) && blank(s[i]) == blanks {
			i++
		}
		return i
	}
	for i, j := 0, 0; i < len(old) || j < len(now); {
		was := i + j
		for _, blanks := range []bool{true, false} {
			a, b := run(old, i, blanks), run(now, j, blanks)
			if !blanks { // one of them may have a blank in between
				n := min(a-i, b-j)
				a, b = i+n, j+n
			}
			if old[i:a] != now[j:b] {
				out = append(out, finding.Edit{Span: finding.Span{Start: at + i, End: at + a}, New: now[j:b]})
			}
			i, j = a, b
		}
		if i+j == was { // there are other characters, which cannot be
			return append(out, finding.Edit{Span: finding.Span{Start: at + i, End: at + len(old)}, New: now[j:]})
		}
	}
	return out
}

func blank(c byte) bool { return c == ' ' || c == '\t' }

// writer puts a line together.
type writer struct {
	s   *style
	b   strings.Builder
	col int // where it is
}

func (w *writer) put(text string) {
	w.b.WriteString(text)
	w.col = advance(w.col, text)
}

// gap writes blanks up to a column, one at least where something is in front of it. old is what is
// there; was is the column to which it leads in the old line.
func (w *writer) gap(to Column, old string, was int) {
	start := w.b.Len() == 0
	text := old
	if to.Kind == OneTab && w.s.blanks && !w.s.tabs {
		to.Kind = Keep // its column, without a tab
	}
	switch to.Kind {
	case OneSpace:
		text = " "
	case OneTab:
		text = "\t"
	case At:
		text = w.reach(to.At, old, start)
	default:
		if advance(w.col, old) != was || w.s.blanks {
			text = w.reach(was, old, start)
		}
	}
	w.put(text)
}

// reach is what leads to a column, as it is if it does.
func (w *writer) reach(column int, old string, start bool) string {
	if advance(w.col, old) == column && (old != "" || start) && !w.s.blanks {
		return old
	}
	if w.col >= column {
		switch {
		case start:
			return ""
		case w.s.tabs:
			return "\t"
		}
		return " "
	}
	var b strings.Builder
	at := w.col
	for next := at + 8 - at%8; w.s.tabs && next <= column; next = at + 8 {
		b.WriteByte('\t')
		at = next
	}
	for ; at < column; at++ {
		b.WriteByte(' ')
	}
	return b.String()
}

// line is the new text of a line; false where it stays as it is.
func (s *style) line(f *syntax.File, p *parts) (string, bool) {
	if p.label == nil && p.stmt == nil {
		if p.comment < 0 && p.text != "" {
			return "", true
		}
		return "", false
	}
	w := &writer{s: s}
	free := f.Dialect() == syntax.Dots
	from := 0
	if p.label != nil {
		indent := p.text[:p.label.Start]
		if free && !p.label.NoColon {
			w.gap(s.start[labels], indent, advance(0, indent))
		} else {
			w.put(indent)
		}
		w.put(p.text[p.label.Start:p.label.End])
		from = int(p.label.End)
	}
	if p.stmt != nil {
		s.statement(w, p, from, free)
	}
	if p.comment >= 0 {
		to := s.comments
		if p.stmt == nil {
			to = Column{Kind: Keep}
		}
		w.gap(to, p.text[p.end:p.comment], advance(0, p.text[:p.comment]))
		w.put(p.text[p.comment:])
	}
	text := w.b.String()
	if text == p.text || !s.alike(f, p, text) {
		return "", false
	}
	return text, true
}

// statement writes the statement of a line, with the blanks in front of it.
func (s *style) statement(w *writer, p *parts, from int, free bool) {
	x := p.stmt
	to := s.start[p.class]
	if p.class == noClass {
		to = Column{Kind: Keep}
	}
	// At the first column is a label, or may be one.
	if to.Kind == At && to.At == 0 && p.label == nil && (!free || x.Kind == syntax.Unknown) {
		to = Column{Kind: Keep}
	}
	gap := p.text[from:x.Start]
	if p.label != nil && to.Kind == At && to.At <= w.col && gap != "" {
		to = Column{Kind: Keep}
	}
	w.gap(to, gap, advance(0, p.text[:x.Start]))
	name := p.text[x.Start:x.NameEnd]
	if x.Kind == syntax.Instruction {
		name = s.cased(name)
	}
	w.put(name)
	at := int(x.NameEnd)
	if p.args >= 0 {
		w.gap(s.args[p.class], p.text[at:p.args], advance(0, p.text[:p.args]))
		at = p.args
	}
	if s.commas != "" {
		for _, g := range p.gaps() {
			w.put(p.text[at:g[0]])
			w.put(s.commas)
			at = g[1]
		}
	}
	w.put(p.text[at:x.End])
}

// cased is a mnemonic in the case that it is to have. One in mixed case is none to
// all assemblers, and stays.
func (s *style) cased(name string) string {
	lower, upper := strings.ToLower(name), strings.ToUpper(name)
	switch {
	case s.upper < 0 && name == upper:
		return lower
	case s.upper > 0 && name == lower:
		return upper
	}
	return name
}

// alike says whether a new text of a line gives the same statements and the same comment.
func (s *style) alike(f *syntax.File, p *parts, text string) bool {
	old, now := f.Line(p.line), f.LineParser().Parse(text, false)
	if len(old.Stmts) != len(now.Stmts) || old.EndsInComment() != now.EndsInComment() || (old.Comment < 0) != (now.Comment < 0) || now.GoesOn() {
		return false
	}
	if now.Comment >= 0 && old.Text[old.Comment:] != now.Text[now.Comment:] {
		return false
	}
	for k := range old.Stmts {
		if !same(&old.Stmts[k], &now.Stmts[k], old.Text, now.Text) {
			return false
		}
	}
	return true
}

// same compares two readings of a statement.
func same(a, b *syntax.Stmt, old, now string) bool {
	if a.Kind != b.Kind || a.Width != b.Width || a.NoColon != b.NoColon || a.Once != b.Once || a.Number != b.Number || a.Align != b.Align ||
		a.Mnemonic != b.Mnemonic || a.Directive != b.Directive || len(a.Ops) != len(b.Ops) || b.Err != nil {
		return false
	}
	if a.Name != b.Name && (a.Kind != syntax.Instruction || !strings.EqualFold(a.Name, b.Name)) {
		return false
	}
	if a.Kind != syntax.Instruction {
		return strings.TrimLeft(old[a.NameEnd:a.End], " \t") == strings.TrimLeft(now[b.NameEnd:b.End], " \t")
	}
	for k := range a.Ops {
		x, y := &a.Ops[k], &b.Ops[k]
		if old[x.Start:x.End] != now[y.Start:y.End] {
			return false
		}
	}
	return true
}
