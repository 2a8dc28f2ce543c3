package analysis

import (
	"context"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// FuzzAnalyze checks what every result promises: no panic, findings and
// answers inside the file, and an answer within bounded time.
func FuzzAnalyze(f *testing.F) {
	sets := []*Settings{nil, {StartMode: "thumb"}, {Arch: "armv6-m", Syntax: "unified"}, {CPU: "cortex-m4", Syntax: "unified"}, {Arch: "armv5te", StartMode: "thumb"},
		{Dialect: "columns", CPU: "cortex-m3"}, {Dialect: "semicolon", AlignUnit: "bytes", WordBytes: "2"},
		{CPU: "cortex-m3", Syntax: "unified", Preprocess: "always", Defines: []string{"F(x)=x x", "G=F"}}, {Dialect: "columns", CPU: "cortex-m0", Preprocess: "always"}}
	for i := range finding.Registry {
		f.Add(finding.Registry[i].Bad, 0)
		f.Add(finding.Registry[i].Good, 1)
	}
	// Without -fuzz these are tests; others put the same sources to the assembler.
	for _, l := range reftest.Sample(oddLines, 5) {
		f.Add(".thumb\n"+l, 2)
	}
	for _, l := range reftest.Sample(oddMacros, 5) {
		f.Add(strings.ReplaceAll(l, "|", "\n"), 0)
	}
	f.Add(".space 0x7fffffff\n.space 0x7fffffff\n.org 0xffffffffffff\n.align 31\nb x\nx:\n", 3)
	f.Add(".include \"a\"\n.include \"b\"\n", 4)
	for _, c := range columnFiles {
		f.Add(c.text, 5)
		for _, l := range reftest.Sample(strings.SplitAfter(c.text, "\n"), 5) {
			f.Add("\tAREA x, CODE\n"+l, 5)
		}
	}
	add := func(text string, which int) {
		// What goes on to a bound takes too long for a fuzzer.
		if !strings.Contains(text, "00\n") && !strings.Contains(text, "WHILE {TRUE}") && !strings.Contains(text, "$p$p") {
			f.Add(text, which)
		}
	}
	for k, g := range reftest.Sample(grown, 5) {
		add("\t.thumb\n"+grow(g, 3), k%4)
		add("#define F(x) x F(x\n#define G F\n"+strings.Replace(grow(g, 3), "\n", "\n#include \"self.S\"\n", 1)+"F(G\n)", 7)
	}
	for _, g := range reftest.Sample(grownColumns, 5) {
		add("\tAREA x, CODE\n"+grow(g, 3), 5)
	}
	f.Add("; lamps of the box\n; more\n\t.thumb\nl\tmovs r0, #1\nm\n\t.macro x\n\tnop ; c\n\t.endm\n\tx ; d\n", 6)
	f.Fuzz(func(t *testing.T, text string, which int) {
		file := syntax.Parse(text)
		load := func(w assemble.Wanted) (string, *syntax.File, bool) { return "self.s", file, len(w.Name) > 0 }
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		r, err := Analyze(ctx, &Input{Path: "self.s", File: file, Set: sets[(which&0xff)%len(sets)], Load: load})
		if err != nil {
			t.Fatal(err)
		}
		inside := func(s finding.Span, what string) {
			if s.Start < 0 || s.End < s.Start || s.End > len(text) {
				t.Fatalf("%s at %v in a file of %d bytes", what, s, len(text))
			}
		}
		for _, d := range r.Each() {
			inside(d.Span, d.Code)
			if finding.ByCode(d.Code) == nil {
				t.Fatalf("the code %s is not registered", d.Code)
			}
			for _, x := range d.Related {
				inside(x.Span, "related to "+d.Code)
			}
		}
		for off := 0; off <= len(text) && off < 200; off++ {
			if h, ok := r.Hover(off); ok {
				inside(h.Span, "hover")
			}
			for _, l := range r.Definition(off) {
				inside(l.Span, "definition")
			}
			for _, l := range r.References(off) {
				inside(l.Span, "reference")
			}
		}
		for _, s := range r.Symbols() {
			inside(s.Full, "symbol")
			inside(s.NameSpan, "name of symbol")
		}
		r.Regions()
		if len(text) < 400 && len(r.diags) < 5 {
			for _, a := range r.Actions(ctx, finding.Span{Start: 0, End: len(text)}) {
				for _, e := range a.Edits {
					inside(e.Span, a.Rewrite)
				}
			}
		}
	})
}
