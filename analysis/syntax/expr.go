package syntax

import (
	"math/big"
	"strconv"
)

// binary operators with their precedence, as assemblers of the dot dialect
// have it: * / % << >> before | & ^ ! before + - before comparisons before &&
// before ||.
func binary(s string, i int) (op ExprOp, prec, n int) {
	two := byte(0)
	if i+1 < len(s) {
		two = s[i+1]
	}
	switch s[i] {
	case '*':
		return ExprMul, 6, 1
	case '/':
		return ExprDiv, 6, 1
	case '%':
		return ExprMod, 6, 1
	case '<':
		switch two {
		case '<':
			return ExprShl, 6, 2
		case '>':
			return ExprNe, 3, 2
		case '=':
			return ExprLe, 3, 2
		}
		return ExprLt, 3, 1
	case '>':
		switch two {
		case '>':
			return ExprShr, 6, 2
		case '=':
			return ExprGe, 3, 2
		}
		return ExprGt, 3, 1
	case '|':
		if two == '|' {
			return ExprLOr, 1, 2
		}
		return ExprOr, 5, 1
	case '&':
		if two == '&' {
			return ExprLAnd, 2, 2
		}
		return ExprAnd, 5, 1
	case '^':
		return ExprXor, 5, 1
	case '!':
		if two == '=' {
			return ExprNe, 3, 2
		}
		if two == '!' {
			return ExprXor, 5, 2
		}
		return ExprOrNot, 5, 1
	case '+':
		return ExprAdd, 4, 1
	case '-':
		return ExprSub, 4, 1
	case '=':
		if two == '=' {
			return ExprEq, 3, 2
		}
	}
	return 0, 0, 0
}

// value is an expression while it is read: a number needs no node.
type value struct {
	num        bool
	none       bool // only a sign, or 0x without digits: nothing, which counts as 0 in places
	n          int64
	e          *Expr
	start, end int
	ok         bool
}

func (p *parser) node(v value) *Expr {
	if !v.num {
		return v.e
	}
	e := p.newExpr()
	*e = Expr{Op: ExprNum, Val: v.n, Start: int32(v.start), End: int32(v.end)}
	return e
}

const maxDepth = 200

// expr reads an expression whose operators bind at least as tight as prec.
func (p *parser) expr(prec, depth int) value {
	if p.dialect == Columns {
		return p.columnExpr(prec, depth)
	}
	x := p.unary(depth)
	if !x.ok {
		return x
	}
	for !p.atEnd() {
		op, pr, n := binary(p.s, p.i)
		if n == 0 || pr < prec {
			break
		}
		at := p.i
		p.i += n
		if c := p.peek(); c == 0 || c == ',' {
			if op == ExprOrNot && !p.inArgs { // a mark of writeback
				p.i = at
				break
			}
			p.mild(p.i-n, p.i, "a value is missing after the operator; assemblers take 0")
		}
		y := value{num: true, start: p.i, end: p.i, ok: true}
		if c := p.peek(); c != 0 && c != ',' {
			y = p.expr(pr+1, depth+1)
		}
		if !y.ok {
			return y
		}
		x.none = false
		if x.num && y.num && !(op == ExprShl || op == ExprShr) || x.num && y.num && y.n >= 0 && y.n < 64 {
			if v, ok := Fold(op, x.n, y.n); ok {
				x.n, x.end = v, y.end
				continue
			}
		}
		e := p.newExpr()
		*e = Expr{Op: op, X: p.node(x), Y: p.node(y), Start: int32(x.start), End: int32(y.end)}
		x = value{e: e, start: x.start, end: y.end, ok: true}
	}
	return x
}

// Fold computes a binary operator on 64-bit values. ok is false for a
// division by zero.
func Fold(op ExprOp, x, y int64) (v int64, ok bool) {
	truth := func(b bool) int64 {
		if b {
			return -1
		}
		return 0
	}
	switch op {
	case ExprMul:
		return x * y, true
	case ExprDiv, ExprMod:
		if y == 0 || x == -1<<63 && y == -1 {
			return 0, false
		}
		if op == ExprDiv {
			return x / y, true
		}
		return x % y, true
	case ExprShl:
		if y < 0 || y > 63 {
			return 0, true
		}
		return x << y, true
	case ExprShr:
		if y < 0 || y > 63 {
			return 0, true
		}
		return int64(uint64(x) >> y), true
	case ExprOr:
		return x | y, true
	case ExprAnd:
		return x & y, true
	case ExprXor:
		return x ^ y, true
	case ExprOrNot:
		return x | ^y, true
	case ExprAdd:
		return x + y, true
	case ExprSub:
		return x - y, true
	case ExprEq:
		return truth(x == y), true
	case ExprNe:
		return truth(x != y), true
	case ExprLt:
		return truth(x < y), true
	case ExprLe:
		return truth(x <= y), true
	case ExprGt:
		return truth(x > y), true
	case ExprGe:
		return truth(x >= y), true
	case ExprLAnd:
		if x != 0 && y != 0 {
			return 1, true
		}
		return 0, true
	case ExprLOr:
		if x != 0 || y != 0 {
			return 1, true
		}
		return 0, true
	}
	return 0, false
}

// unary reads a value with the operators in front of it.
func (p *parser) unary(depth int) value {
	c := p.peek()
	b := p.i
	if depth > maxDepth {
		p.fail(b, b+1, "the expression is nested too deep")
		return value{}
	}
	switch c {
	case '-', '~', '!', '+':
		return p.sign(c, depth)
	case '(', '[':
		return p.group(c, depth)
	case ':':
		return p.relocation(depth)
	case '\'':
		if p.dialect == Modules {
			if x, ok := p.moduleChars(); ok {
				return x
			}
		}
		return p.char()
	case '"':
		return p.symbol(p.stringLit(), b) // a quoted symbol name
	}
	if p.dialect == Modules {
		if x, ok := p.moduleQuoted(); ok {
			return x
		}
	}
	if c >= '0' && c <= '9' {
		if p.dialect == Modules {
			if x, ok := p.moduleNumber(); ok {
				return x
			}
		}
		return p.number()
	}
	if c != 0 && p.starts(c) {
		if x, ok := p.sectionEnd(); ok {
			return x
		}
		x := p.symbol(p.ident(), b)
		if x.e.Name == "." {
			x.e.Op = ExprDot
		}
		return p.inner(x)
	}
	switch c {
	case 0:
		p.fail(max(b-1, 0), b, "a value is missing here")
	case '\\':
		p.fail(b, b+1, "there is no parameter of a macro with this name here")
	default:
		p.fail(b, b+1, "a value cannot start with this character")
	}
	return value{}
}

// symbol makes a node of a symbol's name, which has been read from b on.
func (p *parser) symbol(name string, b int) value {
	e := p.newExpr()
	*e = Expr{Op: ExprSym, Name: name, Start: int32(b), End: int32(p.i)}
	return value{e: e, start: b, end: p.i, ok: true}
}

// sign reads an operator c on one value, and the value.
func (p *parser) sign(c byte, depth int) value {
	b := p.i
	p.i++
	if t := p.peek(); t == 0 || t == ',' {
		return value{num: true, none: true, start: b, end: p.i, ok: true}
	}
	x := p.unary(depth + 1)
	if !x.ok || c == '+' {
		return x
	}
	x.start = b
	switch {
	case x.none:
	case x.num && c == '-':
		x.n = -x.n
	case x.num && c == '~':
		x.n = ^x.n
	case x.num && x.n == 0:
		x.n = 1
	case x.num:
		x.n = 0
	default:
		e := p.newExpr()
		*e = Expr{Op: map[byte]ExprOp{'-': ExprNeg, '~': ExprNot, '!': ExprLNot}[c], X: x.e, Start: int32(b), End: int32(x.end)}
		x.e = e
	}
	return x
}

// group reads an expression in parentheses or brackets, which c opens.
func (p *parser) group(c byte, depth int) value {
	b, end := p.i, byte(')')
	if c == '[' {
		end = ']'
	}
	p.i++
	relocs := p.relocs
	p.relocs = false
	x := p.expr(1, depth+1)
	p.relocs = relocs
	if !x.ok {
		return x
	}
	if !p.eat(end) {
		p.fail(b, b+1, "this '"+string(c)+"' has no '"+string(end)+"'")
		return value{}
	}
	x.start, x.end, x.none = b, p.i, false
	return p.inner(x)
}

// relocation reads :lower16:expression and the like, which an instruction's operand begins
// with.
func (p *parser) relocation(depth int) value {
	b := p.i
	if p.inArgs || depth > 0 {
		p.fail(b, b+1, "a relocation operator applies only to the whole constant of an instruction")
		return value{}
	}
	p.i++
	p.skip()
	name := p.ident()
	if name == "" || !p.eat(':') {
		p.fail(b, p.i, "a relocation operator is written as :name:")
		return value{}
	}
	hash := p.eat('#') // as compilers write it
	x := p.expr(1, depth+1)
	if !x.ok {
		return x
	}
	e := p.newExpr()
	*e = Expr{Op: ExprReloc, Name: name, X: p.node(x), Hash: hash, Start: int32(b), End: int32(x.end)}
	return value{e: e, start: b, end: x.end, ok: true}
}

// inner is suffix where data have it inside of an expression too.
func (p *parser) inner(x value) value {
	if p.relocs {
		return p.suffix(x)
	}
	return x
}

// suffix reads a relocation after a symbol, as in label(GOT). Blanks do not
// count.
func (p *parser) suffix(x value) value {
	b := p.i
	p.blanks()
	if x.num || p.i >= len(p.s) || p.s[p.i] != '(' {
		p.i = b
		return x
	}
	p.i++
	p.blanks()
	name := p.ident()
	p.blanks()
	if name == "" || p.i >= len(p.s) || p.s[p.i] != ')' {
		p.i = b
		return x
	}
	p.i++
	e := p.newExpr()
	*e = Expr{Op: ExprReloc, Back: true, Name: name, X: x.e, Start: int32(x.start), End: int32(p.i)}
	return value{e: e, start: x.start, end: p.i, ok: true}
}

// blanks passes blanks only.
func (p *parser) blanks() {
	for p.i < len(p.s) && class[p.s[p.i]]&cSpace != 0 {
		p.i++
	}
}

// char reads 'c or 'c', escapes included.
func (p *parser) char() value {
	b := p.i
	p.i++
	if p.i >= len(p.s) {
		p.fail(b, p.i, "a character is missing after the quote")
		return value{}
	}
	v := int64(p.s[p.i])
	p.i++
	if v == '\\' && p.i < len(p.s) {
		c, n := escape(p.s[p.i:])
		v = int64(c)
		p.i += n
	}
	if p.i < len(p.s) && p.s[p.i] == '\'' {
		p.i++
	}
	return value{num: true, n: v, start: b, end: p.i, ok: true}
}

// maxDigits bounds a number, whose value is computed from all its digits.
const maxDigits = 10_000

// number reads 0x…, 0b…, octal, decimal, and the references 1f and 1b to
// numeric local labels.
func (p *parser) number() value {
	b := p.i
	s := p.s
	base := uint64(10)
	i := b
	if s[i] == '0' && i+1 < len(s) {
		switch c := s[i+1] | 0x20; {
		case c == 'x':
			base, i = 16, i+2
		case c == 'b' && i+2 < len(s) && (s[i+2] == '0' || s[i+2] == '1'):
			base, i = 2, i+2
		case s[i+1] >= '0' && s[i+1] <= '9':
			base, i = 8, i+1
		}
	}
	digits := i
	var v uint64
	over := false
	for ; i < len(s); i++ {
		d := hexDigit(s[i])
		if d < 0 || uint64(d) >= base {
			break
		}
		if v > (1<<64-1-uint64(d))/base {
			over = true
		}
		v = v*base + uint64(d)
	}
	// A local label; its number may be octal or binary as well.
	if base != 16 && i > digits && i < len(s) && (s[i] == 'f' || s[i] == 'b') && (i+1 == len(s) || class[s[i+1]]&cIdent == 0) {
		p.i = i + 1
		e := p.newExpr()
		*e = Expr{Op: ExprLocal, Val: int64(v), Back: s[i] == 'b', Start: int32(b), End: int32(p.i)}
		return value{e: e, start: b, end: p.i, ok: true}
	}
	if i > digits && i < len(s) && s[i] == '$' && v < maxDollar && !over && p.dialect == Dots && (i+1 == len(s) || class[s[i+1]]&cIdent == 0) {
		p.i = i + 1
		e := p.newExpr()
		*e = Expr{Op: ExprLocal, Val: int64(v) | DollarLabel, Start: int32(b), End: int32(p.i)}
		return value{e: e, start: b, end: p.i, ok: true}
	}
	p.i = i
	if i < len(s) && class[s[i]]&cIdent != 0 || i == digits {
		for p.i < len(s) && class[s[p.i]]&cIdent != 0 {
			p.i++
		}
		if p.i == digits && base == 16 {
			return value{num: true, none: true, start: b, end: p.i, ok: true}
		}
		p.fail(b, p.i, "this is not a number: "+s[b:p.i])
		return value{}
	}
	if i-digits > maxDigits {
		p.fail(b, p.i, "a number has at most "+strconv.Itoa(maxDigits)+" digits")
		return value{}
	}
	if over {
		n, _ := new(big.Int).SetString(s[digits:i], int(base))
		e := p.newExpr()
		*e = Expr{Op: ExprBig, Val: int64(n.BitLen()), Name: s[b:i], Start: int32(b), End: int32(i)}
		return value{e: e, start: b, end: i, ok: true}
	}
	return value{num: true, n: int64(v), start: b, end: p.i, ok: true}
}
