package isa

import (
	"math/bits"
	"strings"
)

// Query is what the meaning of a statement depends on besides its text.
type Query struct {
	Have    Features
	Unified bool  // .syntax unified
	PC      int64 // address of the statement in its section
	Width   byte  // 'n' or 'w' when written behind the mnemonic
	A32     bool  // the core executes A32 code; else that of the compact state
	IT      Slot  // in the compact state
}

// Slot is the place of a statement in an IT block.
type Slot struct {
	In   bool // in a block
	Last bool // its last instruction
	Cond Cond // what holds there
}

// Match is a statement bound to an encoding.
type Match struct {
	Form *Form
	// Deferred: some value was not known and counts as 0.
	Deferred bool
	// Odd: a branch's target had bit 0 set, which the encoding cannot hold.
	Odd  bool
	it   bool // in an IT block of the condition
	cond Cond
	vals [maxFields]uint32
}

// Values of the encoding's fields.
func (m *Match) Values() Values {
	return Values{row: m.Form.Row, vals: m.vals, inBlock: m.it && m.cond != AL}
}

// Encode gives the machine code: a halfword, or two of which the first is the
// upper half.
func (m *Match) Encode() uint32 {
	r := m.Form.Row
	w := r.value
	for i := range r.fields {
		w |= r.fields[i].put(m.vals[i])
	}
	return w
}

// Second is the second word of what assembles to two instructions, of which
// Encode is the first; ok is false where there is one.
func (m *Match) Second() (word uint32, ok bool) {
	if f := m.Form.Row.Second; f != nil {
		return f(m.Values()), true
	}
	return 0, false
}

// Cautions calls emit for each caution of the row that applies on an
// architecture with the features have.
func (m *Match) Cautions(have Features, emit func(*Caution)) {
	r, v := m.Form.Row, m.Values()
	for i := range r.Cautions {
		if c := &r.Cautions[i]; c.applies(v, have) {
			emit(c)
		}
	}
	switch m.Form.base {
	case baseBlunt:
		if m.Effects().WritesMem || !m.Form.baseInList(&m.vals) {
			emit(&bluntCaution)
		}
	case baseVain:
		if m.Form.baseInList(&m.vals) {
			emit(&vainCaution)
		}
	}
}

// Refused says whether a caution applies for which assemblers refuse the line.
func (m *Match) Refused(have Features) bool {
	refused := false
	m.Cautions(have, func(c *Caution) { refused = refused || c.Refused })
	return refused
}

// Match finds the first form of mn that takes the operands. ok is false when none
// does; Refuse then says why.
func (mn *Mnemonic) Match(q *Query, ops []Operand) (m Match, ok bool) {
	if q.A32 {
		return mn.matchA(q, ops)
	}
	if s := mn.arm.stem; s != nil && s.vector {
		return mn.matchV(q, ops)
	}
	for _, f := range mn.Forms {
		if len(f.ops) != len(ops) || !f.exists(q) || f.slot(mn, q) != OK {
			continue
		}
		if f.fit(q, ops, &m) && (!q.IT.In || q.IT.Last || !m.leaves()) {
			m.Form = f
			m.it, m.cond = q.IT.In, q.IT.Cond
			return m, true
		}
	}
	return Match{}, false
}

// slot says whether the form may stand in its place: inside or outside of an IT
// block, under the condition of its name (Arm ARM, "IT").
func (f *Form) slot(mn *Mnemonic, q *Query) Reason {
	switch {
	case !q.IT.In && mn.spelt && !f.own && !f.free(q) && (mn.cond != AL || f.Row.size == 2 || f.Row.Flow != FlowNext):
		return NeedIT
	case q.IT.In && (f.it == itOut || f.Row.IT == ITNever):
		return InBlock
	case q.IT.In && mn.cond != q.IT.Cond && f.Row.IT < ITNeutral:
		return OtherCond
	case q.IT.In && q.IT.Cond == AL && f.Row.IT < ITNeutral && f.Row.Flow != FlowJump && f.Row.Flow != FlowCall && f.Row.Flow != FlowReg:
		return InBlock // assemblers take branches alone under the condition AL
	case !q.IT.In && f.it == itIn:
		return NeedIT
	}
	return OK
}

// free says whether the condition of the name does not count outside an IT block,
// as assemblers have it where there are such blocks.
func (f *Form) free(q *Query) bool { return f.Row.IT == ITFree && q.Have.Has(FeatT32) }

// leaves says whether the instruction goes elsewhere, so that it has to be the
// last of an IT block, or has to be that otherwise.
func (m *Match) leaves() bool {
	if last := m.Form.Row.Last; last != LastIfLeaves {
		return last == LastAlways
	}
	e := m.Form.Row.effects(&m.vals)
	return e.Flow == FlowJump || e.Flow == FlowCall || e.Flow == FlowReg || e.Writes.Has(PC)
}

// exists says whether the form can be written at all under q.
func (f *Form) exists(q *Query) bool {
	if q.Unified && !f.Unified || !q.Unified && !f.Divided {
		return false
	}
	if !f.hasWidth(q) || f.onlyN && q.Width != 'n' && q.Have.Has(FeatT32) {
		return false
	}
	return q.Have.Has(f.Row.Need|f.Need) && q.Have&(f.Lack|f.Row.Lack) == 0
}

// hasWidth says whether the form may be written with the suffix, .n or .w, that
// is asked for. These are of the unified syntax and of the compact state.
func (f *Form) hasWidth(q *Query) bool {
	return q.Width == 0 || q.Unified && !q.A32 && (q.Width == 'w') == (f.Row.size == 4)
}

func (f *Form) fit(q *Query, ops []Operand, m *Match) bool {
	m.vals = [maxFields]uint32{}
	m.Form = f
	m.Deferred, m.Odd = false, false
	for _, x := range f.fixed {
		m.vals[x.field] = x.val
	}
	for i := range f.ops {
		if why := f.ops[i].check(f, q, &ops[i], m); why.Reason != OK {
			return false
		}
	}
	return f.tied(m) == OK
}

// tied checks what ties operands to each other.
func (f *Form) tied(m *Match) Reason {
	if f.hi && !f.anyHigh(m) {
		return NeedHigh
	}
	if f.base == baseIn || f.base == baseOut {
		switch in := f.baseInList(&m.vals); {
		case in && f.base == baseOut:
			return NoWB
		case !in && f.base == baseIn:
			return NeedWB
		}
	}
	if f.base == baseApart && f.Row.writesBack(&m.vals) && f.baseInList(&m.vals) {
		return NoWB
	}
	return OK
}

// baseInList says whether the base register of a multiple load or store, or of
// one written as such, is in its list.
func (f *Form) baseInList(vals *[maxFields]uint32) bool {
	v := Values{row: f.Row, vals: *vals}
	if f.Row.fieldIndex("list") < 0 { // one register
		return v.Get("Rt") == v.Get("Rn")
	}
	return v.Get("list")>>v.Get("Rn")&1 != 0
}

// writesBack says whether an encoding with bits for it writes its base register
// back.
func (r *Row) writesBack(vals *[maxFields]uint32) bool {
	return r.at.w >= 0 && vals[r.at.w] != 0 || r.at.p >= 0 && r.at.list < 0 && vals[r.at.p] == 0
}

// takesBase says whether the base register of a memory operand may be b.
func (s *opSpec) takesBase(b Reg, have Features) bool {
	return !(s.baseNotPC && b == PC || s.baseNotSP && b == SP && !have.Has(FeatV8))
}

func (f *Form) anyHigh(m *Match) bool {
	for i := range f.Row.fields {
		if m.vals[i] >= 8 {
			return true
		}
	}
	return false
}

// Reason says how an operand misses a form.
type Reason uint8

// The reasons, the nearest miss first.
const (
	OK          Reason = iota
	Misaligned         // a constant or offset that is no multiple of its unit
	TooLarge           // above the largest value, or below the smallest
	Negative           // negative where only zero and up exist
	Behind             // an address before PC where only those ahead are reached
	TooFar             // an address out of reach
	OddTarget          // an address that is not aligned as the form needs
	HighReg            // r8–r15 where only r0–r7 are reached
	BadList            // a register that the list cannot hold
	EmptyList          // no register in the list
	NeedWB             // the base register needs a '!'
	NoWB               // a '!' where none can be
	SameReg            // the destination must be the first source register
	NeedHigh           // at least one register must be r8–r15
	OtherReg           // one register only, and it is another one
	BadWord            // a name out of another vocabulary
	OtherKind          // an operand of another shape
	OtherCount         // another number of operands
	OtherSyntax        // spelled so only in the other syntax
	NoFeature          // not on this architecture
	OtherWidth         // no encoding of the width asked for
	NoHash             // a constant without the '#' that the divided syntax needs
	NoRotation         // a constant that is no rotation of eight bits
	OddReg             // an odd register where a pair starts
	NoCond             // a condition on what has none
	NeedIT             // a condition, or a form without flags, outside an IT block
	InBlock            // what must not stand in an IT block
	OtherCond          // another condition than its slot in the IT block has
	NotLast            // a branch that is not last in its IT block
	NoD32              // one of d16–d31 where there are sixteen double registers
	NotNext            // not the register behind the one before
	BadLane            // an element that the register does not have
	NoVFP8             // a floating-point constant that eight bits do not hold
	NoType             // no type, or another one than the operands have
	BadVList           // vector registers that cannot be moved together
	ListCount          // another number of them than the form has
	ListGap            // the registers are further apart, or nearer, than the form has them
	NoVConst           // a constant that elements cannot have
	NoPoint            // a whole number where a constant of floating point stands
	NoAlign            // an alignment that the address cannot have
)

// miss is the result of checking one operand.
type miss struct {
	Reason Reason
	Part   Part
	Reg    Reg
	Value  int64
	Max    int64 // where that hangs on the operand, as on the kind of a shift
}

// check compares one operand with what the form takes there and stores the
// field values into m.
func (s *opSpec) check(f *Form, q *Query, op *Operand, m *Match) miss {
	switch s.kind {
	case sReg:
		if op.Kind != OpReg {
			return miss{Reason: OtherKind}
		}
		if s.wbField >= 0 {
			if op.WB {
				m.vals[s.wbField] = 1
			}
		} else if s.wb != wbAny && op.WB != (s.wb == wbYes) {
			if op.WB {
				return miss{Reason: NoWB}
			}
			return miss{Reason: NeedWB}
		}
		if op.Reg > 7 && f.Row.fields[s.field].width == 3 {
			return miss{Reason: HighReg, Reg: op.Reg}
		}
		if s.high && op.Reg < 8 {
			return miss{Reason: NeedHigh, Reg: op.Reg}
		}
		if s.notPC && op.Reg == PC || s.notSP && op.Reg == SP && !q.Have.Has(FeatV8) || s.ban.Has(op.Reg) {
			return miss{Reason: OtherReg, Reg: op.Reg}
		}
		if s.same {
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
	case sFixed:
		if op.Kind != OpReg {
			return miss{Reason: OtherKind}
		}
		if op.Reg != s.reg {
			return miss{Reason: OtherReg, Reg: op.Reg}
		}
		if s.wbField >= 0 {
			if op.WB {
				m.vals[s.wbField] = 1
			}
		} else if op.WB != (s.wb == wbYes) {
			if op.WB {
				return miss{Reason: NoWB}
			}
			return miss{Reason: NeedWB}
		}
	case sImm:
		if s.lit {
			if op.Kind != OpLit || !op.Bare {
				return miss{Reason: OtherKind}
			}
			return s.number(op, op.Imm, PartAll, m)
		}
		// A bare expression may be a number; an address is none.
		if op.Kind != OpImm && (op.Kind != OpExpr || op.Known && !op.Bare || op.WB) {
			return miss{Reason: OtherKind}
		}
		if op.WB {
			if s.wbField < 0 {
				return miss{Reason: NoWB}
			}
			m.vals[s.wbField] = 1
		}
		if op.Kind == OpExpr && !s.hash.mayLack(q) {
			return miss{Reason: NoHash}
		}
		return s.number(op, op.Imm, PartAll, m)
	case sShift:
		if op.Kind != OpShift || op.Shift != s.shift || op.Reg < 16 || op.Bare && !s.hash.mayLack(q) {
			return miss{Reason: OtherKind}
		}
		return s.number(op, op.Imm, PartShift, m)
	case sShiftReg:
		if op.Kind != OpShift || op.Shift != s.shift || op.Reg > 15 {
			return miss{Reason: OtherKind}
		}
		if op.Reg > 7 && f.Row.fields[s.field].width == 3 {
			return miss{Reason: HighReg, Reg: op.Reg}
		}
		if s.notPC && op.Reg == PC || s.notSP && op.Reg == SP && !q.Have.Has(FeatV8) {
			return miss{Reason: OtherReg, Reg: op.Reg}
		}
		m.vals[s.field] = uint32(op.Reg)
	case sMem0, sMemImm, sMemReg, sMemShift:
		return s.memory(f, q, op, m)
	case sTarget:
		if f.Row.Linked() && (op.Kind == OpExpr && op.Bare || op.Kind == OpImm && q.Unified) {
			// A branch to an address as a number: how far that is, the linker
			// knows.
			m.Deferred = true
			return miss{}
		}
		if (op.Kind != OpExpr || op.Bare) && (op.Kind != OpLit || op.Bare || f.Row.Access == 0 || f.Row.Access == 8 && !f.Row.vector || f.Row.stores()) || op.WB {
			return miss{Reason: OtherKind}
		}
		base := q.PC + f.Row.State.ahead()
		if f.Row.State == A {
			return s.distance(op, op.Imm-base, m)
		}
		if s.alignPC {
			base &^= 3
		}
		if s.extraBit >= 0 {
			return s.distance(op, op.Imm-base, m)
		}
		return s.number(op, op.Imm-base, PartAll, m)
	case sList:
		if op.Kind != OpList {
			return miss{Reason: OtherKind}
		}
		if op.WB {
			if s.userField < 0 {
				return miss{Reason: NoWB}
			}
			m.vals[s.userField] = 1
		}
		if op.List == 0 {
			return miss{Reason: EmptyList}
		}
		if f.Row.full() {
			m.vals[s.listField] = uint32(op.List)
			return s.banned(op.List)
		}
		if bad := op.List &^ (0xff | s.extra); bad != 0 {
			r := Reg(0)
			for ; !bad.Has(r); r++ {
			}
			return miss{Reason: BadList, Reg: r, Part: PartList}
		}
		m.vals[s.listField] = uint32(op.List & 0xff)
		if s.extraBit >= 0 && op.List&s.extra != 0 {
			m.vals[s.extraBit] = 1
		}
	case sWord:
		if (op.Kind == OpImm || op.Kind == OpExpr && op.Bare) && !op.WB && s.words[0] == "sy" {
			// Barriers take their number too.
			if op.Known && op.Imm>>4 != 0 {
				return miss{Reason: BadWord}
			}
			m.vals[s.field] = uint32(op.Imm)
			m.Deferred = m.Deferred || !op.Known
			return miss{}
		}
		if op.Kind != OpExpr || op.Word == "" || op.WB {
			return miss{Reason: OtherKind}
		}
		if s.words[0] == "cpsr" { // with parts or without, which read alike
			v, ok := psrFields(op.Word)
			m.vals[s.field] = v >> 4
			if !ok || v&15 != 9 && !strings.EqualFold(op.Word, "apsr") {
				return miss{Reason: BadWord}
			}
			return miss{}
		}
		v, ok := s.word(op.Word, s.words[0] == "le" || s.words[0] == "eq" || s.words[0] == "ne")
		if !ok {
			return miss{Reason: BadWord}
		}
		m.vals[s.field] = v
	case sLetters:
		if op.Kind != OpExpr || op.Word == "" || op.WB {
			return miss{Reason: OtherKind}
		}
		for i := range len(op.Word) {
			v, ok := s.word(op.Word[i:i+1], true)
			if !ok {
				return miss{Reason: BadWord}
			}
			m.vals[s.field] |= v
		}
	case sOne:
		if op.Kind != OpList || op.WB {
			return miss{Reason: OtherKind}
		}
		if op.List == 0 || op.List > 0xff && !f.Row.full() || op.List&(op.List-1) != 0 || op.List&s.ban != 0 {
			return miss{Reason: OtherKind, Part: PartList}
		}
		m.vals[s.field] = uint32(bits.TrailingZeros16(uint16(op.List)))
	default:
		return s.checkA(q, op, m)
	}
	return miss{}
}

// mayLack says whether the '#' of a constant may be missing.
func (h hash) mayLack(q *Query) bool { return h >= hashNever || h == hashDivided && q.Unified }

// word looks a word up, written in lower or in upper case, or mixed where
// assemblers take that.
func (s *opSpec) word(w string, mixed bool) (v uint32, ok bool) {
	for i, x := range s.words {
		if x == w || len(x) == len(w) && strings.EqualFold(x, w) && (mixed || evenCase(w)) {
			return s.wordVals[i], true
		}
	}
	return 0, false
}

// evenCase says whether a name is in lower case or in upper case as a whole,
// but for the fields behind a '_', for xPSR, and for APSR in any case.
func evenCase(w string) bool {
	base, _, _ := strings.Cut(w, "_")
	return base == "xPSR" || strings.EqualFold(base, "apsr") || strings.ToUpper(base) == base || strings.ToLower(base) == base
}

func (s *opSpec) memory(f *Form, q *Query, op *Operand, m *Match) miss {
	if op.Kind != OpMem {
		return miss{Reason: OtherKind}
	}
	switch {
	case op.WB || op.Post:
		return miss{Reason: NoWB, Part: PartOffset}
	case op.Off == OffShift && (s.kind != sMemShift || op.Shift != LSL),
		s.kind == sMemShift && op.Off != OffShift && (op.Off != OffReg || s.min > 0),
		s.kind == sMem0 && op.Off != OffNone,
		s.kind == sMemImm && op.Off != OffImm,
		s.kind == sMemReg && op.Off != OffReg,
		op.Minus && !s.neg && (s.kind != sMemImm || q.Unified || f.Row.full()): // -0 is of encodings with a bit for the sign
		return miss{Reason: OtherKind, Part: PartOffset}
	case op.Bare && !q.Unified:
		return miss{Reason: NoHash, Part: PartOffset}
	}
	if s.base >= 0 {
		if op.Reg > 7 && f.Row.fields[s.base].width == 3 {
			return miss{Reason: HighReg, Part: PartBase, Reg: op.Reg}
		}
		if !s.takesBase(op.Reg, q.Have) {
			return miss{Reason: OtherReg, Part: PartBase, Reg: op.Reg}
		}
		m.vals[s.base] = uint32(op.Reg)
	} else if op.Reg != s.reg {
		return miss{Reason: OtherReg, Part: PartBase, Reg: op.Reg}
	}
	switch s.kind {
	case sMemImm:
		if s.neg && op.Minus { // -0
			return miss{}
		}
		return s.number(op, op.Imm, PartOffset, m)
	case sMemShift:
		if op.Index == PC || s.notSP && op.Index == SP && !q.Have.Has(FeatV8) {
			return miss{Reason: OtherReg, Part: PartOffset, Reg: op.Index}
		}
		m.vals[s.field] = uint32(op.Index)
		if op.Off == OffReg {
			return miss{}
		}
		if !op.Known {
			m.Deferred = true
			return miss{}
		}
		if op.Imm < s.min || op.Imm > s.max {
			return miss{Reason: TooLarge, Part: PartShift, Value: op.Imm}
		}
		if s.also >= 0 {
			m.vals[s.also] = uint32(op.Imm)
		}
	case sMemReg:
		if op.Index > 7 && f.Row.fields[s.field].width == 3 {
			return miss{Reason: HighReg, Part: PartOffset, Reg: op.Index}
		}
		if s.notSP && (op.Index == PC || op.Index == SP && !q.Have.Has(FeatV8)) {
			return miss{Reason: OtherReg, Part: PartOffset, Reg: op.Index}
		}
		m.vals[s.field] = uint32(op.Index)
	}
	return miss{}
}

// number checks a constant, an offset or a distance from PC.
func (s *opSpec) number(op *Operand, v int64, part Part, m *Match) miss {
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	if s.kind == sTarget && !s.alignPC && s.min < 0 && v&1 != 0 {
		// Assemblers drop bit 0 of a branch's target, but for CBZ; a caution
		// says so.
		m.Odd, v = true, v&^1
	}
	given := v
	if s.kind != sTarget && s.hash != hashPlain {
		// A constant is a word of 32 bits: 0xffffffff is -1.
		v = int64(int32(v))
	}
	if v < s.min || v > s.max || s.step > 1 && v%s.step != 0 {
		w := miss{Reason: TooLarge, Part: part, Value: given}
		switch {
		case s.kind == sTarget && v%s.step != 0:
			w.Reason = OddTarget
		case s.kind == sTarget && s.min == 0 && v < 0:
			w.Reason = Behind
		case s.kind == sTarget:
			w.Reason = TooFar
		case v < 0 && s.min >= 0:
			w.Reason = Negative
		case v >= s.min && v <= s.max:
			w.Reason = Misaligned
		}
		return w
	}
	if s.field < 0 {
		return miss{}
	}
	u := v/s.step - s.bias
	if s.neg {
		u = -u
	}
	if s.mod != 0 {
		u %= int64(s.mod)
	}
	if s.times != 0 {
		u *= s.times
	}
	m.vals[s.field] = uint32(u)
	if s.wide {
		m.vals[s.field] = scrambleBL(uint32(v>>1) & 0xffffff)
	}
	return miss{}
}
