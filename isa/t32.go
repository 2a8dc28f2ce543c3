package isa

import (
	"fmt"
	"strings"
)

// rowsT32Data lists the data-processing encodings of T32: those with constants
// and shifted registers. Names, encoding numbers, layouts and conditions follow
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
	// C comes from the shifter, or from a rotated constant.
	logical := func(v Values, e Effects) Effects {
		i, typ := v.row.fieldIndex("imm5"), v.Get("type")
		rrx := i >= 0 && typ == 3 && v.vals[i] == 0
		switch {
		case rrx:
			e.FlagsRead |= C
		case e.FlagsWritten == 0:
		case i < 0 && v.Get("imm12") < 1<<10, i >= 0 && typ == 0 && v.vals[i] == 0:
			e.FlagsWritten &^= C
		}
		return e
	}
	carry := func(v Values, e Effects) Effects {
		if v.row.fieldIndex("imm5") >= 0 && v.Get("type") == 3 && v.Get("imm5") == 0 {
			e.FlagsRead |= C
		}
		return e
	}
	type shape struct {
		name, title, doc string
		op               string
		rd, rn           string // the operands, "" when there is none
		swap             string // the mnemonic that takes the constant negated or inverted
		fr, fw           Flags
		encI, encR       string
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
			out := m + " " + head + ", " + last + fixed + "\n"
			if rd != "" && rn != "" {
				out += "~ " + m + " Rd=Rn^^, " + last + fixed + "\n"
			}
			if rd == "" {
				out += "~ " + low + "s " + head + ", " + last + fixed + "\n"
			}
			return out
		}
		imm := forms("#rot", "")
		if x.swap != "" {
			c := "#~rot"
			if x.fw&V != 0 && x.fr == 0 {
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
		i := &Row{ID: "t-" + low + "-imm", Name: x.name + " (immediate)", Enc: x.encI, Title: x.title, Doc: strings.ReplaceAll(x.doc, "op2", "const"),
			Bits: "11110 imm12[11] 0 " + x.op + " " + s + " " + bitsN + " 0 imm12[10:8] " + bitsD + " imm12[7:0]",
			Not:  not(x), Reads: rn, Writes: rd, FR: x.fr, FW: x.fw, Forms: imm}
		r := &Row{ID: "t-" + low + "-reg", Name: x.name + " (register)", Enc: x.encR, Title: x.title, Doc: strings.ReplaceAll(x.doc, "op2", "shifted Rm"),
			Bits: "1110101 " + x.op + " " + s + " " + bitsN + " (0) " + bitsR + " type:2 Rm:4",
			Not:  not(x), Reads: strings.TrimSpace(rn + " Rm"), Writes: rd, FR: x.fr, FW: x.fw, Forms: reg}
		i.Adjust, r.Adjust = carry, carry
		if x.fw&V == 0 {
			i.Adjust, r.Adjust = logical, logical
		}
		if low == "mov" {
			// The names of shifts come first: assemblers write those.
			r.Forms = "mov<s> Rd^^, Rm^^ ; imm5=0 type=0\nrrx<s> Rd^^, Rm^^ ; imm5=0 type=3\n~ rrx<s> Rd=Rm^^ ; imm5=0 type=3\n"
			for k, sh := range []string{"lsl", "lsr", "asr", "ror"} {
				n := []string{"##imm5", "##imm5%32", "##imm5%32", "##imm5"}[k]
				for _, regs := range []string{"Rd^^, Rm^^", "Rd=Rm^^"} {
					r.Forms += fmt.Sprintf("~ %s<s> %s, ##0 ; imm5=0 type=0\n%s%s<s> %s, %s ; type=%d\n", sh, regs, map[bool]string{true: "~ "}[regs[2] == '='], sh, regs, n, k)
				}
			}
			r.Forms += "~ mov<s> Rd^^, Rm^^, shift"
		}
		add(i)
		add(r)
	}
	for _, x := range []shape{
		{name: "AND", op: "0000", rd: "Rd^^", rn: "Rn^^", title: "Bitwise and", doc: "Rd = Rn & op2", swap: "bic", fw: NZC, encI: "T1", encR: "T2"},
		{name: "TST", op: "0000", rn: "Rn^^", title: "Test bits", doc: "flags of Rn & op2", fw: NZC, encI: "T1", encR: "T2"},
		{name: "BIC", op: "0001", rd: "Rd^^", rn: "Rn^^", title: "Clear bits", doc: "Rd = Rn & ~op2", swap: "and", fw: NZC, encI: "T1", encR: "T2"},
		{name: "ORR", op: "0010", rd: "Rd^^", rn: "Rn^^", title: "Bitwise or", doc: "Rd = Rn | op2", swap: "orn", fw: NZC, encI: "T1", encR: "T2"},
		{name: "MOV", op: "0010", rd: "Rd^^", title: "Move", doc: "Rd = op2", swap: "mvn", fw: NZC, encI: "T2", encR: "T3"},
		{name: "ORN", op: "0011", rd: "Rd^^", rn: "Rn^^", title: "Bitwise or with the inverse", doc: "Rd = Rn | ~op2", swap: "orr", fw: NZC, encI: "T1", encR: "T1"},
		{name: "MVN", op: "0011", rd: "Rd^^", title: "Move inverted", doc: "Rd = ~op2", swap: "mov", fw: NZC, encI: "T1", encR: "T2"},
		{name: "EOR", op: "0100", rd: "Rd^^", rn: "Rn^^", title: "Bitwise exclusive or", doc: "Rd = Rn ^ op2", fw: NZC, encI: "T1", encR: "T2"},
		{name: "TEQ", op: "0100", rn: "Rn^^", title: "Test equality", doc: "flags of Rn ^ op2", fw: NZC, encI: "T1", encR: "T1"},
		{name: "ADD", op: "1000", rd: "Rd^^", rn: "Rn^^", title: "Add", doc: "Rd = Rn + op2", swap: "sub", fw: NZCV, encI: "T3", encR: "T3"},
		{name: "CMN", op: "1000", rn: "Rn^", title: "Compare with the negative", doc: "flags of Rn + op2", swap: "cmp", fw: NZCV, encI: "T1", encR: "T2"},
		{name: "ADC", op: "1010", rd: "Rd^^", rn: "Rn^^", title: "Add with carry", doc: "Rd = Rn + op2 + C", swap: "sbc", fr: C, fw: NZCV, encI: "T1", encR: "T2"},
		{name: "SBC", op: "1011", rd: "Rd^^", rn: "Rn^^", title: "Subtract with borrow", doc: "Rd = Rn - op2 - !C", swap: "adc", fr: C, fw: NZCV, encI: "T1", encR: "T2"},
		{name: "SUB", op: "1101", rd: "Rd^^", rn: "Rn^^", title: "Subtract", doc: "Rd = Rn - op2", swap: "add", fw: NZCV, encI: "T3", encR: "T2"},
		{name: "CMP", op: "1101", rn: "Rn^", title: "Compare", doc: "flags of Rn - op2", swap: "cmn", fw: NZCV, encI: "T2", encR: "T3"},
		{name: "RSB", op: "1110", rd: "Rd^^", rn: "Rn^^", title: "Subtract the other way round", doc: "Rd = op2 - Rn", fw: NZCV, encI: "T2", encR: "T1"},
	} {
		dp(x)
	}
	return rows
}
