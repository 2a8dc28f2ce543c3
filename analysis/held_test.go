package analysis

import (
	"strings"
	"testing"
)

const heldText = `	.syntax unified
	.cpu cortex-m0
	.thumb
	.thumb_func
	.global signal_set
signal_set:
	push	{r4, lr}
	ldr	r4, =0x40020000
	adds	r4, #0x18
	movs	r2, #0
1:	strb	r2, [r4, r2]
	adds	r2, #1
	cmp	r2, #10
	bne	1b
	ldr	r3, =aspects
	ldrb	r0, [r3, #1]
	sxtb	r0, r0
	lsls	r1, r0, #4
	bl	lamp
	adds	r4, #4
	str	r1, [r4]
	pop	{r4, pc}
	.section .rodata
aspects: .byte 1, 200, 3
`

// TestHoverValues asks registers for what is known of them.
func TestHoverValues(t *testing.T) {
	t.Parallel()
	r := analyze(t, nil, heldText)
	for _, c := range []struct{ line, reg, has, not string }{
		{"push\t{r4", "r4", "what r4 was where `signal_set` began", ""},
		{"adds\tr4, #0x18", "r4", "Before this line r4 is `0x40020000`.", ""},
		{"adds\tr4, #0x18", "r4", "After it r4 is `0x40020018`.", ""},
		{"adds\tr4, #0x18", "r4", "Set on line 8.", ""},
		{"adds\tr4, #0x18", "r4", "Used next on line 11.", ""},
		{"1:\tstrb\tr2", "r2", "Before this line r2 is 0 to 9.", ""},
		{"1:\tstrb\tr2", "r2", "Set on lines 10 and 12.", ""},
		{"cmp\tr2", "r2", "r2 is 1 to 0xa (10)", ""},
		{"ldrb\tr0, [r3", "r3", "the address `aspects`", ""},
		{"ldrb\tr0, [r3", "r0", "After it r0 is `0xc8 (200)`.", ""},
		{"sxtb\tr0", "r0", "After it r0 is `0xffffffc8 (-56)`.", ""},
		{"str\tr1", "r1", "", "Before this line r1"}, // after a call that may change it
		{"str\tr1", "r4", "`0x4002001c`, if what is called keeps to AAPCS32", ""},
	} {
		at := strings.Index(heldText, c.line)
		at += strings.Index(heldText[at:], c.reg)
		h, _ := r.Hover(at)
		if !strings.Contains(h.Markdown, c.has) || c.not != "" && strings.Contains(h.Markdown, c.not) {
			t.Errorf("%s of %q: want %q, not %q in\n%s", c.reg, c.line, c.has, c.not, h.Markdown)
		}
	}
	var all []string
	for _, h := range r.Held(r.prog.Path, 0, 100) {
		all = append(all, strings.TrimSpace(r.prog.LineText(h.Item))+" → "+h.Reg.String()+" = "+h.Text)
	}
	want := "adds\tr4, #0x18 → r4 = 0x40020018|ldrb\tr0, [r3, #1] → r0 = 0xc8 (200)|sxtb\tr0, r0 → r0 = 0xffffffc8 (-56)|lsls\tr1, r0, #4 → r1 = 0xfffffc80 (-896)"
	if got := strings.Join(all, "|"); got != want {
		t.Errorf("after lines: %s\nwant %s", got, want)
	}
}
