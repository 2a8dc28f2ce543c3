package main

import (
	"context"
	"errors"
	"hash/maphash"
	"path/filepath"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

// tally takes what was found in the sources, one after the other, each finding once, and
// passes it on to be printed: of a source that has been taken it keeps what other sources are
// concerned with, and sums.
type tally struct {
	w      *workspace
	how    listing
	report reporter

	count    [4]int // by severity; those that are allowed or known do not count
	files    int
	skipped  bool // not every finding was searched for rewrites
	guessed  bool // a target was
	problems error
	met      met             // what the baseline knows, of all
	looked   map[string]bool // the files of the baseline that were looked at
	included map[string]bool // files that one of the sources includes, by their absolute paths
	preludes map[string]bool // base names of those that settings name
	seen     map[[2]uint64]bool
	seeds    [2]maphash.Seed
	held     held
	alone    bool            // nothing but sources in the folders that were named
	folders  map[string]bool // those
	units    []linked
}

// linked is what is kept of a source for those beside it.
type linked struct {
	source
	unit analysis.LinkUnit
}

func newTally(w *workspace, how listing, report reporter) *tally {
	return &tally{w: w, how: how, report: report, met: met{}, looked: map[string]bool{}, included: map[string]bool{}, preludes: map[string]bool{},
		seen: map[[2]uint64]bool{}, seeds: [2]maphash.Seed{maphash.MakeSeed(), maphash.MakeSeed()}, alone: true, folders: map[string]bool{}}
}

// close gives back what holds findings.
func (t *tally) close() { t.held.close() }

// take takes what was found in the next source.
func (t *tally) take(r checked) error {
	t.alone = t.alone && r.err == nil && r.walked
	t.folders[r.folder] = true
	if r.err != nil {
		t.problems = errors.Join(t.problems, r.err)
		return nil
	}
	t.files++
	t.skipped, t.guessed = t.skipped || r.skipped, t.guessed || r.guessed
	t.know(&r)
	for _, path := range r.includes {
		if path != r.abs && !t.included[path] {
			t.included[path] = true
			if t.how.several {
				t.w.reaches(path, r.source)
			}
		}
	}
	for _, path := range r.prelude {
		t.preludes[filepath.Base(path)] = true
	}
	if r.links != nil {
		t.units = append(t.units, linked{r.source, analysis.LinkUnit{File: r.links, Groups: r.groups}})
	}
	out := outcome{r.source.abs, r.path, r.walked, r.found, r.rest}
	if t.how.several && (t.held.any() || r.walked && !t.included[r.abs] && (t.preludes[filepath.Base(r.abs)] || t.w.mayBeIncluded(r.source))) {
		t.problems = errors.Join(t.problems, t.held.add(&out))
		return nil
	}
	return t.print(&out)
}

// know adds what the baseline knows of a source.
func (t *tally) know(r *checked) {
	for k, n := range r.met {
		t.met[k] = max(t.met[k], n)
	}
	if t.w.known != nil {
		if name := t.w.known.relative(r.abs); t.w.known.files[name] {
			t.looked[name] = true
		}
	}
}

// outcome is what is to be printed of a source.
type outcome struct {
	abs, path string
	walked    bool
	found     []found
	rest      [4]int
}

// print passes the findings of a source on, but not those of one that is found in a folder
// and is a part of others: the file that includes another knows more about it.
func (t *tally) print(out *outcome) error {
	part := out.walked && t.included[out.abs]
	for i := range out.found {
		f := &out.found[i]
		if part && f.abs == out.abs || t.known(f, out) {
			continue
		}
		if f.allowed == nil && f.state != knownFinding {
			t.count[f.diag.Severity]++
		}
		if err := t.report.add(f); err != nil {
			return err
		}
	}
	if part {
		return nil
	}
	// What is counted and not printed is not kept one by one.
	for sev, n := range out.rest {
		t.count[sev] += n
	}
	if n := unlisted(out.rest, t.how); n > 0 {
		return t.report.add(&found{abs: out.abs, diag: analysis.Diagnostic{Location: analysis.Location{Path: out.path}}, more: n})
	}
	return nil
}

// known says whether a finding has been passed on before, in a file that several sources
// include. Such findings are remembered by two sums of 64 bits.
func (t *tally) known(f *found, out *outcome) bool {
	if !t.how.several || out.walked && f.abs == out.abs && !t.w.mayBeIncluded(source{abs: out.abs}) && !t.preludes[filepath.Base(out.abs)] {
		return false
	}
	type identity struct {
		abs, code, message string
		span               analysis.Span
	}
	id := identity{f.abs, f.diag.Code, f.diag.Message, f.diag.Span}
	sum := [2]uint64{maphash.Comparable(t.seeds[0], id), maphash.Comparable(t.seeds[1], id)}
	if t.seen[sum] {
		return true
	}
	t.seen[sum] = true
	return false
}

// rest passes on what was held, and what does not fit between the sources.
func (t *tally) rest(ctx context.Context, sources []source, style style) error {
	err := t.held.each(t.print)
	if err != nil || !t.how.several {
		return err
	}
	return t.across(ctx, sources, style)
}

// across finds what does not fit between several sources. A source that another one includes
// is a part of that.
func (t *tally) across(ctx context.Context, sources []source, style style) error {
	all := &analysis.Workspace{Closed: t.alone && closed(ctx, t.folders, len(sources))}
	var of []source
	at := map[string]int{} // by their paths
	for i := range t.units {
		if u := &t.units[i]; !t.included[u.abs] {
			at[u.path] = len(of)
			all.Units = append(all.Units, &u.unit)
			of = append(of, u.source)
		}
	}
	if len(of) < 2 {
		return nil
	}
	for i, src := range of {
		list := all.Check(i)
		if len(list) == 0 {
			continue
		}
		text, _, err := t.w.read(src)
		if err != nil {
			continue // it is gone meanwhile
		}
		p, err := t.w.open(src, syntax.Parse(text))
		if err != nil {
			continue
		}
		r := checked{source: src, met: met{}}
		print := newRenderer(p, t.how, style)
		var tells analysis.Tells
		for _, d := range list {
			for _, other := range d.Related {
				if i, ok := at[other.Path]; ok {
					t.w.add(p, of[i])
				}
			}
			if file := p.file(d.Path); file != nil { // else it is in a file that is included
				if d, ok := tells.Told(d, file, p.in.Set); ok {
					t.w.keep(&r, print, d, t.how)
				}
			}
		}
		p.close()
		t.know(&r)
		if err := t.print(&outcome{r.abs, r.path, r.walked, r.found, r.rest}); err != nil {
			return err
		}
	}
	return nil
}

// add makes the text of another source known to a program, so that a place in it can be shown.
func (w *workspace) add(p *program, src source) {
	if p.file(src.path) != nil {
		return
	}
	if text, _, err := w.read(src); err == nil {
		p.mu.Lock()
		p.files[src.path] = syntax.Parse(text)
		p.mu.Unlock()
	}
}

// closed says whether so many sources are all there is in folders: nothing in other languages,
// no libraries, and no single files.
func closed(ctx context.Context, folders map[string]bool, sources int) bool {
	for dir := range folders {
		if in := project.FindSources(ctx, dir, sources); !in.All || len(in.Texts) > 0 || in.Objects > 0 {
			return false
		}
	}
	return true
}

// weight is what a result takes while it waits, about.
func (r checked) weight() int {
	n := 0
	for i := range r.found {
		f := &r.found[i]
		n += aFinding + len(f.text) + len(f.diag.Message) + len(f.json.Message) + len(f.line)
		n += (len(f.json.Notes) + len(f.json.Rewrites)) * aFinding
	}
	return n
}

// aFinding is what a finding takes without its texts, in bytes, about.
const aFinding = 512

// unlisted is how many findings that are not printed would be, if there were room.
func unlisted(rest [4]int, how listing) (n int) {
	for sev, k := range rest {
		if analysis.Severity(sev) != analysis.Hint || how.hints {
			n += k
		}
	}
	return n
}

// knownCount is how many findings the baseline knows.
func (t *tally) knownCount() (n int) {
	for _, k := range t.met {
		n += k
	}
	return n
}
