package analysis_test

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// offered are the texts that the actions for one finding put in.
func offered(t *testing.T, text, code string) []string {
	t.Helper()
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "box.s", File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, a := range r.Actions(context.Background(), analysis.Span{Start: 0, End: len(text)}) {
		if a.Code != code {
			continue
		}
		var b strings.Builder
		for _, e := range a.Edits {
			b.WriteString(e.New + "\n")
		}
		out = append(out, b.String())
	}
	return out
}

// TestNamedRegisterLater: a name of .req means the register that it means where
// the line is, whatever it means further down.
func TestNamedRegisterLater(t *testing.T) {
	text := ".syntax unified\n.thumb\nx .req r0\n\tcmp x, #300\n\tbeq 1f\n1:\tmovs r0, #0\n\tbx lr\n\t.unreq x\nx .req r5\n\tmovs x, #1\n\tbx lr\n"
	list := offered(t, text, "constant-range")
	if len(list) == 0 {
		t.Fatal("no rewrite")
	}
	for _, s := range list {
		for _, l := range strings.Split(s, "\n") {
			if f := strings.Fields(strings.ReplaceAll(l, ",", " ")); len(f) > 1 && strings.HasPrefix(f[0], "ldr") && f[1] == "r0" {
				t.Errorf("a rewrite loads into r0, which the line compares:\n%s", s)
			}
		}
	}
}

// TestNameTakenBack: after .unreq a name means nothing.
func TestNameTakenBack(t *testing.T) {
	if list := offered(t, ".syntax unified\n.thumb\nx .req r0\n\t.unreq x\n\tcmp x, #300\n", "constant-range"); len(list) > 0 {
		t.Errorf("offered for a name that means nothing: %q", list)
	}
}

// TestMarkOfConstants: a name as an offset has the rewrites that it has with the mark of
// constants in front.
func TestMarkOfConstants(t *testing.T) {
	const head = ".syntax unified\n.thumb\n.equ OFF, 300\n\tldr r0, [r1, "
	with, without := offered(t, head+"#OFF]\n\tbx lr\n", "constant-range"), offered(t, head+"OFF]\n\tbx lr\n", "constant-range")
	if len(with) == 0 || len(without) != len(with) {
		t.Errorf("offered with the mark: %q\nwithout: %q", with, without)
	}
}
