package main

import (
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
	"narrowgauge/server/project"
)

var update = flag.Bool("update", false, "write the generated sections of the documents, and the expected output in scripts")

// generated names the sections of documents that are made from the sources,
// each between the lines "<!-- NAME -->" and "<!-- end of NAME -->".
var generated = map[string][]struct {
	name string
	make func(t *testing.T) string
}{
	"README.md":     {{"settings", settingsTable}, {"checks", checksTable}, {"rewrites", rewritesTable}, {"disagreements", disagreements}},
	"DEVELOPERS.md": {{"variables", knobsTable}},
}

// TestReadme fails when a generated section of a document is stale, or with
// -update writes it.
func TestReadme(t *testing.T) {
	for name := range generated {
		t.Run(name, func(t *testing.T) { generate(t, name) })
	}
}

func generate(t *testing.T, name string) {
	path := "../../" + name
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	old := string(data)
	text := old
	for _, g := range generated[name] {
		open, end := "<!-- "+g.name+" -->\n", "<!-- end of "+g.name+" -->\n"
		before, rest, ok := strings.Cut(text, open)
		_, after, ok2 := strings.Cut(rest, end)
		if !ok || !ok2 {
			t.Fatalf("%s has no section %s", name, g.name)
		}
		text = before + open + "\n" + strings.TrimSpace(g.make(t)) + "\n\n" + end + after
	}
	switch {
	case text == old:
	case *update:
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	default:
		a, b := strings.Split(old, "\n"), strings.Split(text, "\n")
		for i := range a {
			if i >= len(b) || a[i] != b[i] {
				t.Errorf("line %d is\n%s\nand the sources say\n%s", i+1, a[i], strings.Join(b[i:min(i+1, len(b))], ""))
				break
			}
		}
		t.Errorf("%s is stale: go test ./cmd/lsp -run TestReadme -update", name)
	}
}

// knobsTable lists the environment variables of the tests.
func knobsTable(*testing.T) string {
	var b strings.Builder
	b.WriteString("| variable | what it says |\n| --- | --- |\n")
	for _, k := range reftest.Knobs {
		fmt.Fprintf(&b, "| `%s` | %s |\n", k.Name, cell(k.Says))
	}
	return b.String()
}

// TestKnobs holds that the environment variables of the tests are those of
// package reftest, and that no test reads the environment but through it.
func TestKnobs(t *testing.T) {
	variable := regexp.MustCompile(`NARROWGAUGE_[A-Z]+`)
	reads := regexp.MustCompile(`os\.(Getenv|LookupEnv)\(`)
	known := map[string]bool{}
	for _, k := range reftest.Knobs {
		known[k.Name] = true
	}
	root := filepath.Join("..", "..")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || d.Name() == ".git" || d.Name() == "mutants"):
			return fs.SkipDir
		case d.IsDir() || !slices.Contains([]string{".go", ".lua", ".sh", ".md", ""}, filepath.Ext(path)):
			return nil
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		for _, name := range variable.FindAllString(string(data), -1) {
			if !known[name] {
				t.Errorf("%s: %s is not in the list of package reftest", path, name)
			}
		}
		if strings.HasSuffix(path, "_test.go") && filepath.Base(path) != "readme_test.go" && reads.Match(data) {
			t.Errorf("%s reads the environment by itself; package reftest does it", path)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestLinks holds that the files that the documents show and link are there.
func TestLinks(t *testing.T) {
	for _, name := range []string{"README.md", "DEVELOPERS.md", "editors/SETUP.md", "editors/SOURCES.md"} {
		data, err := os.ReadFile(filepath.Join("../..", name))
		if err != nil {
			t.Error(err)
			continue
		}
		for _, part := range strings.Split(string(data), "](")[1:] {
			link, _, _ := strings.Cut(part, ")")
			link, _, _ = strings.Cut(link, "#")
			if link == "" || strings.Contains(link, "://") {
				continue
			}
			if _, err := os.Stat(filepath.Join("../..", filepath.Dir(name), link)); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// settingsTable is made of the definitions of the settings.
func settingsTable(*testing.T) string {
	var b strings.Builder
	b.WriteString("| project file | command line | what it says |\n| --- | --- | --- |\n")
	for _, d := range analysis.Definitions() {
		key, flag, doc := "`"+d.Name+"`", "`--"+d.Flag+"`", d.Doc
		if d.By != analysis.Everywhere {
			key = "never; in an editor " + key
		}
		if d.Flag == "" {
			flag = "never"
		}
		if d.Default != "" {
			doc += " Default: " + d.Default + "."
		}
		fmt.Fprintf(&b, "| %s | %s | %s |\n", key, flag, cell(doc))
	}
	return b.String()
}

// common is what the examples that do not need anything else start with; the
// tables leave it out.
const common = ".syntax unified\n.thumb\n"

// sample is a source in a cell of a table.
func sample(text string) string {
	var lines []string
	for _, l := range strings.Split(strings.TrimSuffix(strings.TrimPrefix(text, common), "\n"), "\n") {
		if l = strings.Join(strings.Fields(l), " "); l != "" {
			lines = append(lines, "`"+cell(l)+"`")
		}
	}
	return strings.Join(lines, "<br>")
}

func cell(s string) string { return strings.ReplaceAll(s, "|", `\|`) }

func checksTable(*testing.T) string {
	var b strings.Builder
	b.WriteString("| check | what it finds | wrong | right |\n| --- | --- | --- | --- |\n")
	for _, c := range analysis.Checks() {
		fmt.Fprintf(&b, "| `%s`<br>%s | %s | %s | %s |\n", c.Code, c.Severity, cell(c.Title), sample(c.Bad), sample(c.Good))
	}
	return b.String()
}

func rewritesTable(*testing.T) string {
	var b strings.Builder
	b.WriteString("| rewrite | what it does | before | after |\n| --- | --- | --- | --- |\n")
	for _, w := range analysis.Rewrites() {
		fmt.Fprintf(&b, "| `%s` | %s | %s | %s |\n", w.Name, cell(w.Title), sample(w.Before), sample(w.After))
	}
	return b.String()
}

// disagreements lists the reasons from the tables of the tests that compare
// verdicts with the reference assembler.
func disagreements(t *testing.T) string {
	var refused, accepted []string
	for _, pair := range literalPairs(t, "../../isa", "acceptDisagreements") {
		if strings.Contains(pair[0], " accept: ") {
			accepted = append(accepted, pair[1])
		} else {
			refused = append(refused, pair[1])
		}
	}
	var b strings.Builder
	b.WriteString("Refused here, taken there:\n\n")
	for _, r := range refused {
		fmt.Fprintf(&b, "- %s\n", r)
	}
	b.WriteString("\nTaken here, refused there:\n\n")
	for _, r := range accepted {
		fmt.Fprintf(&b, "- %s\n", r)
	}
	b.WriteString("\nOf whole lines:\n\n")
	for _, pair := range literalPairs(t, "../../analysis", "knownLines") {
		fmt.Fprintf(&b, "- `%s`: %s\n", pair[0], pair[1])
	}
	return b.String()
}

// literalPairs reads the pairs of strings in the composite literal that a test
// file in dir gives to name: structs of two strings, or a map's keys and
// values.
func literalPairs(t *testing.T, dir, name string) (pairs [][2]string) {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(dir, "*_test.go"))
	if err != nil {
		t.Fatal(err)
	}
	text := func(e ast.Expr) string {
		lit, ok := e.(*ast.BasicLit)
		if !ok {
			t.Fatalf("%s: %s: not a plain string", dir, name)
		}
		s, err := strconv.Unquote(lit.Value)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	for _, path := range paths {
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			spec, ok := n.(*ast.ValueSpec)
			if !ok || spec.Names[0].Name != name {
				return true
			}
			for _, e := range spec.Values[0].(*ast.CompositeLit).Elts {
				switch e := e.(type) {
				case *ast.CompositeLit:
					pairs = append(pairs, [2]string{text(e.Elts[0]), text(e.Elts[1])})
				case *ast.KeyValueExpr:
					pairs = append(pairs, [2]string{text(e.Key), text(e.Value)})
				}
			}
			return false
		})
	}
	if len(pairs) == 0 {
		t.Fatalf("%s: no %s", dir, name)
	}
	return pairs
}

// TestReadmeNumbers holds numbers in the documents to what the code has.
func TestReadmeNumbers(t *testing.T) {
	data, err := os.ReadFile("../../editors/SOURCES.md")
	if err != nil {
		t.Fatal(err)
	}
	if want := fmt.Sprintf("at most %d MiB", project.MaxSource>>20); !strings.Contains(string(data), want) {
		t.Errorf("editors/SOURCES.md does not say %q", want)
	}
	if want := fmt.Sprintf("up to %d MiB", project.MaxNamed>>20); !strings.Contains(string(data), want) {
		t.Errorf("editors/SOURCES.md does not say %q", want)
	}
}
