package analysis

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
)

// any is a register from r0 to r12.
func (g *generator) any() int { return g.IntN(13) }

// wideConstant draws from the classes that rewrites of full width tell apart.
func (g *generator) wideConstant() int64 {
	one := func() uint32 { return uint32(1+g.IntN(255)) << (2 * g.IntN(13)) }
	two := func() uint32 {
		x := one()
		return x | one()
	}
	switch g.IntN(9) {
	case 0, 1:
		return int64(two())
	case 2:
		return int64(^two())
	case 3:
		return int64(one() - uint32(1+g.IntN(255)))
	case 4:
		return -1 - int64(g.IntN(70000))
	case 5:
		return 256 + int64(g.IntN(70000))
	case 6:
		return -int64(two() >> 1)
	}
	return int64(g.Uint32())
}

// wideOffset is an offset around and beyond the reach of accesses.
func (g *generator) wideOffset() int64 {
	switch g.IntN(6) {
	case 0:
		return 4 * int64(g.IntN(1200))
	case 1:
		return -4 * int64(g.IntN(1200))
	case 2:
		return pick(g, int64(256), -256, 1024, -1024, 4096, -4096, 260, 1028, 4100)
	case 3:
		return -int64(g.IntN(5000))
	}
	return int64(g.IntN(6000))
}

const wideClasses = 17

// wideStatement draws a statement that A32 or T32 may have no encoding for.
func (g *generator) wideStatement(class int, a32 bool) stm {
	x := stm{cond: isa.AL, m: -1, s: g.IntN(3) == 0}
	if a32 && g.IntN(3) == 0 {
		x.cond = isa.Cond(g.IntN(14))
	}
	switch class {
	case 0, 1:
		x.op, x.d, x.imm = pick(g, "mov", "mov", "mvn"), g.any(), g.wideConstant()
	case 2, 3:
		x.op, x.d, x.n, x.imm, x.three = pick(g, "add", "sub"), g.any(), g.any(), g.wideConstant(), true
		if g.IntN(3) == 0 {
			x.n, x.three = x.d, g.IntN(2) == 0
		}
		if g.IntN(8) == 0 {
			x.n, x.s, x.imm = 13, false, 4*int64(g.IntN(400))+1024*int64(g.IntN(2))
			if !x.three || g.IntN(2) == 0 {
				x.d = 13
			}
		}
	case 4, 5:
		x.op, x.d, x.n, x.imm, x.three = pick(g, "and", "orr", "eor", "bic", "adc", "sbc", "rsb"), g.any(), g.any(), g.wideConstant(), true
		if a32 && g.IntN(6) == 0 {
			x.op = "rsc"
		} else if !a32 && g.IntN(6) == 0 {
			x.op = "orn"
		}
		if g.IntN(3) == 0 {
			x.n, x.three = x.d, g.IntN(2) == 0
		}
	case 6:
		x.op, x.n, x.imm, x.s = pick(g, "cmp", "cmn", "tst", "teq"), g.any(), g.wideConstant(), true
	case 7, 8:
		x.op, x.d, x.n, x.imm, x.s = pick(g, "ldr", "ldrb", "ldrh", "ldrsb", "ldrsh", "str", "strb", "strh"), g.any(), g.any(), g.wideOffset(), false
		if g.IntN(6) == 0 {
			x.n = x.d
		}
	case 9: // base registers that step
		x.op, x.d, x.n, x.imm, x.s, x.mode = pick(g, "ldr", "ldrb", "ldrh", "ldrsb", "str", "strb", "strh"), g.any(), g.any(), g.wideOffset(), false, 1+g.IntN(2)
		if x.n == x.d {
			x.n = (x.d + 1) % 13
		}
	case 10: // pairs
		x.op, x.d, x.n, x.imm, x.s = pick(g, "ldrd", "strd"), 2*g.IntN(6), g.any(), g.wideOffset(), false
		if g.IntN(3) == 0 {
			x.imm = 4 * int64(g.IntN(8))
		}
		if g.IntN(4) == 0 && x.n != x.d && x.n != x.d+1 {
			x.mode = 1 + g.IntN(2)
		}
	case 11: // extensions and exchanges
		x.op, x.d, x.m, x.s = pick(g, "uxtb", "uxth", "sxtb", "sxth", "rev", "rev16", "revsh"), g.any(), g.any(), false
	case 12: // fields
		x.op, x.d, x.n, x.imm, x.s = pick(g, "ubfx", "sbfx", "bfc", "bfi"), g.any(), g.any(), int64(g.IntN(32)), false
		x.width = 1 + g.IntN(32-int(x.imm))
	case 14: // registers as offsets
		x.op, x.d, x.n, x.m, x.s, x.mode = pick(g, "ldr", "ldrb", "ldrh", "ldrsh", "str", "strh"), g.any(), g.any(), g.any(), false, g.IntN(3)
		if g.IntN(3) == 0 {
			x.shift, x.by, x.places = "lsl", -1, 1+g.IntN(6)
		}
		x.minus = g.IntN(3) == 0
		if x.mode > 0 && x.n == x.d {
			x.n = (x.d + 1) % 13
		}
		if x.mode > 0 && x.n == x.m {
			x.mode = 0
		}
	case 15: // shifts by registers
		x.op, x.d, x.n, x.m, x.by, x.three = pick(g, "add", "sub", "and", "orr", "eor", "bic", "cmp", "tst"), g.any(), g.any(), g.any(), g.any(), true
		x.shift = pick(g, "lsl", "lsr", "asr", "ror")
		if isCompare(x.op) {
			x.s = true
		} else if g.IntN(6) == 0 {
			x.op, x.shift, x.m, x.imm = "mul", "", -1, int64(g.IntN(70000))
		}
	case 16: // masks: a field of bits, or all but one
		x.op, x.d, x.n, x.s, x.three = pick(g, "and", "bic"), g.any(), g.any(), false, true
		m := (uint32(1)<<(9+g.IntN(23)) - 1) << (g.IntN(2) * g.IntN(16))
		x.imm = int64(pick(g, m, ^m))
		if g.IntN(2) == 0 {
			x.n = x.d
		}
	case 13:
		x.s = false
		switch g.IntN(4) {
		case 0:
			x.op, x.d, x.imm = pick(g, "movw", "movt"), g.any(), pick(g, int64(g.IntN(1<<16)), int64(g.IntN(256)))
		case 1:
			x.op, x.d, x.n, x.m, x.a, x.three = "mls", g.any(), g.any(), g.any(), g.any(), true
		default:
			x.op, x.d, x.n, x.m, x.three, x.s = "orn", g.any(), g.any(), g.any(), true, g.IntN(3) == 0
			if g.IntN(3) == 0 {
				x.m, x.imm = -1, g.wideConstant()
			}
		}
	}
	return x
}

// wideText writes the statement for A32 or T32: the divided syntax has the
// condition before the letters.
func (x *stm) wideText(unified bool, konst func(int64) string) string {
	r := func(n int) string { return isa.Reg(n).String() }
	name, tail := x.op, ""
	if (isLoad(x.op) || isStore(x.op)) && len(x.op) > 3 {
		name, tail = x.op[:3], x.op[3:]
	}
	if x.s && !isCompare(x.op) {
		tail += "s"
	}
	cond := ""
	if x.cond != isa.AL {
		cond = x.cond.String()
	}
	if unified {
		name += tail + cond
	} else {
		name += cond + tail
	}
	if s := x.movedText(name); s != "" {
		return s
	}
	switch x.op {
	case "mls":
		return fmt.Sprintf("%s %s, %s, %s, %s", name, r(x.d), r(x.n), r(x.m), r(x.a))
	case "movw", "movt":
		return fmt.Sprintf("%s %s, #%s", name, r(x.d), konst(x.imm))
	}
	plain := *x
	plain.cond, plain.s = isa.AL, false
	_, ops, _ := strings.Cut(plain.text(true, konst), " ")
	if strings.HasSuffix(x.op, "d") && (isLoad(x.op) || isStore(x.op)) {
		first, rest, _ := strings.Cut(ops, ",")
		ops = first + ", " + r(x.d+1) + "," + rest
	}
	return name + " " + ops
}

// movedText writes a statement that moves fields or bytes, by its name; empty for others.
func (x *stm) movedText(name string) string {
	d, n := isa.Reg(x.d), isa.Reg(x.n)
	switch x.op {
	case "ubfx", "sbfx", "bfi":
		return fmt.Sprintf("%s %s, %s, #%d, #%d", name, d, n, x.imm, x.width)
	case "bfc":
		return fmt.Sprintf("%s %s, #%d, #%d", name, d, x.imm, x.width)
	case "rev", "rev16", "revsh":
		return fmt.Sprintf("%s %s, %s", name, d, isa.Reg(x.m))
	}
	return ""
}

// wideFiller is an ordinary instruction that is alike in A32 and T32.
func (g *generator) wideFiller(id, label int) string {
	r := func() string { return isa.Reg(g.any()).String() }
	s := pick(g, "", "s")
	switch g.IntN(14) {
	case 0, 1, 2, 3:
		return fmt.Sprintf("mov%s %s, #%d", s, r(), g.IntN(256))
	case 4, 5:
		return fmt.Sprintf("add%s %s, %s, #%d", s, r(), r(), g.IntN(8))
	case 6:
		return fmt.Sprintf("sub%s %s, %s, %s", s, r(), r(), r())
	case 7:
		return fmt.Sprintf("%s%s %s, %s, %s", pick(g, "and", "orr", "eor", "bic", "adc", "sbc"), s, r(), r(), r())
	case 8:
		return fmt.Sprintf("cmp %s, #%d", r(), g.IntN(256))
	case 9:
		return fmt.Sprintf("mvn%s %s, %s", s, r(), r())
	case 10:
		return fmt.Sprintf("%s %s, [sp, #%d]", pick(g, "ldr", "str"), r(), 4*g.IntN(20))
	case 11:
		return fmt.Sprintf("ldr %s, =%#x", r(), g.Uint32())
	}
	return fmt.Sprintf("b%s l%d_%d", isa.Cond(g.IntN(14)), id, label)
}

// wideProgram draws a function around a statement of A32 or T32.
func (g *generator) wideProgram(id int, x stm, a32 bool) proofProgram {
	p := proofProgram{id: id, x: x, unified: g.unified || !a32, a32: a32, full: true}
	named, mode := pick(g, "armv7-a", "armv7-m", "armv6t2"), "thumb"
	if a32 {
		named, mode = pick(g, "armv4", "armv4t", "armv5te", "armv6", "armv7-a"), "arm"
	}
	p.arch = map[string]string{"armv4": "armv4t", "armv7-m": "armv7e-m", "armv6t2": "armv7-a"}[named]
	if p.arch == "" {
		p.arch = named
	}
	syn, svc := "divided", "swi"
	if p.unified {
		syn, svc = "unified", "svc"
	}
	p.head = fmt.Sprintf("\t.arch %s\n\t.syntax %s\n\t.%s\nf%d:\n", named, syn, mode, id)
	back := "\tbx lr\n"
	if named == "armv4" {
		back = "\tmov pc, lr\n"
	}
	end := "\t" + svc + " #0\n"
	konst := func(v int64) string {
		switch g.IntN(4) {
		case 0:
			p.head = fmt.Sprintf("\t.equ K%d, %d\n", id, v) + p.head
			return fmt.Sprintf("K%d", id)
		case 1:
			return strconv.FormatInt(v, 10)
		}
		if v < 0 {
			return fmt.Sprintf("-%#x", -v)
		}
		return fmt.Sprintf("%#x", v)
	}
	last := 0
	body := func(n int) (out string) {
		for range n {
			if g.IntN(5) == 0 && last < 6 {
				out += fmt.Sprintf("l%d_%d:\n", id, last)
				last++
			}
			out += "\t" + g.wideFiller(id, g.IntN(7)) + "\n"
		}
		return out
	}
	tail := end
	p.flagsLive = true
	if g.IntN(2) == 0 {
		tail = body(1 + g.IntN(12))
		for ; last < 7; last++ {
			tail += fmt.Sprintf("l%d_%d:\n", id, last)
		}
		if g.IntN(2) == 0 {
			tail += back
			p.flagsLive = false
		} else {
			tail += end
		}
	}
	if !a32 && g.IntN(3) == 0 { // in an IT block
		p.x.cond = isa.Cond(g.IntN(14))
		front, behind := g.IntN(3), g.IntN(2)
		first := p.x.cond
		if front > 0 && g.IntN(2) == 0 {
			first = first.Invert()
		}
		pattern, lines := "", [2]string{}
		apart := [2]string{}
		for k := range front + 1 + behind {
			c := p.x.cond
			if k == 0 {
				c = first
			} else if k != front && g.IntN(2) == 0 {
				c = c.Invert()
			}
			if k > 0 {
				pattern += map[bool]string{true: "t", false: "e"}[c == first]
			}
			if k == front {
				continue
			}
			side := 0
			if k > front {
				side = 1
			}
			l := fmt.Sprintf("\tmov%s r%d, #%d\n", c, g.low(), g.IntN(256))
			lines[side] += l
			apart[side] += fmt.Sprintf("\tit %s\n", c) + l
		}
		p.line = "\t" + p.x.wideText(true, konst)
		p.holeHead, p.holeTail = p.head+apart[0], apart[1]+tail
		p.head += fmt.Sprintf("\tit%s %s\n", pattern, first) + lines[0]
		p.tail = lines[1] + tail
		return p
	}
	p.line, p.tail = "\t"+p.x.wideText(p.unified, konst), tail
	return p
}

// TestRewriteMeaningWide is TestRewriteMeaning for A32 and T32.
func TestRewriteMeaningWide(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	newEngine(t, "armv7-a")
	g := &generator{Rand: reftest.Rand(32, 23)}
	ctx := context.Background()
	var progs []proofProgram
	n := wideClasses * reftest.Count(12, 130, 1300)
	type count struct{ bad, offered int }
	counts := map[string]*count{"A32": {}, "T32": {}}
	for i := range n {
		a32 := i/wideClasses%2 == 0
		g.unified = g.IntN(3) > 0
		p := g.wideProgram(i, g.wideStatement(i%wideClasses, a32), a32)
		made, refused := rewritten(t, ctx, &p)
		k := counts[map[bool]string{true: "A32", false: "T32"}[a32]]
		if refused {
			k.bad++
		}
		if len(made) > 0 {
			k.offered++
		}
		progs = append(progs, made...)
	}
	stats := runMeanings(t, g, progs)
	namedRuns(t, proof, stats)
	for set, k := range counts {
		proof.Counted("meaning of wide rewrites, %s: %d without an encoding, %d with an offer", set, k.bad, k.offered)
		// In an IT block there is not always a register to save.
		if k.bad < reftest.Least(300) || k.offered < k.bad*18/20 {
			t.Errorf("%s: too few", set)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(stats)) {
		if st := stats[k]; st.programs > 0 {
			t.Logf("%-18s %5d programs, %6d runs (%d skipped: a fault or no end), %d not safe, of these %d runs of the statement alone, %d not run", k, st.programs, st.runs, st.skipped, st.unsafe, st.named, st.titled)
		}
	}
	for _, k := range []string{"literal-load", "move-add", "move-halves", "mask-field", "two-adds", "constant-register", "offset-register", "address-first", "step-base", "older-sequence", "shift-first"} {
		if st := stats[k]; (st == nil || st.runs < 100) && reftest.Least(100) > 0 {
			t.Errorf("%s: too few runs", k)
		}
	}
}

// TestRewriteFlowWide runs what rewrites of A32 and T32 make of branches, calls,
// returns and addresses.
func TestRewriteFlowWide(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	const a32, t32 = "\t.syntax unified\n\t.arm\n", "\t.syntax unified\n\t.thumb\n"
	reg := func(r int, v uint32) func(*cpu) { return func(m *cpu) { m.r[r] = v } }
	zero := func(m *cpu) {
		if m.r[2] == 0 {
			m.r[4] = 2
		} else {
			m.r[4] = 1
		}
	}
	for i, c := range []struct {
		name, arch, text string
		want             func(m *cpu)
		actions          []string
		except           isa.RegList
	}{
		{"call through a register", "armv4t", a32 + "\t.arch armv4t\nf:\tldr r3, =g\n\tblx r3\n\tsvc #0\ng:\tmov r4, #5\n\tbx lr\n", reg(4, 5), []string{"older-sequence"}, 1<<3 | 1<<14},
		{"return without BX", "armv4t", a32 + "\t.arch armv4\nf:\tbl g\n\tsvc #0\ng:\tmov r4, #5\n\tbx lr\n", reg(4, 5), []string{"older-sequence"}, 1 << 14},
		{"compare with zero in A32", "armv4t", a32 + "\t.arch armv4t\nf:\tcbz r2, far\n\tmov r4, #1\n\tsvc #0\nfar:\tmov r4, #2\n\tsvc #0\n", zero, []string{"compare-branch"}, 0},
		{"compare with zero far ahead", "armv7-a", t32 + "\t.arch armv7-a\nf:\tcbz r2, far\n\tmov r4, #1\n\tsvc #0\n\t.space 300\nfar:\tmov r4, #2\n\tsvc #0\n", zero, []string{"compare-branch", "invert-branch"}, 0},
		{"narrow branch too far", "armv7-a", t32 + "\t.arch armv7-a\nf:\tb.n far\n\tmov r4, #1\n\tsvc #0\n\t.space 3000\nfar:\tmov r4, #2\n\tsvc #0\n", reg(4, 2), []string{"drop-width"}, 0},
		{"address in two steps", "armv4t", a32 + "\t.arch armv4t\nf:\tadr r3, w\n\tldr r4, [r3]\n\tsvc #0\n\t.space 1060\n\t.align 2\nw:\t.word 77\n", reg(4, 77), []string{"pool-address"}, 1 << 3},
		{"address in two halves", "armv5te", a32 + "\t.arch armv5te\nf:\tmovw r3, #:lower16:w\n\tmovt r3, #:upper16:w\n\tldr r4, [r3]\n\tsvc #0\n\t.align 2\nw:\t.word 77\n", reg(4, 77), []string{"older-sequence"}, 1 << 3},
		{"constant in two halves", "armv5te", a32 + "\t.arch armv5te\nf:\tmovwne r3, #0x5678\n\tmovtne r3, #0x1234\n\tsvc #0\n", func(m *cpu) {
			if !m.z {
				m.r[3] = 0x12345678
			}
		}, []string{"older-sequence"}, 0},
		{"pool far away", "armv4t", a32 + "\t.arch armv4t\nf:\tldr r4, =0x12345678\n\tsvc #0\n\tb f\n\t.space 5000\n", reg(4, 0x12345678), []string{"insert-pool"}, 0},
	} {
		thumb := strings.HasPrefix(c.text, t32)
		e := newEngine(t, c.arch)
		g := rand.New(rand.NewPCG(9, uint64(i)))
		got := map[string]bool{}
		for _, a := range analyze(t, nil, c.text).Actions(context.Background(), finding.Span{Start: 0, End: len(c.text)}) {
			got[a.Rewrite] = true
			after := apply(c.text, a.Edits)
			if slices.ContainsFunc(analyze(t, nil, after).Each(), func(d finding.Diagnostic) bool { return d.Severity == finding.Error }) {
				continue // one of two findings
			}
			code, _ := assembleAll(t, c.name, []string{after})
			if code[0] == nil {
				continue
			}
			for range 8 {
				m := randomCPU(g, nil)
				if !thumb {
					m.r[14] = proofEnd
				}
				if g.IntN(2) == 0 {
					m.r[2] = 0
				}
				want, have := m.clone(), m.clone()
				c.want(want)
				if end, err := e.run(code[0], thumb, have, proofCode, proofEnd+0x800, many); end != atEnd {
					t.Errorf("%s: %s: does not end: %v\n%.300s", c.name, a.Title, err, after)
					break
				}
				if d := differ(want, have, titleFlags(a.Title), c.except); d != "" {
					t.Errorf("%s: %s: %s\n%.300s", c.name, a.Title, d, after)
					break
				}
			}
		}
		for _, n := range c.actions {
			if !got[n] {
				t.Errorf("%s: %s is not offered", c.name, n)
			}
		}
	}
}

// TestSafeFixesWide applies all safe rewrites to files of A32 and T32 statements:
// what is left has nothing to fix, and assembles where it has no error.
func TestSafeFixesWide(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	g := &generator{Rand: reftest.Rand(6, 28)}
	var clean []string
	for i := range reftest.Count(15, 60, 600) {
		a32 := i%2 == 0
		g.unified = g.IntN(3) > 0
		text := ""
		for k := range 1 + g.IntN(4) {
			p := g.wideProgram(i*8+k, g.wideStatement(g.IntN(wideClasses), a32), a32)
			text += p.text()
		}
		after := apply(text, analyze(t, nil, text).SafeFixes(context.Background(), ""))
		r := analyze(t, nil, after)
		if e := r.SafeFixes(context.Background(), ""); len(e) > 0 {
			t.Errorf("fixed twice:\n%s\nand then\n%s", after, apply(after, e))
		}
		if !slices.ContainsFunc(r.Each(), func(d finding.Diagnostic) bool { return d.Severity == finding.Error }) {
			clean = append(clean, after)
		}
	}
	assembleAll(t, "after", clean)
	proof.Counted("safe fixes of wide code: %d files without an error left", len(clean))
	if len(clean) < reftest.Least(40) {
		t.Errorf("too few files")
	}
}
