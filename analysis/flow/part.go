package flow

import (
	"maps"
	"slices"

	"narrowgauge/analysis/program"
)

// Part is a stretch of code with what it costs.
type Part struct {
	Lines  int // instructions
	Bytes  int64
	Cycles []Cost // once through it, by family of cores, without what it calls
	// Rounds is how often a loop goes around, at least and at most, and Total what all of that
	// takes; 0 and nil where that is not known. At least 0: it may end at any time.
	Rounds [2]int
	Total  []Cost
}

// maxLoop bounds the blocks of a loop.
const maxLoop = 200

// BlockAt is the block that begins at a label: the lines up to the next one that goes
// somewhere, or to which something goes. ok is false where none begins there.
func (r *Paths) BlockAt(label *program.Item) (p Part, ok bool) {
	g := r.graphOf()
	b, ok := g.blockAt(label)
	if !ok {
		return p, false
	}
	own := map[int32]bool{b: true}
	items := g.itemsOf(own, &p)
	for _, f := range g.figuresOf(items) {
		edges := g.costEdges(b, nil, f.counts)
		if len(edges) > 0 {
			p.Cycles = append(p.Cycles, costOf(f.core, map[int32][]costEdge{b: edges}, b))
		}
	}
	return p, p.Lines > 0
}

// LoopAt is the loop that begins at a label, to which a line of it goes back, and through
// which alone it is entered; its cycles are those of one time around. ok is false where none
// begins there.
func (r *Paths) LoopAt(label *program.Item) (p Part, ok bool) {
	g := r.graphOf()
	head, ok := g.blockAt(label)
	if !ok {
		return p, false
	}
	body := g.loop(head)
	if body == nil {
		return p, false
	}
	items := g.itemsOf(body, &p)
	loops, inner := r.countedLoops(body), 0
	for ; inner < len(loops) && loops[inner].head != head; inner++ {
	}
	if inner < len(loops) {
		if p.Rounds = [2]int{loops[inner].least, loops[inner].most}; loops[inner].early {
			p.Rounds[0] = 0
		}
	}
	for _, f := range g.figuresOf(items) {
		edges := map[int32][]costEdge{}
		for b := range body {
			for _, e := range g.costEdges(b, body, f.counts) {
				switch {
				case e.to == head:
					edges[b] = append(edges[b], costEdge{-1, e.least, e.most})
				case e.to >= 0:
					edges[b] = append(edges[b], e)
				}
			}
		}
		for i := range loops[:inner] {
			loops[i].collapse(edges)
		}
		p.Cycles = append(p.Cycles, costOf(f.core, edges, head))
		if inner < len(loops) {
			p.Total = append(p.Total, g.costOn(f, head, body, loops))
		}
	}
	return p, true
}

// blockAt is the block that begins with the first line after a label.
func (g *graph) blockAt(label *program.Item) (b int32, ok bool) {
	if label.Index < 0 || int(label.Index) >= len(g.stepAt) {
		return 0, false
	}
	s := g.stepAt[label.Index]
	if int(s) >= len(g.steps) || g.steps[s].data || g.steps[s].item < 0 {
		return 0, false
	}
	b = g.steps[s].block
	return b, g.blocks[b].first == s
}

// loop are the blocks of the loop with a head: those from which a way leads back to it, and to
// which none leads but through it. nil where there is none, or it is too large.
func (g *graph) loop(head int32) map[int32]bool {
	var body map[int32]bool
	for _, p := range g.into(head) {
		part := map[int32]bool{head: true}
		ok, around := true, p == head
		for todo := []int32{p}; ok && len(todo) > 0; {
			b := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			if part[b] {
				around = around || b == head
				continue
			}
			part[b] = true
			from := g.into(b)
			s := &g.steps[g.blocks[b].first]
			ok = !s.taken && !s.hand && !s.named && !g.blocks[b].called && !slices.Contains(g.entered, b) && len(part) <= maxLoop && len(from) > 0
			todo = append(todo, from...)
		}
		if !ok || !around {
			continue // it is a way to the loop, or one into its middle
		}
		if body == nil {
			body = part
		}
		maps.Copy(body, part)
	}
	return body
}

// into are the blocks from which one is jumped to, or run into.
func (g *graph) into(b int32) (list []int32) {
	for _, p := range g.predecessors().of(b) {
		if g.steps[g.blocks[p].last].way == jumps {
			list = append(list, p)
		}
	}
	if b > 0 && g.blocks[b-1].fall {
		list = append(list, b-1)
	}
	return list
}

// itemsOf are the lines of some blocks, which are counted in p.
func (g *graph) itemsOf(blocks map[int32]bool, p *Part) (items []*program.Item) {
	for _, b := range slices.Sorted(maps.Keys(blocks)) {
		for s := g.blocks[b].first; s <= g.blocks[b].last; s++ {
			if it := g.item(s); it != nil && !g.steps[s].data {
				items = append(items, it)
				p.Lines++
				p.Bytes += it.Size + it.Slot.ItSize()
			}
		}
	}
	return items
}
