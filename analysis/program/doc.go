// Package program is an assembled program as plain data, with look-ups that only
// read: items (statements in the order of assembly with their place, size and
// encoding), sources (files, and what macros make), environments (mode, syntax,
// target), sections, literals, symbols with their values, and the register names
// with the spans in which they hold.
//
// Only package assemble fills it in; after that nothing writes to it, so that any
// number of readers may use one at the same time.
//
// A Place is a location that remembers what made the text there: a line of an
// expansion, or a macro of the preprocessor. Program.Loc and its relatives give
// them.
package program
