package analysis_test

import (
	"context"
	"fmt"
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
		for _, s := range analyzed(t, "a.s", text).Around("a.s", off) {
			got = append(got, strings.ReplaceAll(text[s.Start:s.End], "\n", "|"))
		}
		if s := strings.Join(got, "¦"); s != tt.want {
			t.Errorf("%q: %s, want %s", tt.text, s, tt.want)
		}
	}
}
