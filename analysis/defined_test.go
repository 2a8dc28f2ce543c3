package analysis

import (
	"context"
	"regexp"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa/reftest"
)

// TestDefinedOffers asks for rewrites of lines whose constants and registers are
// macros of the preprocessor, whose names are longer than what they make, or shorter:
// there are as many offers as for the line itself.
func TestDefinedOffers(t *testing.T) {
	ctx := context.Background()
	places := regexp.MustCompile(`-?\b\d+\b|\br[18]\b`)
	t.Parallel()
	proof := reftest.Begin(t)
	lines, offers, every := 0, 0, reftest.Size(25, 1, 1)
	for k, l := range badLines() {
		if k%every != 0 {
			continue
		}
		arch := []string{"armv4t", "armv7-m"}[k%2]
		set := &Settings{Arch: arch, Preprocess: "always"}
		at := places.FindAllStringIndex(l, -1)
		for i, span := range append(at, at...) {
			name, n := "NUMBER_OF_LAMPS_IN_A_ROW", l[span[0]:span[1]]
			if i < len(at) {
				name = "N"
			}
			head := "\t.syntax unified\n\t.thumb\nf:\n"
			tail := "\tmovs r1, #0\n\tmovs r2, #0\n\tbx lr\n"
			plain := analyze(t, &Settings{Arch: arch}, head+"\t"+l+"\n"+tail)
			head = "#define " + name + " " + n + "\n" + head
			text := head + "\t" + l[:span[0]] + name + l[span[1]:] + "\n" + tail
			r := analyze(t, set, text)
			want := plain.Actions(ctx, finding.Span{Start: 0, End: 1 << 20})
			got := r.Actions(ctx, finding.Span{Start: 0, End: len(text)})
			lines++
			offers += len(got)
			if len(got) != len(want) {
				t.Errorf("%s: %d offers with %s in its place, %d without", l, len(got), name, len(want))
			}
		}
	}
	proof.Counted("defined names: %d lines, %d offers", lines, offers)
}
