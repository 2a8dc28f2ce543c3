package analysis

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// analyzeGuessed analyses a text as the program does without settings.
func analyzeGuessed(t *testing.T, path, text string) *Result {
	t.Helper()
	r, err := AnalyzeGuessing(context.Background(), &Input{Path: path, File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// moduleFiles are invented sources of the dialect of modules.
func moduleFiles(t *testing.T) map[string]string {
	paths, err := filepath.Glob("testdata/modules/*.s")
	if err != nil || len(paths) < 3 {
		t.Fatalf("%v: %q", err, paths)
	}
	out := map[string]string{}
	for _, path := range paths {
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		out[path] = string(text)
	}
	return out
}

// TestModules holds that sources of the dialect of modules are recognised, also of what is
// typed so far, and that nothing is found in them.
func TestModules(t *testing.T) {
	for path, text := range moduleFiles(t) {
		if d, sure := syntax.Detect(text); d != syntax.Modules || !sure {
			t.Errorf("%s is taken for %v", path, d)
		}
		for _, d := range analyzeGuessed(t, path, text).Diagnostics() {
			if d.Severity <= finding.Information {
				t.Errorf("%s: %s: %s", path, text[d.Span.Start:d.Span.End], d.Message)
			}
		}
		lines := strings.SplitAfter(text, "\n")
		at := slices.IndexFunc(lines, func(l string) bool { return regexp.MustCompile(`(SECTION|RSEG)\s+\S*:(CODE|DATA)`).MatchString(l) })
		for n := at + 1; n < len(lines); n++ {
			if d, _ := syntax.Detect(strings.Join(lines[:n], "")); d != syntax.Modules {
				t.Errorf("%s: the first %d lines are taken for %v", path, n, d)
			}
		}
	}
}

// TestModulesMistakes plants mistakes in them: each has to be found in its line.
func TestModulesMistakes(t *testing.T) {
	for path, text := range moduleFiles(t) {
		lines := strings.Split(text, "\n")
		for _, bad := range []string{"        MOVS    R9, #0x12345", "        MVOE    R0, R1", "        LDR     R0, [R1", "        DC23    5", "        DC32    (1", "        MOVS    R0, #NOTHING", "        SECTION", "        ENDIF", "nmi_handler EQU 5\nnmi_handler EQU 6"} {
			at := len(lines) - 3
			for strings.HasPrefix(strings.TrimSpace(lines[at]), "END") || strings.TrimSpace(lines[at]) == "" {
				at--
			}
			for !strings.HasPrefix(strings.ToUpper(lines[at]), "        B") {
				at--
			}
			broken := strings.Join(slices.Insert(slices.Clone(lines), at, strings.Split(bad, "\n")...), "\n")
			r := analyzeGuessed(t, path, broken)
			last := at + strings.Count(bad, "\n")
			if !slices.ContainsFunc(r.Each(), func(d Diagnostic) bool {
				return d.Severity == finding.Error && (r.in.File.LineAt(d.Span.Start) == at || r.in.File.LineAt(d.Span.Start) == last)
			}) {
				t.Errorf("%s: nothing is found in line %d: %s", path, at+1, bad)
			}
		}
	}
}

// TestModulesAsDots holds that each line of the dialect of modules comes to what its
// counterpart with dots does, which other tests hold against the assembler.
func TestModulesAsDots(t *testing.T) {
	const modHead, dotHead = "        MODULE a\n        SECTION .text:CODE(2)\n        THUMB\nLAMPS   EQU 12\nspot    NOP\n", ".section .text\n.syntax unified\n.thumb\n.equ LAMPS, 12\nspot: nop\n"
	for _, c := range [][2]string{
		{"  DC8 1, 2, LAMPS", ".byte 1, 2, LAMPS"}, {"  DC8 'ab', 0", ".ascii \"ab\"\n.byte 0"}, {"  DC8 \"ab\"", ".asciz \"ab\""}, {"  DC8 'a'", ".byte 'a'"},
		{"  DC16 0x1234, LAMPS*2", ".hword 0x1234, LAMPS*2"}, {"  DC32 spot, 5", ".word spot, 5"}, {"  DCD spot+4", ".word spot+4"}, {"  DC64 1", ".quad 1"},
		{"  DS8 3", ".space 3"}, {"  DS16 3", ".space 6"}, {"  DS32 3", ".space 12"}, {"  DS64 2", ".space 16"}, {"  DS24 2", ".space 6"},
		{"  DC8 1\n  ALIGNROM 2\n  DC32 1", ".byte 1\n.p2align 2\n.word 1"}, {"  DC8 1\n  EVEN\n  DC8 2", ".byte 1\n.even\n.byte 2"},
		{"  MOVS R0, #LAMPS", "movs r0, #LAMPS"}, {"next B next", "next: b next"}, {"next: B next", "next: b next"}, {"  B .", "b ."}, {"  LDR R0, =0x12345678\n  BX LR\n  LTORG", "ldr r0, =0x12345678\nbx lr\n.ltorg"},
		{"lamp = 5\n  MOVS R0, #lamp", "lamp = 5\nmovs r0, #lamp"}, {"n SET 1\nn SET n+1\n  MOVS R0, #n", ".set n, 1\n.set n, n+1\nmovs r0, #n"},
		{"two MACRO a, b\n  MOVS a, #1\n  ADDS b, b, a\n  ENDM\n  two R0, R1", "movs r0, #1\nadds r1, r1, r0"}, {"load MACRO\n  LDR \\1, [\\2]\n  ENDM\n  load R0, R1\n  load R2, R3", "ldr r0, [r1]\nldr r2, [r3]"},
		{"  IF LAMPS > 10\n  NOP\n  ELSE\n  MOVS R0, #1\n  ENDIF", "nop"}, {"  PUBLIC spot\n  EXTERN other, more\n  BL other\n  BL more", ".global spot\n.extern other, more\nbl other\nbl more"},
		{"  SECTION .data:DATA(3)\n  DC32 1\n  SECTION .text:CODE\n  NOP", ".section .data\n.word 1\n.section .text\nnop"}, {"  CODE16\n  ADD R0, R1", ".syntax divided\n.thumb\nadd r0, r1"}, {"  BX LR\n  ARM\n  ADD R0, R1, R2, LSL #3", "bx lr\n.arm\nadd r0, r1, r2, lsl #3"},
		{"  REPT 3\n  MOVS R0, #LAMPS\n  ENDR\n  NOP", ".rept 3\nmovs r0, #LAMPS\n.endr\nnop"}, {"n SET 0\n  REPT 2\n  REPT 2\n  MOVS R0, #n\nn SET n+1\n  ENDR\n  ENDR", ".set n, 0\n.rept 2\n.rept 2\nmovs r0, #n\n.set n, n+1\n.endr\n.endr"},
		{"  REPTI r, R1, R2\n  MOVS r, #3\n  ENDR", ".irp r, r1, r2\nmovs \\r, #3\n.endr"}, {"  REPTC c, \"AB\"\n  MOVS R1, #'c'\n  ENDR", "movs r1, #65\nmovs r1, #66"}, {"  REPT LAMPS/6\n  DC8 1\n  ENDR", ".rept LAMPS/6\n.byte 1\n.endr"},
		{"lamps MACRO n\n  REPT n\n  NOP\n  ENDR\n  ENDM\n  lamps 4", "nop\nnop\nnop\nnop"},
		{"  MOVS R0, #0FFh", "movs r0, #0xff"}, {"  DC32 0ABCDh, 1010b, 17q, 17o, 12d, 0x10", ".word 0xabcd, 10, 15, 15, 12, 16"}, {"  DC8 h'1F', b'101', q'17', 1b, 0Bh", ".byte 31, 5, 15, 1, 11"}, {"  DC32 'ABCD'", ".word 0x41424344"}, {"  DC24 0x10203", ".byte 3, 2, 1"},
		{"?on B ?on\nlamp?1 B lamp?1", "on: b on\nlamp1: b lamp1"}, {"?n EQU 3\n  MOVS R0, #?n + 1", ".equ n, 3\nmovs r0, #n + 1"},
		{"  NOP ; @ a comment\n  NOP // another\n  NOP /* one more */", "nop\nnop\nnop"},
	} {
		ours, theirs := modHead+c[0]+"\n", dotHead+c[1]+"\n"
		a := analyze(t, &Settings{Dialect: "modules", ImplicitIT: "never"}, ours)
		b := analyze(t, nil, theirs)
		if x, y := contents(a), contents(b); x != y {
			t.Errorf("%s:\n%s\nwith dots\n%s", c[0], x, y)
		}
		for _, d := range slices.Concat(a.Each(), b.Each()) {
			if d.Severity <= finding.Warning {
				t.Errorf("%s: %s", c[0], d.Message)
			}
		}
	}
}

// contents lists what a program puts where: sizes and codes, and what sections have together.
func contents(r *Result) string {
	var b strings.Builder
	for _, s := range r.prog.Sections {
		if s.Size > 0 {
			fmt.Fprintf(&b, "%s %d\n", s.Name, s.Size)
		}
	}
	for i := range r.prog.Items {
		if it := &r.prog.Items[i]; it.Stmt.Kind == syntax.Instruction && it.Match.Form != nil && it.Flags&program.Refused == 0 {
			fmt.Fprintf(&b, "%d: %x\n", it.Offset, it.Match.Encode())
		}
	}
	return b.String()
}

// TestModulesRewrites holds that what is offered is written in the dialect of modules.
func TestModulesRewrites(t *testing.T) {
	const head = "        MODULE  a\n        SECTION .text:CODE:NOROOT(2)\n        THUMB\n"
	offered := 0
	for _, lines := range []string{
		"first   ADD     R0, R1, #300\n        BX      LR\n", "        BEQ     far\n        DS8     300\nfar     BX      LR\n", "        LDR     R0, =0x12345678\n        BX      LR\n        DS8     1100\n",
		"        MOVEQ   R0, R1\n        BX      LR\n", "        LDR     R0, w\n        BX      LR\n        NOP\nw       DC16    1, 2\n", "        MOVS    R0, #300\n        BX      LR\n", "        PUSH    {R0, R8}\n        BX      LR\n", "        CBZ     R0, out\n        NOP\nout     BX      LR\n",
	} {
		text := head + lines + "        END\n"
		r := analyze(t, &Settings{Arch: "armv4t", ImplicitIT: "never"}, text)
		if d := r.in.File.Dialect(); d != syntax.Modules {
			t.Errorf("taken for %v:\n%s", d, text)
		}
		for _, a := range r.Actions(context.Background(), finding.Span{End: len(text)}) {
			offered++
			got := apply(text, a.Edits)
			if regexp.MustCompile(`(?m)^\s*\.[a-z]|^\s*\d+:|@|\b\d[fb]\b`).MatchString(got) {
				t.Errorf("%s has the style of another dialect:\n%s", a.Rewrite, got)
			}
			if d, _ := syntax.Detect(got); d != syntax.Modules {
				t.Errorf("%s: taken for %v:\n%s", a.Rewrite, d, got)
			}
		}
	}
	if offered < 8 {
		t.Errorf("%d rewrites", offered)
	}
}

// TestNotModules holds that sources of other dialects are not taken for it.
func TestNotModules(t *testing.T) {
	for _, text := range []string{
		"\tAREA a, CODE\n\tTHUMB\nx\tDCD 1\n\tEXTERN y\n\tEND\n", "\tAREA a, DATA\n\tEXPORT x\nx\tDCB 1\n\tALIGN\n\tEND\n", ".section .text\n.macro PUBLIC name\n.global \\name\n.endm\n PUBLIC f\nf: bx lr\n PUBLIC g\ng: bx lr\n",
		"#define SECTION(x) .section x\n.text\nf: mov r0, #1\n", ".macro DC32 x\n.word \\x\n.endm\nDC32 5\n DC32 6\n.text\n.thumb\n.data\n",
	} {
		if d, _ := syntax.Detect(text); d == syntax.Modules {
			t.Errorf("taken for %v:\n%s", d, text)
		}
	}
}

// TestDetectBehindText holds that the dialect of columns, and that of modules, is recognised
// behind a wall of comments, and with prose in front that has no mark.
func TestDetectBehindText(t *testing.T) {
	for want, body := range map[syntax.Dialect]string{
		syntax.Columns: "        AREA    RESET, CODE, READONLY\n        THUMB\n        EXPORT  go\ngo      MOVS    R0, #1\n        BX      LR\n        END\n",
		syntax.Modules: "        MODULE  box\n        SECTION .text:CODE(2)\n        THUMB\n        PUBLIC  go\ngo      MOVS    R0, #1\n        BX      LR\n        END\n",
	} {
		for _, before := range []string{
			strings.Repeat("; the railway's first signal box: notes about its code\n", 3000),
			"/*\n" + strings.Repeat(" This tells of @signals, and lamps; see .section text\n", 3000) + "*/\n",
			strings.Repeat("// notes of the box: what @all lamps do; and so on.\n", 3000), strings.Repeat("; add r0, r1 it does; then\n\n", 4000),
			"/* C text */\n#ifndef BOX\n#define BOX 1\n#endif\n", "#include \"box.h\"\n\n",
			"Notes of the signal box\n\nThis text stands before the code: it tells what the lamps do.\nA line; with marks @ and (others).\n\n",
		} {
			text := before + body
			if d, _ := syntax.Detect(text); d != want {
				t.Errorf("taken for %v, not %v:\n%.200s…\n%s", d, want, before, body)
				continue
			}
			lines := strings.Count(before, "\n")
			for _, d := range analyze(t, nil, text).Each() {
				if line := strings.Count(text[:d.Span.Start], "\n"); d.Severity <= finding.Warning && line >= lines {
					t.Errorf("%.40s…: line %d: %s", before, line+1, d.Message)
				}
			}
		}
	}
}
