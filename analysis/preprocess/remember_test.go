package preprocess

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// dump is all that a run says, with macros by their number.
func dump(u *Unit) string {
	var b strings.Builder
	macros := u.Macros()
	number := map[*Macro]int{nil: -1}
	for k, m := range macros {
		if _, ok := number[m]; ok {
			fmt.Fprintf(&b, "the macro %s is there twice\n", m.Name)
		}
		number[m] = k
	}
	name := func(m *Macro) string {
		k, ok := number[m]
		if !ok && m.special == isPoison {
			return "poison " + m.Name
		}
		return fmt.Sprint(k, ok)
	}
	var one func(u *Unit)
	one = func(u *Unit) {
		fmt.Fprintf(&b, "unit %s missing %v stopped %v inactive %v problems %v\n", u.Path, u.Missing, u.Stopped, u.Inactive, u.Problems)
		for i := 0; i < u.File.NumLines(); i++ {
			l := u.File.Line(i)
			fmt.Fprintf(&b, "%d %q %d %v %v %d %v", i, l.Text, len(l.Stmts), l.StartsInComment(), u.Changed(i), u.FirstLine(i), l != u.Raw.Line(i))
			if c := u.change(i); c != nil {
				for _, s := range c.segs {
					fmt.Fprintf(&b, " %d-%d:%d-%d:%s", s.out, s.outEnd, s.raw, s.rawEnd, name(u.now.of(s.m)))
				}
			}
			b.WriteByte('\n')
			if inc := u.Includes[i]; inc != nil {
				fmt.Fprintf(&b, "include %d %d %s %v %v %v %s %v\n", inc.Start, inc.End, inc.Name, inc.System, inc.Next, inc.Found, inc.Path, inc.Unit != nil)
				if inc.Unit != nil {
					one(inc.Unit)
				}
			}
		}
		for _, k := range u.allMarks() {
			fmt.Fprintf(&b, "mark %d %d %s\n", k.start, k.end, name(k.m))
		}
		for off := 0; off <= len(u.Raw.Text()); off += 3 {
			span, m, text := u.UseAt(off)
			fmt.Fprint(&b, span, name(m), text, name(u.MacroAt(off)), ";")
		}
	}
	for _, inc := range u.Prelude {
		fmt.Fprintln(&b, "prelude", inc.Name, inc.Found)
		if inc.Unit != nil {
			one(inc.Unit)
		}
	}
	one(u)
	for _, m := range macros {
		fmt.Fprintf(&b, "macro %s %v %v %q %s %d %d %v %v: %v\n", m.Name, m.Params, m.Variadic, m.Text, m.Path, m.Start, m.End, m.Builtin, m.FromSettings, u.Uses(m))
	}
	return b.String()
}

var roots = []string{"main.S", "other.S", "third.S"}

// project is a set of sources that is edited.
type project struct {
	r     *rand.Rand
	files map[string]*syntax.File
	names []string
	funcs map[string]int
	loads int
	depth int // of the file that is written: it includes those below it
}

// some writes a few lines of a file.
func (p *project) some(n int) string {
	g := &generator{r: p.r, funcs: p.funcs}
	below := p.names[min(p.depth, len(p.names)-1):]
	for ; n > 0; n-- {
		switch g.r.IntN(20) {
		case 16: // what the roots define
			fmt.Fprintf(&g.b, "%s OUT_%d\n", g.pick([]string{".word ", "#ifdef ", "#if ", "#define OWN_7 "}), g.r.IntN(4))
			if strings.Contains(g.b.String()[strings.LastIndex(g.b.String(), "\n#")+1:], "#if") {
				g.b.WriteString(" .word 1\n#else\n .word 2\n#endif\n")
			}
		case 17:
			if g.chance(3) {
				g.b.WriteString(".word __COUNTER__\n")
			}
		case 0, 1:
			fmt.Fprintf(&g.b, "#include \"%s\"\n", g.pick(below))
		case 2:
			fmt.Fprintf(&g.b, "#ifdef %s\n#include \"%s\"\n#else\n%s\n#endif\n", g.pick(genObjects), g.pick(below), g.word())
		case 3:
			fmt.Fprintf(&g.b, "#if __has_include(\"%s\")\n.word %s\n#endif\n", g.pick(below), g.word())
		case 4:
			fmt.Fprintf(&g.b, "#undef %s\n#define %s(x) x, %s, x\n", "X", "X", g.word())
		case 5:
			fmt.Fprintf(&g.b, ".word X(%s) X(1)\n", g.word())
		case 6:
			fmt.Fprintf(&g.b, "#define OWN_%d %s %s\n", g.r.IntN(40), g.word(), g.pick(genObjects))
		case 7:
			fmt.Fprintf(&g.b, ".word OWN_%d, OWN_%d\n", g.r.IntN(40), g.r.IntN(40))
		case 8:
			fmt.Fprintf(&g.b, ".word %s\n", g.pick([]string{"__COUNTER__", "__BASE_FILE__", "__INCLUDE_LEVEL__", "__LINE__", "__FILE__"}))
		case 9:
			fmt.Fprintf(&g.b, "#define HEAD \"%s\"\n#include HEAD\n#undef HEAD\n", g.pick(below))
		case 10:
			if g.chance(40) {
				fmt.Fprintf(&g.b, "#pragma GCC poison %s\n", g.pick(genObjects))
			}
			if g.chance(6) {
				fmt.Fprintf(&g.b, "#pragma %s(\"%s\")\n", g.pick([]string{"push_macro", "pop_macro"}), g.pick(genObjects))
			}
			if g.chance(3) {
				fmt.Fprintf(&g.b, " F(1,\n#include \"%s\"\n 2) ) )\n", g.pick(below))
			}
		case 11:
			fmt.Fprintf(&g.b, "#%s \"%s\"\n", g.pick([]string{"import", "include_next"}), g.pick(below))
		case 12, 13:
			g.define()
		default:
			for k := g.r.IntN(3); k >= 0; k-- {
				g.line()
			}
		}
	}
	return g.b.String()
}

func (p *project) fill(name string) {
	var text string
	p.depth = p.level(name)
	start := ""
	if !strings.HasSuffix(name, ".h") {
		for k := 0; k < 4; k++ {
			start += p.outer(k)
		}
		defer func() { p.files[name] = p.files[name].Edit(0, 0, start) }()
	}
	switch guard := strings.Trim(name, ".hS"); p.r.IntN(4) {
	case 0:
		text = "#pragma once\n" + p.some(3+p.r.IntN(12))
	case 1: // it depends on little
		g := &generator{r: p.r}
		for k := 0; k < 12; k++ {
			text += g.pick([]string{"#define OWN_%d 1\n", "#define OWN_%d __BASE_FILE__\n", ".word OWN_%d\n", ".word __BASE_FILE__ // %d\n"})
			text = fmt.Sprintf(text, g.r.IntN(40))
		}
	case 2:
		text = fmt.Sprintf("#ifndef G%s\n#define G%s\n%s#endif\n", guard, guard, p.some(3+p.r.IntN(15)))
	default:
		text = p.some(3 + p.r.IntN(10))
	}
	p.files[name] = syntax.ParseAs(text, syntax.Dots)
}

// outer is the definition of a macro that headers use.
func (p *project) outer(k int) string {
	g := &generator{r: p.r, funcs: p.funcs}
	switch p.r.IntN(6) {
	case 0:
		return fmt.Sprintf("#define OWN_%d %s\n", p.r.IntN(40), g.word())
	case 1:
		return ".word __COUNTER__\n"
	}
	return fmt.Sprintf("#define OUT_%d %s\n", k, g.pick([]string{"0", "1", "OUT_1", "A", "B OUT_2", "F(OUT_3)", "__COUNTER__", "1 + OWN_7"}))
}

func (p *project) level(name string) int {
	if n, err := strconv.Atoi(strings.Trim(name, ".hS")); err == nil && p.r.IntN(30) > 0 {
		return n + 1
	}
	return 0
}

// edit changes one file.
func (p *project) edit() string {
	name := p.names[p.r.IntN(len(p.names))]
	if p.r.IntN(3) > 0 {
		name = roots[p.r.IntN(3)]
	}
	f := p.files[name]
	if f == nil || p.r.IntN(25) == 0 {
		p.fill(name)
		return name
	}
	if p.r.IntN(40) == 0 && name[0] == 'h' {
		delete(p.files, name)
		return name
	}
	p.depth = p.level(name)
	i := p.r.IntN(f.NumLines())
	at, end := f.LineStart(i), f.LineStart(i)+len(f.Line(i).Text)
	switch p.r.IntN(6) {
	case 5:
		if name[0] != 'h' {
			k := p.r.IntN(min(4, f.NumLines()))
			p.files[name] = f.Edit(f.LineStart(k), f.LineStart(k)+len(f.Line(k).Text), strings.TrimSuffix(p.outer(k), "\n"))
		}
	case 0: // another letter
		at += p.r.IntN(end - at + 1)
		p.files[name] = f.Edit(at, at, "A")
	case 1:
		p.files[name] = f.Edit(at, min(end+1, len(f.Text())), "")
	case 2:
		p.files[name] = f.Edit(at, end, strings.TrimSuffix(p.some(1), "\n"))
	case 3:
		p.files[name] = f.Edit(at, at, "// signal box\n")
	default:
		p.files[name] = f.Edit(at, at, p.some(1))
	}
	return name
}

func (p *project) input(root string, c *Cache) *Input {
	load := func(name string) (string, *syntax.File, bool) {
		if c == nil {
			p.loads++
		}
		f := p.files[name]
		return name, f, f != nil
	}
	in := &Input{Path: root, File: p.files[root], Cache: c, Remember: c != nil, Defines: []string{"A=1", "SET(x)=x+B"}}
	if root == "other.S" {
		in.Defines, in.Prelude = []string{"B=A 2"}, []string{"h0.h"}
	}
	in.Load = func(from, name string, system bool) (string, *syntax.File, bool) { return load(name) }
	in.Next = func(from, name string) (string, *syntax.File, bool) { return load("h1.h") }
	return in
}

// TestRemember edits the files of random programs, in several roots, and compares
// what a run with a warm cache says with what one without says.
func TestRemember(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	number, seed := reftest.Count(5, 60, 1000), reftest.Seed(1)
	units, again := 0, 0
	for k := 0; k < number; k++ {
		p := &project{r: rand.New(rand.NewPCG(uint64(seed+k), 11)), files: map[string]*syntax.File{}, funcs: map[string]int{}}
		for n := 0; n < 3+p.r.IntN(5); n++ {
			p.names = append(p.names, fmt.Sprintf("h%d.h", n))
		}
		for _, name := range append(p.names, roots...) {
			p.fill(name)
		}
		c := &Cache{}
		if k%5 == 4 {
			c.recordLimit = 300_000
		}
		known := map[*origin]bool{}
		edited := "nothing"
		for n := 0; n < 25; n++ {
			for _, root := range roots {
				in := p.input(root, nil)
				p.loads = 0
				in.Stop = func() bool { return p.loads > 150 }
				cold := Process(in)
				if cold.Stopped {
					continue // files that include each other
				}
				u := Process(p.input(root, c))
				checkUnit(t, u)
				want := dump(cold)
				if got := dump(u); got != want {
					a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
					i := 0
					for i < min(len(a), len(b))-1 && a[i] == b[i] {
						i++
					}
					for name, f := range p.files {
						t.Logf("%s:\n%s", name, f.Text())
					}
					t.Fatalf("seed %d, edit %d of %s: %s: with what is kept\n%s\nwithout\n%s", seed+k, n, edited, root, a[i], b[i])
				}
				for _, x := range u.facts.units[1:] {
					if units++; known[x.origin] {
						again++
					}
				}
				for _, x := range u.facts.units {
					known[x.origin] = true
				}
			}
			edited = p.edit()
		}
		size := 0
		for _, list := range c.kept {
			for _, rec := range list {
				size += rec.size
			}
		}
		if size != c.recordSize || c.recordLimit > 0 && size > c.recordLimit {
			t.Fatalf("seed %d: the cache has %d bytes, and counts %d", seed+k, size, c.recordSize)
		}
	}
	proof.Counted("kept files: %d of %d included files were taken as they were", again, units)
	if again < units/6 {
		t.Error("the generator needs a look")
	}
}

// TestRememberTogether is for the race detector: several runs have one cache.
func TestRememberTogether(t *testing.T) {
	p := &project{r: rand.New(rand.NewPCG(5, 11)), files: map[string]*syntax.File{}, funcs: map[string]int{}}
	p.names = []string{"h0.h", "h1.h", "h2.h", "h3.h"}
	for _, name := range append(p.names, roots...) {
		p.fill(name)
	}
	c := &Cache{}
	for n := 0; n < 10; n++ {
		var wait sync.WaitGroup
		for k := 0; k < 4; k++ {
			root := roots[k%3]
			want := dump(Process(p.input(root, nil)))
			wait.Go(func() {
				if got := dump(Process(p.input(root, c))); got != want {
					t.Errorf("round %d: %s differs", n, root)
				}
			})
		}
		wait.Wait()
		p.edit()
	}
}

// TestRemembered says of some edits what is read again.
func TestRemembered(t *testing.T) {
	pad := strings.Repeat("#define PAD 1\n", minRecord)
	files := map[string]string{
		"main.S":   "#define LAMPS 3\n#include \"device.h\"\n#define LATE 1\n .word RED, LAMPS\n",
		"device.h": "#ifndef DEVICE_H\n#define DEVICE_H\n#include \"base.h\"\n#if LAMPS > 2\n#define RED (BASE + 1)\n#else\n#define RED 0\n#endif\n#endif\n" + pad,
		"base.h":   "#define BASE 0x40\n" + pad,
	}
	parsed := map[string]*syntax.File{}
	for name, text := range files {
		parsed[name] = syntax.Parse(text)
	}
	c := &Cache{}
	known := map[*origin]bool{}
	var last *Unit
	run := func() (read []string) {
		load := func(from, name string, system bool) (string, *syntax.File, bool) {
			f := parsed[name]
			return name, f, f != nil
		}
		last = Process(&Input{Path: "main.S", File: parsed["main.S"], Load: load, Cache: c, Remember: true})
		for _, u := range last.facts.units[1:] {
			if !known[u.origin] {
				read = append(read, u.Path)
			}
			known[u.origin] = true
		}
		return read
	}
	for _, x := range []struct {
		name, old, new string
		read           []string
		word           string
	}{
		{"main.S", "", "", []string{"device.h", "base.h"}, " .word (0x40 + 1), 3"},
		{"main.S", "LATE 1", "LATE 2", nil, " .word (0x40 + 1), 3"},
		{"main.S", "#define LAMPS", "// more of them\n#define LAMPS", nil, " .word (0x40 + 1), 3"},
		{"main.S", "#define LAMPS 3", "#define LAMPS 1", []string{"device.h"}, " .word 0, 1"},
		{"main.S", "#define LAMPS 1", "#define OTHER\n#define LAMPS 1", nil, " .word 0, 1"},
		{"main.S", "#define LAMPS 1", "#define LAMPS 3", nil, " .word (0x40 + 1), 3"},
		{"main.S", "#define OTHER", "#define PAD 2", []string{"device.h", "base.h"}, " .word (0x40 + 1), 3"},
		{"base.h", "0x40", "0x80", []string{"device.h", "base.h"}, " .word (0x80 + 1), 3"},
		{"device.h", "+ 1", "+ 2", []string{"device.h"}, " .word (0x80 + 2), 3"},
		{"main.S", "#define PAD 2\n", "", []string{"device.h", "base.h"}, " .word (0x80 + 2), 3"},
	} {
		f := parsed[x.name]
		at := strings.Index(f.Text(), x.old)
		if x.old != "" {
			parsed[x.name] = f.Edit(at, at+len(x.old), x.new)
		}
		if read := run(); !slices.Equal(read, x.read) {
			t.Errorf("%q becomes %q: %q is read, not %q", x.old, x.new, read, x.read)
		}
		if got := last.File.Line(last.File.NumLines() - 2).Text; got != x.word {
			t.Errorf("%q becomes %q: the line is %q", x.old, x.new, got)
		}
	}
}
