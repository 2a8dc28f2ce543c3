package analysis_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
)

// columnCase is a source in columns; lines with errors have a comment ";!". dots is
// the same with dots, which has to give every label the same place; the reference
// assembler has that, too.
type columnCase struct{ name, src, dots string }

var columnLabel = regexp.MustCompile(`(?m)^([A-Za-z_]\w*)\b`)

// columnPlaces are the places of the labels of a source in columns, by name.
func columnPlaces(t *testing.T, r *analysis.Result, text string) map[string]int64 {
	out := map[string]int64{}
	for _, m := range columnLabel.FindAllStringIndex(text, -1) {
		if sec, n := place(t, r, m[0]); sec != "" {
			out[text[m[0]:m[1]]] = n
		}
	}
	return out
}

// TestColumnTable holds what the column dialect has beyond the dots.
func TestColumnTable(t *testing.T) {
	const code = " AREA ¦.text¦, CODE| THUMB|"
	const data = " AREA ¦.data¦, DATA|"
	const dcode, ddata = ".text|.syntax unified|.thumb|", ".data|"
	cases := []columnCase{
		// Data aligns itself, but for some.
		{"words", data + "a DCB 1|b DCD 1|c DCB 1|d DCW 1|e DCB 1|f DCQ 1|g", ddata + "a: .byte 1|.balign 4|b: .word 1|c: .byte 1|.balign 2|d: .hword 1|e: .byte 1|.balign 4|f: .quad 1|g:"},
		{"words where they are", data + "a DCB 1|b DCDU 1|c DCB 1|d DCWU 1|e DCQU 1|f", ddata + "a: .byte 1|b: .word 1|c: .byte 1|d: .hword 1|e: .quad 1|f:"},
		{"the label stands where the data does", data + "a DCB 1|b|c DCD 1|d", ddata + "a: .byte 1|b: .balign 4|c: .word 1|d:"},
		{"strings", data + "a DCB \"ab\"|b DCB \"ab\", 0, \"c\"|c = 1, 2|d DCB \"\"\"\"|e", ddata + "a: .ascii \"ab\"|b: .asciz \"ab\"|.ascii \"c\"|c: .byte 1,2|d: .ascii \"x\"|e:"},
		{"words by &", data + "a DCB 1|b & 1, 2|c", ddata + "a: .byte 1|.balign 4|b: .word 1,2|c:"},
		{"space", data + "a SPACE 3|b % 2|c FILL 4|d FILL 4, 1|e FILL 8, 1, 2|f", ddata + "a: .space 3|b: .space 2|c: .space 4|d: .space 4|e: .space 8|f:"},
		{"code aligns itself", " AREA ¦.text¦, CODE| THUMB|a DCB 1|b NOP|c DCB 1| ARM|d NOP|e", ".text|.syntax unified|.thumb|a: .byte 1|.balign 2|b: nop|c: .byte 1|.arm|d: nop|e:"},

		// ALIGN.
		{"ALIGN", data + "a DCB 1| ALIGN|b DCB 1|c", ddata + "a: .byte 1|.balign 4|b: .byte 1|c:"},
		{"ALIGN 1", data + "a DCB 1| ALIGN 1|b DCB 1|c", ddata + "a: .byte 1|b: .byte 1|c:"},
		{"ALIGN 8", data + "a DCB 1| ALIGN 8|b DCB 1|c", ddata + "a: .byte 1|.balign 8|b: .byte 1|c:"},
		{"ALIGN with an offset", data + "a DCB 1| ALIGN 8, 3|b DCB 1| ALIGN 4, 3|c DCB 1| ALIGN 4, 3|d", ddata + "a: .byte 1|.space 2|b: .byte 1|.space 3|c: .byte 1|.space 3|d:"},
		{"ALIGN with an offset beyond", data + "a DCB 1| ALIGN 4, 6|b", ddata + "a: .byte 1|.space 1|b:"},
		{"ALIGN 3", data + " ALIGN 3 ;!", ""},
		{"ALIGN 0", data + " ALIGN 0 ;!", ""},
		{"ALIGN -4", data + " ALIGN -4 ;!", ""},

		// A name by itself in front of its directive.
		{"a name behind a backslash", data + "n \\|  EQU 3|m\\|  EQU n+1|a DCB n|b SPACE m|c", ddata + ".equ n, 3|.equ m, n+1|a: .byte n|b: .space m|c:"},
		{"a register behind a backslash", code + "count \\| RN R3|a MOVS count, #1|b", dcode + "count .req r3|a: movs count, #1|b:"},
		{"a label behind a backslash", code + "a \\| NOP|b NOP|c", dcode + "a: nop|b: nop|c:"},
		{"status registers in upper case", " AREA ¦.text¦, CODE| ARM|a MSR SPSR_CXSF, R0| MSR CPSR_C, #0xD3| MSR cpsr_FC, R1|b", ".text|.syntax unified|.arm|a: msr spsr_cxsf, r0|msr cpsr_c, #0xD3|msr cpsr_fc, r1|b:"},
		{"no such status register", " AREA ¦.text¦, CODE| ARM| MSR SPSR_CXSG, R0 ;!", ""},

		// Sections.
		{"AREA again", data + "a DCB 1| AREA x, DATA|b DCB 1| AREA ¦.data¦, DATA|c DCB 1", ddata + "a: .byte 1|.section x|b: .byte 1|.data|c: .byte 1"},
		{"AREA with an alignment", " AREA x, DATA, ALIGN=4|a DCB 1", ""},
		{"AREA with too large an alignment", " AREA x, DATA, ALIGN=32 ;!", ""},
		{"AREA with an attribute that is nearly one", " AREA x, DATA, READWRIET ;!", ""},

		// Constants and variables.
		{"EQU", data + "x EQU 3|a SPACE x|b", ddata + "a: .space 3|b:"},
		{"EQU by *", data + "x * 3|a SPACE x|b", ddata + "a: .space 3|b:"},
		{"EQU twice", "x EQU 3|x EQU 4 ;!", ""},
		{"SETA", data + " GBLA n|n SETA 2|a SPACE n|n SETA n+3|b SPACE n|c", ddata + "a: .space 2|b: .space 5|c:"},
		{"SETA of nothing made", "n SETA 2 ;!", ""},
		{"SETA of another kind", " GBLL n|n SETA 2 ;!", ""},
		{"SETA of a string", " GBLA n|n SETA \"x\" ;!", ""},
		{"SETL", data + " GBLL n|n SETL {TRUE}| IF n|a SPACE 3| ENDIF|n SETL 1 > 2| IF n|b SPACE 5| ENDIF|c", ddata + "a: .space 3|c:"},
		{"SETS", data + " GBLS n|n SETS \"ab\"|a DCB n|n SETS n :CC: \"c\"|b DCB n|c", ddata + "a: .ascii \"ab\"|b: .ascii \"abc\"|c:"},
		{"a name in a text", data + " GBLA n|n SETA 3| SPACE $n|b", ddata + ".space 3|b:"},
		{"a string in a line", data + " GBLS s|s SETS \"SPACE\"| $s 3|b", ddata + ".space 3|b:"},
		{"a string in a name", data + " GBLS s|s SETS \"lamp\"|$s._a DCB 1|b DCB 1", ddata + ".byte 1|b: .byte 1"},
		{"a local variable outside", " LCLA n ;!", ""},
		{"MAP and FIELD", data + " MAP 8|x FIELD 4|y FIELD 2|z FIELD 0|a SPACE x|b SPACE y|c SPACE z|d", ddata + "a: .space 8|b: .space 12|c: .space 14|d:"},
		{"MAP by ^ and #", data + " ^ 1|x # 4|y # 4|a SPACE y|b", ddata + "a: .space 5|b:"},
		{"MAP anew", data + " MAP 8|x FIELD 4| MAP 0|y FIELD 3|z FIELD 1|a SPACE z|b", ddata + "a: .space 3|b:"},
		{"MAP with a register", code + " MAP 0, r1|x FIELD 4|y FIELD 4|a LDR r0, y|b LDR r0, x|c", dcode + "a: ldr r0,[r1,#4]|b: ldr r0,[r1]|c:"},
		{"shifts and rotations", data + "a SPACE 1:SHL:3|b SPACE 40:SHR:3|c SPACE 1:ROL:4|d SPACE 96:ROR:5|e SPACE 0x80000001:ROL:3|f SPACE 0x30000000:ROL:4|g SPACE 3:ROR:32|h", ddata + "a: .space 8|b: .space 5|c: .space 16|d: .space 3|e: .space 12|f: .space 3|g: .space 3|h:"},
		{"logical operators", data + "a SPACE 6:AND:3|b SPACE 6:OR:3|c SPACE 6:EOR:3|d SPACE 7:MOD:4|e SPACE (:NOT:1):AND:7|f", ddata + "a: .space 2|b: .space 7|c: .space 5|d: .space 3|e: .space 6|f:"},
		{"the register of a field", data + " MAP 4, r9|x FIELD 4|y FIELD 4|a SPACE :BASE:y|b SPACE :INDEX:y|c", ddata + "a: .space 9|b: .space 8|c:"},
		{"MAP with what is no register", " MAP 0, x ;!", ""},
		{"a field below nothing", " MAP 0|x FIELD -1 ;!", ""},

		// Conditions.
		{"IF", data + " IF 1 = 1|a DCB 1| ELSE|b DCB 1,2| ENDIF|c", ddata + "a: .byte 1|c:"},
		{"IF, not so", data + " IF 1 = 2|a DCB 1| ELSE|b DCB 1,2| ENDIF|c", ddata + "b: .byte 1,2|c:"},
		{"ELIF", data + " IF 1 = 2|a DCB 1| ELIF 2 = 2|b DCB 1,2| ELSE|c DCB 1,2,3| ENDIF|d", ddata + "b: .byte 1,2|d:"},
		{"by brackets", data + " [ 1 = 2|a DCB 1| ¦|b DCB 1,2| ]|c", ddata + "b: .byte 1,2|c:"},
		{"IF with two sides", data + " IF (1 < 2) :LAND: (2 < 3)|a DCB 1| ENDIF| IF (1 > 2) :LOR: (2 > 3)|b DCB 1| ENDIF|c", ddata + "a: .byte 1|c:"},
		{"IF of a name", data + " IF :DEF: x|a DCB 1| ENDIF|x EQU 1| IF :DEF: x|b DCB 1| ENDIF| IF :LNOT: :DEF: y|c DCB 1| ENDIF|d", ddata + "b: .byte 1|c: .byte 1|d:"},
		{"IF of texts", data + " GBLS s|s SETS \"a\"| IF s = \"a\"|a DCB 1| ENDIF| IF s < \"a\"|b DCB 1| ENDIF| IF s <> \"b\"|c DCB 1| ENDIF|d", ddata + "a: .byte 1|c: .byte 1|d:"},
		{"IF of a string", " GBLS s|s SETS \"a\"| IF s ;!| ENDIF", ""},
		{"IF of what is not defined", " IF x = 1 ;!| ENDIF", ""},
		{"IF without an end", " IF 1 = 1 ;!", ""},
		{"operators", data + "a SPACE 7:MOD:4|b SPACE 1:SHL:2|c SPACE 8:SHR:1|d SPACE 6:AND:3|e SPACE 4:OR:1|f SPACE 6:EOR:3|g SPACE :LEN:\"abcd\"|h SPACE 2_101|i SPACE &10|j SPACE 8_10|k", ddata + "a: .space 3|b: .space 4|c: .space 4|d: .space 2|e: .space 5|f: .space 5|g: .space 4|h: .space 5|i: .space 16|j: .space 8|k:"},
		{"an inverse", data + "a SPACE :NOT:-4|b", ddata + "a: .space 3|b:"},
		{"texts of numbers", data + "a DCB :STR:1|b DCB :CHR:65|c DCB \"abc\":LEFT:2|d DCB \"abc\":RIGHT:1|e DCB :UPPERCASE:\"ab\"|f", ddata + "a: .space 8|b: .space 1|c: .space 2|d: .space 1|e: .space 2|f:"},
		{"ASSERT", " ASSERT 1 = 1| ASSERT 1 = 2 ;!", ""},
		{"ASSERT of a place", data + "a DCD 1|b| ASSERT b - a = 4| ASSERT b - a = 5 ;!", ""},
		{"INFO without a text", " INFO 1 ;!", ""},
		{"INFO with a number for a text", " INFO 1, 2 ;!", ""},
		{"INFO", " INFO 0, \"x\"| INFO 1, \"x\" ;!", ""},

		// Loops.
		{"WHILE", data + " GBLA n|n SETA 3| WHILE n > 0| DCB 1|n SETA n-1| WEND|a", ddata + ".space 3|a:"},
		{"WHILE, never", data + " WHILE 1 = 2| DCB 1| WEND|a", ddata + "a:"},
		{"WHILE in WHILE", data + " GBLA n| GBLA m|n SETA 2| WHILE n > 0|m SETA 3| WHILE m > 0| DCB 1|m SETA m-1| WEND|n SETA n-1| WEND|a", ddata + ".space 6|a:"},
		{"WHILE without an end", " WHILE 1 = 2 ;!", ""},
		{"WEND alone", " WEND ;!", ""},

		// Macros.
		{"MACRO", data + " MACRO| two $x| DCB $x| DCB $x| MEND| two 1|a two 2|b", ddata + ".byte 1,1|a: .byte 2,2|b:"},
		{"MACRO with a label", data + " MACRO|$l two $x|$l DCB $x, $x| MEND|a two 1|b two 2|c", ddata + ".byte 1,1|.byte 2,2|c:"},
		{"MACRO with a default", data + " MACRO| some $x=3| SPACE $x| MEND| some ¦|a some 2|b", ddata + ".space 3|a: .space 2|b:"},
		{"MACRO with names within", data + " MACRO|$l wait $x|$l.a$x DCB 1|$l.b DCB 1| MEND|k wait 1|m wait 2|c", ddata + ".byte 1,1,1,1|c:"},
		{"MACRO with too much", " MACRO| one $x| MEND| one 1, 2 ;!", ""},
		{"MACRO with local variables", data + " MACRO| rep $x| LCLA n|n SETA $x| WHILE n > 0| DCB 1|n SETA n-1| WEND| MEND| rep 2|a rep 3|b", ddata + ".space 2|a: .space 3|b:"},
		{"MACRO that is left", data + " MACRO| one $x| DCB 1| IF $x = 0| MEXIT| ENDIF| DCB 2| MEND| one 0|a one 1|b", ddata + ".byte 1|a: .byte 1,2|b:"},
		{"MACRO left from a loop", data + " MACRO| one| WHILE 1 = 1| DCB 1| MEXIT| WEND| DCB 2| MEND| one|a", ddata + ".byte 1|a:"},
		{"MACRO in MACRO", data + " MACRO| one $x| DCB $x| MEND| MACRO| two $x| one $x| one $x| MEND| two 1|a", ddata + ".byte 1,1|a:"},
		{"MACRO twice", " MACRO| one| MEND| MACRO| one ;!| MEND", ""},
		{"MACRO without an end", " MACRO ;!| one", ""},
		{"MACRO without a name", " MACRO ;!| MEND", ""},

		// Local labels.
		{"behind", code + "1 NOP|a B %b1|b", dcode + "1: nop|a: b 1b|b:"},
		{"ahead", code + "a B %f1|1 NOP|b", dcode + "a: b 1f|1: nop|b:"},
		{"behind before ahead", code + "1 NOP|a B %1|1 NOP|b", dcode + "1: nop|a: b 1b|1: nop|b:"},
		{"none behind, so ahead", code + "a B %1|1 NOP|b", dcode + "a: b 1f|1: nop|b:"},
		{"none behind", code + "a B %b1 ;!|1 NOP", ""},
		{"none ahead", code + "1 NOP|a B %f1 ;!", ""},
		{"behind a ROUT", code + "1 NOP|r ROUT|a B %b1 ;!", ""},
		{"ahead over a ROUT", code + "a B %f1 ;!|r ROUT|1 NOP", ""},
		{"with the routine's name", code + "r ROUT|1r NOP|a B %b1r", dcode + "1: nop|a: b 1b"},
		{"with another routine's name", code + "r ROUT|1q NOP ;!", ""},
		{"of another section", code + "1 NOP| AREA y, CODE|a B %b1 ;!", ""},
		{"of what calls a macro", code + " MACRO| go| B %b1| MEND|1 NOP| go|a", dcode + "1: nop|b 1b|a:"},
		{"of the macro alone", code + " MACRO| go| B %bt1| MEND|1 NOP| go ;!", ""},
		{"of an earlier call", code + " MACRO| go|1 NOP| MEND| go| B %b1 ;!", ""},

		// Names of registers.
		{"RN", code + "lamp RN 3|a MOVS lamp, #1|b", dcode + "a: movs r3,#1|b:"},
		{"RLIST", code + "some RLIST {r4-r6}|a PUSH some|b", dcode + "a: push {r4-r6}|b:"},
		{"RLIST of what is no register", code + "some RLIST {r4, x} ;!", ""},

		// Pools, other files, ends.
		{"LTORG", code + "a LDR r0, =0x12345678| BX lr| LTORG|b NOP", dcode + "a: ldr r0,=0x12345678|bx lr|.ltorg|b: nop"},
		{"END", data + "a DCB 1| END|b nonsense here", ddata + "a: .byte 1"},
		{"no file of that name", " GET none.s ;!", ""},
		{"a line that goes on", data + "a DCB 1, \\|  2, 3|b", ddata + "a: .byte 1,2,3|b:"},
		{"numbers", data + "a SPACE 0x10|b SPACE 'a' - 96|c SPACE 2_11|d", ddata + "a: .space 16|b: .space 1|c: .space 3|d:"},
		{"a colon behind a label", data + "a: DCB 1 ;!", ""},
		{"names that are nearly directives", " DCDD 1 ;!", ""},
		{"states", " AREA ¦.text¦, CODE| CODE16|a NOP| CODE32|b NOP| THUMB|c NOP|d", ".text|.thumb|a: nop|.arm|b: nop|.thumb|c: nop|d:"},
	}
	set := &analysis.Settings{Dialect: "columns"}
	var texts []string
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			text := lines(c.src)
			r := (program{text: text, set: set, files: map[string]string{}}).analyze(t)
			var want []int
			for i, l := range strings.Split(text, "\n") {
				if strings.Contains(l, ";!") {
					want = append(want, i+1)
				}
			}
			if got := errorLines(r, text); !slices.Equal(got, want) {
				t.Errorf("errors in lines %v, want %v in\n%s", got, want, text)
				for _, d := range r.Each() {
					t.Logf("%s %s: %s", d.Severity, d.Code, d.Message)
				}
			}
			if c.dots == "" {
				return
			}
			dots := lines(c.dots)
			texts = append(texts, dots)
			other := (program{text: dots}).analyze(t)
			if bad := errorLines(other, dots); len(bad) > 0 {
				t.Errorf("with dots, errors in lines %v", bad)
			}
			got := columnPlaces(t, r, text)
			for _, m := range labelAt.FindAllStringSubmatchIndex(dots, -1) {
				for _, n := range eachName.FindAllStringIndex(dots[m[2]:m[3]], -1) {
					label := dots[m[2]+n[0] : m[2]+n[1]-1]
					if label[0] >= '0' && label[0] <= '9' {
						continue
					}
					_, at := place(t, other, m[2]+n[0])
					if here, ok := got[label]; !ok || here != at {
						t.Errorf("%s is at %d, with dots at %d", label, here, at)
					}
				}
			}
		})
	}
	t.Run("reference", func(t *testing.T) {
		reftest.Require(t, "arm-none-eabi-as")
		texts = reftest.Recorded(texts, oneIn)
		inTurns(len(texts), func(i int) {
			ref, asked := reftest.AssembleRecorded(t, reftest.Options{}, texts[i])
			if !asked {
				return
			}
			if !ref.OK {
				t.Errorf("the reference assembler refuses\n%s", texts[i])
				return
			}
			samePlaces(t, texts[i], (program{text: texts[i]}).analyze(t), texts[i], ref)
		})
	})
}
