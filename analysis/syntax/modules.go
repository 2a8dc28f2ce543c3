package syntax

import (
	"strconv"
	"strings"
	"sync"

	"narrowgauge/isa"
)

// The dialect of modules, as some vendors' toolchains have it: a source is one of several
// modules, with sections by name and kind; directives are words, labels are at column one or
// have a colon, comments are those of C or begin with ';', and expressions have the operators
// of C. It is read as the dialect with dots, with words in the place of the dots. The rules
// are from memory of public sources.

// moduleList describes the directives: names, the first of which is the usual one, and what
// they do.
var moduleList = []struct {
	names string
	info  DirectiveInfo
}{
	{"MODULE NAME PROGRAM LIBRARY", DirectiveInfo{Args: ArgsText, Usage: "MODULE name", Doc: "A module begins."}},
	{"ENDMOD", DirectiveInfo{Args: ArgsText, Usage: "ENDMOD", Doc: "A module ends, and another one may follow."}},
	{"END", DirectiveInfo{Args: ArgsText, Effect: EffEnd, Usage: "END", Doc: "The source ends here."}},
	{"SECTION RSEG", DirectiveInfo{Args: ArgsRaw, Effect: EffArea, Usage: "SECTION name:kind:flag(exponent)", Doc: "Goes on in a section of a kind (CODE, CONST or DATA), aligned to a power of two."}},
	{"PUBLIC EXPORT", DirectiveInfo{Args: ArgsSymbols, Effect: EffGlobal, Usage: "PUBLIC name, …", Doc: "The linker may see the names."}},
	{"PUBWEAK", DirectiveInfo{Args: ArgsSymbols, Effect: EffGlobal, Weak: true, Usage: "PUBWEAK name, …", Doc: "The linker may see the names, and takes another definition first."}},
	{"EXTERN IMPORT EXTWEAK", DirectiveInfo{Args: ArgsSymbols, Effect: EffExtern, Usage: "EXTERN name, …", Doc: "The names are defined in another module."}},
	{"REQUIRE", DirectiveInfo{Args: ArgsText, Usage: "REQUIRE name", Doc: "The linker takes what has the name."}},
	{"THUMB", DirectiveInfo{Effect: EffThumb, Spelling: SpellingUnified, Usage: "THUMB", Doc: "What follows is T16 or T32 code in unified spelling."}},
	{"CODE16", DirectiveInfo{Effect: EffThumb, Spelling: SpellingDivided, Usage: "CODE16", Doc: "What follows is T16 code in the spelling from before the unified one."}},
	{"ARM CODE32", DirectiveInfo{Effect: EffArm, Spelling: SpellingUnified, Usage: "ARM", Doc: "What follows is A32 code."}},
	{"CODE", DirectiveInfo{Args: ArgsText, Usage: "CODE", Doc: "Code follows, in the instruction set in force."}},
	{"DATA", DirectiveInfo{Args: ArgsText, Usage: "DATA", Doc: "Data follows."}},
	{"DC8 DCB", DirectiveInfo{Args: ArgsExprs, Effect: EffData, Unit: 1, Strings: true, Anywhere: true, Usage: "DC8 value or 'text', …", Doc: "Bytes, and the bytes of strings; one in double quotes has a zero after it."}},
	{"DC16 DCW", DirectiveInfo{Args: ArgsExprs, Effect: EffData, Unit: 2, Anywhere: true, Usage: "DC16 value, …", Doc: "Halfwords of 2 bytes."}},
	{"DC24", DirectiveInfo{Args: ArgsExprs, Effect: EffData, Unit: 3, Anywhere: true, Usage: "DC24 value, …", Doc: "Values of 3 bytes."}},
	{"DC32 DCD", DirectiveInfo{Args: ArgsExprs, Effect: EffData, Unit: 4, Anywhere: true, Usage: "DC32 value, …", Doc: "Words of 4 bytes."}},
	{"DC64 DCQ", DirectiveInfo{Args: ArgsExprs, Effect: EffData, Unit: 8, Anywhere: true, Usage: "DC64 value, …", Doc: "Doublewords of 8 bytes."}},
	{"DF32", DirectiveInfo{Args: ArgsExprs, Effect: EffFloat, Unit: 4, Usage: "DF32 number, …", Doc: "Floating-point numbers of 4 bytes."}},
	{"DF64", DirectiveInfo{Args: ArgsExprs, Effect: EffFloat, Unit: 8, Usage: "DF64 number, …", Doc: "Floating-point numbers of 8 bytes."}},
	{"DS8 DS", DirectiveInfo{Args: ArgsExprs, Effect: EffSpace, Unit: 1, Usage: "DS8 count", Doc: "So many bytes."}},
	{"DS16", DirectiveInfo{Args: ArgsExprs, Effect: EffSpace, Unit: 2, Usage: "DS16 count", Doc: "So many halfwords."}},
	{"DS24", DirectiveInfo{Args: ArgsExprs, Effect: EffSpace, Unit: 3, Usage: "DS24 count", Doc: "So many times 3 bytes."}},
	{"DS32", DirectiveInfo{Args: ArgsExprs, Effect: EffSpace, Unit: 4, Usage: "DS32 count", Doc: "So many words."}},
	{"DS64", DirectiveInfo{Args: ArgsExprs, Effect: EffSpace, Unit: 8, Usage: "DS64 count", Doc: "So many doublewords."}},
	{"ALIGNROM ALIGNRAM ALIGN", DirectiveInfo{Args: ArgsExprs, Effect: EffAlignPow, Usage: "ALIGNROM exponent", Doc: "Aligns to a power of two."}},
	{"EVEN", DirectiveInfo{Effect: EffEven, Usage: "EVEN", Doc: "Aligns to 2 bytes."}},
	{"ORG", DirectiveInfo{Args: ArgsExprs, Effect: EffOrg, Usage: "ORG offset", Doc: "Goes on at an offset of the section."}},
	{"LTORG", DirectiveInfo{Effect: EffPool, Usage: "LTORG", Doc: "Places the literal pool here: the words for LDR Rx, =value since the last pool."}},
	{"EQU DEFINE SET VAR ASSIGN ALIAS", DirectiveInfo{Args: ArgsExprs, Effect: EffSet, NameFirst: true, Usage: "name EQU value", Doc: "Gives a name a value."}},
	{"MACRO", DirectiveInfo{Args: ArgsText, Effect: EffMacro, NameFirst: true, Usage: "name MACRO parameter, …", Doc: "Starts the definition of a macro, which ends at ENDM."}},
	{"ENDM", DirectiveInfo{Args: ArgsText, Effect: EffEndm, Usage: "ENDM", Doc: "Ends the definition of a macro."}},
	{"EXITM", DirectiveInfo{Args: ArgsText, Effect: EffExitm, Usage: "EXITM", Doc: "Leaves the expansion of a macro."}},
	{"REPT", DirectiveInfo{Args: ArgsExprs, Effect: EffRept, Usage: "REPT count", Doc: "Repeats the lines up to ENDR."}},
	{"REPTI", DirectiveInfo{Args: ArgsText, Effect: EffRept, Usage: "REPTI name, value, …", Doc: "Repeats the lines up to ENDR for each value, with the value in place of the name."}},
	{"REPTC", DirectiveInfo{Args: ArgsText, Effect: EffRept, Unit: 1, Usage: "REPTC name, \"characters\"", Doc: "Repeats the lines up to ENDR for each character, with it in place of the name."}},
	{"ENDR", DirectiveInfo{Args: ArgsText, Effect: EffEndr, Usage: "ENDR", Doc: "Ends a repetition."}},
	{"IF", DirectiveInfo{Args: ArgsExprs, Effect: EffIf, Usage: "IF condition", Doc: "What follows is assembled when the condition holds."}},
	{"ELSEIF", DirectiveInfo{Args: ArgsExprs, Effect: EffElseif, Usage: "ELSEIF condition", Doc: "Another condition."}},
	{"ELSE", DirectiveInfo{Args: ArgsText, Effect: EffElse, Usage: "ELSE", Doc: "What follows is assembled when no condition before held."}},
	{"ENDIF", DirectiveInfo{Args: ArgsText, Effect: EffEndif, Usage: "ENDIF", Doc: "Ends a conditional part."}},
	{"PRESERVE8 REQUIRE8", DirectiveInfo{Args: ArgsText, Usage: "PRESERVE8", Doc: "About the stack's alignment to 8 bytes."}},
	{"CFI", DirectiveInfo{Args: ArgsText, Usage: "CFI …", Doc: "Tells debuggers where the frame and saved registers are."}},
	{"SECTION_TYPE RTMODEL CALL_GRAPH_ROOT STACK LOCAL LSTOUT LSTCND LSTEXP LSTMAC LSTREP LSTXRF COL PAGE PAGSIZ CASEON CASEOFF RADIX",
		DirectiveInfo{Args: ArgsText, Usage: "SECTION_TYPE …", Doc: "About the object file, the listing or how names are read; known by name."}},
}

var moduleDirectives = sync.OnceValue(func() map[string]*DirectiveInfo {
	out := map[string]*DirectiveInfo{}
	for i := range moduleList {
		for _, n := range strings.Fields(moduleList[i].names) {
			d := moduleList[i].info
			first, _, _ := strings.Cut(moduleList[i].names, " ")
			d.Name, d.Word, d.Lenient = n, true, true
			d.Usage = strings.Replace(d.Usage, first, n, 1)
			out[n] = &d
		}
	}
	return out
})

// ModuleDirective looks a directive of the dialect of modules up, in upper or in lower case;
// nil when nothing knows it.
func ModuleDirective(word string) *DirectiveInfo {
	up := strings.ToUpper(word)
	if up != word && strings.ToLower(word) != word {
		return nil
	}
	return moduleDirectives()[up]
}

// Words says whether directives are words in a dialect, and not names with a dot.
func (d Dialect) Words() bool { return d == Columns || d == Modules }

// commentMark says whether '@' begins a comment.
func (d Dialect) commentMark() bool { return d == Dots || d == Semicolon }

// moduleStatement reads a label or a directive that the dialect of modules has beside
// what the one with dots has; false: it is something else.
func (p *parser) moduleStatement(s *Stmt) bool {
	b, end := int(s.Start), p.i
	next := p.ident()
	p.i = end
	if d := ModuleDirective(next); d != nil && d.NameFirst {
		p.i += len(next)
		if d.Effect == EffSet {
			up := strings.ToUpper(next)
			s.Kind, s.Once = Assign, up == "EQU" || up == "DEFINE" || up == "ALIAS"
			p.args(s)
		} else {
			s.Kind, s.Directive, s.NameEnd = Directive, d, int32(p.i)
			p.toEnd()
			p.err = nil
		}
		p.finish(s)
		return true
	}
	d := ModuleDirective(s.Name)
	if d != nil && (b > 0 || next == "" || ModuleDirective(next) == nil && s.Name == strings.ToUpper(s.Name)) {
		s.Kind, s.Directive = Directive, d
		switch {
		case d.NameFirst:
			p.fail(b, int(s.NameEnd), "a name is missing before "+s.Name)
			p.toEnd()
		case d.Effect == EffArea:
			p.moduleSection(s)
		default:
			p.directive(s)
		}
		p.finish(s)
		return true
	}
	if b == 0 {
		s.Kind, s.NoColon, s.End = Label, true, s.NameEnd
		p.i = end
		p.add(*s)
		return true
	}
	return false
}

// moduleSection reads "name:kind:flag…(exponent)" as the operands of AREA: the name, and
// attributes in Names.Str; the exponent is the value of one of them.
func (p *parser) moduleSection(s *Stmt) {
	b := p.i
	w := p.ident()
	if w == "" {
		p.fail(b, b+1, "the section's name is missing")
		p.toEnd()
		return
	}
	o := Operand{Start: int32(b), End: int32(p.i)}
	o.Kind, o.Word = isa.OpExpr, w
	s.Ops = append(s.Ops, o)
	for p.eat(':') {
		p.skip()
		b := p.i
		up := strings.ToUpper(p.ident())
		if up == "" {
			p.fail(b, b+1, "a kind or a flag of the section is expected here")
			p.toEnd()
			return
		}
		kinds := map[string][]string{"CODE": {"CODE", "READONLY"}, "CONST": {"DATA", "READONLY"}, "DATA": {"DATA"}}
		for _, attr := range kinds[up] {
			o := Operand{Start: int32(b), End: int32(p.i)}
			o.Kind = isa.OpOther
			o.names().Str = attr
			s.Ops = append(s.Ops, o)
		}
	}
	if at := p.i; p.eat('(') {
		o := Operand{Start: int32(at)}
		o.Kind = isa.OpExpr
		o.names().Str = "ALIGN"
		o.setValue(p, p.expr(1, 0))
		if !p.eat(')') {
			p.fail(at, at+1, "this '(' has no ')'")
		}
		o.End = int32(p.i)
		s.Ops = append(s.Ops, o)
	}
}

// moduleText reads a string of the dialect of modules as an argument: in double quotes with
// a zero after it, in single ones as it is; false: it is none.
func (p *parser) moduleText(s *Stmt, o *Operand) bool {
	c := p.s[p.i]
	if s.Directive == nil || !s.Directive.Strings || c != '"' && c != '\'' {
		return false
	}
	e := strings.IndexByte(p.s[p.i+1:], c)
	if e < 0 || c == '\'' && e < 2 {
		return false // a character
	}
	text := p.s[p.i+1 : p.i+1+e]
	p.i += e + 2
	if c == '"' {
		text += "\x00"
	}
	o.Kind, o.IsStr = isa.OpOther, true
	o.names().Str = text
	return true
}

// moduleBases are the letters that say the base of a number, behind its digits as in 0FFh, or in
// front of quotes as in h'FF'.
var moduleBases = map[byte]uint64{'h': 16, 'x': 16, 'd': 10, 'q': 8, 'o': 8, 'b': 2}

// moduleNumber reads a number with its base behind it; false: it has none.
func (p *parser) moduleNumber() (value, bool) {
	b, e := p.i, p.i
	for e < len(p.s) && class[p.s[e]]&cIdent != 0 {
		e++
	}
	base := moduleBases[p.s[e-1]|0x20]
	if e-b < 2 || base == 0 || p.s[e-1]|0x20 == 'x' {
		return value{}, false
	}
	n, ok := digits(p.s[b:e-1], base)
	if !ok {
		return value{}, false
	}
	p.i = e
	return value{num: true, n: n, start: b, end: e, ok: true}, true
}

// moduleQuoted reads a number such as h'FF'; false: it is something else.
func (p *parser) moduleQuoted() (value, bool) {
	b := p.i
	if b+2 >= len(p.s) || p.s[b+1] != '\'' || moduleBases[p.s[b]|0x20] == 0 {
		return value{}, false
	}
	e := strings.IndexByte(p.s[b+2:], '\'')
	if e < 1 {
		return value{}, false
	}
	n, ok := digits(p.s[b+2:b+2+e], moduleBases[p.s[b]|0x20])
	if !ok {
		return value{}, false
	}
	p.i = b + e + 3
	return value{num: true, n: n, start: b, end: p.i, ok: true}, true
}

// moduleChars reads several characters in quotes as a number, the first one in its highest
// byte; false: it is something else.
func (p *parser) moduleChars() (value, bool) {
	b := p.i
	e := strings.IndexByte(p.s[b+1:], '\'')
	if e < 2 || e > 4 || strings.IndexByte(p.s[b+1:b+1+e], '\\') >= 0 {
		return value{}, false
	}
	var n int64
	for _, c := range []byte(p.s[b+1 : b+1+e]) {
		n = n<<8 | int64(c)
	}
	p.i = b + e + 2
	return value{num: true, n: n, start: b, end: p.i, ok: true}, true
}

// digits is the value of digits, of 64 bits at most.
func digits(s string, base uint64) (int64, bool) {
	v, err := strconv.ParseUint(s, int(base), 64)
	return int64(v), err == nil
}

// sectionEnds are the functions that give where sections begin and end, and their size.
var sectionEnds = map[string]bool{"SFB": true, "SFE": true, "SIZEOF": true}

// sectionEnd reads SFB(section) and the like: what only the linker knows. The symbol is
// called as it is written.
func (p *parser) sectionEnd() (value, bool) {
	b := p.i
	if w := p.ident(); p.dialect == Modules && sectionEnds[strings.ToUpper(w)] && p.eat('(') {
		if e := strings.IndexByte(p.s[p.i:], ')'); e > 0 {
			p.i += e + 1
			x := p.newExpr()
			*x = Expr{Op: ExprSym, Name: p.s[b:p.i], Start: int32(b), End: int32(p.i)}
			return value{e: x, start: b, end: p.i, ok: true}, true
		}
	}
	p.i = b
	return value{}, false
}
