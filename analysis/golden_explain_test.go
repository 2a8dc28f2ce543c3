package analysis_test

import (
	"os"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/diff"
	"github.com/rogpeppe/go-internal/txtar"

	"narrowgauge/analysis"
)

// TestGoldenExplain holds explanations to the letter: each member's name is
// what is asked for, and its text the answer.
func TestGoldenExplain(t *testing.T) {
	const path = "testdata/explain.txtar"
	ar, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(ar.Files) == 0 {
		t.Fatal("nothing is asked for")
	}
	for i := range ar.Files {
		f := &ar.Files[i]
		got, near, ok := analysis.Explain(f.Name)
		if !ok {
			got = "not known; similar names: " + strings.Join(near, ", ") + "\n"
		}
		if *analysis.Update {
			f.Data = []byte(got)
		} else if got != string(f.Data) {
			t.Errorf("%s is otherwise (-update writes it anew):\n%s", f.Name, diff.Diff("wanted", f.Data, "got", []byte(got)))
		}
	}
	if *analysis.Update {
		if err := os.WriteFile(path, txtar.Format(ar), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestExplainEach asks for the explanation of every check and every rewrite:
// each names what it offers, or what it is offered for.
func TestExplainEach(t *testing.T) {
	for _, c := range analysis.Checks() {
		md, _, ok := analysis.Explain(c.Code)
		if !ok || !strings.HasPrefix(md, "# "+c.Code+" — "+c.Title+"\n") || !strings.Contains(md, c.Explanation) || !strings.Contains(md, c.Bad) || !strings.Contains(md, c.Good) {
			t.Errorf("%s: %s", c.Code, md)
		}
		for _, n := range c.Rewrites {
			if !strings.Contains(md, "- `"+n+"` — ") {
				t.Errorf("%s does not name %s", c.Code, n)
			}
			if of, _, _ := analysis.Explain(n); !strings.Contains(of, "`"+c.Code+"`") {
				t.Errorf("%s does not name %s", n, c.Code)
			}
		}
	}
}
