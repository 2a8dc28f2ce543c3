package isa

import "strings"

// baseReg is the base register of a memory operand: from a field, or, where that is
// -1, the one register that it can be.
type baseReg struct {
	base  int8
	fixed Reg
	not   regNot
}

// readBase reads Rn, Rn^, Rn^sp or the name of a register.
func (c *specReader) readBase(t string) (b baseReg) {
	t, b.not.sp = strings.CutSuffix(t, "^sp")
	t, b.not.pc = strings.CutSuffix(t, "^")
	b.base, b.fixed = c.fieldOrReg(t)
	return b
}

// check compares and stores the base register of an operand.
func (b *baseReg) check(r *Row, q *Query, op *Operand, m *binding) miss {
	switch {
	case b.base < 0:
		if op.Reg != b.fixed {
			return miss{Reason: OtherReg, Part: PartBase, Reg: op.Reg}
		}
		return miss{}
	case op.Reg > 7 && r.fields[b.base].width == 3:
		return miss{Reason: HighReg, Part: PartBase, Reg: op.Reg}
	case b.not.has(op.Reg, q.Have):
		return miss{Reason: OtherReg, Part: PartBase, Reg: op.Reg}
	}
	m.vals[b.base] = uint32(op.Reg)
	return miss{}
}

func (b *baseReg) reg(vals *[maxFields]uint32) Reg {
	if b.base < 0 {
		return b.fixed
	}
	return Reg(vals[b.base])
}

func (b *baseReg) mayBe(have Features, vals *[maxFields]uint32) bool {
	return b.base < 0 || !b.not.has(Reg(vals[b.base]), have)
}

func (b *baseReg) excludes() bool { return b.not.pc || b.not.sp }

// memSpec is [Rn], [Rn, #imm] or [Rn, Rm], not indexed.
type memSpec struct {
	specFacts
	numberFacts
	baseReg
	off      OffKind
	notIndex regNot
	// With OffShift: LSL by a constant in the field shift, -1 for the one that there
	// is; a shift of 0 may be left out where the field holds it.
	shift int8
}

var withoutMarks = strings.NewReplacer("^sp", "", "^", "", "l#", "l #")

// memory reads [Rn], [Rn, #imm5*4], [Rn, Rm^^] and [Rn, Rm^^, lsl#imm2].
func (c *specReader) memory(tok string) spec {
	s := &memSpec{specFacts: newFacts(withoutMarks.Replace(tok)), shift: -1}
	s.shape = OpMem
	base, off, _ := strings.Cut(strings.Trim(tok, "[]"), ",")
	s.baseReg = c.readBase(strings.TrimSpace(base))
	off, shift, shifted := strings.Cut(strings.TrimSpace(off), ",")
	switch {
	case off == "":
		s.off = OffNone
	case off[0] == '#':
		s.off, s.limited, s.growth = OffImm, true, growsByNumber
		c.readNumber(&s.specFacts, &s.numberFacts, off[1:])
	default:
		s.off = OffReg
		off, s.notIndex.sp = strings.CutSuffix(off, "^^")
		s.notIndex.pc = s.notIndex.sp || shifted
		s.field = c.field(off)
	}
	if shifted {
		s.off = OffShift
		_, n, _ := strings.Cut(shift, "#")
		by := newFacts("")
		c.readNumber(&by, &numberFacts{}, n)
		s.shift, s.min, s.max = by.field, by.min, by.max
	}
	return s
}

func (s *memSpec) check(f *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpMem {
		return miss{Reason: OtherKind}
	}
	switch {
	case op.Writeback || op.Post:
		return miss{Reason: NoWriteback, Part: PartOffset}
	case !s.takes(op),
		op.Minus && !s.neg && (s.off != OffImm || q.Unified || f.Row.full()): // -0 is of encodings with a bit for the sign
		return miss{Reason: OtherKind, Part: PartOffset}
	case op.Bare && !q.Unified:
		return miss{Reason: NoHash, Part: PartOffset}
	}
	if w := s.baseReg.check(f.Row, q, op, m); w.Reason != OK {
		return w
	}
	switch s.off {
	case OffImm:
		if s.neg && op.Minus { // -0
			return miss{}
		}
		return s.store(&s.specFacts, op, PartOffset, m)
	case OffReg, OffShift:
		return s.index(f, q, op, m)
	}
	return miss{}
}

// takes says whether the offset is of the right shape.
func (s *memSpec) takes(op *Operand) bool {
	if s.off == OffShift {
		return op.Off == OffShift && op.Shift == LSL || op.Off == OffReg && s.min <= 0
	}
	return op.Off == s.off
}

// index checks an index register and its shift.
func (s *memSpec) index(f *Form, q *Query, op *Operand, m *binding) miss {
	switch {
	case op.Index > 7 && f.Row.fields[s.field].width == 3:
		return miss{Reason: HighReg, Part: PartOffset, Reg: op.Index}
	case s.notIndex.has(op.Index, q.Have):
		return miss{Reason: OtherReg, Part: PartOffset, Reg: op.Index}
	}
	m.vals[s.field] = uint32(op.Index)
	switch {
	case op.Off == OffReg:
	case !op.Known:
		m.Deferred = true
	case op.Imm < s.min || op.Imm > s.max:
		return miss{Reason: TooLarge, Part: PartShift, Value: op.Imm}
	case s.shift >= 0:
		m.vals[s.shift] = uint32(op.Imm)
	}
	return miss{}
}

func (s *memSpec) may(_ *Form, have Features, vals *[maxFields]uint32) bool {
	return s.mayBe(have, vals) && (s.off < OffReg || !s.notIndex.has(Reg(vals[s.field]), have))
}

func (s *memSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	text := "[" + s.reg(vals).String()
	switch s.off {
	case OffImm:
		v := itoa(s.value(&s.specFacts, vals))
		if s.neg && v == "0" {
			v = "-0"
		}
		text += ", #" + v
	case OffReg:
		text += ", " + Reg(vals[s.field]).String()
	case OffShift:
		text += ", " + Reg(vals[s.field]).String() + ", lsl #" + itoa(s.shiftBy(vals))
	}
	return text + "]"
}

func (s *memSpec) shiftBy(vals *[maxFields]uint32) int64 {
	if s.shift >= 0 {
		return int64(vals[s.shift])
	}
	return s.min
}

func (s *memSpec) describe(*Form) string {
	if s.off == OffImm {
		front, _, _ := strings.Cut(s.text, "#")
		return front + "#" + s.limits() + "]"
	}
	return s.text
}

func (s *memSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (o Operand, ok bool) {
	o = Operand{Kind: OpMem, Reg: s.reg(vals), Off: s.off}
	switch s.off {
	case OffImm:
		o.Known, o.Imm = true, s.value(&s.specFacts, vals)
	case OffReg:
		o.Index = Reg(vals[s.field])
	case OffShift:
		o.Index, o.Shift, o.Known, o.Imm = Reg(vals[s.field]), LSL, true, s.shiftBy(vals)
		if o.Imm == 0 {
			o.Off, o.Shift = OffReg, NoShift
		}
	}
	return o, true
}

func (s *memSpec) waits(*Row) bool { return s.off == OffImm || s.off == OffReg }
func (s *memSpec) strict() bool    { return s.excludes() }

// addrSpec is [Rn, offset] with ways to index.
type addrSpec struct {
	specFacts
	baseReg
	off        OffKind
	imm5       int8 // with OffShift: the amount of the shift
	notPC      bool // the index
	postOnly   bool // indexed after the access only
	notIndexed bool
	below      bool // not indexed, the offset is negative
}

// plainAddress makes an address that is not indexed look like others.
var plainAddress = strings.NewReplacer("[", "<", "]", ">", "±", "")

// address reads <Rn, imm12> and what is like it; see a32core.go.
func (c *specReader) address(tok string) spec {
	s := &addrSpec{specFacts: newFacts(tok), imm5: -1, notIndexed: tok[0] == '['}
	s.shape = OpMem
	if s.notIndexed {
		tok = plainAddress.Replace(tok)
	}
	base, off, _ := strings.Cut(tok[1:], ",")
	off, s.postOnly = strings.CutSuffix(off, "+")
	off, s.below = strings.CutSuffix(off, "-")
	s.baseReg = c.readBase(base)
	off = strings.TrimSpace(strings.TrimSuffix(off, ">"))
	reg, _, shifted := strings.Cut(off, ",")
	if strings.HasPrefix(off, "imm") {
		s.off = OffImm
		c.readNumber(&s.specFacts, &numberFacts{}, off)
		s.min = -s.max
		return s
	}
	reg, s.notPC = strings.CutSuffix(reg, "^")
	s.off, s.field = OffReg, c.field(reg)
	if shifted {
		s.off, s.imm5 = OffShift, c.field("imm5")
	}
	return s
}

func (s *addrSpec) check(f *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpMem {
		return miss{Reason: OtherKind}
	}
	if w := s.shapeOf(q, op); w.Reason != OK {
		return w
	}
	if w := s.baseReg.check(f.Row, q, op, m); w.Reason != OK {
		return w
	}
	s.indexing(f.Row, op, m)
	if s.off == OffImm {
		return s.offset(f.Row, op, m)
	}
	return s.index(f.Row, op, m)
}

// shapeOf checks the shape of the offset and the way to index.
func (s *addrSpec) shapeOf(q *Query, op *Operand) miss {
	none := op.Off == OffNone
	switch {
	case s.off == OffImm && !none && op.Off != OffImm,
		s.off == OffReg && op.Off != OffReg,
		s.off == OffShift && op.Off != OffReg && op.Off != OffShift,
		op.Off == OffShift && op.Shift == NoShift,
		op.Post && op.Writeback:
		return miss{Reason: OtherKind, Part: PartOffset}
	case s.postOnly && !op.Post && !none && (op.Off != OffImm || !op.Known || op.Imm != 0):
		// An offset of 0 may be inside.
		return miss{Reason: OtherKind, Part: PartOffset}
	case (op.Post || op.Writeback || s.postOnly) && op.Reg == PC:
		return miss{Reason: OtherReg, Part: PartBase, Reg: PC}
	case s.notIndexed && (op.Writeback || op.Post):
		return miss{Reason: NoWriteback, Part: PartOffset}
	case op.Bare && !q.Unified:
		return miss{Reason: NoHash, Part: PartOffset}
	}
	return miss{}
}

// indexing stores the bits P and W.
func (s *addrSpec) indexing(r *Row, op *Operand, m *binding) {
	p, w := r.at.p, r.at.w
	if p < 0 {
		return
	}
	m.vals[p], m.vals[w] = 1, 0
	if op.Writeback {
		m.vals[w] = 1
	}
	if op.Post {
		m.vals[p] = 0
		if r.at.coproc >= 0 || r.State == T {
			m.vals[w] = 1
		}
	}
}

// up stores the bit U.
func (s *addrSpec) up(r *Row, m *binding, yes bool) {
	if i := r.at.u; i >= 0 {
		m.vals[i] = 0
		if yes {
			m.vals[i] = 1
		}
	}
}

// offset checks a constant offset.
func (s *addrSpec) offset(r *Row, op *Operand, m *binding) miss {
	s.up(r, m, true)
	below := s.below && !op.Writeback && !op.Post
	if op.Off == OffNone {
		if below {
			return miss{Reason: OtherKind, Part: PartOffset}
		}
		return miss{}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	v := int64(int32(op.Imm))
	up := v > 0 || v == 0 && !op.Minus
	switch {
	case v < s.min || v > s.max, v%s.step == 0 && below && up:
		return miss{Reason: TooLarge, Part: PartOffset, Value: op.Imm}
	case v%s.step != 0:
		return miss{Reason: Misaligned, Part: PartOffset, Value: op.Imm}
	}
	s.up(r, m, up)
	m.vals[s.field] = uint32(max(v, -v) / s.step)
	return miss{}
}

// index checks an index register and its shift.
func (s *addrSpec) index(r *Row, op *Operand, m *binding) miss {
	if s.off == OffShift {
		m.vals[s.imm5], m.vals[r.at.typ] = 0, 0
		if op.Off == OffShift {
			if w := storeShift(op, s.imm5, r.at.typ, m); w.Reason != OK {
				return w
			}
		}
	}
	if s.notPC && op.Index == PC {
		return miss{Reason: OtherReg, Part: PartOffset, Reg: PC}
	}
	s.up(r, m, !op.Minus)
	m.vals[s.field] = uint32(op.Index)
	return miss{}
}

func (s *addrSpec) may(_ *Form, have Features, vals *[maxFields]uint32) bool {
	return s.mayBe(have, vals) && !(s.notPC && vals[s.field] == uint32(PC))
}

// read gives the operand that the fields hold.
func (s *addrSpec) read(f *Form, vals *[maxFields]uint32) Operand {
	at, get := &f.Row.at, func(i int8) uint32 {
		if i < 0 {
			return 0
		}
		return vals[i]
	}
	o := Operand{Kind: OpMem, Reg: s.reg(vals), Off: s.off, Minus: at.u >= 0 && get(at.u) == 0}
	o.Post = s.postOnly || at.p >= 0 && get(at.p) == 0
	o.Writeback = !o.Post && get(at.w) != 0
	if s.off == OffImm {
		if o.Known, o.Imm = true, int64(vals[s.field])*s.step; o.Minus {
			o.Imm = -o.Imm
		}
		return o
	}
	o.Index = Reg(vals[s.field])
	if s.off == OffShift {
		if typ, imm5 := get(at.typ), vals[s.imm5]; typ == 0 && imm5 == 0 {
			o.Off, o.Shift, o.Known = OffReg, LSL, true
		} else {
			o.Shift, o.Imm = readShift(typ, imm5)
			o.Known = true
		}
	}
	return o
}

func (s *addrSpec) write(f *Form, vals *[maxFields]uint32, _ int64) string {
	o := s.read(f, vals)
	sign := ""
	if o.Minus {
		sign = "-"
	}
	base, off := "["+o.Reg.String(), sign+o.Index.String()
	switch o.Off {
	case OffImm:
		off = "#" + sign + itoa(max(o.Imm, -o.Imm))
	case OffShift:
		off += ", " + shiftText(o.Shift, o.Imm)
	}
	switch {
	case o.Post:
		return base + "], " + off
	case o.Writeback:
		return base + ", " + off + "]!"
	}
	return base + ", " + off + "]"
}

func (s *addrSpec) describe(*Form) string {
	off := map[OffKind]string{OffImm: "#±" + itoa(s.max), OffReg: "±Rm", OffShift: "±Rm, shift"}[s.off]
	if s.step > 1 {
		off += " by " + itoa(s.step)
	}
	switch {
	case s.postOnly:
		return "[Rn], " + off
	case s.base < 0:
		return "[" + s.fixed.String() + ", " + off + "]"
	}
	return "[Rn, " + off + "]"
}

func (s *addrSpec) operand(f *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	o := s.read(f, vals)
	if s.off == OffImm {
		if o.Minus = false; o.Imm == 0 && !o.Post && !o.Writeback {
			o.Off = OffNone
		}
	}
	return o, true
}

func (s *addrSpec) waits(r *Row) bool { return r.State == A || s.off != OffShift }
func (s *addrSpec) strict() bool      { return s.notPC || s.excludes() }
