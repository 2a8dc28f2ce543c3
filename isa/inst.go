package isa

// Cycles is that of [Match.Cycles] for a decoded instruction.
func (in *Inst) Cycles(cpu string, have Features) []Cycles {
	f := in.Form(true)
	if f == nil {
		f = in.Form(false)
	}
	if f == nil {
		return nil
	}
	m := Match{Form: f, vals: in.vals}
	return m.Cycles(cpu, have)
}

// SpecialRegisters lists the names of registers, in lower case, that MRS and MSR, and VMRS and
// VMSR, name in any architecture, without those parts of status registers that letters choose.
func SpecialRegisters() (out []string) {
	seen := map[string]bool{}
	for _, name := range []string{"status", "nzcv", "banked", "fpsys", "fpv8", "wspecial8", "special8", "parts_g", "parts_nzcvqg"} {
		for _, w := range vocabularies[name].words {
			if !seen[w] {
				seen[w] = true
				out = append(out, w)
			}
		}
	}
	return out
}
