package wording

import (
	"fmt"

	"narrowgauge/analysis/program"
)

// The sentences about macros and repetitions.

func RegisterAndValue(name string) string {
	return name + " takes a register and a value."
}

func MacroNeedsName() string {
	return "Add a line with the macro's name after MACRO."
}

func MacroLineUnread() string {
	return "MACRO needs a line with the macro's name and parameters after it; this line cannot be read as one."
}

func MacroTwiceColumns(name, where string) string {
	return "There is already a macro " + name + ", " + where + "."
}

func MacroTwice(name, where string) string {
	return "There is already a macro " + name + ", " + where + "; remove it first with .purgem."
}

// Bound is what ends the expansion of macros and repetitions.
type Bound int

const (
	ManyStatements Bound = iota // that they make
	MuchWork                    // whether it makes statements or not
	LongText                    // of one expansion
	ManyParts                   // of all their text
	ManyBodies                  // that are read across files
)

// ExpansionTooLarge says which bound has ended the expansion, and how large it is.
func ExpansionTooLarge(which Bound, most int) string {
	why := ""
	switch which {
	case ManyStatements:
		why = fmt.Sprintf("Macros and repetitions make more than %d statements", most)
	case MuchWork:
		why = fmt.Sprintf("Macros and repetitions take more work than %d lines, with lines counted that conditions leave out or that are only passed over", most)
	case LongText:
		why = fmt.Sprintf("A macro or repetition here makes more than %d MB of text", most>>20)
	case ManyParts:
		why = fmt.Sprintf("The texts that macros and repetitions make have more than %d lines, statements and operands", most)
	case ManyBodies:
		why = fmt.Sprintf("Macros and repetitions whose bodies are in several files have more than %d lines", most)
	}
	return why + "; nothing is expanded from this line on."
}

func ProgramTooLarge(most int) string {
	return fmt.Sprintf("The program has more than %d statements up to here, with labels and other symbols counted as several; nothing is looked at from this line on.", most)
}

func LayoutTooLarge() string {
	return "The sizes of lines from here on depend on each other in more steps than are looked at; no distances are checked."
}

func TooManyFindings(most int) string {
	return fmt.Sprintf("There are more than %d findings; from here on some are left out.", most)
}

func OutsideMacro(name string) string {
	return "This " + name + " is outside of any macro or repetition."
}

func NoMacro(name string) string {
	return "There is no macro " + name + " here."
}

func NoExpressionValue() string {
	return "The expression after '%' has no value here."
}

func MacroIsDirective(name string) string {
	return name + " is a directive, which a macro cannot replace."
}

// TooManyArguments is of an argument, more, after the last one that a macro takes.
func TooManyArguments(name string, most int, more string) string {
	takes := "no arguments"
	if most > 0 {
		takes = Plural(most, "argument", "arguments")
	}
	return fmt.Sprintf("%s takes %s; %s is one too many.", name, takes, ClipText(more, 40))
}

// TooDeep is of an expansion of a macro, or of a repetition if m is nil.
func TooDeep(m *program.Macro, most int) string {
	what := "Repetitions"
	if m != nil {
		what = m.Name + " and other macros"
	}
	return fmt.Sprintf("%s are nested more than %d deep; does the recursion have an end?", what, most)
}
