package isa

// AllCycles is [Match.Cycles] for all families that have the encoding.
func (m *Match) AllCycles() (out []Cycles) {
	for i := range cores {
		c := &cores[i]
		core, ok := CPU(c.cpus[0])
		if ok && m.Form.On(core.Have) {
			out = append(out, m.Cycles(c.cpus[0], core.Have)...)
		}
	}
	return out
}

// On says whether a target has a form.
func (f *Form) On(have Features) bool {
	return have.Has(f.Row.Need|f.Need) && have&(f.Row.Lack|f.Lack) == 0 && (f.Row.State == T || have.Has(FeatA32))
}

// Match is the decoded instruction as a statement that has been bound; ok is false where no
// form spells it.
func (in *Inst) Match() (m Match, ok bool) {
	f := in.Form(true)
	if f == nil {
		f = in.Form(false)
	}
	if f == nil {
		return m, false
	}
	b := binding{Form: f, vals: in.vals}
	m = b.match(false, 0, 0)
	m.what |= in.keeps
	return m, true
}

// SpecialRegisters lists the names of registers, in lower case, that MRS and MSR, and VMRS and
// VMSR, name in any architecture, without those parts of status registers that letters choose.
func SpecialRegisters() (out []string) {
	seen := map[string]bool{}
	for _, name := range []string{"status", "nzcv", "banked", "fpsys", "fpv8", "wspecial8", "special8", "parts_g", "parts_nzcvqg"} {
		for _, w := range vocabularies()[name].words {
			if !seen[w] {
				seen[w] = true
				out = append(out, w)
			}
		}
	}
	return out
}
