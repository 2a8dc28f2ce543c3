package server

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis/syntax"
)

// A signal box of several files: main.s calls what lamps.s and points.s have, and both include
// box.inc.
var boxFiles = map[string]string{
	"src/main.s": `	.syntax unified
	.thumb
	.include "../inc/box.inc"
	.global main
	.thumb_func
main:
	push {r4, lr}
	movs r0, #POINTS
	bl set_points
	bl set_lamp
	ldr r1, =lamp_state
	bl own_part
	pop {r4, pc}
own_part: push {r4, lr}
	bl set_lamp
	pop {r4, pc}
`,
	"src/points.s": `	.syntax unified
	.thumb
	.include "../inc/box.inc"
	.global set_points
	.extern set_lamp
	.type set_points, %function
set_points: push {r4, lr}
	cmp r0, #POINTS
	bhi 1f
	bl set_lamp
1:	pop {r4, pc}
main_table: .word set_points, lamp_state
`,
	"src/lamps.s": `	.syntax unified
	.thumb
	.global set_lamp, lamp_state
	.thumb_func
set_lamp:
	bx lr
	.data
lamp_state: .word 0
`,
	"inc/box.inc": "\t.equ POINTS, 12\n\t.macro light n\n\tmovs r0, #\\n\n\t.endm\n",
}

// box is a workspace with these files and others.
func box(t *testing.T, more map[string]string) (dir string, c *client) {
	t.Helper()
	dir = t.TempDir()
	for _, files := range []map[string]string{boxFiles, more} {
		for name, text := range files {
			write(t, filepath.Join(dir, name), text)
		}
	}
	c = dial(t, Options{})
	caps := allCaps()
	caps["textDocument"].(obj)["rename"] = obj{"prepareSupport": true}
	caps["window"] = obj{"workDoneProgress": true}
	c.answers["window/workDoneProgress/create"] = nil
	c.initialize(caps, obj{"rootUri": fileURI(dir)})
	return dir, c
}

// spot is the request about the first place of a word in a file of the workspace; skip leaves
// out so many.
func spot(dir, file, word string, skip int) obj {
	data, err := os.ReadFile(filepath.Join(dir, file))
	if err != nil {
		panic(err)
	}
	n := 0
	for i, line := range strings.Split(string(data), "\n") {
		if col := strings.Index(line, word); col >= 0 {
			if n++; n > skip {
				return at(fileURI(filepath.Join(dir, file)), i, col+1)
			}
		}
	}
	panic(word + " is not in " + file)
}

func (c *client) openFile(dir, file string) string {
	c.t.Helper()
	path := filepath.Join(dir, file)
	data, err := os.ReadFile(path)
	if err != nil {
		c.t.Fatal(err)
	}
	c.open(fileURI(path), 1, string(data))
	return fileURI(path)
}

// shownPlaces writes locations as file:line, sorted.
func shownPlaces(dir string, list []protocol.Location) string {
	var out []string
	for _, l := range list {
		out = append(out, fmt.Sprintf("%s:%d", strings.TrimPrefix(string(l.URI), fileURI(dir)+"/"), l.Range.Start.Line+1))
	}
	slices.Sort(out)
	return strings.Join(out, " ")
}

func TestDefinitionsAcross(t *testing.T) {
	dir, c := box(t, nil)
	c.openFile(dir, "src/main.s")
	for _, x := range []struct{ method, file, word, want string }{
		{"definition", "src/main.s", "set_points", "src/points.s:7"},
		{"definition", "src/main.s", "lamp_state", "src/lamps.s:8"},
		{"definition", "src/main.s", "own_part", "src/main.s:14"},
		{"definition", "src/main.s", "POINTS", "inc/box.inc:1"},
		{"declaration", "src/main.s", "set_points", "src/points.s:4 src/points.s:6"},
		{"declaration", "src/main.s", "own_part", "src/main.s:14"},
		{"references", "src/main.s", "set_lamp", "src/lamps.s:3 src/lamps.s:5 src/main.s:10 src/main.s:15 src/points.s:10 src/points.s:5"},
		{"references", "src/main.s", "POINTS", "inc/box.inc:1 src/main.s:8 src/points.s:8"},
		{"references", "src/main.s", "lamp_state", "src/lamps.s:3 src/lamps.s:8 src/main.s:11 src/points.s:12"},
	} {
		p := spot(dir, x.file, x.word, 0)
		p["context"] = obj{"includeDeclaration": true}
		if got := shownPlaces(dir, call[[]protocol.Location](c, "textDocument/"+x.method, p)); got != x.want {
			t.Errorf("%s of %s: %s, want %s", x.method, x.word, got, x.want)
		}
	}
	p := spot(dir, "src/main.s", "set_lamp", 0)
	p["context"] = obj{"includeDeclaration": false}
	if got := shownPlaces(dir, call[[]protocol.Location](c, "textDocument/references", p)); strings.Contains(got, "lamps.s:5") {
		t.Errorf("references without the definition: %s", got)
	}
}

// What is in an open document wins over the disk, and what changes there is seen.
func TestDefinitionsFollowEdits(t *testing.T) {
	dir, c := box(t, nil)
	c.openFile(dir, "src/main.s")
	points := c.openFile(dir, "src/points.s")
	write(t, filepath.Join(dir, "src/shut.s"), "\t.include \"../inc/box.inc\"\n")
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, "src/shut.s")), "type": 1}}})
	if got := shownPlaces(dir, call[[]protocol.Location](c, "textDocument/definition", spot(dir, "src/main.s", "set_points", 0))); got != "src/points.s:7" {
		t.Errorf("before: %s", got)
	}
	c.replace(points, 2, "@ moved\n\n"+boxFiles["src/points.s"])
	if got := shownPlaces(dir, call[[]protocol.Location](c, "textDocument/definition", spot(dir, "src/main.s", "set_points", 0))); got != "src/points.s:9" {
		t.Errorf("after an edit: %s", got)
	}
	// So it is for what is not open and includes what is.
	inc := c.openFile(dir, "inc/box.inc")
	for version, text := range []string{"", "", "@ one\n", "@ one\n@ two\n"} {
		if version > 1 {
			c.replace(inc, version, text+boxFiles["inc/box.inc"])
		}
		got := call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": "POINTS"})
		if len(got) == 0 || got[0].Name != "POINTS" || got[0].Location.Range.Start.Line != uint32(strings.Count(text, "\n")) || len(got) > 2 {
			t.Errorf("version %d of the header: %+v", version, got)
		}
	}
	write(t, filepath.Join(dir, "src/lamps.s"), "\n\n"+boxFiles["src/lamps.s"])
	write(t, filepath.Join(dir, "src/extra.s"), "\t.global brand_new\nbrand_new:\n")
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, "src/lamps.s")), "type": 2}, {"uri": fileURI(filepath.Join(dir, "src/extra.s")), "type": 1}}})
	if got := shownPlaces(dir, call[[]protocol.Location](c, "textDocument/definition", spot(dir, "src/main.s", "set_lamp", 0))); got != "src/lamps.s:7" {
		t.Errorf("after the disk has changed: %s", got)
	}
	if got := call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": "brand"}); len(got) != 1 || got[0].Name != "brand_new" {
		t.Errorf("a new file: %+v", got)
	}
	if err := os.Remove(filepath.Join(dir, "src/extra.s")); err != nil {
		t.Fatal(err)
	}
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, "src/extra.s")), "type": 3}}})
	if got := call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": "brand"}); len(got) != 0 {
		t.Errorf("a file that is gone: %+v", got)
	}
}

func TestWorkspaceSymbols(t *testing.T) {
	dir, c := box(t, map[string]string{"outside.txt": "set_lamp:\n"})
	_ = dir
	for query, want := range map[string]string{
		"set_lamp": "set_lamp", "SET": "set_lamp set_points", "sp": "set_points set_lamp", "points": "POINTS set_points", "light": "light",
		"lamp": "lamp_state set_lamp", "stl": "set_lamp lamp_state", "zzz": "",
	} {
		var got []string
		for _, y := range call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": query}) {
			got = append(got, y.Name)
		}
		if s := strings.Join(got, " "); s != want && !(query == "stl" && strings.HasPrefix(s, "set_lamp")) {
			t.Errorf("%q: %s, want %s", query, s, want)
		}
	}
	if got := call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": ""}); len(got) < 7 {
		t.Errorf("all: %+v", got)
	}
}

// TestToldAcross holds that what is said of a name, by hover and to who completes it, comes from the
// source that defines it.
func TestToldAcross(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "main.s"), "\t.cpu cortex-m0\n\t.thumb\n\tbl set_lamp\n\tbl no_lamp\n\tbl set_\n")
	write(t, filepath.Join(dir, "weak.s"), "\t.cpu cortex-m0\n\t.thumb\n\t.weak set_lamp\n@ Does nothing.\nset_lamp:\n\tbx lr\n")
	write(t, filepath.Join(dir, "z.s"), "\t.cpu cortex-m0\n\t.thumb\n\t.global set_lamp\n@ Lights one lamp.\nset_lamp:\n\tbx lr\n")
	c := dial(t, Options{})
	caps := allCaps()
	caps["textDocument"].(obj)["completion"] = obj{"completionItem": obj{"documentationFormat": []string{"plaintext"}}}
	c.initialize(caps, obj{"rootUri": fileURI(dir)})
	c.openFile(dir, "main.s")
	call[[]protocol.SymbolInformation](c, "workspace/symbol", obj{"query": "lamp"}) // reads them all: a hover does not wait for that
	if h := call[hover](c, "textDocument/hover", spot(dir, "main.s", "set_lamp", 0)); !strings.Contains(h.Contents.Value, "Lights one lamp.") || !strings.Contains(h.Contents.Value, "in z.s, line 5") {
		t.Errorf("hover: %s", h.Contents.Value)
	}
	if h := call[hover](c, "textDocument/hover", spot(dir, "main.s", "no_lamp", 0)); !strings.Contains(h.Contents.Value, "not defined in this file") {
		t.Errorf("hover on what is nowhere: %s", h.Contents.Value)
	}
	list := call[protocol.CompletionList](c, "textDocument/completion", at(fileURI(filepath.Join(dir, "main.s")), 4, 8))
	i := slices.IndexFunc(list.Items, func(i protocol.CompletionItem) bool { return i.Label == "set_lamp" })
	if i < 0 {
		t.Fatalf("%+v", list.Items)
	}
	full := call[protocol.CompletionItem](c, "completionItem/resolve", list.Items[i])
	if said := fmt.Sprint(full.Documentation); !strings.Contains(said, "Lights one lamp.") || !strings.Contains(said, "plaintext") || strings.Contains(said, "**") {
		t.Errorf("completion: %s", said)
	}
}

// TestNearestAcross holds that of two programs in a workspace which both define a name that of the
// own one comes first.
func TestNearestAcross(t *testing.T) {
	dir := t.TempDir()
	for _, part := range []string{"east", "west"} {
		write(t, filepath.Join(dir, part, "main.s"), "\t.cpu cortex-m0\n\t.thumb\n\t.global main\nmain:\n\tbl lamp\n\tbx lr\n")
		write(t, filepath.Join(dir, part, "lamp.s"), "\t.cpu cortex-m0\n\t.thumb\n\t.global lamp\n@ Lights one in the "+part+".\nlamp:\n\tbx lr\n")
	}
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	for _, part := range []string{"east", "west"} {
		main, want := part+"/main.s", fileURI(filepath.Join(dir, part, "lamp.s"))
		c.openFile(dir, main)
		if l := call[[]protocol.Location](c, "textDocument/definition", spot(dir, main, "lamp", 0)); len(l) != 2 || string(l[0].URI) != want {
			t.Errorf("%s: %+v", main, l)
		}
		if h := call[hover](c, "textDocument/hover", spot(dir, main, "lamp", 0)); !strings.Contains(h.Contents.Value, "in the "+part) {
			t.Errorf("%s: %s", main, h.Contents.Value)
		}
		items := call[[]callItem](c, "textDocument/prepareCallHierarchy", spot(dir, main, "main", 0))
		if out := call[[]outgoingCall](c, "callHierarchy/outgoingCalls", obj{"item": items[0]}); len(out) != 1 || out[0].To.URI != want {
			t.Errorf("%s: %+v", main, out)
		}
		items = call[[]callItem](c, "textDocument/prepareCallHierarchy", spot(dir, main, "lamp", 0))
		if in := call[[]incomingCall](c, "callHierarchy/incomingCalls", obj{"item": items[0]}); items[0].URI != want || len(in) != 1 || in[0].From.URI != fileURI(filepath.Join(dir, main)) {
			t.Errorf("%s: %+v", main, in)
		}
	}
}

// TestHighlightInCall holds that a name which a macro gets is shown where it is written, and one in
// a line that only says something of it as well.
func TestHighlightInCall(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "main.s"), "\t.cpu cortex-m0\n\t.thumb\n\t.macro callit name\n\tbl \\name\n\t.endm\n\t.type set_lamp, %function\nset_lamp:\n\tcallit set_lamp\n\t.lcomm state, 4\n")
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.openFile(dir, "main.s")
	for word, want := range map[string]string{"set_lamp": "5:7-15:2 6:0-8:3 7:8-16:2", "state": "8:8-13:3"} {
		var got []string
		for _, h := range call[[]protocol.DocumentHighlight](c, "textDocument/documentHighlight", spot(dir, "main.s", word, 0)) {
			got = append(got, fmt.Sprintf("%d:%d-%d:%d", h.Range.Start.Line, h.Range.Start.Character, h.Range.End.Character, int(h.Kind)))
		}
		slices.Sort(got)
		if s := strings.Join(got, " "); s != want {
			t.Errorf("%s: %s, want %s", word, s, want)
		}
	}
}

func TestCallHierarchy(t *testing.T) {
	dir, c := box(t, nil)
	c.openFile(dir, "src/main.s")
	items := call[[]callItem](c, "textDocument/prepareCallHierarchy", spot(dir, "src/main.s", "set_lamp", 0))
	if len(items) != 1 || items[0].Name != "set_lamp" || !strings.HasSuffix(items[0].URI, "lamps.s") {
		t.Fatalf("items: %+v", items)
	}
	show := func(list []incomingCall) string {
		var out []string
		for _, x := range list {
			out = append(out, fmt.Sprintf("%s %d", x.From.Name, len(x.FromRanges)))
		}
		slices.Sort(out)
		return strings.Join(out, ", ")
	}
	in := call[[]incomingCall](c, "callHierarchy/incomingCalls", obj{"item": items[0]})
	if got := show(in); got != "main 1, own_part 1, set_points 1" {
		t.Errorf("callers of set_lamp: %s", got)
	}
	for _, x := range in {
		if x.From.Name == "own_part" {
			if got := show(call[[]incomingCall](c, "callHierarchy/incomingCalls", obj{"item": x.From})); got != "main 1" {
				t.Errorf("callers of own_part: %s", got)
			}
		}
	}
	// From inside of a routine.
	items = call[[]callItem](c, "textDocument/prepareCallHierarchy", spot(dir, "src/main.s", "push", 0))
	if len(items) != 1 || items[0].Name != "main" {
		t.Fatalf("inside of main: %+v", items)
	}
	var to []string
	for _, x := range call[[]outgoingCall](c, "callHierarchy/outgoingCalls", obj{"item": items[0]}) {
		to = append(to, x.To.Name)
	}
	if got := strings.Join(to, " "); got != "set_points set_lamp own_part" {
		t.Errorf("main calls %s", got)
	}
}

// TestCallsAgree holds that hover, lens and call hierarchy mean the same by a call: a jump, and a load
// of the address into PC, are some.
func TestCallsAgree(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "main.s"), "\t.cpu cortex-m3\n\t.syntax unified\n\t.thumb\n\t.thumb_func\nmain:\n\tpush {lr}\n\tbl lamp\n\tbl ring\n\tpop {pc}\n\t.thumb_func\nring:\n\tldr pc, =lamp\n\t.thumb_func\nlamp:\n\tbx lr\n\t.ltorg\n")
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	c.openFile(dir, "main.s")
	items := call[[]callItem](c, "textDocument/prepareCallHierarchy", spot(dir, "main.s", "lamp", 0))
	var callers []string
	for _, x := range call[[]incomingCall](c, "callHierarchy/incomingCalls", obj{"item": items[0]}) {
		callers = append(callers, x.From.Name)
	}
	slices.Sort(callers)
	if got := strings.Join(callers, " "); got != "main ring" {
		t.Errorf("callers of lamp: %s", got)
	}
	if h := call[hover](c, "textDocument/hover", spot(dir, "main.s", "lamp", 0)); !strings.Contains(h.Contents.Value, "Called 2 times") {
		t.Errorf("hover of lamp: %s", h.Contents.Value)
	}
	items = call[[]callItem](c, "textDocument/prepareCallHierarchy", spot(dir, "main.s", "ring", 0))
	if out := call[[]outgoingCall](c, "callHierarchy/outgoingCalls", obj{"item": items[0]}); len(out) != 1 || out[0].To.Name != "lamp" {
		t.Errorf("ring calls %+v", out)
	}
}

// renamed asks for a rename and makes its edits; the result has the new texts by file, or the
// reason why there are none.
func renamed(t *testing.T, c *client, dir string, p obj, name string) (map[string]string, string) {
	t.Helper()
	p["newName"] = name
	m := c.reply(c.start("textDocument/rename", p))
	if m.Error != nil {
		return nil, m.Error.Message
	}
	var e workspaceEdit
	if err := json.Unmarshal(m.Result, &e); err != nil {
		t.Fatal(err)
	}
	return applied(t, dir, &e), ""
}

func applied(t *testing.T, dir string, e *workspaceEdit) map[string]string {
	t.Helper()
	out := map[string]string{}
	for _, d := range e.DocumentChanges {
		name := strings.TrimPrefix(d.TextDocument.URI, fileURI(dir)+"/")
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		src := newText(syntax.Parse(string(data)))
		var changes []syntax.Change
		for _, x := range d.Edits {
			s := src.span(x.Range, utf8Columns)
			changes = append(changes, syntax.Change{Start: s.Start, End: s.End, New: x.NewText})
		}
		out[name] = src.file.EditAll(changes).Text()
	}
	return out
}

// everywhere is the texts of files in which a word has been replaced.
func everywhere(was, now string, files ...string) map[string]string {
	out := map[string]string{}
	for _, f := range files {
		out[f] = strings.ReplaceAll(boxFiles[f], was, now)
	}
	return out
}

func TestRenameAcross(t *testing.T) {
	dir, c := box(t, nil)
	c.openFile(dir, "src/main.s")
	for _, x := range []struct {
		file, word, name string
		skip             int
		want             map[string]string
	}{
		{"src/main.s", "set_lamp", "switch_lamp", 0, everywhere("set_lamp", "switch_lamp", "src/main.s", "src/points.s", "src/lamps.s")},
		{"src/main.s", "lamp_state", "lit", 0, everywhere("lamp_state", "lit", "src/main.s", "src/points.s", "src/lamps.s")},
		{"src/main.s", "POINTS", "MOST_POINTS", 0, everywhere("POINTS", "MOST_POINTS", "src/main.s", "src/points.s", "inc/box.inc")},
		{"src/main.s", "own_part", "rest", 0, everywhere("own_part", "rest", "src/main.s")},
	} {
		p := spot(dir, x.file, x.word, x.skip)
		ready := call[obj](c, "textDocument/prepareRename", spot(dir, x.file, x.word, x.skip))
		if ready["placeholder"] != x.word {
			t.Errorf("prepare %s: %v", x.word, ready)
		}
		got, why := renamed(t, c, dir, p, x.name)
		if len(got) != len(x.want) {
			t.Errorf("%s: %d files, want %d: %s %v", x.word, len(got), len(x.want), why, got)
		}
		for file, text := range x.want {
			if got[file] != text {
				t.Errorf("%s: %s is\n%s\nwant\n%s\n%s", x.word, file, got[file], text, why)
			}
		}
	}
	for _, x := range []struct{ word, name, want string }{
		{"set_lamp", "set_points", "is a name already"},
		{"own_part", "set_lamp", "is a name already"},
		{"set_lamp", "main_table", "is a name already, in points.s"},
		{"set_lamp", "r5", "already has a meaning"},
		{"POINTS", "9x", "cannot be a name"},
	} {
		if got, why := renamed(t, c, dir, spot(dir, "src/main.s", x.word, 0), x.name); !strings.Contains(why, x.want) {
			t.Errorf("%s to %s: %v, %q; want %q", x.word, x.name, got, why, x.want)
		}
	}
}

func TestRenameRefusedAcross(t *testing.T) {
	dir, c := box(t, map[string]string{"src/box.c": "extern void set_points(int);\n", "src/user.s": "\tbl away\n"})
	c.openFile(dir, "src/main.s")
	c.openFile(dir, "src/user.s")
	if got, why := renamed(t, c, dir, spot(dir, "src/main.s", "set_points", 0), "turn"); !strings.Contains(why, "box.c") {
		t.Errorf("a name in C: %v, %q", got, why)
	}
	m := c.reply(c.start("textDocument/prepareRename", spot(dir, "src/user.s", "away", 0)))
	if m.Error == nil || m.Error.Code != int32(requestFailed) || !strings.Contains(m.Error.Message, "outside") {
		t.Errorf("a name that nobody defines: %+v", m)
	}
	if got := call[any](c, "textDocument/prepareRename", at(fileURI(filepath.Join(dir, "src/user.s")), 0, 0)); got != nil {
		t.Errorf("no word: %v", got)
	}
}

// TestWillRename moves a file that others include, and a folder.
func TestWillRename(t *testing.T) {
	dir, c := box(t, nil)
	c.openFile(dir, "src/main.s")
	u := func(name string) string { return fileURI(filepath.Join(dir, name)) }
	ask := func(from, to string) map[string]string {
		var e workspaceEdit
		m := c.reply(c.start("workspace/willRenameFiles", obj{"files": []obj{{"oldUri": u(from), "newUri": u(to)}}}))
		if m.Error != nil {
			t.Fatal(m.Error.Message)
		}
		if err := json.Unmarshal(m.Result, &e); err != nil {
			t.Fatal(err)
		}
		return applied(t, dir, &e)
	}
	for _, x := range []struct{ from, to, name string }{
		{"inc/box.inc", "inc/signal.inc", "../inc/signal.inc"},
		{"inc/box.inc", "src/box.inc", "box.inc"},
		{"inc", "headers", "../headers/box.inc"},
	} {
		got := ask(x.from, x.to)
		for _, file := range []string{"src/main.s", "src/points.s"} {
			if want := strings.ReplaceAll(boxFiles[file], "../inc/box.inc", x.name); got[file] != want {
				t.Errorf("%s to %s: %s is\n%s", x.from, x.to, file, got[file])
			}
		}
		if len(got) != 2 {
			t.Errorf("%s to %s: %d files", x.from, x.to, len(got))
		}
	}
	if got := ask("src/main.s", "src/deep/main.s"); len(got) != 1 || !strings.Contains(got["src/main.s"], `"../../inc/box.inc"`) {
		t.Errorf("a file that includes: %v", got)
	}
	write(t, filepath.Join(dir, "src/table.s"), "\t.data\n\t.incbin \"lamps.bin\" @ lamps.bin\n\t.incbin \"../inc/more.bin\", 2, 4\n")
	write(t, filepath.Join(dir, "src/lamps.bin"), "lamps")
	write(t, filepath.Join(dir, "inc/more.bin"), "more lamps")
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": u("src/table.s"), "type": 1}}})
	if got := ask("src/lamps.bin", "bin/on.bin"); len(got) != 1 || !strings.Contains(got["src/table.s"], "\"../bin/on.bin\" @ lamps.bin") {
		t.Errorf("a file that is taken as bytes: %v", got)
	}
	if got := ask("inc", "headers"); len(got) != 3 || !strings.Contains(got["src/table.s"], "\"../headers/more.bin\", 2") {
		t.Errorf("a folder with one: %v", got)
	}
	c.openFile(dir, "src/table.s")
	if got := ask("src/table.s", "table.s"); len(got) != 1 || !strings.Contains(got["src/table.s"], "\"src/lamps.bin\"") || !strings.Contains(got["src/table.s"], "\"inc/more.bin\"") {
		t.Errorf("a file that takes some: %v", got)
	}
	if got := ask("src/lamps.s", "src/light.s"); len(got) != 0 {
		t.Errorf("a file that nobody includes: %v", got)
	}
}

// TestWillRenameFound moves files that a folder of the settings leads to, to where another name does
// or none.
func TestWillRenameFound(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"narrowgauge.json":     `{"include": ["inc", "more"], "preprocess": "never"}`,
		"src/box.s":            "\t.include \"box.inc\"\n\tnop\n",
		"inc/box.inc":          "\t.equ LAMPS, 4\n",
		"cpp/narrowgauge.json": `{"include": ["../inc"]}`,
		"cpp/box.S":            "#include \"lamps.h\"\n\tnop\n",
		"cpp/signal.S":         "#include <lamps.h>\n\tnop\n",
		"inc/lamps.h":          "#define LAMPS 4\n",
		"cpp/there.h":          "",
		"more/there.inc":       "",
	} {
		write(t, filepath.Join(dir, name), text)
	}
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	u := func(name string) string { return fileURI(filepath.Join(dir, name)) }
	for _, x := range []struct{ from, to, file, name string }{
		{"inc/box.inc", "inc/deep/box2.inc", "src/box.s", "\"deep/box2.inc\""},
		{"inc/box.inc", "more/box2.inc", "src/box.s", "\"box2.inc\""},
		{"inc/box.inc", "src/box2.inc", "src/box.s", "\"../src/box2.inc\""},
		{"inc/box.inc", "src/deep/box2.inc", "src/box.s", "\"../src/deep/box2.inc\""},
		{"inc/box.inc", "box2.inc", "src/box.s", "\"../box2.inc\""},
		{"inc/box.inc", "other/deep/box2.inc", "src/box.s", "\"../other/deep/box2.inc\""},
		{"inc/box.inc", "inc/a\"b.inc", "src/box.s", "\"a\\\"b.inc\""},
		{"inc/lamps.h", "cpp/lamps2.h", "cpp/box.S", "\"lamps2.h\""},
		{"inc/lamps.h", "cpp/lamps2.h", "cpp/signal.S", "<../cpp/lamps2.h>"},
		{"inc/lamps.h", "inc/a\"b.h", "cpp/box.S", ""},
		{"inc/lamps.h", "other/lamps.h", "cpp/box.S", "\"../other/lamps.h\""},
	} {
		var e workspaceEdit
		m := c.reply(c.start("workspace/willRenameFiles", obj{"files": []obj{{"oldUri": u(x.from), "newUri": u(x.to)}}}))
		if m.Error != nil {
			t.Fatal(m.Error.Message)
		}
		if err := json.Unmarshal(m.Result, &e); err != nil {
			t.Fatal(err)
		}
		line, _, _ := strings.Cut(applied(t, dir, &e)[x.file], "\n")
		if got := line[strings.LastIndexByte(line, ' ')+1:]; got != x.name {
			t.Errorf("%s to %s: %s has %q, want %q", x.from, x.to, x.file, got, x.name)
		}
	}
}

// TestFindingsAcross waits for findings about several files, and for the end of them.
func TestFindingsAcross(t *testing.T) {
	dir, c := box(t, map[string]string{"src/arm.s": "\t.arm\n\t.global turn\nturn:\tbx lr\n"})
	main := boxFiles["src/main.s"] + "more:\tbl turn\n\tbl set_lmap\n\tb main\n"
	uri := fileURI(filepath.Join(dir, "src/main.s"))
	c.open(uri, 1, main)
	got := c.findings(uri, 1, 2)
	codes := map[string]string{}
	for _, d := range got.Diagnostics {
		codes[d.Code.(string)] += d.Message + "\n"
	}
	if !strings.Contains(codes["state-across-files"], "turn is A32 code") || !strings.Contains(codes["defined-nowhere"], "Similar: set_lamp") || strings.Contains(codes["external-symbol"], "set_lmap") {
		t.Errorf("findings: %+v", codes)
	}
	// Behind an edit they move, and go when they are mended.
	c.replace(uri, 2, "@ a line\n"+main)
	got = c.findings(uri, 2, 2)
	for _, d := range got.Diagnostics {
		if d.Code == "state-across-files" && d.Range.Start.Line != 17 {
			t.Errorf("it has not moved: %+v", d)
		}
	}
	c.replace(uri, 3, boxFiles["src/main.s"])
	c.findings(uri, 3, 0)
}

// TestGroups holds that a build which keeps programs apart is believed.
func TestGroups(t *testing.T) {
	dir := t.TempDir()
	db := []obj{}
	for _, f := range []struct{ file, out string }{{"a.s", "app.dir/a.o"}, {"b.s", "app.dir/b.o"}, {"c.s", "test.dir/c.o"}} {
		db = append(db, obj{"directory": dir, "file": f.file, "command": "arm-none-eabi-gcc -c " + f.file + " -o " + f.out})
	}
	data, _ := json.Marshal(db)
	write(t, filepath.Join(dir, "compile_commands.json"), string(data))
	write(t, filepath.Join(dir, "b.s"), "\t.global reset\nreset:\tb reset\n")
	write(t, filepath.Join(dir, "c.s"), "\t.global other, reset\nother:\tb reset\nreset:\n")
	text := "\t.global reset, other\nreset:\tb reset\nother:\n\tb other\n"
	write(t, filepath.Join(dir, "a.s"), text)
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	uri := fileURI(filepath.Join(dir, "a.s"))
	c.open(uri, 1, text)
	got := c.findings(uri, 1, 1)
	if d := got.Diagnostics[0]; d.Code != "global-twice" || d.Range.Start.Line != 1 || !strings.Contains(d.Message, "b.s") {
		t.Errorf("%+v", d)
	}
}

// TestBudgetOfProgram holds sections against their budget together where a build says which
// sources become one program, in the source that has most of them.
func TestBudgetOfProgram(t *testing.T) {
	dir := t.TempDir()
	db := []obj{}
	for _, f := range []struct{ file, out string }{{"a.s", "app.dir/a.o"}, {"b.s", "app.dir/b.o"}, {"c.s", "test.dir/c.o"}} {
		db = append(db, obj{"directory": dir, "file": f.file, "command": "arm-none-eabi-gcc -c " + f.file + " -o " + f.out})
	}
	data, _ := json.Marshal(db)
	write(t, filepath.Join(dir, "compile_commands.json"), string(data))
	write(t, filepath.Join(dir, "narrowgauge.json"), `{"budget": {".text": 20}}`)
	texts := map[string]string{"a.s": "\tnop\n\tnop\n\tnop\n", "b.s": "@ lamps\n\tnop\n\tnop\n", "c.s": "\tnop\n\tnop\n\tnop\n\tnop\n\tnop\n"}
	for name, text := range texts {
		write(t, filepath.Join(dir, name), text)
	}
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	uri := func(name string) string { return fileURI(filepath.Join(dir, name)) }
	for name, text := range texts {
		c.open(uri(name), 1, text)
		c.findings(uri(name), 1, 0) // 20 bytes are no more than 20
	}
	c.replace(uri("b.s"), 2, "@ lamps\n"+strings.Repeat("\tnop\n", 4))
	got := c.findings(uri("b.s"), 2, 1)
	if d := got.Diagnostics[0]; d.Code != "section-budget" || d.Range.Start.Line != 1 || !strings.Contains(d.Message, "28 bytes in 2 sources, 8 more") {
		t.Errorf("%+v", d)
	}
	c.replace(uri("b.s"), 3, "@ lamps\n")
	c.findings(uri("b.s"), 3, 0)
}
