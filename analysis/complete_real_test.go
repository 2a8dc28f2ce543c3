package analysis

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
	"narrowgauge/isa/reftest/sources"
)

// TestCompletionsReal asks at random places of sources that nobody here wrote, and of made
// ones, inside a word or at its start: what is there is offered, but for one in a hundred of each kind.
func TestCompletionsReal(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(61, 7)
	asked, missing := map[string]int{}, map[string][]string{}
	goal := reftest.Count(150, 5000, 30_000)
	ask := func(text string, set *Settings, n int) {
		f := syntax.Parse(text)
		r, err := Analyze(context.Background(), &Input{Path: "a.s", File: f, Set: set})
		if err != nil {
			t.Fatal(err)
		}
		askRandom(rnd, r, f, n, asked, missing)
	}
	for _, f := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
		ask(f(7, 400), nil, goal/6)
	}
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		var texts []*realText
		for _, x := range realTexts(t, p).texts {
			if !x.unit.Config.Big && len(x.text) < 60000 && len(x.text) > 400 {
				texts = append(texts, x)
			}
		}
		for range goal / 40 {
			if len(texts) > 0 {
				x := texts[rnd.IntN(len(texts))]
				ask(x.text, &Settings{Arch: x.unit.Config.Arch, FPU: x.unit.Config.FPU}, 24)
			}
		}
	}
	all := 0
	for kind, n := range asked {
		all += n
		proof.Counted("completions: %s: %d places, %d without what is there, %.2f %% have it", kind, n, len(missing[kind]), 100-100*float64(len(missing[kind]))/float64(n))
	}
	if all < goal/3 {
		t.Errorf("only %d places were asked for, want %d", all, goal/3)
	}
	for kind, list := range missing {
		if n := asked[kind]; len(list)*100 > n+reftest.Size(200, 0, 0) { // two more in a small sample
			t.Errorf("%s: %d of %d are missing: %.3000v", kind, len(list), n, list)
		}
	}
}

// shapesOfOperands are what may be behind a mnemonic: each is taken by one of these, near being a
// label below.
var shapesOfOperands = strings.Split(`|r0|r0, r1|r0, r1, r2|r0, r1, r2, r3|r0, #1|r0, #0|#0|#1|#4|r0, r1, #1|r0, r1, #4|r0, r1, r2, lsl #1|r0, r1, r2, asr #1|r0, r1, #1, #2|r0, #1, #2`+
	`|near|r0, near|[r0]|r0, [r1]|r0, [r1, #4]|r0, r1, [r2]|r0, r1, [r2, #8]|r0, r1, r2, [r3]|{r1, r2}|r0!, {r1, r2}|r0, {r1, r2}|r0, #3, r1|r0, r1, lsl #1|r0, lsl #1`+
	`|eq|i|#16|sp, #16|sp!, #16|r0, apsr|apsr_nzcvq, r0|cpsr_f, r0|r0, cpsr|r0, [r1], #4|r0, [r1], r2|p1, #1, r0, c1, c2, #1|p1, #1, c0, c1, c2, #1|p1, #1, r0, r1, c1|p1, c1, [r0]|p1, #1, c0, c1, c2|le|be`+
	`|r0, [r1, r2]|[r0, r1]|[r0, r1, lsl #1]|lr|i, #16|sy|r2, r3, [r0]|sp, #1|r0, pc, #4|r0, r1, r2, r3, r4|r0, r2, r3, [r1]`, "|")

// TestCompletionsMnemonics puts operands behind the names that are offered as legal: each has some
// that it takes, and the assembler takes them too.
func TestCompletionsMnemonics(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	for _, tt := range []struct {
		arch           string
		thumb, unified bool
	}{{"armv6-m", true, true}, {"armv7-m", true, true}, {"armv7-a", true, true}, {"armv7-a", false, true}, {"armv4t", false, false}, {"armv4t", true, false}, {"armv5te", false, true}} {
		head := "\t.arch " + tt.arch + "\n\t.syntax " + map[bool]string{true: "unified", false: "divided"}[tt.unified] + "\n\t" + map[bool]string{true: ".thumb", false: ".arm"}[tt.thumb] + "\n"
		names := map[string]bool{}
		analyze := func(text string) *Result {
			r, err := Analyze(t.Context(), &Input{Path: "a.s", File: syntax.Parse(text)})
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		for letter := 'a'; letter <= 'z'; letter++ {
			list, _ := analyze(head+"\t"+string(letter)+"\n").CompletionsIn("a.s", len(head)+2)
			for _, c := range list {
				if c.Kind == CompleteInstruction && c.Rank == 0 {
					names[c.Text] = true
				}
			}
		}
		var lines []string
		for _, name := range reftest.Sample(slices.Sorted(maps.Keys(names)), 10) {
			var b strings.Builder
			b.WriteString(head)
			for _, s := range shapesOfOperands {
				b.WriteString("\t" + name + " " + s + "\n")
			}
			b.WriteString("\t.balign 4\nnear:\tnop\n")
			r := analyze(b.String())
			refused := refusedLines(r, r.prog.File)
			k := 0
			for k < len(shapesOfOperands) && refused[k+3] {
				k++
			}
			if k == len(shapesOfOperands) {
				t.Errorf("%+v: %s is offered, and takes no operands that we know", tt, name)
				continue
			}
			lines = append(lines, name+" "+strings.ReplaceAll(shapesOfOperands[k], "near", ".+8"))
		}
		for i, v := range reftest.Assemble(t, reftest.Options{Arch: tt.arch, Unified: tt.unified, Thumb: tt.thumb}, lines) {
			if !v.OK && !strings.HasPrefix(lines[i], "hint") && !strings.HasPrefix(lines[i], "bxj") { // as isa's tables of disagreements say
				t.Errorf("%+v: the assembler refuses %q, whose name is offered", tt, lines[i])
			}
		}
		proof.Counted("%s, thumb %v, unified %v: %d names offered, %d written", tt.arch, tt.thumb, tt.unified, len(names), len(lines))
		if len(names) < 40 {
			t.Errorf("only %d names", len(names))
		}
	}
}

// TestCompletionsLegal writes what is offered as legal for an operand of random lines, of made
// programs and of sources that nobody here wrote: none of it is refused.
func TestCompletionsLegal(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(62, 7)
	tried := 0
	for _, gen := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
		tried += writeOffered(t, rnd, gen(9, 300), &Settings{}, reftest.Count(6, 60, 600))
	}
	made := tried
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		texts := slices.DeleteFunc(slices.Clone(realTexts(t, p).texts), func(x *realText) bool { return x.unit.Config.Big || len(x.text) > 30000 })
		for range reftest.Count(4, 25, 400) {
			if len(texts) > 0 {
				x := texts[rnd.IntN(len(texts))]
				tried += writeOffered(t, rnd, x.text, &Settings{Arch: x.unit.Config.Arch, FPU: x.unit.Config.FPU}, 4)
			}
		}
	}
	proof.Counted("completions written: %d, %d of them in real sources", tried, tried-made)
	if tried < reftest.Least(300) {
		t.Errorf("only %d completions were written", tried)
	}
}

// writeOffered writes what is offered as legal for an operand of so many random lines, and counts
// it.
func writeOffered(t *testing.T, rnd *rand.Rand, text string, set *Settings, lines int) (tried int) {
	t.Helper()
	f := syntax.Parse(text)
	r, err := Analyze(t.Context(), &Input{Path: "a.s", File: f, Set: set})
	if err != nil {
		t.Fatal(err)
	}
	refused := refusedLines(r, f)
	for range lines {
		n := rnd.IntN(f.NumLines())
		line := f.Line(n)
		if len(line.Stmts) == 0 || refused[n] {
			continue
		}
		s := &line.Stmts[len(line.Stmts)-1]
		if s.Kind != syntax.Instruction || len(s.Ops) == 0 {
			continue
		}
		o := &s.Ops[rnd.IntN(len(s.Ops))]
		if o.Kind != isa.OpReg && (o.Kind != isa.OpExpr || o.Word == "") || o.Writeback {
			continue
		}
		list, span := r.CompletionsIn("a.s", f.LineStart(n)+int(o.Start))
		for _, c := range list {
			if c.Rank != 0 || c.Kind == CompleteWord || rnd.IntN(4) > 0 {
				continue // a shift wants an amount
			}
			tried++
			after := text[:span.Start] + c.Text + text[span.End:]
			again, err := Analyze(t.Context(), &Input{Path: "a.s", File: syntax.Parse(after), Set: set})
			if err != nil {
				t.Fatal(err)
			}
			if refusedLines(again, again.prog.File)[n] {
				t.Errorf("%q: %s (%s) is offered for operand %q: %s", line.Text, c.Text, c.Detail, line.Text[o.Start:o.End], saidIn(again, n))
			}
		}
	}
	return tried
}

// saidIn is the first finding of a line.
func saidIn(r *Result, line int) string {
	for _, d := range r.Each() {
		if r.prog.File.LineAt(d.Span.Start) == line {
			return d.Message
		}
	}
	return ""
}

// refusedLines are the lines of a source with errors.
func refusedLines(r *Result, f *syntax.File) map[int]bool {
	out := map[int]bool{}
	for _, d := range r.Each() {
		if d.Severity == finding.Error && d.Path == "a.s" {
			out[f.LineAt(d.Span.Start)] = true
		}
	}
	return out
}

// vectorName is what registers of vectors and floating point are called.
var vectorName = regexp.MustCompile(`^(?i:[sdq]\d+)$`)

// known says whether a source says anywhere what a name is: not where the only place is a body
// that nothing calls, and the name another file's.
func known(r *Result, f *syntax.File, name string) bool {
	if _, err := strconv.Atoi(name[:len(name)-1]); err == nil {
		return true
	}
	if r.prog.SymbolOf(name) != nil {
		return true
	}
	for i := range f.NumLines() {
		if rest, ok := strings.CutPrefix(strings.TrimLeft(f.Line(i).Text, " \t"), name); ok {
			if rest = strings.TrimLeft(rest, " \t"); strings.HasPrefix(rest, ":") || strings.HasPrefix(rest, ".req") {
				return true
			}
		}
	}
	return false
}

func askRandom(rnd *rand.Rand, r *Result, f *syntax.File, n int, asked map[string]int, missing map[string][]string) {
	refused := refusedLines(r, f) // for other targets
	for range n * 3 {
		at := rnd.IntN(f.NumLines())
		line := f.Line(at)
		if refused[at] {
			continue
		}
		i := 0
		for ; i < len(line.Stmts); i++ {
			if line.Stmts[i].Kind == syntax.Instruction {
				break
			}
		}
		if i == len(line.Stmts) {
			continue
		}
		s := &line.Stmts[i]
		kind, from, to := "mnemonic", int(s.Start), int(s.NameEnd)
		if rnd.IntN(2) == 0 && len(s.Ops) > 0 {
			o := &s.Ops[rnd.IntN(len(s.Ops))]
			switch {
			case o.Kind == isa.OpReg, vectorName.MatchString(o.Word):
				kind = "register"
			case o.Kind == isa.OpExpr && o.Word != "":
				kind = "label"
			default:
				continue
			}
			from, to = int(o.Start), int(o.End)
			if line.Text[from] == '%' { // as some write registers
				from++
			}
		}
		word := strings.TrimSuffix(line.Text[from:to], "!")
		typed := rnd.IntN(min(len(word), 3))
		if kind == "register" {
			word, _, _ = strings.Cut(word, "[") // of a vector's register
		}
		if kind == "label" && !known(r, f, word) {
			continue
		}
		if kind == "mnemonic" {
			typed = max(typed, 1)
			if dot := strings.IndexByte(word, '.'); dot > 0 { // the type of data in another way than usual
				typed = dot + 1
			}
		}
		list, _ := r.CompletionsIn("a.s", f.LineStart(at)+from+typed)
		asked[kind]++
		if !slices.ContainsFunc(list, func(c Completion) bool { return strings.EqualFold(c.Text, word) }) {
			missing[kind] = append(missing[kind], fmt.Sprintf("%s [%s after %d]", strings.TrimSpace(line.Text), word, typed))
		}
	}
}
