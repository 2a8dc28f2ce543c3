package analysis

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/analysis/syntax"
)

// TestCompared puts lines in the place of refused ones by hand, many of them wrong, and
// holds what comes out when both are carried out: each slip has to be seen that a rewrite
// could make.
func TestCompared(t *testing.T) {
	const (
		v4T = ".arch armv4t|.syntax unified|.thumb|"
		v5T = ".arch armv5te|.syntax unified|.thumb|"
		v4A = ".arch armv4t|.syntax unified|.arm|"
		m3  = ".arch armv7-m|.syntax unified|.thumb|"
	)
	same, differs := rewrite.Same, rewrite.Differs
	type compared struct {
		head, src string // ? is the refused line
		line      string
		by        string
		want      rewrite.Proof
	}
	cases := []compared{
		// Registers and flags that are needed after it.
		{v4T, "?|str r0,[r3]|bx lr", "adds r0,#300", "adds r0,#255|adds r0,#45", same},
		{v4T, "?|str r0,[r3]|bx lr", "adds r0,#300", "adds r0,#255|adds r0,#44", differs},
		{v4T, "?|str r0,[r3]|bx lr", "adds r0,#300", "adds r1,#255|adds r0,#45", differs},
		{v4T, "?|str r0,[r3]|bcs l|l: bx lr", "adds r0,#300", "adds r0,#255|adds r0,#45", differs},
		{v4T, "?|beq l|movs r0,#1|l: bx lr", "adds r0,#300", "adds r0,#255|adds r0,#45", same},
		{v4T, "?|movs r1,#0|str r0,[r3]|bx lr", "adds r0,#300", "movs r1,#255|adds r1,#45|adds r0,r1", same},
		{v4T, "?|str r0,[r3]|str r1,[r3]|bx lr", "adds r0,#300", "movs r1,#255|adds r1,#45|adds r0,r1", differs},
		{v4T, "?|bx lr", "cmp r8,#1", "mov r0,r8|cmp r0,#1", differs}, // r0 may be a result
		{v4T, "?|movs r0,#0|bx lr", "cmp r8,#1", "mov r0,r8|cmp r0,#1", same},
		{v4T, "?|bne l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "cmp r8,#1", "mov r0,r8|cmp r0,#1", same},
		{v4T, "?|bne l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "cmp r8,#1", "mov r0,r8|cmp r0,#2", differs},
		{v4T, "?|bgt l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "cmp r8,#1", "mov r0,r8|subs r0,#1", same},
		{v4T, "?|bgt l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "cmp r8,#1", "mov r0,r8|movs r0,r0", differs},
		{v4T, "?|bcs l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "tst r1,#4", "movs r0,#4|tst r1,r0", same},
		{v4T, "?|bcs l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "tst r1,#4", "lsrs r0,r1,#3", differs},
		{v4T, "?|bvs l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "tst r1,#4", "cmp r1,#4", differs},
		{v4T, "?|bmi l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "tst r1,r2,lsl #3", "lsls r0,r2,#3|tst r1,r0", same},
		{v4T, "?|bmi l|movs r0,#0|bx lr|l: movs r0,#1|bx lr", "tst r1,r2,lsl #3", "lsls r0,r2,#3|tst r2,r0", differs},
		// Memory, and the stack.
		{v4T, "?|bx lr", "str r0,[r1,#200]", "adds r1,#100|str r0,[r1,#100]|subs r1,#100", same},
		{v4T, "?|bx lr", "str r0,[r1,#200]", "adds r1,#100|str r0,[r1,#96]|subs r1,#100", differs},
		{v4T, "?|bx lr", "str r0,[r1,#200]", "adds r1,#100|str r0,[r1,#100]", differs},
		{v4T, "?|bx lr", "str r0,[r1,#200]", "adds r1,#100|strh r0,[r1,#50]|subs r1,#50|subs r1,#50", differs},
		{v4T, "?|bx lr", "str r0,[r1,#200]", "push {r2}|movs r2,#200|str r0,[r1,r2]|pop {r2}", same},
		{v4T, "?|bx lr", "str r0,[r1,#200]", "push {r2}|movs r2,#200|str r0,[r1,r2]|add sp,#4", differs},
		{v4T, "?|bx lr", "str r0,[r1,#200]", "push {r2,r3}|movs r2,#200|str r0,[r1,r2]|pop {r2}", differs},
		{v4T, "?|bx lr", "ldrsh r0,[r1,#6]", "ldrh r0,[r1,#6]|lsls r0,#16|asrs r0,#16", same},
		{v4T, "?|bx lr", "ldrsh r0,[r1,#6]", "ldrh r0,[r1,#6]", differs},
		{v4T, "?|bx lr", "ldrsh r0,[r1,#6]", "ldrh r0,[r1,#6]|lsls r0,#16|lsrs r0,#16", differs},
		{v4T, "?|bx lr", "ldrsb r0,[r1,#6]", "ldrb r0,[r1,#6]|lsls r0,#24|asrs r0,#24", same},
		{v4T, "?|bx lr", "ldrsb r0,[r1,#6]", "ldrb r0,[r1,#7]|lsls r0,#24|asrs r0,#24", differs},
		{v4T, "?|bx lr", "stmdb sp!,{r4,lr}", "push {r4,lr}", same},
		{v4T, "?|bx lr", "stmdb sp!,{r4,lr}", "push {r4,r5,lr}", differs},
		{v4T, "?|bx lr", "stmdb sp!,{r4,lr}", "push {r4}|push {r5}", differs},
		// Where execution goes, and under which condition.
		{v4T, "l: subs r1,#1|?|bx lr", "cbnz r1,l", "cmp r1,#0|bne l", same},
		{v4T, "l: subs r1,#1|?|bx lr", "cbnz r1,l", "cmp r1,#0|beq l", differs},
		{v4T, "l: subs r1,#1|?|bx lr", "cbnz r1,l", "cmp r2,#0|bne l", differs},
		{v4T, "l: subs r1,#1|k: nop|?|bx lr", "cbnz r1,l", "cmp r1,#0|bne k", differs},
		{v4T, "cmp r1,#0|?|bx lr", "moveq r0,#1", "bne 1f|movs r0,#1|1:", same},
		{v4T, "cmp r1,#0|?|bx lr", "moveq r0,#1", "beq 1f|movs r0,#1|1:", differs},
		{v4T, "cmp r1,#0|?|bx lr", "moveq r0,#1", "movs r0,#1", differs},
		{v4T, "cmp r1,#0|?|bx lr", "addge r0,#1", "blt 1f|adds r0,#1|1:", same},
		{v4T, "cmp r1,#0|?|bx lr", "addge r0,#1", "ble 1f|adds r0,#1|1:", differs},
		{v4T, "cmp r1,#0|?|bx lr", "addhi r0,#1", "bls 1f|adds r0,#1|1:", same},
		{v4T, "cmp r1,#0|?|bx lr", "addhi r0,#1", "bcc 1f|adds r0,#1|1:", differs},
		{v4T, "?", "pop {r4,r8,pc}", "ldr r4,[sp,#4]|mov r8,r4|pop {r4}|add sp,#4|pop {pc}", same},
		{v4T, "?", "pop {r4,r8,pc}", "ldr r4,[sp,#4]|mov r9,r4|pop {r4}|add sp,#4|pop {pc}", differs},
		{v4T, "?", "pop {r4,r8,pc}", "ldr r4,[sp,#4]|mov r8,r4|pop {r4}|add sp,#4|pop {r1}|bx r1", differs},
		{v4T, "?", "pop {r4,r8,pc}", "ldr r4,[sp,#4]|mov r8,r4|pop {r4}|pop {pc}", differs},
		// A32.
		{v4A, "?|bx lr", "movw r0,#0x1234", "mov r0,#0x1200|orr r0,r0,#0x34", same},
		{v4A, "?|bx lr", "movw r0,#0x1234", "mov r0,#0x1200|orr r0,r0,#0x35", differs},
		{v4A, "?|bx lr", "movweq r0,#0x1234", "moveq r0,#0x1200|orreq r0,r0,#0x34", same},
		{v4A, "?|bx lr", "movweq r0,#0x1234", "moveq r0,#0x1200|orr r0,r0,#0x34", differs},
		{v4A, "?|bx lr", "movweq r0,#0x1234", "mov r0,#0x1200|orreq r0,r0,#0x34", differs},
		{v4A, "?|bcs l|mov r0,#2|l: bx lr", "adds r0,r1,#0x101", "add r0,r1,#0x100|adds r0,r0,#1", differs},
		{v4A, "?|beq l|mov r0,#2|l: bx lr", "adds r0,r1,#0x101", "add r0,r1,#0x100|adds r0,r0,#1", same},
		// IT blocks.
		{m3, "cmp r1,#0|it eq|?|bx lr", "addeq r0,r0,#0x12300", "add r0,r0,#0x12000|add r0,r0,#0x300", differs},
	}
	// More is assembled elsewhere.
	cases = append(cases, compared{v4T, "a: ?|b: bx lr|.rept (b-a)/2|.byte 1|.endr", "adds r0,#300", "adds r0,#255|adds r0,#45", rewrite.Unproven},
		compared{v4T, "a: ?|b: bx lr|.rept 7-(b-a)|.byte 1|.endr", "adds r0,#300", "adds r0,#255|adds r0,#45", rewrite.Unproven})
	// A field of one bit: any one state has it 0 or 1.
	for k := range 32 {
		line := fmt.Sprintf("ubfx r0,r1,#%d,#1", k)
		cases = append(cases,
			compared{v4T, "?|movs r2,#0|bx lr", line, fmt.Sprintf("lsls r0,r1,#%d|lsrs r0,r0,#31", 31-k), same},
			compared{v4T, "?|movs r2,#0|bx lr", line, "movs r0,#0", differs},
			compared{v4T, "?|movs r2,#0|bx lr", line, "movs r0,#1", differs})
	}
	// Each flag alone.
	for n, cond := range strings.Fields("eq ne cs cc mi pl vs vc hi ls ge lt gt le") {
		src := "?|b" + cond + " l|movs r0,#2|bx lr|l: movs r0,#3|bx lr"
		cases = append(cases,
			compared{v5T, src, "cmp r8,#0x80", "mov r0,r8|cmp r0,#0x80", same},
			compared{v5T, src, "cmp r8,#0x80", "mov r0,r8|cmp r0,#0x81", []rewrite.Proof{differs, differs, differs, differs}[n&3]},
			compared{v5T, src, "tst r1,#0x80", "movs r0,#0x80|tst r1,r0", same})
	}
	for _, c := range cases {
		text := strings.ReplaceAll(c.head+strings.Replace(c.src, "?", c.line, 1), "|", "\n") + "\n"
		in := &Input{Path: "box.s", File: syntax.Parse(text)}
		r, err := Analyze(context.Background(), in)
		if err != nil {
			t.Fatal(err)
		}
		at := strings.Index(text, c.line)
		it := r.prog.ItemAt(at)
		edit := finding.Edit{Span: finding.Span{Start: at, End: at + len(c.line)}, New: strings.ReplaceAll(c.by, "|", "\n")}
		var got rewrite.Proof
		r.ask(context.Background(), maxAsked, func(ctx context.Context, s *rewrite.Subject) { got = s.Compare(ctx, it, []finding.Edit{edit}) })
		if got != c.want {
			t.Errorf("%s%s: %s for %s: %v, want %v", c.head, c.src, c.by, c.line, got, c.want)
		}
	}
}
