package isa

import "slices"

// Effects is what an instruction reads and writes.
type Effects struct {
	Reads, Writes       RegList
	ReadsMem, WritesMem bool
	FlagsRead           Flags
	FlagsWritten        Flags
	// StatusWritten are those that it gives another value whatever they were: Q, which
	// only ever gets set, by a write of the status register alone.
	StatusRead, StatusWritten Status
	Flow                      Flow
	// Conditional: all of it happens only when the condition holds, as in A32
	// code and in IT blocks.
	Conditional bool
}

// Effects of the bound statement.
func (m *Match) Effects() Effects {
	vals := m.fields()
	e := m.Form.Row.effects(&vals)
	m.Form.Row.keep(&e, &vals, m.what)
	if m.Form.it == itIn {
		e.FlagsWritten = 0
	}
	if m.what&flagIT != 0 && m.cond < AL && m.Form.Row.IT != ITNeutral {
		e.Conditional = true
		e.FlagsRead |= m.cond.Reads()
		if e.Flow == FlowJump {
			e.Flow = FlowBranch
		}
	}
	return e
}

// Flags are those that the form reads and sets whatever its operands are; what a condition
// reads is not among them.
func (f *Form) Flags() (read, set Flags) {
	r := f.Row
	var vals [maxFields]uint32
	for _, x := range f.fixed {
		vals[x.field] = x.val
	}
	for _, name := range []string{"cond", "c"} {
		if i := r.fieldIndex(name); i >= 0 {
			vals[i] = uint32(AL)
		}
	}
	if i := r.fieldIndex("S"); i >= 0 && r.full() && vals[i] == 0 { // what only setting them reads
		return r.effects(&vals).FlagsRead &^ r.kept, f.SetsFlags()
	}
	return r.FlagsRead &^ r.kept, f.SetsFlags()
}

// RestoresStatus says whether the bound statement is a return from an exception: PC gets a
// value and CPSR that of SPSR, as by SUBS PC, LR (DDI 0406C, B9.3.20).
func (m *Match) RestoresStatus() bool {
	vals := m.fields()
	return m.Form.Row.restores(&vals)
}

// RestoresStatus is that of Match for a decoded instruction.
func (in *Inst) RestoresStatus() bool { return in.Row.restores(&in.vals) }

func (r *Row) restores(vals *[maxFields]uint32) bool {
	if !r.effects(vals).Writes.Has(PC) {
		return false
	}
	if r.at.s >= 0 {
		return r.State == A && vals[r.at.s] != 0
	}
	return r.does != nil && slices.ContainsFunc(r.does.acts, func(a act) bool { return a.kind == ActRestore })
}

// ChangesMode says whether other registers may be r8 to lr after the bound statement, as it
// may change the mode (DDI 0406C, B1.3.2).
func (m *Match) ChangesMode() bool {
	r := m.Form.Row
	if r.does == nil || !slices.ContainsFunc(r.does.acts, func(a act) bool { return a.kind == ActStatus || a.kind == ActEnter || a.kind == ActRestore }) {
		return false
	}
	return slices.ContainsFunc(Evaluate(m.Values(), needs{}, nil), func(a Action[need]) bool {
		return a.Kind == ActEnter || a.Kind == ActRestore || a.Kind == ActStatus && a.Number&(16|1) == 1 // the mode is in the lowest byte
	})
}

// Sum is the value of the register that the bound statement writes, where that is the
// value of another register, or of one plus n.
func (m *Match) Sum() (src Reg, n int64, ok bool) {
	s := m.Form.Row.sum
	if s.reg < 0 {
		return NoReg, 0, false
	}
	v := m.Values()
	if s.shifted && v.Get("imm5")|v.Get("type") != 0 {
		return NoReg, 0, false
	}
	if s.imm >= 0 {
		if n = int64(v.vals[s.imm]); s.minus {
			n = -n
		}
	}
	return Reg(v.vals[s.reg]), n, true
}

// Effects of the decoded instruction.
func (in *Inst) Effects() Effects {
	e := in.Row.effects(&in.vals)
	in.Row.keep(&e, &in.vals, in.keeps)
	return e
}

// keep takes out of effects what is not so on the target: nothing comes of what the flags of
// Row.kept were where they are spoilt, and else they are not touched. Where the architecture is not
// known, they are read and written.
func (r *Row) keep(e *Effects, vals *[maxFields]uint32, what matchFlags) {
	if what&(flagKeeps|flagSpoils) == 0 {
		return
	}
	e.FlagsRead &^= r.kept
	if what&flagKeeps != 0 {
		e.FlagsWritten &^= r.kept
	}
	if i := r.fieldIndex("cond"); i >= 0 && Cond(vals[i]) < AL {
		e.FlagsRead |= Cond(vals[i]).Reads()
	}
}

// FallsThrough says that execution goes on to the next instruction, as Effects does with
// more work: where it is false, Effects has the answer. A large file asks of every line.
func (m *Match) FallsThrough() bool { return m.Form.Row.fallsThrough(m.word) }

// FallsThrough is that of Match for a decoded instruction.
func (in *Inst) FallsThrough() bool { return in.Row.fallsThrough(in.Word) }

func (r *Row) fallsThrough(word uint32) bool {
	if r.does == nil || r.Flow != FlowNext || r.pairs {
		return false
	}
	for _, x := range r.writes {
		switch {
		case x.mem:
		case x.list:
			if vals := r.read(word, 0); r.listed(&vals).Has(PC) {
				return false
			}
		case x.field >= 0:
			if Reg(r.fields[x.field].get(word)) == PC {
				return false
			}
		case x.reg == PC:
			return false
		}
	}
	return true
}

func (r *Row) effects(vals *[maxFields]uint32) Effects {
	if r.varies {
		return r.conditioned(vals, r.derived(vals))
	}
	e := Effects{FlagsRead: r.FlagsRead, FlagsWritten: r.FlagsWritten, StatusRead: r.statusRead, StatusWritten: r.statusWritten, Flow: r.Flow}
	set := func(refs []regRef) (l RegList, mem bool) {
		for _, x := range refs {
			switch {
			case x.mem:
				mem = true
			case x.list:
				l |= r.listed(vals)
			case x.field >= 0:
				l |= 1 << vals[x.field]
			default:
				l |= 1 << x.reg
			}
		}
		return
	}
	e.Reads, e.ReadsMem = set(r.reads)
	e.Writes, e.WritesMem = set(r.writes)
	if r.Flow == FlowBranch {
		if i := r.fieldIndex("c"); i >= 0 {
			e.FlagsRead |= Cond(vals[i]).Reads()
		}
	}
	if r.does != nil {
		return r.conditioned(vals, e)
	}
	if r.full() {
		e = r.effectsA32(Values{row: r, vals: *vals}, e)
	}
	if r.Adjust != nil {
		return r.Adjust(Values{row: r, vals: *vals}, e)
	}
	return e
}
