package analysis_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// verdict is a source with a fault, lines separated by "|", and whether one of the
// rewrites that it gets may be called safe.
type verdict struct {
	name, text string
	safe       bool
}

// offersOf gives the rewrites that a source gets under the default settings.
func offersOf(text string) []analysis.Action {
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.s", File: syntax.Parse(text)})
	if err != nil {
		panic(err)
	}
	return r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)})
}

// source makes lines of a text with "|" between them.
func source(text string) string { return strings.ReplaceAll(text, "|", "\n") + "\n" }

// testVerdicts holds that a rewrite that puts in the text by is offered for each
// source, and that one of those is safe, or none is.
func testVerdicts(t *testing.T, head, by string, list []verdict) {
	t.Helper()
	for _, v := range list {
		text := source(head + v.text)
		offers := slices.DeleteFunc(offersOf(text), func(a analysis.Action) bool {
			return !slices.ContainsFunc(a.Edits, func(e analysis.Edit) bool { return strings.Contains(e.New, by) })
		})
		if len(offers) == 0 {
			t.Errorf("%s: nothing is offered", v.name)
		}
		safe := ""
		for _, a := range offers {
			if a.Safe {
				safe += "\n\t" + a.Rewrite + ": " + a.Title
			}
		}
		if v.safe && safe == "" {
			t.Errorf("%s: nothing is safe; the first offer is %s", v.name, offers[0].Title)
		} else if !v.safe && safe != "" {
			t.Errorf("%s: safe:%s", v.name, safe)
		}
	}
}

const (
	headM0 = ".cpu cortex-m0|.syntax unified|.thumb|"
	headM3 = ".cpu cortex-m3|.syntax unified|.thumb|"
	headV4 = ".cpu arm7tdmi|.syntax unified|.thumb|"
	headA  = ".arch armv7-a|.syntax unified|.arm|"
)

// TestSafeAtTargets holds that what the target of a refused branch reads is not
// changed by a rewrite that is called safe.
func TestSafeAtTargets(t *testing.T) {
	testVerdicts(t, headM3, "cmp", []verdict{
		{"the loop carries C", "f:|1: adcs r0, r1|nop|cbnz r2, 1b|movs r3, #0|bx lr", false},
		{"the target reads N", "f:|1: bmi 2f|movs r3, #1|cbz r2, 1b|movs r3, #0|2: bx lr", false},
		{"the target reads C behind a move that keeps it", "f:|1: movs r5, #0|adcs r0, r5|cbz r2, 1b|bx lr", false},
		{"ahead and out of reach, with a high register", "f: cbz r8, 1f|cmp r0, #1|bx lr|1: bcs f|bx lr", false},
		{"in a block of conditions", "f:|1: it cs|movcs r0, #1|cbz r2, 1b|movs r3, #0|bx lr", false},
		{"the target is in another section", "f: cbz r8, g|bx lr|.section .text.g,\"ax\"|g: bcs g|bx lr", false},
		{"the target compares", "f:|1: cmp r0, #0|beq 2f|cbnz r2, 1b|2: bx lr", true},
		{"to itself", "f: cbz r0, f|bx lr", true},
		{"the loop adds and sets the flags anew", "f:|1: adds r0, r1|subs r2, #1|cbnz r2, 1b|movs r0, #1|bx lr", true},
		{"ahead, to a return", "f: cbz r8, 1f|nop|1: bx lr", true},
	})
}

// TestSafeAtReturns holds that flags are kept that a routine, seen by other files or
// not, hands to a caller in its file.
func TestSafeAtReturns(t *testing.T) {
	testVerdicts(t, headM0, "movs r0, #200", []verdict{
		{"a global routine", ".global f|f: ldr r0, [r1, #200]|bx lr|main: push {lr}|bl f|beq 1f|nop|1: pop {pc}", false},
		{"a weak routine", ".weak f|f: ldr r0, [r1, #200]|bx lr|main: push {lr}|bl f|beq 1f|nop|1: pop {pc}", false},
		{"by a pop", ".global f|f: push {r4, lr}|ldr r0, [r1, #200]|pop {r4, pc}|main: push {lr}|bl f|bne 1f|nop|1: pop {pc}", false},
		{"through a tail call", ".global f, g|g: ldr r0, [r1, #200]|bx lr|f: b g|main: push {lr}|bl f|bne 1f|nop|1: pop {pc}", false},
		{"through a chain of calls", ".global f, g|g: ldr r0, [r1, #200]|bx lr|f: push {lr}|bl g|pop {pc}|main: push {lr}|bl f|bne 1f|nop|1: pop {pc}", false},
		{"behind a call through a register", ".global f|f: ldr r0, [r1, #200]|bx lr|main: push {lr}|ldr r3, =f|blx r3|bne 1f|nop|1: pop {pc}", false},
		{"in another section", ".global f|f: ldr r0, [r1, #200]|bx lr|.section .text.m,\"ax\"|main: push {lr}|bl f|bmi 1f|nop|1: pop {pc}", false},
		{"handed to a global routine", ".global f, g|f: ldr r0, [r1, #200]|bl g|bx lr|g: beq 1f|nop|1: bx lr", false},
		{"handed through a global routine", ".global f, g|f: push {lr}|ldr r0, [r1, #200]|bl g|bne f|pop {pc}|g: mov r0, r8|bx lr", false},
		{"nobody asks", ".global f|f: ldr r0, [r1, #200]|bx lr|main: push {lr}|bl f|cmp r0, #1|bne 1f|nop|1: pop {pc}", true},
		{"nobody calls", ".global f|f: ldr r0, [r1, #200]|bx lr", true},
		{"a call of another file", ".global f|f: ldr r0, [r1, #200]|bx lr|main: push {lr}|bl other|bne 1f|nop|1: pop {pc}|.extern other", true},
		{"a global routine that sets them", ".global f, g|f: push {lr}|ldr r0, [r1, #200]|bl g|pop {pc}|g: cmp r0, #1|bne 1f|nop|1: bx lr", true},
	})
	testVerdicts(t, headA, "adds r0, r0, ", []verdict{
		{"lr by hand", ".global f|f: adds r0, r1, #0x12300|bx lr|main: ldr r3, =f|mov lr, pc|mov pc, r3|bcs main|mov r0, #0|b main", false},
		{"lr by hand, and nobody asks", ".global f|f: adds r0, r1, #0x12300|bx lr|main: ldr r3, =f|mov lr, pc|mov pc, r3|cmp r0, #0|bcs main|mov r0, #0|b main", true},
	})
}

// TestSafeAtWaysOut holds that nothing counts as dead because of lines into which a
// refused line that writes PC does not run on.
func TestSafeAtWaysOut(t *testing.T) {
	const next = "|g: movs r0, #0|movs r1, #0|movs r2, #0|movs r3, #0|movs r5, #0|movs r6, #0|movs r7, #0|bx lr"
	for _, c := range []struct{ name, head, text string }{
		{"pop", headM0, "f: pop {r4, r10, pc}"},
		{"pop, without low registers", headM0, "f: pop {r10, r11, pc}"},
		{"pop of many", headV4, "f: pop {r4-r7, r9, pc}"},
		{"ldr", headM3, "f: ldr pc, [r0, #5000]"},
		{"ldr with an index", headM3, "f: ldr pc, [r0, r1, lsl #5]"},
		{"ldr in A32", headA, "f: ldr pc, [r0, #5000]"},
		{"ldr backwards", headA, "f: ldr pc, [r0, #-5000]"},
		{"add", headA, "f: add pc, r0, #0x12345"},
		{"mov", headA, "f: mov pc, #0x12345"},
		{"ldm", headV4, "f: ldmia sp!, {r4, r9, pc}"},
	} {
		for _, a := range offersOf(source(c.head + c.text + next)) {
			if strings.Contains(a.Title, "dead here") {
				t.Errorf("%s: %s", c.name, a.Title)
			}
		}
	}
	// A line of the same kind that runs on, and one that does so on a condition.
	for _, c := range []struct {
		name, head, text string
		dead             bool
	}{
		{"a pop without pc", headM0, "f: pop {r4, r10}", true},
		{"on a condition, and needed elsewhere", headA, "f: ldrne pc, [r0, #5000]", false},
		{"a push", headM0, "f: push {r4, r10, lr}", true},
	} {
		dead := false
		for _, a := range offersOf(source(c.head + c.text + next)) {
			dead = dead || strings.Contains(a.Title, "dead here")
		}
		if dead != c.dead {
			t.Errorf("%s: a dead register %v", c.name, dead)
		}
	}
}

// safeOf says whether any rewrite of a name, or of any where that is empty, is safe,
// and whether there is one.
func safeOf(text, name string) (safe, offered bool) {
	for _, a := range offersOf(text) {
		if name == "" || a.Rewrite == name {
			offered = true
			safe = safe || a.Safe
		}
	}
	return safe, offered
}

// TestSafeStack holds that the stack pointer is never moved by a step that is no
// multiple of 4.
func TestSafeStack(t *testing.T) {
	for _, c := range []struct{ head, text, want string }{
		{headM0, "sub sp, #10", "sub sp, #12"},
		{headM0, "add sp, #10", "add sp, #12"},
		{headM0, "sub sp, sp, #1", "sub sp, sp, #4"},
		{headM0, "add sp, sp, #0x1e", "add sp, sp, #0x20"},
		{headM0, "add sp, #-6", "sub sp, #8"},
		{headV4, "sub sp, #507", "sub sp, #508"},
		{headM0, "add sp, sp, #0xfffffffa", "sub sp, sp, #8"},
		{headM0, "sub sp, #0xfffffffe", "add sp, #4"},
		{headV4, "add sp, #4294967044+2", "sub sp, #252"},
		{headM0, "sub sp, #1022", ""},
		{headM0, "sub r13, #10", "sub r13, #12"},
		{headA, "sub sp, sp, #0x12346", ""},
		{headM3, "str r0, [sp, #-0x12346]!", ""},
		{headM0, "sub sp, #1024", "safe"},
		{headA, "sub sp, sp, #0x12344", "safe"},
		{headM0, "adds r0, r1, #10", "safe"},
	} {
		text := source(c.head + c.text + "|bx lr")
		safe, _ := safeOf(text, "")
		if safe != (c.want == "safe") {
			t.Errorf("%s: safe %v", c.text, safe)
		}
		if c.want == "" || c.want == "safe" {
			continue
		}
		if a := offersOf(text); len(a) != 1 || a[0].Edits[0].New != c.want || !strings.Contains(a[0].Title, "next multiple of 4") {
			t.Errorf("%s: %+v", c.text, a)
		}
	}
}

// TestSafeBlocks holds that no line gets a condition that it does not name and is
// called safe.
func TestSafeBlocks(t *testing.T) {
	for _, c := range []struct {
		text, name string
		safe       bool
	}{
		{"cmp r0, r1|itt ge|movge r0, r1|bx lr", "it-condition", false},
		{"cmp r0, r1|ite eq|moveq r0, r1|mov r0, r2|bx lr", "it-condition", false},
		{"cmp r0, r1|it eq|mov r0, r2|bx lr", "it-condition", false},
		{"cmp r0, r1|it eq|movne r0, r2|bx lr", "it-condition", false},
		{"cmp r0, r1|itt cs|movcs r0, r2|adds r0, #1|bx lr", "it-condition", false},
		{"cmp r0, r1|ittt lt|movlt r0, r2|ldr r0, [r1]|movlt r2, r3|bx lr", "it-condition", false},
		{"cmp r0, r1|moveq r0, r2|bx lr", "it-insert", true},
		{"cmp r0, r1|itt eq|moveq r0, r1|cbz r0, 1f|nop|1: bx lr", "it-close", true},
	} {
		if safe, offered := safeOf(source(headM3+c.text), c.name); safe != c.safe || !offered {
			t.Errorf("%s: %s offered %v, safe %v", c.text, c.name, offered, safe)
		}
	}
}

// TestSafeStateBit holds what is said and offered about bit 0 of an address: ADR of A32
// code never sets it, nor does the mark of a label that has no name for the linker; and
// an address that has other uses is not changed unasked.
func TestSafeStateBit(t *testing.T) {
	const mark, set = "mark-function", "set-state-bit"
	for _, c := range []struct {
		text, name    string
		offered, safe bool
	}{
		{".arm|adr r0, t|bx r0|.thumb|.align 2|t: bx lr", mark, false, false},
		{".arm|adr r0, t|bx r0|.thumb|.align 2|t: bx lr", set, true, true},
		{".arm|adr r0, t|bx r0|.thumb|.align 2|.thumb_func|t: bx lr", set, true, true},
		{".arm|adrl r0, t|bx r0|.thumb|.align 2|t: bx lr", mark, false, false},
		{".thumb|t: bx lr|.arm|.align 2|adr r0, t|bx r0", mark, false, false},
		{".arm|adr r0, t|mov r1, r0|bx r1|.thumb|.align 2|.type t, %function|t: bx lr", mark, false, false},
		{".thumb|ldr r0, =.Lt|bx r0|.Lt: bx lr", mark, false, false},
		{".thumb|ldr r0, =1f|bx r0|1: bx lr", mark, false, false},
		{".thumb|ldr r0, =.Lt|bx r0|.thumb_func|.Lt: bx lr", set, true, true},
		{".thumb|ldr r0, =.Lt|bx r0|.Lt: bx lr", set, true, true},
		{".thumb|adr r0, t|bx r0|.align 2|t: bx lr", mark, false, false},
		{".thumb|ldr r0, =t|bx r0|t: bx lr", mark, true, true},
		{".thumb|ldr r0, =t|bx r0|t: bx lr", set, true, true},
		{".thumb|ldr r0, =t|bx r0|t: bx lr|.word t", mark, true, false},
		{".thumb|ldr r0, =t|bx r0|t: bx lr|ldr r1, =t+4", mark, true, false},
		{".thumb|.global t|ldr r0, =t|bx r0|t: bx lr", mark, true, false},
		{".thumb|ldr r0, =t|ldr r1, [r0]|bx r0|t: bx lr", set, true, false},
		{".thumb|ldr r0, =t|ldr r1, [r0]|bx r0|t: bx lr", mark, true, false},
		{".thumb|ldr r0, =t|bx r0|t: ldr r1, [r0, #4]|bx lr", set, true, false},
		{".thumb|ldr r0, w|bx r0|.align 2|w: .word t|t: bx lr", set, true, false},
		{".thumb|ldr r0, =t|bx r0|t: movs r0, #0|b t", mark, true, true},
	} {
		safe, offered := safeOf(source(".cpu arm7tdmi|.syntax unified|"+c.text), c.name)
		if safe != c.safe || offered != c.offered {
			t.Errorf("%s: %s offered %v, safe %v", c.text, c.name, offered, safe)
		}
	}
	// An address that has its 1 already: what is written then, "" where nothing is offered.
	for _, c := range []struct{ text, want string }{
		{".thumb|ldr r0, =t+1|adds r0, #1|bx r0|t: bx lr", "ldr r0, =t"},
		{".thumb|ldr r0, =(t + 1)|adds r0, #1|bx r0|t: bx lr", "ldr r0, =(t)"},
		{".thumb|ldr r0, =(t)+1|adds r0, #1|bx r0|t: bx lr", "ldr r0, =(t)"},
		{".thumb|ldr r0, =1+t|adds r0, #1|bx r0|t: bx lr", "ldr r0, =t"},
		{".thumb|ldr r0, =1 + (t)|adds r0, #1|bx r0|t: bx lr", "ldr r0, =(t)"},
		{".thumb|ldr r0, =t+1+2|adds r0, #1|bx r0|t: nop|bx lr", "ldr r0, =t+2"},
		{".thumb|ldr r0, =t+1-2|adds r0, #1|bx r0|nop|t: bx lr", "ldr r0, =t-2"},
		{".thumb|ldr r0, =t /* T16 */ + 1|adds r0, #1|bx r0|t: bx lr", "ldr r0, =t /* T16 */"},
		{".thumb|ldr r0, =t+3|adds r0, #1|bx r0|t: nop|bx lr", ""},
		{".thumb|.equ u, t+1|ldr r0, =u|adds r0, #1|bx r0|t: bx lr", ""},
		{".thumb|ldr r0, =u|adds r0, #1|bx r0|t: bx lr|.equ u, t+1", ""},
		{".thumb|ldr r0, =t+1|subs r0, #1|bx r0|t: bx lr", ""},
		{".thumb|ldr r0, =t+1|adds r0, #3|bx r0|t: nop|bx lr", ""},
		{".thumb|ldr r0, w|adds r0, #1|bx r0|.align 2|w: .word 0, t+1|t: bx lr", ""},
		{".thumb|ldr r0, w|adds r0, #1|bx r0|.align 2|w: .word t+1|t: bx lr", "w: .word t"},
		{".thumb|ldr r0, =t|adds r0, #2|bx r0|t: nop|bx lr", "ldr r0, =t+1"},
		{".arm|ldr r0, =t+1|bx r0|t: bx lr", "ldr r0, =t"},
		{".arm|ldr r0, =1+t|bx r0|t: bx lr", "ldr r0, =t"},
		{".arm|ldr r0, =(t + 1)|bx r0|t: bx lr", "ldr r0, =(t)"},
		{".arm|ldr r0, w|bx r0|w: .word (t) + 1 /* x */|t: bx lr", "w: .word (t) /* x */"},
		{".arm|ldr r0, =u|bx r0|t: bx lr|.equ u, t+1", ""},
		{".arm|ldr r0, =t|add r0, r0, #1|bx r0|t: bx lr", ""},
	} {
		text := source(".cpu arm7tdmi|.syntax unified|" + c.text)
		done := ""
		for _, a := range offersOf(text) {
			if a.Rewrite != "mark-function" {
				done += rewritten(text, a)
			}
			// An address that moves is none to keep without thought.
			if odd := strings.Contains(c.text, "dds r0") && strings.Contains(c.text, "+1"); odd && a.Safe {
				t.Errorf("%s: %s is safe", c.text, a.Title)
			}
		}
		if c.want == "" != (done == "") || c.want != "" && !strings.Contains(done, c.want+"\n") {
			t.Errorf("%s: offered %q", c.text, done)
		}
	}
	for _, c := range []struct {
		text string
		safe bool
	}{
		{"bx lr", true}, {"pop {pc}", true}, {"mov pc, lr", false}, {"b g", false}, {"bxne lr|mov pc, lr", false}, {"ldr pc, [sp], #4", true},
	} {
		if safe, offered := safeOf(source(".cpu arm926ej-s|.syntax unified|.thumb|bl g|bx lr|.arm|g: nop|"+c.text), "call-exchange"); safe != c.safe || !offered {
			t.Errorf("call-exchange, %s: offered %v, safe %v", c.text, offered, safe)
		}
	}
}

// TestSafeDistances holds that no rewrite is safe that moves code under what counts on
// distances, and that what does not count on them costs nothing.
func TestSafeDistances(t *testing.T) {
	for _, c := range []struct {
		name, head, text string
		safe             bool
	}{
		// T16: the line with 200 becomes two instructions.
		{"back over it by .", headV4, "nop|ldr r0, [r1, #200]|bne .-4|bx lr", false},
		{"back to it by .", headV4, "ldr r0, [r1, #200]|bne .-2|bx lr", false},
		{"ahead over it by .", headV4, "cmp r0, #1|beq .+6|ldr r0, [r1, #200]|nop|bx lr", false},
		{"past a label", headV4, "f: b f+6|nop|ldr r0, [r1, #200]|nop|bx lr", false},
		{"by a literal past a label", headV4, "f: ldr r1, =f+8|ldr r0, [r1, #200]|nop|nop|movs r2, #0|bx lr", false},
		{"by a word past a label", headV4, "f: ldr r0, [r1, #200]|nop|nop|movs r2, #0|bx lr|.align 2|.word f+4", false},
		{"by a name for a place past a label", headV4, ".equ k, f+4|f: ldr r0, [r1, #200]|nop|nop|movs r2, #0|bx lr", false},
		{"a load from pc", headV4, "ldr r2, [pc, #4]|ldr r0, [r1, #200]|bx lr|nop|.word 7", false},
		{"a sum from pc", headV4, "add r2, pc, #4|ldr r0, [r1, #200]|bx lr|nop|.word 7", false},
		{"steps behind a sum to pc", headV4, "add pc, r0|nop|ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps behind mov to pc", headV4, "adr r2, s|adds r2, r2, r0|mov pc, r2|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps behind a push and a pop", headV4, "adr r2, s|lsls r0, r0, #2|adds r2, r2, r0|push {r2}|pop {pc}|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps behind a pop of more", headV4, "adr r2, s|adds r2, r2, r0|push {r2}|push {r1}|pop {r0, pc}|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps behind a slot of a list", headV4, "adr r2, s|adds r2, r2, r0|push {r0, r1}|str r2, [sp, #4]|pop {r0, pc}|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps behind a slot and a step", headV4, "adr r2, s|adds r2, r2, r0|sub sp, #8|str r2, [sp, #4]|add sp, #4|pop {pc}|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps behind lists in A32", headA, "ldr r2, =s|add r2, r2, r3, lsl #3|stmfd sp!, {r1, r2}|ldmfd sp!, {r4, pc}|s: add r0, r1, #0x12300|bx lr|mov r0, #1|bx lr", false},
		{"steps behind a load off the stack", headA, "ldr r2, =s|add r2, r2, r3, lsl #3|str r2, [sp, #-4]!|ldr pc, [sp], #4|s: add r0, r1, #0x12300|bx lr|mov r0, #1|bx lr", false},
		{"a return by a pop", headV4, "push {r4, lr}|adds r4, r0, r1|str r4, [r2]|pop {r4, pc}|s: ldr r0, [r1, #200]|bx lr", true},
		{"a sum beside the return address", headV4, "push {r4, lr}|sub sp, #8|adds r4, r0, r1|str r4, [sp, #4]|add sp, #8|pop {r4, pc}|s: ldr r0, [r1, #200]|bx lr", true},
		{"a sum pushed and a return", headV4, "adds r4, r0, r1|push {r4, lr}|movs r0, #1|pop {r4, pc}|s: ldr r0, [r1, #200]|bx lr", true},
		{"the address of a routine by a pop", headV4, "ldr r2, =s+1|push {r2}|pop {pc}|s: ldr r0, [r1, #200]|bx lr", true},
		{"steps behind bx", headV4, "adr r2, s|lsls r0, r0, #2|adds r2, r2, r0|bx r2|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"steps of a difference", headV4, "adr r2, a|movs r3, #(b-a)|muls r3, r0|adds r2, r3|bx r2|.align 2|a: ldr r0, [r1, #200]|bx lr|b: movs r0, #1|bx lr", false},
		{"steps and the bit of T16 code", headV4, "ldr r2, =s|adds r2, r2, r0|adds r2, #1|bx r2|.align 2|s: ldr r0, [r1, #200]|bx lr|movs r0, #1|bx lr", false},
		{"a sum in front of the line", headV4, "adr r2, s|adds r2, r2, r0|ldr r0, [r1, #200]|mov pc, r2|nop|.align 2|s: nop|bx lr", false},
		{"a sum of a constant", headV4, "adr r2, s|adds r2, #4|mov pc, r2|.align 2|s: ldr r0, [r1, #200]|nop|bx lr", false},
		{"shifted in A32", headA, "ldr r2, =s|add r2, r2, r3, lsl #3|bx r2|s: add r0, r1, #0x12300|bx lr|mov r0, #1|bx lr", false},
		{"a table of branches", headV4, "add pc, r0|nop|b a|b c|a: ldr r0, [r1, #200]|bx lr|c: bx lr", false},
		{"a pool among branches", headV4, "ldr r2, =0x12345678|add pc, r0|nop|b a|.space 980|b c|b a|a: bx lr|c: bx lr|.space 100", false},
		{"a pool behind a branch", headV4, "ldr r2, =0x12345678|b a|.space 980|a: bx lr|c: bx lr|.space 100", true},
		{"numbers of tbb", headM3, "tbb [pc, r0]|.byte 1, 3|movs r0, #0x1234|bx lr|movs r0, #1|bx lr", false},
		{"steps in A32", headA, "cmp r0, #3|addls pc, pc, r0, lsl #3|b e|add r0, r1, #0x12300|b e|mov r0, #1|b e|e: bx lr", false},
		{"a relocation at an offset", headV4, "f: ldr r0, [r1, #200]|nop|nop|.reloc 6, R_ARM_NONE, g|bx lr", false},
		{"a relocation at a label", headV4, "f: ldr r0, [r1, #200]|nop|h: nop|.reloc h, R_ARM_NONE, g|bx lr", true},
		{"a condition that asks for its size", headV4, "f: ldr r0, [r1, #200]|.if (. - f) > 2|movs r2, #1|.else|movs r2, #2|.endif|bx lr", false},
		{"a repetition up to a size", headV4, "f: ldr r0, [r1, #200]|.rept (16 - (. - f)) / 2|nop|.endr|bx lr", false},
		{"a macro that asks for its place", headV4, ".macro even|.if (. - f) & 3|nop|.else|movs r2, #9|.endif|.endm|f: ldr r0, [r1, #200]|even|bx lr", false},
		{"a condition on other code", headV4, "f: movs r2, #0|.if (. - f) > 0|movs r2, #1|.endif|ldr r0, [r1, #200]|bx lr", true},
		{"the instruction that bx pc goes over", headV4, "cmp r0, #1|bne 1f|1: .align 2|bx pc|ldrsb r0, [r1, #3]|.arm|mov r0, #1|bx lr", false},
		{"lr by pc", headA, "mov lr, pc|add r0, r1, #0x12300|bx r3|bx lr", false},
		{"a load from pc in A32", headA, "ldr r2, [pc, #4]|add r0, r1, #0x12300|bx lr|.word 7", false},
		{"from its own place", headV4, "cmp r0, #0|bne .+600|bx lr|.space 700", false},
		{"in front of all that counts", headV4, "ldr r0, [r1, #200]|nop|1: nop|cmp r0, #1|bne .-4|bx lr", true},
		{"behind all that counts", headV4, "nop|cmp r0, #1|bne .-4|ldr r0, [r1, #200]|bx lr", true},
		{"labels", headV4, "1: nop|ldr r0, [r1, #200]|cmp r0, #1|bne 1b|bx lr", true},
		{"a difference of labels", headV4, "a: ldr r0, [r1, #200]|movs r2, #(b-a)|bx lr|b: nop", true},
		{"a size", headV4, "a: ldr r0, [r1, #200]|bx lr|.size a, .-a", true},
		{"a literal of a label", headV4, "ldr r0, [r1, #200]|ldr r2, =t|bx lr|.align 2|t: .word 1", true},
		{"a place in a table", headV4, "ldr r0, [r1, #200]|ldr r2, =t+4|bx lr|.align 2|t: .word 1, 2", true},
		{"addresses for tbb", headM3, "tbb [pc, r0]|s: .byte (a-s)/2, (c-s)/2|a: mov r0, #0x12345|bx lr|c: movs r0, #1|bx lr", true},
		{"a table of addresses", headA, "add r0, r1, #0x12300|ldr pc, [r2, r0, lsl #2]|t: .word a|a: bx lr", true},
		{"a return", headA, "add r0, r1, #0x12300|mov pc, lr|nop", true},
		{"an address with its bit", headV4, "ldr r0, [r1, #200]|ldr r3, =t|adds r3, #1|bx r3|t: bx lr", true},
		{"a pointer", headV4, "ldr r0, [r1, #200]|ldr r3, [r2]|bx r3", true},
		{"another routine's steps", headV4, ".global f, g|f: ldr r0, [r1, #200]|bx lr|g: add pc, r0|nop|bx lr|movs r0, #1|bx lr", true},
	} {
		if safe, offered := safeOf(source(c.head+c.text), ""); safe != c.safe || !offered {
			t.Errorf("%s: offered %v, safe %v", c.name, offered, safe)
			for _, a := range offersOf(source(c.head + c.text)) {
				t.Log(a.Safe, a.Rewrite, a.Title)
			}
		}
	}
}

// TestSafePush holds that a register is saved by a push without asking only where r13
// is the stack pointer and nothing lies below it.
func TestSafePush(t *testing.T) {
	for _, c := range []struct {
		name, head, text string
		safe             bool
	}{
		{"a sum of bytes", headA, "add sp, sp, #1", false},
		{"a product", headA, "mul r13, r0, r1", false},
		{"a mask", headA, "eor r1, r1, r13", false},
		{"a counter", headA, "subs r13, r13, #1", false},
		{"a pointer that goes up", headA, "strb r0, [r13], #1", false},
		{"a list that goes up", headA, "stmia r13!, {r0, r1}", false},
		{"below it", headA, "str r0, [sp, #-8]", false},
		{"a copy by number", headA, "mov r13, r0", false},
		{"loaded among others", headA, "ldmia r0, {r1, r13}", false},
		{"a frame", headA, "push {r4, lr}|sub sp, sp, #8|str r0, [sp, #4]|ldr r0, [sp]|add sp, sp, #8|pop {r4, lr}", true},
		{"a frame by number", headA, "stmfd r13!, {r4, lr}|sub r13, r13, #8|str r0, [r13, #4]|add r13, r13, #8|ldmfd r13!, {r4, lr}", true},
		{"pushed one by one", headA, "str lr, [sp, #-4]!|ldr lr, [sp], #4", true},
		{"an address in the frame", headA, "add r0, sp, #4|mov r1, sp", true},
		{"aligned", headA, "mov r4, sp|bic sp, sp, #7|mov sp, r4", true},
		{"set up", headA, "ldr sp, =0x20001000", true},
	} {
		text := source(c.head + c.text + "|g: str r0, [r1, #0x1234]|bx lr")
		saved, safe := false, false
		for _, a := range offersOf(text) {
			if strings.Contains(a.Title, "saving") {
				saved = true
				safe = safe || a.Safe
			}
		}
		if !saved || safe != c.safe {
			t.Errorf("%s: a register is saved %v, safe %v", c.name, saved, safe)
		}
	}
}

// TestRewritesKeepComments holds that a rewrite leaves every comment in the text, once.
func TestRewritesKeepComments(t *testing.T) {
	for _, line := range []string{
		"adds r0, #300 /* A */",
		"adds r0, #300 /* A */ ",
		"adds r0, #300 /* A */ /* B */",
		"adds r0, #300 /* A */ @ B",
		"adds r0, /* A */ #300 @ B",
		"adds /* A */ r0, r1, /* B */ #300 // C",
		"ldr r0, [r1, #200] /* A */ /* B */",
		"ldr /* A */ r0, [r1, #200] @ B",
		"nop; adds r0, #300 /* A */",
		"adds r0, #300 /* A */; nop /* B */",
		"/* A */ adds r0, #300 @ B",
		"l: /* A */ adds r0, #300 /* B */",
		"beq /* A */ far /* B */ @ C",
		"movs r0, /* A */ #0x1234 /* B */",
		"subs r8, /* A */ r8, #1 @ B",
		"adr /* A */ r3, t /* B */|bx r3",
		"ldr r3, =t /* A */|bx r3 @ B",
		"add r0, /* A */ r1, r2 @ B",
	} {
		text := source(headV4 + line + "|movs r1, #0|bx lr|.align 2|t: bx lr|.space 300|far: bx lr")
		offers := offersOf(text)
		if len(offers) == 0 {
			t.Errorf("%s: nothing is offered", line)
		}
		for _, a := range offers {
			after := text
			for i := len(a.Edits) - 1; i >= 0; i-- {
				e := a.Edits[i]
				after = after[:e.Span.Start] + e.New + after[e.Span.End:]
			}
			for _, mark := range []string{"A", "B", "C"} {
				for _, open := range []string{"/* ", "@ ", "// "} {
					if strings.Count(after, open+mark) != strings.Count(text, open+mark) {
						t.Errorf("%s: %s: comment %s\n%s", line, a.Title, mark, after)
					}
				}
			}
		}
	}
}

// TestSafeStackUnset holds that no register is saved, and that is called safe, where the
// stack pointer is still to be set up.
func TestSafeStackUnset(t *testing.T) {
	const far = "str r0, [r1, #0x1234]"
	for _, c := range []struct {
		name, head, text string
		safe             bool
	}{
		{"from the pool", headA, far + "|ldr sp, =0x20001000|b f|f: bx r2", false},
		{"from a register", headA, far + "|mov sp, r4|b f|f: bx r2", false},
		{"further on", headA, far + "|cmp r3, #0|b k|.skip 8|k: mov sp, r5|bx r2", false},
		{"on both ways", headA, far + "|beq k|mov sp, r4|bx r2|k: mov sp, r5|bx r2", false},
		{"in T16", headV4, "str r0, [r1, #0x90]|mov sp, r4|bx r2", false},
		{"after a routine that uses it", headA, "g: push {r4, lr}|pop {r4, pc}|reset: " + far + "|ldr sp, =0x20001000|b f|f: bx r2", false},
		{"on one way", headA, far + "|beq k|mov sp, r4|bx r2|k: push {r5}|bx r2", true},
		{"set up above", headA, "ldr sp, =0x20001000|" + far + "|bx r2", true},
		{"set up above, and again", headA, "ldr sp, =0x20001000|" + far + "|ldr sp, =0x20002000|bx r2", true},
		{"a frame", headA, "push {r4, lr}|mov r4, sp|sub sp, sp, #64|" + far + "|mov sp, r4|pop {r4, pc}", true},
		{"never", headA, far + "|bx r2", true},
	} {
		saved, safe := false, false
		for _, a := range offersOf(source(c.head + c.text)) {
			if strings.Contains(a.Title, "saving") {
				saved = true
				safe = safe || a.Safe
			}
		}
		if !saved || safe != c.safe {
			t.Errorf("%s: a register is saved %v, safe %v", c.name, saved, safe)
		}
	}
}
