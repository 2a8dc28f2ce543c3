package flow

import (
	"cmp"
	"maps"
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// counted is a loop that a counter ends: how often its head is met, at least and at most.
type counted struct {
	head, exit  int32 // exit is the block in which the counter is looked at
	body        map[int32]bool
	least, most int
	early       bool // it may end before the counter says so
}

// Bounds of what is counted: rounds of a loop, and values that its counter may begin with.
const (
	maxTrips  = 1 << 16
	maxBegins = 64
)

// countedLoops are the loops within some blocks that a counter ends, inner ones first.
func (r *Paths) countedLoops(own map[int32]bool) (list []counted) {
	g := r.graphOf()
	for _, head := range slices.Sorted(maps.Keys(own)) {
		if !slices.ContainsFunc(g.into(head), func(p int32) bool { return p >= head && own[p] }) {
			continue
		}
		body := g.loop(head)
		if body == nil {
			continue
		}
		c := counted{head: head, body: body}
		if r.Known().trips(&c) {
			list = append(list, c)
		}
	}
	slices.SortStableFunc(list, func(a, b counted) int { return cmp.Compare(len(a.body), len(b.body)) })
	return list
}

// counter is what ends a loop: reg is compared with a number, or has been added to, and a branch
// on cond leaves, or goes on.
type counter struct {
	reg    isa.Reg
	by     uint32 // what is added to it on each round
	limit  uint32 // what it is compared with
	summed bool   // the flags are those of the sum itself
	first  bool   // it is added to before it is compared
	cond   isa.Cond
	leaves bool // the loop ends where cond holds
}

// trips counts the rounds of a loop; false where that is not known. It ends at its last line or
// at the first branch of it, by a register that one line of it changes, on each round.
func (k *Known) trips(c *counted) bool {
	g := k.g
	latch := int32(-1)
	for b := range c.body {
		if slices.Contains(g.nextBlocks(b, nil), c.head) {
			if latch >= 0 {
				return false
			}
			latch = b
		}
	}
	s := &g.steps[g.blocks[c.head].first]
	if latch < 0 || s.taken || s.hand || s.named || g.blocks[c.head].called || slices.Contains(g.entered, c.head) {
		return false
	}
	for _, c.exit = range []int32{latch, c.head} {
		n, ok := k.counterOf(c, latch)
		if !ok {
			continue
		}
		begin, ok := k.begins(c, n.reg)
		if !ok {
			return false
		}
		if c.least, c.most, ok = n.rounds(begin.Lo, begin.Hi); !ok {
			return false
		}
		c.early = g.leftEarly(c)
		return true
	}
	return false
}

// leftEarly says whether a way leads out of a loop from another block than its exit.
func (g *graph) leftEarly(c *counted) bool {
	for b := range c.body {
		if b == c.exit {
			continue
		}
		x := &g.blocks[b]
		if w := g.steps[x.last].way; w == returns || w == leaves || w == jumps && x.away != 0 || slices.ContainsFunc(g.nextBlocks(b, nil), func(t int32) bool { return !c.body[t] }) {
			return true
		}
	}
	return false
}

// counterOf is what ends a loop in its block c.exit.
func (k *Known) counterOf(c *counted, latch int32) (n counter, ok bool) {
	g := k.g
	x := &g.blocks[c.exit]
	branch := g.item(x.last)
	if g.steps[x.last].way != jumps || branch == nil || branch.Match.Form == nil || x.to-x.from != 1 || !x.fall || x.away != 0 {
		return n, false
	}
	n.cond = conditionOf(branch)
	if n.leaves = !c.body[g.edges[x.from]]; n.cond >= isa.AL || n.leaves == !c.body[c.exit+1] {
		return n, false
	}
	at := x.last - 1
	for ; at >= x.first; at-- {
		if it := g.item(at); it == nil || it.Match.Form == nil || g.steps[at].data {
			return n, false
		} else if it.Match.Effects().FlagsWritten != 0 {
			break
		}
	}
	if at < x.first || g.item(at).Match.Condition() < isa.AL || !k.compared(g.item(at), &n) {
		return n, false
	}
	by, ok := k.changed(c, &n)
	if !ok || n.summed && by != at || g.steps[by].block != c.head && g.steps[by].block != latch {
		return n, false
	}
	n.first = n.summed || g.steps[by].block == c.exit && by < at || g.steps[by].block == c.head && c.exit != c.head
	return n, true
}

// compared notes which register a line sets all flags by.
func (k *Known) compared(it *program.Item, n *counter) bool {
	e := it.Match.Effects()
	if e.FlagsWritten != isa.NZCV || e.Conditional {
		return false
	}
	if e.Writes.Count() == 1 {
		src, by, ok := it.Match.Sum()
		n.reg, n.by, n.summed = src, uint32(by), true
		return ok && by != 0 && e.Writes == 1<<src
	}
	op, _, _ := it.Stmt.Mnemonic.Operation()
	ops := k.g.OperandsOf(it)
	if op != "cmp" || len(ops) != 2 || ops[0].Kind != isa.OpReg || ops[1].Kind != isa.OpImm || !ops[1].Known {
		return false
	}
	n.reg, n.limit = ops[0].Reg, uint32(ops[1].Imm)
	return true
}

// changed is the one line of a loop that changes its counter, by the same number each time.
func (k *Known) changed(c *counted, n *counter) (step int32, ok bool) {
	g := k.g
	step = -1
	for b := range c.body {
		x := &g.blocks[b]
		if !k.callKeeps(b, n.reg) {
			return 0, false
		}
		for s := x.first; s <= x.last; s++ {
			it := g.item(s)
			if it == nil || g.steps[s].data || it.Match.Form == nil || it.Flags&program.Refused != 0 {
				return 0, false
			}
			if e := it.Match.Effects(); !e.Writes.Has(n.reg) {
				continue
			}
			src, by, sum := it.Match.Sum()
			if e := it.Match.Effects(); step >= 0 || !sum || by == 0 || src != n.reg || e.Writes != 1<<src || e.Conditional || it.Match.Condition() < isa.AL {
				return 0, false
			}
			step, n.by = s, uint32(by)
		}
	}
	return step, step >= 0
}

// callKeeps says whether what a block calls keeps a register, as far as it is seen, or as the
// standard has it (AAPCS32, 6.1.1).
func (k *Known) callKeeps(b int32, r isa.Reg) bool {
	g := k.g
	x := &g.blocks[b]
	switch g.steps[x.last].way {
	case traps, unclear:
		return false
	case callsBy:
		return r > 3 && r < 12
	case calls:
		if x.away != 0 || x.from == x.to {
			return r > 3 && r < 12
		}
		for _, to := range g.edges[x.from:x.to] {
			sum := k.sums[to]
			if sum == nil || sum.lost || sum.state == nil {
				return false
			}
			if off, ok := sum.state.Regs[r].Is(r); !ok || off != 0 || sum.state.Regs[r].Base.ID != to {
				return false
			}
		}
	}
	return true
}

// begins is what a register has where a loop is entered.
func (k *Known) begins(c *counted, r isa.Reg) (w values.Word, ok bool) {
	for _, p := range k.g.into(c.head) {
		if c.body[p] {
			continue
		}
		if k.at[p] == nil {
			return w, false
		}
		var end values.Word
		k.lines(p, func(l *Line) bool {
			if end = l.Before.Regs[r]; l.After != nil {
				end = l.After.Regs[r]
			}
			return true
		})
		if w = w.Join(end); !ok {
			w, ok = end, true
		}
	}
	return w, ok && !w.Assumed && w.Base.Kind == values.None && w.Hi-w.Lo < maxBegins
}

// rounds is how often the head of a loop is met whose counter begins with one of some values, at
// least and at most; ends is false where that is too often.
func (n *counter) rounds(lo, hi uint32) (least, most int, ends bool) {
	stays := [16]bool{} // by the flags: the loop goes on
	for f := range stays {
		stays[f] = (isa.Holds[uint32](n.cond, knownFlags{flags: isa.Flags(f)}) != 0) != n.leaves
	}
	after := map[uint32]int{} // rounds from a value on, which the next one may come to
	least, left := maxTrips, 2*maxTrips
	for k := range hi - lo + 1 {
		v := lo + k
		if int32(n.by) > 0 { // one that is counted up to comes first
			v = hi - k
		}
		count := 1
		for at := v; stays[n.flags(at)]; count++ {
			if left--; left < 0 {
				return 0, 0, false
			}
			at += n.by
			if more, known := after[at]; known {
				count += more
				break
			}
		}
		if count > maxTrips {
			return 0, 0, false
		}
		after[v] = count
		least, most = min(least, count), max(most, count)
	}
	return least, most, true
}

// flags are those that the loop is ended by, or not, on a round that the counter begins with v.
func (n *counter) flags(v uint32) (flags isa.Flags) {
	a, b := v, n.limit
	if n.summed {
		b = -n.by
	} else if n.first {
		a += n.by
	}
	d := a - b
	for _, f := range []struct {
		is  bool
		bit isa.Flags
	}{{d>>31 != 0, isa.N}, {d == 0, isa.Z}, {a >= b, isa.C}, {(a^b)&(a^d)>>31 != 0, isa.V}} {
		if f.is {
			flags |= f.bit
		}
	}
	return flags
}

// knownFlags are flags that are known, for [isa.Holds], which asks for nothing else.
type knownFlags struct {
	isa.Domain[uint32]
	flags isa.Flags
}

func (knownFlags) Number(n uint32) uint32 { return n }

func (knownFlags) Do(op isa.Operation, x, y, z uint32) uint32 { return op.Word(x, y, z) }

func (k knownFlags) Flag(f isa.Flags) uint32 {
	if k.flags&f != 0 {
		return 1
	}
	return 0
}

// collapse takes a loop out of the ways of a routine: its head leads to where the loop does,
// after all of its rounds. It is left as it is where a loop in it has no end that is known.
func (c *counted) collapse(edges map[int32][]costEdge) {
	least, most := map[int32]int{c.head: 0}, map[int32]int{c.head: 0}
	order, ok := c.order(edges)
	if !ok {
		return
	}
	round, long := -1, 0
	for _, b := range order {
		for _, e := range edges[b] {
			short, far := least[b]+e.least, most[b]+e.most
			switch {
			case e.to == c.head:
				if round < 0 || short < round {
					round = short
				}
				long = max(long, far)
			case e.to >= 0 && c.body[e.to]:
				if was, met := least[e.to]; !met || short < was {
					least[e.to] = short
				}
				most[e.to] = max(most[e.to], far)
			}
		}
	}
	if round < 0 {
		return
	}
	var out []costEdge
	for _, b := range order {
		for _, e := range edges[b] {
			if e.to >= 0 && c.body[e.to] {
				continue
			}
			x := costEdge{e.to, least[b] + e.least, (c.most-1)*long + most[b] + e.most}
			if b == c.exit {
				x.least += (c.least - 1) * round
			}
			out = append(out, x)
		}
	}
	for b := range c.body {
		delete(edges, b)
	}
	edges[c.head] = out
}

// order are the blocks of a loop so that each comes after those that lead to it, from its head
// on; ok is false where some are met twice on a round.
func (c *counted) order(edges map[int32][]costEdge) (out []int32, ok bool) {
	done, under := map[int32]bool{}, map[int32]bool{}
	ok = true
	var visit func(b int32)
	visit = func(b int32) {
		if done[b] || !ok {
			return
		}
		if ok = !under[b]; !ok {
			return
		}
		under[b] = true
		for _, e := range edges[b] {
			if e.to >= 0 && e.to != c.head && c.body[e.to] {
				visit(e.to)
			}
		}
		under[b], done[b] = false, true
		out = append(out, b)
	}
	visit(c.head)
	slices.Reverse(out)
	return out, ok
}
