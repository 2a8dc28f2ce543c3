package analysis

import (
	"context"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest/firmware"
)

// BenchmarkGraph makes the graph of 20,000 lines, and BenchmarkDead asks it about each.
func BenchmarkGraph(b *testing.B) { benchmarkGraph(b, false) }

func BenchmarkDead(b *testing.B) { benchmarkGraph(b, true) }

func benchmarkGraph(b *testing.B, all bool) {
	r, err := Analyze(context.Background(), &Input{Path: "firmware.s", File: syntax.Parse(firmware.Text(20, 20_000))})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		p := flow.Paths{Evaluator: eval.New(r.prog)}
		for i := range r.prog.Items {
			if it := &r.prog.Items[i]; it.Stmt.Kind == syntax.Instruction {
				if p.DeadRegs(it, 0xff); !all {
					break
				}
			}
		}
	}
}

// BenchmarkKnown follows values through the same lines, with the graph.
func BenchmarkKnown(b *testing.B) {
	r, err := Analyze(context.Background(), &Input{Path: "firmware.s", File: syntax.Parse(firmware.Text(20, 20_000))})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		p := flow.Paths{Evaluator: eval.New(r.prog)}
		looked, blocks := p.Known().Work()
		b.ReportMetric(float64(looked)/float64(blocks), "looks/block")
	}
}
