package server

import (
	"encoding/json"
	"fmt"
	"os"
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

// TestTargetUnsaid holds that a document is taken for something else at once where a directive that
// says the target comes or goes, though nothing else has changed.
func TestTargetUnsaid(t *testing.T) {
	const rest = "\t.syntax unified\n\t.thumb\n\trev r0, r1\n\tuxtb r2, r0\n\tbx lr\n"
	dir := t.TempDir()
	write(t, filepath.Join(dir, "box.s"), rest)
	uri := fileURI(filepath.Join(dir, "box.s"))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	for i, x := range []struct {
		text string
		want string // the codes
	}{
		{"\t.cpu cortex-m0\n" + rest, ""},
		{rest, "target-guessed"},
		{"\t.cpu arm7tdmi\n" + rest, "not-on-architecture not-on-architecture"},
		{"\t.cpu cortex-m0\n" + rest, ""},
		{"@ .cpu cortex-m0\n" + rest, "target-guessed"},
	} {
		if i == 0 {
			c.open(uri, 1, x.text)
		} else {
			c.replace(uri, i+1, x.text)
		}
		var codes []string
		for _, d := range c.findings(uri, i+1, len(strings.Fields(x.want))).Diagnostics {
			codes = append(codes, fmt.Sprint(d.Code))
		}
		if got := strings.Join(codes, " "); got != x.want {
			t.Errorf("%d: %s, want %s", i, got, x.want)
		}
	}
}

// TestTargetOfSettings holds that a document is taken for what a fresh server takes it for where the
// project file says the target, and where it does not any more.
func TestTargetOfSettings(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\nlamp:\tmovs r0, #300\n\tmovw r1, #300\n\tbx lr\n"
	dir := t.TempDir()
	file := filepath.Join(dir, "narrowgauge.json")
	write(t, filepath.Join(dir, "box.s"), text)
	uri := fileURI(filepath.Join(dir, "box.s"))
	write(t, file, `{"cpu": "cortex-m0"}`)
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(uri, 1, text)
	const m0, guessed = "constant-range not-on-architecture", "target-guessed"
	codes := func(want string) {
		t.Helper()
		var codes []string
		p := c.findings(uri, 1, len(strings.Fields(want)))
		for _, d := range p.Diagnostics {
			codes = append(codes, fmt.Sprint(d.Code))
		}
		if got := strings.Join(codes, " "); got != want {
			t.Errorf("%s, want %s", got, want)
		}
	}
	codes(m0)
	for _, x := range []struct{ json, want string }{{"", guessed}, {`{"cpu": "cortex-m0"}`, m0}, {`{}`, guessed}, {`{"arch": "armv6-m"}`, m0}, {"", guessed}} {
		kind := 2
		if x.json != "" {
			write(t, file, x.json)
		} else if kind = 3; os.Remove(file) != nil {
			t.Fatal("the file is still there")
		}
		c.forget()
		c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(file), "type": kind}}})
		codes(x.want)
	}
}

// TestBuildOptionChanges holds that what the build files in a workspace say of macros and
// symbols counts, and what they say when they have changed.
func TestBuildOptionChanges(t *testing.T) {
	const text = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n\tmovs r0, #TRACKS\n#if BELLS == 2\n\tmovs r9, #1\n#endif\n\tbx lr\n"
	dir := t.TempDir()
	makefile := filepath.Join(dir, "Makefile")
	write(t, makefile, "CFLAGS = -DTRACKS=300 -DBELLS=1\n")
	write(t, filepath.Join(dir, "src", "box.S"), text)
	uri := fileURI(filepath.Join(dir, "src", "box.S"))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.open(uri, 1, text)
	if d := c.findings(uri, 1, 2).Diagnostics[0]; d.Code != "constant-range" || !strings.Contains(d.Message, "300") {
		t.Errorf("at first: %+v", d)
	}
	write(t, makefile, "ASFLAGS = -DTRACKS=4 -DBELLS=2\n# more\n")
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(makefile), "type": 2}}})
	if d := c.findings(uri, 1, 1).Diagnostics[0]; d.Code != "low-registers" {
		t.Errorf("after a change: %+v", d)
	}
}

// TestTarget asks for the target that a document is taken for, and hears of it when it
// changes.
func TestTarget(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\tmsr basepri, r0\n\tcbz r0, .+4\n"
	caps := allCaps()
	caps["experimental"] = obj{"narrowgaugeTarget": true}
	c := dial(t, Options{})
	if r := c.initialize(caps, nil); !r.Capabilities.Experimental.Target {
		t.Error("not announced")
	}
	c.open(doc, 1, text)
	told := func(want string) targetAnswer {
		t.Helper()
		m := c.find("a target "+want, func(m incoming) bool {
			return m.Method == "narrowgauge/targetChanged" && strings.Contains(string(m.Params), `"short":"`+want+`"`)
		})
		var a targetAnswer
		if err := json.Unmarshal(m.Params, &a); err != nil {
			t.Fatal(err)
		}
		return a
	}
	a := told("armv7-m T16+T32 ?")
	if a.URI != doc || a.From != "guess" || a.Syntax != "unified" || a.Evidence != "msr basepri, r0" || a.Location == nil || ranged(a.Location.Range) != "[2 0] [2 16]" || string(a.Location.URI) != doc {
		t.Errorf("%+v", a)
	}
	if got := call[targetAnswer](c, "narrowgauge/target", obj{"textDocument": obj{"uri": doc}}); got.Text != a.Text || !strings.Contains(got.Text, "this is a guess") {
		t.Errorf("%+v", got)
	}
	c.replace(doc, 2, "\t.syntax unified\n\t.cpu cortex-m4\n"+text)
	if a := told("cortex-m4 T16+T32"); a.From != "directive" || a.Evidence != ".cpu cortex-m4" {
		t.Errorf("%+v", a)
	}
	c.replace(doc, 3, "\t.arch armv6\n\tnop\n\t.arch armv7-a\n\t.thumb\n\tnop\n")
	told("armv6 A32")
	if got := call[targetAnswer](c, "narrowgauge/target", at(doc, 4, 1)); got.Short != "armv7-a T16+T32" {
		t.Errorf("%+v", got)
	}
	if m := c.reply(c.start("narrowgauge/target", obj{"textDocument": obj{"uri": "file:///box/none.s"}})); m.Error == nil {
		t.Errorf("%s", m.Result)
	}
}

// TestRegions asks for the regions of a document and hears of them when they change; and for the
// place of a line.
func TestRegions(t *testing.T) {
	const text = "\t.syntax unified\n\t.cpu cortex-a7\n\t.arm\n\tbx lr\n\t.thumb\n\t.thumb_func\nring:\tmovs r0, #1 @ é\n\tbx lr\n\t.data\n\t.byte 1\n\t.byte 2\n"
	caps := allCaps()
	caps["experimental"] = obj{"narrowgaugeRegions": true}
	c := dial(t, Options{})
	if r := c.initialize(caps, nil); !r.Capabilities.Experimental.Regions {
		t.Error("not announced")
	}
	write := func(a regionsAnswer) (out string) {
		for _, x := range a.Regions {
			out += ranged(x.Range) + " " + x.State + " " + x.Syntax + " " + x.Target + "|"
		}
		return out
	}
	told := func(version string) (a regionsAnswer) {
		m := c.find("regions of version "+version, func(m incoming) bool {
			return m.Method == "narrowgauge/regionsChanged" && strings.Contains(string(m.Params), `"version":`+version)
		})
		if err := json.Unmarshal(m.Params, &a); err != nil {
			t.Fatal(err)
		}
		return a
	}
	c.open(doc, 1, text)
	a := told("1")
	if got, want := write(a), "[0 0] [1 1] A32 divided armv4t|[1 1] [2 1] A32 unified armv4t|[2 1] [5 1] A32 unified cortex-a7|[5 1] [11 0] Thumb unified cortex-a7|"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got := call[regionsAnswer](c, "narrowgauge/regions", obj{"textDocument": obj{"uri": doc}}); write(got) != write(a) || got.Version != 1 || got.URI != doc {
		t.Errorf("%+v", got)
	}
	for _, x := range []struct {
		line int
		want string
	}{{0, ".text+0x0"}, {6, ".text+0x4 ring: 4 bytes"}, {7, ".text+0x6 ring: 4 bytes"}, {10, ".data+0x1"}} {
		if got := call[targetAnswer](c, "narrowgauge/target", at(doc, x.line, 1)); got.Where == nil || got.Where.Short != x.want {
			t.Errorf("line %d: %+v, want %s", x.line, got.Where, x.want)
		}
	}
	if got := call[targetAnswer](c, "narrowgauge/target", obj{"textDocument": obj{"uri": doc}}); got.Where != nil {
		t.Errorf("without a position: %+v", got.Where)
	}
	c.replace(doc, 2, "\n"+text)
	told("2")
}

// TestTargetUnasked: a client that does not ask for it hears nothing of targets, whatever else
// it says of itself.
func TestTargetUnasked(t *testing.T) {
	for _, says := range []any{nil, true, "target", []int{1}, obj{"other": true}, obj{"narrowgaugeTarget": "yes"}} {
		caps := allCaps()
		caps["experimental"] = says
		c := dial(t, Options{})
		c.initialize(caps, nil)
		c.open(doc, 1, "\tnop\n")
		c.findings(doc, 1, 0)
		c.mu.Lock()
		for _, m := range c.log {
			if strings.HasPrefix(m.Method, "narrowgauge/") {
				t.Errorf("%v: %s", says, m.Method)
			}
		}
		c.mu.Unlock()
	}
}

// TestTargetIntoProject offers to write a guessed target into the project file where there is
// one.
func TestTargetIntoProject(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\tcbz r0, .+4\n\tmsr basepri, r0\n"
	dir := t.TempDir()
	file := filepath.Join(dir, "narrowgauge.json")
	uri := fileURI(filepath.Join(dir, "box.s"))
	write(t, filepath.Join(dir, "box.s"), text)
	offers := func() (titles []string, into *workspaceEdit) {
		c := dial(t, Options{})
		c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
		c.open(uri, 1, text)
		c.findings(uri, 1, 1)
		for _, a := range call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": uri}, "range": obj{"start": obj{"line": 0, "character": 0}, "end": obj{"line": 0, "character": 0}}, "context": obj{"diagnostics": []obj{}}}) {
			titles = append(titles, a.Title)
			if strings.Contains(a.Title, "narrowgauge.json") {
				into = a.Edit
			}
		}
		return titles, into
	}
	if titles, into := offers(); into != nil || len(titles) == 0 || !strings.HasPrefix(titles[0], "write .arch armv7-m at the top") {
		t.Errorf("without a project file: %q", titles)
	}
	write(t, file, "{\n\t\"include\": []\n}\n")
	titles, into := offers()
	if into == nil || len(into.DocumentChanges) != 1 || into.DocumentChanges[0].TextDocument.URI != fileURI(file) || into.DocumentChanges[0].TextDocument.Version != nil {
		t.Fatalf("%q %+v", titles, into)
	}
	if e := into.DocumentChanges[0].Edits; len(e) != 1 || ranged(e[0].Range) != "[0 1] [0 1]" || e[0].NewText != "\n\t\"arch\": \"armv7-m\"," {
		t.Errorf("%+v", e)
	}
}
