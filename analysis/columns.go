package analysis

import (
	"fmt"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// The column dialect in the first pass: what its lines mean beyond the
// directives that the dot dialect has as well. Variables get their values from
// line to line, so that each statement is handed on with the values that hold
// there.

// maxString bounds the strings in variables, in bytes (from memory of the armasm
// manual).
const maxString = 5120

// variable is one of GBLA and its kin.
type variable struct {
	kind int // syntax.VarNumber, VarLogical, VarString
	num  int64
	str  string
}

// text is what "$name" is replaced by. Numbers are eight hexadecimal digits
// (from memory of the armasm manual).
func (v *variable) text() string {
	switch v.kind {
	case syntax.VarNumber:
		return fmt.Sprintf("%08X", uint32(v.num))
	case syntax.VarLogical:
		if v.num != 0 {
			return "{TRUE}"
		}
		return "{FALSE}"
	}
	return v.str
}

// columnState is what the pass knows of the column dialect.
type columnState struct {
	conds bool // some macro takes a condition behind its name
	leave bool // MEXIT: up to the macro
}

// columnVariables are the variables of the column dialect where the program is read
// now.
type columnVariables struct {
	vars     map[string]*variable
	varStack []map[string]*variable // of the macros that are expanded now
	mapAt    int64                  // {VAR}
	mapReg   isa.Reg                // what it counts from, NoReg for nothing
}

// inColumns says whether a source is in the column dialect.
func (p *pass) inColumns(file int32) bool {
	return p.columns && p.sources[file].file.Dialect() == syntax.Columns
}

// variable finds a variable by its name; nil without one.
func (p *evaluator) variable(name string) *variable {
	if n := len(p.varStack); n > 0 {
		if v := p.varStack[n-1][name]; v != nil {
			return v
		}
	}
	return p.vars[name]
}

// columnStatement prepares a statement of the column dialect: variables and
// words get their values, and the place its alignment. It returns the statement
// to go on with, nil when everything is done.
func (p *pass) columnStatement(file, line int32, l *syntax.Line, s *syntax.Stmt) *syntax.Stmt {
	if s.Kind == syntax.Directive {
		switch s.Dir.Effect {
		case syntax.EffLine:
			p.variableLine(file, line, s)
			return nil
		case syntax.EffJoin:
			p.joinedLine(file, line, s)
			return nil
		case syntax.EffRest:
			return nil
		case syntax.EffVar, syntax.EffMacro:
			return s
		}
	}
	if s.Kind == syntax.Label && p.labelOfCall(file, l, s) != nil {
		return nil
	}
	if m := p.columnMacro(file, s); m != nil {
		p.columnCall(file, line, l, s, m)
		return nil
	}
	if s.Kind == syntax.Unknown || s.Kind == syntax.Instruction && s.Mnem.Name[0] == 'a' && p.cur.mode == isa.T {
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
		if n = 2; p.cur.mode == isa.A {
			n = 4
		}
	}
	sec := &p.secs[p.sec]
	pad := -sec.size & (n - 1)
	sec.align = max(sec.align, n)
	if pad == 0 && (n < 4 || len(sec.points) == 0) {
		return
	}
	if s.Kind == syntax.Instruction && pad == 0 {
		return
	}
	it := p.push(file, line, &syntax.Stmt{Kind: syntax.Directive, Dir: syntax.AutoAlign, Start: s.Start, NameEnd: s.Start, End: s.Start, Num: -1, Name: "ALIGN"}, 0)
	sec.alignAt(it.id, sec.size, pad, n, 0, 0)
	it.size = pad
	sec.size += pad
}

// valued is an expression with the values of variables put in.
func (p *pass) valued(e *syntax.Expr) *syntax.Expr {
	if e == nil {
		return nil
	}
	if e.Op == syntax.ExprSym {
		v := p.variable(e.Name)
		if v == nil {
			return e
		}
		x := *e
		if v.kind == syntax.VarString {
			x.Op, x.Name = syntax.ExprColumns, "str"
			x.X = &syntax.Expr{Op: syntax.ExprColumns, Name: v.str, Start: e.Start, End: e.End}
		} else {
			x.Op, x.Name, x.Val = syntax.ExprNum, "", v.num
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
	it.flags |= fCall | fOpaque
	if p.full {
		p.inexact()
		return
	}
	id := it.id
	code, _ := p.sources[file].file.Joined(int(line))
	text, left := syntax.ColumnReplace(code, p.variableText, true, maxExpansion)
	if left {
		p.inexact() // a name that nothing knows
		return
	}
	p.expand(id, syntax.ParseColumnLines(text), &expansion{by: "$", file: file, line: line, n: 1}, 1)
}

// joinedLine reads a statement together with the lines that it goes on in.
func (p *pass) joinedLine(file, line int32, s *syntax.Stmt) {
	it := p.push(file, line, s, 0)
	it.flags |= fCall | fOpaque
	text, last := p.sources[file].file.Joined(int(line))
	p.expand(it.id, syntax.ParseColumnLines(text), &expansion{by: `\`, file: file, line: line, n: int32(last) + 1 - line, exact: true, joined: true}, 1)
}

func (p *pass) variableText(name string) (string, bool) {
	if v := p.variable(name); v != nil {
		return v.text(), true
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
		if c := p.macroBy[s.Name[:n]]; c != nil && c.cond {
			m = c
		}
	}
	return m
}

// labelOfCall is the macro that takes a label as its parameter.
func (p *pass) labelOfCall(file int32, l *syntax.Line, s *syntax.Stmt) *definition {
	if k := indexOf(l, s); k+1 < len(l.Stmts) {
		if m := p.columnMacro(file, &l.Stmts[k+1]); m != nil && m.label {
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
	if k := indexOf(l, s); k > 0 && l.Stmts[k-1].Kind == syntax.Label && m.label {
		label = l.Text[l.Stmts[k-1].Start:l.Stmts[k-1].NameEnd]
	}
	if s.Kind != syntax.Unknown {
		t := *s
		t.Kind, t.Mnem, t.Ops, t.Err, t.Align = syntax.Unknown, nil, nil, nil, 0
		s = &t
	}
	it := p.push(file, line, s, 0)
	it.flags |= fCall | fOpaque
	id := it.id
	m.calls = append(m.calls, id)
	code := l.Code()
	raw := code[min(int(s.NameEnd), len(code)):]
	before := []string{}
	if m.label {
		before = append(before, label)
	}
	if m.cond {
		before = append(before, s.Name[len(m.name):])
	}
	params := m.params[len(before):]
	values, more := syntax.ColumnArguments(params, raw)
	if more != "" {
		n := "takes no arguments"
		if len(params) > 0 {
			n = "takes " + plural(len(params), "argument", "arguments")
		}
		p.report(p.stmtLoc(it), codeMacroArg, fmt.Sprintf("%s %s, and %s is more.", m.name, n, clipText(more, 40)))
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
			for i := range m.params {
				if m.params[i].Name == name {
					return values[i], true
				}
			}
			return "", false
		}, false, maxExpansion)
		if len(text) > maxExpansion {
			p.overflow(id)
			return
		}
		f = syntax.ParseAs(text, syntax.Columns)
		p.spent += parsing(f)
		p.store.put(m.tmpl, k, f, 0)
	}
	p.varStack = append(p.varStack, map[string]*variable{})
	p.expand(id, f, &expansion{macro: m.macro, file: m.file, line: m.line + 1, n: max(int32(f.NumLines()-1), 1)}, 1)
	p.varStack = p.varStack[:len(p.varStack)-1]
	p.leave = false
}

// columnDefine handles MACRO.
func (p *pass) columnDefine(id int32) {
	it := &p.items[id]
	f := p.sources[it.file].file
	end, ok := f.Behind(int(it.line), syntax.EffMacro, syntax.EffEndm)
	p.goTo(end+1, 0)
	if !ok {
		p.report(p.stmtLoc(it), codeMacroDef, "This MACRO has no MEND.")
		return
	}
	at := int(it.line) + 1
	for at < end && strings.TrimSpace(f.Line(at).Code()) == "" {
		at++
	}
	if at == end {
		p.report(p.stmtLoc(it), codeMacroDef, "The line with the macro's name is missing behind MACRO.")
		return
	}
	head := f.Line(at)
	text, last := f.Joined(at)
	h, ok := syntax.ColumnHeader(text)
	if !ok {
		a, b := trimmed(head.Text, 0, int32(len(head.Code())))
		p.report(p.loc(&item{file: it.file, line: int32(at)}, a, b), codeMacroDef, "Behind MACRO a line with the macro's name and its parameters is expected, and this cannot be read as one.")
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
	named := place{Location: p.stmtLoc(it).Location}
	if i := strings.Index(head.Text, name); i >= 0 && p.sources[it.file].exp == nil {
		named = p.loc(&item{file: it.file, line: int32(at)}, int32(i), int32(i+len(name)))
	}
	if old := p.macroBy[name]; old != nil {
		p.emit(named, Diagnostic{Code: codeMacroDef, Message: "The macro " + old.name + " is defined already, " + p.where(old.at.Location, it) + ".",
			Related: []Related{{old.at.Location, "the first definition of " + old.name}}})
		return
	}
	m := &macro{name: name, params: params, label: h.Label != "", cond: h.Cond != "", columns: true, file: it.file, line: int32(last), end: int32(end), item: id, at: named}
	p.columnState.conds = p.columnState.conds || m.cond
	p.addMacro(name, m, body)
}

// while handles WHILE.
func (p *pass) while(id int32, l *syntax.Line) {
	it := &p.items[id]
	src := it.file
	f := p.sources[src].file
	line := int(it.line)
	end, ok := f.Behind(line, syntax.EffWhile, syntax.EffWend)
	defer func() {
		if !p.left {
			p.goTo(end+1, 0)
		}
	}()
	if !ok {
		p.report(p.stmtLoc(it), codeMacroDef, "This WHILE has no WEND.")
		return
	}
	it.flags |= fOpaque
	body := f.Part(line+1, end)
	x := &expansion{by: "WHILE", file: src, line: int32(line) + 1, n: int32(max(body.NumLines(), 1)), exact: true}
	s := &l.Stmts[len(l.Stmts)-1]
	x.more = func() bool {
		p.spent += len(l.Text) / aText
		return p.condition(src, int32(line), l, s)
	}
	p.expand(id, body, x, 1)
	if p.leave {
		p.left = true
	}
}

// columnCondition computes the condition of IF, ELIF and WHILE. One that hangs on
// what is not known counts as false, as in the dot dialect.
func (p *pass) columnCondition(it *item, l *syntax.Line, s *syntax.Stmt) bool {
	bad := func(what string) bool {
		p.report(p.stmtLoc(it), codeDirective, s.Dir.Name+" "+what+".")
		return false
	}
	code, last := p.sources[it.file].file.Joined(int(it.line))
	if last > int(it.line) || len(s.Ops) == 0 && s.Err == nil && strings.Contains(code, "$") {
		text, left := syntax.ColumnReplace(code, p.variableText, true, maxExpansion)
		if left {
			return false
		}
		f := syntax.ParseColumnLines(text)
		if n := len(f.Line(0).Stmts); n > 0 {
			s = &f.Line(0).Stmts[n-1]
			if s.Err != nil { // the columns are those of another text
				return bad("cannot be read: " + s.Err.Message)
			}
		}
	}
	if s.Err != nil && !s.Err.Mild {
		p.syntaxError(&item{stmt: s, line: it.line, file: it.file})
		return false
	}
	if s = p.withNames(s); len(s.Ops) != 1 {
		return bad("needs one condition")
	}
	v, ok := p.columnValue(&s.Ops[0], it)
	if !ok {
		if e := p.eval(&s.Ops[0], it); e.kind == vUndef && e.sym != nil && !e.apart && !e.sym.extern && !p.missed {
			p.report(p.stmtLoc(it), codeUndefined, s.Dir.Name+" needs the value of "+e.sym.name+" here, and no line above defines it.")
		}
		return false
	}
	if v.kind == syntax.VarString {
		return bad("needs a condition, and this is a string")
	}
	return v.num != 0
}

// columnValue computes an argument: a number, a truth or a string. ok is false
// when it hangs on what is not known; what is wrong is reported.
func (p *evaluator) columnValue(o *syntax.Operand, it *item) (variable, bool) {
	switch {
	case o.IsStr:
		return variable{kind: syntax.VarString, str: o.Names.Str}, true
	case o.Known:
		return variable{kind: syntax.VarNumber, num: o.Imm}, true
	case o.Expr != nil:
		return p.columnEval(o.Expr, it, 0)
	case o.Word != "":
		return p.columnEval(&syntax.Expr{Op: syntax.ExprSym, Name: o.Word, Start: o.Start, End: o.End}, it, 0)
	}
	return variable{}, false
}

func (p *evaluator) columnEval(e *syntax.Expr, it *item, depth int) (variable, bool) {
	if e == nil || depth > maxDepth {
		return variable{}, false
	}
	number := func(n int64) (variable, bool) { return variable{kind: syntax.VarNumber, num: n}, true }
	truth := func(b bool) (variable, bool) {
		v := variable{kind: syntax.VarLogical}
		if b {
			v.num = -1
		}
		return v, true
	}
	text := func(s string) (variable, bool) { return variable{kind: syntax.VarString, str: s}, true }
	if e.Op == syntax.ExprSym {
		if v := p.variable(e.Name); v != nil {
			return *v, true
		}
	}
	if arithmetic(e.Op) {
		v, _, ok := p.columnSum(e, it, depth)
		return v, ok
	}
	if e.Op != syntax.ExprColumns {
		v := p.expr(e, it, depth+1)
		return variable{kind: syntax.VarNumber, num: v.n}, v.kind == vAbs
	}
	switch e.Name {
	case "str":
		return text(e.X.Name)
	case "float":
		return variable{}, false
	case "INDEX", "BASE":
		x, ok := p.relation(e.X, it, depth)
		if !ok {
			return variable{}, false
		}
		if e.Name == "BASE" {
			x.n = 15 // PC, that labels count from
			if x.reg != isa.NoReg {
				x.n = int64(x.reg)
			}
		}
		return number(x.n)
	case "DEF":
		n := e.X.Name
		if n[0] == '{' {
			return truth(strings.Contains(builtins, n))
		}
		y := p.table.find(n)
		return truth(p.variable(n) != nil || y != nil && (y.defined || y.extern || y.kind == SymRegister))
	case "{VAR}":
		return number(p.mapAt)
	case "{ENDIAN}":
		return text("little")
	case "{CODESIZE}", "{CONFIG}":
		if p.envs[it.env].mode == isa.A {
			return number(32)
		}
		return number(16)
	case "{OPT}", "{INTER}", "{ROPI}", "{RWPI}", "{NOSWST}", "{NOT_THUMB}":
		return truth(false)
	}
	if e.Name[0] == '{' {
		return p.columnTarget(e.Name, &p.envs[it.env])
	}
	if e.Name == "?" || e.X == nil {
		return variable{}, false
	}
	x, ok := p.columnEval(e.X, it, depth+1)
	if e.Y == nil {
		if !ok {
			return variable{}, false
		}
		s := x.str
		switch e.Name {
		case "LNOT":
			return truth(x.num == 0)
		case "LEN":
			if x.kind == syntax.VarString {
				return number(int64(len(s)))
			}
		case "CHR":
			return text(string([]byte{byte(x.num)}))
		case "STR":
			if x.kind == syntax.VarLogical {
				return text(map[bool]string{true: "T", false: "F"}[x.num != 0])
			}
			if x.kind == syntax.VarNumber {
				return text(fmt.Sprintf("%08X", uint32(x.num)))
			}
			return x, true
		case "UPPERCASE":
			return text(strings.ToUpper(s))
		case "LOWERCASE":
			return text(strings.ToLower(s))
		case "RCONST":
			return number(x.num)
		}
		return variable{}, false
	}
	// What decides alone does so, whatever the other side is.
	if ok && (e.Name == "LAND" && x.num == 0 || e.Name == "LOR" && x.num != 0) && x.kind != syntax.VarString {
		return truth(x.num != 0)
	}
	y, ok2 := p.columnEval(e.Y, it, depth+1)
	if !ok || !ok2 {
		if ok2 && (e.Name == "LAND" && y.num == 0 || e.Name == "LOR" && y.num != 0) {
			return truth(y.num != 0)
		}
		return variable{}, false
	}
	str := x.kind == syntax.VarString && y.kind == syntax.VarString
	switch {
	case e.Name == "CC" && str:
		if len(x.str)+len(y.str) > 2*maxString {
			return variable{}, false
		}
		return text(x.str + y.str)
	case e.Name == "LEFT" && y.num >= 0 && y.num <= int64(len(x.str)):
		return text(x.str[:y.num])
	case e.Name == "RIGHT" && y.num >= 0 && y.num <= int64(len(x.str)):
		return text(x.str[int64(len(x.str))-y.num:])
	case str:
		c := strings.Compare(x.str, y.str)
		switch e.Name {
		case "=":
			return truth(c == 0)
		case "<>":
			return truth(c != 0)
		case "<":
			return truth(c < 0)
		case "<=":
			return truth(c <= 0)
		case ">":
			return truth(c > 0)
		case ">=":
			return truth(c >= 0)
		}
		return variable{}, false
	case x.kind == syntax.VarString || y.kind == syntax.VarString:
		return variable{}, false
	}
	n, ok := syntax.FoldColumns(e.Name, x.num, y.num)
	if !ok {
		return variable{}, false
	}
	switch e.Name {
	case "=", "<>", "<", "<=", ">", ">=", "LAND", "LOR", "LEOR":
		return variable{kind: syntax.VarLogical, num: n}, true
	}
	return number(n)
}

// arithmetic says whether an operator of both dialects takes the values of variables
// on its sides.
func arithmetic(op syntax.ExprOp) bool {
	switch op {
	case syntax.ExprAdd, syntax.ExprSub, syntax.ExprMul, syntax.ExprDiv, syntax.ExprAnd, syntax.ExprOr, syntax.ExprXor:
		return true
	}
	return false
}

// columnSum computes such an operator: what it comes to as a variable has it, if ok,
// and as an operand has it. Both at once: what is nested would otherwise be computed
// twice on each level.
func (p *evaluator) columnSum(e *syntax.Expr, it *item, depth int) (variable, value, bool) {
	x, xv, ok1 := p.columnSide(e.X, it, depth+1)
	y, yv, ok2 := p.columnSide(e.Y, it, depth+1)
	if ok1 && ok2 {
		if n, ok := syntax.Fold(e.Op, x.num, y.num); ok && x.kind != syntax.VarString && y.kind != syntax.VarString {
			return variable{kind: syntax.VarNumber, num: n}, value{kind: vAbs, n: n}, true
		}
		return variable{}, p.notKnown(e, it, depth), false
	}
	v := p.binary(e, xv, yv, it)
	return variable{kind: syntax.VarNumber, num: v.n}, v, v.kind == vAbs
}

// columnSide computes one side of it.
func (p *evaluator) columnSide(e *syntax.Expr, it *item, depth int) (variable, value, bool) {
	switch {
	case e != nil && depth <= maxDepth && arithmetic(e.Op):
		return p.columnSum(e, it, depth)
	case e == nil || depth > maxDepth || e.Op == syntax.ExprColumns || e.Op == syntax.ExprSym && p.variable(e.Name) != nil:
		v, ok := p.columnEval(e, it, depth)
		return v, p.operandValue(v, ok, e, it, depth), ok
	}
	v := p.expr(e, it, depth)
	return variable{kind: syntax.VarNumber, num: v.n}, v, v.kind == vAbs
}

// builtins are the names in braces that are always defined.
const builtins = "{PC}{VAR}{TRUE}{FALSE}{OPT}{CONFIG}{ENDIAN}{CODESIZE}{CPU}{FPU}{ARCHITECTURE}{INTER}{ROPI}{RWPI}{LINENUM}{INPUTFILE}{COMMANDLINE}{AREANAME}"

// columnExpr is the value of an operator of the column dialect in an operand.
func (p *evaluator) columnExpr(e *syntax.Expr, it *item, depth int) value {
	v, ok := p.columnEval(e, it, depth)
	return p.operandValue(v, ok, e, it, depth)
}

// operandValue is the value in an operand of an expression that comes to v, if ok.
func (p *evaluator) operandValue(v variable, ok bool, e *syntax.Expr, it *item, depth int) value {
	if !ok {
		return p.notKnown(e, it, depth)
	}
	if v.kind == syntax.VarString {
		if len(v.str) == 1 {
			return value{kind: vAbs, n: int64(v.str[0])}
		}
		return value{kind: vBad, why: "A string stands here, and the place needs a number."}
	}
	return value{kind: vAbs, n: v.num}
}

// notKnown is the value of an expression that cannot be computed here. Whether
// something in it is missing is known at the end.
func (p *evaluator) notKnown(e *syntax.Expr, it *item, depth int) value {
	missing := value{}
	e.Walk(func(x *syntax.Expr) {
		if x.Op == syntax.ExprSym && e.Name != "DEF" && missing.sym == nil {
			if v := p.expr(x, it, depth+1); v.kind == vUndef {
				missing = v
			}
		}
	})
	if missing.sym != nil {
		missing.mixed = true
		return missing
	}
	return value{kind: vUnknown}
}

// localScope is where a number names one label after the other: in a section, behind
// a ROUT of it, and there in one expansion of a macro or outside of all.
type localScope struct {
	num, level int32
	sec        int16
	routine    *scope
}

// columnLocal finds the numeric local label of %b1 and its kin: in the section and
// behind the ROUT that it stands in, and there in the macro that is expanded, or in
// what calls it.
func (p *evaluator) columnLocal(e *syntax.Expr, it *item) value {
	mode, routine, _ := strings.Cut(e.Name, ":")
	id, sec := it.id, it.sec
	at := p.scopeAt(id, sec)
	if routine != "" && routine != at.named() {
		return value{kind: vBad, why: otherRoutine(routine, at), firm: true}
	}
	var last, next *symbol
	for up := p.level(p.sourceOf(id)); ; {
		list := p.scoped[localScope{int32(e.Val), up, sec, at}]
		k := sort.Search(len(list), func(k int) bool { return list[k].item > id })
		if k > 0 && (last == nil || list[k-1].item > last.item) {
			last = list[k-1]
		}
		if k < len(list) && (next == nil || list[k].item < next.item) {
			next = list[k]
		}
		if up <= 0 || strings.Contains(mode, "t") {
			break
		}
		up = p.level(p.items[p.sources[up].from].file)
	}
	found := last
	if !e.Back && (found == nil || strings.Contains(mode, "f")) {
		found = next
	}
	if found == nil {
		return value{kind: vUndef, num: int32(e.Val) + 1, back: e.Back}
	}
	v := p.placed(found.val)
	v.sym = found
	return v
}

// sourceOf is the source of an item, or of the statement that is read now.
func (p *Program) sourceOf(id int32) int32 {
	if int(id) < len(p.items) {
		return p.items[id].file
	}
	return p.items[len(p.items)-1].file
}

// level is the expansion of a macro, or the root, that a source belongs to.
func (p *Program) level(file int32) int32 {
	for file > 0 {
		s := &p.sources[file]
		if s.exp != nil && s.exp.macro != nil {
			return file
		}
		file = p.items[s.from].file
	}
	return 0
}

// columnDirective handles the directives that only the column dialect has.
func (p *pass) columnDirective(it *item, l *syntax.Line) {
	s, d := it.stmt, it.stmt.Dir
	switch d.Effect {
	case syntax.EffArea:
		p.area(it)
	case syntax.EffVar:
		for i := range s.Ops {
			v := &variable{kind: d.Unit &^ syntax.VarLocal}
			switch {
			case d.Unit&syntax.VarLocal == 0:
				if p.vars == nil {
					p.vars = map[string]*variable{}
				}
				p.vars[s.Ops[i].Word] = v
			case len(p.varStack) > 0:
				p.varStack[len(p.varStack)-1][s.Ops[i].Word] = v
			default:
				p.report(p.stmtLoc(it), codeDirective, d.Name+" stands in a macro alone; "+"GBL"+d.Name[3:]+" makes a variable of the whole program.")
			}
		}
	case syntax.EffSetVar:
		v := p.variable(s.Name)
		if v == nil {
			p.report(p.nameLoc(it), codeUndefined, fmt.Sprintf("No GBL%s or LCL%s above makes the variable %s.", d.Name[3:], d.Name[3:], s.Name))
			return
		}
		if v.kind != d.Unit {
			p.report(p.stmtLoc(it), codeDirective, s.Name+" holds a value of another kind than "+d.Name+" gives.")
			return
		}
		if len(s.Ops) != 1 {
			p.report(p.stmtLoc(it), codeDirective, d.Name+" needs one value.")
			return
		}
		x, ok := p.columnValue(&s.Ops[0], it)
		if !ok {
			if e := p.eval(&s.Ops[0], it); e.kind == vUndef && e.sym != nil {
				p.report(p.loc(it, s.Ops[0].Start, s.Ops[0].End), codeUndefined, d.Name+" needs the value of "+e.sym.name+" here, and no line above defines it.")
			}
			return
		}
		if (x.kind == syntax.VarString) != (v.kind == syntax.VarString) {
			p.report(p.stmtLoc(it), codeDirective, s.Name+" holds a value of another kind than this.")
			return
		}
		if len(x.str) > maxString {
			p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("The string has %d characters, and a variable holds up to %d.", len(x.str), maxString))
			x.str = ""
		}
		v.num, v.str = x.num, x.str
		if v.kind == syntax.VarLogical && v.num != 0 {
			v.num = -1
		}
	case syntax.EffMap:
		p.mapReg = isa.NoReg
		if len(s.Ops) > 1 {
			o := &s.Ops[1]
			r, ok := o.Reg, o.Kind == isa.OpReg
			if !ok {
				r, ok = p.alias(o.Word)
			}
			if !ok {
				p.report(p.loc(it, o.Start, o.End), codeDirective, "The second argument of "+d.Name+" is a register.")
				r = isa.NoReg
			}
			p.mapReg = r
		}
		if len(s.Ops) == 0 {
			p.mapAt = 0
			return
		}
		if n, ok := p.count(it, 0, false, 0); ok {
			p.mapAt = n
		}
	case syntax.EffField:
		at := p.mapAt
		n, ok := p.count(it, 0, false, 0)
		if !ok {
			return
		}
		if n < 0 || n > most {
			p.report(p.stmtLoc(it), codeDirective, fmt.Sprintf("%s cannot have %d bytes.", d.Name, n))
			return
		}
		p.mapAt += n
		if s.Name == "" || !d.NameFirst || s.NameEnd == s.Start || syntax.ColumnDirective(s.Name) != nil {
			return
		}
		o := syntax.Operand{Start: s.Ops[0].Start, End: s.Ops[0].End}
		o.Kind = isa.OpExpr
		if o.Known, o.Imm = true, at; p.mapReg != isa.NoReg {
			o.Known = false
			p.relate(s.Name, relative{reg: p.mapReg, n: at})
		}
		p.assign(it, s.Name, 0, s.NameEnd-s.Start, []syntax.Operand{o}, false)
	case syntax.EffAssert:
		if len(s.Ops) != 1 {
			return
		}
		if v, ok := p.columnValue(&s.Ops[0], it); ok && v.kind != syntax.VarString && v.num == 0 {
			p.report(p.stmtLoc(it), codeDirective, "This condition does not hold, and the assembly stops here.")
		}
	case syntax.EffInfo:
		if len(s.Ops) == 0 {
			return
		}
		if v, ok := p.columnValue(&s.Ops[0], it); ok && v.kind != syntax.VarString && v.num != 0 {
			m := "The source stops the assembly here."
			if len(s.Ops) > 1 {
				if t, ok := p.columnValue(&s.Ops[1], it); ok && t.kind == syntax.VarString {
					m = "The source stops the assembly here: " + t.str
				}
			}
			p.report(p.stmtLoc(it), codeDirective, m)
		}
	case syntax.EffWend:
		p.report(p.stmtLoc(it), codeDirective, "No WHILE stands before this WEND.")
	case syntax.EffWord:
		if len(s.Ops) == 1 {
			if n, ok := p.count(it, 0, false, 0); ok && n >= 0 && n < 16 {
				if p.words == nil {
					p.words = map[string]string{}
				}
				p.words[s.Name] = string(rune(d.Unit)) + strconv.FormatInt(n, 10)
				p.registerName(it)
			}
		}
	case syntax.EffList:
		p.registerList(it)
	case syntax.EffAlias, syntax.EffExportAs:
		p.otherName(it)
	case syntax.EffRout:
		p.routine(it)
	case syntax.EffWords:
		p.known(it, strings.TrimSpace(s.Rest(l)))
	case syntax.EffVec:
		to := strings.TrimSpace(l.Text[s.NameEnd:s.End])
		_, to, _ = strings.Cut(to, " ")
		if to = strings.TrimSpace(to); to != "" && to[0] >= '0' && to[0] <= '9' {
			to = string(rune(d.Unit)) + to
		}
		p.vectorAlias(it, strings.ToLower(to))
	}
}

// area handles AREA.
func (p *pass) area(it *item) {
	s := it.stmt
	if len(s.Ops) == 0 || len(p.secBy) > 30000 {
		return
	}
	name := s.Ops[0].Word
	_, old := p.secBy[name]
	p.prev = p.sec
	p.sec = p.section(name)
	sec := &p.secs[p.sec]
	if !old {
		sec.align = max(sec.align, 4)
		sec.exec = false
	}
	p.moved(it)
	for i := range s.Ops[1:] {
		o := &s.Ops[i+1]
		p.attributes(it, o, areaAttributes)
		switch w, _, _ := strings.Cut(o.Names.Str, " "); w {
		case "CODE", "EXECONLY":
			sec.exec = true
		case "ALIGN":
			if n := p.eval(o, it); n.kind == vAbs {
				if n.n < 0 || n.n > 31 {
					p.report(p.loc(it, o.Start, o.End), codeDirective, fmt.Sprintf("ALIGN of a section is a power of two of 0–31, and %d is none.", n.n))
					continue
				}
				sec.align = max(sec.align, 1<<n.n)
			}
		}
	}
}

// columnAlign handles ALIGN: to a multiple of the first number, and the second
// from there.
func (p *pass) columnAlign(it *item, grow func(int64)) {
	s := it.stmt
	n, offset := int64(4), int64(0)
	if len(s.Ops) > 0 && s.Ops[0].Kind != isa.OpNone {
		v, ok := p.count(it, 0, true, 0)
		if !ok {
			return
		}
		if v <= 0 || v&(v-1) != 0 || v > 1<<31 {
			p.report(p.loc(it, s.Ops[0].Start, s.Ops[0].End), codeDirective, fmt.Sprintf("%s takes a power of two, and %d is none.", s.Dir.Name, v))
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
	sec := &p.secs[p.sec]
	sec.align = max(sec.align, n)
	pad := (offset - sec.size) & (n - 1)
	if offset == 0 {
		sec.alignAt(it.id, sec.size, pad, n, 0, 0)
	} else {
		if len(sec.points) > 0 || p.cur.full() {
			sec.exact = false // what stands before may still grow
		}
		sec.breakAt(it.id)
	}
	grow(pad)
}

// unaligned says whether data is meant to stand wherever it does: that of the
// column dialect aligns itself, but for some.
func unaligned(it *item) bool { return it.stmt.Dir.Name[0] != '.' && it.stmt.Dir.Align == 0 }

// columnLocalAt is the numeric local label that a token such as %B1 means; nil
// for other tokens.
func (r *view) columnLocalAt(t token) *symbol {
	if t.op < 0 || t.op >= len(t.it.stmt.Ops) || r.file.Dialect() != syntax.Columns {
		return nil
	}
	col := int32(t.span.Start - r.file.LineStart(r.file.LineAt(t.span.Start)))
	var found *symbol
	t.it.stmt.Ops[t.op].Expr.Walk(func(e *syntax.Expr) {
		if e.Op == syntax.ExprLocal && e.Name != "" && e.Start <= col && col <= e.End {
			found = r.localOf(e, t.it)
		}
	})
	return found
}
