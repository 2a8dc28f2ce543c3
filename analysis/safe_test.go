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
