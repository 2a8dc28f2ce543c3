package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/server/project"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"narrowgauge": main})
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", UpdateScripts: os.Getenv("UPDATE") != ""})
}

func fakeProgram(text string) (*program, *syntax.File) {
	f := syntax.Parse(text)
	return &program{
		source: source{path: "box.s"},
		in:     &analysis.Input{Path: "box.s", File: f},
		files:  map[string]*syntax.File{"box.s": f},
	}, f
}

func spanOf(text, part string) analysis.Span {
	at := strings.Index(text, part)
	return analysis.Span{Start: at, End: at + len(part)}
}

// The underline stands under the span, whatever stands before it.
func TestExcerpt(t *testing.T) {
	for _, tt := range []struct{ line, mark, want string }{
		{"\tmovs r0, #1", "r0", "" +
			"    1 |         movs r0, #1\n" +
			"      |              ^~\n"},
		{"a\tb\tc", "\tc", "" +
			"    1 | a       b       c\n" +
			"      |          ^~~~~~~~\n"},
		{"駅 é\u0301x bad", "bad", "" + // wide, then combining
			"    1 | 駅 é\u0301x bad\n" +
			"      |       ^~~\n"},
		{"x 駅駅 y", "駅駅", "" +
			"    1 | x 駅駅 y\n" +
			"      |   ^~~~\n"},
		{"\x1b[31mred\r bad", "bad", "" + // no way to steer the terminal
			"    1 | \uFFFD[31mred\uFFFD bad\n" +
			"      |           ^~~\n"},
		{"\xff\xfe bad\r\n", "bad", "" +
			"    1 | \uFFFD\uFFFD bad\n" +
			"      |    ^~~\n"},
		{"end", "", "" +
			"    1 | end\n" +
			"      | ^\n"},
	} {
		p, f := fakeProgram(tt.line)
		var b strings.Builder
		(&renderer{p: p}).excerpt(&b, spanOf(tt.line, tt.mark), f, func(s string) string { return s })
		if b.String() != tt.want {
			t.Errorf("%q:\n%swant\n%s", tt.line, b.String(), tt.want)
		}
	}
}

func TestFindingWithRewrite(t *testing.T) {
	const text = "one\n\tbad x\nthree\nfour bad\n"
	p, f := fakeProgram(text)
	span := spanOf(text, "bad")
	pool := len(text)
	r := &renderer{p: p, best: map[findingKey]analysis.Action{{"code", span}: {
		Title: "make it good", Edits: []analysis.Edit{{Span: span, New: "good"}, {Span: analysis.Span{Start: pool, End: pool}, New: "\t.ltorg\n"}},
	}}}
	got := r.finding(analysis.Diagnostic{
		Location: analysis.Location{Path: "box.s", Span: span}, Severity: analysis.Warning, Code: "code", Message: "this is bad",
		Related: []analysis.Related{{Location: analysis.Location{Path: "box.s", Span: spanOf(text, "three")}, Message: "because of this"}},
	}, f)
	const want = `box.s:2:2: warning: this is bad [code]
    2 |         bad x
      |         ^~~
  box.s:3:1: note: because of this
    3 | three
      | ^~~~~
  rewrite: make it good (review before use)
    -         bad x
    +         good x
    +         .ltorg
`
	if got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
}

func TestApply(t *testing.T) {
	e := func(a, b int, s string) analysis.Edit {
		return analysis.Edit{Span: analysis.Span{Start: a, End: b}, New: s}
	}
	for _, tt := range []struct {
		edits []analysis.Edit
		want  string
		ok    bool
	}{
		{nil, "abcdef", true},
		{[]analysis.Edit{e(0, 1, "X"), e(1, 1, "Y"), e(6, 6, "Z")}, "XYbcdefZ", true},
		{[]analysis.Edit{e(0, 2, ""), e(1, 3, "")}, "", false},
		{[]analysis.Edit{e(4, 7, "")}, "", false},
		{[]analysis.Edit{e(-1, 0, "")}, "", false},
		{[]analysis.Edit{e(3, 2, "")}, "", false},
	} {
		got, err := apply("abcdef", tt.edits)
		if got != tt.want || (err == nil) != tt.ok {
			t.Errorf("%v: %q %v", tt.edits, got, err)
		}
	}
}

func TestReplaceKeepsModeAndLink(t *testing.T) {
	dir := t.TempDir()
	file, link := filepath.Join(dir, "box.s"), filepath.Join(dir, "link.s")
	if err := os.WriteFile(file, []byte("old"), 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("box.s", link); err != nil {
		t.Skip(err)
	}
	was, err := os.Stat(link)
	if err != nil {
		t.Fatal(err)
	}
	if err := replace(project.NewBounds().Named(link), link, was, "new"); err != nil {
		t.Fatal(err)
	}
	got, _ := os.ReadFile(file)
	info, _ := os.Stat(file)
	l, _ := os.Lstat(link)
	if string(got) != "new" || info.Mode().Perm() != 0o640 || l.Mode()&os.ModeSymlink == 0 {
		t.Errorf("%q %v %v", got, info.Mode(), l.Mode())
	}
	if rest, _ := filepath.Glob(filepath.Join(dir, ".narrowgauge-*")); rest != nil {
		t.Errorf("left behind: %v", rest)
	}
}

func TestColour(t *testing.T) {
	if s := styleFor(&strings.Builder{}); s.on {
		t.Error("colour on something that is no terminal")
	}
	if got := (style{true}).severity(analysis.Error, "x"); got != "\x1b[1;31mx\x1b[0m" {
		t.Errorf("%q", got)
	}
	if got := (style{}).bold("x"); got != "x" {
		t.Errorf("%q", got)
	}
}
