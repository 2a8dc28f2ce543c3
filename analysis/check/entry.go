package check

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// once says whether a check says something of a routine for the first time, about a register
// or a flag: what is wrong at its first line would be so at each one after it.
func (p *job) once(code string, entry int32, about uint32) bool {
	k := told{code, entry, about}
	if p.told[k] {
		return false
	}
	p.told[k] = true
	return true
}

type told struct {
	code  string
	entry int32
	about uint32
}

// unsetFlags finds flags that are read in a function before anything sets them: at a public
// interface they have no meaning (AAPCS32, 6.1.1).
func unsetFlags(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	flags := usedFlags(l) & l.Before.Own()
	if l.Cond >= isa.AL && !carries(l.Item) {
		flags &^= e.FlagsWritten // which it only keeps, as a shift by 0 does
	}
	if flags == 0 || e.StatusRead != 0 || p.keepsStatus(l) {
		return
	}
	b, ok := p.known.Alone(l.Item)
	if !ok || !p.once(finding.CodeFlagsUnset, b.ID, 0) {
		return
	}
	p.Report(p.NameLoc(l.Item), finding.CodeFlagsUnset, wording.FlagsUnset(l.Item.Stmt.Name, flags, p.known.RoutineName(b)))
}

// carries says whether a line computes with C.
func carries(it *program.Item) bool {
	op, _, _ := it.Stmt.Mnemonic.Operation()
	return slices.Contains([]string{"adc", "sbc", "rsc", "rrx"}, op) || slices.ContainsFunc(it.Stmt.Ops, func(o syntax.Operand) bool { return o.Shift == isa.RRX })
}

// usedFlags are the flags that a line looks at: those of its condition, and the carry of a
// sum. A shift by a register reads C as well, to keep it where it shifts by 0.
func usedFlags(l *flow.Line) isa.Flags {
	flags := isa.Flags(0)
	if l.Cond < isa.AL {
		flags = l.Cond.Reads()
	}
	if carries(l.Item) {
		flags |= isa.C
	}
	return flags
}

// keepsStatus says whether a line reads all flags to have them elsewhere.
func (p *job) keepsStatus(l *flow.Line) bool {
	op, _, _ := l.Item.Stmt.Mnemonic.Operation()
	return op == "mrs"
}

// unsetRegisters finds registers that a function computes with before anything sets them,
// other than those in which it is given something: r4 to r11 are its caller's, and r12 has
// no meaning at a public interface (AAPCS32, 6.1.1). Where a line copies or stores one, it
// keeps it.
func unsetRegisters(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	if _, n, ok := l.Item.Match.Sum(); ok && n == 0 || e.Writes == 0 && e.FlagsWritten == 0 && !e.ReadsMem && !e.WritesMem {
		return
	}
	reads := e.Reads
	if e.WritesMem {
		reads = flow.AddressRegs(p.paths.OperandsOf(l.Item))
	}
	for r := isa.Reg(4); r <= 12; r++ {
		if off, own := l.Before.Regs[r].Is(r); !reads.Has(r) || r == 9 || !own || off != 0 || idle(l.Item, r) {
			continue
		}
		b, ok := p.known.Alone(l.Item)
		if !ok || !p.known.Public(b) {
			return
		}
		if p.once(finding.CodeReadUnset, b.ID, uint32(r)) {
			p.Report(p.StmtLoc(l.Item), finding.CodeReadUnset, wording.RegisterUnset(l.Item.Stmt.Name, r, p.known.RoutineName(b)))
		}
		return
	}
}

// unsetStack finds loads from words of a routine's own stack that nothing has written. A pop
// gives room back as well, and need not mean what it loads.
func unsetStack(p *job, l *flow.Line) {
	if l.Item.Match.Form == nil {
		return
	}
	e := l.Item.Match.Effects()
	if e.WritesMem || e.Writes.Has(isa.SP) || e.Conditional || e.Flow != isa.FlowNext || p.paths.DeadRegs(l.Item, e.Writes) == e.Writes {
		return
	}
	for i := range l.Touches {
		if a := &l.Touches[i]; l.Before.Unwritten(a) {
			off, _ := a.Addr.Is(isa.SP)
			sp, _ := l.Before.Regs[isa.SP].Is(isa.SP)
			p.Report(p.StmtLoc(l.Item), finding.CodeReadUnset, wording.StackUnset(strings.ToLower(l.Item.Stmt.Name), off-sp))
			return
		}
	}
}
