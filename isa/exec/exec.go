package exec

import (
	"encoding/binary"

	"narrowgauge/isa"
)

// State is the state of a core between two instructions.
type State struct {
	// Regs are r0 to r15. r15 is the address of the next instruction to carry out, bit
	// 0 clear in either set.
	Regs  [16]uint32
	Flags isa.Flags
	Q     bool  // saturation
	GE    uint8 // four bits
	Set   isa.State
	// IT is ITSTATE: 0 outside of IT blocks (DDI 0406C, A2.5.2).
	IT        uint8
	BigEndian bool  // the byte order of data
	Masked    uint8 // A, I and F in bits 2 to 0; in M profile PRIMASK is I, FAULTMASK is F
	// The special registers of M profile. OtherSP is the one of MSP and PSP that is not
	// r13.
	BasePri, Control uint8
	OtherSP          uint32
	// Mode is the mode of the other profiles, as in CPSR; 0 means System mode. Step
	// does not change it: another mode has registers of its own.
	Mode uint8
	// Marked is how many bytes at Mark are marked for exclusive access, 0 for none.
	Marked uint8
	Mark   uint32
	Have   isa.Features
	Mem    Memory
	// Log gets each access to memory by an instruction that is carried out, in order. It
	// only grows.
	Log []Access
}

// Memory is a space of bytes.
type Memory interface {
	Load(addr uint32) byte
	Store(addr uint32, b byte)
}

// Access is a load or a store.
type Access struct {
	Addr  uint32
	Size  uint8 // 1, 2 or 4 bytes
	Store bool
	Value uint32 // zero-extended
}

// Sparse is a memory that keeps what has been stored.
type Sparse struct {
	Bytes map[uint32]byte
	fill  func(addr uint32) byte
}

// NewSparse makes a memory. fill gives the bytes where nothing has been stored; without
// it they are 0.
func NewSparse(fill func(addr uint32) byte) *Sparse {
	return &Sparse{Bytes: map[uint32]byte{}, fill: fill}
}

// Load is the byte at addr.
func (m *Sparse) Load(addr uint32) byte {
	if b, ok := m.Bytes[addr]; ok || m.fill == nil {
		return b
	}
	return m.fill(addr)
}

// Store keeps a byte.
func (m *Sparse) Store(addr uint32, b byte) { m.Bytes[addr] = b }

// End says how a step ended.
type End uint8

// The ends. Only Done and Trapped change the state.
const (
	Done          End = iota
	Trapped           // raises the exception Result.Trap; r15 is the next instruction's address
	Undefined         // raises the exception of undefined instructions
	Misaligned        // faults on the address Result.Addr
	NoSuchState       // goes on, and faults there: the core does not have the instruction set
	Unpredictable     // the manual does not say what happens
	NotModelled       // the row is not described, or needs what is not modelled here
)

// String is the constant's name in lower case.
func (e End) String() string {
	return [...]string{"done", "trapped", "undefined", "misaligned", "no such state", "unpredictable", "not modelled"}[e]
}

// Result is what Step says besides the state.
type Result struct {
	End    End
	Passed bool     // the condition held
	Went   bool     // r15 was written, if only with the next instruction's address
	Trap   isa.Trap // Trapped
	Number uint32   // Trapped: the constant for the handler
	Addr   uint32   // Misaligned
	// Rounded: the low bits of an address have not been looked at, as up to ARMv5.
	Rounded bool
	// Unknown are flags that the architecture leaves without a known value. They are as
	// they were.
	Unknown isa.Flags
}

// Step carries out the instruction with these fields, at the address in r15.
func Step(v isa.Values, s *State) Result {
	row := v.Row()
	if !row.Described() {
		return Result{End: NotModelled}
	}
	if v.Unpredictable(s.Have, s.IT != 0) {
		return Result{End: Unpredictable}
	}
	m := machine{s: s, next: s.Regs[15] + uint32(row.Size())}
	cond := v.Condition()
	if s.Set == isa.T && s.IT != 0 && row.IT != isa.ITNeutral {
		cond = isa.Cond(s.IT >> 4)
	}
	it := advance(s.IT)
	if isa.Holds(cond, &m) == 0 {
		s.Regs[15], s.IT = m.next, it
		return Result{}
	}
	m.r.Passed = true
	var buf [24]isa.Action[uint32]
	acts := isa.Evaluate(v, &m, buf[:0])
	if m.r.End != Done {
		return m.r
	}
	// Nothing is done before it is known that nothing faults.
	for i := range acts {
		if a := &acts[i]; a.Kind == isa.ActStore && (!a.Guard || a.If != 0) {
			a.Addr = m.address(a.Addr, int(a.Size), a.How)
		} else if a.Kind == isa.ActUserBank || a.Kind == isa.ActRestore {
			m.commit(a) // which only ends it
		} else if a.Kind == isa.ActWatch {
			m.address(a.Addr, int(a.Size), isa.Strict)
		}
		if m.r.End != Done {
			return m.r
		}
	}
	was := *s
	s.Regs[15], s.IT = m.next, it
	block := was.IT != 0
	for i := range acts {
		if a := &acts[i]; !a.Guard || a.If != 0 {
			if a.Kind == isa.ActFlag && a.IfSets && block {
				continue
			}
			m.commit(a)
		}
	}
	switch m.r.End {
	case Done, Trapped, NoSuchState:
		s.Log = append(s.Log, m.log...)
	default:
		log := s.Log
		*s = was
		s.Log = log
	}
	return m.r
}

// Holds says whether a condition holds in a state.
func Holds(c isa.Cond, s *State) bool { return isa.Holds(c, &machine{s: s}) != 0 }

// advance is ITSTATE after an instruction (DDI 0406C, ITAdvance).
func advance(it uint8) uint8 {
	if it&7 == 0 {
		return 0
	}
	return it&0xe0 | it<<1&0x1f
}

// machine is the state as a domain of words.
type machine struct {
	s    *State
	next uint32
	r    Result
	log  []Access
}

func (m *machine) Number(n uint32) uint32                     { return n }
func (m *machine) Do(op isa.Operation, x, y, z uint32) uint32 { return op.Word(x, y, z) }
func (m *machine) GE() uint32                                 { return uint32(m.s.GE) }

func (m *machine) Reg(r isa.Reg) uint32 {
	switch {
	case r != isa.PC:
		return m.s.Regs[r]
	case m.s.Set == isa.T:
		return m.s.Regs[r] + 4
	}
	return m.s.Regs[r] + 8
}

func (m *machine) Flag(f isa.Flags) uint32 {
	if m.s.Flags&f != 0 {
		return 1
	}
	return 0
}

func (m *machine) Link() uint32 {
	if m.s.Set == isa.T {
		return m.next | 1
	}
	return m.next
}

// address is where an access goes, or an end.
func (m *machine) address(addr uint32, size int, how isa.Alignment) uint32 {
	low := addr & uint32(size-1)
	if low == 0 {
		return addr
	}
	have, must := m.s.Have, how != isa.Loose
	switch {
	case have&isa.FeatM != 0 && (must || have&isa.FeatT32 == 0), have&isa.FeatV6 != 0 && must:
		m.end(Misaligned)
		m.r.Addr = addr
	case have&isa.FeatV6 != 0:
	case size == 4:
		m.r.Rounded = true
		return addr &^ 3
	default: // a halfword (DDI 0100I, A4, "LDRH" and "STRH")
		m.end(Unpredictable)
	}
	return addr
}

func (m *machine) end(e End) {
	if m.r.End == Done {
		m.r.End = e
	}
}

func (m *machine) Load(addr uint32, size int, how isa.Alignment) uint32 {
	at := m.address(addr, size, how)
	if m.r.End != Done {
		return 0
	}
	var b [4]byte
	for i := range size {
		b[i] = m.s.Mem.Load(at + uint32(i))
	}
	v := binary.LittleEndian.Uint32(b[:])
	if m.s.BigEndian {
		v = binary.BigEndian.Uint32(b[:]) >> (32 - 8*size)
	}
	m.log = append(m.log, Access{Addr: at, Size: uint8(size), Value: v})
	if at != addr && how != isa.Multiple { // rotated, up to ARMv5
		v = isa.DoROR.Word(v, 8*(addr&3), 0)
	}
	return v
}

func (m *machine) store(addr uint32, size int, v uint32) {
	m.log = append(m.log, Access{addr, uint8(size), true, v & uint32(uint64(1)<<(8*size)-1)})
	for i := range size {
		shift := 8 * i
		if m.s.BigEndian {
			shift = 8 * (size - 1 - i)
		}
		m.s.Mem.Store(addr+uint32(i), byte(v>>shift))
	}
}

// commit does an action.
func (m *machine) commit(a *isa.Action[uint32]) {
	s := m.s
	switch a.Kind {
	case isa.ActReg:
		switch {
		case a.Reg == isa.SP && s.Have&isa.FeatM != 0: // its bits 1 and 0 are always 0 (DDI 0403E, B1.4.1)
			s.Regs[a.Reg] = a.Value &^ 3
		case a.Reg != isa.PC:
			s.Regs[a.Reg] = a.Value
		case a.Loaded && s.Have.Has(isa.FeatV5T), // LoadWritePC
			!a.Loaded && s.Set == isa.A && s.Have.Has(isa.FeatBar): // ALUWritePC, from ARMv7 on
			m.exchange(a.Value)
		default:
			m.branch(a.Value)
		}
	case isa.ActFlag:
		if a.Kept && !s.Have.Has(isa.FeatV5T) {
			m.r.Unknown |= a.Flag
		} else if s.Flags &^= a.Flag; a.Value&1 != 0 {
			s.Flags |= a.Flag
		}
	case isa.ActQ:
		s.Q = s.Q || a.Value != 0
	case isa.ActGE:
		s.GE = uint8(a.Value & 15)
	case isa.ActStore:
		m.store(a.Addr, int(a.Size), a.Value)
	case isa.ActBranch:
		m.branch(a.Addr)
	case isa.ActExchange:
		m.exchange(a.Addr)
	case isa.ActToA32:
		m.exchange(a.Addr &^ 3)
	case isa.ActToT16:
		m.exchange(a.Addr | 1)
	case isa.ActTrap:
		m.end(Trapped)
		m.r.Trap, m.r.Number = a.Trap, a.Value
	case isa.ActStop:
		m.end(Undefined)
	case isa.ActIT:
		s.IT = uint8(a.Value)
	case isa.ActEndian:
		s.BigEndian = a.Value != 0
	case isa.ActMask:
		if s.privileged() {
			s.Masked |= uint8(a.Value)
		}
	case isa.ActUnmask:
		if s.privileged() {
			s.Masked &^= uint8(a.Value)
		}
	case isa.ActSpecial:
		m.setSpecial(a.Number, a.Size, a.Value)
	case isa.ActStatus:
		m.setStatus(a.Number, a.Value)
	case isa.ActRestore:
		m.end(NotModelled)
	case isa.ActUserBank:
		if s.mode() == 0x1f || s.mode() == 0x10 { // DDI 0406C, B9, "LDM (User registers)"
			m.end(Unpredictable)
		} else {
			m.end(NotModelled)
		}
	case isa.ActEnter:
		if uint8(a.Value) != s.mode() {
			m.end(NotModelled)
		}
	case isa.ActWatch:
		s.Mark, s.Marked = a.Addr, a.Size
	case isa.ActUnwatch:
		s.Marked = 0
	}
}

// branch goes on in the same instruction set (BranchWritePC).
func (m *machine) branch(addr uint32) {
	if m.s.Set == isa.T {
		addr &^= 1
	} else {
		addr &^= 3
	}
	m.s.Regs[15], m.r.Went = addr, true
}

// exchange goes on in the instruction set that bit 0 says (BXWritePC).
func (m *machine) exchange(addr uint32) {
	switch {
	case addr&1 != 0 && !m.s.Have.Has(isa.FeatT16):
		m.end(NoSuchState)
	case addr&1 != 0:
		m.s.Set = isa.T
	case m.s.Have&isa.FeatA32 == 0:
		m.end(NoSuchState)
	case addr&2 != 0:
		m.end(Unpredictable)
	default:
		m.s.Set = isa.A
	}
	m.s.Regs[15], m.r.Went = addr&^1, true
}

// mode is the mode of the profiles that have such.
func (s *State) mode() uint8 {
	if s.Mode == 0 {
		return 0x1f
	}
	return s.Mode
}

func (m *machine) Exclusive(addr uint32, size int) uint32 {
	m.address(addr, size, isa.Strict)
	if m.s.Marked == uint8(size) && m.s.Mark == addr {
		return 1
	}
	return 0
}

// Status is CPSR (DDI 0406C, B1.3.3). There is no SPSR in the modes that are modelled.
func (m *machine) Status(saved bool) uint32 {
	if saved {
		m.end(NotModelled)
		return 0
	}
	s := m.s
	v := uint32(s.mode()) | uint32(s.Masked)<<6 | uint32(s.GE)<<16
	if s.BigEndian {
		v |= 1 << 9
	}
	if s.Q {
		v |= 1 << 27
	}
	for i := range 4 {
		v |= uint32(s.Flags>>i&1) << (31 - i)
	}
	return v // the execution state reads as 0 (DDI 0406C, "MRS")
}

// setStatus writes the bytes of CPSR that n says, but the execution state.
func (m *machine) setStatus(n, v uint32) {
	s := m.s
	switch {
	case n&16 != 0, n&1 != 0 && uint8(v&0x1f) != s.mode():
		m.end(NotModelled)
		return
	}
	if n&1 != 0 {
		s.Masked = s.Masked&4 | uint8(v>>6&3)
	}
	if s.Have.Has(isa.FeatV6) && n&2 != 0 {
		s.Masked = s.Masked&3 | uint8(v>>6&4)
		s.BigEndian = v>>9&1 != 0
	}
	if s.Have.Has(isa.FeatV6) && n&4 != 0 {
		s.GE = uint8(v >> 16 & 15)
	}
	if n&8 != 0 {
		if s.Flags = 0; s.Have.Has(isa.FeatV5TE) {
			s.Q = v>>27&1 != 0
		}
		for i := range 4 {
			s.Flags |= isa.Flags(v>>(31-i)&1) << i
		}
	}
}

// The special registers of M profile (DDI 0403E, B5.1; DDI 0419, B4.2).
const (
	sysXPSR      = 3
	sysIEPSR     = 7
	sysMSP       = 8
	sysPSP       = 9
	sysPriMask   = 16
	sysBasePri   = 17
	sysBaseMax   = 18
	sysFaultMask = 19
	sysControl   = 20
)

const flagI, flagF = 2, 1 // in State.Masked

func (m *machine) Special(n uint32) uint32 {
	s := m.s
	bit := func(b bool) uint32 {
		if b {
			return 1
		}
		return 0
	}
	switch {
	case n <= sysXPSR: // EPSR reads as zero, IPSR is 0 in Thread mode
		v := bit(s.Q) << 27
		for i := range 4 {
			v |= uint32(s.Flags>>i&1) << (31 - i)
		}
		if s.Have.Has(isa.FeatDSP) {
			v |= uint32(s.GE) << 16
		}
		return v
	case n >= 5 && n <= sysIEPSR, n != sysControl && !s.privileged() && n <= sysControl:
		return 0
	case n == sysMSP, n == sysPSP:
		if s.usesPSP() == (n == sysPSP) {
			return s.Regs[isa.SP]
		}
		return s.OtherSP
	case n == sysPriMask:
		return bit(s.Masked&flagI != 0)
	case n == sysFaultMask:
		return bit(s.Masked&flagF != 0)
	case n == sysBasePri, n == sysBaseMax:
		return uint32(s.BasePri)
	case n == sysControl:
		return uint32(s.Control)
	}
	m.end(NotModelled)
	return 0
}

// privileged says whether M profile takes MSR and CPS: CONTROL.nPRIV. The other
// profiles are in a mode that does.
func (s *State) privileged() bool { return s.Have&isa.FeatM == 0 || s.Control&1 == 0 }

// usesPSP says whether r13 is PSP: CONTROL.SPSEL.
func (s *State) usesPSP() bool { return s.Control&2 != 0 }

func (m *machine) setSpecial(n uint32, parts uint8, v uint32) {
	s := m.s
	mask := func(bit uint8) {
		if s.Masked &^= bit; v&1 != 0 {
			s.Masked |= bit
		}
	}
	switch {
	case n <= sysXPSR:
		if parts&2 != 0 {
			s.Flags, s.Q = 0, v>>27&1 != 0
			for i := range 4 {
				s.Flags |= isa.Flags(v>>(31-i)&1) << i
			}
		}
		if parts&1 != 0 {
			s.GE = uint8(v >> 16 & 15)
		}
	case n >= 5 && n <= sysIEPSR, !s.privileged() && n <= sysControl: // ignored
	case n == sysMSP, n == sysPSP:
		if s.usesPSP() == (n == sysPSP) {
			s.Regs[isa.SP] = v &^ 3
		} else {
			s.OtherSP = v &^ 3
		}
	case n == sysPriMask:
		mask(flagI)
	case n == sysFaultMask:
		mask(flagF)
	case n == sysBasePri:
		s.BasePri = uint8(v)
	case n == sysBaseMax:
		if b := uint8(v); b != 0 && (b < s.BasePri || s.BasePri == 0) {
			s.BasePri = b
		}
	case n == sysControl:
		if was := s.usesPSP(); was != (v&2 != 0) {
			s.Regs[isa.SP], s.OtherSP = s.OtherSP, s.Regs[isa.SP]
		}
		s.Control = uint8(v & 3)
	default:
		m.end(NotModelled)
	}
}
