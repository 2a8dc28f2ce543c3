package isa

import (
	"slices"
	"strconv"
	"strings"
)

// A Core is a core family with a published table of instruction timings.
type Core struct {
	Name string
	// Note says under which conditions the figures hold.
	Note string
	cpus []string // -mcpu names
	arch func(f Features) bool
	// figures are those of the classes; without one the table says nothing.
	figures func() map[Timing]figure
}

// figure is a number of cycles, with its source.
type figure struct {
	// count is a number, a range, or a formula: "n+2" with the number of
	// registers, "1+2n" with that of doublewords.
	count  string
	source string // document and section, table or page
	// note is a condition besides that of the core.
	note string
}

// Timing is a class of instructions that take equally long. Rows name theirs
// where it does not follow from what they do.
type Timing uint8

// The classes.
const (
	TimeOther Timing = iota // follows from flow and access, see Row.timing
	TimeALU
	TimeShift // shift by a register
	TimeMul
	TimeDSP // multiplication of the extension for signal processing, in T32
	TimeDiv
	TimeToPC // result goes to PC
	TimeLoad
	TimeLoadPC // a word to PC
	TimePair   // LDRD, STRD
	TimeStore
	TimeLoadMany // n is the number of registers
	TimeStoreMany
	TimePopPC
	TimeBranch
	TimeCond
	TimeCall
	TimeExchange
	TimeCallReg
	TimeTable // TBB, TBH
	TimeTrap
	TimeSystem // MRS, MSR
	TimeBarrier
	TimeWait // WFI, WFE
	TimeUnknown

	// Those of A32, and of T32 the multiplications.
	TimeShiftToPC    // shift by a register, result goes to PC
	TimeCallA32      // BL is one instruction
	TimeMulA32       // without flags
	TimeMulAdd       // MLA
	TimeMulLong      // UMULL, SMULL
	TimeMulLongAdd   // UMLAL, SMLAL
	TimeMulFlags     // the same with flags
	TimeMulAddFlags  // …
	TimeMulLongFlags // …
	TimeMulLongAddFlags
	TimeHalves     // multiplications of halfwords, saturating arithmetic
	TimeHalvesLong // of halfwords, added to 64 bits
	TimeSwap
	TimeReadPSR
	TimeWriteFlags // MSR of the flags only
	TimeWritePSR
	TimeCop          // CDP
	TimeCopMem       // LDC, STC
	TimeToCop        // MCR
	TimeFromCop      // MRC
	TimePairCop      // MCRR, MRRC
	TimeFromCopFlags // MRC to the flags
	TimeUndefined
	TimeTwo // two instructions

	TimeIT
	TimeYield
	TimeMask         // CPSID, CPSIE
	TimePreload      // PLD
	TimeLoadScaled   // with a shifted register as the offset
	TimeLoadPCScaled // …
	TimeStoreScaled  // …
	TimeLogicToPC    // RSC, ORR, EOR, MOV, BIC with the result in PC
	TimeShiftedToPC  // shift by a constant, result goes to PC

	// Floating point, single precision only.
	TimeFloat
	TimeFloatMulAdd
	TimeFloatDiv
	TimeFloatMove // between a core register and a single register; two of each, or a double register
	TimeFloatLoad // and stores
	TimeFloatLoadDouble
	TimeFloatMany // n is the number of single registers
	TimeFloatManyDouble
)

// timing is the class of an instruction of the row with these effects.
func (r *Row) timing(vals *[maxFields]uint32, e Effects) Timing {
	switch toPC := e.Writes.Has(PC); {
	case r.Timing == TimeLoadMany && toPC:
		return TimePopPC
	case r.Timing == TimeShift && toPC:
		return TimeShiftToPC
	case r.Timing >= TimeMulA32 && r.Timing <= TimeMulLongAdd && e.FlagsWritten != 0:
		return r.Timing + TimeMulFlags - TimeMulA32
	case r.Timing == TimeWritePSR && r.writesFlagsAlone(vals):
		return TimeWriteFlags
	case r.Timing == TimeFromCop && e.FlagsWritten != 0:
		return TimeFromCopFlags
	case r.Timing != TimeOther:
		return r.Timing
	case r.vector:
		return r.floatTiming()
	}
	if r.State == A {
		switch {
		case r.Flow == FlowBranch && !e.Conditional:
			return TimeBranch
		case r.Flow == FlowCall:
			return TimeCallA32
		}
	}
	switch r.Flow {
	case FlowJump:
		return TimeBranch
	case FlowBranch:
		return TimeCond
	case FlowCall:
		return TimeCall
	case FlowReg:
		if e.Writes.Has(LR) {
			return TimeCallReg
		}
		return TimeExchange
	case FlowTrap:
		return TimeTrap
	case FlowStop:
		return TimeUndefined
	}
	v := Values{row: r, vals: *vals}
	scaled := Timing(0)
	if r.State == A && (v.Get("imm5") != 0 || v.Get("type") != 0) {
		scaled = 1
	}
	switch {
	case r.Access == 8:
		return TimePair
	case r.Access != 0 && e.Writes.Has(PC):
		return [...]Timing{TimeLoadPC, TimeLoadPCScaled}[scaled]
	case r.Access != 0 && e.WritesMem:
		return [...]Timing{TimeStore, TimeStoreScaled}[scaled]
	case r.Access != 0:
		return [...]Timing{TimeLoad, TimeLoadScaled}[scaled]
	case e.Writes.Has(PC) && scaled == 1:
		return TimeShiftedToPC
	case e.Writes.Has(PC) && r.LateToPC:
		return TimeLogicToPC
	case e.Writes.Has(PC):
		return TimeToPC
	}
	return TimeALU
}

// floatTiming is the class of a row of floating point that names none. The
// cores with a table have single precision only.
func (r *Row) floatTiming() Timing {
	const single = FeatVFP | FeatVFP2 | FeatVFP3 | FeatFMA | FeatHalf | FeatT32
	switch {
	case r.Need&^single != 0:
		return TimeUnknown
	case r.Access == 8:
		return TimeFloatLoadDouble
	case r.Access != 0:
		return TimeFloatLoad
	}
	return TimeFloat
}

// writesFlagsAlone is about MSR: the part f of CPSR and nothing else.
func (r *Row) writesFlagsAlone(vals *[maxFields]uint32) bool {
	return Values{row: r, vals: *vals}.Get("psr") == 8
}

// Cycles is how long one instruction takes on one family.
type Cycles struct {
	Core *Core
	// Count is a number of cycles, a range, or a formula in P and B as the
	// core's note explains.
	Count string
	// Note says under which conditions the figure holds.
	Note string
	// Source is the document, with the section, table or page.
	Source string
}

// Cycles of the bound statement on the family that cpu, an -mcpu name, is of,
// or where it is another name on those that the features allow. There are none where no
// source is known.
func (m *Match) Cycles(cpu string, have Features) []Cycles {
	e := m.Effects()
	vals := m.fields()
	class := m.Form.Row.timing(&vals, e)
	_, known := CPU(cpu)
	var out []Cycles
	for i := range cores {
		c := &cores[i]
		f, ok := c.figures()[class]
		if !ok || known && !slices.Contains(c.cpus, cpu) || !known && !c.arch(have) {
			continue
		}
		n := count(f.count, m.Moved())
		if e.Conditional && class != TimeCond && n != "1" {
			n += ", 1 when not executed"
		}
		note := c.Note
		if f.note != "" {
			note += "; " + strings.ReplaceAll(f.note, "FACTOR", m.multiplier())
		}
		out = append(out, Cycles{c, n, note, f.source})
	}
	return out
}

// Moved counts the registers of a list.
func (m *Match) Moved() int {
	v := m.Values()
	if m.Form.Row.vector {
		return int(v.Get("n"))
	}
	return RegList(v.Get("list")).Count() + int(v.Get("M"))
}

// multiplier names the register whose upper bytes can end a multiplication
// early: Rs in A32, and in T16, where MULS Rd, Rm means MULS Rd, Rm, Rd,
// the destination (ARM7TDMI data sheet, 4.7.3).
func (m *Match) multiplier() string {
	v := m.Values()
	if m.Form.Row.State == A {
		return Reg(v.Get("Rs")).String()
	}
	return Reg(v.Get("Rdn")).String()
}

// count puts the number of registers into a formula.
func count(f string, n int) string {
	switch {
	case f == "n, at least 2":
		return strconv.Itoa(max(n, 2))
	case f == "1+2n":
		return strconv.Itoa(1 + 2*n)
	case !strings.HasPrefix(f, "n+"):
		return f
	}
	add, rest, more := strings.Cut(f[2:], "+")
	k, _ := strconv.Atoi(add)
	s := strconv.Itoa(n + k)
	if more {
		s += "+" + rest
	}
	return s
}
