package project

import (
	"regexp"
	"sync"
)

// pattern compiles a regular expression when it is first asked for: most programs end
// without one.
func pattern(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}
