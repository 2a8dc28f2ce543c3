package analysis_test

import (
	"context"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

const u16 = ".syntax unified|.thumb|"

// TestOfferTable holds which rewrites are offered, in which order, at what cost, and
// which of them are safe: those that are not have a '~' in front.
func TestOfferTable(t *testing.T) {
	var texts []string
	for _, c := range []struct{ name, src, want string }{
		// Order: few bytes first, then those registered first.
		{"a shift before a sum before the pool", u16 + "f: movs r0,#300|bx lr", "move-shift+2 move-add+2 literal-load+4"},
		{"hexadecimal digits", u16 + "f: movs r0,#0xab00|bx lr", "move-shift+2 literal-load+4"},
		{"minus one by its inverse", u16 + "f: movs r0,#-1|bx lr", "move-invert+2 move-negate+2 literal-load+4"},
		{"minus five by its negative", u16 + "f: movs r0,#-5|bx lr", "move-negate+2 move-invert+2 literal-load+4"},
		{"only the pool", u16 + "f: movs r0,#0x12345678|bx lr", "literal-load+4"},
		{"two bytes before twelve", u16 + "f: adds r0,#300|bx lr", "two-adds+2 constant-register+12"},
		{"a dead register before a step there and back", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr", "offset-register+2 address-first+4"},
		{"a step there and back before a saved register", u16 + "f: str r0,[r1,#200]|bx lr", "address-first+4 offset-register+6"},
		{"nothing longer", u16 + "f: ldr r0,[r1],#4|bx lr", "step-base+0 step-base+2"},
		{"spelling first", u16 + "f: add r0,r1,#1|bx lr", "flag-spelling+0 move-then-add+2 constant-register+2"},
		{"by architecture", ".arch armv6|" + u16 + "f: ldrsb r0,[r1,#4]|bx lr", "extend-after+2 offset-register+2"},
		{"by an older architecture", u16 + "f: ldrsb r0,[r1,#4]|bx lr", "offset-register+2 extend-after+4"},
		{"a pool before two halves", ".arch armv7-a|" + u16 + "f: mov r0,#0x12345678|bx lr", "literal-load+4 move-halves+6"},
		{"two halves before a pool in A32", ".arch armv7-a|.syntax unified|.arm|f: mov r0,#0x12345678|bx lr", "move-halves+4 literal-load+4"},
		{"a block before a branch", ".arch armv7-a|" + u16 + "f: cmp r0,#0|moveq r1,#1|bx lr", "it-insert+2 skip-branch+4"},

		// Order: flags. One that changes what is alive comes after a safe one of
		// the same size, and after a longer one where the line sets flags on
		// purpose.
		{"a flag less, two bytes more", u16 + "f: mov r0,#300|bx r3", "~move-shift+2 ~move-add+2 literal-load+4"},
		{"a safe one of the same size first", u16 + "f: adds r0,r1,#20|bcs f|bx lr", "move-then-add+2 constant-register+2 ~two-adds+2"},
		{"a move that keeps what the line keeps", u16 + "f: movs r0,#300|bcs f|bx lr", "~move-shift+2 ~move-add+2 literal-load+6"},
		{"all of them change something", u16 + "f: movs r0,#300|bx r3", "~move-shift+2 ~move-add+2 ~literal-load+4"},

		{"a sum past flags that a branch needs", ".cpu cortex-m0|" + u16 + "f: cmp r0,#3|add r3,#5|beq f|bx lr", "~flag-spelling+0 constant-register+12"},
		{"a difference past them", ".cpu cortex-m0|" + u16 + "f: cmp r0,#3|sub r3,r3,#5|beq f|bx lr", "~flag-spelling+0 constant-register+12"},
		{"a large sum past them", ".cpu cortex-m0|" + u16 + "f: cmp r0,#3|add r3,#300|beq f|bx lr", "~two-adds+2 constant-register+12"},
		{"only C is needed", ".cpu cortex-m0|" + u16 + "f: cmp r0,#3|add r3,#5|bcs f|bx lr", "constant-register+6 ~flag-spelling+0"},
		{"an offset off its unit, out of reach", u16 + "f: ldr r0,[r1,#130]|bx lr", "~offset-register+2"},
		{"a halfword likewise", u16 + "f: ldrh r0,[r1,#65]|bx lr", "~offset-register+2"},
		{"a byte has no unit", u16 + "f: ldrb r0,[r1,#33]|bx lr", "offset-register+2"},

		// Order: names. One that keeps the author's name comes first.
		{"a name before a shift", u16 + ".equ LAMP,0x1000|f: movs r0,#LAMP|bx lr", "literal-load+4 move-shift+2"},
		{"no name before a shift", u16 + "f: movs r0,#0x1000|bx lr", "move-shift+2 literal-load+4"},
		{"a name and flags", u16 + ".equ LAMP,0x1000|f: mov r0,#LAMP|bx r3", "literal-load+4 ~move-shift+2"},
		{"a name in a sum", u16 + ".equ LAMP,300|f: movs r0,#LAMP|bx lr", "move-add+2 literal-load+4 move-shift+2"},
		{"a name in two steps", u16 + ".equ LAMP,400|f: adds r0,#LAMP|bx lr", "two-adds+2 constant-register+12"},

		// Refused: the result has a finding that was not there.
		{"data moves off its alignment", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|nop|w: .word 1", "address-first+4"},
		{"data that nobody names", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|nop|.word 1", "offset-register+2 address-first+4"},
		{"data that stays aligned", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|nop|w: .hword 1", "offset-register+2 address-first+4"},
		{"data that is off already", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|w: .word 1", "offset-register+2 address-first+4 align+2"},
		{"a branch over it reaches with four bytes more", u16 + "f: beq g|str r0,[r1,#200]|movs r2,#0|.space 248|g: cmp r0,#0|movs r2,#0|bx lr", "offset-register+2 ~address-first+4 offset-register+8"},
		{"a branch over it reaches with two bytes more", u16 + "f: beq g|str r0,[r1,#200]|movs r2,#0|.space 250|g: cmp r0,#0|movs r2,#0|bx lr", "offset-register+2 offset-register+6"},
		{"a branch over it reaches no further", u16 + "f: beq g|str r0,[r1,#200]|movs r2,#0|.space 252|g: cmp r0,#0|movs r2,#0|bx lr", ""},
		{"a branch back reaches with two bytes more", u16 + "g: str r0,[r1,#200]|movs r2,#0|.space 246|beq g|bx lr", "offset-register+2 offset-register+6"},
		{"a branch back reaches no further", u16 + "g: str r0,[r1,#200]|movs r2,#0|.space 248|beq g|bx lr", ""},
		{"a load over it reaches no further", u16 + "f: ldr r3,w|str r0,[r1,#200]|movs r2,#0|bx lr|.space 1016|.align 2|w: .word 1", ""},
		{"a load over it reaches by the padding", u16 + "f: ldr r3,w|str r0,[r1,#200]|movs r2,#0|bx lr|.space 1014|.align 2|w: .word 1", "offset-register+0"},
		{"a load over it reaches further", u16 + "f: ldr r3,w|str r0,[r1,#200]|movs r2,#0|bx lr|.space 1012|.align 2|w: .word 1", "offset-register+4 address-first+4"},

		// Refused: the finding stays, or another error comes of it.
		{"a name that is near, with an operand that does not fit", u16 + "f: mvoes r0,#300|bx lr", ""},
		{"a name that is near, with one that fits", u16 + "f: mvoes r0,#3|bx lr", "~near-name+2"},
		{"a name that is near, with its constant", u16 + "f: mvoe r0,#3|bx lr", "~near-name+2"},
		{"a mark that does not help", u16 + "f: ldr r0,=t|adds r0,#1|bx r0|.thumb_func|t: bx lr", ""},
		{"an exchange that the architecture lacks", u16 + "f: bl a|bx lr|.arm|.align 2|a: bx lr", ""},
		{"an exchange", ".arch armv5te|" + u16 + "f: bl a|bx lr|.arm|.align 2|a: bx lr", "call-exchange+0"},

		// A fallback only where the candidate before it fails.
		{"the pool at the end is near", u16 + "b f|.align 2|w: .word 7|f: ldr r0,w|bx lr", "~pool-copy+4 pool-address+8"},
		{"the pool at the end is far", u16 + "b f|.align 2|w: .word 7|f: ldr r0,w|bx lr|.space 1100", "~pool-copy+4 pool-address+8"},
		{"the pool at the end is far, and nothing stops", u16 + "b f|.align 2|w: .word 7|f: ldr r0,w|nop|.space 1100", "~pool-copy+6 pool-address+10"},
		{"an address from a near pool", u16 + "b f|.align 2|w: .word 7|f: adr r0,w|bx lr", "pool-address+4"},
		{"an address from a far pool", u16 + "b f|.align 2|w: .word 7|f: adr r0,w|bx lr|.space 1100", "pool-address+4"},

		// Cost: all sections, padding, shared literals.
		{"in a second section", u16 + ".text|nop|.section .ram,\"ax\"|f: str r0,[r1,#200]|movs r2,#0|bx lr", "offset-register+2 address-first+4"},
		{"in a section with another below", u16 + ".section .ram,\"ax\"|f: str r0,[r1,#200]|movs r2,#0|bx lr|.text|nop|.align 2|nop", "offset-register+2 address-first+4"},
		{"padding swallows it", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|.align 2|w: .word 1", "offset-register+0 address-first+4"},
		{"padding adds to it", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|nop|.align 2|w: .word 1", "offset-register+4 address-first+4"},
		{"much padding adds to it", u16 + "f: str r0,[r1,#200]|movs r2,#0|bx lr|nop|.align 3|w: .word 1", "offset-register+8 address-first+8"},
		{"a literal that is there already", u16 + "f: movs r0,#0x12345678|ldr r1,=0x12345678|bx lr", "literal-load+0"},
		{"the same literal in another section", u16 + ".section .ram,\"ax\"|f: movs r0,#0x12345678|bx lr|.text|ldr r1,=0x12345678|bx lr", "literal-load+4"},
		{"a pool placed behind a return", u16 + "f: ldr r0,=0x12345678|bx lr|.space 1100", "insert-pool+0"},
		{"a pool placed in the path", u16 + "f: ldr r0,=0x12345678|nop|.space 1100", "insert-pool+2"},
		{"a pool placed in the path, padded", u16 + "f: ldr r0,=0x12345678|nop|nop|.space 1100", "insert-pool+0"},
		{"code at an odd place", u16 + ".byte 1|nop|bx lr", "align+1"},
		{"a word at an odd place", ".byte 1|w: .word 1", "align+3"},

		// What other instruction sets say otherwise.
		{"a jump of another processor", u16 + "f: jmp g|g: bx lr", "~known-name+2"},
		{"a call of another processor", u16 + "f: call g|bx lr|g: bx lr", "~known-name+4"},
		{"a return of another processor", u16 + "f: ret", "~known-name+2"},
		{"a return with an operand", u16 + "f: ret #4|bx lr", ""},
		{"a label without a colon", u16 + "f: nop|loop|subs r0,r0,#1|bne loop|bx lr", "~add-colon+0"},
		{"a word that nothing names", u16 + "f: nop|lop|bx lr", "~near-name+2"},
		{"a register pushed by a store", u16 + "f: str lr,[sp,#-4]!|bl f|pop {pc}", "stack-word+0"},
		{"a register popped by a load", u16 + "f: push {r0}|ldr r0,[sp],#4|bx lr", "stack-word+0"},
		{"a word popped into pc", u16 + "f: push {lr}|ldr pc,[sp],#4", "stack-word+0"},
		{"a word taken from further up", u16 + "f: push {r0}|ldr r0,[sp],#8|bx lr", ""},
		{"the low byte", u16 + "f: ands r0,#0xff|bx lr", "extend-low+2 constant-register+6"},
		{"the low halfword of another register", ".arch armv6|" + u16 + "f: and r0,r1,#0xffff|bx lr", "extend-low+0 extend-low+2 constant-register+8"},
		{"the low byte, and the flags", ".arch armv6|" + u16 + "f: ands r0,#0xff|beq f|bx lr", "extend-low+2 ~extend-low+0 constant-register+6"},

		// Reach decides what is offered (the far branch of 2046 bytes ahead and
		// 2048 back, DDI 0406C, A8.8.18 "B", encoding T2).
		{"a far branch ahead that reaches", u16 + "f: beq g|.space 2046|g: bx lr", "invert-branch+2"},
		{"a far branch ahead that does not", u16 + "f: beq g|.space 2048|g: bx lr", "~invert-branch+4"},
		{"a far branch back that reaches", u16 + "g: .space 2042|beq g|bx lr", "invert-branch+2"},
		{"a far branch back that does not", u16 + "g: .space 2044|beq g|bx lr", "~invert-branch+4"},
		{"a branch that is no call", u16 + "f: b g|.space 3000|g: bx lr", "~far-call+2"},

		// Nothing to edit, or to keep without thought.
		{"in a macro", u16 + ".macro lamp|movs r0,#300|.endm|lamp|bx lr", ""},
		{"at an offset between words", u16 + "f: ldr r0,[r1,#6]|bx lr", "~offset-register+2 ~address-first+2"},
		{"high registers pushed", u16 + "f: push {r4-r11,lr}|bx lr", "list-high+22"},
		{"high registers pushed through a dead one", u16 + "f: push {r4,r8}|movs r0,#0|bx lr", "list-high+4"},
		{"an unsigned width is dropped", ".arch armv7-m|" + u16 + "f: ldr.n r0,[r1,#200]|bx lr", "drop-width+2 address-first+4 offset-register+4"},
	} {
		text := lines(c.src)
		t.Run(c.name, func(t *testing.T) {
			r := (program{text: text}).analyze(t)
			var got []string
			offers := r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)})
			for i, a := range offers {
				mark := ""
				if !a.Safe {
					mark = "~"
				}
				got = append(got, fmt.Sprintf("%s%s%+d", mark, a.Rewrite, a.Bytes))
				checkPromise(t, r, text, a)
				if first := i == 0 || a.Target != offers[i-1].Target; a.Preferred != first {
					t.Errorf("offer %d, preferred %v", i, a.Preferred)
				}
				if len(found(r, "box.s", text, analysis.Warning)) == 1 {
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

var sizeInTitle = regexp.MustCompile(`([+-]\d+) (?:bytes?|of padding)`)

// checkPromise analyses the result of an action: its finding is gone, no other error
// or warning has come, and the title has the size.
func checkPromise(t *testing.T, r *analysis.Result, text string, a analysis.Action) {
	t.Helper()
	runs := !slices.ContainsFunc(r.Early(), func(d analysis.Diagnostic) bool { return d.Code == a.Code && d.Span == a.Target })
	count := func(r *analysis.Result) map[string]int {
		n := map[string]int{}
		list := r.Early()
		if runs { // what goes wrong when it runs is looked for as well
			list = r.Each()
		}
		for _, d := range list {
			if d.Severity <= analysis.Warning || d.Code == a.Code {
				n[d.Code]++
			}
		}
		return n
	}
	after := rewritten(text, a)
	before, now := count(r), count((program{text: after}).analyze(t))
	if now[a.Code] >= before[a.Code] {
		t.Errorf("%s leaves its finding:\n%s", a.Title, after)
	}
	for code := range maps.Keys(now) {
		if now[code] > before[code] {
			t.Errorf("%s brings %s:\n%s", a.Title, code, after)
		}
	}
	says := 0 // in bytes of code and of padding
	for _, m := range sizeInTitle.FindAllStringSubmatch(a.Title, -1) {
		n, _ := strconv.Atoi(m[1])
		says += n
	}
	if says != a.Bytes || (says == 0) != strings.Contains(a.Title, "same size") && !strings.Contains(a.Title, "padding") {
		t.Errorf("%d bytes, and the title is %q", a.Bytes, a.Title)
	}
	if a.Safe && strings.Contains(a.Title, "changes") {
		t.Errorf("safe, and the title is %q", a.Title)
	}
}

// TestPromises holds what every offer promises, for the documented examples and for
// lines without an encoding in places where little may move.
func TestPromises(t *testing.T) {
	var sources []string
	for _, c := range analysis.Checks() {
		sources = append(sources, c.Bad)
	}
	for _, w := range analysis.Rewrites() {
		sources = append(sources, w.Before)
	}
	for _, line := range []string{"movs r0,#300", "adds r0,#300", "adds r0,r1,#20", "str r0,[r1,#200]", "cmp r0,#300", "subs r8,r8,#1", "push {r4,r8}",
		"lsls r0,r1,#33", "ldr r0,[r1],#4", "ldrb r0,[sp,#5]", "rors r0,r1,#3", "ldr r0,w", "adr r0,w", "b far+1"} {
		for _, around := range []string{
			"w: .word 7|f: ?|bx lr|x: .word 1|far: bx lr",
			"w: .word 7|f: ?|bx lr|nop|x: .word 1|far: bx lr",
			"w: .word 7|f: beq g|?|.space 248|g: bx lr|far: bx lr",
			"w: .word 7|g: ?|.space 246|bne g|bx lr|far: bx lr",
			"w: .word 7|f: ldr r3,x|?|bx lr|.space 1010|.align 2|x: .word 1|far: bx lr",
			"w: .word 7|f: ldr r3,=0x12345678|?|nop|.ltorg|bx lr|far: bx lr",
			"w: .word 7|f: ?|bx lr|.align 2|.arm|far: bx lr",
			"w: .word 7|f: adr r3,t|?|bx r3|.align 2|t: bx lr|far: bx lr",
		} {
			sources = append(sources, lines(u16+strings.Replace(around, "?", line, 1)))
		}
	}
	offers := 0
	for _, text := range sources {
		r := (program{text: text}).analyze(t)
		for _, a := range r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)}) {
			checkPromise(t, r, text, a)
			offers++
		}
	}
	if t.Logf("%d offers", offers); offers < 250 {
		t.Errorf("only %d offers", offers)
	}
}
