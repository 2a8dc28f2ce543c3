package assemble

import (
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// columnState is what the pass knows of the column dialect.
type columnState struct {
	conds bool // some macro takes a condition after its name
	leave bool // MEXIT: up to the macro
}

// inColumns says whether a source is in the column dialect.
func (p *pass) inColumns(file int32) bool {
	return p.Columns && p.Sources[file].File.Dialect() == syntax.Columns
}

// columnStatement prepares a statement of the column dialect: variables and
// words get their values, and the place its alignment. It returns the statement
// to go on with, nil when everything is done.
func (p *pass) columnStatement(file, line int32, l *syntax.Line, s *syntax.Stmt) *syntax.Stmt {
	if s.Kind == syntax.Directive {
		switch s.Directive.Effect {
		case syntax.EffLine:
			p.variableLine(file, line, s)
			return nil
		case syntax.EffJoin:
			p.joinedLine(file, line, s)
			return nil
		case syntax.EffRest:
			return nil
		case syntax.EffVar, syntax.EffMacroBelow:
			return s
		}
	}
	if s.Kind == syntax.Label && p.labelOfCall(file, l, s) != nil {
		return nil
	}
	if s.Kind == syntax.Label && p.namesBelow(file, line, l) {
		_, last := p.Sources[file].File.Joined(int(line))
		p.joinedLine(file, line, s)
		p.goTo(last+1, 0)
		return nil
	}
	if m := p.columnMacro(file, s); m != nil {
		p.columnCall(file, line, l, s, m)
		return nil
	}
	if s.Kind == syntax.Unknown || s.Kind == syntax.Instruction && s.Mnemonic.Name[0] == 'a' && p.current.Mode == isa.T {
		if base, cond, width := syntax.ColumnPseudo(s.Name); base != "" {
			p.pseudo(file, line, l, s, base, cond, width)
			return nil
		}
	}
	if len(s.Ops) > 0 {
		s = p.withNames(s)
	}
	if s.Align != 0 {
		p.autoAlign(file, line, s)
	}
	return s
}

// autoAlign aligns the place as the statement needs it.
func (p *pass) autoAlign(file, line int32, s *syntax.Stmt) {
	n := int64(s.Align)
	if s.Align == syntax.AlignCode {
		if n = 2; p.current.Mode == isa.A {
			n = 4
		}
	}
	sec := &p.Sections[p.currentSection]
	pad := -sec.Size & (n - 1)
	sec.Align = max(sec.Align, n)
	if pad == 0 && (n < 4 || !p.MayMove(p.currentSection)) {
		return
	}
	if s.Kind == syntax.Instruction && pad == 0 {
		return
	}
	it := p.push(file, line, &syntax.Stmt{Kind: syntax.Directive, Directive: syntax.AutoAlign, Start: s.Start, NameEnd: s.Start, End: s.Start, Number: -1, Name: "ALIGN"}, 0)
	p.AlignAt(p.currentSection, it.Index, sec.Size, pad, n, 0, 0)
	it.Size = pad
	sec.Size += pad
}

// valued is an expression with the values of variables put in.
func (p *pass) valued(e *syntax.Expr) *syntax.Expr {
	if e == nil {
		return nil
	}
	if e.Op == syntax.ExprSym {
		v := p.Variable(e.Name)
		if v == nil {
			return e
		}
		x := *e
		if v.Kind == syntax.VarString {
			x.Op, x.Name = syntax.ExprColumns, "str"
			x.X = &syntax.Expr{Op: syntax.ExprColumns, Name: v.Str, Start: e.Start, End: e.End}
		} else {
			x.Op, x.Name, x.Val = syntax.ExprNum, "", v.Number
		}
		return &x
	}
	if e.Op == syntax.ExprColumns && (e.Name == "DEF" || e.Name == "str") {
		return e
	}
	a, b := p.valued(e.X), p.valued(e.Y)
	if a == e.X && b == e.Y {
		return e
	}
	x := *e
	x.X, x.Y = a, b
	return &x
}

// variableLine reads a line once the variables in it are put in.
func (p *pass) variableLine(file, line int32, s *syntax.Stmt) {
	it := p.push(file, line, s, 0)
	it.Flags |= program.Calls | program.Opaque
	if p.full {
		p.inexact()
		return
	}
	id := it.Index
	code, _ := p.Sources[file].File.Joined(int(line))
	text, left := syntax.ColumnReplace(code, p.variableText, true, maxExpansion)
	if left {
		p.inexact() // a name that nothing knows
		return
	}
	p.expand(id, syntax.ParseColumnLines(text), &program.Expansion{By: "$", File: file, Line: line, N: 1}, 1)
}

// namesBelow says whether a line with nothing but a name goes on in one whose directive has
// the name before it, as EQU does.
func (p *pass) namesBelow(file, line int32, l *syntax.Line) bool {
	f := p.Sources[file].File
	if !l.GoesOn() || len(l.Stmts) > 1 || int(line)+1 >= f.NumLines() {
		return false
	}
	below := f.Line(int(line) + 1).Stmts
	return len(below) > 0 && below[0].Kind == syntax.Directive && below[0].Directive.NameFirst
}

// joinedLine reads a statement together with the lines that it goes on in.
func (p *pass) joinedLine(file, line int32, s *syntax.Stmt) {
	it := p.push(file, line, s, 0)
	it.Flags |= program.Calls | program.Opaque
	text, last := p.Sources[file].File.Joined(int(line))
	p.expand(it.Index, syntax.ParseColumnLines(text), &program.Expansion{By: `\`, File: file, Line: line, N: int32(last) + 1 - line, Exact: true, Joined: true}, 1)
}

func (p *pass) variableText(name string) (string, bool) {
	if v := p.Variable(name); v != nil {
		return v.Text(), true
	}
	return "", false
}

// columnMacro is the macro that a statement calls.
func (p *pass) columnMacro(file int32, s *syntax.Stmt) *definition {
	if s.Kind != syntax.Unknown && s.Kind != syntax.Instruction {
		return nil
	}
	m := p.macroBy[s.Name]
	for n := len(s.Name) - 1; m == nil && p.columnState.conds && s.Kind == syntax.Unknown && n > 0; n-- {
		if c := p.macroBy[s.Name[:n]]; c != nil && c.Cond {
			m = c
		}
	}
	return m
}

// labelOfCall is the macro that takes a label as its parameter.
func (p *pass) labelOfCall(file int32, l *syntax.Line, s *syntax.Stmt) *definition {
	if k := indexOf(l, s); k+1 < len(l.Stmts) {
		if m := p.columnMacro(file, &l.Stmts[k+1]); m != nil && m.Label {
			return m
		}
	}
	return nil
}

// indexOf is the place of a line's statement in it.
func indexOf(l *syntax.Line, s *syntax.Stmt) int {
	k := sort.Search(len(l.Stmts), func(k int) bool { return l.Stmts[k].Start >= s.Start })
	for &l.Stmts[k] != s {
		k++
	}
	return k
}

// columnCall expands the call of a macro.
func (p *pass) columnCall(file, line int32, l *syntax.Line, s *syntax.Stmt, m *definition) {
	label := ""
	if k := indexOf(l, s); k > 0 && l.Stmts[k-1].Kind == syntax.Label && m.Label {
		label = l.Text[l.Stmts[k-1].Start:l.Stmts[k-1].NameEnd]
	}
	if s.Kind != syntax.Unknown {
		t := *s
		t.Kind, t.Mnemonic, t.Ops, t.Err, t.Align = syntax.Unknown, nil, nil, nil, 0
		s = &t
	}
	it := p.push(file, line, s, 0)
	it.Flags |= program.Calls | program.Opaque
	id := it.Index
	m.Calls = append(m.Calls, id)
	code := l.Code()
	raw := code[min(int(s.NameEnd), len(code)):]
	before := []string{}
	if m.Label {
		before = append(before, label)
	}
	if m.Cond {
		before = append(before, s.Name[len(m.Name):])
	}
	params := m.Parameters[len(before):]
	values, more := syntax.ColumnArguments(params, raw)
	if more != "" {
		p.Report(p.StmtLoc(it), finding.CodeMacroArg, wording.TooManyArguments(m.Name, len(params), more))
		return
	}
	values = append(before, values...)
	if p.full {
		p.inexact()
		return
	}
	k := callKey{args: strings.Join(before, "\x00") + "\x00" + raw}
	f, _ := p.store.get(m.tmpl, k)
	if f == nil {
		text, _ := syntax.ColumnReplace(m.tmpl.Body, func(name string) (string, bool) {
			for i := range m.Parameters {
				if m.Parameters[i].Name == name {
					return values[i], true
				}
			}
			return "", false
		}, false, maxExpansion)
		if len(text) > maxExpansion {
			p.overflow(id, wording.LongText)
			return
		}
		f = syntax.ParseAs(text, syntax.Columns)
		p.spent += parsing(f)
		p.store.put(m.tmpl, k, f, 0)
	}
	p.VarStack = append(p.VarStack, map[string]*eval.Variable{})
	p.expand(id, f, &program.Expansion{Macro: m.Macro, File: m.File, Line: m.Line + 1, N: max(int32(f.NumLines()-1), 1)}, 1)
	p.VarStack = p.VarStack[:len(p.VarStack)-1]
	p.leave = false
}

// columnDefine handles MACRO.
func (p *pass) columnDefine(id int32) {
	it := &p.Items[id]
	f := p.Sources[it.File].File
	end, ok := f.Behind(int(it.Line), syntax.EffMacroBelow, syntax.EffEndm)
	p.goTo(end+1, 0)
	if !ok {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.Unclosed("MACRO", "MEND"))
		return
	}
	at := int(it.Line) + 1
	for at < end && strings.TrimSpace(f.Line(at).Code()) == "" {
		at++
	}
	if at == end {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.MacroNeedsName())
		return
	}
	head := f.Line(at)
	text, last := f.Joined(at)
	h, ok := syntax.ColumnHeader(text)
	if !ok {
		a, b := program.Trimmed(head.Text, 0, int32(len(head.Code())))
		p.Report(p.Loc(&program.Item{File: it.File, Line: int32(at)}, a, b), finding.CodeMacroDef, wording.MacroLineUnread())
		return
	}
	name := h.Name
	var params []syntax.Param
	for _, n := range []string{h.Label, h.Cond} {
		if n != "" {
			params = append(params, syntax.Param{Name: n})
		}
	}
	params = append(params, h.Params...)
	var body []string
	for i := last + 1; i < end; i++ {
		body = append(body, f.Line(i).Text)
	}
	spot := program.Spot{Line: it.Line, From: it.Stmt.Start, To: it.Stmt.End}
	if i := strings.Index(head.Text, name); i >= 0 && p.Sources[it.File].Expansion == nil {
		spot = program.Spot{Line: int32(at), From: int32(i), To: int32(i + len(name))}
	}
	m := &program.Macro{Name: name, Parameters: params, Label: h.Label != "", Cond: h.Cond != "", Columns: true, File: it.File, Line: int32(last), End: int32(end), Item: id, Spot: spot}
	if old := p.macroBy[name]; old != nil {
		p.Emit(p.MacroAt(m), finding.Diagnostic{Code: finding.CodeMacroDef, Message: wording.MacroTwiceColumns(old.Name, wording.Where(p.Program, p.MacroAt(old.Macro).Location, it)),
			Related: []finding.Related{{Location: p.MacroAt(old.Macro).Location, Message: wording.FirstDefinition(old.Name)}}})
		return
	}
	p.columnState.conds = p.columnState.conds || m.Cond
	p.addMacro(name, m, body)
}

// while handles WHILE.
func (p *pass) while(id int32, l *syntax.Line) {
	it := &p.Items[id]
	src := it.File
	f := p.Sources[src].File
	line := int(it.Line)
	end, ok := f.Behind(line, syntax.EffWhile, syntax.EffWend)
	defer func() {
		if !p.left {
			p.goTo(end+1, 0)
		}
	}()
	if !ok {
		p.Report(p.StmtLoc(it), finding.CodeMacroDef, wording.Unclosed("WHILE", "WEND"))
		return
	}
	it.Flags |= program.Opaque
	body := f.Part(line+1, end)
	x := &program.Expansion{By: "WHILE", File: src, Line: int32(line) + 1, N: int32(max(body.NumLines(), 1)), Exact: true}
	s := &l.Stmts[len(l.Stmts)-1]
	x.More = func() bool {
		p.spent += len(l.Text) / aText
		return p.condition(src, int32(line), l, s)
	}
	p.expand(id, body, x, 1)
	if p.leave {
		p.left = true
	}
}

// columnCondition computes the condition of IF, ELIF and WHILE. One that depends on
// what is not known counts as false, as in the dot dialect.
func (p *pass) columnCondition(it *program.Item, l *syntax.Line, s *syntax.Stmt) bool {
	bad := func(message string) bool {
		p.Report(p.StmtLoc(it), finding.CodeDirective, message)
		return false
	}
	code, last := p.Sources[it.File].File.Joined(int(it.Line))
	if last > int(it.Line) || len(s.Ops) == 0 && s.Err == nil && strings.Contains(code, "$") {
		text, left := syntax.ColumnReplace(code, p.variableText, true, maxExpansion)
		if left {
			return false
		}
		f := syntax.ParseColumnLines(text)
		if n := len(f.Line(0).Stmts); n > 0 {
			s = &f.Line(0).Stmts[n-1]
			if s.Err != nil { // the columns are those of another text
				return bad(wording.CannotBeRead(s.Directive.Name, s.Err.Message))
			}
		}
	}
	if s.Err != nil && !s.Err.Mild {
		p.syntaxError(&program.Item{Stmt: s, Line: it.Line, File: it.File})
		return false
	}
	if s = p.withNames(s); len(s.Ops) != 1 {
		return bad(wording.NeedsOneCondition(s.Directive.Name))
	}
	v, ok := p.ColumnValue(&s.Ops[0], it)
	if !ok {
		if e := p.Value(&s.Ops[0], it); e.Kind == program.Undefined && e.Symbol != nil && !e.Apart && !e.Symbol.Extern && !p.Missed {
			p.Report(p.StmtLoc(it), finding.CodeUndefined, wording.NeedsValueOf(s.Directive.Name, e.Symbol.Name))
		}
		return false
	}
	if v.Kind == syntax.VarString {
		return bad(wording.ConditionIsString(s.Directive.Name))
	}
	return v.Number != 0
}

// columnDirective handles the directives that only the column dialect has.
func (p *pass) columnDirective(it *program.Item, l *syntax.Line) {
	switch it.Stmt.Directive.Effect {
	case syntax.EffArea:
		p.area(it)
	case syntax.EffVar:
		p.declareVariables(it)
	case syntax.EffSetVar:
		p.setVariable(it)
	case syntax.EffMap:
		p.mapDirective(it)
	case syntax.EffField:
		p.field(it)
	case syntax.EffAssert:
		p.assertion(it)
	case syntax.EffInfo:
		p.info(it)
	case syntax.EffWend:
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.HasNone("WEND", "WHILE"))
	case syntax.EffWord:
		p.wordName(it)
	case syntax.EffList:
		p.registerList(it)
	case syntax.EffAlias, syntax.EffExportAs:
		p.otherName(it)
	case syntax.EffRout:
		p.routine(it)
	case syntax.EffWords:
		p.known(it, strings.TrimSpace(it.Stmt.Rest(l)))
	case syntax.EffVec:
		p.vectorName(it, l)
	}
}

// declareVariables handles GBLA, LCLA and their relatives.
func (p *pass) declareVariables(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	for i := range s.Ops {
		v := &eval.Variable{Kind: d.Unit &^ syntax.VarLocal}
		switch {
		case d.Unit&syntax.VarLocal == 0:
			if p.Variables == nil {
				p.Variables = map[string]*eval.Variable{}
			}
			p.Variables[s.Ops[i].Word] = v
		case len(p.VarStack) > 0:
			p.VarStack[len(p.VarStack)-1][s.Ops[i].Word] = v
		default:
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.MacroVariable(d.Name, d.Name[3:]))
		}
	}
}

// setVariable handles SETA, SETL and SETS.
func (p *pass) setVariable(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	v := p.Variable(s.Name)
	if v == nil {
		p.Report(p.NameLoc(it), finding.CodeUndefined, wording.NoVariable(d.Name[3:], s.Name))
		return
	}
	if v.Kind != d.Unit {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.SetsOtherType(s.Name, d.Name))
		return
	}
	if len(s.Ops) != 1 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsOneValue(d.Name))
		return
	}
	x, ok := p.ColumnValue(&s.Ops[0], it)
	if !ok {
		if e := p.Value(&s.Ops[0], it); e.Kind == program.Undefined && e.Symbol != nil {
			p.Report(p.Loc(it, s.Ops[0].Start, s.Ops[0].End), finding.CodeUndefined, wording.NeedsValueOf(d.Name, e.Symbol.Name))
		}
		return
	}
	if (x.Kind == syntax.VarString) != (v.Kind == syntax.VarString) {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.OtherType(s.Name))
		return
	}
	if len(x.Str) > eval.MaxString {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.StringTooLong(len(x.Str), eval.MaxString))
		x.Str = ""
	}
	v.Number, v.Str = x.Number, x.Str
	if v.Kind == syntax.VarLogical && v.Number != 0 {
		v.Number = -1
	}
}

// mapDirective handles MAP: where FIELD counts from.
func (p *pass) mapDirective(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	p.MapReg = isa.NoReg
	if len(s.Ops) > 1 {
		o := &s.Ops[1]
		r, ok := o.Reg, o.Kind == isa.OpReg
		if !ok {
			r, ok = p.Alias(o.Word)
		}
		if !ok {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.SecondIsRegister(d.Name))
			r = isa.NoReg
		}
		p.MapReg = r
	}
	if len(s.Ops) == 0 {
		p.MapAt = 0
		return
	}
	if n, ok := p.count(it, 0, false, 0); ok {
		p.MapAt = n
	}
}

// field handles FIELD.
func (p *pass) field(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	at := p.MapAt
	n, ok := p.count(it, 0, false, 0)
	if !ok {
		return
	}
	if n < 0 || n > layout.Most {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.CannotHaveBytes(d.Name, n))
		return
	}
	p.MapAt += n
	if s.Name == "" || !d.NameFirst || s.NameEnd == s.Start || syntax.ColumnDirective(s.Name) != nil {
		return
	}
	o := syntax.Operand{Start: s.Ops[0].Start, End: s.Ops[0].End}
	o.Kind = isa.OpExpr
	if o.Known, o.Imm = true, at; p.MapReg != isa.NoReg {
		o.Known = false
		p.relate(s.Name, program.Relative{Register: p.MapReg, N: at})
	}
	p.assign(it, s.Name, 0, s.NameEnd-s.Start, []syntax.Operand{o}, false)
}

// assertion handles ASSERT.
func (p *pass) assertion(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) != 1 {
		return
	}
	if v, ok := p.ColumnValue(&s.Ops[0], it); ok && v.Kind != syntax.VarString && v.Number == 0 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.AssertionFalse())
	}
}

// info handles INFO, which stops the assembly if its condition holds.
func (p *pass) info(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) == 0 {
		return
	}
	if v, ok := p.ColumnValue(&s.Ops[0], it); ok && v.Kind != syntax.VarString && v.Number != 0 {
		m := wording.SourceStops("")
		if len(s.Ops) > 1 {
			if t, ok := p.ColumnValue(&s.Ops[1], it); ok && t.Kind == syntax.VarString {
				m = wording.SourceStops(t.Str)
			}
		}
		p.Report(p.StmtLoc(it), finding.CodeDirective, m)
	}
}

// wordName handles CN and CP: names of a coprocessor and of its registers.
func (p *pass) wordName(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	if len(s.Ops) == 1 {
		if n, ok := p.count(it, 0, false, 0); ok && n >= 0 && n < 16 {
			p.namedAs(s.Name, func(r *program.Register) { r.Word = string(rune(d.Unit)) + strconv.FormatInt(n, 10) })
			p.registerName(it)
		}
	}
}

// vectorName handles SN, DN and QN.
func (p *pass) vectorName(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	to := strings.TrimSpace(l.Text[s.NameEnd:s.End])
	_, to, _ = strings.Cut(to, " ")
	if to = strings.TrimSpace(to); to != "" && to[0] >= '0' && to[0] <= '9' {
		to = string(rune(d.Unit)) + to
	}
	p.vectorAlias(it, strings.ToLower(to))
}

// area handles AREA.
func (p *pass) area(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) == 0 {
		p.syntaxError(it)
		return
	}
	if len(p.secBy) > 30000 {
		return
	}
	name := s.Ops[0].Word
	_, old := p.secBy[name]
	p.prev = p.currentSection
	p.currentSection = p.section(name)
	sec := &p.Sections[p.currentSection]
	if !old {
		sec.Align = max(sec.Align, 4)
		sec.Exec = false
	}
	p.moved(it)
	for i := range s.Ops[1:] {
		o := &s.Ops[i+1]
		p.attributes(it, o, areaAttributes)
		switch w, _, _ := strings.Cut(o.Names.Str, " "); w {
		case "CODE", "EXECONLY":
			sec.Exec = true
		case "ALIGN":
			if n := p.Value(o, it); n.Kind == program.Number {
				if n.N < 0 || n.N > 31 {
					p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.SectionExponent(n.N))
					continue
				}
				sec.Align = max(sec.Align, 1<<n.N)
			}
		}
	}
}

// columnAlign handles ALIGN: to a multiple of the first number, and the second
// from there.
func (p *pass) columnAlign(it *program.Item) {
	s := it.Stmt
	n, offset := int64(4), int64(0)
	if len(s.Ops) > 0 && s.Ops[0].Kind != isa.OpNone {
		v, ok := p.count(it, 0, true, 0)
		if !ok {
			return
		}
		if v <= 0 || v&(v-1) != 0 || v > 1<<31 {
			p.Report(p.Loc(it, s.Ops[0].Start, s.Ops[0].End), finding.CodeDirective, wording.TakesPower(s.Directive.Name, v))
			return
		}
		n = v
	}
	if len(s.Ops) > 1 && s.Ops[1].Kind != isa.OpNone {
		v, ok := p.count(it, 1, true, 0)
		if !ok {
			return
		}
		offset = v & (n - 1)
	}
	sec := &p.Sections[p.currentSection]
	sec.Align = max(sec.Align, n)
	pad := (offset - sec.Size) & (n - 1)
	if offset == 0 {
		p.AlignAt(p.currentSection, it.Index, sec.Size, pad, n, 0, 0)
	} else {
		if p.MayMove(p.currentSection) || p.current.Full() {
			sec.Exact = false // what is before may still grow
		}
		p.BreakAt(it)
	}
	p.grow(it, pad)
}
