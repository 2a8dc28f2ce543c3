package analysis

import (
	"context"
	"sync/atomic"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
)

// Result is an immutable set of facts about one program.
type Result struct {
	in    *Input
	prog  *program.Program
	diags []Diagnostic
	// costly: rewrites were not looked for any more, as it would take too long.
	costly *atomic.Bool
}

// Analyze computes the facts. It returns ctx's error when cancelled, and a
// *SettingError for settings that do not resolve; no other.
func Analyze(ctx context.Context, in *Input) (*Result, error) {
	e, err := in.Set.env()
	if err != nil {
		return nil, err
	}
	if in.File.Dialect() == syntax.Columns && !e.Forced || e.Forced && e.Dialect == syntax.Columns {
		e.Unified = e.Unified || in.Set == nil || in.Set.Syntax == ""
		// It inserts IT lines always (armasm manual, "IT"; from memory).
		e.Implicit = e.Implicit || in.Set == nil || in.Set.ImplicitIT == ""
	}
	if e.Forced && in.File.Dialect() != e.Dialect {
		as := *in
		as.File = in.File.As(e.Dialect)
		in = &as
	}
	job := &assemble.Input{Path: in.Path, File: in.File, Env: e, Load: in.Load, Size: in.Size, Why: in.Why, Made: in.Made}
	if in.Set != nil {
		job.Symbols, job.Defines, job.Prelude = in.Set.Symbols, in.Set.Defines, in.Set.Prelude
	}
	found, err := assemble.Run(ctx, job)
	if err != nil {
		return nil, err
	}
	flow.Check(ctx, found)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return &Result{in: in, prog: found.Program, diags: found.All(), costly: new(atomic.Bool)}, nil
}

// Diagnostics of the root file and of every file it includes, sorted by path
// (root first), then position. They must not be changed.
func (r *Result) Diagnostics() []Diagnostic { return r.diags }

func (r *Result) view() *describe.View {
	return &describe.View{Evaluator: eval.New(r.prog), Diags: r.diags}
}

// Work is how long the analysis took, in statements: macros of the preprocessor may make
// a few lines take as long as very many.
func (r *Result) Work() int { return r.prog.Work }

// The bounds of what the proofs of rewrites may take, in statements that they analyse.
const (
	maxAsked = 10_000_000 // for one question
	maxFixed = 30_000_000 // for all safe rewrites of a file
)

// Costly says whether rewrites were left out as their proofs would take too long.
func (r *Result) Costly() bool { return r.costly.Load() }

// subject is what rewrites are sought for. The context ends when the proofs have taken
// more than they may.
func (r *Result) subject(ctx context.Context, most int) (context.Context, context.CancelFunc, *rewrite.Subject) {
	ctx, cancel := context.WithCancel(ctx)
	return ctx, cancel, rewrite.NewSubject(r.prog, r.diags, func(ctx context.Context, f *syntax.File) (*program.Program, []Diagnostic, error) {
		in := *r.in
		in.File = f
		again, err := Analyze(ctx, &in)
		if err != nil {
			return nil, nil, err
		}
		if most -= again.prog.Work; most < 0 {
			r.costly.Store(true)
			cancel()
			return nil, nil, context.Canceled
		}
		return again.prog, again.diags, nil
	})
}

// Includes lists the paths of the files that were read, without the root.
func (r *Result) Includes() []string { return r.view().Includes() }

// Regions divides the root file by mode, syntax and target.
func (r *Result) Regions() []Region { return r.view().Regions() }

// Inactive lists the stretches that conditional directives, or those of the
// preprocessor, leave out; of a file that is included several times what is
// left out each time.
func (r *Result) Inactive() []Location { return r.view().Inactive() }

// Hover describes what is at byte offset off of the root file.
func (r *Result) Hover(off int) (Hover, bool) { return r.HoverIn(r.prog.Path, off) }

// HoverIn describes what is at byte offset off of a file of the program,
// named by its path. A file that is included more than once is described as
// it is the first time; so it is for the other methods with a path.
func (r *Result) HoverIn(path string, off int) (Hover, bool) {
	return r.view().HoverIn(path, off)
}

// Definition of the symbol at byte offset off of the root file; for an
// .include, the file.
func (r *Result) Definition(off int) []Location { return r.DefinitionIn(r.prog.Path, off) }

// DefinitionIn is Definition for a file of the program.
func (r *Result) DefinitionIn(path string, off int) []Location {
	return r.view().DefinitionIn(path, off)
}

// References lists the places that name what is at byte offset off of the
// root file, a macro or a symbol, with its definition; in the order of the
// text, every place once. What a macro makes is found at its call.
func (r *Result) References(off int) []Location { return r.ReferencesIn(r.prog.Path, off) }

// ReferencesIn is References for a file of the program.
func (r *Result) ReferencesIn(path string, off int) []Location {
	return r.view().ReferencesIn(path, off)
}

// Symbols is the outline of the root file: labels with what they own,
// constants, register names, macros, sections.
func (r *Result) Symbols() []DocSymbol { return r.SymbolsIn(r.prog.Path) }

// SymbolsIn is the outline of a file of the program.
func (r *Result) SymbolsIn(path string) []DocSymbol { return r.view().SymbolsIn(path) }

// Actions offers the rewrites for the findings in the root file whose
// statement touches span, best first. Each is proven: the analysis of its result has that
// finding no more, and no new one.
func (r *Result) Actions(ctx context.Context, span Span) []Action {
	ctx, cancel, subject := r.subject(ctx, maxAsked)
	defer cancel()
	return subject.Actions(ctx, span)
}

// SafeFixes applies the preferred safe rewrites for all findings of code in
// the root file (all codes when empty) and returns the edits against the
// original text; none if their proofs take too long, see [Result.Costly].
func (r *Result) SafeFixes(ctx context.Context, code string) []Edit {
	ctx, cancel, subject := r.subject(ctx, maxFixed)
	defer cancel()
	return subject.SafeFixes(ctx, code)
}
