package flow

import (
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// State is what is known of registers, flags and the stack at a place.
type State struct {
	// Regs are r0 to r14. What a routine was given is a distance from itself: a word whose
	// base is the entry.
	Regs [15]values.Word
	// Flags are N, Z, C and V: 0 or 1.
	Flags [4]values.Word
	// by are the steps that have set them, -1 where that is not known.
	by [4]int32
	// slots are words on the stack, by their distance from where the stack pointer was
	// at the entry of the routine; in order.
	slots []slot
	// own are the flags that nothing has set since the entry, on any way; filled are the words
	// on the stack that something has written, on some way.
	own    isa.Flags
	filled words
	// leaked: other code may have an address in the stack of the routine.
	leaked bool
}

type slot struct {
	at   int32
	word values.Word
}

// OnStack says whether a word on the stack has what a register held at the entry of the routine.
func (s *State) OnStack(r isa.Reg) bool {
	sp, ok := s.Regs[isa.SP].Is(isa.SP)
	return ok && slices.ContainsFunc(s.slots, func(x slot) bool {
		off, ok := x.word.Is(r)
		return ok && off == 0 && x.at >= sp
	})
}

// maxSlots bounds the words on the stack that are followed.
const maxSlots = 32

// Known is what is known of values at each line of a program.
type Known struct {
	g     *graph
	at    []*State // by block: at its start; nil where nothing leads
	count []uint8  // by block: how often its state has changed
	many  []bool   // by block: more than one way leads there
	owns  [][]int32
	sums  map[int32]*returned // by the block where a routine begins
	calls map[int32][]int32   // by such a block: blocks that call it, or jump on to it
	queue []int32
	in    []bool
	// present is the state where block has come to.
	present State
	steps   []uint32 // constants that lines compare with, and their neighbours, in order
	work    int
	// wild: some code goes to where only itself knows, so that nothing is known anywhere.
	wild bool
	// addressed are lines of data whose address something has; nil until something asks.
	addressed map[int32]bool
	uneven    map[int32]unevenWay
	labels    []label // by section and place; nil until something asks
	idle      []*transfer
}

// returned is what is known where a routine comes back.
type returned struct {
	state *State
	above bool // it may change its caller's part of the stack
	count uint8
	lost  bool // nothing is known
}

// Known follows values through the program, once.
func (r *Paths) Known() *Known {
	if r.known == nil {
		r.known = r.graphOf().follow(r.Stop)
	}
	return r.known
}

// How often a state may change before ranges are widened, before they become unknown, and
// before all that changes does.
const (
	widenAfter  = 3
	rangesAfter = 8
	allAfter    = 16
)

// maxOwners bounds the routines that a block may be part of.
const maxOwners = 8

// stopEvery is after how many blocks it is asked whether anybody still waits.
const stopEvery = 64

// follow finds what is known at the start of each block: the least that holds on all ways. If
// stop, which may be nil, says that nobody waits any more, nothing is known.
func (g *graph) follow(stop func() bool) *Known {
	n := len(g.blocks)
	k := &Known{g: g, at: make([]*State, n), count: make([]uint8, n), many: make([]bool, n), owns: make([][]int32, n), sums: map[int32]*returned{}, uneven: map[int32]unevenWay{}, calls: map[int32][]int32{}, in: make([]bool, n)}
	k.entries()
	k.findSteps()
	for i := 0; i < len(k.queue) && !k.wild; i++ {
		b := k.queue[i]
		k.in[b] = false
		k.work++
		k.block(b)
		k.wild = k.wild || stop != nil && k.work%stopEvery == 0 && stop()
	}
	k.queue = nil
	if k.wild {
		k.at = make([]*State, n)
	}
	return k
}

func (k *Known) push(b int32) {
	if !k.in[b] {
		k.in[b] = true
		k.queue = append(k.queue, b)
	}
}

// entries finds where nothing is known, what each routine consists of, and starts there.
func (k *Known) entries() {
	g := k.g
	ways := make([]uint8, len(g.blocks))
	starts := func(b int32) {
		if k.sums[b] == nil && !g.steps[g.blocks[b].first].data {
			k.sums[b] = &returned{}
		}
	}
	for b := range g.blocks {
		x := &g.blocks[b]
		if s := &g.steps[x.first]; s.taken || s.hand || s.named || x.called {
			starts(int32(b))
		}
		if x.fall {
			ways[b+1] = min(ways[b+1]+1, 2)
		}
		for _, t := range g.edges[x.from:x.to] {
			ways[t] = min(ways[t]+1, 2)
		}
	}
	for _, b := range g.entered {
		starts(b)
	}
	for b := range ways {
		k.many[b] = ways[b] > 1
	}
	var list []int32
	for b := range k.sums {
		list = append(list, b)
	}
	slices.Sort(list)
	for _, b := range list {
		k.own(b)
	}
	for _, b := range list {
		k.at[b] = k.fresh(b)
		k.push(b)
	}
}

// own notes the blocks of a routine: what is reached from it without another one's entry.
func (k *Known) own(entry int32) {
	g := k.g
	todo := []int32{entry}
	for len(todo) > 0 {
		b := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		if slices.Contains(k.owns[b], entry) {
			continue
		}
		if len(k.owns[b]) == maxOwners {
			k.sums[entry].lost = true
			continue
		}
		k.owns[b] = append(k.owns[b], entry)
		x := &g.blocks[b]
		if x.fall {
			todo = k.inside(todo, b, b+1)
		}
		if g.steps[x.last].way == jumps {
			for _, t := range g.edges[x.from:x.to] {
				todo = k.inside(todo, b, t)
			}
		} else {
			for _, t := range g.edges[x.from:x.to] {
				k.calls[t] = append(k.calls[t], b)
			}
		}
	}
}

// inside adds a block to a list, unless a routine begins there.
func (k *Known) inside(todo []int32, from, b int32) []int32 {
	if k.sums[b] != nil {
		k.calls[b] = append(k.calls[b], from)
		return todo
	}
	return append(todo, b)
}

// fresh is the state at the entry of a routine. The stack pointer is a multiple of 4
// (AAPCS32, 6.2.1.1).
func (k *Known) fresh(b int32) *State {
	s := &State{}
	for r := range s.Regs {
		align := uint32(1)
		if isa.Reg(r) == isa.SP {
			align = 4
		}
		s.Regs[r] = values.At(values.Base{Kind: values.Entry, Reg: isa.Reg(r), ID: b, Align: align}, 0)
	}
	for f := range s.Flags {
		s.Flags[f] = values.Between(0, 1)
	}
	s.own = isa.NZCV
	s.name(b)
	return s
}

// name gives each register an identity of its own at the start of a block.
func (s *State) name(b int32) {
	for r := range s.Regs {
		s.Regs[r].ID, s.Regs[r].Plus = 1<<31|uint32(b)<<4|uint32(r), 0
	}
	s.by = noSteps
	for f := range s.Flags {
		s.Flags[f].About = 0
	}
}

var noSteps = [4]int32{-1, -1, -1, -1}

// arrive joins what holds on one more way to a block.
func (k *Known) arrive(from, b int32, x *State) {
	if k.sums[b] != nil {
		return // nothing is known there, and that has been said
	}
	was := k.at[b]
	if was == nil {
		y := x.clone()
		if k.many[b] {
			y.name(b)
		}
		k.at[b] = y
		k.push(b)
		return
	}
	if !k.many[b] { // the same way once more
		if y := x.clone(); !was.same(y) {
			k.change(b, k.join(was, y, k.count[b]))
		} else {
			k.at[b] = y
		}
		return
	}
	k.noteUneven(from, b, was, x)
	y := k.join(was, x, k.count[b])
	y.name(b)
	if !was.same(y) {
		k.change(b, y)
	}
}

func (k *Known) change(b int32, y *State) {
	k.count[b] = min(k.count[b]+1, 200)
	k.at[b] = y
	k.push(b)
}

func (s *State) clone() *State {
	c := *s
	c.slots = slices.Clone(s.slots)
	return &c
}

// take makes it a copy of another state.
func (s *State) take(o *State) {
	slots := append(s.slots[:0], o.slots...)
	*s = *o
	s.slots = slots
}

// same says whether two states tell the same.
func (s *State) same(o *State) bool {
	return s.Regs == o.Regs && s.Flags == o.Flags && s.by == o.by && s.leaked == o.leaked && s.own == o.own && s.filled == o.filled && slices.Equal(s.slots, o.slots)
}

// join is what holds in either of two states; n is how often the first has changed.
func (k *Known) join(a, b *State, n uint8) *State {
	out := &State{leaked: a.leaked || b.leaked, own: a.own & b.own, filled: a.filled.join(&b.filled)}
	word := func(x, y values.Word) values.Word {
		switch {
		case n >= allAfter && !x.Same(x.Join(y)):
			z := values.Unknown()
			j := x.Join(y)
			z.Assumed, z.Frame, z.Moved, z.Left = j.Assumed, j.Frame, j.Moved, j.Left
			return z
		case n >= rangesAfter:
			return x.Widened(y, nil)
		case n >= widenAfter:
			return x.Widened(y, k.steps)
		}
		return x.Join(y)
	}
	for r := range a.Regs {
		out.Regs[r] = word(a.Regs[r], b.Regs[r])
	}
	for f := range a.Flags {
		out.Flags[f] = a.Flags[f].Join(b.Flags[f])
		if out.by[f] = a.by[f]; a.by[f] != b.by[f] || a.Flags[f].About != b.Flags[f].About || a.Flags[f].Since != b.Flags[f].Since {
			out.by[f] = -1
		} else {
			out.Flags[f].About, out.Flags[f].Since = a.Flags[f].About, a.Flags[f].Since
		}
	}
	for i, j := 0, 0; i < len(a.slots) && j < len(b.slots); {
		switch p, q := a.slots[i], b.slots[j]; {
		case p.at < q.at:
			i++
		case p.at > q.at:
			j++
		default:
			out.slots = append(out.slots, slot{p.at, word(p.word, q.word)})
			i, j = i+1, j+1
		}
	}
	if _, ok := out.Regs[isa.SP].Is(isa.SP); !ok {
		out.leaked = true // what is stored there may be anywhere
	}
	return out
}

// findSteps collects the constants that lines compare with: where ranges end.
func (k *Known) findSteps() {
	const most = 64
	seen := map[uint32]bool{0: true, 1: true, 0x7fffffff: true, 0x80000000: true}
	for s := range k.g.steps {
		it := k.g.item(int32(s))
		if it == nil || it.Match.Form == nil || len(seen) >= most || it.Match.Effects().FlagsWritten == 0 {
			continue
		}
		if ops := it.Stmt.Ops; len(ops) > 1 && ops[len(ops)-1].Kind == isa.OpImm {
			list := k.g.OperandsOf(it)
			if o := list[len(list)-1]; o.Known {
				n := uint32(o.Imm)
				seen[n-1], seen[n], seen[n+1] = true, true, true
			}
		}
	}
	for n := range seen {
		k.steps = append(k.steps, n)
	}
	slices.Sort(k.steps)
}

// Work counts the blocks that have been looked at, and Blocks all that there are.
func (k *Known) Work() (looked, blocks int) { return k.work, len(k.g.blocks) }

// block follows a block from its start, and says so to where it leads.
func (k *Known) block(b int32) {
	g := k.g
	x := &g.blocks[b]
	s := &k.present
	s.take(k.at[b])
	t := k.borrow(s, false)
	defer k.giveBack(t)
	for n := x.first; n < x.last; n++ {
		t.step(n)
	}
	last := &g.steps[x.last]
	switch last.way {
	case jumps:
		taken, not := t.branch(x.last)
		if taken != nil {
			for _, to := range g.edges[x.from:x.to] {
				k.jump(b, to, taken)
			}
			if x.away&outside != 0 {
				k.finish(b, external(taken), false)
			}
			if x.away&nowhere != 0 {
				k.finish(b, nil, true)
			}
		}
		if not != nil && x.fall {
			k.next(b, not)
		}
	case calls, callsBy:
		not := t.skipped(x.last)
		if after := t.call(b); after != nil && x.fall {
			if not != nil {
				after = k.join(after, not, 0)
			}
			k.next(b, after)
		} else if not != nil && x.fall {
			k.next(b, not)
		}
	default:
		done, not := t.leave(x.last)
		if done != nil {
			switch last.way {
			case returns:
				k.goesBack(b, t, done)
			case leaves, unclear:
				k.finish(b, nil, true)
			}
		}
		if x.fall && not != nil {
			k.next(b, not)
		}
	}
}

// next goes on to the block after b.
func (k *Known) next(b int32, s *State) { k.jump(b, b+1, s) }

// jump goes on at a block, which may be the beginning of another routine.
func (k *Known) jump(b, to int32, s *State) {
	sum := k.sums[to]
	if sum == nil {
		k.arrive(b, to, s)
		return
	}
	if after := k.apply(sum, to, s); after != nil {
		k.finish(b, after, sum.above)
	}
}

// external is a state after a routine of another file, as the procedure call standard has
// it (AAPCS32, 6.1.1): r4 to r11 and sp are what they were.
func external(s *State) *State {
	out := s.clone()
	for r := range out.Regs {
		out.Regs[r].Assumed = true
		if standardChanges.Has(isa.Reg(r)) {
			out.Regs[r] = values.Unknown()
			out.Regs[r].Left = true
		}
	}
	for f := range out.Flags {
		out.Flags[f] = values.Between(0, 1)
		out.Flags[f].Left = true
	}
	out.by, out.own = noSteps, 0
	if s.leaked {
		out.slots = nil
	}
	out.shrink()
	out.slots = slices.DeleteFunc(out.slots, func(x slot) bool { return x.at >= 0 })
	for i := range out.slots {
		out.slots[i].word.Assumed = true
	}
	return out
}

// Profiles says whether a line calls the routine that counts calls where a program is built for
// profiling, whose calling convention is its own: the caller pushes LR, and it takes that word
// from the stack, gives LR back what it was, and changes no other register but r12 (common
// practice of the GNU tools; from memory).
func Profiles(it *program.Item) bool {
	return it != nil && slices.ContainsFunc(it.Stmt.Ops, func(o syntax.Operand) bool { return o.Word == "__gnu_mcount_nc" })
}

// profiled is the state after such a call.
func profiled(s *State) *State {
	out := external(s)
	regs := s.Regs
	regs[12], regs[isa.LR] = out.Regs[12], out.Regs[isa.LR]
	if off, ok := s.Regs[isa.SP].Is(isa.SP); ok {
		if i := slices.IndexFunc(s.slots, func(x slot) bool { return x.at == off }); i >= 0 {
			regs[isa.LR] = s.slots[i].word
		}
		regs[isa.SP] = values.At(s.Regs[isa.SP].Base, uint32(off+4))
		out.slots = slices.DeleteFunc(out.slots, func(x slot) bool { return x.at == off })
	} else {
		regs[isa.SP] = values.Unknown()
	}
	out.Regs = regs
	return out
}

// apply is the state after a routine has come back; nil: it does not, as far as is seen.
func (k *Known) apply(sum *returned, entry int32, s *State) *State {
	if sum.lost {
		out := external(s)
		for r := range out.Regs {
			out.Regs[r] = values.Unknown()
		}
		out.unflag()
		out.slots, out.leaked = nil, true
		return out
	}
	if sum.state == nil {
		return nil
	}
	out := s.clone()
	for r := range out.Regs {
		w := sum.state.Regs[r]
		out.Regs[r] = k.given(w, entry, s)
	}
	for f := range out.Flags {
		out.Flags[f] = k.given(sum.state.Flags[f], entry, s)
	}
	out.by, out.own = noSteps, s.own&sum.state.own
	if sum.above || s.leaked {
		out.filled.fillAll()
		out.slots = nil
	}
	out.slots = slices.DeleteFunc(out.slots, func(x slot) bool { return x.at >= 0 })
	out.shrink()
	return out
}

// given is a word of a routine that has been called as its caller sees it.
func (k *Known) given(w values.Word, entry int32, s *State) values.Word {
	if w.Base.Kind != values.Entry {
		w.Left = false
		return w.Anonymous()
	}
	if w.Base.ID != entry {
		out := values.Unknown()
		out.Frame, out.Assumed = true, w.Assumed
		return out
	}
	out := values.Do(isa.DoAdd, s.Regs[w.Base.Reg], values.Number(w.Val), values.Number(0))
	out.Assumed = out.Assumed || w.Assumed
	return out.Anonymous()
}

// goesBack notes a return: that it goes to where the routine was called is asked for.
func (k *Known) goesBack(b int32, t *transfer, s *State) {
	if off, ok := t.to.Is(isa.LR); ok && off&^1 != 0 || t.to.Moved || t.to.Base.Kind == values.Section || t.to.Base.Kind == values.Part {
		k.wild = k.wild || !t.to.Assumed
	}
	k.finish(b, s, false)
}

// finish notes that the routines that a block is part of come back with a state; nil: with
// one of which nothing is known.
func (k *Known) finish(b int32, s *State, above bool) {
	for _, e := range k.owns[b] {
		sum := k.sums[e]
		if sum.lost {
			continue
		}
		was := sum.state
		changed := above && !sum.above
		sum.above = sum.above || above
		switch {
		case s == nil || sum.count > allAfter:
			sum.lost = true
			changed = true
		case was == nil:
			sum.state, changed = s.clone(), true
		default:
			if j := k.join(was, s, sum.count); !j.same(was) {
				sum.state, changed = j, true
			}
		}
		if sum.state != nil && sum.state.touches() && !sum.above {
			sum.above, changed = true, true
		}
		if changed {
			sum.count++
			for _, c := range k.calls[e] {
				if k.at[c] != nil {
					k.push(c)
				}
			}
		}
	}
}

// touches says whether where a routine comes back its stack pointer is not what it was.
func (s *State) touches() bool {
	off, ok := s.Regs[isa.SP].Is(isa.SP)
	return !ok || off != 0
}
