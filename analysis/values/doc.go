// Package values has what can be known of a word without running the program: a number,
// some of its bits, a range, or a distance from an address that only the linker or the
// caller knows. Words are a domain of values for isa.Evaluate: Do carries out the
// operations of which instructions are made, on what is known.
//
// What is known holds for all values that a word can have: each operation gives a word
// that has every result that the operation has on them. Package flow follows words
// through a program.
package values
