package analysis_test

import (
	"fmt"
	"testing"
)

// TestPlaceTable holds what directives of places and amounts do at their borders: the
// reference assembler has the places after them.
func TestPlaceTable(t *testing.T) {
	const v4T = ".arch armv4t|" + u16
	runVerdicts(t, []verdictCase{
		// .org
		{name: ".org ahead", src: ".byte 1|.org 8|l: .byte 1"},
		{name: ".org here", src: ".word 1|.org 4|l: .byte 1"},
		{name: ".org 0 at the start", src: ".org 0|l: .byte 1"},
		{name: ".org one back", src: ".word 1|.org 3 @!|.byte 1"},
		{name: ".org 0 behind", src: ".byte 1|.org 0 @!"},
		{name: ".org by a distance", src: ".byte 1|.org .+3|l: .byte 1"},
		{name: ".org by no distance", src: ".byte 1|.org .|l: .byte 1"},
		{name: ".org by a distance back", src: ".word 1|.org .-1 @!|.byte 1"},
		{name: ".org to a label", src: "a: .word 1|.org a+8|l: .byte 1"},
		{name: ".org with a fill", src: ".byte 1|.org 8,0xff|l: .byte 1"},
		{name: ".org of a constant", src: ".equ x,8|.byte 1|.org x|l: .byte 1"},
		{name: ".org twice", src: ".org 4|a: .org 8|b: .byte 1"},
		{name: ".org twice, back", src: ".org 8|.org 4 @!|.byte 1"},
		{name: ".org in another section", src: ".word 1|.data|.org 8|l: .byte 1|.text|m: .org 8|n:"},
		{name: ".org to another section", src: ".data|d: .word 1|.text|.org d @!"},
		{name: ".org of nothing", src: ".org @!"},
		{name: ".org of what another file has", src: ".org x"},
		{name: ".org of a name below", src: ".byte 1|.org x|l: .byte 1|.equ x,8"},
		{name: "the counter set", src: ".byte 1|. = 8|l: .byte 1"},
		{name: "the counter set back", src: ".word 1|. = 2 @!"},
		{name: "the counter moved", src: ".byte 1|. = . + 3|l: .byte 1"},
		{name: ".org over code that grows", src: t32 + "b l|.org 0x1000|l: nop"},

		// Alignments.
		{name: ".balign 0", src: ".byte 1|.balign 0|l: .byte 1"},
		{name: ".balign 1", src: ".byte 1|.balign 1|l: .byte 1"},
		{name: ".balign 2", src: ".byte 1|.balign 2|l: .byte 1|.balign 2|m: .byte 1"},
		{name: ".balign 3", src: ".byte 1|.balign 3 @!|.byte 1"},
		{name: ".balign 4", src: ".byte 1|.balign 4|l: .word 1|.balign 4|m: .byte 1"},
		{name: ".balign -4", src: ".balign -4 @!"},
		{name: ".balign 4096", src: ".byte 1|.balign 4096|l: .byte 1"},
		{name: ".balign with a fill", src: ".byte 1|.balign 4,0xff|l: .byte 1"},
		{name: ".balign with room for the gap", src: ".byte 1|.balign 4,0,3|l: .byte 1"},
		{name: ".balign with too little room", src: ".byte 1|.balign 4,0,2|l: .byte 1"},
		{name: ".balign with no room", src: ".byte 1|.balign 4,0,0|l: .byte 1"},
		{name: ".balign with room and no fill", src: ".byte 1|.balign 4,,2|l: .byte 1|.balign 4,,2|m:"},
		{name: ".balign with four arguments", src: ".balign 4,0,1,2 @!"},
		{name: ".balign alone", src: ".byte 1|.balign|l: .byte 1"},
		{name: ".align 0", src: ".byte 1|.align 0|l: .byte 1"},
		{name: ".align 1", src: ".byte 1|.align 1|l: .byte 1"},
		{name: ".align 2", src: ".byte 1|.align 2|l: .byte 1"},
		{name: ".align alone", src: ".byte 1|.align|l: .byte 1"},
		{name: ".p2align 0", src: ".byte 1|.p2align 0|l: .byte 1"},
		{name: ".p2align alone", src: ".byte 1|.p2align|l: .byte 1"},
		{name: ".p2align 5", src: ".byte 1|.p2align 5|l: .byte 1"},
		{name: ".p2align 3,,4", src: ".word 1,2,3|.p2align 3,,4|l: .byte 1|.p2align 3,,4|m:"},
		{name: ".even", src: ".byte 1|.even|l: .byte 1|.byte 1|.even|m:"},
		{name: ".balignw", src: ".hword 1|.balignw 4,0x1234|l: .byte 1"},
		{name: ".balignl", src: ".word 1|.balignl 8,0x12345678|l: .byte 1"},
		{name: "in T16 code", src: v4T + "nop|.align 2|a: nop|.align 3|b: nop"},
		{name: "in A32 code", src: ".arm|nop|.align 3|a: nop|.thumb|nop|.arm|b: nop", ours: "the reference has the gap before the label's line"},
		{name: "of an empty section", src: ".data|.align 4|a: .byte 1"},
		{name: ".code 32 aligns nothing in front of data", src: v4T + "nop|.code 32|a: .byte 1"},

		// Amounts.
		{name: ".space 0", src: ".space 0|l: .byte 1"},
		{name: ".space 1", src: ".space 1|l: .byte 1"},
		{name: ".space -1", src: ".space -1"},
		{name: ".space with a fill", src: ".space 3,7|l: .byte 1"},
		{name: ".space with two fills", src: ".space 3,7,7 @!"},
		{name: ".space of nothing", src: ".space"},
		{name: ".space of what another file has", src: ".space x @!"},
		{name: ".space of a constant below", src: ".space x|l: .byte 1|.equ x,5"},
		{name: ".space of a distance above", src: "a: .word 1|b: .space b-a|l: .byte 1"},
		{name: ".space of a distance below", src: ".space b-a|a: .word 1|b: .byte 1"},
		{name: ".skip and .zero", src: ".skip 3|a: .zero 3|b: .byte 1"},
		{name: ".fill 0", src: ".fill 0|l: .byte 1"},
		{name: ".fill 3", src: ".fill 3|l: .byte 1"},
		{name: ".fill of halfwords", src: ".fill 3,2|l: .byte 1"},
		{name: ".fill of nothing, three times", src: ".fill 3,0|l: .byte 1"},
		{name: ".fill of eight bytes", src: ".fill 3,8,1|l: .byte 1"},
		{name: ".fill of nine bytes", src: ".fill 3,9,1|l: .byte 1"},
		{name: ".fill of a negative size", src: ".fill 3,-1,1|l: .byte 1"},
		{name: ".fill a negative number of times", src: ".fill -1,2,1|l: .byte 1"},
		{name: ".fill with four arguments", src: ".fill 1,2,3,4 @!"},
		{name: ".fill of nothing at all", src: ".fill"},

		// Subsections after the code that jumps over them.
		{name: "a branch over a subsection that grows", src: subsections(2030)},
		{name: "a branch over one that grows, farther", src: subsections(2038)},
		{name: "a branch over one that grows, too far by it", src: subsections(2040)},
		{name: "a branch over one that grows, too far at once", src: subsections(2046)},

		// Data.
		{name: "a byte at its borders", src: ".byte 255,-256,-255,-128"},
		{name: "a byte that waits, too large", src: ".byte x @!|.equ x,256", ours: "see below"},
		{name: "units", src: ".byte 1|a: .hword 1|b: .short 1|c: .2byte 1|d: .word 1|e: .long 1|f: .int 1|g: .4byte 1|h: .quad 1|i: .8byte 1|j: .octa 1|k:"},
		{name: "lists", src: ".byte 1,2,3|a: .hword 1,2|b: .word 1,2,3|c:"},
		{name: "none", src: ".byte|a: .word|b:"},
		{name: "texts", src: ".ascii \"ab\"|a: .asciz \"ab\"|b: .string \"ab\"|c: .ascii \"\"|d: .asciz \"\"|e: .ascii \"a\",\"bc\"|f: .ascii \"a\\n\\101\\x41\\\"\"|g:"},
		{name: "numbers of variable length", src: ".uleb128 0|a: .uleb128 127|b: .uleb128 128|c: .uleb128 16383|d: .uleb128 16384|e: .sleb128 63|f: .sleb128 64|g: .sleb128 -64|h: .sleb128 -65|i:"},
		{name: "a length of a distance", src: ".uleb128 b-a|l: a: .space 127|b: .byte 1"},
		{name: "a longer length of a distance", src: ".uleb128 b-a|l: a: .space 128|b: .byte 1"},
		{name: "instructions by number in T16", src: v4T + ".inst 0x4770|a: .inst.n 0x4770|b: .inst.w 0xf3af8000|c: .inst 0x4770,0x4770|d:"},
		{name: "instructions by number in A32", src: ".arm|.inst 0xe12fff1e|a: .inst 0xe12fff1e,0xe12fff1e|b:"},
		{name: "a wide number for a narrow instruction", src: v4T + ".inst.n 0x12345678 @!"},
		{name: "floating numbers", src: ".float 1.5|a: .single 1.5|b: .double 1.5|c: .float 1,2|d:"},

		// The least that grows.
		{name: "a branch at the narrow border", src: t32 + "b l|a: .org 2050|l: nop"},
		{name: "a branch past the narrow border", src: t32 + "b l|a: .org 2052|l: nop"},
		{name: "a branch back at the narrow border", src: t32 + "l: .space 2044|b l|a: nop"},
		{name: "a branch back past the narrow border", src: t32 + "l: .space 2046|b l|a: nop"},
		{name: "a conditional branch at the narrow border", src: t32 + "beq l|a: .org 258|l: nop"},
		{name: "a conditional branch past the narrow border", src: t32 + "beq l|a: .org 260|l: nop"},
		{name: "a conditional branch back at the narrow border", src: t32 + "l: .space 252|beq l|a: nop"},
		{name: "a conditional branch back past the narrow border", src: t32 + "l: .space 254|beq l|a: nop"},
		{name: "a load at the narrow border", src: t32 + "ldr r0,l|a: .org 1024|l: .word 1"},
		{name: "a load past the narrow border", src: t32 + "ldr r0,l|a: .org 1028|l: .word 1"},
		{name: "a load of what is between words", src: t32 + "ldr r0,l|a: .org 10|l: .word 1"},
		{name: "a load back", src: t32 + "l: .word 1|ldr r0,l|a: nop"},
		{name: "an address at the narrow border", src: t32 + "adr r0,l|a: .org 1024|l: .word 1"},
		{name: "an address past the narrow border", src: t32 + "adr r0,l|a: .org 1028|l: .word 1"},
		{name: "one that pushes another out", src: t32 + "b m|a: b l|b: .org 2050|m: .space 4|l: nop"},
		{name: "two that push each other", src: t32 + "b m|a: .space 2040|b l|b: m: .space 2040|l: nop"},
		{name: "an alignment swallows growth", src: t32 + "b m|a: b l|b: .balign 8|c: .space 2040|m: .balign 8|d: .space 20|l: nop"},
		{name: "an alignment that is no help", src: t32 + "b l|a: .space 2040|.balign 8|b: .space 8|l: nop"},
		{name: "a pool between", src: t32 + "ldr r0,=0x12345678|b l|a: .space 2036|.ltorg|b: nop|l: nop"},
		{name: "a branch to a global name", src: t32 + ".global l|b l|a: l: nop"},
		{name: "a branch to a weak name", src: t32 + ".weak l|b l|a: l: nop"},
		{name: "a branch to another file", src: t32 + "b other|a: beq other|b: nop"},
		{name: "a branch to another section", src: t32 + "b l|a: nop|.section .ram,\"ax\"|l: nop"},
		{name: "a load of a function's place", src: t32 + "ldr r0,l|a: nop|.align 2|.thumb_func|l: nop"},
		{name: "a constant that is not known yet", src: t32 + "movs r0,#x|a: adds r0,#x|b: cmp r0,#x|c: .equ x,1"},
		{name: "a constant that is known", src: t32 + ".equ x,1|movs r0,#x|a: adds r0,#x|b: cmp r0,#x|c:"},
		{name: "an offset that is not known yet", src: t32 + "ldr r0,[r1,#x]|a: str r0,[r1,#x]|b: .equ x,4"},
		{name: "a space by a distance over what grows", src: t32 + "a: b l|b: .space b-a|c: .space 2048|l: nop"},
		{name: "an .org over what grows", src: t32 + "b l|.org 8|a: .space 2048|l: nop"},
	})
}

// subsections is a branch over a subsection of n bytes and a branch that is wide.
func subsections(n int) string {
	return t32 + fmt.Sprintf("a: b z|.text 1|c: beq d|.space %d|d: nop|.text 2|nop|z: bx lr|.text 0|e: nop", n)
}
