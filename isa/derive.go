package isa

import (
	"strings"
	"sync"
)

// needs is a [Domain]: of each value it knows what it depends on.
type needs struct{}

// need is what a value depends on.
type need struct {
	regs   RegList
	flags  Flags
	status Status
	mem    bool
}

func (a need) and(b need) need {
	return need{a.regs | b.regs, a.flags | b.flags, a.status | b.status, a.mem || b.mem}
}

func (needs) Number(uint32) need                      { return need{} }
func (needs) Do(_ Operation, x, y, z need) need       { return x.and(y).and(z) }
func (needs) Reg(r Reg) need                          { return need{regs: 1 << r} }
func (needs) Flag(f Flags) need                       { return need{flags: f} }
func (needs) GE() need                                { return need{status: Greater} }
func (needs) Link() need                              { return need{} }
func (needs) Load(addr need, _ int, _ Alignment) need { addr.mem = true; return addr }
func (needs) Exclusive(addr need, _ int) need         { return addr }
func (needs) Status(saved bool) need {
	if saved {
		return need{}
	}
	return need{flags: NZCV, status: AllStatus}
}
func (needs) Special(n uint32) need {
	switch {
	case n < 4:
		return need{flags: NZCV, status: AllStatus}
	case n == 8, n == 9: // MSP and PSP may or may not be the current sp, as CONTROL says
		return need{regs: 1 << SP}
	}
	return need{}
}

// derivation is what deriving effects takes. It is kept, as effects are asked of every
// line.
type derivation struct {
	vals       Values
	evaluation evaluation[need]
	actions    [20]Action[need]
}

var derivations = sync.Pool{New: func() any { return new(derivation) }}

// derived are the effects of a row that is described, by what it does with these
// values of its fields; as Row.effects gives them.
func (r *Row) derived(vals *[maxFields]uint32) Effects {
	var e Effects
	at := derivations.Get().(*derivation)
	defer derivations.Put(at)
	at.vals = Values{row: r, vals: *vals}
	at.evaluation.begin(&at.vals, needs{})
	read := func(n need) {
		e.Reads |= n.regs
		e.FlagsRead |= n.flags
		e.StatusRead |= n.status
		e.ReadsMem = e.ReadsMem || n.mem
	}
	for _, a := range at.evaluation.all(at.actions[:0]) {
		read(a.If)
		read(a.Value)
		switch a.Kind {
		case ActReg:
			e.Writes |= 1 << a.Reg
		case ActFlag:
			e.FlagsWritten |= a.Flag
		case ActStore:
			read(a.Addr)
			e.WritesMem = true
		case ActBranch, ActToA32, ActToT16:
			if a.Addr.regs&^(1<<PC) == 0 && !a.Addr.mem { // to a label
				e.Flow = FlowJump
				if a.Guard {
					e.Flow = FlowBranch
				}
				break
			}
			// That it counts from pc is no read of it, but a base register that is pc.
			a.Addr.regs &^= 1 << PC
			for _, x := range r.reads {
				if !x.mem && !x.list && x.field >= 0 && Reg(vals[x.field]) == PC {
					a.Addr.regs |= 1 << PC
				}
			}
			fallthrough
		case ActExchange:
			read(a.Addr)
			e.Writes |= 1 << PC
			e.Flow = FlowReg
		case ActTrap:
			e.Flow = FlowTrap
		case ActStop:
			e.Flow = FlowStop
		case ActGE:
			e.StatusWritten |= Greater
		case ActRestore:
			e.FlagsWritten |= NZCV
			e.StatusWritten |= AllStatus
		case ActStatus:
			if a.Number&(16|8) == 8 { // the flags are in the highest byte of CPSR
				e.FlagsWritten |= NZCV
				e.StatusWritten |= Saturated
			}
			if a.Number&(16|4) == 4 { // and GE in the one below (DDI 0406C, B1.3.3)
				e.StatusWritten |= Greater
			}
		case ActWatch:
			read(a.Addr)
		case ActSpecial:
			switch n := a.Number; {
			case n < 4: // the parts are as those of DDI 0403E, B5.2.3: 1 is GE, 2 the rest
				if a.Size != 1 {
					e.FlagsWritten |= NZCV
					e.StatusWritten |= Saturated
				}
				if a.Size&1 != 0 {
					e.StatusWritten |= Greater
				}
			case n == 8, n == 9, n == 20: // see needs.Special; CONTROL chooses among the two
				e.Reads |= 1 << SP
				e.Writes |= 1 << SP
			}
		}
	}
	if e.Flow == FlowJump && e.Writes.Has(LR) {
		// The return address is that of the place where the call is.
		e.Flow = FlowCall
		e.Reads |= 1 << PC
	}
	return e
}

// conditioned completes effects by the condition that the encoding holds.
func (r *Row) conditioned(vals *[maxFields]uint32, e Effects) Effects {
	if r.State != A || r.at.cond != 0 {
		return e
	}
	if c := Cond(vals[0]); c < AL {
		e.Conditional = true
		e.FlagsRead |= c.Reads()
		switch e.Flow {
		case FlowJump:
			e.Flow = FlowBranch
		case FlowStop:
			e.Flow = FlowTrap
		}
	} else if e.Flow == FlowBranch {
		e.Flow = FlowJump
	}
	return e
}

// scan is what Does says of all values of the fields together.
type scan struct {
	row            *Row
	reads, writes  []regRef
	fr, fw         Flags
	sr, sw         Status
	flow           Flow
	access         uint8
	varies         bool // the effects depend on more than which registers there are
	linked, target bool // it writes LR; it goes to a label
	seen           [maxNodes]bool
	words          [2]int // single words that are loaded, and stored
}

func (s *scan) add(to *[]regRef, x regRef) {
	for _, o := range *to {
		if o == x {
			return
		}
	}
	*to = append(*to, x)
}

var (
	memRef  = regRef{mem: true, field: -1}
	listRef = regRef{list: true}
)

// read notes what a node depends on.
func (s *scan) read(i int16) {
	if i < 0 || s.seen[i] {
		return
	}
	s.seen[i] = true
	n := &s.row.does.nodes[i]
	switch n.op {
	case opReg:
		s.add(&s.reads, regRef{field: int8(n.n)})
	case opNext:
		s.varies = true
	case opFixed:
		s.add(&s.reads, regRef{field: -1, reg: Reg(n.n)})
	case opFlag:
		s.fr |= Flags(n.n)
	case opGE:
		s.sr |= Greater
	case opLoad:
		s.access = max(s.access, accessOf(n.n&0xff))
		if n.n&0xff == 4 {
			s.words[0]++
		}
		s.add(&s.reads, memRef)
	case opStatus:
		s.fr |= NZCV
		s.sr |= AllStatus
		s.varies = true
	case opHolds, opSpecial, opPick, opRotC, opShift, opImmShift, opShiftC, opImmShiftC:
		s.varies = true
	case DoLSLC, DoLSRC, DoASRC, DoRORC:
		if s.row.does.fixed(n.y) { // of fields none but 0 keeps C
			s.varies = s.varies || s.row.does.nodes[n.y].op == opField
			s.read(n.x)
			s.read(n.y)
			return
		}
	}
	s.read(n.x)
	s.read(n.y)
	s.read(n.z)
}

// accessOf is the size of what is moved; a list has words.
func accessOf(size uint32) uint8 {
	if size == 0 {
		return 4
	}
	return uint8(size)
}

// derive compiles Does, and gives the row what follows from it.
func (r *Row) derive() error {
	p, err := r.compileDoes(r.Does)
	if err != nil {
		return err
	}
	r.does = p
	s := scan{row: r}
	for i := range p.acts {
		a := &p.acts[i]
		s.read(a.guard)
		if a.guard >= 0 && a.kind != ActBranch || a.asS && r.full() {
			s.varies = true
		}
		s.act(p, a)
	}
	if s.flow == FlowJump && s.linked && s.target {
		s.flow = FlowCall
		s.add(&s.reads, regRef{field: -1, reg: PC})
	}
	if s.flow == FlowJump && r.State == A && r.at.cond == 0 {
		s.flow = FlowBranch // by its condition
	}
	switch {
	case r.Access != 0: // as the row says
		s.access = r.Access
	case s.words[0] == 2 || s.words[1] == 2:
		s.access = 8
	}
	r.reads, r.writes, r.FlagsRead, r.FlagsWritten, r.Flow, r.Access, r.varies = s.reads, s.writes, s.fr, s.fw, s.flow, s.access, s.varies
	r.statusRead, r.statusWritten = s.sr, s.sw
	r.Reads, r.Writes = r.names(s.reads), r.names(s.writes)
	return nil
}

// act notes what an action reads and writes, and where it goes.
func (s *scan) act(p *program, a *act) {
	switch a.kind {
	case ActReg:
		s.register(a)
	case ActFlag:
		s.fw |= a.flag
		if p.nodes[a.value].op == DoKept {
			s.row.kept |= a.flag
		}
		s.read(a.value)
	case ActGE:
		s.sw |= Greater
		s.read(a.value)
	case ActStore:
		s.store(a)
	case ActBranch, ActToA32, ActToT16:
		s.branch(p, a)
	case ActExchange:
		s.row.Exchange = true
		s.toRegister(a)
	case ActTrap:
		s.flow = FlowTrap
	case ActStop:
		s.flow = FlowStop
	case ActStatus, ActRestore, ActSpecial:
		if a.kind != ActSpecial && a.guard < 0 {
			s.fw |= NZCV
		}
		s.varies = true
		s.read(a.value)
	case ActWatch:
		s.read(a.addr)
		s.access = max(s.access, a.size)
	default:
		s.read(a.value)
	}
}

// register notes a register, or a list of them, that gets a value.
func (s *scan) register(a *act) {
	switch {
	case a.list:
		s.read(a.addr)
		s.read(a.value)
		s.add(&s.writes, listRef)
		return
	case a.next:
		s.varies, s.row.pairs = true, true
	case a.field >= 0:
		s.add(&s.writes, regRef{field: a.field})
	default:
		s.add(&s.writes, regRef{field: -1, reg: a.reg})
		s.linked = s.linked || a.reg == LR
	}
	s.read(a.value)
}

// store notes memory that gets a value.
func (s *scan) store(a *act) {
	s.read(a.addr)
	s.access = max(s.access, accessOf(uint32(a.size)))
	if a.size == 4 {
		s.words[1]++
	}
	if a.list {
		s.add(&s.reads, listRef)
	} else {
		s.read(a.value)
	}
	s.add(&s.writes, memRef)
}

// branch notes a branch to a label or to an address that is computed.
func (s *scan) branch(p *program, a *act) {
	s.row.Exchange = a.kind != ActBranch
	if label := !p.varied(a.addr); !label {
		s.varies = true
		s.toRegister(a)
		return
	}
	s.target = true
	s.flow = FlowJump
	if a.guard >= 0 {
		s.flow = FlowBranch
	}
}

// toRegister notes a branch to what a register has.
func (s *scan) toRegister(a *act) {
	s.read(a.addr)
	s.add(&s.writes, regRef{field: -1, reg: PC})
	s.flow = FlowReg
}

// sum is what the only register that is written gets, as Row.sum has it.
func (p *program) sum(r *Row) sum {
	s := sum{reg: -1, imm: -1}
	var set *act
	for i := range p.acts {
		switch a := &p.acts[i]; {
		case a.kind == ActFlag:
		case a.kind == ActReg && set == nil && a.field >= 0 && a.guard < 0:
			set = a
		default:
			return s
		}
	}
	if set == nil {
		return s
	}
	n := &p.nodes[set.value]
	switch n.op {
	case DoAdd, DoSub:
		y := &p.nodes[n.y]
		if y.op != opField || !strings.HasPrefix(r.fields[y.n].name, "imm") {
			return s
		}
		s.imm, s.minus = int8(y.n), n.op == DoSub
		n = &p.nodes[n.x]
	case opImmShift:
		s.shifted = true
		n = &p.nodes[n.x]
	}
	if n.op == opReg {
		s.reg = int8(n.n)
	}
	return s
}

// varied says whether a node depends on more than pc and fields.
func (p *program) varied(i int16) bool {
	if i < 0 {
		return false
	}
	n := &p.nodes[i]
	return n.op == opReg || n.op == opNext || n.op == opLoad || n.op == opFixed && Reg(n.n) != PC || p.varied(n.x) || p.varied(n.y) || p.varied(n.z)
}

// fixed says whether a node depends on fields only.
func (p *program) fixed(i int16) bool {
	if i < 0 {
		return true
	}
	n := &p.nodes[i]
	switch n.op {
	case opReg, opNext, opFixed, opFlag, opGE, opExclusive, opStatus, opLink, opLoad, opHolds, opSpecial:
		return false
	}
	return p.fixed(n.x) && p.fixed(n.y) && p.fixed(n.z)
}

// stores says whether the row writes memory.
func (r *Row) stores() bool {
	for _, x := range r.writes {
		if x.mem {
			return true
		}
	}
	return false
}

// names writes registers as Row.Reads and Row.Writes have them.
func (r *Row) names(refs []regRef) string {
	var out []string
	for _, x := range refs {
		switch {
		case x.list:
			out = append(out, "list")
		case x.mem:
			out = append(out, "mem")
		case x.field >= 0:
			out = append(out, r.fields[x.field].name)
		default:
			out = append(out, x.reg.String())
		}
	}
	return strings.Join(out, " ")
}
