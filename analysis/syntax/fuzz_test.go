package syntax

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// seeds are sources at the edges of the language; the parser's other tests
// and the fuzzers share them.
var seeds = []string{
	"", "\n", "\r\n", "nop", "lbl: nop @ c\n", "a: b: 1: nop; nop\r\n", "\t.word 1, x+4, 'a', \"s\"\n",
	"ldr r0, [r1, #4]!\nldr r0, [r1], #4\npush {r0-r3, lr}\n", "/* a\nb */ nop /* c */\n/* open", "x = 3\ny == x*2\n",
	"p .req r3\nadd p, #1\nldr p, [p, p]\npush {p}\n", "mov r0, #(1 + 2) * ~3 << 4\n", ".ascii \"a\\n\\x41\\101\" \"b\"\n.asciz \"open\n",
	"b 1f + 2\n1: beq 1b\n", "mov r0, #:lower16:x\nbl f(PLT)\n", "mov r0, r1, lsl #2\nadd r0, r1, r2, ror r3\n", "# line\n // c\n@ c\n",
	"loop b loop\nlab .word 1\n", "\xff\xfe\x00\u00e9: nop\n", "((((((\n", "mov r0,#'\n", ".if x\n.else\n.endif\n", "ldr r0,=0xffffffffffffffffff\n",
	"push {r0, /* a\nb */ r1}\nnop /* a\n*/ nop /* b\n*/ ; nop /*\n*/ @ c\n", "nop /* a\n */ /* b\n */ .byte 1, /*\n*/ 2\nx: /*\n*/ nop\n",
	".ascii \"a\nb\", \"c\\\nd\" /*\n*/, \"e\r\nf\"\n.ascii \"a\n.ascii \"b\"\n", "55$: b 55$\n1 $: b 0x10$ + 010$\n",
	".ascii 0x[\n.string \"a\" <65> 'b\n.error x[\n", "vmov d0[1], r0\nvld1.8 {d0[1], d1[1]}, [r0:64]!\npush {r0-, r1}\n",
}

// check verifies what every parsed file promises.
func check(t *testing.T, f *File, text string) {
	t.Helper()
	if f.Text() != text {
		t.Fatal("the text is not kept")
	}
	for i := 0; i < f.NumLines(); i++ {
		l := f.Line(i)
		end := len(text)
		if i+1 < f.NumLines() {
			end = f.LineStart(i+1) - 1
		}
		if raw := text[f.LineStart(i):end]; trimCR(raw) != l.Text {
			t.Fatalf("line %d is %q, the text has %q", i, l.Text, raw)
		}
		last := int32(0)
		n := int32(len(l.Text))
		for k := range l.Stmts {
			s := &l.Stmts[k]
			if s.Start < last || s.NameEnd < s.Start || s.End < s.NameEnd || s.End > n {
				t.Fatalf("line %q: statement %d at %d–%d–%d, after %d", l.Text, k, s.Start, s.NameEnd, s.End, last)
			}
			last = s.End
			if e := s.Err; e != nil && (e.Start < 0 || e.End <= e.Start || e.End > n+1) {
				t.Fatalf("line %q: error at %d–%d", l.Text, e.Start, e.End)
			}
			at := s.NameEnd
			for j := range s.Ops {
				o := &s.Ops[j]
				if o.Start < at || o.End < o.Start || o.End > n {
					t.Fatalf("line %q: operand %d at %d–%d, after %d", l.Text, j, o.Start, o.End, at)
				}
				at = o.Start
			}
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range seeds {
		f.Add(s)
	}
	for _, c := range detectCases {
		f.Add(c.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		check(t, Parse(text), text)
		for d := Dots; d <= Columns; d++ {
			check(t, ParseAs(text, d), text)
		}
	})
}

// FuzzEdit checks that an edited file is the file that parsing the edited
// text in its dialect gives, and that its other readings follow.
func FuzzEdit(f *testing.F) {
	for i, s := range seeds {
		f.Add(s, i, i+3, seeds[(i*7)%len(seeds)])
	}
	for i, c := range detectCases {
		f.Add(c.text, i, 2*i, detectCases[(i*7)%len(detectCases)].text)
	}
	f.Fuzz(func(t *testing.T, text string, a, b int, with string) {
		a, b = clamp(a, len(text)), clamp(b, len(text))
		if a > b {
			a, b = b, a
		}
		old := Parse(text)
		old.Conditional()
		g := old.Edit(a, b, with)
		whole := text[:a] + with + text[b:]
		if got, want := g.Conditional(), Parse(whole).Conditional(); got != want {
			t.Fatalf("%q may have conditions: %t, want %t", whole, got, want)
		}
		check(t, g, whole)
		h := ParseAs(whole, g.Dialect())
		if !reflect.DeepEqual(g.start, h.start) {
			t.Fatalf("line starts %v, want %v", g.start, h.start)
		}
		if g.Crosses() != h.Crosses() || h.Crosses() && !mayCross(whole) {
			t.Fatalf("%q: statements in several lines: %t, want %t", whole, g.Crosses(), h.Crosses())
		}
		checkJoints(t, g, h)
		for i := range h.lines {
			if !reflect.DeepEqual(g.lines[i], h.lines[i]) {
				t.Fatalf("line %d %q differs:\n%+v\n%+v", i, h.lines[i].Text, g.lines[i], h.lines[i])
			}
		}
		for d := Dots; d <= Columns; d++ {
			got, want := ParseAs(text, d).Edit(a, b, with), ParseAs(whole, d)
			other := old.As(d)
			if d != old.Dialect() && other == old {
				t.Fatal("no other reading")
			}
			again := old.Edit(a, b, with).As(d)
			for i := range want.lines {
				if !reflect.DeepEqual(got.lines[i], want.lines[i]) || !reflect.DeepEqual(again.lines[i], want.lines[i]) {
					t.Fatalf("%v: line %d %q differs:\n%+v\n%+v\n%+v", d, i, want.lines[i].Text, got.lines[i], again.lines[i], want.lines[i])
				}
			}
		}
		check(t, old, text) // the old file has not changed
	})
}

func clamp(i, n int) int {
	if i < 0 {
		i = -(i + 1)
	}
	return i % (n + 1)
}

// TestEditShares checks that lines out of reach of an edit are shared.
func TestEditShares(t *testing.T) {
	f := Parse(strings.Repeat("\tadds r0, #1\n", 100))
	at := f.LineStart(50)
	g := f.Edit(at, at, "\tnop\n")
	shared := 0
	for i := 0; i < 100; i++ {
		j := i
		if i >= 50 {
			j++
		}
		if f.Line(i) == g.Line(j) {
			shared++
		}
	}
	if shared < 99 {
		t.Errorf("%d of 100 lines shared", shared)
	}
}

// TestEditAll holds that edits made at once give the file that the edited text gives.
func TestEditAll(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 4))
	for range 3000 {
		text := ""
		for range 1 + rnd.IntN(4) {
			text += seeds[rnd.IntN(len(seeds))]
		}
		var cuts []int
		for range 2 * rnd.IntN(6) {
			cuts = append(cuts, rnd.IntN(len(text)+1))
		}
		slices.Sort(cuts)
		var changes []Change
		whole, at := "", 0
		for i := 0; i+1 < len(cuts); i += 2 {
			c := Change{cuts[i], cuts[i+1], seeds[rnd.IntN(len(seeds))]}
			if rnd.IntN(3) == 0 {
				c.New = ""
			}
			whole += text[at:c.Start] + c.New
			at = c.End
			changes = append(changes, c)
		}
		whole += text[at:]
		got, want := ParseAs(text, Dots).EditAll(changes), ParseAs(whole, Dots)
		check(t, got, whole)
		if !reflect.DeepEqual(got.start, want.start) || !reflect.DeepEqual(got.lines, want.lines) {
			t.Fatalf("%q with %v is not %q", text, changes, whole)
		}
	}
}
