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
	return fmt.Sprintf("%s goes back to the line after a call in this routine, not to its caller: the call has changed lr, and nothing has saved it.", text)
}

func ReturnLostBy(text string, line int32) string {
	return fmt.Sprintf("The call in line %d has changed lr, so %s goes back to the line after that call, not to the caller: save lr before it.", line, text)
}

// ReturnLeft is ReturnLostBy where the routine has saved lr, but not loaded it again.
func ReturnLeft(text string, line int32) string {
	return fmt.Sprintf("The call in line %d has changed lr, so %s goes back to the line after that call: the caller's address is still on the stack.", line, text)
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

func RunsIntoRoutine(text string, line int32) string {
	return fmt.Sprintf("Execution goes on from %s in line %d into this function, after the end of the one before it.", text, line)
}

func RunsOut(text, section string) string {
	return fmt.Sprintf("Execution goes on after %s, where %s ends.", text, section)
}

// flagNames names flags in a sentence, as "N and Z".
func flagNames(f isa.Flags) string {
	var list []string
	for i, name := range []string{"N", "Z", "C", "V"} {
		if f&(1<<i) != 0 {
			list = append(list, name)
		}
	}
	if n := len(list); n > 1 {
		return strings.Join(list[:n-1], ", ") + " and " + list[n-1]
	}
	return list[0]
}

func FlagsUnset(name string, f isa.Flags, routine string) string {
	return fmt.Sprintf("%s reads %s, which nothing in %s has set: a caller need not leave anything in flags.", name, flagNames(f), routine)
}

func RegisterUnset(name string, r isa.Reg, routine string) string {
	return fmt.Sprintf("%s reads %v, which nothing in %s has set, and which AAPCS32 hands no argument in.", name, r, routine)
}

func StackUnset(name string, off int32) string {
	return fmt.Sprintf("%s reads the stack at sp + %d, where nothing has stored a value.", name, off)
}

func StackUnaligned(text string, depth int32, routine string) string {
	return fmt.Sprintf("At %s sp is %s below where %s began; it must be a multiple of 8 where another function is called.", text, Plural(int(depth), "byte", "bytes"), routine)
}

func FlagsAfterCall(name string, line int32) string {
	return fmt.Sprintf("%s reads flags after the call in line %d, which need not keep them: compare anew after it.", name, line)
}

func CallChangesFlags() string { return "the call, which may change the flags" }

func ReturnsToJump(text string, itself bool) string {
	if !itself {
		return fmt.Sprintf("The return address in lr is in front of the end of %s: set lr in the line right before it.", text)
	}
	return fmt.Sprintf("The return address in lr is that of %s itself: set lr in the line right before it.", text)
}

func ReturnWithoutBit(text string, line int32, onlyThumb bool) string {
	if onlyThumb {
		return fmt.Sprintf("Bit 0 of the return address in lr is clear at %s, and this core faults on the return to line %d.", text, line)
	}
	return fmt.Sprintf("Bit 0 of the return address in lr is clear at %s: bx lr goes to line %d in A32 state, but it is Thumb code.", text, line)
}

func ReturnWithBit(text string, line int32) string {
	return fmt.Sprintf("Bit 0 of the return address in lr is set at %s: bx lr goes to line %d in Thumb state, but it is A32 code.", text, line)
}

func LRMade() string { return "lr is set here" }

func StoresReadOnly(name, place, section string) string {
	return fmt.Sprintf("%s stores to %s, in %s, which is not for writing.", name, place, section)
}

// stateName is a state in a sentence.
func stateName(s isa.State) string {
	if s == isa.A {
		return "A32"
	}
	return "Thumb"
}

func StateKept(text string, line int32, from isa.State, target string) string {
	return fmt.Sprintf("%s goes to line %d in %s state, but that is %s code: %s changes the state by bx only.", text, line, stateName(from), stateName(other(from)), target)
}

func ReturnKept(text, routine string, from isa.State, line int32, target string) string {
	return fmt.Sprintf("%s stays in %s state, but %s is called from %s code in line %d: return by bx on %s.", text, stateName(from), routine, stateName(other(from)), line, target)
}

func ReturnMayBeKept(text, routine string, from isa.State, target string) string {
	return fmt.Sprintf("%s stays in %s state on %s: %s code cannot call %s.", text, stateName(from), target, stateName(other(from)), routine)
}

func CalledHere(routine string) string { return routine + " is called here" }

func other(s isa.State) isa.State {
	if s == isa.A {
		return isa.T
	}
	return isa.A
}

func ConditionIdle(text string, c isa.Cond) string {
	return fmt.Sprintf("%s changes nothing: where %s holds, the value is there already.", text, strings.ToUpper(c.String()))
}

func BothAlike(text string, line int32) string {
	return fmt.Sprintf("%s does the same as line %d, which has the opposite condition: none is needed.", text, line)
}

func Opposite() string { return "the opposite condition" }

func BranchesToNext(text string) string {
	return fmt.Sprintf("%s goes to the next line whether its condition holds or not.", text)
}

func Endless(text string, line int32) string {
	return fmt.Sprintf("The loop from line %d never ends: what %s looks at does not change in it.", line, text)
}

func EndlessAlways(text string, line int32) string {
	return fmt.Sprintf("The loop from line %d never ends: %s goes back each time.", line, text)
}

func LoopBegins() string { return "the loop begins here" }
