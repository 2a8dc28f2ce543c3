package server

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
	"narrowgauge/server/project"
)

// TestHostileFiles opens sources that name what must not be read, or cannot
// be. Each gets a finding that says so, the rest of it is looked at, and the
// next question is answered.
func TestHostileFiles(t *testing.T) {
	dir := t.TempDir()
	inside, outside := filepath.Join(dir, "box"), filepath.Join(dir, "house")
	write(t, filepath.Join(outside, "secret"), "password hunter22\n")
	write(t, filepath.Join(outside, "far.inc"), "\t.equ FAR, 1\n")
	write(t, filepath.Join(inside, "nul.inc"), strings.Repeat("\x00", 1<<20))
	write(t, filepath.Join(inside, "line.inc"), "@"+strings.Repeat("x", 10<<20))
	write(t, filepath.Join(inside, "bytes.inc"), strings.Repeat("\xff\xfe\x00\r", 10_000))
	write(t, filepath.Join(inside, "big.inc"), "")
	write(t, filepath.Join(inside, "a.inc"), "\t.include \"b.inc\"\n\t.include \"b.inc\"\n")
	write(t, filepath.Join(inside, "b.inc"), "\t.include \"a.inc\"\n")
	for i := range 40 {
		write(t, filepath.Join(inside, fmt.Sprintf("level%d.inc", i)), strings.Repeat(fmt.Sprintf("\t.include \"level%d.inc\"\n", i+1), 2))
	}
	write(t, filepath.Join(inside, "level40.inc"), "\t.equ LEVEL, 1\n")
	write(t, filepath.Join(inside, "locked.inc"), "\t.equ LOCKED, 1\n")
	if err := os.Truncate(filepath.Join(inside, "big.inc"), project.MaxSource+2); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(inside, "folder.inc"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := mkfifo(filepath.Join(inside, "pipe.inc"), 0o644); err != nil {
		reftest.Need(t, false, err.Error())
	}
	for link, to := range map[string]string{"link.inc": "../house/secret", "loop.inc": "loop.inc", "zero.inc": "/dev/zero", "below": ".."} {
		if err := os.Symlink(to, filepath.Join(inside, link)); err != nil {
			reftest.Need(t, false, err.Error())
		}
	}
	c := dial(t, Options{})
	// Devices are looked at where the user allows it: even so, none is read.
	c.initialize(allCaps(), obj{"rootUri": fileURI(inside), "initializationOptions": obj{"readAlso": []string{"/dev", "/proc"}}})
	for i, tt := range []struct {
		line string
		want string // in a finding; empty: there is none but the probe's
	}{
		{`.include "folder.inc"`, "it is a folder"},
		{`.include "."`, "it is a folder"},
		{`.include "/dev/zero"`, "a device"},
		{`.include "/dev/stdin"`, "a device"},
		{`.include "zero.inc"`, "a device"},
		{`.include "pipe.inc"`, "a pipe"},
		{`.include "big.inc"`, "the limit"},
		{`.include "../house/secret"`, "outside of the project"},
		{`.include "../../../../../../../../etc/passwd"`, "outside of the project"},
		{`.include "/etc/passwd"`, "outside of the project"},
		{`.include "link.inc"`, "outside of the project"},
		{`.include "loop.inc"`, "none of the include folders"},
		{`.include "../house/far.inc"`, "outside of the project"},
		{`.include "below/box/below/house/far.inc"`, "outside of the project"},
		{`.include "below/box/below/box/a.inc"`, ""},
		{`.include "a\000b"`, "zero byte"},
		{`.include "` + strings.Repeat("x", 100_000) + `"`, "none of the include folders"},
		{`.include "` + strings.Repeat("../", 10_000) + `x"`, "none of the folders of the project"},
		{`.include "nul.inc"`, ""},
		{`.include "line.inc"`, ""},
		{`.include "bytes.inc"`, ""},
		{`.include "a.inc"`, ""},
		{`.include "level0.inc"`, ""},
		{`.include ""`, "none of the include folders"},
		{`.incbin "folder.inc"`, "it is a folder"},
		{`.incbin "/dev/zero"`, "a device"},
		{`.incbin "pipe.inc"`, "a pipe"},
		{`.incbin "big.inc"`, ""},
		{`.incbin "../house/secret"`, "outside of the project"},
		{`.incbin "../house/no-such"`, "outside of the project"},
		{`.incbin "a\000b"`, "zero byte"},
	} {
		name := fmt.Sprintf("case%d.s", i)
		uri := fileURI(filepath.Join(inside, name))
		c.open(uri, 1, "\t.syntax unified\n\t.thumb\n\t"+tt.line+"\n\tmovs r0, #300\n")
		n := 1
		if tt.want != "" {
			n = 2
		}
		p := c.findings(uri, 1, n)
		if tt.want != "" && !strings.Contains(p.Diagnostics[0].Message, tt.want) {
			t.Errorf("%.60s: %q, want %q", tt.line, p.Diagnostics[0].Message, tt.want)
		}
		if last := p.Diagnostics[n-1]; last.Range.Start.Line != 3 {
			t.Errorf("%.60s: the rest is not looked at: %+v", tt.line, p.Diagnostics)
		}
		c.reply(c.start("textDocument/hover", at(uri, 3, 2)))
		c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": uri}})
	}
	// Nothing that was said has a word of the file outside.
	c.mu.Lock()
	defer c.mu.Unlock()
	if log := show(c.log); strings.Contains(log, "hunter2") || strings.Contains(log, "root:x:") {
		t.Error("a finding shows what stands in a file outside")
	}
	if len(c.log) == 0 {
		t.Error("nothing was said")
	}
}

// Hostile names and texts in open documents, and hostile project files and
// databases, end nothing.
func TestHostileProject(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "src", "a.s")
	db := filepath.Join(dir, "src", project.CommandsName)
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	version := 1
	c.open(fileURI(name), version, "\tnop\n")
	for _, text := range []string{
		"", "[", "{}", "null", strings.Repeat("[", 1<<20), strings.Repeat("{", 1<<20), "[" + strings.Repeat("null,", 1<<16) + "null]",
		`[{"directory":"` + strings.Repeat("/x", 1<<16) + `","file":"a.s","command":"as"}]`,
		`[{"directory":"` + filepath.Dir(name) + `","file":"a.s","command":"as ` + strings.Repeat("-I/dev/zero ", 1<<16) + `"}]`,
		`[{"directory":"` + filepath.Dir(name) + `","file":"a.s","command":"gcc @a.s @/dev/zero @` + project.CommandsName + `"}]`,
		`[{"directory":"` + filepath.Dir(name) + `","file":"a.s","command":"'unfinished"}]`,
		"[{\"file\":\"\\u0000\",\"command\":\"\\u0000\"}]",
	} {
		write(t, db, text)
		c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(db), "type": 2}}})
		version++
		c.replace(fileURI(name), version, "\t.syntax unified\n\t.thumb\n\tmovs r0, #300\n")
		c.findings(fileURI(name), version, 1)
	}
	if err := os.Remove(db); err != nil {
		t.Fatal(err)
	}
	if err := mkfifo(db, 0o644); err != nil {
		reftest.Need(t, false, err.Error())
	}
	version++
	c.replace(fileURI(name), version, "\t.syntax unified\n\t.thumb\n\tmovs r0, #300\n")
	c.findings(fileURI(name), version, 1)
}
