package server

import (
	"sort"
	"strings"
	"sync"
	"unicode/utf8"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// encoding is the unit in which the client counts columns (LSP 3.17,
// PositionEncodingKind).
type encoding string

const (
	utf8Columns  encoding = "utf-8"
	utf16Columns encoding = "utf-16"
)

// text is one state of a source with the line starts that the protocol sees.
type text struct {
	file *syntax.File
	// starts holds the line starts where they differ from the file's own: in
	// the protocol a lone carriage return ends a line too (LSP 3.17, "Text
	// Documents"), in assembly it does not. Nil where they are the same.
	starts []int
	// blocks counts UTF-16 units up to the first character of each block of the
	// text, made when a long line needs it.
	once   sync.Once
	blocks []block
}

// block is a character of the text and the units in front of it.
type block struct{ off, units int }

// aBlock is how many bytes a block has.
const aBlock = 512

// unitsBefore counts the UTF-16 units of the text up to byte offset off. Without the
// blocks each of many findings in a long line would count through all of it.
func (t *text) unitsBefore(off int) int {
	s := t.file.Text()
	t.once.Do(func() {
		t.blocks = make([]block, 0, len(s)/aBlock+1)
		units := 0
		for i, r := range s {
			if i >= len(t.blocks)*aBlock {
				t.blocks = append(t.blocks, block{i, units})
			}
			units += unitsOf(r)
		}
	})
	k := sort.Search(len(t.blocks), func(k int) bool { return t.blocks[k].off > off })
	if k == 0 {
		return 0
	}
	b := t.blocks[k-1]
	for _, r := range s[b.off:off] {
		b.units += unitsOf(r)
	}
	return b.units
}

// unitsOf is how many UTF-16 units a character has.
func unitsOf(r rune) int {
	if r > 0xffff {
		return 2
	}
	return 1
}

func newText(file *syntax.File) *text {
	t := &text{file: file}
	s := file.Text()
	lone := false
	for i := strings.IndexByte(s, '\r'); i >= 0 && i < len(s); {
		if i+1 == len(s) || s[i+1] != '\n' {
			lone = true
			break
		}
		next := strings.IndexByte(s[i+1:], '\r')
		if next < 0 {
			break
		}
		i += 1 + next
	}
	if !lone {
		return t
	}
	t.starts = []int{0}
	for i := 0; i < len(s); i++ {
		if s[i] == '\n' || s[i] == '\r' && (i+1 == len(s) || s[i+1] != '\n') {
			t.starts = append(t.starts, i+1)
		}
	}
	return t
}

func (t *text) lines() int {
	if t.starts != nil {
		return len(t.starts)
	}
	return t.file.NumLines()
}

func (t *text) lineStart(i int) int {
	if t.starts != nil {
		return t.starts[i]
	}
	return t.file.LineStart(i)
}

func (t *text) lineAt(off int) int {
	if t.starts != nil {
		return sort.SearchInts(t.starts, off+1) - 1
	}
	return t.file.LineAt(off)
}

// line returns where line i starts and its text without the line end.
func (t *text) line(i int) (start int, line string) {
	s := t.file.Text()
	start, end := t.lineStart(i), len(s)
	if i+1 < t.lines() {
		end = t.lineStart(i + 1)
	}
	line = s[start:end]
	line = strings.TrimSuffix(line, "\n")
	return start, strings.TrimSuffix(line, "\r")
}

// offset is the byte offset of p. Lines past the end give the end of the
// text, columns past the end of a line the end of that line, and a column
// inside a character its first byte.
func (t *text) offset(p protocol.Position, enc encoding) int {
	if int64(p.Line) >= int64(t.lines()) {
		return len(t.file.Text())
	}
	start, line := t.line(int(p.Line))
	want := int64(p.Character)
	if enc == utf8Columns {
		if want >= int64(len(line)) {
			return start + len(line)
		}
		i := int(want)
		for back := 0; i > 0 && back < utf8.UTFMax-1 && !utf8.RuneStart(line[i]); back++ {
			i--
		}
		return start + i
	}
	units, from := int64(0), 0
	if len(line) > max(2*aBlock, len(t.file.Text())/16) { // not all of it for each of many positions
		base := int64(t.unitsBefore(start))
		k := sort.Search(len(t.blocks), func(k int) bool { return int64(t.blocks[k].units) > base+want })
		if k > 0 && t.blocks[k-1].off > start {
			from, units = min(t.blocks[k-1].off-start, len(line)), int64(t.blocks[k-1].units)-base
		}
	}
	off, _ := columnIn(line[from:], int(min(want-units, int64(len(line)))), enc)
	return start + from + off
}

// position is where byte offset off is. Offsets outside the text are
// moved into it; an offset inside a line end counts as the end of its line.
func (t *text) position(off int, enc encoding) protocol.Position {
	off = max(0, min(off, len(t.file.Text())))
	i := t.lineAt(off)
	start, line := t.line(i)
	line = line[:min(off-start, len(line))]
	if enc == utf8Columns {
		return protocol.Position{Line: uint32(i), Character: uint32(len(line))}
	}
	units := 0
	if len(line) > 2*aBlock {
		units = t.unitsBefore(start+len(line)) - t.unitsBefore(start)
	} else {
		for _, r := range line {
			units += unitsOf(r)
		}
	}
	return protocol.Position{Line: uint32(i), Character: uint32(units)}
}

func (t *text) rangeOf(s analysis.Span, enc encoding) protocol.Range {
	return protocol.Range{Start: t.position(s.Start, enc), End: t.position(max(s.Start, s.End), enc)}
}

func (t *text) span(r protocol.Range, enc encoding) analysis.Span {
	s := analysis.Span{Start: t.offset(r.Start, enc), End: t.offset(r.End, enc)}
	if s.End < s.Start {
		s.Start, s.End = s.End, s.Start
	}
	return s
}

// edit applies one content change; a nil range replaces everything.
func (t *text) edit(r *protocol.Range, with string, enc encoding) *text {
	if r == nil {
		return newText(syntax.Parse(with))
	}
	s := t.span(*r, enc)
	return newText(t.file.Edit(s.Start, s.End, with))
}
