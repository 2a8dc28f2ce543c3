package syntax

import (
	"strings"

	"narrowgauge/isa"
)

// maxDetect is how much of a text is looked at to find its dialect, in bytes.
const maxDetect = 64 << 10

// clues counts what speaks for the dialects.
type clues struct {
	ats        int // comments with '@'
	separators int // ';' with a statement after it
	dots       int // directives with a dot
	colons     int // labels with a colon
	semicolons int // ';' with prose after it; at a line's start it counts twice
	columns    int // directives of the column dialect that nothing else looks like
	weak       int // those that may be a macro's name as well
	areas      int // of columns, AREA
	modules    int // directives of the dialect of modules that nothing else looks like
	sections   int // of these, sections with a kind
}

// Detect says in which dialect a text is written. It looks at the first 64 KB.
// sure is true when something in it has a meaning only in that dialect; else
// the answer is the dialect with the fewest surprises, Dots for most.
//
// Columns needs a directive of that dialect and no sign of another one.
// Semicolon needs two signs that ';' starts comments, more than speak against
// it. What is in comments never counts.
func Detect(text string) (d Dialect, sure bool) {
	c := &clues{}
	c.read(text[:min(len(text), maxDetect)])
	if first := firstCode(text); first > maxDetect/2 { // behind a wall of comments
		c.read(text[first:min(len(text), first+maxDetect)])
	}
	others := c.ats + c.dots + c.colons
	switch {
	case (c.sections > 0 || c.modules > 1) && 2*c.modules > c.dots+c.ats+4*c.areas:
		return Modules, true
	case c.columns > 0 && c.columns+c.weak > 2*others && (c.columns > 1 || c.weak >= c.separators), (c.weak > 1 || c.weak > 0 && c.semicolons > 1) && others+c.separators == 0:
		return Columns, true
	case c.semicolons > 1 && c.semicolons > 2*(c.ats+c.separators):
		return Semicolon, true
	case c.ats+c.separators > 0:
		return Dots, true
	}
	return Dots, false
}

// firstCode is where the first line begins that is no comment.
func firstCode(text string) int {
	inside := false
	for at := 0; at < len(text); {
		line := text[at:]
		if i := strings.IndexByte(line, '\n'); i >= 0 {
			line = line[:i+1]
		}
		t := strings.TrimSpace(line)
		switch {
		case inside:
			_, after, ends := strings.Cut(t, "*/")
			if inside = !ends; ends && after != "" {
				return at
			}
		case strings.HasPrefix(t, "/*"):
			_, after, ends := strings.Cut(t[2:], "*/")
			if inside = !ends; ends && strings.TrimSpace(after) != "" {
				return at
			}
		case t != "" && strings.IndexByte(";@*#", t[0]) < 0 && !strings.HasPrefix(t, "//"):
			return at
		}
		at += len(line)
	}
	return len(text)
}

// read goes through the lines.
func (c *clues) read(text string) {
	inside, goesOn := false, false
	for len(text) > 0 {
		line := text
		if i := strings.IndexByte(text, '\n'); i >= 0 {
			line, text = text[:i], text[i+1:]
		} else {
			text = ""
		}
		line = trimCR(line)
		if inside {
			i := strings.Index(line, "*/")
			if i < 0 {
				continue
			}
			line, inside = line[i+2:], false
		}
		macro := goesOn // the text of a preprocessor's macro
		if goesOn = strings.HasSuffix(line, `\`); macro && goesOn {
			continue
		} else if macro {
			continue
		}
		if len(line) > 1 && line[0] == '#' && class[line[1]]&(cStart|cSpace) != 0 {
			continue
		}
		// For a line of the column dialect the backslash means little.
		goesOn = goesOn && strings.HasPrefix(line, "#")
		inside = c.line(line)
		if c.ats+c.separators > 30 && c.semicolons+c.columns+c.weak == 0 || c.columns > 30 && c.ats+c.dots+c.colons == 0 {
			return // nothing will change that any more
		}
	}
}

// line looks at one line and says whether a block comment goes on after it.
func (c *clues) line(s string) (inside bool) {
	first := true // nothing but blanks so far
	at := 0       // where the present statement starts
	// What is after ';' counts as that, and as nothing else: it may be a
	// statement that is commented out.
	behindIt := false
	code := func(s string) {
		if !behindIt {
			c.operators(s)
			c.code(s, at == 0)
		}
	}
	for i := 0; i < len(s); i++ {
		switch ch := s[i]; {
		case class[ch]&cSpace != 0:
			continue
		case ch == '"':
			for i++; i < len(s) && s[i] != '"'; i++ {
				if s[i] == '\\' {
					i++
				}
			}
		case ch == '\'':
			i++
			if i+1 < len(s) && s[i+1] == '\'' {
				i++
			}
		case ch == '/' && i+1 < len(s) && s[i+1] == '/':
			code(s[at:i])
			return false
		case ch == '/' && i+1 < len(s) && s[i+1] == '*':
			code(s[at:i])
			e := strings.Index(s[i+2:], "*/")
			if e < 0 {
				return true
			}
			i += e + 3
			at = i + 1
			continue
		case ch == '@' && (i == 0 || s[i-1] != '\\') && (i+1 == len(s) || class[s[i+1]]&cIdent == 0 || first || class[s[i-1]]&cSpace != 0):
			code(s[at:i])
			if !first || i+1 < len(s) {
				c.ats++
			}
			return false
		case ch == ';':
			code(s[at:i])
			rest := s[i+1:]
			switch k := behind(rest); {
			case first && k != nothing:
				// A statement here is commented out.
				if k == prose || k == unclear && words(rest) > 2 {
					c.semicolons += 2
				}
				return false
			case first:
				return false
			case k == prose:
				c.semicolons++
				return false
			case k == statement:
				c.separators++
				behindIt = true
			default:
				return false
			}
			at = i + 1
		}
		first = false
	}
	code(s[at:])
	return false
}

// What is after a ';'.
type behindKind uint8

const (
	nothing behindKind = iota
	unclear
	statement
	prose
)

// behind says what a text after ';' looks like: the next statement, prose, or
// neither.
func behind(s string) behindKind {
	t := unblank(s)
	if t == "" || len(t) < 3 && strings.Trim(t, ";") == "" { // of a ruler there is more
		return nothing
	}
	switch t[0] {
	case ';': // an empty statement, or a mark that is twice
		if behind(strings.TrimLeft(t, ";")) == statement {
			return statement
		}
		return prose
	case '*', '-', '=', '<', '+', '!', '|':
		return prose // a ruler, or a mark of a tool
	case '@', '/', '#', '"', '\\':
		return unclear
	}
	w, rest := detectWord(t)
	if w == "" {
		if class[t[0]]&cDigit != 0 {
			n := strings.TrimLeft(t, "0123456789")
			if strings.HasPrefix(n, ":") {
				return statement
			}
		}
		if words(t) > 1 {
			return prose
		}
		return unclear
	}
	next := unblank(rest)
	switch {
	case strings.HasPrefix(next, ":"):
		if after := unblank(next[1:]); after != "" && !beginsStatement(after) {
			return prose // "note: …"
		}
		return statement
	case strings.HasPrefix(next, "="):
		if _, isReg := isa.RegByName(strings.ToLower(w)); isReg || !plainValue(next[1:]) {
			return prose // a formula
		}
		return statement
	case w[0] == '.':
		if findDirective(w) != nil {
			return statement
		}
		return unclear
	case beginsStatement(t):
		return statement
	}
	if words(t) > 1 && !strings.HasPrefix(next, "(") {
		if next != "" && class[next[0]]&cStart != 0 {
			n, more := detectWord(next)
			if _, isReg := isa.RegByName(strings.ToLower(n)); isReg {
				return unclear // a macro's name and a register
			}
			if strings.HasPrefix(unblank(more), ",") && words(t) < 4 {
				return unclear // a macro's name and its arguments
			}
			return prose
		}
		if next != "" && (next[0] == '#' || next[0] == '[' || next[0] == '{') {
			return unclear
		}
		return prose
	}
	return unclear
}

// enoughProse is how many bytes tell what a text is: a line may have very many ';'.
const enoughProse = 120

// ProseFrom is where a ';' in a line of the dialect with dots has prose behind it, which is
// read as statements; ok is false without one. word: a word by itself counts as prose.
func (l *Line) ProseFrom(word bool) (at int, ok bool) {
	end := len(l.Text)
	if l.Comment >= 0 {
		end = int(l.Comment)
	}
	from := 0
	for k := range l.Stmts {
		s := &l.Stmts[k]
		if i := strings.LastIndexByte(l.Text[from:s.Start], ';'); i >= 0 && int(s.Start) < end {
			rest := l.Text[from+i+1 : min(end, from+i+1+enoughProse)]
			switch k := behind(rest); {
			case k == prose, word && k == unclear && len(strings.Fields(rest)) == 1 && words(rest) == 1:
				return from + i, true
			}
		}
		from = max(from, int(s.End))
	}
	return 0, false
}

// plainValue says whether a text looks like what an assignment has after '=',
// and not like a formula that explains something.
func plainValue(s string) bool {
	for i := 0; i < len(s); i++ {
		switch c := s[i]; c {
		case ';', '@':
			return i > 0
		case '[', ',', '?', '\'', '=', '>':
			if c == '=' && i == 0 {
				continue
			}
			return false
		case '(':
			if i > 0 && class[s[i-1]]&cIdent != 0 {
				return false
			}
		}
	}
	return words(s) < 2
}

// unblank is a text without the blanks in front.
func unblank(s string) string {
	for s != "" && class[s[0]]&cSpace != 0 {
		s = s[1:]
	}
	return s
}

// words counts the words of a text that are letters only, up to three.
func words(s string) (n int) {
	for _, w := range strings.Fields(s) {
		w = strings.Trim(w, ".,:;!?()'\"")
		alpha := w != ""
		for i := 0; i < len(w); i++ {
			if c := w[i] | 0x20; (c < 'a' || c > 'z') && w[i] != '-' && w[i] != '\'' && w[i] < 0x80 {
				alpha = false
			}
		}
		if alpha {
			n++
		}
		if n == 3 {
			break
		}
	}
	return n
}

// beginsStatement says whether a text begins with a label, a directive with a
// dot, or an instruction with what may be its operands.
func beginsStatement(s string) bool {
	w, rest := detectWord(s)
	if w == "" {
		return false
	}
	if w[0] == '.' {
		return findDirective(w) != nil
	}
	if m, _ := findMnemonic(w); m == nil {
		return false
	}
	t := unblank(rest)
	if t == "" {
		return true
	}
	switch t[0] {
	case '#', '[', '{', '=', ';', '@', '/', '.', '%':
		return true
	}
	n, more := detectWord(t)
	if n == "" {
		return class[t[0]]&cDigit != 0
	}
	if _, isReg := isa.RegByName(strings.ToLower(n)); isReg {
		return true
	}
	more = unblank(more)
	// A branch to a label, or an address; prose goes on with a word.
	return more == "" || more[0] == ';' || more[0] == '@' || more[0] == ',' && len(strings.Fields(more)) <= 3
}

func detectWord(s string) (w, rest string) {
	i := 0
	if i < len(s) && class[s[i]]&cStart != 0 {
		for i < len(s) && class[s[i]]&cIdent != 0 {
			i++
		}
	}
	return s[:i], s[i:]
}

// strongColumns are the directives that no macro is called like in upper case.
var strongColumns = map[string]bool{"DCD": true, "DCB": true, "DCW": true, "DCDU": true, "DCWU": true, "DCQ": true, "DCI": true, "EQU": true, "SPACE": true,
	"EXPORT": true, "IMPORT": true, "PRESERVE8": true, "REQUIRE8": true, "CODE16": true, "CODE32": true, "PROC": true, "ENDP": true, "GBLA": true, "GBLL": true,
	"GBLS": true, "LCLA": true, "LCLL": true, "LCLS": true, "SETA": true, "SETL": true, "SETS": true, "RN": true, "CN": true, "CP": true, "DN": true, "SN": true,
	"QN": true, "FIELD": true, "MACRO": true, "MEND": true, "LTORG": true, "ROUT": true, "RLIST": true, "DCFS": true, "DCFD": true, "DCFSU": true, "DCFDU": true,
	"DCQU": true, "DCDO": true, "EXPORTAS": true}

// weakColumns may be macros of the dot dialect.
var weakColumns = map[string]bool{"THUMB": true, "ARM": true, "END": true, "ENDIF": true, "IF": true, "ELSE": true, "ALIGN": true, "ENTRY": true, "GET": true,
	"INCLUDE": true, "GLOBAL": true, "EXTERN": true, "FUNCTION": true, "ENDFUNC": true, "KEEP": true, "TTL": true, "WHILE": true, "WEND": true,
	"SUBT": true, "OPT": true, "ASSERT": true, "ATTR": true, "RELOC": true, "INFO": true, "ELIF": true, "INCBIN": true, "MEXIT": true}

// columnOperators are those that are written in no other dialect.
var columnOperators = []string{":OR:", ":AND:", ":EOR:", ":NOT:", ":SHL:", ":SHR:", ":ROR:", ":MOD:", ":LNOT:", ":LAND:", ":LOR:", ":DEF:", ":CC:", ":LEN:", ":STR:", ":INDEX:", ":BASE:"}

// operators looks for what operands have in the column dialect only: its
// operators, and branches to its local labels.
func (c *clues) operators(s string) {
	if i := strings.IndexByte(s, ':'); i >= 0 {
		up := strings.ToUpper(s[i:])
		for _, o := range columnOperators {
			if strings.Contains(up, o) {
				c.columns++
				return
			}
		}
	}
	w, rest := detectWord(unblank(s))
	if w == "" || w[0]|0x20 != 'b' {
		return
	}
	if m, _ := findMnemonic(w); m == nil || !strings.HasPrefix(unblank(rest), "%") {
		return
	}
	n := strings.TrimRight(strings.TrimLeft(unblank(rest)[1:], "bBfFaAtT"), " \t")
	if n != "" && strings.Trim(n, "0123456789") == "" {
		c.columns++
	}
}

// code looks at one statement, with its label.
func (c *clues) code(s string, lineStart bool) {
	indented := len(s) > 0 && class[s[0]]&cSpace != 0
	t := unblank(s)
	if t == "" {
		return
	}
	w, rest := detectWord(t)
	if w == "" {
		switch {
		case class[t[0]]&cDigit != 0:
			n := strings.TrimLeft(t, "0123456789")
			if strings.HasPrefix(n, ":") {
				c.colons++
				c.code(n[1:], false)
			} else if !indented && lineStart {
				c.directive(unblank(n), true)
			}
		case t[0] == '|' && !indented:
			if e := strings.IndexByte(t[1:], '|'); e >= 0 {
				c.directive(unblank(t[e+2:]), true)
			}
		}
		return
	}
	next := unblank(rest)
	if strings.HasPrefix(next, ":") && !(indented && ColumnDirective(w) != nil) { // dcb :LEN:x
		c.colons++
		c.code(next[1:], false)
		return
	}
	if w[0] == '.' {
		if findDirective(w) != nil {
			c.dots++
		}
		return
	}
	if up := strings.ToUpper(w); (up == "SECTION" || up == "RSEG") && c.module(w, next) {
		return
	}
	if n, _ := detectWord(next); len(n) > 1 && n[0] == '.' && findDirective(n) != nil {
		c.dots++ // label .word 1
		return
	}
	if indented {
		c.directive(t, false)
	} else if lineStart && next != "" && !c.module(w, next) {
		c.directive(next, true)
	}
}

// module counts a directive that only the dialect of modules has; false: it is none.
func (c *clues) module(w, args string) bool {
	if ModuleDirective(w) == nil || args == "" {
		return false
	}
	switch strings.ToUpper(w) {
	case "SECTION", "RSEG":
		_, kind := detectWord(args)
		if kind = unblank(kind); !strings.HasPrefix(kind, ":") {
			return false
		}
		kind, _ = detectWord(unblank(kind[1:]))
		switch strings.ToUpper(kind) {
		case "CODE", "DATA", "CONST":
			c.sections++
			c.modules += 2
			return true
		}
		return false
	case "DC8", "DC16", "DC32", "DC64", "DS8", "DS16", "DS32", "DS64", "DF32", "DF64", "PUBWEAK", "EXTWEAK", "ALIGNROM", "ALIGNRAM":
		c.modules++
		return true
	case "PUBLIC":
		c.modules++
		return w == strings.ToUpper(w)
	}
	return false
}

// directive looks for a directive of the column dialect in front of s; labelled
// says whether a label is before it.
func (c *clues) directive(s string, labelled bool) {
	w, rest := detectWord(s)
	if w == "" {
		if len(s) > 2 && (s[0] == '#' && labelled || s[0] == '^' && !labelled) && class[s[1]]&cSpace != 0 && class[unblank(s[1:] + "x")[0]]&cDigit != 0 {
			c.weak++ // a field of a record, or where one begins
		}
		return
	}
	if c.module(w, unblank(rest)) {
		return
	}
	d := ColumnDirective(w)
	if d == nil {
		return
	}
	up := d.Name
	if up == "ARM" || up == "GLOBAL" || d.Effect == EffThumb {
		up = strings.ToUpper(w)
	}
	args := unblank(rest)
	if up == "AREA" {
		if w != up && strings.ToLower(w) != w {
			return
		}
		_, attrs, ok := strings.Cut(strings.ToUpper(args), ",")
		if !ok {
			if w == up && args != "" {
				c.weak++
			}
			return
		}
		for _, a := range strings.FieldsFunc(attrs, func(r rune) bool { return r == ',' || r == ' ' || r == '\t' }) {
			switch a {
			case "CODE", "DATA", "READONLY", "READWRITE", "NOINIT", "ABS", "REL", "COMMON":
				c.columns++
				c.areas++
				return
			}
		}
		c.weak++
		return
	}
	switch {
	case d.NameFirst && !labelled:
	case w == up && (strongColumns[w] || labelled && up == "FUNCTION"), labelled && w == strings.ToLower(w) && (d.NameFirst || up == "DCD" || up == "DCB" || up == "DCW" || up == "PROC"):
		if args == "" && (d.NameFirst || up[0] == 'D' || up == "SPACE" || up == "EXPORT" || up == "IMPORT") {
			c.weak++ // typed so far
			return
		}
		c.columns++
	case up == "FRAME" && w == up:
		switch n, _ := detectWord(args); n {
		case "ADDRESS", "POP", "PUSH", "REGISTER", "RESTORE", "RETURN", "SAVE", "STATE", "UNWIND":
			c.columns++
		}
	case w == strings.ToLower(w) && (strongColumns[up] && up != "MACRO" && up != "SPACE" && up != "EXPORT" && up != "IMPORT") && args != "":
		c.weak++
	case w == up && weakColumns[w] && !strings.HasPrefix(args, "("):
		c.weak++
	}
}
