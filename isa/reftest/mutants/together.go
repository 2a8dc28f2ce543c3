package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"path"
	"slices"
	"strings"
)

// marker begins an entry of PATH that chooses a mutant where many are compiled
// together; its number follows. Tests that give a program an environment of
// their own leave it this variable, and no other.
const marker = "/no-such-folder/mutant-"

// together is the text of files in which many mutants are compiled at once,
// as compiling takes longer than most tests. A function that is changed exists
// once more for each of its mutants, and one that asks the environment which
// is meant takes their name; the value of a variable is chosen likewise.
type together struct {
	files  map[string][]byte // by path relative to the root
	number map[string]int    // of mutants, by name; others are compiled by themselves
}

// compileTogether makes the files for as many of the mutants as it can.
func compileTogether(t *tree, all []*applied) (*together, error) {
	g := &together{files: map[string][]byte{}, number: map[string]int{}}
	byPath := map[string][]*applied{}
	for _, a := range all {
		byPath[a.path] = append(byPath[a.path], a)
	}
	for _, s := range t.files {
		if len(byPath[s.path]) == 0 {
			continue
		}
		file := token.NewFileSet()
		f, err := parser.ParseFile(file, s.path, s.text, parser.SkipObjectResolution)
		if err != nil {
			return nil, err
		}
		if text := g.file(s, f, byPath[s.path]); text != nil {
			g.files[s.path] = text
			g.files[path.Join(path.Dir(s.path), "zz_mutant.go")] = fmt.Appendf(nil, chooser, f.Name.Name, marker)
		}
	}
	return g, nil
}

const chooser = `package %s

import (
	"os"
	"strconv"
	"strings"
)

var mutant__ = func() (number int) {
	for _, dir := range strings.Split(os.Getenv("PATH"), string(os.PathListSeparator)) {
		if n, ok := strings.CutPrefix(dir, %q); ok {
			number, _ = strconv.Atoi(n)
		}
	}
	return number
}()

func mutated__[T any](number int, without, with T) T {
	if mutant__ == number {
		return with
	}
	return without
}
`

// file makes the text of one file; nil if none of its mutants can be compiled
// together with others.
func (g *together) file(s *source, f *ast.File, all []*applied) []byte {
	type piece struct {
		start, end int
		text       string
	}
	var pieces []piece
	take := func(start, end token.Pos) (in []*applied) {
		for _, a := range all {
			if int(start)-1 <= a.start && a.was <= int(end)-1 {
				in = append(in, a)
				g.number[a.name] = len(g.number) + 1
			}
		}
		return in
	}
	for _, d := range f.Decls {
		switch d := d.(type) {
		case *ast.FuncDecl:
			if d.Body == nil || d.Recv == nil && d.Name.Name == "init" {
				continue
			}
			if in := take(d.Body.Lbrace, d.Body.End()); in != nil {
				pieces = append(pieces, piece{int(d.Pos()) - 1, int(d.End()) - 1, g.function(s.text, d, in)})
			}
		case *ast.GenDecl:
			for _, spec := range d.Specs {
				v, ok := spec.(*ast.ValueSpec)
				if !ok || d.Tok != token.VAR || v.Type != nil || len(v.Values) != 1 || len(v.Names) != 1 {
					continue
				}
				if in := take(v.Values[0].Pos(), v.Values[0].End()); in != nil {
					pieces = append(pieces, piece{int(v.Values[0].Pos()) - 1, int(v.Values[0].End()) - 1, g.value(s.text, v.Values[0], in)})
				}
			}
		}
	}
	if pieces == nil {
		return nil
	}
	slices.SortFunc(pieces, func(a, b piece) int { return a.start - b.start })
	var out []byte
	at := 0
	for _, p := range pieces {
		out = append(append(out, s.text[at:p.start]...), p.text...)
		at = p.end
	}
	return append(out, s.text[at:]...)
}

// value chooses the value of a variable.
func (g *together) value(text []byte, x ast.Expr, in []*applied) string {
	out := string(text[x.Pos()-1 : x.End()-1])
	for _, a := range in {
		out = fmt.Sprintf("mutated__(%d, %s, %s)", g.number[a.name], out, a.within(int(x.Pos())-1, int(x.End())-1))
	}
	return out
}

// function writes the function, its mutants, and the one that chooses.
func (g *together) function(text []byte, d *ast.FuncDecl, in []*applied) string {
	at := func(from, to token.Pos) string { return string(text[from-1 : to-1]) }
	types := func(list *ast.FieldList, name string) (with, without, names []string) {
		if list == nil {
			return nil, nil, nil
		}
		for _, field := range list.List {
			for range max(len(field.Names), 1) {
				typ := at(field.Type.Pos(), field.Type.End())
				n := fmt.Sprintf("%s%d__", name, len(names))
				with, without = append(with, n+" "+typ), append(without, typ)
				if _, ok := field.Type.(*ast.Ellipsis); ok {
					n += "..."
				}
				names = append(names, n)
			}
		}
		return with, without, names
	}
	receiver, call := "", ""
	if d.Recv != nil {
		with, _, names := types(d.Recv, "r")
		receiver, call = "("+with[0]+") ", names[0]+"."
	}
	params, _, names := types(d.Type.Params, "p")
	_, results, _ := types(d.Type.Results, "x")
	parameters, arguments := "", ""
	if list := d.Type.TypeParams; list != nil {
		parameters = at(list.Pos(), list.End())
		var given []string
		for _, field := range list.List {
			for _, n := range field.Names {
				given = append(given, n.Name)
			}
		}
		arguments = "[" + strings.Join(given, ", ") + "]"
	}
	to := func(n int) string {
		return fmt.Sprintf("%s%s__%d%s(%s)", call, d.Name.Name, n, arguments, strings.Join(names, ", "))
	}
	var b strings.Builder
	fmt.Fprintf(&b, "func %s%s%s(%s) (%s) {\n\tswitch mutant__ {\n", receiver, d.Name.Name, parameters, strings.Join(params, ", "), strings.Join(results, ", "))
	give := ""
	if results != nil {
		give = "return "
	}
	for _, a := range in {
		fmt.Fprintf(&b, "\tcase %d:\n\t\t%s%s\n", g.number[a.name], give, to(g.number[a.name]))
	}
	fmt.Fprintf(&b, "\tdefault:\n\t\t%s%s\n\t}\n", give, to(0))
	b.WriteString("}\n")
	head, tail := at(d.Pos(), d.Name.Pos()), at(d.Name.End(), d.End())
	fmt.Fprintf(&b, "\n%s%s__0%s\n", head, d.Name.Name, tail)
	for _, a := range in {
		fmt.Fprintf(&b, "\n%s%s__%d%s\n", head, d.Name.Name, g.number[a.name], a.within(int(d.Name.End())-1, int(d.End())-1))
	}
	return b.String()
}
