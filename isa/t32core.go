package isa

import "math/bits"

// What T32 encodings have beyond those of T16 and A32: constants of their own,
// and conditions that come from an IT block. The notation is that of compile.go
// and a32core.go; "#rot" is a modified constant of T32 there.

// ModifiedT32 finds the twelve bits of a modified constant: a byte, a byte
// repeated in every second or in every byte, or a byte with its top bit set that
// is rotated right by 8 to 31 (Arm ARM, "Modified immediate constants in Thumb
// instructions").
func ModifiedT32(v uint32) (imm12 uint32, ok bool) {
	low := v & 0xff
	switch {
	case v == low:
		return v, true
	case v == low*0x00010001:
		return 1<<8 | low, true
	case v == low*0x01010101:
		return 3<<8 | low, true
	case v == v>>8&0xff*0x01000100:
		return 2<<8 | v>>8&0xff, true
	}
	n := bits.LeadingZeros32(v)
	if x := bits.RotateLeft32(v, n+8); x < 256 {
		return uint32(n+8)<<7 | x&0x7f, true
	}
	return 0, false
}

// ExpandT32 is the constant that twelve bits mean in T32.
func ExpandT32(imm12 uint32) uint32 {
	low := imm12 & 0xff
	switch imm12 >> 8 {
	case 0:
		return low
	case 1:
		return low * 0x00010001
	case 2:
		return low * 0x01000100
	case 3:
		return low * 0x01010101
	}
	return bits.RotateLeft32(0x80|imm12&0x7f, -int(imm12>>7))
}

// Constant finds the twelve bits of a data-processing constant of full width.
func (s State) Constant(v uint32) (imm12 uint32, ok bool) {
	if s == A {
		return Rotated(v)
	}
	return ModifiedT32(v)
}

// moves says whether MOV or MVN holds the constant.
func (s State) moves(v uint32) bool {
	_, plain := s.Constant(v)
	_, inverted := s.Constant(^v)
	return plain || inverted
}

func (s State) expand(imm12 uint32) uint32 {
	if s == A {
		return Unrotate(imm12)
	}
	return ExpandT32(imm12)
}

// buildThumb joins the names of Thumb state to those of A32: a stem takes
// conditions in both, in A32 code by itself, here in an IT block.
func (t *table) buildThumb() {
	for name, m := range t.byName {
		m.Forms = exchangedLast(m.Forms)
		s := t.stems[name]
		if s == nil {
			if m.plainAlias() {
				continue // a condition is in it already
			}
			s = &stem{name: name}
			t.stems[name] = s
		}
		s.short = m
		for _, f := range m.Forms {
			s.slots = s.slots || f.Row.IT == ITAny && !f.own
		}
	}
	b := t.byName["b"]
	for c, n := range condWords {
		if b == nil {
			break
		}
		m := t.byName["b"+n]
		if m == nil || condOf(c) == AL {
			continue
		}
		m.cond, m.spelt = condOf(c), true
		m.Forms = append(m.Forms[:len(m.Forms):len(m.Forms)], b.Forms...)
	}
	for name, m := range t.byName {
		m.arm, _ = t.read(name)
		// Names with AL written out are of T16 rows: T32 has them too.
		if s := m.arm.stem; s != nil && s.short != nil && s.short != m && m.arm.spelt && m.arm.cond == AL {
			for _, f := range s.short.Forms {
				if f.Row.size == 4 && !f.own {
					m.Forms = append(m.Forms, f)
				}
			}
		}
	}
}

// plainAlias says whether all forms of a name have a condition in it: beq, addal.
func (mnemonic *Mnemonic) plainAlias() bool {
	for _, f := range mnemonic.Forms {
		if !f.Rare && f.Row.Flow != FlowBranch || f.Row.fieldIndex("c") < 0 && f.Row.Flow == FlowBranch {
			return false
		}
	}
	return true
}

// T32Only says whether the name has forms in Thumb state, and all need T32.
func (mnemonic *Mnemonic) T32Only() bool {
	for _, f := range mnemonic.Forms {
		if !f.Row.Need.Has(FeatT32) {
			return false
		}
	}
	return len(mnemonic.Forms) > 0
}

// narrow says whether a statement written as f, an encoding of full width, could
// be one of a halfword too.
func (mnemonic *Mnemonic) narrow(f *Form) bool {
	for _, g := range mnemonic.Forms {
		if g.Row.size != 2 || len(g.ops) != len(f.ops) {
			continue
		}
		alike := true
		for i := range g.ops {
			alike = alike && g.ops[i].facts().shape == f.ops[i].facts().shape
		}
		if alike {
			return true
		}
	}
	return false
}

// Cond is the condition in the name, as Thumb state reads it, and whether
// it is written.
func (mnemonic *Mnemonic) Cond() (c Cond, written bool) { return mnemonic.cond, mnemonic.spelt }

// Conditional says whether the form's name has a condition in it, which is in the
// encoding: BEQ of Thumb state.
func (f *Form) Conditional() bool { return f.own }

// InIT says whether the form is in IT blocks only.
func (f *Form) InIT() bool { return f.it == itIn }

// Condition is what the statement depends on, by its name in A32 code, by its IT
// block in Thumb state; AL when it is always executed.
func (m *Match) Condition() Cond {
	switch {
	case m.Form.conditional():
		return Cond(m.Form.Row.fields[0].get(m.word))
	case m.what&flagIT != 0 && m.Form.Row.IT != ITNeutral:
		return m.cond
	}
	return AL
}

// Linked says whether the target of the branch may be left to the linker. No
// assembler leaves it that of CBZ and CBNZ.
func (r *Row) Linked() bool {
	return r.Flow.ToLabel() && r.fieldIndex("Rn") < 0
}

// Set names the instruction set of the encoding: A32, T16, or T32 for what takes
// two halfwords.
func (r *Row) Set() string {
	if r.State == T && r.size == 4 {
		return "T32"
	}
	return r.State.String()
}
