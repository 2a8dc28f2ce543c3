package analysis

import (
	"context"
	"fmt"
	"github.com/rogpeppe/go-internal/txtar"
	"os"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
)

// apply makes the text after an action.
func apply(text string, edits []finding.Edit) string {
	for i := len(edits) - 1; i >= 0; i-- {
		e := edits[i]
		text = text[:e.Span.Start] + e.New + text[e.Span.End:]
	}
	return text
}

// TestRewriteExamples runs the documented examples: the rewrite is offered for
// the text before, and gives the text after to the letter. All that is offered
// for an example, in its order, is in testdata/examples.txtar.
func TestRewriteExamples(t *testing.T) {
	ctx := context.Background()
	const path = "testdata/examples.txtar"
	old, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{}
	for _, f := range old.Files {
		want[f.Name] = string(f.Data)
	}
	now := &txtar.Archive{Comment: old.Comment}
	for i, w := range append(rewrite.Rewrites(), wideExamples...) {
		name := w.Name
		if i >= len(rewrite.Rewrites()) {
			name += fmt.Sprintf("-wide-%d", i-len(rewrite.Rewrites())+1)
		}
		offers, found := exampleOffers(ctx, t, w)
		now.Files = append(now.Files, txtar.File{Name: name, Data: []byte(offers)})
		t.Run(name, func(t *testing.T) {
			if !found {
				t.Errorf("not offered; want\n%s\noffered:\n%s", w.After, offers)
			}
			if !*Update && offers != want[name] {
				t.Errorf("offered (-update writes it to %s):\n%s\nwant:\n%s", path, offers, want[name])
			}
		})
		delete(want, name)
	}
	if *Update {
		if err := os.WriteFile(path, txtar.Format(now), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	for name := range want {
		t.Errorf("%s: %s is no example any more", path, name)
	}
}

// exampleOffers writes what is offered for an example. found: its rewrite is among
// that, and gives the text after.
func exampleOffers(ctx context.Context, t *testing.T, w rewrite.Rewrite) (offers string, found bool) {
	var b strings.Builder
	r := analyze(t, nil, w.Before)
	if w.Name == "target-directive" {
		r = guessed(t, w.Before)
	}
	for i, a := range r.Actions(ctx, finding.Span{Start: 0, End: len(w.Before)}) {
		mark := ""
		if a.Rewrite == w.Name && apply(w.Before, a.Edits) == w.After {
			found, mark = true, " <- the example"
		}
		fmt.Fprintf(&b, "%d. %s of %s at %q: %s\n   %+d bytes, safe %v, preferred %v%s\n", i+1, a.Rewrite, a.Code, w.Before[a.Target.Start:a.Target.End], a.Title, a.Bytes, a.Safe, a.Preferred, mark)
	}
	return b.String(), found
}

// TestRegistrations checks that checks and rewrites know each other.
func TestRegistrations(t *testing.T) {
	used := map[string]bool{}
	for _, c := range finding.Checks() {
		for _, n := range c.Rewrites {
			used[n] = true
			if rewrite.Find(n) == nil {
				t.Errorf("check %s names the rewrite %s, which is not registered", c.Code, n)
			}
		}
	}
	for _, w := range rewrite.Rewrites() {
		if !used[w.Name] {
			t.Errorf("rewrite %s belongs to no check", w.Name)
		}
	}
}

// TestActionsOnData asks for rewrites of a finding in a directive that names a
// global label of its own section.
func TestActionsOnData(t *testing.T) {
	text := "\t.global x\nx:\t.byte 1\ny:\t.word x\n"
	a := analyze(t, nil, text).Actions(context.Background(), finding.Span{Start: 0, End: len(text)})
	if len(a) != 1 || a[0].Rewrite != "align" {
		t.Errorf("%+v", a)
	}
}

// TestNameKept checks that a rewrite which leaves the constant where it is
// counts as keeping its name.
func TestNameKept(t *testing.T) {
	text := ".cpu cortex-m3\n" + rewrite.UnifiedThumb + "\t.equ LAMP_RED, 8\n\tldr r2, =0x12345678\n\tnop\n\tcmp r0, #0\n\tmovne r3, #LAMP_RED\n\tstr r3, [r2]\n\tbx lr\n"
	a := analyze(t, nil, text).Actions(context.Background(), finding.Span{Start: 0, End: len(text)})
	if len(a) != 2 || a[0].Rewrite != "it-insert" || !a[0].Preferred {
		t.Errorf("%+v", a)
	}
}

// TestRewriteBesideThumbFunction offers rewrites for a directive that names a Thumb
// function, as tables of handlers do: its operands are no instruction's.
func TestRewriteBesideThumbFunction(t *testing.T) {
	text := "\t.syntax unified\n\t.thumb\n\tldr r0, table\n\tbx lr\n\t.hword 1\ntable:\n\t.word points\n\t.thumb_func\npoints:\n\tbx lr\n"
	r := analyze(t, nil, text)
	at := strings.Index(text, "\t.word")
	offers := r.Actions(context.Background(), Span{Start: at, End: at + len("\t.word points")})
	if len(offers) == 0 {
		t.Error("nothing is offered for data at an odd place")
	}
	if len(r.SafeFixes(context.Background(), "")) == 0 {
		t.Error("nothing is fixed")
	}
}
