package isa

import (
	"fmt"
	"strings"
)

// rowsElements lists the loads and stores of elements and structures, and the
// table look-ups, in the notation of vfpcore.go (DDI 0406, section A7.7 and
// chapter A8, "VLD1 (multiple single elements)" to "VST4 (single 4-element
// structure from one lane)", "VTBL, VTBX", as far as they are remembered: the
// tests hold them against the tools).
func rowsElements() []*Row {
	var rows []*Row
	bits := map[string]string{"8": "0", "16": "1", "32": "2", "64": "3"}
	sizes := []string{"8", "16", "32"}
	things := []string{"", "elements", "structures of two", "structures of three", "structures of four"}
	add := func(n int, load bool, id, kind, title, doc, layout, forms string) {
		verb, l, reads, writes := "Store", "0", "Rn", "mem"
		if load {
			verb, l, reads, writes = "Load", "1", "Rn mem", ""
		}
		cautions := []Caution{{Op: 1, Rules: isPC("Rn"), Text: "pc as the base of such a load or store is unpredictable"}}
		if n > 1 || !strings.HasPrefix(id, "lane") {
			cautions = append(cautions, Caution{Op: 0, Rules: []Rule{beyond}, Text: "a list beyond d31 is unpredictable"})
		}
		cautions = append(cautions, noSIMD)
		name := fmt.Sprintf("VST%d", n)
		if load {
			name = fmt.Sprintf("VLD%d", n)
		}
		rows = append(rows, &Row{ID: "a-" + strings.ToLower(name) + "-" + id, Name: name + " (" + kind + ")", Enc: "A1", Title: verb + " " + title, Doc: doc, Need: FeatVFP3 | FeatVFPD, Access: 4, exact: true,
			Reads: reads, Writes: writes, Adjust: stepsOn, Forms: strings.ReplaceAll(strings.TrimSpace(forms), "NAME", strings.ToLower(name)),
			Bits:     strings.Replace(layout, "L", l, 1),
			Cautions: cautions})
	}
	direction := func(load bool, registers string) string {
		if load {
			return registers + " = memory from Rn on"
		}
		return "memory from Rn on = " + registers
	}

	// All elements of some registers. The type says how many registers and how
	// far apart; each alignment is for some numbers of them.
	const two, four, all = "64|128", "64|128|256", "64"
	shapes := [][]struct {
		list  string
		typ   int
		align string
	}{1: {{"1D", 7, all}, {"2D", 10, two}, {"3D", 6, all}, {"4D", 2, four}},
		2: {{"2D", 8, two}, {"2D/2", 9, two}, {"4D", 3, four}}, 3: {{"3D", 4, all}, {"3D/2", 5, all}}, 4: {{"4D", 0, four}, {"4D/2", 1, four}}}
	for _, load := range []bool{true, false} {
		for n := 1; n <= 4; n++ {
			forms := ""
			for _, x := range shapes[n] {
				for _, s := range append(sizes, "64") {
					if s != "64" || n == 1 {
						forms += fmt.Sprintf("NAME.%s {%s}, [Rn:%s] ; type=%d size=%s\n", s, x.list, x.align, x.typ, bits[s])
					}
				}
			}
			doc := direction(load, "the elements of the registers in turn")
			if n == 1 {
				doc = direction(load, "the registers of the list")
			}
			add(n, load, "multiple", fmt.Sprintf("multiple %s", []string{"", "single elements", "2-element structures", "3-element structures", "4-element structures"}[n]), things[n], doc,
				"11110100 0 Dd[4] L 0 Rn:4 Dd[3:0] type:4 size:2 align:2 Rm:4", forms)
		}
	}
	// One element of each register: the size of the elements says which bits hold
	// its number, the distance of the registers and the alignment.
	for _, load := range []bool{true, false} {
		for n := 1; n <= 4; n++ {
			for i, s := range sizes {
				layout := [][]string{
					1: {"x:3 0", "x:2 0 align:1", "x:1 0 align:2"},
					2: {"x:3 align:1", "x:2 T:1 align:1", "x:1 T:1 0 align:1"},
					3: {"x:3 0", "x:2 T:1 0", "x:1 T:1 00"},
					4: {"x:3 align:1", "x:2 T:1 align:1", "x:1 T:1 align:2"},
				}[n][i]
				align := [][]string{1: {"", "16", "32=3"}, 2: {"16", "32", "64"}, 3: {"", "", ""}, 4: {"32", "64", "64|128"}}[n][i]
				forms := ""
				switch {
				case strings.Contains(layout, "T:1"):
					forms = fmt.Sprintf("NAME.%s {%dD[x]}, [Rn:%s] ; T=0\nNAME.%[1]s {%[2]dD/2[x]}, [Rn:%[3]s] ; T=1", s, n, align)
				default:
					forms = fmt.Sprintf("NAME.%s {%dD[x]}, [Rn:%s]", s, n, align)
				}
				kind, title := fmt.Sprintf("single %d-element structure", n), "one structure"
				if n == 1 {
					kind, title = "single element", "one element"
				}
				where := " to one lane"
				if !load {
					where = " from one lane"
				}
				add(n, load, "lane"+s, kind+where, title, direction(load, "element x of each register"),
					fmt.Sprintf("11110100 1 Dd[4] L 0 Rn:4 Dd[3:0] %02b %02b %s Rm:4", i, n-1, layout), forms)
			}
		}
	}
	// One structure to all elements.
	for n := 1; n <= 4; n++ {
		forms, wide := "", ""
		for _, s := range sizes {
			align := [][]string{1: {"", "16", "32"}, 2: {"16", "32", "64"}, 3: {"", "", ""}, 4: {"32", "64", "64"}}[n][bits[s][0]-'0']
			near, apart := fmt.Sprintf("{%dD[]}", n), fmt.Sprintf("{%dD/2[]}", n)
			if n == 1 {
				apart = "{2D[]}"
			}
			forms += fmt.Sprintf("NAME.%s %s, [Rn:%s] ; T=0 size=%s\nNAME.%[1]s %[5]s, [Rn:%[3]s] ; T=1 size=%[4]s\n", s, near, align, bits[s], apart)
			if n == 4 && s == "32" {
				wide = fmt.Sprintf("NAME.32 %s, [Rn:128!] ; T=0\nNAME.32 %s, [Rn:128!] ; T=1", near, apart)
			}
		}
		kind, title := fmt.Sprintf("single %d-element structure", n), "one structure to all elements"
		if n == 1 {
			kind, title = "single element", "one element to all"
		}
		const layout = "11110100 1 Dd[4] L 0 Rn:4 Dd[3:0] 11 "
		doc := direction(true, "all elements of each register")
		add(n, true, "all", kind+" to all lanes", title, doc, layout+fmt.Sprintf("%02b size:2 T:1 align:1 Rm:4", n-1), forms)
		if wide != "" { // the largest alignment takes the place of a size
			add(n, true, "all128", kind+" to all lanes", title, doc, layout+"11 11 T:1 1 Rm:4", wide)
		}
	}
	for i, x := range []struct{ name, doc string }{{"vtbl", "each byte of Dd = the byte of the list that the byte of Dm counts, 0 beyond its end"}, {"vtbx", "each byte of Dd = the byte of the list that the byte of Dm counts; it stays beyond its end"}} {
		rows = append(rows, &Row{ID: "a-" + x.name, Name: "VTBL, VTBX", Enc: "A1", Title: "Look bytes up in a table", Doc: x.doc, Need: FeatNEON, Forms: x.name + ".8 Dd, {1-4Dn}, Dm", exact: true,
			Bits:     fmt.Sprintf("111100111 Dd[4] 11 Dn[3:0] Dd[3:0] 10 len:2 Dn[4] %d Dm[4] 0 Dm[3:0]", i),
			Cautions: []Caution{{Op: 1, Rules: []Rule{above("Dn", "len", 31)}, Text: "a list beyond d31 is unpredictable"}}})
	}
	return rows
}

// stepsOn are the effects of the ways to write back the base register of loads
// and stores of elements: Rm is 15 for none, 13 for the size of what is moved.
func stepsOn(v Values, e Effects) Effects {
	rm := v.Get("Rm")
	if rm != 15 {
		e.Writes |= 1 << v.Get("Rn")
	}
	if rm != 15 && rm != 13 {
		e.Reads |= 1 << rm
	}
	return e
}
