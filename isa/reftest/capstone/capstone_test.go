package capstone

import (
	"slices"
	"testing"

	"narrowgauge/isa/reftest"
)

// Encodings after the Arm ARM's diagrams (from memory), with what is around
// them.
func TestKnownEncodings(t *testing.T) {
	for _, c := range []struct {
		mode Mode
		code []byte
		want []reftest.Inst
	}{
		{Mode{Thumb: true}, []byte{0x01, 0x20, 0x00, 0xf0, 0x02, 0xf8, 0xd1, 0x87}, []reftest.Inst{
			{Offset: 0, Size: 2, Text: "movs r0, #1"},
			{Offset: 2, Size: 4, Text: "bl .+8"},
			{Offset: 6, Size: 2, Text: "strh r1, [r2, #62]"},
		}},
		{Mode{}, []byte{0x01, 0x00, 0xa0, 0xe3, 0xfc, 0xff, 0xff, 0xea, 0xb2, 0x90, 0xdb, 0xe1}, []reftest.Inst{
			{Offset: 0, Size: 4, Text: "mov r0, #1"},
			{Offset: 4, Size: 4, Text: "b .-8"},
			{Offset: 8, Size: 4, Text: "ldrh r9, [r11, #2]"},
		}},
		// 0xba80 has no instruction before ARMv8 (Arm ARM, "Miscellaneous
		// 16-bit instructions").
		{Mode{Thumb: true}, []byte{0x80, 0xba, 0x01, 0x20, 0x00}, []reftest.Inst{
			{Offset: 0, Size: 2, Undefined: true},
			{Offset: 2, Size: 2, Text: "movs r0, #1"},
			{Offset: 4, Size: 1, Undefined: true},
		}},
		{Mode{}, nil, nil},
	} {
		if got := Disassemble(t, c.mode, c.code); !slices.Equal(got, c.want) {
			t.Errorf("%+v % x: %+v, want %+v", c.mode, c.code, got, c.want)
		}
	}
}

// The modes as the package's documentation describes them.
func TestRestriction(t *testing.T) {
	for _, c := range []struct {
		text       string
		code       []byte
		a32, t32   bool
		m, v8, v8t bool
	}{
		{"rev r0, r1", []byte{0x08, 0xba}, false, true, true, false, true},
		{"cbz r0, .+4", []byte{0x00, 0xb1}, false, true, true, false, true},
		{"setend le", []byte{0x50, 0xb6}, false, true, false, false, true},
		{"hlt #0", []byte{0x80, 0xba}, false, false, false, false, true},
		{"movw r0, #1", []byte{0x01, 0x00, 0x00, 0xe3}, true, false, false, true, false},
	} {
		for mode, want := range map[Mode]bool{
			{}: c.a32, {Thumb: true}: c.t32, {Thumb: true, MClass: true}: c.m, {V8: true}: c.v8, {Thumb: true, V8: true}: c.v8t,
		} {
			in := Disassemble(t, mode, c.code)
			if got := len(in) == 1 && in[0].Text == c.text; got != want {
				t.Errorf("%s, %+v: %+v", c.text, mode, in)
			}
		}
	}
}

// Single halfwords, with one that would swallow the next and an IT.
func TestEach16(t *testing.T) {
	words := []uint16{0xbf08, 0x1888, 0xeb00, 0x1888}
	in := reftest.Each16(t, words, func(code []byte) []reftest.Inst { return Disassemble(t, Mode{Thumb: true}, code) })
	if in[0].Text != "it eq" || in[1].Text != "adds r0, r1, r2" || in[2].Size != 4 || in[3].Text != "adds r0, r1, r2" || in[3].Offset != 6 {
		t.Errorf("%+v", in)
	}
}
