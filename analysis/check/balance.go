package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// unbalanced finds returns where the stack pointer is not what it was at the entry (AAPCS32,
// 6.1.1: a routine preserves SP).
func unbalanced(p *job, l *flow.Line) {
	if !l.Back() || l.End == nil {
		return
	}
	off, ok := l.End.Regs[isa.SP].Is(isa.SP)
	if !ok || off == 0 || l.End.Regs[isa.SP].Base.ID < 0 {
		return
	}
	if off < 0 && l.Before.OnStack(isa.LR) && p.losesReturn(l) {
		return // which says that the return address is still there
	}
	name := p.known.RoutineName(l.End.Regs[isa.SP].Base)
	if name == "" || !p.known.Routine(l.End.Regs[isa.SP].Base, off > 0) || p.returnsForCaller(l.End.Regs[isa.SP].Base, off) {
		return
	}
	p.Report(p.StmtLoc(l.Item), finding.CodeStackBalance, wording.Unbalanced(p.restText(l.Item), name, off))
}

// returnsForCaller says whether a routine, which no other file knows, goes back for those that
// call it: where each of them does they have that many bytes on the stack, and their own return
// address among them. Then the stack is as it was where they began.
func (p *job) returnsForCaller(b values.Base, off int32) bool {
	calls := p.known.CallsOf(b)
	if y := p.SymbolOf(p.known.RoutineName(b)); off < 0 || len(calls) == 0 || y == nil || y.Global || y.Function {
		return false
	}
	for _, c := range calls {
		l, ok := p.known.At(c)
		if !ok {
			return false
		}
		if sp, known := l.Before.Regs[isa.SP].Is(isa.SP); !known || sp != -off || !l.Before.OnStack(isa.LR) {
			return false
		}
	}
	return true
}

// depths finds places that two ways lead to with different depths of the stack, after which
// the routine comes back.
func depths(p *job) {
	p.known.Uneven(func(u flow.Uneven) {
		name := p.known.RoutineName(u.Base)
		if name == "" || !p.known.Routine(u.Base, false) {
			return
		}
		p.Emit(p.StmtLoc(u.Item), finding.Diagnostic{Code: finding.CodeStackBalance, Message: wording.Uneven(name, -u.One, -u.Other, p.line(u.From)),
			Related: []finding.Related{{Location: p.StmtLoc(u.From).Location, Message: wording.FromHere(-u.Other)}}})
	})
}
