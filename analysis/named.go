package analysis

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/rename"
)

// Names where nothing is assembled: in conditions, in bodies of macros and of what is repeated,
// in lines that are left out. What is assembled knows nothing of them; what another name would
// replace does, so that navigation and renaming mean the same places.

// namedLike lists the places that name what is at byte offset off of a file, those of
// assembled lines first.
func (r *Result) namedLike(path string, off int) []Location {
	v, p := r.view(), r.forRename()
	t, err := p.At(path, off)
	if err == nil && t.Kind == rename.Parameter {
		return p.Places(t) // whatever else has the name
	}
	if err != nil && !t.Defined { // what the settings define cannot be renamed, and has places all the same
		return v.ReferencesIn(path, off)
	}
	places := p.Places(t)
	v.Written = r.linesOf(places)
	out := v.ReferencesIn(path, off)
	switch y := p.SymbolOf(t.Name); {
	case len(out) > 0:
	case t.Kind == rename.Symbol && y != nil:
		out = v.ReferencesOf(y)
	case t.Kind == rename.Macro:
		for _, m := range p.Macros {
			if strings.EqualFold(m.Name, t.Name) {
				out = append(out, v.CallsOf(m)...)
			}
		}
	}
	seen := map[finding.Location]bool{}
	var wide []finding.Location // calls of macros that make the name
	for _, l := range out {
		seen[l] = true
		if l.Span.End-l.Span.Start > len(t.Name) {
			wide = append(wide, l)
		}
	}
	for _, l := range places {
		inside := slices.ContainsFunc(wide, func(w finding.Location) bool {
			return w.Path == l.Path && w.Span.Start <= l.Span.Start && l.Span.End <= w.Span.End
		})
		if !seen[l] && !inside {
			seen[l] = true
			out = append(out, l)
		}
	}
	return out
}

// linesOf are the lines that places are in.
func (r *Result) linesOf(places []finding.Location) map[program.BodyLine]bool {
	out := map[program.BodyLine]bool{}
	for _, l := range places {
		if file := r.prog.FileOf(l.Path); file >= 0 {
			out[program.BodyLine{File: file, Line: int32(r.prog.Sources[file].AsWritten().LineAt(l.Span.Start))}] = true
		}
	}
	return out
}

// hoverName describes a name where nothing is assembled.
func (r *Result) hoverName(t rename.Target) (Hover, bool) {
	v, text := r.view(), ""
	switch t.Kind {
	case rename.Symbol:
		text = v.SymbolText(t.Name)
	case rename.Macro:
		text = v.MacroText(t.Name)
	case rename.Alias:
		text = v.AliasText(t.Name)
	}
	return Hover{Span: t.Span, Markdown: text}, text != ""
}

// hoverParameter describes a macro's parameter: also in the line that declares it, which has a
// meaning as a whole as well.
func (r *Result) hoverParameter(t rename.Target) (Hover, bool) {
	text := r.view().ParameterText(t.Macro(), t.Name)
	return Hover{Span: t.Span, Markdown: text}, text != ""
}
