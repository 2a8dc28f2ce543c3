package isa

// What an assembler does with an instruction whose size depends on a value that
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
func (mnemonic *Mnemonic) Grows(m *Match, q *Query, ops []Operand) Growth {
	g := m.Form.grows
	if g == GrowsNot || q.A32 || !q.Unified || q.Width != 0 || !q.Have.Has(FeatMovW) && !q.Have.Has(FeatT32) {
		return GrowsNot
	}
	if !q.Have.Has(FeatT32) && g == GrowsFar && m.Form.own {
		// ARMv8-M Baseline has no conditional branch of full width; assemblers make
		// one all the same.
		return g
	}
	full := *q
	full.Width = 'w'
	if _, ok := mnemonic.Match(&full, ops); !ok {
		return GrowsNot
	}
	return g
}

// Grows says how the form may grow, where there is an encoding of full width.
func (f *Form) Grows() Growth { return f.grows }

// growth of a form: that of its row, if it has the operand that it depends on.
func (f *Form) growth() Growth {
	g := f.Row.Grows
	if f.Row.State != T || f.Row.size != 2 || g == GrowsNot {
		return GrowsNot
	}
	for _, s := range f.ops {
		switch s.facts().growth {
		case growsByTarget:
			return g
		case growsByNumber:
			return GrowsNumber
		}
	}
	return GrowsNot
}

// Waits says whether assemblers take operand i of a statement that matched as m
// with a constant that only a line below gives a value. A shift by such a
// constant in T32 code, or the position of a bit in any, they do not take.
func (n *Mnemonic) Waits(m *Match, q *Query, i int) bool {
	if m.Form.waits(i) {
		return true
	}
	if s := m.Form.ops[i].facts(); s.shape != OpImm || s.field >= 0 || q.A32 {
		return false
	}
	// Another form has a field where this one has a constant of its own.
	for _, f := range n.Forms {
		if len(f.ops) == len(m.Form.ops) && f.ops[i].facts().shape == OpImm && f.exists(q) && f.waits(i) {
			return true
		}
	}
	return false
}

func (f *Form) waits(i int) bool { return f.ops[i].waits(f.Row) }

// TakesAddress says whether assemblers put the offset of a label in its section into
// operand i of the form, a constant, where a label is instead of a number.
func (n *Mnemonic) TakesAddress(f *Form, i int) bool {
	r := f.Row
	switch f.ops[i].(type) {
	case *wideConstSpec:
		return true
	case *constSpec:
		if !r.full() || r.Flow != FlowNext {
			return false
		}
	default:
		return false
	}
	return r.Late == LateAlways || n.Stem() == "mov"
}

// Constant says whether operand i, from 0, is a constant wherever the name takes it
// in the instruction set, and never an address relative to PC.
func (n *Mnemonic) Constant(s State, i int) bool {
	any := false
	for _, f := range n.FormsOf(s) {
		if f.Address(i) {
			return false
		}
		any = any || f.Number(i)
	}
	return any
}
