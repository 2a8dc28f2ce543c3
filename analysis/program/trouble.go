package program

// Trouble is why an expression has no value, or one that may not be meant.
type Trouble uint8

// The troubles. Package wording has a sentence for each.
const (
	NoTrouble       Trouble = iota
	TooDeep                 // parentheses and operators are nested too deep
	DependsOnItself         // the value of Value.Sym
	DistanceNoSum           // more than a sum of a distance that the linker computes
	DistanceSum             // a sum of such a distance with something that is no number
	LinkersDistance         // a distance between sections that does not start here
	TwoSections             // an operation of addresses in two sections that is no distance
	DividesByZero           // and assemblers refuse it
	DividedByOne            // a division by zero that assemblers take for one by 1
	ShiftTooFar             // by Value.N bits, and assemblers take 0 for the result
	HashOfUnified           // a '#' after a relocation operator in the divided syntax
	RelocatesNumber         // a relocation of a number
	MinusTwoSymbols         // more than one symbol's address taken away
	AddressOperand          // an address where an operator takes numbers
	StringOperand           // a string where a number is needed
	OtherRoutine            // a local label names the routine Value.Name, which this is not
)
