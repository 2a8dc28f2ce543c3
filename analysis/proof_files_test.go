package analysis

import (
	"context"
	"flag"
	"fmt"
	"github.com/rogpeppe/go-internal/txtar"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/isa/reftest"
)

// Update: tests write the expected parts of the files in testdata.
var Update = flag.Bool("update", false, "write the expected parts of the files in testdata")

// rewriteFile is a before/after file. Its header says which rewrite is meant,
// and what the lines of the file are like:
//
//	rewrite: move-shift
//	arch: armv6-m   (default armv4t)
//	crlf: yes       (the lines end in CR LF)
//	nth: 2          (the second offer of that rewrite; default the first)
//
// before.s is the text, action what is offered, after.s the result.
type rewriteFile struct {
	rewrite, arch string
	nth           int
	crlf          bool
	guess         bool // the target is guessed
	before        string
	action, after string
}

func readRewriteFile(t *testing.T, path string) (rewriteFile, *txtar.Archive) {
	t.Helper()
	ar, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	f := rewriteFile{arch: DefaultArch, nth: 1}
	for _, l := range strings.Split(string(ar.Comment), "\n") {
		key, v, _ := strings.Cut(l, ": ")
		switch key {
		case "rewrite":
			f.rewrite = v
		case "arch":
			f.arch = v
		case "nth":
			if _, err := fmt.Sscan(v, &f.nth); err != nil {
				t.Fatal(err)
			}
		case "crlf":
			f.crlf = v == "yes"
		case "guess":
			f.guess = v == "yes"
		}
	}
	for _, p := range ar.Files {
		switch p.Name {
		case "before.s":
			f.before = string(p.Data)
		case "action":
			f.action = string(p.Data)
		case "after.s":
			f.after = string(p.Data)
		}
	}
	if f.crlf {
		f.before = strings.ReplaceAll(f.before, "\n", "\r\n")
	}
	return f, ar
}

// TestRewriteFiles holds the offers for whole files to the letter: title,
// cost, and text. The text afterwards assembles, and has every line that the
// finding is not about as it was.
func TestRewriteFiles(t *testing.T) {
	t.Parallel()
	paths, err := filepath.Glob("testdata/rewrites/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	files := map[string]int{}
	asked := reftest.Sample(paths, 9)
	for _, path := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txtar"), func(t *testing.T) {
			f, ar := readRewriteFile(t, path)
			files[f.rewrite]++
			set := &Settings{Arch: f.arch}
			var acts []rewrite.Action
			r := analyze(t, set, f.before)
			if f.guess {
				r = guessed(t, f.before)
			}
			for _, a := range r.Actions(context.Background(), finding.Span{Start: 0, End: len(f.before)}) {
				if a.Rewrite == f.rewrite {
					acts = append(acts, a)
				}
			}
			if len(acts) < f.nth {
				t.Fatalf("%d offers of %s:\n%s", len(acts), f.rewrite, f.before)
			}
			a := acts[f.nth-1]
			after := apply(f.before, a.Edits)
			action := fmt.Sprintf("title: %s\nfinding: %s\nsafe: %v\npreferred: %v\nbytes: %+d\n", a.Title, a.Code, a.Safe, a.Preferred, a.Bytes)
			if f.crlf && strings.Count(after, "\n") != strings.Count(after, "\r\n") {
				t.Errorf("line ends are mixed: %q", after)
			}
			keepsOtherLines(t, f.before, after, a)
			plain := after
			if f.crlf {
				plain = strings.ReplaceAll(after, "\r\n", "\n")
			}
			if *Update {
				ar.Files = slices.DeleteFunc(ar.Files, func(p txtar.File) bool { return p.Name != "before.s" })
				ar.Files = append(ar.Files, txtar.File{Name: "action", Data: []byte(action)}, txtar.File{Name: "after.s", Data: []byte(plain)})
				if err := os.WriteFile(path, txtar.Format(ar), 0o644); err != nil {
					t.Fatal(err)
				}
			} else if action != f.action || plain != f.after {
				t.Errorf("got\n%s\n%s\nwant\n%s\n%s", action, plain, f.action, f.after)
			}
			if !slices.Contains(asked, path) {
				return
			}
			reftest.Require(t, "arm-none-eabi-as")
			if out := reftest.AssembleFile(t, reftest.Options{Arch: f.arch, Thumb: strings.HasSuffix(f.arch, "-m")}, after); !out.OK {
				t.Errorf("refused, lines %v:\n%s", out.ErrorLines, after)
			}
		})
	}
	for _, w := range rewrite.Rewrites() {
		if files[w.Name] < 2 {
			t.Errorf("%d before/after files of %s; two at least", files[w.Name], w.Name)
		}
	}
}

// keepsOtherLines checks that all lines but those that the edits touch come
// out as they were, in order, and that no comment is lost.
func keepsOtherLines(t *testing.T, before, after string, a rewrite.Action) {
	t.Helper()
	touched := map[int]bool{}
	for _, e := range a.Edits {
		atEnd := strings.HasPrefix(strings.TrimLeft(e.New, "\r"), "\n")
		atStart := e.Span.Start == 0 || before[e.Span.Start-1] == '\n'
		if e.Span.End > e.Span.Start || !atEnd && !atStart {
			for n := strings.Count(before[:e.Span.Start], "\n"); n <= strings.Count(before[:e.Span.End], "\n"); n++ {
				touched[n] = true
			}
		}
	}
	rest := strings.Split(after, "\n")
	for n, l := range strings.Split(before, "\n") {
		if touched[n] {
			if i := strings.IndexByte(l, '@'); i >= 0 && !strings.Contains(after, strings.TrimRight(l[i:], "\r")) {
				t.Errorf("the comment of line %d is lost", n+1)
			}
			continue
		}
		i := slices.IndexFunc(rest, func(x string) bool { return strings.TrimRight(x, "\r") == strings.TrimRight(l, "\r") })
		if i < 0 {
			t.Errorf("line %d is not as it was: %q", n+1, l)
			continue
		}
		rest = rest[i+1:]
	}
}
