package analysis

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// Rewrites that are not safe: what the title names is all that differs. Where flags that
// it names are read further down, what comes of that cannot be compared; the statement and
// what has become of it can.

var namedDead = regexp.MustCompile(`using ([\w, ]+) which (?:is|are) dead here`)

// titleDead are the registers that a title calls dead.
func titleDead(t *testing.T, title string) (l isa.RegList) {
	m := namedDead.FindStringSubmatch(title)
	if m == nil {
		return 0
	}
	for _, name := range strings.Split(strings.ToLower(m[1]), ", ") {
		var n int
		if name == "ip" {
			n = 12
		} else if _, err := fmt.Sscanf(name, "r%d", &n); err != nil {
			t.Fatalf("register %q in %q", name, title)
		}
		l |= 1 << n
	}
	return l
}

// bounded is a text after a rewrite, with labels in front of what has become of the
// statement and behind it, where the rest of the text is as it was.
func (p *proofProgram) bounded(after string, i int) string {
	if titleFlags(p.act.Title) == 0 || p.holeHead != "" {
		return after
	}
	same := suffixedWith([]string{p.head, p.tail}, i)
	rest, ok := strings.CutPrefix(after, same[0])
	mid, ok2 := strings.CutSuffix(rest, same[1])
	if !ok || !ok2 {
		return after
	}
	return fmt.Sprintf("%szb%d:\n%sze%d:\n%s", same[0], i, mid, i, same[1])
}

// runNamed compares a statement with what became of it, from the start of the function to
// behind the statement: nothing differs but flags that the title names or that are dead,
// and registers that it calls dead. It says whether that could be done.
func (p *proofProgram) runNamed(t *testing.T, g *generator, e engine, st *proofStat, hole, after []byte, syms, bounds map[string]reftest.Sym, i int) bool {
	begin, ok := bounds[fmt.Sprintf("zb%d", i)]
	end, ok2 := bounds[fmt.Sprintf("ze%d", i)]
	if !ok || !ok2 {
		return false
	}
	at := proofCode + syms[fmt.Sprintf("at%d", p.id)].Value
	except, regs := titleFlags(p.act.Title), titleDead(t, p.act.Title)
	for k, bit := range []uint32{unicorn.FlagN, unicorn.FlagZ, unicorn.FlagC, unicorn.FlagV} {
		if p.dead>>k&1 != 0 {
			except |= bit
		}
	}
	if p.call {
		regs |= 1 << isa.LR
	}
	meanings := []stm{p.x}
	if !p.full {
		meanings = p.x.meanings(p.unified)
	}
	ran := false
	for _, x := range meanings {
		for range 4 {
			m := randomCPU(g.Rand, &x)
			if p.a32 {
				m.r[14] = proofEnd
			}
			want, got := m.clone(), m.clone()
			if why, err := e.run(hole, !p.a32, want, proofCode, at, few); why != atStop || err != nil {
				st.skipped++ // it does not come there
				continue
			}
			if x.exec(want); want.fault || p.arch == "armv6-m" && want.unaligned {
				st.skipped++
				continue
			}
			if why, err := e.run(after, !p.a32, got, proofCode, proofCode+begin.Value, few); why != atStop || err != nil {
				t.Errorf("%s: does not come to the statement: %v\n%s", p.act.Title, err, p.after)
				return true
			}
			if why, err := e.run(after, !p.a32, got, proofCode+begin.Value, proofCode+end.Value, few); why != atStop || err != nil {
				t.Errorf("%s: does not come behind the statement: %v\n%s", p.act.Title, err, p.after)
				return true
			}
			st.named++
			ran = true
			if d := differ(want, got, except, regs); d != "" {
				t.Errorf("%s [%s]: behind the statement: %s\n%s\nbecame\n%s\nfrom %x flags %x", p.act.Title, p.act.Rewrite, d, p.text(), p.after, m.r, m.flags()>>28)
				st.wrong++
				break
			}
		}
	}
	return ran
}

// namedRuns says how much of what is not safe has been run, and holds that it is nearly all:
// where the statement is in an IT block, its flags cannot be told apart from the block's.
func namedRuns(t *testing.T, proof *reftest.Proof, stats map[string]*proofStat) {
	t.Helper()
	all, left, runs := 0, 0, 0
	for _, st := range stats {
		all, left, runs = all+st.unsafe, left+st.titled, runs+st.named
	}
	proof.Counted("not safe: %d rewrites, %d of them not run, %d runs of the statement alone", all, left, runs)
	if left > all/7+5 {
		t.Errorf("%d of %d rewrites that are not safe have not been run", left, all)
	}
}
