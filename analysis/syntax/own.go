package syntax

import (
	"strings"

	"narrowgauge/isa"
)

// OwnWord says whether the word in columns a to b among the operands of an instruction is one to
// which the instruction gives its meaning, so that no symbol is looked up by it: a register, the
// name of a shift, a condition, a barrier's option, a coprocessor's register.
func (s *Stmt) OwnWord(a, b int32, word string) bool {
	if s.Kind != Instruction || word == "" || a < s.NameEnd {
		return false
	}
	low := strings.ToLower(word)
	for i := range s.Ops {
		o := &s.Ops[i]
		if a < o.Start || b > o.End {
			continue
		}
		if o.namesIn(a, b) {
			return false
		}
		switch _, register := isa.RegByName(low); {
		case register && o.Word == "":
			return true
		case isa.ShiftByName(low) != isa.NoShift:
			return o.Kind == isa.OpShift || o.Kind == isa.OpMem && o.Off == isa.OffShift
		case o.Kind != isa.OpExpr || o.Marked || !strings.EqualFold(o.Word, word):
			return false
		}
		if _, ok := isa.CondByName(low); ok && s.Mnemonic.OpensBlock() {
			return true
		}
		return s.Mnemonic.OwnWord(i, word)
	}
	return false
}

// namesIn says whether the operand's expression has a name in columns a to b.
func (o *Operand) namesIn(a, b int32) (found bool) {
	o.Expr.Walk(func(e *Expr) {
		if (e.Op == ExprSym || e.Op == ExprLocal) && e.Start <= a && b <= e.End {
			found = true
		}
	})
	return found
}

// OwnOperand says the same of an operand that is a word by itself.
func (s *Stmt) OwnOperand(k int) bool {
	o := &s.Ops[k]
	return o.Word != "" && o.Kind == isa.OpExpr && s.OwnWord(o.Start, o.End, o.Word)
}
