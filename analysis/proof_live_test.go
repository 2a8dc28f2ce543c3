package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// TestDead holds what counts as dead after a line: by what the code after a
// store with a far offset says, the offer uses r2 or saves a register; and by
// what it does with the flags, the offer names them as changed or not.
func TestDead(t *testing.T) {
	const head = "\t.syntax unified\n\t.thumb\nf:\n\tstr r0, [r1, #200]\n"
	for _, c := range []struct {
		name, tail string
		r2, flags  bool // r2 is dead; the flags are
	}{
		{name: "overwritten, then a return", tail: "\tmovs r2, #0\n\tbx lr\n", r2: true, flags: true},
		{name: "nothing known at a return", tail: "\tbx lr\n", flags: true},
		{name: "read first", tail: "\tadds r2, #1\n\tbx lr\n", flags: true},
		{name: "one path only", tail: "\tbne 1f\n\tmovs r2, #0\n1:\tbx lr\n"},
		{name: "both paths", tail: "\tcmp r0, #1\n\tbne 1f\n\tmovs r2, #0\n\tbx lr\n1:\tmovs r2, #1\n\tbx lr\n", r2: true, flags: true},
		{name: "a loop back to the line", tail: "\tmovs r2, #0\n\tb f\n", r2: true, flags: true},
		{name: "a call of another file", tail: "\tbl other\n\tmovs r2, #0\n\tbx lr\n\t.extern other\n", flags: true},
		{name: "a call of a private routine", tail: "\tbl near\n\tmovs r2, #0\n\tbx lr\nnear:\tmovs r2, #0\n\tbx lr\n", r2: true, flags: true},
		{name: "flags handed to a private caller", tail: "\tbx lr\nmain:\tbl f\n\tbeq main\n\tmovs r0, #0\n\tbx lr\n"},
		{name: "a private caller that asks for none", tail: "\tbx lr\nmain:\tbl f\n\tcmp r0, #1\n\tbeq main\n\tbx lr\n", flags: true},
		{name: "a supervisor call", tail: "\tsvc #1\n\tmovs r2, #0\n\tbx lr\n"},
		{name: "the end of the section", tail: ""},
		{name: "data", tail: "\t.word 1\n\tmovs r2, #0\n\tbx lr\n"},
		{name: "code that is repeated", tail: "\t.rept 2\n\tadds r2, #1\n\t.endr\n\tmovs r2, #0\n\tbx lr\n", flags: true},
		{name: "a file of code", tail: "\t.incbin \"code.bin\"\n\tmovs r2, #0\n\tbx lr\n"},
		{name: "a macro", tail: "\t.macro step\n\tadds r2, #1\n\t.endm\n\tstep\n\tmovs r2, #0\n\tbx lr\n", flags: true},
		{name: "a macro that reads the flags", tail: "\t.macro step\n\tbne f\n\t.endm\n\tstep\n\tbx lr\n"},
		{name: "a macro that ends the routine", tail: "\t.macro leave\n\tmovs r2, #0\n\tbx lr\n\t.endm\n\tleave\n", r2: true, flags: true},
		{name: "a macro without an end", tail: "\t.macro step\n\tstep\n\t.endm\n\tstep\n\tmovs r2, #0\n\tbx lr\n"},
		{name: "alignment and labels", tail: "\t.align 2\nx:\n1:\tmovs r2, #0\n\tbx lr\n", r2: true, flags: true},
		{name: "a jump table", tail: "\tmov pc, r3\n\tmovs r2, #0\n"},
		{name: "a return through the stack", tail: "\tpop {r2, pc}\n", r2: true, flags: true},
		{name: "a branch to another state", tail: "\tbx r3\n"},
		{name: "a line that has no encoding", tail: "\tadds r9, #1\n\tmovs r2, #0\n\tbx lr\n", r2: true, flags: true},
		{name: "an undefined instruction", tail: "\tudf #0\n"},
		{name: "add with carry: the move keeps C", tail: "\tadcs r2, r2\n\tbx lr\n", flags: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := head + c.tail
			offer := ""
			for _, a := range analyze(t, nil, text).Actions(context.Background(), finding.Span{Start: len(head) - 2, End: len(head) - 2}) {
				if a.Rewrite == "offset-register" && offer == "" {
					offer = a.Title
				}
			}
			r2 := strings.Contains(offer, "using r2 which is dead here") || strings.Contains(offer, "using r3")
			if c.r2 != r2 || offer == "" || r2 == strings.Contains(offer, "saving") {
				t.Errorf("r2 dead %v: %q", c.r2, offer)
			}
			if flags := !strings.Contains(offer, "changes flags"); flags != c.flags {
				t.Errorf("flags dead %v: %q", c.flags, offer)
			}
		})
	}
}

// TestDeadWide holds which instructions of A32 and T32 return, so that the flags
// are dead there.
func TestDeadWide(t *testing.T) {
	for _, c := range []struct {
		mode, tail string
		flags      bool // dead
	}{
		{".arm", "bx lr", true},
		{".arm", "mov pc, lr", true},
		{".arm", "moveq pc, lr", false},
		{".arm", "mov pc, r3", false},
		{".arm", "add pc, pc, lr", false},
		{".arm", "pop {r4, pc}", true},
		{".arm", "ldmfd sp!, {r4, pc}", true},
		{".arm", "ldmia r3!, {r4, pc}", false},
		{".arm", "ldr pc, [sp], #4", true},
		{".arm", "ldr pc, [r3]", false},
		{".arm", "bxne lr", false},
		{".thumb", "pop {r8, pc}", true},
		{".thumb", "ldr pc, [sp], #4", true},
		{".thumb", "ldr pc, [r3, r0, lsl #2]", false},
		{".thumb", "tbb [r3, r0]", false},
	} {
		head := "\t.arch armv7-a\n\t.syntax unified\n\t" + c.mode + "\nf:\tadds r0, r1, #0x12300\n"
		text := head + "\t" + c.tail + "\n\tbeq f\n"
		offer := ""
		for _, a := range analyze(t, nil, text).Actions(context.Background(), finding.Span{Start: len(head) - 2, End: len(head) - 2}) {
			if a.Rewrite == "two-adds" {
				offer = a.Title
			}
		}
		if offer == "" || c.flags == strings.Contains(offer, "changes flags") {
			t.Errorf("%s %s: %q", c.mode, c.tail, offer)
		}
	}
}
