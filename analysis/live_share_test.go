package analysis

import (
	"context"
	"fmt"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// liveShare counts what is dead after the instructions of programs.
type liveShare struct{ lines, regs, flags int }

func (s *liveShare) add(r *Result, oneIn int) {
	p := flow.Paths{Evaluator: eval.New(r.prog)}
	for i := range r.prog.Items {
		it := &r.prog.Items[i]
		if it.Stmt.Kind != syntax.Instruction || i%oneIn != 0 {
			continue
		}
		s.lines++
		s.regs += p.DeadRegs(it, 0x7fff).Count()
		s.flags += isa.RegList(p.DeadFlags(it, isa.NZCV)).Count()
	}
}

func (s *liveShare) String() string {
	return fmt.Sprintf("%d lines, of r0 to r14 %.2f%% are dead, of N, Z, C and V %.2f%%", s.lines, 100*float64(s.regs)/float64(15*s.lines), 100*float64(s.flags)/float64(4*s.lines))
}

// TestLiveShare holds that caution about what is dead does not grow unseen.
func TestLiveShare(t *testing.T) {
	for _, p := range realPackages(t) {
		r := realTexts(t, p)
		var s liveShare
		for _, x := range r.texts {
			c := x.unit.Config
			res, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(x.text), Set: &Settings{Arch: c.Arch, FPU: c.FPU}})
			if err != nil {
				t.Fatal(err)
			}
			s.add(res, reftest.Size(1, 1, 1))
		}
		t.Logf("%v: %v", p.Name, &s)
	}
}
