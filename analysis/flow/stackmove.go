package flow

import "narrowgauge/isa"

// stackMove is what an instruction does with the stack, in bytes from where the stack
// pointer is before it.
type stackMove struct {
	by    int64       // how far the stack pointer goes
	at    int64       // the place of the lowest of regs; the others are above it
	regs  isa.RegList // registers that are stored or loaded
	store bool
}

// stackMoveOf reads a push, a pop, a load or store of a word at an offset from the stack
// pointer, or a sum on it. ok is false for all else, and for what loads the stack pointer.
func stackMoveOf(op string, ops []isa.Operand) (m stackMove, ok bool) {
	last := len(ops) - 1
	switch {
	case last < 0:
		return m, false
	case ops[last].Kind == isa.OpList:
		m.regs = ops[last].List
		size := 4 * int64(m.regs.Count())
		switch {
		case last == 0 && op == "push", stepsStack(ops) && (op == "stmfd" || op == "stmdb"):
			m.store, m.by, m.at = true, -size, -size
		case last == 0 && op == "pop", stepsStack(ops) && (op == "ldmfd" || op == "ldmia" || op == "ldm"):
			m.by = size
		default:
			return m, false
		}
	case last == 1 && (op == "ldr" || op == "str") && ops[0].Kind == isa.OpReg && ops[1].Kind == isa.OpMem && ops[1].Reg == isa.SP && (ops[1].Off == isa.OffNone || ops[1].Off == isa.OffImm):
		m.store, m.regs = op == "str", RegBit(ops[0].Reg)
		if !ops[1].Post {
			m.at = ops[1].Imm
		}
		if ops[1].Post || ops[1].Writeback {
			m.by = ops[1].Imm
		}
	case last > 0 && (op == "add" || op == "sub") && isSP(&ops[0]) && isSP(&ops[last-1]) && ops[last].Kind == isa.OpImm:
		if m.by = ops[last].Imm; op == "sub" {
			m.by = -m.by
		}
	default:
		return m, false
	}
	return m, m.store || !m.regs.Has(isa.SP)
}

// stepsStack says whether the operands are the stack pointer, written back, and a list.
func stepsStack(ops []isa.Operand) bool {
	return len(ops) == 2 && ops[0].Reg == isa.SP && ops[0].Writeback
}

func isSP(o *isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg == isa.SP }

// storedAt is the register that is stored at a place, NoReg where none is.
func (m *stackMove) storedAt(at int64) isa.Reg {
	slot := m.at
	for r := isa.Reg(0); r < 16; r++ {
		if m.regs.Has(r) {
			if slot == at {
				return r
			}
			slot += 4
		}
	}
	return isa.NoReg
}
