package isa

import "strings"

// shiftSpec is one kind of shift by a constant.
type shiftSpec struct {
	specFacts
	numberFacts
	shift Shift
}

// shift reads lsl#imm5.
func (c *specReader) shift(tok string) spec {
	s := &shiftSpec{specFacts: newFacts(tok[:3] + " " + tok[3:]), shift: ShiftByName(tok[:3])}
	s.number, s.limited, s.hash = true, true, hashDivided
	c.readNumber(&s.specFacts, &s.numberFacts, tok[4:])
	return s
}

func (s *shiftSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpShift || op.Shift != s.shift || op.Reg < 16 || op.Bare && !s.hash.mayLack(q) {
		return miss{Reason: OtherKind}
	}
	return s.store(&s.specFacts, op, PartShift, m)
}

func (s *shiftSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	n := s.value(&s.specFacts, vals)
	return n >= s.min && n <= s.max
}

func (s *shiftSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return shiftText(s.shift, s.value(&s.specFacts, vals))
}

func (s *shiftSpec) describe(*Form) string { return s.shift.String() + " #" + s.limits() }

func (s *shiftSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpShift, Shift: s.shift, Reg: NoReg, Known: true, Imm: s.value(&s.specFacts, vals)}, true
}

func (s *shiftSpec) waits(r *Row) bool { return r.State == A && s.field >= 0 || r.size == 2 }

// shiftByRegSpec is one kind of shift by a register.
type shiftByRegSpec struct {
	specFacts
	shift Shift
	not   regNot
}

// shiftByReg reads lsl-Rm^^.
func (c *specReader) shiftByReg(tok string) spec {
	name := strings.TrimRight(tok[4:], "^")
	s := &shiftByRegSpec{specFacts: newFacts(tok[:3] + " " + name), shift: ShiftByName(tok[:3])}
	s.field, s.not = c.field(name), regNot{pc: strings.HasSuffix(tok, "^"), sp: strings.HasSuffix(tok, "^^")}
	return s
}

func (s *shiftByRegSpec) check(f *Form, q *Query, op *Operand, m *binding) miss {
	switch {
	case op.Kind != OpShift || op.Shift != s.shift || op.Reg > 15:
		return miss{Reason: OtherKind}
	case op.Reg > 7 && f.Row.fields[s.field].width == 3:
		return miss{Reason: HighReg, Reg: op.Reg}
	case s.not.has(op.Reg, q.Have):
		return miss{Reason: OtherReg, Reg: op.Reg}
	}
	m.vals[s.field] = uint32(op.Reg)
	return miss{}
}

func (s *shiftByRegSpec) may(_ *Form, have Features, vals *[maxFields]uint32) bool {
	return !s.not.has(Reg(vals[s.field]), have)
}

func (s *shiftByRegSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return s.shift.String() + " " + Reg(vals[s.field]).String()
}

func (s *shiftByRegSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpShift, Shift: s.shift, Reg: Reg(vals[s.field])}, true
}

func (s *shiftByRegSpec) strict() bool { return s.not.pc }

// anyShiftSpec is any shift by a constant, or RRX.
type anyShiftSpec struct {
	specFacts
	kind int8 // the field of its kind
}

// anyShift reads "shift".
func (c *specReader) anyShift(tok string) spec {
	s := &anyShiftSpec{newFacts(tok), c.field("type")}
	s.number, s.field = true, c.field("imm5")
	return s
}

func (s *anyShiftSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpShift || op.Reg < 16 {
		return miss{Reason: OtherKind}
	}
	if op.Bare && !q.Unified {
		return miss{Reason: NoHash}
	}
	return storeShift(op, s.field, s.kind, m)
}

// storeShift stores a shift by a constant in imm5 and type.
func storeShift(op *Operand, imm5, typ int8, m *binding) miss {
	if op.Shift == RRX {
		m.vals[imm5], m.vals[typ] = 0, 3
		return miss{}
	}
	m.vals[typ] = uint32(op.Shift - LSL)
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	v, top := op.Imm, int64(31)
	if op.Shift == LSR || op.Shift == ASR {
		top = 32
	}
	switch {
	case v < 0:
		return miss{Reason: Negative, Part: PartShift, Value: v, Max: top}
	case v > top:
		return miss{Reason: TooLarge, Part: PartShift, Value: v, Max: top}
	case v == 0:
		m.vals[typ] = 0 // no shift
	}
	m.vals[imm5] = uint32(v) & 31
	return miss{}
}

// readShift is the shift that imm5 and type hold.
func readShift(typ, imm5 uint32) (Shift, int64) {
	switch {
	case typ == 3 && imm5 == 0:
		return RRX, 0
	case imm5 == 0 && typ != 0:
		imm5 = 32
	}
	return Shift(typ + uint32(LSL)), int64(imm5)
}

func shiftText(s Shift, by int64) string {
	if s == RRX {
		return s.String()
	}
	return s.String() + " #" + itoa(by)
}

func (s *anyShiftSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return shiftText(readShift(vals[s.kind], vals[s.field]))
}

func (s *anyShiftSpec) describe(*Form) string { return "shift #0–32" }

func (s *anyShiftSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	o := Operand{Kind: OpShift, Reg: NoReg, Known: true}
	o.Shift, o.Imm = readShift(vals[s.kind], vals[s.field])
	return o, true
}

func (s *anyShiftSpec) waits(r *Row) bool { return r.State == A || r.size == 2 }

// anyShiftByRegSpec is any shift by a register.
type anyShiftByRegSpec struct {
	specFacts
	kind int8 // the field of its kind
}

// anyShiftByReg reads shift.Rs.
func (c *specReader) anyShiftByReg(tok string) spec {
	s := &anyShiftByRegSpec{newFacts(tok), c.field("type")}
	s.field = c.field(tok[len("shift."):])
	return s
}

func (s *anyShiftByRegSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	if op.Kind != OpShift || op.Reg > 15 || op.Shift == RRX {
		return miss{Reason: OtherKind}
	}
	m.vals[s.field], m.vals[s.kind] = uint32(op.Reg), uint32(op.Shift-LSL)
	return miss{}
}

func (s *anyShiftByRegSpec) held(vals *[maxFields]uint32) Shift {
	return Shift(vals[s.kind] + uint32(LSL))
}

func (s *anyShiftByRegSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return s.held(vals).String() + " " + Reg(vals[s.field]).String()
}

func (s *anyShiftByRegSpec) describe(*Form) string { return "shift Rs" }

func (s *anyShiftByRegSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpShift, Shift: s.held(vals), Reg: Reg(vals[s.field])}, true
}
