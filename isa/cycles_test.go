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
	tests := []cycleTest{
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
		{"cortex-m3", "ldr.w r8, [r1, #-4]", "2", "DDI 0337: LDR, 2"},
		{"cortex-m3", "ldr pc, [r1, r2, lsl #2]", "2+P", "DDI 0337: LDR to PC, 2+P"},
		{"cortex-m3", "strd r4, r5, [r0], #8", "3", "DDI 0337: STRD, 1+N"},
		{"cortex-m3", "tbb [pc, r0]", "2+P", "DDI 0337: TBB, 2+P"},
		{"cortex-m4", "ldmdb r0!, {r4-r8}", "6", "DDI 0439: LDM, 1+N"},
		{"cortex-m4", "push {r4-r8, lr}", "7", "DDI 0439: PUSH, 1+N"},
		{"cortex-m4", "pop {r4-r8, pc}", "7+P", "DDI 0439: POP with PC, 1+N+P"},
		{"cortex-m4", "ldrd r0, r1, [r2]", "3", "DDI 0439: LDRD, 1+N"},
		{"cortex-m4", "strex r0, r1, [r2]", "2", "DDI 0439: STREX, 2"},
		{"cortex-m4", "pld [r0, #8]", "1", "DDI 0439: PLD, 1"},
		{"cortex-m4", "beq.w .+600", "1+P, 1 when not taken", "DDI 0439: B with condition, 1 or 1+P"},
		{"cortex-m4", "pop {r4, pc}", "3+P", "DDI 0439: POP with PC, 1+N+P"},
		{"cortex-m3", "add.w r0, r1, r2, lsl #3", "1", "DDI 0337: ADD with a shifted register, 1"},
		{"cortex-m3", "lsl.w r0, r1, r2", "1", "DDI 0337: LSL by a register, 1"},
		{"cortex-m3", "movw r0, #4660", "1", "DDI 0337: MOVW, 1"},
		{"cortex-m3", "ubfx r0, r1, #3, #5", "1", "DDI 0337: UBFX, 1"},
		{"cortex-m3", "ssat r0, #8, r1", "1", "DDI 0337: SSAT, 1"},
		{"cortex-m3", "mla r0, r1, r2, r3", "2", "DDI 0337: MLA, 2"},
		{"cortex-m3", "mls r0, r1, r2, r3", "2", "DDI 0337: MLS, 2"},
		{"cortex-m3", "umull r0, r1, r2, r3", "3–5", "DDI 0337: UMULL, 3 to 5"},
		{"cortex-m3", "smlal r0, r1, r2, r3", "4–7", "DDI 0337: SMLAL, 4 to 7"},
		{"cortex-m3", "udiv r0, r1, r2", "2–12", "DDI 0337: UDIV, 2 to 12"},
		{"cortex-m3", "mrs r0, basepri", "1 or 2", "DDI 0337: MRS, 1 or 2"},
		{"cortex-m4", "mul r0, r1, r2", "1", "DDI 0439: MUL, 1"},
		{"cortex-m4", "mla r0, r1, r2, r3", "1", "DDI 0439: MLA, 1"},
		{"cortex-m4", "smull r0, r1, r2, r3", "1", "DDI 0439: SMULL, 1"},
		{"cortex-m4", "umlal r0, r1, r2, r3", "1", "DDI 0439: UMLAL, 1"},
		{"cortex-m4", "smlad r0, r1, r2, r3", "1", "DDI 0439: SMLAD, 1"},
		{"cortex-m4", "sadd16 r0, r1, r2", "1", "DDI 0439: SADD16, 1"},
		{"cortex-m4", "sdiv r0, r1, r2", "2–12", "DDI 0439: SDIV, 2 to 12"},
	}
	checkCycles(t, tests, false)
}

// TestCyclesA is TestCycles for A32 code.
func TestCyclesA(t *testing.T) {
	checkCycles(t, []cycleTest{
		{"arm7tdmi", "add r0, r1, r2, lsl #3", "1", "DDI 0210: data operation, 1S"},
		{"arm7tdmi", "add r0, r1, r2, lsl r3", "2", "DDI 0210: data operation with a shift by register, 1S + 1I"},
		{"arm7tdmi", "movs pc, lr", "3", "DDI 0210: data operation with PC, 2S + 1N"},
		{"arm7tdmi", "add pc, pc, r1, lsl r2", "4", "DDI 0210: data operation with a shift by register and PC, 2S + 1N + 1I"},
		{"arm7tdmi", "mul r0, r1, r2", "2–5", "DDI 0210: MUL, 1S + mI"},
		{"arm7tdmi", "mla r0, r1, r2, r3", "3–6", "DDI 0210: MLA, 1S + (m+1)I"},
		{"arm7tdmi", "umull r0, r1, r2, r3", "3–6", "DDI 0210: MULL, 1S + (m+1)I"},
		{"arm7tdmi", "smlals r0, r1, r2, r3", "4–7", "DDI 0210: MLAL, 1S + (m+2)I"},
		{"arm7tdmi", "ldrsh r0, [r1, #2]", "3", "DDI 0210: LDR, 1S + 1N + 1I"},
		{"arm7tdmi", "ldr pc, [r1]", "5", "DDI 0210: LDR with PC, 2S + 2N + 1I"},
		{"arm7tdmi", "strb r0, [r1], r2", "2", "DDI 0210: STR, 2N"},
		{"arm7tdmi", "ldmia r0!, {r1-r4}", "6", "DDI 0210: LDM of n registers, nS + 1N + 1I"},
		{"arm7tdmi", "ldmfd sp!, {r4, pc}", "6", "DDI 0210: LDM with PC, (n+1)S + 2N + 1I"},
		{"arm7tdmi", "stmdb r0, {r1-r4}", "5", "DDI 0210: STM of n registers, (n-1)S + 2N"},
		{"arm7tdmi", "swp r0, r1, [r2]", "4", "DDI 0210: SWP, 1S + 2N + 1I"},
		{"arm7tdmi", "b .", "3", "DDI 0210: B, 2S + 1N"},
		{"arm7tdmi", "bl .", "3", "DDI 0210: BL, 2S + 1N"},
		{"arm7tdmi", "bne .", "3, 1 when not taken", "DDI 0210: B, 2S + 1N; 1S where the condition fails"},
		{"arm7tdmi", "bxeq lr", "3, 1 when not executed", "DDI 0210: BX, 2S + 1N; 1S where the condition fails"},
		{"arm7tdmi", "svc #0", "3", "DDI 0210: SWI, 2S + 1N"},
		{"arm7tdmi", "mrs r0, cpsr", "1", "DDI 0210: MRS, 1S"},
		{"arm7tdmi", "msr cpsr_c, r0", "1", "DDI 0210: MSR, 1S"},
		{"arm7tdmi", "mrc p15, #0, r0, c1, c0, #0", "3 and the coprocessor's wait", "DDI 0210: MRC, 1S + (b+1)I + 1C"},
		{"arm7tdmi", "mcr p15, #0, r0, c1, c0, #0", "2 and the coprocessor's wait", "DDI 0210: MCR, 1S + bI + 1C"},
		{"arm920t", "add r0, r1, r2", "1", "DDI 0180: data operation"},
		{"arm920t", "mul r0, r1, r2", "3–6", "DDI 0180: MUL, 2+m"},
		{"arm920t", "smull r0, r1, r2, r3", "4–7", "DDI 0180: SMULL, 3+m"},
		{"arm920t", "ldr r0, [r1]", "1", "DDI 0180: LDR without interlock"},
		{"arm920t", "swpb r0, r1, [r2]", "2", "DDI 0180: SWP"},
		{"arm946e-s", "add r0, r1, r2, ror r3", "2", "DDI 0165: data operation with a shift by register"},
		{"arm946e-s", "mul r0, r1, r2", "2", "DDI 0165: MUL"},
		{"arm946e-s", "muls r0, r1, r2", "4", "DDI 0165: MUL with flags"},
		{"arm946e-s", "smlal r0, r1, r2, r3", "3", "DDI 0165: SMLAL"},
		{"arm946e-s", "umulls r0, r1, r2, r3", "5", "DDI 0165: UMULL with flags"},
		{"arm946e-s", "smlabt r0, r1, r2, r3", "1", "DDI 0165: SMLAxy"},
		{"arm946e-s", "smlaltb r0, r1, r2, r3", "2", "DDI 0165: SMLALxy"},
		{"arm946e-s", "qdadd r0, r1, r2", "1", "DDI 0165: QDADD"},
		{"arm946e-s", "ldrd r0, [r2]", "2", "DDI 0165: LDRD"},
		{"arm946e-s", "strd r0, [r2], #8", "2", "DDI 0165: STRD"},
		{"arm946e-s", "ldr pc, [r1]", "5", "DDI 0165: LDR with PC"},
		{"arm946e-s", "ldmia r0, {r1}", "2", "DDI 0165: LDM of one register"},
		{"arm946e-s", "stmia r0!, {r1-r8}", "8", "DDI 0165: STM of n registers"},
		{"arm946e-s", "ldmia sp!, {r4-r7, pc}", "9", "DDI 0165: LDM with PC, n+4"},
		{"arm946e-s", "msr cpsr_f, r0", "1", "DDI 0165: MSR of the flags"},
		{"arm946e-s", "msr cpsr_fc, r0", "3", "DDI 0165: MSR of more than the flags"},
		{"arm946e-s", "blx r3", "3", "DDI 0165: BLX"},
		{"arm946e-s", "swp r0, r1, [r2]", "2", "DDI 0165: SWP"},
	}, true)
}

type cycleTest struct{ cpu, line, want, document string }

func checkCycles(t *testing.T, tests []cycleTest, a32 bool) {
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
		m, ok := st.Mnem.Match(&isa.Query{Have: cpu.Have, Unified: true, Width: st.Width, A32: a32}, ops)
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
