package analysis_test

import (
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestExplainAll explains every mnemonic that a row describes, with and without
// a condition, by its encodings.
func TestExplainAll(t *testing.T) {
	proof := reftest.Begin(t)
	names := isa.StemsA32()
	for _, m := range isa.Mnemonics() {
		names = append(names, m.Name)
	}
	n := 0
	for _, name := range names {
		md, _, ok := analysis.Explain(name)
		if !ok || !strings.Contains(md, "encoding") || !strings.Contains(md, "## ") || !strings.Contains(md, " bytes, ") {
			t.Errorf("%s: %v %.80q", name, ok, md)
		}
		n++
	}
	for _, name := range []string{"addeq", "ldreqb", "vaddne.f32", "tbbhi", "umulllt"} {
		if md, _, ok := analysis.Explain(name); !ok || !strings.Contains(md, "## ") {
			t.Errorf("%s: %.80q", name, md)
		}
	}
	proof.Counted("explained: %d mnemonics", n)
}
