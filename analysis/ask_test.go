package analysis_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/describe"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

func ask(t *testing.T, text string, set *analysis.Settings) analysis.Explanation {
	t.Helper()
	got, err := analysis.Ask(context.Background(), text, set)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// TestAskCode asks for codes, and for the lines that the answers give: they have the same
// code.
func TestAskCode(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	var all isa.Selection
	all.SelectArch("armv8.6-a")
	all.AddFPU("crypto-neon-fp-armv8")
	have := all.Have()
	asked, other := 0, 0
	hold := func(question, code string, in isa.Inst) {
		t.Helper()
		line := describe.Source(&in)
		got := ask(t, question, nil)
		if !got.Known || !strings.Contains(got.Markdown, ": `"+line+"`") || !strings.Contains(got.Markdown, "Code `"+code+"`") {
			t.Fatalf("%s, which is %s: %v\n%s", question, line, got.Known, got.Markdown)
		}
		asked++
		if back := ask(t, line, nil); !strings.Contains(back.Markdown, "Code `"+code+"`") {
			other++ // another encoding of the same, or one with a condition of an IT block
			if other*20 > asked+100 {
				t.Errorf("%s comes back from %s as\n%s", question, line, back.Markdown)
			}
		}
	}
	step := uint32(97)
	if testing.Short() {
		step = 1999
	}
	for v := uint32(0); v <= 0xffff; v += step {
		if in, ok := isa.Decode(have, uint16(v), 0); ok && in.Row.Size() == 2 && !in.Unpredictable {
			hold(fmt.Sprintf("0x%x", v), fmt.Sprintf("0x%04x", v), in)
		}
		w := 0xe0000000 | v*0x1003f&0xfffffff
		if in, ok := isa.DecodeA32(have, w); ok && !in.Unpredictable {
			hold(fmt.Sprintf("0x%x", w), fmt.Sprintf("0x%08x", w), in)
		}
		first, second := uint16(0xe800|v*37&0x17ff), uint16(v*101)
		if in, ok := isa.Decode(have, first, second); ok && in.Row.Size() == 4 && !in.Unpredictable {
			hold(fmt.Sprintf("0x%x 0x%x", first, second), fmt.Sprintf("0x%04x%04x", first, second), in)
		}
	}
	if asked < 20 {
		t.Errorf("only %d were asked for", asked)
	}
	proof.Counted("explained: %d codes and their lines; %d lines have another encoding", asked, other)
}

// TestAskRegisters asks for every register that an instruction can name.
func TestAskRegisters(t *testing.T) {
	names := isa.SpecialRegisters()
	for i := range 32 {
		names = append(names, fmt.Sprintf("s%d", i), fmt.Sprintf("d%d", i))
		if i < 16 {
			names = append(names, fmt.Sprintf("r%d", i), fmt.Sprintf("q%d", i), fmt.Sprintf("R%d", i))
		}
	}
	names = append(names, strings.Fields("sp lr pc ip fp sl sb a1 v8 cpsr_fsxc spsr_c CPSR_f apsr_nzcvqg basepri basepri_ns")...)
	for _, name := range names {
		if got := ask(t, name, nil); !got.Known || !strings.Contains(got.Markdown, "# "+strings.ToLower(name)+"\n\n**") {
			t.Errorf("%s: %v %q", name, got.Near, got.Markdown)
		}
	}
	for _, name := range strings.Fields("r16 s32 d32 q16 cpsr_q cpsr_ spsr_xyz elr_usr msr_ns r14_svcx") {
		if got := ask(t, name, nil); got.Known {
			t.Errorf("%s: %q", name, got.Markdown)
		}
	}
}

// TestAsk is a table of what may be asked, and what the answer has and does not have.
func TestAsk(t *testing.T) {
	m0, m3, arm7 := &analysis.Settings{CPU: "cortex-m0"}, &analysis.Settings{CPU: "cortex-m3"}, &analysis.Settings{CPU: "arm7tdmi"}
	for _, tt := range []struct {
		text    string
		set     *analysis.Settings
		refused bool
		has     string
		not     string
	}{
		{"thumb", nil, false, "# .thumb\n", ""},
		{".thumb", nil, false, "# .thumb\n", "# THUMB"},
		{"THUMB", nil, false, "# THUMB\n", ""},
		{"word", nil, false, "`.word", ""},
		{"include", nil, false, "# #include", ""},
		{"#include", nil, false, "# #include", "# .include"},
		{"syntax", nil, false, "# .syntax\n", ""},
		{"ldrd", m0, false, "cortex-m0 has no ldrd.", "## LDRD"},
		{"ldrd", m3, false, "## LDRD", "## What cortex-m3 does not have\n\n- `ldrd Rt, Rt2"},
		{"adds", m0, false, "T16 encoding T2", "A32 encoding A1 — Add\n"},
		{"adds", m0, false, "- `adds Rd, Rn, #constant` — T32 encoding T3, from ARMv6T2 and ARMv7-M on", ""},
		{"movs r0, #1", nil, false, "in memory `01 20`", ""},
		{"movs r0, #1", nil, false, "in memory `01 00 b0 e3`", ""},
		{"movs r0, #1", m0, false, "Cycles: Cortex-M0 1.", "Cortex-M3"},
		{"movs r0, #1", m0, false, "## A32: not on cortex-m0", "no encoding"},
		{"movs r0, #300", m0, true, "300 is 45 too large. See `constant-range`.", "Code"},
		{"movs r0, #300", arm7, false, "A32: `movs r0, #300`", ""},
		{"mov r0, r1 @ straight on", m0, false, "T16: `mov r0, r1`", ""},
		{"point: movs r0, #1", m0, false, "Code `0x2001`", ""},
		{"bl signal_box", m0, false, "What depends on symbols that are not known here is 0.", ""},
		{"ldr r0, =0x12345678", m0, false, "The literal is in a pool right after the line here", ""},
		{".word 5", nil, false, "# .word", ""},
		{"255", nil, false, "T16: `movs r0, #255`", ""},
		{"256", nil, false, "T32: `mov.w r0, #0x100`", "T16: `movs"},
		{"-2", nil, false, "0xfffffffe", ""},
		{"-2", nil, false, "T32: `mvn r0, #0x1`", ""},
		{"0b101", nil, false, "5, 0x5, binary 0101", ""},
		{"0xe3a00001", m3, false, "A32 0xe3a00001: no instruction on cortex-m3", "`mov r0"},
		{"0xe7fe", nil, false, "`b .`", ""},
		{"0xd0fd", nil, false, "`beq .-2`", ""},
		{"0xf000", nil, false, "the first one of a T32 instruction of two", ""},
		{"0xf380 0x8811", nil, false, "`msr basepri, r0`", ""},
		{"0xee30 0x0a81", nil, false, "`vadd.f32 s0, s1, s2`", ""},
	} {
		got := ask(t, tt.text, tt.set)
		if !got.Known || got.Refused != tt.refused || !strings.Contains(got.Markdown, tt.has) || tt.not != "" && strings.Contains(got.Markdown, tt.not) {
			t.Errorf("%s, %+v: known %v, refused %v, has to have %q and not %q\n%s", tt.text, tt.set, got.Known, got.Refused, tt.has, tt.not, got.Markdown)
		}
	}
	for _, text := range []string{"no-such-thing", "0x", "0x123456789", "1 2 3", "0x10000 1", "sytnax", "mvoes r0, r1", "", "zzz zzz", "1.5"} {
		if got := ask(t, text, nil); got.Known || got.Markdown != "" {
			t.Errorf("%q is known: %s", text, got.Markdown)
		}
	}
	if got := ask(t, "mvoes r0, r1", nil); len(got.Near) == 0 {
		t.Error("nothing is near mvoes")
	}
	if _, err := analysis.Ask(context.Background(), "b", &analysis.Settings{CPU: "cortex-m00"}); err == nil {
		t.Error("a core that is not known is taken")
	}
}
