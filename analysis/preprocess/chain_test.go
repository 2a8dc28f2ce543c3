package preprocess

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// TestChains holds that names which lead from one to the next are followed once, however
// often they are used: ten times the uses take no more than a few units each.
func TestChains(t *testing.T) {
	t.Parallel()
	n := reftest.Size(5_000, 20_000, 20_000)
	var names strings.Builder
	for i := range n {
		fmt.Fprintf(&names, "#define SIGNAL_%d SIGNAL_%d\n", i+1, i)
	}
	for _, tt := range []struct{ end, use, want string }{
		{"4", "\t.byte SIGNAL_%d\n", "\t.byte 4"},
		{"(r0 + 4)", "\t.byte SIGNAL_%d\n", "\t.byte (r0 + 4)"},
		{"", "\t.byte SIGNAL_%d\n", "\t.byte"},
		{"4", "\t.byte TWO(SIGNAL_%d)\n", "\t.byte 4, 4"},
		{"4", "#if SIGNAL_%d != 4\n#error 4\n#endif\n\t.byte 1\n", "\t.byte 1"},
	} {
		work := [2]int{}
		for k, uses := range []int{100, 1000} {
			text := "#define TWO(x) x, x\n#define SIGNAL_0 " + tt.end + "\n" + names.String()
			for i := range uses {
				text += fmt.Sprintf(tt.use, n-i)
			}
			u := Process(&Input{Path: "root.S", File: syntax.ParseAs(text, syntax.Dots)})
			if len(u.Problems) > 0 {
				t.Fatalf("%q: %q", tt.end, u.Problems[0].Message)
			}
			if got := u.File.Line(u.File.NumLines() - 2).Text; got != tt.want {
				t.Fatalf("%q: the last line is %q, want %q", tt.end, got, tt.want)
			}
			work[k] = u.Work
			if m := u.MacroAt(strings.Index(text, "SIGNAL_7 SIGNAL_6")); m == nil || len(u.Uses(m)) < 1 {
				t.Errorf("%q: SIGNAL_7 has no use", tt.end)
			}
		}
		if work[0] > 3*n || work[1]-work[0] > 900*50 {
			t.Errorf("%q: 100 uses take %d units, 1000 take %d", tt.end, work[0], work[1])
		}
	}
}

// TestDeepMacros holds that what a chain costs that has to be followed each time is
// bounded for all lines together, and said.
func TestDeepMacros(t *testing.T) {
	t.Parallel()
	for _, define := range reftest.Sample([]string{"#define A%d (A%d + 1)\n", "#define A%d(x) A%d(x)\n", "#define A%d A%d + A0\n"}, 3) {
		var text strings.Builder
		for i := range 20_000 {
			fmt.Fprintf(&text, define, i+1, i)
		}
		use := "\t.word A20000\n"
		if strings.Contains(define, "(x)") {
			use = "\t.word A20000(1)\n"
		}
		text.WriteString(strings.Repeat(use, 1000))
		u := Process(&Input{Path: "root.S", File: syntax.ParseAs(text.String(), syntax.Dots)})
		if u.Work > maxWork+maxLineWork {
			t.Errorf("%q takes %d units", define, u.Work)
		}
		said := false
		for _, p := range u.Problems {
			said = said || p.Kind == LimitReached
		}
		if !said {
			t.Errorf("%q: nobody says that the limit is reached", define)
		}
	}
}
