package assemble

import (
	"strings"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// pool is the literal pool that a section collects.
type pool struct {
	words  []int32 // literals by their index in the program
	placed int32   // counts the pools placed so far
	// doubles: there are literals of eight bytes; padded: with a gap before one of
	// them.
	doubles, padded bool
}

// pools are the literals that wait for a place.
type pools struct {
	byKey map[literalKey]int32
	bySec []pool // grows with use; see pools.of
}

// of is the pool that a section collects.
func (p *pools) of(sec int16) *pool {
	for len(p.bySec) <= int(sec) {
		p.bySec = append(p.bySec, pool{})
	}
	return &p.bySec[sec]
}

// literalKey says which literals are equal.
type literalKey struct {
	section int16
	pool    int32 // counts the pools of the section
	kind    program.ValueKind
	sym     *program.Symbol
	value   int64
	// named is the symbol that the literal names, which .set may have made of sym.
	named  *program.Symbol
	signed bool
	// local is the number of the definition of a numeric local label, from 1; plus is
	// added to it.
	local int32
	plus  int64
}

// literalLoad asks the section's pool for the word of ldr rX, =value. Equal
// constants and equal addresses by one name share a word, as assemblers have it. A
// constant that MOV, MVN or MOVW holds needs no word.
func (p *pass) literalLoad(it *program.Item) {
	if it.Stmt.Mnemonic.Vector() {
		p.vectorLiteral(it)
		return
	}
	p.poolWord(it)
}

// poolWord is literalLoad for one word.
func (p *pass) poolWord(it *program.Item) {
	o := &it.Stmt.Ops[1]
	var v program.Value
	k := literalKey{section: p.currentSection, pool: p.pools.of(p.currentSection).placed}
	switch {
	case o.Known:
		v = program.Value{Kind: program.Number, N: o.Imm}
	case o.Expr != nil && localPlus(o.Expr) != nil:
		// 1f is the same label for everyone until the next 1: is.
		e := localPlus(o.Expr)
		n := len(p.Locals[int32(e.Val)])
		if e.Back || e.Val&syntax.DollarLabel != 0 && p.Local(int32(e.Val), false, it.Index).Symbol != nil {
			n--
		}
		v = p.Expr(e, it, 0)
		k.kind, k.value, k.local = program.Address, e.Val, int32(n)+1
		if e != o.Expr {
			k.plus = p.Expr(o.Expr.Y, it, 0).N
			if o.Expr.Op == syntax.ExprSub {
				k.plus = -k.plus
			}
			v.N += k.plus
		}
	default:
		v = p.Value(o, it)
	}
	if v.Kind == program.Undefined && v.Mixed && !(v.Apart && o.Word != "") || v.Kind == program.Bad {
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.LiteralUnknown())
		return
	}
	if v.Kind == program.Number {
		q := isa.Query{Have: p.current.Have, A32: p.current.Mode == isa.A}
		if rt := &it.Stmt.Ops[0]; !it.Stmt.Mnemonic.Vector() && rt.Kind == isa.OpReg && q.MovesLiteral(rt.Reg, uint32(v.N)) {
			return
		}
		// Assemblers compare numbers with the sign that they are written with.
		k.kind, k.value, k.local, k.signed = program.Number, v.N, 0, signed(p.OpText(it, 1))
	} else if k.local == 0 {
		k.kind, k.sym, k.value, k.named = program.Address, v.Symbol, v.N, p.Direct(o)
		if v.Symbol == nil || v.Kind == program.Bad || v.Kind == program.Unknown {
			// Nothing else can be known to be equal.
			k.kind, k.value = program.Unknown, int64(it.Index)
		} else if v.Kind == program.Address {
			k.value = v.N - v.Symbol.Value.N
		}
	}
	if i := p.gap(k); i >= 0 {
		p.Literals[i] = program.Literal{Value: v, Section: p.currentSection, Offset: -1, Users: 1, Item: -1, By: it.Index}
		it.Literal = i
		if _, ok := p.pools.byKey[k]; !ok {
			p.pools.byKey[k] = i
		}
		return
	}
	if i, ok := p.pools.byKey[k]; ok {
		it.Literal = i
		p.Literals[i].Users++
		return
	}
	it.Literal = p.newLiteral(it, v)
	p.pools.byKey[k] = it.Literal
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
	s, w := &p.Sections[sec], p.pools.of(sec)
	w.placed++
	if len(w.words) == 0 {
		return
	}
	before := s.Size
	align := int64(4)
	if w.doubles {
		align = 8
	}
	w.doubles, w.padded = false, false
	s.Size = (s.Size + align - 1) &^ (align - 1)
	s.Align = max(s.Align, align)
	start := s.Size
	for _, i := range w.words {
		p.Literals[i].Offset, p.Literals[i].Item = s.Size, at
		s.Size += 4
	}
	place := at
	if at < 0 {
		place = layout.SectionEnd - 1
	}
	p.AlignAt(sec, place, before, s.Size-before, align, 0, s.Size-start)
	if at >= 0 {
		p.Items[at].Size = s.Size - before
		p.Items[at].Flags |= program.HasPool
	} else {
		s.EndPool = before
	}
	w.words = w.words[:0]
}
