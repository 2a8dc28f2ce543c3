package flow

import (
	"math"
	"sort"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Some lines count on how far apart others are: a branch to .+8, a load from
// [pc, #4], a jump into steps of equal size. An edit that moves code inside such a
// stretch leaves nothing to report, and another program.

// Stretch is a part of a section in which something counts on distances: all that
// starts at offsets from to, both included.
type Stretch struct {
	sec      int16
	from, to int64
	words    bool // counted from PC rounded down to a word
}

// between is the stretch from one offset to another, whichever comes first.
func between(sec int16, a, b int64) Stretch { return Stretch{sec, min(a, b), max(a, b), false} }

// Stretches lists what of the program counts on distances.
func (r *Paths) Stretches() (out []Stretch) {
	var ops []isa.Operand // of one item after the other, in one piece of memory
	for sec, order := range r.Order {
		run := int32(-1) // the first of jumps that follow one another
		for k, id := range order {
			it := &r.Items[id]
			out = r.byValues(out, it)
			if it.Stmt.Kind != syntax.Instruction || it.Stmt.Mnemonic == nil {
				if it.Size > 0 || it.Stmt.Kind == syntax.Label {
					run = -1
				}
				continue
			}
			r.Operands(it, true)
			ops = append(ops[:0], r.Ops...)
			out = r.ByPC(out, it, ops)
			l := r.lineOf(it)
			if r.jumpsBySum(int16(sec), k, ops, l.way) {
				out = append(out, r.routineBehind(it, ops))
			}
			if jump := l.way == jumps || l.way == leaves || l.way == returns; !jump || l.runsOn {
				run = -1
			} else if run < 0 {
				run = id
			} else { // nothing names it: it is one of a table, or a vector
				out = append(out, between(int16(sec), r.Items[run].Offset, it.Offset+it.Size-1))
			}
		}
	}
	return out
}

// byValues adds the stretches that operands name: from a label, or the line, to what
// is not there.
func (r *Paths) byValues(out []Stretch, it *program.Item) []Stretch {
	if it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.NamesOffset() && !r.startsWithLabel(it) {
		out = append(out, Stretch{sec: it.Section, from: 0, to: r.Sections[it.Section].Size})
	}
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Expr == nil {
			continue
		}
		v := r.Value(o, it)
		switch {
		case v.Kind != program.Address:
		case Dotted(o.Expr):
			if v.Section == it.Section {
				out = append(out, between(v.Section, it.Offset, v.N))
			}
		case v.Symbol != nil && v.Symbol.Label && v.N-v.Symbol.Value.N != 0 && v.N-v.Symbol.Value.N != 1: // 1: the bit of T16 code
			out = append(out, between(v.Section, v.Symbol.Value.N, v.N))
		}
	}
	return out
}

// startsWithLabel says whether the arguments of a directive begin with a label by itself.
func (r *Paths) startsWithLabel(it *program.Item) bool {
	_, arguments, _ := strings.Cut(r.StatementText(it), it.Stmt.Name)
	first, _, _ := strings.Cut(arguments, ",")
	s := r.SymbolOf(strings.TrimSpace(first))
	return s != nil && s.Label
}

// Dotted says whether an expression has the location counter in it.
func Dotted(e *syntax.Expr) bool {
	return e != nil && (e.Op == syntax.ExprDot || Dotted(e.X) || Dotted(e.Y))
}

// ByPC adds the stretches that a line counts from PC: it reads 4 ahead in T16 and T32
// code and 8 ahead in A32 code, as a base rounded down to a word (DDI 0406, "Use of
// labels in UAL instruction syntax").
func (r *Paths) ByPC(out []Stretch, it *program.Item, ops []isa.Operand) []Stretch {
	ahead := r.Environments[it.Environment].Mode.Ahead()
	pc := (it.Offset + ahead) &^ 3
	for i := range ops {
		o := &ops[i]
		switch {
		case o.Kind == isa.OpMem && o.Reg == isa.PC && o.Off == isa.OffImm:
			out = append(out, Stretch{it.Section, min(it.Offset, pc+o.Imm), max(it.Offset, pc+o.Imm), true})
		case o.Kind == isa.OpMem && o.Reg == isa.PC: // a table is there, behind TBB at any halfword
			out = append(out, between(it.Section, it.Offset, it.Offset+ahead))
		case len(ops) == 1 && o.Kind == isa.OpReg && o.Reg == isa.PC: // BX: over the next instruction
			out = append(out, between(it.Section, it.Offset, it.Offset+ahead))
		case i == 0 || o.Kind != isa.OpReg || o.Reg != isa.PC:
		case i == 1 && len(ops) == 2: // a copy: of the place where a call comes back, say
			out = append(out, between(it.Section, it.Offset, it.Offset+ahead))
		case len(ops) == 3 && ops[2].Kind == isa.OpImm && ops[2].Known:
			n := ops[2].Imm
			if op, _, _ := it.Stmt.Mnemonic.Operation(); op == "sub" {
				n = -n
			}
			out = append(out, Stretch{it.Section, min(it.Offset, pc+n), max(it.Offset, pc+n), true})
		}
	}
	return out
}

// jumpsBySum says whether the line at position k of a section jumps to a place that
// is computed there or in the lines above: into steps of equal size, or by a table
// of numbers. ops are the line's operands, w says where it goes.
func (r *Paths) jumpsBySum(sec int16, k int, ops []isa.Operand, w way) bool {
	order := r.Order[sec]
	it := &r.Items[order[k]]
	op, _, _ := it.Stmt.Mnemonic.Operation()
	switch {
	case w == leaves && len(ops) == 1 && ops[0].Kind == isa.OpMem: // TBB, TBH
		return r.numbersBehind(sec, k)
	case (w == leaves || w == returns) && len(ops) > 0 && r.sumOffStack(sec, k, ops):
		return true
	case w != leaves || len(ops) == 0:
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

// sumOffStack says whether the line at position k takes off the stack, into pc, what a
// line of the straight line above has computed and put there.
func (r *Paths) sumOffStack(sec int16, k int, ops []isa.Operand) bool {
	taken, ok := stackMoveOf(opOf(&r.Items[r.Order[sec][k]]), ops)
	if !ok || taken.store || !taken.regs.Has(isa.PC) {
		return false
	}
	at := taken.at + 4*int64(taken.regs.Count()-1) // pc is the last; from the stack pointer as it is at a position
	for k = r.straightAbove(sec, k); k >= 0; k = r.straightAbove(sec, k) {
		it := &r.Items[r.Order[sec][k]]
		if it.Match.Form == nil {
			continue // refused: it is taken to leave the stack pointer as it is
		}
		m, ok := stackMoveOf(opOf(it), r.OperandsOf(it))
		if !ok {
			if it.Match.Effects().Writes.Has(isa.SP) || NextOf(r.Program, it) != GoesOn {
				return false
			}
			continue
		}
		at += m.by
		if !m.store {
			continue
		}
		if reg := m.storedAt(at); reg != isa.NoReg {
			return reg != isa.LR && r.sumAbove(sec, k, reg)
		}
	}
	return false
}

// straightAbove is the position of the instruction above another one in the straight line
// that leads to it: what takes no space is passed over, but no label. -1: there is none.
func (r *Paths) straightAbove(sec int16, k int) int {
	for k--; k >= 0; k-- {
		switch it := &r.Items[r.Order[sec][k]]; {
		case it.Stmt.Kind == syntax.Instruction:
			return k
		case it.Size != 0 || it.Stmt.Kind == syntax.Label:
			return -1
		}
	}
	return -1
}

// sumAbove says whether the straight line above a position computes the value of a
// register by more than the bit of T16 code. A line that is refused is taken to write
// its first operand only.
func (r *Paths) sumAbove(sec int16, k int, reg isa.Reg) bool {
	for k = r.straightAbove(sec, k); k >= 0; k = r.straightAbove(sec, k) {
		it := &r.Items[r.Order[sec][k]]
		if it.Match.Form == nil {
			if r.evidentResult(it) == reg {
				return true
			}
			continue
		}
		e := it.Match.Effects()
		if !e.Writes.Has(reg) {
			continue
		}
		if src, n, ok := it.Match.Sum(); ok && src != isa.PC {
			if n != 0 && n != 1 {
				return true
			}
			reg = src
			continue
		}
		a, known := isa.ArithmeticOf(opOf(it))
		return !e.ReadsMem && (e.Reads.Count() > 1 || e.Reads.Count() == 1 && !e.Reads.Has(reg) && known || a.Scales)
	}
	return false
}

// evidentResult is the register that a refused line evidently writes: its first operand,
// unless its words are those of a branch, a store or a comparison. NoReg: none.
func (r *Paths) evidentResult(it *program.Item) isa.Reg {
	ops := it.Stmt.Ops
	if len(ops) == 0 || ops[0].Kind != isa.OpReg {
		return isa.NoReg
	}
	if it.Stmt.Mnemonic != nil {
		if r.lineOf(it).way != goesOn || !it.Stmt.Mnemonic.Writes(r.Environments[it.Environment].Mode, 0) {
			return isa.NoReg
		}
	}
	return ops[0].Reg
}

// opOf is the operation that an item's name says.
func opOf(it *program.Item) string {
	op, _, _ := it.Stmt.Mnemonic.Operation()
	return op
}

// numbersBehind says whether the data after a position has entries that are numbers
// only: nothing adapts them.
func (r *Paths) numbersBehind(sec int16, k int) bool {
	for _, id := range r.Order[sec][k+1:] {
		it := &r.Items[id]
		if it.Stmt.Kind == syntax.Instruction {
			return false
		}
		if it.Stmt.Kind != syntax.Directive || it.Stmt.Directive.Effect != syntax.EffData {
			continue
		}
		for i := range it.Stmt.Ops {
			if it.Stmt.Ops[i].Known {
				return true
			}
		}
	}
	return false
}

// routineBehind is the stretch that a computed jump counts on: what follows it up to a
// label that starts another routine, and what is before it as well where the sum
// may go backwards or starts at a label.
func (r *Paths) routineBehind(it *program.Item, ops []isa.Operand) Stretch {
	s := Stretch{sec: it.Section, from: 0, to: r.Sections[it.Section].Size}
	for _, id := range r.Order[it.Section] {
		x := &r.Items[id]
		if x.Stmt.Kind != syntax.Label {
			continue
		}
		if y := r.SymbolOf(x.Stmt.Name); y == nil || !y.Global && !y.Function {
			continue
		}
		if x.Offset > it.Offset {
			s.to = x.Offset - 1
			break
		}
		s.from = x.Offset
	}
	if byTable := len(ops) == 1 && ops[0].Kind == isa.OpMem; byTable || opOf(it) == "add" {
		s.from = it.Offset
	}
	return s
}

// Touches says whether an item of the program begins in the stretch, or right after it.
func (s Stretch) Touches(it *program.Item) bool {
	return s.sec == it.Section && s.from <= it.Offset && it.Offset <= s.to+1
}

// FirstIn is the first item of a stretch, nil if it has none.
func (r *Paths) FirstIn(s Stretch) *program.Item {
	order := r.Order[s.sec]
	k := sort.Search(len(order), func(k int) bool { return r.Items[order[k]].Offset >= s.from })
	if k == len(order) {
		return nil
	}
	return &r.Items[order[k]]
}

// MovedStretches gives the stretches in which edits move code against other code. after
// is the analysis of their result.
func (r *Paths) MovedStretches(after *Paths, pairs *Pairs, of []Stretch) (moved []Stretch) {
	if len(of) == 0 {
		return nil
	}
	shift := r.shifts(after, pairs)
	for _, s := range of {
		order := r.Order[s.sec]
		k := sort.Search(len(order), func(k int) bool { return r.Items[order[k]].Offset >= s.from })
		var first int64
		seen := false
		for ; k < len(order) && r.Items[order[k]].Offset <= s.to; k++ {
			d := shift[order[k]]
			if d == unknownShift {
				continue
			}
			if s.words && d%4 != 0 || seen && d != first {
				moved = append(moved, s)
				break
			}
			first, seen = d, true
		}
	}
	return moved
}

// unknownShift is the shift of an item that edits take away.
const unknownShift = math.MinInt64

// shifts says how far edits move each item. The first that begins in an edit is that of
// the result.
func (r *Paths) shifts(after *Paths, pairs *Pairs) (by []int64) {
	by = make([]int64, len(r.Items))
	begins := map[int32]int32{} // by edit: the first item of the result in it
	for k, e := range pairs.NewEdit {
		if _, ok := begins[e]; e >= 0 && !ok {
			begins[e] = int32(k)
		}
	}
	last := int32(-1)
	for i, k := range pairs.After {
		e := pairs.Edit[i]
		if e >= 0 && e != last {
			if first, ok := begins[e]; ok {
				k = first
			}
		}
		if e >= 0 {
			last = e
		}
		if by[i] = unknownShift; k >= 0 {
			by[i] = after.Items[k].Offset - r.Items[i].Offset
		}
	}
	return by
}
