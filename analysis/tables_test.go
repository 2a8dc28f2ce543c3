package analysis_test

import (
	"context"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// The tables of this package's tests look at it from outside: sources go in,
// findings, rewrites and places come out. In a source of a table "|" stands for a
// line end and "¦" for "|".

const (
	t16 = ".arch armv4t|.syntax unified|.thumb|"
	t32 = ".arch armv7-a|.syntax unified|.thumb|"
	a32 = ".arch armv7-a|.syntax unified|.arm|"
)

// lines writes a source of a table out.
func lines(src string) string {
	return strings.ReplaceAll(strings.ReplaceAll(src, "|", "\n"), "¦", "|") + "\n"
}

// program is a root file with the files that it includes, by name.
type program struct {
	text  string
	files map[string]string
	set   *analysis.Settings
	path  string // of the root, "box.s" where it is empty
}

func (p program) analyze(t testing.TB) *analysis.Result {
	t.Helper()
	if p.path == "" {
		p.path = "box.s"
	}
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: p.path, File: syntax.Parse(p.text), Set: p.set,
		Load: func(w analysis.Wanted) (string, *syntax.File, bool) {
			text, ok := p.files[w.Name]
			if !ok {
				return "", nil, false
			}
			return w.Name, syntax.Parse(text), true
		}})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// found lists the findings of at least a severity as "line code", in order; those
// of other files with the file's name in front.
func found(r *analysis.Result, root, text string, least analysis.Severity) (out []string) {
	for _, d := range r.Diagnostics() {
		if d.Severity > least {
			continue
		}
		if d.Path != root {
			out = append(out, d.Path+" "+d.Code)
			continue
		}
		out = append(out, strconv.Itoa(1+strings.Count(text[:d.Span.Start], "\n"))+" "+d.Code)
	}
	return out
}

// rewritten is the text after an action.
func rewritten(text string, a analysis.Action) string {
	for i := len(a.Edits) - 1; i >= 0; i-- {
		e := a.Edits[i]
		text = text[:e.Span.Start] + e.New + text[e.Span.End:]
	}
	return text
}

var placeAt = regexp.MustCompile("([^ \n]+) \\+ 0x([0-9a-f]+)")

// place is the section and the offset of what stands at a byte offset of the
// root, as its hover text has it.
func place(t testing.TB, r *analysis.Result, off int) (string, int64) {
	t.Helper()
	h, ok := r.Hover(off)
	m := placeAt.FindStringSubmatch(h.Markdown)
	if !ok || m == nil {
		return "", -1
	}
	n, err := strconv.ParseInt(m[2], 16, 64)
	if err != nil {
		t.Fatal(err)
	}
	return m[1], n
}

// assembles puts texts to the reference assembler, which has to take them all.
func assembles(t *testing.T, texts []string) {
	t.Helper()
	reftest.Require(t, "arm-none-eabi-as")
	programs := make([]reftest.Program, len(texts))
	for i := range texts {
		programs[i].Text = texts[i]
	}
	for i, j := range reftest.AssemblePrograms(t, programs) {
		if !j.OK {
			t.Errorf("the reference assembler refuses lines %v of\n%s", j.ErrorLines, texts[i])
		}
	}
}

// marks takes what a source expects out of it: a comment "@! code" in a line says
// that the line has a finding with that code; several codes stand side by side.
func marks(text string) (want []string) {
	for i, l := range strings.Split(text, "\n") {
		if _, codes, ok := strings.Cut(l, "@!"); ok {
			for _, c := range strings.Fields(codes) {
				want = append(want, strconv.Itoa(i+1)+" "+c)
			}
		}
	}
	return want
}

// markedCase is a source with the findings of some codes that it is expected to
// have, marked in it.
type markedCase struct {
	name string
	src  string // with its head
	// alone: the reference assembler is not asked, as it refuses the source.
	alone bool
	files map[string]string
}

// runMarked compares the findings of the codes with the marks, and puts the sources
// to the reference assembler, which has to take them.
func runMarked(t *testing.T, cases []markedCase, codes ...string) {
	var texts []string
	seen := map[string]bool{}
	for _, c := range cases {
		if seen[c.name] {
			t.Fatalf("two cases have the name %q", c.name)
		}
		seen[c.name] = true
		text := lines(c.src)
		if !c.alone && c.files == nil {
			texts = append(texts, text)
		}
		t.Run(c.name, func(t *testing.T) {
			var got []string
			for _, f := range found(program{text: text, files: c.files}.analyze(t), "box.s", text, analysis.Hint) {
				if _, code, _ := strings.Cut(f, " "); slices.Contains(codes, code) || code == "syntax" {
					got = append(got, f)
				}
			}
			if want := marks(text); !slices.Equal(got, want) {
				t.Errorf("found %q, want %q in\n%s", got, want, text)
			}
		})
	}
	t.Run("reference", func(t *testing.T) { assembles(t, texts) })
}
