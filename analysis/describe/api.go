package describe

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
)

// Hover is Markdown about the thing at Span.
type Hover struct {
	Span     finding.Span
	Markdown string
}

// DocSymbol is an entry of the outline. Full covers what the symbol owns (up
// to the next label), Name only its name.
type DocSymbol struct {
	Name     string
	Detail   string
	Kind     program.SymbolKind
	Full     finding.Span
	NameSpan finding.Span
	Children []DocSymbol
}
