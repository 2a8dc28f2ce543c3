package rewrite

import (
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// cut says what a proof may leave out of a program, wherever the edits are: instructions
// that take the same room and say the same when what is around them moves by a few bytes.
// It is made once for a program, and not written to afterwards.
type cut struct {
	// unfit: the program has something that an extract cannot show.
	unfit bool
	// needed are the items that every extract has; far ones that an extract may
	// leave out are those that are not.
	needed []bool
	// users are the directives that say something of a label, by its item.
	users map[int32][]int32
	// pools are the items that have to do with a literal pool, by the item that places it.
	pools map[poolPlace][]int32
}

// poolPlace says where a pool is: at an item, or with -1 at the end of a section.
type poolPlace struct {
	section int16
	item    int32
}

// slack is how far in bytes a line that is left out may move, and how near to its limits
// a branch that is left out may be twice.
const slack = 64

// cutter makes a cut.
type cutter struct {
	*cut
	r *Subject
	// varies are the names whose values depend on the layout.
	varies map[string]bool
}

func (r *Subject) newCut() *cut {
	c := &cutter{&cut{needed: make([]bool, len(r.Items)), users: map[int32][]int32{}, pools: map[poolPlace][]int32{}}, r, map[string]bool{}}
	if r.Columns || r.File.Cut() >= 0 || r.Sources[0].Unit != nil || r.File.Dialect() != syntax.Dots {
		c.unfit = true
		return c.cut
	}
	c.names()
	if c.sort(); c.unfit {
		return c.cut
	}
	c.neighbours()
	c.close(r, c.needed)
	return c.cut
}

// names finds the constants that depend on the layout.
func (c *cutter) names() {
	for again := true; again; {
		again = false
		for i := range c.r.Items {
			s := c.r.Items[i].Stmt
			var name string
			var o *syntax.Operand
			switch {
			case s.Kind == syntax.Assign && len(s.Ops) > 0:
				name, o = s.Name, &s.Ops[0]
			case s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffSet || s.Directive.Effect == syntax.EffEqv) && len(s.Ops) > 1:
				name, o = s.Ops[0].Word, &s.Ops[1]
			default:
				continue
			}
			if !c.varies[name] && !c.constant(o) {
				c.varies[name], again = true, true
			}
		}
	}
}

// constant says whether an operand has the same value wherever things are.
func (c *cutter) constant(o *syntax.Operand) bool {
	if o.Word != "" {
		return c.fixed(o.Word)
	}
	ok := true
	o.Expr.Walk(func(e *syntax.Expr) {
		switch e.Op {
		case syntax.ExprDot, syntax.ExprLocal, syntax.ExprReloc:
			ok = false
		case syntax.ExprSym:
			ok = ok && c.fixed(e.Name)
		}
	})
	return ok
}

func (c *cutter) fixed(name string) bool {
	y := c.r.SymbolOf(name)
	return y != nil && y.Defined && !y.Label && !y.Common && !c.varies[name]
}

// sort decides for each item by itself whether it may be left out.
func (c *cutter) sort() {
	label := int32(-1) // the one that .thumb_func waits for
	var waiting []int32
	for i := range c.r.Items {
		it := &c.r.Items[i]
		s := it.Stmt
		if it.File == 0 && c.r.Sources[0].File.Line(int(it.Line)).StartsInComment() {
			c.unfit = true
		}
		switch {
		case it.File != 0 || it.Flags&(program.Calls|program.Opaque|program.AsWritten) != 0:
			c.needed[i] = true
		case s.Kind == syntax.Instruction:
			c.needed[i] = !c.plain(it)
		case s.Kind == syntax.Label:
			c.needed[i] = s.NoColon || s.Err != nil
			label = it.Index
			c.users[label] = append(c.users[label], waiting...)
			waiting = nil
			continue
		case s.Kind == syntax.Directive:
			switch s.Directive.Effect {
			case syntax.EffThumbFunc:
				waiting = append(waiting, it.Index)
			case syntax.EffGlobal, syntax.EffType, syntax.EffSize:
				c.needed[i] = !c.saysOfLabel(it)
			case syntax.EffPool:
				if c.needed[i] = s.Err != nil; it.Flags&program.HasPool != 0 {
					p := poolPlace{it.Section, it.Index}
					c.pools[p] = append(c.pools[p], it.Index)
				}
			case syntax.EffSubsection, syntax.EffEnd, syntax.EffStruct:
				c.unfit = true
			case syntax.EffSection:
				c.needed[i] = true
				c.unfit = c.unfit || c.r.Sections[it.Section].Main != it.Section
			default:
				c.needed[i] = true
			}
		default:
			c.needed[i] = true
		}
		if it.Literal >= 0 {
			l := &c.r.Literals[it.Literal]
			p := poolPlace{l.Section, l.Item}
			c.pools[p] = append(c.pools[p], it.Index)
			c.needed[i] = c.needed[i] || l.Item < 0
		}
	}
	for _, i := range waiting {
		c.needed[i] = true
	}
}

// saysOfLabel notes a directive that says something of labels of the root file, and of
// nothing else.
func (c *cutter) saysOfLabel(it *program.Item) bool {
	if len(it.Stmt.Ops) == 0 || it.Stmt.Err != nil {
		return false
	}
	ops := it.Stmt.Ops
	if it.Stmt.Directive.Effect != syntax.EffGlobal {
		ops = ops[:1]
	}
	for i := range ops {
		y := c.r.SymbolOf(ops[i].Word)
		if ops[i].Word == "" || y == nil || !y.Label || y.Item < 0 || c.r.Items[y.Item].File != 0 {
			return false
		}
	}
	for i := range ops {
		y := c.r.SymbolOf(ops[i].Word)
		c.users[y.Item] = append(c.users[y.Item], it.Index)
	}
	return true
}

// plain says whether an instruction takes the same room and says the same where things
// around it move a little.
func (c *cutter) plain(it *program.Item) bool {
	s := it.Stmt
	if it.Slot != 0 || it.Flags&(program.Unchecked|program.Wide) != 0 || s.Mnemonic == nil || s.Mnemonic.OpensBlock() || s.Mnemonic.Vector() || s.Err != nil {
		return false
	}
	form := it.Match.Form
	if form == nil && it.Flags&program.Refused == 0 {
		return false
	}
	for i := range s.Ops {
		o := &s.Ops[i]
		switch {
		case o.Kind == isa.OpMem && (o.Reg == isa.PC || o.Off == isa.OffReg && o.Index == isa.PC), o.Kind == isa.OpReg && o.Reg == isa.PC:
			return false
		case o.Word == "" && o.Expr == nil, c.constant(o):
		case o.Kind == isa.OpLit && form != nil:
			if it.Literal < 0 {
				return false
			}
		case o.Kind == isa.OpExpr && form != nil && c.far(it, o):
		default:
			return false
		}
	}
	if it.Literal >= 0 {
		l := &c.r.Literals[it.Literal]
		away := l.Offset - it.Offset
		return l.Item >= 0 && c.r.Items[l.Item].File == 0 && l.Section == it.Section && away > 0 && away < 1020-2*slack && !l.Padding
	}
	return true
}

// far says whether an instruction is a branch that keeps its encoding when its target
// moves a little.
func (c *cutter) far(it *program.Item, o *syntax.Operand) bool {
	e := it.Match.Effects()
	if !e.Flow.ToLabel() || o.Word == "" && (o.Expr == nil || o.Expr.Op != syntax.ExprLocal) {
		return false
	}
	v := c.r.Value(o, it)
	switch {
	case v.Kind == program.Undefined:
		return v.Symbol != nil && !v.Symbol.Label
	case v.Kind != program.Address || v.Symbol == nil || v.N != v.Symbol.Value.N || !v.Symbol.Label:
		return false
	case v.Section != it.Section:
		return true
	}
	q := c.r.Query(it, &c.r.Environments[it.Environment])
	c.r.Operands(it, true)
	k := -1
	for i := range it.Stmt.Ops {
		if &it.Stmt.Ops[i] == o {
			k = i
		}
	}
	if k < 0 || k >= len(c.r.Ops) || !c.r.Ops[k].Known {
		return false
	}
	at := c.r.Ops[k].Imm
	for _, d := range []int64{-2 * slack, 2 * slack} {
		c.r.Ops[k].Imm = at + d
		if m, ok := it.Stmt.Mnemonic.Match(&q, c.r.Ops); !ok || m.Form != it.Match.Form {
			return false
		}
	}
	return true
}

// neighbours marks what is next to items that stay and tells something about them: the
// label of data, the instruction after it, those in front of a pool and at the end.
func (c *cutter) neighbours() {
	for _, order := range c.r.Order {
		sized := false // after data
		for k, i := range order {
			it := &c.r.Items[i]
			if it.Stmt.Kind == syntax.Instruction {
				if sized {
					c.needed[i] = true
				}
				sized = false
				continue
			}
			if !c.needed[i] || it.Stmt.Kind != syntax.Directive || it.Size == 0 {
				continue
			}
			sized = true
			for j := k - 1; j >= 0 && c.r.Items[order[j]].Stmt.Kind == syntax.Label; j-- {
				c.needed[order[j]] = true
			}
		}
		for k, n := len(order)-1, 0; k >= 0 && n < 3; k-- {
			c.needed[order[k]] = true
			if c.r.Items[order[k]].Stmt.Kind == syntax.Instruction {
				n++
			}
		}
	}
}

// close adds what the items that are marked need: the labels that they name, with what is
// said of these and the instruction after them, and all that shares a pool with them.
func (c *cut) close(r *Subject, marked []bool) {
	var work []int32
	for i := range marked {
		if marked[i] {
			work = append(work, int32(i))
		}
	}
	c.closeFrom(r, marked, work)
}

func (c *cut) closeFrom(r *Subject, marked []bool, work []int32) {
	mark := func(i int32) {
		if i >= 0 && !marked[i] {
			marked[i] = true
			work = append(work, i)
		}
	}
	name := func(y *program.Symbol) {
		if y != nil && y.Label {
			mark(y.Item)
		}
	}
	for len(work) > 0 {
		it := &r.Items[work[len(work)-1]]
		work = work[:len(work)-1]
		for i := range it.Stmt.Ops {
			o := &it.Stmt.Ops[i]
			if o.Word != "" {
				name(r.SymbolOf(o.Word))
			}
			o.Expr.Walk(func(e *syntax.Expr) {
				switch e.Op {
				case syntax.ExprSym:
					name(r.SymbolOf(e.Name))
				case syntax.ExprLocal:
					name(r.Local(int32(e.Val), e.Back, it.Index).Symbol)
				}
			})
		}
		if it.Stmt.Kind == syntax.Label {
			for _, u := range c.users[it.Index] {
				mark(u)
			}
			mark(r.Ahead[it.Section][r.Position(it)+1])
		}
		// Lines stay or go as a whole.
		for _, k := range []int32{it.Index - 1, it.Index + 1} {
			if k >= 0 && int(k) < len(r.Items) && it.File == 0 && r.Items[k].File == 0 && r.Items[k].Line == it.Line {
				mark(k)
			}
		}
		place := poolPlace{it.Section, it.Index}
		if it.Literal >= 0 {
			l := &r.Literals[it.Literal]
			place = poolPlace{l.Section, l.Item}
		}
		for _, u := range c.pools[place] {
			mark(u)
		}
		if it.Flags&program.HasPool != 0 {
			order := r.Order[it.Section]
			for k, n := r.Position(it)-1, 0; k >= 0 && n < 2; k-- {
				if mark(order[k]); r.Items[order[k]].Stmt.Kind == syntax.Instruction {
					n++
				}
			}
		}
	}
}
