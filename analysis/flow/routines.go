package flow

import (
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// findEntries marks the steps that execution may come to otherwise than by a jump or a
// call that names them: those that other files know, those whose address something has,
// and return addresses that are made by hand. unseen: code that is not seen may name any
// label.
func (g *graph) findEntries(aways map[int32]away, read map[int32]bool, unseen bool) {
	g.EachSymbol(func(y *program.Symbol) {
		if y.Label && y.Defined && y.Item >= 0 {
			x := &g.steps[g.stepAt[y.Item]]
			x.named = x.named || y.Global || g.shared
			x.taken = x.taken || unseen && !x.data
		}
		if y.Refers != "" {
			g.take(program.Value{}, g.SymbolOf(y.Refers), false)
		}
	})
	for i := range g.Items {
		it := &g.Items[i]
		switch s := g.stepAt[i]; it.Stmt.Kind {
		case syntax.Instruction:
			if x := &g.steps[s]; x.item == it.Index && (x.way != jumps && x.way != calls || g.targets[s] == nil || aways[s]&nowhere != 0) {
				g.takeBy(it, x)
			}
		case syntax.Assign:
			g.takeValues(it)
		case syntax.Directive:
			switch it.Stmt.Directive.Effect {
			case syntax.EffSet, syntax.EffEqv, syntax.EffThumbSet:
				g.takeValues(it)
			case syntax.EffData, syntax.EffFillOf, syntax.EffFill, syntax.EffLEB, syntax.EffInst:
				if !read[it.Index] {
					g.takeNames(it, false)
				}
			}
		case syntax.Unknown:
			if !it.Transparent() {
				g.takeWords(it)
			}
		}
	}
}

// takeBy marks what an instruction that is no branch to a label has addresses of. In LR
// they are return addresses.
func (g *graph) takeBy(it *program.Item, x *step) {
	if x.way == goesOn && it.Stmt.Mnemonic != nil && it.Match.Form != nil && it.Stmt.Mnemonic.Named(g.Environments[it.Environment].Mode) == isa.FlowBranch {
		return // a branch to the next line, of which assemblers make NOP
	}
	if x.way == unclear {
		g.takeWords(it)
	}
	toLR := len(it.Stmt.Ops) > 0 && it.Stmt.Ops[0].Kind == isa.OpReg && it.Stmt.Ops[0].Reg == isa.LR
	g.takeNames(it, toLR)
	if it.Match.Form == nil || x.way != goesOn {
		return
	}
	src, n, ok := it.Match.Sum()
	if !ok || src != isa.PC {
		return
	}
	to := g.place(program.Value{Kind: program.Address, Section: it.Section, N: it.Offset + g.Environments[it.Environment].Mode.Ahead() + n})
	if in := g.secs[it.Section]; to < 0 {
		to = min(g.stepAt[it.Index]+2, in.to-1) // after the jump that is after it
	}
	if it.Match.Effects().Writes.Has(isa.LR) {
		g.steps[to].hand = true
	} else {
		g.steps[to].taken = !g.steps[to].data
	}
}

// takeNames marks all that the operands of an item name.
func (g *graph) takeNames(it *program.Item, toLR bool) {
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		switch {
		case o.Word != "":
			if y := g.SymbolOf(o.Word); y != nil {
				g.take(g.Value(o, it), y, toLR)
			}
		case o.Expr != nil:
			g.take(g.Value(o, it), nil, toLR)
			o.Expr.Walk(func(e *syntax.Expr) {
				switch e.Op {
				case syntax.ExprSym:
					if y := g.SymbolOf(e.Name); y != nil {
						g.take(g.Expr(e, it, 0), y, toLR)
					}
				case syntax.ExprLocal, syntax.ExprDot:
					g.take(g.Expr(e, it, 0), nil, toLR)
				}
			})
		}
	}
}

// takeWords marks all that a line names that nobody can read.
func (g *graph) takeWords(it *program.Item) {
	for _, w := range strings.FieldsFunc(g.LineText(it), func(r rune) bool { return r < 0x80 && !program.IdentByte(byte(r)) }) {
		if y := g.SymbolOf(w); y != nil {
			g.take(program.Value{}, y, false)
		}
	}
}

// takeValues marks the addresses that an assignment gives to a name.
func (g *graph) takeValues(it *program.Item) {
	for i := range it.Stmt.Ops {
		if v := g.Value(&it.Stmt.Ops[i], it); v.Kind == program.Address {
			g.take(v, nil, false)
		}
	}
}

// take marks the step at an address, and that of a label.
func (g *graph) take(v program.Value, y *program.Symbol, toLR bool) {
	mark := func(s int32) {
		if s >= 0 && !g.steps[s].data {
			g.steps[s].taken = true
			g.steps[s].hand = g.steps[s].hand || toLR
		}
	}
	mark(g.place(v))
	if v.Symbol == nil {
		v.Symbol = y
	}
	if y = v.Symbol; y != nil && y.Label && y.Defined && y.Item >= 0 {
		mark(g.stepAt[y.Item])
	}
}

// enter finds what is needed where routines come back: of one that other files may call,
// or that is entered through an address, all registers; and what is needed after each
// call in this file that may lead there.
func (g *graph) enter() {
	g.findEntered()
	g.stack = make([]bool, len(g.blocks))
	var queue []int32
	queued := make([]bool, len(g.blocks))
	push := func(b int32) {
		if !queued[b] {
			queued[b] = true
			queue = append(queue, b)
		}
	}
	add := func(b int32, in set, stack bool) {
		x := &g.blocks[b]
		if in&^x.in == 0 && (!stack || g.stack[b]) {
			return
		}
		x.in |= in
		g.stack[b] = g.stack[b] || stack
		push(b)
		if b > 0 && g.blocks[b-1].fall {
			push(b - 1) // what it calls comes back here
		}
	}
	outside := allRegs // flags are nobody's after a public interface
	if g.shared {
		outside = everything
	}
	for b := range g.blocks {
		push(int32(b))
		if g.steps[g.blocks[b].first].named {
			add(int32(b), outside, false)
		}
	}
	for _, b := range g.entered {
		add(b, allRegs, false)
	}
	for n := 0; n < len(queue); n++ {
		b := queue[n]
		queued[b] = false
		g.work++
		x := &g.blocks[b]
		last := &g.steps[x.last]
		if last.data && x.in == 0 {
			continue // nothing runs into it
		}
		stack := g.stack[b] || x.stack
		anyIn, hand := g.anyIn, g.hand
		if x.fall {
			add(b+1, x.in, stack)
		}
		to := x.in
		if last.way == calls || last.way == callsBy {
			to = g.live(b + 1)
		}
		for _, t := range g.edges[x.from:x.to] {
			if g.blocks[t].over != 0 {
				add(t, to|x.in, stack)
			} else {
				add(t, to, stack)
			}
		}
		switch last.way {
		case jumps, calls:
			if x.away&nowhere != 0 {
				g.anyIn |= to
			}
		case callsBy, leaves, unclear:
			g.anyIn |= to
		case returns:
			if len(g.byHand) > 0 {
				g.anyIn |= x.in
			}
		}
		if s := &g.steps[x.first]; s.taken || s.hand {
			g.hand |= g.live(b)
		}
		if g.hand != hand {
			for c := range g.blocks {
				if w := g.steps[g.blocks[c].last].way; w == calls || w == callsBy || g.steps[g.blocks[c].first].taken {
					push(int32(c))
				}
			}
		}
		if g.anyIn != anyIn {
			for _, e := range g.entered {
				add(e, g.anyIn, false)
			}
		}
	}
}

// findEntered lists the blocks that are entered from where nothing is known: those whose
// address something has, and those to which no way is seen.
func (g *graph) findEntered() {
	reached := make([]bool, len(g.blocks))
	led := make([]bool, len(g.blocks)) // some code leads there
	var todo []int32
	reach := func(b int32) {
		for todo = append(todo, b); len(todo) > 0; {
			b = todo[len(todo)-1]
			if todo = todo[:len(todo)-1]; reached[b] {
				continue
			}
			reached[b] = true
			x := &g.blocks[b]
			todo = append(todo, g.edges[x.from:x.to]...)
			if x.fall {
				todo = append(todo, b+1)
			}
		}
	}
	for b := range g.blocks {
		x := &g.blocks[b]
		s := &g.steps[x.first]
		if s.taken || s.hand {
			g.entered = append(g.entered, int32(b))
		}
		if s.taken || s.hand || s.named {
			reach(int32(b))
		}
		if !s.data {
			for _, t := range g.edges[x.from:x.to] {
				led[t] = true
			}
			if x.fall {
				led[b+1] = true
			}
		}
	}
	for _, evenLed := range []bool{false, true} {
		for b := range g.blocks {
			if !reached[b] && !g.steps[g.blocks[b].first].data && (evenLed || !led[b]) {
				g.entered = append(g.entered, int32(b))
				reach(int32(b))
			}
		}
	}
}
