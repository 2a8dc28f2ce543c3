package analysis

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// TestMisaligned is a table of what each family of cores does with an access at an address that
// is no multiple of what it accesses, each with where that is from: n bytes beyond a multiple of
// 8. DDI 0419 is the manual of ARMv6-M, DDI 0403 of ARMv7-M, DDI 0406 of ARMv7-A and R, DDI 0553
// of ARMv8-M, DDI 0100 of ARMv4T to ARMv6. What is marked so is cited from memory.
func TestMisaligned(t *testing.T) {
	t.Parallel()
	const faults, rotates, rounds, unpredictable, fine = "faults", "rotated", "does not look at the low bits", "nobody can predict", ""
	type access struct {
		line string
		n    int
		does string
		from string
	}
	const (
		v6M   = "DDI 0419, A3.2.1: any access that is not aligned faults"
		v7M   = "DDI 0403, A3.2.1: LDR, STR, LDRH and STRH may be misaligned unless CCR.UNALIGN_TRP is set"
		v7Mf  = "DDI 0403, A3.2.1: LDM, STM, PUSH, POP, LDRD, STRD, LDREX and STREX always fault"
		v7    = "DDI 0406C, A3.2.1 and table A3-1: allowed where SCTLR.A is 0"
		v7f   = "DDI 0406C, table A3-1: a fault whatever SCTLR.A is"
		v6    = "DDI 0100I, A2.8, with U = 1 (from memory)"
		v6f   = "DDI 0100I, A2.8: a fault with U = 1 (from memory)"
		v8Mb  = "DDI 0553, B3.5: without the Main Extension each faults (from memory)"
		v8M   = "DDI 0553, B3.5: as ARMv7-M (from memory)"
		ldr4  = "ARM7TDMI data sheet, 4.9.3; DUI 0068B, 4-10: rotated"
		str4  = "DUI 0068B, 4-10: rounded down to a multiple of 4"
		half4 = "ARM7TDMI data sheet, 4.10.4: unpredictable"
		ldm4  = "ARM7TDMI data sheet, 4.11.3: the low bits do not change what is done"
		swp4  = "ARM7TDMI data sheet, 4.12.1: as LDR, then STR"
		ldrd5 = "DDI 0100I, A4, LDRD and STRD: unpredictable unless a multiple of 8 (from memory)"
	)
	for _, c := range []struct {
		target, set string
		list        []access
	}{
		{".arch armv4t", ".thumb", []access{{"ldr r1, [r0]", 1, rotates, ldr4}, {"str r1, [r0]", 2, rounds, str4}, {"ldrh r1, [r0]", 1, unpredictable, half4}, {"strh r1, [r0]", 3, unpredictable, half4},
			{"ldmia r0!, {r1, r2}", 2, rounds, ldm4}, {"stmia r0!, {r1, r2}", 1, rounds, ldm4}, {"ldrb r1, [r0]", 1, fine, ldr4}, {"ldr r1, [r0]", 4, fine, ldr4}}},
		{".arch armv4t", ".arm", []access{{"ldr r1, [r0]", 3, rotates, ldr4}, {"ldrsh r1, [r0]", 1, unpredictable, half4}, {"swp r1, r2, [r0]", 2, rotates, swp4}, {"swpb r1, r2, [r0]", 1, fine, swp4}, {"stmdb r0!, {r1, r2}", 2, rounds, ldm4}}},
		{".arch armv5te", ".arm", []access{{"ldr r1, [r0]", 1, rotates, ldr4}, {"str r1, [r0]", 1, rounds, str4}, {"ldrh r1, [r0]", 1, unpredictable, half4}, {"ldm r0, {r1, r2}", 2, rounds, ldm4},
			{"ldrd r2, r3, [r0]", 4, unpredictable, ldrd5}, {"strd r2, r3, [r0]", 4, unpredictable, ldrd5}, {"strd r2, r3, [r0, #4]", 4, fine, ldrd5}, {"ldrd r2, r3, [r0]", 2, unpredictable, ldrd5}, {"ldrd r2, r3, [r0]", 8, fine, ldrd5}}},
		{".arch armv6k", ".arm", []access{{"ldr r1, [r0]", 1, fine, v6}, {"strh r1, [r0]", 1, fine, v6}, {"ldm r0, {r1, r2}", 2, faults, v6f}, {"ldrd r2, r3, [r0]", 2, faults, v6f}, {"ldrd r2, r3, [r0]", 4, fine, v6},
			{"ldrex r1, [r0]", 2, faults, v6f}, {"ldrexh r1, [r0]", 1, faults, v6f}, {"ldrexd r2, r3, [r0]", 4, faults, v6f}, {"strexd r1, r2, r3, [r0]", 4, faults, v6f}, {"ldrexd r2, r3, [r0]", 8, fine, v6f}, {"swp r1, r2, [r0]", 1, faults, v6f}}},
		{".cpu cortex-m0", ".thumb", []access{{"ldr r1, [r0]", 2, faults, v6M}, {"str r1, [r0]", 1, faults, v6M}, {"ldrh r1, [r0]", 1, faults, v6M}, {"ldrsh r1, [r0, r2]", 1, fine, v6M + "; r2 is not known"}, {"ldmia r0!, {r1, r2}", 2, faults, v6M}, {"strb r1, [r0]", 1, fine, v6M}}},
		{".cpu cortex-m4", ".thumb", []access{{"ldr r1, [r0]", 2, fine, v7M}, {"strh r1, [r0]", 1, fine, v7M}, {"ldm r0, {r1, r2}", 2, faults, v7Mf}, {"stmdb r0!, {r1, r2}", 1, faults, v7Mf}, {"ldrd r2, r3, [r0]", 2, faults, v7Mf}, {"strd r2, r3, [r0]", 4, fine, v7Mf},
			{"ldrex r1, [r0]", 2, faults, v7Mf}, {"strex r1, r2, [r0]", 1, faults, v7Mf}, {"ldrexh r1, [r0]", 1, faults, v7Mf}, {"ldrexb r1, [r0]", 1, fine, v7Mf}}},
		{".arch armv7-a", ".arm", []access{{"ldr r1, [r0]", 1, fine, v7}, {"ldrsh r1, [r0]", 1, fine, v7}, {"ldm r0, {r1, r2}", 2, faults, v7f}, {"strd r2, r3, [r0]", 2, faults, v7f}, {"strd r2, r3, [r0]", 4, fine, v7f}, {"ldrex r1, [r0]", 2, faults, v7f}, {"ldrexd r2, r3, [r0]", 4, faults, v7f}}},
		{".arch armv7-r", ".thumb", []access{{"str r1, [r0]", 3, fine, v7}, {"stm r0, {r1, r2}", 2, faults, v7f}, {"ldrd r2, r3, [r0]", 1, faults, v7f}, {"ldrexd r2, r3, [r0]", 4, faults, v7f}, {"ldrexh r1, [r0]", 1, faults, v7f}}},
		{".cpu cortex-m23", ".thumb", []access{{"ldr r1, [r0]", 2, faults, v8Mb}, {"strh r1, [r0]", 1, faults, v8Mb}, {"ldmia r0!, {r1, r2}", 2, faults, v8Mb}, {"ldrex r1, [r0]", 2, faults, v8Mb}, {"lda r1, [r0]", 2, faults, v8Mb}}},
		{".cpu cortex-m33", ".thumb", []access{{"ldr r1, [r0]", 2, fine, v8M}, {"ldrh r1, [r0]", 1, fine, v8M}, {"ldm r0, {r1, r2}", 2, faults, v8M}, {"ldrd r2, r3, [r0]", 2, faults, v8M}, {"ldrex r1, [r0]", 1, faults, v8M}, {"lda r1, [r0]", 2, faults, v8M}, {"stlh r1, [r0]", 1, faults, v8M}}},
	} {
		for _, a := range c.list {
			text := fmt.Sprintf("\t%s\n\t.syntax unified\n\t%s\nf:\n\tldr r0, =0x%x\n\t%s\n\tbx lr\n", c.target, c.set, 0x20000100+a.n, a.line)
			got := ""
			for _, d := range analyze(t, nil, text).Each() {
				if d.Severity == Error {
					t.Fatalf("%s\n%s", d.Message, text)
				}
				if d.Code == finding.CodeMisaligned {
					got = d.Message
				}
			}
			if (got != "") != (a.does != "") || !strings.Contains(got, a.does) || a.from == "" {
				t.Errorf("%s %s, %s, %d bytes off: said is %q, but %q (%s)", c.target, c.set, a.line, a.n, got, a.does, a.from)
			}
		}
	}
}
