package syntax

import (
	"strconv"
	"strings"
)

// Macros work on text: the assembler takes comments and needless blanks out of
// a line, keeps the body of a macro so, and puts the text of the arguments in.
// What comes out is read like any other text. This file has the text side:
// what a line is reduced to (Reduced), how arguments are split (arguments),
// and how they get into a body (Template.Expand).

// scrubState says where in a line the reduction of blanks is.
type scrubState uint8

const (
	scrubStart scrubState = iota // nothing yet
	scrubBlank                   // blanks, or a label and blanks
	scrubWord                    // in the first word: mnemonic or directive
	scrubArgs                    // in the operands, after an operator
	scrubName                    // in the operands, after a name or number
	scrubGap                     // blanks after a name or number
)

// inWord says whether blanks after c and before c matter: brackets and
// braces count with the letters and digits.
func inWord(c byte) bool {
	return class[c]&cIdent != 0 || c == '[' || c == ']' || c == '{' || c == '}'
}

// reduced is what the assembler keeps of text: no comments, one blank after
// the first word, and blanks only between names in what follows; a character
// constant becomes its number. Statements stay separated by ';'. comment says
// whether the text begins inside a block comment, and the second result
// whether it ends in one. With semi ';' starts a comment.
func reduced(text string, state scrubState, comment, semi bool) (string, bool) {
	r := reducer{text: text, out: make([]byte, 0, len(text)+1), state: state, comment: comment, semi: semi, first: state == scrubStart}
	for r.i < len(text) || r.comment {
		if r.comment || r.opensComment() || class[text[r.i]]&cSpace != 0 {
			if !r.blank() {
				return string(r.out), true
			}
		} else if !r.token() {
			break
		}
	}
	return strings.TrimRight(string(r.out), " "), false
}

// reducer makes the reduced text.
type reducer struct {
	text    string
	i       int
	out     []byte
	state   scrubState
	comment bool // the text goes on inside a block comment
	first   bool // it is the beginning of a line
	semi    bool
}

func (r *reducer) put(c byte) { r.out = append(r.out, c) }

// opensComment says whether a block comment begins here.
func (r *reducer) opensComment() bool {
	return r.i+1 < len(r.text) && r.text[r.i] == '/' && r.text[r.i+1] == '*'
}

// gap puts a blank that was held back, as it is needed.
func (r *reducer) gap() {
	if r.state == scrubGap {
		r.put(' ')
		r.state = scrubArgs
	}
}

// blank reads a blank or a block comment, which are the same. It says false if the comment
// does not end.
func (r *reducer) blank() bool {
	if !r.comment && class[r.text[r.i]]&cSpace != 0 {
		r.i++
	} else {
		from := r.i
		if !r.comment {
			from += 2
		}
		end := strings.Index(r.text[min(from, len(r.text)):], "*/")
		if end < 0 {
			return false
		}
		r.i, r.comment = from+end+2, false
	}
	if r.i < len(r.text) {
		switch c := r.text[r.i]; {
		case class[c]&cSpace != 0, c == ';', r.opensComment():
			return true
		case c == ':' && r.state == scrubWord:
			r.put(':')
			r.i++
			r.state = scrubBlank
			return true
		}
	}
	switch r.state {
	case scrubStart:
		r.put(' ')
		r.state = scrubBlank
	case scrubWord:
		r.put(' ')
		r.state = scrubArgs
	case scrubName:
		r.state = scrubGap
	}
	return true
}

// token reads what is no blank. It says false at a comment that goes on to the line's end.
func (r *reducer) token() bool {
	c := r.text[r.i]
	escaped := r.i > 0 && r.text[r.i-1] == '\\'
	switch {
	case c == '@' && !escaped,
		c == '/' && r.i+1 < len(r.text) && r.text[r.i+1] == '/' && !escaped,
		c == '#' && r.first && (r.state == scrubStart || r.state == scrubBlank) && len(strings.TrimSpace(string(r.out))) == 0,
		c == ';' && r.semi:
		return false
	case c == ';':
		r.put(c)
		r.state = scrubBlank
		r.i++
	case c == '"':
		r.quoted()
	case c == '\'':
		r.character()
	case c == ':':
		r.put(c)
		r.i++
		switch r.state {
		case scrubName, scrubGap:
			r.state = scrubArgs
		case scrubArgs:
		default:
			r.state = scrubBlank
		}
	default:
		r.plain(c)
	}
	return true
}

// quoted copies a text in quotes.
func (r *reducer) quoted() {
	r.gap()
	if r.state == scrubArgs {
		r.state = scrubName
	}
	b := r.i
	for r.i++; r.i < len(r.text) && r.text[r.i] != '"'; r.i++ {
		if r.text[r.i] == '\\' {
			r.i++
		}
	}
	r.i = min(r.i+1, len(r.text))
	r.out = append(r.out, r.text[b:r.i]...)
}

// character puts the number of a character constant.
func (r *reducer) character() {
	r.gap()
	r.i++
	if r.state == scrubName {
		r.state = scrubArgs
	}
	if r.i == len(r.text) {
		r.out = append(r.out, "10"...) // the line's end itself
		return
	}
	v := r.text[r.i]
	if v == '\\' && r.i+1 < len(r.text) {
		r.i++
		switch v = r.text[r.i]; v {
		case 'b':
			v = '\b'
		case 'f':
			v = '\f'
		case 'n':
			v = '\n'
		case 'r':
			v = '\r'
		case 't':
			v = '\t'
		}
	}
	r.i++
	if r.i < len(r.text) && r.text[r.i] == '\'' {
		r.i++
	}
	r.out = strconv.AppendInt(r.out, int64(v), 10)
}

// plain copies any other character.
func (r *reducer) plain(c byte) {
	if c == '\\' || inWord(c) {
		r.gap()
	}
	switch {
	case r.state == scrubStart, r.state == scrubBlank:
		r.state = scrubWord
	case r.state == scrubWord:
	case inWord(c):
		r.state = scrubName
	default:
		r.state = scrubArgs
	}
	r.put(c)
	r.i++
}

// Reduced is the text of a statement after its name as macros see it: without
// comments, and with blanks only where they matter.
func (s *Stmt) Reduced(l *Line) string {
	return ReducedArgs(l.Text[s.NameEnd:s.CallEnd(l)])
}

// CallEnd is the column after the statement's arguments when the statement is
// the call of a macro: they go on to the next ';', whatever they look like.
func (s *Stmt) CallEnd(l *Line) int32 {
	i := int(s.NameEnd)
	for i < len(l.Text) {
		switch c := l.Text[i]; {
		case c == ';', c == '@' && (i == 0 || l.Text[i-1] != '\\'), c == '/' && strings.HasPrefix(l.Text[i:], "//"):
			return int32(i)
		case c == '"':
			for i++; i < len(l.Text) && l.Text[i] != '"'; i++ {
				if l.Text[i] == '\\' {
					i++
				}
			}
			i++
		case c == '\'':
			if i++; i < len(l.Text) && l.Text[i] == '\\' {
				i++
			}
			i++
		case c == '/' && strings.HasPrefix(l.Text[i:], "/*"):
			end := strings.Index(l.Text[i+2:], "*/")
			if end < 0 {
				return int32(len(l.Text))
			}
			i += end + 4
		default:
			i++
		}
	}
	return int32(len(l.Text))
}

// statementEnd is the index of the next ';' or of the end of a reduced text
// from i on, strings passed over.
func statementEnd(s string, i int) int {
	quoted, escaped := false, false
	for ; i < len(s) && (s[i] != ';' || quoted); i++ {
		switch {
		case escaped:
			escaped = false
		case s[i] == '\\':
			escaped = true
		case s[i] == '"':
			quoted = !quoted
		}
	}
	return i
}

// Body is the text of a macro or repetition up to its end.
type Body struct {
	// Lines are the reduced lines; the first one is what is after the
	// opening directive on its own line.
	Lines []string
	// NextLine and NextStmt are where the file goes on, after the end.
	NextLine, NextStmt int
	// Whole: the body consists of whole lines, First+1 up to NextLine.
	Whole bool
	// Closed is false when the file ends first; depth is how many ends are
	// missing then.
	Closed bool
	depth  int
}

// Bodies remembers what the lines of bodies come to: a text that is gone through again and again
// has its bodies read each time. The zero value is ready for use, and nil remembers nothing; it is
// for one goroutine.
type Bodies struct {
	lines map[bodyPlace]*bodyLine
}

type bodyPlace struct {
	file *File
	line int
}

// maxBodies bounds the lines that are remembered: a body may be as long as a file can be.
const maxBodies = 100_000

// bodyLine is a whole line in a body, which does not begin in a comment.
type bodyLine struct {
	comment bool // it ends in one
	text    string
	words   [2][]bodyNest // for macros, and for repetitions
}

// bodyNest is a directive that opens or closes a body: where it and its statement are in the text.
type bodyNest struct{ nest, at, end int }

// line is line i of a file.
func (r *Bodies) line(f *File, i int) *bodyLine {
	l := r.lines[bodyPlace{f, i}]
	if l != nil {
		return l
	}
	l = &bodyLine{}
	l.text, l.comment = reduced(f.Line(i).Text, scrubStart, false, f.dialect == Semicolon)
	for k := range l.words {
		l.words[k] = nests(l.text, k == 1)
	}
	if r.lines == nil {
		r.lines = map[bodyPlace]*bodyLine{}
	}
	if len(r.lines) < maxBodies {
		r.lines[bodyPlace{f, i}] = l
	}
	return l
}

// nests are the directives of a reduced text that open or close bodies.
func nests(text string, repetition bool) (out []bodyNest) {
	for k := 0; k < len(text); {
		e := statementEnd(text, k)
		if nest, at := bodyWord(text[k:e], repetition); nest != 0 {
			out = append(out, bodyNest{nest, k + at, e})
		}
		k = e + 1
	}
	return out
}

// bodyWord says what a statement of a body means for its nesting: 1 opens, -1
// closes. at is where the directive is, after labels.
func bodyWord(stmt string, repetition bool) (nest, at int) {
	i := 0
	for {
		i = blanks(stmt, i)
		b := i
		word, e := token(stmt, i, false)
		i = blanks(stmt, e)
		if i < len(stmt) && stmt[i] == ':' && word != "" {
			i++ // a label
			continue
		}
		if len(word) < 4 || word[0] != '.' {
			return 0, b
		}
		word = strings.ToLower(word[1:])
		if repetition {
			switch word {
			case "rept", "rep", "irp", "irpc", "irep", "irepc":
				return 1, b
			case "endr":
				return -1, b
			}
			return 0, b
		}
		switch word {
		case "macro":
			return 1, b
		case "endm":
			return -1, b
		}
		return 0, b
	}
}

// Body reads the body of a macro or, with repetition, of .rept and the like.
// The opening directive ends in line at column col: at a ';', a comment or the
// line's end.
func (f *File) Body(line int, col int32, repetition bool) Body {
	return f.body(nil, Body{depth: 1}, line, col, f.NumLines(), repetition)
}

// Body is the body that begins in a file, as File.Body reads it.
func (r *Bodies) Body(f *File, line int, col int32, repetition bool) Body {
	return r.BodyUntil(f, line, col, f.NumLines(), repetition)
}

// BodyUntil is Body for a file that another text interrupts in front of line
// end: More reads on there.
func (r *Bodies) BodyUntil(f *File, line int, col int32, end int, repetition bool) Body {
	return f.body(r, Body{depth: 1}, line, col, end, repetition)
}

// More reads the lines [line,end) of a file on to the body.
func (r *Bodies) More(b Body, f *File, line, end int, repetition bool) Body {
	b = f.body(r, b, line, -1, end, repetition)
	b.Whole = false
	return b
}

// Resume reads on in another file, at a column of a line, when the file with the
// beginning has ended: the text after the call of a macro may end what the macro
// begins.
func (r *Bodies) Resume(b Body, f *File, line int, col int32, repetition bool) Body {
	b = f.body(r, b, line, col, f.NumLines(), repetition)
	b.Whole = false
	return b
}

// body reads lines up to end. The first one counts from column col on, which
// is after a directive or call; -1 for the whole line.
func (f *File) body(r *Bodies, b Body, line int, col int32, end int, repetition bool) Body {
	depth := b.depth
	comment := false
	which := 0
	if repetition {
		which = 1
	}
	for i := line; i < end; i++ {
		opening := i == line && col >= 0
		var text string
		var words []bodyNest
		switch {
		case opening:
			text = f.Line(i).Text[col:]
			if strings.HasPrefix(text, ";") && f.dialect == Dots {
				text = text[1:]
				col++
			}
			text, _ = reduced(text, scrubBlank, comment, f.dialect == Semicolon)
			words = nests(text, repetition)
			comment = f.Line(i).EndsInComment() // which may begin in front of col
		case r != nil && !comment:
			l := r.line(f, i)
			text, words, comment = l.text, l.words[which], l.comment
		default:
			text, comment = reduced(f.Line(i).Text, scrubStart, comment, f.dialect == Semicolon)
			words = nests(text, repetition)
		}
		for _, w := range words {
			if depth += w.nest; depth > 0 {
				continue
			}
			// Labels in front of the end belong to the body.
			rest := text[:w.at]
			whole := strings.TrimSpace(rest) == ""
			b.Whole = whole && i > line && strings.TrimSpace(b.Lines[0]) == ""
			if !whole || opening {
				b.Lines = append(b.Lines, rest)
			}
			b.Closed, b.NextLine, b.NextStmt = true, i, len(f.Line(i).Stmts)
			if w.end < len(text) {
				if !opening {
					col = 0
				}
				b.NextStmt = f.Line(i).stmtBehind(col, strings.Count(text[:w.end], ";")-inStrings(text[:w.end]))
			}
			return b
		}
		b.Lines = append(b.Lines, text)
	}
	b.NextLine, b.depth = end, depth
	return b
}

// inStrings counts the ';' of a reduced text that separate nothing.
func inStrings(s string) int {
	n := strings.Count(s, ";")
	for k := statementEnd(s, 0); k < len(s); k = statementEnd(s, k+1) {
		n--
	}
	return n
}

// stmtBehind is the index of the first statement that is after n+1
// separators from column col on.
func (l *Line) stmtBehind(col int32, n int) int {
	for ; n >= 0; n-- {
		s := Stmt{NameEnd: col}
		col = min(s.CallEnd(l)+1, int32(len(l.Text)))
	}
	for k := range l.Stmts {
		if l.Stmts[k].Start >= col {
			return k
		}
	}
	return len(l.Stmts)
}

// Part is the lines a up to b as a file that shares them.
func (f *File) Part(a, b int) *File {
	f.await(b)
	return &File{text: f.text, start: f.start[a:b:b], lines: f.lines[a:b:b], cut: -1, dialect: f.dialect, forced: true}
}

// Param is a parameter of a macro.
type Param struct {
	Name    string
	Default string
	Need    bool // :req
	Rest    bool // :vararg
}

// Template is a body with parameters.
type Template struct {
	Params []Param
	Body   string // the reduced lines, each with its line end
	// Numbered: the body asks for the number of the call; Locals: for names of
	// its own.
	Numbered, Locals bool
}

// NewTemplate makes a template of a body.
func NewTemplate(params []Param, lines []string) *Template {
	t := &Template{Params: params, Body: strings.Join(lines, "\n") + "\n"}
	t.Numbered = strings.Contains(t.Body, `\@`)
	t.Locals = strings.Contains(strings.ToLower(t.Body), "local")
	return t
}

// token reads a name; after a name of the other dialect of macros a '&' is
// passed.
func token(s string, i int, alt bool) (string, int) {
	b := i
	if i < len(s) && class[s[i]]&cStart != 0 {
		for i < len(s) && class[s[i]]&cIdent != 0 {
			i++
		}
	}
	name := s[b:i]
	if alt && i < len(s) && s[i] == '&' {
		i++
	}
	return name, i
}

func blanks(s string, i int) int {
	for i < len(s) && (s[i] == ' ' || s[i] == '\t') {
		i++
	}
	return i
}

// comma passes blanks and at most one comma.
func comma(s string, i int) int {
	i = blanks(s, i)
	if i < len(s) && s[i] == ',' {
		i = blanks(s, i+1)
	}
	return i
}

// MacroText is how the text of macros is read now.
type MacroText struct {
	Alt bool // .altmacro is in force
	// Eval computes the expression in front of text, and says how long it is.
	Eval func(text string) (v int64, n int)
	// Number is the number of the call, for \@.
	Number uint32
	// Local makes a name for a LOCAL; nil outside macros.
	Local func() string
}

// quoted reads strings, and in the other dialect <…>, that follow each other.
func (m *MacroText) quoted(s string, i int) (string, int) {
	var out []byte
	for i < len(s) && (s[i] == '"' || m.Alt && (s[i] == '<' || s[i] == '\'')) {
		if s[i] == '<' {
			nest := 0
			for i++; i < len(s) && (s[i] != '>' || nest > 0); i++ {
				switch s[i] {
				case '!':
					if i++; i == len(s) {
						return string(out), i
					}
				case '>':
					nest--
				case '<':
					nest++
				}
				out = append(out, s[i])
			}
			i++
			continue
		}
		q, escaped := s[i], false
		for i++; i < len(s); {
			escaped = s[i-1] == '\\' && !escaped
			if m.Alt && s[i] == '!' {
				if i++; i < len(s) {
					out = append(out, s[i])
					i++
				}
				continue
			}
			if s[i] == q && !escaped {
				if i++; i >= len(s) || s[i] != q {
					break
				}
			}
			out = append(out, s[i])
			i++
		}
	}
	return string(out), min(i, len(s))
}

// argument reads one argument, or the default of a parameter.
func (m *MacroText) argument(s string, i int) (string, int) {
	i = blanks(s, i)
	if i >= len(s) {
		return "", i
	}
	if i+2 < len(s) && s[i+1] == '\'' && strings.IndexByte("bBqQhHdD", s[i]) >= 0 {
		b := i
		for i < len(s) && !m.separator(s[i]) {
			i++
		}
		return s[b:i], i
	}
	switch c := s[i]; {
	case c == '%' && m.Alt && m.Eval != nil:
		v, n := m.Eval(s[i+1:])
		return strconv.FormatInt(v, 10), min(i+1+n, len(s))
	case c == '"' || m.Alt && (c == '<' || c == '\''):
		text, end := m.quoted(s, i)
		if m.Alt && c != '<' {
			text = `"` + text + `"`
		}
		return text, end
	}
	var open []byte
	b := i
	for ; i < len(s) && s[i] != ',' && (len(open) > 0 || s[i] != ' ' && s[i] != '\t') && (s[i] != '<' || !m.Alt); i++ {
		switch c := s[i]; c {
		case '"', '\'':
			for i++; i < len(s) && s[i] != c; i++ {
			}
			if i == len(s) {
				return s[b:], i
			}
		case '(', '[':
			open = append(open, c)
		case ')', ']':
			if n := len(open); n > 0 && (c == ')') == (open[n-1] == '(') {
				open = open[:n-1]
			}
		}
	}
	return s[b:i], i
}

func (m *MacroText) separator(c byte) bool {
	return strings.IndexByte(" \t,\";()", c) >= 0 || m.Alt && (c == '<' || c == '>')
}

// MacroProblem is a complaint about a definition or a call.
type MacroProblem struct {
	Text string
	// Fatal: there is no macro, or no expansion. Mild: assemblers only warn.
	Fatal, Mild bool
}

// Header reads the name and parameters after .macro from a reduced text.
func (m *MacroText) Header(s string) (name string, params []Param, problems []MacroProblem) {
	bad := func(text string, fatal, mild bool) {
		problems = append(problems, MacroProblem{text, fatal, mild})
	}
	name, i := token(s, blanks(s, 0), m.Alt)
	if name == "" {
		bad("A name is missing after .macro", true, false)
		return name, nil, problems
	}
	if strings.TrimLeft(s[i:], " \t") == "," {
		bad("The parameters of "+name+" are missing after the comma", true, false)
	}
	i = comma(s, i)
	seen := map[string]bool{}
	for i < len(s) {
		var p Param
		at := i
		p.Name, i = token(s, i, m.Alt)
		if p.Name == "" {
			if len(params) > 0 {
				i = at - 1
			}
			break
		}
		i = blanks(s, i)
		if i < len(s) && s[i] == ':' {
			var q string
			q, i = token(s, blanks(s, i+1), m.Alt)
			switch q {
			case "req":
				p.Need = true
			case "vararg":
				p.Rest = true
			default:
				bad("The parameter "+p.Name+" can be :req or :vararg, not :"+q, false, false)
			}
			i = blanks(s, i)
		}
		if i < len(s) && s[i] == '=' {
			p.Default, i = m.argument(s, i+1)
			i = blanks(s, i)
			if p.Need {
				p.Default = ""
				bad("The parameter "+p.Name+" must be given, so its default has no effect", false, true)
			}
		}
		if seen[p.Name] {
			bad("Two parameters have the name "+p.Name, false, false)
		}
		seen[p.Name] = true
		params = append(params, p)
		if p.Rest {
			break
		}
		next := comma(s, i)
		if next != i && next >= len(s) {
			break
		}
		i = next
	}
	if i < len(s) {
		bad("The parameters of "+name+" cannot be read from here on: "+s[max(i, 0):], true, false)
	}
	return name, params, problems
}

// Arguments splits the reduced text after a macro's name. The values are in
// the order of the parameters, defaults put in.
func (m *MacroText) Arguments(macro string, params []Param, s string) (values []string, problems []MacroProblem) {
	bad := func(text string, fatal, mild bool) {
		problems = append(problems, MacroProblem{text, fatal, mild})
	}
	values = make([]string, len(params))
	next, named := 0, false
	var byName map[string]int
	for i := blanks(s, 0); i < len(s); i = comma(s, i) {
		at := i
		scan := i
		for scan < len(s) && !m.separator(s[scan]) && (m.Alt || s[scan] != '=') {
			scan++
		}
		if !m.Alt && scan < len(s) && s[scan] == '=' {
			named = true
			name, e := token(s, i, false)
			if e >= len(s) || s[e] != '=' {
				bad("No parameter of "+macro+" can be called "+s[i:scan], true, false)
				return values, problems
			}
			if byName == nil {
				byName = make(map[string]int, len(params))
				for k := len(params) - 1; k >= 0; k-- {
					byName[params[k].Name] = k
				}
			}
			k, ok := byName[name]
			var v string
			v, i = m.argument(s, e+1)
			if !ok {
				bad(macro+" has no parameter "+name+paramNames(params), false, false)
				continue
			}
			if values[k] != "" {
				bad("The parameter "+name+" of "+macro+" already has a value; the last one counts", false, true)
			}
			values[k] = v
			continue
		}
		if named {
			bad("A value without a name follows one with a name", true, false)
			return values, problems
		}
		if next == len(params) {
			n := "takes no arguments"
			switch len(params) {
			case 0:
			case 1:
				n = "takes one argument"
			default:
				n = "takes " + strconv.Itoa(len(params)) + " arguments"
			}
			bad(macro+" "+n+"; "+clip(s[i:], 40)+" is one too many", true, false)
			return values, problems
		}
		if params[next].Rest {
			values[next], i = s[i:], len(s)
		} else {
			values[next], i = m.argument(s, i)
		}
		next++
		if i == at && comma(s, i) == i {
			i++ // nothing was read: never stay
		}
	}
	for k := range params {
		if values[k] == "" {
			if params[k].Need {
				bad("The parameter "+params[k].Name+" of "+macro+" must be given", false, false)
			}
			values[k] = params[k].Default
		}
	}
	return values, problems
}

func paramNames(params []Param) string {
	if len(params) == 0 {
		return ""
	}
	var n []string
	for i := range params {
		if n = append(n, params[i].Name); i == 9 && len(params) > 10 {
			n = append(n, "…") // for each of many names that are wrong
			break
		}
	}
	return "; it has " + strings.Join(n, ", ")
}

func clip(s string, n int) string {
	if len(s) > n {
		return s[:n] + "…"
	}
	return s
}

// Values lists the values of .irp or, with chars, of .irpc from the reduced
// text after it. Without any the body is once, with nothing put in.
func (m *MacroText) Values(s string, chars bool) (name string, values []string) {
	name, i := token(s, blanks(s, 0), m.Alt)
	i = comma(s, i)
	if i >= len(s) {
		return name, []string{""}
	}
	inQuotes := chars && s[i] == '"'
	if inQuotes {
		i++
	}
	for i < len(s) {
		if !chars {
			at := i
			var v string
			v, i = m.argument(s, i)
			values = append(values, v)
			i = comma(s, i)
			if i == at {
				i++
			}
			continue
		}
		if s[i] == '"' {
			inQuotes = !inQuotes
			if blanks(s, i+1) >= len(s) {
				break
			}
		}
		values = append(values, s[i:i+1])
		i++
		if !inQuotes {
			i = blanks(s, i)
		}
	}
	return name, values
}

// Expand puts values into the body, up to limit bytes.
func (m *MacroText) Expand(t *Template, values []string, limit int) (out string, problems []MacroProblem) {
	in := t.Body
	b := make([]byte, 0, len(in)+len(in)/4)
	locals := map[string]string{}
	lookup := func(name string) (string, bool) {
		for i := range t.Params {
			if t.Params[i].Name == name {
				return values[i], true
			}
		}
		v, ok := locals[name]
		return v, ok
	}
	quote := false
	for i := 0; i < len(in) && len(b) <= limit; {
		c := in[i]
		switch {
		case c == '&':
			name, e := token(in, i+1, true)
			if v, ok := lookup(name); ok {
				b = append(b, v...)
			} else {
				b = append(b, '&')
				b = append(b, name...)
				if e != i+1 && in[e-1] == '&' {
					b = append(b, '&')
				}
			}
			i = e
		case c == '\\':
			i++
			switch {
			case i < len(in) && in[i] == '(':
				i++
				if e := strings.IndexByte(in[i:], ')'); e >= 0 {
					b = append(b, in[i:i+e]...)
					i += e + 1
				} else {
					b = append(b, in[i:]...)
					i = len(in)
					problems = append(problems, MacroProblem{Text: `A '\(' has no ')'`})
				}
			case i < len(in) && in[i] == '@':
				b = strconv.AppendUint(b, uint64(m.Number), 10)
				i++
			case i < len(in) && in[i] == '&':
				b = append(b, '\\', '&')
				i++
			default:
				name, e := token(in, i, m.Alt)
				if v, ok := lookup(name); ok {
					b = append(b, v...)
				} else {
					b = append(b, '\\')
					b = append(b, name...)
				}
				i = e
			}
		case m.Alt && class[c]&cStart != 0:
			if m.Local != nil && !quote && len(in) > i+5 && strings.EqualFold(in[i:i+5], "LOCAL") && (in[i+5] == ' ' || in[i+5] == '\t') {
				i = blanks(in, i+5)
				for i < len(in) && in[i] != '\n' {
					at := i
					var name string
					name, i = token(in, i, true)
					if _, ok := lookup(name); ok {
						problems = append(problems, MacroProblem{Text: "The name " + name + " of LOCAL is already a parameter or a LOCAL"})
					} else {
						locals[name] = m.Local()
					}
					if i = comma(in, i); i == at {
						i++
					}
				}
				continue
			}
			name, e := token(in, i, true)
			if v, ok := lookup(name); ok {
				b = append(b, v...)
			} else {
				b = append(b, name...)
			}
			i = e
		default:
			if c == '"' {
				quote = !quote
			}
			b = append(b, c)
			i++
		}
	}
	return string(b), problems
}

// ReducedArgs is the text after a macro's name as macros see it.
func ReducedArgs(raw string) string {
	text, _ := reduced(raw, scrubWord, false, false)
	return strings.TrimSpace(text)
}
