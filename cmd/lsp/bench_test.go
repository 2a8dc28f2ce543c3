package main

import (
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// maxRatio fails BenchmarkReference above it. A ratio within one run says
// something on any machine; a time does not.
var maxRatio = flag.Float64("maxratio", 0, "fail BenchmarkReference above this `ratio`; 0 never fails")

// BenchmarkReference checks a file of 100,000 lines and lets the reference
// assembler assemble it, in turns, each a process of its own. It reports the
// best time of each in milliseconds, and their ratio.
func BenchmarkReference(b *testing.B) { againstAssembler(b, firmware.Text(20, 100_000)) }

// BenchmarkReferenceA32 is BenchmarkReference for A32 code.
func BenchmarkReferenceA32(b *testing.B) { againstAssembler(b, firmware.A32(20, 100_000)) }

// BenchmarkReferenceT32 is BenchmarkReference for T32 code, whose widths depend on
// distances.
func BenchmarkReferenceT32(b *testing.B) { againstAssembler(b, firmware.T32(20, 100_000)) }

func againstAssembler(b *testing.B, text string) {
	b.Helper()
	const assembler = "arm-none-eabi-as"
	reftest.Require(b, assembler)
	dir := b.TempDir()
	program, source := filepath.Join(dir, "narrowgauge"), filepath.Join(dir, "firmware.s")
	build := exec.Command("go", "build", "-o", program, ".")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("build: %v\n%s", err, out)
	}
	if err := os.WriteFile(source, []byte(text), 0o644); err != nil {
		b.Fatal(err)
	}
	run := func(best time.Duration, name string, args ...string) time.Duration {
		b.Helper()
		start := time.Now()
		out, err := exec.Command(name, args...).CombinedOutput()
		took := time.Since(start)
		if err != nil {
			b.Fatalf("%s: %v\n%s", name, err, out)
		}
		if best == 0 {
			return took
		}
		return min(best, took)
	}
	var ours, theirs time.Duration
	for b.Loop() {
		theirs = run(theirs, assembler, "-march=armv4t", "-o", filepath.Join(dir, "firmware.o"), source)
		ours = run(ours, program, "check", source)
	}
	ratio := float64(ours) / float64(theirs)
	b.ReportMetric(float64(ours.Microseconds())/1000, "check-ms")
	b.ReportMetric(float64(theirs.Microseconds())/1000, "assembler-ms")
	b.ReportMetric(ratio, "ratio")
	if *maxRatio > 0 && ratio > *maxRatio {
		b.Errorf("check takes %.2f times as long as the assembler; the bar is %.2f", ratio, *maxRatio)
	}
}
