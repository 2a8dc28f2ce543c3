package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// plainItemAt is Program.ItemAtColumn without a search: all items are looked at.
func plainItemAt(p *program.Program, line int, col int32) (best *program.Item) {
	for i := range p.Items {
		it := &p.Items[i]
		if it.File != 0 || int(it.Line) != line || it.Stmt.Directive == syntax.AutoAlign {
			continue
		}
		if it.Stmt.Start <= col && col <= it.Stmt.End && (best == nil || best.Stmt.Kind == syntax.Label) {
			best = it
		}
	}
	return best
}

// TestItemAtColumn holds that the statement at each place of a text is found, in lines with
// many statements, calls of macros, repetitions and what nobody wrote.
func TestItemAtColumn(t *testing.T) {
	for _, text := range []string{
		"\t.syntax unified\n\t.thumb\n\tnop" + strings.Repeat("; a b; nop", 60) + "\n\tbx lr\n",
		"a: b: c: nop; d: nop; e:\n f: .word 1; .word 2; g:\n\n",
		".macro two x\n nop; \\x: nop\n.endm\n two p; two q; two r\n nop; two s; nop; two t\nend: nop\n",
		".rept 3; nop; .word 1; .endr; nop; .rept 2\n nop; nop\n.endr; .byte 1\n",
		"        AREA p, CODE\na       DCB 1\nb       DCD 2\n        DCB 3\nc       NOP\n        END\n",
		".irp r, r0, r1; movs \\r, #1; .endr; lamp: b lamp\n",
	} {
		r, err := Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text)})
		if err != nil {
			t.Fatal(err)
		}
		f := r.in.File
		found := 0
		for line := range f.NumLines() {
			for col := range len(f.Line(line).Text) + 2 {
				got, want := r.prog.ItemAtColumn(0, line, int32(col)), plainItemAt(r.prog, line, int32(col))
				if got != want {
					t.Fatalf("%q: at %d:%d is %+v, want %+v", text, line, col, got, want)
				}
				if got != nil {
					found++
				}
			}
		}
		if found == 0 {
			t.Errorf("%q: nothing is found", text)
		}
	}
}
