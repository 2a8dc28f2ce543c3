package assemble

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// skipsNothing says whether the line is CBZ or CBNZ to the next line, which has no
// encoding; assemblers put NOP in its place.
func (p *pass) skipsNothing(it *program.Item, q *isa.Query) bool {
	m := it.Stmt.Mnemonic
	if q.A32 || len(m.Forms) == 0 || len(p.Ops) != 2 || m.Forms[0].Row.Flow != isa.FlowBranch || m.Forms[0].Row.Linked() {
		return false
	}
	to := p.Ops[1]
	if to.Kind != isa.OpExpr || !to.Known || to.Bare || to.Imm != q.PC+2 {
		return false
	}
	p.Ops[1].Imm += 2
	if _, ok := m.Match(q, p.Ops); !ok {
		p.Ops[1].Imm -= 2
		return false
	}
	if p.OperandErrors(it, m.Forms[0]) {
		it.Flags |= program.Refused
		return true
	}
	nop, _ := isa.Find("nop")
	it.Match, _ = nop.Match(q, nil)
	p.Warn(p.NameLoc(it), finding.CodeUnpredictable, wording.BecomesNop(it.Stmt.Name))
	return true
}

// baselineBranch says whether the line is a conditional branch that assemblers make
// of full width on an architecture that has none such: ARMv8-M Baseline (DDI 0553,
// "B", T3, from memory).
func (p *pass) baselineBranch(it *program.Item, q *isa.Query) bool {
	if it.Flags&program.Wide == 0 || q.Have.Has(isa.FeatT32) || !it.Conditional() || p.OperandErrors(it, nil) {
		return false
	}
	p.Warn(p.NameLoc(it), finding.CodeNotOnArch, wording.MayNeedWide(it.Stmt.Name, p.TargetName(it)))
	it.Flags |= program.Unchecked
	return true
}

// toDifference reports a branch that may grow to a distance between labels of which some are below:
// assemblers keep such a target as a symbol of their own, and have no relocation for that.
func (p *pass) toDifference(it *program.Item, e *program.Environment) bool {
	if !e.Full() || it.Stmt.Width != 0 || len(it.Stmt.Ops) != 1 || it.Stmt.Ops[0].Expr == nil {
		return false
	}
	o := &it.Stmt.Ops[0]
	if base, _, _ := it.Stmt.Mnemonic.Operation(); base != "b" || p.Value(o, it).Kind != program.Number {
		return false
	}
	parts := map[*program.Symbol]int{}
	p.labelsIn(o.Expr, it, 1, parts)
	for y, n := range parts {
		if n != 0 && y.Item > it.Index {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.BranchToDistance(it.Stmt.Name))
			return true
		}
	}
	return false
}

// labelsIn counts the labels in a sum, those that are taken off it below 0.
func (p *pass) labelsIn(e *syntax.Expr, it *program.Item, sign int, parts map[*program.Symbol]int) {
	var y *program.Symbol
	switch e.Op {
	case syntax.ExprAdd:
		p.labelsIn(e.X, it, sign, parts)
		p.labelsIn(e.Y, it, sign, parts)
	case syntax.ExprSub:
		p.labelsIn(e.X, it, sign, parts)
		p.labelsIn(e.Y, it, -sign, parts)
	case syntax.ExprSym:
		y = p.Find(e.Name)
	case syntax.ExprLocal:
		y = p.Local(int32(e.Val), e.Back, it.Index).Symbol
	}
	if y != nil && y.Label {
		parts[y] += sign
	}
}

// linked checks a bound instruction whose operands depend on symbols.
func (p *pass) linked(it *program.Item, e *program.Environment) {
	if p.OperandErrors(it, it.Match.Form) {
		it.Flags |= program.Refused
		return
	}
	if it.Match.Odd() {
		for i := range it.Stmt.Ops {
			if o := &it.Stmt.Ops[i]; o.Kind == isa.OpExpr {
				p.Report(p.Loc(it, o.Start, o.End), finding.CodeBranchOdd, wording.IgnoresBit0(it.Stmt.Name, p.OpText(it, i)))
			}
		}
	}
}

// resolve is the second pass: all symbols have their final values now.
func (p *pass) resolve() {
	p.resolveSymbols()
	for _, i := range p.unresolved {
		if p.Cancelled(1) {
			return
		}
		p.resolveItem(&p.Items[i])
	}
	p.resolveEarly()
	p.resolveData()
	for i := range p.Items {
		if p.Cancelled(1) {
			return
		}
		p.caution(&p.Items[i])
	}
}

// resolveItem binds an instruction that waited.
func (p *pass) resolveItem(it *program.Item) {
	e := &p.Environments[it.Environment]
	q := &p.query
	*q = p.Query(it, e)
	if it.Flags&program.Wide != 0 && q.Width == 0 {
		q.Width = 'w'
	}
	p.current, p.envID = *e, it.Environment
	p.Operands(it, true)
	m, ok := it.Stmt.Mnemonic.Match(q, p.Ops)
	if ok && p.toDifference(it, e) {
		it.Match.Form = nil
		it.Flags |= program.Refused
		return
	}
	if ok {
		it.Match = m
		if p.linked(it, e); it.Flags&program.Wide != 0 {
			p.GrownAdd(it)
		}
		return
	}
	if p.skipsNothing(it, q) || p.baselineBranch(it, q) {
		return
	}
	if !it.Stmt.Mnemonic.Checked(q) && e.Mode == isa.A {
		it.Match.Form = nil
		return
	}
	it.Match.Form = nil
	it.Flags |= program.Refused
	p.Refuse(it, q)
}

// caution reports of an instruction what is encodable and should not be.
func (p *pass) caution(it *program.Item) {
	if it.Match.Form == nil {
		return
	}
	if row := it.Match.Form.Row; len(row.Cautions) > 0 {
		p.Cautions(it)
	} else if row.IT == isa.ITFree && row.State == isa.T {
		p.Unconditional(it)
	}
}
