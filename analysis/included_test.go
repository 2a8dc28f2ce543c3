package analysis

import (
	"context"
	"reflect"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

const includedSource = featureSource + `
	.thumb
	.macro lamp n, m=2
	movs r0, #\n
	adds r0, #\m
	.endm
aspects:
	lamp 1
	lamp 300, 4
	.rept 3
	adds r1, #2
	beq 2f
2:
	.endr
	.irp reg, r0, r2
	movs \reg, #LAMP
	.endr
	.include "deep.inc"
	b aspects
	.if LAMP > 3
	bl deep
	.else
	bl nowhere
	.endif
	lamp 3
`

// TestIncludedFeatures holds that a file knows the same of itself, whether it
// is the root or included.
func TestIncludedFeatures(t *testing.T) {
	in := includedSource
	load := func(w assemble.Wanted) (string, *syntax.File, bool) {
		switch w.Name {
		case "box.s":
			return "lib/box.s", syntax.Parse(in), true
		case "deep.inc":
			return "deep.inc", syntax.Parse("deep:\n\tmovs r0, #LAMP\n\tlamp 9\n\tbx lr\n"), true
		}
		return "", nil, false
	}
	analyze := func(path, text string) *Result {
		r, err := Analyze(context.Background(), &Input{Path: path, File: syntax.Parse(text), Load: load})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	alone := analyze("lib/box.s", in)
	part := analyze("main.s", "\t.global ring\n\t.include \"box.s\"\n\t.thumb\n\tbl ring\n\tlamp 5\n\t.include \"none\"\n")
	plain := func(list []finding.Location, path string) (out []finding.Location) {
		for _, l := range list {
			if l.Path != path { // what the other files add
				out = append(out, l)
			}
		}
		return out
	}
	hovers, places := 0, 0
	for off := -1; off <= len(in)+1; off++ {
		a, okA := alone.Hover(off)
		b, okB := part.HoverIn("lib/box.s", off)
		if okA {
			hovers++
		}
		if at := max(off, 0); okA != okB || a.Span != b.Span {
			t.Fatalf("at %d, %.20q: %v %+v, as a part %v %+v", off, in[min(at, len(in)):], okA, a, okB, b)
		}
		x, y := alone.Definition(off), part.DefinitionIn("lib/box.s", off)
		places += len(x)
		if !reflect.DeepEqual(x, y) {
			t.Fatalf("at %d: %v, as a part %v", off, x, y)
		}
		if x, y := alone.References(off), part.ReferencesIn("lib/box.s", off); !reflect.DeepEqual(plain(x, "main.s"), plain(y, "main.s")) {
			t.Fatalf("references at %d: %v, as a part %v", off, x, y)
		}
	}
	if hovers < 100 || places < 50 {
		t.Errorf("only %d hovers and %d definitions", hovers, places)
	}
	names := func(list []describe.DocSymbol) (out []string) {
		for _, s := range list {
			out = append(out, s.Name)
		}
		return out
	}
	if a, b := names(alone.Symbols()), names(part.SymbolsIn("lib/box.s")); !reflect.DeepEqual(a, b) || len(a) < 6 {
		t.Errorf("outline %q, as a part %q", a, b)
	}
	if h, ok := part.HoverIn("no-such.s", 3); ok {
		t.Errorf("%+v", h)
	}
	if s := part.SymbolsIn("no-such.s"); s != nil {
		t.Errorf("%+v", s)
	}
	// From the root into the part, and through it.
	if l := part.DefinitionIn("deep.inc", len("deep:\n\tmovs r0, #L")); len(l) != 1 || l[0].Path != "lib/box.s" {
		t.Errorf("%v", l)
	}
}
