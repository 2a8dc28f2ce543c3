package rewrite

import (
	"context"
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// countsFromItself says whether the line counts from its own place, which another
// number of instructions in its stead changes.
func (c *rewriting) countsFromItself() bool {
	for i := range c.it.Stmt.Ops {
		if flow.Dotted(c.it.Stmt.Ops[i].Expr) {
			return true
		}
	}
	return len(c.r.ByPC(nil, c.it, c.ops)) > 0
}

// Entry is one registered way to say something else: the only place where
// it is described.
type Entry struct {
	Name          string
	Title         string
	Before, After string // documented example, used as a test
	apply         func(c *rewriting)
}

// Rewrite describes a registered rewrite.
type Rewrite struct{ Name, Title, Before, After string }

// Rewrites lists all rewrites in the order of the documentation.
func Rewrites() []Rewrite {
	var out []Rewrite
	for _, w := range Registered() {
		out = append(out, Rewrite{w.Name, w.Title, w.Before, w.After})
	}
	return out
}

func Find(name string) *Entry {
	for _, w := range Registered() {
		if w.Name == name {
			return &w
		}
	}
	return nil
}

// analyzer analyses a text in the place of a program's root file.
type analyzer func(ctx context.Context, f *syntax.File) (*program.Program, []finding.Diagnostic, error)

// Subject is an analysed program for whose findings rewrites are sought.
type Subject struct {
	flow.Paths
	diags   []finding.Diagnostic
	analyze analyzer
}

// NewSubject makes one. analyze is what proofs are made with.
func NewSubject(r *program.Program, diags []finding.Diagnostic, analyze analyzer) *Subject {
	return &Subject{flow.Paths{Evaluator: eval.New(r)}, diags, analyze}
}

// again is the subject with another text.
func (r *Subject) again(ctx context.Context, f *syntax.File) (*Subject, error) {
	p, diags, err := r.analyze(ctx, f)
	if err != nil {
		return nil, err
	}
	return NewSubject(p, diags, r.analyze), nil
}

// candidate is a rewrite before its proof.
type candidate struct {
	name, title string
	edits       []finding.Edit
	wrong       isa.Flags // flags that come out with other values than the line's
	named       bool      // the line has no meaning yet: nothing to say about flags
	notes       []string  // what else differs
	safe        bool
	fallback    bool // only where the candidate before it fails
	late        int  // less likely what an author would type: in half bytes
}

// rewriting is what a rewrite works with: one finding, the statement it is
// about, and helpers that write text as the author does.
type rewriting struct {
	r    *Subject
	d    *finding.Diagnostic
	it   *program.Item
	env  *program.Env
	line string // the line's text
	name string
	out  []candidate
	ops  []isa.Operand // operands with their values
	// divided: the edits made last divide an IT block.
	divided bool
	// counted is what counts on distances, once it is measured.
	counted  []flow.Stretch
	measured bool
}

// Actions offers the rewrites for the findings in the root file whose
// statement touches span, best first. Each is proven: the analysis of its result has that
// finding no more, and no new one.
func (r *Subject) Actions(ctx context.Context, span finding.Span) []Action {
	var out []Action
	looked := 0
	for i := range r.diags {
		d := &r.diags[i]
		if d.Path != r.Path {
			continue
		}
		if looked*(len(r.Items)+aFinding*len(r.diags)) > MaxProving {
			break
		}
		if s := r.stmtSpan(d); s.Start > span.End || s.End < span.Start {
			continue
		}
		if ctx.Err() != nil {
			return out
		}
		if c := finding.ByCode(d.Code); c != nil && len(c.Rewrites) > 0 {
			looked++
		}
		out = append(out, r.actionsFor(ctx, d)...)
	}
	return out
}

// maxProving bounds the findings that one question may look into, times the
// statements that each of their proofs analyses: a whole file may be selected. A
// finding costs as much as some statements.
const (
	MaxProving = 1_000_000
	aFinding   = 16
)

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

func (r *Subject) actionsFor(ctx context.Context, d *finding.Diagnostic) []Action {
	c := finding.ByCode(d.Code)
	if c == nil || len(c.Rewrites) == 0 || d.Expanded {
		return nil
	}
	it := r.ItemAt(d.Span.Start)
	if it == nil {
		return nil
	}
	written, ok := r.AsWritten(it)
	if !ok {
		return nil
	}
	w := &rewriting{r: r, d: d, it: it, env: &r.Envs[it.Env], line: r.Sources[0].Written(int(it.Line)), name: it.Stmt.Name}
	w.ops = r.OperandsOf(it)
	w.it = written
	for _, n := range c.Rewrites {
		rw := Find(n)
		if rw == nil {
			continue
		}
		if _, uneven := w.unevenStack(); uneven && n != "round-stack" {
			continue // nothing keeps a stack pointer that is no multiple of 4
		}
		before := len(w.out)
		rw.apply(w)
		for k := before; k < len(w.out); k++ {
			w.out[k].name = n
			if base, ok := w.misaligned(); ok {
				w.out[k].safe = false
				w.out[k].notes = append(w.out[k].notes, "misaligned where "+base+" is a multiple of 4")
			}
		}
	}
	type offer struct {
		a    Action
		rank int
	}
	var offers []offer
	proven := false
	for i := range w.out {
		if ctx.Err() != nil {
			return nil
		}
		if w.out[i].fallback && proven {
			continue
		}
		var a Action
		if a, proven = w.prove(ctx, &w.out[i]); proven {
			offers = append(offers, offer{a, w.rank(&a, &w.out[i])})
		}
	}
	sort.SliceStable(offers, func(i, j int) bool { return offers[i].rank < offers[j].rank })
	var out []Action
	for i := range offers {
		offers[i].a.Preferred = i == 0
		out = append(out, offers[i].a)
	}
	return out
}

// misaligned says whether the finding is about an access at an offset that is no
// multiple of its unit, from which register, and so no offset to keep without thought.
func (c *rewriting) misaligned() (base string, ok bool) {
	n := len(c.ops) - 1
	if c.d.Code != finding.CodeConstAlign || n < 1 || c.ops[n].Kind != isa.OpMem || c.ops[n].Off != isa.OffImm {
		return "", false
	}
	return c.cs(c.ops[n].Reg.String()), true
}

// rank orders the offers for one finding, the smallest first, in quarters of a
// byte: few bytes; flags kept, above all those that the line sets on purpose;
// the author's names kept, as a name is worth more than a short constant. Equal
// ones stay in the order of registration.
func (c *rewriting) rank(a *Action, k *candidate) int {
	n := a.Bytes*4 + k.late*2
	if !a.Safe {
		n += 5
		if sets, _ := c.intent(); sets == yes {
			n += 11
		}
	}
	if i, _, ok := c.constOp(); ok {
		if o := &c.it.Stmt.Ops[i]; o.Word != "" || o.Expr != nil {
			start := c.r.File.LineStart(int(c.it.Line))
			written := finding.Span{Start: start + int(o.Start), End: start + int(o.End)}
			kept, text := true, ""
			for _, e := range a.Edits {
				kept = kept && (e.Span.End <= written.Start || e.Span.Start >= written.End)
				text += e.New
			}
			if !kept && !strings.Contains(text, c.exprText(i)) {
				n += 16
			}
		}
	}
	return n
}

// edited is a file with an edit made, in the dialect that it has.
func edited(f *syntax.File, e *finding.Edit) *syntax.File {
	return f.Edit(e.Span.Start, e.Span.End, e.New).As(f.Dialect())
}

// prove analyses the result of a candidate.
func (c *rewriting) prove(ctx context.Context, k *candidate) (Action, bool) {
	sort.SliceStable(k.edits, func(i, j int) bool { return k.edits[i].Span.Start < k.edits[j].Span.Start })
	f := c.r.File
	for i := len(k.edits) - 1; i >= 0; i-- {
		e := k.edits[i]
		if i > 0 && k.edits[i-1].Span.End > e.Span.Start {
			return Action{}, false
		}
		f = edited(f, &e)
	}
	r2, err := c.r.again(ctx, f)
	if err != nil {
		return Action{}, false
	}
	flags := c.changedFlags(k, r2)
	if !c.cures(k.edits, r2) {
		return Action{}, false
	}
	bytes := int(r2.total() - c.r.total())
	live := flags &^ c.r.DeadFlags(c.it, flags)
	cost := sizeText(bytes, int(r2.padding()-c.r.padding()))
	if live != 0 {
		cost = append(cost, "changes flags "+live.String())
	}
	cost = append(cost, k.notes...)
	safe := k.safe && live == 0
	if safe && c.shiftsWhatIsCounted(&r2.Paths, k.edits) {
		safe = false
		cost = append(cost, "moves code that other lines count distances across")
	}
	return Action{
		Title: k.title + " (" + strings.Join(cost, ", ") + ")", Rewrite: k.name, Code: c.d.Code, Target: c.d.Span, Edits: k.edits,
		Safe: safe, Bytes: bytes,
	}, true
}

// shiftsWhatIsCounted says whether the edits, whose result is analysed in after, move
// code under something that counts on distances.
func (c *rewriting) shiftsWhatIsCounted(after *flow.Paths, edits []finding.Edit) bool {
	if !c.measured {
		c.measured, c.counted = true, c.r.Stretches()
	}
	return c.r.Moved(after, edits, c.counted) || c.countsFromItself() && after.Instructions() != c.r.Instructions()
}

// changedFlags are the flags that come out of a candidate otherwise than the
// line meant them: set though the line keeps them, kept though it sets them, or
// set to another value. r2 is the analysis of the candidate's result. Where the
// line stays as it is, it is only what else sets flags.
func (c *rewriting) changedFlags(k *candidate, r2 *Subject) isa.Flags {
	if k.named {
		return 0
	}
	var written isa.Flags
	shift, stays := 0, true
	start := c.r.File.LineStart(int(c.it.Line))
	for _, e := range k.edits {
		if e.Span.Start < start+int(c.it.Stmt.End) && e.Span.End > start+int(c.it.Stmt.Start) {
			stays = false
		}
		a := e.Span.Start + shift
		b := a + len(e.New)
		shift += len(e.New) - (e.Span.End - e.Span.Start)
		written |= r2.flagsWritten(a, b)
	}
	if stays {
		return written
	}
	sets, want := c.intent()
	var out isa.Flags
	if sets != no {
		out |= want ^ written | k.wrong
	}
	if sets != yes {
		out |= written
	}
	return out
}

// flagsWritten are the flags that the instructions between two offsets of the
// root file write.
func (r *Subject) flagsWritten(a, b int) (w isa.Flags) {
	f := r.File
	line := f.LineAt(a)
	for k := sort.Search(len(r.Items), func(k int) bool { return r.LineIn(0, &r.Items[k]) >= line }); k < len(r.Items); k++ {
		it := &r.Items[k]
		if it.File != 0 {
			continue
		}
		at := f.LineStart(int(it.Line)) + int(it.Stmt.Start)
		if at >= b {
			break
		}
		if at >= a && it.Match.Form != nil {
			w |= it.Match.Effects().FlagsWritten
		}
	}
	return w
}

// answer is yes, no, or that nobody can tell.
type answer uint8

const (
	no answer = iota
	yes
	either
)

// intent says whether the line as written means to set flags, and which ones.
// The unified syntax says so by a letter. In the divided syntax operations on
// low registers set them; with high registers some do and some do not (ADD and
// MOV keep them), so the author of a line that has no encoding may have meant
// either.
func (c *rewriting) intent() (sets answer, want isa.Flags) {
	if c.wide() && c.it.Stmt.Mnem != nil {
		op, letter, _ := c.operation()
		switch want = flow.SetBy(op); {
		case op == "cmp" || op == "cmn" || op == "tst" || op == "teq", letter && want != 0:
			return yes, want
		}
		return no, want
	}
	base, cond := c.base(), false
	if m, _ := isa.Find(base); m == nil || len(m.Forms) == 0 {
		if b, _, ok := CondSplit(strings.ToLower(c.name)); ok {
			cond = true
			base = b
			if c.env.Unified {
				base = strings.TrimSuffix(b, "s")
			}
		}
	}
	letter := c.env.Unified && strings.HasSuffix(strings.TrimSuffix(strings.ToLower(c.name), ".n"), "s")
	if cond {
		b, _, _ := CondSplit(strings.ToLower(c.name))
		letter = c.env.Unified && strings.HasSuffix(b, "s")
	}
	if n := strings.TrimSuffix(base, "s"); !c.env.Unified && n != base && len(n) > 2 {
		base, letter = n, true // the letter of the other syntax
	}
	switch want = flow.SetBy(base); {
	case want == 0:
		return no, 0
	case base == "cmp", base == "cmn", base == "tst":
		return yes, want
	}
	if letter {
		return yes, want
	}
	if c.env.Unified {
		return no, want
	}
	used := c.used()
	switch {
	case cond:
		return either, want
	case (base == "add" || base == "sub" || base == "mov") && used.Has(isa.SP):
		return no, want
	case used&^0xff != 0:
		return either, want
	case base == "mov" && len(c.ops) == 2 && c.ops[1].Kind == isa.OpReg:
		return either, want
	}
	return yes, want
}

// total is the size of all sections in bytes.
func (r *Subject) total() (n int64) {
	for i := range r.Secs {
		n += r.Secs[i].Size
	}
	return n
}

// padding is how many bytes of the sections are there for the sake of places: those
// of alignments, of literal pools in front of their words, and before .org.
func (r *Subject) padding() (n int64) {
	for i := range r.Items {
		it := &r.Items[i]
		if d := it.Stmt.Dir; d != nil && it.Stmt.Kind == syntax.Directive {
			switch d.Effect {
			case syntax.EffAlignByte, syntax.EffAlignPow, syntax.EffEven, syntax.EffAlignFrom, syntax.EffOrg, syntax.EffArm, syntax.EffCode:
				n += it.Size
			}
		}
		if it.Flags&program.HasPool != 0 {
			n += it.Size
		}
	}
	for i := range r.Secs {
		if s := &r.Secs[i]; s.EndPool >= 0 {
			n += s.Size - s.EndPool
		}
	}
	for i := range r.Lits {
		if l := &r.Lits[i]; l.Off >= 0 && !l.Padding {
			n -= 4
		}
	}
	return n
}

// sizeText says what a rewrite costs: by how many bytes all sections grow, what is
// padding of that apart.
func sizeText(all, padding int) []string {
	bytes := func(n int) string {
		if n == 1 || n == -1 {
			return fmt.Sprintf("%+d byte", n)
		}
		return fmt.Sprintf("%+d bytes", n)
	}
	switch rest := all - padding; {
	case rest == 0 && padding == 0:
		return []string{"same size"}
	case padding == 0:
		return []string{bytes(rest)}
	case rest == 0:
		return []string{bytes(padding) + " of padding"}
	default:
		return []string{bytes(rest), fmt.Sprintf("%+d of padding", padding)}
	}
}

// SafeFixes applies the preferred safe rewrites for all findings of code in
// the root file (all codes when empty) and returns the edits against the
// original text. Each is proven on the text that the ones before it made. It
// goes from the last finding to the first, as what is dead behind a line is
// known better when the lines below it are right, and again until nothing is
// left that it could fix.
func (r *Subject) SafeFixes(ctx context.Context, code string) []finding.Edit {
	cur := r
	tried := map[string]bool{}
	fixed := false
	for {
		a := cur.nextSafe(ctx, code, tried)
		if ctx.Err() != nil {
			return nil
		}
		if a == nil {
			if !fixed {
				break
			}
			// What was fixed may have made way for more.
			fixed = false
			clear(tried)
			continue
		}
		f := cur.File
		for k := len(a.Edits) - 1; k >= 0; k-- {
			e := a.Edits[k]
			f = edited(f, &e)
		}
		next, err := cur.again(ctx, f)
		if err != nil {
			return nil
		}
		cur, fixed = next, true
	}
	return diffLines(r.File.Text(), cur.File.Text())
}

// nextSafe is the first safe action of the last finding that has one. Findings
// without one are noted in tried.
func (r *Subject) nextSafe(ctx context.Context, code string, tried map[string]bool) *Action {
	f := r.File
	for i := len(r.diags) - 1; i >= 0; i-- {
		d := &r.diags[i]
		if d.Path != r.Path || code != "" && d.Code != code {
			continue
		}
		line := f.LineAt(d.Span.Start)
		key := d.Code + "\x00" + f.Line(line).Text + "\x00" + strconv.Itoa(line)
		if tried[key] {
			continue
		}
		for _, a := range r.actionsFor(ctx, d) {
			if a.Safe {
				return &a
			}
		}
		if ctx.Err() != nil {
			return nil
		}
		tried[key] = true
	}
	return nil
}

// diffLines gives the edits that turn a into b, whole lines at a time.
func diffLines(a, b string) []finding.Edit {
	if a == b {
		return nil
	}
	x, y := strings.SplitAfter(a, "\n"), strings.SplitAfter(b, "\n")
	var out []finding.Edit
	off, i, j := 0, 0, 0
	for i < len(x) || j < len(y) {
		if i < len(x) && j < len(y) && x[i] == y[j] {
			off += len(x[i])
			i, j = i+1, j+1
			continue
		}
		// Find the nearest lines where both go on alike.
		bi, bj := len(x), len(y)
	search:
		for d := 1; d < len(x)-i+len(y)-j; d++ {
			for di := 0; di <= d; di++ {
				p, q := i+di, j+d-di
				if p < len(x) && q < len(y) && x[p] == y[q] && (strings.TrimSpace(x[p]) != "" || d < 3) {
					bi, bj = p, q
					break search
				}
			}
		}
		e := finding.Edit{Span: finding.Span{Start: off}}
		for ; i < bi; i++ {
			off += len(x[i])
		}
		e.Span.End = off
		e.New = strings.Join(y[j:bj], "")
		j = bj
		out = append(out, e)
	}
	return out
}

// ---- text as the author writes it

func (c *rewriting) upper() bool {
	n := c.name
	return n != "" && strings.ToUpper(n) == n && strings.ToLower(n) != n
}

// cs puts generated text into the author's case.
func (c *rewriting) cs(s string) string {
	if c.upper() {
		return strings.ToUpper(s)
	}
	return s
}

// mn spells a flag-setting mnemonic in the syntax in force.
func (c *rewriting) mn(base string) string {
	if c.env.Unified {
		base += "s"
	}
	return base
}

// opText is operand i as written.
func (c *rewriting) opText(i int) string {
	o := &c.it.Stmt.Ops[i]
	return syntax.WithoutComments(c.line[o.Start:o.End])
}

// stmt writes one statement with the author's blank behind the mnemonic and
// behind commas.
func (c *rewriting) stmt(mnemonic string, ops ...string) string {
	s := c.it.Stmt
	gap := " "
	if len(s.Ops) > 0 {
		if g := c.line[s.NameEnd:s.Ops[0].Start]; g != "" && strings.TrimSpace(g) == "" {
			gap = g
		}
	}
	if len(ops) == 0 {
		return c.cs(mnemonic)
	}
	// Operands stay in the author's column where blanks make one.
	if len(gap) > 1 && strings.Trim(gap, " ") == "" {
		gap = strings.Repeat(" ", max(len(gap)+len(s.Name)-len(mnemonic), 1))
	}
	return c.cs(mnemonic) + gap + strings.Join(ops, c.comma())
}

// rename is the edit that gives the line another name; operands stay in their column.
func (c *rewriting) rename(name string) finding.Edit { return c.r.rename(c.it, c.line, name) }

// rename is the edit that gives a statement in a line of the root file another name.
func (r *Subject) rename(it *program.Item, line, name string) finding.Edit {
	s := it.Stmt
	start := r.File.LineStart(int(it.Line))
	e := finding.Edit{Span: finding.Span{Start: start + int(s.Start), End: start + int(s.NameEnd)}, New: name}
	rest := line[s.NameEnd:]
	if gap := len(rest) - len(strings.TrimLeft(rest, " ")); gap > 1 && gap < len(rest) {
		e.Span.End += gap
		e.New += strings.Repeat(" ", max(gap+int(s.NameEnd-s.Start)-len(name), 1))
	}
	return e
}

// comma is the author's comma, with the blanks beside it.
func (c *rewriting) comma() string {
	if s := c.it.Stmt; len(s.Ops) > 1 {
		if g := c.line[s.Ops[0].End:s.Ops[1].Start]; strings.TrimSpace(g) == "," {
			return g
		}
	}
	return ", "
}

// mem writes a memory operand; off is empty, a register, or a constant with
// its '#'.
func (c *rewriting) mem(base, off string) string {
	if off == "" {
		return "[" + base + "]"
	}
	return "[" + base + c.comma() + off + "]"
}

// num writes a constant in the author's base.
func (c *rewriting) num(v int64) string {
	if c.hexStyle() && (v > 9 || v < -9) {
		if v < 0 {
			return "-0x" + strconv.FormatInt(-v, 16)
		}
		return "0x" + strconv.FormatInt(v, 16)
	}
	return strconv.FormatInt(v, 10)
}

func (c *rewriting) hexStyle() bool {
	return strings.Contains(strings.ToLower(c.line[c.it.Stmt.Start:c.it.Stmt.End]), "0x")
}

// indent is the white space in front of further lines: that of the statement.
func (c *rewriting) indent() string {
	pre := c.line[:c.it.Stmt.Start]
	if strings.TrimSpace(pre) == "" {
		return pre
	}
	// A label stands before: stand below the statement, or as the next
	// indented line does.
	f := c.r.File
	for i := int(c.it.Line) + 1; i < f.NumLines() && i < int(c.it.Line)+8; i++ {
		l := f.Line(i)
		if len(l.Stmts) > 0 && l.Stmts[0].Kind == syntax.Instruction && l.Stmts[0].Start > 0 && strings.TrimSpace(l.Text[:l.Stmts[0].Start]) == "" {
			return l.Text[:l.Stmts[0].Start]
		}
	}
	out := []byte(pre)
	for i, b := range out {
		if b != '\t' {
			out[i] = ' '
		}
	}
	return string(out)
}

// replace makes the edits that put statements in the place of this one: the
// first where it stood, with the line's comment, the others in lines below.
// Where further statements or an open comment follow in the line, all stand in
// it. A statement that ends in ':' is a label. An IT block grows with them.
func (c *rewriting) replace(stmts ...string) []finding.Edit {
	if more := codeCount(stmts) - 1; more > 0 && c.inBlock() {
		if wider, ok := c.widen(more); ok {
			return append(c.replaceHere(stmts), wider)
		}
		return c.divide(stmts)
	}
	return c.replaceHere(stmts)
}

// replaceHere is replace without regard for IT blocks.
func (c *rewriting) replaceHere(stmts []string) []finding.Edit {
	f := c.r.File
	start := f.LineStart(int(c.it.Line))
	s := c.it.Stmt
	stmts = withComments(stmts, c.line[s.Start:s.End])
	here := finding.Edit{Span: finding.Span{Start: start + int(s.Start), End: start + int(s.End)}, New: stmts[0]}
	if !c.lastInLine(c.it) {
		if len(stmts) > 1 && f.Dialect() != syntax.Dots {
			return nil // a ';' separates nothing
		}
		here.New = strings.Join(stmts, "; ")
		return []finding.Edit{here}
	}
	// So does the comment behind.
	rest := c.line[s.End:]
	if blanks := len(rest) - len(strings.TrimLeft(rest, " ")); blanks > 1 && blanks < len(rest) && rest[blanks] != '\t' {
		here.Span.End += blanks
		here.New += strings.Repeat(" ", max(blanks+int(s.End-s.Start)-len(stmts[0]), 1))
	}
	if len(stmts) == 1 {
		return []finding.Edit{here}
	}
	below := ""
	for _, x := range stmts[1:] {
		if below += c.eol(); !strings.HasSuffix(x, ":") && strings.Trim(x, "0123456789") != "" {
			below += c.indent()
		}
		below += x
	}
	at := start + len(c.line)
	return []finding.Edit{here, {Span: finding.Span{Start: at, End: at}, New: below}}
}

// withComments takes out of the statements what they have of the comments inside of the
// line's own one, and puts each comment behind the first, once.
func withComments(stmts []string, line string) []string {
	comments := commentsIn(line)
	if comments == "" || strings.Contains(line, `"`) {
		return stmts
	}
	out := make([]string, len(stmts))
	for i := range stmts {
		out[i] = syntax.WithoutComments(stmts[i])
	}
	out[0] += comments
	return out
}

// commentsIn are the comments inside of a piece of a line, each with the blanks in
// front of it, one at least.
func commentsIn(text string) (comments string) {
	for {
		before, behind, ok := strings.Cut(text, "/*")
		inside, after, closed := strings.Cut(behind, "*/")
		if !ok || !closed {
			return comments
		}
		blanks := before[len(strings.TrimRight(before, " \t")):]
		if blanks == "" {
			blanks = " "
		}
		comments += blanks + "/*" + inside + "*/"
		text = after
	}
}

// eol is the file's line end.
func (c *rewriting) eol() string {
	t := c.r.File.Text()
	if i := strings.IndexByte(t, '\n'); i > 0 && t[i-1] == '\r' {
		return "\r\n"
	}
	return "\n"
}

// insertBefore puts a line above line n of the root file.
func (c *rewriting) insertBefore(line int, text string) finding.Edit {
	at := c.r.File.LineStart(line)
	return finding.Edit{Span: finding.Span{Start: at, End: at}, New: text + c.eol()}
}

func (c *rewriting) insertAfter(line int, text string) finding.Edit {
	f := c.r.File
	at := f.LineStart(line) + len(f.Line(line).Text)
	return finding.Edit{Span: finding.Span{Start: at, End: at}, New: c.eol() + text}
}

func (c *rewriting) add(k candidate) {
	if len(k.edits) > 0 {
		if c.divided {
			k.late++
		}
		c.out = append(c.out, k)
	}
	c.divided = false
}

// freeLocal is a number that no numeric local label of the program has, nor
// any text of it that is not read, such as a macro.
func (c *rewriting) freeLocal() string {
	for n := int32(1); ; n++ {
		if len(c.r.Locals[n]) > 0 {
			continue
		}
		d := strconv.Itoa(int(n))
		free := true
		if c.columns() { // its marks stand in front, and labels have none
			if !hasNumber(c.r.File.Text(), d) {
				return d
			}
			continue
		}
		for i := range c.r.Sources {
			if x := c.r.Sources[i].Exp; x != nil && x.Macro == nil {
				continue // a part of the file
			}
			for _, mark := range []string{":", "b", "f"} {
				free = free && !flow.HasWord(c.r.Sources[i].File.Text(), d+mark)
			}
		}
		if free {
			return d
		}
	}
}

// used is the set of registers that the statement mentions.
func (c *rewriting) used() isa.RegList { return flow.Mentioned(c.ops) }

// scratch finds n registers for a detour, low ones where others do not go
// everywhere. Those of them that are not provably dead are saved by a push before
// and a pop behind, which is no way out for statements that touch the stack pointer
// or go elsewhere.
func (c *rewriting) scratch(n int, avoid isa.RegList) (regs []isa.Reg, saved isa.RegList, ok bool) {
	avoid |= c.used()
	all := isa.RegList(0xff)
	if c.wide() {
		all = 0x1fff
	}
	dead := c.r.DeadRegs(c.it, all&^avoid)
	if c.env.Mode == isa.A && dead.Has(12) {
		regs = append(regs, 12) // the one that is there for it: AAPCS32, "ip"
	}
	for r := isa.Reg(0); r < 13 && len(regs) < n; r++ {
		if dead.Has(r) && !slices.Contains(regs, r) {
			regs = append(regs, r)
		}
	}
	for r := isa.Reg(7); len(regs) < n && r < 8; r-- {
		if !avoid.Has(r) && !dead.Has(r) {
			regs = append(regs, r)
			saved |= flow.RegBit(r)
		}
	}
	if len(regs) < n || saved != 0 && (c.used().Has(isa.SP) || c.mayLeave()) {
		return nil, 0, false
	}
	return regs, saved, true
}

// mayLeave says whether the line may go elsewhere, so that what stands behind it is
// not sure to be executed.
func (c *rewriting) mayLeave() bool {
	if m := c.it.Stmt.Mnem; m != nil {
		for _, f := range m.FormsOf(c.env.Mode) {
			if f.Row.Flow != isa.FlowNext && f.Row.Flow != isa.FlowTrap {
				return true
			}
		}
	}
	for i := range c.ops {
		if o := &c.ops[i]; o.Kind == isa.OpReg && o.Reg == isa.PC && i == 0 || o.Kind == isa.OpList && o.List.Has(isa.PC) {
			return true
		}
	}
	return false
}

// detour adds a candidate that uses scratch registers: saved ones are pushed
// before and popped behind.
func (c *rewriting) detour(title string, wrong isa.Flags, regs []isa.Reg, saved isa.RegList, stmts ...string) {
	push, pop := c.ins("push"), c.ins("pop")
	if sets, _ := c.intent(); saved != 0 && sets == yes && c.wide() {
		// Behind a change of the flags the condition may be another one.
		if _, _, cond := c.operation(); cond != isa.AL && c.env.Mode == isa.T {
			return
		}
		push, pop = "push", "pop"
	}
	k := candidate{title: title, wrong: wrong, safe: true}
	var names []string
	for _, r := range regs {
		names = append(names, c.scratchName(r))
	}
	if saved != 0 {
		list := c.cs(saved.String())
		stmts = append(append([]string{c.stmt(push, list)}, stmts...), c.stmt(pop, list))
		k.title += ", saving " + strings.Trim(list, "{}")
		if c.r.PushHarms() {
			k.safe, k.notes = false, append(k.notes, "r13 has more uses than the stack")
		}
		var dead []string
		for _, r := range regs {
			if !saved.Has(r) {
				dead = append(dead, c.cs(r.String()))
			}
		}
		names = dead
	}
	switch len(names) {
	case 0:
	case 1:
		k.title += ", using " + names[0] + " which is dead here"
	default:
		k.title += ", using " + strings.Join(names, ", ") + " which are dead here"
	}
	k.edits = c.replace(stmts...)
	c.add(k)
}

// matches says whether the statement has an encoding.
func (c *rewriting) matches(mn string, ops ...isa.Operand) (isa.Match, bool) {
	m, w := isa.Find(strings.ToLower(mn))
	if m == nil {
		return isa.Match{}, false
	}
	q := isa.Query{Have: c.env.Have, Unified: c.env.Unified, PC: c.it.Off, Width: w, A32: c.env.Mode == isa.A, IT: c.it.Slot.Unpack()}
	return m.Match(&q, ops)
}

func regOp(r isa.Reg) isa.Operand { return isa.Operand{Kind: isa.OpReg, Reg: r} }
