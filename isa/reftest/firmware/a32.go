package firmware

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// A32 returns A32 code of n lines that assembles and has no findings. The same
// seed gives the same program.
func A32(seed uint64, n int) string {
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
