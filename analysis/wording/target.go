package wording

import (
	"fmt"
	"strings"
)

// TargetGuessed says what a source is taken for, and why. arch, mode and syntax are
// empty where the default holds; line, from 0, is that of the instruction name in the
// root file, -1 where it is elsewhere.
func TargetGuessed(arch, mode, syntax, name string, line int) string {
	var what, settings []string
	add := func(is, setting string) {
		what, settings = append(what, is), append(settings, setting)
	}
	if arch != "" {
		add(arch, "arch")
	}
	switch mode {
	case "thumb":
		add("Thumb code", "startMode")
	case "arm":
		add("A32 code", "startMode")
	}
	if syntax != "" {
		add(syntax+" syntax", "syntax")
	}
	s := "Taken for " + strings.Join(what, ", ")
	switch {
	case name != "" && line >= 0:
		s += fmt.Sprintf(", because of %s in line %d", name, line+1)
	case name != "":
		s += ", because of " + name
	}
	noun := "setting"
	if len(settings) > 1 {
		noun += "s"
	}
	return s + "; set it by directives, or by the " + noun + " " + strings.Join(settings, ", ") + "."
}
