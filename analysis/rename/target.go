package rename

import (
	"errors"
	"slices"
	"strings"

	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Kind is what a name is for.
type Kind uint8

// The kinds of names that can be renamed.
const (
	Symbol    Kind = iota // a label or a constant
	Number                // a numeric local label, 1: and 1f
	Macro                 // of .macro and its like
	Parameter             // of such a macro
	Alias                 // a register's name of .req and its like
	Define                // a macro of the preprocessor
)

// Target is a name that can be renamed.
type Target struct {
	Kind Kind
	Name string // as written at the place that was asked about
	// Span is that place, in its file.
	Span finding.Span
	// Defined: the program defines it. What is not may be defined by another source.
	Defined bool
	// Public: a symbol that other sources may name, as .global and .extern say.
	Public bool

	item  int32  // Number: of the label
	macro *scope // Parameter
}

// scope is where a parameter has a meaning: lines of a file.
type scope struct {
	path, name  string
	first, last int
	of          *program.Macro
}

// Macro is the macro whose parameter the target is; nil for others.
func (t Target) Macro() *program.Macro {
	if t.macro == nil {
		return nil
	}
	return t.macro.of
}

// Program is a program that is assembled, with its findings.
type Program struct {
	*eval.Evaluator
	Found []finding.Diagnostic
}

// files calls visit for each file of the program as it is written, once.
func (p *Program) files(visit func(path string, f *syntax.File, preprocessed bool)) {
	seen := map[string]bool{}
	for i := range p.Sources {
		s := &p.Sources[i]
		if s.Expansion != nil || seen[s.Path] {
			continue
		}
		seen[s.Path] = true
		if s.Unit != nil {
			visit(s.Path, s.Unit.Raw, s.Preprocessed())
		} else {
			visit(s.Path, s.File, false)
		}
	}
}

// written is a file of the program as it is written; nil: the program does not have it.
func (p *Program) written(path string) *syntax.File {
	id := p.FileOf(path)
	if id < 0 {
		return nil
	}
	return p.Sources[id].AsWritten()
}

// wordAt is the word at byte offset off of a file, with the statement that it is in; a word
// that ends there counts if none begins there.
func wordAt(f *syntax.File, off int) (w syntax.Word, s *syntax.Stmt, line int, ok bool) {
	if off < 0 || off > len(f.Text()) {
		return w, nil, 0, false
	}
	line = f.LineAt(off)
	col := int32(off - f.LineStart(line))
	f.Words(line, func(x syntax.Word) {
		if x.Start <= col && col <= x.End {
			w, ok = x, true
		}
	})
	return w, around(f.Line(line), w), line, ok
}

// around is the statement of a line that a word is in, nil for none.
func around(l *syntax.Line, w syntax.Word) *syntax.Stmt {
	for i := len(l.Stmts) - 1; i >= 0; i-- {
		if s := &l.Stmts[i]; s.Start <= w.Start && w.End <= s.End {
			return s
		}
	}
	return nil
}

// heads says whether a word is the name of a statement.
func heads(s *syntax.Stmt, w syntax.Word) bool {
	return s != nil && w.Start <= s.Start+1 && w.Start >= s.Start && w.End <= s.NameEnd
}

// At is what is named at byte offset off of a file of the program. The error says why
// that cannot be renamed.
func (p *Program) At(path string, off int) (Target, error) {
	f := p.written(path)
	if f == nil {
		return Target{}, errors.New(wording.NoNameHere())
	}
	w, s, line, ok := wordAt(f, off)
	if !ok {
		return Target{}, errors.New(wording.NoNameHere())
	}
	start := f.LineStart(line)
	t := Target{Name: w.Text, Span: finding.Span{Start: start + int(w.Start), End: start + int(w.End)}, item: -1}
	if u := p.Sources[p.FileOf(path)].Unit; u != nil {
		if m := u.MacroAt(t.Span.Start); m != nil && m.Name == w.Text {
			if m.Path == "" {
				return t, errors.New(wording.DefinedOutside(w.Text))
			}
			t.Kind, t.Defined = Define, true
			return t, nil
		}
		if hashLine(f, line) && s == nil && p.SymbolOf(w.Text) == nil {
			return t, errors.New(wording.OfPreprocessor(w.Text))
		}
	}
	m := p.macroAround(path, line, w)
	if m == nil {
		m = p.macroCalled(f.Line(line).Text, s, w)
	}
	if m != nil {
		t.Kind, t.Defined, t.macro = Parameter, true, m
		return t, nil
	}
	if w.Param {
		return t, errors.New(wording.MadeByMacro(w.Text))
	}
	return p.named(t, path, w, s)
}

// hashLine says whether a line is one for the preprocessor.
func hashLine(f *syntax.File, line int) bool {
	return strings.HasPrefix(strings.TrimLeft(f.Line(line).Text, " \t"), "#")
}

// named completes a target by the statement that its word is in.
func (p *Program) named(t Target, path string, w syntax.Word, s *syntax.Stmt) (Target, error) {
	if w.Text[0] >= '0' && w.Text[0] <= '9' {
		return p.number(t, path)
	}
	if p.macroNamed(w, s) {
		t.Kind, t.Defined = Macro, true
		return t, nil
	}
	if heads(s, w) && !namesSomething(s) {
		return t, errors.New(wording.NotAName(w.Text))
	}
	if s != nil && s.Kind == syntax.Directive && heads(s, w) && givesRegister(s.Directive.Effect) || p.isAlias(w.Text) && (s == nil || !s.OwnWord(w.Start, w.End, w.Text)) {
		t.Kind, t.Defined = Alias, true
		return t, nil
	}
	y := p.SymbolOf(w.Text)
	if (y == nil || !y.Defined && !y.Global && !y.Extern) && (reserved(w.Text) || describe.Special(w.Text) || isCondition(w.Text)) {
		return t, errors.New(wording.NotAName(w.Text))
	}
	if s != nil && !heads(s, w) && s.OwnWord(w.Start, w.End, w.Text) {
		return t, errors.New(wording.NotAName(w.Text))
	}
	f := p.written(path)
	text := f.Line(f.LineAt(t.Span.Start)).Text
	if y == nil || s != nil && !heads(s, w) && (noSymbols(s) && !isDefault(text, s, w) || otherWord(text, s, w)) {
		return t, errors.New(wording.UnknownName(w.Text))
	}
	t.Kind, t.Defined = Symbol, y.Defined || y.Common
	t.Public = y.Global || y.Weak || y.Extern || y.Common || !y.Defined
	if t.Defined && p.DefinedAt(y).Path == "" {
		return t, errors.New(wording.DefinedOutside(w.Text))
	}
	return t, nil
}

func isCondition(word string) bool {
	_, ok := isa.CondByName(strings.ToLower(word))
	return ok
}

// namesSomething says whether the name of a statement is one that the statement gives.
func namesSomething(s *syntax.Stmt) bool {
	return s.Kind == syntax.Label || s.Kind == syntax.Assign || s.Kind == syntax.Directive && s.Directive.NameFirst
}

func givesRegister(e syntax.Effect) bool { return e == syntax.EffReq || e == syntax.EffTyped }

// isAlias says whether .req or its like has made a name one of a register.
func (p *Program) isAlias(name string) bool {
	if _, ok := isa.RegByName(strings.ToLower(name)); ok {
		return false
	}
	if _, _, ok := isa.VectorReg(strings.ToLower(name)); ok {
		return false
	}
	return p.LastRegister(name) != program.NoRegister
}

// macroNamed says whether a word names a macro of the program: in its definition, at a call or
// after .purgem.
func (p *Program) macroNamed(w syntax.Word, s *syntax.Stmt) bool {
	if s == nil || namesSomething(s) && heads(s, w) {
		return false
	}
	inHeader := s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffMacro || s.Directive.Effect == syntax.EffPurgem) && !heads(s, w)
	if !inHeader && !heads(s, w) {
		return false
	}
	return slices.ContainsFunc(p.Macros, func(m *program.Macro) bool { return strings.EqualFold(m.Name, w.Text) })
}

// macroAround is the macro whose parameter a word is, in its header or its body.
func (p *Program) macroAround(path string, line int, w syntax.Word) *scope {
	var best *scope
	for _, m := range p.Macros {
		src := &p.Sources[m.File]
		if src.Expansion != nil || src.Path != path || line < int(m.Line) || line > int(m.End) || !hasParameter(m, w.Text) {
			continue
		}
		header := line == int(m.Line)
		if m.Columns {
			header = line == int(m.Line)+1
		}
		if (w.Param || header && !strings.EqualFold(w.Text, m.Name)) && (best == nil || int(m.Line) > best.first) {
			best = &scope{path, m.Name, int(m.Line), int(m.End), m}
		}
	}
	return best
}

// macroCalled is the macro of a call in which a word is the name of a parameter, in front of its
// argument.
func (p *Program) macroCalled(text string, s *syntax.Stmt, w syntax.Word) (found *scope) {
	if s == nil || w.Quoted || heads(s, w) || !p.isArgument(text, s, w) {
		return nil
	}
	for _, m := range p.Macros {
		if src := &p.Sources[m.File]; src.Expansion == nil && strings.EqualFold(m.Name, s.Name) && hasParameter(m, w.Text) {
			found = &scope{src.Path, m.Name, int(m.Line), int(m.End), m}
		}
	}
	return found
}

func hasParameter(m *program.Macro, name string) bool {
	return slices.ContainsFunc(m.Parameters, func(q syntax.Param) bool { return q.Name == name })
}

// number completes a target that is a numeric local label, or refuses a number.
func (p *Program) number(t Target, path string) (Target, error) {
	t.Kind, t.Defined = Number, true
	if strings.Contains(t.Name, "$") {
		return t, errors.New(wording.NumberOfScope(t.Name))
	}
	id := p.FileOf(path)
	it := p.ItemIn(id, t.Span.Start)
	if it == nil {
		return t, errors.New(wording.NotAName(t.Name))
	}
	if p.Sources[id].File.Dialect() == syntax.Columns || p.Sources[it.File].Expansion != nil {
		return t, errors.New(wording.NumberOfScope(t.Name))
	}
	if it.Stmt.Kind == syntax.Label && it.Stmt.Number >= 0 {
		t.item = it.Index
	}
	for k := range it.Stmt.Ops {
		it.Stmt.Ops[k].Expr.Walk(func(e *syntax.Expr) {
			if e.Op != syntax.ExprLocal {
				return
			}
			l, y := p.Loc(it, e.Start, e.End), p.Local(int32(e.Val), e.Back, it.Index).Symbol
			if l.Span == t.Span && l.Use == nil && y != nil {
				t.item = y.Item
			}
		})
	}
	if t.item < 0 {
		return t, errors.New(wording.NotAName(t.Name))
	}
	return t, nil
}
