package analysis_test

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// analyzed is a program of one file.
func analyzed(t *testing.T, path, text string) *analysis.Result {
	t.Helper()
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: path, File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestFolds holds what can be folded, by lines from 1, comments with a 'c'.
func TestFolds(t *testing.T) {
	for _, tt := range []struct{ path, text, want string }{
		{"a.s", "@ one|@ two|nop|@ alone", "1-2c"},
		{"a.s", "/* one|two */|nop", "1-2c"},
		{"a.s", ".macro m|nop|.endm|nop", "1-3"},
		{"a.s", ".rept 2|.if 1|nop|.else|nop|.endif|.endr", "1-7 2-3 4-6"},
		{"a.s", ".if 1|.elseif 2|nop|.endif", "2-4"},
		{"a.s", ".if 1|nop", ""},
		{"a.s", ".endif|.endm|nop", ""},
		{"a.s", ".macro m|.if 1|.endm|nop", "1-3"},
		{"a.s", "points:|nop|bx lr||@ the next one|signals:|nop", "1-3 6-7"},
		{"a.s", "points: nop|signals: nop", ""},
		{"a.s", ".thumb|a: nop|bx lr|.balign 4|.arm|.global b|.type b, %function|b: nop|nop|.end", "2-3 8-9"},
		{"a.s", "a: nop|bx lr|.ltorg|.size a, . - a|.if 1|.thumb_func|b: nop|nop|.endif", "1-4 5-9 7-8"},
		{"a.s", "a: nop|.align 2|.word 1|.section .x|b: .word 1", "1-3"},
		{"a.S", "#define R(n) .global n; .thumb_func; n:|R(a)|nop|bx lr|R(b)|nop", "2-4 5-6"},
		{"a.s", "table: .word 1|.word 2|K = 1", "1-3"},
		{"a.S", "#ifdef POINTS|nop|#elif 1|nop|#else|nop|#endif", "1-2 3-4 5-7"},
		{"a.S", "# if 1|.if 1|#endif|.endif", "1-3"},
		{"a.s", "", ""},
	} {
		var got []string
		for _, f := range analyzed(t, tt.path, strings.ReplaceAll(tt.text, "|", "\n")).FoldsIn(tt.path) {
			s := fmt.Sprintf("%d-%d", f.First+1, f.Last+1)
			if f.Comment {
				s += "c"
			}
			got = append(got, s)
		}
		if s := strings.Join(got, " "); s != tt.want {
			t.Errorf("%q: %s, want %s", tt.text, s, tt.want)
		}
	}
}

// TestAround holds what is around a place, marked by '^', the smallest first.
func TestAround(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"f:|\tldr r^0, [r1, #4] @ lamp|\tbx lr", "r0¦ldr r0, [r1, #4]¦ldr r0, [r1, #4] @ lamp¦f:|\tldr r0, [r1, #4] @ lamp|\tbx lr"},
		{"f:|\tldr r0, [r1^, #4]|", "r1¦[r1, #4]¦ldr r0, [r1, #4]¦f:|\tldr r0, [r1, #4]¦f:|\tldr r0, [r1, #4]|"},
		{"nop; n^op", "nop¦nop; nop"},
		{"^", ""},
		{"|^|", "||"},
	} {
		text := strings.ReplaceAll(tt.text, "|", "\n")
		off := strings.IndexByte(text, '^')
		text = strings.Replace(text, "^", "", 1)
		var got []string
		for _, s := range analyzed(t, "a.s", text).Around("a.s")(off) {
			got = append(got, strings.ReplaceAll(text[s.Start:s.End], "\n", "|"))
		}
		if s := strings.Join(got, "¦"); s != tt.want {
			t.Errorf("%q: %s, want %s", tt.text, s, tt.want)
		}
	}
}

// What is around many places costs the look at the labels once, not for each of them: bytes are
// counted.
func TestAroundMany(t *testing.T) {
	var b strings.Builder
	for i := range 5_000 {
		fmt.Fprintf(&b, "lamp%d:\n\tnop; nop\n", i)
	}
	b.WriteString("\t.byte 1" + strings.Repeat(", 1", 20_000) + "\n")
	text := b.String()
	res := analyzed(t, "a.s", text)
	var was, now runtime.MemStats
	runtime.ReadMemStats(&was)
	around := res.Around("a.s")
	for i := range 5_000 {
		off := strings.Index(text[i*10:], "nop") + i*10
		if got := around(off); len(got) != 4 || text[got[2].Start:got[2].Start+4] != "lamp" {
			t.Fatalf("at %d: %v", off, got)
		}
	}
	for i := range 10_000 {
		if got := around(len(text) - 2 - 3*i); len(got) != 4 {
			t.Fatalf("in the long line: %v", got)
		}
	}
	runtime.ReadMemStats(&now)
	if n := now.TotalAlloc - was.TotalAlloc; n > 40<<20 {
		t.Errorf("%d MB", n>>20)
	}
}
