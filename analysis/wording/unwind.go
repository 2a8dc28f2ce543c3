package wording

import (
	"fmt"
)

// The sentences about unwinding and debug frames.

func FunctionInRecord() string {
	return "A function must be in a section; after .struct it is not."
}

func CantUnwindNoData() string {
	return "A function with .cantunwind has no unwinding data."
}

func Routine0Bytes(n int) string {
	return fmt.Sprintf("Personality routine 0 takes three bytes of unwinding code; this function has %d.", n)
}

func NoRoutine() string {
	return "The ABI has the personality routines 0, 1 and 2."
}

func RoutineAndNumber() string {
	return "The function has .personality and also .personalityindex or .cantunwind; keep one."
}

func UnwindTooLong() string {
	return "The function's unwinding code is too long."
}

func SecondHandlerData() string {
	return "The function already has .handlerdata."
}

func CantUnwindRoutine() string {
	return "The function has a personality routine, given above, which .cantunwind rules out."
}

func SecondRoutine() string {
	return "The function already has a personality routine, given above."
}

func RoutineNumbers() string {
	return ".personalityindex takes 0, 1 or 2."
}

func NeedsHashConstant() string {
	return "A constant with '#' is needed here."
}

func StackSteps(n int64) string {
	return fmt.Sprintf("The stack moves by multiples of 4, not by %d.", n)
}

func SecondIsFrame() string {
	return "The second register must be sp, or the register of the last .setfp or .movsp."
}

func MovspRegister() string {
	return ".movsp takes a register other than sp and pc."
}

func StackKept() string {
	return "A .setfp or .movsp above already says which register has the value of sp."
}

func RawBytes() string {
	return ".unwind_raw takes up to 16 bytes."
}

func NotAByte(v int64) string {
	return fmt.Sprintf("A byte is 0 to 255, not %d.", v)
}

func SaveFPA() string {
	return ".save takes one FPA register and a count, without braces."
}

func NeedsCount(name string) string {
	return "A number of registers is needed after " + name + "."
}

func CountOneToFour() string {
	return "The number of registers is 1 to 4."
}

func RegisterHere() string {
	return "A register is needed here."
}

func CoreOrDouble(directive, name string) string {
	return directive + " takes core registers and double registers, not " + name + "."
}

func TakesRegisterList(directive, name string) string {
	return directive + " takes a register list, not " + name + "."
}

func ListInBraces() string {
	return "Write the register list in braces."
}

func CoreOnly() string {
	return "A list of core registers can hold no other kind."
}

func DoubleOnly() string {
	return "A list of double registers can hold no other kind."
}

func RangeEnd() string {
	return "A register range must end with a register."
}

func ListOpen() string {
	return "This list has no '}'."
}

func RangeOrder() string {
	return "A register range goes from the lower register to the higher one."
}

func DoubleLimit(most int) string {
	return fmt.Sprintf("The floating-point unit has only the double registers d0–d%d.", most)
}

func ListConsecutive() string {
	return "The registers of the list must be consecutive."
}

func CompactTables(name string) string {
	return name + " is for compact unwinding tables, which do not exist for this core."
}

func NoOpenProc() string {
	return "No .cfi_startproc is open in this section."
}

func NotARegister(name string) string {
	return name + " is not a register of the core or the floating-point unit."
}

func RegisterNumbers() string {
	return "Register numbers start at 0."
}

func SavedFromFrame(n, cfa int64) string {
	return fmt.Sprintf("Registers are saved at multiples of 4 from the frame's address, not at %d-%d.", n, cfa)
}

func SavedAt(n int64) string {
	return fmt.Sprintf("Registers are saved at multiples of 4, not at %d.", n)
}

func AddressEncoding(name string, n int64) string {
	return fmt.Sprintf("%s takes an address encoding; 0x%x is not one.", name, n)
}
