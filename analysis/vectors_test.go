package analysis

import (
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
)

// TestVectors holds which words of vector tables are said to have bit 0 clear: the assembler
// and the linker set it for functions only (AAELF32, "Symbol values").
func TestVectors(t *testing.T) {
	const m0, table = ".cpu cortex-m0|.syntax unified|.thumb|", ".section .isr_vector,\"a\",%progbits|"
	for _, c := range []struct{ name, src, want string }{
		{"a plain label", m0 + table + ".word 0x20001000|.word reset|.text|reset: b reset", "reset"},
		{"two in a line", m0 + table + ".word 0x20001000, reset, nmi|.text|reset: b reset|nmi: b nmi", "reset nmi"},
		{"another name", m0 + ".section .vectors|.word reset|.text|reset: b reset", "reset"},
		{"behind a label", m0 + "__Vectors: .word stack|.word reset|reset: b reset|.bss|stack: .space 4", "reset"},
		{"marked", m0 + table + ".word reset|.text|.thumb_func|reset: b reset", ""},
		{"marked below", m0 + table + ".word reset|.text|reset: b reset|.type reset, %function", ""},
		{"with one more", m0 + table + ".word reset+1|.text|reset: b reset", ""},
		{"of another file", m0 + table + ".extern reset|.word reset", ""},
		{"by .thumb_set", m0 + table + ".thumb_set nmi, reset|.word nmi|.text|reset: b reset", ""},
		{"the stack and data", m0 + table + ".word top|.word sheet|.text|sheet: .word 1|.bss|.space 4|top:", ""},
		{"a table of something else", m0 + ".section .rodata|routes: .word reset|.text|reset: b reset", ""},
		{"code behind the table", m0 + "vectors: .word 1|ldr r0, =reset+1|bx r0|.word reset|reset: b reset", ""},
		{"halfwords", m0 + table + ".hword reset-reset|.text|reset: b reset", ""},
		{"the other profiles", ".arch armv4t|.syntax unified|.arm|.section .vectors,\"ax\"|ldr pc, w|w: .word reset|.thumb|reset: b reset", ""},
	} {
		text := strings.ReplaceAll(c.src, "|", "\n") + "\n"
		var got []string
		for _, d := range analyze(t, nil, text).Each() {
			if _, name, ok := strings.Cut(d.Message, "takes it: mark "); ok && d.Code == finding.CodeStateBit {
				got = append(got, strings.Fields(name)[0])
			}
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %q, want %q", c.name, s, c.want)
		}
	}
}
