package analysis

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// TestRealRun counts what is said to go wrong in real sources when they run, by check: code
// that is in use has few such mistakes. With NARROWGAUGE_SHOW each is written to a file
// there, to be read.
func TestRealRun(t *testing.T) {
	proof := reftest.Begin(t)
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		t.Run(p.Name, func(t *testing.T) {
			real := realTexts(t, p)
			counts, lines := map[string]int{}, 0
			var shown []string
			seen := map[string]bool{}
			for _, x := range real.texts {
				c := x.unit.Config
				r, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(x.text), Set: &Settings{Arch: c.Arch, FPU: c.FPU}})
				if err != nil {
					t.Fatal(err)
				}
				if len(errorsByLine(r)) > 0 {
					continue
				}
				lines += strings.Count(x.text, "\n")
				early := r.Early()
				for _, d := range r.Diagnostics() {
					if slices.ContainsFunc(early, func(e Diagnostic) bool { return e.Location == d.Location && e.Code == d.Code }) {
						continue
					}
					l := r.in.File.LineAt(d.Span.Start) + 1
					key := x.unit.Path + x.line(l) + d.Code
					if seen[key] {
						continue
					}
					seen[key] = true
					counts[d.Severity.String()+" "+d.Code]++
					context := ""
					for n := max(l-6, 1); n <= l+3; n++ {
						context += fmt.Sprintf("    %d %s\n", n, x.line(n))
					}
					shown = append(shown, fmt.Sprintf("%s %s line %d: %s: %s\n%s", x.unit.Path, c.Name, l, d.Code, d.Message, context))
				}
			}
			if dir := reftest.Text(reftest.Show); dir != "" {
				slices.Sort(shown)
				if err := os.WriteFile(filepath.Join(dir, "run-"+p.Name+".txt"), []byte(strings.Join(shown, "\n")), 0o666); err != nil {
					t.Fatal(err)
				}
			}
			warnings := 0
			for k, n := range counts {
				if strings.HasPrefix(k, "warning") {
					warnings += n
				}
			}
			proof.Counted("%s: %d lines, said to go wrong: %v", p.Name, lines, counts)
			if warnings*500 > lines {
				t.Errorf("%d warnings in %d lines", warnings, lines)
			}
		})
	}
}
