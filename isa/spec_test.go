package isa

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
)

// TestSpecs asks each operand of each form in both ways, by its type and through the
// switches that name all types: with operands of all shapes, and with random fields.
func TestSpecs(t *testing.T) {
	t.Parallel()
	rnd := rand.New(rand.NewPCG(1, 9))
	kinds := map[reflect.Type]bool{}
	for _, r := range slices.Concat(Rows(), RowsA32()) {
		for _, f := range r.forms {
			for i, s := range f.ops {
				kinds[reflect.TypeOf(s)] = true
				for k := OpNone; k <= OpVList; k++ {
					op := Operand{Kind: k, Reg: Reg(rnd.IntN(16)), Index: Reg(rnd.IntN(16)), List: RegList(rnd.Uint32()), Known: true, Imm: rnd.Int64N(64), Word: "s1", Shift: LSL}
					a, b := binding{Form: f}, binding{Form: f}
					q := Query{Have: ^Features(0), Unified: true}
					if ok := takes(s, f, &q, &op, &a); ok != (s.check(f, &q, &op, &b).Reason == OK) || a != b {
						t.Fatalf("%s %s: operand %d, %+v: takes says %v", r.ID, f, i, op, ok)
					}
					if shape := f.shapes[i]; shape != OpNone && shape != k && takes(s, f, &q, &op, &a) {
						t.Fatalf("%s %s: operand %d is not only %d, it takes %+v", r.ID, f, i, shape, op)
					}
				}
				var vals [maxFields]uint32
				for k := range r.fields {
					vals[k] = rnd.Uint32() & (1<<r.fields[k].width - 1)
				}
				if may := mayWrite(s, f, ^Features(0), &vals); may != s.may(f, ^Features(0), &vals) {
					t.Fatalf("%s %s: operand %d with %v: mayWrite says %v", r.ID, f, i, vals, may)
				}
			}
		}
	}
	if len(kinds) < 30 {
		t.Errorf("only %d kinds of operands", len(kinds))
	}
}
