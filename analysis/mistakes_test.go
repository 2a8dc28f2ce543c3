package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// mistake is a line that a person types, or what is typed in its stead: the message
// that it gets, and the first rewrite.
type mistake struct {
	head    string // directives above, separated by "|"
	line    string
	behind  string // lines below, separated by "|"; nothing is known to be dead where it is empty
	message string // a part of the message; none where it is empty and the line is right
	after   string // the line, or lines separated by "|", that the first rewrite makes; empty where there is none
}

const (
	onM0  = ".cpu cortex-m0|.syntax unified|.thumb"
	onM3  = ".cpu cortex-m3|.syntax unified|.thumb"
	onM4  = ".cpu cortex-m4|.fpu fpv4-sp-d16|.syntax unified|.thumb"
	onV4T = ".cpu arm7tdmi|.syntax unified|.thumb"
	onA32 = ".cpu arm7tdmi|.syntax unified|.arm"
)

var mistakes = []mistake{
	// The condition stays, whatever becomes of the line.
	{onV4T, "uxtbeq r0, r1", "bx lr", "only branches take a condition (eq), not uxtb", ""},
	{onV4T, "moveq r0, r1", "bx lr", "only branches take a condition (eq), not mov", "bne 1f|movs r0, r1|1:"},
	{onM0, "moveq r0, r1", "bx lr", "only branches take a condition (eq), not mov", "bne 1f|mov r0, r1|1:"},
	{onV4T, "ldrdne r0, r1, [r2]", "bx lr", "only branches take a condition (ne), not ldrd", ""},

	// What is saved in front of a jump would stay on the stack.
	{onM3, "cbnz r8, 1f", "nop|1: bx lr", "r8 is a high register", "cmp r8, #0|bne 1f"},
	{onM3, "ldr pc, [r1, #5000]", "nop", "905 too large", ""},
	{onM3, "ldr pc, [r1, r2, lsl #5]", "nop", "5 is 2 too large", ""},
	{onA32, "ldr pc, [r1, #5000]", "nop", "905 too large", ""},
	{onA32, "ldr pc, [r1], #5000", "nop", "905 too large", ""},

	// Amounts of shifts.
	{onM3, "mov r0, r1, lsl #33", "", "mov takes a shift of 0–31 here; 33 is 2 too large.", ""},
	{onM3, "add r0, r1, r2, lsr #33", "", "a shift of 0–32 here", ""},
	{onM3, "ldr r0, [r1, r2, lsl #4]", "", "ldr takes a shift of 0–3 here; 4 is 1 too large.", "add r0, r1, r2, lsl #4|ldr r0, [r0]"},
	{onA32, "mov r0, r1, lsl #33", "", "a shift of 0–31 here", ""},
	{onA32, "add r0, r1, r2, ror #32", "", "a shift of 0–31 here", ""},
	{onA32, "ldr r0, [r1, r2, lsl #40]", "", "ldr takes a shift of 0–31 here; 40 is 9 too large.", ""},
	{".cpu arm7tdmi|.thumb", "lsl r0, r1, #40", "bx lr", "lsl takes a constant of 0–31 here; 40 is 9 too large.", "lsl r0, r1, #31|lsl r0, r0, #9"},

	// A message does not contradict itself.
	{onM3, "pop {lr, pc}", "", "pop takes lr or pc in its list, not both.", ""},
	{onM3, "ldr r0, [r1, -r2]", "", "ldr cannot subtract a register offset", "sub r0, r1, r2|ldr r0, [r0]"},
	{onM0, "mul r0, r1, r2", "bx lr", "must write to its second source; T16 has muls Rdn, Rm, Rdn", "movs r0, r1|muls r0, r2"},
	{onA32, "pop {pc}^", "", "pop takes no '^' after its list", ""},
	{".arch armv8-m.main|.syntax unified|.thumb", "ldrexd r0, r1, [r2]", "", "ldrexd exists from ARMv6T2 (A and R profile) on", ""},
	{onM0, "cbz r0, 1f", "1: bx lr", "cbz exists from ARMv6T2, ARMv7-M and ARMv8-M on", "cmp r0, #0|beq 1f"},

	// Special registers.
	{onM0, "msr basepri, r0", "", "basepri exists from ARMv7-M on; the target is cortex-m0.", ""},
	{onM0, "mrs r0, cpsr", "", "cortex-m0 has no special register cpsr; the flags are in apsr, and primask masks interrupts.", ""},
	{onM3, "mrs r0, spsr", "", "an exception leaves xpsr on the stack", ""},
	{onM3, "mrs r0, primsk", "", "cortex-m3 has no special register primsk; similar names: primask.", ""},
	{onM3, "msr basepri, #1", "", "msr takes no constant here; T32 has msr apsr_nzcvq|apsr|iapsr_nzcvq|…, Rn.", ""},
	{onA32, "msr primask, r0", "", "arm7tdmi has no special register primask; bits I and F of cpsr mask interrupts.", ""},

	// Names of A32 for what T16 has by another one.
	{onM0, "stmfd sp!, {r4, lr}", "", "stmfd exists from", "push {r4, lr}"},
	{onM0, "ldmia sp!, {r4, pc}", "", "in its list, not pc", "pop {r4, pc}"},
	{".cpu arm7tdmi|.thumb", "ldmfd sp!, {r4}", "bx lr", "ldmfd cannot change its base register", "pop {r4}"},
	{onM0, "blx far", "far: bx lr", "blx with these operands exists from ARMv5T (A and R profile) on", "bl far"},
	{onM3, "blx elsewhere", "bx lr", "blx with these operands exists from", "bl elsewhere"},
	{onV4T, "blx far", "bx lr|.arm|far: bx lr", "blx exists from ARMv5T on", ""},
	{onM0, "ldmia r0, {r1, r2}", "bx lr", "needs '!' after the base register, which is not in the list", "ldmia r0!, {r1, r2}|subs r0, #8"},
	{onM0, "stmia r0, {r1, r2}", "movs r0, #0|bx lr", "stmia needs '!' after the base register; T16 has stmia Rn!, {r0–r7}", "stmia r0!, {r1, r2}"},

	// Floating point.
	{onM4 + "|.fpu softvfp", "vadd.f32 s0, s1, s2", "", "the target is cortex-m4 without a floating-point unit (choose one with .fpu or the setting fpu).", ""},
	{onM4, "vadd.f64 d0, d1, d2", "", "the target is cortex-m4 with single precision only.", ""},
	{onM4, "vadd s0, s1, s2", "bx lr", "vadd needs a type", "vadd.f32 s0, s1, s2"},
	{onM4, "vmov.f32 s0, #0.1", "bx lr", "0.1 is not such a number; nearest 0.125.", "vldr s0, =0x3dcccccd"},
	{onM4, "vmov.f32 s0, #0.0", "bx lr", "nearest -0.125 and 0.125.", "vldr s0, =0x0"},
	{".cpu cortex-m7|.fpu fpv5-d16|.syntax unified|.thumb", "vmov.f64 d0, #-0.1", "bx lr", "nearest -0.125.", "vldr d0, =0xbfb999999999999a"},
	{onM4, "vcmp.f32 s0, #1.0", "", "vcmp.f32 takes a constant of only 0 here, not 1.0.", ""},
	{onM4, "vpush {s16-s32}", "", "There is no register s32", ""},
	{onM4, "vpush {d0-d16}", "", "at most 16 double registers; here are 17", ""},

	// BX PC.
	{onV4T, "f: bx pc", ".arm|bx lr", "", ""},
	{onV4T + "|.align 2|nop", "bx pc", ".arm|bx lr", "bx pc at offset 0x2 goes to offset 0x6; A32 code must be at a multiple of 4 bytes.", ".align 2|bx pc"},
	{onM3, "bx pc", "nop", "bx pc changes to A32 state, which cortex-m3 does not have.", ""},

	// Operands keep their column.
	{onM0, "add     r0, r1", "bx lr", "", ""},
	{onM0, "and     r0, r1", "bx lr", "only as ands, which sets the flags", "ands    r0, r1"},
	{onM3, "mvoe    r0, r1", "bx lr", "mvoe is not a known instruction", "mov     r0, r1"},

	// In an IT block, in a full one too: another one takes the rest.
	{onM3 + "|ittt eq|moveq r0, #1", "addeq r1, r1, #0x345", "moveq r2, #2|bx lr", "use addw", "addweq r1, r1, #0x345"},

	// Addresses where numbers are.
	{onM3 + "|.data|table: .word 0|.text", "movw r0, #table", "bx lr", "table is an address; movw needs a number that is known here; write #:lower16:table for one half of it.", "movw r0, #:lower16:table"},
	{onM3 + "|.data|table: .word 0|.text", "movt r0, #table", "bx lr", "#:upper16:table for one half", "movt r0, #:upper16:table"},
	{onM3 + "|.data|table: .word 0|.text", "mov r0, #:lower16:table", "bx lr", "T32 has no mov with the relocation operator lower16.", "movw r0, #:lower16:table"},
	{onM0 + "|.data|table: .word 0|.text", "movs r0, #table", "bx lr", "table is an address", "ldr r0, =table"},
	{onA32 + "|.data|table: .word 0|.text", "movne r0, #table", "bx lr", "table is an address", "ldrne r0, =table"},

	// Masks.
	{onM3, "and r0, r1, #0xffff", "bx lr", "0xffff is neither", "uxth r0, r1"},
	{onM3, "and r0, r0, #0x7ff", "bx lr", "0x7ff is neither", "ubfx r0, r0, #0, #11"},
	{onM3, "bic r0, #0xfff0", "bx lr", "0xfff0 is neither", "bfc r0, #4, #12"},
	{onM3, "and r0, r0, #0xfff000ff", "bx lr", "0xfff000ff is neither", "bfc r0, #8, #12"},
	{onM3, "ands r0, r0, #0x7ff", "bne 1f|1: bx lr", "0x7ff is neither", "push {r7}|mov r7, #0x7ff|ands r0, r0, r7|pop {r7}"},
	{onA32, "and r0, r1, #0xffff", "bx lr", "which 0xffff is not", "bic r0, r1, #0xff000000|bic r0, r0, #0xff0000"},

	// Values out of a few.
	{onM3, "uxtb r0, r1, ror #4", "", "uxtb takes a shift of 0, 8, 16 or 24 here, not 4.", ""},
	{onM3, "bfi r0, #3, #4, #5", "", "bfi takes no constant here; T32 has bfi Rd, Rn, #0–31, #1–32.", ""},

	// Names of macros are near, too.
	{onM0, "jmp f", "nop", "jmp is a name of other processors; here it is b.", "b f"},
	{onM0, "call f", "nop", "call is a name of other processors; here it is bl.", "bl f"},
	{onM0, "ret", "nop", "ret is a name of other processors; here it is bx lr.", "bx lr"},
	{onM0, "clzz r0, r1", "nop", "clzz is not a known instruction, directive or macro.", ""},
	{onM0 + "|.macro lamp n|.byte \\n|.endm|.purgem lamp", "lamp 1", "", "lamp is not a known instruction, directive or macro; similar names: ldm.", ""},
	{onM0 + "|.macro lamp n|.byte \\n|.endm", "lmap 1", "", "similar names: lamp.", "lamp 1"},

	// The opposite of a condition is called as the author calls it.
	{onM0, "movhs r1, #8", "bx lr", "only branches take a condition (hs), not mov", "blo 1f|movs r1, #8|1:"},
	{onM0, "movcs r1, #8", "bx lr", "only branches take a condition (cs), not mov", "bcc 1f|movs r1, #8|1:"},
	{onM0, "f: bhs f+400", "bx lr|.space 500", "142 too far", "f: blo 1f|b f+400|1:"},

	// Slips of typing: what is meant comes first.
	{onM0, "strb r1 [r4]", "", "A comma, or the mark of a comment, is missing before this.", "strb r1, [r4]"},
	{onM0, "ldr r0, [r1 #4]", "", "A comma is missing before this.", "ldr r0, [r1, #4]"},
	{onM0, "ldr r0, [r1 @ see [2]", "", "This '[' has no ']'.", "ldr r0, [r1] @ see [2]"},
	{onM0, "adds r0 r1 r2", "", "A comma", "adds r0, r1, r2"},
	{onM0, "push {r4 r5}", "", "A comma or '}' is expected here.", "push {r4, r5}"},
	{onM0, "push {r4, r5", "", "A comma or '}' is expected here.", "push {r4, r5}"},
	{onM3, "strex r0, r1, r2", "", "strex takes no register here", "strex r0, r1, [r2]"},
	{onM3, "ldrd r0, r1, r2, #8", "", "ldrd does not take 4 operands like these", "ldrd r0, r1, [r2, #8]"},
	{onM3, "strd r2, r3, r4", "", "strd takes no register here", "strd r2, r3, [r4]"},
	{onM0, "push r4, lr", "", "push takes its registers in braces: push {r4, lr}.", "push {r4, lr}"},
	{onM0, "ldr r0, r1", "", "ldr takes an address in brackets: ldr r0, [r1].", "ldr r0, [r1]"},
	{onM0, "str r0, r1, #4", "", "str takes an address in brackets: str r0, [r1, #4].", "str r0, [r1, #4]"},
	{onM0, "ldr r0, #5", "bx lr", "ldr loads from an address; with = it loads a value: ldr r0, =5.", "ldr r0, =5"},
	{onM0, "ldr r0, 0x48000000", "bx lr", "with = it loads a value: ldr r0, =0x48000000.", "ldr r0, =0x48000000"},
	{onM0 + "|.equ PANEL, 0x48000000", "ldr r0, PANEL", "bx lr", "with = it loads a value: ldr r0, =PANEL.", "ldr r0, =PANEL"},
	{onM0, "movs r0, =5", "", "movs takes no value with =, as only loads do; a constant has # in front of it.", "movs r0, #5"},
	{onM0, "uxtb r0", "", "uxtb does not take just one operand", "uxtb r0, r0"},
	{onM0, "subs r0", "", "subs does not take just one operand", ""},
	{onM0, "movs r0, #1 the lamp", "", "the mark of a comment, is missing before this", "movs r0, #1 @ the lamp"},
	{onM0, "movs r0, #1 l=2", "", "the mark of a comment, is missing before this", ""},
	{onA32, "push r4", "", "push takes its registers in braces: push {r4}.", "push {r4}"},
	// A name with few letters is near to one with one letter else, or that begins with it.
	{onM0, ".wrd 5", "", "similar names: .word.", ".word 5"},
	{onM0, ".thu", "", "similar names: .thumb, .thumb_func, .thumb_set.", ".thumb"},
	{onM0, "mvo r0, r1", "", "similar names: mov, mvn.", "mov r0, r1"},
	{onM0, "inc r0", "", "inc is not a known instruction, directive or macro.", ""},

	// The other state.
	{".cpu arm926ej-s|.syntax unified|.thumb", "bl far", "bx lr|.arm|far: bx lr", "bl stays in T16 state", "blx far"},
	{onV4T, "bl far", "bx lr|.arm|far: bx lr", "bl stays in T16 state", ""},
	{onV4T, "f: ldr r0, =g", "bx r0|g: bx lr", "bit 0 of the address is clear", "f: ldr r0, =g|bx r0|.thumb_func|g: bx lr"},

	// What PC reads depends on the place.
	{onV4T, "add r0, pc, #3", "bx lr", "3 is not a multiple of 4", ""},
	{onM3, "ldr.w r0, =g", "mov.w r1, r0|bx r1|g: bx lr", "bit 0 of the address is clear", "ldr.w r0, =g|mov.w r1, r0|bx r1|.thumb_func|g: bx lr"},
	{onM3, "ldr.w r0, =g", "orr r0, r0, #1|bx r0|g: bx lr", "", ""},
	{onM3, "adr.w r0, g", "bx r0|g: bx lr", "bit 0 of the address is clear", "adr.w r0, g+1"},

	// What no aligned base register makes right is not safe.
	{onM0, "ldr r2, [r1, #6]", "bx lr", "6 is not a multiple of 4", "movs r2, #6|ldr r2, [r1, r2]"},

	{onM0, "cmp r0, r1, lsl #2", "", "cmp takes no shift after the register; T16 has ", "push {r7}|lsls r7, r1, #2|cmp r0, r7|pop {r7}"},

	// CBZ goes ahead only.
	{onM3, "f: cbz r0, f", "bx lr", "cbz reaches only forward, 0–126 bytes after PC; f is 4 bytes before PC", "f: cmp r0, #0|beq f"},
}

// TestMistakes checks what a person reads and gets offered for lines typed wrong.
func TestMistakes(t *testing.T) {
	for _, m := range mistakes {
		head := strings.ReplaceAll(m.head, "|", "\n") + "\n"
		text := head + "\t" + m.line + "\n"
		if m.behind != "" {
			text += "\t" + strings.ReplaceAll(m.behind, "|", "\n\t") + "\n"
		}
		r := analyze(t, nil, text)
		got := ""
		for _, d := range r.Each() {
			if d.Severity < finding.Hint && r.in.File.LineAt(d.Span.Start) == strings.Count(head, "\n") {
				got += d.Message
			}
		}
		if m.message == "" && got != "" || !strings.Contains(got, m.message) {
			t.Errorf("%s: %q, want %q", m.line, got, m.message)
		}
		after := ""
		if a := r.Actions(context.Background(), finding.Span{Start: len(head) + 1, End: len(head) + 1 + len(m.line)}); len(a) > 0 {
			after = strings.TrimPrefix(apply(text, a[0].Edits), head)
			after = strings.TrimSuffix(after, text[len(head)+len(m.line)+2:])
			after = strings.ReplaceAll(strings.ReplaceAll(strings.Trim(after, "\t\n"), "\t", ""), "\n", "|")
		}
		if after != m.after {
			t.Errorf("%s: offered %q, want %q", m.line, after, m.after)
		}
	}
}
