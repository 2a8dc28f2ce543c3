package analysis

import (
	"sort"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Some lines count on how far apart others stand: a branch to .+8, a load from
// [pc, #4], a jump into steps of equal size. An edit that moves code inside such a
// stretch leaves nothing to report, and another program.

// stretch is a part of a section in which something counts on distances: all that
// starts at offsets from to, both included.
type stretch struct {
	sec      int16
	from, to int64
	words    bool // counted from PC rounded down to a word
}

// between is the stretch from one offset to another, whichever comes first.
func between(sec int16, a, b int64) stretch { return stretch{sec, min(a, b), max(a, b), false} }

// stretches lists what of the program counts on distances.
func (r *paths) stretches() (out []stretch) {
	for sec, order := range r.order {
		run := int32(-1) // the first of jumps that follow one another
		for k, id := range order {
			it := &r.items[id]
			out = r.byValues(out, it)
			if it.stmt.Kind != syntax.Instruction || it.stmt.Mnem == nil {
				if it.size > 0 || it.stmt.Kind == syntax.Label {
					run = -1
				}
				continue
			}
			ops := r.operandsOf(it)
			out = r.byPC(out, it, ops)
			if r.jumpsBySum(int16(sec), k, ops) {
				out = append(out, r.routineBehind(it, ops))
			}
			leaves, _, runsOn := r.evidentFlow(it)
			if jump := leaves == isa.FlowJump || leaves == isa.FlowReg; !jump || runsOn {
				run = -1
			} else if run < 0 {
				run = id
			} else { // nothing names it: it is one of a table, or a vector
				out = append(out, between(int16(sec), r.items[run].off, it.off+it.size-1))
			}
		}
	}
	return out
}

// byValues adds the stretches that operands name: from a label, or the line, to what
// does not stand there.
func (r *paths) byValues(out []stretch, it *item) []stretch {
	for i := range it.stmt.Ops {
		o := &it.stmt.Ops[i]
		if o.Expr == nil {
			continue
		}
		v := r.eval(o, it)
		switch {
		case v.kind != vRel:
		case dotted(o.Expr):
			if v.sec == it.sec {
				out = append(out, between(v.sec, it.off, v.n))
			}
		case v.sym != nil && v.sym.label && v.n-v.sym.val.n != 0 && v.n-v.sym.val.n != 1: // 1: the bit of T16 code
			out = append(out, between(v.sec, v.sym.val.n, v.n))
		}
	}
	return out
}

// dotted says whether an expression has the location counter in it.
func dotted(e *syntax.Expr) bool {
	return e != nil && (e.Op == syntax.ExprDot || dotted(e.X) || dotted(e.Y))
}

// byPC adds the stretches that a line counts from PC: it reads 4 ahead in T16 and T32
// code and 8 ahead in A32 code, as a base rounded down to a word (DDI 0406, "Use of
// labels in UAL instruction syntax").
func (r *paths) byPC(out []stretch, it *item, ops []isa.Operand) []stretch {
	ahead := int64(4)
	if r.envs[it.env].mode == isa.A {
		ahead = 8
	}
	pc := (it.off + ahead) &^ 3
	for i := range ops {
		o := &ops[i]
		switch {
		case o.Kind == isa.OpMem && o.Reg == isa.PC && o.Off == isa.OffImm:
			out = append(out, stretch{it.sec, min(it.off, pc+o.Imm), max(it.off, pc+o.Imm), true})
		case o.Kind == isa.OpMem && o.Reg == isa.PC: // a table stands there
			out = append(out, between(it.sec, it.off, pc))
		case i == 0 || o.Kind != isa.OpReg || o.Reg != isa.PC:
		case i == 1 && len(ops) == 2: // a copy: of the place where a call comes back, say
			out = append(out, between(it.sec, it.off, it.off+ahead))
		case len(ops) == 3 && ops[2].Kind == isa.OpImm && ops[2].Known:
			n := ops[2].Imm
			if op, _, _ := it.stmt.Mnem.Operation(); op == "sub" {
				n = -n
			}
			out = append(out, stretch{it.sec, min(it.off, pc+n), max(it.off, pc+n), true})
		}
	}
	return out
}

// jumpsBySum says whether the line at position k of a section jumps to a place that
// is computed there or in the lines above: into steps of equal size, or by a table
// of numbers.
func (r *paths) jumpsBySum(sec int16, k int, ops []isa.Operand) bool {
	order := r.order[sec]
	it := &r.items[order[k]]
	op, _, _ := it.stmt.Mnem.Operation()
	switch leaves, back, _ := r.evidentFlow(it); {
	case op == "tbb" || op == "tbh":
		return r.numbersBehind(sec, k)
	case leaves != isa.FlowReg || back || len(ops) == 0:
		return false
	case op == "mov" || op == "bx":
		if o := &ops[len(ops)-1]; o.Kind == isa.OpReg {
			return r.sumAbove(sec, k, o.Reg)
		}
		return true
	}
	for i := range ops[1:] {
		if o := &ops[i+1]; o.Kind == isa.OpMem || o.Kind == isa.OpList {
			return false // an address out of memory
		}
	}
	last := &ops[len(ops)-1]
	return ops[0].Kind == isa.OpReg && (last.Kind == isa.OpReg || last.Kind == isa.OpShift)
}

// sumAbove says whether the straight line above a position computes the value of a
// register by more than constants.
func (r *paths) sumAbove(sec int16, k int, reg isa.Reg) bool {
	for k--; k >= 0; k-- {
		it := &r.items[r.order[sec][k]]
		if it.stmt.Kind != syntax.Instruction || it.match.Form == nil {
			if it.size == 0 && it.stmt.Kind != syntax.Label {
				continue
			}
			return false
		}
		e := it.match.Effects()
		if !e.Writes.Has(reg) {
			continue
		}
		if src, n, ok := it.match.Sum(); ok && n == 0 && src != isa.PC {
			reg = src
			continue
		}
		return !e.ReadsMem && (e.Reads.Count() > 1 || e.Reads.Count() == 1 && !e.Reads.Has(reg) && setBy(opOf(it)) != 0 || isScale(it))
	}
	return false
}

// opOf is the operation that an item's name says.
func opOf(it *item) string {
	op, _, _ := it.stmt.Mnem.Operation()
	return op
}

// isScale says whether an item shifts or multiplies, as what makes an offset of an index.
func isScale(it *item) bool {
	switch opOf(it) {
	case "lsl", "mul":
		return true
	}
	return false
}

// numbersBehind says whether the data behind a position has entries that are numbers
// alone: nothing adapts them.
func (r *paths) numbersBehind(sec int16, k int) bool {
	for _, id := range r.order[sec][k+1:] {
		it := &r.items[id]
		if it.stmt.Kind == syntax.Instruction {
			return false
		}
		if it.stmt.Kind != syntax.Directive || it.stmt.Dir.Effect != syntax.EffData {
			continue
		}
		for i := range it.stmt.Ops {
			if it.stmt.Ops[i].Known {
				return true
			}
		}
	}
	return false
}

// routineBehind is the stretch that a computed jump counts on: what follows it up to a
// label that starts another routine, and what stands before it as well where the sum
// may go backwards or starts at a label.
func (r *paths) routineBehind(it *item, ops []isa.Operand) stretch {
	s := stretch{sec: it.sec, from: 0, to: r.secs[it.sec].size}
	for _, id := range r.order[it.sec] {
		x := &r.items[id]
		if x.stmt.Kind != syntax.Label {
			continue
		}
		if y := r.symbolOf(x.stmt.Name); y == nil || !y.global && !y.fn {
			continue
		}
		if x.off > it.off {
			s.to = x.off - 1
			break
		}
		s.from = x.off
	}
	if op := opOf(it); op == "add" || op == "tbb" || op == "tbh" {
		s.from = it.off
	}
	return s
}

// moved says whether the edits move code inside of what counts on distances. after is
// the analysis of their result.
func (r *paths) moved(after *paths, edits []Edit, of []stretch) bool {
	if len(of) == 0 {
		return false
	}
	shift, ok := r.shifts(after, edits)
	if !ok {
		return true
	}
	for _, s := range of {
		order := r.order[s.sec]
		k := sort.Search(len(order), func(k int) bool { return r.items[order[k]].off >= s.from })
		var first int64
		seen := false
		for ; k < len(order) && r.items[order[k]].off <= s.to; k++ {
			d, has := shift[order[k]]
			if !has {
				continue
			}
			if s.words && d%4 != 0 || seen && d != first {
				return true
			}
			first, seen = d, true
		}
	}
	return false
}

// shifts says how far the edits move each item; ok is false where those of both texts
// do not pair.
func (r *paths) shifts(after *paths, edits []Edit) (by map[int32]int64, ok bool) {
	grown := make([]Edit, len(edits))
	old := make([]Edit, len(edits))
	more := 0
	for i, e := range edits {
		old[i] = e
		grown[i].Span = Span{e.Span.Start + more, e.Span.Start + more + len(e.New)}
		more += len(e.New) - (e.Span.End - e.Span.Start)
	}
	a, firstA := r.untouched(old)
	b, firstB := after.untouched(grown)
	if len(a) != len(b) {
		return nil, false
	}
	by = make(map[int32]int64, len(a))
	for i := range a {
		by[a[i]] = after.items[b[i]].off - r.items[a[i]].off
	}
	for i := range edits {
		if firstA[i] >= 0 && firstB[i] >= 0 {
			by[firstA[i]] = after.items[firstB[i]].off - r.items[firstA[i]].off
		}
	}
	return by, true
}

// untouched lists the items that start in none of the spans, and the first that starts
// in each of them, -1 where none does.
func (r *paths) untouched(spans []Edit) (rest []int32, first []int32) {
	first = make([]int32, len(spans))
	for i := range first {
		first[i] = -1
	}
	for i := range r.items {
		it := &r.items[i]
		in := -1
		if it.file == 0 {
			at := r.file.LineStart(int(it.line)) + int(it.stmt.Start)
			for k := range spans {
				if spans[k].Span.Start <= at && at < spans[k].Span.End {
					in = k
				}
			}
		}
		if in < 0 {
			rest = append(rest, it.id)
		} else if first[in] < 0 {
			first[in] = it.id
		}
	}
	return rest, first
}

// instructions counts the instructions of a program.
func (r *paths) instructions() (n int) {
	for i := range r.items {
		if r.items[i].stmt.Kind == syntax.Instruction {
			n++
		}
	}
	return n
}

// countsFromItself says whether the line counts from its own place, which another
// number of instructions in its stead changes.
func (c *rewriting) countsFromItself() bool {
	for i := range c.it.stmt.Ops {
		if dotted(c.it.stmt.Ops[i].Expr) {
			return true
		}
	}
	return len(c.r.byPC(nil, c.it, c.ops)) > 0
}
