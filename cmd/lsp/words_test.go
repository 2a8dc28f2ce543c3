package main

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

// plainWords are words with which these texts once spoke a language of their own, and
// what to write in their place.
var plainWords = []struct{ word, instead string }{
	{`behind`, "after"},
	{`stands?`, "is, are"},
	{`standing`, "a verb of what it does"},
	{`hangs? on`, "depends on"},
	{`kin`, "and the like"},
	{`alone`, "only"},
	{`compact (state|mode|code)`, "Thumb"},
	{`reads? over`, "ignores"},
	{`is none`, "is not"},
	{`near names`, "similar names"},
}

// spared are texts with such a word that have to have it.
var spared = regexp.MustCompile("literal-behind" + // a code never changes
	"|leaves? .* alone|left alone|let .* alone")

// TestPlainWords holds that what users and developers read is plain English: the
// strings of the program, and the documents.
func TestPlainWords(t *testing.T) {
	var all []string
	for _, w := range plainWords {
		all = append(all, w.word)
	}
	private := regexp.MustCompile(`(?i)\b(` + strings.Join(all, "|") + `)\b`)
	if !private.MatchString("The literal stands in the pool") || private.MatchString("a standard pool, in this state") {
		t.Fatal("the words are not found, or found where they are not")
	}
	look := func(place, text string) {
		text = spared.ReplaceAllString(text, "")
		found := private.FindString(text)
		if found == "" {
			return
		}
		i := slices.IndexFunc(plainWords, func(w struct{ word, instead string }) bool {
			return regexp.MustCompile(`(?i)^(` + w.word + `)$`).MatchString(found)
		})
		t.Errorf("%s: %q in %q; write %q", place, found, text, plainWords[i].instead)
	}
	files := 0
	repository(t, func(rel, path string) error {
		switch {
		case strings.HasSuffix(path, ".md"), filepath.Base(path) == "package.json", strings.HasSuffix(path, ".lua"):
			files++
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for i, line := range strings.Split(string(text), "\n") {
				look(rel+":"+strconv.Itoa(i+1), line)
			}
		case strings.HasSuffix(path, ".go") && !strings.HasSuffix(path, "_test.go"):
			files++
			set := token.NewFileSet()
			file, err := parser.ParseFile(set, path, nil, parser.ParseComments|parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			if filepath.Base(path) == "doc.go" {
				look(rel, strings.Join(strings.Fields(file.Doc.Text()), " "))
			}
			ast.Inspect(file, func(n ast.Node) bool {
				if b, ok := n.(*ast.BasicLit); ok && b.Kind == token.STRING {
					look(set.Position(b.Pos()).String(), b.Value)
				}
				return true
			})
		}
		return nil
	})
	if files < 200 {
		t.Errorf("only %d files were looked at", files)
	}
}

// TestProgramName holds that each command in the documents that builds the program
// gives it its name: by its folder it would be called lsp.
func TestProgramName(t *testing.T) {
	build := regexp.MustCompile(`go (build|install)\b[^\n]*\./cmd/lsp`)
	commands := 0
	for _, name := range []string{"README.md", "DEVELOPERS.md", "editors/SETUP.md", "editors/SOURCES.md", "editors/vscode/pack.sh", "editors/vscode/workbench/run.sh", ".ci/run"} {
		text, err := os.ReadFile(filepath.Join("../..", name))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range build.FindAllString(string(text), -1) {
			commands++
			if !regexp.MustCompile(`^go build -o "?[$\w/.~-]*(narrowgauge|server)\b`).MatchString(c) {
				t.Errorf("%s: %s gives a program of another name", name, c)
			}
		}
	}
	if commands < 2 {
		t.Errorf("only %d commands build the program", commands)
	}
}
