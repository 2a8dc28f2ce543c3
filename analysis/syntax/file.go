package syntax

import (
	"runtime"
	"sort"
	"strings"
	"sync"
	"sync/atomic"
)

// File is an immutable parsed source file.
type File struct {
	text  string
	start []int   // byte offset of every line's first byte
	lines []*Line // as many

	dialect Dialect
	sure    bool // the text shows its dialect
	forced  bool // somebody else said it
	// other holds readings in other dialects; see As.
	other [Columns + 1]atomic.Pointer[File]
}

// Parse parses any byte sequence, in the dialect that it seems to be written
// in. It never fails: what it cannot read is in the statements' errors.
func Parse(text string) *File {
	d, sure := Detect(text)
	f := parse(text, d)
	f.sure = sure
	return f
}

// ParseAs parses any byte sequence in a dialect, whatever it looks like.
func ParseAs(text string, d Dialect) *File {
	f := parse(text, d)
	f.forced = true
	return f
}

func parse(text string, d Dialect) *File {
	n := strings.Count(text, "\n") + 1
	f := &File{text: text, dialect: d}
	if parts := min(runtime.GOMAXPROCS(0), n/aPart, 8); parts > 1 {
		f.readParts(parts, n)
		return f
	}
	f.read(&parser{dialect: d, slab: min(max(n, 4), 4096)}, n)
	return f
}

// read parses the file's n lines.
func (f *File) read(p *parser, n int) {
	f.start, f.lines = make([]int, n), make([]*Line, n)
	f.readFrom(p, 0, 0, n)
}

// aPart is the least number of lines that are worth a goroutine.
const aPart = 8000

// readParts parses the file's n lines in parts side by side. Each part is read
// as if it began outside of a block comment; where one is open, the lines up to
// its end are read again.
func (f *File) readParts(parts, n int) {
	f.start, f.lines = make([]int, n), make([]*Line, n)
	var wait sync.WaitGroup
	line, at := 0, 0
	var firsts []int
	for k := 1; k <= parts && at < len(f.text); k++ {
		end, lines := len(f.text), n-line
		if k < parts {
			half := max(len(f.text)/parts*k, at)
			i := strings.IndexByte(f.text[half:], '\n')
			if i >= 0 {
				end = half + i + 1
				lines = strings.Count(f.text[at:end], "\n")
			}
		}
		p := &parser{dialect: f.dialect, slab: 4096}
		firsts = append(firsts, line)
		from, off := line, at
		wait.Go(func() { f.readFrom(p, from, off, from+lines) })
		line, at = line+lines, end
	}
	if line < n { // the empty line after the last line end
		firsts = append(firsts, line)
		f.readFrom(&parser{dialect: f.dialect, slab: 4}, line, at, n)
	}
	wait.Wait()
	p := &parser{dialect: f.dialect, slab: 64}
	for _, first := range firsts {
		for i := max(first, 1); i < n && f.lines[i].in != f.lines[i-1].out; i++ {
			f.lines[i] = p.parseLine(f.lines[i].Text, f.lines[i-1].out)
		}
	}
}

// readFrom parses the lines from to to; the first one starts at byte at.
func (f *File) readFrom(p *parser, from, at, to int) {
	text := f.text
	st := inCode
	for i := from; i < to; i++ {
		f.start[i] = at
		end := strings.IndexByte(text[at:], '\n')
		next := at + end + 1
		if end < 0 {
			end, next = len(text)-at, len(text)
		}
		f.lines[i] = p.parseLine(trimCR(text[at:at+end]), st)
		st = f.lines[i].out
		at = next
	}
}

func trimCR(s string) string {
	if n := len(s); n > 0 && s[n-1] == '\r' {
		return s[:n-1]
	}
	return s
}

func (p *parser) parseLine(text string, in lexState) *Line {
	if len(p.lines) == 0 {
		p.lines = make([]Line, p.slab)
	}
	l := &p.lines[0]
	p.lines = p.lines[1:]
	p.line(l, text, in)
	return l
}

// edit is Edit without a look at the dialect.
func (f *File) edit(start, end int, text string) *File {
	whole := f.text[:start] + text + f.text[end:]
	a, b := f.LineAt(start), f.LineAt(end)
	tail := len(f.text)
	if b+1 < len(f.start) {
		tail = f.start[b+1]
	}
	// The lines a to b become those of the new text in between.
	delta := len(text) - (end - start)
	mid := whole[f.start[a] : tail+delta]
	if b+1 < len(f.start) {
		mid = mid[:len(mid)-1]
	}
	n := strings.Count(mid, "\n") + 1
	g := &File{text: whole, start: make([]int, 0, len(f.start)+n), lines: make([]*Line, 0, len(f.lines)+n), dialect: f.dialect}
	g.start = append(g.start, f.start[:a]...)
	g.lines = append(g.lines, f.lines[:a]...)
	p := &parser{dialect: f.dialect, slab: min(n, 1024)}
	st := inCode
	if a > 0 {
		st = f.lines[a-1].out
	}
	at := f.start[a]
	for i := 0; i < n; i++ {
		s, rest, _ := strings.Cut(mid, "\n")
		mid = rest
		g.start = append(g.start, at)
		at += len(s) + 1
		// The line must not keep the whole old text alive.
		l := p.parseLine(strings.Clone(trimCR(s)), st)
		g.lines = append(g.lines, l)
		st = l.out
	}
	for i := b + 1; i < len(f.lines); i++ {
		l := f.lines[i]
		if l.in != st {
			l = p.parseLine(l.Text, st)
		}
		st = l.out
		g.start = append(g.start, f.start[i]+delta)
		g.lines = append(g.lines, l)
	}
	return g
}

// Text is the whole source.
func (f *File) Text() string { return f.text }

// NumLines counts lines; a final newline starts a last, empty line.
func (f *File) NumLines() int { return len(f.start) }

// NumStmts counts the statements of all lines.
func (f *File) NumStmts() (n int) {
	for _, l := range f.lines {
		n += len(l.Stmts)
	}
	return n
}

// Line is the parsed line i, counted from 0.
func (f *File) Line(i int) *Line { return f.lines[i] }

// LineStart is the byte offset of line i, counted from 0.
func (f *File) LineStart(i int) int { return f.start[i] }

// LineAt is the line, counted from 0, that holds byte offset off.
func (f *File) LineAt(off int) int {
	return sort.Search(len(f.start), func(i int) bool { return f.start[i] > off }) - 1
}
