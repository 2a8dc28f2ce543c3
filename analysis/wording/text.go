package wording

import (
	"fmt"
	"strconv"
)

func Plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

func ClipText(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && s[n]&0xc0 == 0x80 {
		n--
	}
	return s[:n] + "…"
}

// Num writes a number as people read it: small ones in decimal, large ones in
// hexadecimal with the decimal behind.
func Num(v int64) string {
	if v > -1024 && v < 1024 {
		return fmt.Sprint(v)
	}
	if v < 0 {
		return fmt.Sprintf("%d (0x%x)", v, uint32(v))
	}
	return fmt.Sprintf("0x%x (%d)", v, v)
}

// orText writes numbers as a choice: "1, 2 or 4".
func orText(list []int) string {
	t := ""
	for i, n := range list {
		switch {
		case i == 0:
		case i == len(list)-1:
			t += " or "
		default:
			t += ", "
		}
		t += strconv.Itoa(n)
	}
	return t
}
