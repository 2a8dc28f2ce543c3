package isa

import "slices"

// Meant is the instruction that a statement evidently means, whether the instruction
// set in force has an encoding for it or not: one of A32, which has the most general
// operands, or of T32, with registers that have the statement's constants. It is for
// carrying out, not for encoding.
type Meant struct {
	Values Values
	Cond   Cond // under which it is carried out; AL where Values has the condition
	// Held are registers that the statement does not mention, and what each of them has
	// while the instruction is carried out.
	Held []Held
}

// Held is a register with a value.
type Held struct {
	Reg   Reg
	Value uint32
}

// everything is what A32 and T32 have on the architecture with most instructions.
func everything() Features {
	t, _ := Arch("armv8-a")
	return t.Have
}

// Meant finds what a statement of the name with these operands means. sets is whether
// it sets flags where its operation can do that or not. base is what PC is as the base of
// an address: rounded down to a word. A constant leaves C as it is: whether an encoding
// rotates it, and so gets a C from it, no words say. An operand that is an address,
// or a literal, has to be known: it counts as the number in Imm. ok is false where
// no instruction says the same, as with CBZ and branches, or where some value is not known.
func (mnemonic *Mnemonic) Meant(sets bool, base uint32, ops []Operand) (m Meant, ok bool) {
	op, _, cond := mnemonic.Operation()
	if sets {
		if s, _ := Find(op + "s" + condSuffix(cond)); s != nil {
			if stem, letter, _ := s.Operation(); letter && stem == op { // and not LDRHS, which is LDR
				if m, ok = s.meant(base, ops); ok {
					return m, true
				}
			}
		}
	}
	plain, _ := Find(op + condSuffix(cond))
	if plain == nil {
		return Meant{}, false
	}
	return plain.meant(base, ops)
}

func condSuffix(c Cond) string {
	if c == AL {
		return ""
	}
	return c.String()
}

// meant is Meant for a name that is taken as it is.
func (mnemonic *Mnemonic) meant(base uint32, ops []Operand) (Meant, bool) {
	var m Meant
	free := Reg(0)
	hold := func(v int64) Reg {
		for free < SP && mentions(ops, free) {
			free++
		}
		m.Held = append(m.Held, Held{free, uint32(v)})
		free++
		return free - 1
	}
	as := slices.Clone(ops)
	for i := range as {
		switch o := &as[i]; o.Kind {
		case OpReg:
			// DDI 0406C, A8.8.12 "ADR"
			if o.Reg == PC && i == 1 && len(ops) == 3 && ops[2].Kind == OpImm {
				o.Reg = hold(int64(base))
			}
		case OpImm, OpExpr, OpLit:
			if !o.Known {
				return Meant{}, false
			}
			reg := hold(o.Imm)
			address := o.Kind == OpExpr && !o.Bare
			*o = Operand{Kind: OpReg, Reg: reg}
			if address && mnemonic.loads() {
				*o = Operand{Kind: OpMem, Reg: reg}
			} else if i > 0 && (address || ops[i].Kind == OpLit) {
				if mnemonic, _ = Find("mov" + condSuffix(mnemonic.cond)); mnemonic == nil {
					return Meant{}, false
				}
			}
		case OpMem:
			if o.Off == OffImm && !o.Known {
				return Meant{}, false
			}
			if o.Reg == PC { // DDI 0406C, A8.8.64 "LDR (literal)"
				o.Reg = hold(int64(base))
			}
			if o.Off == OffImm {
				o.Off, o.Index, o.Minus, o.Imm, o.Known, o.Bare = OffReg, hold(o.Imm), false, 0, false, false
			}
		case OpShift:
			if o.Reg == NoReg && o.Shift != RRX && !o.Known {
				return Meant{}, false
			}
		}
	}
	if free > SP {
		return Meant{}, false
	}
	if m.bind(mnemonic, as) {
		return m, true
	}
	m.Held = nil // what stays is a constant of a kind that cannot be in a register
	return m, m.bind(mnemonic, ops)
}

// bind looks for an instruction of the name, of A32 first.
func (m *Meant) bind(mnemonic *Mnemonic, ops []Operand) bool {
	q := Query{Have: everything(), Unified: true, A32: true}
	bound, ok := mnemonic.Match(&q, ops)
	if m.Cond = AL; !ok {
		if _, _, c := mnemonic.Operation(); c != AL {
			m.Cond, q.IT = c, Slot{In: true, Last: true, Cond: c}
		}
		q.A32 = false
		bound, ok = mnemonic.Match(&q, ops)
	}
	if !ok || bound.Deferred() || !bound.Form.Row.Described() || bound.Form.Row.Second != nil {
		return false
	}
	m.Values = bound.Values()
	return true
}

// loads says whether the name is that of a load or store.
func (mnemonic *Mnemonic) loads() bool {
	return slices.ContainsFunc(mnemonic.FormsOf(A), func(f *Form) bool { return f.Row.Access != 0 })
}

// mentions says whether an operand names the register.
func mentions(ops []Operand, r Reg) bool {
	return slices.ContainsFunc(ops, func(o Operand) bool {
		switch o.Kind {
		case OpReg:
			return o.Reg == r
		case OpMem:
			return o.Reg == r || (o.Off == OffReg || o.Off == OffShift) && o.Index == r
		case OpList:
			return o.List.Has(r)
		case OpShift:
			return o.Reg == r
		}
		return false
	})
}
