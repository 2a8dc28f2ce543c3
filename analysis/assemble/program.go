package assemble

import (
	"context"
	"regexp"
	"slices"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// pass assembles a program.
type pass struct {
	layout.Layouter
	in    *Input
	err   error
	cur   program.Env
	envID int16
	sec   int16
	prev  int16 // section for .previous, -1 for none
	stack []pushed
	// conds is the stack of conditional directives.
	conds []cond
	macroState
	columnState
	frames
	funcTag    bool // .thumb_func seen: the next label is a function
	secBy      map[string]int16
	subBy      map[subKey]int16
	open       []open // by section
	litBy      map[litKey]int32
	depth      int
	again      map[string]bool // the files that have been included
	spentAgain int             // statements and lines of files included again
	n          int
	unresolved []int32    // instructions for the second pass
	earlyOps   []argument // constants that were not known in time
	dataLater  []argument // data for the second pass
	countLater []int32    // sizes for the second pass
	sizeLater  []int32    // .size
	lebLater   []int32    // numbers of variable length
	turns      int        // counts stretches that conditions leave out
	// includeLines are the lines of units that include a file; see nextInclude.
	includeLines map[*preprocess.Unit][]int
	fillLater    []int32 // alignments whose gaps are filled by units
}

// argument is one of an item's arguments.
type argument struct{ item, op int32 }

type cond struct {
	active bool // this branch is assembled
	done   bool // an earlier branch was
	last   bool // .else was seen
	outer  bool // the part around it is active
	nest   int  // depth of expansions
	item   program.Place
	from   int // offset where the present inactive stretch starts, -1
	turn   int // numbers the stretches
	// dialect is that of the line, in which messages name what closes it.
	dialect syntax.Dialect
}

// open is what is not closed yet in a section.
type open struct {
	pool
	block    isa.Block // the IT block that the text opens
	blockBy  int32     // and its IT line
	inserted inserted
}

type litKey struct {
	sec  int16
	pool int32 // counts the pools of the section
	kind program.ValKind
	sym  *program.Symbol
	v    int64
	// named is the symbol that the literal names, which .set may have made of sym.
	named  *program.Symbol
	signed bool
	// local is the number of the definition of a numeric local label, from 1; plus is
	// added to it.
	local int32
	plus  int64
}

// Run assembles a program: it walks the statements, lays out the sections and
// binds what waited. It returns ctx's error when cancelled; no other. What it finds
// is in the reporter, which further checks may use.
func Run(ctx context.Context, in *Input) (*wording.Reporter, error) {
	p := newPass(ctx, in)
	if in.Env.Preprocesses(in.Path) {
		p.processedRoot(p.preprocessed())
	} else {
		p.file(in.Path, in.File, -1)
	}
	if p.err != nil {
		return nil, p.err
	}
	for i := len(p.conds) - 1; i >= 0; i-- {
		p.Report(p.conds[i].item, finding.CodeDirective, wording.UnclosedCondition(syntax.Spelled(p.conds[i].dialect, syntax.EffEndif)))
	}
	for s := range p.Secs {
		p.flush(int16(s), -1)
	}
	p.openAtEnd()
	p.Gen++
	p.Relax()
	p.lookAhead()
	p.resolve()
	p.blocksEnd()
	if p.Ctx.Err() != nil {
		return nil, p.Ctx.Err()
	}
	p.store.told(in.Path, sizes{len(p.Items), len(p.Syms)})
	return &p.Reporter, nil
}

func newPass(ctx context.Context, in *Input) *pass {
	p := &pass{in: in, cur: in.Env}
	p.Program = &program.Program{Path: in.Path, File: in.File, Locals: map[int32][]*program.Symbol{}, Defines: in.Defines}
	p.Table, p.Layout, p.Gen, p.Ctx, p.Endless = p, &p.Layouter, 1, ctx, -1
	p.Envs = []program.Env{in.Env}
	p.secBy = map[string]int16{}
	p.litBy = map[litKey]int32{}
	p.Ops = make([]isa.Operand, 0, 16)
	if p.store = in.Made; p.store == nil {
		p.store = &Expansions{}
	}
	p.MapReg = isa.NoReg
	p.Syms = make(map[string]*program.Symbol, p.store.likely(in.Path).symbols)
	p.sec, p.prev = p.section(".text"), -1
	p.settingSymbols()
	n := max(8+in.File.NumStmts(), p.store.likely(in.Path).items)
	p.Items = make([]program.Item, 0, n)
	p.Order[p.sec] = make([]int32, 0, n)
	return p
}

// file walks one file's statements.
func (p *pass) file(path string, f *syntax.File, from int32) {
	id := int32(len(p.Sources))
	p.Sources = append(p.Sources, program.Source{Path: path, File: f, From: from})
	p.Columns = p.Columns || f.Dialect() == syntax.Columns
	p.depth++
	nconds := len(p.conds)
	p.walk(id, f)
	if p.err != nil {
		return
	}
	if p.left {
		p.left = false // .exitm leaves an included file alone
		p.closeConds()
	}
	p.depth--
	if p.depth > 0 {
		p.Ended = false // .end of an included file ends that file alone
	}
	if len(p.conds) > nconds && p.depth > 0 {
		for _, c := range p.conds[nconds:] {
			p.Report(c.item, finding.CodeDirective, wording.UnclosedInFile(syntax.Spelled(c.dialect, syntax.EffEndif)))
		}
		p.conds = p.conds[:nconds]
	}
}

// walk goes through the statements of a source.
func (p *pass) walk(id int32, f *syntax.File) { p.walkFrom(id, f, 0, 0) }

// walkFrom goes through them from a statement of a line on.
func (p *pass) walkFrom(id int32, f *syntax.File, i, k int) {
	units := p.Sources[id].Unit != nil && len(p.Sources[id].Unit.Includes) > 0
	for ; i < f.NumLines() && !p.Ended; i++ {
		if p.n++; p.n&1023 == 0 && p.Ctx.Err() != nil {
			p.err = p.Ctx.Err()
			return
		}
		l := f.Line(i)
		if units {
			p.includes(id, int32(i))
			if p.err != nil || p.Ended {
				return
			}
			if p.jump { // a body that begins in the included file ends here
				p.jump = false
				if i, k = p.toLine, p.toStmt; i >= f.NumLines() {
					return
				}
				l = f.Line(i)
			}
		}
		for ; k < len(l.Stmts); k++ {
			// A line may be the whole file.
			if p.n++; k > 0 && p.n&1023 == 0 && p.Ctx.Err() != nil {
				p.err = p.Ctx.Err()
				return
			}
			p.statement(id, int32(i), l, &l.Stmts[k])
			if p.err != nil || p.Ended || p.left {
				return
			}
			if p.jump { // over the body of a macro, for one
				p.jump = false
				if p.nest > 0 {
					p.spent += max(p.toLine-i, 0) / aPass
				}
				if i, k = p.toLine, p.toStmt-1; i >= f.NumLines() {
					return
				}
				l = f.Line(i)
			}
		}
		k = 0
		if p.nest > 0 && p.spend(id, l) {
			return
		}
	}
}

func (p *pass) section(name string) int16 {
	if i, ok := p.secBy[name]; ok {
		return i
	}
	i := int16(len(p.Secs))
	p.secBy[name] = i
	p.addSection(program.Section{Name: name, Exact: true, Align: 1, EndPool: -1, Exec: codeSection(name), Main: i})
	p.Begin()
	return i
}

// addSection puts a section into the program, with nothing open in it.
func (p *pass) addSection(s program.Section) {
	p.Secs = append(p.Secs, s)
	p.Order = append(p.Order, nil)
	p.open = append(p.open, open{})
}

// setEnv makes cur the environment of what follows.
func (p *pass) setEnv(e program.Env) {
	if e == p.cur {
		return
	}
	p.cur = e
	for i := range p.Envs {
		if p.Envs[i] == e {
			p.envID = int16(i)
			return
		}
	}
	p.envID = int16(len(p.Envs))
	p.Envs = append(p.Envs, e)
}

// active says whether the present conditional branch is assembled.
func (p *pass) active() bool {
	return len(p.conds) == 0 || p.conds[len(p.conds)-1].active
}

// push adds an item of the given size at the present place.
func (p *pass) push(file int32, line int32, s *syntax.Stmt, size int64) *program.Item {
	sec := &p.Secs[p.sec]
	if len(p.Items) == cap(p.Items) { // macros make more than there are lines
		p.Items = slices.Grow(p.Items, len(p.Items)+64)
	}
	p.Items = append(p.Items, program.Item{Stmt: s, Off: sec.Size, Size: size, Line: line, File: file, Sec: p.sec, Env: p.envID, Lit: -1, Id: int32(len(p.Items))})
	p.Order[p.sec] = append(p.Order[p.sec], int32(len(p.Items)-1))
	sec.Size += size
	return &p.Items[len(p.Items)-1]
}

// statement handles one statement in the first pass: it gives it a place and
// a size, and defines symbols.
func (p *pass) statement(file int32, line int32, l *syntax.Line, s *syntax.Stmt) {
	if s.Kind == syntax.Directive {
		switch s.Dir.Effect {
		case syntax.EffIf, syntax.EffElseif, syntax.EffElse, syntax.EffEndif:
			p.conditional(file, line, l, s)
			return
		}
	}
	if !p.active() {
		return
	}
	if p.inColumns(file) {
		if s = p.columnStatement(file, line, l, s); s == nil {
			return
		}
	} else if len(p.macroBy) > 0 && p.call(file, line, l, s) {
		return
	}
	switch s.Kind {
	case syntax.Instruction:
		p.instruction(p.push(file, line, s, 0))
	case syntax.Label:
		it := p.push(file, line, s, 0)
		if s.NoColon && p.DialectOf(it) == syntax.Dots {
			p.Report(p.NameLoc(it), finding.CodeSyntax, wording.NeedsColon(s.Name))
		}
		if s.Err != nil {
			p.syntaxError(it)
		}
		p.label(it)
	case syntax.Directive:
		it := p.push(file, line, s, 0)
		switch s.Dir.Effect {
		case syntax.EffWhile:
			p.while(it.Id, l)
		case syntax.EffMacro, syntax.EffMacroBelow, syntax.EffRept, syntax.EffExitm, syntax.EffPurgem, syntax.EffAltmacro:
			p.macroDirective(it.Id, l)
		default:
			p.directive(it, l)
		}
	case syntax.Assign:
		it := p.push(file, line, s, 0)
		if !p.syntaxError(it) {
			p.assign(it, s.Name, 0, s.NameEnd-s.Start, s.Ops, !s.Once && p.DialectOf(it) != syntax.Columns)
		}
	case syntax.Unknown:
		it := p.push(file, line, s, 0)
		switch {
		case s.Name[0] == '.':
			p.UnknownDirective(it)
		default:
			p.UnknownMnemonic(it)
		}
		if p.Lacking {
			p.inexact() // it may be a macro of the file that was not found
		}
	case syntax.Bad:
		p.syntaxError(p.push(file, line, s, 0))
	}
}

// callLike matches what looks like a macro of the preprocessor with arguments.
var callLike = regexp.MustCompile(`[A-Za-z_]\w*\(`)

// syntaxError reports what the parser could not read.
func (p *pass) syntaxError(it *program.Item) bool {
	e := it.Stmt.Err
	if e == nil {
		return false
	}
	if p.Lacking && p.Sources[it.File].Unit != nil && callLike.MatchString(p.LineText(it)) {
		p.inexact() // perhaps a macro with arguments, of the file that was not found
		return true
	}
	m := e.Message
	if m != "" {
		m = string(m[0]&^0x20) + m[1:] + "."
	}
	if e.Mild {
		p.Warn(p.Loc(it, e.Start, e.End), finding.CodeSyntax, m)
		return false
	}
	p.Report(p.Loc(it, e.Start, e.End), finding.CodeSyntax, m)
	return true
}

// instruction sizes an instruction and binds it, if all its values are known.
func (p *pass) instruction(it *program.Item) {
	s := it.Stmt
	it.Flags |= program.IsCode
	sec := &p.Secs[p.sec]
	sec.Code = true
	p.takeSlot(it)
	if p.cur.Mode == isa.A {
		it.Size = 4
		if f := s.Mnem.FormsOf(isa.A); len(f) > 0 {
			it.Size = int64(f[0].Row.Size()) // that of ADRL is 8, always
		}
		if s.Mnem.OpensBlock() {
			it.Size = 0
		}
		sec.Size += it.Size
		p.instructionA(it)
		return
	}
	noT16 := !p.cur.Have.Has(isa.FeatT16) // .arch may take it away
	if noT16 {
		p.Report(p.NameLoc(it), finding.CodeNotOnArch, noCompact(p.cur.Target))
	}
	if noT16 || s.Err != nil && !program.NameOnly(s.Mnem, &p.cur) && p.syntaxError(it) {
		it.Flags |= program.Refused
		it.Size = 2
		sec.Size += 2
		return
	}
	q := p.Query(it, &p.cur)
	if n := len(s.Ops); n == 2 && s.Ops[1].Kind == isa.OpLit {
		p.literalLoad(it)
	}
	known := p.Operands(it, false)
	if q.Have.Has(isa.FeatT32) && p.Misplaced(it, &q) {
		it.Flags |= program.Refused
		it.Size = p.sizeElsewhere(it, q)
		sec.Size += it.Size
		return
	}
	m, ok := s.Mnem.Match(&q, p.Ops)
	switch {
	case ok:
		it.Match = m
		p.early(it, &m, &q)
		it.Size = int64(m.Form.Row.Size())
		if !known || m.Deferred || m.Odd {
			it.Flags |= program.Waits
		}
		if it.Flags&program.Waits != 0 || p.cur.Full() {
			p.Grow(it, &q, known)
		}
		p.openBlock(it)
		p.leaveInserted(it)
		if q.IT.In && !q.IT.Last && m.Effects().Writes.Has(isa.PC) && (m.Effects().Flow == isa.FlowNext || m.Form.Row.Last == isa.LastNever) {
			p.Warn(p.NameLoc(it), finding.CodeITBlock, wording.LoadsPCInBlock(s.Name))
		}
	case p.NotLast(it, &q):
		it.Flags |= program.Refused
		it.Size = p.sizeElsewhere(it, q)
	case program.NameOnly(s.Mnem, &p.cur):
		it.Flags |= program.Unchecked
		it.Size = p.guess(it)
	case !known:
		it.Flags |= program.Waits
		it.Size = p.guess(it)
	default:
		it.Size = p.guess(it)
		if p.targets() {
			// Whether an address is out of reach may hang on .global below.
			it.Flags |= program.Waits
			break
		}
		// Say it now: .set may give another value to a name below.
		it.Flags |= program.Refused
		p.Refuse(it, &q)
	}
	sec.Size += it.Size
	if it.Flags&program.Waits != 0 {
		p.unresolved = append(p.unresolved, it.Id)
	}
}

// targets says whether some operand is an address.
func (p *pass) targets() bool {
	for i := range p.Ops {
		if k := p.Ops[i].Kind; k == isa.OpExpr || k == isa.OpLit {
			return true
		}
	}
	return false
}

// guess is the size of an instruction that is not bound: that of its forms
// if they agree, else a halfword.
func (p *pass) guess(it *program.Item) int64 {
	s := it.Stmt
	if program.NameOnly(s.Mnem, &p.cur) {
		if s.Width == 'n' {
			return 2
		}
		return 4
	}
	if f := s.Mnem.Forms; len(f) > 0 {
		return int64(f[0].Row.Size())
	}
	return 2
}

// noCompact says that a target has no T16 code.
func noCompact(target string) string {
	return wording.NoThumb(target)
}

// instructionA binds an A32 line. What the table does not describe is taken as
// it is.
func (p *pass) instructionA(it *program.Item) {
	if !p.cur.Have.Has(isa.FeatA32) {
		p.Report(p.NameLoc(it), finding.CodeNotOnArch, wording.ThumbOnly(p.cur.Target, p.Spelled(it, syntax.EffThumb)))
		it.Flags |= program.Refused
		return
	}
	if ops := it.Stmt.Ops; len(ops) == 2 && ops[1].Kind == isa.OpLit && (it.Stmt.Err == nil || it.Stmt.Err.Mild) {
		p.literalLoad(it)
	}
	if p.blockA(it) {
		return
	}
	s := it.Stmt
	q := p.Query(it, &p.cur)
	checked := s.Mnem.Checked(&q)
	if len(s.Mnem.FormsOf(isa.A)) == 0 {
		if s.Mnem.OpensBlock() {
			// For the assembler alone: conditions stand in the names.
			p.widthA(it)
			p.Secs[p.sec].Size -= it.Size
			it.Size = 0
			return
		}
		if !isa.A32Name(s.Mnem.Name) {
			p.Report(p.NameLoc(it), finding.CodeNoForm, wording.NotInA32(s.Name))
			it.Flags |= program.Refused
		} else {
			p.widthA(it)
		}
		return
	}
	if s.Err != nil && (!checked || p.syntaxError(it)) {
		if checked {
			it.Flags |= program.Refused
		}
		return
	}
	known := p.Operands(it, false)
	m, ok := s.Mnem.Match(&q, p.Ops)
	switch {
	case ok:
		it.Match = m
		p.early(it, &m, &q)
		if !known || m.Deferred {
			it.Flags |= program.Waits
		}
	case !checked:
		p.widthA(it)
	case !known || p.targets():
		it.Flags |= program.Waits
	default:
		it.Flags |= program.Refused
		p.Refuse(it, &q)
	}
	if it.Flags&program.Waits != 0 {
		p.unresolved = append(p.unresolved, it.Id)
	}
}

// widthA refuses .w and .n where no form does.
func (p *pass) widthA(it *program.Item) {
	if it.Stmt.Width != 0 {
		p.Report(p.NameLoc(it), finding.CodeNoForm, wording.WidthInA32(it.Stmt.Name))
		it.Flags |= program.Refused
	}
}

// resolve is the second pass: all symbols have their final values now.
func (p *pass) resolve() {
	p.resolveSymbols()
	for _, i := range p.unresolved {
		it := &p.Items[i]
		e := &p.Envs[it.Env]
		q := p.Query(it, e)
		if it.Flags&program.Wide != 0 && q.Width == 0 {
			q.Width = 'w'
		}
		p.cur, p.envID = *e, it.Env
		p.Operands(it, true)
		m, ok := it.Stmt.Mnem.Match(&q, p.Ops)
		if ok {
			it.Match = m
			if p.linked(it, e); it.Flags&program.Wide != 0 {
				p.GrownAdd(it)
			}
			continue
		}
		if p.skipsNothing(it, &q) || p.baselineBranch(it, &q) {
			continue
		}
		if !it.Stmt.Mnem.Checked(&q) && e.Mode == isa.A {
			it.Match.Form = nil
			continue
		}
		it.Match.Form = nil
		it.Flags |= program.Refused
		p.Refuse(it, &q)
	}
	p.resolveEarly()
	p.resolveData()
	for i := range p.Items {
		it := &p.Items[i]
		if it.Match.Form == nil {
			continue
		}
		if row := it.Match.Form.Row; len(row.Cautions) > 0 {
			p.Cautions(it)
		} else if row.IT == isa.ITFree && row.State == isa.T {
			p.Unconditional(it)
		}
	}
}
