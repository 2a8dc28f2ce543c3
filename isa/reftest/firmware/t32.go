package firmware

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// T32 returns code of n lines for ARMv7-M, T16 and T32 encodings mixed, with IT
// blocks, branches and literals whose width depends on the distance. It assembles
// and has no findings. The same seed gives the same program.
func T32(seed uint64, n int) string {
	rnd := rand.New(rand.NewPCG(seed, 33))
	reg := func() string { return fmt.Sprintf("r%d", rnd.IntN(12)) }
	low := func() string { return fmt.Sprintf("r%d", rnd.IntN(8)) }
	var b strings.Builder
	b.WriteString("\t.syntax unified\n\t.cpu cortex-m3\n\t.thumb\n\t.text\n")
	label := 0
	for i := 4; i < n; i++ {
		switch rnd.IntN(18) {
		case 0:
			fmt.Fprintf(&b, "l%d:\n", label)
			label++
		case 1:
			fmt.Fprintf(&b, "\tmovs\t%s, #%d\n", low(), rnd.IntN(256))
		case 2:
			fmt.Fprintf(&b, "\tadd\t%s, %s, %s, lsl #%d\n", reg(), reg(), reg(), rnd.IntN(32))
		case 3:
			fmt.Fprintf(&b, "\tsubs\t%s, %s, #0x%x\n", reg(), reg(), rnd.IntN(256)<<8)
		case 4:
			fmt.Fprintf(&b, "\tldr\t%s, [%s, #%d]\n", reg(), reg(), 4*rnd.IntN(1024))
		case 5:
			fmt.Fprintf(&b, "\tstrb\t%s, [%s, %s]\n", low(), low(), low())
		case 6:
			fmt.Fprintf(&b, "\tldrsh\t%s, [%s, #-%d]\t@ track sensor\n", reg(), reg(), 1+rnd.IntN(255))
		case 7:
			b.WriteString("\tpush\t{r4-r7, lr}\n")
		case 8:
			fmt.Fprintf(&b, "\tcmp\t%s, #%d\n", reg(), rnd.IntN(256))
		case 9:
			fmt.Fprintf(&b, "\tbne\tl%d\n", label+rnd.IntN(40)) // T16 or T32
		case 10:
			fmt.Fprintf(&b, "\torrs\t%s, %s, %s\n", reg(), reg(), reg())
		case 11:
			fmt.Fprintf(&b, "\tmla\tr1, r2, r3, %s\n", reg())
		case 12:
			b.WriteString("\tbl\tpoints\n")
		case 13:
			b.WriteString("\tldmia\tr0!, {r4-r11}\n")
		case 14:
			fmt.Fprintf(&b, "\tite\teq\n\tmoveq\t%s, #1\n\tmovne\t%s, #0\n", low(), low())
			i += 2
		case 15:
			fmt.Fprintf(&b, "\tubfx\t%s, %s, #%d, #4\n", reg(), reg(), rnd.IntN(28))
		case 16:
			fmt.Fprintf(&b, "\tmovw\t%s, #%d\n", reg(), rnd.IntN(1<<16))
		default:
			fmt.Fprintf(&b, "\tuxtb\t%s, %s\n", low(), low())
		}
	}
	for end := label + 41; label < end; label++ {
		fmt.Fprintf(&b, "l%d:\n", label)
	}
	b.WriteString("points:\n\tbx\tlr\n")
	return b.String()
}
