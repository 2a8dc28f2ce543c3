package analysis_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// oneByOne applies safe rewrites as a user would who asks at one finding after the other,
// the last first, and again until nothing is left.
func oneByOne(t *testing.T, text string) string {
	t.Helper()
	for changed := true; changed; {
		changed = false
		tried := map[string]bool{}
		for again := true; again; {
			again = false
			r := (program{text: text}).analyze(t)
			list := r.Each()
			for i := len(list) - 1; i >= 0 && !again; i-- {
				d := list[i]
				key := d.Code + "\x00" + text[d.Span.Start:]
				if d.Path != "box.s" || tried[key] {
					continue
				}
				tried[key] = true
				for _, a := range r.Actions(context.Background(), d.Span) {
					if a.Rewrite == "flag-spelling" && a.Preferred && !a.Safe {
						break // the author has to say what is meant
					}
					if a.Safe && a.Code == d.Code && a.Target == d.Span {
						text, again, changed = rewritten(text, a), true, true
						break
					}
				}
			}
		}
	}
	return text
}

// TestFixAllFlags holds what becomes of lines that can only set flags, where a branch below reads
// some: those of a comparison are kept, and else it is left to the author what is meant.
func TestFixAllFlags(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"1:|sub r2, #1|bne 1b|bx lr", ""},
		{"movs r3, #0|1:|ldrb r1, [r0]|adds r3, r1|sub r2, #1|bne 1b|bx lr", ""},
		{"adds r3, r1|1:|add r0, #1|sub r2, #1|bne 1b|bx lr", ""},
		{"and r0, r1|beq 1f|mov r0, #1|1:|bx lr", "and r0, r1|beq 1f|movs r0, #1|1:|bx lr"},
		{"subs r2, #1|mov r1, #7|beq 1f|adds r1, #1|1:|bx lr", ""},
		{"cmp r2, #4|add r1, #1|bne 1f|movs r1, #0|1:|movs r0, r1|bx lr", "cmp r2, #4|ldr r0, =1|add r1, r0|bne 1f|movs r1, #0|1:|movs r0, r1|bx lr"},
		{"tst r2, r3|add r1, #1|bne 1f|movs r1, #0|1:|movs r0, r1|bx lr", "tst r2, r3|ldr r0, =1|add r1, r0|bne 1f|movs r1, #0|1:|movs r0, r1|bx lr"},
		// The comparison has done its work at the first branch.
		{"1:|cmp r2, #4|beq 2f|sub r2, #1|bne 1b|2:|bx lr", ""},
		{"cmp r0, #4|1:|sub r2, #1|bne 1b|bx lr", ""},
		{"1:|ldrb r1, [r0]|sub r2, #1|cmp r1, #0|bne 1b|bx lr", "1:|ldrb r1, [r0]|subs r2, #1|cmp r1, #0|bne 1b|bx lr"},
	} {
		text := ".syntax unified\n.cpu cortex-m0\n.thumb\n.global lamp\n.thumb_func\nlamp:\n"
		before := text + strings.ReplaceAll(tt.text, "|", "\n") + "\n"
		want := before
		if tt.want != "" {
			want = text + strings.ReplaceAll(tt.want, "|", "\n") + "\n"
		}
		r := (program{text: before}).analyze(t)
		got := edited(before, r.SafeFixes(context.Background(), ""))
		if got != want {
			t.Errorf("%s\nbecomes\n%s\nwant\n%s", tt.text, got[len(text):], want[len(text):])
		}
	}
}

// TestFixAll holds that fixing all at once leaves as few findings as fixing one after the
// other does, and mostly gives the same text.
func TestFixAll(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	var texts []string
	if !testing.Short() { // it has a repetition that takes long
		b, err := os.ReadFile("../editors/demo/findings.s")
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, string(b))
	}
	for _, w := range analysis.Rewrites() {
		texts = append(texts, w.Before)
	}
	for _, c := range analysis.Checks() {
		texts = append(texts, c.Bad)
	}
	for i := range reftest.Count(1, 5, 60) {
		texts = append(texts, faulty(firmware.Text(uint64(i), 300), uint64(i), 10))
	}
	left := func(text string) int {
		return len((program{text: text}).analyze(t).Early())
	}
	same, all := 0, 0
	for _, text := range texts {
		r := (program{text: text}).analyze(t)
		want := oneByOne(t, text)
		got := edited(text, r.SafeFixes(context.Background(), ""))
		all++
		if got == want {
			same++
		} else if a, b := left(got), left(want); a > b {
			t.Errorf("%d findings are left, %d one by one:\n%s\nand one by one\n%s", a, b, got, want)
		} else {
			t.Logf("%d findings are left, %d one by one", a, b)
		}
		if e := analyzeText(t, syntax.Parse(got)).SafeFixes(context.Background(), ""); len(e) > 0 {
			t.Errorf("fixed twice")
		}
	}
	proof.Counted("fix-all: %d sources, %d as one by one", all, same)
	if same < all*9/10 {
		t.Errorf("only %d of %d are the same", same, all)
	}
}

// TestFixAllTogether holds that rewrites that go one by one and not together are not made
// together, and that those that have nothing to do with each other are.
func TestFixAllTogether(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		left       int // findings
	}{
		{"a branch over two that reaches one of them", "f: beq g|ldr r0, [r1, #200]|b g|h: ldr r0, [r1, #200]|bx lr|.space 246|g: bx lr", 1},
		{"a branch over two that reaches both", "f: beq g|ldr r0, [r1, #200]|b g|h: ldr r0, [r1, #200]|bx lr|.space 244|g: bx lr", 0},
		{"a branch over two that reaches none", "f: beq g|ldr r0, [r1, #200]|b g|h: ldr r0, [r1, #200]|bx lr|.space 248|g: bx lr", 2},
		{"fixed steps over two routines", "f: ldr r0, [r1, #200]|bx lr|add pc, r0|nop|g: ldr r0, [r1, #200]|bx lr|h: bx lr|.global h|k: ldr r0, [r1, #200]|bx lr", 2},
		{"a word off its place by one", "f: ldr r0, [r1, #200]|bx lr|w: .word 1|g: ldr r0, [r1, #200]|bx lr", 1},
		{"forty routines", strings.Repeat("1: ldr r0, [r1, #200]|bx lr|", 40), 0},
		{"forty in one routine", strings.Repeat("ldr r0, [r1, #200]|", 40) + "bx lr", 0},
		{"the marked address of a routine, off its place", ".thumb_func|f: bx lr|.byte 1|w: .word f|bx lr", 0},
	} {
		text := lines(u16 + c.text)
		r := (program{text: text}).analyze(t)
		text = edited(text, r.SafeFixes(context.Background(), ""))
		if n := len((program{text: text}).analyze(t).Early()); n != c.left {
			t.Errorf("%s: %d findings are left, want %d:\n%s", c.name, n, c.left, text)
		}
	}
}
