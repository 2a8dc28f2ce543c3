package isa_test

// acceptDisagreementsTData are the disagreements of TestAcceptT about data
// processing and system instructions.
var acceptDisagreementsTData = []disagreement{
	{`(?i)^\S+ unified refuse: (_\w+ )?\w+(\.[nw])? .*, (#|# ?)?-?\d+, #?-?\d+$`, `a constant of T32 has no rotation beside it (DDI 0406, "Modified immediate constants in Thumb instructions"), nor has a shift; the assembler drops it`},
	{`^\S+ \w+ refuse: (_\w+ )?(\w+)(\.[nw])? (\w+, )+\[?\.[+-]\d+\]?$`, `an address is no constant; the assembler takes its place in the section for one`},
	{` refuse: (_\w+ )?adr\w*(\.[nw])? \w+, [#$0-9-]`, `a number is no label (DDI 0406, "ADR"); the assembler takes it for a place in the section`},
	{` refuse: (_\w+ )?(add|sub)s\w*(\.[nw])? \w+, pc, `, `ADR sets no flags (DDI 0406, "ADR"); the assembler drops the S`},
	{` accept: _\w+ (add|sub)\w* (r[0-7], )?r[0-7], #?-?(0x)?\w+$`, `ADD and SUB with a plain constant may stand in an IT block (DDI 0406, "ADD (immediate, Thumb)", encoding T4); the assembler has them there for high registers and with the suffix .w alone`},
	{`^armv8-a\S* unified accept: (_\w+ )?(add|sub)\w*(\.w)? sp, sp, \w+, `, `any shift of what is added to sp (DDI 0487, "ADD, ADDS (SP plus register)", encoding T3); the assembler keeps to ARMv7's`},
	{`^armv8-m.base unified refuse: (mov|cpy)s?\w*(\.w)? `, `MOV (register) has no wide encoding in the baseline (DDI 0553, "MOV (register)"); the assembler takes it, but none of its other names`},
	{` refuse: (_\w+ )?(mov|cpy)\w*(\.w)? (sp, \w+|\w+, (sp|pc)), `, `SP cannot be shifted, nor hold what is (DDI 0406, "LSL (immediate)")`},
	{` refuse: (_\w+ )?cpy\w*(\.w)? `, `CPY is MOV (register), which has no wide encoding with pc or with sp twice, and ends an IT block where it writes pc (DDI 0406, "MOV (register)")`},
	{` refuse: (_\w+ )?movs?\w*(\.w)? \w+, \w+, (lsl|lsr|asr|ror) (sp|pc)$`, `no shift by sp or pc (DDI 0406, "LSL (register)")`},
	{` accept: (_\w+ )?movs?\w*\.w r\d, r\d, (lsl|lsr|asr) #?\d+$`, `a wide shift with flags exists (DDI 0406, "LSL (immediate)", encoding T2); the assembler has it by its own name alone`},
	{` refuse: (_\w+ )?pkh(bt|tb)\w*(\.w)? \w+, \w+, \w+, (lsl|asr) #?-?\d+$`, `PKHBT shifts by 0 to 31, PKHTB by 1 to 32 (DDI 0406, "PKH"); the assembler takes any number modulo 32`},
	{` refuse: (_\w+ )?crc32`, `CRC32 has three registers and no condition (DDI 0487, "CRC32")`},
	{` accept: (_\w+ )?hint`, `HINT with a number writes those without a name, as LLVM does`},
	{` refuse: (_\w+ )?udf`, `UDF takes 16 bits, stands in IT blocks with their condition, and is one of unified syntax where it is wide (DDI 0406, "UDF")`},
	{` refuse: (_\w+ )?hvc`, `HVC takes 16 bits (DDI 0406, "HVC"); the assembler cuts the rest off`},
	{` refuse: _\w+ nop\w*(\.[nw])? \{`, `a number in braces with NOP is of ARMv7 (DDI 0406, "NOP"); the assembler takes a sum on every architecture`},
	{`^armv(6t2|7)\S* \w+ refuse: (_\w+ )?dcps`, `DCPS1 to DCPS3 are of ARMv8 (DDI 0487, "DCPS1")`},
	{`^armv(6t2|7)\S* \w+ refuse: (_\w+ )?hlt`, `HLT is of ARMv8 (DDI 0487, "HLT")`},
	{`^armv7e?-m \w+ refuse: (_\w+ )?(mrs|msr)\w*(\.w)? (\w+, )?(msp|psp|msplim|psplim|primask|basepri|faultmask|control|sp)(_ns|lim)?\b`, `the stack limits and the registers of the other state are of ARMv8-M (DDI 0553, "MRS")`},
	{`^armv8-m.base \w+ refuse: (_\w+ )?(mrs|msr)\w*(\.w)? (\w+, )?(basepri(_max)?|faultmask|m?psplim|msplim)(_ns)?\b`, `BASEPRI and FAULTMASK are of the mainline (DDI 0553, "BASEPRI")`},
	{`-m\S* unified refuse: (_\w+ )?(subs|movs)\w*(\.w)? pc, lr`, `a return from an exception by SUBS is of the A and R profiles (DDI 0406, "SUBS PC, LR"); DDI 0403 does not have it`},
	{` accept: (_\w+ )?mrc2\w*(\.w)? p\d+, \S+ (?i)apsr_nzcv, `, `MRC2 takes APSR_nzcv as MRC does (DDI 0406, "MRC, MRC2")`},
	{` refuse: (_\w+ )?(ldc|stc)2?l?\w*(\.w)? \w+, \w+, \[\w+, \w+\]$`, `LDC has no register for an offset (DDI 0406, "LDC, LDC2 (immediate)"); the assembler drops it`},
	{` accept: (_\w+ )?(dbg|bfc)\w*(\.w)? .*#?429496729[67]\b`, `a constant is a word of 32 bits, as elsewhere`},
	{`^armv8-m.base unified accept: (_\w+ )?udf`, `UDF has its 32-bit encoding in the baseline (DDI 0553, "UDF")`},
	{` refuse: cps(ie|id)?(eq|ne|cs|lt|al)(\.[nw])? `, `CPS has no condition (DDI 0406, "CPS"); the assembler drops it`},
}
