package analysis

import (
	"fmt"

	"narrowgauge/isa"
)

// IT blocks that the assembler inserts, with the setting implicitIT. Which
// statements share a block is as the reference assembler has it; the architecture
// manual says nothing of it. A block goes on over data, alignment and pools, and
// ends at a label, before a statement without a condition or with another one,
// behind what goes elsewhere, and after four statements.

// inserted is the block of a section that may go on.
type inserted struct {
	n     uint8    // instructions so far, 0 for no block
	cond  isa.Cond // of the first
	loads int32    // an instruction that loads pc without ending the block, -1 for none
}

func (b *inserted) close() { b.n = 0 }

// itSize is the size of an IT that is inserted in front of the instruction.
func (s slot) itSize() int64 {
	if s&slotFirst != 0 {
		return 2
	}
	return 0
}

// takeInserted finds the place of an instruction in the blocks that the assembler
// inserts. An IT in front of it moves it.
func (p *pass) takeInserted(it *item) {
	if it.stmt.Err != nil || !p.cur.have.Has(isa.FeatT32) {
		return
	}
	s := &p.secs[p.sec]
	b := &s.inserted
	if p.cur.mode == isa.A {
		p.insertedA(it)
		return
	}
	need, c := it.stmt.Mnem.BlockNeed()
	if need == isa.NeedsBlock && !p.cur.unified {
		return // refused
	}
	own := c
	if need == isa.NeedsAny {
		c = b.cond
	}
	fits := b.takes(c)
	if need == isa.NeedsNone || !fits {
		b.close()
	}
	switch {
	case need == isa.NeedsAny && !fits && own != isa.AL && p.cur.unified:
		// The assembler takes it as it is, and inserts nothing.
		it.slot = slotIn | slotLast | slot(own)
		p.warn(p.nameLoc(it), codeITBlock, fmt.Sprintf("The assembler inserts no IT for %s: it is executed whatever the condition.", it.stmt.Name))
	case need == isa.NeedsNone || !fits && need != isa.NeedsBlock:
	case fits:
		b.n++
		it.slot = slotIn | slotLast | slotInserted | slot(c)
		if b.loads >= 0 {
			x := &p.items[b.loads]
			p.warn(p.nameLoc(x), codeITBlock, x.stmt.Name+" loads pc and is not last in the IT block that the assembler inserts, which the architecture calls unpredictable.")
			b.loads = -1
		}
	default:
		*b = inserted{n: 1, cond: c, loads: -1}
		it.slot = slotIn | slotLast | slotInserted | slotFirst | slot(c)
		s.size += 2
		it.off += 2
	}
}

// takes says whether the open block takes one more instruction, on condition c.
func (b *inserted) takes(c isa.Cond) bool {
	return b.n > 0 && b.n < 4 && c|1 == b.cond|1
}

// insertedA goes on with a block in A32 code. The assembler forgets there which
// state the block is of: it counts A32 instructions in, and begins another one
// with an IT in the middle of A32 code. Their slots have no slotIn: nothing else
// changes for them.
func (p *pass) insertedA(it *item) {
	s := &p.secs[p.sec]
	b := &s.inserted
	c := it.stmt.Mnem.CondA()
	switch {
	case b.n == 0:
	case c == isa.AL:
		b.close()
	default:
		p.warn(p.nameLoc(it), codeITBlock, it.stmt.Name+" comes into an IT block of the compact state that the assembler inserts: no label and no line without a condition ends it.")
		it.slot = slotInserted | slot(c)
		if b.takes(c) {
			b.n++
			return
		}
		*b = inserted{n: 1, cond: c, loads: -1}
		it.slot |= slotFirst
		s.size += 2
		it.off += 2
	}
}

// leaveInserted ends the inserted block behind what goes elsewhere.
func (p *pass) leaveInserted(it *item) {
	if it.slot&slotInserted == 0 {
		return
	}
	b := &p.secs[p.sec].inserted
	switch {
	case it.match.EndsBlock():
		b.close()
	case it.match.Effects().Writes.Has(isa.PC):
		b.loads = it.id
	}
}

// insertedBlock is the IT line, as text, of the inserted block that the item
// stands in, and the block's first instruction; "" for an item in none.
func (r *Program) insertedBlock(it *item) (text string, first *item) {
	if it.slot&slotInserted == 0 {
		return "", nil
	}
	list := r.order[it.sec]
	k := r.position(it)
	for k > 0 && r.items[list[k]].slot&slotFirst == 0 {
		k--
	}
	first = &r.items[list[k]]
	c := first.slot.unpack().Cond
	text = "i"
	for ; k < len(list); k++ {
		x := &r.items[list[k]]
		if x.flags&fCode == 0 {
			continue
		}
		if x.slot&slotInserted == 0 || x != first && x.slot&slotFirst != 0 {
			break
		}
		if x.slot.unpack().Cond == c {
			text += "t"
		} else {
			text += "e"
		}
	}
	return text + " " + c.String(), first
}

// insertedText tells of the IT that the assembler inserts for the item, as
// Markdown; empty without one.
func (r *view) insertedText(it *item) string {
	text, first := r.insertedBlock(it)
	switch first {
	case nil:
		return ""
	case it:
		return fmt.Sprintf("The assembler inserts `%s` in front, 2 bytes at %s.\n\n", text, r.placeText(it.sec, it.off-it.slot.itSize()))
	}
	return fmt.Sprintf("It stands in the block of `%s` that the assembler inserts in front of %s, at %s.\n\n", text, first.stmt.Name, r.placeText(first.sec, first.off-first.slot.itSize()))
}
