package analysis_test

import (
	"context"
	"encoding/binary"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// The tables of this package's tests look at it from outside: sources go in,
// findings, rewrites and places come out. In a source of a table "|" means a
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
	for _, d := range r.Each() {
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
func rewritten(text string, a analysis.Action) string { return edited(text, a.Edits) }

// edited is the text after edits.
func edited(text string, edits []analysis.Edit) string {
	for _, e := range slices.Backward(edits) {
		text = text[:e.Span.Start] + e.New + text[e.Span.End:]
	}
	return text
}

var placeAt = regexp.MustCompile("([^ \n]+) \\+ 0x([0-9a-f]+)")

// place is the section and the offset of what is at a byte offset of the
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

// oneIn is how few cases of the tables the reference assembler sees with -short: a run
// for each takes ten times as long as all else. What a case expects of us is held for
// all of them. It is odd, as many cases come in pairs.
const oneIn = 9

// assembles puts texts to the reference assembler, which has to take them all.
func assembles(t *testing.T, texts []string) {
	t.Helper()
	reftest.Require(t, "arm-none-eabi-as")
	texts = reftest.Sample(texts, oneIn)
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
// that the line has a finding with that code; several codes are side by side.
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
	// only: the reference assembler is not asked, as it refuses the source.
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

// verdictCase is a program whose lines with errors are marked by a comment "@!".
type verdictCase struct {
	name string
	src  string
	// ours says why the reference assembler judges otherwise; empty: it does not.
	ours  string
	files map[string]string
	// elsewhere: another file has an error.
	elsewhere bool
	set       *analysis.Settings
	flags     []string // of the reference assembler
}

// errorLines lists the lines of the root with errors; an error in another file
// counts as line 0.
func errorLines(r *analysis.Result, text string) (out []int) {
	for _, d := range r.Each() {
		if d.Severity != analysis.Error {
			continue
		}
		n := 0
		if d.Path == "box.s" {
			n = 1 + strings.Count(text[:d.Span.Start], "\n")
		}
		if !slices.Contains(out, n) {
			out = append(out, n)
		}
	}
	slices.Sort(out)
	return out
}

// runVerdicts compares the lines with errors with the marks, and both with the
// reference assembler; where that takes a program, places, values and sizes too.
func runVerdicts(t *testing.T, cases []verdictCase) {
	seen := map[string]bool{}
	var asked []verdictCase
	for _, c := range cases {
		if seen[c.name] {
			t.Fatalf("two cases have the name %q", c.name)
		}
		seen[c.name] = true
		if c.ours == "" && c.files == nil {
			asked = append(asked, c)
		}
		t.Run(c.name, func(t *testing.T) {
			text := lines(c.src)
			r := (program{text: text, files: c.files, set: c.set}).analyze(t)
			want := marked(text)
			if c.elsewhere {
				want = append([]int{0}, want...)
			}
			if got := errorLines(r, text); !slices.Equal(got, want) {
				t.Errorf("errors in lines %v, want %v in\n%s", got, want, text)
				for _, d := range r.Each() {
					t.Logf("%s %s: %s", d.Severity, d.Code, d.Message)
				}
			}
		})
	}
	t.Run("reference", func(t *testing.T) {
		reftest.Require(t, "arm-none-eabi-as")
		asked = reftest.Recorded(asked, oneIn)
		inTurns(len(asked), func(i int) {
			c := asked[i]
			text := lines(c.src)
			ref, asked := reftest.AssembleRecorded(t, reftest.Options{Flags: c.flags}, text)
			if !asked {
				return
			}
			// Of some errors it does not say where.
			if want := marked(text); !slices.Equal(ref.ErrorLines, want) && (ref.OK || len(ref.ErrorLines) > 0) || ref.OK != (len(want) == 0) {
				t.Errorf("%s: the reference assembler refuses lines %v of\n%s", c.name, ref.ErrorLines, text)
			} else if ref.OK {
				samePlaces(t, c.name, (program{text: text, set: c.set}).analyze(t), text, ref)
			}
		})
	})
}

// marked are the lines with a mark.
func marked(text string) (out []int) {
	for i, l := range strings.Split(text, "\n") {
		if strings.Contains(l, "@!") {
			out = append(out, i+1)
		}
	}
	return out
}

var (
	labelAt  = regexp.MustCompile(`(?m)^[ \t]*((?:[\w.$]+:[ \t]*)+)`)
	eachName = regexp.MustCompile(`[\w.$]+:`)
	valueIs  = regexp.MustCompile("^\\*\\*[^*]+\\*\\* = `(-?[0-9]+)`")
	codeOf   = regexp.MustCompile("This line: `0x([0-9a-f]+)`, ([0-9]) bytes, at ([^ ]+) \\+ 0x([0-9a-f]+)")
)

// samePlaces compares the places of labels, the values of constants and the codes of
// instructions that are complete with those of an object.
func samePlaces(t *testing.T, name string, r *analysis.Result, text string, ref reftest.File) {
	for _, m := range labelAt.FindAllStringSubmatchIndex(text, -1) {
		for _, n := range eachName.FindAllStringIndex(text[m[2]:m[3]], -1) {
			at := m[2] + n[0]
			label := text[at : m[2]+n[1]-1]
			sym, ok := ref.Symbols[label]
			if !ok {
				continue // left out, numeric, or of a macro
			}
			h, _ := r.Hover(at)
			if v := valueIs.FindStringSubmatch(h.Markdown); v != nil {
				if n, _ := strconv.ParseInt(v[1], 10, 64); sym.Section != "*ABS*" || uint32(n) != sym.Value {
					t.Errorf("%s: %s is %d, reference %s+%d", name, label, n, sym.Section, sym.Value)
				}
				continue
			}
			if sec, n := place(t, r, at); sec != sym.Section || n != int64(sym.Value) {
				t.Errorf("%s: %s is at %s+%d, reference %s+%d", name, label, sec, n, sym.Section, sym.Value)
			}
		}
	}
	for i := 0; i < len(text); i++ {
		if i > 0 && text[i-1] != '\n' && text[i-1] != ' ' && text[i-1] != '\t' {
			continue
		}
		h, _ := r.Hover(i)
		m := codeOf.FindStringSubmatch(h.Markdown)
		if m == nil || h.Span.Start != i || strings.Contains(h.Markdown, "The linker fills in") {
			continue
		}
		size, _ := strconv.Atoi(m[2])
		want, _ := strconv.ParseUint(m[1], 16, 32)
		off, _ := strconv.ParseInt(m[4], 16, 64)
		if slices.ContainsFunc(ref.Relocs[m[3]], func(x reftest.Reloc) bool { return int64(x.Offset) == off }) {
			continue // the linker has its say
		}
		data := ref.Sections[m[3]]
		if int(off)+size > len(data) {
			t.Errorf("%s: code at %s+%d, which the reference does not have", name, m[3], off)
			continue
		}
		got := uint64(binary.LittleEndian.Uint16(data[off:]))
		switch {
		case size == 4 && strings.Contains(h.Markdown, "encoding A"):
			got = uint64(binary.LittleEndian.Uint32(data[off:]))
		case size == 4:
			got = got<<16 | uint64(binary.LittleEndian.Uint16(data[off+2:]))
		}
		if got != want {
			t.Errorf("%s: 0x%x at %s+%d, reference 0x%x", name, want, m[3], off, got)
		}
	}
}

// inTurns calls f for 0 to n-1, on two processors.
func inTurns(n int, f func(i int)) {
	var next atomic.Int64
	var wait sync.WaitGroup
	for range 2 {
		wait.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wait.Wait()
}
