package analysis

// Diagnostics of the root file and of every file it includes, sorted by path
// (root first), then position.
func (r *Result) Diagnostics() []Diagnostic { return r.diags }

// Hover describes what stands at byte offset off of the root file.
func (r *Result) Hover(off int) (Hover, bool) { return Hover{}, false }

// Definition of the symbol at byte offset off of the root file.
func (r *Result) Definition(off int) []Location { return nil }

// Symbols is the outline of the root file.
func (r *Result) Symbols() []DocSymbol { return nil }

// Includes lists the paths of the files that were read, without the root.
func (r *Result) Includes() []string { return nil }

// Explain returns Markdown about a check code, a rewrite, a mnemonic or a
// directive; where name is unknown, near lists known names close to it.
func Explain(name string) (markdown string, near []string, ok bool) { return "", nil, false }
