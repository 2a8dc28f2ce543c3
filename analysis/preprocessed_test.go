package analysis

import (
	"context"
	"math/rand"
	"path"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
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
			for _, d := range r.Each() {
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
	for _, d := range r.Early() {
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

// TestPreprocessedBeside asks for rewrites that write beside another line, or into one:
// where the preprocessor made that line, it stays as it is, as the columns of what it has
// become are none of the text.
func TestPreprocessedBeside(t *testing.T) {
	const made = "#define LEAVE(x) .global x ; .balign 2 ; x: bx lr|#define WHEN itt eq|#define KEEP moveq r3, r4|#define PORT 0x40000000|"
	const v4, v7 = "\t.arch armv4t|\t.syntax unified|\t.thumb|", "\t.arch armv7-m|\t.syntax unified|\t.thumb|"
	for _, c := range []struct{ name, text, want string }{
		{"a pool, after a return", v4 + "\t«ldr r0, =PORT»|\tbx lr|\t.space 1100|", "insert-pool \tbx lr|\t.ltorg|\t.space 1100|"},
		{"a pool, before a return that a macro makes", v4 + "\t«ldr r0, =PORT»|\tLEAVE(turn)|\t.space 1100|", "insert-pool \tldr r0, =PORT|\tb 1f|\t.ltorg|1:|\tLEAVE(turn)|\t.space 1100|"},
		{"an address, before a return that a macro makes", v4 + "\t«adr r0, lamp»|\tLEAVE(turn)|\t.space 1100|\t.balign 4|lamp:\t.word 1|", "pool-address \tldr r0, =lamp|\tb 1f|\t.ltorg|1:|\tLEAVE(turn)|…"},
		{"a call, by a return", v4 + "\t«blx r1»|\tbx lr|", "call-through \tbl 1f|\tbx lr|1:\tbx r1|"},
		{"a call, not by a return that a macro makes", v4 + "\t«blx r1»|\tLEAVE(turn)|", ""},
		{"a call, by the return after it", v4 + "\t«blx r1»|\tLEAVE(turn)|\tnop|\tbx lr|", "call-through \tbl 1f|\tLEAVE(turn)|\tnop|\tbx lr|1:\tbx r1|"},
		{"the end of a block", v7 + "\titt eq|\tmoveq r0, r1|\t«mov r0, r2»|\tbx lr|", "it-condition \tmoveq r0, r2|\tbx lr|; it-close \tit eq|\tmoveq r0, r1|\tmov r0, r2|\tbx lr|"},
		{"the end of one that a macro begins", v7 + "\tWHEN|\tmoveq r0, r1|\t«mov r0, r2»|\tbx lr|", "it-condition \tmoveq r0, r2|\tbx lr|"},
		{"more lines in a block", v7 + "\titt eq|\t«addeq r0, r1, #0x12345»|\tmoveq r0, r2|\tbx lr|", "two-adds \tittt eq|\taddeq r0, r1, #0x12000|…"},
		{"more lines in one that a macro begins", v7 + "\tWHEN|\t«addeq r0, r1, #0x12345»|\tmoveq r0, r2|\tbx lr|", ""},
		{"two blocks for one", v7 + "\titttt eq|\tmoveq r1, r2|\tmoveq r1, r3|\t«addeq r0, r1, #0x12345»|\tmoveq r3, r4|\tbx lr|", "two-adds \titt eq|\tmoveq r1, r2|\tmoveq r1, r3|\tittt eq|\taddeq r0, r1, #0x12000|…"},
		{"two blocks for one with a line that a macro makes", v7 + "\titttt eq|\tmoveq r1, r2|\t«addeq r0, r1, #0x12345»|\tKEEP|\tmoveq r3, r4|\tbx lr|", "two-adds \tit eq|\tmoveq r1, r2|\titttt eq|\taddeq r0, r1, #0x12000|…"},
		{"not before a line that a macro makes", v7 + "\titttt eq|\t«addeq r0, r1, #0x12345»|\tKEEP|\tmoveq r1, r2|\tmoveq r3, r4|\tbx lr|", ""},
	} {
		src := strings.ReplaceAll(made+strings.NewReplacer("«", "", "»", "").Replace(c.text), "|", "\n")
		at := finding.Span{Start: len(made) + strings.Index(c.text, "«"), End: len(made) + strings.Index(c.text, "»") - len("«")}
		r := preprocessedResult(t, &Settings{}, src, nil)
		got := ""
		for _, a := range r.Actions(context.Background(), at) {
			// From the first line that is not the same.
			after := applied(t, src, a.Edits)
			from := strings.LastIndex(src[:a.Edits[0].Span.Start], "\n") + 1
			got += "; " + a.Rewrite + " " + strings.ReplaceAll(after[from:], "\n", "|")
		}
		got = strings.TrimPrefix(got, "; ")
		if begin, more := strings.CutSuffix(c.want, "…"); got != c.want && !(more && strings.HasPrefix(got, begin)) {
			t.Errorf("%s: offered %q, want %q", c.name, got, c.want)
		}
	}
}

// applied makes edits in a text, which have to be in it and in order.
func applied(t *testing.T, text string, edits []finding.Edit) string {
	t.Helper()
	end := len(text)
	for _, e := range slices.Backward(edits) {
		if e.Span.Start < 0 || e.Span.End < e.Span.Start || e.Span.End > end {
			t.Fatalf("no edit of %d bytes: %+v", len(text), edits)
		}
		text, end = text[:e.Span.Start]+e.New+text[e.Span.End:], e.Span.Start
	}
	return text
}

// TestPreprocessedOffers asks for all rewrites in random programs of several files: each
// is an edit of the root's text that takes the finding away, whatever the preprocessor
// makes of the lines beside it.
func TestPreprocessedOffers(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	n, first := reftest.Count(12, 150, 2000), reftest.Seed(0)
	offers := 0
	for seed := first; seed < first+n; seed++ {
		r := rand.New(rand.NewSource(int64(seed)))
		files := preprocessedProgram(r, seed%2 == 0, seed%3 == 0, false)
		load := func(w assemble.Wanted) (string, *syntax.File, bool) {
			for _, dir := range []string{path.Dir(w.From), "lib", "."} {
				if text, ok := files[path.Join(dir, w.Name)]; ok {
					return path.Join(dir, w.Name), syntax.Parse(text), true
				}
			}
			return "", nil, false
		}
		text := files["main.S"]
		res, err := Analyze(context.Background(), &Input{Path: "main.S", File: syntax.Parse(text), Set: &Settings{Arch: []string{"armv4t", "armv7-a"}[seed%2]}, Load: load})
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range res.Each() {
			if d.Path != "main.S" {
				continue
			}
			for _, a := range res.Actions(context.Background(), d.Span) {
				offers++
				if applied(t, text, a.Edits) == text {
					t.Errorf("seed %d: %s: %s changes nothing", seed, d.Message, a.Title)
				}
			}
		}
	}
	proof.Counted("offers in programs of several files: %d in %d programs", offers, n)
	if 2*offers < n {
		t.Error("the generator is lopsided")
	}
}
