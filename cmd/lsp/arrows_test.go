package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// layers says what the packages may import of this module, and the prefixes
// of what they must not import of others: the map in DEVELOPERS.md. Tests may
// import more.
var layers = map[string]struct{ own, never []string }{
	"isa":                 {nil, []string{"os", "io", "net", "syscall", "time", "go.", "golang.org", "github.com"}},
	"analysis/syntax":     {[]string{"isa"}, []string{"os", "io", "net", "syscall", "time", "go.", "golang.org", "github.com"}},
	"analysis/preprocess": {[]string{"analysis/syntax"}, []string{"os", "io", "net", "syscall", "time", "go.", "golang.org", "github.com"}},
	"analysis":            {[]string{"isa", "analysis/syntax", "analysis/preprocess"}, []string{"os", "io", "net", "syscall", "time", "go.", "golang.org", "github.com"}},
	"server/project":      {[]string{"analysis", "analysis/syntax", "analysis/preprocess"}, []string{"go.", "golang.org", "github.com"}},
	"server":              {[]string{"analysis", "analysis/syntax", "analysis/preprocess", "server/project"}, []string{"github.com"}},
	"cmd/lsp":             {[]string{"analysis", "analysis/syntax", "analysis/preprocess", "server", "server/project"}, []string{"go.lsp.dev"}},
}

// TestArrows holds that imports go one way, that the core does no I/O, and
// that only package server knows the protocol.
func TestArrows(t *testing.T) {
	seen := map[string]int{}
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(root, path)
		if err != nil {
			return err
		}
		if rel = filepath.ToSlash(rel); d.IsDir() {
			if d.Name() == "node_modules" || rel == "isa/reftest" || rel != "." && strings.HasPrefix(d.Name(), ".") {
				return fs.SkipDir
			}
			return nil
		}
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
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range layers {
		if seen[pkg] == 0 {
			t.Errorf("%s: no files", pkg)
		}
	}
}
