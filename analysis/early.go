package analysis

import "narrowgauge/isa"

// Constants that the assembler wants to know when it reads the line: it has
// nothing to fill them in with later, as it has for most offsets.

// early notes the operands of an instruction that should be known and are not.
func (p *pass) early(it *item, m *isa.Match, q *isa.Query) {
	ops := it.stmt.Ops
	if len(ops) != m.Form.Operands() {
		return
	}
	for i := range ops {
		o := &ops[i]
		if o.Expr == nil && o.Word == "" {
			continue
		}
		switch k := p.ops[i].Kind; {
		case k == isa.OpImm, k == isa.OpShift, k == isa.OpMem, k == isa.OpOption, k == isa.OpExpr && m.Form.Number(i):
			if !it.stmt.Mnem.Waits(m, q, i) && (!p.ops[i].Known || p.eval(o, it).late) {
				p.earlyOps = append(p.earlyOps, argument{it.id, int32(i)})
			}
		}
	}
}

// resolveEarly reports those that have a value in the end.
func (p *pass) resolveEarly() {
	for _, x := range p.earlyOps {
		it := &p.items[x.item]
		o := &it.stmt.Ops[x.op]
		if it.flags&fRefused != 0 {
			continue
		}
		if v := p.eval(o, it); v.kind == vAbs && v.reloc == "" {
			p.report(p.loc(it, o.Start, o.End), codeUndefined, it.stmt.Name+" needs the value of "+p.opText(it, int(x.op))+" when the line is read, and only a line below gives it one; that line has to stand above.")
		}
	}
}
