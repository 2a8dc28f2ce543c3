package analysis

import (
	"context"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/syntax"
)

// FuzzRename checks what every rename promises, at any place of any text: no panic, edits in
// order and inside the file, and, where it is proven, as many findings as before.
func FuzzRename(f *testing.F) {
	for _, x := range renames {
		before, after, _ := strings.Cut(x.text, "^")
		f.Add(before+after, len(before)-1, x.to, strings.Contains(x.text, "#"))
	}
	f.Fuzz(func(t *testing.T, text string, off int, to string, raw bool) {
		if len(text) > 4000 || off < 0 || off > len(text) {
			return
		}
		path := "self.s"
		if raw {
			path = "self.S"
		}
		file := syntax.Parse(text)
		load := func(w assemble.Wanted) (string, *syntax.File, bool) { return path, file, len(w.Name) > 0 }
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		r, err := Analyze(ctx, &Input{Path: path, File: file, Load: load})
		if err != nil {
			t.Fatal(err)
		}
		target, err := r.RenameAt(path, off)
		if err != nil || r.CanRename(target, to) != nil {
			return
		}
		edits, err := r.RenameEdits(target, to)
		if err != nil {
			return
		}
		for name, list := range edits {
			at := 0
			for _, e := range list {
				if name != path || e.Span.Start < at || e.Span.End < e.Span.Start || e.Span.End > len(text) {
					t.Fatalf("%q at %d to %q: edits %v in %s", text, off, to, list, name)
				}
				at = e.Span.End
			}
		}
		after, err := r.Edited(ctx, edits)
		if err != nil {
			t.Fatal(err)
		}
		if r.SameBut(after, target, to) == nil && len(after.Early()) != len(r.Early()) {
			t.Fatalf("%q at %d to %q: %d findings, were %d", text, off, to, len(after.Early()), len(r.Early()))
		}
	})
}
