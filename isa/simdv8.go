package isa

import (
	"fmt"
	"strings"
)

// rowsLater lists the vector encodings that came with ARMv8 and after it: the
// Cryptographic Extension, VQRDMLAH, the dot product, the long multiplication of
// half precision, complex numbers, and BFloat16 (DDI 0487, chapters F3 and F6,
// as far as they are remembered: the tests hold them against the tools).
func rowsLater() []*Row {
	var rows []*Row
	add := func(need Features, id, title, doc, bits, forms string, cautions ...Caution) {
		name, _, _ := strings.Cut(strings.TrimPrefix(forms, "~ "), ".")
		rows = append(rows, &Row{Cautions: cautions, ID: "a-" + id, Name: strings.ToUpper(name), Enc: "A1", Title: title, Doc: doc, Need: need, exact: true, Bits: bits, Forms: strings.TrimSpace(forms)})
	}
	const d, n, m = "Dd[4]", "Dn[4]", "Dm[4]"
	const crypto = FeatNEONv8 | FeatCrypto
	for _, x := range []struct{ name, title, doc, size, op string }{
		{"aese.8", "AES single round encryption", "Qd = Qd EOR Qm, its bytes shifted and substituted", "00 00", "001100"},
		{"aesd.8", "AES single round decryption", "Qd = Qd EOR Qm, its bytes shifted back and substituted back", "00 00", "001101"},
		{"aesmc.8", "AES mix columns", "Qd = columns of Qm, mixed", "00 00", "001110"},
		{"aesimc.8", "AES inverse mix columns", "Qd = columns of Qm, mixed back", "00 00", "001111"},
		{"sha1h.32", "SHA1 fixed rotate", "lowest word of Qd = that of Qm, rotated left by 30", "10 01", "001011"},
		{"sha1su1.32", "SHA1 schedule update 1", "Qd = next words of the schedule, from Qd and Qm", "10 10", "001110"},
		{"sha256su0.32", "SHA256 schedule update 0", "Qd = first part of the schedule's update, from Qd and Qm", "10 10", "001111"},
	} {
		id, _, _ := strings.Cut(x.name, ".")
		add(crypto, id, x.title, x.doc, "111100111 "+d+" 11 "+x.size+" Dd[3:0] "+x.op+" "+m+" 0 Dm[3:0]", x.name+" Qd, Qm")
	}
	for _, x := range []struct{ name, title, doc, u, size string }{
		{"sha1c", "SHA1 hash update, choose", "Qd = hash of four rounds that choose, from Qd, Qn and Qm", "0", "00"},
		{"sha1p", "SHA1 hash update, parity", "Qd = hash of four rounds of parity, from Qd, Qn and Qm", "0", "01"},
		{"sha1m", "SHA1 hash update, majority", "Qd = hash of four rounds of the majority, from Qd, Qn and Qm", "0", "10"},
		{"sha1su0", "SHA1 schedule update 0", "Qd = first part of the schedule's update, from Qd, Qn and Qm", "0", "11"},
		{"sha256h", "SHA256 hash update, part 1", "Qd = first half of the hash, from Qd, Qn and Qm", "1", "00"},
		{"sha256h2", "SHA256 hash update, part 2", "Qd = second half of the hash, from Qd, Qn and Qm", "1", "01"},
		{"sha256su1", "SHA256 schedule update 1", "Qd = next words of the schedule, from Qd, Qn and Qm", "1", "10"},
	} {
		add(crypto, x.name, x.title, x.doc, "1111001 "+x.u+" 0 "+d+" "+x.size+" Dn[3:0] Dd[3:0] 1100 "+n+" 1 "+m+" 0 Dm[3:0]", x.name+".32 Qd, Qn, Qm")
	}
	add(crypto, "vmull-p64", "Multiply doublewords as polynomials", "Qd = Dn × Dm, as polynomials over {0, 1}", "111100101 "+d+" 10 Dn[3:0] Dd[3:0] 1110 "+n+" 0 "+m+" 0 Dm[3:0]", "vmull.p64 Qd, Dn, Dm")

	// Vd, Vn, Vm in double and in quadword registers.
	both := func(name, tail string) string {
		return fmt.Sprintf("%s Dd, Dn, %s ; Q=0\n%[1]s Qd, Qn, %[3]s ; Q=1", name, strings.ReplaceAll(tail, "V", "D"), strings.ReplaceAll(tail, "V", "Q"))
	}
	// Assemblers take these two with a warning.
	later := Caution{Lacks: FeatNEON81, Rules: []Rule{always}, Text: "this is an ARMv8.1-A instruction, and the target does not say ARMv8.1-A"}
	for i, x := range []struct{ name, sign, title string }{{"vqrdmlah", "+=", "add"}, {"vqrdmlsh", "−=", "subtract"}} {
		title, doc := "Saturating rounding doubling multiply and "+x.title+", upper half", "each element of Vd "+x.sign+" upper half of 2 × element of Vn × element of Vm, rounded and saturated"
		forms := ""
		for size, t := range []string{".s16", ".s32"} {
			for q, r := range []string{"D", "Q"} {
				forms += fmt.Sprintf("%s%s %[3]sd, %[3]sn, %[3]sm ; size=%d Q=%d\n~ %[1]s%[2]s %[3]sd=%[3]sn, %[3]sm ; size=%[4]d Q=%[5]d\n", x.name, t, r, size+1, q)
			}
		}
		add(FeatNEONv8, x.name, title, doc, fmt.Sprintf("111100110 %s size:2 Dn[3:0] Dd[3:0] %s %s Q:1 %s 1 Dm[3:0]", d, []string{"1011", "1100"}[i], n, m), forms, later)
		for k, t := range []string{"s16", "s32"} {
			lane, forms := []string{"01 Dn[3:0] Dd[3:0] 111%d Dn[4] 1 x[1] 0 x[0] Dm:3", "10 Dn[3:0] Dd[3:0] 111%d Dn[4] 1 x:1 0 Dm:4"}[k], ""
			for u, r := range []string{"D", "Q"} {
				forms += fmt.Sprintf("%s.%s %[3]sd, %[3]sn, Dm[x] ; U=%[4]d\n~ %[1]s.%[2]s %[3]sd=%[3]sn, Dm[x] ; U=%[4]d\n", x.name, t, r, u)
			}
			add(FeatNEONv8, x.name+"-x"+t, title+", by one element", strings.Replace(doc, "element of Vm", "Dm[x]", 1), "1111001 U:1 1 "+d+" "+fmt.Sprintf(lane, i), forms, later)
		}
	}
	// Sums of four products. b is the bits 23 to 20 without D, u bit 4.
	dot := func(need Features, name, typ, doc, b, u, lane string) {
		if b != "" {
			add(need, name, "Dot product of elements", doc, "1111110"+b[:2]+" "+d+" "+b[2:]+" Dn[3:0] Dd[3:0] 1101 "+n+" Q:1 "+m+" "+u+" Dm[3:0]", both(name+"."+typ, "Vm"))
		}
		if lane != "" {
			add(need, name+"-x", "Dot product of elements, by one word", strings.Replace(doc, "of Vm", "of Dm[x]", 1), "1111111"+lane[:2]+" "+d+" "+lane[2:]+" Dn[3:0] Dd[3:0] 1101 "+n+" Q:1 x:1 "+u+" Dm:4", both(name+"."+typ, "Dm[x]"))
		}
	}
	const four = "each word of Vd += sum of the products of four bytes of Vn and of Vm"
	dot(FeatNEONv8|FeatDot, "vsdot", "s8", four+", signed", "0010", "0", "0010")
	dot(FeatNEONv8|FeatDot, "vudot", "u8", four+", unsigned", "0010", "1", "0010")
	dot(FeatNEONv8|FeatI8MM, "vusdot", "s8", four+", of Vn unsigned and of Vm signed", "0110", "0", "0100")
	dot(FeatNEONv8|FeatI8MM, "vsudot", "u8", four+", of Vn signed and of Vm unsigned", "", "1", "0100")
	dot(FeatNEONv8|FeatBF16, "vdot", "bf16", "each word of Vd += sum of the products of two halves of Vn and of Vm in BFloat16", "0000", "0", "0000")
	for _, x := range []struct {
		need                       Features
		name, typ, how, b, size, u string
	}{{FeatI8MM, "vsmmla", "s8", "of signed bytes", "00", "10", "0"}, {FeatI8MM, "vummla", "u8", "of unsigned bytes", "00", "10", "1"}, {FeatI8MM, "vusmmla", "s8", "of unsigned bytes by signed ones", "01", "10", "0"},
		{FeatBF16, "vmmla", "bf16", "of numbers in BFloat16", "00", "00", "0"}} {
		add(FeatNEONv8|x.need, x.name, "Multiply matrices and add", "Qd += product of the matrices in Qn and Qm "+x.how, "1111110"+x.b+" "+d+" "+x.size+" Dn[3:0] Dd[3:0] 1100 "+n+" 1 "+m+" "+x.u+" Dm[3:0]", x.name+"."+x.typ+" Qd, Qn, Qm")
	}
	for i, x := range []string{"vfmab", "vfmat"} {
		doc := "each word of Qd += product of the " + []string{"lower", "upper"}[i] + " halves of the words of Qn and Qm in BFloat16"
		add(FeatNEONv8|FeatBF16, x, "Multiply and add, long", doc, fmt.Sprintf("111111000 %s 11 Dn[3:0] Dd[3:0] 1000 %s %d %s 1 Dm[3:0]", d, n, i, m), x+".bf16 Qd, Qn, Qm")
		add(FeatNEONv8|FeatBF16, x+"-x", "Multiply and add, long, by one element", strings.Replace(doc, "Qm", "Dm[x]", 1), fmt.Sprintf("111111100 %s 11 Dn[3:0] Dd[3:0] 1000 %s %d x[1] 1 x[0] Dm:3", d, n, i), x+".bf16 Qd, Qn, Dm[x]")
	}
	add(FeatNEONv8|FeatBF16, "vcvt-bf16-f32-v", "Elements to BFloat16", "each element of Dd = element of Qm in BFloat16", "111100111 "+d+" 110110 Dd[3:0] 0110 01 "+m+" 0 Dm[3:0]", "vcvt.bf16.f32 Dd, Qm")
	for i, half := range []string{"b", "t"} {
		add(FeatVFP|FeatFPv8|FeatBF16, "vcvt"+half+"-bf16-f32", "Single precision to BFloat16", []string{"lower", "upper"}[i]+" half of Sd = Sm, rounded as FPSCR says",
			fmt.Sprintf("cond:4 11101 Sd[0] 110011 Sd[4:1] 1001 %d1 Sm[0] 0 Sm[4:1]", i), "vcvt"+half+".bf16.f32 Sd, Sm")
		r := rows[len(rows)-1]
		r.Reads, r.Writes = "Sd Sm fp.modes", "Sd fp.exceptions"
	}
	for i, x := range []struct{ name, sign string }{{"vfmal", "+="}, {"vfmsl", "−="}} {
		doc := "each element of Vd " + x.sign + " product of elements of Vn and Vm of half precision, of twice the size"
		s := fmt.Sprint(i)
		add(FeatNEONv8|FeatFML, x.name+"-d", "Multiply and add, long", doc, "11111100"+s+" "+d+" 10 Sn[4:1] Dd[3:0] 1000 Sn[0] 0 Sm[0] 1 Sm[4:1]", x.name+".f16 Dd, Sn, Sm")
		add(FeatNEONv8|FeatFML, x.name+"-q", "Multiply and add, long", doc, "11111100"+s+" "+d+" 10 Dn[3:0] Dd[3:0] 1000 Dn[4] 1 "+m+" 1 Dm[3:0]", x.name+".f16 Qd, Dn, Dm")
		doc = strings.Replace(doc, "elements of Vn and Vm", "element of Vn and Vm[x]", 1)
		add(FeatNEONv8|FeatFML, x.name+"-dx", "Multiply and add, long, by one element", doc, "111111100 "+d+" 0"+s+" Sn[4:1] Dd[3:0] 1000 Sn[0] 0 Sm[0] 1 x:1 Sm[3:1]", x.name+".f16 Dd, Sn, Sm[x]")
		add(FeatNEONv8|FeatFML, x.name+"-qx", "Multiply and add, long, by one element", doc, "111111100 "+d+" 0"+s+" Dn[3:0] Dd[3:0] 1000 Dn[4] 1 x[1] 1 x[0] Dm:3", x.name+".f16 Qd, Dn, Dm[x]")
	}
	for i, t := range []string{"f16", "f32"} {
		need := FeatNEONv8 | FeatCplx
		if i == 0 {
			need |= FeatFP16
		}
		s := fmt.Sprint(i)
		add(need, "vcmla-"+t, "Multiply complex numbers and add", "each pair of Vd += pair of Vn × pair of Vm as complex numbers, rotated", "1111110 rot:2 "+d+" 1 "+s+" Dn[3:0] Dd[3:0] 1000 Dn[4] Q:1 "+m+" 0 Dm[3:0]",
			both("vcmla."+t, "Vm, ###rot*90"))
		lane, forms := "x:1 0 Dm:4", "Dm[x]"
		if i == 1 {
			lane = m + " 0 Dm[3:0] | x:0"
		}
		add(need, "vcmla-x"+t, "Multiply complex numbers and add, by one", "each pair of Vd += pair of Vn × Dm[x] as complex numbers, rotated", "11111110"+s+" "+d+" rot:2 Dn[3:0] Dd[3:0] 1000 Dn[4] Q:1 "+lane,
			both("vcmla."+t, forms+", ###rot*90"))
		add(need, "vcadd-"+t, "Add complex numbers, rotated", "each pair of Vd = pair of Vn + pair of Vm, rotated, as complex numbers", "1111110 rot:1 1 "+d+" 0 "+s+" Dn[3:0] Dd[3:0] 1000 Dn[4] Q:1 "+m+" 0 Dm[3:0]",
			strings.ReplaceAll(both("vcadd."+t, "Vm, ###90"), " ; ", " ; rot=0 ")+"\n"+strings.ReplaceAll(both("vcadd."+t, "Vm, ###270"), " ; ", " ; rot=1 "))
	}
	return rows
}
