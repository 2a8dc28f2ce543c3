package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// unusedCompare finds compares and tests whose flags another line sets anew before anything
// reads them.
func unusedCompare(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil || l.After == nil {
		return
	}
	e := l.Item.Match.Effects()
	op, _, _ := l.Item.Stmt.Mnemonic.Operation()
	if a, ok := isa.ArithmeticOf(op); !ok || !a.Compares || e.Writes != 0 || e.FlagsWritten == 0 || e.Conditional {
		return
	}
	if p.paths.DeadFlags(l.Item, e.FlagsWritten) != e.FlagsWritten {
		return
	}
	by := p.paths.FlagsNext(l.Item)
	if by == nil {
		return // they may be what the routine hands back
	}
	p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeCompareUnused, Message: wording.CompareUnused(l.Item.Stmt.Name, by.Stmt.Name, p.line(by)),
		Related: []finding.Related{{Location: p.StmtLoc(by).Location, Message: wording.SetsFlagsAnew()}}})
}

// flagsOfTwo finds conditions on several flags that two lines have set, of which one compares:
// the other has overwritten a part of its flags.
func flagsOfTwo(p *job, l *flow.Line) {
	if l.Cond >= isa.AL || l.Item.Match.Form == nil {
		return
	}
	first, last, ok := l.Before.FlagsBy(l.Cond.Reads(), p.known)
	if !ok || first == last {
		return
	}
	op, _, _ := first.Stmt.Mnemonic.Operation()
	if a, ok := isa.ArithmeticOf(op); !ok || !a.Compares {
		return
	}
	p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeFlagsOfTwo, Message: wording.FlagsOfTwo(l.Item.Stmt.Name, l.Cond, first.Stmt.Name, p.line(first), last.Stmt.Name, p.line(last)),
		Related: []finding.Related{{Location: p.StmtLoc(first).Location, Message: wording.FlagsSetHere()}, {Location: p.StmtLoc(last).Location, Message: wording.SetsFlagsAnew()}}})
}

// constantCondition finds conditions that always hold, or never do.
func constantCondition(p *job, l *flow.Line) {
	if l.Cond >= isa.AL || l.Item.Match.Form == nil || l.Holds.Assumed {
		return
	}
	n, ok := l.Holds.Exact()
	if !ok {
		return
	}
	d := finding.Diagnostic{Code: finding.CodeConditionKnown, Message: wording.ConditionKnown(l.Item.Stmt.Name, l.Cond, n != 0)}
	if set := p.paths.FlagsSetBy(l.Item); set != nil {
		d.Related = []finding.Related{{Location: p.StmtLoc(set).Location, Message: wording.FlagsSetHere()}}
	}
	p.Emit(p.NameLoc(l.Item), d)
}
