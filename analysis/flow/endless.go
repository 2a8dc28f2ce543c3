package flow

import (
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Endless is a loop that does not end, though a line of it says when it should.
type Endless struct {
	First *program.Item // of the loop, by its place
	Exit  *program.Item // the line on whose condition it would end
	// Always: what the condition is, is known. Else nothing that it looks at changes in the
	// loop, so that it does not end once it has gone back.
	Always bool
}

// Endless gives the loops that cannot end. Those without a condition are meant to, and so
// are those of one line.
func (k *Known) Endless(f func(Endless)) {
	for _, loop := range k.loops() {
		if e, ok := k.endless(loop); ok {
			f(e)
		}
	}
}

// next are the blocks of the same routine that are reached right after a block.
func (g *graph) nextBlocks(b int32, out []int32) []int32 {
	x := &g.blocks[b]
	if g.steps[x.last].way == jumps {
		out = append(out, g.edges[x.from:x.to]...)
	}
	if x.fall {
		out = append(out, b+1)
	}
	return out
}

// loops are the sets of blocks of which each leads to each (Tarjan's algorithm), in the order of
// their first blocks.
func (k *Known) loops() (out [][]int32) {
	g := k.g
	n := int32(len(g.blocks))
	index, low := make([]int32, n), make([]int32, n)
	on := make([]bool, n)
	type frame struct {
		block int32
		next  []int32
	}
	var stack []int32
	var work []frame
	count := int32(0)
	enter := func(b int32) {
		count++
		index[b], low[b], on[b] = count, count, true
		stack = append(stack, b)
		work = append(work, frame{b, g.nextBlocks(b, nil)})
	}
	for b := range n {
		if k.at[b] == nil || index[b] != 0 {
			continue
		}
		for enter(b); len(work) > 0; {
			top := &work[len(work)-1]
			if len(top.next) > 0 {
				t := top.next[0]
				top.next = top.next[1:]
				if index[t] == 0 {
					enter(t)
				} else if on[t] {
					low[top.block] = min(low[top.block], index[t])
				}
				continue
			}
			x := top.block
			if work = work[:len(work)-1]; len(work) > 0 {
				up := work[len(work)-1].block
				low[up] = min(low[up], low[x])
			}
			if low[x] != index[x] {
				continue
			}
			at := slices.Index(stack, x)
			loop := slices.Clone(stack[at:])
			stack = stack[:at]
			for _, y := range loop {
				on[y] = false
			}
			if len(loop) > 1 || slices.Contains(g.nextBlocks(x, nil), x) {
				slices.Sort(loop)
				out = append(out, loop)
			}
		}
	}
	slices.SortFunc(out, func(a, b []int32) int { return int(a[0] - b[0]) })
	return out
}

// endless says whether no way leads out of a loop.
func (k *Known) endless(loop []int32) (e Endless, ok bool) {
	g := k.g
	within := func(b int32) bool { _, in := slices.BinarySearch(loop, b); return in }
	var written set
	lines, called := 0, false
	each := true // every block is part of each round
	for _, b := range loop {
		x := &g.blocks[b]
		if k.at[b] == nil {
			return e, false
		}
		for n := x.first; n <= x.last; n++ {
			it := g.item(n)
			if it == nil || g.steps[n].data || it.Match.Form == nil || !it.Match.Form.Row.Described() || it.Flags&program.Refused != 0 {
				return e, false
			}
			lines++
			ef := it.Match.Effects()
			written |= writesOf(&ef)
		}
		switch g.steps[x.last].way {
		case goesOn, jumps, returns, leaves:
		case calls, callsBy:
			called = true
		default:
			return e, false
		}
		each = each && countWithin(g.nextBlocks(b, nil), within) == 1
	}
	if lines < 2 {
		return e, false
	}
	always := true
	for _, b := range loop {
		x := &g.blocks[b]
		last := &g.steps[x.last]
		if last.way == goesOn || last.way == calls || last.way == callsBy {
			if !within(b + 1) {
				return e, false
			}
			continue
		}
		t := k.borrow(k.at[b].clone(), true)
		for n := x.first; n < x.last; n++ {
			t.step(n)
		}
		taken, not := t.conditional(x.last)
		k.giveBack(t)
		out := taken != nil && (last.way != jumps || x.away != 0 || slices.ContainsFunc(g.edges[x.from:x.to], func(to int32) bool { return !within(to) }))
		out = out || not != nil && x.fall && !within(b+1)
		leads := last.way != jumps || x.away != 0 || countWithin(g.nextBlocks(b, nil), within) < len(g.nextBlocks(b, nil))
		switch {
		case !leads:
			continue
		case !last.runsOn: // to another file, say
			return e, false
		case out && (called || !each || !k.sameEachTime(b, written)):
			return e, false
		}
		always = always && !out
		e.Exit = g.item(x.last)
	}
	e.First, e.Always = g.item(g.blocks[loop[0]].first), always
	return e, e.Exit != nil
}

func countWithin(list []int32, within func(int32) bool) (n int) {
	for _, b := range list {
		if within(b) {
			n++
		}
	}
	return n
}

// sameEachTime says whether the condition of the line that ends a block is the same in each
// round of a loop, in which written is written: what it looks at comes from lines of the
// block that do the same each time.
func (k *Known) sameEachTime(b int32, written set) bool {
	g := k.g
	x := &g.blocks[b]
	needs := g.steps[x.last].reads
	if e := g.item(x.last).Match.Effects(); e.ReadsMem || g.steps[x.last].way != jumps {
		needs = set(e.FlagsRead) << flagsAt
	}
	for n := x.last - 1; n >= x.first && needs&written != 0; n-- {
		it := g.item(n)
		e := it.Match.Effects()
		sets := writesOf(&e)
		if sets&needs == 0 {
			continue
		}
		op, _, _ := it.Stmt.Mnemonic.Operation()
		if _, known := isa.ArithmeticOf(op); !known || e.Conditional || e.ReadsMem || g.steps[n].way != goesOn {
			return false
		}
		needs = needs&^sets | readsOf(&e)
	}
	return needs&written == 0
}
