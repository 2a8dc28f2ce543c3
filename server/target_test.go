package server

import (
	"path/filepath"
	"strings"
	"testing"
)

// TestIncludeComes holds that a document is analysed again when a file comes that it names,
// wherever in the workspace.
func TestIncludeComes(t *testing.T) {
	const text = "\t.include \"lamp.inc\"\n\t.byte LAMP\n"
	dir := t.TempDir()
	uri := fileURI(filepath.Join(dir, "src", "box.s"))
	write(t, filepath.Join(dir, "src", "box.s"), text)
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(uri, 1, text)
	c.findings(uri, 1, 1)
	for i, step := range []struct {
		path string
		want string // the only finding
	}{{"x/lamp.inc", ""}, {"y/lamp.inc", "../x/lamp.inc and ../y/lamp.inc fit"}} {
		path := filepath.Join(dir, filepath.FromSlash(step.path))
		write(t, path, "\t.equ LAMP, 300\n")
		c.forget()
		c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(path), "type": 1}}})
		if p := c.findings(uri, 1, 1); step.want == "" && p.Diagnostics[0].Code != "data-range" || !strings.Contains(p.Diagnostics[0].Message, step.want) {
			t.Errorf("%d: %+v", i, p.Diagnostics)
		}
	}
}

// TestBuildFileChanges holds that a document is taken for what the build files in its
// workspace say, and for something else when they do.
func TestBuildFileChanges(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\tubfx r0, r1, #1, #2\n\tbx lr\n"
	dir := t.TempDir()
	makefile := filepath.Join(dir, "Makefile")
	write(t, makefile, "CPU = -mcpu=cortex-m3\n")
	write(t, filepath.Join(dir, "src", "box.s"), text)
	uri := fileURI(filepath.Join(dir, "src", "box.s"))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(uri, 1, text)
	p := c.findings(uri, 1, 1)
	if d := p.Diagnostics[0]; d.Code != "target-guessed" || !strings.Contains(d.Message, "cortex-m3, because of -mcpu=cortex-m3 in line 1 of ../Makefile") {
		t.Errorf("at first: %+v", d)
	}
	write(t, makefile, "# none\nCPU = -mcpu=cortex-m0plus\n")
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(makefile), "type": 2}}})
	p = c.findings(uri, 1, 2)
	if d := p.Diagnostics[0]; !strings.Contains(d.Message, "cortex-m0plus, because of -mcpu=cortex-m0plus in line 2 of ../Makefile") {
		t.Errorf("after a change: %+v", d)
	}
}
