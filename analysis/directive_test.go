package analysis

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// oddDirectives are small sources at the edges of what directives take. "|"
// means a line end, "¦" for "|". Blank lines and lines that start with "--"
// are for the reader.
var oddDirectives = func() (out []string) {
	for _, l := range strings.Split(directiveCases, "\n") {
		if l != "" && !strings.HasPrefix(l, "--") {
			out = append(out, l)
		}
	}
	return
}()

const directiveCases = `
-- subsections
.text 1|a: .word 1|.text 0|b: .word 2|.text|c: .word 3
.text 2|a: .byte 1|.text 1|b: .byte 2|.align 2|c: .byte 3|.text|d: .byte 4
.data 1|a: .byte 1|.data|b: .hword 2
.bss|a: .space 4|.bss 1|b: .space 4
.subsection 1|a: .byte 1|.subsection 0|b: .byte 2
.data|.subsection 3|a: .byte 1|.align 3|b: .byte 3|.subsection 0|c: .space 3
.subsection -1|a: .byte 1
.subsection
.subsection x
.subsection 8193
.subsection 100000|a: .byte 1
.text -1
.text 1 2
.text 1,2
.data x|x=1
x=1|.data x|a: .byte 1|.data|b: .byte 2
.text 1|a: .byte 1|.previous|b: .byte 1|.previous|c: .byte 1
.subsection 2|a: .byte 1|.previous|b: .byte 2
.section .foo,1|a: .byte 1|.section .foo|b: .byte 2
.pushsection .data,1|a: .byte 1|.popsection|b: .byte 1|.data|c: .byte 1
.pushsection .data, 1, "aw"|a: .byte 1|.popsection|b: .byte 1
.pushsection .xx, 1, "aw", %progbits|a: .byte 1|.popsection|b: .byte 1
.pushsection .xx, "aw", %progbits|a: .byte 1|.popsection|b: .byte 1
.pushsection|a: .byte 1
.pushsection .data|.pushsection .bss|a: .space 1|.popsection|b: .byte 1|.popsection|c: .byte 1|.previous|d: .byte 1
.data|.text|.pushsection .foo|a: .byte 1|.previous|b: .byte 1|.popsection|c: .byte 1|.previous|d: .byte 1
.popsection x
.popsection 1
.previous x
.previous|a: .byte 1
.data|.previous|a: .byte 1|.previous|b: .byte 1
.text 1|a: .byte 1|.text 0|b: .byte 1|.text 1|c: .byte 1|.word c-a, a-b, b-c
.text 1|a: .byte 1|.text 0|b: .byte 1|.if a-b|.endif
.text 1|a: .byte 1|.text 0|b: .byte 1|.space a-b
.text 1|a: .byte 1|.text 0|b: .byte 1|.equ d,a-b|.word d
.text 1|a: .word 1|.text 0|b .req r0|ldr r0,a|ldr r1,=0x12345678
.text 1|ldr r1,=0x12345678|a: .word 1|.text 0|ldr r1,=0x12345678|b: .word 3
.text 1|.thumb|l: b m|.text 0|m: nop|b l|.space 3000|beq l
.text 1|1: nop|.text 0|b 1b|2: nop
.text 3|.org 8|a: .byte 1|.text 0|.byte 2
.text 3|.byte 1|.org 8|a: .byte 1|.text 0|.word 2,3,4,5
.text 1|.balign 8|a: .byte 1|.text|.byte 1
-- sections
.section .foo|a: .byte 1
.section .foo,"a"|a: .byte 1
.section .foo,"ax",%progbits|a: .byte 1
.section .foo,"ax",@progbits|a: .byte 1
.section .foo,"aw",%nobits|a: .space 4
.section .foo,"aw",%nobits|a: .word 4
.section .foo,"aw",%nobits|a: .word 0
.section .foo,"aw",%nobits|mov r0,r0
.section .foo,"aMS",%progbits,1|a: .asciz "x"
.section .foo,"aM",%progbits|a: .asciz "x"
.section .foo,"aMS",1|a: .asciz "x"
.section .foo,"aG",%progbits,grp,comdat|a: .byte 1
.section .foo,"aG",%progbits,grp|a: .byte 1
.section .foo,"aG",%progbits|a: .byte 1
.section .foo,"aG",grp,comdat
.section .foo,"aG",%progbits,grp,foo
.section .foo,"aG",%progbits,"grp",comdat
.section .foo,"aGMS",%progbits,1,grp,comdat
.section .foo,"a?"|a: .byte 1
.section .foo,"aG",%progbits,grp,comdat|.section .bar,"a?"|a: .byte 1
.section .foo,"az"
.section .foo,"a",%foo
.section .foo,"a",%note
.section .foo,"a",%init_array
.section .foo,"a",%fini_array
.section .foo,"a",%preinit_array
.section .foo,"a",%0x70000001
.section .foo,"a",%3
.section .foo,"a","progbits"
.section .foo,"a",progbits
.section .foo,"a",#progbits
.section .foo,%progbits
.section .foo,"a" %progbits
.section .foo,"a",%progbits,x
.section .foo,"a",%progbits,
.section .foo,"a",%progbits,1
.section .foo,
.section "my sec","a"|a: .byte 1
.section "quoted"|a: .byte 1
.section .foo "a"
.section .foo,"y"
.section .foo,"axy"
.section .foo,"ao",%progbits,.text
.section .foo,"ao",%progbits
.section .foo,"aR",%progbits
.section .foo,"awx"|.section .foo,"a"
.section .foo,"a"|.section .foo,"aw"
.section .foo,"a",%progbits|.section .foo,"a",%nobits
.section .foo,"e"
.section .foo,"ae"
.section .foo,"T"
.section .foo,"awT",%nobits
.section .foo,"d"
.section .foo,"l"
.section .text,"aw"
.section .text,"ax"
.section .bss,"aw",%nobits
.section .bss,"aw",%progbits
.section .data,"a"
.section .rodata,"aw"
.section .foo,"0x2"
.section .foo,"2"
.section .foo,"aw",%nobits,unique,1
.section .foo,"a",%progbits,unique,1|a: .byte 1|.section .foo,"a",%progbits,unique,2|b: .byte 1
.section .foo,#alloc
.section .foo,#alloc,#write
.section .foo,#alloc,#execinstr|a: .byte 1
.section .foo,#nosuch
.section 3
.section foo bar
.section foo;.byte 1
.section .foo,"a"x
.section foo-bar,"a"|a: .byte 1
.section foo+bar|a: .byte 1
.section .text.boot,"ax"|a: mov r0,r0
.section .note.GNU-stack,"",%progbits
.section .note.GNU-stack,"",@progbits|a: .byte 1
.section .ARM.exidx
.section .fini_array
.section .init,"ax"
.section .sbss
.section .tdata,"awT"
.section .foo,""
.section ,"a"
.SECTION .foo|a: .byte 1
.section.s foo
.sect .foo|a: .byte 1
.sect.s foo
.pushsection .foo,"z"
.pushsection 3
.pushsection .foo,5,5
.pushsection .foo,5 5
.rodata
.bss 1
.bss x
.data|.bss|.previous|a: .byte 1
.bss|a: .byte 0
.bss|a: .byte 1
.bss|.space 4,1
.bss|.ascii "x"
.bss|.fill 4,1,1
.bss|.fill 4,1,0
.bss|mov r0,r0
.bss|.word x
.bss|.word .
.bss|.asciz ""
.bss|.org 8|a: .space 4
.bss|.org 8,1
.bss|.align 4|a: .space 4
.bss|.align 4,1|a: .space 4
.bss|.byte 0|.align 4,1|a: .space 4
.bss|.quad 0
.bss|.quad 1
.bss|.float 0
.bss|.float 1
.bss|.uleb128 0
.bss|.uleb128 1
.bss|.inst 0
.bss|ldr r0,=0x12345678
.bss|.incbin "x"
.bss|.string ""
.bss|.nop
-- struct
.struct 0|a: .space 4|b: .space 2|c:|.text|d: .word a,b,c
.struct 8|a: .space 4|b: .hword 0|c: .word 0|d:|.previous|e: .byte 1
.struct|a: .space 4
.offset|a: .space 4
.offset 4|a: .space 4|b:
.struct 0x10|a: .byte 0|.align 2|b: .byte 0|.even|c: .balign 8|d:
.struct 0|a: .word 1
.struct 0|a: .byte 0,0|b:
.struct 0|a: .ascii "x"
.struct 0|a: .asciz ""
.struct 0|mov r0,r0
.struct x
x=4|.struct x|a:
.struct x|x=4
.struct 0,1
.struct 0 1
.struct 0|a: .org 8|b: .space 1
.struct 8|a: .org 4|b: .space 1
.struct 0|a: .fill 3,2,0|b: .skip 1|c: .zero 2|d:
.struct 0|a: .fill 3,2,1|b:
.struct 0|a: .space 4,1|b:
.struct 4|a: .long 0|.text|.if a-4|.err|.endif
.struct 4|a:|b: .space 2|c:|.if c-a-2|.err|.endif
.struct -4|a: .space 4|b:
.struct 0|a: .space -4|b:
.struct 0|.float 1
.struct 0|.float 0
.struct 0|.quad 0|a:
.struct 0|.uleb128 3|a:
.struct 0|.inst 3|a:
.struct 0|.incbin "x"
.struct 0|.ltorg|a:
.struct 0|.subsection 1|a: .space 1
.struct 0|1: .space 4|2:|.text|.word 1b,2b
.struct .|a:
nop|x:|.struct x|a:
.struct 0|a: .ds.l 4|b: .ds.b 1|c:
.struct 0|a: .dc.b 1
.struct 0|a: .dc.b 0|b:
.struct 0|a=.|.space 4|b=.|.text|.word a,b
.struct 0|a = . + 4|. = . + 12|b:
.struct 0|.pushsection .data|.byte 1|.popsection|a: .space 1|b:
.data|.struct 4|.previous|a: .byte 1
.struct 0|.thumb_func|a: .space 1|b:
.struct 4|a: .octa 0|b:
.struct 4|a: .nop
.struct 4|.cfi_startproc
.struct 4|.fnstart|.fnend
.struct 4|.fnstart|.cantunwind|.fnend|.text|nop
.struct 4|.cfi_startproc|.space 4|.cfi_offset r4, -4|.cfi_endproc
.struct 4|.text|.previous|.cfi_startproc|.cfi_endproc|.cfi_startproc|.cfi_endproc
.struct 4|.p2align 3|b:
-- org
.org 4|a: .byte 1
.org
.org 4,5|a: .byte 1
.org 4,5,6
.org 4 5
.byte 1|.org 4|a: .byte 1
.space 8|.org 4
x: .byte 1|.org x+4|a: .byte 1
x: .byte 1|.org x-1|a: .byte 1
x: .byte 1|.space 4|.org x|a: .byte 1
.org y|y:
.org ext
.org ext+4
.data|x: .byte 1|.text|.org x
.org .+4|a:
.org . + 4|a:
.org .-1
.byte 1|.org .-1
.equ k,8|.org k|a:
.org k|a:|.equ k,8
.org x-y|a:|.equ q,1|.data|x: .byte 1|y:
.org "x"
.org 1f|1:
. = 8|a:
. = . + 8|a:
.byte 1|. = 0
. = x|x:
.thumb|beq x|.org 16|x: nop
.org 8|.org 8|a:|.org 4
-- align
.align|a: .byte 1
.byte 1|.align|a: .byte 1
.byte 1|.align 0|a: .byte 1
.byte 1|.align 3|a: .byte 1
.byte 1|.align 3,,3|a: .byte 1
.byte 1|.align 3,5|a: .byte 1
.byte 1|.align 3,5,8|a: .byte 1
.byte 1|.align 3,5,8,9
.byte 1|.align 3 5
.byte 1|.align 16|a: .byte 1
.align 17
.align 32
.align -1
.align x
.align x|x=2
.align "a"
.byte 1|.balign 8,,3|a: .byte 1
.byte 1|.balign 8,1,8|a: .byte 1
.byte 1|.balign|a: .byte 1
.byte 1|.balign 0|a: .byte 1
.byte 1|.balign 1|a: .byte 1
.balign 3
.balign -4
.byte 1|.balignw 8,0x1234|a: .byte 1
.byte 1,2|.balignw 8,0x1234|a: .byte 1
.byte 1|.balignl 8,0x1234|a: .byte 1
.byte 1,2|.balignl 8,0x1234|a: .byte 1
.byte 1,2,3,4|.balignl 8,0x1234|a: .byte 1
.byte 1,2|.p2alignw 3,0x1234|a: .byte 1
.byte 1,2|.p2alignl 3,0x1234|a: .byte 1
.byte 1|.p2align|a: .byte 1
.byte 1|.p2align 2|a: .byte 1
.byte 1|.p2align 2,,|a: .byte 1
.byte 1|.p2align 2,|a: .byte 1
.byte 1|.even|a: .byte 1
.byte 1|.even 2
.byte 1|.EVEN|a: .byte 1
.byte 1|.align 2,0x1234|a:
.byte 1|.align 2,-1|a:
.byte 1|.align 2,x
.byte 1|.align 2,0,x
.byte 1|.align 2,0,-1|a:
-- data
.byte 1,2,3|a:
.byte|a:
.byte ,|a:
.byte 1,|a:
.byte 1,,2|a:
.byte 1 2
.byte "a"
.byte "ab"
.byte 'a'|a:
.byte 'a|a:
.byte ''
.byte '\n'|a:
.byte '\\'|a:
.byte '\'' |a:
.byte x|x=3
.byte x|x:
.byte x-y|x: .byte 1|y:
.byte y-x|x: .byte 1|y:
.byte ext
.byte ext-.
.hword ext
.hword x|x:
.hword ext-.
.word ext-.
.long ext+4
.int ext
.int x-.|x:
.short x-.|x:
.2byte 1,2|a:
.4byte 1,2|a:
.8byte 1,2|a:
.quad 1,0x123456789|a:
.quad x|x:
.quad x-.|x:
.quad ext
.quad -1,0xffffffffffffffff|a:
.octa 1|a:
.octa 0x123456789abcdef0123456789abcdef0|a:
.octa 0x123456789abcdef0123456789abcdef01|a:
.octa -1|a:
.octa x
.octa ext
.octa 1,2|a:
.octa|a:
.octa 1,
.octa "x"
.octa 1+2|a:
.octa 0x1ffffffffffffffff|a:
.quad 0x1ffffffffffffffff|a:
.quad 18446744073709551615|a:
.quad 18446744073709551616|a:
.quad 0x10000000000000000|a:
.quad -0x10000000000000000|a:
.word 0x10000000000000000
.word 0x1ffffffffffffffff
.byte 0x10000000000000000
.word 18446744073709551616
.word 18446744073709551615|a:
.word 0xffffffffffffffff|a:
.word -1,-0x80000000,-0xffffffff|a:
.byte -255,255,256|a:
.word x(GOT)
.word x(got)|x:
.word x(FOO)
.word x(PLT),y(GOTOFF)
.word x(TARGET1),y(TARGET2),z(SBREL),w(TPOFF),v(TLSGD)
.word x(none)
.word x(GOT)+4
.word x+4(GOT)
.word 4(GOT)
.byte x(GOT)
.hword x(GOT)
.long x(GOT)
.int x(GOT)
.4byte x(GOT)
.word (x)
.word (x)(GOT)
.word #4
.word $4
.word =4
.word 1:2
.word r0
.word r0|r0=3
.word sp+1
.word %1
.word x@GOT
.word x:
.word x|x: .word .|y: .word y-x
.dc 1,2|a:
.dc.b 1,2|a:
.dc.w 1,2|a:
.dc.l 1,2|a:
.dc.a 1,2|a:
.dc.d 1,2|a:
.dc.s 1,2|a:
.dc.x 1|a:
.dc.q 1
.dc.b|a:
.dcb 3|a:
.dcb 3,1|a:
.dcb.b 3,1|a:
.dcb.w 3,1|a:
.dcb.l 3,1|a:
.dcb.a 3,1
.dcb.d 3,1|a:
.dcb.s 3,1|a:
.dcb.x 3,1|a:
.dcb.b 3
.dcb.b
.dcb.b 3,1,1
.dcb.b x,1
.dcb.b -3,1|a:
.dcb.b 3,x
.dcb.b 3,x|x=3|a:
.dcb.b 3,500|a:
.dcb.l 0,1|a:
.dcb.d 3
.dcb.d 3,x
.ds 3|a:
.ds.b 3|a:
.ds.w 3|a:
.ds.l 3|a:
.ds.d 3|a:
.ds.s 3|a:
.ds.p 3|a:
.ds.x 3|a:
.ds.a 3
.ds.b 3,1|a:
.ds.b 3,1,2
.ds.b
.ds.b x
.ds.b -1|a:
.ds.b 0|a:
.ds.l y-x|x: .byte 1,2|y:|a:
.float 1.5|a:
.float 1.5,2,-3e4,+1e-5|a:
.float|a:
.float 1,|a:
.float ,|a:
.float x
.float 0x10
.float 1e50|a:
.float 0f1.5|a:
.float 0e1.5|a:
.float 0r1.5|a:
.float 0d1.5|a:
.float 0x1.5
.float 0f:12345678|a:
.float inf|a:
.float nan|a:
.float -inf,+nan|a:
.float infinity|a:
.float .5,5.|a:
.float 1.5.2
.float 1 2
.float "1"
.float 1e|a:
.float 1.5f|a:
.float 1_000|a:
.float -|a:
.float +1|a:
.float --1
.float 1+1
.single 1.5|a:
.double 1.5|a:
.double 1e400
.double 1,2|a:
.double x
.double nan,inf|a:
.float16 1.5|a:
.float16 1.5,2|a:
.float16 x
.float16|a:
.float16_format ieee
.float16_format alternative
.float16_format foo
.float16_format
.float16_format ieee|.float16 1|.float16_format alternative
.float16_format ieee x
.bfloat16 1.5|a:
.bfloat16 1,2|a:
.bfloat16 x
.extend 1.5|a:
.ldouble 1.5|a:
.packed 1.5|a:
.uleb128 0,127,128,300|a:
.uleb128 -1|a:
.uleb128 0x123456789abc|a:
.uleb128 0xffffffffffffffff|a:
.uleb128|a:
.uleb128 1,|a:
.uleb128 x
.uleb128 x|x=300|a:
.uleb128 y-x|x: .space 200|y:|a:
x: .space 200|y: .uleb128 y-x|a:
.uleb128 y-x|x: .space 2000|y:|a: .uleb128 a-x|b:
.uleb128 "x"
.uleb128 0x123456789abcdef0123456789abcdef0|a:
.uleb128 0x10000000000000000|a:
.sleb128 0x10000000000000000|a:
.sleb128 0,63,64,-64,-65,300,-300|a:
.sleb128 -1|a:
.sleb128 0x7fffffffffffffff|a:
.sleb128 0x8000000000000000|a:
.sleb128 -0x8000000000000000|a:
.sleb128 0xffffffffffffffff|a:
.sleb128 x-y|x: .space 200|y:|a:
.sleb128 1 2
-- strings
.ascii|a:
.ascii "x"|a:
.ascii "x","y"|a:
.ascii "x" "y"|a:
.ascii "x" , "y"|a:
.ascii "x",|a:
.ascii ,"x"|a:
.ascii x
.ascii "x" y
.ascii 'x'
.ascii <65>|a:
.ascii "x"<65>"y"|a:
.ascii <65><66>|a:
.ascii <65,66>|a:
.ascii <x>
.ascii "\n\t\\\"\101\x41\r\b\f"|a:
.ascii "\x4142"|a:
.ascii "\400"|a:
.ascii "\q"|a:
.ascii "\8"|a:
.ascii "a|b"
.ascii "é"|a:
.asciz "x"|a:
.asciz "x" "y"|a:
.asciz "x","y"|a:
.asciz|a:
.asciz ""|a:
.string "x"|a:
.string8 "x"|a:
.string16 "x"|a:
.string32 "x"|a:
.string64 "x"|a:
.string16 "x","yy"|a:
.string16 "x" "yy"|a:
.string16 "x" 1
.string32 <65>|a:
.string16|a:
.asciz <65>|a:
.asciz <65>"x"|a:
.ASCII "x"|a:
-- space and fill
.space 4|a:
.space|a:
.space 0|a:
.space -1|a:
.space 4,1|a:
.space 4,300|a:
.space 4 1
.space 4,|a:
.space 4,x
.space 4,x|x=1
.space x|x=4|a:
.space y-x|x: .byte 1,2|y:|a:
.space x-y|x: .byte 1,2|y:|a:
.space ext
.space .|a:
.byte 1|.space .|a:
.space "x"
.space 1f-1b|1:
1: .space 4|2: .space 2b-1b|a:
.space 4*2|a:
.space 4.5
.skip 4,2|a:
.zero 4|a:
.zero 4,1|a:
.zero
.zero -1|a:
.fill 3|a:
.fill 3,2|a:
.fill 3,2,1|a:
.fill 3,8,1|a:
.fill 3,9,1|a:
.fill 3,0,1|a:
.fill 3,-1,1|a:
.fill -3,1,1|a:
.fill 0|a:
.fill|a:
.fill 3,|a:
.fill 3,2,|a:
.fill 3,,1|a:
.fill ,2
.fill 3,2,1,1
.fill 3 2
.fill x
.fill x|x=3|a:
.fill x,2|x=3|a:
.fill 3,x|x=2
.fill 3,2,x|x=2
.fill y-x,2|x: .byte 1,2|y:|a:
.fill 3,4,0x123456789|a:
.fill 3,8,0x123456789|a:
.fill 3,1,300|a:
.fill "x"
.nop|a:
.nop 1
.nop x
.thumb|.nop|a:
.nops 4|a:
.nops 8,4|a:
.nops
.nops -1
.nops x
.nops 4,4,4
.nops 3
.nops 0|a:
.thumb|.nops 4|a:
-- inst
.inst 0xe1a00000|a:
.inst 0xe1a00000,0xe1a00000|a:
.inst|a:
.inst 1,|a:
.inst x
.inst x|x=3
.inst 0x1ffffffff
.inst -1|a:
.inst ext
.inst "x"
.inst.n 0x4770
.inst.w 0xe1a00000|a:
.inst.w 0x1e1a00000
.thumb|.inst 0x4770|a:
.thumb|.inst 0xf3af8000|a:
.thumb|.inst 0xe800|a:
.thumb|.inst 0xe7ff|a:
.thumb|.inst 0xf000|a:
.thumb|.inst 0x12345|a:
.thumb|.inst 0xe7ff0000|a:
.thumb|.inst 0xe8000000|a:
.thumb|.inst.n 0x4770|a:
.thumb|.inst.n 0x14770|a:
.thumb|.inst.n 0xe800|a:
.thumb|.inst.n 0xf000|a:
.thumb|.inst.w 0xf3af8000|a:
.thumb|.inst.w 0x4770|a:
.thumb|.inst.w 0xe7ff0000|a:
.thumb|.inst.w 0xe8000000|a:
.thumb|.inst 0x4770,0xf3af8000|a:
.thumb|.inst -1
.thumb|.inst.n -1
.thumb|.inst 0
.thumb|.inst x|x=3
.inst.x 3
.syntax unified|.thumb|it eq|.inst 0x4770
.syntax unified|.thumb|it eq|.inst.n 0xbf00|a:
-- symbols
.global a|a:
.global
.global a b
.global a,b
.global a,
.global ,a
.global 3
.global "a b"
.global a+1
.global a b c|.byte 1
.globl a|a:
.weak a,b
.weak
.weak a b
.weak a,
.weak 3
.weak a|a:
.extern
.extern a b
.extern 3
.extern a,,b
.extern (
.hidden a
.hidden a,b
.hidden
.hidden a b
.hidden a,
.hidden 3
.internal a
.protected a
.protected a,b|a:
.local a
.local a,b
.local
.local a b
.local 3
.local a|.global a
.local a|.comm a,4
.symver a,a@V1
.symver a,b@@V1
.symver a,b@@@V1
.symver a
.symver a,b
.symver
.symver a,b@
.symver a b@V
.symver a,b@V,local
.symver a,b@V,foo
.symver a,b@V,remove
.symver a,b@V1|a:
.symver a,a@@V1|a:|.global a
.weakref a,b
.weakref a
.weakref
.weakref a b
.weakref a,a
.weakref a,b|.word a
.weakref a,b|a:
.weakref a,b|.weakref b,a
.weakref a,3
.weakref a,b x
.comm a,4
.comm a,4,4
.comm a,4,3
.comm a,4,0
.comm a
.comm
.comm a,
.comm a 4
.comm a,x
.comm a,-1
.comm a,4,4,4
.comm a,4|a:
a:|.comm a,4
.comm a,4|.comm a,8
.comm a,4|.comm a,4
.comm "a b",4
.comm 3,4
.comm a,4,x
.comm a,0
.comm a,4 4
.comm a,4,"x"
.common a,4
.common a,4,4
.common a
.common.s a,4
.common a,4,"bss"
.common a,4,"x"
.common a,4,3
.tls_common a,4
.tls_common a,4,4
.lcomm a,4|.bss|b: .byte 0
.lcomm a,4,8|.bss|b: .byte 0
.lcomm a,3|.lcomm b,4|.lcomm c,8|.lcomm d,1|.lcomm e,16
.byte 1|.lcomm a,3|b: .byte 1
.lcomm a
.lcomm
.lcomm a,x
.lcomm a,-1
.lcomm a,4,3
.lcomm a,4|a:
.lcomm a,4,4,4
.lcomm a 4
.lcomm a,4|.word a
.bss|.byte 0|.lcomm a,4,8|b:
.size a,4
.size a,4|a:
.size a
.size
.size a,
.size a 4
.size a,.-a|a:
a: .word 1|.size a,.-a
a: .word 1|.size a,b
.size a,x-y|x: .byte 1|y:
.size a,4 4
.size a,4,4
.size 3,4
.size a,"x"
.size .,4
.type a,%function
.type a,@function
.type a,#function
.type a,"function"
.type a,function
.type a,STT_FUNC
.type a STT_FUNC
.type a %function
.type a,%object
.type a,%tls_object
.type a,%common
.type a,%notype
.type a,%gnu_indirect_function
.type a,%gnu_unique_object
.type a,%foo
.type a
.type
.type a,
.type a,%function x
.type a,%function,3
.type a,10
.type a,%10
.type 3,%function
.type "a b",%function
.type a,% function
.type a,STT_OBJECT
.type a,STT_FOO
.type a,%FUNCTION
.type a , %function
.type a,b,%function
.equ a,4
.equ a
.equ a,
.equ a 4
.equ 3,4
.equ a,4,5
.equ a,4 5
.equ "a b",4
.equ a,b|.equ b,4|.word a
.equ a,a
.equ a,b|.equ b,a
.equ a,b|.equ b,a|.word a
.set a,4|.set a,a+1|.word a
.set a,a+1
.set a,4|a:
a:|.set a,4
.equiv a,4|.equiv a,5
.equiv a,4|.set a,5
.set a,4|.equiv a,5
.equiv a,b|b:
.equiv a,4|a:
.eqv a,b|b=4|.word a
.eqv a,b+1|.set b,4|.word a|.set b,5|.word a
.eqv a,4|.eqv a,5
.eqv a,4|.set a,5
.eqv a,.|.byte 1|.word a
.equ .,4
.set .,8|a:
a==4|.word a
a==4|a==5
a=4|a==5
a==4|a=5
a=|.byte 1
a= 4 5
a=4,5
a = b|b = 4|.word a
a = r0
a = r0|mov a,#3
a = "x"
.thumb_set a,b|.thumb|b: nop
.thumb_set a,4
.thumb_set a
.thumb_set
.thumb_set a,b|.thumb_set a,c
.thumb_set a,b c
.thumb_set 3,4
.thumb_set a,b+2|b: nop
.thumb_set a,b|a:
.thumb_func|a: .word a
.thumb_func a|a: .word a
.thumb_func x y
.thumb_func 3
.thumb_func
.xref a
.xdef a
.xcom a,4
.ref a
.ref a b
.lsym a,4
.lsym a,b
.lsym a
.desc a,1
-- state
.thumb x
.arm x
.force_thumb|mov r0,r1|a:
.force_thumb x
.code 16|mov r0,r1|a:
.code 32|mov r0,r1|a:
.code 17
.code
.code 16 16
.code x
.code 8*2|mov r0,r1|a:
.thumb|mov r0,r1|.code 32|mov r0,r1|a:
.syntax unified
.syntax divided
.syntax UNIFIED
.syntax unified x
.syntax foo
.syntax
.syntax "unified"
.object_arch armv4t
.object_arch foo
.object_arch
.object_arch armv4t x
.object_arch armv7-m
.object_arch armv4t+fp
.object_arch all
.arch armv4t x
.cpu cortex-m0 x
.fpu vfpv2 x
.fpu
.fpu softvfp
.fpu neon
.arch_extension idiv
.arch_extension nosec
.arch_extension foo
.arch_extension
.req
x .req
x .req r0 r1
x .req foo
x .req r0|x .req r0
x .req r0|x .req r1
.unreq
.unreq r0
.unreq x
x .req r0|.unreq x y
x .req r0|.unreq x|add x,x,#1
x .dn d0
x .dn d0.i32
x .dn 0
x .dn
x .qn q0
x .qn q0.foo
.dn d0
.ltorg x
.pool x
.ltorg|.pool|a:
ldr r0,=0x12345678|.ltorg|a:
.LTORG|.Pool
.end x
.end|bad
.mri 1
.mri 0
.mri
.mri x
.abort
.err
.err x
.error
.error "x"
.error x
.error "x" y
.fail 1
.fail 500
.fail 499
.fail
.fail x
.warning
.warning "x"
.warning x
.warning "x","y"
.print "x"
.print
.print x
.print "x" y
.print "x","y"
-- notes, lists and debugging
.ident "x"
.ident
.ident x
.ident "x" y
.ident "x","y"
.version "1"
.version
.version x
.version "1" x
.version "1","2"
.file "x"
.file
.file x
.file 1 "x"
.file 1 x
.file 1
.file "x" y
.file -1 "x"
.file 1 "d" "x"
.file 1 "d" "x" md5 0x123
.file 0 "x"
.file 0 "d" "x"|.file 1 "d" "x"
.file 0 "x"|.file 1 "d" "x"
.loc 1 1
.file 1 "x"|.loc 1 1
.file 1 "x"|.loc 1 1 1
.file 1 "x"|.loc 1 1 1 is_stmt 1
.file 1 "x"|.loc 1 1 1 is_stmt 2
.file 1 "x"|.loc 1 1 prologue_end
.file 1 "x"|.loc 1 1 basic_block
.file 1 "x"|.loc 1 1 epilogue_begin
.file 1 "x"|.loc 1 1 isa 1
.file 1 "x"|.loc 1 1 isa -1
.file 1 "x"|.loc 1 1 discriminator 1
.file 1 "x"|.loc 1 1 view 0
.file 1 "x"|.loc 1 1 view foo
.file 1 "x"|.loc 1 1 foo
.file 1 "x"|.loc 1
.file 1 "x"|.loc 2 1
.file 1 "x"|.loc
.file 1 "x"|.loc 1 x
.file 1 "x"|.loc 1 1, 1
.file 1 "x"|.file 1 "y"
.file 1 "x"|.loc_mark_labels 1
.loc_mark_labels 0
.loc_mark_labels 2
.loc_mark_labels
.line 1
.line
.line x
.line 1 2
.ln 1
.linefile 1 "x"
.linefile 1
.linkonce
.linkonce discard
.linkonce foo
.linkonce one_only
.linkonce same_size
.linkonce same_contents
.list
.list x
.nolist
.nolist 1
.title "x"
.title x
.title
.sbttl "x"
.sbttl
.psize 1,2
.psize 1
.psize x
.psize
.eject
.eject x
.page
.lflags x
.llen 1
.llen
.plen 1
.noformat
.nopage
.name x
.debug
.format
.spc
.ttl "x"
.func a
.func a,b|b: .endfunc
.func a|.endfunc
.func
.endfunc
.func a|.func b
.func a|a: nop
.func a|a: nop|.endfunc
.stabs "x",1,2,3,4
.stabs "x",1,2,3
.stabs
.stabn 1,2,3,4
.stabn 1
.stabd 1,2,3
.stabd
.def x
.def x|.endef
.def|.val 3|.endef
.endef
.appfile "x"
.appline 3
.asmfunc
.asmfunc x
.endasmfunc
a: .asmfunc|nop|.endasmfunc
-- attributes, relocations
.eabi_attribute 6,10
.eabi_attribute Tag_CPU_arch,10
.eabi_attribute Tag_CPU_name,"x"
.eabi_attribute Tag_CPU_name,5
.eabi_attribute Tag_CPU_arch,"x"
.eabi_attribute CPU_arch,10
.eabi_attribute Tag_foo,1
.eabi_attribute 6
.eabi_attribute
.eabi_attribute 6,
.eabi_attribute 6 10
.eabi_attribute 6,10,11
.eabi_attribute 6,x
.eabi_attribute 6,x|x=3
.eabi_attribute 32,1,"x"
.eabi_attribute 32,1
.eabi_attribute Tag_compatibility,1,"gnu"
.eabi_attribute 5,"7-A"
.eabi_attribute 67,"2.09"
.eabi_attribute 4,"x"
.eabi_attribute 70,1
.eabi_attribute 65,1,2
.eabi_attribute 64,1
.eabi_attribute 1000,1
.eabi_attribute 1001,"x"
.eabi_attribute 1001,1
.eabi_attribute -1,1
.eabi_attribute Tag_ABI_VFP_args,1
.eabi_attribute Tag_nodefaults,0
.eabi_attribute Tag_conformance,"2.09"
.eabi_attribute Tag_DIV_use,1
.eabi_attribute tag_cpu_arch,1
.gnu_attribute 4,1
.gnu_attribute 4,"x"
.gnu_attribute
.gnu_attribute 32,1,"x"
.gnu_attribute 5,"x"
.gnu_attribute 5,1
.attach_to_group g
.attach_to_group
.section .q,"a"|.attach_to_group g
.reloc 0,R_ARM_NONE
.reloc 0,R_ARM_NONE,x
.reloc 0,R_ARM_NONE,x+4|nop
.reloc 0,R_ARM_ABS32,x|.word 0
.reloc .,R_ARM_ABS32,x|.word 0
.reloc a,R_ARM_ABS32,x|a: .word 0
.reloc a+4,R_ARM_ABS32,x|a: .word 0,0
.reloc 0,R_FOO,x
.reloc 0,BFD_RELOC_32,x|.word 0
.reloc 0,BFD_RELOC_NONE
.reloc
.reloc 0
.reloc 0,
.reloc 0,R_ARM_NONE,
.reloc 0,R_ARM_NONE,x y
.reloc -1,R_ARM_NONE
.reloc ext,R_ARM_NONE
.reloc 100,R_ARM_ABS32,x
.reloc 0,2,x
.reloc 0 R_ARM_NONE
.reloc 0,R_ARM_V4BX
.reloc 0,r_arm_none
.reloc 0,R_ARM_NONE,4
.data|b: .byte 0|.text|.reloc b,R_ARM_NONE
.tlsdescseq x
.tlsdescseq
.tlsdescseq 3
.tlsdescseq x|nop
.tlsdescseq x y
.tlsdescseq x|x:
.secrel32 x
.rva x
.rva
.rel31 0,x
.rel31 1,x
.rel31 2,x
.rel31 1
.rel31 1,x y
.rel31
.rel31 0,x|a:
.vtable_inherit a,b
.vtable_inherit a
.vtable_inherit
.vtable_inherit a,0
.vtable_inherit a,b|a: .word 0
.vtable_entry a,4
.vtable_entry a
.vtable_entry
.bundle_align_mode 4
.bundle_align_mode 0
.bundle_align_mode 31
.bundle_align_mode x
.bundle_align_mode
.bundle_lock
.bundle_align_mode 4|.bundle_lock|.bundle_unlock
.bundle_align_mode 4|.bundle_lock align_to_end|.bundle_unlock
.bundle_align_mode 4|.bundle_lock foo
.bundle_align_mode 4|.bundle_unlock
.bundle_unlock
.bundle_align_mode 4|.bundle_lock
.base64 "QQ=="
.lto_discard a
.pe_aligncomm a,2
.nobound
.incbin "nope"
.incbin
.incbin nope
.incbin "nope",1,2,3
.include
.include "nope"
-- unwinding
.fnstart|nop|.fnend
.fnstart|.fnstart
.fnstart
.fnend
.fnstart x
.fnstart|.fnend x
.fnstart|.cantunwind|.fnend
.cantunwind
.fnstart|.cantunwind x|.fnend
.fnstart|.cantunwind|.save {r4}|.fnend
.fnstart|.save {r4}|.cantunwind|.fnend
.fnstart|.cantunwind|.cantunwind|.fnend
.fnstart|.cantunwind|.personality x|.fnend
.fnstart|.personality x|.cantunwind|.fnend
.fnstart|.cantunwind|.handlerdata|.fnend
.personality x
.fnstart|.personality x|.fnend
.fnstart|.personality x|.handlerdata|.word 1|.fnend
.fnstart|.personality|.fnend
.fnstart|.personality x y|.fnend
.fnstart|.personality 3|.fnend
.fnstart|.personality x|.personality y|.fnend
.fnstart|.personalityindex 0|.fnend
.fnstart|.personalityindex 1|.fnend
.fnstart|.personalityindex 2|.fnend
.fnstart|.personalityindex 3|.fnend
.fnstart|.personalityindex 15|.fnend
.fnstart|.personalityindex 16|.fnend
.fnstart|.personalityindex -1|.fnend
.fnstart|.personalityindex x|.fnend
.fnstart|.personalityindex|.fnend
.fnstart|.personalityindex 0|.personalityindex 1|.fnend
.fnstart|.personalityindex 0|.handlerdata|.fnend
.fnstart|.personalityindex 1|.handlerdata|.fnend
.personalityindex 0
.handlerdata
.fnstart|.handlerdata|.fnend
.fnstart|.handlerdata|.handlerdata|.fnend
.fnstart|.handlerdata x|.fnend
.fnstart|.handlerdata|.word 1|a: .fnend|b: nop
.fnstart|.personality x|.handlerdata|.word 1|.fnend|b: nop
.save {r4}
.fnstart|.save {r4,lr}|.fnend
.fnstart|.save {r4-r7,r9,lr}|.fnend
.fnstart|.save {r0-r3}|.fnend
.fnstart|.save {r4-r15}|.fnend
.fnstart|.save {sp}|.fnend
.fnstart|.save {}|.fnend
.fnstart|.save|.fnend
.fnstart|.save r4|.fnend
.fnstart|.save {d8}|.fnend
.fnstart|.save {d8-d15}|.fnend
.fnstart|.save {d16-d20}|.fnend
.fnstart|.save {d8-d20}|.fnend
.fnstart|.save {s16-s31}|.fnend
.fnstart|.save {f4}|.fnend
.fnstart|.save f4,1|.fnend
.fnstart|.save f4,2|.fnend
.fnstart|.save f4,5|.fnend
.fnstart|.save f4|.fnend
.fnstart|.save {wr10}|.fnend
.fnstart|.save {wr10-wr12}|.fnend
.fnstart|.save {wcgr0}|.fnend
.fnstart|.save {r4},{r5}|.fnend
.fnstart|.save {r4,x}|.fnend
.fnstart|.save {r7-r4}|.fnend
.fnstart|.save {r4,r4}|.fnend
.fnstart|.save {ra_auth_code}|.fnend
.fnstart|.save {r4,ra_auth_code}|.fnend
.fnstart|.save {r4} x|.fnend
.fnstart|.save {x}|.fnend
x .req r4|.fnstart|.save {x}|.fnend
.fnstart|.vsave {d8}|.fnend
.fnstart|.vsave {d8-d15}|.fnend
.fnstart|.vsave {d8-d20}|.fnend
.fnstart|.vsave {r4}|.fnend
.fnstart|.vsave {s16}|.fnend
.fnstart|.vsave|.fnend
.fnstart|.vsave {q4}|.fnend
.fnstart|.vsave {d8,d10}|.fnend
.vsave {d8}
.pad #4
.fnstart|.pad #4|.fnend
.fnstart|.pad #8+4|.fnend
.fnstart|.pad 4|.fnend
.fnstart|.pad #3|.fnend
.fnstart|.pad #-4|.fnend
.fnstart|.pad #0|.fnend
.fnstart|.pad #2000|.fnend
.fnstart|.pad #x|.fnend
.fnstart|.pad|.fnend
.fnstart|.pad #4 x|.fnend
.fnstart|.pad #4,5|.fnend
.fnstart|.setfp fp,sp|.fnend
.fnstart|.setfp fp,sp,#8|.fnend
.fnstart|.setfp r7,sp,#8|.fnend
.fnstart|.setfp fp,r7|.fnend
.fnstart|.setfp fp,fp|.fnend
.fnstart|.setfp fp,sp,8|.fnend
.fnstart|.setfp fp,sp,#3|.fnend
.fnstart|.setfp fp,sp,#x|.fnend
.fnstart|.setfp fp|.fnend
.fnstart|.setfp|.fnend
.fnstart|.setfp fp sp|.fnend
.fnstart|.setfp sp,sp|.fnend
.fnstart|.setfp pc,sp|.fnend
.fnstart|.setfp fp,sp|.setfp r7,fp|.fnend
.fnstart|.setfp fp,sp|.setfp r7,sp|.fnend
.fnstart|.setfp fp,sp,#4,5|.fnend
.setfp fp,sp
.fnstart|.movsp r7|.fnend
.fnstart|.movsp r7,#4|.fnend
.fnstart|.movsp sp|.fnend
.fnstart|.movsp pc|.fnend
.fnstart|.movsp r7|.movsp r8|.fnend
.fnstart|.movsp|.fnend
.fnstart|.movsp x|.fnend
.fnstart|.movsp r7,4|.fnend
.fnstart|.setfp fp,sp|.movsp r7|.fnend
.fnstart|.movsp r7 x|.fnend
.movsp r7
.fnstart|.unwind_raw 0,0xb0|.fnend
.fnstart|.unwind_raw 4,0xb1,0x01|.fnend
.fnstart|.unwind_raw 0|.fnend
.fnstart|.unwind_raw|.fnend
.fnstart|.unwind_raw 0,256|.fnend
.fnstart|.unwind_raw 0,-1|.fnend
.fnstart|.unwind_raw 0,x|.fnend
.fnstart|.unwind_raw x,0xb0|.fnend
.fnstart|.unwind_raw 0,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16|.fnend
.fnstart|.unwind_raw 0,1,2,3,4,5,6,7,8,9,10,11,12,13,14,15,16,17|.fnend
.fnstart|.unwind_raw 0 1|.fnend
.unwind_raw 0,0xb0
.fnstart|.pacspval|.fnend
.pacspval
.fnstart|.pacspval x|.fnend
.fnstart|.save {r4}|.pad #4|.setfp fp,sp,#4|.fnend|.fnstart|.fnend
.fnstart|.handlerdata|.fnend|.fnend
.fnstart|.save {r4}|.handlerdata|.save {r5}|.fnend
.fnstart|.data|.fnend|a: .byte 1
.data|.fnstart|.text|.fnend
.fnstart|.handlerdata|a: .word 1|.fnend|b: .word 1|.previous|c: .word 1
.thumb|.fnstart|.save {r4}|push {r4}|.fnend
-- call frame information
.cfi_startproc|nop|.cfi_endproc
.cfi_startproc simple|nop|.cfi_endproc
.cfi_startproc foo|nop|.cfi_endproc
.cfi_startproc
.cfi_endproc
.cfi_startproc|.cfi_startproc|.cfi_endproc
.cfi_startproc|.cfi_endproc x
.cfi_startproc|.data|.cfi_endproc
.cfi_startproc|.data|.cfi_def_cfa_offset 8|.text|.cfi_endproc
.cfi_startproc|.cfi_def_cfa 13,8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa sp,8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa r13, 8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa foo,8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa 13|.cfi_endproc
.cfi_startproc|.cfi_def_cfa|.cfi_endproc
.cfi_startproc|.cfi_def_cfa 13 8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa 13,8,9|.cfi_endproc
.cfi_startproc|.cfi_def_cfa 13,x|.cfi_endproc
.cfi_def_cfa 13,8
.cfi_startproc|.cfi_def_cfa_register fp|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_register 200|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_register -1|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_register|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_offset 8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_offset x|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_offset|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_offset 8 8|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_offset 4*2|.cfi_endproc
.cfi_startproc|.cfi_def_cfa_offset k|.cfi_endproc|k=4
.cfi_def_cfa_offset 8
.cfi_adjust_cfa_offset 8
.cfi_startproc|.cfi_adjust_cfa_offset -8|.cfi_endproc
.cfi_startproc|.cfi_offset r4,-8|.cfi_endproc
.cfi_startproc|.cfi_offset 4,-8|.cfi_endproc
.cfi_startproc|.cfi_offset lr,-4|.cfi_endproc
.cfi_startproc|.cfi_offset d8,-8|.cfi_endproc
.cfi_startproc|.cfi_offset s16,-8|.cfi_endproc
.cfi_startproc|.cfi_offset q4,-8|.cfi_endproc
.cfi_startproc|.cfi_offset LR,-8|.cfi_endproc
.cfi_startproc|.cfi_offset a1,-8|.cfi_endproc
.cfi_startproc|.cfi_offset cpsr,-8|.cfi_endproc
.cfi_startproc|.cfi_offset ra_auth_code,-8|.cfi_endproc
.cfi_startproc|.cfi_offset r4|.cfi_endproc
.cfi_startproc|.cfi_offset r4,-3|.cfi_endproc
.cfi_startproc|.cfi_offset 0x100,-8|.cfi_endproc
.cfi_startproc|.cfi_offset %r4,-8|.cfi_endproc
.cfi_startproc|.cfi_offset 4+1,-8|.cfi_endproc
x .req r4|.cfi_startproc|.cfi_offset x,-8|.cfi_endproc
x = 4|.cfi_startproc|.cfi_offset x,-8|.cfi_endproc
.cfi_startproc|.cfi_rel_offset r4,8|.cfi_endproc
.cfi_startproc|.cfi_register r4,r5|.cfi_endproc
.cfi_startproc|.cfi_register r4|.cfi_endproc
.cfi_startproc|.cfi_return_column 14|.cfi_endproc
.cfi_startproc|.cfi_return_column lr|.cfi_endproc
.cfi_startproc|.cfi_restore r4|.cfi_endproc
.cfi_startproc|.cfi_restore r4,r5|.cfi_endproc
.cfi_startproc|.cfi_restore r4 r5|.cfi_endproc
.cfi_startproc|.cfi_restore|.cfi_endproc
.cfi_startproc|.cfi_restore r4,|.cfi_endproc
.cfi_startproc|.cfi_undefined r4|.cfi_endproc
.cfi_startproc|.cfi_same_value r4|.cfi_endproc
.cfi_startproc|.cfi_remember_state|.cfi_restore_state|.cfi_endproc
.cfi_startproc|.cfi_restore_state|.cfi_endproc
.cfi_startproc|.cfi_remember_state x|.cfi_endproc
.cfi_startproc|.cfi_remember_state|.cfi_endproc
.cfi_startproc|.cfi_window_save|.cfi_endproc
.cfi_startproc|.cfi_negate_ra_state|.cfi_endproc
.cfi_startproc|.cfi_escape 1,2,3|.cfi_endproc
.cfi_startproc|.cfi_escape|.cfi_endproc
.cfi_startproc|.cfi_escape 1 2|.cfi_endproc
.cfi_startproc|.cfi_escape x|.cfi_endproc
.cfi_startproc|.cfi_escape 300|.cfi_endproc
.cfi_startproc|.cfi_escape 1,|.cfi_endproc
.cfi_escape 1
.cfi_sections .debug_frame
.cfi_sections .eh_frame
.cfi_sections .eh_frame, .debug_frame
.cfi_sections .eh_frame .debug_frame
.cfi_sections .foo
.cfi_sections
.cfi_sections .eh_frame_entry
.cfi_sections .sframe
.cfi_sections ".debug_frame"
.cfi_startproc|.cfi_endproc|.cfi_sections .debug_frame
.cfi_startproc|nop|.cfi_sections .debug_frame|.cfi_endproc
.cfi_startproc|.cfi_signal_frame|.cfi_endproc
.cfi_startproc|.cfi_signal_frame x|.cfi_endproc
.cfi_startproc|.cfi_personality 0,x|.cfi_endproc
.cfi_startproc|.cfi_personality 0x9b,x|.cfi_endproc
.cfi_startproc|.cfi_personality 0xff|.cfi_endproc
.cfi_startproc|.cfi_personality 0|.cfi_endproc
.cfi_startproc|.cfi_personality|.cfi_endproc
.cfi_startproc|.cfi_personality 300,x|.cfi_endproc
.cfi_startproc|.cfi_personality 5,x|.cfi_endproc
.cfi_startproc|.cfi_personality 0,3|.cfi_endproc
.cfi_startproc|.cfi_personality 0 x|.cfi_endproc
.cfi_startproc|.cfi_personality_id 1|.cfi_endproc
.cfi_startproc|.cfi_lsda 0,x|.cfi_endproc
.cfi_startproc|.cfi_lsda 0x1b,x|.cfi_endproc
.cfi_startproc|.cfi_lsda 0xff|.cfi_endproc
.cfi_startproc|.cfi_lsda x|.cfi_endproc
.cfi_startproc|.cfi_lsda|.cfi_endproc
.cfi_startproc|.cfi_val_encoded_addr r4,0,x|.cfi_endproc
.cfi_startproc|.cfi_val_encoded_addr r4,0|.cfi_endproc
.cfi_startproc|.cfi_val_offset r4,8|.cfi_endproc
.cfi_startproc|.cfi_label foo|.cfi_endproc|.word foo
.cfi_startproc|.cfi_label|.cfi_endproc
.cfi_startproc|.cfi_fde_data 1,2|.cfi_endproc
.cfi_startproc|.cfi_fde_data|.cfi_endproc
.cfi_startproc|.cfi_inline_lsda|.cfi_endproc
.cfi_startproc|.cfi_endproc|.cfi_inline_lsda
.cfi_inline_lsda
.CFI_STARTPROC|.CFI_ENDPROC
.cfi_startproc|.cfi_endproc|.cfi_endproc
-- macros of other dialects and conditions in passing
.elsec
.endc
.mexit
.if 1|.elsec|.endc
.altmacro|.noaltmacro
.noaltmacro x
.macro m|.rept 2|.byte 1|.endm|m|.endr
.macro m|.rept 2|.byte 1|.endm|m|.byte 2|.endr|a:
.macro m n|.irp x,1,2|.byte \n|.endm|m 3|.byte \x|.endr|a:
.nosuch
.nosuch 3
.nosuch.x
.foo: .byte 1
.word: .byte 1
.align: .byte 1
-- floating-point numbers in pieces
.float 0x 1
.float 0x :12
.float 0x: 12
.float 0x -1
.float 0x- 1
.float 0f + 1
.float 0f.5
.float 0f .5
.float 0x inf
.float 0xinf
.double 0d nan
.float 0x ,1
.float 0x , 0f1
.float 1e+ 5
-- local labels that are looked for above, and stand nowhere
.space 1,1b
1: .space 1,1b
.space 1,1f|1:
.skip 2,1b
.zero 1,1b
.ds.b 2,1b
.dcb.b 2,1b
.dcb.b 2,1f|1:
.org 1b
1: .org 1b
.org 1b+4-1b
.org 1f|1:
-- what takes any slot of an IT block, and none
.syntax unified|.thumb|nopne|udfne|udfne #1|nopeq.w|udfne.w #1
.syntax unified|.thumb|it ne|nopeq.w|it ne|nop.w|it ne|udf.w #1|it ne|udfeq|it ne|nop
.syntax unified|.thumb|yieldne
.syntax unified|.thumb|it ne|yieldeq.w
-- the last size of a symbol holds
.size x,y-x|x:|.data|y:|.size x,4
.size x,4|.size x,y-x|x:|.data|y:
.size x,y-x|x:|.data|y:|.size x,y-x
.size x,ext|x:|.size x,4
.size x,ext|x:|.size y,4
.size x,1b|x:|.size x,5
.size x,1f|x:
-- views
.file 1 "x"|nop|.loc 1 1 view foo|nop|.loc 1 2 view bar|nop|.uleb128 foo|.uleb128 bar|.byte bar|.word bar-foo
.file 1 "x"|foo: nop|.loc 1 1 view foo|nop
.file 1 "x"|nop|.loc 1 1 view foo|nop|.loc 1 2 view foo|nop
.file 1 "x"|nop|.loc 1 1 view foo|nop|mov r0,#foo
-- '#' behind a relocation operator
movw r0,#:lower16:#x
.syntax unified|movw r0,#:lower16:#x|movt r0,:upper16:# x|movw r0,#:lower16:#(x)|movt r0,#:upper16:#4
movw r0,#:lower16:##x
movw r0,:lower16:(#x)
.arch armv6s-m|.syntax unified|.thumb|movs r0,#:upper8_15:#x|adds r0,#:lower0_7:#x+3
-- tabs between the parts of typed names
.fpu neon|el2 .dn	d6[0]
.fpu neon|el2	.dn	d6.16[1]
.fpu neon|el2	.qn	q3.i16
.fpu neon|el2	.qn	
-- relocations of names that .set gave to places
.arch armv6s-m|.syntax unified|.thumb|nop|movs r3,#:upper8_15:#a|movs r3,#:upper8_15:b|movs r3,#:upper8_15:c+1|.section .rodata|.set a,. + 0|.word 1|b: .set c,.|.word 5
.arch armv6s-m|.syntax unified|.thumb|nop|movs r3,#:upper8_15:c-1|.section .rodata|.word 1|.set c,.
.arch armv6s-m|.syntax unified|.thumb|nop|movs r3,#:upper8_15:c+256|.section .rodata|.word 1|.set c,.
.file 0 "d" "f.c" md5 0xcf35e15f9b78ab116f004213c899b007|.file 1 "d" "g.h" md5 0x86789356e8b88b707fc46d65154c5e9a|.loc 0 77 0|nop
.file 1 "f.c" md5 0xcf35e15f9b78ab116f004213c899b007|.loc 1 1|nop
.file 0 "d" "f.c"	md5	0xcf35e15f9b78ab116f004213c899b007
.file 0 "d" "f.c" md5
.file 0 "d" "f.c" md6 0x12
.file 0 "d" "f.c" md5 0x12
.file 0 "d" "f.c"|.file 1 "f.c" md5 x
.file 0 "d" "f.c"|.file 1 "f.c" md5 0xcf35e15f9b78ab116f004213c899b007|.loc 1 1|nop
.file 1 "f.c" x|.loc 1 1|nop
-- LLVM's own
.addrsig
.addrsig_sym x
.addrsig x
.addrsig_sym
-- statements that a comment or a string takes into the next line
.byte 1, /* red| lamp */ 2|x: .byte 3
.byte 1 /* a|b */, 2|x:
movs r0, /* a|b */ #1|x:
push {r0, /* a|b */ r1}|x:
push {r0, /* a|b */ r1|x:
.asciz "x" /* a|b */ "y"|x:
.asciz "x" /* a|b */ , /* c||d */ "y"|x:
nop /* a|b */ nop
nop /* a|b */|x: nop
nop /* a|b */ ; x: nop
nop /* a|b */ @ x: nop
nop /* a|b */ /* c| d */ nop
nop /* a|b */ /* c| d */ ; x: nop
nop /* a|b */ x: nop
nop /* a|b */ # nop
x: /* a|b */ nop|y:
x: /* a|b */ # nop|y:
movs r0, #1 /* on|*/ movs r1, #2
.align 2 /* a|b */ nop
.if 1 /* a|b */ nop
.if 1 /* a|b */|x: nop|.endif
.if 0 /* a|b */ + 1|x: nop|.endif
.arm /* a|b */ nop
.set x, 1 /* a|b */ nop
.set x, 1 /* a|b */ + 2
x /* a| */ = 5
x = /* a| */ 5|.byte x|y:
lamp /* a| */ .req r3|movs lamp, #1
lamp /* a */ .req r3|movs lamp, #1
.macro m x|.byte \x|.endm|m /* a|b */ 7|y:
.macro m /* a| */ x|.byte \x|.endm|m 7|y:
.macro m|push {r0, /* a| b */ r1}|.endm|m|x: m|y:
.rept 2|.byte 1, /* a| b */ 2|.endr|y:
.ascii "a|b"|x:
.ascii "a\\|b"|x:
.ascii "a\|b"|x:
.ascii "a|.ascii "b"|x:
.ascii "a|b", "c"|x:
.ascii "a|b" nop
.ascii "a|b"; x: nop
.ascii "a|b|c" ; x: nop
.ascii "a|/* b */ @ c"|x:
.ascii "a|/* b @ c"|x: nop
.ascii "a" /* x| y */ , "b|c"|x:
.string16 "a|b"|x:
.warning "a|b"|x:
.ident "a|b"|x:
.macro m|.ascii "a|b"|.endm|m|x:
-- local labels with a dollar
55$: nop|bne 55$
f: bne 10$|nop|10$: bx lr|g: bne 10$|nop|10$: bx lr|x:
f: bne 10$|nop|g: bne 10$|10$: bx lr
f: nop|10$: nop|10$: nop
f: nop|10$: nop|1: nop|bne 10$
f: nop|10$: nop|.Lx: nop|bne 10$
f: nop|10$: nop|x=5|.set y, 3|bne 10$
f: nop|10$: nop|g: nop|bne 10$
f: nop|10$: nop|"g h": nop|bne 10$
f: nop|10$: nop|.section .rodata|.word 10$
f: nop|10$: nop|.word 10$-f, 10$+4|ldr r0, =10$|x:
f: nop|10$ : nop|bne 10$
f: nop|10 $: nop
f: nop|.macro m|10$: nop|bne 10$|.endm|m
f: nop|.macro m|10$: nop|bne 10$|.endm|m|m
.rept 2|10$: nop|bne 10$|.endr
f: nop|0$: nop|bne 0$|00$: nop
f: nop|0x1$: nop
f: bne 010$|8$: nop
f: bne 010$|10$: nop
f: bne 0x10$|16$: nop
f: bne 10$x|10$: nop
.global 10$|10$: nop
.if 10$-.|.endif|10$: nop
10$: nop|.set y, 10$|f: .word y
.word 10$|f: nop|.word 10$|10$: nop
ldr r0,=10$|ldr r1,=10$|10$: ldr r2,=10$|f: ldr r3,=10$|10$: nop|.ltorg|x:
-- names of registers that operands do not have
_led .req r4|movs _led, #1
led$ .req r4|movs led$, #1
led$ .req r4
lé .req r4|movs lé, #1
led_9 .req r4|movs led_9, #1
led.x .req r4
led.8 .req r4
led.f32.u8 .req r4
led.f32 .req r4|movs led.f32, #1
led.i .req r4
led.w8 .req r4
led.d64 .req r4
.ab .req r3
_led .req r4|.unreq _led
_led .req r4|_led: b _led
_led .req r4|.word _led
_led .req r4|push {_led}
_led .req r4|ldr r0, [_led]
.fpu neon|led .dn d4|vadd.f32 led, led, led
.fpu neon|_led .dn d4|vadd.f32 _led, _led, _led
.fpu neon|le$d .qn q4|vadd.f32 le$d, le$d, le$d
.fpu neon|led.x .qn q4
.fpu neon|.ab .dn d4
-- a relocation at the end of a section
nop|.reloc ., R_ARM_NONE, x
nop|.reloc .+1, R_ARM_NONE, x
.data|.byte 1|.reloc 1, R_ARM_NONE, x
.data|.byte 1|.reloc 2, R_ARM_NONE, x
-- a branch to a distance
.thumb|.syntax unified|b l-.|l: nop
.thumb|.syntax unified|beq (l-.)+4|l: nop
.thumb|.syntax unified|b m-l|l: nop|m: nop
.thumb|.syntax unified|b 5f-4b|4: nop|5: nop
.thumb|.syntax unified|4: b 5f-4b|5: nop
.thumb|.syntax unified|b .-l|l: nop
.thumb|.syntax unified|b.n l-.|l: nop
.thumb|.syntax unified|b l-2|l: nop
.thumb|.syntax unified|bl m-l|l: nop|m: nop
.thumb|.syntax unified|x=m-l|b x|l: nop|m: nop
.thumb|.syntax unified|b x+2|.set x, 4
.thumb|b l-.|l: nop
-- names that stand for others, twice
.weakref a,b|.weakref a,b
.weakref a,b|.weakref a,c
.weakref a,b|.set a,3
.weakref a,b|a=3
.weakref a,b|.equiv a,3
.weakref a,b|.comm a,4
.weakref a,b|.weakref b,c|.weakref c,d
.weakref a,b|.global a
.equ a,3|.weakref a,b|.weakref a,b
.macro m1,|.endm
.macro m1 ,	|.endm
.macro m1, a|.endm
`

// directiveText is a case as a source.
func directiveText(src string) string {
	return strings.ReplaceAll(strings.ReplaceAll(src, "|", "\n"), "¦", "|") + "\n"
}

// judgeSource compares the verdicts on a source with the reference's, line by
// line, and where it is taken the place of every label, the value of every symbol
// and the size of every section. It gives the first difference, and "".
func judgeSource(t *testing.T, text string, flags ...string) string {
	ref, asked := reftest.AssembleRecorded(t, reftest.Options{Arch: "armv7-a", Flags: flags}, text)
	if !asked {
		return ""
	}
	r, err := Analyze(context.Background(), &Input{Path: "test.s", File: syntax.Parse(".arch armv7-a\n" + text), Size: func(w assemble.Wanted) (int64, bool) { return 0, false }})
	if err != nil {
		return err.Error()
	}
	bad := map[int]string{}
	for _, d := range r.Each() {
		if d.Severity == finding.Error {
			line := r.in.File.LineAt(d.Span.Start)
			if u := r.prog.Sources[0].Unit; u != nil && slices.Contains(ref.ErrorLines, u.FirstLine(line)) {
				line = u.FirstLine(line) // the reference names the line where a statement begins
			}
			bad[line] = d.Code + ": " + d.Message
		}
	}
	return r.differs(ref, bad)
}

func (r *Result) differs(ref reftest.File, bad map[int]string) string {
	for l, m := range bad {
		if !slices.Contains(ref.ErrorLines, l) && (ref.OK || len(ref.ErrorLines) > 0) {
			return fmt.Sprintf("false alarm in line %d: %s", l, m)
		}
	}
	for _, l := range ref.ErrorLines {
		if bad[l] == "" {
			return fmt.Sprintf("silence on line %d", l)
		}
	}
	if !ref.OK {
		if len(bad) == 0 {
			return "silence"
		}
		return ""
	}
	for name, sym := range ref.Symbols {
		s := r.prog.SymbolOf(name)
		switch {
		case s == nil || !s.Defined:
			if sym.Section != "" && sym.Section != "*COM*" && sym.Section != ".group" && sym.Section != ".eh_frame" {
				return fmt.Sprintf("%s is at %s+%d, and not known here", name, sym.Section, sym.Value)
			}
		case s.Value.Kind == program.Number:
			if sym.Section != "*ABS*" || uint32(s.Value.N) != sym.Value {
				return fmt.Sprintf("%s is %d, reference %s+%d", name, s.Value.N, sym.Section, sym.Value)
			}
		case s.Value.Kind == program.Address:
			if got := r.prog.Sections[s.Value.Section].Name; got != sym.Section || uint32(s.Value.N) != sym.Value {
				return fmt.Sprintf("%s is at %s+%d, reference %s+%d", name, got, s.Value.N, sym.Section, sym.Value)
			}
		}
	}
	for i := range r.prog.Sections {
		s := &r.prog.Sections[i]
		if int(s.Main) != i {
			continue
		}
		n, ok := ref.Sizes[s.Name]
		if ok && n != s.Size && (!s.Exec || n != (s.Size+3)&^3 && n != (s.Size+1)&^1) {
			return fmt.Sprintf("%s has %d bytes, reference %d", s.Name, s.Size, n)
		}
	}
	return ""
}

// knownDirectives are the sources where we judge otherwise, with the reason.
var knownDirectives = map[string]string{
	".text 1|a: .byte 1|.text 0|b: .byte 1|.space a-b": "a size that hangs on itself",
	".bss|ldr r0,=0x12345678":                          "the reference finds a pool in .bss where the file ends",
	".org x-y|a:|.equ q,1|.data|x: .byte 1|y:":         "the reference takes an expression of what is not known yet for nothing at all",
	".ascii \"a|.ascii \"b\"|x:":                       "the reference tells of what is left where the text ends, too",
	".ascii \"a|b\" nop":                               "told where the quote is missing, as further on none makes sense",
	".symver a,b@V1|a:":                                "the name with its version is no symbol of the source",
	".symver a,a@@V1|a:|.global a":                     "the name with its version is no symbol of the source",
	".eqv a,.|.byte 1|.word a":                         "the reference has the location counter of the end",
	".addrsig":                                         "LLVM's assembler has it, and its compiler writes it",
	".addrsig_sym x":                                   "LLVM's assembler has it, and its compiler writes it",
	".tlsdescseq x":                                    "the reference wants room behind it, which programs have",
	".tlsdescseq x|x:":                                 "the reference wants room behind it, which programs have",
	".cfi_startproc|.data|.cfi_endproc":                "the reference tells of the open procedure without a line",
}

// inTurns calls f for 0 to n-1, on two processors.
func inTurns(n int, f func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				f(i)
			}
		})
	}
	wait.Wait()
}

// TestOddDirectives compares verdicts, places and sizes of each source with the
// reference's.
func TestOddDirectives(t *testing.T) {
	t.Parallel()
	reftest.Require(t, "arm-none-eabi-as")
	proof := reftest.Begin(t)
	odd := reftest.Recorded(oddDirectives, 17)
	problems := make([]string, len(odd))
	inTurns(len(odd), func(i int) { problems[i] = judgeSource(t, directiveText(odd[i])) })
	used := map[string]bool{}
	for i, src := range odd {
		if problems[i] == "" {
			continue
		}
		if _, ok := knownDirectives[src]; ok {
			used[src] = true
			continue
		}
		t.Errorf("%s: %s", src, problems[i])
	}
	for l, why := range knownDirectives {
		if !used[l] && !reftest.Part() {
			t.Errorf("%q is listed as judged otherwise (%s), and is not", l, why)
		}
	}
	proof.Counted("odd directives: %d sources", len(odd))
}
