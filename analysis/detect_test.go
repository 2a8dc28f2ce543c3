package analysis

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// pieces calls f with the first lines of a text, and with lines from its midst that
// begin outside of comments.
func pieces(text string, f func(piece string)) {
	parsed := syntax.ParseAs(text, syntax.Dots)
	lines := strings.SplitAfter(text, "\n")
	for _, n := range []int{1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144, 233, 377, 610, len(lines)} {
		f(strings.Join(lines[:min(n, len(lines))], ""))
	}
	for _, n := range []int{5, 12, 40} {
		for i := n; i+n <= len(lines); i += n {
			if !parsed.Line(i).StartsInComment() {
				f(strings.Join(lines[i:i+n], ""))
			}
		}
	}
}

// realColumns are the real sources of the column dialect.
var realColumns = map[string]bool{"libffi/src/arm/sysv_msvc_arm32.S": true}

// TestDetectReal takes the dialect of real sources, which all but those have dots,
// whole and in pieces as they are while somebody types or pastes.
func TestDetectReal(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	texts, cuts := 0, 0
	for _, p := range sources.Chosen(t) {
		dir := p.Unpack(t)
		for _, path := range p.Files(t, dir) {
			b, err := os.ReadFile(filepath.Join(dir, path))
			if err != nil {
				t.Fatal(err)
			}
			texts++
			if realColumns[path] {
				if d, _ := syntax.Detect(string(b)); d != syntax.Columns {
					t.Errorf("%s is taken for %v", path, d)
				}
				continue
			}
			pieces(string(b), func(s string) {
				cuts++
				if d, _ := syntax.Detect(s); d != syntax.Dots {
					t.Errorf("%s is taken for %v:\n%s", path, d, s)
				}
			})
		}
	}
	if texts < 30 {
		t.Errorf("only %d files", texts)
	}
	proof.Counted("detection: %d files, %d pieces of them", texts, cuts)
}

// TestDetectColumns does the same with the sources of the column dialect.
func TestDetectColumns(t *testing.T) {
	proof := reftest.Begin(t)
	cuts := 0
	for name, c := range columnCases(t) {
		pieces(c.text, func(s string) {
			f := syntax.ParseAs(s, syntax.Columns)
			shown := 0
			for i := range f.NumLines() {
				for _, st := range f.Line(i).Stmts {
					if st.Kind == syntax.Directive && st.NameEnd > st.Start || st.Kind == syntax.Assign {
						shown++
					}
				}
			}
			cuts++
			// Only one word may be the name of a macro.
			if d, _ := syntax.Detect(s); d != syntax.Columns && shown > 1 {
				t.Errorf("%s is taken for %v:\n%s", name, d, s)
			}
		})
	}
	proof.Counted("detection of what is typed: %d pieces", cuts)
}
