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
			[]string{"rows: One time around takes 39 cycles on Cortex-M0.", "1: It goes around 9 times.", "1: All of that takes 34 cycles on Cortex-M0.", "1: One time around takes 4 cycles on Cortex-M0.", "1: Loop of 2 instructions, 4 bytes."}},
		// Counters: 4 rounds of ADDS, SUBS and BNE are 5+5+5+3, MOVS 1, BX 3; with a compare at the
		// end, at the head, by steps of 2, without and with sign, and of another loop's rows.
		{"cortex-m0", "thumb", "push {r4, lr}\nbl lamp\npop {r4, pc}\nlamp: movs r1, #4\n1: adds r0, r2\nsubs r1, #1\nbne 1b\nbx lr\n", nil,
			[]string{"lamp: Cycles on Cortex-M0: 22.", "1: It goes around 4 times.", "1: All of that takes 18 cycles on Cortex-M0."}},
		{"cortex-m0", "thumb", "movs r1, #0\n1: adds r1, #2\ncmp r1, #9\nblo 1b\nbx lr\n", nil, []string{"1: It goes around 5 times.", "1: All of that takes 23 cycles on Cortex-M0."}},
		{"cortex-m0", "thumb", "movs r1, #0\n1: cmp r1, #3\nbge 2f\nadds r1, #1\nb 1b\n2: bx lr\n", nil, []string{"1: It goes around 4 times.", "1: All of that takes 22 cycles on Cortex-M0."}},
		{"cortex-m0", "thumb", "movs r1, #2\n1: subs r1, #1\nbpl 1b\nbx lr\n", nil, []string{"1: It goes around 3 times.", "1: All of that takes 10 cycles on Cortex-M0."}},
		{"cortex-m4", "thumb", "mov r1, #3\n1: subs r1, #1\nbne 1b\nbx lr\n", nil, []string{"1: All of that takes 8 to 12 cycles on Cortex-M4."}},
		{"cortex-m0", "thumb", "movs r1, #3\nands r1, r0\nadds r1, #1\n1: subs r1, #1\nbne 1b\nbx lr\n", nil, []string{"1: It goes around 1 to 4 times.", "1: All of that takes 2 to 14 cycles on Cortex-M0."}},
		// Another way out, and a branch within.
		{"cortex-m0", "thumb", "movs r1, #3\n1: cmp r0, #0\nbeq 2f\nsubs r1, #1\nbne 1b\n2: bx lr\n", nil, []string{"1: It goes around 3 times at most.", "1: All of that takes 4 to 16 cycles on Cortex-M0."}},
		// A call that keeps the counter, and one that does not.
		{"cortex-m0", "thumb", "push {r4, lr}\nmovs r4, #3\n1: bl horn\nsubs r4, #1\nbne 1b\npop {r4, pc}\nhorn: push {r4}\nmovs r4, #1\npop {r4}\nbx lr\n", nil, []string{"1: It goes around 3 times."}},
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
