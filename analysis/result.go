package analysis

import (
	"context"
	"slices"
	"sync"
	"sync/atomic"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/check"
	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/rename"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// Result is an immutable set of facts about one program.
type Result struct {
	in      *Input
	prog    *program.Program
	diags   []Diagnostic // one for each mistake
	each    []Diagnostic // one for each line, those that comments and settings leave out among them
	list    []Diagnostic // one for each line, as they are told
	foreign bool         // the source is of another architecture
	// suppressed are findings that comments allow; severity is the setting.
	suppressed []Suppressed
	severity   map[string]Severity
	// costly: rewrites were not looked for any more, as it would take too long.
	costly *atomic.Bool
	// asking is what all questions for rewrites are put to, one at a time.
	lock   sync.Mutex
	asking *questions
	known  *describe.Values
	kept   *earlier // for the next analysis of nearly the same text
	// whole has what there is with what goes wrong when the program runs, once something asks.
	whole struct {
		lock        sync.Mutex // holds the rest until it is done
		done        bool
		diags, each []Diagnostic
		late        *late        // what goes wrong, as it was found
		found       []Diagnostic // what goes wrong alone
		suppressed  []Suppressed
	}
}

// run looks for what goes wrong when the program runs, for as long as it takes.
func (r *Result) run() { _ = r.Complete(context.Background()) }

// Complete looks for what goes wrong when the program runs. The first who wants all findings
// does it: rewrites are proven without it. It returns ctx's error when cancelled before it is
// done; the next one begins anew.
func (r *Result) Complete(ctx context.Context) error {
	w := &r.whole
	w.lock.Lock()
	defer w.lock.Unlock()
	if w.done {
		return nil
	}
	var found []Diagnostic
	if !r.foreign {
		w.late = r.runTime(ctx)
		found = slices.DeleteFunc(slices.Clone(w.late.found), r.in.unfinished)
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	w.done, w.diags, w.each, w.suppressed = true, r.diags, r.list, r.suppressed
	if w.found = found; len(found) > 0 {
		all := &Result{in: r.in, prog: r.prog}
		w.each = graded(all.allow(r.overBudget(check.Merged(r.prog, r.each, found))), r.severity)
		w.diags = (&wording.Reporter{Evaluator: *eval.New(r.prog)}).Folded(w.each)
		w.suppressed = all.suppressed
	}
	return nil
}

// runTime is what goes wrong when the program runs: that of the analysis that was taken over,
// if no statement means anything else, or found now. Whether other sources include the root
// file is asked for only where something is looked for: they are read for that.
func (r *Result) runTime(ctx context.Context) *late {
	asked, shared := false, false
	ask := func() bool {
		if !asked {
			asked, shared = true, r.in.Shared != nil && r.in.Shared()
		}
		return shared
	}
	if l := r.kept.late; l != nil && (!l.asked || l.shared == ask()) {
		return l
	}
	found := check.Run(ctx, r.prog, ask, r.each)
	return &late{found, asked, shared}
}

// Ready says whether that is known already.
func (r *Result) Ready() bool { return r.kept.late != nil }

// TookOver says whether the analysis was taken over from Input.Before, so that no other file has
// been asked for.
func (r *Result) TookOver() bool { return r.kept.took }

// runOf finds what goes wrong when a program runs, this one or what comes of an edit of it. Of
// this one, what comments and settings leave out is marked.
func (r *Result) runOf(ctx context.Context, p *program.Program, each []Diagnostic) []Diagnostic {
	if p != r.prog {
		return check.Run(ctx, p, r.in.Shared, each)
	}
	type place struct {
		code string
		at   finding.Location
	}
	shown := map[place]bool{}
	if r.Complete(ctx) != nil {
		return nil
	}
	for _, d := range r.whole.each {
		shown[place{d.Code, d.Location}] = true
	}
	found := slices.Clone(r.whole.found)
	for i := range found {
		found[i].Left = !shown[place{found[i].Code, found[i].Location}]
	}
	return found
}

// Keeps says whether an analysis of a text that differs little may take this one over.
func (r *Result) Keeps() bool { return r.kept.assembly != nil }

// Late says whether that takes long.
func (r *Result) Late() bool { return len(r.prog.Items) > 3000 }

// Early is Diagnostics without what goes wrong when the program runs, for which the values
// in it are followed: that takes longer than the assembly.
func (r *Result) Early() []Diagnostic { return r.diags }

// Analyze computes the facts. It returns ctx's error when cancelled, and a
// *SettingError for settings that do not resolve; no other.
//
// A guess counts no more where directives say what the target is: they may have been written
// since.
func Analyze(ctx context.Context, in *Input) (*Result, error) {
	in = in.withOptions()
	r, err := analyzeARM(ctx, in)
	if err == nil {
		r, err = unnamed(ctx, in, r)
	}
	if err != nil || in.Set != nil && in.Set.Guess == "never" {
		return r, err
	}
	if title, marks, ok := foreignOf(r); ok {
		r.each = []Diagnostic{foreignHint(in, title, marks)}
		r.diags, r.list, r.foreign = r.each, r.each, true
	}
	return r, nil
}

// analyzeARM is Analyze for a source that is of no other architecture, as rewrites of one are.
func analyzeARM(ctx context.Context, in *Input) (*Result, error) {
	r, err := analyzeAs(ctx, in)
	if err != nil || in.Guess == nil || !directs(r.prog) {
		return r, err
	}
	said := *in
	said.Guess = nil
	if without, err := analyzeAs(ctx, &said); err != nil || chosen(without.prog) {
		return without, err
	}
	return r, nil
}

// jobOf is what an input asks to be assembled, for the target that was guessed, if any; and the
// input with the settings that come of that.
func jobOf(asked *Input) (*assemble.Input, *Input, error) {
	in := asked
	if in.told != nil {
		as := *in
		as.Set = in.told.under(in.Set)
		in = &as
	}
	if in.Guess != nil {
		as := *in
		as.Set = in.Guess.apply(in.Set)
		in = &as
	}
	e, err := in.Set.env()
	if err != nil {
		return nil, nil, err
	}
	dialect := in.File.Dialect()
	if e.Forced {
		dialect = e.Dialect
	}
	if dialect.Words() {
		e.Unified = e.Unified || in.Set == nil || in.Set.Syntax == ""
		// It inserts IT lines always (armasm manual, "IT"; from memory).
		e.Implicit = e.Implicit || in.Set == nil || in.Set.ImplicitIT == ""
	}
	if e.Forced && in.File.Dialect() != e.Dialect {
		as := *in
		as.File = in.File.As(e.Dialect)
		in = &as
	}
	job := &assemble.Input{Path: in.Path, File: in.File, Env: e, Load: in.Load, Size: in.Size, Why: in.Why, Several: in.Several, Generated: in.Generated, Made: in.Made}
	job.Unsaid = asked.Set.unsaid()
	if in.brief {
		job.Most = maxGuessed
	}
	if in.Set != nil {
		job.Symbols, job.Defines, job.Prelude = in.Set.Symbols, in.Set.Defines, in.Set.Prelude
	}
	return job, in, nil
}

// programOf is the program of an input alone, without what is found in it. Its settings say what
// the target is: nothing is guessed.
func programOf(ctx context.Context, in *Input) (*program.Program, error) {
	job, _, err := jobOf(in)
	if err != nil {
		return nil, err
	}
	job.Mute = true
	r, err := assemble.Run(ctx, job)
	if err != nil {
		return nil, err
	}
	return r.Program, nil
}

// analyzeAs is Analyze for the target that was guessed, if any.
func analyzeAs(ctx context.Context, asked *Input) (*Result, error) {
	job, in, err := jobOf(asked)
	if err != nil {
		return nil, err
	}
	found, kept, err := assembled(ctx, job, in.Set, asked)
	if err != nil {
		return nil, err
	}
	diags := slices.DeleteFunc(found.All(), in.unfinished)
	if in.Guess != nil {
		diags = append([]Diagnostic{in.Guess.hint(in, found.Program)}, diags...)
	}
	known := new(describe.Values)
	if kept.same {
		known = asked.Before.known.After()
	}
	if asked.Before != nil { // it is not kept
		as := *asked
		as.Before, asked = nil, &as
	}
	r := &Result{in: asked, prog: found.Program, each: diags, costly: new(atomic.Bool), known: known, kept: kept}
	if in.Set != nil {
		r.severity, _ = severities(in.Set.Severity) // env has looked at them
		leaveOut(diags, r.severity)
	}
	if diags = r.overBudget(diags); !kept.quiet {
		diags = r.allow(diags)
	}
	r.list = graded(diags, r.severity)
	r.diags = found.Folded(r.list)
	return r, nil
}

// unfinished says whether a warning is about the end of a text that is being typed there:
// the line that would keep execution from running on is likely to come. What the assembler
// refuses is said at once.
func (in *Input) unfinished(d Diagnostic) bool {
	if d.Code != finding.CodePoolPath && d.Code != finding.CodeRunsOut || in.Typed < d.Span.Start || d.Path != in.Path || in.Typed == 0 {
		return false
	}
	f := in.File
	typed := f.LineAt(min(in.Typed, len(f.Text())))
	for i := f.LineAt(d.Span.Start) + 1; i < f.NumLines(); i++ {
		if slices.ContainsFunc(f.Line(i).Stmts, func(s syntax.Stmt) bool { return s.Kind != syntax.Label && (i > typed || !placesNothing(&s)) }) {
			return false
		}
	}
	return true
}

// placesNothing says whether a statement is a directive that is no code and no data, and after which
// code may go on.
func placesNothing(s *syntax.Stmt) bool {
	if s.Kind == syntax.Assign {
		return true
	}
	return s.Kind == syntax.Directive && slices.Contains([]syntax.Effect{syntax.EffIf, syntax.EffElseif, syntax.EffElse, syntax.EffEndif, syntax.EffSet, syntax.EffEqv,
		syntax.EffGlobal, syntax.EffExtern, syntax.EffType, syntax.EffThumbFunc, syntax.EffReq, syntax.EffUnreq}, s.Directive.Effect)
}

// Guess is what the source was taken for; nil where nothing was guessed.
func (r *Result) Guess() *Guess { return r.in.Guess }

// Told is what build files near the source say of macros, symbols and the preprocessor, as
// far as the source asked for it; nil: it did not.
func (r *Result) Told() *Settings { return r.in.told }

// Said is the target that the source's first directive about it names; nil: there is none.
func (r *Result) Said() *Evidence { return saidTarget(r, "") }

// Diagnostics of the root file and of every file it includes, sorted by path
// (root first), then position. What one mistake brings is one finding in each file, with
// the other places in Same; rewrites are offered at all of them. They must not be changed.
func (r *Result) Diagnostics() []Diagnostic { r.run(); return r.whole.diags }

// SameHere says of a place in Same what it is.
const SameHere = wording.SameHere

// Each is Diagnostics with a finding for each line, whatever they have in common. They must
// not be changed.
func (r *Result) Each() []Diagnostic { r.run(); return r.whole.each }

func (r *Result) view() *describe.View {
	v := &describe.View{Evaluator: eval.New(r.prog), Diags: r.each, Known: r.known}
	if r.in.Set != nil {
		v.Waits = r.in.Set.Waits
	}
	return v
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

// questions are put to one subject, which keeps what it has found out for the next ones.
type questions struct {
	subject *rewrite.Subject
	left    int                // what the proofs for the present one may take
	stop    context.CancelFunc // ends it
}

// ask puts a question to the subject for rewrites. The context ends when the proofs have
// taken more than they may.
func (r *Result) ask(ctx context.Context, most int, question func(context.Context, *rewrite.Subject)) {
	r.lock.Lock()
	defer r.lock.Unlock()
	if r.asking == nil {
		r.asking = r.newQuestions()
	}
	ctx, r.asking.stop = context.WithCancel(ctx)
	defer r.asking.stop()
	r.asking.left = most
	question(ctx, r.asking.subject)
}

func (r *Result) newQuestions() *questions {
	q := &questions{left: maxAsked, stop: func() {}}
	q.subject = rewrite.NewSubject(r.prog, r.each, func(ctx context.Context, f *syntax.File) (*program.Program, []Diagnostic, error) {
		in := *r.in
		in.File, in.Before = f, r
		again, err := analyzeARM(ctx, &in)
		if err != nil {
			return nil, nil, err
		}
		if q.left -= again.prog.Work; q.left < 0 {
			r.costly.Store(true)
			q.stop()
			return nil, nil, context.Canceled
		}
		return again.prog, again.each, nil
	}, r.runOf, r.in.Shared)
	return q
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
	t, err := r.forRename().At(path, off)
	if err == nil && t.Kind == rename.Parameter {
		if h, ok := r.hoverParameter(t); ok {
			return h, true
		}
	}
	if h, ok := r.view().HoverIn(path, off); ok {
		return h, true
	}
	if err != nil && !t.Defined { // what the settings define cannot be renamed, and is described all the same
		return Hover{}, false
	}
	return r.hoverName(t)
}

// Held lists what registers hold after the lines from line to line, from 0, of a file of
// the program, where that is known and does not stand on the line.
func (r *Result) Held(path string, from, to int) []describe.Held {
	return r.view().Held(path, from, to)
}

// Definition of the symbol at byte offset off of the root file; for an
// .include, the file.
func (r *Result) Definition(off int) []Location { return r.DefinitionIn(r.prog.Path, off) }

// DefinitionIn is Definition for a file of the program.
func (r *Result) DefinitionIn(path string, off int) []Location {
	p := r.forRename()
	t, err := p.At(path, off)
	if err == nil && t.Kind == rename.Parameter {
		return p.DefinedFor(t, path, off)
	}
	if found := r.view().DefinitionIn(path, off); len(found) > 0 || err != nil {
		return found
	}
	return p.DefinedFor(t, path, off)
}

// References lists the places that name what is at byte offset off of the
// root file, a macro or a symbol, with its definition; in the order of the
// text, every place once. What a macro makes is found at its call.
func (r *Result) References(off int) []Location { return r.ReferencesIn(r.prog.Path, off) }

// ReferencesIn is References for a file of the program.
func (r *Result) ReferencesIn(path string, off int) []Location {
	return r.namedLike(path, off)
}

// CompletionsIn lists what may be written at byte offset off of a file of the program, and
// the word there that it takes the place of.
func (r *Result) CompletionsIn(path string, off int) ([]Completion, Span) {
	return r.view().CompletionsIn(path, off, nil)
}

// CompletionsAmong is CompletionsIn with what other sources define for all, which elsewhere visits.
func (r *Result) CompletionsAmong(path string, off int, elsewhere func(visit func(Elsewhere))) ([]Completion, Span) {
	return r.view().CompletionsIn(path, off, elsewhere)
}

// IncludedIn finds the name of an included file that is being written around byte offset off of
// a file of the program.
func (r *Result) IncludedIn(path string, off int) (Included, bool) {
	return r.view().IncludedIn(path, off)
}

// Documentation is what is known of a symbol or macro, as Markdown; empty without one.
func (r *Result) Documentation(name string) string { return r.view().Documentation(name) }

// FoldsIn lists what can be folded in a file of the program.
func (r *Result) FoldsIn(path string) []Fold { return r.view().FoldsIn(path) }

// Around gives what lists the stretches of text around a byte offset of a file of the program, the
// smallest first.
func (r *Result) Around(path string) func(off int) []Span { return r.view().Around(path) }

// Symbols is the outline of the root file: labels with what they own,
// constants, register names, macros, sections.
func (r *Result) Symbols() []DocSymbol { return r.SymbolsIn(r.prog.Path) }

// SymbolsIn is the outline of a file of the program.
func (r *Result) SymbolsIn(path string) []DocSymbol { return r.view().SymbolsIn(path) }

// Actions offers the rewrites for the findings in the root file whose
// statement touches span, best first. Each is proven: the analysis of its result has that
// finding no more, and no new one.
func (r *Result) Actions(ctx context.Context, span Span) (list []Action) {
	r.ask(ctx, maxAsked, func(ctx context.Context, s *rewrite.Subject) { list = s.Actions(ctx, span) })
	return list
}

// SafeFixes applies the preferred safe rewrites for all findings of code in
// the root file (all codes when empty) and returns the edits against the
// original text; none if their proofs take too long, see [Result.Costly].
func (r *Result) SafeFixes(ctx context.Context, code string) (edits []Edit) {
	r.ask(ctx, maxFixed, func(ctx context.Context, s *rewrite.Subject) { edits = s.SafeFixes(ctx, code) })
	return edits
}

// TokensIn lists the words of lines of a file of the program with what they are, from line
// from up to to, counted from 0, without the last one.
func (r *Result) TokensIn(path string, from, to int) []Token {
	return r.view().TokensIn(path, from, to)
}

// SignaturesIn lists the ways to write the statement whose operands byte offset off of a file
// of the program is in; ok is false elsewhere.
func (r *Result) SignaturesIn(path string, off int) (Signatures, bool) {
	return r.view().SignaturesIn(path, off)
}

// HintsIn lists the hints of some kinds for the statements in a stretch of a file of the
// program, in the order of the text.
func (r *Result) HintsIn(path string, span Span, kinds []HintKind) []InlayHint {
	return r.view().HintsIn(path, span, kinds)
}
