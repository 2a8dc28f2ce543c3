package preprocess

import (
	"sort"
	"strings"
)

// kind of a token.
type kind uint8

const (
	kEOF kind = iota
	kPad      // no text; says what blanks the next token has
	kName
	kNum
	kChar
	kStr
	kHeader // <name> in #include
	kPunct
	kOther
	kParam // a parameter, in a macro's text
)

// tok is a token. Only tokens that nobody else holds yet are changed.
type token struct {
	text     string
	src      *token  // kPad: whose blanks to take; nil for the next token's
	owner    *Macro  // the macro in whose text it is; nil outside
	used     *Macro  // the macro that it was noted as a use of
	unit     *origin // where it is written; nil for what a macro made
	off, end int     // there
	arg      int32   // kParam: its number
	kind     kind
	white    bool // blanks or a comment are in front
	bol      bool // the first of its line
	blue     bool // never expanded again
	paste    bool // ## follows
	str      bool // kParam: # is in front
	quiet    bool // inside an '@' comment
	split    bool // kPad: compilers begin a line of their own here
}

// arena hands out tokens in blocks.
type arena struct {
	blocks [][]token
	block  int
	n      int
}

func (a *arena) new() *token {
	if a.block == len(a.blocks) {
		size := 64
		if a.block > 0 {
			size = 1024
		}
		a.blocks = append(a.blocks, make([]token, size))
	}
	b := a.blocks[a.block]
	t := &b[a.n]
	if a.n++; a.n == len(b) {
		a.block++
		a.n = 0
	}
	*t = token{}
	return t
}

// reset makes all tokens free again. Large arenas are given up.
func (a *arena) reset() {
	if len(a.blocks) > 64 {
		a.blocks = a.blocks[:4:4]
	}
	a.block, a.n = 0, 0
}

// Character classes.
const (
	cOther = iota
	cBlank
	cName // starts a name
	cDigit
	cDot
	cQuote
	cSlash
	cHash
)

var class = func() (t [256]uint8) {
	for c := 0; c < 256; c++ {
		switch {
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c == '_':
			t[c] = cName
		case c >= '0' && c <= '9':
			t[c] = cDigit
		case c == ' ' || c == '\t' || c == '\f' || c == '\v' || c == 0:
			t[c] = cBlank
		case c == '.':
			t[c] = cDot
		case c == '"' || c == '\'':
			t[c] = cQuote
		case c == '/':
			t[c] = cSlash
		case c == '#':
			t[c] = cHash
		}
	}
	return
}()

func nameEnd(s string, p int) int {
	for p < len(s) {
		if k := class[s[p]]; k != cName && k != cDigit {
			break
		}
		p++
	}
	return p
}

// numEnd is where the preprocessing number at p ends (6.4.8).
func numEnd(s string, p int) int {
	for p++; p < len(s); p++ {
		switch c := s[p]; class[c] {
		case cName, cDigit, cDot:
			continue
		default:
			if c == '+' || c == '-' {
				if e := s[p-1] | 0x20; e == 'e' || e == 'p' {
					continue
				}
			}
		}
		break
	}
	return p
}

// quoteEnd is where the literal whose quote is at p ends. Without a closing
// quote it takes the rest of the line and ok is false.
func quoteEnd(s string, p int, header bool) (end int, ok bool) {
	q := s[p]
	for p++; p < len(s); p++ {
		switch s[p] {
		case q:
			return p + 1, true
		case '\\':
			if !header {
				p++
			}
		}
	}
	return len(s), false
}

// lexToken reads the token at p, where neither a blank nor a comment is.
func lexToken(s string, p int, header bool) (k kind, end int) {
	c := s[p]
	switch class[c] {
	case cName:
		end = nameEnd(s, p)
		if c == 'L' && end == p+1 && end < len(s) && class[s[end]] == cQuote {
			return quoted(s, end, header)
		}
		return kName, end
	case cDigit:
		return kNum, numEnd(s, p)
	case cDot:
		if p+1 < len(s) && class[s[p+1]] == cDigit {
			return kNum, numEnd(s, p)
		}
		if strings.HasPrefix(s[p:], "...") {
			return kPunct, p + 3
		}
		return kPunct, p + 1
	case cQuote:
		return quoted(s, p, header)
	}
	if header && c == '<' {
		if n := strings.IndexByte(s[p:], '>'); n >= 0 {
			return kHeader, p + n + 1
		}
	}
	d, e := byte(0), byte(0)
	if p+1 < len(s) {
		d = s[p+1]
		if p+2 < len(s) {
			e = s[p+2]
		}
	}
	switch c {
	case '<', '>':
		if d == c {
			if e == '=' {
				return kPunct, p + 3
			}
			return kPunct, p + 2
		}
		if d == '=' {
			return kPunct, p + 2
		}
		return kPunct, p + 1
	case '+', '&', '|':
		if d == c || d == '=' {
			return kPunct, p + 2
		}
		return kPunct, p + 1
	case '-':
		if d == c || d == '=' || d == '>' {
			return kPunct, p + 2
		}
		return kPunct, p + 1
	case '=', '!', '*', '/', '%', '^':
		if d == '=' {
			return kPunct, p + 2
		}
		return kPunct, p + 1
	case '#':
		if d == '#' {
			return kPunct, p + 2
		}
		return kPunct, p + 1
	case '(', ')', '[', ']', '{', '}', ',', ';', ':', '?', '~', '@':
		return kPunct, p + 1
	}
	for p++; c >= 0x80 && p < len(s) && s[p] >= 0x80; p++ {
	}
	return kOther, p
}

func quoted(s string, p int, header bool) (kind, int) {
	end, ok := quoteEnd(s, p, header)
	switch {
	case !ok:
		return kOther, end
	case s[p] == '"':
		return kStr, end
	}
	return kChar, end
}

// cleanLine is a line with those that backslashes join to it.
type cleanLine struct {
	text string
	last int // its last line in the file
	// Where pieces of the text come from; none: one piece, at raw.
	raw    int
	pieces []piece
}

type piece struct{ at, raw int }

func (c *cleanLine) offset(at int) int {
	if len(c.pieces) == 0 {
		return c.raw + at
	}
	k := sort.Search(len(c.pieces), func(k int) bool { return c.pieces[k].at > at }) - 1
	return c.pieces[k].raw + at - c.pieces[k].at
}

// continued says whether a backslash joins the next line to this one, and
// where it is. Compilers let blanks follow it.
func continued(s string) (int, bool) {
	n := len(s)
	for n > 0 && class[s[n-1]] == cBlank {
		n--
	}
	if n > 0 && s[n-1] == '\\' {
		return n - 1, true
	}
	return 0, false
}

// continued says so of line i. The last line has nothing to be joined to.
func (f *file) continued(i int) (int, bool) {
	if i+1 == f.n {
		return 0, false
	}
	return continued(f.raw.Line(i).Text)
}

func (f *file) clean(i int) cleanLine {
	s := f.raw.Line(i).Text
	c := cleanLine{text: s, last: i, raw: f.raw.LineStart(i)}
	n, ok := f.continued(i)
	if !ok {
		return c
	}
	var b strings.Builder
	for {
		c.pieces = append(c.pieces, piece{b.Len(), f.raw.LineStart(i)})
		if !ok {
			n = len(s)
		}
		b.WriteString(s[:n])
		c.last = i
		if i++; !ok {
			break
		}
		s = f.raw.Line(i).Text
		n, ok = f.continued(i)
	}
	c.text = b.String()
	return c
}

// tokens cuts the logical line that begins with line i into tokens, which it
// adds to dst. open says whether the line begins inside a comment. next is the
// first line that does not belong to it; still says that the file ends inside a
// comment. After a limit tokens are left out, and tooLong is set.
func (f *file) tokens(a *arena, dst []*token, i int, open bool) (toks []*token, next int, still bool) {
	white, bol := false, true
	first := len(dst)
	for ; i < f.n; open = true {
		c := f.clean(i)
		s := c.text
		i = c.last + 1
		p := 0
		if open {
			k := strings.Index(s, "*/")
			if k < 0 {
				continue
			}
			p = k + 2
			open, white = false, true
		}
	line:
		for p < len(s) {
			switch class[s[p]] {
			case cBlank:
				white = true
				p++
				continue
			case cSlash:
				if p+1 < len(s) && s[p+1] == '/' {
					break line
				}
				if p+1 < len(s) && s[p+1] == '*' {
					white = true
					f.openAt = c.offset(p)
					k := strings.Index(s[p+2:], "*/")
					if k < 0 {
						open = true
						break line
					}
					p += k + 4
					continue
				}
			}
			k, end := lexToken(s, p, headerNext(dst[first:]))
			if len(dst) >= maxTokens {
				f.tooLong = true
				p = end
				continue
			}
			t := a.new()
			t.kind, t.text, t.unit = k, s[p:end], f.unit.origin
			t.off, t.end = c.offset(p), c.offset(end-1)+1
			t.white, t.bol = white, bol
			white, bol = false, false
			dst = append(dst, t)
			p = end
		}
		if !open {
			return dst, i, false
		}
	}
	return dst, i, true
}

// headerNext says whether a header's name may come next.
func headerNext(ts []*token) bool {
	n := len(ts)
	if n < 2 || ts[0].text != "#" {
		return false
	}
	if n == 2 {
		switch ts[1].text {
		case "include", "include_next", "import":
			return true
		}
		return false
	}
	return ts[n-1].text == "(" && (ts[n-2].text == "__has_include" || ts[n-2].text == "__has_include_next")
}

// mayPaste says whether two tokens without a blank between them could be read
// as something else.
func mayPaste(x, y *token) bool {
	b := y.kind
	var c byte
	if b == kPunct {
		c = y.text[0]
	}
	switch x.kind {
	case kName:
		return b == kName || (b == kChar || b == kStr) && y.text[0] != 'L' || b == kNum && nameEnd(y.text, 0) == len(y.text)
	case kNum:
		return b == kNum || b == kName || b == kChar && y.text[0] != 'L' || c == '.' || c == '+' || c == '-'
	case kOther:
		return x.text[0] == '\\' && b == kName
	case kPunct:
	default:
		return false
	}
	if c == '=' {
		switch x.text {
		case "=", "!", ">", "<", "+", "-", "*", "/", "%", "&", "|", "^", ">>", "<<":
			return true
		}
	}
	switch x.text {
	case ">":
		return c == '>'
	case "<":
		return c == '<' || c == '%' || c == ':'
	case "+":
		return c == '+'
	case "-":
		return c == '-' || c == '>'
	case "/":
		return c == '/' || c == '*'
	case "%":
		return c == ':' || c == '>'
	case "&":
		return c == '&'
	case "|":
		return c == '|'
	case ":":
		return c == ':' || c == '>'
	case "->":
		return c == '*'
	case ".":
		return c == '.' || c == '%' || b == kNum
	case "#":
		return c == '#' || c == '%'
	}
	return false
}
