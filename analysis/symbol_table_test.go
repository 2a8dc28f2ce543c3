package analysis_test

import "testing"

// TestSymbolTable holds what names mean: which of several values, which of several
// labels, and what may not be.
func TestSymbolTable(t *testing.T) {
	const v4T = ".arch armv4t|" + u16
	runVerdicts(t, []verdictCase{
		// Values that change.
		{name: ".set, then another", src: v4T + ".set x,1|movs r0,#x|.set x,2|movs r1,#x|.set x,3|movs r2,#x"},
		{name: ".equ, then another", src: v4T + ".equ x,1|movs r0,#x|.equ x,2|movs r1,#x"},
		{name: "= , then another", src: v4T + "x=1|movs r0,#x|x=2|movs r1,#x"},
		{name: "before the first", src: v4T + "movs r0,#x|.set x,1|movs r1,#x"},
		{name: "before the first of two", src: v4T + "movs r0,#x|.set x,1|movs r1,#x|.set x,2|movs r2,#x"},
		{name: "by itself", src: v4T + ".set x,1|.set x,x+1|movs r0,#x|.set x,x*3|movs r1,#x"},
		{name: "by itself, from nothing", src: v4T + ".set x,x+1 @!"},
		{name: ".set that waits for a name below", src: v4T + ".set x,y|movs r0,#x|.set y,3"},
		{name: ".set that waits, and the name changes", src: v4T + ".set x,y|movs r0,#x|.set y,3|movs r1,#x|.set y,4|movs r2,#x"},
		{name: ".set that waits for two", src: v4T + ".set x,y+z|movs r0,#x|.set y,3|.set z,4"},
		{name: ".set that waits through another", src: v4T + ".set x,y|.set y,z|movs r0,#x|.set z,5"},
		{name: ".set of a label below", src: v4T + ".set x,l|ldr r0,=x|nop|l: nop|b x"},
		{name: ".set of a distance below", src: v4T + ".set x,l-k|movs r0,#x|k: nop|nop|l:"},
		{name: ".set that waits for what never comes", src: v4T + ".set x,y|movs r0,#x @!"},
		{name: "the present value of another", src: v4T + ".set y,3|.set x,y|.set y,4|movs r0,#x|movs r1,#y"},
		{name: "a round of three", src: ".set x,y|.set y,z|.set z,x @!|.word x"},
		{name: ".equiv once", src: v4T + ".equiv x,3|movs r0,#x"},
		{name: ".equiv twice", src: ".equiv x,3|.equiv x,3 @!"},
		{name: ".equiv of what has a value", src: ".set x,3|.equiv x,4 @!"},
		{name: ".set of what .equiv made", src: ".equiv x,3|.set x,4 @!"},
		{name: "==", src: v4T + "x == 3|movs r0,#x"},
		{name: "names of another file that are compared", src: ".word x != y|.word x == y|.word x == x|.word x != x"},
		{name: "a name of another file that is compared with a label", src: "l: .word l == x|.word x != l|.word l != 3|.word x == 3"},
		{name: "== twice", src: "x == 3|x == 3 @!"},

		// Labels.
		{name: "twice", src: "x: .word 1|x: .word 2 @!"},
		{name: "twice at one place", src: "x:|x: .word 1"},
		{name: "twice, nothing between but a constant", src: "x:|.equ y,1|x: .word 1"},
		{name: "twice, an alignment between", src: "x:|.balign 4|x: .word 1 @!"},
		{name: "twice, a space of nothing between", src: "x:|.space 0|x: .word 1"},
		{name: "twice, a number of variable length between", src: "x:|.uleb128 b-a|x: .word 1 @!|a: .byte 1|b:"},
		{name: "twice, a space of a later number between", src: "x:|.space n|x: .word 1 @!|.equ n,0"},
		{name: "twice, in two sections", src: "x:|.data|x: .word 1 @!"},
		{name: "and then a constant", src: "x: .word 1|.set x,3 @!"},
		{name: "and a constant before", src: ".set x,3|x: .word 1"},
		{name: "and a fixed constant before", src: ".equiv x,3|x: .word 1 @!"},
		{name: "of a section's name", src: ".section foo|foo: .word 1 @!"},
		{name: "several in a line", src: "a: b: c: .word 1|d: .word a,b,c"},
		{name: "in several sections", src: "a: .word 1|.data|b: .word 1|.text|c: .word 1|.data|d: .word 1|.section .ram,\"ax\"|e: .word 1|.previous|f:"},
		{name: "with a dollar, a dot and an underline", src: "a$b: .word 1|.L1: .word 1|_c: .word a$b,.L1,_c"},
		{name: "capitals are other names", src: v4T + "a: nop|A: nop|ldr r0,=a|ldr r1,=A"},

		// Numeric labels.
		{name: "behind", src: v4T + "1: nop|b 1b"},
		{name: "ahead", src: v4T + "b 1f|nop|1: nop"},
		{name: "on a line that is labelled so, ahead", src: v4T + "1: b 1f|nop|1: nop"},
		{name: "on a line that is labelled so, behind", src: v4T + "nop|1: b 1b|1: nop"},
		{name: "both, on a line that is labelled so", src: v4T + "1: nop|1: beq 1b|bne 1f|nop|1: bne 1b|beq 1f|nop|1: nop"},
		{name: "the nearest behind", src: v4T + "1: nop|1: nop|b 1b|1: nop"},
		{name: "the nearest ahead", src: v4T + "1: nop|b 1f|1: nop|1: nop"},
		{name: "several numbers", src: v4T + "1: nop|2: b 1b|b 2b|b 1f|b 2f|1: nop|2: nop"},
		{name: "two in a line", src: v4T + "1: 2: nop|b 1b|b 2b"},
		{name: "twice in a line", src: v4T + "1: 1: nop|b 1b"},
		{name: "numbers with a nought in front", src: v4T + "01: nop|b 1b|b 01b|1: b 001b"},
		{name: "nought", src: v4T + "0: nop|b 0b|b 0f|0: nop"},
		{name: "many digits", src: v4T + "123456: nop|b 123456b|b 123456f|123456: nop"},
		{name: "none behind", src: v4T + "b 1b @!|1: nop"},
		{name: "none ahead", src: v4T + "1: nop|b 1f @!"},
		{name: "none of this number", src: v4T + "1: nop|b 2b @!"},
		{name: "in data", src: "1: .word 1b,1f|1: .word 1b"},
		{name: "in a distance", src: v4T + "1: nop|2: movs r0,#2b-1b"},
		{name: "in another section", src: v4T + "1: nop|.section .ram,\"ax\"|ldr r0,=1b|1: ldr r0,=1b|.text|ldr r0,=1b"},
		{name: "with a number added", src: v4T + "1: nop|nop|b 1b+2|b 1f+2|1: nop|nop"},
		{name: "of a macro", src: v4T + ".macro wait|1: subs r0,#1|bne 1b|.endm|1: nop|wait|b 1b|wait"},
		{name: "past a macro", src: v4T + ".macro wait|bne 1f|subs r0,#1|1:|.endm|b 1f|wait|1: nop"},
		{name: "of a repetition", src: v4T + ".rept 3|1: b 1f|b 1b|.endr|1: nop"},
		{name: "of nested repetitions", src: v4T + ".rept 2|1: nop|.rept 2|1: b 1b|b 1f|.endr|.endr|1: nop"},

		// The location counter.
		{name: "a branch to itself", src: v4T + "nop|b .|beq .+4|b .-2"},
		{name: "in a constant", src: v4T + "nop|x=.|nop|movs r0,#.-x"},
		{name: "of a line with several words", src: ".word .,.,."},
		{name: "in .set, as it stands now", src: ".word 1|.set x,.|.word 2|y: .word x,y-x"},

		// Bindings.
		{name: ".global of nothing", src: ".global @!"},
		{name: ".global of several", src: ".global a,b|a: b: .word 1"},
		{name: "a branch to a weak name of this file", src: v4T + ".weak g|f: b g|bl g|g: nop"},
		{name: "a load of a weak name of this file", src: v4T + ".weak w|ldr r0,w @!|nop|.align 2|w: .word 1"},
		{name: "a branch far to a global name", src: v4T + ".global g|b g @!|.space 3000|g: nop"},
		{name: "a near name, far", src: v4T + "b g @!|.space 3000|g: nop"},
		{name: "a constant as the target", src: v4T + ".equ x,8|b x"},
		{name: "a name of another section in an offset", src: v4T + "ldr r0,w @!|.data|w: .word 1"},

		// Registers by name.
		{name: ".req", src: v4T + "lamp .req r3|movs lamp,#1|movs r3,#1"},
		{name: ".req in capitals", src: v4T + "lamp .req r3|movs LAMP,#1|Lever .req r4|movs lever,#1|movs LEVER,#1|movs Lever,#1"},
		{name: ".unreq", src: v4T + "lamp .req r3|movs lamp,#1|.unreq lamp|movs lamp,#1 @!"},
		{name: ".req again of the same", src: v4T + "lamp .req r3|lamp .req r3|movs lamp,#1"},
		{name: ".req again of another", src: v4T + "lamp .req r3|lamp .req r4|movs lamp,#1"},
		{name: ".unreq of what has none", src: ".unreq lamp @!"},
		{name: ".req behind .unreq", src: v4T + "lamp .req r3|.unreq lamp|lamp .req r4|movs lamp,#1"},
		{name: ".req of a name", src: v4T + "lamp .req r3|lever .req lamp|movs lever,#1"},
		{name: ".req of no register", src: "lamp .req 3"},
		{name: ".req again in other letters", src: v4T + "lamp .req r3|LAMP .req r4|Lamp .req r5|movs lamp,#1|movs LAMP,#1|movs Lamp,#1"},
		{name: ".req of a register's name", src: v4T + "r4 .req r3|movs r4,#1"},
	})
}
