package isa_test

import (
	"testing"

	"narrowgauge/isa"
)

// TestArithmetic holds what operations of data processing do with plain registers, as
// their pseudocode has it (DDI 0406, "Alphabetical list of instructions"; for MUL, whose C
// is unknown before ARMv5, DDI 0100).
func TestArithmetic(t *testing.T) {
	type of = isa.Arithmetic
	for name, want := range map[string]of{
		"cmp": {Flags: isa.NZCV, Compares: true},
		"cmn": {Flags: isa.NZCV, Compares: true, Commutes: true},
		"tst": {Flags: isa.NZ, Compares: true, Commutes: true},
		"teq": {Flags: isa.NZ, Compares: true, Commutes: true},
		"add": {Flags: isa.NZCV, Commutes: true},
		"sub": {Flags: isa.NZCV},
		"rsb": {Flags: isa.NZCV},
		"neg": {Flags: isa.NZCV},
		"adc": {Flags: isa.NZCV, Commutes: true, Carries: true},
		"sbc": {Flags: isa.NZCV, Carries: true},
		"rsc": {Flags: isa.NZCV, Carries: true},
		"lsl": {Flags: isa.NZC, Scales: true},
		"lsr": {Flags: isa.NZC},
		"asr": {Flags: isa.NZC},
		"ror": {Flags: isa.NZC},
		"rrx": {Flags: isa.NZC, Carries: true},
		"mov": {Flags: isa.NZ},
		"mvn": {Flags: isa.NZ},
		"and": {Flags: isa.NZ, Commutes: true},
		"orr": {Flags: isa.NZ, Commutes: true},
		"eor": {Flags: isa.NZ, Commutes: true},
		"bic": {Flags: isa.NZ},
		"orn": {Flags: isa.NZ},
		"mul": {Flags: isa.NZ, Commutes: true, Scales: true},
	} {
		for range 2 { // found out, and known
			if got, ok := isa.ArithmeticOf(name); !ok || got != want {
				t.Errorf("%s: %+v, %v, want %+v", name, got, ok, want)
			}
		}
	}
	// Without flags, with memory, with somewhere to go, with a condition or the letter in
	// the name, and no name at all.
	for _, name := range []string{"movw", "uxtb", "clz", "sdiv", "usad8", "qadd", "mls", "ldr", "str", "push", "adr", "b", "bx", "svc", "nop", "it", "msr", "mrs", "vadd", "vcmp", "adds", "addeq", "points", ""} {
		if got, ok := isa.ArithmeticOf(name); ok {
			t.Errorf("%s: %+v", name, got)
		}
	}
}
