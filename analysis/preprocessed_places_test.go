package analysis

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/rewrite"
)

// placedProgram is a program of signal.S and headers, with what is said about its
// places.
type placedProgram struct {
	*Result
	files map[string]string
}

// places analyses a program; every line of it may end in a carriage return
// and a line feed.
func places(t *testing.T, crlf bool, text string, headers map[string]string) placedProgram {
	t.Helper()
	files := map[string]string{"signal.S": text}
	for name, h := range headers {
		files[name] = h
	}
	if crlf {
		for name, text := range files {
			files[name] = strings.ReplaceAll(text, "\n", "\r\n")
		}
	}
	return placedProgram{preprocessedResult(t, &Settings{Arch: "armv6-m", Syntax: "unified"}, files["signal.S"], files), files}
}

func (p placedProgram) text(l finding.Location) string {
	return l.Path + ": " + strings.ReplaceAll(p.files[l.Path][l.Span.Start:l.Span.End], "\r\n", "\n")
}

// at is the offset of a marked text in a file.
func (p placedProgram) at(t *testing.T, path, mark string) int {
	t.Helper()
	i := strings.Index(p.files[path], mark)
	if i < 0 {
		t.Fatalf("no %q in %s", mark, path)
	}
	return i
}

func (p placedProgram) findings() (out []string) {
	for _, d := range p.Early() {
		out = append(out, d.Code+" "+p.text(d.Location))
	}
	return out
}

func (p placedProgram) out() (out []string) {
	for _, l := range p.Inactive() {
		out = append(out, p.text(l))
	}
	return out
}

// both runs a test with line feeds, and with carriage returns in front of them.
func both(t *testing.T, run func(t *testing.T, crlf bool)) {
	for _, crlf := range []bool{false, true} {
		t.Run(fmt.Sprintf("crlf=%v", crlf), func(t *testing.T) { run(t, crlf) })
	}
}

func same(t *testing.T, what string, got []string, want ...string) {
	t.Helper()
	if !slices.Equal(got, want) {
		t.Errorf("%s: %q, want %q", what, got, want)
	}
}

const placesHeader = `#ifndef H
#define H
#define REG r3
#define LONG_NAME_OF_A_LAMP 1
#define FUNC(n) .global n ; .thumb_func ; n:
	.macro go n
#if LONG_NAME_OF_A_LAMP
	movs r0, #\n
#else
	foo
#endif
	.endm
	movs r1, #256
	.if LONG_NAME_OF_A_LAMP > 7
	bar
	.endif
#if LAMP == 3
	foo
#endif
in_header:	movs REG, #1
#endif
`

// TestPreprocessedPlaces asks for places in lines that the preprocessor has
// changed, and in headers.
func TestPreprocessedPlaces(t *testing.T) {
	both(t, func(t *testing.T, crlf bool) {
		p := places(t, crlf, `	.thumb
#include "h.h"
FUNC(first)
	movs REG, #LONG_NAME_OF_A_LAMP ; b second
	.balign 4
second: .word LONG_NAME_OF_A_LAMP, first, in_header
	go 256
	go LONG_NAME_OF_A_LAMP
	.if LONG_NAME_OF_A_LAMP > \
		1 @ no
	bad
	.else
	.byte 1
	.endif
# include "h.h"
last: .byte LONG_NAME_OF_A_LAMP
	.set lamps, LONG_NAME_OF_A_LAMP /* one */
`, map[string]string{"h.h": placesHeader})
		same(t, "findings", p.findings(), "constant-range signal.S: go 256", "constant-range h.h: #256")
		d := p.Early()[0]
		if len(d.Related) != 1 || p.text(d.Related[0].Location) != "h.h: movs r0, #\\n" {
			t.Errorf("related to %q in %+v", d.Message, d.Related)
		}
		same(t, "left out", p.out(), "signal.S: \n\tbad\n", "h.h: \tfoo\n", "h.h: \n\tbar\n", "h.h: \tfoo\n")

		outline := func(path string) (out []string) {
			list := p.SymbolsIn(path)
			for i := 0; i < len(list); i++ {
				s := list[i]
				list = slices.Insert(list, i+1, s.Children...)
				full := strings.TrimPrefix(p.text(finding.Location{Path: path, Span: s.Full}), path+": ")
				first, _, _ := strings.Cut(full, "\n")
				last := full[strings.LastIndex(full, "\n")+1:]
				out = append(out, p.files[path][s.NameSpan.Start:s.NameSpan.End]+"|"+first+"|"+last)
			}
			return out
		}
		same(t, "outline", outline("signal.S"), "first|FUNC(first)|\t.set lamps, LONG_NAME_OF_A_LAMP /* one */",
			"second|second: .word LONG_NAME_OF_A_LAMP, first, in_header|# include \"h.h\"",
			"last|last: .byte LONG_NAME_OF_A_LAMP|\t.set lamps, LONG_NAME_OF_A_LAMP /* one */", "lamps|.set lamps, LONG_NAME_OF_A_LAMP|.set lamps, LONG_NAME_OF_A_LAMP")
		same(t, "outline", outline("h.h"), "go|.macro go n|\t.endm", "in_header|in_header:\tmovs REG, #1|in_header:\tmovs REG, #1")

		definition := func(path, mark string) (out []string) {
			for _, l := range p.DefinitionIn(path, p.at(t, path, mark)) {
				out = append(out, p.text(l))
			}
			return out
		}
		same(t, "definition", definition("signal.S", "first)"), "signal.S: first")
		same(t, "definition", definition("signal.S", "first, in"), "signal.S: first")
		same(t, "definition", definition("signal.S", "second"), "signal.S: second")
		same(t, "definition", definition("signal.S", "in_header"), "h.h: in_header")
		same(t, "definition", definition("signal.S", "go 256"), "h.h: go")
		same(t, "definition", definition("signal.S", "REG"), "h.h: REG")
		same(t, "definition", definition("h.h", "REG, #1"), "h.h: REG")
		same(t, "definition of an include", definition("signal.S", "#include"), "h.h: ")
		same(t, "definition of a guarded include", definition("signal.S", "# include"), "h.h: ")

		references := func(path, mark string) (out []string) {
			for _, l := range p.ReferencesIn(path, p.at(t, path, mark)) {
				line := strings.Count(p.files[l.Path][:l.Span.Start], "\n") + 1
				out = append(out, fmt.Sprintf("%s %d", p.text(l), line))
			}
			return out
		}
		same(t, "references", references("signal.S", "first, in"), "signal.S: first 3", "signal.S: first 6")
		same(t, "references", references("h.h", "in_header"), "h.h: in_header 20", "signal.S: in_header 6")
		same(t, "references", references("h.h", "REG, #1"), "h.h: REG 3", "signal.S: REG 4", "h.h: REG 20")
		same(t, "references", references("h.h", "go n"), "h.h: go 6", "signal.S: go 7", "signal.S: go 8")

		hover := func(path, mark, span, want string) {
			t.Helper()
			h, ok := p.HoverIn(path, p.at(t, path, mark))
			if !ok || p.text(finding.Location{Path: path, Span: h.Span}) != path+": "+span || !strings.Contains(h.Markdown, want) {
				t.Errorf("hover on %s in %s: %v %q %q", mark, path, ok, p.text(finding.Location{Path: path, Span: h.Span}), h.Markdown)
			}
		}
		hover("signal.S", "first)", "first", "T16 code, marked as a function")
		hover("signal.S", "second", "second", "Data, aligned")
		hover("signal.S", "go LONG", "go", "movs r0,#1")
		hover("h.h", "movs r1", "movs", "no encoding")
		hover("h.h", "in_header", "in_header", "T16 code")
	})
}

// TestIncludeLeftOut includes files where a condition of the assembler leaves
// everything out: to it the program is one text.
func TestIncludeLeftOut(t *testing.T) {
	both(t, func(t *testing.T, crlf bool) {
		headers := map[string]string{
			"lamps.h":  "#define LAMPS 2\n\tfoo bar\n\t.if 1\n\tfoo\n\t.endif\nlamp:\n",
			"end.h":    "\tfoo bar\n\t.endif\n\t.byte 1\n",
			"begin.h":  "\t.byte 1\n\t.if 0\n\tfoo bar\n",
			"middle.h": "\tfoo bar\n\t.else\n\t.byte 1\n",
		}
		p := places(t, crlf, "\t.if 0\n#include \"lamps.h\"\n\tbad\n\t.endif\n\t.byte LAMPS\n", headers)
		same(t, "findings", p.findings())
		same(t, "left out", p.out(), "signal.S: \n#include \"lamps.h\"\n\tbad\n", "lamps.h: "+headers["lamps.h"])

		p = places(t, crlf, "\t.if 0\n\tbad\n#include \"end.h\"\n\t.byte 2\n", headers)
		same(t, "findings", p.findings())
		same(t, "left out", p.out(), "signal.S: \n\tbad\n", "end.h: \tfoo bar\n")

		p = places(t, crlf, "#include \"begin.h\"\n\tbad\n\t.endif\n\t.byte 2\n", headers)
		same(t, "findings", p.findings())
		same(t, "left out", p.out(), "signal.S: \n\tbad\n", "begin.h: \n\tfoo bar\n")

		p = places(t, crlf, "\t.if 0\n#include \"middle.h\"\n\t.endif\n\t.if 1\n#include \"middle.h\"\n\tbad\n\t.endif\n", headers)
		same(t, "findings", p.findings(), "unknown-mnemonic middle.h: foo")
		same(t, "left out", p.out(), "signal.S: \n", "signal.S: \n\tbad\n")

		p = places(t, crlf, "\t.if 0\n\t.if 1\n#include \"end.h\"\n#include \"lamps.h\"\n\t.else\n\tbad\n\t.endif\n", headers)
		same(t, "findings", p.findings(), "unknown-mnemonic signal.S: bad")
	})
}

// TestBodyAcrossFiles has macros and repetitions that do not end in the file
// where they begin.
func TestBodyAcrossFiles(t *testing.T) {
	headers := map[string]string{
		"lines.h":  "\t.byte 2\nin: \n\t.byte 3\n",
		"pair.h":   "\t.byte 2\n\t.byte 3\n",
		"end.h":    "\t.byte 4\n\t.endm ; .byte 5\n\t.byte 6\n",
		"endr.h":   "\t.byte 4\n\t.endr ; .byte 5\nin:\t.byte 6\n#include \"lines2.h\"\n",
		"lines2.h": "in2:\t.byte 7\n",
		"nest.h":   "\t.byte 8\n#include \"endr.h\"\nout:\n",
		"begin.h":  "\t.byte 9\n\t.rept 2\n\t.byte 10\n#include \"pair.h\"\n",
		"wrong.h":  "\t.byte 256\n",
		"again.h":  "\t.endm\n\t.macro two\n\t.byte 1\n",
	}
	for _, x := range []struct {
		name, text string
		size       int64
		findings   []string
	}{
		{"whole file in a macro", "\t.macro m\n\t.byte 1\n#include \"lines.h\"\n\t.endm\n\tm\n\t.byte 1\nlast:\n", 4, nil},
		{"whole file in a repetition", "\t.rept 3\n\t.byte 1\n#include \"pair.h\"\n\t.endr\n", 9, nil},
		{"the end in the file", "\t.macro m\n#include \"end.h\"\n\tm\nlast:\n", 3, nil},
		{"the end of a repetition in the file", "\t.rept 2\n\t.byte 1\n#include \"endr.h\"\nlast:\n", 7, nil},
		{"the end two files deep", "\t.rept 2\n\t.byte 1\n#include \"nest.h\"\nlast:\n", 9, nil},
		{"the beginning in the file", "#include \"begin.h\"\n\t.byte 11 ; .endr ; .byte 12\nlast:\n", 10, nil},
		{"no end", "\t.byte 1\n\t.macro m\n#include \"lines.h\"\n", 1, []string{"macro-definition signal.S: .macro m"}},
		{"no end in the file", "#include \"begin.h\"\n\tfoo\n", 1, []string{"macro-definition begin.h: .rept 2"}},
		{"a finding", "\t.macro m\n\t.byte 1\n#include \"wrong.h\"\n\t.endm\n\tm\n", 2, []string{"data-range signal.S: m"}},
		{"one ends, one begins", "\t.macro one\n#include \"again.h\"\n\t.endm\n\tone\n\ttwo\n", 1, nil},
	} {
		t.Run(x.name, func(t *testing.T) {
			p := places(t, false, x.text, headers)
			same(t, "findings", p.findings(), x.findings...)
			if size := p.prog.Sections[0].Size; size != x.size {
				t.Errorf("%d bytes, want %d", size, x.size)
			}
			for path, text := range p.files { // no offset is out of range
				for off := 0; off <= len(text); off++ {
					p.HoverIn(path, off)
					p.DefinitionIn(path, off)
					p.ReferencesIn(path, off)
				}
				p.SymbolsIn(path)
			}
		})
	}
	// Every include ends a macro and begins another one.
	headers["on.h"] = "\t.endm\n\t.purgem m\n\t.macro m\n\t.byte 1\n"
	const n = 3000
	p := places(t, false, "\t.macro m\n"+strings.Repeat("#include \"on.h\"\n", n)+"\t.endm\n\tm\n", headers)
	if same(t, "findings", p.findings()); p.prog.Sections[0].Size != 1 || len(p.prog.Macros) != n+1 {
		t.Errorf("%d bytes, %d macros", p.prog.Sections[0].Size, len(p.prog.Macros))
	}
	p = places(t, false, "\t.macro m\n\t.byte 1\n#include \"wrong.h\"\n\t.endm\n\tm\n", headers)
	if d := p.Early(); len(d) != 1 || len(d[0].Related) != 1 || p.text(d[0].Related[0].Location) != "wrong.h: .byte 256" {
		t.Errorf("findings %+v", d)
	}
	p = places(t, false, "\t.rept 2\n\t.byte 1\n#include \"endr.h\"\nlast:\t.word in, in2\n", headers)
	if l := p.Definition(p.at(t, "signal.S", "in2")); len(l) != 1 || p.text(l[0]) != "lines2.h: in2" {
		t.Errorf("definition %v", l)
	}
	if h, ok := p.HoverIn("endr.h", p.at(t, "endr.h", "in:")); !ok || !strings.Contains(h.Markdown, ".text + 0x5") {
		t.Errorf("hover %v %q", ok, h.Markdown)
	}
}

// TestPreludeText has statements in a file of the prelude: they come first.
func TestPreludeText(t *testing.T) {
	text := "lamp:\tsignal 1\n\t.word LAMPS\n\tsignal 256\n"
	pre := "#define LAMPS 2\n\t.macro signal n\n\t.byte \\n, LAMPS\n\t.endm\n\t.hword 256\n\t.byte 256\n"
	for _, x := range []struct {
		name, text, pre string
		place           string
		findings        string
	}{
		{"statements", text, pre, ".text + 0x3", "data-range signal.S: signal 256|data-range pre.h: 256"},
		{"a body that the root ends", "lamp:\n\t.endr\nhere:\n", "\t.byte 1\n\t.rept 1\n\t.byte 2\n", ".text + 0x2", ""},
	} {
		t.Run(x.name, func(t *testing.T) {
			files := map[string]string{"signal.S": x.text, "pre.h": x.pre}
			p := placedProgram{preprocessedResult(t, &Settings{Arch: "armv6-m", Syntax: "unified", Prelude: []string{"pre.h"}}, x.text, files), files}
			if got := strings.Join(p.findings(), "|"); got != x.findings {
				t.Errorf("findings %q, want %q", got, x.findings)
			}
			if h, ok := p.Hover(strings.LastIndex(x.text, "lamp:")); x.findings != "" && (!ok || !strings.Contains(h.Markdown, x.place)) {
				t.Errorf("hover %v %q", ok, h.Markdown)
			}
			if y := p.prog.SymbolOf("lamp"); y == nil || p.view().PlaceText(y.Value.Section, y.Value.N) != x.place {
				t.Errorf("lamp stands at %+v, want %s", y, x.place)
			}
			for path, text := range files {
				for off := 0; off <= len(text); off++ {
					p.HoverIn(path, off)
					p.DefinitionIn(path, off)
					p.ReferencesIn(path, off)
				}
				p.SymbolsIn(path)
			}
			p.Inactive()
			p.Regions()
		})
	}
	// A rewrite pairs what is before the source, too, and what it did not change there
	// keeps nothing from being safe.
	text = ".syntax unified\n.thumb\n\tadd r0, r1, r2\n\tcmp r0, #LAMPS\n\tbx lr\n"
	files := map[string]string{"signal.S": text, "pre.h": pre}
	r := preprocessedResult(t, &Settings{Arch: "armv6-m", Prelude: []string{"pre.h"}}, text, files)
	fixes := 0
	for _, d := range r.Each() {
		if a := r.Actions(context.Background(), d.Span); d.Code == "flags-form" && len(a) > 0 && a[0].Safe && a[0].Proof == rewrite.Same {
			fixes++
		}
	}
	if fixes != 1 {
		t.Errorf("%d findings with a safe rewrite first, want 1: %v", fixes, placedProgram{r, files}.findings())
	}
}

// TestUseAtTheEnd asks right after a use of a macro that ends the file.
func TestUseAtTheEnd(t *testing.T) {
	text := "#define LAMPS 2\n\t.byte LAMPS"
	files := map[string]string{"signal.S": text}
	r := preprocessedResult(t, &Settings{Arch: "armv6-m"}, text, files)
	for _, off := range []int{len(text) - 5, len(text) - 1, len(text)} {
		if h, ok := r.Hover(off); !ok || !strings.Contains(h.Markdown, "LAMPS") {
			t.Errorf("hover at %d of %d: %v %q", off, len(text), ok, h.Markdown)
		}
		if l := r.Definition(off); len(l) != 1 || l[0].Span.Start != strings.Index(text, "LAMPS") {
			t.Errorf("definition at %d: %v", off, l)
		}
	}
}
