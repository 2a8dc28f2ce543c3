package wording

import (
	"fmt"
	"math/big"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// The sentences about directives, their arguments and what they do.

func Written(usage string) string {
	return "The syntax is " + usage + "."
}

func TakesNothing(name string) string {
	return name + " takes no arguments."
}

func ExpectedValue(why string) string {
	return "A value is needed here: " + why + "."
}

func NeedsKnownNumber(name string) string {
	return name + " needs a number that is already known here."
}

func OptionOnly(name string) string {
	return name + " belongs to another dialect, which the assembler accepts only with an option."
}

func NotForCore(name string) string {
	return name + " does not exist in assemblers for this core."
}

func NeedsColumns(name string) string {
	return name + " needs at least 8 columns."
}

func ZeroOrOne(name string) string {
	return name + " takes 0 or 1."
}

func NeedsKnownValue(name string) string {
	return name + " needs a value that is already known here."
}

func DefinedNoAlias(name string) string {
	return name + " already has a definition, so it cannot be an alias."
}

func AliasOfItself(name string) string {
	return name + " would be an alias of itself."
}

func NeedsVersion() string {
	return "Add a version after '@': .symver name, name@version."
}

func NeedsFileNumber() string {
	return ".file takes a number of 0 or more."
}

func NeedsDigest() string {
	return "An MD5 digest is 0x and 32 hexadecimal digits."
}

func FileNumberTaken(n int64) string {
	return fmt.Sprintf("File number %d is already taken.", n)
}

func NoFileNumber(n int64) string {
	return fmt.Sprintf("No .file line defines the number %d.", n)
}

func NeedsNotNegative() string {
	return "A number of 0 or more is needed here."
}

func AlreadyDefined(name string) string {
	return name + " already has a definition."
}

func StillOpen(opener, closer string) string {
	return "The " + opener + " before this one has no " + closer + "."
}

func HasNone(name, opener string) string {
	return "This " + name + " has no " + opener + " before it."
}

func Unclosed(opener, closer string) string {
	return "This " + opener + " has no " + closer + "."
}

func NeedsOffset(name string) string {
	return name + " needs an offset."
}

func NeedsForwardOffset() string {
	return ".reloc takes an offset of 0 or more."
}

func NoRelocationType(name string) string {
	return name + " is not a relocation type; the names look like R_ARM_ABS32."
}

func InheritAfter(table string) string {
	return ".vtable_inherit must come after the label " + table + "."
}

func BundlePowers() string {
	return ".bundle_align_mode takes an exponent from 0 to 30."
}

func BundleLocked() string {
	return ".bundle_align_mode is not allowed between .bundle_lock and .bundle_unlock."
}

func NeedsBundleSize(name string) string {
	return name + " needs a bundle size; set it first with .bundle_align_mode."
}

func NoNops() string {
	return ".nops does not exist for this core; use .nop, or .fill to repeat it."
}

func FloatFormatTaken(format string) string {
	return "The format of 16-bit floating-point numbers is already " + format + " and stays so."
}

func NoAttribute(name string) string {
	return "There is no build attribute " + name + "."
}

func AttributeBoth(tag int64) string {
	return fmt.Sprintf("Attribute %d takes a number and a string.", tag)
}

func AttributeString(tag int64) string {
	return fmt.Sprintf("Attribute %d takes a string in double quotes.", tag)
}

func NoBlank() string {
	return "This follows the directive's name without a blank, and assemblers ignore it."
}

func LowerCase(name string) string {
	return "Write " + name + " in lower case."
}

func NoNameOfRegister(name string) string {
	return name + " cannot be the name of a register: only a type may follow the dot; use letters, digits and underscores."
}

func NothingBeforeRegister() string {
	return ".req takes a register's name and nothing before it."
}

func NoRegisterIgnored() string {
	return "This is not a register, and assemblers ignore this .req."
}

func TooMany(usage string) string {
	return "Too many arguments; the syntax is " + usage + "."
}

// TooManyBytes is of n times a unit.
func TooManyBytes(n, unit int64) string {
	all := new(big.Int).Mul(big.NewInt(n), big.NewInt(unit))
	return fmt.Sprintf("This adds %d bytes, more than a 32-bit section can hold.", all)
}

func SizeAndFill(name string) string {
	return name + " takes a size and a fill value; this is a third argument."
}

func NeedsNameAndValue(name string) string {
	return name + " needs a name and a value."
}

func NeedsSymbol(name string) string {
	return name + " needs a symbol's name."
}

func TakesSymbols(name string) string {
	return name + " takes the names of symbols."
}

func NeedsSymbolAndSize() string {
	return ".size needs a symbol's name and a size."
}

func UnifiedOrDivided() string {
	return ".syntax takes unified or divided."
}

func NameThenRegister(usage string) string {
	return "Write a name before it and a register after it: " + usage + "."
}

func TakesNothingClosesNothing(name string) string {
	return name + " takes no arguments, and nothing is open here for it to close."
}

func ClosesNothing(name string) string {
	return "Nothing is open here for " + name + " to close."
}

func NeedsNumber(name string) string {
	return name + " needs a number."
}

func NeedsDistanceNow(name string) string {
	return "Only the linker knows the distance between two sections, and " + name + " needs it now."
}

func PowerOf31(name string, v int64) string {
	return fmt.Sprintf("%s takes an exponent of 2, from 0 to 31; assemblers read %d as 31.", name, v)
}

func CodeWidth(v int64) string {
	return fmt.Sprintf(".code takes 16 (T16) or 32 (A32), not %d.", v)
}

func NamedTwice(name string, register isa.Reg) string {
	return fmt.Sprintf("%s is already %s and stays so: assemblers ignore a second .req without .unreq in between.", name, register)
}

func NeedsRegister(name string) string {
	return name + " needs a register."
}

func InstructionName(name string) string {
	return name + " is an instruction, so it cannot be a register's name."
}

func NoRegisterName(directive string) string {
	return "No " + directive + " above gives this name to a register."
}

func TakesNames(name string) string {
	return name + " takes names separated by commas."
}

// NoTarget is of a name in a directive that chooses a part of the target, by its
// effect, and that nothing has; near are names like it.
func NoTarget(e syntax.Effect, name string, near []string) string {
	what := map[syntax.Effect]string{syntax.EffArch: "architecture", syntax.EffCPU: "core", syntax.EffFPU: "floating-point unit", syntax.EffArchExt: "extension"}[e]
	m := "There is no " + what + " " + name
	if len(near) > 0 {
		m += "; similar names: " + strings.Join(near, ", ")
	}
	return m + "."
}

func LacksExtension(target, name string) string {
	return target + " has no extension " + name + "."
}

func ExtensionsApart(name string) string {
	return name + " takes a name without extensions; add each one with .arch_extension in a line below."
}

// NoSuchRegister says that a directive names a register that there is not.
func NoSuchRegister(name, directive string) string {
	return name + " is no register; there are r0 to r15, and assemblers ignore this " + directive + "."
}
