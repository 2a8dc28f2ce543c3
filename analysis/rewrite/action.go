package rewrite

import (
	"narrowgauge/analysis/finding"
)

// Action is one rewrite of the source, proven by an analysis of its result.
type Action struct {
	// Title says what the rewrite does and what it costs, as in
	// "load 0x1234 from the literal pool (+4 bytes, +2 of padding)".
	Title string
	// Rewrite is the registered name of the rewrite, as in "literal-load".
	Rewrite string
	// Code is the check whose finding the action removes, and Target where
	// that finding remains.
	Code   string
	Target finding.Span
	Edits  []finding.Edit
	// Safe: the rewrite keeps every register, flag and memory byte that the
	// program can observe afterwards, so that fix-all may apply it unasked.
	Safe bool
	// Preferred: the first, best action for its finding.
	Preferred bool
	// Bytes is the change of the program's size in bytes, padding with it.
	Bytes int
	// Proof is what came out of carrying out the program and the result, for those
	// that are safe by all else.
	Proof Proof
}

// Proof is what comes out of a comparison of two texts that are carried out.
type Proof uint8

// The proofs.
const (
	Unproven Proof = iota // not done, or something is not known that has to be
	Same                  // both do the same from all states that were tried
	Differs               // they do not from one of them
)
