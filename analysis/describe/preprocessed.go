package describe

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// argumentAt is the word at a byte offset among the arguments of a macro of the
// preprocessor, with its place, and where the word is in the text that the
// assembler sees.
func (r *View) argumentAt(file int32, off int) (word string, span finding.Span, line int, col int32, ok bool) {
	u := r.Sources[file].Unit
	if u == nil {
		return
	}
	use, m, text := u.UseAt(off)
	raw := u.Raw.Text()
	if m == nil || !m.FuncLike || off < use.Start+len(m.Name) {
		return
	}
	a, b := off, off
	for a > use.Start+len(m.Name) && program.IdentByte(raw[a-1]) {
		a--
	}
	for b < use.End && program.IdentByte(raw[b]) {
		b++
	}
	line, col, ok = u.At(off)
	i := -1
	if a < b {
		i = program.WordIn(text, raw[a:b], 0)
	}
	return raw[a:b], finding.Span{Start: a, End: b}, line, col + int32(i), ok && i >= 0
}

// hoverHash describes the directive of the preprocessor at a byte offset.
func (r *View) hoverHash(path string, off int) (Hover, bool) {
	file := r.FileOf(path)
	if file < 0 || !r.Sources[file].Preprocessed() {
		return Hover{}, false
	}
	f := r.Sources[file].Unit.Raw
	if off < 0 || off > len(f.Text()) {
		return Hover{}, false
	}
	n := f.LineAt(off)
	text := f.Line(n).Text
	a, _ := program.Trimmed(text, 0, int32(len(text)))
	if int(a) >= len(text) || text[a] != '#' {
		return Hover{}, false
	}
	b, _ := program.Trimmed(text, a+1, int32(len(text)))
	e := b
	for int(e) < len(text) && program.IdentByte(text[e]) {
		e++
	}
	d, ok := preprocess.FindDirective("#" + text[b:e])
	start := f.LineStart(n)
	if !ok || off > start+int(e) {
		return Hover{}, false
	}
	return Hover{finding.Span{Start: start + int(a), End: start + int(e)}, fmt.Sprintf("`%s`\n\n%s\n", d.Usage, d.Doc)}, true
}

// useAt is the macro of the preprocessor that is named at byte offset off of a
// file, nil without one.
func (r *View) useAt(path string, off int) *preprocess.Macro {
	file := r.FileOf(path)
	if file < 0 {
		return nil
	}
	u := r.Sources[file].Unit
	if u == nil || off < 0 || off > len(u.Raw.Text()) {
		return nil
	}
	return u.MacroAt(off)
}

// hoverUse describes the macro of the preprocessor at a byte offset, and what
// the assembler sees of the line.
func (r *View) hoverUse(path string, off int) (Hover, bool) {
	m := r.useAt(path, off)
	if m == nil {
		return Hover{}, false
	}
	file := r.FileOf(path)
	f := r.Sources[file].File
	text := f.Text()
	a, b := off, off
	for a > 0 && program.IdentByte(text[a-1]) {
		a--
	}
	for b < len(text) && program.IdentByte(text[b]) {
		b++
	}
	header := m.Name
	if m.FuncLike {
		params := m.Params
		if m.Variadic {
			params = append(params[:len(params)-1:len(params)-1], "...")
		}
		header += "(" + strings.Join(params, ", ") + ")"
	}
	md := fmt.Sprintf("```c\n%s\n```\n\nMacro of the preprocessor, ", wording.ClipText(strings.TrimSpace("#define "+header+" "+m.Text), 400))
	switch {
	case m.Path != "":
		md += "defined " + wording.Where(r.Program, finding.Location{Path: m.Path, Span: finding.Span{Start: m.Start, End: m.End}}, nil)
	case m.Builtin:
		md += "built in"
	case r.given(m.Name):
		md += "defined by the settings"
	default:
		md += "predefined for " + r.Environments[0].Target
	}
	md += fmt.Sprintf("; used %s.", wording.Plural(len(r.Sources[file].Unit.Uses(m)), "time", "times"))
	if _, whole, made := r.Sources[file].Unit.UseAt(off); whole != nil && strings.TrimSpace(made) != strings.TrimSpace(m.Text) {
		md += "\n\nHere it makes:\n\n```\n" + wording.ClipText(strings.TrimSpace(made), 400) + "\n```"
	}
	if m.Path != "" {
		md += r.aboutPlace(program.PlaceAt(m.Path, finding.Span{Start: m.Start, End: m.End}))
	}
	_, _, made := r.Sources[file].Unit.UseAt(off)
	if strings.TrimSpace(made) == "" {
		made = m.Text
	}
	if st := syntax.ParseAs(".word "+made, syntax.Dots).Line(0).Stmts; len(st) == 1 && len(st[0].Ops) == 1 && st[0].Ops[0].Known {
		md += "\n\n" + numberText(st[0].Ops[0].Imm)
		if s := bitsText(st[0].Ops[0].Imm); s != "" {
			md += "  \n" + s
		}
	}
	return Hover{finding.Span{Start: a, End: b}, md}, true
}

// given says whether the settings define a macro of the preprocessor.
func (r *View) given(name string) bool {
	if len(r.Defines) == 0 {
		return false
	}
	for _, d := range r.Defines {
		if rest, ok := strings.CutPrefix(d, name); ok && (rest == "" || rest[0] == '=' || rest[0] == '(') {
			return true
		}
	}
	return false
}

// usesOf lists where a macro of the preprocessor is defined and used.
func (r *View) usesOf(m *preprocess.Macro) []finding.Location {
	var out []finding.Location
	if m.Path != "" {
		out = append(out, finding.Location{Path: m.Path, Span: finding.Span{Start: m.Start, End: m.End}})
	}
	for _, u := range r.Sources[0].Unit.Uses(m) {
		out = append(out, finding.Location{Path: u.Path, Span: finding.Span{Start: u.Start, End: u.End}})
	}
	return out
}
