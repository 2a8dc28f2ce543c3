package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// lostReturn finds returns through LR where a call has changed it on some way: BL and BLX put
// their own return address there (AAPCS32, 6.1.1: LR is not preserved).
func lostReturn(p *job, l *flow.Line) {
	lr := l.Before.Regs[isa.LR]
	if !l.Returns || !lr.Left || l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	if e.ReadsMem || !e.Reads.Has(isa.LR) {
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
