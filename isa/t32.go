package isa

import (
	"fmt"
	"strings"
)

// rowsT32Data lists the data-processing encodings of T32: those with constants
// and with registers, shifted or not. The divided syntax has them where T16 has
// not the name at all. Names, encoding numbers, layouts and conditions follow
// the ARMv7-A/R Architecture Reference Manual (DDI 0406), chapters A6 and A8,
// and the ARMv7-M one (DDI 0403), as far as they are remembered: the tests hold
// them against four tools.
func rowsT32Data() []*Row {
	var rows []*Row
	add := func(r *Row) *Row {
		r.Need |= FeatT32
		rows = append(rows, r)
		return r
	}
	type shape struct {
		name, title, value string // what is computed of op2
		op                 string
		rd, rn             string // the operands, "" when there is none
		swap               string // the mnemonic that takes the constant negated or inverted
		fw                 string // the flags of it
		encI, encR         string
	}
	// What compares is the encoding with Rd = 15 that sets flags, MOV and MVN are
	// those with Rn = 15.
	not := func(x shape) (out string) {
		const any4 = "xxxx"
		if strings.Contains("AND EOR ADD SUB", x.name) {
			out += "xxxxxxxxxxx1" + any4 + any4 + "1111xxxxxxxx "
		}
		if x.name == "ORR" || x.name == "ORN" {
			out += "xxxxxxxxxxxx1111" + any4 + any4 + "xxxxxxxx"
		}
		return out
	}
	dp := func(x shape) {
		low := strings.ToLower(x.name)
		m, s, rd, rn := low+"<s>", "S:1", "Rd", "Rn"
		head := "Rd, Rn"
		bitsN, bitsD, bitsR := "Rn:4", "Rd:4", "imm5[4:2] Rd:4 imm5[1:0]"
		switch {
		case x.rd == "":
			m, s, rd, bitsD, bitsR = low, "1", "", "1111", "imm5[4:2] 1111 imm5[1:0]"
			head = x.rn
		case x.rn == "":
			rn, bitsN = "", "1111"
			head = x.rd
		default:
			head = x.rd + ", " + x.rn
		}
		forms := func(last, fixed string) string {
			u, d := "u ", ""
			if low == "orn" || low == "rsb" {
				u, d = "", "d " // T16 has no such name
			}
			out := u + m + " " + head + ", " + last + fixed + "\n"
			if shifted := last == "Rm^^, shift"; rd != "" && rn != "" && (!shifted || d != "") {
				if shifted {
					u = d
				}
				out += "~ " + u + m + " Rd=Rn^^, " + last + fixed + "\n"
			}
			if rd == "" {
				out += "~ " + u + low + "s " + head + ", " + last + fixed + "\n"
			}
			return out
		}
		imm := forms("#rot", "")
		if x.swap != "" {
			c := "#~rot"
			if x.fw == "NZCV" && !strings.Contains(x.value, "C") {
				c = "#-rot"
			}
			name, low0 := m, low
			m, low = strings.Replace(m, low, x.swap, 1), x.swap
			for _, f := range strings.Split(strings.TrimSpace(forms(c, "")), "\n") {
				imm += "~ " + strings.TrimPrefix(f, "~ ") + "\n"
			}
			m, low = name, low0
		}
		reg := forms("Rm^^", " ; imm5=0 type=0") + forms("Rm^^, shift", "")
		switch low {
		case "add", "sub":
			// SP as a base, and as a destination with it.
			imm = "u " + m + " Rd^, sp, #rot ; Rn=13\n~ u " + m + " sp, #rot ; Rd=13 Rn=13\n" +
				"~ u " + x.swap + "<s> Rd^, sp, #-rot ; Rn=13\n~ u " + x.swap + "<s> sp, #-rot ; Rd=13 Rn=13\n" + imm
			reg = "u " + m + " sp, sp, Rm^^ ; Rd=13 Rn=13 imm5=0 type=0\n~ u " + m + " sp, Rm^^ ; Rd=13 Rn=13 imm5=0 type=0\nu " + m + " sp, sp, Rm^^, lsl#imm5<=3 ; Rd=13 Rn=13 type=0\n" +
				"u " + m + " Rd^^, sp, Rm^^ ; Rn=13 imm5=0 type=0\nu " + m + " Rd^^, sp, Rm^^, shift ; Rn=13\n" + reg
		case "rsb":
			imm += "~ u neg<s> Rd^^, Rn^^ ; imm12=0\n"
		case "mov":
			imm = strings.TrimSpace(imm) + literalForms("=rot", " ; S=0")
		case "mvn":
			imm = strings.TrimSpace(imm) + literalForms("=~rot", " ; S=0")
		}
		// What gets the value: in a comparison the flags do.
		to := "Rd, " + x.fw + "? = "
		if rd == "" {
			to = x.fw + " = "
		}
		does := func(op2 string) string { return to + strings.ReplaceAll(x.value, "op2", op2) }
		i := &Row{ID: "t-" + low + "-imm", Name: x.name + " (immediate)", Enc: x.encI, Title: x.title, Does: does("rot(imm12)"),
			Bits: "11110 imm12[11] 0 " + x.op + " " + s + " " + bitsN + " 0 imm12[10:8] " + bitsD + " imm12[7:0]",
			Not:  not(x), Forms: imm}
		r := &Row{ID: "t-" + low + "-reg", Name: x.name + " (register)", Enc: x.encR, Title: x.title, Does: does("shift(Rm, type, imm5)"),
			Bits: "1110101 " + x.op + " " + s + " " + bitsN + " (0) " + bitsR + " type:2 Rm:4",
			Not:  not(x), Forms: reg}
		if low == "mov" {
			// The names of shifts come first: assemblers write those.
			// Either register may be sp, if no flags are set.
			r.Forms = "u mov<s> Rd^^, Rm^^ ; imm5=0 type=0\nu mov sp, Rm^^ ; S=0 Rd=13 imm5=0 type=0\nu mov Rd^^, sp ; S=0 Rm=13 imm5=0 type=0\nrrx<s> Rd^^, Rm^^ ; type=3 imm5=0\n" +
				"~ u mov sp, Rm^^, lsl#0 ; S=0 Rd=13 imm5=0 type=0\n~ u mov Rd^^, sp, lsl#0 ; S=0 Rm=13 imm5=0 type=0\n" +
				"~ u cpy Rd^^, Rm^^ ; S=0 imm5=0 type=0\n~ u cpy sp, Rm^^ ; S=0 Rd=13 imm5=0 type=0\n~ u cpy Rd^^, sp ; S=0 Rm=13 imm5=0 type=0\n"
			for k, sh := range []string{"lsl", "lsr", "asr", "ror"} {
				n := []string{"##imm5", "##imm5%32", "##imm5%32", "##imm5"}[k]
				for _, regs := range []string{"Rd^^, Rm^^", "Rd=Rm^^"} {
					r.Forms += fmt.Sprintf("~ u %s<s> %s, ##0 ; imm5=0 type=0\n%su %s<s> %s, %s ; type=%d\n", sh, regs, map[bool]string{true: "~ "}[regs[2] == '='], sh, regs, n, k)
				}
			}
			r.Forms += "~ u mov<s> Rd^^, Rm^^, shift"
		}
		add(i)
		add(r)
	}
	for _, x := range []shape{
		{name: "AND", op: "0000", rd: "Rd^^", rn: "Rn^^", title: "Bitwise and", value: "Rn & op2", swap: "bic", fw: "NZC", encI: "T1", encR: "T2"},
		{name: "TST", op: "0000", rn: "Rn^^", title: "Test bits", value: "Rn & op2", fw: "NZC", encI: "T1", encR: "T2"},
		{name: "BIC", op: "0001", rd: "Rd^^", rn: "Rn^^", title: "Clear bits", value: "Rn & ~op2", swap: "and", fw: "NZC", encI: "T1", encR: "T2"},
		{name: "ORR", op: "0010", rd: "Rd^^", rn: "Rn^^", title: "Bitwise or", value: "Rn | op2", swap: "orn", fw: "NZC", encI: "T1", encR: "T2"},
		{name: "MOV", op: "0010", rd: "Rd^^", title: "Move", value: "op2", swap: "mvn", fw: "NZC", encI: "T2", encR: "T3"},
		{name: "ORN", op: "0011", rd: "Rd^^", rn: "Rn^^", title: "Bitwise or with the inverse", value: "Rn | ~op2", swap: "orr", fw: "NZC", encI: "T1", encR: "T1"},
		{name: "MVN", op: "0011", rd: "Rd^^", title: "Move inverted", value: "~op2", swap: "mov", fw: "NZC", encI: "T1", encR: "T2"},
		{name: "EOR", op: "0100", rd: "Rd^^", rn: "Rn^^", title: "Bitwise exclusive or", value: "Rn ^ op2", fw: "NZC", encI: "T1", encR: "T2"},
		{name: "TEQ", op: "0100", rn: "Rn^^", title: "Test equality", value: "Rn ^ op2", fw: "NZC", encI: "T1", encR: "T1"},
		{name: "ADD", op: "1000", rd: "Rd^^", rn: "Rn^^", title: "Add", value: "Rn + op2", swap: "sub", fw: "NZCV", encI: "T3", encR: "T3"},
		{name: "CMN", op: "1000", rn: "Rn^", title: "Compare with the negative", value: "Rn + op2", swap: "cmp", fw: "NZCV", encI: "T1", encR: "T2"},
		{name: "ADC", op: "1010", rd: "Rd^^", rn: "Rn^^", title: "Add with carry", value: "Rn + op2 + C", swap: "sbc", fw: "NZCV", encI: "T1", encR: "T2"},
		{name: "SBC", op: "1011", rd: "Rd^^", rn: "Rn^^", title: "Subtract with borrow", value: "Rn - op2 - !C", swap: "adc", fw: "NZCV", encI: "T1", encR: "T2"},
		{name: "SUB", op: "1101", rd: "Rd^^", rn: "Rn^^", title: "Subtract", value: "Rn - op2", swap: "add", fw: "NZCV", encI: "T3", encR: "T2"},
		{name: "CMP", op: "1101", rn: "Rn^", title: "Compare", value: "Rn - op2", swap: "cmn", fw: "NZCV", encI: "T2", encR: "T3"},
		{name: "RSB", op: "1110", rd: "Rd^^", rn: "Rn^^", title: "Subtract the other way round", value: "op2 - Rn", fw: "NZCV", encI: "T2", encR: "T1"},
	} {
		dp(x)
	}

	// Plain constants of twelve bits, and of sixteen. What has no modified
	// constant comes here.
	for _, x := range []struct{ name, op, sign, title, other string }{{"ADD", "10000", "+", "Add", "sub"}, {"SUB", "10101", "-", "Subtract", "add"}} {
		low := strings.ToLower(x.name)
		layout := "11110 imm12[11] " + x.op + " 0 %s 0 imm12[10:8] Rd:4 imm12[7:0]"
		wide := low + "w"
		add(&Row{ID: "t-" + wide, Late: LateAlways, NotGrown: true, Name: x.name + " (immediate)", Enc: map[string]string{"ADD": "T4", "SUB": "T4"}[x.name], Title: x.title + " a constant", Does: "Rd = Rn " + x.sign + " imm12",
			Bits: fmt.Sprintf(layout, "Rn:4"), Not: strings.Repeat("x", 12) + "1111" + strings.Repeat("x", 16),
			Forms: wide + " Rd^^, Rn^^, ###imm12\n" + wide + " Rd^, sp, ###imm12 ; Rn=13\n" +
				"~ u " + low + " Rd^^, Rn^^, ##imm12\n~ u " + low + " Rd=Rn^^, ##imm12\n~ u " + low + " Rd^, sp, ##imm12 ; Rn=13\n~ u " + low + " sp, ##imm12 ; Rd=13 Rn=13\n" +
				"~ " + x.other + "w Rd^^, Rn^^, ###-imm12\n~ " + x.other + "w Rd^, sp, ###-imm12 ; Rn=13\n" +
				"~ u " + x.other + " Rd^^, Rn^^, ##-imm12\n~ u " + x.other + " Rd=Rn^^, ##-imm12\n~ u " + x.other + " Rd^, sp, ##-imm12 ; Rn=13\n~ u " + x.other + " sp, ##-imm12 ; Rd=13 Rn=13"})
		r := add(&Row{ID: "t-adr-" + low, Late: LateAlways, Name: "ADR", Enc: map[string]string{"ADD": "T3", "SUB": "T2"}[x.name], Title: map[string]string{"ADD": "Address ahead of PC", "SUB": "Address before PC"}[x.name],
			Does: "Rd = align(pc) " + x.sign + " imm12",
			Bits: fmt.Sprintf(layout, "1111")})
		r.Forms = "u " + low + " Rd^^, pc, ##imm12\n~ " + wide + " Rd^^, pc, ###imm12\n~ u " + x.other + " Rd^^, pc, ##-imm12\n~ " + x.other + "w Rd^^, pc, ###-imm12\n~ u adr Rd^^, @"
		if x.name == "SUB" {
			r.Forms += "-"
		}
		r.Forms += "imm12"
	}
	for _, m := range []string{"MOVW", "MOVT"} {
		r := &Row{ID: "t-" + strings.ToLower(m), Reloc: RelocLower, Name: "MOV (immediate)", Enc: "T3", Title: "Move a constant of 16 bits", Does: "Rd = imm16", Need: FeatMovW,
			Bits: "11110 imm16[11] 100100 imm16[15:12] 0 imm16[10:8] Rd:4 imm16[7:0]", Forms: "movw Rd^^, ####imm16\n~ u mov Rd^^, ##imm16" + literalForms("=imm16", "")}
		if m == "MOVT" {
			r.Reloc = RelocUpper
			r.Name, r.Enc, r.Title, r.Does = "MOVT", "T1", "Move to the upper half", "Rd = uxh(Rd) | lsl(imm16, 16)"
			r.Bits, r.Forms = strings.Replace(r.Bits, "100100", "101100", 1), "movt Rd^^, ####imm16"
		}
		rows = append(rows, r)
	}

	// Shifts by a register. A shift by 0 keeps C, so that C is read with it.
	for i, n := range []string{"LSL", "LSR", "ASR", "ROR"} {
		low := strings.ToLower(n)
		add(&Row{ID: "t-" + low + "-rsr", Name: n + " (register)", Enc: "T2", Timing: TimeShift,
			Title: []string{"Shift left by a register", "Shift right by a register, zeros in", "Shift right by a register, sign in", "Rotate right by a register"}[i],
			Does:  "Rd, NZC? = " + low + "(Rn, uxb(Rm))",
			Bits:  fmt.Sprintf("11111010 0%02b S:1 Rn:4 1111 Rd:4 0000 Rm:4", i),
			Forms: "u " + low + "<s> Rd^^, Rn^^, Rm^^\n~ u " + low + "<s> Rd=Rn^^, Rm^^\n~ u mov<s> Rd^^, Rn^^, " + low + "-Rm^^"})
	}
	return rows
}
