package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/cmd/lsp/save"
	"narrowgauge/server/project"
)

func TestMain(m *testing.M) {
	testscript.Main(cleaning{m}, map[string]func(){"narrowgauge": main})
}

// cleaning runs the tests with a journal of their own, not that of whoever runs them.
type cleaning struct{ *testing.M }

func (c cleaning) Run() int {
	dir, err := os.MkdirTemp("", "narrowgauge-state")
	if err == nil {
		defer os.RemoveAll(dir)
		err = os.Setenv("XDG_STATE_HOME", dir)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return c.M.Run()
}

func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{Dir: "testdata/script", UpdateScripts: *update,
		Setup: func(env *testscript.Env) error {
			env.Setenv("XDG_STATE_HOME", filepath.Join(env.WorkDir, "state"))
			return nil
		},
		Condition: func(cond string) (bool, error) {
			if cond != "anyuser" {
				return false, fmt.Errorf("unknown condition %q", cond)
			}
			return os.Geteuid() > 0, nil // permissions do not hold for root
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"status": status, "fill": fill, "fifo": fifo}})
}

// fill is the script command "fill FILE [N TEXT]...": the file has each text, in which \t, \n
// and \x00 are what they are in Go, so many times.
func fill(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args)%2 == 0 {
		ts.Fatalf("usage: fill FILE [N TEXT]...")
	}
	var b strings.Builder
	for i := 1; i < len(args); i += 2 {
		n, err := strconv.Atoi(args[i])
		ts.Check(err)
		text, err := strconv.Unquote(`"` + args[i+1] + `"`)
		ts.Check(err)
		b.WriteString(strings.Repeat(text, n))
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), []byte(b.String()), 0o644))
}

// status is the script command "status N COMMAND...": the command ends with
// exactly this status.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N COMMAND...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%v", err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("%s ends with status %d, not %d", strings.Join(args[1:], " "), got, want)
	}
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

// The underline is under the span, whatever is before it.
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
    ⋮
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

// A reader of the file sees the old text or the new one, the mode stays, and
// so does a link to it. Where it cannot be replaced, nothing is left behind.
func TestReplace(t *testing.T) {
	for _, mode := range []os.FileMode{0o640, 0o600, 0o755, 0o604, 0o440} {
		dir := t.TempDir()
		file, link := filepath.Join(dir, "box.s"), filepath.Join(dir, "link.s")
		if err := os.WriteFile(file, []byte("old"), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(file, mode); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink("box.s", link); err != nil {
			t.Skip(err)
		}
		reader, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		before, _ := reader.Stat()
		if err := replaceFile(link, "new"); err != nil {
			t.Fatal(err)
		}
		got, _ := os.ReadFile(file)
		info, _ := os.Stat(file)
		l, _ := os.Lstat(link)
		if string(got) != "new" || info.Mode().Perm() != mode || l.Mode()&os.ModeSymlink == 0 {
			t.Errorf("%v: %q %v %v", mode, got, info.Mode(), l.Mode())
		}
		if os.SameFile(before, info) {
			t.Errorf("%v: written in place", mode)
		}
		old := make([]byte, 10)
		if n, _ := reader.Read(old); string(old[:n]) != "old" {
			t.Errorf("%v: whoever reads it sees %q", mode, old[:n])
		}
		_ = reader.Close()
		onlyFiles(t, dir, "box.s", "link.s")
	}
	dir := t.TempDir()
	if err := os.MkdirAll(filepath.Join(dir, "taken.s", "x"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := replaceFile(filepath.Join(dir, "taken.s"), "new"); err == nil {
		t.Error("a folder is replaced by a file")
	}
	onlyFiles(t, dir, "taken.s")
	if err := replaceFile(filepath.Join(dir, "missing.s"), "new"); err == nil {
		t.Error("a file that is not there is replaced")
	}
	onlyFiles(t, dir, "taken.s")
}

// replaceFile replaces a file as fix does one that is named.
func replaceFile(path, text string) error {
	was, err := os.Stat(path)
	if err != nil {
		return err
	}
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	return replaceIn(project.NewBounds().Named(path), path, was, string(old), text)
}

// replaceIn replaces a file, a read-only one too.
func replaceIn(within *project.Bounds, path string, was fs.FileInfo, old, now string) error {
	place, err := within.Real(path)
	if err != nil {
		return err
	}
	return replace(place, save.Change{Was: was, Old: []byte(old), New: []byte(now), Force: true})
}

func onlyFiles(t *testing.T, dir string, want ...string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		got = append(got, e.Name())
	}
	if !slices.Equal(got, want) {
		t.Errorf("files %v, want %v", got, want)
	}
}

// A rewrite is shown by the lines that it changes, those of places apart
// apart; long ones are cut.
func TestRewriteShown(t *testing.T) {
	many := func(n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "\tnop @ %d\n", i+1)
		}
		return b.String()
	}
	shown := func(sign string, n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, "    %s         nop @ %d\n", sign, i+1)
		}
		return b.String()
	}
	const text = "one\ntwo\nthree\nfour\nfive\nsix\nseven"
	edit := func(text, part, with string) analysis.Edit {
		return analysis.Edit{Span: spanOf(text, part), New: with}
	}
	for _, tt := range []struct {
		name, text string
		safe       bool
		edits      []analysis.Edit
		want       string
	}{
		{"safe", text, true, []analysis.Edit{edit(text, "two", "2")}, "  rewrite: T\n    - two\n    + 2\n"},
		{"to be looked at", text, false, []analysis.Edit{edit(text, "two", "2")}, "  rewrite: T (review before use)\n    - two\n    + 2\n"},
		{"lines apart", text, true, []analysis.Edit{edit(text, "two", "2"), edit(text, "six", "6")},
			"  rewrite: T\n    - two\n    + 2\n    ⋮\n    - six\n    + 6\n"},
		{"neighbours", text, true, []analysis.Edit{edit(text, "two", "2"), edit(text, "three", "3")},
			"  rewrite: T\n    - two\n    + 2\n    - three\n    + 3\n"},
		{"one line", text, true, []analysis.Edit{edit(text, "thr", "T"), edit(text, "ee", "E")}, "  rewrite: T\n    - three\n    + TE\n"},
		{"from where the one before ends", text, true, []analysis.Edit{edit(text, "two\nth", "2"), edit(text, "ree", "3")}, "  rewrite: T\n    - two\n    - three\n    + 23\n"},
		{"a line put in", text, true, []analysis.Edit{edit(text, "two\n", "two\n2\n")}, "  rewrite: T\n    + 2\n"},
		{"a line taken out", text, true, []analysis.Edit{edit(text, "two\n", "")}, "  rewrite: T\n    - two\n"},
		{"a line taken out above an empty one", "one\ntwo\n\nthree\n", true, []analysis.Edit{edit("one\ntwo\n\nthree\n", "two\n", "")}, "  rewrite: T\n    - two\n"},
		{"the last line", text, true, []analysis.Edit{edit(text, "seven", "7")}, "  rewrite: T\n    - seven\n    + 7\n"},
		{"carriage returns", "one\r\ntwo\r\n", true, []analysis.Edit{edit("one\r\ntwo\r\n", "two", "2")}, "  rewrite: T\n    - two\n    + 2\n"},
		{"as many lines as are shown", text, true, []analysis.Edit{edit(text, "two\n", many(8))}, "  rewrite: T\n    - two\n" + shown("+", 8)},
		{"a line more", text, true, []analysis.Edit{edit(text, "two\n", many(9))}, "  rewrite: T\n    - two\n" + shown("+", 8) + "    + (1 more lines)\n"},
		{"many lines taken out", many(11) + "end", true, []analysis.Edit{edit(many(11), many(11), "")}, "  rewrite: T\n" + shown("-", 8) + "    - (3 more lines)\n"},
	} {
		p, f := fakeProgram(tt.text)
		r := &renderer{p: p, best: map[findingKey]analysis.Action{{"code", tt.edits[0].Span}: {Title: "T", Safe: tt.safe, Edits: tt.edits}}}
		got := r.finding(analysis.Diagnostic{Location: analysis.Location{Path: "box.s", Span: tt.edits[0].Span}, Code: "code"}, f)
		if i := strings.Index(got, "  rewrite:"); i < 0 || got[i:] != tt.want {
			t.Errorf("%s: got\n%swant\n%s", tt.name, got, tt.want)
		}
	}
}

// A note in another file has its place there, and a finding in another file has
// no rewrite, even where one has the same place in the root.
func TestFindingInOtherFile(t *testing.T) {
	p, f := fakeProgram("bad\n")
	part := syntax.Parse("\tnop\n\n\tfirst bad\n")
	p.files["part.inc"] = part
	span := analysis.Span{Start: 0, End: 3}
	r := &renderer{p: p, best: map[findingKey]analysis.Action{{"code", span}: {Title: "T", Edits: []analysis.Edit{{Span: span, New: "good"}}}}}
	d := analysis.Diagnostic{Location: analysis.Location{Path: "box.s", Span: span}, Severity: analysis.Error, Code: "code", Message: "m",
		Related: []analysis.Related{{Location: analysis.Location{Path: "part.inc", Span: spanOf(part.Text(), "first")}, Message: "here"}, {Location: analysis.Location{Path: "gone.inc"}, Message: "nowhere"}}}
	const want = "box.s:1:1: error: m [code]\n    1 | bad\n      | ^~~\n  part.inc:3:2: note: here\n    3 |         first bad\n      |         ^~~~~\n  rewrite: T (review before use)\n    - bad\n    + good\n"
	if got := r.finding(d, f); got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	d.Path, d.Related = "part.inc", nil
	if got := r.finding(d, part); got != "part.inc:1:1: error: m [code]\n    1 |         nop\n      | ^~~~~~~~~~\n" {
		t.Errorf("got\n%s", got)
	}
}

// Nothing in a source or a message reorders or steers what is printed: what
// does so is replaced, what merely looks like it is not.
func TestControlCharacters(t *testing.T) {
	for c := rune(0); c < 0x3000; c++ {
		bad := c < ' ' && c != '\t' || c >= 0x7f && c < 0xa0 ||
			c >= 0x202a && c <= 0x202e || c >= 0x2066 && c <= 0x2069 // Unicode Standard Annex 9, explicit formatting characters
		want := "a" + string(c) + "b"
		switch {
		case bad:
			want = "a\uFFFDb"
		case c == '\t':
			want = "a b"
		}
		if got := clean("a" + string(c) + "b"); got != want {
			t.Errorf("%U: %q, want %q", c, got, want)
		}
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
