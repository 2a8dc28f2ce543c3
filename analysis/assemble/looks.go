package assemble

import (
	"regexp"
	"strings"
	"sync"

	"narrowgauge/analysis/syntax"
)

// maxDefined is how many lines that define something are looked at.
const maxDefined = 8

// Compiled when they are asked for: most sources have no such lines.
var (
	includesAtOne = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`^#include[ \t]+("[^"]+"|<[^>]+>)[ \t]*(//.*|/\*.*)?\r?$`)
	})
	conditionAtOne = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^#[ \t]*(if|ifdef|ifndef|include|define)[ \t]`) })
	definesAtOne   = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^#define[ \t]+([A-Za-z_][A-Za-z_0-9]*)`) })
)

// preprocesses says whether the root goes through the preprocessor: by its name, by a
// setting, or as it looks. To the assembler a # at the first column begins a comment, and
// #include or #define there, of a name that the rest uses, is hardly one.
func preprocesses(in *Input) bool {
	if in.Env.Preprocesses(in.Path) {
		return true
	}
	f := in.File
	if in.Env.Preprocess != "" && in.Env.Preprocess != "auto" {
		return false
	}
	if f.Dialect() == syntax.Columns {
		return asksForC(f)
	}
	if !strings.HasPrefix(f.Text(), "#") && !strings.Contains(f.Text(), "\n#") {
		return false
	}
	defined := 0
	for i := range f.NumLines() {
		text := f.Line(i).Text
		if !strings.HasPrefix(text, "#") {
			continue
		}
		if includesAtOne().MatchString(text) {
			return true
		}
		if m := definesAtOne().FindStringSubmatch(text); m != nil && defined < maxDefined {
			defined++
			if usedElsewhere(f, i, m[1]) {
				return true
			}
		}
	}
	return false
}

// asksForC says whether a source in columns has lines of the preprocessor, which are nothing
// else there: no label begins with '#'.
func asksForC(f *syntax.File) bool {
	for i := range f.NumLines() {
		if text := f.Line(i).Text; strings.HasPrefix(text, "#") && conditionAtOne().MatchString(text) {
			return true
		}
	}
	return false
}

// usedElsewhere says whether a line that is no comment uses a name which another defines.
func usedElsewhere(f *syntax.File, at int, name string) bool {
	word := regexp.MustCompile(`\b` + name + `\b`)
	for i := range f.NumLines() {
		text := f.Line(i).Text
		if i == at || strings.HasPrefix(text, "#") || !strings.Contains(text, name) {
			continue
		}
		text, _, _ = strings.Cut(text, "@")
		text, _, _ = strings.Cut(text, "//")
		if word.MatchString(text) {
			return true
		}
	}
	return false
}
