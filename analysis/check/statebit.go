package check

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
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
		y, mode, ok := p.CodeLabel(program.Value{Kind: program.Address, Section: int16(l.To.Base.ID), N: int64(l.To.Val &^ 1)})
		if ok && (mode == isa.T) != set {
			p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeStateBit, Message: wording.GoesToOtherState(l.Item.Stmt.Name, y.Name, mode),
				Related: []finding.Related{{Location: y.At.Location, Message: wording.DefinedHere(y.Name)}}})
		}
		return
	}
	if have.Has(isa.FeatM) && !set && l.To.Base.Kind == values.None {
		p.Report(p.StmtLoc(l.Item), finding.CodeStateBit, wording.NoThumbBit(l.Item.Stmt.Name, wording.HeldText(l.To, p.known.PlaceName, p.known.RoutineOf)))
	}
}

// said says whether a finding about bit 0 names the line already.
func (p *job) said(it *program.Item) bool {
	at := p.StmtLoc(it).Location
	return slices.ContainsFunc(p.before, func(d finding.Diagnostic) bool {
		return d.Code == finding.CodeStateBit && (d.Location == at || slices.ContainsFunc(d.Related, func(r finding.Related) bool { return r.Location == at }))
	})
}

// vectors finds words of vector tables of M profile that are the address of code without
// bit 0: the core takes it from there, and has no A32 state (DDI 0419, A3.2.1; DDI 0403E,
// B1.5.3). The assemblers of the other dialects set it for each label of Thumb code.
func vectors(p *job) {
	for i := range p.Items {
		it := &p.Items[i]
		s := it.Stmt
		if s.Kind != syntax.Directive || s.Directive.Effect != syntax.EffData || p.Unit(it) != 4 || !p.have(it).Has(isa.FeatM) || !p.vectorTable(it) || p.DialectOf(it).Words() {
			continue
		}
		for k := range s.Ops {
			o := &s.Ops[k]
			v := p.Value(o, it)
			if v.Kind == program.Undefined && v.Symbol != nil && v.Symbol.Defined && v.Symbol.Label && !v.Mixed {
				at := v.Symbol.Value
				at.Symbol, at.N = v.Symbol, at.N+v.N
				v = at
			}
			y, mode, ok := p.CodeLabel(v)
			if !ok || mode != isa.T || v.N&1 != 0 || y.Function || y.Auto || v.Symbol != nil && v.Symbol.Function {
				continue
			}
			p.Emit(p.Loc(it, o.Start, o.End), finding.Diagnostic{Code: finding.CodeStateBit, Message: wording.VectorWithoutBit(y.Name), Bit: finding.WantsSet, Shared: true,
				Related: []finding.Related{{Location: y.At.Location, Message: wording.DefinedHere(y.Name)}}})
		}
	}
}

// vectorTable says whether a line of data is in a table of vectors: by the name of its
// section, or of the label before it.
func (p *job) vectorTable(it *program.Item) bool {
	vector := func(name string) bool {
		name = strings.ToLower(name)
		return strings.Contains(name, "vector") || strings.Contains(name, "isr_table") || strings.Contains(name, "isr_vec")
	}
	if vector(p.Sections[it.Section].Name) {
		return true
	}
	order := p.Order[it.Section]
	for k := p.Position(it) - 1; k >= 0; k-- {
		switch x := &p.Items[order[k]]; x.Stmt.Kind {
		case syntax.Label:
			return vector(x.Stmt.Name)
		case syntax.Instruction:
			return false
		}
	}
	return false
}
