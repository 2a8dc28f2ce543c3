package analysis_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// completionsAt lists what is offered where a '^' is in a text, without it.
func completionsAt(t *testing.T, text string) []analysis.Completion {
	t.Helper()
	off := strings.IndexByte(text, '^')
	text = strings.Replace(text, "^", "", 1)
	r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: "a.s", File: syntax.Parse(text)})
	if err != nil {
		t.Fatal(err)
	}
	list, span := r.CompletionsIn("a.s", off)
	if len(list) > 0 && (span.Start > off || span.End < off) {
		t.Errorf("%q: the word is at %v, the place at %d", text, span, off)
	}
	return list
}

// TestCompletionTable holds what is offered at some places, and what is not.
func TestCompletionTable(t *testing.T) {
	for _, tt := range []struct{ text, want, not string }{
		{".cpu cortex-m0|.syntax unified|.thumb|\tad^", "adds add adcs adr", "addw addeq"},
		{".cpu cortex-m0|.syntax unified|.thumb|\t^", "movs b beq ldr push .word", "moveq"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmovs ^", "r0 r7", "r8 sp"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmov ^", "r0 r8 sp", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|\tadds r0, ^", "r0 r7", "r8"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, [^", "r0 sp pc", "r8"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, [r1, ^", "r0 r7", "r8 sp"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tpush {r4, ^", "r0 lr", "pc r8"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tpop {r4-r7, ^", "pc", "lr"},
		{".cpu cortex-m0|.syntax unified|.thumb|POINTS = 12|MANY = 400|\tmovs r0, #^", "POINTS MANY", "l"},
		{".cpu cortex-m0|.syntax unified|.thumb|near: b ^", "near far", "r0 K"},
		{".cpu cortex-m0|.syntax unified|.thumb|lamp .req r5|\tmovs l^", "lamp", "lr"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tMOVS R^", "R0 R7", "r0 R8"},
		{".cpu cortex-m0|.syntax unified|.thumb|.macro signal a|.endm|\tsi^", "signal", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmsr ^", "primask apsr", "r0"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tmrs r0, ^", "primask apsr", "basepri"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tmrs r0, ^", "primask basepri", ""},
		{".cpu cortex-m3|.syntax unified|.thumb|\tcmp r0, #1|\tit eq|\tmov^", "moveq", "mov movs"},
		{".cpu cortex-m3|.syntax unified|.thumb|\tadd r0, r1, r2, ^", "lsl ror rrx", "near"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmove^", "moveq", ""},
		{".cpu arm7tdmi|.syntax unified|.arm|\tldm^", "ldm ldmia ldmdb", ""},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmovs r0, r1, ^", "lsl", "r2"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tmsr ^", "cpsr_c spsr_fsxc", "primask"},
		{".cpu arm7tdmi|.syntax divided|.arm|\tldreq^", "ldreqb ldreqh", "ldrbeq"},
		{".cpu arm7tdmi|.syntax unified|.arm|\tbl s^", "", "sp"},
		{".syntax ^", "unified divided", ""},
		{".cpu cortex-m^", "cortex-m0 cortex-m3", ""},
		{"nop @ mov^", "", "movs mov"},
		{"\tldr r0, [ @ r^", "", "r0 r1"},
		{"nop; mo^", "mov", ""},
		{"l: mo^", "mov", ""},
		{".word ^|near: nop", "near", "nop"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tldr r0, =^|near: nop", "near", "r1"},
		{".cpu cortex-m0|.syntax unified|.thumb|\tbx lr ^", "", "r0 near"},
		{".cpu cortex-m0|.syntax unified|.thumb|K = 1|\tmovs r0, #1+^", "K", "r0"},
		{"^", "movs b .word", ""},
		{".cpu cortex-m0|.syntax unified|.thumb|1: nop|\tb ^|1: nop", "1b 1f", ""},
	} {
		text := strings.ReplaceAll(tt.text, "|", "\n")
		if !strings.Contains(text, "near:") {
			text += "\nnear: nop\n"
		}
		text += "\n.space 3000\nfar: nop\n"
		var legal []string
		for _, c := range completionsAt(t, text) {
			if !strings.HasPrefix(c.Detail, "needs ") {
				legal = append(legal, c.Text)
			}
		}
		for _, w := range strings.Fields(tt.want) {
			if !slices.Contains(legal, w) {
				t.Errorf("%q: %s is not offered: %d are, %.200v", tt.text, w, len(legal), legal)
			}
		}
		for _, w := range strings.Fields(tt.not) {
			if slices.Contains(legal, w) {
				t.Errorf("%q: %s is offered", tt.text, w)
			}
		}
	}
}

// TestCompletionOrder holds that what the line cannot have comes last, and says why.
func TestCompletionOrder(t *testing.T) {
	list := completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\nhere:\tbeq ^\nnear:\tnop\n.space 3000\nfar:\tnop\n")
	at := func(name string) int {
		return slices.IndexFunc(list, func(c analysis.Completion) bool { return c.Text == name })
	}
	if near, far := at("near"), at("far"); near < 0 || far < near || !strings.Contains(list[far].Detail, "out of reach") {
		t.Errorf("%v", list)
	}
	list = completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\n\tcb^\n")
	if slices.ContainsFunc(completionsAt(t, ".cpu cortex-m0\n.syntax unified\n.thumb\n\tmove^\n"), func(c analysis.Completion) bool { return c.Text == "moveq" }) {
		t.Error("moveq is offered, which no target has there")
	}
	if n := at("cbz"); n < 0 || !strings.HasPrefix(list[n].Detail, "needs ") {
		t.Errorf("%v", list)
	}
}
