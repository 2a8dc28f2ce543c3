package isa

import "slices"

// scrambleBL turns a branch distance in halfwords (24 bits: S, I1, I2, 21
// more) into the bits of BL, where J1 and J2 are I1 and I2 compared with the
// sign; the same function goes back (Arm ARM, "BL, BLX (immediate)":
// I1 = NOT(J1 EOR S)).
func scrambleBL(v uint32) uint32 {
	if v>>23&1 == 0 {
		v ^= 3 << 21
	}
	return v
}

// Inst is a decoded instruction.
type Inst struct {
	Row *Row
	// Word is the machine code: a halfword, or two with the first on top.
	Word uint32
	// Unpredictable: a should-be bit is the other way round, or the manual
	// calls the operands unpredictable.
	Unpredictable bool
	vals          [maxFields]uint32
}

// Decode reads one instruction of the compact state: first is its first
// halfword, second the next one, if any. ok is false for undefined encodings
// and where have lacks what the encoding needs.
func Decode(have Features, first, second uint16) (in Inst, ok bool) {
	t := allCodes()
	for _, r := range t.byTop[first>>8] {
		if r.takes(have, uint32(first)) {
			return r.decode(have, uint32(first)), true
		}
	}
	w := uint32(first)<<16 | uint32(second)
	for _, r := range t.wide[w>>20&0x1ff] {
		if r.takes(have, w) {
			return r.decode(have, w), true
		}
	}
	return Inst{}, false
}

// Takes says whether code belongs to the row on an architecture: one halfword,
// or two for a row of that size.
func (r *Row) Takes(have Features, first, second uint16) bool {
	if r.size == 2 {
		return r.takes(have, uint32(first))
	}
	return r.takes(have, uint32(first)<<16|uint32(second))
}

func (r *Row) takes(have Features, w uint32) bool {
	if w&(r.mask&^r.should) != r.value&^r.should || !have.Has(r.Need) || have&r.Lack != 0 || r.Second != nil {
		return false
	}
	if w&r.high != 0 && have&FeatD32 == 0 || r.exact && !r.spells(w) {
		return false
	}
	for _, n := range r.not {
		if w&n.mask == n.value && have.Has(n.where) {
			return false
		}
	}
	return true
}

// decode reads the fields of a word that the row takes.
func (r *Row) decode(have Features, w uint32) Inst {
	in := Inst{Row: r, Word: w, Unpredictable: w&r.should != r.value&r.should}
	for i := range r.fields {
		in.vals[i] = r.fields[i].get(w)
	}
	v := Values{row: r, vals: in.vals}
	for i := range r.Cautions {
		if c := &r.Cautions[i]; !c.Deprecated && c.applies(v, have) {
			in.Unpredictable = true
		}
	}
	if r.twice && (in.Encode()^w)&^r.should != 0 || r.strict && !r.spelled(have, &in.vals) {
		in.Unpredictable = true
	}
	return in
}

// spelled says whether one of the forms that the architecture has may be
// written with these values.
func (r *Row) spelled(have Features, vals *[maxFields]uint32) bool {
	for _, f := range r.forms {
		if have.Has(f.Need) && have&f.Lack == 0 && !f.Alias && f.may(have, vals) {
			m := Match{vals: *vals}
			if f.tied(&m) == OK && f.holds(vals) {
				return true
			}
		}
	}
	return false
}

// holds says whether the fields without an operand are as the form has them.
func (f *Form) holds(vals *[maxFields]uint32) bool {
	for _, x := range f.fixed {
		if vals[x.field] != x.val {
			return false
		}
	}
	return true
}

func (f *Form) may(have Features, vals *[maxFields]uint32) bool {
	for i := range f.ops {
		if !f.ops[i].may(f, have, vals) {
			return false
		}
	}
	return true
}

// may says whether the operand's field holds what may be written: no register
// that is left out, a word that has a name. The numbers of barriers are all
// defined: what has no name means SY (Arm ARM, "DMB").
func (s *opSpec) may(f *Form, have Features, vals *[maxFields]uint32) bool {
	if s.kind == sList {
		return s.banned(RegList(vals[s.listField])).Reason == OK
	}
	if s.base >= 0 && !s.takesBase(Reg(vals[s.base]), have) {
		return false
	}
	if s.field < 0 {
		return true
	}
	v := vals[s.field]
	switch s.kind {
	case sReg:
		return !(s.notPC && v == uint32(PC) || s.notSP && v == uint32(SP) && !have.Has(FeatV8))
	case sMemReg:
		return !s.notSP || v != uint32(PC) && (v != uint32(SP) || have.Has(FeatV8))
	case sMemShift:
		return v != uint32(PC) && (!s.notSP || v != uint32(SP) || have.Has(FeatV8))
	case sShiftReg:
		return !(s.notPC && v == uint32(PC) || s.notSP && v == uint32(SP) && !have.Has(FeatV8))
	case sShift:
		n := s.value(f, vals)
		return n >= s.min && n <= s.max
	case sLetters:
		return slices.Contains(s.wordVals, v)
	case sOne:
		return !s.ban.Has(Reg(v))
	case sWord:
		return s.words[0] == "sy" || slices.Contains(s.wordVals, v)
	}
	return s.mayA(f, vals)
}

// Encode gives the machine code back from the fields.
func (in *Inst) Encode() uint32 {
	w := in.Row.value
	for i := range in.Row.fields {
		w |= in.Row.fields[i].put(in.vals[i])
	}
	return w
}

// Values of the fields.
func (in *Inst) Values() Values { return Values{row: in.Row, vals: in.vals} }

// Text writes the instruction in the chosen syntax; pc is its address, for
// branch targets.
func (in *Inst) Text(unified bool, pc int64) string {
	f := in.Form(unified)
	if f == nil {
		return in.Row.ID
	}
	return in.write(f, in.name(f, unified), pc, "")
}

// name is the mnemonic of a form, with the condition of A32 code, and with a
// width where the short encoding would be chosen else.
func (in *Inst) name(f *Form, unified bool) string {
	switch {
	case f.Row.State == A:
		return f.nameA(unified, Cond(Values{row: f.Row, vals: in.vals}.Get("cond")))
	case in.Row.size == 4 && unified && tableOf(f.Mnemonic).byName[f.Mnemonic].narrow(f):
		return f.Mnemonic + ".w"
	}
	return f.Mnemonic
}

// write writes the instruction as a form; last stands for the last operand where
// it is not empty.
func (in *Inst) write(f *Form, s string, pc int64, last string) string {
	for i := range f.ops {
		if i == 0 {
			s += " "
		} else {
			s += ", "
		}
		if i == len(f.ops)-1 && last != "" {
			return s + last
		}
		s += f.ops[i].write(f, &in.vals, pc)
	}
	return s
}

// Form is the spelling that writes the instruction: the first that is no
// alias and whose fixed fields fit.
func (in *Inst) Form(unified bool) *Form {
	for pass := range 3 {
		for _, f := range in.Row.forms {
			if unified && !f.Unified || !unified && !f.Divided || pass < 2 && f.Alias || pass == 0 && !f.may(^Features(0), &in.vals) || f.it == itIn {
				continue
			}
			m := Match{vals: in.vals}
			if f.tied(&m) == OK && f.holds(&in.vals) {
				return f
			}
		}
	}
	return nil
}

func (s *opSpec) write(f *Form, vals *[maxFields]uint32, pc int64) string {
	get := func(i int8) uint32 { return vals[i] }
	reg := func(i int8, fixed Reg) string {
		if i < 0 {
			return fixed.String()
		}
		return Reg(get(i)).String()
	}
	switch s.kind {
	case sReg, sFixed:
		if t := reg(s.field, s.reg); s.wb == wbNo && (s.wbField < 0 || get(s.wbField) == 0) {
			return t
		} else {
			return t + "!"
		}
	case sImm:
		if s.wbField >= 0 && get(s.wbField) != 0 {
			return "#" + itoa(s.value(f, vals)) + "!"
		}
		return "#" + itoa(s.value(f, vals))
	case sMem0:
		return "[" + reg(s.base, s.reg) + "]"
	case sMemImm:
		v := itoa(s.value(f, vals))
		if s.neg && v == "0" {
			v = "-0"
		}
		return "[" + reg(s.base, s.reg) + ", #" + v + "]"
	case sMemShift:
		by := s.min
		if s.also >= 0 {
			by = int64(get(s.also))
		}
		return "[" + reg(s.base, s.reg) + ", " + reg(s.field, NoReg) + ", lsl #" + itoa(by) + "]"
	case sMemReg:
		return "[" + reg(s.base, s.reg) + ", " + reg(s.field, NoReg) + "]"
	case sTarget:
		pc += f.Row.State.ahead()
		if s.alignPC && f.Row.State == T {
			pc &^= 3
		}
		return hex(uint32(pc + s.value(f, vals)))
	case sList:
		l := RegList(get(s.listField))
		if s.extraBit >= 0 && get(s.extraBit) != 0 {
			l |= s.extra
		}
		if s.userField >= 0 && get(s.userField) != 0 {
			return l.String() + "^"
		}
		return l.String()
	case sOne:
		return "{" + reg(s.field, NoReg) + "}"
	case sShift:
		return s.shift.String() + " #" + itoa(s.value(f, vals))
	case sShiftReg:
		return s.shift.String() + " " + reg(s.field, NoReg)
	case sWord, sLetters:
		for i, v := range s.wordVals {
			if v == get(s.field) {
				return s.words[i]
			}
		}
		return "#" + itoa(int64(get(s.field)))
	}
	return s.writeA(f, vals)
}

// value is what the operand's field stands for: the constant, the offset or
// the distance from PC.
func (s *opSpec) value(f *Form, vals *[maxFields]uint32) int64 {
	if s.field < 0 {
		return s.min
	}
	v := int64(vals[s.field])
	switch {
	case s.kind == sConst:
		c := f.Row.State.expand(vals[s.field])
		switch {
		case s.neg:
			c = -c
		case s.inv:
			c = ^c
		}
		return int64(c)
	case s.kind == sWidth: // held as the last bit, or less one
		if f.Row.fields[s.field].name == "msb" {
			v -= int64(vals[s.also])
		}
		return v + 1
	case s.kind == sTarget && (f.Row.State == A || s.extraBit >= 0):
		return s.valueA(f, vals)
	case s.wide:
		return int64(int32(scrambleBL(vals[s.field])<<8)>>8) * 2
	case s.kind == sTarget && s.min < 0 && !s.neg:
		w := f.Row.fields[s.field].width
		v = int64(int32(vals[s.field]<<(32-w)) >> (32 - w))
	case s.mod != 0 && v == 0:
		v = int64(s.mod)
	}
	v = (v + s.bias) * s.step
	if s.neg {
		v = -v
	}
	return v
}
