package isa_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// Where the emulated core has its code and its data.
const (
	codeAt = 0x8000
	dataAt = 0x2000_0000
	pages  = 0x3000
)

// notRun lists the rows that the emulator does not run as the manual has it,
// and why. What they do to registers is nothing, but for HLT and the like.
var notRun = map[string]string{
	"bkpt":      "raises an exception",
	"hlt":       "raises an exception",
	"svc":       "raises an exception",
	"udf":       "raises an exception",
	"udf-w":     "raises an exception",
	"yield":     "the emulator leaves it undefined",
	"wfe":       "the emulator leaves it undefined",
	"wfi":       "the emulator waits",
	"it":        "makes the next instructions conditional",
	"setend":    "the emulator's memory does not follow",
	"blx-label": "goes to A32 code",
	"blx-far":   "goes to A32 code",
}

// TestEffects runs every row on an emulated core, with random registers and
// flags: only the registers and flags that Effects calls written change, and
// nothing that the instruction does depends on a register or flag that Effects
// does not call read: with these changed the results are the same. Each
// register and flag that is called read has to matter in some case. The
// rewrites rest on this.
func TestEffects(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	tries, most := reftest.Size(20, 400, 4000), reftest.Size(400, 400, 4000)
	rnd := reftest.Rand(1, 2)
	engines := map[string]*unicorn.Engine{}
	runs, rows := 0, 0
	for _, r := range isa.Rows() {
		if notRun[r.ID] != "" || r.Vector() || r.Need&notEmulated != 0 || slices.ContainsFunc(notRunT, func(p string) bool { return strings.HasPrefix(r.ID, p) }) {
			continue
		}
		arch := ""
		var have isa.Features
		for _, a := range []string{"armv4t", "armv6", "armv6-m", "armv7-a", "armv7-m", "armv7ve", "armv8-a"} {
			if target, _ := isa.Arch(a); target.Have.Has(r.Need) {
				arch, have = a, target.Have
				break
			}
		}
		if arch == "" && features(t, "armv8.5-a").Has(r.Need) {
			arch, have = "armv8-a", features(t, "armv8.5-a")
		}
		if arch == "" {
			t.Errorf("row %s: on no architecture that is emulated", r.ID)
			continue
		}
		e := engines[arch]
		if e == nil {
			e = unicorn.Open(t, arch)
			e.Map(codeAt, pages)
			e.Map(dataAt, pages)
			engines[arch] = e
		}
		rows++
		done := 0
		c := cases{t: t, rnd: rnd, e: e, row: r, have: have}
		// What a flag does only now and then, as the carry in RRX, gets more tries,
		// and in a small sample what a register does.
		more := func() bool {
			return done < tries || c.flags != c.moved && done < 20*most || c.idle() && done < most
		}
		for n := 0; n < 200*most && more() && c.failed < 5; n++ {
			if c.once() {
				done++
			}
		}
		if done < tries && c.failed == 0 {
			t.Errorf("row %s: only %d cases ran", r.ID, done)
		}
		runs += c.runs
		c.matters()
	}
	for id := range notRun {
		if !slices.ContainsFunc(isa.Rows(), func(r *isa.Row) bool { return r.ID == id }) {
			t.Errorf("there is no row %s", id)
		}
	}
	proof.Counted("effects: %d rows, %d runs on the emulator", rows, runs)
}

// notRunT is notRun for T32 rows, by the start of their names: coprocessors,
// hints, exclusive access that the emulator watches in its own way or wants
// aligned to eight bytes, what raises an exception, and what needs a mode of its
// own or changes it, and with it the registers.
var notRunT = []string{"t-cdp", "t-ldc", "t-stc", "t-mcr", "t-mrc", "t-mrrc", "t-msr", "t-cps", "t-rfe", "t-srs", "t-subs-pc", "t-yield", "t-wfe", "t-wfi", "t-ldrexd", "t-strex", "t-ldaexd", "t-stlex", "t-pld", "t-pli",
	"t-smc", "t-hvc", "t-dcps", "t-mrs-banked", "t-setpan"}

// notEmulated are features that none of the emulated architectures has.
const notEmulated = isa.FeatSec

// notRunA is notRun for A32 rows, by patterns of their names, and why.
var notRunA = []struct{ rows, why string }{
	{`svc|bkpt|smc|hvc|hlt|udf`, "raises an exception"},
	{`mrs.*|msr.*|cps.*|setpan|bxj`, "hangs on the mode or changes it, and with it the registers"},
	{`rfe.*|eret`, "returns from an exception, of which there is none"},
	{`srs..`, "unpredictable in System mode, which the emulator runs in (DDI 0406, \"SRS\")"},
	{`cdp.*|mcr.*|mrc.*|mrrc.*|ldc.*|stc.*`, "the emulator has no such coprocessor"},
	{`ldrex.*|strex.*|ldaex.*|stlex.*|clrex`, "the emulator watches exclusive access in its own way"},
	{`setend`, "the emulator's memory does not follow"},
	{`yield|wfe|wfi|sev`, "the emulator waits or leaves it undefined"},
	{`dbg|dmb|dsb|isb|pld.*|pli.*`, "nothing to see in registers"},
	{`sel`, "reads flags that the emulator is not given"},
	{`(tst|teq|cmp|cmn)p-.*`, "of the 26-bit modes, which no emulated core has"},
	{`adrl`, "two instructions: TestEffectsTwo runs them"},
}

// nearA keeps the offsets of A32 loads and stores small, and lists without the
// user bank.
func nearA(r *isa.Row, w uint32) uint32 {
	if r.Access == 0 {
		return w
	}
	switch {
	case r.Has("imm12"):
		w &^= 0xc03
	case r.Has("imm8"):
		w &^= 3
	case r.Has("list"):
		w &^= 1 << 22
	case r.Has("imm5"):
		w &^= 0xfff << 4 & 0xff0 // no shift: the index is made small
	}
	return w
}

// emulatedA are the architectures that A32 rows run on, each with the features
// that it is taken to have: the first that has what a row needs runs it.
var emulatedA = []struct{ model, arch string }{{"armv7-a", "armv7-a"}, {"armv7ve", "armv7ve"}, {"armv8-a", "armv8.5-a"}}

// openA opens an emulator with memory for code and data.
func openA(t *testing.T, model string) *unicorn.Engine {
	e := unicorn.Open(t, model)
	e.Map(codeAt, pages)
	e.Map(dataAt, pages)
	return e
}

// TestEffectsA does for A32 what TestEffects does for Thumb state.
func TestEffectsA(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	tries := reftest.Size(10, 100, 1000)
	rnd := reftest.Rand(8, 9)
	out := make([]*regexp.Regexp, len(notRunA))
	hit := make([]bool, len(notRunA))
	for i, n := range notRunA {
		out[i] = regexp.MustCompile("^a-(" + n.rows + ")$")
	}
	engines := map[string]*unicorn.Engine{}
	runs, rows := 0, 0
	for _, r := range isa.RowsA32() {
		if r.Vector() {
			continue
		}
		if i := slices.IndexFunc(out, func(x *regexp.Regexp) bool { return x.MatchString(r.ID) }); i >= 0 {
			hit[i] = true
			continue
		}
		c := cases{t: t, rnd: rnd, row: r}
		for _, x := range emulatedA {
			if have := features(t, x.arch); have.Has(r.Need) && have&r.Lack == 0 {
				if engines[x.model] == nil {
					engines[x.model] = openA(t, x.model)
				}
				c.e, c.have = engines[x.model], have
				break
			}
		}
		if c.e == nil {
			t.Errorf("row %s: on no architecture that is emulated", r.ID)
			continue
		}
		rows++
		done := 0
		for n := 0; n < 200*tries && done < tries && c.failed < 3; n++ {
			if c.once() {
				done++
			}
		}
		if done < tries && c.failed == 0 {
			t.Errorf("row %s: only %d cases ran", r.ID, done)
		}
		runs += c.runs
	}
	for i, n := range notRunA {
		if !hit[i] {
			t.Errorf("there is no row %s", n.rows)
		}
	}
	proof.Counted("effects A32: %d rows, %d runs on the emulator", rows, runs)
}

// TestEffectsTwo runs what assembles to two instructions: ADRL leaves the
// address in its register and everything else as it was, or does nothing where
// its condition does not hold.
func TestEffectsTwo(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	target, _ := isa.Arch("armv7-a")
	e := openA(t, "armv7-a")
	rnd := reftest.Rand(10, 11)
	const at = codeAt + 0x1000
	for n := range 400 {
		name, far := []string{"adrl", "adreql"}[n%2], (rnd.IntN(1<<16)-1<<15)&^3
		text := fmt.Sprintf("%s r%d, .%+d", name, rnd.IntN(15), far)
		stmt := &syntax.Parse(text).Line(0).Stmts[0]
		m, ok := stmt.Mnemonic.Match(&isa.Query{Have: target.Have, A32: true}, operandsA(stmt, 0)) // targets are distances
		if !ok {
			t.Fatalf("%s is not taken", text)
		}
		s := unicorn.Snippet{Addr: at, Code: matchBytes(&m), Limit: 2, Flags: rnd.Uint32() & flagWord(isa.NZCV)}
		s.Stop = s.Addr + uint32(len(s.Code))
		for i := range s.Regs {
			s.Regs[i] = rnd.Uint32()
		}
		fx, rd := m.Effects(), isa.Reg(m.Values().Get("Rd"))
		if fx.Writes != 1<<rd || fx.Reads != 1<<isa.PC || fx.FlagsWritten != 0 || fx.ReadsMem || fx.WritesMem || fx.Conditional != (n%2 == 1) {
			t.Errorf("%s: effects %+v", text, fx)
		}
		want := s.Regs
		if !fx.Conditional || s.Flags&unicorn.FlagZ != 0 {
			want[rd] = uint32(at + far)
		}
		r := e.Run(s)
		if r.Why != unicorn.Reached || len(s.Code) != 8 || [15]uint32(r.Regs[:15]) != want || r.Flags != s.Flags {
			t.Errorf("%s (% x): %v, registers %08x, want %08x", text, s.Code, r.Why, r.Regs[:15], want)
		}
	}
}

// code lays the instruction out as memory has it.
func (c *cases) code(w uint32) []byte {
	if c.row.State == isa.A {
		return wordBytes(w)
	}
	return codeBytes(w, c.row.Size())
}

type cases struct {
	t            *testing.T
	rnd          *rand.Rand
	e            *unicorn.Engine
	row          *isa.Row
	have         isa.Features
	runs, failed int
	// What was read, and what made a difference, over all cases: whether some
	// register and some flag of those read did.
	flags, moved isa.Flags
	regs, acted  int
}

var flagBits = [4]uint32{unicorn.FlagN, unicorn.FlagZ, unicorn.FlagC, unicorn.FlagV}

func flagWord(f isa.Flags) (w uint32) {
	for i, b := range flagBits {
		if f>>i&1 != 0 {
			w |= b
		}
	}
	return w
}

func (c *cases) errorf(format string, args ...any) {
	c.t.Helper()
	c.failed++
	c.t.Errorf(format, args...)
}

// once runs one random instruction of the row a few times. It says false when
// the instruction is not one to run.
func (c *cases) once() bool {
	base, mask := c.row.Pattern()
	w := base | c.rnd.Uint32()&^mask
	first, second := uint16(w), uint16(0)
	if c.row.Size() == 4 {
		first, second = uint16(w>>16), uint16(w)
	}
	in, ok := isa.Decode(c.have, first, second)
	if c.row.State == isa.A {
		if w>>28 < 15 && c.row.Has("cond") && c.rnd.IntN(3) > 0 {
			w = w&^(0xf<<28) | 0xe<<28
		}
		w = nearA(c.row, w)
		in, ok = isa.DecodeA32(c.have, w)
	}
	if !ok || in.Row != c.row || in.Unpredictable {
		return false
	}
	fx := in.Effects()
	jumps := fx.Writes.Has(isa.PC) || fx.Flow == isa.FlowReg
	if c.row.State == isa.A && jumps && in.Values().Get("S") == 1 {
		return false // a return from an exception, of which there is none
	}
	memory := fx.ReadsMem || fx.WritesMem
	v := in.Values()
	rm, rn := isa.Reg(v.Get("Rm")), isa.Reg(v.Get("Rn"))
	index := c.row.Has("Rm") && memory
	if index && rm == rn {
		return false // no base and index that make an address
	}
	s := unicorn.Snippet{Addr: codeAt + 0x1000, Code: c.code(w), Thumb: c.row.State == isa.T, Limit: 1, Flags: c.rnd.Uint32() & flagWord(isa.NZCV)}
	s.Stop = s.Addr + uint32(c.row.Size())
	if v.Get("iflags") == 0 && c.row.Has("iflags") {
		return false
	}
	fill := func(regs *[15]uint32, keep isa.RegList) {
		for i := range regs {
			r := isa.Reg(i)
			if keep.Has(r) {
				continue
			}
			x := c.rnd.Uint32()
			if c.rnd.IntN(4) == 0 {
				x = uint32(c.rnd.IntN(70) * c.rnd.IntN(2)) // shifts, and results of zero
			}
			switch {
			case index && r == rm:
				x = x % 0x100 &^ 3
			case r == isa.SP, memory:
				x = dataAt + 0x800 + x%0x400&^3
			case jumps:
				x = codeAt + x%0x800&^1 | 1
			}
			regs[i] = x
		}
	}
	fill(&s.Regs, 0)
	data := make([]byte, 0x1800)
	for i := 0; i < len(data); i += 4 {
		x := c.rnd.Uint32()
		if jumps {
			x = codeAt + x%0x800&^1 | 1
		}
		binary.LittleEndian.PutUint32(data[i:], x)
	}
	s.Mem = []unicorn.Region{{Addr: dataAt, Data: data}}
	run := func(s unicorn.Snippet) (unicorn.Result, bool) {
		c.runs++
		r := c.e.Run(s)
		// A jump to where nothing is has been a jump all the same.
		return r, r.Why == unicorn.Reached || r.Why == unicorn.Limited || r.Why == unicorn.Faulted && (jumps || reaches(fx.Flow))
	}
	one, ok := run(s)
	if !ok {
		c.errorf("%s %s: %v", c.row.ID, in.Text(true, 0), one.Why)
		return false
	}
	at := func(r isa.Reg) string { return fmt.Sprintf("%s (%x): %v", in.Text(true, 0), w, r) }
	for i := range s.Regs {
		if r := isa.Reg(i); one.Regs[i] != s.Regs[i] && !fx.Writes.Has(r) {
			c.errorf("%s changes, and is not called written", at(r))
		}
	}
	if (one.Flags^s.Flags)&flagWord(isa.NZCV)&^flagWord(fx.FlagsWritten) != 0 {
		c.errorf("%s: flags change that are not called written: %08x", in.Text(true, 0), one.Flags^s.Flags)
	}
	if !fx.WritesMem && !bytes.Equal(one.Mem[0].Data, data) {
		c.errorf("%s: memory changes, and is not called written", in.Text(true, 0))
	}
	if !jumps && !reaches(fx.Flow) && one.Regs[15] != s.Stop {
		c.errorf("%s goes elsewhere, and is not called to", in.Text(true, 0))
	}

	// The same with everything else changed.
	same := func(two unicorn.Result) string {
		for i := range s.Regs {
			if fx.Writes.Has(isa.Reg(i)) && two.Regs[i] != one.Regs[i] {
				return isa.Reg(i).String()
			}
		}
		switch {
		case two.Regs[15] != one.Regs[15] || two.Fault != one.Fault || two.Thumb != one.Thumb:
			return "pc"
		case (two.Flags^one.Flags)&flagWord(fx.FlagsWritten) != 0:
			return fmt.Sprintf("flags %x", two.Flags^one.Flags)
		case !bytes.Equal(two.Mem[0].Data, one.Mem[0].Data):
			return "memory"
		}
		return ""
	}
	other := s
	keep, kept := fx.Reads, fx.FlagsRead
	if fx.Conditional {
		// What is not done leaves the old values.
		keep, kept = keep|fx.Writes, kept|fx.FlagsWritten
	}
	if slices.Contains([]string{"MUL", "MLA", "UMULL", "UMLAL", "SMULL", "SMLAL"}, in.Row.Name) {
		kept |= fx.FlagsWritten & (isa.C | isa.V) // which ARMv4 spoils, and the emulated core leaves
	}
	fill(&other.Regs, keep)
	other.Flags = s.Flags&flagWord(kept) | c.rnd.Uint32()&flagWord(isa.NZCV&^kept)
	if two, ok := run(other); !ok {
		c.errorf("%s: with other registers %v", in.Text(true, 0), two.Why)
	} else if d := same(two); d != "" {
		c.errorf("%s (%x): %s hangs on what is not called read", in.Text(true, 0), w, d)
	}

	// And with just one register or flag changed that is read.
	for i := range flagBits {
		if f := isa.Flags(1 << i); fx.FlagsRead&f != 0 {
			c.flags |= f
			x := s
			x.Flags ^= flagBits[i]
			if two, ok := run(x); ok && same(two) != "" {
				c.moved |= f
			}
		}
	}
	for i := range s.Regs {
		if fx.Reads.Has(isa.Reg(i)) {
			c.regs++
			x := s
			bit := 2 + c.rnd.IntN(6)
			if c.row.Size() == 4 && !memory && !jumps {
				bit = c.rnd.IntN(32)
			}
			if x.Regs[i] ^= 1 << bit; index && isa.Reg(i) == rm {
				x.Regs[i] = s.Regs[i] ^ 4
			}
			if two, ok := run(x); ok && same(two) != "" {
				c.acted++
			}
		}
	}
	return true
}

// idle says whether registers that are called read made next to no difference.
func (c *cases) idle() bool { return c.regs > 0 && c.acted <= c.regs/200 }

// matters fails when nothing that is called read ever made a difference.
func (c *cases) matters() {
	if c.flags != c.moved {
		c.errorf("row %s: of the flags %v only %v make a difference", c.row.ID, c.flags, c.moved)
	}
	if c.idle() {
		c.errorf("row %s: of %d changes to registers that are called read only %d make a difference", c.row.ID, c.regs, c.acted)
	}
}

// TestFallsThrough holds that what is said to go on to the next instruction does so by
// its effects, and that this is said of nearly all that does.
func TestFallsThrough(t *testing.T) {
	t.Parallel()
	proof := reftest.Begin(t)
	rnd := reftest.Rand(3, 4)
	said, goOn := 0, 0
	look := func(in isa.Inst, ok bool) {
		if !ok || !in.Row.Described() {
			return
		}
		e := in.Effects()
		on := e.Flow == isa.FlowNext && !e.Writes.Has(isa.PC)
		if on {
			goOn++
		}
		if in.FallsThrough() {
			if said++; !on {
				t.Errorf("%s: %s goes on, but its effects are %+v", in.Row.ID, in.Text(true, 0), e)
			}
		}
	}
	for _, arch := range []string{"armv7-a", "armv7e-m", "armv8-a", "armv8-m.main"} {
		target, _ := isa.Arch(arch)
		for n := range 1 << 16 {
			look(isa.Decode(target.Have, uint16(n), 0))
		}
		for range reftest.Size(20_000, 300_000, 3_000_000) {
			w := rnd.Uint32()
			look(isa.DecodeA32(target.Have, w))
			look(isa.Decode(target.Have, uint16(w>>16|0xe800), uint16(w)))
		}
	}
	proof.Counted("falls through: said of %d, %d do", said, goOn)
	if said < goOn*9/10 {
		t.Errorf("said of %d only, and %d do", said, goOn)
	}
}
