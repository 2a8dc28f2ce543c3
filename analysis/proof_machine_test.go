package analysis

import (
	"encoding/binary"
	"fmt"
	"math/bits"
	"math/rand/v2"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest/unicorn"
)

// The machine that the proofs run on: code, data and stack each have memory of
// their own, and a supervisor call waits where the functions return to.
const (
	proofCode  = 0x0000_8000
	proofCodeN = 0x4000
	proofEnd   = 0x0001_0000 // svc #0: the address in lr at the start
	proofData  = 0x2000_0000
	proofDataN = 0x4000
	proofStack = 0x3000_0000
	proofStkN  = 0x2000
)

// cpu is a state of the machine.
type cpu struct {
	r          [16]uint32
	n, z, c, v bool
	data, stk  []byte
	fault      bool
	unaligned  bool // some access was
	// space is the memory in place of data and stk, where it is not nil.
	space interface {
		Load(addr uint32) byte
		Store(addr uint32, b byte)
	}
	stores []storing // into space, in order
	loads  []storing // from it
}

// storing is an access to a space.
type storing struct{ addr, size, value uint32 }

func (m *cpu) clone() *cpu {
	x := *m
	x.data, x.stk = append([]byte(nil), m.data...), append([]byte(nil), m.stk...)
	return &x
}

// at is the memory from an address on, nil where none is.
func (m *cpu) at(a uint32, n uint32) []byte {
	m.unaligned = m.unaligned || a%n != 0
	switch {
	case a >= proofData && a-proofData <= proofDataN-n:
		return m.data[a-proofData:][:n]
	case a >= proofStack && a-proofStack <= proofStkN-n:
		return m.stk[a-proofStack:][:n]
	}
	m.fault = true
	return make([]byte, n)
}

func (m *cpu) load(a, n uint32) (v uint32) {
	if m.space != nil {
		m.unaligned = m.unaligned || a%n != 0
		for i := range n {
			v |= uint32(m.space.Load(a+i)) << (8 * i)
		}
		m.loads = append(m.loads, storing{a, n, v})
		return v
	}
	for i, b := range m.at(a, n) {
		v |= uint32(b) << (8 * i)
	}
	return v
}

func (m *cpu) store(a, n, v uint32) {
	if m.space != nil {
		m.unaligned = m.unaligned || a%n != 0
		m.stores = append(m.stores, storing{a, n, uint32(uint64(v) & (1<<(8*n) - 1))})
		for i := range n {
			m.space.Store(a+i, byte(v>>(8*i)))
		}
		return
	}
	for i, b := 0, m.at(a, n); i < len(b); i++ {
		b[i] = byte(v >> (8 * i))
	}
}

func (m *cpu) flags() (f uint32) {
	for _, x := range []struct {
		on  bool
		bit uint32
	}{{m.n, unicorn.FlagN}, {m.z, unicorn.FlagZ}, {m.c, unicorn.FlagC}, {m.v, unicorn.FlagV}} {
		if x.on {
			f |= x.bit
		}
	}
	return f
}

func (m *cpu) setFlags(f uint32) {
	m.n, m.z, m.c, m.v = f&unicorn.FlagN != 0, f&unicorn.FlagZ != 0, f&unicorn.FlagC != 0, f&unicorn.FlagV != 0
}

func (m *cpu) nz(v uint32) { m.n, m.z = v>>31 != 0, v == 0 }

// holds says whether a condition holds (Arm ARM, "Conditional execution").
func (m *cpu) holds(c isa.Cond) bool {
	var t bool
	switch c >> 1 {
	case 0:
		t = m.z
	case 1:
		t = m.c
	case 2:
		t = m.n
	case 3:
		t = m.v
	case 4:
		t = m.c && !m.z
	case 5:
		t = m.n == m.v
	case 6:
		t = m.n == m.v && !m.z
	default:
		return true
	}
	return t == (c&1 == 0)
}

// stm is a statement and what its author means by it, whether or not an
// encoding exists.
type stm struct {
	op     string // without flag letter and condition
	s      bool   // sets the flags
	cond   isa.Cond
	d, n   int
	m      int // second operand or offset register, -1 for the constant
	imm    int64
	three  bool // written with all of its operands
	mode   int  // memory: 0 offset, 1 written back, 2 after the brackets
	list   isa.RegList
	lit    bool   // ldr d, =imm
	a      int    // mls: what the product is taken from
	width  int    // of a field of bits, of which imm is the lowest
	minus  bool   // the offset register is subtracted
	shift  string // of register m, by register by or, where that is -1, by places
	by     int
	places int
}

func isLoad(op string) bool  { return strings.HasPrefix(op, "ldr") }
func isStore(op string) bool { return strings.HasPrefix(op, "str") }

func isCompare(op string) bool { return op == "cmp" || op == "cmn" || op == "tst" || op == "teq" }

func isShift(op string) bool { return op == "lsl" || op == "lsr" || op == "asr" || op == "ror" }

func isExtend(op string) bool { return strings.HasPrefix(op, "uxt") || strings.HasPrefix(op, "sxt") }

// text writes the statement. konst writes its constant.
func (x *stm) text(unified bool, konst func(int64) string) string {
	r := func(n int) string { return isa.Reg(n).String() }
	name, cond := x.op, ""
	if x.cond != isa.AL {
		cond = x.cond.String()
	}
	if unified && x.s && !isCompare(x.op) {
		name += "s"
	}
	name += cond
	second := func() string {
		switch {
		case x.m >= 0 && x.shift != "" && x.by >= 0:
			return fmt.Sprintf("%s, %s %s", r(x.m), x.shift, r(x.by))
		case x.m >= 0 && x.shift != "":
			return fmt.Sprintf("%s, %s #%d", r(x.m), x.shift, x.places)
		case x.m >= 0:
			return r(x.m)
		}
		return "#" + konst(x.imm)
	}
	if s := x.movedText(name); s != "" {
		return s
	}
	switch {
	case x.op == "push" || x.op == "pop":
		return name + " " + x.list.String()
	case x.lit:
		return name + " " + r(x.d) + ", =" + konst(x.imm)
	case isLoad(x.op) || isStore(x.op):
		off := ", " + second()
		if x.minus {
			off = ", -" + second()
		}
		if x.m < 0 && x.imm == 0 {
			off = ""
		}
		switch x.mode {
		case 1:
			return name + " " + r(x.d) + ", [" + r(x.n) + off + "]!"
		case 2:
			return name + " " + r(x.d) + ", [" + r(x.n) + "]" + off
		}
		return name + " " + r(x.d) + ", [" + r(x.n) + off + "]"
	case x.op == "mov" || x.op == "mvn" || x.op == "neg" || isExtend(x.op):
		return name + " " + r(x.d) + ", " + second()
	case isCompare(x.op):
		return name + " " + r(x.n) + ", " + second()
	case x.three:
		return name + " " + r(x.d) + ", " + r(x.n) + ", " + second()
	}
	return name + " " + r(x.d) + ", " + second()
}

// exec does what the statement means: the operations of the Arm ARM's
// pseudo-code, with any constant and any register. A logical operation keeps
// C: T16 has no shifted operands.
func (x *stm) exec(m *cpu) {
	if !m.holds(x.cond) {
		return
	}
	b := uint32(x.imm)
	if x.m >= 0 {
		b = m.r[x.m]
	}
	if x.shift != "" {
		n := uint32(x.places)
		if x.by >= 0 {
			n = m.r[x.by] & 255
		}
		s, c := stm{op: x.shift, cond: isa.AL}, m.clone()
		s.shiftBy(c, b, n)
		b = c.r[0]
	}
	if x.minus {
		b = -b
	}
	a := m.r[x.n]
	set := func(v uint32) {
		if x.s {
			m.nz(v)
		}
		m.r[x.d] = v
	}
	add := func(a, b, c uint32, write bool) {
		sum := uint64(a) + uint64(b) + uint64(c)
		v := uint32(sum)
		if x.s || isCompare(x.op) {
			m.nz(v)
			m.c = sum>>32 != 0
			m.v = (a^v)&(b^v)>>31 != 0
		}
		if write {
			m.r[x.d] = v
		}
	}
	carry := uint32(0)
	if m.c {
		carry = 1
	}
	switch {
	case x.op == "mov":
		set(b)
	case x.op == "mvn":
		set(^b)
	case x.op == "neg":
		add(0, ^b, 1, true)
	case x.op == "and":
		set(a & b)
	case x.op == "orr":
		set(a | b)
	case x.op == "eor":
		set(a ^ b)
	case x.op == "bic":
		set(a &^ b)
	case x.op == "mul":
		set(a * b)
	case x.op == "add":
		add(a, b, 0, true)
	case x.op == "sub":
		add(a, ^b, 1, true)
	case x.op == "rsb":
		add(b, ^a, 1, true)
	case x.op == "rsc":
		add(b, ^a, carry, true)
	case x.op == "orn":
		set(a | ^b)
	case x.op == "movw":
		m.r[x.d] = b
	case x.op == "movt":
		m.r[x.d] = m.r[x.d]&0xffff | b<<16
	case x.op == "ubfx":
		m.r[x.d] = a >> b & (1<<x.width - 1)
	case x.op == "sbfx":
		m.r[x.d] = uint32(int32(a<<(32-int(b)-x.width)) >> (32 - x.width))
	case x.op == "bfc":
		m.r[x.d] &^= (1<<x.width - 1) << b
	case x.op == "bfi":
		mask := uint32(1<<x.width-1) << b
		m.r[x.d] = m.r[x.d]&^mask | a<<b&mask
	case x.op == "rev":
		m.r[x.d] = bits.ReverseBytes32(b)
	case x.op == "rev16":
		m.r[x.d] = b&0x00ff00ff<<8 | b>>8&0x00ff00ff
	case x.op == "revsh":
		m.r[x.d] = uint32(int16(bits.ReverseBytes16(uint16(b))))
	case x.op == "mls":
		m.r[x.d] = m.r[x.a] - a*b
	case x.op == "adc":
		add(a, b, carry, true)
	case x.op == "sbc":
		add(a, ^b, carry, true)
	case x.op == "cmp":
		add(a, ^b, 1, false)
	case x.op == "cmn":
		add(a, b, 0, false)
	case x.op == "tst":
		m.nz(a & b)
	case x.op == "teq":
		m.nz(a ^ b)
	case isShift(x.op):
		x.shiftBy(m, a, b&255)
	case x.op == "uxtb":
		m.r[x.d] = b & 255
	case x.op == "uxth":
		m.r[x.d] = b & 0xffff
	case x.op == "sxtb":
		m.r[x.d] = uint32(int8(b))
	case x.op == "sxth":
		m.r[x.d] = uint32(int16(b))
	case x.op == "push":
		m.r[13] -= uint32(4 * x.list.Count())
		p := m.r[13]
		for i := range 16 {
			if x.list.Has(isa.Reg(i)) {
				m.store(p, 4, m.r[i])
				p += 4
			}
		}
	case x.op == "pop":
		p := m.r[13]
		m.r[13] += uint32(4 * x.list.Count())
		for i := range 16 {
			if x.list.Has(isa.Reg(i)) {
				m.r[i] = m.load(p, 4)
				p += 4
			}
		}
	case x.lit:
		m.r[x.d] = b
	default:
		x.access(m, a, b)
	}
}

func (x *stm) shiftBy(m *cpu, a, n uint32) {
	v, c := a, m.c
	if n > 0 {
		switch x.op {
		case "lsl":
			v, c = uint32(uint64(a)<<n), n <= 32 && uint64(a)<<n>>32&1 != 0
		case "lsr":
			v, c = uint32(uint64(a)>>n), n <= 32 && uint64(a)>>(n-1)&1 != 0
		case "asr":
			k := min(n, 32)
			v, c = uint32(int64(int32(a))>>k), int64(int32(a))>>(k-1)&1 != 0
		case "ror":
			v = bits.RotateLeft32(a, -int(n&31))
			c = v>>31 != 0
		}
	}
	if x.s {
		m.c = c
		m.nz(v)
	}
	m.r[x.d] = v
}

func (x *stm) access(m *cpu, base, off uint32) {
	addr := base + off
	if x.mode == 2 {
		addr = base
	}
	if strings.HasSuffix(x.op, "d") {
		// Both words, then the base.
		v, w := m.load(addr, 4), m.load(addr+4, 4)
		if isStore(x.op) {
			m.store(addr, 4, m.r[x.d])
			m.store(addr+4, 4, m.r[x.d+1])
		} else {
			m.r[x.d], m.r[x.d+1] = v, w
		}
		if x.mode > 0 {
			m.r[x.n] = base + off
		}
		return
	}
	n := uint32(4)
	switch strings.TrimLeft(x.op[3:], "s") {
	case "b":
		n = 1
	case "h":
		n = 2
	}
	if isStore(x.op) {
		m.store(addr, n, m.r[x.d])
		if x.mode > 0 {
			m.r[x.n] = base + off
		}
		return
	}
	v := m.load(addr, n)
	switch x.op {
	case "ldrsb":
		v = uint32(int8(v))
	case "ldrsh":
		v = uint32(int16(v))
	}
	if x.mode > 0 {
		m.r[x.n] = base + off
	}
	m.r[x.d] = v
}

// edges are register values at which flags change.
var edges = []uint32{0, 1, 2, 4, 7, 8, 31, 32, 33, 255, 256, 0x7fff_ffff, 0x8000_0000, 0x8000_0001, 0xffff_fffb, 0xffff_ffff}

// random makes a state from which x can run: its base registers point to
// memory.
func randomCPU(g *rand.Rand, x *stm) *cpu {
	m := &cpu{data: make([]byte, proofDataN), stk: make([]byte, proofStkN)}
	for i := range m.r {
		switch g.IntN(4) {
		case 0:
			m.r[i] = edges[g.IntN(len(edges))]
		case 1:
			m.r[i] = proofData + proofDataN/2 + uint32(g.IntN(64))*4
		default:
			m.r[i] = g.Uint32()
		}
	}
	for i := 0; i < len(m.data); i += 4 {
		binary.LittleEndian.PutUint32(m.data[i:], g.Uint32())
	}
	for i := 0; i < len(m.stk); i += 4 {
		binary.LittleEndian.PutUint32(m.stk[i:], g.Uint32())
	}
	m.r[13] = proofStack + proofStkN/4 + uint32(g.IntN(64))*4
	m.r[14] = proofEnd | 1
	m.r[15] = 0
	if x != nil && (isLoad(x.op) || isStore(x.op)) {
		if x.n != 13 {
			m.r[x.n] = proofData + proofDataN/2 + uint32(g.IntN(64))*4 - 0x800
		}
		if x.m >= 0 && x.m != x.n {
			m.r[x.m] = uint32(g.IntN(64) * 4)
		}
	}
	m.setFlags(g.Uint32())
	return m
}

// engine runs T16 code.
type engine struct{ *unicorn.Engine }

func newEngine(t testing.TB, arch string) engine {
	e := unicorn.Open(t, arch)
	e.Map(proofCode, proofCodeN)
	e.Map(proofEnd, 0x1000)
	e.Map(proofData, proofDataN)
	e.Map(proofStack, proofStkN)
	return engine{e}
}

// why is the end of a run.
type why uint8

const (
	atStop why = iota // arrived at the stop address
	atEnd             // at a supervisor call
	broken            // a fault, or too many steps
)

// few is a number of instructions that a run with an end rarely needs, many one
// that all runs get by with whose parts got by with few.
const (
	few  = 400
	many = 100 * few
)

// run executes code, which is at proofCode, from an address on until stop
// or a supervisor call, at most limit instructions.
func (e engine) run(code []byte, thumb bool, m *cpu, from, stop uint32, limit int) (why, error) {
	var regs [15]uint32
	copy(regs[:], m.r[:15])
	end := []byte{0x00, 0xdf}
	if !thumb {
		end = []byte{0x00, 0x00, 0x00, 0xef}
	}
	s := unicorn.Snippet{Addr: from, Thumb: thumb, Stop: stop, Limit: limit, Regs: regs, Flags: m.flags(),
		Mem: []unicorn.Region{{Addr: proofCode, Data: code}, {Addr: proofEnd, Data: end},
			{Addr: proofData, Data: m.data}, {Addr: proofStack, Data: m.stk}}}
	r := e.Run(s)
	m.r = r.Regs
	m.setFlags(r.Flags)
	m.data, m.stk = r.Mem[2].Data, r.Mem[3].Data
	switch {
	case r.Why == unicorn.Reached:
		return atStop, nil
	case r.Why == unicorn.Raised && r.Exception == unicorn.ExceptionSVC:
		return atEnd, nil
	}
	return broken, fmt.Errorf("%s at %#x, fault %#x", r.Why, r.Regs[15], r.Fault)
}

// differ lists what differs between the state that was meant and the one that
// came out. except masks flags; regs lists registers not to look at.
func differ(want, got *cpu, except uint32, regs isa.RegList) string {
	var out []string
	for i := range 15 {
		if want.r[i] != got.r[i] && !regs.Has(isa.Reg(i)) {
			out = append(out, fmt.Sprintf("%s=%#x not %#x", isa.Reg(i), got.r[i], want.r[i]))
		}
	}
	if d := (want.flags() ^ got.flags()) &^ except; d != 0 {
		out = append(out, fmt.Sprintf("flags %x not %x", got.flags()>>28, want.flags()>>28))
	}
	for i := range want.data {
		if want.data[i] != got.data[i] {
			out = append(out, fmt.Sprintf("byte at %#x", proofData+i))
			break
		}
	}
	for i := range want.stk {
		if want.stk[i] != got.stk[i] && uint32(proofStack+i) >= want.r[13] {
			out = append(out, fmt.Sprintf("stack byte at sp%+d", int64(proofStack+i)-int64(want.r[13])))
			break
		}
	}
	return strings.Join(out, ", ")
}
