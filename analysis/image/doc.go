// Package image puts an assembled program into the memory of a core and carries it out,
// statement by statement: each section has an address, labels and literals have theirs,
// and what the program does not say (other files, memory, the values that registers have
// at first) is invented, the same for the same name or address. A line that is refused
// does what it evidently means (isa.Mnemonic.Meant).
//
// It exists to compare: a rewrite is safe when the text before it and the text after it
// do the same from the same states (package rewrite).
package image
