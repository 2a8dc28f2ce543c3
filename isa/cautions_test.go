package isa_test

import (
	"fmt"
	"math/rand/v2"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// cautionPair is one rule of some rows, with operands that break it and
// operands that are nearly the same and do not.
type cautionPair struct {
	rows string // IDs, as patterns of path.Match
	rule string // what isa.Rule.Says, in the manuals' names of fields
	what string // unpredictable, deprecated or refused; with "list" for the base in the list
	op   int    // the operand at fault
	// cases are "bad | good", put after each name that the rows have. With
	// '^' the bad code is that of the good line with some bits turned over, for
	// operands that no line can have; with '=' the lines have their names.
	cases []string
	// also are rules that the bad operands break as well.
	also string
	// on is the target, without is another one where the rule does not hold.
	on, without string
	// eq puts the condition EQ on the bad line, in T32 by an IT block.
	eq bool
	// source is the manual's section.
	source string
}

// cautionTargets are the targets of the pairs: architecture, extensions,
// floating-point unit.
var cautionTargets = map[string]string{
	"v4t": "armv4t", "v6": "armv6", "v6m": "armv6-m", "v7m": "armv7-m", "v7": "armv7ve+mp+sec/neon-vfpv4", "vfpv3": "armv7ve/vfpv3",
	"v8": "armv8.6-a+fp16+crc/crypto-neon-fp-armv8", "v8.0": "armv8-a/crypto-neon-fp-armv8", "v8.1": "armv8.1-a/crypto-neon-fp-armv8.1", "v8m": "armv8-m.main+dsp/fpv5-d16",
}

func cautionTarget(t *testing.T, name string) isa.Features {
	t.Helper()
	text, ok := cautionTargets[name]
	if !ok {
		t.Fatalf("no target %q", name)
	}
	arch, fpu, _ := strings.Cut(text, "/")
	var s isa.Selection
	for i, n := range strings.Split(arch, "+") {
		if i == 0 && !s.SelectArch(n) || i > 0 && !s.Extend(n) {
			t.Fatalf("target %s: no %s", name, n)
		}
	}
	if fpu != "" && !s.AddFPU(fpu) {
		t.Fatalf("target %s: no unit %s", name, fpu)
	}
	return s.Have()
}

// cautionPairs is complete: TestCautions fails on a rule of a row, and on a
// form that can break one, for which there is no pair.
//
// The sections are named from memory unless the entry says "read". DDI 0406 is
// the manual of ARMv7-A/R, DDI 0403 that of ARMv7-M, DDI 0419 that of ARMv6-M,
// DDI 0553 that of ARMv8-M, DDI 0487 that of ARMv8-A, DDI 0100 that of ARMv4 to
// ARMv6.
var cautionPairs = slices.Concat(pairsOfT16, pairsOfT32, pairsOfA32, pairsOfFloats(), pairsOfVectors())

var pairsOfT16 = []cautionPair{
	{rows: "add-high", rule: "Rdn = pc", what: "deprecated", op: 0, on: "v7", source: `DDI 0406, "ADD (register)", T2, and "Use of the PC as a general-purpose register"`,
		cases: []string{"pc, r1 | r8, r1", "pc, pc, r1 | r8, r8, r1", "pc, r1, pc | r8, r1, r8", "pc, sp, pc | r8, sp, r8"}},
	{rows: "cmp-high", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0419, A6.7.18 "CMP (register)", T2 (read)`, cases: []string{"pc, r8 | r9, r8"}},
	{rows: "cmp-high", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0419, A6.7.18 "CMP (register)", T2 (read)`, cases: []string{"r8, pc | r8, r9"}},
	{rows: "cmp-high", rule: "Rn and Rm low", what: "unpredictable", op: 0, on: "v7", source: `DDI 0419, A6.7.18 "CMP (register)", T2 (read)`, cases: []string{"^0080 | r8, r1", "^0040 | r1, r8"}},
	{rows: "blx-reg", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "BLX (register)", T1`, cases: []string{"^0008 | lr"}},
	{rows: "push", rule: "list empty", what: "unpredictable", op: 0, on: "v4t", source: `DDI 0419, "PUSH", T1`, cases: []string{"^0001 | {r0}", "^0100 | {lr}"}},
	{rows: "pop", rule: "list empty", what: "unpredictable", op: 0, on: "v4t", source: `DDI 0419, "POP", T1`, cases: []string{"^0001 | {r0}", "^0100 | {pc}"}},
	{rows: "stm ldm-wb", rule: "list empty", what: "unpredictable", op: 1, on: "v4t", source: `DDI 0419, "STM" and A6.7.25 "LDM" (read), T1`, cases: []string{"^0001 | r1!, {r0}"}},
	{rows: "stm", rule: "Rn in list, not lowest", what: "deprecated list", op: 0, on: "v4t", source: `DDI 0419, "STM", T1`,
		cases: []string{"r1!, {r0, r1} | r1!, {r1, r2}", "r1, {r0, r1} | r1, {r2, r3}", "r7!, {r1-r7} | r7!, {r1-r6}"}},
	{rows: "mul", rule: "Rdn = Rm", what: "unpredictable", op: 1, on: "v4t", without: "v6", source: `DDI 0100, A7.1.45 "MUL": operand restriction before ARMv6`, cases: []string{"r0, r0 | r0, r1", "r3, r3, r3 | r3, r4, r3"}},
	{rows: "cpsie cpsid", rule: "letter f", what: "unpredictable", op: 0, on: "v6m", without: "v7m", source: `DDI 0419, "CPS": bit 0 should be zero; DDI 0403, B5.2.1 "CPS": FAULTMASK`, cases: []string{"f | i", "if | i"}},
	{rows: "cpsie cpsid", rule: "letter f", what: "unpredictable", op: 0, on: "v6m", without: "v6", source: `DDI 0406, B9.3.2 "CPS (Thumb)", T1: the mask of FIQ`, cases: []string{"f | i"}},
	{rows: "it", rule: "no condition", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "IT", T1`, cases: []string{"^00f0 | eq"}},
	{rows: "it", rule: "al with an else", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "IT", T1`, cases: elseCases()},
}

// elseCases are all blocks of IT with an else.
func elseCases() (out []string) {
	for _, n := range strings.Fields("ite itte itet itee ittte ittet ittee itett itete iteet iteee") {
		out = append(out, "="+n+" al | "+n+" eq")
	}
	return out
}

const (
	fieldSize  = `"BFC", "BFI", "SBFX", "UBFX"`
	longHalves = `"SMULL", "UMULL", "SMLAL", "UMLAL", "UMAAL", "SMLALBB", "SMLALD", "SMLSLD"`
)

var pairsOfT32 = []cautionPair{
	{rows: "t-bfc a-bfc", rule: "msb < lsb", what: "unpredictable", op: 2, on: "v7", source: `DDI 0406, ` + fieldSize, cases: []string{"^001f | r0, #1, #31", "^001f0000 | r0, #1, #31", "^0010 | r0, #0, #9, #8", "^0080 | r0, #0, #0, #1"}},
	{rows: "t-bfi a-bfi", rule: "msb < lsb", what: "unpredictable", op: 2, on: "v7", source: `DDI 0406, ` + fieldSize, cases: []string{"^001f | r0, r1, #1, #31", "^001f0000 | r0, r1, #1, #31"}},
	{rows: "t-sbfx t-ubfx a-sbfx a-ubfx", rule: "lsb + widthm1 > 31", what: "unpredictable", op: 2, on: "v7", source: `DDI 0406, ` + fieldSize, cases: []string{"^0001 | r0, r1, #1, #31", "^00010000 | r0, r1, #1, #31"}},
	{rows: "t-smull t-umull t-smlal t-umlal t-umaal t-smlal[bt][bt] t-smlald t-smlaldx t-smlsld t-smlsldx a-umaal a-smlal[bt][bt] a-smlald a-smlaldx a-smlsld a-smlsldx a-umull a-umlal a-smull a-smlal",
		rule: "RdLo = RdHi", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, ` + longHalves, cases: []string{"r0, r0, r2, r3 | r0, r1, r2, r3", "r8, r8, r2, r2 | r8, r9, r8, r9"}},
	{rows: "t-crc32* a-crc32*", rule: "Rd = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0487, F5 "CRC32", "CRC32C"`, cases: []string{"pc, r1, r2 | lr, r1, r2"}},
	{rows: "t-crc32* a-crc32*", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0487, F5 "CRC32", "CRC32C"`, cases: []string{"r0, pc, r2 | r0, lr, r2"}},
	{rows: "t-crc32* a-crc32*", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0487, F5 "CRC32", "CRC32C"`, cases: []string{"r0, r1, pc | r0, r1, lr"}},
	{rows: "t-msr a-msr-reg", rule: "no part", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, B9.3.12 "MSR (register)": mask = 0000`, cases: []string{"^0100 | cpsr_c, r0", "^00010000 | cpsr_c, r0"}},
	{rows: "a-msr-imm", rule: "no part", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, B9.3.11 "MSR (immediate)": mask = 0000`, cases: []string{"^00010000 | spsr_c, #1", "^00010000 | spsr_c, #1, #4"}},
	{rows: "a-msr-reg", rule: "Rn = pc", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, B9.3.12 "MSR (register)"`, cases: []string{"cpsr_f, pc | cpsr_f, lr"}},
	{rows: "t-cpsie t-cpsid a-cpsie a-cpsid", rule: "no mask bit", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, B9.3.2 "CPS"`, cases: []string{"^0040 | i, #19", "^0080 | a, #19", "^0080 | i, #19", "^0100 | a, #19"}},
	{rows: "t-cpsie t-cpsid", rule: "M = 0 with a mode", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, B9.3.2 "CPS"`, cases: []string{"^0100 | i, #19"}},
	{rows: "a-cpsie a-cpsid", rule: "M = 0 with a mode", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, B9.3.2 "CPS"`, cases: []string{"^00020000 | i, #19"}},
	{rows: "t-ldr-lit", rule: "Rt = pc, imm12 no multiple of 4", what: "refused", op: 1, on: "v7", source: `DDI 0406, "LDR (literal)", T2`, cases: []string{"pc, [pc, #6] | pc, [pc, #8]", "pc, [pc, #-1] | pc, [pc, #-4]", "pc, .+6 | pc, .+8"}},
	{rows: "t-ldrd", rule: "Rt = Rt2", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)", T1`, cases: []string{"r0, r0, [r1] | r0, r2, [r1]", "r0, r0, [r1, #8]! | r0, r2, [r1, #8]!", "^0100 | r0, [r1]"}},
	{rows: "t-ldrd t-strd", rule: "Rn = Rt, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)" and "STRD (immediate)", T1`, cases: []string{"r0, r1, [r0], #8 | r0, r1, [r0]", "r0, r1, [r0, #8]! | r0, r1, [r2, #8]!", "r0, [r0], #8 | r0, [r2], #8"}},
	{rows: "t-ldrd t-strd", rule: "Rn = Rt2, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)" and "STRD (immediate)", T1`, cases: []string{"r0, r1, [r1], #8 | r0, r1, [r1]", "r0, r1, [r1, #8]! | r0, r1, [r2, #8]!", "r0, [r1], #8 | r0, [r2], #8"}},
	{rows: "t-ldrd-lit", rule: "Rt = Rt2", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (literal)", T1`, cases: []string{"r0, r0, [pc, #8] | r0, r1, [pc, #8]", "r0, r0, .+8 | r0, r1, .+8", "^0100 | r0, [pc, #8]", "^0100 | r0, .+8"}},
	{rows: "t-ldrd-lit", rule: "written back", what: "unpredictable", op: 2, on: "v7", source: `DDI 0406, "LDRD (literal)", T1`, cases: []string{"^00200000 | r0, r1, [pc, #8]", "^01200000 | r0, r1, [pc, #8]"}},
	{rows: "t-ldmia t-ldmdb t-stmia t-stmdb", rule: "fewer than two in list", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, "LDM", T2, "LDMDB", T1, "STM", T2, "STMDB", T1`,
		cases: []string{"^0001 | r8, {r0, r1}", "^0003 | r8!, {r0, r1}", "^0100 | {r8, r0}"}},
	{rows: "t-strex", rule: "Rd = Rt", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "STREX", T1`, cases: []string{"r0, r0, [r2] | r0, r1, [r2]", "r0, r0, [r2, #4] | r0, r1, [r2, #4]"}},
	{rows: "t-strex", rule: "Rd = Rn", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "STREX", T1`, cases: []string{"r2, r1, [r2] | r0, r1, [r2]", "r2, r1, [r2, #4] | r0, r1, [r2, #4]"}},
	{rows: "t-strexb t-strexh t-stlex t-stlexb t-stlexh", rule: "Rd = Rt", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXB", "STREXH"; DDI 0487, F5 "STLEX"`, cases: []string{"r0, r0, [r2] | r0, r1, [r2]", "r0, r0, [r2, #0] | r0, r1, [r2, #0]"}},
	{rows: "t-strexb t-strexh t-stlex t-stlexb t-stlexh", rule: "Rd = Rn", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXB", "STREXH"; DDI 0487, F5 "STLEX"`, cases: []string{"r2, r1, [r2] | r0, r1, [r2]", "r2, r1, [r2, #0] | r0, r1, [r2, #0]"}},
	{rows: "t-strexd t-stlexd", rule: "Rd = Rt", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD"; DDI 0487, F5 "STLEXD"`, cases: []string{"r0, r0, r1, [r3] | r2, r0, r1, [r3]", "r0, r0, [r3] | r2, r0, [r3]"}},
	{rows: "t-strexd t-stlexd", rule: "Rd = Rt2", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD"; DDI 0487, F5 "STLEXD"`, cases: []string{"r1, r0, r1, [r3] | r2, r0, r1, [r3]", "r1, r0, [r3] | r2, r0, [r3]"}},
	{rows: "t-strexd t-stlexd", rule: "Rd = Rn", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD"; DDI 0487, F5 "STLEXD"`, cases: []string{"r3, r0, r1, [r3] | r2, r0, r1, [r3]", "r3, r0, [r3] | r2, r0, [r3]"}},
	{rows: "t-ldrexd t-ldaexd", rule: "Rt = Rt2", what: "refused", op: 0, on: "v8", source: `DDI 0406, "LDREXD"; DDI 0487, F5 "LDAEXD"`, cases: []string{"r0, r0, [r3] | r0, r1, [r3]", "^0100 | r0, [r3]"}},
	{rows: "t-lda t-ldab t-ldah t-stl t-stlb t-stlh t-ldaex t-ldaexb t-ldaexh", rule: "Rt = sp", what: "unpredictable", op: 0, on: "v8m", without: "v8", source: `DDI 0553, "LDA", "STL", "LDAEX": t == 13`, cases: []string{"sp, [r2] | lr, [r2]"}},
	{rows: "t-stlex t-stlexb t-stlexh", rule: "Rt = sp", what: "unpredictable", op: 0, on: "v8m", without: "v8", source: `DDI 0553, "STLEX", "STLEXB", "STLEXH": t == 13`, cases: []string{"r0, sp, [r2] | r0, lr, [r2]"}},
	{rows: "t-stlex t-stlexb t-stlexh", rule: "Rd = sp", what: "unpredictable", op: 0, on: "v8m", without: "v8", source: `DDI 0553, "STLEX", "STLEXB", "STLEXH": d == 13`, cases: []string{"sp, r1, [r2] | lr, r1, [r2]"}},
	{rows: "t-tt t-ttt t-tta t-ttat", rule: "Rd = sp", what: "unpredictable", op: 0, on: "v8m", source: `DDI 0553, "TT, TTT, TTA, TTAT": d == 13`, cases: []string{"sp, r1 | lr, r1"}},
	{rows: "?-stc ?-ldc ?-stcl ?-ldcl ?-stc2 ?-ldc2 ?-stc2l ?-ldc2l", rule: "Rn = pc, written back", what: "unpredictable", op: 2, on: "v7", source: `DDI 0406, "STC, STC2" and "LDC, LDC2 (literal)"`,
		cases: []string{"^00010000 | p1, c2, [lr], #4", "^00010000 | p1, c2, [lr, #4]!", "^00200000 | p1, c2, .+8"}},
	{rows: "?-mrrc ?-mrrc2", rule: "Rt = Rt2", what: "refused", op: 2, on: "v7", source: `DDI 0406, "MRRC, MRRC2"`, cases: []string{"p1, #2, r3, r3, c4 | p1, #2, r3, r5, c4"}},
}

var pairsOfA32 = []cautionPair{
	{rows: "a-mul", rule: "Rd = Rm", what: "unpredictable", op: 1, on: "v4t", without: "v6", source: `DDI 0100, A4.1.40 "MUL": operand restriction before ARMv6; ARM7TDMI data sheet, 4.7.1 (read)`, cases: []string{"r0, r0, r1 | r0, r1, r0", "r1, r1 | r1, r2", "r1, r1, r1 | r1, r2, r1"}},
	{rows: "a-mla", rule: "Rd = Rm", what: "unpredictable", op: 1, on: "v4t", without: "v6", source: `DDI 0100, A4.1.34 "MLA": operand restriction before ARMv6; ARM7TDMI data sheet, 4.7.1 (read)`, cases: []string{"r0, r0, r1, r2 | r0, r1, r0, r0"}},
	{rows: "a-umull a-umlal a-smull a-smlal", rule: "RdLo = Rm", what: "unpredictable", op: 2, on: "v4t", without: "v6", source: `DDI 0100, A4.1.129 "UMULL" and its kin; ARM7TDMI data sheet, 4.8.1 (read)`, cases: []string{"r0, r1, r0, r2 | r0, r1, r2, r0"}},
	{rows: "a-umull a-umlal a-smull a-smlal", rule: "RdHi = Rm", what: "unpredictable", op: 2, on: "v4t", without: "v6", source: `DDI 0100, A4.1.129 "UMULL" and its kin; ARM7TDMI data sheet, 4.8.1 (read)`, cases: []string{"r0, r1, r1, r2 | r0, r1, r2, r1"}},
	{rows: "a-stm*", rule: "Rn in list, not lowest, written back", what: "deprecated list", op: 0, on: "v7", source: `DDI 0406, "STM (STMIA, STMEA)" and its kin, A1: the value stored is UNKNOWN; ARM7TDMI data sheet, 4.11.6 (read)`,
		cases: []string{"r1!, {r0, r1} | r1!, {r1, r2}", "r7!, {r1-r7} | r7, {r1-r7}", "{r0, sp} | {sp, lr}"}},
	{rows: "a-*-rsr", rule: "Rd = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`,
		cases: []string{"pc, r1, r2, lsl r3 | lr, r1, r2, lsl r3", "pc, r1, r2 | lr, r1, r2", "^f000 | r0, r2, lsl r3", "^f000 | r0, r2"}},
	{rows: "a-*-rsr", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`,
		cases: []string{"r0, pc, r2, lsl r3 | r0, lr, r2, lsl r3", "^000f0000 | r0, r2, lsl r3"}},
	{rows: "a-*-rsr", rule: "Rn = pc", also: "Rd = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`, cases: []string{"pc, r2, lsl r3 | lr, r2, lsl r3"}},
	{rows: "a-*-rsr", rule: "Rd = pc", also: "Rn = pc, Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`, cases: []string{"pc, r2, lsl r3 | lr, r2, lsl r3", "pc, r1 | lr, r1"}},
	{rows: "a-mov-rsr", rule: "Rm = pc", also: "Rd = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`, cases: []string{"pc, r1 | lr, r1"}},
	{rows: "a-*-rsr", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`,
		cases: []string{"r0, r1, pc, lsl r3 | r0, r1, lr, lsl r3", "r0, pc, lsl r3 | r0, lr, lsl r3", "r0, pc, r3 | r0, lr, r3", "^000f | r0, r3"}},
	{rows: "a-*-rsr", rule: "Rs = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "ADC (register-shifted register)" and all of its kind`,
		cases: []string{"r0, r1, r2, lsl pc | r0, r1, r2, lsl lr", "r0, r2, lsl pc | r0, r2, lsl lr", "r0, r2, pc | r0, r2, lr", "r0, pc | r0, lr"}},
	{rows: "a-tstp-* a-teqp-* a-cmpp-* a-cmnp-*", rule: "always", what: "unpredictable", op: 0, on: "v7", source: `DDI 0100, "The 26-bit architectures"`,
		cases: []string{"r0, #1 | -", "r0, #1, #4 | -", "r0, #-1 | -", "r0, #-2 | -", "r0, r1 | -", "r0, r1, lsl #3 | -", "r0, r1, lsl r2 | -", "r0, #0xffffff00 | -"}},
	{rows: "a-blx-reg", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "BLX (register)", A1`, cases: []string{"pc | lr"}},
	{rows: "a-bxj", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "BXJ", A1`, cases: []string{"pc | lr"}},
	{rows: "a-ldr-imm a-str-imm", rule: "Rt = pc, Rn = pc, imm12 no multiple of 4", what: "refused", op: 1, on: "v7", source: `DDI 0406, "LDR (literal)", A1, and "STR (immediate)", A1`,
		cases: []string{"pc, [pc, #6] | pc, [pc, #8]", "pc, .+10 | pc, .+12"}},
	{rows: "a-ldr-imm a-str-imm a-ldrb-imm a-strb-imm", rule: "Rn = pc, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDR (immediate, ARM)" and its kin, A1: n == 15`,
		cases: []string{"^00010000 | r0, [lr], #4", "^00010000 | r0, [lr, #4]!", "^00200000 | r0, .+12"}},
	{rows: "a-ldr-imm a-str-imm a-ldrb-imm a-strb-imm", rule: "Rn = Rt, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDR (immediate, ARM)" and its kin, A1: n == t`,
		cases: []string{"r0, [r0], #4 | r0, [r1], #4", "r0, [r0, #-4]! | r0, [r0, #-4]", "{sp} | {lr}"}},
	{rows: "a-ldr-reg a-str-reg a-ldrb-reg a-strb-reg", rule: "Rm = pc", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, "LDR (register, ARM)" and its kin, A1: m == 15`, cases: []string{"^0008 | r0, [r1, r7]", "^000d | r0, [r1, -r2, lsl #2]"}},
	{rows: "a-ldr-reg a-str-reg a-ldrb-reg a-strb-reg", rule: "Rn = pc, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDR (register, ARM)" and its kin, A1: n == 15`,
		cases: []string{"^00010000 | r0, [lr], r2", "^00010000 | r0, [lr, r2, lsl #2]!"}},
	{rows: "a-ldr-reg a-str-reg a-ldrb-reg a-strb-reg", rule: "Rn = Rt, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDR (register, ARM)" and its kin, A1: n == t`,
		cases: []string{"r0, [r0], -r2 | r0, [r1], -r2", "r0, [r0, r2]! | r0, [r0, r2]"}},
	{rows: "a-ldrt-imm a-strt-imm a-ldrbt-imm a-strbt-imm", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRT", "STRT", "LDRBT", "STRBT", A1: n == 15`, cases: []string{"^00010000 | r0, [lr], #4", "^00010000 | r0, [lr]"}},
	{rows: "a-ldrt-imm a-strt-imm a-ldrbt-imm a-strbt-imm", rule: "Rn = Rt", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRT", "STRT", "LDRBT", "STRBT", A1: n == t`, cases: []string{"r0, [r0], #4 | r0, [r1], #4"}},
	{rows: "a-ldrt-reg a-strt-reg a-ldrbt-reg a-strbt-reg", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRT", "STRT", "LDRBT", "STRBT", A2: n == 15`, cases: []string{"^00010000 | r0, [lr], r2"}},
	{rows: "a-ldrt-reg a-strt-reg a-ldrbt-reg a-strbt-reg", rule: "Rn = Rt", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRT", "STRT", "LDRBT", "STRBT", A2: n == t`, cases: []string{"r0, [r0], r2 | r0, [r1], r2"}},
	{rows: "a-ldrt-reg a-strt-reg a-ldrbt-reg a-strbt-reg", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRT", "STRT", "LDRBT", "STRBT", A2: m == 15`, cases: []string{"^000d | r0, [r1], r2"}},

	{rows: "a-ldrh-imm a-ldrsb-imm a-ldrsh-imm a-strh-imm a-ldrh-reg a-ldrsb-reg a-ldrsh-reg a-strh-reg", rule: "Rn = pc, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRH (immediate, ARM)" and its kin, A1`,
		cases: []string{"^00010000 | r0, [lr], #4", "^00010000 | r0, [lr], r2", "^00010000 | r0, [lr, r2]!", "^00200000 | r0, .+12"}},
	{rows: "a-ldrh-imm a-ldrsb-imm a-ldrsh-imm a-strh-imm a-ldrh-reg a-ldrsb-reg a-ldrsh-reg a-strh-reg", rule: "Rn = Rt, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRH (immediate, ARM)" and its kin, A1`,
		cases: []string{"r0, [r0], #4 | r0, [r0]", "r0, [r0, #4]! | r0, [r0, #4]", "r0, [r0], r2 | r0, [r0, r2]", "r0, [r0, r2]! | r0, [r0, r2]"}},
	{rows: "a-ldrh-* a-ldrsb-* a-ldrsh-* a-strh-*", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRH (immediate, ARM)" and its kin, A1: t == 15`, cases: []string{"^f000 | r0, [r1]", "^f000 | r0, [r1, r2]"}},
	{rows: "a-ldrh-reg a-ldrsb-reg a-ldrsh-reg a-strh-reg a-ldrd-reg a-strd-reg a-ldrht-reg a-ldrsbt-reg a-ldrsht-reg a-strht-reg", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRH (register)" and its kin, A1: m == 15`,
		cases: []string{"^000b | r0, [r2, r4]", "^000b | r0, [r2], r4"}},
	{rows: "a-ldrht-* a-ldrsbt-* a-ldrsht-* a-strht-*", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRHT", "LDRSBT", "LDRSHT", "STRHT", A1, A2`, cases: []string{"^00010000 | r0, [lr], #4", "^00010000 | r0, [lr], r2"}},
	{rows: "a-ldrht-* a-ldrsbt-* a-ldrsht-* a-strht-*", rule: "Rn = Rt", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRHT", "LDRSBT", "LDRSHT", "STRHT", A1, A2`, cases: []string{"r0, [r0], #4 | r0, [r1], #4", "r0, [r0], r2 | r0, [r1], r2"}},
	{rows: "a-ldrht-* a-ldrsbt-* a-ldrsht-* a-strht-*", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRHT", "LDRSBT", "LDRSHT", "STRHT", A1, A2`, cases: []string{"^f000 | r0, [r1], #4", "^f000 | r0, [r1], r2"}},
	{rows: "a-ldrd-* a-strd-*", rule: "Rn = pc, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)", "STRD (immediate)", A1: n == 15`,
		cases: []string{"^00010000 | r0, r1, [lr], #8", "^00010000 | r0, [lr, #8]!", "^00010000 | r0, r1, [lr], r2", "^00010000 | r0, [lr, r2]!", "^00200000 | r0, .+16", "^00200000 | r0, r1, .+16"}},
	{rows: "a-ldrd-* a-strd-*", rule: "Rn = Rt, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)", "STRD (immediate)", A1: n == t`,
		cases: []string{"r0, r1, [r0], #8 | r0, r1, [r0]", "r0, [r0, #8]! | r0, [r0, #8]", "r0, r1, [r0], r2 | r0, r1, [r3], r2", "r0, [r0, r2]! | r0, [r3, r2]!"}},
	{rows: "a-ldrd-* a-strd-*", rule: "Rn = Rt + 1, written back", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)", "STRD (immediate)", A1: n == t2`,
		cases: []string{"r0, r1, [r1], #8 | r0, r1, [r1]", "r0, [r1, #8]! | r0, [r1, #8]", "r0, r1, [r1], r2 | r0, r1, [r3], r2", "r0, [r1, r2]! | r0, [r3, r2]!"}},
	{rows: "a-ldrd-* a-strd-*", rule: "Rt odd", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)", "STRD (register)", A1: Rt<0>`, cases: []string{"^1000 | r0, r1, [r2]", "^f000 | r0, [r2, r6]"}},
	{rows: "a-ldrd-* a-strd-*", rule: "Rt = lr", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (immediate)", "STRD (register)", A1: t2 == 15`, cases: []string{"^2000 | r12, [r2]", "^2000 | r12, [r2, r6]"}},
	{rows: "a-ldrd-reg", rule: "Rm = Rt", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (register)", A1: m == t`, cases: []string{"r0, r1, [r2, r0] | r0, r1, [r2, r3]", "r0, [r2, r0] | r0, [r2, r3]"}},
	{rows: "a-ldrd-reg", rule: "Rm = Rt + 1", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDRD (register)", A1: m == t2`, cases: []string{"r0, r1, [r2, r1] | r0, r1, [r2, r3]", "r0, [r2, r1] | r0, [r2, r3]"}},

	{rows: "a-ldm* a-stm*", rule: "list empty", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, "LDM/LDMIA/LDMFD (ARM)" and its kin, A1: BitCount(registers) < 1`, cases: []string{"^0001 | r1, {r0}", "^0003 | r2!, {r0, r1}", "^0001 | r1, {r0}^", "^0003 | {r0, r1}"}},
	{rows: "a-ldm* a-stm*", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "LDM/LDMIA/LDMFD (ARM)" and its kin, A1: n == 15`, cases: []string{"^00010000 | lr, {r0, r1}", "^00010000 | lr, {r0, r1}^"}},
	{rows: "a-ldm*", rule: "Rn in list, written back", what: "unpredictable list", op: 1, on: "v7", source: `DDI 0406, "LDM/LDMIA/LDMFD (ARM)" and its kin, A1: wback && registers<n>`,
		cases: []string{"r1!, {r0, r1} | r1, {r0, r1}", "r1!, {r1, pc}^ | r1!, {r2, pc}^", "{r0, sp} | {r0, lr}"}},
	{rows: "a-stm*", rule: "S = 1, written back", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, B9.3.17 "STM (User registers)", A1: bit W is (0)`, cases: []string{"r8!, {r0, r1}^ | r8, {r0, r1}^", "r8!, {r0, pc}^ | r8!, {r0, pc}"}},
	{rows: "a-ldm*", rule: "S = 1, written back, pc not in list", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, B9.3.6 "LDM (User registers)", A1: bit W is (0)`, cases: []string{"r8!, {r0, r1}^ | r8!, {r0, pc}^"}},
	{rows: "a-swp a-swpb", rule: "Rn = pc", what: "refused", op: 2, on: "v7", source: `DDI 0406, "SWP, SWPB", A1: n == 15`, cases: []string{"^00010000 | r0, r1, [lr]"}},
	{rows: "a-swp a-swpb", rule: "Rn = Rt", what: "refused", op: 2, on: "v7", source: `DDI 0406, "SWP, SWPB", A1: n == t`, cases: []string{"r0, r1, [r0] | r0, r1, [r2]"}},
	{rows: "a-swp a-swpb", rule: "Rn = Rt2", what: "refused", op: 2, on: "v7", source: `DDI 0406, "SWP, SWPB", A1: n == t2`, cases: []string{"r0, r1, [r1] | r0, r1, [r2]"}},
	{rows: "a-pld-reg", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "PLD, PLDW (register)", A1: m == 15`, cases: []string{"[r1, pc] | [r1, lr]", "[r1, -pc, lsl #2] | [r1, -lr, lsl #2]"}},
	{rows: "a-pldw a-pldw-reg a-rfe*", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "PLD, PLDW (immediate)", "PLD, PLDW (register)", B9.3.13 "RFE": n == 15`, cases: []string{"[pc, #4] | [lr, #4]", ".+8 | [lr, #4]", "[pc, r1] | [lr, r1]", "^00010000 | lr", "^00020000 | sp!"}},
	{rows: "a-pldw-reg", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "PLD, PLDW (register)", A1: m == 15`, cases: []string{"[r1, pc] | [r1, lr]"}},
	{rows: "a-rbit a-sbfx a-ubfx", rule: "Rd = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "RBIT", "SBFX", "UBFX", A1: d == 15`, cases: []string{"pc, r1 | lr, r1", "pc, r1, #2, #3 | lr, r1, #2, #3"}},
	{rows: "a-rbit", rule: "Rm = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "RBIT", A1: m == 15`, cases: []string{"r0, pc | r0, lr"}},
	{rows: "a-sbfx a-ubfx", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, "SBFX", "UBFX", A1: n == 15`, cases: []string{"r0, pc, #2, #3 | r0, lr, #2, #3"}},
	{rows: "a-ldrex a-ldrexb a-ldrexh a-ldaex a-ldaexb a-ldaexh a-lda a-ldab a-ldah a-stl a-stlb a-stlh", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "LDREX", A1: n == 15; DDI 0487, F5 "LDA", "STL", "LDAEX"`, cases: []string{"^00010000 | r0, [lr]"}},
	{rows: "a-ldrex a-ldrexb a-ldrexh a-ldaex a-ldaexb a-ldaexh a-lda a-ldab a-ldah", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "LDREX", A1: t == 15; DDI 0487, F5 "LDA", "LDAEX"`, cases: []string{"^1000 | lr, [r2]"}},
	{rows: "a-stl a-stlb a-stlh", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0487, F5 "STL": t == 15`, cases: []string{"^0001 | lr, [r2]"}},
	{rows: "a-ldrexd a-ldaexd", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "LDREXD", A1: n == 15`, cases: []string{"^00010000 | r0, r1, [lr]"}},
	{rows: "a-ldrexd a-ldaexd", rule: "Rt odd", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "LDREXD", A1: Rt<0>`, cases: []string{"^1000 | r0, r1, [lr]"}},
	{rows: "a-ldrexd a-ldaexd", rule: "Rt = lr", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "LDREXD", A1: Rt == 14`, cases: []string{"^2000 | r12, [r2]"}},
	{rows: "a-strex a-strexb a-strexh a-stlex a-stlexb a-stlexh", rule: "Rn = pc", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREX", A1: n == 15`, cases: []string{"^00010000 | r0, r1, [lr]"}},
	{rows: "a-strex a-strexb a-strexh a-stlex a-stlexb a-stlexh", rule: "Rt = pc", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREX", A1: t == 15`, cases: []string{"^0001 | r0, lr, [r2]"}},
	{rows: "a-strex a-strexb a-strexh a-stlex a-stlexb a-stlexh", rule: "Rd = pc", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREX", A1: d == 15`, cases: []string{"^1000 | lr, r1, [r2]"}},
	{rows: "a-strex a-strexb a-strexh a-stlex a-stlexb a-stlexh", rule: "Rd = Rn", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREX", A1: d == n`, cases: []string{"r2, r1, [r2] | r0, r1, [r2]", "r2, r1, [r2, #0] | r0, r1, [r2, #0]"}},
	{rows: "a-strex a-strexb a-strexh a-stlex a-stlexb a-stlexh", rule: "Rd = Rt", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREX", A1: d == t`, cases: []string{"r1, r1, [r2] | r0, r1, [r2]", "r1, r1, [r2, #0] | r0, r1, [r2, #0]"}},
	{rows: "a-strexd a-stlexd", rule: "Rn = pc", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: n == 15`, cases: []string{"^00010000 | r4, r0, r1, [lr]"}},
	{rows: "a-strexd a-stlexd", rule: "Rt odd", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: Rt<0>`, cases: []string{"^0001 | r4, r0, r1, [lr]"}},
	{rows: "a-strexd a-stlexd", rule: "Rt = lr", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: Rt == 14`, cases: []string{"^0002 | r4, r12, [r2]"}},
	{rows: "a-strexd a-stlexd", rule: "Rd = pc", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: d == 15`, cases: []string{"^1000 | lr, r0, r1, [r2]"}},
	{rows: "a-strexd a-stlexd", rule: "Rd = Rn", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: d == n`, cases: []string{"r2, r0, r1, [r2] | r3, r0, r1, [r2]", "r2, r0, [r2] | r3, r0, [r2]"}},
	{rows: "a-strexd a-stlexd", rule: "Rd = Rt", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: d == t`, cases: []string{"r0, r0, r1, [r2] | r3, r0, r1, [r2]", "r0, r0, [r2] | r3, r0, [r2]"}},
	{rows: "a-strexd a-stlexd", rule: "Rd = Rt + 1", what: "refused", op: 0, on: "v8", source: `DDI 0406, "STREXD", A1: d == t2`, cases: []string{"r1, r0, r1, [r2] | r3, r0, r1, [r2]", "r1, r0, [r2] | r3, r0, [r2]"}},
	{rows: "a-hvc a-udf", rule: "cond below al", what: "unpredictable", op: 0, on: "v7", eq: true, source: `DDI 0406, B9.3.4 "HVC", A1: cond != '1110'; "UDF", A1: bits 31 to 28 are 1110`, cases: []string{"#1 | #1", " | "}},
	{rows: "a-msr-banked", rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: `DDI 0406, B9.3.10 "MSR (Banked register)", A1: n == 15`, cases: []string{"r8_usr, pc | r8_usr, lr", "spsr_fiq, pc | spsr_fiq, lr"}},
	{rows: "a-mcr a-mcr2", rule: "Rt = pc", what: "unpredictable", op: 2, on: "v7", source: `DDI 0406, "MCR, MCR2", A1: t == 15`, cases: []string{"p1, #2, pc, c3, c4, #5 | p1, #2, lr, c3, c4, #5", "p1, #2, pc, c3, c4 | p1, #2, lr, c3, c4"}},
}

// pairsOfFloats are those of floating point, for both instruction sets.
func pairsOfFloats() []cautionPair {
	const moves = `DDI 0406, "VMOV (between ARM core register and single-precision register)" and its kin, "VMSR"`
	pairs := []cautionPair{
		{rows: "?-vmov-to-s ?-vmov-to-h ?-vmov-to-lane32 ?-vmsr", rule: "Rt = pc", what: "unpredictable", op: 1, on: "v8", source: moves,
			cases: []string{"^f000 | s1, r0", "s1, pc | s1, lr", "d1[1], pc | d1[1], lr", "d1, pc | d1, lr", "fpscr, pc | fpscr, lr", "fpexc, pc | fpexc, lr", "mvfr2, pc | mvfr2, lr", "c1, pc | c1, lr", "^f000 | fpscr, r0"}},
		{rows: "?-vmov-from-s ?-vmov-from-h ?-vmov-from-lane32", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"pc, s1 | lr, s1", "pc, d1[1] | lr, d1[1]", "pc, d1 | lr, d1"}},
		{rows: "?-vmov-to-2s", rule: "Rt = pc", what: "unpredictable", op: 2, on: "v8", source: moves, cases: []string{"s2, s3, pc, r1 | s2, s3, lr, r1", "{s2, s3}, pc, r1 | {s2, s3}, lr, r1"}},
		{rows: "?-vmov-to-2s", rule: "Rt2 = pc", what: "unpredictable", op: 2, on: "v8", source: moves, cases: []string{"s2, s3, r1, pc | s2, s3, r1, lr", "{s2, s3}, r1, pc | {s2, s3}, r1, lr"}},
		{rows: "?-vmov-to-2s", rule: "Sm = s31", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "VMOV (between two ARM core registers and two single-precision registers)": m == 31`, cases: []string{"^0020 | s30, s31, r1, r2"}},
		{rows: "?-vmov-from-2s", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"pc, r1, s2, s3 | lr, r1, s2, s3", "pc, r1, {s2, s3} | lr, r1, {s2, s3}"}},
		{rows: "?-vmov-from-2s", rule: "Rt2 = pc", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"r1, pc, s2, s3 | r1, lr, s2, s3", "r1, pc, {s2, s3} | r1, lr, {s2, s3}"}},
		{rows: "?-vmov-from-2s", rule: "Rt = Rt2", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"r1, r1, s2, s3 | r1, r2, s2, s3", "r1, r1, {s2, s3} | r1, r2, {s2, s3}"}},
		{rows: "?-vmov-from-2s", rule: "Sm = s31", what: "unpredictable", op: 0, on: "v8", source: `DDI 0406, "VMOV (between two ARM core registers and two single-precision registers)": m == 31`, cases: []string{"^0020 | r1, r2, s30, s31"}},
		{rows: "?-vmov-to-d", rule: "Rt = pc", what: "unpredictable", op: 1, on: "v8", source: moves, cases: []string{"d2, pc, r1 | d2, lr, r1"}},
		{rows: "?-vmov-to-d", rule: "Rt2 = pc", what: "unpredictable", op: 1, on: "v8", source: moves, cases: []string{"d2, r1, pc | d2, r1, lr"}},
		{rows: "?-vmov-from-d", rule: "Rt = pc", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"pc, r1, d2 | lr, r1, d2"}},
		{rows: "?-vmov-from-d", rule: "Rt2 = pc", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"r1, pc, d2 | r1, lr, d2"}},
		{rows: "?-vmov-from-d", rule: "Rt = Rt2", what: "unpredictable", op: 0, on: "v8", source: moves, cases: []string{"r1, r1, d2 | r1, r2, d2"}},
		{rows: "?-vstr-s ?-vstr-d ?-vstr-h", rule: "Rn = pc", what: "deprecated", op: 1, on: "v8", source: `DDI 0406, "VSTR": n == 15`,
			cases: []string{"s1, [pc, #8] | s1, [lr, #8]", "d1, [pc, #8] | d1, [lr, #8]", "s1, .+8 | s1, [lr, #8]", "d1, .+8 | d1, [lr, #8]", "^00010000 | s1, [lr, #8]", "^00010000 | d1, [lr, #8]"}},
		{rows: "?-*-h ?-vcvt*-f16* ?-vcvt*-*-f16 ?-vcmp*h ?-v*f16*", rule: "cond below al", what: "unpredictable", op: 0, on: "v8", eq: true, source: `DDI 0487, F6 "VADD (floating-point)" and all of half precision: size == '01' && cond != '1110', or InITBlock()`,
			cases: []string{"s1, s2, s3 | s1, s2, s3", "s1, s2 | s1, s2", "s1 | s1", "s1, #0 | s1, #0", "s1, #1.0 | s1, #1.0", "s1, #0.0 | s1, #0.0", "s1, r0 | s1, r0", "r0, s1 | r0, s1", "s1, [r0, #4] | s1, [r0, #4]", "s1, s1, #4 | s1, s1, #4"}},
		{rows: "?-vldr-h a-vstr-h", rule: "cond below al", also: "Rn = pc", what: "unpredictable", op: 0, on: "v8", eq: true, source: `DDI 0487, F6 "VLDR", "VSTR": size == '01' && cond != '1110', or InITBlock()`, cases: []string{"s1, .+8 | s1, [r0]"}},
	}
	const lists = `DDI 0406, "VLDM" and "VSTM"`
	for _, x := range []struct{ reg, rows, good, all, wrong string }{
		{"Sd", "?-vldm??-s ?-vstm??-s", "{s4-s7}", "{s30, s31}", "0002"},
		{"Dd", "?-vldm??-d ?-vstm??-d", "{d4-d7}", "{d30, d31}", "0004"},
	} {
		wb := []string{"^00010000 | lr!, " + x.good}
		if x.reg == "Sd" { // assemblers take it of single registers only
			wb = append(wb, "pc!, "+x.good+" | lr!, "+x.good)
		}
		pairs = append(pairs,
			cautionPair{rows: x.rows, rule: "n = 0", what: "unpredictable", op: 1, on: "v7", source: lists + ": regs == 0", cases: []string{"^" + map[string]string{"Sd": "0004", "Dd": "0008"}[x.reg] + " | r0!, " + x.good}},
			cautionPair{rows: x.rows, rule: x.reg + " + n > 32", what: "unpredictable", op: 1, on: "v7", source: lists + ": d + regs > 32", cases: []string{"^" + map[string]string{"Sd": "0001", "Dd": "0002"}[x.reg] + " | r0!, " + x.all}},
			cautionPair{rows: strings.ReplaceAll(x.rows, "m??", "mdb"), rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: lists + ": n == 15 && wback", cases: wb},
			cautionPair{rows: strings.ReplaceAll(x.rows, "m??", "mia"), rule: "Rn = pc, written back", also: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: lists + ": n == 15 && wback",
				cases: wb},
			cautionPair{rows: strings.Fields(strings.ReplaceAll(x.rows, "m??", "mia"))[0], rule: "Rn = pc", what: "unpredictable", op: 0, on: "v7", source: lists + ": n == 15 in T32, deprecated in A32", cases: []string{"pc, " + x.good + " | lr, " + x.good, "^00010000 | lr, " + x.good}},
			cautionPair{rows: strings.Fields(strings.ReplaceAll(x.rows, "m??", "mia"))[1], rule: "Rn = pc", what: "deprecated", op: 0, on: "v7", source: lists + ": n == 15 in A32", cases: []string{"pc, " + x.good + " | lr, " + x.good, "^00010000 | lr, " + x.good}},
		)
	}
	pairs = append(pairs, cautionPair{rows: "?-vldm??-d ?-vstm??-d", rule: "n > 16", what: "unpredictable", op: 1, on: "v7", source: lists + ": regs > 16", cases: []string{"^0002 | r0, {d0-d15}", "^0002 | r0!, {d0-d15}"}})
	pairs = append(pairs,
		cautionPair{rows: "?-vldmia-s", rule: "Rn = pc", also: "Rn = pc, written back", what: "unpredictable", op: 0, on: "v7", source: lists + ": n == 15", cases: []string{"pc!, {s4-s7} | lr!, {s4-s7}"}},
		cautionPair{rows: "?-vstmia-s", rule: "Rn = pc", also: "Rn = pc, written back", what: "deprecated", op: 0, on: "v7", source: lists + ": n == 15", cases: []string{"pc!, {s4-s7} | lr!, {s4-s7}"}})
	const older = `DDI 0406, "FLDMX, FSTMX"`
	const x = "?-vldm??-x ?-vstm??-x"
	pairs = append(pairs,
		cautionPair{rows: x, rule: "always", what: "deprecated", op: 0, on: "v7", source: older, cases: []string{"r0, {d4-d7} | -", "r0!, {d4-d7} | -"}},
		cautionPair{rows: x, rule: "n = 0", also: "always", what: "unpredictable", op: 1, on: "v7", source: older + ": regs == 0", cases: []string{"^0008 | r0, {d4-d7}", "^0008 | r0!, {d4-d7}"}},
		cautionPair{rows: x, rule: "n > 16", also: "always, Dd + n > 16", what: "unpredictable", op: 1, on: "v7", source: older + ": regs > 16", cases: []string{"^0002 | r0, {d0-d15}", "^0002 | r0!, {d0-d15}"}},
		cautionPair{rows: x, rule: "Dd + n > 16", also: "always", what: "unpredictable", op: 1, on: "v7", source: older + ": d + regs > 16", cases: []string{"^0008 | r0, {d15}", "^0002 | r0!, {d14, d15}", "r0, {d15, d16} | r0, {d14, d15}", "r0!, {d15, d16} | r0!, {d14, d15}"}},
		cautionPair{rows: x, rule: "Dd + n > 32", also: "always, Dd + n > 16", what: "unpredictable", op: 1, on: "v7", source: older + ": d + regs > 32", cases: []string{"^00400002 | r0, {d14, d15}", "^00400002 | r0!, {d14, d15}"}},
		cautionPair{rows: strings.ReplaceAll(x, "m??", "mdb"), rule: "Rn = pc", also: "always", what: "unpredictable", op: 0, on: "v7", source: older + ": n == 15 && wback", cases: []string{"^00010000 | lr!, {d4-d7}"}},
		cautionPair{rows: strings.ReplaceAll(x, "m??", "mia"), rule: "Rn = pc, written back", also: "always", what: "unpredictable", op: 0, on: "v7", source: older + ": n == 15 && wback", cases: []string{"^00010000 | lr!, {d4-d7}"}})
	return pairs
}

// pairsOfVectors are those of vectors, for both instruction sets.
func pairsOfVectors() []cautionPair {
	pairs := []cautionPair{
		{rows: "?-vmov-v-imm ?-vmvn-v-imm", rule: "imm8 = 0, moved", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, A7.4.6 "One register and a modified immediate value": imm8 == 0`, cases: []string{"^0001 | d0, #0x100", "^0001 | q0, #0x10000"}},
		{rows: "?-vorr-v-imm ?-vbic-v-imm", rule: "imm8 = 0, moved", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, A7.4.6 "One register and a modified immediate value": imm8 == 0`, cases: []string{"^0001 | d0, #0x100", "^0001 | q0, #0x10000"}},
		{rows: "?-vtbl ?-vtbx", rule: "Dn + len > 31", what: "unpredictable", op: 1, on: "v7", source: `DDI 0406, "VTBL, VTBX": n + length > 32`, cases: []string{"^0100 | d0, {d31}, d1", "^0100 | d0, {d29-d31}, d1"}},
		{rows: "?-vqrdmlah* ?-vqrdmlsh*", rule: "always", what: "unpredictable", op: 0, on: "v8.0", without: "v8.1", source: `DDI 0487, F6 "VQRDMLAH", "VQRDMLSH": HaveQRDMLAHExt()`,
			cases: []string{"d0, d1, d2 | -", "d0, d2 | -", "q0, q1, q2 | -", "q0, q2 | -", "d0, d1, d2[1] | -", "d0, d2[1] | -", "q0, q1, d2[1] | -", "q0, d2[1] | -"}},
	}
	const each = `DDI 0406, "VLD1 (multiple single elements)" to "VST4 (single 4-element structure from one lane)"`
	for n := 1; n <= 4; n++ {
		regs := func(from, step int, tail string) string {
			var out []string
			for i := range n {
				out = append(out, fmt.Sprintf("d%d%s", from+step*i, tail))
			}
			return "{" + strings.Join(out, ", ") + "}"
		}
		// The lists: near, with a gap, and of VLD1 and VLD2 longer ones.
		lists := []string{regs(0, 1, ""), regs(0, 2, ""), "{d0}", "{d0, d1}", "{d0-d2}", "{d0-d3}", regs(0, 1, "[1]"), regs(0, 2, "[1]"), regs(0, 1, "[]"), regs(0, 2, "[]"), "{d0[], d1[]}"}
		var pc, simd []string
		for _, l := range lists {
			for _, align := range []string{"", ":16", ":32", ":64", ":128", ":256"} {
				pc = append(pc, fmt.Sprintf("^00010000 | %s, [lr%s]", l, align), fmt.Sprintf("^00010000 | %s, [lr%s]!", l, align))
				simd = append(simd, fmt.Sprintf("%s, [r0%s] | -", l, align))
			}
		}
		rows := fmt.Sprintf("?-vld%d-* ?-vst%[1]d-*", n)
		high := regs(32-n, 1, "")
		pairs = append(pairs,
			cautionPair{rows: rows, rule: "Rn = pc", what: "unpredictable", op: 1, on: "v7", source: each + ": n == 15", cases: pc},
			cautionPair{rows: rows, rule: "always", what: "unpredictable", op: 0, on: "vfpv3", without: "v7", source: each + `; DDI 0406, A2.6: without Advanced SIMD they are undefined`, cases: simd})
		if n == 1 {
			pairs = append(pairs, cautionPair{rows: "?-v??1-multiple ?-vld1-all", rule: "list beyond d31", what: "unpredictable", op: 0, on: "v7", source: each + ": d + regs > 32", cases: []string{"^1000 | {d30, d31}, [r0]", "^1000 | {d30[], d31[]}, [r0]"}})
			// A lane of one register is never beyond; only a field of the row says so.
			continue
		}
		pairs = append(pairs, cautionPair{rows: rows, rule: "list beyond d31", what: "unpredictable", op: 0, on: "v7", source: each + ": d4 > 31",
			cases: []string{fmt.Sprintf("^%d000 | %s, [r0]", n-1, high), "^f000 | " + regs(16, 1, "[0]") + ", [r0]", "^f000 | " + regs(16, 1, "[]") + ", [r0]", "^f000 | " + regs(16, 1, "[]") + ", [r0:128]"}})
	}
	return pairs
}

// cautionRule finds a rule of a row.
func cautionRule(r *isa.Row, says string) (*isa.Caution, *isa.Rule) {
	for i := range r.Cautions {
		for j := range r.Cautions[i].Rules {
			if r.Cautions[i].Rules[j].Says == says {
				return &r.Cautions[i], &r.Cautions[i].Rules[j]
			}
		}
	}
	return nil, nil
}

// rulesOf lists the rules of a row that hold.
func rulesOf(r *isa.Row, v isa.Values, have isa.Features) (says []string) {
	for i := range r.Cautions {
		for j := range r.Cautions[i].Rules {
			if have&r.Cautions[i].Lacks == 0 && r.Cautions[i].Rules[j].Holds(v) {
				says = append(says, r.Cautions[i].Rules[j].Says)
			}
		}
	}
	return says
}

// matchLine binds a line to the table; ok is false where it is none of the
// row's.
func matchLine(line string, q isa.Query, r *isa.Row) (m isa.Match, ok bool) {
	l := syntax.Parse(line).Line(0)
	if len(l.Stmts) != 1 || l.Stmts[0].Kind != syntax.Instruction || l.Stmts[0].Err != nil {
		return m, false
	}
	s := &l.Stmts[0]
	q.Width = s.Width
	q.A32 = r.State == isa.A
	m, ok = s.Mnemonic.Match(&q, operands(s))
	return m, ok && m.Form.Row == r
}

type formRule struct {
	form *isa.Form
	rule string
}

type rowRule struct {
	row  *isa.Row
	rule string
}

// cautionsSeen is what the pairs reach: forms by their lines, rows by codes that
// no line has; and the codes of pairs, of which each first one is the bad one.
type cautionsSeen struct {
	covered map[formRule]bool
	byCode  map[rowRule]bool
	codes   map[[2]uint32]rowRule
}

func newCautionsSeen() *cautionsSeen {
	return &cautionsSeen{map[formRule]bool{}, map[rowRule]bool{}, map[[2]uint32]rowRule{}}
}

func (seen *cautionsSeen) note(p *cautionPair, r *isa.Row, bad uint32, good *isa.Match) {
	if p.what != "deprecated" && good.Form != nil {
		seen.codes[[2]uint32{bad, good.Encode()}] = rowRule{r, p.rule}
	}
}

// TestCautions holds each rule on operands against its pair, and fails on a
// rule that has none.
func TestCautions(t *testing.T) {
	proof := reftest.Begin(t)
	t.Parallel()
	seen := newCautionsSeen()
	lines := 0
	for i := range cautionPairs {
		p := &cautionPairs[i]
		used := make([]bool, len(p.cases))
		for _, r := range allRows() {
			if c, _ := cautionRule(r, p.rule); c == nil || !matchesAny(p.rows, r.ID) {
				continue
			}
			n := 0
			for j, x := range p.cases {
				k := seen.checkPair(t, p, r, x)
				used[j] = used[j] || k > 0
				n += k
			}
			if n == 0 {
				t.Errorf("%s: no case of %q is one of this row", r.ID, p.rule)
			}
			lines += n
		}
		for _, word := range strings.Fields(p.rows) {
			if !slices.ContainsFunc(allRows(), func(r *isa.Row) bool { c, _ := cautionRule(r, p.rule); return c != nil && matchesAny(word, r.ID) }) {
				t.Errorf("no row %s has a rule %q", word, p.rule)
			}
		}
		for j, u := range used {
			if !u && !strings.Contains(p.rows, "-* ?-vst") {
				t.Errorf("%s, %q: no row takes %s", p.rows, p.rule, p.cases[j])
			}
		}
	}
	rules := 0
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, r := range allRows() {
		for i := range r.Cautions {
			c := &r.Cautions[i]
			for _, rule := range c.Rules {
				rules++
				if !seen.byCode[rowRule{r, rule.Says}] && !slices.ContainsFunc(r.AllForms(), func(f *isa.Form) bool { return seen.covered[formRule{f, rule.Says}] }) {
					t.Errorf("%s: no pair for %q", r.ID, rule.Says)
				}
			}
		}
		if len(r.Cautions) > 0 {
			everyForm(t, r, rnd, seen.covered)
		}
	}
	if rules != wantRules {
		t.Errorf("the rows have %d rules, and had %d: was one lost?", rules, wantRules)
	}
	proof.Counted("cautions: %d rules of rows, %d pairs of lines", rules, lines)
}

// wantRules is how many rules all rows have together. A pair finds the rows that
// have its rule, so that it does not notice when one has it no longer.
const wantRules = 977

func allRows() []*isa.Row { return slices.Concat(isa.Rows(), isa.RowsA32()) }

func matchesAny(patterns, id string) bool {
	return slices.ContainsFunc(strings.Fields(patterns), func(p string) bool { ok, _ := path.Match(p, id); return ok })
}

// checkPair puts a pair to each name of a row in both syntaxes, and gives back
// how many were the row's.
func (seen *cautionsSeen) checkPair(t *testing.T, p *cautionPair, r *isa.Row, text string) (n int) {
	t.Helper()
	bad, good, ok := strings.Cut(text, "|")
	if !ok {
		t.Fatalf("no '|' in %s", text)
	}
	bad, good = strings.TrimSpace(bad), strings.TrimSpace(good)
	have := cautionTarget(t, p.on)
	names := formNames(r)
	if whole, ok := strings.CutPrefix(bad, "="); ok {
		names, bad = []string{""}, whole
	}
	for _, name := range names {
		for _, unified := range []bool{true, false} {
			q := isa.Query{Have: have, Unified: unified}
			var goodMatch isa.Match
			if good != "-" {
				if goodMatch, ok = matchLine(name+" "+good, q, r); !ok || goodMatch.Deferred() {
					continue
				}
				if says := rulesOf(r, goodMatch.Values(), have); says != nil && strings.Join(says, ", ") != "always" {
					t.Errorf("%s: %s %s breaks %q", r.ID, name, good, says)
				}
			}
			if flip, ok := strings.CutPrefix(bad, "^"); ok {
				if checkCode(t, p, r, &goodMatch, flip, name+" "+good, have) {
					n++
					seen.byCode[rowRule{r, p.rule}] = true
					seen.note(p, r, goodMatch.Encode()^flipBits(t, flip), &goodMatch)
				}
				continue
			}
			badName := name
			if p.eq {
				q.IT = isa.Slot{In: r.State == isa.T, Last: true}
				if mnemonic, _ := isa.Find(name); mnemonic != nil {
					badName = mnemonic.With(0, unified)
				}
			}
			m, ok := matchLine(badName+" "+bad, q, r)
			if !ok || m.Deferred() {
				continue
			}
			n++
			seen.covered[formRule{m.Form, p.rule}] = true
			if good != "-" && !p.eq {
				seen.note(p, r, m.Encode(), &goodMatch)
			}
			checkFacts(t, p, r, &m, badName+" "+bad, have)
		}
	}
	return n
}

// formNames lists the names that the row's forms are written with.
func formNames(r *isa.Row) (names []string) {
	for _, f := range r.AllForms() {
		if !slices.Contains(names, f.Mnemonic) {
			names = append(names, f.Mnemonic)
		}
	}
	return names
}

// checkFacts compares what the table says of a line with the pair.
func checkFacts(t *testing.T, p *cautionPair, r *isa.Row, m *isa.Match, line string, have isa.Features) {
	t.Helper()
	want := map[string]bool{p.rule: true}
	for _, a := range strings.Split(p.also, ", ") {
		if a != "" {
			want[a] = true
		}
	}
	says := rulesOf(r, m.Values(), have)
	for _, s := range says {
		if !want[s] && !strings.Contains(p.also, s) {
			t.Errorf("%s: %s breaks %q too", r.ID, line, s)
		}
	}
	if !slices.Contains(says, p.rule) {
		t.Errorf("%s: %s does not break %q", r.ID, line, p.rule)
		return
	}
	rule, _ := cautionRule(r, p.rule)
	emitted := 0
	m.Cautions(have, func(c *isa.Caution) {
		if c != rule {
			return
		}
		emitted++
		checkKind(t, p, c, r.ID+": "+line)
	})
	if emitted != 1 {
		t.Errorf("%s: %s is reported %d times", r.ID, line, emitted)
	}
	if m.Refused(have) != strings.Contains(p.what, "refused") {
		t.Errorf("%s: %s: refused %v", r.ID, line, m.Refused(have))
	}
	if (rule.Lacks != 0) != (p.without != "") {
		t.Errorf("%s: %q holds on all targets: %v", r.ID, p.rule, rule.Lacks == 0)
	}
	if p.without != "" {
		other := cautionTarget(t, p.without)
		m.Cautions(other, func(c *isa.Caution) {
			if c == rule {
				t.Errorf("%s: %s is reported on %s", r.ID, line, p.without)
			}
		})
	}
}

func checkKind(t *testing.T, p *cautionPair, c *isa.Caution, at string) {
	t.Helper()
	what := "unpredictable"
	switch {
	case c.Refused:
		what = "refused"
	case c.Deprecated:
		what = "deprecated"
	}
	if c.List {
		what += " list"
	}
	if what != p.what || c.Op != p.op {
		t.Errorf("%s: %s at operand %d, want %s at %d", at, what, c.Op, p.what, p.op)
	}
}

// checkCode decodes the code of a good line with some bits turned over.
func checkCode(t *testing.T, p *cautionPair, r *isa.Row, good *isa.Match, flip, line string, have isa.Features) bool {
	t.Helper()
	in, ok := decodeRow(r, have, good.Encode()^flipBits(t, flip))
	if !ok {
		return false
	}
	plain, ok := decodeRow(r, have, good.Encode())
	if !ok || plain.Unpredictable && p.also == "" {
		t.Errorf("%s: the code of %s is unpredictable", r.ID, line)
	}
	says := rulesOf(r, in.Values(), have)
	if !slices.Contains(says, p.rule) {
		return false
	}
	for _, s := range says {
		if s != p.rule && !strings.Contains(p.also, s) {
			t.Errorf("%s: %s with %s turned over breaks %q too", r.ID, line, flip, s)
		}
	}
	if c, _ := cautionRule(r, p.rule); !c.Deprecated && !in.Unpredictable {
		t.Errorf("%s: %s with %s turned over is not unpredictable", r.ID, line, flip)
	} else {
		checkKind(t, p, c, r.ID+": "+line)
	}
	return true
}

// flipBits reads the bits to turn over.
func flipBits(t *testing.T, flip string) uint32 {
	t.Helper()
	bits, err := strconv.ParseUint(flip, 16, 32)
	if err != nil {
		t.Fatal(err)
	}
	return uint32(bits)
}

// decodeRow decodes code that belongs to the row.
func decodeRow(r *isa.Row, have isa.Features, code uint32) (in isa.Inst, ok bool) {
	switch {
	case r.State == isa.A:
		in, ok = isa.DecodeA32(have, code)
	case r.Size() == 2:
		in, ok = isa.Decode(have, uint16(code), 0)
	default:
		in, ok = isa.Decode(have, uint16(code>>16), uint16(code))
	}
	return in, ok && in.Row == r
}

// everyForm makes statements of the row's forms and fails on those that break a
// rule where no pair has that form.
func everyForm(t *testing.T, r *isa.Row, rnd *rand.Rand, covered map[formRule]bool) {
	t.Helper()
	missing := map[formRule]string{}
	for _, target := range []string{"v7", "v8", "v8m", "v6m"} {
		have := cautionTarget(t, target)
		if !have.Has(r.Need) || have&r.Lack != 0 {
			continue
		}
		for _, f := range r.AllForms() {
			for k := range 60 {
				unified := k%2 == 0
				line := f.Example(rnd, unified)
				m, ok := matchLine(line, isa.Query{Have: have, Unified: unified}, r)
				if line == "" || !ok {
					continue
				}
				for _, s := range rulesOf(r, m.Values(), have) {
					if at := (formRule{m.Form, s}); !covered[at] {
						missing[at] = line
					}
				}
			}
		}
	}
	for at, line := range missing {
		t.Errorf("%s: no pair for %q in the form of %s", r.ID, at.rule, line)
	}
}
