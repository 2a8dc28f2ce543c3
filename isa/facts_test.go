package isa_test

import (
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// bound matches one line on an architecture, in unified syntax at address pc.
func bound(t *testing.T, arch, line string, q isa.Query) (*isa.Mnemonic, isa.Match, isa.Query) {
	t.Helper()
	target, ok := isa.Arch(arch)
	if !ok {
		t.Fatalf("no architecture %s", arch)
	}
	s := &syntax.Parse(line).Line(0).Stmts[0]
	q.Have, q.Unified, q.Width = target.Have|q.Have, true, s.Width
	m, ok := s.Mnemonic.Match(&q, operandsAt(s, q.PC))
	if !ok {
		t.Fatalf("%s: %s does not match", arch, line)
	}
	return s.Mnemonic, m, q
}

// TestEffectsInBlock looks at what an IT block makes of effects (DDI 0406, "IT":
// all instructions of the block take its condition, but BKPT is executed
// always).
func TestEffectsInBlock(t *testing.T) {
	t.Parallel()
	slot := isa.Slot{In: true, Last: true, Cond: 0} // EQ
	for _, x := range []struct {
		line        string
		flow        isa.Flow
		conditional bool
		reads, sets isa.Flags
	}{
		{"beq .", isa.FlowBranch, true, isa.Z, 0},
		{"bxeq lr", isa.FlowReg, true, isa.Z, 0},
		{"bkpt #0", isa.FlowTrap, false, 0, 0},
		{"addeq r0, r1", isa.FlowNext, true, isa.Z, 0},
		{"cmpeq r0, r1", isa.FlowNext, true, isa.Z, isa.NZCV},
	} {
		_, m, _ := bound(t, "armv7-m", x.line, isa.Query{IT: slot})
		if e := m.Effects(); e.Flow != x.flow || e.Conditional != x.conditional || e.FlagsRead != x.reads || e.FlagsWritten != x.sets {
			t.Errorf("%s in a block on EQ: %+v", x.line, e)
		}
	}
}

// TestKeptFlags holds that a product leaves C, and a long one V, as they were from ARMv5 on, and
// spoils them before (DDI 0100, "MUL", "UMULL"; DDI 0406, "MUL").
func TestKeptFlags(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		arch, line  string
		a32         bool
		reads, sets isa.Flags
	}{
		{"armv6-m", "muls r0, r1, r0", false, 0, isa.NZ},
		{"armv7-m", "muls r0, r1, r0", false, 0, isa.NZ},
		{"armv4t", "muls r0, r1, r0", false, 0, isa.NZ | isa.C},
		{"armv4t", "muls r0, r1, r2", true, 0, isa.NZ | isa.C},
		{"armv5te", "muls r0, r1, r2", true, 0, isa.NZ},
		{"armv5te", "mul r0, r1, r2", true, 0, 0},
		{"armv5te", "mulscs r0, r1, r2", true, isa.C, isa.NZ},
		{"armv4t", "mlascc r0, r1, r2, r3", true, isa.C, isa.NZ | isa.C},
		{"armv4t", "umulls r0, r1, r2, r3", true, 0, isa.NZCV},
		{"armv5te", "smlalseq r0, r1, r2, r3", true, isa.Z, isa.NZ},
	} {
		_, m, _ := bound(t, x.arch, x.line, isa.Query{A32: x.a32})
		if e := m.Effects(); e.FlagsRead != x.reads || e.FlagsWritten != x.sets {
			t.Errorf("%s: %s reads %v and sets %v, want %v and %v", x.arch, x.line, e.FlagsRead, e.FlagsWritten, x.reads, x.sets)
		}
		if read, set := m.Form.Flags(); read != 0 || set&^isa.NZ != 0 {
			t.Errorf("%s: its form reads %v and sets %v", x.line, read, set)
		}
	}
}

// TestOtherOdd is about statements whose counterpart depends on more than
// operands.
func TestOtherOdd(t *testing.T) {
	t.Parallel()
	target, _ := isa.Arch("armv7-a")
	// ADRL is two instructions of A32, and one of no other set.
	_, m, _ := bound(t, "armv7-a", "adrl r0, .+4096", isa.Query{A32: true})
	if o := m.Other(target.Have, 0); o.Inst.Row != nil || o.Why != "it is two instructions" {
		t.Errorf("ADRL: %+v", o)
	}
	// In A32 code both the statement and its literal are at words: from 2 and 12 on
	// (PC reads 4 and 8 ahead: DDI 0406, "LDR (literal)") the distances are 8 and 4.
	_, m, _ = bound(t, "armv7-a", "ldr r0, .+10", isa.Query{PC: 2})
	if got := m.Encode(); got != 0x4802 {
		t.Errorf("ldr r0, .+10 at 2 is %#x", got)
	}
	if o := m.Other(target.Have, 2); o.Inst.Row == nil || o.Inst.Encode() != 0xe59f0004 {
		t.Errorf("ldr r0, .+10 at 2 is in A32 %#x (%s)", o.Inst.Encode(), o.Why)
	}
}

// TestGrowth says how forms of a halfword grow, as the reference assembler's
// layout has it.
func TestGrowth(t *testing.T) {
	t.Parallel()
	for _, x := range []struct {
		line string
		want isa.Growth
	}{
		{"b .", isa.GrowsFar}, {"bne .", isa.GrowsFar}, {"ldr r0, .+8", isa.GrowsAhead}, {"adr r0, .+8", isa.GrowsAhead},
		{"ldr r0, [pc, #8]", isa.GrowsNumber}, {"movs r0, #1", isa.GrowsNumber}, {"ldr r0, [r1, #4]", isa.GrowsNumber},
		{"adds r0, r1, r2", isa.GrowsNot}, {"b.n .", isa.GrowsNot}, {"movw r0, #1", isa.GrowsNot}, {"cbz r0, .+8", isa.GrowsNot},
	} {
		mnemonic, m, q := bound(t, "armv7-m", x.line, isa.Query{})
		s := &syntax.Parse(x.line).Line(0).Stmts[0]
		if got := mnemonic.Grows(&m, &q, operands(s)); got != x.want {
			t.Errorf("%s grows %d, want %d", x.line, got, x.want)
		}
	}
}

// TestLateConstants says which operands take a constant that a later line
// defines, as the reference assembler does; no manual says it.
func TestLateConstants(t *testing.T) {
	t.Parallel()
	vector, _ := isa.FPU("neon")
	for _, x := range []struct {
		line string
		a32  bool
		op   int
		want bool
	}{
		{"movs r0, #1", false, 1, true}, {"lsls r0, r1, #3", false, 2, true}, {"hlt #1", false, 0, false},
		{"movw r0, #1", false, 1, false}, {"ubfx r0, r1, #3, #4", false, 2, false}, {"addw r0, r1, #3", false, 2, true},
		{"svc #1", true, 0, true}, {"mov r0, #1", true, 1, true}, {"ldr r0, [r1, #4]", true, 1, true}, {"ubfx r0, r1, #3, #4", true, 2, false},
		{"vshl.i32 d0, d1, #3", true, 2, false}, {"vqshlu.s32 d0, d1, #3", true, 2, false},
	} {
		arch := "armv8-a"
		mnemonic, m, q := bound(t, arch, x.line, isa.Query{A32: x.a32, Have: vector.Have})
		if got := mnemonic.Waits(&m, &q, x.op); got != x.want {
			t.Errorf("%s (A32 %v): operand %d waits: %v", x.line, x.a32, x.op, got)
		}
	}
	for _, x := range []struct {
		line string
		op   int
		want bool
	}{{"mov r0, #1", 1, true}, {"add r0, r1, #1", 2, true}, {"svc #1", 0, false}, {"movw r0, #1", 1, false}, {"ssat r0, #8, r1", 1, false}, {"ldr r0, [r1, #4]", 1, false}} {
		mnemonic, m, _ := bound(t, "armv7-a", x.line, isa.Query{A32: true})
		if got := mnemonic.TakesAddress(m.Form, x.op); got != x.want {
			t.Errorf("%s takes an address as operand %d: %v", x.line, x.op, got)
		}
	}
}
