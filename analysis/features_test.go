package analysis

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
)

// featureSource is the firmware of a signal box in a few lines; « marks the
// byte that a test asks about.
const featureSource = `	.syntax unified
	.cpu arm7tdmi
	.equ LAMP, 0x41
bell	.req r5
	.thumb
	.text
	.thumb_func
ring:	push {r4, lr}
	ldr r0, =0x12345678
	movs bell, #LAMP
	adds r0, r1, #7
	beq 1f
	bl ring
1:	pop {r4, pc}
	.ltorg
	.align 2
tones:	.word 440, ring
	.arm
entry:	mov r0, #1
	bx lr
`

func TestHover(t *testing.T) {
	r := analyze(t, nil, featureSource)
	for _, d := range r.Each() {
		if d.Severity == finding.Error {
			t.Fatal(d.Message)
		}
	}
	tests := []struct {
		at   string // the first place of this text
		plus int    // bytes into it
		want []string
	}{
		{"push {", 1, []string{"PUSH", "`0xb510`", "2 bytes", "Cycles: ARM7TDMI 3.", "writes sp and memory"}},
		{"ldr r0", 0, []string{"LDR (literal)", "imm8=", "pool at .text + 0x10", "bytes from PC"}},
		{"adds r0", 0, []string{"`0x1dc8`", "imm3=111", "NZCV", "`adds Rdn, #0–255`"}},
		{"#7", 1, []string{"`7` = `0x7`", "It fits", "0–7"}},
		{"0x12345678", 3, []string{"`305419896`", "literal pool at"}},
		{"LAMP\n", 0, []string{"**LAMP** = `65` = `0x41`", "character `'A'`"}},
		{"bell, #", 0, []string{"**bell** = r5", "low register", "AAPCS32"}},
		{"lr}", 0, []string{"link register"}},
		{"1f", 0, []string{".text + 0xe", "T16 code"}},
		{"bl ring", 3, []string{"**ring**", ".text + 0x0", "marked as a function", "line 8"}},
		{"tones", 0, []string{"**tones**", "Data", "aligned to"}},
		{".ltorg", 2, []string{"literal pool", "`0x12345678`"}},
		{".align 2", 2, []string{"power"}},
		{"mov r0", 0, []string{"A32"}},
	}
	for _, x := range tests {
		off := strings.Index(featureSource, x.at)
		h, ok := r.Hover(off + x.plus)
		if !ok {
			t.Errorf("nothing at %q", x.at)
			continue
		}
		if off+x.plus < h.Span.Start || off+x.plus > h.Span.End {
			t.Errorf("hover of %q covers %q", x.at, featureSource[h.Span.Start:h.Span.End])
		}
		for _, w := range x.want {
			if !strings.Contains(h.Markdown, w) {
				t.Errorf("hover of %q lacks %q:\n%s", x.at, w, h.Markdown)
			}
		}
	}
}

func TestDefinition(t *testing.T) {
	r := analyze(t, nil, featureSource)
	for at, want := range map[string]string{"ring\n1": "ring:", "1f": "1:", "LAMP\n": "LAMP, 0x41", "bell, #": "bell\t.req"} {
		off := strings.Index(featureSource, at)
		d := r.Definition(off)
		if len(d) != 1 || d[0].Span.Start != strings.Index(featureSource, want) {
			t.Errorf("definition of %q: %v", at, d)
		}
	}
	if d := r.Definition(strings.Index(featureSource, "r0, r1")); d != nil {
		t.Errorf("a register is defined at %v", d)
	}
}

// TestSymbols holds the outline: the kind of each symbol, its detail, the lines
// that it owns, and what its name's span covers.
func TestSymbols(t *testing.T) {
	r := analyze(t, nil, featureSource)
	kinds := map[program.SymbolKind]string{program.SymCode: "code", program.SymFunction: "function", program.SymData: "data", program.SymConstant: "constant", program.SymRegister: "register", program.SymSection: "section", program.SymMacro: "macro"}
	var got []string
	var add func(in string, list []DocSymbol)
	add = func(in string, list []DocSymbol) {
		for _, s := range list {
			if s.Full.Start > s.NameSpan.Start || s.Full.End < s.NameSpan.End {
				t.Errorf("%s: name %v outside %v", s.Name, s.NameSpan, s.Full)
			}
			got = append(got, fmt.Sprintf("%s%s %s, %s, %q: %s", in, kinds[s.Kind], s.Name, s.Detail, featureSource[s.NameSpan.Start:s.NameSpan.End], featureSource[s.Full.Start:s.Full.End]))
			for _, c := range s.Children {
				if c.Full.Start < s.Full.Start || c.Full.End > s.Full.End {
					t.Errorf("%s: %v is outside of %s, %v", c.Name, c.Full, s.Name, s.Full)
				}
			}
			add(in+s.Name+": ", s.Children)
		}
	}
	add("", r.Symbols())
	lines := strings.Split(strings.TrimSuffix(featureSource, "\n"), "\n")
	part := func(from, to int) string { // lines from and to, counted from 1, without their indent
		return strings.TrimLeft(strings.Join(lines[from-1:to], "\n"), "\t")
	}
	want := []string{
		`constant LAMP, = 65, "LAMP": ` + part(3, 3),
		`register bell, r5, "bell": ` + part(4, 4),
		`section .text, section, ".text": ` + part(6, 6),
		`function ring, T16 .text + 0x0, "ring": ` + part(8, 17),
		`ring: data tones, .text + 0x14, "tones": ` + part(17, 17),
		`code entry, A32 .text + 0x1c, "entry": ` + part(19, 20),
	}
	if !slices.Equal(got, want) {
		t.Errorf("outline:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestRegions(t *testing.T) {
	r := analyze(t, nil, featureSource)
	g := r.Regions()
	last := g[len(g)-1]
	if last.State.String() != "A32" || last.Target != "arm7tdmi" || !last.Unified || last.Span.Start != strings.Index(featureSource, "entry:") {
		t.Errorf("last region %+v", last)
	}
	end := 0
	for _, x := range g {
		if x.Span.Start != end {
			t.Errorf("a gap before %+v", x)
		}
		end = x.Span.End
	}
	if end != len(featureSource) {
		t.Errorf("regions end at %d of %d", end, len(featureSource))
	}
}

// TestRecordsAndCommons checks what is said of the fields of a record and of memory
// that .comm and .lcomm take.
func TestRecordsAndCommons(t *testing.T) {
	text := "\t.struct 0\nstate:\t.space 2\nticks:\t.space 2\n\t.bss\n\t.lcomm lamps, 4\n\t.comm bells, 4\n"
	r := analyze(t, nil, text)
	got := ""
	for _, s := range r.Symbols() {
		got += s.Name + " " + s.Detail + "; "
	}
	if want := "state = 0; ticks = 2; .bss section; lamps .bss + 0x0; bells common; "; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	h, ok := r.Hover(strings.Index(text, "ticks"))
	if !ok || !strings.Contains(h.Markdown, "`2`") || !strings.Contains(h.Markdown, "Offset in a record") {
		t.Errorf("%+v", h)
	}
}

// TestHoverRefused says of a line with an error that it has no encoding, whatever form its
// operands fit; what the finding says, it does not say again.
func TestHoverRefused(t *testing.T) {
	text := "\t.syntax unified\n\t.thumb\n\tbne 9f\n"
	h, _ := analyze(t, nil, text).Hover(strings.Index(text, "bne"))
	if !strings.Contains(h.Markdown, "no encoding") || strings.Contains(h.Markdown, "local label 9") || strings.Contains(h.Markdown, "0xd1") {
		t.Errorf("%s", h.Markdown)
	}
}

// TestHoverOtherName says of a name for a place of the code that it is code.
func TestHoverOtherName(t *testing.T) {
	text := "\t.syntax unified\n\t.thumb\n\t.equ depart, start\n\t.equ bell, lamps\nstart:\n\tbx lr\nlamps:\n\t.word 1\n"
	r := analyze(t, nil, text)
	for name, want := range map[string]string{"depart": "T16 code", "bell": "Data"} {
		if h, _ := r.Hover(strings.Index(text, name)); !strings.Contains(h.Markdown, want) {
			t.Errorf("%s: %s", name, h.Markdown)
		}
	}
}

// TestHoverStack gives the T16 counterparts of multiple loads and stores on the stack.
func TestHoverStack(t *testing.T) {
	for line, want := range map[string]string{
		"stmfd sp!, {r4, lr}": "`push {r4, lr}`, 2 bytes",
		"stmdb sp!, {r4}":     "`push {r4}`, 2 bytes",
		"ldmfd sp!, {r4, pc}": "`pop {r4, pc}`, 2 bytes",
		"stmfd sp!, {r8}":     "nothing does the same",
		"stmfd r4!, {r5}":     "nothing does the same",
	} {
		if h, _ := analyze(t, nil, "\t.syntax unified\n\t.arm\n\t"+line+"\n").Hover(len("\t.syntax unified\n\t.arm\n\t")); !strings.Contains(h.Markdown, want) {
			t.Errorf("%s: %s", line, h.Markdown)
		}
	}
}
