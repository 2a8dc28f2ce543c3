package syntax

import (
	"math"
	"strconv"
	"strings"

	"narrowgauge/isa"
)

// Operands of the floating-point and vector registers. A register by itself is
// an identifier like any other: only the instruction makes a register of it.

// float reads a floating-point constant, if one is at p.i: digits with a
// point or an exponent. It is rounded to single precision, as assemblers do.
func (p *parser) float(o *Operand) bool {
	s := p.s[p.i:]
	n, point := 0, false
	if n < len(s) && (s[n] == '-' || s[n] == '+') {
		n++
	}
	first := n
	for ; n < len(s) && (class[s[n]]&cDigit != 0 || s[n] == '.' && !point); n++ {
		point = point || s[n] == '.'
	}
	digits := n - first
	if point {
		digits--
	}
	if digits == 0 {
		return false
	}
	if n < len(s) && s[n]|0x20 == 'e' {
		e := n + 1
		if e < len(s) && (s[e] == '-' || s[e] == '+') {
			e++
		}
		if e == len(s) || class[s[e]]&cDigit == 0 {
			return false
		}
		for n = e; n < len(s) && class[s[n]]&cDigit != 0; n++ {
		}
	} else if !point {
		return false
	}
	if n < len(s) && class[s[n]]&cIdent != 0 {
		return false
	}
	f, err := strconv.ParseFloat(s[:n], 32)
	if err != nil {
		return false
	}
	p.i += n
	o.Kind, o.Known, o.Imm = isa.OpFloat, true, int64(math.Float32bits(float32(f)))
	return true
}

// floatLiteral reads a floating-point constant after '=': how many bits it has is
// said by the register, which may be an alias. Its text is in the expression.
func (p *parser) floatLiteral(o *Operand) bool {
	b := p.i
	var f Operand
	if !p.float(&f) {
		return false
	}
	text := p.newExpr()
	*text = Expr{Op: ExprColumns, Name: p.s[b:p.i], Start: int32(b), End: int32(p.i)}
	o.Kind = isa.OpLit
	o.setValue(p, p.columnNode("float", text, b))
	return true
}

// lane reads [1] or [] after a register.
func (p *parser) lane(o *Operand) bool {
	if !p.eat('[') {
		return false
	}
	if p.eat(']') {
		o.Vec.Lane = isa.AllLanes
		return true
	}
	if c := p.peek(); c == '#' || c == '$' && p.dialect != Columns {
		p.i++ // which assemblers ignore
	}
	o.Vec.Lane = isa.NoLane
	switch v := p.expr(1, 0); {
	case v.ok && !v.num:
		o.Expr = v.e
	case v.ok && v.n >= 0 && v.n < isa.NoLane-1:
		o.Vec.Lane = int8(v.n) + 1
	}
	return p.eat(']')
}

// laneOf is lane in a list, where nothing else begins so.
func (p *parser) laneOf(o *Operand) bool {
	b := p.i
	open := p.peek() == '['
	ok := p.lane(o)
	if open && !ok {
		p.fail(b, p.i, "this '[' has no ']'")
	}
	return ok
}

// lane notes an element of the list's last register that depends on symbols.
func (n *Names) lane(e *Expr) {
	if e != nil {
		n.Lanes = append(n.Lanes, make([]*Expr, len(n.List)-len(n.Lanes))...)
		n.Lanes[len(n.List)-1] = e
	}
}

func laneText(lane int8) string {
	switch {
	case lane == isa.AllLanes:
		return "[]"
	case lane == 0:
		return ""
	}
	return "[" + strconv.Itoa(int(lane)-1) + "]"
}

// alignment reads :128, as addresses of vector loads have it. One that is no number
// is not looked at any further.
func (p *parser) alignment(o *Operand) bool {
	if c := p.peek(); c != ':' && (c != '@' || p.dialect.commentMark()) {
		return false
	}
	save := p.i
	p.i++
	if c := p.peek(); class[c]&(cDigit|cStart) == 0 && c != '(' {
		p.i = save
		return false
	}
	keep := p.err
	v := p.expr(1, 0)
	switch {
	case !v.ok || p.peek() == ':': // :lower16:x
		p.i, p.err = save, keep
		return false
	case !v.num:
		o.Vec.Count = isa.SomeAlignment
	case v.n > 0 && v.n%8 == 0 && v.n < 8*isa.SomeAlignment:
		o.Vec.Count = uint8(v.n / 8)
	default:
		o.Vec.Count = 255 // no alignment
	}
	return true
}

// vectorList reads the rest of a list of vector registers, if one is after
// the brace. Names that .req may explain go through [Names].
func (p *parser) vectorList(o *Operand) bool {
	save := p.i
	p.skip()
	p.percent()
	w := p.ident()
	p.i = save
	if _, _, ok := isa.VectorReg(w); !ok {
		return false
	}
	var items [8]string
	found := Names{List: items[:0]}
	for {
		p.skip()
		p.percent()
		at := p.i
		w := p.ident()
		if w == "" {
			p.fail(at, at+1, "a register is expected here")
			return true
		}
		var lane Operand
		if p.laneOf(&lane) {
			w += laneText(lane.Vec.Lane)
		}
		found.List = append(found.List, w)
		found.lane(lane.Expr)
		if p.eat('-') {
			p.skip()
			p.percent()
			at := p.i
			e := p.ident()
			if e == "" {
				p.fail(at, at+1, "a register is expected here")
				return true
			}
			if lane = (Operand{}); p.laneOf(&lane) {
				e += laneText(lane.Vec.Lane)
			}
			found.List = append(found.List, "-"+e)
			found.lane(lane.Expr)
		}
		if p.eat(',') {
			continue
		}
		if at := p.i; !p.eat('}') {
			p.fail(at, at+1, "a comma or '}' is expected here")
			return true
		}
		break
	}
	open := len(found.Lanes) > 0
	if v, ok := isa.VectorList(found.List); ok && !open {
		o.Operand = v
		return true
	}
	o.Kind = isa.OpVList // of no registers that go together, or of some that have to be looked up
	for _, w := range found.List {
		_, _, ok := isa.VectorReg(strings.TrimLeft(w, "-"))
		open = open || !ok
	}
	if open {
		n := o.names()
		n.List, n.Lanes = append([]string(nil), found.List...), found.Lanes
	}
	return true
}
