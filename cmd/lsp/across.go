package main

import (
	"context"
	"slices"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

// across adds what does not fit between the sources that have been checked, where they are
// several. A source that another one includes is a part of that.
func (w *workspace) across(ctx context.Context, results []checked, included map[string]bool, how listing, style style) {
	all := &analysis.Workspace{Closed: alone(ctx, results)}
	var of []*checked
	for i := range results {
		if r := &results[i]; r.err == nil && r.links != nil && !included[r.abs] {
			all.Units = append(all.Units, &analysis.LinkUnit{File: r.links, Groups: r.groups})
			of = append(of, r)
		}
	}
	if len(of) < 2 {
		return
	}
	for i, r := range of {
		list := all.Check(i)
		if len(list) == 0 {
			continue
		}
		text, _, err := w.read(r.source)
		if err != nil {
			continue // it is gone meanwhile
		}
		p, err := w.open(r.source, syntax.Parse(text))
		if err != nil {
			continue
		}
		for _, d := range list {
			for _, other := range d.Related {
				w.add(p, of, other.Path)
			}
		}
		print := newRenderer(p, how, style)
		for _, d := range list {
			if file := p.file(d.Path); file != nil { // else it is in a file that is included
				if d, ok := analysis.Told(d, file, p.in.Set); ok {
					w.keep(r, print, d, how)
				}
			}
		}
		slices.SortStableFunc(r.found, func(a, b found) int {
			if a.abs != b.abs {
				return 0
			}
			return a.diag.Span.Start - b.diag.Span.Start
		})
		p.close()
	}
}

// add makes the text of another source known to a program, so that a place in it can be shown.
func (w *workspace) add(p *program, of []*checked, path string) {
	i := slices.IndexFunc(of, func(r *checked) bool { return r.path == path })
	if i < 0 || p.file(path) != nil {
		return
	}
	if text, _, err := w.read(of[i].source); err == nil {
		p.mu.Lock()
		p.files[path] = syntax.Parse(text)
		p.mu.Unlock()
	}
}

// alone says whether the sources are all there is in the folders that were named: nothing in
// other languages, no libraries, and no single files.
func alone(ctx context.Context, results []checked) bool {
	seen := map[string]bool{}
	for _, r := range results {
		if r.err != nil || !r.walked {
			return false
		}
		seen[r.folder] = true
	}
	for dir := range seen {
		if in := project.FindSources(ctx, dir, len(results)); !in.All || len(in.Texts) > 0 || in.Objects > 0 {
			return false
		}
	}
	return true
}
