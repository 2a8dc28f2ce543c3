package assemble

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// IT blocks that the assembler inserts, with the setting implicitIT. Which
// statements share a block is as the reference assembler has it; the architecture
// manual says nothing of it. A block goes on over data, alignment and pools, and
// ends at a label, before a statement without a condition or with another one,
// after what goes elsewhere, and after four statements.

// inserted is the block of a section that may go on.
type inserted struct {
	n     uint8    // instructions so far, 0 for no block
	cond  isa.Cond // of the first
	loads int32    // an instruction that loads pc without ending the block, -1 for none
}

func (b *inserted) close() { b.n = 0 }

// takes says whether the open block takes one more instruction, on condition c.
func (b *inserted) takes(c isa.Cond) bool {
	return b.n > 0 && b.n < 4 && c|1 == b.cond|1
}

// takeInserted finds the place of an instruction in the blocks that the assembler
// inserts. An IT in front of it moves it.
func (p *pass) takeInserted(it *program.Item) {
	if it.Stmt.Err != nil || !p.current.Have.Has(isa.FeatT32) {
		return
	}
	s := &p.Sections[p.currentSection]
	b := &p.blockOf(p.currentSection).inserted
	if p.current.Mode == isa.A {
		p.insertedA32(it)
		return
	}
	need, c := it.Stmt.Mnemonic.BlockNeed()
	if need == isa.NeedsBlock && !p.current.Unified {
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
	case need == isa.NeedsAny && !fits && own != isa.AL && p.current.Unified:
		// The assembler takes it as it is, and inserts nothing.
		it.Slot = program.SlotIn | program.SlotLast | program.Slot(own)
		p.Warn(p.NameLoc(it), finding.CodeITBlock, wording.NoInsertedIT(it.Stmt.Name))
	case need == isa.NeedsNone || !fits && need != isa.NeedsBlock:
	case fits:
		b.n++
		it.Slot = program.SlotIn | program.SlotLast | program.SlotInserted | program.Slot(c)
		if b.loads >= 0 {
			x := &p.Items[b.loads]
			p.Warn(p.NameLoc(x), finding.CodeITBlock, wording.LoadsPCInInserted(x.Stmt.Name))
			b.loads = -1
		}
	default:
		*b = inserted{n: 1, cond: c, loads: -1}
		it.Slot = program.SlotIn | program.SlotLast | program.SlotInserted | program.SlotFirst | program.Slot(c)
		s.Size += 2
		it.Offset += 2
	}
}

// insertedA32 goes on with a block in A32 code. The assembler forgets there which
// state the block is of: it counts A32 instructions in, and begins another one
// with an IT in the middle of A32 code. Their slots have no slotIn: nothing else
// changes for them.
func (p *pass) insertedA32(it *program.Item) {
	s := &p.Sections[p.currentSection]
	b := &p.blockOf(p.currentSection).inserted
	c := it.Stmt.Mnemonic.CondA32()
	switch {
	case b.n == 0:
	case c == isa.AL:
		b.close()
	default:
		p.Warn(p.NameLoc(it), finding.CodeITBlock, wording.IntoInsertedBlock(it.Stmt.Name))
		it.Slot = program.SlotInserted | program.Slot(c)
		if b.takes(c) {
			b.n++
			return
		}
		*b = inserted{n: 1, cond: c, loads: -1}
		it.Slot |= program.SlotFirst
		s.Size += 2
		it.Offset += 2
	}
}

// leaveInserted ends the inserted block after what goes elsewhere.
func (p *pass) leaveInserted(it *program.Item) {
	if it.Slot&program.SlotInserted == 0 {
		return
	}
	b := &p.blockOf(p.currentSection).inserted
	switch {
	case it.Match.EndsBlock():
		b.close()
	case it.Match.Effects().Writes.Has(isa.PC):
		b.loads = it.Index
	}
}
