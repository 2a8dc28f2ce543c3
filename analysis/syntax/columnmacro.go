package syntax

import "strings"

// The text side of macros and variables of the column dialect: "$name" is
// replaced, with a '.' after it that ends the name; "$$" means one '$';
// nothing is replaced between bars.

// Header is the line after MACRO. Names are without '$'.
type Header struct {
	Label  string // the parameter for the label, empty without one
	Name   string
	Cond   string // the parameter for what goes on after the name, empty without one
	Params []Param
}

// ColumnHeader reads the line after MACRO; ok is false when it cannot be read.
func ColumnHeader(line string) (h Header, ok bool) {
	p := parser{s: line, dialect: Columns}
	s := strings.TrimRight(line[:p.columnCode()], " \t\r")
	i := 0
	if s != "" && class[s[0]]&cSpace == 0 {
		for i < len(s) && class[s[i]]&cSpace == 0 {
			i++
		}
		h.Label = strings.TrimPrefix(s[:i], "$")
		if !identifier(h.Label) {
			return h, false
		}
	}
	i = blanks(s, i)
	b := i
	for i < len(s) && class[s[i]]&cSpace == 0 {
		i++
	}
	var more bool
	if h.Name, h.Cond, more = strings.Cut(s[b:i], "$"); h.Name == "" || more && !identifier(h.Cond) {
		return h, false
	}
	for i = blanks(s, i); i < len(s); {
		if s[i] == '$' {
			i++
		}
		b := i
		for i < len(s) && class[s[i]]&cIdent != 0 && s[i] != '$' {
			i++
		}
		p := Param{Name: s[b:i]}
		if p.Name == "" {
			return h, false
		}
		if i = blanks(s, i); i < len(s) && s[i] == '=' {
			p.Default, i = columnArgument(s, blanks(s, i+1))
			i = blanks(s, i)
		}
		h.Params = append(h.Params, p)
		if i < len(s) && s[i] != ',' {
			return h, false
		}
		i = blanks(s, min(i+1, len(s)))
	}
	return h, true
}

func identifier(s string) bool {
	for i := 0; i < len(s); i++ {
		if class[s[i]]&cIdent == 0 || s[i] == '$' {
			return false
		}
	}
	return s != "" && class[s[0]]&cStart != 0
}

// columnArgument reads one argument: up to a comma, quotes as a whole. A text
// in quotes loses them.
func columnArgument(s string, i int) (string, int) {
	b := i
	for i < len(s) && s[i] != ',' {
		if s[i] == '"' {
			for i++; i < len(s) && s[i] != '"'; i++ {
			}
		}
		i = min(i+1, len(s))
	}
	v := strings.TrimRight(s[b:i], " \t")
	if n := len(v); n > 1 && v[0] == '"' && v[n-1] == '"' {
		v = strings.ReplaceAll(v[1:n-1], `""`, `"`)
	}
	return v, i
}

// ColumnArguments splits the text after a macro's name. A '|' asks for the
// parameter's default; what is missing is empty. more is what is too much.
func ColumnArguments(params []Param, s string) (values []string, more string) {
	values = make([]string, len(params))
	s = strings.TrimSpace(s)
	for i, k := 0, 0; i < len(s); k++ {
		if k == len(params) {
			return values, s[i:]
		}
		values[k], i = columnArgument(s, i)
		if values[k] == "|" {
			values[k] = params[k].Default
		}
		i = blanks(s, min(i+1, len(s)))
	}
	return values, ""
}

// ColumnReplace puts values in, up to limit bytes. lookup says what a name
// means; other names stay as they are. With final "$$" becomes '$'. left
// says whether a name stayed.
func ColumnReplace(s string, lookup func(name string) (string, bool), final bool, limit int) (out string, left bool) {
	b := make([]byte, 0, len(s)+len(s)/4)
	bar := false
	for i := 0; i < len(s) && len(b) <= limit; {
		c := s[i]
		switch {
		case c == '|':
			bar = !bar && i+1 < len(s) && class[s[i+1]]&cIdent != 0
			fallthrough
		default:
			b = append(b, c)
			i++
			if c == '\n' {
				bar = false
			}
			continue
		case c == '$' && !bar:
		}
		if i+1 < len(s) && s[i+1] == '$' {
			if final {
				b = append(b, '$')
			} else {
				b = append(b, "$$"...)
			}
			i += 2
			continue
		}
		e := i + 1
		for e < len(s) && class[s[e]]&cIdent != 0 && s[e] != '$' && s[e] != '.' {
			e++
		}
		v, ok := lookup(s[i+1 : e])
		if !ok {
			left = left || e > i+1
			b = append(b, s[i:e]...)
			i = e
			continue
		}
		b = append(b, v...)
		if e < len(s) && s[e] == '.' {
			e++
		}
		i = e
	}
	return string(b), left
}

// ParseColumnLines reads text of the column dialect in which the variables have
// been put in: a '$' means nothing any more.
func ParseColumnLines(text string) *File {
	n := strings.Count(text, "\n") + 1
	f := &File{text: text, cut: -1, dialect: Columns, forced: true}
	f.read(&parser{dialect: Columns, plain: true, slab: min(n+1, 64)}, n, n)
	return f
}

// Behind finds the end of what a statement of the column dialect opens, a macro
// or a repetition, from the line below it on: a line with one of the effects
// that closes as many as were opened. ok is false when the file ends first.
func (f *File) Behind(line int, open, end Effect) (at int, ok bool) {
	depth := 1
	for i := line + 1; i < f.NumLines(); i++ {
		for k := range f.Line(i).Stmts {
			s := &f.Line(i).Stmts[k]
			if s.Kind != Directive {
				continue
			}
			switch s.Directive.Effect {
			case open:
				depth++
			case end:
				if depth--; depth == 0 {
					return i, true
				}
			}
		}
	}
	return f.NumLines(), false
}

// GoesOn says whether the line ends with a backslash, so that its statement goes
// on in the line below.
func (l *Line) GoesOn() bool { return l.out >= goesOn }

// Joined is the code of a line and of those that its statement goes on in, up to
// line last. Blanks replace backslashes and line ends, so that columns are
// bytes from the start of the first line.
func (f *File) Joined(line int) (text string, last int) {
	last = line
	for last+1 < f.NumLines() && f.Line(last).GoesOn() {
		last++
	}
	if last == line {
		return f.Line(line).Code(), line
	}
	at := f.LineStart(line)
	b := []byte(f.text[at : f.LineStart(last)+len(f.Line(last).Code())])
	for i := line; i < last; i++ {
		l := f.Line(i).Text
		for k := f.LineStart(i) + trimRight(l, 0, len(l)) - 1; k < f.LineStart(i+1); k++ {
			b[k-at] = ' '
		}
	}
	return string(b), last
}

// Code is the line's text without the comment at its end.
func (l *Line) Code() string {
	if l.Comment >= 0 && strings.HasPrefix(l.Text[l.Comment:], ";") {
		return l.Text[:l.Comment]
	}
	return l.Text
}
