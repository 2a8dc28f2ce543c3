package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path"
	"strconv"
	"strings"
)

// A compiler says whether changed files are valid Go. Only the functions that
// a change touches are looked into: hundreds of mutants take a few seconds.
type compiler struct {
	root     string
	packages map[string]*goPackage // by folder relative to the root, with slashes
	exports  map[string]string     // export data, by import path
	parsed   map[string]*parsedPackage
	imports  types.Importer
	files    *token.FileSet
}

// A goPackage is what the go command says about a package.
type goPackage struct {
	ImportPath, Dir, Export         string
	GoFiles                         []string
	Deps, TestImports, XTestImports []string
	TestGoFiles, XTestGoFiles       []string
}

// A parsedPackage has the files of a package without bodies of functions.
type parsedPackage struct {
	names []string
	files []*ast.File
}

// newCompiler asks the go command for the packages below root, and for what
// they import in compiled form.
func newCompiler(root string) (*compiler, error) {
	c := &compiler{
		root: root, packages: map[string]*goPackage{}, exports: map[string]string{},
		parsed: map[string]*parsedPackage{}, files: token.NewFileSet(),
	}
	cmd := exec.Command("go", "list", "-e", "-deps", "-export", "-json=ImportPath,Dir,Export,GoFiles", "./...")
	cmd.Dir, cmd.Stderr = root, os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go list: %w", err)
	}
	abs, err := absolute(root)
	if err != nil {
		return nil, err
	}
	for d := json.NewDecoder(bytes.NewReader(out)); ; {
		p := new(goPackage)
		if err := d.Decode(p); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return nil, fmt.Errorf("go list: %w", err)
		}
		c.exports[p.ImportPath] = p.Export
		if rel, ok := below(abs, p.Dir); ok {
			c.packages[rel] = p
		}
	}
	c.imports = importer.ForCompiler(c.files, "gc", func(path string) (io.ReadCloser, error) {
		if c.exports[path] == "" {
			return nil, fmt.Errorf("no compiled form of %s", path)
		}
		return os.Open(c.exports[path])
	})
	return c, nil
}

// check says why the changed file, with the rest of its package, is not valid.
func (c *compiler) check(a *applied) error {
	dir, name := path.Split(a.path)
	dir = strings.TrimSuffix(dir, "/")
	p, err := c.parse(dir)
	if err != nil {
		return err
	}
	changed, err := parser.ParseFile(c.files, a.path, a.text, parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	if err := unusedImport(changed); err != nil {
		return err
	}
	base := c.files.File(changed.Pos()).Base()
	withoutBodies(changed, func(f *ast.FuncDecl) bool {
		return int(f.Pos())-base <= a.end && a.start <= int(f.End())-base
	})
	files := []*ast.File{changed}
	built := false
	for i, other := range p.files {
		if p.names[i] != name {
			files = append(files, other)
		} else {
			built = true
		}
	}
	if !built {
		return fmt.Errorf("%s is not built here", a.path)
	}
	var first error
	config := types.Config{Importer: c.imports, Error: func(err error) {
		// Most imports are unused without the bodies of the functions.
		if text := err.Error(); first == nil && !(strings.Contains(text, "imported ") && strings.Contains(text, " and not used")) {
			first = err
		}
	}}
	_, _ = config.Check(c.packages[dir].ImportPath, c.files, files, nil)
	return first
}

// parse reads the files of the package in dir.
func (c *compiler) parse(dir string) (*parsedPackage, error) {
	if p := c.parsed[dir]; p != nil {
		return p, nil
	}
	pkg := c.packages[dir]
	if pkg == nil {
		return nil, fmt.Errorf("no package in %s", dir)
	}
	p := new(parsedPackage)
	for _, name := range pkg.GoFiles {
		f, err := parser.ParseFile(c.files, path.Join(pkg.Dir, name), nil, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		withoutBodies(f, func(*ast.FuncDecl) bool { return false })
		p.names, p.files = append(p.names, name), append(p.files, f)
	}
	c.parsed[dir] = p
	return p, nil
}

// withoutBodies drops the bodies of the functions that keep does not want, and
// init and main, which need one. Those with type parameters need theirs.
func withoutBodies(f *ast.File, keep func(*ast.FuncDecl) bool) {
	var decls []ast.Decl
	for _, d := range f.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if ok && fn.Type.TypeParams == nil && !keep(fn) {
			if fn.Recv == nil && (fn.Name.Name == "init" || fn.Name.Name == "main") {
				continue
			}
			fn.Body = nil
		}
		decls = append(decls, d)
	}
	f.Decls = decls
}

// unusedImport finds an import that a change has made superfluous.
func unusedImport(f *ast.File) error {
	used := map[string]bool{}
	ast.Inspect(f, func(n ast.Node) bool {
		if s, ok := n.(*ast.SelectorExpr); ok {
			if id, ok := s.X.(*ast.Ident); ok {
				used[id.Name] = true
			}
		}
		return true
	})
	for _, spec := range f.Imports {
		from, _ := strconv.Unquote(spec.Path.Value)
		name := path.Base(from)
		if spec.Name != nil {
			name = spec.Name.Name
		}
		if name != "_" && name != "." && name != "embed" && !used[name] {
			return fmt.Errorf("import %s is unused", from)
		}
	}
	return nil
}
