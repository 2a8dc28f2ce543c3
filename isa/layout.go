package isa

import (
	"fmt"
	"strings"
)

// Layout draws the bits of one instruction as the manual does, most
// significant bit first, fields with their names: "00100 Rd=000 imm8=00000001".
func (r *Row) Layout(word uint32) string {
	var out []string
	at := 8 * min(int(r.size), 4)
	bits, _, _ := strings.Cut(r.Bits, "|")
	for _, tok := range strings.Fields(bits) {
		name, width := "", 0
		switch {
		case tok[0] == '0' || tok[0] == '1' || tok[0] == '(':
			width = strings.Count(tok, "0") + strings.Count(tok, "1")
		case strings.Contains(tok, "["):
			n, rng, _ := strings.Cut(strings.TrimSuffix(tok, "]"), "[")
			var hi, lo int
			if k, _ := fmt.Sscanf(rng, "%d:%d", &hi, &lo); k == 1 {
				lo = hi
			}
			name, width = n, hi-lo+1
			if i := r.fieldIndex(n); i >= 0 && int(r.fields[i].width) != width {
				name = tok
			}
		default:
			n, w, _ := strings.Cut(tok, ":")
			fmt.Sscanf(w, "%d", &width)
			name = n
		}
		at -= width
		b := fmt.Sprintf("%0*b", width, word>>at&(1<<width-1))
		if name != "" {
			b = name + "=" + b
		}
		out = append(out, b)
	}
	return strings.Join(out, " ")
}
