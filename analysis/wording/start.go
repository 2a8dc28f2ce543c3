package wording

import (
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Lines that are refused in the instruction set that nobody has named in the source, and
// taken in the other one, say that it is meant: so many of them, and that part of all lines
// of which a directive says nothing. A32 code is often put under T16 settings to be rewritten
// line by line, so it takes more; no T16 line is refused in A32 code as long as it is correct.
const (
	startThumb   = 2
	startArm     = 4
	startArmPart = 3 // one in so many
	startSlips   = 8 // one in so many of them may be refused in either
)

// otherStart turns what is wrong with lines that begin in the wrong instruction set into what
// that is: one mistake, if settings or the default say the set and the lines speak for the
// other one.
func (p *Reporter) otherStart(diags []finding.Diagnostic) {
	var lines map[startLine]isa.State
	first := map[string]bool{}
	for i := range diags {
		d := &diags[i]
		if d.Severity != finding.Error || d.Cause == finding.CauseThumb || d.Cause == finding.CauseSemicolon {
			continue
		}
		if lines == nil {
			if lines = p.startLines(); len(lines) == 0 {
				return
			}
		}
		id := p.FileOf(d.Path)
		if id < 0 {
			continue
		}
		to, ok := lines[startLine{d.Path, p.Sources[id].AsWritten().LineAt(d.Span.Start)}]
		if !ok {
			continue
		}
		if !first[d.Path] { // one explanation for all of them
			first[d.Path] = true
			d.Code = finding.CodeNoForm
		}
		cause, effect := finding.CauseStartThumb, syntax.EffThumb
		if to == isa.A {
			cause, effect = finding.CauseStartArm, syntax.EffArm
		}
		d.Message, d.Cause, d.Related = OtherStart(to == isa.A, syntax.Spelled(p.File.Dialect(), effect)), cause, nil
	}
}

// startLine is a line of a file, from 0.
type startLine struct {
	path string
	line int
}

// startLines are the lines that are refused and taken in the other instruction set, with that
// set, where they are enough to speak for it; else none.
func (p *Reporter) startLines() map[startLine]isa.State {
	all, refusals, to := 0, 0, isa.T
	for i := range p.Items {
		if it := &p.Items[i]; p.unsaid(it) {
			if all++; p.Environments[it.Environment].Mode == isa.T {
				to = isa.A
			}
			if noEncoding(it) {
				refusals++
			}
		}
	}
	least := startThumb
	if to == isa.A {
		least = max(startArm, all/startArmPart)
	}
	if refusals < least {
		return nil
	}
	lines := map[startLine]isa.State{}
	misses, slips := 0, 0
	var block isa.Block
	for i := range p.Items {
		it := &p.Items[i]
		if !p.unsaid(it) {
			continue
		}
		e := &p.Environments[it.Environment]
		refused := noEncoding(it)
		switch taken := p.takenElsewhere(it, e, to, &block); {
		case refused && distant(it, e.Mode):
			// It may be the label that is wrong.
		case refused && taken:
			misses++
			at := p.StmtLoc(it).Location
			if id := p.FileOf(at.Path); id >= 0 {
				lines[startLine{at.Path, p.Sources[id].AsWritten().LineAt(at.Span.Start)}] = to
			}
		case refused:
			slips++
		case !taken:
			return nil // it speaks for the set that it is read in
		}
	}
	if misses < least || slips > misses/startSlips {
		return nil
	}
	return lines
}

// unsaid says whether an item is an instruction of a name that is known, and no directive says
// of which of two instruction sets.
func (p *Reporter) unsaid(it *program.Item) bool {
	e := &p.Environments[it.Environment]
	return it.Stmt.Kind == syntax.Instruction && it.Stmt.Mnemonic != nil && (p.ModeSaid < 0 || it.Index < p.ModeSaid) && !e.Assumed && e.Have.Has(isa.FeatA32|isa.FeatT16)
}

// noEncoding says whether an instruction has none.
func noEncoding(it *program.Item) bool {
	return it.Flags&program.Refused != 0 || it.Match.Form == nil && !it.Stmt.Mnemonic.OpensBlock()
}

// distant says whether what is wrong with a line of a set may be the distance to a label.
func distant(it *program.Item, set isa.State) bool {
	return len(it.Stmt.Mnemonic.FormsOf(set)) > 0 &&
		slices.ContainsFunc(it.Stmt.Ops, func(o syntax.Operand) bool { return o.Kind == isa.OpExpr || o.Kind == isa.OpLit })
}

// takenElsewhere says whether an instruction set takes a line, in Thumb code in the unified
// syntax. block is the IT block that it is in there.
func (p *Reporter) takenElsewhere(it *program.Item, e *program.Environment, set isa.State, block *isa.Block) bool {
	if it.Stmt.Err != nil {
		return false
	}
	m := it.Stmt.Mnemonic
	known := p.Operands(it, true)
	q := p.Query(it, e)
	if q.A32, q.IT = set == isa.A, (isa.Slot{}); !q.A32 {
		q.Unified = true
		if block.Left() > 0 {
			q.IT = block.Slot()
			block.Next()
		}
	} else if m.OpensBlock() {
		return true
	}
	got, ok := m.Match(&q, p.Ops)
	if !ok || !known && noEncoding(it) || got.Refused(e.Have) {
		return false
	}
	if b, is := got.Block(); is {
		*block = b
	}
	return true
}

// OtherStart says that code begins in the wrong instruction set: arm, if it is A32 code.
func OtherStart(arm bool, directive string) string {
	if arm {
		return "This is A32 code, but the source starts as Thumb code; add " + directive + " above."
	}
	return "This is Thumb code, but the source starts as A32 code; add " + directive + " above."
}
