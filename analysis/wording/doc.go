// Package wording makes sentences of facts. The packages that find something out
// about the user's code report what it is, and have no English of their own
// (TestSentences).
//
// Most sentences are functions of the fact's data, in the file of their subject:
// directives.go, conditions.go, data.go, symbols.go, sections.go, files.go, macros.go,
// columns.go, unwind.go, code.go, flow.go, and values.go for expressions without a
// value. A directive is named as in the file's dialect: the caller passes its name, or
// asks Reporter.Spelled for it.
//
// A Reporter has the evaluator of the program that is assembled, and keeps the
// findings. Refuse (refuse.go, blocks.go, vector.go) asks the table (package isa) for
// the nearest forms of an instruction and says how the line differs from them;
// OperandErrors (operands.go) does so for values. Emit turns the place into a plain location, with
// the lines of macros that made it as related places.
//
// A message is one sentence in plain English with the numbers that matter. It says
// what to do if that is clear.
package wording
