package isa

import (
	"strconv"
	"strings"
)

// numberFacts are a field that holds a number: (value-bias)/step, negated when neg,
// modulo mod when that is not 0, times the factor times when that is not 0.
type numberFacts struct {
	neg   bool
	bias  int64
	times int64
	mod   uint32
	hash  hash
}

// readNumber reads NAME[*step][%mod][+1][<=max] or a plain number.
func (c *specReader) readNumber(s *specFacts, n *numberFacts, t string) {
	number := func(t string) int64 {
		v, err := strconv.Atoi(t)
		if err != nil && c.err == nil {
			c.err = err
		}
		return int64(v)
	}
	t, n.neg = strings.CutPrefix(t, "-")
	if v, err := strconv.Atoi(t); err == nil {
		s.min, s.max = int64(v), int64(v)
		return
	}
	t, top, topped := strings.Cut(t, "<=")
	t, mod, hasMod := strings.Cut(t, "%")
	t, bias := strings.CutSuffix(t, "+1")
	name, step, hasStep := strings.Cut(t, "*")
	if hasStep {
		s.step = number(step)
	}
	if s.field = c.field(name); s.field < 0 {
		return
	}
	s.max = (int64(1)<<c.row.fields[s.field].width - 1) * s.step
	if hasMod {
		n.mod = uint32(number(mod))
		s.min, s.max = 1, int64(n.mod)
	}
	if n.neg {
		s.min, s.max = -s.max, -1
	}
	if bias {
		n.bias, s.min, s.max = 1, 1, s.max+1
	}
	if topped {
		s.max = number(top)
	}
}

// store checks a constant or an offset and stores it.
func (n *numberFacts) store(s *specFacts, op *Operand, part Part, m *binding) miss {
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	v := op.Imm
	if n.hash != hashPlain {
		// A constant is a word of 32 bits: 0xffffffff is -1.
		v = int64(int32(v))
	}
	if v < s.min || v > s.max || s.step > 1 && v%s.step != 0 {
		w := miss{Reason: TooLarge, Part: part, Value: op.Imm}
		switch {
		case v < 0 && s.min >= 0:
			w.Reason = Negative
		case v >= s.min && v <= s.max:
			w.Reason = Misaligned
		}
		return w
	}
	if s.field >= 0 {
		m.vals[s.field] = n.encode(s, v)
	}
	return miss{}
}

func (n *numberFacts) encode(s *specFacts, v int64) uint32 {
	u := v/s.step - n.bias
	if n.neg {
		u = -u
	}
	if n.mod != 0 {
		u %= int64(n.mod)
	}
	if n.times != 0 {
		u *= n.times
	}
	return uint32(u)
}

// value is what the field means.
func (n *numberFacts) value(s *specFacts, vals *[maxFields]uint32) int64 {
	if s.field < 0 {
		return s.min
	}
	v := int64(vals[s.field])
	if n.mod != 0 && v == 0 {
		v = int64(n.mod)
	}
	if v = (v + n.bias) * s.step; n.neg {
		v = -v
	}
	return v
}

// constSpec is a plain constant.
type constSpec struct {
	specFacts
	numberFacts
	literal   bool // written as =value
	writeback int8 // the field that holds whether there is a '!', -1 for none
}

func newConst(tok string) *constSpec {
	s := &constSpec{specFacts: newFacts(tok), writeback: -1}
	s.shape, s.number, s.limited, s.growth = OpImm, true, true, growsByNumber
	return s
}

// constant reads #imm5*4, with as many '#' as hash says.
func (c *specReader) constant(tok string) spec {
	s := newConst(tok)
	name := strings.TrimLeft(tok, "#")
	s.hash = hash(len(tok) - len(name) - 1)
	if n, ok := strings.CutSuffix(name, "!?"); ok {
		name, s.writeback = n, c.row.fieldIndex("W")
	}
	c.readNumber(&s.specFacts, &s.numberFacts, name)
	return s
}

// literal reads =imm16.
func (c *specReader) literal(tok string) spec {
	s := newConst(tok)
	s.literal = true
	c.readNumber(&s.specFacts, &s.numberFacts, tok[1:])
	return s
}

func (s *constSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if s.literal {
		if op.Kind != OpLit || !op.Bare {
			return miss{Reason: OtherKind}
		}
		return s.store(&s.specFacts, op, PartAll, m)
	}
	if op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare || op.Writeback) {
		return miss{Reason: OtherKind}
	}
	if op.Writeback {
		if s.writeback < 0 {
			return miss{Reason: NoWriteback}
		}
		m.vals[s.writeback] = 1
	}
	if op.Kind == OpExpr && !s.hash.mayLack(q) {
		return miss{Reason: NoHash}
	}
	return s.store(&s.specFacts, op, PartAll, m)
}

func (s *constSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	text := "#" + itoa(s.value(&s.specFacts, vals))
	if s.writeback >= 0 && vals[s.writeback] != 0 {
		text += "!"
	}
	return text
}

func (s *constSpec) describe(*Form) string {
	if s.literal {
		return "=constant"
	}
	return "#" + s.limits()
}

func (s *constSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return constantOperand(s.value(&s.specFacts, vals)), s.writeback < 0
}

func constantOperand(v int64) Operand { return Operand{Kind: OpImm, Known: true, Imm: v} }

func (s *constSpec) waits(r *Row) bool {
	return s.field >= 0 && !r.vector && (r.Late == LateAlways || r.Late == LateBySize && r.size == 2)
}

func (s *constSpec) exchanges(r *Row) bool { return s.neg && r.State == T && r.size == 4 }

// wideConstSpec is a constant of data processing in an encoding of full width: eight
// bits, rotated, or in T32 repeated.
type wideConstSpec struct {
	specFacts
	neg, inverted bool
	literal       bool
	hash          hash
}

// wideConstant reads #rot and what is like it.
func (c *specReader) wideConstant(tok string) spec {
	s := &wideConstSpec{specFacts: newFacts(tok), neg: tok[1] == '-', inverted: tok[1] == '~', literal: tok[0] == '=', hash: hashDivided}
	s.shape, s.number, s.field = OpImm, true, c.field("imm12")
	if strings.HasPrefix(tok, "###") {
		s.hash = hashNever
	}
	return s
}

func (s *wideConstSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if s.literal {
		if op.Kind != OpLit || !op.Bare {
			return miss{Reason: OtherKind}
		}
	} else if why := s.hash.constant(q, op); why != OK {
		return miss{Reason: why}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	x, ok := m.Form.Row.State.Constant(s.turned(uint32(op.Imm)))
	if !ok {
		return miss{Reason: NoRotation, Value: op.Imm}
	}
	m.vals[s.field] = x
	return miss{}
}

// turned is the constant that the encoding has for the one that is written, and the
// other way round.
func (s *wideConstSpec) turned(v uint32) uint32 {
	switch {
	case s.neg:
		return -v
	case s.inverted:
		return ^v
	}
	return v
}

// may: a constant that has another rotation is not written as a plain number.
func (s *wideConstSpec) may(f *Form, _ Features, vals *[maxFields]uint32) bool {
	x, _ := f.Row.State.Constant(f.Row.State.expand(vals[s.field]))
	return x == vals[s.field]
}

func (s *wideConstSpec) value(f *Form, vals *[maxFields]uint32) int64 {
	return int64(s.turned(f.Row.State.expand(vals[s.field])))
}

func (s *wideConstSpec) write(f *Form, vals *[maxFields]uint32, _ int64) string {
	return "#" + itoa(s.value(f, vals))
}

func (s *wideConstSpec) describe(*Form) string {
	if s.literal {
		return "=constant"
	}
	return "#constant"
}

func (s *wideConstSpec) operand(f *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return constantOperand(s.value(f, vals)), true
}

func (s *wideConstSpec) waits(*Row) bool     { return true }
func (s *wideConstSpec) exchanges(*Row) bool { return s.neg || s.inverted }

// byteSpec is the eight bits of a rotated constant by themselves, rotationSpec the amount
// of its rotation.
type byteSpec struct {
	specFacts
	hash hash
}

type rotationSpec struct {
	specFacts
	hash hash
}

// byteOrRotation reads #k8 and #kr.
func (c *specReader) byteOrRotation(tok string) spec {
	facts := newFacts(tok)
	facts.number, facts.field = true, c.field("imm12")
	if tok == "#kr" {
		facts.max, facts.step = 30, 2
		return &rotationSpec{facts, hashDivided}
	}
	facts.max = 255
	if strings.HasPrefix(tok, "###") {
		return &byteSpec{facts, hashNever}
	}
	return &byteSpec{facts, hashDivided}
}

// within says how a value misses the legal ones.
func (s *specFacts) within(v int64) miss {
	switch {
	case v < 0:
		return miss{Reason: Negative, Value: v}
	case v > s.max:
		return miss{Reason: TooLarge, Value: v}
	case v%s.step != 0:
		return miss{Reason: Misaligned, Value: v}
	}
	return miss{}
}

func (s *byteSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if why := s.hash.constant(q, op); why != OK {
		return miss{Reason: why}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	if w := s.within(op.Imm); w.Reason != OK {
		return w
	}
	m.vals[s.field] |= uint32(op.Imm)
	return miss{}
}

func (s *byteSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "#" + itoa(int64(vals[s.field]&0xff))
}

func (s *byteSpec) describe(*Form) string { return "#0–255" }

func (s *rotationSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	switch {
	case op.Kind == OpImm && !q.Unified:
		return miss{Reason: OtherKind} // without a '#' in divided syntax
	case op.Writeback || op.Kind != OpImm && op.Kind != OpExpr || op.Kind == OpExpr && op.Known && !op.Bare:
		return miss{Reason: OtherKind}
	case op.Kind == OpExpr && !op.Bare && !s.hash.mayLack(q):
		return miss{Reason: NoHash}
	case !op.Known:
		m.Deferred = true
		return miss{}
	}
	v := int64(int32(op.Imm))
	if w := s.within(v); w.Reason != OK {
		return w
	}
	m.vals[s.field] |= uint32(v/2) << 8
	return miss{}
}

// write: without '#', as the divided syntax has none here.
func (s *rotationSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return itoa(int64(vals[s.field] >> 8 * 2))
}

func (s *rotationSpec) describe(*Form) string { return "#rotation" }

// widthSpec is the width of a field of bits, of which the lowest was before it.
type widthSpec struct {
	specFacts
	lowest  int8 // the field of the lowest bit
	lastBit bool // held as the last bit; else less one
	hash    hash
}

// width reads #width.msb and #width.widthm1.
func (c *specReader) width(tok string) spec {
	s := &widthSpec{specFacts: newFacts(tok), lowest: c.field("lsb"), hash: hashDivided}
	name := tok[len("#width."):]
	s.field, s.lastBit = c.field(name), name == "msb"
	s.number, s.min, s.max = true, 1, 32
	return s
}

func (s *widthSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	lowest := int64(m.vals[s.lowest])
	top := 32 - lowest // up to the last bit
	if why := s.hash.constant(q, op); why != OK {
		return miss{Reason: why, Max: top}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	if op.Imm < 1 || op.Imm > top {
		return miss{Reason: TooLarge, Value: op.Imm, Max: top}
	}
	m.vals[s.field] = uint32(op.Imm - 1)
	if s.lastBit {
		m.vals[s.field] = uint32(lowest + op.Imm - 1)
	}
	return miss{}
}

func (s *widthSpec) value(vals *[maxFields]uint32) int64 {
	v := int64(vals[s.field])
	if s.lastBit {
		v -= int64(vals[s.lowest])
	}
	return v + 1
}

func (s *widthSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "#" + itoa(s.value(vals))
}

func (s *widthSpec) describe(*Form) string { return "#1–32" }

func (s *widthSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return constantOperand(s.value(vals)), true
}

// optionSpec is a number in braces.
type optionSpec struct {
	specFacts
	numberFacts
}

// option reads {#imm8}.
func (c *specReader) option(tok string) spec {
	s := &optionSpec{specFacts: newFacts(tok)}
	c.readNumber(&s.specFacts, &s.numberFacts, strings.Trim(tok, "{#}"))
	return s
}

func (s *optionSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if op.Kind != OpOption {
		return miss{Reason: OtherKind}
	}
	return s.store(&s.specFacts, op, PartAll, m)
}

func (s *optionSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "{" + itoa(s.value(&s.specFacts, vals)) + "}"
}

func (s *optionSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpOption, Known: true, Imm: s.value(&s.specFacts, vals)}, true
}
