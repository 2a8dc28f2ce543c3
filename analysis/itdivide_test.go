package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// TestFullBlock checks the rewrites of lines in IT blocks that have no room for
// another instruction: the block ends before or after the line, and another one
// takes the rest.
func TestFullBlock(t *testing.T) {
	for _, c := range []struct{ name, before, after string }{
		{"move-halves", "ittee eq|moveq r0, #1|moveq r1, #0x12345678|movne r2, #2|movne r3, #3",
			"it eq|moveq r0, #1|ittee eq|movweq r1, #0x5678|movteq r1, #0x1234|movne r2, #2|movne r3, #3"},
		{"move-halves", "itett eq|moveq r0, #0x12345678|movne r1, #2|moveq r2, #2|moveq r3, #2",
			"itt eq|movweq r0, #0x5678|movteq r0, #0x1234|itee ne|movne r1, #2|moveq r2, #2|moveq r3, #2"},
		{"move-halves", "ITTTT   HI|LDRHI   R1, [R0]|LDRHI   R2, [R0]|STRHI   R1, [R2]|MOVHI   R4, #0x12345678",
			"ITTT    HI|LDRHI   R1, [R0]|LDRHI   R2, [R0]|STRHI   R1, [R2]|ITT     HI|MOVWHI  R4, #0x5678|MOVTHI  R4, #0x1234"},
		{"two-adds", "ittet lo|movlo r0, #1|addlo r1, r1, #0x12345|movhs r2, #2|bxlo lr",
			"it lo|movlo r0, #1|ittet lo|addlo r1, r1, #0x12000|addwlo r1, r1, #0x345|movhs r2, #2|bxlo lr"},
		{"two-adds", "ittt eq|moveq r0, #1|addeq r1, r1, #0x12345|moveq r2, #2",
			"itttt eq|moveq r0, #1|addeq r1, r1, #0x12000|addweq r1, r1, #0x345|moveq r2, #2"},
		// More than two blocks are too many.
		{"list-high", "itttt eq|moveq r0, #1|ldreq r1, [r2, #-4000]|moveq r2, #2|moveq r3, #3", ""},
	} {
		head := ".cpu cortex-m3\n.syntax unified\n.thumb\n\tcmp r0, #1\n"
		text := head + "\t" + strings.ReplaceAll(c.before, "|", "\n\t") + "\n\tbx lr\n"
		want := head + "\t" + strings.ReplaceAll(c.after, "|", "\n\t") + "\n\tbx lr\n"
		found := false
		r := analyze(t, nil, text)
		for _, a := range r.Actions(context.Background(), finding.Span{Start: len(head), End: len(text)}) {
			if a.Rewrite == c.name {
				found = true
				if got := apply(text, a.Edits); got != want {
					t.Errorf("%s: %s\n%swant\n%s", c.before, a.Title, got, want)
				}
			}
		}
		if found != (c.after != "") {
			t.Errorf("%s: offered %v", c.before, found)
		}
		// As it is typed, lines of the block are not there yet, or it ends early: nothing
		// is divided that is not known whole.
		lines := strings.Split(c.before, "|")
		for n := 2; n < len(lines); n++ {
			for _, end := range []string{"", "\n", "\n\t.data\n\t.word 1\n"} {
				text := head + "\t" + strings.Join(lines[:n], "\n\t") + end
				for _, a := range analyze(t, nil, text).Actions(context.Background(), finding.Span{Start: len(head), End: len(text)}) {
					if after := apply(text, a.Edits); a.Rewrite == c.name && strings.Count(strings.ToLower(after), "\tit") > strings.Count(strings.ToLower(text), "\tit") {
						t.Errorf("%q is divided: %q", text, after)
					}
				}
			}
		}
	}
}
