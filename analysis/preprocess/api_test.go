package preprocess

import (
	"fmt"
	"reflect"
	"strings"
	"sync"
	"testing"

	"narrowgauge/analysis/syntax"
)

// at is the offset of the n-th occurrence of s in text, from 0.
func at(t *testing.T, text, s string, n int) int {
	t.Helper()
	off := -1
	for ; n >= 0; n-- {
		k := strings.Index(text[off+1:], s)
		if k < 0 {
			t.Fatalf("no %q in %q", s, text)
		}
		off += 1 + k
	}
	return off
}

// TestShared checks that lines without macros are the parser's own, and that a
// file that nothing changes stays the very file.
func TestShared(t *testing.T) {
	text := "/* points */\nnext: ldr r0, =1 @ POINTS(\n\tnop /* a\n b */\n# a comment\n .ascii \"POINTS\" // POINTS\n"
	f := syntax.Parse(text)
	if u := Process(&Input{File: f, Defines: []string{"POINTS=3"}}); u.File != f || len(bad(u)) > 0 {
		t.Errorf("the file is another one; %q", bad(u))
	}
	f = syntax.Parse(text + "#define POINTS 3\n ldr r0, =POINTS\n nop @ POINTS\n")
	u := Process(&Input{File: f})
	for i := 0; i < f.NumLines(); i++ {
		shared := u.File.Line(i) == f.Line(i)
		if want := i != 6 && i != 7; shared != want {
			t.Errorf("line %d %q: shared %v", i, f.Line(i).Text, shared)
		}
	}
	if got := u.File.Line(7).Text; got != " ldr r0, =3" {
		t.Errorf("the line became %q", got)
	}
	if d := u.File.Dialect(); d != f.Dialect() {
		t.Errorf("the dialect became %v", d)
	}
}

// TestComments checks that comments which only the preprocessor sees reach the
// lines below.
func TestComments(t *testing.T) {
	u := sources{"a.S": " nop @ /* points\n bl foo\n b */\n"}.process(t, "a.S")
	if l := u.File.Line(1); len(l.Stmts) != 0 || !l.StartsInComment() {
		t.Errorf("%q has %d statements", l.Text, len(l.Stmts))
	}
	u = sources{"a.S": "#define A /* c\n d */ 1\n nop\n"}.process(t, "a.S")
	if l := u.File.Line(2); len(l.Stmts) != 1 || u.File.Line(1).Text != "" {
		t.Errorf("%q, %q", u.File.Line(1).Text, l.Text)
	}
}

func TestInactive(t *testing.T) {
	text := "#if 0\n a\n#if 1\n b\n#else\n c\n#endif\n#else\n d\n#endif\n#ifdef X\n e"
	u := sources{"a.S": text}.process(t, "a.S")
	want := []Span{{at(t, text, " a", 0), at(t, text, "#else", 1)}, {at(t, text, " e", 0), len(text)}}
	if !reflect.DeepEqual(u.Inactive, want) {
		t.Errorf("inactive %v, want %v", u.Inactive, want)
	}
	if len(u.Problems) != 1 || u.Problems[0].Kind != BadStructure || text[u.Problems[0].Start:u.Problems[0].End] != "ifdef" {
		t.Errorf("problems %+v", u.Problems)
	}
}

func TestIncludes(t *testing.T) {
	s := sources{
		"main.S":  "#include \"a.h\"\n#include <b.h>\n#include \"a.h\"\n#include \"once.h\"\n#include \"once.h\"\n#define NAME <b.h>\n#include NAME\n A B ONCE\n#include \"gone.h\"\n nop\n",
		"a.h":     "// points\n#ifndef A_H\n#define A_H\n#define A 1\n#include \"b.h\"\n#endif // A_H\n",
		"b.h":     "#undef B\n#define B 2\n",
		"once.h":  "#pragma once\n#define ONCE 3\n .word A\n",
		"level.S": "#include \"level.S\"\n",
	}
	u := s.process(t, "main.S")
	var got []string
	for i := 0; i < u.Raw.NumLines(); i++ {
		if inc := u.Includes[i]; inc != nil {
			got = append(got, fmt.Sprint(i, " ", inc.Name, " ", s["main.S"][inc.Start:inc.End], " ", inc.System, inc.Found, inc.Unit != nil))
		}
	}
	want := []string{`0 a.h "a.h" false true true`, `1 b.h <b.h> true true true`, `2 a.h "a.h" false true false`, `3 once.h "once.h" false true true`, `4 once.h "once.h" false true false`, `6 b.h NAME true true true`, `8 gone.h "gone.h" false false false`}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("includes\n%q, want\n%q", got, want)
	}
	if got := u.File.Line(7).Text; got != " 1 2 3" {
		t.Errorf("the line became %q", got)
	}
	if got := u.Includes[3].Unit.File.Line(2).Text; got != " .word 1" {
		t.Errorf("the included line became %q", got)
	}
	if len(u.Problems) != 1 || u.Problems[0].Kind != MissingInclude || !u.Missing || u.Includes[0].Unit.Missing {
		t.Errorf("problems %+v, missing %v", u.Problems, u.Missing)
	}
	if u = s.process(t, "level.S"); !u.Missing || len(bad(u)) != 1 || !strings.Contains(bad(u)[0], "deeply") {
		t.Errorf("a cycle gives %q", bad(u))
	}
}

func TestMacroAt(t *testing.T) {
	s := sources{
		"main.S":   "#include \"signal.h\"\n#ifdef RED\n\tldr r0, =SIGNAL(RED, 2)\n#undef RED\n#endif\n#if defined(SIGNAL) && LATE\n#endif\n bl RED @ SIGNAL(1, 2)\n.type SIGNAL, %function\n",
		"signal.h": "#define RED (BASE + 1)\n#define BASE 0x40\n#define SIGNAL(what, n) ((what) << \\\n  (n))\n#define UNUSED RED\n",
	}
	u := s.process(t, "main.S", "LATE=BASE")
	h := u.Includes[0].Unit
	m := s["main.S"]
	for _, c := range []struct {
		u    *Unit
		off  int
		name string
	}{
		{u, at(t, m, "RED", 0), "RED"}, {u, at(t, m, "RED", 1), "RED"}, {u, at(t, m, "RED", 1) + 2, "RED"}, {u, at(t, m, "RED", 2), "RED"}, {u, at(t, m, "RED", 3), ""},
		{u, at(t, m, "SIGNAL", 0), "SIGNAL"}, {u, at(t, m, "SIGNAL", 1), "SIGNAL"}, {u, at(t, m, "SIGNAL", 2), ""}, {u, at(t, m, "SIGNAL", 3), ""}, {u, at(t, m, "LATE", 0), "LATE"}, {u, at(t, m, "ldr", 0), ""},
		{h, at(t, s["signal.h"], "RED", 0), "RED"}, {h, at(t, s["signal.h"], "BASE", 0), "BASE"}, {h, at(t, s["signal.h"], "BASE", 1), "BASE"}, {h, at(t, s["signal.h"], "what", 0), ""},
	} {
		got := c.u.MacroAt(c.off)
		if (got == nil) != (c.name == "") || got != nil && got.Name != c.name {
			t.Errorf("%s at %d %.9q: %v, want %q", c.u.Path, c.off, c.u.Raw.Text()[c.off:], got, c.name)
		}
	}
	red := u.MacroAt(at(t, m, "RED", 1))
	if red.Path != "signal.h" || s["signal.h"][red.Start:red.End] != "RED" || red.Text != "(BASE + 1)" || red.FuncLike {
		t.Errorf("RED is %+v", red)
	}
	if uses := u.Uses(red); len(uses) != 3 || uses[0].Path != "main.S" || uses[0].Start != at(t, m, "RED", 0) {
		t.Errorf("RED is used at %+v", uses)
	}
	sig := u.MacroAt(at(t, m, "SIGNAL", 0))
	if !reflect.DeepEqual(sig.Params, []string{"what", "n"}) || !sig.FuncLike || sig.Text != "((what) << (n))" {
		t.Errorf("SIGNAL is %+v", sig)
	}
	use, um, text := u.UseAt(at(t, m, "2)", 0))
	if um != sig || text != "(((0x40 + 1)) << (2))" || m[use.Start:use.End] != "SIGNAL(RED, 2)" {
		t.Errorf("the use is %q, %q", m[use.Start:use.End], text)
	}
	names := map[string]*Macro{}
	for _, m := range u.Macros() {
		names[m.Name] = m
	}
	if !names["LATE"].FromSettings || !names["__LINE__"].Builtin || names["UNUSED"].FromSettings || names["UNUSED"].Builtin {
		t.Error("macros do not know where they are from")
	}
}

func TestColumns(t *testing.T) {
	text := "#define REG r4\n#define SUM(a, b) a + \\\n  b\nfoo:  add REG, r5, #SUM(1,\n  2) @ c\n mov r0, \\\n  REG\n"
	u := sources{"a.S": text}.process(t, "a.S")
	l := u.File.Line(3).Text
	if l != "foo:  add r4, r5, #1 + 2 @ c" {
		t.Fatalf("the line is %q", l)
	}
	for _, c := range []struct{ from, to, macro string }{
		{"foo", "foo", ""}, {"add", "add", ""}, {"r4", "REG", "REG"}, {"r5", "r5", ""}, {"1 + 2", "SUM(1,\n  2)", "SUM"}, {"+", "SUM(1,\n  2)", "SUM"},
		{"add r4, r5", "add REG, r5", "REG"}, {"@ c", "@ c", ""}, {"r5, #1", "r5, #SUM(1,\n  2)", "SUM"},
	} {
		a := strings.Index(l, c.from)
		span, m := u.Columns(3, int32(a), int32(a+len(c.from)))
		if got := text[span.Start:span.End]; got != c.to || (m == nil) != (c.macro == "") || m != nil && m.Name != c.macro {
			t.Errorf("%q is from %q of %v, want %q of %q", c.from, got, m, c.to, c.macro)
		}
	}
	if line, col, ok := u.At(at(t, text, "REG", 2)); line != 5 || !ok || u.File.Line(5).Text[col:] != "r4" {
		t.Errorf("REG is at %d, %d, %v", line, col, ok)
	}
	if line, col, ok := u.At(at(t, text, "2)", 0)); line != 3 || !ok || col != int32(strings.Index(l, "1 +")) {
		t.Errorf("the argument is at %d, %d, %v", line, col, ok)
	}
	if _, _, ok := u.At(at(t, text, "REG", 0)); ok {
		t.Error("a directive came somewhere")
	}
}

func TestRaised(t *testing.T) {
	text := "#ifdef NO\n#error not here\n#endif\n#warning  the points are  slow\n#error\n"
	u := sources{"a.S": text}.process(t, "a.S")
	if len(u.Problems) != 2 || !u.Problems[0].Mild || u.Problems[1].Mild || u.Problems[0].Message != "the points are  slow" || u.Problems[1].Kind != Raised {
		t.Errorf("problems %+v", u.Problems)
	}
}

func TestStop(t *testing.T) {
	n := 0
	u := Process(&Input{Path: "a.S", File: syntax.Parse(strings.Repeat("#define A\n A\n", 5000)), Stop: func() bool { n++; return n > 3 }})
	if !u.Stopped || u.File.NumLines() != u.Raw.NumLines() {
		t.Errorf("stopped %v with %d lines", u.Stopped, u.File.NumLines())
	}
}

// TestCache checks that a cache gives the same lines again, and that it is
// bounded.
func TestCache(t *testing.T) {
	c := &Cache{}
	f := syntax.Parse("#define A 1\n .word A\n")
	in := &Input{Path: "a.S", File: f, Cache: c}
	if a, b := Process(in), Process(in); a.File.Line(1) != b.File.Line(1) || a.File.Line(1).Text != " .word 1" {
		t.Error("the line was parsed again")
	}
	var b strings.Builder
	b.WriteString("#define A 1\n")
	for k := 0; k < 1000; k++ {
		fmt.Fprintf(&b, " .word A, %d\n", k)
	}
	in.File, c.limit = syntax.Parse(b.String()), 100*cacheLine
	Process(in)
	if n := len(c.now) + len(c.before); n > 200 || n < 50 {
		t.Errorf("%d lines are kept", n)
	}
}

// TestParallel runs over the same parsed files with one cache at once; the race
// detector has something to say if they are changed.
func TestParallel(t *testing.T) {
	s := batch(11, 40)
	in := &Input{Path: "main.S", File: syntax.Parse(s["main.S"]), Cache: &Cache{}}
	files := map[string]*syntax.File{}
	for n, text := range s {
		files[n] = syntax.Parse(text)
	}
	in.Load = func(from, name string, system bool) (string, *syntax.File, bool) {
		return name, files[name], files[name] != nil
	}
	want := list(Process(in), nil)
	var wg sync.WaitGroup
	for range 4 {
		wg.Go(func() {
			if got := list(Process(in), nil); !reflect.DeepEqual(got, want) {
				t.Error("another run gives something else")
			}
		})
	}
	wg.Wait()
}
