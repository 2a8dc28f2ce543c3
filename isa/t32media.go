package isa

import (
	"fmt"
	"strings"
)

// rowsT32Media lists the T32 encodings of multiplication and division, of fields
// of bits, saturation, extension and reversal, of signal processing and of CRC
// (DDI 0406, chapter A6, "Data processing (register)", "Multiply, multiply
// accumulate, and absolute difference" and its neighbours; DDI 0403, chapter A5;
// CRC32 from DDI 0487), as far as they are remembered.
func rowsT32Media() []*Row {
	var rows []*Row
	// In forms, '$' means the name.
	add := func(need Features, name, title, doc, bits, forms string) *Row {
		r := &Row{ID: "t-" + strings.ToLower(name), Name: name, Enc: "T1", Title: title, Doc: doc, Need: need,
			Bits: bits, later: func() string { return mediaDoes(name) }, Forms: strings.ReplaceAll(forms, "$", strings.ToLower(name))}
		rows = append(rows, r)
		return r
	}
	dsp := FeatT32 | FeatDSP
	const three = "$ Rd^^, Rn^^, Rm^^"
	x12, x16 := strings.Repeat("x", 12), strings.Repeat("x", 16)

	// Fields of bits.
	for _, x := range []struct{ name, title, doc, bits, forms string }{
		{"BFC", "Clear a field of bits", "Rd[msb:lsb] = 0", "110110 1111 0 lsb[4:2] Rd:4 lsb[1:0] (0) msb:5", "$ Rd^^, ##lsb, #width.msb\n~ bfi Rd^^, ##0, ##lsb, #width.msb"},
		{"BFI", "Insert a field of bits", "Rd[msb:lsb] = lowest bits of Rn", "110110 Rn:4 0 lsb[4:2] Rd:4 lsb[1:0] (0) msb:5", "$ Rd^^, Rn^^, ##lsb, #width.msb"},
		{"SBFX", "Take a field of bits, signed", "Rd = Rn[lsb + widthm1 : lsb], sign-extended", "110100 Rn:4 0 lsb[4:2] Rd:4 lsb[1:0] (0) widthm1:5", "$ Rd^^, Rn^^, ##lsb, #width.widthm1"},
		{"UBFX", "Take a field of bits", "Rd = Rn[lsb + widthm1 : lsb]", "111100 Rn:4 0 lsb[4:2] Rd:4 lsb[1:0] (0) widthm1:5", "$ Rd^^, Rn^^, ##lsb, #width.widthm1"},
	} {
		r := add(FeatT32, x.name, x.title, x.doc, "11110 (0) "+x.bits, x.forms)
		if x.name == "BFI" {
			r.Not = x12 + "1111" + x16
		}
		r.Cautions = []Caution{bitField(beyondWord)}
		if strings.Contains(r.Bits, "msb:5") {
			r.Cautions = []Caution{bitField(pastFirst)}
		}
	}

	// Saturate. The shift by ASR #32 is SSAT16 and USAT16.
	for _, x := range []struct{ name, op, how, imm string }{{"SSAT", "1100", "signed", "##sat+1"}, {"USAT", "1110", "unsigned", "##sat"}} {
		add(FeatT32, x.name, "Limit to bits, "+x.how, "Rd = shifted Rn limited to a number of bits, "+x.how+"; Q set when limited",
			"11110 (0) "+x.op+" sh:1 0 Rn:4 0 imm5[4:2] Rd:4 imm5[1:0] (0) sat:5",
			strings.ReplaceAll("$ Rd^^, %, Rn^^ ; imm5=0 sh=0\n~ $ Rd^^, %, Rn^^, asr#0 ; imm5=0 sh=0\n$ Rd^^, %, Rn^^, lsl#imm5 ; sh=0\n$ Rd^^, %, Rn^^, asr#imm5 ; sh=1", "%", x.imm)).Not =
			"xxxxxxxxxx1xxxxxx000xxxx00xxxxxx"
		add(dsp, x.name+"16", "Limit halfwords to bits, "+x.how, "Rd = halfwords of Rn limited to a number of bits, "+x.how+"; Q set when limited",
			"11110 (0) "+x.op+" 1 0 Rn:4 0 000 Rd:4 00 (00) sat:4", "$ Rd^^, "+x.imm+", Rn^^")
	}

	// Extend; with a rotation of Rm by bytes.
	for _, x := range []struct {
		name, op, what string
		need           Features
	}{{"H", "000", "a halfword", FeatT32}, {"B16", "001", "bytes 0 and 2", dsp}, {"B", "010", "a byte", FeatT32}} {
		for i, sign := range []string{"S", "U"} {
			how := []string{"sign", "zero"}[i] + "-extended"
			rots := func(m string) string {
				return m + " ; rot=0\n~ " + m + ", ror#0 ; rot=0\n" + m + ", ror#8 ; rot=1\n" + m + ", ror#16 ; rot=2\n" + m + ", ror#24 ; rot=3"
			}
			op := fmt.Sprintf("%s%d", x.op, i)
			add(dsp, sign+"XTA"+x.name, "Extend and add", "Rd = Rn + "+x.what+" of Rm rotated, "+how, "11111010 "+op+" Rn:4 1111 Rd:4 1 (0) rot:2 Rm:4", rots(three)).Not = x12 + "1111" + x16
			forms := rots("u $ Rd^^, Rm^^")
			r := add(x.need, sign+"XT"+x.name, "Extend", "Rd = "+x.what+" of Rm rotated, "+how, "11111010 "+op+" 1111 1111 Rd:4 1 (0) rot:2 Rm:4", forms)
			if x.name != "B16" {
				r.Enc = "T2"
			}
		}
	}

	// Pack.
	add(dsp, "PKHBT", "Pack halfwords", "Rd = lower half of Rn, upper half of Rm << imm5", "1110101 01100 Rn:4 (0) imm5[4:2] Rd:4 imm5[1:0] 00 Rm:4",
		three+" ; imm5=0\n"+three+", lsl#imm5\n~ pkhtb Rd^^, Rm^^, Rn^^ ; imm5=0")
	add(dsp, "PKHTB", "Pack halfwords", "Rd = upper half of Rn, lower half of Rm >> imm5", "1110101 01100 Rn:4 (0) imm5[4:2] Rd:4 imm5[1:0] 10 Rm:4", three+", asr#imm5%32")

	// Reverse, count, select. Rm is twice in those of one register.
	for _, x := range []struct{ name, op, title, doc, enc string }{
		{"REV", "1001 Rm:4 1111 Rd:4 1000", "Reverse the bytes of a word", "Rd = Rm with its four bytes reversed", "T2"},
		{"REV16", "1001 Rm:4 1111 Rd:4 1001", "Reverse the bytes of each halfword", "Rd = Rm with the bytes of each halfword reversed", "T2"},
		{"RBIT", "1001 Rm:4 1111 Rd:4 1010", "Reverse the bits", "Rd = Rm with its bits reversed", "T1"},
		{"REVSH", "1001 Rm:4 1111 Rd:4 1011", "Reverse the bytes of a halfword, sign-extend", "Rd = Rm[7:0]:Rm[15:8], signed", "T2"},
		{"CLZ", "1011 Rm:4 1111 Rd:4 1000", "Count leading zeros", "Rd = number of zeros above the highest one of Rm", "T1"},
	} {
		u := "u "
		if x.enc == "T1" {
			u = ""
		}
		add(FeatT32, x.name, x.title, x.doc, "11111010 "+x.op+" Rm:4", u+"$ Rd^^, Rm^^").Enc = x.enc
	}
	add(dsp, "SEL", "Select bytes", "each byte of Rd from Rn where its bit of GE is set, else from Rm", "11111010 1010 Rn:4 1111 Rd:4 1000 Rm:4", three)

	// Saturating and parallel arithmetic. Q and GE are none of the condition flags.
	for _, x := range []struct{ name, op, doc string }{{"QADD", "00", "Rm + Rn"}, {"QDADD", "01", "Rm + 2*Rn"}, {"QSUB", "10", "Rm - Rn"}, {"QDSUB", "11", "Rm - 2*Rn"}} {
		add(dsp, x.name, "Saturating arithmetic", "Rd = "+x.doc+", each step limited to 32 bits, signed; Q set when limited",
			"11111010 1000 Rn:4 1111 Rd:4 10 "+x.op+" Rm:4", "$ Rd^^, Rm^^, Rn^^")
	}
	for _, p := range []struct{ prefix, op, how string }{{"S", "000", "signed"}, {"Q", "001", "signed, limited"}, {"SH", "010", "signed, halved"},
		{"U", "100", "unsigned"}, {"UQ", "101", "unsigned, limited"}, {"UH", "110", "unsigned, halved"}} {
		for _, o := range []struct{ name, op, what, older string }{{"ADD8", "000", "bytes added", ""}, {"ADD16", "001", "halfwords added", ""}, {"ASX", "010", "halfwords exchanged, added and subtracted", "addsubx"},
			{"SUB8", "100", "bytes subtracted", ""}, {"SUB16", "101", "halfwords subtracted", ""}, {"SAX", "110", "halfwords exchanged, subtracted and added", "subaddx"}} {
			forms := three
			if o.older != "" {
				forms += "\n~ " + strings.ToLower(p.prefix) + o.older + " Rd^^, Rn^^, Rm^^"
			}
			add(dsp, p.prefix+o.name, "Parallel arithmetic", "Rd = Rn and Rm, "+o.what+", "+p.how, "11111010 1 "+o.op+" Rn:4 1111 Rd:4 0 "+p.op+" Rm:4", forms)
		}
	}

	// Multiply.
	notRa15 := x16 + "1111" + x12
	mul := func(need Features, t Timing, name, title, doc, op1, op2 string, acc bool) {
		ra, forms := "1111", three
		if acc {
			ra, forms = "Ra:4", three+", Ra^^"
		}
		r := add(need, name, title, doc, "11111011 0 "+op1+" Rn:4 "+ra+" Rd:4 00 "+op2+" Rm:4", forms)
		r.Timing = t
		if acc && name != "MLS" && !strings.HasPrefix(name, "SMMLS") {
			r.Not = notRa15
		}
	}
	mul(FeatT32, TimeMul, "MUL", "Multiply", "Rd = low 32 bits of Rn * Rm", "000", "00", false)
	rows[len(rows)-1].Enc, rows[len(rows)-1].Forms = "T2", "u mul Rd^^, Rn^^, Rm^^\n~ u mul Rd=Rm^^, Rn^^"
	mul(FeatT32, TimeMulAdd, "MLA", "Multiply and add", "Rd = low 32 bits of Rn * Rm + Ra", "000", "00", true)
	mul(FeatT32, TimeMulAdd, "MLS", "Multiply and subtract", "Rd = Ra - low 32 bits of Rn * Rm", "000", "01", true)
	long := func(need Features, t Timing, name, title, doc, op1, op2 string) {
		r := add(need, name, title, doc, "11111011 1 "+op1+" Rn:4 RdLo:4 RdHi:4 "+op2+" Rm:4", "$ RdLo^^, RdHi^^, Rn^^, Rm^^")
		r.Timing, r.Cautions = t, sameHalves
	}
	long(FeatT32, TimeMulLong, "SMULL", "Multiply to 64 bits, signed", "RdHi:RdLo = Rn * Rm, signed", "000", "0000")
	long(FeatT32, TimeMulLong, "UMULL", "Multiply to 64 bits, unsigned", "RdHi:RdLo = Rn * Rm, unsigned", "010", "0000")
	long(FeatT32, TimeMulLongAdd, "SMLAL", "Multiply and add to 64 bits, signed", "RdHi:RdLo = RdHi:RdLo + Rn * Rm, signed", "100", "0000")
	long(FeatT32, TimeMulLongAdd, "UMLAL", "Multiply and add to 64 bits, unsigned", "RdHi:RdLo = RdHi:RdLo + Rn * Rm, unsigned", "110", "0000")
	long(dsp, TimeDSP, "UMAAL", "Multiply, add twice", "RdHi:RdLo = Rn * Rm + RdLo + RdHi, unsigned", "110", "0110")
	half := [2]string{"B", "T"}
	for x := range 2 {
		for y := range 2 {
			xy, op := half[x]+half[y], fmt.Sprintf("%d%d", x, y)
			doc := "Rn[" + half[x] + "] * Rm[" + half[y] + "]"
			mul(dsp, TimeDSP, "SMUL"+xy, "Multiply halfwords", "Rd = "+doc, "001", op, false)
			mul(dsp, TimeDSP, "SMLA"+xy, "Multiply halfwords and add", "Rd = "+doc+" + Ra", "001", op, true)
			long(dsp, TimeDSP, "SMLAL"+xy, "Multiply halfwords and add to 64 bits", "RdHi:RdLo = RdHi:RdLo + "+doc, "100", "10"+op)
		}
		op := fmt.Sprintf("0%d", x)
		mul(dsp, TimeDSP, "SMULW"+half[x], "Multiply a word by a halfword", "Rd = (Rn * Rm["+half[x]+"]) >> 16", "011", op, false)
		mul(dsp, TimeDSP, "SMLAW"+half[x], "Multiply a word by a halfword and add", "Rd = (Rn * Rm["+half[x]+"]) >> 16 + Ra", "011", op, true)
		sfx, how := []string{"", "X"}[x], []string{"", ", the halves of Rm exchanged"}[x]
		for j, n := range []string{"AD", "SD"} {
			what := []string{"sum", "difference"}[j] + " of the products of the halfwords" + how
			op1 := []string{"010", "100"}[j]
			mul(dsp, TimeDSP, "SMU"+n+sfx, "Multiply halfwords twice", "Rd = "+what, op1, op, false)
			mul(dsp, TimeDSP, "SML"+n+sfx, "Multiply halfwords twice and add", "Rd = Ra + "+what, op1, op, true)
			long(dsp, TimeDSP, []string{"SMLALD", "SMLSLD"}[j]+sfx, "Multiply halfwords twice and add to 64 bits", "RdHi:RdLo = RdHi:RdLo + "+what, []string{"100", "101"}[j], "110"+op[1:])
		}
		r, round := []string{"", "R"}[x], []string{"", ", rounded"}[x]
		mul(dsp, TimeDSP, "SMMUL"+r, "Multiply, the upper word", "Rd = upper word of Rn * Rm"+round, "101", op, false)
		mul(dsp, TimeDSP, "SMMLA"+r, "Multiply, add the upper word", "Rd = Ra + upper word of Rn * Rm"+round, "101", op, true)
		mul(dsp, TimeDSP, "SMMLS"+r, "Multiply, subtract the upper word", "Rd = upper word of (Ra << 32) - Rn * Rm"+round, "110", op, true)
	}
	mul(dsp, TimeDSP, "USAD8", "Sum of absolute differences", "Rd = sum of the differences of the bytes of Rn and Rm", "111", "00", false)
	mul(dsp, TimeDSP, "USADA8", "Sum of absolute differences, added", "Rd = Ra + sum of the differences of the bytes of Rn and Rm", "111", "00", true)

	// Divide. By zero the result is 0, where no trap is enabled.
	for i, n := range []string{"SDIV", "UDIV"} {
		add(FeatDivThumb, n, "Divide, "+[]string{"signed", "unsigned"}[i], "Rd = Rn / Rm, rounded towards zero", fmt.Sprintf("11111011 10%d1 Rn:4 (1111) Rd:4 1111 Rm:4", i),
			three+"\n~ $ Rd=Rn^^, Rm^^").Timing = TimeDiv
	}

	for i, poly := range []string{"", "C"} {
		for sz, unit := range []string{"B", "H", "W"} {
			r := add(FeatT32|FeatCRC, "CRC32"+poly+unit, "Cyclic redundancy check", "Rd = CRC-32"+poly+" of Rn and "+[]string{"a byte", "a halfword", "a word"}[sz]+" of Rm",
				fmt.Sprintf("11111010 110%d Rn:4 1111 Rd:4 10 %02b Rm:4", i, sz), "$ Rd, Rn, Rm")
			r.IT = ITNever
			r.Cautions = pcHere("Rd", "Rn", "Rm")
		}
	}
	return rows
}
