package syntax

import "strings"

// This file lets a preprocessor put lines of its own in the place of those that
// a file has.

// StartsInComment says whether the line begins inside a block comment that a
// line above opened.
func (l *Line) StartsInComment() bool { return l.in.comment() }

// EndsInComment says whether a block comment is open where the line ends.
func (l *Line) EndsInComment() bool { return l.out.comment() }

// WithLines is the file with other parsed lines in the place of its own, one
// for each. Text, NumLines, LineStart and LineAt stay those of f; the text of
// Line(i) may differ from the text that is there. Such a file is to be
// read, not edited.
func (f *File) WithLines(lines []*Line) *File {
	f.await(len(lines))
	return &File{text: f.text, start: f.start, lines: lines, cut: f.cut, dialect: f.dialect, sure: f.sure, forced: true}
}

// LineParser parses single lines. Only one goroutine may use it at a time.
type LineParser struct{ p parser }

// LineParser parses lines in the file's dialect.
func (f *File) LineParser() *LineParser {
	return &LineParser{parser{dialect: f.dialect, slab: 16}}
}

// Parse parses one line, given without its line end. open says whether it
// begins inside a block comment.
func (lp *LineParser) Parse(text string, open bool) *Line {
	st := inCode
	if open {
		st = inComment
	}
	return lp.p.parseLine(text, st)
}

// Assembled is a file of given lines, one at least, in the dialect that f has: its text is
// theirs with line ends in between.
func (f *File) Assembled(lines []*Line) *File {
	size := 0
	for _, l := range lines {
		size += len(l.Text) + 1
	}
	var b strings.Builder
	b.Grow(size)
	start := make([]int, len(lines))
	for i, l := range lines {
		if i > 0 {
			b.WriteByte('\n')
		}
		start[i] = b.Len()
		b.WriteString(l.Text)
	}
	return &File{text: b.String(), start: start, lines: lines, cut: -1, dialect: f.dialect, sure: f.sure, forced: true}
}
