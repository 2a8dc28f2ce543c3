package rewrite

import (
	"slices"

	"narrowgauge/analysis/image"
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
)

// maxSteps bounds the instructions of one run.
const maxSteps = 100

// outcome is where a run ended, and after which item.
type outcome struct {
	state exec.State
	mem   *memory
	end   exec.End
	entry int // at an entry of the region; -1: elsewhere
	last  *program.Item
	known bool // all on the way was
	// rounded: a word was read at an address between two words.
	rounded bool
}

// run compares one run from one entry.
func (m *comparison) run(n, entry int, froms, tos []uint32) Proof {
	x := m.carryOut(m.was, n, froms, entry, m.region, nil)
	if !x.known || x.end != exec.Done {
		return Unproven
	}
	y := m.carryOut(m.is, n, tos, entry, m.newRegion, m.origin)
	switch {
	case !y.known:
		return Unproven
	case y.end == exec.Done && m.agree(&x, &y):
		return Same
	case x.rounded: // which the line hardly means
		return Unproven
	}
	return Differs
}

// carryOut runs an image from an entry until execution leaves the region. origin is
// where an address was before the edits.
func (m *comparison) carryOut(img *image.Image, n int, entries []uint32, entry int, in func(*program.Item) bool, origin func(uint32) uint32) outcome {
	x := outcome{entry: -1, mem: &memory{img: img, origin: origin, seed: uint32(n), bytes: map[uint32]byte{}}}
	s := &x.state
	*s = m.begin[n]
	s.Mem = x.mem
	s.Regs[isa.PC] = entries[entry]
	for step := range maxSteps {
		if step > 0 {
			for k, e := range entries {
				if e == s.Regs[isa.PC] {
					x.entry, x.known = k, true
					return x
				}
			}
		}
		it := img.At(s.Regs[isa.PC])
		if it == nil || !in(it) {
			x.known = !x.mem.lost
			return x
		}
		x.last = it
		at := s.Regs[isa.PC]
		r, ok := img.Step(it, s, m.sets || it.Index != m.owner.item.Index)
		if !ok || it.Size == 0 {
			return x
		}
		x.rounded = x.rounded || r.Rounded
		if x.end = r.End; r.End != exec.Done {
			x.known = true
			return x
		}
		if s.Regs[isa.PC] == at {
			return x
		}
	}
	return x
}

// agree says whether two runs ended alike.
func (m *comparison) agree(x, y *outcome) bool {
	if x.entry != y.entry || x.state.Set != y.state.Set {
		return false
	}
	a, b := &x.state, &y.state
	if x.entry < 0 && m.arrived(m.was, a.Regs[isa.PC], nil) != m.arrived(m.is, b.Regs[isa.PC], m.origin) {
		return false
	}
	regs, flags, status := isa.RegList(0x7fff), isa.NZCV, isa.AllStatus
	if x.last != nil {
		r, last := m.asked(x.last)
		regs &^= r.DeadRegs(last, regs)
		flags &^= r.DeadFlags(last, flags)
		status &^= r.DeadStatus(last, status)
	}
	for r := isa.Reg(0); r < isa.PC; r++ {
		if v, w := a.Regs[r], b.Regs[r]; v != w && m.origin(w) != v && (regs.Has(r) || r == isa.SP) {
			return false
		}
	}
	if (a.Flags^b.Flags)&flags != 0 || a.Q != b.Q && status&isa.Saturated != 0 || a.GE != b.GE && status&isa.Greater != 0 || a.BigEndian != b.BigEndian || a.Masked != b.Masked {
		return false
	}
	return x.mem.contains(y.mem, a.Regs[isa.SP]) && y.mem.contains(x.mem, a.Regs[isa.SP])
}

// asked is the program that is asked what is needed after an item, and the item there: the
// whole one, as in an extract nobody sees what is left out.
func (m *comparison) asked(it *program.Item) (*Subject, *program.Item) {
	if m.part == nil {
		return m.before, it
	}
	return m.part.whole, &m.part.whole.Items[m.part.origin[it.Index]]
}

// arrived is the address, before the edits, of the statement that execution is at.
func (m *comparison) arrived(img *image.Image, pc uint32, origin func(uint32) uint32) uint32 {
	if it := img.At(pc); it != nil {
		pc, _ = image.Address(it.Section, it.Offset)
	}
	if origin != nil {
		pc = origin(pc)
	}
	return pc
}

// memory is that of a run: literals as the program has them, all else invented, the
// same in the program and in the result of the edits.
type memory struct {
	img    *image.Image
	origin func(uint32) uint32
	seed   uint32
	bytes  map[uint32]byte // what was stored, by the address before the edits
	lost   bool            // something was read that nobody knows
}

func (m *memory) place(addr uint32) uint32 {
	if m.origin != nil {
		return m.origin(addr)
	}
	return addr
}

// Load is the byte at an address.
func (m *memory) Load(addr uint32) byte {
	at := m.place(addr)
	if b, ok := m.bytes[at]; ok {
		return b
	}
	if v, ok := m.img.Literal(addr &^ 3); ok {
		w, known := m.img.Word(v)
		m.lost = m.lost || !known
		return byte(w >> (8 * (addr & 3)))
	}
	return byte(mix(at, m.seed))
}

// Store keeps a byte.
func (m *memory) Store(addr uint32, b byte) { m.bytes[m.place(addr)] = b }

// deadStack is how many bytes below the stack pointer are nobody's.
const deadStack = 1 << 10

// contains says whether all that another run stored is here, too, but below the stack
// pointer.
func (m *memory) contains(o *memory, sp uint32) bool {
	for at, b := range o.bytes {
		if sp-at-1 < deadStack {
			continue
		}
		if have, ok := m.bytes[at]; ok && have != b || !ok && b != byte(mix(at, m.seed)) {
			return false
		}
	}
	return true
}

// mix makes a number out of two that looks like chance.
func mix(a, b uint32) uint32 {
	x := a*0x9e37_79b1 ^ b*0x85eb_ca6b ^ 0x27d4_eb2f
	x = (x ^ x>>15) * 0x2c1b_3c6d
	x = (x ^ x>>12) * 0x297a_2d39
	return x ^ x>>15
}

// numStates is how many states a comparison begins from at least.
const numStates = 16

// edges are values at which results and flags change, whatever the line.
var edges = []uint32{0, 1, 2, 3, 4, 31, 32, 33, 0xff, 0x100, 0x7fff_ffff, 0x8000_0000, 0x8000_0001, 0xffff_ffff, 0xffff_fffe, 0xffff_8000, 0xff80}

// nearConstants are the values near the constants of the line, and near zero, if there
// are some that it computes with.
func (m *comparison) nearConstants() (near []uint32) {
	for i := range m.owner.ops {
		if o := &m.owner.ops[i]; o.Known && o.Kind != isa.OpMem {
			v := uint32(o.Imm)
			near = append(near, v-1, v, v+1, -v-1, -v, -v+1, v^0x8000_0000, -v^0x8000_0000)
		}
	}
	if near == nil {
		return nil
	}
	near = append(near, 0xffff_ffff, 0, 0x7fff_ffff, 0x8000_0000)
	slices.Sort(near)
	return slices.Compact(near)
}

// states are those that the runs of a comparison begin from. In the first eight, registers are
// addresses of words, or make such with the offset of the line, and small numbers, as
// accesses to memory need; in the next eight, they are of the values at which results and
// flags change, with those of the line among them. Then the registers that the line
// mentions are each of the values near its constants.
func (m *comparison) states() (list []exec.State) {
	near := m.nearConstants()
	list = make([]exec.State, numStates, numStates+len(near))
	for n := range list {
		list[n] = m.state(n, near)
	}
	used := m.owner.used()
	for k, v := range near {
		s := m.state(numStates+k, near)
		for r := range isa.Reg(13) {
			if used.Has(r) {
				if s.Regs[r] = v; !image.Invented(v) {
					s.Regs[r] ^= 0x8000_0000
				}
			}
		}
		list = append(list, s)
	}
	return list
}

func (m *comparison) state(n int, near []uint32) (s exec.State) {
	have := m.owner.environment.Have
	var offset uint32 // of the access
	edges := append(edges[:len(edges):len(edges)], near...)
	for i := range m.owner.ops {
		if o := &m.owner.ops[i]; o.Known && o.Kind == isa.OpMem && !o.Post && n&1 != 0 {
			offset = uint32(o.Imm)
		}
	}
	for r := range uint32(13) {
		x := mix(r, uint32(n))
		switch {
		case n < numStates/2 && x&3 != 0:
			s.Regs[r] = 0x2000_0000 + r<<16 + x>>20<<3 - offset
		case n < numStates/2:
			s.Regs[r] = x >> 28 << 2
		case x&1 == 0:
			s.Regs[r] = edges[x>>8%uint32(len(edges))]
		default:
			s.Regs[r] = mix(x, r)
		}
		if !image.Invented(s.Regs[r]) {
			s.Regs[r] ^= 0x8000_0000
		}
	}
	s.Regs[isa.SP] = 0x3000_8000 + uint32(n)<<2
	if have&isa.FeatM == 0 {
		s.Regs[isa.SP] -= offset & 3
	}
	s.Regs[isa.LR] = 0x1000_0000 + uint32(n)<<4
	if have&isa.FeatA32 == 0 || have.Has(isa.FeatT16) && n&2 == 0 {
		s.Regs[isa.LR]++ // to code of Thumb state
	}
	s.Flags = isa.Flags(mix(uint32(n), 77)) & isa.NZCV
	s.Q, s.GE = n&1 != 0, uint8(n)
	return s
}
