package analysis

import (
	"fmt"

	"narrowgauge/isa"
)

// slot is a place in an IT block in one byte: a condition, and the bits below.
// 0 is outside of blocks.
type slot uint8

const (
	slotIn   slot = 0x80
	slotLast slot = 0x40
	// slotInserted: the assembler makes the block, and slotFirst: its IT stands
	// in front of this instruction.
	slotInserted slot = 0x20
	slotFirst    slot = 0x10
)

func packSlot(s isa.Slot) (out slot) {
	if s.In {
		out = slotIn | slot(s.Cond)
		if s.Last {
			out |= slotLast
		}
	}
	return out
}

func (s slot) unpack() isa.Slot {
	return isa.Slot{In: s&slotIn != 0, Last: s&slotLast != 0, Cond: isa.Cond(s & 15)}
}

// query is what the meaning of an instruction hangs on, besides its text.
func (p *evaluator) query(it *item, e *env) isa.Query {
	return isa.Query{Have: e.have, Unified: e.unified, PC: it.off, Width: it.stmt.Width, A32: e.mode == isa.A, IT: it.slot.unpack()}
}

// takeSlot gives the item the next slot of its section's IT block. Like the
// assembler, blocks go on over labels, data, other sections and changes of the
// mode: each section has its own. A line that cannot be read takes no slot.
func (p *pass) takeSlot(it *item) {
	b := &p.secs[p.sec].it
	if b.Left() > 0 {
		it.slot = packSlot(b.Slot())
		if it.stmt.Err == nil {
			b.Next()
		}
	} else if p.cur.implicit {
		p.takeInserted(it)
	}
}

// codeByNumber gives the next slot of an IT block to an instruction that stands
// there as a number, which has no condition to compare. It ends a block that the
// assembler makes.
func (p *pass) codeByNumber() {
	if p.cur.mode != isa.T {
		return
	}
	s := &p.secs[p.sec]
	if s.it.Left() > 0 {
		s.it.Next()
	}
	s.inserted.close()
}

// openBlock begins the block of an IT instruction that may stand where it does.
func (p *pass) openBlock(it *item) {
	if b, ok := it.match.Block(); ok && it.slot == 0 {
		s := &p.secs[p.sec]
		s.it, s.itBy = b, it.id
	}
}

// blocksEnd reports the IT blocks that the sections' ends leave open.
func (p *pass) blocksEnd() {
	for i := range p.secs {
		s := &p.secs[i]
		if n := s.it.Left(); n > 0 {
			it := &p.items[s.itBy]
			p.warn(p.stmtLoc(it), codeITBlock, fmt.Sprintf("%s is still missing in this IT block where section %s ends.", plural(n, "instruction", "instructions"), s.name))
		}
	}
}

// blockA checks an A32 line against the IT block that it stands in: assemblers
// do so in order that the text may be assembled for either state. IT itself is
// no instruction there, and in the divided syntax it means nothing.
func (p *pass) blockA(it *item) (done bool) {
	s := it.stmt
	if s.Mnem.OpensBlock() {
		it.size = 0
		if p.syntaxError(it) {
			it.flags |= fRefused
			return true
		}
		if s.Width != 0 {
			p.widthA(it)
			return true
		}
		p.operands(it, false)
		q := p.query(it, &p.cur)
		q.A32, q.Unified = false, true
		q.Have |= isa.FeatT32
		if !p.cur.unified {
			q.IT = isa.Slot{}
		}
		m, ok := s.Mnem.Match(&q, p.ops)
		switch {
		case !ok:
			it.flags |= fRefused
			p.refuse(it, &q)
		case p.cur.unified:
			it.match = m
			p.openBlock(it)
			it.match = isa.Match{}
		}
		return true
	}
	if it.slot&slotIn == 0 {
		return false
	}
	c := it.slot.unpack().Cond
	known := len(s.Mnem.FormsOf(isa.A)) > 0
	if got := s.Mnem.CondA(); known && (got != c || c == isa.AL) {
		it.flags |= fRefused
		p.otherCond(it, got, c)
		return true
	}
	return false
}

// otherCond reports a condition that is not that of the slot.
func (p *reporter) otherCond(it *item, got, want isa.Cond) {
	by := p.where(p.nameLoc(p.blockOf(it)).Location, it)
	name := it.stmt.Name
	switch {
	case want == isa.AL:
		p.report(p.nameLoc(it), codeITBlock, fmt.Sprintf("%s must not stand in an IT block of the condition al (%s); assemblers take branches alone there.", name, by))
	case want > isa.AL:
		p.report(p.nameLoc(it), codeITBlock, fmt.Sprintf("%s has a slot with an E in the IT block (%s), whose condition al has no opposite.", name, by))
	case got == isa.AL:
		p.report(p.nameLoc(it), codeITBlock, fmt.Sprintf("%s has no condition, and its slot in the IT block (%s) is %s.", name, by, want))
	default:
		p.report(p.nameLoc(it), codeITBlock, fmt.Sprintf("%s has the condition %s, and its slot in the IT block (%s) is %s.", name, got, by, want))
	}
}

// blockOf is the IT line of the block that the item stands in.
func (p *Program) blockOf(it *item) *item {
	if it.slot&slotInserted != 0 {
		return it
	}
	for k := p.position(it) - 1; k >= 0; k-- {
		if x := &p.items[p.order[it.sec][k]]; x.slot == 0 && x.stmt.Mnem != nil && x.stmt.Mnem.OpensBlock() {
			return x
		}
	}
	return it
}

// misplaced reports a line that must not stand where it does, whatever its
// operands are. It says whether it is one.
func (p *reporter) misplaced(it *item, q *isa.Query) bool {
	return p.refuseBlock(it, q, it.stmt.Mnem.Misplaced(q))
}

// sizeElsewhere is the size that the line has where it may stand.
func (p *pass) sizeElsewhere(it *item, q isa.Query) int64 {
	q.IT = isa.Slot{}
	if c, spelt := it.stmt.Mnem.Cond(); spelt {
		q.IT = isa.Slot{In: true, Last: true, Cond: c}
	}
	if m, ok := it.stmt.Mnem.Match(&q, p.ops); ok {
		return int64(m.Form.Row.Size())
	}
	return p.guess(it)
}

// notLast reports what would be right as the last of its block, and says
// whether it is.
func (p *reporter) notLast(it *item, q *isa.Query) bool {
	if !q.IT.In || q.IT.Last {
		return false
	}
	last := *q
	last.IT.Last = true
	_, ok := it.stmt.Mnem.Match(&last, p.ops)
	return ok && p.refuseBlock(it, q, isa.NotLast)
}

// unconditional warns of a condition that assemblers take outside an IT block, and
// that does nothing there.
func (p *reporter) unconditional(it *item) {
	if cond, spelt := it.stmt.Mnem.Cond(); spelt && cond != isa.AL && it.slot&slotIn == 0 {
		p.warn(p.nameLoc(it), codeITBlock, fmt.Sprintf("%s stands in no IT block, and is executed whatever its condition says; a line 'it %s' is missing above.", it.stmt.Name, cond))
	}
}

// refuseBlock reports what an IT block, or its absence, forbids. It says
// whether that was the reason.
func (p *reporter) refuseBlock(it *item, q *isa.Query, why isa.Reason) bool {
	name := it.stmt.Name
	cond, spelt := it.stmt.Mnem.Cond()
	at := p.nameLoc(it)
	switch why {
	case isa.NeedIT:
		if spelt {
			p.report(at, codeITBlock, fmt.Sprintf("%s has a condition, and stands in no IT block; a line 'it %s' is missing above.", name, cond))
		} else {
			p.report(at, codeITBlock, fmt.Sprintf("%s keeps the flags only in an IT block here; outside it sets them (%ss).", name, name))
		}
	case isa.OtherCond:
		p.otherCond(it, cond, q.IT.Cond)
	case isa.InBlock:
		switch {
		case it.stmt.Mnem.OpensBlock():
			p.report(at, codeITBlock, fmt.Sprintf("%s stands inside of another IT block (%s), which waits for its last instructions.", name, p.where(p.nameLoc(p.blockOf(it)).Location, it)))
		case q.IT.Cond == isa.AL:
			p.otherCond(it, cond, isa.AL)
		default:
			p.report(at, codeITBlock, fmt.Sprintf("%s must not stand in an IT block in this form.", name))
		}
	case isa.NotLast:
		p.report(at, codeITBlock, fmt.Sprintf("%s goes elsewhere, so it has to be the last instruction of its IT block.", name))
	default:
		return false
	}
	return true
}
