package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
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
	return !e.ReadsMem && e.Reads.Has(isa.LR) && !p.loadedWith(l)
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
