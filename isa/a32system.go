package isa

import (
	"math/bits"
	"strings"
)

// rowsSystem lists the A32 encodings for system code, those of the extensions
// of ARMv7, and those that ARMv8 added to A32 (DDI 0406, chapters A8 and B9;
// DDI 0487, chapter F5).
func rowsSystem() []*Row {
	var rows []*Row
	add := func(need Features, name, title, doc, bits, reads, writes, forms string) *Row {
		r := &Row{ID: "a-" + strings.ToLower(name), Name: name, Enc: "A1", Title: title, Doc: doc, Need: need,
			Bits: bits, Reads: reads, Writes: writes, Forms: strings.ReplaceAll(forms, "$", strings.ToLower(name))}
		r.Timing = TimeUnknown // no table of the cores that have them
		rows = append(rows, r)
		return r
	}
	does := func(need Features, name, title, doc, bits, does, forms string) *Row {
		r := add(need, name, title, doc, bits, "", "", forms)
		r.Does = does
		return r
	}
	unconditional := []Caution{{Op: 0, Rules: []Rule{conditional}, Text: "a condition on this instruction is unpredictable"}}

	// Two ADDs or SUBs: the rest of the distance in imm12b, with a NOP where
	// there is none. It is no instruction of the manuals but common practice.
	adrl := add(0, "ADRL", "Address, far", "Rd = address of the label, by two instructions",
		"cond:4 001 op:4 0 1111 Rd:4 imm12:12 | imm12b:12 two:1", "pc", "Rd", "adr|l Rd, @two")
	adrl.Second, adrl.Timing = adrlSecond, TimeTwo

	// Exceptions.
	for _, m := range []struct{ pu, name, older string }{{"0 1", "IA", "EA"}, {"1 1", "IB", "FA"}, {"0 0", "DA", "ED"}, {"1 0", "DB", "FD"}} {
		names := []string{"$", "~ srs" + strings.ToLower(m.older)}
		if m.name == "IA" {
			names = append(names, "~ srs")
		}
		var forms []string
		for _, n := range names {
			// Assemblers take the '!' after the mode as well.
			alias := "~ " + strings.TrimPrefix(n, "~ ")
			forms = append(forms, n+" sp!?, ####mode", alias+" sp!?, ####mode!?", alias+" ####mode!?")
		}
		srs := add(FeatV6, "SRS"+m.name, "Store the state for a return", "lr and SPSR to the stack of the mode; with '!' its sp moves",
			"1111 100 "+m.pu+" 1 W:1 0 (1101) (0000) (0101) (000) mode:5", "sp lr", "mem", strings.Join(forms, "\n"))
		// The sp of the mode may be the current one.
		srs.Access, srs.Adjust = 4, func(v Values, e Effects) Effects {
			if v.Get("W") != 0 {
				e.Writes |= 1 << SP
			}
			return e
		}
	}
	smc := add(FeatSMC, "SMC", "Secure monitor call", "enter the monitor's exception handler; the constant is for its use",
		"cond:4 00010110 (0000)(0000)(0000) 0111 imm4:4", "", "", "$ ###imm4")
	smc.Does, smc.Late = "trap smc, imm4", LateAlways
	hvc := add(FeatVirt, "HVC", "Hypervisor call", "enter the hypervisor's exception handler; the constant is for its use",
		"cond:4 00010100 imm16[15:4] 0111 imm16[3:0]", "", "", "$ ###imm16")
	hvc.Does, hvc.Cautions, hvc.Late = "trap hvc, imm16", unconditional, LateAlways
	hlt := add(FeatHlt, "HLT", "Halt", "enter the debugger, or ask a host for a service; the constant is for its use",
		"1110 00010000 imm16[15:4] 0111 imm16[3:0]", "", "", "$ ####imm16\n~ $")
	hlt.Does = "trap hlt, imm16"
	eret := add(FeatVirt, "ERET", "Return from an exception", "pc = lr, or in Hyp mode the address kept for the return; CPSR = SPSR",
		"cond:4 00010110 (0000)(0000)(0000) 0110 (1110)", "", "", "$")
	eret.Does = "pc = lr; restore"
	udf := add(0, "UDF", "Permanently undefined", "always the exception for an undefined instruction; the constant is for its handler",
		"cond:4 01111111 imm16[15:4] 1111 imm16[3:0]", "", "", "$ ####imm16\n~ $")
	udf.Does, udf.Cautions, udf.Timing = "undefined", unconditional, TimeUndefined

	// Banked registers.
	mrs := add(FeatVirt, "MRS-banked", "Read a register of another mode", "Rd = the banked register",
		"cond:4 00010 sysm[5] 00 sysm[3:0] Rd:4 (00) 1 sysm[4] 0000 (0000)", "", "Rd", "mrs Rd^, %banked.sysm")
	mrs.Name = "MRS (banked register)"
	msr := add(FeatVirt, "MSR-banked", "Write a register of another mode", "the banked register = Rn",
		"cond:4 00010 sysm[5] 10 sysm[3:0] (1111) (00) 1 sysm[4] 0000 Rn:4", "Rn", "", "msr %banked.sysm, Rn")
	msr.Name, msr.Cautions = "MSR (banked register)", pcHere("Rn")

	// Integers.
	for _, d := range []struct{ name, op, how string }{{"SDIV", "001", "signed"}, {"UDIV", "011", "unsigned"}} {
		does(FeatDivA32, d.name, "Divide, "+d.how, "Rd = Rn / Rm, "+d.how+", rounded towards 0; 0 for a division by 0",
			"cond:4 01110 "+d.op+" Rd:4 (1111) Rm:4 0001 Rn:4", mediaDoes(d.name), "$ Rd^, Rn^, Rm^\n~ $ Rd=Rn^, Rm^")
	}
	for _, c := range []struct{ c, bit string }{{"", "0"}, {"C", "1"}} {
		for _, s := range []struct{ name, op, unit string }{{"B", "00", "byte"}, {"H", "01", "halfword"}, {"W", "10", "word"}} {
			poly := "0x04C11DB7"
			if c.c != "" {
				poly = "0x1EDC6F41"
			}
			does(FeatCRC, "CRC32"+c.c+s.name, "Checksum of a "+s.unit, "Rd = Rn brought on by the "+s.unit+" in Rm, polynomial "+poly,
				"1110 00010 "+s.op+" 0 Rn:4 Rd:4 (00) "+c.bit+" (0) 0100 Rm:4", mediaDoes("CRC32"+c.c+s.name), "$ Rd, Rn, Rm").Cautions = pcHere("Rd", "Rn", "Rm")
		}
	}

	// Loads and stores that order memory accesses.
	for _, x := range []struct {
		suffix, op string
		access     uint8
	}{{"", "00", 4}, {"B", "10", 1}, {"H", "11", 2}} {
		l := does(FeatLDA, "LDA"+x.suffix, "Load, before all that follows", "Rt = memory at Rn; later accesses come after it",
			"cond:4 00011"+x.op+"1 Rn:4 Rt:4 (11)00 1001 (1111)", exclusiveDoes("LDA", x.access, "Rn", ""), "$ Rt^, [Rn^]")
		s := does(FeatLDA, "STL"+x.suffix, "Store, after all that is before", "memory at Rn = Rt; earlier accesses come before it",
			"cond:4 00011"+x.op+"0 Rn:4 (1111) (11)00 1001 Rt:4", exclusiveDoes("STL", x.access, "Rn", ""), "$ Rt^, [Rn^]")
		l.Cautions, s.Cautions = pcHere("Rn", "Rt"), pcHere("Rn", "Rt")
	}
	for _, x := range []struct {
		suffix, op string
		access     uint8
	}{{"", "00", 4}, {"D", "01", 8}, {"B", "10", 1}, {"H", "11", 2}} {
		double := x.suffix == "D"
		need, rt, pair := FeatLDA, "Rt^", ""
		if double {
			need, rt, pair = FeatLDA|FeatV8, "Rt%2", ", next(Rt)"
		}
		forms := func(front string) string {
			out := "$ " + front + rt + pair + ", [Rn^]"
			if double {
				out += "\n~ $ " + front + rt + ", [Rn^]"
			}
			return out
		}
		l := does(need, "LDAEX"+x.suffix, "Load, before all that follows, and watch the address", "Rt = memory at Rn; marks the address for exclusive access",
			"cond:4 00011"+x.op+"1 Rn:4 Rt:4 (11)10 1001 (1111)", exclusiveDoes("LDAEX", x.access, "Rn", "next(Rt)"), forms(""))
		l.Cautions = exclusiveLoad(double)
		s := does(need, "STLEX"+x.suffix, "Store if nobody else has, after all that is before", "memory at Rn = Rt and Rd = 0 if the mark holds, else Rd = 1",
			"cond:4 00011"+x.op+"0 Rn:4 Rd:4 (11)10 1001 Rt:4", exclusiveDoes("STLEX", x.access, "Rn", "next(Rt)"), forms("Rd^, "))
		s.Cautions = exclusiveStore(double)
	}

	// Hints and barriers.
	does(FeatMP, "PLDW", "Preload hint for data, to write", "hint: memory at Rn ± imm12 will be written", "11110101 U:1 001 Rn:4 (1111) imm12:12", "nothing addsub(Rn, U, imm12)", "$ [Rn, ±imm12]\n~ $ @imm12 ; Rn=15").Cautions = pcHere("Rn")
	pldw := does(FeatMP, "PLDW-reg", "Preload hint for data, to write", "hint: memory at Rn ± shifted Rm will be written", "11110111 U:1 001 Rn:4 (1111) imm5:5 type:2 0 Rm:4", "nothing addsub(Rn, U, shift(Rm, type, imm5))", "pldw [Rn, ±Rm, shift]")
	pldw.Name, pldw.Cautions = "PLDW (register)", pcHere("Rn", "Rm")
	does(FeatV8, "SEVL", "Send an event to this core", "the next WFE of this core goes on", "cond:4 00110010 0000 (1111) (0000) 0000 0101", "nothing", "$")
	does(FeatRAS, "ESB", "Error synchronization barrier", "errors of accesses before it show before it ends", "1110 00110010 0000 (1111) (0000) 0001 0000", "nothing", "$")
	does(FeatV6K, "CSDB", "Barrier to speculation on data", "what follows uses no predicted values", "1110 00110010 0000 (1111) (0000) 0001 0100", "nothing", "$")
	does(FeatBar, "SSBB", "Barrier to speculative stores", "later loads see no speculative value for stores before it at the same address", "11110101 0111 (1111)(1111)(0000) 0100 0000", "nothing", "$")
	does(FeatBar, "PSSBB", "Barrier to speculative stores, physical", "as SSBB, for the same physical address", "11110101 0111 (1111)(1111)(0000) 0100 0100", "nothing", "$")
	does(FeatSB, "SB", "Speculation barrier", "nothing after it runs speculatively", "11110101 0111 (1111)(1111)(0000) 0111 (0000)", "nothing", "$")
	does(FeatPAN, "SETPAN", "Set Privileged Access Never", "PSTATE.PAN = imm1", "1111 00010001 (0000)(0000) (00) imm1:1 (0) 0000 (0000)", "nothing", "$ ##imm1")
	hint := does(0, "NOP-hint", "Hint by its number", "nothing, where the number has no meaning", "cond:4 00110010 0000 (1111) (0000) imm8:8", "nothing", "nop {#imm8}")
	hint.Name, hint.Rest = "NOP (hint)", true
	return rows
}

// comparisonP makes the row of TSTP, TEQP, CMPP or CMNP out of that without the
// P, and takes its codes from that: Rd is 15. In the 26-bit modes they wrote the
// flags and the mode held in r15 (DDI 0100, "26-bit architectures").
func comparisonP(plain *Row, name string) *Row {
	r := *plain
	r.ID = strings.Replace(plain.ID, name, name+"p", 1)
	r.Name = strings.Replace(plain.Name, " ", "P ", 1)
	r.Title = plain.Title + ", 26-bit"
	r.Bits = strings.Replace(plain.Bits, "(0000)", "1111", 1)
	plain.Not += " " + strings.Repeat("x", 16) + "1111" + strings.Repeat("x", 12)
	var forms []string
	for _, f := range strings.Split(strings.TrimSpace(plain.Forms), "\n") {
		mnem, ops, _ := strings.Cut(strings.TrimPrefix(f, "~ "), " ")
		if strings.Contains(mnem, "|") {
			continue // with an s
		}
		alias := f[:len(f)-len(mnem)-len(ops)-1]
		forms = append(forms, alias+mnem+"!p "+ops)
	}
	r.Forms = strings.Join(forms, "\n")
	r.Cautions = []Caution{{Op: 0, Rules: []Rule{always}, Text: "the comparisons with a P belong to the 26-bit modes, which no core since ARMv4 has"}}
	return &r
}

// bankedNames are the registers of other modes with their numbers: r8_usr,
// sp_irq, spsr_fiq.
func bankedNames() *vocabulary {
	v := &vocabulary{}
	add := func(name string, val uint32) {
		v.words = append(v.words, name)
		v.vals = append(v.vals, val)
	}
	for i, r := range []string{"r8", "r9", "r10", "r11", "r12", "sp", "lr"} {
		add(r+"_usr", uint32(i))
		add(r+"_fiq", uint32(8+i))
	}
	for i, m := range []string{"irq", "svc", "abt", "und", "", "", "mon"} {
		if m == "" {
			continue
		}
		n := uint32(16 + 2*i)
		add("lr_"+m, n)
		add("sp_"+m, n+1)
		add("spsr_"+m, 32+n)
	}
	add("spsr_fiq", 32+14)
	add("elr_hyp", 30)
	add("sp_hyp", 31)
	add("spsr_hyp", 32+30)
	return v
}

// twoParts stores a distance from pc as ADRL has it: in one rotated constant
// where it can be, else in two of one sign.
func twoParts(m *binding, v int32) bool {
	const addOp, subOp = 4, 2
	row := m.Form.Row
	set := func(op, first, second uint32, two bool) bool {
		m.vals[row.fieldIndex("op")], m.vals[row.fieldIndex("imm12")] = op, first
		m.vals[row.fieldIndex("imm12b")], m.vals[row.fieldIndex("two")] = second, 0
		if two {
			m.vals[row.fieldIndex("two")] = 1
		}
		return true
	}
	if x, ok := Rotated(uint32(v)); ok {
		return set(addOp, x, 0, false)
	}
	if x, ok := Rotated(uint32(-v)); ok {
		return set(subOp, x, 0, false)
	}
	if x, y, ok := split(uint32(v)); ok {
		return set(addOp, x, y, true)
	}
	if x, y, ok := split(uint32(-v)); ok {
		return set(subOp, x, y, true)
	}
	return false
}

// split gives two rotated constants whose sum is v: the byte that holds the
// lowest bits, with the least rotation, and another byte some bytes further.
func split(v uint32) (first, second uint32, ok bool) {
	for r := 0; r < 32; r += 2 {
		a := bits.RotateLeft32(v, r)
		if a&0xff == 0 {
			continue
		}
		for k := 8; k < 32; k += 8 {
			if rest := a &^ 0xff; rest&^(0xff<<k) == 0 {
				return uint32(r)<<7 | a&0xff, uint32((r+32-k)&31)<<7 | rest>>k, true
			}
		}
	}
	return 0, 0, false
}

// adrlSecond is the second instruction of ADRL: the first operation again on
// Rd, or MOV r0, r0.
func adrlSecond(v Values) uint32 {
	if v.Get("two") == 0 {
		return 0xe1a00000
	}
	rd := v.Get("Rd")
	return v.Get("cond")<<28 | 1<<25 | v.Get("op")<<21 | rd<<16 | rd<<12 | v.Get("imm12b")
}
