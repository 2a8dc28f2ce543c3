package syntax

import "strings"

// Words of a line wherever they are: in lines that conditions leave out, in bodies of
// macros, and in lines for the preprocessor, which no statement tells of.

// Word is a run of letters, digits and the other characters of names in a line, with the
// columns where it is, in bytes. Numbers are words too.
type Word struct {
	Start, End int32
	Text       string
	Quoted     bool // inside of a string
	// Param: a parameter of a macro stands there, by \name or, in the column dialect, by
	// $name. The mark is not part of the word.
	Param bool
}

// Words calls visit for the words of line i from left to right; what is in comments is
// not among them.
func (f *File) Words(i int, visit func(w Word)) {
	l := f.Line(i)
	s := l.Text
	hash := false
	if first := strings.TrimLeft(s, " \t"); l.in == inCode && first != "" {
		at := int32(len(s) - len(first))
		if hash = hashed(first); !hash && l.Comment == at && !strings.HasPrefix(first, "/*") {
			return // nothing but a comment
		}
	}
	r := wordReader{s: s, dialect: f.dialect, hash: hash, visit: visit}
	if l.in.comment() {
		r.pastComment()
	}
	for r.i < len(s) && !r.comment() {
		switch c := s[r.i]; {
		case c == '"':
			r.quoted()
		case c == '\'' && !hash:
			r.character()
		case class[c]&cIdent != 0:
			r.word(false)
		default:
			r.i++
		}
	}
}

type wordReader struct {
	s       string
	i       int
	dialect Dialect
	hash    bool // the line is one for the preprocessor
	visit   func(w Word)
}

// pastComment passes the rest of a block comment.
func (r *wordReader) pastComment() {
	if k := strings.Index(r.s[r.i:], "*/"); k >= 0 {
		r.i += k + 2
	} else {
		r.i = len(r.s)
	}
}

// comment passes block comments, and says whether the rest of the line is a comment.
func (r *wordReader) comment() bool {
	for strings.HasPrefix(r.s[r.i:], "/*") {
		r.i += 2
		r.pastComment()
	}
	if r.i >= len(r.s) {
		return true
	}
	switch r.s[r.i] {
	case '/':
		return strings.HasPrefix(r.s[r.i:], "//")
	case '@':
		return r.dialect.commentMark() && (r.i == 0 || r.s[r.i-1] != '\\')
	case ';':
		return r.dialect != Dots && !r.hash
	}
	return false
}

// quoted reads a string, and visits its words.
func (r *wordReader) quoted() {
	for r.i++; r.i < len(r.s) && r.s[r.i] != '"'; {
		switch c := r.s[r.i]; {
		case class[c]&cIdent != 0:
			r.word(true)
		case c == '\\' && r.i+1 < len(r.s) && (class[r.s[r.i+1]]&cIdent == 0):
			r.i += 2 // an escaped mark
		default:
			r.i++
		}
	}
	r.i++
}

// character passes a character constant, with or without a closing quote.
func (r *wordReader) character() {
	if r.i++; r.i < len(r.s) && r.s[r.i] == '\\' {
		r.i++
	}
	if r.i++; r.i < len(r.s) && r.s[r.i] == '\'' {
		r.i++
	}
}

// word visits the word that begins here.
func (r *wordReader) word(quoted bool) {
	b := r.i
	param := b > 0 && r.s[b-1] == '\\'
	if r.dialect == Columns {
		if r.s[b] == '$' {
			b++
			r.i++
			param = true
		}
		for r.i < len(r.s) && class[r.s[r.i]]&cIdent != 0 && r.s[r.i] != '$' && (r.s[r.i] != '.' || r.i == b) {
			r.i++
		}
		if r.i == b {
			return
		}
	} else {
		for r.i < len(r.s) && class[r.s[r.i]]&cIdent != 0 {
			r.i++
		}
	}
	r.visit(Word{Start: int32(b), End: int32(r.i), Text: r.s[b:r.i], Quoted: quoted, Param: param})
}
