package isa

import (
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// What encodings of floating point and Advanced SIMD have beyond the others,
// in the notation of compile.go. Fields of registers are called Sd, Sn, Sm for
// single registers and Dd, Dn, Dm for double ones, whose bits are split: of a
// single register the lowest bit is apart, of a double one the highest.
//
//	vadd.f32   a condition is before the type: vaddeq.f32
//	vldr.*     the name without a type or with any; .x but of 16 bits, .w of 32
//	Sd Dd Qd   a register; Qd in field Dd
//	Dn[x]      an element, its number in field x
//	next(Sm)   the register after the one of Sm
//	#vfp8      a constant that eight bits hold, in imm8
//	#0.0       zero
//	#fb16 #fb32  places after the binary point, 16 or 32 less the field imm5
//	{S} {D} {s} {d}  registers from Sd or Dd on, their count in n; in capitals
//	           quadword registers may be for double ones
//	{2S}       just two from Sm on
//	{1-4Dn}    one to four from Dn on, their count less one in len; quadword
//	           registers may take their place
//	{3D}       just three from Dd on, or as many quadword registers hold; {3D/2}
//	           each second one; {3D[x]} the element x of each, {3D[]} all elements
//	[Rn:64|128]  memory, not indexed: written back by as much as is moved, by a
//	           register, or not, in Rm; it may be aligned to 64 bits, held as 1 in
//	           align, or to 128, held as 2; [Rn:32=3]: held as 3; [Rn:128!]: it has
//	           to be aligned
//	#rsh8      a shift to the right, held as 8 less it in imm
//	=vfp8      the constant of #vfp8 as a literal
//	#vi16 #vf32  a constant in all elements of 16 bits, or of single precision, in
//	           imm8 and cmode; #~vi16 inverted; =vi64 as a literal
//	#bi16      the same of an instruction that combines bits

// VectorReg reads the name of a floating-point or vector register: its letter,
// 's', 'd' or 'q', and its number. A type may be after, as in d0.f32, and
// an element.
func VectorReg(w string) (letter byte, n Reg, ok bool) {
	if len(w) < 2 {
		return 0, NoReg, false
	}
	letter = w[0] | 0x20
	top := Reg(31)
	switch letter {
	case 's', 'd':
	case 'q':
		top = 15
	default:
		return 0, NoReg, false
	}
	d := w[1] - '0'
	if d > 9 {
		return 0, NoReg, false
	}
	n = Reg(d)
	i := 2
	if i < len(w) && w[i] >= '0' && w[i] <= '9' && n > 0 {
		n = n*10 + Reg(w[i]-'0')
		i++
	}
	if n > top || i < len(w) && w[i] != '.' && w[i] != '[' {
		return 0, NoReg, false
	}
	if i < len(w) && w[i] == '.' {
		types, _, _ := strings.Cut(w[i+1:], "[")
		if _, _, ok := plainTypes(strings.ToLower(types)); !ok {
			return 0, NoReg, false
		}
	}
	return letter, n, true
}

// VectorList makes an operand of the items of a list of vector registers, in
// order: "d0", "d1[2]", and "-d3" for the end of a range. ok is false when they
// are no registers that one instruction could move together. A type after the
// registers comes back as the operand's word, with its point.
func VectorList(items []string) (o Operand, ok bool) {
	o = Operand{Kind: OpVList, Reg: NoReg}
	last := Reg(0)
	seen := 0
	for _, w := range items {
		name, end := strings.CutPrefix(w, "-")
		letter, n, ok := VectorReg(name)
		if !ok {
			return o, false
		}
		lane := int8(0)
		if _, l, has := strings.Cut(name, "["); has {
			lane = AllLanes
			if v, err := strconv.Atoi(strings.TrimSuffix(l, "]")); err == nil {
				lane = int8(v) + 1
			} else if l != "]" {
				return o, false
			}
		}
		width := Reg(1)
		if letter == 'q' {
			if n, width = 2*n, 2; lane != 0 {
				return o, false
			}
		}
		if seen > 0 && (letter != o.Vec.Letter || lane != o.Vec.Lane) {
			return o, false
		}
		if _, t, typed := strings.Cut(name, "."); typed && lane == 0 {
			t = "." + strings.ToLower(t)
			if seen > 0 && o.Word != t {
				return o, false
			}
			o.Word = t
		}
		if end {
			if n+width-1 < last || o.Vec.Step > 1 || lane != 0 {
				return o, false
			}
			o.Bare = o.Bare || n == last
			o.Vec.Count += uint8(n + width - 1 - last)
			last = n + width - 1
			if o.Vec.Count > 1 {
				o.Vec.Step = 1
			}
			continue
		}
		if seen == 0 {
			o.Vec.Letter, o.Vec.Lane, o.Reg = letter, lane, n
		} else {
			step := uint8(n - last)
			if n <= last || o.Vec.Step != 0 && step != o.Vec.Step || step > 2 {
				return unordered(items)
			}
			o.Vec.Step = step
		}
		o.Vec.Count += uint8(width)
		if width > 1 {
			if o.Vec.Step == 2 {
				return o, false
			}
			o.Vec.Step = 1
		}
		last = n + width - 1
		seen++
	}
	return o, seen > 0
}

// unordered makes a list of registers that are not in order, as assemblers
// take it in multiple loads and stores; Minus says so.
func unordered(items []string) (o Operand, ok bool) {
	mask := uint64(0)
	o.Kind, o.Minus = OpVList, true
	last := Reg(0)
	for _, w := range items {
		name, end := strings.CutPrefix(w, "-")
		letter, n, ok := VectorReg(name)
		if !ok || strings.IndexByte(name, '[') >= 0 || o.Vec.Letter != 0 && o.Vec.Letter != letter || end && n < last {
			return o, false
		}
		o.Vec.Letter = letter
		width := Reg(1)
		if letter == 'q' {
			n, width = 2*n, 2
		}
		switch {
		case !end:
			last = n
		case width == 1 && n == last:
			o.Bare = true
			continue
		default:
			last += width // which is in it already
		}
		for r := last; r < n+width; r++ {
			if mask>>r&1 != 0 {
				return o, false
			}
			mask |= 1 << r
		}
		last = n
	}
	o.Reg = Reg(bits.TrailingZeros64(mask))
	o.Vec.Count, o.Vec.Step = uint8(bits.OnesCount64(mask)), 1
	return o, mask>>o.Reg == 1<<o.Vec.Count-1
}

// Structure says how many registers the form's list has and how far each is from
// the next one, where it is one that structures are moved with; else count is 0.
func (f *Form) Structure() (count, gap int) {
	for i := range f.ops {
		if s, ok := f.ops[i].(*structureSpec); ok {
			return int(s.count), int(s.gap)
		}
	}
	return 0, 0
}

// Alignments are those, in bits, that the address of the form may have.
func (f *Form) Alignments() (bits []int) {
	for i := range f.ops {
		if s, ok := f.ops[i].(*elementAddressSpec); ok {
			for _, a := range s.aligns {
				bits = append(bits, int(a.bytes)*8)
			}
		}
	}
	return bits
}

// LiteralVFP finds the eight bits that hold a constant of single or of double
// precision, given as its bits.
func LiteralVFP(bits int64, double bool) (imm8 uint32, ok bool) {
	if !double {
		return VFPConstant(uint32(bits))
	}
	f := math.Float64frombits(uint64(bits))
	if float64(float32(f)) != f {
		return 0, false
	}
	return VFPConstant(math.Float32bits(float32(f)))
}

// VFPConstant finds the eight bits that hold a constant of single precision,
// given as its bits: sign, a power of two from -3 to 4, and four more bits
// (Arm ARM, "Operation of modified immediate constants in floating-point
// instructions").
func VFPConstant(bits uint32) (imm8 uint32, ok bool) {
	if e := bits & 0x7e000000; bits&0x7ffff != 0 || e != 0x3e000000 && e != 0x40000000 {
		return 0, false
	}
	return bits>>24&0x80 | bits>>19&0x7f, true
}

// VFPValue is the number that eight bits mean.
func VFPValue(imm8 uint32) float32 {
	e := uint32(0x40000000)
	if imm8&0x40 != 0 {
		e = 0x3e000000
	}
	return math.Float32frombits(imm8&0x80<<24 | e | imm8&0x3f<<19)
}

// NearVFP gives the constants that eight bits hold next to x, given as bits of
// single precision: the largest that is not above it and the smallest that is
// not below.
func NearVFP(bits uint32) (below, above float32) {
	x := math.Float32frombits(bits)
	below, above = float32(math.Inf(-1)), float32(math.Inf(1))
	for i := range uint32(256) {
		v := VFPValue(i)
		if v <= x && v > below {
			below = v
		}
		if v >= x && v < above {
			above = v
		}
	}
	return below, above
}

// FloatText writes a number of single precision in decimal, with a point.
func FloatText(x float32) string {
	t := strconv.FormatFloat(float64(x), 'f', -1, 32)
	if !strings.Contains(t, ".") {
		t += ".0"
	}
	return t
}

// sizes is a set of sizes of types.
type sizes uint8

const (
	size8 sizes = 1 << iota
	size16
	size32
	size64
)

// anyTypes are the ends of names in the table that mean no type or any of
// some sizes.
var anyTypes = []struct {
	suffix string
	sizes  sizes
}{{".*", size8 | size16 | size32 | size64}, {".w", size32}, {".x", size8 | size32 | size64}}

// sizesOf collects the sizes of types such as "s16.32".
func sizesOf(types string) (out sizes) {
	for _, t := range strings.Split(types, ".") {
		switch strings.TrimLeft(t, "bifpsu") {
		case "8":
			out |= size8
		case "16":
			out |= size16
		case "32":
			out |= size32
		default:
			out |= size64
		}
	}
	return out
}

// compact makes the row of Thumb state: the same bits, with AL for the
// condition of A32, or one byte for another in the space of vectors.
func (r *Row) compact() *Row {
	c := *r
	c.ID = "t" + strings.TrimPrefix(r.ID, "a")
	c.Enc = strings.Replace(r.Enc, "A", "T", 1)
	c.Need |= FeatT32
	if r.InThumb != nil {
		var forms []string
		for _, f := range strings.Split(r.Forms, "\n") {
			if f = r.InThumb(f); f != "" {
				forms = append(forms, f)
			}
		}
		c.Forms = strings.Join(forms, "\n")
	}
	if bits, ok := strings.CutPrefix(r.Bits, "cond:4 "); ok {
		c.Bits = "1110 " + bits
		return &c
	}
	if bits, ok := strings.CutPrefix(r.Bits, "11110100"); ok { // elements in memory
		c.Bits = "11111001" + bits
		return &c
	}
	if bits, ok := strings.CutPrefix(r.Bits, "1111001"); ok {
		// The bit after goes to the third place.
		bits = strings.TrimSpace(bits)
		n := 1
		if bits[0] > '1' { // a field
			n = strings.IndexByte(bits, ' ')
		}
		c.Bits = "111 " + bits[:n] + " 1111 " + bits[n:]
		if r.Need&FeatNEONv8 == 0 {
			return &c
		}
	}
	c.IT = ITNever
	return &c
}

// buildVectors completes the names of floating point and vectors: those whose forms all
// want a type get a name without one, for statements with types on their
// operands and to refuse with; forms that take any type go to the names with
// types.
func (t *table) buildVectors(g *group) {
	seen := map[string]bool{}
	for _, r := range g.rowsA32 {
		if !r.vector {
			continue
		}
		for _, f := range g.forms(r) {
			name := f.Mnemonic
			s := t.stems[name]
			s.vector = true
			base, types, typed := strings.Cut(name, ".")
			b := t.stems[base]
			if b == nil {
				b = &stem{name: base, cut: int8(len(base)), order: orderType, vector: true, untyped: true, open: s.open}
				t.stems[base], t.byName[base] = b, &Mnemonic{Name: base, cond: AL}
			}
			if !typed || seen[name] {
				continue
			}
			seen[name] = true
			short, shortBase := t.byName[name], t.byName[base]
			if b.untyped {
				b.forms = append(b.forms, s.forms...)
				b.conds = b.conds || s.conds
				shortBase.Forms = append(shortBase.Forms, short.Forms...)
				continue
			}
			add := func(forms *[]*Form, any []*Form) {
				for _, f := range any {
					if f.anyType&sizesOf(types) != 0 {
						*forms = append(*forms, f)
					}
				}
			}
			add(&s.forms, b.forms)
			add(&short.Forms, shortBase.Forms)
			s.anyType, s.conds = s.anyType || b.anyType, s.conds || b.conds
		}
	}
}

// readTypes finds the stem of a name with types that is not in the table as it
// is: .f and .d are short for .f32 and .f64, a type may be written for each
// operand, and some names take any type.
func (t *table) readTypes(name string) (r reading) {
	base, types, ok := strings.Cut(name, ".")
	if !ok {
		return r
	}
	types, r.each, ok = plainTypes(types)
	if !ok {
		return r
	}
	if r.stem = t.typed(base, types); r.stem != nil {
		return r
	}
	if s := t.stems[base]; s != nil && s.anyType {
		return reading{stem: s, sizes: sizesOf(types)}
	}
	return r
}

// wrongType gives the mnemonic of a name of the table with types that it does not
// have: a letter, or letters and a number.
func (t *table) wrongType(name string) *Mnemonic {
	base, types, typed := strings.Cut(name, ".")
	if !typed || !typedName(name) {
		return nil
	}
	for _, x := range strings.Split(types, ".") {
		number := strings.TrimLeft(x, "abcdefghijklmnopqrstuvwxyz")
		if strings.Trim(number, "0123456789") != "" || number == "" && !(len(x) == 1 && strings.Contains("dfisu", x)) {
			return nil
		}
	}
	r, _ := t.read(base)
	if r.stem == nil {
		return nil
	}
	r.wrong = true
	return r.mnemonic(name)
}

// plainTypes brings types, as after a name without the first point, into the
// table's spelling. When all are the same, one comes back, and their number in
// each.
func plainTypes(types string) (out string, each int, ok bool) {
	first := ""
	same := true
	n := 0
	for _, t := range strings.Split(types, ".") {
		switch t {
		case "f":
			t = "f32"
		case "d":
			t = "f64"
		case "bf16":
		default:
			digits := strings.TrimLeft(t, "ifpsu")
			if len(t)-len(digits) > 1 {
				return "", 0, false
			}
			switch digits {
			case "8", "16", "32", "64":
			default:
				return "", 0, false
			}
		}
		if n++; n == 1 {
			first, out = t, t
		} else {
			same = same && t == first
			out += "." + t
		}
	}
	if n > 1 && same {
		return first, n, true
	}
	return out, 0, true
}

// typesOf collects the types that are written on the operands, in order, each
// after a point; empty where there are none. regs is how many operands can
// have one.
func typesOf(ops []Operand) (types string, regs int) {
	for i := range ops {
		k := ops[i].Kind
		if k == OpVList && ops[i].Word != "" {
			regs++
			types += ops[i].Word
		}
		if k != OpExpr && k != OpLane {
			continue
		}
		if _, _, ok := VectorReg(ops[i].Word); !ok {
			continue
		}
		regs++
		if w := ops[i].Word; strings.IndexByte(w, '.') > 0 {
			types += w[strings.IndexByte(w, '.'):]
		}
	}
	return strings.ToLower(types), regs
}

// matchVector is Match for names of floating point and vectors, whose types may
// be on the name or on the operands.
func (mnemonic *Mnemonic) matchVector(q *Query, ops []Operand) (m Match, ok bool) {
	r := &mnemonic.arm
	s := r.stem
	if r.wrong {
		return m, false
	}
	types, regs := typesOf(ops)
	every, written := r.each, r.sizes
	switch {
	case !typedName(s.name):
		// Older names have their types in them; assemblers ignore others.
	case types == "" && s.untyped:
		return m, false
	case types != "" && strings.IndexByte(s.name, '.') > 0:
		return m, false
	case types != "":
		plain, n, ok := plainTypes(types[1:])
		x := tableOf(s.name).typed(s.name, plain)
		if i := strings.LastIndexByte(plain, '.'); x == nil && i > 0 {
			// Where the sizes differ the type is that of the sources.
			if x = tableOf(s.name).typed(s.name, plain[i+1:]); x != nil && !x.forms[0].Row.exact {
				x = nil
			}
		}
		if !ok || strings.Count(types, ".") != regs || x == nil && !s.anyType {
			return m, false
		}
		if x != nil {
			s, every = x, max(n, 1)
		} else {
			written = sizesOf(plain)
		}
	}
	forms := s.forms
	if !q.A32 {
		forms = s.short.Forms
	}
	var b binding
	for _, f := range forms {
		if len(f.ops) != len(ops) || !f.exists(q) || written&^f.anyType != 0 {
			continue
		}
		if every > 0 && f.anyType == 0 && every != f.registers() && types == "" {
			continue
		}
		if q.A32 && !r.takes(f) || !q.A32 && f.slot(mnemonic, q) != OK {
			continue
		}
		if !f.fit(q, ops, &b) {
			continue
		}
		if !q.A32 {
			return b.match(q.IT.In, q.IT.Cond, q.Have), true
		}
		if f.conditional() {
			b.vals[0] = uint32(r.cond)
		}
		return b.match(false, 0, q.Have), true
	}
	return Match{}, false
}

// registers is how many operands have a type, one that may be left out counted
// as well.
func (f *Form) registers() (n int) {
	for _, s := range f.ops {
		if by := s.facts().typed; by != typedBehindOne {
			n += int(by)
		} else if n == 1 {
			n++
		}
	}
	return n
}

// Vector says whether the row is of floating point or vectors.
func (r *Row) Vector() bool { return r.vector }

// Vector says whether the name is of floating point or vectors.
func (mnemonic *Mnemonic) Vector() bool {
	return mnemonic != nil && mnemonic.arm.stem != nil && mnemonic.arm.stem.vector
}

// InlineVector says whether a load of a literal into a register of floating point
// becomes a VMOV, which has the constant in it: given as the bits of a number
// of single or of double precision.
func InlineVector(have Features, bits int64, double bool) bool {
	need := FeatVFP3
	if double {
		need |= FeatVFPD
	}
	if _, ok := LiteralVFP(bits, double); ok && have.Has(need) {
		return true
	}
	if !double || !have.Has(FeatNEON) {
		return false
	}
	d := doubleword{uint32(bits), uint32(bits >> 32)}
	_, _, _, ok := moveConstant(d, 64, 0)
	if !ok {
		_, _, _, ok = moveConstant(d.not(), 64, 1)
	}
	return ok
}

// typed finds the stem of a name with a type: as it is, for signed and unsigned
// types the one that does not tell them apart, for any type the one of its size.
func (t *table) typed(base, types string) *stem {
	if s := t.stems[base+"."+types]; s != nil || types == "" || types[0] == 'b' || base[0] != 'v' {
		return s
	}
	if types[0] == 's' || types[0] == 'u' {
		if s := t.stems[base+".i"+types[1:]]; s != nil {
			return s
		}
	}
	if n := strings.TrimLeft(types, "isufp"); n != types {
		return t.stems[base+"."+n]
	}
	return nil
}

// spells says whether some spelling of the row writes the word.
func (r *Row) spells(w uint32) bool {
	in := Inst{Row: r}
	for i := range r.fields {
		in.vals[i] = r.fields[i].get(w)
	}
	for _, f := range r.forms {
		if f.Alias || !f.may(^Features(0), &in.vals) {
			continue
		}
		fits := true
		for _, x := range f.fixed {
			fits = fits && in.vals[x.field] == x.val
		}
		if fits {
			return true
		}
	}
	return false
}
