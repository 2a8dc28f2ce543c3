package rename

import (
	"errors"
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// Edits are what gives a target another name in the files of the program, by path, sorted.
// The error says why that cannot be.
func (p *Program) Edits(t Target, name string) (map[string][]finding.Edit, error) {
	if t.Kind == Number {
		return p.numberEdits(t, name)
	}
	out := map[string][]finding.Edit{}
	p.words(t, func(path string, f *syntax.File, line int, w syntax.Word) {
		start := f.LineStart(line)
		out[path] = append(out[path], finding.Edit{Span: finding.Span{Start: start + int(w.Start), End: start + int(w.End)}, New: cased(t, name, w.Text)})
	})
	if len(out) == 0 {
		return nil, errors.New(wording.MadeByMacro(t.Name))
	}
	return out, nil
}

// words calls visit for the words in the program's files that are a target, wherever they are:
// also in lines that conditions leave out, and in bodies of macros.
func (p *Program) words(t Target, visit func(path string, f *syntax.File, line int, w syntax.Word)) {
	fold := t.Kind == Macro || t.Kind == Alias
	low := strings.ToLower(t.Name)
	has := func(text string) bool {
		return !fold && strings.Contains(text, t.Name) || fold && strings.Contains(strings.ToLower(text), low)
	}
	p.files(func(path string, f *syntax.File, preprocessed bool) {
		if !has(f.Text()) || t.Kind == Define && !preprocessed {
			return
		}
		for i := range f.NumLines() {
			l := f.Line(i)
			if !has(l.Text) {
				continue
			}
			f.Words(i, func(w syntax.Word) {
				if w.Text != t.Name && (!fold || !strings.EqualFold(w.Text, t.Name)) {
					return
				}
				if p.means(t, path, i, l, w) {
					visit(path, f, i, w)
				}
			})
		}
	})
}

// cased is the new name as a word of another case has it: .req gives a name in small and in
// large letters as well.
func cased(t Target, name, word string) string {
	if word == t.Name {
		return name
	}
	switch word {
	case strings.ToLower(word):
		return strings.ToLower(name)
	case strings.ToUpper(word):
		return strings.ToUpper(name)
	}
	return name
}

// means says whether a word that reads like the target is the target.
func (p *Program) means(t Target, path string, line int, l *syntax.Line, w syntax.Word) bool {
	s := around(l, w)
	head := heads(s, w)
	if s != nil && !head && t.Kind != Define && !w.Param && s.OwnWord(w.Start, w.End, w.Text) {
		return false
	}
	switch t.Kind {
	case Define:
		return !w.Quoted
	case Parameter:
		return p.isParameter(t, path, line, l, w, s)
	case Macro:
		if w.Quoted || w.Param || s == nil {
			return false
		}
		return head && !namesSomething(s) || !head && s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffMacro || s.Directive.Effect == syntax.EffPurgem) && firstWord(l.Text[s.NameEnd:w.Start])
	case Alias:
		return !w.Quoted && !w.Param && (!head || s.Kind == syntax.Directive && givesRegister(s.Directive.Effect)) && (s == nil || !noSymbols(s))
	}
	if w.Param || head && !namesSomething(s) || head && s.Kind == syntax.Directive && givesRegister(s.Directive.Effect) {
		return false
	}
	if w.Quoted {
		return s != nil && (s.Kind == syntax.Unknown || s.Kind == syntax.Directive && namesInQuotes(s.Directive.Effect))
	}
	return s == nil || head || (!noSymbols(s) && !otherWord(l.Text, s, w) || isDefault(l.Text, s, w)) && !p.isArgument(l.Text, s, w)
}

// isArgument says whether a word is a parameter's name in front of its argument, at a call.
func (p *Program) isArgument(text string, s *syntax.Stmt, w syntax.Word) bool {
	if s.Kind == syntax.Directive || s.Kind == syntax.Label || !strings.HasPrefix(strings.TrimLeft(text[w.End:], " \t"), "=") {
		return false
	}
	return slices.ContainsFunc(p.Macros, func(m *program.Macro) bool { return strings.EqualFold(m.Name, s.Name) && hasParameter(m, w.Text) })
}

// isDefault says whether a word is of the default value of a macro's parameter: where a call gives
// nothing else, it means what it means there.
func isDefault(text string, s *syntax.Stmt, w syntax.Word) bool {
	if s.Kind != syntax.Directive || s.Directive.Effect != syntax.EffMacro || w.Start < s.NameEnd {
		return false
	}
	before := strings.TrimRight(text[s.NameEnd:w.Start], " \t")
	return strings.HasSuffix(before, "=") || strings.Contains(before[strings.LastIndexAny(before, " \t,")+1:], "=")
}

// firstWord says whether nothing but blanks and commas comes before a word.
func firstWord(before string) bool { return strings.Trim(before, " \t") == "" }

// namesInQuotes says whether strings in a directive can be names.
func namesInQuotes(e syntax.Effect) bool {
	switch e {
	case syntax.EffType, syntax.EffSize, syntax.EffGlobal, syntax.EffExtern, syntax.EffComm, syntax.EffSet, syntax.EffThumbSet:
		return true
	}
	return false
}

// noSymbols says whether the words of a statement are no symbols.
func noSymbols(s *syntax.Stmt) bool {
	if s.Kind != syntax.Directive {
		return false
	}
	switch s.Directive.Effect {
	case syntax.EffSection, syntax.EffPush, syntax.EffArch, syntax.EffArchExt, syntax.EffCPU, syntax.EffFPU, syntax.EffSyntax, syntax.EffInclude, syntax.EffIncbin, syntax.EffMacro, syntax.EffPurgem, syntax.EffArea, syntax.EffString:
		return true
	}
	return false
}

// otherWord says whether a word of a directive that has symbols among its words is none: what is
// said of the symbol, or the register that gets a name.
func otherWord(text string, s *syntax.Stmt, w syntax.Word) bool {
	if s.Kind != syntax.Directive || w.Start < s.NameEnd {
		return false
	}
	switch s.Directive.Effect {
	case syntax.EffType:
		return !firstWord(strings.Trim(text[s.NameEnd:w.Start], " \t\""))
	case syntax.EffReq, syntax.EffTyped, syntax.EffUnreq:
		return true
	}
	return false
}

// isParameter says whether a word is the parameter that is the target.
func (p *Program) isParameter(t Target, path string, line int, l *syntax.Line, w syntax.Word, s *syntax.Stmt) bool {
	if path == t.macro.path && line >= t.macro.first && line <= t.macro.last {
		if w.Param {
			return true
		}
		header := s != nil && !heads(s, w) && s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffMacro
		return header && line == t.macro.first && !firstWord(l.Text[s.NameEnd:w.Start]) && !inDefault(l.Text[s.NameEnd:w.Start])
	}
	// An argument with a name, at a call.
	return s != nil && s.Kind != syntax.Directive && s.Kind != syntax.Label && !w.Quoted && !w.Param && strings.EqualFold(s.Name, t.macro.name) &&
		strings.HasPrefix(strings.TrimLeft(l.Text[w.End:], " \t"), "=") && !inDefault(l.Text[s.NameEnd:w.Start])
}

// inDefault says whether what comes next is behind the mark of a default value.
func inDefault(before string) bool {
	before = strings.TrimRight(before, " \t")
	return strings.HasSuffix(before, "=") || strings.HasSuffix(before, ":")
}

// numberEdits are the edits for a numeric local label: it, and the branches that mean it.
func (p *Program) numberEdits(t Target, name string) (map[string][]finding.Edit, error) {
	y := p.Local(p.Items[t.item].Stmt.Number, true, t.item+1).Symbol
	if y == nil || y.Item != t.item {
		return nil, errors.New(wording.NumberOfScope(t.Name))
	}
	out := map[string][]finding.Edit{}
	plain := true
	add := func(it *program.Item, a, b int32, text string) {
		l := p.Loc(it, a, b)
		f := p.written(l.Path)
		if l.Use != nil || l.Made != nil || f == nil {
			plain = false
			return
		}
		e := finding.Edit{Span: l.Span, New: text}
		if !slices.Contains(out[l.Path], e) {
			out[l.Path] = append(out[l.Path], e)
		}
	}
	for i := range p.Items {
		it := &p.Items[i]
		if it.Index == t.item {
			a := it.Stmt.Start
			digits := int32(len(p.LineText(it)[a:]) - len(strings.TrimLeft(p.LineText(it)[a:], "0123456789")))
			add(it, a, a+digits, name)
		}
		for k := range it.Stmt.Ops {
			it.Stmt.Ops[k].Expr.Walk(func(e *syntax.Expr) {
				if e.Op == syntax.ExprLocal && e.Name == "" && p.Local(int32(e.Val), e.Back, it.Index).Symbol == y {
					way := "f"
					if e.Back {
						way = "b"
					}
					add(it, e.Start, e.End, name+way)
				}
			})
		}
	}
	if !plain {
		return nil, errors.New(wording.NumberOfScope(t.Name))
	}
	for path := range out {
		slices.SortFunc(out[path], func(a, b finding.Edit) int { return a.Span.Start - b.Span.Start })
	}
	return out, nil
}
