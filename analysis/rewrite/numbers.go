package rewrite

import (
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// What can be done to a number as it is written: another base, a name.

// base is a way to write numbers.
type base struct {
	name          string // of its refactoring
	base          int
	before, after string // the digits
}

// bases are the ways to write numbers in a dialect.
func bases(d syntax.Dialect) []base {
	list := []base{{"decimal", 10, "", ""}, {"hexadecimal", 16, "0x", ""}, {"binary", 2, "0b", ""}}
	switch d {
	case syntax.Columns:
		list[2].before = "2_"
	case syntax.Modules:
		list[2].before, list[2].after = "b'", "'"
	}
	return list
}

// numbers offers what can be done to the number at the place.
func (f *refactoring) numbers() {
	s := f.item.Stmt
	start := f.subject.File.LineStart(int(f.item.Line))
	col := f.at - start
	k := slices.IndexFunc(s.Ops, func(o syntax.Operand) bool { return int(o.Start) <= col && col <= int(o.End) && !o.IsStr })
	if k < 0 || col > len(f.line) {
		return
	}
	a, b := f.numberAround(int(s.Ops[k].Start), col)
	word := f.line[a:b]
	v, in, ok := f.plainNumber(word)
	if !ok {
		return
	}
	here := finding.Span{Start: start + a, End: start + b}
	for _, to := range bases(f.subject.File.Dialect()) {
		text := to.before + strconv.FormatUint(v, to.base) + to.after
		if to.base == in || strings.EqualFold(text, word) {
			continue
		}
		f.offer(Refactoring{Name: "base-" + to.name, Title: "write " + word + " as " + text, same: true, Edits: []finding.Edit{{Span: here, New: text}}})
	}
	if d := s.Directive; s.Kind == syntax.Assign || d != nil && (d.Effect == syntax.EffSet || d.Effect == syntax.EffThumbSet || d.Effect == syntax.EffEqv) {
		return // it has a name
	}
	name, line := f.freeName("VALUE_"+asName(word)), f.definitionsEnd()
	if line < 0 {
		return
	}
	title := "name the constant " + word
	if s.Ops[k].Kind == isa.OpLit {
		title = "name the literal " + word
	}
	f.offer(Refactoring{Name: "name-constant", Title: title + " " + name, Extract: true, same: true,
		Edits: []finding.Edit{f.insertBefore(line, f.definition(line, name, word)), {Span: here, New: name}}})
}

// numberAround is the number, with what says its base, at a column of the line; from is where its
// operand begins.
func (f *refactoring) numberAround(from, col int) (a, b int) {
	for a = col; a > from && program.IdentByte(f.line[a-1]); a-- {
	}
	for b = col; b < len(f.line) && program.IdentByte(f.line[b]); b++ {
	}
	switch {
	case f.columns() && a > from && f.line[a-1] == '&' && !follows(f.line[from:a-1]):
		a-- // the mark of hexadecimal ones
	case f.columns() && a == col && b == col && col < len(f.line) && f.line[col] == '&':
		return f.numberAround(from, col+1)
	case f.modules() && b < len(f.line) && f.line[b] == '\'' && b-a == 1: // in front of h'1F'
		if n := strings.IndexByte(f.line[b+1:], '\''); n >= 0 {
			b += n + 2
		}
	case f.modules() && a > from+1 && b < len(f.line) && f.line[a-1] == '\'' && f.line[b] == '\'':
		a, b = a-2, b+1
	}
	return a, b
}

// follows says whether an operator is expected after a text, and no value.
func follows(text string) bool {
	text = strings.TrimRight(text, " \t")
	return text != "" && (program.IdentByte(text[len(text)-1]) || text[len(text)-1] == ')')
}

// plainNumber is a number as it is written, and its base: one of those that are offered.
func (f *refactoring) plainNumber(word string) (v uint64, in int, ok bool) {
	digit := func(c byte) bool { return c >= '0' && c <= '9' }
	low := strings.ToLower(word)
	if word == "" || !digit(word[0]) && word[0] != '&' && !strings.Contains(word, "'") {
		return 0, 0, false
	}
	words := f.subject.File.Dialect().Words()
	switch {
	case f.columns() && low[0] == '&':
		in, low = 16, low[1:]
	case f.columns() && strings.HasPrefix(low, "2_"):
		in, low = 2, low[2:]
	case strings.HasPrefix(low, "0x"):
		in, low = 16, low[2:]
	case !words && strings.HasPrefix(low, "0b"):
		in, low = 2, low[2:]
	case f.modules() && strings.HasSuffix(low, "'"):
		in, low = map[byte]int{'h': 16, 'd': 10, 'b': 2}[low[0]], low[2:len(low)-1]
	case f.modules() && !digit(low[len(low)-1]):
		in, low = map[byte]int{'h': 16, 'd': 10, 'b': 2}[low[len(low)-1]], low[:len(low)-1]
	case low[0] != '0' || len(low) == 1 || words:
		in = 10
	}
	if in == 0 {
		return 0, 0, false // of base 8 and others
	}
	v, err := strconv.ParseUint(low, in, 64)
	return v, in, err == nil
}

// asName is what may be a part of a name.
func asName(word string) string {
	return strings.Map(func(r rune) rune {
		if r < 0x80 && program.IdentByte(byte(r)) && r != '.' && r != '$' {
			return r
		}
		return -1
	}, strings.ToUpper(word))
}

// definition is a line above another one that gives a value a name.
func (f *refactoring) definition(line int, name, value string) string {
	indent := f.indentOf(line)
	if !f.subject.File.Dialect().Words() {
		return indent + f.inCase(".equ") + " " + name + ", " + value
	}
	if gap := len(indent) - len(name); gap > 0 && strings.Trim(indent, " ") == "" {
		name += strings.Repeat(" ", gap)
	} else {
		name += " "
	}
	return name + f.word("EQU") + " " + value
}
