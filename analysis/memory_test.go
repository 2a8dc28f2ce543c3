package analysis

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// dense are short pieces of text that take much memory, each repeated between what
// comes before and after it. %d is a number that no other turn has.
var dense = []struct{ before, piece, after string }{
	{"", "nop;", "\n"}, {"", "a;", "\n"}, {"", "movs r0,#3;", "\n"}, {"", "ldr r0,=x;", "\n"}, {"", "1:", "\n"}, {"", "1:b 1b;", "\n"},
	{"", "x=x+1;", "\n"}, {"", ".if 1;.endif;", "\n"}, {"", ".text;", "\n"}, {"", ".q;", "\n"}, {"", ".space 1;", "\n"},
	{".byte ", "1,", "1\n"}, {".word ", "x,", "1\n"}, {".word ", "x+", "1\n"}, {".word ", "~", "1\n"}, {".word ", "(1)+", "1\n"},
	{".ascii ", `""`, "\n"}, {".ascii ", `"",`, "\"\"\n"}, {".irp x,", "1,", "1\nnop\n.endr\n"}, {".macro m a", ",a", "\n.endm\n"},
	{"", "\n", ""}, {"", "q\n", ""}, {"", "nop\n", ""}, {"", "1:b 1b\n", ""}, {"", "b x\n", ""}, {"", "it eq\nnopeq\n", ""}, {"", "push {r0,r1}\n", ""},
	{"", "L%d:\n", ""}, {"", "L%d:b L%d\n", ""}, {"", "b x%d\n", ""}, {"", "ldr r0,=%d\n", ""}, {"", "ldr r0,=x%d\n", ""}, {"", ".equ a%d,1\n", ""},
	{"", ".global a%d\n", ""}, {"", ".section s%d\n", ""}, {"", ".macro m%d\n.endm\n", ""}, {".macro m\n.endm\n", "m\n", ""}, {".macro m\nnop\n.endm\n", "m\n", ""},
	{".macro m a\nb \\a\n.endm\n", "m x%d\n", ""}, {"", ".rept 1\n.endr\n", ""}, {"", ".rept 2;nop;.endr\n", ""}, {"", ".rept 1\nb x%d\n.endr\n", ""},
	{"", ".include \"\"\n", ""}, {"", "/**/\n", ""}, {"", "x .req r0\n", ""}, {"", "x%d .req r0\n", ""}, {"", ".cfi_startproc\n.cfi_endproc\n", ""},
}

// TestMemory holds what the bounds of a text and of a program rest on: so many bytes
// for each part of a text, and so many for each item of a program. The bounds times
// these are the memory that one analysis can hold.
func TestMemory(t *testing.T) {
	const (
		aPart   = 72
		anItem  = 130
		bounded = syntax.MaxParts*aPart + assemble.MaxSize*anItem
	)
	if bounded > 1000<<20 {
		t.Errorf("a program may take %d MB", bounded>>20)
	}
	proof := reftest.Begin(t)
	cases := reftest.Sample(dense, 12)
	for _, tt := range cases {
		var b strings.Builder
		b.WriteString("\t.syntax unified\n\t.thumb\n" + tt.before)
		for i := 0; b.Len() < 200_000; i++ {
			b.WriteString(strings.ReplaceAll(tt.piece, "%d", fmt.Sprint(i)))
		}
		text := b.String() + tt.after
		empty := live()
		f := syntax.Parse(text)
		f.NumStmts() // all of it is read
		parsed := live()
		r, err := Analyze(context.Background(), &Input{Path: "root.s", File: f, Set: &Settings{}})
		if err != nil {
			t.Fatal(err)
		}
		analysed := live()
		p := r.prog
		size := cap(p.Items) + 3*len(p.Symbols) + 2*(len(p.Sources)+len(p.Literals)+len(p.Sections)+len(p.Macros))
		for _, l := range p.Locals {
			size += 3 * len(l)
		}
		parts := f.Parts()
		counted := map[*syntax.File]bool{f: true}
		for i := range p.Sources { // the text that macros make
			if g := p.Sources[i].File; !counted[g] {
				counted[g] = true
				parts += g.Parts()
			}
		}
		// A finding takes some hundred bytes, and there are not many.
		if got, want := analysed-empty, aPart*parts+anItem*size+700*len(r.diags)+1<<20; got > want {
			t.Errorf("%q: %d parts and %d items take %d bytes, more than %d", tt.piece, parts, size, got, want)
		}
		if got := (parsed - empty) / f.Parts(); got > aPart {
			t.Errorf("%q: %d bytes for each part of the text", tt.piece, got)
		}
		runtime.KeepAlive(r)
	}
	proof.Counted("dense texts: %d of %d; a program may take %d MB", len(cases), len(dense), bounded>>20)
}

// live is how many bytes of the heap are in use.
func live() int {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}

// TestLeftOut holds that what is too large is looked at up to the bound, with a finding
// that says so, and without any that depends on what is left out.
func TestLeftOut(t *testing.T) {
	const probe = "\tmovs r0, #300\n"
	few := strings.Repeat("\tnop\n", 1000)
	for _, tt := range reftest.Sample([]struct{ name, text string }{
		{"lines", ".macro m\nnop\n.endm\n.if 1\nb far\n" + probe + strings.Repeat("1:\n", syntax.MaxParts/9) + "far: m\n.endif\n"},
		{"one line", ".if 1\nb far\n" + probe + strings.Repeat("1:", syntax.MaxParts/8) + "\nfar: q\n.endif\n"},
		{"symbols", ".if 1\nb far\n" + probe + manyLines(assemble.MaxSize/4, "l%d=0\n") + "far: q\n.endif\n"},
		{"a body", probe + few + ".macro m\n" + strings.Repeat("1:\n", syntax.MaxParts/9) + ".endm\n"},
	}, 4) {
		text := "\t.syntax unified\n\t.thumb\n" + tt.text
		f := syntax.Parse(text)
		r, err := Analyze(context.Background(), &Input{Path: "root.s", File: f, Set: &Settings{}})
		if err != nil {
			t.Fatal(err)
		}
		probed, said := false, false
		for _, d := range r.Each() {
			switch d.Code {
			case finding.CodeConstRange:
				probed = true
			case finding.CodeMacroSize:
				said = true
			default:
				t.Errorf("%s: %s: %s", tt.name, d.Code, d.Message)
			}
		}
		if !probed || !said {
			t.Errorf("%s: the beginning is looked at: %v; it is said that some is left out: %v", tt.name, probed, said)
		}
		if g := f.Edit(0, 0, "@\n"); g.Cut() >= 0 && g.Cut() != f.Cut()+1 && g.Cut() != f.Cut() {
			t.Errorf("%s: after an edit line %d is left out, before %d", tt.name, g.Cut(), f.Cut())
		}
		sameFile(t, tt.name, f.Edit(len(text)/2, len(text), ""), syntax.Parse(text[:len(text)/2]))
	}
}

func sameFile(t *testing.T, name string, a, b *syntax.File) {
	t.Helper()
	if a.NumLines() != b.NumLines() || a.NumStmts() != b.NumStmts() || a.Parts() != b.Parts() || a.Cut() != b.Cut() {
		t.Errorf("%s: an edit gives %d lines, %d statements, %d parts, cut at %d; want %d, %d, %d, %d", name,
			a.NumLines(), a.NumStmts(), a.Parts(), a.Cut(), b.NumLines(), b.NumStmts(), b.Parts(), b.Cut())
	}
}
