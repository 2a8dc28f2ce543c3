package eval

import (
	"sort"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// MaxPast bounds the values kept of one symbol: a loop may set it often.
const MaxPast = 10000

// ValueAt is the symbol's value where an item is that is above its last
// definition.
func (p *Evaluator) ValueAt(s *program.Symbol, id int32, depth int) program.Value {
	k := sort.Search(len(s.Past), func(k int) bool { return s.Past[k].Item > id })
	if k > 0 {
		k--
	}
	x := &s.Past[k]
	if x.Expr == nil || p.Phase == done {
		return p.placed(x.Value)
	}
	m := p.memo(memoOf{s, x.Item})
	if m.gen == p.Gen {
		return m.value
	}
	if depth > maxDepth || p.busy[s] {
		return program.Value{Kind: program.Bad, Symbol: s, Why: program.DependsOnItself}
	}
	v := p.evalWaiting(s, x.Expr, x.Item, depth)
	m.value, m.gen = v, p.Gen
	return v
}

// memoOf says whose value a memo has: that of a symbol, as its definition at an item
// gives it, or isNow for the last one.
type memoOf struct {
	sym  *program.Symbol
	item int32
}

const isNow = -1

// memo is the value of an expression that waits, as it was when Evaluator.Gen was gen;
// 0 for none.
type memo struct {
	value program.Value
	gen   int32
}

// memo finds or makes one. Only symbols that wait have them.
func (p *Evaluator) memo(of memoOf) *memo {
	m := p.memos[of]
	if m == nil {
		if p.memos == nil {
			p.memos = map[memoOf]*memo{}
		}
		m = &memo{}
		p.memos[of] = m
	}
	return m
}

// evalWaiting computes what an item gives to a symbol, which cannot need itself.
func (p *Evaluator) evalWaiting(s *program.Symbol, o *syntax.Operand, item int32, depth int) program.Value {
	if p.busy == nil {
		p.busy = map[*program.Symbol]bool{}
	}
	p.busy[s] = true
	v := p.evalAt(o, &p.Items[item], depth+1)
	delete(p.busy, s)
	return v
}

// PastOf is a value that a symbol had from an item on.
type PastOf struct {
	Symbol *program.Symbol
	Item   int32
}

// maxDepth bounds the recursion over expressions and over symbols that are
// defined by symbols. It is far above what people write.
const maxDepth = 50000

// SymValue is the symbol's value, computed now if it had to wait.
func (p *Evaluator) SymValue(s *program.Symbol, depth int) program.Value {
	if s.Expr == nil {
		if !s.Defined {
			return program.Value{Kind: program.Undefined, Symbol: s}
		}
		return p.placed(s.Value)
	}
	if depth > maxDepth || p.busy[s] {
		return program.Value{Kind: program.Bad, Symbol: s, Why: program.DependsOnItself}
	}
	if p.Phase == done {
		// Only what could not be computed is still waiting.
		return program.Value{Kind: program.Unknown}
	}
	// A value that is still not known is the same until another symbol gets
	// one: without this, a chain of sums doubles the work with every link.
	m := p.memo(memoOf{s, isNow})
	if m.gen == p.Gen || !p.Settled() && m.gen != 0 && m.value.Waits() {
		return m.value
	}
	v := p.evalWaiting(s, s.Expr, s.Item, depth)
	m.value, m.gen = v, p.Gen
	if p.Phase != Moving && (v.Kind == program.Number || v.Kind == program.Address || v.Kind == program.Unknown) {
		p.Table.Settle(s, v)
	}
	return v
}

// Value computes an operand's value at an item.
func (p *Evaluator) Value(o *syntax.Operand, it *program.Item) program.Value {
	return p.evalAt(o, it, 0)
}

func (p *Evaluator) evalAt(o *syntax.Operand, it *program.Item, depth int) program.Value {
	switch {
	case o.Word != "":
		return p.use(o.Word, it, o.Start, o.End, depth)
	case o.Expr != nil:
		return p.Expr(o.Expr, it, depth)
	case o.Known:
		return program.Value{Kind: program.Number, N: o.Imm}
	}
	return program.Value{Kind: program.Unknown}
}

// use looks a symbol up and notes the reference.
func (p *Evaluator) use(name string, it *program.Item, a, b int32, depth int) program.Value {
	p.Steps++
	s := p.Table.Symbol(name)
	var v program.Value
	if len(s.Past) > 0 && it.Index < s.Item {
		v = p.ValueAt(s, it.Index, depth)
	} else {
		v = p.SymValue(s, depth)
	}
	if v.Kind == program.Address && s.Label || v.Apart {
		v.Symbol = s
	}
	return v
}

// placed is an address at its present place while the layout moves.
func (p *Evaluator) placed(v program.Value) program.Value {
	if p.Phase == Moving && v.Kind == program.Address {
		v.N = p.Layout.Present(v)
	}
	return v
}

// grows says whether the distance between two addresses of one section may still
// change.
func (p *Evaluator) grows(x, y program.Value) bool {
	if p.Phase == Moving {
		p.Shifting = true
	}
	return !p.Settled() && p.Layout.Apart(x.Section, x.At, y.At)
}

// Local finds a numeric local label from item i: the next one with 1f, the
// last one with 1b; with 55$ the last one if no label with a name is between, else the next one.
func (p *Evaluator) Local(n int32, back bool, i int32) program.Value {
	list := p.Locals[n]
	k := sort.Search(len(list), func(k int) bool { return list[k].Item > i })
	if n&syntax.DollarLabel != 0 && k > 0 {
		end := sort.Search(len(p.Dollars), func(e int) bool { return p.Dollars[e] > list[k-1].Item })
		back = end == len(p.Dollars) || p.Dollars[end] > i
	}
	if back {
		k--
	}
	if k < 0 || k >= len(list) {
		return program.Value{Kind: program.Undefined, Num: n + 1, Back: back}
	}
	v := p.placed(list[k].Value)
	v.Symbol = list[k]
	return v
}
