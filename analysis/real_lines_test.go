package analysis

import (
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// realLines are shapes that the comparison with real sources and their mutants
// brought up, each a program in unified syntax; "|" means a line end.
var realLines = []struct{ arch, source string }{
	// a coprocessor's number only
	{"armv7-a", "mrc 15, 0, r4, cr0, c0, 5|mcr 5, 1, r0, c1, cr15|mcrr 15, 1, r0, r1, c2|ldc 6, c3, [r1]|cdp 7, 1, c0, c1, c2"},
	{"armv7-a", "mrc 16, 0, r4, c0, c0, 5|mrc #15, 0, r4, c0, c0, 5|mrc 0xf, 0, r4, c0, c0, 5|mrc (15), 0, r4, c0, c0|mrc 7+8, 0, r4, c0, c0|mrc p15, 0, r4, 0, c0"},
	{"armv7-m", "mrc 7, 0, r4, c0, c0, 5|mrc 7, 0, r4, 1, c0, 5"},
	// FAULTMASK where there is none
	{"armv6-m", "cpsie if|cpsid f|cpsid i"}, {"armv8-m.base", "cpsid f"}, {"armv7-m", "cpsid if"},
	// instructions as numbers in IT blocks
	{"armv7-m", "it ne|.inst.w 0xf3af8000|nop"}, {"armv7-m", "itt ne|.inst.n 0xbf00, 0xbf00|nop"}, {"armv7-m", "itt ne|.inst 0xbf00|nop"},
	{"armv7-m", "it ne|.byte 0, 191|nop"},
	// a version after a blank
	{"armv5te", "gate: .symver gate, gate@SIGNAL_1.0"},
	// a relocation after blanks
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
	// elements that depend on symbols
	{"armv7-a+simd", "n = 1|vst1.16 {d0[n]}, [r0]|vst1.16 {d0[n+1]}, [r0]|vmov.16 d0[n], r0|vdup.16 d0, d1[n]|vmul.i16 d0, d1, d2[n]|vst1.16 {d0[n+4]}, [r0]|vst2.16 {d0[n], d1[n]}, [r0]|" +
		"vst2.16 {d0[n], d1[n-1]}, [r0]|vst2.16 {d0[n], d1[0]}, [r0]|vmov.16 d0[n+7], r0|vmov.16 d0[gate], r0|vst1.16 {d0[gate]}, [r0]|vst1.16 {d0[below]}, [r0]|below = 1|" +
		"x: nop|y: nop|vst1.16 {d0[(y-x)/4]}, [r0]|vst1.16 {d0[-n]}, [r0]|vst1.16 {d0[n+200]}, [r0]|vld1.8 {d0[n << 2]}, [r0]!"},
	// a blank between an instruction and its operands
	{"armv7-a+simd", "push{r4}|push {r4}|svc#0|b+4|b-4|bne! .|bx% lr|mov%r0, r1|mov %r0, r1|nop{5}|vmov.i32#5|push/**/{r4}|nop@lamp|nop/**/|.word-5|.long+5|.align+2"},
	{"armv4t", ".thumb|push{r4}|swi#4|bne+ .|bne .|.word(4)"},
	{"armv7-a", `.ascii"lamp"|.asciz "lamp"|.string"lamp"|.word"5"|.equ"n",5|.section".lamps"`},
	// a mark in front of a label and of an element
	{"armv7-a+simd", "gate: b #gate|bl #gate|blx #gate+4|b #1f|b $gate|1: nop|b #.+4|b #elsewhere|b #4|adr r0, #gate|ldr r0, #gate|ldr r0, [r1], #n|ldrb r0, [r1]|b #gate|.equ n, 4|" +
		"vmov r0, d2[#1]|vmov r0, d2[#-0]|vmov r0, d2[#2]|vdup.32 q0, d2[$1]|vld1.32 {d0[#1]}, [r0]|vmul.i32 q0, q1, d0[#(1)]"},
	{"armv7-m", "gate: b #gate|bne #gate|b.w #gate|bl #gate|cbz r0, #below|nop|below: adr r1, #words|ldr r0, #words|.align 2|words: .word 1"},
	// a shift and its amount in one
	{"armv7-a", "and r0, r1, r2, lsr$8|and r0, r1, r2, lsr8|and r0, r1, r2, LSR8|mov r0, r1, lsl4|and r0, r1, r2, lsr|and r0, r1, lsr8|b lsl4|lsl4: nop|ldr r0, [r1, r2, lsl4]|ldr r0, [r1, r2, lsl$4]|ldr r0, [r1], r2, lsl4"},
	// conditions of IT in any case
	{"armv7-m", "itt Eq|moveq r0, r1|moveq r0, r1|it eQ|moveq r0, r1|IT NE|movne r0, r1"},
	// a branch to a global name that is off its word
	{"armv7-a", "bne gate+2|bne gate+4|b gate+1|bl gate+2|bne lamp+2|bne lamp|.global gate|gate: nop|.weak lamp|lamp: nop|bne gate+3|.type gate, %function|bls gate+2"},
	{"armv7-a", "bl gate|b gate|bl gate+2|.hword 0|.global gate|gate: nop|bl lamp|.align 2|lamp: nop"},
	{"armv7-a", "bl gate|.hword 0|gate: .hword 0"},
	{"armv7-a", ".global gate|gate: nop|bl gate|.space 0x3000000|bl gate|bne gate"},
	{"armv7-a", "gate: nop|bl gate|.space 0x3000000|bl gate|bne gate"},
	{"armv7-a", `bl gate+4|bl gate+3|bl lamp+3|bl lamp+4|.section .signals,"ax"|.byte 0|.global gate|gate:|lamp:`},
	// a comma at the end
	{"armv7-a", ".space 4,|.fill 3,1,|.fill 3,1,2,|.org 64,|.org 64,0,|.align 2,|.align 2,0,|.align 2,0,1,|.size gate,4,|.set n,5,|n = 5,|.equiv lamp,5,|.subsection 1,|.data,|.bss 1,|.text 1,|.text,|.thumb_set gate, 5,|" +
		".syntax unified,|.code 32,|red .req r0,|green .req r0|.unreq green,|.byte 1,|.global gate,"},
	{"armv7-a", ".rept 2,|.endr"}, {"armv7-a", ".if 1,|.endif|.if 0|.elseif 1,|.endif|.ifeq 0,|.endif|.ifdef n,|.endif"},
	// none or too many
	{"armv7-a", `n .req r0, r1|n .req|.ascii|nop|.ascii "lamp"`},
	{"armv7-a+simd", ".fnstart|.vsave {d8-d8}|.vsave {d8-d9}|.vsave {d10}|.fnend"},
	// ranges of one register, and lists of registers of two kinds
	{"armv7-a+simd", "vldmia r0, {d8-d8}|vldmia r0, {s8-s8}|vpush {d8-d8}|vpush {d7, d8-d8}|vldmia r0, {q7-q7}|vldmia r0, {q7, q8-q8}|vldmia r0, {d5, d4-d4}|vldmia r0, {d5, d2-d4}|vldmia r0, {d8-d7}|" +
		"vld1.8 {d8-d8}, [r0]|vld1.8 {q7-q7}, [r0]|vld1.8 {d7, d8-d8}, [r0]|vld1.8 {q7-q7, q8}, [r0]|vld1.8 {q8-q7}, [r0]|vtbl.8 d0, {d8-d8}, d1|vtbl.8 d0, {q4-q4}, d1|" +
		"vld1.8 {pc, q11}, [r2]|vldmia r0, {r2, d3}|vldmia r0, {d3, r2}|n .req d4|vldmia r0, {n, r2}|vldmia r0, {r2, n}|vldmia r0, {n}|vld1.8 {n}, [r0]|vld1.8 {n}^, [r0]|vpush {n}^"},
	// names of sections
	{"armv7-a", ".text:|.data:|.rodata:|.section .lamps|.text|.lamps:|.section lamps|.text|lamps: nop|.equ .bss, 5|.word .text|.global .text"},
	{"armv7-a", "lamps: nop|.section lamps|gates = 5|.section gates|.word signals|.section signals"},
	// an operator with nothing after it
	{"armv7-a", ".long 0x10!|.long 0x10!, 5|.byte 3,12!,48|.long 5+|.long 5~|.space 5!|.equ n, 5!|n = 5!|.long 5 ! 4"},
	// names to forget
	{"armv7-a", ".macro red|.endm|.macro green|.endm|.purgem red, green|.macro red|.endm|.macro green|.endm|.purgem red, red|.macro red|.endm|.purgem green x|.purgem 0x07|.purgem -red|.purgem red!|.purgem|.purgem \"red\"|" +
		".macro red|.endm|.purgem red,|.purgem yellow"},
	// no number at all
	{"armv7-a", ".inst.w|.inst.n|.inst|.inst.w 5"},
	// another value for a label
	{"armv7-a", "gate: nop|lamp: nop|.thumb_set gate, lamp|.set lamp, gate|.thumb_set signal, lamp|.thumb_set signal, gate"},
	// names of vector registers that are taken back
	{"armv7-a+simd", "n .req s1|vmov s0, n|.unreq n|vmov s0, n|.unreq n|n .req d1|vldr n, lamp|vmov d0, n|.unreq n|n .req r1|vmov s0, n|vmov d0, n|lamp: .word 1, 2"},
	{"armv7-a+simd", "vmov s0, lamp|vmov.f32 s0, lamp|vmov.f32 s0, #n|vmov.i32 d0, n|vshl.i32 d0, d1, n|vmov s0, 5|.equ n, 5|vmov s0, n|vmov.i32 d0, n"},
	{"armv7-a", ".syntax divided|b #gate|bne #gate|bl #lamp|adr r0, #gate|ldr r0, #gate|gate: nop|.thumb|b #gate|cbz r0, #gate|b gate"},
	// what is between a name and .req
	{"armv7-a+simd", "n- .req r4|mov r0, n|lamp, .req s5|vmov lamp, s4|red , .req r4|gate- .dn d4|green( .req r4|x- .unreq|y@ .req r4"},
	// an unknown amount after registers with other names
	{"armv7-a", "base .req r0|index .req r7|pld [base, r1, asr #(16 - lamp)]|ldr r0, [base, index, lsl #n]|.equ n, 2"},
	// a bracket that is not closed
	{"armv7-a+simd", "vld1.32 {d16[1}, [r0]|vld1.32 {d16[1]}, [r0]|n .req d4|vld1.32 {n[1}, [r0]|vld1.32 {n[1]}, [r0]|vmov r0, d2[1|movw r0, $:lower16:lamp|movw r0, #:lower16:lamp|movw r0, $5"},
	// names for coprocessors
	{"armv7-a+simd", "red .req p15|mrc red, 0, r0, c0, c0|green .req cr5|mrc p15, 0, r0, green, c0|mrc green, 0, r0, c0, c0|.unreq red|mrc red, 0, r0, c0, c0|.unreq red|.unreq green|" +
		"blue .req p16|.unreq blue|white .req fpscr|vmrs r0, white|.unreq white|grey .req cpsr|.unreq grey|add r0, r1, green"},
	// a sign in front of a register
	{"armv7-a", "ldr r0, [r1]|bx +r0|ldr r0, [r1]|subs +r3, r3, #8|ldr r0, [r1], +r2|ldr r0, [r1]|svc -n|.equ n, 4"},
	// an alignment that is none
	{"armv5te", "ldr r0, lamp|.align -1|lamp: .word 1"},
}

// TestRealLines compares the verdicts on each line.
func TestRealLines(t *testing.T) {
	var texts []string
	var programs []reftest.Program
	lines := reftest.Sample(realLines, 5)
	for _, x := range lines {
		text := ".syntax unified\n" + strings.ReplaceAll(x.source, "|", "\n") + "\n"
		texts = append(texts, text)
		programs = append(programs, reftest.Program{Text: text, Flags: []string{"-march=" + x.arch}})
	}
	for i, v := range reftest.AssemblePrograms(t, programs) {
		r := analyze(t, &Settings{Arch: lines[i].arch}, texts[i])
		bad := errorsByLine(r)
		for n, line := range strings.Split(texts[i], "\n") {
			switch refused := slices.Contains(v.ErrorLines, n+1); {
			case refused && bad[n+1] == "":
				t.Errorf("%s: silence on %q", lines[i].arch, line)
			case !refused && bad[n+1] != "":
				t.Errorf("%s: false alarm on %q: %s", lines[i].arch, line, bad[n+1])
			}
		}
	}
}
