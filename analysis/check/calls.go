package check

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// unalignedCall finds calls of other files with a stack pointer that is no multiple of 8,
// as it is one where a function begins (AAPCS32, 6.2.1.2).
func unalignedCall(p *job, l *flow.Line) {
	sp := l.Before.Regs[isa.SP]
	off, ok := sp.Is(isa.SP)
	if !ok || off&7 != 4 || sp.Base.ID < 0 || sp.Assumed && off >= 0 {
		return
	}
	if out, call := p.known.Outside(l.Item); !out || !call || flow.Profiles(l.Item) || !p.known.Public(sp.Base) {
		return
	}
	if p.once(finding.CodeStackAlign, sp.Base.ID, 0) {
		p.Report(p.StmtLoc(l.Item), finding.CodeStackAlign, wording.StackUnaligned(p.restText(l.Item), -off, p.known.RoutineName(sp.Base)))
	}
}

// flagsAfterCall finds conditions on flags that a call of another file need not keep
// (AAPCS32, 6.1.1). The comparisons of the run-time ABI hand their results back in flags
// (RTABI32, 4.1.2, the functions that begin with __aeabi_c).
func flagsAfterCall(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	if usedFlags(l)&l.Before.LeftFlags() == 0 || p.keepsStatus(l) {
		return
	}
	call := p.paths.FlagsCall(l.Item)
	if call == nil || call.Match.Form == nil || call.Match.Effects().Conditional {
		return
	}
	for i := range call.Stmt.Ops {
		if strings.HasPrefix(call.Stmt.Ops[i].Word, "__aeabi_c") {
			return
		}
	}
	p.Emit(p.NameLoc(l.Item), finding.Diagnostic{Code: finding.CodeChangedByCall, Message: wording.FlagsAfterCall(l.Item.Stmt.Name, p.line(call)),
		Related: []finding.Related{{Location: p.StmtLoc(call).Location, Message: wording.CallChangesFlags()}}})
}

// madeReturn finds jumps to a routine with a return address in LR that has been made by hand
// and has the wrong bit 0: MOV lr, pc leaves it clear in Thumb code (DDI 0406C, A2.3.1).
func madeReturn(p *job, l *flow.Line) {
	lr := l.Before.Regs[isa.LR]
	if l.Returns || lr.Base.Kind != values.Section || l.Item.Match.Form == nil {
		return
	}
	if out, call := p.known.Outside(l.Item); (!out || call) && !p.known.Begins(l.Item) {
		return
	}
	report := func(message string) {
		d := finding.Diagnostic{Code: finding.CodeReturnMade, Message: message}
		if by := p.paths.SetBefore(l.Item, isa.LR); len(by) == 1 {
			d.Related = []finding.Related{{Location: p.StmtLoc(by[0]).Location, Message: wording.LRMade()}}
		}
		p.Emit(p.StmtLoc(l.Item), d)
	}
	back, _ := p.known.CodeAt(lr)
	if back == nil {
		return
	}
	switch mode := p.Environments[back.Environment].Mode; {
	case mode == isa.T && lr.Val&1 == 0:
		report(wording.ReturnWithoutBit(p.restText(l.Item), p.line(back), p.have(l.Item).Has(isa.FeatM)))
	case mode == isa.A && lr.Val&1 != 0:
		report(wording.ReturnWithBit(p.restText(l.Item), p.line(back)))
	}
}

// madeEarly finds lines that put pc into LR too far above the jump that they are for: it
// returns to itself, or to before it.
func madeEarly(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	src, n, ok := l.Item.Match.Sum()
	if !ok || src != isa.PC || l.Item.Match.Effects().Writes != 1<<isa.LR || !p.Sections[l.Item.Section].Exact {
		return
	}
	back := l.Item.Offset + p.Environments[l.Item.Environment].Mode.Ahead() + n&^1
	order := p.Order[l.Item.Section]
	for _, i := range order[p.Position(l.Item)+1:] {
		it := &p.Items[i]
		switch {
		case it.Size == 0:
			continue
		case it.Match.Form == nil:
			return
		}
		e := it.Match.Effects()
		if e.Flow == isa.FlowNext && !e.Writes.Has(isa.PC) {
			if (e.Writes | e.Reads).Has(isa.LR) {
				return
			}
			continue
		}
		outward, call := p.known.Outside(it)
		if (outward || p.known.Begins(it)) && !call && !e.Conditional && back > l.Item.Offset && back < it.Offset+it.Size {
			p.Emit(p.StmtLoc(it), finding.Diagnostic{Code: finding.CodeReturnMade, Message: wording.ReturnsToJump(p.restText(it), back == it.Offset),
				Related: []finding.Related{{Location: p.StmtLoc(l.Item).Location, Message: wording.LRMade()}}})
		}
		return
	}
}
