package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// core are what the packages of the core must not import of others: it does no I/O.
var core = []string{"os", "io", "net", "syscall", "time", "go.", "golang.org", "github.com"}

// floors are the packages of the core, from the bottom up: each may import those
// in front of it. The map in DEVELOPERS.md has them in the same order.
var floors = []string{
	"isa", "isa/exec", "analysis/syntax", "analysis/preprocess", "analysis/finding", "analysis/format", "analysis/program", "analysis/values", "analysis/eval", "analysis/wording",
	"analysis/assemble/layout", "analysis/assemble", "analysis/flow", "analysis/image", "analysis/check", "analysis/rewrite", "analysis/describe", "analysis/link", "analysis/rename", "analysis",
}

// layer is what a package may import of this module, and the prefixes of what it must
// not import of others.
type layer struct{ own, never []string }

// layers says so for each package: the map in DEVELOPERS.md. Tests may import more.
func layers() map[string]layer {
	all := map[string]layer{
		"server/pages/early": {nil, []string{"go.", "github.com", "fmt", "os"}},
		"server/project":     {[]string{"analysis", "analysis/syntax", "analysis/preprocess"}, []string{"go.", "golang.org", "github.com"}},
		"server":             {[]string{"analysis", "analysis/syntax", "analysis/preprocess", "server/project", "server/pages"}, []string{"github.com"}},
		"server/pages":       {nil, []string{"go.", "github.com"}},
		"cmd/lsp":            {[]string{"analysis", "analysis/syntax", "analysis/preprocess", "server", "server/project", "server/pages", "server/pages/early", "cmd/lsp/save"}, []string{"go.lsp.dev"}},
		"cmd/lsp/save":       {nil, []string{"net", "go.", "github.com"}},
	}
	for i, name := range floors {
		all[name] = layer{floors[:i], core}
	}
	return all
}

// TestArrows holds that imports go one way, that the core does no I/O, and
// that only package server knows the protocol.
func TestArrows(t *testing.T) {
	seen, layers := map[string]int{}, layers()
	repository(t, func(rel, path string) error {
		if !strings.HasSuffix(rel, ".go") || strings.HasSuffix(rel, "_test.go") {
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		pkg := rel[:strings.LastIndexByte(rel, '/')]
		rule, ok := layers[pkg]
		if !ok {
			t.Errorf("%s: the package is in no layer", rel)
			return nil
		}
		seen[pkg]++
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if own, ok := strings.CutPrefix(name, "narrowgauge/"); ok {
				if !slices.Contains(rule.own, own) {
					t.Errorf("%s: imports %s", rel, name)
				}
				continue
			}
			for _, never := range rule.never {
				if name == never || strings.HasPrefix(name, strings.TrimSuffix(never, ".")+"/") || strings.HasSuffix(never, ".") && strings.HasPrefix(name, never) {
					t.Errorf("%s: imports %s", rel, name)
				}
			}
		}
		return nil
	})
	for pkg := range layers {
		if seen[pkg] == 0 {
			t.Errorf("%s: no files", pkg)
		}
	}
}

// repository calls f for each file of the repository, with its path from the root, with
// slashes, and from here. The reference tools, which are parts of tests, are not among them.
func repository(t *testing.T, f func(rel, path string) error) {
	t.Helper()
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if rel = filepath.ToSlash(rel); !d.IsDir() {
			return f(rel, path)
		}
		if d.Name() == "node_modules" || rel == "isa/reftest" || rel != "." && strings.HasPrefix(d.Name(), ".") {
			return fs.SkipDir
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestMap holds that the map in DEVELOPERS.md has all packages of the core, from the
// bottom up.
func TestMap(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	at := 0
	for _, name := range floors {
		i := strings.Index(string(text), "| ["+name+"](")
		if i < at {
			t.Errorf("the map has no row for %s after that of the package below it", name)
			continue
		}
		at = i
	}
}
