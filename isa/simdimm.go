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
	// In forms V stands for D and Q; literals are forms as they are.
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

// compileConstant reads the operands that are constants of vectors.
func (r *Row) compileConstant(s *opSpec, tok string) bool {
	t := strings.TrimLeft(tok, "#=~")
	if t == tok || len(t) < 3 || t[0] != 'v' && t[0] != 'b' || t[1] != 'i' && t[1] != 'f' {
		return false
	}
	bits, err := strconv.Atoi(t[2:])
	if err != nil {
		return false
	}
	s.kind, s.field, s.also, s.hash = sVConst, r.fieldIndex("imm8"), r.fieldIndex("cmode"), hashNever
	s.elem, s.letter, s.plain = uint8(bits), t[1], t[0] == 'b'
	s.lit, s.inv = tok[0] == '=', tok[1] == '~'
	if s.max = math.MaxInt64; bits < 32 {
		s.max = 1<<bits - 1
	}
	return true
}

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

// vectorConstant is the doubleword that a row's fields stand for, its elements'
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

// constant checks a constant of vectors.
func (s *opSpec) constant(op *Operand, m *Match) miss {
	switch {
	case s.lit && (op.Kind != OpLit || !op.Bare),
		!s.lit && op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare || op.WB) && (op.Kind != OpFloat || s.inv || s.plain):
		return miss{Reason: OtherKind}
	case op.Kind == OpExpr && op.Word != "" && isVector(op.Word):
		return miss{Reason: OtherKind}
	case !op.Known:
		m.Deferred = true
		return miss{}
	}
	row := m.Form.Row
	if op.Kind == OpFloat && s.also >= 0 && row.value>>5&1 != 0 {
		return miss{Reason: OtherKind} // of VMVN
	}
	none := miss{Reason: NoVConst, Value: op.Imm}
	d := doubleword{uint32(op.Imm), uint32(op.Imm >> 32)}
	if op.Kind == OpFloat {
		d.hi = 0
		if _, ok := VFPConstant(d.lo); !ok && d.lo<<1 != 0 {
			return miss{Reason: NoVFP8, Value: op.Imm}
		}
	}
	if s.letter == 'f' && !s.plain {
		if op.Kind != OpFloat {
			return miss{Reason: NoPoint, Value: op.Imm}
		}
		x, ok := VFPConstant(d.lo)
		cmode := uint32(15)
		if !ok { // zero, with a sign or without
			cmode, x = d.lo>>31*6, d.lo>>31<<7
		}
		m.vals[s.field], m.vals[s.also] = x, cmode
		return miss{}
	}
	if s.plain {
		if s.elem == 64 && d.hi != d.lo {
			return none
		}
		x := d.lo
		if s.inv {
			x = ^x
		}
		switch {
		case s.elem == 8 && s.inv:
			x &= 0xff
		case s.elem == 16 && s.inv:
			x &= 0xffff
		}
		cmode, imm8, ok := logicConstant(x, s.elem)
		if !ok {
			return none
		}
		m.vals[s.field], m.vals[s.also] = imm8, cmode
		return miss{}
	}
	if s.elem < 64 {
		if s.elem < 32 && d.lo>>s.elem != 0 {
			why := TooLarge
			if op.Imm < 0 {
				why = Negative
			}
			return miss{Reason: why, Value: op.Imm}
		}
		d = elements(d.lo, s.elem)
	}
	if s.inv {
		d = d.not()
	}
	op1 := row.value >> 5 & 1
	if s.also < 0 {
		op1 = 0 // VMOV as well
	}
	cmode, imm8, byteMask, ok := moveConstant(d, s.elem, op1)
	if !ok || byteMask != (s.also < 0) {
		return none
	}
	if m.vals[s.field] = imm8; s.also >= 0 {
		m.vals[s.also] = cmode
	}
	return miss{}
}

// Constant is the size in bits of the elements that the form has a constant for, 0
// when it is another one, and whether they are combined with it.
func (f *Form) Constant() (bits int, combined bool) {
	for i := range f.ops {
		if s := &f.ops[i]; s.kind == sVConst {
			return int(s.elem), s.plain
		}
	}
	return 0, false
}

// isVector says whether a word names a register of floating point or vectors.
func isVector(w string) bool {
	_, _, ok := VectorReg(w)
	return ok
}

// doublewordOf gives the constant of the fields as the operand writes it.
func (s *opSpec) doublewordOf(vals *[maxFields]uint32) (d doubleword, elem uint8, float bool) {
	cmode := uint32(14)
	if s.also >= 0 {
		cmode = vals[s.also]
	}
	if s.plain {
		cmode &^= 1
	}
	if d, elem, float = vectorConstant(cmode, vals[s.field], s.also < 0); s.inv {
		d = d.not()
	}
	return d, elem, float
}

// mayConstant says whether the fields hold a constant that the operand writes.
func (s *opSpec) mayConstant(row *Row, vals *[maxFields]uint32) bool {
	_, elem, float := s.doublewordOf(vals)
	cmode := uint32(14)
	if s.also >= 0 {
		cmode = vals[s.also]
	}
	switch {
	case s.plain:
		return cmode < 12 && cmode&1 != 0 && (elem <= s.elem || s.elem == 8 && vals[s.field] == 0 && elem == 16)
	case s.letter == 'f':
		return float
	case float, s.also >= 0 && cmode < 12 && cmode&1 != 0:
		return false
	case s.also >= 0 && cmode == 14 && row.value>>5&1 != 0:
		return false
	}
	return elem <= s.elem
}

// writeConstant writes the constant.
func (s *opSpec) writeConstant(vals *[maxFields]uint32) string {
	d, _, _ := s.doublewordOf(vals)
	sign := "#"
	if s.lit {
		sign = "="
	}
	switch {
	case s.letter == 'f' && !s.plain:
		return "#" + FloatText(math.Float32frombits(d.lo))
	case s.elem == 64:
		return sign + fmt.Sprintf("0x%08x%08x", d.hi, d.lo)
	}
	return sign + strconv.FormatUint(uint64(d.lo)&(1<<s.elem-1), 10)
}
