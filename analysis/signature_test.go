package analysis

import (
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// signatureText is the active form with its active part in angle quotes, and what that may be.
func signatureText(x describe.Signatures) string {
	s := x.List[x.Active]
	if x.Part >= len(s.Parameters) {
		return fmt.Sprintf("%s (%d)", s.Label, x.Part)
	}
	p := s.Parameters[x.Part]
	return s.Label[:p.Start] + "‹" + s.Label[p.Start:p.End] + "›" + s.Label[p.End:] + " (" + p.Doc + ")"
}

// TestSignatures asks at the mark | of lines in T16 code of a small core, or after what is in
// front of them.
func TestSignatures(t *testing.T) {
	t.Parallel()
	const t16, t32, a32 = ".syntax unified\n.cpu cortex-m0\n.thumb\n", ".syntax unified\n.cpu cortex-m3\n.thumb\n", ".syntax unified\n.arch armv7-a\n.arm\n"
	const macro = t16 + "@ Sets a lamp.\n.macro light n:req, to=3, rest:vararg\n.endm\n"
	for _, x := range []struct{ before, line, want string }{
		{t16, "movs |", "movs ‹Rd›, #0–255 (r0–r7)"},
		{t16, "movs r0, #|", "movs Rd, ‹#0–255› (0–255)"},
		{t16, "movs r0, |#5", "movs Rd, ‹#0–255› (0–255)"},
		{t16, "adds r0, r1, #|", "adds Rd, Rn, ‹#0–7› (0–7)"},
		{t16, "adds r0, r1, r|", "adds Rd, Rn, ‹Rm› (r0–r7)"},
		{t16, "ldr r0, [r1, |", "ldr Rt, ‹[Rn, #0–124 by 4]› (address in r0–r7; offset 0–124 in steps of 4)"},
		{t16, "ldr r0, [sp, |#4]", "ldr Rt, ‹[sp, #0–1020 by 4]› (address in sp; offset 0–1020 in steps of 4)"},
		{t16, "ldr r0, [r1, #|]", "ldr Rt, ‹[Rn, #0–124 by 4]› (address in r0–r7; offset 0–124 in steps of 4)"},
		{t16, "ldr r0, [sp, #|]", "ldr Rt, ‹[sp, #0–1020 by 4]› (address in sp; offset 0–1020 in steps of 4)"},
		{t16, "ldr r0, [r1, #30|0]", "ldr Rt, ‹[Rn, #0–124 by 4]› (address in r0–r7; offset 0–124 in steps of 4)"},
		{t16, "strh r0, [r1, #|]", "strh Rt, ‹[Rn, #0–62 by 2]› (address in r0–r7; offset 0–62 in steps of 2)"},
		{t16, "ldr r0, [r1, r|]", "ldr Rt, ‹[Rn, Rm]› (address in r0–r7; index in r0–r7)"},
		{t16, "ldr r3, =|", "ldr Rt, ‹=value› (a value or an address, from a pool 0 to 1020 bytes from PC, in steps of 4)"},
		{t16, "ldr r3, =0x12|345678", "ldr Rt, ‹=value› (a value or an address, from a pool 0 to 1020 bytes from PC, in steps of 4)"},
		{t16, "ldrh r3, =|", "ldrh Rt, ‹["},
		{t32, "ldr r9, =|signals", "ldr Rt, ‹=value› (a value or an address, from a pool -4095 to 4095 bytes from PC)"},
		{t32, "ldrh r3, =|", "ldrh Rt, ‹=value› (a value or an address, from a pool -4095 to 4095 bytes from PC)"},
		{a32, "ldr r3, =|", "ldr Rt, ‹=value› (a value or an address, from a pool -4095 to 4095 bytes from PC)"},
		{a32, "ldrh r3, =|", "ldrh Rt, ‹=value› (a value or an address, from a pool -255 to 255 bytes from PC)"},
		{a32, "str r3, =|", "str Rt, ‹["},
		{t16, "push {r4, |}", "push ‹{r0–r7, lr}› (r0–r7, lr)"},
		{t16, "push {|r4}", "push ‹{r0–r7, lr}› (r0–r7, lr)"},
		{t32, "push {|", "push ‹{r0–r7, lr}› (r0–r7, lr)"},
		{t32, "push {r4, r8, |}", "push ‹{r0–r12, lr}› (r0–r12, lr)"},
		{t32, "pop {r4, r9|}", "pop ‹{r0–r12, lr, pc}›"},
		{t32, "ldr r0, [r1], |", "ldr Rt, ‹[Rn], #±255›"},
		{t32, "ldr r0, [r1], #|4", "ldr Rt, ‹[Rn], #±255›"},
		{t32, "str r0,[r1], |", "str Rt, ‹[Rn], #±255›"},
		{t32, "ldrb r0, [r1], |", "ldrb Rt, ‹[Rn], #±255›"},
		{t32, "ldrd r0, r1, [r2], |", "ldrd Rt, Rt2, ‹[Rn], #"},
		{a32, "ldr r0, [r1], |", "ldr Rt, ‹[Rn], #"},
		{t16, "ldr r0, [r1], |", ""},
		{t16, ".macro |light", ".macro ‹name› [parameter"},
		{t16, ".macro light a, |", ".macro name [‹parameter›["},
		{t16, ".macro light |", ".macro name [‹parameter›["},
		{t16, "beq |", "beq ‹label› (a label -256 to 254 bytes from PC, in steps of 2)"},
		{t16, "b|eq x", ""},
		{t16, "nop @ |", ""},
		{t16, "nop |", ""},
		{t16, "x: |nop", ""},
		{t16, "mov r8, |", "mov Rd, ‹Rm› (r0–r12, sp, lr, pc)"},
		{t32, "add r0, r1, #|0xff00", "add Rd, Rn, ‹#constant› (eight bits shifted left, or repeated in each byte or each second byte)"},
		{a32, "add r0, r1, #|", "add Rd, Rn, ‹#constant› (eight bits rotated right by an even number of places)"},
		{a32, "dmb |", "dmb ‹"},
		{t16, ".byte 1, |", ".byte ‹value›, … (-128–255)"},
		{t16, ".hword 1, 2, |3", ".hword ‹value›, … (-32768–65535)"},
		{t16, ".fill 4, |", ".fill repeat[, ‹size›[, value]] ()"},
		{t16, ".align |", ".align [‹power›[, fill[, most]]] (a boundary of 2 to this power, in bytes)"},
		{t16, `.ascii "a, b|`, ""},
		{macro, "light |", "light ‹n›, to=3, rest … (has to be given)"},
		{macro, "light 1, |", "light n, ‹to=3›, rest … (`3` where nothing is given)"},
		{macro, "light 1, 2, 3, |4", "light n, to=3, ‹rest …› (all that is left of the line)"},
		{macro, "light to=|4", "light n, ‹to=3›, rest … (`3` where nothing is given)"},
	} {
		at := strings.Index(x.line, "|")
		text := x.before + strings.Replace(x.line, "|", "", 1) + "\n"
		r := analyze(t, nil, text)
		got, ok := r.SignaturesIn(r.prog.Path, len(x.before)+at)
		switch {
		case ok != (x.want != ""):
			t.Errorf("%s: %v %v", x.line, ok, got)
		case ok && !strings.HasPrefix(signatureText(got), x.want):
			t.Errorf("%s:\n got %s\nwant %s", x.line, signatureText(got), x.want)
		}
	}
}

// TestSignatureLimits takes the statements of made programs apart: at each operand the form that
// the line has is listed, and what its operand is lies within what is said of it.
func TestSignatureLimits(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	asked, limits := 0, 0
	rnd := reftest.Rand(72, 9)
	for _, gen := range []func(uint64, int) string{firmware.Text, firmware.A32, firmware.T32} {
		text := gen(11, 400)
		f := syntax.Parse(text)
		r, err := Analyze(t.Context(), &Input{Path: "a.s", File: f})
		if err != nil {
			t.Fatal(err)
		}
		for range reftest.Count(150, 1500, 20_000) {
			it := &r.prog.Items[rnd.IntN(len(r.prog.Items))]
			if it.Match.Form == nil || len(it.Stmt.Ops) == 0 || it.File != 0 {
				continue
			}
			i := rnd.IntN(len(it.Stmt.Ops))
			o := &it.Stmt.Ops[i]
			got, ok := r.SignaturesIn("a.s", f.LineStart(int(it.Line))+int(o.Start))
			line := f.Line(int(it.Line)).Text
			if !ok || got.Part != i {
				t.Errorf("%s, operand %d: %v %+v", line, i, ok, got)
				continue
			}
			asked++
			listed := false
			for _, s := range got.List {
				listed = listed || strings.HasSuffix(s.Label, strings.TrimPrefix(it.Match.Form.String(), it.Match.Form.Mnemonic))
			}
			if !listed && !it.Match.Form.Alias && !it.Match.Form.Rare && it.Stmt.Mnemonic != nil {
				t.Errorf("%s: %s is not listed: %+v", line, it.Match.Form, got)
			}
			if lo, hi, step, ok := it.Match.Form.Limits(i); ok && o.Kind == isa.OpImm {
				limits++
				if doc := got.List[got.Active].Parameters[i].Doc; !strings.Contains(doc, isa.Limits(lo, hi, step)) && len(got.List) == 1 {
					t.Errorf("%s: %q lacks %s", line, doc, isa.Limits(lo, hi, step))
				}
			}
		}
	}
	proof.Counted("signatures: %d operands, %d of them constants with limits", asked, limits)
}
