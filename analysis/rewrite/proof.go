package rewrite

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// countsFromItself says whether the line counts from its own place, which another
// number of instructions in its stead changes.
func (c *rewriting) countsFromItself() bool {
	for i := range c.item.Stmt.Ops {
		if flow.Dotted(c.item.Stmt.Ops[i].Expr) {
			return true
		}
	}
	return len(c.subject.ByPC(nil, c.item, c.ops)) > 0
}

// rank orders the offers for one finding, the smallest first, in quarters of a
// byte: few bytes; flags kept, above all those that the line sets on purpose;
// the author's names kept, as a name is worth more than a short constant. Equal
// ones stay in the order of registration.
func (c *rewriting) rank(a *Action, k *candidate) int {
	n := a.Bytes*4 + k.late*2
	if k.onWhole() && c.subject.shared(c.diagnostic) {
		return math.MinInt // one mistake
	}
	if !a.Safe {
		n += 5
		sets, want := c.intent()
		switch {
		case sets == yes:
			n += 11
		case k.name == spelling && c.compared(c.needed(want)):
			n += 40
		}
	}
	if i, _, ok := c.constOp(); ok {
		if o := &c.item.Stmt.Ops[i]; o.Word != "" || o.Expr != nil {
			start := c.subject.File.LineStart(int(c.item.Line))
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

// attempt is a candidate that is to be proven, with its finding, its statement and its edits
// as they are in the text that is edited: that of the program, or an extract.
type attempt struct {
	*rewriting
	k          *candidate
	diagnostic *finding.Diagnostic
	item       *program.Item
	edits      []finding.Edit
}

// attempt is one in the whole text.
func (c *rewriting) attempt(k *candidate) *attempt {
	return &attempt{c, k, c.diagnostic, c.item, k.edits}
}

// trial is the analysis of what comes of attempts that are made at once, or of one.
type trial struct {
	*change
	attempts      []*attempt
	before, after *Subject
	part          *extract // what before is, nil for the whole program
	// pairs says what of before is where in after; nil: something else is assembled.
	pairs *flow.Pairs
	// broken are the stretches in which the edits move code against other code.
	broken []flow.Stretch
	proved []Proof // of the attempts; see proofs
}

// try makes attempts that do not overlap, and analyses the result.
func (r *Subject) try(ctx context.Context, ch *change, attempts []*attempt) (*trial, error) {
	after, err := r.again(ctx, ch.apply(r.File))
	if err != nil {
		return nil, err
	}
	t := &trial{change: ch, attempts: attempts, before: r, after: after, pairs: r.Pair(&after.Paths, ch.edits)}
	if t.pairs != nil {
		t.broken = r.MovedStretches(&after.Paths, t.pairs, r.counted())
	}
	return t, nil
}

// counted is what of the program counts on distances.
func (r *Subject) counted() []flow.Stretch {
	if !r.measured {
		r.measured, r.stretches = true, r.Stretches()
	}
	return r.stretches
}

// prove analyses the result of a candidate: on an extract, unless that is nil or does not
// show all, else on the whole program. code is that of the result, see [trial.code].
func (c *rewriting) prove(ctx context.Context, x *extract, k *candidate) (a Action, code string, ok bool) {
	var t *trial
	if !k.onWhole() {
		t = x.try(ctx, c, k)
	}
	if t != nil {
		c.subject.inPart++
	} else {
		c.subject.inWhole++
		if t = c.subject.tryOne(ctx, c.attempt(k)); t == nil {
			return Action{}, "", false
		}
	}
	c.subject.spent += len(t.after.Items) + aFinding*len(t.after.diags)
	if c.late { // what goes wrong when it runs has to be gone, and nothing new may
		t.before.lateFindings(ctx)
		c.subject.spent += 2 * len(t.after.Items)
		if t.after.lateFindings(ctx); !t.after.hasLate || ctx.Err() != nil {
			return Action{}, "", false
		}
	}
	if cured, stray := t.cures(); !cured[0] || len(stray) > 0 || k.wide && !t.keepsCode() {
		return Action{}, "", false
	}
	bytes := int(t.after.total() - t.before.total())
	cost := sizeText(bytes, int(t.after.padding()-t.before.padding()))
	changes, safe, proof := t.judge(0)
	edits := slices.Clone(k.edits)
	sort.SliceStable(edits, func(i, j int) bool { return edits[i].Span.Start < edits[j].Span.Start })
	return Action{
		Title: k.title + " (" + strings.Join(append(cost, changes...), ", ") + ")", Rewrite: k.name, Code: c.diagnostic.Code, Target: c.diagnostic.Span, Edits: edits,
		Safe: safe, Bytes: bytes, Proof: proof,
	}, t.code(0), true
}

// tryOne makes one attempt, nil if its edits overlap.
func (r *Subject) tryOne(ctx context.Context, a *attempt) *trial {
	list := []*attempt{a}
	ch, _, ok := newChange(list)
	if !ok {
		return nil
	}
	t, err := r.try(ctx, ch, list)
	if err != nil {
		return nil
	}
	return t
}

// Compare carries out the program, with what a refused line of it evidently means, and the
// result of edits in its place: whether both do the same. It is Unproven where the line is
// not refused, and where something is not known.
func (r *Subject) Compare(ctx context.Context, refused *program.Item, edits []finding.Edit) Proof {
	t := r.tryOne(ctx, r.rewriting(refused, nil).attempt(&candidate{safe: true, edits: edits}))
	if t == nil || t.pairs == nil {
		return Unproven
	}
	return t.proofs()[0]
}

// try makes an attempt in an extract, nil where that does not show what the whole
// program would.
func (x *extract) try(ctx context.Context, c *rewriting, k *candidate) *trial {
	if x == nil || c.diagnostic.Severity > finding.Warning {
		return nil
	}
	at := x.index[c.item.Index]
	if at < 0 {
		return nil
	}
	a := &attempt{c, k, x.diagnostic(c.diagnostic), &x.Items[at], make([]finding.Edit, len(k.edits))}
	for i, e := range k.edits {
		at, ok := x.place(e.Span.Start)
		if f := x.whole.File; !ok || f.LineAt(e.Span.Start) != f.LineAt(e.Span.End) {
			return nil
		}
		a.edits[i] = finding.Edit{Span: finding.Span{Start: at, End: at + e.Span.End - e.Span.Start}, New: e.New}
	}
	if a.diagnostic == nil {
		return nil
	}
	t := x.tryOne(ctx, a)
	if t == nil || !x.shows(t) {
		return nil
	}
	t.part = x
	return t
}

// judge says what an attempt of a trial changes besides what it is meant to, and
// whether it is safe.
func (t *trial) judge(i int) (changes []string, safe bool, proof Proof) {
	c, k := t.attempts[i].rewriting, t.attempts[i].k
	live := c.needed(t.changedFlags(i))
	if live != 0 {
		changes = append(changes, "changes flags "+live.String())
	}
	changes = append(changes, k.notes...)
	safe = k.safe && live == 0
	if safe && t.pairs == nil {
		return append(changes, "changes what is assembled elsewhere"), false, Unproven
	}
	if safe && t.shiftsWhatIsCounted(i) {
		safe = false
		changes = append(changes, "moves code that other lines count distances across")
	}
	if safe && c.refused() {
		if proof = t.proofs()[i]; proof == Differs {
			safe = false
			changes = append(changes, "does something else in some cases")
		}
	}
	return changes, safe, proof
}

// shiftsWhatIsCounted says whether an attempt moves code under something that counts on
// distances.
func (t *trial) shiftsWhatIsCounted(i int) bool {
	if len(t.attempts) == 1 && len(t.broken) > 0 {
		return true
	}
	c, shifts, wrote := t.attempts[i].rewriting, false, 0
	t.each(i, func(e *finding.Edit, from, to int) {
		wrote += t.after.instructions(from, to) - t.before.instructions(e.Span.Start, e.Span.End)
		for _, s := range t.broken {
			shifts = shifts || t.before.within(s, e.Span)
		}
	})
	return shifts || wrote != 0 && c.countsFromItself()
}

// changedFlags are the flags that come out of an attempt otherwise than the line meant
// them.
func (t *trial) changedFlags(i int) isa.Flags {
	var written isa.Flags
	t.each(i, func(_ *finding.Edit, from, to int) {
		t.after.between(from, to, func(it *program.Item) {
			if it.Match.Form != nil {
				written |= it.Match.Effects().FlagsWritten
			}
		})
	})
	return t.attempts[i].changedFlags(t.attempts[i].k, written)
}

// changedFlags are the flags that come out of a candidate otherwise than the
// line meant them: set though the line keeps them, kept though it sets them, or
// set to another value. written are those that what the edits put in writes. Where the
// line stays as it is, it is only that.
func (c *rewriting) changedFlags(k *candidate, written isa.Flags) isa.Flags {
	if k.named {
		return 0
	}
	if c.keepsLine(k) {
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

// keepsLine says whether a candidate leaves the statement as it is.
func (c *rewriting) keepsLine(k *candidate) bool {
	start := c.subject.File.LineStart(int(c.item.Line))
	return !slices.ContainsFunc(k.edits, func(e finding.Edit) bool {
		return e.Span.Start < start+int(c.item.Stmt.End) && e.Span.End > start+int(c.item.Stmt.Start)
	})
}

// needed are those of some flags that something may read after the line.
func (c *rewriting) needed(flags isa.Flags) isa.Flags {
	if asked := flags &^ c.asked; asked != 0 {
		c.asked |= asked
		c.live |= asked &^ c.subject.DeadFlags(c.item, asked)
	}
	return flags & c.live
}

// spelling is the rewrite that spells an instruction as the form that exists, which sets flags.
const spelling = "flag-spelling"

// compared says whether comparisons alone have set some flags that are there before the line, for
// what is below it: they have to be kept, as nothing else is meant by a comparison. Where something
// else has set them, as a sum, or they have been read already, a line like "sub r2, #1" with a
// branch below it may be meant to set them: the author has to say which.
func (c *rewriting) compared(flags isa.Flags) bool {
	list, all := c.subject.FlagsBefore(c.item, flags)
	return all && len(list) > 0 && !slices.ContainsFunc(list, func(x *program.Item) bool {
		if x.Stmt.Mnemonic == nil || x.Index >= c.item.Index {
			return true
		}
		op, _, _ := x.Stmt.Mnemonic.Operation()
		a, known := isa.ArithmeticOf(op)
		return !known || !a.Compares || c.subject.readsFlags(x.Index+1, c.item.Index)
	})
}

// readsFlags says whether one of the items from a to b reads flags.
func (r *Subject) readsFlags(a, b int32) bool {
	for i := a; i < b; i++ {
		if m := &r.Items[i].Match; m.Form != nil && m.Effects().FlagsRead != 0 {
			return true
		}
	}
	return false
}

// between calls f for the items that begin between two offsets of the root file.
func (r *Subject) between(a, b int, f func(it *program.Item)) {
	line := r.File.LineAt(a)
	for k := sort.Search(len(r.Items), func(k int) bool { return r.LineIn(0, &r.Items[k]) >= line }); k < len(r.Items); k++ {
		it := &r.Items[k]
		if it.File != 0 {
			continue
		}
		at := r.Span(0, int(it.Line), it.Stmt.Start, it.Stmt.End).Start
		if at >= b {
			break
		}
		if at >= a {
			f(it)
		}
	}
}

// instructions counts those that begin between two offsets of the root file.
func (r *Subject) instructions(a, b int) (n int) {
	r.between(a, b, func(it *program.Item) {
		if it.Stmt.Kind == syntax.Instruction {
			n++
		}
	})
	return n
}

// within says whether an edit is in or next to a stretch.
func (r *Subject) within(s flow.Stretch, span finding.Span) bool {
	it := r.ItemAt(span.Start)
	return it == nil || s.Touches(it)
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
	if c.wide() && c.item.Stmt.Mnemonic != nil {
		op, letter, _ := c.operation()
		a, known := isa.ArithmeticOf(op)
		if a.Compares || letter && known {
			return yes, a.Flags
		}
		return no, a.Flags
	}
	base, cond := c.base(), false
	if m, _ := isa.Find(base); m == nil || len(m.Forms) == 0 {
		if b, _, ok := CondSplit(strings.ToLower(c.name)); ok {
			cond = true
			base = b
			if c.environment.Unified {
				base = strings.TrimSuffix(b, "s")
			}
		}
	}
	letter := c.environment.Unified && strings.HasSuffix(strings.TrimSuffix(strings.ToLower(c.name), ".n"), "s")
	if cond {
		b, _, _ := CondSplit(strings.ToLower(c.name))
		letter = c.environment.Unified && strings.HasSuffix(b, "s")
	}
	if n := strings.TrimSuffix(base, "s"); !c.environment.Unified && n != base && len(n) > 2 {
		base, letter = n, true // the letter of the other syntax
	}
	a, known := isa.ArithmeticOf(base)
	if want = a.Flags; !known {
		return no, 0
	}
	if a.Compares || letter {
		return yes, want
	}
	if c.environment.Unified {
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
	for i := range r.Sections {
		n += r.Sections[i].Size
	}
	return n
}

// padding is how many bytes of the sections are there for the sake of places: those
// of alignments, of literal pools in front of their words, and before .org.
func (r *Subject) padding() (n int64) {
	for i := range r.Items {
		it := &r.Items[i]
		if d := it.Stmt.Directive; d != nil && it.Stmt.Kind == syntax.Directive {
			switch d.Effect {
			case syntax.EffAlignByte, syntax.EffAlignPow, syntax.EffEven, syntax.EffAlignFrom, syntax.EffOrg, syntax.EffArm, syntax.EffCode:
				n += it.Size
			}
		}
		if it.Flags&program.HasPool != 0 {
			n += it.Size
		}
	}
	for i := range r.Sections {
		if s := &r.Sections[i]; s.EndPool >= 0 {
			n += s.Size - s.EndPool
		}
	}
	for i := range r.Literals {
		if l := &r.Literals[i]; l.Offset >= 0 && !l.Padding {
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
