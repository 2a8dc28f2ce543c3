package analysis_test

import (
	"context"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest/firmware"
)

// faulty puts lines that T16 cannot hold, of the kinds that authors of A32 code bring
// along, in the place of others: one in so many.
func faulty(text string, seed uint64, every int) string {
	bad := []string{
		"movs r0, #0x1234", "adds r2, r2, #300", "adds r0, r1, #20", "ldr r3, [r4, #200]", "str r0, [r1, #0x90]", "subs r8, r8, #1", "ands r0, r1, r2",
		"cmp r3, #300", "mov r1, #77", "ldrb r2, [r5, #40]", "add r0, r1, #1", "lsls r0, r1, #33", "mvns r0, #5", "rsbs r3, r4, #1", "push {r4, r8}", "ldrsb r0, [r1, #4]",
	}
	rnd := rand.New(rand.NewPCG(seed, 10))
	lines := strings.Split(text, "\n")
	for i := every; i < len(lines)-5; i += every {
		for k := i; k < i+every-1 && k < len(lines); k++ {
			if l := lines[k]; strings.HasPrefix(l, "\tmov") || strings.HasPrefix(l, "\tadd") || strings.HasPrefix(l, "\tldr\t") || strings.HasPrefix(l, "\tstr") || strings.HasPrefix(l, "        ") && l[8] != '.' {
				lines[k] = "\t" + bad[rnd.IntN(len(bad))]
				break
			}
		}
	}
	return strings.Join(lines, "\n")
}

// BenchmarkCodeActions asks for the rewrites of random findings of 2,000 in 20,000 lines,
// one after the other.
func BenchmarkCodeActions(b *testing.B) {
	text := faulty(firmware.Text(benchSeed, 20_000), benchSeed, 10)
	r := analyzeText(b, syntax.Parse(text))
	all := r.Each()
	rnd := rand.New(rand.NewPCG(1, 2))
	var took []time.Duration
	for b.Loop() {
		d := all[rnd.IntN(len(all))]
		start := time.Now()
		r.Actions(context.Background(), analysis.Span{Start: d.Span.Start, End: d.Span.Start})
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
	b.ReportMetric(float64(len(all)), "findings")
}

// BenchmarkFixAll applies all safe rewrites to the same file.
func BenchmarkFixAll(b *testing.B) {
	text := faulty(firmware.Text(benchSeed, 20_000), benchSeed, 10)
	r := analyzeText(b, syntax.Parse(text))
	for b.Loop() {
		if len(r.SafeFixes(context.Background(), "")) == 0 {
			b.Fatal("nothing fixed")
		}
	}
}
