package analysis_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
)

// is is a macro that fails unless its two arguments are the same text: what a macro
// has made of something is compared in the source itself.
const is = ".macro is a:vararg|.ifnc \\a|.err|.endif|.endm|"

// TestMacroTable holds macros and repetitions at their borders.
func TestMacroTable(t *testing.T) {
	runVerdicts(t, []verdictCase{
		// Counters: each expansion has its own number, from 0, and each line of it
		// the same one.
		{name: "the counter counts all calls", src: is + ".macro m n|is \\@,\\n|.endm|m 0|m 2|m 4"},
		{name: "a counter for labels", src: ".macro m|l\\@: .byte 1|.endm|m|m|x: .word l0,l1"},
		{name: "the same within a call", src: ".macro m|l\\@: .byte 1|.if l\\@-.+1|.err|.endif|.endm|m|m"},
		{name: "a counter over several macros", src: ".macro m|l\\@: .byte 1|.endm|.macro n|k\\@: .byte 1|.endm|m|n|m|.word l0,k1,l2"},
		{name: "the counter of a nested call", src: ".macro m|l\\@: .byte 1|n|e\\@: .byte 1|.endm|.macro n|k\\@: .byte 1|.endm|m|m|.word l0,k1,e0,l2,k3,e2"},
		{name: "the counter in a repetition", src: ".macro m|.rept 2|.byte 1|.endr|l\\@: .byte 1|.endm|m|m|.word l0,l1"},
		{name: "a counter outside", src: ".byte 1|l\\@: @!|.byte 2"},

		// Parameters.
		{name: "by position", src: is + ".macro m a,b|is \\a\\b,xy|.endm|m x,y|m x y"},
		{name: "by name", src: is + ".macro m a,b|is \\a\\b,xy|.endm|m b=y,a=x|m x,b=y"},
		{name: "by name, then by position", src: ".macro m a,b|.endm|m a=x,y @!"},
		{name: "by an unknown name", src: ".macro m a|.endm|m c=3 @!"},
		{name: "the same name twice", src: ".macro m a|.endm|m a=1,a=2"},
		{name: "too many", src: ".macro m a|.endm|m 1,2 @!"},
		{name: "too few", src: is + ".macro m a,b|is x\\b,x|.endm|m 1"},
		{name: "none wanted, one given", src: ".macro m|.endm|m 1 @!"},
		{name: "a default", src: is + ".macro m a=5|is \\a,5|.endm|m|m 5|m a=5"},
		{name: "a default, left empty", src: is + ".macro m a=5,b=6|is \\a\\b,57|.endm|m ,7"},
		{name: "a default of several words", src: is + ".macro m a=\"x y\"|is \\a,x y|.endm|m"},
		{name: "one that is needed", src: ".macro m a:req|.endm|m @!|m 1"},
		{name: "one that is needed, with a default", src: ".macro m a:req=1|.endm|m @!"},
		{name: "all that is left", src: ".macro m a,b:vararg|.byte \\b|.endm|m x,1,2|l: m x, 1 , 2,3|k: .byte 1"},
		{name: "all that is left, nothing", src: ".macro m a,b:vararg|.ifnb \\b|.err|.endif|.endm|m x|m x,"},
		{name: "all that is left is not last", src: ".macro m a:vararg,b @!|.endm"},
		{name: "an unknown mark", src: ".macro m a:nosuch @!|.endm"},
		{name: "a parameter twice", src: ".macro m a,a @!|.endm"},
		{name: "a parameter with a comma too much", src: ".macro m a, @!|.endm|m 1 @!"},
		{name: "no name", src: ".macro @!|.endm"},

		// Where a parameter ends.
		{name: "longest name first", src: is + ".macro m a,ab|is \\ab,2|.endm|m 1,2"},
		{name: "an unknown name stays", src: ".macro m a|.ascii \"\\\\n\"|x\\a: .byte 1|.endm|m 1"},
		{name: "ended by brackets", src: is + ".macro m a|is \\a\\()b,xb|.endm|m x"},
		{name: "ended by a dot", src: ".macro m a|l\\a\\().x: .byte 1|.endm|m 3|.word l3.x"},
		{name: "twice side by side", src: is + ".macro m a,b|is \\a\\b\\a,xyx|.endm|m x,y"},
		{name: "in a string", src: ".macro m a|.ascii \"\\a\"|.endm|m abc|l: m ab|k: .byte 1"},
		{name: "in a name", src: ".macro m a|mov\\a r0,#1|.endm|.syntax unified|.thumb|m s"},
		{name: "in brackets and braces", src: ".macro m a,b|ldr r0,[\\a,#4]|push {\\b}|.endm|.syntax unified|.thumb|m r1,r4-r7"},
		{name: "capital letters", src: is + ".macro m A|is \\A,x|.endm|m x|M x"},

		// Definitions.
		{name: "defined twice", src: ".macro m|.endm|.macro m @!|.endm"},
		{name: "defined twice in other letters", src: ".macro m|.endm|.macro M @!|.endm"},
		{name: "taken back and defined anew", src: ".macro m|.err|.endm|.purgem m|.macro m|.byte 1|.endm|m|l: .byte 1"},
		{name: "taken back", src: ".macro m|.endm|.purgem m|m @!"},
		{name: "taken back without one", src: ".purgem m"},
		{name: "a definition in a definition", src: ".macro m|.macro n|.byte 1|.endm|.endm|m|n|l: .byte 1"},
		{name: "a definition that is called too early", src: ".macro m|.macro n|.endm|.endm|n @!|m|n"},
		{name: "no end", src: ".macro m @!|.byte 1"},
		{name: "an end alone", src: ".endm"},
		{name: "named like an instruction", src: ".syntax unified|.thumb|.macro nop|.hword 1,2|.endm|nop|l: .byte 1"},
		{name: "named like a directive", src: ".macro .byte a|.hword \\a|.endm|.byte 1|l: .word 1"},
		{name: "called with a label in front", src: ".macro m|.byte 1|.endm|l: m|k: m|.word l,k"},
		{name: "called twice in a line", src: ".macro m|.byte 1|.endm|m; m|l: .byte 1"},
		{name: "calls another below", src: ".macro m|n|.endm|.macro n|.byte 1|.endm|m|l: .byte 1"},
		{name: "calls itself to an end", src: ".macro m n|.byte 1|.if \\n|m \\n-1|.endif|.endm|m 3|l: .byte 1"},
		{name: "leaves early", src: ".macro m n|.byte 1|.if \\n|.exitm|.endif|.byte 1|.endm|m 0|l: m 1|k: .byte 1"},
		{name: "leaves a repetition only", src: ".macro m|.rept 3|.byte 1|.exitm|.endr|k\\@: .byte 2|.endm|m|l: .byte 1"},
		{name: "leaves nothing", src: ".exitm"},

		// Repetitions.
		{name: ".rept 0", src: ".rept 0|.err|.endr|l: .byte 1"},
		{name: ".rept 1", src: ".rept 1|.byte 1|.endr|l: .byte 1"},
		{name: ".rept 3", src: ".rept 3|.byte 1|.endr|l: .byte 1"},
		{name: ".rept -1", src: ".rept -1 @!|.err|.endr|l: .byte 1"},
		{name: ".rept of a name", src: ".equ n,3|.rept n|.byte 1|.endr|l: .byte 1"},
		{name: ".rept of a name below", src: ".rept n @!|.byte 1|.endr|l: .byte 1|.equ n,3"},
		{name: ".rept of nothing", src: ".rept|.err|.endr|l: .byte 1"},
		{name: ".rept in .rept", src: ".rept 2|.rept 3|.byte 1|.endr|.byte 2|.endr|l: .byte 1"},
		{name: ".rept without an end", src: ".rept 2 @!|.byte 1", ours: "the reference names the last line"},
		{name: ".endr alone", src: ".endr"},
		{name: "a counter that .set makes", src: ".set n,0|.rept 3|.fill n,1|.set n,n+1|.endr|l: .byte 1|.if n-3|.err|.endif"},
		{name: ".irp over three", src: ".irp a,1,2,3|.fill \\a,1|.endr|l: .byte 1"},
		{name: ".irp over blanks", src: ".irp a,1 2 3|.fill \\a,1|.endr|l: .byte 1"},
		{name: ".irp over nothing", src: ".irp a|.fill 1\\a,1|.endr|l: .byte 1"},
		{name: ".irp over an empty one", src: ".irp a,1,,2|.fill 1\\a,1|.endr|l: .byte 1"},
		{name: ".irp over one with a comma behind", src: ".irp a,1,|.fill 1\\a,1|.endr|l: .byte 1"},
		{name: ".irp over registers", src: ".syntax unified|.thumb|.irp r,r0,r1,r2|movs \\r,#1|.endr"},
		{name: ".irp over texts", src: ".irp a,\"b c\",d|.ifc \\a,b c|.byte 1|.endif|.endr|l: .byte 1"},
		{name: ".irp without a name", src: ".irp @!|.endr"},
		{name: ".irpc over letters", src: ".irpc a,123|.fill \\a,1|.endr|l: .byte 1"},
		{name: ".irpc over nothing", src: ".irpc a|.byte 1\\a|.endr|l: .byte 1"},
		{name: ".irpc over a text", src: ".irpc a,\"12\"|.fill \\a,1|.endr|l: .byte 1"},
		{name: ".irp in .irp", src: ".irp a,1,2|.irp b,1,2|.fill \\a*\\b,1|.endr|.endr|l: .byte 1"},
		{name: "a parameter in a repetition of a macro", src: ".macro m n|.rept \\n|.byte 1|.endr|.endm|m 3|l: .byte 1"},
		{name: "a parameter over which one repeats", src: ".macro m a:vararg|.irp x,\\a|.fill \\x,1|.endr|.endm|m 1,2,3|l: .byte 1"},
		{name: "an error in each turn", src: ".rept 2|.err @!|.endr"},
		{name: "an error in one turn", src: ".irp a,0,1|.if \\a|.err @!|.endif|.endr"},
		{name: "a label in each turn", src: ".rept 2|l: .byte 1 @!|.endr"},
	})
}

// TestHeaderTable holds headers that are included twice, and other borders of the
// preprocessor; the compiler's driver is the reference.
func TestHeaderTable(t *testing.T) {
	t.Parallel()
	const plain = "#ifndef H\n#define H\n.byte 1\n#else\n.byte 2\n.byte 2\n#endif\n"
	type table struct {
		name, src string
		files     map[string]string
	}
	cases := []table{
		{"a guard, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#ifndef H\n#define H\n.byte 1\n#endif\n"}},
		{"a guard with else, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1|#include \"h.h\"|c: .byte 1", map[string]string{"h.h": plain}},
		{"a guard with elif, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#ifndef H\n#define H\n.byte 1\n#elif 1\n.byte 2\n.byte 2\n#endif\n"}},
		{"a guard and more behind it, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#ifndef H\n#define H\n.byte 1\n#endif\n.byte 3\n"}},
		{"a guard and more in front, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": ".byte 3\n#ifndef H\n#define H\n.byte 1\n#endif\n"}},
		{"a guard that is taken back", "#include \"h.h\"|a: .byte 1|#undef H|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#ifndef H\n#define H\n.byte 1\n#endif\n"}},
		{"a guard that defines another name", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#ifndef H\n#define G\n.byte 1\n#endif\n"}},
		{"a guard by #if !defined", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#if !defined(H)\n#define H\n.byte 1\n#endif\n"}},
		{"a guard by #if !defined and more", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#if !defined(H) || defined(TWICE)\n#define H\n.byte 1\n#endif\n"}},
		{"the same, with the second name", "#define TWICE|#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#if !defined(H) || defined(TWICE)\n#define H\n.byte 1\n#endif\n"}},
		{"a guard by #ifdef", "#include \"h.h\"|a: .byte 1|#define H|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#ifdef H\n.byte 1\n#endif\n"}},
		{"a guard defined in front", "#define H|#include \"h.h\"|a: .byte 1", map[string]string{"h.h": plain}},
		{"#pragma once, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#pragma once\n.byte 1\n"}},
		{"#pragma once behind a line", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": ".byte 1\n#pragma once\n"}},
		{"#pragma once that is left out", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#if 0\n#pragma once\n#endif\n.byte 1\n"}},
		{"#pragma once and a guard with else", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": "#pragma once\n" + plain}},
		{"one header through two others", "#include \"a.h\"|#include \"b.h\"|l: .byte 1", map[string]string{"a.h": "#include \"h.h\"\n.byte 4\n", "b.h": "#include \"h.h\"\n.byte 4\n", "h.h": plain}},
		{"no guard, twice", "#include \"h.h\"|a: .byte 1|#include \"h.h\"|b: .byte 1", map[string]string{"h.h": ".byte 1\n.byte 2\n"}},
		{"a macro of the header", "#include \"h.h\"|TWO(1)|a: .byte N", map[string]string{"h.h": "#define N 3\n#define TWO(x) .byte x,x\n"}},
		{"a macro that the second time changes", "#include \"h.h\"|.fill N,1|a: .byte 1|#include \"h.h\"|.fill N,1|b: .byte 1", map[string]string{"h.h": "#ifndef N\n#define N 1\n#else\n#undef N\n#define N 5\n#endif\n"}},
		{"#if 0", "#if 0|.err|#else|.err @!|#endif", nil},
		{"#if of what is not defined", "#if NOTHING|.err|#else|.err @!|#endif", nil},
		{"#if of a negative number", "#if -1|.err @!|#endif", nil},
		{"#if compares without a sign", "#if -1 > 0u|.err @!|#endif", nil},
		{"#elif behind a branch that is taken", "#if 1|.err @!|#elif 1|.err|#else|.err|#endif", nil},
		{"the second #elif", "#if 0|#elif 0|.err|#elif 1|.err @!|#elif 1|.err|#else|.err|#endif", nil},
		{"nested in what is left out", "#if 0|#if 1|.err|#else|.err|#endif|#else|.err @!|#endif", nil},
		{"a division that is not looked at", "#if 1 ¦¦ 1/0|.err @!|#endif|#if 0 && 1/0|.err|#endif", nil},
		{"defined in brackets and without", "#define A|#if defined A && defined(A) && !defined B|.err @!|#endif", nil},
		{"a macro with arguments", "#define ADD(a,b) ((a)+(b))|.fill ADD(1,2),1|l: .byte 1", nil},
		{"a macro with arguments, called without", "#define X(a) a|.equ X,3|l: .byte X", nil},
		{"names joined", "#define J(a,b) a##b|J(.by,te) 1|l: .byte 1", nil},
		{"a name in quotes", "#define S(a) #a|.ascii S(abc)|l: .byte 1", nil},
		{"a macro in a macro's argument", "#define A 2|#define I(x) x|.fill I(A),1|l: .byte 1", nil},
		{"a macro that names itself", ".equ x,3|#define x x+1|.fill x,1|l: .byte 1", nil},
		{"a line that goes on", ".fill 1+\\|2,1|l: .byte 1", nil},
		{"a comment over lines", ".byte 1 /* a|b */|l: .byte 1", nil},
		{"a macro taken back", "#define N 1|#undef N|#ifdef N|.err|#endif", nil},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := lines(c.src)
			r := (program{text: text, files: c.files, path: "box.S"}).analyze(t)
			var got []int
			for _, d := range r.Each() {
				if d.Severity == analysis.Error {
					got = append(got, 1+strings.Count(text[:d.Span.Start], "\n"))
				}
			}
			if want := marked(text); !slices.Equal(got, want) {
				t.Errorf("errors in lines %v, want %v in\n%s", got, want, text)
			}
		})
	}
	t.Run("reference", func(t *testing.T) {
		reftest.Require(t, "arm-none-eabi-gcc", "arm-none-eabi-as", "arm-none-eabi-nm")
		cases = reftest.Sample(cases, oneIn)
		inTurns(len(cases), func(i int) { headersLikeReference(t, cases[i].name, lines(cases[i].src), cases[i].files) })
	})
}

var (
	rootError = regexp.MustCompile(`(?m)^box\.S:(\d+):(?:\d+:)? (?:fatal )?[Ee]rror`)
	nameAt    = regexp.MustCompile(`(?m)^([0-9a-f]+) [a-zA-Z] (\w+)$`)
)

// headersLikeReference compares marks and places with what the compiler's driver
// makes of a program with headers.
func headersLikeReference(t *testing.T, name, text string, files map[string]string) {
	dir := t.TempDir()
	for file, s := range files {
		if err := os.WriteFile(filepath.Join(dir, file), []byte(s), 0o644); err != nil {
			t.Error(err)
			return
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "box.S"), []byte(text), 0o644); err != nil {
		t.Error(err)
		return
	}
	run := func(tool string, args ...string) (string, error) {
		cmd := exec.Command(tool, args...)
		cmd.Dir, cmd.Env = dir, append(os.Environ(), "LC_ALL=C")
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	out, err := run("arm-none-eabi-gcc", "-c", "box.S", "-o", "box.o")
	var got []int
	for _, m := range rootError.FindAllStringSubmatch(out, -1) {
		n, _ := strconv.Atoi(m[1])
		got = append(got, n)
	}
	if want := marked(text); !slices.Equal(got, want) || (err == nil) != (len(want) == 0) {
		t.Errorf("%s: the reference refuses lines %v of\n%s", name, got, text)
		return
	}
	if err != nil {
		return
	}
	out, err = run("arm-none-eabi-nm", "box.o")
	if err != nil {
		t.Error(err)
		return
	}
	r := (program{text: text, files: files, path: "box.S"}).analyze(t)
	for _, m := range nameAt.FindAllStringSubmatch(out, -1) {
		at := regexp.MustCompile(`(?m)^` + m[2] + `:`).FindStringIndex(text)
		if at == nil {
			continue
		}
		want, _ := strconv.ParseInt(m[1], 16, 64)
		if _, n := place(t, r, at[0]); n != want {
			t.Errorf("%s: %s is at %d, reference %d", name, m[2], n, want)
		}
	}
}
