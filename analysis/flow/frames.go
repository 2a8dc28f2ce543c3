package flow

import (
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// frame is what is known of the return address of a routine at a place in it.
type frame struct {
	seen  bool
	lost  bool        // the stack pointer is somewhere else
	saved bool        // the return address is in memory at slot
	delta int64       // of the stack pointer, since the routine was entered
	slot  int64       // counted as delta is
	holds isa.RegList // registers that have the return address
}

// entry is the frame where a routine is entered.
var entry = frame{seen: true, holds: 1 << isa.LR}

// meet is what holds whichever of two ways leads to a place.
func (f frame) meet(o frame) frame {
	switch {
	case !f.seen:
		return o
	case !o.seen:
		return f
	}
	f.lost = f.lost || o.lost || f.delta != o.delta
	f.saved = f.saved && o.saved && f.slot == o.slot
	f.holds &= o.holds
	if f.lost {
		f.saved, f.delta = false, 0
	}
	if !f.saved {
		f.slot = 0
	}
	return f
}

// returnsOf follows where return addresses are. A jump to an address in a register is a
// return where that is one; a return that may go elsewhere than after the call, to the
// caller's caller, say, is marked.
func (g *graph) returnsOf() {
	at := make([]frame, len(g.blocks))
	g.frames = at
	var queue []int32
	arrive := func(b int32, f frame) {
		if now := at[b].meet(f); now != at[b] {
			at[b] = now
			queue = append(queue, b)
		}
	}
	for b := range g.blocks {
		if x := &g.blocks[b]; g.steps[x.first].named || x.called || g.steps[x.first].taken {
			arrive(int32(b), entry)
		}
	}
	run := func() {
		for n := 0; n < len(queue); n++ {
			b := queue[n]
			g.work++
			x := &g.blocks[b]
			f := at[b]
			for s := x.first; s <= x.last; s++ {
				f, _ = g.pass(&g.steps[s], f)
			}
			if x.fall {
				arrive(b+1, f)
			}
			if g.steps[x.last].way == jumps {
				for _, t := range g.edges[x.from:x.to] {
					arrive(t, f)
				}
			}
		}
		queue = queue[:0]
	}
	run()
	for b := range g.blocks {
		if !at[b].seen && !g.steps[g.blocks[b].first].data {
			arrive(int32(b), entry)
			run()
		}
	}
	for b := range g.blocks {
		x := &g.blocks[b]
		last := &g.steps[x.last]
		if !at[b].seen || last.way != returns && last.way != leaves {
			continue
		}
		f, back := at[b], false
		for s := x.first; s <= x.last; s++ {
			f, back = g.pass(&g.steps[s], f)
		}
		if back {
			last.way = returns
		} else if last.way == returns {
			last.skips = true
		}
	}
}

// pass is the frame after a step, and whether that returns to where the routine was
// called.
func (g *graph) pass(s *step, f frame) (after frame, back bool) {
	if s.data || s.item < 0 {
		return f, false
	}
	it := &g.Items[s.item]
	switch s.way {
	case calls, callsBy:
		f.holds = 0
		return f, false
	case goesOn:
		if s.writes.regs()&(1<<isa.SP|f.holds) == 0 && s.reads.regs()&(f.holds|1<<isa.SP) == 0 && !s.runsOn {
			return f, false
		}
	case returns, leaves:
	default:
		return f, false
	}
	was := f
	back = g.moves(s, it, &f)
	if s.runsOn || it.Slot&program.SlotIn != 0 || it.Match.Form != nil && it.Match.Effects().Conditional {
		if s.way == returns || s.way == leaves { // it goes on as if nothing had been done
			return was, back
		}
		f = f.meet(was)
	}
	return f, back
}

// moves follows what one instruction does with the return address. back: it goes there.
func (g *graph) moves(s *step, it *program.Item, f *frame) (back bool) {
	ops := g.OperandsOf(it)
	load := func(r isa.Reg, slot int64) {
		if f.holds &^= RegBit(r); !f.lost && f.saved && slot == f.slot {
			f.holds |= RegBit(r)
		}
	}
	store := func(r isa.Reg, slot int64) {
		if f.holds.Has(r) && !f.lost {
			f.saved, f.slot = true, slot
		} else if f.saved && slot == f.slot {
			f.saved, f.slot = false, 0
		}
	}
	lose := func() { f.lost, f.saved, f.delta, f.slot = true, false, 0, 0 }
	if m, ok := stackMoveOf(opOf(it), ops); ok {
		slot := f.delta + m.at
		for r := isa.Reg(0); r < 16; r++ {
			switch {
			case !m.regs.Has(r):
				continue
			case m.store:
				store(r, slot)
			default:
				load(r, slot)
			}
			slot += 4
		}
		f.delta += m.by
	} else if it.Match.Form == nil {
		f.holds &^= Mentioned(ops)
		if Mentioned(ops).Has(isa.SP) {
			lose()
		}
	} else {
		e := it.Match.Effects()
		src, n, ok := it.Match.Sum()
		copied := ok && n == 0 && f.holds.Has(src)
		if len(ops) == 1 && ops[0].Kind == isa.OpReg && e.Flow == isa.FlowReg {
			copied = f.holds.Has(ops[0].Reg) // bx
		}
		f.holds &^= e.Writes
		if copied {
			f.holds |= e.Writes
		}
		l := g.stackLineOf(s)
		for _, a := range l.accesses {
			if at := f.delta + a.at; a.store && f.saved && at < f.slot+4 && f.slot < at+a.size {
				f.saved, f.slot = false, 0
			}
		}
		if f.delta += l.by; l.lost {
			lose()
		}
		if it.Match.ChangesMode() {
			f.holds &^= bankedRegs.regs()
		}
	}
	if f.lost {
		f.delta = 0
	}
	back = f.holds.Has(isa.PC)
	f.holds &^= 1<<isa.PC | 1<<isa.SP
	return back
}
