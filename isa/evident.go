package isa

import "slices"

// What a name says by itself, through all of its forms: for statements that no
// form takes, and for questions that do not depend on the operands' values.

// anyForms are the forms of the name in an instruction set, or those of the other
// one where it has none.
func (mnemonic *Mnemonic) anyForms(s State) []*Form {
	if forms := mnemonic.FormsOf(s); len(forms) > 0 {
		return forms
	}
	return mnemonic.FormsOf(A + T - s)
}

// Evident says where a statement goes by its name and its operands, whether some
// form takes them or not: as Row.Flow does, but that what may depend on the
// statement's condition, which is not looked at, is FlowJump; that a call through
// a register is FlowCall; and that what writes PC in another way is FlowReg.
func (mnemonic *Mnemonic) Evident(s State, ops []Operand) Flow {
	if flow := mnemonic.Named(s); flow != FlowNext {
		return flow
	}
	for _, f := range mnemonic.anyForms(s) {
		if f.leavesWith(ops) {
			return FlowReg
		}
	}
	return FlowNext
}

// Named is the part of Evident that the name alone tells: FlowNext where operands may say more.
func (mnemonic *Mnemonic) Named(s State) Flow {
	for _, f := range mnemonic.anyForms(s) {
		switch r := f.Row; {
		case r.Flow == FlowBranch && r.takesCondition():
			return FlowJump
		case r.Flow == FlowReg && r.writesReg(LR):
			return FlowCall
		case r.Flow != FlowNext:
			return r.Flow
		}
	}
	return FlowNext
}

// takesCondition says whether a condition is part of the encoding.
func (r *Row) takesCondition() bool { return r.fieldIndex("c") >= 0 || r.fieldIndex("cond") >= 0 }

// writesReg says whether the encoding writes the register whatever its fields.
func (r *Row) writesReg(reg Reg) bool {
	for _, w := range r.writes {
		if !w.mem && !w.list && w.field < 0 && w.reg == reg {
			return true
		}
	}
	return false
}

// leavesWith says whether the form, which is of no branch, writes PC with such
// operands: that of a result is PC, or has it, or PC is in no operand.
func (f *Form) leavesWith(ops []Operand) bool {
	named := false
	for i := range f.ops {
		if !f.writes(i) {
			continue
		}
		fixed, ok := f.ops[i].(*fixedSpec)
		named = named || ok && fixed.reg == PC
		if i < len(ops) && (ops[i].Kind == OpReg && ops[i].Reg == PC || ops[i].Kind == OpList && ops[i].List.Has(PC)) {
			return true
		}
	}
	return !named && f.Row.writesReg(PC)
}

// writes says whether the instruction puts a result into operand i of the form: a
// core register, or a list of such.
func (f *Form) writes(i int) bool { return slices.ContainsFunc(f.Row.writes, f.ops[i].gets) }

// Writes says whether some form of the name puts a result into operand i: a core
// register, or a list of such.
func (mnemonic *Mnemonic) Writes(s State, i int) bool {
	for _, f := range mnemonic.anyForms(s) {
		if i < len(f.ops) && f.writes(i) {
			return true
		}
	}
	return false
}

// EvidentEffects is what a statement reads and writes by its name and its operands,
// whether some form takes them or not: all that some form of the name would read, and
// only what each of them would write. Where it goes, Evident says.
func (mnemonic *Mnemonic) EvidentEffects(s State, ops []Operand) (e Effects) {
	forms := mnemonic.anyForms(s)
	if same := withOperands(forms, len(ops)); len(same) > 0 {
		forms = same
	}
	e.FlagsWritten, e.StatusWritten = NZCV, AllStatus
	for i := range ops {
		reads, writes := operandUse(forms, i)
		e.Reads |= ops[i].sources()
		if l := ops[i].results(); reads {
			e.Reads |= l
		} else if writes {
			e.Writes |= l
		} else {
			e.Reads |= l
		}
		if ops[i].Kind == OpShift || ops[i].Kind == OpMem && ops[i].Shift == RRX {
			e.FlagsRead |= C // RRX, or a shift by nothing
		}
	}
	for _, f := range forms {
		for _, x := range f.Row.reads {
			// The stack pointer is named by more than one operand, or not read.
			if !x.mem && !x.list && x.field < 0 && (x.reg != SP || len(ops) < 2) {
				e.Reads |= 1 << x.reg
			}
		}
		if f.Row.opensBlock() {
			e.FlagsRead = NZCV
		}
		for _, n := range []uint32{0, 1} {
			x := f.plainEffects(n)
			e.FlagsRead |= x.FlagsRead
			e.FlagsWritten &= x.FlagsWritten
			e.StatusRead |= x.StatusRead
			e.StatusWritten &= x.StatusWritten
		}
	}
	if len(forms) == 0 {
		e.FlagsWritten, e.StatusWritten = 0, 0
	}
	if _, _, c := mnemonic.Operation(); c != AL {
		e.Conditional = true
		e.FlagsRead |= c.Reads()
	}
	return e
}

// withOperands are the forms that have so many operands.
func withOperands(forms []*Form, n int) (out []*Form) {
	for _, f := range forms {
		if len(f.ops) == n {
			out = append(out, f)
		}
	}
	return out
}

// operandUse says whether some form reads the register of operand i, or the list that
// it is, and whether each form writes it.
func operandUse(forms []*Form, i int) (reads, writes bool) {
	writes = true
	for _, f := range forms {
		if i >= len(f.ops) {
			writes = false
			continue
		}
		reads = reads || slices.ContainsFunc(f.Row.reads, f.ops[i].gets)
		writes = writes && f.writes(i)
	}
	return reads, writes
}

// sources are the registers of an operand that are read in any case: those of an
// address, of the amount of a shift, and one that is written back.
func (o *Operand) sources() (l RegList) {
	add := func(r Reg) {
		if r < 16 {
			l |= 1 << r
		}
	}
	switch {
	case o.Kind == OpMem:
		add(o.Reg)
		if o.Off == OffReg || o.Off == OffShift {
			add(o.Index)
		}
	case o.Kind == OpShift, o.Kind == OpReg && o.Writeback:
		add(o.Reg)
	}
	return l
}

// results are the registers of an operand that may be a result or a source.
func (o *Operand) results() RegList {
	switch {
	case o.Kind == OpReg && o.Reg < 16:
		return 1 << o.Reg
	case o.Kind == OpList:
		return o.List
	}
	return 0
}

// plainEffects are those with the fields that the form fixes, all operands n, and
// the condition AL.
func (f *Form) plainEffects(n uint32) Effects {
	var vals [maxFields]uint32
	for _, s := range f.ops {
		if i := s.facts().field; i >= 0 {
			vals[i] = n
		}
	}
	if f.conditional() {
		vals[0] = uint32(AL)
	}
	for _, x := range f.fixed {
		vals[x.field] = x.val
	}
	e := f.Row.effects(&vals)
	e.FlagsWritten &^= f.Row.kept // not on every architecture
	return e
}

// Unit is the size in bytes of the unit that a load or store moves in an instruction
// set, 0 where there is none of the name. Pairs and lists count by words.
func (mnemonic *Mnemonic) Unit(s State) int {
	for _, f := range mnemonic.anyForms(s) {
		if n := f.Row.Access; n != 0 {
			return min(int(n), 4)
		}
	}
	return 0
}

// ComputesAddress says whether the name computes an address relative to PC, and
// loads nothing from there.
func (mnemonic *Mnemonic) ComputesAddress(s State) bool {
	for _, f := range mnemonic.FormsOf(s) {
		if f.Row.Flow != FlowNext || f.Row.Access != 0 || !f.Row.hasResult() {
			continue
		}
		for i := range f.ops {
			if f.Address(i) {
				return true
			}
		}
	}
	return false
}

// CallsOtherState says whether the name calls code of the other instruction set, or can:
// BLX with a label.
func (mnemonic *Mnemonic) CallsOtherState(s State) bool {
	return slices.ContainsFunc(mnemonic.FormsOf(s), func(f *Form) bool { return f.Row.Exchange && f.Row.Flow == FlowCall })
}

// Relocates says whether the name is that of an instruction with the relocation.
func (mnemonic *Mnemonic) Relocates(s State, r Relocation) bool {
	return slices.ContainsFunc(mnemonic.FormsOf(s), func(f *Form) bool { return !f.Alias && f.Row.Reloc == r })
}

// Offsets are the constant offsets that operand i of the form, memory with ways to
// index, can have; ok is false for others.
func (f *Form) Offsets(i int) (lo, hi, step int64, ok bool) {
	s, ok := f.ops[i].(*addrSpec)
	if !ok || s.off != OffImm {
		return 0, 0, 0, false
	}
	return s.min, s.max, s.step, true
}

// Exchanges says whether assemblers take the name with a constant of full width
// negated, or inverted, for another name: ADD for SUB, MOV for MVN.
func (mnemonic *Mnemonic) Exchanges(s State) (negated, inverted bool) {
	for _, f := range mnemonic.FormsOf(s) {
		for i := range f.ops {
			if o, ok := f.ops[i].(*wideConstSpec); ok && !o.literal {
				negated, inverted = negated || o.neg, inverted || o.inverted
			}
		}
	}
	return negated, inverted
}

// Reaches says whether operand i of the form, an address relative to PC, can be
// target when the instruction is at pc.
func (f *Form) Reaches(i int, pc, target int64) bool {
	s, ok := f.ops[i].(*targetSpec)
	return ok && s.reaches(f.Row, pc, target)
}

// BranchesOnZero says whether the name branches on what a register has: where it is 0,
// or where it is not. ok is false for other names.
func (mnemonic *Mnemonic) BranchesOnZero() (zero, ok bool) {
	for _, f := range mnemonic.FormsOf(T) {
		if r := f.Row; r.Flow == FlowBranch && !r.takesCondition() && r.Described() {
			for _, a := range Evaluate(Values{row: r}, zeros{}, nil) {
				if a.Kind == ActBranch && a.Guard {
					return a.If != 0, true
				}
			}
		}
	}
	return false, false
}

// zeros is a state in which everything is 0.
type zeros struct{}

func (zeros) Number(n uint32) uint32                     { return n }
func (zeros) Do(op Operation, x, y, z uint32) uint32     { return op.Word(x, y, z) }
func (zeros) Reg(Reg) uint32                             { return 0 }
func (zeros) Flag(Flags) uint32                          { return 0 }
func (zeros) GE() uint32                                 { return 0 }
func (zeros) Link() uint32                               { return 0 }
func (zeros) Load(uint32, int, Alignment) uint32         { return 0 }
func (zeros) Special(uint32) uint32                      { return 0 }
func (zeros) Status(bool) uint32                         { return 0 }
func (zeros) Exclusive(addr uint32, size int) (w uint32) { return 0 }
