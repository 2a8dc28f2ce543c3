package wording

import (
	"fmt"
)

// The sentences about data and values.

func NoPacked() string {
	return "This core has no packed decimal numbers."
}

func NeedsFloat() string {
	return "A floating-point number is needed here."
}

func FloatTooLarge(text string, unit int) string {
	return fmt.Sprintf("%s is too large for a floating-point number of %d bytes.", text, unit)
}

func CannotRepeat(name string, n int64) string {
	return fmt.Sprintf("%s cannot repeat a value %d times.", name, n)
}

func NeedsString(name string) string {
	return name + " needs a string in double quotes."
}

func StringHere() string {
	return "A string in double quotes is needed here."
}

func InstThumbOnly(name string) string {
	return name + " is Thumb-only; use .inst in A32 code."
}

func ValueAfterComma() string {
	return "Add a value after the comma."
}

func NeedsKnownNumbers(name string) string {
	return name + " needs numbers that are already known here."
}

func SizeUnclear(v uint64) string {
	return fmt.Sprintf("The size of 0x%x is not clear: use .inst.n for 16 bits, .inst.w for 32.", v)
}

func HalfwordOnly(v uint64) string {
	return fmt.Sprintf(".inst.n holds 16 bits; 0x%x needs more.", v)
}

func NeedsSize(name string) string {
	return name + " needs a size."
}

func NegativeSize(n int64) string {
	return fmt.Sprintf("A size of %d is meaningless, and assemblers ignore the line.", n)
}

func AlignmentPower() string {
	return "An alignment must be a power of two."
}

func AlignmentNotPower(n int64) string {
	return fmt.Sprintf("An alignment must be a power of two, not %d.", n)
}

func AlreadyAlias(name, other string) string {
	return name + " is already an alias of " + other + "."
}

func NeedsSymbolKind() string {
	return ".type needs a kind of symbol, such as %function."
}

func NoSymbolKind(kind string) string {
	return kind + " is not a kind of symbol; use one such as %function, %object or %notype."
}

func RelocationOfOne() string {
	return "A relocation applies to one symbol, and nothing can be subtracted from it."
}

func AddBefore(name string) string {
	return "Nothing may follow " + name + "; write what is added before it."
}

func TakesNoRelocation(name string) string {
	return name + " takes no relocation; use .word or .long."
}

func NoRelocation(name string) string {
	return "There is no relocation " + name + "."
}

func NoAddress64() string {
	return "A doubleword cannot hold an address: there is no 64-bit relocation."
}

func NeedsAbove64(symbol string) string {
	return "A doubleword needs " + symbol + " to be defined above: there is no 64-bit relocation."
}

func KeepsLow(bits int64, name string, keep int) string {
	return fmt.Sprintf("This number has %d bits; %s keeps the low %d.", bits, name, keep)
}

func CutTo(name string, lo, hi int64, value string, keep int) string {
	return fmt.Sprintf("%s holds %d to %d; only the low %d bits of %s are kept.", name, lo, hi, keep, value)
}

func DoesNotFit(name string, lo, hi int64, value string) string {
	return fmt.Sprintf("%s holds %d to %d; %s, the value at the end of the source, does not fit.", name, lo, hi, value)
}

func NoRoomFor(name, value string) string {
	return name + " has no room for " + value + ", to which the linker adds an address."
}

func NotANumber(name string) string {
	return name + " needs a number, and this is not one in the end."
}

func FillUnits(name string, unit, gap int64) string {
	return fmt.Sprintf("%s fills in units of %d bytes; the gap here is %d bytes.", name, unit, gap)
}

func NeedsEarlyValue(name, operand string) string {
	return name + " needs the value of " + operand + " when the line is read; move its definition above this line."
}

func LiteralUnknown() string {
	return "A literal is a number, or a symbol plus a number; this depends on something not known above."
}

func Literal8Number() string {
	return "An 8-byte literal must be a number known here; addresses have 4 bytes."
}
