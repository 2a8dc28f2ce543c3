package isa

import (
	"fmt"
	"strconv"
	"strings"
)

// rowsT16 lists the encodings of Thumb state. Names, encoding numbers,
// layouts and conditions follow the ARMv6-M Architecture Reference Manual
// (DDI 0419), chapter A6, and the ARMv7-A/R one (DDI 0406), chapter A8, which
// has the earlier architectures in its appendices.
//
// Order matters only among the forms of one mnemonic: the first that fits is
// the one that is assembled.
func rowsT16() []*Row {
	rows := []*Row{
		// Constants first: the short encodings that assemblers prefer.
		{ID: "mov-imm", Grows: GrowsNumber, Widens: FeatMovW, Reloc: RelocByte, Name: "MOV (immediate)", Enc: "T1", Title: "Move a constant",
			Bits: "00100 Rd:3 imm8:8", Does: "Rd, NZ? = imm8",
			Forms: "mov<s> Rd, ##imm8\n~ d movs Rd, ##imm8"},
		{ID: "cmp-imm", Grows: GrowsNumber, Name: "CMP (immediate)", Enc: "T1", Title: "Compare with a constant",
			Bits: "00101 Rn:3 imm8:8", Does: "NZCV = Rn - imm8",
			Forms: "cmp Rn, ##imm8\n~ cmps Rn, ##imm8"},
		{ID: "add-imm8", Grows: GrowsNumber, Reloc: RelocByte, Name: "ADD (immediate)", Enc: "T2", Title: "Add a constant",
			Bits: "00110 Rdn:3 imm8:8", Does: "Rdn, NZCV? = Rdn + imm8",
			Forms: `add<s> Rdn, ##imm8
				add<s> Rdn, Rdn, ##imm8
				~ u {n} sub<s> Rdn, ##-imm8
				~ d sub<s> Rdn, ##-imm8
				~ u {n} sub<s> Rdn, Rdn, ##-imm8
				~ d sub<s> Rdn, Rdn, ##-imm8`},
		{ID: "sub-imm8", Grows: GrowsNumber, Name: "SUB (immediate)", Enc: "T2", Title: "Subtract a constant",
			Bits: "00111 Rdn:3 imm8:8", Does: "Rdn, NZCV? = Rdn - imm8",
			Forms: `sub<s> Rdn, ##imm8
				sub<s> Rdn, Rdn, ##imm8
				~ u {n} add<s> Rdn, ##-imm8
				~ d add<s> Rdn, ##-imm8
				~ u {n} add<s> Rdn, Rdn, ##-imm8
				~ d add<s> Rdn, Rdn, ##-imm8`},
		{ID: "add-imm3", Grows: GrowsNumber, Name: "ADD (immediate)", Enc: "T1", Title: "Add a constant",
			Bits: "0001110 imm3:3 Rn:3 Rd:3", Does: "Rd, NZCV? = Rn + imm3",
			Forms: `add<s> Rd, Rn, ##imm3
				~ u {n} sub<s> Rd, Rn, ##-imm3
				~ d sub<s> Rd, Rn, ##-imm3
				~ d mov Rd, Rn
				~ d movs Rd, Rn`},
		{ID: "sub-imm3", Grows: GrowsNumber, Name: "SUB (immediate)", Enc: "T1", Title: "Subtract a constant",
			Bits: "0001111 imm3:3 Rn:3 Rd:3", Does: "Rd, NZCV? = Rn - imm3",
			Forms: `sub<s> Rd, Rn, ##imm3
				~ u {n} add<s> Rd, Rn, ##-imm3
				~ d add<s> Rd, Rn, ##-imm3`},

		{ID: "mov-low", Name: "MOV (register)", Enc: "T2", Title: "Move a register",
			Bits: "0000000000 Rm:3 Rd:3", Does: "Rd, NZ? = Rm",
			Forms: `u movs Rd, Rm
				d lsl Rd, Rm, #0
				~ u mov<s> Rd, Rm, lsl#0
				~ u mov<s> Rd, Rm, lsr#0
				~ u mov<s> Rd, Rm, asr#0
				~ u lsls Rd, Rm, ##0
				~ u lsls Rd=Rm, ##0
				~ d lsl Rd=Rm, ##0
				~ lsr<s> Rd, Rm, ##0
				~ lsr<s> Rd=Rm, ##0
				~ asr<s> Rd, Rm, ##0
				~ asr<s> Rd=Rm, ##0`},
		{ID: "lsl-imm", Name: "LSL (immediate)", Enc: "T1", Title: "Shift left",
			Bits: "00000 imm5:5 Rm:3 Rd:3", Does: "Rd, NZC? = lsl(Rm, imm5)", Not: "0000000000xxxxxx",
			Forms: `lsl<s> Rd, Rm, ##imm5
				~ lsl<s> Rd=Rm, ##imm5
				~ u mov<s> Rd, Rm, lsl#imm5`},
		{ID: "lsr-imm", Name: "LSR (immediate)", Enc: "T1", Title: "Shift right, zeros in",
			Bits: "00001 imm5:5 Rm:3 Rd:3", Does: "Rd, NZC? = lsr(Rm, to32(imm5))",
			Forms: `lsr<s> Rd, Rm, ##imm5%32
				~ lsr<s> Rd=Rm, ##imm5%32
				~ u mov<s> Rd, Rm, lsr#imm5%32`},
		{ID: "asr-imm", Name: "ASR (immediate)", Enc: "T1", Title: "Shift right, sign in",
			Bits: "00010 imm5:5 Rm:3 Rd:3", Does: "Rd, NZC? = asr(Rm, to32(imm5))",
			Forms: `asr<s> Rd, Rm, ##imm5%32
				~ asr<s> Rd=Rm, ##imm5%32
				~ u mov<s> Rd, Rm, asr#imm5%32`},
		{ID: "add-reg", Name: "ADD (register)", Enc: "T1", Title: "Add registers",
			Bits: "0001100 Rm:3 Rn:3 Rd:3", Does: "Rd, NZCV? = Rn + Rm",
			Forms: `add<s> Rd, Rn, Rm
				~ add<s> Rd=Rn, Rm`},
		{ID: "sub-reg", Name: "SUB (register)", Enc: "T1", Title: "Subtract registers",
			Bits: "0001101 Rm:3 Rn:3 Rd:3", Does: "Rd, NZCV? = Rn - Rm",
			Forms: `sub<s> Rd, Rn, Rm
				~ sub<s> Rd=Rn, Rm`},
	}

	// Data processing, low registers: 010000 op Rm Rdn.
	dp := func(op, id, name, title, forms, does string) {
		rows = append(rows, &Row{ID: id, Name: name, Enc: "T1", Title: title,
			Bits: "010000 " + op + " Rm:3 Rdn:3", Does: does, Forms: forms})
	}
	swap := func(m string) string {
		return m + "<s> Rdn, Rm\n~ " + m + "<s> Rdn, Rdn, Rm\n~ " + m + "<s> Rdn, Rm, Rdn"
	}
	straight := func(m string) string {
		return m + "<s> Rdn, Rm\n~ " + m + "<s> Rdn, Rdn, Rm"
	}
	shift := func(m string) string {
		return straight(m) + "\n~ u mov<s> Rdn, Rdn, " + m + "-Rm"
	}
	compare := func(m string) string {
		return m + " Rdn, Rm\n~ " + m + "s Rdn, Rm"
	}
	dp("0000", "and-reg", "AND (register)", "Bitwise and", swap("and"), "Rdn, NZ? = Rdn & Rm")
	dp("0001", "eor-reg", "EOR (register)", "Bitwise exclusive or", swap("eor"), "Rdn, NZ? = Rdn ^ Rm")
	// A shift by 0 keeps C, so that C is read.
	dp("0010", "lsl-reg", "LSL (register)", "Shift left by a register", shift("lsl"), "Rdn, NZC? = lsl(Rdn, uxb(Rm))")
	rows[len(rows)-1].Timing = TimeShift
	dp("0011", "lsr-reg", "LSR (register)", "Shift right by a register, zeros in", shift("lsr"), "Rdn, NZC? = lsr(Rdn, uxb(Rm))")
	rows[len(rows)-1].Timing = TimeShift
	dp("0100", "asr-reg", "ASR (register)", "Shift right by a register, sign in", shift("asr"), "Rdn, NZC? = asr(Rdn, uxb(Rm))")
	rows[len(rows)-1].Timing = TimeShift
	dp("0101", "adc-reg", "ADC (register)", "Add with carry", swap("adc"), "Rdn, NZCV? = Rdn + Rm + C")
	dp("0110", "sbc-reg", "SBC (register)", "Subtract with borrow", straight("sbc"), "Rdn, NZCV? = Rdn - Rm - !C")
	dp("0111", "ror-reg", "ROR (register)", "Rotate right by a register", shift("ror"), "Rdn, NZC? = ror(Rdn, uxb(Rm))")
	rows[len(rows)-1].Timing = TimeShift
	dp("1000", "tst-reg", "TST (register)", "Test bits", compare("tst"), "NZ = Rdn & Rm")
	dp("1001", "rsb-zero", "RSB (immediate)", "Negate",
		"u rsb<s> Rdn, Rm, ####0\nd neg Rdn, Rm\n~ u neg<s> Rdn, Rm\n~ u rsb<s> Rdn=Rm, ####0", "Rdn, NZCV? = 0 - Rm")
	dp("1010", "cmp-low", "CMP (register)", "Compare registers", compare("cmp"), "NZCV = Rdn - Rm")
	dp("1011", "cmn-reg", "CMN (register)", "Compare with the negative", compare("cmn"), "NZCV = Rdn + Rm")
	dp("1100", "orr-reg", "ORR (register)", "Bitwise or", swap("orr"), "Rdn, NZ? = Rdn | Rm")
	// C stays as it is from ARMv5T on; before, its value is unknown (DDI 0100, "MUL").
	dp("1101", "mul", "MUL", "Multiply", "mul<s> Rdn, Rm\n~ mul<s> Rdn, Rm, Rdn\n~ mul<s> Rdn, Rdn, Rm", "Rdn, NZ? = Rdn * Rm; C? = kept(C)")
	rows[len(rows)-1].Timing = TimeMul
	rows[len(rows)-1].Cautions = []Caution{{Op: 1, Lacks: FeatV6, Rules: []Rule{same("Rdn", "Rm")}, Text: mulFactor.Text}}
	dp("1110", "bic-reg", "BIC (register)", "Clear bits", straight("bic"), "Rdn, NZ? = Rdn & ~Rm")
	dp("1111", "mvn-reg", "MVN (register)", "Move inverted", "mvn<s> Rdn, Rm", "Rdn, NZ? = ~Rm")

	pcTarget := func(f string) Caution {
		return Caution{Op: 0, Rules: isPC(f), Deprecated: true,
			Text: "writing pc with ADD is deprecated, and stays in T16 code whatever bit 0 is"}
	}
	rows = append(rows,
		// High registers.
		&Row{ID: "add-high", Name: "ADD (register)", Enc: "T2", Title: "Add registers, flags kept",
			Bits: "01000100 Rdn[3] Rm:4 Rdn[2:0]", Does: "Rdn = Rdn + Rm",
			Forms: `{hi} add Rdn, Rm
				~ {hi} add Rdn, Rdn, Rm
				~ d {hi} add Rdn, Rm, Rdn
				~ u add Rdn+, Rm, Rdn
				~ u add Rdn, sp, Rdn ; Rm=13
				u [Hint] add Rdn, Rm
				~ u [Hint] add Rdn, Rdn, Rm
				~ u [Hint] add Rdn, Rm, Rdn`,
			Cautions: []Caution{pcTarget("Rdn")}},
		&Row{ID: "cmp-high", Name: "CMP (register)", Enc: "T2", Title: "Compare registers",
			Bits: "01000101 Rn[3] Rm:4 Rn[2:0]", Does: "NZCV = Rn - Rm",
			Forms: `d {hi} cmp Rn, Rm
				u {hi} cmp Rn^, Rm^
				~ d {hi} cmps Rn, Rm
				~ u {hi} cmps Rn^, Rm^`,
			Cautions: []Caution{{Op: 0, Rules: isPC("Rn", "Rm"),
				Text: "comparing with pc is unpredictable"},
				{Op: 0, Rules: []Rule{{"Rn and Rm low", func(v Values) bool { return v.Get("Rn") < 8 && v.Get("Rm") < 8 }}},
					Text: "this encoding of a compare is unpredictable with two low registers"}}},
		&Row{ID: "mov-high", LateToPC: true, Name: "MOV (register)", Enc: "T1", Title: "Move a register, flags kept",
			Bits: "01000110 Rd[3] Rm:4 Rd[2:0]", Does: "Rd = Rm",
			Forms: `{hi} mov Rd, Rm
				u [V6] mov Rd, Rm
				~ d {hi} movs Rd, Rm
				~ [V6] cpy Rd, Rm
				~ [!T32] nop ; Rd=8 Rm=8
				~ d [T32] nop ; Rd=8 Rm=8`},
		&Row{ID: "bx", Name: "BX", Enc: "T1", Title: "Branch and exchange",
			Bits: "010001110 Rm:4 (000)", Does: "exchange Rm", Not: "xxxxxxxxxxxxx1xx[Sec]",
			Forms: "bx Rm"},
		&Row{ID: "blx-reg", Name: "BLX (register)", Enc: "T1", Title: "Call and exchange",
			Bits: "010001111 Rm:4 (000)", Does: "lr = link; exchange Rm", Not: "xxxxxxxxxxxxx1xx[Sec]", Need: FeatV5T,
			Forms: "blx Rm^",
			Cautions: []Caution{{Op: 0, Rules: isPC("Rm"),
				Text: "BLX through pc is unpredictable"}}},

		// Literals.
		&Row{ID: "ldr-lit", Grows: GrowsAhead, Name: "LDR (literal)", Enc: "T1", Title: "Load a word from the literal pool",
			Bits: "01001 Rt:3 imm8:8", Does: "Rt = word[align(pc) + imm8*4]",
			Forms: `ldr Rt, [pc, #imm8*4]
				~ ldr Rt, [pc]
				~ ldr Rt, @imm8*4`},
	)

	// Load and store with a register offset: 0101 op Rm Rn Rt.
	mem := func(op, id, m, alias, name, title, does string) {
		forms := m + " Rt, [Rn, Rm]"
		if alias != "" {
			forms += "\n~ " + alias + " Rt, [Rn, Rm]"
		}
		rows = append(rows, &Row{ID: id, Name: name, Enc: "T1", Title: title, Bits: "0101 " + op + " Rm:3 Rn:3 Rt:3",
			Does: does, Forms: forms})
	}
	mem("000", "str-reg", "str", "", "STR (register)", "Store a word", "word[Rn + Rm] = Rt")
	mem("001", "strh-reg", "strh", "", "STRH (register)", "Store a halfword", "half[Rn + Rm] = Rt")
	mem("010", "strb-reg", "strb", "", "STRB (register)", "Store a byte", "byte[Rn + Rm] = Rt")
	mem("011", "ldrsb-reg", "ldrsb", "ldsb", "LDRSB (register)", "Load a signed byte", "Rt = sxb(byte[Rn + Rm])")
	mem("100", "ldr-reg", "ldr", "", "LDR (register)", "Load a word", "Rt = word[Rn + Rm]")
	mem("101", "ldrh-reg", "ldrh", "", "LDRH (register)", "Load a halfword", "Rt = half[Rn + Rm]")
	mem("110", "ldrb-reg", "ldrb", "", "LDRB (register)", "Load a byte", "Rt = byte[Rn + Rm]")
	mem("111", "ldrsh-reg", "ldrsh", "ldsh", "LDRSH (register)", "Load a signed halfword", "Rt = sxh(half[Rn + Rm])")

	// Load and store with a constant offset.
	imm := func(op, id, m, name, title, step, does string) {
		// One register only, without '!', is a plain load or store.
		one := map[string]string{
			"ldr": "\n~ u {out} ldmia Rn, {=Rt}\n~ u {out} ldm Rn, {=Rt}\n~ u {out} ldmfd Rn, {=Rt}",
			"str": "\n~ u stmia Rn, {=Rt}\n~ u stm Rn, {=Rt}\n~ u stmea Rn, {=Rt}",
		}[m]
		rows = append(rows, &Row{ID: id, Grows: GrowsNumber, Name: name, Enc: "T1", Title: title, Bits: op + " imm5:5 Rn:3 Rt:3",
			Does:  strings.ReplaceAll(does, "$", "Rn + imm5"+step),
			Forms: m + " Rt, [Rn, #imm5" + step + "]\n~ " + m + " Rt, [Rn]" + one})
	}
	imm("01100", "str-imm", "str", "STR (immediate)", "Store a word", "*4", "word[$] = Rt")
	imm("01101", "ldr-imm", "ldr", "LDR (immediate)", "Load a word", "*4", "Rt = word[$]")
	imm("01110", "strb-imm", "strb", "STRB (immediate)", "Store a byte", "", "byte[$] = Rt")
	imm("01111", "ldrb-imm", "ldrb", "LDRB (immediate)", "Load a byte", "", "Rt = byte[$]")
	imm("10000", "strh-imm", "strh", "STRH (immediate)", "Store a halfword", "*2", "half[$] = Rt")
	imm("10001", "ldrh-imm", "ldrh", "LDRH (immediate)", "Load a halfword", "*2", "Rt = half[$]")

	baseStored := storedBase(baseNotLowest)

	rows = append(rows,
		&Row{ID: "str-sp", Grows: GrowsNumber, Name: "STR (immediate)", Enc: "T2", Title: "Store a word on the stack",
			Bits: "10010 Rt:3 imm8:8", Does: "word[sp + imm8*4] = Rt",
			Forms: "str Rt, [sp, #imm8*4]\n~ str Rt, [sp]\n~ u stmia sp, {=Rt}\n~ u stm sp, {=Rt}\n~ u stmea sp, {=Rt}"},
		&Row{ID: "ldr-sp", Grows: GrowsNumber, Name: "LDR (immediate)", Enc: "T2", Title: "Load a word from the stack",
			Bits: "10011 Rt:3 imm8:8", Does: "Rt = word[sp + imm8*4]",
			Forms: "ldr Rt, [sp, #imm8*4]\n~ ldr Rt, [sp]\n~ u ldmia sp, {=Rt}\n~ u ldm sp, {=Rt}\n~ u ldmfd sp, {=Rt}"},
		&Row{ID: "adr", Grows: GrowsAhead, Name: "ADR", Enc: "T1", Title: "Address ahead of PC",
			Bits: "10100 Rd:3 imm8:8", Does: "Rd = align(pc) + imm8*4",
			Forms: `add Rd, pc, ##imm8*4
				~ d sub Rd, pc, ##-imm8*4
				~ adr Rd, @imm8*4`},
		&Row{ID: "add-sp", Grows: GrowsNumber, Name: "ADD (SP plus immediate)", Enc: "T1", Title: "Address on the stack",
			Bits: "10101 Rd:3 imm8:8", Does: "Rd = sp + imm8*4",
			Forms: "add Rd, sp, ##imm8*4\n~ d sub Rd, sp, ##-imm8*4"},
		&Row{ID: "inc-sp", Grows: GrowsNumber, Name: "ADD (SP plus immediate)", Enc: "T2", Title: "Free stack",
			Bits: "101100000 imm7:7", Does: "sp = sp + imm7*4",
			Forms: `add sp, ##imm7*4
				~ add sp, sp, ##imm7*4
				~ u {n} sub sp, ##-imm7*4
				~ d sub sp, ##-imm7*4
				~ u {n} sub sp, sp, ##-imm7*4
				~ d sub sp, sp, ##-imm7*4`},
		&Row{ID: "dec-sp", Grows: GrowsNumber, Name: "SUB (SP minus immediate)", Enc: "T1", Title: "Take stack",
			Bits: "101100001 imm7:7", Does: "sp = sp - imm7*4",
			Forms: `sub sp, ##imm7*4
				~ sub sp, sp, ##imm7*4
				~ u {n} add sp, ##-imm7*4
				~ d add sp, ##-imm7*4
				~ u {n} add sp, sp, ##-imm7*4
				~ d add sp, sp, ##-imm7*4`},
	)

	// Extend and reverse, ARMv6.
	unary := func(bits, id, m, name, title, value string) {
		forms := m + " Rd, Rm"
		if m[1:3] == "xt" {
			forms += "\n~ " + forms + ", ror#0"
		}
		rows = append(rows, &Row{ID: id, Name: name, Enc: "T1", Title: title, Need: FeatV6,
			Bits: bits + " Rm:3 Rd:3", Does: "Rd = " + value, Forms: forms})
	}
	unary("1011001000", "sxth", "sxth", "SXTH", "Sign-extend a halfword", "sxh(Rm)")
	unary("1011001001", "sxtb", "sxtb", "SXTB", "Sign-extend a byte", "sxb(Rm)")
	unary("1011001010", "uxth", "uxth", "UXTH", "Zero-extend a halfword", "uxh(Rm)")
	unary("1011001011", "uxtb", "uxtb", "UXTB", "Zero-extend a byte", "uxb(Rm)")
	unary("1011101000", "rev", "rev", "REV", "Reverse the bytes of a word", "rev(Rm)")
	unary("1011101001", "rev16", "rev16", "REV16", "Reverse the bytes of each halfword", "rev16(Rm)")
	unary("1011101011", "revsh", "revsh", "REVSH", "Reverse the bytes of a halfword, sign-extend", "sxh(rev16(Rm))")
	rows[len(rows)-1].Doc = "Rd = Rm[7:0]:Rm[15:8], signed"

	empty := func(op int) Caution {
		return Caution{Op: op, Rules: []Rule{emptyList}, Text: "an empty register list is unpredictable"}
	}
	// DDI 0419, "CPS": bit F should be zero.
	noFaultMask := Caution{Op: 0, Lacks: FeatA32 | FeatT32, Rules: []Rule{{"letter f", func(v Values) bool { return v.Get("iflags")&1 != 0 }}},
		Text: "the letter f means FAULTMASK, which this core does not have"}
	rows = append(rows,
		&Row{ID: "push", Timing: TimeStoreMany, Name: "PUSH", Enc: "T1", Title: "Push registers", Doc: "sp = sp - 4 for each register; store them, lowest register at the lowest address",
			Bits: "1011010 M:1 list:8", Does: "low := sp - 4*count(list); words[low] = list; sp = low",
			Forms:    "push {list+lr}",
			Cautions: []Caution{empty(0)}},
		&Row{ID: "pop", Last: LastNever, Timing: TimeLoadMany, Name: "POP", Enc: "T1", Title: "Pop registers", Doc: "load the registers, lowest from the lowest address; sp = sp + 4 for each register",
			Bits: "1011110 M:1 list:8", Does: "list = words[sp]; sp = sp + 4*count(list)",
			Forms:    "pop {list+pc}\n~ u ldmia sp!, {list}\n~ u ldmfd sp!, {list}\n~ u ldm sp!, {list}",
			Cautions: []Caution{empty(0)}},
		&Row{ID: "setend", IT: ITNever, Name: "SETEND", Enc: "T1", Title: "Set the byte order of data", Doc: "later data accesses are little- or big-endian",
			Bits: "10110110010 (1) E:1 (000)", Does: "setend E", Need: FeatV6 | FeatSetend,
			Forms: "setend %endian.E"},
		&Row{ID: "cpsie", Timing: TimeMask, IT: ITNever, Name: "CPS", Enc: "T1", Title: "Enable interrupts", Doc: "clear the mask bits named",
			Bits: "10110110011 0 (0) iflags:3", Does: "unmask iflags", Need: FeatV6,
			Forms: "[A32] cpsie %%aif.iflags\n[M] cpsie %%if.iflags", Cautions: []Caution{noFaultMask}},
		&Row{ID: "cpsid", Timing: TimeMask, IT: ITNever, Name: "CPS", Enc: "T1", Title: "Disable interrupts", Doc: "set the mask bits named",
			Bits: "10110110011 1 (0) iflags:3", Does: "mask iflags", Need: FeatV6,
			Forms: "[A32] cpsid %%aif.iflags\n[M] cpsid %%if.iflags", Cautions: []Caution{noFaultMask}},
		&Row{ID: "cbz", IT: ITNever, Name: "CBZ", Enc: "T1", Title: "Branch forward if zero", Doc: "if Rn == 0 go to the label, 0 to 126 bytes ahead of PC",
			Bits: "1011 0 0 i[5] 1 i[4:0] Rn:3", Does: "if Rn == 0: branch pc + i*2", Need: FeatCBZ,
			Forms: "cbz Rn, ~i*2"},
		&Row{ID: "cbnz", IT: ITNever, Name: "CBNZ", Enc: "T1", Title: "Branch forward if not zero", Doc: "if Rn != 0 go to the label, 0 to 126 bytes ahead of PC",
			Bits: "1011 1 0 i[5] 1 i[4:0] Rn:3", Does: "if Rn != 0: branch pc + i*2", Need: FeatCBZ,
			Forms: "cbnz Rn, ~i*2"},
		&Row{ID: "hlt", Late: LateNever, IT: ITNeutral, Timing: TimeUnknown, Name: "HLT", Enc: "T1", Title: "Halting breakpoint", Doc: "stop in a debugger",
			Bits: "1011101010 imm6:6", Does: "trap hlt, imm6", Need: FeatHlt, Forms: "hlt ####imm6\n~ hlt"},
		&Row{ID: "bkpt", Late: LateNever, IT: ITNeutral, Timing: TimeUnknown, Name: "BKPT", Enc: "T1", Title: "Breakpoint", Doc: "enter the debugger; the constant is for its use",
			Bits: "10111110 imm8:8", Does: "trap bkpt, imm8", Need: FeatV5T,
			Forms: "bkpt ####imm8\n~ bkpt"},
	)
	hint := func(op, id, name, title, doc string) {
		number, _ := strconv.ParseUint(op, 2, 4)
		syntax := ""
		if id == "nop" {
			syntax = "u "
		}
		rows = append(rows, &Row{ID: id, Name: name, Enc: "T1", Title: title, Doc: doc, Need: FeatHint,
			Bits: "10111111 " + op + " 0000", Does: "nothing", Forms: syntax + id + fmt.Sprintf("\n~ u [T32] [Bar] nop {#%d}", number)})
	}
	hint("0000", "nop", "NOP", "No operation", "nothing")
	rows[len(rows)-1].IT = ITFree
	hint("0001", "yield", "YIELD", "Hint: spinning", "nothing but a hint to the scheduler")
	rows[len(rows)-1].Timing = TimeYield
	hint("0010", "wfe", "WFE", "Wait for an event", "sleep until an event or an interrupt")
	rows[len(rows)-1].Timing = TimeWait
	hint("0011", "wfi", "WFI", "Wait for an interrupt", "sleep until an interrupt")
	rows[len(rows)-1].Timing = TimeWait
	hint("0100", "sev", "SEV", "Send an event", "wake cores that wait in WFE")
	hint("0101", "sevl", "SEVL", "Send an event to this core", "the next WFE of this core goes on")
	rows[len(rows)-1].Need |= FeatT32 | FeatV8
	rows = append(rows,
		&Row{ID: "hint", Timing: TimeUnknown, Late: LateNever, Rest: true, Name: "NOP-compatible hint", Enc: "T1", Title: "Unallocated hint", Doc: "executes as NOP",
			Bits: "10111111 hint:4 0000", Does: "nothing", Not: "1011111100xx0000 1011111101000000", Need: FeatHint, // NOP to SEV
			Forms: "~ u [T32] hint ##hint\n~ u [T32] [Bar] nop {#hint}"},
		&Row{ID: "it", Timing: TimeIT, IT: ITNever, Name: "IT", Enc: "T1", Title: "If-then block", Doc: "the next one to four instructions are conditional",
			Bits: "10111111 c:4 mask:4", Does: "it c, mask", Not: "xxxxxxxxxxxx0000", Need: FeatT32,
			Forms: itForms(),
			Cautions: []Caution{{Op: 0, Rules: []Rule{
				{"no condition", func(v Values) bool { return v.Get("c") == 15 }},
				{"al with an else", func(v Values) bool { m := v.Get("mask"); return v.Get("c") == 14 && m&(m-1) != 0 }},
			}, Text: "the condition AL has no else"}}},
		&Row{ID: "stm", Timing: TimeStoreMany, Name: "STM (STMIA, STMEA)", Enc: "T1", Title: "Store registers, address going up", Doc: "store the list from Rn up; Rn = Rn + 4 for each register",
			Bits: "11000 Rn:3 list:8", Does: "words[Rn] = list; Rn = Rn + 4*count(list)",
			Forms:    multipleForms("stmia", "stm", "stmea"),
			Cautions: []Caution{baseStored, empty(1)}},
		&Row{ID: "ldm-wb", Timing: TimeLoadMany, Name: "LDM (LDMIA, LDMFD)", Enc: "T1", Title: "Load registers, address going up", Doc: "load the list from Rn up; Rn = Rn + 4 for each register, unless Rn is in the list",
			Bits: "11001 Rn:3 list:8", Does: "list = words[Rn]; if lsr(list, #Rn) & 1 == 0: Rn = Rn + 4*count(list)",
			Forms:    multipleForms("ldmia", "ldm", "ldmfd"),
			Cautions: []Caution{empty(1)}},
		&Row{ID: "b-cond", Grows: GrowsFar, Name: "B", Enc: "T1", Title: "Branch on a condition", Doc: "if the condition holds go to the label, -256 to 254 bytes from PC",
			Bits: "1101 c:4 simm8:8", Does: "if holds(c): branch pc + simm8*2", Not: "1101111xxxxxxxxx",
			Forms: "b<c> ~simm8*2"},
		&Row{ID: "udf", Late: LateNever, IT: ITFree, Name: "UDF", Enc: "T1", Title: "Permanently undefined", Doc: "raise the undefined-instruction exception",
			Bits: "11011110 imm8:8", Does: "undefined",
			Forms: "udf ####imm8\n~ udf"},
		&Row{ID: "svc", Name: "SVC", Enc: "T1", Title: "Supervisor call", Doc: "enter the supervisor's exception handler; the constant is for its use",
			Bits: "11011111 imm8:8", Does: "trap svc, imm8", Need: FeatSVC,
			Forms: "u svc ###imm8\nd swi ###imm8\n~ d svc ###imm8\n~ u swi ###imm8"},
		&Row{ID: "b", Grows: GrowsFar, Name: "B", Enc: "T2", Title: "Branch", Doc: "go to the label, -2048 to 2046 bytes from PC",
			Bits: "11100 simm11:11", Does: "branch pc + simm11*2",
			Forms: "b ~simm11*2"},

		// 32-bit encodings of Thumb state before T32.
		// BL and BLX reach 4 MB with the bits J1 and J2 set; where these are bits
		// of the offset, 16 MB (DDI 0406C, A8.8.25; on ARMv6-M DDI 0419, "BL").
		&Row{ID: "bl", Name: "BL", Enc: "T1", Title: "Call", Doc: "lr = return address with bit 0 set; go to the label, -4 MB to 4 MB from PC",
			Bits: "11110 simm22[21:11] 11111 simm22[10:0]", Does: "lr = link; branch pc + simm22*2", Lack: FeatWideB,
			Forms: "bl ~simm22*2"},
		&Row{ID: "bl-far", Name: "BL", Enc: "T1", Title: "Call", Doc: "lr = return address with bit 0 set; go to the label, -16 MB to 16 MB from PC",
			Bits: "11110 bl[23] bl[20:11] 11 bl[22] 1 bl[21] bl[10:0]", Does: "lr = link; branch pc + bl*2", Need: FeatWideB,
			Forms: "bl ~bl*2"},
		&Row{ID: "blx-label", Name: "BLX (immediate)", Enc: "T2", Title: "Call A32 code", Doc: "lr = return address with bit 0 set; go to the label in A32 state",
			Bits: "11110 simm21[20:10] 11101 simm21[9:0] 0", Does: "lr = link; toA32 align(pc) + simm21*4", Need: FeatV5T | FeatA32,
			Forms: "blx @simm21*4"},
		&Row{ID: "blx-far", Name: "BLX (immediate)", Enc: "T2", Title: "Call A32 code", Doc: "lr = return address with bit 0 set; go to the label in A32 state",
			Bits: "11110 bl[23] bl[20:11] 11 bl[22] 0 bl[21] bl[10:1] 0", Does: "lr = link; toA32 align(pc) + bl*2", Not: "xxxxxxxxxxxxxxxxxx1x1xxxxxxxxxxx", Need: FeatV5T | FeatA32 | FeatWideB,
			Forms: "blx @bl*4"},
		&Row{ID: "msr", Timing: TimeSystem, Name: "MSR (register)", Enc: "T1", Title: "Write a special register", Doc: "special register = Rn",
			Bits: "11110 0 1110 0 (0) Rn:4 10 (0) 0 mask:2 (00) SYSm:8", Does: "special SYSm, mask = Rn", Need: FeatM,
			Forms: "[!T32] [!Sec] msr %wspecial.SYSm, Rn^^ ; mask=2\n[T32] [!Sec] msr %wspecial7.SYSm, Rn^^ ; mask=2\n" +
				"[!T32] [Sec] msr %wspecial8b.SYSm, Rn^^ ; mask=2\n[T32] [Sec] msr %wspecial8.SYSm, Rn^^ ; mask=2\n" +
				"[DSP] msr %parts_g.SYSm, Rn^^ ; mask=1\n[DSP] msr %parts_nzcvqg.SYSm, Rn^^ ; mask=3"},
		&Row{ID: "mrs", Timing: TimeSystem, Name: "MRS", Enc: "T1", Title: "Read a special register",
			Bits: "11110 0 1111 1 (0) (1111) 10 (0) 0 Rd:4 SYSm:8", Does: "Rd = special(SYSm)", Need: FeatM,
			Forms: "[!T32] [!Sec] mrs Rd^^, %special.SYSm\n[T32] [!Sec] mrs Rd^^, %special7.SYSm\n[!T32] [Sec] mrs Rd^^, %special8b.SYSm\n[T32] [Sec] mrs Rd^^, %special8.SYSm"},
	)
	barrier := func(op, id, name, title, doc string) {
		rows = append(rows, &Row{ID: id, Name: name, Enc: "T1", Title: title, Doc: doc, Need: FeatBar, Timing: TimeBarrier,
			Bits: "11110 0 111 01 1 (1111) 10 (0) 0 (1111) " + op + " opt:4", Does: "nothing", Forms: id + " %barrier.opt\n[V8] " + id + " %loads.opt\n~ " + id + " ; opt=15"})
	}
	barrier("0100", "dsb", "DSB", "Data synchronization barrier", "wait until all memory accesses before it are done")
	rows[len(rows)-1].Forms += "\n~ [T32] ssbb ; opt=0\n~ [T32] pssbb ; opt=4" + // DDI 0487, "SSBB", "PSSBB": codes of DSB before
		"\n~ [T32] [V8R] dfb ; opt=12" // DDI 0568, "DFB"
	barrier("0101", "dmb", "DMB", "Data memory barrier", "order the memory accesses before it and after it")
	rows = append(rows,
		&Row{ID: "isb", Timing: TimeBarrier, Name: "ISB", Enc: "T1", Title: "Instruction synchronization barrier", Doc: "fetch anew what comes after it", Need: FeatBar,
			Bits: "11110 0 111 01 1 (1111) 10 (0) 0 (1111) 0110 opt:4", Does: "nothing", Forms: "isb %sy.opt\n~ isb ; opt=15"},
		&Row{ID: "udf-w", IT: ITFree, Name: "UDF", Enc: "T2", Title: "Permanently undefined", Doc: "raise the undefined-instruction exception",
			Bits: "111101111111 imm16[15:12] 1010 imm16[11:0]", Does: "undefined", Need: FeatHint,
			Forms: "u udf ####imm16\n~ u udf"},
	)
	return rows
}

// multipleForms spells a multiple load or store. The divided syntax takes it
// without the '!' too, and writes the base back all the same. In the unified
// syntax a load has no '!' when the base register is in the list, as it is not
// written back then (Arm ARM, "LDM/LDMIA/LDMFD", encoding T1).
func multipleForms(names ...string) string {
	out := ""
	for i, n := range names {
		a := "~ "
		if i == 0 {
			a = ""
		}
		if n[0] == 'l' {
			out += a + "u {out} " + n + " Rn!, {list}\n" + a + "u {in} " + n + " Rn, {list}\n" + a + "d {vain} " + n + " Rn!, {list}\n"
		} else {
			out += a + n + " Rn!, {list}\n"
		}
		out += "~ d {blunt} " + n + " Rn, {list}\n"
	}
	return out
}

// itForms spells IT with its pattern of T (then) and E (else): the mask holds,
// for each further slot, the low bit of its condition, then a one. Since the
// low bit depends on the first condition, each pattern has a form for even
// and one for odd conditions (Arm ARM, "IT", "mask").
func itForms() string {
	out := ""
	var rec func(name string, mask, n, low uint32)
	rec = func(name string, mask, n, low uint32) {
		vocab := "even"
		if low == 1 {
			vocab = "odd"
		}
		out += fmt.Sprintf("u %s %%%s.c ; mask=%d\n", name, vocab, mask|8>>n)
		if n < 3 {
			rec(name+"t", mask|low<<(3-n), n+1, low)
			rec(name+"e", mask|(1-low)<<(3-n), n+1, low)
		}
	}
	rec("it", 0, 0, 0)
	rec("it", 0, 0, 1)
	return out
}
