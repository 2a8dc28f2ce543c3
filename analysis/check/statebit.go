package check

import (
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// stateBit finds branch-exchanges through a value that is known, with the wrong bit 0: of
// code of this program, or on a core that has Thumb state only (DDI 0419, A3.2.1).
func stateBit(p *job, l *flow.Line) {
	if !l.Leaves || l.Item.Match.Form == nil || l.To.Assumed {
		return
	}
	e, have := l.Item.Match.Effects(), p.have(l.Item)
	exchanges := e.Flow == isa.FlowReg && l.Item.Match.Form.Row.Exchange || e.ReadsMem && e.Writes.Has(isa.PC) && (have.Has(isa.FeatV5T) || have.Has(isa.FeatM))
	if !exchanges || e.Reads.Has(isa.PC) && !e.ReadsMem || p.said(l.Item) {
		return
	}
	mask, val := l.To.Bits()
	if mask&1 == 0 {
		return
	}
	set := val&1 != 0
	if l.To.Base.Kind == values.Section {
		it, label := p.known.CodeAt(l.To)
		if it == nil || label == "" {
			return
		}
		if y, mode := p.SymbolOf(label), p.Environments[it.Environment].Mode; (mode == isa.T) != set && !y.Auto {
			want := finding.WantsClear
			if mode == isa.T {
				want = finding.WantsSet
			}
			p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeStateBit, Message: wording.GoesToOtherState(l.Item.Stmt.Name, y.Name, mode), Bit: want, Shared: true,
				Related: []finding.Related{{Location: p.DefinedAt(y).Location, Message: wording.DefinedHere(y.Name)}}})
		}
		return
	}
	if have.Has(isa.FeatM) && !set && l.To.Base.Kind == values.None {
		p.Report(p.StmtLoc(l.Item), finding.CodeStateBit, wording.NoThumbBit(l.Item.Stmt.Name, wording.HeldText(l.To, p.known.PlaceName, p.known.RoutineOf)))
	}
}

// said says whether a finding about bit 0 names the line already, or one that it is run into in
// the other state.
func (p *job) said(it *program.Item) bool {
	at, name := p.StmtLoc(it).Location, p.NameLoc(it).Location
	return slices.ContainsFunc(p.before, func(d finding.Diagnostic) bool {
		return d.Code == finding.CodeModeMix && d.Location == name ||
			d.Code == finding.CodeStateBit && (d.Location == at || slices.ContainsFunc(d.Related, func(r finding.Related) bool { return r.Location == at }))
	})
}
