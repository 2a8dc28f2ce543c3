package analysis

import (
	"context"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// library reads files for the analysis, each once.
type library struct {
	files map[string]*syntax.File // nil for one that is not there
}

func (l *library) open(path string) *syntax.File {
	path = filepath.Clean(path)
	f, ok := l.files[path]
	if !ok {
		if text, err := os.ReadFile(path); err == nil {
			f = syntax.Parse(string(text))
		}
		l.files[path] = f
	}
	return f
}

// loader looks for files as a C preprocessor does with -I.
func (l *library) loader(include []string) assemble.Loader {
	return func(w assemble.Wanted) (string, *syntax.File, bool) {
		if filepath.IsAbs(w.Name) {
			f := l.open(w.Name)
			return w.Name, f, f != nil
		}
		dirs := include
		switch {
		case w.Next:
			dirs = include[1+slices.IndexFunc(include, func(d string) bool { return filepath.Join(d, w.Name) == filepath.Clean(w.From) }):]
		case !w.System:
			dirs = append([]string{filepath.Dir(w.From)}, include...)
		}
		for _, d := range dirs {
			path := filepath.Join(d, w.Name)
			if f := l.open(path); f != nil {
				return path, f, true
			}
		}
		return "", nil, false
	}
}

// analyzeRaw analyses a unit as it is in its package, with what its build
// gives the preprocessor as settings. The macros of the target are ours.
func (l *library) analyzeRaw(t *testing.T, u *sources.Unit, store *assemble.Expansions) *Result {
	t.Helper()
	c := u.Config
	set := &Settings{Arch: c.Arch, FPU: c.FPU, Defines: slices.Concat(sources.Compiler, u.Macros), Include: u.Include}
	if c.Hard {
		set.Defines = append(set.Defines, "__ARM_PCS_VFP=1")
	}
	var root strings.Builder
	if c.Thumb {
		// For a compiler -mthumb is about macros; its assembler begins as always.
		set.StartMode = "thumb"
		if c.A32() {
			root.WriteString("\t.arm\n")
		}
	}
	for _, f := range append(slices.Clone(u.First), u.Path) {
		fmt.Fprintf(&root, "#include \"%s\"\n", f)
	}
	in := &Input{Path: "root.S", File: syntax.Parse(root.String()), Set: set, Load: l.loader(u.Include), Made: store}
	r, err := Analyze(context.Background(), in)
	if err != nil {
		t.Fatalf("%v: %v", u, err)
	}
	return r
}

// rawSources reads the sources as they are, through our preprocessor and with our
// macros for the target: a build that the assembler takes must have no error, one
// that it or the reference's preprocessor refuses must have one.
func rawSources(t *testing.T, p *sources.Package, units []*sources.Unit, of map[*sources.Unit]*realText) {
	proof := reftest.Begin(t)
	lib := &library{files: map[string]*syntax.File{}}
	stores := map[string]*assemble.Expansions{}
	told, every := map[string]bool{}, reftest.Size(2, 1, 1)
	clean, taken, refused, alarms, silent, left := map[string]bool{}, 0, 0, 0, 0, 0
	for i, u := range units {
		if u.Config.Big || u.Config.Apart {
			left++ // there is no such setting
			continue
		}
		if i%every != 0 {
			continue
		}
		if stores[u.File] == nil {
			stores = map[string]*assemble.Expansions{u.File: {}}
		}
		bad := map[string]string{}
		for _, d := range lib.analyzeRaw(t, u, stores[u.File]).Each() {
			if d.Severity != finding.Error {
				continue
			}
			where := d.Path
			if f := lib.files[d.Path]; f != nil {
				n := f.LineAt(d.Span.Start)
				where = fmt.Sprintf("%s:%d: %s", filepath.Base(d.Path), n+1, f.Line(n).Text)
			}
			bad[where] = d.Code + ": " + d.Message
		}
		if x := of[u]; x == nil || !x.ok {
			refused++
			if len(bad) == 0 {
				silent++
				t.Errorf("%v: no error in the source as it is, and the reference refuses it", u)
			}
			continue
		}
		taken++
		if len(bad) == 0 {
			clean[u.File] = true
			continue
		}
		alarms++
		for _, w := range slices.Sorted(maps.Keys(bad)) {
			if !told[w+bad[w]] {
				told[w+bad[w]] = true
				t.Errorf("%v: false alarm in the source as it is, at %s: %s", u, w, bad[w])
			}
		}
	}
	proof.Counted("real sources through our preprocessor, %s: %d builds of %d files assemble, %d of them with false alarms; %d do not, %d of them without an error of ours; %d builds left out, for which there is no setting",
		p.Name, taken, len(clean), alarms, refused, silent, left)
}
