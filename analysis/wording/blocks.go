package wording

import (
	"fmt"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// OtherCond reports a condition that is not that of the slot.
func (p *Reporter) OtherCond(it *program.Item, got, want isa.Cond) {
	by := Where(p.Program, p.NameLoc(p.BlockOf(it)).Location, it)
	name := it.Stmt.Name
	switch {
	case want == isa.AL:
		p.Report(p.NameLoc(it), finding.CodeITBlock, fmt.Sprintf("%s is not allowed in an IT block with condition al (%s); assemblers take only branches there.", name, by))
	case want > isa.AL:
		p.Report(p.NameLoc(it), finding.CodeITBlock, fmt.Sprintf("%s is in an else place of the IT block (%s), whose condition al has no opposite.", name, by))
	case got == isa.AL:
		p.Report(p.NameLoc(it), finding.CodeITBlock, fmt.Sprintf("%s has no condition, but its place in the IT block (%s) needs %s.", name, by, want))
	default:
		p.Report(p.NameLoc(it), finding.CodeITBlock, fmt.Sprintf("%s has the condition %s, but its place in the IT block (%s) needs %s.", name, got, by, want))
	}
}

// Misplaced reports a line that must not be where it is, whatever its
// operands are. It says whether it is one.
func (p *Reporter) Misplaced(it *program.Item, q *isa.Query) bool {
	return p.refuseBlock(it, q, it.Stmt.Mnemonic.Misplaced(q))
}

// NotLast reports what would be right as the last of its block, and says
// whether it is.
func (p *Reporter) NotLast(it *program.Item, q *isa.Query) bool {
	if !q.IT.In || q.IT.Last {
		return false
	}
	last := *q
	last.IT.Last = true
	_, ok := it.Stmt.Mnemonic.Match(&last, p.Ops)
	return ok && p.refuseBlock(it, q, isa.NotLast)
}

// Unconditional warns of a condition that assemblers take outside an IT block, and
// that does nothing there.
func (p *Reporter) Unconditional(it *program.Item) {
	if cond, spelt := it.Stmt.Mnemonic.Cond(); spelt && cond != isa.AL && it.Slot&program.SlotIn == 0 {
		p.Warn(p.NameLoc(it), finding.CodeITBlock, fmt.Sprintf("%s is outside an IT block, so its condition has no effect; add 'it %s' above.", it.Stmt.Name, cond))
	}
}

// refuseBlock reports what an IT block, or its absence, forbids. It says
// whether that was the reason.
func (p *Reporter) refuseBlock(it *program.Item, q *isa.Query, why isa.Reason) bool {
	if why == isa.OK {
		return false
	}
	name := it.Stmt.Name
	cond, spelt := it.Stmt.Mnemonic.Cond()
	at := p.NameLoc(it)
	switch why {
	case isa.NeedIT:
		if spelt && !q.Unified {
			p.reportOf(finding.CauseDivided, at, finding.CodeITBlock, fmt.Sprintf("Divided syntax has no IT blocks, so only branches take a condition (%s) there, not %s; add %s above.", cond, name, p.unifiedBy(it)))
		} else if spelt {
			p.Report(at, finding.CodeITBlock, fmt.Sprintf("%s has a condition but is outside an IT block; add 'it %s' above.", name, cond))
		} else {
			p.Report(at, finding.CodeITBlock, fmt.Sprintf("%s keeps the flags only in an IT block; outside one write %ss, which sets them.", name, name))
		}
	case isa.OtherCond:
		p.OtherCond(it, cond, q.IT.Cond)
	case isa.InBlock:
		switch {
		case it.Stmt.Mnemonic.OpensBlock():
			p.Report(at, finding.CodeITBlock, fmt.Sprintf("%s is inside another IT block (%s), which is not complete.", name, Where(p.Program, p.NameLoc(p.BlockOf(it)).Location, it)))
		case q.IT.Cond == isa.AL:
			p.OtherCond(it, cond, isa.AL)
		default:
			p.Report(at, finding.CodeITBlock, fmt.Sprintf("This form of %s is not allowed in an IT block.", name))
		}
	case isa.NotLast:
		p.Report(at, finding.CodeITBlock, fmt.Sprintf("%s changes pc, so it must be the last instruction of its IT block.", name))
	default:
		return false
	}
	return true
}
