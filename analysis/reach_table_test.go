package analysis_test

import (
	"fmt"
	"strings"
	"testing"
)

// TestReach holds how far each kind of instruction reaches, by the last place in reach
// and the first that is not, on both sides. Distances are from PC, which is the
// instruction's address plus 4 in T16 and T32 code and plus 8 in A32 code, rounded
// down to a word for loads and ADR (DDI 0406C, A2.3 and A4.2.2).
func TestReach(t *testing.T) {
	t.Parallel()
	const (
		v4T = ".arch armv4t|" + u16
		v6T = ".arch armv6|" + u16
		v6M = ".arch armv6-m|" + u16
		fpT = ".arch armv7-a|.fpu vfpv3|" + u16
		fpA = ".arch armv7-a|.fpu vfpv3|.syntax unified|.arm|"
		v4A = ".arch armv4t|.syntax unified|.arm|"
	)
	var cases []verdictCase
	for _, c := range []struct {
		head, line   string
		lo, hi, step int
		section      string // of DDI 0406C where no other document is named
		ours         string // why the reference assembler judges otherwise
	}{
		{v4T, "beq l", -256, 254, 2, "A8.8.18 B, encoding T1", ""},
		{v4T, "b l", -2048, 2046, 2, "A8.8.18 B, encoding T2", ""},
		{v4T, "bl l", -4194304, 4194302, 2, "A8.8.25 BL, encoding T1 before ARMv6T2", ""},
		{v6T, "bl l", -4194304, 4194302, 2, "A8.8.25 BL, encoding T1 before ARMv6T2", ""},
		{v6M, "bl l", -16777216, 16777214, 2, "DDI 0419, A6.7.13 BL", "it takes ARMv6-M for one of those before ARMv6T2"},
		{t32, "beq.n l", -256, 254, 2, "A8.8.18 B, encoding T1", ""},
		{t32, "b.n l", -2048, 2046, 2, "A8.8.18 B, encoding T2", ""},
		{t32, "beq.w l", -1048576, 1048574, 2, "A8.8.18 B, encoding T3", ""},
		{t32, "b.w l", -16777216, 16777214, 2, "A8.8.18 B, encoding T4", ""},
		{t32, "beq l", -1048576, 1048574, 2, "A8.8.18 B, encoding T3", ""},
		{t32, "b l", -16777216, 16777214, 2, "A8.8.18 B, encoding T4", ""},
		{t32, "bl l", -16777216, 16777214, 2, "A8.8.25 BL, encoding T1", ""},
		{t32, "cbz r0,l", 0, 126, 2, "A8.8.29 CBNZ, CBZ", ""},
		{t32, "cbnz r7,l", 0, 126, 2, "A8.8.29 CBNZ, CBZ", ""},
		{a32, "b l", -33554432, 33554428, 4, "A8.8.18 B, encoding A1", ""},
		{a32, "beq l", -33554432, 33554428, 4, "A8.8.18 B, encoding A1", ""},
		{a32, "bl l", -33554432, 33554428, 4, "A8.8.25 BL, encoding A1", ""},
		{v4T, "ldr r0,l", 0, 1020, 4, "A8.8.64 LDR (literal), encoding T1", ""},
		{v4T, "adr r0,l", 0, 1020, 4, "A8.8.12 ADR, encoding T1", ""},
		{t32, "ldr.n r0,l", 0, 1020, 4, "A8.8.64 LDR (literal), encoding T1", ""},
		{t32, "ldr.w r0,l", -4095, 4095, 1, "A8.8.64 LDR (literal), encoding T2", ""},
		{t32, "ldr r8,l", -4095, 4095, 1, "A8.8.64 LDR (literal), encoding T2", ""},
		{t32, "ldrb r0,l", -4095, 4095, 1, "A8.8.69 LDRB (literal), encoding T1", ""},
		{t32, "ldrh r0,l", -4095, 4095, 1, "A8.8.81 LDRH (literal), encoding T1", ""},
		{t32, "ldrsb r0,l", -4095, 4095, 1, "A8.8.85 LDRSB (literal), encoding T1", ""},
		{t32, "ldrsh r0,l", -4095, 4095, 1, "A8.8.89 LDRSH (literal), encoding T1", ""},
		{t32, "adr.n r0,l", 0, 1020, 4, "A8.8.12 ADR, encoding T1", ""},
		{t32, "adr.w r0,l", -4095, 4095, 1, "A8.8.12 ADR, encodings T2 and T3", ""},
		{t32, "ldrd r0,r1,l", -1020, 1020, 4, "A8.8.73 LDRD (literal), encoding T1", ""},
		{t32, "pld l", -4095, 4095, 1, "A8.8.127 PLD (literal), encoding T1", ""},
		{fpT, "vldr s0,l", -1020, 1020, 4, "A8.8.333 VLDR, encoding T2", ""},
		{fpT, "vldr d0,l", -1020, 1020, 4, "A8.8.333 VLDR, encoding T1", ""},
		{v4A, "ldr r0,l", -4095, 4095, 1, "A8.8.64 LDR (literal), encoding A1", ""},
		{a32, "ldrb r0,l", -4095, 4095, 1, "A8.8.69 LDRB (literal), encoding A1", ""},
		{a32, "ldrh r0,l", -255, 255, 1, "A8.8.81 LDRH (literal), encoding A1", ""},
		{a32, "ldrsb r0,l", -255, 255, 1, "A8.8.85 LDRSB (literal), encoding A1", ""},
		{a32, "ldrsh r0,l", -255, 255, 1, "A8.8.89 LDRSH (literal), encoding A1", ""},
		{a32, "ldrd r0,r1,l", -255, 255, 1, "A8.8.73 LDRD (literal), encoding A1", ""},
		{a32, "pld l", -4095, 4095, 1, "A8.8.127 PLD (literal), encoding A1", ""},
		{fpA, "vldr s0,l", -1020, 1020, 4, "A8.8.333 VLDR, encoding A2", ""},
		{fpA, "vldr d0,l", -1020, 1020, 4, "A8.8.333 VLDR, encoding A1", ""},
		{a32, "adr r0,l", -255, 255, 1, "A8.8.12 ADR, encodings A1 and A2: eight bits, not rotated", ""},
	} {
		pc := 8
		if strings.HasSuffix(c.head, ".thumb|") {
			pc = 4
		}
		seen := map[int]bool{}
		for _, d := range []int{c.lo - c.step, c.lo, c.lo + c.step, 0, c.hi - c.step, c.hi, c.hi + c.step} {
			if large := c.hi > 1<<20; large && d != c.lo-c.step && d != c.lo && d != c.hi && d != c.hi+c.step {
				continue // megabytes each
			}
			rotated := (d == 256 || d == -256) && strings.HasPrefix(c.line, "adr r0") && pc == 8
			if -pc < d && d < 0 || rotated || seen[d] {
				continue // within the line itself; a rotation holds it
			}
			seen[d] = true
			mark := ""
			if d < c.lo || d > c.hi {
				mark = " @!"
			}
			// The line is at a word, the label d bytes from its PC.
			line := max(-d-pc+3, 0) &^ 3
			label := d + line + pc
			src := fmt.Sprintf("%s%s|.org %d|l:", c.head, c.line+mark, label)
			if label <= line {
				src = fmt.Sprintf("%s.space %d|l: .org %d|%s", c.head, label, line, c.line+mark)
			}
			arch, _, _ := strings.Cut(c.head, "|")
			cases = append(cases, verdictCase{name: fmt.Sprintf("%s, %s, %d bytes, %s", c.line, arch, d, c.section), src: src, ours: c.ours})
		}
	}
	runVerdicts(t, cases)
}
