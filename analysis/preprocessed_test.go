package analysis

import (
	"context"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
)

const pointsHeader = `#ifndef POINTS_H
#define POINTS_H
#define LAMP_PORT 0x40000000
#define POINTS 8
#define SET(reg, v) movs reg, v
#ifndef __ASSEMBLER__
typedef unsigned int word;
#endif
	.macro	blink n
	movs	r0, \n
	.endm
#endif
`

// preprocessedResult analyses a root file with headers around it.
func preprocessedResult(t *testing.T, set *Settings, text string, files map[string]string) *Result {
	t.Helper()
	load := func(w assemble.Wanted) (string, *syntax.File, bool) {
		text, ok := files[w.Name]
		return w.Name, syntax.Parse(text), ok
	}
	r, err := Analyze(context.Background(), &Input{Path: "signal.S", File: syntax.Parse(text), Set: set, Load: load})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// TestPreprocessed marks in the text, by «», where findings are expected.
func TestPreprocessed(t *testing.T) {
	const head = "#include \"points.h\"\n\t.syntax unified\n\t.thumb\nstart:\n"
	for _, x := range []struct{ name, text, want string }{
		{"what is copied", "\tmovs r0, «#300»\n", "constant-range"},
		{"what a macro makes", "\tmovs r0, «#(POINTS * 64)»\n", "constant-range; the macro POINTS makes: 8"},
		{"a whole macro", "\t«SET(r0, #300)»\n", "constant-range; the macro SET makes: movs r0, #300"},
		{"behind a macro", "\tSET(r0, #1); movs r1, «#256»\n", "constant-range"},
		{"in front of one", "\tmovs r1, «#256» ; SET(r0, #1)\n", "constant-range"},
		{"a macro of the assembler out of a header", "\t«blink #256»\n", "constant-range; in blink: movs r0,#256"},
		{"continued", "\tmovs r0, \\\n\t«#256»\n", "constant-range"},
		{"inactive", "#if POINTS > 8\n\tfoo bar\n#else\n\tSET(r0, #8)\n#endif\n", ""},
		{"predefined", "#ifdef __thumb__\n\tmovs r0, «#256»\n#endif\n#if __ARM_ARCH >= 7\n\tfoo\n#endif\n", "constant-range"},
		{"no such name", "\t«LAMPS» r0, #1\n", "unknown-mnemonic"},
		{"a missing header", "«#include \"lamps.h\"»\n\tLAMPS r0, #1\n\tldr r0, =LAMPS_PORT\n\tb lamps_on\n", "include-missing"},
		{"a missing header with a macro of its own", "«#include \"lamps.h\"»\n\tmovs r2, #BIT(LAMP_RED)\n\tmovs r2, BIT(3)\n", "include-missing"},
		{"an error", "#if 0\n#error nothing\n#else\n#«error no lamps»\n#endif\n", "preprocessor"},
		{"a comment sign", "# no directive\n\tmovs r0, #1 @ don't\n", ""},
		{"conditions of both kinds", "\t.if POINTS == 8\n#define LAMPS 1\n\tmovs r0, LAMPS\n\t.else\n\tfoo\n\t.endif\n", ""},
		{"a body with macros", "\t.macro lamp\n\tmovs r0, #LAMP_PORT >> 24\n\t.endm\n\tlamp\n", ""},
	} {
		t.Run(x.name, func(t *testing.T) {
			text := head + x.text
			a, b := strings.Index(text, "«"), strings.Index(text, "»")-len("«")
			text = strings.NewReplacer("«", "", "»", "").Replace(text)
			r := preprocessedResult(t, &Settings{Arch: "armv4t", StartMode: "thumb"}, text, map[string]string{"points.h": pointsHeader})
			found := false
			for _, d := range r.Diagnostics() {
				got := d.Code
				for _, rel := range d.Related {
					got += "; " + rel.Message
				}
				if got != x.want {
					t.Errorf("%s (%s), want %s", got, d.Message, x.want)
					continue
				}
				found = true
				// A missing header is shown at its name.
				if at := text[d.Span.Start:d.Span.End]; d.Path != "signal.S" || d.Code != finding.CodeInclude && d.Code != finding.CodePreprocessor && (d.Span != finding.Span{Start: a, End: b}) || d.Span.Start < a || d.Span.End > b {
					t.Errorf("shown at %q in %s, want %q", at, d.Path, text[a:b])
				}
			}
			if !found && x.want != "" {
				t.Errorf("no %s", x.want)
			}
		})
	}
}

// TestPreprocessedFeatures asks about macros of the preprocessor and about what
// is beside them.
func TestPreprocessedFeatures(t *testing.T) {
	text := "#include \"points.h\"\n\t.syntax unified\n\t.thumb\nstart:\n\tldr r0, =LAMP_PORT\n\tSET(r1, #POINTS)\n\tb start\n#if LAMPS\n\tfoo\n#endif\n#define LAMPS 2\n\tmovs r2, #LAMPS\n"
	r := preprocessedResult(t, &Settings{Arch: "armv4t", StartMode: "thumb", Defines: []string{"GIVEN=7"}}, text, map[string]string{"points.h": pointsHeader})
	for _, d := range r.Diagnostics() {
		t.Errorf("%s: %s", d.Code, d.Message)
	}
	hover := func(at, want string) {
		t.Helper()
		h, ok := r.Hover(strings.Index(text, at))
		if !ok || !strings.Contains(h.Markdown, want) {
			t.Errorf("hover on %s: %v %q, want %q", at, ok, h.Markdown, want)
		}
	}
	hover("LAMP_PORT", "#define LAMP_PORT 0x40000000")
	hover("SET(", "#define SET(reg, v) movs reg, v")
	hover("SET(", "movs r1, #8")
	hover("ldr", "LDR")
	hover("#include", "#include")
	hover("#if LAMPS", "when the value is not zero")
	hover("b start", "B")
	def := func(at string) (out []string) {
		for _, l := range r.Definition(strings.Index(text, at)) {
			src := text
			if l.Path == "points.h" {
				src = pointsHeader
			}
			out = append(out, l.Path+" "+src[l.Span.Start:l.Span.End])
		}
		return out
	}
	for at, want := range map[string]string{"SET(": "points.h SET", "start\n#if": "signal.S start", "LAMPS\n\tf": "", "LAMPS 2": "signal.S LAMPS", "points.h": "points.h "} {
		if got := strings.Join(def(at), ","); got != want {
			t.Errorf("definition of %s: %q, want %q", at, got, want)
		}
	}
	if n := len(r.References(strings.Index(text, "LAMPS 2"))); n != 2 {
		t.Errorf("%d references of LAMPS, want the definition and one use", n)
	}
	inactive := ""
	for _, l := range r.Inactive() {
		if l.Path == "signal.S" {
			inactive += text[l.Span.Start:l.Span.End]
		}
	}
	if strings.TrimSpace(inactive) != "foo" {
		t.Errorf("inactive: %q", inactive)
	}
	names := ""
	for _, s := range r.Symbols() {
		names += s.Name + " " + text[s.NameSpan.Start:s.NameSpan.End] + ";"
	}
	if names != "start start;" {
		t.Errorf("outline %q", names)
	}
	for off := 0; off <= len(text); off++ { // no offset is out of range
		r.Hover(off)
		r.Definition(off)
		r.References(off)
		r.Actions(context.Background(), finding.Span{Start: off, End: off})
	}
}

// TestPreprocessedRewrites wants the names of the preprocessor kept in what is
// offered, and nothing offered for what a macro makes as a whole.
func TestPreprocessedRewrites(t *testing.T) {
	const head = "#include \"points.h\"\n#define port r3\n\t.syntax unified\n\t.thumb\nstart:\n"
	for line, want := range map[string]string{
		"\tmovs r0, #LAMP_PORT":              "\tldr r0, =LAMP_PORT",
		"\tmovs port, #0x12345678 @ port":    "\tldr port, =0x12345678 @ port",
		"on:\tmov r0, #LAMP_PORT + POINTS":   "on:\tldr r0, =LAMP_PORT + POINTS",
		"\tSET(r0, #1); movs r1, #LAMP_PORT": "\tSET(r0, #1); ldr r1, =LAMP_PORT",
		"\tSET(r0, #300)":                    "",
		"\tmovs r0, \\\n\t#LAMP_PORT":        "",
	} {
		text := head + line + "\n\tbx lr\n"
		r := preprocessedResult(t, &Settings{Arch: "armv4t", StartMode: "thumb"}, text, map[string]string{"points.h": pointsHeader})
		got := ""
		for _, a := range r.Actions(context.Background(), finding.Span{Start: len(head), End: len(head) + len(line)}) {
			if a.Rewrite == "literal-load" {
				f := syntax.Parse(text)
				for i := len(a.Edits) - 1; i >= 0; i-- {
					f = f.Edit(a.Edits[i].Span.Start, a.Edits[i].Span.End, a.Edits[i].New)
				}
				got, _, _ = strings.Cut(strings.TrimPrefix(f.Text(), head), "\n")
			}
		}
		if got != want {
			t.Errorf("%q becomes %q, want %q", line, got, want)
		}
	}
}
