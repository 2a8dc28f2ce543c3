package syntax

import (
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"narrowgauge/isa/reftest"
)

// TestEnds checks that reading ends, whatever is where an operand, an
// argument or a value is expected: every pair of tokens in a row after every
// kind of statement, in every dialect. A reader that stays where it is, or that
// tries both ways at each bracket, does not come back; the watchdog then names
// the line.
func TestEnds(t *testing.T) {
	tokens := strings.Fields(`( [ { ) ] } - ~ ! + * << : # = , " ' \ $ % | & x 1 1b 0x . @ /* */ // ; ^ ? < > == ||
		:lower16: :LNOT: :DEF: :CHR: lsl r0 r0, pc / a: 1: \@ \x \() q0 d0[ {r0- {d0[ x( .req 1.5e nop [r0 [r0, %f %ta |x| 0f $x. é`)
	heads := []string{"", "x ", "\tldr r0, ", "\tldr r0, =", "\tldr r0, [r1, ", "\tpush {", "\tmov r0, #", "\tb ", "\t.word ", "\t.if ",
		"\t.macro ", "\t.ascii ", "\t.rept ", "x = ", "x EQU ", "\tIF ", "\tDCD ", "\tDCB ", "x SETS ", "\tvmov d0, ", "\tvld1.8 ", "x .req ",
		"\tAREA ", "\t.section ", "\tadd r0, r1, r2, ", "\tMACRO\n", "\tWHILE ", "\t.irp x,", "\tmsr ", "\t.save {", "\t.include ", "\t.error "}
	every := reftest.Size(5, 1, 1)
	var now atomic.Pointer[string]
	dog := time.AfterFunc(2*time.Minute, func() { panic("reading does not end: " + *now.Load()) })
	defer dog.Stop()
	proof := reftest.Begin(t)
	n := 0
	for k, head := range heads {
		for i, a := range tokens {
			for j, b := range tokens {
				if (i+j+k)%every != 0 {
					continue
				}
				text := head + strings.Repeat(a+b, 20)
				now.Store(&text)
				for d := Dots; d <= Columns; d++ {
					check(t, ParseAs(text, d), text)
					n++
				}
			}
		}
	}
	proof.Counted("ends: %d texts read to theirs", n)
}

// TestMildGivesWay checks that what assemblers only warn about does not hide
// what they refuse.
func TestMildGivesWay(t *testing.T) {
	for _, text := range []string{"\t.word 0x, [", "\t.ascii 0x[", "\t.word 1+, )"} {
		s := Parse(text).Line(0).Stmts[0]
		if s.Err == nil || s.Err.Mild {
			t.Errorf("%q: %+v, want an error", text, s.Err)
		}
	}
}
