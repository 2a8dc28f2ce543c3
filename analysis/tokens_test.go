package analysis

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
	"narrowgauge/isa/reftest/sources"
)

// tokenText writes tokens as text, kind and marks.
func tokenText(text string, list []describe.Token) (out []string) {
	for _, x := range list {
		s := text[x.Start:x.End] + " " + describe.TokenKinds[x.Kind]
		for i, name := range describe.TokenMarkNames {
			if x.Marks>>i&1 != 0 {
				s += "," + name
			}
		}
		out = append(out, s)
	}
	return out
}

// tokenLines are lines of a source and their tokens, with the source that is around.
var tokenLines = []struct{ before, line, after, want string }{
	{"", "ring: push {r4, lr} @ bell", "bl ring", "ring function,definition|push keyword,thumb|r4 variable,low|lr variable,high|@ bell comment"},
	{"", "wait: b wait", "", "wait label,definition|b keyword,thumb|wait label"},
	{"", "beq.n 1f", "1: nop", "beq keyword,conditional,thumb|.n modifier|1f label"},
	{"", "1: movs r8, #0x1f", "", "1 label,definition|movs keyword,thumb|r8 variable,high|0x1f number"},
	{".equ LAMP, 4", "ldr r0, =LAMP", "", "ldr keyword,literal,thumb|r0 variable,low|LAMP enumMember,readonly,literal"},
	{"", "LAMP = 4", "", "LAMP enumMember,definition,readonly|4 number"},
	{"", ".equ LAMP, 'a'", "", ".equ decorator|LAMP enumMember,definition,readonly|'a' string"},
	{"bell .req r9", "mov bell, r1", "", "mov keyword,thumb|bell variable,high|r1 variable,low"},
	{"bell .req r5", ".unreq bell", "", ".unreq decorator|bell variable,low"},
	{"", "bell .req r5", "", "bell variable,definition,low|.req decorator|r5 variable,low"},
	{"", "tones: .word 440, ring /* x */ + 2 @ y", "ring: nop", "tones variable,definition,static|.word decorator|440 number|ring label|/* x */ comment|2 number|@ y comment"},
	{"", ".macro light n, to=3", ".endm", ".macro decorator|light macro,definition|n parameter,definition|to parameter,definition|3 number"},
	{".macro light n", "movs r0, #\\n", ".endm", "movs keyword|r0 variable,low|\\n parameter"},
	{".macro light n|.byte \\n|.endm", "light 4 ; nop", "", "light macro|4 number|nop keyword,thumb"},
	// The number of the expansion begins no comment in a body.
	{".macro light n", ".Lu\\@_\\n: .byte \\n", ".endm", "\\@ parameter|\\n parameter|.byte decorator|\\n parameter"},
	{".macro light n", ".Lu\\@: .byte \\n @ a \\@", ".endm", "\\@ parameter|.byte decorator|\\n parameter|@ a \\@ comment"},
	{".macro light n", "lamp_\\n\\()_on: nop", ".endm", "\\n parameter|nop keyword"},
	{".macro light n", "x\\@y = 3", ".endm", "\\@ parameter|3 number"},
	{".macro light n", "b .Lu\\@", ".endm", "b keyword|\\@ parameter"},
	{".macro light n", ".ascii \"\\n\\\" \\@\" ; \\n r0", ".endm", ".ascii decorator|\"\\n\\\" \\@\" string|\\n parameter|r0 variable,low"},
	{".if 0", "movs r0, #1", ".endif", "movs keyword,inactive|r0 variable,low,inactive|1 number,inactive"},
	{".arm", "bxeq lr", "", "bxeq keyword,conditional,a32|lr variable,high"},
	{"", `.ascii "a \" ; b" ; .section .lamps, "a"`, "", `.ascii decorator|"a \" ; b" string|.section decorator|.lamps namespace|"a" string`},
	{"", "mrs r0, primask", "", "mrs keyword,thumb|r0 variable,low|primask variable,readonly,defaultLibrary"},
	{"/* one", "two */ nop /* three", "*/", "two */ comment|nop keyword,thumb|/* three comment"},
	{"", "bl elsewhere", "", "bl keyword,thumb|elsewhere function,external"},
	{".type ring, %function", "b ring", "ring: nop", "b keyword,thumb|ring function"},
}

func TestTokens(t *testing.T) {
	t.Parallel()
	for _, x := range tokenLines {
		before := ".syntax unified\n.thumb\n"
		if x.before != "" {
			before += strings.ReplaceAll(x.before, "|", "\n") + "\n"
		}
		text := before + x.line + "\n" + x.after + "\n"
		n := strings.Count(before, "\n")
		r := analyze(t, nil, text)
		if got := strings.Join(tokenText(text, r.TokensIn(r.prog.Path, n, n+1)), "|"); got != x.want {
			t.Errorf("%s:\n got %s\nwant %s", x.line, got, x.want)
		}
	}
}

// checkTokens says what is wrong with tokens: they are in order, in one line each, and hold
// no blanks at their ends.
func checkTokens(text string, list []describe.Token) error {
	at := 0
	for _, x := range list {
		switch {
		case x.Start < at || x.End <= x.Start || x.End > len(text):
			return fmt.Errorf("bytes %d to %d, after %d", x.Start, x.End, at)
		case strings.ContainsAny(text[x.Start:x.End], "\r\n"):
			return fmt.Errorf("%q crosses lines", text[x.Start:x.End])
		case int(x.Kind) >= len(describe.TokenKinds) || x.Marks>>len(describe.TokenMarkNames) != 0:
			return fmt.Errorf("%q is of no known kind", text[x.Start:x.End])
		}
		at = x.End
	}
	return nil
}

// TestTokensValid asks for the tokens of sources that nobody here wrote, of made ones, and of
// odd bytes: each is well-formed, and those of a part are those of the whole.
func TestTokensValid(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(71, 7)
	files, all, named := 0, 0, 0
	ask := func(path, text string, set *Settings) {
		f := syntax.Parse(text)
		r, err := Analyze(t.Context(), &Input{Path: path, File: f, Set: set})
		if err != nil {
			t.Fatal(err)
		}
		list := r.TokensIn(path, 0, f.NumLines())
		if err := checkTokens(text, list); err != nil {
			t.Errorf("%v in\n%.2000s", err, text)
		}
		files, all = files+1, all+len(list)
		for _, x := range list {
			if x.Kind != describe.TokenComment {
				named++
			}
		}
		a := rnd.IntN(f.NumLines())
		b := a + rnd.IntN(f.NumLines()-a)
		var part []describe.Token
		for _, x := range list {
			if n := f.LineAt(x.Start); n >= a && n < b {
				part = append(part, x)
			}
		}
		if got := r.TokensIn(path, a, b); fmt.Sprint(got) != fmt.Sprint(part) {
			t.Errorf("lines %d to %d: %v, want %v", a, b, tokenText(text, got), tokenText(text, part))
		}
	}
	for _, f := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
		ask("a.s", f(7, 300), nil)
	}
	for _, x := range tokenLines {
		text := x.line + "\r\n" + x.line + "é😀\r" + x.before
		ask("a.s", text, nil)
		ask("a.S", "#define LAMP 4 // x\n#include <a.h>\n"+text, nil)
		cut := rnd.IntN(len(text))
		ask("a.s", text[cut:]+"\n/*"+text[:cut], nil)
	}
	for _, p := range sources.Chosen(t) {
		texts := realTexts(t, p).texts
		for range reftest.Count(15, 400, 10_000) {
			x := texts[rnd.IntN(len(texts))]
			if len(x.text) < 60_000 {
				ask("a.s", x.text, &Settings{Arch: x.unit.Config.Arch})
			}
		}
	}
	if named*3 < all {
		t.Errorf("of %d tokens %d are no comments", all, named)
	}
	proof.Counted("tokens: %d of %d files, %d of them no comments", all, files, named)
}
