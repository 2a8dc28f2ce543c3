// Package rename gives a name of a program another one: labels and constants, numeric local
// labels, macros and their parameters, register names of .req, macros of the preprocessor.
//
//	At       what is named at a place, or why that cannot be renamed
//	Valid    whether a new name can be one, and clashes with nothing
//	Edits    the words to replace, in all files of the program: also those in lines that
//	         conditions leave out, and in bodies of macros that nobody calls
//	Proven   whether the program with the edits is the same but for the name
//
//	Places   where a target is named, by the same words; Defined in where it gets its meaning
//
// Words are found by their text and by where they are in a statement, as what is not
// assembled now has to be right when it is. That this means what it should is not assumed:
// the edited files are analysed, and where an instruction, a place, a value or a finding
// differs, nothing is renamed.
package rename
