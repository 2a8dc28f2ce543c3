package isa

import (
	"maps"
	"sync"
)

// The documents that the figures are from. "As copied" marks those of which a
// copy of the table was read and not the document.
const (
	arm7Sheet  = "ARM7TDMI data sheet (edition for ARM7TDMI-S), chapter \"ARM Instruction Set\", "
	arm7TRM    = "ARM7TDMI Technical Reference Manual (DDI 0210C), "
	arm7Older  = "ARM7TDMI Technical Reference Manual (DDI 0029E), "
	arm9TRM    = "ARM9TDMI Technical Reference Manual (DDI 0180A), as copied, "
	arm9ESTRM  = "ARM9E-S Technical Reference Manual (DDI 0165B), as copied, "
	arm9EJSTRM = "ARM9EJ-S Technical Reference Manual (DDI 0222B), table 8.2"
	m0TRM      = "Cortex-M0 Technical Reference Manual (DDI 0432C), table 3.1"
	m0plusTRM  = "Cortex-M0+ Technical Reference Manual (DDI 0484C), table 3.1"
	// The rest of that table was read in a chip maker's copy of it.
	m0plusChip = "Cortex-M0+ Technical Reference Manual (DDI 0484C), table 3.1, as in the RP2040 datasheet, table 81"
	m3TRM      = "Cortex-M3 Technical Reference Manual (100165_0201_02), table 3-1"
	m4TRM      = "Cortex-M4 Technical Reference Manual (DDI 0439D), table 3-1"
	m4DSP      = "Cortex-M4 Technical Reference Manual (DDI 0439D), table 3-2"
	m4FPU      = "Cortex-M4 Technical Reference Manual (DDI 0439D), table 7-1"
)

const (
	earlySigned   = "the fewer the more upper bytes of FACTOR are all 0 or all 1"
	earlyUnsigned = "the fewer the more upper bytes of FACTOR are all 0 or, where the product is signed, all 1"
	oneCycle      = "memory that answers in one cycle, sequential or not"
	noWaitStates  = "memory without wait states"
	refill        = "memory without wait states; P is the refill of the pipeline, 1 to 3; B is a barrier's wait"
	condNot       = ", 1 when not taken"
	cop           = " and the coprocessor's wait"
)

// cores are the families with a published table. A core that is not named here
// has no figures: those with another multiplier before the ARM7DM, ARM10,
// XScale, Cortex-M1, M7, M23 and M33 among them, for which no table was found.
var cores = []Core{
	{Name: "ARM7TDMI", Note: oneCycle, figures: figuresARM7,
		cpus: []string{"arm7m", "arm7dm", "arm7dmi", "arm7t", "arm7tdmi", "arm7tdmi-s", "arm710t", "arm720", "arm720t", "arm740t"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatT16) && !f.Has(FeatV5) }},
	{Name: "ARM9TDMI", figures: figuresARM9,
		Note: "no interlock: a line that needs what the one before has loaded waits 1 cycle, 2 for a byte, a halfword or an unaligned word; for the last register of LDM, and for MRC and SWP, 1",
		cpus: []string{"arm9", "arm920", "arm920t", "arm922t", "arm940t", "arm9tdmi", "ep9312"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatT16) && !f.Has(FeatV5) }},
	{Name: "ARM9E-S", Note: noteARM9E, figures: figuresARM9E,
		cpus: []string{"arm946e", "arm946e-r0", "arm946e-s", "arm966e", "arm966e-r0", "arm966e-s", "arm968e-s", "arm9e", "arm9e-r0"},
		arch: func(f Features) bool { return f.Has(FeatA32|FeatV5TE) && !f.Has(FeatV6) }},
	{Name: "ARM9EJ-S", Note: noteARM9E, figures: figuresARM9EJ,
		cpus: []string{"arm926ej", "arm926ej-s", "arm926ejs"}, arch: func(Features) bool { return false }},
	{Name: "Cortex-M0", Note: noWaitStates, figures: figuresM0, cpus: []string{"cortex-m0"},
		arch: func(f Features) bool { return f.Has(FeatM) && f&(FeatT32|FeatLDA) == 0 }},
	{Name: "Cortex-M0+", Note: noWaitStates, figures: figuresM0plus, cpus: []string{"cortex-m0plus"},
		arch: func(f Features) bool { return f.Has(FeatM) && f&(FeatT32|FeatLDA) == 0 }},
	{Name: "Cortex-M3", Note: refill, figures: figuresM3, cpus: []string{"cortex-m3"},
		arch: func(f Features) bool { return f.Has(FeatM|FeatT32) && f&(FeatDSP|FeatLDA) == 0 }},
	{Name: "Cortex-M4", Note: refill, figures: figuresM4, cpus: []string{"cortex-m4"},
		arch: func(f Features) bool { return f.Has(FeatM|FeatT32) && f&FeatLDA == 0 }},
}

const noteARM9E = "no interlock: a line that needs what the one before has loaded waits 1 cycle, 2 for a byte, a halfword or an unaligned word; " +
	"1 for the results of multiplications, saturating arithmetic, MRC, MRRC and SWP, and for the last register of LDM and LDRD"

var figuresARM7 = sync.OnceValue(func() map[Timing]figure {
	return map[Timing]figure{
		TimeALU:             {"1", arm7Sheet + "4.5.7", ""},
		TimeShift:           {"2", arm7Sheet + "4.5.7", ""},
		TimeToPC:            {"3", arm7Sheet + "4.5.7", ""},
		TimeLogicToPC:       {"3", arm7Sheet + "4.5.7", ""},
		TimeShiftedToPC:     {"3", arm7Sheet + "4.5.7", ""},
		TimeShiftToPC:       {"4", arm7Sheet + "4.5.7", ""},
		TimeReadPSR:         {"1", arm7Older + "4.6.3", ""},
		TimeWriteFlags:      {"1", arm7Older + "4.6.3", ""},
		TimeWritePSR:        {"1", arm7Older + "4.6.3", ""},
		TimeMul:             {"2–5", arm7Sheet + "4.7.3", earlySigned},
		TimeMulA32:          {"2–5", arm7Sheet + "4.7.3", earlySigned},
		TimeMulFlags:        {"2–5", arm7Sheet + "4.7.3", earlySigned},
		TimeMulAdd:          {"3–6", arm7Sheet + "4.7.3", earlySigned},
		TimeMulAddFlags:     {"3–6", arm7Sheet + "4.7.3", earlySigned},
		TimeMulLong:         {"3–6", arm7Sheet + "4.8.3", earlyUnsigned},
		TimeMulLongFlags:    {"3–6", arm7Sheet + "4.8.3", earlyUnsigned},
		TimeMulLongAdd:      {"4–7", arm7Sheet + "4.8.3", earlyUnsigned},
		TimeMulLongAddFlags: {"4–7", arm7Sheet + "4.8.3", earlyUnsigned},
		TimeLoad:            {"3", arm7Sheet + "4.9.7 and 4.10.7", ""},
		TimeLoadScaled:      {"3", arm7Sheet + "4.9.7", ""},
		TimeLoadPC:          {"5", arm7Sheet + "4.9.7", ""},
		TimeLoadPCScaled:    {"5", arm7Sheet + "4.9.7", ""},
		TimeStore:           {"2", arm7Sheet + "4.9.7 and 4.10.7", ""},
		TimeStoreScaled:     {"2", arm7Sheet + "4.9.7", ""},
		TimeLoadMany:        {"n+2", arm7Sheet + "4.11.8", ""},
		TimePopPC:           {"n+4", arm7Sheet + "4.11.8", ""},
		TimeStoreMany:       {"n+1", arm7Sheet + "4.11.8", ""},
		TimeSwap:            {"4", arm7Sheet + "4.12.4", ""},
		TimeBranch:          {"3", arm7Sheet + "4.4.2", ""},
		TimeCond:            {"3" + condNot, arm7Sheet + "4.4.2; not taken: from memory", ""},
		TimeCallA32:         {"3", arm7Sheet + "4.4.2", ""},
		TimeCall:            {"4", arm7TRM + "6.3, table 6-2", ""},
		TimeExchange:        {"3", arm7Sheet + "4.3.1; " + arm7TRM + "6.4", ""},
		TimeTrap:            {"3", arm7Sheet + "4.13.3", ""},
		TimeUndefined:       {"4", arm7Sheet + "4.17.1", ""},
		TimeCop:             {"1" + cop, arm7Sheet + "4.14.2", ""},
		TimeCopMem:          {"1, 1 for each word," + cop, arm7Sheet + "4.15.6", ""},
		TimeToCop:           {"2" + cop, arm7Sheet + "4.16.4", ""},
		TimeFromCop:         {"3" + cop, arm7Sheet + "4.16.4", ""},
		TimeFromCopFlags:    {"3" + cop, arm7Sheet + "4.16.4", ""},
		TimeTwo:             {"2", arm7Sheet + "4.5.7, twice", ""},
	}
})

// common are the figures that the tables of ARM9TDMI and ARM9E-S share; source
// names one of them.
func common(source string) map[Timing]figure {
	return map[Timing]figure{
		TimeALU:          {"1", source, ""},
		TimeShift:        {"2", source, ""},
		TimeToPC:         {"3", source, ""},
		TimeLogicToPC:    {"3", source, ""},
		TimeShiftedToPC:  {"3", source, ""},
		TimeShiftToPC:    {"4", source, ""},
		TimeLoad:         {"1", source, ""},
		TimeLoadScaled:   {"1", source, ""},
		TimeLoadPC:       {"5", source, ""},
		TimeLoadPCScaled: {"5", source, ""},
		TimeStore:        {"1", source, ""},
		TimeStoreScaled:  {"1", source, ""},
		TimeLoadMany:     {"n, at least 2", source, ""},
		TimePopPC:        {"n+4", source, ""},
		TimeStoreMany:    {"n, at least 2", source, ""},
		TimeSwap:         {"2", source, ""},
		TimeBranch:       {"3", source, ""},
		TimeCond:         {"3" + condNot, source + "; not taken: from memory", ""},
		TimeCallA32:      {"3", source, ""},
		TimeCall:         {"4", source + ", the sum of its halves", ""},
		TimeExchange:     {"3", source, ""},
		TimeTrap:         {"3", source, ""},
		TimeUndefined:    {"3", source, ""},
		TimeWriteFlags:   {"1", source, ""},
		TimeWritePSR:     {"3", source, ""},
		TimeCop:          {"1" + cop, source, ""},
		TimeCopMem:       {"1 for each word" + cop, source, ""},
		TimeToCop:        {"1" + cop, source, ""},
		TimeFromCop:      {"1" + cop, source, ""},
		TimeTwo:          {"2", source + ", twice", ""},
	}
}

// with adds figures to others, or replaces them.
func with(base, more map[Timing]figure) map[Timing]figure {
	out := maps.Clone(base)
	maps.Copy(out, more)
	return out
}

const (
	arm9Table  = arm9TRM + "tables 7-2 and 7-3"
	arm9ETable = arm9ESTRM + "table 8-2 and the tables of 8.3 to 8.20"
)

var figuresARM9 = sync.OnceValue(func() map[Timing]figure {
	return with(common(arm9Table), map[Timing]figure{
		TimeReadPSR:         {"1", arm9Table, ""},
		TimeFromCopFlags:    {"3" + cop, arm9Table, ""},
		TimeMul:             {"3–6", arm9Table, earlySigned},
		TimeMulA32:          {"3–6", arm9Table, earlySigned},
		TimeMulFlags:        {"3–6", arm9Table, earlySigned},
		TimeMulAdd:          {"3–6", arm9Table, earlySigned},
		TimeMulAddFlags:     {"3–6", arm9Table, earlySigned},
		TimeMulLong:         {"4–7", arm9Table, earlyUnsigned},
		TimeMulLongFlags:    {"4–7", arm9Table, earlyUnsigned},
		TimeMulLongAdd:      {"4–7", arm9Table, earlyUnsigned},
		TimeMulLongAddFlags: {"4–7", arm9Table, earlyUnsigned},
	})
})

var figuresARM9E = sync.OnceValue(func() map[Timing]figure {
	return with(common(arm9ETable), map[Timing]figure{
		TimeReadPSR:         {"2", arm9ETable, ""},
		TimeFromCopFlags:    {"4" + cop, arm9ETable, ""},
		TimeMul:             {"4", arm9ETable, ""}, // in T16 it sets flags
		TimeMulA32:          {"2", arm9ETable, ""},
		TimeMulFlags:        {"4", arm9ETable, ""},
		TimeMulAdd:          {"2", arm9ETable, ""},
		TimeMulAddFlags:     {"4", arm9ETable, ""},
		TimeMulLong:         {"3", arm9ETable, ""},
		TimeMulLongFlags:    {"5", arm9ETable, ""},
		TimeMulLongAdd:      {"3", arm9ETable, ""},
		TimeMulLongAddFlags: {"5", arm9ETable, ""},
		TimeHalves:          {"1", arm9ETable, ""},
		TimeHalvesLong:      {"2", arm9ETable, ""},
		TimePair:            {"2", arm9ETable, ""},
		TimePreload:         {"1", arm9ETable, ""},
		TimeCallReg:         {"3", arm9ETable, ""},
		TimePairCop:         {"2" + cop, arm9ETable, ""},
	})
})

// figuresARM9EJ are those of the core in the ARM926EJ-S where its table was
// read, to LDM; the rest is that of ARM9E-S.
var figuresARM9EJ = sync.OnceValue(func() map[Timing]figure {
	f := with(figuresARM9E(), map[Timing]figure{
		TimeLogicToPC:    {"4", arm9EJSTRM, ""},
		TimeShiftedToPC:  {"4", arm9EJSTRM, ""},
		TimeToPC:         {"3", arm9EJSTRM, ""},
		TimeLoadScaled:   {"2", arm9EJSTRM, ""},
		TimeStoreScaled:  {"2", arm9EJSTRM, ""},
		TimeLoadPCScaled: {"6", arm9EJSTRM, ""},
	})
	delete(f, TimeShiftToPC) // not clear in what was read of it
	return f
})

var figuresM0 = sync.OnceValue(func() map[Timing]figure {
	return map[Timing]figure{
		TimeALU:       {"1", m0TRM, ""},
		TimeShift:     {"1", m0TRM, ""},
		TimeToPC:      {"3", m0TRM, ""},
		TimeLogicToPC: {"3", m0TRM, ""},
		TimeMul:       {"1 or 32", m0TRM, "the core is built with one multiplier or the other"},
		TimeLoad:      {"2", m0TRM, ""},
		TimeStore:     {"2", m0TRM, ""},
		TimeLoadMany:  {"n+1", m0TRM, ""},
		TimeStoreMany: {"n+1", m0TRM, ""},
		TimePopPC:     {"n+4", m0TRM, ""},
		TimeBranch:    {"3", m0TRM, ""},
		TimeCond:      {"3" + condNot, m0TRM, ""},
		TimeCall:      {"4", m0TRM, ""},
		TimeExchange:  {"3", m0TRM, ""},
		TimeCallReg:   {"3", m0TRM, ""},
		TimeSystem:    {"4", m0TRM, ""},
		TimeMask:      {"1", m0TRM, ""},
		TimeBarrier:   {"4", m0TRM, ""},
		TimeYield:     {"1", m0TRM, ""},
		TimeWait:      {"2", m0TRM, "without the wait itself"},
	}
})

const ioPort = "1 at the single-cycle I/O port"

var figuresM0plus = sync.OnceValue(func() map[Timing]figure {
	return map[Timing]figure{
		TimeALU:       {"1", m0plusTRM, ""},
		TimeShift:     {"1", m0plusTRM, ""},
		TimeToPC:      {"2", m0plusTRM, ""},
		TimeLogicToPC: {"2", m0plusTRM, ""},
		TimeMul:       {"1 or 32", m0plusTRM, "the core is built with one multiplier or the other"},
		TimeLoad:      {"1 or 2", m0plusTRM, ioPort},
		TimeStore:     {"1 or 2", m0plusChip, ioPort},
		TimeLoadMany:  {"n+1", m0plusChip, ""},
		TimeStoreMany: {"n+1", m0plusChip, ""},
		TimePopPC:     {"n+3", m0plusChip, ""},
		TimeBranch:    {"2", m0plusChip, ""},
		TimeCond:      {"2" + condNot, m0plusChip, ""},
		TimeCall:      {"3", m0plusChip, ""},
		TimeExchange:  {"2", m0plusChip, ""},
		TimeCallReg:   {"2", m0plusChip, ""},
		TimeSystem:    {"3", m0plusChip, ""},
		TimeMask:      {"1", m0plusChip, ""},
		TimeBarrier:   {"3", m0plusChip, ""},
		TimeYield:     {"1", m0plusChip, ""},
		TimeWait:      {"2", m0plusChip, "without the wait itself"},
	}
})

// mainline are the figures that the tables of Cortex-M3 and M4 share.
func mainline(source string) map[Timing]figure {
	return map[Timing]figure{
		TimeALU:       {"1", source, ""},
		TimeShift:     {"1", source, ""},
		TimeMul:       {"1", source, ""},
		TimeToPC:      {"1+P", source, ""},
		TimeLogicToPC: {"1+P", source, ""},
		TimeLoad:      {"2", source, ""},
		TimeLoadPC:    {"2+P", source, ""},
		TimePair:      {"3", source, ""},
		TimeStore:     {"2", source, ""},
		TimeLoadMany:  {"n+1", source, ""},
		TimeStoreMany: {"n+1", source, ""},
		TimePopPC:     {"n+1+P", source, ""},
		TimeBranch:    {"1+P", source, ""},
		TimeCond:      {"1+P" + condNot, source, ""},
		TimeCall:      {"1+P", source, ""},
		TimeExchange:  {"1+P", source, ""},
		TimeCallReg:   {"1+P", source, ""},
		TimeTable:     {"2+P", source, ""},
		TimeSystem:    {"1 or 2", source, ""},
		TimeMask:      {"1 or 2", source, ""},
		TimeBarrier:   {"1+B", source, ""},
		TimeWait:      {"1 and the wait", source, ""},
		TimeDiv:       {"2–12", source, "the fewer the fewer bits the quotient has"},
		TimeIT:        {"1", source, "0 where it is folded into the 16-bit instruction before it"},
	}
}

var figuresM3 = sync.OnceValue(func() map[Timing]figure {
	return with(mainline(m3TRM), map[Timing]figure{
		TimeMulAdd:     {"2", m3TRM, ""},
		TimeMulLong:    {"3–5", m3TRM, "the fewer the smaller both factors are"},
		TimeMulLongAdd: {"4–7", m3TRM, "the fewer the smaller both factors are"},
	})
})

var figuresM4 = sync.OnceValue(func() map[Timing]figure {
	return with(mainline(m4TRM), map[Timing]figure{
		TimeMulAdd:          {"1", m4TRM, ""},
		TimeMulLong:         {"1", m4TRM, ""},
		TimeMulLongAdd:      {"1", m4TRM, ""},
		TimeDSP:             {"1", m4DSP, ""},
		TimeFloat:           {"1", m4FPU, "1 more where the next instruction takes a result of arithmetic"},
		TimeFloatMulAdd:     {"3", m4FPU, "1 more where the next instruction takes the result"},
		TimeFloatDiv:        {"14", m4FPU, "1 where no floating-point instruction follows"},
		TimeFloatMove:       {"2", m4FPU, ""},
		TimeFloatLoad:       {"2", m4FPU, ""},
		TimeFloatLoadDouble: {"3", m4FPU, ""},
		TimeFloatMany:       {"n+1", m4FPU, ""},
		TimeFloatManyDouble: {"1+2n", m4FPU, ""},
	})
})
