package server

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.lsp.dev/protocol"

	"narrowgauge/server/project"
)

// yard is a workspace whose sources mean something together only.
func yard(t *testing.T, more map[string]string) string {
	t.Helper()
	dir := t.TempDir()
	files := map[string]string{
		"src/main.s":    "\t.syntax unified\n\t.thumb\n\t.equ LAMPS, 9\n\t.macro light n\n\tmovs r0, #\\n\n\t.endm\nstart:\n\t.include \"lamps.inc\"\n\tbx lr\n",
		"src/lamps.inc": lampsText,
		"src/other.s":   "\tnop\n",
	}
	for name, text := range more {
		files[name] = text
	}
	for name, text := range files {
		if text != "" {
			write(t, filepath.Join(dir, name), text)
		}
	}
	return dir
}

const lampsText = "lamps:\n\tlight LAMPS\n\tmovs r1, #LAMPS\n\tbl start\n"

func yardClient(t *testing.T, dir string, more obj) *client {
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir), "initializationOptions": more})
	return c
}

func touch(t *testing.T, path string, later time.Duration) {
	t.Helper()
	when := time.Now().Add(later)
	if err := os.Chtimes(path, when, when); err != nil {
		t.Fatal(err)
	}
}

// An included file that is opened by itself is read as its program reads it.
func TestIncludedFileAlone(t *testing.T) {
	dir := yard(t, nil)
	main, lamps := filepath.Join(dir, "src", "main.s"), filepath.Join(dir, "src", "lamps.inc")
	uri := fileURI(lamps)
	c := yardClient(t, dir, nil)
	c.open(uri, 1, lampsText)
	c.findings(uri, 1, 0)
	if h := call[hover](c, "textDocument/hover", at(uri, 2, 12)); !strings.Contains(h.Contents.Value, "LAMPS") || !strings.Contains(h.Contents.Value, "`9`") {
		t.Errorf("hover: %q", h.Contents.Value)
	}
	defs := call[[]protocol.Location](c, "textDocument/definition", at(uri, 3, 5))
	if len(defs) != 1 || string(defs[0].URI) != fileURI(main) || defs[0].Range.Start.Line != 6 {
		t.Errorf("definition: %+v", defs)
	}
	p := at(uri, 1, 8)
	p["context"] = obj{"includeDeclaration": true}
	refs := call[[]protocol.Location](c, "textDocument/references", p)
	if len(refs) != 3 {
		t.Errorf("references: %+v", refs)
	}
	if tree := call[[]protocol.DocumentSymbol](c, "textDocument/documentSymbol", obj{"textDocument": obj{"uri": uri}}); len(tree) != 1 || tree[0].Name != "lamps" || !strings.Contains(tree[0].Detail, "T16") {
		t.Errorf("outline: %+v", tree)
	}
	// An edit is looked at in the same light, and offers what its findings have.
	c.replace(uri, 2, lampsText+"\tmovs r0, #300\n")
	c.findings(uri, 2, 1)
	actions := call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": uri}, "range": rng(4, 2, 4, 2), "context": obj{"diagnostics": []obj{}}})
	if len(actions) > 0 && actions[0].Edit == nil && actions[0].Data == "" {
		t.Errorf("%+v", actions)
	}
	// The root changes on disk.
	write(t, main, "\t.syntax unified\n\t.thumb\n\t.equ LAMPS, 900\n\t.macro light n\n\t.endm\nstart:\n\t.include \"lamps.inc\"\n")
	touch(t, main, time.Minute)
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(main), "type": 2}}})
	c.findings(uri, 2, 2)
	// It is opened, and its buffer wins.
	c.forget()
	c.open(fileURI(main), 1, "\t.syntax unified\n\t.thumb\n\t.equ LAMPS, 3\n\t.macro light n\n\t.endm\nstart:\n\t.include \"lamps.inc\"\n")
	c.findings(uri, 2, 1)
	if h := call[hover](c, "textDocument/hover", at(uri, 2, 12)); !strings.Contains(h.Contents.Value, "`3`") {
		t.Errorf("hover: %q", h.Contents.Value)
	}
	// Closed again: the disk counts.
	c.forget()
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(main)}})
	c.findings(uri, 2, 2)
	// Nothing includes it any more: it speaks for itself.
	c.forget()
	write(t, main, "\tnop\n")
	touch(t, main, 2*time.Minute)
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(main), "type": 2}}})
	c.find("a finding about the macro that is gone", func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), "light")
	})
}

// Which root speaks for a file.
func TestIncludedFileRoots(t *testing.T) {
	second := "\t.syntax unified\n\t.thumb\n\t.equ LAMPS, 7\n\t.macro light n\n\t.endm\nstart:\n\t.include \"src/lamps.inc\"\n"
	for _, tt := range []struct {
		name  string
		files map[string]string
		open  string // a root that is open as well
		want  string // in the hover on LAMPS
	}{
		{"one", nil, "", "`9`"},
		{"through another file", map[string]string{"src/main.s": "", "src/mid.inc": `.include "lamps.inc"`, "top.s": "\t.equ LAMPS, 5\n\t.include \"src/mid.inc\"\n"}, "", "`5`"},
		{"the first of two", map[string]string{"another.s": second}, "", "`9`"},
		{"the one that is open", map[string]string{"another.s": second}, "another.s", "`7`"},
		{"one that does not assemble the line, and one that does", map[string]string{"src/a.s": ".if 0\n.include \"lamps.inc\"\n.endif\n"}, "", "`9`"},
		{"named by the compilation database", map[string]string{"build/" + project.CommandsName: `[{"directory":"/","file":"%s/src/lamps.s","command":"as --defsym LAMPS=4 lamps.s"}]`,
			"src/lamps.s": lampsText, "src/main.s": `.include "lamps.s"`}, "", "`4`"},
		{"the one with compile flags", map[string]string{"z.s": second, "build/" + project.CommandsName: `[{"directory":"%s","file":"z.s","command":"as z.s"}]`}, "", "`7`"},
		{"one with compile flags among many", map[string]string{"src/main.s": "", "b.s": second, "c.s": second, "d.s": second, "e.s": second, "f.s": strings.Replace(second, "7", "2", 1),
			"build/" + project.CommandsName: `[{"directory":"%s","file":"f.s","command":"as f.s"}]`}, "", "`2`"},
		{"an open one of many, without compile flags", map[string]string{"src/main.s": "", "b.s": second, "c.s": second, "d.s": second, "e.s": second, "f.s": strings.Replace(second, "7", "2", 1),
			"build/" + project.CommandsName: `[{"directory":"%s","file":"b.s","command":"as b.s"}]`}, "f.s", "`2`"},
		{"in a circle", map[string]string{"src/main.s": "", "src/lamps.inc": "\t.include \"back.inc\"\n\tmovs r1, #LAMPS\n", "src/back.inc": ".equ LAMPS, 6\n.include \"lamps.inc\"\n"}, "", "`6`"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			dir := yard(t, tt.files)
			name := filepath.Join(dir, "src", "lamps.inc")
			if tt.files["src/lamps.s"] != "" {
				name = filepath.Join(dir, "src", "lamps.s")
			}
			if tt.files["build/"+project.CommandsName] != "" {
				db := filepath.Join(dir, "build", project.CommandsName)
				write(t, db, fmt.Sprintf(tt.files["build/"+project.CommandsName], dir))
			}
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			c := yardClient(t, dir, nil)
			if tt.open != "" {
				root, err := os.ReadFile(filepath.Join(dir, tt.open))
				if err != nil {
					t.Fatal(err)
				}
				c.open(fileURI(filepath.Join(dir, tt.open)), 1, string(root))
				c.findings(fileURI(filepath.Join(dir, tt.open)), 1, 0)
			}
			c.open(fileURI(name), 1, string(text))
			line := strings.Count(string(text)[:strings.Index(string(text), "#LAMPS")], "\n")
			h := call[hover](c, "textDocument/hover", at(fileURI(name), line, 12))
			if !strings.Contains(h.Contents.Value, tt.want) {
				t.Errorf("%q, want %s", h.Contents.Value, tt.want)
			}
		})
	}
}

// Of a file outside of the workspace only its own folder is searched.
func TestIncludedFileOutside(t *testing.T) {
	dir := yard(t, map[string]string{"src/main.s": "", "src/deep/main.s": "\t.equ LAMPS, 5\n\t.include \"../lamps.inc\"\n"})
	uri := fileURI(filepath.Join(dir, "src", "lamps.inc"))
	const text = "\t.byte LAMPS\n"
	for _, tt := range []struct{ root, want string }{{dir, "`5`"}, {t.TempDir(), "not defined"}} {
		c := yardClient(t, tt.root, nil)
		c.open(uri, 1, text)
		if h := call[hover](c, "textDocument/hover", at(uri, 0, 8)); !strings.Contains(h.Contents.Value, tt.want) {
			t.Errorf("%q, want %s", h.Contents.Value, tt.want)
		}
	}
	// A root beside it is found.
	write(t, filepath.Join(dir, "src", "beside.s"), "\t.equ LAMPS, 6\n\t.include \"lamps.inc\"\n")
	c := yardClient(t, t.TempDir(), nil)
	c.open(uri, 1, text)
	if h := call[hover](c, "textDocument/hover", at(uri, 0, 8)); !strings.Contains(h.Contents.Value, "`6`") {
		t.Errorf("%q", h.Contents.Value)
	}
}

// Two included files of one root that is not open share its analysis, and
// editing one reaches the other.
func TestIncludedFilesOfOneRoot(t *testing.T) {
	dir := yard(t, map[string]string{"src/main.s": "\t.syntax unified\n\t.thumb\n\t.include \"one.inc\"\n\t.include \"two.inc\"\n", "src/one.inc": ".equ N, 3\n", "src/two.inc": "\tmovs r0, #N\n"})
	one, two := fileURI(filepath.Join(dir, "src", "one.inc")), fileURI(filepath.Join(dir, "src", "two.inc"))
	c := yardClient(t, dir, nil)
	c.open(one, 1, ".equ N, 3\n")
	c.open(two, 1, "\tmovs r0, #N\n")
	c.findings(one, 1, 0)
	c.findings(two, 1, 0)
	c.replace(one, 2, ".equ N, 300\n")
	c.findings(two, 1, 1)
	c.forget()
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": one}})
	c.findings(two, 1, 0)
}

// Every folder of the workspace is searched, and is the project.
func TestWorkspaceFolders(t *testing.T) {
	dir, other := yard(t, nil), t.TempDir()
	write(t, filepath.Join(other, "sub", "main.s"), "\t.equ LAMPS, 8\n\t.include \"../low/part.inc\"\n")
	write(t, filepath.Join(other, "low", "part.inc"), "\t.byte LAMPS\n\t.include \"../data\"\n")
	write(t, filepath.Join(other, "data"), "\t.byte 1\n")
	uri := fileURI(filepath.Join(other, "low", "part.inc"))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"workspaceFolders": []obj{{"uri": fileURI(dir), "name": "a"}, {"uri": fileURI(other), "name": "b"}}})
	const text = "\t.byte LAMPS\n\t.include \"../data\"\n"
	c.open(uri, 1, text)
	c.findings(uri, 1, 0)
	if h := call[hover](c, "textDocument/hover", at(uri, 0, 8)); !strings.Contains(h.Contents.Value, "`8`") {
		t.Errorf("%q", h.Contents.Value)
	}
	// Without the folder the file beside it is out of bounds.
	c.forget()
	c.notify("workspace/didChangeWorkspaceFolders", obj{"event": obj{"added": []obj{}, "removed": []obj{{"uri": fileURI(other)}}}})
	c.replace(uri, 2, text)
	c.find("a finding about the project's bounds", func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), "outside of the project")
	})
}

// Compile flags reach the server, and a new database is taken at once.
func TestCompileCommands(t *testing.T) {
	const text = "\t.syntax unified\n\tmovs r0, #LAMPS\n"
	dir := yard(t, map[string]string{"src/flags.s": text})
	name := filepath.Join(dir, "src", "flags.s")
	db := filepath.Join(dir, "build", project.CommandsName)
	entry := `[{"directory":"` + dir + `","file":"src/flags.s","command":"as -mthumb -mcpu=cortex-m0 --defsym LAMPS=%d src/flags.s"}]`
	write(t, db, fmt.Sprintf(entry, 3))
	c := yardClient(t, dir, nil)
	c.open(fileURI(name), 1, text)
	c.findings(fileURI(name), 1, 0)
	write(t, db, fmt.Sprintf(entry, 300))
	touch(t, db, time.Minute)
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(db), "type": 2}}})
	p := c.findings(fileURI(name), 1, 1)
	if p.Diagnostics[0].Severity != protocol.DiagnosticSeverityError || !strings.Contains(p.Diagnostics[0].Message, "300") {
		t.Errorf("%+v", p.Diagnostics)
	}
	c.forget()
	c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"symbols": []string{"LAMPS=5"}}}})
	c.findings(fileURI(name), 1, 0)
	c.forget()
	c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"compileCommands": "never"}}})
	c.find("a finding about LAMPS", func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), "LAMPS")
	})
}

// The bytes that .incbin takes are watched.
func TestIncbinWatched(t *testing.T) {
	text := "\t.syntax unified\n\t.thumb\n\tbeq 1f\n\t.incbin \"lamps.bin\"\n1:\tbx lr\n"
	dir := yard(t, map[string]string{"src/bytes.s": text, "src/lamps.bin": strings.Repeat("x", 100)})
	name, bin := filepath.Join(dir, "src", "bytes.s"), filepath.Join(dir, "src", "lamps.bin")
	c := yardClient(t, dir, nil)
	c.open(fileURI(name), 1, text)
	c.findings(fileURI(name), 1, 0)
	write(t, bin, strings.Repeat("x", 600))
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(bin), "type": 2}}})
	c.findings(fileURI(name), 1, 1)
	if err := os.Remove(bin); err != nil {
		t.Fatal(err)
	}
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(bin), "type": 3}}})
	c.find("a finding about the missing file", func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), "include-missing")
	})
}
