package syntax

import (
	"math/rand"
	"reflect"
	"strings"
	"testing"

	"narrowgauge/isa/reftest"
)

// TestPartsOfEdits holds that edits keep count of a file's parts.
func TestPartsOfEdits(t *testing.T) {
	f := Parse("\tmovs r0, #1\n\tbx lr\n")
	for _, x := range []struct {
		start, end int
		with       string
	}{
		{0, 0, "lamp:\tldr r0, [r1, #4]; nop; nop\n"},
		{0, 0, "a: b: c:\n\n\n\t.word 1, 2, 3, 4, 5, 6\n"},
		{0, 9, ""},
		{3, 7, "\n\n"},
		{0, 30, "\t.byte 1,2,3,4,5,6,7,8,9\n"},
		{0, 40, ""},
	} {
		f.Parts()
		f = f.Edit(x.start, min(x.end, len(f.Text())), x.with)
		if got, want := f.Parts(), Parse(f.Text()).Parts(); got != want {
			t.Errorf("%q at %d has %d parts, read anew it has %d: %q", x.with, x.start, got, want, f.Text())
		}
	}
}

// TestConditionalEdits holds that edits keep track of whether a text may have conditions.
func TestConditionalEdits(t *testing.T) {
	f := Parse("\tmovs r0, #1\n\tbx lr\n")
	seen := map[bool]int{}
	for _, x := range []struct {
		start, end int
		with       string
	}{
		{0, 0, "a: nop\n"}, {0, 0, "\n.if 1"}, {2, 3, ""}, {2, 2, "f"}, {1, 3, ""}, {0, 0, "#"}, {1, 1, "include"}, {0, 9, ""},
		{0, 0, ".if"}, {0, 0, "nop\n"}, {0, 0, "# if\n"}, {0, 8, ""}, {0, 0, ".i\nf"}, {2, 3, ""},
	} {
		f.Conditional()
		f = f.Edit(x.start, x.end, x.with)
		got, want := f.Conditional(), Parse(f.Text()).Conditional()
		if seen[got]++; got != want {
			t.Errorf("%q may have conditions: %t, read anew %t", f.Text(), got, want)
		}
	}
	if seen[true] < 3 || seen[false] < 3 {
		t.Errorf("conditions: %v", seen)
	}
}

// TestPartsCounted holds what lines count for, and that a large text, whose parts are
// counted while it is read, comes to what they count for one by one.
func TestPartsCounted(t *testing.T) {
	for line, want := range map[string]int{
		"": 1, " \t\r": 1, "nop": 5, "\tnop": 5, " x: nop": 13, ": nop": 9, "\t(nop": 3, "\tnop; nop": 9, "\tmovs r0, #1": 7, "@ a": 5, "\v\x00": 1, "\xff": 5,
	} {
		for _, text := range []string{line, line + "\n", line + "\nnop"} {
			if n, rest := lineParts(text); n != want || rest != strings.TrimPrefix(text[len(line):], "\n") {
				t.Errorf("%q: %d, and %q is left, want %d", text, n, rest, want)
			}
		}
	}
	for _, line := range reftest.Sample([]string{"\tmovs r0, #1\n", "x: .word 1\n\n", "\n", "nop"}, 3) {
		for _, end := range []string{"", "\n", "\n\n", "(", "\nnop"} {
			text := strings.Repeat(line, MaxParts/mostParts/len(line)+1) + end
			f := Parse(text)
			if got, want := f.Parts(), aFile+countParts(text); f.Cut() < 0 && got != want || f.Cut() < 0 == tooLarge(text) {
				t.Errorf("%q many times and %q: %d parts, want %d; cut at %d", line, end, got, want, f.Cut())
			}
		}
	}
}

// TestAhead compares a text that is read in the background with the same text read at
// once, with block comments over the borders of what becomes known at a time.
func TestAhead(t *testing.T) {
	lines := []string{"\tmovs r0, #1", "a: .word 1 /* one", "two", "*/ nop", "/* all */", "\tldr r0, =x @ /* no comment", "", "b\r", "\t.ascii \"/*\""}
	first := reftest.Seed(0)
	for seed := first; seed < first+reftest.Count(20, 200, 2000); seed++ {
		r := rand.New(rand.NewSource(int64(seed)))
		var b strings.Builder
		n := r.Intn(60)
		for range n {
			b.WriteString(lines[r.Intn(len(lines))])
			if r.Intn(20) > 0 {
				b.WriteByte('\n')
			}
		}
		text := b.String()
		n = strings.Count(text, "\n") + 1
		whole := &File{text: text}
		whole.read(&parser{slab: 8}, n, n)
		for chunk := 1; chunk < 9; chunk++ {
			f := &File{text: text}
			f.readAhead(n, chunk)
			if at := f.LineStart(n / 2); at != whole.start[n/2] {
				t.Fatalf("seed %d, %d at a time: line %d starts at %d, want %d", seed, chunk, n/2, at, whole.start[n/2])
			}
			for i := range whole.lines {
				x, y := *f.Line(i), *whole.lines[i]
				if !reflect.DeepEqual(x.Stmts, y.Stmts) || x.Text != y.Text || x.in != y.in || x.out != y.out || x.Comment != y.Comment {
					t.Fatalf("seed %d, %d at a time, line %d: %+v, want %+v", seed, chunk, i, x, y)
				}
			}
			if !reflect.DeepEqual(f.start, whole.start) || f.LineAt(len(text)) != n-1 {
				t.Fatalf("seed %d, %d at a time: lines start at %v, want %v", seed, chunk, f.start, whole.start)
			}
		}
	}
}
