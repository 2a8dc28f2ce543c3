package check

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// idleCondition finds lines on a condition that make no difference: a branch to the next line,
// a line that gives a register what it has then, and two that do the same on opposite
// conditions.
func idleCondition(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	if _, next := p.known.JumpsTo(l.Item); next && (l.Cond < isa.AL || e.Flow == isa.FlowBranch) && e.Flow.ToLabel() {
		p.Report(p.StmtLoc(l.Item), finding.CodeConditionIdle, wording.BranchesToNext(p.restText(l.Item)))
		return
	}
	if l.Cond >= isa.AL {
		return
	}
	if p.known.Idle(l) {
		p.Report(p.StmtLoc(l.Item), finding.CodeConditionIdle, wording.ConditionIdle(p.restText(l.Item), l.Cond))
		return
	}
	if was := p.last; was.item != nil && was.cond == l.Cond.Invert() && p.alike(was.item, l.Item) {
		p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeConditionIdle, Message: wording.BothAlike(p.restText(l.Item), p.line(was.item)),
			Related: []finding.Related{{Location: p.StmtLoc(was.item).Location, Message: wording.Opposite()}}})
	}
	p.last = onCondition{l.Item, l.Cond}
}

// onCondition is a line and its condition.
type onCondition struct {
	item *program.Item
	cond isa.Cond
}

// alike says whether two lines, one right after the other, do the same but for their
// conditions, and keep the flags.
func (p *job) alike(a, b *program.Item) bool {
	if a.Section != b.Section || a.Offset+a.Size != b.Offset-b.Slot.ItSize() || a.Match.Form == nil {
		return false
	}
	e := a.Match.Effects()
	x, _, _ := a.Stmt.Mnemonic.Operation()
	y, _, _ := b.Stmt.Mnemonic.Operation()
	return x == y && a.Match.Form.Row == b.Match.Form.Row && e.FlagsWritten == 0 && e.Flow == isa.FlowNext && p.operandText(a) != "" && p.operandText(a) == p.operandText(b)
}

// operandText is what stands behind the name of a line, without blanks.
func (p *job) operandText(it *program.Item) string {
	text := p.LineText(it)
	if len(it.Stmt.Ops) == 0 || int(it.Stmt.End) > len(text) {
		return ""
	}
	return strings.ToLower(strings.Join(strings.Fields(text[it.Stmt.Ops[0].Start:it.Stmt.End]), ""))
}

// endless finds loops that should end and cannot.
func endless(p *job) {
	p.known.Endless(func(e flow.Endless) {
		message := wording.Endless(p.restText(e.Exit), p.line(e.First))
		if e.Always {
			message = wording.EndlessAlways(p.restText(e.Exit), p.line(e.First))
		}
		// That the condition is known is said with it.
		at := p.NameLoc(e.Exit).Location
		p.Diags = slices.DeleteFunc(p.Diags, func(d finding.Diagnostic) bool {
			return d.Code == finding.CodeConditionKnown && d.Location == at
		})
		p.Emit(p.StmtLoc(e.Exit), finding.Diagnostic{Code: finding.CodeEndless, Message: message,
			Related: []finding.Related{{Location: p.StmtLoc(e.First).Location, Message: wording.LoopBegins()}}})
	})
}
