package assemble

import (
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// Wanted is a file that a source asks for.
type Wanted struct {
	From string // path of the source
	Name string // what it says
	// System: written #include <name>, which is not looked for beside the
	// source.
	System bool
	// Next: written #include_next, which is looked for after the place where
	// the source itself was found.
	Next bool
}

// Loader finds the text of an included file, and the path under which
// diagnostics name it. A loader does the I/O; the analysis none.
type Loader func(w Wanted) (path string, file *syntax.File, ok bool)

// Input is all that the assembly of a program depends on.
type Input struct {
	Path string       // of the root file
	File *syntax.File // its parsed text
	// Env is the environment in front of the first line.
	Env program.Environment
	// Symbols, Defines and Prelude are what the settings of these names say.
	Symbols, Defines, Prelude []string
	Load                      Loader // nil: every include is missing
	Size                      func(w Wanted) (bytes int64, ok bool)
	Why                       func(w Wanted) string
	Several                   func(w Wanted) string
	Generated                 func(w Wanted) bool
	Made                      *Expansions // nil: nothing is kept
	// Unsaid: nothing is known of the command line that the sources are assembled with.
	Unsaid bool
	// Mute: only the program is asked for, not what is found in it.
	Mute bool
	// Most bounds the statements that expansions add; 0: MaxExpanded. A repetition that is longer
	// comes out fewer times, so that its statements are there.
	Most int
}
