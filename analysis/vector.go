package analysis

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// vectorAlias gives a register of floating point or vectors another name; to is
// the register, perhaps with a type and an element.
func (p *pass) vectorAlias(it *item, to string) bool {
	to = strings.ReplaceAll(strings.ReplaceAll(to, " ", ""), "\t", "")
	base, rest := to, ""
	if i := strings.IndexAny(to, ".["); i > 0 {
		base, rest = to[:i], to[i:]
	}
	if old, ok := p.vectorNamed(base); ok {
		to = old + rest
	}
	if _, _, ok := isa.VectorReg(to); !ok {
		return false
	}
	if p.vectors == nil {
		p.vectors = map[string]string{}
	}
	name := it.stmt.Name
	for _, n := range []string{name, strings.ToLower(name), strings.ToUpper(name)} {
		p.vectors[n] = to
	}
	y := p.symbol(name)
	if !y.defined {
		y.kind, y.item, y.at = SymRegister, it.id, p.nameLoc(it)
	}
	return true
}

// typedAlias handles .dn and .qn: "name .dn d3.s16[1]", or without a register
// a type for the name.
func (p *pass) typedAlias(it *item, l *syntax.Line) {
	_, to, _ := strings.Cut(l.Text[it.stmt.NameEnd:it.stmt.End], it.stmt.Dir.Name)
	if !p.vectorAlias(it, strings.TrimSpace(to)) {
		// A number, or a type for a register that another line names: the
		// name stands for some register.
		p.vectorAlias(it, it.stmt.Dir.Name[1:2]+strings.TrimSpace(to))
	}
}

// vectorOperand resolves an operand that stands for registers of floating point
// or vectors, in a statement about such; done is false when it is none.
func (p *evaluator) vectorOperand(it *item, o *syntax.Operand, d *isa.Operand) (done bool) {
	switch {
	case o.Kind == isa.OpVList && o.Names != nil, o.Kind == isa.OpList && o.Names != nil && o.List == 0:
		items := make([]string, len(o.Names.List))
		for i, w := range o.Names.List {
			if items[i], done = p.vectorWord(w); !done {
				return false
			}
			if i < len(o.Names.Lanes) && o.Names.Lanes[i] != nil {
				reg, _, _ := strings.Cut(items[i], "[")
				items[i] = fmt.Sprintf("%s[%d]", reg, p.lane(it, o.Names.Lanes[i])-1)
			}
		}
		v, ok := isa.VectorList(items)
		if !ok || o.WB {
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
	w, ok := p.vectorWord(o.Word)
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

// lane is that of an element whose number hangs on symbols, [isa.NoLane] where
// their values are not known or none.
func (p *evaluator) lane(it *item, e *syntax.Expr) int8 {
	if v := p.eval(&syntax.Operand{Operand: isa.Operand{Kind: isa.OpImm}, Expr: e}, it); v.kind == vAbs && v.n >= 0 && v.n < isa.NoLane-1 {
		return int8(v.n) + 1
	}
	return isa.NoLane
}

// vectorWord resolves a name with what may stand around it: "-" in front, a type
// and an element behind.
func (p *evaluator) vectorWord(w string) (string, bool) {
	name, dash := strings.CutPrefix(w, "-")
	base, rest := name, ""
	if i := strings.IndexAny(name, ".["); i > 0 {
		base, rest = name[:i], name[i:]
	}
	to, ok := p.vectorNamed(base)
	if !ok {
		if to, ok = p.vectorNamed(name); ok { // a name with a point in it
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

// vectorLiteral asks the pool for the literal of a load into a register of
// floating point: a word, or two at a multiple of 8. Constants that VMOV holds
// need none.
func (p *pass) vectorLiteral(it *item) {
	var d isa.Operand
	reg := &it.stmt.Ops[0]
	d = reg.Operand
	if !p.vectorOperand(it, reg, &d) {
		return
	}
	letter, _, _ := isa.VectorReg(d.Word)
	o := &it.stmt.Ops[1]
	v := p.eval(o, it)
	if v.kind == vAbs && isa.InlineVector(p.cur.have, v.n, letter == 'd') {
		return
	}
	if letter != 'd' {
		p.poolWord(it)
		return
	}
	if v.kind != vAbs {
		if v.kind != vUnknown {
			p.report(p.loc(it, o.Start, o.End), codeUndefined, "A literal of eight bytes is a number that is known here; no address has eight bytes.")
		}
		return
	}
	lo, hi := int64(uint32(v.n)), int64(uint32(v.n>>32))
	s := &p.secs[p.sec]
	is := func(at int, n int64) bool {
		l := &p.lits[s.pool[at]]
		return l.val.kind == vAbs && int64(uint32(l.val.n)) == n
	}
	for i := 0; i+1 < len(s.pool); i += 2 {
		if is(i, lo) && is(i+1, hi) {
			it.lit = s.pool[i]
			p.lits[it.lit].users++
			return
		}
	}
	if len(s.pool)%2 != 0 {
		p.newLiteral(it, value{kind: vAbs})
		p.lits[len(p.lits)-1].padding = true
		s.padded = true
	}
	s.doubles = true
	it.lit = p.newLiteral(it, value{kind: vAbs, n: lo})
	p.newLiteral(it, value{kind: vAbs, n: hi})
	for i, n := range []int64{lo, hi} {
		k := litKey{sec: p.sec, gen: s.gen, kind: vAbs, v: n}
		if _, ok := p.litBy[k]; !ok {
			p.litBy[k] = it.lit + int32(i)
		}
	}
}

// newLiteral adds a word to the section's pool.
func (p *pass) newLiteral(it *item, v value) int32 {
	i := int32(len(p.lits))
	p.lits = append(p.lits, literal{val: v, sec: p.sec, off: -1, users: 1, item: -1, by: it.id})
	p.secs[p.sec].pool = append(p.secs[p.sec].pool, i)
	return i
}

// gap is the first word of the pool that only keeps another at a multiple of 8,
// which the next word fills if none in front of it is equal; -1 without one.
func (p *pass) gap(k litKey) int32 {
	s := &p.secs[p.sec]
	if !s.padded {
		return -1
	}
	equal := int32(-1)
	if i, ok := p.litBy[k]; ok {
		equal = i
	}
	for _, i := range s.pool {
		if i == equal {
			return -1
		}
		if p.lits[i].padding {
			return i
		}
	}
	s.padded = false
	return -1
}

// refuseVector reports what is wrong with registers, elements, constants and
// types of floating point and vectors.
func (p *reporter) refuseVector(it *item, at place, name string, r isa.Refusal, rs []isa.Refusal, q *isa.Query) {
	switch r.Reason {
	case isa.NoD32:
		p.report(at, codeNotOnArch, fmt.Sprintf("d%d is not there: %s has the double registers d0–d15.", r.Reg, p.targetName(it)))
	case isa.NotNext:
		p.report(at, codeNoForm, fmt.Sprintf("%s takes two single registers one behind the other; s%d does not follow the one before.", name, r.Reg))
	case isa.BadLane:
		what := fmt.Sprint(r.Value)
		if r.Value == isa.NoLane-1 {
			what = "what stands in the brackets"
		}
		p.report(at, codeConstRange, fmt.Sprintf("%s takes the elements %s here; %s is none of them.", name, isa.Limits(r.Min, r.Max, 1), what))
	case isa.NoVFP8:
		bits := uint32(r.Value)
		if p.ops[r.Op].Kind != isa.OpFloat {
			bits = math.Float32bits(float32(r.Value))
		}
		x := math.Float32frombits(bits)
		below, above := isa.NearVFP(bits)
		near := ""
		switch {
		case math.IsInf(float64(below), 0), below < 0 && x > 0:
			near = isa.FloatText(above)
		case math.IsInf(float64(above), 0), x < 0 && above > 0:
			near = isa.FloatText(below)
		default:
			near = isa.FloatText(below) + " and " + isa.FloatText(above)
		}
		p.report(at, codeConstRange, fmt.Sprintf("%s takes ±n/16 × 2^r with n 16–31 and r −3 to 4; %s is no such number; nearest %s.", name, isa.FloatText(x), near))
	case isa.ListCount:
		var counts []int
		for _, x := range rs {
			if n, _ := x.Form.Structure(); x.Reason == isa.ListCount {
				counts = append(counts, n)
			}
		}
		slices.Sort(counts)
		p.report(at, codeRegList, fmt.Sprintf("%s takes %s double registers in this list, which has %d.", name, orText(slices.Compact(counts)), r.Value))
	case isa.ListGap:
		gaps := []string{1: "one behind the other", 2: "each second one"}
		_, gap := r.Form.Structure()
		p.report(at, codeRegList, fmt.Sprintf("%s takes the registers of this list %s, not %s.", name, gaps[gap], gaps[r.Value]))
	case isa.NoPoint:
		p.report(at, codeNoForm, name+" takes a constant of floating point here, which is written with a point.")
	case isa.NoVConst:
		what := "a constant of which each element has one byte that is not 0, may have ones below it, or is made of equal halves; or the inverse of such a constant"
		if bits, combined := r.Form.Constant(); combined {
			what = "a constant of which each element, or each half of it, has at most one byte that is not 0"
			if strings.HasPrefix(strings.ToLower(name), "va") || strings.HasPrefix(strings.ToLower(name), "vorn") {
				what = "the inverse of " + what
			}
		} else if bits == 64 {
			what = "a constant whose bytes are all 0 or 255, or which repeats a word"
		}
		p.report(at, codeConstRange, fmt.Sprintf("%s takes %s; %s is none.", name, what, p.opText(it, r.Op)))
	case isa.NoAlign:
		switch bits := r.Form.Alignments(); {
		case len(bits) == 0:
			p.report(at, codeConstRange, name+" has an address without alignment here.")
		case r.Value == 0:
			p.report(at, codeConstRange, fmt.Sprintf("%s has an address with an alignment of %s bits here.", name, orText(bits)))
		default:
			p.report(at, codeConstRange, fmt.Sprintf("%s takes an alignment of %s bits here, or none.", name, orText(bits)))
		}
	case isa.BadVList:
		if n, _ := r.Form.Structure(); n > 0 {
			p.report(at, codeRegList, name+" takes double registers in ascending order in a list, one behind the other or each second one, all with the same element or all without.")
			break
		}
		if r.Value > 16 {
			p.report(at, codeRegList, fmt.Sprintf("%s takes at most 16 double registers; here are %d.", name, r.Value))
			break
		}
		p.report(at, codeRegList, fmt.Sprintf("%s takes registers one behind the other in a list, %s.", name, listText(r.Form)))
	case isa.NoType:
		var forms []string
		for _, x := range rs {
			if s := x.Form.String(); !x.Form.Alias && len(forms) < 3 && p.envs[it.env].have.Has(x.Form.Row.Need) {
				forms = append(forms, s)
			}
		}
		if len(forms) == 0 {
			forms = append(forms, rs[0].Form.String())
		}
		p.report(p.nameLoc(it), codeNoForm, fmt.Sprintf("%s needs a type that fits its operands, written once on the name or on each register; there is %s.", name, strings.Join(forms, " and ")))
	}
}

// orText writes numbers as a choice: "1, 2 or 4".
func orText(list []int) string {
	t := ""
	for i, n := range list {
		switch {
		case i == 0:
		case i == len(list)-1:
			t += " or "
		default:
			t += ", "
		}
		t += strconv.Itoa(n)
	}
	return t
}
