package wording

import (
	"fmt"

	"narrowgauge/isa"
)

// The sentences about what execution meets.

func RunsInto(from, to isa.State) string {
	return fmt.Sprintf("Execution runs on from %s code into %s code here; only BX, BLX and loads of pc change the state.", from, to)
}

func LastBefore() string {
	return "the last instruction before"
}

func CodeMisaligned(mode isa.State, unit, offset int64) string {
	return fmt.Sprintf("%s code must be at a multiple of %d bytes; this is offset 0x%x.", mode, unit, offset)
}

func DataMisaligned(name string, unit int64, label string, offset int64) string {
	return fmt.Sprintf("%s data should be at a multiple of %d bytes; %s is at offset 0x%x.", name, unit, label, offset)
}

func LastBeforePool() string {
	return "the last instruction before the pool"
}

func StaysInState(name string, from isa.State, symbol string, to isa.State) string {
	return fmt.Sprintf("%s stays in %s state, but %s is %s code.", name, from, symbol, to)
}

func ChangesState(name, symbol string, to isa.State) string {
	return fmt.Sprintf("%s changes the state, but %s is %s code like this line.", name, symbol, to)
}

func NoA32State(name, target string) string {
	return name + " pc changes to A32 state, which " + target + " does not have."
}

func EntersMisaligned(name string, from, to int64) string {
	return fmt.Sprintf("%s pc at offset 0x%x goes to offset 0x%x; A32 code must be at a multiple of 4 bytes.", name, from, to)
}

func BitClear(name string, line int32, symbol string) string {
	return fmt.Sprintf("%s in line %d takes %s for A32 code: bit 0 of the address is clear, but it is T16 code.", name, line, symbol)
}

func BitSet(name string, line int32, symbol string) string {
	return fmt.Sprintf("%s in line %d takes %s for T16 code: bit 0 of the address is set, but it is A32 code.", name, line, symbol)
}

func TheBranch() string {
	return "the branch"
}

func TheLoadOfPC() string {
	return "the load of pc"
}

// RunsIntoPool is of an instruction in a line, counted from 1, after which there is a
// literal pool: at the end of the section, or where a line places one. A call may not
// come back.
func RunsIntoPool(line int32, end, call bool) string {
	pool := "the literal pool placed here"
	if end {
		pool = "the literal pool at the end of the section"
	}
	if call {
		return fmt.Sprintf("If the call in line %d returns, execution runs into %s.", line, pool)
	}
	return fmt.Sprintf("Execution runs from line %d into %s.", line, pool)
}
