package analysis

import (
	"context"
	"regexp"
	"slices"
	"strings"

	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// item is one statement in the order of assembly, with the place that the
// layout gives it.
type item struct {
	stmt  *syntax.Stmt
	match isa.Match // the encoding that fits; else Form is nil
	off   int64     // offset in its section, in bytes
	size  int64     // bytes
	id    int32     // its index
	line  int32     // line in its file, from 0
	file  int32
	lit   int32 // the literal's index, -1 without one
	sec   int16
	env   int16 // index of the environment in force
	slot  slot  // its place in an IT block
	flags itemFlags
}

type itemFlags uint16

const (
	fCode      itemFlags = 1 << iota // an instruction
	fDefer                           // waits for symbols: look again when all are known
	fRefused                         // an instruction that cannot exist; reported
	fUnchecked                       // no row describes the name: taken as it is
	fPool                            // a literal pool is placed here
	fCall                            // calls a macro: the items behind come from it
	fOpaque                          // an expansion or a file that is not, or not wholly, there
	fWide                            // has grown to full width
	fWritten                         // its statement has the columns of the written line: see asWritten
)

// source is one text that takes part: a file, or what a macro or repetition
// makes.
type source struct {
	path string // of the file; for an expansion, where it was asked for
	file *syntax.File
	from int32            // item of the .include or call, -1 for the root
	exp  *expansion       // nil for a file
	unit *preprocess.Unit // a file that went through the preprocessor, else nil
}

// section is a named part of the object file.
type section struct {
	name  string
	size  int64
	exact bool // offsets are right; false behind something of unknown size
	code  bool // holds instructions
	exec  bool // is one for code, by its name or flags
	pool  []int32
	align int64     // largest alignment asked for, in bytes
	gen   int32     // counts the pools placed so far
	it    isa.Block // what is open of an IT block
	itBy  int32     // and its IT line
	// inserted is the IT block that the assembler makes; see implicit.go.
	inserted inserted
	// doubles: the pool has literals of eight bytes; padded: with a gap before
	// one of them.
	doubles, padded bool
	// endPool is where the pool at the section's end starts, -1 without one.
	endPool int64
	// breaks are the items that may grow, or pad; points those that are to be
	// laid out again. See relax.go.
	breaks []int32
	laid   bool // has been laid out at least once
	points []point
	odd    bool // a point may grow by an odd number of bytes
	// main is the section that this is a subsection of, or itself; sub its
	// number, and subs the main section's others. See sections.go.
	// before is the one in front of a subsection, once the layout begins.
	main   int16
	sub    int64
	subs   []int16
	before int16
	decl   sectionDecl
	// record: no section, but the offsets of .struct.
	record bool
	// place has the positions of items in the section's order where it is not
	// that of their numbers.
	place map[int32]int
}

// literal is one word of a literal pool.
type literal struct {
	val   value
	sec   int16
	off   int64 // its place, once the pool is placed
	users int
	item  int32 // the item where the pool stands, -1 for the end of the section
	by    int32 // the item that asked first
	// padding: no literal, but a gap before one of eight bytes.
	padding bool
}

// Program is an assembled program: plain data, which nothing writes to after
// assembly.
type Program struct {
	path    string       // of the root file
	file    *syntax.File // its parsed text, as written
	sources []source
	items   []item
	envs    []env
	secs    []section
	syms    map[string]*symbol
	slabs   [][]symbol          // all that syms has
	taken   []taken             // has the others
	locals  map[int32][]*symbol // numeric local labels by number, in order
	macros  []*macro            // all definitions, in order
	lits    []literal
	columns bool // some source is in the column dialect
	registerNames
	columnNames
	// scopes are those of the column dialect's local labels, in order, by section.
	scopes   map[int16][]*scope
	order    [][]int32 // items of each section, in order of offset
	inactive []inactive
	// scoped are the numeric local labels of the column dialect.
	scoped  map[localScope][]*symbol
	defines []string // what the settings define for the preprocessor
	// ahead has the items of instructions that labels name, by section and place
	// in its order; -1 where there is none.
	ahead [][]int32
}

type inactive struct {
	file int32
	span Span
}

// reporter makes findings of what goes wrong, in words.
type reporter struct {
	evaluator
	diags   []Diagnostic
	lacking bool // a file was not found: names may come from it
	missed  bool // a file that is included is not there
	ended   bool
	told    map[toldKey]bool
}

// layouter lays out the sections.
type layouter struct {
	reporter
	ctx     context.Context
	endless int32 // the item with which the layout does not end, or -1
}

// pass assembles a program.
type pass struct {
	layouter
	in    *assemblyInput
	err   error
	cur   env
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
	item   place
	from   int // offset where the present inactive stretch starts, -1
	turn   int // numbers the stretches
}

type litKey struct {
	sec  int16
	gen  int32
	kind valKind
	sym  *symbol
	v    int64
	// named is the symbol that the literal names, which .set may have made of sym.
	named  *symbol
	signed bool
	// local is the number of the definition of a numeric local label, from 1; plus is
	// added to it.
	local int32
	plus  int64
}

// assemblyInput is all that the assembly of a program depends on.
type assemblyInput struct {
	Path string       // of the root file
	File *syntax.File // its parsed text
	// Env is the environment in front of the first line.
	Env env
	// Symbols, Defines and Prelude are what the settings of these names say.
	Symbols, Defines, Prelude []string
	Load                      Loader // nil: every include is missing
	Size                      func(w Wanted) (bytes int64, ok bool)
	Why                       func(w Wanted) string
	Made                      *Expansions // nil: nothing is kept
}

// assemble assembles a program: it walks the statements, lays out the sections and
// binds what waited. It returns ctx's error when cancelled; no other. What it finds
// is in the reporter, which further checks may use.
func assemble(ctx context.Context, in *assemblyInput) (*reporter, error) {
	p := newPass(ctx, in)
	if in.Env.preprocesses(in.Path) {
		p.processedRoot(p.preprocessed())
	} else {
		p.file(in.Path, in.File, -1)
	}
	if p.err != nil {
		return nil, p.err
	}
	for i := len(p.conds) - 1; i >= 0; i-- {
		p.report(p.conds[i].item, codeDirective, "This condition has no .endif.")
	}
	for s := range p.secs {
		p.flush(int16(s), -1)
	}
	p.openAtEnd()
	p.gen++
	p.relax()
	p.lookAhead()
	p.resolve()
	p.blocksEnd()
	if p.ctx.Err() != nil {
		return nil, p.ctx.Err()
	}
	p.store.told(in.Path, sizes{len(p.items), len(p.syms)})
	return &p.reporter, nil
}

func newPass(ctx context.Context, in *assemblyInput) *pass {
	p := &pass{in: in, cur: in.Env}
	p.Program = &Program{path: in.Path, file: in.File, locals: map[int32][]*symbol{}, defines: in.Defines}
	p.table, p.gen, p.ctx, p.endless = p, 1, ctx, -1
	p.envs = []env{in.Env}
	p.secBy = map[string]int16{}
	p.litBy = map[litKey]int32{}
	p.ops = make([]isa.Operand, 0, 16)
	if p.store = in.Made; p.store == nil {
		p.store = &Expansions{}
	}
	p.mapReg = isa.NoReg
	p.syms = make(map[string]*symbol, p.store.likely(in.Path).symbols)
	p.sec, p.prev = p.section(".text"), -1
	p.settingSymbols()
	n := max(8+in.File.NumStmts(), p.store.likely(in.Path).items)
	p.items = make([]item, 0, n)
	p.order[p.sec] = make([]int32, 0, n)
	return p
}

// file walks one file's statements.
func (p *pass) file(path string, f *syntax.File, from int32) {
	id := int32(len(p.sources))
	p.sources = append(p.sources, source{path: path, file: f, from: from})
	p.columns = p.columns || f.Dialect() == syntax.Columns
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
		p.ended = false // .end of an included file ends that file alone
	}
	if len(p.conds) > nconds && p.depth > 0 {
		for _, c := range p.conds[nconds:] {
			p.report(c.item, codeDirective, "This condition has no .endif in its file.")
		}
		p.conds = p.conds[:nconds]
	}
}

// walk goes through the statements of a source.
func (p *pass) walk(id int32, f *syntax.File) { p.walkFrom(id, f, 0, 0) }

// walkFrom goes through them from a statement of a line on.
func (p *pass) walkFrom(id int32, f *syntax.File, i, k int) {
	units := p.sources[id].unit != nil && len(p.sources[id].unit.Includes) > 0
	for ; i < f.NumLines() && !p.ended; i++ {
		if p.n++; p.n&1023 == 0 && p.ctx.Err() != nil {
			p.err = p.ctx.Err()
			return
		}
		l := f.Line(i)
		if units {
			p.includes(id, int32(i))
			if p.err != nil || p.ended {
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
			if p.n++; k > 0 && p.n&1023 == 0 && p.ctx.Err() != nil {
				p.err = p.ctx.Err()
				return
			}
			p.statement(id, int32(i), l, &l.Stmts[k])
			if p.err != nil || p.ended || p.left {
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
	i := int16(len(p.secs))
	p.secBy[name] = i
	p.secs = append(p.secs, section{name: name, exact: true, align: 1, endPool: -1, exec: codeSection(name), main: i})
	p.order = append(p.order, nil)
	return i
}

// setEnv makes cur the environment of what follows.
func (p *pass) setEnv(e env) {
	if e == p.cur {
		return
	}
	p.cur = e
	for i := range p.envs {
		if p.envs[i] == e {
			p.envID = int16(i)
			return
		}
	}
	p.envID = int16(len(p.envs))
	p.envs = append(p.envs, e)
}

// loc is the place of columns [a,b) of an item's line.
func (r *Program) loc(it *item, a, b int32) place {
	s := &r.sources[it.file]
	if s.exp != nil {
		return r.madeLoc(it, a, b)
	}
	if s.unit != nil && it.flags&fWritten == 0 && s.unit.Changed(int(it.line)) {
		return s.unitLoc(int(it.line), a, b)
	}
	o := s.file.LineStart(int(it.line))
	// What is missing at the end of a line is shown at its last character.
	n := int32(len(s.file.Line(int(it.line)).Text))
	if s.unit != nil {
		n = int32(len(s.unit.Raw.Line(int(it.line)).Text))
	}
	b = min(b, n)
	if a >= b && b > 0 {
		a = b - 1
	}
	return placeAt(s.path, Span{o + int(a), o + int(b)})
}

func (r *Program) nameLoc(it *item) place {
	l := r.loc(it, it.stmt.Start, it.stmt.NameEnd)
	if l.use != nil && it.stmt.Kind == syntax.Label {
		return r.named(l, it.file, it.stmt.Name)
	}
	return l
}

func (r *Program) stmtLoc(it *item) place { return r.loc(it, it.stmt.Start, it.stmt.End) }

func (r *Program) lineText(it *item) string {
	if it.flags&fWritten != 0 {
		return r.sources[it.file].written(int(it.line))
	}
	return r.sources[it.file].file.Line(int(it.line)).Text
}

// active says whether the present conditional branch is assembled.
func (p *pass) active() bool {
	return len(p.conds) == 0 || p.conds[len(p.conds)-1].active
}

// push adds an item of the given size at the present place.
func (p *pass) push(file int32, line int32, s *syntax.Stmt, size int64) *item {
	sec := &p.secs[p.sec]
	if len(p.items) == cap(p.items) { // macros make more than there are lines
		p.items = slices.Grow(p.items, len(p.items)+64)
	}
	p.items = append(p.items, item{stmt: s, off: sec.size, size: size, line: line, file: file, sec: p.sec, env: p.envID, lit: -1, id: int32(len(p.items))})
	p.order[p.sec] = append(p.order[p.sec], int32(len(p.items)-1))
	sec.size += size
	return &p.items[len(p.items)-1]
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
		if s.NoColon && p.dialectOf(it) == syntax.Dots {
			p.report(p.nameLoc(it), codeSyntax, "The label "+s.Name+" needs a colon behind it.")
		}
		if s.Err != nil {
			p.syntaxError(it)
		}
		p.label(it)
	case syntax.Directive:
		it := p.push(file, line, s, 0)
		switch s.Dir.Effect {
		case syntax.EffWhile:
			p.while(it.id, l)
		case syntax.EffMacro, syntax.EffRept, syntax.EffExitm, syntax.EffPurgem, syntax.EffAltmacro:
			p.macroDirective(it.id, l)
		default:
			p.directive(it, l)
		}
	case syntax.Assign:
		it := p.push(file, line, s, 0)
		if !p.syntaxError(it) {
			p.assign(it, s.Name, 0, s.NameEnd-s.Start, s.Ops, !s.Once && p.dialectOf(it) != syntax.Columns)
		}
	case syntax.Unknown:
		it := p.push(file, line, s, 0)
		switch {
		case s.Name[0] == '.':
			p.unknownDirective(it)
		default:
			p.unknownMnemonic(it)
		}
		if p.lacking {
			p.inexact() // it may be a macro of the file that was not found
		}
	case syntax.Bad:
		p.syntaxError(p.push(file, line, s, 0))
	}
}

// callLike matches what looks like a macro of the preprocessor with arguments.
var callLike = regexp.MustCompile(`[A-Za-z_]\w*\(`)

// syntaxError reports what the parser could not read.
func (p *pass) syntaxError(it *item) bool {
	e := it.stmt.Err
	if e == nil {
		return false
	}
	if p.lacking && p.sources[it.file].unit != nil && callLike.MatchString(p.lineText(it)) {
		p.inexact() // perhaps a macro with arguments, of the file that was not found
		return true
	}
	m := e.Message
	if m != "" {
		m = string(m[0]&^0x20) + m[1:] + "."
	}
	if e.Mild {
		p.warn(p.loc(it, e.Start, e.End), codeSyntax, m)
		return false
	}
	p.report(p.loc(it, e.Start, e.End), codeSyntax, m)
	return true
}

// instruction sizes an instruction and binds it, if all its values are known.
func (p *pass) instruction(it *item) {
	s := it.stmt
	it.flags |= fCode
	sec := &p.secs[p.sec]
	sec.code = true
	p.takeSlot(it)
	if p.cur.mode == isa.A {
		it.size = 4
		if f := s.Mnem.FormsOf(isa.A); len(f) > 0 {
			it.size = int64(f[0].Row.Size()) // that of ADRL is 8, always
		}
		if s.Mnem.OpensBlock() {
			it.size = 0
		}
		sec.size += it.size
		p.instructionA(it)
		return
	}
	noT16 := !p.cur.have.Has(isa.FeatT16) // .arch may take it away
	if noT16 {
		p.report(p.nameLoc(it), codeNotOnArch, noCompact(p.cur.target))
	}
	if noT16 || s.Err != nil && !unchecked(s.Mnem, &p.cur) && p.syntaxError(it) {
		it.flags |= fRefused
		it.size = 2
		sec.size += 2
		return
	}
	q := p.query(it, &p.cur)
	if n := len(s.Ops); n == 2 && s.Ops[1].Kind == isa.OpLit {
		p.literalLoad(it)
	}
	known := p.operands(it, false)
	if q.Have.Has(isa.FeatT32) && p.misplaced(it, &q) {
		it.flags |= fRefused
		it.size = p.sizeElsewhere(it, q)
		sec.size += it.size
		return
	}
	m, ok := s.Mnem.Match(&q, p.ops)
	switch {
	case ok:
		it.match = m
		p.early(it, &m, &q)
		it.size = int64(m.Form.Row.Size())
		if !known || m.Deferred || m.Odd {
			it.flags |= fDefer
		}
		if it.flags&fDefer != 0 || p.cur.full() {
			p.grow(it, &q, known)
		}
		p.openBlock(it)
		p.leaveInserted(it)
		if q.IT.In && !q.IT.Last && m.Effects().Writes.Has(isa.PC) && (m.Effects().Flow == isa.FlowNext || m.Form.Row.Last == isa.LastNever) {
			p.warn(p.nameLoc(it), codeITBlock, s.Name+" loads pc and is not last in its IT block, which the architecture calls unpredictable.")
		}
	case p.notLast(it, &q):
		it.flags |= fRefused
		it.size = p.sizeElsewhere(it, q)
	case unchecked(s.Mnem, &p.cur):
		it.flags |= fUnchecked
		it.size = p.guess(it)
	case !known:
		it.flags |= fDefer
		it.size = p.guess(it)
	default:
		it.size = p.guess(it)
		if p.targets() {
			// Whether an address is out of reach may hang on .global below.
			it.flags |= fDefer
			break
		}
		// Say it now: .set may give another value to a name below.
		it.flags |= fRefused
		p.refuse(it, &q)
	}
	sec.size += it.size
	if it.flags&fDefer != 0 {
		p.unresolved = append(p.unresolved, it.id)
	}
}

// targets says whether some operand is an address.
func (p *pass) targets() bool {
	for i := range p.ops {
		if k := p.ops[i].Kind; k == isa.OpExpr || k == isa.OpLit {
			return true
		}
	}
	return false
}

// full says whether the compact state has encodings of full width beside those
// of a halfword, so that instructions may grow.
func (e *env) full() bool {
	return e.mode == isa.T && e.unified && e.have&(isa.FeatT32|isa.FeatMovW) != 0
}

// unchecked says whether a name is known, and nothing else of it: no row
// describes it.
func unchecked(m *isa.Mnemonic, e *env) bool {
	return e.full() && !m.Checked(&isa.Query{Have: e.have, Unified: e.unified})
}

// guess is the size of an instruction that is not bound: that of its forms
// if they agree, else a halfword.
func (p *pass) guess(it *item) int64 {
	s := it.stmt
	if unchecked(s.Mnem, &p.cur) {
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
	return "T16 code does not exist on " + target + "; the first architecture that has it is ARMv4T."
}

// instructionA binds an A32 line. What the table does not describe is taken as
// it is.
func (p *pass) instructionA(it *item) {
	if !p.cur.have.Has(isa.FeatA32) {
		p.report(p.nameLoc(it), codeNotOnArch, "A32 code does not exist on "+p.cur.target+", which has the compact state alone; a .thumb line is missing above.")
		it.flags |= fRefused
		return
	}
	if ops := it.stmt.Ops; len(ops) == 2 && ops[1].Kind == isa.OpLit && (it.stmt.Err == nil || it.stmt.Err.Mild) {
		p.literalLoad(it)
	}
	if p.blockA(it) {
		return
	}
	s := it.stmt
	q := p.query(it, &p.cur)
	checked := s.Mnem.Checked(&q)
	if len(s.Mnem.FormsOf(isa.A)) == 0 {
		if s.Mnem.OpensBlock() {
			// For the assembler alone: conditions stand in the names.
			p.widthA(it)
			p.secs[p.sec].size -= it.size
			it.size = 0
			return
		}
		if !isa.A32Name(s.Mnem.Name) {
			p.report(p.nameLoc(it), codeNoForm, "A32 has no "+s.Name+"; only the compact state has it.")
			it.flags |= fRefused
		} else {
			p.widthA(it)
		}
		return
	}
	if s.Err != nil && (!checked || p.syntaxError(it)) {
		if checked {
			it.flags |= fRefused
		}
		return
	}
	known := p.operands(it, false)
	m, ok := s.Mnem.Match(&q, p.ops)
	switch {
	case ok:
		it.match = m
		p.early(it, &m, &q)
		if !known || m.Deferred {
			it.flags |= fDefer
		}
	case !checked:
		p.widthA(it)
	case !known || p.targets():
		it.flags |= fDefer
	default:
		it.flags |= fRefused
		p.refuse(it, &q)
	}
	if it.flags&fDefer != 0 {
		p.unresolved = append(p.unresolved, it.id)
	}
}

// widthA refuses .w and .n where no form does.
func (p *pass) widthA(it *item) {
	if it.stmt.Width != 0 {
		p.report(p.nameLoc(it), codeNoForm, it.stmt.Name+" has a width suffix, and A32 instructions all have the same width.")
		it.flags |= fRefused
	}
}

// operands fills p.ops with the statement's operands. known is false when a
// value is not known yet; with final every symbol that will ever be known is.
func (p *evaluator) operands(it *item, final bool) (known bool) {
	known = true
	p.at = it.id
	ops := it.stmt.Ops
	p.ops = p.ops[:0]
	for i := range ops {
		o := &ops[i]
		p.ops = append(p.ops, o.Operand)
		if o.Expr == nil && o.Word == "" && o.Names == nil && o.Kind != isa.OpLit {
			continue
		}
		if !p.operand(it, o, &p.ops[i], final) {
			known = false
		}
	}
	return known
}

// operand resolves the symbols of one operand into d.
func (p *evaluator) operand(it *item, o *syntax.Operand, d *isa.Operand, final bool) bool {
	vector := it.stmt.Mnem.Vector()
	if vector && p.vectorOperand(it, o, d) {
		return true
	}
	if o.Names != nil {
		if !p.names(it, o, d) || d.Off == isa.OffReg || d.Off == isa.OffShift && o.Expr == nil {
			return true
		}
	}
	switch o.Kind {
	case isa.OpLit:
		if it.lit < 0 {
			if v := p.eval(o, it); v.kind == vAbs { // a constant that needs no memory
				d.Known, d.Imm, d.Bare = true, v.n, true
			}
			return true
		}
		lit := &p.lits[it.lit]
		if lit.off < 0 {
			d.Known = false // where the word stands is not
			return false
		}
		d.Known, d.Imm = p.secs[it.sec].exact, lit.off
		return true
	case isa.OpExpr:
		if o.Word != "" {
			if r, ok := p.alias(o.Word); ok {
				d.Kind, d.Reg, d.Word = isa.OpReg, r, ""
				return true
			}
			if w := p.wordNamed(o.Word); w != "" {
				d.Word = w
				return true
			}
		}
		if e := &p.envs[it.env]; o.Expr != nil && !e.unified && p.lineText(it)[o.Start] == '#' {
			// In the divided syntax the mark makes a number of it, but for loads.
			if f := it.stmt.Mnem.FormsOf(e.mode); len(f) > 0 && (f[0].Row.Flow != isa.FlowNext || strings.HasPrefix(it.stmt.Mnem.Stem(), "adr")) {
				d.Kind = isa.OpImm
			}
		}
	}
	if o.Kind == isa.OpShift && o.Bare && o.Expr != nil && o.Expr.Op == syntax.ExprSym {
		// lsl by a register that .req names
		if r, ok := p.alias(o.Expr.Name); ok {
			d.Reg, d.Bare = r, false
			return true
		}
	}
	if o.Word == "" && o.Expr == nil {
		return true
	}
	v := p.eval(o, it)
	if o.Expr != nil && o.Expr.Op == syntax.ExprReloc && !o.Expr.Back && o.Kind == isa.OpExpr {
		d.Kind = isa.OpImm // whose '#' may be missing in any syntax
	}
	switch d.Kind {
	case isa.OpImm, isa.OpMem, isa.OpShift:
		switch v.kind {
		case vAbs:
			d.Known, d.Imm = true, v.n
			return v.reloc == "" && !v.late || final // whether it may be half of it, is looked at later
		case vUnknown:
			return true
		case vRel: // which some take for a number; see operandErrors
			d.Known, d.Imm = final, v.n
			return final
		}
		return false
	case isa.OpExpr:
		switch {
		case v.kind == vRel && it.stmt.Mnem != nil && it.stmt.Mnem.Constant(p.envs[it.env].mode, opIndex(it, o)):
			d.Known, d.Imm, d.Bare = final, v.n, true
			return final
		case v.kind == vRel && v.sec == it.sec:
			if !final && p.mayMove(it) {
				return false
			}
			d.Known, d.Imm = p.secs[it.sec].exact, v.n+p.functionBit(it, o, v)
			if y := p.direct(o); y != nil && y.global && it.conditional() && p.envs[it.env].mode == isa.T {
				// Assemblers leave a conditional branch to a global name to
				// the linker.
				d.Known = false
			}
			if d.Known && p.leftToLinker(it, o) {
				// What the symbol is worth does not count: no distance is wrong.
				if away := v.n - it.off - 8; away&3 != 0 || away > 0x1fffffc || away < -0x2000000 {
					d.Known = false
				}
			}
			if p.envs[it.env].mode == isa.T && v.sym != nil && v.sym.fn && v.sym.mode == isa.T && strings.EqualFold(it.stmt.Name, "blx") {
				// Assemblers make BL of it; branchMode says so.
				d.Known = false
			}
			if p.envs[it.env].mode == isa.A && v.sym != nil && (v.sym.fn || v.sym.global) && v.sym.mode == isa.T && it.branches() {
				// The assembler or the linker makes BLX or a veneer of it; see
				// branchModeA.
				d.Known = false
			}
			return v.sym == nil || v.sym.defined
		case v.kind == vAbs:
			// A number as a target means an address, which only the linker
			// knows how far away it is; as a constant it is what it is.
			d.Known, d.Imm, d.Bare = true, v.n, true
			return true
		}
		return false
	}
	return true
}

// mayMove says whether distances in a section may still change.
func (p *evaluator) mayMove(it *item) bool {
	return p.envs[it.env].full() || len(p.secs[it.sec].points) > 0
}

// leftToLinker says whether the operand is the target of an A32 branch to a global
// name, which assemblers leave to the linker: of the line, they judge alone what is
// added to the name.
func (p *evaluator) leftToLinker(it *item, o *syntax.Operand) bool {
	if p.envs[it.env].mode != isa.A || !it.branches() {
		return false
	}
	y := p.direct(o)
	return y != nil && y.global && y.defined
}

// direct is the symbol that an operand names itself, not through .equ.
func (p *evaluator) direct(o *syntax.Operand) *symbol {
	name := o.Word
	for e := o.Expr; e != nil && name == ""; e = e.X {
		if e.Op == syntax.ExprSym {
			name = e.Name
		}
	}
	return p.table.find(name)
}

// functionBit is what assemblers add to the address of a T16 function in ADR of T32
// code: 1 where a line above defines it, and bit 0 where the size of the encoding is
// open, which then is 4.
func (p *evaluator) functionBit(it *item, o *syntax.Operand, v value) (n int64) {
	e := &p.envs[it.env]
	if e.mode != isa.T || !e.unified || !e.have.Has(isa.FeatT32) || it.stmt.Mnem == nil || it.stmt.Mnem.Stem() != "adr" {
		return 0
	}
	y := p.direct(o)
	if y == nil || !y.label || !y.fn || y.mode != isa.T {
		return 0
	}
	if y.item < it.id {
		n = 1
	}
	if it.stmt.Width == 0 && it.stmt.Ops[0].Reg < 8 {
		n = (v.n + n) | 1 - v.n
	}
	return n
}

// conditional says whether the item is a T16 branch with a condition.
func (it *item) conditional() bool {
	if it.stmt.Mnem == nil || it.slot&slotIn != 0 {
		return false // a directive; or the condition is the block's
	}
	f := it.stmt.Mnem.Forms
	return len(f) > 0 && f[0].Row.ID == "b-cond"
}

// branches says whether the item is an A32 branch to a label.
func (it *item) branches() bool {
	if it.stmt.Mnem == nil {
		return false
	}
	f := it.stmt.Mnem.FormsOf(isa.A)
	return len(f) > 0 && (f[0].Row.Flow == isa.FlowBranch || f[0].Row.Flow == isa.FlowCall)
}

// names resolves register aliases inside brackets and braces.
func (p *evaluator) names(it *item, o *syntax.Operand, d *isa.Operand) bool {
	n := o.Names
	reg := func(name string) isa.Reg {
		if r, ok := p.alias(name); ok {
			return r
		}
		return isa.NoReg
	}
	if n.Base != "" {
		d.Reg = reg(n.Base)
		if d.Reg == isa.NoReg {
			d.Kind = isa.OpOther
			return false
		}
	}
	if n.Index != "" {
		d.Index = reg(n.Index)
		switch {
		case d.Index != isa.NoReg:
			d.Word = ""
		case o.Word != "" && p.envs[it.env].unified:
			// Not a register: an offset by a symbol's value without '#'.
			d.Off, d.Bare = isa.OffImm, true
		default:
			d.Kind = isa.OpOther
			return false
		}
	}
	last := isa.NoReg
	for _, name := range n.List {
		if name[0] == '-' {
			end, ok := isa.RegByName(name[1:])
			if !ok {
				end = reg(name[1:])
			}
			if end == isa.NoReg {
				d.Kind = isa.OpOther
				return false
			}
			for r := last; r <= end && end < 16; r++ {
				d.List |= 1 << r
			}
			continue
		}
		last = reg(name)
		if last == isa.NoReg {
			d.Kind = isa.OpOther
			return false
		}
		d.List |= 1 << last
	}
	return true
}

// resolve is the second pass: all symbols have their final values now.
func (p *pass) resolve() {
	p.resolveSymbols()
	for _, i := range p.unresolved {
		it := &p.items[i]
		e := &p.envs[it.env]
		q := p.query(it, e)
		if it.flags&fWide != 0 && q.Width == 0 {
			q.Width = 'w'
		}
		p.cur, p.envID = *e, it.env
		p.operands(it, true)
		m, ok := it.stmt.Mnem.Match(&q, p.ops)
		if ok {
			it.match = m
			if p.linked(it, e); it.flags&fWide != 0 {
				p.grownAdd(it)
			}
			continue
		}
		if p.skipsNothing(it, &q) || p.baselineBranch(it, &q) {
			continue
		}
		if !it.stmt.Mnem.Checked(&q) && e.mode == isa.A {
			it.match.Form = nil
			continue
		}
		it.match.Form = nil
		it.flags |= fRefused
		p.refuse(it, &q)
	}
	p.resolveEarly()
	p.resolveData()
	for i := range p.items {
		it := &p.items[i]
		if it.match.Form == nil {
			continue
		}
		if row := it.match.Form.Row; len(row.Cautions) > 0 {
			p.cautions(it)
		} else if row.IT == isa.ITFree && row.State == isa.T {
			p.unconditional(it)
		}
	}
}
