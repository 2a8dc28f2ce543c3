package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// TestEvidence holds which of the targets that build files name a source is taken for.
func TestEvidence(t *testing.T) {
	m0 := Evidence{Settings: Settings{CPU: "cortex-m0"}, File: "Makefile", Line: 2, Text: "-mcpu=cortex-m0"}
	m4 := Evidence{Settings: Settings{CPU: "cortex-m4", FPU: "fpv4-sp-d16"}, File: "../cmake/box.cmake", Text: "-mcpu=cortex-m4"}
	a9 := Evidence{Settings: Settings{CPU: "cortex-a9"}, File: "Makefile", Line: 7, Text: "-mcpu=cortex-a9"}
	thumb := ".syntax unified\n.thumb\n" + strings.Repeat("\tadds r0, r0, #1\n\tlsls r1, r0, #2\n\tldr r2, [r1, #4]\n", 10)
	wide := thumb + strings.Repeat("\tubfx r0, r1, #1, #2\n", 10)
	arm := ".syntax unified\n.arm\n" + strings.Repeat("\tadd r0, r0, r1, lsl #2\n\tldmia r1!, {r0, r2}\n", 10)
	for _, c := range []struct {
		name, text string
		told       []Evidence
		cpu, fpu   string
		syntax     string
		errors     int
	}{
		{"one, which the source agrees with", thumb, []Evidence{m0}, "cortex-m0", "", "", 0},
		{"a slip stays one", thumb + "\tubfx r0, r1, #1, #2\n", []Evidence{m0}, "cortex-m0", "", "", 1},
		{"two that both fit: the smaller", thumb, []Evidence{m4, m0}, "cortex-m0", "", "", 0},
		{"two, of which one fits", wide, []Evidence{m0, m4}, "cortex-m4", "fpv4-sp-d16", "", 0},
		{"A32 code is of no M profile", arm, []Evidence{m0, m4}, "", "", "", 0},
		{"but of another one", arm, []Evidence{m0, a9, m4}, "cortex-a9", "", "", 0},
		{"no mode and no syntax said", "\tmovs r0, #1\n\tmuls r0, r1, r0\n\tcbz r0, 1f\n1:\tbx lr\n", []Evidence{m4}, "cortex-m4", "fpv4-sp-d16", "unified", 0},
		{"directives win", ".cpu cortex-m3\n" + wide, []Evidence{m0}, "", "", "", 0},
		{"what nobody knows is passed over", thumb, []Evidence{{Settings: Settings{CPU: "signal-box"}}, m0}, "cortex-m0", "", "", 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := AnalyzeGuessing(context.Background(), &Input{Path: "box.s", File: syntax.Parse(c.text), Evidence: func() []Evidence { return c.told }})
			if err != nil {
				t.Fatal(err)
			}
			g := r.Guess()
			if g == nil {
				g = &Guess{}
			}
			if g.Settings.CPU != c.cpu || g.Settings.FPU != c.fpu || g.Settings.Syntax != c.syntax {
				t.Errorf("taken for %+v", g.Settings)
			}
			if got := errorsByLine(r); len(got) != c.errors {
				t.Errorf("errors: %v", got)
			}
			if c.cpu == "cortex-m0" && g.String() != "Taken for cortex-m0, because of -mcpu=cortex-m0 in line 3 of Makefile; set it by directives, or by the setting cpu." {
				t.Error(g)
			}
		})
	}
}

// TestGuessFromErrors holds that a source which refuses targets by #error is taken for one
// that it does not refuse.
func TestGuessFromErrors(t *testing.T) {
	for _, c := range []struct{ name, text, arch string }{
		{"for the baseline of ARMv8-M and later", "#if __ARM_ARCH >= 8\n\t.syntax unified\n\tsg\n\tbxns lr\n#else\n#error \"not for this one\"\n#endif\n", "armv8-m.base"},
		{"for T32", "#ifndef __thumb2__\n# error T32 only\n#else\n\tubfx r0, r1, #1, #2\n#endif\n", "armv7-m"},
		{"for nobody", "#error \"never\"\n", ""},
		{"one that is not met", "#if 0\n#error \"never\"\n#endif\n\tbx lr\n", ""},
	} {
		r, err := AnalyzeGuessing(context.Background(), &Input{Path: "box.S", File: syntax.Parse(c.text)})
		if err != nil {
			t.Fatal(err)
		}
		arch := ""
		if g := r.Guess(); g != nil {
			arch = g.Settings.Arch
			if g.Name != "#error" {
				t.Errorf("%s: %v", c.name, g)
			}
		}
		if arch != c.arch {
			t.Errorf("%s: taken for %q, want %q", c.name, arch, c.arch)
		}
	}
}
