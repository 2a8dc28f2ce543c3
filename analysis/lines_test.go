package analysis

import (
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa/reftest"
)

// oddLines are small sources at the edges of the language, each a program.
// "|" means a line end.
var oddLines = []string{
	// symbols where constants belong
	"y: mov r0,#y", "mov r0,#ext", "ldr r0,[r1,#ext]", "ldr r0,=ext", "lsl r0,r1,#ext", "add r0,#ext", "add r0,r1,#ext",
	"cmp r0,#ext", "swi ext", "add sp,#ext", "ldr r0,[sp,#ext]", "ldrb r0,[r1,#ext]", ".space ext", ".byte ext", ".hword ext",
	".word ext-ext2", ".word ext*2", ".word y+y|y:", ".word ~ext", ".byte y-.|y:", "swi y|y:", "x=y+2|mov r0,#x|y:",
	".equ x,y|.equ y,5|mov r0,#x", "ldr r0,=1f", "ldr r0,=y-x|y: nop|x: nop", "ldr r0,=x*2|x:", "mov r0,#:lower0_7:ext",
	".word ext-.", ".quad ext", ".quad 1f|1:", ".word y-x|x: nop|y: nop", ".word x-y|.data|x: .word 1|.text|y:",
	".space y-x|x: nop|y: nop", "x: nop|y: .space y-x", ".equ a,b|.equ b,a|.word a", "a=a+1", ".word 1f", ".word 1b", "1: .word 1b",
	// targets
	"b 1f+2|1: nop", "b .", "b .+4", "beq .-2", "bl .", "ldr r0,.+4", "ldr r0,.+6", "ldr r0,.+8", "adr r0,.+8", "adr r0,.+4", "adr r0,8", "ldr r0,8",
	".equ b,3|b b", "b ext", "beq ext", "b 8", "bl 8", ".weak w|ldr r0,w|nop|.align 2|w: .word 1", ".weak w|b w|w: nop",
	".global g|beq g|.space 3000|g: nop", ".global g|b g|.space 3000|g: nop", "beq g|.space 3000|g: nop|.global g",
	"adr r0,x|.data|x: .word 1", "ldr r0,x|.data|x: .word 1", "b x|.data|x: .word 1", "bl x|.space 3|.data|x: .word 1",
	"mov r0,#1f|1:", "ldr r0,[r1,#1f-.]|1:", "ldr r0,[r1,#x-y]|y: .word 1|x:", "cbz r0,1f|1:",
	".arch armv5te|blx ext", ".arch armv5te|blx ext+4", ".arch armv5te|blx x|.data|x: .word 1", ".arch armv5te|.thumb_func|f: nop|blx f", ".arch armv5te|nop|.thumb_func|f: nop|blx f", ".arch armv5te|blx f|.align 2|.arm|f: nop", "blx ext",
	".arm|b ext+1", ".arm|b ext+2", ".arm|bl ext+2", ".arm|b ext+4", ".arm|beq ext+1", ".arm|b x|.data|.byte 0|x: .byte 1", ".arm|bl x|.data|.word 0|x: .word 1", ".arch armv5te|.arm|blx ext+2", ".arch armv5te|.arm|blx ext", ".arm|blx ext",
	".arm|b x+2|x: nop", ".arm|ldr r0,ext", ".arm|ldr r0,x|.data|x: .word 1", ".arm|adr r0,ext", ".arm|ldr r0,=ext", ".arm|mov r0,#ext", ".arm|ldr r0,[r1,#ext]", ".arm|b .", ".arm|ldr r0,.+8", ".arm|adr r0,.+8", ".arm|b 8", ".arm|swi ext",
	// names
	".equ r0,3", "r0: nop", "sp: nop", "nop: nop", "add: b add", "lr = 3", "MOV R0,R1", "Mov r0,r1", "mov R0,Sp", ".THUMB", ".Word 3", "a:b:nop", "1:2:nop",
	"x .req r0", "x .req r0|add x,#1", "x .req r9|add x,#1", "lab: .req r0", "X .req r3|add X,#1|add x,#1", "x .req r3|.unreq x", ".unreq yy", "lab nop", "lab .word 1",
	"add r0, a1, v4", "mov r0, wr", "mov r0, fp", "push {v1-v4, lr}", "push {a1, sb}",
	"b 02f|nop|2: b 02b|b 002b|02: nop|b 2b", "b 010f|nop|8: b 08b|10: b 010b", "0: b 00b|b 0b", "b 0b1f|1: nop", "b 09f|9: nop", ".word 02f-02b|2: nop|02: nop", "2: b 0x2b", ".word 0b1b",
	"mov %r0,%r1", "push {%r4-%r7, %lr}", "ldr %r0,[%r1,%r2]", "ldr %r0,[%r1,#4]", "ldr r0,[r1,#4%r2]", "mov % r0,r1", "mov %%r0,r1", "add %r0,%r1,%foo", "b %r0", "ldr r0,=%r1", "bx %lr", "mov r0,%x", "mov r0,%", ".word %r0", ".word 5%3", "mov r0,#5%3", "mov r0,5%r1",
	".arm|ldr r0,[r1],-%r2", ".arm|ldr r0,[r1],%r2", ".arm|ldr r0,[r1,-%r2]!", ".arm|mov r0,r1,lsl %r2", ".arm|ldr r0,[%r1,%r2,lsl #2]", ".arm|mrc %p15,0,%r0,%c0,%c0,0", ".arm|mrc %p16,0,%r0,%c0,%c0,0", ".arm|msr %cpsr,r0", ".arm|ldm %r0!,{%r1,%r2}", ".arm|ldm r0,%r1", ".arm|swp %r0,%r1,[%r2]",
	".fpu vfpv2|.arm|fadds %s0,%s1,%s2", ".fpu vfpv2|.arm|fldmiad %r0!,{%d0-%d3}", ".fpu vfpv2|.arm|fmrs %r0,%s1", ".fpu vfpv2|.arm|fadds %s32,%s1,%s2",
	".fnstart|.save {%r4-%r5,%lr}|.setfp %r7,%sp,#4|.vsave {%d8-%d9}|.fnend", ".cfi_startproc|.cfi_offset %r4,4|.cfi_endproc", "x .REQ r1", "x .Req r1", "x .req R1|.UNREQ x", ".fpu neon|x .DN d0", ".fpu neon|x .QN q1.s16", "x .req %r1", "x .req -r1", "x .req (r1)", "x .req [r1]", "x .req 5", "x .req 'a", "x .req =r1",
	"nop ; # x", "nop; nop #x", "a: b: # x", "1: # y", "\"c\": # z", "x = 3 # c", ".text # c", "/* */ # c", "nop /* x */ # c", "; # c", "a2: ; # c",
	".byte [4-3]", ".if [~0 >> 63] == 1|.endif", ".word 4 * [4 + (3 + [2 * 2] + 1)]", "ldr r0,=[4]", "mov r0,#[4]", "mov r0,#[4)", "mov r0,#(4]", ".word [4", ".word []", "x = [3]", ".word -[4]*[2]", "ldr r0,[r1,#[4]]",
	// operands
	"mov r0,#(3+4)*2", "mov r0,(3)", "mov r0,3", "mov r0, 3+4", "add r0,3", "lsl r0,r1,3", "ldr r0,[r1,4]", "cmp r0,3", "mov r0, $3", "add sp,8", "sub sp,sp,8", "swi #3", "swi 3",
	"push r0", "push {r0,}", "push {}", "ldr r0 [r1]", "ldr r0,[r1],", "ldr r0,[r1],#4", "ldr r0,[r1,#4]!", "mov r0,r1,", "mov", "mov r0", "mov r0 r1", "mov r0,,r1", "mov r0,#", "ldr r0,=", "ldr r0,[]", "ldr r0,[r1", "ldr r0,r1]",
	"push {r0-r3,r5}", "push {r3-r0}", "push {r0 r1}", "push {r0-}", "add r0,r1,lsl #2", "mov r0,r1,lsl #2", "mov r0, #'a", "mov r0, #'a'", "mov r0, #'\\n'", "mov r0,#0b101", "mov r0,#0x1G", "mov r0,#09", "mov r0,#010",
	"mov r0,#1+", "mov r0,#-1+2", "mov r0,#~0xffffff00", "mov r0,#!0", "mov r0,#1<<3", "mov r0,#1<<3|4", "mov r0,#7&3", "mov r0,#256-1", "mov r0,#3*100", "mov r0,#(1", "mov r0,#1)", "mov r0,#5==5", "mov r0,#2>1", "mov r0,#1||0", "mov r0,#0x1ff>>1", "mov r0,#10%3", "mov r0,#3!1",
	"ldr r0,[r1,#-4]", "ldr r0,[r1,-r2]", "ldr r0,[r1,+r2]", "ldr r0,[r1,#0]", "ldr r0,[r1,#4+4]", "ldr r0, [ r1 , #4 ]", "ldr\tr0,[r1]", "ldmia r0!, {r1-r3}", "ldmia r0, {r1}", "ldmia r8!, {r1}", "stmia r0!, {r1}^", "bx lr", "bx #4", "blx r3",
	// addresses with too much, and what is missing or cut off
	"ldr r0,[r1,#4,#8]", "ldr r0,[r1,r2,r3]", "ldr r0,[r1,r2,#4]", "ldr r0,[r1,#4,r2]", ".arm|ldr r0,[r1,r2,lsl #2,#4]", ".arm|ldr r0,[r1,r2,lsl #2]", "ldr r0,[r1,+#4]", "ldr r0,[r1,-#4]", "ldr r0,[r1,#+4]",
	"ldr r0,=#5", "ldr r0,=#x", "ldr r0,=\"abc", "b \"abc", "b \"abc\"", "ldr r0,=x+", ".arm|ldr r0,=x+", "ldr r0,[r1,#0x]", "mov r0,#0x", "mov r0,#-", "mov r0,#1*", "mov r0,#1+-", "svc 0x", ".arch armv6t2|.arm|movw r0,#4+", ".arm|mov r0,r1,Lsl #2", ".arm|mov r0,r1,LSL #2",
	".byte 0x", ".byte -", ".byte 1*", ".word ~,2", ".set x,0x", ".set x,-", ".set x,1*|.byte x", ".set x,(0x)", "x=~", ".if -|.endif", ".if 1+|.endif", ".if 0x|.endif", ".size x,0x", ".org 0x", ".org -", ".org .,-", ".space -", ".space 0x", ".inst -", ".comm x,-", ".comm x,4,", ".comm x,4,-", ".lcomm x,0x", ".ascii 0x", ".asciz \"a\",1+",
	".set x,1f", ".set x,1b", "x=1f+1", ".set x,1f|1:", ".org .,ext", ".org 4,x|x=3", ".org .,1f|1:", ".ident \"a\" \"b\"", ".size x,y-x|x:|.data|y:", ".section x,\"ax", ".lsym x,.", ".lsym x,3", ".rva 1", ".rva", ".if 1f-1f|.endif|1:",
	".arch armv7-a|.syntax unified|cbz r0,0x80", ".arch armv7-a|.syntax unified|ssbb", ".arch armv7-a|.syntax unified|udf.w", ".arch armv8-a|.arm|swp r0,r1,[r2]", ".arm|swp r0,r1,[r0]", ".arch armv6|.arm|strex r0,r0,[r1]", ".arch armv7-m|.syntax unified|strex r0,r0,[r1]", ".arch armv7-m|.syntax unified|strexb r0,r0,[r1]",
	".arch armv5te|.arm|mrrc p1,0,r1,r1,c1", ".arm|ldr pc,.+6", ".arch armv7-a|.syntax unified|.arm|ldr pc,w|nop|.byte 1|w:.word 1", ".arch armv7-a|.syntax unified|.arm|ldr pc,w+2|nop|.byte 1,2|w:.word 1", ".arch armv7-a|.syntax unified|.arm|ldr pc,w-4|nop|.byte 1,2|w:.word 1", ".arch armv7-a|.syntax unified|.arm|ldr pc,2f+2|nop|2:.word 1", ".arch armv7-a|.syntax unified|.arm|.equ k,6|ldr pc,.+k|nop|.word 1", ".arch armv7-a|.syntax unified|.arm|ldr pc,.+2+6|nop|.word 1", ".arch armv7-a|.syntax unified|.arm|x=.+10|ldr pc,x|nop|.hword 1|.word 1", ".arch armv7-a|.syntax unified|.thumb|ldr pc,w|nop|.byte 1|w:.word 1", ".arch armv7-a|.syntax unified|.thumb|ldr pc,w+2|nop|.byte 1,2|w:.word 1", ".arch armv7-a|.syntax unified|.thumb|ldr pc,w-4|nop|.byte 1,2|w:.word 1", ".arch armv7-a|.syntax unified|.thumb|ldr pc,2f+2|nop|2:.word 1", ".arch armv7-a|.syntax unified|.thumb|.equ k,6|ldr pc,.+k|nop|.word 1", ".arch armv7-a|.syntax unified|.thumb|ldr pc,.+2+6|nop|.word 1", ".arch armv7-a|.syntax unified|.thumb|x=.+10|ldr pc,x|nop|.hword 1|.word 1", ".arm|ldr pc,[pc,#6]", ".arch armv8-m.main|.syntax unified|lda sp,[r0]", ".arch armv7-a|.syntax unified|itt eq|rfeiaeq r0|moveq r0,r0", ".arch armv7-a|.arm|bxj pc", ".arch armv7-m|nop",
	// directives
	".byte", ".word", ".word ,", ".word 1,", ".ascii", ".ascii \"a", ".ascii \"a\" \"b\"", ".asciz \"a\",\"b\"", ".string", ".ascii a", ".byte 'a", ".byte 'ab", ".word 1 2", ".align ,", ".align 2,,1", ".align 2,0xff", ".align x", ".balign 3", ".balign 0", ".p2align 3", ".space", ".space -1", ".space 4,5", ".space 4,5,6", ".fill 3", ".fill 3,2,1", ".fill -1", ".fill x", ".zero 3", ".skip 3",
	".equ x", ".equ x,", ".equ ,3", ".set x 3", ".equiv x,3|.equiv x,4", ".equ x,3|.equ x,4", "x: nop|.equ x,4", ".equ x,4|x: nop", "x: nop|x: nop", "x: x: nop", "x: y: x: nop", "x:|.set c,1|x:", "x:|.align 2|x:", "x:|.data|.text|x:", "x:|.data|x:", "x:|.thumb|x: nop", ".arm|x:|.thumb|x: nop", "x:|.arm|x: nop", "x: .uleb128 x-y|x:|y:", "x: .org .|x:", "x: .even|x:", "x: .ltorg|x:", "ldr r0,=5000|x: .ltorg|x:", "x: .byte 1|x:", "x: .word x|x:", ".global x|x:|.thumb_func|x:", "x:|.fill 0|x:", "x: .set x, .", "x = .|x:", "x:|.macro m|x:|.endm|m", "b x|x:|x:", "x:|.if 1|x:|.endif",
	".global x,y", ".global x y", ".global", ".extern", ".text 1", ".text x", ".section", ".section .foo,\"ax\",%progbits", ".pushsection .x|.popsection", ".popsection", ".previous",
	".if", ".endif", ".else", ".if 1", ".if 0|.word x-y|.endif", ".if 1|nop|.else|bad line|.endif", ".if x|.endif", ".ifdef x|bad|.endif", ".ifndef x|nop|.endif", ".if 0|.if 1|bad|.endif|bad|.else|nop|.endif", ".ifeq 0|nop|.endif", ".if 1|.else|.else|.endif",
	".macro", ".endm", ".endr", ".macro m|nop|.endm", ".include", ".include \"nope\"", ".include nope", ".word 1/0", ".word 0x", ".word 09", ".word 0b12", ".word 0b1", "nop;nop", "nop:nop", "mov r0,#1 @x", "mov r0,#1 // x", "mov r0,#1 # x", "mov r0,#1 ; mov r0,#2", "# x", " # x", "/* x */ nop", "/* x|y */ nop", "nop /* x", "@ x", "// x",
	".code", ".code 16", ".code 16,2", ".code 17", ".thumb x", ".even x", ".ltorg x", ".syntax", ".syntax foo", ".cpu foo", ".arch foo", ".arch armv6", ".cpu cortex-m0", ".fpu foo", ".fpu vfpv2", ".byte 256", ".byte -129", ".byte -256", ".hword -65536", ".word -0x80000001", ".word 0x1ffffffff", ".type x,%function", ".size x,4", ".size x,.-x|x:", ".org 4", "nop|.org 0", ".org 8|nop", ".org x", ".end|bad", ".err", ".error \"x\"", ".warning \"x\"", ".ident \"x\"", ".file \"x\"", ".thumb_func|x: nop", ".thumb_set x,y|y: nop", ".nosuch", ".quad 1", ".octa 1", ".float 1.5", ".double 2", ".inst 0x4770", ".inst.n 0x4770", ".comm x,4", ".lcomm x,4", ".uleb128 300", ".sleb128 -300", ".arch armv4|nop|ldr r0,=3|.arm|nop", ".arm|.arch armv4|.thumb|nop|.word 1|.arm|nop", ".arch armv4|.thumb|nop", ".arch armv6-m|nop|.arm|nop|.thumb|nop",
	".arm|.arch armv6-m|.arm|nop|.thumb|nop|.code 32", ".arm|mov r0,#5|.thumb", ".arm|mvoe r0,r1", "\\", "!", "*", "nop nop", "3", "\"x\"", "'a'", ".", ". = 8", ". = . + 4", "x == 3",
}

// knownLines are the lines where we judge otherwise, with the reason.
var knownLines = map[string]string{
	".ascii":  "the reference refuses it as soon as another line follows it",
	".string": "the reference refuses it as soon as another line follows it",
}

// TestOddLines compares the verdict on each source with the reference's.
func TestOddLines(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	used := map[string]bool{}
	odd := reftest.Recorded(oddLines, 11)
	for _, src := range odd {
		text := ".thumb\n" + strings.ReplaceAll(strings.ReplaceAll(src, "||", "\x00"), "|", "\n") + "\n"
		text = strings.ReplaceAll(text, "\x00", "||")
		ref, asked := reftest.AssembleRecorded(t, reftest.Options{Arch: "armv4t"}, text)
		if !asked {
			continue
		}
		msg := ""
		r := analyze(t, nil, text)
		for _, d := range r.Each() {
			if d.Severity == finding.Error {
				msg = d.Code + ": " + d.Message
				break
			}
		}
		if ref.OK == (msg == "") {
			continue
		}
		if _, ok := knownLines[src]; ok {
			used[src] = true
			continue
		}
		if ref.OK {
			t.Errorf("false alarm on %q: %s", src, msg)
		} else {
			t.Errorf("silence on %q", src)
		}
	}
	for l, why := range knownLines {
		if !used[l] && !reftest.Part() {
			t.Errorf("%q is listed as judged otherwise (%s), and is not", l, why)
		}
	}
	proof.Counted("odd lines: %d sources", len(odd))
}
