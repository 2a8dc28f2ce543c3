package syntax

import "strings"

// MaxParts bounds what is read of one text, so that memory is bounded whatever the
// text is: lines, statements, labels and operands, each counted by what it takes in
// units of about 64 bytes. A million usual lines have about as many.
const MaxParts = 10_000_000

// aFile is what a file counts for, however small it is.
const aFile = 10

// mostParts is the largest count that one byte of a text can have.
const mostParts = 8

// endsLine is no count: the byte is not of the line any more.
const endsLine = 255

// countOf is what a byte of a line counts for: it may end a statement or a label, or
// begin an operand or a part of an expression.
var countOf = func() (out [256]uint8) {
	for _, c := range []byte(",+-*/%<>=!~^&|([{\"") {
		out[c] = 2
	}
	out[';'], out[':'] = 4, mostParts
	out['\n'] = endsLine
	return out
}()

// lineParts counts the first line of a text, one and four more for a statement in it,
// and gives the text after it. It looks at bytes only, and so it says more than there is
// where comments have many.
func lineParts(text string) (n int, rest string) {
	n = 1
	i := 0
	for i < len(text) && text[i] <= ' ' && text[i] != '\n' {
		i++
	}
	if i < len(text) && text[i] > ' ' && countOf[text[i]] == 0 {
		n = 5
	}
	for ; i < len(text); i++ {
		switch k := countOf[text[i]]; k {
		case 0:
		case endsLine:
			return n, text[i+1:]
		default:
			n += int(k)
		}
	}
	return n, ""
}

// tooLarge says whether some of a text is not read.
func tooLarge(text string) bool {
	if len(text) <= MaxParts/mostParts {
		return false
	}
	n := strings.Count(text, "\n") + 1
	cut, _ := bound(text, n)
	return cut < n
}

// bound says how many of a text's first n lines are read: all, or as many as there is
// room for; and what they count for, where it had to look, else 0.
func bound(text string, n int) (lines, parts int) {
	if len(text) <= MaxParts/mostParts {
		return n, 0
	}
	line, rest := 0, text
	for rest != "" {
		var more int
		if more, rest = lineParts(rest); parts+more > MaxParts {
			return line, parts
		}
		parts += more
		line++
	}
	return n, parts + n - line // the last one is empty
}

// Parts counts the file as [MaxParts] does.
func (f *File) Parts() int {
	if n := f.parts.Load(); n > 0 {
		return int(n)
	}
	n := aFile + countParts(f.text)
	f.parts.Store(int64(n))
	return n
}

// countParts counts lines; the text ends where the last one ends.
func countParts(text string) (n int) {
	for {
		more, rest := lineParts(text)
		n += more
		if len(rest) == 0 {
			if strings.HasSuffix(text, "\n") {
				n++ // an empty line
			}
			return n
		}
		text = rest
	}
}

// leaveOut lets the lines from cut on be empty.
func (f *File) leaveOut(cut, n int) {
	f.cut = cut
	none := &Line{Comment: -1}
	for i := cut; i < n; i++ {
		f.lines[i] = none
	}
}

// Cut is the first line that is not read as the text is too large; -1 if there is
// none.
func (f *File) Cut() int { return f.cut }
