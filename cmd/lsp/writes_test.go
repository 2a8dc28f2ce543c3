package main

import (
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// writers are the packages that may write to a program: those that assemble it, and
// the evaluator, which keeps the values of symbols meanwhile.
var writers = map[string]bool{"analysis/program": true, "analysis/assemble": true, "analysis/assemble/layout": true, "analysis/eval": true}

// TestPrograms holds that nothing outside of the assembly writes to a program.
func TestPrograms(t *testing.T) {
	const program = "narrowgauge/analysis/program"
	list := exec.Command("go", "list", "-export", "-deps", "-f", "{{.ImportPath}} {{.Export}}", "narrowgauge/...")
	out, err := list.Output()
	if err != nil {
		t.Fatal(err)
	}
	exports := map[string]string{}
	for l := range strings.Lines(string(out)) {
		if path, file, ok := strings.Cut(strings.TrimSpace(l), " "); ok {
			exports[path] = file
		}
	}
	fset := token.NewFileSet()
	from := importer.ForCompiler(fset, "gc", func(path string) (io.ReadCloser, error) { return os.Open(exports[path]) })
	for _, name := range floors {
		if writers[name] || name < "analysis" || name == "isa" {
			continue
		}
		paths, err := filepath.Glob(filepath.Join("..", "..", filepath.FromSlash(name), "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		var files []*ast.File
		for _, path := range paths {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			f, err := parser.ParseFile(fset, path, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			files = append(files, f)
		}
		info := &types.Info{Selections: map[*ast.SelectorExpr]*types.Selection{}, Types: map[ast.Expr]types.TypeAndValue{}, Uses: map[*ast.Ident]types.Object{}, Defs: map[*ast.Ident]types.Object{}}
		if _, err := (&types.Config{Importer: from}).Check("narrowgauge/"+name, fset, files, info); err != nil {
			t.Fatal(err)
		}
		// shared says whether an assignment to x changes what others see, and not a copy
		// in a variable, and touches of whether it is part of a program.
		var shared, touches func(x ast.Expr) bool
		touches = func(x ast.Expr) bool {
			switch x := ast.Unparen(x).(type) {
			case *ast.SelectorExpr:
				s := info.Selections[x]
				return s != nil && s.Kind() == types.FieldVal && s.Obj().Pkg() != nil && s.Obj().Pkg().Path() == program || touches(x.X)
			case *ast.IndexExpr:
				return touches(x.X)
			case *ast.StarExpr:
				p, ok := info.Types[x.X].Type.Underlying().(*types.Pointer)
				if !ok {
					return false
				}
				n, ok := types.Unalias(p.Elem()).(*types.Named)
				return ok && n.Obj().Pkg() != nil && n.Obj().Pkg().Path() == program
			}
			return false
		}
		shared = func(x ast.Expr) bool {
			switch x := ast.Unparen(x).(type) {
			case *ast.SelectorExpr:
				s := info.Selections[x]
				return s != nil && (s.Indirect() || shared(x.X))
			case *ast.IndexExpr:
				_, array := info.Types[x.X].Type.Underlying().(*types.Array)
				return !array || shared(x.X)
			case *ast.StarExpr:
				return true
			}
			return false
		}
		write := func(x ast.Expr) {
			if touches(x) && shared(x) {
				t.Errorf("%v: writes to a program: %s", fset.Position(x.Pos()), types.ExprString(x))
			}
		}
		for _, f := range files {
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.AssignStmt:
					for _, x := range n.Lhs {
						write(x)
					}
				case *ast.IncDecStmt:
					write(n.X)
				case *ast.CallExpr:
					if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "delete" || f.Name == "clear") && len(n.Args) > 0 && touches(n.Args[0]) {
						t.Errorf("%v: writes to a program: %s", fset.Position(n.Pos()), types.ExprString(n))
					}
				}
				return true
			})
		}
	}
}
