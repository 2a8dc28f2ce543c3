// Package check looks for what goes wrong when a program runs: addresses that are
// misaligned, return addresses that are lost, a stack that does not balance, compares whose
// result nobody reads. Each kind is a file with a function of its own, in the list all
// (check.go), and is registered in package finding. They ask what is known at each line
// (flow.Known) and where execution goes, and report what is sure; what hand-written code may
// well mean is a hint.
package check
