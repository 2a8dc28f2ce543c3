package analysis_test

import (
	"testing"

	"narrowgauge/analysis"
)

// TestBlockTable holds which lines may be in an IT block, and how far one goes
// (DDI 0406C, A8.8.54 "IT").
func TestBlockTable(t *testing.T) {
	m := ".arch armv7-m|" + u16
	always := &analysis.Settings{ImplicitIT: "always"}
	inserts := []string{"-mimplicit-it=always"}
	runVerdicts(t, []verdictCase{
		// Length and pattern.
		{name: "one", src: m + "it eq|moveq r0,#1|mov r0,#1"},
		{name: "one, and another with a condition", src: m + "it eq|moveq r0,#1|moveq r0,#1 @!"},
		{name: "two", src: m + "itt eq|moveq r0,#1|moveq r0,#2|mov r0,#1"},
		{name: "two, the second without a condition", src: m + "itt eq|moveq r0,#1|mov r0,#2 @!"},
		{name: "then and else", src: m + "ite eq|moveq r0,#1|movne r0,#2"},
		{name: "then and else, the wrong way", src: m + "ite eq|movne r0,#1 @!|moveq r0,#2 @!"},
		{name: "else where then is said", src: m + "itt eq|moveq r0,#1|movne r0,#2 @!"},
		{name: "four", src: m + "itete ge|movge r0,#1|movlt r0,#2|movge r0,#3|movlt r0,#4|mov r0,#5"},
		{name: "four, the last one wrong", src: m + "itttt ge|movge r0,#1|movge r0,#2|movge r0,#3|movlt r0,#4 @!"},
		{name: "five", src: m + "ittttt eq @!|nop"},
		{name: "no condition", src: m + "it @!|nop"},
		{name: "no such condition", src: m + "it xx @!|nop"},
		{name: "no pattern of that kind", src: m + "itx eq @!|nop"},
		{name: "opposites", src: m + "ite cs|movcs r0,#1|movcc r0,#2|ite hi|movhi r0,#1|movls r0,#2|ite gt|movgt r0,#1|movle r0,#2|ite vs|movvs r0,#1|movvc r0,#2|ite mi|movmi r0,#1|movpl r0,#2"},
		{name: "two names of one condition", src: m + "it cs|movhs r0,#1|it lo|movcc r0,#1"},
		{name: "always", src: m + "it al|mov r0,#1 @!"},
		{name: "always, with a branch", src: m + "it al|bal .+4"},
		{name: "always, and else", src: m + "ite al|nop|nop"},

		// What has a condition has to be in a block.
		{name: "outside", src: m + "moveq r0,#1 @!"},
		{name: "a branch outside", src: m + "beq .+4"},
		{name: "a call outside", src: m + "bleq other @!"},
		{name: "a return outside", src: m + "bxeq lr @!"},
		{name: "on an architecture without blocks", src: ".arch armv4t|" + u16 + "moveq r0,#1 @!"},
		{name: "a block on an architecture without them", src: ".arch armv4t|" + u16 + "it eq @!|nop"},
		{name: "a block of one on the baseline of ARMv8-M", src: ".arch armv8-m.base|" + u16 + "it eq @!|nop"},

		// What may not be in one.
		{name: "a block", src: m + "itt eq|moveq r0,#1|it ne @!"},
		{name: "cbz", src: m + "it eq|cbz r0,.+4 @!"},
		{name: "cps", src: m + "it eq|cpsieq i @!"},
		{name: "a breakpoint needs no condition", src: m + "it eq|bkpt #1"},
		{name: "a breakpoint in the middle", src: m + "itt eq|bkpt #1|moveq r0,#1"},
		{name: "what sets the flags in a halfword", src: m + "it eq|addseq r0,r1"},
		{name: "what keeps the flags in a halfword", src: m + "it eq|addeq r0,r1"},
		{name: "a comparison sets them", src: m + "it eq|cmpeq r0,#1"},
		{name: "a narrow one that sets the flags", src: m + "it eq|addseq.n r0,r0,r1 @!"},
		{name: "a narrow one that keeps the flags, outside", src: m + "add.n r0,r0,r1|add.n r0,r1,r2 @!"},

		// What goes elsewhere is last.
		{name: "a branch, last", src: m + "itt eq|moveq r0,#1|beq .+4"},
		{name: "a branch, not last", src: m + "itt eq|beq .+4 @!|moveq r0,#1"},
		{name: "a return, not last", src: m + "itt eq|bxeq lr @!|moveq r0,#1"},
		{name: "a call, not last", src: m + "itt eq|bleq other @!|moveq r0,#1"},
		{name: "a pop with pc, last", src: m + "itt eq|moveq r0,#1|popeq {r4,pc}"},
		{name: "a pop with pc, not last", src: m + "itt eq|popeq {r4,pc}|moveq r0,#1"},
		{name: "a table branch, not last", src: m + "itt eq|tbbeq [pc,r0] @!|moveq r0,#1"},
		{name: "a move to pc, not last", src: m + "itt eq|moveq pc,lr @!|moveq r0,#1"},
		{name: "a load of pc, not last", src: m + "itt eq|ldreq pc,[r0] @!|moveq r0,#1"},

		// What is between.
		{name: "a label", src: m + "itt eq|moveq r0,#1|l: moveq r0,#2|mov r0,#1"},
		{name: "data", src: m + "itt eq|moveq r0,#1|.hword 1|moveq r0,#2|mov r0,#1"},
		{name: "a constant", src: m + "itt eq|moveq r0,#1|.equ x,1|moveq r0,#2|mov r0,#1"},
		{name: "another section", src: m + "itt eq|moveq r0,#1|.section .ram,\"ax\"|mov r0,#3|.text|moveq r0,#2|mov r0,#1"},
		{name: "a block in each of two sections", src: m + "itt eq|moveq r0,#1|.section .ram,\"ax\"|it ne|movne r0,#3|.text|moveq r0,#2"},
		{name: "a macro", src: m + ".macro two|moveq r0,#1|moveq r0,#2|.endm|ittt eq|two|moveq r0,#3|mov r0,#4"},
		{name: "a repetition", src: m + "itttt eq|.rept 4|moveq r0,#1|.endr|mov r0,#4"},
		{name: "a number for an instruction", src: m + "itt eq|.inst.n 0xbf00|moveq r0,#2|mov r0,#1"},
		{name: "a line that has no encoding takes its slot", src: m + "itt eq|moveq r0,r99 @!|moveq r0,#2|mov r0,#1", ours: "a line that cannot be read takes none there"},
		{name: "a line without a condition takes its slot", src: m + "itte eq|mov r0,#1 @!|moveq r0,#2|movne r0,#3|mov r0,#4"},
		{name: "a line of another condition takes its slot", src: m + "itte eq|movlt r0,#1 @!|moveq r0,#2|movne r0,#3|mov r0,#4"},
		{name: "a block that is refused opens none", src: m + "ittx eq @!|mov r0,#1"},
		{name: "open at the end", src: m + "itt eq|moveq r0,#1"},

		// No operation takes any condition, and none.
		{name: "no operation", src: m + "itt eq|nopeq|nop|it eq|nopne"},
		{name: "no operation outside", src: m + "nopeq"},

		// In A32 code.
		{name: "in A32 code it makes nothing", src: ".arch armv7-a|.syntax unified|.arm|it eq|a: moveq r0,#1|mov r0,#2"},
		{name: "in A32 code it is checked", src: ".arch armv7-a|.syntax unified|.arm|it eq|movne r0,#1 @!"},
		{name: "in A32 code a condition needs none", src: ".arch armv7-a|.syntax unified|.arm|moveq r0,#1"},
		{name: "in A32 code on an older architecture", src: ".arch armv4t|.syntax unified|.arm|it eq|moveq r0,#1"},
		{name: "in A32 code, divided", src: ".arch armv7-a|.syntax divided|.arm|it eq|movne r0,#1"},

		// Blocks that the assembler makes.
		{name: "inserted", src: m + "moveq r0,#1|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, four", src: m + "moveq r0,#1|movne r0,#2|moveq r0,#3|moveq r0,#4|moveq r0,#5|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, another condition", src: m + "moveq r0,#1|movlt r0,#2|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, ended by a label", src: m + "moveq r0,#1|k: moveq r0,#2|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, ended by what jumps", src: m + "bxeq lr|moveq r0,#2|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, not for a branch", src: m + "beq .+4|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, a branch in the block", src: m + "moveq r0,#1|beq l|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, two sections", src: m + "moveq r0,#1|.section .ram,\"ax\"|moveq r0,#3|a: nop|.text|moveq r0,#2|l: mov r0,#2", set: always, flags: inserts},
		{name: "inserted, then A32 of its condition", src: t32 + "moveq r0,#1|.arm|moveq r0,#2|movne r0,#3|mov r0,#4|l:", set: always, flags: inserts},
		{name: "inserted beside a written one", src: m + "it eq|moveq r0,#1|moveq r0,#2|l: mov r0,#3", set: always, flags: inserts},
		{name: "not inserted where it is off", src: m + "moveq r0,#1 @!", set: &analysis.Settings{ImplicitIT: "never"}, flags: []string{"-mimplicit-it=never"}},
		{name: "not inserted where it is for A32", src: m + "moveq r0,#1 @!", set: &analysis.Settings{ImplicitIT: "arm"}, flags: []string{"-mimplicit-it=arm"}},
		{name: "inserted where it is for T32", src: m + "moveq r0,#1|l:", set: &analysis.Settings{ImplicitIT: "thumb"}, flags: []string{"-mimplicit-it=thumb"}},
	})
}
