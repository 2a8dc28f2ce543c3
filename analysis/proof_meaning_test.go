package analysis

import (
	"context"
	"debug/elf"
	"encoding/binary"
	"fmt"
	"maps"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/rewrite"
	"narrowgauge/isa"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/unicorn"
)

// generator makes statements that T16 cannot hold, and functions around them.
type generator struct {
	*rand.Rand
	unified bool
}

func pick[T any](g *generator, list ...T) T { return list[g.IntN(len(list))] }

func (g *generator) low() int  { return g.IntN(8) }
func (g *generator) high() int { return pick(g, 8, 9, 10, 11, 12) }

// constant draws from the classes that rewrites tell apart.
func (g *generator) constant() int64 {
	switch g.IntN(10) {
	case 0:
		return int64(g.IntN(8))
	case 1:
		return int64(g.IntN(256))
	case 2, 3:
		return 256 + int64(g.IntN(260))
	case 4:
		return int64(1+g.IntN(255)) << (1 + g.IntN(23))
	case 5:
		return -1 - int64(g.IntN(255))
	case 6:
		return int64(^uint32(g.IntN(256)))
	case 7:
		return -256 - int64(g.IntN(2000))
	case 8:
		return int64(g.Uint32())
	}
	return 500 + int64(g.IntN(5000))
}

func (g *generator) offset() int64 {
	switch g.IntN(6) {
	case 0:
		return -int64(g.IntN(9))
	case 1:
		return -int64(g.IntN(300))
	case 2:
		return int64(g.IntN(5000))
	case 3:
		return 4 * int64(g.IntN(1250))
	case 4:
		return 4 * int64(g.IntN(64))
	}
	return int64(g.IntN(160))
}

// reg is a register: mostly low, sometimes high.
func (g *generator) reg() int {
	if g.IntN(3) == 0 {
		return g.high()
	}
	return g.low()
}

// statement draws one statement of a class.
func (g *generator) statement(class int) stm {
	x := stm{cond: isa.AL, m: -1, s: g.IntN(4) > 0}
	switch class {
	case 0: // constants into registers
		x.op, x.d, x.imm = pick(g, "mov", "mov", "mvn"), g.low(), g.constant()
		if g.IntN(4) == 0 {
			x.d, x.s = g.high(), false
		}
	case 1: // sums with constants
		x.op, x.d, x.n, x.imm, x.three = pick(g, "add", "sub"), g.reg(), g.reg(), g.constant(), true
		if g.IntN(2) == 0 {
			x.n, x.three = x.d, g.IntN(2) == 0
		}
	case 2: // the stack pointer
		x.op, x.d, x.n, x.imm, x.three, x.s = pick(g, "add", "sub"), 13, 13, 4*int64(g.IntN(400)), g.IntN(2) == 0, false
		if g.IntN(2) == 0 {
			x.d, x.three, x.imm = g.low(), true, pick(g, x.imm, int64(g.IntN(2000)))
		}
	case 3: // other operations with constants
		x.op, x.d, x.n, x.imm, x.three = pick(g, "and", "orr", "eor", "bic", "adc", "sbc", "rsb", "mvn"), g.low(), g.low(), g.constant(), true
		if g.IntN(3) == 0 {
			x.n = x.d
		}
	case 4: // compares
		x.op, x.n, x.imm, x.s = pick(g, "cmp", "cmp", "cmn", "tst"), g.reg(), g.constant(), true
	case 5: // registers everywhere
		x.op, x.d, x.n, x.m, x.three = pick(g, "add", "sub", "and", "orr", "eor", "bic", "adc", "sbc", "lsl", "lsr", "asr", "ror", "mul", "rsb"), g.reg(), g.reg(), g.reg(), true
		if g.IntN(3) == 0 {
			x.n, x.three = x.d, g.IntN(2) == 0
		}
		if x.op == "rsb" {
			x.three = true
		}
	case 6:
		x.op, x.d, x.n, x.m = pick(g, "mvn", "neg", "tst", "cmn", "mov"), g.reg(), g.reg(), g.reg()
		if isCompare(x.op) {
			x.s = true
		}
	case 7: // loads and stores with constants
		x.op, x.d, x.n, x.imm, x.s = pick(g, "ldr", "ldrb", "ldrh", "ldrsb", "ldrsh", "str", "strb", "strh"), g.reg(), g.reg(), g.offset(), false
		if g.IntN(5) == 0 {
			x.n, x.imm = 13, max(x.imm, 0)
		}
		if g.IntN(6) == 0 {
			x.n = x.d
		}
	case 8: // and with registers
		x.op, x.d, x.n, x.m, x.s = pick(g, "ldr", "ldrb", "ldrh", "ldrsb", "ldrsh", "str", "strb", "strh"), g.reg(), g.reg(), g.reg(), false
	case 9: // base registers that step
		x.op, x.d, x.n, x.imm, x.s, x.mode = pick(g, "ldr", "ldrb", "ldrh", "ldrsb", "str", "strb", "strh"), g.low(), g.low(), pick(g, int64(1), 2, 4, 4, 8, -4, -1, 60), false, 1+g.IntN(2)
	case 10: // conditions
		x = g.statement(pick(g, 0, 1, 5, 7))
		x.cond = isa.Cond(g.IntN(14))
		x.imm &= 7
		x.d, x.n = x.d&7, x.n&7
		if x.m > 7 {
			x.m &= 7
		}
		x.s = x.s && !isLoad(x.op) && !isStore(x.op)
	case 11: // register lists
		x.op, x.s = pick(g, "push", "pop"), false
		x.list = isa.RegList(g.IntN(256)) | isa.RegList(1<<g.high())
		if g.IntN(2) == 0 {
			x.list |= isa.RegList(1 << g.high())
		}
		if x.op == "push" && g.IntN(3) == 0 {
			x.list |= 1 << 14
		}
	case 12:
		x.op, x.d, x.m, x.s = pick(g, "uxtb", "uxth", "sxtb", "sxth", "mov"), g.low(), g.low(), false
		if g.IntN(4) == 0 {
			x.d = g.high()
		}
	case 13: // shifts by constants
		x.op, x.d, x.n, x.imm, x.three = pick(g, "lsl", "lsr", "asr", "ror"), g.reg(), g.reg(), pick(g, int64(g.IntN(70)), int64(g.IntN(32)), 32, 33), true
		if g.IntN(3) == 0 {
			x.n = x.d
		}
	case 15: // what two instructions make
		x.op, x.d, x.imm = "mov", g.low(), pick(g, int64(256+g.IntN(255)), int64(1+g.IntN(255))<<(1+g.IntN(23)), -1-int64(g.IntN(255)), int64(^uint32(g.IntN(256))))
	case 16:
		x.op, x.d, x.n, x.imm, x.s = pick(g, "ldrsb", "ldrsh"), g.low(), g.low(), int64(g.IntN(62)), false
	case 17:
		x.op, x.n, x.imm, x.s = pick(g, "cmp", "cmn"), g.low(), -1-int64(g.IntN(255)), true
		if g.IntN(2) == 0 {
			x = stm{op: pick(g, "add", "sub"), d: g.low(), n: g.low(), m: -1, cond: isa.AL, s: true, imm: 8 + int64(g.IntN(248)), three: true}
		}
	case 18: // three low registers
		x.op, x.d, x.n, x.m, x.three = pick(g, "and", "orr", "eor", "bic", "adc", "sbc", "lsl", "lsr", "ror", "mul"), g.low(), g.low(), g.low(), true
	case 19: // fields and bytes
		x.s = false
		if g.IntN(2) == 0 {
			x.op, x.d, x.m = pick(g, "rev", "rev16", "revsh"), g.low(), g.low()
			break
		}
		x.op, x.d, x.n, x.imm = pick(g, "bfc", "bfc", "bfi", "bfi", "ubfx", "sbfx"), g.low(), g.low(), pick(g, 0, 0, int64(g.IntN(32)))
		x.width = 1 + g.IntN(32-int(x.imm))
		if g.IntN(4) == 0 {
			x.width = 32 - int(x.imm)
		}
	case 20: // products
		x.op, x.d, x.n, x.imm, x.three = "mul", g.low(), g.low(), pick(g, int64(1)<<g.IntN(32), 1<<g.IntN(31)+1, 1<<g.IntN(31)-1, int64(g.IntN(300))), true
		if g.IntN(3) == 0 {
			x.n = x.d
		}
	case 21: // what is on the stack
		x.op, x.d, x.n, x.imm, x.s = pick(g, "ldr", "ldrb", "ldrh", "str", "str", "strb", "strh", "strb"), g.reg(), 13, int64(g.IntN(300)), false
		if x.op[len(x.op)-1] == 'r' || g.IntN(3) == 0 {
			x.imm &^= 3
		}
		if g.IntN(4) == 0 {
			x.op, x.d, x.imm, x.three = "add", g.high(), 4*int64(g.IntN(60)), true
		}
		if g.IntN(6) == 0 && x.op != "add" {
			x.imm = 1016 + 4*int64(g.IntN(10))
		}
	case 14:
		x.op, x.lit, x.s, x.d, x.imm = "ldr", true, false, g.high(), int64(g.Uint32())
	}
	return x
}

const proofClasses = 22

// meanings lists what the statement may mean under the syntax. The divided
// syntax does not say whether an operation sets the flags: with low registers
// all do, sums with the stack pointer never do, and with other high registers
// the line may mean either.
func (x stm) meanings(unified bool) []stm {
	if unified || isCompare(x.op) || isLoad(x.op) || isStore(x.op) || x.op == "push" || x.op == "pop" || isExtend(x.op) {
		if !isCompare(x.op) && (isLoad(x.op) || isStore(x.op)) {
			x.s = false
		}
		return []stm{x}
	}
	set, keep := x, x
	set.s, keep.s = true, false
	if x.cond == isa.AL && (x.op == "add" || x.op == "sub") && (x.d == 13 || x.n == 13) {
		return []stm{keep}
	}
	high := x.d > 7 || x.n > 7 || x.m > 7
	if x.cond != isa.AL || high {
		return []stm{set, keep}
	}
	if x.op == "mov" && x.m >= 0 {
		return []stm{keep}
	}
	return []stm{set}
}

// program is a function around a statement.
type proofProgram struct {
	id          int
	arch        string
	unified     bool
	head        string // all in front of the statement's line
	line, tail  string
	x           stm
	a32         bool
	full        bool   // A32, or T32: the line says by itself whether it sets flags
	holeHead    string // in front of the statement's meaning, where that is not head
	holeTail    string
	call        bool      // lr differs with the layout
	flagsLive   bool      // at the end
	dead        isa.Flags // after the statement
	act         rewrite.Action
	after, hole string
}

func (p *proofProgram) text() string { return p.head + p.line + "\n" + p.tail }

// setHole makes the program that has fill in the statement's place.
func (p *proofProgram) setHole(fill string) {
	head, tail := p.head, p.tail
	if p.holeHead != "" {
		head, tail = p.holeHead, p.holeTail
	}
	p.hole = fmt.Sprintf("%sat%d:\n%s\nre%d:\n%s", head, p.id, fill, p.id, tail)
}

// filler is an ordinary instruction of either syntax.
func (g *generator) filler(id, label int) string {
	s := ""
	if g.unified {
		s = "s"
	}
	r := func() string { return isa.Reg(g.low()).String() }
	h := func() string { return isa.Reg(g.high()).String() }
	cond := isa.Cond(g.IntN(14)).String()
	switch g.IntN(20) {
	case 0, 1, 2, 3:
		return fmt.Sprintf("mov%s %s, #%d", s, r(), g.IntN(256))
	case 4, 5:
		return fmt.Sprintf("add%s %s, %s, #%d", s, r(), r(), g.IntN(8))
	case 6:
		return fmt.Sprintf("sub%s %s, %s, %s", s, r(), r(), r())
	case 7:
		return fmt.Sprintf("%s%s %s, %s", pick(g, "and", "orr", "eor", "bic", "adc", "sbc", "mvn", "mul"), s, r(), r())
	case 8:
		return fmt.Sprintf("lsl%s %s, %s, #%d", s, r(), r(), 1+g.IntN(31))
	case 9:
		return fmt.Sprintf("cmp %s, #%d", r(), g.IntN(256))
	case 10:
		return fmt.Sprintf("cmp %s, %s", r(), r())
	case 11:
		return fmt.Sprintf("mov %s, %s", h(), r())
	case 12:
		return fmt.Sprintf("mov %s, %s", r(), h())
	case 13:
		return fmt.Sprintf("%s %s, [sp, #%d]", pick(g, "ldr", "ldr", "str"), r(), 4*g.IntN(20))
	case 14:
		return fmt.Sprintf("ldr %s, =%#x", r(), g.Uint32())
	case 15:
		l := isa.RegList(1 + g.IntN(255)).String()
		return "push " + l + "\n\tpop " + l
	case 16:
		return fmt.Sprintf("add %s, %s", pick(g, r(), h()), h())
	case 17:
		return fmt.Sprintf("tst %s, %s", r(), r())
	}
	return fmt.Sprintf("b%s l%d_%d", cond, id, label)
}

// program draws a function around a statement.
func (g *generator) program(id int, x stm) proofProgram {
	p := proofProgram{id: id, x: x, unified: g.unified, arch: pick(g, "armv4t", "armv4t", "armv5te", "armv6", "armv6-m")}
	if p.arch == "armv6-m" && !g.unified {
		p.arch = "armv4t"
	}
	syn := "divided"
	if g.unified {
		syn = "unified"
	}
	p.head = fmt.Sprintf("\t.arch %s\n\t.syntax %s\n\t.thumb\nf%d:\n", strings.Replace(p.arch, "armv6-m", "armv6s-m", 1), syn, id) // SVC is in ARMv6S-M
	konst := func(v int64) string {
		switch g.IntN(5) {
		case 0:
			p.head = fmt.Sprintf("\t.equ K%d, %d\n", id, v) + p.head
			return fmt.Sprintf("K%d", id)
		case 1, 2:
			if v < 0 {
				return fmt.Sprintf("-%#x", -v)
			}
			return fmt.Sprintf("%#x", v)
		}
		return strconv.FormatInt(v, 10)
	}
	p.line = "\t" + x.text(g.unified, konst)
	if g.IntN(2) == 0 {
		// Everything is alive right after the statement.
		p.tail, p.flagsLive = "\tsvc #0\n", true
		if !g.unified {
			p.tail = "\tswi #0\n"
		}
		return p
	}
	// The labels are in random places; the last at the end.
	last := 0
	body := func(n int) {
		for range n {
			if g.IntN(5) == 0 && last < 6 {
				p.tail += fmt.Sprintf("l%d_%d:\n", id, last)
				last++
			}
			p.tail += "\t" + g.filler(id, g.IntN(7)) + "\n"
		}
	}
	if g.IntN(4) == 0 {
		p.head += fmt.Sprintf("l%d_%d:\n", id, last)
		last++
		p.head += "\t" + g.filler(id, 6) + "\n"
	}
	if g.IntN(6) == 0 {
		// A private routine of this file, which may hand its caller flags.
		p.call, p.flagsLive = true, true
		p.head += fmt.Sprintf("\tbl h%d\n", id)
		for range 1 + g.IntN(3) {
			p.head += "\t" + g.filler(id, 7) + "\n"
		}
		p.head += fmt.Sprintf("l%d_7:\n\t%s #0\nh%d:\n", id, map[bool]string{true: "svc", false: "swi"}[g.unified], id)
		body(1 + g.IntN(6))
		for ; last < 7; last++ {
			p.tail += fmt.Sprintf("l%d_%d:\n", id, last)
		}
		p.tail += "\tbx lr\n"
		return p
	}
	body(1 + g.IntN(8))
	if g.IntN(6) == 0 {
		p.call = true
		// Between files the procedure call standard holds, flags are
		// undefined at the call and after it.
		p.tail += fmt.Sprintf("\tbl g%d\n", id)
		if g.IntN(2) == 0 {
			body(1 + g.IntN(3))
		}
	}
	for ; last < 7; last++ {
		p.tail += fmt.Sprintf("l%d_%d:\n", id, last)
	}
	if g.IntN(2) == 0 && !p.call {
		p.tail += "\tbx lr\n"
	} else {
		p.flagsLive = true
		p.tail += map[bool]string{true: "\tsvc #0\n", false: "\tswi #0\n"}[g.unified]
	}
	if p.call {
		p.tail += fmt.Sprintf("g%d:\n", id)
		for range g.IntN(4) {
			p.tail += "\t" + g.filler(id, 7) + "\n"
		}
		p.tail += fmt.Sprintf("l%d_7:\n\tbx lr\n", id)
	}
	return p
}

var namedFlags = regexp.MustCompile(`changes flags ([NZCV]+)`)

// titleFlags are the flags that a title names as changed, as CPSR bits.
func titleFlags(title string) (f uint32) {
	if m := namedFlags.FindStringSubmatch(title); m != nil {
		for _, c := range m[1] {
			f |= map[rune]uint32{'N': unicorn.FlagN, 'Z': unicorn.FlagZ, 'C': unicorn.FlagC, 'V': unicorn.FlagV}[c]
		}
	}
	return f
}

// assembleAll assembles programs as sections of one file, and gives each
// section's bytes with its own addresses resolved for proofCode. Programs that
// the assembler refuses get nil, and an error of the test.
func assembleAll(t *testing.T, what string, texts []string) (code [][]byte, syms map[string]reftest.Sym) {
	t.Helper()
	code = make([][]byte, len(texts))
	syms = map[string]reftest.Sym{}
	const batch = 500
	for a := 0; a < len(texts); a += batch {
		part := texts[a:min(a+batch, len(texts))]
		skip := map[int]bool{}
		for {
			var b strings.Builder
			line, first := 1, make([]int, len(part))
			for i, s := range part {
				first[i] = line
				if skip[i] {
					continue
				}
				s = fmt.Sprintf("\t.section .p%d,\"ax\",%%progbits\n%s", i, s)
				b.WriteString(s)
				line += strings.Count(s, "\n")
			}
			// What waits for the end is judged by the architecture there.
			b.WriteString("\t.arch armv8-a\n")
			f := reftest.AssembleFile(t, reftest.Options{Arch: "armv7-a"}, b.String())
			if !f.OK {
				if len(f.ErrorLines) == 0 {
					t.Fatalf("%s: refused without a line", what)
				}
				for _, n := range f.ErrorLines {
					i := sortSearchLast(first, n)
					for skip[i] {
						i--
					}
					if !skip[i] {
						t.Errorf("%s: refused in line %d:\n%s", what, n-first[i], part[i])
					}
					skip[i] = true
				}
				continue
			}
			for n, y := range f.Symbols {
				syms[n] = y
			}
			for i := range part {
				if !skip[i] {
					code[a+i] = link(t, &f.Object, fmt.Sprintf(".p%d", i))
				}
			}
			break
		}
	}
	return code, syms
}

func sortSearchLast(first []int, n int) int {
	i, found := slices.BinarySearch(first, n)
	for found && i+1 < len(first) && first[i+1] == n {
		i++
	}
	if !found {
		i--
	}
	return i
}

// link resolves a section's relocations with the section at proofCode: the
// word of an address gets (S + A) | T, where T is 1 for a function symbol that
// addresses T16 code (AAELF32, "Relocation", R_ARM_ABS32), and a call its
// distance (R_ARM_THM_CALL).
func link(t *testing.T, o *reftest.Object, name string) []byte {
	t.Helper()
	code := slices.Clone(o.Sections[name])
	for _, r := range o.Relocs[name] {
		if r.Type == elf.R_ARM_V4BX {
			continue // a mark, and no place
		}
		s, bit := uint32(proofCode), uint32(0)
		if r.Symbol != name {
			y, ok := o.Symbols[r.Symbol]
			if !ok || y.Section != name {
				t.Fatalf("relocation for %s in %s", r.Symbol, name)
			}
			s += y.Value
			if y.Type == elf.STT_FUNC && y.Thumb {
				bit = 1
			}
		}
		p := code[r.Offset:]
		switch r.Type {
		case elf.R_ARM_ABS32:
			binary.LittleEndian.PutUint32(p, (s+binary.LittleEndian.Uint32(p))|bit)
		case elf.R_ARM_THM_PC22: // the older name of R_ARM_THM_CALL
			hi, lo := binary.LittleEndian.Uint16(p), binary.LittleEndian.Uint16(p[2:])
			add := int32(uint32(hi&0x7ff)<<21|uint32(lo&0x7ff)<<10) >> 9
			d := s + uint32(add) - (proofCode + r.Offset)
			binary.LittleEndian.PutUint16(p, 0xf000|uint16(d>>12&0x7ff))
			binary.LittleEndian.PutUint16(p[2:], 0xf800|uint16(d>>1&0x7ff))
		default:
			t.Fatalf("relocation %v in %s", r.Type, name)
		}
	}
	return code
}

// rewritten gives what the actions offered for the statement make of a program.
// refused says whether there is an error in it.
func rewritten(t *testing.T, ctx context.Context, p *proofProgram) (progs []proofProgram, refused bool) {
	t.Helper()
	text := p.text()
	r := analyze(t, nil, text)
	at := finding.Span{Start: len(p.head) + 1, End: len(p.head) + len(p.line)}
	for _, d := range r.Each() {
		if d.Severity == finding.Error {
			refused = true
			if d.Span.Start < at.Start || d.Span.End > at.End {
				t.Fatalf("a finding outside of the statement: %s\n%s", d.Message, text)
			}
		}
	}
	if !refused {
		return nil, false
	}
	it := r.prog.ItemAt(at.Start)
	dead := (&flow.Paths{Evaluator: eval.New(r.prog)}).DeadFlags(it, isa.NZCV)
	for _, a := range r.Actions(ctx, at) {
		if a.Rewrite == "near-name" {
			continue // another meaning
		}
		q := *p
		q.dead = dead
		q.act, q.after = a, apply(text, a.Edits)
		// The statement's place, held by as many bytes as it counts for.
		fill := fmt.Sprintf("\t.space %d", it.Size)
		if q.x.lit {
			fill = strings.Replace(p.line, isa.Reg(q.x.d).String(), "r0", 1)
		}
		q.setHole(fill)
		progs = append(progs, q)
	}
	return progs, true
}

// runMeanings runs what actions made of programs, and what the statements in them
// mean, and compares the two.
func runMeanings(t *testing.T, g *generator, progs []proofProgram) map[string]*proofStat {
	t.Helper()
	holes, afters := make([]string, len(progs)), make([]string, len(progs))
	for i := range progs {
		holes[i], afters[i] = progs[i].hole, progs[i].after
	}
	// The same hole means several actions: assemble it once.
	uniq := slices.Compact(slices.Clone(holes))
	holeCode, syms := assembleAll(t, "before", uniq)
	for i, s := range suffixed(afters) {
		afters[i] = progs[i].bounded(s, i)
	}
	afterCode, bounds := assembleAll(t, "after", afters)

	stats := map[string]*proofStat{}
	for _, w := range rewrite.Rewrites() {
		stats[w.Name] = &proofStat{}
	}
	engines := map[string]engine{}
	engineOf := func(arch string) engine {
		if _, ok := engines[arch]; !ok {
			engines[arch] = newEngine(t, arch)
		}
		return engines[arch]
	}
	states := 4
	for i := range progs {
		p := &progs[i]
		u, _ := slices.BinarySearchFunc(uniq, p.hole, func(a, b string) int { return idOf(a) - idOf(b) })
		hole, after := holeCode[u], afterCode[i]
		if hole == nil || after == nil {
			continue
		}
		st := stats[p.act.Rewrite]
		st.programs++
		if p.act.Safe && strings.Contains(p.act.Title, "changes") {
			t.Errorf("safe, and changes something: %s", p.act.Title)
		}
		if d := len(after) - len(hole); d != p.act.Bytes && p.holeHead == "" {
			// Sections end at their last byte, aligned to nothing.
			t.Errorf("%s: %d bytes by the assembler\n%s", p.act.Title, d, p.after)
		}
		except := titleFlags(p.act.Title)
		if !p.act.Safe {
			st.unsafe++
		}
		if except != 0 && !strings.HasSuffix(p.hole, fmt.Sprintf("re%d:\n%s", p.id, p.tail)) || except != 0 && strings.Count(p.tail, "\n") > 1 {
			// What comes of the flags is in the tail.
			if !p.runNamed(t, g, engineOf(p.arch), st, hole, after, syms, bounds, i) {
				st.titled++
			}
			continue
		}
		if !p.flagsLive {
			except = unicorn.FlagN | unicorn.FlagZ | unicorn.FlagC | unicorn.FlagV
		}
		e := engineOf(p.arch)
		regs := isa.RegList(0)
		if p.call {
			regs |= 1 << isa.LR
		}
		at, resume := proofCode+syms[fmt.Sprintf("at%d", p.id)].Value, proofCode+syms[fmt.Sprintf("re%d", p.id)].Value
		meanings := []stm{p.x}
		if !p.full {
			meanings = p.x.meanings(p.unified)
		}
		for _, x := range meanings {
			for range states {
				m := randomCPU(g.Rand, &x)
				if p.a32 {
					m.r[14] = proofEnd
				}
				want, got := m.clone(), m.clone()
				if !p.mean(e, hole, &x, want, at, resume) {
					st.skipped++
					continue
				}
				end, err := e.run(after, !p.a32, got, proofCode, proofEnd+0x800, many)
				if end != atEnd {
					t.Errorf("%s: does not end: %v\n%s", p.act.Title, err, p.after)
					break
				}
				st.runs++
				if d := differ(want, got, except, regs); d != "" {
					t.Errorf("%s [%s]: %s\n%s\nbecame\n%s\nfrom %x flags %x", p.act.Title, p.act.Rewrite, d, p.text(), p.after, m.r, m.flags()>>28)
					st.wrong++
					break
				}
			}
		}
		if st.wrong > 8 {
			t.Fatalf("too many wrong results")
		}
	}
	return stats
}

// TestRewriteMeaning runs functions with a rewritten statement and compares
// them with what the statement means: every register, flag and memory byte
// that the title does not name as changed is equal at the function's end.
// After half of the statements everything is alive; the others are in
// functions that make registers and flags dead or keep them in random ways,
// which proves what the titles say of dead registers.
func TestRewriteMeaning(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	newEngine(t, "armv4t")
	g := &generator{Rand: reftest.Rand(4, 16)}
	ctx := context.Background()
	var progs []proofProgram
	bad, offered := 0, 0
	n := proofClasses * reftest.Count(12, 150, 1500)
	for i := range n {
		g.unified = i/proofClasses%4 != 0
		p := g.program(i, g.statement(i%proofClasses))
		made, refused := rewritten(t, ctx, &p)
		if refused {
			bad++
		}
		if len(made) > 0 {
			offered++
		}
		progs = append(progs, made...)
	}
	stats := runMeanings(t, g, progs)
	namedRuns(t, proof, stats)
	proof.Counted("meaning of rewrites: %d statements, %d without an encoding, %d with an offer", n, bad, offered)
	for _, k := range slices.Sorted(maps.Keys(stats)) {
		st := stats[k]
		t.Logf("%-18s %5d programs, %6d runs (%d skipped: a fault or no end), %d not safe, of these %d runs of the statement alone, %d not run", k, st.programs, st.runs, st.skipped, st.unsafe, st.named, st.titled)
	}
	for _, k := range meaningful {
		if st := stats[k]; (st == nil || st.runs < 100) && reftest.Least(100) > 0 {
			t.Errorf("%s: too few runs", k)
		}
	}
}

type proofStat struct{ programs, runs, skipped, titled, wrong, unsafe, named int }

// meaningful lists the rewrites that change what the processor executes in
// place of one statement; the others are about names, places and flow.
var meaningful = []string{
	"literal-load", "move-shift", "move-negate", "move-invert", "move-add", "two-adds", "move-then-add",
	"constant-register", "compare-negative", "offset-register", "extend-after", "via-low", "two-operand",
	"step-base", "skip-branch", "list-high", "older-sequence", "flag-spelling", "compute-aside", "two-shifts",
	"address-first", "multiply-shift", "stack-detour",
}

var idPattern = regexp.MustCompile(`(?m)^f(\d+):`)

func idOf(text string) int {
	n, _ := strconv.Atoi(idPattern.FindStringSubmatch(text)[1])
	return n
}

var ownNames = regexp.MustCompile(`\b[fghlK]\d+(_\d+)?\b`)

// suffixed makes the names of each text its own: several actions come from
// one program.
func suffixed(texts []string) []string {
	out := make([]string, len(texts))
	for i := range texts {
		out[i] = suffixedWith(texts[i:i+1], i)[0]
	}
	return out
}

// suffixedWith does so with texts that are parts of one.
func suffixedWith(texts []string, i int) (out []string) {
	for _, s := range texts {
		out = append(out, ownNames.ReplaceAllStringFunc(s, func(w string) string { return fmt.Sprintf("%s_%d", w, i) }))
	}
	return out
}

// mean runs the function with the statement's meaning in its place, and says
// whether it came to an end without a fault.
func (p *proofProgram) mean(e engine, hole []byte, x *stm, m *cpu, at, resume uint32) bool {
	from := uint32(proofCode)
	for range 50 {
		end := atStop
		if from != at {
			var err error
			if end, err = e.run(hole, !p.a32, m, from, at, few); err != nil {
				return false
			}
		}
		if end == atEnd {
			return true
		}
		x.exec(m)
		if m.fault || p.arch == "armv6-m" && m.unaligned {
			return false
		}
		from = resume
	}
	return false
}

// TestStatementMeaning holds what the proofs take for a statement's meaning
// against the encodings that A32 and T32 code have for the same line: run from
// the same state, both leave the same registers, flags and memory. The carry of
// logical operations with a constant is left out: there it comes from the
// constant's rotation, which T16 does not have.
func TestStatementMeaning(t *testing.T) {
	reftest.Require(t, "arm-none-eabi-as")
	t.Parallel()
	proof := reftest.Begin(t)
	e := newEngine(t, "armv7-a")
	g := &generator{Rand: reftest.Rand(32, 16), unified: true}
	var list []stm
	var lines []string
	for i := range proofClasses * reftest.Count(10, 50, 500) {
		x := g.statement(i % proofClasses)
		if x.lit || x.mode > 0 && x.d == x.n {
			continue
		}
		list = append(list, x)
		lines = append(lines, x.text(true, func(v int64) string { return strconv.FormatInt(v, 10) }))
	}
	for _, thumb := range []bool{false, true} {
		ran, seen := 0, map[string]int{}
		for i, v := range reftest.Assemble(t, reftest.Options{Arch: "armv7-a", Unified: true, Thumb: thumb}, lines) {
			if !v.OK || v.Warned || len(v.Relocs) > 0 {
				continue
			}
			x := list[i]
			end := []byte{0, 0, 0, 0xef} // svc #0
			if thumb {
				end = []byte{0, 0xdf}
			}
			code := slices.Concat(v.Bytes, end)
			if len(code) > 12 {
				continue
			}
			for range 3 {
				m := randomCPU(g.Rand, &x)
				want, got := m.clone(), m.clone()
				if x.exec(want); want.fault {
					continue
				}
				if why, err := e.run(code, thumb, got, proofCode, proofEnd+0x800, many); why != atEnd {
					t.Fatalf("%s: %v", lines[i], err)
				}
				ran++
				seen[x.op]++
				except := uint32(0)
				if x.m < 0 && slices.Contains([]string{"mov", "mvn", "and", "orr", "eor", "bic", "tst"}, x.op) {
					except = unicorn.FlagC
				}
				if d := differ(want, got, except, 0); d != "" {
					t.Errorf("%s, thumb %v: %s\nfrom %x flags %x", lines[i], thumb, d, m.r, m.flags()>>28)
					break
				}
			}
		}
		proof.Counted("meaning of statements, Thumb %v: %d runs, %d operations", thumb, ran, len(seen))
		if ran < reftest.Least(1000) || len(seen) < 25 {
			t.Errorf("thumb %v: only %d runs of %d operations", thumb, ran, len(seen))
		}
	}
}
