package describe

import (
	"fmt"
)

// stands is what a name stands for that is no number and no place, empty for
// others.
func (r *View) stands(name string) string {
	if reg, ok := r.LastAlias(name); ok {
		return reg.String()
	}
	if x, ok := r.Related[name]; ok {
		return fmt.Sprintf("[%s, #%d]", x.Reg, x.N)
	}
	if l, ok := r.Lists[name]; ok {
		return l.List.String()
	}
	return r.LastVector(name) + r.Words[name]
}
