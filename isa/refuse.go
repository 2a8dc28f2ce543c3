package isa

import (
	"fmt"
	"iter"
	"slices"
	"strconv"
	"sync"
)

func itoa(v int64) string { return strconv.FormatInt(v, 10) }
func hex(v uint32) string { return "0x" + strconv.FormatUint(uint64(v), 16) }

// Refusal says why one form does not take a statement.
type Refusal struct {
	Form   *Form
	Reason Reason
	Op     int // the operand at fault, -1 for the whole statement
	Part   Part
	Reg    Reg   // the register at fault
	Value  int64 // the constant, offset or distance at fault
	// Min, Max and Step are what the form takes there.
	Min, Max, Step int64
	Need           Features // missing features
	cost           int
}

// Cost orders refusals of different mnemonics: the nearer, the smaller.
func (r *Refusal) Cost() int { return r.cost }

// cost of a miss: how far the form is from what the author wrote. A value to
// change is near, a register less, another shape far.
var cost = [...]int{
	OK: 0, Misaligned: 2, TooLarge: 2, Negative: 3, Behind: 2, TooFar: 2, OddTarget: 2,
	HighReg: 6, BadList: 3, EmptyList: 3, NeedWB: 3, NoWriteback: 5, SameReg: 7, NeedHigh: 7,
	OtherReg: 12, BadWord: 4, OtherKind: 20, OtherCount: 45, OtherSyntax: 8, NoFeature: 10, OtherWidth: 30, NoHash: 5,
	NoRotation: 2, OddReg: 3, NoCond: 25, NeedIT: 9, InBlock: 9, OtherCond: 9, NotLast: 4,
	NoD32: 5, NotNext: 5, BadLane: 3, NoVFP8: 2, NoType: 1, BadVList: 3,
	ListCount: 4, ListGap: 3, NoVConst: 2, NoPoint: 2, NoAlign: 2,
}

// Refuse says which forms of the name came near, the nearest first; of those that differ
// in nothing but their range the one that the value is nearest to. It is for
// statements that Match does not take. The answer is in room, if that is large enough.
func (mnemonic *Mnemonic) Refuse(q *Query, ops []Operand, room []Refusal) []Refusal {
	out := slices.Grow(room[:0], len(mnemonic.forms(q)))
	for r := range mnemonic.Refusals(q, ops) {
		i := len(out)
		out = append(out, r)
		for ; i > 0 && r.nearer(&out[i-1]); i-- {
			out[i] = out[i-1]
		}
		out[i] = r
	}
	return out
}

// Nearest is the first that Refuse says, which is all that many ask for; ok is false where it
// says none.
func (mnemonic *Mnemonic) Nearest(q *Query, ops []Operand) (best Refusal, ok bool) {
	for r := range mnemonic.Refusals(q, ops) {
		if !ok || r.nearer(&best) {
			best, ok = r, true
		}
	}
	return best, ok
}

// Refusals are what Refuse says, in no order.
func (mnemonic *Mnemonic) Refusals(q *Query, ops []Operand) iter.Seq[Refusal] {
	return func(yield func(Refusal) bool) {
		m := new(binding) // one for all forms: each would be on the heap
		for _, f := range mnemonic.forms(q) {
			r := f.refuse(mnemonic, q, ops, m)
			if r.Reason == OK && mnemonic.Vector() { // only the type is wrong
				r.Reason, r.cost = NoType, cost[NoType]
			}
			if r.Reason != OK && !yield(r) {
				return
			}
		}
	}
}

// nearer says whether a refusal comes before another one that was found before it.
func (r *Refusal) nearer(than *Refusal) bool {
	return than.cost > r.cost || than.cost == r.cost && than.beside() > r.beside()
}

// beside is how far the value of a refusal is from those that the form takes.
func (r *Refusal) beside() int64 {
	switch r.Reason {
	case TooLarge, TooFar:
		return max(r.Min-r.Value, r.Value-r.Max, 0)
	}
	return 0
}

// refuse says why the form does not take a statement. What it finds of the statement's fields
// is written to m, whatever that has.
func (f *Form) refuse(mnemonic *Mnemonic, q *Query, ops []Operand, m *binding) Refusal {
	r := Refusal{Form: f, Op: -1}
	blame := func(why Reason) {
		c := cost[why]
		if r.Reason == OK || c > cost[r.Reason] {
			r.Reason = why
		}
		r.cost += c
	}
	if f.Alias {
		r.cost++ // prefer to talk of the plain spelling
	}
	if f.Rare {
		r.cost += 2
	}
	wider := f.Row.State == T && f.Row.size == 2 && q.Width != 'n' && q.Have.Has(FeatT32)
	if wider {
		r.cost += 2 // speak of T32, which reaches further, even where the form is an alias
	}
	if q.Unified && !f.Unified || !q.Unified && !f.Divided {
		blame(OtherSyntax)
	}
	if need := (f.Row.Need | f.Need) &^ q.Have; need != 0 {
		r.Need = need
		blame(NoFeature)
		if need&(FeatT32|FeatMovW|FeatDivThumb) != 0 && !q.A32 {
			r.cost += 40 // speak of T16 first
		}
	}
	if q.Have&(f.Lack|f.Row.Lack) != 0 {
		blame(NoFeature)
	}
	if !f.hasWidth(q) {
		blame(OtherWidth)
	}
	if q.A32 {
		f.refuseCond(mnemonic, q, blame)
	} else if why := f.slot(mnemonic, q); why != OK {
		blame(why)
	}
	if len(ops) != len(f.ops) {
		blame(OtherCount)
		d := len(ops) - len(f.ops)
		r.cost += d * d
		if len(ops) > len(f.ops) {
			r.Op = len(f.ops)
		}
	}
	*m = binding{Form: f}
	for _, x := range f.fixed {
		m.vals[x.field] = x.val
	}
	worst := OK
	for i := range f.ops {
		if i >= len(ops) {
			break
		}
		s := f.ops[i].facts()
		w := f.ops[i].check(f, q, &ops[i], m)
		if w.Reason == OK {
			continue
		}
		r.cost += cost[w.Reason]
		if wider && w.Reason == HighReg && (w.Reg == SP || w.Reg == PC) {
			r.cost += cost[OtherReg] - cost[HighReg] // T32 does not take it either, and that is what to say
		}
		if s.field < 0 && s.min == s.max && (w.Reason == TooLarge || w.Reason == Negative) {
			r.cost++ // a shift by 0 is a move, and there is more to say of others
		}
		// The operand that misses most is the one to show.
		if cost[w.Reason] > cost[worst] {
			worst = w.Reason
			if r.Reason == OK || cost[r.Reason] < cost[w.Reason] {
				r.Reason = w.Reason
			}
			if r.Reason == w.Reason {
				r.Op, r.Part, r.Reg, r.Value = i, w.Part, w.Reg, w.Value
				r.Min, r.Max, r.Step = s.min, s.max, s.step
				if w.Max != 0 {
					r.Max = w.Max
				}
			}
		}
	}
	if r.Reason == OK {
		if why := f.tied(m); why != OK {
			r.Op = 0
			blame(why)
		} else if f.Row.State == T && q.IT.In && !q.IT.Last && f.Row.leaves(&m.vals) {
			blame(NotLast)
		}
	}
	return r
}

// Limits writes the values that a constant or offset may have: "0–255",
// "0–124 in steps of 4", "only 0".
func Limits(lo, hi, step int64) string {
	switch {
	case lo == hi:
		return "only " + itoa(lo)
	case step > 1:
		return fmt.Sprintf("%s–%s in steps of %d", itoa(lo), itoa(hi), step)
	}
	return itoa(lo) + "–" + itoa(hi)
}

// String spells the form with its limits, as in "adds Rd, Rn, #0–7". It is made once: where every
// line of a source is wrong, each is told of the same forms.
func (f *Form) String() string {
	if s, ok := spelled.Load(f); ok {
		return s.(string)
	}
	s := f.Mnemonic
	for i := range f.ops {
		if i == 0 {
			s += " "
		} else {
			s += ", "
		}
		s += f.ops[i].describe(f)
	}
	spelled.Store(f, s)
	return s
}

// spelled has what String gives of forms that it has been asked for.
var spelled sync.Map

// Limits of operand i: what its constant, offset or distance may be. ok is
// false when the operand has none.
func (f *Form) Limits(i int) (lo, hi, step int64, ok bool) {
	if i < 0 || i >= len(f.ops) {
		return
	}
	if s := f.ops[i].facts(); s.limited {
		return s.min, s.max, s.step, true
	}
	return
}

// Number says whether operand i, from 0, holds a constant whose value an assembler
// has to know, as against an address.
func (f *Form) Number(i int) bool {
	return i >= 0 && i < len(f.ops) && f.ops[i].facts().number
}

// Words are the names that operand i, from 0, may have: those of special registers
// and the like.
func (f *Form) Words(i int) []string {
	if i < 0 || i >= len(f.ops) {
		return nil
	}
	switch s := f.ops[i].(type) {
	case *wordSpec:
		return slices.Clone(s.words)
	case *lettersSpec:
		return slices.Clone(s.words)
	}
	return nil
}

// Address says whether operand i, from 0, is an address relative to PC.
func (f *Form) Address(i int) bool {
	return i >= 0 && i < len(f.ops) && f.ops[i].facts().address
}

// OnlyNumber says whether operand i of the name is a constant in some form of an
// instruction set, and in none an address relative to PC or a word other than the name
// of a core register.
func (n *Mnemonic) OnlyNumber(s State, i int) bool {
	number := false
	for _, f := range n.FormsOf(s) {
		if f.Address(i) || f.Row.Flow != FlowNext {
			return false
		}
		if i < len(f.ops) && f.ops[i].facts().named {
			return false
		}
		number = number || f.Number(i)
	}
	return number
}

// Label says whether some form of the name takes an address relative to PC.
func (n *Mnemonic) Label() bool {
	if n == nil {
		return false
	}
	for _, s := range []State{T, A} {
		for _, f := range n.FormsOf(s) {
			for i := range f.ops {
				if f.Address(i) {
					return true
				}
			}
		}
	}
	return false
}

// Operands is the number of operands of the form.
func (f *Form) Operands() int { return len(f.ops) }

var reasonNames = [...]string{"ok", "misaligned", "too large", "negative", "before pc", "too far", "odd target", "high register", "bad list", "empty list",
	"needs '!'", "no '!'", "same register", "needs a high register", "other register", "bad word", "other kind", "other count", "other syntax", "no feature", "other width", "no '#'",
	"no rotation", "odd register", "no condition", "needs an IT block", "in an IT block", "other condition", "not last",
	"sixteen double registers", "not the next register", "no such element", "no such constant", "no type", "registers apart",
	"other length of list", "other distance", "no such constant of elements", "no point", "no such alignment"}

// String names the reason in a few words.
func (r Reason) String() string { return reasonNames[r] }

// LacksOtherSize says whether the target lacks, or has too much for, a Thumb form of another size
// than the first one has, T32 apart: only then a refusal tells more of a line's size than the first
// form, and it costs much more to ask for.
func (mnemonic *Mnemonic) LacksOtherSize(q *Query) bool {
	for _, f := range mnemonic.Forms {
		need := (f.Row.Need | f.Need) &^ q.Have
		if f.Row.State == T && f.Row.size != mnemonic.Forms[0].Row.size && !need.Has(FeatT32) && (need != 0 || q.Have&(f.Lack|f.Row.Lack) != 0) {
			return true
		}
	}
	return false
}
