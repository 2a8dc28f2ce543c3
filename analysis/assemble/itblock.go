package assemble

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// blocks are the IT blocks that are open, by section: like the assembler, blocks go on
// over labels, data, other sections and changes of the mode.
type blocks struct{ blockBySec []block }

// block is what is open of IT blocks in a section.
type block struct {
	written  isa.Block // the one that the text opens
	by       int32     // and its IT line
	inserted inserted
}

// blockOf is what is open in a section.
func (b *blocks) blockOf(sec int16) *block {
	for len(b.blockBySec) <= int(sec) {
		b.blockBySec = append(b.blockBySec, block{})
	}
	return &b.blockBySec[sec]
}

// takeSlot gives the item the next slot of its section's IT block. A line that cannot
// be read takes no slot.
func (p *pass) takeSlot(it *program.Item) {
	b := &p.blockOf(p.currentSection).written
	if b.Left() > 0 {
		it.Slot = program.PackSlot(b.Slot())
		if it.Stmt.Err == nil {
			b.Next()
		}
	} else if p.current.Implicit {
		p.takeInserted(it)
	}
}

// codeByNumber gives the next slot of an IT block to an instruction that is
// there as a number, which has no condition to compare. It ends a block that the
// assembler makes.
func (p *pass) codeByNumber() {
	if p.current.Mode != isa.T {
		return
	}
	s := p.blockOf(p.currentSection)
	if s.written.Left() > 0 {
		s.written.Next()
	}
	s.inserted.close()
}

// openBlock begins the block of an IT instruction that may be where it is.
func (p *pass) openBlock(it *program.Item) {
	if b, ok := it.Match.Block(); ok && it.Slot == 0 {
		s := p.blockOf(p.currentSection)
		s.written, s.by = b, it.Index
	}
}

// blocksEnd reports the IT blocks that the sections' ends leave open.
func (p *pass) blocksEnd() {
	for i := range p.blockBySec {
		if n := p.blockBySec[i].written.Left(); n > 0 {
			s, it := &p.Sections[i], &p.Items[p.blockBySec[i].by]
			p.Warn(p.StmtLoc(it), finding.CodeITBlock, wording.BlockIncomplete(wording.Plural(n, "instruction", "instructions"), s.Name))
		}
	}
}

// blockA32 checks an A32 line against the IT block that it is in: assemblers
// do so in order that the text may be assembled for either state. IT itself is
// no instruction there, and in the divided syntax it means nothing.
func (p *pass) blockA32(it *program.Item) (done bool) {
	s := it.Stmt
	if s.Mnemonic.OpensBlock() {
		it.Size = 0
		if p.syntaxError(it) {
			it.Flags |= program.Refused
			return true
		}
		if s.Width != 0 {
			p.widthA32(it)
			return true
		}
		p.Operands(it, false)
		q := p.Query(it, &p.current)
		q.A32, q.Unified = false, true
		q.Have |= isa.FeatT32
		if !p.current.Unified {
			q.IT = isa.Slot{}
		}
		m, ok := s.Mnemonic.Match(&q, p.Ops)
		switch {
		case !ok:
			it.Flags |= program.Refused
			p.Refuse(it, &q)
		case p.current.Unified:
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
	known := len(s.Mnemonic.FormsOf(isa.A)) > 0
	if got := s.Mnemonic.CondA32(); known && (got != c || c == isa.AL) {
		it.Flags |= program.Refused
		p.OtherCond(it, got, c)
		return true
	}
	return false
}

// sizeElsewhere is the size that the line has where it may be.
func (p *pass) sizeElsewhere(it *program.Item, q isa.Query) int64 {
	q.IT = isa.Slot{}
	if c, spelt := it.Stmt.Mnemonic.Cond(); spelt {
		q.IT = isa.Slot{In: true, Last: true, Cond: c}
	}
	if m, ok := it.Stmt.Mnemonic.Match(&q, p.Ops); ok {
		return int64(m.Form.Row.Size())
	}
	return p.guess(it)
}
