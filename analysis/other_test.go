package analysis

import (
	"strings"
	"testing"
)

// TestOtherState checks the line in hover about the other instruction set, and
// the cycles of A32 code.
func TestOtherState(t *testing.T) {
	for _, c := range []struct{ target, text, line, want string }{
		{"armv4t", ".thumb|adds r0, #1", "adds", "In A32: `adds r0, r0, #1`, 4 bytes."},
		{"armv4t", ".thumb|track: nop|beq track", "beq", "In A32: `beq track`, 4 bytes."},
		{"armv4t", ".thumb|ldr r3, =0x12345678|.ltorg", "ldr", "In A32: `ldr r3, =0x12345678`, 4 bytes."},
		{"armv4t", ".thumb|push {r4, lr}", "push", "In A32: `push {r4, lr}`, 4 bytes."},
		{"armv4t", ".arm|add r0, r0, #200", "add", "In T16: `adds r0, #200`, 2 bytes; flags set: NZCV."},
		{"armv4t", ".arm|addeq r0, r1, r2", "addeq", "in T16 only branches take a condition"},
		{"armv4t", ".arm|rsc r0, r1, r2", "rsc", "T16 has no RSC"},
		{"armv4t", ".arm|ldr r8, [r9]", "ldr", "r8–r15 are out of reach there"},
		{"armv6t2", ".arm|addeq r0, r1, r2", "addeq", "In T16: `addeq r0, r1, r2`, 2 bytes, in an IT block on condition EQ."},
		{"armv6t2", ".arm|add r0, r1, r2, lsl #3", "add", "In T32: `add r0, r1, r2, lsl #3`, 4 bytes."},
		{"armv4t", ".arm|ldmia r0!, {r1-r4}", "ldmia", "Cycles: ARM7TDMI 6; ARM9TDMI 4."},
		{"armv4t", ".arm|adrl r0, l|l:", "adrl", "8 bytes `"},
	} {
		text := ".arch " + c.target + "\n.syntax unified\n" + strings.ReplaceAll(c.text, "|", "\n") + "\n"
		r := analyze(t, nil, text)
		h, ok := r.Hover(strings.Index(text, "\n"+c.line) + 1)
		if i := strings.Index(text, ": "+c.line); i >= 0 {
			h, ok = r.Hover(i + 2)
		}
		if !ok || !strings.Contains(h.Markdown, c.want) {
			t.Errorf("%s: hover lacks %q:\n%s", c.text, c.want, h.Markdown)
		}
	}
}
