// Package exec carries out instructions, one by one, on a state of a core: its
// registers and flags, its instruction set, its memory. What an instruction does is
// in its row of package isa (Row.Does, for which isa.Row.Described says true);
// here is what a core has besides: conditions and IT blocks, where a write of pc
// goes, what an address has to be a multiple of.
//
//	s := exec.State{Set: isa.T, Have: have, Mem: exec.NewSparse(nil)}
//	s.Regs[1], s.Regs[15] = 40, 0x8000
//	in, _ := isa.Decode(have, 0x1c88, 0) // adds r0, r1, #2
//	r := exec.Step(in.Values(), &s)
//	// r.End == exec.Done, s.Regs[0] == 42, s.Regs[15] == 0x8002
//
// It is a pure function of the state: it needs no operating system, keeps nothing and
// changes nothing else. A state is for one goroutine at a time.
//
// # What is modelled
//
// One core, in a mode with the usual rights and one bank of registers, of the
// architecture that the features of the state say. Cores up to ARMv5 rotate what
// they load from a misaligned address (DDI 0100I, A2.8 and A4, "LDR"); ARMv6 is
// taken with U = 1, ARMv7 and later with alignment checking off (SCTLR.A or
// CCR.UNALIGN_TRP = 0; DDI 0406C, A3.2.1; DDI 0403E, A3.2.1); ARMv6-M and the
// baseline of ARMv8-M fault (DDI 0419, A3.2). M profile is in Thread mode.
// Exceptions are not entered: Step says that one is raised. LDRD and STRD are two words
// also on ARMv5TE, where an address that is no multiple of 8 is unpredictable. Not
// described yet are coprocessors, banked registers, SRS, RFE of T32, the Security
// Extension of ARMv8-M, floating point and vectors.
//
// # How it is shown to be right
//
// TestUnicorn runs each row from random and from boundary states here and on an
// emulator, and compares registers, flags, memory, where it goes on and in which
// instruction set. What the two differ in is in a list with the manual's section;
// rows that the emulator cannot run are in another, with the reason. TestUserMode runs
// those of them that an emulator of programs can.
package exec
