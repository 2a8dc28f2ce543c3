package analysis_test

import (
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// TestTexts holds that what the benchmarks measure are programs without findings.
func TestTexts(t *testing.T) {
	for _, x := range []struct {
		name, text string
		opt        reftest.Options
	}{
		{"A32", firmware.A32(1, 10_000), reftest.Options{Arch: "armv4t"}},
		{"T32", firmware.T32(1, 10_000), reftest.Options{}},
	} {
		file := syntax.Parse(x.text)
		for i, d := range analyzeText(t, file).Early() {
			t.Errorf("%s, line %d: %s: %s", x.name, file.LineAt(d.Span.Start)+1, d.Code, d.Message)
			if i > 10 {
				break
			}
		}
		if f := reftest.AssembleFile(t, x.opt, x.text); !f.OK {
			t.Errorf("%s: the assembler refuses lines %v", x.name, f.ErrorLines)
		}
	}
}

// BenchmarkT32 is BenchmarkA32 for T32 code.
func BenchmarkT32(b *testing.B) {
	text := firmware.T32(1, 100_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		analyzeText(b, syntax.Parse(text))
	}
}

// BenchmarkA32 reads and analyses 100,000 lines of A32 code.
func BenchmarkA32(b *testing.B) {
	text := firmware.A32(1, 100_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		analyzeText(b, syntax.Parse(text))
	}
}
