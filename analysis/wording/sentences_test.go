package wording

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// silent are the packages that report facts: what users read about them is made here.
// Not among them: the parsers, whose errors are only about the text; rewrites, whose
// titles are beside what they do; package describe, which is nothing but presentation.
var silent = []string{"program", "eval", "assemble", "assemble/layout", "flow"}

// words are two words of a natural language, one after the other.
var words = regexp.MustCompile(`(^|[ (])[A-Za-z]*[a-z][a-z'-]*[,;:]? [a-z][a-z'-]*($|[ ,;:.?)])| (is|are|has|needs|takes|in|of) `)

// takers are functions whose arguments are no English, but lists of names, or code.
var takers = []string{"strings.Fields", "strings.Contains", "syntax.ParseAs"}

// TestSentences holds that the packages which report facts have no English.
func TestSentences(t *testing.T) {
	if !words.MatchString(" needs a name") || !words.MatchString("in line ") && !words.MatchString("the branch") || words.MatchString(".if %s") {
		t.Fatal("what a sentence is has changed")
	}
	literals := 0
	for _, dir := range silent {
		names, err := filepath.Glob(filepath.Join("..", filepath.FromSlash(dir), "*.go"))
		if err != nil || len(names) == 0 {
			t.Fatalf("%s: %d files, %v", dir, len(names), err)
		}
		for _, name := range names {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			literals += checkSentences(t, name)
		}
	}
	if literals < 500 {
		t.Errorf("only %d string literals were looked at", literals)
	}
}

// checkSentences reports the sentences in a file, and says how many literals it has.
func checkSentences(t *testing.T, name string) (literals int) {
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	set := token.NewFileSet()
	file, err := parser.ParseFile(set, name, text, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec, *ast.Field:
			return false
		case *ast.CallExpr:
			if f, ok := n.Fun.(*ast.SelectorExpr); ok {
				if x, ok := f.X.(*ast.Ident); ok && slices.Contains(takers, x.Name+"."+f.Sel.Name) {
					return false
				}
			}
		case *ast.BasicLit:
			if n.Kind != token.STRING {
				break
			}
			literals++
			s, err := strconv.Unquote(n.Value)
			if err != nil {
				t.Fatal(err)
			}
			if words.MatchString(s) {
				t.Errorf("%s: %q is English; package wording makes the sentences", set.Position(n.Pos()), s)
			}
		}
		return true
	})
	return literals
}
