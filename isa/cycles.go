package isa

import (
	"strconv"
	"strings"
)

// A Core is a core family with a published table of instruction timings.
type Core struct {
	Name   string
	Source string
	// Note says under which conditions the figures hold.
	Note string
	cpus []string // prefixes of -mcpu names
	arch func(f Features) bool
}

// The families, in the order of the columns of timings. All figures are from
// memory of the documents named: none could be opened here.
var cores = []Core{
	{Name: "ARM7TDMI", Source: "ARM7TDMI Technical Reference Manual (DDI 0210), chapter \"Instruction Cycle Timings\"",
		Note: "memory that answers in one cycle, sequential or not", cpus: []string{"arm7"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatT16) && !f.Has(FeatV5TE) }},
	{Name: "ARM9E-S", Source: "ARM9E-S Technical Reference Manual (DDI 0165), chapter \"Instruction Cycle Times\"",
		Note: "no interlock: a line that needs a value just loaded waits 1 cycle, 2 for a byte or halfword", cpus: []string{"arm9", "arm10"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatT16) && !f.Has(FeatV6) }},
	{Name: "Cortex-M0", Source: "Cortex-M0 Technical Reference Manual (DDI 0432), table \"Cortex-M0 instruction summary\"",
		Note: "memory without wait states", cpus: []string{"cortex-m0", "cortex-m1"},
		arch: func(f Features) bool { return f.Has(FeatM) && !f.Has(FeatT32) }},
	{Name: "Cortex-M0+", Source: "Cortex-M0+ Technical Reference Manual (DDI 0484), table \"Cortex-M0+ instruction summary\"",
		Note: "memory without wait states", cpus: []string{"cortex-m0plus"},
		arch: func(f Features) bool { return f.Has(FeatM) && !f.Has(FeatT32) }},
	{Name: "Cortex-M3/M4", Source: "Cortex-M3 (DDI 0337) and Cortex-M4 (DDI 0439) Technical Reference Manuals, tables of processor instructions",
		Note: "memory without wait states; P is the refill of the pipeline, 1 to 3; B is a barrier's wait", cpus: []string{"cortex-m3", "cortex-m4"},
		arch: func(f Features) bool { return f.Has(FeatM | FeatT32) }},
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
	TimeToPC // result goes to PC
	TimeLoad
	TimeStore
	TimeLoadMany // n is the number of registers
	TimeStoreMany
	TimePopPC
	TimeBranch
	TimeCond
	TimeCall
	TimeExchange
	TimeCallReg
	TimeTrap
	TimeSystem // MRS, MSR
	TimeBarrier
	TimeWait // WFI, WFE
	TimeUnknown
)

// timings has a column for each of cores: cycles, "n" for the number of
// registers, empty where the core lacks the instruction or the table says
// nothing.
var timings = map[Timing][5]string{
	TimeALU:       {"1", "1", "1", "1", "1"},
	TimeShift:     {"2", "2", "1", "1", "1"},
	TimeMul:       {"2–5", "4", "1 or 32", "1 or 32", "1"},
	TimeToPC:      {"3", "3", "3", "2", "1+P"},
	TimeLoad:      {"3", "1", "2", "2", "2"},
	TimeStore:     {"2", "1", "2", "2", "2"},
	TimeLoadMany:  {"n+2", "n, at least 2", "n+1", "n+1", "n+1"},
	TimeStoreMany: {"n+1", "n, at least 2", "n+1", "n+1", "n+1"},
	TimePopPC:     {"n+4", "n+4", "n+4", "n+3", "n+1+P"},
	TimeBranch:    {"3", "3", "3", "2", "1+P"},
	TimeCond:      {"3, 1 when not taken", "3, 1 when not taken", "3, 1 when not taken", "2, 1 when not taken", "1+P, 1 when not taken"},
	TimeCall:      {"4", "4", "4", "3", "1+P"},
	TimeExchange:  {"3", "3", "3", "2", "1+P"},
	TimeCallReg:   {"", "3", "3", "2", "1+P"},
	TimeTrap:      {"3", "3", "", "", ""},
	TimeSystem:    {"", "", "4", "3", "1 or 2"},
	TimeBarrier:   {"", "", "4", "3", "1+B"},
	TimeWait:      {"", "", "2", "2", "1 and the wait"},
}

// timing is the class of an instruction of the row with these effects.
func (r *Row) timing(e Effects) Timing {
	if r.Timing != TimeOther {
		if r.Timing == TimeLoadMany && e.Writes.Has(PC) {
			return TimePopPC
		}
		return r.Timing
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
	case r.Access != 0 && e.WritesMem:
		return TimeStore
	case r.Access != 0:
		return TimeLoad
	case e.Writes.Has(PC):
		return TimeToPC
	}
	return TimeALU
}

// Cycles is how long one instruction takes on one family.
type Cycles struct {
	Core *Core
	// Count is a number of cycles, a range, or a formula in P and B as the
	// core's note explains.
	Count string
}

// Cycles of the bound statement on the families that cpu (an -mcpu name,
// empty for none) or else the features allow.
func (m *Match) Cycles(cpu string, have Features) []Cycles {
	e := m.Effects()
	class := m.Form.Row.timing(e)
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
		if row[i] == "" || !c.fits(cpu, have) {
			continue
		}
		out = append(out, Cycles{c, count(row[i], n)})
	}
	return out
}

func (c *Core) fits(cpu string, have Features) bool {
	best, long := "", 0
	for i := range cores {
		for _, p := range cores[i].cpus {
			if strings.HasPrefix(cpu, p) && len(p) > long {
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
