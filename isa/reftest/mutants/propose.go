package main

import (
	"bytes"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// A site is one place of a source with a change that could be a slip.
type site struct {
	kind       string // of slip, for its name
	in         string // function
	start, end int    // the range of the text that is replaced
	with       string
}

// propose prints changes chosen by chance in the form of the list: first the
// kind of a slip, then one of its places, so that no kind prevails.
func propose(w io.Writer, t *tree, c *compiler, o *options) error {
	chance := rand.New(rand.NewPCG(o.seed, 1))
	kinds, from := map[string][]site{}, map[string][]*source{}
	var names []string
	for _, s := range t.files {
		if !slices.ContainsFunc(strings.Split(o.in, ","), func(in string) bool {
			return in == "" || s.path == in || strings.HasPrefix(s.path, strings.TrimSuffix(in, "/")+"/")
		}) {
			continue
		}
		file := token.NewFileSet()
		f, err := parser.ParseFile(file, s.path, s.text, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		for _, x := range sites(f, s.text) {
			if kinds[x.kind] == nil {
				names = append(names, x.kind)
			}
			kinds[x.kind], from[x.kind] = append(kinds[x.kind], x), append(from[x.kind], s)
		}
	}
	if len(names) == 0 {
		return fmt.Errorf("nothing to change in %q", o.in)
	}
	slices.Sort(names)
	in := "" // the folder that the list is in
	used, called := map[string]bool{}, map[string]int{}
	for n, tries := 0, 0; n < o.propose && tries < 20*o.propose; tries++ {
		kind := names[chance.IntN(len(names))]
		i := chance.IntN(len(kinds[kind]))
		m := t.entry(from[kind][i], kinds[kind][i])
		if m == nil || !m.changes() || used[m.old+m.new] { // a change may drop a blank, or swap two that are alike
			continue
		}
		a, err := t.apply(m)
		if err != nil || c.check(a) != nil {
			continue
		}
		used[m.old+m.new] = true
		n++
		name := kinds[kind][i].name()
		if called[name]++; called[name] > 1 {
			name += "-" + strconv.Itoa(called[name])
		}
		if m.in != in {
			in = m.in
			fmt.Fprintf(w, "in %s\n\n", in)
		}
		fmt.Fprintf(w, "# %s:%d\nmutant %s\n%s\n", a.path, a.line, name, diff(m.old, m.new))
	}
	return nil
}

// entry makes a mutant of whole lines around the site, as few as make it
// unique; nil if that takes too many.
func (t *tree) entry(s *source, x site) *mutant {
	first := bytes.LastIndexByte(s.text[:x.start], '\n') + 1
	last := x.end
	if i := bytes.IndexByte(s.text[x.end:], '\n'); i >= 0 {
		last += i
	}
	for more := range 8 {
		if bytes.Count(s.text[first:last], []byte("\n")) > 8 {
			break
		}
		m := &mutant{name: "x", in: s.path[:strings.LastIndexByte(s.path, '/')]}
		m.old = string(s.text[first:last]) + "\n"
		m.new = string(s.text[first:x.start]) + x.with + string(s.text[x.end:last]) + "\n"
		if _, err := t.apply(m); err == nil {
			return m
		}
		if more%2 == 0 {
			first = bytes.LastIndexByte(s.text[:max(first-1, 0)], '\n') + 1
		} else if i := bytes.IndexByte(s.text[min(last+1, len(s.text)):], '\n'); i >= 0 {
			last = min(last+1, len(s.text)) + i
		}
	}
	return nil
}

// diff writes a change with the lines in common at its ends once.
func diff(before, after string) string {
	a, b := strings.SplitAfter(strings.TrimRight(before, "\n")+"\n", "\n"), strings.SplitAfter(strings.TrimRight(after, "\n")+"\n", "\n")
	a, b = a[:len(a)-1], b[:len(b)-1]
	blank := func(s string) bool { return strings.TrimSpace(s) == "" }
	b = slices.DeleteFunc(b, blank)
	a = slices.DeleteFunc(a, blank)
	var head, tail []string
	for len(a) > 0 && len(b) > 0 && a[0] == b[0] {
		head, a, b = append(head, " "+a[0]), a[1:], b[1:]
	}
	for len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1] {
		tail = append(tail, " "+a[len(a)-1])
		a, b = a[:len(a)-1], b[:len(b)-1]
	}
	slices.Reverse(tail)
	for _, line := range a {
		head = append(head, "-"+line)
	}
	for _, line := range b {
		head = append(head, "+"+line)
	}
	return strings.Join(append(head, tail...), "")
}

// slips of binary operators.
var slips = map[token.Token]struct{ with, kind string }{
	token.LSS: {"<=", "bound"}, token.LEQ: {"<", "bound"}, token.GTR: {">=", "bound"}, token.GEQ: {">", "bound"},
	token.EQL: {"!=", "equality"}, token.NEQ: {"==", "equality"}, token.LAND: {"||", "or for and"}, token.LOR: {"&&", "and for or"},
	token.ADD: {"-", "sign"}, token.SUB: {"+", "sign"}, token.OR: {"&", "bits"}, token.AND: {"|", "bits"},
}

// name is made of the function and the kind, in small letters with hyphens.
func (x site) name() string {
	var b strings.Builder
	for i, c := range x.in {
		if c >= 'A' && c <= 'Z' {
			if c |= 0x20; i > 0 {
				b.WriteByte('-')
			}
		}
		b.WriteRune(c)
	}
	return strings.Trim(regexp.MustCompile("[^a-z0-9]+").ReplaceAllString(b.String(), "-"), "-") + "-" + strings.ReplaceAll(x.kind, " ", "-")
}

// sites lists the slips that could be made in a file. Offsets are positions
// less one, as the file is the first of its set.
func sites(f *ast.File, text []byte) []site {
	var all []site
	in := f.Name.Name
	add := func(kind string, start, end token.Pos, with string) {
		all = append(all, site{kind, in, int(start) - 1, int(end) - 1, with})
	}
	at := func(n ast.Node) string { return string(text[n.Pos()-1 : n.End()-1]) }
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			in = n.Name.Name
		case *ast.BinaryExpr:
			if s, ok := slips[n.Op]; ok {
				add(s.kind, n.OpPos, n.OpPos+token.Pos(len(n.Op.String())), s.with)
			}
			if n.Op == token.LAND || n.Op == token.LOR {
				add("condition dropped", n.Pos(), n.End(), at(n.X))
				if x, ok := n.X.(*ast.BinaryExpr); !ok || x.Op != n.Op {
					add("condition dropped", n.Pos(), n.End(), at(n.Y))
				}
			}
		case *ast.UnaryExpr:
			if n.Op == token.NOT {
				add("negation dropped", n.Pos(), n.End(), at(n.X))
			}
		case *ast.IfStmt:
			if n.Else == nil && n.Init == nil {
				add("branch dropped", n.Pos(), n.End(), "")
			}
		case *ast.CaseClause:
			if n.List != nil && len(n.Body) > 0 {
				add("case dropped", n.Pos(), n.End(), "")
			}
			if len(n.List) > 1 {
				add("case narrowed", n.List[0].Pos(), n.List[1].Pos(), "")
			}
		case *ast.BasicLit:
			literal(n, add)
		case *ast.BranchStmt:
			if n.Tok != token.FALLTHROUGH {
				add("jump dropped", n.Pos(), n.End(), "")
			}
		case *ast.ExprStmt:
			add("call dropped", n.Pos(), n.End(), "")
		case *ast.DeferStmt:
			add("deferred call dropped", n.Pos(), n.End(), "")
		case *ast.AssignStmt:
			if n.Tok != token.DEFINE {
				add("assignment dropped", n.Pos(), n.End(), "")
			}
		case *ast.IncDecStmt:
			add("assignment dropped", n.Pos(), n.End(), "")
		case *ast.Ident:
			if n.Name == "true" || n.Name == "false" {
				add("truth", n.Pos(), n.End(), strconv.FormatBool(n.Name == "false"))
			}
		case *ast.CallExpr:
			for i := 1; i < len(n.Args); i++ {
				x, y := n.Args[i-1], n.Args[i]
				add("arguments swapped", x.Pos(), y.End(), at(y)+string(text[x.End()-1:y.Pos()-1])+at(x))
			}
		case *ast.SliceExpr:
			if n.High != nil {
				add("slice end", n.High.Pos(), n.High.End(), at(n.High)+"-1")
			}
			if n.Low != nil {
				add("slice start", n.Low.Pos(), n.Low.End(), at(n.Low)+"+1")
			}
		case *ast.ImportSpec:
			return false
		}
		return true
	})
	return all
}

// literal adds slips of a constant: a number one off, or a text without one
// of its words.
func literal(n *ast.BasicLit, add func(kind string, start, end token.Pos, with string)) {
	switch n.Kind {
	case token.INT:
		if v, err := strconv.ParseInt(n.Value, 10, 32); err == nil {
			by := int64(1)
			if v > 1 && v%2 == 0 {
				by = -1
			}
			add("number", n.Pos(), n.End(), strconv.FormatInt(v+by, 10))
		}
	case token.STRING:
		if words := strings.Split(n.Value, " "); len(words) > 2 {
			i := len(words) / 2
			if strings.Contains(words[i], "%") {
				i--
			}
			add("word dropped", n.Pos(), n.End(), strings.Join(slices.Delete(slices.Clone(words), i, i+1), " "))
		}
	}
}
