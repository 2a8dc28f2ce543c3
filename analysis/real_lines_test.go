package analysis

import (
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// realLines are shapes that the comparison with real sources and their mutants
// brought up, each a program in unified syntax; "|" stands for a line end.
var realLines = []struct{ arch, source string }{
	// a coprocessor's number alone
	{"armv7-a", "mrc 15, 0, r4, cr0, c0, 5|mcr 5, 1, r0, c1, cr15|mcrr 15, 1, r0, r1, c2|ldc 6, c3, [r1]|cdp 7, 1, c0, c1, c2"},
	{"armv7-a", "mrc 16, 0, r4, c0, c0, 5|mrc #15, 0, r4, c0, c0, 5|mrc 0xf, 0, r4, c0, c0, 5|mrc (15), 0, r4, c0, c0|mrc 7+8, 0, r4, c0, c0|mrc p15, 0, r4, 0, c0"},
	{"armv7-m", "mrc 7, 0, r4, c0, c0, 5|mrc 7, 0, r4, 1, c0, 5"},
	// FAULTMASK where there is none
	{"armv6-m", "cpsie if|cpsid f|cpsid i"}, {"armv8-m.base", "cpsid f"}, {"armv7-m", "cpsid if"},
	// instructions as numbers in IT blocks
	{"armv7-m", "it ne|.inst.w 0xf3af8000|nop"}, {"armv7-m", "itt ne|.inst.n 0xbf00, 0xbf00|nop"}, {"armv7-m", "itt ne|.inst 0xbf00|nop"},
	{"armv7-m", "it ne|.byte 0, 191|nop"},
	// a version behind a blank
	{"armv5te", "gate: .symver gate, gate@SIGNAL_1.0"},
	// a relocation behind blanks
	{"armv5te", "bl gate (PLT)|b gate ( plt )|.word gate (GOT)|.word gate (GOT) - 4"},
	// constants that have to be known
	{"armv7-a", "uxtb r4, r2, ror #gate"}, {"armv7-a", "add r0, r1, r2, lsl #gate"}, {"armv7-a", "msr cpsr_c, gate"}, {"armv7-a", "mov r0, gate"},
	{"armv7-a", "cmp r0, gate + 4"}, {"armv7-a", ".equ n, 3|mov r0, r1, lsl #n|mov r0, n"}, {"armv7-a", "n .req r3|mov r0, r1, lsl n"}, {"armv7-m", "mov r0, r1, lsl #gate"},
	// conditions and widths in A32
	{"armv5te", "bal gate|bal gate(PLT)|blal gate|swial 3|moval r0, r1"}, {"armv7-m", "bal gate|bal.n .|bal.w gate"}, {"armv7-a", "itte.n cc|it.w cc"},
	{"armv7-a+simd", "vldr.w d0, [r1]|vldr.n d0, [r1]|vmov.w r0, s0|vldr d0, [r1]|vadd.f32.w s0, s1, s2|vld1.w.8 {d0}, [r0]|vld1.8.w {d0}, [r0]|vadd.i8.n d0, d1, d2"},
	// a frame's address off its multiple of 4
	{"armv5te", ".cfi_startproc|.cfi_def_cfa_offset 15|.cfi_rel_offset lr, 4|.cfi_rel_offset lr, 3|.cfi_adjust_cfa_offset 1|.cfi_rel_offset lr, 4|.cfi_remember_state|" +
		".cfi_def_cfa sp, 3|.cfi_rel_offset r4, 4|.cfi_restore_state|.cfi_rel_offset r4, 4|.cfi_endproc"},
	// a range to what is no register
	{"armv7-a", "push {r0-r16}|ldmia sp!, {r0-q2}|n .req r3|push {r0-n}|push {n-r5}"},
	// elements that hang on symbols
	{"armv7-a+simd", "n = 1|vst1.16 {d0[n]}, [r0]|vst1.16 {d0[n+1]}, [r0]|vmov.16 d0[n], r0|vdup.16 d0, d1[n]|vmul.i16 d0, d1, d2[n]|vst1.16 {d0[n+4]}, [r0]|vst2.16 {d0[n], d1[n]}, [r0]|" +
		"vst2.16 {d0[n], d1[n-1]}, [r0]|vst2.16 {d0[n], d1[0]}, [r0]|vmov.16 d0[n+7], r0|vmov.16 d0[gate], r0|vst1.16 {d0[gate]}, [r0]|vst1.16 {d0[below]}, [r0]|below = 1|" +
		"x: nop|y: nop|vst1.16 {d0[(y-x)/4]}, [r0]|vst1.16 {d0[-n]}, [r0]|vst1.16 {d0[n+200]}, [r0]|vld1.8 {d0[n << 2]}, [r0]!"},
	// an alignment that is none
	{"armv5te", "ldr r0, lamp|.align -1|lamp: .word 1"},
}

// TestRealLines compares the verdicts on each line.
func TestRealLines(t *testing.T) {
	var texts []string
	var programs []reftest.Program
	for _, x := range realLines {
		text := ".syntax unified\n" + strings.ReplaceAll(x.source, "|", "\n") + "\n"
		texts = append(texts, text)
		programs = append(programs, reftest.Program{Text: text, Flags: []string{"-march=" + x.arch}})
	}
	for i, v := range reftest.AssemblePrograms(t, programs) {
		r := analyze(t, &Settings{Arch: realLines[i].arch}, texts[i])
		bad := errorsByLine(r)
		for n, line := range strings.Split(texts[i], "\n") {
			switch refused := slices.Contains(v.ErrorLines, n+1); {
			case refused && bad[n+1] == "":
				t.Errorf("%s: silence on %q", realLines[i].arch, line)
			case !refused && bad[n+1] != "":
				t.Errorf("%s: false alarm on %q: %s", realLines[i].arch, line, bad[n+1])
			}
		}
	}
}
