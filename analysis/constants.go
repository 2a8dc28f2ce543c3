package analysis

import (
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/syntax"
)

// A file of nothing but constants, as headers of devices are, comes to the same in
// every program that knows none of its names yet: each line is an item without a
// size, and gives a new symbol a number that hangs on the lines above alone. Such a
// file is walked once. Later programs get its items as they are, and its symbols when
// something asks for them.

// minConstants is how many statements are worth it.
const minConstants = 200

// constants is what such a file came to.
type constants struct {
	file  *syntax.File
	plain bool // else it is something else, and has nothing of this
	env   env
	items []item             // none as long as it was not walked
	syms  map[string]*symbol // their items count from the file's first one
	steps int
}

// taken is the constants of a file in a program.
type taken struct {
	*constants
	first int32 // the first item
}

// plainConstants says whether a file has nothing but definitions that hang on no
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
			case s.Kind == syntax.Directive && s.Dir.Effect == syntax.EffSet && len(ops) == 2 && ops[0].Word != "":
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
	return len(seen) >= minConstants
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
	if p.in.Made == nil || p.columns || p.nest > 0 || f.Dialect() != syntax.Dots || !p.active() || u != nil && len(u.Includes)+len(u.Problems) > 0 {
		walk()
		return
	}
	c := p.store.constants(path, f)
	if c == nil {
		c = &constants{file: f, plain: plainConstants(f) && !changes(u)}
		p.store.keepConstants(path, c)
	}
	if !c.plain || len(c.items) > 0 {
		if c.plain && p.fits(c) {
			p.take(c, path, u, from)
		} else {
			walk()
		}
		return
	}
	items, diags, syms, steps, gen, env := len(p.items), len(p.diags), len(p.syms), p.steps, p.gen, p.cur
	slab := len(p.slabs)
	left := 0
	if slab > 0 {
		slab--
		left = len(p.slabs[slab])
	}
	walk()
	n := len(p.items) - items
	if p.err != nil || len(p.diags) != diags || p.gen != gen || p.cur != env || len(p.syms)-syms != n || n == 0 {
		return
	}
	c = &constants{file: f, plain: true, env: env, items: append([]item(nil), p.items[items:]...), syms: make(map[string]*symbol, n), steps: p.steps - steps}
	for k := range c.items {
		if it := &c.items[k]; it.size != 0 || it.flags != 0 || it.lit >= 0 || it.slot != 0 || it.match.Form != nil || it.sec != p.sec {
			return
		}
	}
	all := make([]symbol, 0, n)
	for ; slab < len(p.slabs); slab++ {
		for ; left < len(p.slabs[slab]); left++ {
			s := p.slabs[slab][left]
			if !s.defined || s.label || s.kind != SymConstant || s.val.kind != vAbs || s.val.sym != nil || s.val.late || s.expr != nil || len(s.past) > 0 || int(s.item) < items {
				return
			}
			s.item -= int32(items)
			all = append(all, s)
			c.syms[s.name] = &all[len(all)-1]
		}
		left = 0
	}
	if len(c.syms) == n {
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
func (p *pass) fits(c *constants) bool {
	if c.env != p.cur {
		return false
	}
	for name := range p.syms {
		if c.syms[name] != nil {
			return false
		}
	}
	for name := range p.secBy {
		if c.syms[name] != nil {
			return false
		}
	}
	for _, t := range p.taken {
		a, b := t.syms, c.syms
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
func (p *pass) take(c *constants, path string, u *preprocess.Unit, from int32) {
	id, first := int32(len(p.sources)), len(p.items)
	if u == nil {
		p.sources = append(p.sources, source{path: path, file: c.file, from: from})
	} else {
		p.unitSource(u, from)
	}
	p.taken = append(p.taken, taken{c, int32(first)})
	p.steps += c.steps
	p.items = append(p.items, c.items...)
	off := p.secs[p.sec].size
	order := p.order[p.sec]
	for k := first; k < len(p.items); k++ {
		it := &p.items[k]
		it.id, it.file, it.sec, it.env, it.off = int32(k), id, p.sec, p.envID, off
		order = append(order, int32(k))
	}
	p.order[p.sec] = order
}

// asTaken is the symbol of a name among the constants of files, nil without one. It
// is a copy, which belongs to nobody yet.
func (r *Program) asTaken(name string) *symbol {
	for _, t := range r.taken {
		if c := t.syms[name]; c != nil {
			s := *c
			s.item += t.first
			return &s
		}
	}
	return nil
}

// symbolOf is the symbol of a name once the program is analysed, nil without one.
func (r *Program) symbolOf(name string) *symbol {
	if s := r.syms[name]; s != nil {
		return s
	}
	return r.asTaken(name)
}

// find is the symbol of a name, nil as long as nothing has asked for it.
func (p *pass) find(name string) *symbol {
	s := p.syms[name]
	if s != nil || len(p.taken) == 0 {
		return s
	}
	if s = p.asTaken(name); s != nil {
		x := p.newSymbol(name)
		*x = *s
		return x
	}
	return s
}

// defined calls f for every name that is defined.
func (r *Program) defined(f func(name string)) {
	for name, y := range r.syms {
		if y.defined {
			f(name)
		}
	}
	for _, t := range r.taken {
		for name := range t.syms {
			if r.syms[name] == nil {
				f(name)
			}
		}
	}
}
