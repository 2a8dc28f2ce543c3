package server

import (
	"fmt"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"unicode/utf16"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis/syntax"
)

// Changes that are made to pieces of any size give the text, and the last change begins, where
// the protocol's words say.
func TestPieces(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	parts := []string{"", "a", "\r", "\n", "\r\n", "é", "\U0001F689", "lamp", " ", "\t ", "xyz\n", "\r\r\n\n", "a longer part of a line"}
	some := func(n int) string {
		var b strings.Builder
		for range n {
			b.WriteString(parts[rnd.IntN(len(parts))])
		}
		return b.String()
	}
	for round := range 4000 {
		before := some(rnd.IntN(30))
		for _, enc := range []encoding{utf8Columns, utf16Columns} {
			p := cut(before, enc, 1+rnd.IntN(12))
			m := &model{utf16.Encode([]rune(before))}
			var did []string
			for range 1 + rnd.IntN(12) {
				text := newText(syntax.Parse(string(utf16.Decode(m.units))))
				pos := func() protocol.Position {
					return protocol.Position{Line: uint32(rnd.IntN(12)), Character: uint32(rnd.IntN(12))}
				}
				r, with := protocol.Range{Start: pos(), End: pos()}, some(rnd.IntN(4))
				if rnd.IntN(3) == 0 {
					r.End = r.Start
				}
				span := text.span(r, enc)
				m.edit(text.rangeOf(span, utf16Columns), with)
				was := text.file.Text()[span.Start:span.End]
				gone, blank := p.replace(r, with)
				did = append(did, fmt.Sprintf("%v %q", r, with))
				var got strings.Builder
				for i := range p.list {
					got.WriteString(p.list[i].text)
				}
				if want := string(utf16.Decode(m.units)); got.String() != want || gone != span || blank != (strings.Trim(was, " \t") == "") {
					t.Fatalf("round %d, %s: %q with %v:\n%q at %v, want\n%q at %v", round, enc, before, did, got.String(), gone, want, span)
				}
			}
			got := syntax.Parse(before).EditAt(p.changes(before)).Text()
			if want := string(utf16.Decode(m.units)); got != want {
				t.Fatalf("round %d, %s: %q with %v: %v make\n%q, want\n%q", round, enc, before, did, p.changes(before), got, want)
			}
		}
	}
}

// Another name in 20,000 places is one message. It costs in step with the text, and not the
// whole text for each place: bytes are counted. Lines without a change are kept.
func TestManyChanges(t *testing.T) {
	const lines = 20_000
	line := "\tbl\tset_point @ \U0001F689\n"
	for _, tt := range []struct {
		name, text string
		at         func(i int) protocol.Range // where the i-th change is made
	}{
		{"from the end", strings.Repeat(line, lines), func(i int) protocol.Range {
			return protocol.Range{Start: protocol.Position{Line: uint32(lines - 1 - i), Character: 4}, End: protocol.Position{Line: uint32(lines - 1 - i), Character: 13}}
		}},
		{"from the start", strings.Repeat(line, lines), func(i int) protocol.Range {
			return protocol.Range{Start: protocol.Position{Line: uint32(i), Character: 4}, End: protocol.Position{Line: uint32(i), Character: 13}}
		}},
		{"in one line", "@ " + strings.Repeat("set_point é ", lines), func(i int) protocol.Range {
			n := uint32(2 + 12*(lines-1-i))
			return protocol.Range{Start: protocol.Position{Character: n}, End: protocol.Position{Character: n + 9}}
		}},
		{"past the end", strings.Repeat(line, lines), func(int) protocol.Range {
			end := protocol.Position{Line: 1<<32 - 1, Character: 1<<32 - 1}
			return protocol.Range{Start: end, End: end}
		}},
	} {
		before := newText(syntax.Parse(tt.text))
		before.file.NumStmts() // it has been read
		with, changes := "throw", make([]contentChange, lines)
		for i := range changes {
			r := tt.at(i)
			changes[i] = contentChange{&r, &with}
		}
		var was, now runtime.MemStats
		runtime.ReadMemStats(&was)
		after, _ := before.editAll(changes, 0, utf16Columns)
		after.file.NumStmts()
		runtime.ReadMemStats(&now)
		want := strings.ReplaceAll(tt.text, "set_point", with)
		if tt.name == "past the end" {
			want = tt.text + strings.Repeat(with, lines)
		}
		if after.file.Text() != want {
			t.Errorf("%s: another text has come of it", tt.name)
		}
		// Each place costs one or two pieces, of 1 KB here.
		if n := now.TotalAlloc - was.TotalAlloc; n > uint64(200*len(tt.text)+8*lines*pieceSize(tt.text)) {
			t.Errorf("%s: %d MB for %d changes of %d KB", tt.name, n>>20, lines, len(tt.text)>>10)
		}
	}
	few, name := []contentChange{}, "throw"
	for _, n := range []uint32{9_000, 40} {
		few = append(few, contentChange{&protocol.Range{Start: protocol.Position{Line: n, Character: 4}, End: protocol.Position{Line: n, Character: 13}}, &name})
	}
	before := newText(syntax.Parse(strings.Repeat(line, lines)))
	after, _ := before.editAll(few, 0, utf16Columns)
	kept := 0
	for i := range lines {
		if before.file.Line(i) == after.file.Line(i) {
			kept++
		}
	}
	if kept != lines-len(few) {
		t.Errorf("%d of %d lines are kept", kept, lines)
	}
}
