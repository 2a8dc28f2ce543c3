package analysis_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
)

// a32Text is A32 code of n lines, the same for a seed.
func a32Text(seed uint64, n int) string {
	rnd := rand.New(rand.NewPCG(seed, 32))
	reg := func() string { return fmt.Sprintf("r%d", rnd.IntN(13)) }
	cond := func() string { return []string{"", "", "", "eq", "ne", "hs", "lt"}[rnd.IntN(7)] }
	var b strings.Builder
	b.WriteString("\t.syntax unified\n\t.arm\n\t.text\n")
	for i := 3; i < n; i++ {
		switch c := cond(); rnd.IntN(16) {
		case 0:
			fmt.Fprintf(&b, "l%d:\n", i)
			continue
		case 1:
			fmt.Fprintf(&b, "\tmov%s\t%s, #%d\n", c, reg(), rnd.IntN(256))
		case 2:
			fmt.Fprintf(&b, "\tadd%s\t%s, %s, %s, lsl #%d\n", c, reg(), reg(), reg(), rnd.IntN(32))
		case 3:
			fmt.Fprintf(&b, "\tsubs%s\t%s, %s, #0x%x\n", c, reg(), reg(), rnd.IntN(256)<<8)
		case 4:
			fmt.Fprintf(&b, "\tldr%s\t%s, [%s, #%d]\n", c, reg(), reg(), rnd.IntN(4096))
		case 5:
			fmt.Fprintf(&b, "\tstrb%s\t%s, [%s, %s]\n", c, reg(), reg(), reg())
		case 6:
			fmt.Fprintf(&b, "\tldrh%s\t%s, [%s]\t@ track sensor\n", c, reg(), reg())
		case 7:
			b.WriteString("\tpush\t{r4-r7, lr}\n")
		case 8:
			fmt.Fprintf(&b, "\tcmp%s\t%s, %s\n", c, reg(), reg())
		case 9:
			b.WriteString("1:\tbne\t1b\n")
		case 10:
			fmt.Fprintf(&b, "\torrs%s\t%s, %s, %s\n", c, reg(), reg(), reg())
		case 11:
			fmt.Fprintf(&b, "\tmla%s\tr1, r2, r3, %s\n", c, reg())
		case 12:
			b.WriteString("\tbl\tpoints\n")
		case 13:
			fmt.Fprintf(&b, "\tldmia%s\tr0!, {r4-r11}\n", c)
		case 14:
			fmt.Fprintf(&b, "\tmov%s\t%s, %s, ror %s\n", c, reg(), reg(), reg())
		default:
			fmt.Fprintf(&b, "\ttst%s\t%s, #1\n", c, reg())
		}
	}
	b.WriteString("points:\n\tbx\tlr\n")
	return b.String()
}

// TestA32Text holds that what the benchmark measures is a program.
func TestA32Text(t *testing.T) {
	text := a32Text(1, 10_000)
	file := syntax.Parse(text)
	for i, d := range analyzeText(t, file).Diagnostics() {
		t.Errorf("line %d: %s: %s", file.LineAt(d.Span.Start)+1, d.Code, d.Message)
		if i > 10 {
			break
		}
	}
	if f := reftest.AssembleFile(t, reftest.Options{Arch: "armv4t"}, text); !f.OK {
		t.Errorf("the assembler refuses lines %v", f.ErrorLines)
	}
}

// BenchmarkA32 reads and analyses 100,000 lines of A32 code.
func BenchmarkA32(b *testing.B) {
	text := a32Text(1, 100_000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		analyzeText(b, syntax.Parse(text))
	}
}
