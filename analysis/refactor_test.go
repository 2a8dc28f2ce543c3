package analysis

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// refactored are all refactorings at the first « of a source, by their titles, with the source
// that each makes.
func refactored(t *testing.T, source string) map[string]string {
	t.Helper()
	at := strings.Index(source, "«")
	text := strings.Replace(source, "«", "", 1)
	r := analyze(t, nil, text)
	out := map[string]string{}
	for _, x := range r.Refactorings(t.Context(), Span{Start: at, End: at}) {
		proven, ok, err := r.Refactored(t.Context(), Span{Start: at, End: at}, x.Name)
		if err != nil {
			t.Fatal(err)
		}
		if ok {
			out[proven.Title] = refactoredText(text, proven.Edits)
		}
	}
	return out
}

func refactoredText(text string, edits []Edit) string {
	for _, e := range slices.Backward(edits) {
		text = text[:e.Span.Start] + e.New + text[e.Span.End:]
	}
	return text
}

func TestRefactorings(t *testing.T) {
	t.Parallel()
	const head = "\t.syntax unified\n\t.thumb\n"
	for _, x := range []struct{ source, title, want string }{
		{"\tmovs r0, #«200 @ x\n", "write 200 as 0xc8", "\tmovs r0, #0xc8 @ x\n"},
		{"\tmovs r0, #0x«c8\n", "write 0xc8 as 200", "\tmovs r0, #200\n"},
		{"\tmovs r0, #0x«c8\n", "write 0xc8 as 0b11001000", "\tmovs r0, #0b11001000\n"},
		{"\tmovs r0, #«010\n", "", ""},
		{"ring:\tmovs r0, #«200\n", "name the constant 200 VALUE_200", "\t.equ VALUE_200, 200\nring:\tmovs r0, #VALUE_200\n"},
		{"\tldr r0, =0x1234«5\n\tbx lr\n", "name the literal 0x12345 VALUE_0X12345", "\t.equ VALUE_0X12345, 0x12345\n\tldr r0, =VALUE_0X12345\n\tbx lr\n"},
		{"\t.equ LAMP, «4\n", "write 4 as 0b100", "\t.equ LAMP, 0b100\n"},
		{"wa«it:\tsubs r0, #1\n\tbne wait @ wait\n", "make wait a numeric local label, 1:", "1:\tsubs r0, #1\n\tbne 1b @ wait\n"},
		{"\tb wait\n1:\tnop\nwa«it:\tbne 1b\n", "make wait a numeric local label, 2:", "\tb 2f\n1:\tnop\n2:\tbne 1b\n"},
		{"\t.global wait\nwa«it:\tsubs r0, #1\n\tbne wait\n", "", ""},
		{"\t.macro again\n\tbne wait\n\t.endm\nwa«it:\tsubs r0, #1\n\tbne wait\n", "", ""},
		{"\tb«eq wait\n\t.space 10\nwait:\tnop\n", "branch on the opposite condition around a branch that reaches farther (+2 bytes)", "\tbne 1f\n\tb wait\n1:\n\t.space 10\nwait:\tnop\n"},
		{"\tldr «r0, =0x12345678\n\tbx lr\n\t.space 8\n", "place the literals so far in a pool after this routine (+0 bytes)", "\tldr r0, =0x12345678\n\tbx lr\n\t.ltorg\n\t.space 8\n"},
	} {
		got := refactored(t, head+x.source)
		if x.title == "" {
			if len(got) > 0 {
				t.Errorf("%s: %v", x.source, got)
			}
		} else if got[x.title] != head+x.want {
			t.Errorf("%s: %q, want %q; there are %q", x.source, got[x.title], head+x.want, got)
		}
	}
}

// TestRefactoringsSame refactors at random places of made programs: the assembler makes the same
// bytes of the result, and takes all that says what else becomes of them.
func TestRefactoringsSame(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(75, 8)
	done := map[string]int{}
	for range reftest.Count(1, 8, 200) {
		for k, gen := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
			text := gen(rnd.Uint64(), 120)
			f := syntax.Parse(text)
			r, err := Analyze(t.Context(), &Input{Path: "a.s", File: f})
			if err != nil {
				t.Fatal(err)
			}
			programs := []reftest.Program{{Text: text}}
			var names []string
			for range 60 {
				at := rnd.IntN(len(text))
				list := r.Refactorings(t.Context(), Span{Start: at, End: at})
				if len(list) == 0 {
					continue
				}
				name := list[rnd.IntN(len(list))].Name
				x, ok, err := r.Refactored(t.Context(), Span{Start: at, End: at}, name)
				if err != nil {
					t.Fatal(err)
				}
				if !ok {
					done["not proven"]++
					continue
				}
				names = append(names, fmt.Sprintf("%s: %s", name, x.Title))
				programs = append(programs, reftest.Program{Text: refactoredText(text, x.Edits)})
				done[name]++
			}
			objects := reftest.AssembleObjects(t, programs)
			if objects[0] == nil {
				t.Fatalf("program %d is refused", k)
			}
			for i, name := range names {
				o := objects[i+1]
				if o == nil {
					t.Errorf("%s: refused", name)
					continue
				}
				if strings.HasSuffix(name, "bytes)") {
					continue
				}
				for section, content := range objects[0].Sections {
					if !bytes.Equal(content, o.Sections[section]) || fmt.Sprint(objects[0].Relocs[section]) != fmt.Sprint(o.Relocs[section]) {
						t.Errorf("%s: section %s differs", name, section)
					}
				}
			}
		}
	}
	proof.Counted("refactorings, proven and assembled: %v", done)
}
