package flow

import (
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// stackLine is what a line does with the stack, in bytes from where the stack pointer is
// before it.
type stackLine struct {
	by    int64 // how far the stack pointer goes
	lost  bool  // the stack pointer is somewhere else
	takes bool  // an address of the stack goes elsewhere, or what it accesses is not known
	// perhaps: it is done on a condition.
	perhaps  bool
	accesses []frameAccess
}

// frameAccess is an access at a known distance from the stack pointer.
type frameAccess struct {
	at, size int64
	store    bool
	reg      isa.Reg // the core register that is stored, NoReg where it is none
}

// stackLineOf says what a line does with the stack, whatever its condition says.
func (g *graph) stackLineOf(x *step) *stackLine {
	if x.data || x.item < 0 || (x.reads|x.writes).regs()&(1<<isa.SP) == 0 {
		return &noStackLine
	}
	if x.stack == nil {
		x.stack = g.readStackLine(x)
	}
	return x.stack
}

var noStackLine stackLine

func (g *graph) readStackLine(x *step) *stackLine {
	it := &g.Items[x.item]
	var l stackLine
	switch form := it.Match.Form; {
	case form == nil:
		l = refusedStackLine(opOf(it), g.OperandsOf(it))
	case form.Row.Described():
		l = evaluatedStackLine(&it.Match)
		l.lost = l.lost || it.Match.ChangesMode()
	case form.Row.Scalar():
		l = floatStackLine(&it.Match)
	default:
		l = stackLine{takes: true, lost: it.Match.Effects().Writes.Has(isa.SP)}
	}
	l.perhaps = x.runsOn || it.Slot&program.SlotIn != 0 || it.Match.Form != nil && it.Match.Effects().Conditional
	return &l
}

// refusedStackLine is that of a line without an encoding, judged by its words.
func refusedStackLine(op string, ops []isa.Operand) (l stackLine) {
	m, ok := stackMoveOf(op, ops)
	if !ok {
		return stackLine{takes: true, lost: true}
	}
	l.by = m.by
	at := m.at
	for r := isa.Reg(0); r < 16; r++ {
		if m.regs.Has(r) {
			l.accesses = append(l.accesses, frameAccess{at: at, size: 4, store: m.store, reg: r})
			at += 4
		}
	}
	l.takes = m.store && m.regs.Has(isa.SP)
	return l
}

// floatStackLine is that of a load or a store of floating point.
func floatStackLine(m *isa.Match) (l stackLine) {
	e, f, v := m.Effects(), m.Floats(), m.Values()
	if !e.ReadsMem && !e.WritesMem || isa.Reg(v.Get("Rn")) != isa.SP || strings.HasSuffix(m.Form.Row.ID, "-x") {
		return stackLine{takes: true, lost: e.Writes.Has(isa.SP)} // FSTMX has a word more
	}
	size := 4 * int64((f.Reads | f.Writes).Count())
	a := frameAccess{size: size, store: e.WritesMem, reg: isa.NoReg}
	switch row := m.Form.Row; {
	case row.Has("imm8"):
		unit := int64(4)
		if row.Access == 2 {
			unit, a.size = 2, 2
		}
		if a.at = unit * int64(v.Get("imm8")); v.Get("U") == 0 {
			a.at = -a.at
		}
	case strings.Contains(row.ID, "db-"):
		a.at, l.by = -size, -size
	case e.Writes.Has(isa.SP):
		l.by = size
	}
	l.accesses = []frameAccess{a}
	return l
}

// evaluatedStackLine carries out an instruction with what is known: the stack pointer is
// one, and all else is anything.
func evaluatedStackLine(m *isa.Match) (l stackLine) {
	d := stackDomain{line: &l, state: m.Form.Row.State}
	for _, a := range isa.Evaluate(m.Values(), &d, nil) {
		switch a.Kind {
		case isa.ActStore:
			d.access(a.Addr, int64(a.Size), true, a.Value.reg)
			l.takes = l.takes || a.Value.of != plain
		case isa.ActReg:
			switch {
			case a.Reg != isa.SP:
				l.takes = l.takes || a.Value.of != plain
			case a.Value.of == fromStack && !a.Guard:
				l.by = int64(int32(a.Value.n))
			default:
				l.lost = true
			}
		case isa.ActFlag: // a comparison with the stack pointer
		case isa.ActUserBank:
			l.takes = true
		case isa.ActSpecial: // MSP, PSP, and which of them it is
			l.lost = l.lost || a.Number == 8 || a.Number == 9 || a.Number == 20
		default:
			l.takes = l.takes || a.Value.of != plain || a.Addr.of != plain
		}
	}
	return l
}

// stackValue is what is known of a word: nothing, or its distance from the stack pointer.
type stackValue struct {
	of    stackPart
	known bool // plain: it is the number n
	n     uint32
	reg   isa.Reg // plain: it is what that register has, NoReg where it is not
}

type stackPart uint8

const (
	plain     stackPart = iota // has nothing to do with the stack pointer
	fromStack                  // n bytes from it
	mixed                      // made of it otherwise
)

// stackDomain carries out an instruction with such values (isa.Domain).
type stackDomain struct {
	line  *stackLine
	state isa.State
}

func (d *stackDomain) Number(n uint32) stackValue {
	return stackValue{known: true, n: n, reg: isa.NoReg}
}

func (d *stackDomain) Reg(r isa.Reg) stackValue {
	if r == isa.SP {
		return stackValue{of: fromStack, reg: isa.NoReg}
	}
	return stackValue{reg: r}
}

// unknown is a word of which nothing is known.
var unknownWord = stackValue{reg: isa.NoReg}

func (d *stackDomain) Flag(isa.Flags) stackValue            { return unknownWord }
func (d *stackDomain) GE() stackValue                       { return unknownWord }
func (d *stackDomain) Link() stackValue                     { return unknownWord }
func (d *stackDomain) Status(bool) stackValue               { return unknownWord }
func (d *stackDomain) Exclusive(stackValue, int) stackValue { return unknownWord }
func (d *stackDomain) access(a stackValue, size int64, store bool, reg isa.Reg) {
	switch a.of {
	case fromStack:
		d.line.accesses = append(d.line.accesses, frameAccess{int64(int32(a.n)), size, store, reg})
	case mixed:
		d.line.takes = true
	}
}

func (d *stackDomain) Special(n uint32) stackValue {
	if n == 8 || n == 9 { // MSP and PSP
		return stackValue{of: mixed, reg: isa.NoReg}
	}
	return unknownWord
}

func (d *stackDomain) Load(addr stackValue, size int, _ isa.Alignment) stackValue {
	d.access(addr, int64(size), false, isa.NoReg)
	return unknownWord
}

func (d *stackDomain) Do(op isa.Operation, x, y, z stackValue) stackValue {
	all := [3]stackValue{x, y, z}
	parts, known := plain, true
	for _, v := range all {
		parts = max(parts, v.of)
		known = known && v.known
	}
	switch {
	case parts == plain && known:
		return stackValue{known: true, n: op.Word(x.n, y.n, z.n), reg: isa.NoReg}
	case parts == plain:
		return unknownWord
	case op == isa.DoAdd && x.of == fromStack && y.known, op == isa.DoSub && x.of == fromStack && y.known:
		return stackValue{of: fromStack, n: op.Word(x.n, y.n, 0), reg: isa.NoReg}
	case op == isa.DoAdd && y.of == fromStack && x.known:
		return stackValue{of: fromStack, n: x.n + y.n, reg: isa.NoReg}
	case op == isa.DoSub && x.of == fromStack && y.of == fromStack:
		return stackValue{known: true, n: x.n - y.n, reg: isa.NoReg}
	}
	return stackValue{of: mixed, reg: isa.NoReg}
}
