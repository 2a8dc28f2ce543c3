package rewrite

import (
	"cmp"
	"context"
	"slices"
	"sort"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// analyzer analyses a text in the place of a program's root file.
type analyzer func(ctx context.Context, f *syntax.File) (*program.Program, []finding.Diagnostic, error)

// runner looks for what goes wrong when a program runs, in which there are findings already.
type runner func(ctx context.Context, r *program.Program, diags []finding.Diagnostic) []finding.Diagnostic

// Subject is an analysed program for whose findings rewrites are sought.
type Subject struct {
	flow.Paths
	diags   []finding.Diagnostic
	analyze analyzer
	run     runner
	// late are the findings of what goes wrong when the program runs, once something asks.
	late    []finding.Diagnostic
	hasLate bool
	onWhole bool // nothing is left out for proofs
	cut     *cut // what proofs may leave out, once it is known
	// stretches is what counts on distances, once it is measured.
	stretches []flow.Stretch
	measured  bool
	// spent are the statements that proofs have analysed, a finding as several.
	spent int
	// inPart and inWhole count proofs by what they have analysed.
	inPart, inWhole int
}

// NewSubject makes one. analyze is what proofs are made with, and shared says whether other
// sources include the root file; nil: none does. What a question has
// found out about the program is kept for those after it. run finds what goes wrong when a
// program runs.
func NewSubject(r *program.Program, diags []finding.Diagnostic, analyze analyzer, run runner, shared func() bool) *Subject {
	return &Subject{Paths: flow.Paths{Evaluator: eval.New(r), Shared: shared}, diags: diags, analyze: analyze, run: run}
}

// maxLate bounds the programs, in statements, for which rewrites are offered that cure what
// goes wrong when they run: each proof follows the whole program.
const maxLate = 20_000

// lateFindings are those of what goes wrong when the program runs.
func (r *Subject) lateFindings(ctx context.Context) []finding.Diagnostic {
	if !r.hasLate && r.run != nil && len(r.Items) <= maxLate {
		r.late, r.hasLate = r.run(ctx, r.Program, r.diags), true
	}
	return r.late
}

// OnWhole is the subject with proofs that leave nothing of the program out, which gives
// the same and takes longer.
func (r *Subject) OnWhole() *Subject {
	all := *r
	all.onWhole = true
	return &all
}

// again is the subject with another text.
func (r *Subject) again(ctx context.Context, f *syntax.File) (*Subject, error) {
	p, diags, err := r.analyze(ctx, f)
	if err != nil {
		return nil, err
	}
	return NewSubject(p, diags, r.analyze, r.run, r.Shared), nil
}

// candidate is a rewrite before its proof.
type candidate struct {
	name, title string
	edits       []finding.Edit
	wrong       isa.Flags // flags that come out with other values than the line's
	named       bool      // the line has no meaning yet: nothing to say about flags
	notes       []string  // what else differs
	safe        bool
	whole       bool // it edits all over the file, and is proven on all of it
	wide        bool // that, and it changes how other lines are read
	fallback    bool // only where the candidate before it fails
	late        int  // less likely what an author would type: in half bytes
}

// onWhole says whether the proof has to be on the whole program.
func (k *candidate) onWhole() bool { return k.whole || k.wide }

// rewriting is what a rewrite works with: one finding, the statement it is
// about, and helpers that write text as the author does.
type rewriting struct {
	subject     *Subject
	diagnostic  *finding.Diagnostic
	item        *program.Item
	environment *program.Environment
	line        string // the line's text
	name        string
	out         []candidate
	ops         []isa.Operand // operands with their values
	// divided: the edits made last divide an IT block.
	divided bool
	// onlySafe: nobody wants what is never safe.
	onlySafe bool
	// late: the finding is of what goes wrong when the program runs.
	late bool
	// live are the flags that something may read after the line, of those asked about.
	live, asked isa.Flags
}

// Actions offers the rewrites for the findings in the root file whose
// statement touches span, best first. Each is proven: the analysis of its result has that
// finding no more, and no new one.
func (r *Subject) Actions(ctx context.Context, span finding.Span) []Action {
	var out []Action
	r.spent = 0
	r.lateFindings(ctx)
	list, early := r.told(true), len(r.diags)
	late := map[*finding.Diagnostic]bool{}
	for _, d := range list[early:] {
		late[d] = true
	}
	slices.SortStableFunc(list, func(a, b *finding.Diagnostic) int {
		return cmp.Or(cmp.Compare(a.Span.Start, b.Span.Start), cmp.Compare(a.Severity, b.Severity))
	})
	for _, d := range list {
		out = append(out, r.offered(ctx, d, span, late[d])...)
	}
	return out
}

// offered are the rewrites for one finding, if its statement touches span.
func (r *Subject) offered(ctx context.Context, d *finding.Diagnostic, span finding.Span, late bool) []Action {
	if c := finding.ByCode(d.Code); d.Path != r.Path || c == nil || len(c.Rewrites) == 0 {
		return nil // before a look at its place: a line may have very many statements
	}
	if s := r.stmtSpan(d); s.Start > span.End || s.End < span.Start || ctx.Err() != nil || r.spent > MaxProving {
		return nil
	}
	return r.actionsFor(ctx, d, late)
}

// A whole file may be selected: when the proofs for one question have analysed this many
// statements, no further finding is looked into. A finding costs as much as some
// statements.
const (
	MaxProving = 60_000
	aFinding   = 16
)

// Proofs says how many proofs have analysed a part of the program, and the whole of it.
func (r *Subject) Proofs() (part, whole int) { return r.inPart, r.inWhole }

// aPass is how many statements are passed over in the time that it takes to analyse one.
const aPass = 20

// stmtSpan is the span of the statement that a finding is about, the
// finding's own span with it.
func (r *Subject) stmtSpan(d *finding.Diagnostic) finding.Span {
	s := d.Span
	if it := r.ItemAt(s.Start); it != nil {
		whole := r.Span(0, int(it.Line), it.Stmt.Start, it.Stmt.End)
		s.Start = min(s.Start, whole.Start)
		s.End = max(s.End, whole.End)
	}
	return s
}

// rewritable says whether there may be rewrites for a finding.
func rewritable(d *finding.Diagnostic) bool {
	c := finding.ByCode(d.Code)
	return c != nil && len(c.Rewrites) > 0 && (!d.Expanded || ofMode(d.Cause)) && !d.Left
}

// ofMode says whether a cause of findings is the instruction set that the file is read in.
func ofMode(cause string) bool {
	return cause == finding.CauseThumb || cause == finding.CauseStartThumb || cause == finding.CauseStartArm
}

// written is an item of the root file with its statement as it is in the text, so that an
// edit can be beside it; nil for one of another file, and for one that the preprocessor
// made.
func (r *Subject) written(it *program.Item) *program.Item {
	if it.File != 0 {
		return nil
	}
	w, _ := r.AsWritten(it)
	return w
}

// propose makes the candidates for a finding, nil where there can be none. onlySafe: those
// may be left out that are never safe.
func (r *Subject) propose(d *finding.Diagnostic, onlySafe, late bool) *rewriting {
	if !rewritable(d) {
		return nil
	}
	it := r.ItemAt(d.Span.Start)
	if len(d.Says) > 0 { // it is about the file, whatever is in its first line
		it = r.firstItem()
	}
	if it == nil && d.Expanded {
		it = r.askedFor(d)
	}
	if it == nil {
		return nil
	}
	written, ok := r.AsWritten(it)
	if !ok {
		return nil
	}
	w := r.rewriting(it, d)
	w.item, w.onlySafe, w.late = written, onlySafe, late
	for _, n := range finding.ByCode(d.Code).Rewrites {
		rw := Find(n)
		if rw == nil || d.Expanded && n != "add-mode" {
			continue
		}
		if _, uneven := w.unevenStack(); uneven && n != "round-stack" {
			continue // nothing keeps a stack pointer that is no multiple of 4
		}
		before := len(w.out)
		rw.apply(w)
		for k := before; k < len(w.out); k++ {
			w.out[k].name = n
			w.out[k].whole = w.out[k].whole || late
			if note := w.misaligned(); note != "" {
				w.out[k].safe = false
				w.out[k].notes = append(w.out[k].notes, note)
			}
		}
	}
	return w
}

// askedFor is the item of the root file that makes the line of a finding, as a repetition does;
// nil: there is none.
func (r *Subject) askedFor(d *finding.Diagnostic) *program.Item {
	for i := range r.Items {
		it := &r.Items[i]
		if it.File == 0 || r.StmtLoc(it).Span.Start != d.Span.Start {
			continue
		}
		for it.File != 0 {
			it = &r.Items[r.Sources[it.File].From]
		}
		return it
	}
	return nil
}

// firstItem is the first statement of the root file; nil: there is none.
func (r *Subject) firstItem() *program.Item {
	for i := range r.Items {
		if r.Items[i].File == 0 {
			return &r.Items[i]
		}
	}
	return nil
}

// rewriting is what rewrites of an item's line begin with.
func (r *Subject) rewriting(it *program.Item, d *finding.Diagnostic) *rewriting {
	return &rewriting{subject: r, diagnostic: d, item: it, environment: &r.Environments[it.Environment],
		line: r.Sources[0].Written(int(it.Line)), name: it.Stmt.Name, ops: r.OperandsOf(it)}
}

func (r *Subject) actionsFor(ctx context.Context, d *finding.Diagnostic, late bool) []Action {
	w := r.propose(d, false, late)
	if w == nil {
		return nil
	}
	type offer struct {
		a    Action
		code string // see trial.code
		rank int
	}
	var offers []offer
	var all []finding.Edit
	for i := range w.out {
		if !w.out[i].onWhole() {
			all = append(all, w.out[i].edits...)
		}
	}
	part, proven := r.extractFor(ctx, all), false
	if part != nil {
		r.spent += len(r.Items)/aPass + len(part.Items)
	}
	for i := range w.out {
		if ctx.Err() != nil {
			return nil
		}
		if w.out[i].fallback && proven {
			continue
		}
		var a Action
		var code string
		if a, code, proven = w.prove(ctx, part, &w.out[i]); proven {
			offers = append(offers, offer{a, code, w.rank(&a, &w.out[i])})
		}
	}
	sort.SliceStable(offers, func(i, j int) bool { return offers[i].rank < offers[j].rank })
	var out []Action
	for i := range offers {
		a, code := offers[i].a, offers[i].code
		if code != "" && slices.ContainsFunc(offers[:i], func(o offer) bool { return o.code == code && o.a.Bytes == a.Bytes }) {
			continue // it does what a better one does
		}
		a.Preferred = i == 0
		out = append(out, a)
	}
	return out
}

// misaligned says that the line accesses memory at an offset that is no multiple of its
// unit, and so at none to keep without thought; empty where it does not.
func (c *rewriting) misaligned() string {
	n := len(c.ops) - 1
	if n < 1 || c.ops[n].Kind != isa.OpMem || c.ops[n].Off != isa.OffImm {
		return ""
	}
	if c.diagnostic.Code != finding.CodeConstAlign {
		unit := c.item.Stmt.Mnemonic.Unit(isa.T)
		if c.wide() || c.diagnostic.Code != finding.CodeConstRange || unit < 2 || c.ops[n].Imm%int64(unit) == 0 {
			return ""
		}
	}
	base := c.inCase(c.ops[n].Reg.String())
	if c.ops[n].Reg == isa.SP {
		return "misaligned, as " + base + " is a multiple of 4"
	}
	return "misaligned where " + base + " is a multiple of 4"
}
