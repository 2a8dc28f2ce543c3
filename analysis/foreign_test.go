package analysis

import (
	"context"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// foreignSamples are invented routines that sum up words, in other architectures.
var foreignSamples = map[string]string{
	"AArch64":    "\t.text\n\t.global sum\nsum:\tstp x29, x30, [sp, #-16]!\n\tmov x2, xzr\n1:\tldr w3, [x0], #4\n\tadd w2, w2, w3\n\tsubs x1, x1, #1\n\tb.ne 1b\n\tmov w0, w2\n\tldp x29, x30, [sp], #16\n\tret\n",
	"x86":        "\t.globl sum\nsum:\tpushl %ebp\n\tmovl %esp, %ebp\n\txorl %eax, %eax\n1:\taddl (%edx), %eax\n\taddl $4, %edx\n\tdecl %ecx\n\tjnz 1b\n\tleave\n\tret\n",
	"MIPS":       "\t.set noreorder\n\t.ent sum\nsum:\tmove $v0, $zero\n1:\tlw $t0, 0($a0)\n\taddu $v0, $v0, $t0\n\taddiu $a1, $a1, -1\n\tbnez $a1, 1b\n\taddiu $a0, $a0, 4\n\tjr $ra\n\tnop\n\t.end sum\n",
	"RISC-V":     "\t.globl sum\nsum:\taddi sp, sp, -16\n\tsw ra, 12(sp)\n\tli t0, 0\n1:\tlw t1, 0(a0)\n\tadd t0, t0, t1\n\taddi a0, a0, 4\n\taddi a1, a1, -1\n\tbnez a1, 1b\n\tmv a0, t0\n\tlw ra, 12(sp)\n\tret\n",
	"PowerPC":    "\t.globl sum\nsum:\tmflr r0\n\tstwu r1, -16(r1)\n\tstw r0, 20(r1)\n\tli r5, 0\n1:\tlwz r6, 0(r3)\n\tadd r5, r5, r6\n\taddi r3, r3, 4\n\taddic. r4, r4, -1\n\tbne 1b\n\tmr r3, r5\n\tlwz r0, 20(r1)\n\tmtlr r0\n\tblr\n",
	"MicroBlaze": "\t.globl sum\nsum:\taddik r1, r1, -8\n\tswi r19, r1, 4\n\tadd r19, r0, r0\n1:\tlwi r7, r5, 0\n\taddk r19, r19, r7\n\taddik r5, r5, 4\n\taddik r6, r6, -1\n\tbneid r6, 1b\n\tnop\n\tlwi r19, r1, 4\n\trtsd r15, 8\n\taddik r1, r1, 8\n",
	"AVR":        "\t.global sum\nsum:\tldi r24, 0\n\tldi r18, 16\n1:\tld r19, X+\n\tadd r24, r19\n\tdec r18\n\tbrne 1b\n\tout 0x18, r24\n\trcall show\n\tret\n",
	"68k":        "\t.globl sum\nsum:\tlink %fp, #0\n\tmove.l 8(%fp), %a0\n\tmoveq #0, %d0\n1:\tadd.l (%a0)+, %d0\n\tsubq.l #1, %d1\n\tbne.s 1b\n\tunlk %fp\n\trts\n",
	"SPARC":      "\t.global sum\nsum:\tsave %sp, -96, %sp\n\tmov %g0, %l0\n1:\tld [%i0], %l1\n\tadd %l0, %l1, %l0\n\tsubcc %i1, 1, %i1\n\tbne 1b\n\tadd %i0, 4, %i0\n\tmov %l0, %i0\n\tret\n\trestore\n",
	"SuperH":     "\t.global sum\nsum:\tsts.l pr, @-r15\n\tmov #0, r0\n1:\tmov.l @r4+, r1\n\tadd r1, r0\n\tdt r5\n\tbf 1b\n\tlds.l @r15+, pr\n\trts\n\tnop\n",
	"s390":       "\t.globl sum\nsum:\tstmg %r6,%r15,48(%r15)\n\tlhi %r4,0\n1:\tl %r1,0(%r2)\n\tar %r4,%r1\n\taghi %r2,4\n\tbrct %r3,1b\n\tlgr %r2,%r4\n\tlmg %r6,%r15,48(%r15)\n\tbr %r14\n",
	"Xtensa":     "\t.global sum\nsum:\tentry a1, 32\n\tmovi a4, 0\n1:\tl32i a5, a2, 0\n\tadd a4, a4, a5\n\taddi a2, a2, 4\n\taddi a3, a3, -1\n\tbnez a3, 1b\n\tmov a2, a4\n\tretw\n",
	"OpenRISC":   "\t.global sum\nsum:\tl.addi r11, r0, 0\n1:\tl.lwz r5, 0(r3)\n\tl.add r11, r11, r5\n\tl.addi r3, r3, 4\n\tl.addi r4, r4, -1\n\tl.sfnei r4, 0\n\tl.bf 1b\n\tl.nop\n\tl.jr r9\n\tl.nop\n",
	"LoongArch":  "\t.globl sum\nsum:\tmove $t0, $zero\n1:\tld.w $t1, $a0, 0\n\tadd.w $t0, $t0, $t1\n\taddi.d $a0, $a0, 4\n\taddi.w $a1, $a1, -1\n\tbnez $a1, 1b\n\tmove $a0, $t0\n\tjirl $zero, $ra, 0\n",
	"Nios II":    "\t.global sum\nsum:\tmovi r2, 0\n\tmovia r6, table\n1:\tldw r7, 0(r4)\n\tadd r2, r2, r7\n\taddi r4, r4, 4\n\tsubi r5, r5, 1\n\tbne r5, zero, 1b\n\tstw r2, 0(sp)\n\tstw ra, 4(sp)\n\tret\n",
	"6502":       "\t.globl sum\nsum:\tldy #0\n\ttya\n\tclc\n1:\tadc ($20),y\n\tiny\n\tcpy #$10\n\tbne 1b\n\tsta $0200\n\trts\n",
	"Z80":        "\t.globl sum\nsum:\tpush bc\n\tld b,16\n\txor a\nnext:\tadd a,(hl)\n\tinc hl\n\tdjnz next\n\tld (total),a\n\tpop bc\n\tret\n",
	"8051":       "\t.globl sum\nsum:\tmov r0,#0x30\n\tmov r2,#16\n\tclr a\nnext:\tadd a,@r0\n\tinc r0\n\tdjnz r2,next\n\tmov dptr,#total\n\tmovx @dptr,a\n\tret\n",
	"MSP430":     "\t.global sum\nsum:\tclr r14\n\tmov.w #16, r13\n1:\tadd.w @r12+, r14\n\tdec r13\n\tjnz 1b\n\tbis.b #1, &P1OUT\n\tmov.w r14, &TOTAL\n\tret\n",
	"PA-RISC":    "\t.export sum\nsum:\tcopy %r0, %ret0\n1:\tldw 0(%arg0), %r20\n\taddl %ret0, %r20, %ret0\n\tldo 4(%arg0), %arg0\n\taddib,<> -1, %arg1, 1b\n\tnop\n\tbv %r0(%rp)\n\tnop\n",
	"Alpha":      "\t.globl sum\nsum:\tldgp $29, 0($27)\n\tbis $31, $31, $0\n1:\tldl $1, 0($16)\n\taddl $0, $1, $0\n\tlda $16, 4($16)\n\tsubl $17, 1, $17\n\tbne $17, 1b\n\tret $31, ($26), 1\n",
}

// TestForeign holds that sources of other architectures are recognised, and left alone with
// one hint.
func TestForeign(t *testing.T) {
	for _, f := range foreigns {
		text := foreignSamples[f.title]
		if text == "" {
			t.Errorf("%s has no sample", f.title)
			continue
		}
		for _, name := range []string{"a.s", "a.S"} {
			r, err := AnalyzeGuessing(context.Background(), &Input{Path: name, File: syntax.Parse(text)})
			if err != nil {
				t.Fatal(err)
			}
			list := r.Diagnostics()
			if len(list) != 1 || list[0].Severity != finding.Hint || !strings.Contains(list[0].Message, f.title+" ") {
				t.Errorf("%s in %s: %d findings: %v", f.title, name, len(list), list)
			}
		}
		// Who does not want a guess gets none.
		if n := len(analyze(t, &Settings{Guess: "never"}, text).Diagnostics()); n < 3 {
			t.Errorf("%s without a guess: %d findings", f.title, n)
		}
	}
}

// TestForeignFew holds that a few lines of AArch64 are recognised by their registers, and that
// ARM code is not taken for it that gives registers such names.
func TestForeignFew(t *testing.T) {
	for _, c := range []struct {
		text    string
		foreign bool
	}{
		{"box:\tldr w0, =0x10000\n\tret\n", true}, {"\tadr x1, box\n\tstr x0, [x1]\n\tb go\nbox:\t.quad 0\n", true}, {"0:\twfe\n\tldr x0, box\n\tcbz x0, 0b\n\tbr x0\nbox:\t.quad 0\n", true},
		{"#define CALL(n) .globl box_##n; box_##n: mov x16, #n; hvc 1; ret;\nCALL(1)\nCALL(2)\nCALL(3)\n", true},
		{"\t.req_none\n\tsha256h q0, q1, v2.4s\n\tadd v1.4s, v2.4s, v3.4s\n\tld1 {v0.16b}, [x8]\n\tret\n", true},
		{"x0 .req r0\nx1 .req r1\n\tmov x0, #1\n\tadd x1, x0, #5\n\tmvoe x0, x1\n", false}, {"\tmov x0, #1\n\tmov r0, #2\n\tadd r1, r0, r0\n\tbx lr\n", false}, {"\tmov r0, #1\n\tmov x0, #1\n", false}, {"\tmov x0, #1\n\tadd x1, x0, #2\n\tmov r0, #2\n", false},
		{"\t.equ w0, 3\n\t.equ w1, 4\n\tmov r0, #w0\n\tadd r0, r0, #w1\n\tmvoe r0\n\tmvoe r1\n", false},
	} {
		r, err := AnalyzeGuessing(context.Background(), &Input{Path: "box.S", File: syntax.Parse(c.text)})
		if err != nil {
			t.Fatal(err)
		}
		if r.foreign != c.foreign {
			t.Errorf("%q: %v %v", c.text, r.foreign, r.Diagnostics())
		}
	}
	if r, err := AnalyzeGuessing(context.Background(), &Input{Path: "lamp.asm", File: syntax.Parse("%include \"lamps.inc\"\nsection .text\n    globalsym lamp_reset\nsym(lamp_reset):\n    emms\n    ret\n")}); err != nil || !r.foreign {
		t.Errorf("directives that begin with %%: %v %v", r.Diagnostics(), err)
	}
	if r, err := AnalyzeGuessing(context.Background(), &Input{Path: "lamp.asm", File: syntax.Parse("%include \"lamps.inc\"\n%define lamp r0\nsection .text\n%macro LAMP 1\n    mov r0, r1\n    paddw m0, m1\n    pxor m2, m2\n%endmacro\n    LAMP 1\n    movh m3, [r2]\n    ret\n")}); err != nil || !r.foreign {
		t.Errorf("several of them, and a line as ARM code has it: %v %v", r.Diagnostics(), err)
	}
	// A linker's script that goes through the preprocessor is no assembly.
	r, err := AnalyzeGuessing(context.Background(), &Input{Path: "box.lds.S", File: syntax.Parse("OUTPUT_ARCH(arm)\nENTRY(go)\nSECTIONS\n{\n  . = 0x8000;\n  .text : { *(.text) }\n  .data : { *(.data) }\n}\n")})
	if err != nil || len(r.Diagnostics()) != 1 || !strings.Contains(r.Diagnostics()[0].Message, "linker script") {
		t.Errorf("a linker script: %v %v", r.Diagnostics(), err)
	}
}

// TestTextOfC holds that C in a header is one hint where the command line is unknown, and what it
// is where that is known.
func TestTextOfC(t *testing.T) {
	const header = "typedef struct lamp { int on; } lamp;\nextern void lamp_on(int n);\nstatic inline int lamps(void)\n{\n\treturn 4;\n}\nenum { RED, GREEN };\n"
	for _, known := range []bool{false, true} {
		in := &Input{Path: "box.S", File: syntax.Parse("#include \"lamp.h\"\n\tmov r0, #1\n\tbx lr\n"), Load: func(w Wanted) (string, *syntax.File, bool) { return "lamp.h", syntax.Parse(header), true }}
		if known {
			in.Set = &Settings{CPU: "arm7tdmi"}
		}
		r, err := AnalyzeGuessing(context.Background(), in)
		if err != nil {
			t.Fatal(err)
		}
		errors, hints := 0, 0
		for _, d := range r.Diagnostics() {
			switch {
			case d.Severity == finding.Error:
				errors++
			case strings.Contains(d.Message, "text of C"):
				hints++
			}
		}
		if (errors == 0) != !known || (hints == 1) != !known {
			t.Errorf("known %v: %d errors, %d hints", known, errors, hints)
		}
	}
}

// TestForeignReal counts which real sources of other architectures are recognised.
func TestForeignReal(t *testing.T) {
	proof := reftest.Begin(t)
	p := sources.Find("newlib")
	paths, err := filepath.Glob(filepath.Join(p.Unpack(t), "newlib/libc/machine/*/*.S"))
	if err != nil || len(paths) < 100 {
		t.Fatalf("%v: %d sources", err, len(paths))
	}
	known := map[string]string{"aarch64": "AArch64", "i386": "x86", "x86_64": "x86", "mips": "MIPS", "riscv": "RISC-V", "powerpc": "PowerPC", "microblaze": "MicroBlaze", "m68k": "68k", "sparc": "SPARC", "or1k": "OpenRISC", "nios2": "Nios II"}
	all, found, wrong := 0, 0, 0
	for _, path := range reftest.Sample(paths, 9) {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		r, err := Analyze(context.Background(), &Input{Path: path, File: syntax.Parse(string(text))})
		if err != nil {
			t.Fatal(err)
		}
		title := known[filepath.Base(filepath.Dir(path))]
		switch {
		case strings.Contains(path, "/machine/arm/") || strings.Contains(path, "/machine/xscale/"):
			if r.foreign {
				t.Errorf("%s: %s", path, r.Diagnostics()[0].Message)
			}
			continue
		case title == "" || refusals(r.prog) < fewForeign:
			continue // nothing of it is known, or little is there
		}
		all++
		if r.foreign {
			found++
			if m := r.Diagnostics()[0].Message; !strings.Contains(m, title) && !strings.Contains(m, "another") {
				wrong++
				t.Logf("%s: %s", path, m)
			}
		} else {
			t.Logf("%s is not recognised", path)
		}
	}
	proof.Counted("sources of other architectures: %d of %d are recognised, %d for another one", found, all, wrong)
	if found*5 < all*4 || wrong*20 > all {
		t.Errorf("%d of %d recognised, %d for another one", found, all, wrong)
	}
}

// TestNotForeign holds that no ARM source is taken for one of another architecture: as it
// is, with slips, cut off while it is typed, for a target that takes little of it, and
// without the macros that it needs.
func TestNotForeign(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	r := rand.New(rand.NewSource(int64(reftest.Seed(1))))
	n := 0
	ask := func(what, path, text string, set *Settings) {
		n++
		res, err := Analyze(context.Background(), &Input{Path: path, File: syntax.Parse(text), Set: set})
		if err != nil {
			t.Fatal(err)
		}
		if res.foreign {
			t.Errorf("%s, %s: %s", path, what, res.Diagnostics()[0].Message)
		}
	}
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		dir := p.Unpack(t)
		for _, file := range reftest.Sample(p.Files(t, dir), 5) {
			data, err := os.ReadFile(filepath.Join(dir, file))
			if err != nil {
				t.Fatal(err)
			}
			text := string(data)
			for _, set := range []*Settings{nil, {Arch: "armv6-m"}, {Arch: "armv7-a", StartMode: "thumb"}, {Preprocess: "never"}} {
				ask("as it is", file, text, set)
			}
			m := &mutator{Rand: r, kinds: mutatedKinds}
			mutant := text
			for k := range 2 * reftest.Count(2, 20, 60) {
				if mutant, _ = m.mutate(mutant); k%2 == 1 {
					ask("with slips", file, mutant, nil)
				}
				at := r.Intn(len(text) + 1)
				ask("cut off", file, text[:at], nil)
				ask("from the middle", file, text[at:], nil)
			}
		}
	}
	proof.Counted("not of another architecture: %d texts", n)
}

// TestForeignFolder holds that the folder of a few lines of another architecture tells what they
// are, and nothing of what has a line or a directive of ARM assembly.
func TestForeignFolder(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		path, text string
		want       bool
	}{
		{"box/nds32/lamp.S", "lamp:\n1:\tj 1b\n\t.size lamp, .-lamp\n", true},
		{"box/nds32/vectors/lamp.S", "lamp:\n1:\tj 1b\n", true},
		{"box/nds32/a/b/lamp.S", "lamp:\n1:\tj 1b\n", false},
		{`C:\box\riscv64\lamp.s`, "lamp:\n\tli a7, 139\n\tecall\n", true},
		{"box/lamp.s", "lamp:\n\tjj 1b\n1:\n", false},
		{"nds32.s", "lamp:\n\tj lamp\n", false},
		{"box/alpha/lamp.s", "lamp:\n\tmvoe r0, r1\n", false},
		{"box/mips/arm/lamp.s", "lamp:\n\tmvoe r0, r1\n", false},
		{"box/mips/armv7/lamp.s", "lamp:\n\tmvoe r0, r1\n", false},
		{"box/mips/lamp.s", "\tmov r0, r1\n\tmvoe r0, r1\n\tmvoe r0, r1\n", false},
		{"box/mips/lamp.s", ".thumb\n\tmvoe r0, r1\n", false},
		{"box/mips/lamp.s", ".syntax unified\n\tmvoe r0, r1\n", false},
		{"box/mips/lamp.s", ".cpu cortex-m0\n\tmvoe r0, r1\n", false},
		{"box/mips/lamp.s", "\t.word later -\n", false},
	} {
		r, err := AnalyzeGuessing(context.Background(), &Input{Path: c.path, File: syntax.Parse(c.text)})
		if err != nil {
			t.Fatal(err)
		}
		if list := r.Diagnostics(); r.foreign != c.want || c.want && (len(list) != 1 || list[0].Severity != finding.Hint) {
			t.Errorf("%s: %q is of another architecture: %v, want %v; %v", c.path, c.text, r.foreign, c.want, list)
		}
	}
}
