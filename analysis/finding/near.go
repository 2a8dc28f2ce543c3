package finding

import (
	"sort"
	"strings"
)

// Near lists up to five of names that are close to s, the nearest first.
func Near(s string, names []string) []string {
	s = strings.ToLower(s)
	type cand struct {
		n string
		d int
	}
	var c []cand
	for _, n := range names {
		// As far apart as their lengths are, at least: nothing is gained by comparing them.
		if most := max(2, len(s)/3); len(s)-len(n) > most && !strings.HasPrefix(s, n) {
			continue
		}
		d := Distance(s, n)
		if strings.HasPrefix(n, s) || strings.HasPrefix(s, n) && len(n) > 3 {
			d = min(d, 2)
		}
		if d <= max(2, len(s)/3) && d < len(s) {
			c = append(c, cand{n, d})
		}
	}
	sort.SliceStable(c, func(i, j int) bool { return c[i].d < c[j].d })
	var out []string
	for i := 0; i < len(c) && i < 5; i++ {
		out = append(out, c[i].n)
	}
	return out
}

// Distance is the number of single-letter edits between a and b.
func Distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			d := diag
			if a[i-1] != b[j-1] {
				d++
			}
			diag = row[j]
			row[j] = min(d, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}
