package analysis_test

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// commentedLines are refused lines of all kinds of operands, by the head that they need.
var commentedLines = []struct{ head, line string }{
	{headV4, "ldr r0, [r1, #200]"},
	{headV4, "ldr r0, [r1, #-4]"},
	{headV4, "ldr r0, [r1], #4"},
	{headV4, "ldr r0, [r1, #4]!"},
	{headV4, "ldrsb r0, [r1, #4]"},
	{headV4, "ldr r8, [r1, #4]"},
	{headV4, "ldr r0, [r8, r1]"},
	{headV4, "str r0, [r1, r2, lsl #2]"},
	{headV4, "movs r0, #300"},
	{headV4, "adds r0, r1, #20"},
	{headV4, "adds r0, r1, #-20"},
	{headV4, "add r0, r1, #1"},
	{headV4, "sub sp, #10"},
	{headV4, "lsls r0, r1, #40"},
	{headV4, "push {r0, r8, lr}"},
	{headV4, "push {r0, r6-r9}"},
	{headV4, "pop {r4, r10, pc}"},
	{headV4, "stmia r0!, {r1, r9}"},
	{headV4, "beq f+2000"},
	{headV4, "ldr r0, =f, r1"},
	{headM3, "ldr r0, [r1, #5000]"},
	{headM3, "ldr r0, [r1, #-300]"},
	{headM3, "ldrd r0, r1, [r2, #2000]"},
	{headM3, "strh r0, [r1, r2, lsl #4]"},
	{headM3, "ldr r0, [r1], #300"},
	{headM3, "add r0, r1, #0x12345"},
	{headM3, "and r0, r1, r2, lsl #40"},
	{headM3, "ldmia r0, {r1, sp}"},
	{headM3, "mov r0, #0x12345678"},
	{headM3, "tbb [r0, r1, lsl #1]"},
	{headM3, "bfi r0, r1, #4, #40"},
	{headA, "ldr r0, [r1, #5000]"},
	{headA, "ldr r0, [r1, #-5000]!"},
	{headA, "ldr r0, [r1], #5000"},
	{headA, "ldrh r0, [r1, #300]"},
	{headA, "ldrh r0, [r1, r2, lsl #2]"},
	{headA, "strd r0, r1, [r2, #-400]"},
	{headA, "add r0, r1, #0x12345"},
	{headA, "mov r0, #0x12345678"},
	{headA, "add r0, r1, r2, lsl #40"},
	{headA, "mul r0, r1, #4"},
	{headF, "vldr s0, [r2, #5000]"},
	{headF, "vstr d1, [r2, #-2]"},
	{headF, "vldmia r2!, {d0, d2}"},
	{headF, "vpush {s1, s3}"},
	{headF, "vld1.8 {d0, d1}, [r2 :32]"},
	{headF, "vmov.i32 d0, #0x1234"},
	{headF, "vmov.f32 s0, #0.3"},
	{headF, "vadd.f32 q0, q1, s2"},
	{headF, "vmov r0, d1[3]"},
}

const headF = ".arch armv7-a|.fpu neon|.syntax unified|.arm|"

// comment has all that could be taken for a part of an operand.
const comment = "/* ], r3} - #9! ^ [ { = */"

// commentPlaces are where a comment may be in the operands of a line: at each border
// of a word or a sign.
func commentPlaces(line string) (list []int) {
	word := func(c byte) bool { return c == '.' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' }
	operands := false
	for i := 1; i < len(line); i++ {
		operands = operands || line[i-1] == ' '
		if operands && !(word(line[i]) && (word(line[i-1]) || line[i-1] == '-' && i > 1 && !word(line[i-2]))) {
			list = append(list, i)
		}
	}
	return append(list, len(line))
}

// TestComments holds that a comment inside of a line changes nothing: the same
// findings, at the same words; the same rewrites, and each keeps the comment; and the
// assembler refuses the line as before.
func TestComments(t *testing.T) {
	t.Parallel()
	reftest.Require(t, "arm-none-eabi-as")
	type told struct{ findings, offers []string }
	squeeze := func(s string) string {
		return strings.Join(strings.Fields(strings.NewReplacer("[", " [ ", "]", " ] ", "{", " { ", "}", " } ", ",", " , ", "#", " # ", "-", " - ", "+", " + ", "!", " ! ", ":", " : ", "=", " = ").Replace(syntax.WithoutComments(s))), " ")
	}
	look := func(text string) (out told) {
		r := (program{text: text}).analyze(t)
		for _, d := range r.Each() {
			out.findings = append(out.findings, d.Code+" at "+squeeze(text[d.Span.Start:d.Span.End])+": "+squeeze(d.Message))
		}
		for _, a := range r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)}) {
			after := rewritten(text, a)
			if n := strings.Count(after, comment); strings.Contains(text, comment) && n != 1 {
				t.Errorf("%s leaves %d comments:\n%s", a.Rewrite, n, after)
			}
			out.offers = append(out.offers, a.Rewrite+": "+squeeze(a.Title)+"\n"+squeeze(after))
		}
		return out
	}
	var programs []reftest.Program
	offers := 0
	for _, c := range commentedLines {
		tail := "|f: bx lr"
		plain := look(source(c.head + c.line + tail))
		if len(plain.findings) == 0 {
			t.Errorf("%s: nothing is found", c.line)
		}
		offers += len(plain.offers)
		for _, at := range commentPlaces(c.line) {
			line := c.line[:at] + comment + c.line[at:]
			text := source(c.head + line + tail)
			programs = append(programs, reftest.Program{Text: text})
			with := look(text)
			if a, b := strings.Join(plain.findings, "\n"), strings.Join(with.findings, "\n"); a != b {
				t.Errorf("%s:\n%s\nwithout the comment:\n%s", line, b, a)
			}
			if a, b := strings.Join(plain.offers, "\n"), strings.Join(with.offers, "\n"); a != b {
				t.Errorf("%s:\n%s\nwithout the comment:\n%s", line, b, a)
			}
		}
	}
	if offers < 60 {
		t.Errorf("%d rewrites without a comment are too few", offers)
	}
	programs = reftest.Sample(programs, 10)
	for i, j := range reftest.AssemblePrograms(t, programs) {
		if j.OK {
			t.Errorf("the reference assembler takes\n%s", programs[i].Text)
		}
	}
}
