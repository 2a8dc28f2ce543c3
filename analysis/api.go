package analysis

import "narrowgauge/analysis/syntax"

// Severity orders findings from worst to mildest.
type Severity uint8

const (
	// Error: the line cannot be assembled, or the machine code would not do
	// what the line says.
	Error Severity = iota
	// Warning: it assembles, and goes wrong when it runs.
	Warning
	// Information: worth knowing; nothing is wrong.
	Information
	// Hint: shown quietly by editors.
	Hint
)

// String gives the name used in machine output: error, warning, information
// or hint.
func (s Severity) String() string {
	return [...]string{"error", "warning", "information", "hint"}[s]
}

// Span is a half-open range of byte offsets in one file.
type Span struct{ Start, End int }

// Location is a span in a file, named by the path the loader knows it under.
type Location struct {
	Path string
	Span Span
}

// Related points at a second place that explains a finding.
type Related struct {
	Location
	Message string
}

// Diagnostic is one finding. Message is one sentence; the check's
// explanation, found by Code, has the rest.
type Diagnostic struct {
	Location
	Severity   Severity
	Code       string
	Message    string
	Related    []Related
	Deprecated bool     // the form is deprecated: editors strike it through
	Unneeded   bool     // the code is not used: editors grey it out
	Bit        StateBit // of a finding about bit 0 of an address: what it has to be
	Shared     bool     // the address that has that bit is used for other things as well
	Expanded   bool     // the line is made by a macro: nothing to edit
}

// Edit replaces the bytes of Span by New. The edits of one action never
// overlap and are sorted by position.
type Edit struct {
	Span Span
	New  string
}

// Action is one rewrite of the source, proven by an analysis of its result.
type Action struct {
	// Title says what the rewrite does and what it costs, as in
	// "load 0x1234 from the literal pool (+4 bytes, +2 of padding)".
	Title string
	// Rewrite is the registered name of the rewrite, as in "literal-load".
	Rewrite string
	// Code is the check whose finding the action removes, and Target where
	// that finding stands.
	Code   string
	Target Span
	Edits  []Edit
	// Safe: the rewrite keeps every register, flag and memory byte that the
	// program can observe afterwards, so that fix-all may apply it unasked.
	Safe bool
	// Preferred: the first, best action for its finding.
	Preferred bool
	// Bytes is the change of the program's size in bytes, padding with it.
	Bytes int
}

// Hover is Markdown about the thing at Span.
type Hover struct {
	Span     Span
	Markdown string
}

// SymbolKind tells what a document symbol names.
type SymbolKind uint8

const (
	SymCode     SymbolKind = iota // label in front of instructions
	SymFunction                   // label marked as a function (.thumb_func, .type)
	SymData                       // label in front of data
	SymConstant                   // .equ, .set, =
	SymRegister                   // .req
	SymSection                    // section change
	SymMacro                      // .macro
)

// DocSymbol is an entry of the outline. Full covers what the symbol owns (up
// to the next label), Name only its name.
type DocSymbol struct {
	Name     string
	Detail   string
	Kind     SymbolKind
	Full     Span
	NameSpan Span
	Children []DocSymbol
}

// Wanted is a file that a source asks for.
type Wanted struct {
	From string // path of the source
	Name string // what it says
	// System: written #include <name>, which is not looked for beside the
	// source.
	System bool
	// Next: written #include_next, which is looked for behind the place where
	// the source itself was found.
	Next bool
}

// Loader finds the text of an included file, and the path under which
// diagnostics name it. A loader does the I/O; the analysis none.
type Loader func(w Wanted) (path string, file *syntax.File, ok bool)

// Input is all that an analysis depends on.
type Input struct {
	Path string       // of the root file
	File *syntax.File // its parsed text
	Set  *Settings    // resolved settings; nil means the defaults
	Load Loader       // nil: every include is missing
	// Size gives the size in bytes of a file that .incbin names; nil: no size
	// is known.
	Size func(w Wanted) (bytes int64, ok bool)
	// Why says why Load or Size has found nothing, as in "it is a folder";
	// nil or the empty text: the file is in none of the folders.
	Why func(w Wanted) string
	// Made keeps parsed expansions of macros for the next analysis, which is
	// faster with the same one; nil: nothing is kept.
	Made *Expansions
}
