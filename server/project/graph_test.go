package project

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

func TestIncludeNames(t *testing.T) {
	for _, tt := range []struct {
		text string
		want []string
	}{
		{"\t.include \"a.inc\"\n.include\t\"b/c.inc\" @ x\n", []string{"a.inc", "b/c.inc"}},
		{"#include <a.h>\n #  include \"b.h\"\n#include NAME\n", []string{"a.h", "b.h", "NAME"}},
		{"\tINCLUDE a.s ; x\n\tGET b.s\nGET c.s\nget: nop\n", []string{"a.s", "b.s"}},
		{".included \"x\"\n.include\n.include \"open\n@ .include \"x\"\n", nil},
		{".include \"a\"\n.include \"a\"\r\n.INCLUDE \"b\"\r\n", []string{"a", "b"}},
		{strings.Repeat("x", 5000) + "\n\x00\xff\n.include \"a\"", []string{"a"}},
	} {
		if got := includeNames([]byte(tt.text)); !slices.Equal(got, tt.want) {
			t.Errorf("%.60q: %q, want %q", tt.text, got, tt.want)
		}
	}
}

func TestGraph(t *testing.T) {
	dir := t.TempDir()
	for path, text := range map[string]string{
		"src/main.S": `.include "box.inc"`, "src/box.inc": `.include "../inc/deep.inc"`, "inc/deep.inc": "",
		"boot/start.s": `#include <deep.inc>`, "other/deep.inc": "", "other/x.s": ".include \"other/deep.inc\"",
		"ring/a.inc": `.include "b.inc"`, "ring/b.inc": `.include "a.inc"`, "ring/c.inc": `.include "c.inc"`,
		".git/hidden.s": `.include "deep.inc"`, "node_modules/m.s": `.include "deep.inc"`, "notes.txt": `.include "deep.inc"`,
	} {
		write(t, filepath.Join(dir, path), text)
	}
	if err := os.Symlink(dir, filepath.Join(dir, "src", "again")); err != nil {
		reftest.Need(t, false, err.Error())
	}
	var g Graph
	if !g.Scan(context.Background(), dir, true, NewBounds(dir)) {
		t.Error("stopped at a bound")
	}
	roots := func(path string, most int) string {
		var out []string
		for _, r := range g.Roots(filepath.Join(dir, path), most) {
			rel, err := filepath.Rel(dir, r)
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, filepath.ToSlash(rel))
		}
		return strings.Join(out, " ")
	}
	for _, tt := range []struct{ path, want string }{
		{"inc/deep.inc", "boot/start.s src/main.S"},
		{"src/box.inc", "src/main.S"},
		{"src/main.S", ""},
		{"other/deep.inc", "boot/start.s other/x.s"},
		{"ring/a.inc", ""},
		{"ring/c.inc", ""},
		{"none.inc", ""},
	} {
		if got := roots(tt.path, 8); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.path, got, tt.want)
		}
	}
	if got := roots("inc/deep.inc", 1); got != "boot/start.s" {
		t.Errorf("one: %q", got)
	}
	write(t, filepath.Join(dir, "src", "box.inc"), "nop")
	g.Update(filepath.Join(dir, "src", "box.inc"), NewBounds(dir))
	if err := os.Remove(filepath.Join(dir, "boot", "start.s")); err != nil {
		t.Fatal(err)
	}
	g.Update(filepath.Join(dir, "boot", "start.s"), NewBounds(dir))
	if got := roots("inc/deep.inc", 8); got != "" {
		t.Errorf("after changes: %q", got)
	}
	var flat Graph
	flat.Scan(context.Background(), filepath.Join(dir, "ring"), false, NewBounds(dir))
	if got := len(flat.files); got != 3 {
		t.Errorf("%d files in one folder", got)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	var none Graph
	if none.Scan(ctx, dir, true, NewBounds(dir)); len(none.files) != 0 {
		t.Error("scanned although cancelled")
	}
	// Many includers: the answer stays short.
	for i := range 3000 {
		g.mu.Lock()
		p := fmt.Sprintf("/many/%d.s", i)
		g.files[p] = []string{"deep.inc"}
		g.byBase["deep.inc"][p] = true
		g.mu.Unlock()
	}
	if got := g.Roots(filepath.Join(dir, "inc", "deep.inc"), 4); len(got) != 4 {
		t.Errorf("%d of many", len(got))
	}
}

// TestMayInclude holds which lines are about programs that are included, and which have a
// name that nothing can be said of.
func TestMayInclude(t *testing.T) {
	for _, tt := range []struct {
		text  string
		named bool // box.s
		open  bool // everything
	}{
		{"", false, false},
		{"\tmovs r0, #1 @ as in box.s\n", false, false},
		{"\t.include \"box.s\"\n", true, false},
		{"\t.include \"../lamps/BOX.S\"\n", true, false},
		{"#include <lamps/box.s>\n", true, false},
		{"# include_next \"box.s\"\n", true, false},
		{"start: nop; .include \"box.s\" @ & more\n", true, false},
		{"\tGET box.s ; with $ and &\n", true, false},
		{"\tinclude lamps\\box.s\n", true, true}, // or an argument
		{"\tgetting box.s\n", false, false},
		{"target box.s\n", false, false},
		{"\t.include \"inbox.s\"\n", false, false},
		{"\t.include \"\\name\"\n", false, true},
		{"\t.include name\n", false, true},
		{"#include LAMPS\n", false, true},
		{"\tGET $lamps\n", false, true},
		{"\t.incbin \"\\name\"\n", false, false},
	} {
		dir := t.TempDir()
		write(t, filepath.Join(dir, "main.S"), tt.text)
		var g Graph
		g.Scan(context.Background(), dir, true, NewBounds(dir))
		if got := g.MayInclude(filepath.Join(dir, "box.s")); got != (tt.named || tt.open) {
			t.Errorf("%q: %v", tt.text, got)
		}
		if got := g.MayInclude(filepath.Join(dir, "other.s")); got != tt.open {
			t.Errorf("%q: another one: %v", tt.text, got)
		}
	}
}
