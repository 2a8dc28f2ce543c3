package describe

import (
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// TokenKind is what a word of a source is. Those up to TokenComment are types of LSP 3.17
// (SemanticTokenTypes), under the same names; the last one is the standard's from 3.18 on.
type TokenKind uint8

// The kinds of tokens.
const (
	TokenSection   TokenKind = iota // name of a section
	TokenParameter                  // of a macro
	TokenVariable                   // a register; a label in front of data, with TokenStatic
	TokenConstant                   // .equ, .set, =
	TokenFunction                   // a label that is called, or marked as a function
	TokenMacro
	TokenMnemonic
	TokenSuffix // .n and .w
	TokenComment
	TokenString
	TokenNumber
	TokenDirective
	TokenLabel // any other label
)

// TokenKinds are the names of the kinds in the protocol, in their order.
var TokenKinds = []string{"namespace", "parameter", "variable", "enumMember", "function", "macro", "keyword", "modifier", "comment", "string", "number", "decorator", "label"}

// TokenMarks is a set of what is said of a token besides its kind.
type TokenMarks uint16

// The marks. The first four are modifiers of LSP 3.17, the others are our own.
const (
	TokenDefinition  TokenMarks = 1 << iota // the name gets its meaning here
	TokenReadonly                           // a constant
	TokenStatic                             // a place in memory
	TokenLibrary                            // a name that is built in: a special register, a barrier, a shift
	TokenLow                                // r0 to r7
	TokenHigh                               // r8 to r15
	TokenInactive                           // left out by a condition
	TokenLiteral                            // a load of a word from a literal pool, by "="
	TokenConditional                        // an instruction that is done on a condition
	TokenA32                                // an instruction of A32 code
	TokenThumb                              // an instruction of T16 or T32 code
	TokenExternal                           // a name that no line here defines
)

// TokenMarkNames are the names of the marks in the protocol, in their order.
var TokenMarkNames = []string{"definition", "readonly", "static", "defaultLibrary", "low", "high", "inactive", "literal", "conditional", "a32", "thumb", "external"}

// Token is a word of a source, or a comment, or a part of one, in one line.
type Token struct {
	Start, End int // bytes of the file's text
	Kind       TokenKind
	Marks      TokenMarks
}

// TokensIn lists the tokens of the lines from up to to, counted from 0 and without the last
// one, of a file of the program, in the order of the text: none overlaps another or has the
// end of a line in it. Of a file that is included several times, what it is the first time.
func (r *View) TokensIn(path string, from, to int) []Token {
	id := r.FileOf(path)
	if id < 0 {
		return nil
	}
	t := &tokens{View: r, id: id, file: r.Sources[id].File, known: map[string]Token{}, items: map[int32][]int32{}}
	if t.unit = r.Sources[id].Unit; t.unit != nil {
		t.file = t.unit.Raw
	}
	to = min(to, t.file.NumLines())
	t.readProgram(from, to)
	for n := max(from, 0); n < to; n++ {
		t.line(n)
	}
	return t.out
}

// tokens collects those of a file.
type tokens struct {
	*View
	id       int32
	file     *syntax.File
	unit     *preprocess.Unit
	macros   map[string]bool // names in lower case
	bodies   []*program.Macro
	inactive []finding.Span
	known    map[string]Token  // what a name is, once it was asked
	items    map[int32][]int32 // those of the lines that were asked for
	out      []Token

	// Of the line that is read:
	start int // its first byte
	text  string
	marks TokenMarks // of all tokens in it
	at    int        // the first column that no token has
	body  *program.Macro
}

// readProgram finds what the program says of the lines: their items, macros, what is called
// and what is left out.
func (t *tokens) readProgram(from, to int) {
	t.macros = map[string]bool{}
	for _, m := range t.Macros {
		t.macros[strings.ToLower(m.Name)] = true
		if m.File == t.id {
			t.bodies = append(t.bodies, m)
		}
	}
	for _, l := range t.Inactive() {
		if l.Path == t.Sources[t.id].Path {
			t.inactive = append(t.inactive, l.Span)
		}
	}
	for i := range t.Items {
		it := &t.Items[i]
		if it.File == t.id && int(it.Line) >= from && int(it.Line) < to {
			t.items[it.Line] = append(t.items[it.Line], it.Index)
		}
	}
}

// line adds the tokens of a line.
func (t *tokens) line(n int) {
	l := t.file.Line(n)
	t.start, t.text, t.at, t.marks = t.file.LineStart(n), l.Text, 0, 0
	k := sort.Search(len(t.inactive), func(k int) bool { return t.inactive[k].End > t.start })
	if k < len(t.inactive) && t.inactive[k].Start <= t.start {
		t.marks = TokenInactive
	}
	t.body = nil
	for _, m := range t.bodies {
		if int(m.Line) <= n && n <= int(m.End) {
			t.body = m
		}
	}
	if l.StartsInComment() {
		t.comment(0)
	}
	if word, ok := hashWord(l.Text[t.at:]); ok && t.unit != nil {
		t.hash(word)
		return
	}
	if t.body != nil && !t.body.Columns && !l.StartsInComment() && strings.Contains(l.Text, `\`) {
		l = syntax.ParseAs(withoutMarks(l.Text), t.file.Dialect()).Line(0)
	}
	for i := range l.Stmts {
		if s := &l.Stmts[i]; int(s.Start) >= t.at {
			t.between(int(s.Start), nil)
			t.statement(n, s, l)
		}
	}
	t.tail(int(l.Comment))
}

// withoutMarks puts letters in place of what marks the parts of names in a body that an expansion
// puts in: no comment begins at the one of the expansion's number, and a name goes on behind it.
func withoutMarks(text string) string {
	out, quoted := []byte(text), false
	for i := 0; i+1 < len(out); i++ {
		switch next := out[i+1]; {
		case out[i] == '"':
			quoted = !quoted
		case out[i] != '\\':
		case next == '@':
			out[i], out[i+1] = '_', '_'
		case !quoted && program.IdentByte(next):
			out[i] = '_'
		case !quoted && next == '(' && i+2 < len(out) && out[i+2] == ')':
			out[i], out[i+1], out[i+2] = '_', '_', '_'
		default:
			i++ // an escape
		}
	}
	return string(out)
}

// tail adds what is behind the statements of a line: comments, of which the line's first one
// begins at a column, -1 without any.
func (t *tokens) tail(first int) {
	for first >= 0 && t.at < len(t.text) {
		switch c := t.text[t.at]; {
		case c <= ' ', c == ';' && t.file.Dialect() == syntax.Dots && t.at < first:
			t.at++
		case strings.HasPrefix(t.text[t.at:], "/*"):
			t.comment(t.at)
		case t.at < first:
			t.at++
		default:
			t.add(t.at, len(t.text), TokenComment, 0)
		}
	}
}

// add adds columns a to b as a token. A carriage return inside ends a line in the protocol.
func (t *tokens) add(a, b int, kind TokenKind, marks TokenMarks) {
	t.at = max(t.at, b)
	for a < b {
		end := b
		if i := strings.IndexByte(t.text[a:b], '\r'); i >= 0 {
			end = a + i
		}
		if end > a {
			t.out = append(t.out, Token{t.start + a, t.start + end, kind, marks | t.marks})
		}
		a = end + 1
	}
}

// comment adds the block comment that goes on at a column.
func (t *tokens) comment(from int) {
	end := len(t.text)
	skip := from
	if strings.HasPrefix(t.text[from:], "/*") {
		skip += 2
	}
	if i := strings.Index(t.text[skip:], "*/"); i >= 0 {
		end = skip + i + 2
	}
	t.add(from, end, TokenComment, 0)
}

// hash adds the tokens of a directive of the preprocessor.
func (t *tokens) hash(word string) {
	at := t.at + strings.IndexByte(t.text[t.at:], '#')
	end := at + strings.Index(t.text[at:], word) + len(word)
	if _, ok := preprocess.FindDirective("#" + word); !ok {
		t.add(at, len(t.text), TokenComment, 0)
		return
	}
	t.add(at, end, TokenDirective, 0)
	if rest := strings.TrimLeft(t.text[end:], " \t"); strings.HasPrefix(word, "include") && strings.HasPrefix(rest, "<") {
		a := len(t.text) - len(rest)
		if i := strings.IndexByte(rest, '>'); i > 0 {
			t.add(a, a+i+1, TokenString, 0)
		}
	}
	rest := len(t.text)
	if i := strings.Index(t.text[t.at:], "//"); i >= 0 {
		rest = t.at + i
	}
	t.between(rest, nil)
	t.add(max(rest, t.at), len(t.text), TokenComment, 0)
}

// statement adds the tokens of a statement of line n.
func (t *tokens) statement(n int, s *syntax.Stmt, l *syntax.Line) {
	w := &words{stmt: s, mode: -1}
	for _, i := range t.items[int32(n)] {
		it := &t.Items[i]
		if it.Stmt.Start == s.Start && it.Stmt.Name == s.Name || len(t.items[int32(n)]) == 1 && len(l.Stmts) == 1 {
			w.item = it
			w.mode = int(t.Environments[it.Environment].Mode)
			break
		}
	}
	a, b := int(s.Start), int(s.NameEnd)
	switch {
	case a >= b:
	case t.useAt(a):
		t.add(a, a+wordLength(t.text[a:b]), TokenMacro, 0)
	case s.Kind == syntax.Label && s.Number >= 0:
		t.add(a, b, TokenLabel, TokenDefinition)
	case s.Kind == syntax.Label, s.Kind == syntax.Assign, s.Kind == syntax.Directive && s.Directive.NameFirst:
		if strings.HasPrefix(t.text[a:b], "\"") {
			t.add(a, b, TokenString, 0)
			break
		}
		t.name(s, a, b)
	case s.Kind == syntax.Directive:
		t.add(a, b, TokenDirective, 0)
	case t.macros[strings.ToLower(s.Name)]:
		t.add(a, b, TokenMacro, 0)
	case s.Kind == syntax.Instruction:
		t.mnemonic(w, a, b)
	}
	end := min(int(s.End), len(t.text))
	if w.item != nil && w.item.Flags&program.Calls != 0 || s.Kind == syntax.Unknown {
		w.call = true
	}
	t.between(end, w)
}

// name adds the name that a statement gives.
func (t *tokens) name(s *syntax.Stmt, a, b int) {
	x, ok := t.word(s.Name, nil)
	switch {
	case !ok && s.Kind == syntax.Label:
		x = Token{Kind: TokenLabel}
	case s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffMacro:
		x = Token{Kind: TokenMacro}
	case !ok:
		x = Token{Kind: TokenConstant, Marks: TokenReadonly}
	}
	if i := strings.IndexByte(t.text[a:b], '\\'); i >= 0 {
		t.between(b, nil) // made of parameters
		return
	}
	t.add(a, b, x.Kind, x.Marks&^TokenExternal|TokenDefinition)
}

// mnemonic adds the name of an instruction, its width apart.
func (t *tokens) mnemonic(w *words, a, b int) {
	marks := TokenMarks(0)
	switch w.mode {
	case int(isa.A):
		marks |= TokenA32
	case int(isa.T):
		marks |= TokenThumb
	}
	if it := w.item; it != nil && it.Match.Form != nil {
		if _, ok := conditionOf(&it.Match); ok {
			marks |= TokenConditional
		}
	}
	if slices.ContainsFunc(w.stmt.Ops, func(o syntax.Operand) bool { return o.Kind == isa.OpLit }) {
		marks |= TokenLiteral
	}
	if w.stmt.Width != 0 && b-a > 2 && t.text[b-2] == '.' {
		t.add(a, b-2, TokenMnemonic, marks)
		t.add(b-2, b, TokenSuffix, 0)
		return
	}
	t.add(a, b, TokenMnemonic, marks)
}

// words says what the words are that are read.
type words struct {
	stmt *syntax.Stmt
	item *program.Item
	mode int  // of the item, -1 without one
	call bool // of a macro: arguments may be anything
	read int  // how many words have been read
	lit  bool // the word is behind a "="
}

// between adds the tokens from where the last one ended up to a column: operands of a
// statement, comments beside it. w is nil outside of statements.
func (t *tokens) between(to int, w *words) {
	for t.at < to {
		i := t.at
		switch c := t.text[i]; {
		case strings.HasPrefix(t.text[i:], "/*"):
			t.comment(i)
		case c == '"':
			t.add(i, stringEnd(t.text, i), TokenString, 0)
		case c == '\'' && w != nil:
			t.add(i, charEnd(t.text, i, to), TokenString, 0)
		case c == '\\':
			t.parameter(i)
		case c == '$' && t.body != nil && t.body.Columns:
			t.parameter(i)
		case c >= '0' && c <= '9':
			t.number(i)
		case program.IdentByte(c):
			n := wordLength(t.text[i:])
			if w != nil {
				w.lit = i > 0 && t.text[i-1] == '='
			}
			t.ident(i, min(i+n, len(t.text)), w)
		default:
			t.at++
		}
	}
}

// wordLength is how many bytes at the start of a text are a word.
func wordLength(text string) int {
	n := 0
	for n < len(text) && program.IdentByte(text[n]) {
		n++
	}
	return n
}

// stringEnd is the column behind the string at a column.
func stringEnd(text string, at int) int {
	for i := at + 1; i < len(text); i++ {
		switch text[i] {
		case '\\':
			i++
		case '"':
			return i + 1
		}
	}
	return len(text)
}

// charEnd is the column behind the character at a column: with a backslash and a closing
// quote, perhaps.
func charEnd(text string, at, to int) int {
	i := at + 1
	if i < to && text[i] == '\\' {
		i++
	}
	if i < to {
		i++
		for i < len(text) && text[i]&0xc0 == 0x80 { // the rest of a character
			i++
		}
	}
	if i < to && text[i] == '\'' {
		i++
	}
	return max(min(i, len(text)), at+1)
}

// parameter adds the parameter of a macro at a column.
func (t *tokens) parameter(at int) {
	n := 1 + wordLength(t.text[at+1:])
	if n == 1 && at+1 < len(t.text) && (t.text[at+1] == '@' || t.text[at+1] == '+') {
		n = 2
	}
	if n == 1 || t.body == nil && t.text[at] != '\\' {
		t.at = at + 1
		return
	}
	t.add(at, at+n, TokenParameter, 0)
}

// number adds the number, or the numeric local label, at a column.
func (t *tokens) number(at int) {
	n := wordLength(t.text[at:])
	word := t.text[at : at+n]
	kind := TokenNumber
	if last := word[n-1]; n > 1 && (last == 'f' || last == 'b') && strings.Trim(word[:n-1], "0123456789") == "" {
		kind = TokenLabel
	}
	t.add(at, at+n, kind, 0)
}
