package eval

import (
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

func (p *Evaluator) Expr(e *syntax.Expr, it *program.Item, depth int) program.Value {
	if depth > maxDepth {
		return program.Value{Kind: program.Bad, Why: program.TooDeep}
	}
	switch e.Op {
	case syntax.ExprNum:
		return program.Value{Kind: program.Number, N: e.Val}
	case syntax.ExprBig:
		return program.Value{Kind: program.Big, N: e.Val}
	case syntax.ExprSym:
		return p.use(e.Name, it, e.Start, e.End, depth)
	case syntax.ExprDot:
		if p.Sections[it.Section].Record {
			return program.Value{Kind: program.Number, N: it.Offset}
		}
		return p.placed(program.Value{Kind: program.Address, Section: it.Section, N: it.Offset - it.Slot.ItSize(), At: it.Index})
	case syntax.ExprColumns:
		return p.columnExpr(e, it, depth)
	case syntax.ExprLocal:
		if e.Name != "" {
			return p.ColumnLocal(e, it)
		}
		return p.Local(int32(e.Val), e.Back, it.Index)
	case syntax.ExprReloc:
		return p.relocated(e, it, depth)
	case syntax.ExprNeg, syntax.ExprNot, syntax.ExprLNot:
		x := p.Expr(e.X, it, depth+1)
		if x.Kind == program.Big && e.Op != syntax.ExprLNot {
			return x
		}
		switch {
		case e.Op == syntax.ExprLNot && (x.Kind == program.Address || x.Kind == program.Undefined && x.Num == 0 && !x.Mixed):
			// That an address is not zero is computed in the end, whatever it
			// counts from.
			if !p.Settled() {
				return program.Value{Kind: program.Undefined, Mixed: true}
			}
			n := int64(0)
			if x.N == 0 {
				n = 1
			}
			return program.Value{Kind: program.Number, N: n, Late: true}
		case e.Op == syntax.ExprNeg && (x.Kind == program.Address || x.Kind == program.Undefined) && !x.Mixed && p.distances(it):
			return p.distance(program.Value{Kind: program.Number}, x, it, nil, e.X)
		case x.Kind == program.Unknown && x.Distance:
			return program.Value{Kind: program.Bad, Why: program.DistanceNoSum}
		}
		if x.Kind != program.Number {
			return notAbs(x)
		}
		switch e.Op {
		case syntax.ExprNeg:
			x.N = -x.N
		case syntax.ExprNot:
			x.N = ^x.N
		default:
			if x.N == 0 {
				x.N = 1
			} else {
				x.N = 0
			}
		}
		x.Symbol = nil
		return x
	}
	return p.binary(e, p.Expr(e.X, it, depth+1), p.Expr(e.Y, it, depth+1), it)
}

// binary is the value of an operator with two sides that have the values x and y.
func (p *Evaluator) binary(e *syntax.Expr, x, y program.Value, it *program.Item) program.Value {
	if v, ok := p.besideDistance(e, x, y, it); ok {
		return v
	}
	switch {
	case x.Kind == program.Bad:
		return x
	case y.Kind == program.Bad:
		return y
	case x.Kind == program.Unknown && y.Kind == program.Undefined && (y.Mixed || y.Num != 0): // a relocation, and what is nowhere
		return y
	case y.Kind == program.Unknown && x.Kind == program.Undefined && (x.Mixed || x.Num != 0):
		return x
	}
	for _, v := range []*program.Value{&x, &y} {
		if v.Kind == program.Unknown {
			return *v
		}
		if v.Kind == program.Big { // assemblers take 0 for it, with a warning
			*v = program.Value{Kind: program.Number}
		}
	}
	v, ok := program.Value{}, false
	switch e.Op {
	case syntax.ExprAdd:
		v, ok = add(x, y)
	case syntax.ExprSub:
		v, ok = p.subtract(e, x, y, it)
	case syntax.ExprEq, syntax.ExprNe, syntax.ExprLt, syntax.ExprLe, syntax.ExprGt, syntax.ExprGe:
		v, ok = p.order(e.Op, x, y, it)
	}
	if ok {
		return v
	}
	return p.fold(e, x, y, it)
}

// besideDistance is the value of an operator with a distance that only the linker knows on
// one side; ok is false if there is none.
func (p *Evaluator) besideDistance(e *syntax.Expr, x, y program.Value, it *program.Item) (v program.Value, ok bool) {
	left := x.Kind == program.Unknown && x.Distance
	if !left && !(y.Kind == program.Unknown && y.Distance) || x.Kind == program.Bad || y.Kind == program.Bad {
		return v, false
	}
	// A number may be added to it, or taken from it.
	other, of, sum := x, e.X, e.Op == syntax.ExprAdd
	if left {
		other, of, sum = y, e.Y, sum || e.Op == syntax.ExprSub
	}
	if sum && other.Kind == program.Number && !other.Late && !p.below(of, it) {
		return program.Value{Kind: program.Unknown, Symbol: x.Symbol, Distance: true}, true
	}
	return program.Value{Kind: program.Bad, Why: program.DistanceSum}, true
}

// add is the sum of an address, or of a symbol that is defined elsewhere, and a number.
func add(x, y program.Value) (program.Value, bool) {
	for range 2 {
		if y.Kind == program.Number && (x.Kind == program.Address || x.Kind == program.Undefined && x.Num == 0) {
			x.N += y.N
			return x, true
		}
		x, y = y, x
	}
	return x, false
}

// subtract is the difference of two values that are not both numbers.
func (p *Evaluator) subtract(e *syntax.Expr, x, y program.Value, it *program.Item) (program.Value, bool) {
	switch {
	case y.Kind == program.Number && (x.Kind == program.Address || x.Kind == program.Undefined && x.Num == 0):
		x.N -= y.N
		return x, true
	case x.Kind == program.Undefined && y.Kind == program.Undefined && x.Num == 0 && y.Num == 0 && !x.Mixed && !y.Mixed && x.Symbol == y.Symbol:
		return program.Value{Kind: program.Number, N: x.N - y.N, Late: true}, true
	case x.Kind == program.Undefined && y.Kind == program.Undefined && x.Num != 0 && x.Num == y.Num && x.Back == y.Back && it.Stmt.Directive != nil && it.Stmt.Directive.Effect == syntax.EffIf:
		return program.Value{Kind: program.Number, Late: true}, true // the same one, wherever it is
	case (x.Kind == program.Undefined && x.Num == 0 && !x.Mixed || x.Kind == program.Number) && y.Kind == program.Address && p.Settled() && p.distances(it):
		return p.distance(x, y, it, e.X, e.Y), true
	case x.Kind == program.Address && y.Kind == program.Address:
		return p.apart(e, x, y, it), true
	}
	return program.Value{}, false
}

// apart is the distance between two addresses.
func (p *Evaluator) apart(e *syntax.Expr, x, y program.Value, it *program.Item) program.Value {
	later := program.Value{Kind: program.Undefined, Mixed: true, Apart: true}
	switch from, to := &p.Sections[x.Section], &p.Sections[y.Section]; {
	case x.Section == y.Section && !from.Exact:
		return program.Value{Kind: program.Unknown}
	case x.Section == y.Section && p.grows(x, y):
		return later
	case x.Section == y.Section:
		// A distance from something to a function waits: the function's
		// address may get bit 0 set.
		return program.Value{Kind: program.Number, N: x.N - y.N, Late: p.Settled() || x.Symbol != nil && x.Symbol.Function}
	case from.Main == to.Main: // in two subsections, which are laid out in the end
		switch {
		case !from.Exact || !to.Exact:
			return program.Value{Kind: program.Unknown}
		case !p.Settled():
			return later
		}
		return program.Value{Kind: program.Number, N: x.N - y.N, Late: true}
	}
	switch settled, distances := p.Settled(), p.distances(it); {
	case !settled && distances:
		return later
	case settled && distances:
		return p.distance(x, y, it, e.X, e.Y)
	case settled && (y.Section != it.Section || p.NarrowData(it)):
		return program.Value{Kind: program.Bad, Why: program.LinkersDistance}
	}
	return program.Value{Kind: program.Unknown, Apart: true}
}

// order compares two values that are not both numbers.
func (p *Evaluator) order(op syntax.ExprOp, x, y program.Value, it *program.Item) (program.Value, bool) {
	if x.Kind != program.Address || y.Kind != program.Address || x.Section != y.Section {
		return p.compare(op, x, y, it)
	}
	switch {
	case !p.Sections[x.Section].Exact:
		return program.Value{Kind: program.Unknown}, true
	case p.grows(x, y):
		return program.Value{Kind: program.Undefined, Mixed: true, Apart: true}, true
	}
	n, _ := syntax.Fold(op, x.N, y.N)
	return program.Value{Kind: program.Number, N: n, Late: p.Settled()}, true
}

// fold computes an operator on two numbers; what is none makes it none.
func (p *Evaluator) fold(e *syntax.Expr, x, y program.Value, it *program.Item) program.Value {
	switch {
	case x.Kind == program.Address && y.Kind == program.Address && !p.Settled() && p.Sections[x.Section].Main != p.Sections[y.Section].Main && p.DialectOf(it) != syntax.Columns:
		return program.Value{Kind: program.Bad, Firm: true, Why: program.TwoSections}
	case !p.Settled() && y.Kind == program.Undefined: // who knows
		return notAbs(y)
	case x.Kind != program.Number:
		return notAbs(x)
	case y.Kind != program.Number:
		return notAbs(y)
	}
	n, ok := syntax.Fold(e.Op, x.N, y.N)
	late := x.Late || y.Late
	switch {
	case !ok && late && p.Settled():
		return program.Value{Kind: program.Bad, Why: program.DividesByZero}
	case !ok && late:
		return program.Value{Kind: program.Undefined, Mixed: true}
	case !ok:
		if p.DialectOf(it) == syntax.Columns {
			return program.Value{Kind: program.Bad, Why: program.DividesByZero, Mild: true}
		}
		n = 0
		if e.Op == syntax.ExprDiv && y.N == 0 {
			n = x.N
		}
		p.doubtful(it, e, program.Value{Why: program.DividedByOne})
	case (e.Op == syntax.ExprShl || e.Op == syntax.ExprShr) && (y.N < 0 || y.N > 63):
		p.doubtful(it, e, program.Value{Why: program.ShiftTooFar, N: y.N})
	}
	return program.Value{Kind: program.Number, N: n, Late: late}
}

// relocated is the value of a relocation operator: an address that the linker puts
// in, in part or by way of one of its tables, with the number n added.
func (p *Evaluator) relocated(e *syntax.Expr, it *program.Item, depth int) program.Value {
	name := strings.ToLower(e.Name)
	if e.Back {
		name = "(" + e.Name + ")"
	}
	if e.Hash && !p.Environments[it.Environment].Unified {
		return program.Value{Kind: program.Bad, Firm: true, Why: program.HashOfUnified}
	}
	x := p.Expr(e.X, it, depth+1)
	if !e.Back && p.Settled() && (x.Kind == program.Undefined && x.Mixed || x.Kind == program.Unknown && x.Apart) {
		if y, ok := p.fromHere(e.X, it, depth+1); ok {
			x = y
		} else if x.Kind == program.Unknown {
			return program.Value{Kind: program.Bad, Why: program.LinkersDistance}
		}
	}
	switch {
	case x.Kind == program.Undefined && (x.Num != 0 || x.Mixed) || x.Kind == program.Bad:
		return x
	case x.Kind == program.Number && name == "lower16":
		// Of a number the assembler takes the half by itself.
		return program.Value{Kind: program.Number, N: x.N & 0xffff, Reloc: name}
	case x.Kind == program.Number && name == "upper16":
		return program.Value{Kind: program.Number, N: x.N >> 16 & 0xffff, Reloc: name}
	case x.Kind == program.Number && p.Settled():
		return program.Value{Kind: program.Bad, Why: program.RelocatesNumber}
	case x.Kind == program.Address && x.Symbol != nil:
		x.N -= x.Symbol.Value.N
	case x.Kind == program.Address:
		from := it.Offset - it.Slot.ItSize() // from the line itself
		e.X.Walk(func(e *syntax.Expr) {
			if e.Op == syntax.ExprSym { // or from a name that .set gave to a place
				if y := p.Expr(e, it, depth+1); y.Kind == program.Address {
					from = y.N
				}
			}
		})
		x.N -= from
	}
	return program.Value{Kind: program.Unknown, N: x.N, Symbol: x.Symbol, Reloc: name}
}

// fromHere is a distance from a place of the item's section to what is in another,
// or in another file: the linker knows it.
func (p *Evaluator) fromHere(e *syntax.Expr, it *program.Item, depth int) (program.Value, bool) {
	n := int64(0)
	for e.Op == syntax.ExprAdd || e.Op == syntax.ExprSub {
		y := p.Expr(e.Y, it, depth+1)
		switch {
		case e.Op == syntax.ExprSub && y.Kind == program.Address && y.Section == it.Section:
			x := p.Expr(e.X, it, depth+1)
			x.N += n + it.Offset - y.N
			return x, x.Kind == program.Undefined && !x.Mixed && x.Num == 0 || x.Kind == program.Address && x.Symbol != nil
		case y.Kind != program.Number:
			return program.Value{}, false
		case e.Op == syntax.ExprSub:
			n -= y.N
		default:
			n += y.N
		}
		e = e.X
	}
	return program.Value{}, false
}

// below says whether a symbol in an expression gets its value after the item.
func (p *Evaluator) below(e *syntax.Expr, it *program.Item) bool {
	found := false
	e.Walk(func(e *syntax.Expr) {
		if e.Op == syntax.ExprSym {
			y := p.Table.Find(e.Name)
			found = found || y != nil && y.Item > it.Index
		}
	})
	return found
}

// doubtful notes a doubt about a part of an expression, once.
func (p *Evaluator) doubtful(it *program.Item, e *syntax.Expr, v program.Value) {
	if p.Phase == done || p.Phase == Moving {
		return
	}
	k := [2]int32{it.Index, e.Start}
	if p.doubted[k] {
		return
	}
	if p.doubted == nil {
		p.doubted = map[[2]int32]bool{}
	}
	p.doubted[k] = true
	p.Doubts = append(p.Doubts, doubt{p.Loc(it, e.Start, e.End), v})
}

// distances says whether the assembler is strict about distances that only the
// linker knows: in data and in what gives a symbol its value.
func (p *Evaluator) distances(it *program.Item) bool {
	if it.Stmt.Kind == syntax.Assign {
		return true
	}
	if it.Stmt.Kind != syntax.Directive {
		return false
	}
	switch it.Stmt.Directive.Effect {
	case syntax.EffData, syntax.EffSet, syntax.EffThumbSet:
		return true
	}
	return false
}

// distance is x - y where y is an address or not known, and x is neither in its
// section nor the same symbol. In the end the linker can compute it in a word of
// y's section.
func (p *Evaluator) distance(x, y program.Value, it *program.Item, to, from *syntax.Expr) program.Value {
	named := x.Kind != program.Number // by symbols, which may get their values below
	to.Walk(func(e *syntax.Expr) { named = named || e.Op == syntax.ExprSym })
	plain := named || from.Op == syntax.ExprSym || from.Op == syntax.ExprLocal || from.Op == syntax.ExprDot
	switch {
	case !p.Settled():
		y.Mixed = true
		if y.Kind == program.Address {
			y = program.Value{Kind: program.Undefined, Mixed: true, Apart: x.Kind == program.Address}
		}
		return y
	case y.Kind != program.Address:
		return notAbs(y)
	case plain && it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffData && y.Section == it.Section && !p.NarrowData(it):
		return program.Value{Kind: program.Unknown, Symbol: x.Symbol, Distance: true}
	case !plain:
		return program.Value{Kind: program.Bad, Why: program.MinusTwoSymbols}
	}
	return program.Value{Kind: program.Bad, Why: program.LinkersDistance}
}

// compare compares what are not both numbers or addresses of one section. In the
// end assemblers say of anything whether it is equal.
func (p *Evaluator) compare(op syntax.ExprOp, x, y program.Value, it *program.Item) (program.Value, bool) {
	same := x.Kind == program.Undefined && y.Kind == program.Undefined && x.Symbol == y.Symbol && x.Num == y.Num && (x.Symbol != nil || x.Num != 0)
	now := it.Stmt.Directive != nil && it.Stmt.Directive.Effect == syntax.EffIf // which does not wait
	switch {
	case x.Kind == program.Number && y.Kind == program.Number, x.Mixed, y.Mixed, (x.Num != 0 || y.Num != 0) && !now:
		return program.Value{}, false
	case x.Kind == program.Address && y.Kind == program.Address && !p.Settled() && p.Sections[x.Section].Main != p.Sections[y.Section].Main:
		return program.Value{}, false
	case (x.Kind == program.Undefined || y.Kind == program.Undefined) && !p.Settled() && !now:
		return program.Value{Kind: program.Undefined, Mixed: true, Symbol: x.Symbol}, true
	case same:
		n, _ := syntax.Fold(op, x.N, y.N)
		return program.Value{Kind: program.Number, N: n, Late: true}, true
	case op == syntax.ExprEq:
		return program.Value{Kind: program.Number, Late: true}, true
	case op == syntax.ExprNe:
		return program.Value{Kind: program.Number, N: -1, Late: true}, true
	}
	return program.Value{}, false
}

// notAbs is the result of an operator that needs numbers and got v.
func notAbs(v program.Value) program.Value {
	if v.Kind == program.Address {
		return program.Value{Kind: program.Bad, Why: program.AddressOperand}
	}
	v.Mixed = true
	return v
}
