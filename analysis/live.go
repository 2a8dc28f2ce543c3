package analysis

import (
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// position is an item's index in its section's order.
func (r *Result) position(it *item) int {
	o := r.order[it.sec]
	lo, hi := 0, len(o)
	for lo < hi {
		m := (lo + hi) / 2
		if o[m] < it.id {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}

// deadRegs gives the registers of want that are provably dead behind the
// item: on every path they are written before they are read. A path that
// leaves what is known (a call, a return, an exception, unknown code, data) keeps all of
// them alive: hand-written code need not follow the procedure call standard.
func (r *Result) deadRegs(it *item, want isa.RegList) isa.RegList {
	w := walker{r: r, sec: it.sec, seenR: map[int]isa.RegList{}}
	w.regs(r.position(it)+1, want)
	return want &^ w.liveR
}

// deadFlags is the same for flags. At public calls and returns the flags are
// dead: AAPCS32, section 6.1.1: "The N, Z, C, V and Q flags … are undefined on
// entry to or return from a public interface". A return may also go back to
// code of this file that called a label which no other file can see, and hand
// it a result in a flag: what is alive behind such calls is alive at returns.
func (r *Result) deadFlags(it *item, want isa.Flags) isa.Flags {
	w := walker{r: r, sec: it.sec, seenF: map[int]isa.Flags{}}
	w.flags(r.position(it)+1, want)
	return want &^ w.liveF
}

type walker struct {
	r     *Result
	sec   int16
	steps int
	liveR isa.RegList
	liveF isa.Flags
	seenR map[int]isa.RegList
	seenF map[int]isa.Flags
	back  isa.Flags // looked for behind calls already
}

const maxSteps = 4000

// target is the position that a branch's operand names in this section.
func (w *walker) target(it *item) (int, bool) {
	for i := range it.stmt.Ops {
		o := &it.stmt.Ops[i]
		if o.Kind != isa.OpExpr {
			continue
		}
		p := pass{Result: w.r}
		v := p.evalQuiet(o, it)
		if v.kind != vRel || v.sec != w.sec || v.sym == nil || !v.sym.label || v.n != v.sym.val.n {
			return 0, false
		}
		return w.r.position(&w.r.items[v.sym.item]), true
	}
	return 0, false
}

// step classifies the item at position k: its effects, whether it is code
// whose behaviour is known, and whether it takes no part at all.
func (w *walker) step(k int) (it *item, known, skip bool) {
	o := w.r.order[w.sec]
	if k >= len(o) {
		return nil, false, false
	}
	it = &w.r.items[o[k]]
	switch it.stmt.Kind {
	case syntax.Label, syntax.Assign:
		return it, false, true
	case syntax.Directive:
		switch it.stmt.Dir.Effect {
		case syntax.EffRept, syntax.EffIncbin, syntax.EffOrg:
			return it, false, false // code that is not seen, or none
		}
		if it.size == 0 {
			return it, false, true
		}
		switch it.stmt.Dir.Effect {
		case syntax.EffAlignByte, syntax.EffAlignPow, syntax.EffEven:
			return it, false, true
		}
		return it, false, false
	case syntax.Instruction:
		return it, it.match.Form != nil && it.flags&fRefused == 0 && w.r.envs[it.env].mode == isa.T, false
	}
	return it, false, false
}

// public says whether a call goes to a routine that other files may call too,
// so that the procedure call standard holds for it.
func (w *walker) public(it *item) bool {
	for i := range it.stmt.Ops {
		if o := &it.stmt.Ops[i]; o.Kind == isa.OpExpr && o.Word != "" {
			s := w.r.syms[o.Word]
			return s == nil || !s.defined || s.global
		}
	}
	return false
}

func (w *walker) regs(k int, want isa.RegList) {
	for want &^= w.liveR; want != 0; {
		if w.steps++; w.steps > maxSteps {
			w.liveR |= want
			return
		}
		if old := w.seenR[k]; want&^old == 0 {
			return
		}
		w.seenR[k] |= want
		it, known, skip := w.step(k)
		if skip {
			k++
			continue
		}
		if !known {
			w.liveR |= want
			return
		}
		e := it.match.Effects()
		w.liveR |= want & e.Reads
		want &^= e.Reads
		switch e.Flow {
		case isa.FlowNext:
			want &^= e.Writes
			if e.Writes.Has(isa.PC) {
				w.liveR |= want
				return
			}
			k++
		case isa.FlowJump, isa.FlowBranch:
			t, ok := w.target(it)
			if !ok {
				w.liveR |= want
				return
			}
			if e.Flow == isa.FlowBranch {
				w.regs(k+1, want)
			}
			k = t
		default:
			w.liveR |= want
			return
		}
		want &^= w.liveR
	}
}

func (w *walker) flags(k int, want isa.Flags) {
	for want &^= w.liveF; want != 0; {
		if w.steps++; w.steps > maxSteps {
			w.liveF |= want
			return
		}
		if old := w.seenF[k]; want&^old == 0 {
			return
		}
		w.seenF[k] |= want
		it, known, skip := w.step(k)
		if skip {
			k++
			continue
		}
		if !known {
			w.liveF |= want
			return
		}
		e := it.match.Effects()
		w.liveF |= want & e.FlagsRead
		want &^= e.FlagsRead | e.FlagsWritten
		switch e.Flow {
		case isa.FlowNext:
			if e.Writes.Has(isa.PC) {
				// pop {pc} and mov pc, lr return; another jump may go anywhere.
				if id := it.match.Form.Row.ID; id != "pop" && !(id == "mov-high" && e.Reads.Has(isa.LR)) {
					w.liveF |= want
					return
				}
				w.returns(want)
				return
			}
			k++
		case isa.FlowJump, isa.FlowBranch:
			t, ok := w.target(it)
			if !ok {
				w.liveF |= want
				return
			}
			if e.Flow == isa.FlowBranch {
				w.flags(k+1, want)
			}
			k = t
		case isa.FlowCall:
			if !w.public(it) {
				w.liveF |= want
			}
			return
		case isa.FlowReg:
			switch {
			case e.Writes.Has(isa.LR):
			case e.Reads.Has(isa.LR):
				w.returns(want)
			default:
				w.liveF |= want
			}
			return
		default:
			w.liveF |= want
			return
		}
		want &^= w.liveF
	}
}

// returns goes on behind the calls of this file's own, private routines.
func (w *walker) returns(want isa.Flags) {
	if want &^= w.back; want == 0 {
		return
	}
	w.back |= want
	for sec := range w.r.order {
		o := w.r.order[sec]
		for k := range o {
			it := &w.r.items[o[k]]
			if it.match.Form == nil || it.match.Form.Row.Flow != isa.FlowCall || w.public(it) {
				continue
			}
			x := walker{r: w.r, sec: int16(sec), seenF: map[int]isa.Flags{}, back: w.back, steps: w.steps}
			x.flags(k+1, want)
			w.back, w.steps = w.back|x.back, x.steps
			if w.liveF |= x.liveF; want&^w.liveF == 0 {
				return
			}
		}
	}
}

// evalQuiet evaluates without noting anything: results stay as they are.
func (p *pass) evalQuiet(o *syntax.Operand, it *item) value {
	p.quiet = true
	return p.evalAt(o, it, 0)
}
