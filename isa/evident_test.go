package isa_test

import (
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// TestEvident holds what a line evidently does, judged by its words as where it is
// refused, against what it does: all that it reads is read, nothing counts as
// overwritten that is not, and what goes elsewhere does so.
func TestEvident(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(5, 9)
	n, exact := 0, 0
	try := func(in *isa.Inst, have isa.Features, unified bool, q isa.Query) {
		text := in.Text(unified, 0)
		stmts := syntax.Parse(text).Line(0).Stmts
		if len(stmts) != 1 || stmts[0].Kind != syntax.Instruction || stmts[0].Err != nil || in.Row.Vector() || text == "nop" {
			return // NOP is MOV r8, r8 without T32: it reads r8, and nobody needs that
		}
		s := &stmts[0]
		ops := operandsA(s, 0)
		for k := range ops {
			if ops[k].Kind == isa.OpExpr && ops[k].Bare && reaches(in.Row.Flow) { // an address
				ops[k].Bare, ops[k].Imm = false, int64(int32(uint32(ops[k].Imm)))
			}
		}
		q.Have, q.Unified, q.Width = have, unified, s.Width
		m, ok := s.Mnemonic.Match(&q, ops)
		if !ok {
			return
		}
		n++
		mode := isa.T
		if q.A32 {
			mode = isa.A
		}
		is, says := m.Effects(), s.Mnemonic.EvidentEffects(mode, ops)
		const pc = 1 << isa.PC
		switch leaves := s.Mnemonic.Evident(mode, ops) != isa.FlowNext; {
		case is.Reads&^(says.Reads|pc) != 0:
			t.Errorf("%s reads %v, and %v evidently", text, is.Reads, says.Reads)
		case says.Writes&^is.Writes != 0:
			t.Errorf("%s writes %v, and %v evidently", text, is.Writes, says.Writes)
		case is.FlagsRead&^says.FlagsRead != 0:
			t.Errorf("%s reads flags %v, and %v evidently", text, is.FlagsRead, says.FlagsRead)
		case !says.Conditional && says.FlagsWritten&^is.FlagsWritten != 0:
			t.Errorf("%s writes flags %v, and %v evidently", text, is.FlagsWritten, says.FlagsWritten)
		case is.Conditional && !says.Conditional:
			t.Errorf("%s has a condition", text)
		case (is.Flow != isa.FlowNext || is.Writes.Has(isa.PC)) && !leaves:
			t.Errorf("%s goes elsewhere", text)
		}
		if is.Reads == says.Reads && is.Writes == says.Writes && is.FlagsRead == says.FlagsRead && is.FlagsWritten == says.FlagsWritten {
			exact++
		}
	}
	for _, arch := range []string{"armv4t", "armv6-m", "armv7-a", "armv7-m"} {
		have := features(t, arch)
		for _, h := range halfwords() {
			for _, unified := range []bool{true, false} {
				if in, ok := isa.Decode(have, h, uint16(rnd.Uint32())); ok && !in.Unpredictable && in.Row.Size() == 2 {
					try(&in, have, unified, isa.Query{})
				}
			}
		}
		if have.Has(isa.FeatT32) {
			for range reftest.Count(5000, 100_000, 2_000_000) {
				if in, ok := isa.Decode(have, uint16(0xe800+rnd.IntN(0x1800)), uint16(rnd.Uint32())); ok && !in.Unpredictable {
					try(&in, have, true, isa.Query{})
				}
			}
		}
		if have.Has(isa.FeatA32) {
			for _, w := range wordsA(rnd, reftest.Count(5000, 100_000, 2_000_000)) {
				if in, ok := isa.DecodeA32(have, w); ok && !in.Unpredictable {
					try(&in, have, true, isa.Query{A32: true})
				}
			}
		}
	}
	proof.Counted("evident effects: %d lines, %.1f%% of them exactly what they do", n, 100*float64(exact)/float64(n))
}
