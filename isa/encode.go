package isa

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
	keeps         matchFlags // what becomes of the flags of Row.kept
	vals          [maxFields]uint32
}

// Decode reads one instruction of Thumb state: first is its first
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
	in := Inst{Row: r, Word: w, Unpredictable: w&r.should != r.value&r.should, keeps: r.keeps(have), vals: r.read(w, 0)}
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
			m := binding{Form: f, vals: *vals}
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
		if !mayWrite(f.ops[i], f, have, vals) {
			return false
		}
	}
	return true
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
		return f.nameA32(unified, Cond(Values{row: f.Row, vals: in.vals}.Get("cond")))
	case in.Row.size == 4 && unified && tableOf(f.Mnemonic).byName[f.Mnemonic].narrow(f):
		return f.Mnemonic + ".w"
	}
	return f.Mnemonic
}

// write writes the instruction as a form; last means the last operand where
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
			m := binding{Form: f, vals: in.vals}
			if f.tied(&m) == OK && f.holds(&in.vals) {
				return f
			}
		}
	}
	return nil
}
