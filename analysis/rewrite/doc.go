// Package rewrite offers other ways to say what was refused. A rewrite is registered
// in one place, with an example that is a test; it looks at a statement and proposes
// edits. The proof is the same for all: the edited text is analysed (by the function
// that NewSubject gets), and the offer is dropped if its finding is still there or a
// new one has come. What it changes besides decides whether it is safe. Offers for
// one finding are ranked, best first.
//
// By file: rewrites.go (T16), wide.go (T32 and A32), older.go (sequences for older
// architectures), itblock.go (IT blocks), style.go (spelling of the dialects).
package rewrite
