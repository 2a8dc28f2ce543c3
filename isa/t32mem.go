package isa

import (
	"fmt"
	"strings"
)

// rowsT32Memory lists the encodings of T32 that load, store and branch, and
// those of ARMv8-M's Security Extension. Names, encoding numbers, layouts and
// conditions follow the ARMv7-A/R Architecture Reference Manual (DDI 0406),
// chapters A6, A8 and B9, the ARMv7-M one (DDI 0403) and that of ARMv8-M
// (DDI 0553), as far as they are remembered: the tests hold them against four
// tools.
func rowsT32Memory() []*Row {
	rows := singleT32()
	rows = append(rows, pairsT32()...)
	rows = append(rows, multipleT32()...)
	rows = append(rows, preloadT32()...)
	rows = append(rows, exclusiveT32()...)
	rows = append(rows, branchesT32()...)
	return append(rows, secureT32()...)
}

// Patterns of other rows, for Row.Not: a base register that is pc, a
// transferred one that is.
var (
	baseIsPC = strings.Repeat("x", 12) + "1111" + strings.Repeat("x", 16)
	rtIsPC   = strings.Repeat("x", 16) + "1111" + strings.Repeat("x", 12)
)

// singleT32 are loads and stores of one register.
func singleT32() (rows []*Row) {
	add := func(r *Row) {
		r.Need = FeatT32
		rows = append(rows, r)
	}
	for _, x := range []struct {
		m, sign, size string
		access        uint8
		title         string
		extended      string
	}{
		{"str", "0", "10", 4, "Store a word", ""},
		{"ldr", "0", "10", 4, "Load a word", "%s"},
		{"strb", "0", "00", 1, "Store a byte", ""},
		{"ldrb", "0", "00", 1, "Load a byte", "%s"},
		{"strh", "0", "01", 2, "Store a halfword", ""},
		{"ldrh", "0", "01", 2, "Load a halfword", "%s"},
		{"ldrsb", "1", "00", 1, "Load a signed byte", "sxb(%s)"},
		{"ldrsh", "1", "01", 2, "Load a signed halfword", "sxh(%s)"},
	} {
		load := x.m[0] == 'l'
		name := strings.ToUpper(x.m)
		l := "0"
		unit := map[uint8]string{1: "byte", 2: "half", 4: "word"}[x.access]
		does := func(at string) string { return unit + "[" + at + "] = Rt" }
		if load {
			l = "1"
			does = func(at string) string { return "Rt = " + fmt.Sprintf(x.extended, unit+"["+at+"]") }
		}
		// Only words go to and from sp, only to pc from memory. What would load
		// less into pc is a hint.
		rt, not := "Rt^^", baseIsPC
		switch x.m {
		case "str":
			rt = "Rt^"
		case "ldr":
			rt = "Rt"
		default:
			if load {
				not += " " + rtIsPC
			}
		}
		encs := map[bool][]string{true: {"T2", "T3", "T2"}, false: {"T3", "T4", "T2"}}[x.access < 4]
		if x.sign == "1" {
			encs = []string{"T1", "T2", "T2"}
		}
		names := []string{x.m}
		if x.sign == "1" {
			names = append(names, "lds"+x.m[4:]) // the older name
		}
		form := func(operands string) (out string) {
			for i, n := range names {
				if i > 0 || strings.HasPrefix(operands, "~") {
					out += "~ "
				}
				out += "u " + n + " " + strings.TrimPrefix(operands, "~ ") + "\n"
			}
			return out
		}
		// One register only in a list.
		one := func(fixed string, writeBack bool, names ...string) (out string) {
			if x.access < 4 {
				return ""
			}
			base, list := "Rn^", "{=Rt-sp}"
			if !load {
				list = "{=Rt-sp-pc}"
			}
			if writeBack {
				base += "!"
			}
			for _, n := range names {
				out += "~ u {apart} " + n + " " + base + ", " + list + " ; " + fixed + "\n"
			}
			return out
		}
		up, down, pp := []string{"stm", "stmia", "stmea"}, []string{"stmdb", "stmfd"}, "~ u push {=Rt-sp-pc} ; Rn=13 P=1 U=0 W=1 imm8=4\n"
		if load {
			up, down, pp = []string{"ldm", "ldmia", "ldmfd"}, []string{"ldmdb", "ldmea"}, "~ u pop {=Rt-sp} ; Rn=13 P=0 U=1 W=1 imm8=4\n"
		}
		if x.access < 4 {
			pp = ""
		}

		head := "1111100 " + x.sign
		add(&Row{ID: "t-" + x.m + "-imm12", Name: name + " (immediate)", Enc: encs[0], Title: x.title, Does: does("Rn + imm12"),
			Bits: head + " 1 " + x.size + " " + l + " Rn:4 Rt:4 imm12:12", Not: not,
			Forms: form(rt+", [Rn^, #imm12]") + form("~ "+rt+", [Rn^]") + one("imm12=0", false, up...)})
		// Rt may be the base register if that is not written back.
		indexed := strings.ReplaceAll(form(rt+", <Rn^, imm8>-"), "u ", "u {apart} ")
		not8 := baseIsPC + " " + strings.Repeat("x", 20) + "10x0xxxxxxxx " + strings.Repeat("x", 20) + "1110xxxxxxxx"
		if load && x.access < 4 {
			not8 += " " + strings.Repeat("x", 16) + "11111100xxxxxxxx"
		}
		add(&Row{ID: "t-" + x.m + "-imm8", Name: name + " (immediate)", Enc: encs[1], Title: x.title, Does: indexedAddress("Rn", "imm8", does),
			Bits: head + " 0 " + x.size + " " + l + " Rn:4 Rt:4 1 P:1 U:1 W:1 imm8:8", Not: not8,
			Forms: indexed + one("P=0 U=1 W=1 imm8=4", true, up...) + one("P=1 U=0 W=0 imm8=4", false, down...) + one("P=1 U=0 W=1 imm8=4", true, down...) + pp})
		add(&Row{ID: "t-" + x.m + "-reg", Name: name + " (register)", Enc: encs[2], Title: x.title, Does: does("Rn + lsl(Rm, imm2)"),
			Bits: head + " 0 " + x.size + " " + l + " Rn:4 Rt:4 000000 imm2:2 Rm:4", Not: not,
			Forms: form(rt + ", [Rn^, Rm^^, lsl#imm2]")})
		if load {
			r := &Row{ID: "t-" + x.m + "-lit", Name: name + " (literal)", Enc: "T1", Title: x.title + " from the literal pool", Does: does("addsub(align(pc), U, imm12)"),
				Bits:  head + " U:1 " + x.size + " 1 1111 Rt:4 imm12:12",
				Forms: form(rt+", [pc, ±imm12]") + form("~ "+rt+", @imm12")}
			if x.access == 4 {
				r.Enc = "T2"
				r.Cautions = []Caution{{Op: 1, Refused: true, Written: true, Rules: []Rule{regIs("Rt", PC).and(notWord)},
					Text: "loading pc from an address that is not aligned to a word is unpredictable"}}
			} else {
				r.Not = rtIsPC
			}
			add(r)
		}
		add(&Row{ID: "t-" + x.m + "t", Name: name + "T", Enc: "T1", Title: x.title + " as in user mode", Does: does("Rn + imm8"),
			Bits: head + " 0 " + x.size + " " + l + " Rn:4 Rt:4 1110 imm8:8", Not: baseIsPC,
			Forms: x.m + "t Rt^^, [Rn^, #imm8]\n~ " + x.m + "t Rt^^, [Rn^]"})
	}
	return rows
}

// pairsT32 are loads and stores of two registers.
func pairsT32() (rows []*Row) {
	for _, load := range []bool{true, false} {
		m, l, title, doc, moved := "strd", "0", "Store two words", "two words at Rn ± imm8*4 = Rt, Rt2", "word![$] = Rt; word![$ + 4] = Rt2"
		base := "<Rn^, imm8*4>"
		if load {
			m, l, title, doc, moved = "ldrd", "1", "Load two words", "Rt, Rt2 = two words at Rn ± imm8*4", "Rt = word![$]; Rt2 = word![$ + 4]"
		}
		rules := []Rule{same("Rn", "Rt").and(indexed), same("Rn", "Rt2").and(indexed)}
		if load {
			rules = append(rules, same("Rt", "Rt2"))
		}
		caution := Caution{Op: 0, Rules: rules, Text: "one register twice, or with writeback one that is the base too, is unpredictable"}
		r := &Row{ID: "t-" + m, Name: strings.ToUpper(m) + " (immediate)", Enc: "T1", Title: title, Doc: doc, Need: FeatT32,
			Bits: "1110100 P:1 U:1 1 W:1 " + l + " Rn:4 Rt:4 Rt2:4 imm8:8", Not: "xxxxxxx0xx0" + strings.Repeat("x", 21),
			Does:     indexedAddress("Rn", "imm8*4", func(at string) string { return strings.ReplaceAll(moved, "$", at) }),
			Cautions: []Caution{caution},
			Forms:    m + " Rt^^, Rt2^^, " + base + "\n~ " + m + " Rt^^+Rt2, " + base}
		if load {
			r.Not += " " + baseIsPC
		}
		rows = append(rows, r)
	}
	return append(rows, &Row{ID: "t-ldrd-lit", Name: "LDRD (literal)", Enc: "T1", Title: "Load two words from the literal pool", Doc: "Rt, Rt2 = two words at Align(PC,4) ± imm8*4", Need: FeatT32,
		Bits: "1110100 P:1 U:1 1 W:1 1 1111 Rt:4 Rt2:4 imm8:8", Not: "xxxxxxx0xx0" + strings.Repeat("x", 21) + " 11101001011111111110100101111111[Sec]",
		Does: "at := addsub(align(pc), U, imm8*4); Rt = word![at]; Rt2 = word![at + 4]",
		Forms: "ldrd Rt^^, Rt2^^, [pc, ±imm8*4] ; P=1 W=0\n~ ldrd Rt^^+Rt2, [pc, ±imm8*4] ; P=1 W=0\n" +
			"~ ldrd Rt^^, Rt2^^, @imm8*4 ; P=1 W=0\n~ ldrd Rt^^+Rt2, @imm8*4 ; P=1 W=0",
		Cautions: []Caution{{Op: 0, Rules: []Rule{same("Rt", "Rt2")}, Text: "one register twice is unpredictable"},
			pcWrittenBack(2, indexed)}})
}

// multipleT32 are loads and stores of several registers; those of one are in
// singleT32.
func multipleT32() (rows []*Row) {
	few := Caution{Op: 1, Rules: []Rule{{"fewer than two in list", func(v Values) bool { return RegList(v.Get("list")).Count() < 2 }}},
		Text: "a list of fewer than two registers is unpredictable"}
	for _, x := range []struct {
		load      bool
		pu        string
		names     string
		also      string
		name, way string
	}{
		{true, "01", "ldmia ldm ldmfd", "pop {list-sp-both} ; Rn=13 W=1", "LDM (LDMIA, LDMFD)", "going up"},
		{true, "10", "ldmdb ldmea", "", "LDMDB (LDMEA)", "going down"},
		{false, "01", "stmia stm stmea", "", "STM (STMIA, STMEA)", "going up"},
		{false, "10", "stmdb stmfd", "push {list-sp-pc} ; Rn=13 W=1", "STMDB (STMFD)", "going down"},
	} {
		l, list, does, title, timing := "0", "{list-sp-pc}", "words[low] = list", "Store registers", TimeStoreMany
		if x.load {
			l, list, does, title, timing = "1", "{list-sp-both}", "list = words[low]", "Load registers", TimeLoadMany
		}
		if x.pu == "01" {
			does = "low := Rn; " + does + "; if W: Rn = Rn + 4*count(list)"
		} else {
			does = "low := Rn - 4*count(list); " + does + "; if W: Rn = low"
		}
		forms := ""
		for i, n := range strings.Fields(x.names) {
			if i > 0 {
				forms += "~ "
			}
			forms += "u {apart} " + n + " Rn^!?, " + list + "\n"
		}
		if x.also != "" {
			forms += "~ u " + x.also
		}
		first, _, _ := strings.Cut(x.names, " ")
		rows = append(rows, &Row{ID: "t-" + first, Name: x.name, Enc: map[bool]string{true: "T2", false: "T1"}[x.pu == "01"], Title: title + ", address " + x.way,
			Doc:  "lowest register at the lowest address; with '!' Rn moves by 4 for each register",
			Need: FeatT32, Timing: timing, Bits: "1110100 " + x.pu + " 0 W:1 " + l + " Rn:4 list:16", Does: does, Forms: forms,
			Cautions: []Caution{few}})
	}
	return rows
}

// preloadT32 are the hints that memory will be used.
func preloadT32() (rows []*Row) {
	for _, x := range []struct {
		m, sign, w  string
		need        Features
		title, what string
	}{
		{"pld", "0", "0", FeatT32, "Preload hint for data", "memory at %s will be read"},
		{"pldw", "0", "1", FeatT32 | FeatMP, "Preload hint for data to write", "memory at %s will be written"},
		{"pli", "1", "0", FeatT32 | FeatBar, "Preload hint for instructions", "code at %s will run"},
	} {
		head := "1111100 " + x.sign
		doc := func(at string) string { return "hint: " + strings.ReplaceAll(x.what, "%s", at) }
		add := func(id, name, enc, at, bits, addr, forms string) {
			rows = append(rows, &Row{ID: "t-" + x.m + "-" + id, Timing: TimePreload, Name: strings.ToUpper(x.m) + " (" + name + ")", Enc: enc, Title: x.title, Doc: doc(at), Need: x.need,
				Bits: bits, Does: "nothing " + addr, Forms: strings.ReplaceAll(forms, "$", x.m)})
		}
		add("imm12", "immediate", "T1", "Rn + imm12", head+" 1 0 "+x.w+" 1 Rn:4 1111 imm12:12", "Rn + imm12", "$ [Rn^, #imm12]\n~ $ [Rn^]")
		add("imm8", "immediate", "T2", "Rn - imm8", head+" 0 0 "+x.w+" 1 Rn:4 1111 1100 imm8:8", "Rn - imm8", "$ [Rn^, #-imm8]")
		add("reg", "register", "T1", "Rn + (Rm << imm2)", head+" 0 0 "+x.w+" 1 Rn:4 1111 000000 imm2:2 Rm:4", "Rn + lsl(Rm, imm2)", "$ [Rn^, Rm^^, lsl#imm2]")
		for _, r := range rows[len(rows)-3:] {
			r.Not = baseIsPC
		}
		enc := "T1"
		if x.m == "pli" {
			enc = "T3"
		}
		// The bit that tells PLDW means nothing here.
		w := x.w
		if x.m == "pldw" {
			continue
		}
		if x.m == "pld" {
			w = "(0)"
		}
		add("lit", "literal", enc, "PC ± imm12", head+" U:1 0 "+w+" 1 1111 1111 imm12:12", "addsub(align(pc), U, imm12)", "$ [pc, ±imm12]\n~ $ @imm12")
	}
	return rows
}

// exclusiveT32 are exclusive accesses and those that acquire or release.
func exclusiveT32() (rows []*Row) {
	outcome := "the register for the outcome must be none of the others"
	add := func(need Features, name, title, doc, bits, does, forms string) *Row {
		m := strings.ToLower(name)
		r := &Row{ID: "t-" + m, Name: name, Enc: "T1", Title: title, Doc: doc, Need: need, Bits: bits, Does: does,
			Forms: strings.ReplaceAll(forms, "$", m)}
		rows = append(rows, r)
		return r
	}
	clash := func(fields ...string) []Caution {
		c := Caution{Op: 0, Refused: true, Text: outcome}
		for _, f := range fields {
			c.Rules = append(c.Rules, same("Rd", f))
		}
		return []Caution{c}
	}
	twice := []Caution{{Op: 0, Refused: true, Rules: []Rule{same("Rt", "Rt2")}, Text: "one register twice is unpredictable"}}
	loads, stores := "Load, and watch the address", "Store if nobody else has"
	add(FeatExclusiveThumb, "LDREX", loads, "Rt = word at Rn + imm8*4; marks the address for exclusive access", "1110 1000 0101 Rn:4 Rt:4 (1111) imm8:8", exclusiveDoes("LDREX", 4, "Rn + imm8*4", ""),
		"$ Rt^^, [Rn^, #imm8*4]\n~ $ Rt^^, [Rn^]")
	strex := add(FeatExclusiveThumb, "STREX", stores, "word at Rn + imm8*4 = Rt and Rd = 0 if the mark holds, else Rd = 1", "1110 1000 0100 Rn:4 Rt:4 Rd:4 imm8:8", exclusiveDoes("STREX", 4, "Rn + imm8*4", ""),
		"$ Rd^^, Rt^^, [Rn^, #imm8*4]\n~ $ Rd^^, Rt^^, [Rn^]")
	strex.Cautions, strex.Not = clash("Rt", "Rn"), rtIsPC+"[Sec]"
	strex.Cautions[0].Refused = false // assemblers take this one, and none of those below

	for _, x := range []struct {
		suffix, op string
		access     uint8
	}{{"", "10", 4}, {"B", "00", 1}, {"H", "01", 2}, {"D", "11", 8}} {
		need, needA := FeatExclusiveThumb, FeatLDA
		rt, rt2, more, bits2 := "Rt^^", "", "", "(1111)"
		if x.suffix == "D" { // not of M profile
			need, needA = FeatExclusiveThumb|FeatT32|FeatA32, FeatV8|FeatT32
			rt2, more, bits2 = ", Rt2^^", " Rt2", "Rt2:4"
		}
		pair := func(front, base string) string {
			out := "$ " + front + rt + rt2 + ", " + base
			if rt2 != "" {
				out += "\n~ $ " + front + rt + "+Rt2, " + base
			}
			return out
		}
		unit := map[uint8]string{1: "byte", 2: "halfword", 4: "word", 8: "two words"}[x.access]
		to := "Rt" + strings.ReplaceAll(more, " ", ", ")
		// ordered lets sp through, which assemblers take in the loads and stores of
		// ARMv8 with an order (DDI 0553, "LDA": unpredictable; from memory).
		ordered := func(name, forms string) (string, []Caution) {
			if name[2] == 'R' { // LDREX and STREX
				return forms, nil
			}
			forms = strings.NewReplacer("Rt^^", "Rt^", "Rd^^", "Rd^").Replace(forms)
			if needA.Has(FeatV8) { // where sp may be
				return forms, nil
			}
			rules := []Rule{regIs("Rt", SP)}
			if strings.Contains(forms, "Rd^") {
				rules = append(rules, regIs("Rd", SP))
			}
			return forms, []Caution{{Op: 0, Lacks: FeatV8, Rules: rules, Text: "sp is unpredictable here"}}
		}
		load := func(need Features, name, title, op, doc string) {
			forms, cautions := ordered(name, pair("", "[Rn^]"))
			r := add(need, name+x.suffix, title, to+" = "+unit+" at Rn"+doc, "1110 1000 1101 Rn:4 Rt:4 "+bits2+" "+op+" (1111)", exclusiveDoes(name, x.access, "Rn", "Rt2"), forms)
			r.Cautions = cautions
			if rt2 != "" {
				r.Cautions = append(twice, cautions...)
			}
		}
		store := func(need Features, name, op string) {
			forms := pair("Rd^^, ", "[Rn^]")
			if name == "STREX" && rt2 == "" { // assemblers take it here
				forms += "\n~ $ Rd^^, Rt^^, [Rn^, #0]"
			}
			forms, cautions := ordered(name, forms)
			r := add(need, name+x.suffix, stores, unit+" at Rn = "+to+" and Rd = 0 if the mark holds, else Rd = 1", "1110 1000 1100 Rn:4 Rt:4 "+bits2+" "+op+" Rd:4", exclusiveDoes(name, x.access, "Rn", "Rt2"), forms)
			fields := []string{"Rt", "Rn"}
			if rt2 != "" {
				fields = append(fields, "Rt2")
			}
			r.Cautions = append(clash(fields...), cautions...)
		}
		if x.suffix != "" {
			load(need, "LDREX", loads, "01"+x.op, "; marks the address for exclusive access")
			store(need, "STREX", "01"+x.op)
		}
		load(needA, "LDAEX", loads+", acquire", "11"+x.op, "; marks the address for exclusive access; later accesses come later")
		store(needA, "STLEX", "11"+x.op)
		if x.suffix != "D" {
			load(needA, "LDA", "Load, acquire", "10"+x.op, "; later accesses come later")
			forms, cautions := ordered("STL", "$ Rt^^, [Rn^]")
			r := add(needA, "STL"+x.suffix, "Store, release", unit+" at Rn = Rt, after all accesses before it", "1110 1000 1100 Rn:4 Rt:4 (1111) 10"+x.op+" (1111)", exclusiveDoes("STL", x.access, "Rn", ""), forms)
			r.Cautions = cautions
		}
	}
	add(FeatExclusiveThumb, "CLREX", "Drop the mark for exclusive access", "the next STREX fails", "11110 0 111 01 1 (1111) 10 (0) 0 (1111) 0010 (1111)", "unwatch", "$")
	return rows
}

// branchesT32 are branches and returns from exceptions.
func branchesT32() (rows []*Row) {
	rows = append(rows,
		&Row{ID: "t-b-cond", Name: "B", Enc: "T3", Title: "Branch on a condition", Doc: "if the condition holds go to the label, 1 MB around PC", Need: FeatT32,
			Bits: "11110 simm20[19] c:4 simm20[16:11] 10 simm20[17] 0 simm20[18] simm20[10:0]", Not: "xxxxxx111" + strings.Repeat("x", 23), Does: "if holds(c): branch pc + simm20*2",
			Forms: "u b<c> ~simm20*2"},
		&Row{ID: "t-b", Name: "B", Enc: "T4", Title: "Branch", Doc: "go to the label, 16 MB around PC", Need: FeatMovW,
			Bits: "11110 bl[23] bl[20:11] 10 bl[22] 1 bl[21] bl[10:0]", Does: "branch pc + bl*2",
			Forms: "u b ~bl*2"},
		&Row{ID: "t-bxj", Name: "BXJ", Enc: "T1", Title: "Branch and exchange to Jazelle", Doc: "as BX where there is no Jazelle", Need: FeatT32 | FeatA32,
			Bits: "11110 0 1111 00 Rm:4 10 (0) 0 (1111) (0000)(0000)", Does: "exchange Rm", Forms: "bxj Rm^^"},
	)
	for _, x := range []struct {
		m, h, unit, at, forms, does string
	}{
		{"tbb", "0", "byte", "Rn + Rm", "tbb [Rn^sp, Rm^^]", "branch pc + byte[Rn + Rm]*2"},
		{"tbh", "1", "halfword", "Rn + Rm*2", "tbh [Rn^sp, Rm^^, lsl#1]\n~ tbh [Rn^sp, Rm^^]", "branch pc + half[Rn + Rm*2]*2"},
	} {
		rows = append(rows, &Row{ID: "t-" + x.m, Name: strings.ToUpper(x.m), Enc: "T1", Title: "Branch by a table", Doc: "go to PC + 2 * " + x.unit + " at " + x.at, Need: FeatT32, Timing: TimeTable,
			Bits: "1110 1000 1101 Rn:4 (1111)(0000) 000 " + x.h + " Rm:4", Does: x.does, Forms: x.forms})
	}
	for _, x := range []struct{ pu, name, older string }{{"00", "DB", "EA"}, {"11", "IA", "FD"}} {
		forms := "$ Rn^!?\n~ rfe" + strings.ToLower(x.older) + " Rn^!?"
		if x.name == "IA" {
			forms += "\n~ rfe Rn^!?"
		}
		rows = append(rows, &Row{ID: "t-rfe" + strings.ToLower(x.name), Last: LastNever, Name: "RFE" + x.name, Enc: map[string]string{"DB": "T1", "IA": "T2"}[x.name], Title: "Return from an exception",
			Doc: "load pc and CPSR from memory at Rn", Need: FeatT32 | FeatA32, Timing: TimeUnknown, Bits: "1110 100 " + x.pu + " 0 W:1 1 Rn:4 (11) (000000) (00000000)", Reads: "Rn mem", Writes: "pc", FlagsWritten: NZCV, Access: 4,
			Forms: strings.ReplaceAll(forms, "$", "rfe"+strings.ToLower(x.name)),
			Adjust: func(v Values, e Effects) Effects {
				if v.Get("W") != 0 {
					e.Writes |= 1 << v.Get("Rn")
				}
				return e
			}})
		names := []string{"srs" + strings.ToLower(x.name), map[string]string{"DB": "srsfd", "IA": "srsea"}[x.name]}
		if x.name == "IA" {
			names = append(names, "srs")
		}
		forms = ""
		for i, n := range names {
			alias := "~ "
			if i == 0 {
				alias = ""
			}
			forms += alias + n + " sp, ####mode ; W=0\n" + alias + n + " sp!, ####mode ; W=1\n~ " + n + " ####mode ; W=0\n"
		}
		rows = append(rows, &Row{ID: "t-srs" + strings.ToLower(x.name), Name: "SRS" + x.name, Enc: map[string]string{"DB": "T1", "IA": "T2"}[x.name], Title: "Store the return state",
			Doc: "store lr and SPSR on the stack of the mode", Need: FeatT32 | FeatA32, Timing: TimeUnknown, Bits: "1110 100 " + x.pu + " 0 W:1 0 (1101) (11) (0000000) (00) mode:5", Reads: "sp lr", Writes: "mem", Access: 4,
			// The sp of the mode may be the current one.
			Adjust: func(v Values, e Effects) Effects {
				if v.Get("W") != 0 {
					e.Writes |= 1 << SP
				}
				return e
			},
			Forms: forms})
	}
	return rows
}

// secureT32 are the instructions of ARMv8-M's Security Extension.
func secureT32() (rows []*Row) {
	rows = append(rows,
		&Row{ID: "bxns", Name: "BXNS", Enc: "T1", Title: "Branch and exchange to the non-secure state", Doc: "go to Rm; bit 0 clear: in the non-secure state", Need: FeatSec,
			Bits: "010001110 Rm:4 1 (00)", Reads: "Rm", Writes: "pc", Flow: FlowReg, Forms: "bxns Rm^"},
		&Row{ID: "blxns", Name: "BLXNS", Enc: "T1", Title: "Call to the non-secure state", Doc: "lr = return address, or a mark for it on the stack; go to Rm; bit 0 clear: in the non-secure state", Need: FeatSec,
			Bits: "010001111 Rm:4 1 (00)", Reads: "Rm", Writes: "pc lr", Flow: FlowReg, Forms: "blxns Rm^"},
		&Row{ID: "t-sg", Name: "SG", Enc: "T1", Title: "Secure gateway", Doc: "enter the secure state, from a call by the non-secure one; bit 0 of lr = 0", Need: FeatSec,
			Bits: "1110100101111111 1110100101111111", Reads: "lr", Writes: "lr", Forms: "sg"})
	for i, m := range []string{"tt", "ttt", "tta", "ttat"} {
		what := []string{"", ", unprivileged", ", of the non-secure state", ", unprivileged, of the non-secure state"}[i]
		rows = append(rows, &Row{ID: "t-" + m, Name: strings.ToUpper(m), Enc: "T1", Title: "Test a target" + what, Doc: "Rd = attributes of the address in Rn" + what, Need: FeatSec,
			Bits: "1110 1000 0100 Rn:4 1111 Rd:4 " + []string{"00", "01", "10", "11"}[i] + " (000000)", Reads: "Rn", Writes: "Rd", Forms: m + " Rd^, Rn^",
			Cautions: []Caution{{Op: 0, Rules: []Rule{regIs("Rd", SP)}, Text: "sp as the result is unpredictable"}}})
	}
	return rows
}

// lazyT32 are those that save and restore the registers of floating point.
func lazyT32() (rows []*Row) {
	for i, m := range []string{"vlstm", "vlldm"} {
		title := []string{"Store floating-point state lazily", "Load floating-point state lazily"}[i]
		r := &Row{ID: "t-" + m, Name: strings.ToUpper(m), Enc: "T1", Title: title, Doc: "as the state of the secure stack needs it, with memory from Rn up", Need: FeatSec | FeatT32, Timing: TimeUnknown,
			Bits: "1110 1100 001 " + []string{"0", "1"}[i] + " Rn:4 (0000) 1010 (00000000)", Reads: "Rn", Writes: "mem", Access: 4, Forms: m + " Rn^"}
		if i == 1 {
			r.Reads, r.Writes = "Rn mem", ""
		}
		rows = append(rows, r)
	}
	return rows
}

// literalForms are the loads of a constant, ldr rX, =value, that an encoding makes
// without memory: c is the constant as the notation has it.
func literalForms(c, fixed string) (forms string) {
	for _, m := range []string{"ldr", "ldrb", "ldrh", "ldrsb", "ldrsh", "ldsb", "ldsh"} {
		forms += "\n~ u " + m + " Rd-sp-pc, " + c + fixed
		if m[len(m)-2] != 's' { // in divided syntax what T16 loads
			forms += "\n~ d " + m + " Rd-r8-r9-r10-r11-r12-sp-lr-pc, " + c + fixed
		}
	}
	return forms
}

// MovesLiteral says whether assemblers load the constant v by MOV, MVN or MOVW,
// and not from a pool: ldr rt, =v.
func (q *Query) MovesLiteral(rt Reg, v uint32) bool {
	switch {
	case q.A32:
		return A32Constant(v)
	case rt == SP || rt == PC:
		return false
	case q.Have.Has(FeatMovW) && v < 1<<16:
		return true
	case !q.Have.Has(FeatT32):
		return false
	}
	return T.moves(v)
}

// exclusiveDoes is what an exclusive access, or one that acquires or releases, does with
// so many bytes at an address (DDI 0406C, A3.4 and A8, "LDREX", "STREX"; DDI 0487, F5, "LDA"): of
// two words, the second register is rt2.
func exclusiveDoes(name string, bytes uint8, at, rt2 string) string {
	unit := map[uint8]string{1: "byte", 2: "half", 4: "word", 8: "word"}[bytes]
	first, second := unit+"!["+at+"]", unit+"!["+at+" + 4]"
	ex := strings.Contains(name, "EX")
	if name[0] == 'L' {
		does := "Rt = " + first
		if bytes == 8 {
			does += "; " + rt2 + " = " + second
		}
		if ex {
			does += fmt.Sprintf("; watch %s, %d", at, bytes)
		}
		return does
	}
	does, when := "", ""
	if ex {
		does, when = fmt.Sprintf("ok := exclusive(%s, %d); ", at, bytes), "if ok: "
	}
	does += when + first + " = Rt"
	if bytes == 8 {
		does += "; " + when + second + " = " + rt2
	}
	if ex {
		does += "; Rd = !ok; unwatch"
	}
	return does
}
