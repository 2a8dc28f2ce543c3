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

// vectorAlias gives a register of floating point or vectors another name; to is
// the register, perhaps with a type and an element.
func (p *pass) vectorAlias(it *program.Item, to string) bool {
	to = strings.ReplaceAll(strings.ReplaceAll(to, " ", ""), "\t", "")
	base, rest := to, ""
	if i := strings.IndexAny(to, ".["); i > 0 {
		base, rest = to[:i], to[i:]
	}
	if old, ok := p.VectorNamed(base); ok {
		to = old + rest
	}
	if _, _, ok := isa.VectorReg(to); !ok {
		return false
	}
	name := it.Stmt.Name
	p.named(name, func(r *program.Register) { r.Vector = to })
	y := p.Symbol(name)
	if !y.Defined {
		y.Kind, y.Item, y.Columns = program.SymRegister, it.Index, nameColumns(it)
	}
	return true
}

// typedAlias handles .dn and .qn: "name .dn d3.s16[1]", or without a register
// a type for the name.
func (p *pass) typedAlias(it *program.Item, l *syntax.Line) {
	_, to, _ := strings.Cut(l.Text[it.Stmt.NameEnd:it.Stmt.End], it.Stmt.Directive.Name)
	if !p.vectorAlias(it, strings.TrimSpace(to)) {
		// A number, or a type for a register that another line names: the
		// name means some register.
		p.vectorAlias(it, it.Stmt.Directive.Name[1:2]+strings.TrimSpace(to))
	}
}

// vectorLiteral asks the pool for the literal of a load into a register of
// floating point: a word, or two at a multiple of 8. Constants that VMOV holds
// need none.
func (p *pass) vectorLiteral(it *program.Item) {
	var d isa.Operand
	reg := &it.Stmt.Ops[0]
	d = reg.Operand
	if !p.VectorOperand(it, reg, &d) {
		return
	}
	letter, _, _ := isa.VectorReg(d.Word)
	o := &it.Stmt.Ops[1]
	v := p.Value(o, it)
	if v.Kind == program.Number && isa.InlineVector(p.current.Have, v.N, letter == 'd') {
		return
	}
	if letter != 'd' {
		p.poolWord(it)
		return
	}
	if v.Kind != program.Number {
		if v.Kind != program.Unknown {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.Literal8Number())
		}
		return
	}
	lo, hi := int64(uint32(v.N)), int64(uint32(v.N>>32))
	s := p.pools.of(p.currentSection)
	is := func(at int, n int64) bool {
		l := &p.Literals[s.words[at]]
		return l.Value.Kind == program.Number && int64(uint32(l.Value.N)) == n
	}
	for i := 0; i+1 < len(s.words); i += 2 {
		if is(i, lo) && is(i+1, hi) {
			it.Literal = s.words[i]
			p.Literals[it.Literal].Users++
			return
		}
	}
	if len(s.words)%2 != 0 {
		p.newLiteral(it, program.Value{Kind: program.Number})
		p.Literals[len(p.Literals)-1].Padding = true
		s.padded = true
	}
	s.doubles = true
	it.Literal = p.newLiteral(it, program.Value{Kind: program.Number, N: lo})
	p.newLiteral(it, program.Value{Kind: program.Number, N: hi})
	for i, n := range []int64{lo, hi} {
		k := literalKey{section: p.currentSection, pool: s.placed, kind: program.Number, value: n}
		if _, ok := p.pools.byKey[k]; !ok {
			p.pools.byKey[k] = it.Literal + int32(i)
		}
	}
}

// newLiteral adds a word to the section's pool.
func (p *pass) newLiteral(it *program.Item, v program.Value) int32 {
	i := int32(len(p.Literals))
	p.Literals = append(layout.Room(p.Literals), program.Literal{Value: v, Section: p.currentSection, Offset: -1, Users: 1, Item: -1, By: it.Index})
	w := p.pools.of(p.currentSection)
	w.words = append(w.words, i)
	return i
}

// gap is the first word of the pool that only keeps another at a multiple of 8,
// which the next word fills if none in front of it is equal; -1 without one.
func (p *pass) gap(k literalKey) int32 {
	s := p.pools.of(p.currentSection)
	if !s.padded {
		return -1
	}
	equal := int32(-1)
	if i, ok := p.pools.byKey[k]; ok {
		equal = i
	}
	for _, i := range s.words {
		if i == equal {
			return -1
		}
		if p.Literals[i].Padding {
			return i
		}
	}
	s.padded = false
	return -1
}
