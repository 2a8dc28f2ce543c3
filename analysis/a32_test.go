package analysis

import (
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa/reftest"
)

// a32Messages are A32 lines with what is said of them, "" for nothing. Each is
// a program for ARMv4T in unified syntax; "|" means a line end. The
// assembler refuses those with an error, and takes the others.
var a32Messages = []struct{ text, code, part string }{
	{"mov r0, #0x101", finding.CodeConstRange, "which 0x101 is not; nearest 0x100; two instructions can do it"},
	{"mov r0, #0x12345678", finding.CodeConstRange, "nearest 0x12400000"},
	{"mov r0, #0xff", "", ""},
	{"mov r0, #-1", "", ""},
	{"add r0, r1, #-4", "", ""},
	{"and r0, r1, #0xffffff00", "", ""},
	{"cmp r0, #-1", "", ""},
	{"orr r0, r1, #0xffffff00", finding.CodeConstRange, "rotated by an even amount, which 0xffffff00 is not"},
	{"mov r0, r1, lsl #32", finding.CodeConstRange, "32"},
	{"ldr r0, [r1, #4096]", finding.CodeConstRange, "4096"},
	{"ldr r0, [r1, #-4095]!", "", ""},
	{"ldrh r0, [r1, #256]", finding.CodeConstRange, "256"},
	{"ldrh r0, [r1, r2, lsl #1]", finding.CodeNoForm, "ldrh takes no shifted offset"},
	{"ldreqb r0, [r1], -r2", "", ""},
	{"ldrbeq r0, [r1], -r2", "", ""},
	{"addeqs r0, r1", "", ""},
	{"rev r0, r1", finding.CodeNotOnArch, "exists from ARMv6 on"},
	{"rbit r0, r1", finding.CodeNotOnArch, "exists from ARMv6T2 on"},
	{"dmb", finding.CodeNotOnArch, "exists from ARMv7 on"},
	{"clz r0, r1", finding.CodeNotOnArch, "ARMv5"},
	{"blx r0", finding.CodeNotOnArch, "ARMv5T"},
	{"ldmia r0!, {r1-r3}^", "", ""},
	{"push {r4-r11, lr}", "", ""},
	{"push {}", finding.CodeRegList, ""},
	{"swp r0, r1, [r2]", "", ""},
	{"mcr p15, 0, r0, c1, c0, 0", "", ""},
	{"mcr p16, 0, r0, c1, c0, 0", finding.CodeNoForm, "mcr does not take these operands"},
	{"msr cpsr_c, #0xd3", "", ""},
	{"mrs r0, cpsr", "", ""},
	{"svc 0x123456", "", ""},
	{"b 1f|1: nop", "", ""},
	{"b 1f+2|1: nop", finding.CodeLitAlign, "multiple of 4"},
	{"ldr r0, 1f|.space 4100|1: .word 5", finding.CodeLitReach, "4095"},
	{"ldr r0, 1f|.space 4000|1: .word 5", "", ""},
	{"adr r0, 1f|.space 1024|1: .word 5", "", ""},
	{"adr r0, 1f|.space 1025|1: .word 5", finding.CodeConstRange, "rotated"},
	{"ldr r0, =0x101", "", ""},
	{"ldr r0, =0xff000000", "", ""},
	{".equ x, 257|mov r0, #x", finding.CodeConstRange, "0x101"},
	{".equ x, 257<<2|mov r0, #x", finding.CodeConstRange, ""},
	{"mov r0, #y|.equ y, 0x3fc", "", ""},
	{"mov r0, r1,", finding.CodeSyntax, ""},
	{"vadd.f32 s0, s1, s2", finding.CodeNotOnArch, "VFPv1"},
	{"ldc p5, c3, [r1], {5}", "", ""},
	{"x .req r3|mov x, #1|ldr x, [x, x, lsl #2]", "", ""},
	{"x .req r3|ldr r0, [r1], x|ldr r0, [r1], -x|str x, [x], x, lsl #3", "", ""},
	{".equ x, 3|ldr r0, [r1], x|ldr r0, [r1, r2, lsl #x]|ldr r0, [r1], #x", "", ""},
	{"x .req r3|mov r0, r1, lsl x|add r0, r1, r2, asr x|mcr p15, 0, x, c1, c0, 0|push {x, lr}|ldm x!, {r0, r1}|msr cpsr_f, x", "", ""},
	{"ldr r0, ext", finding.CodeUndefined, ""},
	{"adr r0, ext", finding.CodeUndefined, ""},
	{"bl ext|b ext+8|bleq ext", "", ""},
	{"bl l|.thumb|.thumb_func|nop|l: nop|.arm", "", ""},
	{"str r0, 1f|1: .word 0", "", ""},
	{"ldr pc, =l|l: nop|ldr r0, [r1, #l2-l]|l2:", "", ""},
	{"svc n|.equ n, 3", "", ""},
	{"1: subs r0, r0, #1|bne 1b|ldreq pc, [sp], #4|mov pc, lr", "", ""},
	{"ldr r0, =3|ldrb r1, =300|ldrsh r2, =-1", "", ""},
	{"mov r0, #1|mov r0, #1, 2|msr cpsr_c, 0x13", "", ""},
	{"adrl r0, l|.space 5000|l:", "", ""},
	{"addw r0, r1, #5", finding.CodeNoForm, "addw is Thumb-only"},
	{"cbz r0, l|l:", finding.CodeNoForm, "cbz is Thumb-only"},
	{"sdiv r0, r1, r2", finding.CodeNotOnArch, ""},
	{"ldc p5, c3, [r1], {5}|nop {5}|udf #3", "", ""},
	{"nop r0", finding.CodeNoForm, "nop takes no register here"},
	{"it eq|moveq r0, r1|.org 4", "", ""},
	{"beq 1f|bne 1f|bl 1f|1: bx lr", "", ""},
}

// TestA32Messages checks the findings on A32 lines.
func TestA32Messages(t *testing.T) {
	for _, c := range a32Messages {
		text := ".syntax unified\n.arm\n" + strings.ReplaceAll(c.text, "|", "\n") + "\n"
		var got []string
		found := false
		for _, d := range analyze(t, nil, text).Each() {
			if d.Severity != finding.Error {
				continue
			}
			got = append(got, d.Code+": "+d.Message)
			found = found || d.Code == c.code && strings.Contains(d.Message, c.part)
		}
		if c.code == "" && len(got) > 0 || c.code != "" && !found {
			t.Errorf("%q: want %q with %q, got %q", c.text, c.code, c.part, got)
		}
	}
	reftest.Require(t, "arm-none-eabi-as")
	part := reftest.Size(8, 1, 1)
	for i, c := range a32Messages {
		if i%part != reftest.Seed(0)%part {
			continue
		}
		text := ".syntax unified\n.arm\n" + strings.ReplaceAll(c.text, "|", "\n") + "\n"
		if ok := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text).OK; ok != (c.code == "") {
			t.Errorf("%q: the assembler takes it: %v", c.text, ok)
		}
	}
}
