package flow

import (
	"slices"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Paths answers what execution does in a program that is assembled.
type Paths struct{ *eval.Evaluator }

// DeadRegs gives the registers of want that are provably dead after the
// item: on every path they are written before they are read. A path that
// leaves what is known (a call, a return, an exception, unknown code, data) keeps all of
// them alive: hand-written code need not follow the procedure call standard.
func (r *Paths) DeadRegs(it *program.Item, want isa.RegList) isa.RegList {
	return want &^ r.live(it, needs{regs: want}).regs
}

// DeadFlags is the same for flags. At calls of other files and at returns the flags
// are dead: AAPCS32, section 6.1.1: "The N, Z, C, V and Q flags … are undefined on
// entry to or return from a public interface". A return may also go back to
// code of this file, and hand it a result in a flag: what is alive after the
// calls of routines of this file, seen by others or not, is alive at returns.
func (r *Paths) DeadFlags(it *program.Item, want isa.Flags) isa.Flags {
	return want &^ r.live(it, needs{flags: want}).flags
}

// live gives what of want may be read after the item.
func (r *Paths) live(it *program.Item, want needs) needs {
	w := Walker{Paths: r, Sec: it.Section, self: it.Index, seen: map[int]needs{}}
	w.behind(it, want)
	return w.live
}

// behind follows execution from an item that may have no encoding: then its words
// say where it goes. A branch goes to its target as well, and what writes PC does
// not run on into the next line.
func (w *Walker) behind(it *program.Item, want needs) {
	k := w.Paths.Position(it) + 1
	leaves, back, runsOn := w.Paths.EvidentFlow(it)
	switch leaves {
	case isa.FlowJump, isa.FlowBranch:
		if t, ok := w.Target(it); ok {
			w.walk(t, want)
		} else {
			w.keep(want)
		}
	case isa.FlowCall:
		w.call(it, want)
	case isa.FlowReg:
		w.leave(want, back)
	case isa.FlowNext:
	default:
		w.keep(want)
	}
	if runsOn {
		w.walk(k, want)
	}
}

// OperandsOf are the operands of an item with their values, names of registers
// looked up.
func (r *Paths) OperandsOf(it *program.Item) []isa.Operand {
	r.Operands(it, true)
	return slices.Clone(r.Ops)
}

// EvidentFlow says where a line goes judged only by its words, as one that is refused has no
// effects: the kind of way out, whether that is a return, and whether it may run on.
// A call counts as one that does not come back; see call.
func (r *Paths) EvidentFlow(it *program.Item) (leaves isa.Flow, back, runsOn bool) {
	if it.Stmt.Mnemonic == nil {
		return isa.FlowTrap, false, true // nobody knows
	}
	return r.evidentFlow(it, r.OperandsOf(it))
}

// evidentFlow is EvidentFlow of an instruction with its operands.
func (r *Paths) evidentFlow(it *program.Item, ops []isa.Operand) (leaves isa.Flow, back, runsOn bool) {
	s := it.Stmt
	_, _, cond := s.Mnemonic.Operation()
	runsOn = cond != isa.AL || it.Slot&program.SlotIn != 0
	switch flow := s.Mnemonic.Evident(r.Environments[it.Environment].Mode, ops); flow {
	case isa.FlowJump, isa.FlowCall:
		return flow, false, runsOn
	case isa.FlowNext, isa.FlowBranch:
		return flow, false, true
	case isa.FlowReg:
		byTable := len(ops) == 1 && ops[0].Kind == isa.OpMem
		return flow, !byTable && (names(ops, isa.LR) || names(ops, isa.SP)), runsOn
	}
	return isa.FlowTrap, false, true
}

// readsFlags says whether a line may read flags, by its words.
func (r *Paths) readsFlags(it *program.Item) bool {
	if it.Stmt.Mnemonic == nil || it.Slot&program.SlotIn != 0 {
		return true
	}
	for i := range it.Stmt.Ops {
		if o := &it.Stmt.Ops[i]; o.Kind == isa.OpShift {
			return true // RRX, perhaps
		}
	}
	_, _, cond := it.Stmt.Mnemonic.Operation()
	return cond != isa.AL || it.Stmt.Mnemonic.ReadsFlags(r.Environments[it.Environment].Mode, r.OperandsOf(it))
}

// names says whether an operand is the register, or memory at it; a POP names SP.
func names(ops []isa.Operand, r isa.Reg) bool {
	for i := range ops {
		switch o := &ops[i]; o.Kind {
		case isa.OpReg, isa.OpMem:
			if o.Reg == r {
				return true
			}
		case isa.OpList:
			if r == isa.SP && len(ops) == 1 {
				return true
			}
		}
	}
	return false
}

// call goes on at a call. A routine of this file that other files see, too, may all
// the same take its flags from here; into others the flags are undefined.
func (w *Walker) call(it *program.Item, want needs) {
	if !w.public(it) {
		w.keep(want)
		return
	}
	w.keep(needs{regs: want.regs})
	if w.elsewhere(it) {
		return
	}
	if t, ok := w.Target(it); ok {
		w.walk(t, needs{flags: want.flags})
	} else {
		w.keep(want)
	}
}

// elsewhere says whether a call goes to a routine that this file does not have.
func (w *Walker) elsewhere(it *program.Item) bool {
	for i := range it.Stmt.Ops {
		if o := &it.Stmt.Ops[i]; o.Kind == isa.OpExpr && o.Word != "" {
			s := w.Paths.SymbolOf(o.Word)
			return s == nil || !s.Defined
		}
	}
	return false
}

// needs is a set of registers and flags.
type needs struct {
	regs  isa.RegList
	flags isa.Flags
}

func (n needs) less(m needs) needs { return needs{n.regs &^ m.regs, n.flags &^ m.flags} }

func (n needs) union(m needs) needs { return needs{n.regs | m.regs, n.flags | m.flags} }

// Walker follows execution through a section and finds what is needed after a line.
type Walker struct {
	Paths *Paths
	Sec   int16
	self  int32 // the item that is asked about, -1 without one
	steps int
	live  needs // read first on some path
	// readsOnly: what is not known reads nothing.
	readsOnly bool
	seen      map[int]needs // asked for at a position already
	back      isa.Flags     // looked for after calls already
}

const maxSteps = 4000

// Target is the position that a branch's operand names in this section.
func (w *Walker) Target(it *program.Item) (int, bool) {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Kind != isa.OpExpr {
			continue
		}
		v := w.Paths.Value(o, it)
		if v.Kind != program.Address || v.Section != w.Sec || v.Symbol == nil || !v.Symbol.Label || v.N != v.Symbol.Value.N || v.Symbol.Weak {
			return 0, false // a weak one may be that of another file
		}
		return w.Paths.Position(&w.Paths.Items[v.Symbol.Item]), true
	}
	return 0, false
}

// step classifies the item at position k: its effects, whether it is code
// whose behaviour is known, and whether it takes no part at all.
func (w *Walker) step(k int) (it *program.Item, known, skip bool) {
	o := w.Paths.Order[w.Sec]
	if k >= len(o) {
		return nil, false, false
	}
	it = &w.Paths.Items[o[k]]
	switch it.Stmt.Kind {
	case syntax.Label, syntax.Assign:
		return it, false, true
	case syntax.Directive:
		switch it.Stmt.Directive.Effect {
		case syntax.EffRept, syntax.EffInclude:
			if it.Flags&program.Opaque == 0 {
				return it, false, true
			}
			return it, false, false
		case syntax.EffIncbin, syntax.EffOrg:
			return it, false, false // code that is not seen, or none
		}
		if it.Size == 0 {
			return it, false, true
		}
		switch it.Stmt.Directive.Effect {
		case syntax.EffAlignByte, syntax.EffAlignPow, syntax.EffEven, syntax.EffAlignFrom:
			// The gap holds no operations, unless the line says what it holds.
			return it, false, len(it.Stmt.Ops) < 2 || it.Stmt.Ops[1].Kind == isa.OpNone
		}
		return it, false, false
	case syntax.Instruction:
		return it, it.Match.Form != nil && it.Flags&program.Refused == 0, false
	}
	return it, false, it.Transparent()
}

// public says whether a call goes to a routine that other files may call too,
// so that the procedure call standard holds for it.
func (w *Walker) public(it *program.Item) bool {
	for i := range it.Stmt.Ops {
		if o := &it.Stmt.Ops[i]; o.Kind == isa.OpExpr && o.Word != "" {
			s := w.Paths.SymbolOf(o.Word)
			return s == nil || !s.Defined || s.Global
		}
	}
	return false
}

// walk follows execution from position k for the registers and flags of want
// and notes those that some path reads first.
func (w *Walker) walk(k int, want needs) {
	for want = want.less(w.live); want != (needs{}); want = want.less(w.live) {
		if w.steps++; w.steps > maxSteps {
			w.keep(want)
			return
		}
		if want.less(w.seen[k]) == (needs{}) {
			return
		}
		w.seen[k] = w.seen[k].union(want)
		it, known, skip := w.step(k)
		if skip {
			k++
			continue
		}
		if !known && it != nil && it.Index == w.self && !w.Paths.readsFlags(it) {
			// Round a loop to the line itself: what is needed after it is asked for.
			w.keep(needs{regs: want.regs & Mentioned(w.Paths.OperandsOf(it))})
			return
		}
		if !known {
			w.keep(want)
			return
		}
		e := it.Match.Effects()
		w.live = w.live.union(needs{want.regs & e.Reads, want.flags & e.FlagsRead})
		want = want.less(needs{e.Reads, e.FlagsRead})
		if !e.Conditional { // else what it would write may stay
			want.flags &^= e.FlagsWritten
		}
		switch e.Flow {
		case isa.FlowNext:
			if !e.Conditional {
				want.regs &^= e.Writes
			}
			if e.Writes.Has(isa.PC) && e.Conditional {
				w.walk(k+1, want)
			}
			if e.Writes.Has(isa.PC) {
				w.leave(want, returns(&it.Match, &e))
				return
			}
			k++
		case isa.FlowJump, isa.FlowBranch:
			t, ok := w.Target(it)
			if !ok {
				w.keep(want)
				return
			}
			if e.Flow == isa.FlowBranch {
				w.walk(k+1, want)
			}
			k = t
		case isa.FlowCall:
			if e.Conditional {
				w.walk(k+1, want)
			}
			w.call(it, want)
			return
		case isa.FlowReg:
			if e.Conditional {
				w.walk(k+1, want)
			}
			if e.Writes.Has(isa.LR) {
				want.flags = 0 // a call through a register: to a public interface
				w.keep(want)
				return
			}
			w.leave(want, e.Reads.Has(isa.LR))
			return
		default:
			w.keep(want)
			return
		}
	}
}

// returns says whether an instruction that writes PC returns: it takes PC off the
// stack, or copies LR. Another jump may go anywhere.
func returns(m *isa.Match, e *isa.Effects) bool {
	if e.ReadsMem {
		return e.Reads == 1<<isa.SP && e.Writes.Has(isa.SP)
	}
	src, n, ok := m.Sum()
	return ok && src == isa.LR && n == 0
}

// leave ends a path at a jump out of what is followed. After a return only
// flags may be dead.
func (w *Walker) leave(want needs, isReturn bool) {
	if isReturn {
		w.returns(want.flags)
		want.flags = 0
	}
	w.keep(want)
}

func (w *Walker) keep(n needs) {
	if !w.readsOnly {
		w.live = w.live.union(n)
	}
}

// returns goes on after the calls of this file's own routines, and after those of
// which nobody knows where they go. A routine that other files see hands over flags as
// well as another: the standard's word counts for callers in other files only.
func (w *Walker) returns(want isa.Flags) {
	if want &^= w.back; want == 0 {
		return
	}
	w.back |= want
	for sec := range w.Paths.Order {
		o := w.Paths.Order[sec]
		for k := range o {
			it := &w.Paths.Items[o[k]]
			behind := w.comesBack(it)
			if behind == 0 {
				continue
			}
			x := Walker{Paths: w.Paths, Sec: int16(sec), self: -1, seen: map[int]needs{}, back: w.back}
			x.walk(k+behind, needs{flags: want})
			w.back |= x.back
			if w.keep(x.live); want&^w.live.flags == 0 {
				return
			}
		}
	}
}

// comesBack says how many items further on a routine of this file may come back when
// the item calls it: 1 for a call, 2 for a copy of PC to LR in front of a jump, 0 for
// what calls none.
func (w *Walker) comesBack(it *program.Item) int {
	if it.Stmt.Kind != syntax.Instruction || it.Stmt.Mnemonic == nil {
		return 0
	}
	if leaves, _, _ := w.Paths.EvidentFlow(it); leaves == isa.FlowCall {
		if w.elsewhere(it) {
			return 0
		}
		return 1
	}
	if ops := w.Paths.OperandsOf(it); len(ops) == 2 && ops[0].Kind == isa.OpReg && ops[0].Reg == isa.LR && ops[1].Kind == isa.OpReg && ops[1].Reg == isa.PC {
		return 2
	}
	return 0
}
