package flow

import (
	"sort"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// graph is where execution goes in a program. Its nodes are blocks: lines of a section
// that are carried out one after the other. All sections are in it, as branches and
// calls go from one to another.
type graph struct {
	*Paths
	steps   []step
	stepAt  []int32 // by item: its step, or the next one in its section
	secs    []span  // by section: its steps
	targets map[int32][]int32
	blocks  []block
	edges   []int32 // of all blocks, those that jump or call
	taken   []int32 // blocks whose address something has
	byHand  []int32 // blocks to which a routine may come back that no call leads to
	// handUse is what those read first, hand what is needed there.
	handUse, hand set
	entered       []int32 // blocks that are entered from where nothing is known
	// any is what is needed where a call through a register may lead in this file, and
	// anyIn what is needed where routines come back that are entered so.
	any   needs
	anyIn set
	// stack says, by block, whether a line on some way to it has used the stack pointer.
	stack []bool
	work  int // blocks that have been looked at
	// frames are those where blocks begin. showing says which are in a region that shows an
	// address of its stack, and keeping which come back with the stack pointer as it was;
	// both are found when they are asked for.
	frames  []frame
	showing []bool
	keeping map[int32]bool
	back    *predecessors // once something has asked
	// shared: all labels may be used by code that is not seen.
	shared bool
}

// step is a line that takes part in execution.
type step struct {
	line
	item  int32 // -1 at the end of a section
	block int32
	data  bool
	first bool       // starts a block
	taken bool       // its address is in a register, in a table, in data
	hand  bool       // a return address that is made by hand
	named bool       // other files know its label
	skips bool       // it may come back to the caller's caller
	stack *stackLine // what it does with the stack, once that has been asked
}

// block is a run of steps.
type block struct {
	first, last int32 // steps
	from, to    int32 // of graph.edges: where its last step jumps, or what it calls
	away        away
	fall        bool // its last step goes on to the next block
	called      bool // by BL in this file
	gen, kill   set  // what its steps read first, and what they overwrite
	stack       bool // a step uses the stack pointer
	needs            // at its start
	in          set  // what is needed where the routines that it is in come back
}

// away says what else a jump or a call leads to, beside known targets.
type away uint8

const (
	outside away = 1 << iota // a routine of another file
	nowhere                  // to a place that is not known
)

type span struct{ from, to int32 }

// build makes the graph of a program.
func build(r *Paths) *graph {
	g := &graph{Paths: r, shared: r.Shared != nil && r.Shared(), targets: map[int32][]int32{}, stepAt: make([]int32, len(r.Items)), secs: make([]span, len(r.Order))}
	for sec := range r.Order {
		g.readSection(sec)
	}
	unseen := false // code that is not seen may name any label
	for sec := range g.secs {
		for s := g.secs[sec].from; s < g.secs[sec].to; s++ {
			if it := g.item(s); it != nil {
				byNumber := it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffInst
				unseen = unseen || it.Flags&program.Opaque != 0 || byNumber
			}
		}
	}
	aways, read := g.findTargets()
	g.findEntries(aways, read, unseen)
	g.cut()
	g.connect(aways)
	g.returnsOf()
	g.solve()
	g.enter()
	return g
}

func (g *graph) item(s int32) *program.Item {
	if i := g.steps[s].item; i >= 0 {
		return &g.Items[i]
	}
	return nil
}

// readSection makes the steps of a section. The last one is its end.
func (g *graph) readSection(sec int) {
	from := int32(len(g.steps))
	for _, id := range g.Order[sec] {
		it := &g.Items[id]
		g.stepAt[id] = int32(len(g.steps))
		switch partOf(it) {
		case instruction:
			l := g.lineOf(it)
			if l.way == goesOn && it.Size == 0 && l == (line{}) {
				continue
			}
			g.steps = append(g.steps, step{line: l, item: id})
		case data:
			g.steps = append(g.steps, step{line: line{way: unclear, reads: everything}, item: id, data: true})
		}
	}
	g.steps = append(g.steps, step{line: line{way: unclear, reads: everything}, item: -1, data: true})
	g.secs[sec] = span{from, int32(len(g.steps))}
}

// place is the step at an address, -1 where none starts there. That of a label is the
// one after it, wherever that is.
func (g *graph) place(v program.Value) int32 {
	if v.Kind != program.Address || int(v.Section) >= len(g.secs) || v.Section < 0 {
		return -1
	}
	if s := v.Symbol; s != nil && s.Label && s.Item >= 0 {
		if d := v.N - s.Value.N; d == 0 || d == 1 {
			return g.stepAt[s.Item]
		}
	}
	if !g.Sections[v.Section].Exact {
		return -1
	}
	in := g.secs[v.Section]
	off := v.N
	k := in.from + int32(sort.Search(int(in.to-in.from-1), func(k int) bool { return g.item(in.from+int32(k)).Offset >= off }))
	for ; k < in.to-1 && g.item(k).Offset <= off+1; k++ {
		it := g.item(k)
		if at := it.Offset - it.Slot.ItSize(); it.Size > 0 && (it.Offset == off || at == off || it.Offset == off-1 || at == off-1) {
			return k
		}
	}
	return -1
}

// targetOf is the step that a branch or call names, -1 where none is known. beyond says
// what else it may lead to.
func (g *graph) targetOf(it *program.Item) (s int32, beyond away) {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Kind != isa.OpExpr || o.Word != "" && g.Register(o.Word).Core != isa.NoReg {
			continue
		}
		if o.Expr != nil && o.Expr.Op == syntax.ExprDot {
			return -1, nowhere // b . halts, and who looks at it sees the registers (common practice)
		}
		v := g.Value(o, it)
		if y := g.Direct(o); y == nil && o.Word != "" || y != nil && !y.Defined {
			return -1, outside
		}
		if s = g.place(v); s < 0 {
			return -1, nowhere
		}
		if v.Symbol != nil && v.Symbol.Weak {
			return s, outside // a weak one may be that of another file
		}
		return s, 0
	}
	return -1, nowhere
}

// findTargets finds where jumps and calls lead. It says what they lead to beside that,
// and which items are tables that only jumps use.
func (g *graph) findTargets() (aways map[int32]away, read map[int32]bool) {
	aways, read = map[int32]away{}, map[int32]bool{}
	for s := range g.steps {
		x := &g.steps[s]
		it := g.item(int32(s))
		switch x.way {
		case jumps, calls:
			t, beyond := g.targetOf(it)
			if t >= 0 {
				g.targets[int32(s)] = []int32{t}
			}
			if beyond != 0 {
				aways[int32(s)] = beyond
			}
		case leaves:
			if list, used, ok := g.tableOf(it); ok {
				g.targets[int32(s)] = list
				x.way = jumps
				for _, d := range used {
					read[d] = true
				}
			}
		}
		for _, t := range g.targets[int32(s)] {
			g.steps[t].first = true
		}
	}
	return aways, read
}

// cut divides steps into blocks, which are never long: what is asked of a line is
// found from the end of its block.
func (g *graph) cut() {
	const longest = 64
	for _, in := range g.secs {
		for s, n := in.from, 0; s < in.to; s, n = s+1, n+1 {
			if s == in.from || g.steps[s].first || g.steps[s].taken || g.steps[s].hand || g.steps[s].named || n == longest {
				g.blocks = append(g.blocks, block{first: s})
				n = 0
			}
			b := int32(len(g.blocks) - 1)
			g.steps[s].block, g.blocks[b].last = b, s
			if g.steps[s].way != goesOn && s+1 < in.to {
				g.steps[s+1].first = true
			}
		}
	}
}

// connect makes the edges.
func (g *graph) connect(aways map[int32]away) {
	for b := range g.blocks {
		x := &g.blocks[b]
		last := &g.steps[x.last]
		x.away = aways[x.last]
		x.from = int32(len(g.edges))
		for _, t := range g.targets[x.last] {
			g.edges = append(g.edges, g.steps[t].block)
			if last.way == calls {
				g.blocks[g.steps[t].block].called = true
			}
		}
		x.to = int32(len(g.edges))
		end := last.item < 0
		x.fall = !end && (last.way == goesOn || last.way == calls || last.way == callsBy || last.way == unclear || last.runsOn)
		if g.steps[x.first].taken {
			g.taken = append(g.taken, int32(b))
		}
	}
	for b := range g.blocks {
		if g.comesByHand(int32(b)) {
			g.byHand = append(g.byHand, int32(b))
		}
	}
	g.targets = nil
}

// comesByHand says whether a routine may come back to a block that no call leads to.
func (g *graph) comesByHand(b int32) bool {
	x := &g.blocks[b]
	s := &g.steps[x.first]
	return s.hand || s.taken && !s.named && !x.called
}

// Returns lists the lines by which the routine that a call names comes back. ok is
// false where that is not sure.
func (r *Paths) Returns(call *program.Item) (list []*program.Item, ok bool) {
	g := r.graphOf()
	c := &g.blocks[g.steps[g.stepAt[call.Index]].block]
	if c.away != 0 || c.from == c.to || g.steps[c.last].item != call.Index {
		return nil, false
	}
	seen := map[int32]bool{}
	ok = true
	var visit func(b int32)
	visit = func(b int32) {
		for ; ok && !seen[b]; b++ {
			seen[b] = true
			x := &g.blocks[b]
			last := &g.steps[x.last]
			switch last.way {
			case returns:
				list = append(list, g.item(x.last))
			case leaves, unclear, stops:
				ok = false
			case jumps:
				ok = ok && x.away == 0
				for _, t := range g.edges[x.from:x.to] {
					visit(t)
				}
			}
			if !x.fall {
				return
			}
		}
	}
	for _, t := range g.edges[c.from:c.to] {
		visit(t)
	}
	return list, ok && len(list) > 0
}

// Regions numbers the regions of the code, by item: what execution reaches from one
// place to another, calls apart. A routine is one, mostly.
func (r *Paths) Regions() []int32 {
	g := r.graphOf()
	of := make([]int32, len(g.stepAt))
	regions := g.blockRegions()
	for i, s := range g.stepAt {
		of[i] = regions[g.steps[s].block]
	}
	return of
}

// blockRegions is the same by block.
func (g *graph) blockRegions() []int32 {
	parent := make([]int32, len(g.blocks))
	for b := range parent {
		parent[b] = int32(b)
	}
	root := func(b int32) int32 {
		for parent[b] != b {
			parent[b] = parent[parent[b]]
			b = parent[b]
		}
		return b
	}
	for b := range g.blocks {
		x := &g.blocks[b]
		last := &g.steps[x.last]
		if last.data {
			continue
		}
		if x.fall {
			parent[root(int32(b))] = root(int32(b) + 1)
		}
		if last.way == jumps {
			for _, t := range g.edges[x.from:x.to] {
				parent[root(int32(b))] = root(t)
			}
		}
	}
	for b := range parent {
		parent[b] = root(int32(b))
	}
	return parent
}

// Work counts the blocks that have been looked at to make the graph: a measure that does
// not depend on the machine.
func (r *Paths) Work() int { return r.graphOf().work }
