package describe

import (
	"fmt"

	"narrowgauge/isa"
)

// stands is what a name means that is no number and no place, empty for
// others.
func (r *View) stands(name string) string {
	reg := r.LastRegister(name)
	if reg.Core != isa.NoReg {
		return reg.Core.String()
	}
	if x, ok := r.Related[name]; ok {
		return fmt.Sprintf("[%s, #%d]", x.Register, x.N)
	}
	if l, ok := r.Lists[name]; ok {
		return l.List.String()
	}
	return reg.Vector + reg.Word
}
