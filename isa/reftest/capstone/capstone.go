// Package capstone decodes A32 and Thumb code with the Capstone library, for
// tests. It links the library (Debian: libcapstone-dev) only with the build
// tag reftools; without the tag [Disassemble] counts as a missing tool.
//
// Capstone 4.0.2 has no mode for one architecture version: A32 code is decoded
// as ARMv7-A, or ARMv8-A with V8; Thumb code as T32 of ARMv7-A, or of the M
// profile (ARMv7-M) with MClass. Code that an older core doesn't have decodes
// all the same.
package capstone

import (
	"testing"

	"narrowgauge/isa/reftest"
)

// Mode selects what Capstone decodes.
type Mode struct {
	Thumb  bool // T16 and T32; otherwise A32
	MClass bool // M profile; with Thumb
	V8     bool // with the instructions of ARMv8
}

// Disassemble decodes little-endian code. What Capstone refuses becomes an
// undefined Inst of one halfword in Thumb code and of one word in A32 code.
func Disassemble(t testing.TB, mode Mode, code []byte) []reftest.Inst {
	t.Helper()
	reftest.Need(t, Built, "Capstone (build tag reftools)")
	insts, err := disassemble(mode, code)
	if err != nil {
		t.Fatalf("capstone: %v", err)
	}
	return insts
}
