package analysis

import (
	"fmt"
	"strings"
	"testing"
)

// TestCosts compares what blocks, loops and routines take with sums of the published figures,
// made by hand: lines after "label: " are what the hover on that label has.
func TestCosts(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		cpu, mode, source string
		waits             map[string]int64
		want              []string
	}{
		// DDI 0432C, table 3.1: LDM and STM 1+N, SUBS 1, BNE 3 or 1, BX 3.
		{"cortex-m0", "thumb", "copy: ldmia r1!, {r3, r4}\nstmia r0!, {r3, r4}\nsubs r2, #1\nbne copy\nbx lr\n", nil,
			[]string{"copy: One time around takes 10 cycles on Cortex-M0.", "copy: Loop of 4 instructions, 8 bytes."}},
		// DDI 0484C, table 3.1: the branch is 2.
		{"cortex-m0plus", "thumb", "copy: ldmia r1!, {r3, r4}\nstmia r0!, {r3, r4}\nsubs r2, #1\nbne copy\nbx lr\n", nil,
			[]string{"copy: One time around takes 9 cycles on Cortex-M0+."}},
		// DDI 0439D, table 3-1: LDR and STR 2, SUBS 1, BNE 1+P with P from 1 to 3.
		{"cortex-m4", "thumb", "fill: ldr r3, [r1], #4\nstr r3, [r0], #4\nsubs r2, #1\nbne fill\nbx lr\n", nil,
			[]string{"fill: One time around takes 7 to 9 cycles on Cortex-M4."}},
		// ARM7TDMI data sheet: LDRB 3, STRB 2, SUBS 1, BNE 3; a line whose condition fails 1.
		{"arm7tdmi", "arm", "bell: ldrb r3, [r1], #1\nstrb r3, [r0], #1\nsubs r2, r2, #1\nbne bell\nbx lr\n", nil,
			[]string{"bell: One time around takes 9 cycles on ARM7TDMI."}},
		{"arm7tdmi", "arm", "bell: cmp r0, #3\nldreq r1, [r2]\nsubs r3, r3, #1\nbne bell\nbx lr\n", nil,
			[]string{"bell: One time around takes 6 to 8 cycles on ARM7TDMI."}},
		// Two ways around, and a loop within a loop.
		{"cortex-m0", "thumb", "ring: cmp r0, #2\nbeq 1f\nmuls r1, r2, r1\n1: subs r3, #1\nbne ring\nbx lr\n", nil,
			[]string{"ring: One time around takes 7 to 38 cycles on Cortex-M0.", "1: Block of 2 instructions, 4 bytes.", "1: It takes 2 to 4 cycles on Cortex-M0."}},
		{"cortex-m0", "thumb", "rows: movs r1, #9\n1: subs r1, #1\nbne 1b\nsubs r0, #1\nbne rows\nbx lr\n", nil,
			[]string{"rows: One time around takes 7 cycles or more on Cortex-M0, as there is a loop inside.", "1: One time around takes 4 cycles on Cortex-M0.", "1: Loop of 2 instructions, 4 bytes."}},
		// What is entered in its middle is no loop, nor is what goes straight on.
		{"cortex-m0", "thumb", "b 2f\n1: adds r0, #1\n2: subs r1, #1\nbne 1b\nbx lr\n", nil,
			[]string{"1: Block of 1 instruction, 2 bytes.", "2: One time around takes 5 cycles on Cortex-M0."}},
		// Wait states: LDR of the peripheral 2+1, STR to the stack 2, and for code 0 to 2 for each word
		// of the 4 lines, and for the two that a branch fetches anew.
		{"cortex-m0", "thumb", "wait: str r2, [sp]\nldr r2, [r1]\nsubs r0, #1\nbne wait\nbx lr\n", map[string]int64{"stack": 0, "0x40000000-0x5fffffff": 1, ".text": 2},
			[]string{"wait: One time around takes 8 to 22 cycles on Cortex-M0."}},
		{"cortex-m0", "thumb", "ldr r1, =0x40000010\nb 3f\n3: ldr r2, [r1]\nsubs r0, #1\nbne 3b\nbx lr\n", map[string]int64{"0x40000000-0x5fffffff": 1, "0x20000000-0x2000ffff": 7},
			[]string{"3: One time around takes 7 cycles on Cortex-M0."}},
		{"cortex-m0", "thumb", "push {r4, lr}\nbl track\npop {r4, pc}\ntrack: push {r4, r5}\npop {r4, r5}\nbx lr\n", map[string]int64{"stack": 1},
			[]string{"track: Cycles on Cortex-M0: 13."}},
		{"cortex-m0", "thumb", "ldr r2, [r1]\nbl track\nbx lr\ntrack: ldr r0, [r0]\nbx lr\n", map[string]int64{"0x40000000-0x5fffffff": 4},
			[]string{"track: Cycles on Cortex-M0: 5 to 9."}},
	} {
		text := fmt.Sprintf("\t.syntax unified\n\t.cpu %s\n\t.%s\n%s", c.cpu, c.mode, c.source)
		r := analyze(t, &Settings{Waits: c.waits}, text)
		if len(errorsByLine(r)) > 0 {
			t.Fatalf("%s: %v", text, r.Diagnostics())
		}
		for _, w := range c.want {
			label, has, _ := strings.Cut(w, ": ")
			h, _ := r.Hover(strings.Index("\n"+text, "\n"+label+":"))
			if !strings.Contains(h.Markdown, has) {
				t.Errorf("%s, waits %v: want %q of %s in\n%s", c.source, c.waits, has, label, h.Markdown)
			}
		}
	}
	for _, c := range []struct {
		region string
		n      int64
		ok     bool
	}{{".text", 2, true}, {"stack", 0, true}, {"0x0-0xffffffff", 1, true}, {"0x40", 1, false}, {"0x50-0x40", 1, false}, {".text", 1001, false}} {
		if err := (&Settings{Waits: map[string]int64{c.region: c.n}}).Resolve(); (err == nil) != c.ok {
			t.Errorf("%s=%d: %v", c.region, c.n, err)
		}
	}
}
