// Package format lays out the lines of a source: where labels, names, operands and
// comments begin, the blanks after commas, the case of mnemonics. It changes blanks
// between the parts of a statement and the case of mnemonics, and nothing else, so that
// the bytes that are assembled stay what they are.
//
// [Learn] measures how most lines of a file are laid out; [Options] says what is set
// instead. [Edits] gives the changes, line by line, each as small as it can be. Where a
// file has no habit that most of its lines share, it is left as it is. The edits are
// found again on their own result until nothing changes any more; a file in which that
// does not end is left as it is, so that formatting twice is formatting once.
//
// Not changed are: bodies of macros and repetitions, lines that cannot be read, lines of
// the preprocessor, lines that go on in the next one, what is inside of block comments
// and open strings, the text of comments, and all that is after .end. What is at
// the first column of a dialect in which that makes a label stays there, and nothing else
// gets there. Each changed line is read again: if it gives other statements, it is left
// as it was.
package format
