package syntax

import (
	"strings"
	"sync"

	"narrowgauge/isa"
)

// The column dialect, as the assemblers of vendor toolchains have it: what
// is at column one is a label, a directive is a word, ';' starts a comment.
// A line becomes the same statements as in the dot dialect; where the order
// differs ("name EQU value") it is brought into the shape that is there. The
// rules here are from memory of the Arm Compiler armasm User Guide, "Directives
// Reference" and "Symbols, Literals, Expressions, and Operators".

// Effects that only the column dialect has.
const (
	EffArea   Effect = 128 + iota // AREA name, attribute, …
	EffVar                        // GBLA and the like; Unit is a bit set of varLocal and a kind
	EffSetVar                     // name SETA value
	EffField                      // name FIELD size
	EffMap                        // MAP start
	EffWhile
	EffWend
	EffAssert
	EffInfo
	EffLine // a line in which variables are put in before it is read
	EffJoin // a statement that goes on in the lines below, read when they are joined
	EffRest // the rest of a statement that a line above began
	EffWord // name CP number: a word for a coprocessor or one of its registers
	EffVec  // name DN register
	EffList // name RLIST {registers}
	EffAlias
	EffExportAs
	EffRout
	EffProc  // a function begins at the label in front
	EffWords // one of some words is after it
)

// What variables hold; the Unit of EffVar and EffSetVar.
const (
	VarNumber  = 1
	VarLogical = 2
	VarString  = 3
	VarLocal   = 4 // added by LCLA and the like
)

// ExprColumns is an operator of the column dialect that the others lack. Name
// says which: "str" for a string (the text is X.Name), "{VAR}" and the like, or
// an operator's name without colons ("DEF" asks for the symbol X.Name).
const ExprColumns ExprOp = 128

// Alignment of what is in columns, in Stmt.Align.
const alignCode = 255 // as the instruction set asks for

// AlignCode in Stmt.Align means the alignment of the instruction set.
const AlignCode = alignCode

// columnList describes the directives: name, how arguments are read, effect,
// unit, alignment, usage, what it does. A second name is after a blank.
var columnList = []struct {
	names  string
	args   ArgStyle
	effect Effect
	unit   int
	align  uint8
	usage  string
	doc    string
}{
	{"AREA", ArgsRaw, EffArea, 0, 0, "AREA name, attribute, …", "Goes on in a section, with the attributes where it is new."},
	{"THUMB", ArgsText, EffThumb, 0, 0, "THUMB", "What follows is T16 or T32 code in unified spelling."},
	{"CODE16", ArgsText, EffThumb, 0, 0, "CODE16", "What follows is T16 code in the spelling from before the unified one."},
	{"ARM CODE32", ArgsText, EffArm, 0, 0, "ARM", "What follows is A32 code; coming from T16, the place is aligned to 4 bytes."},
	{"THUMBX", ArgsText, EffThumb, 0, 0, "THUMBX", "What follows is T16 or T32 code with the extension for run-time environments."},
	{"DCB =", ArgsExprs, EffData, 1, 0, "DCB value or \"text\", …", "Bytes, and the bytes of strings."},
	{"DCW", ArgsExprs, EffData, 2, 2, "DCW value, …", "Halfwords of 2 bytes, aligned."},
	{"DCWU", ArgsExprs, EffData, 2, 0, "DCWU value, …", "Halfwords of 2 bytes, wherever they are."},
	{"DCD &", ArgsExprs, EffData, 4, 4, "DCD value, …", "Words of 4 bytes, aligned."},
	{"DCDU", ArgsExprs, EffData, 4, 0, "DCDU value, …", "Words of 4 bytes, wherever they are."},
	{"DCDO", ArgsExprs, EffData, 4, 4, "DCDO value, …", "Offsets from the static base, aligned words."},
	{"DCQ", ArgsExprs, EffData, 8, 4, "DCQ value, …", "Doublewords of 8 bytes, aligned to 4."},
	{"DCQU", ArgsExprs, EffData, 8, 0, "DCQU value, …", "Doublewords of 8 bytes, wherever they are."},
	{"DCFS", ArgsText, EffData, 4, 4, "DCFS number, …", "Floating-point numbers of 4 bytes, aligned."},
	{"DCFSU", ArgsText, EffData, 4, 0, "DCFSU number, …", "Floating-point numbers of 4 bytes, wherever they are."},
	{"DCFD", ArgsText, EffData, 8, 4, "DCFD number, …", "Floating-point numbers of 8 bytes, aligned to 4."},
	{"DCFDU", ArgsText, EffData, 8, 0, "DCFDU number, …", "Floating-point numbers of 8 bytes, wherever they are."},
	{"DCI", ArgsExprs, EffInst, 0, alignCode, "DCI code, …", "Machine code given as numbers."},
	{"DCI.N", ArgsExprs, EffInst, 2, alignCode, "DCI.N code, …", "16-bit machine code given as numbers."},
	{"DCI.W", ArgsExprs, EffInst, 4, alignCode, "DCI.W code, …", "32-bit machine code given as numbers."},
	{"SPACE %", ArgsExprs, EffSpace, 0, 0, "SPACE bytes", "So many zero bytes."},
	{"FILL", ArgsExprs, EffSpace, 0, 0, "FILL bytes[, value[, size]]", "So many bytes, filled with a value."},
	{"ALIGN", ArgsExprs, EffAlignFrom, 0, 0, "ALIGN [bytes[, offset[, value[, size]]]]", "Aligns to a number of bytes, a power of two, and an offset from it; the gap is filled with a value of so many bytes. Without argument: 4 bytes."},
	{"LTORG", ArgsText, EffPool, 0, 0, "LTORG", "Places the literal pool here: the words for LDR Rx, =value since the last pool."},
	{"EQU *", ArgsExprs, EffSet, 1, 0, "name EQU value[, type]", "Gives a name a value; the type (ARM, THUMB, CODE32, CODE16, DATA) says what an address is one of."},
	{"RN", ArgsExprs, EffReq, 0, 0, "name RN register", "Gives a register another name."},
	{"CN", ArgsExprs, EffWord, 'c', 0, "name CN number", "Names a register of a coprocessor."},
	{"CP", ArgsExprs, EffWord, 'p', 0, "name CP number", "Names a coprocessor."},
	{"DN", ArgsText, EffVec, 'd', 0, "name DN register", "Names a doubleword register."},
	{"SN", ArgsText, EffVec, 's', 0, "name SN register", "Names a single-precision register."},
	{"QN", ArgsText, EffVec, 'q', 0, "name QN register", "Names a quadword register."},
	{"EXPORT GLOBAL", ArgsSymbols, EffExport, 0, 0, "EXPORT name [WEAK, …]", "The linker may see the name."},
	{"IMPORT EXTERN", ArgsSymbols, EffImport, 0, 0, "IMPORT name [WEAK, …]", "The name is defined in another file."},
	{"COMMON", ArgsSymbols, EffCommon, 0, 0, "COMMON name[, size[, alignment]]", "Common storage that the linker lays out."},
	{"PROC FUNCTION", ArgsText, EffProc, 0, 0, "name PROC", "A function begins."},
	{"ENDP ENDFUNC", ArgsText, EffNone, 0, 0, "ENDP", "A function ends."},
	{"ROUT", ArgsText, EffRout, 0, 0, "name ROUT", "Numeric local labels of before are out of sight from here on."},
	{"MAP ^", ArgsExprs, EffMap, 0, 0, "MAP start[, register]", "A record begins: FIELD counts on from start. With a register the names are addresses relative to it."},
	{"FIELD #", ArgsExprs, EffField, 0, 0, "name FIELD size", "The name is the record's next offset, and size bytes belong to it."},
	{"GBLA", ArgsSymbols, EffVar, VarNumber, 0, "GBLA name", "Makes a variable that holds a number."},
	{"GBLL", ArgsSymbols, EffVar, VarLogical, 0, "GBLL name", "Makes a variable that is true or false."},
	{"GBLS", ArgsSymbols, EffVar, VarString, 0, "GBLS name", "Makes a variable that holds a string."},
	{"LCLA", ArgsSymbols, EffVar, VarNumber | VarLocal, 0, "LCLA name", "Makes a variable of the macro that holds a number."},
	{"LCLL", ArgsSymbols, EffVar, VarLogical | VarLocal, 0, "LCLL name", "Makes a variable of the macro that is true or false."},
	{"LCLS", ArgsSymbols, EffVar, VarString | VarLocal, 0, "LCLS name", "Makes a variable of the macro that holds a string."},
	{"SETA", ArgsExprs, EffSetVar, VarNumber, 0, "name SETA number", "Gives a variable a value."},
	{"SETL", ArgsExprs, EffSetVar, VarLogical, 0, "name SETL condition", "Gives a variable a value."},
	{"SETS", ArgsExprs, EffSetVar, VarString, 0, "name SETS string", "Gives a variable a value."},
	{"IF [", ArgsExprs, EffIf, 0, 0, "IF condition", "What follows is assembled when the condition holds."},
	{"ELIF", ArgsExprs, EffElseif, 0, 0, "ELIF condition", "Another condition."},
	{"ELSE |", ArgsText, EffElse, 0, 0, "ELSE", "What follows is assembled when no condition before held."},
	{"ENDIF ]", ArgsText, EffEndif, 0, 0, "ENDIF", "Ends a conditional part."},
	{"WHILE", ArgsExprs, EffWhile, 0, 0, "WHILE condition", "Repeats the lines up to WEND while the condition holds."},
	{"WEND", ArgsText, EffWend, 0, 0, "WEND", "Ends a repetition."},
	{"MACRO", ArgsText, EffMacroBelow, 0, 0, "MACRO", "Starts the definition of a macro; the next line has its name and parameters, and it ends at MEND."},
	{"MEND", ArgsText, EffEndm, 0, 0, "MEND", "Ends the definition of a macro."},
	{"MEXIT", ArgsText, EffExitm, 0, 0, "MEXIT", "Leaves the expansion of a macro."},
	{"INCLUDE GET", ArgsStrings, EffInclude, 0, 0, "INCLUDE file", "The text of another file."},
	{"INCBIN", ArgsStrings, EffIncbin, 0, 0, "INCBIN file", "The bytes of another file."},
	{"ASSERT", ArgsExprs, EffAssert, 0, 0, "ASSERT condition", "Stops the assembly when the condition does not hold."},
	{"INFO !", ArgsExprs, EffInfo, 0, 0, "INFO number, \"text\"", "Gives a message; it is an error when the number is not zero."},
	{"END", ArgsText, EffEnd, 0, 0, "END", "The source ends here."},
	{"ENTRY", ArgsText, EffNone, 0, 0, "ENTRY", "Execution starts here."},
	{"PRESERVE8", ArgsText, EffNone, 0, 0, "PRESERVE8", "The code keeps the stack aligned to 8 bytes."},
	{"REQUIRE8", ArgsText, EffNone, 0, 0, "REQUIRE8", "The code needs the stack aligned to 8 bytes."},
	{"KEEP", ArgsText, EffNone, 0, 0, "KEEP [name]", "Keeps local names in the object file."},
	{"FRAME", ArgsText, EffWords, 0, 0, "FRAME …", "Tells debuggers where the frame and saved registers are."},
	{"ATTR", ArgsText, EffWords, 0, 0, "ATTR …", "Gives the object file or a section of it an attribute."},
	{"OPT", ArgsText, EffNone, 0, 0, "OPT number", "About the listing; known by name."},
	{"TTL", ArgsText, EffNone, 0, 0, "TTL text", "The listing's title."},
	{"SUBT", ArgsText, EffNone, 0, 0, "SUBT text", "The listing's subtitle."},
	{"RELOC", ArgsText, EffNone, 0, 0, "RELOC number[, name]", "About relocation; known by name."},
	{"STRONG", ArgsText, EffNone, 0, 0, "STRONG name", "About symbols; known by name."},
	{"WEAK", ArgsText, EffNone, 0, 0, "WEAK name", "About symbols; known by name."},
	{"ALIAS", ArgsSymbols, EffAlias, 0, 0, "ALIAS name, other", "Gives a symbol another name."},
	{"EXPORTAS", ArgsSymbols, EffExportAs, 0, 0, "EXPORTAS name, other", "The linker sees the name as the other one."},
	{"DATA", ArgsText, EffNone, 0, 0, "DATA", "Data follows; of no effect any more."},
	{"LEAF", ArgsText, EffNone, 0, 0, "LEAF", "About functions; known by name."},
	{"NOFP", ArgsText, EffNone, 0, 0, "NOFP", "No floating-point instructions in this source."},
	{"RLIST", ArgsExprs, EffList, 0, 0, "name RLIST {registers}", "Names a list of registers."},
	{"AOF AOUT", ArgsText, EffNone, 0, 0, "AOF", "About the object file; known by name."},
	{"ORG", ArgsExprs, EffOrg, 0, 0, "ORG address", "Where the section starts."},
}

// nameFirst are the directives whose name is before them.
const nameFirst = " EQU RN CN CP DN SN QN FIELD SETA SETL SETS RLIST "

var columnDirectives = sync.OnceValue(func() map[string]*DirectiveInfo {
	out := make(map[string]*DirectiveInfo, 128)
	for i := range columnList {
		c := &columnList[i]
		d := &DirectiveInfo{Args: c.args, Effect: c.effect, Unit: c.unit, Align: c.align, Usage: c.usage, Doc: c.doc, Word: true, Lenient: true}
		d.Logical = c.effect == EffIf || c.effect == EffElseif || c.effect == EffWhile
		d.Strings = c.effect == EffData && c.unit == 1
		d.Anywhere = c.effect == EffData && c.align == 0
		d.Whole = c.effect == EffExitm
		if c.effect == EffThumb || c.effect == EffArm {
			d.Spelling = SpellingUnified
		}
		for k, n := range strings.Fields(c.names) {
			if k == 0 {
				d.Name = n
				d.NameFirst = strings.Contains(nameFirst, " "+n+" ")
				if n == "CODE16" {
					d.Spelling = SpellingDivided
				}
			}
			e := d
			if n == "GLOBAL" || n == "EXTERN" || n == "CODE32" || n == "GET" || n == "FUNCTION" || n == "ENDFUNC" {
				c := *d // they are called by the name that is there
				c.Name = n
				c.Usage = strings.Replace(c.Usage, d.Name, n, 1)
				e = &c
			}
			out[n] = e
		}
	}
	weak := *out["EXPORT"]
	weak.Weak = true
	exportWeak = &weak
	return out
})

var exportWeak *DirectiveInfo

// variableLine is a line in which variables are put in first.
var variableLine = &DirectiveInfo{Name: "$", Args: ArgsRaw, Effect: EffLine, Usage: "$name", Doc: "The value of a variable is put in before the line is read."}

// joinedLine is a statement that goes on in the lines below.
var joinedLine = &DirectiveInfo{Name: `\`, Args: ArgsRaw, Effect: EffJoin, Usage: `\`, Doc: "The statement goes on in the next line."}

// restOfLine is the rest of a statement that an earlier line began.
var restOfLine = &DirectiveInfo{Name: `\`, Args: ArgsText, Effect: EffRest, Usage: `\`, Doc: "The statement goes on in the next line."}

// AutoAlign is the alignment that the column dialect puts in by itself.
var AutoAlign = &DirectiveInfo{Name: "ALIGN", Effect: EffAlignFrom, Word: true, Usage: "ALIGN", Doc: "Alignment that the assembler puts in by itself."}

// ColumnDirective looks a directive of the column dialect up: in upper or in
// lower case; nil when nothing knows it.
func ColumnDirective(word string) *DirectiveInfo {
	if len(word) > 9 {
		return nil
	}
	var buf [9]byte
	upper, lower := false, false
	for i := 0; i < len(word); i++ {
		c := word[i]
		switch {
		case c >= 'A' && c <= 'Z':
			upper = true
		case c >= 'a' && c <= 'z':
			lower = true
			c &^= 0x20
		}
		buf[i] = c
	}
	if upper && lower {
		return nil
	}
	return columnDirectives()[string(buf[:len(word)])]
}

// ColumnDirectives lists the names of the column dialect's directives, unsorted.
func ColumnDirectives() []string {
	out := make([]string, 0, len(columnDirectives()))
	for n := range columnDirectives() {
		if class[n[0]]&cStart != 0 {
			out = append(out, n)
		}
	}
	return out
}

// The states that a line of the column dialect can leave, beside those of all
// lines: it ends with a backslash.
const (
	goesOn    lexState = inStatement + 1 + iota // the line above reads what comes
	goesLabel                                   // behind a label
	goesData                                    // and more by the number of a directive in goingOn
)

var goingOn = []string{"DCB", "DCW", "DCD", "DCWU", "DCDU", "DCQ", "IMPORT", "EXPORT"}

// columnLine reads p.s, a line of the column dialect, after what a block
// comment takes of it.
func (p *parser) columnLine(in lexState) {
	s := p.s
	if p.state != inComment {
		p.state = inCode
	}
	if p.i == 0 && len(s) > 1 && s[0] == '#' {
		// For a preprocessor, or from one: # 12 "box.S"
		if rest := strings.TrimLeft(s[1:], " \t"); rest != "" && class[rest[0]]&(cStart|cDigit) != 0 {
			p.comment = 0
			return
		}
	}
	code := p.columnCode()
	if p.comment < 0 && code < len(s) {
		p.comment = int32(code)
	}
	next := lexState(inCode)
	text := s[:code]
	cut := trimRight(s, 0, code)
	if cut > p.i && s[cut-1] == '\\' && code == len(s) {
		next = goesOn
		cut--
		text = s[:cut]
	}
	whole := p.s
	p.s = text
	p.columnStatement(in, &next)
	p.s = whole
	p.state = max(p.state, next)
}

// columnCode is where the code of the line ends: at a comment or at its end.
// Block comments stay in it.
func (p *parser) columnCode() int {
	s := p.s
	for i := p.i; i < len(s); i++ {
		switch s[i] {
		case ';':
			return i
		case '/':
			if i+1 < len(s) && s[i+1] == '/' {
				return i
			}
			if i+1 < len(s) && s[i+1] == '*' {
				e := strings.Index(s[i+2:], "*/")
				if e < 0 {
					return len(s)
				}
				i += e + 3
			}
		case '"':
			for i++; i < len(s) && s[i] != '"'; i++ {
				if s[i] == '\\' {
					i++
				}
			}
		case '\'':
			if i+2 < len(s) && s[i+2] == '\'' {
				i += 2
			} else if i+3 < len(s) && s[i+1] == '\\' && s[i+3] == '\'' {
				i += 3
			}
		}
	}
	return len(s)
}

// variables says whether variables are to be put into a text first.
func variables(s string) bool {
	if strings.IndexByte(s, '$') < 0 {
		return false
	}
	bar := false
	for i := 0; i < len(s); i++ {
		switch s[i] {
		case '|':
			bar = !bar && i+1 < len(s) && class[s[i+1]]&(cIdent) != 0
		case '$':
			if !bar {
				return true
			}
		}
	}
	return false
}

// columnStatement reads the label and the statement of p.s.
func (p *parser) columnStatement(in lexState, next *lexState) {
	s := p.s
	start := p.i
	p.skip()
	b := p.i
	if b >= len(s) {
		return
	}
	switch {
	case in == goesOn:
		p.rest(b)
		return
	case in >= goesData:
		if d := columnDirectives()[goingOn[min(int(in-goesData), len(goingOn)-1)]]; d != nil {
			st := Stmt{Kind: Directive, Directive: d, Start: int32(b), NameEnd: int32(b), Number: -1, Name: d.Name}
			p.listGoesOn(d, next)
			p.columnArgs(&st)
			p.finish(&st)
			return
		}
	}
	if !p.plain && variables(s) && !p.readsItself(b) {
		st := Stmt{Kind: Directive, Directive: variableLine, Start: int32(b), NameEnd: int32(b), Number: -1, Name: "$"}
		p.i = len(s)
		st.End = int32(trimRight(s, b, p.i))
		p.add(st)
		return
	}
	label := Stmt{Number: -1, Start: int32(b)}
	if b == 0 && start == 0 && in != goesLabel && !p.conditionHere() && (s[0] != '|' || len(s) > 1 && class[s[1]]&cSpace == 0) && s[0] != '[' && s[0] != ']' {
		if !p.columnLabel(&label) {
			return
		}
		if p.skip(); p.i >= len(s) {
			p.add(label)
			if *next == goesOn {
				*next = goesLabel
			}
			return
		}
	}
	p.columnWord(label, next)
}

// conditionHere says whether a conditional directive is at column one, where
// sources have it that assemblers take.
func (p *parser) conditionHere() bool {
	d := p.directiveAt(0)
	if d == nil || class[p.s[0]]&cStart == 0 {
		return false
	}
	switch d.Effect {
	case EffIf, EffElseif, EffElse, EffEndif, EffWhile, EffWend, EffMacroBelow, EffEndm, EffExitm, EffEnd:
		return true
	}
	return false
}

// rest takes what is left of the line as the rest of a statement.
func (p *parser) rest(b int) {
	p.i = len(p.s)
	p.add(Stmt{Kind: Directive, Directive: restOfLine, Start: int32(b), NameEnd: int32(b), End: int32(trimRight(p.s, b, p.i)), Number: -1, Name: restOfLine.Name})
}

// readsItself says whether the line is one in which the analysis puts in
// variables itself, because other lines depend on what it is.
func (p *parser) readsItself(b int) bool {
	d := p.directiveAt(b)
	if d == nil {
		return false
	}
	switch d.Effect {
	case EffIf, EffElseif, EffElse, EffEndif, EffWhile, EffWend, EffMacroBelow, EffEndm:
		return true
	}
	return false
}

// directiveAt is the directive whose name is at i.
func (p *parser) directiveAt(i int) *DirectiveInfo {
	e := p.wordEnd(i)
	if e == i {
		return nil
	}
	return ColumnDirective(p.s[i:e])
}

// wordEnd is the end of the word that names a directive at i.
func (p *parser) wordEnd(i int) int {
	s := p.s
	if i >= len(s) {
		return i
	}
	switch s[i] {
	case '=', '&', '%', '^', '#', '*', '[', ']', '|', '!':
		return i + 1
	}
	e := i
	if class[s[i]]&cStart != 0 {
		for e < len(s) && class[s[e]]&cIdent != 0 {
			e++
		}
	}
	return e
}

// columnLabel reads the label at column one; false when the line is of no use
// any more.
func (p *parser) columnLabel(l *Stmt) bool {
	s := p.s
	l.Kind, l.NoColon = Label, true
	c := s[0]
	switch {
	case class[c]&cDigit != 0:
		n := int32(0)
		for p.i < len(s) && class[s[p.i]]&cDigit != 0 && n < 1<<24 {
			n = n*10 + int32(s[p.i]-'0')
			p.i++
		}
		l.Number, l.Name = n, s[:p.i]
		p.ident() // the name of the scope
	case c == '|':
		if l.Name = p.barred(); l.Name == "" {
			p.bad(0, "a name between two bars is expected here")
			return false
		}
	case class[c]&cStart != 0:
		l.Name = p.ident()
	case c == '*':
		p.i = len(s) // a comment, by an old custom
		p.comment = 0
		return false
	default:
		p.bad(0, "a label cannot start with this character")
		return false
	}
	l.NameEnd, l.End = int32(p.i), int32(p.i)
	if p.i < len(s) && class[s[p.i]]&cSpace == 0 {
		at := p.i
		if w := p.wordEnd(p.i); w > p.i && class[s[p.i]]&cStart == 0 && ColumnDirective(s[p.i:w]) != nil {
			return true // name*3
		}
		if s[at] == ':' {
			p.i++
			p.fail(at, at+1, "a label has no colon in this dialect")
			l.End = int32(p.i)
			l.Err, p.err = p.err, nil
			return true
		}
		p.bad(at, "a blank is missing after the label")
		return false
	}
	return true
}

// columnWord reads the statement at p.i, after a label or blanks.
func (p *parser) columnWord(label Stmt, next *lexState) {
	s := p.s
	b := p.i
	e := p.wordEnd(b)
	addLabel := func(align uint8) {
		if label.Kind == Label {
			label.Align = align
			p.add(label)
		}
	}
	if e == b {
		addLabel(0)
		p.bad(b, "a statement cannot start with this character")
		return
	}
	word := s[b:e]
	if *next == goesOn && !p.readsItself(b) {
		if d := ColumnDirective(word); d == nil || !p.listGoesOn(d, next) {
			p.i = len(s)
			p.add(Stmt{Kind: Directive, Directive: joinedLine, Start: label.Start, NameEnd: label.Start, End: int32(trimRight(s, b, p.i)), Number: -1, Name: joinedLine.Name})
			return
		}
	}
	p.i = e
	st := Stmt{Start: int32(b), NameEnd: int32(e), Number: -1, Name: word}
	if d := ColumnDirective(word); d != nil {
		st.Kind, st.Directive = Directive, d
		if d.NameFirst {
			if label.Kind != Label || label.Number >= 0 {
				if d.Effect != EffField {
					addLabel(0)
					p.fail(b, e, "a name is missing before "+word)
					p.columnArgs(&st)
					p.finish(&st)
					return
				}
			} else {
				st.Start, st.NameEnd, st.Name, st.Err = label.Start, label.NameEnd, label.Name, label.Err
				if d.Effect == EffSet {
					st.Kind, st.Directive = Assign, nil
					p.args(&st)
					if len(st.Ops) > 1 { // a type
						st.Ops = st.Ops[:1]
						p.toEnd()
					}
					p.finish(&st)
					return
				}
				p.columnArgs(&st)
				p.finish(&st)
				return
			}
		} else {
			addLabel(d.Align)
		}
		st.Align = d.Align
		p.columnArgs(&st)
		p.finish(&st)
		return
	}
	if m, w := findMnemonic(word); m != nil {
		addLabel(alignCode)
		st.Kind, st.Mnemonic, st.Width, st.Align = Instruction, m, w, alignCode
		p.operands(&st)
		p.finish(&st)
		return
	}
	align := uint8(0)
	if base, _, _ := ColumnPseudo(word); base != "" {
		align = alignCode
	}
	addLabel(align)
	st.Kind = Unknown
	p.macroArgs(&st)
	p.finish(&st)
}

// listGoesOn says whether a directive of goingOn goes on in the next line after a
// comma: then each line is one of it.
func (p *parser) listGoesOn(d *DirectiveInfo, next *lexState) bool {
	cut := trimRight(p.s, 0, len(p.s)) - 1
	if *next != goesOn || cut < p.i || p.s[cut] != ',' {
		return false
	}
	for i, n := range goingOn {
		if n == d.Name {
			*next = goesData + lexState(i)
			p.s = p.s[:cut]
			return true
		}
	}
	return false
}

// columnArgs reads the arguments of a directive.
func (p *parser) columnArgs(s *Stmt) {
	switch d := s.Directive; {
	case d.Effect == EffArea:
		p.area(s)
	case d.Effect == EffList:
		if c := p.peek(); c != '{' {
			p.fail(max(p.i-1, 0), max(p.i, 1), "a list of registers in braces is missing here")
			return
		}
		o := Operand{Start: int32(p.i)}
		p.list(&o)
		o.End = int32(p.operandEnd(int(o.Start)))
		s.Ops = []Operand{o}
	case d.Args == ArgsText:
		p.toEnd()
		p.err = nil
	case d.Args == ArgsStrings:
		// A file's name, to the end of the line.
		if p.atEnd() {
			p.fail(p.i-1, p.i, "a file name is missing here")
			return
		}
		b := p.i
		p.toEnd()
		p.err = nil
		e := trimRight(p.s, b, p.i)
		o := Operand{Start: int32(b), End: int32(e), IsStr: true}
		o.Kind = isa.OpOther
		o.names().Str = strings.Trim(p.s[b:e], `"`)
		s.Ops = []Operand{o}
	case d.Args == ArgsSymbols:
		p.symbols(s)
	case !p.plain && variables(p.s):
		p.i = len(p.s) // read when the variables are known
	default:
		p.args(s)
		if e := trimRight(p.s, 0, p.i); e > 0 && p.s[e-1] == ',' && p.i >= len(p.s) && len(s.Ops) > 0 {
			p.fail(e-1, e, "a value is missing after the comma")
		}
		if d.Effect == EffReq && len(s.Ops) == 1 {
			if o := &s.Ops[0]; o.Known && o.Imm >= 0 && o.Imm < 16 {
				o.Kind, o.Reg, o.Known = isa.OpReg, isa.Reg(o.Imm), false
			}
		}
	}
}

// name reads a symbol's name, in bars or not; empty without one.
func (p *parser) name() string {
	p.skip()
	if p.i < len(p.s) && p.s[p.i] == '|' {
		return p.barred()
	}
	return p.ident()
}

// barred reads a name between single or double bars, as compilers write them.
func (p *parser) barred() string {
	bar := "|"
	if strings.HasPrefix(p.s[p.i:], "||") {
		bar = "||"
	}
	rest := p.s[p.i+len(bar):]
	e := strings.Index(rest, bar)
	if e < 1 {
		return ""
	}
	p.i += e + 2*len(bar)
	return rest[:e]
}

// symbols reads names, with attributes in brackets: these are operands whose
// Names.Str is what is there, in upper case.
func (p *parser) symbols(s *Stmt) {
	weak := false
	for !p.atEnd() {
		b := p.i
		w := p.name()
		if w == "" && p.s[p.i] != '[' {
			if s.Directive.Effect == EffCommon && len(s.Ops) > 0 {
				o := Operand{Start: int32(b)}
				p.arg(s, &o)
				o.End = int32(p.operandEnd(b))
				s.Ops = append(s.Ops, o)
				if p.err == nil && (p.eat(',') || p.atEnd()) {
					continue
				}
			}
			p.fail(b, b+1, "a symbol's name is expected here")
			return
		}
		if w != "" {
			if len(s.Ops) > 0 && strings.EqualFold(w, "WEAK") {
				weak = true
			} else {
				o := Operand{Start: int32(b), End: int32(p.i)}
				o.Kind, o.Word = isa.OpExpr, w
				s.Ops = append(s.Ops, o)
			}
		}
		if p.peek() == '[' {
			b := p.i
			for p.i < len(p.s) && p.s[p.i] != ']' {
				p.i++
			}
			attrs := strings.ToUpper(p.s[b+1 : p.i])
			weak = weak || strings.Contains(attrs, "WEAK")
			if p.i < len(p.s) {
				p.i++
				o := Operand{Start: int32(b), End: int32(p.i)}
				o.Kind = isa.OpOther
				o.names().Str = attrs
				s.Ops = append(s.Ops, o)
			} else {
				p.fail(b, b+1, "this '[' has no ']'")
			}
		}
		if !p.eat(',') {
			break
		}
	}
	if weak && s.Directive.Effect == EffExport {
		s.Directive = exportWeak
	}
}

// area reads "name, attribute, …, ALIGN=n". The attributes' names are in
// Names.Str in upper case, what is after '=' is the operand's value.
func (p *parser) area(s *Stmt) {
	p.skip()
	b := p.i
	w := p.name()
	if w == "" {
		p.fail(b, b+1, "the section's name is missing")
		p.toEnd()
		return
	}
	o := Operand{Start: int32(b), End: int32(p.i)}
	o.Kind, o.Word = isa.OpExpr, w
	s.Ops = append(s.Ops, o)
	for p.eat(',') {
		p.skip()
		b := p.i
		w := p.ident()
		if w == "" {
			p.fail(b, b+1, "an attribute is expected here")
			return
		}
		o := Operand{}
		o.Kind = isa.OpOther
		o.names().Str = strings.ToUpper(w)
		if p.eat('=') {
			p.skip()
			if p.i < len(p.s) && p.s[p.i] == '"' || !strings.EqualFold(w, "ALIGN") {
				for p.i < len(p.s) && p.s[p.i] != ',' {
					p.i++
				}
			} else {
				o.Kind = isa.OpExpr
				o.setValue(p, p.expr(1, 0))
			}
		}
		o.Start, o.End = int32(b), int32(p.operandEnd(b))
		s.Ops = append(s.Ops, o)
		if p.err != nil {
			return
		}
	}
}

// columnArg reads an argument of a directive of the column dialect.
func (p *parser) columnArg(o *Operand) {
	switch c := p.s[p.i]; {
	case c == '"':
		save := p.i
		str := p.columnString()
		if t := p.peek(); t == 0 || t == ',' {
			o.Kind, o.IsStr = isa.OpOther, true
			o.names().Str = str
			return
		}
		p.i = save
	case c == ',':
		o.Kind = isa.OpNone // an empty argument
		return
	}
	b := p.i
	if class[p.s[b]]&cStart != 0 && p.s[b] != '.' {
		if r, ok := p.regHere(); ok {
			if t := p.peek(); t == 0 || t == ',' {
				o.Kind, o.Reg, o.Word = isa.OpReg, r, strings.TrimRight(p.s[b:p.i], " \t")
				p.i = b + len(o.Word)
				return
			}
		} else {
			w := p.ident()
			if t := p.peek(); t == 0 || t == ',' {
				o.Kind, o.Word = isa.OpExpr, w
				p.i = b + len(w)
				return
			}
		}
		p.i = b
	}
	o.Kind = isa.OpExpr
	o.setValue(p, p.expr(1, 0))
}

// columnString reads a string: quotes are doubled inside, escapes are those
// of C.
func (p *parser) columnString() string {
	b := p.i
	p.i++
	var out []byte
	plain := true
	for p.i < len(p.s) {
		c := p.s[p.i]
		switch {
		case c == '"':
			if p.i+1 < len(p.s) && p.s[p.i+1] == '"' {
				if plain {
					out, plain = append(out, p.s[b+1:p.i]...), false
				}
				out = append(out, '"')
				p.i += 2
				continue
			}
			p.i++
			if plain {
				return p.s[b+1 : p.i-1]
			}
			return string(out)
		case c == '$' && p.i+1 < len(p.s) && p.s[p.i+1] == '$', c == '\\' && p.i+1 < len(p.s):
			if plain {
				out, plain = append(out, p.s[b+1:p.i]...), false
			}
			if c == '$' {
				out = append(out, '$')
				p.i += 2
				continue
			}
			v, n := escape(p.s[p.i+1:])
			out = append(out, v)
			p.i += n + 1
			continue
		}
		if !plain {
			out = append(out, c)
		}
		p.i++
	}
	p.i = len(p.s)
	p.fail(b, p.i, "the string has no closing quote")
	if plain {
		return p.s[min(b+1, len(p.s)):]
	}
	return string(out)
}

// columnToEnd passes everything up to the end of the statement.
func (p *parser) columnToEnd() {
	p.i = max(p.i, len(p.s))
	for p.i > 0 && class[p.s[p.i-1]]&cSpace != 0 {
		p.i--
	}
}

// ColumnPseudo takes the name of an instruction apart that the assembler of the
// column dialect makes of others: MOV32, UND and ADRL, with a condition and a
// width. base is empty for other words.
func ColumnPseudo(word string) (base, cond, width string) {
	if len(word) > 9 {
		return "", "", ""
	}
	low := strings.ToLower(word)
	for _, base := range []string{"mov32", "und", "adrl"} {
		rest, ok := strings.CutPrefix(low, base)
		if !ok {
			continue
		}
		cond, w, dot := strings.Cut(rest, ".")
		if _, known := isa.CondByName(cond); cond != "" && !known || dot && w != "w" && w != "n" {
			return "", "", ""
		}
		return base, cond, rest[len(cond):]
	}
	return "", "", ""
}
