package wording

import "fmt"

// The sentences about why something is not renamed.

func NoNameHere() string { return "There is no name here to change." }

func NotAName(word string) string {
	return word + " is no name of the source: it belongs to the assembler."
}

func UnknownName(word string) string {
	return word + " is nothing that is known by a name here."
}

func DefinedOutside(name string) string {
	return name + " is defined outside of the sources: by the settings, the target, a library or a file outside of the workspace."
}

func OfPreprocessor(name string) string {
	return name + " is only a word of a line for the preprocessor."
}

func MadeByMacro(name string) string {
	return name + " is made by a macro out of other words, so that there is no text to change."
}

func MadeOf(symbol, name string) string {
	if symbol == name {
		return MadeByMacro(name)
	}
	return fmt.Sprintf("A macro makes %s out of %s, so that other names would change as well.", symbol, name)
}

func NumberOfScope(number string) string {
	return "The local label " + number + " is in text that a macro or a scope makes; its number cannot be changed here."
}

func NoWordOfRegister(name string) string {
	return fmt.Sprintf("%q can be no name of a register: assemblers find one in operands only if it begins with a letter and has letters, digits and underscores.", name)
}

func OnlyNumber(name string) string {
	return fmt.Sprintf("%q is no number; a numeric local label can only get another number.", name)
}

func NoName(name string) string {
	return fmt.Sprintf("%q cannot be a name here: letters, digits and underscores, with no digit first.", name)
}

func NameTaken(name string) string {
	return name + " already has a meaning: it is a register, an instruction, a directive or a word of operands."
}

func NameThere(name, where string) string {
	return name + " is a name already, " + where + "."
}

func NameOfObject(name, old string) string {
	return fmt.Sprintf("A name that begins with .L is left out of the object file, others are not; %s and %s differ in that.", old, name)
}

// WouldChange is of a place, empty where it is not one.
func WouldChange(name, where string) string {
	if where == "" {
		return "With another name for " + name + " the program would not be the same."
	}
	return "With another name for " + name + " the program would not be the same, " + where + "."
}

func NameElsewhere(name, path string) string {
	return name + " is a name already, in " + base(path) + "."
}

func MentionedIn(name, path string) string {
	return name + " is also a word of " + base(path) + ", which is not assembly and would keep it."
}

func TooManySources() string {
	return "The workspace has more sources than are looked at, so that nobody knows whether others have the name."
}
