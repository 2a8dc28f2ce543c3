package program

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

func IdentByte(c byte) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_' || c == '.' || c == '$' || c >= 0x80
}

// FileOf is the first source with a file's text, -1 if the program does not
// have it.
func (r *Program) FileOf(path string) int32 {
	for i := range r.Sources {
		if s := &r.Sources[i]; s.Expansion == nil && s.Path == path {
			return int32(i)
		}
	}
	return -1
}

// Made is a statement of an expansion. A place in an expansion is shown in
// the file that asked for it, and remembers what it means.
type Made struct {
	File, Line int32
	Stmt       *syntax.Stmt
}

// Place is a location that remembers what made the text there.
type Place struct {
	finding.Location
	Made *Made             // the line of an expansion that the place means
	Use  *preprocess.Macro // the macro of the preprocessor that made it
}

// PlaceAt is a place that nothing made.
func PlaceAt(path string, s finding.Span) Place {
	return Place{Location: finding.Location{Path: path, Span: s}}
}

// madeLoc is the place of columns [a,b) of an item in an expansion: those of
// the body's line in a repetition, and the whole call for a macro.
func (r *Program) madeLoc(it *Item, a, b int32) Place {
	file, line, in := r.Shown(it)
	switch {
	case in == nil:
		l := r.Sources[file].File.Line(int(line))
		a, b = Trimmed(l.Text, 0, int32(len(l.Text)))
		if c := l.Comment; c > a {
			_, b = Trimmed(l.Text, a, c)
		}
	case in != it:
		a, b = in.Stmt.Start, in.Stmt.End
	}
	at := r.Loc(&Item{File: file, Line: line}, a, b)
	if s := &r.Sources[file]; in == it && s.Expansion == nil && r.Sources[it.File].Expansion.Joined {
		o := s.File.LineStart(int(line))
		at.Span = finding.Span{Start: o + int(a), End: o + int(max(a, b))}
	}
	at.Made = &Made{it.File, it.Line, it.Stmt}
	return at
}

// Shown is the line of a file where an item's findings are shown: for what a
// macro makes that of the call, for what is repeated that of the body. in is
// the item whose columns count, nil for the whole line.
func (r *Program) Shown(it *Item) (file, line int32, in *Item) {
	file, line, in = it.File, it.Line, it
	for {
		s := &r.Sources[file]
		x := s.Expansion
		switch {
		case x == nil:
			return file, line, in
		case x.Macro != nil:
			in = &r.Items[s.From]
			file, line = in.File, in.Line
		default:
			file, line = x.body(line)
			if !x.Exact {
				in = nil
			}
		}
	}
}

// written is the line of a file that a line of an expansion was written in.
func (r *Program) written(file, line int32) (int32, int32) {
	for r.Sources[file].Expansion != nil {
		file, line = r.Sources[file].Expansion.body(line)
	}
	return file, line
}

// BodyLine is the line of a body that an item is made of; false for what no expansion makes.
func (r *Program) BodyLine(it *Item) (l BodyLine, ok bool) {
	if r.Sources[it.File].Expansion == nil {
		return l, false
	}
	l.File, l.Line = r.written(it.File, it.Line)
	return l, true
}

// WrittenLoc is the place of the text of that line.
func (r *Program) WrittenLoc(file, line int32) Place {
	file, line = r.written(file, line)
	l := r.Sources[file].File.Line(int(line))
	end := int32(len(l.Text))
	if l.Comment >= 0 {
		end = l.Comment
	}
	a, b := Trimmed(l.Text, 0, end)
	return r.Loc(&Item{File: file, Line: line}, a, b)
}

// unitLoc is the place of columns [a,b) of a line that the preprocessor may
// have changed.
func (s *Source) unitLoc(line int, a, b int32) Place {
	span, m := s.Unit.Columns(line, a, b)
	return Place{Location: finding.Location{Path: s.Path, Span: finding.Span(span)}, Use: m}
}

// Named narrows a place that a macro made, one of the preprocessor or of the assembler, down to
// a word among its arguments, if the word is there.
func (r *Program) Named(l Place, file int32, word string) Place {
	if word == "" || l.Span.End-l.Span.Start == len(word) {
		return l
	}
	head := 0 // how long the macro's name is
	switch {
	case l.Made != nil && l.Use == nil:
		file, _, _ = r.Shown(&Item{File: l.Made.File, Line: l.Made.Line, Stmt: l.Made.Stmt})
	case l.Made == nil && l.Use != nil && l.Use.FuncLike:
		head = len(l.Use.Name)
	default:
		return l
	}
	text := r.Sources[file].AsWritten().Text()
	text = text[min(l.Span.Start, len(text)):min(l.Span.End, len(text))]
	for l.Made != nil && head < len(text) && IdentByte(text[head]) {
		head++
	}
	if i := WordIn(text, word, head); i >= 0 {
		l.Span = finding.Span{Start: l.Span.Start + i, End: l.Span.Start + i + len(word)}
	}
	return l
}

// WordIn is the index of a whole word in a text, from byte from on; -1 without.
func WordIn(text, word string, from int) int {
	for from < len(text) {
		i := strings.Index(text[from:], word)
		if i < 0 {
			return -1
		}
		i += from
		end := i + len(word)
		if (i == 0 || !IdentByte(text[i-1])) && (end == len(text) || !IdentByte(text[end])) {
			return i
		}
		from = end
	}
	return -1
}

// Place is the line and column that byte offset off of a file has in the text
// that the assembler sees.
func (r *Program) Place(file int32, off int) (line int, col int32) {
	s := &r.Sources[file]
	line = s.File.LineAt(off)
	col = int32(off - s.File.LineStart(line))
	if s.Unit != nil {
		if l, c, ok := s.Unit.At(off); ok {
			line, col = l, c
		}
	}
	return line, col
}

// Span is where columns [a,b) of a line of a file are in its text.
func (r *Program) Span(file int32, line int, a, b int32) finding.Span {
	s := &r.Sources[file]
	if s.Unit != nil && s.Unit.Changed(line) {
		span, _ := s.Unit.Columns(line, a, b)
		return finding.Span(span)
	}
	start := s.File.LineStart(line)
	return finding.Span{Start: start + int(a), End: start + int(b)}
}

// LineIs is the text that the columns of a line's statements count in.
func (r *Program) LineIs(file int32, line int) string {
	s := &r.Sources[file]
	if s.Unit != nil && s.Unit.Changed(line) {
		return s.File.Line(line).Text
	}
	return s.Written(line)
}

// AsWritten is an item with its statement as it is written, where the
// preprocessor changed nothing but what is in its operands: what a rewrite
// takes from it has the names that the author wrote.
func (r *Program) AsWritten(it *Item) (*Item, bool) {
	if !r.Changed(it) || it.Flags&AsWritten != 0 {
		return it, true
	}
	u := r.Sources[it.File].Unit
	raw, now := u.Raw.Line(int(it.Line)), u.File.Line(int(it.Line))
	if len(raw.Stmts) != len(now.Stmts) {
		return nil, false
	}
	for k := range now.Stmts {
		if &now.Stmts[k] != it.Stmt {
			continue
		}
		s := &raw.Stmts[k]
		if s.Kind != syntax.Instruction || s.Name != it.Stmt.Name || s.Err != nil || len(s.Ops) != len(it.Stmt.Ops) {
			return nil, false
		}
		w := *it
		w.Stmt = s
		w.Flags |= AsWritten
		return &w, true
	}
	return nil, false
}

// Changed says whether the preprocessor changed the line of an item.
func (r *Program) Changed(it *Item) bool {
	u := r.Sources[it.File].Unit
	return u != nil && u.Changed(int(it.Line))
}

// Written is the text of a line as it is in the file.
func (s *Source) Written(line int) string { return s.AsWritten().Line(line).Text }

// Loc is the place of columns [a,b) of an item's line.
func (r *Program) Loc(it *Item, a, b int32) Place {
	s := &r.Sources[it.File]
	if s.Expansion != nil {
		return r.madeLoc(it, a, b)
	}
	if s.Unit != nil && it.Flags&AsWritten == 0 && s.Unit.Changed(int(it.Line)) {
		return s.unitLoc(int(it.Line), a, b)
	}
	o := s.File.LineStart(int(it.Line))
	// What is missing at the end of a line is shown at its last character.
	n := int32(len(s.File.Line(int(it.Line)).Text))
	if s.Unit != nil {
		n = int32(len(s.Unit.Raw.Line(int(it.Line)).Text))
	}
	b = min(b, n)
	if a >= b && b > 0 {
		a = b - 1
	}
	return PlaceAt(s.Path, finding.Span{Start: o + int(a), End: o + int(b)})
}

func (r *Program) NameLoc(it *Item) Place {
	return r.nameLoc(it, it.Stmt.Start, it.Stmt.NameEnd)
}

// nameLoc is the place of a name in columns [a,b) of an item's line.
func (r *Program) nameLoc(it *Item, a, b int32) Place {
	l := r.Loc(it, a, b)
	if l.Use != nil && it.Stmt.Kind == syntax.Label {
		return r.Named(l, it.File, it.Stmt.Name)
	}
	return l
}

// DefinedAt is the place of a symbol's name at its definition; without a path where it has
// none, as one of the settings.
func (r *Program) DefinedAt(y *Symbol) Place {
	if y.Item < 0 {
		return Place{}
	}
	it, a, b := &r.Items[y.Item], y.Columns[0], y.Columns[1]
	// Of some directives it is the whole statement that is known.
	if text := r.LineText(it); int(b-a) != len(y.Name) && y.Name != "" && int(b) <= len(text) {
		if i := WordIn(text[:b], y.Name, int(a)); i >= 0 {
			a, b = int32(i), int32(i+len(y.Name))
		}
	}
	return r.nameLoc(it, a, b)
}

// MacroAt is the place of a macro's name at its definition.
func (r *Program) MacroAt(m *Macro) Place {
	at := r.Loc(&Item{File: m.File, Line: m.Spot.Line}, m.Spot.From, m.Spot.To)
	return Place{Location: at.Location, Use: at.Use}
}

func (r *Program) StmtLoc(it *Item) Place { return r.Loc(it, it.Stmt.Start, it.Stmt.End) }

func (r *Program) LineText(it *Item) string {
	if it.Flags&AsWritten != 0 {
		return r.Sources[it.File].Written(int(it.Line))
	}
	return r.Sources[it.File].File.Line(int(it.Line)).Text
}

// PartLoc is the place of a part of operand i.
func (r *Program) PartLoc(it *Item, i int, part isa.Part) Place {
	o := &it.Stmt.Ops[i]
	a, b := o.Start, o.End
	if o.Kind == isa.OpMem && part != isa.PartAll {
		line := r.LineText(it)
		t := syntax.Uncommented(line[a:b])
		line = line[:a] + t
		closeAt := strings.IndexByte(t, ']')
		comma := strings.IndexByte(t, ',')
		switch {
		case part == isa.PartBase:
			end := comma
			if end < 0 || closeAt >= 0 && closeAt < end {
				end = closeAt
			}
			if end > 1 {
				a, b = Trimmed(line, a+1, a+int32(end))
			}
		case comma >= 0:
			end := len(t)
			if closeAt > comma {
				end = closeAt
			}
			a, b = Trimmed(line, a+int32(comma)+1, a+int32(end))
		}
	}
	return r.Loc(it, a, b)
}

func Trimmed(s string, a, b int32) (int32, int32) {
	for a < b && (s[a] == ' ' || s[a] == '\t') {
		a++
	}
	for b > a && (s[b-1] == ' ' || s[b-1] == '\t') {
		b--
	}
	return a, b
}

// ListRegLoc is the place of register g in the list operand i.
func (r *Program) ListRegLoc(it *Item, i int, g isa.Reg) Place {
	o := &it.Stmt.Ops[i]
	line := r.LineText(it)
	text := line[:o.Start] + syntax.Uncommented(line[o.Start:o.End])
	pos := o.Start + 1
	for _, piece := range strings.Split(strings.TrimRight(text[o.Start+1:], "}^ "), ",") {
		first, last, ranged := strings.Cut(piece, "-")
		a, okA := isa.RegByName(strings.ToLower(strings.TrimSpace(first)))
		b, okB := a, true
		if ranged {
			b, okB = isa.RegByName(strings.ToLower(strings.TrimSpace(last)))
		}
		if okA && okB && g >= a && g <= b {
			x, y := Trimmed(text, pos, pos+int32(len(piece)))
			return r.Loc(it, x, y)
		}
		pos += int32(len(piece)) + 1
	}
	return r.Loc(it, o.Start, o.End)
}
