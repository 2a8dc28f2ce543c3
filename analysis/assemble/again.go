package assemble

import (
	"context"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// Most keystrokes concern one line: in a comment, in the operands of an instruction, in a
// number of a table. Where nothing else can depend on what changes, the program of the text
// before is taken over with a few statements replaced. Whatever is not known to be such a
// change is assembled anew, so this decides only how long it takes: TestAgain compares both.

// Earlier is a program that was assembled, with what Again needs to take it over.
type Earlier struct {
	*wording.Reporter
	// Found are the findings of the assembly, in the order in which it made them.
	Found  []finding.Diagnostic
	hashes bool // lines may be for the preprocessor, which has left the text alone
	laid   []layout.Laid
	looked int                    // symbols looked up, and what else Program.Work counts so
	places atomic.Pointer[places] // once something asks, or of an earlier program
}

// kept is what an assembly leaves for Again; nil where it has too many findings for that.
func (p *pass) kept() *Earlier {
	found := &p.Reporter
	if len(found.Diags) > maxKept || len(found.Items) > maxItems || found.Full() || len(found.Doubts) > 0 {
		return nil
	}
	return &Earlier{Reporter: found.Anew(found.Program), Found: slices.Clone(found.Diags), hashes: hashes(found.File, 0, found.File.NumLines()), laid: p.Laid(), looked: p.Steps}
}

// The bounds of what is taken over: so many findings and items, and lines that differ.
const (
	maxKept      = 400
	maxItems     = 300_000 // which would be held twice while they are taken over
	maxDifferent = 50
)

// Replaced is what came of Again.
type Replaced struct {
	*Earlier
	Reporter *wording.Reporter // has what is found
	// Items are those with another meaning: instructions and data.
	Items []int32
	// From and To are the lines of the earlier text that differ, To excluded, and Now are those in
	// their place.
	From, To, Now int
	old, file     *syntax.File
	lines         []int // what the lines from From to To are now; -1 for those without statements
	// Renumbered: items of the root file are in other lines than before.
	Renumbered bool
	// Other: items have other numbers and places than before, and New are in the place of Old.
	Other    bool
	Old, New []program.Item
	// Turned: a line elsewhere can be assembled now and could not, or the other way.
	Turned bool
	// A and B are the first of the earlier items that are gone and the one behind them, and C is
	// behind those in their place. Uneven are stretches of items that move by no multiple of a word.
	A, B, C int32
	Uneven  [][2]int32
}

// Again assembles an input that differs from that of an earlier program in a few lines, all
// else being the same. It is nil where the change may concern other lines, and for what an
// earlier program cannot be taken over for.
func Again(ctx context.Context, in *Input, before *Earlier) *Replaced {
	if before == nil || !comes(in, before.Program) {
		return nil
	}
	old := before.File
	r := &Replaced{old: old, file: in.File}
	r.From, r.To, r.Now = old.Differing(in.File)
	if max(r.To, r.Now)-r.From > maxDifferent {
		return nil
	}
	if out := r.replaced(ctx, in, before); out != nil || ctx.Err() != nil {
		return out
	}
	return moved(ctx, in, before, &Replaced{old: old, file: in.File, From: r.From, To: r.To, Now: r.Now})
}

// replaced is Again for what moves nothing.
func (r *Replaced) replaced(ctx context.Context, in *Input, before *Earlier) *Replaced {
	if !r.pair() || r.Renumbered && !moves(before) {
		return nil
	}
	hash := before.hashes || hashes(in.File, r.From, r.Now)
	if hash && preprocesses(in) {
		return nil
	}
	p := newAgain(ctx, in, before)
	if r.Renumbered && inBody(p.Program, itemFrom(p.Program, r.From)-1) {
		return nil
	}
	for k, now := range r.lines {
		if !p.replace(r, r.From+k, now) {
			return nil
		}
	}
	if ctx.Err() != nil {
		return nil
	}
	p.renumber(r)
	found := p.found(r, before)
	if found == nil {
		return nil
	}
	for i := range p.Excluded {
		if x := &p.Excluded[i]; x.File == 0 {
			x.Span = r.Moved(x.Span)
		}
	}
	r.Earlier = &Earlier{Reporter: before.Anew(p.Program), Found: found, hashes: hash, laid: before.laid, looked: before.looked}
	if x := before.places.Load(); x != nil {
		r.Earlier.places.Store(x.replaced(before.Program, r))
	}
	r.Reporter = before.Anew(p.Program)
	// As an assembly leaves it: a constant of a name that is not there is still looked for.
	r.Reporter.Phase, r.Reporter.Gen = eval.Resolving, 1
	r.Reporter.Diags = slices.Clone(found)
	return r
}

// pair finds what each line of the earlier text is now: those with statements are the same
// number in both, and the others mean nothing. It is false where they are not.
func (r *Replaced) pair() bool {
	next := r.From
	// skip goes to the next line with statements.
	skip := func() bool {
		for ; next < r.Now; next++ {
			if l := r.file.Line(next); len(l.Stmts) > 0 || l.EndsInComment() {
				return true
			}
		}
		return false
	}
	for line := r.From; line < r.To; line++ {
		now := -1
		if l := r.old.Line(line); len(l.Stmts) > 0 || l.EndsInComment() {
			if !skip() {
				return false
			}
			now = next
			next++
			r.Renumbered = r.Renumbered || now != line
		}
		r.lines = append(r.lines, now)
	}
	r.Renumbered = r.Renumbered || r.Now != r.To
	return !skip()
}

// Texts are how the earlier statements begin, which findings may quote.
func (r *Replaced) Texts() (out []string) {
	const enough = 20 // bytes: what is long is clipped
	for i := r.From; i < r.To; i++ {
		l := r.old.Line(i)
		for k := range l.Stmts {
			if text := l.Text[l.Stmts[k].Start:l.Stmts[k].End]; text != "" {
				out = append(out, text[:min(len(text), enough)])
			}
		}
	}
	return out
}

// moves says whether lines of a program may have other numbers: nothing is kept by its line.
func moves(before *Earlier) bool {
	return len(before.Macros) == 0 && len(before.Excluded) == 0 && !slices.ContainsFunc(before.Sources, func(s program.Source) bool { return s.Expansion != nil })
}

// lineNumber finds the number of a line of the same file in a message; see wording.Where. One of
// another file has its name in front or behind.
var lineNumber = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`\b(?:in|from) line ([0-9]+)(?:[^0-9 ]|$| [^o]| o[^f])`)
})

// renamed gives a finding the numbers that the lines which it names have now. It is false where
// one of them differs, or the message may mean something else.
func (r *Replaced) renamed(d *finding.Diagnostic) bool {
	at := lineNumber().FindAllStringSubmatchIndex(d.Message, -1)
	if strings.Count(d.Message, "line") != len(at) || d.Code == finding.CodeDirective { // which may have a text of the author's
		return false
	}
	for _, x := range slices.Backward(at) {
		n, err := strconv.Atoi(d.Message[x[2]:x[3]])
		if err != nil || n > r.From && n <= r.To || n > r.old.NumLines() {
			return false
		}
		if n > r.To {
			d.Message = d.Message[:x[2]] + strconv.Itoa(n-r.To+r.Now) + d.Message[x[3]:]
		}
	}
	return true
}

// renumber gives the items of the root file the lines that they are in now.
func (p *again) renumber(r *Replaced) {
	if !r.Renumbered {
		return
	}
	for i := range p.Items {
		if it := p.item(i); it.File == 0 && int(it.Line) >= r.From {
			it.Line = int32(r.lineNow(int(it.Line)))
		}
	}
}

// lineNow is where a line from From on is now.
func (r *Replaced) lineNow(line int) int {
	if line >= r.To {
		return line - r.To + r.Now
	}
	return max(r.lines[line-r.From], r.From)
}

// comes says whether the program of another text can be that of an input: one that is read as
// it is, and not by an .include of its own as well.
func comes(in *Input, old *program.Program) bool {
	f, g := in.File, old.File
	return f.Dialect() == g.Dialect() && !f.Dialect().Words() && f.Cut() < 0 && g.Cut() < 0 && !f.Crosses() && old.Sources[0].Unit == nil && !dollars(old) && old.Sources[0].File == g &&
		!slices.ContainsFunc(old.Sources[1:], func(s program.Source) bool { return s.Expansion == nil && s.Path == old.Path })
}

// dollars says whether a program has labels as 55$: what one of them means hangs on other labels.
func dollars(old *program.Program) bool {
	for n := range old.Locals {
		if n&syntax.DollarLabel != 0 {
			return true
		}
	}
	return false
}

// hashes says whether some of the lines from a to b begin as lines for the preprocessor do.
func hashes(f *syntax.File, a, b int) bool {
	for ; a < b; a++ {
		if strings.HasPrefix(f.Line(a).Text, "#") {
			return true
		}
	}
	return false
}

// Moved is where a stretch of the earlier text is now.
func (r *Replaced) Moved(s finding.Span) finding.Span {
	return finding.Span{Start: r.moved(s.Start), End: r.moved(s.End)}
}

func (r *Replaced) moved(off int) int {
	line := r.old.LineAt(off)
	if line < r.From {
		return off
	}
	return off - r.old.LineStart(line) + r.file.LineStart(r.lineNow(line))
}

// again assembles statements one by one, in the place of earlier ones.
type again struct {
	*pass
	before  *Earlier
	own     bool                 // the items are a copy
	removed []finding.Diagnostic // of the earlier statements
	added   []finding.Diagnostic // of those in their place
}

func newAgain(ctx context.Context, in *Input, before *Earlier) *again {
	prog := *before.Program
	prog.File = in.File
	prog.Sources = slices.Clone(prog.Sources)
	prog.Sources[0].File = in.File
	prog.Excluded = slices.Clone(prog.Excluded)
	prog.Environments = slices.Clip(prog.Environments)
	return &again{pass: scratch(ctx, in, &prog), before: before}
}

// item is an item to change. The first one makes a copy of all: a comment changes none.
func (p *again) item(i int) *program.Item {
	if !p.own {
		p.Items, p.own = slices.Clone(p.Items), true
	}
	return &p.Items[i]
}

// scratch is a pass that assembles single statements of a program that is there: it makes no
// symbol, and whatever waits or may move is seen by what it leaves behind.
func scratch(ctx context.Context, in *Input, prog *program.Program) *pass {
	p := passOver(ctx, in, prog)
	p.Table = eval.New(prog).Table
	return p
}

// replace puts the statements of a line in the place of those that were there; false where
// that may concern other lines. The line is -1 where there are none.
func (p *again) replace(r *Replaced, line, now int) bool {
	was, is := r.old.Line(line), &syntax.Line{}
	if now >= 0 {
		is = r.file.Line(now)
	}
	if len(was.Stmts) != len(is.Stmts) || was.EndsInComment() || is.EndsInComment() {
		return false
	}
	k := itemFrom(p.Program, line)
	if len(is.Stmts) == 0 {
		return !inBody(p.Program, k-1)
	}
	if k+len(is.Stmts) > len(p.Items) {
		return false
	}
	for n := range is.Stmts {
		if it := &p.Items[k+n]; it.Stmt != &was.Stmts[n] || it.File != 0 || int(it.Line) != line {
			return false // left out, or made into something else
		}
	}
	if next := k + len(is.Stmts); next < len(p.Items) && p.Items[next].File == 0 && int(p.Items[next].Line) == line {
		return false
	}
	told := p.told(line)
	for n := range is.Stmts {
		a, b := &was.Stmts[n], &is.Stmts[n]
		whole := was.Text == is.Text || !p.readsOn(k+n, a) || sameText(a, was, b, is) // what is behind its end does not count
		switch {
		case whole && a == b:
			// Only a comment differs: the statement is that of the earlier text.
		case whole && a.Start == b.Start && a.End == b.End && a.NameEnd == b.NameEnd && was.Text[:a.End] == is.Text[:b.End] && (a.Alike(b) || a.Kind == b.Kind && sameError(a.Err, b.Err)):
			p.item(k + n).Stmt = b
		case a.Kind == syntax.Instruction && len(told) == 0 && p.Items[k+n].Flags&program.Calls == 0 && a.Alike(b):
			p.item(k + n).Stmt = b // in other columns
		case n < len(is.Stmts)-1 || !p.another(int32(k+n), told, was, is, now):
			return false
		default:
			r.Items = append(r.Items, int32(k+n))
		}
	}
	return true
}

// readsOn says whether what stands behind the end of a statement may count: it calls a macro, or
// the parser leaves its text alone.
func (p *again) readsOn(i int, s *syntax.Stmt) bool {
	return p.Items[i].Flags&program.Calls != 0 || s.Kind == syntax.Unknown || s.Kind == syntax.Directive && s.Directive.Args >= syntax.ArgsText
}

// sameText says whether two directives that say what a symbol is say the same.
func sameText(a *syntax.Stmt, was *syntax.Line, b *syntax.Stmt, is *syntax.Line) bool {
	return a.Kind == syntax.Directive && a.Directive.Effect == syntax.EffType && b.Kind == syntax.Directive && b.Directive == a.Directive && a.Reduced(was) == b.Reduced(is)
}

func sameError(a, b *syntax.Error) bool { return a != nil && b != nil && *a == *b }

// told are the findings of the assembly about a line of the root file.
func (p *again) told(line int) (out []finding.Diagnostic) {
	f := p.before.File
	for _, d := range p.before.Found {
		if d.Path == p.Path && d.Span.Start >= f.LineStart(line) && f.LineAt(d.Span.Start) == line {
			out = append(out, d)
		}
	}
	return out
}

// itemFrom is the first item of the root file in a line or below; the number of items where
// there is none.
func itemFrom(p *program.Program, line int) int {
	k := sort.Search(len(p.Items), func(k int) bool { return p.LineIn(0, &p.Items[k]) >= line })
	for ; k < len(p.Items); k++ {
		if p.Items[k].File == 0 && int(p.Items[k].Line) >= line {
			return k
		}
	}
	return len(p.Items)
}

// inBody says whether the lines behind an item may be the body of a macro or a repetition,
// whose comments count: the last item of the root file in front of them.
func inBody(p *program.Program, k int) bool {
	for ; k >= 0 && p.Items[k].File != 0; k-- {
	}
	if k < 0 || p.Items[k].Stmt.Kind != syntax.Directive {
		return false
	}
	switch p.Items[k].Stmt.Directive.Effect {
	case syntax.EffMacro, syntax.EffMacroBelow, syntax.EffRept, syntax.EffWhile:
		return true
	}
	return false
}

// another assembles the last statement of a line in the place of one of the same kind and size,
// of which no other line knows; false where that is not so. told is what has been found in the
// line.
func (p *again) another(i int32, told []finding.Diagnostic, old, now *syntax.Line, line int) bool {
	at, was, is := p.before.Items[i], &old.Stmts[len(old.Stmts)-1], &now.Stmts[len(now.Stmts)-1]
	if at.Slot != 0 || at.Literal >= 0 || was.Kind != is.Kind || !p.alone(i, was) || !p.alone(i, is) {
		return false
	}
	a, foundA, breaksA := p.once(p.before.File, i, was, old, at.Line)
	b, foundB, breaksB := p.once(p.in.File, i, is, now, int32(line))
	if a == nil || b == nil || breaksA != breaksB || breaksA>>16 > 0 || a.Size != b.Size || a.Match != at.Match || a.Size != at.Size || a.Flags != at.Flags {
		return false
	}
	if !slices.EqualFunc(told, foundA, equal) {
		return false
	}
	it := p.item(int(i))
	it.Stmt, it.Match, it.Flags = is, b.Match, b.Flags
	p.removed, p.added = append(p.removed, foundA...), append(p.added, foundB...)
	return true
}

// alone says whether a statement can be assembled without knowing what is below it, and names
// nothing that would be another thing without it.
func (p *again) alone(i int32, s *syntax.Stmt) bool {
	it := &p.before.Items[i]
	e := &p.Environments[it.Environment]
	switch s.Kind {
	case syntax.Instruction:
		if e.Implicit && e.Have.Has(isa.FeatT32) || s.Mnemonic.OpensBlock() {
			return false
		}
	case syntax.Directive:
		if s.Directive.Effect != syntax.EffData || s.Err != nil {
			return false
		}
	case syntax.Unknown:
		if p.before.Lacking {
			return false
		}
	default:
		return false
	}
	for _, m := range p.Macros {
		// The name may call it, or be near to it.
		if strings.EqualFold(m.Name, s.Name) || s.Kind == syntax.Unknown && m.Item > i {
			return false
		}
	}
	for k := range s.Ops {
		o := &s.Ops[k]
		if o.Names != nil || o.Word != "" || o.Kind == isa.OpLit || o.Kind == isa.OpExpr && s.Kind == syntax.Instruction {
			return false
		}
		if o.Expr != nil && (s.Kind != syntax.Instruction || len(p.Taken) > 0 || !firmIn(p.Program, o, i, 0)) {
			return false
		}
	}
	return true
}

// once assembles one statement of a text in the place of an item: what becomes of it, what is
// found, and whether something may move there. The item is nil where it leaves anything else
// behind.
func (p *again) once(f *syntax.File, i int32, s *syntax.Stmt, l *syntax.Line, line int32) (*program.Item, []finding.Diagnostic, int) {
	it := p.item(int(i))
	prog := *p.Program
	prog.File, prog.Sources = f, slices.Clone(prog.Sources)
	prog.Sources[0].File = f
	prog.Sections = slices.Clone(prog.Sections)
	x := scratch(p.Ctx, p.in, &prog)
	at := &p.before.Items[i]
	x.current, x.envID, x.currentSection = prog.Environments[at.Environment], at.Environment, at.Section
	for range prog.Sections {
		x.Begin()
	}
	x.Phase = 0 // statements are read
	x.Sections[at.Section].Size = at.Offset
	keep := *it
	defer func() { *it = keep }()
	*it = program.Item{Stmt: s, Offset: at.Offset, Line: line, File: at.File, Section: at.Section, Environment: at.Environment, Literal: -1, Index: i}
	switch s.Kind {
	case syntax.Instruction:
		x.instruction(it)
	case syntax.Directive:
		x.directive(it, l)
	case syntax.Unknown:
		x.unknown(it)
	}
	if it.Flags&program.Waits != 0 || it.Slot != 0 || it.Literal >= 0 || x.leaves() || x.envID != at.Environment || x.currentSection != at.Section {
		return nil, nil, 0
	}
	x.Phase = eval.Resolving
	x.caution(it)
	x.TellDoubts()
	out := *it
	return &out, x.Diags, x.Moving(at.Section)
}

// leaves says whether something comes back to the statement later, or goes on behind it.
func (p *pass) leaves() bool {
	w := &p.waiting
	if len(w.unresolved)+len(w.earlyOps)+len(w.dataLater)+len(w.countLater)+len(w.sizeLater)+len(w.lebLater)+len(w.fillLater) > 0 {
		return true
	}
	for k := range p.blockBySec {
		if b := &p.blockBySec[k]; b.written.Left() > 0 || b.inserted.n > 0 {
			return true
		}
	}
	return p.funcTag || p.Ended || p.Full()
}

// found gives the findings of the assembly, those of replaced statements in the place of the
// earlier ones, and all where they are now; nil where one points to a line that differs.
func (p *again) found(r *Replaced, before *Earlier) []finding.Diagnostic {
	out := make([]finding.Diagnostic, 0, len(before.Found)+len(p.added))
	gone := p.removed
	for _, d := range before.Found {
		if len(gone) > 0 && equal(d, gone[0]) {
			gone = gone[1:]
			continue
		}
		d, ok := r.Follows(d, p.Path)
		if !ok {
			return nil
		}
		out = append(out, d)
	}
	if len(gone) > 0 {
		return nil // in another order
	}
	return append(out, p.added...)
}

// Differs says whether a place of the earlier text, that of a path, is in a line that differs.
func (r *Replaced) Differs(l finding.Location, path string) bool {
	line := r.old.LineAt(l.Span.Start)
	return l.Path == path && line >= r.From && line < r.To
}

// Follows is a finding of the earlier text, that of a path, where it is now. It is false where it
// names a line that differs, or another place that belongs to it is in one.
func (r *Replaced) Follows(d finding.Diagnostic, path string) (finding.Diagnostic, bool) {
	if d.Path == path {
		d.Span = r.Moved(d.Span)
	}
	d.Related = slices.Clone(d.Related)
	for k := range d.Related {
		l := &d.Related[k].Location
		if l.Path != path {
			continue
		}
		if r.Differs(*l, path) {
			return d, false
		}
		l.Span = r.Moved(l.Span)
	}
	if len(d.Same) > 0 {
		return d, false
	}
	if !r.Renumbered {
		return d, true
	}
	ok := !strings.Contains(d.Message, "line") || r.renamed(&d)
	for k := range d.Related {
		ok = ok && !strings.Contains(d.Related[k].Message, "line")
	}
	return d, ok
}

// equal says whether two findings are the same.
func equal(a, b finding.Diagnostic) bool {
	return a.Location == b.Location && a.Code == b.Code && a.Message == b.Message && a.Severity == b.Severity
}
