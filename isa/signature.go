package isa

// Beginning lists the forms of the name that take the operands as their first ones, in order
// of preference, one for each spelling: what is written so may go on with them. It is as
// Begins. Other spellings of the same, those with Alias or Rare, come only if there is
// nothing else, or if they are about a list of registers.
func (mnemonic *Mnemonic) Beginning(q *Query, ops []Operand) (list []*Form) {
	for _, more := range []bool{false, true} {
		seen := map[string]bool{}
		for _, f := range mnemonic.forms(q) {
			if (f.Rare || f.Alias && !f.TakesList()) != more || !f.begins(mnemonic, q, ops) || seen[f.String()] {
				continue
			}
			seen[f.String()] = true
			list = append(list, f)
		}
		if len(list) > 0 {
			break
		}
	}
	return list
}

// TakesList says whether the form's last operand is a list of core registers. Several encodings differ
// in nothing but which registers may be in it, so that each is of interest, whatever it is called.
func (f *Form) TakesList() bool {
	n := len(f.ops) - 1
	return n >= 0 && f.ops[n].facts().shape == OpList
}

// Takes says whether the form takes the operands as its first ones, as Begins does.
func (f *Form) Takes(mnemonic *Mnemonic, q *Query, ops []Operand) bool {
	return f.begins(mnemonic, q, ops)
}

// Part is operand i, from 0, in the spelling that String gives.
func (f *Form) Part(i int) string { return f.ops[i].describe(f) }

// Shape is the written shape of operand i, from 0; OpOther where it may have several.
func (f *Form) Shape(i int) OpKind { return f.ops[i].facts().shape }

// Registers are the core registers that the operand after some others may have: by itself,
// or in a list.
func (f *Form) Registers(mnemonic *Mnemonic, q *Query, before []Operand) (l RegList) {
	return f.each(mnemonic, q, before, func(r Reg) []Operand {
		return []Operand{{Kind: OpReg, Reg: r}, {Kind: OpReg, Reg: r, Writeback: true}, {Kind: OpList, List: 1 << r}, {Kind: OpList, List: 1 << r, Writeback: true}}
	})
}

// Bases are the core registers that the address after some operands may count from, and
// indexes those that may be added to it, to one of the bases.
func (f *Form) Bases(mnemonic *Mnemonic, q *Query, before []Operand) (bases, indexes RegList) {
	address := func(base, index Reg) (list []Operand) {
		for _, off := range []OffKind{OffNone, OffImm, OffReg, OffShift} {
			for _, post := range []bool{false, true} {
				o := Operand{Kind: OpMem, Reg: base, Index: index, Off: off, Post: post, Known: true, Shift: LSL}
				if off == OffShift {
					o.Imm = 1
				}
				list = append(list, o)
				o.Writeback = !post
				list = append(list, o)
			}
		}
		return list
	}
	// An index that nearly all take, so that it does not keep a base from being found.
	bases = f.each(mnemonic, q, before, func(r Reg) []Operand { return append(address(r, 0), address(r, 1)...) })
	indexes = f.each(mnemonic, q, before, func(r Reg) (list []Operand) {
		for _, base := range []Reg{0, 1, 2} {
			for _, o := range address(base, r) {
				if o.Off == OffReg || o.Off == OffShift {
					list = append(list, o)
				}
			}
		}
		return list
	})
	return bases, indexes
}

// each are the registers with one of which, made into operands, the form begins.
func (f *Form) each(mnemonic *Mnemonic, q *Query, before []Operand, of func(Reg) []Operand) (l RegList) {
	for r := Reg(0); r <= PC; r++ {
		for _, o := range of(r) {
			if f.begins(mnemonic, q, append(before[:len(before):len(before)], o)) {
				l |= 1 << r
				break
			}
		}
	}
	return l
}

// Pattern says whether operand i, from 0, is a constant of which not the size decides, but
// whether its bits fit a pattern: eight bits, rotated, or in Thumb state repeated.
func (f *Form) Pattern(i int) bool {
	_, ok := f.ops[i].(*wideConstSpec)
	return ok
}
