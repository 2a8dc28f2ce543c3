package isa

import (
	"slices"
	"strconv"
	"strings"
)

// A Core is a core family with a published table of instruction timings.
type Core struct {
	Name   string
	Source string
	// Note says under which conditions the figures hold.
	Note string
	cpus []string // -mcpu names; of older cores prefixes of such
	arch func(f Features) bool
	like string // the core whose figures hold where the core has none of its own
}

// The families, in the order of the columns of timings. All figures are from
// memory of the documents named: none could be opened here.
var cores = []Core{
	{Name: "ARM7TDMI", Source: "ARM7TDMI Technical Reference Manual (DDI 0210), chapter \"Instruction Cycle Timings\"",
		Note: "memory that answers in one cycle, sequential or not", cpus: []string{"arm7"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatT16) && !f.Has(FeatV5) }},
	{Name: "ARM9E-S", Source: "ARM9E-S Technical Reference Manual (DDI 0165), chapter \"Instruction Cycle Times\"",
		Note: "no interlock: a line that needs a value just loaded waits 1 cycle, 2 for a byte or halfword", cpus: []string{"arm9e", "arm926", "arm946", "arm966", "arm968", "arm10"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatV5) && !f.Has(FeatV6) }},
	{Name: "Cortex-M0", Source: "Cortex-M0 Technical Reference Manual (DDI 0432), table \"Cortex-M0 instruction summary\"",
		Note: "memory without wait states", cpus: []string{"cortex-m0", "cortex-m1"},
		arch: func(f Features) bool { return f.Has(FeatM) && !f.Has(FeatT32) }},
	{Name: "Cortex-M0+", Source: "Cortex-M0+ Technical Reference Manual (DDI 0484), table \"Cortex-M0+ instruction summary\"",
		Note: "memory without wait states", cpus: []string{"cortex-m0plus"},
		arch: func(f Features) bool { return f.Has(FeatM) && !f.Has(FeatT32) }},
	{Name: "Cortex-M3", Source: "Cortex-M3 Technical Reference Manual (DDI 0337), table of processor instructions",
		Note: "memory without wait states; P is the refill of the pipeline, 1 to 3; B is a barrier's wait", cpus: []string{"cortex-m3"},
		arch: func(f Features) bool { return f.Has(FeatM|FeatT32) && f&(FeatDSP|FeatSec) == 0 }},
	{Name: "ARM9TDMI", Source: "ARM9TDMI Technical Reference Manual (DDI 0180), chapter \"Instruction Cycle Summary and Interlocks\"", like: "ARM9E-S",
		Note: "no interlock: a line that needs a value just loaded waits 1 cycle, 2 for a byte or halfword",
		cpus: []string{"arm9"}, arch: func(f Features) bool { return f.Has(FeatA32|FeatT16) && !f.Has(FeatV5) }},
	{Name: "Cortex-M4", Source: "Cortex-M4 Technical Reference Manual (DDI 0439), table of processor instructions", like: "Cortex-M3",
		Note: "memory without wait states; P is the refill of the pipeline, 1 to 3; B is a barrier's wait", cpus: []string{"cortex-m4"},
		arch: func(f Features) bool { return f.Has(FeatM|FeatT32) && f&FeatSec == 0 }},
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
	TimeCallA        // BL is one instruction
	TimeMulA         // without flags
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
	TimeWriteFlags // MSR of the flags alone
	TimeWritePSR
	TimeCop     // CDP
	TimeCopMem  // LDC, STC
	TimeToCop   // MCR
	TimeFromCop // MRC
	TimePairCop // MCRR, MRRC
	TimeUndefined
	TimeTwo // two instructions
)

// timings has a column for each of cores: cycles, "n" for the number of
// registers, empty where the core lacks the instruction or the table says
// nothing.
var timings = map[Timing][7]string{
	TimeALU:       {"1", "1", "1", "1", "1"},
	TimeShift:     {"2", "2", "1", "1", "1"},
	TimeMul:       {"2–5", "4", "1 or 32", "1 or 32", "1", "3–6"},
	TimeToPC:      {"3", "3", "3", "2", "1+P"},
	TimeLoad:      {"3", "1", "2", "2", "2"},
	TimeLoadPC:    {"5", "5", "", "", "2+P"},
	TimePair:      {"", "2", "", "", "3"},
	TimeStore:     {"2", "1", "2", "2", "2"},
	TimeLoadMany:  {"n+2", "n, at least 2", "n+1", "n+1", "n+1"},
	TimeStoreMany: {"n+1", "n, at least 2", "n+1", "n+1", "n+1"},
	TimePopPC:     {"n+4", "n+4", "n+4", "n+3", "n+1+P"},
	TimeBranch:    {"3", "3", "3", "2", "1+P"},
	TimeCond:      {"3, 1 when not taken", "3, 1 when not taken", "3, 1 when not taken", "2, 1 when not taken", "1+P, 1 when not taken"},
	TimeCall:      {"4", "4", "4", "3", "1+P"},
	TimeExchange:  {"3", "3", "3", "2", "1+P"},
	TimeCallReg:   {"", "3", "3", "2", "1+P"},
	TimeTable:     {"", "", "", "", "2+P"},
	TimeTrap:      {"3", "3", "", "", ""},
	TimeSystem:    {"", "", "4", "3", "1 or 2"},
	TimeBarrier:   {"", "", "4", "3", "1+B"},
	TimeWait:      {"", "", "2", "2", "1 and the wait"},

	// The sixth column is ARM9TDMI's, where it is not ARM9E-S's; the last one
	// Cortex-M4's, where it is not Cortex-M3's.
	TimeShiftToPC:       {"4", "4"},
	TimeCallA:           {"3", "3"},
	TimeMulA:            {"2–5", "2", "", "", "", "3–6"},
	TimeMulAdd:          {"3–6", "2", "", "", "2", "3–6", "1"},
	TimeMulLong:         {"3–6", "3", "", "", "3–5", "4–7", "1"},
	TimeMulLongAdd:      {"4–7", "3", "", "", "4–7", "4–7", "1"},
	TimeMulFlags:        {"2–5", "4", "", "", "", "3–6"},
	TimeMulAddFlags:     {"3–6", "4", "", "", "", "3–6"},
	TimeMulLongFlags:    {"3–6", "5", "", "", "", "4–7"},
	TimeMulLongAddFlags: {"4–7", "5", "", "", "", "4–7"},
	TimeDSP:             {"", "", "", "", "", "", "1"},
	TimeDiv:             {"", "", "", "", "2–12"},
	TimeHalves:          {"", "1"},
	TimeHalvesLong:      {"", "2"},
	TimeSwap:            {"4", "2"},
	TimeReadPSR:         {"1", "1"},
	TimeWriteFlags:      {"1", "1"},
	TimeWritePSR:        {"1", "3"},
	TimeCop:             {"1 and the coprocessor's wait", "1 and the coprocessor's wait"},
	TimeCopMem:          {"1, 1 for each word, and the coprocessor's wait", "1 for each word and the coprocessor's wait"},
	TimeToCop:           {"2 and the coprocessor's wait", "1 and the coprocessor's wait"},
	TimeFromCop:         {"3 and the coprocessor's wait", "1 and the coprocessor's wait"},
	TimePairCop:         {"", "2 and the coprocessor's wait"},
	TimeUndefined:       {"4", "3"},
	TimeTwo:             {"2", "2"},
}

// timing is the class of an instruction of the row with these effects.
func (r *Row) timing(vals *[maxFields]uint32, e Effects) Timing {
	switch toPC := e.Writes.Has(PC); {
	case r.Timing == TimeLoadMany && toPC:
		return TimePopPC
	case r.Timing == TimeShift && toPC:
		return TimeShiftToPC
	case r.Timing >= TimeMulA && r.Timing <= TimeMulLongAdd && e.FlagsWritten != 0:
		return r.Timing + TimeMulFlags - TimeMulA
	case r.Timing == TimeWritePSR && r.writesFlagsAlone(vals):
		return TimeWriteFlags
	case r.Timing != TimeOther:
		return r.Timing
	}
	if r.State == A {
		switch {
		case r.Flow == FlowBranch && !e.Conditional:
			return TimeBranch
		case r.Flow == FlowCall:
			return TimeCallA
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
		return TimeUnknown
	}
	switch {
	case r.Access == 8:
		return TimePair
	case r.Access != 0 && e.Writes.Has(PC):
		return TimeLoadPC
	case r.Access != 0 && e.WritesMem:
		return TimeStore
	case r.Access != 0:
		return TimeLoad
	case e.Writes.Has(PC):
		return TimeToPC
	}
	return TimeALU
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
}

// Cycles of the bound statement on the families that cpu (an -mcpu name,
// empty for none) or else the features allow.
func (m *Match) Cycles(cpu string, have Features) []Cycles {
	e := m.Effects()
	class := m.Form.Row.timing(&m.vals, e)
	row, ok := timings[class]
	if !ok {
		return nil
	}
	n := 0
	switch list := m.Values(); class {
	case TimeLoadMany, TimePopPC, TimeStoreMany:
		n = RegList(list.Get("list")).Count() + int(list.Get("M"))
	}
	var out []Cycles
	for i := range cores {
		c := &cores[i]
		f := row[i]
		if f == "" && c.like != "" {
			f = row[slices.IndexFunc(cores, func(o Core) bool { return o.Name == c.like })]
		}
		if f == "" || !c.fits(cpu, have) {
			continue
		}
		f = count(f, n)
		if e.Conditional && class != TimeCond && f != "1" {
			f += ", 1 when not executed"
		}
		note := c.Note
		switch {
		case !strings.Contains(f, "–"):
		case class == TimeDiv:
			note += ", the fewer the fewer bits the quotient has"
		default:
			note += ", the fewer the more upper bytes of the last factor are all 0 or, signed, all 1"
		}
		out = append(out, Cycles{c, f, note})
	}
	return out
}

func (c *Core) fits(cpu string, have Features) bool {
	best, long := "", 0
	for i := range cores {
		for _, p := range cores[i].cpus {
			if strings.HasPrefix(cpu, p) && (cpu == p || p[0] != 'c') && len(p) > long { // no Cortex-M33
				best, long = cores[i].Name, len(p)
			}
		}
	}
	if best != "" {
		return c.Name == best
	}
	return c.arch(have)
}

// count puts the number of registers into a formula.
func count(f string, n int) string {
	switch {
	case f == "n, at least 2":
		return strconv.Itoa(max(n, 2))
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
