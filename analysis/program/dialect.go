package program

import (
	"narrowgauge/analysis/syntax"
)

// Unaligned says whether data is meant to stand wherever it does: that of the
// column dialect aligns itself, but for some.
func Unaligned(it *Item) bool { return it.Stmt.Dir.Name[0] != '.' && it.Stmt.Dir.Align == 0 }

// DialectOf is the dialect of the text that an item stands in.
func (r *Program) DialectOf(it *Item) syntax.Dialect { return r.Sources[it.File].File.Dialect() }

// Unit is how many bytes a value of a data directive has.
func (r *Program) Unit(it *Item) int {
	if r.Envs[0].HalfWords && it.Stmt.Dir.Name == ".word" {
		return 2
	}
	return it.Stmt.Dir.Unit
}
