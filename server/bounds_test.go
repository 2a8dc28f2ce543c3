package server

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// said is all that the server has sent.
func (c *client) said() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return show(c.log)
}

func (c *client) published(what string) {
	c.t.Helper()
	c.find("findings with "+what, func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), what)
	})
}

// A buffer that is open beside the workspace is no part of it.
func TestOpenBufferOutside(t *testing.T) {
	dir := t.TempDir()
	inside, outside := filepath.Join(dir, "box", "a.s"), filepath.Join(dir, "house", "open.s")
	text := "\t.include \"" + outside + "\"\n\t.byte SECRET\n"
	write(t, inside, text)
	write(t, outside, "")
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(filepath.Join(dir, "box"))})
	c.open(fileURI(outside), 1, "\t.equ SECRET, 47110\n")
	c.findings(fileURI(outside), 1, 0)
	c.open(fileURI(inside), 1, text)
	c.published("outside of the project")
	for _, method := range []string{"textDocument/hover", "textDocument/definition"} {
		if m := c.reply(c.start(method, at(fileURI(inside), 1, 9))); strings.Contains(string(m.Result), "47110") || strings.Contains(string(m.Result), "house") {
			t.Errorf("%s: %s", method, m.Result)
		}
	}
	// The other way round: what the user has opened may be there for the
	// workspace's sources, but no workspace makes its folder readable.
	c.replace(fileURI(inside), 2, "\t.include \""+filepath.Join(dir, "house", "none")+"\"\n")
	c.findings(fileURI(inside), 2, 1)
	if strings.Contains(c.said(), "47110") {
		t.Error("the text of a buffer outside has come out")
	}
}

// What the user allows is read at once, and no longer when it is taken back:
// nothing that was kept of it comes out.
func TestReadAlsoChanges(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "house", "far.inc"), "\t.equ FAR, 47110\n\tmovs r9, #1\n")
	name := filepath.Join(dir, "box", "a.s")
	const text = "\t.syntax unified\n\t.thumb\n\t.include \"../house/far.inc\"\n\t.word FAR\n"
	write(t, name, text)
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(filepath.Join(dir, "box"))})
	allow := func(dirs ...string) {
		c.forget()
		c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"readAlso": dirs}}})
	}
	hover := func() string { return string(c.reply(c.start("textDocument/hover", at(fileURI(name), 3, 8))).Result) }
	c.open(fileURI(name), 1, text)
	c.published("readAlso")
	for range 2 {
		for _, dirs := range [][]string{{filepath.Join(dir, "house")}, {"../house"}, {dir}} {
			allow(dirs...)
			c.published("low-registers")
			if h := hover(); !strings.Contains(h, "47110") {
				t.Errorf("%v: hover %s", dirs, h)
			}
			allow()
			c.published("readAlso")
			if h := hover(); strings.Contains(h, "47110") || strings.Contains(c.said(), "47110") {
				t.Errorf("after %v: hover %s", dirs, h)
			}
		}
	}
	// The include setting of an editor may come from the repository: it allows
	// nothing by itself.
	c.forget()
	c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"include": []string{filepath.Join(dir, "house")}, "prelude": []string{filepath.Join(dir, "house", "far.inc")}, "compileCommands": filepath.Join(dir, "house")}}})
	c.find("a message about the database", func(m incoming) bool {
		return m.Method == "window/showMessage" && strings.Contains(string(m.Params), "readAlso")
	})
	c.replace(fileURI(name), 2, strings.Replace(text, "../house/", "", 1))
	c.published(`"version":2`)
	if out := c.said(); strings.Contains(out, "47110") || strings.Contains(out, "low-registers") {
		t.Error(out)
	}
}

// A folder that comes into the workspace later, or by another spelling.
func TestSpelledWorkspace(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "real", "inc", "b.inc"), "\tmovs r9, #1\n")
	write(t, filepath.Join(dir, "real", "narrowgauge.json"), `{"include":["inc"]}`)
	if err := os.Symlink("real", filepath.Join(dir, "link")); err != nil {
		reftest.Need(t, false, err.Error())
	}
	const text = "\t.syntax unified\n\t.thumb\n\t.include \"b.inc\"\n"
	for _, folder := range []string{"real", "link", "link/", "real/../link", "."} {
		for _, doc := range []string{"real/src/a.s", "link/src/a.s", "link/../link/src/a.s"} {
			c := dial(t, Options{})
			c.initialize(allCaps(), obj{"workspaceFolders": []obj{{"uri": "file://" + dir + "/" + folder, "name": "a"}}})
			c.open("file://"+dir+"/"+doc, 1, text)
			c.published("low-registers")
			if out := c.said(); strings.Contains(out, "readAlso") {
				t.Errorf("%s in %s: %s", doc, folder, out)
			}
		}
	}
	// The root of the disk is no workspace.
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": "file:///"})
	write(t, filepath.Join(dir, "real", "src", "a.s"), "")
	c.open(fileURI(filepath.Join(dir, "real", "src", "a.s")), 1, "\t.include \"b.inc\"\n\t.include \""+filepath.Join(dir, "none")+"\"\n")
	c.published("readAlso")
}
