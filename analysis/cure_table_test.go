package analysis_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

// TestCureTable holds that a rewrite is offered where its own finding goes and no other
// comes: names of the rewrites and pieces of the text after them, with & between. What
// was there and not said is no new one, and a finding that goes elsewhere makes up for
// none.
func TestCureTable(t *testing.T) {
	for _, c := range []struct{ name, src, want string }{
		// Said for the first time, and there before.
		{"two names in one constant", t16 + ".equ lamp,1|.equ point,2|movs r0,#lmap+pont|bx lr", "near-name movs r0,#lamp+pont"},
		{"the second name then", t16 + ".equ lamp,1|.equ point,2|movs r0,#lamp+pont|bx lr", "near-name movs r0,#lamp+point&address-load ldr r0,=lamp+pont"},
		{"two names in a directive", ".equ lamp,1|.equ point,2|.space lmap,pont", "near-name .space lamp,pont"},
		{"a name in each of two statements", ".equ lamp,1|.equ point,2|.space lmap; .space pont", "near-name .space lamp; .space pont&near-name .space lmap; .space point"},
		{"offsets that were not known", ".equ lamp,1|.space lmap|w: .word 1", "near-name .space lamp"},
		{"code at odd places, twice", t16 + ".byte 1|nop|.p2align 2|.byte 1|nop", "align .align 1|nop|.p2align 2&align .align 1|nop"},
		// There all the same.
		{"a mark that cures another line", ".arch armv5te|.syntax unified|.arm|ldr r1,=t|adr r2,t|blx r1|x: adr r2,t|bx r2|.thumb|.align 2|t: bx lr", "set-state-bit ldr r1,=t+1&mark-function .thumb_func|t:&set-state-bit adr r2,t+1|bx r2"},
		{"words of a table of jumps", ".cpu cortex-m0|.syntax unified|.thumb|f: lsls r0,r0,#2|ldr r1,=t|ldr r1,[r1,r0]|bx r1|g: bx lr|.ltorg|.section .rodata|.balign 4|t: .word g+1,g", "mark-function .thumb_func|g:&set-state-bit t: .word g+1,g+1"},
		{"a colon that cures another word", "m b=1 c=2", "add-colon m: b=1 c=2"},
		{"a block that ends after the line", ".cpu cortex-m3|.syntax unified|.thumb|cmp r0,#1|ite al|mov r0,r1|mov r0,r1|bx lr", "it-close #1|mov r0,r1&it-close it al"},
		// A branch of A32 code to T16 code is of another state first, and misaligned second.
		{"a call that would be misaligned", ".cpu arm7tdmi|.syntax unified|.arm|f: bl t|bx lr|.thumb|nop|t: bx lr", "mark-function .thumb_func|t:"},
		{"a branch that would be", ".cpu arm7tdmi|.syntax unified|.arm|f: bne t|bx lr|.thumb|nop|t: bx lr", "mark-function .thumb_func|t:"},
		{"a call that would not", ".cpu arm7tdmi|.syntax unified|.arm|f: bl t|bx lr|.thumb|t: bx lr", "mark-function .thumb_func|t:"},
		{"data in the way", ".syntax unified|.arm|f: b t|.byte 1,2|t: bx lr", "align .align 2|t:&align .align 2|t:"},
		{"an address by an addition to PC", t16 + "add r0,pc,#t|bx lr|.align 2|t: .word 1", "address-load adr r0,t"},
		{"the same in A32", ".syntax unified|.arm|add r3,pc,#t+4|bx lr|t: .word 1,2", "address-load adr r3,t+4"},
		{"a label where a constant is needed", t16 + "lamps: movs r0,#LAMPS|bx lr", "address-load ldr r0,=LAMPS"},
		{"a constant", t16 + ".equ lamps,4|movs r0,#LAMPS|bx lr", "near-name movs r0,#lamps&address-load ldr r0,=LAMPS"},
		// New, whatever else goes.
		{"code that was even", t16 + ".byte 1|nop|.byte 1|nop", ""},
		{"code of a later line that was even", t16 + ".byte 1|nop|.byte 1|nop|.byte 1|nop|.p2align 2", "align nop|.byte 1|.align 1|nop|.p2align"},
		{"data that was aligned, for other data", t16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|x: .word 1|.hword 1|y: .word 1", "address-first subs r1,#200"},
		{"data that was aligned", t16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|.hword 1|y: .word 1", "address-first subs r1,#200"},
		{"a branch that reached", t16 + "bne h|beq g|.space 254|h: nop|.space 20|g: bx lr", ""},
		{"a branch that reached with a byte less", t16 + "g: nop|.space 20|h: nop|.space 248|beq g|bne h|bx lr", ""},
		{"a branch that did not reach either", t16 + "bne h|beq g|.space 256|h: nop|.space 20|g: bx lr", "invert-branch beq 1f|b h&invert-branch bne h|bne 1f"},
		{"another error in the line", t16 + "mvoes r0,#300|bx lr", ""},
	} {
		text := lines(c.src)
		t.Run(c.name, func(t *testing.T) {
			r := (program{text: text}).analyze(t)
			var got []string
			for _, a := range r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)}) {
				got = append(got, a.Rewrite+" "+strings.ReplaceAll(rewritten(text, a), "\n", "|"))
			}
			var want []string
			if c.want != "" {
				want = strings.Split(c.want, "&")
			}
			same := slices.EqualFunc(got, want, func(got, want string) bool {
				name, part, _ := strings.Cut(want, " ")
				return strings.HasPrefix(got, name+" ") && strings.Contains(got, part)
			})
			if !same {
				t.Errorf("offered %q, want %q", got, want)
			}
		})
	}
}
