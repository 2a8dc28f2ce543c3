package isa

// Query is what the meaning of a statement depends on besides its text.
type Query struct {
	Have    Features
	Unified bool  // .syntax unified
	PC      int64 // address of the statement in its section
	Width   byte  // 'n' or 'w' when written after the mnemonic
	A32     bool  // the core executes A32 code; else that of Thumb state
	IT      Slot  // in Thumb state
}

// Slot is the place of a statement in an IT block.
type Slot struct {
	In   bool // in a block
	Last bool // its last instruction
	Cond Cond // what holds there
}

// Match is a statement bound to an encoding. There is one for each line of a program, so it has
// the machine code, and not each field by itself.
type Match struct {
	Form *Form
	word uint32
	rest uint16 // the fields that are in no bit of the first word, one above the other
	what matchFlags
	cond Cond // of the IT block that it is in
}

type matchFlags uint8

const (
	flagDeferred matchFlags = 1 << iota
	flagOdd
	flagIT
	flagKeeps  // what Row.kept names stays
	flagSpoils // what Row.kept names is unknown afterwards
)

// Deferred: some value was not known and counts as 0.
func (m *Match) Deferred() bool { return m.what&flagDeferred != 0 }

// Odd: a branch's target had bit 0 set, which the encoding cannot hold.
func (m *Match) Odd() bool { return m.what&flagOdd != 0 }

// binding is a statement that is being bound to an encoding, with the values of its fields.
type binding struct {
	Form          *Form
	Deferred, Odd bool // see Match
	vals          [maxFields]uint32
}

// match is the binding as it is kept, in an IT block of the condition, for a target with these
// features; 0: it is not known.
func (b *binding) match(it bool, cond Cond, have Features) Match {
	m := Match{Form: b.Form, cond: cond}
	if b.Deferred {
		m.what |= flagDeferred
	}
	if b.Odd {
		m.what |= flagOdd
	}
	if it {
		m.what |= flagIT
	}
	r := b.Form.Row
	m.what |= r.keeps(have)
	m.word = r.value
	at := 0
	for i := range r.fields {
		f := &r.fields[i]
		if len(f.segs) == 0 {
			m.rest |= uint16(b.vals[i]&(1<<f.width-1)) << at
			at += int(f.width)
			continue
		}
		m.word |= f.put(b.vals[i])
	}
	return m
}

// keeps says what becomes of the flags of Row.kept on a target with these features; 0: of none, or
// it is not known.
func (r *Row) keeps(have Features) matchFlags {
	switch {
	case r.kept == 0 || have == 0:
		return 0
	case have.Has(FeatV5T):
		return flagKeeps
	}
	return flagSpoils
}

// fields are the values of the encoding's fields.
func (m *Match) fields() [maxFields]uint32 { return m.Form.Row.read(m.word, m.rest) }

// read takes the fields out of a word, and those that are in no bit of it out of the rest.
func (r *Row) read(word uint32, rest uint16) (vals [maxFields]uint32) {
	at := 0
	for i := range r.fields {
		f := &r.fields[i]
		if len(f.segs) == 0 {
			vals[i] = uint32(rest) >> at & (1<<f.width - 1)
			at += int(f.width)
			continue
		}
		vals[i] = f.get(word)
	}
	return vals
}

// Values of the encoding's fields.
func (m *Match) Values() Values {
	return Values{row: m.Form.Row, vals: m.fields(), inBlock: m.what&flagIT != 0 && m.cond != AL}
}

// Encode gives the machine code: a halfword, or two of which the first is the
// upper half.
func (m *Match) Encode() uint32 { return m.word }

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
	r := m.Form.Row
	if len(r.Cautions) == 0 && m.Form.base != baseBlunt && m.Form.base != baseVain {
		return // as of most
	}
	v := m.Values()
	for i := range r.Cautions {
		if c := &r.Cautions[i]; c.applies(v, have) {
			emit(c)
		}
	}
	switch m.Form.base {
	case baseBlunt:
		if m.Effects().WritesMem || !m.Form.baseInList(&v.vals) {
			emit(&bluntCaution)
		}
	case baseVain:
		if m.Form.baseInList(&v.vals) {
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

// Match finds the first form of the name that takes the operands. ok is false when none
// does; Refuse then says why.
func (mnemonic *Mnemonic) Match(q *Query, ops []Operand) (m Match, ok bool) {
	if q.A32 {
		return mnemonic.matchA32(q, ops)
	}
	if s := mnemonic.arm.stem; s != nil && s.vector {
		return mnemonic.matchVector(q, ops)
	}
	var b binding
	for _, f := range mnemonic.Forms {
		if len(f.ops) != len(ops) || !f.exists(q) || f.slot(mnemonic, q) != OK {
			continue
		}
		if f.fit(q, ops, &b) && (!q.IT.In || q.IT.Last || !f.Row.leaves(&b.vals)) {
			return b.match(q.IT.In, q.IT.Cond, q.Have), true
		}
	}
	return Match{}, false
}

// slot says whether the form may be in its place: inside or outside of an IT
// block, under the condition of its name (Arm ARM, "IT").
func (f *Form) slot(mnemonic *Mnemonic, q *Query) Reason {
	switch {
	case !q.IT.In && mnemonic.spelt && !f.own && !f.free(q) && (mnemonic.cond != AL || f.Row.size == 2 || f.Row.Flow != FlowNext):
		return NeedIT
	case q.IT.In && (f.it == itOut || f.Row.IT == ITNever):
		return InBlock
	case q.IT.In && mnemonic.cond != q.IT.Cond && f.Row.IT < ITNeutral:
		return OtherCond
	case q.IT.In && q.IT.Cond == AL && f.Row.IT < ITNeutral && f.Row.Flow != FlowJump && f.Row.Flow != FlowCall && f.Row.Flow != FlowReg:
		return InBlock // assemblers take only branches under the condition AL
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
func (r *Row) leaves(vals *[maxFields]uint32) bool {
	if r.Last != LastIfLeaves {
		return r.Last == LastAlways
	}
	e := r.effects(vals)
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
// is asked for. These are of the unified syntax and of Thumb state.
func (f *Form) hasWidth(q *Query) bool {
	return q.Width == 0 || q.Unified && !q.A32 && (q.Width == 'w') == (f.Row.size == 4)
}

func (f *Form) fit(q *Query, ops []Operand, m *binding) bool {
	for i := range ops {
		if shape := f.shapes[i]; shape != OpNone && shape != ops[i].Kind {
			return false
		}
	}
	m.vals = [maxFields]uint32{}
	m.Form = f
	m.Deferred, m.Odd = false, false
	for _, x := range f.fixed {
		m.vals[x.field] = x.val
	}
	for i := range f.ops {
		if !takes(f.ops[i], f, q, &ops[i], m) {
			return false
		}
	}
	return f.tied(m) == OK
}

// tied checks what ties operands to each other.
func (f *Form) tied(m *binding) Reason {
	if f.hi && !f.anyHigh(m) {
		return NeedHigh
	}
	if f.base == baseIn || f.base == baseOut {
		switch in := f.baseInList(&m.vals); {
		case in && f.base == baseOut:
			return NoWriteback
		case !in && f.base == baseIn:
			return NeedWB
		}
	}
	if f.base == baseApart && f.Row.writesBack(&m.vals) && f.baseInList(&m.vals) {
		return NoWriteback
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

func (f *Form) anyHigh(m *binding) bool {
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
	NoWriteback        // a '!' where none can be
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
	InBlock            // what must not be in an IT block
	OtherCond          // another condition than its slot in the IT block has
	NotLast            // a branch that is not last in its IT block
	NoD32              // one of d16–d31 where there are sixteen double registers
	NotNext            // not the register after the one before
	BadLane            // an element that the register does not have
	NoVFP8             // a floating-point constant that eight bits do not hold
	NoType             // no type, or another one than the operands have
	BadVList           // vector registers that cannot be moved together
	ListCount          // another number of them than the form has
	ListGap            // the registers are further apart, or nearer, than the form has them
	NoVConst           // a constant that elements cannot have
	NoPoint            // a whole number where a constant of floating point is
	NoAlign            // an alignment that the address cannot have
)

// miss is the result of checking one operand.
type miss struct {
	Reason Reason
	Part   Part
	Reg    Reg
	Value  int64
	Max    int64 // where that depends on the operand, as on the kind of a shift
}
