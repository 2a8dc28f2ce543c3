package server

import (
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// pieces are a text to which one message makes many changes, each in the text that the one
// before it leaves. It is kept in pieces, so that a change costs the piece that it is in and
// not the whole text: an editor sends as many as a name is replaced in places.
type pieces struct {
	list []piece
	size int // how long a piece may be
	enc  encoding
}

// piece is a part of the text. No piece begins inside of a character, or between a carriage
// return and the line feed that belongs to it.
type piece struct {
	text     string
	from, to int  // of the text before all changes: what this stands in the place of
	touched  bool // it differs from that
	units    int  // the client's columns
	ends     int  // the line ends in it
}

// pieceSize is how long the pieces of a text are. Their number and their length grow alike
// with it, as a change goes past the ones and through one of the others.
func pieceSize(text string) int {
	size := 1 << 10
	for size*size < len(text) {
		size *= 2
	}
	return size
}

// cut cuts a text into pieces of a size.
func cut(text string, enc encoding, size int) *pieces {
	p := &pieces{size: size, enc: enc}
	p.list = p.divide(text)
	at := 0
	for i := range p.list {
		p.list[i].from = at
		at += len(p.list[i].text)
		p.list[i].to = at
	}
	return p
}

// divide makes pieces of a text, at least one.
func (p *pieces) divide(text string) (list []piece) {
	for first := true; first || text != ""; first = false {
		n := min(len(text), p.size)
		for n < len(text) && (!utf8.RuneStart(text[n]) || text[n-1] == '\r' && text[n] == '\n') {
			n++
		}
		q := piece{text: text[:n], units: n}
		for i := range n {
			if text[i] == '\n' || text[i] == '\r' && (i+1 == n || text[i+1] != '\n') {
				q.ends++
			}
		}
		if p.enc != utf8Columns {
			q.units = 0
			for _, r := range q.text {
				q.units += unitsOf(r)
			}
		}
		list, text = append(list, q), text[n:]
	}
	return list
}

// place is where a position is: a piece, and an offset in its text. It is the same one that
// [text.offset] says.
func (p *pieces) place(pos protocol.Position) (i, off int) {
	left := int(min(pos.Line, math.MaxInt32)) // of an int of 32 bits
	for ; left > 0 && i < len(p.list) && p.list[i].ends < left; i++ {
		left -= p.list[i].ends
	}
	if i == len(p.list) { // a line past the end
		return i - 1, len(p.list[i-1].text)
	}
	s := p.list[i].text
	for ; left > 0; left-- {
		off += lineEnd(s[off:])
		if strings.HasPrefix(s[off:], "\r\n") {
			off++
		}
		off++
	}
	want := int(min(pos.Character, math.MaxInt32))
	for {
		s := p.list[i].text
		if off == 0 && p.list[i].ends == 0 && p.list[i].units <= want {
			want -= p.list[i].units
			off = len(s)
		} else {
			line := s[off : off+lineEnd(s[off:])]
			at, used := columnIn(line, want, p.enc)
			off, want = off+at, want-used
			if off < len(s) {
				return i, off
			}
		}
		if i+1 == len(p.list) {
			return i, off
		}
		i, off = i+1, 0
	}
}

// lineEnd is how long the line is that a text begins with, without its end.
func lineEnd(s string) int {
	if i := strings.IndexAny(s, "\r\n"); i >= 0 {
		return i
	}
	return len(s)
}

// columnIn is the offset of a column in a line: the line's end if it is not that long, and a
// character's first byte inside of it. used are the columns up to there.
func columnIn(line string, want int, enc encoding) (off, used int) {
	for i, r := range line {
		w := unitsOf(r)
		if enc == utf8Columns {
			w = utf8.RuneLen(r)
		}
		if used+w > want {
			return i, used
		}
		used += w
	}
	return len(line), used
}

// replace makes one change. It gives the bytes that it was in the place of, and whether they were
// nothing but blanks.
func (p *pieces) replace(r protocol.Range, with string) (span analysis.Span, blank bool) {
	a, from := p.place(r.Start)
	b, to := p.place(r.End)
	if b < a || a == b && to < from {
		a, from, b, to = b, to, a, from
	}
	for _, q := range p.list[:a] {
		span.Start += len(q.text)
	}
	span.Start += from
	span.End, blank = span.Start, true
	for i := a; i <= b; i++ {
		gone := p.list[i].text
		if i == b {
			gone = gone[:to]
		}
		if i == a {
			gone = gone[from:]
		}
		span.End += len(gone)
		blank = blank && strings.Trim(gone, " \t") == ""
	}
	whole := p.list[a].text[:from] + with + p.list[b].text[to:]
	// What is left of a piece joins the one before, so that there are never many short ones.
	if a > 0 && (len(whole) <= p.size/2 || whole[0] == '\n' && strings.HasSuffix(p.list[a-1].text, "\r")) {
		a--
		whole = p.list[a].text + whole
	}
	if b+1 < len(p.list) && strings.HasSuffix(whole, "\r") && strings.HasPrefix(p.list[b+1].text, "\n") {
		b++
		whole += p.list[b].text
	}
	list := p.divide(whole)
	for i := range list {
		list[i].from, list[i].to, list[i].touched = p.list[b].to, p.list[b].to, true
	}
	list[0].from = p.list[a].from
	p.list = slices.Replace(p.list, a, b+1, list...)
	return span, blank
}

// changes are what has become of the text before, as changes of that.
func (p *pieces) changes(before string) (all []syntax.Change) {
	for i := 0; i < len(p.list); i++ {
		if !p.list[i].touched {
			continue
		}
		c := syntax.Change{Start: p.list[i].from}
		var b strings.Builder
		for ; i < len(p.list) && p.list[i].touched; i++ {
			b.WriteString(p.list[i].text)
			c.End = p.list[i].to
		}
		c.New = b.String()
		// A name in a piece is all that has changed of it, most of the time.
		for c.Start < c.End && c.New != "" && before[c.Start] == c.New[0] {
			c.Start, c.New = c.Start+1, c.New[1:]
		}
		for c.Start < c.End && c.New != "" && before[c.End-1] == c.New[len(c.New)-1] {
			c.End, c.New = c.End-1, c.New[:len(c.New)-1]
		}
		if c.Start < c.End || c.New != "" {
			all = append(all, c)
		}
	}
	return all
}

// editAll applies the changes of one message, one after the other, and follows where something
// was typed last.
func (t *text) editAll(changes []contentChange, typed int, enc encoding) (next *text, at int) {
	next = t
	for i := 0; i < len(changes); {
		n := 0 // of those that follow and have a range
		for i+n < len(changes) && changes[i+n].Range != nil {
			n++
		}
		switch n {
		case 0:
			next, typed, n = next.edit(nil, *changes[i].Text, enc), 0, 1
		case 1:
			span := next.span(*changes[i].Range, enc)
			blank := strings.Trim(next.file.Text()[span.Start:span.End], " \t") == ""
			typed = typedAfter(typed, span, blank, *changes[i].Text)
			next = next.edit(changes[i].Range, *changes[i].Text, enc)
		default:
			p := cut(next.file.Text(), enc, pieceSize(next.file.Text()))
			for _, c := range changes[i : i+n] {
				span, blank := p.replace(*c.Range, *c.Text)
				typed = typedAfter(typed, span, blank, *c.Text)
			}
			next = newText(next.file.EditAt(p.changes(next.file.Text())))
		}
		i += n
	}
	return next, typed
}
