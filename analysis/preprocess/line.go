package preprocess

import (
	"strings"

	"narrowgauge/analysis/syntax"
)

// lineWriter puts the text of a line together again from its tokens. Blanks are as in
// the file; where macros meet other text, they are where they are needed.
type lineWriter struct {
	e    *expander
	f    *file
	line int
	src  string // the file's text
	at   int    // the file's text up to here is done

	buf  []byte // what comes out
	segs []seg  // where it is from
	use  *seg   // the macro's text that is being printed

	prev   *token // what was printed last
	source *token // whose blanks to take
	avoid  bool   // look whether the tokens would paste
	split  int    // the piece after which what comes is in a line of its own, or -1
}

// expandLine is the text that comes out of the line's tokens, and where it is
// from.
func (e *expander) expandLine(i int) ([]byte, []seg) {
	f := e.file
	w := &lineWriter{e: e, f: f, line: i, src: f.raw.Text(), at: f.raw.LineStart(i), buf: e.buf[:0], segs: e.segs[:0], split: -1}
	if e.bare {
		w.at = e.base[0].off
		if e.base[0].white {
			w.buf = append(w.buf, ' ')
		}
	}
	if quiet := quietFrom(f.raw.Line(i)); quiet >= 0 {
		for _, t := range e.base {
			t.quiet = t.off >= quiet+w.at
		}
	}
	for {
		t := e.get()
		if e.began {
			w.begin()
		}
		if t == eof {
			break
		}
		if e.split && w.prev != nil {
			w.split = len(w.segs) - 1
		}
		e.split = false
		if t.kind == kPad {
			w.pad(t)
			continue
		}
		if !w.token(t) {
			break
		}
	}
	w.closeUse(len(e.base))
	w.rest()
	e.buf, e.segs = w.buf, w.segs
	return w.buf, w.segs
}

// extends says whether what is printed next continues the last piece, which came
// unchanged from the file up to offset at.
func (w *lineWriter) extends(at int) bool {
	n := len(w.segs)
	if n == 0 {
		return false
	}
	s := &w.segs[n-1]
	return s.m == nil && s.linear() && s.rawEnd == at && int(s.outEnd) == len(w.buf)
}

// copy prints text of the file from offset off on, as it is there.
func (w *lineWriter) copy(text string, off int) {
	w.segs = append(w.segs, seg{int32(len(w.buf)), int32(len(w.buf) + len(text)), off, off + len(text), nil})
	w.buf = append(w.buf, text...)
}

// gap puts the blanks in front of a token of the file.
func (w *lineWriter) gap(t *token, space bool) {
	g := w.src[w.at:t.off]
	switch {
	case strings.IndexByte(g, '\n') >= 0:
		if !space {
			return
		}
		w.buf = append(w.buf, ' ')
	case comments(w.buf, g):
		w.buf = append(w.buf, ' ')
	case w.prev == nil || space && g != "":
		switch {
		case w.extends(w.at):
			s := &w.segs[len(w.segs)-1]
			s.outEnd += int32(len(g))
			s.rawEnd = t.off
			w.buf = append(w.buf, g...)
		case g != "":
			w.copy(g, w.at)
		}
	case space:
		w.buf = append(w.buf, ' ')
	}
}

// begin starts the text of a macro: everything from here on is its text.
func (w *lineWriter) begin() {
	e := w.e
	e.began = false
	w.closeUse(e.nameIndex(e.useName))
	w.segs = append(w.segs, seg{int32(len(w.buf)), int32(len(w.buf)), e.useName.off, e.useName.end, e.useOf})
	w.use = &w.segs[len(w.segs)-1]
}

// lead puts what is in front of a macro's name.
func (w *lineWriter) lead(space bool) {
	u := *w.use
	w.segs = w.segs[:len(w.segs)-1]
	w.gap(&token{off: u.raw}, space)
	u.out, u.outEnd = int32(len(w.buf)), int32(len(w.buf))
	w.segs = append(w.segs, u)
	w.use = &w.segs[len(w.segs)-1]
}

// closeUse ends the text of a macro, which the tokens up to n have asked for.
func (w *lineWriter) closeUse(n int) {
	if w.use == nil {
		return
	}
	if w.use.out == w.use.outEnd && len(w.buf) == 0 && (w.f.open || w.f.gas) {
		w.lead(true) // the end of a comment
	}
	w.use.rawEnd = w.e.base[n-1].end
	w.at = w.use.rawEnd
	w.use = nil
}

// pad notes a place where macros meet other text.
func (w *lineWriter) pad(t *token) {
	if t.split && w.prev != nil {
		w.split = len(w.segs) - 1
	}
	w.avoid = true
	if w.source == nil || !w.source.white && t.src == nil {
		w.source = t.src
	}
}

// space says whether a blank has to be in front of a token.
func (w *lineWriter) space(t *token) bool {
	if !w.avoid {
		return t.white
	}
	source := w.source
	if source == nil {
		source = t
	}
	return source.white || w.prev != nil && mayPaste(w.prev, t) || w.prev == nil && t.text == "#" && t.kind == kPunct
}

// token prints one token. ok is false at the limit of what macros may expand to.
func (w *lineWriter) token(t *token) (ok bool) {
	e, space := w.e, w.space(t)
	if w.split >= 0 {
		w.newStatement()
		space = true
	}
	if e.bi > 0 && e.base[e.bi-1] == t && len(e.ctx) == 0 {
		w.closeUse(e.bi - 1)
		w.ownToken(t, space)
	} else if w.use != nil && !w.macroToken(t, space) {
		return false
	}
	w.avoid, w.source, w.prev = false, nil, t
	return true
}

// newStatement puts what comes next into a statement of its own.
func (w *lineWriter) newStatement() {
	if w.f.raw.Dialect() == syntax.Dots {
		s := &w.segs[w.split]
		if s.out == s.outEnd {
			s.out = int32(len(w.buf))
		}
		w.buf = append(w.buf, " ;"...)
		s.outEnd = int32(len(w.buf))
		for k := w.split + 1; k < len(w.segs); k++ { // of nothing
			w.segs[k].out, w.segs[k].outEnd = s.outEnd, s.outEnd
		}
	}
	w.split = -1
}

// ownToken prints a token of the file, which no macro has replaced.
func (w *lineWriter) ownToken(t *token, space bool) {
	if w.prev == nil && t.off > w.at && w.at == w.f.raw.LineStart(w.line) {
		space = true
	}
	w.gap(t, space)
	if w.extends(t.off) && t.end-t.off == len(t.text) {
		s := &w.segs[len(w.segs)-1]
		s.outEnd += int32(len(t.text))
		s.rawEnd = t.end
	} else {
		w.segs = append(w.segs, seg{int32(len(w.buf)), int32(len(w.buf) + len(t.text)), t.off, t.end, nil})
	}
	w.buf = append(w.buf, t.text...)
	w.at = t.end
}

// macroToken prints a token of a macro's text. ok is false at the limit.
func (w *lineWriter) macroToken(t *token, space bool) (ok bool) {
	if w.use.outEnd == w.use.out {
		if w.prev == nil || space {
			w.lead(space)
		} else {
			w.use.out, w.use.outEnd = int32(len(w.buf)), int32(len(w.buf))
		}
	} else if space {
		w.buf = append(w.buf, ' ')
	}
	if !w.e.spend(len(t.text)) {
		return false
	}
	w.buf = append(w.buf, t.text...)
	w.use.outEnd = int32(len(w.buf))
	return true
}

// rest prints what is after the last token of its line.
func (w *lineWriter) rest() {
	f, e := w.f, w.e
	end, atLine := len(w.src), f.raw.LineAt(w.at)
	if atLine+1 < f.n {
		end = f.raw.LineStart(atLine+1) - 1
	}
	g := strings.TrimSuffix(w.src[w.at:end], "\r")
	if _, continued := f.continued(atLine); continued || g == "" {
		return
	}
	switch {
	case atLine == e.next-1:
		if comments(w.buf, g) {
			w.buf = append(w.buf, ' ')
		}
		w.copy(g, w.at)
	case len(w.segs) > 0 && atLine == w.line && !e.bare:
		// It opens a comment. This makes no difference to what the line is.
		if string(w.buf)+g == f.raw.Line(w.line).Text {
			w.copy(g, w.at)
		}
	}
}
