package preprocess

import (
	"slices"
	"strings"

	"narrowgauge/analysis/syntax"
)

// file is the state while one file is processed.
type file struct {
	run   *run
	unit  *Unit
	raw   *syntax.File
	n     int // lines
	depth int

	lines  []*syntax.Line // processed; nil as long as nothing has changed
	parser *syntax.LineParser
	empty  *syntax.Line

	tooLong bool // a line has more tokens than it may have

	open   bool // a comment of the preprocessor is open where the line starts
	openAt int  // where it began
	gas    bool // one is open that only the assembler sees

	conds    []cond
	skipping bool

	// What __LINE__ adds and __FILE__ is, after #line.
	lineDelta int
	name      string

	once  bool // #pragma once
	guard guard
	// ahead is how many lines a call may go on.
	ahead int
}

// guard watches whether one #ifndef is around the whole file.
type guard struct {
	name string
	// 0: nothing was there yet, 1: inside, 2: after its #endif, 3: no guard.
	at uint8
}

// file processes a file. Its problems are in the unit.
func (r *run) file(path string, raw *syntax.File, depth int) *Unit {
	u := &Unit{Path: path, Raw: raw, origin: &origin{}}
	u.origin.unit = u
	f := &file{run: r, unit: u, raw: raw, n: raw.NumLines(), depth: depth, name: path, ahead: maxLines}
	r.units = append(r.units, u)
	r.lines += f.n
	for i := 0; i < f.n && !r.stopped; {
		if r.look(aLine); r.stopped {
			break
		}
		i = f.step(i)
	}
	u.Stopped = r.stopped
	if !r.stopped {
		f.end()
	}
	u.File = raw
	if f.lines != nil {
		u.File = raw.WithLines(f.lines)
	}
	u.origin.unit = nil
	slices.SortStableFunc(u.marks, func(a, b mark) int { return a.start - b.start })
	u.marks = slices.Compact(u.marks)
	r.weight += 1000 + 2*len(raw.Text()) + 8*len(f.lines) + 24*len(u.marks) + 100*len(u.changed)
	return u
}

// end reports what is open at the end of the file.
func (f *file) end() {
	if f.open {
		f.problem(f.openAt, f.openAt+2, OpenComment, "the comment that begins here is not closed")
	}
	for k := range f.conds {
		c := &f.conds[k]
		f.problem(c.start, c.end, BadStructure, "this "+c.word+" has no #endif")
	}
	if f.guard.at == 2 && len(f.conds) == 0 {
		f.run.setFile(f.unit.Path, fileState{f.run.files[f.unit.Path].once, f.guard.name})
	}
}

func (f *file) problem(start, end int, k Kind, msg string) { f.report(start, end, k, msg, false) }

func (f *file) report(start, end int, k Kind, msg string, mild bool) {
	if len(f.unit.Problems) < maxProblems {
		f.unit.Problems = append(f.unit.Problems, Problem{Start: start, End: end, Kind: k, Message: msg, Mild: mild})
	}
}

// set puts a line in the place of line i.
func (f *file) set(i int, l *syntax.Line) {
	if f.lines == nil {
		if f.raw.Line(i) == l {
			return
		}
		f.lines = make([]*syntax.Line, f.n)
		for k := range f.lines {
			f.lines[k] = f.raw.Line(k)
		}
	}
	f.lines[i] = l
}

func (f *file) parse(text string, open bool) *syntax.Line {
	if f.parser == nil {
		f.parser = f.raw.LineParser()
	}
	if c := f.run.in.Cache; c != nil {
		return c.line(f.parser, f.raw.Dialect(), text, open)
	}
	return f.parser.Parse(text, open)
}

// keep lets line i are as it is. still says whether a comment of the
// preprocessor is open after it.
func (f *file) keep(i int, still bool) {
	l := f.raw.Line(i)
	if open := f.open || f.gas; l.StartsInComment() != open {
		l = f.parse(l.Text, open)
		f.set(i, l)
	}
	f.open = still
	f.gas = l.EndsInComment() && !still
}

// clear makes the lines [i,end) empty.
func (f *file) clear(i, end int) {
	if f.empty == nil {
		f.empty = f.parse("", false)
	}
	for ; i < end; i++ {
		f.set(i, f.empty)
	}
	if f.open {
		f.gas = false
	}
}

// inactive notes that conditions leave the lines [i,end) out.
func (f *file) inactive(i, end int) {
	a, b := f.raw.LineStart(i), len(f.raw.Text())
	if end < f.n {
		b = f.raw.LineStart(end)
	}
	if n := len(f.unit.Inactive); n > 0 && f.unit.Inactive[n-1].End >= a {
		f.unit.Inactive[n-1].End = max(b, f.unit.Inactive[n-1].End)
	} else {
		f.unit.Inactive = append(f.unit.Inactive, Span{a, b})
	}
}

// step processes what begins with line i, and returns the line after it.
func (f *file) step(i int) int {
	s := f.raw.Line(i).Text
	if f.open {
		k := strings.Index(s, "*/")
		if k < 0 {
			f.comment(i, true)
			return i + 1
		}
		if isBlank(s[k+2:]) {
			f.comment(i, false)
			return i + 1
		}
		return f.slow(i)
	}
	if f.skipping {
		if p := blanks(s); p == len(s) || s[p] != '#' {
			if _, ok := f.continued(i); !ok && !strings.Contains(s, "/*") {
				f.clear(i, i+1)
				f.inactive(i, i+1)
				return i + 1
			}
		}
		return f.slow(i)
	}
	switch f.scan(i, s) {
	case lineBlank:
		f.keep(i, false)
	case lineText:
		f.guard.text()
		f.keep(i, false)
	case lineOpens:
		f.keep(i, true)
	default:
		return f.slow(i)
	}
	return i + 1
}

// comment passes a line that a comment fills up to its end.
func (f *file) comment(i int, still bool) {
	if f.skipping {
		f.clear(i, i+1)
		f.inactive(i, i+1)
		f.open = still
		return
	}
	f.keep(i, still)
}

func isBlank(s string) bool { return blanks(s) == len(s) }

func blanks(s string) int {
	p := 0
	for p < len(s) && class[s[p]] == cBlank {
		p++
	}
	return p
}

// slow cuts what begins with line i into tokens.
func (f *file) slow(i int) int {
	e := f.run.expander(f)
	defer f.run.free(e)
	toks, next, open := f.tokens(&e.arena, e.toks, i, f.open)
	e.toks = toks[:0]
	f.poisoned(toks)
	tooLong := f.tooLong
	f.tooLong = false
	switch {
	case tooLong && !f.skipping:
		f.problem(toks[0].off, toks[0].end, LimitReached, "the line that begins here is too long for macros; its macros are not replaced")
		f.guard.text()
		for ; i < next; i++ {
			f.keep(i, i == next-1 && open)
		}
	case len(toks) == 0:
		if f.skipping {
			f.clear(i, next)
			f.inactive(i, next)
			f.open = open
			break
		}
		if f.anyContinued(i, next) {
			f.clear(i, next)
		} else {
			for ; i < next; i++ {
				// Only comments, and only the last one may be closed.
				f.keep(i, i < next-1 || open)
			}
		}
		f.open = open
	case toks[0].text == "#" && f.directive(toks, i, next):
		f.clear(i, next)
		f.open = open
	case f.skipping:
		f.clear(i, next)
		f.inactive(i, next)
		f.open = open
	default:
		f.guard.text()
		first := f.raw.LineAt(toks[0].off)
		// Comments and joined blank lines may be in front of the first token.
		if e.bare = f.anyContinued(i, first); e.bare {
			f.clear(i, first)
			f.open = false
			i = first
		}
		for ; i < first; i++ {
			f.keep(i, true)
		}
		e.base, e.next, e.open = toks, next, open
		return e.line(first)
	}
	return next
}

// anyContinued says whether a backslash joins one of the lines [i,end) to the
// next one.
func (f *file) anyContinued(i, end int) bool {
	for ; i < end; i++ {
		if _, ok := f.continued(i); ok {
			return true
		}
	}
	return false
}

// line expands the text that begins with line i and puts it there. The tokens
// are those of the line.
func (e *expander) line(i int) int {
	f := e.file
	text, segs := e.expandLine(i)
	e.toks = e.base[:0]
	raw := f.raw.Line(i)
	last := f.raw.LineAt(e.base[len(e.base)-1].end - 1)
	if e.dead {
		e.clear()
		f.limit(e)
	}
	_, cont := f.continued(i)
	if !cont && !e.bare && last == i && (e.dead || sameCode(raw, text)) {
		// A comment that the line opens goes on in lines of its own.
		if e.next > i+1 {
			f.keep(i, true)
			return i + 1
		}
		f.keep(i, e.open)
		return i + 1
	}
	if e.dead {
		text, segs = nil, nil
	}
	l := f.parse(string(text), f.open || f.gas)
	f.set(i, l)
	f.gas = l.EndsInComment()
	r := f.run
	if cap(r.segs)-len(r.segs) < len(segs) {
		r.segs = make([]seg, 0, max(256, len(segs)))
	}
	n := len(r.segs)
	r.segs = append(r.segs, segs...)
	f.unit.changed = append(f.unit.changed, lineMap{i, r.segs[n:len(r.segs):len(r.segs)]})
	f.open = false
	f.clear(i+1, e.next)
	f.open = e.open
	for k := i + 1; k <= last; k++ {
		if f.unit.joined == nil {
			f.unit.joined = map[int]int{}
		}
		f.unit.joined[k] = i
	}
	return e.next
}

// sameCode says whether a text is that of the line, but for its '@' or '#'
// comment.
func sameCode(l *syntax.Line, text []byte) bool {
	if string(text) == l.Text {
		return true
	}
	c := int(l.Comment)
	return c >= 0 && c < len(text) && c < len(l.Text) && (l.Text[c] == '@' || l.Text[c] == '#') && string(text[:c+1]) == l.Text[:c+1]
}

// limit reports that the macros of a line make too much of it.
func (f *file) limit(e *expander) {
	t := e.useName
	if t == nil {
		t = e.base[0]
	}
	if f.run.work >= 0 {
		f.problem(t.off, t.end, LimitReached, "this expands to more text than the limit allows; the macros of the line are not replaced")
	} else if !f.run.workTold {
		f.run.workTold = true
		f.problem(t.off, t.end, LimitReached, "the macros of the file expand to more text than the limit allows; from here on they are not replaced")
	}
}

// comments says whether blanks g, which begin with a comment, would make another
// comment after the text.
func comments(text []byte, g string) bool {
	return g != "" && g[0] == '/' && len(text) > 0 && text[len(text)-1] == '/'
}

// quietFrom is the column of a line's '@' or '#' comment, -1 without.
func quietFrom(l *syntax.Line) int {
	if c := int(l.Comment); c >= 0 && c < len(l.Text) && (l.Text[c] == '@' || l.Text[c] == '#') {
		return c
	}
	return -1
}

// nameIndex is the index of a token in the line.
func (e *expander) nameIndex(t *token) int {
	for k := e.bi - 1; k >= 0; k-- {
		if e.base[k] == t {
			return k
		}
	}
	return 0
}

// What scan says about a line.
const (
	lineBlank = iota // nothing, or comments
	lineText         // nothing to replace
	lineOpens        // nothing but an open comment after it, which takes whole lines
	lineSlow         // look closer
)

// scan looks whether line i, outside of comments, needs more than to be passed.
func (f *file) scan(i int, s string) int {
	if n := len(s); n > 0 {
		if c := s[n-1]; c == '\\' && i+1 < f.n {
			return lineSlow
		} else if class[c] == cBlank {
			if _, ok := f.continued(i); ok {
				return lineSlow
			}
		}
	}
	text := false
	for p := 0; p < len(s); {
		c := s[p]
		switch class[c] {
		case cBlank:
			p++
			continue
		case cName:
			b := p
			for p++; p < len(s); p++ {
				if k := class[s[p]]; k != cName && k != cDigit {
					break
				}
			}
			w := s[b:p]
			if r := f.run; r.frame != nil {
				r.frame.reads.add(w)
			}
			if f.run.filter[hash(w)] && f.run.table.root.get(w) != nil {
				return lineSlow
			}
		case cDigit:
			p = numEnd(s, p)
		case cDot:
			if p++; p < len(s) && class[s[p]] == cDigit {
				p = numEnd(s, p)
			}
		case cQuote:
			p, _ = quoteEnd(s, p, false)
		case cSlash:
			if p++; p == len(s) {
				break
			}
			if s[p] == '/' {
				p = len(s)
				continue
			}
			if s[p] == '*' {
				k := strings.Index(s[p+1:], "*/")
				if k < 0 {
					f.openAt = f.raw.LineStart(i) + p - 1
					if text && !f.blankAfterComment(i+1) {
						return lineSlow
					}
					if text {
						f.guard.text()
					}
					return lineOpens
				}
				p += k + 3
				continue
			}
		case cHash:
			if !text {
				return lineSlow
			}
			p++
		default:
			p++
		}
		text = true
	}
	if text {
		return lineText
	}
	return lineBlank
}

// blankAfterComment says whether nothing is after the end of a comment
// that is open at line i.
func (f *file) blankAfterComment(i int) bool {
	for ; i < f.n; i++ {
		s := f.raw.Line(i).Text
		if k := strings.Index(s, "*/"); k >= 0 {
			return isBlank(s[k+2:])
		}
	}
	return true
}

// opensCall says whether the next token from line i on is '('.
func (f *file) opensCall(i int, open bool) bool {
	for ; i < f.n; i++ {
		c := f.clean(i)
		i = c.last
		s, p := c.text, 0
		for p < len(s) || open {
			if open {
				k := strings.Index(s[p:], "*/")
				if k < 0 {
					break
				}
				p += k + 2
				open = false
				continue
			}
			if class[s[p]] == cBlank {
				p++
				continue
			}
			if strings.HasPrefix(s[p:], "/*") {
				p += 2
				open = true
				continue
			}
			if strings.HasPrefix(s[p:], "//") {
				break
			}
			return s[p] == '('
		}
	}
	return false
}

// closes says whether the lines from i on close a bracket inside of which depth
// more are open. It does not look at conditions.
func (f *file) closes(i int, open bool, depth int) bool {
	for end := min(f.n, i+f.ahead); i < end; i++ {
		c := f.clean(i)
		i = c.last
		s, p := c.text, 0
		if k := blanks(s); !open && k < len(s) && s[k] == '#' {
			if isDirective(s[k+1:]) {
				continue
			}
			depth = 0 // as arguments has it
		}
		for p < len(s) || open {
			if open {
				k := strings.Index(s[min(p, len(s)):], "*/")
				if k < 0 {
					break
				}
				p += k + 2
				open = false
				continue
			}
			switch c := s[p]; {
			case class[c] == cQuote:
				p, _ = quoteEnd(s, p, false)
				continue
			case c == '/' && p+1 < len(s) && s[p+1] == '/':
				p = len(s)
				continue
			case c == '/' && p+1 < len(s) && s[p+1] == '*':
				p += 2
				open = true
				continue
			case c == '(':
				depth++
			case c == ')':
				if depth == 0 {
					return true
				}
				depth--
			}
			p++
		}
	}
	f.ahead = min(f.ahead, lookAhead)
	return false
}

func (g *guard) text() {
	if g.at != 1 {
		g.at = 3
	}
}
