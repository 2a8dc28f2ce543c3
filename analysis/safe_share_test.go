package analysis_test

import (
	"os"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// TestSafeShare counts how many rewrites are safe over sources that have nothing
// unusual about them: caution elsewhere must not cost them the word.
func TestSafeShare(t *testing.T) {
	var texts []string
	for _, w := range analysis.Rewrites() {
		texts = append(texts, w.Before)
	}
	for _, c := range analysis.Checks() {
		texts = append(texts, c.Bad)
	}
	demo, err := os.ReadFile("../editors/demo/findings.s")
	if err != nil {
		t.Fatal(err)
	}
	count := func(what string, least int, texts ...string) {
		safe, all := 0, 0
		for _, x := range reftest.Sample(texts, 4) {
			r := analyzeText(t, syntax.Parse(x))
			asked := map[analysis.Span]bool{}
			for _, d := range r.Each() {
				if at := (analysis.Span{Start: d.Span.Start, End: d.Span.Start}); !asked[at] {
					asked[at] = true
					for _, a := range r.Actions(t.Context(), at) {
						if all++; a.Safe {
							safe++
						}
					}
				}
			}
		}
		if t.Logf("%s: %d of %d rewrites are safe", what, safe, all); safe < least {
			t.Errorf("%s: %d are safe; %d at least", what, safe, least)
		}
	}
	// Ending a block before a line that was evidently written for it is not safe: that is
	// what it-close does to the example of it-condition.
	count("examples", reftest.Size(12, 85, 85), texts...)
	if !reftest.Part() { // each of its findings is asked by itself
		count("demo", 40, string(demo))
	}
}
