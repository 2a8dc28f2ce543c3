package flow

import (
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Paths answers what execution does in a program that is assembled. The first question
// of where it goes makes the graph of the program.
type Paths struct {
	*eval.Evaluator
	// Waits are the wait states of memory, by region.
	Waits Waits
	// Shared says whether other sources include the root file, and may use all that it
	// has; nil: none does.
	Shared func() bool
	// Stop says whether nobody waits for what is known of values any more; nil: somebody does.
	Stop   func() bool
	graph  *graph
	known  *Known
	harms  bool // PushHarms, once it is known
	harmed bool
}

func (r *Paths) graphOf() *graph {
	if r.graph == nil {
		r.graph = build(r)
	}
	return r.graph
}

// DeadRegs gives the registers of want that are provably dead after the
// item: on every path they are written before they are read. A path that
// leaves what is known (a call of another file, an exception, unknown code, data)
// keeps all of them alive, and so does the return of a routine that other files may
// call: hand-written code need not follow the procedure call standard.
func (r *Paths) DeadRegs(it *program.Item, want isa.RegList) isa.RegList {
	return want &^ r.graphOf().liveAfter(it).regs()
}

// DeadFlags is the same for flags. At calls of other files and at returns to them the
// flags are dead: AAPCS32, section 6.1.1: "The N, Z, C, V and Q flags … are undefined on
// entry to or return from a public interface". A return may also go back to
// code of this file, and hand it a result in a flag: what is alive after the
// calls of the routine in this file, seen by others or not, is alive at its returns.
func (r *Paths) DeadFlags(it *program.Item, want isa.Flags) isa.Flags {
	return want &^ r.graphOf().liveAfter(it).flags()
}

// DeadStatus is the same for Q and GE, of which the standard says the same.
func (r *Paths) DeadStatus(it *program.Item, want isa.Status) isa.Status {
	return want &^ r.graphOf().liveAfter(it).status()
}

// needs is what is needed at a place, as a function of what is needed where the routine
// comes back: what some path reads first, and what some path hands on to there as it is.
// over is what some way hands on to where its caller, or a caller of that, comes back.
type needs struct{ use, pass, over set }

func (n needs) or(m needs) needs { return needs{n.use | m.use, n.pass | m.pass, n.over | m.over} }

// then is n where m is needed where it comes back.
func (n needs) then(m needs) needs {
	return needs{n.use | n.pass&m.use, n.pass&m.pass | n.over, n.pass&m.over | n.over}
}

// before is what is needed before lines that read gen first and overwrite kill.
func (n needs) before(gen, kill set) needs {
	return needs{gen | n.use&^kill, n.pass &^ kill, n.over &^ kill}
}

// solve finds what is needed at each block's start: the least solution, by a list of
// blocks whose successors have changed. As needs only grow, each is looked at a
// number of times that does not depend on the program.
func (g *graph) solve() {
	for b := range g.blocks {
		x := &g.blocks[b]
		for s := x.last; s >= x.first; s-- {
			x.gen = g.steps[s].reads | x.gen&^g.steps[s].writes
			x.kill |= g.steps[s].writes
			x.stack = x.stack || g.steps[s].usesStack()
		}
	}
	from := g.predecessors()
	queue := make([]int32, len(g.blocks))
	queued := make([]bool, len(g.blocks))
	for i := range queue {
		queue[i], queued[i] = int32(len(queue)-1-i), true
	}
	push := func(b int32) {
		if !queued[b] {
			queued[b] = true
			queue = append(queue, b)
		}
	}
	for n := 0; n < len(queue); n++ {
		b := queue[n]
		queued[b] = false
		g.work++
		x := &g.blocks[b]
		now := g.end(b).before(x.gen, x.kill)
		if now == x.needs {
			continue
		}
		x.needs = now
		if b > 0 && g.blocks[b-1].fall {
			push(b - 1)
		}
		for _, p := range from.of(b) {
			push(p)
		}
		s := &g.steps[x.first]
		if all := g.any.or(now); s.taken && all != g.any {
			g.any = all
			for _, p := range from.byAddress {
				push(p)
			}
		}
		if g.comesByHand(b) {
			if use := g.handUse; now.use&^use != 0 {
				g.handUse |= now.use
				for _, p := range from.returning {
					push(p)
				}
			}
		}
	}
}

// predecessors are the edges of a graph backwards, those to the next block apart.
type predecessors struct {
	start, list          []int32
	byAddress, returning []int32 // blocks that end with a call through a register, with a return
}

func (p *predecessors) of(b int32) []int32 { return p.list[p.start[b]:p.start[b+1]] }

func (g *graph) predecessors() *predecessors {
	if g.back != nil {
		return g.back
	}
	p := &predecessors{start: make([]int32, len(g.blocks)+1), list: make([]int32, len(g.edges))}
	for _, t := range g.edges {
		p.start[t+1]++
	}
	for b := range g.blocks {
		p.start[b+1] += p.start[b]
	}
	next := append([]int32(nil), p.start...)
	for b := range g.blocks {
		x := &g.blocks[b]
		for _, t := range g.edges[x.from:x.to] {
			p.list[next[t]] = int32(b)
			next[t]++
		}
		switch g.steps[x.last].way {
		case callsBy:
			p.byAddress = append(p.byAddress, int32(b))
		case returns:
			p.returning = append(p.returning, int32(b))
		}
	}
	g.back = p
	return p
}

// end is what is needed after the last line of a block.
func (g *graph) end(b int32) (n needs) {
	x := &g.blocks[b]
	last := &g.steps[x.last]
	var next needs
	if x.fall {
		next = g.blocks[b+1].needs
	}
	switch last.way {
	case goesOn:
		return next
	case jumps:
		for _, t := range g.edges[x.from:x.to] {
			n = n.or(g.blocks[t].needs)
		}
		if x.away != 0 {
			n.use = everything
		}
	case calls:
		for _, t := range g.edges[x.from:x.to] {
			n = n.or(g.blocks[t].then(next))
		}
		if x.away&outside != 0 {
			n.use |= allRegs
		}
		if x.away&nowhere != 0 {
			n.use = everything
		}
	case callsBy: // a public interface, perhaps one of this file
		n = g.any.then(next)
		n = needs{n.use&allFlags | allRegs, n.pass & allFlags, n.over & allFlags}
	case returns:
		if n = (needs{use: g.handUse, pass: everything}); last.skips {
			n.over = everything
		}
	default:
		n.use = everything
	}
	if last.runsOn {
		n = n.or(next)
	}
	return n
}

// live is what is needed at the start of a block.
func (g *graph) live(b int32) set {
	x := &g.blocks[b]
	return x.use | x.pass&(x.in|g.hand)
}

// liveAfter is what may be read after an item.
func (g *graph) liveAfter(it *program.Item) set {
	s := g.stepAt[it.Index]
	b := g.steps[s].block
	x := &g.blocks[b]
	n := g.end(b)
	live := n.use | n.pass&(x.in|g.hand)
	if g.steps[s].item != it.Index {
		s-- // it takes no part: what is needed before the next line
	}
	for k := x.last; k > s; k-- {
		live = g.steps[k].reads | live&^g.steps[k].writes
	}
	return live
}

// readsFirst says whether code at a step may read a register before it writes it, as far
// as it is followed: calls and what is not known count as if they read nothing.
func (g *graph) readsFirst(s int32, want set) bool {
	const most = 4000
	seen := map[int32]bool{}
	todo := []int32{s}
	for len(todo) > 0 && len(seen) < most {
		s := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		for !seen[s] {
			seen[s] = true
			x := &g.steps[s]
			switch {
			case x.way == unclear:
			case x.reads&want != 0:
				return true
			case x.writes&want != 0:
			case x.way == jumps:
				b := &g.blocks[x.block]
				for _, t := range g.edges[b.from:b.to] {
					todo = append(todo, g.blocks[t].first)
				}
				fallthrough
			default:
				if x.way == goesOn || x.runsOn && x.way != traps {
					s++
				}
			}
		}
	}
	return false
}

// stackUsed says whether some line on a way to the item has used the stack pointer.
func (g *graph) stackUsed(it *program.Item) bool {
	s := g.stepAt[it.Index]
	b := g.steps[s].block
	if g.stack[b] {
		return true
	}
	for k := g.blocks[b].first; k < s; k++ {
		if g.steps[k].usesStack() {
			return true
		}
	}
	return false
}

func (s *step) usesStack() bool {
	return s.way != unclear && (s.reads|s.writes)&setOf(1<<isa.SP, 0) != 0
}
