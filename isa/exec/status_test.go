package exec_test

import (
	"slices"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// TestStatus holds what Effects says of Q and GE, for codes of every row and random
// states: with another Q or GE before it, an instruction that does not read them does the
// same, and leaves them as they were or sets them, or the same ones where it writes them.
// Each row that is said to read them has to do so in some case.
func TestStatus(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(71, 1)
	targets := []isa.Features{features(t, "armv8-a"), features(t, "armv7-a"), features(t, "armv7e-m"), features(t, "armv6")} // all have both
	tries := reftest.Size(40, 200, 4000)
	rows, runs := 0, 0
	reads := map[string]isa.Status{}
	for _, r := range slices.Concat(isa.Rows(), isa.RowsA32()) {
		if !r.Described() {
			continue
		}
		value, mask := r.Pattern()
		said, done := isa.Status(0), 0
		for n := 0; n < 20*tries && done < tries; n++ {
			have := targets[rnd.IntN(len(targets))]
			in, ok := decode(r, have, value|rnd.Uint32()&^mask)
			if !ok || r.State == isa.A && have&isa.FeatA32 == 0 {
				continue
			}
			e := in.Effects()
			said |= e.StatusRead
			for _, which := range []isa.Status{isa.Saturated, isa.Greater} {
				x := exec.State{Have: have, Set: r.State, Flags: isa.Flags(rnd.IntN(16)), Q: rnd.IntN(2) == 0, GE: uint8(rnd.IntN(16))}
				for i := range x.Regs {
					x.Regs[i] = rnd.Uint32() &^ 3
				}
				fill := func(a uint32) byte { return byte(a*37 + a>>5) }
				y := x
				if which == isa.Saturated {
					y.Q = !x.Q
				} else {
					y.GE ^= uint8(1 + rnd.IntN(15))
				}
				was := [2]exec.State{x, y}
				a, b := exec.NewSparse(fill), exec.NewSparse(fill)
				x.Mem, y.Mem = a, b
				p, q := exec.Step(in.Values(), &x), exec.Step(in.Values(), &y)
				if p.End == exec.NotModelled || p.End == exec.Unpredictable {
					continue
				}
				runs++
				done++
				same := p == q && x.Regs == y.Regs && x.Flags == y.Flags && x.Set == y.Set && slices.Equal(x.Log, y.Log)
				if which == isa.Saturated {
					same = same && x.GE == y.GE
				} else {
					same = same && x.Q == y.Q
				}
				if !same {
					reads[r.ID] |= which
					if e.StatusRead&which == 0 {
						t.Fatalf("row %s: reads %b, and another of %b matters", r.ID, e.StatusRead, which)
					}
				}
				over := p.End == exec.Done && p.Passed && !e.Conditional
				if which == isa.Saturated {
					if over && e.StatusWritten&which != 0 && x.Q != y.Q {
						t.Fatalf("row %s: Q is said to be written, and stays", r.ID)
					}
					continue
				}
				if over && e.StatusWritten&which != 0 && x.GE != y.GE {
					t.Fatalf("row %s: GE is said to be written, and stays", r.ID)
				}
				if e.StatusWritten&which == 0 && e.StatusRead&which == 0 && (x.GE^was[0].GE != 0 || y.GE^was[1].GE != 0) {
					t.Fatalf("row %s: GE changes", r.ID)
				}
			}
		}
		if rows++; said&^reads[r.ID] != 0 && !reftest.Part() {
			t.Errorf("row %s: is said to read %b, and %b matter", r.ID, said, reads[r.ID])
		}
	}
	if rows == 0 || runs < rows {
		t.Errorf("%d runs of %d rows", runs, rows)
	}
	proof.Counted("Q and GE: %d rows, %d runs", rows, runs)
}
