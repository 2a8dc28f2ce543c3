// Package rewrite offers other ways to say what was refused. A rewrite is registered
// in the file of its family, with an example that is a test; it looks at a statement
// and proposes edits. The proof is the same for all: the edited text is analysed (by
// the function that NewSubject gets), and the offer is dropped if its finding is still
// there or a new one has come. What it changes besides decides whether it is safe.
// Offers for one finding are ranked, best first.
//
// The families: constants (moves), sums (add, subtract, mask), operands, accesses
// (loads and stores), high (registers above r7, third operands), branches, pools,
// older (for older architectures), names (spelling), addresses, itblock, idioms (what other
// instruction sets say otherwise), target (what a source is for).
//
// What they share: subject (from a finding to ranked offers), change (edits of several
// rewrites made at once), proof and cure (what an analysis says of them), cut and extract
// (proofs on a part of the program), safe (all safe
// rewrites of a file, with estimate), write (text as the author writes it), registers (what is free,
// what takes part), width (T16, or T32 and A32), divide (IT blocks that are cut),
// style (the dialects).
package rewrite
