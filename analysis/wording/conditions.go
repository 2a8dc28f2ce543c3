package wording

import (
	"fmt"
)

// The sentences about conditions.

func TakesOneName(name string) string {
	return name + " takes one name."
}

func NeedsName(name string) string {
	return name + " needs a name."
}

func NeedsTwoTexts(name string) string {
	return name + " needs two texts separated by a comma."
}

func NeedsTwoStrings(name string) string {
	return name + " needs two strings in double quotes, separated by a comma."
}

func NeedsOneValue(name string) string {
	return name + " needs one value."
}

func NeedsOneCondition(name string) string {
	return name + " needs one condition."
}

func CannotBeRead(name, why string) string {
	return name + " cannot be read: " + why + "."
}

func ConditionIsString(name string) string {
	return name + " needs a condition; this is a string."
}

func NeedsKnownDistance(name string) string {
	return name + " needs a distance that is already known here; the code in between may still grow, or the ends are in two sections."
}

func NeedsValueOf(directive, symbol string) string {
	return directive + " needs the value of " + symbol + " here, and no line above defines it."
}

func ElseTakesNothing(name, other string) string {
	return name + " takes no condition; use " + other + "."
}

func SecondElse(opener, name string) string {
	return "This " + opener + " already has its " + name + " above."
}

func UnclosedInMacro(closer string) string {
	return "This condition has no " + closer + " in its macro."
}

func UnclosedCondition(closer string) string {
	return "This condition has no " + closer + "."
}

func UnclosedInFile(closer string) string {
	return "This condition has no " + closer + " in its file."
}

func AssertionFalse() string {
	return "This condition is false, so assembly stops here."
}

func SourceWarns(n int64) string {
	return fmt.Sprintf("The source gives a warning here, number %d.", n)
}

func SourceStopsBy(n int64) string {
	return fmt.Sprintf("The source stops assembly here, with number %d.", n)
}

// SourceStops is of a line that stops assembly; text is what it says, or "".
func SourceStops(text string) string {
	if text == "" {
		return "The source stops assembly here."
	}
	return "The source stops assembly here: " + text
}
