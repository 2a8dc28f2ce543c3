package assemble

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// takeSlot gives the item the next slot of its section's IT block. Like the
// assembler, blocks go on over labels, data, other sections and changes of the
// mode: each section has its own. A line that cannot be read takes no slot.
func (p *pass) takeSlot(it *program.Item) {
	b := &p.open[p.sec].block
	if b.Left() > 0 {
		it.Slot = program.PackSlot(b.Slot())
		if it.Stmt.Err == nil {
			b.Next()
		}
	} else if p.cur.Implicit {
		p.takeInserted(it)
	}
}

// codeByNumber gives the next slot of an IT block to an instruction that stands
// there as a number, which has no condition to compare. It ends a block that the
// assembler makes.
func (p *pass) codeByNumber() {
	if p.cur.Mode != isa.T {
		return
	}
	s := &p.open[p.sec]
	if s.block.Left() > 0 {
		s.block.Next()
	}
	s.inserted.close()
}

// openBlock begins the block of an IT instruction that may stand where it does.
func (p *pass) openBlock(it *program.Item) {
	if b, ok := it.Match.Block(); ok && it.Slot == 0 {
		s := &p.open[p.sec]
		s.block, s.blockBy = b, it.Id
	}
}

// blocksEnd reports the IT blocks that the sections' ends leave open.
func (p *pass) blocksEnd() {
	for i := range p.open {
		if n := p.open[i].block.Left(); n > 0 {
			s, it := &p.Secs[i], &p.Items[p.open[i].blockBy]
			p.Warn(p.StmtLoc(it), finding.CodeITBlock, wording.BlockIncomplete(wording.Plural(n, "instruction", "instructions"), s.Name))
		}
	}
}

// blockA checks an A32 line against the IT block that it stands in: assemblers
// do so in order that the text may be assembled for either state. IT itself is
// no instruction there, and in the divided syntax it means nothing.
func (p *pass) blockA(it *program.Item) (done bool) {
	s := it.Stmt
	if s.Mnem.OpensBlock() {
		it.Size = 0
		if p.syntaxError(it) {
			it.Flags |= program.Refused
			return true
		}
		if s.Width != 0 {
			p.widthA(it)
			return true
		}
		p.Operands(it, false)
		q := p.Query(it, &p.cur)
		q.A32, q.Unified = false, true
		q.Have |= isa.FeatT32
		if !p.cur.Unified {
			q.IT = isa.Slot{}
		}
		m, ok := s.Mnem.Match(&q, p.Ops)
		switch {
		case !ok:
			it.Flags |= program.Refused
			p.Refuse(it, &q)
		case p.cur.Unified:
			it.Match = m
			p.openBlock(it)
			it.Match = isa.Match{}
		}
		return true
	}
	if it.Slot&program.SlotIn == 0 {
		return false
	}
	c := it.Slot.Unpack().Cond
	known := len(s.Mnem.FormsOf(isa.A)) > 0
	if got := s.Mnem.CondA(); known && (got != c || c == isa.AL) {
		it.Flags |= program.Refused
		p.OtherCond(it, got, c)
		return true
	}
	return false
}

// sizeElsewhere is the size that the line has where it may stand.
func (p *pass) sizeElsewhere(it *program.Item, q isa.Query) int64 {
	q.IT = isa.Slot{}
	if c, spelt := it.Stmt.Mnem.Cond(); spelt {
		q.IT = isa.Slot{In: true, Last: true, Cond: c}
	}
	if m, ok := it.Stmt.Mnem.Match(&q, p.Ops); ok {
		return int64(m.Form.Row.Size())
	}
	return p.guess(it)
}
