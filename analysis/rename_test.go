package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// renames: in the text, ^ is behind the place that is asked about. want is the text after it, or
// with ! in front a part of the reason why there is none.
var renames = []struct{ name, text, to, want string }{
	{"label", "point^:\tnop\n\tb point\n\t.word point+4 @ point\n", "lamp", "lamp:\tnop\n\tb lamp\n\t.word lamp+4 @ point\n"},
	{"from a use", "point:\tnop\n\tb poi^nt\n", "lamp", "lamp:\tnop\n\tb lamp\n"},
	{"all that is said of it", "\t.global point\n\t.type point, %function\npoi^nt:\n\tbx lr\n\t.size point, .-point\n", "lamp", "\t.global lamp\n\t.type lamp, %function\nlamp:\n\tbx lr\n\t.size lamp, .-lamp\n"},
	{"what is left out", "point:\tnop\n\t.if 0\n\tb poi^nt\n\t.endif\n", "lamp", "lamp:\tnop\n\t.if 0\n\tb lamp\n\t.endif\n"},
	{"a body that nobody calls", "point^:\tnop\n\t.macro go\n\tb point\n\t.endm\n", "lamp", "lamp:\tnop\n\t.macro go\n\tb lamp\n\t.endm\n"},
	{"a body", "point^:\tnop\n\t.macro go\n\tb point\n\t.endm\n\tgo\n", "lamp", "lamp:\tnop\n\t.macro go\n\tb lamp\n\t.endm\n\tgo\n"},
	{"an argument", "\t.macro go to\n\tb \\to\n\t.endm\npoint^:\tgo point\n", "lamp", "\t.macro go to\n\tb \\to\n\t.endm\nlamp:\tgo lamp\n"},
	{"not in strings", "point^:\t.ascii \"point\"\n\t.word point\n", "lamp", "lamp:\t.ascii \"point\"\n\t.word lamp\n"},
	{"a constant", "\t.equ LIMIT, 5\n\tmov r0, #LIM^IT\n\t.space LIMIT*2\n", "MOST", "\t.equ MOST, 5\n\tmov r0, #MOST\n\t.space MOST*2\n"},
	{"a constant by =", "LIMIT = 5\n\tmov r0, #LIM^IT\nLIMIT = 6\n\tmov r0, #LIMIT\n", "MOST", "MOST = 5\n\tmov r0, #MOST\nMOST = 6\n\tmov r0, #MOST\n"},
	{"a label like an instruction", "push^:\tpush {r0}\n\tb push\n", "lamp", "lamp:\tpush {r0}\n\tb lamp\n"},
	{"a symbol and a macro of one name", "\t.macro lamp\n\tnop\n\t.endm\nlamp:\tlamp\n\tb lam^p\n", "point", "\t.macro lamp\n\tnop\n\t.endm\npoint:\tlamp\n\tb point\n"},
	{"a macro", "\t.macro go\n\tnop\n\t.endm\n\tg^o\n\tGO\n\t.purgem go\n", "walk", "\t.macro walk\n\tnop\n\t.endm\n\twalk\n\tWALK\n\t.purgem walk\n"},
	{"a macro in its header", "\t.macro g^o a\n\tmov r0, \\a\n\t.endm\n\tgo #1\n", "walk", "\t.macro walk a\n\tmov r0, \\a\n\t.endm\n\twalk #1\n"},
	{"a parameter", "\t.macro go a, b=3\n\tmov \\a, #\\b^\n\t.endm\n\tgo r0, b=4\n\tgo a=r1\nb:\n", "step", "\t.macro go a, step=3\n\tmov \\a, #\\step\n\t.endm\n\tgo r0, step=4\n\tgo a=r1\nb:\n"},
	{"a parameter in the header", "\t.macro go to:req\n\tb \\to\nto\\to:\n\t.endm\n", "way", ""},
	{"a register", "count .req r4\n\tmov count, #1\n\tadd r0, r0, cou^nt\n\tpush {COUNT}\n\t.unreq count\n", "steps", "steps .req r4\n\tmov steps, #1\n\tadd r0, r0, steps\n\tpush {STEPS}\n\t.unreq steps\n"},
	{"a label like a barrier's option", "\t.arch armv7-a\n\t.syntax unified\nish^:\tdmb ish\n\tb ish\n", "lamp", "\t.arch armv7-a\n\t.syntax unified\nlamp:\tdmb ish\n\tb lamp\n"},
	{"a label like a coprocessor's register", "c0^:\tmcr p15, 0, r0, c0, c1, 4\n\tb c0\n", "lamp", "lamp:\tmcr p15, 0, r0, c0, c1, 4\n\tb lamp\n"},
	{"a label like a shift", "asr^:\tmov r2, r1, asr #3\n\tb asr\n", "lamp", "lamp:\tmov r2, r1, asr #3\n\tb lamp\n"},
	{"a label like a type", "\t.type function, %function\nfunction^:\tb function\n", "lamp", "\t.type lamp, %function\nlamp:\tb lamp\n"},
	{"a parameter at a call", "\t.macro go a, b=3\n\tmov \\a, #\\b\n\t.endm\n\tgo r0, b^=4\n", "step", "\t.macro go a, step=3\n\tmov \\a, #\\step\n\t.endm\n\tgo r0, step=4\n"},
	{"a word of an instruction", "\t.arch armv7-a\n\t.syntax unified\nish:\tdmb is^h\n", "lamp", "!belongs to the assembler"},
	{"a number", "1:\tnop\n\tb 1f\n\tbne 1b\n1^:\tb 1b\n", "7", "1:\tnop\n\tb 7f\n\tbne 1b\n7:\tb 7b\n"},
	{"a number that is in between", "1^:\tnop\n7:\tb 1b\n\tb 7b\n", "7", "!would not be the same"},
	{"a number in a macro", "\t.macro go\n1:\tb 1^b\n\t.endm\n\tgo\n", "7", "!belongs to the assembler"},
	{"a macro of the preprocessor", "#define LIMIT 5\n#ifdef LIMIT\n\tmov r0, #LIMIT @ LIMIT\n#endif\n#define TWICE (2*LIMIT)\n\t.word TWI^CE, LIMIT\n", "BOTH", "#define LIMIT 5\n#ifdef LIMIT\n\tmov r0, #LIMIT @ LIMIT\n#endif\n#define BOTH (2*LIMIT)\n\t.word BOTH, LIMIT\n"},
	{"in another one's text", "#define LIM^IT 5\n#if LIMIT > 3\n\tmov r0, #LIMIT\n#endif\n#define TWICE (2*LIMIT)\n\t.word TWICE\n", "MOST", "#define MOST 5\n#if MOST > 3\n\tmov r0, #MOST\n#endif\n#define TWICE (2*MOST)\n\t.word TWICE\n"},
	{"a label in a preprocessed source", "#define GO(x) b x\npoint:\tGO(poi^nt)\n", "lamp", "#define GO(x) b x\nlamp:\tGO(lamp)\n"},
	{"a label in a macro of the preprocessor", "#define GO b point\npoi^nt:\tGO\n", "lamp", "#define GO b lamp\nlamp:\tGO\n"},

	{"a register of the core", "\tmov r^0, #1\n", "lamp", "!belongs to the assembler"},
	{"an instruction", "\tmo^v r0, #1\n", "lamp", "!belongs to the assembler"},
	{"a directive", "\t.wor^d 1\n", "lamp", "!belongs to the assembler"},
	{"a condition", "\t.syntax unified\n\tit e^q\n\tmoveq r0, r1\n", "lamp", "!belongs to the assembler"},
	{"a special register", "\tmrs r0, cps^r\n", "lamp", "!belongs to the assembler"},
	{"a number's value", "\tmov r0, #1^0\n", "lamp", "!belongs to the assembler"},
	{"nothing", "\tnop  ^  @ a\n", "lamp", "!no name here"},
	{"a comment", "\tnop @ poi^nt\n", "lamp", "!no name here"},
	{"no name", "point^:\n", "2x", "!cannot be a name"},
	{"no name with a blank", "point^:\n", "a b", "!cannot be a name"},
	{"a name of a register", "point^:\n", "R4", "!already has a meaning"},
	{"a name of a vector's register", "point^:\n", "d3", "!already has a meaning"},
	{"a name of an instruction", "point^:\n", "adds", "!already has a meaning"},
	{"a name that is there", "point^:\nlamp:\n", "lamp", "!is a name already, in a.s, line 2"},
	{"a name that is in a macro", "point^:\n\t.macro m\n\tb lamp\n\t.endm\n", "lamp", "!is a name already, in a.s, line 3"},
	{"a name of .req", "point^:\nlamp .req r4\n", "lamp", "!already has a meaning"},
	{"a name that the object file does not have", "point^:\tb point\n", ".Lamp", "!left out of the object file"},
	{"a name made by a macro", "\t.macro make x\nlamp_\\x:\n\t.endm\n\tmake one\n\tb lamp_on^e\n", "lamp", "!would not be the same"},
	{"a name others are made of", "\t.macro make x\n\\x:\n\\x\\()_end:\n\t.endm\n\tmake one\n\tb on^e\n\tb one_end\n", "lamp", "!"},
	{"a string", "\t.macro say x\n\\x:\t.ascii \"\\x\"\n\t.endm\n\tsay on^e\n", "two", "!would not be the same"},
	{"a parameter's default", "\t.macro go a^, b=a\n\tmov r0, #\\a\n\t.word \\b\n\t.endm\n\t.equ a, 3\n\tgo 1\n", "step", "\t.macro go step, b=a\n\tmov r0, #\\step\n\t.word \\b\n\t.endm\n\t.equ a, 3\n\tgo 1\n"},
	{"a name in a default", "\t.equ RE^D, 1\n\t.macro go a, n=RED, m=2*RED b\n\tmov r0, #\\n+\\m\n\t.endm\n\tgo 1\n", "ROT", "\t.equ ROT, 1\n\t.macro go a, n=ROT, m=2*ROT b\n\tmov r0, #\\n+\\m\n\t.endm\n\tgo 1\n"},
	{"a name, from a default", "\t.equ RED, 1\n\t.macro go n=R^ED\n\tmov r0, #\\n\n\t.endm\n\tgo\n", "ROT", "\t.equ ROT, 1\n\t.macro go n=ROT\n\tmov r0, #\\n\n\t.endm\n\tgo\n"},
	{"a name that a parameter has, too", "\t.equ n^, 1\n\t.macro go n=2\n\tmov r0, #\\n\n\t.endm\n\tgo\n\tgo n=3\n\tmov r0, #n\n", "k", "\t.equ k, 1\n\t.macro go n=2\n\tmov r0, #\\n\n\t.endm\n\tgo\n\tgo n=3\n\tmov r0, #k\n"},
	{"a macro that is built in", "#ifdef __ar^m__\n\tnop\n#endif\n", "lamp", "!defined outside"},

	{"a register with a name that is none in operands", "lamp .req r4\n\tmov la^mp, #1\n", "_lamp", "!begins with a letter"},
	{"a register with a dollar", "la^mp .req r4\n\tmov lamp, #1\n", "lamp$", "!begins with a letter"},
	{"a register with a dot", "la^mp .req r4\n\tmov lamp, #1\n", "lamp.red", "!begins with a letter"},
	{"a register with an underscore", "la^mp .req r4\n\tmov lamp, #1\n", "red_lamp2", "red_lamp2 .req r4\n\tmov red_lamp2, #1\n"},
	{"a vector register with a dollar", "\t.fpu neon\nlamp .dn d4\n\tvadd.f32 la^mp, lamp, lamp\n", "la$mp", "!begins with a letter"},
	{"a dollar label", "f:\tb 5^5$\n55$:\tnop\n", "56", "!cannot be changed here"},
	{"what a comment of two lines divides", "lamp:\tnop\n\tldr r0, /* red\n lamp */ =la^mp\n", "signal", "signal:\tnop\n\tldr r0, /* red\n lamp */ =signal\n"},
	{"columns", "\tAREA code, CODE\npoint\tMOV r0, #1 ; point\n\tB poi^nt\n\tEXPORT point\n\tEND\n", "lamp", "\tAREA code, CODE\nlamp\tMOV r0, #1 ; point\n\tB lamp\n\tEXPORT lamp\n\tEND\n"},
	{"a constant of columns", "LIMIT EQU 5\n\tAREA code, CODE\n\tMOV r0, #LIM^IT\n\tEND\n", "MOST", "MOST EQU 5\n\tAREA code, CODE\n\tMOV r0, #MOST\n\tEND\n"},
	{"a register of columns", "count RN 4\n\tAREA code, CODE\n\tMOV cou^nt, #1\n\tEND\n", "steps", "steps RN 4\n\tAREA code, CODE\n\tMOV steps, #1\n\tEND\n"},
	{"columns have no dots", "\tAREA code, CODE\npoin^t\tMOV r0, #1\n\tEND\n", "a.b", "!cannot be a name"},
	{"modules", "\tNAME lamps\n\tSECTION .text : CODE(2)\n\tPUBLIC point\npoint:\tMOVS r0, #1 ; point\n\tB poi^nt\n\tEND\n", "lamp", "\tNAME lamps\n\tSECTION .text : CODE(2)\n\tPUBLIC lamp\nlamp:\tMOVS r0, #1 ; point\n\tB lamp\n\tEND\n"},
}

// renamedText renames what is at a place of a source, and gives the text after that; or why
// nothing is renamed.
func renamedText(t *testing.T, path, text string, off int, to string) (string, string) {
	t.Helper()
	r := analyzePath(t, path, text)
	target, err := r.RenameAt(path, off)
	if err == nil {
		err = r.CanRename(target, to)
	}
	var edits map[string][]Edit
	if err == nil {
		edits, err = r.RenameEdits(target, to)
	}
	if err == nil {
		var after *Result
		if after, err = r.Edited(context.Background(), edits); err != nil {
			t.Fatal(err)
		}
		if err = r.SameBut(after, target, to); err == nil {
			return after.in.File.Text(), ""
		}
	}
	return "", err.Error()
}

func analyzePath(t *testing.T, path, text string) *Result {
	t.Helper()
	r, err := Analyze(context.Background(), &Input{Path: path, File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestRenames holds what is renamed with a name, and what is not renamed and why.
func TestRenames(t *testing.T) {
	for _, x := range renames {
		t.Run(x.name, func(t *testing.T) {
			before, after, _ := strings.Cut(x.text, "^")
			path := "a.s"
			if strings.Contains(x.text, "#ifdef") || strings.Contains(x.text, "#define") {
				path = "a.S"
			}
			got, why := renamedText(t, path, before+after, len(before)-1, x.to)
			part, refused := strings.CutPrefix(x.want, "!")
			switch {
			case refused && (why == "" || !strings.Contains(why, part)):
				t.Errorf("got %q, refused: %q; want the reason %q", got, why, part)
			case !refused && x.want != "" && got != x.want:
				t.Errorf("got %q, refused: %q\nwant %q", got, why, x.want)
			}
		})
	}
}
