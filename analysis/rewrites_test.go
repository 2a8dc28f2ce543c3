package analysis

import (
	"context"
	"testing"
)

// apply makes the text after an action.
func apply(text string, edits []Edit) string {
	for i := len(edits) - 1; i >= 0; i-- {
		e := edits[i]
		text = text[:e.Span.Start] + e.New + text[e.Span.End:]
	}
	return text
}

// TestRewriteExamples runs the documented examples: the rewrite is offered for
// the text before, and gives the text after to the letter.
func TestRewriteExamples(t *testing.T) {
	ctx := context.Background()
	for _, w := range append(Rewrites(), wideExamples...) {
		t.Run(w.Name, func(t *testing.T) {
			r := analyze(t, nil, w.Before)
			found := false
			for _, a := range r.Actions(ctx, Span{0, len(w.Before)}) {
				got := apply(w.Before, a.Edits)
				t.Logf("%s: %s safe=%v\n%s", a.Rewrite, a.Title, a.Safe, got)
				if a.Rewrite == w.Name && got == w.After {
					found = true
				}
			}
			if !found {
				for _, d := range r.Diagnostics() {
					t.Logf("finding %s: %s", d.Code, d.Message)
				}
				t.Errorf("not offered; want\n%s", w.After)
			}
		})
	}
}

// TestRegistrations checks that checks and rewrites know each other.
func TestRegistrations(t *testing.T) {
	used := map[string]bool{}
	for _, c := range Checks() {
		for _, n := range c.Rewrites {
			used[n] = true
			if findRewrite(n) == nil {
				t.Errorf("check %s names the rewrite %s, which is not registered", c.Code, n)
			}
		}
	}
	for _, w := range Rewrites() {
		if !used[w.Name] {
			t.Errorf("rewrite %s belongs to no check", w.Name)
		}
	}
}

// TestActionsOnData asks for rewrites of a finding in a directive that names a
// global label of its own section.
func TestActionsOnData(t *testing.T) {
	text := "\t.global x\nx:\t.byte 1\ny:\t.word x\n"
	a := analyze(t, nil, text).Actions(context.Background(), Span{0, len(text)})
	if len(a) != 1 || a[0].Rewrite != "align" {
		t.Errorf("%+v", a)
	}
}

// TestNameKept checks that a rewrite which leaves the constant where it stands
// counts as keeping its name.
func TestNameKept(t *testing.T) {
	text := ".cpu cortex-m3\n" + codeT + "\t.equ LAMP_RED, 8\n\tldr r2, =0x12345678\n\tnop\n\tcmp r0, #0\n\tmovne r3, #LAMP_RED\n\tstr r3, [r2]\n\tbx lr\n"
	a := analyze(t, nil, text).Actions(context.Background(), Span{0, len(text)})
	if len(a) != 2 || a[0].Rewrite != "it-insert" || !a[0].Preferred {
		t.Errorf("%+v", a)
	}
}
