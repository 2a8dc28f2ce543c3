// Package eval computes the values of expressions and operands: the only way to a
// value, while a program is assembled and afterwards.
//
// An Evaluator has a program, a phase and the place that is read. The phase says
// what may be relied on: while the statements are walked, a value may wait for what
// is defined below; while the layout moves, addresses are where they are at the
// moment; then every value is final. New gives the evaluator of a program that is
// assembled, where nothing changes any more.
//
// A value is a number, an address in a section, or says why it is neither. What is
// doubtful about it is collected as data, and becomes a finding in package wording.
package eval
