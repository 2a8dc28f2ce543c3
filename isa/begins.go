package isa

import (
	"slices"
	"sync"
)

// Words lists the words, in lower case, that operands may be in some instruction: special
// registers, barriers, flags.
var Words = sync.OnceValue(func() (all []string) {
	for _, v := range vocabularies() {
		all = append(all, v.words...)
		if v.parts {
			for _, base := range []string{"cpsr", "spsr"} {
				for n := 1; n < 16; n++ {
					end := ""
					for k, letter := range []string{"f", "s", "x", "c"} {
						if n>>k&1 != 0 {
							end += letter
						}
					}
					all = append(all, base+"_"+end)
				}
			}
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
})

// Begins says whether some form of the name takes the operands as its first ones: what
// is written so may go on. Whether the form may be in an IT block, or outside, counts as
// in Match; what ties operands to each other does not, as some may still come.
func (mnemonic *Mnemonic) Begins(q *Query, ops []Operand) bool {
	for _, f := range mnemonic.forms(q) {
		if f.begins(mnemonic, q, ops) {
			return true
		}
	}
	return false
}

// AddressNext says whether an address may be the next operand: a label.
func (mnemonic *Mnemonic) AddressNext(q *Query, ops []Operand) bool {
	for _, f := range mnemonic.forms(q) {
		if len(f.ops) > len(ops) && f.ops[len(ops)].facts().address && f.begins(mnemonic, q, ops) {
			return true
		}
	}
	return false
}

// Reach is how far the farthest encoding of so many bytes reaches whose last operand is an
// address, in bytes from PC; both are 0 without one.
func (mnemonic *Mnemonic) Reach(q *Query, size int) (lo, hi int64) {
	for _, f := range mnemonic.forms(q) {
		if n := len(f.ops) - 1; n >= 0 && f.Row.Size() == size && f.ops[n].facts().address && f.exists(q) && (q.A32 || f.slot(mnemonic, q) == OK) {
			lo, hi = min(lo, f.ops[n].facts().min), max(hi, f.ops[n].facts().max)
		}
	}
	return lo, hi
}

func (f *Form) begins(mnemonic *Mnemonic, q *Query, ops []Operand) bool {
	if len(f.ops) < len(ops) || !f.exists(q) {
		return false
	}
	if q.A32 {
		if r := &mnemonic.arm; !r.written(q.Unified) || !r.takes(f) {
			return false
		}
	} else if f.slot(mnemonic, q) != OK {
		return false
	}
	var m binding
	m.Form = f
	for _, x := range f.fixed {
		m.vals[x.field] = x.val
	}
	for i := range ops {
		if shape := f.shapes[i]; shape != OpNone && shape != ops[i].Kind || !takes(f.ops[i], f, q, &ops[i], &m) {
			return false
		}
	}
	return true
}
