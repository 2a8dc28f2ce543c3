package analysis

import (
	"context"
	"debug/elf"
	"fmt"
	"maps"
	"math/rand/v2"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
	"narrowgauge/isa/reftest/sources"
)

// slip is a line that has no encoding where it is, and what its author means by it.
type slip struct {
	kind string
	text string
	// means lists what it may mean: the divided syntax does not always say.
	means []func(s *exec.State, b *build) bool
	cond  isa.Cond // of means
	fill  string   // what takes its place; empty: as many bytes as it counts for
	real  bool     // the fill is carried out where the condition holds, by means
}

// slipper makes slips.
type slipper struct {
	*generator
	t     testing.TB
	index uint32 // see bout
}

// near are the registers that the lines around an item name, low and high ones.
func near(r *Result, it *program.Item) (low, high []int) {
	for i := max(0, int(it.Index)-4); i < min(len(r.prog.Items), int(it.Index)+5); i++ {
		x := &r.prog.Items[i]
		if x.Stmt.Kind != syntax.Instruction {
			continue
		}
		for k := range x.Stmt.Ops {
			o := &x.Stmt.Ops[k]
			for _, g := range []isa.Reg{o.Reg, o.Index} {
				switch {
				case o.Kind != isa.OpReg && o.Kind != isa.OpMem, g > 12:
				case g < 8:
					low = append(low, int(g))
				default:
					high = append(high, int(g))
				}
			}
		}
	}
	return low, high
}

// moved puts registers that are used near by in the place of a statement's own, most
// of the time.
func (g *generator) moved(x *stm, low, high []int) {
	to := map[int]int{}
	change := func(n *int) {
		if *n < 0 || *n > 12 {
			return
		}
		if _, ok := to[*n]; !ok && g.IntN(3) == 0 {
			to[*n] = *n
		} else if !ok {
			list := low
			if *n > 7 {
				list = high
			}
			to[*n] = *n
			if len(list) > 0 {
				to[*n] = list[g.IntN(len(list))]
			}
		}
		*n = to[*n]
	}
	if strings.HasSuffix(x.op, "d") && (isLoad(x.op) || isStore(x.op)) {
		return
	}
	change(&x.d)
	change(&x.n)
	change(&x.m)
	change(&x.by)
	if (isLoad(x.op) || isStore(x.op)) && x.mode > 0 && (x.d == x.n || x.m == x.n) {
		x.mode = 0
	}
}

// wordsOf are lines whose meaning A32 code has by the same words. L is a low register,
// H a high one, R any of r0 to r12, S one of those that are used, K a constant, O an
// offset, N a number of places, {l} a list.
var wordsOf = strings.Split("ldr R, [R, R, lsl #N]|str R, [R, R, lsl #N]|ldrb L, [L, L, lsl #N]|rsb L, L, #K|rsbs L, L, #K|adds L, L, L, lsl #N|add L, L, L, lsl #N|"+
	"subs L, L, L, lsr #N|orrs L, L, L, lsl #N|orr L, L, H|eors L, H, L|ands L, L, #K|and L, L, #K|bics L, L, #K|orr L, L, #K|eor L, L, #K|teq L, L|teq L, #K|cmp L, #K|cmp H, #K|cmn L, #K|tst L, #K|tst L, H|"+
	"cmp L, L, lsl #N|mov L, L, lsl #N|movs L, L, lsr #N|mov R, R, asr #N|rev L, L|revsh L, L|uxtb L, L|sxth L, L|uxth H, L|sxtb L, H|str lr, [sp, #-4]!|str R, [sp, #-4]!|str R, [sp, #-8]!|ldr R, [sp], #4|ldr R, [sp], #8|"+
	"stmdb sp!, {l}|stmfd sp!, {l}|ldmia sp!, {l}|ldmfd sp!, {l}|stmia L, {l}|ldmia H!, {l}|ldmdb L!, {l}|ldmia L, {l}|stmia L!, {l}|push {l}|pop {l}|mul L, L, L|muls L, L, L|mul R, R, R|mla L, L, L, L|"+
	"mov R, #K|movs L, #K|mvn L, #K|mvns L, #K|mov H, #K|movw L, #K|add R, R, #K|adds R, R, #K|sub R, R, #K|subs R, R, #K|subs H, H, #K|add L, sp, #K|sub L, sp, #K|add sp, sp, #K|sub sp, sp, #K|add R, R|sub R, R|adc L, L, L|adcs L, L, #K|sbcs L, L, #K|"+
	"sbcs L, L, L|ldr R, [R, #O]|str R, [R, #O]|ldrb R, [R, #O]|strb R, [R, #O]|ldrh R, [R, #O]|strh R, [R, #O]|ldrsb R, [R, #O]|ldrsh R, [R, #O]|ldrsb L, [L]|ldr L, [L, -L]|ldrsh L, [L, L]|ldr R, [R], #O|str R, [R], #O|ldr R, [R, #O]!|strb R, [R, #O]!|ldrb R, [R], #O|"+
	"ldr R, [R], R|str R, [R, R]!|neg R, R|lsl R, R, R|lsrs L, L, L|asrs L, H, #N|lsls H, L, #N|ror L, L, #N|rors L, L, #N|lsl R, R, #N|clz L, L|bfc L, #N, #1|bfc L, #0, #N|bfc L, #2, #11|bfi L, L, #0, #N|bfi L, L, #5, #6|rev16 L, L|ubfx L, L, #3, #N|sbfx L, L, #1, #N|mls L, L, L, L|smull L, L, R, R|umull L, L, L, L|cmp R, R|mov R, R|ldrd r2, r3, [R, #O]|strd r4, r5, [R, #O]|"+
	"ldr R, [sp, #O]|str R, [sp, #O]|ldrb L, [sp, #O]|strh L, [sp, #O]|ldrh L, [sp, L]|str lr, [sp, #O]|mov lr, #K|add lr, lr, #K|ldr lr, [R, #O]|movt L, #K|addw L, L, #K|bic R, R, R|eor R, R, R|mvn R, R|mvn L, L, lsl #N|rsb L, L, L|rsc L, L, L|pkhbt L, L, L|usat L, #N, L|sel L, L, L", "|")

// words fills in a line of wordsOf, with a condition.
func (g *generator) words(cond isa.Cond, low, high []int) string {
	line := wordsOf[g.IntN(len(wordsOf))]
	name, ops, _ := strings.Cut(line, " ")
	if cond != isa.AL {
		name += cond.String()
	}
	var b strings.Builder
	reg := func(h bool) {
		list := low
		if h {
			list = high
		}
		n := g.low()
		if h {
			n = g.high()
		}
		if len(list) > 0 && g.IntN(3) > 0 {
			n = list[g.IntN(len(list))]
		}
		b.WriteString(isa.Reg(n).String())
	}
	for i := range len(ops) {
		if i > 0 && (ops[i-1] >= 'a' && ops[i-1] <= 'z') && ops[i] != '}' {
			b.WriteByte(ops[i])
			continue
		}
		switch c := ops[i]; c {
		case 'L':
			reg(false)
		case 'H':
			reg(true)
		case 'R':
			reg(g.IntN(3) == 0)
		case 'K':
			v := g.constant()
			if g.IntN(2) == 0 {
				v = g.wideConstant()
			}
			fmt.Fprint(&b, v)
		case 'O':
			v := g.offset()
			if g.IntN(3) == 0 {
				v = g.wideOffset()
			}
			fmt.Fprint(&b, v)
		case 'N':
			fmt.Fprint(&b, 1+g.IntN(31))
		case 'l':
			if i > 0 && ops[i-1] == '{' {
				l := isa.RegList(g.IntN(256))
				if g.IntN(2) == 0 {
					l |= 1 << g.high()
				}
				if g.IntN(3) == 0 {
					l |= 1 << g.high()
				}
				if g.IntN(3) == 0 && strings.HasPrefix(name, "st") || name == "push" && g.IntN(3) == 0 {
					l |= 1 << 14
				}
				if l == 0 {
					l = 1 << 8
				}
				b.WriteString(strings.Trim(l.String(), "{}"))
				continue
			}
			b.WriteByte(c)
		default:
			b.WriteByte(c)
		}
	}
	return name + " " + b.String()
}

// sameWords is what a line means in A32 code, nil where it means nothing there, or PC
// takes part.
func sameWords(t testing.TB, line string) func(s *exec.State, b *build) bool {
	r := analyze(t, nil, "\t.arch armv8-a\n\t.syntax unified\n\t.arm\n\t"+line+"\n")
	it := &r.prog.Items[len(r.prog.Items)-1]
	if it.Match.Form == nil || it.Flags&program.Refused != 0 || it.Size != 4 || it.Literal >= 0 {
		return nil
	}
	v := it.Match.Values()
	if e := it.Match.Effects(); e.Reads.Has(isa.PC) || e.Flow != isa.FlowNext {
		return nil
	}
	// C of a logical operation with a constant comes from the constant's rotation there,
	// which a constant that has no encoding does not have.
	name, _, _ := strings.Cut(line, " ")
	keeps := strings.Contains(line, "#") && slices.ContainsFunc([]string{"and", "orr", "eor", "bic", "tst", "teq", "mov", "mvn"}, func(p string) bool { return strings.HasPrefix(name, p) }) &&
		!strings.Contains(line, "lsl") && !strings.Contains(line, "lsr") && !strings.Contains(line, "asr")
	return func(s *exec.State, b *build) bool {
		c := s.Flags & isa.C
		set, it, next := s.Set, s.IT, s.Regs[15]
		s.Set, s.IT = isa.A, 0
		r := exec.Step(v, s)
		s.IT = it
		if r.End != exec.Done || r.Rounded {
			return false
		}
		if keeps {
			s.Flags = s.Flags&^isa.C | c
		}
		if s.Regs[15] == next+4 {
			s.Set, s.Regs[15] = set, next
		} else if !b.have.Has(isa.FeatV5T) {
			s.Set = set
		}
		return true
	}
}

// draw makes a slip in place of an item.
func (g *slipper) draw(r *Result, it *program.Item) (s slip, ok bool) {
	env := &r.prog.Environments[it.Environment]
	low, high := near(r, it)
	a32, wide := env.Mode == isa.A, env.Mode == isa.A || env.Have.Has(isa.FeatT32)
	slot, in := it.Slot.Unpack(), it.Slot&program.SlotIn != 0
	cond := isa.AL
	if in {
		cond = slot.Cond
	} else if (a32 || g.IntN(4) == 0) && g.IntN(3) == 0 {
		cond = isa.Cond(g.IntN(14))
	}
	was := r.prog.File.Line(int(it.Line)).Text[it.Stmt.Start:it.Stmt.End]
	konst := func(v int64) string {
		if v >= 0 && g.IntN(3) == 0 {
			return fmt.Sprintf("%#x", v)
		}
		return strconv.FormatInt(v, 10)
	}
	s.cond = isa.AL
	switch k := g.IntN(10); {
	case k < 4: // a statement of the proofs of single rewrites
		var x stm
		if wide {
			x = g.wideStatement(g.IntN(wideClasses), a32)
		} else {
			x = g.statement(g.IntN(proofClasses))
		}
		if x.lit && wide {
			return s, false
		}
		g.moved(&x, low, high)
		if !wide && x.cond != isa.AL {
			x.d, x.n, x.m = x.d&7, x.n&7, min(x.m, 7)
		} else if in || wide {
			x.cond = cond
		}
		s.kind = "statement"
		means := []stm{x}
		if wide {
			s.text = x.wideText(env.Unified, konst)
		} else {
			s.text = x.text(env.Unified, konst)
			means = x.meanings(env.Unified)
		}
		if x.lit {
			s.fill = "ldr r0, =" + strconv.FormatInt(x.imm, 10)
		}
		s.cond = x.cond
		for _, m := range means {
			s.means = append(s.means, m.carry)
		}
		return s, true
	case k < 8: // by the words of A32
		s.kind, s.text = "words", g.words(cond, low, high)
		name, _, _ := strings.Cut(s.text, " ")
		if !env.Unified {
			if cond != isa.AL || strings.HasSuffix(name, "s") || !slices.ContainsFunc([]string{"ld", "st", "push", "pop", "uxt", "sxt", "rev", "cm", "t", "clz"}, func(p string) bool { return strings.HasPrefix(name, p) }) {
				return s, false
			}
		}
		m := sameWords(g.t, s.text)
		if m == nil {
			return s, false
		}
		s.means = append(s.means, m)
		return s, true
	}
	// The line itself, on a condition or with a register for one.
	if in || it.Stmt.Mnemonic == nil || it.Match.Form == nil {
		return s, false
	}
	name, ops := was[:it.Stmt.NameEnd-it.Stmt.Start], was[it.Stmt.NameEnd-it.Stmt.Start:]
	_, _, has := it.Stmt.Mnemonic.Operation()
	e := it.Match.Effects()
	yes := func(*exec.State, *build) bool { return true }
	s.real, s.fill, s.means = true, was, []func(*exec.State, *build) bool{yes}
	switch {
	case e.Flow == isa.FlowBranch && g.IntN(2) == 0 && len(it.Stmt.Ops) == 1 && it.Stmt.Width == 0:
		reg := g.reg()
		if list := slices.Concat(low, high); len(list) > 0 {
			reg = list[g.IntN(len(list))]
		}
		zero := g.IntN(2) == 0
		s.kind, s.fill = "compare and branch", "b"+ops
		s.text = fmt.Sprintf("%s %s, %s", map[bool]string{true: "cbz", false: "cbnz"}[zero], isa.Reg(reg), strings.TrimSpace(ops))
		s.means[0] = func(x *exec.State, b *build) bool { return (x.Regs[reg] == 0) == zero }
		return s, true
	case has == isa.AL && !a32 && !strings.Contains(name, ".") && (e.Flow == isa.FlowNext || e.Flow == isa.FlowCall || e.Flow == isa.FlowReg):
		c := isa.Cond(g.IntN(14))
		s.kind, s.text = "condition", name+c.String()+ops
		if strings.EqualFold(name, "it") {
			return s, false
		}
		if !env.Unified {
			if e.FlagsWritten != 0 && e.Flow == isa.FlowNext {
				return s, false
			}
		}
		s.means[0] = func(x *exec.State, b *build) bool {
			m := cpu{}
			toCPU(x, &m)
			return m.holds(c)
		}
		return s, true
	}
	return s, false
}

// filled is what takes a slip's place in the text.
func (s *slip) filled(it *program.Item, env *program.Environment) string {
	if s.fill != "" {
		return s.fill
	}
	switch {
	case env.Mode == isa.A:
		return "mov r8, r8"
	case it.Slot&program.SlotIn != 0 && it.Size == 4:
		return "mov" + it.Slot.Unpack().Cond.String() + ".w r8, r8"
	case it.Slot&program.SlotIn != 0:
		return "mov" + it.Slot.Unpack().Cond.String() + " r8, r8"
	}
	return strings.TrimSuffix(strings.Repeat("mov r8, r8\n\t", int(it.Size/2)), "\n\t")
}

// onlyError says whether a program's errors are all at a statement, and there is one.
func onlyError(r *Result, start, end int) bool {
	found := false
	for _, d := range r.Each() {
		if d.Severity != finding.Error {
			continue
		}
		if d.Span.Start < start || d.Span.End > end {
			return false
		}
		found = true
	}
	return found
}

// slipCounts is what a proof has seen.
type slipCounts struct {
	drawn, refused, offered, safe, built, met, runs, differ, strays, layout int
	offers, safeOffers                                                      int
	ends                                                                    map[string]int
	kinds                                                                   map[string]int
	by                                                                      map[string]int // rewrites that were run
	failed                                                                  map[string]int
}

func newSlipCounts() *slipCounts {
	return &slipCounts{ends: map[string]int{}, kinds: map[string]int{}, by: map[string]int{}, failed: map[string]int{}}
}

// countsDistances finds what the layout is a part of: distances from '.', from PC or from
// a label, tables of distances and of pieces of one length. Without them the layout can
// only matter to a program that makes numbers of addresses.
var countsDistances = regexp.MustCompile(`(?m)\.[+-]|\[pc|\[r15|, *pc|\bpc, *[^\s\d]|\w[+-]\d|tb[bh]|\badr|\.org`)

// begin is a place to run from.
type begin struct {
	want, got uint32
	set       isa.State
}

// begins are the routines of a program that other files may call, and places in front of
// a statement in such a one: what only this file calls does not return elsewhere.
func begins(p *pair, r *Result, id int, hole uint32) (routines, around []begin) {
	var private []uint32
	for name, a := range p.want.symbols {
		b, ok := p.got.symbols[name]
		if !ok || strings.HasPrefix(name, ".L") || uint32(a.Value)-arenaCode >= p.want.size || p.want.kindAt(uint32(a.Value)&^1) == 'd' {
			continue
		}
		if elf.ST_BIND(a.Info) == elf.STB_LOCAL {
			if elf.ST_TYPE(a.Info) == elf.STT_FUNC {
				private = append(private, uint32(a.Value)&^1)
			}
			continue
		}
		x := begin{uint32(a.Value) &^ 1, uint32(b.Value) &^ 1, p.want.setAt(uint32(a.Value) &^ 1)}
		if p.want.inst(x.want, x.set).in.Row == nil {
			continue
		}
		routines = append(routines, x)
	}
	slices.SortFunc(routines, func(a, b begin) int { return int(a.want) - int(b.want) })
	it := &r.prog.Items[id]
	last := func(list []uint32) (at uint32) {
		for _, a := range list {
			if a <= hole && a > at {
				at = a
			}
		}
		return at
	}
	var public []uint32
	for _, b := range routines {
		public = append(public, b.want)
	}
	if last(public) == 0 || last(public) < last(private) {
		return routines, nil
	}
	for k := id - 1; k >= max(0, id-8); k-- {
		x := &r.prog.Items[k]
		if x.Stmt.Kind != syntax.Instruction || x.Section != it.Section || x.Environment != it.Environment || x.Slot&program.SlotIn != 0 || x.File != 0 {
			continue
		}
		a, ok := p.want.addr(k)
		b, ok2 := p.got.addr(k)
		if ok && ok2 {
			around = append(around, begin{a, b, r.prog.Environments[it.Environment].Mode})
		}
	}
	return routines, around
}

// compare runs both builds and says what differs; met is how many runs have come
// across a hole.
func (p *pair) compare(g *rand.Rand, routines, around []begin, at, index uint32, counts *slipCounts, padded func() *build) (met int, differ string) {
	for try := 0; try < 48 && met < 8; try++ {
		var x begin
		switch {
		case len(around) > 0 && (try%2 == 1 || len(routines) == 0):
			x = around[g.IntN(len(around))]
		case len(routines) > 0:
			// The routine in front of the slip, most of the time.
			n, _ := slices.BinarySearchFunc(routines, at+1, func(b begin, t uint32) int { return int(b.want) - int(t) })
			if x = routines[max(0, n-1)]; g.IntN(4) == 0 {
				x = routines[g.IntN(len(routines))]
			}
		default:
			return met, ""
		}
		seed, a, b := g.Uint32(), g.Uint64(), g.Uint64()
		begun := func(of *build, from uint32) *bout {
			r := of.start(rand.New(rand.NewPCG(a, b)), from, x.set, seed)
			r.index = index
			return r
		}
		want, got := begun(p.want, x.want), begun(p.got, x.got)
		first := want.s
		want.run(1500)
		if want.met == 0 && try%4 != 0 {
			continue // now and then also what a rewrite does to the rest
		}
		got.run(1500 + 20*want.met + 100)
		if counts.runs++; want.met > 0 {
			met++
			counts.ends[want.end]++
		}
		d, values := tell(want, got)
		if d == "" {
			continue
		}
		if strays(want, got) {
			counts.strays++
			continue
		}
		if values || !p.counted {
			if other := padded(); other != nil {
				from, ok := other.from(p.want, x.want)
				again := begun(other, from)
				again.run(1500)
				e, _ := tell(again, got)
				if ok && e != "" { // the statements are elsewhere, or all numbers are the same
					a, b := begun(other, from), begun(p.got, x.got)
					a.raw, b.raw = true, true
					a.run(1500)
					b.run(1500 + 20*want.met + 100)
					if f, _ := tell(a, b); f == "" {
						e = ""
					}
				}
				if ok && e == "" {
					counts.layout++
					continue
				}
				d += fmt.Sprintf("\n(as long: %v %s, %x)", ok, e, again.path)
			}
		}
		return met, fmt.Sprintf("%s\nfrom %x flags %v at %#x\nwant %s %x\ngot %s %x", d, first.Regs, first.Flags, x.want, want.end, want.path, got.end, got.path)
	}
	return met, ""
}

// reported shows a difference, the part of the texts around it.
func reported(before, after string, at int) string {
	line := strings.Count(before[:at], "\n")
	cut := func(s string) string {
		l := strings.Split(s, "\n")
		return strings.Join(l[max(0, line-12):min(len(l), line+24)], "\n")
	}
	return cut(before) + "\n---- became\n" + cut(after)
}

// try draws a slip in place of a statement of a text without errors, and compares.
func (g *slipper) try(l *linker, r *Result, text string, it *program.Item, set *Settings, flags []string, counts *slipCounts) {
	s, ok := g.draw(r, it)
	if !ok {
		return
	}
	counts.drawn++
	start := r.prog.File.LineStart(int(it.Line)) + int(it.Stmt.Start)
	end := start + int(it.Stmt.End-it.Stmt.Start)
	slipped := text[:start] + s.text + text[end:]
	end = start + len(s.text)
	r2, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(slipped), Set: set})
	if err != nil {
		g.t.Fatal(err)
	}
	if !onlyError(r2, start, end) || len(r2.prog.Items) != len(r.prog.Items) {
		return
	}
	counts.refused++
	counts.kinds[s.kind]++
	acts := r2.Actions(context.Background(), finding.Span{Start: start, End: end})
	if len(acts) > 0 {
		counts.offered++
	}
	for _, a := range acts {
		counts.offers++
		if a.Safe {
			counts.safeOffers++
		}
	}
	edits := r2.SafeFixes(context.Background(), "")
	fixed := apply(slipped, edits)
	r3, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(fixed), Set: set})
	if err != nil {
		g.t.Fatal(err)
	}
	if slices.ContainsFunc(r3.Each(), func(d finding.Diagnostic) bool { return d.Severity == finding.Error }) {
		return
	}
	counts.safe++
	by := "?"
	for _, a := range acts {
		if a.Safe {
			by = a.Rewrite
			break
		}
	}
	x := &r2.prog.Items[it.Index]
	env := &r2.prog.Environments[x.Environment]
	met, built := 0, false
	for _, m := range s.means {
		h := hole{start: start, end: end, fill: s.filled(x, env), size: itemSize(x), means: m, cond: s.cond, real: s.real}
		p, err := l.both(r2, slipped, []hole{h}, edits, flags, env.Have)
		if err != nil {
			if counts.failed[err.Error()]++; strings.HasPrefix(err.Error(), "after") {
				g.t.Errorf("%q does not assemble: %v\n%s", s.text, err, reported(slipped, fixed, start))
			}
			return
		}
		built = true
		at, _ := p.want.addr(int(x.Index))
		for a := range p.want.holes {
			at = a
		}
		p.counted = countsDistances.MatchString(slipped)
		routines, around := begins(p, r2, int(x.Index), at)
		n, differ := p.compare(g.Rand, routines, around, at, g.index, counts, func() *build {
			if x.Slot&program.SlotIn != 0 {
				return nil
			}
			return l.padded(r2, slipped, h, p, flags, env.Have, len(r3.prog.Literals)-len(r2.prog.Literals))
		})
		met += n
		if differ != "" {
			counts.differ++
			g.t.Errorf("%s, %s [%s]: %s\n%s", s.kind, s.text, by, differ, reported(slipped, fixed, start))
			break
		}
	}
	if built {
		counts.built++
	}
	if met > 0 {
		counts.met++
		counts.by[by]++
	}
}

// TestRealSlips puts slips into sources that nobody here wrote, lets the safe rewrites
// mend them, and carries out both: the source with the slip as it is evidently meant,
// and what the rewrites make of it. Routines run from random states, from their first
// lines and from lines in front of the slip; what callers, routines of other files and
// memory see must be the same.
func TestRealSlips(t *testing.T) {
	t.Parallel()
	l := newLinker(t)
	proof := reftest.Begin(t)
	g := &slipper{generator: &generator{Rand: reftest.Rand(51, 7), unified: true}, t: t}
	counts := newSlipCounts()
	goal := reftest.Count(36, 300, 6000)
	for _, p := range sources.Chosen(t) {
		if p.Columns {
			continue
		}
		type base struct {
			x    *realText
			r    *Result
			list []int32
			set  *Settings
		}
		var bases []*base
		for _, x := range realTexts(t, p).texts {
			if x.unit.Config.Big || len(x.text) > 60000 {
				continue
			}
			bases = append(bases, &base{x: x})
		}
		if len(bases) == 0 {
			continue
		}
		from := counts.met
		for try := 0; try < goal*40 && counts.met-from < goal/len(sources.Chosen(t)); try++ {
			b := bases[g.IntN(len(bases))]
			if b.r == nil {
				b.set = &Settings{Arch: b.x.unit.Config.Arch, FPU: b.x.unit.Config.FPU}
				r, err := Analyze(context.Background(), &Input{Path: "real.s", File: syntax.Parse(b.x.text), Set: b.set})
				if err != nil {
					t.Fatal(err)
				}
				b.r = r
				if !slices.ContainsFunc(r.Each(), func(d finding.Diagnostic) bool { return d.Severity == finding.Error }) {
					for i := range r.prog.Items {
						it := &r.prog.Items[i]
						if it.Stmt.Kind == syntax.Instruction && it.File == 0 && it.Match.Form != nil && it.Match.Effects().Flow != isa.FlowTrap && !it.Match.Form.Row.Vector() &&
							len(r.prog.File.Line(int(it.Line)).Text) < 200 {
							b.list = append(b.list, it.Index)
						}
					}
				}
			}
			if len(b.list) == 0 {
				continue
			}
			it := &b.r.prog.Items[b.list[g.IntN(len(b.list))]]
			if e := it.Match.Effects(); e.Flow != isa.FlowNext && e.Flow != isa.FlowBranch && e.Flow != isa.FlowReg && e.Flow != isa.FlowCall {
				continue
			}
			g.try(l, b.r, b.x.text, it, b.set, b.x.unit.Config.Flags(), counts)
			if counts.differ > 20 {
				t.Fatal("too many differences")
			}
		}
	}
	counts.report(t, proof, "slips in real sources")
	counts.floor(t, 87, 77)
	if counts.met < reftest.Least(goal*9/10) {
		t.Errorf("only %d of %d slips were run", counts.met, goal)
	}
}

// floor holds the shares, in per cent, of offers that are safe and of slips that safe
// rewrites mend: caution is not to be bought by silence.
func (c *slipCounts) floor(t *testing.T, offers, mended int) {
	t.Helper()
	if reftest.Part() {
		return
	}
	if 100*c.safeOffers < offers*c.offers || 100*c.safe < mended*c.refused {
		t.Errorf("%d of %d offers are safe, %d%% at least; %d of %d slips are mended, %d%% at least", c.safeOffers, c.offers, offers, c.safe, c.refused, mended)
	}
}

// report logs what has been seen.
func (c *slipCounts) report(t *testing.T, proof *reftest.Proof, what string) {
	t.Helper()
	share := func(a, b int) float64 { return 100 * float64(a) / float64(max(b, 1)) }
	proof.Counted("%s: %d refused, %d with an offer; %d of %d offers safe (%.1f%%); %d mended by safe ones (%.1f%%), %d run from %d states, %d differ",
		what, c.refused, c.offered, c.safeOffers, c.offers, share(c.safeOffers, c.offers), c.safe, share(c.safe, c.refused), c.met, c.runs, c.differ)
	t.Logf("kinds %v, ends %v, %d runs read past a table, %d reckon with addresses of code", c.kinds, c.ends, c.strays, c.layout)
	for _, k := range slices.Sorted(maps.Keys(c.by)) {
		t.Logf("%-20s %5d", k, c.by[k])
	}
	for _, k := range slices.Sorted(maps.Keys(c.failed)) {
		t.Logf("not built, %d: %.300s", c.failed[k], k)
	}
}
