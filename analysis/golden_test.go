package analysis_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/diff"
	"github.com/rogpeppe/go-internal/txtar"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// A golden archive holds sources and, to the letter, what is said of them.
//
// A member whose name ends in .s or .S is a source that is analysed by itself;
// its results are the member of the same name with .want after it. Other
// members are files that sources include. The lines in front of the first
// member set something for every source, or, with a source's name in front, for
// one:
//
//	cpu: cortex-m3
//	lamps.s crlf: yes
//
// The keys are those of the settings, with blanks between the elements of
// lists, and
//
//	crlf: yes       the source's lines end in CR LF
//	ask: hover outline places areas lines fix
//
// which asks for more than findings and their rewrites: the hovers at all
// offsets, the outlines, the definitions and references at all offsets, the
// regions with the places that are left out, the rewrites line by line, and what
// all safe rewrites together come to. Each is for all files of the program.
//
// go test ./analysis -run TestGolden -update writes the results.
const goldenFolder = "testdata/golden"

const wantSuffix = ".want"

// goldenCase is one source of an archive.
type goldenCase struct {
	name, text string
	set        analysis.Settings
	ask        map[string]bool
	files      map[string]string // those that it may include
}

func TestGolden(t *testing.T) {
	paths, err := filepath.Glob(goldenFolder + "/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	if len(paths) == 0 {
		t.Fatal("no archives")
	}
	for _, path := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) { golden(t, path) })
	}
}

// golden compares the results of one archive, or writes them.
func golden(t *testing.T, path string) {
	ar, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	cases, wants, err := readGolden(ar)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	for _, c := range cases {
		got := c.results(t)
		want, ok := wants[c.name+wantSuffix]
		delete(wants, c.name+wantSuffix)
		if *analysis.Update {
			putMember(ar, c.name, got)
		} else if !ok {
			t.Errorf("%s: no member %s", path, c.name+wantSuffix)
		} else if got != want {
			t.Errorf("%s: %s is otherwise (-update writes it anew):\n%s", path, c.name, diff.Diff("wanted", []byte(want), "got", []byte(got)))
		}
	}
	if !*analysis.Update {
		for name := range wants {
			t.Errorf("%s: %s belongs to no source", path, name)
		}
		return
	}
	ar.Files = slices.DeleteFunc(ar.Files, func(f txtar.File) bool { _, stale := wants[f.Name]; return stale })
	if err := os.WriteFile(path, txtar.Format(ar), 0o644); err != nil {
		t.Fatal(err)
	}
}

// putMember puts the results of a source after it.
func putMember(ar *txtar.Archive, name, got string) {
	ar.Files = slices.DeleteFunc(ar.Files, func(f txtar.File) bool { return f.Name == name+wantSuffix })
	k := slices.IndexFunc(ar.Files, func(f txtar.File) bool { return f.Name == name })
	ar.Files = slices.Insert(ar.Files, k+1, txtar.File{Name: name + wantSuffix, Data: []byte(got)})
}

// readGolden takes an archive apart.
func readGolden(ar *txtar.Archive) (cases []*goldenCase, wants map[string]string, err error) {
	wants, files := map[string]string{}, map[string]string{}
	for _, f := range ar.Files {
		switch {
		case strings.HasSuffix(f.Name, wantSuffix):
			wants[f.Name] = string(f.Data)
		case strings.HasSuffix(f.Name, ".s"), strings.HasSuffix(f.Name, ".S"), strings.HasSuffix(f.Name, ".cases"):
			cases = append(cases, &goldenCase{name: f.Name, text: string(f.Data), ask: map[string]bool{}, files: files})
		default:
			files[f.Name] = string(f.Data)
		}
	}
	for n, l := range strings.Split(string(ar.Comment), "\n") {
		if l == "" || l[0] == '#' {
			continue
		}
		key, value, ok := strings.Cut(l, ":")
		one, key, named := strings.Cut(key, " ")
		if !named {
			one, key = "", one
		}
		taken := false
		for _, c := range cases {
			if one == "" || one == c.name {
				taken = c.setting(key, strings.TrimSpace(value))
			}
		}
		if !ok || !taken {
			return nil, nil, fmt.Errorf("line %d: no setting: %s", n+1, l)
		}
	}
	return cases, wants, nil
}

// setting takes a line of the header; false if nothing has that key.
func (c *goldenCase) setting(key, value string) bool {
	switch key {
	case "crlf":
		c.text = strings.ReplaceAll(c.text, "\n", "\r\n")
		return value == "yes"
	case "ask":
		for _, w := range strings.Fields(value) {
			if !slices.Contains([]string{"hover", "outline", "places", "areas", "lines", "fix"}, w) {
				return false
			}
			c.ask[w] = true
		}
		return true
	}
	v := reflect.ValueOf(&c.set).Elem()
	for i := range v.NumField() {
		if v.Type().Field(i).Tag.Get("json") != key {
			continue
		}
		switch f := v.Field(i).Addr().Interface().(type) {
		case *string:
			*f = value
		case *[]string:
			*f = strings.Fields(value)
		}
		return true
	}
	return false
}

// load finds a member that the source includes.
func (c *goldenCase) load(w analysis.Wanted) (string, *syntax.File, bool) {
	text, ok := c.files[w.Name]
	if !ok {
		return "", nil, false
	}
	return w.Name, syntax.Parse(text), true
}

// analyze runs the analysis of a text.
func (c *goldenCase) analyze(t *testing.T, text string) *analysis.Result {
	r, err := analysis.Analyze(context.Background(), &analysis.Input{
		Path: c.name, File: syntax.Parse(text), Set: &c.set, Load: c.load,
		Size: func(w analysis.Wanted) (int64, bool) { text, ok := c.files[w.Name]; return int64(len(text)), ok },
	})
	if err != nil {
		t.Fatalf("%s: %v", c.name, err)
	}
	return r
}

// short writes the findings of the sources of a member with cases, and the titles
// of their rewrites.
func (c *goldenCase) short(t *testing.T) string {
	var b strings.Builder
	for _, l := range strings.Split(c.text, "\n") {
		if l == "" || strings.HasPrefix(l, "//") {
			continue
		}
		text := strings.ReplaceAll(strings.ReplaceAll(l, "|", "\n"), "¦", "|") + "\n"
		w := &goldenWriter{t: t, r: c.analyze(t, text), root: c.name, short: true, texts: map[string]string{c.name: text}}
		for _, p := range w.r.Includes() {
			w.texts[p] = c.files[p]
		}
		w.findings(context.Background())
		b.WriteString(l + "\n" + w.b.String())
	}
	return b.String()
}

// results writes all that is said of the source.
func (c *goldenCase) results(t *testing.T) string {
	if strings.HasSuffix(c.name, ".cases") {
		return c.short(t)
	}
	ctx := context.Background()
	r := c.analyze(t, c.text)
	w := &goldenWriter{t: t, r: r, root: c.name, texts: map[string]string{c.name: c.text}}
	paths := []string{c.name}
	for _, p := range r.Includes() {
		w.texts[p] = c.files[p]
		paths = append(paths, p)
	}
	w.findings(ctx)
	if c.ask["lines"] {
		w.lines(ctx)
	}
	if c.ask["fix"] {
		w.fix(ctx)
	}
	if c.ask["areas"] {
		w.areas()
	}
	for _, x := range []struct {
		what string
		tell func(path string)
	}{{"outline", w.outline}, {"hover", w.hovers}, {"places", w.places}} {
		if !c.ask[x.what] {
			continue
		}
		for _, p := range paths {
			w.heading(x.what + w.in(p))
			x.tell(p)
		}
	}
	return w.b.String()
}

// goldenWriter writes results as text.
type goldenWriter struct {
	t     *testing.T
	r     *analysis.Result
	root  string
	short bool              // findings and titles only
	texts map[string]string // by path
	b     strings.Builder
}

func (w *goldenWriter) printf(format string, args ...any) { fmt.Fprintf(&w.b, format, args...) }

func (w *goldenWriter) heading(s string) {
	if w.b.Len() > 0 {
		w.printf("\n")
	}
	w.printf("== %s\n", s)
}

// in names a file that is not the root.
func (w *goldenWriter) in(path string) string {
	if path == w.root {
		return ""
	}
	return " in " + path
}

// at is an offset as line and column, both from 1, columns in bytes.
func at(text string, off int) string {
	off = min(off, len(text))
	return fmt.Sprintf("%d:%d", 1+strings.Count(text[:off], "\n"), off-strings.LastIndexByte(text[:off], '\n'))
}

// span is a span as line:column-column, or with two lines where it has them.
func span(text string, s analysis.Span) string {
	a, b := at(text, s.Start), at(text, s.End)
	if line, col, _ := strings.Cut(b, ":"); strings.HasPrefix(a, line+":") {
		b = col
	}
	return a + "-" + b
}

// covered is the text that a span covers.
func covered(text string, s analysis.Span) string {
	if s.Start < 0 || s.End < s.Start || s.End > len(text) {
		return fmt.Sprintf("NO SPAN OF THE TEXT: %d to %d of %d", s.Start, s.End, len(text))
	}
	return fmt.Sprintf("%q", text[s.Start:s.End])
}

// place is a location with the text that it covers.
func (w *goldenWriter) place(l analysis.Location) string {
	text, ok := w.texts[l.Path]
	if !ok {
		return fmt.Sprintf("%s (not read) %d-%d", l.Path, l.Span.Start, l.Span.End)
	}
	s := span(text, l.Span) + " " + covered(text, l.Span)
	if l.Path != w.root {
		s = l.Path + " " + s
	}
	return s
}

// findings writes all findings, and below each one its rewrites in order.
func (w *goldenWriter) findings(ctx context.Context) {
	if !w.short {
		w.heading("findings")
	}
	acts := w.r.Actions(ctx, analysis.Span{End: len(w.texts[w.root])})
	for _, d := range w.r.Each() {
		tags := ""
		if d.Deprecated {
			tags += " deprecated"
		}
		if d.Unneeded {
			tags += " unneeded"
		}
		w.printf("%s %s %s%s\n    %s\n", w.place(d.Location), d.Severity, d.Code, tags, d.Message)
		for _, x := range d.Related {
			w.printf("    see %s\n        %s\n", w.place(x.Location), x.Message)
		}
		if d.Path != w.root {
			continue
		}
		for n := 1; len(acts) > 0 && acts[0].Code == d.Code && acts[0].Target == d.Span; n++ {
			if n > 1 && acts[0].Preferred {
				break // of a second finding at the same place
			}
			w.action(n, &acts[0])
			acts = acts[1:]
		}
	}
	for i := range acts {
		w.t.Errorf("%s: a rewrite of no finding, or out of order: %s", w.root, acts[i].Title)
	}
}

func (w *goldenWriter) action(n int, a *analysis.Action) {
	safe, preferred := "not safe", ""
	if a.Safe {
		safe = "safe"
	}
	if a.Preferred {
		preferred = ", preferred"
	}
	w.printf("  %d. %s\n     %s, %+d bytes, %s%s\n", n, a.Title, a.Rewrite, a.Bytes, safe, preferred)
	if !w.short {
		w.edits(a.Edits)
	}
}

// edits writes where edits are, and the lines that they change.
func (w *goldenWriter) edits(list []analysis.Edit) {
	text := w.texts[w.root]
	for i, e := range list {
		if e.Span.Start < 0 || e.Span.End < e.Span.Start || e.Span.End > len(text) || i > 0 && e.Span.Start < list[i-1].Span.End {
			w.t.Errorf("%s: edits overlap, are not in order, or lie outside: %v", w.root, list)
			return
		}
	}
	for len(list) > 0 {
		// The lines of the first edit, and of those that touch them.
		from := 1 + strings.LastIndexByte(text[:list[0].Span.Start], '\n')
		to, n := from, 0
		var b strings.Builder
		var spans []string
		pos := from
		for ; n < len(list) && (n == 0 || list[n].Span.Start <= to); n++ {
			e := list[n]
			to = len(text)
			if i := strings.IndexByte(text[e.Span.End:], '\n'); i >= 0 {
				to = e.Span.End + i
			}
			b.WriteString(text[pos:e.Span.Start] + e.New)
			pos = e.Span.End
			spans = append(spans, span(text, e.Span))
		}
		b.WriteString(text[pos:to])
		w.printf("     at %s\n", strings.Join(spans, ", "))
		w.b.WriteString(lineDiff(text[from:to], b.String()))
		list = list[n:]
	}
}

// lineDiff lists the lines that differ between two texts, those in front of the
// first difference and after the last one left out.
func lineDiff(before, after string) string {
	x, y := strings.Split(before, "\n"), strings.Split(after, "\n")
	for len(x) > 0 && len(y) > 0 && x[0] == y[0] {
		x, y = x[1:], y[1:]
	}
	for len(x) > 0 && len(y) > 0 && x[len(x)-1] == y[len(y)-1] {
		x, y = x[:len(x)-1], y[:len(y)-1]
	}
	var b strings.Builder
	for _, l := range x {
		b.WriteString("     - " + strings.ReplaceAll(l, "\r", `\r`) + "\n")
	}
	for _, l := range y {
		b.WriteString("     + " + strings.ReplaceAll(l, "\r", `\r`) + "\n")
	}
	return b.String()
}

// lines writes which rewrites are offered for each line only.
func (w *goldenWriter) lines(ctx context.Context) {
	w.heading("rewrites by line")
	text, off := w.texts[w.root], 0
	for n, l := range strings.SplitAfter(text, "\n") {
		s := analysis.Span{Start: off, End: off + len(strings.TrimRight(l, "\r\n"))}
		off += len(l)
		for _, a := range w.r.Actions(ctx, s) {
			w.printf("%d: %s of %s at %s\n", n+1, a.Rewrite, a.Code, span(text, a.Target))
		}
	}
}

// fix writes what the safe rewrites come to.
func (w *goldenWriter) fix(ctx context.Context) {
	w.heading("all safe rewrites")
	w.edits(w.r.SafeFixes(ctx, ""))
}

// areas writes what holds where.
func (w *goldenWriter) areas() {
	w.heading("areas")
	for _, g := range w.r.Regions() {
		syn := "divided"
		if g.Unified {
			syn = "unified"
		}
		w.printf("%s %s %s %s\n", span(w.texts[w.root], g.Span), g.State, syn, g.Target)
	}
	for _, l := range w.r.Inactive() {
		w.printf("left out: %s\n", w.place(l))
	}
	for _, p := range w.r.Includes() {
		w.printf("included: %s\n", p)
	}
}

var symbolKinds = map[analysis.SymbolKind]string{
	analysis.SymCode: "code", analysis.SymFunction: "function", analysis.SymData: "data", analysis.SymConstant: "constant",
	analysis.SymRegister: "register", analysis.SymSection: "section", analysis.SymMacro: "macro",
}

func (w *goldenWriter) outline(path string) {
	w.symbols(path, w.r.SymbolsIn(path), "")
	if path == w.root && !reflect.DeepEqual(w.r.Symbols(), w.r.SymbolsIn(path)) {
		w.t.Errorf("%s: the root's outline differs with its path", path)
	}
}

func (w *goldenWriter) symbols(path string, list []analysis.DocSymbol, indent string) {
	text := w.texts[path]
	for _, s := range list {
		w.printf("%s%s %s %q\n%s    all %s, name %s %s\n", indent, symbolKinds[s.Kind], s.Name, s.Detail, indent, span(text, s.Full), span(text, s.NameSpan), covered(text, s.NameSpan))
		w.symbols(path, s.Children, indent+"  ")
	}
}

// hovers writes the hovers at all offsets, each once for neighbours that have
// the same.
func (w *goldenWriter) hovers(path string) {
	text := w.texts[path]
	var last analysis.Hover
	for off := 0; off <= len(text); off++ {
		h, ok := w.r.HoverIn(path, off)
		if !ok || h == last {
			continue
		}
		last = h
		outside := ""
		if off < h.Span.Start || off > h.Span.End {
			outside = " FOR " + at(text, off)
		}
		w.printf("%s %s%s\n    %s\n", span(text, h.Span), covered(text, h.Span), outside, strings.ReplaceAll(h.Markdown, "\n", "\n    "))
	}
}

// places writes the definitions and references at all offsets, in one line for
// neighbours that have the same.
func (w *goldenWriter) places(path string) {
	text := w.texts[path]
	last, from := "", 0
	for off := 0; off <= len(text)+1; off++ {
		s := ""
		if off <= len(text) {
			for _, l := range w.r.DefinitionIn(path, off) {
				s += "    defined at " + w.place(l) + "\n"
			}
			for _, l := range w.r.ReferencesIn(path, off) {
				s += "    named at " + w.place(l) + "\n"
			}
		}
		if s == last {
			continue
		}
		if last != "" {
			where := analysis.Span{Start: from, End: off - 1}
			w.printf("%s %s\n%s", span(text, where), covered(text, where), last)
		}
		last, from = s, off
	}
}
