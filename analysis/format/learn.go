package format

import (
	"cmp"
	"slices"
	"strings"

	"narrowgauge/analysis/syntax"
)

// style is how lines are laid out: what is set, and the rest as most lines have it.
type style struct {
	start    [classes]Column // where a class begins
	args     [classes]Column // where what follows its names does
	comments Column
	commas   string // the text between operands; empty: kept
	upper    int    // mnemonics: 1 upper case, -1 lower case, 0 kept
	tabs     bool   // blanks are made with tabs
	blanks   bool   // all of them are to be like that
}

// share is the part of the lines that a habit needs, in percent.
const share = 60

// few is how many labels are no habit.
const few = 3

// tally counts how often a gap is there as a text, and as what leads to a column.
type tally struct {
	text   map[string]int
	column map[int]int
	n      int
}

func (t *tally) add(text string, column int) {
	if t.text == nil {
		t.text, t.column = map[string]int{}, map[int]int{}
	}
	t.text[text]++
	t.column[column]++
	t.n++
}

// most is the key that is counted most often, the smallest of several.
func most[K cmp.Ordered](count map[K]int) (key K, n int) {
	for k, c := range count {
		if c > n || c == n && k < key {
			key, n = k, c
		}
	}
	return key, n
}

// place is where what is counted begins in most lines.
func (t *tally) place() Column {
	if at, n := most(t.column); n > 0 && n*100 >= t.n*share {
		return Column{At, at}
	}
	return Column{Kind: Keep}
}

// gap is place for what follows something in the same line: it may be one blank or
// tab wherever that leads.
func (t *tally) gap() Column {
	text, n := most(t.text)
	_, at := most(t.column)
	if n >= at && n*100 >= t.n*share {
		switch text {
		case " ":
			return Column{Kind: OneSpace}
		case "\t":
			return Column{Kind: OneTab}
		}
	}
	return t.place()
}

// counts is what is measured of a file.
type counts struct {
	start, args             [classes]tally
	comments                tally
	commas                  map[string]int
	upper, lower            int
	tabs, spaces, separated int
}

// learn measures the lines of a file, and puts what is set in the place of it.
func learn(f *syntax.File, list []parts, o Options) *style {
	var c counts
	c.commas = map[string]int{}
	cased := o.Case != "keep" && caseMatters(f)
	for i := range list {
		c.measure(&list[i], f.Dialect())
	}
	s := &style{comments: c.comments.gap()}
	for k := range s.start {
		s.start[k], s.args[k] = c.start[k].place(), c.args[k].gap()
		put(&s.args[k], o.Operands)
	}
	if c.start[labels].n < few {
		s.start[labels] = Column{Kind: At} // where labels are anywhere
	}
	put(&s.comments, o.Comments)
	for k, set := range map[class]Column{labels: o.Labels, instructions: o.Instructions, directives: o.Directives, data: o.Data} {
		put(&s.start[k], set)
	}
	if text, n := most(c.commas); n*100 >= c.separated*share {
		s.commas = text
	}
	switch o.Commas {
	case "space":
		s.commas = ", "
	case "none":
		s.commas = ","
	case "keep":
		s.commas = ""
	}
	switch {
	case !cased:
	case o.Case == "lower":
		s.upper = -1
	case o.Case == "upper":
		s.upper = 1
	case c.upper*100 >= (c.upper+c.lower)*75 && c.upper > 0:
		s.upper = 1
	case c.lower*100 >= (c.upper+c.lower)*75 && c.lower > 0:
		s.upper = -1
	}
	s.tabs = c.tabs > c.spaces
	if o.Blanks == "tabs" || o.Blanks == "spaces" {
		s.tabs, s.blanks = o.Blanks == "tabs", true
	}
	return s
}

func put(c *Column, set Column) {
	if set.Kind != Learned {
		*c = set
	}
}

// caseMatters says whether the case of mnemonics may be changed: where the preprocessor
// or files that are included may give them another meaning, it may not.
func caseMatters(f *syntax.File) bool {
	for i := range f.NumLines() {
		l := f.Line(i)
		if strings.HasPrefix(strings.TrimLeft(l.Text, " \t"), "#") {
			return false
		}
		for k := range l.Stmts {
			s := &l.Stmts[k]
			if s.Kind == syntax.Directive && slices.Contains([]syntax.Effect{syntax.EffInclude, syntax.EffMacro, syntax.EffMacroBelow}, s.Directive.Effect) {
				return false
			}
		}
	}
	return true
}

// measure counts how one line is laid out.
func (c *counts) measure(p *parts, d syntax.Dialect) {
	at := 0
	if p.label != nil {
		indent := p.text[:p.label.Start]
		if !p.label.NoColon && d == syntax.Dots {
			c.start[labels].add(indent, advance(0, indent))
		}
		at = advance(0, p.text[:p.label.End])
	}
	if p.stmt != nil && p.class != noClass {
		from := 0
		if p.label != nil {
			from = int(p.label.End)
		}
		gap := p.text[from:p.stmt.Start]
		if column := advance(at, gap); p.label == nil || column > at+1 {
			c.start[p.class].add(gap, column)
		}
		if strings.HasPrefix(gap, "\t") {
			c.tabs++
		} else if strings.HasPrefix(gap, "  ") {
			c.spaces++
		}
		if p.args >= 0 {
			gap := p.text[p.stmt.NameEnd:p.args]
			c.args[p.class].add(gap, advance(0, p.text[:p.args]))
		}
		for _, g := range p.gaps() {
			c.separated++
			c.commas[p.text[g[0]:g[1]]]++
		}
		if p.stmt.Kind == syntax.Instruction {
			switch name := p.stmt.Name; name {
			case strings.ToLower(name):
				c.lower++
			case strings.ToUpper(name):
				c.upper++
			}
		}
	}
	if p.stmt != nil && p.comment >= 0 {
		c.comments.add(p.text[p.end:p.comment], advance(0, p.text[:p.comment]))
	}
}
