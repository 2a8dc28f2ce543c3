package assemble

import (
	"context"
	"slices"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// pass assembles a program. What it knows besides the program is kept by what it is
// about, each with the functions that need nothing else.
type pass struct {
	layout.Layouter            // the program, its values and findings, and what moves
	in              *Input     // what is assembled
	reader                     // where in the sources it is
	environment                // what the statement is assembled for
	symbols                    // the symbol table
	sections                   // where statements go
	pools                      // the literals that wait for a place
	blocks                     // IT blocks that are open
	query           isa.Query  // the one of the current instruction: in a local variable it would cost an allocation
	conds           conditions // what .if and its like leave out
	macros                     // what macros are known
	expanding                  // how deep in expansions it is, and how much they may add
	columnState                // what the column dialect has besides
	frames                     // unwinding, debugging and other tables
	waiting                    // what the second pass comes back to
}

// waiting are the items and arguments that the second pass comes back to.
type waiting struct {
	unresolved []int32    // instructions
	earlyOps   []argument // constants that were not known in time
	dataLater  []argument // data
	countLater []int32    // sizes
	sizeLater  []int32    // .size
	lebLater   []int32    // numbers of variable length
	fillLater  []int32    // alignments whose gaps are filled by units
}

// argument is one of an item's arguments.
type argument struct{ item, op int32 }

// What takes as long as an item: so many tokens of the preprocessor, and so many steps of
// the layout.
const (
	aToken = 16
	aStep  = 16
)

// Run assembles a program: it walks the statements, lays out the sections and
// binds what waited. It returns ctx's error when cancelled; no other. What it finds
// is in the reporter, which further checks may use.
func Run(ctx context.Context, in *Input) (*wording.Reporter, error) {
	p, err := run(ctx, in)
	if err != nil {
		return nil, err
	}
	return &p.Reporter, nil
}

// RunKept is Run, with what it leaves for Again; nil where that is too much.
func RunKept(ctx context.Context, in *Input) (*wording.Reporter, *Earlier, error) {
	p, err := run(ctx, in)
	if err != nil {
		return nil, nil, err
	}
	return &p.Reporter, p.kept(), nil
}

func run(ctx context.Context, in *Input) (*pass, error) {
	p := newPass(ctx, in)
	if preprocesses(in) {
		u := p.preprocessed()
		p.Work += u.Work / aToken
		p.processedRoot(u)
	} else {
		p.file(in.Path, in.File, -1)
	}
	if p.err != nil {
		return nil, p.err
	}
	for _, c := range slices.Backward(p.conds.open) {
		if p.whole || p.in.File.Cut() >= 0 {
			break // what closes it may be in what is left out
		}
		p.Report(c.item, finding.CodeDirective, wording.UnclosedCondition(syntax.Spelled(c.dialect, syntax.EffEndif)))
	}
	for s := range p.Sections {
		p.flush(int16(s), -1)
	}
	p.openAtEnd()
	p.Last = p.envID
	p.Gen++
	p.Relax()
	p.lookAhead()
	p.resolve()
	p.blocksEnd()
	if p.Ctx.Err() != nil {
		return nil, p.Ctx.Err()
	}
	p.Work += len(p.Items) + p.spent + p.Steps/aStep
	p.store.told(in.Path, sizes{len(p.Items), len(p.Symbols)})
	p.Table = eval.New(p.Program).Table // what asks from here on makes no symbol
	return p, nil
}

// passOver is a pass that works on a program.
func passOver(ctx context.Context, in *Input, prog *program.Program) *pass {
	p := &pass{in: in}
	p.Unsaid, p.Mute = in.Unsaid, in.Mute
	p.Program = prog
	p.environment = environment{prog: prog}
	p.symbols = symbols{prog: prog}
	p.sections = sections{prog: prog, layout: &p.Layouter, secBy: map[string]int16{}}
	p.Table, p.Layout, p.Gen, p.Ctx, p.Endless = &p.symbols, &p.Layouter, 1, ctx, -1
	p.Ops = make([]isa.Operand, 0, 16)
	p.MapReg = isa.NoReg
	return p
}

func newPass(ctx context.Context, in *Input) *pass {
	p := passOver(ctx, in, &program.Program{Path: in.Path, File: in.File, Locals: map[int32][]*program.Symbol{}, Defines: in.Defines})
	p.ModeSaid = -1
	p.Environments = []program.Environment{in.Env}
	p.current = in.Env
	p.pools.byKey = map[literalKey]int32{}
	if p.store = in.Made; p.store == nil {
		p.store = &Expansions{}
	}
	p.Symbols = make(map[string]*program.Symbol, p.store.likely(in.Path).symbols)
	p.currentSection, p.prev = p.section(".text"), -1
	p.settingSymbols()
	p.parts = in.File.Parts()
	n := min(max(8+in.File.LikelyStmts(), p.store.likely(in.Path).items), MaxSize)
	p.Items = make([]program.Item, 0, n)
	p.Order[p.currentSection] = make([]int32, 0, n)
	return p
}
