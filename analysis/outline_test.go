package analysis

import (
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
)

// TestOutlineNests holds what is a routine, and which labels belong to one.
func TestOutlineNests(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"f: bl g|l: b l|g: bx lr", "f l function:g"},
		{".type f, %function|f: bl g|l: b l|g: bx lr|m: b m", "function:f(l) function:g(m)"},
		{".type f, %function|f: bx lr|t: .word 1|u: .word 2", "function:f(t u)"},
		{".type f, %function|f: bx lr|t: .word 1|l: nop", "function:f(t) l"},
		{".type f, %function|f: bx lr|.global t|t: .word 1", "function:f t"},
		{".type f, %function|f: bx lr|K = 1|l: nop|L = 2", "function:f(K l) L"},
		{".type f, %function|f: bx lr|.data|d: .word 1|.text|l: nop", "function:f .data d .text l"},
		{".type f, %function|f: bx lr|.arm|l: nop", "function:f l"},
		{".macro m|.endm|.type f, %function|f: bx lr|1: b 1b|l: nop", "m function:f(l)"},
	} {
		var text func(list []DocSymbol) string
		text = func(list []DocSymbol) string {
			var out []string
			for _, s := range list {
				name := s.Name
				if s.Kind == SymFunction {
					name = "function:" + name
				}
				if len(s.Children) > 0 {
					name += "(" + text(s.Children) + ")"
				}
				out = append(out, name)
			}
			return strings.Join(out, " ")
		}
		r := analyze(t, nil, ".syntax unified\n.thumb\n"+strings.ReplaceAll(tt.text, "|", "\n")+"\n")
		if got := text(r.Symbols()); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.text, got, tt.want)
		}
	}
}

// TestOutlineOfColumns holds that PROC makes a function of the label in front of it, and no label
// of T16 code is one by itself.
func TestOutlineOfColumns(t *testing.T) {
	text := "\tAREA box, CODE\n\tTHUMB\nset\tPROC\n\tMOVS r0, #4\nloop\tSUBS r0, r0, #1\n\tBNE loop\n\tBX lr\n\tENDP\nother\tBX lr\n\tEND\n"
	in := &Input{Path: "box.s", File: syntax.ParseAs(text, syntax.Columns), Set: &Settings{CPU: "cortex-m0"}}
	r, err := Analyze(t.Context(), in)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, s := range r.Symbols() {
		if s.Kind == SymFunction {
			got = append(got, s.Name)
			for _, below := range s.Children {
				got = append(got, "-"+below.Name)
			}
		}
	}
	if s := strings.Join(got, " "); s != "set -loop -other" {
		t.Error(s)
	}
	for _, y := range r.Links().Symbols {
		if want := y.Name == "set"; y.Routine != want {
			t.Errorf("%s is a routine: %v, want %v", y.Name, y.Routine, want)
		}
	}
}
