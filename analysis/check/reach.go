package check

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// unreached finds lines after one that never goes on, to which nothing leads.
func unreached(p *job) {
	p.paths.Unreached(func(u flow.Gap) {
		p.Emit(p.StmtLoc(u.First), finding.Diagnostic{Code: finding.CodeUnreached, Unneeded: true, Message: wording.Unreached(p.restText(u.Before), p.line(u.Before))})
	})
}

// runsIntoData finds code that goes on into data with a name, into the next function, or off
// the end of its section.
func runsIntoData(p *job) {
	p.paths.RunsOut(func(u flow.Gap) {
		if u.First == nil {
			p.Report(p.StmtLoc(u.Before), finding.CodeRunsOut, wording.RunsOut(p.restText(u.Before), p.Sections[u.Before.Section].Name))
			return
		}
		say := wording.RunsIntoData
		if u.First.Stmt.Kind == syntax.Instruction {
			say = wording.RunsIntoRoutine
		}
		p.Emit(p.StmtLoc(u.First), finding.Diagnostic{Code: finding.CodeRunsOut, Message: say(p.restText(u.Before), p.line(u.Before)),
			Related: []finding.Related{{Location: p.StmtLoc(u.Before).Location, Message: wording.LastBefore()}}})
	})
}
