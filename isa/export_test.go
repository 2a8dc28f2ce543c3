package isa

import (
	"math/rand/v2"
	"slices"
)

// Example writes a statement in the form with random field values, and a
// condition; empty where the form has no text for values.
func (f *Form) Example(rnd *rand.Rand, unified bool) string {
	r := f.Row
	for range 200 {
		var vals [maxFields]uint32
		for i := range r.fields {
			x := &r.fields[i]
			vals[i] = rnd.Uint32() & (1<<x.width - 1)
			if x.name == "n" {
				vals[i] %= 18
			}
			if rnd.IntN(4) == 0 {
				vals[i] = 1<<x.width - 1
			}
			if x.name == "cond" && (rnd.IntN(2) == 0 || vals[i] > 14) {
				vals[i] = 14
			}
		}
		for _, x := range f.fixed {
			vals[x.field] = x.val
		}
		for i := range f.ops {
			if s, ok := f.ops[i].(*vectorRegSpec); ok && s.also >= 0 {
				vals[s.also] = vals[s.field]
			}
		}
		if !f.may(^Features(0), &vals) {
			continue
		}
		t := f.nameA32(unified, Cond(vals[max(r.fieldIndex("cond"), 0)]))
		if r.fieldIndex("cond") < 0 {
			t = f.Mnemonic
		}
		for i := range f.ops {
			sep := ", "
			if i == 0 {
				sep = " "
			}
			t += sep + f.ops[i].write(f, &vals, 0)
		}
		return t
	}
	return ""
}

// AnyType says whether a type may be after the name of the form.
func (f *Form) AnyType() bool { return f.anyType != 0 }

// BuildTable compiles all rows anew.
func BuildTable() { newIntegers().tables(); newVectors().tables() }

// StrayForms lists the forms of rows that are in no group of their row: nothing would
// find them by their names.
func StrayForms() []string {
	var stray []string
	for _, r := range slices.Concat(Rows(), RowsA32()) {
		for _, f := range r.forms {
			if g := groupOf(f.Mnemonic); !r.vector && !slices.Contains(r.groups(), g) {
				stray = append(stray, r.ID+": "+f.Mnemonic)
			}
		}
	}
	return stray
}

// LostNames lists the names, of all stems with each condition in each place, that a table reads
// and that are not found, as they are looked for in another one.
func LostNames() (lost []string, asked int) {
	for _, x := range []*rowSet{integers(), vectors()} {
		for _, t := range x.tables() {
			for _, s := range t.stems {
				for _, w := range condWords {
					for _, name := range []string{s.name, s.name + w, s.name[:s.cut] + w + s.name[s.cut:]} {
						asked++
						if r, _ := t.read(name); r.stem == nil {
							continue
						}
						if m, _ := Find(name); m == nil {
							lost = append(lost, name)
						}
					}
				}
			}
		}
	}
	return lost, asked
}

// Class is the class of cycle counts of the bound statement.
func (m *Match) Class() Timing {
	vals := m.fields()
	return m.Form.Row.timing(&vals, m.Effects())
}

// Figures are the sources of the figures that a family of cores has, by class.
func Figures(core string) map[Timing]string {
	out := map[Timing]string{}
	for i := range cores {
		if cores[i].Name == core {
			for class, f := range cores[i].figures() {
				out[class] = f.source
			}
		}
	}
	return out
}
