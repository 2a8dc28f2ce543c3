package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// TestList holds that each mutant of the list still applies, once, and leaves
// valid Go, with -short that of a sample.
func TestList(t *testing.T) {
	all, err := readLists("")
	if err != nil {
		t.Fatal(err)
	}
	root := filepath.Join("..", "..", "..")
	sources, err := readTree(root)
	if err != nil {
		t.Fatal(err)
	}
	c, err := newCompiler(root)
	if err != nil {
		t.Fatal(err)
	}
	areas := map[string]int{}
	results := prepare(sources, nil, all)
	for _, r := range results {
		areas[r.area]++
	}
	for _, r := range append(results, prepare(sources, c, reftest.Sample(all, 13))...) {
		if r.State == "stale" || r.State == "error" {
			t.Errorf("%s: %s is %s: %s", r.at, r.name, r.State, r.Output)
		}
	}
	if len(all) < 200 {
		t.Errorf("%d mutants; a share of so few says little", len(all))
	}
	for area, n := range areas {
		if n < 4 {
			t.Errorf("area %s has %d mutants; a share of so few says little", area, n)
		}
	}
}

func TestParseList(t *testing.T) {
	all, err := parseList("x.txt", "# a comment\narea a: b\nin c/d/\n\nmutant one\ntests ./c X|Y\ntests ./d\nwhy because\nwhy of this\n both\n-old\n+new\n\nmutant two\n-old\n")
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 2 {
		t.Fatalf("%d mutants, want 2", len(all))
	}
	one, two := all[0], all[1]
	if one.name != "one" || one.area != "a: b" || one.in != "c/d" || one.old != "both\nold\n" || one.new != "both\nnew\n" || one.why != "because of this" || one.at != "x.txt:5" {
		t.Errorf("%+v", one)
	}
	if want := []selection{{Pkg: "./c", Run: "X|Y"}, {Pkg: "./d"}}; !slices.Equal(one.tests, want) {
		t.Errorf("tests %v, want %v", one.tests, want)
	}
	if two.old != "old\n" || two.new != "" || two.area != "a: b" {
		t.Errorf("%+v", two)
	}
	for text, want := range map[string]string{
		"-x\n":                                      "x.txt:1: a change before the first mutant",
		"mutant\n":                                  "x.txt:1: mutant needs something after it",
		"area a\nin b\nmutant x\n-x\nwhy y\n":       "x.txt:5: expected mutant, area or in",
		"area a\nin b\nmutant x\nwhat y\n-x\n":      "x.txt:4: unknown word what",
		"area a\nmutant x\n-x\n":                    "x.txt:2: x: no area, or no folder",
		"area a\nin b\nmutant X\n-x\n":              "x.txt:3: X: a name is made of small letters, digits and '-'",
		"area a\nin b\nmutant x\n+x\n":              "x.txt:3: x: no line with the text to replace",
		"area a\nin b\nmutant x\n-x  y\n+x\n+y\n":   "x.txt:3: x: the change changes nothing",
		"area a\nin b\nmutant x\n":                  "x.txt:3: x: no line with the text to replace",
		"area a\nin b\ntests ./isa\nmutant x\n-x\n": "x.txt:3: expected mutant, area or in",
	} {
		if _, err := parseList("x.txt", text); err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// module writes a small module with two packages and returns its folder.
func module(t *testing.T) string {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"go.mod": "module railway\n\ngo 1.26\n",
		"points/points.go": `package points

import "strings"

// Room says whether n more points fit.
func Room(n int) bool {
	// At most 4.
	if n <= 4 &&
		n >= 0 {
		return true
	}
	return false
}

// Name is the name of point n. Nobody tests what it does with a space.
func Name(s string) string {
	return "P" + strings.ToUpper(strings.TrimSpace(s))
}
`,
		"points/points_test.go": `package points

import "testing"

func TestRoom(t *testing.T) {
	t.Run("full", func(t *testing.T) {
		if Room(5) || !Room(4) {
			t.Error("wrong")
		}
	})
}

func TestNothing(t *testing.T) { t.Log("if n <= 4 && n >= 0 {") }
`,
		"signals/signals.go": "package signals\n\nimport \"railway/points\"\n\n// Label of a signal.\nfunc Label(s string) string { return points.Name(s) }\n",
		"signals/signals_test.go": `package signals

import "testing"

func TestLabel(t *testing.T) {
	if Label("a") != "PA" {
		t.Error("wrong")
	}
}
`,
		"other/other.go":      "package other\n",
		"other/other_test.go": "package other\n\nimport \"testing\"\n\nfunc TestFails(t *testing.T) { t.Error(\"never asked\") }\n",
	} {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func TestApply(t *testing.T) {
	sources, err := readTree(module(t))
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct{ old, with, want string }{
		{"if n <= 4 && n >= 0 {", "if n < 4 && n >= 0 {", "\t// At most 4.\n\tif n < 4 && n >= 0 {\n\t\treturn true\n"},
		{"return true\n}\nreturn false", "return false", "{\n\t\treturn false\n}\n"},
		{"n <= 4 // whatever", "n == 4", "\tif n == 4 &&\n"},
		{"turn true", "", ""}, // part of a word
		{"return", "", ""},    // more than once
		{"At most", "", ""},   // a comment
		{`t.Log("if`, "", ""}, // a test
		{`"P" + strings`, `"P"`, "\treturn \"P\".ToUpper("}, // between words
	} {
		m := &mutant{name: "x", in: "points", old: x.old + "\n", new: x.with + "\n"}
		a, err := sources.apply(m)
		switch {
		case x.want == "" && err == nil:
			t.Errorf("%q applies", x.old)
		case x.want != "" && err != nil:
			t.Errorf("%q: %v", x.old, err)
		case x.want != "" && !strings.Contains(string(a.text), x.want):
			t.Errorf("%q: %s", x.old, a.text)
		}
	}
	if _, err := sources.apply(&mutant{in: "signals", old: "if n <= 4 && n >= 0 {"}); err == nil {
		t.Error("a mutant applies in another folder")
	}
}

const railwayList = `area points
in points
mutant room-bound
-n <= 4
+n < 4
mutant room-negative
-n >= 0
+n > 0
mutant name-letter
-return "P"
+return "Q"
mutant name-space
-strings.TrimSpace(s)
+s
mutant name-case
-strings.ToUpper(strings.TrimSpace(s))
+s
mutant name-why
why nobody calls it so
-return "P" +
+return "P" + "" +
mutant gone
-return maybe
+return true
area signals
in signals
mutant endless
-return points.Name(s)
+for { _ = points.Name(s) }
`

// TestRun runs the whole of it on a small module: a mutant that its own
// package's tests kill, one that those of a dependent package do, survivors, and
// those that do not compile, are stale, equivalent or never end; and again,
// from what was kept, after a test has come.
func TestRun(t *testing.T) {
	dir := module(t)
	list := filepath.Join(t.TempDir(), "list.txt")
	if err := os.WriteFile(list, []byte(railwayList), 0o666); err != nil {
		t.Fatal(err)
	}
	o := &options{root: dir, list: list, cache: t.TempDir(), workers: 2, factor: 1, slack: 1, verbose: true}
	run := func(want ...string) {
		t.Helper()
		var out strings.Builder
		err := o.run(t.Context(), &out)
		if err == nil || err.Error() != "2 mutants of the list do not apply or do not compile" {
			t.Error(err)
		}
		for _, want := range want {
			if !strings.Contains(out.String(), want) {
				t.Errorf("not there: %q\n%s", want, out.String())
			}
		}
	}
	run("killed room-bound by points TestRoom/full\n", "killed name-letter by signals TestLabel\n",
		"survived room-negative\n", "survived name-space\n", "killed endless by signals TestLabel, which takes too long\n",
		"\nequivalent name-why (", "  nobody calls it so\n",
		"\nstale gone (", "  the text is there 0 times below points\n",
		"\nerror name-case (", "  import strings is unused\n",
		"\n      4       2         2           1      1      1   50 %  points\n",
		"\n      5       3         2           1      1      1   60 %  all\n")
	if reftest.Part() {
		return
	}
	test := filepath.Join(dir, "points", "more_test.go")
	if err := os.WriteFile(test, []byte("package points\n\nimport \"testing\"\n\nfunc TestSpace(t *testing.T) {\n\tif Name(\" a\") != \"PA\" {\n\t\tt.Error(\"wrong\")\n\t}\n}\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	run("1 of 2", "2 of 2", "killed name-space by points TestSpace\n", "survived room-negative\n",
		"\n      5       4         1           1      1      1   80 %  all\n")
}

// TestChoose holds that shards and samples divide the list as they should.
func TestChoose(t *testing.T) {
	all, err := readLists("")
	if err != nil {
		t.Fatal(err)
	}
	count := map[string]int{}
	for _, shard := range []string{"1/3", "2/3", "3/3"} {
		o := &options{shard: shard}
		some, err := o.choose(slices.Clone(all))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range some {
			count[m.name]++
		}
	}
	for _, m := range all {
		if count[m.name] != 1 {
			t.Errorf("%s is in %d shards", m.name, count[m.name])
		}
	}
	for _, shard := range []string{"0/3", "4/3", "1", "a/b"} {
		o := &options{shard: shard}
		if _, err := o.choose(slices.Clone(all)); err == nil {
			t.Errorf("shard %s is taken", shard)
		}
	}
	o := &options{sample: 2, area: "^isa: "}
	some, err := o.choose(slices.Clone(all))
	if err != nil {
		t.Fatal(err)
	}
	areas := map[string]int{}
	for _, m := range some {
		areas[m.area]++
	}
	if len(areas) < 5 {
		t.Errorf("%d areas of isa", len(areas))
	}
	for area, n := range areas {
		if n != 2 || !strings.HasPrefix(area, "isa: ") {
			t.Errorf("%d mutants of %s in a sample of two of isa", n, area)
		}
	}
}

// TestPropose holds that what chance proposes is a list that applies.
func TestPropose(t *testing.T) {
	root := filepath.Join("..", "..", "..")
	sources, err := readTree(root)
	if err != nil {
		t.Fatal(err)
	}
	c, err := newCompiler(root)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	if err := propose(&out, sources, c, &options{propose: 30, in: "server/position.go,cmd/lsp", seed: 3}); err != nil {
		t.Fatal(err)
	}
	all, err := parseList("x.txt", "area x\n"+out.String())
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 30 {
		t.Errorf("%d mutants, want 30", len(all))
	}
	names := map[string]bool{}
	for _, r := range prepare(sources, c, all) {
		names[r.name] = true
		if r.State != "" {
			t.Errorf("%s is %s: %s", r.name, r.State, r.Output)
		} else if r.applied.path != "server/position.go" && !strings.HasPrefix(r.applied.path, "cmd/lsp/") {
			t.Errorf("%s is in %s", r.name, r.applied.path)
		}
	}
	if len(names) != 30 {
		t.Errorf("%d names, want 30", len(names))
	}
}
