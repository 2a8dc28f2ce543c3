package syntax

import (
	"hash/maphash"
	"reflect"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync/atomic"
)

// File is an immutable parsed source file.
type File struct {
	text    string
	start   []int        // byte offset of every line's first byte
	lines   []*Line      // as many
	reading *reading     // nil: all of these are there; see await
	parts   atomic.Int64 // what Parts gives; 0 before it is asked
	cut     int          // the first line that is not read; -1: all are

	dialect Dialect
	sure    bool         // the text shows its dialect
	forced  bool         // somebody else said it
	marked  atomic.Int32 // 1: it has none of marks, 2: some; 0: nobody has asked
	crosses atomic.Int32 // whether statements go on in another line: crossesNone and the like
	// other holds readings in other dialects; see As.
	other [Modules + 1]atomic.Pointer[File]
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
	f := &File{text: text, dialect: d, cut: -1}
	cut, count := bound(text, n)
	if cut < n {
		f.readUpTo(cut, n)
		return f
	}
	if count > 0 {
		f.parts.Store(int64(aFile + count))
	}
	if n > aSlab && runtime.GOMAXPROCS(0) > 1 {
		f.readAhead(n, aSlab/4)
		return f
	}
	f.read(&parser{dialect: d, slab: min(n, aSlab)}, n, n)
	return f
}

// read parses the file's lines in front of cut, of n. Of the others it notes where they
// are.
func (f *File) read(p *parser, cut, n int) {
	f.start, f.lines = make([]int, n), make([]*Line, n)
	at := f.readFrom(p, 0, 0, cut)
	f.crosses.Store(crossing(p.crossed))
	for i := cut; i < n; i++ {
		f.start[i] = at
		at += strings.IndexByte(f.text[at:], '\n') + 1
	}
}

// readUpTo parses the lines in front of cut, of n.
func (f *File) readUpTo(cut, n int) {
	f.read(&parser{dialect: f.dialect, slab: aSlab}, cut, n)
	f.leaveOut(cut, n)
}

// reading is how far a file is whose lines another goroutine reads.
type reading struct {
	done   atomic.Int64    // lines that are there
	chunk  int             // lines that become known at a time
	chunks []chan struct{} // each is closed as soon as its lines are there
}

// readAhead parses the file's n lines in the background, some at a time: what uses the
// first ones need not wait for the last.
func (f *File) readAhead(n, chunk int) {
	f.start, f.lines = make([]int, n), make([]*Line, n)
	r := &reading{chunk: chunk, chunks: make([]chan struct{}, (n+chunk-1)/chunk)}
	for k := range r.chunks {
		r.chunks[k] = make(chan struct{})
	}
	f.reading = r
	go func() {
		p := &parser{dialect: f.dialect, slab: aSlab}
		at := 0
		for k, c := range r.chunks {
			to := min((k+1)*chunk, n)
			at = f.readFrom(p, k*chunk, at, to)
			if to == n {
				f.crosses.Store(crossing(p.crossed))
			}
			r.done.Store(int64(to))
			close(c)
		}
	}()
}

// await waits until the first n lines are read, if another goroutine does that.
func (f *File) await(n int) {
	if r := f.reading; r != nil && r.done.Load() < int64(n) {
		<-r.chunks[(n-1)/r.chunk]
	}
}

// readFrom parses the lines from to to; the first one starts at byte at. It gives the
// byte where the line after them starts.
func (f *File) readFrom(p *parser, from, at, to int) int {
	text := f.text
	st := inCode
	if from > 0 {
		st = f.lines[from-1].out
	}
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
	return at
}

func trimCR(s string) string {
	if n := len(s); n > 0 && s[n-1] == '\r' {
		return s[:n-1]
	}
	return s
}

// parseLine gives the parsed line of a text: one that was read a while ago if that is
// alike, as most instructions of a long source are.
func (p *parser) parseLine(text string, in lexState) *Line {
	if p.slab < aSlab {
		return p.newLine(text, in)
	}
	if p.recent == nil {
		p.recent, p.seed = new([recentLines]*Line), maphash.MakeSeed()
	}
	was := &p.recent[maphash.String(p.seed, text)%recentLines]
	if l := *was; l == nil || l.Text != text || l.in != in {
		*was = p.newLine(text, in)
	}
	return *was
}

func (p *parser) newLine(text string, in lexState) *Line {
	if len(p.lines) == 0 {
		p.lines = make([]Line, p.slab)
	}
	l := &p.lines[0]
	p.lines = p.lines[1:]
	p.line(l, text, in)
	return l
}

// Change is a text that takes the place of the bytes from Start up to End.
type Change struct {
	Start, End int
	New        string
}

// EditAll is the file with all of the changes made, in the dialect that it has. They are
// sorted, and none overlaps another.
func (f *File) EditAll(changes []Change) *File {
	if len(changes) == 0 {
		return f
	}
	g := f.edit(changes)
	g.sure, g.forced = f.sure, f.forced
	return g
}

// edit is EditAll without a word on what is sure of the dialect.
func (f *File) edit(changes []Change) *File {
	f.await(f.NumLines())
	whole, more := changed(f.text, changes)
	parts := int(f.parts.Load()) // 0: nobody has asked
	most := parts + 6*more       // where all that is new counts as much as it can
	for i := range changes {
		most += mostParts * len(changes[i].New)
	}
	if f.cut >= 0 || (parts == 0 || most > MaxParts) && tooLarge(whole) {
		return parse(whole, f.dialect)
	}
	g := &File{text: whole, cut: -1, dialect: f.dialect}
	g.start, g.lines = make([]int, 0, len(f.start)+more), make([]*Line, 0, len(f.lines)+more)
	p := &parser{dialect: f.dialect, slab: min(more+len(changes), 1024)}
	st, line, delta := inCode, 0, 0
	// keep takes over the lines up to another one.
	keep := func(to int) {
		for _, at := range f.start[line:to] {
			g.start = append(g.start, at+delta)
		}
		for ; line < to && f.lines[line].in != st; line++ {
			l := p.parseLine(f.lines[line].Text, st)
			st = l.out
			g.lines = append(g.lines, l)
		}
		if line < to { // each is read as before, from what the one above leaves
			st = f.lines[to-1].out
			g.lines = append(g.lines, f.lines[line:to]...)
			line = to
		}
	}
	for k := 0; k < len(changes); {
		a, b := f.LineAt(changes[k].Start), 0
		keep(a)
		at := f.start[a] + delta
		for first := k; k < len(changes) && (k == first || f.LineAt(changes[k].Start) <= b); k++ {
			c := &changes[k]
			b = f.LineAt(c.End)
			delta += len(c.New) - (c.End - c.Start)
		}
		// The lines a to b become those of the new text in between.
		tail := f.start[b] + len(f.written(b))
		if parts > 0 {
			parts += countParts(whole[at:tail+delta]) - countParts(f.text[f.start[a]:tail])
		}
		for mid, more := whole[at:tail+delta], true; more; {
			var s string
			s, mid, more = strings.Cut(mid, "\n")
			g.start = append(g.start, at)
			at += len(s) + 1
			// The line must not keep the whole old text alive.
			l := p.parseLine(strings.Clone(trimCR(s)), st)
			if !more {
				l = l.sharing(f.lines[b], s == f.written(b))
			} else if len(g.lines) == a {
				l = l.sharing(f.lines[a], s == f.written(a))
			}
			g.lines = append(g.lines, l)
			st = l.out
		}
		line = b + 1
	}
	keep(len(f.lines))
	g.parts.Store(int64(max(parts, 0)))
	g.crossesAfter(f, p)
	if len(changes) == 1 {
		a, b := f.LineAt(changes[0].Start), f.LineAt(changes[0].End)+1
		f.stillMarked(g, a, b, len(g.lines)-len(f.lines)+b)
	}
	return g
}

// written is a line as it is in the text, without the line feed at its end.
func (f *File) written(line int) string {
	if line+1 < len(f.start) {
		return f.text[f.start[line] : f.start[line+1]-1]
	}
	return f.text[f.start[line]:]
}

// sharing is a line with the statements of an earlier one if it says the same: an earlier
// line in place of an equal one, line end included, and its statements where only a comment
// differs. Whoever holds statements of the earlier text need not look for them in this one.
func (l *Line) sharing(was *Line, equal bool) *Line {
	switch {
	case equal && l.in == was.in:
		return was
	case len(l.Stmts) == 0 || len(l.Stmts) != len(was.Stmts):
		return l
	}
	// Of some statements there is no more than their text.
	if end := l.Stmts[len(l.Stmts)-1].End; strings.HasPrefix(was.Text, l.Text[:end]) && reflect.DeepEqual(l.Stmts, was.Stmts) {
		l.Stmts = was.Stmts
	}
	return l
}

// marks are in each line that has a condition or includes a file.
var marks = []string{"#if", "#include", ".if", ".include", "# if"}

func marked(text string) bool {
	return slices.ContainsFunc(marks, func(mark string) bool { return strings.Contains(text, mark) })
}

// Conditional says whether the text may have conditions, or include files, which may have some.
func (f *File) Conditional() bool {
	known := f.marked.Load()
	if known == 0 {
		if known = 1; marked(f.text) {
			known = 2
		}
		f.marked.Store(known)
	}
	return known == 2
}

// stillMarked tells what is known of the marks in an edited file: the lines from a to b of f are
// those from a to now of g.
func (f *File) stillMarked(g *File, a, b, now int) {
	has := func(lines []*Line) bool {
		return slices.ContainsFunc(lines, func(l *Line) bool { return marked(l.Text) })
	}
	switch f.marked.Load() {
	case 1:
		if !has(g.lines[a:now]) {
			g.marked.Store(1)
		}
	case 2:
		if !has(f.lines[a:b]) {
			g.marked.Store(2)
		}
	}
}

// changed is a text with changes made, and how many lines there are in what they put in.
func changed(text string, changes []Change) (whole string, lines int) {
	var b strings.Builder
	size := len(text)
	for i := range changes {
		size += len(changes[i].New)
	}
	b.Grow(size)
	at := 0
	for i := range changes {
		c := &changes[i]
		b.WriteString(text[at:c.Start])
		b.WriteString(c.New)
		lines += strings.Count(c.New, "\n") + 1
		at = c.End
	}
	b.WriteString(text[at:])
	return b.String(), lines
}

// Text is the whole source.
func (f *File) Text() string { return f.text }

// NumLines counts lines; a final newline starts a last, empty line.
func (f *File) NumLines() int { return len(f.start) }

// NumStmts counts the statements of all lines.
func (f *File) NumStmts() (n int) {
	f.await(f.NumLines())
	for _, l := range f.lines {
		n += len(l.Stmts)
	}
	return n
}

// LikelyStmts is NumStmts, or a number that is hardly less, as long as lines are read.
func (f *File) LikelyStmts() int {
	if r := f.reading; r != nil && r.done.Load() < int64(f.NumLines()) {
		return f.NumLines() + f.NumLines()/4
	}
	return f.NumStmts()
}

// Line is the parsed line i, counted from 0.
func (f *File) Line(i int) *Line {
	f.await(i + 1)
	return f.lines[i]
}

// LineStart is the byte offset of line i, counted from 0.
func (f *File) LineStart(i int) int {
	f.await(i + 1)
	return f.start[i]
}

// LineAt is the line, counted from 0, that holds byte offset off.
func (f *File) LineAt(off int) int {
	f.await(f.NumLines())
	return sort.Search(len(f.start), func(i int) bool { return f.start[i] > off }) - 1
}
