package isa_test

import (
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// TestCycles compares figures with the published tables, for the T16 and T32
// code of each core. "As copied" says that a copy of the table was read and not
// the document.
func TestCycles(t *testing.T) {
	t.Parallel()
	checkCycles(t, thumbCycles(), false)
}

func thumbCycles() []cycleTest {
	const (
		arm7    = "ARM7TDMI data sheet, "
		arm9    = "DDI 0180A, tables 7-2 and 7-3, as copied: "
		arm9e   = "DDI 0165B, tables 8-2 to 8-27, as copied: "
		m0      = "DDI 0432C, table 3.1: "
		m0plus  = "DDI 0484C, table 3.1: "
		m3      = "100165_0201_02, table 3-1: "
		m4      = "DDI 0439D, table 3-1: "
		m4dsp   = "DDI 0439D, table 3-2: "
		m4float = "DDI 0439D, table 7-1: "
	)
	return []cycleTest{
		{"arm7tdmi", "adds r0, r1, r2", "1", arm7 + "4.5.7: 1S"},
		{"arm7tdmi", "lsls r0, r1", "2", arm7 + "4.5.7: 1S+1I with a shift by register"},
		{"arm7tdmi", "ldr r0, [r1]", "3", arm7 + "4.9.7: 1S+1N+1I"},
		{"arm7tdmi", "ldr r0, [r1, r2]", "3", arm7 + "4.9.7: 1S+1N+1I"},
		{"arm7tdmi", "ldrsh r0, [r1, r2]", "3", arm7 + "4.10.7: 1S+1N+1I"},
		{"arm7tdmi", "str r0, [r1]", "2", arm7 + "4.9.7: 2N"},
		{"arm7tdmi", "push {r4-r7, lr}", "6", arm7 + "4.11.8: (n-1)S+2N"},
		{"arm7tdmi", "pop {r4-r7}", "6", arm7 + "4.11.8: nS+1N+1I"},
		{"arm7tdmi", "pop {r4-r7, pc}", "9", arm7 + "4.11.8: (n+1)S+2N+1I"},
		{"arm7tdmi", "muls r0, r1", "2–5", arm7 + "4.7.3: 1S+mI, m from 1 to 4"},
		{"arm7tdmi", "b .", "3", arm7 + "4.4.2: 2S+1N"},
		{"arm7tdmi", "bl .", "4", "DDI 0210C, 6.3, table 6-2: 3S+1N in two halves"},
		{"arm7tdmi", "bx lr", "3", "DDI 0210C, 6.4: 2S+1N"},
		{"arm7tdmi", "mov pc, lr", "3", arm7 + "4.5.7: 2S+1N to PC"},
		{"arm7tdmi", "svc #0", "3", arm7 + "4.13.3: 2S+1N"},
		{"arm7tdmi", "udf #0", "4", arm7 + "4.17.1: 2S+1I+1N"},
		{"arm920t", "muls r0, r1", "3–6", arm9 + "MUL 2+m"},
		{"arm920t", "udf #0", "3", arm9 + "undefined 3"},
		{"arm946e-s", "muls r0, r1", "4", arm9e + "MULS 4"},
		{"arm946e-s", "bl .", "4", arm9e + "the sum of the halves, 1 and 3"},
		{"arm946e-s", "blx r3", "3", arm9e + "BLX 3"},
		{"arm946e-s", "bkpt #0", "", arm9e + "no row"},
		{"arm946e-s", "udf #0", "3", arm9e + "undefined 3"},
		{"arm926ej-s", "ldr r0, [r1]", "1", arm9e + "LDR 1"},
		{"arm926ej-s", "pop {r4}", "2", arm9e + "LDM of one register 2"},
		{"arm926ej-s", "mov pc, lr", "4", "DDI 0222B, table 8.2: MOV to PC"},
		{"arm926ej-s", "add pc, r8", "3", "DDI 0222B, table 8.2: ADD to PC"},

		{"arm7tdmi", "add pc, r8", "3", arm7 + "4.5.7: 2S+1N to PC"},

		{"cortex-m0", "adds r0, r1, r2", "1", m0 + "ADD 1"},
		{"cortex-m0", "ldm r0!, {r1-r3}", "4", m0 + "LDM 1+N"},
		{"cortex-m0", "pop {r4-r7}", "5", m0 + "POP 1+N"},
		{"cortex-m0", "lsls r0, r1", "1", m0 + "shift by register 1"},
		{"cortex-m0", "muls r0, r1, r0", "1 or 32", m0 + "MUL, by multiplier"},
		{"cortex-m0", "mov pc, r0", "3", m0 + "MOV to PC 3"},
		{"cortex-m0", "add pc, r0", "3", m0 + "ADD to PC 3"},
		{"cortex-m0", "ldr r0, [r1]", "2", m0 + "LDR 2"},
		{"cortex-m0", "str r0, [sp, #4]", "2", m0 + "STR 2"},
		{"cortex-m0", "push {r4, lr}", "3", m0 + "PUSH 1+N"},
		{"cortex-m0", "stm r0!, {r1-r3}", "4", m0 + "STM 1+N"},
		{"cortex-m0", "pop {r4, pc}", "6", m0 + "POP with return 4+N"},
		{"cortex-m0", "b .", "3", m0 + "B 3"},
		{"cortex-m0", "beq .", "3, 1 when not taken", m0 + "B with condition 1 or 3"},
		{"cortex-m0", "bl .", "4", m0 + "BL 4"},
		{"cortex-m0", "bx lr", "3", m0 + "BX 3"},
		{"cortex-m0", "blx r0", "3", m0 + "BLX 3"},
		{"cortex-m0", "mrs r0, primask", "4", m0 + "MRS 4"},
		{"cortex-m0", "msr primask, r0", "4", m0 + "MSR 4"},
		{"cortex-m0", "cpsid i", "1", m0 + "CPS 1"},
		{"cortex-m0", "dmb", "4", m0 + "DMB 4"},
		{"cortex-m0", "isb", "4", m0 + "ISB 4"},
		{"cortex-m0", "yield", "1", m0 + "YIELD 1"},
		{"cortex-m0", "sev", "1", m0 + "SEV 1"},
		{"cortex-m0", "wfi", "2", m0 + "WFI 2"},
		{"cortex-m0", "svc #0", "", m0 + "no figure"},
		{"cortex-m0", "bkpt #0", "", m0 + "no figure"},
		{"cortex-m0plus", "adds r0, r1, r2", "1", m0plus + "ADD 1"},
		{"cortex-m0plus", "lsls r0, r1", "1", m0plus + "shift by register 1"},
		{"cortex-m0plus", "add pc, r0", "2", m0plus + "ADD to PC 2"},
		{"cortex-m0plus", "ldm r0!, {r1-r3}", "4", m0plus + "LDM 1+N"},
		{"cortex-m0plus", "blx r0", "2", m0plus + "BLX 2"},
		{"cortex-m0plus", "yield", "1", m0plus + "YIELD 1"},
		{"cortex-m0plus", "svc #0", "", m0plus + "no figure"},
		{"cortex-m0plus", "mov pc, r0", "2", m0plus + "MOV to PC 2"},
		{"cortex-m0plus", "muls r0, r1, r0", "1 or 32", m0plus + "MUL, by multiplier"},
		{"cortex-m0plus", "ldr r0, [r1]", "1 or 2", m0plus + "LDR 2, or 1 from the I/O port"},
		{"cortex-m0plus", "strb r0, [r1]", "1 or 2", m0plus + "STRB 2, or 1 to the I/O port"},
		{"cortex-m0plus", "push {r4, lr}", "3", m0plus + "PUSH 1+N"},
		{"cortex-m0plus", "pop {r4, pc}", "5", m0plus + "POP with return 3+N"},
		{"cortex-m0plus", "b .", "2", m0plus + "B 2"},
		{"cortex-m0plus", "bne .", "2, 1 when not taken", m0plus + "B with condition 1 or 2"},
		{"cortex-m0plus", "bl .", "3", m0plus + "BL 3"},
		{"cortex-m0plus", "bx lr", "2", m0plus + "BX 2"},
		{"cortex-m0plus", "mrs r0, primask", "3", m0plus + "MRS 3"},
		{"cortex-m0plus", "dsb", "3", m0plus + "DSB 3"},
		{"cortex-m0plus", "cpsie i", "1", m0plus + "CPS 1"},
		{"cortex-m0plus", "wfe", "2", m0plus + "WFE 2"},

		{"cortex-m3", "muls r0, r1, r0", "1", m3 + "MUL 1"},
		{"cortex-m3", "add pc, r0", "1+P", m3 + "ADD to PC 1+P"},
		{"cortex-m3", "ldmia r0, {r1-r3}", "4", m3 + "LDM 1+N"},
		{"cortex-m3", "push {r4-r7, lr}", "6", m3 + "PUSH 1+N"},
		{"cortex-m3", "pop {r4-r7, pc}", "6+P", m3 + "POP with PC 1+N+P"},
		{"cortex-m3", "ldrex r0, [r1]", "2", m3 + "LDREX 2"},
		{"cortex-m3", "sev", "1", m3 + "SEV 1"},
		{"cortex-m3", "nop", "1", m3 + "NOP 1"},
		{"cortex-m3", "teq r0, r1", "1", m3 + "TEQ, as data processing"},
		{"cortex-m3", "ldr.w r8, [r1, #-4]", "2", m3 + "LDR 2"},
		{"cortex-m3", "str r0, [r1, r2]", "2", m3 + "STR 2"},
		{"cortex-m3", "ldr pc, [r1, r2, lsl #2]", "2+P", m3 + "LDR to PC 2+P"},
		{"cortex-m3", "mov pc, r0", "1+P", m3 + "MOV to PC 1+P"},
		{"cortex-m3", "strd r4, r5, [r0], #8", "3", m3 + "STRD 1+N"},
		{"cortex-m3", "tbb [pc, r0]", "2+P", m3 + "TBB 2+P"},
		{"cortex-m3", "cpsid i", "1 or 2", m3 + "CPSID 1 or 2"},
		{"cortex-m3", "cpsie f", "1 or 2", m3 + "CPSIE 1 or 2"},
		{"cortex-m3", "pld [r0, #8]", "", m3 + "no row"},
		{"cortex-m3", "yield", "", m3 + "no row"},
		{"cortex-m3", "yield.w", "", m3 + "no row"},
		{"cortex-m3", "svc #0", "", m3 + "no figure"},
		{"cortex-m3", "ite eq", "1", m3 + "IT 1"},
		{"cortex-m3", "cbz r0, .+8", "1+P, 1 when not taken", m3 + "CBZ 1 or 1+P"},
		{"cortex-m3", "bl .", "1+P", m3 + "BL 1+P"},
		{"cortex-m3", "bx lr", "1+P", m3 + "BX 1+P"},
		{"cortex-m3", "blx r0", "1+P", m3 + "BLX 1+P"},
		{"cortex-m3", "b .", "1+P", m3 + "B 1+P"},
		{"cortex-m3", "dsb", "1+B", m3 + "DSB 1+B"},
		{"cortex-m3", "wfi", "1 and the wait", m3 + "WFI 1+W"},
		{"cortex-m3", "clrex", "1", m3 + "CLREX 1"},
		{"cortex-m3", "add.w r0, r1, r2, lsl #3", "1", m3 + "ADD 1"},
		{"cortex-m3", "lsl.w r0, r1, r2", "1", m3 + "LSL 1"},
		{"cortex-m3", "movw r0, #4660", "1", m3 + "MOVW 1"},
		{"cortex-m3", "ubfx r0, r1, #3, #5", "1", m3 + "UBFX 1"},
		{"cortex-m3", "ssat r0, #8, r1", "1", m3 + "SSAT 1"},
		{"cortex-m3", "mla r0, r1, r2, r3", "2", m3 + "MLA 2"},
		{"cortex-m3", "mls r0, r1, r2, r3", "2", m3 + "MLS 2"},
		{"cortex-m3", "umull r0, r1, r2, r3", "3–5", m3 + "UMULL 3 to 5"},
		{"cortex-m3", "smlal r0, r1, r2, r3", "4–7", m3 + "SMLAL 4 to 7"},
		{"cortex-m3", "udiv r0, r1, r2", "2–12", m3 + "UDIV 2 to 12"},
		{"cortex-m3", "mrs r0, basepri", "1 or 2", m3 + "MRS 1 or 2"},
		{"cortex-m4", "ldmdb r0!, {r4-r8}", "6", m4 + "LDM 1+N"},
		{"cortex-m4", "adds r0, r1, r2", "1", m4 + "ADD 1"},
		{"cortex-m4", "lsls r0, r1", "1", m4 + "shift by register 1"},
		{"cortex-m4", "add pc, r0", "1+P", m4 + "ADD to PC 1+P"},
		{"cortex-m4", "mov pc, r0", "1+P", m4 + "MOV to PC 1+P"},
		{"cortex-m4", "ldr r0, [r1, #4]", "2", m4 + "LDR 2"},
		{"cortex-m4", "ldr pc, [r1, #4]", "2+P", m4 + "LDR to PC 2+P"},
		{"cortex-m4", "str r0, [r1, #4]", "2", m4 + "STR 2"},
		{"cortex-m4", "b .", "1+P", m4 + "B 1+P"},
		{"cortex-m4", "bl .", "1+P", m4 + "BL 1+P"},
		{"cortex-m4", "bx lr", "1+P", m4 + "BX 1+P"},
		{"cortex-m4", "blx r0", "1+P", m4 + "BLX 1+P"},
		{"cortex-m4", "tbh [pc, r0, lsl #1]", "2+P", m4 + "TBH 2+P"},
		{"cortex-m4", "it eq", "1", m4 + "IT 1"},
		{"cortex-m4", "mrs r0, primask", "1 or 2", m4 + "MRS 1 or 2"},
		{"cortex-m4", "dmb", "1+B", m4 + "DMB 1+B"},
		{"cortex-m4", "wfe", "1 and the wait", m4 + "WFE 1+W"},
		{"cortex-m4", "bkpt #0", "", m4 + "no figure"},
		{"cortex-m4", "push {r4-r8, lr}", "7", m4 + "PUSH 1+N"},
		{"cortex-m4", "pop {r4-r8, pc}", "7+P", m4 + "POP with PC 1+N+P"},
		{"cortex-m4", "pop {r4, pc}", "3+P", m4 + "POP with PC 1+N+P"},
		{"cortex-m4", "ldrd r0, r1, [r2]", "3", m4 + "LDRD 1+N"},
		{"cortex-m4", "strex r0, r1, [r2]", "2", m4 + "STREX 2"},
		{"cortex-m4", "pld [r0, #8]", "", m4 + "no row"},
		{"cortex-m4", "yield", "", m4 + "no row"},
		{"cortex-m4", "cpsid i", "1 or 2", m4 + "CPSID 1 or 2"},
		{"cortex-m4", "beq.w .+600", "1+P, 1 when not taken", m4 + "B with condition 1 or 1+P"},
		{"cortex-m4", "mul r0, r1, r2", "1", m4 + "MUL 1"},
		{"cortex-m4", "mla r0, r1, r2, r3", "1", m4 + "MLA 1"},
		{"cortex-m4", "smull r0, r1, r2, r3", "1", m4 + "SMULL 1"},
		{"cortex-m4", "umlal r0, r1, r2, r3", "1", m4 + "UMLAL 1"},
		{"cortex-m4", "umaal r0, r1, r2, r3", "1", m4dsp + "UMAAL 1"},
		{"cortex-m4", "smlad r0, r1, r2, r3", "1", m4dsp + "SMLAD 1"},
		{"cortex-m4", "sadd16 r0, r1, r2", "1", m4dsp + "SADD16 1"},
		{"cortex-m4", "sdiv r0, r1, r2", "2–12", m4 + "SDIV 2 to 12"},

		{"cortex-m4", "vadd.f32 s0, s1, s2", "1", m4float + "VADD 1"},
		{"cortex-m4", "vnmul.f32 s0, s1, s2", "1", m4float + "VNMUL 1"},
		{"cortex-m4", "vcmp.f32 s0, s1", "1", m4float + "VCMP 1"},
		{"cortex-m4", "vcvt.s32.f32 s0, s1", "1", m4float + "VCVT 1"},
		{"cortex-m4", "vdiv.f32 s0, s1, s2", "14", m4float + "VDIV 14"},
		{"cortex-m4", "vsqrt.f32 s0, s1", "14", m4float + "VSQRT 14"},
		{"cortex-m4", "vmla.f32 s0, s1, s2", "3", m4float + "VMLA 3"},
		{"cortex-m4", "vmls.f32 s0, s1, s2", "3", m4float + "VMLS 3"},
		{"cortex-m4", "vnmla.f32 s0, s1, s2", "3", m4float + "VNMLA 3"},
		{"cortex-m4", "vnmls.f32 s0, s1, s2", "3", m4float + "VNMLS 3"},
		{"cortex-m4", "vfma.f32 s0, s1, s2", "3", m4float + "VFMA 3"},
		{"cortex-m4", "vfms.f32 s0, s1, s2", "3", m4float + "VFMS 3"},
		{"cortex-m4", "vfnma.f32 s0, s1, s2", "3", m4float + "VFNMA 3"},
		{"cortex-m4", "vfnms.f32 s0, s1, s2", "3", m4float + "VFNMS 3"},
		{"cortex-m4", "vmov.f32 s0, #1.0", "1", m4float + "VMOV of a constant 1"},
		{"cortex-m4", "vmov.f32 s0, s1", "1", m4float + "VMOV between S registers 1"},
		{"cortex-m4", "vmov.32 d0[1], r1", "1", m4float + "VMOV of half a double register 1"},
		{"cortex-m4", "vmov.32 r1, d0[1]", "1", m4float + "VMOV of half a double register 1"},
		{"cortex-m4", "vmov s0, r1", "2", m4float + "VMOV from a core register 2"},
		{"cortex-m4", "vmov r1, s0", "2", m4float + "VMOV to a core register 2"},
		{"cortex-m4", "vmov s0, s1, r1, r2", "2", m4float + "VMOV from two core registers 2"},
		{"cortex-m4", "vmov d0, r1, r2", "2", m4float + "VMOV from two core registers 2"},
		{"cortex-m4", "vmov r1, r2, d0", "2", m4float + "VMOV to two core registers 2"},
		{"cortex-m4", "vmrs r0, fpscr", "1", m4float + "VMRS 1"},
		{"cortex-m4", "vmsr fpscr, r0", "1", m4float + "VMSR 1"},
		{"cortex-m4", "vldr s0, [r0]", "2", m4float + "VLDR 2"},
		{"cortex-m4", "vstr s0, [r0]", "2", m4float + "VSTR 2"},
		{"cortex-m4", "vldr d0, [r0]", "3", m4float + "VLDR of a doubleword 3"},
		{"cortex-m4", "vstr d0, [r0]", "3", m4float + "VSTR of a doubleword 3"},
		{"cortex-m4", "vldmia r0!, {d0-d3}", "9", m4float + "VLDM 1+2N"},
		{"cortex-m4", "vpush {d8-d15}", "17", m4float + "VPUSH 1+2N"},
		{"cortex-m4", "vpop {s16-s19}", "5", m4float + "VPOP 1+N"},
		{"cortex-m4", "vstmdb r0!, {s0, s1, s2}", "4", m4float + "VSTM 1+N"},
		{"cortex-m4", "vadd.f64 d0, d1, d2", "", "DDI 0439D: the unit has single precision alone"},
		{"cortex-m4", "vdiv.f64 d0, d1, d2", "", "DDI 0439D: the unit has single precision alone"},
		{"cortex-m4", "vcvt.f64.f32 d0, s1", "", "DDI 0439D: the unit has single precision alone"},
		{"cortex-m4", "vmov.f64 d0, d1", "", "DDI 0439D: the unit has single precision alone"},
		{"cortex-m4", "vrinta.f32 s0, s1", "", m4float + "no row"},
		{"cortex-m3", "vadd.f32 s0, s1, s2", "", "100165_0201_02: no floating point"},

		// No table was found for these.
		{"cortex-m1", "adds r0, r1, r2", "", "none found"},
		{"cortex-m7", "adds r0, r1, r2", "", "none found"},
		{"cortex-m7", "vdiv.f32 s0, s1, s2", "", "none found"},
		{"cortex-m23", "adds r0, r1, r2", "", "none found"},
		{"cortex-m33", "adds r0, r1, r2", "", "none found"},
		{"arm1176jzf-s", "adds r0, r1, r2", "", "none of whole cycles: DDI 0301H has issue and latency"},
	}
}

// TestCyclesA is TestCycles for A32 code.
func TestCyclesA(t *testing.T) {
	t.Parallel()
	checkCycles(t, a32Cycles(), true)
}

func a32Cycles() []cycleTest {
	const (
		arm7   = "ARM7TDMI data sheet, "
		arm9   = "DDI 0180A, tables 7-2 and 7-3, as copied: "
		arm9e  = "DDI 0165B, tables 8-2 to 8-27, as copied: "
		arm9ej = "DDI 0222B, table 8.2: "
	)
	return []cycleTest{
		{"arm7tdmi", "add r0, r1, r2, lsl #3", "1", arm7 + "4.5.7: 1S"},
		{"arm7tdmi", "add r0, r1, r2, lsl r3", "2", arm7 + "4.5.7: 1S+1I with a shift by register"},
		{"arm7tdmi", "movs pc, lr", "3", arm7 + "4.5.7: 2S+1N to PC"},
		{"arm7tdmi", "sub pc, lr, #4", "3", arm7 + "4.5.7: 2S+1N to PC"},
		{"arm7tdmi", "adrl r0, .+1000", "2", arm7 + "4.5.7: 1S twice"},
		{"arm7tdmi", "add pc, pc, r1, lsl #2", "3", arm7 + "4.5.7: 2S+1N to PC"},
		{"arm7tdmi", "add pc, pc, r1, lsl r2", "4", arm7 + "4.5.7: 2S+1N+1I"},
		{"arm7tdmi", "mul r0, r1, r2", "2–5", arm7 + "4.7.3: 1S+mI"},
		{"arm7dm", "mla r0, r1, r2, r3", "3–6", arm7 + "4.7.3: 1S+(m+1)I"},
		{"arm7tdmi", "muls r0, r1, r2", "2–5", arm7 + "4.7.3: the flags cost nothing"},
		{"arm7tdmi", "mlas r0, r1, r2, r3", "3–6", arm7 + "4.7.3: the flags cost nothing"},
		{"arm7tdmi", "umull r0, r1, r2, r3", "3–6", arm7 + "4.8.3: 1S+(m+1)I"},
		{"arm7tdmi", "smulls r0, r1, r2, r3", "3–6", arm7 + "4.8.3: the flags cost nothing"},
		{"arm7tdmi", "smlals r0, r1, r2, r3", "4–7", arm7 + "4.8.3: 1S+(m+2)I"},
		{"arm7tdmi", "umlal r0, r1, r2, r3", "4–7", arm7 + "4.8.3: 1S+(m+2)I"},
		{"arm7tdmi", "ldrsh r0, [r1, #2]", "3", arm7 + "4.10.7: 1S+1N+1I"},
		{"arm7tdmi", "ldr r0, [r1, r2, lsl #2]", "3", arm7 + "4.9.7: 1S+1N+1I"},
		{"arm7tdmi", "ldr pc, [r1]", "5", arm7 + "4.9.7: 2S+2N+1I"},
		{"arm7tdmi", "ldr pc, [r1, r2, lsl #2]", "5", arm7 + "4.9.7: 2S+2N+1I"},
		{"arm7tdmi", "strb r0, [r1], r2", "2", arm7 + "4.9.7: 2N"},
		{"arm7tdmi", "strb r0, [r1], r2, lsl #2", "2", arm7 + "4.9.7: 2N"},
		{"arm7tdmi", "ldmia r0!, {r1-r4}", "6", arm7 + "4.11.8: nS+1N+1I"},
		{"arm7tdmi", "ldmfd sp!, {r4, pc}", "6", arm7 + "4.11.8: (n+1)S+2N+1I"},
		{"arm7tdmi", "stmdb r0, {r1-r4}", "5", arm7 + "4.11.8: (n-1)S+2N"},
		{"arm7tdmi", "swp r0, r1, [r2]", "4", arm7 + "4.12.4: 1S+2N+1I"},
		{"arm7tdmi", "b .", "3", arm7 + "4.4.2: 2S+1N"},
		{"arm7tdmi", "bl .", "3", arm7 + "4.4.2: 2S+1N"},
		{"arm7tdmi", "bne .", "3, 1 when not taken", arm7 + "4.4.2: 2S+1N; where the condition fails 1S, from memory"},
		{"arm7tdmi", "bxeq lr", "3, 1 when not executed", arm7 + "4.3.1: 2S+1N; where the condition fails 1S, from memory"},
		{"arm7tdmi", "svc #0", "3", arm7 + "4.13.3: 2S+1N"},
		{"arm7tdmi", "udf #0", "4", arm7 + "4.17.1: 2S+1I+1N"},
		{"arm7tdmi", "mrs r0, cpsr", "1", "DDI 0029E, 4.6.3: 1S"},
		{"arm7tdmi", "msr cpsr_c, r0", "1", "DDI 0029E, 4.6.3: 1S"},
		{"arm7tdmi", "msr cpsr_f, r0", "1", "DDI 0029E, 4.6.3: 1S"},
		{"arm7tdmi", "cdp p1, #2, c3, c4, c5, #6", "1 and the coprocessor's wait", arm7 + "4.14.2: 1S+bI"},
		{"arm7tdmi", "ldc p1, c2, [r0]", "1, 1 for each word, and the coprocessor's wait", arm7 + "4.15.6: (n-1)S+2N+bI"},
		{"arm7tdmi", "mrc p15, #0, r0, c1, c0, #0", "3 and the coprocessor's wait", arm7 + "4.16.4: 1S+(b+1)I+1C"},
		{"arm7tdmi", "mrc p15, #0, apsr_nzcv, c1, c0, #0", "3 and the coprocessor's wait", arm7 + "4.16.4: 1S+(b+1)I+1C"},
		{"arm7tdmi", "mcr p15, #0, r0, c1, c0, #0", "2 and the coprocessor's wait", arm7 + "4.16.4: 1S+bI+1C"},

		{"arm920t", "add r0, r1, r2", "1", arm9 + "1"},
		{"ep9312", "add r0, r1, r2", "1", arm9 + "1; the part has an ARM920T"},
		{"arm920t", "mul r0, r1, r2", "3–6", arm9 + "MUL 2+m"},
		{"arm920t", "smull r0, r1, r2, r3", "4–7", arm9 + "SMULL 3+m"},
		{"arm920t", "smlals r0, r1, r2, r3", "4–7", arm9 + "SMLAL 3+m, flags or not"},
		{"arm920t", "ldr r0, [r1]", "1", arm9 + "LDR 1"},
		{"arm920t", "ldr pc, [r1, r2, lsl #2]", "5", arm9 + "LDR to PC 5"},
		{"arm920t", "mrs r0, cpsr", "1", arm9 + "MRS 1"},
		{"arm920t", "msr cpsr_c, r0", "3", arm9 + "MSR of more than the flags 3"},
		{"arm920t", "mrc p15, #0, r0, c1, c0, #0", "1 and the coprocessor's wait", arm9 + "MRC b+1"},
		{"arm920t", "mrc p15, #0, apsr_nzcv, c1, c0, #0", "3 and the coprocessor's wait", arm9 + "MRC to PC b+3"},
		{"arm920t", "swpb r0, r1, [r2]", "2", arm9 + "SWP 2"},

		{"arm946e-s", "add r0, r1, r2, ror r3", "2", arm9e + "2 with a shift by register"},
		{"arm946e-s", "clz r0, r1", "1", arm9e + "CLZ 1"},
		{"arm946e-s", "mov pc, lr", "3", arm9e + "3 to PC"},
		{"arm946e-s", "add pc, pc, r1, lsl #2", "3", arm9e + "3 to PC"},
		{"arm946e-s", "add pc, pc, r1, lsl r2", "4", arm9e + "4 to PC with a shift by register"},
		{"arm946e-s", "mul r0, r1, r2", "2", arm9e + "MUL 2"},
		{"arm946e-s", "muls r0, r1, r2", "4", arm9e + "MULS 4"},
		{"arm946e-s", "mlas r0, r1, r2, r3", "4", arm9e + "MLAS 4"},
		{"arm946e-s", "smlal r0, r1, r2, r3", "3", arm9e + "SMLAL 3"},
		{"arm946e-s", "umulls r0, r1, r2, r3", "5", arm9e + "UMULLS 5"},
		{"arm946e-s", "smlals r0, r1, r2, r3", "5", arm9e + "SMLALS 5"},
		{"arm946e-s", "smlabt r0, r1, r2, r3", "1", arm9e + "SMLAxy 1"},
		{"arm946e-s", "smlaltb r0, r1, r2, r3", "2", arm9e + "SMLALxy 2"},
		{"arm946e-s", "qdadd r0, r1, r2", "1", arm9e + "QDADD 1"},
		{"arm946e-s", "ldrd r0, [r2]", "2", arm9e + "LDRD 2"},
		{"arm946e-s", "strd r0, [r2], #8", "2", arm9e + "STRD 2"},
		{"arm946e-s", "ldr pc, [r1]", "5", arm9e + "LDR to PC 5"},
		{"arm946e-s", "ldr r0, [r1, r2, lsl #2]", "1", arm9e + "LDR 1"},
		{"arm946e-s", "str r0, [r1, r2, lsl #2]", "1", arm9e + "STR 1"},
		{"arm946e-s", "ldr pc, [r1, r2, lsl #2]", "5", arm9e + "LDR to PC 5"},
		{"arm946e-s", "pld [r0]", "1", arm9e + "PLD 1"},
		{"arm946e-s", "bkpt #0", "", arm9e + "no row"},
		{"arm946e-s", "bxj r0", "", arm9e + "no row"},
		{"arm946e-s", "udf #0", "3", arm9e + "undefined 3"},
		{"arm946e-s", "ldmia r0, {r1}", "2", arm9e + "LDM of one register 2"},
		{"arm946e-s", "stmia r0!, {r1-r8}", "8", arm9e + "STM n"},
		{"arm946e-s", "ldmia sp!, {r4-r7, pc}", "9", arm9e + "LDM with PC n+4"},
		{"arm946e-s", "ldmia sp!, {pc}", "5", arm9e + "LDM of PC alone 5"},
		{"arm946e-s", "mrs r0, cpsr", "2", arm9e + "MRS 1S+1I"},
		{"arm946e-s", "mrs r0, spsr", "2", arm9e + "MRS 1S+1I"},
		{"arm946e-s", "msr cpsr_f, r0", "1", arm9e + "MSR of the flags 1"},
		{"arm946e-s", "msr cpsr_fc, r0", "3", arm9e + "MSR of more 3"},
		{"arm946e-s", "msr cpsr_f, #0", "1", arm9e + "MSR of the flags 1"},
		{"arm946e-s", "mrc p15, #0, r0, c1, c0, #0", "1 and the coprocessor's wait", arm9e + "MRC b+1"},
		{"arm946e-s", "mrc p15, #0, apsr_nzcv, c1, c0, #0", "4 and the coprocessor's wait", arm9e + "MRC to PC b+4"},
		{"arm946e-s", "mcrr p1, #2, r0, r1, c4", "2 and the coprocessor's wait", arm9e + "MCRR b+2"},
		{"arm946e-s", "stc p1, c2, [r0]", "1 for each word and the coprocessor's wait", arm9e + "STC b+n"},
		{"arm946e-s", "blx r3", "3", arm9e + "BLX 3"},
		{"arm946e-s", "blx .+8", "3", arm9e + "BLX 3"},
		{"arm946e-s", "swp r0, r1, [r2]", "2", arm9e + "SWP 2"},
		{"arm946e-s", "vadd.f32 s0, s1, s2", "", arm9e + "no floating point"},
		{"arm946e-s", "vldr s0, [r0]", "", arm9e + "no floating point"},

		{"arm926ej-s", "mov pc, lr", "4", arm9ej + "MOV to PC 4"},
		{"arm926ej-s", "bic pc, lr, #1", "4", arm9ej + "BIC to PC 4"},
		{"arm926ej-s", "rsc pc, lr, #1", "4", arm9ej + "RSC to PC 4"},
		{"arm926ej-s", "subs pc, lr, #4", "3", arm9ej + "SUB to PC 3"},
		{"arm926ej-s", "add pc, pc, r1, lsl #2", "4", arm9ej + "4 to PC with a shifted operand"},
		{"arm926ej-s", "ldr r0, [r1, r2]", "1", arm9ej + "LDR 1"},
		{"arm926ej-s", "ldr r0, [r1, r2, lsl #2]", "2", arm9ej + "LDR with a scaled offset 2"},
		{"arm926ej-s", "strb r0, [r1, r2, ror #2]", "2", arm9ej + "STR with a scaled offset 2"},
		{"arm926ej-s", "ldr pc, [r1, r2, lsl #2]", "6", arm9ej + "LDR to PC with a scaled offset 6"},
		{"arm926ej-s", "ldr pc, [r1, r2]", "5", arm9ej + "LDR to PC 5"},
		{"arm926ej-s", "mrs r0, cpsr", "2", arm9e + "MRS 1S+1I"},

		// No table was found for these.
		{"arm7500", "mul r0, r1, r2", "", "another multiplier: ARM7500 data sheet (DDI 0050C), 5.6"},
		{"arm710", "mul r0, r1, r2", "", "another multiplier"},
		{"arm7di", "mla r0, r1, r2, r3", "", "another multiplier"},
		{"arm10e", "add r0, r1, r2", "", "none found"},
		{"arm1026ej-s", "add r0, r1, r2", "", "none found"},
		{"xscale", "add r0, r1, r2", "", "none found"},
		{"iwmmxt", "add r0, r1, r2", "", "none found"},
		{"fa626te", "add r0, r1, r2", "", "none found"},
		{"fa726te", "add r0, r1, r2", "", "none found"},
		{"strongarm", "add r0, r1, r2", "", "none found"},
	}
}

// TestCycleClasses holds that each figure of the tables has a line that is compared with the
// document, core by core, and names its source.
func TestCycleClasses(t *testing.T) {
	t.Parallel()
	seen := map[string]map[isa.Timing]bool{}
	note := func(tests []cycleTest, a32 bool) {
		for _, x := range tests {
			cpu, _ := isa.CPU(x.cpu)
			have := cpu.Have | unitOf(x.cpu)
			m := matchCycles(t, x.line, have, a32)
			for _, c := range m.Cycles(x.cpu, have) {
				if seen[c.Core.Name] == nil {
					seen[c.Core.Name] = map[isa.Timing]bool{}
				}
				seen[c.Core.Name][m.Class()] = true
			}
		}
	}
	note(thumbCycles(), false)
	note(a32Cycles(), true)
	for _, core := range []string{"ARM7TDMI", "Cortex-M0", "Cortex-M0+", "Cortex-M3", "Cortex-M4"} {
		figures := isa.Figures(core)
		if len(figures) < 15 {
			t.Errorf("%s has %d figures", core, len(figures))
		}
		for class, source := range figures {
			if !seen[core][class] {
				t.Errorf("%s: no line is of class %d, whose figure is from %s", core, class, source)
			}
			if !strings.Contains(source, "DDI 0") && !strings.Contains(source, "100165") && !strings.Contains(source, "data sheet") {
				t.Errorf("%s: class %d cites %q", core, class, source)
			}
		}
	}
}

// TestCyclesByArchitecture lists the families whose figures are shown where
// only the architecture is known.
func TestCyclesByArchitecture(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		arch, want string
		a32        bool
	}{
		{"armv4t", "ARM7TDMI ARM9TDMI", true}, {"armv4t", "ARM7TDMI ARM9TDMI", false}, {"armv4", "", true}, {"armv5t", "", true}, {"armv5te", "ARM9E-S", true},
		{"armv5te", "ARM9E-S", false}, {"armv6", "", true}, {"armv7-a", "", false}, {"armv6-m", "Cortex-M0 Cortex-M0+", false}, {"armv8-m.base", "", false},
		{"armv7-m", "Cortex-M3 Cortex-M4", false}, {"armv7e-m", "Cortex-M4", false}, {"armv8-m.main", "", false},
	} {
		target, _ := isa.Arch(x.arch)
		line := "adds r0, r1, r2"
		m := matchCycles(t, line, target.Have, x.a32)
		var got []string
		if len(m.Cycles("", target.Have)) != len(m.Cycles(x.arch, target.Have)) {
			t.Errorf("%s: the name of an architecture is not as none", x.arch)
		}
		for _, c := range m.Cycles(x.arch, target.Have) {
			got = append(got, c.Core.Name)
			if c.Count != "1" || c.Source == "" {
				t.Errorf("%s: %+v", x.arch, c)
			}
		}
		if s := strings.Join(got, " "); s != x.want {
			t.Errorf("%s (A32 %v): %q, want %q", x.arch, x.a32, s, x.want)
		}
	}
}

// TestCycleNotes looks at the conditions that belong to single figures.
func TestCycleNotes(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		cpu, line, has string
		a32            bool
		source         string
	}{
		{"arm7tdmi", "muls r3, r1", "upper bytes of r3 are", false, "ARM7TDMI data sheet, 4.7.3: the multiplier operand is the last one, in T16 Rd"},
		{"arm7tdmi", "mul r0, r1, r2", "upper bytes of r2 are all 0 or all 1", true, "ARM7TDMI data sheet, 4.7.3"},
		{"arm7tdmi", "mla r0, r1, r2, r3", "upper bytes of r2 are", true, "ARM7TDMI data sheet, 4.7.3"},
		{"arm920t", "umull r0, r1, r2, r3", "upper bytes of r3 are all 0 or, where the product is signed, all 1", true, "ARM7TDMI data sheet, 4.8.3"},
		{"cortex-m3", "umull r0, r1, r2, r3", "the smaller both factors are", false, "100165_0201_02, note of table 3-1"},
		{"cortex-m3", "udiv r0, r1, r2", "bits the quotient has", false, "100165_0201_02, note of table 3-1"},
		{"cortex-m0plus", "ldr r0, [r1]", "1 at the single-cycle I/O port", false, "DDI 0484C, table 3.1"},
		{"cortex-m4", "vdiv.f32 s0, s1, s2", "1 where no floating-point instruction follows", false, "DDI 0439D, note of table 7-1"},
		{"cortex-m4", "vadd.f32 s0, s1, s2", "1 more where the next instruction takes a result", false, "DDI 0439D, note of table 7-1"},
		{"cortex-m4", "it eq", "0 where it is folded", false, "DDI 0439D, table 3-1"},
		{"arm946e-s", "mul r0, r1, r2", "1 for the results of multiplications", true, "DDI 0165B, 8.12"},
	} {
		cpu, _ := isa.CPU(x.cpu)
		have := cpu.Have | unitOf(x.cpu)
		m := matchCycles(t, x.line, have, x.a32)
		c := m.Cycles(x.cpu, have)
		if len(c) != 1 || !strings.Contains(c[0].Note, x.has) {
			t.Errorf("%s on %s: %+v, want %s (%s)", x.line, x.cpu, c, x.has, x.source)
		}
	}
}

// unitOf is the floating-point unit that a core is tried with.
func unitOf(cpu string) isa.Features {
	name := map[string]string{"cortex-m4": "fpv5-d16", "cortex-m3": "fpv4-sp-d16", "cortex-m7": "fpv5-d16", "arm946e-s": "vfp9"}[cpu]
	if name == "" {
		return 0
	}
	unit, _ := isa.FPU(name)
	return unit.Have
}

type cycleTest struct{ cpu, line, want, document string }

// matchCycles binds a line, whose expressions are addresses, on a target.
func matchCycles(t *testing.T, line string, have isa.Features, a32 bool) isa.Match {
	t.Helper()
	st := syntax.Parse(line).Line(0).Stmts[0]
	m, ok := st.Mnemonic.Match(&isa.Query{Have: have, Unified: true, Width: st.Width, A32: a32}, operands(&st))
	if !ok {
		t.Fatalf("%s does not match", line)
	}
	return m
}

func checkCycles(t *testing.T, tests []cycleTest, a32 bool) {
	t.Helper()
	for _, x := range tests {
		cpu, known := isa.CPU(x.cpu)
		if !known {
			t.Errorf("no core %s", x.cpu)
			continue
		}
		have := cpu.Have | unitOf(x.cpu)
		m := matchCycles(t, x.line, have, a32)
		c := m.Cycles(x.cpu, have)
		switch {
		case x.want == "" && len(c) == 0:
		case len(c) != 1 || c[0].Count != x.want:
			t.Errorf("%s on %s: %+v, want %s (%s)", x.line, x.cpu, c, x.want, x.document)
		case c[0].Source == "":
			t.Errorf("%s on %s has no source", x.line, x.cpu)
		}
	}
}
