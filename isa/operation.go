package isa

import (
	"slices"
	"sync"
)

// Arithmetic is what an operation of data processing does with plain registers: neither
// the width of an encoding nor its constants matter for it.
type Arithmetic struct {
	// Flags are those that it sets where it sets flags, without what only some
	// architectures change.
	Flags Flags
	// Compares: it has no result but the flags.
	Compares bool
	// Commutes: its two sources may change places.
	Commutes bool
	// Carries: it reads C for more than a shift by nothing.
	Carries bool
	// Scales: it is its first source times something, as what makes an offset of an index.
	Scales bool
}

// arithmetics are those that somebody has asked for, by their names.
var arithmetics sync.Map

// ArithmeticOf is that of a name without flag letter and condition, as
// [Mnemonic.Operation] gives it. ok is false where the name is of something else.
func ArithmeticOf(op string) (a Arithmetic, ok bool) {
	if known, ok := arithmetics.Load(op); ok {
		return known.(Arithmetic), true
	}
	v, ok := plainly(op)
	if !ok {
		return Arithmetic{}, false
	}
	e := v.row.effects(&v.vals)
	a = Arithmetic{Compares: e.Writes == 0, Commutes: v.commutes(e.Reads), Carries: v.carries(), Scales: e.Writes != 0 && e.Reads == 6 && v.scales()}
	for _, x := range v.with(plain{}) {
		if x.Kind == ActFlag {
			a.Flags |= x.Flag
		}
	}
	arithmetics.Store(op, a)
	return a, true
}

// plainly is the instruction of the name, with flags, that reads r1 and then r2, if it
// has two sources, and writes r0, if it has a result.
func plainly(op string) (v Values, ok bool) {
	reg := func(n Reg) Operand { return Operand{Kind: OpReg, Reg: n} }
	for _, name := range []string{op + "s", op} {
		mnemonic, _ := Find(name)
		if mnemonic == nil {
			continue
		}
		if base, _, cond := mnemonic.Operation(); base != op || cond != AL {
			continue
		}
		for _, ops := range [][]Operand{{reg(0), reg(1), reg(2)}, {reg(1), reg(2)}} {
			var m Meant
			if !m.bind(mnemonic, ops) {
				continue
			}
			v = m.Values
			if e := v.row.effects(&v.vals); e.FlagsWritten != 0 && e.Flow == FlowNext && e.Reads&^6 == 0 && !e.ReadsMem && !e.WritesMem {
				return v, true
			}
		}
	}
	return Values{}, false
}

// commutes says whether the instruction, which reads r1 and r2, does the same where each
// has what the other had: whether it does so with some values.
func (v Values) commutes(reads RegList) bool {
	if reads != 6 {
		return false
	}
	return !slices.ContainsFunc(someWords, func(x uint32) bool {
		return slices.ContainsFunc(someWords, func(y uint32) bool {
			return !slices.Equal(v.with(plain{x: x, y: y}), v.with(plain{x: y, y: x}))
		})
	})
}

// someWords are values by which operations differ.
var someWords = []uint32{0, 1, 2, 33, 0x7fffffff, 0x80000000, 0xfffffffe, 0xffffffff, 0x12345678}

// carries says whether anything depends on C.
func (v Values) carries() bool {
	return slices.ContainsFunc(someWords, func(x uint32) bool {
		return !slices.Equal(v.with(plain{x: x, y: 1}), v.with(plain{x: x, y: 1, c: 1}))
	})
}

// scales says whether twice as much in r1 gives twice as much.
func (v Values) scales() bool {
	for x := range uint32(5) {
		for y := range uint32(5) {
			if v.result(x+x, y) != 2*v.result(x, y) {
				return false
			}
		}
	}
	return true
}

// result is what the instruction puts into a register, 0 for none.
func (v Values) result(x, y uint32) uint32 {
	for _, a := range v.with(plain{x: x, y: y}) {
		if a.Kind == ActReg {
			return a.Value
		}
	}
	return 0
}

// with is what the instruction does in a state, on all architectures.
func (v Values) with(p plain) []Action[uint32] {
	return slices.DeleteFunc(Evaluate(v, p, nil), func(a Action[uint32]) bool { return a.Kept })
}

// plain is a state with values in r1, r2 and C; everything else is 0.
type plain struct {
	zeros
	x, y, c uint32
}

func (p plain) Reg(r Reg) uint32 { return [16]uint32{1: p.x, 2: p.y}[r] }

func (p plain) Flag(f Flags) uint32 {
	if f == C {
		return p.c
	}
	return 0
}
