package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// TestExtracts holds that a proof on a part of the program says what one on the whole
// does: the same offers with the same titles, in the same order.
func TestExtracts(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(17, 4)
	var texts []string
	for i := range reftest.Count(40, 300, 6000) {
		switch i % 4 {
		case 0:
			texts = append(texts, spoiled(rnd, firmware.Text(uint64(i), 400), 40))
		case 1:
			texts = append(texts, spoiled(rnd, firmware.T32(uint64(i), 300), 40))
		case 2:
			texts = append(texts, spoiled(rnd, firmware.A32(uint64(i), 300), 40))
		default: // many programs in one file, which is near the limits of branches and loads
			g := &generator{Rand: rnd, unified: true}
			text := "\t.syntax unified\n\t.thumb\n"
			for k := range 12 {
				p := g.program(i*16+k, g.statement(g.IntN(proofClasses)))
				text += strings.ReplaceAll(p.text(), ".syntax divided", ".syntax unified")
				if rnd.IntN(3) == 0 {
					text += fmt.Sprintf("\t.space %d\n", 2*rnd.IntN(120))
				}
				text += []string{"", "", "\t.ltorg\n", "\t.balign 4\n", "\t.word 5\n", "\t.balign 8\n\t.byte 1, 2\n"}[rnd.IntN(6)]
			}
			texts = append(texts, text)
		}
	}
	parts, wholes, findings := 0, 0, 0
	for n, text := range texts {
		r, err := Analyze(t.Context(), &Input{Path: "box.s", File: syntax.Parse(text)})
		if err != nil {
			t.Fatal(err)
		}
		for k, d := range r.Each() {
			if k%3 != n%3 {
				continue
			}
			findings++
			in, on := r.newQuestions().subject, r.newQuestions().subject.OnWhole()
			at := finding.Span{Start: d.Span.Start, End: d.Span.Start}
			got, want := in.Actions(context.Background(), at), on.Actions(context.Background(), at)
			a, b := in.Proofs()
			parts, wholes = parts+a, wholes+b
			if !reflect.DeepEqual(got, want) {
				t.Errorf("text %d: %s\n%s\nin part:\n%s\non the whole:\n%s", n, d.Message, text[max(d.Span.Start-100, 0):min(d.Span.Start+100, len(text))], titles(got), titles(want))
			}
		}
	}
	proof.Counted("extracts: %d findings, %d proofs in part and %d on the whole", findings, parts, wholes)
	if parts < wholes {
		t.Error("too many proofs on the whole")
	}
}

func titles(list []Action) (out string) {
	for _, a := range list {
		out += fmt.Sprintln("\t", a.Safe, a.Title)
	}
	return out
}

// spoiled puts lines that may have no encoding in the place of others.
func spoiled(rnd *rand.Rand, text string, every int) string {
	bad := []string{
		"movs r0, #0x1234", "adds r2, r2, #300", "adds r0, r1, #20", "ldr r3, [r4, #200]", "str r0, [r1, #0x90]", "subs r8, r8, #1", "ands r0, r1, r2",
		"cmp r3, #300", "mov r1, #77", "ldrb r2, [r5, #40]", "add r0, r1, #1", "lsls r0, r1, #33", "mvns r0, #5", "rsbs r3, r4, #1", "push {r4, r8}",
		"ldrsb r0, [r1, #4]", "mov r0, #0x12345678", "beq nowhere_near", "ldr r0, =0x1234567", "cbz r8, 1f\n1:", "addeq r0, r0, #0x12345", "mvoe r0, r1",
		"ldr r0, [r1, #5000]", "uxtb r0, r9", "sub sp, #10", "bne .-6", "bls 1f\n\t.space 300\n1:", "ldr r5, 1f\n\t.space 1200\n\t.balign 4\n1:\t.word 3",
	}
	lines := strings.Split(text, "\n")
	for i := every / 2; i < len(lines)-5; i += 1 + rnd.IntN(every) {
		if l := lines[i]; strings.HasPrefix(strings.TrimSpace(l), ".") || strings.HasSuffix(l, ":") || strings.TrimSpace(l) == "" {
			continue
		}
		lines[i] = "\t" + bad[rnd.IntN(len(bad))]
	}
	return strings.Join(lines, "\n") + "\nnowhere_near: nop\n"
}
