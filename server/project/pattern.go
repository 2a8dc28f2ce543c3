package project

import (
	"regexp"
	"sync"
)

// Pattern compiles a regular expression when it is first asked for: most processes end
// without that.
func Pattern(text string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(text) })
}
