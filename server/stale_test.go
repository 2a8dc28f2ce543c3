package server

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
	"narrowgauge/server/project"
)

// reached waits until the server has taken in all that was sent.
func (c *client) reached() { c.reply(c.start("no/such", nil)) }

// publishes are the findings that a document has been given so far.
func (c *client) publishes(uri string) (out []publishParams) {
	c.t.Helper()
	for _, m := range c.heard("textDocument/publishDiagnostics") {
		var p publishParams
		if err := json.Unmarshal(m.Params, &p); err != nil {
			c.t.Fatal(err)
		}
		if p.URI == uri {
			out = append(out, p)
		}
	}
	return out
}

// gate holds analyses of sources that contain a word, whatever their context says.
type gate struct {
	mu    sync.Mutex
	word  string
	open  chan struct{}
	began chan string // the texts that are held
}

func newGate(word string) *gate {
	return &gate{word: word, open: make(chan struct{}), began: make(chan string, 1000)}
}

// set holds another word from now on, and lets go what is held.
func (g *gate) set(word string) {
	g.mu.Lock()
	defer g.mu.Unlock()
	close(g.open)
	g.word, g.open = word, make(chan struct{})
}

func (g *gate) analyze(ctx context.Context, in *analysis.Input) (facts, error) {
	g.mu.Lock()
	word, open := g.word, g.open
	g.mu.Unlock()
	if word != "" && strings.Contains(in.File.Text(), word) {
		g.began <- in.File.Text()
		<-open
	}
	t := &toy{in: in, texts: map[string]string{}}
	t.visit(in.Path, in.File, 0)
	return t, nil // it has not noticed that it was cancelled
}

func (g *gate) client(t *testing.T) *client {
	c := dial(t, Options{analyze: g.analyze})
	t.Cleanup(func() { g.set("") })
	c.initialize(allCaps(), nil)
	return c
}

// An analysis that ends after its text has changed is not published.
func TestOvertaken(t *testing.T) {
	g := newGate("hold")
	c := g.client(t)
	c.open(doc, 1, "hold bad")
	<-g.began
	c.replace(doc, 2, "bad bad")
	c.reached()
	g.set("")
	c.findings(doc, 2, 2)
	// Now the other way round: what is held is the newer text.
	g.set("later")
	c.replace(doc, 3, "later bad")
	<-g.began
	c.replace(doc, 4, "later bad bad bad")
	c.reached()
	g.set("")
	c.findings(doc, 4, 3)
	last := int32(0)
	for _, p := range c.publishes(doc) {
		if p.Version == nil || *p.Version == 1 || *p.Version == 3 || *p.Version < last {
			t.Errorf("version %v comes after %d, or has been overtaken", p.Version, last)
			continue
		}
		last = *p.Version
	}
}

// What a root has said of a document before its last change is not said again
// under the new version, when another document is published.
func TestOlderPage(t *testing.T) {
	dir := t.TempDir()
	other, part, root := fileURI(filepath.Join(dir, "a.s")), fileURI(filepath.Join(dir, "m.s")), fileURI(filepath.Join(dir, "z.s"))
	g := newGate("")
	c := g.client(t)
	c.open(other, 1, "ok")
	c.open(part, 1, "bad bad")
	c.open(root, 1, `include "m.s"`)
	c.findings(root, 1, 0)
	c.findings(part, 1, 2)
	c.forget()
	// The root's next analysis takes long; meanwhile something else is published.
	g.set("include")
	c.replace(part, 2, "ok bad ok")
	<-g.began
	c.replace(other, 2, "bad")
	c.reached()
	g.set("include") // the one that was cancelled ends, the next one is held
	c.findings(other, 2, 1)
	for _, p := range c.publishes(part) {
		if p.Version == nil || *p.Version != 2 || len(p.Diagnostics) != 1 {
			t.Errorf("published of a text that is gone: version %v, %d findings", p.Version, len(p.Diagnostics))
		}
	}
	g.set("")
	c.findings(part, 2, 1)
	c.reached()
	for _, p := range c.publishes(part) {
		if p.Version == nil || *p.Version != 2 || len(p.Diagnostics) != 1 {
			t.Errorf("published of a text that is gone: version %v, %d findings", p.Version, len(p.Diagnostics))
		}
	}
}

// What a root has said of a file on disk is not said of the buffer that is opened
// in its place.
func TestPageOfDisk(t *testing.T) {
	dir := t.TempDir()
	other, part, root := fileURI(filepath.Join(dir, "a.s")), fileURI(filepath.Join(dir, "m.s")), fileURI(filepath.Join(dir, "z.s"))
	write(t, filepath.Join(dir, "m.s"), "bad bad")
	g := newGate("")
	c := g.client(t)
	c.open(other, 1, "ok")
	c.open(root, 1, `include "m.s"`)
	c.findings(root, 1, 0)
	c.findings(part, 0, 2)
	c.forget()
	g.set("include")
	c.open(part, 5, "ok bad ok")
	<-g.began
	c.replace(other, 2, "bad")
	c.reached()
	g.set("include") // the one that was cancelled ends, the next one is held
	c.findings(other, 2, 1)
	g.set("")
	c.findings(part, 5, 1)
	for _, p := range c.publishes(part) {
		if p.Version == nil || *p.Version != 5 || len(p.Diagnostics) != 1 {
			t.Errorf("published of the disk: version %v, %d findings", p.Version, len(p.Diagnostics))
		}
	}
}

// After a document is closed nothing is said of it but that there is nothing.
func TestClosedWhileAnalysed(t *testing.T) {
	g := newGate("hold")
	c := g.client(t)
	c.open(doc, 1, "bad")
	c.findings(doc, 1, 1)
	c.replace(doc, 2, "hold bad bad")
	<-g.began
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": doc}})
	c.open("file:///box/other.s", 1, "bad")
	c.reached()
	g.set("")
	c.findings(doc, 0, 0)
	c.findings("file:///box/other.s", 1, 1)
	all := c.publishes(doc)
	if last := all[len(all)-1]; len(all) != 2 || len(last.Diagnostics) != 0 {
		t.Errorf("%+v", all)
	}
	// Opened again with the version that it began with: its findings come again.
	c.forget()
	c.open(doc, 1, "bad")
	c.findings(doc, 1, 1)
}

// Whatever makes an analysis stale ends it.
func TestStaleWorkEnds(t *testing.T) {
	for _, tt := range []struct {
		name string
		do   func(c *client, dir string)
	}{
		{"its text changes", func(c *client, dir string) { c.replace(fileURI(filepath.Join(dir, "root.s")), 2, "nothing") }},
		{"it is closed", func(c *client, dir string) {
			c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(filepath.Join(dir, "root.s"))}})
		}},
		{"it is opened again", func(c *client, dir string) { c.open(fileURI(filepath.Join(dir, "root.s")), 1, "nothing") }},
		{"an included buffer changes", func(c *client, dir string) { c.replace(fileURI(filepath.Join(dir, "part.inc")), 2, "nothing") }},
		{"an included buffer is closed", func(c *client, dir string) {
			c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(filepath.Join(dir, "part.inc"))}})
		}},
		{"an included file changes", func(c *client, dir string) {
			write(t, filepath.Join(dir, "disk.inc"), "something else")
			c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, "disk.inc")), "type": 2}}})
		}},
		{"a settings file comes", func(c *client, dir string) {
			write(t, filepath.Join(dir, project.FileName), `{"cpu":"cortex-m3"}`)
			c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, project.FileName)), "type": 1}}})
		}},
		{"the editor's settings change", func(c *client, dir string) {
			c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"cpu": "cortex-m3"}})
		}},
		{"the folder leaves the workspace", func(c *client, dir string) {
			c.notify("workspace/didChangeWorkspaceFolders", obj{"event": obj{"added": []obj{}, "removed": []obj{{"uri": fileURI(dir)}}}})
		}},
		{"the session ends", func(c *client, dir string) { c.notify("exit", nil) }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := t.TempDir()
			write(t, filepath.Join(dir, "disk.inc"), "fine")
			began, ended := make(chan struct{}, 100), make(chan struct{}, 100)
			c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
				t, err := toyAnalyze(ctx, in)
				if strings.Contains(in.File.Text(), "slow") {
					began <- struct{}{}
					<-ctx.Done()
					ended <- struct{}{}
					return nil, ctx.Err()
				}
				return t, err
			}})
			c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
			c.open(fileURI(filepath.Join(dir, "part.inc")), 1, "fine")
			c.findings(fileURI(filepath.Join(dir, "part.inc")), 1, 0)
			c.open(fileURI(filepath.Join(dir, "root.s")), 1, `slow include "part.inc" include "disk.inc"`)
			<-began
			tt.do(c, dir)
			select {
			case <-ended:
			case <-time.After(patience):
				t.Fatal("it goes on")
			}
		})
	}
}

// Questions that wait are answered when the client shuts the server down.
func TestShutdownEndsQuestions(t *testing.T) {
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		<-ctx.Done()
		return nil, ctx.Err()
	}})
	c.initialize(obj{}, nil)
	c.open(doc, 1, "x")
	id := c.start("textDocument/hover", at(doc, 0, 0))
	c.reached()
	c.reply(c.start("shutdown", nil))
	if m := c.reply(id); m.Error == nil || m.Error.Code != -32800 {
		t.Errorf("%+v", m)
	}
}

// again gives a file another text of the same size, and its old time.
func again(t *testing.T, path, text string) {
	t.Helper()
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	if int(info.Size()) != len(text) {
		t.Fatalf("%d bytes in place of %d", len(text), info.Size())
	}
	f, err := os.OpenFile(path, os.O_WRONLY, 0) // in place
	if err == nil {
		_, err = f.WriteString(text)
	}
	if err2 := f.Close(); err == nil {
		err = err2
	}
	if err == nil {
		err = os.Chtimes(path, info.ModTime(), info.ModTime())
	}
	if now, err2 := os.Stat(path); err != nil || err2 != nil || now.Size() != info.Size() || !now.ModTime().Equal(info.ModTime()) {
		t.Fatalf("%v %v: %v, was %v", err, err2, now, info)
	}
}

// A file that changes and keeps size and time is read again when the client says
// so: whatever it is, and by whatever path it was reached.
func TestChangeAtEqualStamp(t *testing.T) {
	const head = "\t.syntax unified\n\t.thumb\n"
	database := func(n string) string {
		return `[{"directory":".","file":"root.S","command":"gcc @flags.rsp -Wa,--defsym,LAMPS=` + n + ` root.S"}]`
	}
	files := map[string]string{
		"root.S":                     head + "#include \"part.inc\"\n#include \"link.inc\"\n\tmovs r0, #PART\n\tmovs r1, #LINKED\n\tmovs r2, #FORCED\n\tmovs r3, #LAMPS\n\tmovs r4, #PLACE\n\tmovs r5, #FLAG\n",
		"part.inc":                   "#define PART 001\n",
		"real/linked.inc":            "#define LINKED 001\n",
		"forced.h":                   "#define FORCED 001\n",
		project.FileName:             `{"prelude":["forced.h"],"symbols":["PLACE=001"]}`,
		project.CommandsName:         database("001"),
		"flags.rsp":                  "-DFLAG=001",
		"hidden.s":                   head + "\t.equ HIDDEN, 001\n\t.include \"low.inc\"\n",
		"low.inc":                    "\tmovs r1, #HIDDEN\n",
		"links/" + project.FileName:  "",
		"links/made/project.json":    `{"symbols":["PLACE=001"]}`,
		"links/root.s":               head + "\tmovs r0, #PLACE\n",
		"links/made/database.json":   "[]",
		"links2/made/db.json":        `[{"directory":".","file":"root.s","command":"as --defsym PLACE=001 root.s"}]`,
		"links2/root.s":              head + "\tmovs r0, #PLACE\n",
		"links2/" + project.FileName: "{}",
		"deep/a/root.s":              head + "\t.include \"../b/c.inc\"\n\tmovs r0, #DEEP\n",
		"deep/b/c.inc":               "\t.include \"d.inc\"\n",
		"deep/b/d.inc":               "\t.equ DEEP, 001\n",
		"deep/a/" + project.FileName: `{"include":["../b"]}`,
	}
	for _, tt := range []struct{ name, open, file string }{
		{"a header", "root.S", "part.inc"},
		{"a header that a link leads to", "root.S", "real/linked.inc"},
		{"a file of the prelude", "root.S", "forced.h"},
		{"the project file", "root.S", project.FileName},
		{"the database", "root.S", project.CommandsName},
		{"a file with flags", "root.S", "flags.rsp"},
		{"a root that nobody has open", "low.inc", "hidden.s"},
		{"a project file that a link leads to", "links/root.s", "links/made/project.json"},
		{"a database that a link leads to", "links2/root.s", "links2/made/db.json"},
		{"a file that an included one includes", "deep/a/root.s", "deep/b/d.inc"},
	} {
		for _, how := range []string{"event", "save"} {
			t.Run(tt.name+", "+how, func(t *testing.T) {
				dir := t.TempDir()
				for name, text := range files {
					write(t, filepath.Join(dir, name), text)
				}
				for name, target := range map[string]string{"link.inc": "real/linked.inc", "links/" + project.FileName: "made/project.json", "links2/" + project.CommandsName: "made/db.json"} {
					_ = os.Remove(filepath.Join(dir, name))
					if err := os.Symlink(target, filepath.Join(dir, name)); err != nil {
						reftest.Need(t, false, err.Error())
					}
				}
				// Files of their own time each, as in a folder that has grown.
				n := 0
				for name := range files {
					n++
					touch(t, filepath.Join(dir, name), -time.Duration(n)*time.Hour)
				}
				c := dial(t, Options{})
				c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
				uri, changed := fileURI(filepath.Join(dir, tt.open)), filepath.Join(dir, tt.file)
				c.open(uri, 1, files[tt.open])
				c.findings(uri, 1, 0)
				for _, value := range []string{"999", "001", "300"} {
					c.forget()
					was, err := os.ReadFile(changed)
					if err != nil {
						t.Fatal(err)
					}
					now := string(was)
					for _, old := range []string{"001", "999", "300"} {
						now = strings.Replace(now, old, value, 1)
						if now != string(was) {
							break
						}
					}
					again(t, changed, now)
					if how == "event" {
						c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(changed), "type": 2}}})
					} else {
						c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": fileURI(changed)}})
					}
					want := 1
					if value == "001" {
						want = 0
					}
					if p := c.findings(uri, 1, want); want == 1 && !strings.Contains(p.Diagnostics[0].Message, value) {
						t.Errorf("%s: %q", value, p.Diagnostics[0].Message)
					}
				}
			})
		}
	}
}

// An event about a file that nothing has read costs no analysis.
func TestEventForNothing(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"used.inc", "other.inc"} {
		write(t, filepath.Join(dir, name), "word")
	}
	touch(t, filepath.Join(dir, "other.inc"), -time.Hour)
	var mu sync.Mutex
	ran := 0
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		mu.Lock()
		ran++
		mu.Unlock()
		return toyAnalyze(ctx, in)
	}})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	root := fileURI(filepath.Join(dir, "root.s"))
	c.open(root, 1, `include "used.inc" bad`)
	c.findings(root, 1, 1)
	count := func(name string) int {
		c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, name)), "type": 2}}})
		c.reply(c.start("textDocument/hover", at(root, 0, 1)))
		mu.Lock()
		defer mu.Unlock()
		return ran
	}
	if n := count("other.inc"); n != 1 {
		t.Errorf("%d runs after an event about another file", n)
	}
	if n := count("used.inc"); n != 2 {
		t.Errorf("%d runs after an event about a file that was read", n)
	}
}

// Everything that shares state at once, for long enough that maps without their
// locks would meet: Go ends a process that writes to a map twice at a time.
func TestSharedState(t *testing.T) {
	dir := t.TempDir()
	const parts = 30
	var includes strings.Builder
	for i := range parts {
		write(t, filepath.Join(dir, fmt.Sprintf("p%d.inc", i)), "word bad")
		fmt.Fprintf(&includes, "include \"p%d.inc\" ", i)
	}
	for i := range 4 {
		write(t, filepath.Join(dir, fmt.Sprintf("host%d.s", i)), includes.String())
		write(t, filepath.Join(dir, fmt.Sprintf("bad%d", i), project.FileName), fmt.Sprintf(`{"cpu":"no-such-%d"}`, i))
	}
	c := dial(t, Options{DependentsDelay: time.Microsecond, analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		for range 20 { // reads on while others look at what has been read
			if ctx.Err() != nil {
				break
			}
			for i := range parts {
				in.Load(analysis.Wanted{From: in.Path, Name: fmt.Sprintf("p%d.inc", i), System: i%2 == 0})
				in.Size(analysis.Wanted{From: in.Path, Name: fmt.Sprintf("q%d.bin", i)})
				in.Why(analysis.Wanted{From: in.Path, Name: fmt.Sprintf("r%d.bin", i)})
			}
		}
		return toyAnalyze(ctx, in)
	}})
	c.answers["workspace/configuration"] = []obj{{"cpu": "cortex-m4", "include": []string{dir}}}
	caps := allCaps()
	caps["workspace"] = obj{"configuration": true}
	c.initialize(caps, obj{"rootUri": fileURI(dir)})
	uri := func(i int) string {
		return fileURI(filepath.Join(dir, fmt.Sprintf("bad%d", i%4), fmt.Sprintf("d%d.s", i)))
	}
	docs, rounds := 8, reftest.Size(8, 40, 40)
	for i := range docs {
		c.open(uri(i), 0, "word")
	}
	for i := range 4 {
		c.open(fileURI(filepath.Join(dir, fmt.Sprintf("p%d.inc", i))), 1, "word bad")
	}
	var ids []int
	for v := 1; v <= rounds; v++ {
		for i := range docs {
			c.replace(uri(i), v, strings.Repeat("bad ", i)+"word")
			ids = append(ids, c.start("textDocument/hover", at(uri((i+v)%docs), 0, 1)))
		}
		ids = append(ids, c.start("textDocument/hover", at(fileURI(filepath.Join(dir, fmt.Sprintf("p%d.inc", v%4))), 0, 1)))
		events := []obj{}
		for i := range parts {
			events = append(events, obj{"uri": fileURI(filepath.Join(dir, fmt.Sprintf("p%d.inc", i))), "type": 2})
		}
		c.notify("workspace/didChangeWatchedFiles", obj{"changes": events})
		c.notify("workspace/didChangeConfiguration", obj{"settings": nil})
		c.notify("$/cancelRequest", obj{"id": ids[len(ids)-1-v%3]})
		if v%5 == 0 {
			folder := []obj{{"uri": fileURI(filepath.Join(dir, fmt.Sprintf("bad%d", v%4)))}}
			c.notify("workspace/didChangeWorkspaceFolders", obj{"event": obj{"added": folder, "removed": []obj{}}})
			c.notify("workspace/didChangeWorkspaceFolders", obj{"event": obj{"added": []obj{}, "removed": folder}})
		}
	}
	for i := range docs {
		c.findings(uri(i), rounds, i)
	}
	for _, id := range ids {
		if m := c.reply(id); m.Error != nil && m.Error.Code != -32800 && m.Error.Code != -32801 {
			t.Errorf("%d: %+v", id, m.Error)
		}
	}
}

// TestTypingElsewhere holds that an analysis goes on while something else is typed, so that it
// is done once, whatever happens beside it; and that it takes what it reads later as it is then.
func TestTypingElsewhere(t *testing.T) {
	var mu sync.Mutex
	begun := map[string]int{}
	open := make(chan struct{})
	holds := make(chan struct{}, 100)
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		mu.Lock()
		begun[in.File.Text()]++
		mu.Unlock()
		if strings.Contains(in.File.Text(), "hold") {
			holds <- struct{}{}
			select {
			case <-open:
			case <-ctx.Done():
			}
		}
		return toyAnalyze(ctx, in)
	}})
	c.initialize(allCaps(), nil)
	slow, quick, part := "file:///box/a.s", "file:///box/b.s", "file:///box/part.inc"
	const text = `hold bad include "part.inc"`
	c.open(part, 1, "meh")
	c.findings(part, 1, 1)
	c.open(slow, 1, text)
	<-holds
	answer := c.start("textDocument/hover", at(slow, 0, 1))
	c.open(quick, 1, "")
	for version := 2; version < 30; version++ {
		c.replace(quick, version, strings.Repeat("bad ", 1+version%3))
		c.findings(quick, version, 1+version%3)
	}
	// What it has not read yet it reads as it is now.
	c.replace(part, 2, "meh meh meh")
	c.reached()
	close(open)
	c.findings(slow, 1, 1)
	c.findings(part, 2, 3)
	c.reply(answer)
	mu.Lock()
	defer mu.Unlock()
	if begun[text] != 1 {
		t.Errorf("it was begun %d times", begun[text])
	}
}

// lateFacts are facts whose rest takes until somebody lets it go.
type lateFacts struct {
	toy
	hold chan struct{}
	done atomic.Bool
}

func (l *lateFacts) Late() bool                   { return true }
func (l *lateFacts) Ready() bool                  { return false }
func (l *lateFacts) Early() []analysis.Diagnostic { return nil }
func (l *lateFacts) Complete(ctx context.Context) error {
	select {
	case <-l.hold:
	case <-ctx.Done():
		return ctx.Err()
	}
	l.done.Store(true)
	return nil
}

// TestLateNeighbour holds that findings that take long keep neither those of other documents
// waiting nor their own text's: where it has changed, nobody looks for them any more.
func TestLateNeighbour(t *testing.T) {
	hold := make(chan struct{})
	late := make(chan *lateFacts, 100)
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		if !strings.Contains(in.File.Text(), "late") {
			return toyAnalyze(ctx, in)
		}
		l := &lateFacts{toy: toy{in: in, texts: map[string]string{}}, hold: hold}
		l.visit(in.Path, in.File, 0)
		late <- l
		return l, nil
	}})
	c.initialize(allCaps(), nil)
	slow, quick := "file:///box/a.s", "file:///box/b.s"
	c.open(slow, 1, "late bad")
	c.findings(slow, 1, 0)
	c.open(quick, 1, "bad")
	for version := 1; version < 20; version++ {
		c.findings(quick, version, 1)
		c.replace(quick, version+1, "bad")
		c.reply(c.start("textDocument/hover", at(slow, 0, 1)))
	}
	c.replace(slow, 2, "late bad bad")
	c.findings(slow, 2, 0)
	close(hold)
	c.findings(slow, 2, 2)
	if first := <-late; first.done.Load() {
		t.Error("the findings of the old text were looked for to the end")
	}
}
