package analysis

import (
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// hoverCase is a source with a mark ^ right in front of what is hovered, and what the hover
// has and has not. A | is a line end.
type hoverCase struct {
	target, text string
	has, lacks   []string
}

func checkHovers(t *testing.T, cases []hoverCase) {
	t.Helper()
	for _, c := range cases {
		text := strings.ReplaceAll(c.text, "|", "\n") + "\n"
		off := strings.IndexByte(text, '^')
		text = text[:off] + text[off+1:]
		r := analyze(t, &Settings{Arch: c.target, Syntax: "unified"}, text)
		h, _ := r.Hover(off)
		for _, want := range c.has {
			if !strings.Contains(h.Markdown, want) {
				t.Errorf("%s: no %q in\n%s", c.text, want, h.Markdown)
			}
		}
		for _, not := range c.lacks {
			if strings.Contains(h.Markdown, not) {
				t.Errorf("%s: %q in\n%s", c.text, not, h.Markdown)
			}
		}
	}
}

// TestHoverInstruction asks for what a line comes to: code and bytes (an object file of the
// reference assembler has these, objdump -s), effects and conditions.
func TestHoverInstruction(t *testing.T) {
	t.Parallel()
	checkHovers(t, []hoverCase{
		{"armv4t", ".thumb|^movs r0, #1", []string{"**MOV (immediate)** — Move a constant", "`0x2001`, 2 bytes `01 20`, T16 encoding T1", "Writes r0; sets flags NZ.", "Cycles: ARM7TDMI 1; ARM9TDMI 1."}, []string{"Reads"}},
		{"armv7-m", ".thumb|^mov.w r0, #1", []string{"`0xf04f0001`, 4 bytes `4f f0 01 00`, T32"}, nil},
		{"armv4t", "^mov r0, #1", []string{"`0xe3a00001`, 4 bytes `01 00 a0 e3`, A32"}, nil},
		{"armv4t", "^subs pc, lr, #4", []string{"takes the whole CPSR from SPSR"}, []string{"sets flags"}}, // DDI 0406C, B9.3.20
		{"armv7-a", ".thumb|^subs pc, lr, #4", []string{"takes the whole CPSR from SPSR"}, []string{"sets flags"}},
		{"armv4t", "^movs pc, lr", []string{"takes the whole CPSR from SPSR"}, nil},
		{"armv4t", "^ldmfd sp!, {r0, pc}^", []string{"takes the whole CPSR from SPSR"}, nil},
		{"armv4t", "^ldmfd sp!, {r0, pc}", []string{"writes r0, sp, pc."}, []string{"CPSR"}},
		{"armv4t", "^sub pc, lr, #4", []string{"writes pc."}, []string{"CPSR"}},
		{"armv4t", "^subs r0, lr, #4", []string{"sets flags NZCV"}, []string{"CPSR"}},
		{"armv4t", ".thumb|^beq .", []string{"On condition EQ — equal: Z = 1 (the opposite is NE).", "Reads flags Z.", "label -256 to 254 bytes"}, nil},
		{"armv4t", "^addls r0, r0, r1", []string{"On condition LS — unsigned lower or same: C = 0 or Z = 1 (the opposite is HI).", "flags ZC"}, nil},
		{"armv7-m", ".thumb|it ^ne|addne r0, r0, r1", []string{"Condition NE — not equal: Z = 0 (the opposite is EQ)."}, nil},
		// The reach of BL: DDI 0406C, A8.8.25; before T32 J1 and J2 are 1 (DDI 0100I, "BL, BLX(1)").
		{"armv4t", ".thumb|^bl .", []string{"label −4 MB to +4 MB from PC"}, []string{"16 MB"}},
		{"armv6-m", ".thumb|^bl .", []string{"label −16 MB to +16 MB from PC"}, []string{"4 MB to"}},
		{"armv7-m", ".thumb|^bl out", []string{"label −16 MB to +16 MB from PC", "`0xf000f800`", "The linker fills in"}, []string{"4 MB to"}},
		{"armv7-a", ".thumb|^blx out", []string{"−16 MB to +16 MB from PC"}, []string{"4 MB to"}},
		{"armv4t", "^b .", []string{"label −32 MB to +32 MB from PC"}, nil},
		// Of a refused line: what is near, but neither a code nor the finding's words.
		{"armv4t", ".thumb|^movs r0, #300", []string{"**MOV (immediate)**", "This line has no encoding here.", "- `movs Rd, #0–255`"}, []string{"0x", "too large", "See `"}},
		{"armv4t", ".thumb|^add r0, sp, #3", []string{"- `add Rd, sp, #0–1020 by 4`"}, []string{"multiple"}},
		{"armv7-m", ".thumb|^ldr r0, [r1]", []string{" more: `narrowgauge explain ldr`"}, nil},
		{"armv4t", ".thumb|^ldr r0, =0x12345678|.ltorg", []string{"Its word is in the literal pool at .text + 0x4, 0 bytes from PC."}, nil},
	})
}

// TestHoverVectors: what instructions of floating point and vectors read and write, by their
// pseudo-code in DDI 0406C, A8.8.
func TestHoverVectors(t *testing.T) {
	t.Parallel()
	var cases []hoverCase
	for _, c := range []string{
		"vadd.f32 s0, s1, s2|Reads `s1`, `s2` and the modes of FPSCR; writes `s0`; may set the exception bits of FPSCR.",
		"vmla.f32 s0, s1, s2|Reads `s0`, `s1`, `s2` and the modes of FPSCR; writes `s0`; may set the exception bits of FPSCR.",
		"vneg.f64 d1, d2|Reads `d2`; writes `d1`.",
		"vldr d0, [r0]|Reads r0 and memory; writes `d0`.",
		"vstr s7, [r0, #8]|Reads `s7` and r0; writes memory.",
		"vcmp.f32 s0, s5|Reads `s0`, `s5` and the modes of FPSCR; writes the flags of FPSCR; may set the exception bits of FPSCR.",
		"vmov r0, s3|Reads `s3`; writes r0.",
		"vmov s3, r0|Reads r0; writes `s3`.",
		"vmov d3, r0, r1|Reads r0, r1; writes `d3`.",
		"vmov r0, r1, d3|Reads `d3`; writes r0, r1.",
		"vpush {d8-d11}|Reads `d8-d11` and sp; writes sp and memory.",
		"vldmia r0!, {s0-s3}|Reads r0 and memory; writes `s0-s3` and r0.",
		"vld1.32 {d0-d1}, [r0]!|Reads r0 and memory; writes `{d0-d1}` and r0.",
		"vst1.8 {d0}, [r1]|Reads `{d0}` and r1; writes memory.",
		"vadd.i32 q0, q1, q2|Reads `q1` and `q2`; writes `q0`.",
		"vmlal.s16 q0, d2, d3|Reads `d2`, `d3` and `q0`; writes `q0`.",
		"vbsl q0, q1, q2|Reads `q0`, `q1` and `q2`; writes `q0`.",
		"vswp d0, d1|Reads `d0` and `d1`; writes `d0` and `d1`.",
		"vcvt.s32.f32 s0, s0, #4|Reads `s0` and the modes of FPSCR; writes `s0`; may set the exception bits of FPSCR.",
		"vmov.f32 s0, #1.0|Writes `s0`.",
		"vmrs apsr_nzcv, fpscr|Reads the flags of FPSCR; sets flags NZCV.",
	} {
		line, want, _ := strings.Cut(c, "|")
		cases = append(cases, hoverCase{"armv7-a", ".fpu neon-vfpv4|^" + line, []string{want}, []string{"nothing"}})
	}
	checkHovers(t, cases)
}

// TestHoverNumbers: numbers, literals and expressions.
func TestHoverNumbers(t *testing.T) {
	t.Parallel()
	checkHovers(t, []hoverCase{
		{"armv4t", ".thumb|movs r0, #^200", []string{"`200` = `0xc8` = `0b11001000`", "It fits: `movs Rd, #0–255` takes 0–255 here."}, []string{"character"}},
		{"armv4t", ".thumb|movs r0, #^'A'", []string{"`65` = `0x41`", "character `'A'`"}, nil},
		{"armv4t", ".byte ^0xf0", []string{"as a signed byte `-16`"}, nil},
		{"armv4t", ".hword 1, ^0xfffe", []string{"as a signed halfword `-2`"}, nil},
		{"armv4t", ".word ^0xf0", nil, []string{"signed"}},
		{"armv4t", ".word ^0xfffffff0", []string{"signed `-16`", "`0b1111_1111_1111_1111_1111_1111_1111_0000`"}, nil},
		{"armv4t", ".word -^5", []string{"`-5` = `0xfffffffb`", "unsigned `4294967291`"}, nil},
		{"armv4t", ".word 7-^5", []string{"`5` = `0x5`", "`7-5` = `2`"}, []string{"`-5` ="}},
		{"armv4t", "ldr r0, [r1, #-^4]", []string{"`-4` = "}, nil},
		{"armv4t", ".word ^0x20000002", []string{"Bits 29 and 1."}, nil},
		// Modified immediate constants: DDI 0406C, A5.2.4 and A6.3.2.
		{"armv4t", "mov r0, #^0xff000000", []string{"A32 `0xff` rotated right by 8"}, []string{"T32"}},
		{"armv7-a", "ldr r0, =^0xff00ff00", []string{"T32 `0xff` in bytes 1 and 3", "not T16 (0–255), MOVW (0–65535), A32"}, nil},
		{"armv7-a", "ldr r0, =^0x00ab00ab", []string{"T32 `0xab` in bytes 0 and 2"}, nil},
		{"armv7-a", "ldr r0, =^0x7f7f7f7f", []string{"T32 `0x7f` in each byte"}, nil},
		{"armv7-a", "ldr r0, =^0x0003fc00", []string{"T32 `0xff` rotated right by 22", "A32 `0xff` rotated right by 22"}, nil},
		{"armv7-a", "ldr r0, =^0xfffffffe", []string{"A32 inverted, by MVN"}, nil},
		{"armv7-a", "ldr r0, =^0x12345678", []string{"No constant of one instruction", "A32 cannot hold it"}, nil},
		{"armv6-m", ".thumb|ldr r0, =^0x1234", []string{"T16 (0–255) cannot hold it"}, []string{"MOVW", "A32"}},
		// Where the word is.
		{"armv6-m", ".thumb|nop|ldr r2, ^=0x20000002", []string{"`536870914` = `0x20000002`", "Its word is in the literal pool at .text + 0x4, 0 bytes from PC."}, nil},
		{"armv6-m", ".thumb|nop|ldr r2, =^lamps|lamps: .word 1", []string{"**lamps** — .text + 0x4, +2 bytes from here, -2 from PC", "Its word is in the literal pool at .text + 0x8"}, nil},
		{"armv4t", "ldr r0, =^100", []string{"No word in a pool: it is assembled as `MOV (immediate)`."}, nil},
		{"armv4t", ".thumb|.equ POINTS, 12|movs r0, #^POINTS*2", []string{"**POINTS** = `12`", "`POINTS*2` = `24`", "takes 0–255 here"}, nil},
		{"armv4t", ".thumb|.equ POINTS, 12|movs r0, ^#POINTS*2", []string{"`#POINTS*2`: `24` = `0x18`"}, nil},
		{"armv4t", ".thumb|movs r0, #^300", []string{"It does not fit here."}, []string{"too large"}},
		{"armv4t", ".thumb|nop|ldr r0, [pc, #^8]|.space 20", []string{"The address is .text + 0xc, +10 bytes from here, +6 from PC."}, nil},
		{"armv4t", "ldr r0, [pc, #-^8]", []string{"The address is .text + 0x0, 0 bytes from here"}, nil},
		{"armv4t", ".thumb|nop|b ^.+6|nop|nop", []string{"this place, .text + 0x2", "`.+6` is .text + 0x8, +6 bytes from here, +2 from PC."}, nil},
		{"armv4t", ".word 1|.word ^.-4", []string{"this place, .text + 0x4"}, nil},
		{"armv4t", ".align ^3", []string{"A boundary of 8 bytes."}, nil},
		{"armv4t", ".asciz ^\"bell\"", []string{"A text of 4 bytes, and a zero byte after it."}, nil},
		{"armv4t", ".cpu cortex^-m3", []string{"**cortex-m3** — M profile: T16, T32"}, nil},
	})
}

// TestHoverNames: registers by their part in a call (AAPCS32, 6.1.1 and 6.1.2), special
// registers, labels.
func TestHoverNames(t *testing.T) {
	t.Parallel()
	checkHovers(t, []hoverCase{
		{"armv4t", ".thumb|mov r0, ^r8", []string{"**r8** — variable register", "A high register"}, nil},
		{"armv7-m", ".thumb|mov r0, ^r4", []string{"A low register: 16-bit encodings can use it"}, nil},
		{"armv7-a", "mov r0, ^r8", []string{"**r8** — variable register"}, []string{"T16", "high"}},
		{"armv4t", "mov r0, ^pc", []string{"address + 8"}, []string{"+ 4"}},
		{"armv4t", ".thumb|mov r0, ^pc", []string{"address + 4"}, []string{"+ 8"}},
		{"armv4t", "trains .req r5|mov r0, ^r5", []string{"Also named here: `trains`."}, nil},
		{"armv4t", "trains .req r5 @ left to come|mov r0, ^trains", []string{"**trains** = r5", "left to come"}, nil},
		{"armv7-a", ".fpu vfpv3|vadd.f32 s0, s1, ^s16", []string{"**s16** — single precision, 32 bits: the lower half of d8", "hands it back unchanged"}, nil},
		{"armv7-a", ".fpu vfpv3|vadd.f64 d0, d1, ^d7", []string{"64 bits: the upper half of q3, and s14 with s15", "a call may change it"}, nil},
		{"armv7-m", ".thumb|msr ^basepri, r0", []string{"**BASEPRI** — keeps off exceptions"}, nil},
		{"armv4t", "msr ^cpsr_c, r0", []string{"only bits 7 to 0"}, []string{"not defined"}},
		{"armv4t", ".section .text.bell, \"^ax\", %progbits", []string{"`a` takes room in memory and `x` has code"}, nil},
		{"armv4t", ".section .bss.bell, \"aw\", %^nobits", []string{"takes room in memory and none in the file"}, nil},
		{"armv4t", ".section ^ax", []string{".section name"}, []string{"has code"}},
		{"armv4t", ".thumb|.type bell, %^function|bell: bx lr", []string{"a function: bit 0"}, nil},
		{"armv4t", ".thumb|.type ^bell, %function|bell: bx lr", []string{"**bell** — .text + 0x0"}, nil},
		// What a label is a multiple of: no more than its section.
		{"armv4t", ".thumb|^go: bx lr", []string{"aligned to 2 bytes"}, nil},
		{"armv4t", "^go: bx lr", []string{"aligned to 4 bytes"}, nil},
		{"armv4t", ".data|^go: .byte 1", []string{"aligned to 1 byte,"}, nil},
		{"armv4t", ".data|.balign 8|.word 1|^go: .byte 1", []string{"aligned to 4 bytes"}, nil},
		{"armv4t", ".data|.balign 16|.space 16|^go: .byte 1", []string{"aligned to 16 bytes"}, nil},
		{"armv4t", ".thumb|nop|ldr r0, =1|b ^go|.ltorg|go: bx lr", []string{"+8 bytes from here, +4 from PC"}, nil},
	})
}

// TestHoverComments: the comment at a label is shown wherever the label is named, in other
// files of the program, too.
func TestHoverComments(t *testing.T) {
	t.Parallel()
	files := map[string]string{
		"points.inc": "\n@ Throws a point.\n@   r0: its number\n\t.global throw\n\t.thumb_func\nthrow:\tbx lr\t@ at once\n\n/* How many there are. */\n\t.equ POINTS, 12\n",
	}
	const text = "\t.syntax unified\n\t.thumb\n\t.include \"points.inc\"\nmain:\n\tbl throw\n\tmovs r0, #POINTS\n\t.word throw\n1:\tnop @ the heart\n\tb 1b\n@ A bell.\n\t.macro bell\n\tnop\n\t.endm\n\tbell\n"
	r, err := Analyze(t.Context(), &Input{Path: "box.s", File: syntax.Parse(text), Load: func(w Wanted) (string, *syntax.File, bool) {
		s, ok := files[w.Name]
		return w.Name, syntax.Parse(s), ok
	}})
	if err != nil {
		t.Fatal(err)
	}
	const about = "```text\nThrows a point.\n  r0: its number\nat once\n```"
	for at, want := range map[string]string{
		"throw\n\tmovs": about, "throw\n1": about, "POINTS": "How many there are.", "1b": "the heart", "bell\n\tnop": "A bell.", "bell\n@": "",
	} {
		h, ok := r.Hover(strings.Index(text, at))
		if want != "" && (!ok || !strings.Contains(h.Markdown, want)) {
			t.Errorf("%q: %s", at, h.Markdown)
		}
	}
	if h, ok := r.HoverIn("points.inc", strings.Index(files["points.inc"], "throw\n")); !ok || !strings.Contains(h.Markdown, about) {
		t.Errorf("in the included file: %s", h.Markdown)
	}
	column := "; Throws a point.\n; r0: its number\n\tEXPORT throw\nthrow\tPROC\n\tBX lr\n\tENDP\n\tB throw\n\tEND\n"
	r = analyze(t, nil, "\tAREA code, CODE\n\n"+column)
	if h, _ := r.Hover(strings.Index(column, "B throw") + 2 + len("\tAREA code, CODE\n\n")); !strings.Contains(h.Markdown, "```text\nThrows a point.\nr0: its number\n```") {
		t.Errorf("columns: %s", h.Markdown)
	}
	long := strings.Repeat("@ line\n", 30) + "lamp: .word lamp @ `` ``` ``\n"
	r = analyze(t, nil, long)
	if h, _ := r.Hover(strings.Index(long, "lamp")); strings.Count(h.Markdown, "\n") > 18 || strings.Count(h.Markdown, "```") != 2 {
		t.Errorf("a long comment: %s", h.Markdown)
	}
}

// TestHoverPreprocessor: of a macro of the preprocessor its text, its comment and its value.
func TestHoverPreprocessor(t *testing.T) {
	t.Parallel()
	const text = "\n// Where the lamps are.\n#define PORT 0x40010800 /* invented */\n#define LAMP(n) (n*4)\n\t.syntax unified\n\t.thumb\n\tldr r0, =PORT\n\tmovs r1, #LAMP(3)\n"
	r := analyze(t, &Settings{Preprocess: "always"}, text)
	for at, want := range map[string][]string{
		"PORT\n":  {"#define PORT 0x40010800", "Where the lamps are.\ninvented", "`1073809408` = `0x40010800`", "Bits 30, 16 and 11."},
		"LAMP(3)": {"#define LAMP(n) (n*4)", "(3*4)", "`12` = `0xc`"},
	} {
		h, _ := r.Hover(strings.Index(text, at))
		for _, w := range want {
			if !strings.Contains(h.Markdown, w) {
				t.Errorf("%q: no %q in\n%s", at, w, h.Markdown)
			}
		}
	}
}

// maxHeight is how many lines of 80 columns a hover of an instruction takes at most, those of
// most instructions in the windows of editors.
const maxHeight = 22

// TestHoverFits: hovers of instructions fit into the small window of an editor.
func TestHoverFits(t *testing.T) {
	t.Parallel()
	worst, all := 0, 0
	for _, target := range []string{"armv4t", "armv6-m", "armv7-m", "armv7e-m", "armv7-a"} {
		head := ".arch " + target + "\n.syntax unified\n.thumb\n"
		for _, line := range strings.Split(`movs r0, #1|mov r8, r0|adds r0, r1, r2|add r0, r8|adds r0, #200|subs r0, r1, #7|cmp r0, #3|tst r0, r1|muls r0, r1, r0
lsls r0, r1, #3|lsrs r0, r1|ldr r0, [r1, #4]|ldr r0, =0x12345678|ldrb r0, [r1, r2]|str r0, [sp, #8]|strh r0, [r1, #2]|push {r4-r7, lr}|pop {r4, pc}
ldmia r0!, {r1, r2}|stmia r0!, {r1, r2}|beq .|b .|bl .|bx lr|add r0, sp, #4|adr r0, 1f|nop|svc #0|movs r0, #300|ldr r0, [r1, #5000]`, "|") {
			for line := range strings.SplitSeq(line, "\n") {
				text := head + line + "\n.balign 4\n1:\n"
				h, ok := analyze(t, nil, text).Hover(len(head))
				if !ok {
					t.Errorf("%s: nothing at %s", target, line)
				}
				height := 0
				for s := range strings.SplitSeq(h.Markdown, "\n") {
					height += 1 + max(len([]rune(s))-1, 0)/80
				}
				all++
				if worst = max(worst, height); height > maxHeight {
					t.Errorf("%s on %s: %d lines\n%s", line, target, height, h.Markdown)
				}
			}
		}
	}
	t.Logf("%d hovers, the highest has %d lines", all, worst)
}

// TestExplainedReturn: a return from an exception sets all of CPSR (DDI 0406C, B9.3.20).
func TestExplainedReturn(t *testing.T) {
	t.Parallel()
	for name, restores := range map[string]bool{"subs pc, lr, #4": true, "0xe25ef004": true, "0xe8fd8001": true, "sub pc, lr, #4": false, "0xe8bd8001": false, "subs r0, lr, #4": false} {
		x, err := Ask(t.Context(), name, nil)
		if err != nil || !x.Known || strings.Contains(x.Markdown, "all of CPSR, from SPSR") != restores {
			t.Errorf("%s: %v\n%s", name, err, x.Markdown)
		}
	}
}

// TestExplainedFlags: what explain says of flags, by the condition in the name (DDI 0406C,
// A8.3) and by an S in it.
func TestExplainedFlags(t *testing.T) {
	t.Parallel()
	for name, want := range map[string]string{
		"beq": "Flags read: Z; set: none.", "bhi": "Flags read: ZC; set: none.", "ble": "Flags read: NZV; set: none.", "b": "Flags read: none; set: none.",
		"addne": "Flags read: Z; set: none.", "addsne": "Flags read: Z; set: NZCV.", "adds": "Flags read: none; set: NZCV.",
		"adcs": "Flags read: C; set: NZCV.", "adcmi": "Flags read: NC; set: none.", "cmp": "Flags read: none; set: NZCV.",
		"bleq": "Flags read: Z; set: none.", "vaddeq.f32": "Flags read: Z; set: none.",
	} {
		md, _, ok := Explain(name)
		n := 0
		for line := range strings.SplitSeq(md, "\n") {
			if strings.HasPrefix(line, "Flags read: ") {
				if n++; line != want {
					t.Errorf("%s: %s, want %s", name, line, want)
				}
			}
		}
		if !ok || n == 0 {
			t.Errorf("%s: no word of flags", name)
		}
	}
}

// TestHoverStackWords: what becomes of words that are stored on the stack. The line of the mark
// is 1.
func TestHoverStackWords(t *testing.T) {
	t.Parallel()
	const nothing = "Nothing loads what it stores on the stack before the frame is left."
	has := func(text string, want ...string) hoverCase { return hoverCase{"armv7-a", text, want, nil} }
	silent := func(text string) hoverCase {
		return hoverCase{"armv7-a", text, []string{"writes"}, []string{"on the stack", "from the stack"}}
	}
	checkHovers(t, []hoverCase{
		has(".thumb;f: sub sp, #8;^str r0, [sp, #4]|movs r0, #1|ldr r1, [sp, #4]|add sp, #8|bx lr", "What it stores on the stack is loaded in line 3."),
		has(".thumb;f: sub sp, #8;^str r0, [sp, #4]|ldr r1, [sp]|add sp, #8|bx lr", nothing),
		has(".thumb;f: sub sp, #8;^str r0, [sp]|beq 1f|ldr r1, [sp]|1: ldrb r2, [sp, #3]|add sp, #8|bx lr", "is loaded in lines 3 and 4."),
		has(".thumb;f: ^push {r4, lr}|bl g|pop {r4, pc}|g: bx lr", "is loaded in line 3."),
		has(".thumb;f: ^push {r3, lr}|movs r0, #1|add sp, #4|pop {pc}", "these are loaded: lr in line 4. Nothing loads r3 from the stack before"),
		has(".thumb;f: ^push {r0, r1}|movs r2, #1|str r2, [sp]|pop {r0, r1}|bx lr", "these are loaded: r1 in line 4. Nothing loads r0"),
		has("f: ^stmfd sp!, {r4, lr}|nop|ldmfd sp!, {r4, pc}", "is loaded in line 3."),
		has("f: ^str lr, [sp, #-4]!|nop|ldr pc, [sp], #4", "is loaded in line 3."),
		has("f: ^strd r4, r5, [sp, #-8]!|nop|ldr r0, [sp, #4]|add sp, sp, #8|bx lr", "these are loaded: r5 in line 3. Nothing loads r4"),
		has(".fpu vfpv3;f: ^vpush {d8}|nop|vpop {d8}|bx lr", "is loaded in line 3."),
		has(".fpu vfpv3;f: sub sp, sp, #8;^vstr s0, [sp]|nop|vldr s1, [sp, #4]|add sp, sp, #8|bx lr", nothing),
		has("f: sub sp, sp, #8;^str r0, [sp]|streq r1, [sp]|ldr r2, [sp]|add sp, sp, #8|bx lr", "is loaded in line 3."),
		has("f: sub sp, sp, #8;^str r0, [sp]|str r1, [sp]|ldr r2, [sp]|add sp, sp, #8|bx lr", nothing),
		has("f: sub sp, sp, #8;^str r0, [sp]|strb r1, [sp]|ldr r2, [sp]|add sp, sp, #8|bx lr", "is loaded in line 3."),
		// Called routines.
		has("f: push {lr};sub sp, sp, #8;^str r0, [sp]|bl g|add sp, sp, #8|pop {pc}|g: ldr r0, [sp]|bx lr", "is loaded in line 5."),
		has("f: push {lr};sub sp, sp, #8;^str r0, [sp]|bl g|add sp, sp, #8|pop {pc}|g: push {r4}|ldr r0, [sp, #4]|pop {r4}|bx lr", "is loaded in line 6."),
		has("f: push {lr};sub sp, sp, #8;^str r0, [sp]|bl g|add sp, sp, #8|pop {pc}|g: push {r4}|ldr r0, [sp]|pop {r4}|bx lr", nothing),
		silent("f: push {lr};sub sp, sp, #8;^str r0, [sp]|bl out|add sp, sp, #8|pop {pc}"),
		silent("f: push {lr};sub sp, sp, #8;^str r0, [sp]|blx r3|add sp, sp, #8|pop {pc}"),
		silent("f: push {lr};sub sp, sp, #8;^str r0, [sp]|bl g|add sp, sp, #8|pop {pc}|g: mov r1, sp|ldr r0, [r1]|bx lr"),
		silent("f: push {lr};sub sp, sp, #8;^str r0, [sp]|bl g|ldr r1, [sp, #8]|add sp, sp, #16|pop {pc}|g: sub sp, sp, #8|bx lr"),
		silent("f: push {lr};sub sp, sp, #8;^str r0, [sp, #4]|bl g|ldr r1, [sp, #12]|bl h|add sp, sp, #8|pop {pc}|g: sub sp, sp, #8|bx lr|h: add sp, sp, #8|bx lr"),
		// What is not known.
		silent("f: sub sp, sp, #8;mov r3, sp;^str r0, [sp]|ldr r1, [r3]|add sp, sp, #8|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|add r3, sp, #0|ldr r1, [r3]|add sp, sp, #8|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|str sp, [r2]|add sp, sp, #8|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|ldr r1, [sp, r2]|add sp, sp, #8|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|mov sp, r7|ldr r1, [sp]|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|add sp, sp, #4|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|add sp, sp, #8|ldr pc, [r2]"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|svc #1|add sp, sp, #8|bx lr"),
		silent("f: ^str r0, [sp]|bx lr"),                                                // the caller's
		silent("f: sub sp, sp, #8;^str r0, [sp]|subeq sp, sp, #4|add sp, sp, #8|bx lr"), // one way or the other
		silent("f: sub sp, sp, #8;^str r0, [sp]|msr cpsr_c, #0xd2|str r1, [sp]|msr cpsr_c, #0xd3|ldr r0, [sp]|add sp, sp, #8|bx lr"),
		silent("f: sub sp, sp, #8;^str r0, [sp]|cps #0x12|str r1, [sp]|cps #0x13|ldr r0, [sp]|add sp, sp, #8|bx lr"),
		has("f: sub sp, sp, #8;^str r0, [sp]|msr cpsr_f, r2|cpsid i|ldr r0, [sp]|add sp, sp, #8|bx lr", "is loaded in line 4."),
		{"armv7-m", ".thumb;f: sub sp, #8;^str r0, [sp]|mrs r1, msp|ldr r1, [r1]|add sp, #8|bx lr", []string{"writes"}, []string{"stores on the stack", "from the stack"}},
		{"armv7-m", ".thumb;f: sub sp, #8;^str r0, [sp]|msr psp, r1|add sp, #8|bx lr", []string{"writes"}, []string{"stores on the stack", "from the stack"}},
		{"armv7-m", ".thumb;f: sub sp, #8;^str r0, [sp]|msr control, r1|str r2, [sp]|add sp, #8|bx lr", []string{"writes"}, []string{"stores on the stack", "from the stack"}},
		silent("f: sub sp, sp, #8;^str r0, [sp]|.word 1|add sp, sp, #8|bx lr"),
	})
}
