package wording

import (
	"fmt"
)

// The sentences that only the column dialect needs.

func ListNoRegister() string {
	return "The list has a name that is not a register."
}

func TakesTwoNames(name string) string {
	return name + " takes two names."
}

func NeedsWord(name, words string) string {
	return name + " takes one of these words: " + words + "."
}

func NoSectionAttribute(name, word, near string) string {
	return name + " has no attribute " + word + "; similar names: " + near + "."
}

func MacroVariable(name, kind string) string {
	return name + " is only for macros; GBL" + kind + " declares a variable of the whole program."
}

func NoVariable(kind, name string) string {
	return "Declare the variable " + name + " above, with GBL" + kind + " or LCL" + kind + "."
}

func SetsOtherType(name, directive string) string {
	return name + " has another type than " + directive + " sets."
}

func OtherType(name string) string {
	return name + " has another type than this value."
}

func StringTooLong(n, most int) string {
	return fmt.Sprintf("The string has %d characters; a variable holds up to %d.", n, most)
}

func SecondIsRegister(name string) string {
	return "The second argument of " + name + " must be a register."
}

func CannotHaveBytes(name string, n int64) string {
	return fmt.Sprintf("%s cannot have %d bytes.", name, n)
}

func SectionExponent(n int64) string {
	return fmt.Sprintf("The attribute ALIGN takes an exponent of 2, from 0 to 31, not %d.", n)
}

func TakesPower(name string, v int64) string {
	return fmt.Sprintf("%s takes a power of two, not %d.", name, v)
}
