package values

import (
	"math/bits"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// Kind says what the address is that a word is a distance from.
type Kind uint8

// The kinds of bases.
const (
	None    Kind = iota // none: the word is a number
	Section             // the start of the section ID
	Part                // the same, where the distance is known in part only
	Entry               // what register Reg had where the routine began whose block is ID
	Symbol              // the address of a symbol of another file
)

// Base is what a word is a distance from.
type Base struct {
	Kind   Kind
	Reg    isa.Reg
	ID     int32
	Symbol *program.Symbol
	// Align is what the address is a multiple of, a power of two in bytes.
	Align uint32
}

// Word is what is known of a value of 32 bits. The zero Word is the number of which no bit
// is known, but Lo and Hi have to be set: use Unknown.
type Word struct {
	Base Base
	// Mask has the bits that are known, Val what they are, Val &^ Mask = 0. With a base that
	// is not Part, all bits of the distance are.
	Mask, Val uint32
	// Lo and Hi are the least and the greatest value, without sign; without a base, or of the
	// distance from Part; of what a register had where its routine began, within which bounds
	// that has to be where the word is, if Hi is not 0.
	Lo, Hi uint32
	// ID, if it is not 0, is the same for words that have been the same value, and Plus
	// is what has been added to it since.
	ID, Plus uint32
	// About, of a word that is 0 or 1, is the identity of the value that it is about, and
	// Since what has been added to that.
	About, Since uint32
	// Inverse and Least are ID and Plus of the value whose complement it is, within a line.
	Inverse, Least uint32
	// Assumed: it holds if routines that are not seen keep to the procedure call standard.
	Assumed bool
	// Left: a call has left it in its register on some way, where the standard keeps nothing.
	Left bool
	// Frame: it may be an address in the stack of the routine; Moved: it may be one in a
	// section, at a distance that is not known.
	Frame, Moved bool
}

// Unknown is the word of which nothing is known.
func Unknown() Word { return Word{Hi: ^uint32(0)} }

// Number is a word that is known.
func Number(n uint32) Word { return Word{Mask: ^uint32(0), Val: n, Lo: n, Hi: n} }

// Between is a word that is no less than lo and no greater than hi.
func Between(lo, hi uint32) Word { return Word{Lo: lo, Hi: hi}.settled() }

// Known is a word of which so many bits are known.
func Known(mask, val uint32) Word {
	return Word{Mask: mask, Val: val & mask, Hi: ^uint32(0)}.settled()
}

// At is the address off bytes after a base.
func At(b Base, off uint32) Word {
	return Word{Base: b, Mask: ^uint32(0), Val: off, Frame: b.Kind == Entry && b.Reg == isa.SP}
}

// Exact is the number that the word is; ok is false where it is not known.
func (w Word) Exact() (n uint32, ok bool) {
	return w.Val, w.Base.Kind == None && w.Mask == ^uint32(0)
}

// Is says whether the word is at a distance from the base that a register had at the
// entry of its routine, and how far.
func (w Word) Is(r isa.Reg) (off int32, ok bool) {
	return int32(w.Val), w.Base.Kind == Entry && w.Base.Reg == r
}

// Bits are the bits that are known of the value itself, and what they are.
func (w Word) Bits() (mask, val uint32) {
	if w.Base.Kind == None {
		return w.Mask, w.Val
	}
	mask = w.Base.Align - 1
	if w.Base.Kind == Part {
		mask &= w.Mask
	}
	return mask, w.Val & mask
}

// Has says whether the value may be n. The address of the base is at.
func (w Word) Has(n, at uint32) bool {
	switch w.Base.Kind {
	case None:
	case Part:
		n -= at
	default:
		return n == at+w.Val && (w.Hi == 0 || w.Lo <= n && n <= w.Hi)
	}
	return n&w.Mask == w.Val && w.Lo <= n && n <= w.Hi
}

// settled makes bits and range agree.
func (w Word) settled() Word {
	lo, hi := max(w.Lo, w.Val), min(w.Hi, w.Val|^w.Mask)
	if lo > hi { // no value is both: it is never asked for
		return Word{Mask: w.Mask, Val: w.Val, Lo: w.Val, Hi: w.Val | ^w.Mask, ID: w.ID, Plus: w.Plus, Assumed: w.Assumed, Frame: w.Frame, Moved: w.Moved, Left: w.Left}
	}
	w.Lo, w.Hi = lo, hi
	same := ^uint32(0)
	if d := lo ^ hi; d != 0 {
		same <<= bits.Len32(d)
	}
	w.Mask |= same
	w.Val |= lo & same
	if w.Mask == ^uint32(0) {
		w.Lo, w.Hi = w.Val, w.Val
	}
	return w
}

// loose is the word without its base: what is known of the value itself.
func (w Word) loose() Word {
	if w.Base.Kind == None {
		return w
	}
	mask, val := w.Bits()
	return Word{Mask: mask, Val: val, Hi: ^uint32(0), Assumed: w.Assumed, Frame: w.Frame, Moved: w.Moved || w.Base.inSection(), Left: w.Left}.settled()
}

// ranged is the word without its base, with the bounds that it has besides.
func (w Word) ranged() Word {
	out := w.loose()
	if w.Base.Kind == Entry && w.Hi != 0 {
		out = out.Limit(w.Lo, w.Hi)
	}
	return out
}

// inSection says whether a base is a section of the program.
func (b Base) inSection() bool { return b.Kind == Section || b.Kind == Part }

// maxPart bounds the distances from a section that are followed in part: as far as tables go.
const maxPart = 1 << 16

// distance is how far a word is from its base.
func (w Word) distance() Word {
	if w.Base.Kind == Part {
		return Word{Mask: w.Mask, Val: w.Val, Lo: w.Lo, Hi: w.Hi}
	}
	return Number(w.Val)
}

// within is the address at a distance from the section of a base; ok is false where that is
// not known closely enough.
func within(b Base, d Word) (w Word, ok bool) {
	if n, exact := d.Exact(); exact {
		b.Kind = Section
		return At(b, n), true
	}
	b.Kind = Part
	return Word{Base: b, Mask: d.Mask, Val: d.Val, Lo: d.Lo, Hi: d.Hi}, d.Hi-d.Lo < maxPart
}

// Anonymous is the word without its identity.
func (w Word) Anonymous() Word {
	w.ID, w.Plus, w.About, w.Since, w.Inverse, w.Least = 0, 0, 0, 0, 0, 0
	return w
}

// Same says whether two words tell the same, their identities apart.
func (w Word) Same(o Word) bool { return w.Anonymous() == o.Anonymous() }

// Join is what is known of a value that is one of both.
func (w Word) Join(o Word) Word {
	flags := Word{Assumed: w.Assumed || o.Assumed, Frame: w.Frame || o.Frame, Moved: w.Moved || o.Moved, Left: w.Left || o.Left}
	if w.ID != 0 && w.ID == o.ID && w.Plus == o.Plus {
		flags.ID, flags.Plus = w.ID, w.Plus
	}
	if w.Base != o.Base || w.Base.Kind != None && w.Base.Kind != Part && w.Val != o.Val {
		w, o = w.loose(), o.loose()
		flags.Moved = flags.Moved || w.Moved || o.Moved
	}
	out := flags
	out.Base = w.Base
	if w.Base.Kind != None && w.Base.Kind != Part {
		out.Mask, out.Val = w.Mask, w.Val
		if w.Hi != 0 && o.Hi != 0 {
			out.Lo, out.Hi = min(w.Lo, o.Lo), max(w.Hi, o.Hi)
		}
		return out
	}
	out.Mask = w.Mask & o.Mask &^ (w.Val ^ o.Val)
	out.Val = w.Val & out.Mask
	out.Lo, out.Hi = min(w.Lo, o.Lo), max(w.Hi, o.Hi)
	return out.settled()
}

// Widened is Join for a value that has changed again and again: bounds that move go on to
// the next one of steps, which are in order, or to the end.
func (w Word) Widened(o Word, steps []uint32) Word {
	j := w.Join(o)
	if j.Base.Kind == Part && !j.Same(w) {
		return j.loose()
	}
	if j.Base.Kind != None || w.Base.Kind != None {
		return j
	}
	lo, hi := j.Lo, j.Hi
	if lo < w.Lo {
		lo = 0
		for _, s := range steps {
			if s <= j.Lo {
				lo = s
			}
		}
	}
	if hi > w.Hi {
		hi = ^uint32(0)
		for i := len(steps) - 1; i >= 0; i-- {
			if steps[i] >= j.Hi {
				hi = steps[i]
			}
		}
	}
	// The bits that the narrower range made known go with it.
	j.Mask = w.Mask & o.Mask &^ (w.Val ^ o.Val) & (low(j) | ^spread(lo, hi))
	j.Val &= j.Mask
	j.Lo, j.Hi = lo, hi
	return j.settled()
}

// low are the lowest bits that are known one after the other.
func low(w Word) uint32 {
	n := bits.TrailingZeros32(^w.Mask)
	return uint32(uint64(1)<<n - 1)
}

// spread are the bits in which values from lo to hi may differ.
func spread(lo, hi uint32) uint32 { return uint32(uint64(1)<<bits.Len32(lo^hi) - 1) }

// Each gives the distances that a word may have from its section, in order; ok is false
// where they are more than so many, or the word is no address in one.
func (w Word) Each(most int, f func(at Word)) (ok bool) {
	if !w.Base.inSection() {
		return false
	}
	d, b := w.distance(), w.Base
	step := low(d) + 1
	first := d.Lo + (d.Val-d.Lo)&(step-1)
	if step == 0 || first < d.Lo || first > d.Hi || (d.Hi-first)/step >= uint32(most) {
		step, first, ok = 1, d.Lo, d.Lo == d.Hi
	} else {
		ok = true
	}
	b.Kind = Section
	for n := uint64(first); ok && n <= uint64(d.Hi); n += uint64(step) {
		if uint32(n)&d.Mask == d.Val {
			f(At(b, uint32(n)))
		}
	}
	return ok
}

// Limit is the word where it is known to be from lo to hi.
func (w Word) Limit(lo, hi uint32) Word {
	if w.Base.Kind == Entry {
		if w.Hi != 0 {
			lo, hi = max(lo, w.Lo), min(hi, w.Hi)
		}
		if lo <= hi && hi != 0 && hi-lo < maxPart {
			w.Lo, w.Hi = lo, hi
		}
		return w
	}
	if w.Base.Kind != None || lo > w.Hi || hi < w.Lo {
		return w
	}
	w.Lo, w.Hi = max(w.Lo, lo), min(w.Hi, hi)
	return w.settled()
}

// Not is the word where it is known not to be n.
func (w Word) Not(n uint32) Word {
	switch {
	case w.Base.Kind != None || w.Lo == w.Hi:
	case w.Lo == n:
		w.Lo++
	case w.Hi == n:
		w.Hi--
	}
	if w.Base.Kind != None {
		return w
	}
	return w.settled()
}

// signed are the least and the greatest value with a sign.
func (w Word) signed() (lo, hi int64) {
	if w.Base.Kind == None && int32(w.Lo) <= int32(w.Hi) && w.Lo>>31 == w.Hi>>31 {
		return int64(int32(w.Lo)), int64(int32(w.Hi))
	}
	return -1 << 31, 1<<31 - 1
}
