package sources

import (
	"bytes"
	"io/fs"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
)

// Unit is a file in one build for one target.
type Unit struct {
	Package *Package
	File    string // path in the package
	Build   string // tells the builds of a file apart
	Config  *Config
	Path    string   // where the file is
	Defines []string // macros of target and build, as NAME or NAME=text
	Macros  []string // only those of the build, and what the target has for reasons of its own
	Include []string // folders of the build, first to last
	First   []string // files that are read in front of it

	// What Expand fills in. Refused: the preprocessor refuses the file, as
	// with #error. Read has the paths of the files that it has read, and From
	// where each line of Text comes from.
	Text    string
	Refused bool
	Read    []string
	From    []Origin
}

// Origin is a line of a file, from 1.
type Origin struct {
	File int // index in Unit.Read
	Line int
}

// String names the unit in reports.
func (u *Unit) String() string {
	s := u.Package.Name + " " + u.File + " " + u.Config.Name
	if u.Build != "" {
		s += " (" + u.Build + ")"
	}
	return s
}

var armPath = regexp.MustCompile(`(^|/)arm/|_arm\.`)

// Files lists the package's hand-written ARM sources in the folder that
// Unpack returned, as paths in it.
func (p *Package) Files(t testing.TB, dir string) []string {
	t.Helper()
	pattern := armPath
	if p.files != nil {
		pattern = p.files
	}
	var files []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, _ := filepath.Rel(dir, path)
		ext := filepath.Ext(name)
		if ours := ext == ".S" || ext == ".s" || p.Columns; !d.IsDir() && ours && pattern.MatchString(filepath.ToSlash(name)) {
			files = append(files, name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(files)
	return files
}

// Units lists every build of every file for every target.
func (p *Package) Units(t testing.TB, dir string) []*Unit {
	t.Helper()
	stubs := filepath.Join(filepath.Dir(dir), "stubs")
	builds := p.build
	if builds == nil {
		builds = simply(nil)
	}
	var units []*Unit
	for _, file := range p.Files(t, dir) {
		for i := range Configs {
			c := &Configs[i]
			for _, b := range builds(dir, file, c) {
				u := &Unit{Package: p, File: file, Build: b.name, Config: c, Path: filepath.Join(dir, file)}
				u.Defines = append(c.Defines(), b.defines...)
				u.Macros = append(slices.Clone(c.more), b.defines...)
				u.Include = append(u.Include, stubs)
				for _, d := range b.include {
					u.Include = append(u.Include, filepath.Join(dir, d))
				}
				for _, f := range b.first {
					if s, ok := strings.CutPrefix(f, "stub:"); ok {
						u.First = append(u.First, filepath.Join(stubs, s))
					} else {
						u.First = append(u.First, filepath.Join(dir, f))
					}
				}
				units = append(units, u)
			}
		}
	}
	return units
}

// Expand runs the host's C preprocessor over the units, without anything that
// belongs to the host: no macros, no headers.
func Expand(t testing.TB, units []*Unit) {
	t.Helper()
	work := make(chan *Unit, len(units))
	for _, u := range units {
		work <- u
	}
	close(work)
	var wait sync.WaitGroup
	errs := make([]error, runtime.GOMAXPROCS(0))
	for w := range errs {
		wait.Go(func() {
			for u := range work {
				if err := u.expand(); err != nil {
					errs[w] = err
					return
				}
			}
		})
	}
	wait.Wait()
	for _, err := range errs {
		if err != nil {
			t.Fatalf("the preprocessor: %v", err)
		}
	}
}

// marker is a line of the preprocessor's output that says where the next one
// comes from.
var marker = regexp.MustCompile(`^# (\d+) "((?:[^"\\]|\\.)*)"`)

func (u *Unit) expand() error {
	args := []string{"-x", "assembler-with-cpp", "-undef", "-nostdinc"}
	for _, d := range u.Defines {
		args = append(args, "-D"+d)
	}
	for _, d := range u.Include {
		args = append(args, "-I"+d)
	}
	for _, f := range u.First {
		args = append(args, "-include", f)
	}
	cmd := exec.Command("cpp", append(args, u.Path)...)
	var out, complaints bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil {
		if _, ok := err.(*exec.ExitError); !ok {
			return err
		}
		u.Refused = true
		u.Text = complaints.String()
		return nil
	}
	var b strings.Builder
	at := Origin{}
	blank := 0
	for line := range strings.Lines(out.String()) {
		if m := marker.FindStringSubmatch(line); m != nil {
			n := 0
			for _, c := range m[1] {
				n = n*10 + int(c-'0')
			}
			k := slices.Index(u.Read, m[2])
			if k < 0 {
				k = len(u.Read)
				u.Read = append(u.Read, m[2])
			}
			at = Origin{k, n}
			continue
		}
		if strings.TrimSpace(line) == "" {
			if blank++; blank > 1 {
				at.Line++
				continue
			}
		} else {
			blank = 0
		}
		b.WriteString(line)
		u.From = append(u.From, at)
		at.Line++
	}
	u.Text = b.String()
	return nil
}
