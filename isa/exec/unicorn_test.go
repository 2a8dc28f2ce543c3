package exec_test

import (
	"encoding/binary"
	"fmt"
	"math/bits"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// Where the emulated core has its code and its data.
const (
	codeAt = 0x8000
	dataAt = 0x2000_0000
	space  = 0x4000
	here   = codeAt + 0x2000 // the instruction
	middle = dataAt + 0x2000 // what base registers are near
)

// cores are the architectures that are compared, each with the features that it is
// taken to have: those of the emulator's model.
var cores = []struct{ model, arch string }{
	{"armv4t", "armv4t"}, {"armv5te", "armv5te"}, {"armv6", "armv6"}, {"armv6-m", "armv6s-m"}, {"armv7-m", "armv7-m"}, {"armv7e-m", "armv7e-m"},
	{"armv7-a", "armv7-a"}, {"armv7ve", "armv7ve"}, {"armv8-a", "armv8.5-a"},
}

// notRun lists the rows that the emulator does not run as the manual has it, by
// patterns of their names, and why.
var notRun = []struct{ rows, why string }{
	{`yield|wfe|wfi|t-(yield|wfe|wfi)-w|a-(yield|wfe|wfi)`, "hints: the emulator leaves them undefined, or waits; TestUserMode runs them"},
	{`hlt|a-hlt`, "the emulator has no debugger, and leaves it undefined; TestUserMode runs it"},
	{`[at]-(smc|hvc)`, "the emulator has neither monitor nor hypervisor to call; TestUserMode runs them"},
	{`[at]-setpan`, "the emulator leaves it undefined"},
	{`a-eret|t-subs-pc|a-rfe..`, "returns from an exception, of which there is none"},
	{`a-(tst|teq|cmp|cmn)p-.*`, "of the 26-bit modes, which no emulated core has"},
	{`bxns|blxns|t-sg|t-tt.*`, "the emulated cores have no Security Extension of ARMv8-M"},
}

// differences are what the emulator does otherwise than the manual has it. Each has
// to be met in a whole run.
var differences = []struct {
	why string
	is  func(c *comparison) bool
}{
	{"the emulator lets a misaligned multiple transfer pass (DDI 0406C, A3.2.1 and DDI 0403E, A3.2.1: an alignment fault; the emulator's documented limit)", func(c *comparison) bool {
		return c.got.End == exec.Misaligned && (c.want.Why != unicorn.Raised || c.want.Exception == prefetchAbort)
	}},
	{"the emulator accesses bytes where they are up to ARMv5 as well (DDI 0100I, A4, LDR: what is loaded is rotated; the emulator's documented limit)", func(c *comparison) bool {
		return c.got.Rounded
	}},
	{"the emulator leaves hints by the numbers of YIELD and WFE undefined before ARMv6K (DDI 0406C, A5.2.11: they execute as NOP)", func(c *comparison) bool {
		return c.row.ID == "a-nop-hint" && c.want.Why == unicorn.Undefined
	}},
	{"the emulator keeps bits 1 and 0 of sp in M profile (DDI 0403E, B1.4.1: they are always 0)", func(c *comparison) bool {
		return c.have&isa.FeatM != 0 && c.only("sp") && c.want.Regs[13]&^3 == c.state.Regs[13]
	}},
}

// comparison is one case.
type comparison struct {
	row   *isa.Row
	have  isa.Features
	text  string
	got   exec.Result
	state exec.State
	want  unicorn.Result
	diff  []string
}

// only says whether nothing else differs.
func (c *comparison) only(what ...string) bool {
	return !slices.ContainsFunc(c.diff, func(d string) bool { return !slices.Contains(what, d) })
}

// prefetchAbort is the emulator's number of that exception (from memory).
const prefetchAbort = 3

// stay is a branch to itself.
var stay = [2][]byte{isa.A: {0xfe, 0xff, 0xff, 0xea}, isa.T: {0xfe, 0xe7}}

// msr is the row that writes special registers.
var msr = func() *isa.Row {
	in, _ := isa.Decode(isa.FeatM|isa.FeatT16, 0xf380, 0x8809)
	return in.Row
}()

// values are boundary values of registers.
var values = []uint32{0, 1, 2, 31, 32, 33, 0x7f, 0x80, 0xff, 0x100, 0x7fff, 0x8000, 0xffff, 0x10000, 0x7fffffff, 0x80000000, 0x80000001, 0xffffff00, 0xffff8000, 0xfffffffe, 0xffffffff, 0x55555555, 0xaaaaaaaa}

// bench runs instructions on both.
type bench struct {
	t       *testing.T
	rnd     *rand.Rand
	engine  map[string]*unicorn.Engine
	met     []int
	failed  map[string]int
	skipped int // cases that the architecture leaves open
	runs    int
}

func newBench(t *testing.T, a, b uint64) *bench {
	return &bench{t: t, rnd: reftest.Rand(a, b), engine: map[string]*unicorn.Engine{}, met: make([]int, len(differences)), failed: map[string]int{}}
}

func (b *bench) open(model string) *unicorn.Engine {
	if b.engine[model] == nil {
		e := unicorn.Open(b.t, model)
		e.Map(codeAt, space)
		e.Map(dataAt, space)
		e.Fill(codeAt, stay[isa.T], space/2)
		b.engine[model] = e
	}
	return b.engine[model]
}

// number is a random register value, often at a boundary.
func (b *bench) number() uint32 {
	switch b.rnd.IntN(4) {
	case 0:
		return values[b.rnd.IntN(len(values))]
	case 1:
		return uint32(b.rnd.IntN(70))
	}
	return b.rnd.Uint32()
}

// fill is random memory that is the same for one seed. With jumps the code's space is
// filled with branches to themselves, so that the emulator stays where it has gone, and
// words of data are addresses in it.
func fill(seed uint32, jumps bool) func(addr uint32) byte {
	return func(addr uint32) byte {
		if jumps && addr-codeAt < space {
			return stay[isa.T][addr&1]
		}
		x := (addr>>2 ^ seed) * 0x9e3779b1
		x = (x ^ x>>15) * 0x85ebca77
		x ^= x >> 13
		if jumps {
			x = codeAt + x%(space-64)
		}
		return byte(x >> (8 * (addr & 3)))
	}
}

// code lays an instruction out as memory has it.
func code(r *isa.Row, w uint32) []byte {
	switch {
	case r.State == isa.A:
		return binary.LittleEndian.AppendUint32(nil, w)
	case r.Size() == 2:
		return binary.LittleEndian.AppendUint16(nil, uint16(w))
	}
	return binary.LittleEndian.AppendUint32(nil, bits.RotateLeft32(w, 16))
}

// decode reads an instruction of the row.
func decode(r *isa.Row, have isa.Features, w uint32) (in isa.Inst, ok bool) {
	switch {
	case r.State == isa.A:
		in, ok = isa.DecodeA32(have, w)
	case r.Size() == 2:
		in, ok = isa.Decode(have, uint16(w), 0)
	default:
		in, ok = isa.Decode(have, uint16(w>>16), uint16(w))
	}
	return in, ok && in.Row == r && !in.Unpredictable
}

// loadFor is the exclusive load of r0, and r1, that goes with a store, or now and then one
// from elsewhere: the emulator knows the mark of the run before. It is nil for other rows;
// ok is false where the store has no load.
func (b *bench) loadFor(r *isa.Row, v isa.Values) (load []byte, ok bool) {
	id := strings.NewReplacer("strex", "ldrex", "stlex", "ldrex").Replace(r.ID)
	rn := v.Get("Rn")
	switch {
	case id == r.ID:
		return nil, true
	case rn < 2:
		return nil, false
	case b.rnd.IntN(4) == 0:
		rn = uint32(isa.SP)
	}
	rows := isa.Rows()
	if r.State == isa.A {
		rows = isa.RowsA32()
	}
	l := rows[slices.IndexFunc(rows, func(x *isa.Row) bool { return x.ID == id })]
	w, _ := l.Pattern()
	w |= rn<<16 | v.Get("imm8")
	if l.Has("cond") {
		w |= uint32(isa.AL) << 28
	}
	if l.Has("Rt2") {
		w |= 1 << 8
	}
	return code(l, w), true
}

// once runs one random instruction of the row, in one case of four after an IT. It
// says false where the instruction is none to run.
func (b *bench) once(r *isa.Row, model string, have isa.Features) bool {
	base, mask := r.Pattern()
	w := base | b.rnd.Uint32()&^mask
	if r.State == isa.A && r.Has("cond") && b.rnd.IntN(3) > 0 {
		w = w&^(0xf<<28) | 0xe<<28
	}
	in, ok := decode(r, have, w)
	if !ok {
		return false
	}
	fx, v := in.Effects(), in.Values()
	memory := fx.ReadsMem || fx.WritesMem
	jumps := fx.Writes.Has(isa.PC) || fx.Flow != isa.FlowNext
	rn, rm := isa.Reg(v.Get("Rn")), isa.Reg(v.Get("Rm"))
	index := memory && r.Has("Rm")
	if index && (rn == rm || rm == isa.SP) {
		return false // no base and index that make an address
	}

	seed := b.rnd.Uint32()
	mem := exec.NewSparse(fill(seed, jumps))
	s := exec.State{Set: r.State, Have: have, Mem: mem, Flags: isa.Flags(b.rnd.IntN(16)), Q: b.rnd.IntN(2) == 0}
	if have&isa.FeatM == 0 {
		s.Masked = 3 // as the emulator starts
	}
	if have.Has(isa.FeatA32 | isa.FeatV6) {
		s.GE = uint8(b.rnd.IntN(16))
	}
	for i := range s.Regs[:15] {
		x := b.number()
		switch g := isa.Reg(i); {
		case index && g == rm:
			x = uint32(b.rnd.IntN(0x200)) - 0x100
		case memory && (r.Has("Rn") && g == rn || g == isa.SP):
			x = middle + uint32(b.rnd.IntN(0x400))
			if b.rnd.IntN(8) > 0 {
				x &^= 3
			}
		case jumps && g != isa.SP:
			x = codeAt + uint32(b.rnd.IntN(space-64))
		case g == isa.SP && have&isa.FeatM != 0:
			x &^= 3 // bits 1 and 0 are 0 always (DDI 0419, B1.4.1)
		}
		s.Regs[i] = x
	}
	block := r.State == isa.T && have.Has(isa.FeatT32) && r.IT != isa.ITNever && b.rnd.IntN(4) == 0
	// What runs before it on both: an IT, and what gives special registers a value.
	var text []byte
	steps := 1
	if r.Need&isa.FeatM != 0 {
		text = append(text, code(msr, 0xf3808809)...) // msr psp, r0
		s.Regs[0] &^= 3
		steps++
		if have.Has(isa.FeatT32) {
			text = append(text, code(msr, 0xf3818811)...) // msr basepri, r1
			text = append(text, code(msr, 0xf3818813)...) // msr faultmask, r1
			steps += 2
		}
	}
	if have.Has(isa.FeatM | isa.FeatDSP) { // GE does not come with the flags
		text = append(text, code(msr, 0xf3808400)...) // msr apsr_g, r0
		steps++
	}
	if l, ok := b.loadFor(r, v); !ok {
		return false
	} else if l != nil { // it marks the address
		text = append(text, l...)
		steps++
	}
	if block {
		c := b.rnd.IntN(14)
		text = binary.LittleEndian.AppendUint16(text, uint16(0xbf08|c<<4))
		steps++
	}
	s.Regs[15] = here - uint32(len(text))
	start, flags := s.Regs, s.Flags
	text = append(text, code(r, w)...)
	// After some instructions the emulator neither counts nor stops where it should: a
	// branch to itself keeps it there.
	stop := s.Regs[15] + uint32(len(text))
	text = append(text, stay[r.State]...)
	for i, x := range text {
		mem.Store(s.Regs[15]+uint32(i), x)
	}
	snippet := unicorn.Snippet{Addr: s.Regs[15], Code: text, Thumb: r.State == isa.T, Limit: steps + 4, Stop: stop, Regs: [15]uint32(start[:15]), Flags: flagWord(&s)}
	for ; steps > 1; steps-- {
		half := func(at uint32) uint16 { return uint16(mem.Load(at)) | uint16(mem.Load(at+1))<<8 }
		a, c := half(s.Regs[15]), half(s.Regs[15]+2)
		first, _ := isa.Decode(have, a, c)
		if s.Set == isa.A {
			first, _ = isa.DecodeA32(have, uint32(c)<<16|uint32(a))
		}
		if r := exec.Step(first.Values(), &s); r.End != exec.Done {
			return false // the load is at a misaligned address
		}
	}
	c := comparison{row: r, have: have, got: exec.Step(v, &s), state: s}
	c.text = fmt.Sprintf("%s on %s: %s (%08x, block %v) from %08x, %v", r.ID, model, in.Text(true, 0), w, block, start[:15], flags)
	if c.got.End == exec.Unpredictable {
		b.skipped++
		return false
	}
	if c.got.End == exec.NotModelled || s.Control&1 != 0 {
		return false // from unprivileged mode the emulator's next run would find no way out
	}
	if pc := s.Regs[15]; c.got.End == exec.Done && pc != stop && (pc >= snippet.Addr && pc < snippet.Addr+uint32(len(text)) || pc-dataAt < space) {
		return false // it would go round and round, into half an instruction, or take data for code
	}
	// The emulator gets the memory around what has been accessed, as it was; now and
	// then all of it, for stores that should not have been.
	before := exec.NewSparse(fill(seed, jumps))
	for i, x := range text {
		before.Store(snippet.Addr+uint32(i), x)
	}
	region := func(addr, size uint32) {
		d := make([]byte, size)
		for i := range d {
			d[i] = before.Load(addr + uint32(i))
		}
		snippet.Mem = append(snippet.Mem, unicorn.Region{Addr: addr, Data: d})
	}
	for _, a := range s.Log {
		if inside := func(at uint32) bool { return a.Addr >= at+16 && a.Addr < at+space-16 }; !inside(codeAt) && !inside(dataAt) {
			return false
		}
	}
	if memory && b.rnd.IntN(16) == 0 || c.got.End == exec.Misaligned {
		region(dataAt, space)
	}
	for _, a := range s.Log {
		if !slices.ContainsFunc(snippet.Mem, func(r unicorn.Region) bool {
			return a.Addr >= r.Addr+8 && a.Addr+4 <= r.Addr+uint32(len(r.Data))-8
		}) {
			start := (a.Addr - 8) &^ 3
			region(start, min(80, space-start%space))
		}
	}
	c.want = b.open(model).Run(snippet)
	b.open(model).Fill(snippet.Addr, stay[isa.T], len(text)/2)
	if c.got.End == exec.Misaligned { // and the emulator may have stored all the same
		b.open(model).Fill(codeAt, stay[isa.T], space/2)
	}
	if !jumps {
		for i := range snippet.Mem {
			if m := &snippet.Mem[i]; m.Addr-codeAt < space {
				b.open(model).Fill(m.Addr, stay[isa.T], len(m.Data)/2)
			}
		}
	}
	b.runs++
	c.compare(mem, snippet.Stop)
	if len(c.diff) == 0 {
		return true
	}
	for i, d := range differences {
		if d.is(&c) {
			b.met[i]++
			return true
		}
	}
	if b.failed[r.ID]++; b.failed[r.ID] <= 2 {
		b.t.Errorf("%s: %v differ: %v %08x %v %v, emulator %v %08x %08x %v exception %d", c.text, c.diff, c.got, s.Regs, s.Flags, s.Set, c.want.Why, c.want.Regs, c.want.Flags, c.want.Thumb, c.want.Exception)
	}
	return true
}

func flagBits(f isa.Flags) (w uint32) {
	for i, x := range []uint32{unicorn.FlagN, unicorn.FlagZ, unicorn.FlagC, unicorn.FlagV} {
		if f>>i&1 != 0 {
			w |= x
		}
	}
	return w
}

func flagWord(s *exec.State) uint32 {
	w := flagBits(s.Flags) | uint32(s.GE)<<16
	if s.Q {
		w |= unicorn.FlagQ
	}
	return w
}

// compare notes what differs.
func (c *comparison) compare(mem *exec.Sparse, stop uint32) {
	differ := func(what string, is bool) {
		if is {
			c.diff = append(c.diff, what)
		}
	}
	switch c.got.End {
	case exec.Undefined:
		differ("end", c.want.Why != unicorn.Undefined)
		return
	case exec.Misaligned:
		differ("end", c.want.Why != unicorn.Raised || c.want.Exception != unicorn.ExceptionDataAbort)
		return
	case exec.Trapped:
		number := map[isa.Trap]int{isa.TrapSVC: unicorn.ExceptionSVC, isa.TrapBKPT: unicorn.ExceptionBKPT}[c.got.Trap]
		differ("end", c.want.Why != unicorn.Raised || c.want.Exception != number)
	case exec.Done:
		// Where there is no next instruction, that has been a jump all the same.
		outside := c.want.Exception == prefetchAbort && c.state.Regs[15]-codeAt >= space
		differ("end", c.want.Why == unicorn.Raised && !outside || c.want.Why == unicorn.Failed || c.want.Why == unicorn.Undefined && c.state.Regs[15] == stop)
		differ("state", c.want.Thumb != (c.state.Set == isa.T))
	}
	for i := range 15 {
		differ(isa.Reg(i).String(), c.want.Regs[i] != c.state.Regs[i])
	}
	if c.got.End != exec.Trapped {
		differ("pc", c.want.Regs[15] != c.state.Regs[15])
	}
	differ("flags", (c.want.Flags^flagWord(&c.state))&^flagBits(c.got.Unknown) != 0)
	for _, r := range c.want.Mem {
		for i, x := range r.Data {
			if mem.Load(r.Addr+uint32(i)) != x {
				differ("memory", true)
				return
			}
		}
	}
}

// TestUnicorn holds what rows do against an emulated core: from random states and
// from those at boundaries, in IT blocks and outside, on each architecture that has
// the row and is emulated.
func TestUnicorn(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	least := reftest.Count(24, 1000, 5000)
	b := newBench(t, 30, 31)
	out := make([]*regexp.Regexp, len(notRun))
	hit := make([]bool, len(notRun))
	for i, n := range notRun {
		out[i] = regexp.MustCompile("^(" + n.rows + ")$")
	}
	rows, described, all := 0, 0, 0
	for _, r := range slices.Concat(isa.Rows(), isa.RowsA32()) {
		if r.Vector() {
			continue
		}
		all++
		if r.Described() {
			described++
		}
		if i := slices.IndexFunc(out, func(x *regexp.Regexp) bool { return x.MatchString(r.ID) }); i >= 0 {
			hit[i] = true
			continue
		}
		if !r.Described() {
			continue
		}
		var on []int
		have := make([]isa.Features, len(cores))
		for i, x := range cores {
			target, ok := isa.Arch(x.arch)
			if !ok {
				t.Fatalf("no architecture %s", x.arch)
			}
			have[i] = target.Have
			if target.Have.Has(r.Need) && target.Have&r.Lack == 0 && (r.State == isa.T || target.Have.Has(isa.FeatA32)) {
				on = append(on, i)
			}
		}
		if len(on) == 0 {
			t.Errorf("row %s: on no architecture that is emulated", r.ID)
			continue
		}
		done := 0
		for n := 0; n < 300*least && done < least && b.failed[r.ID] < 3; n++ {
			i := on[n%len(on)]
			if b.once(r, cores[i].model, have[i]) {
				done++
			}
		}
		if done < least && b.failed[r.ID] == 0 {
			t.Errorf("row %s: only %d cases ran", r.ID, done)
		}
		rows++
	}
	for i, n := range notRun {
		if !hit[i] && !reftest.Part() {
			t.Errorf("there is no row %s", n.rows)
		}
	}
	for i, n := range b.met {
		if n == 0 && !reftest.Part() {
			t.Errorf("not met: %s", differences[i].why)
		}
	}
	proof.Counted("semantics: %d rows of %d, %d of them run, %d states, differences that are listed: %v", described, all, rows, b.runs, b.met)
}
