package preprocess

import "strings"

// value is what an expression of #if has: a number of 64 bits (6.10.1).
type value struct {
	v        uint64
	unsigned bool
}

func (v value) zero() bool { return v.v == 0 }

func truth(b bool) value {
	if b {
		return value{v: 1}
	}
	return value{}
}

// evaluator reads the expression of an #if.
type evaluator struct {
	f        *file
	expander *expander
	word     *token
	token    *token // the next token
	bad      bool
	deep     int
}

// condition is the value of the expression after #if or #elif; false when it
// cannot be read.
func (f *file) condition(word *token, rest []*token) bool {
	if len(rest) == 0 {
		f.problem(word.off, word.end, BadCondition, "an expression is missing after #"+word.text)
		return false
	}
	e := f.run.expander(f)
	defer f.run.free(e)
	defer e.clear()
	e.base, e.fixed, e.directive = rest, true, true
	x := &evaluator{f: f, expander: e, word: word}
	x.next()
	if x.token.kind == kEOF && !e.dead {
		x.fail("there is no expression once the macros are replaced")
		return false
	}
	v := x.comma(false)
	if !x.bad && x.token.kind != kEOF {
		switch {
		case x.token.text == ")" && x.token.kind == kPunct:
			x.fail("this ')' has no '('")
		case x.token.text == ":" && x.token.kind == kPunct:
			x.fail("this ':' has no '?'")
		default:
			x.fail("an operator is missing before this")
		}
	}
	if e.dead {
		f.problem(word.off, word.end, LimitReached, "this expands to more text than the limit allows")
		return false
	}
	return !x.bad && !v.zero()
}

// fail reports what is wrong at the next token. Only the first thing counts.
func (x *evaluator) fail(msg string) { x.failAt(x.token, msg) }

func (x *evaluator) failAt(t *token, msg string) {
	if x.bad || x.expander.dead {
		x.bad = true
		return
	}
	x.bad = true
	start, stop := x.word.off, x.word.end
	switch {
	case t.unit == x.f.unit.origin && t.owner == nil:
		start, stop = t.off, t.end
	case t.kind == kEOF && len(x.expander.base) > 0:
		l := x.expander.base[len(x.expander.base)-1]
		start, stop = l.off, l.end
	case x.expander.useName != nil:
		start, stop = x.expander.useName.off, x.expander.useName.end
	}
	x.f.problem(start, stop, BadCondition, msg)
}

// undefined reports a name in front of parentheses that is no macro.
func (x *evaluator) undefined(name *token) {
	n := len(x.f.unit.Problems)
	x.failAt(name, name.text+" is no macro, so no '(' can follow it")
	if len(x.f.unit.Problems) > n {
		x.f.unit.Problems[n].Undefined = name.text
	}
}

func (x *evaluator) next() {
	for x.token = x.expander.get(); x.token.kind == kPad; x.token = x.expander.get() {
	}
}

func (x *evaluator) is(op string) bool { return x.token.kind == kPunct && x.token.text == op }

// comma reads expressions separated by commas; the last one counts. skip says
// that the value does not matter, as after 0 &&.
func (x *evaluator) comma(skip bool) value {
	v := x.ternary(skip)
	for !x.bad && x.is(",") {
		x.next()
		v = x.ternary(skip)
	}
	return v
}

func (x *evaluator) ternary(skip bool) value {
	if x.deep++; x.deep > maxNesting {
		x.fail("the expression is nested too deep")
		return value{}
	}
	defer func() { x.deep-- }()
	c := x.binary(1, skip)
	if x.bad || !x.is("?") {
		return c
	}
	x.next()
	a := x.comma(skip || c.zero())
	if x.bad {
		return value{}
	}
	if !x.is(":") {
		x.fail("a ':' is missing after '?'")
		return value{}
	}
	x.next()
	b := x.ternary(skip || !c.zero())
	u := a.unsigned || b.unsigned
	if c.zero() {
		a = b
	}
	a.unsigned = u
	return a
}

func level(t *token) int {
	if t.kind != kPunct {
		return 0
	}
	switch t.text {
	case "||":
		return 1
	case "&&":
		return 2
	case "|":
		return 3
	case "^":
		return 4
	case "&":
		return 5
	case "==", "!=":
		return 6
	case "<", ">", "<=", ">=":
		return 7
	case "<<", ">>":
		return 8
	case "+", "-":
		return 9
	case "*", "/", "%":
		return 10
	}
	return 0
}

func (x *evaluator) binary(min int, skip bool) value {
	a := x.unary(skip)
	for !x.bad {
		l := level(x.token)
		if l == 0 || l < min {
			break
		}
		op := x.token
		x.next()
		no := skip || op.text == "||" && !a.zero() || op.text == "&&" && a.zero()
		b := x.binary(l+1, no)
		if x.bad {
			break
		}
		a = x.apply(op, a, b, skip)
	}
	return a
}

func (x *evaluator) apply(op *token, a, b value, skip bool) value {
	u := a.unsigned || b.unsigned
	s, t := int64(a.v), int64(b.v)
	less := s < t
	if u {
		less = a.v < b.v
	}
	switch op.text {
	case "||":
		return truth(!a.zero() || !b.zero())
	case "&&":
		return truth(!a.zero() && !b.zero())
	case "|":
		return value{a.v | b.v, u}
	case "^":
		return value{a.v ^ b.v, u}
	case "&":
		return value{a.v & b.v, u}
	case "==":
		return truth(a.v == b.v)
	case "!=":
		return truth(a.v != b.v)
	case "<":
		return truth(less)
	case ">=":
		return truth(!less)
	case ">":
		return truth(!less && a.v != b.v)
	case "<=":
		return truth(less || a.v == b.v)
	case "<<", ">>":
		left := op.text == "<<"
		n := b.v
		if !b.unsigned && t < 0 {
			left, n = !left, -n
		}
		switch {
		case left:
			return value{a.v << n, a.unsigned}
		case a.unsigned:
			return value{a.v >> n, true}
		}
		return value{uint64(s >> n), false}
	case "+":
		return value{a.v + b.v, u}
	case "-":
		return value{a.v - b.v, u}
	case "*":
		return value{a.v * b.v, u}
	}
	if b.zero() {
		if !skip {
			x.failAt(op, "this divides by zero")
		}
		return value{0, u}
	}
	switch {
	case op.text == "/" && u:
		return value{a.v / b.v, u}
	case op.text == "/":
		return value{uint64(s / t), u}
	case u:
		return value{a.v % b.v, u}
	}
	return value{uint64(s % t), u}
}

func (x *evaluator) unary(skip bool) value {
	if x.deep++; x.deep > maxNesting {
		x.fail("the expression is nested too deep")
		return value{}
	}
	defer func() { x.deep-- }()
	t := x.token
	switch t.kind {
	case kPunct:
		switch t.text {
		case "(":
			x.next()
			v := x.comma(skip)
			if x.bad {
				return v
			}
			if !x.is(")") {
				if x.token.kind == kEOF {
					x.failAt(t, "this '(' has no ')'")
				} else {
					x.fail("an operator or ')' is missing before this")
				}
				return v
			}
			x.next()
			return v
		case "+", "-", "~", "!":
			x.next()
			v := x.unary(skip)
			switch t.text {
			case "-":
				v.v = -v.v
			case "~":
				v.v = ^v.v
			case "!":
				v = truth(v.zero())
			}
			return v
		}
		if t.text == "#" {
			return x.assertion()
		}
		if level(t) > 0 || t.text == ")" || t.text == "," || t.text == "?" || t.text == ":" {
			x.fail("an operand is missing before this")
		} else {
			x.fail("this is not allowed in the expression of an #if")
		}
		return value{}
	case kEOF:
		x.fail("an operand is missing at the end of the expression")
		return value{}
	case kNum:
		v, why := number(t.text)
		if why != "" {
			x.fail(why)
		}
		x.next()
		return v
	case kChar:
		v, ok := charValue(t.text)
		if !ok {
			x.fail("there is no character between the quotes")
		}
		x.next()
		return v
	case kName:
		switch t.text {
		case "defined":
			return x.defined()
		case "__has_include", "__has_include_next":
			return x.hasInclude()
		}
		x.next()
		if x.is("(") {
			x.undefined(t)
		}
		return value{} // no macro: zero
	}
	x.fail("this is not allowed in the expression of an #if")
	return value{}
}

func (x *evaluator) defined() value {
	x.expander.prevent++
	x.next()
	paren := x.is("(")
	if paren {
		x.next()
	}
	t := x.token
	x.expander.prevent--
	if t.kind != kName {
		x.fail("a macro's name is expected after defined")
		return value{}
	}
	m := x.f.run.lookup(t.text)
	if m != nil {
		x.f.run.use(m, t)
	}
	x.next()
	if paren {
		if !x.is(")") {
			x.fail("a ')' is missing after the macro's name")
			return value{}
		}
		x.next()
	}
	return truth(m != nil)
}

// assertion reads #name or #name(text), which asks for what #assert said. It is
// an extension that nothing else here knows of, so the answer is no.
func (x *evaluator) assertion() value {
	x.expander.prevent++
	x.next()
	defer func() { x.expander.prevent-- }()
	if x.token.kind != kName {
		x.fail("a name is expected after '#'")
		return value{}
	}
	x.next()
	if !x.is("(") {
		return value{}
	}
	x.next()
	if x.is(")") {
		x.fail("there is nothing between the brackets")
		return value{}
	}
	for ; !x.is(")"); x.next() {
		if x.token.kind == kEOF {
			x.fail("a ')' is missing at the end of the expression")
			return value{}
		}
	}
	x.next()
	return value{}
}

func (x *evaluator) hasInclude() value {
	behind := x.token.text == "__has_include_next" && x.f.depth > 0
	x.next()
	if !x.is("(") {
		x.fail("a '(' is expected here")
		return value{}
	}
	x.next()
	name, system, ok := x.expander.headerName(x.token)
	if !ok {
		x.fail(`a file's name in "…" or <…> is expected here`)
		return value{}
	}
	x.next()
	if !x.is(")") {
		x.fail("a ')' is expected here")
		return value{}
	}
	x.next()
	if x.f.run.in.Load == nil || name == "" {
		return value{}
	}
	_, _, found := x.f.run.load(x.f.unit.Path, name, system, behind)
	return truth(found)
}

// number reads an integer constant (6.4.4.1).
func number(s string) (v value, why string) {
	base, p := uint64(10), 0
	switch {
	case len(s) > 2 && s[0] == '0' && s[1]|0x20 == 'x':
		base, p = 16, 2
	case len(s) > 2 && s[0] == '0' && s[1]|0x20 == 'b':
		base, p = 2, 2
	case s[0] == '0':
		base = 8
	}
	begin := p
	for ; p < len(s); p++ {
		d := uint64(99)
		switch c := s[p]; {
		case c >= '0' && c <= '9':
			d = uint64(c - '0')
		case base == 16 && c|0x20 >= 'a' && c|0x20 <= 'f':
			d = uint64(c|0x20-'a') + 10
		}
		if d == 99 {
			break
		}
		if d >= base {
			return v, "this digit does not belong in the number"
		}
		v.v = v.v*base + d // compilers keep the lower 64 bits, with a warning
	}
	if p == begin && base != 8 {
		return v, "this is not a whole number"
	}
	switch strings.ReplaceAll(strings.ReplaceAll(strings.ReplaceAll(s[p:], "LL", "ll"), "L", "l"), "U", "u") {
	case "":
	case "u", "ul", "lu", "ull", "llu":
		v.unsigned = true
	case "l", "ll":
	default:
		return v, "this is not a whole number"
	}
	if strings.Contains(s[p:], "lL") || strings.Contains(s[p:], "Ll") {
		return v, "this is not a whole number"
	}
	if int64(v.v) < 0 {
		v.unsigned = true
	}
	return v, ""
}

// charValue is the value of a character constant: a char without sign, as the
// procedure call standard has it (AAPCS32, 8.1.1, table of data types), or an
// int for several characters.
func charValue(s string) (value, bool) {
	if s[0] == 'L' {
		s = s[1:]
	}
	s = s[1 : len(s)-1]
	if s == "" {
		return value{}, false
	}
	var v uint32
	n := 0
	for p := 0; p < len(s); n++ {
		c := uint32(s[p])
		p++
		if c == '\\' && p < len(s) {
			c = uint32(s[p])
			p++
			switch {
			case c >= '0' && c <= '7':
				c -= '0'
				for k := 0; k < 2 && p < len(s) && s[p] >= '0' && s[p] <= '7'; k++ {
					c = c<<3 | uint32(s[p]-'0')
					p++
				}
			case c == 'x':
				c = 0
				for p < len(s) && hex(s[p]) >= 0 {
					c = c<<4 | uint32(hex(s[p]))
					p++
				}
			default:
				if k := strings.IndexByte("abfnrtve", byte(c)); k >= 0 {
					c = uint32("\a\b\f\n\r\t\v\x1b"[k])
				}
			}
		}
		v = v<<8 | c&0xff
	}
	if n > 1 {
		return value{v: uint64(int64(int32(v)))}, true
	}
	// Compilers take the sign of a char for that of its constants here.
	return value{uint64(v), true}, true
}

func hex(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c|0x20 >= 'a' && c|0x20 <= 'f':
		return int(c|0x20-'a') + 10
	}
	return -1
}
