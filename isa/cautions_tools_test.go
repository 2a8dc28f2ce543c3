package isa_test

import (
	"encoding/binary"
	"slices"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestCautionsDisassembled asks a disassembler whether it marks the codes of
// the pairs as unpredictable. It knows of few rules, so that no good code may
// have the mark, and of the bad ones as many have to as it knew of.
func TestCautionsDisassembled(t *testing.T) {
	proof := reftest.Begin(t)
	seen := newCautionsSeen()
	for i := range cautionPairs {
		p := &cautionPairs[i]
		for _, r := range allRows() {
			if c, _ := cautionRule(r, p.rule); c != nil && matchesAny(p.rows, r.ID) {
				for _, x := range p.cases {
					seen.checkPair(t, p, r, x)
				}
			}
		}
	}
	type sample struct {
		bad, good uint32
		at        rowRule
	}
	for _, state := range []isa.State{isa.T, isa.A} {
		var all []sample
		for codes, at := range seen.codes {
			if at.row.State == state {
				all = append(all, sample{codes[0], codes[1], at})
			}
		}
		slices.SortFunc(all, func(a, b sample) int { return int(int64(a.bad)<<1 - int64(b.bad)<<1 + int64(a.good) - int64(b.good)) })
		var code []byte
		var at []int
		for _, s := range all {
			for _, w := range []uint32{s.bad, s.good} {
				at = append(at, len(code))
				if state == isa.A {
					code = binary.LittleEndian.AppendUint32(code, w)
				} else {
					code = append(code, codeBytes(w, s.at.row.Size())...)
				}
			}
		}
		marked := map[int]bool{}
		for _, in := range reftest.Objdump(t, "armv8-a", state == isa.T, code) {
			marked[in.Offset] = in.Unpredictable
		}
		n := map[string][2]int{}
		for i, s := range all {
			k := n[s.at.rule]
			k[1]++
			if marked[at[2*i]] {
				k[0]++
			}
			n[s.at.rule] = k
			if marked[at[2*i+1]] {
				t.Errorf("%s: %08x, the good one for %q, is marked", s.at.row.ID, s.good, s.at.rule)
			}
		}
		total := 0
		for r, k := range n {
			total += k[0]
			if k[0] < markedRules[state][r] {
				t.Errorf("%s: %d of %d codes for %q are marked, %d were", state, k[0], k[1], r, markedRules[state][r])
			}
		}
		proof.Counted("cautions: objdump marks %d of %d %s codes", total, len(all), state)
	}
}

// markedRules says how many codes the disassembler of Debian 12 marks.
var markedRules = map[isa.State]map[string]int{
	isa.T: {"Rn = pc": 6, "Rm = pc": 6, "Rd = pc": 5},
	isa.A: {"Rn = Rt2": 2, "Rm = pc": 23, "Rn = pc, written back": 6, "Rd = pc": 95, "list empty": 26, "Rt = Rt2": 1, "Rn = pc": 94, "RdLo = RdHi": 32, "Rn = Rt": 2, "Rt = pc": 25},
}
