package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// planter puts a mistake into a routine of a source.
type planter struct {
	*rand.Rand
	r     *Result
	text  string
	items []*program.Item // of the routine, in order
}

// planting is a kind of mistake: put gives the edits that make it, none where the routine has
// no place for it; codes are the checks that may find it.
type planting struct {
	kind  string
	codes []string
	put   func(p *planter) []finding.Edit
}

var plantings = []planting{
	{"flags overwritten between compare and use", []string{finding.CodeCompareUnused, finding.CodeFlagsOfTwo, finding.CodeConditionKnown}, (*planter).overwriteFlags},
	{"compare of a register with itself", []string{finding.CodeConditionKnown}, (*planter).compareSelf},
	{"return address not saved around a call", []string{finding.CodeReturnLost}, (*planter).loseReturn},
	{"a register left on the stack", []string{finding.CodeStackBalance, finding.CodeNotRestored, finding.CodeStateBit}, (*planter).unbalance},
	{"place on the stack not given back", []string{finding.CodeStackBalance}, (*planter).keepFrame},
	{"a register of the caller not saved", []string{finding.CodeNotRestored}, (*planter).notSaved},
	{"no return at the end", []string{finding.CodeRunsOut}, (*planter).noReturn},
	{"a value overwritten before it is read", []string{finding.CodeValueUnused}, (*planter).overwriteValue},
	{"a register read that a call has changed", []string{finding.CodeChangedByCall}, (*planter).afterCall},
	{"a word from an address off its boundary", []string{finding.CodeMisaligned}, (*planter).misalign},
	{"a jump to Thumb code without bit 0", []string{finding.CodeStateBit}, (*planter).wrongState},
}

// pick is one of the routine's lines for which ok holds; nil without one.
func (p *planter) pick(ok func(it *program.Item, e *isa.Effects) bool) *program.Item {
	var list []*program.Item
	for _, it := range p.items {
		if it.File != 0 || it.Match.Form == nil || it.Slot&program.SlotIn != 0 {
			continue
		}
		if e := it.Match.Effects(); ok(it, &e) {
			list = append(list, it)
		}
	}
	if len(list) == 0 {
		return nil
	}
	return list[p.IntN(len(list))]
}

func (p *planter) span(it *program.Item) finding.Span {
	at := p.r.prog.File.LineStart(int(it.Line))
	return finding.Span{Start: at + int(it.Stmt.Start), End: at + int(it.Stmt.End)}
}

func (p *planter) words(it *program.Item) string { s := p.span(it); return p.text[s.Start:s.End] }

func (p *planter) change(it *program.Item, to string) []finding.Edit {
	return []finding.Edit{{Span: p.span(it), New: to}}
}

func (p *planter) behind(it *program.Item, lines ...string) []finding.Edit {
	return p.change(it, p.words(it)+"\n\t"+strings.Join(lines, "\n\t")+"\n\t")
}

func (p *planter) before(it *program.Item, lines ...string) []finding.Edit {
	return p.change(it, strings.Join(lines, "\n\t")+"\n\t"+p.words(it))
}

// s is the ending of a name that sets flags, as it is spelled at a line.
func (p *planter) s(it *program.Item) string {
	e := p.env(it)
	if e.Mode == isa.T && !e.Unified {
		return ""
	}
	return "s"
}

func (p *planter) env(it *program.Item) *program.Environment {
	return &p.r.prog.Environments[it.Environment]
}

func (p *planter) next(it *program.Item) *program.Item {
	for i, x := range p.items {
		if x == it && i+1 < len(p.items) {
			return p.items[i+1]
		}
	}
	return nil
}

func (p *planter) compares(it *program.Item) bool {
	op, _, _ := it.Stmt.Mnemonic.Operation()
	a, ok := isa.ArithmeticOf(op)
	return ok && a.Compares
}

// used says whether the line after one is a branch on its flags.
func (p *planter) used(it *program.Item) bool {
	n := p.next(it)
	return n != nil && n.Match.Form != nil && n.Match.Effects().Flow == isa.FlowBranch && n.Match.Effects().FlagsRead != 0 && n.Section == it.Section
}

func (p *planter) overwriteFlags() []finding.Edit {
	it := p.pick(func(it *program.Item, e *isa.Effects) bool { return p.compares(it) && !e.Conditional && p.used(it) })
	if it == nil {
		return nil
	}
	d := isa.Reg(p.IntN(4))
	line := []string{"add%s %v, %v, #1", "sub%s %v, %v, #4", "lsl%s %v, %v, #2"}[p.IntN(3)]
	if p.IntN(4) == 0 {
		return p.behind(it, fmt.Sprintf("mov%s %v, #0", p.s(it), d))
	}
	if p.env(it).Mode == isa.A && strings.HasPrefix(line, "lsl") && !p.env(it).Unified {
		line = strings.Replace("mov%s %v, %v, lsl #2", "lsl", "lsl", 1)
	}
	return p.behind(it, fmt.Sprintf(line, p.s(it), d, d))
}

func (p *planter) compareSelf() []finding.Edit {
	it := p.pick(func(it *program.Item, e *isa.Effects) bool {
		op, _, _ := it.Stmt.Mnemonic.Operation()
		return op == "cmp" && !e.Conditional && p.used(it) && len(it.Stmt.Ops) == 2 && e.Reads.Count() > 0
	})
	if it == nil {
		return nil
	}
	var r isa.Reg
	for reads := it.Match.Effects().Reads; !reads.Has(r); {
		r++
	}
	return p.change(it, fmt.Sprintf("%s %v, %v", it.Stmt.Name, r, r))
}

// lists are the lines that save registers at the beginning and take them back.
func (p *planter) lists() (save *program.Item, back []*program.Item) {
	for _, it := range p.items {
		if it.File != 0 || it.Match.Form == nil || !strings.Contains(p.words(it), "{") {
			continue
		}
		e := it.Match.Effects()
		switch {
		case !e.Writes.Has(isa.SP) || !e.Reads.Has(isa.SP) || it.Match.Form.Row.Vector():
		case e.WritesMem && save == nil:
			save = it
		case e.ReadsMem && save != nil:
			back = append(back, it)
		}
	}
	return save, back
}

// without is the line's text with some registers less in its list; empty where none are left.
func (p *planter) without(it *program.Item, less isa.RegList) string {
	words := p.words(it)
	open, end := strings.IndexByte(words, '{'), strings.LastIndexByte(words, '}')
	if open < 0 || end < open {
		return words
	}
	e := it.Match.Effects()
	list := e.Reads
	if e.ReadsMem {
		list = e.Writes
	}
	list &^= 1<<isa.SP | less
	if list == 0 {
		return ""
	}
	return words[:open] + list.String() + words[end+1:]
}

func (p *planter) loseReturn() (out []finding.Edit) {
	save, back := p.lists()
	call := p.pick(func(_ *program.Item, e *isa.Effects) bool { return e.Flow == isa.FlowCall })
	if save == nil || call == nil || len(back) == 0 || call.Index < save.Index || !save.Match.Effects().Reads.Has(isa.LR) {
		return nil
	}
	out = p.change(save, p.without(save, 1<<isa.LR))
	for _, it := range back {
		if w := it.Match.Effects().Writes; w.Has(isa.PC) && it.Match.Condition() >= isa.AL {
			out = append(out, p.change(it, p.without(it, 1<<isa.PC)+"\n\tbx lr\n\t")...)
		} else if w.Has(isa.LR) {
			out = append(out, p.change(it, p.without(it, 1<<isa.LR))...)
		} else {
			return nil
		}
	}
	return out
}

func (p *planter) unbalance() []finding.Edit {
	save, back := p.lists()
	if save == nil || len(back) == 0 {
		return nil
	}
	it := back[p.IntN(len(back))]
	w := it.Match.Effects().Writes &^ (1<<isa.SP | 1<<isa.PC)
	if w == 0 || p.IntN(3) == 0 && !it.Match.Effects().Writes.Has(isa.PC) {
		if it.Match.Effects().Writes.Has(isa.PC) {
			return nil
		}
		return p.change(it, "")
	}
	r := isa.Reg(p.IntN(15))
	for !w.Has(r) {
		r = (r + 1) % 15
	}
	return p.change(it, p.without(it, 1<<r))
}

func (p *planter) keepFrame() []finding.Edit {
	it := p.pick(func(it *program.Item, e *isa.Effects) bool {
		op, _, _ := it.Stmt.Mnemonic.Operation()
		return op == "add" && e.Writes == 1<<isa.SP && e.Reads.Has(isa.SP) && !e.Conditional
	})
	if it == nil {
		return nil
	}
	return p.change(it, "")
}

func (p *planter) notSaved() (out []finding.Edit) {
	save, back := p.lists()
	if save == nil || len(back) == 0 {
		return nil
	}
	var changed isa.RegList
	for _, it := range p.items {
		if it.Match.Form != nil && !slices.Contains(back, it) {
			changed |= it.Match.Effects().Writes
		}
	}
	changed &= save.Match.Effects().Reads & 0xdf0
	for _, it := range back {
		changed &= it.Match.Effects().Writes
	}
	if changed == 0 {
		return nil
	}
	r := isa.Reg(4 + p.IntN(8))
	for !changed.Has(r) {
		r = 4 + (r-3)%8
	}
	for _, it := range append(back, save) {
		out = append(out, p.change(it, p.without(it, 1<<r))...)
	}
	return out
}

func (p *planter) noReturn() []finding.Edit {
	last := p.items[len(p.items)-1]
	if last.File != 0 || last.Match.Form == nil || last.Match.Effects().Conditional || !last.Match.Effects().Writes.Has(isa.PC) {
		return nil
	}
	return p.change(last, "")
}

func (p *planter) overwriteValue() []finding.Edit {
	it := p.pick(func(it *program.Item, e *isa.Effects) bool {
		n := p.next(it)
		return e.Writes.Count() == 1 && e.Writes < 1<<8 && e.Flow == isa.FlowNext && !e.Conditional && n != nil && n.Match.Form != nil && n.Match.Effects().Reads&e.Writes != 0 &&
			n.Match.Effects().FlagsRead == 0 && !(e.FlagsWritten != 0 && p.env(it).Mode == isa.T)
	})
	if it == nil {
		return nil
	}
	var d isa.Reg
	for !it.Match.Effects().Writes.Has(d) {
		d++
	}
	s := p.s(it)
	if p.env(it).Mode == isa.A {
		s = ""
	}
	return p.behind(it, fmt.Sprintf("mov%s %v, #%d", s, d, p.IntN(200)))
}

func (p *planter) afterCall() []finding.Edit {
	call := p.pick(func(it *program.Item, e *isa.Effects) bool {
		n := p.next(it)
		return e.Flow == isa.FlowCall && !e.Conditional && n != nil && n.File == 0 && n.Match.Form != nil && n.Match.Effects().Reads&0xff0 != 0 && n.Match.Effects().Flow == isa.FlowNext && len(n.Stmt.Ops) > 1
	})
	if call == nil {
		return nil
	}
	n := p.next(call)
	e := n.Match.Effects()
	for i := range n.Stmt.Ops {
		o := &n.Stmt.Ops[i]
		if o.Kind == isa.OpReg && e.Reads.Has(o.Reg) && o.Reg >= 4 && o.Reg < 12 && (i > 0 || !e.Writes.Has(o.Reg)) {
			words, name := p.words(n), o.Reg.String()
			at := strings.LastIndex(words, name)
			if at < 0 || at+len(name) < len(words) && words[at+len(name)] >= '0' && words[at+len(name)] <= '9' {
				return nil
			}
			return p.change(n, words[:at]+[]string{"r2", "r3"}[p.IntN(2)]+words[at+len(name):])
		}
	}
	return nil
}

// misalign puts a load of a word of a table in front of a line, at an address that is off by
// a byte or two.
func (p *planter) misalign() []finding.Edit {
	it := p.pick(func(it *program.Item, e *isa.Effects) bool {
		return e.Flow == isa.FlowNext && e.FlagsRead == 0 && !e.Conditional && !e.Writes.Has(isa.SP)
	})
	if it == nil {
		return nil
	}
	d := isa.Reg(p.IntN(4))
	load := fmt.Sprintf("ldr %v, [%v]", d, d)
	switch have := p.env(it).Have; {
	case have.Has(isa.FeatV6) && !(have.Has(isa.FeatM) && !have.Has(isa.FeatT32)):
		load = fmt.Sprintf("ldmia %v!, {r4, r5}", d)
	}
	return p.before(it, fmt.Sprintf("ldr %v, =0x%x", d, 0x20000001+p.IntN(2)+4*p.IntN(64)), load)
}

func (p *planter) wrongState() []finding.Edit {
	it := p.pick(func(it *program.Item, e *isa.Effects) bool {
		return p.env(it).Mode == isa.T && e.Flow == isa.FlowNext && !e.Conditional && it.Offset&3 == 0
	})
	if it == nil {
		return nil
	}
	return p.before(it, "ldr r3, =.Lplanted", "bx r3", ".Lplanted:")
}

// differs says whether some routine does otherwise with the mistake than without it, from the
// same states: what it returns, calls, stores, and where it ends.
func differs(g *rand.Rand, want, got *build, r *Result) bool {
	routines, _ := begins(&pair{want: want, got: got}, r, 0, 0)
	for _, b := range routines {
		for range 12 {
			seed, state := g.Uint32(), g.Uint64()
			x := want.start(rand.New(rand.NewPCG(state, 1)), b.want, b.set, seed)
			y := got.start(rand.New(rand.NewPCG(state, 1)), b.got, b.set, seed)
			x.run(3000)
			y.run(3000)
			if x.end == "return" && y.end != "return" {
				return true
			}
			if d, _ := tell(x, y); d != "" {
				return true
			}
		}
	}
	return false
}

// codeCounts counts the findings of each check.
func codeCounts(r *Result) map[string]int {
	out := map[string]int{}
	for _, d := range r.Diagnostics() {
		out[d.Code]++
	}
	return out
}

// plantedBase is a source with its routines.
type plantedBase struct {
	x        *realText
	set      *Settings
	r        *Result
	list     []place
	want     *build
	routines [][]*program.Item
	counts   map[string]int
}

func newPlantedBase(t *testing.T, l *linker, x *realText) *plantedBase {
	b := &plantedBase{x: x, set: &Settings{Arch: x.unit.Config.Arch, FPU: x.unit.Config.FPU}}
	r, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(x.text), Set: b.set})
	if err != nil {
		t.Fatal(err)
	}
	if len(errorsByLine(r)) > 0 {
		return nil
	}
	b.r, b.list, b.counts = r, sizedPlaces(r), codeCounts(r)
	if b.want, err = l.build(x.text, b.list, x.unit.Config.Flags(), r.prog.Environments[r.prog.Last].Have); err != nil {
		return nil
	}
	paths := &flow.Paths{Evaluator: eval.New(r.prog)}
	r.prog.EachSymbol(func(y *program.Symbol) {
		if y.Global && y.Label && y.Defined && y.Item >= 0 {
			if sum, ok := paths.RoutineAt(&r.prog.Items[y.Item], y.Function); ok && sum.Lines > 3 {
				b.routines = append(b.routines, sum.Items)
			}
		}
	})
	sort.Slice(b.routines, func(i, j int) bool { return b.routines[i][0].Index < b.routines[j][0].Index })
	return b
}

// TestRealPlanted puts mistakes of the kinds that checks of running programs are about into
// routines that nobody here wrote, keeps those that change what a routine does when it is
// carried out, and counts how many of them are found, by kind.
func TestRealPlanted(t *testing.T) {
	t.Parallel()
	l := newLinker(t)
	proof := reftest.Begin(t)
	g := reftest.Rand(15, 9)
	goal := reftest.Count(44, 200, 2000)
	matter, found := map[string]int{}, map[string]int{}
	total, all := 0, 0
	var missed []string
	var texts []*realText
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		for _, x := range realTexts(t, p).texts {
			if !x.unit.Config.Big && len(x.text) < 60000 {
				texts = append(texts, x)
			}
		}
	}
	bases := map[*realText]*plantedBase{}
	for try := 0; try < goal*60 && total < goal; try++ {
		x := texts[g.IntN(len(texts))]
		b, ok := bases[x]
		if !ok {
			b = newPlantedBase(t, l, x)
			bases[x] = b
		}
		if b == nil || len(b.routines) == 0 {
			continue
		}
		k := plantings[g.IntN(len(plantings))]
		if matter[k.kind] > goal/len(plantings)*3/2 {
			continue
		}
		p := &planter{g, b.r, x.text, b.routines[g.IntN(len(b.routines))]}
		edits := k.put(p)
		if len(edits) == 0 || slices.ContainsFunc(edits, func(e finding.Edit) bool { return e.Span.Start < 0 }) {
			continue
		}
		slices.SortFunc(edits, func(a, b finding.Edit) int { return a.Span.Start - b.Span.Start })
		text := applied(t, x.text, edits)
		r, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(text), Set: b.set})
		if err != nil {
			t.Fatal(err)
		}
		if len(errorsByLine(r)) > 0 {
			continue
		}
		all++
		got, err := l.build(text, after(x.text, b.list, edits), x.unit.Config.Flags(), b.want.have)
		if err != nil || !differs(g, b.want, got, b.r) {
			continue
		}
		total++
		matter[k.kind]++
		counts := codeCounts(r)
		if slices.ContainsFunc(k.codes, func(c string) bool { return counts[c] > b.counts[c] }) {
			found[k.kind]++
		} else {
			missed = append(missed, fmt.Sprintf("%s: %s %s\n%s", k.kind, x.unit.Path, x.unit.Config.Name, around(x.text, edits)))
		}
	}
	hits := 0
	for _, k := range plantings {
		proof.Counted("%s: %d, found %d", k.kind, matter[k.kind], found[k.kind])
		hits += found[k.kind]
	}
	proof.Counted("mistakes planted in real sources: %d of %d change what is done, %d of them are found", total, all, hits)
	if dir := reftest.Text(reftest.Show); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "planted.txt"), []byte(strings.Join(missed, "\n")), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	share := 80 // per cent
	if goal < 500 {
		share = 60 // a small sample may have few of what is easy to find
	}
	if hits*100 < total*share || total < reftest.Least(goal*9/10) {
		t.Errorf("%d of %d are found, of %d that were to be tried", hits, total, goal)
	}
}

// around are the lines near edits, with what the edits put there.
func around(text string, edits []finding.Edit) string {
	var b strings.Builder
	for _, e := range edits {
		from := e.Span.Start
		for n := 0; from > 0 && n < 4; from-- {
			if text[from-1] == '\n' {
				n++
			}
		}
		to := e.Span.End
		for n := 0; to < len(text) && n < 4; to++ {
			if text[to] == '\n' {
				n++
			}
		}
		fmt.Fprintf(&b, "%s«%s → %s»%s\n--\n", text[from:e.Span.Start], text[e.Span.Start:e.Span.End], e.New, text[e.Span.End:to])
	}
	return b.String()
}
