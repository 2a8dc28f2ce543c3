package analysis

import (
	"strings"

	"narrowgauge/analysis/eval"
	linkage "narrowgauge/analysis/link"
)

// Links are the facts about the program that other sources are concerned with.
func (r *Result) Links() *LinkFile {
	if r.foreign {
		return &LinkFile{Path: r.prog.Path, Files: []string{r.prog.Path}}
	}
	f := linkage.Of(eval.New(r.prog))
	f.Severity = r.severity
	if r.in.Set != nil {
		f.Budget = r.in.Set.Budget
	}
	seen := map[string]bool{}
	for i := range r.prog.Sources {
		s := &r.prog.Sources[i]
		if s.File == nil || s.Expansion != nil || seen[s.Path] || !strings.Contains(s.File.Text(), allowMark) {
			continue
		}
		seen[s.Path] = true
		list, _ := allowances(s.Path, s.File)
		for _, a := range list {
			end := len(s.File.Text())
			if a.last+1 < s.File.NumLines() {
				end = s.File.LineStart(a.last + 1)
			}
			f.Allowed = append(f.Allowed, linkage.Allowance{Location: Location{Path: s.Path, Span: Span{Start: s.File.LineStart(a.first), End: end}}, Code: a.code})
		}
	}
	f.Allowed = linkage.Merged(f.Allowed)
	return f
}
