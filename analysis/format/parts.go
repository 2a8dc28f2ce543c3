package format

import (
	"strings"

	"narrowgauge/analysis/syntax"
)

// class is what is learned together.
type class uint8

const (
	noClass class = iota // it stays where it is
	labels
	instructions
	directives
	data
	classes
)

// parts are the parts of a line that may be moved, as byte columns in it.
type parts struct {
	line    int
	text    string
	label   *syntax.Stmt // nil: none
	stmt    *syntax.Stmt // nil: none
	class   class        // of stmt
	args    int          // where what follows stmt's name begins; -1: nothing does, or it stays
	comment int          // -1: none
	end     int          // of the last statement
}

// lines lists the lines of a file that may be laid out.
func lines(f *syntax.File) (out []parts) {
	prose := 0 // depth of conditions inside of a part that "#if 0" leaves out
	open := false
	for i := 0; i < f.NumLines(); i++ {
		l := f.Line(i)
		if before := prose; preprocessing(l.Text, &prose) || before > 0 {
			continue
		}
		if open { // a string that a line above has begun
			open = strings.Count(l.Text, `"`)%2 == 0
			continue
		}
		if last, ok := body(f, i); ok {
			i = last
			continue
		}
		if ends(l) {
			break
		}
		if p, ok := split(f, i); ok {
			out = append(out, p)
		} else if opens(l) {
			open = true
		}
	}
	return out
}

// preprocessing says whether a line is one of the preprocessor, and follows the parts
// that "#if 0" leaves out: what is there is often no code.
func preprocessing(text string, prose *int) bool {
	rest, ok := strings.CutPrefix(strings.TrimLeft(text, " \t"), "#")
	if !ok {
		return false
	}
	words := strings.Fields(rest)
	if len(words) == 0 {
		return true
	}
	switch word := words[0]; {
	case strings.HasPrefix(word, "if") && *prose > 0:
		*prose++
	case word == "if" && len(words) == 2 && words[1] == "0":
		*prose = 1
	case word == "endif" && *prose > 0:
		*prose--
	case (word == "else" || word == "elif") && *prose == 1:
		*prose = 0
	}
	return true
}

// opens says whether a line may begin a string that it does not end.
func opens(l *syntax.Line) bool {
	code := l.Text
	if l.Comment >= 0 {
		code = code[:l.Comment]
	}
	return strings.Count(strings.ReplaceAll(code, `\"`, ""), `"`)%2 == 1
}

// ends says whether the source ends at a line.
func ends(l *syntax.Line) bool {
	for k := range l.Stmts {
		if s := &l.Stmts[k]; s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffEnd {
			return true
		}
	}
	return false
}

// body finds the last line of a body of a macro or repetition that begins in a line.
func body(f *syntax.File, i int) (last int, ok bool) {
	l := f.Line(i)
	for k := range l.Stmts {
		s := &l.Stmts[k]
		if s.Kind != syntax.Directive {
			continue
		}
		open, end := s.Directive.Effect, syntax.EffEndm
		switch open {
		case syntax.EffMacro, syntax.EffMacroBelow:
		case syntax.EffRept:
			end = syntax.EffEndr
		case syntax.EffWhile:
			end = syntax.EffWend
		default:
			continue
		}
		if d := f.Dialect(); d == syntax.Dots || d == syntax.Semicolon {
			b := f.Body(i, s.CallEnd(l), open == syntax.EffRept)
			return b.NextLine, true
		}
		last, _ := f.Behind(i, open, end)
		return last, true
	}
	return 0, false
}

// blankOnly says whether a text consists of blanks and tabs.
func blankOnly(s string) bool { return strings.Trim(s, " \t") == "" }

// split takes a line apart; false where it must be left alone.
func split(f *syntax.File, i int) (p parts, ok bool) {
	l := f.Line(i)
	p = parts{line: i, text: l.Text, args: -1, comment: int(l.Comment)}
	if l.StartsInComment() || l.EndsInComment() || l.GoesOn() || goesOn(l.Text) || i > 0 && (goesOn(f.Line(i-1).Text) || f.Line(i-1).GoesOn()) ||
		strings.ContainsAny(l.Text, "\f\v\r\x00") {
		return p, false
	}
	stmts := l.Stmts
	if len(stmts) > 0 && stmts[0].Kind == syntax.Label {
		p.label, stmts = &stmts[0], stmts[1:]
	}
	if len(stmts) > 1 {
		return p, false
	}
	at := 0
	if p.label != nil {
		if p.label.Err != nil || !blankOnly(l.Text[:p.label.Start]) {
			return p, false
		}
		at = int(p.label.End)
	}
	if len(stmts) == 1 {
		p.stmt = &stmts[0]
		if p.stmt.Err != nil || p.stmt.Kind == syntax.Bad || p.stmt.Kind == syntax.Label || int(p.stmt.Start) < at || !blankOnly(l.Text[at:p.stmt.Start]) {
			return p, false
		}
		at = int(p.stmt.End)
		p.class = classOf(f.Dialect(), p.stmt, p.label != nil)
		p.args = p.arguments()
	}
	p.end = at
	rest := l.Text[at:]
	if p.comment >= 0 {
		if p.comment < at {
			return p, false
		}
		rest = l.Text[at:p.comment]
	}
	return p, blankOnly(rest)
}

// goesOn says whether the preprocessor joins a line with the next one.
func goesOn(text string) bool { return strings.HasSuffix(strings.TrimRight(text, " \t"), `\`) }

// classOf is the class of a statement; labelled: a label is in front of it.
func classOf(d syntax.Dialect, s *syntax.Stmt, labelled bool) class {
	if s.Start == 0 && !labelled && (d != syntax.Dots || s.Kind == syntax.Unknown) {
		return noClass
	}
	switch s.Kind {
	case syntax.Instruction, syntax.Unknown:
		return instructions
	case syntax.Directive:
	default:
		return noClass
	}
	if s.Directive.NameFirst {
		return noClass
	}
	switch s.Directive.Effect {
	case syntax.EffMacro, syntax.EffMacroBelow, syntax.EffEndm, syntax.EffRept, syntax.EffEndr, syntax.EffExitm, syntax.EffWhile, syntax.EffWend,
		syntax.EffIf, syntax.EffElseif, syntax.EffElse, syntax.EffEndif, syntax.EffReq, syntax.EffVar, syntax.EffSetVar, syntax.EffLine, syntax.EffJoin, syntax.EffRest:
		return noClass
	case syntax.EffData, syntax.EffString, syntax.EffSpace, syntax.EffFill, syntax.EffFillOf, syntax.EffFloat, syntax.EffWide, syntax.EffInst, syntax.EffLEB, syntax.EffIncbin,
		syntax.EffOrg, syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffAlignFrom, syntax.EffEven, syntax.EffNop, syntax.EffPool:
		return data
	}
	return directives
}

// arguments is where what follows the name begins, if it may be moved.
func (p *parts) arguments() int {
	if p.class == noClass {
		return -1
	}
	at := int(p.stmt.NameEnd)
	for at < int(p.stmt.End) && (p.text[at] == ' ' || p.text[at] == '\t') {
		at++
	}
	if at >= int(p.stmt.End) || at == int(p.stmt.NameEnd) || p.text[at] == '=' || p.text[at] == ':' {
		return -1
	}
	return at
}

// gaps lists the stretches around the commas between the operands of an instruction.
func (p *parts) gaps() (out [][2]int) {
	if p.stmt == nil || p.stmt.Kind != syntax.Instruction {
		return nil
	}
	ops := p.stmt.Ops
	for k := 1; k < len(ops); k++ {
		a, b := int(ops[k-1].End), int(ops[k].Start)
		if a > b || a < int(p.stmt.NameEnd) || b > int(p.stmt.End) {
			return nil
		}
		if strings.Trim(p.text[a:b], " \t") != "," {
			continue
		}
		out = append(out, [2]int{a, b})
	}
	return out
}

// advance is the column after a text that begins at one.
func advance(at int, text string) int {
	for _, c := range text {
		if c == '\t' {
			at += 8 - at%8
		} else {
			at++
		}
	}
	return at
}
