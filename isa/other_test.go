package isa_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestOther checks what statements would be in the other instruction set: the
// text given assembles to the code given there, and touches the same registers.
func TestOther(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	tries := reftest.Count(600, 18_000, 1_000_000)
	rnd := reftest.Rand(11, 12)
	words := wordsA(rnd, 2*tries)
	why := map[string]int{}
	var cases []string
	for _, c := range []struct {
		arch   string
		thumb  bool // the statements
		wanted int  // in hundred, of those that have one
	}{{"armv4t", true, 94}, {"armv6", true, 94}, {"armv6t2", true, 60}, {"armv7ve", true, 60}, {"armv4t", false, 0}, {"armv6t2", false, 8}, {"armv7ve", false, 8}} {
		have := features(t, c.arch)
		var lines, froms []string
		var others []isa.Other
		seen := map[string]bool{}
		total, flags := 0, 0
		for i := range tries {
			var in isa.Inst
			ok := false
			if c.thumb {
				first := uint16(rnd.Uint32())
				if have.Has(isa.FeatT32) && i%2 == 0 {
					first |= 0xe800
				}
				in, ok = isa.Decode(have, first, uint16(rnd.Uint32()))
			} else {
				in, ok = isa.DecodeA32(have, words[i])
			}
			if !ok || in.Unpredictable {
				continue
			}
			from := in.Text(true, 0)
			st := &syntax.Parse(from).Line(0).Stmts[0]
			ops := operandsAt(st, 0)
			if !c.thumb {
				ops = operandsA(st, 0)
			}
			for k := range ops {
				if ops[k].Kind == isa.OpExpr && ops[k].Word == "" { // an address
					ops[k].Bare, ops[k].Imm = false, int64(int32(uint32(ops[k].Imm)))
				}
			}
			m, ok := st.Mnemonic.Match(&isa.Query{Have: have, Unified: true, A32: !c.thumb, Width: st.Width}, ops)
			if !ok || seen[from] {
				continue
			}
			seen[from] = true
			total++
			o := m.Other(have, 0)
			if o.Inst.Row == nil {
				why[o.Why]++
				if c.thumb {
					why[c.arch+" T "+strings.Fields(from)[0]+": "+o.Why]++
				}
				continue
			}
			text := o.Text(0, "")
			e, oe := in.Effects(), o.Inst.Effects()
			pc := isa.RegList(1 << isa.PC) // read on the way to a target or not
			if e.Reads&^pc != oe.Reads&^pc || e.Writes&^pc != oe.Writes&^pc || e.ReadsMem != oe.ReadsMem || e.WritesMem != oe.WritesMem {
				t.Errorf("%s: %s touches other registers than %s: %+v, %+v", c.arch, text, from, oe, e)
			}
			if !o.SameFlags {
				flags++
			}
			if o.Block {
				text = "it " + o.Cond.String() + "; " + text
			}
			if _, target, ok := strings.Cut(text, "0x"); ok && (o.Inst.Row.Flow != isa.FlowNext && o.Inst.Row.Flow != isa.FlowTrap && o.Inst.Row.Flow != isa.FlowStop || strings.HasPrefix(text, "adr") || strings.Contains(text, ", 0x")) {
				var v uint32
				fmt.Sscanf(target, "%x", &v)
				text = strings.Replace(text, "0x"+target, fmt.Sprintf(".%+d", int32(v)), 1)
				if o.Block {
					continue // the place after IT is another one
				}
			}
			lines, froms, others = append(lines, text), append(froms, from), append(others, o)
		}
		for i, v := range reftest.Assemble(t, reftest.Options{Arch: c.arch, Unified: true, Thumb: !c.thumb}, lines) {
			o := &others[i]
			code := wordBytes(o.Inst.Word)
			if !c.thumb {
				code = codeBytes(o.Inst.Word, o.Size)
			}
			got := v.Bytes
			if o.Block && len(got) > 2 {
				got = got[2:]
			}
			if !v.OK || !bytes.Equal(got, code) || len(code) != o.Size {
				cases = append(cases, fmt.Sprintf("%s: %s for %s: %x, the assembler's %v %x", c.arch, lines[i], froms[i], code, v.OK, v.Bytes))
			}
		}
		if 100*len(lines) < c.wanted*total {
			t.Errorf("%s, thumb %v: %d of %d have one", c.arch, c.thumb, len(lines), total)
		}
		proof.Counted("other state, from %s %v: %d statements, %d have a form there, %d of them with other flags", c.arch, c.thumb, total, len(lines), flags)
	}
	judge(t, otherDisagreements, cases)
	t.Log(why)
}

// otherDisagreements are those of TestOther, ours first.
var otherDisagreements = []disagreement{
	{`: (it ..; )?mrc2\w* p\d+, #\d+, apsr_nzcv, `, `MRC2 takes APSR_nzcv as MRC does (DDI 0406, "MRC, MRC2"); the assembler takes pc for it`},
	{`: (it ..; )?(ldc|stc)2?l?\w* p9, `, `the offset is a multiple of 4 for every coprocessor (DDI 0406, "LDC, LDC2 (immediate)"); in T32 code the assembler takes coprocessor 9 for half precision, in units of 2`},
}
