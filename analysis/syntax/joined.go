package syntax

import (
	"slices"
	"strings"

	"narrowgauge/isa"
)

// Statements that go on in the next line. To assemblers of the dialect with dots a block
// comment is a blank, even where it takes several lines, and a string goes on up to its
// closing quote. Lines are parsed one by one all the same; of those that are not whole
// somebody makes whole ones where that matters: see Joints.

// Crosses says whether some statement of the file may go on in another line than the one
// where it begins.
func (f *File) Crosses() bool {
	if f.dialect != Dots {
		return false
	}
	known := f.crosses.Load()
	if known == crossesUnknown { // lines are being read
		if !mayCross(f.text) {
			return false
		}
		f.await(f.NumLines())
		known = f.crosses.Load()
	}
	return known == crossesSome
}

// What is known of lines that are not whole.
const (
	crossesUnknown int32 = iota
	crossesNone
	crossesSome
)

func crossing(some bool) int32 {
	if some {
		return crossesSome
	}
	return crossesNone
}

// mayCross is Crosses by a look at the text: it says more than there is.
func mayCross(text string) bool {
	return commentBefore(text) || oddQuotes(text)
}

// commentBefore says whether something may follow the end of a comment that an earlier line has
// opened.
func commentBefore(text string) bool {
	for at := 0; ; {
		k := strings.Index(text[at:], "*/")
		if k < 0 {
			return false
		}
		at += k
		begin := strings.LastIndexByte(text[:at], '\n') + 1
		line := text[begin:at]
		at += 2
		i := at
		for i < len(text) && class[text[i]]&cSpace != 0 {
			i++
		}
		if i < len(text) && text[i] != '\n' && text[i] != ';' && text[i] != '@' &&
			(!strings.Contains(line, "/*") || openComment(text[:begin])) {
			return true
		}
	}
}

// openComment says whether a comment may be open at the end of a text.
func openComment(text string) bool {
	k := strings.LastIndex(text, "/*")
	return k >= 0 && strings.LastIndex(text, "*/") < k+2
}

// oddQuotes says whether a string may be open where a line ends.
func oddQuotes(text string) bool {
	for {
		k := strings.IndexByte(text, '"')
		if k < 0 {
			return false
		}
		from := strings.LastIndexByte(text[:k], '\n') + 1
		to := len(text)
		if n := strings.IndexByte(text[k:], '\n'); n >= 0 {
			to = k + n
		}
		if openQuote(text[from:to]) {
			return true
		}
		text = text[to:]
	}
}

// openQuote is oddQuotes for one line.
func openQuote(line string) bool {
	inside := false
	for k := 0; k < len(line); k++ {
		next := byte(0)
		if k+1 < len(line) {
			next = line[k+1]
		}
		switch c := line[k]; {
		case inside && c == '\\':
			k++
		case c == '"':
			inside = !inside
		case inside:
		case c == '\'' && (next == '"' || next == '\\'), c == '\\' && next == '"', c == '/' && next == '*':
			return true // a character, or a quote in a comment: who reads the line knows
		}
	}
	return inside
}

// crossesAfter is what is known of f after an edit that has parsed lines with p.
func (f *File) crossesAfter(was *File, p *parser) {
	some := p.crossed
	if !some && was.crosses.Load() != crossesNone {
		some = slices.ContainsFunc(f.lines, func(l *Line) bool { return l.across != 0 })
	}
	f.crosses.Store(crossing(some))
}

// Joint is a statement of several lines, or several of them, in one line of their own: the
// text of those from First to Last. Each byte is the one of the text, but that a blank is in
// the place of a line feed, and two bytes, the escape for one, where that is in a string;
// Feeds has the columns of those.
type Joint struct {
	First, Last int
	Feeds       []int
}

// maxJoint bounds the pieces that one line is made of, each of which has it parsed anew.
const maxJoint = 100

// Joints gives lines for those of the file, of which none goes on in another one: what several
// lines have together is in the first of them, and the others are empty. Without any change there
// are none.
func (f *File) Joints() (lines []*Line, joints []Joint) {
	f.await(f.NumLines())
	lines = slices.Clone(f.lines)
	j := joiner{f: f, p: parser{dialect: f.dialect, slab: 16}}
	empty, st := j.p.parseLine("", inCode), inCode
	changed := false
	for i := 0; i < len(lines); i++ {
		l := j.line(i, st)
		to := Joint{First: i, Last: i}
		l = j.grow(l, &to)
		changed = changed || l != lines[i]
		if lines[i], st = l, l.out; to.Last > i {
			joints = append(joints, to)
			for ; i < to.Last; i++ {
				lines[i+1] = empty
			}
		}
	}
	if !changed {
		return nil, nil
	}
	return lines, joints
}

type joiner struct {
	f *File
	p parser
}

// line is line i of the file where the lines above leave a state.
func (j *joiner) line(i int, st lexState) *Line {
	if l := j.f.lines[i]; l.in == st {
		return l
	}
	return j.p.parseLine(j.f.lines[i].Text, st)
}

// grow adds to a line what goes on below.
func (j *joiner) grow(l *Line, to *Joint) *Line {
	for n := 0; n < maxJoint; n++ {
		last := -1
		switch {
		case l.out == inStatement:
			last = j.commentEnd(to.Last)
		case l.across&openString != 0:
			if last = j.stringEnd(l, to.Last); last < 0 {
				return l
			}
		}
		if last < 0 {
			return l
		}
		if next := *to; l.across&openString != 0 {
			more := j.join(l, &next, last, `\n`)
			if k := slices.IndexFunc(more.Stmts, func(s Stmt) bool { return s.End > int32(len(l.Text)) }); k < 0 || more.Stmts[k].refused() {
				return l.unclosed()
			}
			more.warned(l)
			l, *to = more, next
		} else {
			l = j.join(l, to, last, " ")
		}
	}
	return l
}

// refused says whether assemblers cannot take the statement as it is: a quote that is missing makes
// strings of what is between others.
func (s *Stmt) refused() bool {
	strs := s.Directive != nil && s.Directive.Args == ArgsStrings
	return s.Err != nil && !s.Err.Mild || strs && slices.ContainsFunc(s.Ops, func(o Operand) bool { return !o.IsStr && o.Kind != isa.OpNone })
}

// join is a line with those up to last behind it; the first line feed is another text.
func (j *joiner) join(l *Line, to *Joint, last int, feed string) *Line {
	var b strings.Builder
	b.WriteString(l.Text)
	to.Feeds = slices.Clip(to.Feeds)
	for i := to.Last; i < last; i++ {
		if strings.HasSuffix(j.f.written(i), "\r") {
			b.WriteByte('\r')
		}
		if feed != " " {
			to.Feeds = append(to.Feeds, b.Len())
		}
		b.WriteString(feed)
		b.WriteString(j.f.lines[i+1].Text)
	}
	to.Last = last
	out := *j.p.parseLine(b.String(), l.in)
	return &out
}

// commentEnd is the line where a statement goes on behind the comment that is open at the end of a
// line; -1 if it does not.
func (j *joiner) commentEnd(line int) int {
	for i := line + 1; i < len(j.f.lines); i++ {
		switch l := j.line(i, inStatement); {
		case l.across&joined != 0:
			return i
		case len(l.Stmts) > 0 || l.out != inStatement:
			return -1
		}
	}
	return -1
}

// stringEnd is the line that has the closing quote of the string that is open at the end of a line,
// if that is an argument of a directive which may go on; -1: there is none.
func (j *joiner) stringEnd(l *Line, line int) int {
	if len(l.Stmts) == 0 {
		return -1
	}
	s := &l.Stmts[len(l.Stmts)-1]
	if s.Kind != Directive || s.Directive.Effect == EffIf || s.Directive.Effect == EffElseif {
		return -1
	}
	for i := line + 1; i < len(j.f.lines); i++ {
		for text, k := j.f.lines[i].Text, 0; k < len(text); k++ {
			if text[k] == '\\' {
				k++
			} else if text[k] == '"' {
				return i
			}
		}
	}
	return -1
}

// unclosed is a line whose last string has no closing quote that makes sense further on either.
func (l *Line) unclosed() *Line {
	out := *l
	out.Stmts = slices.Clone(l.Stmts)
	s := &out.Stmts[len(out.Stmts)-1]
	if s.Err != nil && s.Err.Mild {
		e := *s.Err
		e.Mild = false
		s.Err = &e
	}
	return &out
}

// warned lets the statement of a string that goes on in the next line have the warning that the
// line alone had, unless a backslash announces it.
func (l *Line) warned(was *Line) {
	last := was.Stmts[len(was.Stmts)-1]
	n := len(was.Text) - len(strings.TrimRight(was.Text, `\`))
	for k := range l.Stmts {
		if s := &l.Stmts[k]; s.Start == last.Start && s.Err == nil && last.Err != nil && n%2 == 0 {
			s.Err = &Error{Start: last.Err.Start, End: last.Err.End, Message: "the string has no closing quote here: the line end is part of it", Mild: true}
		}
	}
}
