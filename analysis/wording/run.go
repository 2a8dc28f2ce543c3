package wording

import (
	"fmt"
	"strings"

	"narrowgauge/isa"
)

// The sentences about what goes wrong when a program runs.

// What a core does with a misaligned address.
const (
	AccessFaults        = "faults"
	AccessRotates       = "loads the word that it is in, rotated"
	AccessRounds        = "does not look at the low bits"
	AccessUnpredictable = "does what nobody can predict"
)

func MisalignedAccess(name, address string, unit uint32, does, target string) string {
	return fmt.Sprintf("The address of %s is %s and must be a multiple of %d: %s %s.", name, address, unit, target, does)
}

func GoesToOtherState(name, symbol string, mode isa.State) string {
	if mode == isa.A {
		return fmt.Sprintf("%s goes to %s with bit 0 set, but it is A32 code.", name, symbol)
	}
	return fmt.Sprintf("%s goes to %s with bit 0 clear, but it is Thumb code: add 1.", name, symbol)
}

func NoThumbBit(name, address string) string {
	return fmt.Sprintf("%s goes to %s: bit 0 is clear, and this core faults, as it has no A32 state.", name, address)
}

func VectorWithoutBit(symbol string) string {
	return fmt.Sprintf("Bit 0 of this vector is clear, and the core faults when it takes it: mark %s as a function, or write %s+1.", symbol, symbol)
}

func ReturnLost(text string) string {
	return fmt.Sprintf("%s returns to after a call of this routine, not to its caller: a call has changed lr, and nothing has saved it.", text)
}

func ReturnLostBy(text string, line int32) string {
	return fmt.Sprintf("%s returns to after the call in line %d, not to the caller: save lr before that call.", text, line)
}

func TheCall() string { return "the call that changes lr" }

func Unbalanced(text, routine string, off int32) string {
	if off < 0 {
		return fmt.Sprintf("%s leaves sp %s lower than it was where %s began.", text, Plural(int(-off), "byte", "bytes"), routine)
	}
	return fmt.Sprintf("%s leaves sp %s higher than it was where %s began.", text, Plural(int(off), "byte", "bytes"), routine)
}

func Uneven(routine string, one, other int32, line int32) string {
	return fmt.Sprintf("%s has %s on the stack here, but %s when it comes from line %d.", routine, Plural(int(one), "byte", "bytes"), Plural(int(other), "byte", "bytes"), line)
}

func FromHere(bytes int32) string {
	return "from here with " + Plural(int(bytes), "byte", "bytes") + " on the stack"
}

func CompareUnused(name, by string, line int32) string {
	return fmt.Sprintf("Nothing reads the flags of this %s: %s in line %d sets them anew.", name, by, line)
}

func FlagsOfTwo(name string, c isa.Cond, first string, line int32, last string, at int32) string {
	return fmt.Sprintf("%s (%s) reads flags of %s in line %d that %s in line %d has overwritten in part.", name, strings.ToUpper(c.String()), first, line, last, at)
}

func SetsFlagsAnew() string { return "sets the flags anew" }

func ConditionKnown(name string, c isa.Cond, holds bool) string {
	always := "never holds here"
	if holds {
		always = "always holds here"
	}
	return fmt.Sprintf("The condition %s of %s %s.", strings.ToUpper(c.String()), name, always)
}

func FlagsSetHere() string { return "the flags are set here" }

func NotRestored(routine, regs string) string {
	return fmt.Sprintf("%s changes %s, which AAPCS32 has a function keep, and nothing saves it.", routine, regs)
}

func ChangedByCall(name string, r isa.Reg) string {
	return fmt.Sprintf("%s reads %v, which the call before it need not keep.", name, r)
}

func ValueUnused(regs string, line int32) string {
	return fmt.Sprintf("Nothing reads this value of %s: line %d overwrites it.", regs, line)
}

func WritesAnew() string { return "overwrites it" }

func Unreached(text string, line int32) string {
	return fmt.Sprintf("Nothing leads here: %s in line %d does not go on, and this line has no label.", text, line)
}

func RunsIntoData(text string, line int32) string {
	return fmt.Sprintf("Execution goes on from %s in line %d into this data.", text, line)
}

func RunsOut(text, section string) string {
	return fmt.Sprintf("Execution goes on after %s, where %s ends.", text, section)
}
