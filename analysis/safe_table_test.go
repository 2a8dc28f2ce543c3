package analysis_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/finding"
)

// TestSafeTable holds which rewrites count as safe where the code around a line
// decides it: what a branch that is refused leads to, who calls, what counts on
// distances, what a block says. Those that are not safe have a '~' in front.
func TestSafeTable(t *testing.T) {
	var texts []string
	for _, c := range []struct{ name, src, want string }{
		{"carry through a loop that a cbnz closes", ".arch armv7-m|.syntax unified|.thumb|f: 1: adcs r3,r3|cbnz r2,1b|bx lr", "invert-branch+2 ~compare-branch+2"},
		{"no carry through it", ".arch armv7-m|.syntax unified|.thumb|f: 1: adds r3,#1|cbnz r2,1b|bx lr", "compare-branch+2 invert-branch+2"},
		{"carry behind it", ".arch armv7-m|.syntax unified|.thumb|f: 1: adds r3,#1|cbnz r2,1b|bcs f|bx lr", "invert-branch+2 ~compare-branch+2"},
		{"a flag for a caller of a global routine", ".arch armv4t|.syntax unified|.thumb|.global f|f: mov r0,#300|bx lr|g: bl f|beq h|h: bx lr", "~move-shift+2 ~move-add+2 literal-load+4"},
		{"a flag for a caller of a weak routine", ".arch armv4t|.syntax unified|.thumb|.weak f|f: mov r0,#300|bx lr|g: bl f|bcs h|h: bx lr", "~move-shift+2 ~move-add+2 literal-load+4 ~save-link+6"},
		{"a pop that returns does not run on", ".arch armv4t|.syntax unified|.thumb|f: pop {r4,r10,pc}|g: movs r2,#0|bx lr", "list-high+8"},
		{"a pop that does not return runs on", ".arch armv4t|.syntax unified|.thumb|f: pop {r4,r10}|g: movs r2,#0|bx lr", "list-high+4"},
		{"a pop that returns does not run into a pool", ".arch armv4t|.syntax unified|.thumb|ldr r3,=0x12345678|f: pop {r4,r10,pc}|.ltorg|bx lr", "list-high+8"},
		{"the address of Thumb code by adr in A32", ".arch armv4t|.syntax unified|.arm|adr r0,main|bx r0|.thumb|.align 2|main: bx lr", "set-state-bit+0"},
		{"a stack pointer between words", ".arch armv4t|.syntax unified|.thumb|sub sp,#10|bx lr", "~round-stack+0"},
		{"a stack pointer between words, back", ".arch armv4t|.syntax unified|.thumb|add sp,#10|bx lr", "~round-stack+0"},
		{"a stack pointer in two steps", ".arch armv4t|.syntax unified|.thumb|sub sp,sp,#600|bx lr", "two-adds+2"},
		{"over a branch by a distance back", ".arch armv4t|.syntax unified|.thumb|f: nop|adds r0,#300|b .-6|bx lr", "~two-adds+2 ~constant-register+12"},
		{"over a branch by a distance ahead", ".arch armv4t|.syntax unified|.thumb|f: beq .+8|adds r0,#300|nop|nop|bx lr", "~two-adds+2 ~constant-register+10"},
		{"over a branch to a label and a distance", ".arch armv4t|.syntax unified|.thumb|b f+8|f: adds r0,#300|nop|nop|nop|bx lr", "~two-adds+2 ~constant-register+12"},
		{"over a load by a distance from pc", ".arch armv4t|.syntax unified|.thumb|f: ldr r1,[pc,#4]|adds r0,#300|bx lr|nop|nop|.word 1", "~two-adds+2 ~constant-register+10"},
		{"in a row of steps behind add pc", ".arch armv4t|.syntax unified|.thumb|f: add pc,r2|adds r0,#300|b g|adds r0,#3|b g|g: bx lr", "~two-adds+2 ~constant-register+12"},
		{"in a row of steps behind a conditional add pc", ".arch armv7-a|.syntax unified|.arm|f: addls pc,pc,r0,lsl #3|b h|add r0,r1,#0x12300|b h|mov r0,#1|b h|h: bx lr", "~two-adds+4 ~constant-register+8"},
		{"behind a copy of pc for a return", ".arch armv7-a|.syntax unified|.arm|f: mov lr,pc|ldr pc,[r1,#5000]|bx lr", ""},
		{"the line's own words, not the block's pattern", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|itt ge|movge r0,#1|bx lr", "it-close+0 ~it-condition+0"},
		{"the line's own words, and one behind", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|itt ge|movge r0,#1|mov r1,#2|bx lr", "~it-condition-2 ~it-close+0"},
		{"an IT line for one line", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|it ge|mov r0,#1|bx lr", "~it-condition-2 ~it-close-2"},
		{"an IT line for a return", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|it ge|bx lr|mov r0,#1|bx lr", "~it-condition+0 ~it-close-2"},
		{"an IT line for a return, in capitals", ".arch armv7-m|.syntax unified|.thumb|CMP R0,R1|IT GE|BX LR|MOV R0,#1|BX LR", "~it-condition+0 ~it-close-2"},
		{"another way to go", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|ite ge|movge r0,r2|mov r0,r3|bx lr", "~it-condition+0 ~it-close+0"},
		{"another way to go by a return", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|ite ge|movge r0,r2|bx lr|mov r0,r1|bx lr", "~it-condition+0 ~it-close+0"},
		{"a call", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|itt ge|movge r0,r2|bl f|bx lr", "it-close+0 ~it-condition+0"},
		{"a comparison", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|itt ge|movge r0,r2|cmp r0,#3|bx lr", "it-close+0 ~it-condition+0"},
		{"registers saved", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|itt ge|movge r0,r2|push {r4,lr}|pop {r4,pc}", "it-close+0 ~it-condition+0"},
		{"a label", ".arch armv7-m|.syntax unified|.thumb|cmp r0,r1|itt ge|movge r0,r2|f: mov r0,r3|b f", "it-close+0 ~it-condition+0"},
		{"in a loop that never ends", ".arch armv4t|.syntax unified|.thumb|f: str r0,[r1,#200]|mov r0,sp|subs r0,#1|mov sp,r0|b f", "offset-register+2 address-first+4"},
		{"in a table of bytes by labels", ".arch armv7-a|.syntax unified|.thumb|tbb [pc,r0]|t: .byte (a-t)/2,(b-t)/2|a: adds r0,r1,#0x12300|bx lr|b: bx lr", "two-adds+6 constant-register+8"},
		{"in a table of bytes by numbers", ".arch armv7-a|.syntax unified|.thumb|tbb [pc,r0]|t: .byte 1,4|a: adds r0,r1,#0x12300|bx lr|b: bx lr", "~two-adds+6 ~constant-register+8"},
		{"a call of A32 code from Thumb code, back by bx", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: bx lr", "call-exchange+0"},
		{"a call of A32 code from Thumb code, back by a pop of pc", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: push {lr}|pop {pc}", "call-exchange+0"},
		{"a call of A32 code from Thumb code, back by a move to pc", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: mov pc,lr", "~call-exchange+0 ~return-by-bx+0"},
		{"a call of A32 code from Thumb code, back by bx behind a branch", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: cmp r0,#1|beq h|bx lr|h: bx lr", "call-exchange+0"},
		{"a call of A32 code from Thumb code, back by bx, or by a move to pc", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: cmp r0,#1|beq h|bx lr|h: mov pc,lr", "~call-exchange+0 ~return-by-bx+0"},
		{"a call of A32 code from Thumb code, which goes on in another file", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: b elsewhere", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, which goes where a register says", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: bx r3", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, which stops", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: udf #0", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, back by bx, or elsewhere", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: cmp r0,#1|beq elsewhere|bx lr", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, which runs off its end", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: nop", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, back after a loop", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: nop|h: subs r0,r0,#1|bne h|bx lr", "call-exchange+0"},
		{"a call of A32 code from Thumb code, back through another routine", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: b h|h: bx lr", "call-exchange+0"},
		{"a call of A32 code from Thumb code, which may go where a register says", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: cmp r0,#1|bxeq r3|bx lr", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, which may go where a word says", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: cmp r0,#1|ldreq pc,[r3]|bx lr", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, which goes where a word says", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: ldr pc,[r3]", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, which may stop", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: cmp r0,#1|beq h|bx lr|h: udf #0", "~call-exchange+0"},
		{"a call of A32 code from Thumb code, with a table on its way", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: addls pc,pc,r0,lsl #2|b h|b h|b h|h: bx lr", "call-exchange+0"},
		{"a call of A32 code from Thumb code, that jumps by a sum", ".arch armv5te|.syntax unified|.thumb|push {lr}|bl f|pop {pc}|.arm|f: add pc,pc,r3|bx lr", "~call-exchange+0"},
		{"a constant that two sums of bytes hold", ".arch armv4t|.syntax unified|.thumb|movs r0,#510|bx lr", "move-shift+2 move-add+2 literal-load+4"},
		{"a constant that they do not hold", ".arch armv4t|.syntax unified|.thumb|movs r0,#511|bx lr", "literal-load+4"},
	} {
		text := lines(c.src)
		t.Run(c.name, func(t *testing.T) {
			r := (program{text: text}).analyze(t)
			var got []string
			for _, a := range r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)}) {
				mark := ""
				if !a.Safe {
					mark = "~"
				}
				offer := fmt.Sprintf("%s%s%+d", mark, a.Rewrite, a.Bytes)
				if len(got) == 0 || got[len(got)-1] != offer { // two that do the same
					got = append(got, offer)
				}
				checkPromise(t, r, text, a)
				if c := finding.ByCode(a.Code); c.Severity == finding.Error { // else another line may be refused still
					texts = append(texts, rewritten(text, a))
				}
			}
			if s := strings.Join(got, " "); s != c.want {
				t.Errorf("offered %q, want %q", s, c.want)
			}
		})
	}
	t.Run("reference", func(t *testing.T) { assembles(t, texts) })
}
