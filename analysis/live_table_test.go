package analysis_test

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

// liveCase asks what is dead after a line, the '?' of its source. Two lines
// without an encoding are put there, one after the other: a store whose offset
// wants a register, and a move or addition whose rewrite changes flags. What the rewrites
// take and say is the answer.
type liveCase struct {
	name string
	head string // t16, t32 or a32
	src  string
	// reg is the register that the store's rewrite takes as it is dead; empty
	// where it has to save one.
	reg string
	// flags are those of the second line that count as alive.
	flags string
	files map[string]string
	alone bool // the reference assembler is not asked
	raw   bool // the source goes through the preprocessor
}

// The lines in a state: the store needs one register; the rewrite of the other line
// changes N, Z, C and V in T16, C and V in T32 and A32.
var liveStore = map[string]string{t16: "str r0,[r1,#200]", t32: "str r0,[r1,#5000]", a32: "str r0,[r1,#5000]"}
var liveFlags = map[string][2]string{t16: {"mov r0,#300", "move-add"}, t32: {"adds r0,r1,#0x12300", "two-adds"}, a32: {"adds r0,r1,#0x12300", "two-adds"}}

var (
	usesDead   = regexp.MustCompile(`using (\w+) which is dead here`)
	savesAlive = regexp.MustCompile(`saving \w+`)
	flagsAlive = regexp.MustCompile(`changes flags (\w+)`)
)

// offerAt is the first offer of a rewrite for the line in which mark is, with
// the line in mark's place.
func offerAt(t *testing.T, c *liveCase, line, rewrite, must string) (analysis.Action, string, bool) {
	t.Helper()
	text := lines(c.head + strings.Replace(c.src, "?", line, 1))
	at := strings.Index(text, line)
	p := program{text: text, files: c.files}
	if c.raw {
		p.path = "box.S"
	}
	for _, a := range p.analyze(t).Actions(context.Background(), analysis.Span{Start: at, End: at + len(line)}) {
		if a.Rewrite == rewrite && strings.Contains(a.Title, must) {
			return a, rewritten(text, a), true
		}
	}
	return analysis.Action{}, "", false
}

// checkLive runs one case and hands back what its rewrites make.
func checkLive(t *testing.T, c *liveCase) (results []string) {
	t.Helper()
	a, after, ok := offerAt(t, c, liveStore[c.head], "offset-register", "")
	reg := ""
	if m := usesDead.FindStringSubmatch(a.Title); m != nil {
		reg = m[1]
	}
	if !ok || (reg == "") != savesAlive.MatchString(a.Title) {
		t.Errorf("no offer, or neither a dead register nor a saved one: %q", a.Title)
	}
	if reg != c.reg {
		t.Errorf("register %q is dead, want %q: %s", reg, c.reg, a.Title)
	}
	results = append(results, after)
	add := liveFlags[c.head]
	b, after, ok := offerAt(t, c, add[0], add[1], "")
	flags := ""
	if m := flagsAlive.FindStringSubmatch(b.Title); m != nil {
		flags = m[1]
	}
	if !ok || flags != c.flags {
		t.Errorf("flags %q are alive, want %q: %q", flags, c.flags, b.Title)
	}
	if b.Safe != (flags == "") {
		t.Errorf("safe %v, and %q", b.Safe, b.Title)
	}
	return append(results, after)
}

func runLive(t *testing.T, cases []liveCase) {
	var texts []string
	seen := map[string]bool{}
	for i := range cases {
		c := &cases[i]
		if seen[c.name] {
			t.Fatalf("two cases have the name %q", c.name)
		}
		seen[c.name] = true
		t.Run(c.name, func(t *testing.T) {
			results := checkLive(t, c)
			if c.files == nil && !c.alone && !c.raw {
				texts = append(texts, results...)
			}
		})
	}
	t.Run("reference", func(t *testing.T) { assembles(t, texts) })
}

func init() {
	for _, h := range []string{".arch armv5te|.syntax unified|.thumb|"} {
		liveStore[h], liveFlags[h] = liveStore[t16], liveFlags[t16]
	}
	for _, fpu := range []string{"vfpv3", "fp-armv8"} {
		h := t32 + ".fpu " + fpu + "|"
		liveStore[h], liveFlags[h] = liveStore[t32], liveFlags[t32]
	}
}
