package analysis

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// BenchmarkComplete lists what may be written where 5,000 labels may: all of them, those that
// begin with some letters, and the names of instructions. The aim is 20 ms.
func BenchmarkComplete(b *testing.B) {
	var text strings.Builder
	text.WriteString("\t.cpu cortex-m0\n\t.syntax unified\n\t.thumb\n")
	for i := range 5000 {
		fmt.Fprintf(&text, "signal_%d:\n\tmovs r0, #%d\n\tbx lr\n", i, i%256)
	}
	before := text.String()
	for _, tt := range []struct{ name, line string }{{"labels", "\tbl "}, {"some", "\tbl signal_49"}, {"instructions", "\t"}} {
		r, err := Analyze(context.Background(), &Input{Path: "a.s", File: syntax.Parse(before + tt.line + "\n")})
		if err != nil {
			b.Fatal(err)
		}
		at := len(before) + len(tt.line)
		b.Run(tt.name, func(b *testing.B) {
			for b.Loop() {
				if list, _ := r.CompletionsIn("a.s", at); len(list) == 0 {
					b.Fatal("nothing")
				}
			}
		})
	}
}
