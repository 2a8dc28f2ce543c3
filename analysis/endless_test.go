package analysis

import (
	"context"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// TestEndlessLayout compares the verdict on sizes that depend on themselves: the
// assembler gives up where no round is the last one.
func TestEndlessLayout(t *testing.T) {
	for _, text := range []string{
		"a: .space b-a\nnop\nb:\n",
		"a: .space b-a+1\nb:\n",
		"a: .space (b-a)*2+1\nb:\n",
		"a: .space 2-(b-a)\nb:\n",
		"a: .space 3-(b-a)\nnop\nb:\n",
		"a: .space c-a\nb: .space b-a+1\nc:\n",
		"l: b m\n.space m-l\nm:\n",
		"a: .space 1-(b-a)\n.balign 4\nb:\n",
		"a: .space 0x20-(b-a)\n.balign 4\n b c\nb: .space 2000\nc:\n",
		".uleb128 b-a\na: .space b-a\nb:\n",
		"a: .space b-a\nb:\n",
		".org b+1\nb:\n",
		"b b\n.org b+1\nb:\n",
		"a: .uleb128 b-a\n.space 127\nb:\n",
	} {
		r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(text), Set: &Settings{Arch: "armv7-m", Syntax: "unified"}})
		if err != nil {
			t.Fatal(err)
		}
		refused := false
		for _, d := range r.Each() {
			refused = refused || d.Severity == finding.Error
		}
		if ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-m", Unified: true, Thumb: true}, text); ref.OK == refused {
			t.Errorf("%q: assembles %v, findings %+v", text, ref.OK, r.Each())
		}
	}
}
