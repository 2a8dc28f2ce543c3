package analysis

import (
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// literalLoad asks the section's pool for the word of ldr rX, =value. Equal
// constants and equal addresses by one name share a word, as assemblers have it. A
// constant that MOV, MVN or MOVW holds needs no word.
func (p *pass) literalLoad(it *item) {
	if it.stmt.Mnem.Vector() {
		p.vectorLiteral(it)
		return
	}
	p.poolWord(it)
}

// poolWord is literalLoad for one word.
func (p *pass) poolWord(it *item) {
	o := &it.stmt.Ops[1]
	var v value
	k := litKey{sec: p.sec, gen: p.secs[p.sec].gen}
	switch {
	case o.Known:
		v = value{kind: vAbs, n: o.Imm}
	case o.Expr != nil && localPlus(o.Expr) != nil:
		// 1f is the same label for everyone until the next 1: stands.
		e := localPlus(o.Expr)
		n := len(p.locals[int32(e.Val)])
		if e.Back {
			n--
		}
		v = p.expr(e, it, 0)
		k.kind, k.v, k.local = vRel, e.Val, int32(n)+1
		if e != o.Expr {
			k.plus = p.expr(o.Expr.Y, it, 0).n
			if o.Expr.Op == syntax.ExprSub {
				k.plus = -k.plus
			}
			v.n += k.plus
		}
	default:
		v = p.eval(o, it)
	}
	if v.kind == vUndef && v.mixed && !(v.apart && o.Word != "") || v.kind == vBad {
		p.report(p.loc(it, o.Start, o.End), codeUndefined, "A literal holds a number, or an address with a number added; this hangs on what is not known above.")
		return
	}
	if v.kind == vAbs {
		q := isa.Query{Have: p.cur.have, A32: p.cur.mode == isa.A}
		if rt := &it.stmt.Ops[0]; !it.stmt.Mnem.Vector() && rt.Kind == isa.OpReg && q.MovesLiteral(rt.Reg, uint32(v.n)) {
			return
		}
		// Assemblers compare numbers with the sign that they are written with.
		k.kind, k.v, k.local, k.signed = vAbs, v.n, 0, signed(p.opText(it, 1))
	} else if k.local == 0 {
		k.kind, k.sym, k.v, k.named = vRel, v.sym, v.n, p.direct(o)
		if v.sym == nil || v.kind == vBad || v.kind == vUnknown {
			// Nothing else can be known to be equal.
			k.kind, k.v = vUnknown, int64(it.id)
		} else if v.kind == vRel {
			k.v = v.n - v.sym.val.n
		}
	}
	if i := p.gap(k); i >= 0 {
		p.lits[i] = literal{val: v, sec: p.sec, off: -1, users: 1, item: -1, by: it.id}
		it.lit = i
		if _, ok := p.litBy[k]; !ok {
			p.litBy[k] = i
		}
		return
	}
	if i, ok := p.litBy[k]; ok {
		it.lit = i
		p.lits[i].users++
		return
	}
	it.lit = p.newLiteral(it, v)
	p.litBy[k] = it.lit
}

// localPlus is the numeric local label in an expression of one, perhaps with a number
// added; nil in others.
func localPlus(e *syntax.Expr) *syntax.Expr {
	if (e.Op == syntax.ExprAdd || e.Op == syntax.ExprSub) && e.Y.Op == syntax.ExprNum {
		e = e.X
	}
	if e.Op == syntax.ExprLocal && e.Name == "" {
		return e
	}
	return nil
}

// signed says whether the first number in the text of a literal has a sign.
func signed(text string) bool {
	prefix := text[:len(text)-len(strings.TrimLeft(text, "=#([+-~! \t"))]
	return strings.Contains(prefix, "-")
}

// flush places the pool of a section: aligned to a word, words in order of
// first use. at is the item of the directive, -1 for the section's end. An
// empty pool takes no room and aligns nothing.
func (p *pass) flush(sec int16, at int32) {
	s := &p.secs[sec]
	s.gen++
	if len(s.pool) == 0 {
		return
	}
	before := s.size
	align := int64(4)
	if s.doubles {
		align = 8
	}
	s.doubles, s.padded = false, false
	s.size = (s.size + align - 1) &^ (align - 1)
	s.align = max(s.align, align)
	start := s.size
	for _, i := range s.pool {
		p.lits[i].off, p.lits[i].item = s.size, at
		s.size += 4
	}
	place := at
	if at < 0 {
		place = sectionEnd - 1
	}
	s.alignAt(place, before, s.size-before, align, 0, s.size-start)
	if at >= 0 {
		p.items[at].size = s.size - before
		p.items[at].flags |= fPool
	} else {
		s.endPool = before
	}
	s.pool = s.pool[:0]
}
