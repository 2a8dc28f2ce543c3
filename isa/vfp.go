package isa

import "strings"

// rowsVFP lists the encodings of floating point: VFPv2 to VFPv4, and FPv5 with
// its name in ARMv8. Names, layouts and conditions follow the ARMv7-A/R
// Architecture Reference Manual (DDI 0406), chapters A7 and A8, and the ARMv8
// one (DDI 0487), chapter F6, as far as they are remembered: the tests hold
// them against four tools. The older names are those of the earlier manual (DDI
// 0100, part C). See vfpcore.go for the notation.
func rowsVFP() []*Row {
	var rows []*Row
	add := func(r *Row) {
		if r.Enc == "" {
			r.Enc = "A1"
		}
		rows = append(rows, r)
	}
	const single, double, half = "s", "d", "h"
	// In the layouts below d Vd, n Vn and m Vm are the two parts of a
	// register, and size the bits 11–8; in forms Vd, Vn and Vm are registers, F is
	// the type and $ the letter of the size at the end of an older name. What has the
	// letter of a size and a ':' in front is a form of this size only.
	spell := func(size, t string) string {
		t = formsOfSize(size, t)
		switch size {
		case half: // there are no older names
			var forms []string
			for _, f := range strings.Split(t, "\n") {
				if !strings.Contains(f, "$") {
					forms = append(forms, f)
				}
			}
			return strings.NewReplacer("Vd", "Sd", "Vn", "Sn", "Vm", "Sm", ".F", ".f16").Replace(strings.Join(forms, "\n"))
		case single:
			return strings.NewReplacer("Vd", "Sd", "Vn", "Sn", "Vm", "Sm", ".F", ".f32", "$", "s").Replace(t)
		}
		return strings.NewReplacer("Vd", "Dd", "Vn", "Dn", "Vm", "Dm", ".F", ".f64", "$", "d").Replace(t)
	}
	layout := func(size, t string) string {
		reg := func(v string) string {
			for _, x := range []string{"d", "n", "m"} {
				if size != double {
					v = strings.ReplaceAll(v, " V"+x+" ", " S"+x+"[4:1] ")
					v = strings.ReplaceAll(v, " "+x+" ", " S"+x+"[0] ")
				} else {
					v = strings.ReplaceAll(v, " V"+x+" ", " D"+x+"[3:0] ")
					v = strings.ReplaceAll(v, " "+x+" ", " D"+x+"[4] ")
				}
			}
			return v
		}
		bits := map[string]string{half: "1001", single: "1010", double: "1011"}[size]
		return strings.TrimSpace(reg(" " + strings.ReplaceAll(t, "size", bits) + " "))
	}
	// each makes the rows of single, of double, and of half precision.
	each := func(r Row) {
		for _, size := range []string{single, double, half} {
			x := r
			x.ID, x.Bits, x.Forms = r.ID+"-"+size, layout(size, r.Bits), spell(size, r.Forms)
			x.Reads, x.Writes = spell(size, r.Reads), spell(size, r.Writes)
			x.Need |= FeatVFP
			if size != single { // no table has them
				x.Timing = TimeUnknown
			}
			switch size {
			case single:
				x.Title += " (single precision)"
			case double:
				x.Title += " (double precision)"
				x.Need |= FeatVFPD
			default:
				x.Title += " (half precision)"
				x.Need |= FeatFP16
				if strings.HasPrefix(r.Bits, "cond:4") {
					x.Cautions = []Caution{conditionalHalf}
				}
			}
			add(&x)
		}
	}

	three := func(t Timing, name, title, doc, op, x, old string, need Features, optional bool) {
		low := strings.ToLower(name)
		forms := low + ".F Vd, Vn, Vm"
		if optional {
			forms += "\n~ " + low + ".F Vd=Vn, Vm"
		}
		if old != "" {
			forms += "\n~ " + old + "$ Vd, Vn, Vm"
		}
		reads := "Vn Vm fp.modes"
		if strings.Contains(doc, "Vd + ") || strings.Contains(doc, "Vd − ") || strings.Contains(doc, " − Vd") {
			reads = "Vd " + reads
		}
		each(Row{ID: "a-" + low, Name: name, Title: title, Doc: doc, Need: need, Forms: forms, Timing: t, Reads: reads, Writes: "Vd fp.exceptions",
			Bits: "cond:4 1110 " + op[:1] + " d " + op[1:] + " Vn Vd size n " + x + " m 0 Vm"})
	}
	three(TimeFloatMulAdd, "VMLA", "Multiply and add", "Vd = Vd + Vn × Vm, the product rounded", "000", "0", "fmac", 0, true)
	three(TimeFloatMulAdd, "VMLS", "Multiply and subtract", "Vd = Vd − Vn × Vm, the product rounded", "000", "1", "fnmac", 0, true)
	three(TimeFloatMulAdd, "VNMLS", "Multiply and subtract from", "Vd = Vn × Vm − Vd, the product rounded", "001", "0", "fmsc", 0, false)
	three(TimeFloatMulAdd, "VNMLA", "Multiply, add and negate", "Vd = −Vd − Vn × Vm, the product rounded", "001", "1", "fnmsc", 0, false)
	three(TimeOther, "VMUL", "Multiply", "Vd = Vn × Vm", "010", "0", "fmul", 0, true)
	three(TimeOther, "VNMUL", "Multiply and negate", "Vd = −(Vn × Vm)", "010", "1", "fnmul", 0, false)
	three(TimeOther, "VADD", "Add", "Vd = Vn + Vm", "011", "0", "fadd", 0, true)
	three(TimeOther, "VSUB", "Subtract", "Vd = Vn − Vm", "011", "1", "fsub", 0, true)
	three(TimeFloatDiv, "VDIV", "Divide", "Vd = Vn / Vm", "100", "0", "fdiv", 0, false)
	three(TimeFloatMulAdd, "VFNMS", "Fused multiply and subtract from", "Vd = Vn × Vm − Vd, rounded once", "101", "0", "", FeatFMA, false)
	three(TimeFloatMulAdd, "VFNMA", "Fused multiply, add and negate", "Vd = −Vd − Vn × Vm, rounded once", "101", "1", "", FeatFMA, false)
	three(TimeFloatMulAdd, "VFMA", "Fused multiply and add", "Vd = Vd + Vn × Vm, rounded once", "110", "0", "", FeatFMA, true)
	three(TimeFloatMulAdd, "VFMS", "Fused multiply and subtract", "Vd = Vd − Vn × Vm, rounded once", "110", "1", "", FeatFMA, true)

	// Operations on one register.
	two := func(t Timing, name, title, doc, op, x string, need Features, forms, reads, writes string) {
		each(Row{Reads: reads, Writes: writes, ID: "a-" + strings.ToLower(strings.Fields(name)[0]), Name: name, Title: title, Doc: doc, Need: need, Forms: forms, Timing: t,
			Bits: "cond:4 11101 d 11 " + op + " Vd size " + x + " m 0 Vm"})
	}
	add(&Row{ID: "a-vmov-s", Name: "VMOV (register)", Enc: "A2", Title: "Copy a register (single precision)", Doc: "Sd = Sm", Reads: "Sm", Writes: "Sd", Need: FeatVFP,
		Bits:  layout(single, "cond:4 11101 d 11 0000 Vd size 01 m 0 Vm"),
		Forms: "vmov.f32 Sd, Sm\n~ vmov.w Sd, Sm\n~ fcpys Sd, Sm"})
	add(&Row{ID: "a-vmov-d", Name: "VMOV (register)", Enc: "A2", Title: "Copy a register (double precision)", Doc: "Dd = Dm", Reads: "Dm", Writes: "Dd", Need: FeatVFP | FeatVFPD,
		Bits:  layout(double, "cond:4 11101 d 11 0000 Vd size 01 m 0 Vm"),
		Forms: "vmov.f64 Dd, Dm\n~ fcpyd Dd, Dm"})
	two(TimeOther, "VABS", "Absolute value", "Vd = |Vm|: the sign is cleared", "0000", "11", 0, "vabs.F Vd, Vm\n~ fabs$ Vd, Vm", "Vm", "Vd")
	two(TimeOther, "VNEG", "Negate", "Vd = −Vm: the sign is turned over", "0001", "01", 0, "vneg.F Vd, Vm\n~ fneg$ Vd, Vm", "Vm", "Vd")
	two(TimeFloatDiv, "VSQRT", "Square root", "Vd = √Vm", "0001", "11", 0, "vsqrt.F Vd, Vm\n~ fsqrt$ Vd, Vm", "Vm fp.modes", "Vd fp.exceptions")
	two(TimeOther, "VCMP", "Compare", "flags of FPSCR = result of comparing Vd with Vm; a quiet NaN raises no exception", "0100", "01", 0, "vcmp.F Vd, Vm\n~ fcmp$ Vd, Vm", "Vd Vm fp.modes", "fp.flags fp.exceptions")
	two(TimeOther, "VCMPE", "Compare, NaNs as exceptions", "flags of FPSCR = result of comparing Vd with Vm; any NaN raises Invalid Operation", "0100", "11", 0, "vcmpe.F Vd, Vm\n~ fcmpe$ Vd, Vm", "Vd Vm fp.modes", "fp.flags fp.exceptions")
	zero := func(name, title, doc, x, old string) {
		low := strings.ToLower(name)
		each(Row{Reads: "Vd fp.modes", Writes: "fp.flags fp.exceptions", ID: "a-" + low + "-zero", Name: name, Enc: "A2", Title: title, Doc: doc, Forms: low + ".F Vd, #0.0\n~ " + old + "$ Vd",
			Bits: "cond:4 11101 d 11 0101 Vd size " + x + " (0) 0 (0000)"})
	}
	zero("VCMP", "Compare with zero", "flags of FPSCR = result of comparing Vd with 0; a quiet NaN raises no exception", "01", "fcmpz")
	zero("VCMPE", "Compare with zero, NaNs as exceptions", "flags of FPSCR = result of comparing Vd with 0; any NaN raises Invalid Operation", "11", "fcmpez")
	round := func(name, doc, op, x string) {
		low := strings.ToLower(name)
		two(TimeOther, name, "Round to a whole number", doc, op, x, FeatFPv8, low+".F Vd, Vm\n~ "+low+".F Vd=Vm", "Vm fp.modes", "Vd fp.exceptions")
	}
	round("VRINTR", "Vd = Vm rounded to a whole number as FPSCR says", "0110", "01")
	round("VRINTZ", "Vd = Vm rounded to a whole number towards zero", "0110", "11")
	round("VRINTX", "Vd = Vm rounded to a whole number as FPSCR says; Inexact is raised where the value changes", "0111", "01")

	// Constants.
	each(Row{Writes: "Vd", ID: "a-vmov-imm", Name: "VMOV (immediate)", Enc: "A2", Title: "Load a constant", Doc: "Vd = const: ±n/16 × 2^r with n 16–31 and r −3 to 4", Need: FeatVFP3,
		Bits: "cond:4 11101 d 11 imm8[7:4] Vd size (0) 0 (0) 0 imm8[3:0]", Forms: "vmov.F Vd, #vfp8\n~ fconst$ Vd, ##imm8\n" +
			"s: ~ vmov.w Sd, #vfp8\ns: ~ vldr.x Sd, =vfp8\ns: ~ flds Sd, =vfp8\n" +
			"h: ~ vmov.16 Sd, #vfp8\nh: ~ vmov.i16 Sd, #vfp8\nh: ~ vmov.s16 Sd, #vfp8\nh: ~ vmov.u16 Sd, #vfp8\n" +
			"d: ~ vldr.* Dd, =vfp8\nd: ~ fldd Dd, =vfp8"})

	// Conversions.
	type conv struct{ id, enc, bits, forms, title, doc, reads, writes string }
	cvt := func(need Features, c conv) {
		r := &Row{ID: "a-vcvt-" + c.id, Name: "VCVT " + c.enc, Title: c.title, Doc: c.doc, Need: FeatVFP | need, Bits: c.bits, Forms: c.forms, Reads: c.reads, Writes: c.writes}
		r.Cautions = ofHalf(need)
		add(r)
	}
	cvt(FeatVFPD, conv{"f64-f32", "(between double-precision and single-precision)", "cond:4 11101 Dd[4] 11 0111 Dd[3:0] 1010 11 Sm[0] 0 Sm[4:1]",
		"vcvt.f64.f32 Dd, Sm\n~ fcvtds Dd, Sm", "Single to double precision", "Dd = Sm, exactly", "Sm fp.modes", "Dd fp.exceptions"})
	cvt(FeatVFPD, conv{"f32-f64", "(between double-precision and single-precision)", "cond:4 11101 Sd[0] 11 0111 Sd[4:1] 1011 11 Dm[4] 0 Dm[3:0]",
		"vcvt.f32.f64 Sd, Dm\n~ fcvtsd Sd, Dm", "Double to single precision", "Sd = Dm, rounded as FPSCR says", "Dm fp.modes", "Sd fp.exceptions"})
	for _, size := range []string{single, double, half} {
		reg, typ, need, prec := "S", "f32", Features(0), "single"
		m, sfx := "Sm[0] 0 Sm[4:1]", "1010"
		to := func(op string) string { return "Sd[0] 11 " + op + " Sd[4:1] " + sfx }
		older := func(forms string) string { return forms }
		switch size {
		case double:
			reg, typ, need, prec = "D", "f64", FeatVFPD, "double"
			m, sfx = "Dm[4] 0 Dm[3:0]", "1011"
			to = func(op string) string { return "Dd[4] 11 " + op + " Dd[3:0] " + sfx }
		case half:
			typ, need, prec, sfx = "f16", FeatFP16, "half", "1001"
			older = func(string) string { return "" }
		}
		for _, sign := range []string{"s", "u"} {
			bit, kind := "1", "signed"
			if sign == "u" {
				bit, kind = "0", "unsigned"
			}
			i32 := sign + "32"
			rounded, modes, raised := ", rounded as FPSCR says", " fp.modes", " fp.exceptions"
			if size == double { // which has all of them
				rounded, modes, raised = ", exactly", "", ""
			}
			cvt(need, conv{typ + "-" + i32, "(between floating-point and integer)", "cond:4 11101 " + to("1000") + " " + bit + "1 Sm[0] 0 Sm[4:1]",
				"vcvt." + typ + "." + i32 + " " + reg + "d, Sm" + older("\n~ f"+sign+"ito"+size+" "+reg+"d, Sm"),
				"Whole number to " + prec + " precision", reg + "d = Sm as a " + kind + " number of 32 bits" + rounded, "Sm" + modes, reg + "d" + raised})
			op := "1101"
			if sign == "u" {
				op = "1100"
			}
			cvt(need, conv{i32 + "-" + typ, "(between floating-point and integer)", "cond:4 11101 Sd[0] 11 " + op + " Sd[4:1] " + sfx + " 11 " + m,
				"vcvt." + i32 + "." + typ + " Sd, " + reg + "m" + older("\n~ vcvtz."+i32+"."+typ+" Sd, "+reg+"m\n~ fto"+sign+"iz"+size+" Sd, "+reg+"m"),
				capital(prec) + " precision to a whole number, towards zero", "Sd = " + reg + "m as a " + kind + " number of 32 bits, rounded towards zero; out of range: the nearest", reg + "m fp.modes", "Sd fp.exceptions"})
			add(&Row{ID: "a-vcvtr-" + i32 + "-" + typ, Name: "VCVTR", Title: capital(prec) + " precision to a whole number", Need: FeatVFP | need, Cautions: ofHalf(need),
				Doc:   "Sd = " + reg + "m as a " + kind + " number of 32 bits, rounded as FPSCR says; out of range: the nearest",
				Reads: reg + "m fp.modes", Writes: "Sd fp.exceptions",
				Bits:  "cond:4 11101 Sd[0] 11 " + op + " Sd[4:1] " + sfx + " 01 " + m,
				Forms: "vcvtr." + i32 + "." + typ + " Sd, " + reg + "m" + older("\n~ fto"+sign+"i"+size+" Sd, "+reg+"m")})
			u := "0"
			if sign == "u" {
				u = "1"
			}
			for _, w := range []string{"16", "32"} {
				sx, letter := "0", "h"
				if w == "32" {
					sx, letter = "1", "l"
				}
				fixed := sign + w
				fixedModes, fixedRaised := "", "" // always rounded to the nearest (DDI 0406C, "VCVT (between floating-point and fixed-point, VFP)")
				if size == half {
					fixedModes = " fp.modes"
				}
				if size == half || size == single && w == "32" {
					fixedRaised = " fp.exceptions"
				}
				cvt(need|FeatVFP3, conv{typ + "-" + fixed + "-fixed", "(between floating-point and fixed-point)", "cond:4 11101 " + to("101"+u) + " " + sx + "1 imm5[0] 0 imm5[4:1]",
					"vcvt." + typ + "." + fixed + " " + reg + "d, " + reg + "d, #fb" + w + older("\n~ f"+sign+letter+"to"+size+" "+reg+"d, ##fb"+w),
					"Fixed point to " + prec + " precision", reg + "d = " + reg + "d as a " + kind + " number of " + w + " bits with fbits of them after the binary point", reg + "d" + fixedModes, reg + "d" + fixedRaised})
				cvt(need|FeatVFP3, conv{fixed + "-" + typ + "-fixed", "(between floating-point and fixed-point)", "cond:4 11101 " + to("111"+u) + " " + sx + "1 imm5[0] 0 imm5[4:1]",
					"vcvt." + fixed + "." + typ + " " + reg + "d, " + reg + "d, #fb" + w + older("\n~ fto"+sign+letter+size+" "+reg+"d, ##fb"+w),
					capital(prec) + " precision to fixed point, towards zero", reg + "d = " + reg + "d as a " + kind + " number of " + w + " bits with fbits of them after the binary point", reg + "d fp.modes", reg + "d fp.exceptions"})
			}
		}
		// Half precision, in the lower or the upper half of a register.
		// Assemblers do not ask for the extension of ARMv7 that has those of single
		// precision: cores with VFPv3 have it or not.
		with := Features(0)
		if size == double {
			with = FeatFPv8
		}
		for _, half2 := range []string{"b", "t"} {
			if size == half {
				break
			}
			t, where := "0", "lower"
			if half2 == "t" {
				t, where = "1", "upper"
			}
			up := strings.ToUpper(half2)
			add(&Row{ID: "a-vcvt" + half2 + "-" + typ + "-f16", Name: "VCVT" + up, Title: "Half to " + prec + " precision", Doc: reg + "d = " + where + " half of Sm, exactly", Reads: "Sm fp.modes", Writes: reg + "d fp.exceptions", Need: FeatVFP | need | with,
				Bits: "cond:4 11101 " + to("0010") + " " + t + "1 Sm[0] 0 Sm[4:1]", Forms: "vcvt" + half2 + "." + typ + ".f16 " + reg + "d, Sm"})
			add(&Row{ID: "a-vcvt" + half2 + "-f16-" + typ, Name: "VCVT" + up, Title: capital(prec) + " to half precision", Doc: where + " half of Sd = " + reg + "m, rounded as FPSCR says", Reads: "Sd " + reg + "m fp.modes", Writes: "Sd fp.exceptions", Need: FeatVFP | need | with,
				Bits: "cond:4 11101 Sd[0] 11 0011 Sd[4:1] " + sfx + " " + t + "1 " + m, Forms: "vcvt" + half2 + ".f16." + typ + " Sd, " + reg + "m"})
		}
		// FPv5: conversions with the rounding in the name, without a condition.
		for i, mode := range roundings {
			for _, sign := range []string{"s", "u"} {
				bit, kind := "1", "signed"
				if sign == "u" {
					bit, kind = "0", "unsigned"
				}
				low := "vcvt" + mode.letter
				add(&Row{ID: "a-" + low + "-" + sign + "32-" + typ, Name: "VCVTA, VCVTN, VCVTP, VCVTM (floating-point)", Title: capital(prec) + " precision to a whole number, " + mode.short, Need: FeatVFP | FeatFPv8 | need,
					Doc:   "Sd = " + reg + "m as a " + kind + " number of 32 bits, rounded " + mode.how,
					Reads: reg + "m fp.modes", Writes: "Sd fp.exceptions",
					Bits:  "111111101 Sd[0] 1111 " + bits2(i) + " Sd[4:1] " + sfx + " " + bit + "1 " + m,
					Forms: low + "." + sign + "32." + typ + " Sd, " + reg + "m"})
			}
		}
	}
	for i, mode := range roundings {
		low := "vrint" + mode.letter
		each(Row{ID: "a-" + low, Name: "VRINTA, VRINTN, VRINTP, VRINTM (floating-point)", Title: "Round to a whole number, " + mode.short, Need: FeatFPv8, Doc: "Vd = Vm rounded to a whole number, " + mode.how, Reads: "Vm fp.modes", Writes: "Vd fp.exceptions",
			Bits: "111111101 d 1110 " + bits2(i) + " Vd size 01 m 0 Vm", Forms: low + ".F Vd, Vm\n~ " + low + ".F Vd=Vm"})
	}
	for i, c := range []Cond{0, 6, 10, 12} {
		each(Row{ID: "a-vsel" + c.String(), Name: "VSEL", Title: "Select by a condition", Need: FeatFPv8, FlagsRead: c.Reads(), Doc: "Vd = Vn where the condition " + strings.ToUpper(c.String()) + " holds, else Vm", Reads: "Vn Vm", Writes: "Vd",
			Bits: "111111100 d " + bits2(i) + " Vn Vd size n 0 m 0 Vm", Forms: "vsel" + c.String() + ".F Vd, Vn, Vm"})
	}
	for i, n := range []string{"max", "min"} {
		which := []string{"larger", "smaller"}[i]
		each(Row{ID: "a-v" + n + "nm", Name: "V" + strings.ToUpper(n) + "NM", Title: "The " + which + " of two numbers", Need: FeatFPv8, Doc: "Vd = the " + which + " of Vn and Vm; of a number and a quiet NaN the number", Reads: "Vn Vm fp.modes", Writes: "Vd fp.exceptions",
			Bits: "111111101 d 00 Vn Vd size n " + bits2(i)[1:] + " m 0 Vm", Forms: "v" + n + "nm.F Vd, Vn, Vm\n~ v" + n + "nm.F Vd=Vn, Vm"})
	}
	for i, x := range []struct{ name, title, doc, reads string }{{"vmovx", "Move the upper half of a register", "lower half of Sd = upper half of Sm; the rest is 0", "Sm"}, {"vins", "Insert a half", "upper half of Sd = lower half of Sm", "Sd Sm"}} {
		add(&Row{ID: "a-" + x.name, Name: strings.ToUpper(x.name), Title: x.title, Need: FeatVFP | FeatFP16, Doc: x.doc, Reads: x.reads, Writes: "Sd", Bits: "111111101 Sd[0] 110000 Sd[4:1] 1010 " + bits2(i)[1:] + "1 Sm[0] 0 Sm[4:1]", Forms: x.name + ".f16 Sd, Sm"})
	}
	add(&Row{ID: "a-vjcvt", Name: "VJCVT", Title: "Double precision to a whole number, modulo 2^32", Doc: "Sd = Dm rounded towards zero, modulo 2^32; Z of FPSCR: nothing was lost", Reads: "Dm fp.modes", Writes: "Sd fp.flags fp.exceptions", Need: FeatVFP | FeatVFPD | FeatCplx,
		Bits: "cond:4 11101 Sd[0] 11 1001 Sd[4:1] 1011 11 Dm[4] 0 Dm[3:0]", Forms: "vjcvt.s32.f64 Sd, Dm"})

	// Moves between register files.
	add(&Row{ID: "a-vmov-to-s", Timing: TimeFloatMove, Name: "VMOV (between ARM core register and single-precision register)", Title: "Move a word to a single register", Doc: "Sn = Rt", Need: FeatVFP, Reads: "Rt", Writes: "Sn",
		Bits: "cond:4 11100000 Sn[4:1] Rt:4 1010 Sn[0] (00) 1 (0000)", Forms: "vmov.w Sn, Rt\n~ fmsr Sn, Rt", Cautions: pcTransfer(1, "Rt")})
	add(&Row{ID: "a-vmov-from-s", Timing: TimeFloatMove, Name: "VMOV (between ARM core register and single-precision register)", Title: "Move a single register to a word", Doc: "Rt = Sn", Need: FeatVFP, Reads: "Sn", Writes: "Rt",
		Bits: "cond:4 11100001 Sn[4:1] Rt:4 1010 Sn[0] (00) 1 (0000)", Forms: "vmov.w Rt, Sn\n~ fmrs Rt, Sn", Cautions: pcTransfer(0, "Rt")})
	add(&Row{ID: "a-vmov-to-h", Name: "VMOV (between general-purpose register and half-precision)", Title: "Move a halfword to a single register", Doc: "Sn = lower half of Rt; the rest is 0", Need: FeatVFP | FeatFP16, Reads: "Rt", Writes: "Sn",
		Bits: "cond:4 11100000 Sn[4:1] Rt:4 1001 Sn[0] (00) 1 (0000)", Forms: "vmov.f16 Sn, Rt\n~ vmov.16 Sn, Rt", Cautions: append(pcTransfer(1, "Rt"), conditionalHalf)})
	add(&Row{ID: "a-vmov-from-h", Name: "VMOV (between general-purpose register and half-precision)", Title: "Move half of a single register to a word", Doc: "Rt = lower half of Sn", Need: FeatVFP | FeatFP16, Reads: "Sn", Writes: "Rt",
		Bits: "cond:4 11100001 Sn[4:1] Rt:4 1001 Sn[0] (00) 1 (0000)", Forms: "vmov.f16 Rt, Sn\n~ vmov.16 Rt, Sn", Cautions: append(pcTransfer(0, "Rt"), conditionalHalf)})
	twice := sameTwo(0, false)
	add(&Row{ID: "a-vmov-to-2s", Timing: TimeFloatMove, Name: "VMOV (between two ARM core registers and two single-precision registers)", Title: "Move two words to two single registers", Doc: "Sm = Rt; the next single register = Rt2", Need: FeatVFP | FeatVFP2, Reads: "Rt Rt2", Writes: "Sm next(Sm)",
		Bits: "cond:4 11000100 Rt2:4 Rt:4 1010 00 Sm[0] 1 Sm[4:1]", Forms: "vmov.w Sm, next(Sm), Rt, Rt2\n~ fmsrr {2S}, Rt, Rt2", Cautions: append(pcTransfer(2, "Rt", "Rt2"), lastSingle)})
	add(&Row{ID: "a-vmov-from-2s", Timing: TimeFloatMove, Name: "VMOV (between two ARM core registers and two single-precision registers)", Title: "Move two single registers to two words", Doc: "Rt = Sm; Rt2 = the next single register", Need: FeatVFP | FeatVFP2, Reads: "Sm next(Sm)", Writes: "Rt Rt2",
		Bits: "cond:4 11000101 Rt2:4 Rt:4 1010 00 Sm[0] 1 Sm[4:1]", Forms: "vmov.w Rt, Rt2, Sm, next(Sm)\n~ fmrrs Rt, Rt2, {2S}", Cautions: append(pcTransfer(0, "Rt", "Rt2"), twice, lastSingle)})
	add(&Row{ID: "a-vmov-to-d", Timing: TimeFloatMove, Name: "VMOV (between two ARM core registers and a doubleword extension register)", Title: "Move two words to a double register", Doc: "lower half of Dm = Rt, upper half = Rt2", Need: FeatVFP | FeatVFP2, Reads: "Rt Rt2", Writes: "Dm",
		Bits: "cond:4 11000100 Rt2:4 Rt:4 1011 00 Dm[4] 1 Dm[3:0]", Forms: "vmov.* Dm, Rt, Rt2\n~ fmdrr Dm, Rt, Rt2", Cautions: pcTransfer(1, "Rt", "Rt2")})
	add(&Row{ID: "a-vmov-from-d", Timing: TimeFloatMove, Name: "VMOV (between two ARM core registers and a doubleword extension register)", Title: "Move a double register to two words", Doc: "Rt = lower half of Dm, Rt2 = upper half", Need: FeatVFP | FeatVFP2, Reads: "Dm", Writes: "Rt Rt2",
		Bits: "cond:4 11000101 Rt2:4 Rt:4 1011 00 Dm[4] 1 Dm[3:0]", Forms: "vmov.* Rt, Rt2, Dm\n~ fmrrd Rt, Rt2, Dm", Cautions: append(pcTransfer(0, "Rt", "Rt2"), twice)})
	add(&Row{ID: "a-vmov-to-lane32", Timing: TimeFloat, Name: "VMOV (ARM core register to scalar)", Title: "Move a word to half of a double register", Doc: "Dn[x] = Rt; the other half stays", Need: FeatVFP | FeatVFPD, Reads: "Rt", Writes: "Dn[x]",
		Bits:  "cond:4 111000 x:1 0 Dn[3:0] Rt:4 1011 Dn[4] 00 1 (0000)",
		Forms: "vmov.32 Dn[x], Rt\n~ vmov.w Dn[x], Rt\n~ fmdlr Dn, Rt ; x=0\n~ fmdhr Dn, Rt ; x=1", Cautions: pcTransfer(1, "Rt")})
	add(&Row{ID: "a-vmov-from-lane32", Timing: TimeFloat, Name: "VMOV (scalar to ARM core register)", Title: "Move half of a double register to a word", Doc: "Rt = Dn[x]", Need: FeatVFP | FeatVFPD, Reads: "Dn[x]", Writes: "Rt",
		Bits:  "cond:4 111000 x:1 1 Dn[3:0] Rt:4 1011 Dn[4] 00 1 (0000)",
		Forms: "vmov.32 Rt, Dn[x]\n~ vmov.w Rt, Dn[x]\n~ fmrdl Rt, Dn ; x=0\n~ fmrdh Rt, Dn ; x=1", Cautions: pcTransfer(0, "Rt")})

	// System registers.
	add(&Row{ID: "a-vmrs", InThumb: systemInThumb, Name: "VMRS", Title: "Read a floating-point system register", Doc: "Rt = system register; APSR_nzcv = flags of FPSCR", Need: FeatVFP, Reads: "fp.reg", Writes: "Rt",
		Bits: "cond:4 11101111 reg:4 Rt:4 1010 (000) 1 (0000)", Forms: "vmrs %nzcv.Rt, %fpscr.reg\nvmrs Rt^, %fpsys.reg\n[FPv8] [VFPD] vmrs Rt^, %fpv8.reg\n~ vmrs Rt^, %fpc.reg\n~ vmrs %nzcv.Rt, %fpc.reg\n~ fmrx Rt, %fpsys.reg\n~ fmrx Rt, %fpv8.reg\n~ fmrx Rt, %fpc.reg\n~ fmstat ; Rt=15 reg=1",
		Adjust: func(v Values, e Effects) Effects {
			if v.Get("Rt") == 15 {
				e.Writes, e.FlagsWritten = 0, NZCV
			}
			return e
		}})
	add(&Row{ID: "a-vmsr", InThumb: systemInThumb, Name: "VMSR", Title: "Write a floating-point system register", Doc: "system register = Rt", Need: FeatVFP, Reads: "Rt", Writes: "fp.reg",
		Bits: "cond:4 11101110 reg:4 Rt:4 1010 (000) 1 (0000)", Forms: "vmsr %fpsys.reg, Rt^\n[FPv8] [VFPD] vmsr %fpv8.reg, Rt^\n~ vmsr %fpc.reg, Rt^\n~ fmxr %fpsys.reg, Rt\n~ fmxr %fpv8.reg, Rt\n~ fmxr %fpc.reg, Rt",
		Cautions: pcTransfer(1, "Rt")})

	// Loads and stores.
	add(&Row{ID: "a-vldr-h", Name: "VLDR", Title: "Load a halfword into a floating-point register", Doc: "Sd = memory at Rn ± imm8*2", Need: FeatVFP | FeatFP16, Reads: "Rn mem", Writes: "Sd", Access: 2, Cautions: []Caution{conditionalHalf},
		Bits: "cond:4 1101 U:1 Sd[0] 01 Rn:4 Sd[4:1] 1001 imm8:8", Forms: "vldr.16 Sd, [Rn, ±imm8*2]\n~ vldr.16 Sd, @imm8*2 ; Rn=15"})
	add(&Row{ID: "a-vstr-h", InThumb: storeInThumb, Name: "VSTR", Title: "Store a halfword from a floating-point register", Doc: "memory at Rn ± imm8*2 = Sd", Need: FeatVFP | FeatFP16, Reads: "Rn Sd", Writes: "mem", Access: 2,
		Bits: "cond:4 1101 U:1 Sd[0] 00 Rn:4 Sd[4:1] 1001 imm8:8", Forms: "vstr.16 Sd, [Rn, ±imm8*2]\n~ vstr.16 Sd, @imm8*2 ; Rn=15",
		Cautions: []Caution{conditionalHalf, {Op: 1, Deprecated: true, Rules: isPC("Rn"), Text: "a store relative to pc is deprecated"}}})
	for _, size := range []string{single, double} {
		reg, dd, sfx, unit, access, any := "S", "Sd[0]", "Sd[4:1] 1010", "word", uint8(4), ".x" // with 16 bits it is another one
		if size == double {
			reg, dd, sfx, unit, access, any = "D", "Dd[4]", "Dd[3:0] 1011", "doubleword", 8, ".*"
		}
		add(&Row{ID: "a-vldr-" + size, Name: "VLDR", Title: "Load a " + unit + " into a floating-point register", Doc: reg + "d = memory at Rn ± imm8*4", Need: FeatVFP, Reads: "Rn mem", Writes: reg + "d", Access: access,
			Bits:  "cond:4 1101 U:1 " + dd + " 01 Rn:4 " + sfx + " imm8:8",
			Forms: "vldr" + any + " " + reg + "d, [Rn, ±imm8*4]\n~ vldr" + any + " " + reg + "d, @imm8*4 ; Rn=15\n~ fld" + size + " " + reg + "d, [Rn, ±imm8*4]\n~ fld" + size + " " + reg + "d, @imm8*4 ; Rn=15"})
		add(&Row{ID: "a-vstr-" + size, InThumb: storeInThumb, Name: "VSTR", Title: "Store a " + unit + " from a floating-point register", Doc: "memory at Rn ± imm8*4 = " + reg + "d", Need: FeatVFP, Reads: "Rn " + reg + "d", Writes: "mem", Access: access,
			Bits:     "cond:4 1101 U:1 " + dd + " 00 Rn:4 " + sfx + " imm8:8",
			Forms:    "vstr" + any + " " + reg + "d, [Rn, ±imm8*4]\n~ vstr" + any + " " + reg + "d, @imm8*4 ; Rn=15\n~ fst" + size + " " + reg + "d, [Rn, ±imm8*4]\n~ fst" + size + " " + reg + "d, @imm8*4 ; Rn=15",
			Cautions: []Caution{{Op: 1, Deprecated: true, Rules: isPC("Rn"), Text: "a store relative to pc is deprecated"}}})
		pcWB := pcWrittenBack(0, regIs("Rn", PC).and(writtenBack))
		rules := []Rule{noneInList, above(reg+"d", "n", 32)}
		if size == double {
			rules = append(rules, tooMany)
		}
		counts := []Caution{{Op: 1, Rules: rules, Text: "a list of no register, or of more than there are, is unpredictable"}}
		for _, load := range []bool{false, true} {
			l, verb, doc, m := "0", "Store floating-point registers", "memory from Rn on = registers of the list", "vstm"
			reads, writes := "Rn floats", "mem"
			if load {
				l, verb, doc, m = "1", "Load floating-point registers", "registers of the list = memory from Rn on", "vldm"
				reads, writes = "Rn mem", "floats"
			}
			up, down, stackUp, stackDown := "ea", "fd", "", "vpush" // the older names of a stack's kinds
			if load {
				up, down, stackUp, stackDown = "fd", "ea", "vpop", ""
			}
			old := func(mode, tail, ops string) string { return "\n~ f" + m[1:] + mode + tail + " " + ops }
			wb := func(v Values, e Effects) Effects {
				if v.row.fieldIndex("W") < 0 || v.Get("W") != 0 {
					e.Writes |= 1 << v.Get("Rn")
				}
				return e
			}
			n, many := "n:8", TimeFloatMany
			if size == double {
				n, many = "n:7 0", TimeFloatManyDouble
			}
			list, oldList := "{"+reg+"}", "{"+strings.ToLower(reg)+"}"
			base := "Rn!"
			if size == double {
				base = "Rn^!"
			}
			ia := func(names ...string) string {
				out := ""
				for _, x := range names {
					l, base := list, base
					if x[0] == 'f' {
						l, base = oldList, "Rn^!"
					}
					out += "\n~ " + x + " Rn, " + l + " ; W=0\n~ " + x + " " + base + ", " + l + " ; W=1"
				}
				return out
			}
			forms := ""
			if stackUp != "" {
				forms = stackUp + ".* " + list + " ; W=1 Rn=13\n"
			}
			forms += m + "ia.* Rn, " + list + " ; W=0\n" + m + "ia.* " + base + ", " + list + " ; W=1" + ia(m+".*", "f"+m[1:]+"ia"+size, "f"+m[1:]+up+size)
			add(&Row{ID: "a-" + m + "ia-" + size, InThumb: listInThumb(size == single), Timing: many, Name: strings.ToUpper(m), Title: verb + ", going up", Doc: doc, Need: FeatVFP, Reads: reads, Writes: writes, Access: 4, Adjust: wb,
				Bits: "cond:4 1100 1 " + dd + " W:1 " + l + " Rn:4 " + sfx + " " + n, Forms: forms,
				Cautions: append(counts, Caution{Op: 0, Deprecated: !load, Rules: isPC("Rn"), Text: "pc as the base of a list is deprecated or unpredictable"}, pcWB)})
			forms = ""
			if stackDown != "" {
				forms = stackDown + ".* " + list + " ; Rn=13\n"
			}
			forms += m + "db.* " + base + ", " + list + old("db", size, "Rn^!, "+oldList) + old(down, size, "Rn^!, "+oldList)
			add(&Row{ID: "a-" + m + "db-" + size, InThumb: listInThumb(size == single), Timing: many, Name: strings.ToUpper(m), Title: verb + ", going down", Doc: strings.Replace(doc, "from Rn on", "below Rn", 1) + "; Rn = the lowest address", Need: FeatVFP, Reads: reads, Writes: strings.TrimSpace("Rn " + writes), Access: 4,
				Bits: "cond:4 1101 0 " + dd + " 1 " + l + " Rn:4 " + sfx + " " + n, Forms: forms,
				Cautions: append(counts, pcWrittenBack(0, regIs("Rn", PC)))})
			if size == double {
				x := strings.ToUpper("f" + m[1:] + "x")
				counts := append(counts[:1:1], Caution{Op: 1, Rules: []Rule{above("Dd", "n", 16)}, Text: "the form of unknown format has only d0–d15"})
				deprecated := Caution{Op: 0, Deprecated: true, Rules: []Rule{always}, Text: "the form of unknown format is deprecated since ARMv6: the one for double registers does the same"}
				add(&Row{ID: "a-" + m + "ia-x", InThumb: listInThumb(false), Timing: TimeUnknown, Name: x, Title: verb + " in an unknown format, going up", Doc: doc + ", and a word without meaning", Need: FeatVFP, Reads: reads, Writes: writes, Access: 4, Adjust: wb,
					Bits: "cond:4 1100 1 " + dd + " W:1 " + l + " Rn:4 " + sfx + " n:7 1", Cautions: append(counts, pcWB, deprecated),
					Forms: strings.TrimPrefix(ia("f"+m[1:]+"iax", "f"+m[1:]+up+"x"), "\n~ ")})
				add(&Row{ID: "a-" + m + "db-x", InThumb: listInThumb(false), Timing: TimeUnknown, Name: x, Title: verb + " in an unknown format, going down", Doc: strings.Replace(doc, "from Rn on", "below Rn", 1) + ", and a word without meaning", Need: FeatVFP, Reads: reads, Writes: strings.TrimSpace("Rn " + writes), Access: 4,
					Bits: "cond:4 1101 0 " + dd + " 1 " + l + " Rn:4 " + sfx + " n:7 1", Cautions: append(counts, pcWrittenBack(0, regIs("Rn", PC)), deprecated),
					Forms: strings.TrimPrefix(old("dbx", "", "Rn^!, "+oldList)+old(down+"x", "", "Rn^!, "+oldList), "\n~ ")})
			}
		}
	}
	return rows
}

// storeInThumb: T32 has PC as a base for loads of one register only (DDI 0406, "VSTR").
// Under the older names assemblers take it.
func storeInThumb(form string) string {
	if !strings.HasPrefix(form, "~ vstr") && !strings.HasPrefix(form, "vstr") {
		return form
	}
	if strings.Contains(form, "@") {
		return ""
	}
	return strings.Replace(form, "[Rn,", "[Rn^,", 1)
}

// listInThumb: T32 has no lists from PC on (DDI 0406, "VLDM"). Those of single registers
// assemblers take under the names that begin with V.
func listInThumb(single bool) func(form string) string {
	return func(form string) string {
		if single && strings.HasPrefix(strings.TrimPrefix(form, "~ "), "v") {
			return form
		}
		return strings.Replace(form, " Rn,", " Rn^,", 1)
	}
}

// systemInThumb: T32 has no SP for what goes to a system register and comes from one
// (DDI 0406, "VMRS").
func systemInThumb(form string) string { return strings.Replace(form, "Rt^", "Rt^^", 1) }

// formsOfSize leaves the forms that a size has, without its mark.
func formsOfSize(size, forms string) string {
	var out []string
	for _, f := range strings.Split(forms, "\n") {
		if mark, form, marked := strings.Cut(f, ": "); !marked {
			out = append(out, f)
		} else if mark == size {
			out = append(out, form)
		}
	}
	return strings.Join(out, "\n")
}

// roundings are the ways to round that FPv5 has names for, as encoded.
var roundings = []struct{ letter, short, how string }{
	{"a", "halves away from zero", "to the nearest, halves away from zero"},
	{"n", "to the nearest", "to the nearest, halves to the even one"},
	{"p", "upwards", "upwards"},
	{"m", "downwards", "downwards"},
}

func bits2(i int) string { return [...]string{"00", "01", "10", "11"}[i] }

func capital(p string) string { return strings.ToUpper(p[:1]) + p[1:] }
