package values

import (
	"math/bits"

	"narrowgauge/isa"
)

// Do carries out an operation on what is known of its operands.
func Do(op isa.Operation, x, y, z Word) Word {
	out := based(op, x, y)
	if out.Base.Kind == None && out.Mask != ^uint32(0) {
		a, b, c := x.loose(), y.loose(), z.loose()
		if carries(op) { // what has been compared with bounds is an index as a rule
			a, b, c = x.ranged(), y.ranged(), z.ranged()
		}
		bits := out
		out = plain(op, a, b, c)
		out = out.meet(bits)
	}
	n := operands(op)
	for i, w := range [...]Word{x, y, z} {
		if i < n {
			out.Assumed = out.Assumed || w.Assumed
			if carries(op) {
				out.Frame = out.Frame || w.Frame
				out.Moved = out.Moved || w.Moved || w.Base.inSection() && out.Base.Kind == None
			}
		}
	}
	if n, ok := out.Exact(); ok && out.Moved && !x.Moved && !y.Moved {
		out = numberLike(n, out) // a distance between two places
	}
	out = out.Anonymous()
	if n, ok := alike(op, x, y, z); ok {
		assumed := out.Assumed
		out = Number(n)
		out.Assumed = assumed
	}
	if op == isa.DoNot {
		out.Inverse, out.Least = x.ID, x.Plus
	}
	switch {
	case op == isa.DoZero, op == isa.DoCarry, op == isa.DoOverflow, op == isa.DoLSR && y.Val == 31:
		if n, ok := y.Exact(); op == isa.DoZero || ok && (op != isa.DoLSR || n == 31) {
			out.About, out.Since = x.ID, x.Plus
		}
	}
	if k, ok := y.Exact(); ok && x.ID != 0 {
		switch op {
		case isa.DoAdd:
			out.ID, out.Plus = x.ID, x.Plus+k
		case isa.DoSub:
			out.ID, out.Plus = x.ID, x.Plus-k
		}
	}
	return out
}

// alike is the result where both operands are the same value, or differ by what has been
// added to it, whatever it is.
func alike(op isa.Operation, x, y, z Word) (n uint32, ok bool) {
	same := x.ID != 0 && x.ID == y.ID
	inverse := x.ID != 0 && x.ID == y.Inverse && x.Plus == y.Least
	carry, known := z.Exact()
	switch {
	case op == isa.DoSub && same:
		return x.Plus - y.Plus, true
	case op == isa.DoXor && same && x.Plus == y.Plus:
		return 0, true
	case op == isa.DoAdd && inverse:
		return ^uint32(0), true
	case op == isa.DoCarry && inverse && known: // a value, its complement, and 0 or 1
		return carry, true
	case op == isa.DoOverflow && inverse && known:
		return 0, true
	}
	return 0, false
}

func numberLike(n uint32, w Word) Word {
	out := Number(n)
	out.Assumed = w.Assumed
	return out
}

// meet adds the bits that are known of the same value.
func (w Word) meet(o Word) Word {
	if w.Mask&o.Mask&(w.Val^o.Val) != 0 {
		return w
	}
	w.Mask, w.Val = w.Mask|o.Mask, w.Val|o.Val
	return w.settled()
}

// operands is how many values an operation has.
func operands(op isa.Operation) int {
	switch op {
	case isa.DoNot, isa.DoZero, isa.DoSXB, isa.DoSXH, isa.DoRev, isa.DoRev16, isa.DoRBit, isa.DoCLZ, isa.DoCount, isa.DoKept:
		return 1
	case isa.DoCarry, isa.DoOverflow, isa.DoLSLC, isa.DoLSRC, isa.DoASRC, isa.DoRORC, isa.DoCRC32, isa.DoCRC32C:
		return 3
	}
	return 2
}

// carries says whether the result of an operation may be an address if an operand is.
func carries(op isa.Operation) bool {
	switch op {
	case isa.DoZero, isa.DoCarry, isa.DoOverflow, isa.DoLSLC, isa.DoLSRC, isa.DoASRC, isa.DoRORC, isa.DoCLZ, isa.DoCount:
		return false
	}
	return true
}

// based is the result where it is at a distance from a base, or a distance; else what is
// not known.
func based(op isa.Operation, x, y Word) Word {
	n, number := y.Exact()
	m, first := x.Exact()
	at := func(b Word, off uint32) Word { return At(b.Base, off) }
	if x.Base.inSection() || y.Base.inSection() {
		return inSection(op, x, y)
	}
	switch {
	case x.Base.Kind == None && y.Base.Kind == None:
	case op == isa.DoAdd && number:
		return at(x, x.Val+n)
	case op == isa.DoAdd && first:
		return at(y, y.Val+m)
	case op == isa.DoSub && number:
		return at(x, x.Val-n)
	case op == isa.DoSub && x.Base == y.Base:
		return Number(x.Val - y.Val)
	case op == isa.DoAnd && number && ^n < x.Base.Align && x.Base.Kind != None:
		return at(x, x.Val&n)
	case op == isa.DoOr && number && n < x.Base.Align && x.Base.Kind != None:
		return at(x, x.Val|n)
	case op == isa.DoXor && number && n < x.Base.Align && x.Base.Kind != None:
		return at(x, x.Val^n)
	}
	return Unknown()
}

// inSection is the result where an operand is an address in a section: another one there, or
// the distance between two; else what is not known.
func inSection(op isa.Operation, x, y Word) Word {
	for _, w := range []*Word{&x, &y} {
		if w.Base.Kind == Entry && w.Hi != 0 {
			*w = w.ranged()
		}
	}
	b, plain := x.Base, x.Base.Kind == None || y.Base.Kind == None
	n, number := y.Exact()
	switch {
	case !b.inSection():
		b = y.Base
	case op == isa.DoSub && x.Base.ID == y.Base.ID && y.Base.inSection():
		return arithmetic(op, x.distance(), y.distance(), Number(0))
	}
	switch op {
	case isa.DoAdd:
	case isa.DoSub:
		plain = plain && y.Base.Kind == None
	case isa.DoAnd:
		plain = number && ^n < b.Align
	case isa.DoOr, isa.DoXor:
		plain = number && n < b.Align
	default:
		plain = false
	}
	if !plain {
		return Unknown()
	}
	for _, w := range []*Word{&x, &y} {
		if w.Base.inSection() {
			*w = w.distance()
		}
	}
	if w, ok := within(b, arithmetic(op, x, y, Number(0))); ok {
		return w
	}
	return Unknown()
}

// plain is the result of an operation on numbers.
func plain(op isa.Operation, x, y, z Word) Word {
	if x.Mask&y.Mask&z.Mask == ^uint32(0) {
		return Number(op.Word(x.Val, y.Val, z.Val))
	}
	switch {
	case operands(op) == 1 && x.Mask == ^uint32(0), operands(op) == 2 && x.Mask&y.Mask == ^uint32(0):
		return Number(op.Word(x.Val, y.Val, z.Val))
	case op < isa.DoLSL:
		return arithmetic(op, x, y, z)
	case op < isa.DoSXB:
		return shift(op, x, y, z)
	}
	return other(op, x, y)
}

func arithmetic(op isa.Operation, x, y, z Word) Word {
	switch op {
	case isa.DoAdd:
		return sum(x, y, 0, uint64(x.Lo)+uint64(y.Lo), uint64(x.Hi)+uint64(y.Hi))
	case isa.DoSub:
		return sum(x, invert(y), 1, uint64(x.Lo)-uint64(y.Hi), uint64(x.Hi)-uint64(y.Lo))
	case isa.DoCarry:
		least, most := uint64(x.Lo)+uint64(y.Lo)+uint64(z.Lo), uint64(x.Hi)+uint64(y.Hi)+uint64(z.Hi)
		return truth(least >= 1<<32, most < 1<<32)
	case isa.DoOverflow:
		xl, xh := x.signed()
		yl, yh := y.signed()
		least, most := xl+yl+int64(z.Lo), xh+yh+int64(z.Hi)
		if z.Hi > 1 {
			return Between(0, 1)
		}
		return truth(least > 1<<31-1 || most < -1<<31, least >= -1<<31 && most <= 1<<31-1)
	case isa.DoMul:
		out := Unknown()
		if h := uint64(x.Hi) * uint64(y.Hi); h < 1<<32 {
			out = Between(x.Lo*y.Lo, uint32(h))
		}
		zeros := min(bits.TrailingZeros32(x.Val|^x.Mask)+bits.TrailingZeros32(y.Val|^y.Mask), 32)
		return out.meet(Word{Mask: uint32(uint64(1)<<zeros - 1), Hi: ^uint32(0)})
	case isa.DoMulHi:
		return Between(uint32(uint64(x.Lo)*uint64(y.Lo)>>32), uint32(uint64(x.Hi)*uint64(y.Hi)>>32))
	case isa.DoAnd:
		zero := x.Mask&^x.Val | y.Mask&^y.Val
		one := x.Val & y.Val
		return Word{Mask: zero | one, Val: one, Hi: min(x.Hi, y.Hi)}.settled()
	case isa.DoOr:
		one := x.Val | y.Val
		return Word{Mask: one | x.Mask&y.Mask, Val: one, Lo: max(x.Lo, y.Lo), Hi: ^uint32(0)}.settled()
	case isa.DoXor:
		mask := x.Mask & y.Mask
		return Word{Mask: mask, Val: (x.Val ^ y.Val) & mask, Hi: ^uint32(0)}.settled()
	case isa.DoNot:
		return invert(x)
	case isa.DoZero:
		return truth(x.Hi == 0, x.Lo > 0 || x.Val != 0)
	}
	return Unknown()
}

// truth is 1, 0, or one of them.
func truth(yes, no bool) Word {
	switch {
	case yes:
		return Number(1)
	case no:
		return Number(0)
	}
	return Between(0, 1)
}

func invert(x Word) Word {
	return Word{Mask: x.Mask, Val: ^x.Val & x.Mask, Lo: ^x.Hi, Hi: ^x.Lo}
}

// sum is x + y + carry; least and most are the sum of the bounds, without a limit.
func sum(x, y Word, carry uint32, least, most uint64) Word {
	zeroX, zeroY := x.Mask&^x.Val, y.Mask&^y.Val
	most1 := ^zeroX + ^zeroY + carry
	least1 := x.Val + y.Val + carry
	same := ^(most1 ^ zeroX ^ zeroY) | (least1 ^ x.Val ^ y.Val) // where the carry is known
	mask := x.Mask & y.Mask & same
	out := Word{Mask: mask, Val: least1 & mask, Hi: ^uint32(0)}
	if least>>32 == most>>32 && least <= most {
		out.Lo, out.Hi = uint32(least), uint32(most)
	}
	return out.settled()
}

func shift(op isa.Operation, x, y, z Word) Word {
	n, known := y.Exact()
	bit := op >= isa.DoLSLC && op <= isa.DoRORC
	switch {
	case op == isa.DoRRX:
		return Word{Mask: x.Mask>>1 | y.Mask<<31, Val: x.Val>>1 | y.Val<<31, Hi: ^uint32(0)}.settled()
	case bit && !known:
		return Between(0, 1)
	case bit && n == 0:
		return plain(isa.DoAnd, z, Number(1), z)
	case bit:
		mask, val := op.Word(x.Mask, n, 0), op.Word(x.Val, n, 0)
		if op == isa.DoASRC && n > 32 {
			mask, val = op.Word(x.Mask, 32, 0), op.Word(x.Val, 32, 0)
		}
		if op != isa.DoRORC && op != isa.DoASRC && n > 32 {
			mask, val = 1, 0
		}
		return truth(mask&val&1 != 0, mask&^val&1 != 0)
	case !known:
		if op == isa.DoLSR {
			return Between(0, x.Hi)
		}
		return Unknown()
	}
	out := Word{Hi: ^uint32(0)}
	out.Mask, out.Val = op.Word(x.Mask, n, 0), op.Word(x.Val, n, 0)
	switch op {
	case isa.DoLSL:
		out.Mask |= isa.DoNot.Word(isa.DoLSL.Word(^uint32(0), n, 0), 0, 0)
		if n < 32 && uint64(x.Hi)<<n < 1<<32 {
			out.Lo, out.Hi = x.Lo<<n, x.Hi<<n
		}
	case isa.DoLSR:
		out.Mask |= isa.DoNot.Word(isa.DoLSR.Word(^uint32(0), n, 0), 0, 0)
		out.Lo, out.Hi = op.Word(x.Lo, n, 0), op.Word(x.Hi, n, 0)
	case isa.DoASR:
		if x.Mask>>31 == 0 {
			out.Val &= out.Mask
		}
	}
	out.Val &= out.Mask
	return out.settled()
}

func other(op isa.Operation, x, y Word) Word {
	all := Word{Hi: ^uint32(0)}
	n, known := y.Exact()
	switch op {
	case isa.DoSXB, isa.DoSXH, isa.DoRev, isa.DoRev16, isa.DoRBit:
		all.Mask, all.Val = op.Word(x.Mask, 0, 0), op.Word(x.Val, 0, 0)
		all.Val &= all.Mask
		return all.settled()
	case isa.DoCLZ:
		return Between(uint32(bits.LeadingZeros32(x.Hi)), uint32(bits.LeadingZeros32(x.Lo)))
	case isa.DoCount:
		return Between(uint32(bits.OnesCount32(x.Val)), uint32(bits.OnesCount32(x.Val|^x.Mask)))
	case isa.DoUDiv:
		if y.Lo == 0 {
			return Between(0, x.Hi)
		}
		return Between(x.Lo/y.Hi, x.Hi/y.Lo)
	case isa.DoUSat:
		if known && n < 32 {
			return Between(0, uint32(1)<<n-1)
		}
	}
	return all
}
