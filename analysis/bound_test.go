package analysis_test

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

// What ends the expansion of macros and repetitions is what the finding says: the statements that
// they make, the work without many of them, or how long one text is.
func TestWhichBound(t *testing.T) {
	var skipped strings.Builder // a macro whose lines count and make nothing
	skipped.WriteString(".macro lamps\n.if 0\n")
	for range 5000 {
		skipped.WriteString("nop\n")
	}
	skipped.WriteString(".endif\n.endm\n")
	for _, tt := range []struct{ name, text, want string }{
		{"statements of a repetition", ".rept 600000\n.byte 1\n.byte 2\n.endr\n", "more than 400000 statements"},
		{"statements of calls", ".macro lamps\n" + strings.Repeat("nop\n", 1000) + ".endm\n" + strings.Repeat("lamps\n", 450), "more than 400000 statements"},
		{"work of repetitions in each other", ".rept 800\n.rept 800\nnop\n.endr\n.endr\n", "more work than 1000000 lines"},
		{"work without statements", skipped.String() + strings.Repeat("lamps\n", 450), "more work than 1000000 lines"},
		{"work of conditions", ".rept 300000\n.if 0\nnop\nnop\n.endif\n.endr\n", "more work than 1000000 lines"},
		{"one text", ".macro lamps a\n" + strings.Repeat(".ascii \"\\a\"\n", 2000) + ".endm\nlamps " + strings.Repeat("x", 10_000) + "\n", "more than 16 MB of text"},
		{"a list", ".irp a, " + strings.Repeat("1, ", 30_000) + "1\n.ascii \"" + strings.Repeat("x", 1000) + "\"\n.endr\n", "more than 16 MB of text"},
	} {
		var got []string
		for _, d := range analyzed(t, "a.s", "\t.syntax unified\n\t.thumb\n"+tt.text).Diagnostics() {
			if d.Code == analysis.CodeTooLarge || d.Code == "macro-size" {
				got = append(got, d.Message)
			}
		}
		if len(got) != 1 || !strings.Contains(got[0], tt.want) || !strings.HasSuffix(got[0], "; nothing is expanded from this line on.") {
			t.Errorf("%s: %q, want %q", tt.name, fmt.Sprint(got), tt.want)
		}
	}
}
