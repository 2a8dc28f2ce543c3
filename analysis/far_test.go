package analysis

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// TestFarBranches holds that the layout's work is in step with the number of branches
// that may grow, however far they lead and whatever lies between: twice as many may take
// two and a half times as many units of work, counted by looks at the context.
func TestFarBranches(t *testing.T) {
	t.Parallel()
	turns := reftest.Size(5_000, 30_000, 100_000)
	for _, pattern := range reftest.Sample([]string{
		"*l%d:\tbeq l{r}\n¦l%d:\n",                              // across each other
		"*\tbeq l%d\n¦*l%d:\tnop\n",                             // forward
		"*l%d:\tnop\n¦*\tbeq l%d\n",                             // back
		"*\tb end\n¦end:\n",                                     // all to one place
		"*\tbeq l%d\n\t.balign 4\n¦*\t.balign 8\nl%d:\tnop\n",   // over alignments
		"*\tbeq l{n}\n\t.space 252\nl%d:\n¦l%d:\n",              // just out of reach
		"*\tldr r0, l%d\n¦*\t.balign 4\nl%d:\t.word 1\n",        // loads
		"*\tbeq l%d\n\t.uleb128 l{n}-l%d\n¦*l%d:\tnop\n¦l%d:\n", // over sizes that change, too
	}, 3) {
		work := [2]int{}
		for k, n := range []int{turns, 2 * turns} {
			ctx := &looking{Context: t.Context(), looks: map[string]int{}}
			text := "\t.syntax unified\n\t.thumb\n" + grow(pattern, n)
			if _, err := Analyze(ctx, &Input{Path: "far.s", File: syntax.Parse(text), Set: &Settings{CPU: "cortex-m3"}}); err != nil {
				t.Fatal(err)
			}
			work[k] = ctx.looks["relax"]
		}
		t.Logf("%q: %d thousand units, then %d", pattern, work[0], work[1])
		if work[0] == 0 || work[1] > work[0]*5/2 {
			t.Errorf("%q: %d branches take %d thousand units of work, twice as many take %d", pattern, turns, work[0], work[1])
		}
	}
}

// TestLayoutBound holds that a layout that takes too much work ends, and that a finding
// says so: each branch that grows puts the target of another one out of reach.
func TestLayoutBound(t *testing.T) {
	const n = 9000
	var b strings.Builder
	b.WriteString("\t.syntax unified\n\t.thumb\n\tmovs r0, #0x12345\n")
	for k := range n {
		fmt.Fprintf(&b, "\tbeq t%d\nt%d:\t.space 126\n", k+2, k)
	}
	text := b.String() + fmt.Sprintf("\t.space 300\nt%d:\nt%d:\tnop\n", n, n+1)
	for _, short := range []bool{false, true} {
		if short { // which ends
			text = strings.Replace(text, "\t.space 300\n", "", 1)
		}
		var codes []string
		r := analyze(t, &Settings{CPU: "cortex-m3"}, text)
		for _, d := range r.Diagnostics() {
			codes = append(codes, d.Code)
		}
		want := []string{finding.CodeConstRange, finding.CodeMacroSize}
		if short {
			want = want[:1]
		}
		if !slices.Equal(codes, want) {
			t.Errorf("short: %v: findings %v, want %v", short, codes, want)
		}
	}
}
