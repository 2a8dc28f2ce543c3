package flow

import (
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// PushHarms says whether a push for a moment may spoil something: the program has data
// in r13, or below the address in it.
func (r *Paths) PushHarms() bool {
	if !r.harmed {
		r.harmed, r.harms = true, r.pushHarms()
	}
	return r.harms
}

func (r *Paths) pushHarms() bool {
	for i := range r.Items {
		it := &r.Items[i]
		if it.Stmt.Kind != syntax.Instruction || it.Stmt.Mnemonic == nil {
			continue
		}
		ops := r.OperandsOf(it)
		if !touchesStack(ops) {
			continue
		}
		text := r.LineText(it)
		byNumber := int(it.Stmt.End) <= len(text) && HasWord(strings.ToLower(text[it.Stmt.Start:it.Stmt.End]), "r13")
		if unevenStep(opOf(it), ops) && (byNumber || it.Flags&program.Refused == 0) || !stackIdiom(opOf(it), ops, byNumber) {
			return true
		}
	}
	return false
}

// StackUnset says whether the stack pointer gets its first value only below an item: it
// is written on every way on before it is read, and nothing on a way to it has used it.
func (r *Paths) StackUnset(it *program.Item) bool {
	if r.DeadRegs(it, RegBit(isa.SP)) == 0 {
		return false
	}
	return !r.graphOf().stackUsed(it)
}

// unevenStep says whether a sum puts a constant that is no multiple of 4 on the stack
// pointer. Where that is refused, it is a slip and not another use.
func unevenStep(op string, ops []isa.Operand) bool {
	if len(ops) < 2 {
		return false
	}
	last := &ops[len(ops)-1]
	return ops[0].Kind == isa.OpReg && ops[0].Reg == isa.SP && last.Kind == isa.OpImm && last.Imm%4 != 0 && strings.Contains("addw subw", op)
}

// touchesStack says whether the stack pointer is among the operands.
func touchesStack(ops []isa.Operand) bool { return Mentioned(ops).Has(isa.SP) }

// stackIdiom says whether a line uses the stack pointer as one. byNumber: it calls it
// r13; then a plain move or load need not be about the stack. (Common practice.)
func stackIdiom(op string, ops []isa.Operand, byNumber bool) bool {
	for i := range ops {
		switch o := &ops[i]; o.Kind {
		case isa.OpList:
			if o.List.Has(isa.SP) || strings.HasPrefix(op, "ldm") && strings.HasSuffix(op, "b") {
				return false
			}
			if up := op == "stm" || op == "stmia" || op == "stmea" || op == "stmib"; up && ops[0].Writeback && ops[0].Reg == isa.SP {
				return false
			}
		case isa.OpMem:
			if o.Reg == isa.SP && !stackAccess(op, o) {
				return false
			}
		case isa.OpReg:
			if o.Reg == isa.SP && !stackOperand(op, i, byNumber) {
				return false
			}
		}
	}
	return true
}

// stackAccess says whether an access from the stack pointer is one of the stack: not
// below it, and with a step of words that pushes or pops.
func stackAccess(op string, m *isa.Operand) bool {
	switch load := strings.HasPrefix(op, "ldr") || strings.HasPrefix(op, "vldr"); {
	case !m.Writeback && !m.Post:
		return m.Off != isa.OffImm || m.Imm >= 0
	case m.Off != isa.OffImm || m.Imm%4 != 0:
		return false
	default:
		return load == (m.Imm > 0)
	}
}

// stackOperand says whether operand i of an operation may be the stack pointer where it
// is one.
func stackOperand(op string, i int, byNumber bool) bool {
	switch op {
	case "add", "sub", "addw", "subw":
		return i < 2
	case "bic", "and", "cmp", "cmn", "tst":
		return !byNumber || i < 2
	case "mov", "ldr", "cpy":
		return !byNumber
	case "msr", "mrs", "str", "push", "pop", "srs", "rfe":
		return true
	}
	return strings.HasPrefix(op, "ldm") || strings.HasPrefix(op, "stm") || strings.HasPrefix(op, "vldm") || strings.HasPrefix(op, "vstm")
}
