package isa_test

import (
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// TestSum checks which instructions copy a register, or add a constant to one.
func TestSum(t *testing.T) {
	for _, c := range []struct {
		arch, text string
		a32        bool
		src        isa.Reg
		n          int64
		ok         bool
	}{
		{"armv4t", "movs r0, r1", false, 1, 0, true},
		{"armv4t", "mov r8, lr", false, isa.LR, 0, true},
		{"armv4t", "adds r0, #200", false, 0, 200, true},
		{"armv4t", "subs r3, #1", false, 3, -1, true},
		{"armv4t", "adds r0, r1, #7", false, 1, 7, true},
		{"armv4t", "subs r0, r1, #7", false, 1, -7, true},
		{"armv4t", "adds r0, r1, r2", false, 0, 0, false},
		{"armv4t", "lsls r0, r1, #2", false, 0, 0, false},
		{"armv4t", "push {r0, lr}", false, 0, 0, false},
		{"armv7-m", "mov.w r8, r9", false, 9, 0, true},
		{"armv7-m", "mov.w r0, r1, lsl #3", false, 0, 0, false},
		{"armv7-m", "addw r0, r9, #4000", false, 9, 4000, true},
		{"armv7-m", "subw r0, r9, #4000", false, 9, -4000, true},
		{"armv7e-m+fp", "vmov s0, r1", false, 0, 0, false},
		{"armv4t", "mov pc, lr", true, isa.LR, 0, true},
		{"armv4t", "mov r0, lr, lsl #1", true, 0, 0, false},
		{"armv4t", "mov r0, lr, ror #4", true, 0, 0, false},
		{"armv4t", "mvn r0, r1", true, 0, 0, false},
	} {
		var sel isa.Selection
		arch := c.arch
		if arch == "armv7e-m+fp" {
			sel.SelectFPU("fpv4-sp-d16")
			arch = "armv7e-m"
		}
		sel.SelectArch(arch)
		s := &syntax.Parse(c.text).Line(0).Stmts[0]
		m, ok := s.Mnemonic.Match(&isa.Query{Have: sel.Have(), Unified: true, Width: s.Width, A32: c.a32}, operands(s))
		if !ok {
			t.Errorf("%s on %s is refused", c.text, c.arch)
			continue
		}
		if src, n, ok := m.Sum(); ok != c.ok || ok && (src != c.src || n != c.n) {
			t.Errorf("%s: %v + %d, %v", c.text, src, n, ok)
		}
	}
}
