package isa

// Block is what is left of an IT block: the conditions of the instructions to
// come. The zero value is the state outside of blocks.
type Block struct {
	conds [4]Cond
	n     uint8
}

// Block is the block that an IT instruction opens, and false for any other
// instruction (Arm ARM, "ITSTATE"; the mask is told in itForms).
func (m *Match) Block() (b Block, ok bool) {
	if m.Form == nil || !m.Form.Row.opensBlock() {
		return Block{}, false
	}
	v := m.Values()
	first, mask := Cond(v.Get("c")), v.Get("mask")
	for b.conds[0], b.n = first, 1; mask&7 != 0; mask <<= 1 {
		b.conds[b.n] = first&^1 | Cond(mask>>3&1)
		b.n++
	}
	return b, true
}

// Slot is the place of the next instruction.
func (b *Block) Slot() Slot {
	return Slot{In: b.n > 0, Last: b.n == 1, Cond: b.conds[0]}
}

// Next goes on to the slot after.
func (b *Block) Next() {
	if b.n > 0 {
		b.n--
		copy(b.conds[:], b.conds[1:])
	}
}

// Left is the number of instructions that the block still waits for.
func (b *Block) Left() int { return int(b.n) }

// Stem is the name without its condition.
func (mnemonic *Mnemonic) Stem() string {
	if mnemonic.spelt && len(mnemonic.Name) > 2 {
		return mnemonic.Name[:len(mnemonic.Name)-2]
	}
	return mnemonic.Name
}

// Need is what an assembler that inserts IT makes of a name.
type Need uint8

// What names ask of IT blocks that are inserted.
const (
	NeedsNone   Need = iota // no condition: the block ends before it
	NeedsAny                // goes with any block that is open, whatever its name says
	NeedsBranch             // a conditional branch: goes with a block of its condition
	NeedsBlock              // a condition that only a block gives it
)

// BlockNeed says what the name asks of an inserted IT block, and its condition,
// AL for a name that takes none. The architecture knows no such blocks; it is what
// the reference assembler does.
func (mnemonic *Mnemonic) BlockNeed() (Need, Cond) {
	need := NeedsNone
	if mnemonic.spelt && mnemonic.cond != AL && len(mnemonic.Forms) > 0 {
		need = NeedsBlock
	}
	for _, f := range mnemonic.Forms {
		switch {
		case f.Row.IT == ITNeutral:
			return NeedsAny, AL
		case f.Row.IT == ITFree:
			return NeedsAny, mnemonic.cond
		case need == NeedsBlock && f.own:
			need = NeedsBranch
		}
	}
	return need, mnemonic.cond
}

// EndsBlock says whether the instruction goes elsewhere, so that no other may
// be after it in an IT block.
func (m *Match) EndsBlock() bool {
	vals := m.fields()
	return m.Form.Row.leaves(&vals)
}

// OpensBlock says whether the name is IT with a pattern.
func (mnemonic *Mnemonic) OpensBlock() bool {
	return len(mnemonic.Forms) > 0 && mnemonic.Forms[0].Row.opensBlock()
}

// opensBlock says whether the encoding is IT: it has the conditions of others.
func (r *Row) opensBlock() bool {
	return r.fieldIndex("c") >= 0 && r.fieldIndex("mask") >= 0
}

// Misplaced says, for Thumb state, whether only the name forbids the
// place of a statement, in an IT block or outside: NeedIT, OtherCond or
// InBlock; else OK.
func (mnemonic *Mnemonic) Misplaced(q *Query) Reason {
	if !q.IT.In && (!mnemonic.spelt || mnemonic.cond == AL) || len(mnemonic.Forms) == 0 {
		return OK
	}
	why := OK
	for _, f := range mnemonic.Forms {
		r := OK
		switch {
		case !q.IT.In && !f.own && !f.free(q):
			r = NeedIT
		case q.IT.In && f.Row.IT == ITNever:
			r = InBlock
		case q.IT.In && f.Row.IT >= ITNeutral:
		case q.IT.In && mnemonic.cond != q.IT.Cond:
			r = OtherCond
		case q.IT.In && q.IT.Cond == AL && f.Row.Flow != FlowJump && f.Row.Flow != FlowCall && f.Row.Flow != FlowReg:
			r = InBlock
		}
		if r == OK {
			return OK
		}
		why = max(why, r)
	}
	return why
}
