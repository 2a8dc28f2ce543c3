// Package assemble turns sources into a program: the only package that writes to
// one.
//
// Run (pass.go) walks the statements (walk.go): each gets a place and a size, directives
// (directive.go, data.go, declare.go, sections.go, unwind.go, arguments.go) have their effects,
// macros and repetitions are expanded (macro.go; kept parsed by expansions.go), the
// preprocessor's files are read (preprocessed.go), conditions leave parts out
// (condition.go). An instruction (instruction.go) is matched against the table; if its
// values are not known yet, it waits. Literals collect in pools (literal.go). What the column
// dialect has beyond the dots is in columns.go and columnnames.go.
//
// Again (again.go) takes over the program of an earlier text where an edit concerns few lines, and
// where it moves what is below (move.go, with its parts: moveread.go reads what is new, moveplace.go
// lays out, movepool.go keeps the literal pool, movenames.go the symbols, movebind.go binds again).
//
// Then package layout lays out the sections, and resolve (bound.go) binds what waited. All
// findings are in the Reporter that Run returns.
package assemble
