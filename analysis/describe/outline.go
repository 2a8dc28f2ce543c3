package describe

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// SymbolsIn is the outline of a file of the program.
func (r *View) SymbolsIn(path string) []DocSymbol {
	file := r.FileOf(path)
	if file < 0 {
		return nil
	}
	o := outline{View: r, file: file, path: path, text: r.Sources[file].AsWritten(), open: -1}
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != file {
			o.made(it)
			continue
		}
		o.own(it)
		if it.Stmt.Kind != syntax.Directive || !it.Stmt.Directive.Leads() {
			o.end = o.lineEnd(int(it.Line))
		}
	}
	o.close()
	return o.nested()
}

// nested puts the labels that belong to a routine below it, with what is between them: labels
// of code in the same state that nobody calls and no other file sees, and then those of its
// data.
func (o *outline) nested() (out []DocSymbol) {
	for i := 0; i < len(o.out); {
		if o.out[i].Kind != program.SymFunction {
			out = append(out, o.out[i])
			i++
			continue
		}
		end, data := i+1, false
		for k := i + 1; k < len(o.out); k++ {
			s := &o.out[k]
			if s.Kind == program.SymSection || s.Kind == program.SymFunction {
				break
			}
			if s.Kind != program.SymCode && s.Kind != program.SymData {
				continue
			}
			if !o.within(s, &o.out[i]) || data && s.Kind == program.SymCode {
				break
			}
			end, data = k+1, s.Kind == program.SymData
		}
		f := o.out[i]
		for k := i + 1; k < end; k++ {
			f.Full.End = max(f.Full.End, o.out[k].Full.End)
			f.Children = append(f.Children, o.out[k])
		}
		out = append(out, f)
		i = end
	}
	return out
}

// within says whether a label may belong to a routine above it.
func (o *outline) within(s, f *DocSymbol) bool {
	y, of := o.SymbolOf(s.Name), o.SymbolOf(f.Name)
	return y != nil && of != nil && !y.Global && y.Value.Section == of.Value.Section && (s.Kind == program.SymData || y.Mode == of.Mode)
}

// outline collects the symbols of a file.
type outline struct {
	*View
	file   int32
	path   string
	text   *syntax.File
	out    []DocSymbol
	open   int // index in out of the label that owns what follows, or -1
	end    int // of the last line that is not there for what comes after it
	macros int // that have been passed
}

func (o *outline) lineEnd(n int) int { return o.text.LineStart(n) + len(o.text.Line(n).Text) }

// close ends what the last label owns.
func (o *outline) close() {
	if o.open >= 0 {
		s := &o.out[o.open]
		s.Full.End = max(o.end, s.NameSpan.End)
		o.open = -1
	}
}

// made adds a label that a macro makes, or that is repeated, at the name in this file.
func (o *outline) made(it *program.Item) {
	s := it.Stmt
	if s.Kind != syntax.Label || s.Number >= 0 || strings.HasPrefix(s.Name, ".L") || o.Sources[it.File].Expansion == nil {
		return
	}
	if y := o.SymbolOf(s.Name); y != nil && y.Item == it.Index && o.DefinedAt(y).Path == o.path {
		o.close()
		at := o.DefinedAt(y).Span
		kind, detail := o.labelKind(it, y)
		o.out = append(o.out, DocSymbol{Name: s.Name, Detail: detail, Kind: kind, Full: at, NameSpan: at})
		o.open = len(o.out) - 1
	}
}

// own adds what a statement of the file defines.
func (o *outline) own(it *program.Item) {
	s := it.Stmt
	name := o.Span(o.file, int(it.Line), s.Start, s.NameEnd)
	full := finding.Span{Start: name.Start, End: o.Span(o.file, int(it.Line), s.Start, s.End).End}
	x := DocSymbol{Name: s.Name, Full: full, NameSpan: name}
	switch {
	case s.Kind == syntax.Label && s.Number < 0:
		o.close()
		y := o.SymbolOf(s.Name)
		if y == nil || y.Item != it.Index {
			return
		}
		x.Kind, x.Detail = o.labelKind(it, y)
		if o.Changed(it) {
			x.NameSpan = o.DefinedAt(y).Span
		}
		o.open = len(o.out)
		o.out = append(o.out, x)
	case s.Kind == syntax.Assign:
		x.Kind, x.Detail = program.SymConstant, o.valueText(s.Name)
		o.out = append(o.out, x)
	case s.Kind == syntax.Directive && o.directive(it, &x):
		o.out = append(o.out, x)
	}
}

// directive fills in what a directive defines, if it defines something.
func (o *outline) directive(it *program.Item, x *DocSymbol) bool {
	s := it.Stmt
	switch s.Directive.Effect {
	case syntax.EffSet, syntax.EffThumbSet:
		if len(s.Ops) == 0 || s.Ops[0].Word == "" {
			return false
		}
		x.Name, x.NameSpan = s.Ops[0].Word, o.Span(o.file, int(it.Line), s.Ops[0].Start, s.Ops[0].End)
		x.Kind, x.Detail = program.SymConstant, o.valueText(x.Name)
	case syntax.EffComm, syntax.EffCommon:
		return o.common(it, x)
	case syntax.EffReq, syntax.EffWord, syntax.EffVec, syntax.EffList:
		x.Kind, x.Detail = program.SymRegister, o.stands(s.Name)
	case syntax.EffMacro, syntax.EffMacroBelow:
		for len(o.Macros) > o.macros && o.Macros[o.macros].Item < it.Index {
			o.macros++
		}
		if len(o.Macros) <= o.macros || o.Macros[o.macros].Item != it.Index {
			return false
		}
		m := o.Macros[o.macros]
		x.Name, x.NameSpan, x.Full.End = m.Name, o.MacroAt(m).Span, o.lineEnd(int(m.End))
		x.Kind, x.Detail = program.SymMacro, "macro, called "+wording.Plural(len(m.Calls), "time", "times")
	case syntax.EffField:
		y := o.SymbolOf(s.Name)
		if y == nil || y.Item != it.Index {
			return false
		}
		x.Kind, x.Detail = program.SymConstant, o.valueText(s.Name)
	case syntax.EffSection, syntax.EffPush, syntax.EffArea:
		o.close()
		x.Name, x.Kind, x.Detail = o.Sections[it.Section].Name, program.SymSection, "section"
	default:
		return false
	}
	return true
}

// common fills in a symbol of .comm and the like.
func (o *outline) common(it *program.Item, x *DocSymbol) bool {
	s := it.Stmt
	text := o.LineText(it)[:s.End]
	n, _, _ := strings.Cut(strings.TrimLeft(text[s.NameEnd:], " \t"), ",")
	n = strings.TrimSpace(n)
	y := o.SymbolOf(n)
	if y == nil {
		return false
	}
	at := s.NameEnd + int32(strings.Index(text[s.NameEnd:], n))
	x.Name, x.NameSpan = n, o.Span(o.file, int(it.Line), at, at+int32(len(n)))
	x.Kind, x.Detail = program.SymData, "common"
	if y.Value.Kind == program.Address {
		x.Detail = o.PlaceText(y.Value.Section, y.Value.N)
	}
	return true
}
