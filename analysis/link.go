package analysis

import (
	"narrowgauge/analysis/eval"
	linkage "narrowgauge/analysis/link"
)

// What a linker sees of sources; see package linkage.
type (
	LinkFile   = linkage.File
	LinkSymbol = linkage.Symbol
	LinkUse    = linkage.Use
	LinkUnit   = linkage.Unit
	Workspace  = linkage.Workspace
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

// Links are the facts about the program that other sources are concerned with.
func (r *Result) Links() *LinkFile {
	if r.foreign {
		return &LinkFile{Path: r.prog.Path, Files: []string{r.prog.Path}}
	}
	return linkage.Of(eval.New(r.prog))
}
