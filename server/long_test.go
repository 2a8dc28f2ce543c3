package server

import (
	"math/rand"
	"strings"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// TestLongLines compares columns in long lines with what counting from the line's
// start gives, in texts with characters of all sizes and with bytes that are none.
func TestLongLines(t *testing.T) {
	rnd := rand.New(rand.NewSource(1))
	pieces := []string{"a", "é", "€", "😀", "\xff", "\xf0\x9f", "\x80", "\t"}
	for range 40 {
		var b strings.Builder
		for range 1 + rnd.Intn(3) {
			for range rnd.Intn(3000) {
				b.WriteString(pieces[rnd.Intn(len(pieces))])
			}
			b.WriteString([]string{"\n", "\r\n", "\r"}[rnd.Intn(3)])
		}
		s := b.String()
		text := newText(syntax.Parse(s))
		for range 300 {
			off := rnd.Intn(len(s) + 1)
			start, line := text.line(text.lineAt(off))
			want := 0
			for _, r := range line[:min(off-start, len(line))] {
				want += unitsOf(r)
			}
			if got := text.position(off, utf16Columns); int(got.Character) != want {
				t.Fatalf("offset %d of %q: column %d, want %d", off, s, got.Character, want)
			}
		}
	}
}

// TestManyInOneLine asks for the ranges of very many labels in one line.
func TestManyInOneLine(t *testing.T) {
	dog := time.AfterFunc(2*time.Minute, func() { panic("no end") })
	defer dog.Stop()
	const n = 500_000
	text := newText(syntax.ParseAs(strings.Repeat("a: ", n), syntax.Dots))
	for i := range n {
		if r := text.rangeOf(analysis.Span{Start: 3 * i, End: 3*i + 1}, utf16Columns); int(r.End.Character) != 3*i+1 {
			t.Fatalf("label %d ends in column %d", i, r.End.Character)
		}
	}
}
