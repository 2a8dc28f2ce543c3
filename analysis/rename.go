package analysis

import (
	"context"

	"narrowgauge/analysis/assemble"
	"narrowgauge/analysis/describe"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/rename"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// RenameTarget is a name that can be another one.
type RenameTarget = rename.Target

// What names are for.
const (
	RenameSymbol    = rename.Symbol
	RenameNumber    = rename.Number
	RenameMacro     = rename.Macro
	RenameParameter = rename.Parameter
	RenameAlias     = rename.Alias
	RenameDefine    = rename.Define
)

func (r *Result) forRename() *rename.Program {
	return &rename.Program{Evaluator: eval.New(r.prog), Found: r.each}
}

// RenameAt is the name at byte offset off of a file of the program. The error says in a
// sentence why it cannot be another one.
func (r *Result) RenameAt(path string, off int) (RenameTarget, error) {
	return r.forRename().At(path, off)
}

// CanRename says, by an error with a sentence, why a target cannot have a name.
func (r *Result) CanRename(t RenameTarget, name string) error { return r.forRename().Valid(t, name) }

// RenameEdits are the edits that give a target another name in all files of the program, by
// path, sorted. They are not proven: see [Result.SameBut].
func (r *Result) RenameEdits(t RenameTarget, name string) (map[string][]Edit, error) {
	return r.forRename().Edits(t, name)
}

// Edited analyses the program with edits in its files, by path.
func (r *Result) Edited(ctx context.Context, edits map[string][]Edit) (*Result, error) {
	in := *r.in
	in.Made = new(Expansions)
	if list := edits[in.Path]; list != nil {
		in.File = in.File.EditAll(changes(list))
	}
	made := map[*syntax.File]*syntax.File{}
	if load := r.in.Load; load != nil {
		in.Load = func(w assemble.Wanted) (string, *syntax.File, bool) {
			path, f, ok := load(w)
			if list := edits[path]; ok && list != nil {
				if made[f] == nil {
					made[f] = f.EditAll(changes(list))
				}
				f = made[f]
			}
			return path, f, ok
		}
	}
	return Analyze(ctx, &in)
}

func changes(edits []Edit) (out []syntax.Change) {
	for _, e := range edits {
		out = append(out, syntax.Change{Start: e.Span.Start, End: e.Span.End, New: e.New})
	}
	return out
}

// SameBut says, by an error with a sentence, in what another program differs from this one
// apart from the name of a target.
func (r *Result) SameBut(after *Result, t RenameTarget, name string) error {
	return r.forRename().Proven(after.forRename(), t, name)
}

// DefinedOutside, NameElsewhere, MentionedIn and TooManySources are reasons why a name of several
// sources cannot be another one.
func DefinedOutside(name string) string      { return wording.DefinedOutside(name) }
func NameElsewhere(name, path string) string { return wording.NameElsewhere(name, path) }
func MentionedIn(name, path string) string   { return wording.MentionedIn(name, path) }
func TooManySources() string                 { return wording.TooManySources() }

// HasWord says whether a text has a whole word.
func HasWord(text, word string) bool { return program.WordIn(text, word, 0) >= 0 }

// IncludeLine is a line that includes a file which was found.
type IncludeLine = describe.IncludeLine

// IncludeLines lists the lines that include files, in all files of the program; one that is
// read several times has them several times.
func (r *Result) IncludeLines() []IncludeLine { return r.view().IncludeLines() }
