package wording

import (
	"fmt"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
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
// hexadecimal with the decimal after.
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

// Sentence makes a sentence of what a parser says, "a value is missing here". What
// begins with a name from the source keeps it as it is written there.
func Sentence(s string) string {
	first, rest, _ := strings.Cut(s, " ")
	switch first {
	case "a", "an", "at", "files", "macros", "no", "only", "the", "there", "this", "too":
		first = strings.ToUpper(first[:1]) + first[1:]
	}
	return first + " " + rest + "."
}

// Where names a place in words: "in line 12", "in layout.inc, line 3".
func Where(r *program.Program, l finding.Location, from *program.Item) string {
	if l.Path == "" {
		return "by the settings"
	}
	for i := range r.Sources {
		if s := &r.Sources[i]; s.Path == l.Path {
			w := "in line " + strconv.Itoa(s.File.LineAt(l.Span.Start)+1)
			if from == nil || int(from.File) != i {
				name := l.Path
				if k := strings.LastIndexAny(name, `/\`); k >= 0 {
					name = name[k+1:]
				}
				w = "in " + name + ", " + w[3:]
			}
			return w
		}
	}
	return "before"
}
