package analysis

import (
	"context"
	"regexp"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

var (
	localRef   = regexp.MustCompile(`\b(\d)([fb])\b`)
	labelFront = regexp.MustCompile(`(?m)^([A-Za-z0-9_]+):`)
	localAhead = regexp.MustCompile(`%F(\d+)`)
)

// inColumns writes an example of the dot dialect in columns; ok is false for
// what has no counterpart there.
func inColumns(text string) (out, arch string, ok bool) {
	var lines []string
	for _, l := range strings.Split(text, "\n") {
		if a, is := strings.CutPrefix(l, ".arch "); is {
			arch = a
			continue
		}
		if l == ".syntax unified" {
			continue
		}
		l = labelFront.ReplaceAllString(l, "$1")
		l = localRef.ReplaceAllStringFunc(l, func(m string) string { return "%" + strings.ToUpper(m[1:]) + m[:1] })
		for from, to := range map[string]string{".thumb": "\tTHUMB", ".arm": "\tARM", "\t.thumb": "\tTHUMB", "\t.arm": "\tARM", "\t.ltorg": "\tLTORG"} {
			if l == from {
				l = to
			}
		}
		l = strings.Replace(strings.Replace(strings.Replace(l, ".space ", "SPACE ", 1), ".word ", "DCD ", 1), ".byte ", "DCB ", 1)
		if strings.Contains(l, "\t.") || strings.HasPrefix(l, ".") {
			return "", "", false
		}
		lines = append(lines, l)
	}
	return "\tAREA |.text|, CODE, READONLY\n" + strings.Join(lines, "\n"), arch, true
}

// wideExamples are examples of rewrites in A32 and T32, which are registered with
// one in T16.
var wideExamples = []rewrite.Rewrite{
	{Name: "move-add", Before: ".arch armv4t\n" + codeA + "\tmov r0, #0x101\n\tbx lr\n", After: ".arch armv4t\n" + codeA + "\tmov r0, #0x100\n\torr r0, r0, #1\n\tbx lr\n"},
	{Name: "literal-load", Before: ".arch armv4t\n" + codeA + "\tmoveq r0, #0x12345678\n\tbx lr\n", After: ".arch armv4t\n" + codeA + "\tldreq r0, =0x12345678\n\tbx lr\n"},
	{Name: "two-adds", Before: ".arch armv4t\n" + codeA + "\tadd r0, r1, #0x101\n\tbx lr\n", After: ".arch armv4t\n" + codeA + "\tadd r0, r1, #0x100\n\tadd r0, r0, #1\n\tbx lr\n"},
	{Name: "two-adds", Before: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tadd r0, r1, #0x12345\n\tbx lr\n", After: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tadd r0, r1, #0x12000\n\tadd r0, r0, #0x345\n\tbx lr\n"},
	{Name: "constant-register", Before: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tcmp r0, #0x1234\n\tmov r1, #0\n\tbx lr\n", After: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tmov r1, #0x1234\n\tcmp r0, r1\n\tmov r1, #0\n\tbx lr\n"},
	{Name: "address-first", Before: ".arch armv4t\n" + codeA + "\tldr r0, [r1, #0x1234]\n\tbx lr\n", After: ".arch armv4t\n" + codeA + "\tadd r0, r1, #0x1000\n\tldr r0, [r0, #0x234]\n\tbx lr\n"},
	{Name: "offset-register", Before: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tldr r0, [r1, #5000]\n\tbx lr\n", After: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tmov r0, #5000\n\tldr r0, [r1, r0]\n\tbx lr\n"},
	{Name: "step-base", Before: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tldr r0, [r1], #256\n\tbx lr\n", After: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tldr r0, [r1]\n\tadd r1, r1, #256\n\tbx lr\n"},
	{Name: "older-sequence", Before: ".arch armv5te\n" + codeA + "\trev r0, r1\n\tmov r2, #0\n\tbx lr\n", After: ".arch armv5te\n" + codeA + "\teor r2, r1, r1, ror #16\n\tbic r2, r2, #0xff0000\n\tmov r0, r1, ror #8\n\teor r0, r0, r2, lsr #8\n\tmov r2, #0\n\tbx lr\n"},
	{Name: "older-sequence", Before: ".arch armv4t\n" + codeA + "\tpush {lr}\n\tblx r3\n\tpop {lr}\n\tbx lr\n", After: ".arch armv4t\n" + codeA + "\tpush {lr}\n\tmov lr, pc\n\tbx r3\n\tpop {lr}\n\tbx lr\n"},
	{Name: "invert-branch", Before: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tcbz r0, far\n\tmov r0, #1\n\tbx lr\n\t.space 200\nfar:\tbx lr\n", After: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tcbnz r0, 1f\n\tb far\n1:\n\tmov r0, #1\n\tbx lr\n\t.space 200\nfar:\tbx lr\n"},
	{Name: "move-halves", Before: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tcmp r0, #0\n\tite eq\n\tmoveq r1, #0x12345678\n\tmovne r1, #1\n\tbx lr\n", After: ".arch armv7-m\n" + rewrite.UnifiedThumb + "\tcmp r0, #0\n\titte eq\n\tmovweq r1, #0x5678\n\tmovteq r1, #0x1234\n\tmovne r1, #1\n\tbx lr\n"},
}

const codeA = ".syntax unified\n.arm\n"

// TestRewritesInColumns runs the documented examples in the column dialect: what
// is offered has to be spelled as the file is.
func TestRewritesInColumns(t *testing.T) {
	proof := reftest.Begin(t)
	ran := 0
	for _, w := range append(rewrite.Rewrites(), wideExamples...) {
		switch w.Name {
		case "add-colon", "mark-function", "set-state-bit", "align", "target-directive", "comment-mark", "missing-mark":
			continue // nothing of this is wrong in columns, or can be said there
		}
		before, arch, ok := inColumns(w.Before)
		after, _, ok2 := inColumns(w.After)
		if !ok || !ok2 {
			t.Logf("%s: no counterpart", w.Name)
			continue
		}
		ran++
		r := analyzeText(t, before, &Settings{Arch: arch, ImplicitIT: "never"})
		if r.in.File.Dialect() != syntax.Columns {
			t.Errorf("%s: taken for %v\n%s", w.Name, r.in.File.Dialect(), before)
			continue
		}
		found := false
		var offers []string
		for _, a := range r.Actions(context.Background(), finding.Span{Start: 0, End: len(before)}) {
			got := apply(before, a.Edits)
			if m := localAhead.FindStringSubmatch(got); m != nil && m[1] != "1" {
				got = strings.ReplaceAll(strings.ReplaceAll(got, m[0], "%F1"), "\n"+m[1], "\n1")
			}
			offers = append(offers, a.Rewrite+":\n"+got)
			if regexp.MustCompile(`(?m)^\s*\.[a-z]|:\s*$|^\d+:|@`).MatchString(got) {
				t.Errorf("%s has the style of another dialect:\n%s", a.Rewrite, got)
			}
			found = found || a.Rewrite == w.Name && strings.EqualFold(got, after)
		}
		if !found {
			t.Errorf("%s is not offered; want\n%s\nfindings %q, offered\n%s", w.Name, after, findings(r), strings.Join(offers, "\n"))
		}
	}
	proof.Counted("styles: %d rewrites", ran)
	if ran < 20 {
		t.Errorf("only %d examples have a counterpart", ran)
	}
}

// TestRewritesWithSemicolons runs the documented examples with comments after
// ';': the comment has to stay one.
func TestRewritesWithSemicolons(t *testing.T) {
	for _, w := range append(rewrite.Rewrites(), wideExamples...) {
		if w.Name == "add-colon" || w.Name == "comment-mark" || w.Name == "missing-mark" {
			continue
		}
		text := "; the lamps of the signal box\n; as they were\n" + strings.ReplaceAll(w.Before, "\tbx lr\n", "\tbx lr ; back to the caller\n")
		r := analyzeText(t, text, nil)
		if w.Name == "target-directive" {
			r = guessed(t, text)
		}
		if r.in.File.Dialect() != syntax.Semicolon {
			t.Errorf("%s: taken for %v", w.Name, r.in.File.Dialect())
			continue
		}
		found := false
		for _, a := range r.Actions(context.Background(), finding.Span{Start: 0, End: len(text)}) {
			got := strings.ReplaceAll(apply(text, a.Edits), " ; back to the caller", "")
			found = found || a.Rewrite == w.Name && got == "; the lamps of the signal box\n; as they were\n"+w.After
		}
		if !found {
			t.Errorf("%s is not offered", w.Name)
		}
	}
}
