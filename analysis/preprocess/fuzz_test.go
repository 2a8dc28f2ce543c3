package preprocess

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// FuzzProcess checks that any sources end, and give units that keep their
// promises; a second run with a warm cache gives the same.
func FuzzProcess(f *testing.F) {
	for k, s := range odd {
		f.Add(s, odd[(k*7+1)%len(odd)], "X=1")
	}
	b := batch(3, 30)
	for n, s := range b {
		if n[0] == 'p' {
			f.Add(s, b["h"+n[1:len(n)-2]+".h"], "F(a,b)=a##b")
		}
	}
	f.Fuzz(func(t *testing.T, main, header, define string) {
		s := sources{"main.S": main, "a.h": header}
		raw := syntax.Parse(main)
		any := s.load(t)
		in := &Input{Path: "main.S", File: raw, Defines: []string{define, "A", "B(x)=x #x"}, Cache: &Cache{}, Remember: true}
		in.Load = func(from, name string, system bool) (string, *syntax.File, bool) {
			if name == "missing.h" {
				return "", nil, false
			}
			return any(from, "a.h", system)
		}
		var last string
		for k := 0; k < 2; k++ {
			u := Process(in)
			checkUnit(t, u)
			got := fmt.Sprint(list(u, nil), bad(u))
			if k > 0 && got != last {
				t.Fatalf("another run gives\n%s\nnot\n%s", got, last)
			}
			last = got
			for off := 0; off <= len(main); off += 1 + len(main)/50 {
				u.At(off)
				u.MacroAt(off)
				u.UseAt(off)
			}
		}
	})
}

// many repeats a text with numbers.
func many(text string, n int) string {
	var b strings.Builder
	for k := 0; k < n; k++ {
		fmt.Fprintf(&b, text, k)
	}
	return b.String()
}

// deepFiles includes each other, one below the other, with n names in each.
func deepFiles(depth, n int) sources {
	s := sources{"main.S": "#include \"f0.h\"\n", fmt.Sprintf("f%d.h", depth): " nop\n"}
	for k := 0; k < depth; k++ {
		s[fmt.Sprintf("f%d.h", k)] = fmt.Sprintf("#include \"f%d.h\"\n", k+1) + many(fmt.Sprintf("#define N%d_%%d 1\n .word N\n", k), n)
	}
	return s
}

// TestBounded checks that sources made to blow up end, with a problem, and that
// what follows is still processed.
func TestBounded(t *testing.T) {
	t.Parallel()
	double := func(n int) string {
		var b strings.Builder
		b.WriteString("#define A0 x x\n#define F0(x) x x\n#define S0(x) #x\n#define P0(x) x##x\n")
		for k := 1; k < n; k++ {
			fmt.Fprintf(&b, "#define A%d A%d A%d\n#define F%d(x) F%d(x x)\n#define S%d(x) S%d(x)\n", k, k-1, k-1, k, k-1, k, k-1)
		}
		return b.String()
	}
	const after = "#define OK nop\n OK\n"
	few := reftest.Size(10, 1, 1) // sources whose size does not matter are shorter by this
	large := []string{"conditions", "two cycles", "open calls", "deep files", "many names", "long line", "every line"}
	proof := reftest.Begin(t)
	n := 0
	for name, s := range map[string]sources{
		"doubling":      {"main.S": double(60) + " A59\n" + after},
		"arguments":     {"main.S": double(60) + " F59(x)\n" + after},
		"nested calls":  {"main.S": "#define F(x) x x\n " + strings.Repeat("F(", 40) + "x" + strings.Repeat(")", 40) + "\n" + after},
		"deep calls":    {"main.S": "#define F(x) x\n " + strings.Repeat("F(", 100_000) + "x" + strings.Repeat(")", 100_000) + "\n" + after},
		"deep brackets": {"main.S": "#if " + strings.Repeat("(", 1_000_000) + "\n#endif\n" + after},
		"many signs":    {"main.S": "#if " + strings.Repeat("- ", 1_000_000) + "1\n#endif\n" + after},
		"strings":       {"main.S": "#define S(x) #x\n#define T(x) S(x)\n " + strings.Repeat("T(", 60) + `"\"` + strings.Repeat(")", 60) + "\n" + after},
		"pasting":       {"main.S": "#define P(x) Q(x##x)\n#define Q(x) R(x##x)\n#define R(x) x##x\n#define C(f,x) D(f(x))\n#define D(x) P(x)\n " + strings.Repeat("C(P,", 30) + "a" + strings.Repeat(")", 30) + "\n" + after},
		"every line":    {"main.S": double(60) + strings.Repeat(" A59\n", 20000) + "#ifndef OK\n#define OK nop\n#endif\n"},
		"open calls":    {"main.S": "#define F(x) x\n" + strings.Repeat(" F(\n", 100_000) + "#define OK nop\n"},
		"cycle":         {"main.S": after + "#include \"main.S\"\n"},
		"two cycles":    {"main.S": "#include \"main.S\"\n#include \"main.S\"\n"},
		"many includes": {"main.S": strings.Repeat("#include \"a.h\"\n", 300), "a.h": strings.Repeat("#include \"b.h\"\n", 300), "b.h": " nop\n"},
		"deep files":    deepFiles(150, 3000/few),
		"many macros":   {"main.S": strings.Repeat("#include \"a.h\"\n", 250) + strings.Repeat(" A\n", 200_000/few), "a.h": many("#undef A\n#define A\n#define N%d A\n", 1000/few)},
		"many names":    {"main.S": strings.Repeat("#include \"a.h\"\n", 30), "a.h": many("#include \"b.h\"\n n%d m\n", 300), "b.h": many(" name%d A\n", 300)},
		"long line":     {"main.S": "#define N 1\n .byte " + strings.Repeat("N, ", 3_000_000) + "N\n" + after},
		"continued":     {"main.S": "#define N 1\n .byte " + strings.Repeat("N, \\\n", 100_000/few) + "N\n" + after},
		"conditions":    {"main.S": strings.Repeat("#if 0\n", 300_000)},
		"comments":      {"main.S": "#define N 1\n" + strings.Repeat(" N /*\n*/ N\n", 100_000/few)},
		"self":          {"main.S": "#define A B\n#define B A\n" + strings.Repeat(" A B\n", 1000) + after},
	} {
		if few > 1 && slices.Contains(large, name) && name != large[reftest.Seed(0)%len(large)] {
			continue
		}
		n++
		t.Run(name, func(t *testing.T) {
			u := s.again(t, "main.S")
			checkUnit(t, u)
			if cold := s.process(t, "main.S"); fmt.Sprint(list(u, nil), bad(u)) != fmt.Sprint(list(cold, nil), bad(cold)) {
				t.Error("what was kept makes a difference")
			}
			limited := len(bad(u)) > 0
			if want := name != "deep files" && name != "many macros" && name != "self" && name != "comments" && name != "continued"; limited != want {
				t.Errorf("problems: %v, want %v", limited, want)
			}
			n := 0
			var count func(u *Unit)
			count = func(u *Unit) {
				n += u.File.NumLines()
				for _, inc := range u.Includes {
					if inc.Unit != nil {
						count(inc.Unit)
					}
				}
			}
			if count(u); n > maxLines {
				t.Errorf("%d lines", n)
			}
			if strings.HasSuffix(s["main.S"], after) {
				if got := u.File.Line(u.File.NumLines() - 2).Text; got != " nop" {
					t.Errorf("the line behind is %q", got)
				}
			}
		})
	}
	proof.Counted("bounded: %d sources", n)
}
