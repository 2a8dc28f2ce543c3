package assemble

import (
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// A file of nothing but constants, as headers of devices are, comes to the same in
// every program that knows none of its names yet: each line is an item without a
// size, and gives a new symbol a number that depends on the lines above only. Such a
// file is walked once. Later programs get its items as they are, and its symbols when
// something asks for them.

// MinConstants is how many statements are worth it.
const MinConstants = 200

// plainConstants says whether a file has nothing but definitions that depend on no
// other symbol than those above.
func plainConstants(f *syntax.File) bool {
	seen := map[string]bool{}
	known := func(o *syntax.Operand) bool {
		ok := o.Names == nil && !o.IsStr && (o.Word == "" || seen[o.Word])
		o.Expr.Walk(func(e *syntax.Expr) {
			switch e.Op {
			case syntax.ExprSym:
				ok = ok && seen[e.Name]
			case syntax.ExprNum, syntax.ExprNeg, syntax.ExprNot, syntax.ExprLNot, syntax.ExprMul, syntax.ExprDiv, syntax.ExprMod, syntax.ExprShl, syntax.ExprShr,
				syntax.ExprOr, syntax.ExprAnd, syntax.ExprXor, syntax.ExprOrNot, syntax.ExprAdd, syntax.ExprSub,
				syntax.ExprEq, syntax.ExprNe, syntax.ExprLt, syntax.ExprLe, syntax.ExprGt, syntax.ExprGe, syntax.ExprLAnd, syntax.ExprLOr:
			default:
				ok = false
			}
		})
		return ok
	}
	for i := 0; i < f.NumLines(); i++ {
		for k := range f.Line(i).Stmts {
			s := &f.Line(i).Stmts[k]
			name, ops := s.Name, s.Ops
			switch {
			case s.Err != nil:
				return false
			case s.Kind == syntax.Assign:
			case s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffSet && len(ops) == 2 && ops[0].Word != "":
				name, ops = ops[0].Word, ops[1:]
			default:
				return false
			}
			if len(ops) != 1 || name == "." || seen[name] || !known(&ops[0]) {
				return false
			}
			seen[name] = true
		}
	}
	return len(seen) >= MinConstants
}

// constantsFile walks an included file, or takes what it came to before. u is its
// unit if the preprocessor includes it, else nil.
func (p *pass) constantsFile(path string, f *syntax.File, u *preprocess.Unit, from int32) {
	walk := func() {
		if u == nil {
			p.file(path, f, from)
		} else {
			p.walk(p.unitSource(u, from), f)
		}
	}
	if p.in.Made == nil || p.Columns || p.nest > 0 || f.Dialect() != syntax.Dots || !p.conds.active() || u != nil && len(u.Includes)+len(u.Problems) > 0 {
		walk()
		return
	}
	c := p.store.constants(path, f)
	if c == nil {
		c = &program.Constants{File: f, Plain: plainConstants(f) && !changes(u)}
		p.store.keepConstants(path, c)
	}
	if !c.Plain || len(c.Items) > 0 {
		if c.Plain && p.fits(c) {
			p.take(c, path, u, from)
		} else {
			walk()
		}
		return
	}
	p.TellDoubts()
	items, said, syms, steps, gen, env := len(p.Items), p.Said, len(p.Symbols), p.Steps, p.Gen, p.current
	slab := len(p.Slabs)
	left := 0
	if slab > 0 {
		slab--
		left = len(p.Slabs[slab])
	}
	walk()
	n := len(p.Items) - items
	p.TellDoubts()
	if p.err != nil || p.Said != said || p.Gen != gen || p.current != env || len(p.Symbols)-syms != n || n == 0 {
		return
	}
	c = &program.Constants{File: f, Plain: true, Environment: env, Items: append([]program.Item(nil), p.Items[items:]...), Symbols: make(map[string]*program.Symbol, n), Steps: p.Steps - steps}
	for k := range c.Items {
		if it := &c.Items[k]; it.Size != 0 || it.Flags != 0 || it.Literal >= 0 || it.Slot != 0 || it.Match.Form != nil || it.Section != p.currentSection {
			return
		}
	}
	all := make([]program.Symbol, 0, n)
	for ; slab < len(p.Slabs); slab++ {
		for ; left < len(p.Slabs[slab]); left++ {
			s := p.Slabs[slab][left]
			if !s.Defined || s.Label || s.Kind != program.SymConstant || s.Value.Kind != program.Number || s.Value.Symbol != nil || s.Value.Late || s.Expr != nil || len(s.Past) > 0 || int(s.Item) < items {
				return
			}
			s.Item -= int32(items)
			all = append(all, s)
			c.Symbols[s.Name] = &all[len(all)-1]
		}
		left = 0
	}
	if len(c.Symbols) == n {
		p.store.keepConstants(path, c)
	}
}

// changes says whether macros make something of the unit: its places then lead to
// the macros of one program.
func changes(u *preprocess.Unit) bool {
	if u == nil {
		return false
	}
	for i := 0; i < u.File.NumLines(); i++ {
		if u.Changed(i) {
			return true
		}
	}
	return false
}

// fits says whether the constants come to the same here.
func (p *pass) fits(c *program.Constants) bool {
	if c.Environment != p.current {
		return false
	}
	for name := range p.Symbols {
		if c.Symbols[name] != nil {
			return false
		}
	}
	for name := range p.secBy {
		if c.Symbols[name] != nil {
			return false
		}
	}
	for _, t := range p.Taken {
		a, b := t.Symbols, c.Symbols
		if len(a) > len(b) {
			a, b = b, a
		}
		for name := range a {
			if b[name] != nil {
				return false
			}
		}
	}
	return true
}

// take puts the constants of a file into the program.
func (p *pass) take(c *program.Constants, path string, u *preprocess.Unit, from int32) {
	id, first := int32(len(p.Sources)), len(p.Items)
	if u == nil {
		p.Sources = append(p.Sources, program.Source{Path: path, File: c.File, From: from})
	} else {
		p.unitSource(u, from)
	}
	p.Taken = append(p.Taken, program.Taken{Constants: c, First: int32(first)})
	p.Steps += c.Steps
	p.Items = append(p.Items, c.Items...)
	off := p.Sections[p.currentSection].Size
	order := p.Order[p.currentSection]
	for k := first; k < len(p.Items); k++ {
		it := &p.Items[k]
		it.Index, it.File, it.Section, it.Environment, it.Offset = int32(k), id, p.currentSection, p.envID, off
		order = append(order, int32(k))
	}
	p.Order[p.currentSection] = order
}
