package flow

import (
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Words of the stack are followed one by one. A word of the frame, which is what a routine
// has put below the place of the stack pointer where it was entered, is dead at a place
// where on each way on it is overwritten or the frame is left before it is loaded. All
// words stay alive in a routine that has the address of one of them in a register or in
// memory, and where the stack pointer is not followed. What is at the stack pointer and
// above it may be what is called by it: the words of a call of what is not seen
// are alive, and those of a routine of the file where that, or what it calls, loads them
// (AAPCS32, 6.2.1 and 6.5: arguments).

// StackWord is a word on the stack.
type StackWord struct {
	At      int64   // bytes from where the stack pointer is before the line
	Reg     isa.Reg // the core register that the line stores there, NoReg where it stores none
	Known   bool    // Readers are all
	Readers []*program.Item
}

// Dead says that nothing loads the word any more.
func (w *StackWord) Dead() bool { return w.Known && len(w.Readers) == 0 }

// StoredWords are the words of the frame that a line stores, whole and in any case of its
// condition, with what loads them later.
func (r *Paths) StoredWords(it *program.Item) (list []StackWord) {
	g := r.graphOf()
	s := g.stepAt[it.Index]
	if g.steps[s].item != it.Index {
		return nil
	}
	f := g.frameAt(s)
	if !f.seen || f.lost {
		return nil
	}
	l := g.stackLineOf(&g.steps[s])
	for _, a := range l.accesses {
		if !a.store || (f.delta+a.at)&3 != 0 || a.size&3 != 0 {
			continue
		}
		for at := a.at; at < a.at+a.size; at += 4 {
			w := g.wordAfter(s, f.delta+at)
			w.At, w.Reg = at, a.reg
			list = append(list, w)
		}
	}
	return list
}

// FrameWords are the words of the frame after a line, from the stack pointer up, At counted
// from where that is before the line. ok is false where the stack pointer is not followed.
func (r *Paths) FrameWords(it *program.Item) (list []StackWord, ok bool) {
	g := r.graphOf()
	s := g.stepAt[it.Index]
	if g.steps[s].item != it.Index {
		return nil, false
	}
	f := g.frameAt(s)
	after, _ := g.pass(&g.steps[s], f)
	if !f.seen || f.lost || after.lost || after.delta < -mostFrame {
		return nil, false
	}
	for slot := after.delta; slot < 0; slot += 4 {
		w := g.wordAfter(s, slot)
		w.At, w.Reg = slot-f.delta, isa.NoReg
		list = append(list, w)
	}
	return list, true
}

// Bounds of what is looked at: bytes of a frame, and blocks for a word.
const (
	mostFrame  = 4096
	mostBlocks = 400
)

// frameAt is the frame before a step.
func (g *graph) frameAt(s int32) frame {
	b := g.steps[s].block
	f := g.frames[b]
	for k := g.blocks[b].first; k < s; k++ {
		f, _ = g.pass(&g.steps[k], f)
	}
	return f
}

// wordAfter follows the word at a place of the frame, counted from where the routine is
// entered, from behind a step.
func (g *graph) wordAfter(s int32, slot int64) StackWord {
	if slot >= 0 || g.shows(g.steps[s].block) {
		return StackWord{}
	}
	q := wordQuery{graph: g, seen: map[wordAt]bool{}}
	f := g.frameAt(s)
	f, _ = g.pass(&g.steps[s], f)
	if f.lost || !f.seen {
		return StackWord{}
	}
	if s < g.blocks[g.steps[s].block].last {
		q.run(s+1, f, slot)
	} else {
		q.leave(s, g.frameAt(s), f, slot)
	}
	for len(q.todo) > 0 && !q.unknown {
		next := q.todo[len(q.todo)-1]
		q.todo = q.todo[:len(q.todo)-1]
		q.run(g.blocks[next.block].first, g.frames[next.block], next.slot)
	}
	w := StackWord{Known: !q.unknown}
	slices.Sort(q.readers)
	for _, k := range slices.Compact(q.readers) {
		w.Readers = append(w.Readers, g.item(k))
	}
	return w
}

// wordQuery looks for what loads a word.
type wordQuery struct {
	*graph
	seen    map[wordAt]bool
	todo    []wordAt
	readers []int32
	unknown bool
}

// wordAt is a word of the routine that a block is in.
type wordAt struct {
	block int32
	slot  int64
}

func (q *wordQuery) visit(b int32, slot int64) {
	k := wordAt{b, slot}
	switch {
	case q.seen[k]:
	case len(q.seen) == mostBlocks, !q.frames[b].seen, q.frames[b].lost:
		q.unknown = true
	default:
		q.seen[k] = true
		q.todo = append(q.todo, k)
	}
}

// run follows a word from a step to the end of its block. f is the frame there.
func (q *wordQuery) run(s int32, f frame, slot int64) {
	b := q.steps[s].block
	for last := q.blocks[b].last; !q.unknown; s++ {
		if f.lost {
			q.unknown = true
			return
		}
		l := q.stackLineOf(&q.steps[s])
		for _, a := range l.accesses {
			if at := f.delta + a.at; !a.store && at < slot+4 && slot < at+a.size {
				q.readers = append(q.readers, s)
			}
		}
		for _, a := range l.accesses {
			if at := f.delta + a.at; a.store && !l.perhaps && at <= slot && slot+4 <= at+a.size {
				return
			}
		}
		before := f
		f, _ = q.pass(&q.steps[s], f)
		if s == last {
			q.leave(s, before, f, slot)
			return
		}
	}
}

// leave follows a word from the last step of a block on. before and f are the frames
// around it.
func (q *wordQuery) leave(s int32, before, f frame, slot int64) {
	x := &q.steps[s]
	b := &q.blocks[x.block]
	own := slot < 0 // else the caller's, asked for by a routine that is called
	next := func() {
		if b.fall {
			q.visit(x.block+1, slot)
		}
	}
	switch x.way {
	case goesOn:
	case jumps:
		if b.away != 0 {
			q.unknown = true
		}
		for _, t := range q.edges[b.from:b.to] {
			q.visit(q.steps[q.blocks[t].first].block, slot)
		}
	case calls:
		for _, t := range q.edges[b.from:b.to] {
			q.unknown = q.unknown || !q.keepsStack(t)
		}
		if before.delta <= slot {
			if b.away != 0 {
				q.unknown = true
			}
			for _, t := range q.edges[b.from:b.to] {
				if q.shows(t) {
					q.unknown = true
				}
				q.visit(t, slot-before.delta)
			}
		}
	case callsBy:
		q.unknown = q.unknown || before.delta <= slot || slices.ContainsFunc(q.taken, func(t int32) bool { return !q.keepsStack(t) })
	case returns:
		if x.skips || own && f.delta != 0 {
			q.unknown = true
		}
	default:
		q.unknown = true
	}
	if x.way != jumps || x.runsOn {
		next()
	}
}

// keepsStack says whether a routine comes back with the stack pointer as it was. What is not
// in the file does (AAPCS32, 6.1.1).
func (g *graph) keepsStack(entry int32) bool {
	if keeps, known := g.keeping[entry]; known {
		return keeps
	}
	seen := map[int32]bool{entry: true}
	todo := []int32{entry}
	keeps := true
	for len(todo) > 0 && keeps {
		b := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		x := &g.blocks[b]
		f := g.frames[b]
		if b == entry && f.delta != 0 || f.lost || !f.seen {
			keeps = false
			break
		}
		for s := x.first; s <= x.last; s++ {
			f, _ = g.pass(&g.steps[s], f)
		}
		more := []int32{}
		switch last := &g.steps[x.last]; last.way {
		case returns:
			keeps = f.delta == 0 && !f.lost && !last.skips
		case jumps:
			keeps = x.away&nowhere == 0 && (x.away == 0 || f.delta == 0 && !f.lost)
			more = g.edges[x.from:x.to]
		case leaves, unclear:
			keeps = false
		}
		if x.fall {
			more = append(slices.Clone(more), b+1)
		}
		for _, t := range more {
			if !seen[t] {
				seen[t] = true
				todo = append(todo, t)
			}
		}
	}
	if g.keeping == nil {
		g.keeping = map[int32]bool{}
	}
	g.keeping[entry] = keeps
	return keeps
}

// shows says whether an address of the stack goes elsewhere in the region of a block, or a
// step of it does with the stack what is not known.
func (g *graph) shows(b int32) bool {
	if g.showing == nil {
		g.findShowing()
	}
	return g.showing[b]
}

func (g *graph) findShowing() {
	of := g.blockRegions()
	bad := map[int32]bool{}
	for s := range g.steps {
		if l := g.stackLineOf(&g.steps[s]); l.takes || l.lost {
			bad[of[g.steps[s].block]] = true
		}
	}
	g.showing = make([]bool, len(g.blocks))
	for b := range g.blocks {
		g.showing[b] = bad[of[b]]
	}
}
