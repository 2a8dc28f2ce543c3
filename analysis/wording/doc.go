// Package wording makes sentences of what goes wrong: from the refusal of an
// instruction, or the value that a place does not take, to a finding.
//
// A Reporter has the evaluator of the program that is assembled. Refuse asks the
// table for the nearest forms of an instruction (package isa) and says what is
// between them and the line; OperandErrors does so for values. Emit turns the place
// into a plain location, with the lines of macros that made it as related places,
// writes the message in the words of the file's dialect, and keeps the finding.
package wording
