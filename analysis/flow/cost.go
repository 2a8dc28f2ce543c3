package flow

import (
	"strconv"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Cost is how many cycles a routine takes on a family of cores, a block, or one time around
// a loop.
type Cost struct {
	Core string
	// Least is the shortest way, and Most the longest; -1 where a loop has no end that is
	// known, or where it waits for something.
	Least, Most int
}

// The refill of the pipeline, P in published figures, takes so many cycles (DDI 0439D, 3.3.1).
const leastRefill, mostRefill = 1, 3

// count is what one line takes: where it is carried out, and where its condition fails.
// late is by how much the latter may be longer, as its code has to be fetched.
type count struct{ least, most, not, late int }

// readCount reads a figure as isa.Cycles has it; ok is false for one that depends on more.
func readCount(s string) (c count, ok bool) {
	main, rest, _ := strings.Cut(s, ", ")
	for _, sep := range []string{"–", " or "} {
		if a, b, is := strings.Cut(main, sep); is {
			least, err := strconv.Atoi(a)
			most, err2 := strconv.Atoi(b)
			return count{least: least, most: most, not: -1}, err == nil && err2 == nil && rest == ""
		}
	}
	number, refill := strings.CutSuffix(main, "+P")
	n, err := strconv.Atoi(number)
	if err != nil {
		return c, false
	}
	c = count{least: n, most: n, not: -1}
	if refill {
		c.least, c.most = n+leastRefill, n+mostRefill
	}
	if words := strings.Fields(rest); len(words) > 1 && words[1] == "when" { // what it takes otherwise
		c.not, err = strconv.Atoi(words[0])
		return c, err == nil
	}
	return c, rest == ""
}

// figures are what lines take on one family, by item.
type figures struct {
	core   string
	counts map[int32]count
}

// figuresOf are those of the families that all of the lines have figures of, with the wait
// states of memory.
func (g *graph) figuresOf(items []*program.Item) (out []figures) {
	if len(items) == 0 {
		return nil
	}
	cyclesOf := func(it *program.Item) []isa.Cycles {
		if it.Match.Form == nil || it.Flags&program.Refused != 0 {
			return nil
		}
		e := &g.Environments[it.Environment]
		return it.Match.Cycles(e.Target, e.Have)
	}
	waits := g.waitsOf(items)
	for _, core := range cyclesOf(items[0]) {
		counts := map[int32]count{}
		for _, it := range items {
			for _, c := range cyclesOf(it) {
				if n, ok := readCount(c.Count); ok && c.Core == core.Core {
					counts[it.Index] = n.with(waits[it.Index])
				}
			}
		}
		if len(counts) == len(items) {
			out = append(out, figures{core.Core.Name, counts})
		}
	}
	return out
}

// figures are those of the families that all lines of the routine have some of.
func (sum *Routine) figures() []figures {
	if sum.paths == nil || len(sum.own) > maxRoutine {
		return nil
	}
	return sum.paths.graphOf().figuresOf(sum.Items)
}

// Timed says whether Cycles has a figure: there is a family with some, and the routine ends.
func (sum *Routine) Timed() bool {
	list := sum.figures()
	if len(list) == 0 {
		return false
	}
	return shortest(sum.paths.graphOf().ownEdges(sum.own, list[0].counts), sum.entry) >= 0
}

// Cycles are how long the routine takes, by family of cores, without what it calls. It is
// computed at each call.
func (sum *Routine) Cycles() (out []Cost) {
	list := sum.figures()
	if len(list) == 0 {
		return nil
	}
	loops := sum.paths.countedLoops(sum.own)
	for _, f := range list {
		out = append(out, sum.paths.graphOf().costOn(f, sum.entry, sum.own, loops))
	}
	return out
}

// costEdge is a way from one block to another, -1 to where the routine comes back or goes
// elsewhere, with what the block takes on it.
type costEdge struct {
	to          int32
	least, most int
}

// costOn is the cost of the ways from a block out of those that are own, with figures of one
// family. Loops whose rounds are known take as long as all of them.
func (g *graph) costOn(f figures, entry int32, own map[int32]bool, loops []counted) Cost {
	edges := g.ownEdges(own, f.counts)
	for i := range loops {
		loops[i].collapse(edges)
	}
	return costOf(f.core, edges, entry)
}

func costOf(core string, edges map[int32][]costEdge, entry int32) Cost {
	c := Cost{Core: core, Least: shortest(edges, entry), Most: -1}
	if n, ok := longest(edges, entry); ok && c.Least >= 0 {
		c.Most = n
	}
	return c
}

// ownEdges are the ways on from the blocks that are own.
func (g *graph) ownEdges(own map[int32]bool, counts map[int32]count) map[int32][]costEdge {
	edges := map[int32][]costEdge{}
	for b := range own {
		edges[b] = g.costEdges(b, own, counts)
	}
	return edges
}

// costEdges are the ways on from a block.
func (g *graph) costEdges(b int32, own map[int32]bool, counts map[int32]count) (edges []costEdge) {
	x := &g.blocks[b]
	least, most := 0, 0
	for s := x.first; s < x.last; s++ {
		if c, is := counts[g.steps[s].item]; is && !g.steps[s].data {
			if c.not >= 0 { // it may not be executed
				c.least = min(c.least, c.not)
			}
			least, most = least+c.least, most+c.most
		}
	}
	last, is := counts[g.steps[x.last].item]
	if !is || g.steps[x.last].data {
		last = count{not: -1}
	}
	way, fall := g.steps[x.last].way, last
	if last.not >= 0 {
		switch way {
		case goesOn, calls, callsBy, traps:
			fall.least = min(fall.least, last.not)
		default:
			fall = count{least: last.not, most: last.not + last.late, not: -1}
		}
	}
	if x.fall {
		to := b + 1
		if !own[to] {
			to = -1
		}
		edges = append(edges, costEdge{to, least + fall.least, most + fall.most})
	}
	out := costEdge{-1, least + last.least, most + last.most}
	switch way {
	case jumps:
		for _, t := range g.edges[x.from:x.to] {
			e := out
			if own[t] {
				e.to = t
			}
			edges = append(edges, e)
		}
		if x.away != 0 {
			edges = append(edges, out)
		}
	case returns, leaves, unclear, stops:
		edges = append(edges, out)
	}
	return edges
}

// shortest is what the shortest way from a block out of all takes, -1 without one.
func shortest(edges map[int32][]costEdge, from int32) int {
	out := -1
	far := map[int32]int{from: 0}
	for todo := []int32{from}; len(todo) > 0; {
		b := todo[0]
		todo = todo[1:]
		for _, e := range edges[b] {
			d := far[b] + e.least
			if e.to < 0 {
				if out < 0 || d < out {
					out = d
				}
				continue
			}
			if was, known := far[e.to]; !known || d < was {
				far[e.to] = d
				todo = append(todo, e.to)
			}
		}
	}
	return out
}

// longest is what the longest way takes; ok is false where some block is met twice.
func longest(edges map[int32][]costEdge, from int32) (n int, ok bool) {
	most, under := map[int32]int{}, map[int32]bool{}
	ok = true
	var visit func(b int32) int
	visit = func(b int32) int {
		if n, known := most[b]; known {
			return n
		}
		if ok = ok && !under[b]; !ok {
			return 0
		}
		under[b] = true
		n := 0
		for _, e := range edges[b] {
			d := e.most
			if e.to >= 0 {
				d += visit(e.to)
			}
			n = max(n, d)
		}
		most[b], under[b] = n, false
		return n
	}
	return visit(from), ok
}
