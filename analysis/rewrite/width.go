package rewrite

import (
	"strings"

	"narrowgauge/isa"
)

// base is the operation's name without the flag letter.
func (c *rewriting) base() string {
	if c.wide() && c.item.Stmt.Mnemonic != nil {
		op, _, _ := c.item.Stmt.Mnemonic.Operation()
		return op
	}
	n := strings.TrimSuffix(strings.ToLower(c.name), ".n")
	if c.environment.Unified && strings.HasSuffix(n, "s") && len(n) > 3 {
		n = n[:len(n)-1]
	}
	return n
}

// CondSplit reads a name as operation and condition; the flag letter may
// be before or after the condition.
func CondSplit(name string) (base string, cond isa.Cond, ok bool) {
	n := len(name)
	for _, cut := range []int{n - 2, n - 3} {
		if cut < 1 {
			continue
		}
		c, ok := isa.CondByName(name[cut : cut+2])
		if !ok || c == isa.AL {
			continue
		}
		rest := name[:cut] + name[cut+2:]
		if m, _ := isa.Find(rest); m != nil && len(m.Forms) > 0 {
			return rest, c, true
		}
	}
	return "", 0, false
}

// setsFlags says whether a name ends in the flag letter: LDRHS does not, it is LDR
// on the condition HS.
func setsFlags(name string) bool {
	m, _ := isa.Find(name)
	if m == nil {
		return false
	}
	_, sets, _ := m.Operation()
	return sets
}

// The rewrites for A32 code and for Thumb state where it has encodings of
// full width: any register, the flags only where the name says so, and conditions
// on every line. Each is a part of a registration, by byWidth.

// wide says whether the line is of such code.
func (c *rewriting) wide() bool {
	return c.environment.Mode == isa.A || c.environment.Full() && c.environment.Have.Has(isa.FeatT32)
}

// byWidth is a rewrite that goes another way where instructions are wide.
func byWidth(t16, wide func(*rewriting)) func(*rewriting) {
	return func(c *rewriting) {
		if c.wide() {
			wide(c)
		} else {
			t16(c)
		}
	}
}

// narrow is a rewrite for T16 code only.
func narrow(t16 func(*rewriting)) func(*rewriting) {
	return byWidth(t16, func(*rewriting) {})
}

// operation takes the line's name apart, see [isa.Mnemonic.Operation].
func (c *rewriting) operation() (op string, sets bool, cond isa.Cond) {
	if c.item.Stmt.Mnemonic == nil {
		return c.base(), false, isa.AL
	}
	return c.item.Stmt.Mnemonic.Operation()
}

// mnemonic spells an operation, with its flag letter, under the line's condition.
func (c *rewriting) mnemonic(op string) string {
	if !c.wide() {
		return op
	}
	_, _, cond := c.operation()
	m, _ := isa.Find(op)
	if m == nil {
		return op
	}
	with := m.With(cond, c.environment.Unified)
	if other := secondWord[cond]; other != "" && c.saysCond(other, cond) {
		if i := strings.LastIndex(with, cond.String()); i >= 0 {
			with = with[:i] + other + with[i+len(other):]
		}
	}
	return with
}

// saysCond says whether the line's name has another word for its condition than the
// first one.
func (c *rewriting) saysCond(word string, cond isa.Cond) bool {
	op, sets, _ := c.operation()
	if sets {
		op += "s"
	}
	low := strings.ToLower(c.name)
	if c.item.Stmt.Width != 0 {
		low = low[:len(low)-2]
	}
	m, _ := isa.Find(op)
	return m != nil && strings.Contains(low, word) && low != m.With(cond, c.environment.Unified)
}

// statementOf writes a statement of an operation under the line's condition.
func (c *rewriting) statementOf(op string, ops ...string) string {
	return c.statement(c.mnemonic(op), ops...)
}

// can says whether an operation takes the operands here, under the line's condition.
func (c *rewriting) can(op string, ops ...isa.Operand) bool {
	_, ok := c.matches(c.mnemonic(op), ops...)
	return ok
}

// letter is the operation with the flag letter that the line has.
func (c *rewriting) letter(op string) string {
	if _, sets, _ := c.operation(); sets {
		return op + "s"
	}
	return op
}
