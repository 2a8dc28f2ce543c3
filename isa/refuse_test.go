package isa_test

import (
	"fmt"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// refusals are statements that no form takes, with what a person would say is
// wrong: why, at which operand (counted from 0, -1 for the whole), at which
// part of it, and the limits where there are some.
var refusals = []struct {
	arch    string
	unified bool
	text    string
	reason  isa.Reason
	op      int
	part    isa.Part
	lo, hi  int64
}{
	// Constants.
	{"armv4t", true, "movs r0, #256", isa.TooLarge, 1, 0, 0, 255},
	{"armv4t", true, "movs r0, #-1", isa.Negative, 1, 0, 0, 255},
	{"armv4t", false, "mov r0, #300", isa.TooLarge, 1, 0, 0, 255},
	{"armv4t", true, "cmp r0, #256", isa.TooLarge, 1, 0, 0, 255},
	{"armv4t", true, "cmp r0, #-1", isa.Negative, 1, 0, 0, 255},
	{"armv4t", true, "adds r0, r1, #9", isa.TooLarge, 2, 0, 0, 7},
	{"armv4t", true, "subs r0, r1, #8", isa.TooLarge, 2, 0, 0, 7},
	{"armv4t", false, "add r0, r1, #9", isa.TooLarge, 2, 0, 0, 7},
	{"armv4t", true, "adds r0, #256", isa.TooLarge, 1, 0, 0, 255},
	{"armv4t", true, "adds r0, r0, #256", isa.TooLarge, 2, 0, 0, 255},
	{"armv4t", true, "subs r3, #1000", isa.TooLarge, 1, 0, 0, 255},
	{"armv4t", true, "lsls r0, r1, #32", isa.TooLarge, 2, 0, 0, 31},
	{"armv4t", true, "lsrs r0, r1, #33", isa.TooLarge, 2, 0, 1, 32},
	{"armv4t", true, "asrs r0, r1, #40", isa.TooLarge, 2, 0, 1, 32},
	{"armv4t", true, "lsls r0, r1, #-1", isa.Negative, 2, 0, 0, 31},
	{"armv4t", true, "sub sp, #512", isa.TooLarge, 1, 0, 0, 508},
	{"armv4t", true, "sub sp, #6", isa.Misaligned, 1, 0, 0, 508},
	{"armv4t", true, "add sp, sp, #3", isa.Misaligned, 2, 0, 0, 508},
	{"armv4t", true, "add r0, sp, #1024", isa.TooLarge, 2, 0, 0, 1020},
	{"armv4t", true, "add r0, sp, #2", isa.Misaligned, 2, 0, 0, 1020},
	{"armv4t", true, "movs r0, r1, lsl #40", isa.TooLarge, 2, isa.PartShift, 0, 31},
	{"armv4t", true, "ldm r0!, {r0}", isa.NoWriteback, 0, 0, 0, 0},
	{"armv4t", true, "svc #256", isa.TooLarge, 0, 0, 0, 255},
	{"armv5te", true, "bkpt #256", isa.TooLarge, 0, 0, 0, 255},
	{"armv4t", false, "mov r0, 5", isa.NoHash, 1, 0, 0, 0},
	{"armv4t", false, "add r0, r1, 5", isa.NoHash, 2, 0, 0, 0},
	{"armv4t", false, "ldr r0, [r1, 4]", isa.NoHash, 1, isa.PartOffset, 0, 0},
	// Offsets.
	{"armv4t", true, "ldr r0, [r1, #128]", isa.TooLarge, 1, isa.PartOffset, 0, 124},
	{"armv4t", true, "ldr r0, [r1, #2]", isa.Misaligned, 1, isa.PartOffset, 0, 124},
	{"armv4t", true, "ldr r0, [r1, #-4]", isa.Negative, 1, isa.PartOffset, 0, 124},
	{"armv4t", true, "ldrb r0, [r1, #32]", isa.TooLarge, 1, isa.PartOffset, 0, 31},
	{"armv4t", true, "strh r0, [r1, #64]", isa.TooLarge, 1, isa.PartOffset, 0, 62},
	{"armv4t", true, "strh r0, [r1, #3]", isa.Misaligned, 1, isa.PartOffset, 0, 62},
	{"armv4t", true, "ldr r0, [sp, #1024]", isa.TooLarge, 1, isa.PartOffset, 0, 1020},
	{"armv4t", true, "ldr r0, [pc, #-4]", isa.Negative, 1, isa.PartOffset, 0, 1020},
	{"armv4t", true, "ldrsb r0, [r1, #1]", isa.OtherKind, 1, isa.PartOffset, 0, 0},
	{"armv4t", true, "ldrsh r0, [r1]", isa.OtherKind, 1, isa.PartOffset, 0, 0},
	{"armv4t", true, "ldr r0, [r1, r2, lsl #2]", isa.OtherKind, 1, isa.PartOffset, 0, 0},
	{"armv4t", true, "ldr r0, [r1], #4", isa.NoWriteback, 1, isa.PartOffset, 0, 0},
	{"armv4t", true, "ldr r0, [r1, #4]!", isa.NoWriteback, 1, isa.PartOffset, 0, 0},
	{"armv4t", true, "ldr r0, [r8, #4]", isa.HighReg, 1, isa.PartBase, 0, 0},
	{"armv4t", true, "ldr r8, [r1, #4]", isa.HighReg, 0, 0, 0, 0},
	{"armv4t", true, "ldr r0, [r1, r9]", isa.HighReg, 1, isa.PartOffset, 0, 0},
	{"armv4t", true, "ldrb r0, [sp, #4]", isa.HighReg, 1, isa.PartBase, 0, 0},
	{"armv4t", true, "strb r8, [r1]", isa.HighReg, 0, 0, 0, 0},
	// Registers.
	{"armv4t", true, "mvns r0, #5", isa.OtherKind, 1, 0, 0, 0},
	{"armv4t", true, "negs r0, #5", isa.OtherKind, 1, 0, 0, 0},
	{"armv4t", true, "ands r0, #5", isa.OtherKind, 1, 0, 0, 0},
	{"armv4t", true, "subs r8, #1", isa.HighReg, 0, 0, 0, 0},
	{"armv4t", true, "subs r0, r8", isa.HighReg, 1, 0, 0, 0},
	{"armv4t", true, "adds r0, r1, r8", isa.HighReg, 2, 0, 0, 0},
	{"armv4t", true, "movs r8, #1", isa.HighReg, 0, 0, 0, 0},
	{"armv4t", true, "cmp r8, #1", isa.HighReg, 0, 0, 0, 0},
	{"armv4t", true, "ands r0, r8", isa.HighReg, 1, 0, 0, 0},
	{"armv6", true, "rev r0, r8", isa.HighReg, 1, 0, 0, 0},
	{"armv4t", true, "ands r0, r1, r2", isa.SameReg, 1, 0, 0, 0},
	{"armv4t", true, "muls r0, r1, r2", isa.SameReg, 2, 0, 0, 0},
	{"armv4t", true, "mov r0, r1", isa.NeedHigh, 0, 0, 0, 0},
	{"armv4t", true, "add r8, r9, r10", isa.SameReg, 1, 0, 0, 0},
	// Lists.
	{"armv4t", true, "push {r8}", isa.BadList, 0, isa.PartList, 0, 0},
	{"armv4t", true, "push {r0, pc}", isa.BadList, 0, isa.PartList, 0, 0},
	{"armv4t", true, "pop {r0, lr}", isa.BadList, 0, isa.PartList, 0, 0},
	{"armv4t", true, "push {}", isa.EmptyList, 0, 0, 0, 0},
	{"armv4t", true, "stmia r0, {r1, r2}", isa.NeedWB, 0, 0, 0, 0},
	{"armv4t", true, "ldmia r0, {r1, r2}", isa.NeedWB, 0, 0, 0, 0},
	{"armv4t", true, "ldmia r0!, {r0, r1}", isa.NoWriteback, 0, 0, 0, 0},
	{"armv4t", true, "stmia r8!, {r0, r1}", isa.HighReg, 0, 0, 0, 0},
	{"armv4t", true, "ldmia r0!, {r8, r9}", isa.BadList, 1, isa.PartList, 0, 0},
	// Targets.
	{"armv4t", true, "beq .+1000", isa.TooFar, 0, 0, -256, 254},
	{"armv4t", true, "b .+5000", isa.TooFar, 0, 0, -2048, 2046},
	{"armv4t", true, "bl .+5000000", isa.TooFar, 0, 0, -1 << 22, 1<<22 - 2},
	{"armv4t", true, "ldr r0, .-8", isa.Behind, 1, 0, 0, 1020},
	{"armv4t", true, "adr r0, .-8", isa.Behind, 1, 0, 0, 1020},
	{"armv4t", true, "ldr r0, .+2000", isa.TooFar, 1, 0, 0, 1020},
	{"armv4t", true, "adr r0, .+6", isa.OddTarget, 1, 0, 0, 1020},
	{"armv7-a", true, "cbz r0, .+2", isa.Behind, 1, 0, 0, 126},
	// Shape, syntax, architecture.
	{"armv4t", true, "adds r0", isa.OtherCount, -1, 0, 0, 0},
	{"armv4t", true, "nop r0", isa.OtherCount, 0, 0, 0, 0},
	{"armv4t", true, "bx r0, r1", isa.OtherCount, 1, 0, 0, 0},
	{"armv4t", true, "bx #4", isa.OtherKind, 0, 0, 0, 0},
	{"armv4t", false, "adds r0, r1, #1", isa.OtherSyntax, -1, 0, 0, 0},
	{"armv4t", true, "neg r0, r1", isa.OtherSyntax, -1, 0, 0, 0},
	{"armv4t", true, "blx r0", isa.NoFeature, -1, 0, 0, 0},
	{"armv4t", true, "rev r0, r1", isa.NoFeature, -1, 0, 0, 0},
	{"armv6", true, "cbz r0, .+8", isa.NoFeature, -1, 0, 0, 0},
	{"armv6-m", true, "setend le", isa.NoFeature, -1, 0, 0, 0},
	{"armv6", true, "setend xe", isa.BadWord, 0, 0, 0, 0},
	{"armv6", true, "cpsid q", isa.BadWord, 0, 0, 0, 0},
	{"armv4t", true, "adds.w r0, r1, r2", isa.OtherWidth, -1, 0, 0, 0},
	{"armv6-m", true, "mrs sp, primask", isa.OtherReg, 0, 0, 0, 0},
}

// TestRefuse checks that the first refusal is what a person would name.
func TestRefuse(t *testing.T) {
	proof := reftest.Begin(t)
	for _, c := range refusals {
		t.Run(c.text, func(t *testing.T) {
			target, _ := isa.Arch(c.arch)
			l := syntax.Parse(c.text).Line(0)
			if ask(l, target.Have, c.unified).ok {
				t.Fatal("it is taken")
			}
			s := &l.Stmts[0]
			if s.Kind != syntax.Instruction || s.Err != nil {
				t.Fatalf("it does not get as far: %+v", s)
			}
			rs := s.Mnemonic.Refuse(&isa.Query{Have: target.Have, Unified: c.unified, Width: s.Width}, operands(s), nil)
			if len(rs) == 0 {
				t.Fatal("no refusal")
			}
			got := rs[0]
			show := ""
			for i := range min(4, len(rs)) {
				r := rs[i]
				show += fmt.Sprintf("\n\t%v at operand %d part %d, %d–%d, cost %d: %v", r.Reason, r.Op, r.Part, r.Min, r.Max, r.Cost(), r.Form)
			}
			if got.Reason != c.reason || got.Op != c.op || got.Part != c.part {
				t.Errorf("want %v at operand %d part %d, got%s", c.reason, c.op, c.part, show)
			}
			if (c.lo != 0 || c.hi != 0) && (got.Min != c.lo || got.Max != c.hi) {
				t.Errorf("want %d–%d, got%s", c.lo, c.hi, show)
			}
		})
	}
	proof.Counted("refusals: %d cases", len(refusals))
}

// TestFirst checks the wording of what an architecture lacks.
func TestFirst(t *testing.T) {
	for _, c := range []struct {
		need isa.Features
		want string
	}{
		{0, "every architecture"},
		{isa.FeatT16, "ARMv4T"},
		{isa.FeatV5T, "ARMv5T"},
		{isa.FeatV6, "ARMv6"},
		{isa.FeatV5T | isa.FeatV6, "ARMv6"},
		{isa.FeatV6 | isa.FeatSetend, "ARMv6 (A and R profile)"},
		{isa.FeatSetend, "ARMv6 (A and R profile)"},
		{isa.FeatV5T | isa.FeatA32, "ARMv5T (A and R profile)"},
		{isa.FeatA32, "ARMv4T (A and R profile)"},
		{isa.FeatHint, "ARMv6T2 and ARMv6-M"},
		{isa.FeatWideB, "ARMv6T2 and ARMv6-M"},
		{isa.FeatCBZ, "ARMv6T2, ARMv7-M and ARMv8-M"},
		{isa.FeatCBZ | isa.FeatA32, "ARMv6T2 (A and R profile)"},
		{isa.FeatExclusiveThumb | isa.FeatT32 | isa.FeatA32, "ARMv6T2 (A and R profile)"},
		{isa.FeatT32, "ARMv6T2 and ARMv7-M"},
		{isa.FeatHint | isa.FeatT32, "ARMv6T2 and ARMv7-M"},
		{isa.FeatM, "ARMv6-M"},
		{isa.FeatM | isa.FeatV6, "ARMv6-M"},
		{isa.FeatBar, "ARMv6-M and ARMv7"},
		{isa.FeatHlt, "ARMv8-A"},
		{isa.FeatSVC, "the OS extension of ARMv6-M"},
		{isa.FeatBar | isa.FeatT32, "ARMv7"},
		{isa.FeatT32 | isa.FeatDSP, "ARMv6T2 and ARMv7E-M"},
		{isa.FeatDivThumb, "ARMv7-M and ARMv7-R"},
		{isa.FeatDivA32, "ARMv7-A with the Virtualization Extensions"},
		{isa.FeatT32 | isa.FeatMP, "ARMv7 with the Multiprocessing Extensions"},
		{isa.FeatSec | isa.FeatT32, "ARMv8-M"},
		{isa.FeatLDA, "ARMv8"},
		{isa.FeatV81M | isa.FeatT32, "ARMv8.1-M"},
		{isa.FeatVFP, "VFPv1"},
		{isa.FeatVFP | isa.FeatVFPD, "VFPv1 with double precision"},
		{isa.FeatVFP | isa.FeatVFP2, "VFPv2"},
		{isa.FeatVFP | isa.FeatVFP3, "VFPv3"},
		{isa.FeatVFP | isa.FeatD32, "VFPv3 with 32 double registers"},
		{isa.FeatVFP | isa.FeatVFPD | isa.FeatFMA, "VFPv4 with double precision"},
		{isa.FeatVFP | isa.FeatFPv8, "FPv5 and ARMv8"},
		{isa.FeatNEON, "Advanced SIMD"},
		{isa.FeatNEON | isa.FeatNEONFMA, "Advanced SIMD version 2"},
		{isa.FeatNEONv8 | isa.FeatFP16, "ARMv8.2-A with half-precision arithmetic"},
	} {
		if got := c.need.First(); got != c.want {
			t.Errorf("%b: %q, want %q", c.need, got, c.want)
		}
	}
	for _, c := range []struct {
		need isa.Features
		want string
	}{
		{isa.FeatV6, "ARMv6"},
		{isa.FeatSVC | isa.FeatT16, "ARMv4T"},
		{isa.FeatDivA32, "ARMv7-A with the Virtualization Extensions"},
		{isa.FeatSMC, "ARMv6K with the Security Extensions"},
		{isa.FeatVFP | isa.FeatV5, "VFPv1"},
		{isa.FeatNEON, "Advanced SIMD"},
	} {
		if got := c.need.FirstA32(); got != c.want {
			t.Errorf("in A32 %b: %q, want %q", c.need, got, c.want)
		}
	}
	// Each feature by itself has a name.
	for f := isa.FeatA32; f <= isa.FeatV8R; f <<= 1 {
		if got := f.First(); got == "no architecture" {
			t.Errorf("%b: %s", f, got)
		}
	}
}
