package syntax

import (
	"hash/maphash"
	"strings"

	"narrowgauge/isa"
)

// Character classes, for one table look-up a byte.
const (
	cIdent = 1 << iota // may be in an identifier
	cStart             // may start an identifier
	cDigit             // 0–9
	cSpace             // blank, tab and other control characters
	cEnd               // may end a statement: ; @ / and the like
)

var class = func() (t [256]uint8) {
	for c := 0; c < 256; c++ {
		switch {
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_' || c == '.' || c == '$' || c >= 0x80:
			t[c] = cIdent | cStart
		case c >= '0' && c <= '9':
			t[c] = cIdent | cDigit
		case c == ' ' || c == '\t' || c == '\r' || c == '\f' || c == '\v':
			t[c] = cSpace
		case c == ';' || c == '@' || c == '/':
			t[c] = cEnd
		}
	}
	return
}()

// parser reads one line at a time and takes its nodes from slabs, so that a
// large file costs few allocations.
type parser struct {
	s string // the line
	i int    // next byte

	inArgs   bool // in the arguments of a directive
	whole    bool // whose values are kept as expressions
	relocs   bool // relocations may be after symbols in expressions
	comment  int32
	across   across
	crossed  bool // some line so far has that
	state    lexState
	dialect  Dialect
	plain    bool          // variables have been put in already
	mnemonic *isa.Mnemonic // whose operands are read, in the column dialect
	err      *Error

	stmts []Stmt
	first int // index of the line's first statement in stmts
	ops   []Operand
	from  int // index of the instruction's first operand in ops
	exprs []Expr
	lines []Line
	slab  int // size of the next slab, in items
	// recent are lines by what their text hashes to with the seed; see parseLine.
	recent *[recentLines]*Line
	seed   maphash.Seed
}

// aSlab is the size of a slab of a large file, in items, and recentLines how many lines
// the next one is compared with.
const (
	aSlab       = 4096
	recentLines = 1 << 14
)

func (p *parser) newExpr() *Expr {
	if len(p.exprs) == 0 {
		p.exprs = make([]Expr, max(p.slab/4, 4))
	}
	e := &p.exprs[0]
	p.exprs = p.exprs[1:]
	return e
}

// fail notes an error. The first one of a statement stays, but one that
// assemblers refuse the statement for takes the place of one they warn about.
func (p *parser) fail(start, end int, msg string) {
	if p.err == nil || p.err.Mild {
		if end <= start {
			end = start + 1
		}
		p.err = &Error{Start: int32(start), End: int32(end), Message: msg}
	}
}

// refused says whether the statement has an error that is not mild.
func (p *parser) refused() bool { return p.err != nil && !p.err.Mild }

// mild notes what assemblers only warn about.
func (p *parser) mild(start, end int, msg string) {
	if p.err == nil {
		p.fail(start, end, msg)
		p.err.Mild = true
	}
}

// skip passes blanks and block comments. It stops at anything else.
func (p *parser) skip() {
	for p.i < len(p.s) {
		c := p.s[p.i]
		if class[c]&cSpace != 0 {
			p.i++
			continue
		}
		if c == '/' && p.i+1 < len(p.s) && p.s[p.i+1] == '*' {
			if p.comment < 0 {
				p.comment = int32(p.i)
			}
			p.i += 2
			p.blockComment()
			continue
		}
		return
	}
}

// blockComment passes the rest of a block comment, or the rest of the line.
func (p *parser) blockComment() {
	for ; p.i+1 < len(p.s); p.i++ {
		if p.s[p.i] == '*' && p.s[p.i+1] == '/' {
			p.i += 2
			p.state = inCode
			return
		}
	}
	p.i = len(p.s)
	p.state = inComment
}

// Uncommented is a text, a part of one line, with blanks in the place of the comments
// inside of it, so that all else is where it was.
func Uncommented(text string) string {
	if !strings.Contains(text, "/*") {
		return text
	}
	out := []byte(text)
	p := parser{s: text, comment: -1, inArgs: true}
	for p.i < len(text) {
		switch b := p.i; {
		case text[b] == '"':
			p.stringLit()
		case text[b] == '\'':
			p.char()
		case strings.HasPrefix(text[b:], "/*"):
			for p.skip(); b < p.i; b++ {
				out[b] = ' '
			}
		default:
			p.i++
		}
	}
	return string(out)
}

// WithoutComments is a piece of a line without the comments in it, and without blanks
// at its ends.
func WithoutComments(s string) string {
	for {
		before, behind, ok := strings.Cut(s, "/*")
		_, after, closed := strings.Cut(behind, "*/")
		if !ok || !closed {
			return strings.TrimSpace(s)
		}
		s = strings.TrimRight(before, " \t")
		after = strings.TrimLeft(after, " \t")
		if s != "" && after != "" && !strings.ContainsRune(",]}", rune(after[0])) && !strings.ContainsRune("#$=[{", rune(s[len(s)-1])) {
			s += " "
		}
		s += after
	}
}

// atEnd says whether the statement ends here: at the end of the line, at a
// separator or at a comment.
func (p *parser) atEnd() bool {
	p.skip()
	if p.i >= len(p.s) {
		return true
	}
	switch p.s[p.i] {
	case ';':
		return true
	case '@':
		return p.dialect.commentMark()
	case '/':
		return p.i+1 < len(p.s) && p.s[p.i+1] == '/'
	}
	return false
}

// peek is the next byte that is not a blank, 0 at the end of the statement.
func (p *parser) peek() byte {
	if p.atEnd() {
		return 0
	}
	return p.s[p.i]
}

// eat passes the byte c, if it comes next.
func (p *parser) eat(c byte) bool {
	if p.peek() == c {
		p.i++
		return true
	}
	return false
}

// starts says whether a character may be at the beginning of a name.
func (p *parser) starts(c byte) bool {
	return class[c]&cStart != 0 || c == '?' && p.dialect == Modules
}

// ident reads an identifier or word; empty when none is here.
func (p *parser) ident() string {
	b := p.i
	if b >= len(p.s) || !p.starts(p.s[b]) {
		return ""
	}
	for p.i < len(p.s) && (class[p.s[p.i]]&cIdent != 0 || p.s[p.i] == '?' && p.dialect == Modules) {
		p.i++
	}
	return p.s[b:p.i]
}

// toEnd passes everything up to the end of the statement, strings as a whole.
func (p *parser) toEnd() {
	if p.dialect == Columns {
		p.columnToEnd()
		return
	}
	for !p.atEnd() {
		if c := p.s[p.i]; c == '"' {
			p.stringLit()
		} else if c == '\'' && p.i+1 < len(p.s) {
			// A character, maybe with a backslash and a closing quote.
			if p.i++; p.s[p.i] == '\\' && p.i+1 < len(p.s) {
				p.i++
			}
			if p.i++; p.i < len(p.s) && p.s[p.i] == '\'' {
				p.i++
			}
		} else {
			p.i++
		}
	}
}

// stringLit reads a string with the usual escapes, the quotes included.
func (p *parser) stringLit() string {
	b := p.i
	p.i++
	plain := true
	for p.i < len(p.s) && p.s[p.i] != '"' {
		if p.s[p.i] == '\\' {
			plain = false
			p.i++
		}
		p.i++
	}
	if p.i >= len(p.s) {
		p.i = len(p.s)
		p.across |= openString
		if p.inArgs {
			p.mild(b, p.i, "the string has no closing quote")
		} else {
			p.fail(b, p.i, "the string has no closing quote")
		}
		return p.s[b+1:]
	}
	p.i++
	raw := p.s[b+1 : p.i-1]
	if plain {
		return raw
	}
	return unescape(raw)
}

func unescape(raw string) string {
	out := make([]byte, 0, len(raw))
	for i := 0; i < len(raw); i++ {
		c := raw[i]
		if c != '\\' || i+1 >= len(raw) {
			out = append(out, c)
			continue
		}
		i++
		v, n := escape(raw[i:])
		out = append(out, v)
		i += n - 1
	}
	return string(out)
}

// escape decodes the characters after a backslash and says how many it took.
func escape(s string) (v byte, n int) {
	switch c := s[0]; {
	case c >= '0' && c <= '7':
		for n < 3 && n < len(s) && s[n] >= '0' && s[n] <= '7' {
			v = v<<3 | s[n] - '0'
			n++
		}
		return v, n
	case c == 'x' || c == 'X':
		n = 1
		for n < len(s) && hexDigit(s[n]) >= 0 {
			v = v<<4 | byte(hexDigit(s[n]))
			n++
		}
		return v, n
	}
	switch s[0] {
	case 'n':
		return '\n', 1
	case 't':
		return '\t', 1
	case 'r':
		return '\r', 1
	case 'b':
		return '\b', 1
	case 'f':
		return '\f', 1
	}
	return s[0], 1
}

func hexDigit(c byte) int {
	switch {
	case c >= '0' && c <= '9':
		return int(c - '0')
	case c >= 'a' && c <= 'f':
		return int(c-'a') + 10
	case c >= 'A' && c <= 'F':
		return int(c-'A') + 10
	}
	return -1
}
