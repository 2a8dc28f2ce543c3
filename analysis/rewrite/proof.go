package rewrite

import (
	"context"
	"fmt"
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
	if !a.Safe {
		n += 5
		if sets, _ := c.intent(); sets == yes {
			n += 11
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

// edited is a file with an edit made, in the dialect that it has.
func edited(f *syntax.File, e *finding.Edit) *syntax.File {
	return f.Edit(e.Span.Start, e.Span.End, e.New).As(f.Dialect())
}

// prove analyses the result of a candidate.
func (c *rewriting) prove(ctx context.Context, k *candidate) (Action, bool) {
	sort.SliceStable(k.edits, func(i, j int) bool { return k.edits[i].Span.Start < k.edits[j].Span.Start })
	f := c.subject.File
	for i := len(k.edits) - 1; i >= 0; i-- {
		e := k.edits[i]
		if i > 0 && k.edits[i-1].Span.End > e.Span.Start {
			return Action{}, false
		}
		f = edited(f, &e)
	}
	r2, err := c.subject.again(ctx, f)
	if err != nil {
		return Action{}, false
	}
	flags := c.changedFlags(k, r2)
	if !c.cures(k.edits, r2) {
		return Action{}, false
	}
	bytes := int(r2.total() - c.subject.total())
	live := flags &^ c.subject.DeadFlags(c.item, flags)
	cost := sizeText(bytes, int(r2.padding()-c.subject.padding()))
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
		Title: k.title + " (" + strings.Join(cost, ", ") + ")", Rewrite: k.name, Code: c.diagnostic.Code, Target: c.diagnostic.Span, Edits: k.edits,
		Safe: safe, Bytes: bytes,
	}, true
}

// shiftsWhatIsCounted says whether the edits, whose result is analysed in after, move
// code under something that counts on distances.
func (c *rewriting) shiftsWhatIsCounted(after *flow.Paths, edits []finding.Edit) bool {
	if !c.measured {
		c.measured, c.counted = true, c.subject.Stretches()
	}
	return c.subject.Moved(after, edits, c.counted) || c.countsFromItself() && after.Instructions() != c.subject.Instructions()
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
	start := c.subject.File.LineStart(int(c.item.Line))
	for _, e := range k.edits {
		if e.Span.Start < start+int(c.item.Stmt.End) && e.Span.End > start+int(c.item.Stmt.Start) {
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
	if c.wide() && c.item.Stmt.Mnemonic != nil {
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
	switch want = flow.SetBy(base); {
	case want == 0:
		return no, 0
	case base == "cmp", base == "cmn", base == "tst":
		return yes, want
	}
	if letter {
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
