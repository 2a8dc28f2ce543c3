package wording

import (
	"fmt"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// OperandErrors reports operands whose symbols cannot give what the place
// needs. f is the form that was taken, nil when none was.
func (p *Reporter) OperandErrors(it *program.Item, f *isa.Form) bool {
	found := false
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		switch {
		case o.Names != nil && p.Ops[i].Kind == isa.OpOther:
			p.noRegister(it, o)
			found = true
		case o.Word == "" && o.Expr == nil:
		case p.Ops[i].Kind == isa.OpReg || o.Names != nil && (p.Ops[i].Off == isa.OffReg || p.Ops[i].Off == isa.OffShift && o.Expr == nil):
		case o.Kind == isa.OpLit:
			found = p.literalError(it, f, i) || found
		default:
			found = p.valueError(it, f, i, p.Value(o, it)) || found
		}
	}
	return found
}

// noRegister reports a name where a register is needed.
func (p *Reporter) noRegister(it *program.Item, o *syntax.Operand) {
	name := firstUnknown(&p.Evaluator, o.Names)
	m := "A register is needed here; " + name + " is not one, and no " + p.Spelled(it, syntax.EffReq) + " above makes it one."
	if vectorLike().MatchString(name) || likeRegister(name) {
		m = NoRegister(name)
	}
	p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, m)
}

// literalError checks the value of a literal.
func (p *Reporter) literalError(it *program.Item, f *isa.Form, i int) bool {
	if it.Literal < 0 {
		return false
	}
	o := &it.Stmt.Ops[i]
	v := p.Value(o, it)
	if v.Kind == program.Undefined && v.Num == 0 && !v.Mixed {
		p.External(it, o, v)
		return false
	}
	return p.valueError(it, f, i, v)
}

// need is what the place of an operand takes: a number and nothing else, a constant without
// '#' where assemblers take an address as well, the target of a branch.
type need struct{ number, bare, branch bool }

// needs says what operand i has to be. f is the form that was taken, nil when none was.
func (p *Reporter) needs(it *program.Item, f *isa.Form, i int, v program.Value) need {
	o, env := &it.Stmt.Ops[i], &p.Environments[it.Environment]
	n := need{number: o.Kind == isa.OpImm || o.Kind == isa.OpMem}
	if o.Kind == isa.OpExpr || o.Kind == isa.OpImm {
		n.branch = branches(it, f, env.Mode)
	}
	switch {
	case o.Kind == isa.OpExpr && f != nil && f.Number(i):
		n.bare = true
		n.number = n.number || f.Row.Flow == isa.FlowTrap
	case o.Kind == isa.OpShift && p.Ops[i].Reg == isa.NoReg:
		n.number = true
	case o.Kind == isa.OpExpr && f == nil && env.Unified:
		n.bare = v.Kind == program.Undefined && it.Stmt.Mnemonic.OnlyNumber(env.Mode, i)
	}
	return n
}

// branches says whether the form, or any of the name's if it is nil, goes elsewhere.
func branches(it *program.Item, f *isa.Form, mode isa.State) bool {
	forms := it.Stmt.Mnemonic.FormsOf(mode)
	if f != nil {
		forms = []*isa.Form{f}
	}
	for _, x := range forms {
		if x.Row.Flow.ToLabel() {
			return true
		}
	}
	return false
}

// valueError checks the value of operand i.
func (p *Reporter) valueError(it *program.Item, f *isa.Form, i int, v program.Value) bool {
	o, n := &it.Stmt.Ops[i], p.needs(it, f, i, v)
	switch number := n.number || n.bare; {
	case v.Kind == program.Bad:
		p.BadValue(it, o, v)
		return true
	case v.Kind == program.Undefined && v.Num != 0:
		p.External(it, o, v)
		return true
	case v.Kind == program.Undefined && (number || v.Mixed):
		p.undefined(it, o, v.Symbol, "a constant of an instruction")
		return true
	case v.Kind == program.Address && number:
		return p.addressAsNumber(it, f, i, v)
	case v.Kind == program.Unknown && v.Apart && number:
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, fmt.Sprintf("Only the linker knows the distance between two sections; %s needs a number that is known here.", it.Stmt.Name))
		return true
	case v.Kind == program.Unknown && v.Reloc != "" && v.Symbol != nil && p.Columns:
		p.External(it, o, program.Value{Kind: program.Undefined, Symbol: v.Symbol}) // MOV32
		return false
	case (v.Kind == program.Unknown || v.Kind == program.Number) && v.Reloc != "":
		return p.relocation(it, o, f, v, n.branch)
	case o.Kind == isa.OpExpr && f != nil:
		return p.targetError(it, f, i, v, n)
	}
	return false
}

// addressAsNumber reports an address where a number is needed.
func (p *Reporter) addressAsNumber(it *program.Item, f *isa.Form, i int, v program.Value) bool {
	o := &it.Stmt.Ops[i]
	at, text := p.numberIn(it, i)
	if f != nil && it.Stmt.Mnemonic.TakesAddress(f, i) && (v.Section == it.Section && !p.weak(o) || f.Row.State == isa.T) {
		p.Warn(at, finding.CodeUndefined, fmt.Sprintf("%s is an address, and %s holds a number; assemblers use its offset in the section, %s, whatever address the linker gives the section.", text, it.Stmt.Name, Num(v.N)))
		return false
	}
	m := fmt.Sprintf("%s is an address; %s needs a number that is known here", text, it.Stmt.Name)
	if half := HalfOperator[it.Stmt.Mnemonic.Stem()]; half != "" {
		m += "; write #" + half + text + " for one half of it"
	}
	p.Report(at, finding.CodeUndefined, m+".")
	return true
}

// weak says whether an operand is a weak symbol.
func (p *Reporter) weak(o *syntax.Operand) bool {
	y := p.Direct(o)
	return y != nil && y.Weak
}

// targetError checks the target of a form that was taken.
func (p *Reporter) targetError(it *program.Item, f *isa.Form, i int, v program.Value, n need) bool {
	o := &it.Stmt.Ops[i]
	at := p.Loc(it, o.Start, o.End)
	y := p.Direct(o)
	switch {
	case n.branch && f.Row.State == isa.T && !f.Row.Linked() && v.Kind == program.Address && y != nil && y.Global:
		p.Report(at, finding.CodeUndefined, fmt.Sprintf("%s is global, so assemblers leave the branch to the linker, which has no relocation for %s.", p.OpText(it, i), it.Stmt.Name))
		return true
	case n.branch && v.Kind == program.Address && v.Section == it.Section && p.LeftToLinker(it, o):
		v.N -= y.Value.N
		return p.elsewhere(it, o, i, f, v, n.branch)
	case !n.branch && v.Kind == program.Address && p.weak(o) && fullADR(f):
		p.Warn(at, finding.CodeUndefined, fmt.Sprintf("%s is weak: another definition may replace it at link time, and %s takes the address of this one.", p.OpText(it, i), it.Stmt.Name))
	case !n.branch && v.Kind == program.Address && p.weak(o):
		p.Report(at, finding.CodeUndefined, fmt.Sprintf("%s is weak: another definition may replace it at link time, and %s needs its address now.", p.OpText(it, i), it.Stmt.Name))
		return true
	case v.Kind == program.Undefined || v.Kind == program.Address && v.Section != it.Section || v.Kind == program.Number && !n.number:
		return p.elsewhere(it, o, i, f, v, n.branch)
	}
	return false
}
