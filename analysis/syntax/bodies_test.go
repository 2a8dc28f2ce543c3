package syntax

import (
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

// TestBodies holds that bodies come out the same where their lines are remembered, for random texts.
func TestBodies(t *testing.T) {
	words := []string{".rept 2", ".endr", ".macro m", ".endm", "nop", "/*", "*/", "\"", ";", "a:", ".irp x, 1", "\n", "\n", "\n", "@ c", "// c"}
	r := rand.New(rand.NewPCG(1, 2))
	closed := 0
	for range 3000 {
		var text strings.Builder
		for range r.IntN(40) {
			text.WriteString(words[r.IntN(len(words))] + " ")
		}
		f, again := Parse(text.String()), &Bodies{}
		for range 6 {
			line, repetition := r.IntN(f.NumLines()), r.IntN(2) == 0
			col := int32(r.IntN(len(f.Line(line).Text) + 1))
			want, got := f.Body(line, col, repetition), again.Body(f, line, col, repetition)
			if !want.Closed {
				end := r.IntN(f.NumLines() + 1)
				want, got = (*Bodies)(nil).More(want, f, 0, end, repetition), again.More(got, f, 0, end, repetition)
			}
			if !reflect.DeepEqual(want, got) {
				t.Fatalf("%q from line %d, column %d:\n%+v, remembered\n%+v", text.String(), line, col, want, got)
			}
			if want.Closed {
				closed++
			}
		}
	}
	if closed < 1000 {
		t.Errorf("only %d bodies end", closed)
	}
}

// TestBodiesBounded holds that only so many lines are remembered, and a longer body is whole.
func TestBodiesBounded(t *testing.T) {
	f, r := Parse(".rept 2\n"+strings.Repeat("nop\n", maxBodies+10)+".endr\n"), &Bodies{}
	b := r.Body(f, 0, int32(len(".rept 2")), true)
	if !b.Closed || len(b.Lines) != maxBodies+11 {
		t.Errorf("closed: %t, %d lines", b.Closed, len(b.Lines))
	}
	if len(r.lines) > maxBodies {
		t.Errorf("%d lines are remembered", len(r.lines))
	}
}
