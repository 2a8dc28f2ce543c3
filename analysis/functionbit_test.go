package analysis

import (
	"encoding/binary"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa/reftest"
)

// TestFunctionBit checks the address that ADR takes of a T16 function, whose bit 0
// assemblers set in T32 code, against the assembler's code, and that BX through it is
// no finding where the bit is set.
func TestFunctionBit(t *testing.T) {
	for _, c := range []struct {
		text string
		line int  // of the ADR, from 0
		warn bool // BX through it would change the state
	}{
		{"adr r1, g|bx r1|.align 2|.thumb_func|g: nop", 0, false},
		{"adr r1, g|bx r1|.align 2|g: nop", 0, true},
		{"adr r1, g|bx r1|.align 2|.type g, %function|g: nop", 0, false},
		{"adr r1, g+1|bx r1|.align 2|.thumb_func|g: nop", 0, false},
		{"adr r1, g+2|bx r1|.align 2|.thumb_func|g: nop|nop", 0, false},
		{"adr.w r1, g|bx r1|.align 2|.thumb_func|g: nop", 0, true},
		{"adr r9, g|bx r9|.align 2|.thumb_func|g: nop", 0, true},
		{".thumb_func|g: nop|adr r1, g|bx r1", 2, false},
		{".thumb_func|g: nop|adr r1, g+1|bx r1", 2, false},
		{".thumb_func|g: nop|adr.w r1, g|bx r1", 2, false},
		{".thumb_func|g: nop|adr.w r9, g|bx r9", 2, false},
		{".thumb_func|g: nop|adr.w r9, g+1|bx r9", 2, true},
		{".set k, g|adr r1, k|nop|.align 2|.thumb_func|g: nop", 1, false},
		{".thumb_func|1: nop|adr r1, 1b|nop", 2, false},
		{".thumb_func|g: nop|it eq|adreq r1, g|nop", 3, false},
		{"nop|it eq|adreq r1, g|nop|.thumb_func|g: nop", 2, false},
	} {
		text := "\t.arch armv7-m\n\t.syntax unified\n\t.thumb\n" + strings.ReplaceAll(c.text, "|", "\n") + "\n"
		r := analyze(t, nil, text)
		warned := false
		for _, d := range r.Each() {
			warned = warned || d.Code == finding.CodeStateBit
		}
		if warned != c.warn {
			t.Errorf("%s: warned %v", c.text, warned)
		}
		it := r.prog.ItemIn(0, r.in.File.LineStart(c.line+3)+2)
		out := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-m", Thumb: true}, text)
		code := out.Sections[".text"][it.Offset:]
		want := uint32(binary.LittleEndian.Uint16(code))
		if it.Size == 4 {
			want = want<<16 | uint32(binary.LittleEndian.Uint16(code[2:]))
		}
		if got := it.Match.Encode(); got != want {
			t.Errorf("%s: %x, and the assembler has %x", c.text, got, want)
		}
	}
}
