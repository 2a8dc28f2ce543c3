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
	forms := mnemonic.anyForms(s)
	for _, f := range forms {
		switch r := f.Row; {
		case r.Flow == FlowBranch && r.takesCondition():
			return FlowJump
		case r.Flow == FlowReg && r.writesReg(LR):
			return FlowCall
		case r.Flow != FlowNext:
			return r.Flow
		}
	}
	for _, f := range forms {
		if f.leavesWith(ops) {
			return FlowReg
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

// ReadsFlags says whether some form of the name that has operands of such kinds
// reads condition flags, its own condition apart. What opens an IT block reads
// them for others.
func (mnemonic *Mnemonic) ReadsFlags(s State, ops []Operand) bool {
	for _, f := range mnemonic.anyForms(s) {
		if f.Row.opensBlock() || f.alike(ops) && f.plainEffects().FlagsRead != 0 {
			return true
		}
	}
	return false
}

// plainEffects are those with the fields that the form fixes, all operands 1, and
// the condition AL.
func (f *Form) plainEffects() Effects {
	var vals [maxFields]uint32
	for _, s := range f.ops {
		if i := s.facts().field; i >= 0 {
			vals[i] = 1
		}
	}
	if f.conditional() {
		vals[0] = uint32(AL)
	}
	for _, x := range f.fixed {
		vals[x.field] = x.val
	}
	return f.Row.effects(&vals)
}

// alike says whether the form has as many operands, of the same shapes as far as
// that is sure.
func (f *Form) alike(ops []Operand) bool {
	if len(ops) != len(f.ops) {
		return false
	}
	for i := range ops {
		switch c := f.ops[i].facts().shape; c {
		case OpReg, OpMem, OpList:
			if ops[i].Kind != c {
				return false
			}
		case OpImm:
			if k := ops[i].Kind; k == OpReg || k == OpMem || k == OpList {
				return false
			}
		}
	}
	return true
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
func (mn *Mnemonic) BranchesOnZero() (zero, ok bool) {
	for _, f := range mn.FormsOf(T) {
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
