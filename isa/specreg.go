package isa

import (
	"fmt"
	"strings"
)

// field is the index of a field; a mistake if there is none.
func (c *specReader) field(name string) int8 {
	i := c.row.fieldIndex(name)
	if i < 0 && c.err == nil {
		c.err = fmt.Errorf("no field %s", name)
	}
	return i
}

// fieldOrReg is a field, or -1 and the one register that a name means.
func (c *specReader) fieldOrReg(name string) (field int8, fixed Reg) {
	if g, ok := RegByName(name); ok {
		return -1, g
	}
	return c.field(name), NoReg
}

// set notes that an operand sets a field, and says whether an earlier one has.
func (c *specReader) set(field int8) (again bool) {
	if field < 0 {
		return false
	}
	again = c.seen[field]
	c.seen[field] = true
	return again
}

// regNamesIn is the set of the registers named in a list with dashes.
func regNamesIn(list string) (l RegList) {
	for _, n := range strings.Split(list, "-") {
		if g, ok := RegByName(n); ok {
			l |= 1 << g
		}
	}
	return l
}

// writeBack says how the '!' after a register or a constant counts.
type writeBack struct {
	field int8 // holds whether it is there, -1: none
	must  bool
	may   bool // and means nothing
}

// check notes a '!' that is there, or not.
func (w writeBack) check(op *Operand, m *binding) miss {
	switch {
	case w.field >= 0:
		if op.Writeback {
			m.vals[w.field] = 1
		}
	case w.may || op.Writeback == w.must:
	case op.Writeback:
		return miss{Reason: NoWriteback}
	default:
		return miss{Reason: NeedWB}
	}
	return miss{}
}

// written says whether the '!' is written.
func (w writeBack) written(vals *[maxFields]uint32) bool {
	return w.must || w.may || w.field >= 0 && vals[w.field] != 0
}

// regSpec is a register from a field.
type regSpec struct {
	specFacts
	also int8 // a second field that gets the same value (two-operand spelling), -1
	next int8 // the field of the register after it, -1
	same bool // the field was set by an earlier operand and must be equal
	wb   writeBack
	high bool // r8–r15 only
	even bool
	not  regNot
	ban  RegList // none of these
}

// fixedSpec is one register only.
type fixedSpec struct {
	specFacts
	reg       Reg
	writeback writeBack
}

// register reads Rd, with marks around it, or the name of a register.
func (c *specReader) register(tok string) spec {
	s := regSpec{specFacts: newFacts(tok), also: -1, next: -1, wb: writeBack{field: -1}}
	s.shape = OpReg
	switch bare, maybe := strings.CutSuffix(tok, "!?"); {
	case maybe && c.row.full():
		tok, s.text, s.wb.field = bare, bare+"{!}", c.row.fieldIndex("W")
	case maybe:
		tok, s.wb.may = bare, true
	default:
		tok, s.wb.must = strings.CutSuffix(tok, "!")
	}
	if one, next, pair := strings.Cut(tok, "+"); pair && next != "" {
		tok, s.text, s.next = one, one, c.field(next)
	}
	if one, ban, some := strings.Cut(tok, "-"); some {
		tok, s.text, s.ban = one, one, regNamesIn(ban)
	}
	if one, high := strings.CutSuffix(tok, "+"); high {
		tok, s.text, s.high = one, one, true
	}
	if strings.HasSuffix(tok, "^") {
		s.not = regNot{pc: true, sp: strings.HasSuffix(tok, "^^")}
		tok = strings.TrimRight(tok, "^")
		s.text = strings.ReplaceAll(s.text, "^", "")
	}
	if one, even := strings.CutSuffix(tok, "%2"); even {
		tok, s.text, s.even = one, one, true
	}
	one, two, both := strings.Cut(tok, "=")
	field, fixed := c.fieldOrReg(one)
	if field < 0 {
		return &fixedSpec{specFacts: s.specFacts, reg: fixed, writeback: s.wb}
	}
	s.field = field
	if both {
		s.also = c.field(two)
		c.set(s.also)
	}
	s.same = c.set(field)
	return &s
}

func (s *regSpec) check(f *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpReg {
		return miss{Reason: OtherKind}
	}
	if op.Writeback || s.wb.must || s.wb.field >= 0 {
		if w := s.wb.check(op, m); w.Reason != OK {
			return w
		}
	}
	switch {
	case op.Reg > 7 && f.Row.fields[s.field].width == 3:
		return miss{Reason: HighReg, Reg: op.Reg}
	case s.high && op.Reg < 8:
		return miss{Reason: NeedHigh, Reg: op.Reg}
	case s.not.has(op.Reg, q.Have), s.ban.Has(op.Reg):
		return miss{Reason: OtherReg, Reg: op.Reg}
	case s.same:
		if m.vals[s.field] != uint32(op.Reg) {
			return miss{Reason: SameReg, Reg: op.Reg}
		}
		return miss{}
	}
	m.vals[s.field] = uint32(op.Reg)
	if s.also >= 0 {
		m.vals[s.also] = uint32(op.Reg)
	}
	if s.next >= 0 {
		if op.Reg >= LR || op.Reg == 12 && !q.Have.Has(FeatV8) {
			return miss{Reason: OtherReg, Reg: op.Reg} // the next one cannot be meant
		}
		m.vals[s.next] = uint32(op.Reg) + 1
	}
	if s.even && (op.Reg&1 != 0 || op.Reg == LR) {
		return miss{Reason: OddReg, Reg: op.Reg}
	}
	return miss{}
}

func (s *regSpec) may(_ *Form, have Features, vals *[maxFields]uint32) bool {
	return !s.not.has(Reg(vals[s.field]), have)
}

func (s *regSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return written(Reg(vals[s.field]), s.wb.written(vals))
}

func written(r Reg, wb bool) string {
	if wb {
		return r.String() + "!"
	}
	return r.String()
}

func (s *regSpec) describe(*Form) string {
	one, _, _ := strings.Cut(s.text, "=")
	return one
}

func (s *regSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpReg, Reg: Reg(vals[s.field]), Writeback: !s.wb.may && s.wb.written(vals)}, true
}

func (s *regSpec) waits(*Row) bool    { return true }
func (s *regSpec) gets(w regRef) bool { return w.field >= 0 && w.field == s.field && !w.mem && !w.list }
func (s *regSpec) strict() bool       { return s.not.pc }

func (s *fixedSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	switch {
	case op.Kind != OpReg:
		return miss{Reason: OtherKind}
	case op.Reg != s.reg:
		return miss{Reason: OtherReg, Reg: op.Reg}
	}
	return s.writeback.check(op, m)
}

func (s *fixedSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return written(s.reg, s.writeback.written(vals))
}

func (s *fixedSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpReg, Reg: s.reg, Writeback: !s.writeback.may && s.writeback.written(vals)}, true
}

func (s *fixedSpec) waits(*Row) bool { return true }
func (s *fixedSpec) gets(w regRef) bool {
	return w.field < 0 && w.reg == s.reg && !w.mem && !w.list
}

// nextSpec is the register after another field's.
type nextSpec struct{ specFacts }

// next reads next(Rt).
func (c *specReader) next(tok string) spec {
	s := &nextSpec{newFacts(tok)}
	s.shape, s.field = OpReg, c.field(strings.Trim(tok[len("next("):], ")"))
	return s
}

func (s *nextSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	switch {
	case op.Kind != OpReg || op.Writeback:
		return miss{Reason: OtherKind}
	case uint32(op.Reg) != m.vals[s.field]+1:
		return miss{Reason: OtherReg, Reg: op.Reg}
	}
	return miss{}
}

func (s *nextSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return vals[s.field]&1 == 0 && vals[s.field] != 14
}

func (s *nextSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return Reg((vals[s.field] + 1) & 15).String()
}

func (s *nextSpec) describe(*Form) string { return "the next register" }

func (s *nextSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpReg, Reg: Reg(vals[s.field]+1) & 15}, true
}
