package wording

import (
	"fmt"
	"strings"
)

// Sentences about comments that allow findings.

// AllowsNothing is said of a comment that allows a check where it has no finding.
func AllowsNothing(code, where string) string {
	return fmt.Sprintf("Nothing is allowed here: %s has no finding %s; remove the comment.", code, where)
}

// AllowsError is said of a comment that allows what the assembler refuses.
func AllowsError(code string) string {
	return fmt.Sprintf("%s is an error here: the assembler refuses the line, and a comment cannot allow that.", code)
}

// AllowsUnknown is said of a comment that names no check.
func AllowsUnknown(code string, near []string) string {
	if len(near) > 0 {
		return fmt.Sprintf("There is no check \"%s\" to allow; similar names: %s.", ClipText(code, 40), strings.Join(near, ", "))
	}
	return fmt.Sprintf("There is no check \"%s\" to allow.", ClipText(code, 40))
}

// AllowsUnread is said of a comment that cannot be read.
func AllowsUnread(code string) string {
	return fmt.Sprintf("Write \"narrowgauge: allow %s\", and after it, if it is not for one line, \"from here\", \"until here\" or \"in this file\".", code)
}

// AllowsOpen is said of a stretch that has no other end.
func AllowsOpen(code string, end bool) string {
	if end {
		return fmt.Sprintf("No \"allow %s from here\" is above this.", code)
	}
	return fmt.Sprintf("No \"allow %s until here\" is below this; if the whole file is meant, write \"in this file\".", code)
}

// AllowsMany is said of the first comment that is beyond what is read of a file.
func AllowsMany(most int) string {
	return fmt.Sprintf("Comments of this file allow more than %d checks; this one and those below are not read.", most)
}
