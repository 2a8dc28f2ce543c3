package isa

import "strings"

// rowsMedia lists the A32 encodings of ARMv5TE's signal processing, ARMv6's
// media, exclusive access and system instructions, and what ARMv6T2 and ARMv7
// added to the integer instructions (DDI 0406, chapter A5, "Data-processing and
// miscellaneous instructions" and "Media instructions").
func rowsMedia() []*Row {
	var rows []*Row
	does := func(need Features, name, title, doc, bits, does, forms string) *Row {
		r := &Row{ID: "a-" + strings.ToLower(name), Name: name, Enc: "A1", Title: title, Doc: doc, Need: need,
			Bits: bits, Does: does, Forms: strings.ReplaceAll(forms, "$", strings.ToLower(name))}
		if r.Timing = TimeUnknown; need == FeatV5TE {
			// The figures for later cores are of other tables.
			r.Timing = TimeHalves
			if strings.HasPrefix(name, "SMLAL") {
				r.Timing = TimeHalvesLong
			}
		}
		rows = append(rows, r)
		return r
	}

	add := func(need Features, name, title, doc, bits, forms string) *Row {
		r := does(need, name, title, doc, bits, "", forms)
		r.later = func() string { return mediaDoes(name) }
		return r
	}

	// Saturating and halfword arithmetic, ARMv5TE. Q, the flag of saturation,
	// is none of the condition flags.
	for i, n := range []string{"QADD", "QSUB", "QDADD", "QDSUB"} {
		op := []string{"00", "01", "10", "11"}[i]
		doc := []string{"Rm + Rn", "Rm - Rn", "Rm + 2*Rn", "Rm - 2*Rn"}[i]
		add(FeatV5TE, n, "Saturating arithmetic", "Rd = "+doc+", each step limited to 32 bits, signed; Q set when limited",
			"cond:4 00010 "+op+" 0 Rn:4 Rd:4 (0000) 0101 Rm:4", "$ Rd^, Rm^, Rn^")
	}
	half := [2]string{"B", "T"}
	for x := range 2 {
		for y := range 2 {
			bits := "1 " + string('0'+rune(y)) + string('0'+rune(x)) + " 0"
			xy := half[x] + half[y]
			doc := "Rn[" + xy[:1] + "] * Rm[" + xy[1:] + "]"
			add(FeatV5TE, "SMLA"+xy, "Multiply halfwords and add", "Rd = "+doc+" + Ra", "cond:4 00010000 Rd:4 Ra:4 Rm:4 "+bits+" Rn:4", "$ Rd^, Rn^, Rm^, Ra^")
			add(FeatV5TE, "SMUL"+xy, "Multiply halfwords", "Rd = "+doc, "cond:4 00010110 Rd:4 (0000) Rm:4 "+bits+" Rn:4", "$ Rd^, Rn^, Rm^")
			add(FeatV5TE, "SMLAL"+xy, "Multiply halfwords and add to 64 bits", "RdHi:RdLo = RdHi:RdLo + "+doc, "cond:4 00010100 RdHi:4 RdLo:4 Rm:4 "+bits+" Rn:4", "$ RdLo^, RdHi^, Rn^, Rm^").Cautions = sameHalves
		}
		y := string('0' + rune(x))
		add(FeatV5TE, "SMLAW"+half[x], "Multiply a word by a halfword and add", "Rd = (Rn * Rm["+half[x]+"]) >> 16 + Ra", "cond:4 00010010 Rd:4 Ra:4 Rm:4 1 "+y+" 00 Rn:4", "$ Rd^, Rn^, Rm^, Ra^")
		add(FeatV5TE, "SMULW"+half[x], "Multiply a word by a halfword", "Rd = (Rn * Rm["+half[x]+"]) >> 16", "cond:4 00010010 Rd:4 (0000) Rm:4 1 "+y+" 10 Rn:4", "$ Rd^, Rn^, Rm^")
	}

	// Parallel arithmetic, ARMv6. GE is written by those without saturation or
	// halving, and is none of the condition flags.
	for _, p := range []struct{ prefix, op, how string }{{"S", "001", "signed"}, {"Q", "010", "signed, limited"}, {"SH", "011", "signed, halved"},
		{"U", "101", "unsigned"}, {"UQ", "110", "unsigned, limited"}, {"UH", "111", "unsigned, halved"}} {
		for _, o := range []struct{ name, op, what, older string }{{"ADD16", "000", "halfwords added", ""}, {"ASX", "001", "halfwords exchanged, added and subtracted", "addsubx"}, {"SAX", "010", "halfwords exchanged, subtracted and added", "subaddx"},
			{"SUB16", "011", "halfwords subtracted", ""}, {"ADD8", "100", "bytes added", ""}, {"SUB8", "111", "bytes subtracted", ""}} {
			forms := "$ Rd^, Rn^, Rm^"
			if o.older != "" {
				forms += "\n~ " + strings.ToLower(p.prefix) + o.older + " Rd^, Rn^, Rm^"
			}
			add(FeatV6, p.prefix+o.name, "Parallel arithmetic", "Rd = Rn and Rm, "+o.what+", "+p.how, "cond:4 01100 "+p.op+" Rn:4 Rd:4 (1111) "+o.op+" 1 Rm:4", forms)
		}
	}
	add(FeatV6, "SEL", "Select bytes", "each byte of Rd from Rn where its bit of GE is set, else from Rm", "cond:4 01101000 Rn:4 Rd:4 (1111) 1011 Rm:4", "$ Rd^, Rn^, Rm^")
	add(FeatV6, "PKHBT", "Pack halfwords", "Rd = lower half of Rn, upper half of Rm << imm5", "cond:4 01101000 Rn:4 Rd:4 imm5:5 001 Rm:4", "$ Rd^, Rn^, Rm^ ; imm5=0\n$ Rd^, Rn^, Rm^, lsl#imm5\n~ pkhtb Rd^, Rm^, Rn^")
	add(FeatV6, "PKHTB", "Pack halfwords", "Rd = upper half of Rn, lower half of Rm >> imm5", "cond:4 01101000 Rn:4 Rd:4 imm5:5 101 Rm:4", "$ Rd^, Rn^, Rm^, asr#imm5%32")

	// Extend.
	for _, x := range []struct{ name, op, what string }{{"B16", "000", "bytes 0 and 2"}, {"B", "010", "a byte"}, {"H", "011", "a halfword"}} {
		for i, sign := range []string{"S", "U"} {
			op := string('0'+rune(i)) + x.op[1:]
			how := []string{"sign", "zero"}[i] + "-extended"
			rots := func(m string) string {
				return m + " ; rot=0\n~ " + m + ", ror#0 ; rot=0\n" + m + ", ror#8 ; rot=1\n" + m + ", ror#16 ; rot=2\n" + m + ", ror#24 ; rot=3"
			}
			acc := strings.Replace("A"+x.name, "AB16", "AB16", 1)
			add(FeatV6, sign+"XT"+acc, "Extend and add", "Rd = Rn + "+x.what+" of Rm rotated, "+how, "cond:4 01101 "+op+" Rn:4 Rd:4 rot:2 (00) 0111 Rm:4", rots("$ Rd^, Rn^, Rm^")).Not =
				strings.Repeat("x", 12) + "1111" + strings.Repeat("x", 16)
			add(FeatV6, sign+"XT"+x.name, "Extend", "Rd = "+x.what+" of Rm rotated, "+how, "cond:4 01101 "+op+" 1111 Rd:4 rot:2 (00) 0111 Rm:4", rots("$ Rd^, Rm^"))
		}
	}

	// Saturate, reverse.
	add(FeatV6, "SSAT", "Limit to bits, signed", "Rd = shifted Rn limited to a signed number of bits; Q set when limited", "cond:4 0110101 sat:5 Rd:4 imm5:5 sh:1 01 Rn:4", "$ Rd^, ##sat+1, Rn^ ; imm5=0 sh=0\n$ Rd^, ##sat+1, Rn^, lsl#imm5 ; sh=0\n$ Rd^, ##sat+1, Rn^, asr#imm5%32 ; sh=1\n~ $ Rd^, ##sat+1, Rn^, asr#0")
	add(FeatV6, "USAT", "Limit to bits, unsigned", "Rd = shifted Rn limited to an unsigned number of bits; Q set when limited", "cond:4 0110111 sat:5 Rd:4 imm5:5 sh:1 01 Rn:4", "$ Rd^, ##sat, Rn^ ; imm5=0 sh=0\n$ Rd^, ##sat, Rn^, lsl#imm5 ; sh=0\n$ Rd^, ##sat, Rn^, asr#imm5%32 ; sh=1\n~ $ Rd^, ##sat, Rn^, asr#0")
	add(FeatV6, "SSAT16", "Limit halfwords to bits, signed", "Rd = halfwords of Rn limited to a signed number of bits", "cond:4 01101010 sat:4 Rd:4 (1111) 0011 Rn:4", "$ Rd^, ##sat+1, Rn^")
	add(FeatV6, "USAT16", "Limit halfwords to bits, unsigned", "Rd = halfwords of Rn limited to an unsigned number of bits", "cond:4 01101110 sat:4 Rd:4 (1111) 0011 Rn:4", "$ Rd^, ##sat, Rn^")
	add(FeatV6, "REV", "Reverse the bytes of a word", "Rd = Rm with its four bytes reversed", "cond:4 01101011 (1111) Rd:4 (1111) 0011 Rm:4", "$ Rd^, Rm^")
	add(FeatV6, "REV16", "Reverse the bytes of each halfword", "Rd = Rm with the bytes of each halfword reversed", "cond:4 01101011 (1111) Rd:4 (1111) 1011 Rm:4", "$ Rd^, Rm^")
	add(FeatV6, "REVSH", "Reverse the bytes of a halfword, sign-extend", "Rd = Rm[7:0]:Rm[15:8], signed", "cond:4 01101111 (1111) Rd:4 (1111) 1011 Rm:4", "$ Rd^, Rm^")
	add(FeatT32, "RBIT", "Reverse the bits", "Rd = Rm with its bits reversed", "cond:4 01101111 (1111) Rd:4 (1111) 0011 Rm:4", "$ Rd, Rm").Cautions = pcHere("Rd", "Rm")

	// Multiply, dual and by the upper word.
	notRa15 := strings.Repeat("x", 16) + "1111" + strings.Repeat("x", 12)
	for i, x := range []string{"", "X"} {
		m := string('0' + rune(i))
		how := []string{"", ", the halves of Rm exchanged"}[i]
		for j, n := range []string{"AD", "SD"} {
			op := string('0'+rune(j)) + m + "1"
			what := []string{"sum", "difference"}[j] + " of the products of the halfwords" + how
			add(FeatV6, "SML"+n+x, "Multiply halfwords twice and add", "Rd = Ra + "+what, "cond:4 01110000 Rd:4 Ra:4 Rm:4 0"+op+" Rn:4", "$ Rd^, Rn^, Rm^, Ra^").Not = notRa15
			u := []string{"SMUAD", "SMUSD"}[j] + x
			add(FeatV6, u, "Multiply halfwords twice", "Rd = "+what, "cond:4 01110000 Rd:4 1111 Rm:4 0"+op+" Rn:4", "$ Rd^, Rn^, Rm^")
			l := []string{"SMLALD", "SMLSLD"}[j] + x
			add(FeatV6, l, "Multiply halfwords twice and add to 64 bits", "RdHi:RdLo = RdHi:RdLo + "+what, "cond:4 01110100 RdHi:4 RdLo:4 Rm:4 0"+op+" Rn:4", "$ RdLo^, RdHi^, Rn^, Rm^").Cautions = sameHalves
		}
		r := []string{"", "R"}[i]
		round := []string{"", ", rounded"}[i]
		add(FeatV6, "SMMLA"+r, "Multiply, add the upper word", "Rd = Ra + upper word of Rn * Rm"+round, "cond:4 01110101 Rd:4 Ra:4 Rm:4 00"+m+"1 Rn:4", "$ Rd^, Rn^, Rm^, Ra^").Not = notRa15
		add(FeatV6, "SMMUL"+r, "Multiply, the upper word", "Rd = upper word of Rn * Rm"+round, "cond:4 01110101 Rd:4 1111 Rm:4 00"+m+"1 Rn:4", "$ Rd^, Rn^, Rm^")
		add(FeatV6, "SMMLS"+r, "Multiply, subtract the upper word", "Rd = upper word of (Ra << 32) - Rn * Rm"+round, "cond:4 01110101 Rd:4 Ra:4 Rm:4 11"+m+"1 Rn:4", "$ Rd^, Rn^, Rm^, Ra^")
	}
	add(FeatV6, "USADA8", "Sum of absolute differences, added", "Rd = Ra + sum of the differences of the bytes of Rn and Rm", "cond:4 01111000 Rd:4 Ra:4 Rm:4 0001 Rn:4", "$ Rd^, Rn^, Rm^, Ra^").Not = notRa15
	add(FeatV6, "USAD8", "Sum of absolute differences", "Rd = sum of the differences of the bytes of Rn and Rm", "cond:4 01111000 Rd:4 1111 Rm:4 0001 Rn:4", "$ Rd^, Rn^, Rm^")
	add(FeatV6, "UMAAL", "Multiply, add twice", "RdHi:RdLo = Rn * Rm + RdLo + RdHi, unsigned", "cond:4 00000100 RdHi:4 RdLo:4 Rm:4 1001 Rn:4", "$ RdLo^, RdHi^, Rn^, Rm^").Cautions = sameHalves
	add(FeatT32, "MLS", "Multiply and subtract", "Rd = Ra - low 32 bits of Rn * Rm", "cond:4 00000110 Rd:4 Ra:4 Rm:4 1001 Rn:4", "$ Rd^, Rn^, Rm^, Ra^")

	// Fields of bits.
	for _, x := range []struct{ name, title, doc, bits, forms string }{
		{"BFC", "Clear a field of bits", "Rd[msb:lsb] = 0", "cond:4 0111110 msb:5 Rd:4 lsb:5 001 1111", "$ Rd^, ##lsb, #width.msb\n~ bfi Rd^, #0, ##lsb, #width.msb"},
		{"BFI", "Insert a field of bits", "Rd[msb:lsb] = lowest bits of Rn", "cond:4 0111110 msb:5 Rd:4 lsb:5 001 Rn:4", "$ Rd^, Rn^, ##lsb, #width.msb"},
		{"SBFX", "Take a field of bits, signed", "Rd = Rn[lsb + widthm1 : lsb], sign-extended", "cond:4 0111101 widthm1:5 Rd:4 lsb:5 101 Rn:4", "$ Rd, Rn, ##lsb, #width.widthm1"},
		{"UBFX", "Take a field of bits", "Rd = Rn[lsb + widthm1 : lsb]", "cond:4 0111111 widthm1:5 Rd:4 lsb:5 101 Rn:4", "$ Rd, Rn, ##lsb, #width.widthm1"},
	} {
		r := add(FeatT32, x.name, x.title, x.doc, x.bits, x.forms)
		if x.name == "BFI" {
			r.Not = strings.Repeat("x", 28) + "1111"
		}
		r.Cautions = []Caution{bitField(pastFirst)}
		if strings.HasSuffix(x.name, "BFX") {
			r.Cautions = append([]Caution{bitField(beyondWord)}, pcHere("Rd", "Rn")...)
		}
	}

	// Exclusive access.
	for _, x := range []struct {
		suffix, op string
		need       Features
		access     uint8
	}{{"", "00", FeatV6, 4}, {"D", "01", FeatV6K, 8}, {"B", "10", FeatV6K, 1}, {"H", "11", FeatV6K, 2}} {
		rt, pair := "Rt^", ""
		if x.suffix == "D" {
			rt, pair = "Rt%2", ", next(Rt)"
		}
		forms := func(front string) string {
			out := "$ " + front + rt + pair + ", [Rn^]"
			if pair == "" && (front != "" || x.suffix == "") { // as assemblers have it
				out += "\n~ $ " + front + rt + ", [Rn^, #0]"
			}
			if pair != "" {
				out += "\n~ $ " + front + rt + ", [Rn^]"
			}
			return out
		}
		l := does(x.need, "LDREX"+x.suffix, "Load, and watch the address", "Rt = memory at Rn; marks the address for exclusive access", "cond:4 00011"+x.op+"1 Rn:4 Rt:4 (11)11 1001 (1111)", exclusiveDoes("LDREX", x.access, "Rn", "next(Rt)"), forms(""))
		l.Cautions = exclusiveLoad(x.suffix == "D")
		s := does(x.need, "STREX"+x.suffix, "Store if nobody else has", "memory at Rn = Rt and Rd = 0 if the mark holds, else Rd = 1", "cond:4 00011"+x.op+"0 Rn:4 Rd:4 (11)11 1001 Rt:4", exclusiveDoes("STREX", x.access, "Rn", "next(Rt)"), forms("Rd^, "))
		s.Cautions = exclusiveStore(x.suffix == "D")
	}
	does(FeatV6K, "CLREX", "Drop the mark for exclusive access", "the next STREX fails", "11110101 0111 (1111)(1111)(0000) 0001 (1111)", "unwatch", "$")

	// Hints, barriers, state.
	for i, n := range []string{"YIELD", "WFE", "WFI", "SEV"} {
		title := []string{"Hint: spinning", "Wait for an event", "Wait for an interrupt", "Send an event"}[i]
		doc := []string{"nothing but a hint to the scheduler", "sleep until an event or an interrupt", "sleep until an interrupt", "wake cores that wait in WFE"}[i]
		op := []string{"0001", "0010", "0011", "0100"}[i]
		does(FeatV6K, n, title, doc, "cond:4 00110010 0000 (1111) (0000) 0000 "+op, "nothing", "$")
	}
	does(FeatBar, "DBG", "Hint to a debugger", "nothing", "cond:4 00110010 0000 (1111) (0000) 1111 opt:4", "nothing", "$ ##opt")
	barrier := func(name, op, title, doc, not string) {
		does(FeatBar, name, title, doc, "11110101 0111 (1111)(1111)(0000) "+op+" opt:4", "nothing", "$ %barrier.opt\n[V8] $ %loads.opt\n~ $ ; opt=15").Not = not
	}
	barrier("DSB", "0100", "Data synchronization barrier", "wait until all memory accesses before it are done", strings.Repeat("x", 28)+"0x00")
	rows[len(rows)-1].Forms += "\n~ [V8R] dfb ; opt=12" // DDI 0568, "DFB"
	barrier("DMB", "0101", "Data memory barrier", "order the memory accesses before it and after it", "")
	does(FeatBar, "ISB", "Instruction synchronization barrier", "fetch anew what comes after it", "11110101 0111 (1111)(1111)(0000) 0110 opt:4", "nothing", "$ %sy.opt\n~ $ ; opt=15")
	does(FeatV6, "SETEND", "Set the byte order of data", "later data accesses are little- or big-endian", "1111 00010000 (000) 1 (000000) E:1 (0) 0000 (0000)", "setend E", "$ %endian.E")
	does(FeatV6, "CPS", "Change mode", "enter the mode", "1111 00010000 00 1 0 (0000000) (000) 0 mode:5", "enter mode", "$ ####mode")
	for i, n := range []string{"CPSIE", "CPSID"} {
		imod := []string{"10", "11"}[i]
		title := []string{"Enable interrupts", "Disable interrupts"}[i]
		does(FeatV6, n, title, "the mask bits named are changed; then the mode, if there is one", "1111 00010000 "+imod+" M:1 0 (0000000) iflags:3 0 mode:5", []string{"unmask", "mask"}[i]+" iflags; if M: enter mode",
			"$ %%aif.iflags ; M=0 mode=0\n$ %%aif.iflags, ####mode ; M=1").Cautions = noMaskBit
	}
	// RFE: pc is in the lower word, CPSR in the upper one.
	does4 := map[string]string{}
	for name, low := range map[string]string{"IA": "Rn", "IB": "Rn + 4", "DA": "Rn - 4", "DB": "Rn - 8"} {
		does4[name] = "low := " + low + "; pc = word![low]; nothing word![low + 4]; restore; if W: Rn = addsub(Rn, " + map[byte]string{'I': "1", 'D': "0"}[name[0]] + ", 8)"
	}
	for _, m := range []struct{ pu, name, older string }{{"0 1", "IA", "FD"}, {"1 1", "IB", "ED"}, {"0 0", "DA", "FA"}, {"1 0", "DB", "EA"}} {
		forms := "$ Rn^!?\n~ rfe" + strings.ToLower(m.older) + " Rn^!?"
		if m.name == "IA" {
			forms += "\n~ rfe Rn^!?"
		}
		r := does(FeatV6, "RFE"+m.name, "Return from an exception", "load pc and CPSR from memory at Rn", "1111 100 "+m.pu+" 0 W:1 1 Rn:4 (0000101000000000)", does4[m.name], forms)
		r.Access, r.Cautions = 4, pcHere("Rn")
	}

	does(FeatT32, "PLI", "Preload hint for instructions", "hint: code at Rn ± imm12 will run", "11110100 U:1 101 Rn:4 (1111) imm12:12", "nothing addsub(Rn, U, imm12)", "pli [Rn, ±imm12]\n~ pli @imm12 ; Rn=15").Need = FeatBar
	does(FeatBar, "PLI-reg", "Preload hint for instructions", "hint: code at Rn ± shifted Rm will run", "11110110 U:1 101 Rn:4 (1111) imm5:5 type:2 0 Rm:4", "nothing addsub(Rn, U, shift(Rm, type, imm5))", "pli [Rn, ±Rm^, shift]").Name = "PLI (register)"
	return rows
}
