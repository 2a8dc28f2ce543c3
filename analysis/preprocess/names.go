package preprocess

// Directive describes a directive of the preprocessor for people.
type Directive struct {
	Name  string // with its '#'
	Usage string
	Doc   string
}

// directives are those that mean something here (ISO/IEC 9899, 6.10, and common
// practice).
var directives = []Directive{
	{"#include", "#include \"file\" or <file>", "Includes the text of another file. A name in quotes is looked for first in the folder of this file."},
	{"#include_next", "#include_next \"file\" or <file>", "As #include, in the folders after the one that this file was found in."},
	{"#define", "#define name text, or name(parameters) text", "From here on the name is replaced by the text."},
	{"#undef", "#undef name", "The name is no macro any more."},
	{"#if", "#if expression", "What follows counts when the value is not zero. Names that no #define knows are 0."},
	{"#ifdef", "#ifdef name", "What follows counts when the name is a macro."},
	{"#ifndef", "#ifndef name", "What follows counts when the name is no macro."},
	{"#elif", "#elif expression", "Another condition, where none before held."},
	{"#elifdef", "#elifdef name", "As #elif, for a name that is a macro."},
	{"#elifndef", "#elifndef name", "As #elif, for a name that is no macro."},
	{"#else", "#else", "What follows counts when no condition before held."},
	{"#endif", "#endif", "Ends the conditional part."},
	{"#error", "#error text", "Stops the build with a message."},
	{"#warning", "#warning text", "Gives a message."},
	{"#pragma", "#pragma once, push_macro(\"name\") or pop_macro(\"name\")", "once: the file is read only once. push_macro and pop_macro save and restore a macro. Most others are for the compiler and mean nothing here."},
	{"#line", "#line number \"file\"", "Other line numbers for messages; without effect here."},
}

// Directives lists the directives with their documentation.
func Directives() []Directive { return append([]Directive(nil), directives...) }

// FindDirective looks one up by its name with the '#'.
func FindDirective(name string) (Directive, bool) {
	for _, d := range directives {
		if d.Name == name {
			return d, true
		}
	}
	return Directive{}, false
}
