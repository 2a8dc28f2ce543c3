package isa

import (
	"math/bits"
	"strings"
)

// lowListSpec is a register list of T16: r0–r7, and one register with a bit of its
// own.
type lowListSpec struct {
	specFacts
	list     int8
	extra    RegList
	extraBit int8 // the field of that bit, -1 for none
}

// lowList reads {list} and {list+lr}.
func (c *specReader) lowList(tok string) spec {
	s := &lowListSpec{specFacts: newFacts(tok), extraBit: -1}
	s.shape = OpList
	list, extra, with := strings.Cut(strings.Trim(tok, "{}"), "+")
	s.list = c.field(list)
	if with {
		g, _ := RegByName(extra)
		s.extra, s.extraBit = 1<<g, c.field("M")
		c.row.more |= s.extra
	}
	return s
}

func (s *lowListSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	switch bad := op.List &^ (0xff | s.extra); {
	case op.Kind != OpList:
		return miss{Reason: OtherKind}
	case op.Writeback:
		return miss{Reason: NoWriteback}
	case op.List == 0:
		return miss{Reason: EmptyList}
	case bad != 0:
		return miss{Reason: BadList, Reg: bad.lowest(), Part: PartList}
	}
	m.vals[s.list] = uint32(op.List & 0xff)
	if s.extraBit >= 0 && op.List&s.extra != 0 {
		m.vals[s.extraBit] = 1
	}
	return miss{}
}

// lowest is the register of the lowest number in a list that is not empty.
func (l RegList) lowest() Reg { return Reg(bits.TrailingZeros16(uint16(l))) }

func (s *lowListSpec) held(vals *[maxFields]uint32) RegList {
	l := RegList(vals[s.list])
	if s.extraBit >= 0 && vals[s.extraBit] != 0 {
		l |= s.extra
	}
	return l
}

func (s *lowListSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return s.held(vals).String()
}

func (s *lowListSpec) describe(*Form) string {
	l := "{r0–r7"
	for r := Reg(0); r < 16; r++ {
		if s.extra.Has(r) {
			l += ", " + r.String()
		}
	}
	return l + "}"
}

func (s *lowListSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpList, List: s.held(vals)}, true
}

func (s *lowListSpec) waits(*Row) bool    { return true }
func (s *lowListSpec) gets(w regRef) bool { return w.list }

// listSpec is a register list of an encoding of full width.
type listSpec struct {
	specFacts
	list  int8
	user  int8    // the field of the '^', -1 for none
	ban   RegList // none of these
	oneOf bool    // only one of lr and pc
}

// list reads {list}, {list-sp}, {list-both} and {list}^.
func (c *specReader) list(tok string) spec {
	s := &listSpec{specFacts: newFacts(tok), list: c.field("list"), user: -1}
	s.shape = OpList
	_, ban, _ := strings.Cut(strings.Trim(tok, "{}^"), "-")
	s.ban, s.oneOf = regNamesIn(ban), strings.HasSuffix(ban, "both")
	if strings.HasSuffix(tok, "^") {
		s.user = c.field("S")
	}
	return s
}

func (s *listSpec) check(_ *Form, _ *Query, op *Operand, m *binding) miss {
	switch {
	case op.Kind != OpList:
		return miss{Reason: OtherKind}
	case op.Writeback && s.user < 0:
		return miss{Reason: NoWriteback}
	case op.Writeback:
		m.vals[s.user] = 1
	}
	if op.List == 0 {
		return miss{Reason: EmptyList}
	}
	m.vals[s.list] = uint32(op.List)
	if bad := s.banned(op.List); bad != 0 {
		return miss{Reason: BadList, Reg: bad.lowest(), Part: PartList}
	}
	return miss{}
}

// banned are the registers of a list that it cannot have.
func (s *listSpec) banned(l RegList) RegList {
	bad := l & s.ban
	if s.oneOf && l.Has(LR) && l.Has(PC) {
		bad |= 1 << LR
	}
	return bad
}

func (s *listSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return s.banned(RegList(vals[s.list])) == 0
}

func (s *listSpec) ofUser(vals *[maxFields]uint32) bool { return s.user >= 0 && vals[s.user] != 0 }

func (s *listSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	l := RegList(vals[s.list]).String()
	if s.ofUser(vals) {
		l += "^"
	}
	return l
}

func (s *listSpec) describe(*Form) string {
	if s.ban != 0 {
		return strings.ReplaceAll((^s.ban).String(), "-", "–")
	}
	return "{registers}"
}

func (s *listSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpList, List: RegList(vals[s.list]), Writeback: s.ofUser(vals)}, true
}

func (s *listSpec) waits(*Row) bool    { return true }
func (s *listSpec) gets(w regRef) bool { return w.list }

// oneSpec is a register list of one register, in a field.
type oneSpec struct {
	specFacts
	ban RegList
}

// oneInList reads {=Rt} and {=Rt-sp}.
func (c *specReader) oneInList(tok string) spec {
	s := &oneSpec{specFacts: newFacts(tok)}
	name, ban, _ := strings.Cut(strings.Trim(tok, "{=}"), "-")
	s.shape, s.field, s.ban = OpList, c.field(name), regNamesIn(ban)
	return s
}

func (s *oneSpec) check(f *Form, _ *Query, op *Operand, m *binding) miss {
	switch {
	case op.Kind != OpList || op.Writeback:
		return miss{Reason: OtherKind}
	case op.List.Count() != 1, op.List > 0xff && !f.Row.full(), op.List&s.ban != 0:
		return miss{Reason: OtherKind, Part: PartList}
	}
	m.vals[s.field] = uint32(op.List.lowest())
	return miss{}
}

func (s *oneSpec) may(_ *Form, _ Features, vals *[maxFields]uint32) bool {
	return !s.ban.Has(Reg(vals[s.field]))
}

func (s *oneSpec) write(_ *Form, vals *[maxFields]uint32, _ int64) string {
	return "{" + Reg(vals[s.field]).String() + "}"
}

func (s *oneSpec) describe(f *Form) string {
	if f.Row.full() {
		return "{register}"
	}
	return "{one of r0–r7}"
}

func (s *oneSpec) operand(_ *Form, vals *[maxFields]uint32, _ int64) (Operand, bool) {
	return Operand{Kind: OpList, List: 1 << vals[s.field]}, true
}

func (s *oneSpec) waits(*Row) bool    { return true }
func (s *oneSpec) gets(w regRef) bool { return w.field >= 0 && w.field == s.field && !w.mem && !w.list }
