package analysis

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// refactored are all refactorings at the first « of a source, by their titles, with the source
// that each makes.
func refactored(t *testing.T, source string) map[string]string {
	t.Helper()
	at := strings.Index(source, "«")
	text := strings.Replace(source, "«", "", 1)
	r := analyze(t, nil, text)
	out := map[string]string{}
	for _, x := range r.Refactorings(t.Context(), Span{Start: at, End: at}) {
		proven, ok, err := r.Refactored(t.Context(), Span{Start: at, End: at}, x.Name)
		if err != nil {
			t.Fatal(err)
		}
		if ok {
			out[proven.Title] = refactoredText(text, proven.Edits)
		}
	}
	return out
}

func refactoredText(text string, edits []Edit) string {
	for _, e := range slices.Backward(edits) {
		text = text[:e.Span.Start] + e.New + text[e.Span.End:]
	}
	return text
}

func TestRefactorings(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ source, title, want string }{
		{"\tmovs r0, #«200 @ x\n", "write 200 as 0xc8", "\tmovs r0, #0xc8 @ x\n"},
		{"\tmovs r0, #0x«c8\n", "write 0xc8 as 200", "\tmovs r0, #200\n"},
		{"\tmovs r0, #0x«c8\n", "write 0xc8 as 0b11001000", "\tmovs r0, #0b11001000\n"},
		{"\tmovs r0, #«010\n", "", ""},
		{"ring:\tmovs r0, #«200\n", "name the constant 200 VALUE_200", "\t.equ VALUE_200, 200\nring:\tmovs r0, #VALUE_200\n"},
		{"\tldr r0, =0x1234«5\n\tbx lr\n", "name the literal 0x12345 VALUE_0X12345", "\t.equ VALUE_0X12345, 0x12345\n\tldr r0, =VALUE_0X12345\n\tbx lr\n"},
		{"\t.equ LAMP, «4\n", "write 4 as 0b100", "\t.equ LAMP, 0b100\n"},
		{"wa«it:\tsubs r0, #1\n\tbne wait @ wait\n", "make wait a numeric local label, 1:", "1:\tsubs r0, #1\n\tbne 1b @ wait\n"},
		{"\tb wait\n1:\tnop\nwa«it:\tbne 1b\n", "make wait a numeric local label, 2:", "\tb 2f\n1:\tnop\n2:\tbne 1b\n"},
		{"\t.global wait\nwa«it:\tsubs r0, #1\n\tbne wait\n", "", ""},
		{"\t.macro again\n\tbne wait\n\t.endm\nwa«it:\tsubs r0, #1\n\tbne wait\n", "", ""},
		{"\tb«eq wait\n\t.space 10\nwait:\tnop\n", "branch on the opposite condition around a branch that reaches farther (+2 bytes)", "\tbne 1f\n\tb wait\n1:\n\t.space 10\nwait:\tnop\n"},
		{"\tldr «r0, =0x12345678\n\tbx lr\n\t.space 8\n", "place the literals so far in a pool after this routine (+0 bytes)", "\tldr r0, =0x12345678\n\tbx lr\n\t.ltorg\n\t.space 8\n"},
	} {
		checkRefactoring(t, "\t.syntax unified\n\t.thumb\n", x.source, x.title, x.want)
	}
	// In columns numbers and local labels have other marks.
	for _, x := range []struct{ source, title, want string }{
		{"        MOVS    r0, #«200 ; x\n", "write 200 as 0xc8", "        MOVS    r0, #0xc8 ; x\n"},
		{"        MOVS    r0, #«200\n", "write 200 as 2_11001000", "        MOVS    r0, #2_11001000\n"},
		{"        MOVS    r0, #&«C8\n", "write &C8 as 200", "        MOVS    r0, #200\n"},
		{"        MOVS    r0, #«&C8 + 1\n", "write &C8 as 200", "        MOVS    r0, #200 + 1\n"},
		{"        DCB     2_1«01\n", "write 2_101 as 0x5", "        DCB     0x5\n"},
		{"        DCD     12 & 1«0\n", "write 10 as 0xa", "        DCD     12 & 0xa\n"},
		{"        DCB     8_«17\n", "", ""},
		{"ring    MOVS    r0, #«200\n", "name the constant 200 VALUE_200", "VALUE_200 EQU 200\nring    MOVS    r0, #VALUE_200\n"},
		{"        LDR     r0, =&12«3456\n        BX      lr\n", "name the literal &123456 VALUE_123456", "VALUE_123456 EQU &123456\n        LDR     r0, =VALUE_123456\n        BX      lr\n"},
		{"LAMP    EQU     «4\n", "write 4 as 2_100", "LAMP    EQU     2_100\n"},
		{"wa«it    SUBS    r0, r0, #4\n        BNE     wait ; wait\n", "make wait a numeric local label, 1", "1       SUBS    r0, r0, #4\n        BNE     %B1 ; wait\n"},
		{"        B       wait\n1       NOP\nwa«it    BNE     %B1\n", "make wait a numeric local label, 2", "        B       %F2\n1       NOP\n2       BNE     %B1\n"},
		{"        EXPORT  wait\nwa«it    SUBS    r0, r0, #1\n        BNE     wait\n", "", ""},
		{"        B«EQ     wait\n        SPACE   10\nwait    NOP\n", "branch on the opposite condition around a branch that reaches farther (+2 bytes)", "        BNE     %F1\n        B       wait\n1\n        SPACE   10\nwait    NOP\n"},
		{"        LDR     «r0, =0x12345678\n        BX      lr\n        SPACE   8\n", "place the literals so far in a pool after this routine (+0 bytes)", "        LDR     r0, =0x12345678\n        BX      lr\n        LTORG\n        SPACE   8\n"},
	} {
		checkRefactoring(t, "; made up\n        AREA    code, CODE, READONLY\n        THUMB\n", x.source, x.title, x.want)
	}
	// The dialect of modules has no numeric labels.
	for _, x := range []struct{ source, title, want string }{
		{"        MOVS    R0, #«200\n", "write 200 as 0xc8", "        MOVS    R0, #0xc8\n"},
		{"        MOVS    R0, #0C«8h\n", "write 0C8h as b'11001000'", "        MOVS    R0, #b'11001000'\n"},
		{"        DC8     h'«1F', 2\n", "write h'1F' as 31", "        DC8     31, 2\n"},
		{"        DC8     «b'101', 2\n", "write b'101' as 0x5", "        DC8     0x5, 2\n"},
		{"        DC8     q'1«7', 2\n", "", ""},
		{"ring:   MOVS    R0, #«200\n", "name the constant 200 VALUE_200", "VALUE_200 EQU 200\nring:   MOVS    R0, #VALUE_200\n"},
		{"        DC8     h'«1F', 2\n", "name the constant h'1F' VALUE_H1F", "VALUE_H1F EQU h'1F'\n        DC8     VALUE_H1F, 2\n"},
		{"wa«it:   SUBS    R0, R0, #1\n        BNE     wait\n", "", ""},
		{"        B«EQ     wait\n        DS8     10\nwait:   NOP\n", "branch on the opposite condition around a branch that reaches farther (+2 bytes)", "        BNE     local1\n        B       wait\nlocal1:\n        DS8     10\nwait:   NOP\n"},
		{"        LDR     «R0, =0x12345678\n        BX      LR\n        DS8     8\n", "place the literals so far in a pool after this routine (+0 bytes)", "        LDR     R0, =0x12345678\n        BX      LR\n        LTORG\n        DS8     8\n"},
	} {
		checkRefactoring(t, "        MODULE  made_up\n        SECTION .text:CODE:NOROOT(2)\n        THUMB\n", x.source, x.title, x.want)
	}
}

// TestRefactoringsCounted holds that nothing is put between code and what counts a distance across
// the place: a table of branches, an offset from PC, an offset from the line itself.
func TestRefactoringsCounted(t *testing.T) {
	t.Parallel()
	const pool, split = "place the literals", "branch on the opposite"
	for _, x := range []struct {
		source, title string
		offered       bool
	}{
		{"\tldr r1, =0x40010004\n\t«tbh [pc, r0, lsl #1]\n\t.hword 2, 6\n1:\tmovs r2, #1\n\tstr r2, [r1]\n\tb 1b\n\t.space 8\n", pool, false},
		{"\tldr r1, =0x40010004\n\t«tbb [pc, r0]\ntab:\t.byte (1f-tab)/2, (2f-tab)/2\n1:\tstr r2, [r1]\n2:\tb 2b\n\t.space 8\n", pool, false},
		{"\tldr «r1, =0x12345678\n\tldr r0, [pc, #8]\n\tadds r0, r1\n\tbx lr\ng:\tmovs r0, #1\n\tbx lr\n\t.word 0x55\n", pool, false},
		{"\tldr «r1, =0x12345678\n\tadds r0, r1\n\tbx lr\ng:\tmovs r0, #1\n\tbx lr\n\t.word 0x55\n", pool, true},
		{"\tcmp r0, #1\n\tbne .+10\n\tcmp r1, #2\n\tb«eq 1f\n\tmovs r0, #5\n\tmovs r0, #6\n1:\tbx lr\n", split, false},
		{"\tcmp r0, #1\n\tbne 1f\n\tcmp r1, #2\n\tb«eq 1f\n\tmovs r0, #5\n\tmovs r0, #6\n1:\tbx lr\n", split, true},
		{"\tcmp r0, #1\n\tb«eq .+6\n\tmovs r0, #5\n\tmovs r0, #6\n1:\tbx lr\n", split, false},
		{"\ttbb [pc, r0]\n\t.byte 1, 4\n\tcmp r1, #2\n\tb«eq 1f\n\tmovs r0, #5\n1:\tbx lr\n\tmovs r0, #6\n\tbx lr\n", split, false},
	} {
		offered := false
		for title := range refactored(t, "\t.syntax unified\n\t.arch armv7-m\n\t.thumb\n"+x.source) {
			offered = offered || strings.HasPrefix(title, x.title)
		}
		if offered != x.offered {
			t.Errorf("%s%q is offered: %v", x.source, x.title, offered)
		}
	}
}

// TestLocalOffered holds that a label which a pool has the address of is not offered another name that
// is refused when it is asked for.
func TestLocalOffered(t *testing.T) {
	t.Parallel()
	for line, want := range map[string]bool{"bne wait": true, "ldr r0, =wait": false} {
		text := "\t.syntax unified\n\t.thumb\nwait:\tnop\n\tbeq wait\n\t" + line + "\n"
		at := strings.Index(text, "wait")
		offered := slices.ContainsFunc(analyze(t, nil, text).Refactorings(t.Context(), Span{Start: at, End: at}), func(x Refactoring) bool { return x.Name == "local-label" })
		if offered != want {
			t.Errorf("%s: offered: %v", line, offered)
		}
	}
}

// checkRefactoring looks for a refactoring at the first « of a source by its title; without
// one there must be none.
func checkRefactoring(t *testing.T, head, source, title, want string) {
	t.Helper()
	got := refactored(t, head+source)
	if title == "" {
		if len(got) > 0 {
			t.Errorf("%s: %v", source, got)
		}
	} else if got[title] != head+want {
		t.Errorf("%s: %q, want %q; there are %q", source, got[title], head+want, got)
	}
}

// TestRefactoringsRun carries out routines before and after what moves code about, from random
// states: they end with the same in all registers and flags.
func TestRefactoringsRun(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	e := newEngine(t, "armv4t")
	rnd := reftest.Rand(76, 8)
	type run struct {
		name  string
		thumb bool
	}
	var runs []run
	var texts []string
	for i := range reftest.Count(20, 120, 2000) {
		head, thumb := "\t.syntax unified\n\t.arm\n", i%2 == 0
		if thumb {
			head = "\t.syntax unified\n\t.thumb\n"
		}
		cond := isa.Cond(rnd.IntN(14))
		text := head + fmt.Sprintf("f_%d:\tcmp r0, r%d\n\tldr r3, =%#x\n\tb%s far_%d\n\tldr r4, =%#x\n\tsvc #0\n\tb f_%d\n\t.space %d\nfar_%d:\tldr r5, =%#x\n\tsubs r2, r3, r5\n\tb%s 1f\n\tmovs r6, #%d\n\tsvc #0\n1:\tsvc #0\n",
			i, rnd.IntN(3), rnd.Uint32(), cond, i, rnd.Uint32(), i, 4*rnd.IntN(30), i, rnd.Uint32(), isa.Cond(rnd.IntN(14)), rnd.IntN(200))
		r := analyze(t, nil, text)
		for at := range text {
			for _, x := range r.Refactorings(t.Context(), Span{Start: at, End: at}) {
				if x.Name != "split-branch" && x.Name != "extract-pool" || rnd.IntN(12) > 0 {
					continue
				}
				proven, ok, err := r.Refactored(t.Context(), Span{Start: at, End: at}, x.Name)
				if err != nil {
					t.Fatal(err)
				}
				if ok {
					n := len(texts)
					after := refactoredText(text, proven.Edits)
					runs = append(runs, run{x.Name, thumb})
					for k, s := range []string{text, after} { // each has names of its own
						texts = append(texts, strings.NewReplacer(fmt.Sprintf("far_%d", i), fmt.Sprintf("far_%d", n+k), fmt.Sprintf("f_%d", i), fmt.Sprintf("f_%d", n+k)).Replace(s))
					}
				}
			}
		}
	}
	code, _ := assembleAll(t, "refactored", texts)
	done := map[string]int{}
	for i, r := range runs {
		for range 4 {
			m := randomCPU(rnd, nil)
			want, got := m.clone(), m.clone()
			for k, m := range []*cpu{want, got} {
				if end, err := e.run(code[2*i+k], r.thumb, m, proofCode, proofEnd+0x800, many); end != atEnd {
					t.Fatalf("%s: does not end: %v\n%s", r.name, err, texts[2*i+k])
				}
			}
			if d := differ(want, got, 0, 0); d != "" {
				t.Fatalf("%s: %s\n%s", r.name, d, texts[2*i+1])
			}
			done[r.name]++
		}
	}
	proof.Counted("refactorings, runs: %v", done)
	for _, name := range []string{"split-branch", "extract-pool"} {
		if done[name] < reftest.Least(40) {
			t.Errorf("%s: only %d runs", name, done[name])
		}
	}
}

// TestRefactoringsDialects refactors at random places of programs in columns, and of invented
// sources of the dialect of modules: each result is in the same dialect and comes to the same.
func TestRefactoringsDialects(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(77, 8)
	var texts []string
	for _, pattern := range []string{"testdata/columns/*.s", "testdata/modules/*.s"} {
		paths, err := filepath.Glob(pattern)
		if err != nil || len(paths) == 0 {
			t.Fatal(pattern, err)
		}
		for _, path := range paths {
			text, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			texts = append(texts, string(text))
		}
	}
	done := map[string]int{}
	for _, text := range texts {
		f := syntax.Parse(text)
		r, err := Analyze(t.Context(), &Input{Path: "a.s", File: f})
		if err != nil {
			t.Fatal(err)
		}
		for range reftest.Count(60, 300, 4000) {
			at := rnd.IntN(len(text))
			list := r.Refactorings(t.Context(), Span{Start: at, End: at})
			if len(list) == 0 {
				continue
			}
			x, ok, err := r.Refactored(t.Context(), Span{Start: at, End: at}, list[rnd.IntN(len(list))].Name)
			if err != nil {
				t.Fatal(err)
			}
			if !ok {
				done["not proven"]++
				continue
			}
			after := refactoredText(text, x.Edits)
			if d, _ := syntax.Detect(after); d != f.Dialect() {
				t.Errorf("%s: taken for %v", x.Title, d)
			}
			again, err := Analyze(t.Context(), &Input{Path: "a.s", File: syntax.Parse(after)})
			if err != nil {
				t.Fatal(err)
			}
			if len(again.Each()) > len(r.Each()) {
				t.Errorf("%s: more findings:\n%s", x.Title, after)
			}
			if a, b := contents(r), contents(again); a != b && !strings.HasSuffix(x.Title, "bytes)") {
				t.Errorf("%s: another content", x.Title)
			}
			done[x.Name]++
		}
	}
	proof.Counted("refactorings in columns and modules: %v", done)
	for _, name := range []string{"base-decimal", "base-hexadecimal", "base-binary", "name-constant", "local-label", "split-branch", "extract-pool"} {
		if done[name] < reftest.Least(1) {
			t.Errorf("no %s", name)
		}
	}
}

// TestRefactoringsSame refactors at random places of made programs: the assembler makes the same
// bytes of the result, and takes all that says what else becomes of them.
func TestRefactoringsSame(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(75, 8)
	done := map[string]int{}
	for range reftest.Count(1, 8, 200) {
		for k, gen := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
			text := gen(rnd.Uint64(), 120)
			f := syntax.Parse(text)
			r, err := Analyze(t.Context(), &Input{Path: "a.s", File: f})
			if err != nil {
				t.Fatal(err)
			}
			programs := []reftest.Program{{Text: text}}
			var names []string
			for range 60 {
				at := rnd.IntN(len(text))
				list := r.Refactorings(t.Context(), Span{Start: at, End: at})
				if len(list) == 0 {
					continue
				}
				name := list[rnd.IntN(len(list))].Name
				x, ok, err := r.Refactored(t.Context(), Span{Start: at, End: at}, name)
				if err != nil {
					t.Fatal(err)
				}
				if !ok {
					done["not proven"]++
					continue
				}
				names = append(names, fmt.Sprintf("%s: %s", name, x.Title))
				programs = append(programs, reftest.Program{Text: refactoredText(text, x.Edits)})
				done[name]++
			}
			objects := reftest.AssembleObjects(t, programs)
			if objects[0] == nil {
				t.Fatalf("program %d is refused", k)
			}
			for i, name := range names {
				o := objects[i+1]
				if o == nil {
					t.Errorf("%s: refused", name)
					continue
				}
				if strings.HasSuffix(name, "bytes)") {
					continue
				}
				for section, content := range objects[0].Sections {
					if !bytes.Equal(content, o.Sections[section]) || fmt.Sprint(objects[0].Relocs[section]) != fmt.Sprint(o.Relocs[section]) {
						t.Errorf("%s: section %s differs", name, section)
					}
				}
			}
		}
	}
	proof.Counted("refactorings, proven and assembled: %v", done)
}
