package assemble

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Constants that the assembler wants to know when it reads the line: it has
// nothing to fill them in with later, as it has for most offsets.

// early notes the operands of an instruction that should be known and are not.
func (p *pass) early(it *program.Item, m *isa.Match, q *isa.Query) {
	ops := it.Stmt.Ops
	if len(ops) != m.Form.Operands() {
		return
	}
	for i := range ops {
		o := &ops[i]
		if o.Expr == nil && o.Word == "" {
			continue
		}
		switch k := p.Ops[i].Kind; {
		case k == isa.OpImm, k == isa.OpShift, k == isa.OpMem, k == isa.OpOption, k == isa.OpExpr && m.Form.Number(i):
			if !it.Stmt.Mnemonic.Waits(m, q, i) && (!p.Ops[i].Known || p.Value(o, it).Late) {
				p.earlyOps = append(p.earlyOps, argument{it.Index, int32(i)})
			}
		}
	}
}

// resolveEarly reports those that have a value in the end.
func (p *pass) resolveEarly() {
	for _, x := range p.earlyOps {
		if p.Cancelled(1) {
			return
		}
		it := &p.Items[x.item]
		o := &it.Stmt.Ops[x.op]
		if it.Flags&program.Refused != 0 {
			continue
		}
		if v := p.Value(o, it); v.Kind == program.Number && v.Reloc == "" {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NeedsEarlyValue(it.Stmt.Name, p.OpText(it, int(x.op))))
		}
	}
}
