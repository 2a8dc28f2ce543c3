package assemble

import (
	"slices"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// instruction sizes an instruction and binds it, if all its values are known.
func (p *pass) instruction(it *program.Item) {
	s := it.Stmt
	it.Flags |= program.IsCode
	sec := &p.Sections[p.currentSection]
	sec.Code = true
	p.assumeThumb(it)
	p.takeSlot(it)
	if p.current.Mode == isa.A {
		it.Size = 4
		if f := s.Mnemonic.FormsOf(isa.A); len(f) > 0 {
			it.Size = int64(f[0].Row.Size()) // that of ADRL is 8, always
		}
		if s.Mnemonic.OpensBlock() {
			it.Size = 0
		}
		sec.Size += it.Size
		p.instructionA32(it)
		return
	}
	noT16 := !p.current.Have.Has(isa.FeatT16) // .arch may take it away
	if noT16 {
		p.Report(p.NameLoc(it), finding.CodeNotOnArch, noCompact(p.current.Target))
	}
	if noT16 || s.Err != nil && !program.NameOnly(s.Mnemonic, &p.current) && p.syntaxError(it) {
		it.Flags |= program.Refused
		it.Size = 2
		sec.Size += 2
		return
	}
	q := &p.query
	*q = p.Query(it, &p.current)
	if n := len(s.Ops); n == 2 && s.Ops[1].Kind == isa.OpLit {
		p.literalLoad(it)
	}
	known := p.Operands(it, false)
	if q.Have.Has(isa.FeatT32) && p.Misplaced(it, q) {
		it.Flags |= program.Refused
		it.Size = p.sizeElsewhere(it, *q)
		sec.Size += it.Size
		return
	}
	m, ok := s.Mnemonic.Match(q, p.Ops)
	switch {
	case ok:
		it.Match = m
		p.early(it, &m, q)
		it.Size = int64(m.Form.Row.Size())
		if !known || m.Deferred() || m.Odd() {
			it.Flags |= program.Waits
		}
		if it.Flags&program.Waits != 0 || p.current.Full() {
			p.Grow(it, q, known)
		}
		p.openBlock(it)
		p.leaveInserted(it)
		if q.IT.In && !q.IT.Last && m.Effects().Writes.Has(isa.PC) && (m.Effects().Flow == isa.FlowNext || m.Form.Row.Last == isa.LastNever) {
			p.Warn(p.NameLoc(it), finding.CodeITBlock, wording.LoadsPCInBlock(s.Name))
		}
	case p.NotLast(it, q):
		it.Flags |= program.Refused
		it.Size = p.sizeElsewhere(it, *q)
	case program.NameOnly(s.Mnemonic, &p.current):
		it.Flags |= program.Unchecked
		it.Size = p.guess(it)
	case !known:
		it.Flags |= program.Waits
		it.Size = p.guess(it)
	default:
		it.Size = p.guess(it)
		if p.targets() {
			// Whether an address is out of reach may depend on .global below.
			it.Flags |= program.Waits
			break
		}
		// Say it now: .set may give another value to a name below.
		it.Flags |= program.Refused
		p.Refuse(it, q)
	}
	sec.Size += it.Size
	if it.Flags&program.Waits != 0 {
		p.unresolved = append(layout.Room(p.unresolved), it.Index)
	}
}

// assumeThumb reports an instruction in A32 code of a target that has none. What comes after
// it is read as Thumb code, so that what is wrong with that is found, too.
func (p *pass) assumeThumb(it *program.Item) {
	if !p.current.Assumed {
		if p.current.Mode != isa.A || p.current.Have.Has(isa.FeatA32) || !p.current.Have.Has(isa.FeatT16) {
			return
		}
		e := p.current
		e.Mode, e.Assumed = isa.T, true
		p.setEnv(e)
		it.Environment = p.envID
		for _, i := range slices.Backward(p.Order[it.Section]) { // labels of this line are of Thumb code, too
			l := &p.Items[i]
			if l.Stmt.Kind == syntax.Label && l.Offset == it.Offset {
				if y := p.Find(l.Stmt.Name); y != nil && y.Item == i {
					y.Mode = isa.T
				}
			} else if i != it.Index {
				break
			}
		}
	}
	p.ThumbOnly(it)
}

// targets says whether some operand is an address.
func (p *pass) targets() bool {
	for i := range p.Ops {
		if k := p.Ops[i].Kind; k == isa.OpExpr || k == isa.OpLit {
			return true
		}
	}
	return false
}

// guess is the size of an instruction that is not bound: that of its forms
// if they agree, else a halfword.
func (p *pass) guess(it *program.Item) int64 {
	s := it.Stmt
	if program.NameOnly(s.Mnemonic, &p.current) {
		if s.Width == 'n' {
			return 2
		}
		return 4
	}
	if f := s.Mnemonic.Forms; len(f) > 0 {
		// What the target only lacks has the size that it has elsewhere: BLX to a label.
		// T32 is not lacking, but other code.
		q := p.Query(it, &p.Environments[it.Environment])
		if !s.Mnemonic.LacksOtherSize(&q) {
			return int64(f[0].Row.Size())
		}
		if near, _ := s.Mnemonic.Nearest(&q, p.Ops); near.Reason == isa.NoFeature && !near.Need.Has(isa.FeatT32) && near.Form.Row.State == isa.T {
			return int64(near.Form.Row.Size())
		}
		return int64(f[0].Row.Size())
	}
	return 2
}

// instructionA32 binds an A32 line. What the table does not describe is taken as
// it is.
func (p *pass) instructionA32(it *program.Item) {
	if ops := it.Stmt.Ops; len(ops) == 2 && ops[1].Kind == isa.OpLit && (it.Stmt.Err == nil || it.Stmt.Err.Mild) {
		p.literalLoad(it)
	}
	if p.blockA32(it) {
		return
	}
	s := it.Stmt
	q := &p.query
	*q = p.Query(it, &p.current)
	checked := s.Mnemonic.Checked(q)
	if len(s.Mnemonic.FormsOf(isa.A)) == 0 {
		if s.Mnemonic.OpensBlock() {
			// Only for the assembler: conditions are in the names.
			p.widthA32(it)
			p.Sections[p.currentSection].Size -= it.Size
			it.Size = 0
			return
		}
		if !isa.A32Name(s.Mnemonic.Name) {
			p.Report(p.NameLoc(it), finding.CodeNoForm, wording.NotInA32(s.Name))
			it.Flags |= program.Refused
		} else {
			p.widthA32(it)
		}
		return
	}
	if s.Err != nil && (!checked || p.syntaxError(it)) {
		if checked {
			it.Flags |= program.Refused
		}
		return
	}
	known := p.Operands(it, false)
	m, ok := s.Mnemonic.Match(q, p.Ops)
	switch {
	case ok:
		it.Match = m
		p.early(it, &m, q)
		if !known || m.Deferred() {
			it.Flags |= program.Waits
		}
	case !checked:
		p.widthA32(it)
	case !known || p.targets():
		it.Flags |= program.Waits
	default:
		it.Flags |= program.Refused
		p.Refuse(it, q)
	}
	if it.Flags&program.Waits != 0 {
		p.unresolved = append(layout.Room(p.unresolved), it.Index)
	}
}

// widthA32 refuses .w and .n where no form does.
func (p *pass) widthA32(it *program.Item) {
	if it.Stmt.Width != 0 {
		p.Report(p.NameLoc(it), finding.CodeNoForm, wording.WidthInA32(it.Stmt.Name))
		it.Flags |= program.Refused
	}
}

// noCompact says that a target has no T16 code.
func noCompact(target string) string {
	return wording.NoThumb(target)
}
