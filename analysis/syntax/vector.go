package syntax

import (
	"math"
	"strconv"
	"strings"

	"narrowgauge/isa"
)

// Operands of the floating-point and vector registers. A register by itself is
// an identifier like any other: only the instruction makes a register of it.

// float reads a floating-point constant, if one stands at p.i: digits with a
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

// floatLiteral reads a floating-point constant behind '=': how many bits it has is
// said by the register, which may be an alias. Its text stands in the expression.
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

// lane reads [1] or [] behind a register.
func (p *parser) lane(o *Operand) bool {
	if !p.eat('[') {
		return false
	}
	if p.eat(']') {
		o.Vec.Lane = isa.AllLanes
		return true
	}
	if v := p.expr(1, 0); !v.ok || !v.num || v.n < 0 || v.n > 126 {
		o.Vec.Lane = 127 // none that exists
	} else {
		o.Vec.Lane = int8(v.n) + 1
	}
	return p.eat(']')
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
	if c := p.peek(); c != ':' && (c != '@' || p.dialect != Columns) {
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

// vectorList reads the rest of a list of vector registers, if one stands behind
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
	list := items[:0]
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
		if p.lane(&lane) {
			w += laneText(lane.Vec.Lane)
		}
		list = append(list, w)
		if p.eat('-') {
			p.skip()
			p.percent()
			at := p.i
			e := p.ident()
			if e == "" {
				p.fail(at, at+1, "a register is expected here")
				return true
			}
			if p.lane(&lane) {
				e += laneText(lane.Vec.Lane)
			}
			list = append(list, "-"+e)
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
	if v, ok := isa.VectorList(list); ok {
		o.Operand = v
		return true
	}
	o.Kind = isa.OpVList // of no registers that go together
	for _, w := range list {
		if _, _, ok := isa.VectorReg(strings.TrimLeft(w, "-")); !ok {
			o.names().List = append([]string(nil), list...)
			break
		}
	}
	return true
}
