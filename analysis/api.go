package analysis

import (
	"context"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Input is all that an analysis depends on.
type Input struct {
	Path string       // of the root file
	File *syntax.File // its parsed text
	Set  *Settings    // resolved settings; nil means the defaults
	// Guess fills what Set does not say, and a hint says so; see GuessTarget.
	Guess *Guess
	// Evidence lists the targets that files near the source speak for; nil: there is none.
	// It is asked where neither Set nor directives say the target.
	Evidence func() []Evidence
	// Options gives what files near the source say of macros, symbols and the preprocessor,
	// where that holds for sure: Defines, Symbols, Prelude and Preprocess; nil: nothing. It
	// is asked where the source has conditions, includes files or has unknown names.
	Options func() Settings
	told    *Settings // that, once it has been asked for
	brief   bool      // only what the source says of its target is asked for: expansions end early
	Load    Loader    // nil: every include is missing
	// Size gives the size in bytes of a file that .incbin names; nil: no size
	// is known.
	Size func(w Wanted) (bytes int64, ok bool)
	// Why says why Load or Size has found nothing, as in "it is a folder";
	// nil or the empty text: the file is in none of the folders.
	Why func(w Wanted) string
	// Several says which files of the project a file that Load or Size has not found may be,
	// of which none is clearly nearer, as in "a/box.h and b/box.h fit"; nil or the empty text:
	// it is none. One of them is likely to be meant.
	Several func(w Wanted) string
	// Beside gives what the sources in the same folder say of their target; nil: there are
	// none. It is asked where the source does not say it, nor Evidence.
	Beside func(ctx context.Context) []*Voice
	// Generated says whether a file that Load or Size has not found is made when the
	// program is built: that it is not there is no mistake; nil: none is.
	Generated func(w Wanted) bool
	// Typed is the byte offset behind the last change of the text that is not saved yet; 0:
	// there is none. Behind it the text may not be all there.
	Typed int
	// Shared says whether other sources include the root file, so that its labels may be
	// used where nobody sees it; nil: none does. It is asked by proofs of rewrites.
	Shared func() bool
	// Made keeps parsed expansions of macros for the next analysis, which is
	// faster with the same one; nil: nothing is kept.
	Made *Expansions
	// Before is an analysis of which only the text of the root file was another one: files,
	// settings and all else are the same. It is faster with one; nil: there is none.
	Before *Result
}

// Prepare has what nearly every analysis needs made beside what the caller does meanwhile.
func Prepare() { isa.Prepare() }
