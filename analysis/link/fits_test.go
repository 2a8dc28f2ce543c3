package link

import (
	"testing"

	"narrowgauge/isa"
)

// TestFits holds which branches to another source arrive in the state of the code there (AAELF32,
// 5.6.1.1 to 5.6.1.3); TestAcrossLinked asks a linker.
func TestFits(t *testing.T) {
	const a, b = isa.A, isa.T
	for _, x := range []struct {
		from, to                  isa.State
		exchange, short, function bool
		fits                      bool
	}{
		{a, a, false, false, false, true},
		{a, b, false, false, false, false},
		{a, b, false, false, true, true},
		{b, a, false, false, true, true},
		{b, a, false, true, true, false},
		{b, b, false, true, false, true},
		{a, b, true, false, false, true},
		{a, a, true, false, false, false},
		{b, a, true, false, false, true},
		{b, b, true, false, false, false},
	} {
		if got := Fits(&Use{State: x.from, Exchange: x.exchange, Short: x.short}, &Symbol{State: x.to, Function: x.function}); got != x.fits {
			t.Errorf("%+v: %v", x, got)
		}
	}
}
