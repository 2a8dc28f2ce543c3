package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// oddMacros are small sources at the edges of macros and repetitions. "|"
// means a line end, "¦" for "|".
var oddMacros = strings.Split(strings.TrimSpace(`
m a - b
m a  b
m [r0, #4], {r1, r2}
m (a, b) c
m (a b) c
m "a b" c
m "a"b c
m 'x' 'y'
m 'x'
m a+b
m a + b
m a=1 b
m a=1, b=2
m c=3
m ,x
m , ,x
m a,
m a b c
m #1 #2
m #1 + #2
m -1 -2
m x -1
m 3 4
m "a""b"
m "a" "b"
m "a,b",c
m "a\"b"
m h'12
m <a b>
m a;.asciz "semi"
m "a;b"
m &a
m %1
m a:b
m r0 , r1
m !a
m a ! b
m ~a ~b
m =x
m [r0 , r1 , lsl #2]
m {r0 - r3}, x
m {r0 , r3} x
m a.b .c
m $a $b
m \x
m "\x"
m a @ comment
m a // comment
m a /* b */ c
m a/* b */c
m a)b c
m a) b c
m (a)b c
m (a) b c
m (a)(b) c
m ((a) b) c
m a(b c
.macro n|.endm x|n
.macro mov a,b|.asciz "h"|.endm|mov r0,r1
.macro mov|mov r0,r1|.endm|mov
.macro .word a|.asciz "w"|.endm|.word 3
.macro .foo a|.asciz "w\a"|.endm|.foo 3
.macro Foo a|.asciz "w\a"|.endm|FOO 3
.macro n|.endm|.macro n|.endm
.macro n|.endm|.purgem n|.macro n|.asciz "x"|.endm|n
.purgem zz
.macro n A|.asciz "\a\A"|.endm|n 3
.macro n (a,b)|.asciz "\a\b"|.endm|n 3,4
.macro n, a,b|.asciz "\a\b"|.endm|n 3,4
.macro n a b|.asciz "\a\b"|.endm|n 3,4
.macro n a,b,|.asciz "\a\b"|.endm|n 3,4
.macro n a=1,b=2|.asciz "\a\b"|.endm|n b=4
.macro n a = 1 ,b = 2|.asciz "\a\b"|.endm|n b=4
.macro n a=1 b=2|.asciz "\a\b"|.endm|n ,4
.macro n a:req|.asciz "\a"|.endm|n
.macro n a:req=4|.asciz "\a"|.endm|n 3
.macro n a:vararg|.asciz "\a"|.endm|n 3 , 4 5
.macro n a,b:vararg|.asciz "\a¦\b"|.endm|n 3 , 4 5
.macro n a:vararg,b|.asciz "\a"|.endm|n 3
.macro n a:foo|.asciz "\a"|.endm|n 3
.macro n a: req|.asciz "\a"|.endm|n 3
.macro n a :req|.asciz "\a"|.endm|n 3
.macro n a,a|.asciz "\a"|.endm|n 3
.macro n 3|.endm
.macro 3|.endm
.macro|.endm
.macro n a|.asciz "\a\()x\@\+"|.endm|n 3|n 4
.macro n a|.asciz "\(abc)x\@"|.endm|n 3|n 4
.macro n a|.asciz "\(abc x\@"|.endm|n 3|n 4
.macro n a|.asciz "&a \&a &a& \b &b"|.endm|n 3|n 4
.macro n a|.asciz "\\a \\\a"|.endm|n 3
.macro n a|.asciz "\a.b \a$x \a-b"|.endm|n 3
.macro n a|.if \a|.asciz "\a"|n \a-1|.endif|.endm|n 3
.macro n a|.if \a|.asciz "\a"|n "(\a-1)"|.endif|.endm|n 3
.macro n|n|.endm|n
.macro n a|.asciz "\a"|.exitm|.asciz "no"|.endm|n 3
.macro n a|.if \a|.asciz "\a"|.exitm|.endif|.asciz "no"|.endm|n 3|n 0
.macro n a|.rept 3|.asciz "\a"|.exitm|.endr|.asciz "no"|.endm|n 3|n 0
.macro n a|.if \a|.endm|n 3|.endif
.macro n a|.endif|.endm|.if 1|n 3|.asciz "x"
.macro n a|.else|.endm|.if 0|.asciz "y"|n 3|.asciz "x"|.endif
.macro n a|.else|.endm|.if 1|n 3|.asciz "x"|.endif
.macro n a|.if 1|.endm|n
.rept 2|.if 1|.endr|.endif|.endif
.rept 3|.asciz "a\@"|.endr
.rept 3|.asciz "a\+"|.endr
.rept -1|.asciz "a"|.endr
.rept 0|.asciz "a"|.endr
.rept x|.asciz "a"|.endr
.rept|.asciz "a"|.endr
.rep 2|.asciz "a"|.endr
.irep x,1,2|.asciz "\x"|.endr
.irepc x,12|.asciz "\x"|.endr
.irp x,1,2 3|.asciz "\x"|.endr
.irp x 1 2|.asciz "\x"|.endr
.irp x|.asciz "a\x"|.endr
.irp x,|.asciz "a\x"|.endr
.irp|.asciz "a\x"|.endr
.irp x,1,,2|.asciz "a\x"|.endr
.irp x,1,2,|.asciz "a\x"|.endr
.irp x,"a b",c|.asciz "a\x"|.endr
.irp x,r0-r3,[r0, #4]|.asciz "\x\@"|.endr
.irpc x,abc|.asciz "a\x"|.endr
.irpc x,a b,c|.asciz "a\x"|.endr
.irpc x,"a b"|.asciz "a\x"|.endr
.irpc x|.asciz "a\x"|.endr
.irpc x "ab"c|.asciz "a\x"|.endr
.irp x,1,2|.irp y,3,4|.asciz "\x\y"|.endr|.endr
.rept 2|.rept 2|.asciz "\x"|.endr|.endr
.rept 2; .asciz "q"; .endr; .asciz "z"
.macro n; .asciz "q"; .endm; n; n
.rept 2|x: .asciz "q"|.endr
.rept 2|1: .asciz "q"|b 1b|.endr
a: .rept 2|.asciz "q"|b: .endr
.exitm
.endm
.endr
.macro n
.rept 3
.irp x,1
.altmacro|.macro n a|LOCAL l|l: .asciz "a l"|.endm|n 3|n 4
.altmacro|.macro n a|.asciz "a&b &a a&&c"|.endm|n 3|n 4
.altmacro|.macro n a|.asciz "a"|.endm|n %1+2|n <a b, c>|n 'x'|n "x"
.altmacro|.macro n a|.asciz a|.endm|n "x"|n <"ab">
.altmacro|.macro n a|.asciz "a"|.endm|n <a!>b>|n a!b|n "a!"b"
.altmacro|.macro n a,b|.asciz "a¦b"|.endm|n %(1+2)*3 4|n %3, 4
.altmacro|.macro n a,b|.asciz "a¦b"|.endm|n a=3|n b=4
.altmacro|.irp x,<1 2>,%3+4|.asciz "x"|.endr
.altmacro|.noaltmacro|.macro n a|.asciz "a"|.endm|n 3
.altmacro|.macro n a=<x y>,b=%7|.asciz "a¦b"|.endm|n
.altmacro|.macro n a|LOCAL a|.endm|n 3
.altmacro|.macro n|LOCAL x,y z|.asciz "x y z"|.endm|n
v a b c
v a,"b c", d
v a
v
p
p 3
p c=3
p ,,3
p 1,2,c=3
p c=3,4
p c=3,c=4
p d=3,c=1
p 3 c=3
p "c=3"
p (a=b)
p a=="x",c=1
m a == b
m a = b
m x'y z
m 'a
m '
m '\n' '\t'
m '\'' x
m #'a' , b
m /* c */ x /* y
m a//b
m a/b c/d
m a / b
m a* b
m *a b
m a\b c
m a \b
m "\\" b
m "a\tb"
m 'a 'b
m a;m b
m "a" ; m b
m a @ ; m b
m a # b
m a #b
  m a
M a
m: m a
1: m a
x: y: m a
m:m a
m	a	,	b
m a,,b
m ,,
m ,,,
m (a,b)
m [a b] c
m {a b} c
m (a b] c
m ((a b) c d) e
m ) a b
m "(" a
m a"b c"d
m a "b c" d
m a=b=c
m z=1
m A=1
m a= 1
m a =1
m b=1 c=2
m b=1 2
.macro r n|.if \n|.byte \n|r "\n-1"|.endif|.endm|r 5
.macro r n|.if \n|.byte 1|r \n-1|.endif|.endm|r 90
.macro r n|.if \n|.byte 1|r \n-1|.endif|.endm|r 99
.macro r n|.if \n|.byte 1|r \n-1|.endif|.endm|r 100
.macro r n|.if \n|.byte 1|r \n-1|.endif|.endm|r 101
.macro r n|.if \n|.byte 1|r \n-1|.endif|.endm|r 102
.macro d|.macro e x|.asciz "\x"|.endm|.endm|d|e 7
.macro d y|.macro e x|.asciz "\x\y"|.endm|.endm|d 3|e 7
.macro d y|.macro \y x|.asciz "\x"|.endm|.endm|d foo|foo 7
.macro d y|.macro \y x|.asciz "\x"|.endm|.endm|d foo|d foo
.macro d y|.purgem d|.asciz "\y"|.endm|d 1|d 2
.macro d|.asciz "a"|.purgem d|.endm|d
.if 0|.macro q|.asciz "n"|.endm|.endif|q
.if 1|.macro q|.asciz "n"|.endm|.endif|q
.if 0|.macro q|.endif|.asciz "n"|.endm
.if 0|m a|.else|m b|.endif
.macro q a|.ifb \a|.asciz "none"|.else|.asciz "\a"|.endif|.endm|q|q 1|q ""|q " "
.macro q a|.ifnb \a|.asciz "some"|.endif|.endm|q|q 1
.macro q a|.ifc \a,r0|.asciz "r0"|.endif|.ifnc \a,r0|.asciz "other"|.endif|.endm|q r0|q R0|q "r0 "|q
.macro q a|.ifeqs "\a","r0"|.asciz "r0"|.endif|.ifnes "\a","r0"|.asciz "other"|.endif|.endm|q r0|q R0|q "r0 "
.ifc a b,a b|.asciz "y"|.endif
.ifc a  b,a b|.asciz "y"|.endif
.ifc "a",a|.asciz "y"|.endif
.ifc 'a',97|.asciz "y"|.endif
.ifc a + b,a+b|.asciz "y"|.endif
.ifc a,a,b|.asciz "y"|.endif
.ifc "a,b","a,b"|.asciz "y"|.endif
.ifc a|.asciz "y"|.endif
.ifc ,|.asciz "y"|.endif
.ifeqs "a","a"|.asciz "y"|.endif
.ifeqs a,a|.asciz "y"|.endif
.ifeqs "a" "a"|.asciz "y"|.endif
.ifb|.asciz "y"|.endif
.ifb @ x|.asciz "y"|.endif
.macro q a|\a:|.endm|q foo|.word foo|q foo
.macro q a|l\a: .word l\a|.endm|q 1|q 2
.macro q a|l\@: .word l\@|.L\@: .word .L\@|.endm|q|q
.macro q a|l\a\()x: .word l\a\()x|.endm|q 1
.macro q|1: .word 1b,1f|.endm|q|q|1:
.macro q|.exitm|.endm|q|.asciz "z"
.macro q a|.if \a|.if 1|.exitm|.endif|.endif|.asciz "n"|.endm|q 1|q 0|.if 0|.else|.asciz "k"|.endif
.rept 3|.asciz "a"|.exitm|.endr|.asciz "z"
.rept 3|.if 1|.asciz "a"|.exitm|.endif|.endr|.asciz "z"
.macro q|.rept 2|.if 1|.exitm|.endif|.asciz "no"|.endr|.asciz "after"|.endm|q
.rept 2|.if 1|.endr|.endif|.endif|.asciz "x"
.rept 2|.if 1|.endr|m a|.endif|.endif|.asciz "x"
.macro q|.if 1|.endm|q|.asciz "x"|.endif
.macro q|.else|.endm|.if 1|.asciz "x"|q|.asciz "y"|.endif
.macro q|.elseif 1|.endm|.if 0|.asciz "x"|q|.asciz "y"|.endif
.rept 2+1|.asciz "a"|.endr
.set n,2|.rept n|.asciz "a"|.set n,n+1|.endr
.set i,0|.rept 4|.byte i|.set i,i+1|.endr
.set i,300|.rept 4|.byte i-300|.set i,i+1|.endr
.rept 2 @ c|.asciz "a"|.endr
.rept 2,3|.asciz "a"|.endr
.rept 2 3|.asciz "a"|.endr
.rept end|.endr|end:
.REPT 2|.asciz "a"|.ENDR
.Macro Q|.asciz "q"|.Endm|q
.irp r,r0,r1|.asciz "\r"|.endr
.irp r,"r0,r1"|.asciz "\r"|.endr
.irp r,(a b),[c d]|.asciz "\r"|.endr
.irp r,a=b,c|.asciz "\r"|.endr
.irp r,'a','b'|.asciz "\r"|.endr
.irp r , a , b|.asciz "\r"|.endr
.irp r, a b , c d|.asciz "\r"|.endr
.irp \r,a|.asciz "\r"|.endr
.irp 3,a|.asciz "\r"|.endr
.irp r,-1,+2|.asciz "\r"|.endr
.irp r a|.asciz "\r\()x\r.y"|.endr
.irp r,a;.asciz "\r"|.endr
.irp r,a;.asciz "\r";.endr;.asciz "z"
.irpc c,0123|.asciz "\c"|.endr
.irpc c, ab|.asciz "\c"|.endr
.irpc c,"ab"|.asciz "\c"|.endr
.irpc c,a;.asciz "\c";.endr
.irpc c,a+b|.asciz "\c"|.endr
.irpc c,a + b c|.asciz "\c"|.endr
.irpc c,12|.irpc d,34|.asciz "\c\d"|.endr|.endr
.irp a,1,2|.rept 2|.asciz "\a"|.endr|.endr
.rept 2|.irp a,1,2|.asciz "\a"|.endr|.endr
.rept 2|.macro q|.asciz "q"|.endm|.endr
.rept 2|.macro q|.asciz "q"|.endm|q|.purgem q|.endr
.macro q a:vararg|.irp x,\a|.asciz "\x"|.endr|.endm|q 1,2,3|q|q a b
.macro q a:vararg|.ifnb \a|.asciz "\a"|.endif|.endm|q 1,2,3|q
.macro q a,b:vararg|.asciz "\a"|.ifnb \b|q \b|.endif|.endm|q 1,2,3
.macro q a:vararg|m \a|.endm|q 1,"b c"|q "1 2",3
.macro q a|m \a|.endm|q "1, 2"|q "1 2"
.macro q a|m "\a"|.endm|q "1, 2"|q "1 2"
.macro .q a|.asciz "\a"|.endm|.q 1
.macro q.a a|.asciz "\a"|.endm|q.a 1|q.A 2
.macro _q|.asciz "u"|.endm|_q
.macro $q|.asciz "u"|.endm|$q
.macro add a:vararg|.asciz "\a"|.endm|add r0,r1|ADD r0
.macro nop|.asciz "\@"|.endm|nop|x nop
.macro q|.asciz "q"|.endm|lab q|lab2: q
.macro q|.asciz "q"|.endm|q q
.macro q a|.asciz "\a"|.endm|q nop|q .word 1
.macro q a|.asciz "\a"|.endm|q r0 nop
.macro q a|\a|.endm|q nop|q "nop;nop"|q ".asciz 1"
.macro q a|\a|.endm|q "mov r0,r1"
.macro q a b|\a r0,\b|.endm|q mov r1|q add #300
.macro q a b|\a r0,\b|.endm|q mov r1|q mov r88
.macro q a|.asciz "\a" @ \a|.endm|q 1
.macro q a|.asciz "\a" /* \a */|.endm|q 1
.macro q a /* x */ , b @ c|.asciz "\a\b"|.endm|q 1,2
.macro q /* c|d */ a|.asciz "\a"|.endm|q 1
.macro q|/* .endm|*/ .asciz "x"|.endm|q
.macro q a /* c|d .endm */|.asciz "\a"|.endm|q 1 /* c|d */
.rept 2 /* c|d .endr */ ; .asciz "x"|.endr
.irp q, 1, 2 /* c|d */|.asciz "\q"|.endr
.macro q|@ .endm|.asciz "x"|.endm|q
.macro q|.asciz ".endm"|.endm|q
.macro q|foo: .endm|q|.word foo
.macro q|.endmx|.endm|q
.macro q|1: .endm|.endm
.macro q|.macro r|.endm|.asciz "x"|.endm|q|r
.macro q|.rept 2|.asciz "x"|.endr|.endm|q
.macro q|.rept 2|.asciz "x"|.endm|q|.endr
.rept 2|.macro q|.endr|.endm
.macro q|.end|.endm|q|bad line
.macro q|.include "nope"|.endm|q
.macro q a|.set v,\a|.endm|q 3|.byte v
.macro q a|\a = 3|.endm|q v|.byte v
.macro q a|x .req \a|.endm|q r3|add x,x,#1
.macro q a,b|.word \a¦\b,\a&\b|.endm|q 1,2
.macro q a b c|.asciz "\a,\b"|.endm|q 1 2|q 1,2 3|q 1 2,3
.macro q a=r0, b=[r0,#4]|.asciz "\a"|.endm|q
.macro q a="x y", b=(1 2)|.asciz "\a\b"|.endm|q
.macro q a=,b|.asciz "\a\b"|.endm|q ,1
.macro q a:req,b:req|.asciz "\a\b"|.endm|q 1,2|q 1
.macro q a:vararg=3|.asciz "\a"|.endm|q|q 1
.macro q a:vararg,|.asciz "\a"|.endm|q
.macro q a b:|.asciz "\a"|.endm|q
.macro q a+b|.asciz "\a"|.endm|q
.macro q a,3|.asciz "\a"|.endm|q
.macro q 'a'|.asciz "\a"|.endm|q
.macro q-r|.endm|q
.altmacro|m a b|m <a b>,c|m %1+2|m %1+2,%3*4
.altmacro|m "a"|m 'a'
.altmacro|.macro q x|.word x|.word x+1|.endm|q 3|q %2+2
.altmacro|.macro q x|LOCAL a,b|a: .word b|b: .word a|.endm|q|q
.altmacro|.macro q x|local a|a: .word a|.endm|q|q
.altmacro|.macro q x|.asciz "<x>"|.endm|q <a<b>c>|q <a!>b>
.altmacro|.macro q x|y&x: .word y&x|.endm|q 1|q 2
.altmacro|.macro q x|.if x|q %x-1|.byte x|.endif|.endm|q 5
.altmacro|.rept 2|.byte 1|.endr|.irp x,<1>,<2 3>|.asciz "x"|.endr
.altmacro|.macro q x|.asciz "x \x"|.endm|q 3
.altmacro x
.altmacro|.macro q|LOCAL l|.rept 2|.byte 1|.endr|l: .word l|.endm|q
.altmacro|.macro q n|.set v,n|.endm|q 3|.set w,4|q %w*2|.byte v
.altmacro|m %undefinedname
.purgem|.asciz "x"
.purgem m|.purgem M
.purgem m x
.purgem M|m a
.endm x
.macro q|.warning "w"|.endm|q
.macro q|.err|.endm|.asciz "a"
.macro q|.err|.endm|q
.macro q|.error "e"|.endm|q
.macro q n|.if \n>2|.error "too many"|.endif|.endm|q 2
.macro q n|.if \n>2|.error "too many"|.endif|.endm|q 3
.macro q a|.asciz "\A\a"|.endm|q 1
.macro q a|.asciz "\a\a\\a"|.endm|q 1
.macro q a|.asciz "\ab\()\a"|.endm|q 1
.macro q a|.asciz "\a&b&a&"|.endm|q 1
.macro q a|.byte '\a'|.endm|q 1
.macro q a|.byte '\a,1|.endm|q 1
.macro q a|.byte "\a"|.endm|q 1
.irpc c,ab|.byte '\c'|.endr
.irpc c,ab|.byte '\()\c|.endr
.exitm x
.macro q|.exitm x|.endm|q
.altmacro|.macro q a|.asciz "\a&b a&b& &a& \a& &a&b"|.endm|q 1
.macro q a|.asciz "\a&b a&b& &a& \a& &a&b"|.endm|q 1
.ifc a|.endif
.ifc a,b|.endif
.ifc|.endif
.ifeqs "a","b"x|.endif
.ifeqs "a","b",x|.endif
.ifeqs "a" ,"a"|.asciz "y"|.endif
.ifc a ,a|.asciz "y"|.endif
.ifc a, a|.asciz "y"|.endif
.ifc "a b","a b"|.asciz "y"|.endif
.ifc "a  b","a b"|.asciz "y"|.endif
.ifc 'a b','a b'|.asciz "y"|.endif
.ifc a,a @ x|.asciz "y"|.endif
.ifc a,a;.asciz "y";.endif
.ifdef x y|.asciz "y"|.endif
.ifdef|.endif
.ifdef x+1|.endif
x=1|.ifdef x|.asciz "y"|.endif
.extern x|.ifdef x|.asciz "y"|.endif
.global x|.ifdef x|.asciz "y"|.endif
.word x|.ifdef x|.asciz "y"|.endif
.ifdef r0|.asciz "y"|.endif
x .req r0|.ifdef x|.asciz "y"|.endif
x:|.ifdef x|.asciz "y"|.endif
.comm x,4|.ifdef x|.asciz "y"|.endif
.weak x|.ifdef x|.asciz "y"|.endif
.macro q|.endm|.ifdef q|.asciz "y"|.endif
.ifdef "x"|.asciz "y"|.endif
.equ x,y|.ifdef x|.asciz "y"|.endif
.ifndef x|.asciz "y"|.endif
.ifdef .|.asciz "y"|.endif
.endif x
.if 1|.endif x
.if 1|.else x|.endif
.if 1,2|.endif
.if 1 2|.endif
.ifeq 0,1|.endif
.ifeq|.endif
.if .|.endif
.if . > 1|.endif
x: .if x|.endif
.if x-y|.endif|y:
nop|x: .if x-.|.asciz "y"|.endif|.if . - x == 0|.asciz "z"|.endif
.ifge -1|.asciz "y"|.else|.asciz "z"|.endif
.ifnb x|.asciz "y"|.endif
.if "a"|.endif
.elseif 1
`), "\n")

// text is what the strings of .text come to, if there is nothing else in it.
func (r *Result) text() (string, bool) {
	var b strings.Builder
	for _, i := range r.prog.Order[0] {
		it := &r.prog.Items[i]
		switch {
		case it.Size == 0:
		case it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffString:
			for k := range it.Stmt.Ops {
				b.WriteString(it.Stmt.Ops[k].Names.Str + strings.Repeat("\x00", it.Stmt.Directive.Unit))
			}
		default:
			return "", false
		}
	}
	return b.String(), true
}

// TestOddMacros compares verdict, text and size of each source with the
// reference's.
func TestOddMacros(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	const head = ".macro m a,b,c\n.asciz \"\\a¦\\b¦\\c¦\"\n.endm\n.macro v a,b:vararg\n.asciz \"\\a¦\\b\"\n.endm\n.macro p a=1,b=2,c:req\n.asciz \"\\a¦\\b¦\\c\"\n.endm\n"
	used := map[string]bool{}
	odd := reftest.Recorded(oddMacros, 11)
	for _, src := range odd {
		text := head + strings.ReplaceAll(src, "|", "\n") + "\n"
		text = strings.ReplaceAll(text, "¦", "|")
		ref, asked := reftest.AssembleRecorded(t, reftest.Options{Arch: "armv4t"}, text)
		if !asked {
			continue
		}
		msg := ""
		r := analyze(t, nil, ".arch armv4t\n"+text)
		for _, d := range r.Each() {
			if d.Severity == finding.Error {
				msg = d.Code + ": " + d.Message
				break
			}
		}
		problem := ""
		switch {
		case ref.OK && msg != "":
			problem = "false alarm: " + msg
		case !ref.OK && msg == "":
			problem = "silence"
		case ref.OK:
			want := ref.Sections[".text"]
			if got, ok := r.text(); ok && got != string(want) {
				problem = "text " + got + ", reference " + string(want)
			} else if n := int(r.prog.Sections[0].Size); n != len(want) && (n+3)&^3 != len(want) { // code is padded
				problem = "another size"
			}
		}
		if problem == "" {
			continue
		}
		if _, ok := knownMacros[src]; ok {
			used[src] = true
			continue
		}
		t.Errorf("%s: %q", src, problem)
	}
	for l, why := range knownMacros {
		if !used[l] && !reftest.Part() {
			t.Errorf("%q is listed as judged otherwise (%s), and is not", l, why)
		}
	}
	proof.Counted("odd macros: %d sources", len(odd))
}

// knownMacros are the sources where we judge otherwise, with the reason.
var knownMacros = map[string]string{
	`.irpc x "ab"c|.asciz "a\x"|.endr`: "a string goes on in the next line",
}

// box is a program with macros, for what an editor shows of it.
const box = `	.syntax unified
	.thumb
	.macro point number, position=0
	movs r0, #\number
	movs r1, #\position
	.endm
	.macro routine name
\name:
	point 300
	bx lr
	.endm
	routine throw
	point 3
	point 3, 400
	.rept 3
	movs r0, #300
	adds r0, r1, r0
	.endr
	.irp reg, r0, r9, r10
	movs \reg, #1
	.endr
	bl throw
`

func boxResult(t *testing.T) (*Result, string, func(mark string) int) {
	return analyze(t, nil, box), box, func(mark string) int { return strings.Index(box, mark) }
}

// TestExpansionFindings holds where findings in expansions are shown, with
// what beside them, and that nothing offers to edit them.
func TestExpansionFindings(t *testing.T) {
	r, text, _ := boxResult(t)
	type found struct{ at, related string }
	var got []found
	for _, d := range r.each {
		f := found{at: text[d.Span.Start:d.Span.End]}
		for _, x := range d.Related {
			f.related += text[x.Span.Start:x.Span.End] + " | " + x.Message + "; "
		}
		got = append(got, f)
		if a := r.Actions(context.Background(), d.Span); len(a) > 0 {
			t.Errorf("%s: %d rewrites", f.at, len(a))
		}
	}
	want := []found{
		{"routine throw", `movs r0, #\number | in point: movs r0,#300; point 300 | in routine: point 300; `},
		{"point 3, 400", `movs r1, #\position | in point: movs r1,#400; `},
		{"#300", ""},
		{`movs \reg, #1`, `movs \reg, #1 | in .irp, as: movs r9,#1; `},
		{`movs \reg, #1`, `movs \reg, #1 | in .irp, as: movs r10,#1; `},
	}
	if len(got) != len(want) {
		t.Fatalf("%d findings: %q", len(got), got)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("finding %d: %q, expected %q", i, got[i], want[i])
		}
	}
}

// TestMacroFeatures holds what an editor shows of macros.
func TestMacroFeatures(t *testing.T) {
	r, text, at := boxResult(t)
	hover := func(mark string, parts ...string) {
		t.Helper()
		h, ok := r.Hover(at(mark) + 1)
		if !ok {
			t.Errorf("no hover at %q", mark)
		}
		for _, p := range parts {
			if !strings.Contains(h.Markdown, p) {
				t.Errorf("the hover at %q has no %q: %s", mark, p, h.Markdown)
			}
		}
	}
	hover("point 3\n", "point number, position=0", "called 3 times", "line 3", "makes 4 bytes", "2003", "2100", "movs r0,#3")
	hover("point number", "called 3 times")
	hover("routine throw", "throw:", "4770", "makes 6 bytes")
	hover("adds r0, r1, r0", "**ADD", "0x1808", "bytes `08 18`")
	def := r.Definition(at("point 3\n") + 2)
	if len(def) != 1 || def[0].Span.Start != at("point number") {
		t.Errorf("the definition of point: %v", def)
	}
	def = r.Definition(at("bl throw") + 4)
	if len(def) != 1 || def[0].Span.Start != at("routine throw") {
		t.Errorf("the definition of throw: %v", def)
	}
	refs := r.References(at("point number") + 1)
	if len(refs) != 4 || refs[0].Span.Start != at("point number") {
		t.Errorf("references of point: %v", refs)
	}
	refs = r.References(at("bl throw") + 4)
	if len(refs) != 2 || text[refs[1].Span.Start:refs[1].Span.End] != "throw" {
		t.Errorf("references of throw: %v", refs)
	}
	var names []string
	for _, s := range r.Symbols() {
		names = append(names, text[s.NameSpan.Start:s.NameSpan.End])
		if s.Kind == program.SymMacro && !strings.HasSuffix(text[s.Full.Start:s.Full.End], ".endm") {
			t.Errorf("%s ends at %q", s.Name, text[s.Full.Start:s.Full.End])
		}
	}
	if got := strings.Join(names, " "); got != "point routine routine throw" {
		t.Errorf("symbols %q", got)
	}
}

// TestMacroBounds holds that hostile programs end soon, with a finding, and
// that what is around is looked at still.
func TestMacroBounds(t *testing.T) {
	const rest = "\n\t.section .other\n\tmovs r0, #300\n"
	for _, c := range []struct{ name, text, code string }{
		{"a huge count", ".rept 1000000000\nnop\n.endr", finding.CodeMacroSize},
		{"a huge count of nothing", ".rept 1000000000\n.endr", ""},
		{"a huge count with a label", ".rept 1000000000; x\\@: nop; .endr", finding.CodeMacroSize},
		{"no end", ".macro m\nm\n.endm\nm", finding.CodeMacroDepth},
		{"no end, twice", ".macro m\nm\nm\n.endm\nm", finding.CodeMacroDepth},
		{"no end, in turns", ".macro a\nb\n.endm\n.macro b\n.rept 2\na\n.endr\n.endm\na", finding.CodeMacroDepth},
		{"doubling", ".macro m n\n.if \\n\nm \"(\\n-1)\"\nm \"(\\n-1)\"\n.endif\n.endm\nm 60", finding.CodeMacroSize},
		{"doubling text", ".macro m n, x\n.if \\n\nm \\n-1, \\x\\x\n.endif\n.endm\nm 60, abcdefgh", finding.CodeMacroSize},
		{"nested repetitions", strings.Repeat(".rept 1000\n", 8) + "nop\n" + strings.Repeat(".endr\n", 8), finding.CodeMacroSize},
		{"many values", ".macro m x:vararg\n.irp a, \\x\n.irp b, \\x\n.irp c, \\x\n.byte \\a\n.endr\n.endr\n.endr\n.endm\nm " + strings.Repeat("1,", 400), finding.CodeMacroSize},
		{"a huge space", ".space 0x7fffffff\n.rept 3\n.space 0x7fffffff\n.endr", ""},
		{"no .endm", ".section .other\nmovs r0, #300\n.macro m", finding.CodeMacroDef},
		{"no .endr", ".section .other\nmovs r0, #300\n.rept 3\nnop", finding.CodeMacroDef},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := analyze(t, nil, finding.UnifiedThumb+c.text+rest)
			codes := map[string]int{}
			for _, d := range r.Each() {
				codes[d.Code]++
			}
			if c.code != "" && codes[c.code] != 1 {
				t.Errorf("findings %v, expected one %s", codes, c.code)
			}
			if codes[finding.CodeConstRange] != 1 {
				t.Errorf("findings %v: what stands around is not looked at", codes)
			}
			if len(r.prog.Items) > 2*assemble.MaxExpanded {
				t.Errorf("%d items", len(r.prog.Items))
			}
		})
	}
}

// TestExpansionsKept holds that what is kept changes nothing: analyses with and
// without it have the same findings and places, whatever was analysed before.
func TestExpansionsKept(t *testing.T) {
	var made assemble.Expansions
	odd := reftest.Sample(oddMacros, 4)
	for _, src := range odd {
		text := strings.ReplaceAll(strings.ReplaceAll(src, "|", "\n"), "¦", "|") + "\n"
		for range 2 {
			fresh := analyze(t, nil, text)
			r, err := Analyze(context.Background(), &Input{Path: "test.s", File: syntax.Parse(text), Made: &made})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.prog.Items) != len(fresh.prog.Items) || len(r.diags) != len(fresh.diags) {
				t.Fatalf("%s: %d items and %d findings, afresh %d and %d", src, len(r.prog.Items), len(r.diags), len(fresh.prog.Items), len(fresh.diags))
			}
			for i := range r.prog.Items {
				if a, b := &r.prog.Items[i], &fresh.prog.Items[i]; a.Offset != b.Offset || a.Size != b.Size || r.prog.LineText(a) != fresh.prog.LineText(b) {
					t.Fatalf("%s: item %d differs", src, i)
				}
			}
		}
	}
}

// TestLoopValues holds that data in a loop is judged by the value that its
// names have then.
func TestLoopValues(t *testing.T) {
	r := analyze(t, nil, "\t.set i, 250\n\t.rept 5\n\t.byte i\n\t.set i, i+1\n\t.endr\n\t.set i, 1000\n")
	if len(r.diags) != 0 {
		t.Errorf("%+v", r.diags)
	}
	r = analyze(t, nil, "\t.set i, 250\n\t.rept 9\n\t.byte i\n\t.set i, i+1\n\t.endr\n\t.set i, 0\n")
	if len(r.diags) == 0 {
		t.Error("nothing is found")
	}
}
