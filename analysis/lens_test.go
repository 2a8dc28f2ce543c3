package analysis

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

const lensSource = `	.syntax unified
	.cpu cortex-a7
	.thumb
	.thumb_func
ring:	push {r4, lr}
	movs r4, #3
1:	bl wait
	subs r4, r4, #1
	bne 1b
	ldr r0, =0x12345678
	pop {r4, pc}
	.thumb_func
wait:	cmp r0, #1
	ite eq
	moveq r0, #3
	movne r0, #4
	bx lr
	.thumb_func
table:	tbb [pc, r0]
	.byte 1, 2
	.align 2
`

// TestLenses compares lenses with their texts, after they are resolved.
func TestLenses(t *testing.T) {
	t.Parallel()
	r := analyze(t, &Settings{Budget: map[string]int64{".text": 80}}, lensSource)
	var got []string
	for _, l := range r.LensesIn(r.prog.Path, LensKinds) {
		text := l.Text
		if text == "" {
			var err error
			if text, err = r.LensText(t.Context(), l.Kind, l.Name); err != nil {
				t.Fatal(err)
			}
		}
		got = append(got, lensSource[l.Span.Start:l.Span.End]+": "+text)
	}
	want := `ring: 16 bytes · 8 bytes of stack, without what it calls · not called here
ring: as A32: 28 bytes
push {r4, lr}: .text: 36 of 80 bytes, 45 %
wait: 10 bytes · called 1 time
wait: as A32: 16 bytes
table: 4 bytes · not called here
table: no counterpart in the other instruction set`
	if s := strings.Join(got, "\n"); s != want {
		t.Errorf("got\n%s\nwant\n%s", s, want)
	}
	// Of what never ends nobody knows how long it takes.
	endless := analyze(t, nil, ".syntax unified\n.cpu cortex-m3\n.thumb\n.thumb_func\nring: bl wait\nb ring\n.thumb_func\nwait: bx lr\n")
	for _, l := range endless.LensesIn(endless.prog.Path, []LensKind{LensCycles}) {
		if l.Name != "wait" {
			t.Errorf("a lens of cycles over %s", l.Name)
		}
	}
	if list := r.LensesIn(r.prog.Path, []LensKind{"none"}); len(list) > 0 {
		t.Error(list)
	}
}

// TestBudget holds where a section over its budget is reported, and that one that takes all of it
// is not.
func TestBudget(t *testing.T) {
	t.Parallel()
	const text = "\t.text\n\t.word 1, 2\n\t.byte 3\n\t.data\n\t.word 4\n\t.text\n\t.byte 5, 6\n\t.bss\n\t.space 100\n"
	for _, x := range []struct {
		budget map[string]int64
		want   string
	}{
		{map[string]int64{".text": 11}, ""},
		{map[string]int64{".text": 10}, ".byte 5, 6: Section .text has 11 bytes, 1 more than its budget of 10."},
		{map[string]int64{".text": 8}, ".byte 3: Section .text has 11 bytes, 3 more than its budget of 8."},
		{map[string]int64{".data": 3, ".gone": 1}, ".word 4: Section .data has 4 bytes, 1 more than its budget of 3."},
		{map[string]int64{".bss": 99}, ".space 100: Section .bss has 100 bytes, 1 more than its budget of 99."},
		{nil, ""},
	} {
		got := ""
		for _, d := range analyze(t, &Settings{Budget: x.budget}, text).Diagnostics() {
			got += text[d.Span.Start:d.Span.End] + ": " + d.Message
		}
		if got != x.want {
			t.Errorf("%v: %s, want %s", x.budget, got, x.want)
		}
	}
}

// lensRoutine is a routine of lines that both instruction sets have, or of which some have no
// counterpart, with branches inside.
func lensRoutine(rnd *rand.Rand, a32 bool) string {
	var b strings.Builder
	b.WriteString(".syntax unified\n.cpu cortex-a7\n")
	if a32 {
		b.WriteString(".arm\n")
	} else {
		b.WriteString(".thumb\n")
	}
	b.WriteString(".type ring, %function\nring:\n")
	lines := []string{"movs rA, #B", "adds rA, rA, #B", "ldr rA, [r1, #B*4]", "cmp rA, #B", "ands rA, rA, r2", "str rA, [sp, #B*4]", "mov r8, rA", "bl elsewhere", "ldrb rA, [r3, #B]",
		"add rA, rA, r9, lsl #2", "ldr rA, =0x1234567", "nop", "lsls rA, r5, #B", "rev rA, rB"}
	n := 4 + rnd.IntN(12)
	for i := range n {
		line := "b lT"
		if k := rnd.IntN(len(lines) + 3); k < len(lines) {
			line = lines[k]
		} else if k < len(lines)+2 {
			line = "bne lT"
		}
		fmt.Fprintf(&b, "l%d: %s\n", i, strings.NewReplacer("A", fmt.Sprint(rnd.IntN(8)), "B", fmt.Sprint(rnd.IntN(8)), "T", fmt.Sprint(rnd.IntN(n))).Replace(line))
	}
	return b.String() + "bx lr\n"
}

// TestOtherSize writes random routines in the other instruction set: the assembler takes them, and
// they have as many bytes as the lens says.
func TestOtherSize(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(74, 4)
	compared, without := 0, 0
	for k := range reftest.Count(12, 120, 3000) {
		r := analyze(t, nil, lensRoutine(rnd, k%2 == 0))
		text, err := r.LensText(t.Context(), LensOther, "ring")
		if err != nil {
			t.Fatal(err)
		}
		source, _, ok := r.view().OtherSource("ring")
		if !ok {
			without++
			continue
		}
		// Without pools: a label after the last line says what the lines take.
		whole := source + "end_of_it:\n.word end_of_it - first_of_it\n"
		whole = strings.Replace(whole, "place0:", "first_of_it: place0:", 1)
		ref := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-a", Flags: []string{"-mimplicit-it=always"}}, whole)
		if !ref.OK {
			t.Errorf("the assembler does not take\n%s", whole)
			continue
		}
		compared++
		size := ref.Symbols["end_of_it"].Value
		if want := fmt.Sprintf(": %d bytes", size); !strings.HasSuffix(text, want) {
			t.Errorf("%q, the assembler has %d\n%s", text, size, whole)
		}
	}
	if compared*3 < without {
		t.Errorf("only %d routines were compared, %d have no counterpart", compared, without)
	}
	proof.Counted("other instruction set: %d routines, and %d without a counterpart", compared, without)
}
