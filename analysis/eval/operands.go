package eval

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// OpIndex is the index of an operand of an item.
func OpIndex(it *program.Item, o *syntax.Operand) int {
	for i := range it.Stmt.Ops {
		if o == &it.Stmt.Ops[i] {
			return i
		}
	}
	return 0
}

// Query is what the meaning of an instruction depends on, besides its text.
func (p *Evaluator) Query(it *program.Item, e *program.Environment) isa.Query {
	return isa.Query{Have: e.Have, Unified: e.Unified, PC: it.Offset, Width: it.Stmt.Width, A32: e.Mode == isa.A, IT: it.Slot.Unpack()}
}

// Operands fills p.ops with the statement's operands. known is false when a
// value is not known yet; with final every symbol that will ever be known is.
func (p *Evaluator) Operands(it *program.Item, final bool) (known bool) {
	known = true
	p.At = it.Index
	ops := it.Stmt.Ops
	p.Ops = p.Ops[:0]
	for i := range ops {
		o := &ops[i]
		p.Ops = append(p.Ops, o.Operand)
		if o.Expr == nil && o.Word == "" && o.Names == nil && o.Kind != isa.OpLit {
			continue
		}
		if o.Word != "" && o.Kind == isa.OpExpr && !o.Marked && it.Stmt.Mnemonic.OwnWord(i, o.Word) {
			continue // no symbol is looked up by it
		}
		if !p.operand(it, o, &p.Ops[i], final) {
			known = false
		}
	}
	return known
}

// operand resolves the symbols of one operand into d.
func (p *Evaluator) operand(it *program.Item, o *syntax.Operand, d *isa.Operand, final bool) bool {
	if it.Stmt.Mnemonic.Vector() && p.VectorOperand(it, o, d) {
		return true
	}
	if o.Names != nil {
		if !p.Names(it, o, d) || d.Off == isa.OffReg || d.Off == isa.OffShift && o.Expr == nil {
			return true
		}
	}
	if o.Kind == isa.OpLit {
		return p.literal(it, o, d)
	}
	if p.namedRegister(o, d) {
		return true
	}
	if e := &p.Environments[it.Environment]; o.Kind == isa.OpExpr && o.Marked && !e.Unified {
		// In the divided syntax the mark makes a number of it, but for loads.
		if f := it.Stmt.Mnemonic.FormsOf(e.Mode); len(f) > 0 && (f[0].Row.Flow != isa.FlowNext || it.Stmt.Mnemonic.ComputesAddress(e.Mode)) {
			d.Kind = isa.OpImm
		}
	}
	if o.Word == "" && o.Expr == nil {
		return true
	}
	v := p.Value(o, it)
	if o.Expr != nil && o.Expr.Op == syntax.ExprReloc && !o.Expr.Back && o.Kind == isa.OpExpr {
		d.Kind = isa.OpImm // whose '#' may be missing in any syntax
	}
	switch d.Kind {
	case isa.OpImm, isa.OpMem, isa.OpShift:
		return constant(d, v, final)
	case isa.OpExpr:
		return p.target(it, o, d, v, final)
	}
	return true
}

// literal resolves a literal: where its word is, or the constant that needs none.
func (p *Evaluator) literal(it *program.Item, o *syntax.Operand, d *isa.Operand) bool {
	if it.Literal < 0 {
		if v := p.Value(o, it); v.Kind == program.Number {
			d.Known, d.Imm, d.Bare = true, v.N, true
		}
		return true
	}
	lit := &p.Literals[it.Literal]
	if lit.Offset < 0 {
		d.Known = false // where the word is, is not known
		return false
	}
	d.Known, d.Imm = p.Sections[it.Section].Exact, lit.Offset
	return true
}

// namedRegister resolves a name that .req and the like give to a register, also to one that
// a shift is by.
func (p *Evaluator) namedRegister(o *syntax.Operand, d *isa.Operand) bool {
	switch {
	case o.Kind == isa.OpExpr && o.Word != "":
		r := p.Register(o.Word)
		if r.Core != isa.NoReg {
			d.Kind, d.Reg, d.Word = isa.OpReg, r.Core, ""
			return true
		}
		if r.Word != "" {
			d.Word = r.Word
			return true
		}
	case o.Kind == isa.OpShift && o.Bare && o.Expr != nil && o.Expr.Op == syntax.ExprSym:
		if r, ok := p.Alias(o.Expr.Name); ok {
			d.Reg, d.Bare = r, false
			return true
		}
	}
	return false
}

// constant puts a value where a number is needed.
func constant(d *isa.Operand, v program.Value, final bool) bool {
	switch v.Kind {
	case program.Number:
		d.Known, d.Imm = true, v.N
		return v.Reloc == "" && !v.Late || final // whether it may be half of it, is looked at later
	case program.Unknown:
		return true
	case program.Address: // which some take for a number; see operandErrors
		d.Known, d.Imm = final, v.N
		return final
	}
	return false
}

// target puts a value where an address is needed.
func (p *Evaluator) target(it *program.Item, o *syntax.Operand, d *isa.Operand, v program.Value, final bool) bool {
	switch {
	case v.Kind == program.Address && it.Stmt.Mnemonic != nil && it.Stmt.Mnemonic.Constant(p.Environments[it.Environment].Mode, OpIndex(it, o)):
		d.Known, d.Imm, d.Bare = final, v.N, true
		return final
	case v.Kind == program.Address && v.Section == it.Section:
		if !final && p.mayMove(it) {
			return false
		}
		d.Known = p.Sections[it.Section].Exact && !p.linkers(it, o, v)
		d.Imm = v.N + p.FunctionBit(it, o, v)
		return v.Symbol == nil || v.Symbol.Defined
	case v.Kind == program.Number:
		// A number as a target means an address, which only the linker
		// knows how far away it is; as a constant it is what it is.
		d.Known, d.Imm, d.Bare = true, v.N, true
		return true
	}
	return false
}

// linkers says whether a target in the section is left to the linker all the same, so that
// its distance decides nothing.
func (p *Evaluator) linkers(it *program.Item, o *syntax.Operand, v program.Value) bool {
	mode, y := p.Environments[it.Environment].Mode, p.Direct(o)
	if y != nil && y.Global && it.Conditional() && mode == isa.T {
		return true // a conditional branch to a global name
	}
	if p.LeftToLinker(it, o) {
		// What the symbol is worth does not count: no distance is wrong.
		if away := v.N - it.Offset - 8; away&3 != 0 || away > 0x1fffffc || away < -0x2000000 {
			return true
		}
	}
	if y != nil {
		if left, far := p.beyond(it, y, v); left || far {
			return left
		}
	}
	if v.Symbol == nil || v.Symbol.Mode != isa.T {
		return false
	}
	if mode == isa.T {
		// Assemblers make BL of it; branchMode says so.
		return v.Symbol.Function && it.Stmt.Mnemonic != nil && it.Stmt.Mnemonic.CallsOtherState(isa.T)
	}
	// The assembler or the linker makes BLX or a veneer of it; see branchModeA32.
	return (v.Symbol.Function || v.Symbol.Global) && it.Branches()
}

// beyond says whether a branch does not reach a symbol that assemblers leave to the linker: it
// may put a veneer between. These are the ones that another file may replace, and functions
// in code of the other state for what is no call, or where there is no BLX. A halfword of B
// is for weak ones ahead alone.
func (p *Evaluator) beyond(it *program.Item, y *program.Symbol, v program.Value) (left, far bool) {
	e := &p.Environments[it.Environment]
	call := it.Calls(e.Mode)
	wide := call || e.Mode == isa.A || it.Flags&program.Wide != 0 || it.Stmt.Width == 'w' || it.Size > 2
	if !y.Defined || !it.Branches() && !call {
		return false, false
	}
	size := 2
	if wide {
		size = 4
	}
	q := p.Query(it, e)
	lo, hi := it.Stmt.Mnemonic.Reach(&q, size)
	away := v.N - it.Offset - e.Mode.Ahead()
	other := y.Function && y.Mode != e.Mode
	switch far = away < lo || away > hi; {
	case !wide:
		left = y.Weak && !it.Conditional() && away > 0
	case y.Global:
		left = true
	case it.Stmt.Mnemonic.CallsOtherState(e.Mode): // of a function in this state assemblers make BL
		left = false
	default:
		_, given := it.Stmt.Mnemonic.Cond()
		left = other && (!call || given || !e.Have.Has(isa.FeatV5T))
	}
	return left && far, far
}

// mayMove says whether distances in a section may still change.
func (p *Evaluator) mayMove(it *program.Item) bool {
	return p.Environments[it.Environment].Full() || p.Layout != nil && p.Layout.MayMove(it.Section)
}

// LeftToLinker says whether the operand is the target of an A32 branch to a global
// name, which assemblers leave to the linker: of the line, they judge only what is
// added to the name.
func (p *Evaluator) LeftToLinker(it *program.Item, o *syntax.Operand) bool {
	if p.Environments[it.Environment].Mode != isa.A || !it.Branches() {
		return false
	}
	y := p.Direct(o)
	return y != nil && y.Global && y.Defined
}

// Direct is the symbol that an operand names itself, not through .equ.
func (p *Evaluator) Direct(o *syntax.Operand) *program.Symbol {
	name := o.Word
	for e := o.Expr; e != nil && name == ""; e = e.X {
		if e.Op == syntax.ExprSym {
			name = e.Name
		}
	}
	return p.Table.Find(name)
}

// FunctionBit is what assemblers add to the address of a T16 function in ADR of T32
// code: 1 where a line above defines it, and bit 0 where the size of the encoding is
// open, which then is 4.
func (p *Evaluator) FunctionBit(it *program.Item, o *syntax.Operand, v program.Value) (n int64) {
	e := &p.Environments[it.Environment]
	if e.Mode != isa.T || !e.Unified || !e.Have.Has(isa.FeatT32) || it.Stmt.Mnemonic == nil || !it.Stmt.Mnemonic.ComputesAddress(isa.T) {
		return 0
	}
	y := p.Direct(o)
	if y == nil || !y.Label || !y.Function || y.Mode != isa.T {
		return 0
	}
	if y.Item < it.Index {
		n = 1
	}
	if it.Stmt.Width == 0 && it.Stmt.Ops[0].Reg < 8 {
		n = (v.N + n) | 1 - v.N
	}
	return n
}

// Names resolves register aliases inside brackets and braces.
func (p *Evaluator) Names(it *program.Item, o *syntax.Operand, d *isa.Operand) bool {
	n := o.Names
	reg := func(name string) isa.Reg {
		if r, ok := p.Alias(name); ok {
			return r
		}
		return isa.NoReg
	}
	if n.Base != "" {
		d.Reg = reg(n.Base)
		if d.Reg == isa.NoReg {
			d.Kind = isa.OpOther
			return false
		}
	}
	if n.Index != "" {
		d.Index = reg(n.Index)
		switch {
		case d.Index != isa.NoReg:
			d.Word = ""
		case o.Word != "" && p.Environments[it.Environment].Unified:
			// Not a register: an offset by a symbol's value without '#'.
			d.Off, d.Bare = isa.OffImm, true
		default:
			d.Kind = isa.OpOther
			return false
		}
	}
	last := isa.NoReg
	for _, name := range n.List {
		if name[0] == '-' {
			end, ok := isa.RegByName(name[1:])
			if !ok {
				end = reg(name[1:])
			}
			if end == isa.NoReg {
				d.Kind = isa.OpOther
				return false
			}
			for r := last; r <= end && end < 16; r++ {
				d.List |= 1 << r
			}
			continue
		}
		last = reg(name)
		if last == isa.NoReg {
			d.Kind = isa.OpOther
			return false
		}
		d.List |= 1 << last
	}
	return true
}

// VectorOperand resolves an operand that means registers of floating point
// or vectors, in a statement about such; done is false when it is none.
func (p *Evaluator) VectorOperand(it *program.Item, o *syntax.Operand, d *isa.Operand) (done bool) {
	switch {
	case o.Kind == isa.OpVList && o.Names != nil, o.Kind == isa.OpList && o.Names != nil && o.List == 0:
		items := make([]string, len(o.Names.List))
		for i, w := range o.Names.List {
			if items[i], done = p.VectorWord(w); !done {
				return false
			}
			if i < len(o.Names.Lanes) && o.Names.Lanes[i] != nil {
				reg, _, _ := strings.Cut(items[i], "[")
				items[i] = fmt.Sprintf("%s[%d]", reg, p.lane(it, o.Names.Lanes[i])-1)
			}
		}
		v, ok := isa.VectorList(items)
		if !ok || o.Writeback {
			v.Kind = isa.OpOther
		}
		*d = v
		return true
	case o.Kind != isa.OpExpr && o.Kind != isa.OpLane || o.Word == "":
		return false
	}
	if o.Kind == isa.OpLane && o.Expr != nil {
		d.Vec.Lane = p.lane(it, o.Expr)
	}
	if _, _, ok := isa.VectorReg(o.Word); ok {
		return true
	}
	w, ok := p.VectorWord(o.Word)
	if !ok {
		return false
	}
	if i := strings.IndexByte(w, '['); i > 0 {
		// An alias with an element: the parser reads it.
		v := syntax.ParseAs("vmov "+w, syntax.Dots).Line(0).Stmts[0].Ops
		if len(v) == 1 && v[0].Kind == isa.OpLane {
			*d = v[0].Operand
		}
		return true
	}
	d.Word = w
	return true
}

// lane is that of an element whose number depends on symbols, [isa.NoLane] where
// their values are not known or none.
func (p *Evaluator) lane(it *program.Item, e *syntax.Expr) int8 {
	if v := p.Value(&syntax.Operand{Operand: isa.Operand{Kind: isa.OpImm}, Expr: e}, it); v.Kind == program.Number && v.N >= 0 && v.N < isa.NoLane-1 {
		return int8(v.N) + 1
	}
	return isa.NoLane
}

// VectorWord resolves a name with what may be around it: "-" in front, a type
// and an element after.
func (p *Evaluator) VectorWord(w string) (string, bool) {
	name, dash := strings.CutPrefix(w, "-")
	base, rest := name, ""
	if i := strings.IndexAny(name, ".["); i > 0 {
		base, rest = name[:i], name[i:]
	}
	to, ok := p.VectorNamed(base)
	if !ok {
		if to, ok = p.VectorNamed(name); ok { // a name with a point in it
			rest = ""
		}
	}
	if !ok {
		_, _, ok = isa.VectorReg(name)
		return w, ok
	}
	if dash {
		to = "-" + to
	}
	return to + rest, true
}
