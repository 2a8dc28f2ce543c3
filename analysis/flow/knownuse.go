package flow

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// mostWays bounds the lines that are looked at to find where a register is set or used.
const mostWays = 500

// SetBefore lists the lines that may have set what a register is before a line, as far as
// they are near.
func (r *Paths) SetBefore(it *program.Item, reg isa.Reg) []*program.Item {
	list, _ := r.before(it, func(e *isa.Effects) bool { return e.Writes.Has(reg) }, standardChanges.Has(reg))
	return list
}

// FlagsBefore lists the lines that may have set some of the flags before a line; all is false
// where others may have, which are not near or not known.
func (r *Paths) FlagsBefore(it *program.Item, flags isa.Flags) (list []*program.Item, all bool) {
	for f := isa.N; f != 0 && f <= flags; f <<= 1 {
		if flags&f == 0 {
			continue
		}
		more, ok := r.before(it, func(e *isa.Effects) bool { return e.FlagsWritten&f != 0 }, true)
		if !ok {
			return nil, false
		}
		for _, x := range more {
			if !slices.Contains(list, x) {
				list = append(list, x)
			}
		}
	}
	return list, true
}

// before lists the lines before a line, on each way the last ones that set something; called:
// calls change it, too. all is false where some way has none, or comes from where is not known.
func (r *Paths) before(it *program.Item, sets func(*isa.Effects) bool, called bool) (list []*program.Item, all bool) {
	g := r.graphOf()
	s := g.stepAt[it.Index]
	if g.steps[s].item != it.Index {
		return nil, false
	}
	all = true
	from := g.predecessors()
	seen := map[int32]bool{}
	looked := 0
	var block func(b, last int32)
	block = func(b, last int32) {
		for n := last; n >= g.blocks[b].first; n-- {
			x := g.item(n)
			if looked++; looked > mostWays || x == nil || g.steps[n].data || x.Match.Form == nil {
				all = false
				return
			}
			if e := x.Match.Effects(); sets(&e) {
				if list = append(list, x); !e.Conditional {
					return
				}
			}
		}
		before := append([]int32(nil), from.of(b)...)
		if b > 0 && g.blocks[b-1].fall {
			before = append(before, b-1)
		}
		if x := &g.blocks[b]; len(before) == 0 || x.called || g.steps[x.first].taken || g.steps[x.first].hand || g.steps[x.first].named {
			all = false
		}
		for _, p := range before {
			switch w := g.steps[g.blocks[p].last].way; {
			case w == calls || w == callsBy:
				if p+1 != b || called {
					all = false
					continue // a caller, or a routine that may set it
				}
			}
			if !seen[p] {
				seen[p] = true
				block(p, g.blocks[p].last)
			}
		}
	}
	block(g.steps[s].block, s-1)
	return list, all
}

// UsedAfter lists the lines that read a register next after a line, as far as they are near.
func (r *Paths) UsedAfter(it *program.Item, reg isa.Reg) (list []*program.Item) {
	g := r.graphOf()
	s := g.stepAt[it.Index]
	if g.steps[s].item != it.Index {
		return nil
	}
	seen := map[int32]bool{}
	todo := g.after(s, nil)
	for len(todo) > 0 && len(seen) < mostWays {
		n := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		x := g.item(n)
		if seen[n] || x == nil || g.steps[n].data || x.Match.Form == nil {
			continue
		}
		seen[n] = true
		e := x.Match.Effects()
		if e.Reads.Has(reg) {
			list = append(list, x)
			continue
		}
		if e.Writes.Has(reg) && !e.Conditional {
			continue
		}
		if w := g.steps[n].way; (w == calls || w == callsBy) && standardChanges.Has(reg) {
			continue
		}
		todo = g.after(n, todo)
	}
	return list
}

// after adds the steps to which execution goes on from a step, calls apart.
func (g *graph) after(s int32, todo []int32) []int32 {
	x := &g.blocks[g.steps[s].block]
	if s < x.last {
		return append(todo, s+1)
	}
	if g.steps[s].way == jumps {
		for _, t := range g.edges[x.from:x.to] {
			todo = append(todo, g.blocks[t].first)
		}
	}
	if x.fall {
		todo = append(todo, s+1)
	}
	return todo
}

// label is a name for a place.
type label struct {
	sec  int16
	off  int64
	name string
}

// PlaceName names an address in a section: by the label at it or the nearest one before it.
func (k *Known) PlaceName(b values.Base, off int32) string {
	if k.labels == nil {
		k.g.EachSymbol(func(y *program.Symbol) {
			if y.Label && y.Defined && y.Value.Kind == program.Address && y.Name != "" && y.Name[0] != '.' {
				k.labels = append(k.labels, label{y.Value.Section, y.Value.N &^ 1, y.Name})
			}
		})
		sort.SliceStable(k.labels, func(i, j int) bool {
			a, b := k.labels[i], k.labels[j]
			return a.sec < b.sec || a.sec == b.sec && (a.off < b.off || a.off == b.off && a.name < b.name)
		})
	}
	sec := int16(b.ID)
	n := sort.Search(len(k.labels), func(i int) bool {
		return k.labels[i].sec > sec || k.labels[i].sec == sec && k.labels[i].off > int64(off)
	}) - 1
	name, d := k.g.Sections[sec].Name, int64(off)
	if n >= 0 && k.labels[n].sec == sec {
		name, d = k.labels[n].name, int64(off)-k.labels[n].off
	}
	switch {
	case d > 0:
		return fmt.Sprintf("`%s + %d`", name, d)
	case d < 0:
		return fmt.Sprintf("`%s - %d`", name, -d)
	}
	return "`" + name + "`"
}

// RoutineName is the label at the entry of a base; empty where there is none.
func (k *Known) RoutineName(b values.Base) string {
	it := k.Entry(b)
	if it == nil {
		return ""
	}
	order := k.g.Order[it.Section]
	for n := k.g.Position(it) - 1; n >= 0; n-- {
		x := &k.g.Items[order[n]]
		if y := k.g.SymbolOf(x.Stmt.Name); y != nil && y.Label && y.Item == x.Index {
			return y.Name
		}
		if x.Size > 0 {
			break
		}
	}
	return ""
}

// LoadedBy is the line that has loaded a value from memory, in a register, and what has been
// added to it since; nil where that is not known.
func (k *Known) LoadedBy(w values.Word) (it *program.Item, added uint32) {
	if w.ID == 0 || w.ID>>31 != 0 || int(w.ID>>4) > len(k.g.steps) {
		return nil, 0
	}
	it = k.g.item(int32(w.ID>>4) - 1)
	if it == nil || it.Match.Form == nil || it.Match.Form.Row.Access != 4 {
		return nil, 0
	}
	if e := it.Match.Effects(); !e.ReadsMem || e.WritesMem {
		return nil, 0
	}
	return it, w.Plus
}

// Stored is the line of data that has the word at an address in a section, and which of
// its operands that is; nil where there is none, or where the section is one that is written to.
func (k *Known) Stored(at values.Word) (it *program.Item, operand int) {
	s := &k.g.Sections[at.Base.ID]
	if !s.Exact || strings.Contains(s.Declaration.Flags, "w") || !s.Exec && !strings.HasPrefix(s.Name, ".rodata") {
		return nil, 0
	}
	order, off := k.g.Order[at.Base.ID], int64(int32(at.Val))
	n := sort.Search(len(order), func(i int) bool { return k.g.Items[order[i]].Offset > off }) - 1
	for ; n >= 0 && k.g.Items[order[n]].Size == 0; n-- {
	}
	if n < 0 {
		return nil, 0
	}
	it = &k.g.Items[order[n]]
	if d := it.Stmt; d.Kind != syntax.Directive || d.Directive.Effect != syntax.EffData || k.g.Unit(it) != 4 || (off-it.Offset)%4 != 0 || off-it.Offset >= int64(4*len(d.Ops)) {
		return nil, 0
	}
	return it, int(off-it.Offset) / 4
}

// Labelled says whether a label is at an address in a section.
func (k *Known) Labelled(at values.Word) bool {
	order := k.g.Order[at.Base.ID]
	n := sort.Search(len(order), func(i int) bool { return k.g.Items[order[i]].Offset >= int64(int32(at.Val)) })
	for ; n < len(order) && k.g.Items[order[n]].Offset == int64(int32(at.Val)); n++ {
		if k.g.Items[order[n]].Stmt.Kind == syntax.Label {
			return true
		}
	}
	return false
}
