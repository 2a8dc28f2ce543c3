package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// stateKept finds lines that write pc and keep the state, and go to code of the other one. POP,
// LDM and LDR change it from ARMv5T on (DDI 0100, "POP", "LDM (1)" and "LDR", by what
// sources quote of them), arithmetic and MOV from ARMv7 on and in A32 code only (DDI
// 0406C, A2.3.1, ALUWritePC). Where a function for other files returns so, in a source
// with code of both states, it is a hint, as it depends on who calls it.
func stateKept(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	if !e.Writes.Has(isa.PC) && e.Flow != isa.FlowReg || e.Flow.ToLabel() || !p.keepsState(l) {
		return
	}
	from := p.Environments[l.Item.Environment].Mode
	if l.Returns {
		p.returnKept(l, from)
		return
	}
	to, _ := p.known.JumpsTo(l.Item)
	if l.Leaves && !l.To.Assumed {
		if it, _ := p.known.CodeAt(l.To); it != nil {
			to = append(to, it)
		}
	}
	for _, it := range to {
		if p.Environments[it.Environment].Mode != from {
			p.Report(p.StmtLoc(l.Item), finding.CodeStateKept, wording.StateKept(p.restText(l.Item), p.line(it), from, p.Environments[l.Item.Environment].Target))
			return
		}
	}
}

// keepsState says whether a line that writes pc leaves the state as it is, on a core that
// has both.
func (p *job) keepsState(l *flow.Line) bool {
	e, have := l.Item.Match.Effects(), p.have(l.Item)
	from := p.Environments[l.Item.Environment].Mode
	switch {
	case !have.Has(isa.FeatT16) || !have.Has(isa.FeatA32) || l.Item.Match.Form.Row.Exchange || l.Item.Match.ChangesMode():
		return false
	case e.ReadsMem:
		return !have.Has(isa.FeatV5T)
	}
	return from == isa.T || !have.Has(isa.FeatBar)
}

// returnKept looks at a return: at the calls of its routine that are seen.
func (p *job) returnKept(l *flow.Line, from isa.State) {
	base := l.Before.Regs[isa.SP].Base
	if base.Kind != values.Entry {
		return
	}
	name, target := p.known.RoutineName(base), p.Environments[l.Item.Environment].Target
	if name == "" {
		return
	}
	for _, c := range p.known.CallsOf(base) {
		if p.Environments[c.Environment].Mode != from {
			p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeStateKept, Message: wording.ReturnKept(p.restText(l.Item), name, from, p.line(c), target),
				Related: []finding.Related{{Location: p.StmtLoc(c).Location, Message: wording.CalledHere(name)}}})
			return
		}
	}
	if p.known.Public(base) && p.States[isa.A] && p.States[isa.T] {
		p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeStateKept, Severity: finding.Hint, Message: wording.ReturnMayBeKept(p.restText(l.Item), name, from, target)})
	}
}
