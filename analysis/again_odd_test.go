package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// againOdd are programs in which a line concerns others in ways that random edits of plain
// programs do not meet: what is defined later, what depends on sizes and places, and what a
// line means only by those around it. The lines from "=" on, separated by |, are what is
// typed there.
var againOdd = []string{
	// constants
	".equ N, M\n.equ K, 4\nf: movs r0, #K\nadds r0, #N\n.equ M, 3\n.word K, N, M\nbx lr\n= N|M|K|K+1|M-N|4|300|-1|K*M|.equ K, M|.set K, 5",
	".set lamp, 1\nf: movs r0, #lamp\n.set lamp, 2\nmovs r1, #lamp\n.set lamp, lamp+1\nmovs r2, #lamp\n.word lamp\nbx lr\n= lamp|lamp+1|2|3|.set lamp, lamp*2|.equ lamp, 4|.equiv lamp, 1|lamp=7|301",
	".equiv a, 3\nf: movs r0, #a\nb = a+1\nmovs r1, #b\n.byte a, b\n.hword b<<8\nbx lr\n= a|b|a+b|.equiv b, 1|b=300|a-300|.eqv c, a|c",
	// conditions on sizes and places
	"f: nop\nadds r0, #1\ng: nop\n.if g-f > 4\nmovs r1, #1\n.else\nmovs r2, #2\n.endif\nbx lr\n= g-f|f-g|3|4|5|g-f == 4|adds r0, #8|add r0, r8|.word 1",
	"f: .word 1, 2\n.if . - f == 8\n.byte 1\n.endif\n.ifdef f\n.byte 2\n.endif\n.ifndef later\n.byte 3\n.endif\nlater: .byte 4\n= 2|2, 3|f|later|g|.ifdef later|.byte 9|.equ g, 1",
	".ifc abc, abc\nnop\n.endif\n.ifnc abc, abd\n.byte 1\n.endif\n.ifb\n.byte 2\n.endif\n.ifge 1-2\n.byte 3\n.endif\n.ifeqs \"a\", \"a\"\n.byte 4\n.endif\n= abc|abd|\"b\"|1|2|3|nop|.else|.endif|.elseif 1",
	// places
	"f: movs r0, #1\n.org 0x10\ng: movs r1, #2\n.org . + 4\n.word g-f\n.align 3\nh: b f\nbeq g\n= 0x10|0x12|0x8|2|3|. + 6|f|g|h|.org 2|.balign 8|.p2align 2,,1",
	"f: b g\nbeq g\ncbz r0, g\n.space 120\n.fill 2, 2, 9\n.align 2\ng: bx lr\n= 120|126|124|2000|300|g|f|9|2|4|.balign 4, 7|.skip 3",
	"f: adr r0, t\nldr r1, t\nldr r2, =0x12345\n.align 2\nt: .word 1, 2\n.byte 1\n.even\nh: .hword 4\n= t|h|t+4|t+1|0x12345|0x12|1|.byte 1, 2|.ltorg|=t|=h",
	// macros
	".macro lamp n, k=1\nmovs r\\n, #\\k\n.ifb \\n\nnop\n.endif\n.endm\nf: lamp 0, 2\nlamp 1\nlamp n=2, k=300\nbx lr\n= lamp|lamps|0|1|8|300|n|\\k|\\n|\\@|.purgem lamp|.endm|lamp 3, 4|.exitm",
	".macro put n\n.byte \\n\n.if \\n\nput \\n-1\n.endif\n.endm\nf: put 3\nput 2\n.purgem put\n.macro put n\n.hword \\n\n.endm\nput 4\n= put|3|4|0|\\n|n|.byte|.purgem put|put 1|@ red|.macro put n",
	"f: movs r0, #1\n.irp n, 1, 2, 3\nmovs r\\n, #\\n\n@ a lamp \\n\n.endr\n.irpc c, 123\n.byte \\c\n.endr\n.rept 2\nadds r0, #1\n1: b 1b\n.endr\nbx lr\n= 1|2|3|8|4, 5|\\n|\\c|1b|1f|300|@ green|.endr|n|.rept 0|.rept K",
	".altmacro\n.macro m a\nlocal x\nx: .word \\a, x\n.endm\nm 1\nm %1+2\n.noaltmacro\nm 3\n= m|1|%2|x|a|3|local y|.noaltmacro|nop|300",
	// labels
	"1: nop\nb 1f\n1: b 1b\nbeq 2f\n1: .word 1b, 1f\n2: b 1b\n1: bx lr\n2:\n= 1f|1b|2f|2b|1:|2:|3:|nop|b|1: nop|.word 1f",
	"f: nop\n.global f\n.size f, . - f\n.type f, %function\n.thumb_func\ng: nop\n.weak h\nbl h\nb g\n.size g, .-g\n.set al, g\nb al\n= f|g|h|al|.thumb_func|nop|.size g, 4|4|.-f|%object|.thumb_set al, g|.hidden f|nop.n|.local g",
	".global f\n.thumb_func\nf: push {r4, lr}\nbl g\npop {r4, pc}\n.thumb_func\ng: bx lr\n.word f, g, f+1, g-f\n= f|g|{r4, pc}|{r4, lr}|{r4}|bx r4|b g|bl f|blx g|.arm|.code 32|.thumb_func|g-f|f-.",
	// names of registers
	"speed .req r1\nsteed .req r8\nf: movs speed, #1\nmov steed, speed\nmovs r0, #speed\n.unreq speed\nmovs speed, #2\nspeed .req r2\nmovs speed, #3\nbx lr\n= speed|steed|r1|r8|r2|SPEED|.unreq steed|.unreq speed|1|300|lr .req r1|foo .req r1",
	".fpu vfpv4\nf: vmov s0, r0\nlevel .dn d1.f32\nvadd.f32 s1, s0, s2\nvldr d0, t\nbx lr\n.align 3\nt: .double 1.5\n.float 2.5\n= s0|s1|level|d1|d16|t|1.5|2.5e300|.float 3|vmov.f32 s0, #1.0|.fpu neon|#1",
	// sections
	".text\nf: nop\n.pushsection .data\nd: .word 1\n.popsection\nb f\n.section .rodata, \"a\"\nr: .word d, f\n.previous\nldr r0, =r\n.subsection 1\nnop\n.text\nbx lr\n= .text|.data|.bss|.section .data|.popsection|.pushsection .rodata|.previous|.subsection 2|d|f|r|1|2|nop|.space 4|.word r-d",
	".section .bss\nx: .space 4\n.comm y, 4\n.lcomm z, 8\n.data\n.byte 1\n.text\nf: ldr r0, =x\nldr r1, =y\nldr r2, =z\nbx lr\n= x|y|z|4|8|.word 1|.byte 0|.space 8|.byte 1|nop|.comm x, 4|z+4",
	// pools
	"f: ldr r0, =0x1234\nldr r1, =0x1234\nldr r2, =g\n.ltorg\ng: ldr r3, =0x1234\nldr r4, =0x12\nldr r5, =0xffffffff\n.pool\nbx lr\n= 0x1234|0x1235|0x12|g|f|g+1|=0x1234|=-1|.ltorg|r8|ldr|ldrh|mov r0, #4",
	"f: ldr r0, =0x11223344\nb g\n.space 500\n.ltorg\n.space 520\ng: ldr r0, =0x55667788\nldr.w r1, =0x55667788\nbx lr\n= 500|520|1000|1020|4|0x11223344|0x1|ldr.w|ldr.n|g|.space 2|=g",
	// blocks
	".arch armv7-m\nf: cmp r0, #1\nite eq\nmoveq r1, #1\nmovne r2, #2\nitt gt\naddgt r0, #1\naddgt r0, r0, r1\nbx lr\n= eq|ne|ite|it|itt|itte|moveq|movne|mov|gt|le|addgt|bgt f|cmp r0, #2|r1|r13|pc|bxeq lr|300|nop",
	".arch armv7-a\n.arm\nf: cmp r0, #1\nmoveq r1, #1\nldr r2, [r3, -r4]\nldrd r4, r5, [r6]\n.thumb\ng: cmp r0, #1\nmoveq r1, #1\nmovne r1, #1\nbx lr\n= eq|ne|moveq|mov|.arm|.thumb|r5|r6|r7|1|256|257|.code 16|.thumb_func|addseq r0, r1|beq f|bx pc",
	// targets
	".cpu cortex-m0\nf: movs r0, #1\n.cpu cortex-m4\nmov.w r1, #1\nsdiv r0, r1, r2\n.arch armv6-m\nmovs r2, #1\n.arch_extension idiv\nbx lr\n= cortex-m0|cortex-m4|cortex-m3|armv6-m|armv7-m|r0|r8|1|256|.cpu cortex-m33|.arch armv4t|.syntax divided|.syntax unified|mov r1, #1|fp|idiv",
	".syntax divided\nf: mov r0, #1\nadd r0, #2\nsub r0, r0, r1\nldr r0, [r1]\n.syntax unified\nadds r0, #2\nbx lr\n= mov|movs|add|adds|#1|#300|r0|r8|.syntax unified|.syntax divided|ldrb|ldmia r0!, {r1}",
	// unwinding
	"f: .fnstart\n.save {r4, lr}\npush {r4, lr}\n.pad #8\nsub sp, #8\n.setfp r7, sp, #0\nadd r7, sp, #0\n.personality f\n.handlerdata\n.word 1\n.fnend\n= {r4, lr}|{r4}|#8|#12|.fnstart|.fnend|.cantunwind|r7|sp|nop|.cfi_startproc|.pad #4|push {r5, lr}",
	".cfi_startproc\nf: push {r4, lr}\n.cfi_def_cfa_offset 8\n.cfi_offset r4, -8\npop {r4, pc}\n.cfi_endproc\n.uleb128 300, 2\n.sleb128 -1\n.uleb128 g-f\ng:\n= 8|-8|r4|r5|300|1|127|128|g|f|.cfi_endproc|.cfi_startproc|nop|g-f+120",
	// comments and text
	"f: movs r0, #1 @ narrowgauge: allow wide-immediate\nmovs r0, #300\n@ narrowgauge: allow-all\nmovs r8, #1\n/* narrowgauge: allow x */ movs r9, #1\nbx lr @ narrowgauge: allow all: because\n= @ narrowgauge: allow|narrowgauge|allow|: |300|r0|r8|wide-immediate|@|/*|*/|all|\n|x",
	".ascii \"a lamp\"\n.asciz \"\\n\\x41\", \"b\"\n.string \"@ no; comment\"\nf: nop; movs r0, #1; .byte 1 @ c\n.byte 'a, 'b'\n.end\nmovs r8, #1\n= \"|\\|@|;|nop|'c|1|300|.end|/*|*/|\\\"|r0|\"x\"",
	"f: b h\n.line 4\n# 10 \"points.s\"\nmovs r0, #1\n.file \"x.s\"\n.loc 1 2\n.ident \"x\"\n.title \"y\"\n.err\n.error \"no\"\n.warning \"line 3\"\n.print \"q\"\nh: bx lr\n= # 11 \"x.s\"|#define A 1|\"z\"|1|300|.err|.warning \"w\"|h|f|.abort|.if 0|.endif|.fail 1|.line 9",
	"#define LAMP 4\n#define SET(r, n) movs r, #n\nf: SET(r0, LAMP)\nmovs r1, #LAMP\n#if LAMP > 3\nadds r0, #1\n#else\nadds r0, #2\n#endif\n#ifdef RED\nnop\n#endif\nbx lr\n= LAMP|RED|4|3|300|r0|r8|#undef LAMP|#define RED|SET(r1, 2)|#if 0|#endif|#error x|n|__LINE__|// c|/*|*/",
	".include \"k.inc\"\nf: movs r0, #KNOWN\nmovs r1, #LATER\nhelp r2\n.incbin \"k.bin\"\n.include \"k2.inc\"\nbx lr\n= KNOWN|LATER|OTHER|help|\"k2.inc\"|\"no.inc\"|r0|r8|\"k.bin\"|\"k.bin\", 1|4|300|.include \"k.inc\"|.equ KNOWN, 4|nop",
	// statements in several lines
	"f: push {r0, /* red\nlamp */ r1}\nmovs r0, #1 /* on\n*/\n.byte 1, /*\n\n*/ 2\nx: /* a\n*/ nop /* b\n*/ ; bx lr\ny: .word y-x\n= /*|*/|/* a|b */|; nop|nop|, r2|r1}|300|:|\n|@|*/ nop|{r0|.byte 3",
	".ascii \"a\nb\", \"c\"\n.asciz \"d\\\ne\"\nf: nop\n.ascii \"g\" /* h\n*/ \"i\"\nx: .word x-f\n= \"|\"\"|\\|a\"|\"b|, \"x\"|\n|nop|/*|*/|.ascii \"|\\\"|f",
	"f: bne 10$\nnop\n10$: bx lr\ng: bne 10$\nldr r0, =10$\n1: b 20$\n10$: bx lr\n20$: .word 10$-g, 20$\nh: b 20$\n= 10$|20$|30$|10$:|f:|g:|h|1:|.Lx:|x: nop|x = 1|.word 10$|1b|nop|b 10$",
	// what is read between lines
	"f: ldr r3, =f\nlsls r3, r3, #1\nadds r3, #1\nbx r3\ng: movs r0, #0\nldr r1, [r0]\nudiv r2, r1, r0\nstr r1, [sp, #4]\nadd sp, #8\npop {pc}\n= r0|r1|r3|r4|#0|#1|#2|#8|ldrb|bx lr|pop {r4, pc}|=g|push {lr}|sub sp, #8|b f|movs r3, #4",
	".arch armv7e-m\nf: tbb [pc, r0]\nt: .byte (a-t)/2, (b-t)/2\n.align 1\na: nop\nb: bx lr\ncbz r0, a\ncbnz r1, c\nc: b b\n= a|b|c|t|(c-t)/2|(a-t)|300|nop|nop.w|b.w b|r0|r8|.byte 1|tbh [pc, r0, lsl #1]|.hword 1",
	".struct 0\na: .space 4\nb: .space 2\n.text\nf: ldr r0, [r1, #a]\nldrh r2, [r1, #b]\nldr r0, [r1, b]\n.word b\n.offset 8\nc: .byte 1\n.text\nstr r0, [r1, #c]\n= 4|2|1|a|b|c|#b|#c|a+b|.struct 2|.space 8|.offset 0|300|ldrb",
	".arch armv8-m.main\n.thumb\nf: b.w g\nbl g\nblx r0\nbxns lr\nsg\ntt r0, r1\ng: bfi r0, r1, #3, #30\nubfx r0, r1, #1, #32\nlsl r0, r1, #32\n= g|f|#3|#29|#31|#32|#0|r0|sp|pc|b.n g|b g|lsl|lsr|asr|mov r0, r1, lsl #3|bfc r0, #1, #2",
	".reloc ., R_ARM_NONE, f\nf: movw r0, #:lower16:f\nmovt r0, #:upper16:f\n.word f(GOT)\nbl f(PLT)\n.word 1f - 2f\n1: nop\n2: .reloc 1b, R_ARM_NONE\n= f|g|1f|1b|2b|lower16|upper16|GOT|PLT|#4|:lower16:(f+4)|r0|r13|.reloc .+2, R_ARM_NONE, f|2f-1f",
	".symver f, f@V1\n.equ X, (1 << 31) >> 31\n.if X == -1\n.byte 1\n.endif\n.equ Y, !X\n.word X|Y, X^Y, ~X, X&&Y\n.quad X*X*X, 1<<63\n.octa 1\n.hword X\nf:\n= X|Y|31|32|63|64|-1|0|1|!|~|<|<<|/|%|/0|0x10000|.byte 300|.word 1<<32",
	".while 0\nnop\n.endw\n.set i, 0\n.rept 3\n.byte i\n.set i, i+1\n.endr\n.while i < 5\n.byte i\n.set i, i+1\n.endw\n.word i\nf: movs r0, #i\n= i|0|1|2|3|5|300|i+2|.byte i+1|.endr|.endw|.rept 4|nop|j",
	".nops 4\n.fill 3, 2\n.zero 4\n.dcb.b 2, 1\n.ds.w 2\n.bundle_align_mode 4\n.inst 0x4770\n.inst.n 0xbf00\n.inst.w 0xf3af8000\n.2byte 1\n.4byte f\n.float16 1.0\nf: .p2alignl 3, 1\n.balignw 4, 2\n= 4|2|1|0|3|300|-1|0x4770|0xe7fe|0xf000|f|.inst 0xf3af8000|.nops 3|.fill f, 1|.bundle_lock|70000",
}

// againOddEdit makes a change of a program: words that are typed in the place of others, lines
// that come, go and move.
func againOddEdit(r *rand.Rand, f *syntax.File, words []string) *syntax.File {
	text := f.Text()
	line := r.IntN(f.NumLines())
	start, l := f.LineStart(line), f.Line(line).Text
	word := func() string {
		if r.IntN(4) > 0 {
			return words[r.IntN(len(words))]
		}
		k := r.IntN(f.NumLines())
		w := strings.FieldsFunc(f.Line(k).Text, func(c rune) bool { return strings.ContainsRune(" \t,", c) })
		if len(w) == 0 {
			return " "
		}
		return w[r.IntN(len(w))]
	}
	switch r.IntN(12) {
	case 0, 1, 2, 3, 4, 5: // a word, as names are made up, for another
		var spans [][2]int
		for i := 0; i < len(l); {
			j := i
			for j < len(l) && (l[j] == '_' || l[j] == '.' || l[j] >= '0' && l[j] <= '9' || l[j]|0x20 >= 'a' && l[j]|0x20 <= 'z') {
				j++
			}
			if j > i {
				spans = append(spans, [2]int{i, j})
			}
			i = max(j, i+1)
		}
		if len(spans) > 0 {
			s := spans[r.IntN(len(spans))]
			return f.Edit(start+s[0], start+s[1], word())
		}
	case 6: // a line that is typed
		return f.Edit(start, start, word()+"\n")
	case 7: // a line that goes
		return f.Edit(start, min(start+len(l)+1, len(text)), "")
	case 8: // a line for another
		return f.Edit(start, start+len(l), word())
	case 9: // a comment or an empty line
		return f.Edit(start, start, []string{"\n", "@ a lamp\n", "/* a\n lamp */\n", "# a lamp\n", "\t\n"}[r.IntN(5)])
	case 10: // other blanks
		return f.Edit(start, start, []string{" ", "\t", "/* c */ "}[r.IntN(3)])
	}
	at := start + r.IntN(len(l)+1)
	return f.Edit(at, min(at+r.IntN(2), start+len(l)), string(" #,0189abrsf=.@;:\\\n[]{}+-"[r.IntN(25)]))
}

// againFiles are what programs of againOdd include.
func againFiles(w assemble.Wanted) (string, *syntax.File, bool) {
	text, ok := map[string]string{
		"k.inc":  ".equ KNOWN, 4\n.macro help r\nmovs \\r, #KNOWN\n.endm\n.set OTHER, 2\n",
		"k2.inc": ".equ LATER, 5\n.ifdef f\n.byte 1\n.endif\nmovs r3, #OTHER\n",
	}[w.Name]
	return w.Name, syntax.Parse(text), ok
}

// againPair compares what an analysis of f says that takes an earlier one over with what one
// says that does not; the text is empty where both are the same. The results are the first one, and
// whether it was taken over.
func againPair(f *syntax.File, before *Result, set *Settings) (now *Result, difference string, err error) {
	ask := func(before *Result) (*Result, error) {
		return Analyze(context.Background(), &Input{Path: "box.s", File: f, Set: set, Before: before, Load: againFiles,
			Size: func(w assemble.Wanted) (int64, bool) { return 6, w.Name == "k.bin" }})
	}
	now, err = ask(before)
	if err != nil {
		return nil, "", err
	}
	if before == nil {
		return now, "", nil
	}
	fresh, err := ask(nil)
	if err != nil {
		return nil, "", err
	}
	if got, want := againBoth(now, fresh); got != want {
		return now, fmt.Sprintf("before:\n%s\nafter:\n%s\n%s", before.prog.File.Text(), f.Text(), firstDifference(got, want)), nil
	}
	if a, b := now.kept.marks, fresh.kept.marks; a != b && a.done && b.done {
		return now, fmt.Sprintf("before:\n%s\nafter:\n%s\nlines are counted as %v, want %v", before.prog.File.Text(), f.Text(), a, b), nil
	}
	return now, "", nil
}

var againSets = []*Settings{nil, {StartMode: "thumb", Syntax: "unified"}, {CPU: "cortex-m4", Syntax: "unified"}, {Arch: "armv7-a", Syntax: "unified"}, {CPU: "cortex-m0", Syntax: "unified", Preprocess: "always"}, {CPU: "cortex-a7", Syntax: "unified", ImplicitIT: "always"}}

// TestAgainOdd edits the programs of againOdd as TestAgain edits plain ones.
func TestAgainOdd(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	number, seed := reftest.Count(120, 900, 40000), reftest.Seed(1)
	edits, taken, moved := 0, 0, 0
	for k := range number {
		r := rand.New(rand.NewPCG(uint64(seed+k), 13))
		text, typed, _ := strings.Cut(againOdd[k%len(againOdd)], "\n=")
		words := strings.Split(strings.TrimSpace(typed), "|")
		set := againSets[r.IntN(len(againSets))]
		f := syntax.Parse(text + "\n")
		before, _, err := againPair(f, nil, set)
		if err != nil {
			t.Fatal(err)
		}
		for range 12 {
			f = againOddEdit(r, f, words)
			now, difference, err := againPair(f, before, set)
			if err != nil {
				t.Fatal(err)
			}
			edits++
			if sameOrder(now, before) {
				taken++
			} else if now.TookOver() {
				moved++
			}
			if difference != "" {
				t.Errorf("seed %d, text %d, settings %+v: %s", seed+k, k%len(againOdd), set, difference)
				break
			}
			before = now
		}
	}
	proof.Counted("%d edits, %d taken over, and %d that move what is below", edits, taken, moved)
}

// FuzzAgain compares as TestAgain does, for any text and any edit of it.
func FuzzAgain(f *testing.F) {
	for k, x := range againOdd {
		text, typed, _ := strings.Cut(x, "\n=")
		for i, w := range strings.Split(strings.TrimSpace(typed), "|") {
			f.Add(text, uint16(i*7), uint8(i%5), w, uint8(k))
		}
	}
	f.Fuzz(func(t *testing.T, text string, at uint16, n uint8, typed string, set uint8) {
		if len(text)+len(typed) > 4000 {
			return
		}
		s := againSets[int(set)%len(againSets)]
		file := syntax.Parse(text)
		before, _, err := againPair(file, nil, s)
		if err != nil {
			t.Fatal(err)
		}
		start := min(int(at), len(text))
		end := min(start+int(n), len(text))
		again := file.Edit(start, end, typed)
		for _, f := range []*syntax.File{again, again.Edit(start, start+len(typed), text[start:end])} {
			now, difference, err := againPair(f, before, s)
			if err != nil {
				t.Fatal(err)
			}
			if difference != "" {
				t.Fatal(difference)
			}
			before = now
		}
	})
}
