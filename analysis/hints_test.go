package analysis

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// TestHints compares the hints at the end of lines, after »; kinds are those that the line
// before the source names.
func TestHints(t *testing.T) {
	t.Parallel()
	for _, text := range []string{`offset code
		.syntax unified »
		.thumb
	ring:	movs r0, #4 @ bell » +0x0 04 20
		bl ring » +0x2 ff f7 fd ff
		.word 4, 5 » +0x6`, `pool
		.syntax unified
		.thumb
		ldr r0, =0x12345678 » pool +0
		bx lr`, `literal
		.syntax unified
		.equ LAMP, 0x40
		.thumb
		ldr r0, =LAMP + 2 » = 66
		ldr r0, =LAMP << 8 » = 0x4000 (16384)
		ldr r0, =66
		ldr r0, =tones
		ldr r0, =tones + 4 » = .data + 0x4
		bx lr
		.data
	tones:	.word 1, 2`, `data
		.syntax unified
		.cpu cortex-m3
		.thumb
		ldr r1, =tones
		ldrb r0, [r1, #1] » = 18
		ldrh r0, [r1] » = 0x1234 (4660)
		ldrsb r0, [r1, #4] » = -1
		ldr r0, [r1, #4] » = 255
		ldr r0, [r1, #6]
		ldr r0, [r1, #8]
		ldr r0, tones » = 0x561234 (5640756)
		adr r2, tones
		adds r2, #4
		ldrb r0, [r2] » = 255
		movs r3, #1
		ldrsb r0, [r1, r3] » = 18
		ldr.w r0, [r1], #4 » = 0x561234 (5640756)
		ldrsb r0, [r1] » = -1
		ldr r1, =changed
		ldrb r0, [r1]
	loop:	ldrb r0, [r1]
		bx lr
		.align 2
	tones:	.word 0x561234, 0xff
		.data
	changed: .byte 4`, `flags
		.syntax unified
		.thumb
		cmp r0, #3
		mov r1, r8
		mov r2, r8
		beq step » flags of line 3
		bne step » flags of line 3
		cmp r0, #3
		beq step
		cmp r0, #3
		bl step
		beq step
		cmp r0, #3
		mov r1, r8
	step:	bne step
		bx lr`, `flags
		.syntax unified
		.cpu cortex-m0
		.thumb
	points:	cmp r0, #4
		bne 1f
		cmp r1, #2
		b 2f
	1:	adds r1, #1
	2:	bhi 3f » flags of lines 6 and 8
		movs r2, #1
	3:	bx lr
	track:	cmp r0, #1
		bhi 4f
		tst r0, r1
	4:	bhi 5f » flags of lines 12 and 14
		bhi 6f » flags of lines 12 and 14
	6:	bl points
	5:	beq 6b
		bx lr`, `value data literal
		.syntax unified
		.cpu cortex-m0
		.thumb
	lamp:	movs r1, #8
		lsls r1, r1, #4 » r1 = 0x80 (128)
		mvns r2, r1 » r2 = 0xffffff7f (-129)
		ldr r3, =aspects
		adds r3, #1 » r3 = aspects + 1
		ldrb r0, [r3] » = 200
		sxtb r0, r0 » r0 = 0xffffffc8 (-56)
		adds r0, r0, r4
		bx lr
		.section .rodata
	aspects: .byte 1, 200`} {
		names, source, _ := strings.Cut(text, "\n")
		var plain, want []string
		for line := range strings.SplitSeq(source, "\n") {
			p, w, _ := strings.Cut(strings.TrimPrefix(line, "\t"), "»")
			plain, want = append(plain, p), append(want, strings.TrimSpace(w))
		}
		whole := strings.Join(plain, "\n") + "\n"
		r := analyze(t, nil, whole)
		var kinds []HintKind
		for n := range strings.FieldsSeq(names) {
			kinds = append(kinds, HintKind(n))
		}
		got := make([]string, len(want)+1)
		for _, h := range r.HintsIn(r.prog.Path, Span{End: len(whole)}, kinds) {
			n := r.prog.File.LineAt(h.At)
			got[n] = strings.TrimSpace(got[n] + " " + h.Text)
		}
		for n, w := range want {
			if got[n] != w {
				t.Errorf("%s: %s: %q, want %q", names, plain[n], got[n], w)
			}
		}
	}
}

// TestHintsMade holds that the hints of made programs say what the program has, that those of a
// part are those of the whole, and that what is shown at first is quiet.
func TestHintsMade(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(73, 2)
	all, quiet, lines := 0, 0, 0
	for range reftest.Count(2, 10, 100) {
		for _, gen := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
			text := gen(rnd.Uint64(), 300)
			f := syntax.Parse(text)
			r, err := Analyze(t.Context(), &Input{Path: "a.s", File: f})
			if err != nil {
				t.Fatal(err)
			}
			list := r.HintsIn("a.s", Span{End: len(text)}, HintKinds)
			a := rnd.IntN(len(text))
			b := a + rnd.IntN(len(text)-a)
			var part []InlayHint
			for _, h := range list {
				if h.At >= a && h.At <= b {
					part = append(part, h)
				}
				it := r.prog.ItemAt(h.At)
				if h.Kind == "offset" && h.Text != fmt.Sprintf("+0x%x", it.Offset) {
					t.Errorf("%s: %s at %d", text[h.At-10:h.At], h.Text, it.Offset)
				}
			}
			if got := r.HintsIn("a.s", Span{Start: a, End: b}, HintKinds); len(got) != len(part) {
				t.Errorf("bytes %d to %d: %d hints, want %d", a, b, len(got), len(part))
			}
			all, lines = all+len(list), lines+f.NumLines()
			quiet += len(r.HintsIn("a.s", Span{End: len(text)}, HintsAtFirst))
		}
	}
	if quiet*3 > lines {
		t.Errorf("%d hints are shown at first in %d lines", quiet, lines)
	}
	proof.Counted("hints: %d in %d lines, %d of them at first", all, lines, quiet)
}
