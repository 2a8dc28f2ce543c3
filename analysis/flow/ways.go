package flow

import (
	"slices"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// way is where execution goes after a line.
type way uint8

const (
	goesOn  way = iota // to the next line
	jumps              // to the target that its operand names
	calls              // to that target, and comes back to the next line
	callsBy            // to an address in a register, and comes back
	returns            // to where the routine was called
	leaves             // to an address that only the program knows
	traps              // to the handler of an exception, and perhaps comes back
	stops              // nowhere: an undefined instruction
	unclear            // nobody knows
)

// line is what a statement means for execution.
type line struct {
	way    way
	runsOn bool // goes on to the next line as well, on a condition
	// reads are registers and flags that it may read, writes those that it overwrites
	// in any case.
	reads, writes set
}

// set is a set of registers, in bits 0 to 15, and of flags above: N, Z, C and V, then Q
// and GE.
type set uint32

const (
	flagsAt        = 16
	statusAt       = flagsAt + 4
	allRegs    set = 1<<flagsAt - 1
	allFlags   set = set(isa.NZCV)<<flagsAt | set(isa.AllStatus)<<statusAt
	everything     = allRegs | allFlags
)

func setOf(regs isa.RegList, flags isa.Flags) set { return set(regs) | set(flags)<<flagsAt }

// readsOf and writesOf are all that effects name, memory apart.
func readsOf(e *isa.Effects) set {
	return setOf(e.Reads, e.FlagsRead) | set(e.StatusRead)<<statusAt
}

func writesOf(e *isa.Effects) set {
	return setOf(e.Writes, e.FlagsWritten) | set(e.StatusWritten)<<statusAt
}

func (s set) regs() isa.RegList { return isa.RegList(s & allRegs) }

func (s set) flags() isa.Flags { return isa.Flags(s>>flagsAt) & isa.NZCV }

func (s set) status() isa.Status { return isa.Status(s >> statusAt) }

// part is what an item is for execution.
type part uint8

const (
	nothing     part = iota // takes no part: a label, a directive without room
	instruction             // an instruction that is known
	data                    // what is no instruction: data, a pool, code that is not seen
)

// partOf classifies an item.
func partOf(it *program.Item) part {
	switch it.Stmt.Kind {
	case syntax.Label, syntax.Assign:
		return nothing
	case syntax.Directive:
		switch it.Stmt.Directive.Effect {
		case syntax.EffRept, syntax.EffInclude:
			if it.Flags&program.Opaque == 0 {
				return nothing
			}
			return data
		case syntax.EffIncbin, syntax.EffOrg:
			return data // code that is not seen, or none
		}
		if it.Size == 0 {
			return nothing
		}
		switch it.Stmt.Directive.Effect {
		case syntax.EffAlignByte, syntax.EffAlignPow, syntax.EffEven, syntax.EffAlignFrom:
			// The gap holds no operations, unless the line says what it holds.
			if len(it.Stmt.Ops) < 2 || it.Stmt.Ops[1].Kind == isa.OpNone {
				return nothing
			}
		case syntax.EffNop:
			return nothing
		}
		return data
	case syntax.Instruction:
		return instruction
	}
	if it.Transparent() {
		return nothing
	}
	return data
}

// lineOf says what an instruction does. One that is refused does what it evidently says.
func (r *Paths) lineOf(it *program.Item) line {
	switch {
	case it.Match.Form != nil:
		return matched(&it.Match)
	case it.Stmt.Mnemonic == nil || it.Flags&program.Unchecked != 0:
		return line{way: unclear, reads: everything}
	case it.Size == 0 && it.Flags&program.Refused == 0 && it.Stmt.Mnemonic.OpensBlock():
		return line{} // IT in A32 code is no instruction
	}
	return r.evident(it)
}

// bankedRegs are those that are others in another mode; they keep what they have, and are
// needed there (DDI 0406C, B1.3.2).
const bankedRegs = set(1<<(isa.LR+1) - 1<<8)

// matched is what an instruction with an encoding does.
func matched(m *isa.Match) line {
	e := m.Effects()
	l := line{reads: readsOf(&e), runsOn: e.Conditional}
	if !e.Conditional { // else what it would write may stay
		l.writes = writesOf(&e)
	}
	if m.ChangesMode() {
		l.reads |= bankedRegs
	}
	switch e.Flow {
	case isa.FlowNext:
		switch {
		case !e.Writes.Has(isa.PC):
			l.runsOn = false
		case comesBack(m, &e):
			l.way = returns
		default:
			l.way = leaves
		}
	case isa.FlowReg:
		switch {
		case e.Writes.Has(isa.LR):
			l.way = callsBy
		case e.Reads.Has(isa.LR) && !e.ReadsMem:
			l.way = returns
		default:
			l.way = leaves
		}
	default:
		l.follow(e.Flow)
	}
	return l
}

// follow completes a line whose flow says all.
func (l *line) follow(flow isa.Flow) {
	switch flow {
	case isa.FlowJump:
		l.way = jumps
	case isa.FlowBranch:
		l.way, l.runsOn = jumps, true
	case isa.FlowCall:
		l.way = calls
	case isa.FlowTrap:
		l.way, l.runsOn = traps, true
	case isa.FlowStop:
		l.way = stops
	}
}

// comesBack says whether an instruction that writes PC returns: it takes PC off the
// stack, or copies LR. Another jump may go anywhere.
func comesBack(m *isa.Match, e *isa.Effects) bool {
	if e.ReadsMem {
		return e.Reads == 1<<isa.SP && e.Writes.Has(isa.SP)
	}
	src, n, ok := m.Sum()
	return ok && src == isa.LR && n == 0
}

// evident is what a line without an encoding does, judged by its words.
func (r *Paths) evident(it *program.Item) line {
	if it.Stmt.Err != nil && !it.Stmt.Err.Mild {
		return line{way: unclear, reads: everything}
	}
	mode := r.Environments[it.Environment].Mode
	r.Operands(it, true)
	e := it.Stmt.Mnemonic.EvidentEffects(mode, r.Ops)
	l := line{reads: readsOf(&e), runsOn: e.Conditional || it.Slot&program.SlotIn != 0}
	if it.Slot&program.SlotIn != 0 {
		l.reads |= setOf(0, it.Slot.Unpack().Cond.Reads())
	}
	if !l.runsOn {
		l.writes = writesOf(&e)
	}
	if op := opOf(it); strings.HasPrefix(op, "cps") || op == "msr" {
		l.reads |= bankedRegs
	}
	l.leave(it.Stmt.Mnemonic.Evident(mode, r.Ops), r.Ops)
	if l.way == goesOn && r.unnamed(it) {
		l.reads |= everything // perhaps a register under a wrong name
		l.writes = 0
	}
	return l
}

// leave completes a line by where it evidently goes with such operands. That it is under
// a condition is known.
func (l *line) leave(flow isa.Flow, ops []isa.Operand) {
	switch flow {
	case isa.FlowNext:
		l.runsOn = false
	case isa.FlowReg:
		if l.way = leaves; evidentReturn(ops) {
			l.way = returns
		}
	default:
		l.follow(flow)
		if l.way == calls && !slices.ContainsFunc(ops, func(o isa.Operand) bool { return o.Kind == isa.OpExpr }) {
			l.way = callsBy
		}
	}
}

// unnamed says whether an operand is of no shape that says which registers it has: a
// name that nothing explains, say.
func (r *Paths) unnamed(it *program.Item) bool {
	for i := range r.Ops {
		switch o := &r.Ops[i]; o.Kind {
		case isa.OpNone, isa.OpOther:
			return true
		case isa.OpExpr:
			if o.Word == "" {
				continue
			}
			if s := r.SymbolOf(it.Stmt.Ops[i].Word); s == nil || !s.Defined {
				return true
			}
		}
	}
	return false
}

// evidentReturn says whether what writes PC with such operands returns: from LR, or off
// the stack.
func evidentReturn(ops []isa.Operand) bool {
	if len(ops) == 1 && ops[0].Kind == isa.OpMem {
		return false // a table
	}
	for i := range ops {
		switch o := &ops[i]; o.Kind {
		case isa.OpReg:
			if o.Reg == isa.LR || o.Reg == isa.SP {
				return true
			}
		case isa.OpMem:
			if o.Reg == isa.SP && (o.Post || o.Writeback) {
				return true
			}
		case isa.OpList:
			if len(ops) == 1 {
				return true
			}
		}
	}
	return false
}

// OperandsOf are the operands of an item with their values, names of registers
// looked up.
func (r *Paths) OperandsOf(it *program.Item) []isa.Operand {
	r.Operands(it, true)
	return slices.Clone(r.Ops)
}
