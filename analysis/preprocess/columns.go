package preprocess

import "sort"

// lineMap says where the text of a changed line comes from.
type lineMap struct {
	line int
	segs []seg
}

// change is the map of a line, nil for a line that has not changed.
func (u *Unit) change(line int) *lineMap {
	k := sort.Search(len(u.changed), func(k int) bool { return u.changed[k].line >= line })
	if k < len(u.changed) && u.changed[k].line == line {
		return &u.changed[k]
	}
	return nil
}

// seg is a piece [out,outEnd) of a changed line. It is the file's text
// [raw,rawEnd), or what macro m, used there, made.
type seg struct {
	out, outEnd int32
	raw, rawEnd int
	m           *Macro
}

// seg is the piece that byte off of the file went to; the last one has its end
// too.
func (c *lineMap) seg(off int) *seg {
	k := sort.Search(len(c.segs), func(k int) bool { return c.segs[k].rawEnd > off })
	if n := len(c.segs); k == n {
		if n == 0 || c.segs[n-1].rawEnd != off {
			return nil
		}
		k--
	}
	if off < c.segs[k].raw {
		return nil
	}
	return &c.segs[k]
}

// linear says that the text is the file's, byte by byte.
func (s *seg) linear() bool { return s.m == nil && int(s.outEnd-s.out) == s.rawEnd-s.raw }

// mark is a macro's name in a file.
type mark struct {
	start, end int
	m          *Macro
}

// Columns is the part of the raw file that columns [a,b) of a processed line
// come from. For what a macro made, this is the whole use of the macro, with
// its arguments, which may go on in lines below; the macro is returned too.
func (u *Unit) Columns(line int, a, b int32) (Span, *Macro) {
	start := u.Raw.LineStart(line)
	c := u.change(line)
	if c == nil || len(c.segs) == 0 {
		return Span{start + int(a), start + int(b)}, nil
	}
	if b < a {
		b = a
	}
	n := len(c.segs)
	// The first piece that ends after a, and the last one that begins in
	// front of b.
	i := sort.Search(n, func(k int) bool { return c.segs[k].outEnd > a })
	j := sort.Search(n, func(k int) bool { return c.segs[k].out >= b }) - 1
	if i == n {
		i = n - 1
	}
	j = max(i, j)
	var m *Macro
	for k := i; k <= j && m == nil; k++ {
		if s := &c.segs[k]; s.outEnd > s.out || i == j {
			m = s.m
		}
	}
	x, y := &c.segs[i], &c.segs[j]
	out := Span{x.raw, y.rawEnd}
	if x.linear() {
		out.Start = x.raw + min(max(int(a-x.out), 0), x.rawEnd-x.raw)
	}
	if y.linear() {
		out.End = y.raw + min(max(int(b-y.out), 0), y.rawEnd-y.raw)
	}
	if out.End < out.Start {
		out.End = out.Start
	}
	return out, u.now.of(m)
}

// Changed says whether columns of a processed line are others than those of the
// raw line.
func (u *Unit) Changed(line int) bool { return u.change(line) != nil }

// FirstLine is the line that the text of a raw line came to: for those that
// continue what an earlier line began, that one.
func (u *Unit) FirstLine(line int) int {
	if first, ok := u.joined[line]; ok {
		return first
	}
	return line
}

// LineEnd is the offset in the raw file after what a line means, with the
// lines that continue it.
func (u *Unit) LineEnd(line int) int {
	last := line
	for u.FirstLine(last+1) == line {
		last++
	}
	return u.Raw.LineStart(last) + len(u.Raw.Line(last).Text)
}

// At is the place in the processed lines that byte off of the raw file came
// to: for a use of a macro, the start of what it made. ok is false for
// directives, inactive lines and comments that are gone.
func (u *Unit) At(off int) (line int, col int32, ok bool) {
	if off < 0 || off > len(u.Raw.Text()) {
		return 0, 0, false
	}
	line = u.Raw.LineAt(off)
	if first, ok := u.joined[line]; ok {
		line = first
	}
	c := u.change(line)
	if c == nil {
		if u.File.Line(line) != u.Raw.Line(line) && u.File.Line(line).Text != u.Raw.Line(line).Text {
			return line, 0, false
		}
		return line, int32(min(off-u.Raw.LineStart(line), len(u.Raw.Line(line).Text))), true
	}
	if s := c.seg(off); s != nil {
		if s.linear() {
			return line, s.out + int32(off-s.raw), true
		}
		return line, s.out, true
	}
	return line, 0, false
}

// UseAt is the use of a macro, name and arguments, that byte off of the raw
// file lies in, and the text that it means.
func (u *Unit) UseAt(off int) (use Span, m *Macro, text string) {
	line := u.Raw.LineAt(off)
	if first, ok := u.joined[line]; ok {
		line = first
	}
	c := u.change(line)
	if c == nil {
		return Span{}, nil, ""
	}
	if s := c.seg(off); s != nil && s.m != nil && off < s.rawEnd {
		return Span{s.raw, s.rawEnd}, u.now.of(s.m), u.File.Line(line).Text[s.out:s.outEnd]
	}
	return Span{}, nil, ""
}
