package assemble

import (
	"fmt"
	"sort"
	"strings"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// The bounds of what macros and repetitions may come to.
const (
	// maxNest is how deep expansions are in each other; the assembler has
	// the same bound.
	maxNest = 101
	// MaxExpanded bounds the statements that expansions add to a program.
	MaxExpanded = 400_000
	// maxSpent bounds the work on expansions, in what counts as a statement: most of what
	// large macros have may be below conditions that do not hold, and adds nothing.
	maxSpent = 1_000_000
	// maxExpansion bounds the text of one expansion, in bytes.
	maxExpansion = 16 << 20
	// What counts as a statement: so many lines that an expansion passes over,
	// such as the body of a repetition in it, so many lines that are parsed for
	// one, and so many bytes of text.
	aPass  = 16
	aParse = 4
	aText  = 64
)

// definition is a macro that can be called, with its body.
type definition struct {
	*program.Macro
	tmpl *template
}

// macros is what macros are known.
type macros struct {
	macroBy   map[string]*definition // by name in lower case
	mtext     syntax.MacroText
	madeNames int // names that LOCAL made
	store     *Expansions
}

// expanding is how deep in expansions the first pass is, and what they have cost.
type expanding struct {
	nest   int  // expansions that are in each other now
	left   bool // .exitm: the present source ends
	unwind bool // too deep: all expansions end
	full   bool // a bound is reached: nothing is expanded any more
	spent  int
	across int           // what bodies across files have cost
	bodies syntax.Bodies // that are read again and again
	first  int           // how many items there were in front of the outermost expansion
	made   int           // items of the expansions before it
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
		if !s.Directive.Word {
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
		t.Kind, t.Mnemonic, t.Directive, t.Ops, t.Err, t.NoColon = syntax.Unknown, nil, nil, nil, nil, false
		_, t.End = program.Trimmed(l.Text, s.NameEnd, end)
		s = &t
	}
	it := p.push(file, line, s, 0)
	it.Flags |= program.Calls | program.Opaque
	id := it.Index
	m.Calls = append(m.Calls, id)
	if f := p.callText(m, id, l.Text[s.NameEnd:end]); f != nil {
		p.expand(id, f, &program.Expansion{Macro: m.Macro, File: m.File, Line: m.Line, Lines: m.Lines, N: max(int32(f.NumLines()-1), 1)}, 1)
	}
	// What the parser took for statements of their own.
	k := sort.Search(len(l.Stmts), func(k int) bool { return l.Stmts[k].Start >= end && l.Stmts[k].Start > s.Start })
	if p.resume.on {
		if p.resume.file != file {
			p.goTo(p.Sources[file].File.NumLines(), 0)
			return true
		}
		p.resume.on = false
		line, k = int32(p.resume.line), p.resume.stmt
	}
	p.goTo(int(line), k)
	return true
}

// problems reports what is wrong with a definition or call, and says whether
// it comes to nothing.
func (p *pass) problems(id int32, code string, list []syntax.MacroProblem) (fatal bool) {
	for _, x := range list {
		at := p.StmtLoc(&p.Items[id])
		if x.Mild {
			p.Warn(at, code, x.Text+".")
		} else {
			p.Report(at, code, x.Text+".")
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
	values, bad := p.mtext.Arguments(m.Name, m.Parameters, syntax.ReducedArgs(raw))
	if p.problems(id, finding.CodeMacroArg, bad) {
		return nil
	}
	before := p.madeNames
	p.mtext.Local = func() string { p.madeNames++; return fmt.Sprintf(".LL%04x", p.madeNames) }
	text, bad2 := p.mtext.Expand(t.Template, values, maxExpansion)
	p.mtext.Local = nil
	p.mtext.Number++
	if p.problems(id, finding.CodeMacroDef, bad2); len(text) > maxExpansion {
		p.overflow(id, wording.LongText)
		return nil
	}
	f := p.parsed(text, id)
	if f == nil {
		return nil
	}
	if keep && len(bad) == 0 && len(bad2) == 0 {
		p.store.put(t, k, f, p.madeNames-before)
	}
	return f
}

// parsed reads the text of an expansion; nil: there is no room for it.
func (p *pass) parsed(text string, id int32) *syntax.File {
	f := syntax.ParseAs(text, p.DialectOf(&p.Items[id]))
	p.spent += parsing(f)
	if p.parts += f.Parts(); p.parts > syntax.MaxParts {
		p.overflow(id, wording.ManyParts)
		return nil
	}
	return f
}

// expand goes through an expansion, several times for a repetition.
func (p *pass) expand(from int32, f *syntax.File, x *program.Expansion, times int64) {
	switch {
	case p.full:
		p.inexact()
		return
	case times > 1 && empty(f):
		p.Items[from].Flags &^= program.Opaque
		return
	case p.nest >= maxNest:
		p.Report(p.StmtLoc(&p.Items[from]), finding.CodeMacroDepth, wording.TooDeep(x.Macro, maxNest))
		p.unwind = true
		p.inexact()
		return
	}
	if x.More != nil {
		times = int64(p.mostSpent())
	} else {
		if n := int64(f.NumStmts()); p.in.Most > 0 && n > 0 {
			times = min(times, max((int64(p.in.Most)-int64(p.expanded()))/n, 1))
		}
		if p.spent+int(min(times, maxSpent+1))*f.NumLines() > p.mostSpent() {
			which := wording.MuchWork
			if !f.Conditional() && p.made+int(min(times, MaxExpanded+1))*f.NumStmts() > MaxExpanded {
				which = wording.ManyStatements
			}
			p.overflow(from, which)
			return
		}
		p.makeRoom(f, times)
	}
	id := int32(len(p.Sources))
	at, _, _ := p.Shown(&p.Items[from])
	p.Sources = append(p.Sources, program.Source{Path: p.Sources[at].Path, File: f, From: from, Expansion: x})
	if p.nest++; p.nest == 1 {
		p.first = len(p.Items)
	}
	for ; times > 0 && p.err == nil && !p.Ended && !p.left && !p.unwind && !p.full && (x.More == nil || x.More()); times-- {
		p.walk(id, f)
		if p.spent++; x.More != nil && p.spent > p.mostSpent() {
			p.overflow(from, wording.MuchWork)
		}
	}
	if p.left {
		p.left = false
		p.conds.closeDown(p.nest)
	} else if x.Macro != nil && !p.Ended {
		for _, c := range p.conds.open {
			if c.nest >= p.nest && !p.unwind && !p.full {
				p.Report(c.item, finding.CodeDirective, wording.UnclosedInMacro(syntax.Spelled(c.dialect, syntax.EffEndif)))
			}
		}
		p.conds.closeDown(p.nest)
	}
	p.nest--
	if !p.unwind && !p.full {
		p.Items[from].Flags &^= program.Opaque
	}
	if p.nest == 0 {
		p.unwind = false
		p.made += len(p.Items) - p.first
	}
}

// expanded is how many items expansions have made.
func (p *pass) expanded() int {
	if p.nest == 0 {
		return p.made
	}
	return p.made + len(p.Items) - p.first
}

// makeRoom makes room for the items of a repetition at once: a list that grows is copied.
func (p *pass) makeRoom(f *syntax.File, times int64) {
	if n := min(times*int64(f.NumStmts()), int64(p.mostExpanded()-p.expanded())); n > aRoom && !f.Conditional() {
		p.Items = layout.RoomFor(p.Items, int(n))
		p.Order[p.currentSection] = layout.RoomFor(p.Order[p.currentSection], int(n))
	}
}

// aRoom is from how many items on room is made for them at once.
const aRoom = 1000

// mostExpanded bounds the statements that expansions add.
func (p *pass) mostExpanded() int {
	if p.in.Most > 0 {
		return p.in.Most
	}
	return MaxExpanded
}

// mostSpent bounds the work on expansions.
func (p *pass) mostSpent() int {
	if p.in.Most > 0 {
		return spentEach * p.in.Most
	}
	return maxSpent
}

// spentEach is how much work each statement may be where few are asked for.
const spentEach = 8

// empty says whether a text says nothing.
func empty(f *syntax.File) bool {
	for i := range f.NumLines() {
		if len(f.Line(i).Stmts) > 0 {
			return false
		}
	}
	return true
}

// inexact notes that something of unknown size is here.
func (p *pass) inexact() { p.Sections[p.currentSection].Exact = false }

// overflow gives up on expansions: a bound has been reached.
func (p *pass) overflow(id int32, which wording.Bound) {
	if !p.full {
		it := &p.Items[id]
		for p.Sources[it.File].Expansion != nil {
			it = &p.Items[p.Sources[it.File].From]
		}
		most := [...]int{wording.ManyStatements: MaxExpanded, wording.MuchWork: maxSpent, wording.LongText: maxExpansion, wording.ManyParts: syntax.MaxParts, wording.ManyBodies: MaxExpanded}[which]
		p.Report(p.StmtLoc(it), finding.CodeMacroSize, wording.ExpansionTooLarge(which, most))
		p.Lacking = true // the rest may define names
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
	if p.Sources[id].Expansion == nil {
		return p.unwind
	}
	p.spent += cost(l)
	switch {
	case p.full:
	case p.expanded() > p.mostExpanded():
		p.overflow(p.Sources[id].From, wording.ManyStatements)
	case p.spent > p.mostSpent():
		p.overflow(p.Sources[id].From, wording.MuchWork)
	}
	return p.unwind || p.full
}

// macroDirective handles the directives about macros and repetitions.
func (p *pass) macroDirective(id int32, l *syntax.Line) {
	it := &p.Items[id]
	s := it.Stmt
	if s.Directive.Word && p.DialectOf(it) == syntax.Modules {
		switch s.Directive.Effect {
		case syntax.EffMacro:
			p.moduleDefine(id, l)
			return
		case syntax.EffRept:
			p.moduleRepeat(id, l)
			return
		}
	}
	switch s.Directive.Effect {
	case syntax.EffExitm:
		if p.nest == 0 && s.Rest(l) != "" {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TakesNothing(s.Directive.Name))
			return
		}
		if p.nest == 0 {
			p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.OutsideMacro(s.Directive.Name))
			return
		}
		p.left = true
		p.leave = s.Directive.Whole
	case syntax.EffPurgem:
		for name := range strings.SplitSeq(lower(s.Reduced(l)), ",") {
			name = strings.TrimSpace(name)
			if n := len(name); n > 1 && name[0] == '"' && name[n-1] == '"' {
				name = name[1 : n-1]
			} else if i := strings.IndexFunc(name, func(r rune) bool { return r < 0x80 && !isName(byte(r)) }); i >= 0 || name != "" && name[0] >= '0' && name[0] <= '9' {
				p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.TakesNames(s.Name))
				return
			}
			if p.macroBy[name] == nil {
				p.Warn(p.StmtLoc(it), finding.CodeMacroDef, wording.NoMacro(name))
			}
			delete(p.macroBy, name)
		}
	case syntax.EffAltmacro:
		if s.Reduced(l) != "" {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TakesNothing(s.Name))
		} else {
			p.mtext.Alt = s.Directive.Unit == 1
			p.mtext.Eval = p.number(id)
		}
	case syntax.EffMacro:
		p.define(id, l)
	case syntax.EffMacroBelow:
		p.columnDefine(id)
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
		v := p.Value(o, &p.Items[len(p.Items)-1])
		if v.Kind != program.Number {
			p.Report(p.StmtLoc(&p.Items[len(p.Items)-1]), finding.CodeMacroArg, wording.NoExpressionValue())
		}
		return v.N, int(o.End) - len(word)
	}
}

// body reads the body after a directive and lets the source go on after it.
func (p *pass) body(id int32, l *syntax.Line, repetition bool) (syntax.Body, bool) {
	it := &p.Items[id]
	// The rest of the line is read: many may begin in one.
	if p.spent += len(l.Text) / aText; p.spent > p.mostSpent() && len(l.Text) > 100*aText {
		p.overflow(id, wording.MuchWork)
		return syntax.Body{NextLine: int(it.Line), NextStmt: len(l.Stmts)}, false
	}
	b := p.bodiesAgain().Body(p.Sources[it.File].File, int(it.Line), it.Stmt.CallEnd(l), repetition)
	if repetition && !b.Closed {
		p.resumeBody(it, &b)
	}
	if p.nest > 0 { // which may come again and again
		p.spent += reading(b)
	}
	p.tellOpen(it, b.Closed, repetition)
	return b, b.Closed
}

// bodiesAgain remembers what is read of a body that may come again; nil for others.
func (p *pass) bodiesAgain() *syntax.Bodies {
	if p.nest == 0 {
		return nil
	}
	return &p.bodies
}

// reading is what the text of a body counts for.
func reading(b syntax.Body) (n int) {
	n = len(b.Lines) / aParse
	for _, text := range b.Lines {
		n += len(text) / aText
	}
	return n
}

// tellOpen reports a body that has no end.
func (p *pass) tellOpen(it *program.Item, closed, repetition bool) {
	if closed {
		return
	}
	end := ".endm"
	if repetition {
		end = ".endr"
	}
	if p.whole || p.Sources[it.File].File.Cut() >= 0 {
		return // the end may be in what is left out
	}
	p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.Unclosed(it.Stmt.Name, end))
}

// resumeBody reads a repetition on after the call of the macro that begins it. The
// macro's text is at its end then, and the source with the repetition's end goes on
// after that.
func (p *pass) resumeBody(it *program.Item, b *syntax.Body) {
	inner := b.NextLine
	for file := it.File; p.Sources[file].Expansion != nil && p.Sources[file].Expansion.Macro != nil; {
		call := &p.Items[p.Sources[file].From]
		f := p.Sources[call.File].File
		x := p.bodies.Resume(*b, f, int(call.Line), call.Stmt.CallEnd(f.Line(int(call.Line))), true)
		if file = call.File; x.Closed {
			p.resume = resumeAt{true, file, x.NextLine, x.NextStmt}
			*b = x
			b.NextLine, b.NextStmt = inner, 0
			return
		}
		*b = x
	}
	b.NextLine = inner
}

// resumeAt is where a source goes on after a repetition that a macro began.
type resumeAt struct {
	on         bool
	file       int32
	line, stmt int
}

// define handles .macro.
func (p *pass) define(id int32, l *syntax.Line) {
	it := &p.Items[id]
	b, ok, x := p.bodyAcross(id, l, false)
	file := it.File
	defer func() { p.goOn(file, x, b.NextLine, b.NextStmt) }()
	it = &p.Items[id]
	name, params, bad := p.mtext.Header(it.Stmt.Reduced(l))
	if p.problems(id, finding.CodeMacroDef, bad) || !ok {
		return
	}
	spot := program.Spot{Line: it.Line, From: it.Stmt.Start, To: it.Stmt.NameEnd}
	if p.Sources[it.File].Expansion == nil {
		if i := strings.Index(l.Text[it.Stmt.NameEnd:], name); i >= 0 {
			spot.From, spot.To = it.Stmt.NameEnd+int32(i), it.Stmt.NameEnd+int32(i+len(name))
		}
	}
	key := lower(name)
	if old := p.macroBy[key]; old != nil {
		p.Emit(p.StmtLoc(it), finding.Diagnostic{Code: finding.CodeMacroDef, Message: wording.MacroTwice(old.Name, wording.Where(p.Program, p.MacroAt(old.Macro).Location, it)),
			Related: []finding.Related{{Location: p.MacroAt(old.Macro).Location, Message: wording.FirstDefinition(old.Name)}}})
		return
	}
	if key[0] == '.' && syntax.FindDirective(key) != nil {
		p.Warn(p.StmtLoc(it), finding.CodeMacroDef, wording.MacroIsDirective(name))
		return
	}
	m := &program.Macro{Name: name, Parameters: params, File: it.File, Line: it.Line, End: int32(b.NextLine), Item: id, Spot: spot}
	if x != nil {
		m.End, m.Lines = x.end, x.lines
	}
	p.addMacro(key, m, b.Lines)
}

// addMacro makes a macro known by its name, with the lines of its body.
func (p *pass) addMacro(key string, m *program.Macro, body []string) {
	tmpl := p.store.template(m.Parameters, body)
	p.spent += len(tmpl.Body) / aText
	p.Macros = append(p.Macros, m)
	if p.macroBy == nil {
		p.macroBy = map[string]*definition{}
	}
	p.macroBy[key] = &definition{m, tmpl}
}

// repeat handles .rept, .irp and .irpc.
func (p *pass) repeat(id int32, l *syntax.Line) {
	it := &p.Items[id]
	s := it.Stmt
	file, line := it.File, it.Line
	it.Flags |= program.Opaque
	// What is in an expansion that is kept is known from the last time.
	known := repetitionAt{p.Sources[file].File, line, s.NameEnd}
	keep := p.Sources[file].Expansion != nil && !p.mtext.Alt
	if keep {
		if k := p.store.repetition(known); k != nil {
			p.expand(id, k.file, &program.Expansion{By: s.Directive.Name, File: file, Line: line, N: k.lines, Name: k.name}, 1)
			p.goTo(k.toLine, k.toStmt)
			return
		}
	}
	b, ok, across := p.bodyAcross(id, l, true)
	defer func() { p.goOn(file, across, b.NextLine, b.NextStmt) }()
	it = &p.Items[id]
	x := &program.Expansion{By: s.Directive.Name, File: file, Line: line, N: int32(max(len(b.Lines), 1))}
	if across != nil {
		x.Lines = across.lines
	}
	if p.resume.on {
		x.N, keep = 1, false
	}
	if p.full {
		p.inexact()
		return
	}
	if s.Directive.Args == syntax.ArgsExprs {
		if p.syntaxError(it) || !ok || len(s.Ops) == 0 {
			return
		}
		if len(s.Ops) > 1 {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TooMany(s.Directive.Usage))
		}
		n, ok := p.count(it, 0, true, 0)
		switch {
		case !ok:
			return
		case n < 0:
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.CannotRepeat(s.Name, n))
			return
		case n == 0:
			it.Flags &^= program.Opaque
			return
		}
		var f *syntax.File
		if b.Whole {
			f = p.Sources[file].File.Part(int(line)+1, b.NextLine)
			x.Line, x.N, x.Exact = line+1, int32(max(f.NumLines(), 1)), true
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
	name, values := p.mtext.Values(rest, strings.HasSuffix(s.Directive.Name, "c"))
	if name == "" {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsName(s.Name))
		return
	}
	x.Name = name
	t := p.store.template([]syntax.Param{{Name: name}}, b.Lines)
	if len(values)*len(t.Body) > maxExpansion {
		p.overflow(id, wording.LongText)
		return
	}
	if f := p.repeated(t, rest, strings.HasSuffix(s.Directive.Name, "c"), values, id); f != nil {
		if keep && !t.Numbered {
			p.store.keepRepetition(known, &repetition{f, name, x.N, b.NextLine, b.NextStmt})
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
			p.overflow(id, wording.LongText)
			return nil
		}
	}
	p.problems(id, finding.CodeMacroDef, bad)
	f := p.parsed(text.String(), id)
	if f == nil {
		return nil
	}
	if keep && len(bad) == 0 {
		p.store.put(t, k, f, 0)
	}
	return f
}
