package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"strings"
	"testing"
)

// longest is how many lines a function may have: it tells one step.
const longest = 100

// TestLength holds that no function is longer. Functions that return rows of the
// instruction table, and nothing else, are that table: a line of theirs is data.
func TestLength(t *testing.T) {
	seen := 0
	repository(t, func(rel, path string) error {
		if !strings.HasSuffix(rel, ".go") || strings.HasSuffix(rel, "_test.go") {
			return nil
		}
		files := token.NewFileSet()
		file, err := parser.ParseFile(files, path, nil, 0)
		if err != nil {
			return err
		}
		for _, d := range file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			seen++
			if n := files.Position(f.End()).Line - files.Position(f.Pos()).Line + 1; n > longest && !givesRows(f.Type) {
				t.Errorf("%s: %s has %d lines, and may have %d", rel, f.Name.Name, n, longest)
			}
		}
		return nil
	})
	if seen < 1000 {
		t.Errorf("only %d functions", seen)
	}
}

// givesRows says whether a function takes nothing and returns rows of the table.
func givesRows(f *ast.FuncType) bool {
	if f.Params.NumFields() > 0 || f.Results.NumFields() != 1 {
		return false
	}
	list, ok := f.Results.List[0].Type.(*ast.ArrayType)
	if !ok {
		return false
	}
	to, ok := list.Elt.(*ast.StarExpr)
	if !ok {
		return false
	}
	name, ok := to.X.(*ast.Ident)
	return ok && name.Name == "Row"
}
