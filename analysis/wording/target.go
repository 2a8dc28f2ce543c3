package wording

import (
	"fmt"
	"strings"
)

// Target is what a source is taken for. Arch, CPU, FPU, Mode and Syntax are empty where
// the default holds.
type Target struct {
	Arch, CPU, FPU, Mode, Syntax string
	// Name is the instruction or option that tells it, in Line of File, from 0; -1: it is
	// not said where, and without File in the source itself.
	Name, File string
	Line       int
}

// Foreign says that a source is of another architecture, by what.
func Foreign(title string, marks []string) string {
	list := append([]string(nil), marks...)
	for i := range list {
		list[i] = ClipText(list[i], 30)
	}
	if title == "" {
		title = "another architecture's"
	}
	return "This looks like " + title + " assembly (" + strings.Join(list, ", ") + "), which is left alone; the setting guess turns that off."
}

// FolderNamed is a mark of another architecture: what the folder of a source is called.
func FolderNamed(name string) string { return "in the folder " + name }

// LinkerScript says that a source is none.
func LinkerScript() string {
	return "This looks like a linker script, not like assembly, and is left alone; the setting guess turns that off."
}

// MacroText says that a source goes through m4 first.
func MacroText() string {
	return "This looks like a text for m4, which makes assembly of it, and is left alone; the setting guess turns that off."
}

// TargetGuessed says what a source is taken for, and why.
func TargetGuessed(t *Target) string {
	var what, settings []string
	add := func(is, setting string) {
		what, settings = append(what, is), append(settings, setting)
	}
	if t.Arch != "" {
		add(t.Arch, "arch")
	}
	if t.CPU != "" {
		add(t.CPU, "cpu")
	}
	if t.FPU != "" && t.File != "" {
		add(t.FPU, "fpu")
	}
	switch t.Mode {
	case "thumb":
		add("Thumb code", "startMode")
	case "arm":
		add("A32 code", "startMode")
	}
	if t.Syntax != "" {
		add(t.Syntax+" syntax", "syntax")
	}
	s := "Taken for " + strings.Join(what, ", ")
	if t.Name != "" {
		s += ", because of " + Evidence(t)
	}
	noun := "setting"
	if len(settings) > 1 {
		noun += "s"
	}
	return s + "; set it by directives, or by the " + noun + " " + strings.Join(settings, ", ") + "."
}

// Evidence is what tells a target, and where that is.
func Evidence(t *Target) string {
	s := ClipText(t.Name, 100)
	if t.Line >= 0 && s != "" {
		s += fmt.Sprintf(" in line %d", t.Line+1)
		if t.File != "" {
			s += " of " + ClipText(t.File, 200)
		}
	}
	return s
}

// TargetFact says what a place is taken for, by a directive, the settings, a guess or default,
// and what tells it.
func TargetFact(name, sets string, unified bool, by, evidence string) string {
	syntax := "divided"
	if unified {
		syntax = "unified"
	}
	s := fmt.Sprintf("Target %s, %s in %s syntax", name, sets, syntax)
	if evidence != "" {
		evidence = ", by " + evidence
	}
	switch by {
	case "directive":
		return s + evidence + "."
	case "settings":
		return s + ", by the settings."
	case "guess":
		return s + evidence + "; this is a guess, so set arch or cpu to fix it."
	}
	return s + "; nothing says another one, so set arch or cpu to fix it."
}
