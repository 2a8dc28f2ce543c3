package isa

import (
	"fmt"
	"strings"
)

// rowsSIMD lists the encodings of Advanced SIMD in the notation of vfpcore.go:
// data processing. Names, layouts and conditions follow the ARMv7-A/R
// Architecture Reference Manual (DDI 0406), section A7.4 and chapter A8, and the
// ARMv8 one (DDI 0487), chapter F6, as far as they are remembered: the tests hold
// them against the tools.
func rowsSIMD() []*Row {
	var rows []*Row
	add := func(r Row) {
		r.Enc, r.exact = "A1", true
		if r.Need == 0 {
			r.Need = FeatNEON
		}
		r.Forms = strings.TrimSpace(r.Forms)
		rows = append(rows, &r)
	}
	const ddn, ddm = "Dd[4]", "Dd[3:0]"
	const halfVectors = FeatNEONv8 | FeatFP16
	size := map[string]int{"8": 0, "16": 1, "32": 2, "64": 3}
	num := func(t string) string { return strings.TrimLeft(t, "isufp") }
	uOf := func(t string) string {
		if t[0] == 'u' {
			return " U=1"
		}
		return " U=0"
	}
	upper := func(n string) string { return strings.ToUpper(n) }

	// Three registers of the same length. u is the bit U, "U" where the type
	// decides it.
	three := func(name, title, doc, u, op, b string, types string, shapes string, operands string, need Features) {
		forms := ""
		for _, t := range strings.Fields(types) {
			fix := fmt.Sprintf("size=%d", size[num(t)])
			if u == "U" {
				fix += uOf(t)
			}
			for i, q := range []string{"D", "Q"} {
				if !strings.Contains(shapes, q) {
					continue
				}
				ops := strings.ReplaceAll(operands, "V", q)
				end := fmt.Sprintf(" ; %s Q=%d\n", fix, i)
				forms += name + "." + t + " " + ops + end
				if o, ok := strings.CutPrefix(ops, q+"d, "+q+"n, "); ok && name != "vaba" {
					forms += "~ " + name + "." + t + " " + q + "d=" + q + "n, " + o + end
				} else if o, ok := strings.CutPrefix(ops, q+"d, "+q+"m, "); ok {
					forms += "~ " + name + "." + t + " " + q + "d=" + q + "m, " + o + end
				}
			}
		}
		ubit := u
		if u == "U" {
			ubit = "U:1"
		}
		add(Row{ID: "a-" + name + "-v" + op + b, Name: upper(name), Title: title, Doc: doc, Need: need, Forms: withExchanged(name, forms),
			Bits: "1111001 " + ubit + " 0 " + ddn + " size:2 Dn[3:0] " + ddm + " " + op + " Dn[4] Q:1 Dm[4] " + b + " Dm[3:0]"})
	}
	const all, no64, vnm, signs, signs32 = "i8 i16 i32 i64", "i8 i16 i32", "Vd, Vn, Vm", "s8 s16 s32 s64 u8 u16 u32 u64", "s8 s16 s32 u8 u16 u32"
	three("vhadd", "Halving add of elements", "each element of Vd = (element of Vn + element of Vm) / 2", "U", "0000", "0", signs32, "DQ", vnm, 0)
	three("vqadd", "Saturating add of elements", "each element of Vd = element of Vn + element of Vm, saturated", "U", "0000", "1", signs, "DQ", vnm, 0)
	three("vrhadd", "Rounding halving add of elements", "each element of Vd = (element of Vn + element of Vm + 1) / 2", "U", "0001", "0", signs32, "DQ", vnm, 0)
	three("vhsub", "Halving subtract of elements", "each element of Vd = (element of Vn − element of Vm) / 2", "U", "0010", "0", signs32, "DQ", vnm, 0)
	three("vqsub", "Saturating subtract of elements", "each element of Vd = element of Vn − element of Vm, saturated", "U", "0010", "1", signs, "DQ", vnm, 0)
	three("vcgt", "Compare elements, greater", "each element of Vd = all ones where element of Vn > element of Vm, else 0", "U", "0011", "0", signs32, "DQ", vnm, 0)
	three("vcge", "Compare elements, greater or equal", "each element of Vd = all ones where element of Vn ≥ element of Vm, else 0", "U", "0011", "1", signs32, "DQ", vnm, 0)
	three("vshl", "Shift elements by elements", "each element of Vd = element of Vm, shifted left by the signed low byte of the element of Vn", "U", "0100", "0", signs, "DQ", "Vd, Vm, Vn", 0)
	three("vqshl", "Saturating shift of elements by elements", "each element of Vd = element of Vm, shifted left by the signed low byte of the element of Vn, saturated", "U", "0100", "1", signs, "DQ", "Vd, Vm, Vn", 0)
	three("vrshl", "Rounding shift of elements by elements", "each element of Vd = element of Vm, shifted left by the signed low byte of the element of Vn, rounded", "U", "0101", "0", signs, "DQ", "Vd, Vm, Vn", 0)
	three("vqrshl", "Saturating rounding shift of elements by elements", "each element of Vd = element of Vm, shifted left by the signed low byte of the element of Vn, rounded and saturated", "U", "0101", "1", signs, "DQ", "Vd, Vm, Vn", 0)
	three("vmax", "The larger of elements", "each element of Vd = the larger of the elements of Vn and Vm", "U", "0110", "0", signs32, "DQ", vnm, 0)
	three("vmin", "The smaller of elements", "each element of Vd = the smaller of the elements of Vn and Vm", "U", "0110", "1", signs32, "DQ", vnm, 0)
	three("vabd", "Absolute difference of elements", "each element of Vd = |element of Vn − element of Vm|", "U", "0111", "0", signs32, "DQ", vnm, 0)
	three("vaba", "Absolute difference of elements, added up", "each element of Vd += |element of Vn − element of Vm|", "U", "0111", "1", signs32, "DQ", vnm, 0)
	three("vadd", "Add elements", "each element of Vd = element of Vn + element of Vm", "0", "1000", "0", all, "DQ", vnm, 0)
	three("vsub", "Subtract elements", "each element of Vd = element of Vn − element of Vm", "1", "1000", "0", all, "DQ", vnm, 0)
	three("vtst", "Test bits of elements", "each element of Vd = all ones where element of Vn AND element of Vm is not 0, else 0", "0", "1000", "1", "8 16 32", "DQ", vnm, 0)
	three("vceq", "Compare elements, equal", "each element of Vd = all ones where element of Vn = element of Vm, else 0", "1", "1000", "1", no64, "DQ", vnm, 0)
	three("vmla", "Multiply elements and add", "each element of Vd += element of Vn × element of Vm", "0", "1001", "0", no64, "DQ", vnm, 0)
	three("vmls", "Multiply elements and subtract", "each element of Vd −= element of Vn × element of Vm", "1", "1001", "0", no64, "DQ", vnm, 0)
	three("vmul", "Multiply elements", "each element of Vd = element of Vn × element of Vm", "0", "1001", "1", no64, "DQ", vnm, 0)
	three("vmul", "Multiply elements as polynomials", "each element of Vd = element of Vn × element of Vm, as polynomials over {0, 1}", "1", "1001", "1", "p8", "DQ", vnm, 0)
	three("vpmax", "The larger of neighbours", "each element of Dd = the larger of two neighbours in Dn, then in Dm", "U", "1010", "0", signs32, "D", vnm, 0)
	three("vpmin", "The smaller of neighbours", "each element of Dd = the smaller of two neighbours in Dn, then in Dm", "U", "1010", "1", signs32, "D", vnm, 0)
	three("vqdmulh", "Saturating doubling multiply, upper half", "each element of Vd = upper half of 2 × element of Vn × element of Vm, saturated", "0", "1011", "0", "s16 s32", "DQ", vnm, 0)
	three("vqrdmulh", "Saturating rounding doubling multiply, upper half", "each element of Vd = upper half of 2 × element of Vn × element of Vm, rounded and saturated", "1", "1011", "0", "s16 s32", "DQ", vnm, 0)
	three("vpadd", "Add neighbours", "each element of Dd = sum of two neighbours in Dn, then in Dm", "0", "1011", "1", no64, "D", vnm, 0)
	// Floating point: bit 21 belongs to the operation, bit 20 is 1 for half precision.
	float := func(name, title, doc, u, op, b, hi, shapes string, need Features) {
		for sz, t := range []string{"f32", "f16"} {
			forms := ""
			for i, q := range []string{"D", "Q"} {
				if strings.Contains(shapes, q) {
					forms += fmt.Sprintf("%s.%s %[3]sd, %[3]sn, %[3]sm ; Q=%[4]d\n~ %[1]s.%[2]s %[3]sd=%[3]sn, %[3]sm ; Q=%[4]d\n", name, t, q, i)
				}
			}
			id := "-vf"
			if sz == 1 {
				id, need = "-vh", need|halfVectors
			}
			add(Row{ID: "a-" + name + id, Name: upper(name), Title: title, Doc: doc, Need: need, Forms: withExchanged(name, forms),
				Bits: fmt.Sprintf("1111001 %s 0 %s %s%d Dn[3:0] %s %s Dn[4] Q:1 Dm[4] %s Dm[3:0]", u, ddn, hi, sz, ddm, op, b)})
		}
	}
	float("vfma", "Fused multiply and add of elements", "each element of Vd += element of Vn × element of Vm, rounded once", "0", "1100", "1", "0", "DQ", FeatNEONFMA)
	float("vfms", "Fused multiply and subtract of elements", "each element of Vd −= element of Vn × element of Vm, rounded once", "0", "1100", "1", "1", "DQ", FeatNEONFMA)
	float("vadd", "Add elements", "each element of Vd = element of Vn + element of Vm", "0", "1101", "0", "0", "DQ", 0)
	float("vsub", "Subtract elements", "each element of Vd = element of Vn − element of Vm", "0", "1101", "0", "1", "DQ", 0)
	float("vpadd", "Add neighbours", "each element of Dd = sum of two neighbours in Dn, then in Dm", "1", "1101", "0", "0", "D", 0)
	float("vabd", "Absolute difference of elements", "each element of Vd = |element of Vn − element of Vm|", "1", "1101", "0", "1", "DQ", 0)
	float("vmla", "Multiply elements and add", "each element of Vd += element of Vn × element of Vm", "0", "1101", "1", "0", "DQ", 0)
	float("vmls", "Multiply elements and subtract", "each element of Vd −= element of Vn × element of Vm", "0", "1101", "1", "1", "DQ", 0)
	float("vmul", "Multiply elements", "each element of Vd = element of Vn × element of Vm", "1", "1101", "1", "0", "DQ", 0)
	float("vceq", "Compare elements, equal", "each element of Vd = all ones where element of Vn = element of Vm, else 0", "0", "1110", "0", "0", "DQ", 0)
	float("vcge", "Compare elements, greater or equal", "each element of Vd = all ones where element of Vn ≥ element of Vm, else 0", "1", "1110", "0", "0", "DQ", 0)
	float("vcgt", "Compare elements, greater", "each element of Vd = all ones where element of Vn > element of Vm, else 0", "1", "1110", "0", "1", "DQ", 0)
	float("vacge", "Compare absolute values, greater or equal", "each element of Vd = all ones where |element of Vn| ≥ |element of Vm|, else 0", "1", "1110", "1", "0", "DQ", 0)
	float("vacgt", "Compare absolute values, greater", "each element of Vd = all ones where |element of Vn| > |element of Vm|, else 0", "1", "1110", "1", "1", "DQ", 0)
	float("vmax", "The larger of elements", "each element of Vd = the larger of the elements of Vn and Vm", "0", "1111", "0", "0", "DQ", 0)
	float("vmin", "The smaller of elements", "each element of Vd = the smaller of the elements of Vn and Vm", "0", "1111", "0", "1", "DQ", 0)
	float("vpmax", "The larger of neighbours", "each element of Dd = the larger of two neighbours in Dn, then in Dm", "1", "1111", "0", "0", "D", 0)
	float("vpmin", "The smaller of neighbours", "each element of Dd = the smaller of two neighbours in Dn, then in Dm", "1", "1111", "0", "1", "D", 0)
	float("vrecps", "Step to the reciprocal", "each element of Vd = 2 − element of Vn × element of Vm", "0", "1111", "1", "0", "DQ", 0)
	float("vrsqrts", "Step to the reciprocal square root", "each element of Vd = (3 − element of Vn × element of Vm) / 2", "0", "1111", "1", "1", "DQ", 0)
	float("vmaxnm", "The larger of elements, numbers before NaNs", "each element of Vd = the larger of the elements of Vn and Vm; of a number and a quiet NaN the number", "1", "1111", "1", "0", "DQ", FeatNEONv8)
	float("vminnm", "The smaller of elements, numbers before NaNs", "each element of Vd = the smaller of the elements of Vn and Vm; of a number and a quiet NaN the number", "1", "1111", "1", "1", "DQ", FeatNEONv8)
	// Bits as a whole: the type does not matter.
	logic := func(name, title, doc, u, c string) {
		forms := ""
		for i, q := range []string{"D", "Q"} {
			forms += fmt.Sprintf("%s.* %[2]sd, %[2]sn, %[2]sm ; Q=%[3]d\n", name, q, i)
			if name[:2] != "vb" || name == "vbic" {
				forms += fmt.Sprintf("~ %s.* %[2]sd=%[2]sn, %[2]sm ; Q=%[3]d\n", name, q, i)
			}
			if name == "vorr" {
				forms += fmt.Sprintf("~ vmov.* %[1]sd, %[1]sn=%[1]sm ; Q=%[2]d\n", q, i)
				for _, t := range strings.Fields(signs) { // a shift by 0
					forms += fmt.Sprintf("~ vshr.%[3]s %[1]sd, %[1]sn=%[1]sm, ##0 ; Q=%[2]d\n~ vrshr.%[3]s %[1]sd, %[1]sn=%[1]sm, ##0 ; Q=%[2]d\n", q, i, t)
				}
			}
		}
		add(Row{ID: "a-" + name + "-v", Name: upper(name) + " (register)", Title: title, Doc: doc, Forms: forms,
			Bits: "1111001 " + u + " 0 " + ddn + " " + c + " Dn[3:0] " + ddm + " 0001 Dn[4] Q:1 Dm[4] 1 Dm[3:0]"})
	}
	logic("vand", "Bitwise AND", "Vd = Vn AND Vm", "0", "00")
	logic("vbic", "Bitwise clear", "Vd = Vn AND NOT Vm", "0", "01")
	logic("vorr", "Bitwise OR", "Vd = Vn OR Vm", "0", "10")
	logic("vorn", "Bitwise OR NOT", "Vd = Vn OR NOT Vm", "0", "11")
	logic("veor", "Bitwise exclusive OR", "Vd = Vn EOR Vm", "1", "00")
	logic("vbsl", "Bitwise select", "each bit of Vd = bit of Vn where the bit of Vd is 1, else of Vm", "1", "01")
	logic("vbit", "Bitwise insert if true", "each bit of Vd = bit of Vn where the bit of Vm is 1", "1", "10")
	logic("vbif", "Bitwise insert if false", "each bit of Vd = bit of Vn where the bit of Vm is 0", "1", "11")

	// Two registers. b is bits 10–7; q how bit 6 is used: "DQ", or fixed.
	two := func(name, id, title, doc, a, b string, types []string, need Features, tail string) {
		forms := ""
		for _, t := range types {
			t, fix, _ := strings.Cut(t, ":")
			if fix == "" {
				fix = fmt.Sprintf("size=%d", size[num(t)])
			}
			for i, q := range []string{"D", "Q"} {
				end := fmt.Sprintf(" ; %s Q=%d\n", fix, i)
				if i == 0 && t == "32" && (name == "vuzp" || name == "vzip") {
					continue // the same as VTRN, whose code it gets
				}
				if i == 0 && t == "32" && name == "vtrn" {
					forms += "~ vuzp.32 Dd, Dm" + end + "~ vzip.32 Dd, Dm" + end
				}
				forms += name + t2(t) + " " + q + "d, " + q + "m" + tail + end
				if tail != "" || strings.HasPrefix(name, "vrint") {
					forms += "~ " + name + t2(t) + " " + q + "d=" + q + "m" + tail + end
				}
			}
		}
		add(Row{ID: "a-" + name + "-m" + id, Name: upper(name), Title: title, Doc: doc, Need: need, Forms: forms,
			Bits: "111100111 " + ddn + " 11 size:2 " + a + " " + ddm + " 0 " + b + " Q:1 Dm[4] 0 Dm[3:0]"})
	}
	f := strings.Fields
	two("vrev64", "", "Reverse elements in doublewords", "each doubleword of Vd = that of Vm with its elements in reverse order", "00", "0000", f("8 16 32"), 0, "")
	two("vrev32", "", "Reverse elements in words", "each word of Vd = that of Vm with its elements in reverse order", "00", "0001", f("8 16"), 0, "")
	two("vrev16", "", "Reverse bytes in halfwords", "each halfword of Vd = that of Vm with its bytes exchanged", "00", "0010", f("8"), 0, "")
	two("vpaddl", "s", "Add neighbours, long", "each element of Vd = sum of two neighbours of Vm, of twice the size", "00", "0100", f("s8 s16 s32"), 0, "")
	two("vpaddl", "u", "Add neighbours, long", "each element of Vd = sum of two neighbours of Vm, of twice the size", "00", "0101", f("u8 u16 u32"), 0, "")
	two("vcls", "", "Count leading sign bits", "each element of Vd = number of bits below the top one that are equal to it", "00", "1000", f("s8 s16 s32"), 0, "")
	two("vclz", "", "Count leading zeros", "each element of Vd = number of zeros above the highest one", "00", "1001", f("i8 i16 i32"), 0, "")
	two("vcnt", "", "Count ones", "each byte of Vd = number of ones in the byte of Vm", "00", "1010", f("8"), 0, "")
	two("vpadal", "s", "Add neighbours, long, added up", "each element of Vd += sum of two neighbours of Vm, of twice the size", "00", "1100", f("s8 s16 s32"), 0, "")
	two("vpadal", "u", "Add neighbours, long, added up", "each element of Vd += sum of two neighbours of Vm, of twice the size", "00", "1101", f("u8 u16 u32"), 0, "")
	two("vqabs", "", "Saturating absolute value of elements", "each element of Vd = |element of Vm|, saturated", "00", "1110", f("s8 s16 s32"), 0, "")
	two("vqneg", "", "Saturating negation of elements", "each element of Vd = −element of Vm, saturated", "00", "1111", f("s8 s16 s32"), 0, "")
	for i, c := range []string{"gt", "ge", "eq", "le", "lt"} {
		t := "s8 s16 s32"
		if c == "eq" {
			t = "i8 i16 i32"
		}
		doc := "each element of Vd = all ones where element of Vm " + []string{">", "≥", "=", "≤", "<"}[i] + " 0, else 0"
		two("vc"+c, "i", "Compare elements with zero", doc, "01", fmt.Sprintf("0%03b", i), f(t), 0, ", ###0")
		two("vc"+c, "f", "Compare elements with zero", doc, "01", fmt.Sprintf("1%03b", i), f("f32"), 0, ", ###0")
		two("vc"+c, "h", "Compare elements with zero", doc, "01", fmt.Sprintf("1%03b", i), f("f16"), halfVectors, ", ###0")
	}
	two("vabs", "i", "Absolute value of elements", "each element of Vd = |element of Vm|", "01", "0110", f("s8 s16 s32"), 0, "")
	two("vabs", "f", "Absolute value of elements", "each element of Vd = |element of Vm|", "01", "1110", f("f32"), 0, "")
	two("vabs", "h", "Absolute value of elements", "each element of Vd = |element of Vm|", "01", "1110", f("f16"), halfVectors, "")
	two("vneg", "i", "Negate elements", "each element of Vd = −element of Vm", "01", "0111", f("s8 s16 s32"), 0, "")
	two("vneg", "f", "Negate elements", "each element of Vd = −element of Vm", "01", "1111", f("f32"), 0, "")
	two("vneg", "h", "Negate elements", "each element of Vd = −element of Vm", "01", "1111", f("f16"), halfVectors, "")
	two("vtrn", "", "Transpose elements", "pairs of elements of Vd and Vm are transposed as matrices of two by two", "10", "0001", f("8 16 32"), 0, "")
	two("vuzp", "", "Unzip elements", "Vd = the even elements of both, Vm = the odd ones", "10", "0010", f("8 16 32"), 0, "")
	two("vzip", "", "Zip elements", "Vd and Vm = the elements of both in turn", "10", "0011", f("8 16 32"), 0, "")
	for _, x := range []struct{ letter, b, how string }{{"n", "1000", "to the nearest, halves to the even one"}, {"x", "1001", "to the nearest, halves to the even one; Inexact is raised where a value changes"}, {"a", "1010", "to the nearest, halves away from zero"},
		{"z", "1011", "towards zero"}, {"m", "1101", "downwards"}, {"p", "1111", "upwards"}} {
		two("vrint"+x.letter, "", "Round elements to whole numbers", "each element of Vd = element of Vm rounded "+x.how, "10", x.b, f("f32"), FeatNEONv8, "")
		two("vrint"+x.letter, "h", "Round elements to whole numbers", "each element of Vd = element of Vm rounded "+x.how, "10", x.b, f("f16"), halfVectors, "")
	}
	for i, x := range []string{"a", "n", "p", "m"} {
		for k, s := range []string{"s32", "u32"} {
			two("vcvt"+x, s, "Elements to whole numbers", "each element of Vd = element of Vm as a whole number, rounded as the name says", "11", fmt.Sprintf("0%02b%d", i, k), []string{s + ".f32:size=2"}, FeatNEONv8, "")
			two("vcvt"+x, s+"h", "Elements to whole numbers", "each element of Vd = element of Vm as a whole number, rounded as the name says", "11", fmt.Sprintf("0%02b%d", i, k), []string{s[:1] + "16.f16:size=1"}, halfVectors, "")
		}
	}
	two("vrecpe", "u", "Estimate of the reciprocal", "each element of Vd = estimate of 1 / element of Vm", "11", "1000", f("u32"), 0, "")
	two("vrsqrte", "u", "Estimate of the reciprocal square root", "each element of Vd = estimate of 1 / √element of Vm", "11", "1001", f("u32"), 0, "")
	two("vrecpe", "f", "Estimate of the reciprocal", "each element of Vd = estimate of 1 / element of Vm", "11", "1010", f("f32"), 0, "")
	two("vrecpe", "h", "Estimate of the reciprocal", "each element of Vd = estimate of 1 / element of Vm", "11", "1010", f("f16"), halfVectors, "")
	two("vrsqrte", "f", "Estimate of the reciprocal square root", "each element of Vd = estimate of 1 / √element of Vm", "11", "1011", f("f32"), 0, "")
	two("vrsqrte", "h", "Estimate of the reciprocal square root", "each element of Vd = estimate of 1 / √element of Vm", "11", "1011", f("f16"), halfVectors, "")
	for i, t := range []string{"f32.s32", "f32.u32", "s32.f32", "u32.f32"} {
		two("vcvt", t, "Convert elements", "each element of Vd = element of Vm in the other format", "11", fmt.Sprintf("11%02b", i), []string{t + ":size=2"}, 0, "")
		two("vcvt", t+"h", "Convert elements", "each element of Vd = element of Vm in the other format", "11", fmt.Sprintf("11%02b", i), []string{strings.ReplaceAll(t, "32", "16") + ":size=1"}, halfVectors, "")
	}
	bare := func(name, title, doc, a, b string) {
		add(Row{ID: "a-" + name + "-m", Name: upper(name), Title: title, Doc: doc, Forms: name + ".* Dd, Dm ; Q=0\n" + name + ".* Qd, Qm ; Q=1",
			Bits: "111100111 " + ddn + " 11 00 " + a + " " + ddm + " 0 " + b + " Q:1 Dm[4] 0 Dm[3:0]"})
	}
	bare("vmvn", "Bitwise NOT", "Vd = NOT Vm", "00", "1011")
	bare("vswp", "Exchange registers", "Vd and Vm are exchanged", "10", "0000")
	// Narrowing and lengthening.
	narrow := func(name, title, doc, b, q string, types string, rev bool) {
		forms := ""
		for _, t := range f(types) {
			n := size[num(t)]
			if forms += fmt.Sprintf("%s.%s Dd, Qm ; size=%d\n", name, t, n-1); rev {
				forms = ""
			}
		}
		add(Row{ID: "a-" + name + "-n" + b + q, Name: upper(name), Title: title, Doc: doc, Forms: forms,
			Bits: "111100111 " + ddn + " 11 size:2 10 " + ddm + " 0 " + b + " " + q + " Dm[4] 0 Dm[3:0]"})
	}
	narrow("vmovn", "Narrow elements", "each element of Dd = lower half of the element of Qm", "0100", "0", "i16 i32 i64", false)
	narrow("vqmovun", "Narrow elements, saturated to unsigned", "each element of Dd = signed element of Qm, saturated to an unsigned one of half the size", "0100", "1", "s16 s32 s64", false)
	narrow("vqmovn", "Narrow elements, saturated", "each element of Dd = element of Qm, saturated to half the size", "0101", "0", "s16 s32 s64", false)
	narrow("vqmovn", "Narrow elements, saturated", "each element of Dd = element of Qm, saturated to half the size", "0101", "1", "u16 u32 u64", false)
	add(Row{ID: "a-vcvt-f16-v", Name: "VCVT (between half-precision and single-precision, Advanced SIMD)", Title: "Elements to half precision", Doc: "each element of Dd = element of Qm in half precision", Need: FeatNEON | FeatHalf,
		Forms: "vcvt.f16.f32 Dd, Qm", Bits: "111100111 " + ddn + " 11 01 10 " + ddm + " 0 1100 0 Dm[4] 0 Dm[3:0]"})
	add(Row{ID: "a-vcvt-f32-f16-v", Name: "VCVT (between half-precision and single-precision, Advanced SIMD)", Title: "Elements from half precision", Doc: "each element of Qd = element of Dm, exactly", Need: FeatNEON | FeatHalf,
		Forms: "vcvt.f32.f16 Qd, Dm", Bits: "111100111 " + ddn + " 11 01 10 " + ddm + " 0 1110 0 Dm[4] 0 Dm[3:0]"})

	// Three registers of different lengths.
	long := func(name, title, doc, u, op, types, operands string) {
		forms := ""
		for _, t := range f(types) {
			n := size[num(t)]
			if strings.HasPrefix(operands, "Dd") {
				n-- // narrowing: the type is that of the operands
			}
			end := fmt.Sprintf(" ; size=%d", n)
			if u == "U" {
				end += uOf(t)
			}
			forms += name + "." + t + " " + operands + end + "\n"
			if o, ok := strings.CutPrefix(operands, "Qd, Qn, "); ok {
				forms += "~ " + name + "." + t + " Qd=Qn, " + o + end + "\n"
			}
		}
		ubit := u
		if u == "U" {
			ubit = "U:1"
		}
		add(Row{ID: "a-" + name + "-l" + op, Name: upper(name), Title: title, Doc: doc, Forms: forms,
			Bits: "1111001 " + ubit + " 1 " + ddn + " size:2 Dn[3:0] " + ddm + " " + op + " Dn[4] 0 Dm[4] 0 Dm[3:0]"})
	}
	const qdd, qqd, dqq, su = "Qd, Dn, Dm", "Qd, Qn, Dm", "Dd, Qn, Qm", "s8 s16 s32 u8 u16 u32"
	long("vaddl", "Add elements, long", "each element of Qd = element of Dn + element of Dm, of twice the size", "U", "0000", su, qdd)
	long("vaddw", "Add elements, wide", "each element of Qd = element of Qn + element of Dm", "U", "0001", su, qqd)
	long("vsubl", "Subtract elements, long", "each element of Qd = element of Dn − element of Dm, of twice the size", "U", "0010", su, qdd)
	long("vsubw", "Subtract elements, wide", "each element of Qd = element of Qn − element of Dm", "U", "0011", su, qqd)
	long("vaddhn", "Add elements, upper half", "each element of Dd = upper half of (element of Qn + element of Qm)", "0", "0100", "i16 i32 i64", dqq)
	long("vraddhn", "Add elements, upper half rounded", "each element of Dd = upper half of (element of Qn + element of Qm), rounded", "1", "0100", "i16 i32 i64", dqq)
	long("vabal", "Absolute difference of elements, long, added up", "each element of Qd += |element of Dn − element of Dm|", "U", "0101", su, qdd)
	long("vsubhn", "Subtract elements, upper half", "each element of Dd = upper half of (element of Qn − element of Qm)", "0", "0110", "i16 i32 i64", dqq)
	long("vrsubhn", "Subtract elements, upper half rounded", "each element of Dd = upper half of (element of Qn − element of Qm), rounded", "1", "0110", "i16 i32 i64", dqq)
	long("vabdl", "Absolute difference of elements, long", "each element of Qd = |element of Dn − element of Dm|, of twice the size", "U", "0111", su, qdd)
	long("vmlal", "Multiply elements and add, long", "each element of Qd += element of Dn × element of Dm", "U", "1000", su, qdd)
	long("vqdmlal", "Saturating doubling multiply and add, long", "each element of Qd += 2 × element of Dn × element of Dm, saturated", "0", "1001", "s16 s32", qdd)
	long("vmlsl", "Multiply elements and subtract, long", "each element of Qd −= element of Dn × element of Dm", "U", "1010", su, qdd)
	long("vqdmlsl", "Saturating doubling multiply and subtract, long", "each element of Qd −= 2 × element of Dn × element of Dm, saturated", "0", "1011", "s16 s32", qdd)
	long("vmull", "Multiply elements, long", "each element of Qd = element of Dn × element of Dm, of twice the size", "U", "1100", su, qdd)
	long("vqdmull", "Saturating doubling multiply, long", "each element of Qd = 2 × element of Dn × element of Dm, of twice the size, saturated", "0", "1101", "s16 s32", qdd)
	long("vmull", "Multiply elements as polynomials, long", "each element of Qd = element of Dn × element of Dm, as polynomials over {0, 1}", "0", "1110", "p8", qdd)

	// By one element. Of halfwords the register is one of d0–d7, of words d0–d15.
	element := func(name, doc, op, types, shape string) {
		for _, w := range []string{"16", "32"} {
			m, sz := "x[1] 0 x[0] Dm:3", "01"
			if w == "32" {
				m, sz = "x:1 0 Dm:4", "10"
			}
			forms := ""
			for _, t := range f(types) {
				if num(t) != w {
					continue
				}
				if shape == "Q" {
					for i, q := range []string{"D", "Q"} {
						forms += fmt.Sprintf("%s.%s %[3]sd, %[3]sn, Dm[x] ; U=%[4]d\n~ %[1]s.%[2]s %[3]sd=%[3]sn, Dm[x] ; U=%[4]d\n", name, t, q, i)
					}
				} else {
					u := " ; U=0\n"
					if t[0] == 'u' {
						u = " ; U=1\n"
					}
					forms += name + "." + t + " Qd, Dn, Dm[x]" + u
				}
			}
			if forms != "" {
				need := Features(0)
				if w == "16" && types[0] == 'f' {
					need = halfVectors
				}
				add(Row{Need: need, ID: "a-" + name + "-x" + op + w, Name: upper(name) + " (by scalar)", Title: "By one element: " + strings.ToLower(doc[:1]) + strings.SplitN(doc[1:], ":", 2)[0], Doc: strings.TrimSpace(doc[strings.Index(doc, ":")+1:]), Forms: forms,
					Bits: "1111001 U:1 1 " + ddn + " " + sz + " Dn[3:0] " + ddm + " " + op + " Dn[4] 1 " + m})
			}
		}
	}
	element("vmla", "Multiply and add: each element of Vd += element of Vn × Dm[x]", "0000", "i16 i32", "Q")
	element("vmla", "Multiply and add: each element of Vd += element of Vn × Dm[x]", "0001", "f16 f32", "Q")
	element("vmls", "Multiply and subtract: each element of Vd −= element of Vn × Dm[x]", "0100", "i16 i32", "Q")
	element("vmls", "Multiply and subtract: each element of Vd −= element of Vn × Dm[x]", "0101", "f16 f32", "Q")
	element("vmul", "Multiply: each element of Vd = element of Vn × Dm[x]", "1000", "i16 i32", "Q")
	element("vmul", "Multiply: each element of Vd = element of Vn × Dm[x]", "1001", "f16 f32", "Q")
	element("vmlal", "Multiply and add, long: each element of Qd += element of Dn × Dm[x]", "0010", su, "L")
	element("vqdmlal", "Saturating doubling multiply and add: each element of Qd += 2 × element of Dn × Dm[x], saturated", "0011", "s16 s32", "L")
	element("vmlsl", "Multiply and subtract, long: each element of Qd −= element of Dn × Dm[x]", "0110", su, "L")
	element("vqdmlsl", "Saturating doubling multiply and subtract: each element of Qd −= 2 × element of Dn × Dm[x], saturated", "0111", "s16 s32", "L")
	element("vmull", "Multiply, long: each element of Qd = element of Dn × Dm[x]", "1010", su, "L")
	element("vqdmull", "Saturating doubling multiply, long: each element of Qd = 2 × element of Dn × Dm[x], saturated", "1011", "s16 s32", "L")
	element("vqdmulh", "Saturating doubling multiply, upper half: each element of Vd = upper half of 2 × element of Vn × Dm[x], saturated", "1100", "s16 s32", "Q")
	element("vqrdmulh", "Saturating rounding doubling multiply, upper half: each element of Vd = upper half of 2 × element of Vn × Dm[x], rounded and saturated", "1101", "s16 s32", "Q")

	// Shifts by a constant, a row for each size of the elements.
	shift := func(name, title, doc, u, op, prefix string, left, long, narrow bool, q string) {
		for n, w := range []string{"8", "16", "32", "64"} {
			if (long || narrow) && w == "64" {
				continue
			}
			imm := []string{"001 imm:3 OP 0", "01 imm:4 OP 0", "1 imm:5 OP 0", "imm:6 OP 1"}[n]
			amount := "#rsh" + w
			switch {
			case long:
				amount = "###imm>0"
			case name == "vsli" || name == "vqshlu":
				amount = "##imm"
			case left:
				amount = "###imm"
			case name == "vsra" || name == "vrsra" || name == "vshr" || name == "vrshr" || name == "vsri":
				amount = "##rsh" + w
			}
			pre := prefix
			if pre == "su" {
				pre = "s u"
			}
			forms := ""
			if long { // by 0 it has a name of its own
				forms = fmt.Sprintf("vmovl.s%s Qd, Dm ; U=0 imm=0\nvmovl.u%[1]s Qd, Dm ; U=1 imm=0\n", w)
			}
			for _, p := range strings.Split(pre, " ") {
				fix := ""
				if u == "U" {
					fix = strings.TrimSpace(uOf(p + "8"))
				}
				t, alias := p+w, ""
				if name == "vshl" && p != "i" {
					alias = "~ " // the sign makes no difference
				}
				if narrow {
					t = p + []string{"16", "32", "64"}[n]
				}
				switch {
				case narrow:
					forms += fmt.Sprintf("%s.%s Dd, Qm, %s ; %s\n", name, t, amount, fix)
				case long:
					forms += fmt.Sprintf("%s.%s Qd, Dm, %s ; %s\n", name, t, amount, fix)
				default:
					for i, r := range []string{"D", "Q"} {
						forms += alias + fmt.Sprintf("%s.%s %[3]sd, %[3]sm, %[4]s ; %[5]s Q=%[6]d\n~ %[1]s.%[2]s %[3]sd=%[3]sm, %[4]s ; %[5]s Q=%[6]d\n", name, t, r, amount, fix, i)
					}
				}
			}
			ubit := u
			if u == "U" {
				ubit = "U:1"
			}
			add(Row{ID: "a-" + name + "-h" + w, Name: upper(name) + " (immediate)", Title: title, Doc: doc, Forms: forms,
				Bits: "1111001 " + ubit + " 1 " + ddn + " " + strings.Replace(imm, "OP", ddm+" "+op, 1) + " " + q + " Dm[4] 1 Dm[3:0]"})
		}
	}
	right := func(name, title, doc, u, op, prefix string) {
		shift(name, title, doc, u, op, prefix, false, false, false, "Q:1")
	}
	right("vshr", "Shift elements right", "each element of Vd = element of Vm >> n", "U", "0000", "su")
	right("vsra", "Shift elements right, added up", "each element of Vd += element of Vm >> n", "U", "0001", "su")
	right("vrshr", "Shift elements right, rounded", "each element of Vd = element of Vm >> n, rounded", "U", "0010", "su")
	right("vrsra", "Shift elements right, rounded and added up", "each element of Vd += element of Vm >> n, rounded", "U", "0011", "su")
	right("vsri", "Shift elements right and insert", "each element of Vd = element of Vm >> n, with its own upper n bits", "1", "0100", "")
	shift("vshl", "Shift elements left", "each element of Vd = element of Vm << n", "0", "0101", "i s u", true, false, false, "Q:1")
	shift("vsli", "Shift elements left and insert", "each element of Vd = element of Vm << n, with its own lower n bits", "1", "0101", "", true, false, false, "Q:1")
	shift("vqshlu", "Shift elements left, saturated to unsigned", "each element of Vd = signed element of Vm << n, saturated to an unsigned one", "1", "0110", "s", true, false, false, "Q:1")
	shift("vqshl", "Shift elements left, saturated", "each element of Vd = element of Vm << n, saturated", "U", "0111", "su", true, false, false, "Q:1")
	for _, x := range []struct{ name, how, u, op, q, prefix string }{{"vshrn", "", "0", "1000", "0", "i"}, {"vrshrn", ", rounded", "0", "1000", "1", "i"}, {"vqshrun", ", saturated to unsigned", "1", "1000", "0", "s"}, {"vqrshrun", ", rounded and saturated to unsigned", "1", "1000", "1", "s"},
		{"vqshrn", ", saturated", "U", "1001", "0", "su"}, {"vqrshrn", ", rounded and saturated", "U", "1001", "1", "su"}} {
		shift(x.name, "Shift elements right and narrow"+x.how, "each element of Dd = element of Qm >> n, of half the size"+x.how, x.u, x.op, x.prefix, false, false, true, x.q)
	}
	shift("vshll", "Shift elements left, long", "each element of Qd = element of Dm << n, of twice the size", "U", "1010", "su", true, true, false, "0")
	add(Row{ID: "a-vshll-max", Name: "VSHLL", Enc: "A2", Title: "Shift elements left by their size, long", Doc: "each element of Qd = element of Dm << its size", Bits: "111100111 " + ddn + " 11 size:2 10 " + ddm + " 0 0110 0 Dm[4] 0 Dm[3:0]",
		// The sign makes no difference, and assemblers take either one.
		Forms: "vshll.i8 Qd, Dm, #8 ; size=0\nvshll.i16 Qd, Dm, #16 ; size=1\nvshll.i32 Qd, Dm, #32 ; size=2\n" +
			"~ vshll.s8 Qd, Dm, #8 ; size=0\n~ vshll.s16 Qd, Dm, #16 ; size=1\n~ vshll.s32 Qd, Dm, #32 ; size=2\n" +
			"~ vshll.u8 Qd, Dm, #8 ; size=0\n~ vshll.u16 Qd, Dm, #16 ; size=1\n~ vshll.u32 Qd, Dm, #32 ; size=2"})
	for i, t := range []string{"f32.s32", "f32.u32", "s32.f32", "u32.f32"} {
		forms := ""
		for k, q := range []string{"D", "Q"} {
			forms += fmt.Sprintf("vcvt.%s %[2]sd, %[2]sm, #fb32 ; Q=%[3]d\n", t, q, k)
		}
		add(Row{ID: "a-vcvt-fixed-v" + t, Name: "VCVT (between floating-point and fixed-point, Advanced SIMD)", Title: "Convert elements from or to fixed point", Doc: "each element of Vd = element of Vm in the other format, with fbits after the binary point", Forms: forms,
			Bits: fmt.Sprintf("1111001 %d 1 %s 1 imm5:5 %s 111%d 0 Q:1 Dm[4] 1 Dm[3:0]", i&1, ddn, ddm, i>>1)})
		add(Row{ID: "a-vcvt-fixed-v" + t + "h", Name: "VCVT (between floating-point and fixed-point, Advanced SIMD)", Title: "Convert elements from or to fixed point", Doc: "each element of Vd = element of Vm in the other format, with fbits after the binary point", Need: halfVectors,
			Forms: strings.NewReplacer("#fb32", "#rsh16", "32", "16").Replace(forms),
			Bits:  fmt.Sprintf("1111001 %d 1 %s 11 imm:4 %s 110%d 0 Q:1 Dm[4] 1 Dm[3:0]", i&1, ddn, ddm, i>>1)})
	}
	// Elements taken out and put together.
	for n, w := range []string{"8", "16", "32"} {
		forms := ""
		for i, q := range []string{"D", "Q"} {
			forms += fmt.Sprintf("vdup.%s %sd, Dm[x] ; Q=%d\n", w, q, i)
		}
		add(Row{ID: "a-vdup-x" + w, Name: "VDUP (scalar)", Title: "One element in all places", Doc: "each element of Vd = Dm[x]", Forms: forms,
			Bits: "111100111 " + ddn + " 11 " + []string{"x:3 1", "x:2 10", "x:1 100"}[n] + " " + ddm + " 11000 Q:1 Dm[4] 0 Dm[3:0]"})
		forms = ""
		for i, q := range []string{"D", "Q"} {
			forms += fmt.Sprintf("vdup.%s %sd, Rt ; Q=%d\n", w, q, i)
		}
		b, e := []string{"1", "0", "0"}[n], []string{"0", "1", "0"}[n]
		add(Row{ID: "a-vdup-r" + w, Name: "VDUP (ARM core register)", Title: "A core register in all places", Doc: "each element of Vd = Rt", Forms: forms, Reads: "Rt",
			Bits: "cond:4 11101 " + b + " Q:1 0 " + ddm + " Rt:4 1011 " + ddn + " 0 " + e + " 1 (0000)"})
		if w == "32" {
			continue
		}
		x1, x2 := "x[2]", "x[1:0]"
		if w == "16" {
			x1, x2 = "x[1]", "x[0] 1"
		}
		hi := "1"
		if w == "16" {
			hi = "0"
		}
		add(Row{ID: "a-vmov-to-lane" + w, Name: "VMOV (ARM core register to scalar)", Title: "Move to one element", Doc: "Dn[x] = Rt; the other elements stay", Reads: "Rt",
			Bits: "cond:4 11100 " + hi + " " + x1 + " 0 Dn[3:0] Rt:4 1011 Dn[4] " + x2 + " 1 (0000)", Forms: "vmov." + w + " Dn[x], Rt\n~ vmov.i" + w + " Dn[x], Rt\n~ vmov.s" + w + " Dn[x], Rt\n~ vmov.u" + w + " Dn[x], Rt\n~ vmov.f" + w + " Dn[x], Rt"})
		add(Row{ID: "a-vmov-from-lane" + w, Name: "VMOV (scalar to ARM core register)", Title: "Move from one element", Doc: "Rt = Dn[x], extended to a word", Writes: "Rt",
			Bits: "cond:4 1110 U:1 " + hi + " " + x1 + " 1 Dn[3:0] Rt:4 1011 Dn[4] " + x2 + " 1 (0000)", Forms: "vmov.s" + w + " Rt, Dn[x] ; U=0\nvmov.u" + w + " Rt, Dn[x] ; U=1"})
	}
	for i, q := range []string{"D", "Q"} {
		imm := []string{"0 imm:3", "imm:4"}[i]
		forms := ""
		for n, w := range []string{"8", "16", "32", "64"} {
			if i == 0 && w == "64" {
				break
			}
			alias, by := "~ ", fmt.Sprintf("###imm/%d", 1<<n)
			if n == 0 {
				alias, by = "", "###imm"
			}
			forms += fmt.Sprintf("%s vext.%s %[3]sd, %[3]sn, %[3]sm, %[4]s\n~ vext.%[2]s %[3]sd=%[3]sn, %[3]sm, %[4]s\n", alias, w, q, by)
		}
		add(Row{ID: "a-vext-" + strings.ToLower(q), Name: "VEXT", Title: "Bytes out of two registers", Doc: "Vd = the bytes of Vn and then Vm, from byte n on",
			Forms: forms,
			Bits:  fmt.Sprintf("111100101 "+ddn+" 11 Dn[3:0] "+ddm+" %s Dn[4] %d Dm[4] 0 Dm[3:0]", imm, i)})
	}
	return rows
}

// exchanged are the names of comparisons the other way round, which are written as
// these with the operands exchanged.
var exchanged = map[string]string{"vcgt": "vclt", "vcge": "vcle", "vacgt": "vaclt", "vacge": "vacle"}

// withExchanged adds the spellings of a comparison the other way round.
func withExchanged(name, forms string) string {
	other, ok := exchanged[name]
	if !ok {
		return forms
	}
	swap := strings.NewReplacer(name, other, "Dn", "Dm", "Dm", "Dn", "Qn", "Qm", "Qm", "Qn")
	twoOperands := strings.NewReplacer("Dd, Dm", "Dd=Dm", "Qd, Qm", "Qd=Qm")
	forms = strings.TrimSpace(forms)
	for _, f := range strings.Split(forms, "\n") {
		if !strings.HasPrefix(f, "~") {
			f = swap.Replace(f)
			forms += "\n~ " + f + "\n~ " + twoOperands.Replace(f)
		}
	}
	return forms
}

// t2 is a type after a name.
func t2(t string) string { return "." + t }
