package wording

import (
	"fmt"

	"narrowgauge/analysis/program"
)

// Trouble says why the value of an expression in an item cannot be computed, or may
// not be meant.
func (p *Reporter) Trouble(v program.Value, it *program.Item) string {
	switch v.Why {
	case program.DependsOnItself:
		return "The value of " + v.Symbol.Name + " depends on itself."
	case program.ShiftTooFar:
		return fmt.Sprintf("A shift is by 0 to 63 bits; assemblers take 0 for the result of a shift by %d.", v.N)
	case program.OtherRoutine:
		return OtherRoutine(v.Name, p.ScopeAt(it.Index, it.Section).Named())
	}
	return troubles[v.Why]
}

// troubles are the sentences that need nothing but the trouble.
var troubles = map[program.Trouble]string{
	program.TooDeep:         "The expression is nested too deep.",
	program.DistanceNoSum:   "Only the linker knows this distance, and it can only add a number to it.",
	program.DistanceSum:     "Only the linker knows this distance, and it can only add a number that is known here.",
	program.LinkersDistance: "Only the linker knows the distance between two sections, and only as counted from this place.",
	program.TwoSections:     "These addresses are in two sections; only their difference can be computed.",
	program.DividesByZero:   "This divides by zero.",
	program.DividedByOne:    "This divides by zero; assemblers divide by 1 instead.",
	program.HashOfUnified:   "Remove the '#': after a relocation operator only the unified syntax has one.",
	program.RelocatesNumber: "A relocation needs an address; this is a number.",
	program.MinusTwoSymbols: "The linker can subtract the address of one symbol, and nothing more.",
	program.AddressOperand:  "This operator takes numbers only; one side is an address.",
	program.StringOperand:   "A number is needed here; this is a string.",
}

// OtherRoutine says that a local label names a routine that it is not in. in is the
// name of the routine that it is in, "" if it has none.
func OtherRoutine(name, in string) string {
	if in != "" {
		return "The local label names the routine " + name + ", but the ROUT above starts " + in + "."
	}
	return "The local label names the routine " + name + ", but no ROUT above has a name."
}

// SizeNotNumber says what the size of a symbol is instead of a number.
func SizeNotNumber(v program.Value) string {
	what := "not one"
	switch {
	case v.Apart, v.Why == program.LinkersDistance:
		what = "the distance between two sections"
	case v.Kind == program.Address:
		what = "an address"
	case v.Kind == program.Undefined && v.Symbol != nil:
		what = "not known: " + v.Symbol.Name + " is not defined in this file"
	}
	return "The size of a symbol must be a number; this is " + what + "."
}
