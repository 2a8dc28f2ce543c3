package isa_test

import (
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// TestCycles compares figures with the published tables. The documents are
// those that each core names as its source; they could not be opened here, so
// that the figures on both sides are from memory.
func TestCycles(t *testing.T) {
	tests := []struct{ cpu, line, want, document string }{
		{"arm7tdmi", "adds r0, r1, r2", "1", "DDI 0210: data operation, 1S"},
		{"arm7tdmi", "lsls r0, r1", "2", "DDI 0210: data operation with a shift by register, 1S + 1I"},
		{"arm7tdmi", "ldr r0, [r1]", "3", "DDI 0210: LDR, 1S + 1N + 1I"},
		{"arm7tdmi", "str r0, [r1]", "2", "DDI 0210: STR, 2N"},
		{"arm7tdmi", "push {r4-r7, lr}", "6", "DDI 0210: STM of n registers, (n-1)S + 2N"},
		{"arm7tdmi", "pop {r4-r7}", "6", "DDI 0210: LDM of n registers, nS + 1N + 1I"},
		{"arm7tdmi", "pop {r4-r7, pc}", "9", "DDI 0210: LDM with PC, (n+1)S + 2N + 1I"},
		{"arm7tdmi", "muls r0, r1", "2–5", "DDI 0210: MUL, 1S + mI, m from 1 to 4"},
		{"arm7tdmi", "b .", "3", "DDI 0210: B, 2S + 1N"},
		{"arm7tdmi", "bl .", "4", "DDI 0210: Thumb BL, 3S + 1N in two halves"},
		{"arm7tdmi", "mov pc, lr", "3", "DDI 0210: data operation with PC, 2S + 1N"},
		{"arm926ej-s", "ldr r0, [r1]", "1", "DDI 0165: LDR without interlock"},
		{"arm926ej-s", "pop {r4}", "2", "DDI 0165: LDM of one register"},
		{"cortex-m0", "ldr r0, [r1]", "2", "DDI 0432: LDR, 2"},
		{"cortex-m0", "push {r4, lr}", "3", "DDI 0432: PUSH, 1+N"},
		{"cortex-m0", "pop {r4, pc}", "6", "DDI 0432: POP with return, 4+N"},
		{"cortex-m0", "bl .", "4", "DDI 0432: BL, 4"},
		{"cortex-m0", "dmb", "4", "DDI 0432: DMB, 4"},
		{"cortex-m0", "beq .", "3, 1 when not taken", "DDI 0432: B with condition, 1 or 3"},
		{"cortex-m0plus", "pop {r4, pc}", "5", "DDI 0484: POP with return, 3+N"},
		{"cortex-m0plus", "b .", "2", "DDI 0484: B, 2"},
		{"cortex-m0plus", "bl .", "3", "DDI 0484: BL, 3"},
		{"cortex-m3", "muls r0, r1, r0", "1", "DDI 0337: MUL, 1"},
		{"cortex-m4", "pop {r4, pc}", "3+P", "DDI 0439: POP with PC, 1+N+P"},
	}
	for _, x := range tests {
		cpu, _ := isa.CPU(x.cpu)
		st := syntax.Parse(x.line).Line(0).Stmts[0]
		var ops []isa.Operand
		for i := range st.Ops {
			o := st.Ops[i].Operand
			if st.Ops[i].Expr != nil {
				o.Known = true // the place itself
			}
			ops = append(ops, o)
		}
		m, ok := st.Mnem.Match(&isa.Query{Have: cpu.Have, Unified: true}, ops)
		if !ok {
			t.Errorf("%s does not match on %s", x.line, x.cpu)
			continue
		}
		c := m.Cycles(x.cpu, cpu.Have)
		if len(c) != 1 || c[0].Count != x.want {
			t.Errorf("%s on %s: %v, want %s (%s)", x.line, x.cpu, c, x.want, x.document)
		}
	}
}
