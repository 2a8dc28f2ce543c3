package project

import (
	"encoding/json"
	"fmt"
	"strings"

	"narrowgauge/analysis"
)

// Fixed are the settings of what was guessed of a target, as members of a project file's
// object, in the order of the documentation; empty ones are left out.
func Fixed(set *analysis.Settings) (members []string) {
	add := func(name string, value any, there bool) {
		if there {
			text, _ := json.Marshal(value)
			members = append(members, fmt.Sprintf("%q: %s", name, text))
		}
	}
	add("arch", set.Arch, set.Arch != "")
	add("cpu", set.CPU, set.CPU != "")
	add("fpu", set.FPU, set.FPU != "")
	add("startMode", set.StartMode, set.StartMode != "")
	add("syntax", set.Syntax, set.Syntax != "")
	add("implicitIT", set.ImplicitIT, set.ImplicitIT != "")
	add("defines", set.Defines, len(set.Defines) > 0)
	return members
}

// Insert says where in the text of a project file members are written, and as what: in front
// of those that are there, indented like them. ok is false for a text that is no object, or
// that has one of them.
func Insert(text string, members []string) (at int, written string, ok bool) {
	var object map[string]json.RawMessage
	if json.Unmarshal([]byte(text), &object) != nil || object == nil || len(members) == 0 {
		return 0, "", false
	}
	for _, m := range members {
		name, _, _ := strings.Cut(m, ":")
		if _, is := object[strings.Trim(name, `"`)]; is {
			return 0, "", false
		}
	}
	at = strings.IndexByte(text, '{') + 1
	rest := text[at:]
	inner := strings.TrimLeft(rest, " \t\r\n")
	space := rest[:len(rest)-len(inner)]
	line := strings.LastIndexByte(space, '\n')
	switch {
	case len(object) == 0 && line < 0:
		return at, strings.Join(members, ", "), true
	case len(object) == 0:
		return at, "\n  " + strings.Join(members, ",\n  "), true
	case line < 0:
		return at, space + strings.Join(members, ", ") + ",", true
	}
	end := "\n"
	if strings.Contains(space, "\r\n") {
		end = "\r\n"
	}
	var b strings.Builder
	for _, m := range members {
		b.WriteString(end + space[line+1:] + m + ",")
	}
	return at, b.String(), true
}
