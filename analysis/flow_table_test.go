package analysis_test

import (
	"testing"

	"narrowgauge/analysis"
)

// TestGoesOn holds where execution goes after a line: a pool is placed there, and
// what is said about it is the answer.
func TestGoesOn(t *testing.T) {
	const (
		on    = "goes on"
		may   = "may come back"
		stops = "never goes on"
	)
	m := ".arch armv7-m|.syntax unified|.thumb|"
	sec, secA := ".arch armv7-a|.arch_extension sec|.syntax unified|.thumb|", ".arch armv7-a|.arch_extension sec|.syntax unified|.arm|"
	fp := t32 + ".fpu vfpv3|"
	v8 := ".arch armv8-a|.syntax unified|.arm|"
	var texts []string
	for _, c := range []struct{ head, line, want string }{
		// T16 code.
		{t16, "movs r1,#0", on}, {t16, "nop", on}, {t16, "ldr r1,[r2]", on}, {t16, "push {r1,lr}", on}, {t16, "pop {r1}", on}, {t16, "cmp r1,#0", on},
		{t16, "beq far", on}, {t16, "ble far", on}, {t16, "mov r8,r1", on}, {t16, "add r1,pc,#4", on}, {t16, "mov r1,pc", on}, {t16, "add sp,#8", on},
		{t16, "b far", stops}, {t16, "bal far", stops}, {t16, "b .", stops}, {t16, "bx lr", stops}, {t16, "bx r3", stops}, {t16, "mov pc,lr", stops}, {t16, "mov pc,r3", stops},
		{t16, "add pc,r3", stops}, {t16, "pop {r1,pc}", stops}, {t16, "pop {pc}", stops}, {t16, "udf #1", stops},
		{t16, "bl far", may}, {t16, "bl other", may}, {t16, "svc #1", may}, {v5T, "blx r3", may}, {v5T, "bkpt #1", may}, {v5T, "blx other", may},
		// T32 code.
		{t32, "cbz r1,far", on}, {t32, "cbnz r1,far", on}, {t32, "beq.w far", on}, {t32, "wfi", on}, {t32, "isb", on}, {t32, "ldr r1,[r2,#4]!", on}, {t32, "cpsie i", on},
		{t32, "ldr lr,[sp],#4", on}, {t32, "ldmia r1,{r2,lr}", on}, {t32, "b.w far", stops}, {t32, "ldr pc,[sp],#4", stops}, {t32, "ldr pc,[sp,#4]", stops}, {t32, "ldr pc,[r1,r2,lsl #2]", stops},
		{t32, "ldr pc,=other", stops}, {t32, "ldmia r1!,{r2,pc}", stops}, {t32, "pop {r4-r11,pc}", stops}, {t32, "tbb [r1,r2]", stops}, {t32, "tbh [r1,r2,lsl #1]", stops},
		{t32, "subs pc,lr,#4", stops}, {t32, "rfeia sp!", stops}, {t32, "udf.w #1", stops}, {t32, "bxj r3", stops}, {m, "pop {r1,pc}", stops}, {m, "wfe", on},
		{t32, "it eq|bxeq lr", on}, {t32, "it eq|popeq {r1,pc}", on}, {t32, "it ne|bne far", on}, {t32, "it cs|movcs pc,lr", on}, {t32, "it eq|ldreq pc,[sp],#4", on},
		{t32, "it eq|bleq other", may}, {t32, "it eq|moveq r1,#0", on}, {t32, "it al|bxal lr", stops},
		{t32, "bl other", may}, {t32, "blx r3", may}, {t32, "svc #1", may}, {t32, "bkpt #1", may}, {sec, "smc #1", may},
		{fp, "vmov s0,r1", on}, {fp, "vpop {d8}", on}, {t32, "strd r2,r3,[r1]", on}, {t32, "mrc p15,0,r1,c0,c0,0", on},
		// A32 code.
		{a32, "mov r1,#0", on}, {a32, "beq far", on}, {a32, "bleq other", may}, {a32, "bxeq lr", on}, {a32, "moveq pc,lr", on}, {a32, "popne {r1,pc}", on}, {a32, "ldreq pc,[r1]", on},
		{a32, "ldmeqia sp!,{r1,pc}", on}, {a32, "addls pc,pc,r1,lsl #2", on}, {a32, "subseq pc,lr,#4", on}, {a32, "cmp pc,#0", on}, {a32, "add r1,pc,#8", on}, {a32, "mov r1,pc", on},
		{a32, "str pc,[r1]", on}, {a32, "stmia r1,{r2,pc}", on}, {a32, "push {r1,pc}", on}, {a32, "movs r1,pc", on}, {a32, "tst pc,r1", on},
		{a32, "b far", stops}, {a32, "bal far", stops}, {a32, "bx lr", stops}, {a32, "bx r3", stops}, {a32, "bxj r3", stops}, {a32, "mov pc,lr", stops}, {a32, "movs pc,lr", stops}, {a32, "movs pc,r3", stops},
		{a32, "add pc,pc,r1,lsl #2", stops}, {a32, "sub pc,lr,#4", stops}, {a32, "subs pc,lr,#4", stops}, {a32, "mvn pc,r1", stops}, {a32, "adcs pc,r1,r2", stops}, {a32, "bics pc,r1,#3", stops},
		{a32, "ldr pc,[r1]", stops}, {a32, "ldr pc,[sp],#4", stops}, {a32, "ldr pc,[sp,#4]", stops}, {a32, "ldr pc,=other", stops}, {a32, "ldr pc,[pc,r1,lsl #2]", stops}, {a32, "pop {r1,pc}", stops},
		{a32, "pop {pc}", stops}, {a32, "ldmia r1,{r2,pc}", stops}, {a32, "ldmfd sp!,{r1,pc}", stops}, {a32, "ldmfd sp!,{r1,pc}^", stops}, {a32, "ldmfd sp,{r1,r2}^", on}, {a32, "rfeia sp!", stops}, {a32, "udf #1", stops},
		{v8, "eret", stops}, {v8, "hvc #1", may}, {secA, "smc #1", may},
		{a32, "bl far", may}, {a32, "bl other", may}, {a32, "blx r3", may}, {a32, "blx other", may}, {a32, "svc #1", may}, {a32, "swi 1", may}, {a32, "bkpt #1", may},
		{a32, "blt far", on}, {a32, "bls far", on}, {a32, "ble far", on}, {a32, "blo far", on}, {a32, "bllt other", may}, {a32, "blls other", may}, {a32, "bleq other", may}, {a32, "bics r1,r2,#1", on}, {a32, "teq pc,#0", on},
		{a32, "muls r1,r2,r3", on}, {a32, "mls r1,r2,r3,r4", on}, {a32, "mrs r1,cpsr", on}, {a32, "msr cpsr_c,#0x13", on}, {a32, "mrc p15,0,apsr_nzcv,c0,c0,0", on}, {a32, "swp r1,r2,[r3]", on},
		{a32, "pld [pc,#4]", on}, {a32, "ldrb r1,[pc,#4]", on}, {a32, "cpsid if", on}, {a32, "setend be", on}, {a32, "clrex", on},
	} {
		text := lines(c.head + "ldr r0,=0x12345678|" + c.line + "|.ltorg|far: bx lr")
		texts = append(texts, text)
		t.Run(c.line, func(t *testing.T) {
			got := stops
			for _, d := range (program{text: text}).analyze(t).Each() {
				switch {
				case d.Severity == analysis.Error:
					t.Errorf("%s: %s", d.Code, d.Message)
				case d.Code == "pool-in-path" && d.Severity == analysis.Warning:
					got = on
				case d.Code == "pool-in-path" && d.Severity == analysis.Information:
					got = may
				}
			}
			if got != c.want {
				t.Errorf("%s, want %s:\n%s", got, c.want, text)
			}
		})
	}
	t.Run("reference", func(t *testing.T) { assembles(t, texts) })
}

// TestFlow holds where execution is found to run into a pool, into code of the other
// state, and where code is at an offset that it cannot have.
func TestFlow(t *testing.T) {
	const lit = "ldr r0,=0x12345678|"
	runMarked(t, []markedCase{
		// Pools.
		{name: "straight into a pool", src: v5T + lit + "movs r1,#0|.ltorg @! pool-in-path|bx lr"},
		{name: "a pool behind a return", src: v5T + lit + "bx lr|.ltorg|nop|bx lr"},
		{name: "no pool", src: v5T + "movs r1,#0|.ltorg|bx lr"},
		{name: "a pool of a constant that a move holds", src: v7T + "ldr r0,=0xff|nop|.ltorg|bx lr"},
		{name: "a second pool", src: v5T + lit + "bx lr|.ltorg|l: " + lit + "nop|.ltorg @! pool-in-path|bx lr"},
		{name: "a pool at the end", src: v5T + lit + "movs r1,#0 @! pool-in-path"},
		{name: "a pool at the end behind a return", src: v5T + lit + "bx lr"},
		{name: "a pool at the end behind a call", src: v5T + lit + "bl other @! pool-in-path"},
		{name: "a pool at the end of another section", src: v5T + ".section .ram,\"ax\"|" + lit + "nop @! pool-in-path|.text|nop"},
		{name: "a pool at the end of each section", src: v5T + ".section .ram,\"ax\"|" + lit + "nop @! pool-in-path|.text|" + lit + "nop @! pool-in-path"},
		{name: "a pool in another section alone", src: v5T + lit + "bx lr|.section .ram,\"ax\"|nop|.text"},
		{name: "a label between goes on", src: v5T + lit + "nop|l: .ltorg @! pool-in-path|bx lr"},
		{name: "a label behind a return", src: v5T + lit + "bx lr|l: .ltorg|bx lr"},
		{name: "a pool at the end behind a label", src: v5T + lit + "bx lr|l:"},
		{name: "a branch under a condition goes on", src: v5T + lit + "beq l|.ltorg @! pool-in-path|l: bx lr"},
		{name: "a return in an IT block goes on", src: v7T + lit + "it eq|bxeq lr|.ltorg @! pool-in-path|bx lr"},
		{name: "an alignment between", src: v5T + lit + "nop|.align 2|.ltorg @! pool-in-path|bx lr"},
		{name: "data between", src: v5T + lit + "nop|.word 1|.ltorg|bx lr"},
		{name: "text between", src: v5T + lit + "nop|.ascii \"abcd\"|.ltorg|bx lr"},
		{name: "space between", src: v5T + lit + "nop|.space 4|.ltorg|bx lr"},
		{name: "no space between", src: v5T + lit + "nop|.space 0|.ltorg @! pool-in-path|bx lr"},
		{name: "a number of an instruction between", src: v5T + lit + "nop|.inst.n 0x4770|.ltorg|bx lr"},
		{name: "a constant between", src: v5T + lit + "nop|.equ x,3|.ltorg @! pool-in-path|bx lr"},
		{name: "code that nobody reaches", src: v5T + lit + "bx lr|nop|.ltorg|bx lr"},
		{name: "code behind a jump that a label makes reached", src: v5T + lit + "b l|m: nop|.ltorg @! pool-in-path|l: b m"},
		{name: "code that a distance from the branch leads to", src: v5T + lit + "b .+4|mov r1,r8|nop|.ltorg @! pool-in-path|bx lr"},
		{name: "code that a distance from a label leads to", src: v5T + lit + "b l+2|l: mov r1,r8|bx lr|mov r8,r1|.ltorg|bx lr"},
		{name: "code that a label and a distance lead to", src: v5T + lit + "b l+4|l: bx lr|nop|nop|.ltorg @! pool-in-path|bx lr"},
		{name: "code that a distance back leads to", src: v5T + lit + "bx lr|nop|.ltorg @! pool-in-path|b .-8|bx lr"},
		{name: "code behind bx pc", src: v5T + ".balign 4|nop|ldr r0,=0x12345678|bx pc|nop|.arm|nop|.ltorg @! pool-in-path|bx lr"},
		{name: "code where a call through a register comes back", src: v5A + "ldr r0,=0x12345678|mov lr,pc|mov pc,r3|nop|.ltorg @! pool-in-path|bx lr"},
		{name: "padding behind bx pc", src: v5T + ".balign 4|ldr r0,=0x12345678|.balign 4|bx pc|nop|.arm|.balign 4|bx lr"},
		{name: "a refused line", src: v5T + lit + "adds r9,#1|.ltorg|bx lr", alone: true},
		{name: "a name that nobody knows", src: v5T + lit + "mvoe r1,r2|.ltorg|bx lr", alone: true},
		{name: "a macro that returns", src: v5T + ".macro leave|bx lr|.endm|" + lit + "leave|.ltorg|bx lr"},
		{name: "a macro that goes on", src: v5T + ".macro step|nop|.endm|" + lit + "step|.ltorg @! pool-in-path|bx lr"},
		{name: "a macro with the pool", src: v5T + ".macro pool|.ltorg|.endm|" + lit + "nop|pool @! pool-in-path|bx lr"},
		{name: "a macro with the last line", src: v5T + ".macro last|nop|.endm|" + lit + "last @! pool-in-path"},
		{name: "a repetition that goes on", src: v5T + lit + ".rept 2|nop|.endr|.ltorg @! pool-in-path|bx lr"},
		{name: "a repetition of returns", src: v5T + lit + ".rept 2|bx lr|.endr|.ltorg|bx lr"},
		{name: "another section between", src: v5T + lit + "nop|.pushsection .data|.word 1|.popsection|.ltorg @! pool-in-path|bx lr"},
		{name: "a return in another section between", src: v5T + lit + "nop|.pushsection .ram,\"ax\"|bx lr|.popsection|.ltorg @! pool-in-path|bx lr"},
		{name: "left out between", src: v5T + lit + "nop|.if 0|bx lr|.endif|.ltorg @! pool-in-path|bx lr"},
		{name: "a pool in A32 code", src: v5A + lit + "mov r1,#0|.ltorg @! pool-in-path|bx lr"},
		{name: "a call that may come back", src: v5T + lit + "bl other|.ltorg @! pool-in-path|bx lr"},
		{name: "a supervisor call that may come back", src: v5A + lit + "svc #0|.ltorg @! pool-in-path|bx lr"},

		// The other state.
		{name: "from A32 into T16", src: v5A + "mov r0,#1|.thumb|nop @! mode-mismatch|bx lr"},
		{name: "from T16 into A32", src: v5T + "nop|nop|.arm|nop @! mode-mismatch|bx lr"},
		{name: "from A32 into a label of T16 code", src: v5A + "mov r0,#1|.thumb|t: nop @! mode-mismatch|bx lr"},
		{name: "from A32 into a marked function", src: v5A + "mov r0,#1|.thumb|.thumb_func|t: nop @! mode-mismatch|bx lr"},
		{name: "behind a return", src: v5A + "bx lr|.thumb|nop|bx lr"},
		{name: "behind a jump", src: v5A + "b .|.thumb|nop|bx lr"},
		{name: "behind a branch under a condition", src: v5A + "beq a|.thumb|nop @! mode-mismatch|bx lr|.arm|.align 2|a: bx lr"},
		{name: "behind a call", src: v5A + "bl other|.thumb|nop|bx lr"},
		{name: "behind a supervisor call", src: v5A + "svc #1|.thumb|nop|bx lr"},
		{name: "behind data", src: v5A + "nop|.word 1|.thumb|nop|bx lr"},
		{name: "behind padding of bx pc", src: v5T + "bx pc|nop|.arm|nop|bx lr"},
		{name: "behind a change by add to pc", src: v5A + "add r0,pc,#1|bx r0|.thumb|nop|bx lr"},
		{name: "the state changed and changed back", src: v5A + "nop|.thumb|.arm|nop|bx lr"},
		{name: "in another section", src: v5A + "nop|.section .ram,\"ax\"|.thumb|nop|bx lr"},
		{name: "in the section's next part", src: v5A + "nop|.section .ram,\"ax\"|bx lr|.text|.thumb|nop @! mode-mismatch|bx lr"},
		{name: "in a macro", src: v5A + ".macro enter|.thumb|nop|.endm|nop|enter @! mode-mismatch|bx lr"},

		// Branches to the other state.
		{name: "b to T16", src: v5A + "b t @! mode-mismatch|.thumb|t: bx lr"},
		{name: "b under a condition to T16", src: v5A + "beq t @! mode-mismatch|bx lr|.thumb|t: bx lr"},
		{name: "bl to T16", src: v5A + "bl t @! mode-mismatch|bx lr|.thumb|t: bx lr"},
		{name: "bl under a condition to T16", src: v5A + "blne t @! mode-mismatch|bx lr|.thumb|t: bx lr"},
		{name: "blt to T16", src: v5A + "blt t @! mode-mismatch|bx lr|.thumb|t: bx lr"},
		{name: "bls to T16", src: v5A + "bls t @! mode-mismatch|bx lr|.thumb|t: bx lr"},
		{name: "bleq to T16", src: v5A + "bleq t @! mode-mismatch|bx lr|.thumb|t: bx lr"},
		{name: "blx to T16", src: v5A + "blx t|bx lr|.thumb|t: bx lr"},
		{name: "bl to a marked function", src: v5A + "bl t|bx lr|.thumb|.thumb_func|t: bx lr"},
		{name: "bl to a function by .type", src: v5A + "bl t|bx lr|.thumb|.type t,%function|t: bx lr"},
		{name: "b to A32", src: v5T + "b a @! mode-mismatch|.arm|.align 2|a: bx lr"},
		{name: "b under a condition to A32", src: v5T + "beq a @! mode-mismatch|bx lr|.arm|.align 2|a: bx lr"},
		{name: "bl to A32", src: v5T + "bl a @! mode-mismatch|bx lr|.arm|.align 2|a: bx lr"},
		{name: "bl to an A32 function", src: v5T + "bl a|bx lr|.arm|.align 2|.type a,%function|a: bx lr"},
		{name: "blx to A32", src: v5T + "blx a|bx lr|.arm|.align 2|a: bx lr"},
		{name: "blx to T16 from T16", src: v5T + "nop|blx t @! mode-mismatch|bx lr|t: bx lr"},
		{name: "b to T16 from T16", src: v5T + "b t|t: bx lr"},
		{name: "b to A32 from A32", src: v5A + "b a|a: bx lr"},
		{name: "b to a numeric label of T16", src: v5A + "b 1f @! mode-mismatch|.thumb|1: bx lr"},
		{name: "b to a name of another file", src: v5A + "b other"},
		{name: "b to data", src: v5A + "b w|w: .word 1"},
		{name: "b to T16 a bit further", src: v5A + "b t+4 @! mode-mismatch|.thumb|t: nop|nop|bx lr"},
		{name: "bl to T16 behind labels and alignment", src: v5A + "bl t @! mode-mismatch|bx lr|t:|u:|.thumb|.align 2|nop|bx lr"},
		{name: "cbz stays", src: v7T + "cbz r0,t|bx lr|t: bx lr"},

		// Code at odd places. T16 code is at even addresses, A32 code at
		// multiples of 4 (DDI 0406C, A2.3 "Arm core registers", on PC).
		{name: "T16 code behind a byte", src: v5T + ".byte 1|nop @! code-alignment|nop|bx lr", alone: true},
		{name: "T16 code behind two bytes", src: v5T + ".byte 1,2|nop|bx lr"},
		{name: "A32 code behind a halfword", src: v5A + ".hword 1|nop @! code-alignment|bx lr", alone: true},
		{name: "A32 code behind a word", src: v5A + ".word 1|nop|bx lr"},
		{name: "T16 code behind an alignment", src: v5T + ".byte 1|.balign 2|nop|bx lr"},
		{name: "odd, even and odd again", src: v5T + ".byte 1|nop @! code-alignment|.byte 1|nop|.byte 1|nop @! code-alignment|bx lr", alone: true},
		{name: "A32 behind one T16 line", src: v5T + "b .|.arm|nop|bx lr"},
		{name: "T16 behind text of three bytes", src: v5T + ".asciz \"ab\"|nop @! code-alignment|bx lr", alone: true},
		{name: "behind what has no size", src: v5T + ".byte 1|.incbin \"points.bin\"|nop|bx lr", alone: true},
		{name: "bx pc between words", src: v5T + ".balign 4|nop|bx pc @! code-alignment|nop|.arm|nop|bx lr"},
		{name: "bx pc at a word", src: v5T + ".balign 4|bx pc|nop|.arm|nop|bx lr"},
		{name: "bx pc in a section that is aligned to halfwords", src: v5T + ".section .ram,\"ax\"|nop|bx pc|nop"},

		// Data at odd places: with only a label somebody may load it.
		{name: "a word behind a byte", src: ".byte 1|w: .word 1 @! data-alignment"},
		{name: "a word behind a halfword", src: ".hword 1|w: .word 1 @! data-alignment"},
		{name: "a halfword behind a byte", src: ".byte 1|w: .hword 1 @! data-alignment"},
		{name: "a halfword behind a halfword", src: ".hword 1|w: .hword 1"},
		{name: "a doubleword behind a word", src: ".word 1|w: .quad 1"},
		{name: "a doubleword behind a halfword", src: ".hword 1|w: .quad 1 @! data-alignment"},
		{name: "a byte behind a byte", src: ".byte 1|w: .byte 1"},
		{name: "without a label", src: ".byte 1|.word 1"},
		{name: "a label further up", src: "w: .byte 1|.word 1"},
		{name: "a label over a constant", src: ".byte 1|w:|.equ x,1|.word 1 @! data-alignment"},
		{name: "an aligned word", src: ".byte 1|.align 2|w: .word 1"},
	}, "pool-in-path", "mode-mismatch", "code-alignment", "data-alignment")
}
