package isa

import (
	"fmt"
	"slices"
	"strings"
)

// rowsA32 lists the encodings of A32. Names, encoding numbers, layouts and
// conditions follow the ARMv7-A/R Architecture Reference Manual (DDI 0406),
// chapters A5 and A8, and the earlier one (DDI 0100), chapter A3, as far as they
// are remembered: the tests hold them against four tools. See a32core.go for
// the notation.
func rowsA32() []*Row {
	return slices.Concat(dataRowsA32(), moveRowsA32(), multiplyRowsA32(), branchRowsA32(), wordRowsA32(), extraRowsA32(), multipleRowsA32(), statusRowsA32(), otherRowsA32(), coprocessorRowsA32(), rowsMedia(), rowsSystem())
}

// rowList collects rows.
type rowList []*Row

// add adds a row of A32.
func (l *rowList) add(r *Row) *Row {
	if r.Enc == "" {
		r.Enc = "A1"
	}
	*l = append(*l, r)
	return r
}

// dataRowsA32 are the rows of data processing.
func dataRowsA32() (rows rowList) {
	late := func(made []*Row) {
		for _, r := range made {
			r.LateToPC = true
		}
	}
	rows.dataProcessing("0000", "AND", "Bitwise and", "Rn & op2", "bic", "NZC")
	late(rows.dataProcessing("0001", "EOR", "Bitwise exclusive or", "Rn ^ op2", "", "NZC"))
	rows.dataProcessing("0010", "SUB", "Subtract", "Rn - op2", "add", "NZCV")
	rows.dataProcessing("0011", "RSB", "Subtract the other way round", "op2 - Rn", "", "NZCV")
	rows.dataProcessing("0100", "ADD", "Add", "Rn + op2", "sub", "NZCV")
	rows.dataProcessing("0101", "ADC", "Add with carry", "Rn + op2 + C", "sbc", "NZCV")
	rows.dataProcessing("0110", "SBC", "Subtract with borrow", "Rn - op2 - !C", "adc", "NZCV")
	late(rows.dataProcessing("0111", "RSC", "Subtract the other way round with borrow", "op2 - Rn - !C", "", "NZCV"))
	rows.dataProcessing("1000", "TST", "Test bits", "Rn & op2", "", "NZC")
	rows.dataProcessing("1001", "TEQ", "Test equality", "Rn ^ op2", "", "NZC")
	rows.dataProcessing("1010", "CMP", "Compare", "Rn - op2", "cmn", "NZCV")
	rows.dataProcessing("1011", "CMN", "Compare with the negative", "Rn + op2", "cmp", "NZCV")
	late(rows.dataProcessing("1100", "ORR", "Bitwise or", "Rn | op2", "", "NZC"))
	late(rows.dataProcessing("1101", "MOV", "Move", "op2", "mvn", "NZC"))
	late(rows.dataProcessing("1110", "BIC", "Clear bits", "Rn & ~op2", "and", "NZC"))
	rows.dataProcessing("1111", "MVN", "Move inverted", "~op2", "mov", "NZC")
	return rows
}

// dataProcessing adds the rows of an operation (DDI 0406C, A5.2 and A8; DDI 0100I, A3.4 and
// A4), and gives those with a result. value is what is computed of op2; fw are the flags that come of it.
func (l *rowList) dataProcessing(op, name, title, value, exchange, fw string) []*Row {
	low := strings.ToLower(name)
	shape := "Rd, Rn"
	bits, rd, s := "Rn:4 Rd:4", "Rd", "S:1"
	m := low + "<s>"
	switch low {
	case "tst", "teq", "cmp", "cmn":
		shape, bits, rd, s, m = "Rn", "Rn:4 (0000)", "", "1", low
	case "mov", "mvn":
		shape, bits = "Rd", "(0000) Rd:4"
	}
	three := shape == "Rd, Rn"
	forms := func(last, fixed string) string {
		out := m + " " + shape + ", " + last + fixed + "\n"
		if three {
			d := ""
			if last == "Rm, shift" || last == "Rm, shift.Rs" {
				d = "d "
			}
			out += "~ " + d + m + " Rd=Rn, " + last + fixed + "\n"
		}
		if m == low { // the 's' of a comparison is there without saying
			out += "~ " + low + "|s " + shape + ", " + last + fixed + "\n"
		}
		return out
	}
	imm := forms("#rot", "") + forms("#k8, #kr", "")
	swap := func(other, c string) {
		o := other + strings.TrimPrefix(m, low)
		imm += "~ " + o + " " + shape + ", " + c + "\n"
		if three {
			imm += "~ " + o + " Rd=Rn, " + c + "\n"
		}
		if m == low {
			imm += "~ " + other + "|s " + shape + ", " + c + "\n"
		}
	}
	if exchange != "" {
		c := "#~rot"
		if fw == "NZCV" && !strings.Contains(value, "C") {
			c = "#-rot"
		}
		swap(exchange, c)
	}
	reloc := RelocNone
	switch low {
	case "mov":
		imm += "~ ldr Rd, =rot ; S=0\n~ ldr|b Rd, =rot ; S=0\n~ ldr|h Rd, =rot ; S=0\n~ ldr|sb Rd, =rot ; S=0\n~ ldr|sh Rd, =rot ; S=0\n~ lds|b Rd, =rot ; S=0\n~ lds|h Rd, =rot ; S=0\n"
	case "mvn":
		imm += "~ ldr Rd, =~rot ; S=0\n~ ldr|b Rd, =~rot ; S=0\n~ ldr|h Rd, =~rot ; S=0\n~ ldr|sb Rd, =~rot ; S=0\n~ ldr|sh Rd, =~rot ; S=0\n~ lds|b Rd, =~rot ; S=0\n~ lds|h Rd, =~rot ; S=0\n"
	case "add":
		reloc = RelocSum
		imm += "~ adr Rd, @rot ; S=0 Rn=15\n"
	case "sub":
		imm += "~ adr Rd, @-rot ; S=0 Rn=15\n"
	case "rsb":
		imm += "~ neg<s> Rd, Rn\n"
	}
	regForms := forms("Rm", " ; imm5=0 type=0") + forms("Rm, shift", "")
	rsForms := forms("Rm, shift.Rs", "")
	if low == "mov" {
		reg, byReg := shiftForms()
		regForms += reg
		rsForms += byReg
	}
	// What gets the value: in a comparison the flags do.
	to := "Rd, " + fw + "? = "
	if rd == "" {
		to = fw + " = "
	}
	does := func(op2 string) string { return to + strings.ReplaceAll(value, "op2", op2) }
	base := Row{Title: title}
	i, r, x := base, base, base
	i.ID, i.Name, i.Does = "a-"+low+"-imm", name+" (immediate)", does("rot(imm12)")
	i.Bits, i.Forms = "cond:4 001 "+op+" "+s+" "+bits+" imm12:12", imm
	i.Reloc = reloc
	r.ID, r.Name, r.Does = "a-"+low+"-reg", name+" (register)", does("shift(Rm, type, imm5)")
	r.Bits, r.Forms = "cond:4 000 "+op+" "+s+" "+bits+" imm5:5 type:2 0 Rm:4", regForms
	x.ID, x.Name, x.Does = "a-"+low+"-rsr", name+" (register-shifted register)", does("shiftr(Rm, type, uxb(Rs))")
	x.Timing = TimeShift
	x.Bits, x.Forms = "cond:4 000 "+op+" "+s+" "+bits+" Rs:4 0 type:2 1 Rm:4", rsForms
	x.Cautions = []Caution{{Op: 0, Text: "pc with a shift by a register is unpredictable"}}
	for _, f := range []string{"Rd", "Rn", "Rm", "Rs"} {
		if strings.Contains(x.Bits, f+":4") {
			x.Cautions[0].Rules = append(x.Cautions[0].Rules, isPC(f)...)
		}
	}
	l.add(&i)
	l.add(&r)
	l.add(&x)
	if m == low {
		for _, q := range []*Row{&i, &r, &x} {
			l.add(comparisonP(q, low))
		}
		return nil
	}
	return []*Row{&i, &r, &x}
}

// shiftForms are the names of shifts and copies, which are spellings of MOV: by a constant,
// and by a register.
func shiftForms() (reg, byReg string) {
	reg += "~ cpy Rd, Rm ; S=0\n"
	for i, sh := range []string{"lsl", "lsr", "asr", "ror"} {
		n := "#imm5"
		if i == 1 || i == 2 {
			n = "#imm5%32"
		}
		for _, regs := range []string{"Rd, Rm", "Rd=Rm"} {
			reg += fmt.Sprintf("~ %s<s> %s, #%s ; type=%d\n", sh, regs, n, i)
			if i == 1 || i == 2 {
				reg += fmt.Sprintf("~ %s<s> %s, ##0\n", sh, regs)
			}
			if i == 3 { // no rotation: RRX has that code
				reg = strings.Replace(reg, fmt.Sprintf("~ ror<s> %s, ##imm5 ;", regs), fmt.Sprintf("~ ror<s> %s, ##0\n~ ror<s> %s, ##imm5 ;", regs, regs), 1)
			}
			byReg += fmt.Sprintf("~ %s<s> %s, Rs ; type=%d\n", sh, regs, i)
		}
	}
	// Before ARMv6K assemblers write NOP as MOV r0, r0.
	reg += "~ rrx|<s> Rd, Rm ; type=3\n~ [!V6K] nop\n"
	return reg, byReg
}

// moveRowsA32 are the rows of moves of constants of 16 bits.
func moveRowsA32() (rows rowList) {
	// Constants of 16 bits; assemblers write MOV with one as MOVW.
	for _, m := range []string{"movw", "movt"} {
		reloc := RelocLower
		if m == "movt" {
			reloc = RelocUpper
		}
		op, title, does, more := "0000", "Move a constant of 16 bits", "Rd = imm16", "\n~ mov Rd^, ##imm16"
		if m == "movt" {
			op, title, does, more = "0100", "Move to the upper half", "Rd = uxh(Rd) | lsl(imm16, 16)", ""
		}
		rows.add(&Row{ID: "a-" + m, Reloc: reloc, Name: strings.ToUpper(m), Title: title, Need: FeatT32,
			Bits: "cond:4 0011 " + op + " imm16[15:12] Rd:4 imm16[11:0]", Does: does, Forms: m + " Rd^, ####imm16" + more})
	}
	return rows
}

// multiplyRowsA32 are the rows of multiplications.
func multiplyRowsA32() (rows rowList) {
	// Multiply. C and, before ARMv5T, V are unknown after those that set flags
	// on ARMv4 (DDI 0100, "MUL").
	rows.add(&Row{ID: "a-mul", Name: "MUL", Title: "Multiply", Doc: "Rd = low 32 bits of Rm * Rs; with S, C is unknown before ARMv5",
		Bits: "cond:4 0000000 S:1 Rd:4 (0000) Rs:4 1001 Rm:4", Does: "Rd, NZ? = Rm * Rs; C? = kept(C)", Timing: TimeMulA32, Cautions: []Caution{mulFactor},
		Forms: "mul<s> Rd^, Rm^, Rs^\n~ mul<s> Rd=Rs^, Rm^"})
	rows.add(&Row{ID: "a-mla", Name: "MLA", Title: "Multiply and add", Doc: "Rd = low 32 bits of Rm * Rs + Ra; with S, C is unknown before ARMv5",
		Bits: "cond:4 0000001 S:1 Rd:4 Ra:4 Rs:4 1001 Rm:4", Does: "Rd, NZ? = Rm * Rs + Ra; C? = kept(C)", Timing: TimeMulAdd, Cautions: []Caution{mulFactor},
		Forms: "mla<s> Rd^, Rm^, Rs^, Ra^"})
	long := func(op, name, title, doc string, acc bool) {
		timing, mulhi := TimeMulLong, "mulhi(Rm, Rs)"
		if name[0] == 'S' {
			mulhi = "smulhi(Rm, Rs)"
		}
		does := "lo := Rm * Rs; hi := " + mulhi
		if acc {
			timing = TimeMulLongAdd
			does = "p := Rm * Rs; lo := RdLo + p; hi := RdHi + " + mulhi + " + carry(RdLo, p, 0)"
		}
		rows.add(&Row{ID: "a-" + strings.ToLower(name), Name: name, Title: title, Doc: doc + "; with S, C and V are unknown before ARMv5",
			Bits: "cond:4 0000" + op + " S:1 RdHi:4 RdLo:4 Rs:4 1001 Rm:4", Timing: timing,
			Does:     does + "; RdLo = lo; RdHi = hi; N? = lsr(hi, 31); Z? = (lo | hi) == 0; C? = kept(C); V? = kept(V)",
			Forms:    strings.ToLower(name) + "<s> RdLo^, RdHi^, Rm^, Rs^",
			Cautions: append(slices.Clone(sameHalves), longFactors)})
	}
	long("100", "UMULL", "Multiply to 64 bits, unsigned", "RdHi:RdLo = Rm * Rs, unsigned", false)
	long("101", "UMLAL", "Multiply and add to 64 bits, unsigned", "RdHi:RdLo = RdHi:RdLo + Rm * Rs, unsigned", true)
	long("110", "SMULL", "Multiply to 64 bits, signed", "RdHi:RdLo = Rm * Rs, signed", false)
	long("111", "SMLAL", "Multiply and add to 64 bits, signed", "RdHi:RdLo = RdHi:RdLo + Rm * Rs, signed", true)
	return rows
}

// branchRowsA32 are the rows of branches.
func branchRowsA32() (rows rowList) {
	// Branches.
	rows.add(&Row{ID: "a-b", Name: "B", Title: "Branch", Doc: "go to the label, 32 MB around PC",
		Bits: "cond:4 1010 simm24:24", Does: "branch pc + simm24*4", Forms: "b ~simm24*4"})
	rows.add(&Row{ID: "a-bl", Name: "BL", Title: "Call", Doc: "lr = return address; go to the label, 32 MB around PC",
		Bits: "cond:4 1011 simm24:24", Does: "lr = link; branch pc + simm24*4", Forms: "bl ~simm24*4"})
	rows.add(&Row{ID: "a-bx", Name: "BX", Title: "Branch and exchange", Doc: "go to Rm; bit 0 chooses T16 (1) or A32 (0)", Need: FeatT16,
		Bits: "cond:4 00010010 (1111)(1111)(1111) 0001 Rm:4", Does: "exchange Rm", Forms: "bx Rm"})
	rows.add(&Row{ID: "a-blx-reg", Name: "BLX (register)", Title: "Call and exchange", Doc: "lr = return address; go to Rm; bit 0 chooses T16 (1) or A32 (0)", Need: FeatV5T,
		Bits: "cond:4 00010010 (1111)(1111)(1111) 0011 Rm:4", Does: "lr = link; exchange Rm", Forms: "blx Rm",
		Cautions: []Caution{{Op: 0, Rules: isPC("Rm"), Text: "BLX through pc is unpredictable"}}})
	rows.add(&Row{ID: "a-blx", Name: "BLX (immediate)", Enc: "A2", Title: "Call T16 code", Doc: "lr = return address; go to the label in T16 state", Need: FeatV5T,
		Bits: "1111101 simm25[0] simm25[24:1]", Does: "lr = link; toT16 pc + simm25*2", Forms: "blx ~simm25*2"})
	rows.add(&Row{ID: "a-bxj", Timing: TimeUnknown, Name: "BXJ", Title: "Branch and exchange to Jazelle", Doc: "as BX where there is no Jazelle", Need: FeatV5TE,
		Bits: "cond:4 00010010 (1111)(1111)(1111) 0010 Rm:4", Does: "exchange Rm", Forms: "bxj Rm",
		Cautions: []Caution{{Op: 0, Rules: isPC("Rm"), Text: "BXJ through pc is unpredictable"}}})
	return rows
}

// wordRowsA32 are the rows of loads and stores of words and bytes.
func wordRowsA32() (rows rowList) {
	// Loads and stores of words and unsigned bytes.
	wordOrByte := func(load, byteSize bool) {
		m, suffix, name, l, b := "str", "", "STR", "0", "0"
		unit := "word"
		if load {
			m, name, l = "ldr", "LDR", "1"
		}
		if byteSize {
			suffix, b, unit = "b", "1", "byte"
		}
		// What is moved to or from an address.
		moves := func(at string) string {
			if load {
				return "Rt = " + unit + "[" + at + "]"
			}
			return unit + "[" + at + "] = Rt"
		}
		full, id := m, m+suffix
		if suffix != "" {
			full = m + "|b"
			name += "B"
		}
		doc := func(at string) string {
			if load {
				return "Rt = " + unit + " at " + at
			}
			return unit + " at " + at + " = Rt"
		}
		title := map[bool]string{true: "Load a ", false: "Store a "}[load] + unit
		rt := "Rt"
		if byteSize {
			rt = "Rt^"
		}
		lit := "~ " + full + " " + rt + ", @imm12 ; Rn=15 P=1\n"
		switch id {
		case "str":
			lit += "~ push {=Rt-sp} ; Rn=13 P=1 U=0 W=1 imm12=4\n"
		case "ldr":
			lit += "~ pop {=Rt} ; Rn=13 P=0 U=1 W=0 imm12=4\n"
		}
		wb := []Caution{{Op: 0, Rules: []Rule{regIs("Rn", PC).and(indexed), same("Rn", "Rt").and(indexed)}, Text: "a base register that is also loaded or stored, or pc, with writeback is unpredictable"}}
		immCautions := wb
		if !byteSize {
			immCautions = append([]Caution{{Op: 1, Refused: true, Written: true, Rules: []Rule{regIs("Rt", PC).and(regIs("Rn", PC)).and(notWord)},
				Text: "a word for pc at an address that is not aligned to a word is unpredictable"}}, wb...)
		}
		rows.add(&Row{ID: "a-" + id + "-imm", Reloc: RelocOffset, Name: name + " (immediate)", Title: title, Doc: doc("Rn ± imm12"),
			Bits: "cond:4 010 P:1 U:1 " + b + " W:1 " + l + " Rn:4 Rt:4 imm12:12", Not: "xxxx0100x" + b + "1" + l + strings.Repeat("x", 20),
			Does: indexedAddress("Rn", "imm12", moves), Forms: full + " " + rt + ", <Rn, imm12>\n" + lit, Cautions: immCautions})
		pcIndex := append([]Caution{{Op: 1, Rules: isPC("Rm"), Text: "pc as an index is unpredictable"}}, wb...)
		rows.add(&Row{ID: "a-" + id + "-reg", Name: name + " (register)", Title: title, Doc: doc("Rn ± shifted Rm"),
			Bits: "cond:4 011 P:1 U:1 " + b + " W:1 " + l + " Rn:4 Rt:4 imm5:5 type:2 0 Rm:4", Not: "xxxx0110x" + b + "1" + l + strings.Repeat("x", 20),
			Does: indexedAddress("Rn", "shift(Rm, type, imm5)", moves), Forms: full + " " + rt + ", <Rn, Rm^, shift>", Cautions: pcIndex})
		rtT := rt
		if load {
			rtT = "Rt^"
		}
		// As in user mode; always post-indexed.
		un := func(index ...Rule) []Caution {
			return []Caution{{Op: 0, Rules: append([]Rule{regIs("Rn", PC), same("Rn", "Rt")}, index...), Text: "these registers are unpredictable"}}
		}
		rows.add(&Row{ID: "a-" + id + "t-imm", Name: name + "T", Enc: "A1", Title: title + " as in user mode", Doc: doc("Rn") + "; Rn = Rn ± imm12",
			Bits:  "cond:4 0100 U:1 " + b + " 1 " + l + " Rn:4 Rt:4 imm12:12",
			Does:  moves("Rn") + "; Rn = addsub(Rn, U, imm12)",
			Forms: m + "|" + suffix + "t " + rtT + ", <Rn, imm12>+", Cautions: un()})
		rows.add(&Row{ID: "a-" + id + "t-reg", Name: name + "T", Enc: "A2", Title: title + " as in user mode", Doc: doc("Rn") + "; Rn = Rn ± shifted Rm",
			Bits:  "cond:4 0110 U:1 " + b + " 1 " + l + " Rn:4 Rt:4 imm5:5 type:2 0 Rm:4",
			Does:  moves("Rn") + "; Rn = addsub(Rn, U, shift(Rm, type, imm5))",
			Forms: m + "|" + suffix + "t " + rtT + ", <Rn, Rm^, shift>+", Cautions: un(regIs("Rm", PC))})
	}
	wordOrByte(false, false)
	wordOrByte(true, false)
	wordOrByte(false, true)
	wordOrByte(true, true)
	return rows
}

// extraRowsA32 are the rows of loads and stores of halfwords, signed bytes and pairs.
func extraRowsA32() (rows rowList) {
	// Halfwords, signed bytes, pairs.
	extra := func(l, op, stem, suffix, name, title, unit, ext, moved string, need Features) {
		load := stem == "ldr"
		pair := suffix == "d"
		moves := func(at string) string { return strings.ReplaceAll(moved, "$", at) }
		doc := unit + " at Rn ± %s = Rt"
		if load {
			doc = "Rt = " + unit + " at Rn ± %s" + ext
		}
		m := stem + "|" + suffix
		rt := "Rt^"
		if pair {
			rt = "Rt%2"
		}
		form := func(a string) string {
			out := m + " " + rt + ", " + a
			if pair {
				out = m + " " + rt + ", next(Rt), " + strings.Split(a, " ;")[0] + "\n~ " + out
			}
			out += "\n"
			if suffix[0] == 's' { // an older name
				out += "~ lds|" + suffix[1:] + " " + rt + ", " + a + "\n"
			}
			return out
		}
		lit := "~ " + m + " " + rt + ", @imm8 ; Rn=15 P=1\n"
		if pair {
			lit += "~ " + m + " " + rt + ", next(Rt), @imm8 ; Rn=15 P=1\n"
		}
		if suffix[0] == 's' {
			lit += "~ lds|" + suffix[1:] + " " + rt + ", @imm8 ; Rn=15 P=1\n"
		}
		rules := []Rule{regIs("Rn", PC).and(indexed), same("Rn", "Rt").and(indexed)}
		index := isPC("Rm")
		if pair {
			rules = append(append(rules, sameAsNext("Rn", "Rt").and(indexed)), pairRules("Rt")...)
		} else {
			rules = append(rules, isPC("Rt")...)
		}
		if pair && load {
			index = append(index, same("Rm", "Rt"), sameAsNext("Rm", "Rt"))
		}
		odd := func(index ...Rule) []Caution {
			return []Caution{{Op: 0, Rules: slices.Concat(rules, index), Text: "these registers are unpredictable"}}
		}
		rows.add(&Row{ID: "a-" + stem + suffix + "-imm", Reloc: RelocOffset, Name: name + " (immediate)", Title: title, Doc: fmt.Sprintf(doc, "imm8"), Need: need,
			Bits: "cond:4 000 P:1 U:1 1 W:1 " + l + " Rn:4 Rt:4 imm8[7:4] " + op + " imm8[3:0]", Not: "xxxx0000x11" + l + strings.Repeat("x", 20),
			Does: indexedAddress("Rn", "imm8", moves), Forms: form("<Rn, imm8>") + lit, Cautions: odd()})
		rows.add(&Row{ID: "a-" + stem + suffix + "-reg", Name: name + " (register)", Title: title, Doc: fmt.Sprintf(doc, "Rm"), Need: need,
			Bits: "cond:4 000 P:1 U:1 0 W:1 " + l + " Rn:4 Rt:4 (0000) " + op + " Rm:4", Not: "xxxx0000x01" + l + strings.Repeat("x", 20),
			Does: indexedAddress("Rn", "Rm", moves), Forms: form("<Rn, Rm^>"), Cautions: odd(index...)})
		if pair {
			return
		}
		un := func(index ...Rule) []Caution {
			return []Caution{{Op: 0, Rules: append([]Rule{regIs("Rn", PC), same("Rn", "Rt"), regIs("Rt", PC)}, index...), Text: "these registers are unpredictable"}}
		}
		rows.add(&Row{ID: "a-" + stem + suffix + "t-imm", Name: name + "T", Title: title + " as in user mode", Doc: fmt.Sprintf(doc, "imm8, afterwards"), Need: FeatT32,
			Bits: "cond:4 0000 U:1 11 " + l + " Rn:4 Rt:4 imm8[7:4] " + op + " imm8[3:0]",
			Does: moves("Rn") + "; Rn = addsub(Rn, U, imm8)", Forms: m + "t Rt^, <Rn, imm8>+", Cautions: un()})
		rows.add(&Row{ID: "a-" + stem + suffix + "t-reg", Name: name + "T", Enc: "A2", Title: title + " as in user mode", Doc: fmt.Sprintf(doc, "Rm, afterwards"), Need: FeatT32,
			Bits: "cond:4 0000 U:1 01 " + l + " Rn:4 Rt:4 (0000) " + op + " Rm:4",
			Does: moves("Rn") + "; Rn = addsub(Rn, U, Rm)", Forms: m + "t Rt^, <Rn, Rm^>+", Cautions: un(isPC("Rm")...)})
	}
	extra("0", "1011", "str", "h", "STRH", "Store a halfword", "halfword", "", "half[$] = Rt", 0)
	extra("1", "1011", "ldr", "h", "LDRH", "Load a halfword", "halfword", ", zero-extended", "Rt = half[$]", 0)
	extra("1", "1101", "ldr", "sb", "LDRSB", "Load a signed byte", "byte", ", sign-extended", "Rt = sxb(byte[$])", 0)
	extra("1", "1111", "ldr", "sh", "LDRSH", "Load a signed halfword", "halfword", ", sign-extended", "Rt = sxh(half[$])", 0)
	extra("0", "1101", "ldr", "d", "LDRD", "Load two words", "two words", " to Rt and the next register", "Rt = word![$]; next(Rt) = word![$ + 4]", FeatV5TE)
	extra("0", "1111", "str", "d", "STRD", "Store two words", "two words", "", "word![$] = Rt; word![$ + 4] = next(Rt)", FeatV5TE)
	return rows
}

// multipleRowsA32 are the rows of multiple loads and stores, and of swaps.
func multipleRowsA32() (rows rowList) {
	// Multiple loads and stores; P and U say where the first word lies.
	multiple := func(load bool, p, u, title string, names ...string) {
		m, l, timing := "stm", "0", TimeStoreMany
		if load {
			m, l, timing = "ldm", "1", TimeLoadMany
		}
		// Where the lowest register is, and the base register after it.
		low := map[string]string{"01": "Rn", "11": "Rn + 4", "00": "Rn - 4*count(list) + 4", "10": "Rn - 4*count(list)"}[p+u]
		does := "low := " + low + "; words[low] = list; if S: userbank; "
		if load {
			does = "low := " + low + "; list = words[low]; if S & !lsr(list, 15): userbank; if S & lsr(list, 15): restore; "
		}
		does += "if W: Rn = addsub(Rn, " + u + ", 4*count(list))"
		forms := ""
		for i, n := range names {
			a := "~ "
			if i == 0 {
				a = ""
			}
			full := m + "|" + n
			if n == "" {
				full = m
			}
			forms += a + full + " Rn^!?, {list}^\n"
		}
		what := "Store"
		if load {
			what = "Load"
		}
		if load && p+u == "01" {
			forms += "~ pop {list} ; Rn=13 W=1\n"
		}
		if !load && p+u == "10" {
			forms += "~ push {list} ; Rn=13 W=1\n"
		}
		user := Rule{"S = 1, written back", func(v Values) bool { return v.Get("S") != 0 && v.Get("W") != 0 }}
		if load {
			user = user.and(Rule{"pc not in list", func(v Values) bool { return v.Get("list")>>15 == 0 }})
		}
		cautions := []Caution{{Op: 1, Rules: []Rule{emptyList}, Text: "an empty register list is unpredictable"},
			{Op: 0, Rules: isPC("Rn"), Text: "pc as the base of a list is unpredictable"}}
		if load {
			cautions = append(cautions, Caution{Op: 1, List: true, Rules: []Rule{baseInList.and(writtenBack)},
				Text: "the base register is both loaded and written back, so its value is unknown"})
		} else {
			cautions = append(cautions, storedBase(baseNotLowest.and(writtenBack)))
		}
		cautions = append(cautions, Caution{Op: 1, Rules: []Rule{user}, Text: "the user bank with writeback is unpredictable"})
		rows.add(&Row{ID: "a-" + m + names[0], Name: strings.ToUpper(m + names[0]), Title: what + " registers, address " + title,
			Doc: "lowest register at the lowest address; with '!' Rn moves by 4 for each register; with '^' the user bank, or with pc the return from an exception",
			// P and U are fixed; W and S are not.
			Bits: "cond:4 100 " + p + " " + u + " S:1 W:1 " + l + " Rn:4 list:16", Does: does, Timing: timing, Forms: forms,
			Cautions: cautions})
	}
	multiple(false, "0", "1", "going up", "ia", "", "ea")
	multiple(true, "0", "1", "going up", "ia", "", "fd")
	multiple(false, "1", "1", "going up, first moved", "ib", "fa")
	multiple(true, "1", "1", "going up, first moved", "ib", "ed")
	multiple(false, "0", "0", "going down, then moved", "da", "ed")
	multiple(true, "0", "0", "going down, then moved", "da", "fa")
	multiple(false, "1", "0", "going down", "db", "fd")
	multiple(true, "1", "0", "going down", "db", "ea")

	for _, b := range []string{"", "b"} {
		bit, unit, m := "0", "word", "swp"
		if b != "" {
			bit, unit, m = "1", "byte", "swp|b"
		}
		rows.add(&Row{ID: "a-swp" + b, Name: "SWP" + strings.ToUpper(b), Title: "Swap a register and a " + unit, Doc: "Rt = " + unit + " at Rn; " + unit + " at Rn = Rt2, in one",
			Bits: "cond:4 00010 " + bit + " 00 Rn:4 Rt:4 (0000) 1001 Rt2:4", Does: fmt.Sprintf("Rt = %s![Rn]; %s![Rn] = Rt2", unit, unit), Lack: FeatV8, Timing: TimeSwap,
			Forms:    m + " Rt^, Rt2^, [Rn^]",
			Cautions: []Caution{{Op: 2, Refused: true, Rules: []Rule{regIs("Rn", PC), same("Rn", "Rt"), same("Rn", "Rt2")}, Text: "the base register of a swap must differ from the others, and not be pc"}}})
	}
	return rows
}

// statusRowsA32 are the rows that read and write the status registers.
func statusRowsA32() (rows rowList) {
	// Status registers.
	rows.add(&Row{ID: "a-mrs", Name: "MRS", Title: "Read a status register", Doc: "Rd = CPSR or SPSR",
		Bits: "cond:4 00010 R:1 00 (1111) Rd:4 (0000) 0000 (0000)", Does: "Rd = status(R)", Forms: "mrs Rd^, %status.R", Rest: true, Timing: TimeReadPSR})
	rows.add(&Row{ID: "a-msr-reg", Name: "MSR (register)", Title: "Write a status register", Doc: "the named parts of CPSR or SPSR = Rn",
		Bits: "cond:4 00010 psr[4] 10 psr[3:0] (1111) (0000) 0000 Rn:4", Does: "status psr = Rn", Forms: "msr psr.psr, Rn", Rest: true, Timing: TimeWritePSR,
		Cautions: []Caution{{Op: 0, Rules: []Rule{noPart}, Text: "MSR without a part is unpredictable"},
			{Op: 1, Rules: isPC("Rn"), Text: "MSR of pc is unpredictable"}}})
	rows.add(&Row{ID: "a-msr-imm", Name: "MSR (immediate)", Title: "Write a status register", Doc: "the named parts of CPSR or SPSR = const",
		Bits: "cond:4 00110 psr[4] 10 psr[3:0] (1111) imm12:12", Not: "xxxx0011001000001111" + strings.Repeat("x", 12) + " xxxx001100100000xxxx" + strings.Repeat("x", 12),
		Does: "status psr = rot(imm12)", Forms: "msr psr.psr, ###rot\nmsr psr.psr, ###k8, #kr", Timing: TimeWritePSR,
		Cautions: []Caution{{Op: 0, Rules: []Rule{noPart}, Text: "MSR without a part is unpredictable"}}})
	return rows
}

// otherRowsA32 are the rows of exceptions and hints.
func otherRowsA32() (rows rowList) {
	// Exceptions and hints.
	rows.add(&Row{ID: "a-svc", Late: LateAlways, Name: "SVC", Title: "Supervisor call", Doc: "enter the supervisor's exception handler; the constant is for its use",
		Bits: "cond:4 1111 imm24:24", Does: "trap svc, imm24", Forms: "svc ###imm24\n~ swi ###imm24"})
	rows.add(&Row{ID: "a-bkpt", Timing: TimeUnknown, Name: "BKPT", Title: "Breakpoint", Doc: "enter the debugger; the constant is for its use", Need: FeatV5,
		Bits: "1110 00010010 imm16[15:4] 0111 imm16[3:0]", Does: "trap bkpt, imm16", Forms: "bkpt ####imm16\n~ bkpt"})
	rows.add(&Row{ID: "a-clz", Name: "CLZ", Title: "Count leading zeros", Doc: "Rd = number of zeros above the highest one of Rm", Need: FeatV5,
		Bits: "cond:4 00010110 (1111) Rd:4 (1111) 0001 Rm:4", Does: "Rd = clz(Rm)", Forms: "clz Rd^, Rm^"})
	rows.add(&Row{ID: "a-nop", Name: "NOP", Title: "No operation", Doc: "nothing", Need: FeatV6K,
		Bits: "cond:4 00110010 0000 (1111) (0000) 0000 0000", Does: "nothing", Forms: "nop"})
	rows.add(&Row{ID: "a-pld-imm", Timing: TimePreload, Name: "PLD (immediate)", Title: "Preload hint for data", Doc: "hint: memory at Rn ± imm12 will be read", Need: FeatV5TE,
		Bits: "11110101 U:1 101 Rn:4 (1111) imm12:12", Does: "nothing addsub(Rn, U, imm12)", Forms: "pld [Rn, ±imm12]\n~ pld @imm12 ; Rn=15"})
	rows.add(&Row{ID: "a-pld-reg", Timing: TimePreload, Name: "PLD (register)", Title: "Preload hint for data", Doc: "hint: memory at Rn ± shifted Rm will be read", Need: FeatV5TE,
		Bits: "11110111 U:1 101 Rn:4 (1111) imm5:5 type:2 0 Rm:4", Does: "nothing addsub(Rn, U, shift(Rm, type, imm5))", Forms: "pld [Rn, ±Rm, shift]",
		Cautions: []Caution{{Op: 0, Rules: isPC("Rm"), Text: "pc as an index is unpredictable"}}})
	return rows
}

// coprocessorRowsA32 are the rows of coprocessors.
func coprocessorRowsA32() (rows rowList) {
	// Coprocessors.
	bar := func(n string) string {
		if n == "" {
			return n
		}
		return "|" + n
	}
	pcBase := []Caution{pcWrittenBack(2, regIs("Rn", PC).and(indexed))}
	cop := func(two string, need Features) {
		cond, sfx, id := "cond:4", "", ""
		if two != "" {
			cond, sfx, id = "1111", "2", "2"
		}
		rows.add(&Row{ID: "a-cdp" + id, Name: "CDP" + sfx, Title: "Coprocessor operation", Doc: "the coprocessor does an operation of its own", Need: need, Timing: TimeCop,
			Bits:  cond + " 1110 opc1:4 CRn:4 CRd:4 coproc:4 opc2:3 0 CRm:4",
			Forms: "cdp" + sfx + " p<coproc>, ####opc1, c<CRd>, c<CRn>, c<CRm>, ####opc2\n~ cdp" + sfx + " p<coproc>, ####opc1, c<CRd>, c<CRn>, c<CRm>"})
		rows.add(&Row{ID: "a-mcr" + id, Name: "MCR" + sfx, Title: "Move to a coprocessor", Doc: "coprocessor register = Rt", Need: need, Timing: TimeToCop, Reads: "Rt",
			Bits:     cond + " 1110 opc1:3 0 CRn:4 Rt:4 coproc:4 opc2:3 1 CRm:4",
			Forms:    "mcr" + sfx + " p<coproc>, ####opc1, Rt, c<CRn>, c<CRm>, ####opc2\n~ mcr" + sfx + " p<coproc>, ####opc1, Rt, c<CRn>, c<CRm>",
			Cautions: []Caution{{Op: 2, Rules: isPC("Rt"), Text: "MCR of pc is unpredictable"}}})
		rows.add(&Row{ID: "a-mrc" + id, Name: "MRC" + sfx, Title: "Move from a coprocessor", Doc: "Rt = coprocessor register; pc as Rt means the flags", Need: need, Timing: TimeFromCop, Writes: "Rt",
			Bits: cond + " 1110 opc1:3 1 CRn:4 Rt:4 coproc:4 opc2:3 1 CRm:4",
			Forms: strings.ReplaceAll("mrc p<coproc>, ####opc1, Rt^, c<CRn>, c<CRm>, ####opc2\nmrc p<coproc>, ####opc1, %nzcv.Rt, c<CRn>, c<CRm>, ####opc2\n~ mrc p<coproc>, ####opc1, Rt, c<CRn>, c<CRm>, ####opc2\n"+
				"~ mrc p<coproc>, ####opc1, Rt, c<CRn>, c<CRm>\n~ mrc p<coproc>, ####opc1, %nzcv.Rt, c<CRn>, c<CRm>", "mrc", "mrc"+sfx),
			Adjust: func(v Values, e Effects) Effects {
				if e.Writes.Has(PC) {
					e.Writes, e.FlagsWritten = 0, NZCV
				}
				return e
			}})
		for _, n := range []string{"", "l"} {
			bit := "0"
			if n != "" {
				bit = "1"
			}
			rows.add(&Row{ID: "a-stc" + id + n, Reloc: RelocOffset, Name: "STC" + sfx + strings.ToUpper(n), Title: "Store coprocessor registers", Doc: "memory from Rn ± imm8*4 = coprocessor registers", Need: need,
				Bits: cond + " 110 P:1 U:1 " + bit + " W:1 0 Rn:4 CRd:4 coproc:4 imm8:8", Not: "xxxx1100xx00" + strings.Repeat("x", 20), Reads: "Rn", Writes: "mem", Access: 4, Timing: TimeCopMem,
				Forms: "stc" + sfx + bar(n) + " p<coproc>, c<CRd>, <Rn, imm8*4>\n~ stc" + sfx + bar(n) + " p<coproc>, c<CRd>, @imm8*4 ; Rn=15 P=1", Cautions: pcBase})
			rows.add(&Row{ID: "a-ldc" + id + n, Reloc: RelocOffset, Name: "LDC" + sfx + strings.ToUpper(n), Title: "Load coprocessor registers", Doc: "coprocessor registers = memory from Rn ± imm8*4", Need: need,
				Bits: cond + " 110 P:1 U:1 " + bit + " W:1 1 Rn:4 CRd:4 coproc:4 imm8:8", Not: "xxxx1100xx01" + strings.Repeat("x", 20), Reads: "Rn mem", Access: 4, Timing: TimeCopMem,
				Forms: "ldc" + sfx + bar(n) + " p<coproc>, c<CRd>, <Rn, imm8*4>\n~ ldc" + sfx + bar(n) + " p<coproc>, c<CRd>, @imm8*4 ; Rn=15 P=1", Cautions: pcBase})
			// Not indexed; the coprocessor gets imm8 for its own use.
			rows.add(&Row{ID: "a-stc" + id + n + "-opt", Name: "STC" + sfx + strings.ToUpper(n), Title: "Store coprocessor registers", Doc: "memory from Rn = coprocessor registers; imm8 is for the coprocessor", Need: need,
				Bits: cond + " 110 01 " + bit + " 00 Rn:4 CRd:4 coproc:4 imm8:8", Reads: "Rn", Writes: "mem", Access: 4, Timing: TimeCopMem,
				Forms: "stc" + sfx + bar(n) + " p<coproc>, c<CRd>, [Rn], {#imm8}"})
			rows.add(&Row{ID: "a-ldc" + id + n + "-opt", Name: "LDC" + sfx + strings.ToUpper(n), Title: "Load coprocessor registers", Doc: "coprocessor registers = memory from Rn; imm8 is for the coprocessor", Need: need,
				Bits: cond + " 110 01 " + bit + " 01 Rn:4 CRd:4 coproc:4 imm8:8", Reads: "Rn mem", Access: 4, Timing: TimeCopMem,
				Forms: "ldc" + sfx + bar(n) + " p<coproc>, c<CRd>, [Rn], {#imm8}"})
		}
	}
	cop("", 0)
	cop("2", FeatV5)
	for _, two := range []string{"", "2"} {
		cond, need := "cond:4", FeatV5TE
		if two != "" {
			cond, need = "1111", FeatV6
		}
		rows.add(&Row{ID: "a-mcrr" + two, Name: "MCRR" + two, Title: "Move two registers to a coprocessor", Doc: "coprocessor register = Rt, Rt2", Need: need, Timing: TimePairCop, Reads: "Rt Rt2",
			Bits: cond + " 11000100 Rt2:4 Rt:4 coproc:4 opc1:4 CRm:4", Forms: "mcrr" + two + " p<coproc>, ####opc1, Rt^, Rt2^, c<CRm>"})
		rows.add(&Row{ID: "a-mrrc" + two, Name: "MRRC" + two, Title: "Move two registers from a coprocessor", Doc: "Rt, Rt2 = coprocessor register", Need: need, Timing: TimePairCop, Writes: "Rt Rt2",
			Bits: cond + " 11000101 Rt2:4 Rt:4 coproc:4 opc1:4 CRm:4", Forms: "mrrc" + two + " p<coproc>, ####opc1, Rt^, Rt2^, c<CRm>",
			Cautions: []Caution{sameTwo(2, true)}})
	}
	return rows
}

// indexedAddress is a load or store of A32 and T32 whose address is base, moved by by
// before or after it as the fields P, U and W say (DDI 0406C, A5.3): at is what is moved to or from
// an address.
func indexedAddress(base, by string, at func(addr string) string) string {
	return "to := addsub(" + base + ", U, " + by + "); " + at("pick(P, to, "+base+")") + "; if W | !P: " + base + " = to"
}
