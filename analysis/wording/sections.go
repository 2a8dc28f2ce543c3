package wording

import (
	"fmt"
)

// The sentences about sections.

func NoPrevious() string {
	return "There is no section before this one, and .previous does nothing."
}

func SectionFlags() string {
	return "Section flags are letters out of a, w, x, M, S, G, T, e, o, R and ?, or a number."
}

func FlagNeedsA() string {
	return "A section with the flag d needs the flag a too."
}

func NoSectionType(name string) string {
	return name + " is not a section type; use progbits, nobits, note, init_array, fini_array, preinit_array or a number."
}

func UniqueNumber() string {
	return "Add a number after unique."
}

func FlagsInQuotes() string {
	return "Write the flags after a section's name in double quotes."
}

func NeedsSection(name string) string {
	return name + " needs a section's name."
}

func OverBudget(section string, size, most int64) string {
	return fmt.Sprintf("Section %s has %s, %d more than its budget of %d.", section, Plural(int(size), "byte", "bytes"), size-most, most)
}

// OverBudgetTogether is OverBudget for the sources of a program.
func OverBudgetTogether(section string, sources int, size, most int64) string {
	return fmt.Sprintf("Section %s of the program that the build makes has at least %s in %d sources, %d more than its budget of %d; this one has most of it.", section, Plural(int(size), "byte", "bytes"), sources, size-most, most)
}

func PastSection(section string, size, at int64) string {
	return fmt.Sprintf("Section %s has %d bytes; this place is at %d.", section, size, at)
}

func SectionType(section, old, now string) string {
	return "Section " + section + " already has the type " + old + ", not " + now + "."
}

func SectionFlagsNow(section, old, now string) string {
	return "Section " + section + " already has the flags \"" + old + "\", not \"" + now + "\"."
}

func SectionElements(section string, old, now int64) string {
	return fmt.Sprintf("Section %s already has elements of %d bytes, not of %d.", section, old, now)
}

// Contents is what a line puts into a section.
type Contents string

// The contents. Zeros may be anywhere.
const (
	Zeros     Contents = ""
	AValue    Contents = "a value"
	Floats    Contents = "floating-point numbers"
	Text      Contents = "text"
	Code      Contents = "code"
	FileBytes Contents = "a file's bytes"
)

func StoredInRecord(name string, what Contents) string {
	return fmt.Sprintf("%s puts %s here; lines after .struct take no memory, so they can only have zeros.", name, what)
}

func StoredInNobits(name string, what Contents, section string) string {
	return fmt.Sprintf("%s puts %s into section %s, which has no bytes in the file.", name, what, section)
}
