package analysis

import (
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
)

// overBudget is a list of findings with one for each section that takes more than the settings give it, at the
// line where that begins. Rewrites are judged without it: one that a line needs is offered
// though the section becomes larger.
func (r *Result) overBudget(diags []Diagnostic) []Diagnostic {
	if r.in.Set == nil || len(r.in.Set.Budget) == 0 {
		return diags
	}
	v := r.view()
	for i := range r.prog.Sections {
		s := &r.prog.Sections[i]
		most, ok := r.in.Set.Budget[s.Name]
		if !ok || int(s.Main) != i || s.Record || s.Size <= most || len(r.prog.Order[i]) == 0 {
			continue
		}
		at := &r.prog.Items[r.prog.Order[i][len(r.prog.Order[i])-1]]
		for _, k := range r.prog.Order[i] {
			if it := &r.prog.Items[k]; it.Size > 0 && it.Offset+it.Size > most {
				at = it
				break
			}
		}
		d := Diagnostic{Location: v.StmtLoc(at).Location, Severity: finding.Warning, Code: finding.CodeBudget, Message: wording.OverBudget(s.Name, s.Size, most)}
		diags = r.inserted(diags, d)
	}
	return diags
}

// inserted is a list of findings with one more, at its place.
func (r *Result) inserted(list []Diagnostic, d Diagnostic) []Diagnostic {
	rank := func(path string) int {
		return slices.IndexFunc(r.prog.Sources, func(s program.Source) bool { return s.Path == path })
	}
	own := rank(d.Path)
	k := slices.IndexFunc(list, func(x Diagnostic) bool {
		if x.Path == d.Path {
			return x.Span.Start > d.Span.Start
		}
		return rank(x.Path) > own
	})
	if k < 0 {
		k = len(list)
	}
	return slices.Insert(slices.Clone(list), k, d)
}
