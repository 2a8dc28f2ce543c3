package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// TestGuessAsDirectives writes what was guessed into the source: nothing is guessed then, and
// the same is assembled.
func TestGuessAsDirectives(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		evidence   []Evidence
		want       string // what the source begins with then; empty: nothing is offered
	}{
		{"an M core by its registers", "\tmrs r0, basepri\n\tcbz r0, 1f\n\tmsr basepri, r0\n1:\tbx lr\n", nil, "\t.arch armv7-m\n\t.thumb\n"},
		{"A32 by its instructions", "\trev r0, r1\n\tuxtb r0, r1\n\tbx lr\n", nil, "\t.arch armv6\n"},
		{"with extensions", "\t.syntax unified\n\tpldw [r0]\n\tbx lr\n", nil, "\t.arch armv7-a\n\t.arch_extension mp\n\t.arch_extension sec\n"},
		{"a build file", "\t.syntax unified\n\t.thumb\n\tcpsid i\n\tbx lr\n", []Evidence{{Settings: Settings{CPU: "cortex-m0"}, File: "Makefile", Text: "-mcpu=cortex-m0"}}, "\t.cpu cortex-m0\n\t.syntax"},
		{"what directives cannot say", "\t.syntax unified\n\t.thumb\n\tcmp r0, #0\n\taddeq.w r0, r0, #1\n\tbx lr\n", []Evidence{{Settings: Settings{CPU: "cortex-m3", ImplicitIT: "thumb"}, File: "Makefile", Text: "-mcpu=cortex-m3"}}, ""},
		{"a statement of two lines", "\tmrs r0, basepri\n\tcbz r0, 1f\n\tmovs r0, /* which\n lamp */ #1\n\tmsr basepri, r0\n1:\tbx lr\n", nil, "\t.arch armv7-m\n\t.thumb\n"},
		{"columns", "\tAREA code, CODE\n\tTHUMB\n\tMSR BASEPRI, r0\n\tBX lr\n\tEND\n", nil, ""},
		{"the preprocessor", "#if __ARM_ARCH >= 7\n#define DELAY nop\n#else\n#error too old\n#endif\n\tDELAY\n", nil, ""},
	} {
		in := &Input{Path: "box.s", File: syntax.Parse(c.text), Evidence: func() []Evidence { return c.evidence }}
		r, err := AnalyzeGuessing(context.Background(), in)
		if err != nil || r.Guess() == nil {
			t.Errorf("%s: nothing guessed, %v", c.name, err)
			continue
		}
		var offer []finding.Edit
		for _, a := range r.Actions(context.Background(), Span{}) {
			if a.Rewrite == "target-directive" {
				offer = a.Edits
				if a.Safe {
					t.Errorf("%s: safe", c.name)
				}
			}
		}
		after := apply(c.text, offer)
		switch {
		case c.want == "" && offer != nil, c.want != "" && !strings.HasPrefix(after, c.want):
			t.Errorf("%s: becomes\n%s", c.name, after)
		}
		if offer == nil {
			continue
		}
		said := *in
		said.File = syntax.Parse(after)
		now, err := AnalyzeGuessing(context.Background(), &said)
		if err != nil || now.Guess() != nil {
			t.Errorf("%s: guessed still, %v", c.name, err)
		}
		if a, b := codes(r), codes(now); a != b {
			t.Errorf("%s: %s becomes %s", c.name, a, b)
		}
		if len(r.SafeFixes(context.Background(), "")) > 0 {
			t.Errorf("%s: written unasked", c.name)
		}
	}
}

// codes are the codes of all instructions of a program, in order.
func codes(r *Result) string {
	var b strings.Builder
	for i := range r.prog.Items {
		if it := &r.prog.Items[i]; it.Match.Form != nil {
			b.WriteString(it.Match.Form.Row.ID + " " + it.Match.Form.Row.Layout(it.Match.Encode()) + "; ")
		}
	}
	return b.String()
}

// TestGuessGivesWay: what was guessed before a directive was written counts no more.
func TestGuessGivesWay(t *testing.T) {
	t.Parallel()
	const text = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tudiv r0, r0, r1\n"
	guess := &Guess{Settings: Settings{Arch: "armv7-m"}, Name: "udiv", Line: 3}
	r, err := Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text), Guess: guess})
	if err != nil || r.Guess() != nil || len(r.Diagnostics()) != 1 || r.Diagnostics()[0].Severity != Error {
		t.Errorf("%v: %v", err, r.Diagnostics())
	}
	for _, halfway := range []string{"\t.cpu\n", "\t.cpu cort\n", ""} {
		text := strings.Replace(text, "\t.cpu cortex-m0\n", halfway, 1)
		if r, err = Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text), Guess: guess}); err != nil || r.Guess() == nil {
			t.Errorf("%q: %v", halfway, err)
		}
	}
}
