package analysis

import (
	"context"
	"testing"

	"narrowgauge/analysis/syntax"
)

// TestOperandless follows programs in which an instruction without operands writes a register, as
// NOP of A32 code does before ARMv6K, where it is MOV r0, r0, and a jump depends on that register.
func TestOperandless(t *testing.T) {
	for _, text := range []string{
		"nop\nadd pc, r0\n",
		"nop\nadd pc, pc, r0\nb 1f\nb 1f\nb 1f\n1: bx lr\n",
		"cmp r0, #3\nnop\naddls pc, pc, r0, lsl #2\nb 1f\nb 1f\nb 1f\nb 1f\n1: bx lr\n",
		"cmp r0, #3\nnop\nldrls pc, [pc, r0, lsl #2]\nb 1f\n.word 1f, 1f\n1: bx lr\n",
	} {
		r, err := Analyze(context.Background(), &Input{Path: "box.s", File: syntax.Parse(text)})
		if err != nil {
			t.Fatal(err)
		}
		r.Diagnostics() // which follows the way of execution
		if n := len(r.prog.Items); n < 2 || r.prog.Items[n-1].Match.Form == nil {
			t.Errorf("%q cannot be assembled", text)
		}
	}
}
