package finding

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
	// Odd: that address, as the linker leaves it, has bit 0 set, whatever the lines
	// below it do; Added is what they add to it.
	Odd      bool
	Added    int64
	Expanded bool // the line is made by a macro: nothing to edit
	Left     bool // a comment allows it, or the settings leave it out: no rewrite is wanted
	// Says: of what was guessed of the target, the directives that would say it; empty where
	// directives cannot.
	Says []string
	// Cause is what findings have in common that one mistake brings, as a .thumb that is
	// missing does: they are shown as one. Empty: it is a mistake of its own.
	Cause string
	// Same are the further places of that cause.
	Same []Location
}

// The causes of findings that are shown as one. Those of a name that nothing defines have the
// name behind them.
const (
	CauseThumb      = "thumb"       // A32 code for a target that has none
	CauseDivided    = "divided"     // code of the unified syntax in the divided one
	CauseStartThumb = "start thumb" // Thumb code in A32 code that no directive asks for
	CauseStartArm   = "start arm"   // and the other way round
	CauseSemicolon  = "semicolon"   // comments behind a mark that separates statements
	CauseUnit       = "fpu"         // no floating-point unit
	CauseFolder     = "folder "     // a folder of files to include that is nowhere, its path behind it
	CauseName       = "name "
)

// Edit replaces the bytes of Span by New. The edits of one action never
// overlap and are sorted by position.
type Edit struct {
	Span Span
	New  string
}

// StateBit is what bit 0 of an address should be.
type StateBit uint8

const (
	_          StateBit = iota
	WantsSet            // set, for T16 code
	WantsClear          // clear, for A32 code
)
