package analysis

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/firmware"
)

// typedLines are lines of code that are typed letter by letter, for each instruction set.
var typedLines = map[string][]string{
	"T16": {"\tmovs\tr3, #17", "\tldrb\tr2, [r1, #3]", "\tadds\tr0, r0, r1", "\tbl\tsignal_red", "\tldr\tr4, =0x20000400", "\tldr\tr5, =-1", "\tldr\tr4, =0x40010000", "\t.word\t25, 26", "\t.byte\t1, 2", "\tbne\t9f", "\tpush\t{r4, lr}", "\t.hword 4", "\tldr\tr1, [r2, #300]", "\tmovs\tr8, #1", "\tnop; nop"},
	"A32": {"\tmov\tr3, #17", "\tldrb\tr2, [r1, #3]", "\taddeq\tr0, r0, r1", "\tblne\tsignal_red", "\tldr\tr4, =0x20000400", "\t.word\t25", "\tb\tpoints", "\t.byte 1", "\tldr\tr1, [r2, #5000]", "\tmov\tr0, #0x101"},
	"T32": {"\tmovs\tr3, #17", "\tmov\tr9, #0x10000", "\tadds\tr0, r0, r1", "\tbl\tsignal_red", "\tb\tpoints", "\tbeq\tl3", "\tcbz\tr0, l9", "\tldr\tr4, =0x20000400", "\t.word\t25", "\tite\tne", "\tmovne\tr1, #3", "\tldr.w\tr4, [r0, #4]", "\tadr\tr2, points", "\tadd\tr1, r2, #0x101"},
}

// TestAgainMoves types lines of code into programs that are large enough for branches, literals
// and alignments to matter, takes lines away, moves and repeats them, and compares what an
// analysis says that has the one before with what one without says. Nearly all such edits are
// taken over.
func TestAgainMoves(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	number, seed := reftest.Count(9, 60, 1500), reftest.Seed(1)
	edits, over := 0, 0
	for k := range number {
		name := []string{"T16", "A32", "T32"}[k%3]
		lines := []int{60, 400, 1400}[k/3%3]
		text := map[string]func(uint64, int) string{"T16": firmware.Text, "A32": firmware.A32, "T32": firmware.T32}[name](uint64(seed+k), lines)
		r := rand.New(rand.NewPCG(uint64(seed+k), 17))
		if name == "A32" { // which has no pools of its own
			text = strings.Replace(text, "points:", "\tbx\tlr\n\t.ltorg\npoints:", 1)
		}
		y := &typed{t: t, f: syntax.Parse(text), r: r, what: fmt.Sprintf("seed %d, %s", seed+k, name), every: 1 + lines/100}
		y.before = y.analyze(nil)
		for range 6 {
			y.some(typedLines[name])
		}
		edits, over = edits+y.edits, over+y.over
		if t.Failed() {
			return
		}
	}
	proof.Counted("%d edits, %d taken over", edits, over)
	if edits > 500 && over*100 < edits*85 {
		t.Errorf("%d of %d edits are taken over, want 85 in 100", over, edits)
	}
}

// typed is a program into which somebody types.
type typed struct {
	t           *testing.T
	f           *syntax.File
	r           *rand.Rand
	what        string
	every       int // how many edits there are between two that are compared
	before      *Result
	edits, over int
	back        []*syntax.File
}

func (y *typed) analyze(before *Result) *Result {
	res, err := Analyze(context.Background(), &Input{Path: "box.s", File: y.f, Before: before})
	if err != nil {
		y.t.Fatal(err)
	}
	return res
}

func (y *typed) edit(line, from, to int, word string) {
	at := y.f.LineStart(line)
	y.to(y.f.Edit(at+from, at+to, word))
}

// to goes on with another text.
func (y *typed) to(f *syntax.File) {
	old := y.f
	y.back = append(y.back, old)
	y.f = f
	now := y.analyze(y.before)
	y.edits++
	if now.TookOver() {
		y.over++
	}
	if y.r.IntN(y.every) == 0 {
		if got, want := againBoth(now, y.analyze(nil)); got != want {
			dir := y.t.ArtifactDir()
			_ = os.WriteFile(dir+"/old.s", []byte(old.Text()), 0o600)
			_ = os.WriteFile(dir+"/new.s", []byte(f.Text()), 0o600)
			a, b, c := old.Differing(f)
			y.t.Fatalf("%s: lines %d to %d and %d differ, as in %s:\n%s", y.what, a+1, b, c, dir, firstDifference(got, want))
		}
	}
	y.before = now
}

// some does one of the things that people do.
func (y *typed) some(lines []string) {
	f, r := y.f, y.r
	line := r.IntN(f.NumLines() - 1)
	n := len(f.Line(line).Text)
	switch r.IntN(7) {
	case 0, 1: // types a line
		y.edit(line, n, n, "\n")
		for _, c := range lines[r.IntN(len(lines))] {
			n := len(y.f.Line(line + 1).Text)
			y.edit(line+1, n, n, string(c))
		}
	case 2: // takes lines away, and back
		at, end := f.LineStart(line), f.LineStart(min(line+1+r.IntN(4), f.NumLines()-1))
		if y.to(f.Edit(at, end, "")); r.IntN(2) == 0 {
			y.to(f)
		}
	case 3: // repeats lines
		at, end := f.LineStart(line), f.LineStart(min(line+1+r.IntN(6), f.NumLines()-1))
		y.to(f.Edit(end, end, f.Text()[at:end]))
	case 4: // another number
		for k := range f.NumLines() {
			l := (line + k) % f.NumLines()
			if i := strings.LastIndexByte(f.Line(l).Text, '#'); i >= 0 && i+2 < len(f.Line(l).Text) {
				y.edit(l, i+1, i+2, fmt.Sprint(1+r.IntN(9)))
				y.edit(l, i+1, i+2, "")
				y.edit(l, i+1, i+1, fmt.Sprint(1+r.IntN(9)))
				break
			}
		}
	case 5: // a line letter by letter away
		for len(y.f.Line(line).Text) > 0 {
			n := len(y.f.Line(line).Text)
			y.edit(line, n-1, n, "")
		}
	case 6: // much in between
		at := f.LineStart(line)
		y.to(f.Edit(at, at, strings.Repeat("\tadds\tr0, r0, #1\n", 1+r.IntN(40))))
		for range r.IntN(3) {
			y.to(y.back[len(y.back)-1])
		}
	}
}

// TestAgainMovesBounded holds that an edit that moves something is not looked at where each line
// would have to be asked for very many values of a symbol: to assemble all anew is quicker.
func TestAgainMovesBounded(t *testing.T) {
	for values, want := range map[int]bool{50: true, 5000: false} {
		f := syntax.Parse(".syntax unified\n.set lamp, 0\n" + strings.Repeat(".set lamp, lamp+1\n", values) + "f: nop\n.word lamp\nbx lr\n")
		analyze := func(f *syntax.File, before *Result) *Result {
			r, err := Analyze(context.Background(), &Input{Path: "box.s", File: f, Before: before})
			if err != nil {
				t.Fatal(err)
			}
			return r
		}
		at := strings.Index(f.Text(), "bx lr")
		if got := analyze(f.Edit(at, at, "nop\n"), analyze(f, nil)).TookOver(); got != want {
			t.Errorf("%d values: taken over: %v, want %v", values, got, want)
		}
	}
}
