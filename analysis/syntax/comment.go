package syntax

import (
	"slices"
	"strings"
)

// A comment as people read it: without the marks that each dialect has, without the
// stars and lines that frame it.

// maxAbout bounds the lines of a comment that About looks at.
const maxAbout = 40

// About is what comments say of a line, counted from 0: those that are right above it, and
// the one behind its statements. A comment at the file's first line is about the file, unless a
// label is below it. Between the line and the comments above there may be lines
// whose statements all satisfy passes, as those that say something of the same name; an
// empty line ends the search.
func (f *File) About(line int, passes func(s *Stmt) bool) []string {
	var above []string
	for i := line - 1; i >= 0 && line-i <= maxAbout; i-- {
		l := f.Line(i)
		text, alone := f.comment(i)
		if alone {
			above = append(above, text)
			continue
		}
		if len(above) > 0 || len(l.Stmts) == 0 { // or a line for the preprocessor
			break
		}
		other := false
		for k := range l.Stmts {
			other = other || !passes(&l.Stmts[k])
		}
		if other {
			break
		}
	}
	if len(above) == line && !slices.ContainsFunc(f.Line(line).Stmts, func(s Stmt) bool { return s.Kind == Label }) {
		above = nil
	}
	for i, j := 0, len(above)-1; i < j; i, j = i+1, j-1 {
		above[i], above[j] = above[j], above[i]
	}
	out := unframed(above)
	if text, alone := f.comment(line); !alone && strings.TrimSpace(text) != "" && !ruler(text) {
		out = append(out, strings.TrimSpace(text))
	}
	return out
}

// comment is the text of a line's first comment without its marks, and whether the
// line has nothing else. Blanks in front of the text stay, as columns may mean something.
func (f *File) comment(i int) (text string, alone bool) {
	l := f.Line(i)
	if !l.in.comment() && l.Comment < 0 {
		return "", false
	}
	text = l.Text
	if l.in.comment() {
		text, _, _ = strings.Cut(text, "*/")
		return frame(text), len(l.Stmts) == 0
	}
	if hashed(text[l.Comment:]) { // a line for the preprocessor, with a comment perhaps
		at := strings.Index(text, "/*")
		if k := strings.Index(text, "//"); at < 0 || k >= 0 && k < at {
			at = k
		}
		if at < 0 {
			return "", false
		}
		text, _, _ = strings.Cut(strings.TrimLeft(text[at:], "/*"), "*/")
		return frame(text), false
	}
	before, text := text[:l.Comment], text[l.Comment:]
	alone = strings.TrimSpace(before) == ""
	switch {
	case strings.HasPrefix(text, "/*"):
		text, _, _ = strings.Cut(text[2:], "*/")
		if alone { // its next lines have no mark: columns stay below each other
			text = before + "  " + text
		}
		return frame(text), alone && len(l.Stmts) == 0
	case strings.HasPrefix(text, "//"):
		text = strings.TrimLeft(text, "/")
	default: // one of @ ; # | and *, repeated as some do
		text = strings.TrimLeft(text, text[:1])
	}
	return frame(text), alone
}

// hashed says whether a text is a directive of the preprocessor, and not a comment that begins
// with the same mark: words that sentences begin with are ones only right after it.
func hashed(text string) bool {
	rest, ok := strings.CutPrefix(text, "#")
	if !ok {
		return false
	}
	word, _, _ := strings.Cut(strings.TrimLeft(rest, " \t"), " ")
	switch word, _, _ = strings.Cut(word, "\t"); word {
	case "define", "include", "undef", "ifdef", "ifndef", "endif", "pragma":
		return true
	case "if", "else", "elif", "error", "warning", "line":
		return strings.HasPrefix(rest, word)
	}
	return false
}

// frame takes the stars, or bars, that frame a comment from both of its sides.
func frame(text string) string {
	text = strings.TrimRight(strings.ReplaceAll(text, "\t", "    "), " \r")
	inner := strings.TrimLeft(text, " ")
	if inner == "" || ruler(inner) {
		return inner
	}
	if c := inner[0]; (c == '*' || c == '|') && (len(inner) == 1 || strings.IndexByte(" *!", inner[1]) >= 0) {
		inner = strings.TrimPrefix(strings.TrimLeft(inner, inner[:1]), "!")
		text = strings.Repeat(" ", len(text)-len(inner)) + inner
	}
	for _, mark := range []string{"*", "|", "@", ";", "#", "//"} {
		if s := strings.TrimRight(text, mark); s != text && strings.HasSuffix(s, " ") {
			return strings.TrimRight(s, " ")
		}
	}
	return text
}

// ruler says whether a comment is a line across the page, or nothing: no letter and no
// digit is in it, and it is longer than an arrow or a dot.
func ruler(text string) bool {
	text = strings.TrimSpace(text)
	return text == "" || len(text) > 2 && !strings.ContainsFunc(text, func(r rune) bool {
		return r > 0x7f || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
	})
}

// unframed is a block of comments without lines across the page, empty lines at its ends, and
// the margin that all have.
func unframed(lines []string) (out []string) {
	margin := -1
	for _, s := range lines {
		if ruler(s) {
			if len(out) > 0 && out[len(out)-1] != "" && strings.TrimSpace(s) == "" {
				out = append(out, "")
			}
			continue
		}
		if n := len(s) - len(strings.TrimLeft(s, " ")); margin < 0 || n < margin {
			margin = n
		}
		out = append(out, s)
	}
	for i, s := range out {
		out[i] = s[min(max(margin, 0), len(s)):]
	}
	for len(out) > 0 && out[len(out)-1] == "" {
		out = out[:len(out)-1]
	}
	return out
}
