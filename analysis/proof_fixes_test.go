package analysis

import (
	"context"
	"fmt"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa/reftest"
)

// TestSafeFixes applies all safe rewrites to straight code with several lines
// that T16 cannot hold. What comes out has nothing left to fix; where no error
// is left it assembles, and does exactly what the lines mean: registers, flags
// and memory are equal, and nothing is exempt.
func TestSafeFixes(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	ctx := context.Background()
	g := &generator{Rand: reftest.Rand(11, 3)}
	type file struct {
		before, hole, after string
		bad                 []stm
	}
	var list []file
	lines, fixed := 0, 0
	for i := range reftest.Count(60, 250, 2500) {
		g.unified = true
		head := fmt.Sprintf("\t.arch armv4t\n\t.syntax unified\n\t.thumb\nf%d:\n", i)
		before, hole := head, head
		var bad []stm
		for range 2 + g.IntN(7) {
			var line string
			var x stm
			refused := false
			if g.IntN(2) == 0 {
				x = g.statement(pick(g, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17))
				line = x.text(true, func(v int64) string { return strconv.FormatInt(v, 10) })
				for _, d := range analyze(t, nil, head+"\t"+line+"\n\tsvc #0\n").Each() {
					refused = refused || d.Severity == finding.Error
				}
			} else {
				for line = g.filler(i, 0); strings.HasPrefix(line, "b") && !strings.HasPrefix(line, "bic"); {
					line = g.filler(i, 0)
				}
			}
			before += "\t" + line + "\n"
			if !refused {
				hole += "\t" + line + "\n"
				continue
			}
			hole += fmt.Sprintf("at%d_%d:\n\t.space 2\n", i, len(bad))
			bad = append(bad, x)
		}
		before += "\tsvc #0\n"
		hole += fmt.Sprintf("at%d_%d:\n\tsvc #0\n", i, len(bad))
		r := analyze(t, nil, before)
		after := apply(before, r.SafeFixes(ctx, ""))
		lines += len(bad)
		r2 := analyze(t, nil, after)
		if e := r2.SafeFixes(ctx, ""); len(e) > 0 {
			t.Errorf("fixed twice:\n%s\nbecame\n%s\nand then\n%s", before, after, apply(after, e))
		}
		left := 0
		for _, d := range r2.Each() {
			if d.Severity == finding.Error {
				left++
			}
		}
		fixed += len(bad) - left
		if left == 0 && len(bad) > 0 {
			list = append(list, file{before, hole, after, bad})
		}
	}
	holes, afters := make([]string, len(list)), make([]string, len(list))
	for i, f := range list {
		holes[i], afters[i] = f.hole, f.after
	}
	holeCode, syms := assembleAll(t, "before", holes)
	afterCode, _ := assembleAll(t, "after", afters)
	e := newEngine(t, "armv4t")
	runs := 0
	for i, f := range list {
		if holeCode[i] == nil || afterCode[i] == nil {
			continue
		}
		at := func(k int) uint32 { return proofCode + syms[fmt.Sprintf("at%d_%d", idOf(f.before), k)].Value }
		// What lies below the stack pointer is nobody's (AAPCS32, 6.2.1.1): a
		// file that hands it on, by taking stack and leaving it unwritten, may
		// hand on anything. Spoiling it shows what depends on it.
		spoil := func(m *cpu) {
			if n := m.r[13] - proofStack; n <= proofStkN {
				for a := range n {
					m.stk[a] = byte(g.Uint32())
				}
			}
		}
		oracle := func(m *cpu, spoiled bool) bool {
			from := uint32(proofCode)
			for k, x := range f.bad {
				if from != at(k) {
					if end, _ := e.run(holeCode[i], true, m, from, at(k), few); end != atStop {
						return false
					}
				}
				if spoiled {
					spoil(m)
				}
				if x.exec(m); m.fault {
					return false
				}
				from = at(k) + 2
			}
			end, _ := e.run(holeCode[i], true, m, from, proofEnd+0x800, few)
			return end == atEnd
		}
		for range 6 {
			m := randomCPU(g.Rand, nil)
			for r := range 13 {
				if g.IntN(2) == 0 {
					m.r[r] = proofData + proofDataN/2 + uint32(g.IntN(64))*4
				}
			}
			want, got, other := m.clone(), m.clone(), m.clone()
			if !oracle(want, false) || !oracle(other, true) {
				continue
			}
			unowned := map[int]bool{}
			for a := range want.stk {
				if want.stk[a] != other.stk[a] {
					unowned[a] = true
					other.stk[a] = want.stk[a]
				}
			}
			if differ(want, other, 0, 0) != "" {
				continue
			}
			if end, err := e.run(afterCode[i], true, got, proofCode, proofEnd+0x800, many); end != atEnd {
				t.Errorf("does not end: %v\n%s", err, f.after)
				break
			}
			runs++
			for a := range unowned {
				got.stk[a] = want.stk[a]
			}
			if d := differ(want, got, 0, 0); d != "" {
				t.Errorf("%s\n%s\nbecame\n%s", d, f.before, f.after)
				break
			}
		}
	}
	proof.Counted("safe fixes: %d lines without an encoding, %d fixed; %d files without an error left, %d runs", lines, fixed, len(list), runs)
	if len(list) < reftest.Least(50) || runs < reftest.Least(150) {
		t.Errorf("too few files or runs")
	}
}

// TestSafeFixesTangled fixes files with branches, calls, labels and several
// functions: nothing is left that a second pass would fix, and what has no
// error assembles.
func TestSafeFixesTangled(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	ctx := context.Background()
	g := &generator{Rand: reftest.Rand(5, 8)}
	var clean []string
	lines := 0
	for i := range reftest.Count(60, 120, 1200) {
		g.unified = i%4 != 0
		text := ""
		for k := range 1 + g.IntN(4) {
			p := g.program(i*8+k, g.statement(g.IntN(proofClasses)))
			text += p.text()
		}
		r := analyze(t, nil, text)
		lines += len(r.Each())
		after := apply(text, r.SafeFixes(ctx, ""))
		r2 := analyze(t, nil, after)
		if e := r2.SafeFixes(ctx, ""); len(e) > 0 {
			t.Errorf("fixed twice:\n%s\nand then\n%s", after, apply(after, e))
		}
		errs := 0
		for _, d := range r2.Each() {
			if d.Severity == finding.Error {
				errs++
			}
		}
		if errs == 0 {
			clean = append(clean, after)
		}
	}
	assembleAll(t, "after", clean)
	proof.Counted("safe fixes of tangled files: %d findings; %d files without an error left", lines, len(clean))
	if len(clean) < 20 {
		t.Errorf("too few files")
	}
}
