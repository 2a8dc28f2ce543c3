// Package preprocess runs the C preprocessor over parsed assembly sources.
//
// Process takes a file, the macros that the settings define, and a way to load
// what the file includes. It gives a Unit for the file and one for every file
// included. A Unit has as many lines as the raw file has: directives and
// inactive lines are empty in it, lines that a macro changed are parsed anew,
// and every other line is the very line that the parser made. Positions are
// those of the raw file; Columns and At lead from changed lines to it and back.
//
// The language is that of C (ISO/IEC 9899:2018, 6.10) with what compilers
// allow when they preprocess assembly: quotes need no partner, a line that
// starts with '#' and is not a directive is a comment, '#' may be anywhere in a
// macro's text, and tokens that do not paste stay two tokens. Like the
// preprocessor, it knows nothing of '@' comments.
//
// A line is looked at in two steps. The scan (scan.go) passes over it once and
// looks identifiers up; most lines have nothing to replace and are done. The
// others are cut into tokens (lex.go) together with the lines that belong to
// them by continuation, by an open comment or by a macro's arguments, and go
// through the expander (expand.go; chains of names, chain.go), and the line is put together again (line.go). Directives are in directive.go, the
// expressions of #if in condition.go, the way between processed and raw text
// in columns.go. Macros do not change once they are defined, and the table of
// them (table.go) can be had as it was at any time: so an included file is kept
// as it came out, and taken by the next run (remember.go). Who uses which macro
// is computed when somebody asks (facts.go).
//
// Every input ends in bounded time and memory: see the limits in preprocess.go.
package preprocess
