package program

import (
	"narrowgauge/analysis/syntax"
)

// DialectOf is the dialect of the text that an item is in.
func (r *Program) DialectOf(it *Item) syntax.Dialect { return r.Sources[it.File].File.Dialect() }

// Unit is how many bytes a value of a data directive has.
func (r *Program) Unit(it *Item) int {
	if r.Environments[0].HalfWords && it.Stmt.Directive.Name == ".word" {
		return 2
	}
	return it.Stmt.Directive.Unit
}
