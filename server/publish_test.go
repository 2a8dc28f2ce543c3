package server

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
)

// messages are the findings that the client has been sent so far about a
// document, in order: the version and the number of findings of each message.
func (c *client) messages(uri string) (out []string) {
	c.t.Helper()
	for _, p := range c.publishes(uri) {
		v := 0
		if p.Version != nil {
			v = int(*p.Version)
		}
		out = append(out, fmt.Sprintf("%d:%d", v, len(p.Diagnostics)))
	}
	return out
}

// barrier is a toy analysis that waits where the text says so.
type barrier struct {
	begun chan string   // the texts that wait
	open  chan struct{} // lets those with "wait" go on
	count sync.Map      // of analyses, by path
}

// await waits for something that has to come.
func await[T any](t *testing.T, what string, from <-chan T) {
	t.Helper()
	select {
	case <-from:
	case <-time.After(patience):
		t.Fatalf("%s does not come", what)
	}
}

func newBarrier() *barrier {
	return &barrier{begun: make(chan string, 1000), open: make(chan struct{})}
}

func (g *barrier) analyze(ctx context.Context, in *analysis.Input) (facts, error) {
	n, _ := g.count.LoadOrStore(filepath.Base(in.Path), new(atomic.Int32))
	n.(*atomic.Int32).Add(1)
	if text := in.File.Text(); strings.Contains(text, "wait") {
		g.begun <- text
		select {
		case <-g.open:
		case <-ctx.Done():
		}
	}
	return toyAnalyze(ctx, in)
}

func (g *barrier) analyses(path string) int {
	n, ok := g.count.Load(filepath.Base(path))
	if !ok {
		return 0
	}
	return int(n.(*atomic.Int32).Load())
}

// What only depends on a change waits, however many changes come, and what
// was closed meanwhile does not count.
func TestDependentsWait(t *testing.T) {
	dir := t.TempDir()
	uri := func(name string) string { return fileURI(filepath.Join(dir, name)) }
	g := newBarrier()
	c := dial(t, Options{analyze: g.analyze, DependentsDelay: time.Hour})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	// Of two roots the first speaks for the file, the other only depends on it.
	for _, name := range []string{"a.s", "b.s", "z.inc"} {
		c.open(uri(name), 1, "ok")
		c.findings(uri(name), 1, 0)
	}
	for _, name := range []string{"a.s", "b.s"} {
		c.replace(uri(name), 2, `include "z.inc" bad bad`)
		c.findings(uri(name), 2, 2)
	}
	for _, name := range []string{"gone1.s", "gone2.s"} {
		c.open(uri(name), 1, "wait")
		await(t, "the analysis", g.begun)
		c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": uri(name)}})
		c.reply(c.start("textDocument/hover", at(uri(name), 0, 0))) // the close has come
	}
	before := g.analyses("b.s")
	for v := 2; v <= 21; v++ {
		c.replace(uri("z.inc"), v, strings.Repeat("meh ", v))
		c.findings(uri("z.inc"), v, v)
	}
	if n := g.analyses("b.s") - before; n != 0 {
		t.Errorf("the other root was analysed %d times within its delay", n)
	}
	// A change of its own is looked at, at once.
	c.replace(uri("b.s"), 3, `include "z.inc" bad bad bad`)
	c.findings(uri("b.s"), 3, 3)
}

// A file that two open roots include has each finding once.
func TestFindingOfTwoRoots(t *testing.T) {
	dir := t.TempDir()
	part := filepath.Join(dir, "part.inc")
	write(t, part, "bad meh")
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	for i, name := range []string{"a.s", "b.s", "c.s"} {
		c.open(fileURI(filepath.Join(dir, name)), 1, strings.Repeat("ok ", i)+`include "part.inc"`)
		c.findings(fileURI(filepath.Join(dir, name)), 1, 0)
	}
	c.findings(fileURI(part), 0, 2)
	c.open(fileURI(part), 7, "bad meh")
	c.findings(fileURI(part), 7, 2)
	for _, p := range c.messages(fileURI(part)) {
		if !strings.HasSuffix(p, ":2") {
			t.Errorf("published %s", c.messages(fileURI(part)))
		}
	}
	// Closed one after the other, the last root still speaks for it.
	c.forget()
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(part)}})
	c.findings(fileURI(part), 0, 2)
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(filepath.Join(dir, "a.s"))}})
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(filepath.Join(dir, "b.s"))}})
	c.forget()
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(filepath.Join(dir, "c.s"))}})
	c.findings(fileURI(part), 0, 0)
}

// Lines that are not assembled are greyed out for a client that can, and only
// there.
func TestInactiveLines(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\t.if 0\n\tmovs r0, #1\n\tmovs r0, #2\n\t.endif\n\tbx lr\n"
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, text)
	d := c.findings(doc, 1, 1).Diagnostics[0]
	if d.Message != "Not assembled: its condition is not met." || d.Code != nil || d.Source != "narrowgauge" || d.Severity != protocol.DiagnosticSeverityHint ||
		len(d.Tags) != 1 || d.Tags[0] != protocol.DiagnosticTagUnnecessary || fmt.Sprint(d.Range) != "{{2 6} {5 0}}" {
		t.Errorf("%+v", d)
	}
	c = dial(t, Options{})
	c.initialize(obj{}, nil)
	c.open(doc, 1, text)
	c.findings(doc, 1, 0)
}

// The analysis of a root that nobody has open ends when it is out of date, and
// is kept when it is not.
func TestHiddenRoot(t *testing.T) {
	dir := t.TempDir()
	part := filepath.Join(dir, "part.inc")
	write(t, filepath.Join(dir, "main.s"), "\t.include \"part.inc\"\ninclude \"part.inc\"\n") // for the search, and for the toy
	write(t, filepath.Join(dir, "other.s"), `other`)
	ended := make(chan struct{}, 100)
	begun := make(chan struct{}, 100)
	var wait atomic.Bool
	wait.Store(true)
	var count atomic.Int32
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		if filepath.Base(in.Path) == "main.s" {
			count.Add(1)
			if wait.Load() {
				in.Load(analysis.Wanted{From: in.Path, Name: "part.inc"})
				begun <- struct{}{}
				<-ctx.Done()
				ended <- struct{}{}
			}
		}
		return toyAnalyze(ctx, in)
	}})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(fileURI(part), 1, "bad")
	await(t, "the analysis of the root", begun)
	wait.Store(false)
	c.replace(fileURI(part), 2, "bad bad")
	await(t, "its end", ended)
	c.findings(fileURI(part), 2, 2)
	// Another document changes nothing about it.
	n := count.Load()
	for i := range 5 {
		other := fileURI(filepath.Join(dir, fmt.Sprintf("yard%d.s", i)))
		c.open(other, 1, "meh")
		c.findings(other, 1, 1)
	}
	call[hover](c, "textDocument/hover", at(fileURI(part), 0, 1))
	if got := count.Load(); got != n {
		t.Errorf("analysed %d times more", got-n)
	}
}

// A file that has changed on disk is read again: another time is enough; and if
// the editor says so, none is needed.
func TestDiskChanges(t *testing.T) {
	for _, method := range []string{"workspace/didChangeWatchedFiles", "textDocument/didSave"} {
		t.Run(method, func(t *testing.T) {
			dir := t.TempDir()
			part, root := filepath.Join(dir, "part.inc"), fileURI(filepath.Join(dir, "main.s"))
			write(t, part, "bad one")
			c := dial(t, Options{analyze: toyAnalyze})
			c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
			c.open(root, 1, `include "part.inc"`)
			c.findings(root, 1, 0)
			c.findings(fileURI(part), 0, 1)
			say := func() {
				if method == "textDocument/didSave" {
					c.notify(method, obj{"textDocument": obj{"uri": fileURI(part)}})
				} else {
					c.notify(method, obj{"changes": []obj{{"uri": fileURI(part), "type": 2}}})
				}
			}
			// The same size, another time.
			write(t, part, "bad bad")
			touch(t, part, time.Minute)
			say()
			c.findings(fileURI(part), 0, 2)
			// The same size and time: when it is read the next time.
			info, err := os.Stat(part)
			if err != nil {
				t.Fatal(err)
			}
			write(t, part, "meh 321")
			if err := os.Chtimes(part, info.ModTime(), info.ModTime()); err != nil {
				t.Fatal(err)
			}
			c.forget()
			say()
			c.replace(root, 2, `include "part.inc" bad`)
			c.findings(root, 2, 1)
			if d := c.findings(fileURI(part), 0, 1).Diagnostics[0]; d.Code != "meh" {
				t.Errorf("%+v", d)
			}
		})
	}
}

// One analysis gets one answer to one question, whatever happens on disk, from
// however many goroutines it asks.
func TestLoaderIsSteady(t *testing.T) {
	dir := t.TempDir()
	part := filepath.Join(dir, "part.inc")
	write(t, part, "first")
	for i := range 50 {
		write(t, filepath.Join(dir, fmt.Sprintf("p%d.inc", i)), "part")
	}
	wrong := make(chan string, 100)
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		ask := func(name string) string {
			_, f, ok := in.Load(analysis.Wanted{From: in.Path, Name: name})
			if !ok {
				return "nothing"
			}
			return f.Text()
		}
		if got := ask("part.inc") + ", " + ask("later.inc"); got != "first, nothing" {
			wrong <- got
		}
		write(t, part, "second, and longer")
		write(t, filepath.Join(dir, "later.inc"), "here")
		if got := ask("part.inc") + ", " + ask("later.inc"); got != "first, nothing" {
			wrong <- "later: " + got
		}
		var group sync.WaitGroup
		for g := range 8 {
			group.Go(func() {
				for i := range 400 {
					ask(fmt.Sprintf("p%d.inc", (i+g)%100))
				}
			})
		}
		group.Wait()
		return toyAnalyze(ctx, in)
	}})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(fileURI(filepath.Join(dir, "main.s")), 1, "bad")
	c.findings(fileURI(filepath.Join(dir, "main.s")), 1, 1)
	select {
	case got := <-wrong:
		t.Error(got)
	default:
	}
}
