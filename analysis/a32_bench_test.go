package analysis_test

import (
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// TestA32Text holds that what the benchmark measures is a program.
func TestA32Text(t *testing.T) {
	text := firmware.A32(1, 10_000)
	file := syntax.Parse(text)
	for i, d := range analyzeText(t, file).Diagnostics() {
		t.Errorf("line %d: %s: %s", file.LineAt(d.Span.Start)+1, d.Code, d.Message)
		if i > 10 {
			break
		}
	}
	if f := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text); !f.OK {
		t.Errorf("the assembler refuses lines %v", f.ErrorLines)
	}
}

// TestT32Text is TestA32Text for T32 code.
func TestT32Text(t *testing.T) {
	text := firmware.T32(1, 10_000)
	file := syntax.Parse(text)
	for i, d := range analyzeText(t, file).Diagnostics() {
		t.Errorf("line %d: %s: %s", file.LineAt(d.Span.Start)+1, d.Code, d.Message)
		if i > 10 {
			break
		}
	}
	if f := reftest.AssembleFile(t, reftest.Options{}, text); !f.OK {
		t.Errorf("the assembler refuses lines %v", f.ErrorLines)
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
