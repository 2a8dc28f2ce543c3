package isa

// What an assembler does with an instruction whose size hangs on a value that
// is not known when the line is read: it starts with a halfword and lets the
// instruction grow when it lays the section out.

// Growth is how an encoding of a halfword grows to one of full width.
type Growth uint8

// The ways to grow.
const (
	GrowsNot    Growth = iota
	GrowsFar           // with the distance to its target: branches
	GrowsAhead         // unless its target is a word aligned, and ahead within reach: literal loads and ADR
	GrowsNumber        // with its constant or offset
)

// Grows says how the statement grows that m was matched from by q and ops, and
// GrowsNot when it keeps its size: its width is written, there is no encoding of
// full width here, or the assembler decides at once.
func (mn *Mnemonic) Grows(m *Match, q *Query, ops []Operand) Growth {
	g := m.Form.grows
	if g == GrowsNot || q.A32 || !q.Unified || q.Width != 0 || !q.Have.Has(FeatMovW) && !q.Have.Has(FeatT32) {
		return GrowsNot
	}
	if !q.Have.Has(FeatT32) && m.Form.Row.ID == "b-cond" {
		// ARMv8-M Baseline has no conditional branch of full width; assemblers make
		// one all the same.
		return g
	}
	full := *q
	full.Width = 'w'
	if _, ok := mn.Match(&full, ops); !ok {
		return GrowsNot
	}
	return g
}

// Grows says how the form may grow, where there is an encoding of full width.
func (f *Form) Grows() Growth { return f.grows }

// growth of a form: that of its row, if it has the operand that it hangs on.
func (f *Form) growth() Growth {
	g := f.Row.Grows
	if f.Row.State != T || f.Row.size != 2 || g == GrowsNot {
		return GrowsNot
	}
	for i := range f.ops {
		switch s := &f.ops[i]; s.kind {
		case sTarget:
			return g
		case sImm, sMemImm:
			return GrowsNumber
		}
	}
	return GrowsNot
}
