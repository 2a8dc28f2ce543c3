package analysis

import (
	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/finding"
	linkage "narrowgauge/analysis/link"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/rewrite"
)

// The names that server and cmd use. What they mean is said where they are declared.
type (
	Severity   = finding.Severity
	Span       = finding.Span
	Location   = finding.Location
	Related    = finding.Related
	Diagnostic = finding.Diagnostic
	Edit       = finding.Edit
	Check      = finding.Check

	Wanted     = assemble.Wanted
	Loader     = assemble.Loader
	Expansions = assemble.Expansions

	Hover      = describe.Hover
	Region     = describe.Region
	DocSymbol  = describe.DocSymbol
	Fold       = describe.Fold
	SymbolKind = program.SymbolKind

	InlayHint      = describe.Hint
	Where          = describe.Where
	Link           = describe.Link
	Lens           = describe.Lens
	LensKind       = describe.LensKind
	HintKind       = describe.HintKind
	Signatures     = describe.Signatures
	Token          = describe.Token
	Completion     = describe.Completion
	CompletionKind = describe.CompletionKind
	CompletionPart = describe.Part
	Elsewhere      = describe.Elsewhere
	Included       = describe.Included

	Refactoring = rewrite.Refactoring
	Action      = rewrite.Action
	Rewrite     = rewrite.Rewrite

	// What a linker sees of sources.
	LinkFile   = linkage.File
	LinkSymbol = linkage.Symbol
	LinkUse    = linkage.Use
	LinkUnit   = linkage.Unit
	Workspace  = linkage.Workspace
)

// The severities, from worst to mildest.
const (
	Error       = finding.Error
	Warning     = finding.Warning
	Information = finding.Information
	Hint        = finding.Hint
)

// CodeInclude is the code of findings about included files that are not there.
const CodeInclude = finding.CodeInclude

// CodeTooLarge is the code of findings that say what is left out.
const CodeTooLarge = finding.CodeMacroSize

// CodeExternal is the code of findings about names that a linker has to supply, and CodeNowhere
// of those about names that no source of a workspace defines.
const (
	CodeExternal = finding.CodeExternal
	CodeNowhere  = finding.CodeNowhere
)

// CodeTarget is the code of findings that say what was guessed of the target.
const CodeTarget = finding.CodeTarget

// What symbols of the outline are.
const (
	SymCode     = program.SymCode
	SymFunction = program.SymFunction
	SymData     = program.SymData
	SymConstant = program.SymConstant
	SymRegister = program.SymRegister
	SymSection  = program.SymSection
	SymMacro    = program.SymMacro
)

// What the protocol calls kinds and marks of tokens, in their order.
var (
	TokenKinds     = describe.TokenKinds
	TokenMarkNames = describe.TokenMarkNames
	HintKinds      = describe.HintKinds
	LensKinds      = describe.LensKinds
	LensesAtFirst  = describe.LensesAtFirst
	HintsAtFirst   = describe.HintsAtFirst
)

// The kinds of lenses.
const (
	LensRoutine = describe.LensRoutine
	LensCycles  = describe.LensCycles
	LensOther   = describe.LensOther
	LensBudget  = describe.LensBudget
)

// What completions are.
const (
	CompleteInstruction = describe.CompleteInstruction
	CompleteDirective   = describe.CompleteDirective
	CompleteMacro       = describe.CompleteMacro
	CompleteRegister    = describe.CompleteRegister
	CompleteLabel       = describe.CompleteLabel
	CompleteFunction    = describe.CompleteFunction
	CompleteConstant    = describe.CompleteConstant
	CompleteWord        = describe.CompleteWord
	CompleteTemplate    = describe.CompleteTemplate
)

// How names are used.
const (
	LinkDeclares = linkage.Declares
	LinkCalls    = linkage.Calls
	LinkJumps    = linkage.Jumps
	LinkData     = linkage.Data
	LinkTakes    = linkage.Takes
)

// Who may see a name.
const (
	LinkLocal    = linkage.Local
	LinkGlobal   = linkage.Global
	LinkWeak     = linkage.Weak
	LinkCommon   = linkage.Common
	LinkExternal = linkage.External
	LinkAbsent   = linkage.Absent
)

// Checks lists all checks in the order of the documentation.
func Checks() []Check { return finding.Checks() }

// Rewrites lists all rewrites in the order of the documentation.
func Rewrites() []Rewrite { return rewrite.Rewrites() }

// Near lists up to five of names that are close to s, the nearest first.
func Near(s string, names []string) []string { return finding.Near(s, names) }

// Explain returns Markdown about a check code, a rewrite, a mnemonic, a
// directive or a register; where name is unknown, near lists known names close to it.
func Explain(name string) (markdown string, near []string, ok bool) { return describe.Explain(name) }
