package analysis

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest/firmware"
)

// chained are sources for which a walk from line to line takes a time that grows with
// the square of their size, or worse.
var chained = map[string]func(n int) string{
	"calls in a chain": func(n int) string {
		var b strings.Builder
		for i := range n / 3 {
			fmt.Fprintf(&b, "f%d:\tpush {lr}\n\tbl f%d\n\tpop {pc}\n", i, i+1)
		}
		return b.String() + fmt.Sprintf("f%d:\tbcs f0\n\tbx lr\n", n/3)
	},
	"calls back in a chain": func(n int) string {
		var b strings.Builder
		fmt.Fprintf(&b, "f0:\tbcs f0\n\tbx lr\n")
		for i := range n / 3 {
			fmt.Fprintf(&b, "f%d:\tpush {lr}\n\tbl f%d\n\tpop {pc}\n", i+1, i)
		}
		return b.String()
	},
	"jumps to and fro": func(n int) string {
		var b strings.Builder
		for i := range n / 2 {
			fmt.Fprintf(&b, "l%d:\tadds r0,#1\n\tb l%d\n", i, (i+n/4)%(n/2))
		}
		return b.String()
	},
	"branches over one line": func(n int) string { return strings.Repeat("\tbne 1f\n\tadcs r0,r1\n1:\n", n/2) + "\tbx lr\n" },
	"one long line of code":  func(n int) string { return strings.Repeat("\tadds r0,r1\n", n) + "\tbx lr\n" },
	"one routine, all call it": func(n int) string {
		return "f:\tbx lr\n" + strings.Repeat("g:\tbl f\n\tbcs 1f\n1:\tpop {pc}\n"[2:], n/3)
	},
	"all addresses taken": func(n int) string {
		var b strings.Builder
		for i := range n / 4 {
			fmt.Fprintf(&b, "f%d:\tblx r3\n\tadcs r0,r1\n\tbx lr\n\t.pushsection .data\n\t.word f%d\n\t.popsection\n", i, i)
		}
		return b.String()
	},
	"firmware": func(n int) string { return firmware.Text(20, n) },
}

// TestGraphGrows holds that the work of the graph grows as the program does.
func TestGraphGrows(t *testing.T) {
	for name, make := range chained {
		per := func(n int) float64 {
			r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse("\t.arch armv6-m\n\t.syntax unified\n\t.thumb\n" + make(n))})
			if err != nil {
				t.Fatal(err)
			}
			p := flow.Paths{Evaluator: eval.New(r.prog)}
			items := 0
			for i := range r.prog.Items {
				if it := &r.prog.Items[i]; it.Stmt.Kind == syntax.Instruction {
					p.DeadRegs(it, 0xff)
					p.DeadFlags(it, isa.NZCV)
					p.StackUnset(it)
					items++
				}
			}
			return float64(p.Work()) / float64(items)
		}
		small, large := per(1500), per(12_000)
		t.Logf("%s: %.1f, %.1f", name, small, large)
		if large > 1.5*small+5 {
			t.Errorf("%s: %.1f steps a line, in a program of eight times the size %.1f", name, small, large)
		}
	}
}
