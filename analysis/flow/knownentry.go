package flow

import (
	"math/bits"
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// words are those below where the stack pointer was at the entry of a routine: bit n is the
// word 4*(n+1) bytes below. They are as many as routines have, but for large buffers.
type words [4]uint64

const maxWords = 256

// bit says which word a place on the stack is in; ok is false above the entry and far below it.
func (words) bit(off int32) (n int, ok bool) {
	n = int((-off - 1) >> 2)
	return n, off < 0 && n < maxWords
}

// fill notes that bytes have been written.
func (w *words) fill(off int32, size int) {
	for at := off &^ 3; at < off+int32(size); at += 4 {
		if n, ok := w.bit(at); ok {
			w[n>>6] |= 1 << (n & 63)
		}
	}
}

// fillAll notes that any may have been.
func (w *words) fillAll() { *w = words{^uint64(0), ^uint64(0), ^uint64(0), ^uint64(0)} }

// below forgets those below a place: an exception may overwrite them.
func (w *words) below(off int32) {
	n := max(0, int(-off)>>2)
	for i := range w {
		if keep := n - 64*i; keep <= 0 {
			w[i] = 0
		} else if keep < 64 {
			w[i] &= 1<<keep - 1
		}
	}
}

func (w *words) join(o *words) (j words) {
	for i := range w {
		j[i] = w[i] | o[i]
	}
	return j
}

// Own are the flags that are what they were where the routine began, on each way.
func (s *State) Own() isa.Flags { return s.own }

// LeftFlags are those that a call has changed on some way, where the standard keeps nothing.
func (s *State) LeftFlags() (out isa.Flags) {
	for f := range s.Flags {
		if s.Flags[f].Left {
			out |= 1 << f
		}
	}
	return out
}

// Unwritten says whether an access loads from a part of the routine's own stack that nothing
// has written, on any way.
func (s *State) Unwritten(a *Touch) bool {
	off, own := a.Addr.Is(isa.SP)
	sp, known := s.Regs[isa.SP].Is(isa.SP)
	if a.Store || !own || !known || off < sp || s.leaked {
		return false
	}
	n, ok := s.filled.bit(off)
	return ok && s.filled[n>>6]>>(n&63)&1 == 0 && bits.Len(uint(a.Size)) <= 3
}

// Alone is the entry of the routine that a line is part of, where that is one only, which
// others begin, and no line of this file: what it is given is as the standard has it.
func (k *Known) Alone(it *program.Item) (b values.Base, ok bool) {
	g := k.g
	n := g.stepAt[it.Index]
	if g.steps[n].item != it.Index {
		return b, false
	}
	owners := k.owns[g.steps[n].block]
	if len(owners) != 1 {
		return b, false
	}
	e := owners[0]
	s := &g.steps[g.blocks[e].first]
	if g.shared || s.hand || g.blocks[e].called || len(k.calls[e]) > 0 || !s.named && !s.taken {
		return b, false
	}
	b = values.Base{Kind: values.Entry, ID: e}
	y := g.SymbolOf(k.RoutineName(b))
	return b, y != nil && y.Function
}

// CodeAt is the instruction at an address in a section, bit 0 apart, and its label; nil where
// there is none.
func (k *Known) CodeAt(w values.Word) (it *program.Item, label string) {
	if w.Base.Kind != values.Section {
		return nil, ""
	}
	n := k.off(w)
	if n < 0 || k.g.steps[n].data {
		return nil, ""
	}
	if it = k.g.item(n); it != nil {
		label = k.RoutineName(values.Base{Kind: values.Entry, ID: k.g.steps[n].block})
	}
	return it, label
}

// Outside says whether a line calls or goes to a routine of another file, or to an address
// in a register; call whether it comes back.
func (k *Known) Outside(it *program.Item) (outward, call bool) {
	s := k.g.stepAt[it.Index]
	if k.g.steps[s].item != it.Index {
		return false, false
	}
	switch k.g.steps[s].way {
	case callsBy:
		return true, true
	case leaves:
		return true, false
	case calls, jumps:
		return k.g.blocks[k.g.steps[s].block].away&outside != 0, k.g.steps[s].way == calls
	}
	return false, false
}

// Begins says whether a line goes to the entry of a routine of this file, and does not come
// back.
func (k *Known) Begins(it *program.Item) bool {
	s := k.g.stepAt[it.Index]
	if k.g.steps[s].item != it.Index || k.g.steps[s].way != jumps {
		return false
	}
	x := &k.g.blocks[k.g.steps[s].block]
	return slices.ContainsFunc(k.g.edges[x.from:x.to], func(t int32) bool { return k.g.blocks[t].called || k.g.steps[k.g.blocks[t].first].named })
}

// CallsOf are the calls, by name and in this file, of the routine at whose entry a base counts.
func (k *Known) CallsOf(b values.Base) (list []*program.Item) {
	for _, c := range k.calls[b.ID] {
		if last := k.g.blocks[c].last; k.g.steps[last].way == calls {
			list = append(list, k.g.item(last))
		}
	}
	return list
}

// JumpsTo are the lines that a line goes to which is no call, as far as they are known, and
// whether one is right after it.
func (k *Known) JumpsTo(it *program.Item) (list []*program.Item, next bool) {
	g := k.g
	s := g.stepAt[it.Index]
	if g.steps[s].item != it.Index || g.steps[s].way != jumps {
		return nil, false
	}
	x := &g.blocks[g.steps[s].block]
	for _, t := range g.edges[x.from:x.to] {
		first := g.blocks[t].first
		if to := g.item(first); to != nil && !g.steps[first].data {
			list, next = append(list, to), next || first == s+1
		}
	}
	return list, next
}

// Idle says whether a line that is carried out on a condition only gives registers what they
// have then.
func (k *Known) Idle(l *Line) bool {
	g := k.g
	it := l.Item
	if l.Cond >= isa.AL || it.Match.Form == nil || !it.Match.Form.Row.Described() || it.Match.Form.Row.Second != nil || it.Match.Deferred() || g.steps[g.stepAt[it.Index]].way != goesOn {
		return false
	}
	s := l.Before.clone()
	s.assume(l.Cond)
	t := k.borrow(s, true)
	defer k.giveBack(t)
	t.line(it)
	for i := range t.acts {
		a := &t.acts[i]
		if a.Kind != isa.ActReg || a.Guard || a.Reg >= isa.PC {
			return false
		}
		n, exact := a.Value.Exact()
		m, known := s.Regs[a.Reg].Exact()
		same := a.Value.ID != 0 && a.Value.ID == s.Regs[a.Reg].ID && a.Value.Plus == s.Regs[a.Reg].Plus
		if !same && (!exact || !known || n != m || a.Value.Assumed || s.Regs[a.Reg].Assumed) {
			return false
		}
	}
	return len(t.acts) > 0
}
