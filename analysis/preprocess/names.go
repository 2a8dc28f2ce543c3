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
	{"#include", "#include \"file\" or <file>", "The text of another file stands here. A name in quotes is looked for beside the file first."},
	{"#include_next", "#include_next \"file\" or <file>", "As #include, in the folders behind the one that this file was found in."},
	{"#define", "#define name text, or name(parameters) text", "From here on the text stands for the name."},
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
	{"#pragma", "#pragma once, push_macro(\"name\") or pop_macro(\"name\")", "The file is read once; what a name stands for is put by, and comes back. Most others are the compiler's and mean nothing here."},
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
