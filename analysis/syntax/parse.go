package syntax

import (
	"strconv"
	"strings"

	"narrowgauge/isa"
)

// line parses p.s into l. in is the state that the line above left.
func (p *parser) line(l *Line, text string, in lexState) {
	p.s, p.i, p.state, p.comment, p.across = text, 0, in, -1, 0
	l.Text, l.in = text, in
	p.first = len(p.stmts)
	if in.comment() {
		p.comment = 0
		p.blockComment()
	}
	if p.dialect == Columns {
		p.columnLine(in)
		p.endLine(l)
		return
	}
	first := in != inStatement // nothing but labels so far, where '#' begins a comment
	if !first && !p.atEnd() {
		p.across = joined
	}
	for {
		p.skip()
		if p.i >= len(p.s) {
			break
		}
		c := p.s[p.i]
		if c == '@' && p.dialect.commentMark() || c == '/' && p.i+1 < len(p.s) && p.s[p.i+1] == '/' || c == '#' && first {
			if p.comment < 0 {
				p.comment = int32(p.i)
			}
			break
		}
		if c == ';' {
			if p.dialect != Dots {
				if p.comment < 0 {
					p.comment = int32(p.i)
				}
				break
			}
			p.i++
			first = true
			continue
		}
		if c == '*' && p.dialect != Dots && p.i == 0 {
			p.comment = 0
			break
		}
		p.statement()
		first = p.stmts[len(p.stmts)-1].Kind == Label
	}
	if !first && p.state == inComment && p.dialect == Dots {
		p.state = inStatement
	}
	p.endLine(l)
}

// endLine hands what was read to the line.
func (p *parser) endLine(l *Line) {
	l.Stmts = nil
	if p.first < len(p.stmts) {
		l.Stmts = p.stmts[p.first:len(p.stmts):len(p.stmts)]
	}
	l.Comment, l.out, l.across = p.comment, p.state, p.across
	p.crossed = p.crossed || p.across != 0
}

// manyStmts are more statements than a line has that somebody has written.
const manyStmts = 1000

func (p *parser) add(s Stmt) {
	if s.Err == nil {
		s.Err = p.err
	}
	p.err = nil
	if len(p.stmts) == cap(p.stmts) {
		// A new slab, with the line's statements so far copied over.
		done := p.stmts[p.first:]
		room := 2*len(done) + 2
		if len(done) > manyStmts { // of so many, a part that is not used is large
			room = len(done) * 5 / 4
		}
		p.stmts = append(make([]Stmt, 0, max(p.slab, room)), done...)
		p.first = 0
	}
	p.stmts = append(p.stmts, s)
}

// statement reads one label or statement.
func (p *parser) statement() {
	b := p.i
	c := p.s[b]
	switch {
	case class[c]&cDigit != 0:
		n := int32(0)
		for p.i < len(p.s) && class[p.s[p.i]]&cDigit != 0 && n < 1<<24 {
			n = n*10 + int32(p.s[p.i]-'0')
			p.i++
		}
		if p.i < len(p.s) && p.s[p.i] == '$' && p.dialect == Dots && n < maxDollar {
			p.i++
			n |= DollarLabel
		}
		end := p.i
		p.skip()
		if p.i < len(p.s) && p.s[p.i] == ':' {
			p.i++
			p.add(Stmt{Kind: Label, Start: int32(b), NameEnd: int32(end), End: int32(p.i), Number: n, Name: p.s[b:end]})
			return
		}
		p.bad(b, "a statement cannot start with a number")
		return
	case c == '"':
		name := p.stringLit()
		end := p.i
		p.skip()
		if p.i < len(p.s) && p.s[p.i] == ':' {
			p.i++
			p.add(Stmt{Kind: Label, Start: int32(b), NameEnd: int32(end), End: int32(p.i), Number: -1, Name: name})
			return
		}
		p.bad(b, "a statement cannot start with a string")
		return
	case !p.starts(c):
		p.bad(b, "a statement cannot start with this character")
		return
	}
	word := p.ident()
	end := p.i
	p.skip()
	next := byte(0)
	if p.i < len(p.s) {
		next = p.s[p.i]
	}
	s := Stmt{Start: int32(b), NameEnd: int32(end), Number: -1, Name: word}
	if next == ':' {
		p.i++
		s.Kind, s.End = Label, int32(p.i)
		p.add(s)
		return
	}
	if next == '=' {
		s.Kind = Assign
		p.i++
		if p.i < len(p.s) && p.s[p.i] == '=' {
			p.i++
			s.Once = true
		}
		p.args(&s)
		p.finish(&s)
		return
	}
	if p.dialect == Modules {
		p.i = end
		if p.skip(); p.moduleStatement(&s) {
			return
		}
	}
	if word[0] == '.' {
		if d := findDirective(word); d != nil {
			s.Kind, s.Directive = Directive, d
			if d.NameFirst {
				p.fail(b, end, "a name is missing before "+word)
			}
			if next == '"' && p.i == end && p.dialect != Columns && (d.Args == ArgsStrings || d.Effect == EffData || d.Effect == EffSet || d.Effect == EffInclude || d.Effect == EffIncbin) {
				// Assemblers take the quote for a part of the name.
				p.fail(end, end+1, "a blank is missing after "+word)
			}
			p.directive(&s)
			p.finish(&s)
			return
		}
	}
	if m, w := findMnemonic(word); m != nil {
		// "name .req r3" and "label nop" put a name first, which may look
		// like a mnemonic; a directive after it decides.
		if next != '.' || !p.dotWord() {
			s.Kind, s.Mnemonic, s.Width = Instruction, m, w
			joined := p.i == end && !p.atEnd() && p.dialect != Columns
			p.operands(&s)
			if joined {
				p.fail(end, end+1, "a blank is missing between "+word+" and its operands")
			}
			p.finish(&s)
			return
		}
	}
	p.nameFirst(s)
}

// dotWord says whether a directive's name comes next.
func (p *parser) dotWord() bool {
	save := p.i
	w := p.ident()
	p.i = save
	return len(w) > 1 && findDirective(w) != nil
}

// nameFirst reads what follows a word that is no mnemonic: "name .req r3", a
// label without colon, or something unknown.
func (p *parser) nameFirst(s Stmt) {
	save := p.i
	w := p.ident()
	if len(w) > 1 && w[0] == '.' {
		switch d := findDirective(w); {
		case d != nil && d.NameFirst:
			s.Kind, s.Directive = Directive, d
			if d.Args == ArgsText {
				p.directive(&s)
			} else {
				p.args(&s)
			}
			p.finish(&s)
			return
		case d != nil && s.Start == 0:
			p.i = save
			s.Kind, s.NoColon, s.End = Label, true, s.NameEnd
			p.add(s)
			return
		}
	}
	p.i = save
	if s.Start == 0 && s.Name[0] != '.' {
		if w == "" && p.atEnd() {
			// A word only at column one.
			if s.Kind, s.End = Unknown, s.NameEnd; p.dialect == Semicolon {
				s.Kind, s.NoColon = Label, true
			}
			p.add(s)
			return
		}
		if m, _ := findMnemonic(w); m != nil || p.dialect == Semicolon && p.callBehind(w, save) {
			s.Kind, s.NoColon, s.End = Label, true, s.NameEnd
			p.add(s)
			return
		}
	}
	if d := p.named(s); d > 0 {
		s.NameEnd = int32(d)
		p.i = d
		p.skip()
		p.nameFirst(s)
		return
	}
	s.Kind = Unknown
	p.macroArgs(&s)
	p.finish(&s)
}

// named is where a blank and .req, .dn or .qn are after a name, with something
// between them that no blank cuts off; 0 if they do not.
func (p *parser) named(s Stmt) int {
	if p.i != int(s.NameEnd) || p.dialect == Columns || s.Name[0] == '.' {
		return 0
	}
	i := p.i
	for i < len(p.s) && class[p.s[i]]&cSpace == 0 && p.s[i] != ';' && p.s[i] != '"' {
		i++
	}
	if i == p.i {
		return 0
	}
	save := p.i
	defer func() { p.i = save }()
	p.i = i
	p.skip()
	d := findDirective(p.ident())
	if p.i > i && d != nil && d.NameFirst {
		return i
	}
	return 0
}

// callBehind says whether the word w at i, after another one, looks like the
// call of a macro: operands follow it without a comma.
func (p *parser) callBehind(w string, i int) bool {
	if _, isReg := isa.RegByName(strings.ToLower(w)); isReg || w == "" {
		return false
	}
	p.i = i + len(w)
	next := p.peek()
	p.i = i
	return class[next]&cStart != 0
}

// macroArgs passes the arguments of what may be a macro call: any text.
func (p *parser) macroArgs(s *Stmt) {
	p.toEnd()
	p.err = nil
	s.End = int32(p.i)
}

func (p *parser) bad(b int, msg string) {
	p.toEnd()
	p.err = nil
	end := trimRight(p.s, b, p.i)
	p.fail(b, b+1, msg)
	p.add(Stmt{Kind: Bad, Start: int32(b), NameEnd: int32(b), End: int32(end), Number: -1, Name: ""})
}

// trimmed is the end of what is from b to e, without blanks and comments at it.
func (p *parser) trimmed(b, e int) int {
	e = trimRight(p.s, b, e)
	if c := int(p.comment); c >= 0 && c < e && b < e { // the line's first one
		return b + trimRight(Uncommented(p.s[b:e]), 0, e-b)
	}
	return e
}

func trimRight(s string, b, e int) int {
	for e > b && class[s[e-1]]&cSpace != 0 {
		e--
	}
	return e
}

// finish passes what is left of the statement and adds it.
func (p *parser) finish(s *Stmt) {
	if !p.atEnd() {
		b := p.i
		keep := p.err
		p.toEnd()
		p.err = keep
		why := "the statement ends before this"
		if c := p.s[b]; len(s.Ops) > 0 && b > 0 && class[p.s[b-1]]&cSpace != 0 && (class[c]&cIdent != 0 || c == '#' || c == '[' || c == '{') {
			why = "a comma, or the mark of a comment, is missing before this"
		}
		p.fail(b, trimRight(p.s, b, p.i), why)
	}
	s.End = int32(p.trimmed(int(s.NameEnd), p.i))
	p.add(*s)
}

func findMnemonic(word string) (*isa.Mnemonic, byte) {
	if len(word) > 20 {
		return nil, 0
	}
	for i := 0; i < len(word); i++ {
		if c := word[i]; c >= 'A' && c <= 'Z' {
			return isa.Find(strings.ToLower(word))
		}
	}
	return isa.Find(word)
}

// regHere reads a core register's name, if one is at p.i.
func (p *parser) regHere() (isa.Reg, bool) {
	b := p.i
	e := b
	for e < len(p.s) && e < b+4 && class[p.s[e]]&cIdent != 0 {
		e++
	}
	if e-b < 2 || e-b > 3 {
		return isa.NoReg, false
	}
	var buf [3]byte
	upper, lower := false, false // names are all lower or all upper case
	for k := b; k < e; k++ {
		c := p.s[k]
		switch {
		case c >= 'A' && c <= 'Z':
			upper = true
			c |= 0x20
		case c >= 'a' && c <= 'z':
			lower = true
		}
		buf[k-b] = c
	}
	if upper && lower {
		return isa.NoReg, false
	}
	r, ok := isa.RegByName(string(buf[:e-b]))
	if ok {
		p.i = e
	}
	return r, ok
}

// percent passes the mark that the assembler of the dot dialect takes in front of
// a register's name.
func (p *parser) percent() {
	if p.i < len(p.s) && p.s[p.i] == '%' && p.dialect != Columns {
		p.mark()
	}
}

// mark passes the mark if a register follows. Only what is one anywhere counts:
// whether .req makes one of a name is not known here.
func (p *parser) mark() {
	mark := p.i
	p.i++
	p.skip()
	at := p.i
	if _, ok := p.regHere(); ok {
		p.i = at
		return
	}
	w := p.ident()
	if p.i = at; !vectorOrCoprocessor(w) {
		p.i = mark
	}
}

// vectorOrCoprocessor says whether a word names a floating-point or vector
// register, a coprocessor or one of its registers.
func vectorOrCoprocessor(w string) bool {
	if _, _, ok := isa.VectorReg(w); ok {
		return true
	}
	if len(w) < 2 || w[0] != 'p' && w[0] != 'c' {
		return false
	}
	n, err := strconv.Atoi(strings.TrimPrefix(w[1:], "r"))
	return err == nil && n >= 0 && n < 16
}

// operands reads an instruction's operands.
func (p *parser) operands(s *Stmt) {
	first := len(p.ops)
	p.mnemonic, p.whole = s.Mnemonic, true
	defer func() { p.whole = false }()
	for p.peek() != 0 {
		n := len(p.ops)
		if n == cap(p.ops) {
			p.ops = append(make([]Operand, 0, max(p.slab*2, 2*(n-first)+4)), p.ops[first:]...)
			n -= first
			first = 0
		}
		p.ops, p.from = p.ops[:n+1], first
		o := &p.ops[n]
		*o = Operand{}
		o.Start = int32(p.i)
		p.operand(o)
		o.End = int32(p.operandEnd(int(o.Start)))
		if n > first {
			if prev := &p.ops[n-1]; prev.Kind == isa.OpMem && prev.Off == isa.OffNone && !prev.Writeback && !prev.Post && (o.Kind == isa.OpImm || o.Kind == isa.OpReg || o.Kind == isa.OpOther && o.Minus || o.Kind == isa.OpExpr && (o.Known || o.Expr != nil || o.Word != "") && p.s[o.Start] != '.') && !o.Writeback {
				p.postIndex(prev, o)
				p.ops = p.ops[:n]
			} else if prev.Kind == isa.OpMem && prev.Post && prev.Off == isa.OffReg && o.Kind == isa.OpShift && o.Reg > 15 {
				// [r1], r2, lsl #2
				prev.Off, prev.End = isa.OffShift, o.End
				prev.shifted(o)
				p.ops = p.ops[:n]
			}
		}
		if p.refused() || !p.eat(',') {
			break
		}
		if p.atEnd() {
			p.fail(p.i-1, p.i, "an operand is missing after the comma")
		}
	}
	if first < len(p.ops) {
		s.Ops = p.ops[first:len(p.ops):len(p.ops)]
	}
}

// behind says whether the operand that is being read comes after one of that kind.
func (p *parser) behind(k isa.OpKind) bool {
	n := len(p.ops)
	return n-p.from > 1 && p.ops[n-2].Kind == k
}

// operandEnd is where the operand that was just read ends: blanks and
// comments that were passed in looking for more do not belong to it.
func (p *parser) operandEnd(start int) int {
	return p.trimmed(start, p.i)
}

// postIndex joins [r1] and #4 to one operand.
func (p *parser) postIndex(m, o *Operand) {
	m.Post, m.End = true, o.End
	if o.Word != "" { // as inside the brackets
		m.Off, m.Index, m.Minus = isa.OffReg, isa.NoReg, o.Minus
		m.names().Index = o.Word
		if !o.Minus {
			m.Word = o.Word
		}
		return
	}
	if o.Kind == isa.OpImm || o.Kind == isa.OpExpr {
		m.Off, m.Imm, m.Known, m.Expr, m.Bare, m.Minus = isa.OffImm, o.Imm, o.Known, o.Expr, o.Kind == isa.OpExpr, o.Minus
	} else {
		m.Off, m.Index, m.Minus = isa.OffReg, o.Reg, o.Minus
	}
}

// shifted stores the shift of an index register.
func (o *Operand) shifted(by *Operand) {
	o.Word = "" // what is shifted is a register
	o.Shift, o.Imm, o.Known, o.Expr, o.Bare = by.Shift, by.Imm, by.Known, by.Expr, by.Bare
}

// setValue stores an expression into an operand.
func (o *Operand) setValue(p *parser, v value) {
	switch {
	case !v.ok:
		o.Kind = isa.OpOther
	case v.num:
		o.Known, o.Imm = true, v.n
		if v.none {
			p.none(v.start, v.end)
		}
	default:
		o.Expr = v.e
	}
}

// none notes that no value is where one is expected. What takes a number at once
// takes 0 for it; what takes an expression does not.
func (p *parser) none(start, end int) {
	if p.whole {
		p.fail(start, end, "a value is missing here")
	} else {
		p.mild(start, end, "a value is missing here; assemblers take 0")
	}
}

// operand reads one operand of an instruction.
func (p *parser) operand(o *Operand) {
	p.percent()
	c := p.s[p.i]
	switch c {
	case '#', '$':
		p.marked(o, c)
		return
	case '=':
		p.literal(o)
		return
	case '[':
		p.memory(o)
		return
	case '{':
		if p.dialect == Columns && p.builtin() {
			o.Kind = isa.OpExpr
			o.setValue(p, p.expr(1, 0))
			return
		}
		p.list(o)
		return
	}
	b := p.i
	if c == '.' && p.float(o) {
		o.Bare = true
		return
	}
	if class[c]&cStart != 0 {
		if p.word(o) {
			return
		}
		p.i = b
	} else if p.float(o) {
		o.Bare = true
		return
	}
	if (c == '-' || c == '+') && p.i+1 < len(p.s) && (class[p.s[p.i+1]]&cStart != 0 || p.s[p.i+1] == '%') {
		if p.signed(o, c) {
			return
		}
		p.i = b
	}
	o.Kind = isa.OpExpr
	o.setValue(p, p.constant())
	if o.Bare = o.Known; o.Bare && class[c]&cDigit != 0 {
		for o.Digits = true; b < p.i && o.Digits; b++ {
			o.Digits = class[p.s[b]]&(cDigit|cSpace) != 0
		}
	}
}

// marked reads a constant with its mark c, '#' or '$'.
func (p *parser) marked(o *Operand, c byte) {
	p.i++
	if p.peek(); p.float(o) {
		return
	}
	if c == '$' && p.peek() == ':' && p.dialect != Columns {
		p.fail(p.i-1, p.i, "a '#' comes before a relocation operator")
	}
	o.Kind = isa.OpImm
	minus := p.peek() == '-'
	o.setValue(p, p.constant())
	o.Minus = minus && o.Known && o.Imm == 0
	if p.err == nil && p.peek() == '!' { // as SRS has it
		p.i++
		o.Writeback = true
	}
	if o.Expr != nil && o.Expr.Op != ExprReloc && !p.behind(isa.OpMem) && p.mnemonic.Label() {
		o.Kind, o.Marked = isa.OpExpr, c == '#' // a label, in front of which assemblers ignore the mark
	}
}

// literal reads a literal after its '='.
func (p *parser) literal(o *Operand) {
	p.i++
	if p.dialect == Columns && p.mnemonic.Vector() && p.peek() != 0 && p.floatLiteral(o) {
		return
	}
	if o.Kind = isa.OpLit; p.dialect != Columns {
		p.eat('#') // which assemblers ignore
	}
	o.setValue(p, p.constant())
}

// word reads an operand that begins with a name: a register, a shift, a symbol. It says
// false where an expression begins.
func (p *parser) word(o *Operand) bool {
	b := p.i
	if r, ok := p.regHere(); ok {
		o.Kind, o.Reg = isa.OpReg, r
		if p.i < len(p.s) && p.eat('!') {
			o.Writeback = true
		}
		return true
	}
	w := p.ident()
	if len(p.ops)-p.from > 2 && (p.behind(isa.OpReg) || p.behind(isa.OpMem)) {
		w = p.shiftOf(b, w)
	}
	if n := p.peek(); isShift(w) && (len(p.ops)-p.from > 2 || n != 0 && n != ',') { // else a symbol: no first or second operand is a shift
		o.Kind, o.Shift = isa.OpShift, isa.ShiftByName(strings.ToLower(w))
		p.shiftAmount(o)
		return true
	}
	switch n := p.peek(); n {
	case 0, ',':
		o.Kind = isa.OpExpr
		if w == "." {
			o.Expr = p.newExpr()
			*o.Expr = Expr{Op: ExprDot, Start: int32(b), End: int32(p.i)}
		} else {
			o.Word = w
			if p.dialect.Words() && len(w) > 5 && (strings.EqualFold(w[:5], "CPSR_") || strings.EqualFold(w[:5], "SPSR_")) {
				o.Word = strings.ToLower(w) // the fields may be in upper case
			}
		}
		p.i = b + len(w)
		return true
	case '!', '^':
		// alias! in a multiple load or store; a list by name with ^
		if n == '^' && p.dialect != Columns {
			break
		}
		p.i++
		if t := p.peek(); t == 0 || t == ',' {
			o.Kind, o.Word, o.Writeback = isa.OpExpr, w, true
			return true
		}
	case '[':
		if p.lane(o) {
			o.Kind, o.Word = isa.OpLane, w
			return true
		}
	}
	return false
}

// signed reads a register with its sign c, as an index after the brackets has it. It says
// false where an expression begins.
func (p *parser) signed(o *Operand, c byte) bool {
	p.i++
	p.percent()
	if r, ok := p.regHere(); ok {
		o.Kind, o.Reg, o.Minus = isa.OpOther, r, c == '-'
		if c == '+' && p.behind(isa.OpMem) {
			o.Kind = isa.OpReg
		}
		return true
	}
	if c == '-' && p.behind(isa.OpMem) && p.s[p.i] != '.' {
		if w := p.ident(); p.peek() == 0 || p.peek() == ',' {
			o.Kind, o.Word, o.Minus = isa.OpOther, w, true
			return true
		}
	}
	return false
}

// constant reads an expression that is a whole operand, and the relocation that
// may be after it, as in printf(PLT).
func (p *parser) constant() value {
	x := p.expr(1, 0)
	if x.ok && p.dialect != Columns {
		x = p.suffix(x)
	}
	return x
}

// shiftOf is the name of a shift if the word w at b begins with one and goes on with
// what is no letter, its amount, as in lsl$4; p.i is after it then.
func (p *parser) shiftOf(b int, w string) string {
	if len(w) > 3 && isShift(w[:3]) && (class[w[3]]&cDigit != 0 || w[3] == '$') {
		p.i = b + 3
		return w[:3]
	}
	return w
}

func isShift(w string) bool {
	if len(w) != 3 {
		return false
	}
	low := strings.ToLower(w)
	switch low {
	case "lsl", "lsr", "asr", "ror", "rrx", "asl":
		return w == low || w == strings.ToUpper(w)
	}
	return false
}

// shiftAmount reads what follows lsl and the like: nothing, a constant or a
// register.
func (p *parser) shiftAmount(o *Operand) {
	o.Reg = isa.NoReg
	c := p.peek()
	if o.Shift == isa.RRX && c != 0 && c != ',' && c != ']' {
		o.Kind = isa.OpOther // by one place, always
	}
	switch c {
	case '#', '$':
		p.i++
		o.setValue(p, p.expr(1, 0))
	case 0, ',', ']':
		if o.Shift != isa.RRX {
			o.Kind = isa.OpOther
		}
	default:
		p.percent()
		if r, ok := p.regHere(); ok {
			o.Reg = r
			return
		}
		o.Bare = true
		o.setValue(p, p.expr(1, 0))
	}
}

func (o *Operand) names() *Names {
	if o.Names == nil {
		o.Names = &Names{}
	}
	return o.Names
}

// regOrName reads a register, or an identifier that .req may explain.
func (p *parser) regOrName() (r isa.Reg, name string, ok bool) {
	p.skip()
	p.percent()
	if r, ok := p.regHere(); ok {
		return r, "", true
	}
	if w := p.ident(); w != "" {
		return isa.NoReg, w, true
	}
	return isa.NoReg, "", false
}

// hashBehind says whether a '#' is after the next byte.
func (p *parser) hashBehind() bool {
	rest := strings.TrimLeft(p.s[p.i+1:], " \t")
	return rest != "" && rest[0] == '#'
}

// shiftHere says whether lsl or the like comes next.
func (p *parser) shiftHere() bool {
	save := p.i
	p.skip()
	b := p.i
	w := p.shiftOf(b, p.ident())
	p.i = save
	return isShift(w)
}

// memory reads an address in brackets.
func (p *parser) memory(o *Operand) {
	p.whole = false
	defer func() { p.whole = true }()
	b := p.i
	p.i++
	o.Kind = isa.OpMem
	r, name, ok := p.regOrName()
	if !ok {
		p.fail(p.i, p.i+1, "a base register is missing after '['")
		return
	}
	o.Reg = r
	if name != "" {
		o.names().Base = name
	}
	for p.eat(',') {
		if !p.offset(o) {
			return
		}
	}
	p.alignment(o)
	if !p.eat(']') {
		if p.missingComma(']') {
			p.fail(p.i, p.i+1, "a comma is missing before this")
			return
		}
		p.fail(b, b+1, "this '[' has no ']'")
		return
	}
	if p.peek() == '!' {
		p.i++
		o.Writeback = true
	}
}

// missingComma says whether the statement goes on with an operand behind a blank, and has a bracket
// later on.
func (p *parser) missingComma(bracket byte) bool {
	p.skip()
	if p.atEnd() || class[p.s[p.i-1]]&cSpace == 0 || class[p.s[p.i]]&cIdent == 0 && p.s[p.i] != '#' {
		return false
	}
	rest := Uncommented(p.s[p.i:])
	return strings.IndexByte(rest, bracket) >= 0
}

// offset reads what is after a comma in an address: an offset, its shift, or an alignment.
// It says false when the rest of the address is not to be read.
func (p *parser) offset(o *Operand) bool {
	if at := p.i - 1; o.Off != isa.OffNone && (o.Off != isa.OffReg || !p.shiftHere()) {
		p.fail(at, p.i, "an address has only one offset")
		return false
	}
	switch c := p.peek(); {
	case c == '#' || c == '$' || c == '+' && p.hashBehind():
		if p.i++; c == '+' {
			p.eat('#')
		}
		o.Off = isa.OffImm
		minus := p.peek() == '-'
		o.setValue(p, p.expr(1, 0))
		o.Minus = minus && o.Known && o.Imm == 0
		return !p.refused()
	case c == ':' && p.alignment(o):
		return true
	case c == ':':
		p.fail(p.i, p.i+1, "a '#' is missing before the relocation operator")
		return false
	case c == '(' || c >= '0' && c <= '9':
		return p.bareOffset(o)
	case c == 0 || c == ']':
		p.fail(p.i-1, p.i, "an offset is missing after the comma")
		return false
	case c == '-' || c == '+':
		o.Minus = o.Minus || c == '-'
		p.i++
	}
	return p.index(o)
}

// bareOffset reads an offset without '#', as the unified syntax takes it.
func (p *parser) bareOffset(o *Operand) bool {
	o.Off, o.Bare = isa.OffImm, true
	o.setValue(p, p.expr(1, 0))
	return !p.refused()
}

// index reads an index register after its sign, its shift, or an offset that begins with a
// name.
func (p *parser) index(o *Operand) bool {
	save := p.i
	bare := func() bool {
		if p.i = save; o.Minus {
			p.i--
			o.Minus = false
		}
		return p.bareOffset(o)
	}
	r, name, ok := p.regOrName()
	if !ok {
		return bare()
	}
	if o.Off == isa.OffReg && name != "" {
		name = p.shiftOf(p.i-len(name), name)
	}
	if isShift(name) {
		var amount Operand
		amount.Shift = isa.ShiftByName(strings.ToLower(name))
		amount.Kind = isa.OpShift
		p.shiftAmount(&amount)
		if amount.Kind != isa.OpShift || amount.Reg < 16 || o.Off != isa.OffReg {
			amount.Shift = isa.NoShift // no such address
		}
		o.Off = isa.OffShift
		o.shifted(&amount)
		return true
	}
	if t := p.peek(); name != "" && t != ']' && t != ',' {
		return bare()
	}
	o.Off, o.Index = isa.OffReg, r
	if name != "" {
		// A register, if .req says so, or else a constant without '#'.
		o.names().Index = name
		if !o.Minus {
			o.Word = name
		}
	}
	return true
}

func (p *parser) list(o *Operand) {
	b := p.i
	p.i++
	if c := p.peek(); c == '#' || c == '(' || c == '-' || c == '+' || c == '~' || c >= '0' && c <= '9' {
		// A number in braces.
		if c == '#' {
			p.i++
		}
		o.Kind = isa.OpOption
		o.setValue(p, p.expr(1, 0))
		if p.err == nil && !p.eat('}') {
			p.fail(b, b+1, "this '{' has no '}'")
		}
		return
	}
	if p.vectorList(o) {
		return
	}
	o.Kind = isa.OpList
	for p.peek() != '}' {
		if p.atEnd() {
			p.fail(b, b+1, "this '{' has no '}'")
			return
		}
		at := p.i
		r, name, ok := p.regOrName()
		if !ok {
			p.fail(at, at+1, "a register is expected here")
			return
		}
		if name != "" {
			o.names().List = append(o.names().List, name)
		} else {
			o.List |= 1 << r
		}
		if p.eat('-') {
			at := p.i
			e, ename, ok := p.regOrName()
			switch {
			case !ok:
				p.fail(at, at+1, "a register is expected here")
				return
			case name != "" || ename != "":
				if ename != "" {
					o.names().List = append(o.names().List, "-"+ename)
				} else {
					o.names().List = append(o.names().List, "-"+e.String())
				}
			case e <= r:
				p.fail(at, p.i, "a register range goes from the lower register to the higher one")
				return
			default:
				for ; r <= e; r++ {
					o.List |= 1 << r
				}
			}
		}
		if lane := (Operand{}); p.laneOf(&lane) && name != "" { // of a vector register, as .req may say
			n := o.names()
			n.List[len(n.List)-1] += laneText(lane.Vec.Lane)
			n.lane(lane.Expr)
		}
		if at := p.i; p.eat(',') {
			if p.peek() == '}' {
				p.fail(at, p.i, "a register is missing after the comma")
				return
			}
		} else if p.peek() != '}' {
			p.fail(p.i, p.i+1, "a comma or '}' is expected here")
			return
		}
	}
	p.i++
	if p.peek() == '^' {
		p.i++
		o.Writeback = true // the user bank, in A32
	}
}

// args reads comma-separated expressions and strings.
func (p *parser) args(s *Stmt) {
	p.inArgs, p.relocs, p.whole = true, s.Directive != nil && s.Directive.Effect == EffData, s.needsValue()
	defer func() { p.inArgs, p.relocs, p.whole = false, false, false }()
	first := len(p.ops)
	for p.peek() != 0 {
		n := len(p.ops)
		if n == cap(p.ops) {
			p.ops = append(make([]Operand, 0, max(p.slab*2, 2*(n-first)+4)), p.ops[first:]...)
			n -= first
			first = 0
		}
		p.ops = p.ops[:n+1]
		o := &p.ops[n]
		*o = Operand{}
		o.Start = int32(p.i)
		p.arg(s, o)
		o.End = int32(p.operandEnd(int(o.Start)))
		if p.refused() {
			break
		}
		if comma := p.i; p.eat(',') {
			if p.dialect != Columns && p.peek() == 0 && s.filled(n+1-first) {
				p.fail(comma, comma+1, "this comma must be the last thing in the line")
			}
			p.whole = p.whole && s.Directive != nil && s.Directive.Effect != EffOrg // whose second one is a fill value
			if p.peek() == 0 && p.dialect != Columns && s.Directive != nil && (s.Directive.Effect == EffData || s.Directive.Effect == EffLEB) {
				// An empty value at the end counts.
				p.ops = append(p.ops, Operand{Start: int32(p.i), End: int32(p.i)})
			}
		} else {
			// Strings may follow each other without comma, and some
			// directives separate by blanks.
			if p.peek() == 0 || !s.blankSeparated() {
				break
			}
		}
	}
	if first < len(p.ops) {
		s.Ops = p.ops[first:len(p.ops):len(p.ops)]
	}
}

// filled says whether the statement has all arguments that it takes with the nth
// one; a comma after it is one too many, as against one after an optional one.
func (s *Stmt) filled(n int) bool {
	if s.Directive == nil {
		return n == 1 // name = value
	}
	switch s.Directive.Effect {
	case EffSection, EffSubsection, EffCode, EffSyntax, EffUnreq, EffRept, EffIf, EffElseif:
		return n == 1 && (s.Directive.Args == ArgsExprs || s.Directive.Args == ArgsSymbols)
	case EffSet, EffThumbSet, EffOrg, EffSize:
		return n == 2
	case EffFill, EffAlignPow, EffAlignByte, EffAlignFrom:
		return n == 3
	}
	return false
}

// needsValue says whether the statement's arguments are expressions that are kept,
// as against numbers that are used at once.
func (s *Stmt) needsValue() bool {
	if s.Directive == nil {
		return true // name = value
	}
	switch s.Directive.Effect {
	case EffSet, EffEqv, EffThumbSet, EffIf, EffElseif, EffOrg, EffSize, EffInst:
		return true
	}
	return false
}

func (s *Stmt) blankSeparated() bool {
	return s.Directive != nil && (s.Directive.Args == ArgsText || s.Directive.Args == ArgsStrings)
}

func (p *parser) arg(s *Stmt, o *Operand) {
	if p.dialect == Columns {
		p.columnArg(o)
		return
	}
	if p.dialect == Modules && p.moduleText(s, o) {
		return
	}
	c := p.s[p.i]
	switch {
	case c == '"' && s.quotedNames():
		// A symbol whose name needs quotes.
		b := p.i
		w := p.stringLit()
		if t := p.peek(); w != "" && (t == 0 || t == ',') {
			o.Kind, o.Word = isa.OpExpr, w
			return
		}
		p.i = b
	case c == '"':
		o.Kind, o.IsStr = isa.OpOther, true
		o.names().Str = p.stringLit()
		return
	case c == ',':
		o.Kind = isa.OpNone // an empty argument
		return
	case c == '<' && s.Directive != nil && s.Directive.Args == ArgsStrings:
		// A character by its number.
		p.i++
		x := value{num: true, ok: true}
		if w := p.ident(); w == "" && p.peek() >= '0' && p.peek() <= '9' {
			x = p.number()
		} else if w == "" {
			x.ok = false
		}
		if x.ok && x.num && p.eat('>') {
			o.Kind, o.IsStr, o.Bare = isa.OpOther, true, true
			o.names().Str = string([]byte{byte(x.n)})
			return
		}
		p.fail(int(o.Start), p.i, "a character by its number is written <65>")
		return
	}
	b := p.i
	if class[p.s[p.i]]&cStart != 0 {
		if r, ok := p.regHere(); ok {
			// A register in .req, or a symbol that happens to be named so.
			o.Kind, o.Reg, o.Word = isa.OpReg, r, p.s[b:p.i]
			if t := p.peek(); t == 0 || t == ',' {
				return
			}
			p.i = b
			o.Word = ""
		} else {
			w := p.ident()
			if t := p.peek(); (t == 0 || t == ',') && w != "." {
				o.Kind, o.Word = isa.OpExpr, w
				p.i = b + len(w)
				return
			}
			p.i = b
		}
	}
	o.Kind = isa.OpExpr
	x := p.expr(1, 0)
	if x.ok && s.Directive != nil && s.Directive.Effect == EffData {
		x = p.suffix(x)
	}
	o.setValue(p, x)
}

// quotedNames says whether quotes are around the names of symbols.
func (s *Stmt) quotedNames() bool {
	return s.Kind == Assign || s.Directive != nil && (s.Directive.Args == ArgsSymbols || s.Directive.Args == ArgsExprs && s.Directive.Effect != EffIf && s.Directive.Effect != EffIncbin && s.Directive.Effect != EffElseif)
}

// directive reads the arguments as the directive has them.
func (p *parser) directive(s *Stmt) {
	switch s.Directive.Args {
	case ArgsText, ArgsRaw:
		p.toEnd()
		p.err = nil
	case ArgsNone, ArgsExprs, ArgsStrings, ArgsSymbols:
		p.args(s)
	}
}

// Rest is the statement's text after its name, without the blanks around.
func (s *Stmt) Rest(l *Line) string {
	return strings.TrimSpace(l.Text[s.NameEnd:s.End])
}

// Value reads the expression that a text begins with, and says how many bytes it
// takes. Where no value is, the operand has no kind.
func Value(text string) (o Operand, n int, err *Error) {
	p := parser{s: text, comment: -1, inArgs: true}
	if p.atEnd() || p.peek() == ',' {
		return o, 0, nil
	}
	b := p.i
	o.Start = int32(b)
	o.Kind = isa.OpExpr
	if w := p.ident(); w != "" && w != "." {
		if t := p.peek(); t == 0 || t == ',' {
			o.Word, o.End = w, int32(b+len(w))
			return o, b + len(w), nil
		}
	}
	p.i = b
	x := p.expr(1, 0)
	if x.none {
		return Operand{}, p.i, nil
	}
	o.setValue(&p, x)
	if p.refused() {
		return o, p.i, p.err
	}
	o.End = int32(p.i)
	return o, p.i, nil
}
