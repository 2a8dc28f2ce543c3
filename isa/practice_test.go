package isa_test

import (
	"fmt"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// What programmers of T16 know by heart (common practice), as far as it is
// about limits: each line with what is right before and beyond the limit. All
// in unified syntax for ARMv4T.
var practice = []struct {
	fact, format string
	from, to     int // the first and the last value that is taken
	step         int
}{
	{"constant moves take 0–255", "movs r3, #%d", 0, 255, 1},
	{"three-operand additions take 0–7", "adds r1, r2, #%d", -7, 7, 1}, // negative ones become subtractions
	{"three-operand subtractions take 0–7", "subs r1, r2, #%d", -7, 7, 1},
	{"two-operand additions take 0–255", "adds r1, #%d", -255, 255, 1},
	{"two-operand subtractions take 0–255", "subs r1, #%d", -255, 255, 1},
	{"comparisons take 0–255", "cmp r1, #%d", 0, 255, 1},
	{"literal loads reach 1020 bytes ahead, by words", "ldr r0, [pc, #%d]", 0, 1020, 4},
	{"byte offsets are 0–31", "ldrb r0, [r1, #%d]", 0, 31, 1},
	{"byte offsets are 0–31", "strb r0, [r1, #%d]", 0, 31, 1},
	{"halfword offsets are 0–62 and even", "ldrh r0, [r1, #%d]", 0, 62, 2},
	{"halfword offsets are 0–62 and even", "strh r0, [r1, #%d]", 0, 62, 2},
	{"word offsets are 0–124 by four", "ldr r0, [r1, #%d]", 0, 124, 4},
	{"word offsets are 0–124 by four", "str r0, [r1, #%d]", 0, 124, 4},
	{"stack offsets are 0–1020 by four", "ldr r0, [sp, #%d]", 0, 1020, 4},
	{"the stack moves by 0–508 by four", "sub sp, #%d", -508, 508, 4},
}

// TestPractice checks the rules of thumb: common practice.
func TestPractice(t *testing.T) {
	proof := reftest.Begin(t)
	target, _ := isa.Arch("armv4t")
	takes := func(s string) bool { return ask(syntax.Parse(s).Line(0), target.Have, true).ok }
	n := 0
	for _, p := range practice {
		for v := -2000; v <= 2000; v++ {
			n++
			s := fmt.Sprintf(p.format, v)
			if got, want := takes(s), v >= p.from && v <= p.to && v%p.step == 0; got != want {
				t.Errorf("%s: %s: %v", p.fact, s, got)
			}
		}
	}
	each := func(fact string, want bool, statements ...string) {
		for _, s := range statements {
			n++
			if takes(s) != want {
				t.Errorf("%s: %s: %v", fact, s, !want)
			}
		}
	}
	each("invert and negate take registers only", true, "mvns r0, r1", "negs r0, r1", "rsbs r0, r1, #0")
	each("invert and negate take registers only", false, "mvns r0, #1", "negs r0, #1", "rsbs r0, r1, #1")
	each("signed loads have a register offset only", true, "ldrsb r0, [r1, r2]", "ldrsh r0, [r1, r2]")
	each("signed loads have a register offset only", false, "ldrsb r0, [r1]", "ldrsb r0, [r1, #0]", "ldrsh r0, [r1, #2]")
	// r8–r15: only in moves, additions, comparisons and branch-exchange.
	for r := 0; r < 16; r++ {
		high := fmt.Sprintf("r%d", r)
		low := r < 8
		each("moves and additions take all registers", true, "bx "+high, "mov r8, "+high, "mov "+high+", r9", "add r8, "+high, "add "+high+", r9")
		each("comparisons take all registers but pc", r < 15, "cmp r8, "+high, "cmp "+high+", r9")
		each("nothing else takes r8–r15", low, "subs "+high+", #1", "subs "+high+", r0", "adds r0, r1, "+high, "ands "+high+", r1", "ands r1, "+high,
			"lsls "+high+", r1, #2", "tst r0, "+high, "mvns r0, "+high, "muls r0, "+high+", r0", "movs "+high+", #1", "cmp "+high+", #1",
			"ldrb r0, ["+high+", #1]", "ldrb "+high+", [r0, #1]", "str r0, [r1, "+high+"]", "stmia "+high+"!, {r0}", "cmn r0, "+high)
	}
	each("there is no subtraction of r8–r15", false, "sub r8, r0", "sub r8, r8, r0", "sub r0, r8", "subs r8, r0")
	// Two bytes an instruction, but for BL before T32.
	for _, r := range isa.Rows() {
		if target.Have.Has(r.Need) && (r.Size() == 2) != (r.ID != "bl") {
			t.Errorf("row %s has %d bytes", r.ID, r.Size())
		}
	}
	proof.Counted("practice: %d cases", n)
}

// TestState shows on the emulator that bit 0 of the target of BX and BLX
// chooses the state, as the rows say: T16 when set, A32 when clear; and that
// POP to pc does so from ARMv5T on only (DDI 0100, "POP").
func TestState(t *testing.T) {
	for _, arch := range []string{"armv4t", "armv5te", "armv6"} {
		e := unicorn.Open(t, arch)
		e.Map(codeAt, pages)
		e.Map(dataAt, pages)
		target, _ := isa.Arch(arch)
		for _, s := range []string{"bx r3", "blx r3", "pop {pc}", "mov pc, r3"} {
			a := ask(syntax.Parse(s).Line(0), target.Have, true)
			if !a.ok {
				if s != "blx r3" || arch != "armv4t" {
					t.Errorf("%s: %s is refused", arch, s)
				}
				continue
			}
			for bit := uint32(0); bit < 2; bit++ {
				goal := uint32(codeAt+0x100) | bit
				sn := unicorn.Snippet{Addr: codeAt, Code: a.code, Thumb: true, Stop: codeAt + 0x200, Limit: 1}
				sn.Regs[3], sn.Regs[13] = goal, dataAt
				sn.Mem = []unicorn.Region{{Addr: dataAt, Data: []byte{byte(goal), byte(goal >> 8), 0, 0}}}
				r := e.Run(sn)
				stays := s == "mov pc, r3" || s == "pop {pc}" && arch == "armv4t"
				if want := bit == 1 || stays; r.Thumb != want || r.Regs[15] != codeAt+0x100 {
					t.Errorf("%s: %s with bit 0 = %d: T16 %v, at %#x (%v)", arch, s, bit, r.Thumb, r.Regs[15], r.Why)
				}
			}
		}
	}
}
