package preprocess

import (
	"slices"
	"sort"
	"sync"
)

// Use is a place where a macro is used.
type Use struct {
	Path       string
	Start, End int
}

// inText is a use of a macro in another one's text.
type inText struct {
	owner      *Macro // whose text it is
	start, end int
	m          *Macro
}

// part is something of what a run has made: macros and such uses, or the parts
// of an included file.
type part struct {
	macros []*Macro
	list   []inText // each once
	seen   map[inText]bool
	from   []part
	now    renamed
}

// closed is a copy of parts that do not change any more.
func closed(list []part) []part {
	out := make([]part, 0, len(list))
	for _, p := range list {
		p.seen = nil
		if len(p.macros)+len(p.list)+len(p.from) > 0 {
			out = append(out, p)
		}
	}
	return out
}

func (p *part) add(x inText) {
	if p.seen[x] {
		return
	}
	if p.seen == nil {
		p.seen = map[inText]bool{}
	}
	p.seen[x] = true
	p.list = append(p.list, x)
}

// facts says what a run has made of macros. Most of it is computed when
// somebody asks: it takes time in step with all that is included.
type facts struct {
	units []*Unit
	parts []part
	table *node // as it was in the end

	once  sync.Once
	marks map[*origin][]mark // sorted by start
	by    map[*Macro][]Use
}

func (f *facts) compute() {
	f.marks, f.by = map[*origin][]mark{}, map[*Macro][]Use{}
	texts := map[*origin][]mark{}
	seen := map[inText]bool{}
	add := func(x inText) {
		if !seen[x] {
			seen[x] = true
			texts[x.owner.origin] = append(texts[x.owner.origin], mark{x.start, x.end, x.m})
		}
	}
	walkParts(f.parts, nil, add)
	// Names in texts that were never expanded.
	for _, m := range listMacros(nil, f.parts) {
		for _, t := range m.body {
			if t.kind == kName && t.unit != nil {
				if x := f.table.get(t.text); x != nil {
					add(inText{m, t.off, t.end, x})
				}
			}
		}
	}
	// A file that is read several times has the same uses every time.
	times := map[string]int{}
	for _, u := range f.units {
		times[u.Path]++
	}
	type key struct {
		m     *Macro
		path  string
		start int
	}
	told := map[key]bool{}
	for _, u := range f.units {
		marks := make([]mark, 0, len(u.marks)+len(texts[u.origin]))
		for _, k := range u.marks {
			marks = append(marks, mark{k.start, k.end, u.now.of(k.m)})
		}
		marks = append(marks, texts[u.origin]...)
		slices.SortStableFunc(marks, func(a, b mark) int { return a.start - b.start })
		f.marks[u.origin] = marks
		for _, k := range marks {
			if k.m.Start == k.start && k.m.Path == u.Path && k.m.origin != nil {
				continue // the definition itself
			}
			if times[u.Path] > 1 {
				key := key{k.m, u.Path, k.start}
				if told[key] {
					continue
				}
				told[key] = true
			}
			f.by[k.m] = append(f.by[k.m], Use{u.Path, k.start, k.end})
		}
	}
}

// walkParts calls f for all uses, with the macros of this run.
func walkParts(list []part, now []renamed, f func(x inText)) {
	for _, p := range list {
		for _, x := range p.list {
			for k := len(now) - 1; k >= 0; k-- {
				x.m = now[k].of(x.m)
				if m := now[k].of(x.owner); m != x.owner {
					by := m.Start - x.owner.Start
					x.owner, x.start, x.end = m, x.start+by, x.end+by
				}
			}
			f(x)
		}
		if p.from != nil {
			walkParts(p.from, append(now[:len(now):len(now)], p.now), f)
		}
	}
}

func listMacros(out []*Macro, list []part) []*Macro {
	for _, p := range list {
		out = listMacros(append(out, p.macros...), p.from)
	}
	return out
}

// Macros lists all macros that the run has seen defined, in this order.
func (u *Unit) Macros() []*Macro { return listMacros(nil, u.facts.parts) }

// Uses lists the places where a macro is expanded, called or asked for in any
// file of the run, in other macros' texts too. Inside '@' comments nothing counts.
func (u *Unit) Uses(m *Macro) []Use {
	u.facts.once.Do(u.facts.compute)
	return u.facts.by[m]
}

// MacroAt is the macro whose name is at byte off of the raw file, where it
// is used, asked for or defined; nil without.
func (u *Unit) MacroAt(off int) *Macro {
	marks := u.allMarks()
	k := sort.Search(len(marks), func(k int) bool { return marks[k].end >= off })
	for ; k < len(marks) && marks[k].start <= off; k++ {
		if off < marks[k].end || k+1 == len(marks) || marks[k+1].start > off {
			return marks[k].m
		}
	}
	return nil
}

// allMarks are the file's marks, with those in macros' texts.
func (u *Unit) allMarks() []mark {
	u.facts.once.Do(u.facts.compute)
	return u.facts.marks[u.origin]
}
