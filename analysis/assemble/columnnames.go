package assemble

import (
	"fmt"
	"slices"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// withNames is the statement with what its names mean: values of variables,
// registers of coprocessors, lists, and addresses relative to a register.
func (p *pass) withNames(s *syntax.Stmt) *syntax.Stmt {
	hit := false
	known := func(name string) bool {
		if name == "" {
			return false
		}
		if _, ok := p.Related[name]; ok || p.RegisterOf(name).Word != "" || p.Variable(name) != nil {
			return true
		}
		_, ok := p.Lists[name]
		return ok
	}
	text := s.Directive != nil && s.Directive.Effect == syntax.EffData && s.Directive.Unit == 1
	for i := range s.Ops {
		o := &s.Ops[i]
		hit = hit || known(o.Word)
		o.Expr.Walk(func(e *syntax.Expr) {
			hit = hit || e.Op == syntax.ExprSym && known(e.Name) || e.Op == syntax.ExprColumns && (text || e.Name == "float")
		})
	}
	if !hit {
		return s
	}
	t := *s
	t.Ops = append([]syntax.Operand(nil), s.Ops...)
	for i := range t.Ops {
		p.withName(&t, &t.Ops[i], text)
	}
	return &t
}

// withName puts in what the names of an operand of s mean; text says that a
// string may be there.
func (p *pass) withName(s *syntax.Stmt, o *syntax.Operand, text bool) {
	if w := p.RegisterOf(o.Word).Word; w != "" {
		o.Word = w
		return
	}
	if l, ok := p.Lists[o.Word]; ok && s.Kind == syntax.Instruction {
		wb := o.Writeback
		o.Operand, o.Names, o.Expr = l.Operand, l.Names, nil
		o.Writeback = o.Writeback || wb
		return
	}
	at := &program.Item{Stmt: s, Section: p.currentSection, Environment: p.envID, Offset: p.Sections[p.currentSection].Size, Index: int32(len(p.Items))}
	if v := p.Variable(o.Word); v != nil && o.Word != "" {
		if v.Kind != syntax.VarString {
			o.Known, o.Imm, o.Word = true, v.Number, ""
			o.Bare = o.Kind == isa.OpExpr
			return
		}
		o.Expr = &syntax.Expr{Op: syntax.ExprSym, Name: o.Word, Start: o.Start, End: o.End}
		o.Word = ""
	}
	if o.Expr != nil {
		if o.Expr = p.valued(o.Expr); o.Expr.Op == syntax.ExprNum {
			o.Known, o.Imm, o.Expr = true, o.Expr.Val, nil
		}
	}
	switch {
	case o.Kind == isa.OpLit && o.Expr != nil && o.Expr.Op == syntax.ExprColumns && o.Expr.Name == "float":
		p.floatLiteral(at, s, o)
	case text:
		if v, ok := p.ColumnEval(o.Expr, at, 0); o.Expr != nil && ok && v.Kind == syntax.VarString {
			o.Kind, o.IsStr, o.Expr = isa.OpOther, true, nil
			o.Names = &syntax.Names{Str: v.Str}
		}
	case o.Kind == isa.OpExpr && len(p.Related) > 0 && (o.Word != "" || o.Expr != nil):
		e := o.Expr
		if e == nil {
			e = &syntax.Expr{Op: syntax.ExprSym, Name: o.Word, Start: o.Start, End: o.End}
		}
		p.withRelative(s, o, e, at)
	}
}

// withRelative puts the register and the offset for a name that counts from a
// register: an address in brackets for what loads and stores, a sum for ADR.
func (p *pass) withRelative(s *syntax.Stmt, o *syntax.Operand, e *syntax.Expr, at *program.Item) {
	x, ok := p.Relation(e, at, 0)
	switch {
	case !ok:
	case x.Register == isa.NoReg:
		if o.Expr != nil { // a distance between two of them
			o.Known, o.Imm, o.Expr = true, x.N, nil
			o.Bare = true
		}
	case s.Kind == syntax.Assign:
		p.relate(s.Name, x)
		o.Word, o.Expr, o.Known = "", nil, false // the name is no number
	case s.Kind != syntax.Instruction:
	case s.Mnemonic.ComputesAddress(p.current.Mode) && len(s.Ops) == 2:
		m, _ := isa.Find("add" + strings.TrimPrefix(strings.TrimPrefix(s.Mnemonic.Name, "adrl"), "adr"))
		if m == nil {
			return
		}
		d := s.Ops[0]
		base := syntax.Operand{Start: o.Start, End: o.End}
		base.Kind, base.Reg = isa.OpReg, x.Register
		sum := syntax.Operand{Start: o.Start, End: o.End}
		sum.Kind, sum.Known, sum.Imm = isa.OpImm, true, x.N
		s.Mnemonic, s.Ops = m, []syntax.Operand{d, base, sum}
	default:
		o.Operand = isa.Operand{Kind: isa.OpMem, Reg: x.Register, Index: isa.NoReg, Off: isa.OffImm, Known: true, Imm: x.N}
		o.Expr, o.Names = nil, nil
	}
}

// relate says that a name counts from a register.
func (p *pass) relate(name string, x program.Relative) {
	if p.Related == nil {
		p.Related = map[string]program.Relative{}
	}
	p.Related[name] = x
}

// floatLiteral gives a floating-point literal the bits that its register holds.
func (p *pass) floatLiteral(it *program.Item, s *syntax.Stmt, o *syntax.Operand) {
	d := s.Ops[0].Operand
	if !p.VectorOperand(it, &s.Ops[0], &d) {
		return
	}
	letter, _, _ := isa.VectorReg(d.Word)
	if bits, ok := eval.FloatBits(o.Expr.X.Name, letter == 'd'); ok {
		o.Known, o.Imm, o.Expr = true, bits, nil
	}
}

// registerName makes a symbol of a name that means a register.
func (p *pass) registerName(it *program.Item) {
	y := p.Symbol(it.Stmt.Name)
	if !y.Defined {
		y.Kind, y.Item, y.Columns = program.SymRegister, it.Index, nameColumns(it)
	}
}

// registerList handles RLIST.
func (p *pass) registerList(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) != 1 {
		return
	}
	o := s.Ops[0]
	if o.Names != nil {
		p.At = it.Index
		d := o.Operand
		if !p.Names(it, &o, &d) {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeRegList, wording.ListNoRegister())
			return
		}
		o.Operand, o.Names = d, nil
	}
	if p.Lists == nil {
		p.Lists = map[string]syntax.Operand{}
	}
	p.Lists[s.Name] = o
	p.registerName(it)
}

// otherName handles ALIAS and EXPORTAS.
func (p *pass) otherName(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) != 2 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TakesTwoNames(s.Directive.Name))
		return
	}
	if s.Directive.Effect == syntax.EffExportAs {
		p.Symbol(s.Ops[0].Word).Global = true
		return
	}
	o := &s.Ops[1]
	p.assign(it, o.Word, o.Start-s.Start, o.End-s.Start, s.Ops[:1], false)
}

// knownWords are what is after FRAME and ATTR.
var knownWords = map[string]string{
	"FRAME": " ADDRESS POP PUSH REGISTER RESTORE RETURN SAVE STATE UNWIND ",
	"ATTR":  " FILESCOPE SCOPE SETTAG ",
}

// known reports a FRAME or ATTR of which nothing is known.
func (p *pass) known(it *program.Item, rest string) {
	w, _, _ := strings.Cut(strings.ReplaceAll(rest, "\t", " "), " ")
	if d := it.Stmt.Directive.Name; w == "" || !strings.Contains(knownWords[d], " "+strings.ToUpper(w)+" ") {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsWord(d, strings.Join(strings.Fields(knownWords[d]), ", ")))
	}
}

// areaAttributes and symbolAttributes are what AREA and what EXPORT and IMPORT have
// after a name; older assemblers had more.
var (
	areaAttributes = []string{"align", "abs", "assoc", "based", "code", "codealign", "comdef", "comgroup", "common", "data", "execonly", "fini_array", "group",
		"halfword", "init_array", "interwork", "linkorder", "merge", "noalloc", "noinit", "noswstackcheck", "pic", "preinit_array", "readonly", "readwrite",
		"reentrant", "rel", "secflags", "sectype", "strings", "swstackcheck", "zeroalign"}
	symbolAttributes = []string{"arm", "code", "data", "dynamic", "elftype", "fpregargs", "hidden", "internal", "leaf", "noalloc", "protected", "size", "thumb", "weak"}
)

// attributes reports attributes that are written nearly as one that is known.
// Others may be of another assembler, and are left alone.
func (p *pass) attributes(it *program.Item, o *syntax.Operand, known []string) {
	for _, a := range strings.Split(o.Names.Str, ",") {
		words := strings.FieldsFunc(strings.ToLower(a), func(r rune) bool { return r == '=' || r == ' ' || r == '\t' })
		if len(words) == 0 || slices.Contains(known, words[0]) {
			continue
		}
		w := words[0]
		for _, n := range known {
			if d := finding.Distance(w, n); d == 1 && len(w) > 3 || d == 2 && len(w) > 6 {
				p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.NoSectionAttribute(it.Stmt.Directive.Name, strings.ToUpper(w), strings.ToUpper(n)))
				break
			}
		}
	}
}

// routine handles ROUT: numeric local labels of before are out of sight.
func (p *pass) routine(it *program.Item) {
	name := ""
	if n := int(it.Index); n > 0 {
		if b := &p.Items[n-1]; b.Stmt.Kind == syntax.Label && b.File == it.File && b.Line == it.Line {
			name = b.Stmt.Name
		}
	}
	if p.Scopes == nil {
		p.Scopes = map[int16][]*program.Scope{}
	}
	p.Scopes[p.currentSection] = append(p.Scopes[p.currentSection], &program.Scope{Item: it.Index, Name: name})
}

// routineOf checks the name of a routine after the number of a local label.
func (p *pass) routineOf(it *program.Item) {
	s := it.Stmt
	name := p.LineText(it)[int(s.Start)+len(s.Name) : s.NameEnd]
	if at := p.ScopeAt(it.Index, it.Section); name != "" && name != at.Named() {
		p.Report(p.NameLoc(it), finding.CodeUndefined, wording.OtherRoutine(name, at.Named()))
	}
}

// pseudo expands an instruction that the assembler makes of two others, or has
// under another name.
func (p *pass) pseudo(file, line int32, l *syntax.Line, s *syntax.Stmt, base, cond, width string) {
	t := *s
	t.Kind, t.Mnemonic, t.Ops, t.Err = syntax.Unknown, nil, nil, nil
	it := p.push(file, line, &t, 0)
	it.Flags |= program.Calls | program.Opaque
	code := l.Code()
	rest := strings.TrimSpace(code[min(int(s.NameEnd), len(code)):])
	text := ""
	switch reg, value, ok := strings.Cut(rest, ","); {
	case base == "und":
		if rest == "" {
			rest = "#0"
		}
		text = "\tudf" + cond + width + " " + rest
	case !ok || strings.TrimSpace(value) == "":
		p.Report(p.StmtLoc(it), finding.CodeNoForm, wording.RegisterAndValue(s.Name))
		return
	default:
		// The address of ADRL counts from PC; size and effects are the same.
		value = strings.TrimPrefix(strings.TrimSpace(value), "#")
		text = fmt.Sprintf("\tmovw%s %s, #:LOWER16:(%s)\n\tmovt%s %s, #:UPPER16:(%s)", cond, reg, value, cond, reg, value)
	}
	p.expand(it.Index, syntax.ParseColumnLines(text), &program.Expansion{By: strings.ToUpper(base), File: file, Line: line, N: 1}, 1)
}
