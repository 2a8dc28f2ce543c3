package describe

import (
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// Link is the name of a file in a source.
type Link struct {
	Span finding.Span // without quotes
	Name string       // as it is written
	Path string       // of a source that was found; empty for one that is taken as bytes
}

// LinksIn lists the names of files that were found which a file of the program includes, in the
// order of the text; and those that it takes as bytes.
func (r *View) LinksIn(path string) (out []Link) {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	unit := r.Sources[id].Unit
	if unit != nil {
		for _, inc := range unit.Includes {
			if inc.Found && inc.End-inc.Start > 2 {
				out = append(out, Link{finding.Span{Start: inc.Start + 1, End: inc.End - 1}, inc.Name, inc.Path})
			}
		}
	}
	read := map[int32]string{} // by the item that asks for it
	for i := range r.Sources {
		if s := &r.Sources[i]; s.Expansion == nil && s.From >= 0 {
			read[s.From] = s.Path
		}
	}
	for i := range r.Items {
		it := &r.Items[i]
		if it.File != id || it.Stmt.Kind != syntax.Directive || len(it.Stmt.Ops) == 0 || !it.Stmt.Ops[0].IsStr || it.Stmt.Ops[0].Names == nil {
			continue
		}
		o := &it.Stmt.Ops[0]
		l := Link{Span: r.Span(id, int(it.Line), o.Start, o.End), Name: o.Names.Str}
		switch it.Stmt.Directive.Effect {
		case syntax.EffInclude:
			if l.Path = read[it.Index]; l.Path == "" || unit != nil && unit.Includes[int(it.Line)] != nil {
				continue
			}
		case syntax.EffIncbin:
		default:
			continue
		}
		// Quotes are not there in each dialect.
		if text := r.LineIs(id, int(it.Line)); !r.Changed(it) && o.Start < o.End && int(o.End) <= len(text) && text[o.Start] == '"' && text[o.End-1] == '"' && o.End-o.Start > 2 {
			l.Span.Start, l.Span.End = l.Span.Start+1, l.Span.End-1
		}
		if l.Span.End > l.Span.Start {
			out = append(out, l)
		}
	}
	slices.SortFunc(out, func(a, b Link) int { return a.Span.Start - b.Span.Start })
	return slices.CompactFunc(out, func(a, b Link) bool { return a.Span == b.Span })
}
