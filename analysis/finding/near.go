package finding

import (
	"sort"
	"strings"
)

// Near lists up to five of names that are close to s, the nearest first: with few letters that are
// other ones, the fewer the shorter s is, or with s at their beginning.
func Near(s string, names []string) []string {
	s = strings.ToLower(s)
	letters := len(strings.TrimLeft(s, "."))
	most := max(2, letters/3)
	if letters < 4 { // else most of them may be other ones
		most = 1
	}
	type cand struct {
		n string
		d int
	}
	var c []cand
	for _, n := range names {
		// As far apart as their lengths are, at least: nothing is gained by comparing them.
		if len(s)-len(n) > most && !strings.HasPrefix(s, n) || len(n)-len(s) > most && !strings.HasPrefix(n, s) {
			continue
		}
		d := Distance(s, n)
		if strings.HasPrefix(n, s) && letters > 1 {
			d = min(d, 1)
		} else if strings.HasPrefix(s, n) && len(n) > 3 {
			d = min(d, most)
		}
		if letters == 4 && d == 2 && !strings.HasPrefix(n, s[:len(s)-letters+1]) {
			continue // half of the letters, and the first one too
		}
		if d <= most && d < len(s) {
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

// Distance is the number of edits between a and b: a letter more, less or another one, or two that
// have changed places.
func Distance(a, b string) int {
	last, row := make([]int, len(b)+1), make([]int, len(b)+1) // of two letters less, and of one
	next := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		next[0] = i
		for j := 1; j <= len(b); j++ {
			d := row[j-1]
			if a[i-1] != b[j-1] {
				d++
			}
			d = min(d, next[j-1]+1, row[j]+1)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				d = min(d, last[j-2]+1)
			}
			next[j] = d
		}
		last, row, next = row, next, last
	}
	return row[len(b)]
}
