package analysis_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// completionsAt lists what is offered where a '^' is in a text, without it.
func completionsAt(t *testing.T, text string) []analysis.Completion {
	t.Helper()
	off := strings.IndexByte(text, '^')
	text = strings.Replace(text, "^", "", 1)
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.s", File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	list, span := r.CompletionsIn("a.s", off)
	if len(list) > 0 && (span.Start > off || span.End < off) {
		t.Errorf("%q: the word is at %v, the place at %d", text, span, off)
	}
	return list
}

// TestCompletionTable holds what is offered at some places, and what is not.
func TestCompletionTable(t *testing.T) {
	for _, tt := range []struct{ text, want, not string }{
		{".cpu cortex-m0|.syntax unified|.thumb|\tad^", "adds add adcs adr", "addw addeq"},
		{".cpu cortex-m0|.syntax unified|.thumb|\t^", "movs b beq ldr push .word", "moveq"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmovs ^", "r0 r7", "r8 sp"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmov ^", "r0 r8 sp", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|\tadds r0, ^", "r0 r7", "r8"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, [^", "r0 sp pc", "r8"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, [r1, ^", "r0 r7", "r8 sp"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tpush {r4, ^", "r0 lr", "pc r8"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tpop {r4-r7, ^", "pc", "lr"},
		{".cpu cortex-m0|.syntax unified|.thumb|POINTS = 12|MANY = 400|\tmovs r0, #^", "POINTS MANY", "l"},
		{".cpu cortex-m0|.syntax unified|.thumb|near: b ^", "near far", "r0 K"},
		{".cpu cortex-m0|.syntax unified|.thumb|lamp_on: b lamp_o^", "lamp_on", "lamp_o"},
		{".cpu cortex-m0|.syntax unified|.thumb|.extern lamp_o|lamp_on: b lamp_o^", "lamp_on lamp_o", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|lamp .req r5|\tmovs l^", "lamp", "lr"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tMOVS R^", "R0 R7", "r0 R8"},
		{".cpu cortex-m0|.syntax unified|.thumb|.macro signal a|.endm|\tsi^", "signal", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmsr ^", "primask apsr", "r0"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmrs r0, ^", "primask apsr", "basepri"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tmrs r0, ^", "primask basepri", ""},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp r0, #1|\tit eq|\tmov^", "moveq", "mov movs"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp r0, #1|\titte eq|\tmo^", "moveq", "movne mov"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp r0, #1|\titte eq|\tnop|\tmoveq r0, r1|\tmo^", "movne", "moveq mov"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp r0, #1|\tit eq|\tmoveq r0, r1|\tmo^", "movs mov", "moveq"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp r0, #1|\tit eq|\taddeq.^", "addeq.w", "addne.w"},
		// What is in force in the body of a macro is that of where it is called.
		{".cpu cortex-a8|.syntax unified|.arm|.macro signal lamp|.Lon: mo^|.endm|\tsignal r0", "mov moveq", ""},
		{".cpu cortex-a8|.syntax unified|.thumb|.macro signal lamp|\tmo^|.endm|\tsignal r0", "mov movs", ""},
		{".cpu cortex-a8|.syntax unified|.thumb|.macro signal lamp|\tmovs ^|.endm|\tsignal r0", "r0", "near"},
		{".cpu cortex-a8|.syntax unified|.thumb|.macro signal lamp|\tmovs \\lamp, ^|.endm|\tsignal r0", "r0", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|.macro signal lamp|.Lon\\@:|\tb ^|.endm|\tsignal r0", ".Lon\\@ near", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|.macro signal lamp|panel .req r4|.Loff:|\tb .L^|.endm", ".Loff", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|.macro signal lamp|panel .req r4|\tmovs p^|.endm", "panel", ""},
		{".altmacro|.cpu cortex-m0|.syntax unified|.thumb|.macro signal lamp|\tmovs l^|.endm", "lamp", ""},
		{".altmacro|.cpu cortex-m0|.syntax unified|.thumb|.macro signal lamp|.endm|\tmovs l^", "", "lamp"},
		{".cpu cortex-m0|.syntax unified|.thumb|.if 0|.Loff:|\tb .L^|.endif", ".Loff", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|.rept 4|\tadds r0, ^|.endr", "r0", "r8"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tadd r0, r1, r2, ^", "lsl ror rrx", "near"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmove^", "moveq", ""},
		{".cpu arm7tdmi|.syntax unified|.arm|\tldm^", "ldm ldmia ldmdb", ""},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmovs r0, r1, ^", "lsl", "r2"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmsr ^", "cpsr_c spsr_fsxc", "primask"},
		{".cpu arm7tdmi|.syntax divided|.arm|\tldreq^", "ldreqb ldreqh", "ldrbeq"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tbl s^", "", "sp"},
		{".syntax ^", "unified divided", ""},
		{".cpu cortex-m^", "cortex-m0 cortex-m3", ""},
		{"nop @ mov^", "", "movs mov"},
		{"\tldr r0, [ @ r^", "", "r0 r1"},
		{"nop; mo^", "mov", ""},
		{"/* a|mo^|*/", "", "mov"},
		{"l: mo^", "mov", ""},
		{".word ^|near: nop", "near", "nop"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, =^|near: nop", "near", "r1"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tbx lr ^", "", "r0 near"},
		{".cpu cortex-m0|.syntax unified|.thumb|K = 1|\tmovs r0, #1+^", "K", "r0"},
		{"^", "movs b .word routine loop", ""},
		{".thumb|\tl^", "ldr lsl loop leaf", "routine ldral"},
		{"nop; l^", "ldr", "loop"},
		{".section .te^", ".text", ".data"},
		{".section .po^", "", ".po"},
		{".global lamp_o^|lamp_on: nop", "lamp_on", "lamp_o"},
		// A name is that of a label here, whatever else it means elsewhere.
		{".cpu cortex-m0|.syntax unified|.thumb|\tb ^", "near", "a apsr c0 primask le"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tcmp r0, ^", "r0 r8", "a apsr cr0 msp le"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, ^", "near", "a apsr c0 msp le"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tit ^", "eq le", "near"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tdmb ^", "sy", "near"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcpsid ^", "i f", "near"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmcr ^", "p15", "near"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp^", "cmp", "cmpal"},
		{".cpu cortex-m4|.fpu fpv4-sp-d16|.syntax unified|.thumb|\tv^", "vadd.f32", ""},
		{".section ^|.section .points, \"aw\"", ".rodata .points", "near"},
		{".section .points, \"aw\", ^", "%progbits %nobits", "near"},
		{".section .points, \"aw\", %^", "progbits", "%progbits near"},
		{".type near, ^", "%function %object", "near"},
		{".type ^", "near", "%function"},
		{".cpu cortex-m4|.arch_extension ^", "fp", "near"},
		{"lamp .req r5|.unreq ^", "lamp", "near r5"},
		{".macro signal a|.endm|.purgem ^", "signal", "near"},
		{".macro signal lamp, aspect=1|\tmovs r0, #\\^|.endm", "lamp aspect", "near"},
		{".macro signal lamp|.endm|\tsignal ^", "near r0", ""},
		{".code ^", "16 32", "near"},
		{".end^", ".endm .endif", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|1: nop|\tb ^|1: nop", "1b 1f", ""},
		// A range of registers goes up, and to one that the instruction has.
		{".cpu cortex-m0|.syntax unified|.thumb|\tpush {r4-^", "r5 r7", "r0 r3 r4 r8 lr"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tpush {r0, r4 - r^", "r5 r7", "r3 r4 r8"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tpush {r4-^", "r5 r11 lr", "r3 r4"},
		{".cpu arm7tdmi|.syntax unified|.arm|lamp .req r2|sign .req r7|\tpush {r4-^", "sign r7", "lamp r2"},
		{".cpu arm7tdmi|.syntax unified|.arm|lamp .req r4|\tldmia r0!, {lamp-^", "r5 r8", "r3 r4"},
		// A register may be the amount of a shift in A32 code.
		{".cpu arm7tdmi|.syntax unified|.arm|\tadd r0, r1, r2, lsl ^", "r0 r7", "near pc"},
		{".cpu arm7tdmi|.syntax unified|.arm|lamp .req r5|\tcmp r0, r1, LSR ^", "r3 lamp", "near"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tadd r0, r1, r2, lsl ^", "", "r0 near"},
		// What is added behind the brackets of an address.
		{".cpu arm7tdmi|.syntax unified|.arm|\tldr r0, [r1], ^", "r2 r7", "near"},
		{".cpu cortex-m3|.syntax unified|.thumb|STEP = 4|\tldr r0, [r1], #^", "STEP", "near"},
		// What is written behind the name that it gives.
		{".cpu cortex-m3|.syntax unified|.thumb|lamp .r^", ".req", ".qn .word"},
		{".cpu cortex-m3|.syntax unified|.thumb|lamp .^", ".req .qn .dn", ".word"},
		{".cpu cortex-m3|.syntax unified|.thumb|.macro signal a|.endm|\tsignal .^", "", ".req"},
		// Conditions are spelled as the IT line has them.
		{".cpu cortex-m3|.syntax unified|.thumb|\tit hs|\tmovh^", "movhs", "movcs"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tit hs|\tmov^", "movhs", "movcs"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tit cs|\tmov^", "movcs", "movhs"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tit cs|\tmovh^", "movhs", "movcs"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tite lo|\tmovlo r0, r1|\tbic^", "bichs bicshs", "biccs"},
		// The names of repetitions, the innermost ones, too.
		{".cpu cortex-m3|.syntax unified|.thumb|.irp lamp, 1, 2|\tmovs r0, #\\^|.endr", "lamp", "near"},
		{".cpu cortex-m3|.syntax unified|.thumb|.macro signal a|.irpc lamp, 12|\tmovs r0, #\\^|.endr|.endm", "lamp a", ""},
		{".cpu cortex-m3|.syntax unified|.thumb|.irp sign, 1|.word \\sign|.endr|.irp lamp, 1, 2|.rept 2|.endr|\tmovs r0, #\\^|.endr", "lamp", "sign"},
		// A register's name is no place.
		{".cpu cortex-m3|.syntax unified|.thumb|lamp .req r5|\tbl ^", "near", "lamp"},
		{".cpu cortex-m3|.syntax unified|.thumb|lamp .req r5|\tadr r0, ^", "near", "lamp"},
		{".cpu cortex-m3|.syntax unified|.thumb|lamp .req r5|\t.weak ^", "near", "lamp"},
		{".cpu cortex-m3|.syntax unified|.thumb|lamp .req r5|\tmovs r0, ^", "lamp", "near"},
		// What nothing defines yet is about to be.
		{".cpu cortex-m0|.syntax unified|.thumb|.global lamp|\tbl route|ro^", "route:", "lamp:"},
		{".cpu cortex-m0|.syntax unified|.thumb|.global lamp|\tbl route|la^", "lamp:", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|.global lamp|\tbl route|  ro^", "", "route:"},
		{".cpu cortex-m0|.syntax unified|.thumb|.extern route|\tbl route|ro^", "", "route:"},
		{".cpu cortex-m0|.syntax unified|.thumb|route: bl route|ro^", "", "route:"},
	} {
		text := strings.ReplaceAll(tt.text, "|", "\n")
		if !strings.Contains(text, "near:") {
			text += "\nnear: nop\n"
		}
		text += "\n.space 3000\nfar: nop\n"
		var legal []string
		for _, c := range completionsAt(t, text) {
			if !strings.HasPrefix(c.Detail, "needs ") {
				legal = append(legal, c.Text)
			}
		}
		for _, w := range strings.Fields(tt.want) {
			if !slices.Contains(legal, w) {
				t.Errorf("%q: %s is not offered: %d are, %.200v", tt.text, w, len(legal), legal)
			}
		}
		for _, w := range strings.Fields(tt.not) {
			if slices.Contains(legal, w) {
				t.Errorf("%q: %s is offered", tt.text, w)
			}
		}
	}
}

// TestCompletionOrder holds that what the line cannot have comes last, and says why.
func TestCompletionOrder(t *testing.T) {
	list := completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\nhere:\tbeq ^\nnear:\tnop\n.space 3000\nfar:\tnop\n")
	at := func(name string) int {
		return slices.IndexFunc(list, func(c analysis.Completion) bool { return c.Text == name })
	}
	if near, far := at("near"), at("far"); near < 0 || far < near || !strings.Contains(list[far].Detail, "out of reach") {
		t.Errorf("%v", list)
	}
	list = completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\n\tcb^\n")
	if slices.ContainsFunc(completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\n\tmove^\n"), func(c analysis.Completion) bool { return c.Text == "moveq" }) {
		t.Error("moveq is offered, which no target has there")
	}
	if n := at("cbz"); n < 0 || !strings.HasPrefix(list[n].Detail, "needs ") {
		t.Errorf("%v", list)
	}
}

// TestCompletionFirst holds what is offered first, and what is said of it.
func TestCompletionFirst(t *testing.T) {
	const m0, a32 = "\t.cpu cortex-m0\n\t.syntax unified\n\t.thumb\n", "\t.cpu arm7tdmi\n\t.syntax unified\n\t.arm\n"
	for _, tt := range []struct{ text, want string }{
		// What nearly every source has comes before what few have.
		{m0 + "\t.s^", ".section .set .size .space .syntax"},
		{m0 + "\t.c^", ".cpu"},
		{m0 + "\t.w^", ".weak .word .warning"},
		{m0 + "\t.b^", ".balign .bss .byte"},
		{m0 + "\t^", "add adds"},
		{m0 + "\t.data\n\t^", ".align .arch"},
		{m0 + "\tl^", "ldr ldrb ldrh lsls lsrs ldm"},
		{a32 + "\tm^", "mov movs mul muls mvn mvns"},
		{m0 + "\tbx ^", "lr r0"},
		{"\t.cpu ^", "arm7tdmi arm926ej-s cortex-a7 cortex-m0"},
		{m0 + "\tcpsid ^", "i"},
		{a32 + "\tmcr ^", "p15 p0 p1 p2"},
		// Registers as they are counted, and the program's names for them first.
		{m0 + "\tcmp r^", "r0 r1 r2 r3 r4 r5 r6 r7 r8 r9 r10 r11 r12"},
		{m0 + "\tmov ^", "r0 r1 r2 r3 r4 r5 r6 r7 r8 r9 r10 r11 r12 sp lr pc"},
		{m0 + "ASPECTS = 3\n\t.extern aspects\n\tldr r0, =asp^", "aspects ASPECTS"},
		{m0 + "lamp .req r5\n\tmovs ^", "lamp r0 r1"},
		// Lists go up; what is there already is taken, but comes last.
		{m0 + "\tpush {r4, ^", "r5 r6 r7 lr r0"},
		{m0 + "\tpop {^", "r0 r1 r2"},
		{m0 + "ASPECTS = 3\nlamp: nop\n\t.global ^", "lamp ASPECTS"},
		{m0 + "ASPECTS = 3\nlamp: nop\n\t.size lamp, ^", "ASPECTS lamp"},
		// What is near, and of calls the routines.
		{m0 + "away:\n\tnop\n\tnop\n1:\tnop\n\tb ^\n\tnop\nzone:\tnop\n\t.global other", "1b zone away other"},
		{m0 + "here:\n\tbl ^\n\tnop\n\t.thumb_func\nsignal:\tbx lr\n\t.extern lamp\n", "lamp signal here"},
	} {
		var got []string
		for _, c := range completionsAt(t, tt.text+"\n") {
			got = append(got, c.Text)
		}
		if want := strings.Fields(tt.want); len(got) < len(want) || !slices.Equal(got[:len(want)], want) {
			t.Errorf("%q: got %.200v, want %v first", tt.text, got, want)
		}
	}
	for text, least := range map[string]int{m0 + "\tv^": 0, m0 + "\tve^": 0, m0 + "\tveo^": 1} {
		if n := len(completionsAt(t, text+"\n")); n < least || least == 0 && n > 3 {
			t.Errorf("%q: %d are offered", text, n)
		}
	}
	for _, tt := range []struct{ text, name, detail string }{
		{m0 + "\tld^", "ldr", "Load a word"},
		{m0 + "\tld^", "ldm", "Load registers, address going up"},
		{m0 + "\tmo^", "mov", "Move a register, flags kept"}, // a constant takes MOVS
		{m0 + "\tmo^", "movs", "Move"},
		{m0 + "\tcm^", "cmp", "Compare"},
		{m0 + "\tad^", "adds", "Add"},
		{m0 + "\tb^", "b", "Branch"},
		{m0 + "\tb^", "bhi", "Branch if unsigned higher: C = 1 and Z = 0"},
		{m0 + "\tb^", "bhs", "Branch if unsigned higher or same, or a carry: C = 1"},
		{m0 + "\tb^", "bl", "Call"},
		{m0 + "PANEL = 0x48000000\n\tldr r0, =P^", "PANEL", "= 0x48000000 (1207959552)"},
		{m0 + "POINTS = 6\n\tmovs r0, #P^", "POINTS", "= 6"},
		{m0 + "1:\tnop\n\tb ^", "1b", "-2 bytes from here, -6 from PC"},
		{m0 + "1:\tnop\n\tldr r0, ^", "1b", "-2 bytes from here, -6 from PC, out of reach"},
		{m0 + "\tldr r0, ^\n\tnop\n1:\t.word 1", "1f", "+4 bytes from here, +0 from PC"},
		{m0 + "\tbl route\nro^", "route:", "not defined yet"},
		{a32 + "\tls^", "lsl", "Shift left"},
		{a32 + "\tmov^", "moveq", "Move if equal: Z = 1"},
		{a32 + "\tldm^", "ldmia", "Load registers, address going up"},
	} {
		list := completionsAt(t, tt.text+"\n")
		n := slices.IndexFunc(list, func(c analysis.Completion) bool { return c.Text == tt.name })
		if n < 0 || list[n].Detail != tt.detail {
			t.Errorf("%q: %s is %+v, want %q", tt.text, tt.name, list[max(n, 0)], tt.detail)
		}
	}
}

// TestCompletionPreprocessed holds what is offered of the preprocessor.
func TestCompletionPreprocessed(t *testing.T) {
	for _, tt := range []struct{ text, want, not string }{
		{"#define LAMPS 12|#define SET(x, y) ((x) << (y))|\t.syntax unified|\t.thumb|\tmovs r0, #^", "LAMPS SET", "define"},
		{"#define LAMPS 12|#de^", "define", "LAMPS include"},
		{"#define LAMPS 12|#^", "define include ifdef endif", "LAMPS"},
		{"#define LAMPS 12|#ifdef ^", "LAMPS", "near"},
		{"#define LAMPS 12|#define ALL ^", "LAMPS near", ""},
		{"#define LAMPS 12|#define ^", "", "LAMPS"},
		{"#define LAMPS 12|.word ^", "LAMPS near", ""},
	} {
		text := strings.ReplaceAll(tt.text, "|", "\n") + "\nnear: nop\n"
		off := strings.IndexByte(text, '^')
		text = strings.Replace(text, "^", "", 1)
		r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.S", File: syntax.Parse(text)})
		if err != nil {
			t.Fatal(err)
		}
		list, _ := r.CompletionsIn("a.S", off)
		var names []string
		for _, c := range list {
			names = append(names, c.Text)
		}
		for _, w := range strings.Fields(tt.want) {
			if !slices.Contains(names, w) {
				t.Errorf("%q: %s is not offered: %.300q", tt.text, w, names)
			}
		}
		for _, w := range strings.Fields(tt.not) {
			if slices.Contains(names, w) {
				t.Errorf("%q: %s is offered", tt.text, w)
			}
		}
	}
}

// TestTemplates holds that each template assembles as it is filled in first, for all kinds of
// targets and both syntaxes, without a finding; and how they are written.
func TestTemplates(t *testing.T) {
	n := 0
	for _, cpu := range []string{"arm7tdmi", "strongarm", "cortex-m0", "cortex-m3", "cortex-a7", "arm946e-s"} {
		for _, mode := range []string{".thumb", ".arm"} {
			for _, syn := range []string{"unified", "divided"} {
				if mode == ".thumb" && cpu == "strongarm" || mode == ".arm" && strings.HasPrefix(cpu, "cortex-m") {
					continue
				}
				before := "\t.cpu " + cpu + "\n\t.syntax " + syn + "\n\t" + mode + "\n"
				for _, c := range completionsAt(t, before+"\t^\n") {
					if c.Kind != analysis.CompleteTemplate {
						continue
					}
					n++
					text := before + "\t" + filled(c.Template) + "\n\tb .\n"
					r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.s", File: syntax.Parse(text)})
					if err != nil {
						t.Fatal(err)
					}
					for _, d := range r.Diagnostics() {
						if d.Severity <= analysis.Warning {
							t.Errorf("%s %s %s: %s: %s\n%s", cpu, mode, syn, c.Text, d.Message, text)
						}
					}
				}
			}
		}
	}
	if n < 80 {
		t.Errorf("%d templates", n)
	}
	for _, tt := range []struct{ name, text, want string }{
		{"loop", "        movs    r0, #1\n        ^\n", "movs    r2, #10\n1:\n        \n        subs    r2, r2, #1\n        bne     1b"},
		{"loop", "  MOVS R0, #1\n  LO^\n", "MOVS R2, #10\n1:\n  \n  SUBS R2, R2, #1\n  BNE 1b"},
		{"wordtable", "  .word   1\n    movs   r0, #1\n  ^\n", ".balign 4\ntable:\n  .word   0\n"},
		{"leaf", "    .space  4\n        movs\tr0, #1\n^\n", "    .global name\n    .type   name, %function\n    .thumb_func\nname:\n        \n        bx\tlr\n    .size   name, . - name"},
		{"leaf", "^", "\t.global name\n\t.type name, %function\n\t.thumb_func\nname:\n\t\n\tbx lr\n\t.size name, . - name"},
	} {
		list := completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\n"+tt.text)
		if i := slices.IndexFunc(list, func(c analysis.Completion) bool { return c.Text == tt.name }); i < 0 || filled(list[i].Template) != tt.want {
			t.Errorf("%s in %q: %d, %q", tt.name, tt.text, i, filled(list[max(i, 0)].Template))
		}
	}
}

// filled is a template with its places filled in as they are at first.
func filled(parts []analysis.CompletionPart) string {
	var b strings.Builder
	for _, p := range parts {
		b.WriteString(p.Text)
	}
	return b.String()
}

// TestIncluded finds the name of an included file that is being written.
func TestIncluded(t *testing.T) {
	for _, tt := range []struct{ text, folder, name string }{
		{"\t.include \"lam^\"", "", "lam"},
		{"\t.include \"parts/lam^ps.inc\"", "parts/", "lamps.inc"},
		{"\t.include \"parts/^", "parts/", ""},
		{"\t.incbin \"a/b/^x\", 4", "a/b/", "x"},
		{"#include \"points.h^\"", "", "points.h"},
		{"#include <sys/^>", "sys/", ""},
		{"\t.include \"lamps.inc\" ^", "-", ""},
		{"\t.ascii \"lam^\"", "-", ""},
		{"#define A \"lam^\"", "-", ""},
		{"@ .include \"lam^\"", "-", ""},
	} {
		off := strings.IndexByte(tt.text, '^')
		text := strings.Replace(tt.text, "^", "", 1)
		r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.S", File: syntax.Parse(text)})
		if err != nil {
			t.Fatal(err)
		}
		in, ok := r.IncludedIn("a.S", off)
		if ok != (tt.folder != "-") || ok && (in.Folder != tt.folder || text[in.Name.Start:in.Name.End] != tt.name) {
			t.Errorf("%q: %v, %+v", tt.text, ok, in)
		}
	}
}

// TestDocumentation holds what is said of names that are offered.
func TestDocumentation(t *testing.T) {
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.s", File: syntax.Parse("\t.syntax unified\n\t.thumb\n@ Sets the aspect of a signal.\nset_aspect:\n\tbx lr\nLAMPS = 12 @ on the panel\n.macro blink n\n.endm\n")})
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string]string{"set_aspect": "Sets the aspect of a signal.", "LAMPS": "on the panel", "blink": "Macro", "r0": "", "nobody": ""} {
		if md := r.Documentation(name); !strings.Contains(md, want) || want == "" && md != "" {
			t.Errorf("%s: %q", name, md)
		}
	}
}
