package analysis_test

import (
	"strings"
	"testing"
)

// TestPoolTable holds where literal pools are, what shares a word in them, and from
// how far a word is reached. The reference assembler has the places.
func TestPoolTable(t *testing.T) {
	const (
		v4T = ".arch armv4t|" + u16
		v4A = ".arch armv4t|.syntax unified|.arm|"
		fpT = ".arch armv7-a|.fpu vfpv3|" + u16
	)
	runVerdicts(t, []verdictCase{
		// Places.
		{name: "at .ltorg", src: v4T + "ldr r0,=0x12345678|bx lr|.ltorg|l: nop"},
		{name: "at .pool", src: v4T + "ldr r0,=0x12345678|bx lr|.pool|l: nop"},
		{name: "aligned to a word", src: v4T + "ldr r0,=0x12345678|nop|bx lr|.ltorg|l: nop"},
		{name: "behind a byte", src: v4T + "ldr r0,=0x12345678|bx lr|.byte 1|.ltorg|l: .byte 1|m:"},
		{name: "an empty one aligns nothing", src: v4T + "nop|a: .ltorg|b: .byte 1|c: .ltorg|d:"},
		{name: "a second one with nothing in it", src: v4T + "ldr r0,=0x12345678|bx lr|.ltorg|nop|.ltorg|l: nop"},
		{name: "at the end", src: v4T + "nop|ldr r0,=0x12345678|bx lr"},
		{name: "at the end, in A32", src: v4A + "nop|ldr r0,=0x12345678|bx lr|nop"},
		{name: "at the end of each section", src: v4T + "ldr r0,=0x12345678|bx lr|.section .ram,\"ax\"|nop|nop|ldr r1,=0x12345678|bx lr"},
		{name: "of its own section alone", src: v4T + "ldr r0,=0x12345678|bx lr|.section .ram,\"ax\"|a: .ltorg|b: nop|.text|c: .ltorg|d: nop"},
		{name: "behind a subsection", src: v4T + "ldr r0,=0x12345678|bx lr|.text 1|l: ldr r1,=0x12345679|bx lr"},
		{name: "in the order of first use", src: v4T + "ldr r2,=0x12345673|ldr r1,=0x12345672|ldr r3,=0x12345673|ldr r0,=0x12345671|bx lr|.ltorg|l:"},
		{name: "two pools, each its words", src: v4T + "ldr r0,=0x12345678|bx lr|.ltorg|ldr r0,=0x12345679|bx lr|.ltorg|l:"},
		{name: "the same word again behind a pool", src: v4T + "ldr r0,=0x12345678|bx lr|.ltorg|ldr r0,=0x12345678|bx lr|.ltorg|l:"},
		{name: "in a macro", src: v4T + ".macro pool|.ltorg|.endm|ldr r0,=0x12345678|bx lr|pool|l: nop"},
		{name: "by a repetition", src: v4T + ".rept 3|ldr r0,=0x12345678|.endr|bx lr|.ltorg|l: nop"},

		{name: "numbers that moves hold, in T32", src: t32 + "ldr r0,=5|ldr r8,=0xff00ff00|ldr lr,=0xffff|bx lr|.ltorg|l: nop"},
		{name: "a small number in sp, in T32", src: t32 + "ldr sp,=4|bx lr|.ltorg|l: nop"},
		{name: "a small number in pc, in T32", src: t32 + "ldr pc,=4|.ltorg|l: nop"},
		{name: "small numbers in sp and pc, in A32", src: v4A + "ldr sp,=4|ldr pc,=8|.ltorg|l: nop"},

		// Words that are shared.
		{name: "equal numbers", src: v4T + "ldr r0,=0x12345678|ldr r1,=0x12345678|.ltorg|l:"},
		{name: "equal numbers, written otherwise", src: v4T + "ldr r0,=0x1000|ldr r1,=4096|ldr r2,=0x800*2|ldr r3,=1<<12|.ltorg|l:"},
		{name: "equal numbers, with a sign", src: v4T + "ldr r0,=-1|ldr r1,=0xffffffff|.ltorg|l:"},
		{name: "equal numbers, by a name", src: v4T + ".equ LAMP,0x12345678|ldr r0,=LAMP|ldr r1,=0x12345678|.ltorg|l:"},
		{name: "equal numbers, each with its sign", src: v4T + "ldr r0,=-5000|ldr r1,=-(5000)|ldr r2,= -5000|.ltorg|l:"},
		{name: "equal numbers, computed from above", src: v4T + "ldr r0,=5000|ldr r1,=10000-5000|ldr r2,=(2500)*2|.ltorg|l:"},
		{name: "equal numbers, computed from below", src: v4T + "ldr r0,=5000|ldr r1,=-5000+10000|ldr r2,=~0-5001|.ltorg|l:"},
		{name: "equal bits, turned over", src: v4T + "ldr r0,=0xffffec77|ldr r1,=~5000|ldr r2,=-5001|.ltorg|l:"},
		{name: "equal bits, by names", src: v4T + "x=-5000|y=-5000|ldr r0,=x|ldr r1,=y|ldr r2,=-5000|ldr r3,=0xffffec78|.ltorg|l:"},
		{name: "other numbers", src: v4T + "ldr r0,=0x12345678|ldr r1,=0x12345679|.ltorg|l:"},
		{name: "equal names", src: v4T + "ldr r0,=points|ldr r1,=points|.ltorg|l:"},
		{name: "equal names with numbers added", src: v4T + "ldr r0,=points+4|ldr r1,=points+2*2|ldr r2,=points|.ltorg|l:"},
		{name: "names of one place", src: v4T + "a: b: ldr r0,=a|ldr r1,=b|.ltorg|l:"},
		{name: "a label above and the same with a number", src: v4T + "a: ldr r0,=a|ldr r1,=a+0|ldr r2,=a+4|.ltorg|l:"},
		{name: "a label below", src: v4T + "ldr r0,=a|ldr r1,=a|.ltorg|a: l:"},
		{name: "a name and what it is set to", src: v4T + ".set b,a|ldr r0,=a|ldr r1,=b|.ltorg|a: l:"},
		{name: "a label above and what is set to it", src: v4T + "a: .set b,a|ldr r0,=a|ldr r1,=b|.ltorg|l:"},
		{name: "two names set to one label", src: v4T + ".set b,a|.set c,a|ldr r0,=b|ldr r1,=c|ldr r2,=b|.ltorg|a: l:"},
		{name: "a name set to another file's", src: v4T + ".set b,lamp|ldr r0,=lamp|ldr r1,=b|ldr r2,=lamp|.ltorg|l:"},
		{name: "a name that .thumb_set makes", src: v4T + "a: .thumb_set b,a|ldr r0,=a|ldr r1,=b|.ltorg|l:"},
		{name: "the place of the load", src: v4T + "ldr r0,=.|ldr r1,=.|.ltorg|l:"},
		{name: "a numeric label with a number added", src: v4T + "ldr r0,=1f+4|ldr r1,=1f+4|ldr r2,=1f|ldr r3,=1f-4|1: nop|ldr r4,=1b+4|ldr r5,=1f+4|1: nop|.ltorg|l:"},
		{name: "a numeric label ahead", src: v4T + "ldr r0,=1f|ldr r1,=1f|1: nop|ldr r2,=1f|1: nop|.ltorg|l:"},
		{name: "a numeric label behind", src: v4T + "1: ldr r0,=1b|ldr r1,=1b|1: ldr r2,=1b|nop|.ltorg|l:"},
		{name: "ahead and then behind", src: v4T + "ldr r0,=1f|1: nop|ldr r1,=1b|nop|.ltorg|l:"},
		{name: "a name and a number of its value", src: v4T + "ldr r0,=LAMP|ldr r1,=5000|.ltorg|l:|.equ LAMP,5000"},
		{name: "sections do not share", src: v4T + "ldr r0,=0x12345678|.section .ram,\"ax\"|ldr r0,=0x12345678|.ltorg|b:|.text|.ltorg|a:"},
		{name: "A32 and T16 share", src: v4A + "ldr r0,=0x12345678|bx lr|.thumb|ldr r0,=0x12345678|bx lr|.ltorg|l:"},

		// Words that nobody needs: MOV, MVN or MOVW has the value.
		{name: "a byte in T16", src: v4T + "ldr r0,=255|.ltorg|l:"},
		{name: "zero in T16", src: v4T + "ldr r0,=0|.ltorg|l:"},
		{name: "a byte in A32", src: v4A + "ldr r0,=255|.ltorg|l:"},
		{name: "a rotated byte in A32", src: v4A + "ldr r0,=0xff000000|.ltorg|l:"},
		{name: "a byte turned over in A32", src: v4A + "ldr r0,=0xffffff00|.ltorg|l:"},
		{name: "minus one in A32", src: v4A + "ldr r0,=-1|.ltorg|l:"},
		{name: "no rotation in A32", src: v4A + "ldr r0,=257|.ltorg|l:"},
		{name: "to pc in A32", src: v4A + "ldr pc,=256|.ltorg|l:"},
		{name: "under a condition in A32", src: v4A + "ldreq r0,=256|ldrne r0,=257|.ltorg|l:"},
		{name: "sixteen bits in A32", src: a32 + "ldr r0,=0x1234|.ltorg|l:"},
		{name: "a byte in T32", src: t32 + "ldr r0,=255|.ltorg|l:"},
		{name: "a repeated byte in T32", src: t32 + "ldr r0,=0x00ff00ff|.ltorg|l:"},
		{name: "sixteen bits in T32", src: t32 + "ldr r0,=0x1234|.ltorg|l:"},
		{name: "sixteen bits and one", src: t32 + "ldr r0,=0x11234|.ltorg|l:"},
		{name: "a name that is known", src: v4A + ".equ LAMP,256|ldr r0,=LAMP|.ltorg|l:"},
		{name: "a name that is known later", src: v4A + "ldr r0,=LAMP|.ltorg|l:|.equ LAMP,256"},

		// Reach: up to 1020 bytes in T16, 4095 in T32 and A32 (DDI 0406C, A8.8.64 LDR
		// (literal), encodings T1, T2 and A1); a word is at a multiple of 4.
		{name: "the last word in reach of T16", src: v4T + "ldr r0,=0x12345678|.space 1022|.ltorg"},
		{name: "the first word that T16 does not reach", src: v4T + "ldr r0,=0x12345678 @!|.space 1023|.ltorg"},
		{name: "the last word in reach of T16 at the end", src: v4T + "ldr r0,=0x12345678|.space 1022"},
		{name: "the first word that T16 does not reach at the end", src: v4T + "ldr r0,=0x12345678 @!|.space 1024"},
		{name: "a line later, PC is the same", src: v4T + "nop|ldr r0,=0x12345678|.space 1020|.ltorg"},
		{name: "a line later, PC is the same, out of reach", src: v4T + "nop|ldr r0,=0x12345678 @!|.space 1022|.ltorg"},
		{name: "two lines later", src: v4T + "nop|nop|ldr r0,=0x12345678|.space 1022|.ltorg"},
		{name: "the second word is out of reach", src: v4T + "ldr r0,=0x12345678|ldr r1,=0x12345679 @!|.space 1020|.ltorg"},
		{name: "both words are in reach", src: v4T + "ldr r0,=0x12345678|ldr r1,=0x12345679|.space 1016|.ltorg"},
		{name: "the first user is out of reach, the second is not", src: v4T + "ldr r0,=0x12345678 @!|.space 4|ldr r1,=0x12345678|.space 1018|.ltorg"},
		{name: "the last word in reach of A32", src: v4A + "ldr r0,=0x12345678|.space 4096|.ltorg"},
		{name: "the first word that A32 does not reach", src: v4A + "ldr r0,=0x12345678 @!|.space 4100|.ltorg"},
		{name: "the last word in reach of T32", src: t32 + "ldr r0,=0x12345678|.space 4092|.ltorg"},
		{name: "the first word that T32 does not reach", src: t32 + "ldr r0,=0x12345678 @!|.space 4096|.ltorg"},
		{name: "the last word in reach of a narrow load", src: t32 + "ldr.n r0,=0x12345678|.space 1022|.ltorg|l:"},
		{name: "a narrow load too far", src: t32 + "ldr.n r0,=0x12345678 @!|.space 1024|.ltorg|l:"},
		{name: "a load that stays narrow", src: t32 + "ldr r0,=0x12345678|a: .space 1022|.ltorg|l:"},
		{name: "a load that grows", src: t32 + "ldr r0,=0x12345678|a: .space 1023|.ltorg|l:"},
		{name: "a high register is wide", src: t32 + "ldr r8,=0x12345678|a: bx lr|.ltorg|l:"},

		// Words of eight bytes.
		{name: "a double", src: fpT + "vldr d0,=0x123456789abcdef|bx lr|.ltorg|l:"},
		{name: "a double and a word", src: fpT + "ldr r0,=0x12345678|vldr d0,=0x123456789abcdef|ldr r1,=0x12345679|bx lr|.ltorg|l:"},
		{name: "two equal doubles", src: fpT + "vldr d0,=0x123456789abcdef|vldr d1,=0x123456789abcdef|bx lr|.ltorg|l:"},
		{name: "a single", src: fpT + "vldr s0,=0x12345678|ldr r0,=0x12345678|bx lr|.ltorg|l:"},

		// What no pool can hold.
		{name: "a name of another file twice", src: v4T + "ldr r0,=x+y @!|bx lr"},
		{name: "a distance to below", src: v4T + "a: ldr r0,=b-a @!|bx lr|b:"},
		{name: "a distance that is known", src: v4T + "a: nop|b: ldr r0,=b-a|.ltorg|l:"},
		{name: "a numeric label that never comes", src: v4T + "ldr r0,=1f+4 @!|bx lr"},
		{name: "a numeric label that never came", src: v4T + "ldr r0,=1b-4 @!|bx lr"},
		{name: "nothing", src: v4T + "ldr r0,= @!"},
	})
}

// TestPoolAtPC holds the codes of loads of which the word is where PC reads, or next to
// it, against the reference assembler: the sign of no distance is a bit of its own.
func TestPoolAtPC(t *testing.T) {
	var cases []verdictCase
	for _, load := range []string{"ldr r1,", "ldreq r1,", "ldrb r1,", "ldrh r1,", "ldrsb r1,", "ldrsh r1,", "ldr pc,"} {
		for _, word := range []string{"=0x12345678", "=w", "w"} {
			for _, between := range []string{"", "|nop", "|nop|nop"} {
				end := "|w: .word 1,2"
				if word[0] == '=' {
					end = "|.ltorg" + end
				}
				cases = append(cases, verdictCase{name: load + word + between, src: a32 + load + word + between + end})
			}
		}
	}
	for _, load := range []string{"vldr s1,=0x12345678", "vldr s1,w", "vldr d1,=0x123456789abcdef0"} {
		cases = append(cases, verdictCase{name: load, src: ".fpu vfpv3|" + a32 + load + "|nop|.ltorg|w: .word 1,2"})
	}
	for _, load := range []string{"ldr r1,=0x12345678", "ldr.w r1,=0x12345678", "ldr.w r1,w"} {
		cases = append(cases, verdictCase{name: "T32 " + load, src: t32 + load + "|nop|.ltorg|.align 2|w: .word 1,2"})
	}
	runVerdicts(t, cases)
	for load, code := range map[string]string{"ldr r1,=0x12345678": "0xe51f1000", "ldr r1,w": "0xe59f1000", "ldrsb r1,=0x12345678": "0xe15f10d0"} {
		text := lines(a32 + load + "|nop|.ltorg|w: .word 1,2")
		if h, _ := (program{text: text}).analyze(t).Hover(strings.Index(text, load)); !strings.Contains(h.Markdown, code) {
			t.Errorf("%s: want the code %s in\n%s", load, code, h.Markdown)
		}
	}
}
