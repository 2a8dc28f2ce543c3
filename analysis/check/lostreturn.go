package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// lostReturn finds returns through LR where a call has changed it on some way: BL and BLX put
// their own return address there (AAPCS32, 6.1.1: LR is not preserved).
func lostReturn(p *job, l *flow.Line) {
	if !p.losesReturn(l) {
		return
	}
	d := finding.Diagnostic{Code: finding.CodeReturnLost, Message: wording.ReturnLost(p.restText(l.Item))}
	if call := p.paths.LastCall(l.Item); call != nil {
		d.Related = []finding.Related{{Location: p.StmtLoc(call).Location, Message: wording.TheCall()}}
		d.Message = wording.ReturnLostBy(p.restText(l.Item), p.line(call))
		if l.Before.OnStack(isa.LR) {
			d.Message = wording.ReturnLeft(p.restText(l.Item), p.line(call))
		}
	}
	p.Emit(p.StmtLoc(l.Item), d)
}

// losesReturn says whether a line returns through LR where a call has changed it.
func (p *job) losesReturn(l *flow.Line) bool {
	if !l.Returns || !l.Before.Regs[isa.LR].Left || l.Item.Match.Form == nil {
		return false
	}
	e := l.Item.Match.Effects()
	return !e.ReadsMem && e.Reads.Has(isa.LR) && !p.loadedWith(l) && !p.putBack(l)
}

// loadedWith says whether a line above, with the same condition and the same flags, gives LR a
// value whenever this line is carried out.
func (p *job) loadedWith(l *flow.Line) bool {
	if l.Cond >= isa.AL {
		return false
	}
	order := p.Order[l.Item.Section]
	for k := p.Position(l.Item) - 1; k >= 0; k-- {
		x := &p.Items[order[k]]
		if x.Size == 0 && x.Stmt.Kind != syntax.Label {
			continue
		}
		if x.Match.Form == nil || x.Match.Condition() != l.Cond {
			return false
		}
		e := x.Match.Effects()
		if e.Writes.Has(isa.LR) && e.Flow != isa.FlowCall {
			return true
		}
		if e.FlagsWritten != 0 || e.Flow != isa.FlowNext {
			return false
		}
	}
	return false
}

// callKeeps are the registers that a call keeps (AAPCS32, 6.1.1), but r9, which platforms have
// other uses for.
const callKeeps = isa.RegList(0xdf0 | 1<<isa.SP)

// putBack says whether the call in front of a line, which has changed LR, is carried out on a
// condition, and LR gets a value behind it on the same one, of the same comparison of registers
// that nothing changes between the two: then it is carried out whenever the call is.
func (p *job) putBack(l *flow.Line) bool {
	order := p.Order[l.Item.Section]
	var load, call, second *program.Item
	var changed isa.RegList
	for k := p.Position(l.Item) - 1; k >= 0; k-- {
		x := &p.Items[order[k]]
		if x.Size == 0 && x.Stmt.Kind != syntax.Label {
			continue
		}
		if x.Match.Form == nil {
			return false // a label, too: other ways come in there
		}
		e := x.Match.Effects()
		switch {
		case load == nil:
			if e.Flow != isa.FlowNext {
				return false
			}
			if e.Writes.Has(isa.LR) {
				if load = x; x.Match.Condition() >= isa.AL {
					return false
				}
			}
			continue
		case call == nil && e.Flow == isa.FlowCall:
			if call = x; second == nil || x.Match.Condition() != load.Match.Condition() {
				return false
			}
			changed |= ^callKeeps
			continue
		case e.Flow != isa.FlowNext:
			return false
		case e.FlagsWritten == 0:
		case call == nil:
			if second != nil {
				return false
			}
			second = x
		default:
			return x.Match.Condition() >= isa.AL && x.Match.Encode() == second.Match.Encode() && x.Size == second.Size &&
				!e.ReadsMem && e.Reads&(changed|e.Writes) == 0
		}
		changed |= e.Writes
	}
	return false
}
