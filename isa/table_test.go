package isa_test

import (
	"testing"

	"narrowgauge/isa"
)

// TestGroups holds that rows are compiled with the names that they are asked for by:
// each name of a row begins as one of those in its text does.
func TestGroups(t *testing.T) {
	for _, f := range isa.StrayForms() {
		t.Error(f)
	}
	if lost, asked := isa.LostNames(); len(lost) > 0 || asked < 50_000 {
		t.Errorf("of %d names are not found: %q", asked, lost)
	}
	if a, b := len(isa.Mnemonics()), len(isa.StemsA32()); a < 500 || b < 250 {
		t.Errorf("%d names of Thumb state, %d of A32", a, b)
	}
	for _, name := range []string{"", "b", "x", "0", "B", "ä", "b{", "z9", "it", "nop.w", "qqq.n"} {
		if m, _ := isa.Find(name); (m != nil) != (name == "b" || name == "it" || name == "nop.w") {
			t.Errorf("%q: %v", name, m)
		}
	}
}
