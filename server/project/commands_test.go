package project

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

func TestWords(t *testing.T) {
	for _, tt := range []struct {
		in   string
		want []string
	}{
		{"", nil},
		{"  a\tb \n c  ", []string{"a", "b", "c"}},
		{`-DA="x y" -DB='a "b"'`, []string{"-DA=x y", `-DB=a "b"`}},
		{`-DS=\"hi\ there\"`, []string{`-DS="hi there"`}},
		{`"a\"b\\c\d\$e"`, []string{`a"b\c\d$e`}},
		{`'a\b'c"d"e`, []string{`a\bcde`}},
		{`'' "" x`, []string{"", "", "x"}},
		{"a\\\nb \"c\\\nd\"", []string{"ab", "cd"}},
		{`unfinished 'a b`, []string{"unfinished", "a b"}},
		{`unfinished "a b`, []string{"unfinished", "a b"}},
		{`end\`, []string{"end"}},
	} {
		if got := words(tt.in); !slices.Equal(got, tt.want) {
			t.Errorf("%q: %q, want %q", tt.in, got, tt.want)
		}
	}
}

// TestWindowsWords has the examples of Microsoft's page, and commands as build tools on
// Windows write them.
func TestWindowsWords(t *testing.T) {
	const b = `\`
	for _, tt := range []struct {
		in   string
		want []string
	}{
		{"", nil},
		{`"a b c" d e`, []string{"a b c", "d", "e"}},
		{`"ab\"c" "\\" d`, []string{`ab"c`, b, "d"}},
		{`a\\\b d"e f"g h`, []string{`a\\\b`, "de fg", "h"}},
		{`a\\\"b c d`, []string{`a\"b`, "c", "d"}},
		{`a\\\\"b c" d e`, []string{`a\\b c`, "d", "e"}},
		{`a"b"" c d`, []string{`ab" c d`}},
		{`C:\gcc\bin\gcc.exe -IC:\box\inc -I "C:\two words" -DA=\"x\" -c ..\src\a.s`, []string{`C:\gcc\bin\gcc.exe`, `-IC:\box\inc`, "-I", `C:\two words`, `-DA="x"`, "-c", `..\src\a.s`}},
		{`-DB='a b'`, []string{`-DB='a`, `b'`}},
		{`"" x ""`, []string{"", "x", ""}},
		{`open "a b`, []string{"open", "a b"}},
		{`end\`, []string{`end\`}},
		{`"end\\`, []string{`end\\`}},
	} {
		if got := windowsWords(tt.in); !slices.Equal(got, tt.want) {
			t.Errorf("%q: %q, want %q", tt.in, got, tt.want)
		}
	}
	for _, tt := range []struct{ dir, want string }{
		{`C:\box`, `-I..\inc`}, {`c:/box`, `-I..\inc`}, {`\\tower\share`, `-I..\inc`}, {"/box", "-I..inc"}, {"box", "-I..inc"}, {"c:", "-I..inc"}, {"", "-I..inc"}, {"1:/box", "-I..inc"},
	} {
		if got := (&entry{directory: tt.dir, line: `gcc -I..\inc`}).words(); got[1] != tt.want {
			t.Errorf("in %q: %q, want %q", tt.dir, got[1], tt.want)
		}
	}
}

func TestInterpret(t *testing.T) {
	type S = analysis.Settings
	dir := t.TempDir()
	write(t, filepath.Join(dir, "args.rsp"), `-DR="x y" -I rsp @more.rsp`)
	write(t, filepath.Join(dir, "more.rsp"), `-DM @args.rsp`)
	in := func(names ...string) (out []string) {
		for _, n := range names {
			out = append(out, filepath.Join(dir, n))
		}
		return out
	}
	for _, tt := range []struct {
		command string
		want    S
		notes   string
	}{
		{"arm-none-eabi-gcc -c a.S", S{}, ""},
		// GCC 12's driver prints that it keeps -mthumb to itself.
		{"arm-none-eabi-gcc -mcpu=cortex-m0 -mthumb -c a.S", S{CPU: "cortex-m0", Defines: []string{"__thumb__=1"}}, ""},
		{"arm-none-eabi-gcc -mthumb -marm -march=armv4t -c a.S", S{Arch: "armv4t"}, ""},
		{"arm-none-eabi-gcc -march=armv7-a -mcpu=cortex-a7 -c a.S", S{Arch: "armv7-a"}, ""},
		{"clang --target=thumbv6m-none-eabi -c a.S", S{Arch: "armv6-m", StartMode: "thumb", Defines: []string{"__thumb__=1"}}, ""},
		{"clang-17 -target armv7a-none-eabi -mthumb -c a.S", S{Arch: "armv7-a", StartMode: "thumb", Defines: []string{"__thumb__=1"}}, ""},
		{"gcc -mcpu=cortex-m4 -mfloat-abi=hard -c a.S", S{CPU: "cortex-m4", FPU: "fpv4-sp-d16", Defines: []string{"__ARM_PCS_VFP=1"}}, ""},
		{"gcc -mcpu=cortex-m4 -mfpu=auto -mfloat-abi=softfp -c a.S", S{CPU: "cortex-m4", FPU: "fpv4-sp-d16"}, ""},
		{"gcc -mcpu=cortex-m4 -mfloat-abi=soft -c a.S", S{CPU: "cortex-m4", Defines: []string{"__SOFTFP__=1"}}, ""},
		{"gcc -march=armv7-a+fp -mfloat-abi=soft -c a.S", S{Arch: "armv7-a", Defines: []string{"__SOFTFP__=1"}}, ""},
		{"gcc -march=armv7-a+fp -mfloat-abi=hard -c a.S", S{Arch: "armv7-a+fp", Defines: []string{"__ARM_PCS_VFP=1"}}, ""},
		{"gcc -DA -D B=2 -DC=3 -UB -DA=4 -D'F(x)=x+1' -c a.S", S{Defines: []string{"C=3", "A=4", "F(x)=x+1"}}, ""},
		{"gcc -UA -DA -c a.S", S{Defines: []string{"A"}}, ""},
		{"gcc -isystem s -Ii -iquote q -I ../up -idirafter z -I i -c a.S", S{Include: in("q", "i", "../up", "s", "z")}, ""},
		{"gcc -Wa,-march=armv6-m,-mthumb,-mimplicit-it=always,-Iw -Wa,--defsym,N=3 -Wa,--defsym=M=0x10 -mcpu=cortex-m4 -c a.S", S{Arch: "armv6-m", StartMode: "thumb", ImplicitIT: "always", Include: in("w"), Symbols: []string{"N=3", "M=0x10"}}, ""},
		{"gcc -Xassembler -mimplicit-it=thumb -Wp,-DX,-DY=1,-I,wp -c a.S", S{ImplicitIT: "thumb", Defines: []string{"X", "Y=1"}, Include: in("wp")}, ""},
		{"gcc -x assembler-with-cpp -c a.asm", S{Preprocess: "always"}, ""},
		{"gcc -c a.asm -x c other.c", S{}, ""},
		{"gcc -xassembler -c a.asm", S{Preprocess: "never"}, ""},
		{"ccache /opt/bin/arm-none-eabi-gcc-12.2.1 -DA -c a.S", S{Defines: []string{"A"}}, ""},
		{`env "C:\gcc\bin\arm-none-eabi-as.exe" -mthumb a.s`, S{StartMode: "thumb", Preprocess: "never"}, ""},
		{"arm-none-eabi-as -mcpu=cortex-m0 -march=armv7-a -mthumb -I inc -Ijoined --defsym A=1 -defsym B=2 --defsym C=5x -mfpu=vfp -o a.o a.s", S{CPU: "cortex-m0", Arch: "armv7-a", FPU: "vfp", StartMode: "thumb", Include: in("inc", "joined"), Symbols: []string{"A=1", "B=2", "C=5"}, Preprocess: "never"}, ""},
		{"as --defsym A a.s", S{Preprocess: "never"}, `"A"`},
		{"gcc -march=armv99-z -c a.S", S{}, "-march=armv99-z"},
		{"gcc -march=armv7-a+warp -c a.S", S{Arch: "armv7-a"}, "taken as armv7-a"},
		{"gcc -mcpu=native -mfpu=warp -Wa,-mimplicit-it=maybe -DA -c a.S", S{Defines: []string{"A"}}, "-mfpu=warp"},
		{"gcc @args.rsp @none.rsp -c a.S", S{Defines: []string{"R=x y", "M"}, Include: in("rsp")}, ""},
		{"gcc args.rsp -c a.S", S{}, ""}, // no response file without the @
		{"gcc -include pre.h -imacros args.rsp -c a.S", S{Prelude: append([]string{"pre.h"}, in("args.rsp")...)}, ""},
		{"gcc -o -DX -MF -DY -c a.S -D", S{}, ""},
		{"", S{}, ""},
		{"gcc", S{}, ""},
		{"-DA", S{}, ""},
	} {
		e := &entry{directory: dir, file: "a.S", line: tt.command}
		cmd := e.interpret("db", NewBounds(dir), &tools{})
		if got, want := fmt.Sprintf("%+v", cmd.Settings), fmt.Sprintf("%+v", tt.want); got != want {
			t.Errorf("%s:\n%s\nwant\n%s", tt.command, got, want)
		}
		if err := cmd.Settings.Resolve(); err != nil {
			t.Errorf("%s: %v", tt.command, err)
		}
		if notes := strings.Join(cmd.Notes, " "); (tt.notes == "") != (notes == "") || !strings.Contains(notes, tt.notes) {
			t.Errorf("%s: notes %q, want %q", tt.command, notes, tt.notes)
		}
	}
}

// TestUnder holds that what is written by hand wins field by field.
func TestUnder(t *testing.T) {
	own := analysis.Settings{Arch: "armv4t", StartMode: "arm", Include: []string{"own"}, Defines: []string{"A=1", "F(x)=2"}, Symbols: []string{"S=1"}}
	db := analysis.Settings{CPU: "cortex-m4", FPU: "fpv4-sp-d16", StartMode: "thumb", ImplicitIT: "thumb", Include: []string{"db", "own"}, Defines: []string{"A=2", "B", "F=3"}, Symbols: []string{"S=2", "T=3"}}
	got := Under(own, db)
	want := analysis.Settings{Arch: "armv4t", StartMode: "arm", ImplicitIT: "thumb", Include: []string{"own", "db"}, Defines: []string{"A=1", "F(x)=2", "B"}, Symbols: []string{"S=1", "T=3"}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("%+v, want %+v", got, want)
	}
	if own.Include[0] != "own" || len(own.Include) != 1 || len(db.Include) != 2 {
		t.Error("the inputs have changed")
	}
}

func TestCommands(t *testing.T) {
	dir := t.TempDir()
	src := filepath.Join(dir, "fw", "src", "a.S")
	write(t, src, "")
	database := func(path string, entries ...map[string]any) {
		data, err := json.Marshal(entries)
		if err != nil {
			t.Fatal(err)
		}
		write(t, path, string(data))
	}
	at := func(path string, ago time.Duration) {
		when := time.Now().Add(-ago)
		if err := os.Chtimes(path, when, when); err != nil {
			t.Fatal(err)
		}
	}
	var c Commands
	in := NewBounds(dir).Given(filepath.Join(dir, "fw"))
	defines := func(source string) string {
		cmd := c.Find(source, "", in)
		if cmd == nil {
			return "none"
		}
		return strings.Join(cmd.Settings.Defines, ",")
	}
	if got := defines(src); got != "none" {
		t.Fatal(got)
	}
	top := filepath.Join(dir, CommandsName)
	database(top, map[string]any{"directory": dir, "file": "fw/src/a.S", "command": "gcc -DTOP -c fw/src/a.S"},
		map[string]any{"directory": dir, "file": "fw/src/a.S", "command": "gcc -DSECOND -c fw/src/a.S"})
	if got := defines(src); got != "TOP" {
		t.Errorf("above: %s", got)
	}
	old := filepath.Join(dir, "fw", "build-debug", CommandsName)
	database(old, map[string]any{"directory": filepath.Dir(old), "file": "../src/a.S", "arguments": []string{"gcc", "-DOLD", "-c", "../src/a.S"}})
	at(old, time.Hour)
	if got := defines(src); got != "OLD" {
		t.Errorf("in a build folder: %s", got)
	}
	newer := filepath.Join(dir, "fw", "cmake-build-release", CommandsName)
	database(newer, map[string]any{"directory": "../src", "file": src, "arguments": []string{"gcc", "-DNEW"}})
	if got := defines(src); got != "NEW" {
		t.Errorf("the newest: %s", got)
	}
	if again := c.Find(src, "", in); again != c.Find(src, "auto", in) {
		t.Error("interpreted twice")
	}
	// One that names other files is passed over; broken ones spoil nothing.
	database(newer, map[string]any{"directory": dir, "file": "other.S", "command": "gcc -DOTHER"})
	at(newer, time.Minute)
	if got := defines(src); got != "OLD" {
		t.Errorf("named elsewhere: %s", got)
	}
	for i, text := range []string{"", "{}", "[", "[7,", `["x"]`, `[{"file":7}]`, "null", strings.Repeat("[", 100_000)} {
		write(t, newer, text)
		at(newer, time.Duration(i+2)*time.Minute)
		if got := defines(src); got != "OLD" {
			t.Errorf("%.20q: %s", text, got)
		}
	}
	write(t, newer, `[{"file":7},{"directory":"`+dir+`","file":"fw/src/a.S","arguments":["gcc",7]},{"file":"`+src+`","command":"gcc -DGOOD"},{"file":`)
	if got := defines(src); got != "GOOD" {
		t.Errorf("beside broken entries: %s", got)
	}
	if c.Find(src, "never", in) != nil {
		t.Error("never")
	}
	if cmd := c.Find(src, top, in); cmd == nil || cmd.Settings.Defines[0] != "TOP" {
		t.Errorf("by its path: %+v", cmd)
	}
	if cmd := c.Find(src, filepath.Join(dir, "no-such.json"), in); cmd == nil || len(cmd.Notes) != 1 {
		t.Errorf("a path that is not there: %+v", cmd)
	}
	if cmd := c.Find(src, CommandsPath("fw/cmake-build-release", dir), in); cmd == nil || cmd.Path != newer {
		t.Errorf("a folder: %+v", cmd)
	}
	// Symbolic links to the source and to the folder.
	link := filepath.Join(dir, "link")
	if err := os.Symlink(filepath.Join(dir, "fw"), link); err != nil {
		reftest.Need(t, false, err.Error())
	}
	if got := defines(filepath.Join(link, "src", "a.S")); got != "GOOD" {
		t.Errorf("by a link: %s", got)
	}
}

// TestSearch holds what is read of what a source names, and why not.
func TestSearch(t *testing.T) {
	dir := t.TempDir()
	inside, outside := filepath.Join(dir, "in"), filepath.Join(dir, "out")
	for path, text := range map[string]string{
		"in/a.s": "", "in/x.inc": "x", "in/notes": "n", "out/y.inc": "y", "out/secret": "s", "out/key.PEM": "k", "lib/notes": "l", "in/data.bin": "12345", "out/d.bin": "123",
	} {
		write(t, filepath.Join(dir, path), text)
	}
	for link, to := range map[string]string{"in/link.inc": "../out/secret", "in/fine.inc": "../out/y.inc", "in/loop.inc": "loop.inc"} {
		if err := os.Symlink(to, filepath.Join(dir, link)); err != nil {
			reftest.Need(t, false, err.Error())
		}
	}
	if err := os.Mkdir(filepath.Join(inside, "folder.inc"), 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(inside, "big.inc"), "")
	if err := os.Truncate(filepath.Join(inside, "big.inc"), MaxSource+1); err != nil {
		t.Fatal(err)
	}
	deps := map[string]Stamp{}
	s := &Search{Disk: &Disk{}, Include: []string{filepath.Join(dir, "lib")}, Bounds: NewBounds(inside, filepath.Join(dir, "lib"), "/dev", "/proc"), Tried: func(p string, st Stamp) { deps[p] = st },
		Open: func(p string) (*syntax.File, bool) {
			return syntax.Parse("unsaved"), p == filepath.Join(inside, "open.inc")
		}}
	for _, tt := range []struct{ name, text, why string }{
		{"x.inc", "x", ""},
		{"notes", "n", ""},
		{"../in/notes", "n", ""},
		{"../out/y.inc", "", "outside"},
		{"open.inc", "unsaved", ""},
		{"fine.inc", "", "outside"},
		{"../lib/notes", "l", ""},
		{"../out/secret", "", "outside"},
		{filepath.Join(outside, "secret"), "", "outside"},
		{"../out/key.PEM", "", "outside"},
		{"link.inc", "", "outside"},
		{"loop.inc", "", ""},
		{"folder.inc", "", "folder"},
		{".", "", "folder"},
		{"big.inc", "", "limit"},
		{"/dev/zero", "", "device"},
		{"/dev/stdin", "", "device"},
		{"a\x00b", "", "zero byte"},
		{"no-such.inc", "", ""},
		{"", "", ""},
		{strings.Repeat("x", 100_000), "", ""},
		{strings.Repeat("../", 10_000) + "x.inc", "", "outside"},
		{"../out/no-such.inc", "", "outside"},
		{"\xff\xfe.inc", "", ""},
	} {
		w := analysis.Wanted{From: filepath.Join(inside, "a.s"), Name: tt.name}
		_, f, ok := s.Load(w)
		if ok != (tt.text != "") || ok && f.Text() != tt.text {
			t.Errorf("%.40q: read: %v", tt.name, ok)
		}
		if !ok {
			if why := s.Why(w); (why == "") != (tt.why == "") || !strings.Contains(why, tt.why) {
				t.Errorf("%.40q: why: %q, want %q", tt.name, why, tt.why)
			}
		}
	}
	if _, ok := deps[filepath.Join(inside, "no-such.inc")]; !ok {
		t.Error("a missing file is not watched")
	}
	w := analysis.Wanted{From: filepath.Join(inside, "a.s"), Name: "notes", System: true}
	if path, _, ok := s.Load(w); !ok || path != filepath.Join(dir, "lib", "notes") {
		t.Errorf("by <…>: %q", path)
	}
	for name, want := range map[string]int64{"data.bin": 5, "../out/d.bin": -1, "big.inc": MaxSource + 1, "folder.inc": -1, "/dev/zero": -1, "none": -1} {
		n, ok := s.Size(analysis.Wanted{From: filepath.Join(inside, "a.s"), Name: name})
		if ok != (want >= 0) || ok && n != want {
			t.Errorf("size of %s: %d %v, want %d", name, n, ok, want)
		}
	}
}

// FuzzInterpret holds that any command comes to settings that resolve.
func FuzzInterpret(f *testing.F) {
	for _, s := range []string{"gcc -mcpu=cortex-m4+nofp -mfloat-abi=hard -DA=1 -c a.S", `as --defsym A=1 "-I'x" -march=armv7-a+fp\ a.s`, "@a.S", "clang --target=thumbv7em -x", "gcc -Wa,", "gcc -Wp,-D -D -U -I"} {
		f.Add(s)
	}
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, command string) {
		cmd := (&entry{directory: dir, file: "a.S", line: command}).interpret("db", NewBounds(dir), &tools{})
		if err := cmd.Settings.Resolve(); err != nil {
			t.Errorf("%q: %v", command, err)
		}
		merged := Under(analysis.Settings{CPU: "cortex-m0"}, cmd.Settings)
		if _, problems := Valid(merged); len(problems) > 0 {
			t.Errorf("%q: %v", command, problems)
		}
	})
}

// TestSilentDatabase holds that a database that cannot be read is reported for each
// source that might have been in it, and that one above is still taken.
func TestSilentDatabase(t *testing.T) {
	for _, tt := range []struct {
		name, text string
		size       int64
		want       string
	}{
		{"no list", `{"file": "a.s"}`, 0, "is not a JSON list"},
		{"cut off", `[{"file": "b.s", "directory": "/", "command": "as b.s"}, {"file": "a`, 0, "unexpected EOF"},
		{"too large", "[]", maxDatabase + 1, CommandsName},
		{"of others", `[{"file": "b.s", "directory": "/", "command": "as b.s"}]`, 0, ""},
		{"empty", `[]`, 0, ""},
	} {
		dir := t.TempDir()
		points := filepath.Join(dir, "points")
		write(t, filepath.Join(points, CommandsName), tt.text)
		if tt.size > 0 {
			if err := os.Truncate(filepath.Join(points, CommandsName), tt.size); err != nil {
				t.Fatal(err)
			}
		}
		source := filepath.Join(points, "a.s")
		for _, above := range []bool{false, true} {
			if above {
				write(t, filepath.Join(dir, CommandsName), fmt.Sprintf(`[{"file": %q, "directory": %q, "command": "as -mcpu=cortex-m3 a.s"}]`, source, points))
			}
			for _, where := range []string{"", filepath.Join(points, CommandsName)} {
				var c Commands
				set, cmd := c.Resolve(analysis.Settings{CompileCommands: where}, source, NewBounds(dir).Given(dir))
				notes := ""
				if cmd != nil {
					notes = strings.Join(cmd.Notes, "\n")
				}
				if (tt.want == "") != (notes == "") || !strings.Contains(notes, tt.want) {
					t.Errorf("%s, %q: %q, want %q", tt.name, where, notes, tt.want)
				}
				if want := above && where == ""; want != (set.CPU == "cortex-m3") {
					t.Errorf("%s, %q: cpu %q", tt.name, where, set.CPU)
				}
			}
		}
	}
}

// TestFindOpensOnce looks for a database above a source that is in none: each folder is opened
// once, whatever is looked for in it. Opening allocates, which is what is counted.
func TestFindOpensOnce(t *testing.T) {
	top := t.TempDir()
	dir := top
	for range 10 {
		dir = filepath.Join(dir, "deep")
	}
	source := filepath.Join(dir, "main.s")
	write(t, source, "@ invented\n")
	for name, x := range map[string]struct {
		within *Bounds
		most   float64
	}{
		"of a workspace": {Workspace([]string{top}, nil, source), 560},
		"by itself":      {Workspace(nil, nil, source), 1250},
	} {
		var c Commands
		c.Find(source, "", x.within)
		if n := testing.AllocsPerRun(20, func() { c.Find(source, "", x.within) }); n > x.most {
			t.Errorf("%s: %v allocations for 11 folders", name, n)
		} else {
			t.Logf("%s: %v allocations for 11 folders", name, n)
		}
	}
}
