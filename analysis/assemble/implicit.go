package assemble

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// takeInserted finds the place of an instruction in the blocks that the assembler
// inserts. An IT in front of it moves it.
func (p *pass) takeInserted(it *program.Item) {
	if it.Stmt.Err != nil || !p.cur.Have.Has(isa.FeatT32) {
		return
	}
	s := &p.Secs[p.sec]
	b := &s.Inserted
	if p.cur.Mode == isa.A {
		p.insertedA(it)
		return
	}
	need, c := it.Stmt.Mnem.BlockNeed()
	if need == isa.NeedsBlock && !p.cur.Unified {
		return // refused
	}
	own := c
	if need == isa.NeedsAny {
		c = b.Cond
	}
	fits := b.Takes(c)
	if need == isa.NeedsNone || !fits {
		b.Close()
	}
	switch {
	case need == isa.NeedsAny && !fits && own != isa.AL && p.cur.Unified:
		// The assembler takes it as it is, and inserts nothing.
		it.Slot = program.SlotIn | program.SlotLast | program.Slot(own)
		p.Warn(p.NameLoc(it), finding.CodeITBlock, wording.NoInsertedIT(it.Stmt.Name))
	case need == isa.NeedsNone || !fits && need != isa.NeedsBlock:
	case fits:
		b.N++
		it.Slot = program.SlotIn | program.SlotLast | program.SlotInserted | program.Slot(c)
		if b.Loads >= 0 {
			x := &p.Items[b.Loads]
			p.Warn(p.NameLoc(x), finding.CodeITBlock, wording.LoadsPCInInserted(x.Stmt.Name))
			b.Loads = -1
		}
	default:
		*b = program.Inserted{N: 1, Cond: c, Loads: -1}
		it.Slot = program.SlotIn | program.SlotLast | program.SlotInserted | program.SlotFirst | program.Slot(c)
		s.Size += 2
		it.Off += 2
	}
}

// insertedA goes on with a block in A32 code. The assembler forgets there which
// state the block is of: it counts A32 instructions in, and begins another one
// with an IT in the middle of A32 code. Their slots have no slotIn: nothing else
// changes for them.
func (p *pass) insertedA(it *program.Item) {
	s := &p.Secs[p.sec]
	b := &s.Inserted
	c := it.Stmt.Mnem.CondA()
	switch {
	case b.N == 0:
	case c == isa.AL:
		b.Close()
	default:
		p.Warn(p.NameLoc(it), finding.CodeITBlock, wording.IntoInsertedBlock(it.Stmt.Name))
		it.Slot = program.SlotInserted | program.Slot(c)
		if b.Takes(c) {
			b.N++
			return
		}
		*b = program.Inserted{N: 1, Cond: c, Loads: -1}
		it.Slot |= program.SlotFirst
		s.Size += 2
		it.Off += 2
	}
}

// leaveInserted ends the inserted block behind what goes elsewhere.
func (p *pass) leaveInserted(it *program.Item) {
	if it.Slot&program.SlotInserted == 0 {
		return
	}
	b := &p.Secs[p.sec].Inserted
	switch {
	case it.Match.EndsBlock():
		b.Close()
	case it.Match.Effects().Writes.Has(isa.PC):
		b.Loads = it.Id
	}
}
