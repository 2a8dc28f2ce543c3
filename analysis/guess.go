package analysis

import (
	"cmp"
	"context"
	"math/bits"
	"regexp"
	"slices"
	"strings"
	"sync"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Guess is what is known about a source's target where neither settings nor directives say
// it: from files near the source, or from what it needs itself.
type Guess struct {
	// Settings has Arch or CPU, FPU, StartMode, Syntax, ImplicitIT and Defines, each empty
	// where the default holds.
	Settings Settings
	// Name is what tells it: an instruction, or an option. Line is where it is, from 0 or
	// -1, and File in which file; empty: in the source.
	Name string
	Line int
	File string
}

// Evidence is what a file near a source says about its target.
type Evidence struct {
	Settings Settings // Arch or CPU, FPU, ImplicitIT, Defines
	File     string   // its path, as seen from the source's folder
	Line     int      // from 0
	Text     string   // what says it, as in -mcpu=cortex-m4
}

// guessable are the architectures among which a guess chooses, the smallest first: what
// one takes is taken for it, not for a later one. Cores that have the extensions named are
// the usual ones (common practice).
var guessable = []string{
	"armv4t", "armv5te", "armv6", "armv6k", "armv6s-m", "armv7-m", "armv7e-m", "armv7-a+mp+sec", "armv7-r", "armv7ve",
	"armv8-m.base", "armv8-m.main", "armv8-m.main+dsp", "armv8-r", "armv8-a+crc", "armv8.5-a", "armv8.1-m.main+dsp", "all",
}

// What a line says against an architecture that does not take it.
const (
	taken     = iota
	noOperand // an operand may be a slip
	noName    // a name that it does not know is hardly one
)

// Lines with such operands say something together: from so many on, and that part of all.
const (
	manyOperands = 12
	operandsPart = 2 // one in so many
)

// maxGuessed is how many statements a guess looks at: those of the first lines. It analyses
// them several times, whatever comes after.
const maxGuessed = 20_000

// AnalyzeGuessing is Analyze, for the target that the source itself speaks for where
// neither settings nor directives say it; see Input.Guess.
func AnalyzeGuessing(ctx context.Context, in *Input) (*Result, error) {
	r, err := Analyze(ctx, in)
	if err != nil || in.Guess != nil {
		return r, err
	}
	guess, err := GuessTarget(ctx, in, r)
	if err != nil {
		return nil, err
	}
	if guess == nil {
		return r, nil
	}
	as := *in
	as.Guess = guess
	return Analyze(ctx, &as)
}

// apply gives settings with what was guessed where they say nothing.
func (g *Guess) apply(set *Settings) *Settings {
	out := Settings{}
	if set != nil {
		out = *set
	}
	fill := func(to *string, from string) {
		if *to == "" {
			*to = from
		}
	}
	fill(&out.Arch, g.Settings.Arch)
	fill(&out.CPU, g.Settings.CPU)
	fill(&out.FPU, g.Settings.FPU)
	fill(&out.StartMode, g.Settings.StartMode)
	fill(&out.Syntax, g.Settings.Syntax)
	fill(&out.ImplicitIT, g.Settings.ImplicitIT)
	out.Defines = slices.Concat(g.Settings.Defines, out.Defines) // of two with one name the last counts
	return &out
}

// String says what was guessed, and why.
func (g *Guess) String() string {
	s := &g.Settings
	return wording.TargetGuessed(&wording.Target{
		Arch: s.Arch, CPU: s.CPU, FPU: s.FPU, Mode: s.StartMode, Syntax: s.Syntax, Name: g.Name, File: g.File, Line: g.Line,
	})
}

// hint says what was guessed, at the first line.
func (g *Guess) hint(in *Input, p *program.Program) Diagnostic {
	return Diagnostic{
		Location: Location{Path: in.Path, Span: Span{End: len(in.File.Line(0).Text)}},
		Severity: Hint, Code: finding.CodeTarget,
		Message: g.String(), Says: g.directives(p),
	}
}

// directives are those that say what was guessed, as people order them; nil where they cannot:
// not for what only a setting says, not in the column dialect, and not to the preprocessor,
// whose conditions ask for the target that the command line has.
func (g *Guess) directives(p *program.Program) (out []string) {
	set := &g.Settings
	if set.ImplicitIT != "" || len(set.Defines) > 0 || p.File.Dialect().Words() || p.Sources[0].Preprocessed() {
		return nil
	}
	if set.Syntax != "" {
		out = append(out, ".syntax "+set.Syntax)
	}
	switch {
	case set.CPU != "":
		out = append(out, ".cpu "+set.CPU)
	case set.Arch != "":
		name, extensions, _ := strings.Cut(set.Arch, "+")
		out = append(out, ".arch "+name)
		for e := range strings.SplitSeq(extensions, "+") {
			if e != "" {
				out = append(out, ".arch_extension "+e)
			}
		}
	}
	if set.FPU != "" {
		out = append(out, ".fpu "+set.FPU)
	}
	said, _ := saidModes(p)
	switch {
	case set.StartMode == "arm":
		out = append(out, ".arm")
	case set.StartMode == "thumb", !said && p.Environments[0].Mode == isa.T:
		out = append(out, ".thumb") // which a setting of a target without A32 says, and a directive does not
	}
	return out
}

// directs says whether directives of a program say what the target is.
func directs(p *program.Program) bool {
	for i := range p.Items {
		if s := p.Items[i].Stmt; s.Kind == syntax.Directive && (s.Directive.Effect == syntax.EffCPU || s.Directive.Effect == syntax.EffArch) {
			return true
		}
	}
	return false
}

// chosen says whether something says what the target of a program is.
func chosen(p *program.Program) bool {
	return slices.ContainsFunc(p.Environments, func(e program.Environment) bool { return e.Chosen })
}

// SaysTarget says whether a directive in the program names its target.
func (r *Result) SaysTarget() bool {
	return slices.ContainsFunc(r.prog.Environments, func(e program.Environment) bool { return e.Said })
}

// GuessTarget looks for a target for in, of which r is the analysis with the default
// target: the one that files nearby name, if the source agrees, and else the one that takes
// what r refuses. It is nil where there is nothing to guess: settings or directives say
// what the target is, all lines are taken, or no other takes clearly more.
func GuessTarget(ctx context.Context, in *Input, r *Result) (*Guess, error) {
	if in.Set != nil && (in.Set.Guess == "never" || in.Set.Arch != "" || in.Set.CPU != "" || in.Set.FPU != "") {
		return nil, ctx.Err()
	}
	if r.foreign {
		return nil, ctx.Err()
	}
	if chosen(r.prog) {
		return nil, nil
	}
	var told []Evidence
	if in.Evidence != nil {
		told = in.Evidence()
	}
	if len(told) == 0 {
		if why := raised(r); why != nil {
			return unraised(ctx, in, why)
		}
		if refusals(r.prog) == 0 {
			return nil, ctx.Err()
		}
	}
	best, thumb, err := widest(ctx, beginning(in), r.prog)
	if err != nil {
		return nil, err
	}
	own := best.rate(nil)
	chosen := own.choose()
	if g := agreed(told, best, thumb, best.refused+own.names[chosen], own.all); g != nil {
		return g, nil
	}
	if in.Beside != nil {
		if g := own.together(best, thumb, chosen, in.Beside(ctx)); g != nil {
			return g, nil
		}
	}
	return own.guess(chosen, best), nil
}

// raised is the first #error that a program meets; nil: there is none.
func raised(r *Result) *Diagnostic {
	for i := range r.diags {
		d := &r.diags[i]
		if d.Code != finding.CodePreprocessor || d.Severity != Error || d.Path != r.in.Path {
			continue
		}
		if errorLine().MatchString(r.in.File.Line(r.in.File.LineAt(d.Span.Start)).Text) {
			return d
		}
	}
	return nil
}

// errorLine is compiled when it is asked for, which is hardly ever.
var errorLine = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^\s*#\s*error\b`) })

// unraised is the smallest architecture for which a source has no #error, and is taken as
// a whole: it says itself which ones it is for.
func unraised(ctx context.Context, in *Input, why *Diagnostic) (*Guess, error) {
	if in.File.NumStmts() > maxGuessed {
		return nil, nil
	}
	for _, arch := range guessable[1:] {
		as := *in
		as.Guess = &Guess{Settings: Settings{Arch: arch}, Name: "#error", Line: in.File.LineAt(why.Span.Start)}
		if r, err := Analyze(ctx, &as); err != nil {
			return nil, err
		} else if raised(r) == nil && refusals(r.prog) == 0 {
			return as.Guess, nil
		}
	}
	return nil, nil
}

// guess is the guess for an architecture that was chosen; nil where it is what holds
// without one.
func (c *rating) guess(chosen int, from *reading) *Guess {
	set, p := &from.set, from.prog
	if k := slices.Index(guessable, "armv7-a+mp+sec"); chosen == 0 && c.vector != nil && c.names[k] <= c.names[0] && c.misses[k] <= c.misses[0] {
		chosen = k // such units are mostly those of A profile (common practice)
	}
	if guessable[chosen] == DefaultArch && set.StartMode == "" && set.Syntax == "" {
		return nil
	}
	g := &Guess{Settings: Settings{StartMode: set.StartMode, Syntax: set.Syntax}, Line: -1}
	if guessable[chosen] != DefaultArch {
		g.Settings.Arch = guessable[chosen]
	}
	if c.vector != nil {
		g.Settings.FPU = set.FPU
		if have := c.have[chosen]; have.Has(isa.FeatM) && !have.Has(isa.FeatA32) {
			g.Settings.FPU = "fpv5-d16"
		}
	}
	it := c.evidence(chosen)
	if it == nil {
		it = c.vector
	}
	if it != nil {
		g.Name = evidenceText(eval.New(p), it)
		if it.File == 0 {
			g.Line = int(it.Line)
		}
	}
	return g
}

// Lines that the target of a build file does not know may be slips, as long as they are
// no more than so many, or one in so many.
const (
	fewSlips  = 2
	slipsPart = 8
)

// agreed chooses among the targets that build files name the one that knows most of a
// source; the smallest of several. It is nil where none fits: then the source, of which
// so many of all lines are unknown to whatever it is taken for, is of another target.
func agreed(told []Evidence, best, thumb *reading, unknown, all int) *Guess {
	chosen, names, _ := fitting(withCores(told), best, thumb)
	if chosen == nil || names > unknown+max(fewSlips, all/slipsPart) {
		return nil
	}
	return chosen
}

// withCores is what build files say, with the extensions that the cores of a plain armv7-a have,
// and its name leaves out (common practice), as one more target for a source that needs them.
func withCores(told []Evidence) []Evidence {
	out := slices.Clone(told)
	for _, e := range told {
		if e.Settings.Arch == "armv7" || e.Settings.Arch == "armv7-a" {
			e.Settings.Arch = "armv7-a+mp+sec"
			out = append(out, e)
		}
	}
	return out
}

// fitting is the target that knows most of a source, with how many lines have names and
// operands that it does not have; nil: none is known.
func fitting(told []Evidence, best, thumb *reading) (chosen *Guess, names, misses int) {
	var size int
	var have []isa.Features
	var known []Evidence
	for _, e := range told {
		if env, err := e.Settings.env(); err == nil {
			known, have = append(known, e), append(have, env.Have)
		}
	}
	if len(known) == 0 {
		return nil, 0, 0
	}
	rated := map[*reading]*rating{best: best.rate(have)}
	if best != thumb {
		rated[thumb] = thumb.rate(have)
	}
	for i := range known {
		e, have, k := &known[i], have[i], len(guessable)+i
		from := best
		if !have.Has(isa.FeatA32) {
			from = thumb
		}
		c := rated[from]
		n, m, s := from.refused+c.names[k], c.misses[k], bits.OnesCount64(uint64(have))
		if chosen != nil && cmp.Or(cmp.Compare(n, names), cmp.Compare(m, misses), cmp.Compare(s, size)) >= 0 {
			continue
		}
		names, misses, size = n, m, s
		chosen = &Guess{Settings: e.Settings, Name: e.Text, File: e.File, Line: e.Line}
		chosen.Settings.Syntax = from.set.Syntax
		if have.Has(isa.FeatA32) {
			chosen.Settings.StartMode = from.set.StartMode
		}
	}
	return chosen, names, misses
}

// beginning is the input with as many of its first lines as a guess looks at.
func beginning(in *Input) *Input {
	f, n := in.File, 0
	for i := range f.NumLines() {
		if n += len(f.Line(i).Stmts); n > maxGuessed {
			as := *in
			as.File = f.Edit(f.LineStart(i), len(f.Text()), "").As(f.Dialect())
			return &as
		}
	}
	return in
}

// refusals counts the instructions that are refused, and those with unknown names.
func refusals(p *program.Program) (n int) {
	for i := range p.Items {
		it := &p.Items[i]
		if it.Stmt.Kind != syntax.Instruction {
			continue
		}
		// IT comes to nothing in A32 code.
		nothing := it.Match.Form == nil && !(it.Stmt.Mnemonic.OpensBlock() && p.Environments[it.Environment].Mode == isa.A)
		if nothing || it.Flags&program.Refused != 0 {
			n++
		}
	}
	return n
}

// reading is a source as a program with all instructions of all architectures.
type reading struct {
	prog    *program.Program
	set     Settings // StartMode and Syntax, and FPU
	refused int      // instructions that nobody takes
}

// widest reads a source in the instruction set and the syntax in which most lines are
// taken, where no directive says these. thumb is the same for a target that has no A32.
func widest(ctx context.Context, in *Input, was *program.Program) (best, thumb *reading, err error) {
	modes, syntaxes := []string{""}, []string{""}
	mode, syn := saidModes(was)
	base := Settings{}
	if in.Set != nil {
		base = *in.Set
	}
	if !mode && base.StartMode == "" {
		modes = append(modes, "thumb")
	}
	if !syn && base.Syntax == "" {
		syntaxes = append(syntaxes, "unified")
	}
	for _, s := range syntaxes {
		for _, m := range modes {
			try := base
			try.Arch, try.FPU = everything, "crypto-neon-fp-armv8.1"
			if m != "" {
				try.StartMode = m
			}
			if s != "" {
				try.Syntax = s
			}
			as := *in
			as.Set, as.brief = &try, true
			p, err := programOf(ctx, &as)
			if err != nil {
				return nil, nil, err
			}
			now := &reading{p, Settings{FPU: try.FPU, StartMode: m, Syntax: s}, refusals(p)}
			few := 0 // lines that may be slips: without .syntax, assemblers take the divided one
			if s != "" {
				few = min(fewSlips, instructions(p)/slipsIn)
			}
			if now.refused == 0 {
				few = min(few, 1) // one may be a slip, but nothing speaks against this syntax
			}
			if best == nil || now.refused+few < best.refused {
				best = now
			}
			if (m != "" || len(modes) == 1) && (thumb == nil || now.refused+few < thumb.refused) {
				thumb = now
			}
		}
	}
	return best, thumb, nil
}

// slipsIn is in how many instructions of the divided syntax there may be one that is none.
const slipsIn = 12

// instructions counts those of a program.
func instructions(p *program.Program) (n int) {
	for i := range p.Items {
		if p.Items[i].Stmt.Kind == syntax.Instruction {
			n++
		}
	}
	return n
}

// saidModes says whether directives of a program say the instruction set, or the syntax.
func saidModes(p *program.Program) (mode, syn bool) {
	for i := range p.Items {
		if s := p.Items[i].Stmt; s.Kind == syntax.Directive {
			switch s.Directive.Effect {
			case syntax.EffThumb, syntax.EffArm, syntax.EffCode:
				mode = true
			case syntax.EffSyntax:
				syn = true
			}
		}
	}
	return mode, syn
}

// rating is what each architecture takes of a program's lines.
type rating struct {
	have   []isa.Features
	lines  []*program.Item // that not all of them take
	says   [][]uint8       // of these, by architecture
	names  []int           // by architecture, the lines with names that it does not know
	misses []int           // and those with operands that it does not take
	all    int             // lines looked at
	odd    int             // of these, those that some architecture does not take
	vector *program.Item   // the first line of floating point or vectors
	missed []int           // architectures, of the line that is looked at
}

// targetsOf is what architectures have, with the largest floating-point unit.
func targetsOf(names []string) (out []isa.Features) {
	for _, name := range names {
		var e program.Environment
		_, _ = choose(&e.Selection, "arch", name, e.Selection.SelectArch, isa.ArchNames)
		if e.Selection.AddFPU("crypto-neon-fp-armv8.1"); e.Selection.Have().Has(isa.FeatM) && !e.Selection.Have().Has(isa.FeatA32) {
			e = program.Environment{} // vectors of that kind are of the other profiles
			_, _ = choose(&e.Selection, "arch", name, e.Selection.SelectArch, isa.ArchNames)
			e.Selection.AddFPU("fpv5-d16")
		}
		out = append(out, e.Selection.Have())
	}
	return out
}

// rate rates the guessable architectures, and others after them.
func (r *reading) rate(more []isa.Features) *rating {
	have := append(targetsOf(guessable), more...)
	c := &rating{have: have, names: make([]int, len(have)), misses: make([]int, len(have))}
	p := r.prog
	v := eval.New(p)
	for i := range p.Items {
		it := &p.Items[i]
		if it.Stmt.Kind != syntax.Instruction || it.Stmt.Mnemonic == nil {
			continue
		}
		c.all++
		if c.vector == nil && it.Stmt.Mnemonic.Vector() {
			c.vector = it
		}
		if c.rate(v, it); c.odd >= maxGuessed {
			break // macros make many lines of few
		}
	}
	return c
}

// rate rates one line.
func (c *rating) rate(v *eval.Evaluator, it *program.Item) {
	v.Operands(it, true)
	q := v.Query(it, &v.Environments[it.Environment])
	some := it.Match.Form != nil // there are special registers that only M profile has
	missed := c.missed[:0]
	for k, have := range c.have {
		q.Have = have
		if m, ok := it.Stmt.Mnemonic.Match(&q, v.Ops); ok && !m.Refused(have) && (!q.A32 || have.Has(isa.FeatA32)) && (q.A32 || have.Has(isa.FeatT16)) {
			some = true
		} else {
			missed = append(missed, k)
		}
	}
	if c.missed = missed; len(missed) > 0 {
		c.odd++
	}
	if len(missed) == 0 || !some {
		return // everybody takes it, or nobody
	}
	says := make([]uint8, len(c.have))
	for _, k := range missed {
		q.Have = c.have[k]
		word, operand := false, false
		for r := range it.Stmt.Mnemonic.Refusals(&q, v.Ops) {
			operand = operand || r.Need == 0
			if word = r.Reason == isa.BadWord; word { // as of a special register
				break
			}
		}
		if says[k] = noName; !word && operand {
			says[k] = noOperand
		}
	}
	for k, say := range says {
		switch say {
		case noOperand:
			c.misses[k]++
		case noName:
			c.names[k]++
		}
	}
	c.lines, c.says = append(c.lines, it), append(c.says, says)
}

// choose is the smallest architecture than which no larger one knows more names, or takes
// clearly more operands.
func (c *rating) choose() int {
	best := 0
	for k := range guessable {
		names, misses := c.names[best]-c.names[k], c.misses[best]-c.misses[k]
		if names > 0 || names == 0 && misses >= manyOperands && misses >= c.all/operandsPart {
			best = k
		}
	}
	return best
}

// evidence is the first line that the chosen architecture takes and smaller ones do not.
func (c *rating) evidence(chosen int) *program.Item {
	var best *program.Item
	most := 0
	for i, it := range c.lines {
		if c.says[i][chosen] != taken {
			continue
		}
		n := 0
		for k := range chosen {
			n += int(c.says[i][k]) * int(c.says[i][k]) // names before operands
		}
		if n > most {
			best, most = it, n
		}
	}
	return best
}
