package isa

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// vectorFields are the names of fields that hold floating-point registers.
var vectorFields = map[string]bool{"Sd": true, "Sn": true, "Sm": true, "Dd": true, "Dn": true, "Dm": true}

// vector reads the operands that only floating-point and vector encodings have; nil
// for others. See vfpcore.go for the notation.
func (c *specReader) vector(tok string) spec {
	second := ""
	if tok[0] != '=' && tok[0] != '[' {
		tok, second, _ = strings.Cut(tok, "=")
	}
	name, _, indexed := strings.Cut(strings.TrimSuffix(tok, "]"), "[")
	if len(name) == 2 && name[0] == 'Q' {
		name = "D" + name[1:]
	}
	if s := c.vectorConstant(tok); s != nil {
		return s
	}
	switch {
	case vectorFields[name] && indexed:
		return c.lane(tok)
	case vectorFields[name]:
		return c.vectorReg(tok, name, second)
	case strings.HasPrefix(tok, "next(S"):
		return c.nextSingle(tok)
	case tok == "#vfp8", tok == "=vfp8":
		return c.eightBits(tok)
	case tok == "#0.0":
		s := &zeroSpec{newFacts(tok)}
		s.typed = typedOnce
		return s
	case strings.HasPrefix(tok, "###imm/"), tok == "###imm>0":
		return c.byteNumber(tok)
	case strings.Contains(tok, "#rsh"), strings.Contains(tok, "#fb"):
		return c.places(tok)
	case tok[0] == '{' && (len(tok) == 3 || tok == "{2S}" || tok == "{1-4Dn}"):
		return c.vectorList(tok)
	case tok[0] == '{' && len(tok) > 3 && tok[2] == 'D':
		return c.structure(tok)
	case strings.HasPrefix(tok, "[Rn:"):
		return c.elementAddress(tok)
	}
	return nil
}

// number writes what a field holds.
func number(v uint32) string { return strconv.Itoa(int(v)) }

// vectorName reads the name of a register of floating point or vectors of one letter;
// of a quadword register the number of its first double one.
func vectorName(op *Operand, letter byte) (n Reg, ok bool) {
	l, n, ok := VectorReg(op.Word)
	if l == 'q' {
		n *= 2
	}
	return n, ok && l == letter
}

// unitReg reads the name of a register as vectorName does; the unit has to have it.
func unitReg(op *Operand, letter byte, have Features) (n Reg, bad miss) {
	n, ok := vectorName(op, letter)
	switch {
	case !ok:
		return n, miss{Reason: OtherKind}
	case beyondUnit(letter, n, have):
		return n, miss{Reason: NoD32, Reg: n}
	}
	return n, miss{}
}

// beyondUnit says whether a unit of sixteen double registers lacks the register.
func beyondUnit(letter byte, n Reg, have Features) bool {
	return n > 15 && letter != 's' && !have.Has(FeatD32)
}

// vectorRegSpec is a register: s, d or q.
type vectorRegSpec struct {
	specFacts
	letter byte
	also   int8 // a second field that gets the same value, -1
	same   bool // the field was set by an earlier operand and must be equal
}

func (c *specReader) vectorReg(tok, name, second string) spec {
	s := &vectorRegSpec{specFacts: newFacts(tok), letter: tok[0] | 0x20, also: -1}
	s.field, s.typed, s.named = c.field(name), typedOnce, true
	if second != "" {
		s.also, s.typed = c.field(strings.Replace(second, "Q", "D", 1)), typedTwice
	}
	s.same = c.set(s.field)
	return s
}

func (s *vectorRegSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpExpr || op.Writeback {
		return miss{Reason: OtherKind}
	}
	n, bad := unitReg(op, s.letter, q.Have)
	switch {
	case bad.Reason != OK:
		return bad
	case s.same && m.vals[s.field] != uint32(n):
		return miss{Reason: SameReg, Reg: n}
	}
	m.vals[s.field] = uint32(n)
	if s.also >= 0 && !s.same {
		m.vals[s.also] = uint32(n)
	}
	return miss{}
}

func (s *vectorRegSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return s.letter != 'q' || vals[s.field]&1 == 0
}

func (s *vectorRegSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	n := vals[s.field]
	if s.letter == 'q' {
		n /= 2
	}
	return string(s.letter) + number(n)
}

func (s *vectorRegSpec) waits(*Row) bool { return true }

// nextSingleSpec is the single register after another field's.
type nextSingleSpec struct{ specFacts }

func (c *specReader) nextSingle(tok string) spec {
	s := &nextSingleSpec{newFacts(tok)}
	s.field, s.named = c.field(strings.Trim(tok[len("next("):], ")")), true
	return s
}

func (s *nextSingleSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if op.Kind != OpExpr || op.Writeback {
		return miss{Reason: OtherKind}
	}
	n, ok := vectorName(op, 's')
	switch {
	case !ok:
		return miss{Reason: OtherKind}
	case uint32(n) != m.vals[s.field]+1:
		return miss{Reason: NotNext, Reg: n}
	}
	return miss{}
}

func (s *nextSingleSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return vals[s.field] < 31
}

func (s *nextSingleSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "s" + number(vals[s.field]+1)
}

func (s *nextSingleSpec) describe(*Form) string { return "the next register" }

// laneSpec is an element of a register.
type laneSpec struct {
	specFacts
	letter byte
	lane   int8 // the field of its number
}

func (c *specReader) lane(tok string) spec {
	name, lane, _ := strings.Cut(strings.TrimSuffix(tok, "]"), "[")
	s := &laneSpec{newFacts(tok), tok[0] | 0x20, c.field(lane)}
	s.field, s.typed, s.named = c.field(name), typedOnce, true
	if c.err == nil {
		s.max = 1<<c.row.fields[s.lane].width - 1
	}
	return s
}

func (s *laneSpec) check(f *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpLane {
		return miss{Reason: OtherKind}
	}
	n, bad := unitReg(op, s.letter, q.Have)
	switch {
	case bad.Reason != OK:
		return bad
	case n >= 1<<f.Row.fields[s.field].width:
		return miss{Reason: OtherReg, Reg: n}
	case op.Vec.Lane < 1 || int64(op.Vec.Lane) > s.max+1:
		return miss{Reason: BadLane, Value: int64(op.Vec.Lane) - 1}
	}
	m.vals[s.field], m.vals[s.lane] = uint32(n), uint32(op.Vec.Lane-1)
	return miss{}
}

func (s *laneSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return string(s.letter) + number(vals[s.field]) + "[" + number(vals[s.lane]) + "]"
}

func (s *laneSpec) describe(*Form) string { return s.text[:2] + "[0–" + itoa(s.max) + "]" }

// eightBitsSpec is a constant of floating point that eight bits hold.
type eightBitsSpec struct {
	specFacts
	literal bool
}

func (c *specReader) eightBits(tok string) spec {
	s := &eightBitsSpec{newFacts(tok), tok[0] == '='}
	s.field, s.number, s.typed = c.field("imm8"), true, typedOnce
	return s
}

func (s *eightBitsSpec) check(f *Form, _ *Query, op *Operand, m *binding) miss {
	if s.literal {
		return s.checkLiteral(f, op, m)
	}
	if op.Kind != OpFloat && op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare || op.Writeback) {
		return miss{Reason: OtherKind}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	x, ok := VFPConstant(uint32(op.Imm))
	if !ok && op.Kind != OpFloat { // a whole number for itself
		x, ok = VFPConstant(math.Float32bits(float32(int32(op.Imm))))
	}
	if !ok {
		return miss{Reason: NoVFP8, Value: op.Imm}
	}
	m.vals[s.field] = x
	return miss{}
}

// checkLiteral checks a literal that a VMOV holds: the bits of a number of single
// or of double precision, as the row has it.
func (s *eightBitsSpec) checkLiteral(f *Form, op *Operand, m *binding) miss {
	if op.Kind != OpLit || !op.Bare {
		return miss{Reason: OtherKind}
	}
	x, ok := LiteralVFP(op.Imm, f.Row.fieldIndex("Dd") >= 0)
	if !ok {
		return miss{Reason: NoVFP8, Value: op.Imm}
	}
	m.vals[s.field] = x
	return miss{}
}

func (s *eightBitsSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "#" + FloatText(VFPValue(vals[s.field]))
}

func (s *eightBitsSpec) describe(*Form) string {
	if s.literal {
		return "=constant"
	}
	return "#constant"
}

// zeroSpec is zero.
type zeroSpec struct{ specFacts }

func (s *zeroSpec) check(_ *Form, q *Query, op *Operand, _ *binding) miss {
	switch {
	case (op.Kind == OpFloat || op.Kind == OpExpr) && op.Bare && !q.Unified:
		return miss{Reason: NoHash}
	case op.Kind == OpFloat && op.Imm == 0:
	case (op.Kind == OpImm || op.Kind == OpExpr && op.Bare && !op.Writeback) && op.Known && op.Imm == 0:
	case op.Kind == OpFloat || op.Kind == OpImm:
		return miss{Reason: TooLarge, Value: op.Imm}
	default:
		return miss{Reason: OtherKind}
	}
	return miss{}
}

func (s *zeroSpec) write(*Form, *[maxFields]uint32, int64) string { return s.text }

// byteNumber reads ###imm/2, a number of larger units than the bytes that the field
// counts, and ###imm>0.
func (c *specReader) byteNumber(tok string) spec {
	s := newConst(tok)
	s.hash = hashNever
	c.readNumber(&s.specFacts, &s.numberFacts, "imm")
	if tok == "###imm>0" {
		s.min = 1
		return s
	}
	s.times = int64(tok[len("###imm/")] - '0')
	s.max /= s.times
	return s
}

// placesSpec are places after the binary point, or those of a shift to the right:
// held as max less their number.
type placesSpec struct {
	specFacts
	hash hash
}

// places reads #rsh8, ##rsh8, #fb16, ##fb32.
func (c *specReader) places(tok string) spec {
	s := &placesSpec{newFacts(tok), hashNever}
	s.number = true
	if strings.HasPrefix(tok, "##") {
		s.hash = hashDivided
	}
	name := strings.TrimLeft(tok, "#")
	digits := strings.TrimLeft(name, "rshfb")
	n, _ := strconv.Atoi(digits)
	s.max = int64(n)
	if strings.HasPrefix(name, "rsh") {
		s.field, s.min = c.field("imm"), 1
		return s
	}
	if s.field = c.field("imm5"); n == 32 {
		s.min = 1
	}
	return s
}

func (s *placesSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare || op.Writeback) {
		return miss{Reason: OtherKind}
	}
	if op.Kind == OpExpr && !s.hash.mayLack(q) {
		return miss{Reason: NoHash}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	switch v := int64(int32(op.Imm)); {
	case v < 0:
		return miss{Reason: Negative, Value: v}
	case v < s.min || v > s.max:
		return miss{Reason: TooLarge, Value: v}
	default:
		m.vals[s.field] = uint32(s.max - v)
	}
	return miss{}
}

func (s *placesSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return int64(vals[s.field]) <= s.max-s.min
}

func (s *placesSpec) strict() bool { return true }

func (s *placesSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "#" + itoa(s.max-int64(vals[s.field]))
}

func (s *placesSpec) describe(*Form) string { return "#" + itoa(s.min) + "–" + itoa(s.max) }

// vectorListSpec is a list of registers one after the other.
type vectorListSpec struct {
	specFacts
	letter byte
	count  int8   // the field of their number, -1: two
	less   uint32 // what the field is less than that
	noQuad bool   // no quadword registers in the place of double ones
}

// vectorList reads {S}, {D}, {s}, {d}, {2S} and {1-4Dn}.
func (c *specReader) vectorList(tok string) spec {
	s := &vectorListSpec{specFacts: newFacts(tok), letter: 's', count: -1}
	switch tok {
	case "{2S}":
		s.field = c.field("Sm")
	case "{1-4Dn}":
		s.letter, s.field, s.count, s.less, s.max = 'd', c.field("Dn"), c.field("len"), 1, 4
		s.typed = typedOnce // of a table
	default:
		s.letter, s.noQuad = tok[1]|0x20, tok[1] >= 'a'
		s.field, s.count = c.field(strings.ToUpper(tok[1:2])+"d"), c.field("n")
	}
	return s
}

func (s *vectorListSpec) ofTable() bool { return s.less != 0 }

func (s *vectorListSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	v := &op.Vec
	switch {
	case op.Kind != OpVList:
		return miss{Reason: OtherKind}
	case v.Letter == 0 || v.Lane != 0 || v.Step > 1 || op.Bare:
		return miss{Reason: BadVList, Part: PartList}
	case v.Letter != s.letter && (v.Letter != 'q' || s.letter != 'd' || s.noQuad):
		return miss{Reason: OtherKind, Part: PartList}
	case s.letter == 'd' && v.Count > 16, s.count < 0 && v.Count != 2, s.ofTable() && int64(v.Count) > s.max:
		return miss{Reason: BadVList, Part: PartList, Value: int64(v.Count)}
	case s.letter == 'd' && int(op.Reg)+int(v.Count) > 16 && !q.Have.Has(FeatD32):
		return miss{Reason: NoD32, Part: PartList, Reg: op.Reg + Reg(v.Count) - 1}
	}
	m.vals[s.field] = uint32(op.Reg)
	if s.count >= 0 {
		m.vals[s.count] = uint32(v.Count) - s.less
	}
	return miss{}
}

func (s *vectorListSpec) length(vals *[maxFields]uint32) uint32 {
	if s.count < 0 {
		return 2
	}
	return vals[s.count] + s.less
}

func (s *vectorListSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	n := s.length(vals)
	return s.ofTable() || n > 0 && vals[s.field]+n <= 32 && (s.letter == 's' || n <= 16)
}

func (s *vectorListSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	first, n := vals[s.field], s.length(vals)
	l := "{" + string(s.letter) + number(first)
	if n > 1 {
		l += "-" + string(s.letter) + number(first+n-1)
	}
	return l + "}"
}

func (s *vectorListSpec) describe(*Form) string {
	switch {
	case s.count < 0:
		return "{two single registers}"
	case s.letter == 's':
		return "{single registers}"
	case s.ofTable():
		return "{one to four double registers}"
	}
	return "{double registers}"
}

func (s *vectorListSpec) waits(*Row) bool { return true }

// structureSpec is a list of some registers, of elements of such, or of all their
// elements, that are moved as structures.
type structureSpec struct {
	specFacts
	count, gap uint8 // how many registers, and from each to the next
	lane       int8  // the field of the element, -1 for none
	all        bool  // all elements
}

// structure reads {3D}, {3D/2}, {3D[x]} and {3D[]}.
func (c *specReader) structure(tok string) spec {
	s := &structureSpec{specFacts: newFacts(tok), count: tok[1] - '0', gap: 1, lane: -1}
	s.field, s.typed = c.field("Dd"), typedOnce
	rest := tok[3 : len(tok)-1]
	if r, ok := strings.CutPrefix(rest, "/2"); ok {
		s.gap, rest = 2, r
	}
	if s.all = rest == "[]"; rest == "[x]" {
		if s.lane = c.field("x"); s.lane >= 0 {
			s.max = 1<<c.row.fields[s.lane].width - 1
		}
	}
	return s
}

func (s *structureSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	v, first := op.Vec, op.Reg
	switch op.Kind {
	case OpVList:
		if v.Letter != 'd' && v.Letter != 'q' || op.Minus {
			return miss{Reason: BadVList, Part: PartList}
		}
	case OpExpr, OpLane: // around one register the braces may be left out
		n, ok := vectorName(op, 'd')
		if !ok || op.Writeback {
			return miss{Reason: OtherKind}
		}
		v.Count, first = 1, n
	default:
		return miss{Reason: OtherKind}
	}
	gap := max(v.Step, 1)
	switch {
	case (v.Lane > 0) != (s.lane >= 0) || (v.Lane == AllLanes) != s.all:
		return miss{Reason: OtherKind, Part: PartList}
	case v.Count != s.count:
		return miss{Reason: ListCount, Part: PartList, Value: int64(v.Count)}
	case v.Count > 1 && gap != s.gap:
		return miss{Reason: ListGap, Part: PartList, Value: int64(gap)}
	case s.lane >= 0 && int64(v.Lane) > s.max+1:
		return miss{Reason: BadLane, Value: int64(v.Lane) - 1}
	}
	m.vals[s.field] = uint32(first)
	if s.lane >= 0 {
		m.vals[s.lane] = uint32(v.Lane - 1)
	}
	return miss{}
}

// last is the last register of the list.
func (s *structureSpec) last(vals *[maxFields]uint32) uint32 {
	return vals[s.field] + uint32((s.count-1)*s.gap)
}

func (s *structureSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	l, lane := "{", ""
	switch {
	case s.all:
		lane = "[]"
	case s.lane >= 0:
		lane = "[" + number(vals[s.lane]) + "]"
	}
	for i := range uint32(s.count) {
		if i > 0 {
			l += ", "
		}
		l += "d" + number(vals[s.field]+i*uint32(s.gap)) + lane
	}
	return l + "}"
}

func (s *structureSpec) describe(*Form) string {
	what := []string{"", "one double register", "two double registers", "three double registers", "four double registers"}[s.count]
	if s.count > 1 && s.gap == 2 {
		what += ", each second one"
	}
	switch {
	case s.all:
		what = "all elements of " + what
	case s.lane >= 0:
		what = "one element, 0–" + itoa(s.max) + ", of " + what
	}
	return "{" + what + "}"
}

// alignment is one that an address may have: in bytes, and as the field holds it.
type alignment struct{ bytes, val uint8 }

// elementAddressSpec is the address of a load or store of elements: [Rn:align], written
// back or not, as the field of Rm says.
type elementAddressSpec struct {
	specFacts
	base   int8
	align  int8 // the field of the alignment, -1 for none
	aligns []alignment
	must   bool // not without an alignment
}

// elementAddress reads [Rn:64|128], [Rn:32=3] and [Rn:128!].
func (c *specReader) elementAddress(tok string) spec {
	s := &elementAddressSpec{specFacts: newFacts(tok), base: c.field("Rn"), align: c.row.fieldIndex("align")}
	s.field = c.field("Rm")
	list, must := strings.CutSuffix(strings.Trim(tok[len("[Rn:"):], "]"), "!")
	s.must = must
	for i, x := range strings.FieldsFunc(list, func(c rune) bool { return c == '|' }) {
		bits, val, held := strings.Cut(x, "=")
		b, _ := strconv.Atoi(bits)
		v := i + 1
		if held {
			v, _ = strconv.Atoi(val)
		}
		s.aligns = append(s.aligns, alignment{uint8(b / 8), uint8(v)})
	}
	return s
}

// What the field Rm holds where no register is added to the base.
const (
	bySize    = 13 // the size of what is moved is
	unindexed = 15
)

func (s *elementAddressSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpMem {
		return miss{Reason: OtherKind}
	}
	rm := uint32(unindexed)
	switch {
	case op.Reg == PC:
		return miss{Reason: OtherReg, Part: PartBase, Reg: PC}
	case op.Off == OffReg && op.Post && !op.Minus:
		if op.Index == SP || op.Index == PC {
			return miss{Reason: OtherReg, Part: PartOffset, Reg: op.Index}
		}
		rm = uint32(op.Index)
	case op.Bare && !q.Unified:
		return miss{Reason: NoHash, Part: PartOffset}
	case op.Off != OffNone && (op.Off != OffImm || op.Post || !op.Known || op.Imm != 0):
		return miss{Reason: OtherKind, Part: PartOffset}
	case op.Writeback:
		rm = bySize
	}
	align := uint32(0)
	if n := op.Vec.Count; n == SomeAlignment {
		m.Deferred = true
	} else if n != 0 || s.must {
		i := slices.IndexFunc(s.aligns, func(a alignment) bool { return a.bytes == n })
		if i < 0 {
			return miss{Reason: NoAlign, Part: PartBase, Value: int64(n) * 8}
		}
		align = uint32(s.aligns[i].val)
	}
	m.vals[s.base], m.vals[s.field] = uint32(op.Reg), rm
	if s.align >= 0 {
		m.vals[s.align] = align
	}
	return miss{}
}

func (s *elementAddressSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return s.align < 0 || vals[s.align] == 0 || slices.ContainsFunc(s.aligns, func(a alignment) bool { return uint32(a.val) == vals[s.align] })
}

func (s *elementAddressSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	t := "[" + Reg(vals[s.base]).String()
	for _, a := range s.aligns {
		if s.must || s.align >= 0 && vals[s.align] == uint32(a.val) {
			t += ":" + number(uint32(a.bytes)*8)
		}
	}
	switch rm := vals[s.field]; rm {
	case unindexed:
		return t + "]"
	case bySize:
		return t + "]!"
	default:
		return t + "], " + Reg(rm).String()
	}
}

func (s *elementAddressSpec) describe(*Form) string {
	if len(s.aligns) == 0 {
		return "[Rn]"
	}
	var list []string
	for _, a := range s.aligns {
		list = append(list, itoa(int64(a.bytes)*8))
	}
	t := strings.Join(list, "|")
	if s.must {
		return "[Rn:" + t + "]"
	}
	return "[Rn{:" + t + "}]"
}
