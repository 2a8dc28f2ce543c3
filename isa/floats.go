package isa

import (
	"fmt"
	"math/bits"
	"slices"
	"strings"
)

// FloatWords is a set of words of the floating-point registers: bit n is s<n>, and
// d<n> is bits 2n and 2n+1 (DDI 0406C, A2.6.2). d16 and up have no single registers, and
// their words are the upper half of the set.
type FloatWords uint64

// FloatParts are parts of FPSCR, and the other system registers of floating point.
type FloatParts uint8

// The parts (DDI 0406C, B4.1.58, "FPSCR").
const (
	FloatFlags      FloatParts = 1 << iota // N, Z, C and V
	FloatModes                             // rounding, flush to zero, default NaN, format of half precision
	FloatExceptions                        // the cumulative bits, which operations only set
	FloatSystem                            // another register than FPSCR
)

// FloatEffects is what an instruction reads and writes of floating point. What is
// written in part only, as half of a register, is read too.
type FloatEffects struct {
	Reads, Writes           FloatWords
	PartsRead, PartsWritten FloatParts
	// ReadNames and WriteNames are the registers as the instruction names them: s0, d1, d2[1],
	// d8-d15.
	ReadNames, WriteNames []string
}

// floatRef is a register, or some, of floating point that a row reads or writes; or parts
// of a system register.
type floatRef struct {
	kind   floatKind
	double bool
	field  int8 // with the register, or its number in numbered
	more   int8 // the element, how many, or the core register that it goes to
	parts  FloatParts
}

type floatKind uint8

const (
	floatReg      floatKind = iota
	floatNext               // the register after it
	floatLane               // half of a double register
	floatList               // some from it on
	floatParts              // of FPSCR
	floatNumbered           // all of the system register in a field
)

// floatNames are the parts as rows write them.
var floatNames = map[string]FloatParts{"fp.flags": FloatFlags, "fp.modes": FloatModes, "fp.exceptions": FloatExceptions}

// floatRef reads a word of Row.Reads or Row.Writes that is about floating point; the
// words, beside registers by their fields (Sd, Dm):
//
//	next(Sm)       the register after it
//	Dn[x]          one of the two words of a double register
//	floats         those of the list, from Sd or Dd on, n of them
//	fp.flags fp.modes fp.exceptions  the parts of FPSCR
//	fp.reg         the system register whose number is in the field reg
func (r *Row) floatRef(w string) (f floatRef, ok bool) {
	f.field, f.more = -1, -1
	if f.parts = floatNames[w]; f.parts != 0 {
		f.kind = floatParts
		return f, true
	}
	name := w
	switch {
	case w == "fp.reg":
		f.kind, name, f.more = floatNumbered, "reg", r.fieldIndex("Rt")
	case w == "floats":
		f.kind, f.more = floatList, r.fieldIndex("n")
		if name = "Sd"; r.fieldIndex(name) < 0 {
			name = "Dd"
		}
	case strings.HasPrefix(w, "next("):
		f.kind, name = floatNext, w[len("next("):len(w)-1]
	case strings.HasSuffix(w, "[x]"):
		f.kind, name, f.more = floatLane, strings.TrimSuffix(w, "[x]"), r.fieldIndex("x")
	case len(w) != 2 || w[0] != 'S' && w[0] != 'D' || strings.IndexByte("dnm", w[1]) < 0:
		return f, false
	}
	f.double, f.field = name[0] == 'D', r.fieldIndex(name)
	return f, f.field >= 0
}

// floatRefs are the words of Row.Reads or Row.Writes that are about floating point, and
// what is left.
func (r *Row) floatRefs(s string) (list []floatRef, rest string) {
	var left []string
	for _, w := range strings.Fields(s) {
		if f, ok := r.floatRef(w); ok {
			list = append(list, f)
		} else {
			left = append(left, w)
		}
	}
	return list, strings.Join(left, " ")
}

// Scalar says whether the row is one of floating point that says what it reads and writes
// of its registers; those of vectors don't.
func (r *Row) Scalar() bool { return len(r.floatReads)+len(r.floatWrites) > 0 }

// Floats is what the bound statement reads and writes of floating point.
func (m *Match) Floats() FloatEffects {
	vals := m.fields()
	return m.Form.Row.floats(&vals)
}

// Floats is that of Match for a decoded instruction.
func (in *Inst) Floats() FloatEffects { return in.Row.floats(&in.vals) }

func (r *Row) floats(vals *[maxFields]uint32) (e FloatEffects) {
	if !r.Scalar() {
		return e
	}
	collect := func(refs []floatRef) (words FloatWords, parts FloatParts, names []string) {
		for i := range refs {
			f := &refs[i]
			switch f.kind {
			case floatParts:
				parts |= f.parts
			case floatNumbered:
				switch {
				case vals[f.more] == 15: // APSR gets the flags
					parts |= FloatFlags
				case vals[f.field] == 1: // FPSCR
					parts |= FloatFlags | FloatModes | FloatExceptions
				default:
					parts |= FloatSystem
				}
			default:
				w, name := f.registers(vals)
				words |= w
				if name != "" && !slices.Contains(names, name) {
					names = append(names, name)
				}
			}
		}
		return words, parts, names
	}
	e.Reads, e.PartsRead, e.ReadNames = collect(r.floatReads)
	e.Writes, e.PartsWritten, e.WriteNames = collect(r.floatWrites)
	return e
}

// registers are the words that a reference stands for, and their name.
func (f *floatRef) registers(vals *[maxFields]uint32) (FloatWords, string) {
	n := vals[f.field]
	letter, width := "s", uint32(1)
	if f.double {
		letter, width = "d", 2
	}
	count := uint32(1)
	switch f.kind {
	case floatNext:
		n++
	case floatLane:
		return 1 << (2*n + vals[f.more]), fmt.Sprintf("d%d[%d]", n, vals[f.more])
	case floatList:
		count = vals[f.more]
	}
	name := fmt.Sprintf("%s%d", letter, n)
	if count > 1 {
		name += fmt.Sprintf("-%s%d", letter, n+count-1)
	}
	if count == 0 {
		name = ""
	}
	words := FloatWords(1)<<(count*width) - 1
	if count*width >= 64 {
		words = ^FloatWords(0)
	}
	return words << (n * width), name
}

// Count is how many words there are.
func (w FloatWords) Count() int { return bits.OnesCount64(uint64(w)) }

// String names the parts, as in "the flags and modes of FPSCR"; empty for none.
func (p FloatParts) String() string {
	if p&FloatSystem != 0 {
		return "a system register of floating point"
	}
	if p == FloatFlags|FloatModes|FloatExceptions {
		return "FPSCR"
	}
	var out []string
	for i, name := range []string{"flags", "modes", "exception bits"} {
		if p>>i&1 != 0 {
			out = append(out, name)
		}
	}
	if len(out) == 0 {
		return ""
	}
	return "the " + strings.Join(out, " and ") + " of FPSCR"
}
