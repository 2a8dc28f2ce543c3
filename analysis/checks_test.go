package analysis

import (
	"context"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

// analyze runs the analysis over one text with settings.
func analyze(t testing.TB, set *Settings, text string) *Result {
	t.Helper()
	r, err := Analyze(context.Background(), &Input{Path: "test.s", File: syntax.Parse(text), Set: set})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestCheckExamples runs the documented examples: the bad one has the check's
// finding and no other error, the good one has no finding but hints.
func TestCheckExamples(t *testing.T) {
	seen := map[string]bool{}
	for _, c := range finding.Checks() {
		if seen[c.Code] {
			t.Fatalf("two checks have the code %s", c.Code)
		}
		seen[c.Code] = true
		t.Run(c.Code, func(t *testing.T) {
			if c.Several() {
				several(t, &c)
				return
			}
			var set *Settings
			if c.Code == finding.CodePreprocessor {
				set = &Settings{Preprocess: "always"}
			}
			if c.Code == finding.CodeBudget {
				set = &Settings{Budget: map[string]int64{".text": 4}}
			}
			found := false
			bad := analyze(t, set, c.Bad)
			if c.Code == finding.CodeTarget {
				bad = guessed(t, c.Bad)
			}
			for _, d := range bad.Each() {
				t.Logf("bad: %s %s: %s %q", d.Severity, d.Code, d.Message, c.Bad[d.Span.Start:d.Span.End])
				if d.Code == c.Code {
					found = true
					if d.Severity != c.Severity {
						t.Errorf("severity %s, registered %s", d.Severity, c.Severity)
					}
				} else if d.Severity <= finding.Warning {
					t.Errorf("bad example has %s too: %s", d.Code, d.Message)
				}
			}
			if !found {
				t.Errorf("bad example has no %s:\n%s", c.Code, c.Bad)
			}
			for _, d := range analyze(t, set, c.Good).Each() {
				if d.Severity <= finding.Warning {
					t.Errorf("good example has %s: %s", d.Code, d.Message)
				}
			}
		})
	}
}

// guessed is the analysis of a source for the target that it speaks for.
func guessed(t *testing.T, text string) *Result {
	t.Helper()
	r, err := AnalyzeGuessing(context.Background(), &Input{Path: "test.s", File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// several runs the examples of a check that is about several sources.
func several(t *testing.T, c *finding.Check) {
	for _, text := range []string{c.Bad, c.Good} {
		names, texts := finding.Parts(text)
		w := &Workspace{Closed: true}
		for i, name := range names {
			r, err := Analyze(context.Background(), &Input{Path: name, File: syntax.Parse(texts[i])})
			if err != nil {
				t.Fatal(err)
			}
			for _, d := range r.Each() {
				if d.Severity <= finding.Warning {
					t.Errorf("%s of the example has %s: %s", name, d.Code, d.Message)
				}
			}
			w.Units = append(w.Units, &LinkUnit{File: r.Links()})
		}
		n := 0
		for i := range w.Units {
			for _, d := range w.Check(i) {
				if t.Logf("%s %s %s: %s", d.Path, d.Severity, d.Code, d.Message); d.Code != c.Code || d.Severity != c.Severity {
					t.Errorf("%s has %s: %s", d.Path, d.Code, d.Message)
				}
				n++
			}
		}
		if (n > 0) != (text == c.Bad) {
			t.Errorf("%d findings in\n%s", n, text)
		}
		w = &Workspace{Units: w.Units} // with sources in other languages
		for i := range w.Units {
			if list := w.Check(i); len(list) > 0 && c.Code != finding.CodeAcross {
				t.Errorf("beside other languages: %+v", list)
			}
		}
	}
}
