package analysis

import (
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// TargetFact is what a place of a program is taken for, and why: for a line of status.
type TargetFact struct {
	// Name is the architecture or the core, as the settings take it.
	Name string
	// Sets are the instruction sets that the code there is of: A32, T16, or T16 and T32.
	Sets string
	// Unified is the syntax in force.
	Unified bool
	// From says what tells the target.
	From TargetSource
	// Evidence is the line or option that tells it, and Where the line if it is in a file of
	// the program, with a path; else File and Line, from 0 or -1, are where it is.
	Evidence string
	Where    Location
	File     string
	Line     int
	// Text is all of it in a sentence.
	Text string
}

// TargetSource is what tells a target.
type TargetSource uint8

// What tells a target, the strongest first.
const (
	ByDirective TargetSource = iota
	BySettings
	ByGuess
	ByDefault
)

// String is directive, settings, guess or default.
func (s TargetSource) String() string {
	return [...]string{"directive", "settings", "guess", "default"}[s]
}

// TargetIn says what is taken for the target at byte offset off of a file of the program; at
// its start, what holds for the first instruction.
func (r *Result) TargetIn(path string, off int) TargetFact {
	v := r.view()
	file := max(v.FileOf(path), 0)
	at, said, code := -1, (*program.Item)(nil), false
	for i := range r.prog.Items {
		it := &r.prog.Items[i]
		if code && it.File == file && v.StmtLoc(it).Span.Start > off {
			break // what is below counts only where no code is above
		}
		code = code || it.Stmt.Kind == syntax.Instruction
		if d := it.Stmt.Directive; d != nil && it.Stmt.Kind == syntax.Directive && (d.Effect == syntax.EffCPU || d.Effect == syntax.EffArch) {
			said = it
		}
		at = i
	}
	e := &r.prog.Environments[0]
	if at >= 0 {
		e = &r.prog.Environments[r.prog.Items[at].Environment]
	}
	f := TargetFact{Name: e.Target, Sets: setsOf(e), Unified: e.Unified, Line: -1, From: ByDefault}
	switch g := r.in.Guess; {
	case said != nil:
		f.From, f.Evidence, f.Where = ByDirective, evidenceText(v.Evaluator, said), v.StmtLoc(said).Location
	case r.in.Set != nil && (r.in.Set.Arch != "" || r.in.Set.CPU != ""):
		f.From = BySettings
	case g != nil && (g.Settings.Arch != "" || g.Settings.CPU != ""):
		f.From, f.Evidence, f.File, f.Line = ByGuess, g.Name, g.File, g.Line
		if src := r.in.File; g.File == "" && g.Line >= 0 && g.Line < src.NumLines() {
			at := src.LineStart(g.Line)
			f.Where = Location{Path: r.in.Path, Span: Span{Start: at, End: at + len(src.Line(g.Line).Text)}}
		}
	}
	f.Text = wording.TargetFact(f.Name, f.Sets, f.Unified, f.From.String(), r.whereText(&f))
	return f
}

// whereText says what tells a target and where, for people.
func (r *Result) whereText(f *TargetFact) string {
	t := &wording.Target{Name: f.Evidence, File: f.File, Line: f.Line}
	if f.Where.Path != "" {
		file := r.prog.Sources[max(r.view().FileOf(f.Where.Path), 0)].File
		t.Line = file.LineAt(f.Where.Span.Start)
		if f.Where.Path != r.in.Path {
			t.File = f.Where.Path[strings.LastIndexAny(f.Where.Path, `/\`)+1:]
		}
	}
	return wording.Evidence(t)
}

// setsOf names the instruction sets of the code in an environment.
func setsOf(e *program.Environment) string {
	switch {
	case e.Mode == isa.A:
		return "A32"
	case e.Have.Has(isa.FeatT32):
		return "T16 and T32"
	}
	return "T16"
}

// evidenceText is a statement as people would quote it: on one line, without comments.
func evidenceText(v *eval.Evaluator, it *program.Item) string {
	text := syntax.WithoutComments(v.LineText(it)[it.Stmt.Start:it.Stmt.End])
	return wording.ClipText(strings.Join(strings.Fields(text), " "), 40)
}
