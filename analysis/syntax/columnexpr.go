package syntax

import (
	"strings"

	"narrowgauge/isa"
)

// Expressions of the column dialect. Numbers have 32 bits there, so that
// shifts and comparisons take them without sign; truth is -1 and 0.

// columnBinary is the operator at p.i, its precedence and its length: from
// tight to loose * / MOD, string operators, shifts, + - and the bit operators,
// comparisons, logical operators.
func (p *parser) columnBinary() (op string, prec, n int) {
	s := p.s[p.i:]
	two := byte(0)
	if len(s) > 1 {
		two = s[1]
	}
	switch s[0] {
	case '*':
		return "*", 6, 1
	case '/':
		if two == '=' {
			return "<>", 2, 2
		}
		return "/", 6, 1
	case '%':
		return "MOD", 6, 1
	case '+':
		return "+", 3, 1
	case '-':
		return "-", 3, 1
	case '&':
		if two == '&' {
			return "LAND", 1, 2
		}
		return "AND", 3, 1
	case '|':
		if two == '|' {
			return "LOR", 1, 2
		}
		return "OR", 3, 1
	case '^':
		return "EOR", 3, 1
	case '=':
		if two == '=' {
			return "=", 2, 2
		}
		return "=", 2, 1
	case '!':
		if two == '=' {
			return "<>", 2, 2
		}
	case '<':
		switch two {
		case '<':
			return "SHL", 4, 2
		case '=':
			return "<=", 2, 2
		case '>':
			return "<>", 2, 2
		}
		return "<", 2, 1
	case '>':
		switch two {
		case '>':
			return "SHR", 4, 2
		case '=':
			return ">=", 2, 2
		}
		return ">", 2, 1
	case ':':
		e := strings.IndexByte(s[1:], ':')
		if e < 2 || e > 5 {
			return
		}
		w := strings.ToUpper(s[1 : e+1])
		switch w {
		case "MOD":
			prec = 6
		case "CC", "LEFT", "RIGHT":
			prec = 5
		case "SHL", "SHR", "ROL", "ROR":
			prec = 4
		case "AND", "OR", "EOR":
			prec = 3
		case "LAND", "LOR", "LEOR":
			prec = 1
		default:
			return
		}
		return w, prec, e + 2
	}
	return
}

// columnExprOps are the operators that both dialects have.
var columnExprOps = map[string]ExprOp{"*": ExprMul, "/": ExprDiv, "+": ExprAdd, "-": ExprSub, "AND": ExprAnd, "OR": ExprOr, "EOR": ExprXor}

// columnExpr reads an expression whose operators bind at least as tight as prec.
func (p *parser) columnExpr(prec, depth int) value {
	x := p.columnUnary(depth)
	if !x.ok {
		return x
	}
	for !p.atEnd() {
		op, pr, n := p.columnBinary()
		if n == 0 || pr < prec {
			break
		}
		at := p.i
		p.i += n
		if c := p.peek(); c == 0 || c == ',' || c == ']' || c == '}' {
			if op == "LOR" || op == "OR" || op == "EOR" {
				p.i = at
				break
			}
			p.fail(at, at+n, "a value is missing after the operator")
			return value{}
		}
		y := p.columnExpr(pr+1, depth+1)
		if !y.ok {
			return y
		}
		if x.num && y.num {
			if v, ok := FoldColumns(op, x.n, y.n); ok {
				x.n, x.end = v, y.end
				continue
			}
		}
		e := p.newExpr()
		*e = Expr{Op: ExprColumns, Name: op, X: p.node(x), Y: p.node(y), Start: int32(x.start), End: int32(y.end)}
		if o, ok := columnExprOps[op]; ok {
			e.Op, e.Name = o, ""
		}
		x = value{e: e, start: x.start, end: y.end, ok: true}
	}
	return x
}

// FoldColumns computes a binary operator of the column dialect on numbers. ok
// is false for a division by zero and for operators on strings.
func FoldColumns(op string, x, y int64) (v int64, ok bool) {
	if o, ok := columnExprOps[op]; ok {
		return Fold(o, x, y)
	}
	truth := func(b bool) (int64, bool) {
		if b {
			return -1, true
		}
		return 0, true
	}
	// Numbers of 32 bits, if they are such.
	u := func(n int64) uint64 {
		if n < 0 && n >= -1<<31 {
			n = int64(uint32(n))
		}
		return uint64(n)
	}
	switch op {
	case "MOD":
		return Fold(ExprMod, x, y)
	case "SHL":
		if y < 0 || y > 63 {
			return 0, true
		}
		if z := u(x); z <= 1<<32-1 {
			if y > 31 {
				return 0, true
			}
			return int64(uint32(z) << y), true
		}
		return x << y, true
	case "SHR":
		if y < 0 || y > 63 {
			return 0, true
		}
		return int64(u(x) >> y), true
	case "ROL", "ROR":
		if op == "ROL" {
			y = -y
		}
		y &= 31
		return int64(uint32(x)>>y | uint32(x)<<(32-y)), true
	case "=":
		return truth(u(x) == u(y))
	case "<>":
		return truth(u(x) != u(y))
	case "<":
		return truth(u(x) < u(y))
	case "<=":
		return truth(u(x) <= u(y))
	case ">":
		return truth(u(x) > u(y))
	case ">=":
		return truth(u(x) >= u(y))
	case "LAND":
		return truth(x != 0 && y != 0)
	case "LOR":
		return truth(x != 0 || y != 0)
	case "LEOR":
		return truth((x != 0) != (y != 0))
	}
	return 0, false
}

// columnNode makes a node of an operator that only this dialect has.
func (p *parser) columnNode(name string, x *Expr, b int) value {
	e := p.newExpr()
	*e = Expr{Op: ExprColumns, Name: name, X: x, Start: int32(b), End: int32(p.i)}
	return value{e: e, start: b, end: p.i, ok: true}
}

// columnUnary reads a value with the operators in front of it.
func (p *parser) columnUnary(depth int) value {
	c := p.peek()
	b := p.i
	if depth > maxDepth {
		p.fail(b, b+1, "the expression is nested too deep")
		return value{}
	}
	switch c {
	case 0:
		p.fail(max(b-1, 0), b, "a value is missing here")
		return value{}
	case '-', '+', '~', '!':
		return p.columnSign(c, depth)
	case '(':
		return p.columnGroup(depth)
	case '\'':
		return p.char()
	case '"':
		v := p.columnString()
		if p.err != nil {
			return value{}
		}
		text := p.newExpr()
		*text = Expr{Op: ExprColumns, Name: v, Start: int32(b), End: int32(p.i)}
		return p.columnNode("str", text, b)
	case '@':
		p.i++
		return p.columnNode("{VAR}", nil, b)
	case '?':
		p.i++
		if p.name() == "" {
			p.fail(b, b+1, "a symbol's name is missing here")
			return value{}
		}
		return p.columnNode("?", nil, b)
	case '{':
		return p.columnBuiltin()
	case ':':
		return p.columnOperator(depth)
	case '&':
		if b+1 < len(p.s) && hexDigit(p.s[b+1]) >= 0 {
			p.i++
			return p.columnDigits(b, 16)
		}
	case '%':
		return p.columnLocal()
	case '|':
		if w := p.name(); w != "" {
			return p.symbol(w, b)
		}
	}
	if c >= '0' && c <= '9' {
		return p.columnNumber()
	}
	if class[c]&cStart != 0 {
		name := p.ident()
		x := p.symbol(name, b)
		if name == "." {
			x.e.Op = ExprDot
		}
		return x
	}
	p.fail(b, b+1, "a value cannot start with this character")
	return value{}
}

// columnSign reads a sign, or one of the characters for :NOT: and :LNOT:, and what it is
// in front of.
func (p *parser) columnSign(c byte, depth int) value {
	b := p.i
	p.i++
	x := p.columnUnary(depth + 1)
	switch {
	case !x.ok || c == '+':
		return x
	case c == '~':
		return p.columnNot("NOT", x, b)
	case c == '!':
		return p.columnNot("LNOT", x, b)
	}
	x.start = b
	if x.num {
		x.n = -x.n
		return x
	}
	e := p.newExpr()
	*e = Expr{Op: ExprNeg, X: x.e, Start: int32(b), End: int32(x.end)}
	x.e = e
	return x
}

// columnGroup reads an expression in parentheses.
func (p *parser) columnGroup(depth int) value {
	b := p.i
	p.i++
	x := p.columnExpr(1, depth+1)
	if !x.ok {
		return x
	}
	if !p.eat(')') {
		p.fail(b, b+1, "this '(' has no ')'")
		return value{}
	}
	x.start, x.end = b, p.i
	return x
}

// columnBuiltin reads a built-in variable such as {TRUE} or {PC}.
func (p *parser) columnBuiltin() value {
	b := p.i
	e := strings.IndexByte(p.s[b:], '}')
	if e < 2 {
		p.fail(b, b+1, "this '{' has no '}'")
		return value{}
	}
	p.i = b + e + 1
	switch name := strings.ToUpper(p.s[b:p.i]); name {
	case "{TRUE}":
		return value{num: true, n: -1, start: b, end: p.i, ok: true}
	case "{FALSE}":
		return value{num: true, start: b, end: p.i, ok: true}
	case "{PC}":
		x := p.columnNode("", nil, b)
		x.e.Op = ExprDot
		return x
	default:
		return p.columnNode(name, nil, b)
	}
}

// columnOperator reads an operator between colons and what it is in front of.
func (p *parser) columnOperator(depth int) value {
	b := p.i
	e := strings.IndexByte(p.s[b+1:], ':')
	if e < 1 {
		p.fail(b, b+1, "an operator is written as :NAME:")
		return value{}
	}
	name := strings.ToUpper(p.s[b+1 : b+1+e])
	p.i = b + e + 2
	if name == "DEF" {
		return p.columnDefined(b)
	}
	x := p.columnUnary(depth + 1)
	if !x.ok {
		return x
	}
	switch name {
	case "NOT", "LNOT":
		return p.columnNot(name, x, b)
	case "LOWER16", "UPPER16":
		if x.num {
			if name == "UPPER16" {
				x.n >>= 16
			}
			x.n &= 0xffff
			return x
		}
		e := p.newExpr()
		*e = Expr{Op: ExprReloc, Name: strings.ToLower(name), X: p.node(x), Start: int32(b), End: int32(x.end)}
		return value{e: e, start: b, end: x.end, ok: true}
	}
	return p.columnNode(name, p.node(x), b)
}

// columnDefined reads the name that a :DEF: at b asks about: a symbol's, or that of a
// built-in variable.
func (p *parser) columnDefined(b int) value {
	p.skip()
	at := p.i
	w := p.name()
	if w == "" && p.i < len(p.s) && p.s[p.i] == '{' {
		if e := strings.IndexByte(p.s[p.i:], '}'); e > 0 {
			w = strings.ToUpper(p.s[p.i : p.i+e+1])
			p.i += e + 1
		}
	}
	if w == "" {
		p.fail(at, at+1, "a symbol's name is missing here")
		return value{}
	}
	return p.columnNode("DEF", p.symbol(w, at).e, b)
}

// builtin says whether {PC} or one like it is here, and no list of
// registers.
func (p *parser) builtin() bool {
	e := strings.IndexByte(p.s[p.i:], '}')
	if e < 2 {
		return false
	}
	w := p.s[p.i+1 : p.i+e]
	for i := 0; i < len(w); i++ {
		if class[w[i]]&cIdent == 0 && w[i] != '|' {
			return false
		}
	}
	if _, isReg := isa.RegByName(strings.ToLower(w)); isReg {
		// {pc} is a list, unless a number is added to it.
		rest := strings.TrimLeft(p.s[p.i+e+1:], " \t")
		if !strings.EqualFold(w, "pc") {
			return false
		}
		if rest != "" && (rest[0] == '+' || rest[0] == '-') || p.mnemonic == nil {
			return true
		}
		return p.mnemonic.Label()
	}
	_, _, isVec := isa.VectorReg(strings.ToLower(w))
	return !isVec && (strings.ToUpper(w) == w || w[0] == '|' || strings.EqualFold(w, "pc") || strings.EqualFold(w, "var"))
}

func (p *parser) columnNot(name string, x value, b int) value {
	x.start = b
	if x.num {
		if name == "NOT" {
			x.n = ^x.n
		} else if x.n == 0 {
			x.n = -1
		} else {
			x.n = 0
		}
		return x
	}
	if name == "NOT" {
		e := p.newExpr()
		*e = Expr{Op: ExprNot, X: x.e, Start: int32(b), End: int32(x.end)}
		x.e = e
		return x
	}
	return p.columnNode(name, x.e, b)
}

// columnLocal reads a reference to a numeric local label: %, perhaps a
// direction (b, f) and a level of macros (a, t), the number, perhaps the name
// of a scope, which is after a colon in the expression's name.
func (p *parser) columnLocal() value {
	b := p.i
	p.i++
	mode, back := "%", false
	for p.i < len(p.s) {
		switch p.s[p.i] | 0x20 {
		case 'b':
			back = true
		case 'f':
			mode += "f"
		case 'a', 't':
			mode += string(p.s[p.i] | 0x20)
		default:
			goto number
		}
		if p.i++; len(mode) > 3 {
			break
		}
	}
number:
	at := p.i
	n := int64(0)
	for p.i < len(p.s) && class[p.s[p.i]]&cDigit != 0 && n < 1<<24 {
		n = n*10 + int64(p.s[p.i]-'0')
		p.i++
	}
	if p.i == at {
		p.fail(b, max(p.i, b+1), "the number of a local label is missing")
		return value{}
	}
	if scope := p.ident(); scope != "" {
		mode += ":" + scope
	}
	e := p.newExpr()
	*e = Expr{Op: ExprLocal, Name: mode, Val: n, Back: back, Start: int32(b), End: int32(p.i)}
	return value{e: e, start: b, end: p.i, ok: true}
}

// columnNumber reads 0x…, decimal numbers, and those that begin with their
// base: 2_1010.
func (p *parser) columnNumber() value {
	b, s := p.i, p.s
	if s[b] == '0' && b+2 < len(s) && s[b+1]|0x20 == 'x' && hexDigit(s[b+2]) >= 0 {
		p.i += 2
		return p.columnDigits(b, 16)
	}
	if b+2 < len(s) && s[b] >= '2' && s[b+1] == '_' {
		p.i += 2
		return p.columnDigits(b, uint64(s[b]-'0'))
	}
	return p.columnDigits(b, 10)
}

// columnDigits reads the digits of a number that begins at b.
func (p *parser) columnDigits(b int, base uint64) value {
	digits, v, over := p.i, uint64(0), false
	for p.i < len(p.s) {
		d := hexDigit(p.s[p.i])
		if d < 0 || uint64(d) >= base {
			break
		}
		over = over || v > (1<<64-1-uint64(d))/base
		v = v*base + uint64(d)
		p.i++
	}
	if p.i == digits || p.i < len(p.s) && class[p.s[p.i]]&cIdent != 0 {
		for p.i < len(p.s) && class[p.s[p.i]]&cIdent != 0 {
			p.i++
		}
		p.fail(b, p.i, "this is not a number: "+p.s[b:p.i])
		return value{}
	}
	if over {
		p.fail(b, p.i, "the number does not fit into 64 bits")
		return value{}
	}
	return value{num: true, n: int64(v), start: b, end: p.i, ok: true}
}
