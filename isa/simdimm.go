package isa

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// rowsConstants lists the encodings of Advanced SIMD with a constant in all
// elements (DDI 0406, "One register and a modified immediate value", table
// A7-15, and chapter A8, "VMOV (immediate)", "VMVN (immediate)", "VORR
// (immediate)", "VBIC (immediate)", as far as they are remembered: the tests
// hold them against the tools). Where the constant does not fit but its inverse
// does, assemblers exchange VMOV for VMVN; VAND and VORN are VBIC and VORR of the
// inverse.
func rowsConstants() []*Row {
	const layout = "1111001 imm8[7] 1 Dd[4] 000 imm8[6:4] Dd[3:0] CMODE 0 Q:1 OP 1 imm8[3:0]"
	// In forms V means D and Q; literals are forms as they are.
	row := func(id, name, title, doc, cmode, op string, forms []string, literals ...string) *Row {
		text := ""
		for _, f := range forms {
			for i, q := range []string{"D", "Q"} {
				text += fmt.Sprintf("%s ; Q=%d\n", strings.ReplaceAll(f, "V", q), i)
			}
		}
		text += strings.Join(literals, "\n")
		var cautions []Caution
		if cmode == "cmode:4" {
			cautions = []Caution{{Op: 1, Rules: []Rule{{"imm8 = 0, moved", func(v Values) bool { c := v.Get("cmode") >> 1; return v.Get("imm8") == 0 && c != 0 && c != 4 && c != 7 }}}, Text: "a byte of 0 with bits beside it is unpredictable"}}
		}
		return &Row{ID: "a-" + id, Cautions: cautions, Name: name + " (immediate)", Enc: "A1", Title: title, Doc: doc, Need: FeatNEON, exact: true, Forms: strings.TrimSpace(text),
			Bits: strings.NewReplacer("CMODE", cmode, "OP", op).Replace(layout)}
	}
	move := row("vmov-v-imm", "VMOV", "A constant in all elements", "each element of Vd = const", "cmode:4", "0", []string{
		"vmov.i8 Vd, #vi8", "vmov.i16 Vd, #vi16", "vmov.i32 Vd, #vi32", "vmov.f32 Vd, #vf32", "~ vmov.i64 Vd, #vi64",
		"~ vmov.s8 Vd, #vi8", "~ vmov.u8 Vd, #vi8", "~ vmov.s16 Vd, #vi16", "~ vmov.u16 Vd, #vi16",
		"~ vmvn.i8 Vd, #~vi8", "~ vmvn.i16 Vd, #~vi16", "~ vmvn.i32 Vd, #~vi32", "~ vmvn.i64 Vd, #~vi64"},
		"~ vldr.* Dd, =vi64 ; Q=0", "~ fldd Dd, =vi64 ; Q=0")
	bytes := row("vmov-v-imm64", "VMOV", "Bytes of zeros and ones", "each doubleword of Vd = const, whose bytes are all zeros or all ones", "1110", "1", []string{
		"vmov.i64 Vd, #vi64", "~ vmvn.i64 Vd, #~vi64"},
		"~ vldr.* Dd, =vi64 ; Q=0", "~ fldd Dd, =vi64 ; Q=0")
	not := row("vmvn-v-imm", "VMVN", "An inverted constant in all elements", "each element of Vd = NOT const", "cmode:4", "1", []string{
		"vmvn.i16 Vd, #vi16", "vmvn.i32 Vd, #vi32", "~ vmvn.i64 Vd, #vi64",
		"~ vmov.s16 Vd, #~vi16", "~ vmov.u16 Vd, #~vi16", "~ vmov.i16 Vd, #~vi16", "~ vmov.i32 Vd, #~vi32", "~ vmov.i64 Vd, #~vi64"},
		"~ vldr.* Dd, =~vi64 ; Q=0", "~ fldd Dd, =~vi64 ; Q=0")
	rows := []*Row{move, bytes, not}
	for _, x := range []struct{ name, inverse, title, doc, op string }{
		{"vorr", "vorn", "Bitwise OR with a constant", "each element of Vd = element of Vd OR const", "0"},
		{"vbic", "vand", "Bitwise clear by a constant", "each element of Vd = element of Vd AND NOT const", "1"}} {
		var forms []string
		for _, t := range []string{"i16", "i32", "i8", "i64", "f32"} {
			alias := "~ "
			if t == "i16" || t == "i32" {
				alias = ""
			}
			forms = append(forms, fmt.Sprintf("%s%s.%s Vd, #b%[3]s", alias, x.name, t), fmt.Sprintf("~ %s.%s Vd=Vd, #b%[2]s", x.name, t),
				fmt.Sprintf("~ %s.%s Vd, #~b%[2]s", x.inverse, t), fmt.Sprintf("~ %s.%s Vd=Vd, #~b%[2]s", x.inverse, t))
		}
		for i, f := range forms { // the first operand again
			forms[i] = strings.Replace(f, "Vd=Vd", "Vd, Vd", 1)
		}
		rows = append(rows, row(x.name+"-v-imm", strings.ToUpper(x.name), x.title, x.doc, "cmode:4", x.op, forms))
	}
	return rows
}

// vectorConstantSpec is a constant in all elements of a vector, or that bits are combined
// with.
type vectorConstantSpec struct {
	specFacts
	cmode    int8  // the field, -1 for bytes of zeros and ones
	elem     uint8 // the size of the elements in bits
	float    bool  // of floating point
	combined bool  // bits are combined with it, not moved
	inverted bool  // the fields hold it inverted
	literal  bool
}

// vectorConstant reads #vi16, #bi16 and what is like them; nil for others.
func (c *specReader) vectorConstant(tok string) spec {
	t := strings.TrimLeft(tok, "#=~")
	if t == tok || len(t) < 3 || t[0] != 'v' && t[0] != 'b' || t[1] != 'i' && t[1] != 'f' {
		return nil
	}
	bits, err := strconv.Atoi(t[2:])
	if err != nil {
		return nil
	}
	s := &vectorConstantSpec{specFacts: newFacts(tok), cmode: c.row.fieldIndex("cmode"), elem: uint8(bits), float: t[1] == 'f', combined: t[0] == 'b',
		inverted: tok[1] == '~', literal: tok[0] == '='}
	s.field, s.number, s.typed = c.field("imm8"), true, typedBehindOne
	if s.max = math.MaxInt64; bits < 32 {
		s.max = 1<<bits - 1
	}
	return s
}

// moved says whether the constant is one of floating point to move.
func (s *vectorConstantSpec) movedFloat() bool { return s.float && !s.combined }

// A constant of vectors: the lower and the upper half of a doubleword of it.
type doubleword struct{ lo, hi uint32 }

func (d doubleword) not() doubleword { return doubleword{^d.lo, ^d.hi} }

// elements repeats an element of some bits.
func elements(x uint32, bits uint8) doubleword {
	switch bits {
	case 8:
		x &= 0xff
		x |= x << 8
		x |= x << 16
	case 16:
		x &= 0xffff
		x |= x << 16
	}
	return doubleword{x, x}
}

// moveConstant finds how VMOV and VMVN, as op says, hold a doubleword whose
// elements repeat. byteMask: it is VMOV with op 1, of bytes of zeros and ones.
func moveConstant(d doubleword, elem uint8, op uint32) (cmode, imm8 uint32, byteMask, ok bool) {
	if elem == 64 {
		mask, whole := uint32(0), true
		for i := range 8 {
			b := uint8(uint64(d.hi) << 32 >> (8 * i))
			if i < 4 {
				b = uint8(d.lo >> (8 * i))
			}
			whole = whole && (b == 0 || b == 0xff)
			mask |= uint32(b&1) << i
		}
		if whole {
			return 14, mask, true, op == 0
		}
	}
	x := d.lo
	switch {
	case d.hi != d.lo:
		return 0, 0, false, false
	case elem < 32:
	case x == x&0xff:
		return 0, x, false, true
	case x == x&0xff00:
		return 2, x >> 8, false, true
	case x == x&0xff0000:
		return 4, x >> 16, false, true
	case x == x&0xff000000:
		return 6, x >> 24, false, true
	case x == x&0xff00|0xff:
		return 12, x >> 8, false, true
	case x == x&0xff0000|0xffff:
		return 13, x >> 16, false, true
	}
	h := x & 0xffff
	switch {
	case h != x>>16:
		return 0, 0, false, false
	case elem < 16:
	case h == h&0xff:
		return 8, h, false, true
	case h == h&0xff00:
		return 10, h >> 8, false, true
	}
	return 14, h & 0xff, false, h&0xff == h>>8 && op == 0
}

// logicConstant finds how VORR and VBIC hold an element.
func logicConstant(x uint32, elem uint8) (cmode, imm8 uint32, ok bool) {
	switch {
	case elem == 8: // as a halfword of two
		return 9, 0, x == 0
	case elem >= 32:
		for i := range uint32(4) {
			if x&^(0xff<<(8*i)) == 0 {
				return 2*i + 1, x >> (8 * i), true
			}
		}
		if x&0xffff != x>>16 {
			return 0, 0, false
		}
		x &= 0xffff
	}
	switch x {
	case x & 0xff:
		return 9, x, true
	case x & 0xff00:
		return 11, x >> 8, true
	}
	return 0, 0, false
}

// vectorConstant is the doubleword that a row's fields mean, its elements'
// size, and whether they are of floating point.
func vectorConstant(cmode, imm8 uint32, byteMask bool) (d doubleword, elem uint8, float bool) {
	switch {
	case byteMask:
		for i := range 8 {
			if imm8>>i&1 == 0 {
				continue
			}
			if i < 4 {
				d.lo |= 0xff << (8 * i)
			} else {
				d.hi |= 0xff << (8*i - 32)
			}
		}
		return d, 64, false
	case cmode < 8:
		return elements(imm8<<(cmode/2*8), 32), 32, false
	case cmode < 12:
		return elements(imm8<<(cmode/2%2*8), 16), 16, false
	case cmode == 12:
		return elements(imm8<<8|0xff, 32), 32, false
	case cmode == 13:
		return elements(imm8<<16|0xffff, 32), 32, false
	case cmode == 14:
		return elements(imm8, 8), 8, false
	}
	return elements(math.Float32bits(VFPValue(imm8)), 32), 32, true
}

func (s *vectorConstantSpec) check(f *Form, _ *Query, op *Operand, m *binding) miss {
	row := f.Row
	switch {
	case s.literal && (op.Kind != OpLit || !op.Bare),
		!s.literal && op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare || op.Writeback) && (op.Kind != OpFloat || s.inverted || s.combined),
		op.Kind == OpExpr && op.Word != "" && isVector(op.Word):
		return miss{Reason: OtherKind}
	case !op.Known:
		m.Deferred = true
		return miss{}
	case op.Kind == OpFloat && s.cmode >= 0 && row.isInverse():
		return miss{Reason: OtherKind}
	}
	d := doubleword{uint32(op.Imm), uint32(op.Imm >> 32)}
	if op.Kind == OpFloat {
		d.hi = 0
		if _, ok := VFPConstant(d.lo); !ok && d.lo<<1 != 0 {
			return miss{Reason: NoVFP8, Value: op.Imm}
		}
	}
	switch {
	case s.movedFloat():
		return s.checkFloat(op, d, m)
	case s.combined:
		return s.checkCombined(op, d, m)
	}
	return s.checkMoved(row, op, d, m)
}

// isInverse says whether the encoding is VMVN: the bit op is set.
func (r *Row) isInverse() bool { return r.value>>5&1 != 0 }

// checkFloat checks a constant of floating point to move.
func (s *vectorConstantSpec) checkFloat(op *Operand, d doubleword, m *binding) miss {
	if op.Kind != OpFloat {
		return miss{Reason: NoPoint, Value: op.Imm}
	}
	x, ok := VFPConstant(d.lo)
	cmode := uint32(15)
	if !ok { // zero, with a sign or without
		cmode, x = d.lo>>31*6, d.lo>>31<<7
	}
	m.vals[s.field], m.vals[s.cmode] = x, cmode
	return miss{}
}

// checkCombined checks a constant that bits are combined with.
func (s *vectorConstantSpec) checkCombined(op *Operand, d doubleword, m *binding) miss {
	x := d.lo
	if s.inverted {
		x = ^x
	}
	if s.inverted && s.elem < 32 {
		x &= 1<<s.elem - 1
	}
	cmode, imm8, ok := logicConstant(x, s.elem)
	if !ok || s.elem == 64 && d.hi != d.lo {
		return miss{Reason: NoVConst, Value: op.Imm}
	}
	m.vals[s.field], m.vals[s.cmode] = imm8, cmode
	return miss{}
}

// checkMoved checks a constant to move into all elements.
func (s *vectorConstantSpec) checkMoved(row *Row, op *Operand, d doubleword, m *binding) miss {
	if s.elem < 32 && d.lo>>s.elem != 0 {
		if op.Imm < 0 {
			return miss{Reason: Negative, Value: op.Imm}
		}
		return miss{Reason: TooLarge, Value: op.Imm}
	}
	if s.elem < 64 {
		d = elements(d.lo, s.elem)
	}
	if s.inverted {
		d = d.not()
	}
	bytes := s.cmode < 0
	inverse := uint32(0)
	if row.isInverse() && !bytes { // that of bytes is VMOV as well
		inverse = 1
	}
	cmode, imm8, byteMask, ok := moveConstant(d, s.elem, inverse)
	if !ok || byteMask != bytes {
		return miss{Reason: NoVConst, Value: op.Imm}
	}
	if m.vals[s.field] = imm8; !bytes {
		m.vals[s.cmode] = cmode
	}
	return miss{}
}

// Constant is the size in bits of the elements that the form has a constant for, 0
// when it is another one, and whether they are combined with it.
func (f *Form) Constant() (bits int, combined bool) {
	for i := range f.ops {
		if s, ok := f.ops[i].(*vectorConstantSpec); ok {
			return int(s.elem), s.combined
		}
	}
	return 0, false
}

// isVector says whether a word names a register of floating point or vectors.
func isVector(w string) bool {
	_, _, ok := VectorReg(w)
	return ok
}

// mode is the value of cmode that the fields mean.
func (s *vectorConstantSpec) mode(vals *[maxFields]uint32) uint32 {
	if s.cmode >= 0 {
		return vals[s.cmode]
	}
	return 14
}

// held gives the constant of the fields as the operand writes it.
func (s *vectorConstantSpec) held(vals *[maxFields]uint32) (d doubleword, elem uint8, float bool) {
	cmode := s.mode(vals)
	if s.combined {
		cmode &^= 1
	}
	if d, elem, float = vectorConstant(cmode, vals[s.field], s.cmode < 0); s.inverted {
		d = d.not()
	}
	return d, elem, float
}

// may says whether the fields hold a constant that the operand writes.
func (s *vectorConstantSpec) may(f *Form, _ Features, vals *[maxFields]uint32) bool {
	_, elem, float := s.held(vals)
	cmode := s.mode(vals)
	switch {
	case s.combined:
		return cmode < 12 && cmode&1 != 0 && (elem <= s.elem || s.elem == 8 && vals[s.field] == 0 && elem == 16)
	case s.float:
		return float
	case float, s.cmode >= 0 && cmode < 12 && cmode&1 != 0:
		return false
	case s.cmode >= 0 && cmode == 14 && f.Row.isInverse():
		return false
	}
	return elem <= s.elem
}

func (s *vectorConstantSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	d, _, _ := s.held(vals)
	sign := "#"
	if s.literal {
		sign = "="
	}
	switch {
	case s.movedFloat():
		return "#" + FloatText(math.Float32frombits(d.lo))
	case s.elem == 64:
		return sign + fmt.Sprintf("0x%08x%08x", d.hi, d.lo)
	}
	return sign + strconv.FormatUint(uint64(d.lo)&(1<<s.elem-1), 10)
}

func (s *vectorConstantSpec) describe(*Form) string {
	if s.literal {
		return "=constant"
	}
	return "#constant"
}

func (s *vectorConstantSpec) exchanges(*Row) bool { return s.inverted }
