package flow

import (
	"slices"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// Touch is an access to memory by a line.
type Touch struct {
	Addr  values.Word
	Size  int // in bytes: 1, 2 or 4; each word of several by itself
	How   isa.Alignment
	Store bool
}

// transfer carries lines out on what is known. It is the domain in which they are
// evaluated.
type transfer struct {
	k       *Known
	s       *State
	it      *program.Item
	env     *program.Environment
	to      values.Word // where a line goes that writes pc
	base    bool        // the line has read pc
	acts    []isa.Action[values.Word]
	touches []Touch
	quiet   bool // it has been solved: nothing is noted any more

	evaluator     isa.Evaluator[values.Word]
	first, before State // for lines
}

// borrow gives what carries lines out on a state, until it is given back: there are very many
// lines, and the room that it takes is used again.
func (k *Known) borrow(s *State, quiet bool) *transfer {
	if len(k.idle) == 0 {
		k.idle = append(k.idle, &transfer{k: k})
	}
	n := len(k.idle) - 1
	t := k.idle[n]
	k.idle = k.idle[:n]
	t.s, t.quiet = s, quiet
	return t
}

func (k *Known) giveBack(t *transfer) { k.idle = append(k.idle, t) }

func (t *transfer) Number(n uint32) values.Word { return values.Number(n) }

func (t *transfer) Do(op isa.Operation, x, y, z values.Word) values.Word {
	return values.Do(op, x, y, z)
}

func (t *transfer) Reg(r isa.Reg) values.Word {
	if r != isa.PC {
		return t.s.Regs[r]
	}
	t.base = true
	return t.k.place(t.it.Section, t.it.Offset+t.env.Mode.Ahead())
}

func (t *transfer) Flag(f isa.Flags) values.Word {
	for i := range t.s.Flags {
		if f == 1<<i {
			return t.s.Flags[i]
		}
	}
	return values.Between(0, 1)
}

func (t *transfer) GE() values.Word                        { return values.Between(0, 15) }
func (t *transfer) Link() values.Word                      { return values.Unknown() }
func (t *transfer) Special(uint32) values.Word             { return values.Unknown() }
func (t *transfer) Status(bool) values.Word                { return values.Unknown() }
func (t *transfer) Exclusive(values.Word, int) values.Word { return values.Between(0, 1) }

func (t *transfer) Load(addr values.Word, size int, how isa.Alignment) values.Word {
	t.touches = append(t.touches, Touch{addr, size, how, false})
	if l := t.it.Literal; l >= 0 && size == 4 {
		return t.k.valueOf(t.k.g.Literals[l].Value)
	}
	if off, ok := addr.Is(isa.SP); ok && size == 4 && off&3 == 0 {
		for _, x := range t.s.slots {
			if x.at == off {
				return x.word.Anonymous()
			}
		}
	}
	if addr.Base.Kind == values.Section {
		if w, ok := t.k.constant(addr, size, t.base); ok {
			return w
		}
	}
	if addr.Base.Kind == values.Part {
		if w, ok := t.entry(addr, size); ok {
			return w
		}
	}
	w := values.Between(0, uint32(uint64(1)<<(8*size)-1))
	w.Assumed = false
	return w
}

// maxEntries bounds the tables of which all that may be loaded is looked at.
const maxEntries = 256

// entry is what is in one of several words, halfwords or bytes of constant data. Addresses
// there are those of labels that are taken, so that one may be gone to as any other: what is
// left of them are the bits that they have in common.
func (t *transfer) entry(addr values.Word, size int) (w values.Word, ok bool) {
	n := 0
	all := addr.Each(maxEntries, func(at values.Word) {
		x, known := t.k.constant(at, size, t.base)
		if !known || x.Moved {
			n = -maxEntries - 1
			return
		}
		if x.Base.Kind != values.None {
			mask, val := x.Bits()
			x = values.Known(mask, val)
		}
		if n == 0 {
			w = x
		}
		w, n = w.Join(x), n+1
	})
	w.Assumed = addr.Assumed
	return w, all && n > 0
}

// place is the address of an offset in a section.
func (k *Known) place(sec int16, off int64) values.Word {
	s := &k.g.Sections[sec]
	if !s.Exact {
		w := values.Unknown()
		w.Moved = true
		return w
	}
	align := uint32(1)
	if s.Main == sec && s.Align > 1 && s.Align&(s.Align-1) == 0 && s.Align < 1<<30 {
		align = uint32(s.Align)
	}
	return values.At(values.Base{Kind: values.Section, ID: int32(sec), Align: align}, uint32(off))
}

// valueOf is a value as a word in memory, with bit 0 for functions of Thumb state as a
// linker puts it in.
func (k *Known) valueOf(v program.Value) values.Word {
	y := v.Symbol
	if v.Kind == program.Undefined && y != nil && !v.Mixed && y.Defined && y.Label && y.Value.Kind == program.Address {
		n := v.N
		v = y.Value
		v.Symbol, v.N = y, v.N+n
	}
	switch {
	case v.Kind == program.Number:
		return values.Number(uint32(v.N))
	case v.Kind == program.Address && (y == nil || !y.Weak) && int(v.Section) < len(k.g.Sections) && v.Section >= 0:
		n := v.N
		if y != nil && y.Function && y.Mode == isa.T {
			n |= 1
		}
		return k.place(v.Section, n)
	case v.Kind == program.Undefined && y != nil && !v.Mixed && !y.Defined:
		return values.At(values.Base{Kind: values.Symbol, Symbol: y, Align: 1}, uint32(v.N))
	}
	w := values.Unknown()
	w.Moved = true
	return w
}

// line carries out an item on the state, as far as it does not leave for another place.
func (t *transfer) line(it *program.Item) {
	t.it, t.env = it, &t.k.g.Environments[it.Environment]
	t.to, t.base = values.Unknown(), false
	t.acts, t.touches = t.acts[:0], t.touches[:0]
	if it.Match.Form == nil || it.Flags&(program.Refused|program.Unchecked) != 0 {
		t.s.lose()
		return
	}
	if row := it.Match.Form.Row; !row.Described() || row.Second != nil || it.Match.Deferred() {
		t.roughly()
		return
	}
	t.acts = t.evaluator.Evaluate(it.Match.Values(), t, t.acts)
}

// roughly does what is known of a line by its effects only.
func (t *transfer) roughly() {
	e := t.it.Match.Effects()
	w := values.Unknown()
	if l := t.it.Literal; l >= 0 && e.ReadsMem && e.Writes.Count() == 1 && t.it.Match.Form.Row.Access == 4 {
		w = t.k.valueOf(t.k.g.Literals[l].Value)
	} else if t.it.Match.Deferred() {
		w.Moved = true
	}
	for r := range isa.Reg(15) {
		if e.Writes.Has(r) {
			t.acts = append(t.acts, isa.Action[values.Word]{Kind: isa.ActReg, Reg: r, Value: w})
		}
	}
	for f := range 4 {
		if e.FlagsWritten&(1<<f) != 0 {
			t.acts = append(t.acts, isa.Action[values.Word]{Kind: isa.ActFlag, Flag: 1 << f, Value: values.Between(0, 1)})
		}
	}
	if e.WritesMem {
		x := values.Unknown()
		x.Frame = e.Reads.Has(isa.SP)
		t.acts = append(t.acts, isa.Action[values.Word]{Kind: isa.ActStore, Size: 4, Addr: x, Value: w})
	}
}

// commit does what a line does on the state.
func (t *transfer) commit(step int32) {
	user := slices.ContainsFunc(t.acts, func(a isa.Action[values.Word]) bool { return a.Kind == isa.ActUserBank })
	inBlock := t.it.Slot&program.SlotIn != 0
	for i := range t.acts {
		a := &t.acts[i]
		maybe := false
		if a.Guard {
			if n, ok := a.If.Exact(); ok && n == 0 {
				continue
			} else if maybe = !ok; ok {
				maybe = false
			}
		}
		switch a.Kind {
		case isa.ActReg:
			t.register(a, step, user, maybe)
		case isa.ActFlag:
			if a.IfSets && inBlock {
				continue
			}
			v := a.Value
			if a.Kept && !t.env.Have.Has(isa.FeatV5T) {
				v = values.Between(0, 1)
			}
			f := slices.Index([]isa.Flags{isa.N, isa.Z, isa.C, isa.V}, a.Flag)
			about, since := v.About, v.Since
			v = values.Do(isa.DoAnd, v, values.Number(1), values.Number(1)).Anonymous()
			v.About, v.Since = about, since
			if maybe {
				v = v.Join(t.s.Flags[f])
			}
			t.s.Flags[f], t.s.by[f] = v, step
			t.s.own &^= a.Flag
		case isa.ActStore:
			t.store(a.Addr, int(a.Size), a.Value, maybe)
			t.touches = append(t.touches, Touch{a.Addr, int(a.Size), a.How, true})
		case isa.ActBranch, isa.ActExchange, isa.ActToA32, isa.ActToT16:
			t.to = a.Addr
		case isa.ActSpecial:
			if a.Number < 8 {
				t.s.unflag()
			} else if a.Number < 16 || a.Number == 20 {
				t.s.unstack()
			}
		case isa.ActStatus:
			if a.Number&8 != 0 {
				t.s.unflag()
			}
			if a.Number&1 != 0 && a.Number&16 == 0 {
				t.s.otherMode()
			}
		case isa.ActEnter:
			t.s.otherMode()
		case isa.ActRestore:
			t.s.unflag()
		case isa.ActEndian:
			t.wild() // memory reads the other way round
		}
	}
}

// register gives a register a value.
func (t *transfer) register(a *isa.Action[values.Word], step int32, user, maybe bool) {
	if a.Reg == isa.PC {
		t.to = a.Value
		return
	}
	v := a.Value
	if user {
		v = values.Unknown()
	}
	v.About, v.Since, v.Inverse, v.Least = 0, 0, 0, 0
	if a.Reg == isa.SP && t.env.Have.Has(isa.FeatM) { // DDI 0403E, B1.4.1
		v = values.Do(isa.DoAnd, v, values.Number(^uint32(3)), v)
	}
	if maybe {
		v = v.Join(t.s.Regs[a.Reg])
	}
	if v.ID == 0 {
		v.ID, v.Plus = uint32(step+1)<<4|uint32(a.Reg), 0
	}
	t.s.Regs[a.Reg] = v
	switch {
	case a.Reg == isa.SP:
		t.s.shrink()
	case v.Frame:
		t.s.leaked = true
	}
}

// shrink forgets what is below the stack pointer: an exception may overwrite it.
func (s *State) shrink() {
	sp, ok := s.Regs[isa.SP].Is(isa.SP)
	if !ok {
		s.slots, s.leaked = nil, true
		return
	}
	s.filled.below(sp)
	s.slots = slices.DeleteFunc(s.slots, func(x slot) bool { return x.at < sp })
}

// lose forgets all.
func (s *State) lose() {
	for r := range s.Regs {
		s.Regs[r] = values.Unknown()
	}
	s.unflag()
	s.slots, s.leaked = nil, true
}

func (s *State) unflag() {
	for f := range s.Flags {
		s.Flags[f] = values.Between(0, 1)
	}
	s.by, s.own = noSteps, 0
}

func (s *State) unstack() {
	s.Regs[isa.SP] = values.Unknown()
	s.shrink()
}

// otherMode is after a change to a mode that has registers of its own (DDI 0406C, B1.3.2).
func (s *State) otherMode() {
	for r := isa.Reg(8); r < 15; r++ {
		s.Regs[r] = values.Unknown()
	}
	s.shrink()
}

// store changes what is known of memory.
func (t *transfer) store(addr values.Word, size int, v values.Word, maybe bool) {
	s := t.s
	s.leaked = s.leaked || v.Frame
	off, own := addr.Is(isa.SP)
	switch {
	case own:
		s.filled.fill(off, size)
		s.slots = slices.DeleteFunc(s.slots, func(x slot) bool { return x.at < off+int32(size) && off < x.at+4 })
		if off >= 0 {
			t.spoil()
		}
		sp, ok := s.Regs[isa.SP].Is(isa.SP)
		if maybe || size != 4 || off&3 != 0 || len(s.slots) == maxSlots || !ok || off < min(sp, off) {
			return
		}
		i, _ := slices.BinarySearchFunc(s.slots, off, func(x slot, at int32) int { return int(x.at - at) })
		s.slots = slices.Insert(s.slots, i, slot{off, v.Anonymous()})
	case addr.Frame:
		s.filled.fillAll()
		s.slots = nil
		t.spoil()
	case s.leaked:
		s.slots = nil
	case addr.Base.Kind != values.Section && addr.Base.Kind != values.Part:
		s.slots = slices.DeleteFunc(s.slots, func(x slot) bool { return x.at >= 0 })
	}
}

// spoil notes that the routines that a line is part of change their caller's stack.
func (t *transfer) spoil() {
	k := t.k
	if !t.quiet {
		k.spoil(k.g.steps[k.g.stepAt[t.it.Index]].block)
	}
}

func (k *Known) spoil(b int32) {
	for _, e := range k.owns[b] {
		if sum := k.sums[e]; !sum.above {
			sum.above = true
			for _, c := range k.calls[e] {
				if k.at[c] != nil {
					k.push(c)
				}
			}
		}
	}
}

// wild notes that nothing can be known.
func (t *transfer) wild() { t.k.wild = t.k.wild || !t.quiet }

// condition is whether a line is carried out: 0 or 1.
func (t *transfer) condition(it *program.Item) values.Word {
	c := isa.AL
	if it.Match.Form != nil {
		c = it.Match.Condition()
	}
	if c >= isa.AL {
		return values.Number(1)
	}
	return isa.Holds(c, t)
}

// step carries out a line that goes on to the next one.
func (t *transfer) step(n int32) {
	st := &t.k.g.steps[n]
	it := t.k.g.item(n)
	if it == nil || st.data || st.way == unclear {
		t.s.lose()
		return
	}
	t.line(it)
	holds := t.condition(it)
	if always, ok := holds.Exact(); ok && !holds.Assumed {
		if always != 0 {
			t.commit(n)
		}
		return
	}
	before := t.s.clone()
	t.commit(n)
	t.s = t.k.join(before, t.s, 0)
}

// conditional divides the state at a line that goes somewhere: where it does, and where it
// does not; nil where that never is.
func (t *transfer) conditional(n int32) (does, not *State) {
	st := &t.k.g.steps[n]
	it := t.k.g.item(n)
	if it == nil || !st.runsOn {
		return t.s, nil
	}
	c := isa.AL
	if it.Match.Form != nil {
		c = conditionOf(it)
	}
	does, not = t.s, t.s.clone()
	if c >= isa.AL {
		if zero, is := it.Stmt.Mnemonic.BranchesOnZero(); is && len(it.Stmt.Ops) == 2 {
			if ops := t.k.g.OperandsOf(it); ops[0].Kind == isa.OpReg && ops[0].Reg < 15 {
				if n, ok := t.s.Regs[ops[0].Reg].Exact(); ok && !t.s.Regs[ops[0].Reg].Assumed {
					if (n == 0) == zero {
						return does, nil
					}
					return nil, not
				}
				does.zero(ops[0].Reg, zero)
				not.zero(ops[0].Reg, !zero)
			}
		}
		return does, not
	}
	holds := isa.Holds(c, t)
	if n, ok := holds.Exact(); ok && !holds.Assumed {
		if n == 0 {
			return nil, not
		}
		return does, nil
	}
	does.assume(c)
	not.assume(c.Invert())
	return does, not
}

// zero notes that a register is 0, or is not.
func (s *State) zero(r isa.Reg, is bool) {
	if w := &s.Regs[r]; is {
		*w = w.Limit(0, 0)
	} else {
		*w = w.Not(0)
	}
}

// branch divides the state at a branch to a label.
func (t *transfer) branch(n int32) (taken, not *State) { return t.conditional(n) }

// call is the state after the call that ends a block has come back; nil: it does not.
func (t *transfer) call(b int32) *State {
	k, g := t.k, t.k.g
	x := &g.blocks[b]
	if t.s == nil {
		return nil
	}
	if g.steps[x.last].way == callsBy || x.away != 0 || x.from == x.to {
		if Profiles(g.item(x.last)) {
			return profiled(t.s)
		}
		return external(t.s)
	}
	var after *State
	for _, to := range g.edges[x.from:x.to] {
		sum := k.sums[to]
		if sum == nil {
			return external(t.s)
		}
		if sum.above && !t.quiet {
			k.spoil(b)
		}
		if y := k.apply(sum, to, t.s.linked()); y != nil && after == nil {
			after = y
		} else if y != nil {
			after = k.join(after, y, 0)
		}
	}
	if after != nil {
		after.Regs[isa.LR].Left = true
	}
	return after
}

// linked is the state where a routine is called: LR is the return address.
func (s *State) linked() *State {
	out := s.clone()
	out.Regs[isa.LR] = values.Unknown()
	return out
}

// skipped divides the state at a call on a condition: what it is where the call is not
// done; nil where it always is.
func (t *transfer) skipped(n int32) *State {
	does, not := t.conditional(n)
	t.s = does
	return not
}

// leave divides the state at the last line of a block that is no branch to a label and no
// call.
func (t *transfer) leave(n int32) (done, not *State) {
	st := &t.k.g.steps[n]
	it := t.k.g.item(n)
	switch st.way {
	case goesOn:
		t.step(n)
		return nil, t.s
	case traps:
		does, not := t.conditional(n)
		t.s = does
		if does == nil {
			return nil, not
		}
		sp := does.Regs[isa.SP]
		slots, leaked := does.slots, does.leaked
		does.lose()
		if does.Regs[isa.SP] = sp; !leaked {
			does.slots, does.leaked = slots, leaked
		}
		return nil, does
	case returns, leaves:
		does, not := t.conditional(n)
		if t.s = does; does == nil {
			return nil, not
		}
		t.line(it)
		t.commit(n)
		if st.way == leaves && (t.to.Moved || t.to.Base.Kind == values.Part || t.to.Base.Kind == values.Section && t.k.off(t.to) < 0) {
			t.wild()
		}
		return t.s, not
	case stops:
		return nil, nil
	}
	t.s.lose()
	return t.s, t.s.clone()
}

// off is the step that an address in a section leads to, -1 where none begins there.
func (k *Known) off(w values.Word) int32 {
	return k.g.place(program.Value{Kind: program.Address, Section: int16(w.Base.ID), N: int64(int32(w.Val)) &^ 1})
}
