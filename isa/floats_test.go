package isa_test

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// notRunFloats lists the rows of floating point that the emulator does not run as the
// manual has it, by patterns of their names, and why.
var notRunFloats = []struct{ rows, why string }{
	{`.*-h|.*f16-[su](16|32)(-fixed)?|.*[su](16|32)-f16(-fixed)?|vmovx|vins|vcvt[bt]-bf16-f32`, "arithmetic of half precision and BFloat16, which the emulator leaves undefined in A32 and T32"},
}

// roundsByMode are the rows that the emulator rounds as FPSCR says, and the manual to the
// nearest (DDI 0406C, A8.8.308, "VCVT (between floating-point and fixed-point, VFP)": "The
// fixed-point to floating-point operation uses the Round to Nearest rounding mode").
var roundsByMode = regexp.MustCompile(`^[at]-vcvt-f32-[su]32-fixed$`)

// floatCase is one instruction in one state.
type floatCase struct {
	t    *testing.T
	rnd  *rand.Rand
	e    *unicorn.Engine
	row  *isa.Row
	have isa.Features
	runs int
	fail int
	// What was read in some case, and what made a difference when it was changed: single
	// words by number of the name, parts of FPSCR, core registers, memory.
	read, acted map[string]bool
}

// floatNumbers are single words and double ones of all kinds: zeros, the smallest, those
// around one, whole numbers and halves, large ones, infinities and NaNs.
var floatNumbers = []uint64{0, 1 << 63, 1, 0x000fffffffffffff, 0x0010000000000000, 0x3ff0000000000000, 0xbff8000000000000, 0x4004000000000000, 0x3fe0000000000000, 0x41dfffffffc00000, 0x41f0000000000000,
	0x7fefffffffffffff, 0x7ff0000000000000, 0xfff0000000000000, 0x7ff8000000000001, 0x7ff0000000000001, 0x3fd5555555555555, 0x36a0000000000001, 0x380fffffffffffff,
	0x00000001_80000001, 0x3f800000_3f800001, 0x40200000_c0200000, 0x3f000000_3eaaaaab, 0x7f7fffff_7f800000, 0x7fc00000_7f800001, 0x007fffff_00800000, 0x4f000000_4effffff, 0x33800001_47800000, 0x4b000001_3e000000,
	0x00007c01_00007e00, 0x7c013c00_3555fbff, 0x0001_03ff_0001_83ff, 0x0ccccccd_8ccccccd}

// fill gives the registers other values, those of keep apart. same keeps the parts of
// FPSCR.
func (c *floatCase) fill(f *unicorn.Floats, keep isa.FloatWords, same isa.FloatParts) {
	for i := range 32 {
		var v uint64
		switch c.rnd.IntN(3) {
		case 0:
			v = c.rnd.Uint64()
		case 1:
			v = floatNumbers[c.rnd.IntN(len(floatNumbers))]
		default:
			v = floatNumbers[c.rnd.IntN(len(floatNumbers))] ^ uint64(c.rnd.IntN(4))<<c.rnd.IntN(63)
		}
		mask := uint64(0)
		if keep>>(2*i)&1 != 0 {
			mask |= 0xffffffff
		}
		if keep>>(2*i+1)&1 != 0 {
			mask |= 0xffffffff << 32
		}
		f.D[i] = f.D[i]&mask | v&^mask
	}
	kept := floatMask(same)
	f.FPSCR = f.FPSCR&kept | c.rnd.Uint32()&^kept&(floatMask(isa.FloatFlags)|floatMask(isa.FloatModes)|floatMask(isa.FloatExceptions))
}

const allFloat = isa.FloatFlags | isa.FloatModes | isa.FloatExceptions

// floatMask are the bits of FPSCR of some parts (DDI 0406C, B4.1.58). The length and stride
// of vectors, which later cores lack, and traps of exceptions are only in all of them.
func floatMask(p isa.FloatParts) (m uint32) {
	if p == allFloat {
		return ^uint32(0)
	}
	if p&isa.FloatFlags != 0 {
		m |= 0xf0000000
	}
	if p&isa.FloatModes != 0 {
		m |= 0x07c00000
	}
	if p&isa.FloatExceptions != 0 {
		m |= 0x0000009f
	}
	return m
}

func floatWords(f *unicorn.Floats) (w [64]uint32) {
	for i, d := range f.D {
		w[2*i], w[2*i+1] = uint32(d), uint32(d>>32)
	}
	return w
}

// draw makes a random instruction of the row and a state.
func (c *floatCase) draw() (in isa.Inst, s unicorn.Snippet, ok bool) {
	base, mask := c.row.Pattern()
	w := base | c.rnd.Uint32()&^mask
	if c.row.State == isa.A {
		if c.row.Has("cond") {
			w = w&^(0xf<<28) | 0xe<<28
		}
		in, ok = isa.DecodeA32(c.have, w)
	} else {
		in, ok = isa.Decode(c.have, uint16(w>>16), uint16(w))
	}
	v := in.Values()
	if !ok || in.Row != c.row || in.Unpredictable || c.row.Has("reg") && v.Get("reg") != 1 {
		return in, s, false
	}
	code := codeBytes(w, 4)
	if c.row.State == isa.A {
		code = wordBytes(w)
	}
	s = unicorn.Snippet{Addr: codeAt + 0x1000, Code: code, Thumb: c.row.State == isa.T, Limit: 1, Flags: c.rnd.Uint32() & flagWord(isa.NZCV), Floats: &unicorn.Floats{}}
	s.Stop = s.Addr + 4
	c.registers(&s.Regs, 0)
	c.fill(s.Floats, 0, 0)
	data := make([]byte, 0x1800)
	for i := range data {
		data[i] = byte(c.rnd.Uint32())
	}
	s.Mem = []unicorn.Region{{Addr: dataAt, Data: data}}
	return in, s, true
}

func (c *floatCase) registers(regs *[15]uint32, keep isa.RegList) {
	memory := c.row.Access > 0
	for i := range regs {
		if x := c.rnd.Uint32(); !keep.Has(isa.Reg(i)) {
			if regs[i] = x; memory || isa.Reg(i) == isa.SP {
				regs[i] = dataAt + 0x900 + x%0x300&^7
			}
		}
	}
}

// once runs one instruction, and says whether it was one to run.
func (c *floatCase) once() bool {
	in, s, ok := c.draw()
	if !ok {
		return false
	}
	core, fx := in.Effects(), in.Floats()
	if roundsByMode.MatchString(c.row.ID) {
		fx.PartsRead |= isa.FloatModes
	}
	run := func(s unicorn.Snippet) unicorn.Result {
		c.runs++
		return c.e.Run(s)
	}
	errorf := func(format string, args ...any) {
		c.fail++
		c.t.Errorf("%s %s: "+format, append([]any{c.row.ID, in.Text(true, 0)}, args...)...)
	}
	one := run(s)
	if one.Why == unicorn.Faulted { // an address from PC, where there is no data
		return false
	}
	if one.Why != unicorn.Reached {
		errorf("%v", one.Why)
		return false
	}
	if what := c.unchanged(&core, &fx, &s, &one); what != "" {
		errorf("%s changes, and is not called written", what)
	}
	same := func(two *unicorn.Result) string { return differs(&core, &fx, &one, two) }

	// With everything changed that is not called read.
	other := s
	floats := *s.Floats
	other.Floats = &floats
	c.registers(&other.Regs, core.Reads)
	c.fill(&floats, fx.Reads, fx.PartsRead|fx.PartsWritten&isa.FloatExceptions) // which are only set
	other.Flags = s.Flags&flagWord(core.FlagsRead) | c.rnd.Uint32()&flagWord(isa.NZCV&^core.FlagsRead)
	if two := run(other); two.Why != unicorn.Reached {
		errorf("with other registers %v", two.Why)
	} else if d := same(&two); d != "" {
		errorf("%s hangs on what is not called read", d)
	}
	c.each(&core, &fx, &s, run, same)
	return true
}

// each changes one thing that is called read at a time, and notes what matters.
func (c *floatCase) each(core *isa.Effects, fx *isa.FloatEffects, s *unicorn.Snippet, run func(unicorn.Snippet) unicorn.Result, same func(*unicorn.Result) string) {
	note := func(what string, change func(x *unicorn.Snippet, f *unicorn.Floats)) {
		if c.read[what] = true; c.acted[what] {
			return
		}
		x, f := *s, *s.Floats
		x.Floats = &f
		change(&x, &f)
		two := run(x)
		c.acted[what] = two.Why != unicorn.Reached || same(&two) != ""
	}
	for i, name := range fx.ReadNames {
		note(fmt.Sprintf("register %d", i), func(x *unicorn.Snippet, f *unicorn.Floats) {
			var words isa.FloatWords
			for w := range 64 {
				if bit := isa.FloatWords(1) << w; fx.Reads&bit != 0 && (len(fx.ReadNames) == 1 || named(name, w)) {
					words |= bit
				}
			}
			c.fill(f, ^words, allFloat)
		})
	}
	for p := isa.FloatFlags; p <= isa.FloatExceptions; p <<= 1 {
		if fx.PartsRead&p != 0 {
			note(p.String(), func(_ *unicorn.Snippet, f *unicorn.Floats) { c.fill(f, ^isa.FloatWords(0), allFloat&^p) })
		}
	}
	for r := range isa.Reg(15) {
		if core.Reads.Has(r) {
			note("core register", func(x *unicorn.Snippet, _ *unicorn.Floats) { c.registers(&x.Regs, ^isa.RegList(1<<r)) })
		}
	}
	if core.FlagsRead != 0 {
		note("flags", func(x *unicorn.Snippet, _ *unicorn.Floats) { x.Flags = c.rnd.Uint32() & flagWord(isa.NZCV) })
	}
	if core.ReadsMem {
		note("memory", func(x *unicorn.Snippet, _ *unicorn.Floats) {
			d := bytes.Clone(s.Mem[0].Data)
			for i := range d {
				d[i] ^= 0x41
			}
			x.Mem = []unicorn.Region{{Addr: dataAt, Data: d}}
		})
	}
}

// named says whether a word is one of a register, or some, by name.
func named(name string, w int) bool {
	var n, lane int
	if k, _ := fmt.Sscanf(name, "d%d[%d]", &n, &lane); k == 2 {
		return w == 2*n+lane
	}
	if k, _ := fmt.Sscanf(name, "d%d", &n); k == 1 {
		return w/2 == n
	}
	fmt.Sscanf(name, "s%d", &n)
	return w == n
}

// unchanged says what has changed and is not called written.
func (c *floatCase) unchanged(core *isa.Effects, fx *isa.FloatEffects, s *unicorn.Snippet, r *unicorn.Result) string {
	for i := range s.Regs {
		if x := isa.Reg(i); r.Regs[i] != s.Regs[i] && !core.Writes.Has(x) {
			return x.String()
		}
	}
	was, is := floatWords(s.Floats), floatWords(r.Floats)
	for i := range was {
		if was[i] != is[i] && fx.Writes>>i&1 == 0 {
			return fmt.Sprintf("word %d", i)
		}
	}
	switch d := s.Floats.FPSCR ^ r.Floats.FPSCR; {
	case d&^floatMask(fx.PartsWritten) != 0:
		return fmt.Sprintf("FPSCR %x", d)
	case d&floatMask(isa.FloatExceptions)&s.Floats.FPSCR != 0 && fx.PartsWritten&isa.FloatModes == 0:
		return "an exception bit that is cleared"
	case (r.Flags^s.Flags)&flagWord(isa.NZCV)&^flagWord(core.FlagsWritten) != 0:
		return "flags"
	case !core.WritesMem && !bytes.Equal(r.Mem[0].Data, s.Mem[0].Data):
		return "memory"
	}
	return ""
}

// differs says which of the things that are called written is not the same.
func differs(core *isa.Effects, fx *isa.FloatEffects, one, two *unicorn.Result) string {
	for i := range 15 {
		if core.Writes.Has(isa.Reg(i)) && two.Regs[i] != one.Regs[i] {
			return isa.Reg(i).String()
		}
	}
	a, b := floatWords(one.Floats), floatWords(two.Floats)
	for i := range a {
		if fx.Writes>>i&1 != 0 && a[i] != b[i] {
			return fmt.Sprintf("word %d", i)
		}
	}
	switch {
	case (one.Floats.FPSCR^two.Floats.FPSCR)&floatMask(fx.PartsWritten) != 0:
		return "FPSCR"
	case (two.Flags^one.Flags)&flagWord(core.FlagsWritten) != 0:
		return "flags"
	case !bytes.Equal(two.Mem[0].Data, one.Mem[0].Data):
		return "memory"
	}
	return ""
}

// TestEffectsFloats runs the rows of floating point on an emulated core, from random
// states with numbers of all kinds: what is not called written stays as it was, what is not
// called read has no influence, and each thing that is called read has some in a case.
func TestEffectsFloats(t *testing.T) {
	reftest.Need(t, unicorn.Built, "Unicorn (build tag reftools)")
	t.Parallel()
	proof := reftest.Begin(t)
	tries := reftest.Count(6, 100, 2000)
	rnd := reftest.Rand(12, 13)
	out := make([]*regexp.Regexp, len(notRunFloats))
	for i, n := range notRunFloats {
		out[i] = regexp.MustCompile("^[at]-(" + n.rows + ")$")
	}
	hit := make([]bool, len(out))
	engines := map[string]*unicorn.Engine{}
	rows, runs, unproven := 0, 0, 0
	for _, r := range slices.Concat(isa.Rows(), isa.RowsA32()) {
		if !r.Scalar() {
			continue
		}
		if i := slices.IndexFunc(out, func(x *regexp.Regexp) bool { return x.MatchString(r.ID) }); i >= 0 {
			hit[i] = true
			continue
		}
		c := floatCase{t: t, rnd: rnd, row: r, read: map[string]bool{}, acted: map[string]bool{}}
		half := strings.Contains(r.ID, "-vcvtb-") || strings.Contains(r.ID, "-vcvtt-")
		for _, x := range []struct{ model, arch, fpu string }{{"armv7-a", "armv7-a", "neon"}, {"armv7ve", "armv7ve", "neon-vfpv4"}, {"armv8-a", "armv8.3-a", "neon-fp-armv8"}} {
			target, _ := isa.Arch(x.arch)
			fpu, ok := isa.FPU(x.fpu)
			if !ok {
				t.Fatalf("no FPU %s", x.fpu)
			}
			c.have = target.Have | fpu.Have
			if c.have.Has(r.Need) && c.have&r.Lack == 0 && !(half && x.model == "armv7-a") { // Cortex-A8 lacks the half-precision extension
				if engines[x.model] == nil {
					engines[x.model] = openA(t, x.model)
					engines[x.model].EnableFloats(codeAt)
				}
				c.e = engines[x.model]
				break
			}
		}
		if c.e == nil {
			t.Errorf("row %s: on no architecture that is emulated", r.ID)
			continue
		}
		rows++
		idle := func() bool {
			return len(c.read) != len(c.acted) || slices.Contains(slices.Collect(maps.Values(c.acted)), false)
		}
		done := 0
		for n := 0; n < 200*tries && c.fail < 3 && (done < tries || idle() && done < 60*tries); n++ {
			if c.once() {
				done++
			}
		}
		runs += c.runs
		if done < tries && c.fail == 0 {
			t.Errorf("row %s: only %d cases ran", r.ID, done)
		}
		for what := range c.read {
			if !c.acted[what] {
				if unproven++; !reftest.Part() {
					t.Errorf("row %s: %s is called read, and made no difference in %d cases", r.ID, what, done)
				}
			}
		}
	}
	for i := range hit {
		if !hit[i] {
			t.Errorf("there is no row %s", notRunFloats[i].rows)
		}
	}
	proof.Counted("effects of floating point: %d rows, %d runs on the emulator, %d things that are read made no difference", rows, runs, unproven)
}

// TestFloatFormula holds that what a row of floating point says in words and what it says
// that it reads and writes are the same.
func TestFloatFormula(t *testing.T) {
	reg := regexp.MustCompile(`\b[SDV][dnm]\b`)
	rows := 0
	for _, r := range slices.Concat(isa.Rows(), isa.RowsA32()) {
		if !r.Vector() || r.Need&isa.FeatNEON != 0 || r.Need&isa.FeatVFP == 0 {
			continue
		}
		if rows++; !r.Scalar() {
			t.Errorf("row %s says nothing of its registers", r.ID)
			continue
		}
		text, writes, reads := r.Text(), r.Writes, r.Reads
		if strings.Contains(text, "V") { // of each size
			double := strings.NewReplacer("Sd", "Vd", "Sn", "Vn", "Sm", "Vm", "Dd", "Vd", "Dn", "Vn", "Dm", "Vm")
			writes, reads = double.Replace(writes), double.Replace(reads)
		}
		var left, right string
		for part := range strings.SplitSeq(strings.ReplaceAll(text, ", ", "; "), "; ") {
			l, x, ok := strings.Cut(part, " = ")
			if !ok {
				l, x = "", part
			}
			left, right = left+" "+l, right+" "+x
		}
		for _, x := range []struct{ side, names string }{{left, writes}, {right, reads}} {
			for _, name := range reg.FindAllString(x.side, -1) {
				if !strings.Contains(x.names, name) {
					t.Errorf("row %s: %q has %s, and it is not in %q", r.ID, text, name, x.names)
				}
			}
			for _, name := range reg.FindAllString(x.names, -1) {
				if !strings.Contains(text, name) {
					t.Errorf("row %s: %s is not in %q", r.ID, name, text)
				}
			}
		}
	}
	if rows < 200 {
		t.Errorf("only %d rows", rows)
	}
}
