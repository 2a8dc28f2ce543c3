package wording

import (
	"fmt"
)

// The sentences about other files.

func IncludesTooDeep() string {
	return "Includes are nested more than 50 deep."
}

func IncludesItself(name string) string {
	return name + " includes itself."
}

func NotInFolders(name string) string {
	return name + " is in none of the include folders; the setting include adds folders."
}

func CannotRead(name, why string) string {
	return name + " cannot be read: " + why + "."
}

func NotClear(name, which string) string {
	return name + " is not read: " + which + "."
}

func MadeByBuild(name string) string {
	return name + " is made when the program is built, and not there yet; what it defines is not known."
}

func IncludesTooLarge(most int) string {
	return fmt.Sprintf("Files included more than once add up to more than %d lines and statements here; none is read again from this line on.", most)
}

func FileTooLarge(most int) string {
	return fmt.Sprintf("The file has more than %d lines, statements, operands and parts of expressions, each counted by the memory that it takes; nothing is read from this line on.", most)
}

func SourcesTooLarge(most int) string {
	return fmt.Sprintf("the files of the program have more than %d lines, statements and operands already", most)
}

func NeedsFileAndCommas(name string) string {
	return name + " needs a file name in double quotes, and commas between its arguments."
}

func FileSkipCount(name string) string {
	return name + " takes a file, how many bytes to skip and how many to take; this is a fourth argument."
}

func CountOfZero(name string) string {
	return name + " ignores a count of 0 and takes the rest of the file."
}

func NeedsOneFile(name string) string {
	if name[0] == '.' {
		return name + " needs one file name in double quotes."
	}
	return name + " needs one file name."
}

// FileTooShort is of a file of have bytes, of which count are wanted after the first
// skip; a negative count is for all of them.
func FileTooShort(name string, have, skip, count int64) string {
	if count < 0 {
		return fmt.Sprintf("%s skips %d bytes; the file has %d.", name, skip, have)
	}
	return fmt.Sprintf("%s takes %d bytes after the first %d; the file has %d.", name, count, skip, have)
}

// DefinedElsewhere says that nothing defines a macro that a condition or an #include needs.
func DefinedElsewhere(name string, file bool) string {
	if file {
		return ClipText(name, MaxMessage/2) + " is not defined, so it is not known which file is included; the setting defines says what it is."
	}
	return ClipText(name, MaxMessage/2) + " is not defined, so this condition counts as not met; the settings defines and prelude say what it is."
}

// UnderCondition says that a name is defined where a condition leaves it out.
func UnderCondition(name, file string, line int) string {
	return fmt.Sprintf("%s is defined only under a condition that is not met here (line %d of %s); the setting defines says which macros there are.", ClipText(name, MaxMessage/2), line+1, ClipText(file, MaxMessage/4))
}

// TextOfC says that a header has text of C where the assembler reads it.
func TextOfC(name string) string {
	return ClipText(name, MaxMessage/2) + " has text of C here, and nothing is said of the rest of it; the setting defines says which macros keep it from the assembler."
}
