package values

import (
	"math/rand/v2"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// some is a word that has a random value, and the value.
func some(rnd *rand.Rand, at [3]uint32, bases []Base) (Word, uint32) {
	n := rnd.Uint32()
	switch rnd.IntN(4) {
	case 0:
		n >>= rnd.IntN(32)
	case 1:
		n = uint32(rnd.IntN(5)) - 2
	}
	w := Number(n)
	switch rnd.IntN(7) {
	case 0:
		mask := rnd.Uint32() | rnd.Uint32()
		w = Word{Mask: mask, Val: n & mask, Hi: ^uint32(0)}.settled()
	case 1:
		w = Between(n-min(n, rnd.Uint32()>>rnd.IntN(32)), n+min(^n, rnd.Uint32()>>rnd.IntN(32)))
	case 2:
		w = Unknown()
	case 3:
		k := rnd.IntN(3)
		w, v := At(bases[k], n), at[k]+n
		if k > 0 && rnd.IntN(2) == 0 {
			w = w.Limit(v-min(v, rnd.Uint32()>>(17+rnd.IntN(8))), v+min(^v, rnd.Uint32()>>(17+rnd.IntN(8))))
		}
		return w, v
	case 4:
		b := bases[0]
		b.Kind = Part
		low := uint32(1)<<rnd.IntN(4) - 1
		d := Between(n-min(n, rnd.Uint32()>>(17+rnd.IntN(8))), n+min(^n, rnd.Uint32()>>(17+rnd.IntN(8))))
		d.Mask, d.Val = d.Mask|low, d.Val&^low|n&low
		if w, ok := within(b, d.settled()); ok {
			return w, at[0] + n
		}
	}
	return w, n
}

// alikeWords are two words that are the same value, of which nothing else is known, at a
// distance, or one the complement of the other; b is the second value.
func alikeWords(rnd *rand.Rand, a uint32) (x, y Word, b uint32) {
	x, y = Unknown(), Unknown()
	x.ID, x.Plus = 9, rnd.Uint32()
	if rnd.IntN(2) == 0 {
		y = Do(isa.DoNot, x, x, x)
		return x, y, ^a
	}
	k := rnd.Uint32() >> rnd.IntN(32) * uint32(rnd.IntN(2))
	y.ID, y.Plus = 9, x.Plus-k
	return x, y, a - k
}

// TestOperations carries out each operation on values, and on words that have these values:
// the result has to be one that the resulting word has.
func TestOperations(t *testing.T) {
	proof := reftest.Begin(t)
	rnd := reftest.Rand(15, 1)
	done, exact := 0, 0
	for range reftest.Count(100_000, 2_000_000, 50_000_000) {
		at := [3]uint32{rnd.Uint32() &^ 3, rnd.Uint32() &^ 7, rnd.Uint32()}
		bases := []Base{{Kind: Section, ID: 1, Align: 4}, {Kind: Entry, Reg: isa.SP, Align: 8}, {Kind: Entry, Reg: 4, Align: 1}}
		where := func(w Word) uint32 {
			for k, b := range bases {
				if b == w.Base || w.Base.Kind == Part && k == 0 {
					return at[k]
				}
			}
			return 0
		}
		x, a := some(rnd, at, bases)
		found := false
		if all := x.Each(1<<10, func(w Word) { found = found || w.Has(a, where(w)) }); all && !found {
			t.Fatalf("%#x is none of those that %+v may be", a, x)
		}
		y, b := some(rnd, at, bases)
		z, c := some(rnd, at, bases)
		op := isa.DoAdd + isa.Operation(rnd.IntN(int(isa.DoUSat-isa.DoAdd+1)))
		switch op {
		case isa.DoCarry, isa.DoOverflow, isa.DoLSLC, isa.DoLSRC, isa.DoASRC, isa.DoRORC, isa.DoRRX:
			z, c = Between(0, 1), c&1
			if op == isa.DoRRX {
				y, b = z, c
			}
		case isa.DoSSat:
			y, b = Number(1+b%32), 1+b%32
		case isa.DoUSat:
			y, b = Number(b%32), b%32
		case isa.DoLSL, isa.DoLSR, isa.DoASR:
			if rnd.IntN(2) == 0 {
				y, b = Number(b%40), b%40
			}
		}
		if op >= isa.DoLSLC && op <= isa.DoRORC && rnd.IntN(2) == 0 {
			y, b = Number(b%40), b%40
		}
		if rnd.IntN(8) == 0 && op < isa.DoLSL {
			x, y, b = alikeWords(rnd, a)
		}
		w, n := Do(op, x, y, z), op.Word(a, b, c)
		done++
		if _, ok := w.Exact(); ok {
			exact++
		}
		if !w.Has(n, where(w)) {
			t.Fatalf("operation %d: of %+v (%#x), %+v (%#x), %+v (%#x) comes %#x, but is %+v", op, x, a, y, b, z, c, n, w)
		}
		for _, j := range []Word{x.Join(y), y.Join(x), x.Widened(y, []uint32{1, 9, 100, 1 << 20})} {
			if !j.Has(a, where(j)) || !j.Has(b, where(j)) {
				t.Fatalf("%+v (%#x) or %+v (%#x) is %+v", x, a, y, b, j)
			}
		}
	}
	proof.Counted("operations on words: %d, %d have a known result", done, exact)
}
