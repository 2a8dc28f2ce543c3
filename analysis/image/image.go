package image

import (
	"hash/fnv"
	"slices"
	"sort"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
)

// Where things are. Sections have an address each, so far apart that none reaches into
// the next; names that the program does not have are beyond them.
const (
	firstSection = 0xa000_0000
	sectionSize  = 1 << 22
	maxSections  = 128
	firstOther   = firstSection + maxSections*sectionSize
	otherSize    = 1 << 28
	end          = firstOther + otherSize
)

// Image is a program in memory. It is for one goroutine at a time.
type Image struct {
	*eval.Evaluator
	literals map[int16][]int32 // of a section, by place; made when first needed
}

// New makes the image of a program.
func New(e *eval.Evaluator) *Image { return &Image{Evaluator: e} }

// Invented says whether an address is not one that the image has given to something.
func Invented(addr uint32) bool { return addr < firstSection || addr >= end }

// Address is that of an offset in a section; ok is false where the program is too large.
func Address(sec int16, off int64) (addr uint32, ok bool) {
	if sec < 0 || sec >= maxSections || off < 0 || off >= sectionSize {
		return 0, false
	}
	return firstSection + uint32(sec)*sectionSize + uint32(off), true
}

// Place is the section and the offset of an address; ok is false where it is in none.
func Place(addr uint32) (sec int16, off int64, ok bool) {
	if addr < firstSection || addr >= firstOther {
		return 0, 0, false
	}
	addr -= firstSection
	return int16(addr / sectionSize), int64(addr % sectionSize), true
}

// other is the address of a name that the program does not have.
func other(name string) uint32 {
	h := fnv.New32a()
	h.Write([]byte(name))
	return firstOther + h.Sum32()%otherSize&^0xff
}

// Word is the word that a value is in memory: a number, or an address, with bit 0 for
// functions of Thumb state as a linker puts it in. ok is false where nobody can tell.
func (m *Image) Word(v program.Value) (w uint32, ok bool) {
	switch v.Kind {
	case program.Number:
		return uint32(v.N), true
	case program.Address:
		if w, ok = Address(v.Section, v.N&^1); !ok {
			return 0, false
		}
		w |= uint32(v.N & 1)
		if s := v.Symbol; s != nil && s.Function && s.Mode == isa.T {
			w |= 1
		}
		return w, true
	case program.Undefined:
		if s := v.Symbol; s != nil && s.Defined && s.Label && s.Value.Kind == program.Address { // which a linker may replace
			at := s.Value
			at.Symbol, at.N = s, at.N+v.N
			return m.Word(at)
		}
		if v.Symbol != nil && !v.Mixed {
			return other(v.Symbol.Name) + uint32(v.N), true
		}
	}
	return 0, false
}

// At is the item at an address that execution arrives at: what takes no space and the
// gaps of alignments are passed over. nil: there is none.
func (m *Image) At(addr uint32) *program.Item {
	sec, off, ok := Place(addr)
	if !ok || int(sec) >= len(m.Order) {
		return nil
	}
	order := m.Order[sec]
	for k := sort.Search(len(order), func(k int) bool { return m.Items[order[k]].Offset >= off }); k < len(order); k++ {
		it := &m.Items[order[k]]
		if it.Stmt.Kind == syntax.Instruction {
			if it.Offset-it.Slot.ItSize() <= off { // or at the IT that the assembler inserts
				return it
			}
			return nil
		}
		switch {
		case it.Size == 0:
		case it.Offset == off && it.Stmt.Kind == syntax.Directive && program.Aligns(it.Stmt.Directive.Effect):
			off += it.Size
		default:
			return it
		}
	}
	return nil
}

// Literal is the word of a literal pool at an address; ok is false where there is none.
func (m *Image) Literal(addr uint32) (v program.Value, ok bool) {
	sec, off, ok := Place(addr)
	if !ok {
		return program.Value{}, false
	}
	if m.literals == nil {
		m.literals = map[int16][]int32{}
		for i := range m.Literals {
			if l := &m.Literals[i]; l.Offset >= 0 && !l.Padding {
				m.literals[l.Section] = append(m.literals[l.Section], int32(i))
			}
		}
		for _, list := range m.literals {
			sort.Slice(list, func(i, k int) bool { return m.Literals[list[i]].Offset < m.Literals[list[k]].Offset })
		}
	}
	list := m.literals[sec]
	k := sort.Search(len(list), func(k int) bool { return m.Literals[list[k]].Offset >= off })
	if k == len(list) || m.Literals[list[k]].Offset != off {
		return program.Value{}, false
	}
	return m.Literals[list[k]].Value, true
}

// Step carries out an item at the address in r15. ok is false where what it does is not
// known. sets says whether a line that is refused means to set flags.
func (m *Image) Step(it *program.Item, s *exec.State, sets bool) (r exec.Result, ok bool) {
	if it.Stmt.Kind != syntax.Instruction || it.Stmt.Mnemonic == nil || it.Size == 0 {
		return r, false
	}
	env := &m.Environments[it.Environment]
	s.Have, s.Set, s.IT = env.Have, env.Mode, 0
	s.Regs[isa.PC], _ = Address(it.Section, it.Offset)
	switch {
	case it.Match.Form != nil && it.Flags&program.Refused == 0:
		return m.stepBound(it, s)
	case leaves(it, env.Mode):
		return m.stepBranch(it, s)
	}
	return m.stepMeant(it, s, sets)
}

// stepMeant carries out what the words of an item mean, under the condition of its name,
// also in an IT block.
func (m *Image) stepMeant(it *program.Item, s *exec.State, sets bool) (r exec.Result, ok bool) {
	ops, known := m.valued(it)
	if !known {
		return r, false
	}
	was, at := s.Regs, s.Regs[isa.PC]
	meant, known := it.Stmt.Mnemonic.Meant(sets, (at+uint32(s.Set.Ahead()))&^3, ops)
	if !known {
		return r, false
	}
	if !exec.Holds(meant.Cond, s) {
		s.Regs[isa.PC] = at + uint32(it.Size)
		return r, true
	}
	for _, h := range meant.Held {
		s.Regs[h.Reg] = h.Value
	}
	r = exec.Step(meant.Values, s)
	for _, h := range meant.Held {
		s.Regs[h.Reg] = was[h.Reg]
	}
	next := at + uint32(meant.Values.Row().Size())
	if !r.Went {
		s.Regs[isa.PC] = at + uint32(it.Size)
	}
	if meant.Values.Row().Flow == isa.FlowReg && s.Regs[isa.LR]&^1 == next {
		s.Regs[isa.LR] += uint32(it.Size) - uint32(meant.Values.Row().Size()) // BLX
	}
	return r, true
}

// valued are the operands of an item, with addresses where the image has them.
func (m *Image) valued(it *program.Item) (ops []isa.Operand, ok bool) {
	m.Operands(it, true)
	ops = append(ops, m.Ops...)
	for i := range ops {
		o := &it.Stmt.Ops[i]
		if ops[i].Kind == isa.OpExpr && !addresses(it, m.Environments[it.Environment].Mode, i) {
			continue
		}
		target := ops[i].Kind == isa.OpExpr || ops[i].Kind == isa.OpLit
		if !target && o.Expr == nil && o.Word == "" || ops[i].Kind == isa.OpReg {
			continue
		}
		v := m.Value(o, it)
		if !target && v.Kind == program.Number {
			continue
		}
		w, known := m.Word(v)
		if !known {
			return nil, false
		}
		if v.Kind == program.Address && ops[i].Kind == isa.OpExpr && !it.Stmt.Mnemonic.ComputesAddress(m.Environments[it.Environment].Mode) {
			w, _ = Address(v.Section, v.N) // what is there; bit 0 of a function is for jumps
		}
		ops[i].Imm, ops[i].Known, ops[i].Bare = int64(w), true, target && v.Kind == program.Number
	}
	return ops, true
}

// addresses says whether operand i of an item's name is an address in some form, and not
// a word of another kind, such as a special register.
func addresses(it *program.Item, mode isa.State, i int) bool {
	return slices.ContainsFunc(it.Stmt.Mnemonic.FormsOf(mode), func(f *isa.Form) bool { return f.Address(i) })
}

// leaves says whether the name is one that goes to a label.
func leaves(it *program.Item, mode isa.State) bool {
	for i := range it.Stmt.Ops {
		if it.Stmt.Ops[i].Kind == isa.OpExpr {
			return it.Stmt.Mnemonic.Evident(mode, nil).ToLabel()
		}
	}
	return false
}

// stepBound carries out an item that has an encoding.
func (m *Image) stepBound(it *program.Item, s *exec.State) (r exec.Result, ok bool) {
	row := it.Match.Form.Row
	if !row.Described() || row.Second != nil {
		return r, false
	}
	if it.Match.Deferred() {
		if row.Flow.ToLabel() {
			return m.stepBranch(it, s)
		}
		return r, false
	}
	if slot := it.Slot.Unpack(); slot.In {
		s.IT = uint8(slot.Cond)<<4 | 8
	}
	at := s.Regs[isa.PC]
	r = exec.Step(it.Match.Values(), s)
	s.IT = 0
	if !r.Went {
		s.Regs[isa.PC] = at + uint32(it.Size)
	}
	return r, true
}

// stepBranch goes where the words of an item say: to a label, or to a name that the
// program does not have, under the condition of its name or of its block; CBZ and CBNZ
// look at their register.
func (m *Image) stepBranch(it *program.Item, s *exec.State) (r exec.Result, ok bool) {
	next := s.Regs[isa.PC] + uint32(it.Size)
	n := len(it.Stmt.Ops) - 1
	if n < 0 || it.Stmt.Ops[n].Kind != isa.OpExpr {
		return r, false
	}
	m.Operands(it, true)
	ops := append([]isa.Operand(nil), m.Ops...)
	to, known := m.Word(m.Value(&it.Stmt.Ops[n], it))
	if !known || s.Set == isa.T && it.Stmt.Mnemonic.CallsOtherState(s.Set) || s.Set == isa.A && to&3 != 0 {
		return r, false
	}
	_, _, cond := it.Stmt.Mnemonic.Operation()
	if slot := it.Slot.Unpack(); slot.In && it.Match.Form != nil && it.Flags&program.Refused == 0 {
		cond = slot.Cond
	}
	taken := exec.Holds(cond, s)
	flow := it.Stmt.Mnemonic.Evident(s.Set, ops)
	if flow == isa.FlowBranch {
		zero, is := it.Stmt.Mnemonic.BranchesOnZero()
		if !is || n != 1 || ops[0].Kind != isa.OpReg {
			return r, false
		}
		taken = taken && s.Regs[ops[0].Reg] == 0 == zero
	}
	r.Passed = taken
	s.Regs[isa.PC] = next
	if taken {
		if flow == isa.FlowCall {
			s.Regs[isa.LR] = next
			if s.Set == isa.T {
				s.Regs[isa.LR] |= 1
			}
		}
		s.Regs[isa.PC] = to &^ 1
	}
	return r, true
}
