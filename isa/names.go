package isa

import "strings"

// A32Name says whether the A32 instruction set has the mnemonic (lower case,
// with its suffixes).
func A32Name(name string) bool {
	if i := strings.IndexByte(name, '.'); i > 0 && !typedName(name) {
		name = name[:i]
	}
	t := tableOf(name)
	r, _ := t.read(name)
	return r.stem != nil && len(r.stem.forms) > 0 || t.wrongType(name) != nil
}

// A32Constant says whether an A32 MOV or MVN holds the constant: eight bits
// rotated right by an even amount, or the inverse of such (Arm ARM, "Modified
// immediate constants in ARM instructions").
func A32Constant(v uint32) bool { return A.moves(v) }
