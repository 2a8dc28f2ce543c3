package describe

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// IncludeLine is a line that includes a file which was found.
type IncludeLine struct {
	At   finding.Location // the name, without quotes or brackets
	Name string           // as written
	Path string           // where it was found
	// C: the preprocessor includes it; System: by a name in angle brackets.
	C, System bool
}

// IncludeLines lists the lines that include files: those of the preprocessor, and those of
// the assembler.
func (r *View) IncludeLines() (out []IncludeLine) {
	add := func(at finding.Location, text, path string, c bool) {
		in := IncludeLine{Path: path, C: c}
		name := strings.Trim(text[at.Span.Start:at.Span.End], " \t")
		at.Span.Start += strings.Index(text[at.Span.Start:at.Span.End], name)
		at.Span.End = at.Span.Start + len(name)
		if n := len(name); n > 1 && (name[0] == '"' && name[n-1] == '"' || name[0] == '<' && name[n-1] == '>') {
			in.System = name[0] == '<'
			name = name[1 : n-1]
			at.Span.Start, at.Span.End = at.Span.Start+1, at.Span.End-1
		}
		if name != "" {
			in.At, in.Name = at, name
			out = append(out, in)
		}
	}
	for i := range r.Sources {
		s := &r.Sources[i]
		if s.Unit != nil {
			for _, in := range s.Unit.Includes {
				if in.Found && in.Path != "" && in.End <= len(s.Unit.Raw.Text()) {
					add(finding.Location{Path: s.Path, Span: finding.Span{Start: in.Start, End: in.End}}, s.Unit.Raw.Text(), in.Path, true)
				}
			}
		}
		if s.Expansion != nil || i == 0 {
			continue
		}
		it := &r.Items[s.From]
		d := it.Stmt.Directive
		if d == nil || d.Effect != syntax.EffInclude || strings.HasPrefix(d.Name, "#") || r.Sources[it.File].Expansion != nil {
			continue
		}
		if l := r.Loc(it, it.Stmt.NameEnd, it.Stmt.End); l.Use == nil {
			text := r.Sources[it.File].Written(int(it.Line))
			cut := syntax.WithoutComments(text[min(int(it.Stmt.NameEnd), len(text)):min(int(it.Stmt.End), len(text))])
			whole := r.rawText(it.File)
			if k := strings.Index(whole[l.Span.Start:l.Span.End], cut); k >= 0 {
				l.Span.Start += k
				l.Span.End = l.Span.Start + len(cut)
				add(l.Location, whole, s.Path, false)
			}
		}
	}
	return out
}

// rawText is the text of a file of the program as it is written.
func (r *View) rawText(file int32) string {
	if u := r.Sources[file].Unit; u != nil {
		return u.Raw.Text()
	}
	return r.Sources[file].File.Text()
}
