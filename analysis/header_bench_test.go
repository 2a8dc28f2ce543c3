package analysis_test

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest/firmware"
)

// defines is a device header of n definitions as the preprocessor has them.
func defines(n int) string {
	var b strings.Builder
	b.WriteString("#ifndef BOX_DEVICE_H\n#define BOX_DEVICE_H\n#define BOX_BASE 0x40000000\n#define BOX_BIT(n) (1 << (n))\n")
	for k := 0; k < n; k++ {
		switch k % 5 {
		case 0:
			fmt.Fprintf(&b, "#define SIGNAL_%d_BASE 0x%08x /* lamps of signal %d, invented */\n", k, 0x40001000+4*k, k)
		case 1:
			fmt.Fprintf(&b, "#define SIGNAL_%d_STATE (SIGNAL_%d_BASE + 0x%x)\n", k, k-1, k&0xff)
		case 2:
			fmt.Fprintf(&b, "#define POINTS_%d_MOTOR\t%d\n", k, k&31)
		case 3:
			fmt.Fprintf(&b, "#define POINTS_%d_MASK BOX_BIT(%d)\n", k, k&31)
		default:
			fmt.Fprintf(&b, "#define TRACK_%d(n) (BOX_BASE + %d + 4 * (n)) // of a section\n", k, k)
		}
	}
	b.WriteString("#endif\n")
	return b.String()
}

// equates is one as the assembler has them.
func equates(n int) string {
	var b strings.Builder
	b.WriteString("\t.equ BOX_BASE, 0x40000000\n")
	for k := 0; k < n; k++ {
		switch k % 4 {
		case 0:
			fmt.Fprintf(&b, "\t.equ SIGNAL_%d_BASE, 0x%08x @ lamps of signal %d, invented\n", k, 0x40001000+4*k, k)
		case 1:
			fmt.Fprintf(&b, "\t.set SIGNAL_%d_STATE, SIGNAL_%d_BASE + 0x%x\n", k, k-1, k&0xff)
		case 2:
			fmt.Fprintf(&b, "\t.equ POINTS_%d_MOTOR, %d\n", k, k&31)
		default:
			fmt.Fprintf(&b, "POINTS_%d_MASK = 1 << %d\n", k, k&31)
		}
	}
	return b.String()
}

// BenchmarkHeaderKeystroke is one letter typed in a file of 2,000 lines that
// includes a header of 20,000 definitions. Without the header it is the same
// file; the header's part should be small beside it.
func BenchmarkHeaderKeystroke(b *testing.B) {
	text := firmware.Text(benchSeed, 2_000)
	for _, x := range []struct{ name, path, include, header string }{
		{"none.s", "firmware.s", "", ""},
		{"none.S", "firmware.S", "#define A_NAME 7\n", ""},
		{"define.S", "firmware.S", "#include \"device.h\"\n", defines(20_000)},
		{"equ.S", "firmware.S", "#include \"device.inc\"\n", equates(20_000)},
		{"equ.s", "firmware.s", "\t.include \"device.inc\"\n", equates(20_000)},
	} {
		b.Run(x.name, func(b *testing.B) {
			file := syntax.Parse(x.include + text)
			header := syntax.Parse(x.header)
			var made analysis.Expansions
			keystrokes(b, file, func(file *syntax.File) {
				r, err := analysis.Analyze(context.Background(), &analysis.Input{Path: x.path, File: file, Made: &made, Load: func(w analysis.Wanted) (string, *syntax.File, bool) {
					return w.Name, header, true
				}})
				if err != nil {
					b.Fatal(err)
				}
				r.Each()
			})
		})
	}
}
