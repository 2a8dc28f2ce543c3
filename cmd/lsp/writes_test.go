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
		// in a variable, and touches of whether it is part of a program. parts are the
		// variables that lead to a part of one: slices, maps, and pointers to a field.
		var shared, touches func(x ast.Expr) bool
		parts := map[types.Object]bool{}
		touches = func(x ast.Expr) bool {
			switch x := ast.Unparen(x).(type) {
			case *ast.Ident:
				return parts[info.Uses[x]]
			case *ast.SliceExpr:
				return touches(x.X)
			case *ast.UnaryExpr:
				return x.Op == token.AND && touches(x.X)
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
				if touches(x.X) {
					return true
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
		// leads notes a variable that gets such a part; a number or a struct is a copy.
		leads := func(name, value ast.Expr) {
			id, ok := name.(*ast.Ident)
			if !ok || !touches(value) {
				return
			}
			o := info.Defs[id]
			if o == nil {
				o = info.Uses[id]
			}
			if o == nil {
				return
			}
			switch u := o.Type().Underlying().(type) {
			case *types.Slice, *types.Map:
				parts[o] = true
			case *types.Pointer:
				_, whole := types.Unalias(u.Elem()).(*types.Named) // found by its type
				parts[o] = parts[o] || !whole
			}
		}
		for _, f := range files {
			ast.Inspect(f, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.AssignStmt:
					for i, x := range n.Lhs {
						write(x)
						if len(n.Rhs) == len(n.Lhs) {
							leads(x, n.Rhs[i])
						}
					}
				case *ast.IncDecStmt:
					write(n.X)
				case *ast.RangeStmt:
					if n.Tok == token.ASSIGN {
						for _, x := range []ast.Expr{n.Key, n.Value} {
							if x != nil {
								write(x)
							}
						}
					} else if n.Value != nil && touches(n.X) {
						leads(n.Value, n.X)
					}
				case *ast.CallExpr:
					if len(n.Args) > 0 && touches(n.Args[0]) && changesFirst(info, n) {
						t.Errorf("%v: writes to a program: %s", fset.Position(n.Pos()), types.ExprString(n))
					}
				}
				return true
			})
		}
	}
}

// changesFirst says whether a call changes what its first argument leads to: the words of
// the language that do, appending to a part of a slice, and what sorts or moves in place.
func changesFirst(info *types.Info, call *ast.CallExpr) bool {
	switch f := ast.Unparen(call.Fun).(type) {
	case *ast.Ident:
		if _, ok := info.Uses[f].(*types.Builtin); !ok {
			return false
		}
		_, part := ast.Unparen(call.Args[0]).(*ast.SliceExpr)
		return f.Name == "delete" || f.Name == "clear" || f.Name == "copy" || f.Name == "append" && part
	case *ast.SelectorExpr:
		o := info.Uses[f.Sel]
		if o == nil || o.Pkg() == nil {
			return false
		}
		switch o.Pkg().Path() {
		case "slices":
			for _, name := range []string{"Sort", "Reverse", "Delete", "Compact", "Insert", "Replace"} {
				if strings.HasPrefix(o.Name(), name) {
					return true
				}
			}
		case "sort":
			return !strings.Contains(o.Name(), "Sorted") && !strings.HasPrefix(o.Name(), "Search") && o.Name() != "Find"
		case "maps":
			return strings.HasPrefix(o.Name(), "Delete") || o.Name() == "Copy" || o.Name() == "Insert"
		}
	}
	return false
}
