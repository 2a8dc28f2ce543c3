package analysis

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Names of the column dialect that stand for no number and no address: registers
// of coprocessors, lists of registers, and what counts from the register of a
// MAP; the instructions that the assembler makes of others; and the scopes of
// numeric local labels. All from memory of the armasm manual.

// columnNames are the names.
type columnNames struct {
	lists   map[string]syntax.Operand // RLIST
	related map[string]relative       // FIELD below a MAP with a register
}

// stands is what a name stands for that is no number and no place, empty for
// others.
func (r *view) stands(name string) string {
	if reg, ok := r.lastAlias(name); ok {
		return reg.String()
	}
	if x, ok := r.related[name]; ok {
		return fmt.Sprintf("[%s, #%d]", x.reg, x.n)
	}
	if l, ok := r.lists[name]; ok {
		return l.List.String()
	}
	return r.lastVector(name) + r.words[name]
}

// relative is an address that counts from a register, or a number with NoReg.
type relative struct {
	reg isa.Reg
	n   int64
}

// scope is where ROUT begins one.
type scope struct {
	item int32
	name string
}

// withNames is the statement with what its names stand for: values of variables,
// registers of coprocessors, lists, and addresses relative to a register.
func (p *pass) withNames(s *syntax.Stmt) *syntax.Stmt {
	hit := false
	known := func(name string) bool {
		if name == "" {
			return false
		}
		if _, ok := p.related[name]; ok || p.words[name] != "" || p.variable(name) != nil {
			return true
		}
		_, ok := p.lists[name]
		return ok
	}
	text := s.Dir != nil && s.Dir.Effect == syntax.EffData && s.Dir.Unit == 1
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

// withName puts in what the names of an operand of s stand for; text says that a
// string may stand there.
func (p *pass) withName(s *syntax.Stmt, o *syntax.Operand, text bool) {
	if w := p.words[o.Word]; w != "" {
		o.Word = w
		return
	}
	if l, ok := p.lists[o.Word]; ok && s.Kind == syntax.Instruction {
		wb := o.WB
		o.Operand, o.Names, o.Expr = l.Operand, l.Names, nil
		o.WB = o.WB || wb
		return
	}
	at := &item{stmt: s, sec: p.sec, env: p.envID, off: p.secs[p.sec].size, id: int32(len(p.items))}
	if v := p.variable(o.Word); v != nil && o.Word != "" {
		if v.kind != syntax.VarString {
			o.Known, o.Imm, o.Word = true, v.num, ""
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
		if v, ok := p.columnEval(o.Expr, at, 0); o.Expr != nil && ok && v.kind == syntax.VarString {
			o.Kind, o.IsStr, o.Expr = isa.OpOther, true, nil
			o.Names = &syntax.Names{Str: v.str}
		}
	case o.Kind == isa.OpExpr && len(p.related) > 0 && (o.Word != "" || o.Expr != nil):
		e := o.Expr
		if e == nil {
			e = &syntax.Expr{Op: syntax.ExprSym, Name: o.Word, Start: o.Start, End: o.End}
		}
		p.withRelative(s, o, e, at)
	}
}

// withRelative puts the register and the offset for a name that counts from a
// register: an address in brackets for what loads and stores, a sum for ADR.
func (p *pass) withRelative(s *syntax.Stmt, o *syntax.Operand, e *syntax.Expr, at *item) {
	x, ok := p.relation(e, at, 0)
	switch {
	case !ok:
	case x.reg == isa.NoReg:
		if o.Expr != nil { // a distance between two of them
			o.Known, o.Imm, o.Expr = true, x.n, nil
			o.Bare = true
		}
	case s.Kind == syntax.Assign:
		p.relate(s.Name, x)
		o.Word, o.Expr, o.Known = "", nil, false // the name is no number
	case s.Kind != syntax.Instruction:
	case strings.HasPrefix(s.Mnem.Name, "adr") && len(s.Ops) == 2:
		m, _ := isa.Find("add" + strings.TrimPrefix(strings.TrimPrefix(s.Mnem.Name, "adrl"), "adr"))
		if m == nil {
			return
		}
		d := s.Ops[0]
		base := syntax.Operand{Start: o.Start, End: o.End}
		base.Kind, base.Reg = isa.OpReg, x.reg
		sum := syntax.Operand{Start: o.Start, End: o.End}
		sum.Kind, sum.Known, sum.Imm = isa.OpImm, true, x.n
		s.Mnem, s.Ops = m, []syntax.Operand{d, base, sum}
	default:
		o.Operand = isa.Operand{Kind: isa.OpMem, Reg: x.reg, Index: isa.NoReg, Off: isa.OffImm, Known: true, Imm: x.n}
		o.Expr, o.Names = nil, nil
	}
}

// relate says that a name counts from a register.
func (p *pass) relate(name string, x relative) {
	if p.related == nil {
		p.related = map[string]relative{}
	}
	p.related[name] = x
}

// relation is the value of an expression over names that count from a register:
// sums and differences. ok is false for everything else.
func (p *evaluator) relation(e *syntax.Expr, it *item, depth int) (x relative, ok bool) {
	none := relative{reg: isa.NoReg}
	if e == nil || depth > maxDepth {
		return none, false
	}
	if e.Op == syntax.ExprSym {
		if x, ok := p.related[e.Name]; ok {
			return x, true
		}
	}
	if e.Op == syntax.ExprAdd || e.Op == syntax.ExprSub {
		x, ok1 := p.relation(e.X, it, depth+1)
		y, ok2 := p.relation(e.Y, it, depth+1)
		switch {
		case !ok1 || !ok2:
			return none, false
		case e.Op == syntax.ExprSub && y.reg != isa.NoReg:
			return relative{isa.NoReg, x.n - y.n}, x.reg == y.reg
		case e.Op == syntax.ExprSub:
			return relative{x.reg, x.n - y.n}, true
		case y.reg == isa.NoReg:
			return relative{x.reg, x.n + y.n}, true
		}
		return relative{y.reg, x.n + y.n}, x.reg == isa.NoReg
	}
	v := p.expr(e, it, depth+1)
	return relative{isa.NoReg, v.n}, v.kind == vAbs
}

// floatLiteral gives a floating-point literal the bits that its register holds.
func (p *pass) floatLiteral(it *item, s *syntax.Stmt, o *syntax.Operand) {
	d := s.Ops[0].Operand
	if !p.vectorOperand(it, &s.Ops[0], &d) {
		return
	}
	letter, _, _ := isa.VectorReg(d.Word)
	if bits, ok := floatBits(o.Expr.X.Name, letter == 'd'); ok {
		o.Known, o.Imm, o.Expr = true, bits, nil
	}
}

// registerName makes a symbol of a name that stands for a register.
func (p *pass) registerName(it *item) {
	y := p.symbol(it.stmt.Name)
	if !y.defined {
		y.kind, y.item, y.at = SymRegister, it.id, p.nameLoc(it)
	}
}

// registerList handles RLIST.
func (p *pass) registerList(it *item) {
	s := it.stmt
	if len(s.Ops) != 1 {
		return
	}
	o := s.Ops[0]
	if o.Names != nil {
		p.at = it.id
		d := o.Operand
		if !p.names(it, &o, &d) {
			p.report(p.loc(it, o.Start, o.End), codeRegList, "In this list stands a name that is no register.")
			return
		}
		o.Operand, o.Names = d, nil
	}
	if p.lists == nil {
		p.lists = map[string]syntax.Operand{}
	}
	p.lists[s.Name] = o
	p.registerName(it)
}

// otherName handles ALIAS and EXPORTAS.
func (p *pass) otherName(it *item) {
	s := it.stmt
	if len(s.Ops) != 2 {
		p.report(p.stmtLoc(it), codeDirective, s.Dir.Name+" takes two names.")
		return
	}
	if s.Dir.Effect == syntax.EffExportAs {
		p.symbol(s.Ops[0].Word).global = true
		return
	}
	o := &s.Ops[1]
	p.assign(it, o.Word, o.Start-s.Start, o.End-s.Start, s.Ops[:1], false)
}

// knownWords are what stands behind FRAME and ATTR.
var knownWords = map[string]string{
	"FRAME": " ADDRESS POP PUSH REGISTER RESTORE RETURN SAVE STATE UNWIND ",
	"ATTR":  " FILESCOPE SCOPE SETTAG ",
}

// known reports a FRAME or ATTR of which nothing is known.
func (p *pass) known(it *item, rest string) {
	w, _, _ := strings.Cut(strings.ReplaceAll(rest, "\t", " "), " ")
	if d := it.stmt.Dir.Name; w == "" || !strings.Contains(knownWords[d], " "+strings.ToUpper(w)+" ") {
		p.report(p.stmtLoc(it), codeDirective, d+" has one of these words behind it: "+strings.Join(strings.Fields(knownWords[d]), ", ")+".")
	}
}

// areaAttributes and symbolAttributes are what AREA and what EXPORT and IMPORT have
// behind a name; older assemblers had more.
var (
	areaAttributes = []string{"align", "abs", "assoc", "based", "code", "codealign", "comdef", "comgroup", "common", "data", "execonly", "fini_array", "group",
		"halfword", "init_array", "interwork", "linkorder", "merge", "noalloc", "noinit", "noswstackcheck", "pic", "preinit_array", "readonly", "readwrite",
		"reentrant", "rel", "secflags", "sectype", "strings", "swstackcheck", "zeroalign"}
	symbolAttributes = []string{"arm", "code", "data", "dynamic", "elftype", "fpregargs", "hidden", "internal", "leaf", "noalloc", "protected", "size", "thumb", "weak"}
)

// attributes reports attributes that are written nearly as one that is known.
// Others may be of another assembler, and are left alone.
func (p *pass) attributes(it *item, o *syntax.Operand, known []string) {
	for _, a := range strings.Split(o.Names.Str, ",") {
		words := strings.FieldsFunc(strings.ToLower(a), func(r rune) bool { return r == '=' || r == ' ' || r == '\t' })
		if len(words) == 0 || slices.Contains(known, words[0]) {
			continue
		}
		w := words[0]
		for _, n := range known {
			if d := distance(w, n); d == 1 && len(w) > 3 || d == 2 && len(w) > 6 {
				p.report(p.loc(it, o.Start, o.End), codeDirective, fmt.Sprintf("%s has no attribute %s; near names: %s.", it.stmt.Dir.Name, strings.ToUpper(w), strings.ToUpper(n)))
				break
			}
		}
	}
}

// routine handles ROUT: numeric local labels of before are out of sight.
func (p *pass) routine(it *item) {
	name := ""
	if n := int(it.id); n > 0 {
		if b := &p.items[n-1]; b.stmt.Kind == syntax.Label && b.file == it.file && b.line == it.line {
			name = b.stmt.Name
		}
	}
	if p.scopes == nil {
		p.scopes = map[int16][]*scope{}
	}
	p.scopes[p.sec] = append(p.scopes[p.sec], &scope{it.id, name})
}

// scopeAt is the scope that an item of a section is in, nil before the first ROUT
// there.
func (r *Program) scopeAt(id int32, sec int16) *scope {
	list := r.scopes[sec]
	if k := sort.Search(len(list), func(k int) bool { return list[k].item > id }); k > 0 {
		return list[k-1]
	}
	return nil
}

// named is the routine that a scope is that of, empty for none.
func (s *scope) named() string {
	if s == nil {
		return ""
	}
	return s.name
}

// routineOf checks the name of a routine behind the number of a local label.
func (p *pass) routineOf(it *item) {
	s := it.stmt
	name := p.lineText(it)[int(s.Start)+len(s.Name) : s.NameEnd]
	if at := p.scopeAt(it.id, it.sec); name != "" && name != at.named() {
		p.report(p.nameLoc(it), codeUndefined, otherRoutine(name, at))
	}
}

// otherRoutine says that a local label names a routine that it is not in.
func otherRoutine(name string, at *scope) string {
	if in := at.named(); in != "" {
		return fmt.Sprintf("The local label names the routine %s, and the ROUT above is that of %s.", name, in)
	}
	return fmt.Sprintf("The local label names the routine %s, and no ROUT above has a name.", name)
}

// pseudo expands an instruction that the assembler makes of two others, or has
// under another name.
func (p *pass) pseudo(file, line int32, l *syntax.Line, s *syntax.Stmt, base, cond, width string) {
	t := *s
	t.Kind, t.Mnem, t.Ops, t.Err = syntax.Unknown, nil, nil, nil
	it := p.push(file, line, &t, 0)
	it.flags |= fCall | fOpaque
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
		p.report(p.stmtLoc(it), codeNoForm, fmt.Sprintf("%s takes a register and a value.", s.Name))
		return
	default:
		// The address of ADRL counts from PC; size and effects are the same.
		value = strings.TrimPrefix(strings.TrimSpace(value), "#")
		text = fmt.Sprintf("\tmovw%s %s, #:LOWER16:(%s)\n\tmovt%s %s, #:UPPER16:(%s)", cond, reg, value, cond, reg, value)
	}
	p.expand(it.id, syntax.ParseColumnLines(text), &expansion{by: strings.ToUpper(base), file: file, line: line, n: 1}, 1)
}

// columnTarget is the value of a built-in variable that says something of the
// target. Those that nothing here knows have none.
func (p *evaluator) columnTarget(name string, e *env) (variable, bool) {
	truth := func(b bool) (variable, bool) {
		v := variable{kind: syntax.VarLogical}
		if b {
			v.num = -1
		}
		return v, true
	}
	arch, _, profile := e.generation()
	_, rest, _ := strings.Cut(strings.Trim(name, "{}"), "TARGET_")
	switch rest {
	case "ARCH_ARM":
		n := int64(arch)
		if !e.have.Has(isa.FeatA32) {
			n = 0
		}
		return variable{kind: syntax.VarNumber, num: n}, true
	case "ARCH_THUMB":
		n := int64(0)
		switch {
		case e.have.Has(isa.FeatT32):
			n = 4
		case e.have.Has(isa.FeatV6), e.have.Has(isa.FeatHint):
			n = 3
		case e.have.Has(isa.FeatV5T):
			n = 2
		case e.have.Has(isa.FeatT16):
			n = 1
		}
		return variable{kind: syntax.VarNumber, num: n}, true
	case "PROFILE_A", "PROFILE_R", "PROFILE_M":
		return truth(profile == rest[8])
	}
	f, ok := map[string]isa.Features{"CLZ": isa.FeatV5, "DOUBLEWORD": isa.FeatV5TE, "DSPMUL": isa.FeatDSP, "MULTIPROCESSING": isa.FeatMP, "NEON": isa.FeatNEON, "UNALIGNED": isa.FeatV6}[strings.TrimPrefix(rest, "FEATURE_")]
	switch {
	case ok:
		return truth(e.have.Has(f))
	case rest == "FEATURE_DIVIDE":
		return truth(e.have.Has(isa.FeatDivT) || e.have.Has(isa.FeatDivA))
	case rest == "FPU_SOFTVFP":
		return truth(!e.have.Has(isa.FeatVFP))
	case rest == "FPU_VFP":
		return truth(e.have.Has(isa.FeatVFP))
	}
	return variable{}, false
}

// floatBits are the bits of a floating-point number of single or double
// precision, as a number.
func floatBits(text string, double bool) (int64, bool) {
	if double {
		f, err := strconv.ParseFloat(text, 64)
		return int64(math.Float64bits(f)), err == nil
	}
	f, err := strconv.ParseFloat(text, 32)
	return int64(math.Float32bits(float32(f))), err == nil
}
