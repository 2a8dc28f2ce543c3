package wording

import (
	"fmt"
)

// The sentences about instructions in their place.

func BecomesNop(name string) string {
	return name + " branches to the next line, for which it has no encoding; assemblers replace it with nop."
}

func MayNeedWide(name, target string) string {
	return name + " may be out of range for its 16-bit encoding; assemblers use the 32-bit one, which " + target + " does not have."
}

func IgnoresBit0(name, operand string) string {
	return name + " ignores bit 0 of the target; " + operand + " goes to the address one below."
}

func ThumbOnlyTarget(target string) string {
	return target + " is Thumb-only; it has no A32 code."
}

func NoInsertedIT(name string) string {
	return "The assembler inserts no IT for " + name + "; it is executed whatever its condition."
}

func LoadsPCInInserted(name string) string {
	return name + " loads pc but is not last in the IT block that the assembler inserts, which is unpredictable."
}

func LoadsPCInBlock(name string) string {
	return name + " loads pc but is not last in its IT block, which is unpredictable."
}

func IntoInsertedBlock(name string) string {
	return name + " falls into a Thumb IT block that the assembler inserts: no label and no unconditional line ends the block first."
}

func BlockIncomplete(missing, section string) string {
	return "This IT block still lacks " + missing + " where section " + section + " ends."
}

func NoThumb(target string) string {
	return target + " has no T16 code; ARMv4T is the first architecture that does."
}

func ThumbOnly(target, directive string) string {
	return target + " is Thumb-only; add " + directive + " above."
}

func NotInA32(name string) string {
	return name + " is Thumb-only; A32 does not have it."
}

func WidthInA32(name string) string {
	return "Remove the width suffix of " + name + ": all A32 instructions have 32 bits."
}

func NoModifiedConstant(name, operand, stem string) string {
	return "In an IT block assemblers take " + name + " for the encoding with a modified constant, and " + operand + " is not one; use " + stem + "w."
}

func NoConvergence() string {
	return "The size of this line depends on its own position; the layout does not converge."
}

func OrgBackwards(at, to int64) string {
	return fmt.Sprintf(".org only moves forward; the section is at offset %d already, and this says %d.", at, to)
}

// BranchToDistance says why a branch cannot go to a distance between labels.
func BranchToDistance(name string) string {
	return name + " takes no distance that depends on a label below, as assemblers do not know it yet; " + name + ".w does."
}
