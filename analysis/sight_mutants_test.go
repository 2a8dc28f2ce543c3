package analysis

import (
	"context"
	"math/rand"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// TestSightMutants makes one slip in a copy of a real source for which nothing says the
// target: it has to be found all the same, as what the rest of the source speaks for
// counts for more. A slip is what has an error for the target that the source without it
// is taken for.
func TestSightMutants(t *testing.T) {
	t.Parallel()
	const least = 98 // of 100
	proof := reftest.Begin(t)
	reftest.Require(t, "arm-none-eabi-as")
	count, seed := reftest.Count(24, 1500, 20_000), int64(reftest.Seed(1))
	r := rand.New(rand.NewSource(seed))
	slips, found, missed := 0, 0, map[string]int{}
	var all []string
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		bases := firstSights(t, p)
		r.Shuffle(len(bases), func(i, j int) { bases[i], bases[j] = bases[j], bases[i] })
		mine := 0
		for n := 0; mine < count && n < 20*count && len(bases) > 0; n++ {
			x := bases[n%len(bases)]
			m := &mutator{Rand: r, kinds: mutatedKinds}
			for _, l := range labelDefinition.FindAllStringSubmatch(x.text, -1) {
				m.labels = append(m.labels, l[1])
			}
			text, what := m.mutate(x.text)
			if what == "" {
				continue
			}
			want := errorLinesOf(t, text, x.guess)
			if len(want) == 0 {
				continue // it is right as well
			}
			mine++
			slips++
			if got := errorLinesOf(t, text, nil); slices.ContainsFunc(got, func(l int) bool { return slices.Contains(want, l) }) {
				found++
				continue
			}
			kind, _, _ := strings.Cut(what, ",")
			missed[kind]++
			all = append(all, x.path+" as "+x.guess.Settings.Arch+" "+x.guess.Settings.CPU+": "+what)
		}
	}
	for _, s := range all[:min(len(all), 60)] {
		t.Log(s)
	}
	proof.Counted("slips without settings: %d, of which %.2f %% are found; not found by kind %v", slips, 100*float64(found)/float64(max(slips, 1)), missed)
	if found*100 < least*slips || slips < count {
		t.Errorf("%d of %d slips are found", found, slips)
	}
}

// sight is a source as it is at first sight.
type sight struct {
	path, text string
	guess      *Guess // what it is taken for, never nil
}

// firstSights are the texts of a package that have no error without a word about the target,
// each once.
func firstSights(t *testing.T, p *sources.Package) (out []sight) {
	seen := map[string]bool{}
	for _, x := range realTexts(t, p).texts {
		if n := strings.Count(x.text, "\n"); n < 8 || n > 700 || seen[x.text] || testing.Short() && len(out) >= 6 {
			continue
		}
		seen[x.text] = true
		r, err := AnalyzeGuessing(context.Background(), &Input{Path: "real.s", File: syntax.Parse(x.text)})
		if err != nil {
			t.Fatal(err)
		}
		if slices.ContainsFunc(r.Each(), func(d Diagnostic) bool { return d.Severity == finding.Error }) || chosen(r.prog) {
			continue
		}
		g := r.Guess()
		if g == nil {
			g = &Guess{}
		}
		out = append(out, sight{x.unit.File, x.text, g})
	}
	return out
}

// errorLinesOf are the lines with errors of a text that is taken for what a guess says; nil:
// for what it is taken for by itself.
func errorLinesOf(t *testing.T, text string, guess *Guess) (out []int) {
	t.Helper()
	in := &Input{Path: "real.s", File: syntax.Parse(text)}
	in.Guess = guess
	r, err := AnalyzeGuessing(context.Background(), in)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range r.Each() {
		if d.Severity == finding.Error {
			out = append(out, in.File.LineAt(d.Span.Start))
		}
	}
	return out
}

// TestSlipsKeepTarget puts slips into invented sources that speak for an architecture: they
// are found, and do not make another one of it.
func TestSlipsKeepTarget(t *testing.T) {
	routine := func(head, tail string, body ...string) string {
		text := "\t.syntax unified\n\t.thumb\n" + head
		for i := range 12 {
			text += strings.ReplaceAll("lamp%:\tpush {r4, lr}\n\tmovs r3, #%\n\tldr r4, [r0, #4]\n"+strings.Join(body, "")+"\tadds r4, r4, r3\n\tstr r4, [r0, #8]\n\tpop {r4, pc}\n", "%", string(rune('a'+i)))
			text = strings.ReplaceAll(text, "#"+string(rune('a'+i)), "#1")
		}
		return text + tail
	}
	for arch, c := range map[string]struct {
		text  string
		slips []string
	}{
		"armv6s-m": {routine("lock:\tmrs r0, primask\n\tcpsid i\n\tbx lr\nunlock:\tmsr primask, r0\n\tdsb\n\tisb\n\tbx lr\n", "", "\tuxtb r3, r3\n\trev r3, r3\n"),
			[]string{"adds r8, r8, #1", "subs r4, r9, #1", "movs r8, #1", "ands r8, r1", "ldr r8, [r0]", "str r1, [r9]", "ldrb r10, [r1, #1]", "push {r8}", "pop {r4, r9}", "stmia r8!, {r0}", "lsls r8, r1, #2",
				"cmp r8, #1", "muls r8, r1, r8", "uxtb r8, r1", "rev r9, r1", "adds r0, r1, #300", "movs r0, #300", "ldr r0, [r1, #200]", "ldrb r0, [r1, #40]", "cmp r0, #300", "adds r0, #300", "add r0, sp, #2000", "eors r0, #1", "mvns r0, #1", "tst r1, #4"}},
		"armv7-m": {routine("lock:\tmrs r0, basepri\n\tmov r1, #32\n\tmsr basepri, r1\n\tbx lr\n", "", "\tubfx r3, r4, #3, #5\n\tcbz r3, skip%\n\tudiv r3, r4, r3\nskip%:\n"),
			[]string{"mov r0, #0x12345678", "add r0, r1, #0x12345", "ldr r0, [r1, #5000]", "mov r16, #1", "cmp r0, #0x1234", "ldrd r0, r1, [r2, #2]", "push {r0, sp}", "mvoe r0, r1", "ubfx r0, r1, #30, #5", "ldr r0, [r1", "movs r0, #UNKNOWN"}},
		"armv5te": {strings.ReplaceAll(routine("", "", "\tclz r3, r4\n\tsmulbb r3, r3, r4\n"), ".thumb\n", ".arm\n"),
			[]string{"mov r0, #0x101", "add r0, r1, #0x12345", "ldr r0, [r1, #5000]", "ldrh r0, [r1, #300]", "mov r16, #1", "cmp r0, #0x1234", "mvoe r0, r1", "add r0, r1, r2, lsl #33", "stmia r0!, {}"}},
	} {
		if g := analyzeGuessed(t, "box.s", c.text).Guess(); g == nil || g.Settings.Arch != arch {
			t.Errorf("%s: taken for %v", arch, g)
			continue
		}
		for _, slip := range c.slips {
			for _, at := range []string{"lampa:", "lampf:", "lampl:"} {
				text := strings.Replace(c.text, at, "\t"+slip+"\n"+at, 1)
				r := analyzeGuessed(t, "box.s", text)
				line := strings.Count(text[:strings.Index(text, at)], "\n") - 1
				if g := r.Guess(); g == nil || g.Settings.Arch != arch {
					t.Errorf("%s with %s: taken for %v", arch, slip, g)
				} else if !slices.ContainsFunc(r.Each(), func(d Diagnostic) bool {
					return d.Severity == finding.Error && r.in.File.LineAt(d.Span.Start) == line
				}) {
					t.Errorf("%s: %s is not found", arch, slip)
				}
			}
		}
	}
}
