package analysis

import (
	"context"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestEveryName analyses a line with each mnemonic in each instruction set of
// many targets, with operands that suit few of them: there has to be an answer.
func TestEveryName(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	operands := []string{"", "r0", "r0, r1", "r0, r1, r2", "r0, #1", "d0, d1", "q0, q1, q2", "s0, s1", "label", "r0, [r1]", "r0, r1, [r2]", "r0, r1, r2, [r3]", "r0, r1, r2, r3", "{r0}", "{d0}, [r0]", "#1", "p1, #1, r0, c0, c0, #0", "r0, =5", "d0, =5"}
	names := isa.StemsA32()
	for _, m := range isa.Mnemonics() {
		names = append(names, m.Name)
	}
	slices.Sort(names)
	names = reftest.Sample(slices.Compact(names), 11)
	var b strings.Builder
	for _, n := range names {
		for _, o := range operands {
			b.WriteString("\t" + n + " " + o + "\n")
		}
	}
	text := b.String() + "label:\n"
	for _, arch := range []string{"armv4", "armv5te", "armv6-m", "armv7-a+simd", "armv7e-m+fp", "armv8-a+crypto", "armv8-m.base", "armv8.1-m.main+mve.fp"} {
		for _, head := range []string{".syntax unified\n.arm\n", ".syntax unified\n.thumb\n", ".thumb\n"} {
			r, err := Analyze(context.Background(), &Input{Path: "names.s", File: syntax.Parse(head + text), Set: &Settings{Arch: arch}})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Each()) < len(names) {
				t.Errorf("%s, %q: %d findings", arch, head, len(r.Each()))
			}
		}
	}
	proof.Counted("names: %d with %d shapes of operands", len(names), len(operands))
}
