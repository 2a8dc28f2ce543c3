package analysis

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// grown are sources that grow: parts with "¦" between them, of which those that
// begin with "*" come n times, with %d for the number of the turn, {n} for the next
// one, {p} for the one before and {r} for n less it. Elsewhere %d is n.
var grown = []string{
	"*a{n} = a%d + 1\n", "*a{n} = a%d * 2\n", "*a%d = a{n} + 1\n", "*a%d = a{n} * 2 + a{n}\n¦a%d = 1\n.word a0\n",
	"*a{n} = a%d * 2\n.word z%d\nz%d = 1\n", "*a{n} = a%d + 1\n.word z%d\nz%d = 1\n",
	".word a0\n¦*a%d = a{n} + a{n}\n¦*a{r} = 0\n", ".word a0\n¦*a%d = a{n} + 1\n¦*a{r} = 0\n", ".word a0\n¦*a%d = a{n} + a{n}\n¦a%d = 1\n¦*a%d = 0\n", ".word a0\n¦*.eqv a%d, a{n} + a{n}\n¦a%d = 1\n¦*a%d = 0\n",
	".word a0\n¦*x = a%d\na%d = x + x\n¦*a%d=1\n",
	"x = y\n¦*x = x + x\n¦y = 1\n.word x\n", ".word x\nx = y\n¦*x = x + x\n¦y = 1\n", "*x = x + y\n¦y=1\n", "*.word x\nx = x + y\n¦y=1\n", "*.eqv x, y + x\ny = x\n",
	"*.set x%d, l%d - l{n}\nl%d: b l{n}\n", "*l%d: b l{n}\n.space l{n} - l%d\n", "*l%d: beq m%d\n¦*m%d: .space 250\n", "*l%d: beq.n m%d\n",
	"*.fill 1, 1, 0\n b l0\n¦l0:\n", "l0:¦*\tb l0\n", "*\tbeq l%d+{r}\n¦*l%d:\tnop\n",
	"*l%d:\tb l{p}\n\t.space 2044\n", "*\tb l%d\n\t.space 2042\nl{p}:\n", "*l%d:\tb l{n}\n\t.space 2042\n¦l%d: b l0\n",
	"*\tbeq l{n}\n\t.space 250\nl%d:\n", "*\tbeq l{n}\n\t.space 252\nl%d:\n", "*\tbeq l{n}\n\t.space 246\nl%d:\tnop\n", "*l{p}: .space 250\n\tbeq l%d\n", "*\tbeq l%d\n¦\tb end\n .space 240¦*l%d: nop\n¦end:\n",
	"a: .space b-a+1\nb:\n", "*a%d: .space b%d-a%d+1\nb%d:\n", "*a%d: .space 2-(b%d-a%d)\nb%d:\n", "*a%d: .space a{p}-a%d+300\n", "*.org .+(b%d-.)+1\nb%d:\n", "*.space b%d-.\nb%d:\n .balign 8\n",
	"*a%d: .uleb128 b%d-a%d\n .space 127\nb%d:\n", "*a%d: .uleb128 b{p}-a%d\n .space 127\nb%d:\n", "*a%d: .uleb128 e-a%d\n¦e:\n", "*a%d: .uleb128 e-a%d\n .balign 4\n b e\n¦e:\n", "*a%d: .sleb128 a%d-e\n¦e:\n",
	"*\t.subsection %d\n\tb l%d\n\t.subsection {n}\nl%d:\n", "*\t.subsection %d\n\tb l%d\n¦\t.text\n¦*l%d:\n", "*\t.section s%d\n\tb 1f\n1:\n .balign 4\n", "*\t.section s%d\n\tldr r0, =%d\n",
	"*\tldr r0, =e-.\n¦e:\n", "*\tldr r0, =e-%d\n¦e:\n", "*\tldr r0, l%d\n¦*l%d: .word 1\n", "*\tldr r0, =%d000000+5\n\t.balign 4\n\tb 1f\n1:\n", "*\tldr r0, =%d000000+5\n\tb 1f\n1:\n .ltorg\n",
	"*\tldr r0, =%d000000+5\n¦*\t.ltorg\n", "*\tldr r0, =x+%d\n", "*\tldr r0, =x%d-y\n", "*\tvldr d0, =%d000000000000\n", "*\tldr r0, =1b\n1:\n", "*\tldr r0, =1f\n1:\n",
	"*\tit eq\n\tmoveq r0, r1\n", "*\titete eq\n\tmoveq r0, r1\n\tmovne r0,r1\n", "*\tmoveq r0, #0\n", "*\tbeq 1f\n\tmoveq r0, #0\n1:\n",
	".macro m a\n nop\n.endm\n¦*m %d\n", ".macro m a\n.word \\a\n.endm\n¦*m %d\n", "*.macro m%d a\n.word \\a\n.endm\nm%d %d\n", ".macro m\n¦*.word %d\n¦.endm\nm\n",
	".macro m a=1\n.if \\a\n m \\a-1\n.endif\n.endm\n¦*m 20\n", ".rept 2\n¦*.rept 1\n¦nop\n¦*.endr\n¦.endr\n", "*.rept 1\n", "*.rept 1\n¦*.endr\n", "*.irp x, 1\n¦*.endr\n", "*.rept 0\n¦*.endr\n", "*.rept 0\n", "*.macro m\n", "*.macro m%d\n¦*.endm\n", "*.endr\n", "*.if 0\n.rept 1\n", "*.rept 1\n.if 0\n.endr\n", "*.irp x,1\n.rept 1\n", "*.macro m%d\n.rept 1\n.endm\nm%d\n", "*.macro m%d\n.rept 2\n.endm\nm%d\nnop\n.endr\n", "*.macro m%d\n.irp x, 1\n.endm\n¦*m%d\n", "*.macro m%d\n.if 0\n.endm\n¦*m%d\n", "*.macro m%d\n.macro n%d\n.endm\n¦*m%d\n",
	".rept 300\n.rept 0\n¦*.word %d\n¦.endr\n.endr\n", ".rept 300\n.irpc x,\n¦*.word %d\n¦.endr\n.endr\n", ".rept 300\n.macro m\n¦*.word %d\n¦.endm\n.purgem m\n.endr\n", ".rept 300\n.if 0\n¦*.word %d\n¦.endif\n.endr\n", ".rept 300\n.exitm\n¦*.word %d\n¦.endr\n", ".macro m\n.exitm\n¦*.word %d\n¦.endm\n.rept 300\nm\n.endr\n", ".macro m\n.exitm\n¦*.word \\@%d\n¦.endm\n.rept 300\nm\n.endr\n", ".macro m a\n.exitm\n¦*.word \\a%d\n¦.endm\n.altmacro\n.set i, 0\n.rept 300\n.set i, i+1\nm %i\n.endr\n",
	".rept 300\n.word 1;¦*.word 1;¦\n.endr\n", ".rept 300\n¦*1:¦\n.endr\n", ".rept 300\nm ¦*%d,¦\n.endr\n", ".macro m a:vararg\n.endm\n.rept 300\nm ¦*%d,¦\n.endr\n", ".macro m a:vararg\n.exitm\n.word \\a\n.endm\n.rept 300\nm ¦*%d,¦\n.endr\n", ".rept 300\n.word ¦*1,¦1\n.endr\n", ".rept 300\n.byte 1¦*+1¦\n.endr\n", ".rept 300\n.byte x¦*+x¦\n.endr\nx=1\n", ".rept 300\n.ascii \"¦*x¦\"\n.endr\n", ".rept 300\n@¦*x¦\n.endr\n", ".rept 300\n.ifc ¦*x¦,y\n.endif\n.endr\n", ".rept 300\n.if 1¦*+1¦\n.endif\n.endr\n", ".rept 300\n.section ¦*x¦\n.endr\n", ".rept 300\nlooooooong¦*x¦\n.endr\n", ".rept 300\n.req ¦*x¦\n.endr\n", ".rept 300\n.error \"¦*x¦\"\n.endr\n", ".rept 300\n push {¦*r%d,¦r1}\n.endr\n", ".rept 300\n.include \"e\"\n.endr¦*\n¦", ".rept 300\n.float ¦*1¦\n.endr\n", ".rept 300\n.float 1e¦*1¦\n.endr\n",
	"x = y\n.rept 300\n¦*x = x + 1\n¦.endr\n", "*x = x + 1\n¦.rept 300\n.word x\n.endr\n",
	".altmacro\n.macro m a\nLOCAL ¦*q%d,¦q\n.endm\n.rept 1000\nm 1\n.endr\n", ".macro m ¦*p%d,¦p\n.word \\p\n.endm\n.rept 300\nm 1\n.endr\n", ".macro m ¦*p%d,¦p\n¦*.word \\p%d\n¦.endm\nm 1\n", ".macro m ¦*p,¦p\n.endm\n", ".macro m ¦*p%d=1,¦p\n.endm\nm ¦*p%d=%d,¦\n",
	".macro m a\n¦*.ifnb \\a\n¦.word \\a\n¦*.endif\n¦.endm\nm 1\nm\n", ".irp x ¦*,%d¦\n.word \\x\n.endr\n", ".irp x ¦*,%d¦\n.set x, x+\\x\n.endr\n", ".irpc x, ¦*1¦\n.word \\x\n.endr\n",
	".word ¦*(¦1¦*)¦\n", ".word ¦*-¦1\n", ".word ¦*1+(¦1¦*)¦\n", ".word ¦*x+(¦1¦*)¦\n", ".word ¦*x+(¦x¦*)¦\nx=1\n", ".word ¦*1?¦", "ldr r0,[r1,#¦*(¦1¦*)¦]\n", "mov r0,#¦*(1+¦1¦*)¦\n", "*.if 1\n¦*.endif\n", "*.if 1\n.else\n¦*.endif\n", "*.if 0\n.elseif 0\n¦*.endif\n", "*.pushsection s%d\n¦*.popsection\n", "*.pushsection s%d\n", ".if 1\n¦*.elseif 1\n¦.endif\n", "*.if x\n", "*.ifdef x%d\n", "*.else\n",
	"*.cfi_startproc\n", "*.cfi_startproc\n.cfi_remember_state\n¦*.cfi_restore_state\n", ".cfi_startproc\n¦*.cfi_remember_state\n¦*.cfi_restore_state\n¦.cfi_endproc\n", ".cfi_startproc\n¦*.cfi_remember_state\n.cfi_offset r4, %d\n¦.cfi_endproc\n", ".fnstart\n¦*.save {r4}\n¦.fnend\n", ".fnstart\n¦*.pad #4\n¦.fnend\n", "*.fnstart\n.save {r4}\n.fnend\n",
	".cfi_startproc\n¦*.cfi_escape 1\n¦.cfi_endproc\n",
	"*\tbeq l%d\n¦*l%d:\tadds r0,#1\n", "*l%d:\tcmp r0,#1\n\tbeq l{r}\n", "*l%d:\tcmp r0,#1\n\tbeq l{r}\n\tadc r0,r1\n", "*l%d:\tb l{r}\n", "*l%d:\tb l{n}\n¦l%d:\n", "*l%d:\tbl l{n}\n¦l%d:\n bx lr\n", "*l%d: movs r0, #0\n beq l{n}\n bne l{p}\n", "*l%d: push {r4}\n bl l{r}\n pop {r4}\n", "*\tldr r0, =l%d\n\tbx r0\nl%d:\n", "*\tmov pc, lr\n", "\ttbb [pc, r0]\n¦*\t.byte (l%d - .)/2\n¦*l%d:\tnop\n", "*\tcbz r0, l{n}\nl%d:\n", "*\tcmp r0, #0\n\tbne 1b\n1:\n", "1:¦*\tcmp r0, #0\n\tbne 1b\n",
	".type f0, %function\n¦*.thumb_func\nf%d:\n\tpush {r4,lr}\n\tpop {r4,pc}\n", "*x%d .req r%d\n", "*x%d .req x{p}\n", "x0 .req r0\n¦*x{n} .req x%d\n", "*x .req r0\n.unreq x\n", "*x .req r0\n mov x, x\n.unreq x\n", "*x%d .dn d0\n", "x0 .dn d0\n¦*x{n} .dn x%d\n", "x .req y\n¦*y .req x\n x .req y\n",
	"*.weakref a%d, a{n}\n", "*.weakref a{n}, a%d\n", "*.symver a%d, a%d@v\n", "*.thumb_set a%d, a{n}\n", "*.thumb_set a{n}, a%d\n", "*.size a%d, .-a%d\n", "*.size a, .-b\n", "*.type a, %function\n", "*.global a\na = 1\n", "*.comm a, 4\n", "*.equiv a, 1\n", "*a:\n", "*a == 1\n", "*.eqv a, 1\n", "*.local a%d\n", "*.set a%d, .\n", "*.set a, .\n b a\n", "*.set a, .\n.space 2\n¦.word a\n",
	"*.section s%d, \"axG\", %progbits, g%d, comdat\n", "*.section s, \"ax?\"\n", "*.section .text.%d\n\tnop\n", "*.section s%d\n\tnop\n¦*.section s%d\n b s\n",
	"*.rept 2\n nop\n .endr\n", "*/* c */", "*/* c */ nop\n", "*nop /* c\n*/\n", "*nop; ", "*a%d: ", "*a%d: nop; ", "*1: b 1b; ", "*1: b 1f; ", "*.if 1; .endif; ", "*.macro m; .endm; ", "*.rept 2; nop; .endr; ", "*m 1; ", ".macro m a\n nop\n.endm\n¦*m 1; ", ".macro m a\n nop\n.endm\n¦*a%d: m 1; ", "*.word 1; ", "*.error \"x\"; ", "*x = %d; ", "*x%d = %d; ", "*ldr r0, =%d; ", "*movs r0, #300; ", "*beq 1f; ", "*bad%d; ", "*r%d: .req r0; ", "*.section s%d; ", "*b l%d; ", "*.include \"e\"; ", "*.include \"no\"; ", "*.set x, x+1; ",
	".word ¦*x%d,¦1\n", ".word ¦*1b,¦1\n", ".byte ¦*300,¦1\n", ".word ¦*l%d-.,¦1\n", ".ascii ¦*\"a\",¦\"b\"\n", ".ascii ¦*\"a\" ¦\"b\"\n", ".global ¦*x%d,¦x\n", ".extern ¦*x%d,¦x\n", ".hidden ¦*x%d,¦x\n", ".float ¦*1.0,¦1\n", ".float ¦*x,¦1\n", ".uleb128 ¦*x%d,¦1\n", ".inst ¦*0xbf00,¦0\n", ".inst ¦*0x1ffff,¦0\n", ".cfi_startproc\n.cfi_escape ¦*1,¦1\n", ".cfi_startproc\n.cfi_undefined ¦*r1,¦r1\n", ".eabi_attribute ¦*1,¦", ".reloc ¦*1,¦", ".print \"¦*x¦\"\n", ".section \"¦*x¦\"\n", ".section a,\"¦*a¦\"\n", ".section a,\"¦*1¦\"\n", ".section a,¦*#alloc,¦\n", ".arch_extension ¦*x¦\n", ".cpu ¦*x¦\n", ".fpu ¦*x¦\n", ".arch ¦*a¦\n", "¦*x¦ nop\n", ".¦*x¦ nop\n", "push {¦*r0-r%d,¦r1}\n", "push {¦*x,¦r1}\n", "vld1.8 {¦*d0,¦d1}, [r0]\n", "vld1.8 {¦*d0[1],¦d1}, [r0]\n", "mov r0, ¦*r1,¦r2\n", "ldr r0, [r1¦*,r2¦]\n", "ldr r0, [r1¦*,#2¦]\n", "ldr r0, [r1¦*, lsl #2¦]\n", "msr ¦*cpsr_¦f, r0\n", "mov r0, r1¦*, lsl #1¦\n", "*#define A 1\n", "*# %d \"x\"\n", ".include ¦*\"x\"¦", "'¦*\\¦", ".byte '¦*\\¦", ".byte ¦*'a¦", ".ascii \"¦*\\0¦\"\n", ".ascii \"¦*\\x1¦\"\n", ".string16 \"¦*a¦\"\n", ".float ¦*1¦\n", ".float 0f¦*1¦\n", ".float 1e¦*1¦\n", ".float 0x¦*1¦\n", ".double .¦*1¦\n", ".word 0x¦*f¦\n", ".word 0b¦*1¦\n", ".octa 0x¦*f¦\n", ".octa ¦*9¦\n", ".quad ¦*9¦\n", ".macro ¦*m ¦\n.endm\n", ".purgem ¦*m,¦\n", ".exitm ¦*m,¦\n", "1¦*1¦:\n b 1¦*1¦b\n", ".line ¦*1¦\n",
	".altmacro\n.macro m a\n.word a\n.endm\nm %¦*(¦1¦*)¦\n", ".altmacro\n.macro m a\n.word a\n.endm\nm <¦*<¦1¦*>¦>\n", ".altmacro\n.macro m a\n.word a\n.endm\nm <¦*!<¦>\n", ".macro m a\n.word \\a\n.endm\nm ¦*(¦1¦*)¦\n", ".macro m a\n.word \\a\n.endm\nm \"¦*\"\"¦\"\n", ".macro m a\n.word \\a\n.endm\nm ¦*\"a\" ¦\n", ".macro m a\n\\a\n.endm\n¦*m ¦\n", ".macro m a:vararg\n\\a\n.endm\n¦*m ¦nop\n", ".macro m a:vararg\n.ifnb \\a\nm \\a\n.endif\n.endm\nm ¦*1,¦\n", ".macro m a, b:vararg\n.word \\a\n.ifnb \\b\nm \\b\n.endif\n.endm\nm ¦*1,¦1\n",
	".macro m\n\\¦*\\¦\n.endm\nm\n", ".macro m a\n¦*\\a\\()¦\n.endm\nm 1\n", ".macro m a\n.word \\¦*a¦\n.endm\nm 1\n",
}

// grownColumns are such in the column dialect.
var grownColumns = []string{
	"x SETA 1\n", "\tGBLA x\n¦*x SETA x + 1\n", "\tGBLS x\nx SETS \"a\"\n¦*x SETS x :CC: x\n", "\tGBLS x\nx SETS \"a\"\n¦*x SETS x :CC: \"a\"\n", "*\tGBLA x%d\nx%d SETA %d\n¦*\tDCD x%d\n",
	"\tGBLA x\n\tDCD x¦* + x¦\n", "\tGBLA x\nx SETA u¦* + 1¦\n", "\tGBLA x\nx SETA ¦*(¦u¦* + 1):SHL:1¦\n", "\tGBLA x\nx SETA ¦*(¦u¦*:SHL:1) + 1¦\n", "\tDCD ¦*(¦u¦*:SHL:1) + 1¦\n", "\tDCD ¦*(¦u¦*:SHL:1)¦\n", "\tDCD u¦* + 1¦\n", "\tDCD u¦* :AND: 1¦\n", "\tDCD ¦*1 + (¦u¦*)¦\n", "\tDCD ¦*1 :OR: (¦u¦*)¦\n", "\tDCD ¦*1 :OR: 1 + (¦u¦*)¦\n", "\tDCD ¦*:LNOT:(¦u¦*)¦\n", "\tDCD ¦*:NOT:(1+¦u¦*)¦\n", "\tDCD ¦*:LNOT:(1+¦u¦*)¦\n", "\tDCD ¦*(¦u¦*=1)¦\n", "\tDCD ¦*(1+(¦u¦*=1))¦\n", "\tDCD ¦*(1*(¦u¦*=1))¦\nu EQU 1\n", "\tDCD ¦*((¦u¦*>>1)+(1:SHL:2))¦\n", "\tDCD ¦*(({PC}-¦u¦*)=1)¦\n", "\tIF ¦*(1+(¦u¦*=1))¦\n\tENDIF\n", "\tASSERT ¦*(1+(¦u¦*=1))¦\n",
	"x EQU ¦*(1+(¦u¦*=1))¦\n", "*a%d EQU (a{n}=1)+1\n", "*a{n} EQU (a%d=1)+1\n", "*a%d EQU (a{n}=1)+(a{n}=2)\n", "*a{n} EQU (a%d=1)+(a%d=2)\n",
	"\tWHILE {TRUE}\n¦*\tDCD %d\n¦\tWEND\n", "\tWHILE {TRUE}\n\tWHILE {FALSE}\n¦*\tDCD %d\n¦\tWEND\n\tWEND\n", "*\tWHILE {FALSE}\n¦*\tWEND\n", "*\tWHILE {TRUE}\n¦*\tWEND\n", "*\tWHILE {FALSE}\n", "*\tWHILE {TRUE}\n", "*\tWEND\n", "*\tMACRO\n", "*\tMACRO\nm%d\n\tMEND\n m%d\n", "*\tMACRO\n¦*\tMEND\n", "*\tMEND\n", "\tMACRO\n\tm $a\n\tDCD $a\n\tMEND\n¦*\tm %d\n", "\tMACRO\n$l\tm $a\n$l\tDCD $a\n\tMEND\n¦*l%d\tm %d\n", "\tMACRO\n\tm\n\tm\n\tMEND\n¦*\tm\n", "\tMACRO\n\tm\n\tMEXIT\n¦*\tDCD 1\n¦\tMEND\n\tGBLA i\n\tWHILE i<300\n\tm\ni SETA i+1\n\tWEND\n",
	"\tGBLA i\n\tWHILE i<300\ni SETA i+1\n\tIF {FALSE}\n¦*\tDCD 1\n¦\tENDIF\n\tWEND\n", "\tGBLA i\n\tWHILE i<300\ni SETA i+1\n\tMACRO\n\tm\n¦*\tDCD 1\n¦\tMEND\n\tWEND\n",
	"\tGBLA i\n\tWHILE i<300\ni SETA i+1\n\tDCD ¦*i,¦i\n\tWEND\n", "\tGBLS s\ns SETS \"¦*x¦\"\n\tGBLA i\n\tWHILE i<300\ni SETA i+1\nl$s\n\tWEND\n", "\tGBLS s\ns SETS \"¦*x¦\"\n\tDCB \"¦*$s¦\"\n", "\tGBLS s\ns SETS \"$$s\"\n¦*\tDCB \"$s\"\n", "\tGBLS s\ns SETS \"¦*$$s¦\"\n\tDCB \"$s\"\n", "\tGBLS s\ns SETS \"nop\"\n¦*\t$s\n", "\tGBLS s\ns SETS \"$$s\"\n¦*\t$s\n",
	"*\tAREA s%d, CODE\n\tnop\n", "\tAREA s, CODE\n¦*l%d\tb l{r}\n", "\tAREA s, CODE\n¦*%d\tb %b%d\n", "\tAREA s, CODE\n¦*1\tb %f1\n", "\tAREA s, CODE\n¦*1\tb %bt1\n", "\tAREA s, CODE\n¦*1\tb %ft2\n", "\tAREA s, CODE\n\tMACRO\n\tm\n1\tb %ft1\n1\tb %f1\n\tMEND\n¦*\tm\n", "\tAREA s, CODE\n\tMACRO\n\tm\n1\n\tMEND\n¦*\tm\n\tb %bt1\n\tb %f2\n", "1\n\tAREA s, CODE\n\tMACRO\n\tm\n1\n\tMEND\n¦*\tm\n¦*\tb %b1\n",
	"\tIMPORT x\n¦*\tDCD x + %d\n", "*\tROUT\n1\tb %b1\n", "*r%d RN 1\n", "*\tMAP %d\nf%d FIELD 4\n", "*f%d # 4\n", "*\tIF {TRUE}\n¦*\tENDIF\n", "*\tIF x\n¦*\tENDIF\n", "*\tIF x = %d\n\tELIF x = 1\n\tENDIF\n", "\tDCB \"¦*a¦\"\n", "\tDCB ¦*\"a\",¦1\n", "\tDCD ¦*(¦1¦*)¦\n", "\tDCD ¦*:LNOT:¦1\n", "\tDCD ¦*:NOT:¦1\n", "\tDCD ¦*-¦1\n", "\tDCD 1¦* :AND: 1¦\n", "\tDCD 1¦* = 1¦\n", "\tDCD x¦* :CC: \"a\"¦\n", "\tGBLS s\ns SETS \"a\"¦* :CC: \"a\"¦\n", "\tGBLS s\ns SETS ¦*(¦\"a\"¦*:CC:\"a\")¦\n", "\tDCD ¦*$¦x\n", "\tDCD ¦*$x.¦x\n", "\tDCD |¦*x¦|\n", "¦*\\\n¦", "\tDCD 1,\\\n¦*1,\\\n¦1\n", "*\tLTORG\n\tLDR r0, =%d\n", "*\tALIGN\n\tDCB 1\n", "*\tALIGN 4, %d\n\tDCB 1\n", "*\tASSERT 1\n", "*\tINFO 1, \"x\"\n", "*\tGET e\n", "*\tEND\n", "*\tEXPORT x%d\n", "*x%d PROC\n\tENDP\n", "*\tSPACE x\n", "*\tFILL %d, 1, 1\n", "*\tKEEP x\n", "*\tOPT %d\n", "*x%d CN %d\n", "*x%d DN %d\n", "*x DN %d\n", "*\tLCLA x\n", "\tMACRO\n\tm\n\tLCLA x\nx SETA 1\n¦*\tDCD x\n¦\tMEND\n\tm\n", "\tMACRO\n\tm ¦*$p%d,¦$p\n¦*\tDCD $p%d\n¦\tMEND\n\tm ¦*1,¦1\n", "\tMACRO\n\tm $p\n\tm $p.1\n\tMEND\n¦*\tm 1\n", "\tMACRO\n\tm $p\n\tm $p$p\n\tMEND\n¦*\tm 1\n", "\tMACRO\n\tm $a\n\tLCLS x\nx SETS \"$a\"\n\tMEND\n¦*\tm %d\n", "\tMACRO\n\tm\n\tMACRO\n\tm%d\n\tMEND\n\tMEND\n¦*\tm\n", "*l%d\n¦*\tb l%d\n", "*l%d nop\n", "*\tnop ; c\n", "*l%d DCD l{n}\n", "*l%d EQU l{n}+1\n", "*l{n} EQU l%d+1\n", "*l{n} EQU l%d:SHL:1\n", "*l%d EQU l{n}:SHL:1\n", "\tDCD l0\n¦*l%d EQU l{n}:SHL:1\n", "*x SETA %d\n", "\tGBLL x\n¦*x SETL :LNOT:x\n",
}

// grow makes the source of n turns.
func grow(pattern string, n int) string {
	turn := func(s string, i int) string {
		return strings.NewReplacer("%d", fmt.Sprint(i), "{n}", fmt.Sprint(i+1), "{p}", fmt.Sprint(i-1), "{r}", fmt.Sprint(n-i)).Replace(s)
	}
	var b strings.Builder
	for _, p := range strings.Split(pattern, "¦") {
		if rest, often := strings.CutPrefix(p, "*"); often {
			for i := range n {
				b.WriteString(turn(rest, i))
			}
		} else {
			b.WriteString(turn(p, n))
		}
	}
	return b.String()
}

// steeper are sources that take more, up to another bound.
var steeper = map[string]string{
	".rept 2\n¦*.rept 1\n¦nop\n¦*.endr\n¦.endr\n":  "each of 101 levels is read",
	"*.rept 1\n¦*.endr\n":                          "each of 101 levels is read",
	"*.irp x, 1\n¦*.endr\n":                        "each of 101 levels is read",
	"*.macro m%d\n.rept 1\n.endm\nm%d\n":           "each reads the rest of the file, as long as expansions may cost that",
	"*.macro m%d\n.irp x, 1\n.endm\n¦*m%d\n":       "each reads the rest of the file, as long as expansions may cost that",
	"*.macro m; .endm; ":                           "each reads the rest of the line, as long as expansions may cost that",
	"*.rept 2; nop; .endr; ":                       "each reads the rest of the line, as long as expansions may cost that",
	"\tGBLS s\ns SETS \"¦*x¦\"\n\tDCB \"¦*$s¦\"\n": "a string of n, n times: up to 5120, and 16 MB in a line",
}

// TestManyActions asks for the rewrites of a whole file with very many findings.
func TestManyActions(t *testing.T) {
	dog := time.AfterFunc(2*time.Minute, func() { panic("no end") })
	defer dog.Stop()
	lines := reftest.Size(800, 10_000, 10_000)
	text := "\t.syntax unified\n\t.thumb\n" + strings.Repeat("\tmovs r0, #300\n", lines)
	r, err := Analyze(t.Context(), &Input{Path: "a.s", File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	if n := len(r.Actions(t.Context(), finding.Span{Start: 0, End: len(text)})); n == 0 || n > rewrite.MaxProving/lines {
		t.Errorf("%d actions", n)
	}
	// Only the last line has all of its own.
	if n := len(r.Actions(t.Context(), finding.Span{Start: len(text) - 2, End: len(text) - 2})); n == 0 {
		t.Error("no action in the last line")
	}
}

// TestGrowth holds what an analysis takes from the heap to the size of its source:
// four times the source may take five times as much, and what is fixed.
func TestGrowth(t *testing.T) {
	const (
		small = 110
		fixed = 300 << 10
	)
	proof := reftest.Begin(t)
	n := 0
	all := func(patterns []string, set *Settings, d syntax.Dialect) {
		for _, pattern := range reftest.Sample(patterns, 9) {
			n++
			dog := time.AfterFunc(2*time.Minute, func() { panic("no end: " + pattern) })
			var size [2]uint64
			for k, n := range []int{small, 4 * small} {
				text := "\tnop\n" + grow(pattern, n)
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				if _, err := Analyze(t.Context(), &Input{Path: "a.s", File: syntax.ParseAs(text, d), Set: set}); err != nil {
					t.Fatal(err)
				}
				runtime.ReadMemStats(&after)
				size[k] = after.TotalAlloc - before.TotalAlloc
			}
			if size[1] > 5*size[0]+fixed && steeper[pattern] == "" {
				t.Errorf("%q: %d turns take %d kB, %d take %d kB", pattern, small, size[0]>>10, 4*small, size[1]>>10)
			}
			dog.Stop()
		}
	}
	all(grown, &Settings{CPU: "cortex-m3", Syntax: "unified"}, syntax.Dots)
	all(grownColumns, &Settings{CPU: "cortex-m3", Dialect: "columns"}, syntax.Columns)
	proof.Counted("growth: %d sources", n)
}
