package project

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
)

// TestAround holds where files are found that are in none of the folders of the settings.
// The project is invented.
func TestAround(t *testing.T) {
	dir := follow(t.TempDir())
	at := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	for name, text := range map[string]string{
		"box/Makefile":              "TOP = .\nSRC = src\nINCLUDES = -I$(TOP)/inc -I \"$(SRC)/more\" -I../out -I/etc\nbell.inc: bell.csv\n$(OBJ)/plan $(OBJ)/lamps.img: track\n$(GEN)/calls-%.S: list\n%.map: %.csv\ntargets := box.out rails_data\nWANTED := other_data\n\tln -fsn boards/$(BOARD) src/asm/board\n\tln out/x.h out/asm/hard\n",
		"box/CMakeLists.txt":        "target_include_directories(box\n  PRIVATE ${CMAKE_SOURCE_DIR}/cm\n  \"cm2\")\n",
		"box/meson.build":           "inc = include_directories('me', 'me2')\n",
		"box/tools/links.cmake":     "execute_process(COMMAND ${CMAKE_COMMAND} -E create_symlink \"${BOX}/rails\" \"${BOX}/include/rails\")\n",
		"box/conf.h.in":             "",
		"box/asm/macros.inc":        "",
		"box/src/asm/near.inc":      "",
		"box/asm/near.inc":          "",
		"box/inc/rails.inc":         "",
		"box/src/more/lamp.inc":     "",
		"box/cm/c1.inc":             "",
		"box/cm2/c2.inc":            "",
		"box/me2/m2.inc":            "",
		"box/x/y/z/only.inc":        "",
		"box/x/two.inc":             "",
		"box/x/rails.asm":           "",
		"box/y/two.inc":             "",
		"box/x/only/box.h":          "",
		"box/x/string.h":            "",
		"box/.hidden/h.inc":         "",
		"box/run/here.inc":          "",
		"out/secret.inc":            "",
		"box/src/points/deep/box.s": "",
	} {
		write(t, at(name), text)
	}
	link(t, "../out/secret.inc", at("box/x/link.inc"))
	write(t, at("box/include/lamps/all.h"), "")
	s := &Search{Disk: &Disk{}, Bounds: NewBounds(at("box")), Around: &Around{Builds: &BuildFiles{}, Index: &Index{}, Source: at("box/src/points/deep/box.s"), Current: at("box/run")}}
	from := s.Around.Source
	for _, c := range []struct {
		name   string
		system bool
		want   string
	}{
		{"here.inc", false, "box/run/here.inc"},
		{"asm/macros.inc", false, "box/asm/macros.inc"},
		{"asm/near.inc", false, "box/src/asm/near.inc"},
		{"rails.inc", false, "box/inc/rails.inc"},
		{"rails.inc", true, "box/inc/rails.inc"},
		{"lamp.inc", false, "box/src/more/lamp.inc"},
		{"c1.inc", false, "box/cm/c1.inc"},
		{"c2.inc", false, "box/cm2/c2.inc"},
		{"m2.inc", false, "box/me2/m2.inc"},
		{"only.inc", false, "box/x/y/z/only.inc"},
		{"lamps/all.h", true, "box/include/lamps/all.h"},
		{"../../z/only.inc", false, "box/x/y/z/only.inc"},
		{"y/only.inc", false, ""},
		{"two.inc", false, ""},
		{"y/two.inc", false, "box/y/two.inc"},
		{"only/box.h", true, "box/x/only/box.h"},
		{"string.h", true, ""},
		{"y/z/only.inc", true, "box/x/y/z/only.inc"},
		{"h.inc", false, ""},
		{"secret.inc", false, ""},
		{"link.inc", false, ""},
		{at("out/secret.inc"), false, ""},
	} {
		w := analysis.Wanted{From: from, Name: c.name, System: c.system}
		path, _, ok := s.Load(w)
		if c.want != "" {
			c.want = at(c.want)
		}
		if path != c.want || ok != (c.want != "") {
			t.Errorf("%s: %q, want %q", c.name, path, c.want)
		}
		if _, ok := s.Size(w); ok != (c.want != "") {
			t.Errorf("%s: a size %v", c.name, ok)
		}
	}
	if why := s.Several(analysis.Wanted{From: from, Name: "two.inc"}); why != "../../../x/two.inc and ../../../y/two.inc fit; the setting include says which folder is meant" {
		t.Error(why)
	}
	for name, want := range map[string]bool{"bell.inc": true, "sub/bell.inc": true, "conf.h": true, "generated/lamps.h": true, "autoconf.h": true, "asm-offsets.h": true, "bells.inc": false, "agenda.h": false, "boxconfig.h": true, "box_config.asm": true, "asm/rails.asm.S": true, "asm/bells.asm.S": false, "": false,
		"asm/board/lamps.h": true, "../asm/board/sub/lamps.h": true, "board/lamps.h": true, "rails/points.inc": true, "asm/lamps.h": false, "asm/boards/lamps.h": false, "asm/hard/lamps.h": false, "lamps/board.h": false,
		"plan": true, "out/lamps.img": true, "calls-box.S": true, "calls-.S": false, "call-box.S": false, "calls-box.h": false, "yard.map": false, "rails_data": true, "other_data": false, "track": false} {
		if got := s.Generated(analysis.Wanted{From: from, Name: name}); got != want {
			t.Errorf("%s is generated: %v", name, got)
		}
	}
}

// TestIndex holds that the files of a project are known, also those that come and go.
func TestIndex(t *testing.T) {
	dir := follow(t.TempDir())
	at := func(name string) string { return filepath.Join(dir, name) }
	write(t, at("a/lamp.inc"), "")
	write(t, at("b/lamp.inc"), "")
	var x Index
	bounds := func(string) *Bounds { return NewBounds(dir) }
	has := func(want ...string) {
		t.Helper()
		var full []string
		for _, name := range want {
			full = append(full, at(name))
		}
		if got := x.Find(dir, "lamp.inc"); !slices.Equal(got, full) {
			t.Errorf("%v, want %v", got, full)
		}
	}
	has("a/lamp.inc", "b/lamp.inc")
	write(t, at("ab/lamp.inc"), "")
	write(t, at(".c/lamp.inc"), "")
	if err := os.Remove(at("b/lamp.inc")); err != nil {
		t.Fatal(err)
	}
	c := &Changed{}
	for _, name := range []string{"ab/lamp.inc", "b/lamp.inc", ".c/lamp.inc", "a/lamp.inc"} {
		c.Add(at(name), bounds("").Stamp(at(name)))
	}
	x.Changed(c, bounds)
	has("a/lamp.inc", "ab/lamp.inc")
	if got := x.Find("", "lamp.inc"); got != nil {
		t.Errorf("below no folder: %v", got)
	}
}

// TestNearest holds that of several files that fit the one in the source's own part of the
// project is meant, and none where several are as near.
func TestNearest(t *testing.T) {
	for _, c := range []struct {
		source string
		paths  []string
		want   int // how many are left, the first of them paths[at]
		at     int
	}{
		{"/p/arch/arm/cpu/start.S", []string{"/p/arch/arm/include/asm/system.h", "/p/arch/other/include/asm/system.h"}, 1, 0},
		{"/p/arch/arm/cpu/start.S", []string{"/p/include/lamps/lamp.inc", "/p/tools/include/lamps/lamp.inc"}, 1, 0},
		{"/p/arch/arm/cpu/start.S", []string{"/p/other/lamps/lamp.inc", "/p/tools/include/lamps/lamp.inc"}, 2, 0},
		{"/p/arch/arm/cpu/start.S", []string{"/p/arch/a/include/asm/system.h", "/p/arch/arm/x/asm/system.h", "/p/arch/z/asm/system.h"}, 1, 1},
		{"/p/src/start.s", []string{"/p/a/lamp.inc", "/p/b/lamp.inc"}, 2, 0},
		{"/p/a/start.s", []string{"/p/a/x/lamp.inc", "/p/a/y/lamp.inc", "/p/b/lamp.inc"}, 3, 0},
		{"/p/src/start.s", []string{"/p/a/lamp.inc"}, 1, 0}, {"/p/src/start.s", nil, 0, 0},
	} {
		if got := nearest(c.paths, tailOfAll(c.paths), c.source); len(got) != c.want || c.want > 0 && got[0] != c.paths[c.at] {
			t.Errorf("%s: %q of %q", c.source, got, c.paths)
		}
	}
}

// tailOfAll is what paths end in, by the name of the last folder.
func tailOfAll(paths []string) string {
	if len(paths) == 0 {
		return ""
	}
	dir, base := filepath.Split(paths[0])
	if tail := filepath.Join(filepath.Base(dir), base); !slices.ContainsFunc(paths, func(path string) bool { return !strings.HasSuffix(path, "/"+tail) }) {
		return tail
	}
	return base
}

// TestMadeBy holds which files a build file makes: others that it names have to be there.
func TestMadeBy(t *testing.T) {
	for _, c := range []struct {
		line string
		made bool
	}{
		{"lamps.inc: lamps.csv tool", true}, {"build/lamps.inc : lamps.csv", true}, {"lamps.inc other.inc: lamps.csv", true}, {"\tpython gen.py > lamps.inc", true}, {"\tgen -o build/lamps.inc", true},
		{"\tgen --output=lamps.inc", true}, {"add_custom_command(OUTPUT lamps.inc", true}, {"  OUTPUT ${DIR}/lamps.inc", true}, {"configure_file(lamps.in lamps.inc)", true}, {"custom_target('x', output: 'lamps.inc',", true},
		{"start.o: start.s lamps.inc", false}, {"SOURCES = start.s lamps.inc", false}, {"HEADERS := lamps.inc", false}, {"\tcp lamps.inc build", false}, {"add_executable(box start.s lamps.inc)", false}, {`"files": ["lamps.inc"]`, false},
	} {
		if got := searchBuild(".mk", []byte(c.line+"\n")).words["lamps.inc"]; got != c.made {
			t.Errorf("%q makes it: %v", c.line, got)
		}
	}
}
