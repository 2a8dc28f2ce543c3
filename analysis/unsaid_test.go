package analysis

import (
	"context"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// TestUnsaid holds that headers which are for C and the assembler are read as the latter where
// nothing says with which macros a source is assembled, and not otherwise.
func TestUnsaid(t *testing.T) {
	const header = "#ifndef BOX_H\n#define BOX_H\n#ifndef __ASSEMBLY__\nextern void lamp_on(int number);\n#else\n#define ENTRY(x) .global x; x:\n#endif\n#endif\n"
	for _, c := range []struct {
		before string
		set    *Settings
		right  bool
	}{
		{"", nil, true}, {"#define __ASSEMBLY__\n", nil, true}, {"", &Settings{CPU: "cortex-a7"}, false}, {"", &Settings{Defines: []string{"X"}}, false},
		{"", &Settings{CPU: "cortex-a7", Defines: []string{"__ASSEMBLY__"}}, true}, {"", &Settings{Guess: "never"}, false},
	} {
		in := &Input{Path: "box.S", File: syntax.Parse(c.before + "#include \"box.h\"\nENTRY(go)\n\tbx lr\n"), Set: c.set}
		in.Load = func(w Wanted) (string, *syntax.File, bool) {
			return "box.h", syntax.Parse(header), w.Name == "box.h"
		}
		r, err := AnalyzeGuessing(context.Background(), in)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, d := range r.Each() {
			if d.Severity <= finding.Warning {
				n++
			}
		}
		if (n == 0) != c.right {
			t.Errorf("%q with %+v: %v", c.before, c.set, r.Each())
		}
	}
}

// TestLackingValue holds that a sum with a name that a missing header may define is not said
// to be wrong, and that one without is.
func TestLackingValue(t *testing.T) {
	const code = "\t.arm\nf:\tadr r0, f + BOX_BITS\n\tadr r1, f + f\n"
	for _, c := range []struct {
		before string
		want   int
	}{{"#include \"box.h\"\n", 1}, {"", 2}} {
		r, err := Analyze(context.Background(), &Input{Path: "box.S", File: syntax.Parse(c.before + code)})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, d := range r.Each() {
			if d.Severity == finding.Error && d.Code != finding.CodeInclude {
				n++
			}
		}
		if n != c.want {
			t.Errorf("%q: %d errors, want %d: %v", c.before, n, c.want, r.Each())
		}
	}
}
