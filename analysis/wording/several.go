package wording

import (
	"fmt"
	"strings"

	"narrowgauge/isa"
)

// The sentences about several sources of one program.

// base is the last part of a path.
func base(path string) string {
	return path[strings.LastIndexAny(path, `/\`)+1:]
}

func GlobalTwice(name, path string) string {
	return fmt.Sprintf("%s defines the global name %s as well, and both are parts of one program; a linker refuses that.", base(path), name)
}

func DefinedNowhere(name string, near []string) string {
	m := "No source of the workspace defines " + name + "; only a library could."
	if len(near) > 0 {
		m += " Similar: " + strings.Join(near, ", ") + "."
	}
	return m
}

// AcrossFiles is of a branch in one state to a name of another file that is code of a state;
// exchange: it is a BLX.
func AcrossFiles(branch string, from isa.State, exchange bool, name string, to isa.State, function bool) string {
	m := fmt.Sprintf("%s stays in %s state, but %s is %s code in another file", branch, from, name, to)
	if exchange {
		m = fmt.Sprintf("%s changes the state, but %s is %s code like this line", branch, name, to)
	}
	if function {
		return m + ", and a linker cannot change a branch of 16 bits; use BL, or BX with the address."
	}
	return m + ", and not marked as a function there, so that a linker leaves the branch as it is."
}
