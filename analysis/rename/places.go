package rename

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// Places lists where a target is named, as the words are that another name would replace: also
// in lines that conditions leave out, in conditions, and in bodies. The others are found by
// what is assembled: numeric local labels, macros of the preprocessor.
func (p *Program) Places(t Target) (out []finding.Location) {
	if t.Kind == Number || t.Kind == Define {
		return nil
	}
	p.words(t, func(path string, f *syntax.File, line int, w syntax.Word) {
		text := f.Line(line).Text
		if w.Quoted && !wholeString(text, w) {
			return // a word of a sentence
		}
		if t.Kind == Alias && p.LastRegister(w.Text) == program.NoRegister {
			return // only some spellings are names of the register
		}
		start := f.LineStart(line)
		out = append(out, finding.Location{Path: path, Span: finding.Span{Start: start + int(w.Start), End: start + int(w.End)}})
	})
	return out
}

// wholeString says whether a word is all that is in a string.
func wholeString(text string, w syntax.Word) bool {
	return w.Start > 0 && text[w.Start-1] == '"' && strings.HasPrefix(text[w.End:], "\"")
}

// DefinedFor is where a target gets the meaning that it has at byte offset off of a file: of
// several definitions the last one above, or else the first.
func (p *Program) DefinedFor(t Target, path string, off int) []finding.Location {
	var list []finding.Location
	switch t.Kind {
	case Symbol:
		if y := p.SymbolOf(t.Name); y != nil && y.Defined {
			list = append(list, p.DefinedAt(y).Location)
		}
	case Macro:
		for _, m := range p.Macros {
			if strings.EqualFold(m.Name, t.Name) {
				list = append(list, p.MacroAt(m).Location)
			}
		}
	case Parameter:
		f := p.written(t.macro.path)
		for _, l := range p.Places(t) {
			if n := f.LineAt(min(l.Span.Start, len(f.Text()))); l.Path == t.macro.path && n >= t.macro.first && n <= t.macro.last {
				list = append(list, l)
				break
			}
		}
		return list
	case Alias:
		for i := range p.Items {
			if s := p.Items[i].Stmt; s.Kind == syntax.Directive && givesRegister(s.Directive.Effect) && strings.EqualFold(s.Name, t.Name) {
				list = append(list, p.NameLoc(&p.Items[i]).Location)
			}
		}
	}
	var best []finding.Location
	for _, l := range list {
		if l.Path != "" && (best == nil || l.Path == path && l.Span.Start <= off) {
			best = []finding.Location{l}
		}
	}
	return best
}
