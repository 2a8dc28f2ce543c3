package analysis

import (
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa/reftest"
)

// itPrograms are lines about IT blocks, for ARMv7-A in unified syntax from T32
// code on; "|" means a line end. Lines with a finding end in "!", or "?"
// for a warning.
var itPrograms = []string{
	"it eq|moveq r0, r1",
	"ite eq|moveq r0, r1|foo:|.word 5|.data|.text|movne r0, r1",
	"it ne|.section .x|nop|moveq r0, r1!|.text|movne r1, r2",
	"moveq r0, r1!|it eq|nop|it eq|bkpt 0|it eq|udf 0",
	"itt eq|beq foo!|nop|foo:",
	"itt eq|it eq!|moveq r0, r1|moveq r0, r1!",
	"itte hs|movhs r0, #1|movcs r1, r2|movlo r0, #300",
	"itt al|mov r0, r1!|b foo|foo: nop",
	"it al|moval r0, r1!|it al|bx lr|it al|bl foo|foo:",
	"ite al|nop|nop|it nv!|it!|it eq, ne!|ittttt eq!",
	"itt eq|.arm|moveq r0, r1|movne r0, r1!|mov r2, r3",
	".arm|itt eq|beq foo|nop!|it ne|mov r0, r1!|it eq|mrseq r0, cpsr|foo:",
	".arm|moveq r0, r1|movne r0, r1",
	".arm|it eq|bleq foo|itt ne|bxne lr|it lt!|foo:",
	".arm|.syntax divided|itt eq|nop|.syntax unified|itt eq|moveq r0, r1|moveq r0, r2",
	"itt eq?",
	"itt eq?|moveq r0, r1",
	"it eq|adds r0, r0, #1!",
	"it eq|mov r0, r1!|it lt|movge r0, r1!",
	"it eq|cbz r0, foo!|it eq|cpsid i!|it eq|setend be!|foo:",
	"itt eq|bxeq lr!|nop|itt eq|bleq foo!|nop|itt eq|blxeq r0!|nop|foo:",
	"itt eq|moveq pc, r0!|nop|it eq|moveq pc, r0",
	"itt eq|svceq 0|nop|itt eq|cmpeq r0, r1|tsteq r0, r1",
	"it eq|beq foo|bne foo|foo: it ne|bne foo",
	"beq foo|it eq|b foo!|foo:",
	".set v, 5|itt ls|addls r0, #v|.if v > 4|subls r0, #v|.endif",
}

// TestITBlocks checks the findings about IT blocks, and that the assembler
// refuses the same lines.
func TestITBlocks(t *testing.T) {
	for _, c := range itPrograms {
		text := ".arch armv7-a\n.syntax unified\n.thumb\n"
		var bad, odd []int
		for i, l := range strings.Split(c, "|") {
			if strings.HasSuffix(l, "!") {
				bad = append(bad, i+4)
			} else if strings.HasSuffix(l, "?") {
				odd = append(odd, i+4)
			}
			text += strings.TrimRight(l, "!?") + "\n"
		}
		var errs, warns []int
		r := analyze(t, nil, text)
		for _, d := range r.Each() {
			l := r.in.File.LineAt(d.Span.Start) + 1
			switch {
			case d.Severity == finding.Error:
				errs = append(errs, l)
			case d.Severity == finding.Warning && d.Code == finding.CodeITBlock:
				warns = append(warns, l)
			}
		}
		if !slices.Equal(errs, bad) || !slices.Equal(warns, odd) {
			t.Errorf("%q: errors in %v, want %v; warnings in %v, want %v: %+v", c, errs, bad, warns, odd, r.Each())
		}
		reftest.Require(t, "arm-none-eabi-as")
		if ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-a", Unified: true, Thumb: true}, text); !slices.Equal(ref.ErrorLines, bad) || len(bad) == 0 && (len(ref.WarnLines) > 0) != (len(odd) > 0) {
			t.Errorf("%q: the assembler has errors in %v, want %v, and warnings in %v", c, ref.ErrorLines, bad, ref.WarnLines)
		}
	}
}

// TestMessagesT32 reads the limits in messages about T32 code.
func TestMessagesT32(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"push {r0, sp}", "push takes r0–r12, lr in its list, not sp."},
		{"stmdb r0!, {r1, pc}", "stmdb takes r0–r12, lr in its list, not pc."},
		{"ldr r0, [r1, #-300]", "ldr takes an offset of -255–4095 here; -300 is 45 too small."},
		{"ldr r0, [r1, #5000]", "ldr takes an offset of -255–4095 here; 0x1388 (5000) is 905 too large."},
		{"bfi r0, r1, #30, #4", "bfi takes a constant of 1–2 here; 4 is 2 too large."},
		{"cmp r0, #0x1ff", "nearest 0x1fe and 0x200"},
		{"rsc r0, r1, r2", "T32 has no rsc; it exists only in other instruction sets."},
		{"adds r0, r1, #0x101", "T32 has this only as add, which keeps the flags."},
	} {
		d := analyze(t, nil, ".cpu cortex-m4\n.syntax unified\n.thumb\n"+c.text+"\n").Each()
		if len(d) != 1 || !strings.Contains(d[0].Message, c.want) {
			t.Errorf("%q: want %q, got %+v", c.text, c.want, d)
		}
	}
}
