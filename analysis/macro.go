package analysis

import (
	"fmt"
	"narrowgauge/analysis/preprocess"
	"slices"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
)

// The bounds of what macros and repetitions may come to.
const (
	// maxNest is how deep expansions stand in each other; the assembler has
	// the same bound.
	maxNest = 101
	// maxExpanded bounds the statements that expansions add to a program.
	maxExpanded = 1_000_000
	// maxExpansion bounds the text of one expansion, in bytes.
	maxExpansion = 16 << 20
	// What counts as a statement: so many lines that an expansion passes over,
	// such as the body of a repetition in it, so many lines that are parsed for
	// one, and so many bytes of text.
	aPass  = 16
	aParse = 4
	aText  = 64
)

// macro is one definition of a macro.
type macro struct {
	name   string // as written
	params []syntax.Param
	file   int32      // the source with its body
	line   int32      // of the .macro there
	end    int32      // line of the .endm
	lines  []bodyLine // of the body, where included files are in it
	item   int32      // the .macro
	at     place
	calls  []int32 // items that call it, in order
	// columns: of the column dialect; label: its first parameter is the label;
	// cond: the next one is what goes on behind its name.
	columns, label, cond bool
}

// definition is a macro that can be called, with its body.
type definition struct {
	*macro
	tmpl *template
}

// expansion says where the lines of a source come from.
type expansion struct {
	macro *macro      // nil for a repetition
	by    string      // a repetition's directive
	file  int32       // source with the body's text
	line  int32       // line there of the first line
	n     int32       // lines of the body: they come again and again
	lines []bodyLine  // where the body's lines stand, if not one behind the other
	exact bool        // columns are those of the body
	name  string      // of .irp and its kin
	more  func() bool // WHILE: whether it goes on
	// joined: one line made of several; columns are bytes from the first one.
	joined bool
}

// bodyLine is a line of a source.
type bodyLine struct{ file, line int32 }

// body is the line of the body that a line of the expansion is made of.
func (x *expansion) body(line int32) (int32, int32) {
	if n := int32(len(x.lines)); n > 0 {
		w := x.lines[min(line%x.n, n-1)]
		return w.file, w.line
	}
	return x.file, x.line + line%x.n
}

// made is a statement of an expansion. A place in an expansion is shown in
// the file that asked for it, and remembers what it stands for.
type made struct {
	file, line int32
	stmt       *syntax.Stmt
}

// place is a location that remembers what made the text there.
type place struct {
	Location
	made *made             // the line of an expansion that the place stands for
	use  *preprocess.Macro // the macro of the preprocessor that made it
}

// placeAt is a place that nothing made.
func placeAt(path string, s Span) place { return place{Location: Location{Path: path, Span: s}} }

// macroState is what the pass knows of macros.
type macroState struct {
	macroBy   map[string]*definition // by name in lower case
	mtext     syntax.MacroText
	nest      int  // expansions that stand in each other now
	left      bool // .exitm: the present source ends
	unwind    bool // too deep: all expansions end
	full      bool // maxExpanded is reached: nothing is expanded any more
	spent     int
	madeNames int // names that LOCAL made
	// jump: the file goes on at statement toStmt of line toLine.
	jump           bool
	toLine, toStmt int
	resume         resumeAt
	store          *Expansions
}

// toldKey is a finding in an expansion: once is enough.
type toldKey struct {
	at      Location
	made    place
	code    string
	message string
}

// madeLoc is the place of columns [a,b) of an item in an expansion: those of
// the body's line in a repetition, and the whole call for a macro.
func (r *Program) madeLoc(it *item, a, b int32) place {
	file, line, in := r.shown(it)
	switch {
	case in == nil:
		l := r.sources[file].file.Line(int(line))
		a, b = trimmed(l.Text, 0, int32(len(l.Text)))
		if c := l.Comment; c > a {
			_, b = trimmed(l.Text, a, c)
		}
	case in != it:
		a, b = in.stmt.Start, in.stmt.End
	}
	at := r.loc(&item{file: file, line: line}, a, b)
	if s := &r.sources[file]; in == it && s.exp == nil && r.sources[it.file].exp.joined {
		o := s.file.LineStart(int(line))
		at.Span = Span{o + int(a), o + int(max(a, b))}
	}
	at.made = &made{it.file, it.line, it.stmt}
	return at
}

// shown is the line of a file where an item's findings are shown: for what a
// macro makes that of the call, for what is repeated that of the body. in is
// the item whose columns count, nil for the whole line.
func (r *Program) shown(it *item) (file, line int32, in *item) {
	file, line, in = it.file, it.line, it
	for {
		s := &r.sources[file]
		x := s.exp
		switch {
		case x == nil:
			return file, line, in
		case x.macro != nil:
			in = &r.items[s.from]
			file, line = in.file, in.line
		default:
			file, line = x.body(line)
			if !x.exact {
				in = nil
			}
		}
	}
}

// written is the line of a file that a line of an expansion was written in.
func (r *Program) written(file, line int32) (int32, int32) {
	for r.sources[file].exp != nil {
		file, line = r.sources[file].exp.body(line)
	}
	return file, line
}

// writtenLoc is the place of the text of that line.
func (r *Program) writtenLoc(file, line int32) place {
	file, line = r.written(file, line)
	l := r.sources[file].file.Line(int(line))
	end := int32(len(l.Text))
	if l.Comment >= 0 {
		end = l.Comment
	}
	a, b := trimmed(l.Text, 0, end)
	return r.loc(&item{file: file, line: line}, a, b)
}

// fromExpansion completes a finding about a line of an expansion: the line in
// the definition is related to it. It says whether it was told already.
func (p *reporter) fromExpansion(m *made, d *Diagnostic) bool {
	s := &p.sources[m.file]
	where := p.writtenLoc(m.file, m.line)
	k := toldKey{d.Location, where, d.Code, d.Message}
	if p.told[k] {
		return true
	}
	if p.told == nil {
		p.told = map[toldKey]bool{}
	}
	p.told[k] = true
	// Alike findings with other numbers: some are enough.
	if s.exp.macro == nil {
		n := 0
		for ; n < 10 && p.told[toldKey{d.Location, where, d.Code, strconv.Itoa(n)}]; n++ {
		}
		if n == 10 {
			return true
		}
		p.told[toldKey{d.Location, where, d.Code, strconv.Itoa(n)}] = true
	}
	d.Expanded = true
	text := s.file.Line(int(m.line)).Text
	if m.stmt != nil && int(m.stmt.End) <= len(text) {
		text = text[m.stmt.Start:m.stmt.End]
	}
	text = clipText(strings.TrimSpace(text), 80)
	for up := m.file; p.sources[up].exp != nil && len(d.Related) < 6; {
		s := &p.sources[up]
		if x := s.exp; x.macro != nil {
			msg := "in " + x.macro.name + ": " + text
			d.Related = append(d.Related, Related{where.Location, msg})
			it := &p.items[s.from]
			where = p.writtenLoc(it.file, it.line)
			text = clipText(strings.TrimSpace(p.lineText(it)[it.stmt.Start:it.stmt.End]), 80)
		} else if x.name != "" && up == m.file {
			d.Related = append(d.Related, Related{where.Location, "in " + x.by + ", as: " + text})
		}
		up = p.items[s.from].file
	}
	return false
}

func clipText(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && s[n]&0xc0 == 0x80 {
		n--
	}
	return s[:n] + "…"
}

// macroNamed is the macro that a statement's first word names.
func (p *pass) macroNamed(s *syntax.Stmt) *definition {
	switch s.Kind {
	case syntax.Unknown, syntax.Instruction:
	case syntax.Label:
		if !s.NoColon {
			return nil
		}
	case syntax.Directive:
		if s.Name[0] == '.' {
			return nil
		}
	default:
		return nil
	}
	return p.macroBy[lower(s.Name)]
}

func lower(s string) string {
	for i := 0; i < len(s); i++ {
		if s[i] >= 'A' && s[i] <= 'Z' {
			return strings.ToLower(s)
		}
	}
	return s
}

// call expands the statement, if a macro has its name.
func (p *pass) call(file, line int32, l *syntax.Line, s *syntax.Stmt) bool {
	m := p.macroNamed(s)
	if m == nil {
		return false
	}
	end := s.CallEnd(l)
	if s.Kind != syntax.Unknown {
		// An instruction's name, or what looks like a label.
		t := *s
		t.Kind, t.Mnem, t.Dir, t.Ops, t.Err, t.NoColon = syntax.Unknown, nil, nil, nil, nil, false
		_, t.End = trimmed(l.Text, s.NameEnd, end)
		s = &t
	}
	it := p.push(file, line, s, 0)
	it.flags |= fCall | fOpaque
	id := it.id
	m.calls = append(m.calls, id)
	if f := p.callText(m, id, l.Text[s.NameEnd:end]); f != nil {
		p.expand(id, f, &expansion{macro: m.macro, file: m.file, line: m.line, lines: m.lines, n: max(int32(f.NumLines()-1), 1)}, 1)
	}
	// What the parser took for statements of their own.
	k := sort.Search(len(l.Stmts), func(k int) bool { return l.Stmts[k].Start >= end && l.Stmts[k].Start > s.Start })
	if p.resume.on {
		if p.resume.file != file {
			p.goTo(p.sources[file].file.NumLines(), 0)
			return true
		}
		p.resume.on = false
		line, k = int32(p.resume.line), p.resume.stmt
	}
	p.goTo(int(line), k)
	return true
}

// goTo lets the present source go on at another statement.
func (p *pass) goTo(line, stmt int) { p.jump, p.toLine, p.toStmt = true, line, stmt }

// problems reports what is wrong with a definition or call, and says whether
// it comes to nothing.
func (p *pass) problems(id int32, code string, list []syntax.MacroProblem) (fatal bool) {
	for _, x := range list {
		at := p.stmtLoc(&p.items[id])
		if x.Mild {
			p.warn(at, code, x.Text+".")
		} else {
			p.report(at, code, x.Text+".")
		}
		fatal = fatal || x.Fatal
	}
	return fatal
}

// callText is what the call of a macro comes to, nil for nothing.
func (p *pass) callText(m *definition, id int32, raw string) *syntax.File {
	if p.full {
		p.inexact()
		return nil
	}
	t := m.tmpl
	k := callKey{args: raw, alt: p.mtext.Alt}
	if t.Numbered {
		k.number = p.mtext.Number
	}
	if t.Locals {
		k.local = p.madeNames
	}
	keep := !(p.mtext.Alt && strings.Contains(raw, "%")) // which computes
	if keep {
		if f, more := p.store.get(t, k); f != nil {
			p.mtext.Number++
			p.madeNames += more
			return f
		}
	}
	values, bad := p.mtext.Arguments(m.name, m.params, syntax.ReducedArgs(raw))
	if p.problems(id, codeMacroArg, bad) {
		return nil
	}
	before := p.madeNames
	p.mtext.Local = func() string { p.madeNames++; return fmt.Sprintf(".LL%04x", p.madeNames) }
	text, bad2 := p.mtext.Expand(t.Template, values, maxExpansion)
	p.mtext.Local = nil
	p.mtext.Number++
	if p.problems(id, codeMacroDef, bad2); len(text) > maxExpansion {
		p.overflow(id)
		return nil
	}
	f := syntax.ParseAs(text, p.dialectOf(&p.items[id]))
	p.spent += parsing(f)
	if keep && len(bad) == 0 && len(bad2) == 0 {
		p.store.put(t, k, f, p.madeNames-before)
	}
	return f
}

// expand goes through an expansion, several times for a repetition.
func (p *pass) expand(from int32, f *syntax.File, x *expansion, times int64) {
	switch {
	case p.full:
		p.inexact()
		return
	case times > 1 && empty(f):
		p.items[from].flags &^= fOpaque
		return
	case p.nest >= maxNest:
		what := "repetitions"
		if x.macro != nil {
			what = x.macro.name + " and others"
		}
		p.report(p.stmtLoc(&p.items[from]), codeMacroDepth, fmt.Sprintf("The expansions of %s stand in each other more than %d deep; is an end of the recursion missing?", what, maxNest))
		p.unwind = true
		p.inexact()
		return
	}
	if x.more != nil {
		times = maxExpanded
	} else if p.spent+int(min(times, maxExpanded+1))*f.NumLines() > maxExpanded {
		p.overflow(from)
		return
	}
	id := int32(len(p.sources))
	at, _, _ := p.shown(&p.items[from])
	p.sources = append(p.sources, source{path: p.sources[at].path, file: f, from: from, exp: x})
	p.nest++
	for ; times > 0 && p.err == nil && !p.ended && !p.left && !p.unwind && !p.full && (x.more == nil || x.more()); times-- {
		p.walk(id, f)
		if p.spent++; x.more != nil && p.spent > maxExpanded {
			p.overflow(from)
		}
	}
	if p.left {
		p.left = false
		p.closeConds()
	} else if x.macro != nil && !p.ended {
		for _, c := range p.conds {
			if c.nest >= p.nest && !p.unwind && !p.full {
				p.report(c.item, codeDirective, "This condition has no .endif in its macro.")
			}
		}
		p.closeConds()
	}
	p.nest--
	if !p.unwind && !p.full {
		p.items[from].flags &^= fOpaque
	}
	if p.nest == 0 {
		p.unwind = false
	}
}

// empty says whether a text says nothing.
func empty(f *syntax.File) bool {
	for i := range f.NumLines() {
		if len(f.Line(i).Stmts) > 0 {
			return false
		}
	}
	return true
}

// closeConds ends the conditions that the present expansion opened.
func (p *pass) closeConds() {
	for n := len(p.conds); n > 0 && p.conds[n-1].nest >= p.nest; n-- {
		p.conds = p.conds[:n-1]
	}
}

// inexact notes that something of unknown size stands here.
func (p *pass) inexact() { p.secs[p.sec].exact = false }

// overflow gives up on expansions.
func (p *pass) overflow(id int32) {
	if !p.full {
		it := &p.items[id]
		for p.sources[it.file].exp != nil {
			it = &p.items[p.sources[it.file].from]
		}
		p.report(p.stmtLoc(it), codeMacroSize, fmt.Sprintf("The program's macros and repetitions come to more than %d statements here; from this line on none is looked into.", maxExpanded))
	}
	p.full = true
	p.inexact()
}

// cost is what a line of an expansion counts for.
func cost(l *syntax.Line) int { return 1 + len(l.Stmts) + len(l.Text)/aText }

// parsing is what the text of an expansion counts for when it is new.
func parsing(f *syntax.File) int { return f.NumLines()/aParse + len(f.Text())/aText }

// spend counts the statements of a line in an expansion, and says whether the
// expansion ends here.
func (p *pass) spend(id int32, l *syntax.Line) bool {
	if p.sources[id].exp == nil {
		return p.unwind
	}
	if p.spent += cost(l); p.spent > maxExpanded && !p.full {
		p.overflow(p.sources[id].from)
	}
	return p.unwind || p.full
}

// macroDirective handles the directives about macros and repetitions.
func (p *pass) macroDirective(id int32, l *syntax.Line) {
	it := &p.items[id]
	s := it.stmt
	switch s.Dir.Effect {
	case syntax.EffExitm:
		if p.nest == 0 && s.Rest(l) != "" {
			p.report(p.stmtLoc(it), codeDirective, ".exitm takes nothing behind it.")
			return
		}
		if p.nest == 0 {
			p.warn(p.stmtLoc(it), codeDirective, "No macro or repetition is expanded here that .exitm could leave.")
			return
		}
		p.left = true
		p.leave = s.Dir.Name[0] != '.'
	case syntax.EffPurgem:
		for name := range strings.SplitSeq(lower(s.Reduced(l)), ",") {
			name = strings.TrimSpace(name)
			if n := len(name); n > 1 && name[0] == '"' && name[n-1] == '"' {
				name = name[1 : n-1]
			} else if i := strings.IndexFunc(name, func(r rune) bool { return r < 0x80 && !isName(byte(r)) }); i >= 0 || name != "" && name[0] >= '0' && name[0] <= '9' {
				p.report(p.stmtLoc(it), codeMacroDef, s.Name+" takes names, with commas between them.")
				return
			}
			if p.macroBy[name] == nil {
				p.warn(p.stmtLoc(it), codeMacroDef, "No macro is called "+name+" here.")
			}
			delete(p.macroBy, name)
		}
	case syntax.EffAltmacro:
		if s.Reduced(l) != "" {
			p.report(p.stmtLoc(it), codeDirective, s.Name+" takes nothing behind it.")
		} else {
			p.mtext.Alt = s.Dir.Unit == 1
			p.mtext.Eval = p.number(id)
		}
	case syntax.EffMacro:
		if s.Dir.Name[0] != '.' {
			p.columnDefine(id)
			return
		}
		p.define(id, l)
	case syntax.EffRept:
		p.repeat(id, l)
	}
}

// number computes the expression in front of a text.
func (p *pass) number(id int32) func(text string) (int64, int) {
	return func(text string) (int64, int) {
		const word = ".word "
		f := syntax.ParseAs(word+text, syntax.Dots)
		st := f.Line(0).Stmts
		if len(st) == 0 || len(st[0].Ops) == 0 {
			return 0, 0
		}
		o := &st[0].Ops[0]
		v := p.eval(o, &p.items[len(p.items)-1])
		if v.kind != vAbs {
			p.report(p.stmtLoc(&p.items[len(p.items)-1]), codeMacroArg, "The expression behind '%' has no value here.")
		}
		return v.n, int(o.End) - len(word)
	}
}

// body reads the body behind a directive and lets the source go on behind it.
func (p *pass) body(id int32, l *syntax.Line, repetition bool) (syntax.Body, bool) {
	it := &p.items[id]
	// The rest of the line is read: many may begin in one.
	if p.spent += len(l.Text) / aText; p.spent > maxExpanded && len(l.Text) > 100*aText {
		p.overflow(id)
		return syntax.Body{NextLine: int(it.line), NextStmt: len(l.Stmts)}, false
	}
	b := p.sources[it.file].file.Body(int(it.line), it.stmt.CallEnd(l), repetition)
	if repetition && !b.Closed {
		p.resumeBody(it, &b)
	}
	if p.nest > 0 { // which may come again and again
		p.spent += len(b.Lines) / aParse
		for _, text := range b.Lines {
			p.spent += len(text) / aText
		}
	}
	p.tellOpen(it, b.Closed, repetition)
	return b, b.Closed
}

// tellOpen reports a body that has no end.
func (p *pass) tellOpen(it *item, closed, repetition bool) {
	if closed {
		return
	}
	end := ".endm"
	if repetition {
		end = ".endr"
	}
	p.report(p.stmtLoc(it), codeMacroDef, fmt.Sprintf("This %s has no %s.", it.stmt.Name, end))
}

// resumeBody reads a repetition on behind the call of the macro that begins it. The
// macro's text is at its end then, and the source with the repetition's end goes on
// behind that.
func (p *pass) resumeBody(it *item, b *syntax.Body) {
	inner := b.NextLine
	for file := it.file; p.sources[file].exp != nil && p.sources[file].exp.macro != nil; {
		call := &p.items[p.sources[file].from]
		f := p.sources[call.file].file
		x := b.Resume(f, int(call.line), call.stmt.CallEnd(f.Line(int(call.line))), true)
		if file = call.file; x.Closed {
			p.resume = resumeAt{true, file, x.NextLine, x.NextStmt}
			*b = x
			b.NextLine, b.NextStmt = inner, 0
			return
		}
		*b = x
	}
	b.NextLine = inner
}

// resumeAt is where a source goes on behind a repetition that a macro began.
type resumeAt struct {
	on         bool
	file       int32
	line, stmt int
}

// define handles .macro.
func (p *pass) define(id int32, l *syntax.Line) {
	it := &p.items[id]
	b, ok, x := p.bodyAcross(id, l, false)
	file := it.file
	defer func() { p.goOn(file, x, b.NextLine, b.NextStmt) }()
	it = &p.items[id]
	name, params, bad := p.mtext.Header(it.stmt.Reduced(l))
	if p.problems(id, codeMacroDef, bad) || !ok {
		return
	}
	at := place{Location: p.nameLoc(it).Location}
	if p.sources[it.file].exp == nil {
		if i := strings.Index(l.Text[it.stmt.NameEnd:], name); i >= 0 {
			at = p.loc(it, it.stmt.NameEnd+int32(i), it.stmt.NameEnd+int32(i+len(name)))
		}
	}
	key := lower(name)
	if old := p.macroBy[key]; old != nil {
		p.emit(p.stmtLoc(it), Diagnostic{Code: codeMacroDef, Message: "The macro " + old.name + " is defined already, " + p.where(old.at.Location, it) + "; .purgem in between would forget it.",
			Related: []Related{{old.at.Location, "the first definition of " + old.name}}})
		return
	}
	if key[0] == '.' && syntax.FindDirective(key) != nil {
		p.warn(p.stmtLoc(it), codeMacroDef, name+" is a directive, which no macro takes the place of.")
		return
	}
	m := &macro{name: name, params: params, file: it.file, line: it.line, end: int32(b.NextLine), item: id, at: at}
	if x != nil {
		m.end, m.lines = x.end, x.lines
	}
	p.addMacro(key, m, b.Lines)
}

// addMacro makes a macro known by its name, with the lines of its body.
func (p *pass) addMacro(key string, m *macro, body []string) {
	tmpl := p.store.template(m.params, body)
	p.spent += len(tmpl.Body) / aText
	p.macros = append(p.macros, m)
	if p.macroBy == nil {
		p.macroBy = map[string]*definition{}
	}
	p.macroBy[key] = &definition{m, tmpl}
}

// repeat handles .rept, .irp and .irpc.
func (p *pass) repeat(id int32, l *syntax.Line) {
	it := &p.items[id]
	s := it.stmt
	file, line := it.file, it.line
	it.flags |= fOpaque
	// What stands in an expansion that is kept is known from the last time.
	known := repetitionAt{p.sources[file].file, line, s.NameEnd}
	keep := p.sources[file].exp != nil && !p.mtext.Alt
	if keep {
		if k := p.store.repetition(known); k != nil {
			p.expand(id, k.file, &expansion{by: s.Dir.Name, file: file, line: line, n: k.lines, name: k.name}, 1)
			p.goTo(k.toLine, k.toStmt)
			return
		}
	}
	b, ok, across := p.bodyAcross(id, l, true)
	defer func() { p.goOn(file, across, b.NextLine, b.NextStmt) }()
	it = &p.items[id]
	x := &expansion{by: s.Dir.Name, file: file, line: line, n: int32(max(len(b.Lines), 1))}
	if across != nil {
		x.lines = across.lines
	}
	if p.resume.on {
		x.n, keep = 1, false
	}
	if p.full {
		p.inexact()
		return
	}
	if s.Dir.Args == syntax.ArgsExprs {
		if p.syntaxError(it) || !ok || len(s.Ops) == 0 {
			return
		}
		if len(s.Ops) > 1 {
			p.report(p.stmtLoc(it), codeDirective, "More stands here than "+s.Dir.Usage+" takes.")
		}
		n, ok := p.count(it, 0, true, 0)
		switch {
		case !ok:
			return
		case n < 0:
			p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("%s cannot repeat anything %d times.", s.Name, n))
			return
		case n == 0:
			it.flags &^= fOpaque
			return
		}
		var f *syntax.File
		if b.Whole {
			f = p.sources[file].file.Part(int(line)+1, b.NextLine)
			x.line, x.n, x.exact = line+1, int32(max(f.NumLines(), 1)), true
		} else {
			f = p.repeated(p.store.template(nil, b.Lines), "", false, nil, id)
		}
		p.expand(id, f, x, n)
		return
	}
	if !ok {
		return
	}
	rest := s.Reduced(l)
	name, values := p.mtext.Values(rest, strings.HasSuffix(s.Dir.Name, "c"))
	if name == "" {
		p.report(p.stmtLoc(it), codeDirective, s.Name+" needs a name behind it.")
		return
	}
	x.name = name
	t := p.store.template([]syntax.Param{{Name: name}}, b.Lines)
	if len(values)*len(t.Body) > maxExpansion {
		p.overflow(id)
		return
	}
	if f := p.repeated(t, rest, strings.HasSuffix(s.Dir.Name, "c"), values, id); f != nil {
		if keep && !t.Numbered {
			p.store.keepRepetition(known, &repetition{f, name, x.n, b.NextLine, b.NextStmt})
		}
		p.expand(id, f, x, 1)
	}
}

// repeated is the text of a repetition: the body for each value, or as it is.
func (p *pass) repeated(t *template, rest string, chars bool, values []string, id int32) *syntax.File {
	k := callKey{args: rest, alt: p.mtext.Alt, chars: chars}
	if t.Numbered {
		k.number = p.mtext.Number
	}
	keep := !(p.mtext.Alt && strings.Contains(rest, "%"))
	if keep {
		if f, _ := p.store.get(t, k); f != nil {
			return f
		}
	}
	var text strings.Builder
	var bad []syntax.MacroProblem
	if values == nil {
		text.WriteString(t.Body)
	}
	for _, v := range values {
		one, more := p.mtext.Expand(t.Template, []string{v}, maxExpansion)
		text.WriteString(one)
		bad = append(bad, more...)
		if text.Len() > maxExpansion {
			p.overflow(id)
			return nil
		}
	}
	p.problems(id, codeMacroDef, bad)
	f := syntax.ParseAs(text.String(), p.dialectOf(&p.items[id]))
	p.spent += parsing(f)
	if keep && len(bad) == 0 {
		p.store.put(t, k, f, 0)
	}
	return f
}

// callee is the macro that an item calls.
func (r *view) callee(it *item) *macro {
	if it.flags&fCall == 0 {
		return nil
	}
	for _, m := range r.macros {
		if !strings.EqualFold(m.name, it.stmt.Name) && !(m.cond && strings.HasPrefix(it.stmt.Name, m.name)) {
			continue
		}
		if _, ok := slices.BinarySearch(m.calls, it.id); ok {
			return m
		}
	}
	return nil
}

// transparent says whether the item asks for an expansion that stands behind
// it, so that it means nothing by itself.
func (it *item) transparent() bool { return it.flags&(fCall|fOpaque) == fCall }
