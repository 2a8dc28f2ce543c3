package analysis

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// flowCase is a program whose order of execution or addresses are at fault,
// and what it means: from a random state, want changes the state as the author
// meant the program to, and the run ends at a supervisor call.
type flowCase struct {
	name    string
	text    string
	want    func(m *cpu)
	actions []string // rewrites that must be offered
	except  isa.RegList
	flags   bool // the flags are not looked at
}

// flowCases draws one case of each kind.
func flowCases(g *generator) []flowCase {
	s, svc, syn := "s", "svc", "\t.syntax unified\n\t.thumb\n"
	if !g.unified {
		s, svc, syn = "", "swi", "\t.syntax divided\n\t.thumb\n"
	}
	var out []flowCase
	cond := isa.Cond(g.IntN(14))
	for _, d := range []struct {
		space  int
		except isa.RegList
	}{{300 + 2*g.IntN(800), 0}, {2400 + 2*g.IntN(3000), 1 << isa.LR}} {
		text := fmt.Sprintf("%sf:\tb%s far\n\tmov%s r2, #1\n\t%s #0\n\t.space %d\nfar:\tmov%s r2, #2\n\t%s #0\n", syn, cond, s, svc, d.space, s, svc)
		out = append(out, flowCase{"branch ahead", text, func(m *cpu) {
			taken := m.holds(cond)
			m.r[2] = 1
			if taken {
				m.r[2] = 2
			}
			m.nz(m.r[2])
		}, []string{"invert-branch"}, d.except, false})
		text = fmt.Sprintf("%s\tb start\nfar:\tmov%s r2, #2\n\t%s #0\n\t.space %d\nstart:\tb%s far\n\tmov%s r2, #1\n\t%s #0\n", syn, s, svc, 300+2*g.IntN(700), cond, s, svc)
		out = append(out, flowCase{"branch back", text, out[0].want, []string{"invert-branch"}, 0, false})
	}
	v := g.Uint32()
	set := func(r int, v uint32) func(*cpu) { return func(m *cpu) { m.r[r] = v } }
	out = append(out,
		flowCase{"pool out of reach behind a stop", fmt.Sprintf("%sf:\tldr r3, =%#x\n\tcmp r0, #0\n\tbeq 1f\n\t%s #0\n1:\t%s #1\n2:\tb 2b\n\t.space %d\n", syn, v, svc, svc, 1100+4*g.IntN(500)),
			func(m *cpu) {
				m.r[3] = v
				x := stm{op: "cmp", cond: isa.AL, m: -1}
				x.exec(m)
			}, []string{"insert-pool"}, 0, false},
		flowCase{"pool out of reach in straight code", fmt.Sprintf("%sf:\tldr r3, =%#x\n%s\t%s #0\n", syn, v, strings.Repeat("\tmov r8, r3\n", 600+g.IntN(500)), svc),
			func(m *cpu) { m.r[3], m.r[8] = v, v }, []string{"insert-pool"}, 0, false},
		flowCase{"pool in the path", fmt.Sprintf("%sf:\tldr r3, =%#x\n\t.ltorg\n\tmov r8, r3\n\t%s #0\n", syn, v, svc),
			func(m *cpu) { m.r[3], m.r[8] = v, v }, []string{"branch-over-pool"}, 0, false},
		flowCase{"word behind", fmt.Sprintf("%s\tb f\n\t.align 2\nw:\t.word %#x\nf:\tldr r3, w\n\t%s #0\n", syn, v, svc),
			set(3, v), []string{"pool-copy", "pool-address"}, 0, false},
		flowCase{"word far ahead", fmt.Sprintf("%sf:\tldr r3, w\n\t%s #0\n\tb f\n\t.space %d\n\t.align 2\nw:\t.word %#x\n", syn, svc, 1100+2*g.IntN(900), v),
			set(3, v), []string{"pool-copy", "pool-address"}, 0, false},
		flowCase{"word between words", fmt.Sprintf("%sf:\tldr r3, w\n\t%s #0\n\t.hword 1\nw:\t.hword %d, %d\n", syn, svc, v&0xffff, v>>16),
			set(3, v), []string{"align", "pool-address"}, 0, false},
		flowCase{"address behind", fmt.Sprintf("%s\tb f\n\t.align 2\nw:\t.word %#x\nf:\tadr r3, w\n\tldr r4, [r3]\n\t%s #0\n", syn, v, svc),
			func(m *cpu) { m.r[3], m.r[4] = proofCode+4, v }, []string{"pool-address"}, 0, false},
		flowCase{"jump out of reach", fmt.Sprintf("%sf:\tb far\n\t.space %d\nfar:\tmov%s r2, #3\n\t%s #0\n", syn, 2100+2*g.IntN(3000), s, svc),
			func(m *cpu) { m.r[2] = 3; m.nz(3) }, []string{"far-call"}, 1 << isa.LR, false},
		flowCase{"odd target", fmt.Sprintf("%sf:\tb next+1\n\tmov%s r2, #9\nnext:\tmov%s r2, #3\n\t%s #0\n", syn, s, s, svc),
			func(m *cpu) { m.r[2] = 3; m.nz(3) }, []string{"even-target"}, 0, false},
		flowCase{"a colon forgotten", fmt.Sprintf("%sf:\tb skip\n\tmov%s r2, #9\nskip mov%s r2, #4\n\t%s #0\n", syn, s, s, svc),
			func(m *cpu) { m.r[2] = 4; m.nz(4) }, []string{"add-colon"}, 0, false},
		flowCase{"T16 target without its bit", fmt.Sprintf("%sf:\tldr r3, =t\n\tbx r3\n\tnop\nt:\tmov%s r2, #5\n\t%s #0\n", syn, s, svc),
			func(m *cpu) { m.r[2] = 5; m.nz(5) }, []string{"set-state-bit", "mark-function"}, 1 << 3, false},
		flowCase{"T16 target by a word", fmt.Sprintf("%sf:\tldr r3, w\n\tbx r3\n\t.align 2\nw:\t.word t\nt:\tmov%s r2, #5\n\t%s #0\n", syn, s, svc),
			func(m *cpu) { m.r[2] = 5; m.nz(5) }, []string{"set-state-bit", "mark-function"}, 1 << 3, false},
		flowCase{"T16 target by adr", fmt.Sprintf("%sf:\tadr r3, t\n\tbx r3\n\tnop\n\t.align 2\nt:\tmov%s r2, #5\n\t%s #0\n", syn, s, svc),
			func(m *cpu) { m.r[2] = 5; m.nz(5) }, []string{"set-state-bit"}, 1 << 3, true},
		flowCase{"A32 target with the T16 bit", fmt.Sprintf("%sf:\tldr r3, =t+1\n\tbx r3\n\tnop\n\t.arm\n\t.align 2\nt:\tmov r2, #6\n\tswi #0\n", syn),
			set(2, 6), []string{"clear-state-bit"}, 1 << 3, false},
	)
	return out
}

// TestRewriteFlow proves the rewrites that are about the way that execution
// takes, about literal pools and addresses: the rewritten program is linked and
// run, and comes to the end that was meant.
func TestRewriteFlow(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	e := newEngine(t, "armv4t")
	g := &generator{Rand: reftest.Rand(7, 7)}
	type result struct {
		c     flowCase
		a     rewrite.Action
		after string
	}
	var list []result
	stats := map[string]int{}
	for i := range reftest.Count(6, 24, 240) {
		g.unified = i%3 != 0
		for _, c := range flowCases(g) {
			got := map[string]bool{}
			for _, a := range analyze(t, nil, c.text).Actions(context.Background(), finding.Span{Start: 0, End: len(c.text)}) {
				got[a.Rewrite] = true
				if a.Rewrite == "near-name" {
					continue
				}
				list = append(list, result{c, a, apply(c.text, a.Edits)})
			}
			for _, name := range c.actions {
				if !got[name] {
					t.Fatalf("%s: %s is not offered:\n%.600s", c.name, name, c.text)
				}
			}
		}
	}
	// The far label's name is not unique: one program, one file.
	texts := make([]string, len(list))
	for i := range list {
		texts[i] = flowNames(list[i].after, i)
	}
	code, _ := assembleAll(t, "after", texts)
	for i, r := range list {
		if code[i] == nil {
			continue
		}
		if r.a.Safe && strings.Contains(r.a.Title, "changes") {
			t.Errorf("safe, and changes something: %s", r.a.Title)
		}
		// Where the program asks for more than the rewrite's own alignment,
		// it has it: sections start at proofCode.
		for range 3 {
			m := randomCPU(g.Rand, nil)
			want, got := m.clone(), m.clone()
			r.c.want(want)
			if end, err := e.run(code[i], true, got, proofCode, proofEnd+0x800, many); end != atEnd {
				t.Errorf("%s: %s: does not end: %v\n%.300s", r.c.name, r.a.Title, err, r.after)
				break
			}
			except := titleFlags(r.a.Title)
			if r.c.flags {
				except = ^uint32(0)
			}
			regs := r.c.except
			if !strings.Contains(r.a.Title, "changes lr") && regs.Has(isa.LR) {
				t.Errorf("%s: %s: says nothing of lr", r.c.name, r.a.Title)
			}
			if d := differ(want, got, except, regs); d != "" {
				t.Errorf("%s: %s: %s\n%.300s", r.c.name, r.a.Title, d, r.after)
				break
			}
			stats[r.a.Rewrite]++
		}
	}
	for _, n := range []string{"invert-branch", "insert-pool", "branch-over-pool", "pool-copy", "pool-address", "align", "even-target", "far-call",
		"add-colon", "set-state-bit", "mark-function", "clear-state-bit"} {
		proof.Counted("rewrites of flow, %s: %d runs", n, stats[n])
		if stats[n] < reftest.Least(50) {
			t.Errorf("%s: too few runs", n)
		}
	}
}

// flowNames makes the labels of a text its own.
func flowNames(text string, i int) string {
	for _, n := range []string{"far", "start", "next", "skip", "f", "w", "t"} {
		text = flowName(text, n, fmt.Sprintf("%s_%d", n, i))
	}
	return text
}

func flowName(text, from, to string) string {
	var b strings.Builder
	for i := 0; i < len(text); {
		if strings.HasPrefix(text[i:], from) && (i == 0 || strings.IndexByte(" \t\n=", text[i-1]) >= 0) {
			if j := i + len(from); j == len(text) || strings.IndexByte(" \t\n:+,-", text[j]) >= 0 {
				b.WriteString(to)
				i = j
				continue
			}
		}
		b.WriteByte(text[i])
		i++
	}
	return b.String()
}
