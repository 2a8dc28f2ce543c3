package flow

import (
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Routine is what a routine does to whoever calls it, as far as its lines tell.
type Routine struct {
	// Reads are the registers and flags of the caller that it reads other than to save them.
	Reads     isa.RegList
	FlagsRead isa.Flags
	// Changes are the registers, r0 to r12, that may not be what they were where it comes
	// back, and Flags the flags.
	Changes isa.RegList
	Flags   isa.Flags
	// Keeps are registers that it writes, and that are what they were where it comes back.
	Keeps isa.RegList
	// Results are those of Changes that a line of some caller reads after its call.
	Results isa.RegList
	// Stack is how deep its own lines let the stack become, in bytes; -1: not known.
	Stack int64
	// Lines and Bytes are its instructions, without the routines that it jumps on to.
	Lines int
	Bytes int64
	// Items are these instructions, in order.
	Items []*program.Item
	// Callers are the calls of it and the jumps to it from elsewhere.
	Callers []*program.Item
	// Calls are its calls, by branches to labels and through registers.
	Calls []*program.Item
	// Known: all ways through it are seen. Else other code may read and change more.
	Known bool
	// Assumes: it calls what is not seen, of which the procedure call standard counts.
	Assumes bool
	paths   *Paths
	entry   int32          // its first block
	own     map[int32]bool // its blocks
	// fresh is what may be as the caller left it where the routine comes back: it is not
	// overwritten on some way.
	fresh set
}

// What a call of another file changes and keeps (AAPCS32, 6.1.1): r0 to r3, r12, LR and the
// flags are changed, the others are not.
const standardChanges = isa.RegList(1<<0 | 1<<1 | 1<<2 | 1<<3 | 1<<12 | 1<<isa.LR)

// standard is what a routine does of which nothing is known but that it follows the standard.
func standard() *Routine {
	return &Routine{Changes: standardChanges, Flags: isa.NZCV, Known: true, Assumes: true, fresh: allRegs &^ setOf(standardChanges, 0)}
}

// maxRoutine bounds the blocks of a routine that is summed up.
const maxRoutine = 4000

// RoutineAt sums up the routine that begins at a label's item. ok is false where none does:
// nothing calls it, it is no function, and no other file knows it.
func (r *Paths) RoutineAt(label *program.Item, function bool) (sum *Routine, ok bool) {
	g := r.graphOf()
	if label.Index < 0 || int(label.Index) >= len(g.stepAt) {
		return nil, false
	}
	s := g.stepAt[label.Index]
	if int(s) >= len(g.steps) || g.steps[s].data {
		return nil, false
	}
	b := g.steps[s].block
	x := &g.blocks[b]
	if x.first != s || !function && !x.called && !g.steps[s].named {
		return nil, false
	}
	sums := &summaries{g: g, done: map[int32]*Routine{}}
	if sum = sums.of(b); sum == nil {
		return nil, false
	}
	w := &walk{summaries: sums, entry: b, sum: sum}
	sum.paths, sum.entry, sum.own = r, b, w.own()
	w.callers()
	return sum, sum.Lines > 0
}

// summaries are those of routines that call each other.
type summaries struct {
	g    *graph
	done map[int32]*Routine // nil while it is under way
}

// of sums up the routine that begins with a block; nil: it is too large.
func (s *summaries) of(entry int32) *Routine {
	if sum, ok := s.done[entry]; ok {
		if sum == nil { // it calls itself
			return standard()
		}
		return sum
	}
	s.done[entry] = nil
	// What is stored in a loop may be loaded above: the second time that is known.
	w := &walk{summaries: s, entry: entry, stored: map[int64]isa.RegList{}}
	done := true
	for range 2 {
		w.sum, w.at, w.end = &Routine{Known: true}, map[int32]state{}, nil
		done = done && w.run()
	}
	if !done {
		s.done[entry] = &Routine{Changes: 1<<13 - 1, Flags: isa.NZCV, Stack: -1, fresh: everything}
		return nil
	}
	s.done[entry] = w.sum
	return w.sum
}

// state is what is known of the caller's values at a place.
type state struct {
	fresh set            // what may still have the caller's value in its own place
	holds [13]int8       // by register: whose value of the caller it surely has; -1: no one's
	slots map[int64]int8 // the same of the stack, by distance from where it was at the entry
	delta int64          // of the stack pointer
	lost  bool           // the stack pointer is somewhere else
}

// meet is what holds on either of two ways; same: that is what held on the first.
func (a state) meet(b state) (m state, same bool) {
	m, same = a, true
	if m.fresh |= b.fresh; m.fresh != a.fresh {
		same = false
	}
	for r := range m.holds {
		if m.holds[r] >= 0 && m.holds[r] != b.holds[r] {
			m.holds[r], same = -1, false
		}
	}
	if (b.lost || a.delta != b.delta) && !a.lost {
		m.lost, m.slots, same = true, nil, false
	}
	for at, of := range m.slots {
		if b.slots[at] != of {
			m.slots = without(m.slots, at)
			same = false
		}
	}
	return m, same
}

// without is a copy of slots without one.
func without(slots map[int64]int8, at int64) map[int64]int8 {
	out := map[int64]int8{}
	for k, v := range slots {
		if k != at {
			out[k] = v
		}
	}
	return out
}

// walk follows the lines of one routine.
type walk struct {
	*summaries
	entry int32
	sum   *Routine
	at    map[int32]state // by block
	end   []state         // where it comes back
	wrote isa.RegList
	deep  int64
	lost  bool // the stack pointer is somewhere else, somewhere
	// stored are the caller's values that are on the stack, on some way: by place, as slots.
	stored map[int64]isa.RegList
}

// run follows all ways from the entry; false: there are too many.
func (w *walk) run() bool {
	g := w.g
	first := state{fresh: everything, slots: map[int64]int8{}}
	for r := range first.holds {
		first.holds[r] = int8(r)
	}
	w.at[w.entry] = first
	todo := []int32{w.entry}
	arrive := func(b int32, x state) {
		was, known := w.at[b]
		if !known {
			w.at[b] = x
			todo = append(todo, b)
			return
		}
		if m, same := was.meet(x); !same {
			w.at[b] = m
			todo = append(todo, b)
		}
	}
	for n := 0; len(todo) > 0; n++ {
		if len(w.at) > maxRoutine || n > 20*maxRoutine {
			return false
		}
		b := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		x, blk := w.at[b], &g.blocks[b]
		for s := blk.first; s <= blk.last; s++ {
			x = w.step(s, x)
		}
		last := &g.steps[blk.last]
		switch last.way {
		case jumps:
			for _, t := range g.edges[blk.from:blk.to] {
				arrive(t, x)
			}
			if blk.away&outside != 0 { // on to a routine of another file
				w.finish(w.called(standard(), x))
			}
			w.sum.Known = w.sum.Known && blk.away&nowhere == 0
		case returns:
			w.finish(x)
		case leaves, unclear:
			w.sum.Known = false
			w.finish(x)
		}
		if blk.fall {
			arrive(b+1, x)
		}
	}
	w.result()
	return true
}

// finish notes a place where the routine comes back.
func (w *walk) finish(x state) { w.end = append(w.end, x) }

// result is what the ends of the ways have in common.
func (w *walk) result() {
	for _, x := range w.end {
		w.sum.fresh |= x.fresh
		for r := range x.holds {
			if x.holds[r] != int8(r) {
				w.sum.Changes |= 1 << r
			}
		}
	}
	w.sum.Keeps = w.wrote &^ w.sum.Changes & (1<<13 - 1)
	w.sum.Reads &= 1<<13 - 1
	if w.sum.Stack = w.deep; w.lost {
		w.sum.Stack = -1
	}
}

// step is the state after a line.
func (w *walk) step(s int32, x state) state {
	st := &w.g.steps[s]
	if st.data || st.item < 0 {
		if st.data {
			w.sum.Known = false
		}
		return x
	}
	it := &w.g.Items[st.item]
	ops := w.g.OperandsOf(it)
	move, isMove := stackMoveOf(opOf(it), ops)
	reads := st.reads & x.fresh
	if isMove && move.store && move.by < 0 {
		reads &^= setOf(move.regs, 0) // which are saved, unless something else gets them later
	}
	if st.way == returns {
		reads &^= setOf(1<<isa.LR, 0)
	}
	w.sum.Reads |= reads.regs()
	w.sum.FlagsRead |= reads.flags()
	writes := st.writes
	if it.Match.Form != nil {
		e := it.Match.Effects()
		writes = writesOf(&e) // what is written on a condition, too
	}
	w.wrote |= writes.regs()
	w.sum.Flags |= writes.flags()
	switch st.way {
	case calls, callsBy:
		return w.callOf(s, x)
	}
	after, given := w.moved(it, st, writes, x, move, isMove)
	if !st.runsOn && (it.Match.Form == nil || !it.Match.Effects().Conditional) {
		after.fresh = after.fresh&^writes | setOf(given, 0)
		for r := range after.holds {
			if after.holds[r] == int8(r) { // it may have been given back
				after.fresh |= 1 << r
			}
		}
		return after
	}
	after, _ = after.meet(x) // it may not have been done
	return after
}

// moved is the state after a line that writes registers or the stack, but for fresh; given are
// the registers that may get the caller's value back.
func (w *walk) moved(it *program.Item, st *step, writes set, x state, move stackMove, isMove bool) (after state, given isa.RegList) {
	was := x
	for r := range x.holds {
		if writes.regs().Has(isa.Reg(r)) {
			x.holds[r] = -1
		}
	}
	switch {
	case isMove && !x.lost:
		slot := x.delta + move.at
		for r := isa.Reg(0); r < 16; r++ {
			if !move.regs.Has(r) {
				continue
			}
			if move.store {
				x.slots = without(x.slots, slot)
				if r < 13 && was.holds[r] >= 0 {
					x.slots[slot] = was.holds[r] + 1 // 0 is none
				}
				if r < 13 {
					w.stored[slot] |= 1 << r & x.fresh.regs()
				}
			} else if r < 13 {
				x.holds[r] = x.slots[slot] - 1
				w.sum.Reads |= w.stored[slot] &^ (1 << r) // which come to another register
				given |= w.stored[slot] & (1 << r)
			}
			slot += 4
		}
		x.delta += move.by
		w.deep = max(w.deep, -x.delta)
	case writes.regs().Has(isa.SP):
		x.lost, x.slots, w.lost = true, nil, true
	case it.Match.Form != nil && it.Match.Effects().WritesMem && st.reads.regs().Has(isa.SP):
		x.slots = nil // something on the stack
	case it.Match.Form != nil:
		if src, n, ok := it.Match.Sum(); ok && n == 0 && src < 13 {
			for r := range x.holds {
				if writes.regs().Has(isa.Reg(r)) {
					x.holds[r] = was.holds[src]
				}
			}
		}
	}
	return x, given
}

// callOf is the state after a call.
func (w *walk) callOf(s int32, x state) state {
	g := w.g
	blk := &g.blocks[g.steps[s].block]
	w.sum.Calls = appendNew(w.sum.Calls, &g.Items[g.steps[s].item])
	if g.steps[s].way == callsBy || blk.from == blk.to || blk.away != 0 {
		if Profiles(g.item(s)) {
			const changes = 1<<12 | 1<<isa.LR
			return w.called(&Routine{Changes: changes, Flags: isa.NZCV, Known: true, Assumes: true, fresh: allRegs &^ setOf(changes, 0)}, x)
		}
		return w.called(standard(), x)
	}
	after, first := x, true
	for _, t := range g.edges[blk.from:blk.to] {
		sum := w.of(t)
		if sum == nil {
			sum = standard()
		}
		if y := w.called(sum, x); first {
			after, first = y, false
		} else {
			after, _ = after.meet(y)
		}
	}
	return after
}

// called is the state after a routine that was called has come back.
func (w *walk) called(sum *Routine, x state) state {
	w.sum.Reads |= sum.Reads & x.fresh.regs()
	w.sum.FlagsRead |= sum.FlagsRead & x.fresh.flags()
	w.sum.Flags |= sum.Flags
	w.sum.Known = w.sum.Known && sum.Known
	w.sum.Assumes = w.sum.Assumes || sum.Assumes
	x.fresh &= sum.fresh &^ setOf(1<<isa.LR, 0)
	for r := range x.holds {
		if sum.Changes.Has(isa.Reg(r)) {
			x.holds[r] = -1
		}
	}
	return x
}

func appendNew(list []*program.Item, it *program.Item) []*program.Item {
	if slices.Contains(list, it) {
		return list
	}
	return append(list, it)
}

// own counts the lines of the routine itself: those that are reached without a jump to
// another routine. It gives their blocks.
func (w *walk) own() map[int32]bool {
	g := w.g
	seen := map[int32]bool{}
	todo := []int32{w.entry}
	for len(todo) > 0 {
		b := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if seen[b] {
			continue
		}
		seen[b] = true
		x := &g.blocks[b]
		for s := x.first; s <= x.last; s++ {
			if it := g.item(s); it != nil && !g.steps[s].data {
				w.sum.Items = append(w.sum.Items, it)
				w.sum.Lines++
				w.sum.Bytes += it.Size + it.Slot.ItSize()
			}
		}
		if x.fall {
			todo = append(todo, b+1)
		}
		if g.steps[x.last].way == jumps {
			for _, t := range g.edges[x.from:x.to] {
				if y := &g.blocks[t]; t == w.entry || !y.called && !g.steps[y.first].named {
					todo = append(todo, t)
				}
			}
		}
	}
	slices.SortFunc(w.sum.Items, func(a, b *program.Item) int { return int(a.Index) - int(b.Index) })
	return seen
}

// callers finds who calls the routine or jumps to it, and what they read after that.
func (w *walk) callers() {
	g := w.g
	mine := map[int32]bool{}
	for _, it := range w.sum.Items {
		mine[it.Index] = true
	}
	for b := range g.blocks {
		x := &g.blocks[b]
		last := &g.steps[x.last]
		if last.item < 0 || !slices.Contains(g.edges[x.from:x.to], w.entry) {
			continue
		}
		switch last.way {
		case calls:
			if x.fall {
				for r := range isa.Reg(13) {
					if w.sum.Changes.Has(r) && g.readsFirst(g.blocks[b+1].first, 1<<r) {
						w.sum.Results |= 1 << r
					}
				}
			}
		case jumps:
			if mine[last.item] {
				continue // a loop of its own
			}
		default:
			continue
		}
		w.sum.Callers = append(w.sum.Callers, &g.Items[last.item])
	}
}
