package check

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/values"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// kept are the registers that a routine hands back unchanged (AAPCS32, 6.1.1), but for r9,
// which the platform may have taken.
const kept = isa.RegList(0xff0 &^ (1 << 9))

// notRestored finds returns of functions that others may call with a register changed that
// the standard has kept, and that no line of the routine saves.
func notRestored(p *job, l *flow.Line) {
	if !l.Back() || l.End == nil {
		return
	}
	base := l.End.Regs[isa.SP].Base
	if base.Kind != values.Entry || !p.known.Public(base) {
		return
	}
	var list isa.RegList
	for r := isa.Reg(4); r < 12; r++ {
		w := l.End.Regs[r]
		if kept.Has(r) && !(w.Base.Kind == values.Entry && w.Base.Reg == r && w.Val == 0) {
			list |= 1 << r
		}
	}
	if list != 0 {
		p.back = append(p.back, back{l.Item, base, list})
	}
}

// back is a return of a routine with registers changed that its caller counts on.
type back struct {
	item *program.Item
	base values.Base
	list isa.RegList
}

// returnsNotRestored reports the returns that notRestored has found, with the registers that
// no line of the routine saves.
func returnsNotRestored(p *job) {
	for _, x := range p.back {
		list := x.list &^ p.saved[x.base.ID]
		for r := isa.Reg(4); r < 12; r++ {
			if list.Has(r) && !p.changes(x.base, r) {
				list &^= 1 << r
			}
		}
		if list != 0 {
			p.Report(p.StmtLoc(x.item), finding.CodeNotRestored, wording.NotRestored(p.known.RoutineName(x.base), strings.Trim(list.String(), "{}")))
		}
	}
}

// changes says whether a line of the routine itself writes the register, and none above stores it.
func (p *job) changes(base values.Base, r isa.Reg) bool {
	sum, ok := p.paths.RoutineAt(p.known.Entry(base), true)
	if !ok || !sum.Known {
		return false
	}
	writes := false
	for _, it := range sum.Items {
		if it.Match.Form == nil {
			return false
		}
		e := it.Match.Effects()
		if e.WritesMem && e.Reads.Has(r) && !writes {
			return false // perhaps it is kept there
		}
		writes = writes || e.Writes.Has(r)
	}
	return writes
}

// changedByCall finds registers that are read after a call of another file that need not
// keep them, and hands nothing back in them (AAPCS32, 6.1.1).
func changedByCall(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	if e.WritesMem && e.Writes.Has(isa.SP) || e.Conditional {
		return // a push, which may keep the stack aligned by it
	}
	for _, r := range []isa.Reg{2, 3, 12} {
		if e.Reads.Has(r) && l.Before.Regs[r].Left && !idle(l.Item, r) {
			p.Report(p.StmtLoc(l.Item), finding.CodeChangedByCall, wording.ChangedByCall(l.Item.Stmt.Name, r))
			return
		}
	}
}

// idle says whether what a line makes does not depend on a register that it reads.
func idle(it *program.Item, r isa.Reg) bool {
	ops := it.Stmt.Ops
	return len(ops) == 3 && ops[1].Kind == isa.OpReg && ops[2].Kind == isa.OpReg && ops[1].Reg == r && ops[2].Reg == r
}

// unusedValue finds values that are overwritten before anything reads them. Lines that do
// nothing are not meant, as padding, nor loads from what may be a device.
func unusedValue(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil || l.After == nil {
		return
	}
	e := l.Item.Match.Effects()
	w := e.Writes
	if w == 0 || e.ReadsMem && !plainMemory(l) || e.WritesMem || e.Flow != isa.FlowNext || w&(1<<isa.SP|1<<isa.LR|1<<isa.PC) != 0 || e.StatusWritten != 0 || e.Conditional || e.Reads&w == w && e.Reads.Count() == 1 {
		return
	}
	if !l.Item.Match.Form.Row.Described() || p.paths.DeadRegs(l.Item, w) != w || e.FlagsWritten != 0 && p.paths.DeadFlags(l.Item, e.FlagsWritten) != e.FlagsWritten {
		return
	}
	by := p.paths.WrittenNext(l.Item, w)
	if by == nil {
		return
	}
	p.Emit(p.StmtLoc(l.Item), finding.Diagnostic{Code: finding.CodeValueUnused, Message: wording.ValueUnused(strings.Trim(w.String(), "{}"), p.line(by)), Unneeded: true,
		Related: []finding.Related{{Location: p.StmtLoc(by).Location, Message: wording.WritesAnew()}}})
}

// plainMemory says whether a line reads only what is in a section of the program or on the
// stack, and no device.
func plainMemory(l *flow.Line) bool {
	for _, t := range l.Touches {
		if b := t.Addr.Base; b.Kind != values.Section && (b.Kind != values.Entry || b.Reg != isa.SP) {
			return false
		}
	}
	return len(l.Touches) > 0
}
