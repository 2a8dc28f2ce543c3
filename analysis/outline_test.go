package analysis

import (
	"strings"
	"testing"
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
