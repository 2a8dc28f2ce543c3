package assemble

import (
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// nameFirst looks at a directive after the name that it is about, and says
// whether something is wrong with it.
func (p *pass) nameFirst(it *program.Item, l *syntax.Line) bool {
	s, d := it.Stmt, it.Stmt.Directive
	if n := s.Start + int32(len(s.Name)); n < s.NameEnd && p.DialectOf(it) != syntax.Columns {
		p.Warn(p.Loc(it, n, s.NameEnd), finding.CodeSyntax, wording.NoBlank())
	}
	rest := syntax.WithoutComments(s.Rest(l))
	if strings.HasPrefix(rest, ".") && !strings.HasPrefix(rest, d.Name) {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.LowerCase(d.Name))
		return true
	}
	if d.Effect != syntax.EffReq {
		return false
	}
	if len(rest) > len(d.Name) {
		if c := strings.TrimSpace(rest[len(d.Name):])[0]; c < 0x80 && !isName(c) && !strings.ContainsRune(`'[]{}\`, rune(c)) {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NothingBeforeRegister())
			return true
		}
	}
	if s.Err != nil && !strings.HasPrefix(s.Name, ".") && len(s.Ops) > 0 {
		p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.NoRegisterIgnored())
		return true
	}
	return false
}

// directive handles one directive in the first pass.
func (p *pass) directive(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	if d.NameFirst && p.nameFirst(it, l) {
		return
	}
	if d.Args != syntax.ArgsText && d.Args != syntax.ArgsRaw && p.syntaxError(it) {
		return
	}
	if len(s.Ops) > 0 && d.Args == syntax.ArgsNone || len(s.Ops) > 1 && d.Effect == syntax.EffCode {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TooMany(d.Usage))
		if d.Effect != syntax.EffPop && d.Effect != syntax.EffPrevious { // which assemblers do all the same
			return
		}
	}
	if d.Effect >= syntax.EffArea {
		p.columnDirective(it, l)
		return
	}
	p.effect(it, l)
}

// effect does what the directive is there for.
func (p *pass) effect(it *program.Item, l *syntax.Line) {
	s := it.Stmt
	switch s.Directive.Effect {
	case syntax.EffData:
		p.dataDirective(it, l)
	case syntax.EffFloat:
		p.grow(it, p.floats(it, l))
	case syntax.EffFillOf:
		p.grow(it, p.fillOf(it, l))
	case syntax.EffWide:
		p.grow(it, p.wideStrings(it))
	case syntax.EffString:
		p.strings(it, l)
	case syntax.EffSpace:
		p.space(it)
	case syntax.EffFill:
		p.fill(it)
	case syntax.EffLEB:
		p.leb(it)
	case syntax.EffInst:
		p.inst(it)
	case syntax.EffNop:
		p.nop(it)
	case syntax.EffCheck:
		p.checkArguments(it, l)
	case syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffEven:
		p.align(it)
	case syntax.EffAlignFrom:
		p.columnAlign(it)
	case syntax.EffOrg:
		p.orgDirective(it)
	case syntax.EffPool:
		p.flush(p.currentSection, it.Index)
	case syntax.EffSection, syntax.EffPush, syntax.EffPop, syntax.EffPrevious, syntax.EffSubsection, syntax.EffStruct:
		p.sectionDirective(it, l)
	case syntax.EffSet, syntax.EffThumbSet:
		p.set(it)
	case syntax.EffExtern:
		p.extern(it, l)
	case syntax.EffGlobal, syntax.EffExport, syntax.EffImport:
		p.global(it)
	case syntax.EffComm:
		p.common(it, l)
	case syntax.EffCommon:
		p.columnCommon(it)
	case syntax.EffType:
		p.symType(it, l)
	case syntax.EffSize:
		p.size(it)
	case syntax.EffThumbFunc:
		p.thumbFunc(it)
	case syntax.EffThumb, syntax.EffArm, syntax.EffCode:
		p.modeSwitch(it)
	case syntax.EffSyntax:
		p.syntaxDirective(it)
	case syntax.EffCPU, syntax.EffArch, syntax.EffFPU, syntax.EffArchExt:
		p.targetDirective(it, l)
	case syntax.EffReq:
		p.req(it)
	case syntax.EffTyped:
		p.typedDirective(it, l)
	case syntax.EffUnreq:
		p.unreqDirective(it)
	case syntax.EffInclude:
		p.include(it)
	case syntax.EffIncbin:
		p.incbin(it, l)
	case syntax.EffEndm, syntax.EffEndr:
		p.nothingToClose(it, l)
	case syntax.EffEnd:
		p.Ended = true
	case syntax.EffError:
		p.stopped(it, l)
	}
}

// grow gives the item a size in the section.
func (p *pass) grow(it *program.Item, n int64) {
	if n < 0 || n > layout.Most {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TooManyBytes(n, 1))
		return
	}
	it.Size = n
	p.Sections[p.currentSection].Size += n
}

// nop handles .nop: an instruction that does nothing.
func (p *pass) nop(it *program.Item) {
	it.Flags |= program.IsCode
	p.Sections[p.currentSection].Code = true
	if p.Sections[p.currentSection].Record {
		return
	}
	if p.current.Mode == isa.T {
		p.grow(it, 2)
	} else {
		p.grow(it, 4)
	}
}

// orgDirective handles .org with its arguments.
func (p *pass) orgDirective(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	if len(s.Ops) > 2 {
		p.more(it, 2)
	} else if len(s.Ops) > 0 && s.Ops[0].Kind != isa.OpNone {
		p.org(it, &s.Ops[0])
		p.count(it, 1, true, 0)
	} else {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsOffset(d.Name))
	}
}

// thumbFunc handles .thumb_func: the next label is a function.
func (p *pass) thumbFunc(it *program.Item) {
	p.funcTag = true
	p.saidMode(it)
	if e := p.current; e.Mode == isa.A {
		e.Mode = isa.T // so assemblers have it, whatever the target is
		p.setEnv(e)
	} else if e.Assumed {
		e.Assumed = false
		p.setEnv(e)
	}
}

// syntaxDirective handles .syntax.
func (p *pass) syntaxDirective(it *program.Item) {
	s := it.Stmt
	e := p.current
	switch {
	case len(s.Ops) == 1 && strings.EqualFold(s.Ops[0].Word, "unified"):
		e.Unified = true
	case len(s.Ops) == 1 && strings.EqualFold(s.Ops[0].Word, "divided"):
		e.Unified = false
	default:
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.UnifiedOrDivided())
	}
	p.setEnv(e)
}

// typedDirective handles .dn and .qn.
func (p *pass) typedDirective(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	if !strings.ContainsAny(strings.TrimSpace(s.Rest(l)), " \t") {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NameThenRegister(d.Usage))
		return
	}
	if p.namesRegister(it) {
		p.typedAlias(it, l)
	}
}

// unreqDirective handles .unreq.
func (p *pass) unreqDirective(it *program.Item) {
	s := it.Stmt
	w := ""
	if len(s.Ops) == 1 {
		w = s.Ops[0].Word
	}
	if _, ok := p.Registers[w]; !ok && (len(s.Ops) != 1 || s.Ops[0].Kind != isa.OpReg) {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NoRegisterName(p.Spelled(it, syntax.EffReq)))
		return
	}
	p.unreq(it, w)
}

// nothingToClose reports the end of a macro or repetition that never began.
func (p *pass) nothingToClose(it *program.Item, l *syntax.Line) {
	s, d := it.Stmt, it.Stmt.Directive
	if s.Rest(l) != "" {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.TakesNothingClosesNothing(d.Name))
		return
	}
	p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.ClosesNothing(d.Name))
}

// moved notes that the item is in another section than it was put in.
func (p *pass) moved(it *program.Item) {
	if it.Section == p.currentSection {
		return
	}
	o := p.Order[it.Section]
	p.Order[it.Section] = o[:len(o)-1]
	it.Section, it.Offset = p.currentSection, p.Sections[p.currentSection].Size
	p.Order[p.currentSection] = append(p.Order[p.currentSection], it.Index)
}

// codeSection says whether a section is one for code, judged only by its name (System V
// ABI, "Special Sections").
func codeSection(name string) bool {
	return name == ".text" || strings.HasPrefix(name, ".text.") || name == ".init" || name == ".fini"
}

func (p *pass) commaAfter(l *syntax.Line, o *syntax.Operand) bool {
	rest := strings.TrimLeft(l.Text[o.End:], " \t")
	if strings.HasPrefix(rest, "/*") {
		rest = syntax.WithoutComments(rest)
	}
	return strings.HasPrefix(rest, ",")
}

// count evaluates argument i, which has to be a number now.
func (p *pass) count(it *program.Item, i int, optional bool, def int64) (int64, bool) {
	if i >= len(it.Stmt.Ops) || it.Stmt.Ops[i].Kind == isa.OpNone {
		if !optional {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsNumber(it.Stmt.Directive.Name))
		}
		return def, optional
	}
	o := &it.Stmt.Ops[i]
	v := p.Value(o, it)
	space := i == 0 && (it.Stmt.Directive.Effect == syntax.EffSpace || it.Stmt.Directive.Effect == syntax.EffFill)
	if v.Late && space && !p.Settled() {
		p.countLater = append(p.countLater, it.Index)
		return def, false
	}
	if v.Kind == program.Number {
		return v.N, true
	}
	if v.Kind == program.Unknown {
		p.Sections[p.currentSection].Exact = false
		if v.Apart {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NeedsDistanceNow(it.Stmt.Directive.Name))
		}
		return def, false
	}
	if v.Kind == program.Undefined && !p.Settled() && space {
		// Assemblers wait for a distance between labels below; so do we.
		p.countLater = append(p.countLater, it.Index)
		return def, false
	}
	p.Sections[p.currentSection].Exact = false
	if v.Kind == program.Undefined && v.Symbol != nil {
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NeedsValueOf(it.Stmt.Directive.Name, v.Symbol.Name))
	} else {
		p.BadValue(it, o, v)
	}
	return def, false
}

// waitSpace notes a space whose size, in units, waits for the layout.
func (p *pass) waitSpace(it *program.Item, unit int64) {
	if n := len(p.countLater); n > 0 && p.countLater[n-1] == it.Index {
		p.BreakAt(it)
		p.AddSpace(it, unit)
	}
}

func (p *pass) align(it *program.Item) {
	s, d := it.Stmt, it.Stmt.Directive
	n := int64(2)
	effect := d.Effect
	if effect == syntax.EffAlignPow && p.current.AlignBytes && d.Name == ".align" {
		effect = syntax.EffAlignByte
	}
	switch effect {
	case syntax.EffEven:
	case syntax.EffAlignByte:
		if len(s.Ops) == 0 {
			return
		}
		v, ok := p.count(it, 0, true, 0)
		if !ok {
			return
		}
		if v < 0 || v&(v-1) != 0 || v > 1<<31 {
			p.Report(p.Loc(it, s.Ops[0].Start, s.Ops[0].End), finding.CodeDirective, wording.TakesPower(d.Name, v))
			return
		}
		n = max(v, 1)
	default:
		v := int64(2)
		if len(s.Ops) > 0 && s.Ops[0].Kind != isa.OpNone {
			w, ok := p.count(it, 0, true, 0)
			if !ok {
				return
			}
			v = w
			if v == 0 && d.Name == ".align" {
				v = 2 // .align 0 means a word, as assemblers for this core have it
			}
		} else if d.Name != ".align" {
			v = 0
		}
		if v < 0 || v > 31 {
			p.Warn(p.Loc(it, s.Ops[0].Start, s.Ops[0].End), finding.CodeDirective, wording.PowerOf31(d.Name, v))
			v = 31
		}
		n = 1 << v
	}
	sec := &p.Sections[p.currentSection]
	if len(s.Ops) > 3 {
		p.more(it, 3)
		return
	}
	if len(s.Ops) > 1 && s.Ops[1].Kind != isa.OpNone {
		if _, ok := p.count(it, 1, true, 0); ok && fillUnit(d.Name) > 1 {
			p.fillLater = append(p.fillLater, it.Index)
		}
	}
	pad, limit := -sec.Size&(n-1), int64(0)
	if len(s.Ops) > 2 {
		if lim, ok := p.count(it, 2, true, 0); ok && lim > 0 {
			limit = lim
		}
	}
	if limit > 0 && pad > limit {
		pad = 0
	}
	sec.Align = max(sec.Align, n)
	p.AlignAt(p.currentSection, it.Index, sec.Size, pad, n, limit, 0)
	p.grow(it, pad)
}

// org moves the location counter.
func (p *pass) org(it *program.Item, o *syntax.Operand) {
	v := p.Value(o, it)
	sec := &p.Sections[p.currentSection]
	if sec.Record {
		if v.Kind != program.Number {
			p.BadValue(it, o, v)
			return
		}
		sec.Size = v.N
		return
	}
	if v.Kind == program.Undefined {
		p.LookBack(it, o)
		// Assemblers wait for what is below.
		p.BreakAt(it)
		p.AddPoint(it, layout.PointOrg, eval.OpIndex(it, o))
		return
	}
	switch {
	case v.Kind == program.Number, v.Kind == program.Address && p.Sections[v.Section].Main == sec.Main:
		if sec.Subsection != 0 || p.MayMove(p.currentSection) || p.current.Have&(isa.FeatT32|isa.FeatMovW) != 0 {
			p.BreakAt(it)
			p.AddPoint(it, layout.PointOrg, eval.OpIndex(it, o)) // takes no room at first
			return
		} else if v.N < sec.Size && sec.Exact {
			p.OrgBack(it, o, sec.Size, v.N)
			return
		}
		it.Size = max(v.N-sec.Size, 0)
		sec.Size += it.Size
		p.BreakAt(it)
	case v.Kind == program.Unknown:
		sec.Exact = false
	default:
		sec.Exact = false
		p.BadValue(it, o, v)
	}
}

// saidMode notes the first directive that says the instruction set.
func (p *pass) saidMode(it *program.Item) {
	if p.ModeSaid < 0 {
		p.ModeSaid = it.Index
	}
}

func (p *pass) modeSwitch(it *program.Item) {
	s := it.Stmt
	to := isa.T
	switch s.Directive.Effect {
	case syntax.EffArm:
		to = isa.A
	case syntax.EffCode:
		v, ok := p.count(it, 0, false, 0)
		if !ok {
			return
		}
		if v != 16 && v != 32 {
			p.Report(p.Loc(it, s.Ops[0].Start, s.Ops[0].End), finding.CodeDirective, wording.CodeWidth(v))
			return
		}
		if v == 32 {
			to = isa.A
		}
	}
	e := p.current
	e.Assumed = false
	switch { // what is in force already may be named again
	case to == e.Mode && to == p.current.Mode:
	case to == isa.A && !e.Have.Has(isa.FeatA32):
		p.Emit(p.StmtLoc(it), finding.Diagnostic{Code: finding.CodeNotOnArch, Message: wording.ThumbOnlyTarget(e.Target), Cause: finding.CauseThumb})
	case to == isa.T && !e.Have.Has(isa.FeatT16):
		p.Report(p.StmtLoc(it), finding.CodeNotOnArch, noCompact(e.Target))
	}
	if e.Mode == isa.T && to == isa.A {
		// The assembler aligns to a word here by itself.
		s := &p.Sections[p.currentSection]
		pad := -s.Size & 3
		p.AlignAt(p.currentSection, it.Index, s.Size, pad, 4, 0, 0)
		p.grow(it, pad)
		p.Sections[p.currentSection].Align = max(p.Sections[p.currentSection].Align, 4)
	}
	e.Mode = to
	p.saidMode(it)
	if d := s.Directive; d.Spelling != syntax.SpellingKept {
		e.Unified = d.Spelling == syntax.SpellingUnified
	}
	p.setEnv(e)
}

// targetDirective reads .arch, .cpu, .fpu and .arch_extension. Their names are
// in lower case, and none has an extension after '+', which only the command
// line takes.
func (p *pass) targetDirective(it *program.Item, l *syntax.Line) {
	s := it.Stmt
	name := s.Rest(l)
	e := p.current
	choose, all := e.Selection.SelectArch, isa.ArchNames
	switch s.Directive.Effect {
	case syntax.EffCPU:
		choose, all = e.Selection.SelectCPU, isa.CPUNames
	case syntax.EffFPU:
		choose, all = e.Selection.SelectFPU, isa.FPUNames
	case syntax.EffArchExt:
		choose, all = e.Selection.Extend, e.Selection.Extensions
	}
	m := ""
	base, _, plus := strings.Cut(name, "+")
	switch {
	case name == "":
		m = wording.NeedsName(s.Name)
	case name == "all" || !choose(name):
		switch {
		case s.Directive.Effect == syntax.EffArchExt && isa.KnowsExtension(name):
			m = wording.LacksExtension(p.TargetName(it), name)
		case plus && (s.Directive.Effect == syntax.EffArch || s.Directive.Effect == syntax.EffCPU) && choose(base):
			m = wording.ExtensionsApart(s.Name)
		default:
			m = wording.NoTarget(s.Directive.Effect, name, p.nearTargets(name, all))
		}
	}
	if m != "" {
		p.Report(p.StmtLoc(it), finding.CodeDirective, m)
		return
	}
	switch s.Directive.Effect {
	case syntax.EffArch, syntax.EffCPU:
		e.Target, e.Chosen, e.Said = name, true, true
	}
	e.Have = e.Selection.Have()
	if e.Assumed && e.Have.Has(isa.FeatA32) {
		e.Mode, e.Assumed = isa.A, false
	}
	p.setEnv(e)
}

// coprocessorWord are the registers beside those of the core and of vectors that
// .req gives other names to.
var coprocessorWord = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`(?i)^(p|c|cr|wr)(\d|1[0-5])$|^(f[0-7]|acc0|fpsid|fpscr|fpexc|fpinst2?|mvfr[0-2])$`)
})

// beyondRegisters matches the names of core registers that there are not.
var beyondRegisters = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[rR](?:1[6-9]|[2-9]\d)$`) })

// req handles .req and RN.
func (p *pass) req(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) == 0 {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsRegister(s.Directive.Name))
		return
	}
	if len(s.Ops) > 1 {
		p.Warn(p.StmtLoc(it), finding.CodeDirective, wording.NoRegisterIgnored())
		return
	}
	if m, _ := isa.Find(lower(s.Name)); m != nil {
		p.Report(p.NameLoc(it), finding.CodeDirective, wording.InstructionName(s.Name))
		return
	}
	if !p.namesRegister(it) {
		return
	}
	o := &s.Ops[0]
	r := o.Reg
	if o.Kind != isa.OpReg {
		var ok bool
		if r, ok = p.Alias(o.Word); !ok {
			// A register of floating point, or of a coprocessor.
			switch {
			case p.vectorAlias(it, o.Word):
			case coprocessorWord().MatchString(o.Word):
				p.named(s.Name, func(r *program.Register) { r.Word = lower(o.Word) })
			case beyondRegisters().MatchString(o.Word):
				p.Warn(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.NoSuchRegister(o.Word, s.Directive.Name))
			}
			return
		}
	}
	once := !s.Directive.Lenient // what a second RN does is not known
	if before, ok := p.reqAgain(s.Name); ok && once {
		if before != r {
			p.Warn(p.NameLoc(it), finding.CodeDuplicate, wording.NamedTwice(s.Name, before))
		}
		return
	}
	p.named(s.Name, func(x *program.Register) {
		if x.Core == isa.NoReg || !once {
			x.Core = r
		}
	})
	y := p.Symbol(s.Name)
	if !y.Defined {
		y.Kind, y.Item, y.Columns = program.SymRegister, it.Index, nameColumns(it)
	}
}

func (p *pass) include(it *program.Item) {
	s := it.Stmt
	if len(s.Ops) != 1 || !s.Ops[0].IsStr {
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NeedsOneFile(it.Stmt.Directive.Name))
		return
	}
	name := s.Ops[0].Names.Str
	at := p.Loc(it, s.Ops[0].Start, s.Ops[0].End)
	it.Flags |= program.Opaque // until it is read
	if p.depth > 50 {
		p.Report(at, finding.CodeInclude, wording.IncludesTooDeep())
		return
	}
	from := p.Sources[it.File].Path
	path, f, ok := p.load(Wanted{From: from, Name: name})
	if !ok {
		p.missing(at, Wanted{From: from, Name: name})
		p.Lacking = true
		return
	}
	for up := it.File; ; {
		if p.Sources[up].Path == path {
			p.Report(at, finding.CodeInclude, wording.IncludesItself(name))
			return
		}
		if p.Sources[up].From < 0 {
			break
		}
		up = p.Items[p.Sources[up].From].File
	}
	if !p.affords(path, f, at) {
		return
	}
	it.Flags &^= program.Opaque
	p.constantsFile(path, f.As(p.DialectOf(it)), nil, it.Index)
}

// data notes data whose values wait for symbols; they are looked at when all
// symbols are known.
func (p *pass) data(it *program.Item) {
	if d := it.Stmt.Directive; d.Unit == 8 && !d.Lenient {
		p.doublewords(it)
		return
	}
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Known {
			p.dataRange(it, o, o.Imm)
		} else if o.Kind != isa.OpNone && !p.constant(it, o) {
			p.dataLater = append(p.dataLater, argument{it.Index, int32(i)})
		}
	}
}

// constant says whether an argument has its value now, and checks it: a loop
// may give the names in it others later, and what waits has to fit.
func (p *pass) constant(it *program.Item, o *syntax.Operand) bool {
	v := p.Value(o, it)
	if v.Kind == program.Big {
		if unit := p.Unit(it); v.N > int64(unit)*8 {
			p.Warn(p.Loc(it, o.Start, o.End), finding.CodeDataRange, wording.KeepsLow(v.N, it.Stmt.Directive.Name, unit*8))
		}
		return true
	}
	if v.Firm {
		p.BadValue(it, o, v)
		return true
	}
	if v.Kind != program.Number || v.Late {
		return false
	}
	p.dataRange(it, o, v.N)
	return true
}

func (p *pass) dataRange(it *program.Item, o *syntax.Operand, v int64) {
	unit := p.Unit(it)
	if unit >= 8 {
		return
	}
	lo, hi := program.DataRange(unit)
	if v < -hi || v > hi {
		p.Warn(p.Loc(it, o.Start, o.End), finding.CodeDataRange, wording.CutTo(it.Stmt.Directive.Name, lo, hi, wording.Num(v), unit*8))
	}
}

// resolveData looks at the data and sizes that waited.
func (p *pass) resolveData() {
	for _, i := range p.countLater {
		if p.Cancelled(1) {
			return
		}
		it := &p.Items[i]
		p.currentSection = it.Section
		switch v := p.Value(&it.Stmt.Ops[0], it); {
		case v.Kind != program.Unknown:
			p.count(it, 0, true, 0)
		case v.Apart:
			p.Report(p.Loc(it, it.Stmt.Ops[0].Start, it.Stmt.Ops[0].End), finding.CodeUndefined, wording.NeedsDistanceNow(it.Stmt.Directive.Name))
		}
	}
	var last map[string]int32 // .size of a symbol: what a later one says holds
	for _, i := range p.sizeLater {
		if p.Cancelled(1) {
			return
		}
		it := &p.Items[i]
		p.currentSection = it.Section
		o := &it.Stmt.Ops[1]
		if v := p.Value(o, it); v.Kind == program.Address || v.Kind == program.Undefined && !(v.Num != 0 && v.Back) || v.Kind == program.Unknown && v.Apart || v.Kind == program.Bad && !v.Mild {
			if last == nil {
				last = map[string]int32{}
				for _, k := range p.sizeLater {
					last[p.Items[k].Stmt.Ops[0].Word] = k
				}
			}
			if last[it.Stmt.Ops[0].Word] != i {
				continue
			}
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.SizeNotNumber(v))
		}
	}
	for _, i := range p.lebLater {
		if p.Cancelled(1) {
			return
		}
		it := &p.Items[i]
		p.currentSection = it.Section
		for k := range it.Stmt.Ops {
			o := &it.Stmt.Ops[k]
			if v := p.Value(o, it); o.Kind != isa.OpNone && (v.Kind == program.Undefined || v.Kind == program.Address) {
				p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NotANumber(it.Stmt.Directive.Name))
			}
		}
	}
	for _, i := range p.fillLater {
		if p.Cancelled(1) {
			return
		}
		it := &p.Items[i]
		if u := int64(fillUnit(it.Stmt.Directive.Name)); it.Size%u != 0 && p.Sections[it.Section].Exact {
			p.Report(p.StmtLoc(it), finding.CodeDirective, wording.FillUnits(it.Stmt.Directive.Name, u, it.Size))
		}
	}
	p.resolvePlaced()
	for _, w := range p.dataLater {
		if p.Cancelled(1) {
			return
		}
		p.resolveArgument(&p.Items[w.item], int(w.op))
	}
}

// resolveArgument looks at an argument of data that waited.
func (p *pass) resolveArgument(it *program.Item, op int) {
	o := &it.Stmt.Ops[op]
	if o.IsStr || !p.dataReloc(it, o) {
		return
	}
	v := p.Value(o, it)
	switch v.Kind {
	case program.Number:
		if unit := p.Unit(it); unit < 4 && (v.N <= -(1<<(unit*8)) || v.N >= 1<<(unit*8)) {
			lo, hi := program.DataRange(unit)
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDataRange, wording.DoesNotFit(it.Stmt.Directive.Name, lo, hi, wording.Num(v.N)))
		}
		return
	}
	if it.Stmt.Directive.Unit == 8 && v.Kind != program.Bad {
		p.Report(p.Loc(it, o.Start, o.End), finding.CodeUndefined, wording.NoAddress64())
		return
	}
	if unit := p.Unit(it); unit < 4 && (v.Kind == program.Address || v.Kind == program.Undefined && !v.Mixed && v.Num == 0) {
		// The object file keeps what is added in the place itself.
		n := v.N
		if v.Kind == program.Address && v.Symbol != nil && v.Symbol.Global {
			n -= v.Symbol.Value.N
		}
		n = int64(int32(n))
		if n <= -(1<<(unit*8)) || n >= 1<<(unit*8) {
			p.Report(p.Loc(it, o.Start, o.End), finding.CodeDataRange, wording.NoRoomFor(it.Stmt.Directive.Name, wording.Num(n)))
			return
		}
	}
	switch v.Kind {
	case program.Undefined:
		p.External(it, o, v)
	case program.Bad:
		p.BadValue(it, o, v)
	}
}
