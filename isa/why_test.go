package isa

import "testing"

// TestWhy holds the words for what keeps a statement from the other instruction set: those
// of the nearest form.
func TestWhy(t *testing.T) {
	for _, c := range []struct {
		list []Refusal
		to   State
		want string
	}{
		{nil, T, T.String() + " has no such form"},
		{nil, A, A.String() + " has no such form"},
		{[]Refusal{{Reason: NoFeature}}, T, "it does not exist there on this target"},
		{[]Refusal{{Reason: HighReg}, {Reason: TooLarge}}, T, "r8–r15 are out of reach there"},
		{[]Refusal{{Reason: SameReg}}, T, "there the destination is the first source"},
		{[]Refusal{{Reason: TooLarge}}, T, "the constant does not fit there"},
		{[]Refusal{{Reason: Misaligned}}, T, "the constant does not fit there"},
		{[]Refusal{{Reason: Negative}}, T, "the constant does not fit there"},
		{[]Refusal{{Reason: NoRotation}}, A, "the constant does not fit there"},
		{[]Refusal{{Reason: TooFar}}, T, "the address is out of reach there"},
		{[]Refusal{{Reason: Behind}}, T, "the address is out of reach there"},
		{[]Refusal{{Reason: BadList}}, T, "the list does not fit there"},
	} {
		if got := why(c.list, c.to); got != c.want {
			t.Errorf("%v: %q, want %q", c.list, got, c.want)
		}
	}
}
