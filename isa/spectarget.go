package isa

import "strings"

// targetSpec is an address relative to PC.
type targetSpec struct {
	specFacts
	toWord bool // relative to PC rounded down to 4, in Thumb state
	signed bool // the field holds a number with a sign
	far    bool // BL's scrambled bits
	neg    bool // the field holds how far it is after
	// rotated: the distance is a rotated constant. up, where it is not -1, is the field
	// that says whether it is ahead, and then the other one has no sign.
	rotated bool
	up      int8
}

// target reads @imm8*4, @-imm12, ~simm8*2, @rot and @-rot.
func (c *specReader) target(tok string) spec {
	s := &targetSpec{specFacts: newFacts(tok), toWord: tok[0] == '@', up: -1}
	s.shape, s.limited, s.address, s.growth = OpExpr, true, true, growsByTarget
	var n numberFacts
	if name := strings.TrimPrefix(tok[1:], "-"); name == "rot" {
		s.rotated, s.neg, s.field = true, tok[1] == '-', c.field("imm12")
		return s
	}
	c.readNumber(&s.specFacts, &n, tok[1:])
	name, _, _ := strings.Cut(tok[1:], "*")
	s.neg = n.neg
	switch {
	case s.field < 0:
	case name == "bl":
		s.far = true
		s.min, s.max = -1<<24, 1<<24-s.step
	case strings.HasPrefix(name, "simm"):
		s.signed = true
		half := int64(1) << (c.row.fields[s.field].width - 1)
		s.min, s.max = -half*s.step, (half-1)*s.step
	case c.row.full() && c.row.fieldIndex("U") >= 0:
		s.up, s.min = c.field("U"), -s.max
	}
	return s
}

// from is what the distance counts from.
func (s *targetSpec) from(r *Row, pc int64) int64 {
	pc += r.State.Ahead()
	if s.toWord && r.State == T {
		pc &^= 3
	}
	return pc
}

func (s *targetSpec) check(f *Form, q *Query, op *Operand, m *binding) miss {
	r := f.Row
	if r.Linked() && (op.Kind == OpExpr && op.Bare || op.Kind == OpImm && q.Unified) {
		// A branch to an address as a number: how far that is, the linker
		// knows.
		m.Deferred = true
		if s.far {
			m.vals[s.field] = scrambleBL(0)
		}
		return miss{}
	}
	label := op.Kind == OpExpr && !op.Bare
	pooled := op.Kind == OpLit && !op.Bare && r.Access != 0 && (r.Access != 8 || r.vector) && !r.stores()
	if !label && !pooled || op.Writeback {
		return miss{Reason: OtherKind}
	}
	if !op.Known {
		m.Deferred = true
		if s.far {
			m.vals[s.field] = scrambleBL(0) // the bits J1 and J2 are set where the distance is 0
		}
		return miss{}
	}
	v := op.Imm - s.from(r, q.PC)
	switch {
	case s.rotated:
		return s.storeRotated(v, m)
	case r.State == A || s.up >= 0:
		out := s.storeWide(r, v, m)
		if pooled && v == 0 && r.State == A && !r.vector && s.up >= 0 {
			m.vals[s.up] = 0 // as assemblers count down to a pool that is where PC reads
		}
		return out
	}
	return s.storeThumb(r, v, m)
}

// storeRotated stores a distance as a rotated constant.
func (s *targetSpec) storeRotated(v int64, m *binding) miss {
	d := v
	if s.neg {
		d = -v
	}
	x, ok := Rotated(uint32(d))
	if d < 0 || !ok {
		return miss{Reason: NoRotation, Value: v}
	}
	m.vals[s.field] = x
	return miss{}
}

// storeWide stores a distance with its sign, or with a bit for that.
func (s *targetSpec) storeWide(r *Row, v int64, m *binding) miss {
	switch {
	case v < s.min || v > s.max:
		return miss{Reason: TooFar, Value: v}
	case v%s.step != 0:
		return miss{Reason: OddTarget, Value: v}
	case s.up >= 0:
		m.vals[s.up] = 0
		if v >= 0 {
			m.vals[s.up] = 1
		}
		m.vals[s.field] = uint32(max(v, -v) / s.step)
		return miss{}
	}
	m.vals[s.field] = uint32(v/s.step) & (1<<r.fields[s.field].width - 1)
	return miss{}
}

// storeThumb stores a distance in Thumb state.
func (s *targetSpec) storeThumb(r *Row, v int64, m *binding) miss {
	if !s.toWord && s.min < 0 && v&1 != 0 {
		// Assemblers drop bit 0 of a branch's target, but for CBZ; a caution
		// says so.
		m.Odd, v = true, v&^1
	}
	switch {
	case v >= s.min && v <= s.max && v%s.step == 0:
	case v%s.step != 0:
		return miss{Reason: OddTarget, Value: v}
	case s.min == 0 && v < 0:
		return miss{Reason: Behind, Value: v}
	default:
		return miss{Reason: TooFar, Value: v}
	}
	switch d := v / s.step; {
	case s.far:
		m.vals[s.field] = scrambleBL(uint32(v>>1) & 0xffffff)
	case s.neg:
		m.vals[s.field] = uint32(-d)
	default:
		m.vals[s.field] = uint32(d)
	}
	return miss{}
}

// reaches says whether a distance from pc is one that the field holds. Bit 0 of a
// branch's target does not count.
func (s *targetSpec) reaches(r *Row, pc, target int64) bool {
	if !s.toWord {
		target &^= 1
	}
	d := target - s.from(r, pc)
	return s.min <= d && d <= s.max && d%s.step == 0
}

// value is the distance that the fields mean.
func (s *targetSpec) value(r *Row, vals *[maxFields]uint32) int64 {
	v := vals[s.field]
	switch {
	case s.far:
		return int64(int32(scrambleBL(v)<<8)>>8) * 2
	case s.signed:
		w := r.fields[s.field].width
		return int64(int32(v<<(32-w))>>(32-w)) * s.step
	}
	d := int64(v) * s.step
	if s.rotated {
		d = int64(Unrotate(v))
	}
	if s.neg || s.up >= 0 && vals[s.up] == 0 {
		d = -d
	}
	return d
}

func (s *targetSpec) write(f *Form, vals *[maxFields]uint32, pc int64) string {
	return hex(uint32(s.from(f.Row, pc) + s.value(f.Row, vals)))
}

func (s *targetSpec) describe(*Form) string { return "label" }

func (s *targetSpec) operand(f *Form, vals *[maxFields]uint32, pc int64) (Operand, bool) {
	return Operand{Kind: OpExpr, Known: true, Imm: s.from(f.Row, pc) + s.value(f.Row, vals)}, true
}

func (s *targetSpec) waits(*Row) bool     { return true }
func (s *targetSpec) exchanges(*Row) bool { return s.rotated && s.neg }

// twoPartsSpec is an address, its distance the sum of two rotated constants.
type twoPartsSpec struct{ specFacts }

// twoParts reads @two.
func (c *specReader) twoParts(tok string) spec {
	s := &twoPartsSpec{newFacts(tok)}
	s.address, s.field = true, c.field("imm12")
	return s
}

func (s *twoPartsSpec) check(_ *Form, q *Query, op *Operand, m *binding) miss {
	if op.Kind != OpExpr || op.Bare || op.Writeback {
		return miss{Reason: OtherKind}
	}
	if !op.Known {
		m.Deferred = true
		return miss{}
	}
	v := op.Imm - q.PC - A.Ahead()
	if v != int64(int32(v)) || !twoParts(m, int32(v)) {
		return miss{Reason: TooFar, Value: v}
	}
	return miss{}
}

func (s *twoPartsSpec) write(*Form, *[maxFields]uint32, int64) string { return s.text }
func (s *twoPartsSpec) describe(*Form) string                         { return "label" }
func (s *twoPartsSpec) waits(*Row) bool                               { return true }
