package isa

import (
	"fmt"
	"strings"
)

// rowsT32System lists the T32 encodings of system code: status registers,
// hints, exceptions and coprocessors (DDI 0406, chapters A6 and B9; DDI 0403,
// chapter B5; DDI 0487, chapter F5), as far as they are remembered. The special
// registers of the M profile are in t16.go: ARMv6-M has them too.
func rowsT32System() []*Row {
	var rows []*Row
	// In forms, '$' means the name.
	add := func(need Features, name, title, doc, bits, reads, writes, forms string) *Row {
		r := &Row{ID: "t-" + strings.ToLower(name), Name: name, Enc: "T1", Title: title, Doc: doc, Need: FeatT32 | need,
			Bits: bits, Reads: reads, Writes: writes, Forms: strings.ReplaceAll(forms, "$", strings.ToLower(name))}
		rows = append(rows, r)
		return r
	}
	never := func(r *Row) { r.IT = ITNever }

	// Status registers of the A and R profiles.
	mrs := add(FeatA32, "MRS", "Read a status register", "Rd = CPSR or SPSR",
		"11110 0 11111 R:1 (1111) 10 (0) 0 Rd:4 (00) 0 (0) (0000)", "", "", "mrs Rd^^, %status.R")
	mrs.ID, mrs.Does, mrs.Timing = "t-mrs", "Rd = status(R)", TimeSystem
	msr := add(FeatA32, "MSR (register)", "Write a status register", "the named parts of CPSR or SPSR = Rn",
		"11110 0 11100 psr[4] Rn:4 10 (0) 0 psr[3:0] (00) 0 (0) (0000)", "", "", "msr psr.psr, Rn^^")
	msr.ID, msr.Does, msr.Timing = "t-msr", "status psr = Rn", TimeSystem
	msr.Cautions = []Caution{{Op: 0, Rules: []Rule{noPart}, Text: "MSR without a part is unpredictable"}}
	banked := add(FeatA32|FeatVirt, "MRS (banked register)", "Read a register of another mode", "Rd = the banked register",
		"11110 0 11111 sysm[5] sysm[3:0] 10 (0) 0 Rd:4 (00) 1 sysm[4] (0000)", "", "Rd", "mrs Rd^^, %banked.sysm")
	banked.ID, banked.Timing = "t-mrs-banked", TimeSystem
	banked = add(FeatA32|FeatVirt, "MSR (banked register)", "Write a register of another mode", "the banked register = Rn",
		"11110 0 11100 sysm[5] Rn:4 10 (0) 0 sysm[3:0] (00) 1 sysm[4] (0000)", "Rn", "", "msr %banked.sysm, Rn^^")
	banked.ID, banked.Timing = "t-msr-banked", TimeSystem

	// Hints of full width.
	hint := func(need Features, code int, name, title, doc, forms string) *Row {
		r := add(need, name, title, doc, fmt.Sprintf("11110 0 11101 0 (1111) 10 (0) 0 (0) 000 %08b", code), "", "",
			fmt.Sprintf("%s\n~ u [Bar] nop {#%d}", forms, code))
		r.ID, r.Does = "t-"+strings.ToLower(name)+"-w", "nothing"
		return r
	}
	nop := hint(0, 0, "NOP", "No operation", "nothing", "$")
	nop.Enc, nop.IT = "T2", ITFree
	r := hint(0, 1, "YIELD", "Hint: spinning", "nothing but a hint to the scheduler", "$")
	r.Enc, r.Timing = "T2", TimeYield
	r = hint(0, 2, "WFE", "Wait for an event", "sleep until an event or an interrupt", "$")
	r.Enc, r.Timing = "T2", TimeWait
	r = hint(0, 3, "WFI", "Wait for an interrupt", "sleep until an interrupt", "$")
	r.Enc, r.Timing = "T2", TimeWait
	hint(0, 4, "SEV", "Send an event", "wake cores that wait in WFE", "$").Enc = "T2"
	hint(FeatV8, 5, "SEVL", "Send an event to this core", "the next WFE of this core goes on", "$").Enc = "T2"
	hint(FeatRAS, 16, "ESB", "Error synchronization barrier", "errors of accesses before it show before it ends", "$")
	never(hint(0, 20, "CSDB", "Barrier to speculation on data", "what follows uses no predicted values", "$"))
	add(FeatBar, "DBG", "Hint to a debugger", "nothing", "11110 0 11101 0 (1111) 10 (0) 0 (0) 000 1111 opt:4", "", "", "u $ ####opt\nd $ #opt").nothing().Timing = TimeUnknown
	rest := add(0, "NOP (hint)", "Hint by its number", "nothing, where the number has no meaning", "11110 0 11101 0 (1111) 10 (0) 0 (0) 000 hint:8", "", "", "~ u hint ##hint\n~ u [Bar] nop {#hint}")
	rest.ID, rest.Does, rest.Rest, rest.Timing = "t-hint-w", "nothing", true, TimeUnknown

	// Processor state.
	never(add(FeatA32, "CPS", "Change mode", "enter the mode", "11110 0 11101 0 (1111) 10 (0) 0 (0) 00 1 (000) mode:5", "", "", "$ ####mode").do("enter mode"))
	for i, n := range []string{"CPSIE", "CPSID"} {
		r := add(FeatA32, n, []string{"Enable interrupts", "Disable interrupts"}[i], "the mask bits named are changed; then the mode, if there is one",
			fmt.Sprintf("11110 0 11101 0 (1111) 10 (0) 0 (0) 1%d M:1 iflags:3 mode:5", i), "", "", "u $ %%aif.iflags ; M=0 mode=0\nu $ %%aif.iflags, ####mode ; M=1")
		never(r.do([]string{"unmask", "mask"}[i] + " iflags; if M: enter mode"))
		r.Enc = "T2"
		r.Cautions = noMaskBit
	}
	pan := &Row{ID: "t-setpan", Name: "SETPAN", Enc: "T1", Title: "Set Privileged Access Never", Doc: "PSTATE.PAN = imm1", Need: FeatT32 | FeatPAN,
		Bits: "10110110000 (1) imm1:1 (000)", Does: "nothing", Forms: "setpan ####imm1"}
	rows = append(rows, pan)
	add(FeatSB, "SB", "Speculation barrier", "nothing after it runs speculatively", "11110 0 11101 1 (1111) 10 (0) 0 (1111) 0111 (0000)", "", "", "$").nothing().Timing = TimeBarrier

	// Exceptions.
	smc := add(FeatA32|FeatSMC, "SMC", "Secure monitor call", "enter the monitor's exception handler; the constant is for its use",
		"111101111111 imm4:4 1000 (0000)(0000)(0000)", "", "", "$ ###imm4")
	smc.Does, smc.Last = "trap smc, imm4", LastAlways // DDI 0406, "SMC"
	hvc := add(FeatA32|FeatVirt, "HVC", "Hypervisor call", "enter the hypervisor's exception handler; the constant is for its use",
		"111101111110 imm16[15:12] 1000 imm16[11:0]", "", "", "$ ####imm16")
	hvc.Does, hvc.Late = "trap hvc, imm16", LateAlways
	for i := 1; i <= 3; i++ {
		add(FeatA32|FeatV8, fmt.Sprintf("DCPS%d", i), "Change state in debug", fmt.Sprintf("halted in a debugger: go to exception level %d", i),
			fmt.Sprintf("111101111000 1111 1000 0000 0000 00%02b", i), "", "", "$").Flow = FlowTrap
	}
	back := add(FeatA32, "SUBS PC, LR", "Return from an exception", "pc = lr - imm8; CPSR = SPSR",
		"11110 0 11110 1 (1110) 10 (0) 0 (1111) imm8:8", "", "", "u subs pc, lr, ##imm8\n~ u movs pc, lr ; imm8=0\n~ [Virt] eret ; imm8=0")
	back.ID, back.Does = "t-subs-pc", "pc = lr - imm8; restore"

	// Coprocessors: as in A32, with 14 and 15 for the condition.
	for _, two := range []string{"", "2"} {
		top := "1110"
		if two != "" {
			top = "1111"
		}
		mem := []Caution{pcWrittenBack(2, regIs("Rn", PC).and(indexed))}
		add(0, "CDP"+two, "Coprocessor operation", "the coprocessor does an operation of its own", top+" 1110 opc1:4 CRn:4 CRd:4 coproc:4 opc2:3 0 CRm:4", "", "",
			"$ p<coproc>, ####opc1, c<CRd>, c<CRn>, c<CRm>, ####opc2\n~ $ p<coproc>, ####opc1, c<CRd>, c<CRn>, c<CRm>")
		add(0, "MCR"+two, "Move to a coprocessor", "coprocessor register = Rt", top+" 1110 opc1:3 0 CRn:4 Rt:4 coproc:4 opc2:3 1 CRm:4", "Rt", "",
			"$ p<coproc>, ####opc1, Rt^^, c<CRn>, c<CRm>, ####opc2\n~ $ p<coproc>, ####opc1, Rt^^, c<CRn>, c<CRm>")
		mrc := add(0, "MRC"+two, "Move from a coprocessor", "Rt = coprocessor register; pc as Rt means the flags", top+" 1110 opc1:3 1 CRn:4 Rt:4 coproc:4 opc2:3 1 CRm:4", "", "Rt",
			"$ p<coproc>, ####opc1, Rt^^, c<CRn>, c<CRm>, ####opc2\n$ p<coproc>, ####opc1, %nzcv.Rt, c<CRn>, c<CRm>, ####opc2\n~ $ p<coproc>, ####opc1, pc, c<CRn>, c<CRm>, ####opc2 ; Rt=15\n"+
				"~ $ p<coproc>, ####opc1, Rt^^, c<CRn>, c<CRm>\n~ $ p<coproc>, ####opc1, %nzcv.Rt, c<CRn>, c<CRm>\n~ $ p<coproc>, ####opc1, pc, c<CRn>, c<CRm> ; Rt=15")
		mrc.Adjust = func(v Values, e Effects) Effects {
			if e.Writes.Has(PC) {
				e.Writes, e.FlagsWritten = 0, NZCV
			}
			return e
		}
		for _, l := range []string{"", "L"} {
			bit := map[string]string{"": "0", "L": "1"}[l]
			for i, op := range []string{"STC", "LDC"} {
				title := []string{"Store coprocessor registers", "Load coprocessor registers"}[i]
				doc := []string{"memory from Rn%s = coprocessor registers", "coprocessor registers = memory from Rn%s"}[i]
				reads, writes := []string{"Rn", "Rn mem"}[i], []string{"mem", ""}[i]
				name := op + two + l
				r := add(0, name, title, fmt.Sprintf(doc, " ± imm8*4"), fmt.Sprintf("%s 110 P:1 U:1 %s W:1 %d Rn:4 CRd:4 coproc:4 imm8:8", top, bit, i), reads, writes,
					"$ p<coproc>, c<CRd>, <Rn, imm8*4>\n~ $ p<coproc>, c<CRd>, @imm8*4 ; Rn=15 P=1")
				r.Reloc = RelocOffset
				r.Not, r.Access, r.Cautions = "xxxx1100xx0"+fmt.Sprint(i)+strings.Repeat("x", 20), 4, mem
				// Not indexed; the coprocessor gets imm8 for its own use.
				r = add(0, name, title, fmt.Sprintf(doc, "")+"; imm8 is for the coprocessor", fmt.Sprintf("%s 110 01 %s 0%d Rn:4 CRd:4 coproc:4 imm8:8", top, bit, i), reads, writes,
					"$ p<coproc>, c<CRd>, [Rn], {#imm8}")
				r.ID += "-opt"
				r.Access = 4
			}
		}
		add(0, "MCRR"+two, "Move two registers to a coprocessor", "coprocessor register = Rt, Rt2", top+" 11000100 Rt2:4 Rt:4 coproc:4 opc1:4 CRm:4", "Rt Rt2", "",
			"$ p<coproc>, ####opc1, Rt^^, Rt2^^, c<CRm>")
		add(0, "MRRC"+two, "Move two registers from a coprocessor", "Rt, Rt2 = coprocessor register", top+" 11000101 Rt2:4 Rt:4 coproc:4 opc1:4 CRm:4", "", "Rt Rt2",
			"$ p<coproc>, ####opc1, Rt^^, Rt2^^, c<CRm>").Cautions = []Caution{sameTwo(2, true)}
	}
	for _, r := range rows {
		if strings.Contains(r.Bits, "coproc") {
			r.Timing = TimeUnknown
		}
	}
	return rows
}

// do says what the row does.
func (r *Row) do(what string) *Row {
	r.Does = what
	return r
}

// nothing is do for hints and barriers.
func (r *Row) nothing() *Row { return r.do("nothing") }

// specialNames are the special registers of the M profile with their numbers
// (DDI 0419, DDI 0403 and DDI 0553, "MRS", table of SYSm): those of ARMv6-M;
// with main those of ARMv7-M; with v8 those of ARMv8-M.
func specialNames(write, main, v8 bool) *vocabulary {
	v := &vocabulary{}
	add := func(n uint32, names ...string) {
		for _, x := range names {
			v.words = append(v.words, x)
			v.vals = append(v.vals, n)
		}
	}
	for i, n := range []string{"apsr", "iapsr", "eapsr", "xpsr"} {
		if write {
			add(uint32(i), n+"_nzcvq")
		}
		add(uint32(i), n)
	}
	add(3, "psr")
	if write {
		add(3, "psr_nzcvq")
	}
	for _, x := range []struct {
		n        uint32
		name     string
		main, v8 bool
	}{{5, "ipsr", false, false}, {6, "epsr", false, false}, {7, "iepsr", false, false}, {8, "msp", false, false}, {9, "psp", false, false}, {10, "msplim", false, true}, {11, "psplim", false, true},
		{16, "primask", false, false}, {17, "basepri", true, false}, {18, "basepri_max", true, false}, {19, "faultmask", true, false}, {20, "control", false, false},
		{0x88, "msp_ns", false, true}, {0x89, "psp_ns", false, true}, {0x8a, "msplim_ns", true, true}, {0x8b, "psplim_ns", true, true}, {0x90, "primask_ns", false, true},
		{0x91, "basepri_ns", true, true}, {0x93, "faultmask_ns", true, true}, {0x94, "control_ns", false, true}, {0x98, "sp_ns", false, true}} {
		if (main || !x.main) && (v8 || !x.v8) {
			add(x.n, x.name)
		}
	}
	return v
}

// flagParts are the names of the APSR with the parts that the extension for
// signal processing has, for writing.
func flagParts(part string) *vocabulary {
	v := &vocabulary{}
	for i, n := range []string{"apsr", "iapsr", "eapsr", "xpsr", "psr"} {
		v.words = append(v.words, n+"_"+part)
		v.vals = append(v.vals, uint32(min(i, 3)))
	}
	return v
}

// namesV81M are names that only ARMv8.1-M has; they are known, and what is
// written with them is not looked at.
const namesV81M = "wls wlstp dls dlstp le letp lctp csel csinc csinv csneg cset csetm cinc cinv cneg clrm bf bfx bfl bflx bfcsel " +
	"pac pacbti aut autg pacg bxaut bti lsll lsrl asrl sqrshr sqrshrl sqshl sqshll srshr srshrl uqrshl uqrshll uqshl uqshll urshr urshrl"
