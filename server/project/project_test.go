package project

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestCandidates(t *testing.T) {
	abs := filepath.Join(t.TempDir(), "x.inc")
	for _, tt := range []struct {
		from, name string
		include    []string
		want       []string
	}{
		{"src/a.s", "x.inc", []string{"inc", "lib"}, []string{"src/x.inc", "inc/x.inc", "lib/x.inc"}},
		{"a.s", "../x.inc", nil, []string{"../x.inc"}},
		{"", "x.inc", []string{"inc"}, []string{"inc/x.inc"}},
		{"src/a.s", abs, []string{"inc"}, []string{abs}},
		{"src/a.s", "", []string{"inc"}, nil},
	} {
		got := Candidates(tt.from, tt.name, tt.include)
		for i := range got {
			got[i] = filepath.ToSlash(got[i])
		}
		if fmt.Sprint(got) != fmt.Sprint(tt.want) {
			t.Errorf("%q %q: %q, want %q", tt.from, tt.name, got, tt.want)
		}
	}
}

func TestDisk(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "a.s")
	in := NewBounds(dir)
	var d Disk
	if _, stamp, err := d.Read(file, in); err == nil || stamp != (Stamp{}) {
		t.Errorf("missing file: %v %v", stamp, err)
	}
	write(t, file, "one")
	first, stamp, err := d.Read(file, in)
	if err != nil || first.Text() != "one" || stamp.Size != 3 {
		t.Fatalf("%v %v", stamp, err)
	}
	if again, _, _ := d.Read(file, in); again != first {
		t.Error("parsed twice")
	}
	write(t, file, "two")
	later := stamp.ModTime.Add(time.Second)
	if err := os.Chtimes(file, later, later); err != nil {
		t.Fatal(err)
	}
	if now, _, _ := d.Read(file, in); now.Text() != "two" {
		t.Errorf("stale text %q", now.Text())
	}
	if _, _, err := d.Read(dir, in); err == nil {
		t.Error("a folder was read")
	}
	// Sparse: the limit is checked before anything is read.
	big := filepath.Join(dir, "big.s")
	write(t, big, "")
	if err := os.Truncate(big, MaxSource+1); err != nil {
		t.Skip(err)
	}
	if _, _, err := d.Read(big, in); err == nil || !strings.Contains(err.Error(), "limit") {
		t.Errorf("over the limit: %v", err)
	}
}

func TestFinder(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, FileName), `{"cpu":"arm7tdmi","include":["inc","/abs"]}`)
	write(t, filepath.Join(dir, "sub", "deep", "a.s"), "")
	in := NewBounds(dir).Given(filepath.Join(dir, "sub", "deep"))
	var f Finder
	p := f.Find(filepath.Join(dir, "sub", "deep"), in)
	if p == nil || p.Problem != "" || p.Settings.CPU != "arm7tdmi" || p.Settings.Include[0] != filepath.Join(dir, "inc") || p.Settings.Include[1] != "/abs" {
		t.Fatalf("%+v", p)
	}
	if f.Find(dir, in) != p {
		t.Error("read twice")
	}
	write(t, filepath.Join(dir, "sub", FileName), `{"cpu":"cortex-m0","colour":1}`)
	p = f.Find(filepath.Join(dir, "sub", "deep"), in)
	if p == nil || p.Settings.CPU != "cortex-m0" || !strings.Contains(p.Problem, "colour") {
		t.Errorf("the nearer file, and what is wrong with it: %+v", p)
	}
	write(t, filepath.Join(dir, "sub", FileName), `{"cpu":"cortex-m0"} {}`)
	if p = f.Find(filepath.Join(dir, "sub"), in); p.Problem == "" {
		t.Error("bytes behind the object pass")
	}
}

// Paths in a project file start at its folder.
func TestFinderPaths(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "box", FileName), `{"compileCommands":"build/db.json","include":["../inc",".","/abs"]}`)
	p := new(Finder).Find(filepath.Join(dir, "box"), NewBounds(dir))
	if p == nil || p.Problem != "" {
		t.Fatalf("%+v", p)
	}
	if want := filepath.Join(dir, "box", "build", "db.json"); p.Settings.CompileCommands != want {
		t.Errorf("compileCommands %s, want %s", p.Settings.CompileCommands, want)
	}
	if got, want := fmt.Sprint(p.Settings.Include), fmt.Sprint([]string{filepath.Join(dir, "inc"), filepath.Join(dir, "box"), "/abs"}); got != want {
		t.Errorf("include %s, want %s", got, want)
	}
	for _, word := range []string{"auto", "never", ""} {
		write(t, filepath.Join(dir, "box", FileName), `{"compileCommands":"`+word+`"}`)
		if p := new(Finder).Find(filepath.Join(dir, "box"), NewBounds(dir)); p.Settings.CompileCommands != word {
			t.Errorf("compileCommands %q, want %q", p.Settings.CompileCommands, word)
		}
	}
}

// A file that is as large as may be is read.
func TestLimit(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a.s")
	write(t, file, "nop")
	info, err := os.Stat(file)
	if err != nil {
		t.Fatal(err)
	}
	if why := unreadable(info, 3); why != "" {
		t.Errorf("3 bytes of 3: %s", why)
	}
	if why := unreadable(info, 2); why != "it has 3 bytes, and the limit is 2" {
		t.Errorf("3 bytes of 2: %s", why)
	}
}

func TestFill(t *testing.T) {
	got := Fill(analysis.Settings{Arch: "armv4t", Syntax: "unified"}, analysis.Settings{CPU: "cortex-m0", FPU: "f", Syntax: "divided", StartMode: "thumb", Include: []string{"i"}})
	want := analysis.Settings{Arch: "armv4t", FPU: "f", Syntax: "unified", StartMode: "thumb", Include: []string{"i"}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%+v, want %+v", got, want)
	}
}

func TestValid(t *testing.T) {
	set, problems := Valid(analysis.Settings{CPU: "no-such-core", Syntax: "no-such", StartMode: "thumb"})
	if len(problems) != 2 || set.CPU != "" || set.Syntax == "no-such" || set.StartMode != "thumb" {
		t.Errorf("%+v %v", set, problems)
	}
	if err := set.Resolve(); err != nil {
		t.Error(err)
	}
}
