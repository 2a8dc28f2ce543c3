package analysis

import (
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// namedPlaces: in the texts, «» is around the place where a name gets its meaning, and ‹› around the
// others that name the same. From each of them all are found. hover is a part of what is said
// there.
var namedPlaces = []struct{ name, text, hover string }{
	{"a constant in conditions", "\t.equ «COUNT», 4\n\t.if ‹COUNT› > 3\n\t.word ‹COUNT›\n\t.elseif ‹COUNT› == 2\n\t.endif\n\t.ifdef ‹COUNT›\n\t.endif\n\t.ifndef ‹COUNT›\n\t.word ‹COUNT›\n\t.endif\n", "**COUNT** = `4`"},
	{"a constant in bodies", "\t.equ «COUNT», 4\n\t.macro sig way=‹COUNT›\n\t.word ‹COUNT›, \\way\n\t.endm\n\t.macro idle\n\t.word ‹COUNT›\n\t.endm\n\t.rept 2\n\t.word ‹COUNT›\n\t.endr\n\t.irp x, 1, 2\n\t.word ‹COUNT›+\\x\n\t.endr\n\t.irpc x, 12\n\t.word ‹COUNT›+\\x\n\t.endr\n\tsig 3\n", "**COUNT** = `4`"},
	{"a routine in bodies", "\t.macro sig\n\tbl ‹ring›\n\t.endm\n\t.rept 2\n\tbl ‹ring›\n\t.endr\n\t.if 0\n\tb ‹ring›\n\t.endif\n«ring»:\tsig\n\tbx lr\n", "**ring**"},
	{"an argument", "\t.macro go to\n\tb \\to\n\t.endm\n«ring»:\tgo ‹ring›\n\tgo to=‹ring›\n", "**ring**"},
	{"a parameter", "\t.macro sig «motor», way=3\n\tmovs r0, #\\‹motor›\n\t.if \\‹motor› > 2\n\t.word \\‹motor›\\()0\n\t.endif\n\t.endm\n\tsig 1\n\tsig ‹motor›=2, way=4\n\t.macro other motor\n\t.word \\motor\n\t.endm\nmotor:\n", "parameter of the macro `sig motor, way=3`"},
	{"a parameter with a default", "\t.macro sig motor, «way»=3\n\t.word \\‹way›, \\motor\n\t.endm\n\tsig ‹way›=2\n", "it is `3`"},
	{"a parameter that calls have to give", "\t.macro sig «motor»:req\n\t.word \\‹motor›\n\t.endm\n", "has to give it"},
	{"a macro in bodies", "\t.macro «sig» x\n\t.word \\x\n\t.endm\n\t.macro all\n\t‹sig› 1\n\t.endm\n\t‹sig› 2\n\tall\n\t.if 0\n\t‹sig› 3\n\t.endif\n", "macro sig x"},
	{"a numeric label", "1:\tnop\n«1»:\tb ‹1b›\n\tbeq ‹1b›\n1:\tb 1b\n", ".text + 0x2"},
	{"spellings of a register's name", "«Led» .req r4\n\tmovs ‹led›, #1\n\tmovs ‹LED›, #1\n\tmovs ‹Led›, #1\n\tpush {‹led›}\n\t.macro sig\n\tmovs ‹led›, #2\n\t.endm\n", "= r4"},
	{"a label like a barrier's option", "«ish»:\tdmb ish\n\tdsb ISH\n\tb ‹ish›\n\tldr r0, =‹ish›\n\t.macro sig\n\tdmb ish\n\tb ‹ish›\n\t.endm\n", "**ish**"},
	{"a label like a register of a coprocessor", "«c0»:\tmcr p15, 0, r0, c0, c1, 4\n\tb ‹c0›\n", "**c0**"},
	{"a label like a coprocessor", "«p15»:\tmrc p15, 0, r0, c0, c1, 4\n\tb ‹p15›\n\t.word ‹p15›\n", "**p15**"},
	{"a label like a mask", "«i»:\tcpsid i\n\tb ‹i›\n", "**i**"},
	{"a label like a special register", "«primask»:\tmsr primask, r0\n\tmrs r0, primask\n\tb ‹primask›\n", "**primask**"},
	{"a label like a shift", "«asr»:\tmov r2, r1, asr #3\n\tb ‹asr›\n\tbeq ‹asr›\n\tadr r0, ‹asr›\n\tldr r0, =‹asr›\n", "**asr**"},
	{"a constant like a shift", "\t.equ «lsl», 2\n\tldr r0, [r1, r2, lsl #‹lsl›]\n\tadd r0, r1, r2, lsl #‹lsl›\n", "**lsl**"},
	{"a label like a condition", "«eq»:\tit eq\n\tmoveq r0, r1\n\tb ‹eq›\n", "**eq**"},
	{"a label like a type", "\t.type ‹function›, %function\n\t.type ring, %function\nring:\n«function»:\tb ‹function›\n", "**function**"},
	{"a label like a sentence", "\t.ascii \"ring\"\n\t.section .ring, \"a\"\n\t.text\n«ring»:\tb ‹ring› @ ring\n\t.global ‹ring›\n", "**ring**"},
	{"a label that a macro makes", "\t.macro make x\nlamp_\\x:\n\t.endm\n\tmake «one»\n\tb ‹lamp_one›\n", ""},
}

// TestPlaces holds that all places of a name are found from each of them, that its definition is, and
// that a hover says the same everywhere.
func TestPlaces(t *testing.T) {
	for _, x := range namedPlaces {
		t.Run(x.name, func(t *testing.T) {
			text, marked, def := marks("\t.cpu cortex-m3\n\t.syntax unified\n\t.thumb\n" + x.text)
			r := analyzePath(t, "a.s", text)
			for _, at := range marked {
				word := text[at.Start:at.End]
				if x.hover == "" && at == def {
					continue // only a part of the name is there
				}
				var got []finding.Span
				for _, l := range r.References(at.Start) {
					got = append(got, l.Span)
				}
				slices.SortFunc(got, func(a, b finding.Span) int { return a.Start - b.Start })
				if x.hover != "" && !slices.Equal(got, marked) || !slices.Contains(got, at) {
					t.Errorf("references of %s at %d: %v, want %v", word, at.Start, got, marked)
				}
				if d := r.Definition(at.Start); len(d) != 1 || x.hover != "" && d[0].Span != def {
					t.Errorf("definition of %s at %d: %v, want %v", word, at.Start, d, def)
				}
				if h, ok := r.Hover(at.Start); x.hover != "" && (!ok || !strings.Contains(h.Markdown, x.hover)) {
					t.Errorf("hover of %s at %d: %q lacks %q", word, at.Start, h.Markdown, x.hover)
				}
			}
		})
	}
}

// marks takes the marks out of a text, and gives the places that they are around, and the one that
// is a definition.
func marks(text string) (plain string, all []finding.Span, def finding.Span) {
	for {
		i := strings.IndexAny(text, "«‹")
		if i < 0 {
			return text, all, def
		}
		open, end := "‹", "›"
		if strings.HasPrefix(text[i:], "«") {
			open, end = "«", "»"
		}
		text = text[:i] + text[i+len(open):]
		n := strings.Index(text, end)
		text = text[:n] + text[n+len(end):]
		if all = append(all, finding.Span{Start: i, End: n}); open == "«" {
			def = all[len(all)-1]
		}
	}
}

// TestOwnWords holds what is said of words that belong to an instruction, whatever labels there are:
// they are no names, and have no places.
func TestOwnWords(t *testing.T) {
	const m, a = "\t.cpu cortex-m3\n\t.syntax unified\n\t.thumb\n", "\t.arch armv7-a\n\t.syntax unified\n\t.arm\n"
	for _, x := range []struct{ head, line, hover string }{
		{m, "dmb i^sh", "inner shareable"}, {m, "dsb SY^", "full system"}, {m, "isb s^y", "full system"},
		{m, "cpsid i^", "PRIMASK"}, {m, "cpsie i^f", "interrupts (on the M profile PRIMASK) and fast"},
		{a, "setend b^e", "big-endian"}, {a, "setend l^e", "little-endian"},
		{m, "mcr p1^5, 0, r0, c7, c10, 4", "system control"}, {m, "mcr p15, 0, r0, c^7, c10, 4", "register of a coprocessor, number 7"},
		{m, "mrc p^3, 0, r0, c7, c10, 4", "coprocessor 3"}, {a, "mcr p15, 0, r0, c7, c1^0, 4", "number 10"}, {a, "mcr p14, 0, r0, cr^7, cr10, 4", "number 7"},
		{m, "msr prima^sk, r0", "keeps off all exceptions"}, {m, "mov r2, r1, as^r #3", ""}, {a, "ldr r0, [r1, r2, ls^l #2]", ""},
	} {
		before, after, _ := strings.Cut(x.line, "^")
		i := strings.LastIndexAny(before, " [") + 1
		word := before[i:] + after
		if n := strings.IndexAny(word, ", #]"); n >= 0 {
			word = word[:n]
		}
		for _, label := range []string{"", word + ":\n"} {
			text := x.head + label + "\t" + before + after + "\n"
			off := len(x.head) + len(label) + 1 + len(before) - 1
			r := analyzePath(t, "a.s", text)
			h, ok := r.Hover(off)
			if ok != (x.hover != "") || !strings.Contains(h.Markdown, x.hover) {
				t.Errorf("%q: %q, want %q", text, h.Markdown, x.hover)
			}
			if d, refs := r.Definition(off), r.References(off); len(d)+len(refs) > 0 {
				t.Errorf("%q: %s is defined at %v, and named at %v", text, word, d, refs)
			}
			if _, err := r.RenameAt("a.s", off); err == nil || !strings.Contains(err.Error(), "belongs to the assembler") {
				t.Errorf("%q: renaming: %v", text, err)
			}
		}
	}
}
