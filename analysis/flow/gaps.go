package flow

import (
	"slices"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// Gap is a place between two lines: First is after it, nil at the end of a section.
type Gap struct{ Before, First *program.Item }

// Unreached gives the lines without a label that are after one that never goes on, where
// nothing leads. Padding is not among them.
func (r *Paths) Unreached(f func(Gap)) {
	g := r.graphOf()
	in := make([]bool, len(g.blocks))
	for _, t := range g.edges {
		in[t] = true
	}
	for b := 1; b < len(g.blocks); b++ {
		x := &g.blocks[b]
		s := &g.steps[x.first]
		last := &g.steps[g.blocks[b-1].last]
		if s.item < 0 || last.item < 0 || s.data || last.data || in[b] || x.called || s.taken || s.named || s.hand || g.blocks[b-1].fall {
			continue
		}
		switch last.way {
		case jumps, returns, stops:
		default:
			continue
		}
		if g.inRow(x.first, last.way) {
			continue
		}
		it, before := &g.Items[s.item], &g.Items[last.item]
		if it.Section == before.Section && it.Match.Form != nil && !idles(it) && !g.between(before, it, func(x *program.Item) bool { return x.Stmt.Kind == syntax.Label || x.Flags&program.Opaque != 0 }) {
			f(Gap{before, it})
		}
	}
}

// aRow is how many lines that never go on are a row, whatever they are: the core chooses one of
// eight for an exception (DDI 0100I, A2.6, from memory).
const aRow = 4

// inRow says whether a step after one of a way is of a row of lines of which something chooses one:
// branches; in A32 code loads of the program counter as well, or any that never go on, where there
// are some.
func (g *graph) inRow(s int32, before way) bool {
	x, it := &g.steps[s], g.item(s)
	switch {
	case x.runsOn || before != jumps && before != returns || it == nil || it.Match.Form == nil:
		return false
	case x.way == jumps && before == jumps:
		return true
	case g.Environments[it.Environment].Mode != isa.A: // whose vectors are words, or as above
		return false
	case before == jumps && x.way == leaves && it.Match.Effects().ReadsMem:
		return true
	}
	slot := func(s int32) bool {
		if s < 0 || int(s) >= len(g.steps) || g.steps[s].data || g.item(s) == nil || g.item(s).Match.Form == nil {
			return false
		}
		switch w := g.steps[s].way; w {
		case jumps, leaves, returns:
			return !g.steps[s].runsOn
		default:
			return w == goesOn && idles(g.item(s))
		}
	}
	a, b := s, s
	for b-a < aRow && slot(a-1) {
		a--
	}
	for b-a < aRow && slot(b+1) {
		b++
	}
	return slot(s) && b-a >= aRow-1
}

// idles says whether a line does nothing.
func idles(it *program.Item) bool {
	e := it.Match.Effects()
	return e.Writes == 0 && !e.WritesMem && e.Flow == isa.FlowNext && e.FlagsWritten == 0 || e.Reads == e.Writes && e.Reads.Count() == 1 && e.FlagsWritten == 0 && (opOf(it) == "mov" || opOf(it) == "nop")
}

// between says whether f holds for an item between two of a section.
func (g *graph) between(a, b *program.Item, f func(x *program.Item) bool) bool {
	order := g.Order[a.Section]
	for k := g.Position(a) + 1; k < len(order) && order[k] != b.Index; k++ {
		if f(&g.Items[order[k]]) {
			return true
		}
	}
	return false
}

// RunsOut gives the places where a routine that other files know goes on into data with a
// name, into another function behind where its own size ends, or off the end of its section.
// Calls and traps need not come back.
func (r *Paths) RunsOut(f func(Gap)) {
	g := r.graphOf()
	k := r.Known()
	for s := range int32(len(g.steps) - 1) {
		last, b := &g.steps[s], g.steps[s].block
		if g.shared || last.data || last.item < 0 || s != g.blocks[b].last && !g.steps[s+1].data || s == g.blocks[b].last && !g.blocks[b].fall || k.at[b] == nil {
			continue
		}
		it := &g.Items[last.item]
		switch {
		case last.way != goesOn && last.way != jumps || it.Match.Form == nil || idles(it):
			continue
		case !k.named(b):
			continue
		}
		next := g.item(s + 1)
		if next == nil {
			if s := &g.Sections[it.Section]; s.EndPool < 0 && s.Main == it.Section && len(s.Subsections) == 0 && !strings.HasPrefix(s.Name, ".init") && !strings.HasPrefix(s.Name, ".fini") {
				f(Gap{it, nil})
			}
			continue
		}
		if next.Stmt.Kind != syntax.Directive {
			if last.way == goesOn && !it.Match.Effects().Conditional && g.endsBefore(it, next) {
				f(Gap{it, next})
			}
			continue
		}
		switch next.Stmt.Directive.Effect {
		case syntax.EffData, syntax.EffString, syntax.EffSpace, syntax.EffFill:
		default:
			continue
		}
		if g.between(it, next, func(x *program.Item) bool { return x.Stmt.Kind == syntax.Label }) && !g.leadsTo(s+1) {
			f(Gap{it, next})
		}
	}
}

// endsBefore says whether a function ends between two lines, as its size is taken there, and
// another one begins.
func (g *graph) endsBefore(a, b *program.Item) bool {
	ended := false
	return a.Section == b.Section && g.between(a, b, func(x *program.Item) bool {
		if x.Stmt.Kind == syntax.Directive && x.Stmt.Directive.Effect == syntax.EffSize {
			ended = true
			return false
		}
		y := g.SymbolOf(x.Stmt.Name)
		return ended && x.Stmt.Kind == syntax.Label && y != nil && y.Function && y.Item == x.Index
	})
}

// leadsTo says whether a branch leads to a step.
func (g *graph) leadsTo(s int32) bool {
	b := g.steps[s].block
	return g.blocks[b].first == s && slices.Contains(g.edges, b)
}

// named says whether a block is part of a routine that other files know.
func (k *Known) named(b int32) bool {
	for _, e := range k.owns[b] {
		if k.g.steps[k.g.blocks[e].first].named {
			return true
		}
	}
	return false
}

// Routine says whether what begins at the entry of a base is a routine: something calls it,
// other files know it, or it is marked as a function, which a place that a table of the same
// routine leads to may be as well. sure leaves that one out.
func (k *Known) Routine(b values.Base, sure bool) bool {
	y := k.g.SymbolOf(k.RoutineName(b))
	if y == nil || k.g.blocks[b.ID].called {
		return y != nil
	}
	if b.ID > 0 && k.g.blocks[b.ID-1].fall && !y.Function {
		return false // a place in a routine whose name other files know
	}
	return y.Global || y.Function && !sure
}

// Public says whether it is a function that other files know.
func (k *Known) Public(b values.Base) bool {
	y := k.g.SymbolOf(k.RoutineName(b))
	return y != nil && y.Function && y.Global
}

// RoutineOf is RoutineName, of a distance.
func (k *Known) RoutineOf(b values.Base, _ int32) string { return k.RoutineName(b) }

// Uneven is a place that two ways lead to with different stacks: One and Other are where the
// stack pointer is, in bytes from where it was at the entry of Base. From is the last line of
// the way with Other.
type Uneven struct {
	Base       values.Base
	Item, From *program.Item
	One, Other int32
}

// unevenWay is the way from a block to another one that has the stack elsewhere.
type unevenWay struct {
	base       values.Base
	from       int32
	one, other int32
}

// Uneven gives the places that ways ahead lead to with different stacks, in routines that do
// not know where the stack pointer is when they come back.
func (k *Known) Uneven(f func(Uneven)) {
	for b := range k.g.blocks {
		w, ok := k.uneven[int32(b)]
		if !ok {
			continue
		}
		u := Uneven{w.base, k.g.item(k.g.blocks[b].first), k.g.item(k.g.blocks[w.from].last), w.one, w.other}
		if u.Item == nil || u.From == nil {
			continue
		}
		for _, e := range k.owns[b] {
			if sum := k.sums[e]; sum.state != nil {
				if _, known := sum.state.Regs[isa.SP].Is(isa.SP); !known {
					f(u)
					break
				}
			}
		}
	}
}

// noteUneven compares the stacks of two ways to a block.
func (k *Known) noteUneven(from, b int32, was, x *State) {
	p, q := was.Regs[isa.SP], x.Regs[isa.SP]
	one, ok := p.Is(isa.SP)
	other, same := q.Is(isa.SP)
	if !ok || !same || p.Base != q.Base || one == other || from >= b || k.g.item(k.g.blocks[b].first) == nil {
		return
	}
	if _, noted := k.uneven[b]; !noted {
		k.uneven[b] = unevenWay{p.Base, from, one, other}
	}
}

// ahead is the first line on the way after a line for which f holds, as far as the way is
// one only; nil: there is none, or more is known of no way.
func (g *graph) ahead(it *program.Item, f func(x *program.Item, e *isa.Effects) bool) *program.Item {
	s := g.stepAt[it.Index]
	if g.steps[s].item != it.Index {
		return nil
	}
	for range mostWays {
		list := g.after(s, nil)
		if len(list) != 1 {
			return nil
		}
		s = list[0]
		x := g.item(s)
		if x == nil || g.steps[s].data || x.Match.Form == nil {
			return nil
		}
		e := x.Match.Effects()
		if f(x, &e) {
			return x
		}
		if w := g.steps[s].way; w != goesOn && w != jumps {
			return nil
		}
	}
	return nil
}

// FlagsNext is the line that sets flags next after a line, on the only way.
func (r *Paths) FlagsNext(it *program.Item) *program.Item {
	return r.graphOf().ahead(it, func(_ *program.Item, e *isa.Effects) bool { return e.FlagsWritten != 0 && !e.Conditional })
}

// WrittenNext is the line that writes all of the registers next, on the only way.
func (r *Paths) WrittenNext(it *program.Item, regs isa.RegList) *program.Item {
	return r.graphOf().ahead(it, func(_ *program.Item, e *isa.Effects) bool { return e.Writes&regs == regs && !e.Conditional })
}

// FlagsSetBy is the line that has set the flags before a line, straight above it.
func (r *Paths) FlagsSetBy(it *program.Item) *program.Item {
	g := r.graphOf()
	for s := g.stepAt[it.Index] - 1; s >= 0 && !g.steps[s].data && g.item(s) != nil; s-- {
		x := g.item(s)
		if x.Section != it.Section || x.Match.Form == nil {
			return nil
		}
		if x.Match.Effects().FlagsWritten != 0 {
			return x
		}
	}
	return nil
}

// LastCall is a call on a way to a line from where nothing has written LR since; nil where
// none is near.
func (r *Paths) LastCall(it *program.Item) *program.Item {
	return r.graphOf().lastCall(it, func(e *isa.Effects) bool { return e.Writes.Has(isa.LR) })
}

// FlagsCall is the same for flags: none has been set since.
func (r *Paths) FlagsCall(it *program.Item) *program.Item {
	return r.graphOf().lastCall(it, func(e *isa.Effects) bool { return e.FlagsWritten != 0 })
}

func (g *graph) lastCall(it *program.Item, writes func(e *isa.Effects) bool) *program.Item {
	from := g.predecessors()
	s := g.stepAt[it.Index]
	seen := map[int32]bool{}
	type part struct{ block, last int32 }
	for todo := []part{{g.steps[s].block, s - 1}}; len(todo) > 0 && len(seen) < mostWays; {
		p := todo[0]
		todo = todo[1:]
		written := false
		for n := p.last; n >= g.blocks[p.block].first && !written; n-- {
			x := g.item(n)
			if x == nil || x.Match.Form == nil {
				written = true
			} else if w := g.steps[n].way; w == calls || w == callsBy {
				return x
			} else {
				e := x.Match.Effects()
				written = writes(&e)
			}
		}
		if written {
			continue
		}
		before := append([]int32(nil), from.of(p.block)...)
		if p.block > 0 && g.blocks[p.block-1].fall {
			before = append(before, p.block-1)
		}
		for _, b := range before {
			if w := g.steps[g.blocks[b].last].way; (w == calls || w == callsBy) && b+1 != p.block || seen[b] {
				continue // a caller
			}
			seen[b] = true
			todo = append(todo, part{b, g.blocks[b].last})
		}
	}
	return nil
}

// FlagsBy are the lines that have set flags, the one that comes first and the one that comes
// last; ok is false where one flag may be that of several lines.
func (s *State) FlagsBy(flags isa.Flags, k *Known) (first, last *program.Item, ok bool) {
	least, most := int32(-1), int32(-1)
	for f := range s.by {
		if flags&(1<<f) == 0 {
			continue
		}
		n := s.by[f]
		if n < 0 {
			return nil, nil, false
		}
		if least < 0 || n < least {
			least = n
		}
		most = max(most, n)
	}
	if least < 0 {
		return nil, nil, false
	}
	return k.g.item(least), k.g.item(most), true
}
