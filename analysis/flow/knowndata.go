package flow

import (
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// constant is the word, halfword or byte of data at a place in a section that nothing
// writes to. near: the line counts from pc.
func (k *Known) constant(addr values.Word, size int, near bool) (w values.Word, ok bool) {
	sec, off := int16(addr.Base.ID), int64(int32(addr.Val))
	s := &k.g.Sections[sec]
	if !s.Exact || off < 0 || off%int64(size) != 0 || addr.Base.Align < uint32(size) {
		return w, false
	}
	in := k.g.secs[sec]
	n := in.from + int32(sort.Search(int(in.to-1-in.from), func(i int) bool { return k.g.item(in.from+int32(i)).Offset > off })) - 1
	if n < in.from || !k.g.steps[n].data || !k.unwritten(sec, n, near) {
		return w, false
	}
	d := k.g.item(n)
	if d.Stmt.Kind != syntax.Directive || d.Stmt.Directive.Effect != syntax.EffData || slices.ContainsFunc(d.Stmt.Ops, func(o syntax.Operand) bool { return o.IsStr }) || k.g.Unit(d) != size || int64(len(d.Stmt.Ops)*size) != d.Size {
		return w, false
	}
	i := int(off-d.Offset) / size
	if i < 0 || i >= len(d.Stmt.Ops) {
		return w, false
	}
	v := k.g.Value(&d.Stmt.Ops[i], d)
	if size == 4 {
		return k.valueOf(v), true
	}
	if v.Kind != program.Number {
		return w, false
	}
	return values.Number(uint32(v.N) & (1<<(8*size) - 1)), true
}

// unwritten says whether nothing can write to a line of data: its section is read-only and
// not for code; or it is in one for code, and no line has its address but those that load
// it.
func (k *Known) unwritten(sec int16, n int32, near bool) bool {
	s := &k.g.Sections[sec]
	if strings.Contains(s.Declaration.Flags, "w") || s.Main != sec || len(s.Subsections) > 0 {
		return false
	}
	if !s.Exec {
		return strings.HasPrefix(s.Name, ".rodata")
	}
	if !near {
		return false
	}
	if k.addressed == nil {
		k.addressed = map[int32]bool{}
		k.findAddressed()
	}
	for in := k.g.secs[sec]; n >= in.from && k.g.steps[n].data; n-- {
		if k.addressed[n] || k.g.steps[n].named {
			return false
		}
	}
	return true
}

// findAddressed marks the lines of data whose address something has, as it does more than
// load them.
func (k *Known) findAddressed() {
	for i := range k.g.Items {
		it := &k.g.Items[i]
		loads := false
		if f := it.Match.Form; f != nil {
			e := it.Match.Effects()
			loads = f.Row.Access > 0 && e.ReadsMem && !e.WritesMem && it.Literal < 0
		}
		if loads || it.Stmt.Kind == syntax.Label {
			continue
		}
		for n := range it.Stmt.Ops {
			k.address(it, &it.Stmt.Ops[n])
		}
	}
}

func (k *Known) address(it *program.Item, o *syntax.Operand) {
	mark := func(name string) {
		if y := k.g.SymbolOf(name); y != nil && y.Label && y.Defined && y.Item >= 0 {
			k.addressed[k.g.stepAt[y.Item]] = true
		}
	}
	if o.Word != "" {
		mark(o.Word)
	}
	if o.Word == "" && o.Expr == nil {
		return
	}
	if v := k.g.Value(o, it); v.Kind == program.Address && v.Section >= 0 && int(v.Section) < len(k.g.secs) {
		in := k.g.secs[v.Section]
		n := in.from + int32(sort.Search(int(in.to-1-in.from), func(i int) bool { return k.g.item(in.from+int32(i)).Offset > v.N })) - 1
		if n >= in.from {
			k.addressed[n] = true
		}
		if n+1 < in.to {
			k.addressed[n+1] = true
		}
	}
	if o.Expr != nil {
		o.Expr.Walk(func(e *syntax.Expr) {
			if e.Op == syntax.ExprSym {
				mark(e.Name)
			}
		})
	}
}

// Line is what is known at a line that is carried out, in some run: before it and, if it
// goes on to the next one, after it.
type Line struct {
	Item    *program.Item
	Before  *State
	After   *State // nil where it does not go on
	End     *State // after a line that leaves, where it does
	Touches []Touch
	To      values.Word // where it goes, if it writes pc otherwise than by a label
	Leaves  bool        // To counts
	Returns bool        // as the line comes back to where the routine was called
	Holds   values.Word // whether its condition holds
	Cond    isa.Cond    // its condition, AL without one
}

// Back says whether the line comes back to where the routine was called, as it returns, or
// goes to what LR was where the routine began.
func (l *Line) Back() bool {
	return l.Leaves && (l.Returns || l.To.Base.Kind == values.Entry && l.To.Base.Reg == isa.LR && l.To.Val == 0)
}

// clone is a line that counts from then on.
func (l *Line) clone() Line {
	c := *l
	for _, s := range []**State{&c.Before, &c.After, &c.End} {
		if *s != nil {
			*s = (*s).clone()
		}
	}
	c.Touches = slices.Clone(l.Touches)
	return c
}

// Kept is the state before the line as one that counts from then on.
func (l *Line) Kept() *State { return l.Before.clone() }

// Each gives what is known at each line that is reached, section by section. The states
// count until f returns.
func (k *Known) Each(f func(l *Line)) {
	for b := range k.g.blocks {
		if k.at[b] != nil {
			k.lines(int32(b), func(l *Line) bool { f(l); return true })
		}
	}
}

// lines gives what is known at the lines of a block, until f says that it is enough. What it
// gives holds until f returns true.
func (k *Known) lines(b int32, f func(l *Line) bool) {
	t := k.borrow(nil, true)
	defer k.giveBack(t)
	x := &k.g.blocks[b]
	t.first.take(k.at[b])
	t.s = &t.first
	before := &t.before // the same for all lines: there are very many
	for n := x.first; n <= x.last; n++ {
		it := k.g.item(n)
		if it == nil || k.g.steps[n].data {
			t.s.lose()
			continue
		}
		before.take(t.s)
		l := Line{Item: it, Before: before, Holds: values.Number(1), Cond: isa.AL}
		if it.Match.Form != nil {
			if l.Cond = conditionOf(it); l.Cond < isa.AL {
				l.Holds = isa.Holds(l.Cond, t)
			}
		}
		switch st := &k.g.steps[n]; st.way {
		case goesOn:
			t.step(n)
			l.After, l.Touches = t.s, t.touches
		case returns, leaves:
			l.End, _ = t.leave(n)
			l.Touches, l.To, l.Leaves, l.Returns = t.touches, t.to, true, st.way == returns
		case callsBy:
			t.line(it)
			if l.Leaves = len(t.acts) > 0; l.Leaves {
				for _, a := range t.acts {
					if a.Kind == isa.ActExchange || a.Kind == isa.ActBranch {
						l.To = a.Addr
					}
				}
			}
			fallthrough
		case calls:
			t.s = l.Before.clone()
			if l.After = t.call(b); l.After != nil && st.runsOn {
				l.After = k.join(l.After, l.Before, 0)
			}
		}
		if !f(&l) {
			return
		}
	}
}

// At is what is known at a line; ok is false where nothing is known to lead there.
func (k *Known) At(it *program.Item) (l Line, ok bool) {
	if it.Index < 0 || int(it.Index) >= len(k.g.stepAt) {
		return l, false
	}
	n := k.g.stepAt[it.Index]
	if k.g.steps[n].item != it.Index || k.at[k.g.steps[n].block] == nil {
		return l, false
	}
	k.lines(k.g.steps[n].block, func(x *Line) bool {
		if x.Item == it {
			l, ok = x.clone(), true
		}
		return !ok
	})
	return l, ok
}

// Some gives what is known at the lines that are wanted and reached, as Each does: each block
// that has one is followed once.
func (k *Known) Some(items []*program.Item, f func(l *Line)) {
	wanted := map[*program.Item]bool{}
	var blocks []int32
	for _, it := range items {
		if n := k.g.stepAt[it.Index]; n < int32(len(k.g.steps)) && k.g.steps[n].item == it.Index && k.at[k.g.steps[n].block] != nil {
			wanted[it] = true
			blocks = append(blocks, k.g.steps[n].block)
		}
	}
	slices.Sort(blocks)
	for _, b := range slices.Compact(blocks) {
		k.lines(b, func(l *Line) bool {
			if wanted[l.Item] {
				f(l)
			}
			return true
		})
	}
}

// Slots gives the words on the stack that are known, by their distance from where the
// stack pointer was at the entry of the routine.
func (s *State) Slots(f func(at int32, w values.Word)) {
	for _, x := range s.slots {
		f(x.at, x.word)
	}
}

// Entry is the first line of the routine at whose entry a base counts.
func (k *Known) Entry(b values.Base) *program.Item {
	return k.g.item(k.g.blocks[b.ID].first)
}
