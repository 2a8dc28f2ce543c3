package analysis

import (
	"context"
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/image"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
	"narrowgauge/isa/reftest"
)

// pathStyle is a target with its lines: D, N and M stand for low registers, K for a
// small constant, c for a condition.
type pathStyle struct {
	name, head  string
	lines       []string
	mem         []string
	wrong       []string // lines that are refused, and evidently mean something
	conds       bool     // lines may have a condition
	blocks      bool     // IT blocks, CBZ, TBB
	regs, flags float64  // at least so many percent are dead
	status      float64  // of Q and GE
}

var pathT16 = []string{
	"movs D,#K", "mov D,N", "adds D,N,M", "adds D,#K", "subs D,N,M", "subs D,#K", "adcs D,N", "sbcs D,N", "cmp D,N", "cmp D,#K", "cmn D,N", "tst D,N",
	"lsls D,N,#3", "lsrs D,N,#1", "asrs D,N,#2", "lsls D,N,#0", "lsls D,N", "rors D,N", "ands D,N", "orrs D,N", "eors D,N", "bics D,N", "mvns D,N", "muls D,N", "rsbs D,N,#0",
	"mov r8,D", "mov D,r8", "add D,r8", "cmp D,r8", "nop",
}

var pathMem = []string{"ldr D,[N,#4]", "str D,[N,#8]", "ldrb D,[N,M]", "strb D,[N,#1]", "ldmia N!,{D}", "stmia N!,{D}", "ldr D,=K"}

var pathWrong = []string{"movs D,#300", "adds D,N,#200", "subs r8,r8,#1", "adds r8,#K", "ldr D,[N,#200]", "str D,[r8,#4]", "ands D,#255", "ands D,N,M", "cmp r8,#K", "adcs D,N,M",
	"mvns D,#K", "tst D,#K", "teq D,N", "rsbs D,N,#9", "add D,N,M,lsl #2", "adds D,N,M,lsl #2", "moveq D,N", "addcs D,N,#200", "lsls r8,D,#2", "muls D,N,M", "ldrsb D,[N,#3]", "stmia r8!,{D}", "movs r9,#K", "bics D,#K", "lsls D,N,M", "cmn D,#300"}

// The shares are above those of a walk from line to line without calls and tables, which
// has 7.3 and 65.2 percent, 7.5 and 52.8, 7.6 and 46.0.
var pathStyles = []pathStyle{
	{name: "T16", regs: 12, flags: 75, status: 90, wrong: pathWrong, head: ".arch armv6-m|.syntax unified|.thumb|", lines: pathT16, mem: pathMem},
	{name: "T32", regs: 12, flags: 68, status: 74, wrong: []string{"adds D,N,#0x12345", "mov D,#0x12345678", "ldr D,[N,#5000]", "cmp D,#0x12345", "addeq D,N,M", "movcs D,N", "rscs D,N,M", "adcs D,N,#0x12345", "ands D,N,#0x1234567", "strb D,[N,#-300]", "ldrd D,r9,[N,#2000]"}, head: ".arch armv7-a|.syntax unified|.thumb|", mem: append([]string{"ldrd D,r9,[N,#8]", "str D,[N,M,lsl #2]", "ldr D,[N],#4"}, pathMem...), blocks: true,
		lines: append([]string{"add.w D,N,#K", "adds.w D,N,#K", "movw D,#500", "movt D,#K", "ubfx D,N,#3,#5", "bfi D,N,#3,#5", "mla D,N,M,D", "rrxs D,N", "rrx D,N", "mrs D,apsr", "msr apsr_nzcvq,D", "umull D,r9,N,M", "teq D,N", "sel D,N,M", "qadd D,N,M", "uadd8 D,N,M", "msr apsr_g,D", "usat D,#5,N", "mov.w D,#K", "movw D,#300", "mvn.w D,#K"}, pathT16...)},
	{name: "A32", regs: 11, flags: 52, status: 63, wrong: []string{"addsc D,N,#0x12345", "movc D,#0x12345678", "ldrc D,[N,#5000]", "cmpc D,#0x12345", "strhc D,[N,#300]", "adcsc D,N,#0x12345", "tstc D,#0x12345", "rscsc D,N,#0x12345", "ldrsbc D,[N,M,lsl #2]"}, head: ".arch armv7-a|.syntax unified|.arm|", conds: true, mem: []string{"ldrc D,[N,#4]", "strc D,[N,#8]", "ldrbc D,[N,M]", "ldmiac N!,{D,r9}", "strc D,[N,M,lsl #2]", "ldr D,=K"},
		lines: []string{"movc D,#K", "movsc D,#K", "movc D,N", "addc D,N,M", "addsc D,N,#K", "subsc D,N,M,lsl #2", "adcc D,N,M", "adcsc D,N,M", "sbcsc D,N,M", "rscsc D,N,M", "cmpc D,N", "cmnc D,#K", "tstc D,N", "teqc D,N",
			"movsc D,N,lsl #3", "movsc D,N,lsl M", "movsc D,N,rrx", "movsc D,#0xff000000", "andsc D,N,M", "bicsc D,N,M,ror #3", "mvnsc D,N", "mulsc D,N,M", "mlac D,N,M,D", "umullc D,r9,N,M", "mrsc D,cpsr", "msrc cpsr_f,D", "ldrc D,=K", "nop", "selc D,N,M", "qsubc D,N,M", "ssub16c D,N,M", "msrc apsr_nzcvqg,D"}},
}

// pathWriter makes a program of routines that call each other, with loops, tables, blocks
// of conditions and tail calls. Routine 0 is main.
type pathWriter struct {
	*rand.Rand
	*pathStyle
	out    []string
	kinds  []byte // of routines: local, global, weak, or one whose address is taken
	frames []bool // routines that save lr
	label  int
}

func (w *pathWriter) line(format string, args ...any) {
	w.out = append(w.out, "\t"+fmt.Sprintf(format, args...))
}

func (w *pathWriter) next() string { w.label++; return fmt.Sprintf("L%d", w.label) }

var pathConds = []string{"eq", "ne", "cs", "cc", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le"}

func (w *pathWriter) cond() string { return pathConds[w.IntN(len(pathConds))] }

// op is a line out of a list, under a condition where that may be.
func (w *pathWriter) op(list []string, cond string) string {
	var b strings.Builder
	regs := w.registers()
	for i, c := range []byte(list[w.IntN(len(list))]) {
		switch {
		case c == 'D' || c == 'N' || c == 'M':
			fmt.Fprintf(&b, "r%d", regs[strings.IndexByte("DNM", c)])
		case c == 'K':
			fmt.Fprint(&b, w.IntN(200))
		case c == 'c' && w.conds && i > 2 && !strings.ContainsAny(b.String(), " "):
			b.WriteString(cond)
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// registers are low ones, not the same.
func (w *pathWriter) registers() []int { return w.Perm(7) }

// straight writes some lines.
func (w *pathWriter) straight() {
	for range 1 + w.IntN(5) {
		list, cond := w.lines, ""
		if w.IntN(6) == 0 {
			list = w.mem
		}
		if w.conds && w.IntN(4) == 0 {
			cond = w.cond()
		}
		if w.IntN(10) == 0 {
			w.line("%s @ wrong", w.op(w.wrong, cond))
			continue
		}
		w.line("%s", w.op(list, cond))
	}
}

// call writes a call of a routine, by its kind.
func (w *pathWriter) call() {
	to := 1 + w.IntN(len(w.kinds)-1)
	switch n := w.IntN(8); {
	case n == 0:
		w.line("bl other%d", w.IntN(2))
	case n == 1 && w.kinds[to] == 'a' && w.conds: // lr by hand
		w.line("ldr r7,=f%d", to)
		w.line("mov lr,pc")
		w.line("bx r7")
	case n == 2 && w.conds:
		l := w.next()
		w.line("adr lr,%s", l)
		w.line("b f%d", to)
		w.out = append(w.out, l+":")
	case n < 4 && w.kinds[to] == 'a':
		w.line("ldr r7,=f%d", to)
		w.line("blx r7")
	case n == 4 && w.conds:
		w.line("bl%s f%d", w.cond(), to)
	default:
		w.line("bl f%d", to)
	}
}

// table writes a jump by a table.
func (w *pathWriter) table() {
	a, b, end := w.next(), w.next(), w.next()
	if w.IntN(2) == 0 && w.steps(a, b, end) {
		return
	}
	switch {
	case w.blocks:
		w.line("and r7,r%d,#1", w.IntN(7))
		if t := w.next(); w.IntN(2) == 0 {
			w.line("tbb [pc,r7]")
			w.out = append(w.out, t+":")
			w.line(".byte (%s-%s)/2,(%s-%s)/2", a, t, b, t)
		} else {
			w.line("tbh [pc,r7,lsl #1]")
			w.out = append(w.out, t+":")
			w.line(".hword (%s-%s)/2,(%s-%s)/2", a, t, b, t)
		}
	case w.conds:
		w.line("and r7,r%d,#1", w.IntN(7))
		w.line("ldr pc,[pc,r7,lsl #2]")
		w.line("nop")
		w.line(".word %s,%s", a, b)
	default:
		return
	}
	w.cases(a, b, end)
}

// cases are what a table of two entries leads to.
func (w *pathWriter) cases(a, b, end string) {
	w.out = append(w.out, a+":")
	w.straight()
	w.line("b %s", end)
	w.out = append(w.out, b+":")
	w.straight()
	w.out = append(w.out, end+":")
}

// steps writes a jump by ADD into steps of equal size: branches, or a line and a branch.
// Says whether it has.
func (w *pathWriter) steps(a, b, end string) bool {
	list := slices.DeleteFunc(slices.Clone(w.lines), func(l string) bool { return strings.Contains(l, ".w") || strings.Contains(l, "=") })
	index := w.IntN(7)
	branches := w.IntN(2) == 0
	pieces := func() {
		for range 2 {
			w.line("%s", w.op(list, ""))
			w.line("b %s", end)
		}
		w.out = append(w.out, end+":")
	}
	if w.conds {
		by := 3
		if branches {
			by = 2
		}
		switch w.IntN(4) {
		case 0:
			w.line("cmp r%d,#1", index)
			w.line("addls pc,pc,r%d,lsl #%d", index, by)
			w.line("b %s", end)
		case 1:
			w.line("cmp r%d,#2", index)
			w.line("addlo pc,pc,r%d,lsl #%d", index, by)
			w.line("b %s", end)
		case 2:
			w.line("cmp r%d,#1", index)
			w.line("bhi %s", end)
			w.line("add pc,pc,r%d,lsl #%d", index, by)
			w.line("nop")
		default:
			w.line("and r7,r%d,#1", index)
			w.line("add pc,pc,r7,lsl #%d", by)
			w.line("nop")
		}
		if !branches {
			pieces()
			return true
		}
	} else if w.name == "T16" {
		by := 2
		if branches {
			by = 1
		}
		if w.IntN(2) == 0 || !branches {
			w.line("cmp r%d,#%d", index, 1+w.IntN(2))
			w.line("%s %s", []string{"bhi", "bhs"}[w.IntN(2)], end)
			if !branches && strings.HasSuffix(w.out[len(w.out)-2], "2") { // two steps
				w.out[len(w.out)-1] = "\tbhs " + end
			}
			w.line("lsls r7,r%d,#%d", index, by)
		} else {
			w.line("movs r7,#1")
			w.line("ands r7,r%d", index)
			w.line("lsls r7,r7,#%d", by)
		}
		w.line("add pc,r7")
		w.line("nop")
		if !branches {
			pieces()
			return true
		}
	} else {
		return false
	}
	w.line("b %s", a)
	w.line("b %s", b)
	w.cases(a, b, end)
	return true
}

// block writes an IT block.
func (w *pathWriter) block() {
	k := w.IntN(14)
	conds := [2]string{pathConds[k], pathConds[k^1]}
	n, text := 1+w.IntN(3), "it"
	which := make([]int, n)
	for i := 1; i < n; i++ {
		which[i] = w.IntN(2)
		text += string("te"[which[i]])
	}
	w.line("%s %s", text, conds[0])
	for i := range n {
		w.line("%s", w.in(conds[which[i]]))
	}
}

// in is a line of an IT block.
func (w *pathWriter) in(cond string) string {
	return w.fill([]string{"movC D,#K", "addC D,N,M", "addC D,#K", "cmpC D,N", "adcC D,N", "mvnC D,N", "lslC D,N,#2", "ldrC D,[N,#4]", "addsC.w D,N,M", "addC.w D,N,#K"}, cond)
}

func (w *pathWriter) fill(list []string, cond string) string {
	s := list[w.IntN(len(list))]
	for i, c := range []string{"D", "N", "M"} {
		s = strings.ReplaceAll(s, c, fmt.Sprintf("r%d", w.registers()[i]))
	}
	return strings.Replace(strings.Replace(s, "K", fmt.Sprint(w.IntN(200)), 1), "C", cond, 1)
}

// part writes a part of a routine.
func (w *pathWriter) part(frame bool, depth int) {
	switch n := w.IntN(10); {
	case n < 2 && depth > 0: // a branch over lines
		l := w.next()
		if w.blocks && w.IntN(3) == 0 {
			if r := w.IntN(9); r < 8 {
				w.line("cb%s r%d,%s", []string{"z", "nz"}[w.IntN(2)], r, l)
			} else {
				w.line("cb%s r%d,%s @ wrong", []string{"z", "nz"}[w.IntN(2)], r, l)
			}
			w.line("%s", w.op(w.lines, ""))
		} else {
			w.line("b%s %s", w.cond(), l)
			w.part(frame, depth-1)
		}
		w.out = append(w.out, l+":")
	case n < 4 && depth > 0: // a loop
		l, c := w.next(), w.IntN(7)
		w.line("movs r%d,#%d", c, 1+w.IntN(3))
		w.out = append(w.out, l+":")
		w.part(frame, depth-1)
		w.line("subs r%d,#1", c)
		w.line("b%s %s", []string{"ne", "pl", "hi"}[w.IntN(3)], l)
	case n < 6 && frame:
		w.call()
	case n == 6:
		w.table()
	case n == 7 && w.blocks:
		w.block()
	default:
		w.straight()
	}
}

// leave writes the end of a routine: a return, a tail call, or nothing, so that it runs
// into the next one.
func (w *pathWriter) leave(k int, frame bool) {
	tail := w.IntN(5) == 0 && len(w.kinds) > 1
	switch to := 1 + w.IntN(max(1, len(w.kinds)-1)); {
	case frame && tail && w.name == "T16":
		w.line("pop {r4}")
		w.line("pop {r3}")
		w.line("mov lr,r3")
		w.line("b f%d", to)
	case frame && tail:
		w.line("pop {r4,lr}")
		w.line("b f%d", to)
	case tail:
		w.line("b f%d", to)
	case frame && w.conds && w.IntN(3) == 0:
		w.line("pop%s {r4,pc}", w.cond())
		w.straight()
		w.line("pop {r4,pc}")
	case frame && w.blocks && w.IntN(3) == 0:
		c := w.cond()
		w.line("it %s", c)
		w.line("pop%s {r4,pc}", c)
		w.straight()
		w.line("pop {r4,pc}")
	case frame:
		w.line("pop {r4,pc}")
	case k+1 < len(w.kinds) && !w.frames[k+1] && w.IntN(6) == 0:
		// runs into the next one
	case w.conds && w.IntN(2) == 0:
		w.line("mov pc,lr")
	default:
		w.line("bx lr")
	}
}

// program writes all routines, some in another section.
func (w *pathWriter) program() string {
	n := 2 + w.IntN(4)
	w.kinds, w.frames = make([]byte, n), make([]bool, n)
	for k := range n {
		w.kinds[k] = "llllggwa"[w.IntN(8)]
		w.frames[k] = w.IntN(2) == 0
	}
	w.kinds[0], w.frames[0] = 'g', true
	w.out = strings.Split(strings.TrimSuffix(w.head, "|"), "|")
	for k := range n {
		if k > 0 && w.frames[k] && w.frames[k-1] && w.IntN(4) == 0 {
			w.line(".section .text.s%d,\"ax\"", k)
		}
		switch w.kinds[k] {
		case 'g':
			w.line(".global f%d", k)
		case 'w':
			w.line(".weak f%d", k)
		}
		if !w.conds {
			w.line(".thumb_func")
		}
		w.out = append(w.out, fmt.Sprintf("f%d:", k))
		if w.frames[k] {
			w.line("push {r4,lr}")
		}
		for range 1 + w.IntN(4) {
			w.part(w.frames[k], 2)
		}
		w.leave(k, w.frames[k])
		if w.IntN(3) == 0 && (k+1 == n || w.frames[k+1]) {
			w.line("b f%d", k) // nobody comes here, and the pool has a place
			w.line(".ltorg")
		}
	}
	return strings.Join(w.out, "\n") + "\n"
}

// pathMemory is invented, but for what the program has.
type pathMemory struct {
	img    *image.Image
	data   map[uint32]byte // of the program
	stored map[uint32]byte
	seed   uint32
	broken bool // a store has hit the program
}

func (m *pathMemory) Load(addr uint32) byte {
	if b, ok := m.stored[addr]; ok {
		return b
	}
	if b, ok := m.data[addr]; ok {
		return b
	}
	x := (addr>>2*0x9e37_79b1 ^ m.seed) * 0x85eb_ca6b
	return byte((x ^ x>>13) >> (8 * (addr & 3)))
}

func (m *pathMemory) Store(addr uint32, b byte) {
	m.broken = m.broken || !image.Invented(addr)
	m.stored[addr] = b
}

// dataOf are the bytes of tables and pools.
func dataOf(p *program.Program, img *image.Image) map[uint32]byte {
	data := map[uint32]byte{}
	put := func(sec int16, off int64, unit int, v program.Value) {
		w, _ := img.Word(v)
		at, _ := image.Address(sec, off)
		for i := range unit {
			data[at+uint32(i)] = byte(w >> (8 * i))
		}
	}
	for i := range p.Items {
		if it := &p.Items[i]; it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffData {
			unit := p.Unit(it)
			for k := range it.Stmt.Ops {
				put(it.Section, it.Offset+int64(k*unit), unit, img.Value(&it.Stmt.Ops[k], it))
			}
		}
	}
	for i := range p.Literals {
		if l := &p.Literals[i]; l.Offset >= 0 && !l.Padding {
			put(l.Section, l.Offset, 4, l.Value)
		}
	}
	return data
}

// pathCore is a core that runs a program.
type pathCore struct {
	exec.State
	mem  *pathMemory
	over bool // it does not go on
}

func (c *pathCore) clone() *pathCore {
	d := *c
	mem := *c.mem
	mem.stored = maps.Clone(mem.stored)
	d.mem, d.Mem, d.Log = &mem, &mem, nil
	return &d
}

// step carries out one line, or what a routine of another file does. it is nil for that.
func (c *pathCore) step(img *image.Image) (it *program.Item) {
	pc := c.Regs[isa.PC]
	c.Log = c.Log[:0]
	if it = img.At(pc); it == nil {
		if _, _, inside := image.Place(pc); image.Invented(pc) || inside {
			c.over = true
			return nil
		}
		// The standard lets it change these (AAPCS32, 6.1.1).
		for _, r := range []int{0, 1, 2, 3, 12} {
			c.Regs[r] = c.Regs[r]*17 + uint32(r)
		}
		c.Flags = isa.Flags(c.Regs[0]>>7) & isa.NZCV
		c.Q, c.GE = c.Regs[0]>>11&1 != 0, uint8(c.Regs[0]>>12&15)
		c.Regs[isa.PC] = c.Regs[isa.LR] &^ 1
		return nil
	}
	at, size := pc, it.Size
	r, ok := img.Step(it, &c.State, true)
	c.over = !ok || r.End != exec.Done || size == 0 || c.mem.broken || c.Regs[isa.PC] == at
	return it
}

// alike says what two cores differ in: registers, and flags if those count.
func (c *pathCore) alike(d *pathCore, flags bool) string {
	for r := range 16 {
		if c.Regs[r] != d.Regs[r] {
			return fmt.Sprintf("r%d is %#x and %#x", r, c.Regs[r], d.Regs[r])
		}
	}
	if f := c.Flags ^ d.Flags; flags && f != 0 {
		return "flags " + f.String()
	}
	if flags && (c.Q != d.Q || c.GE != d.GE) {
		return fmt.Sprintf("Q is %v and %v, GE %d and %d", c.Q, d.Q, c.GE, d.GE)
	}
	return ""
}

// pathProof runs a program.
type pathProof struct {
	img   *image.Image
	paths flow.Paths
	rand  *rand.Rand
	forks int
}

const pathExit = 0x1000_0000 // where main comes back to

// fork changes all that is dead after a line that has just been carried out, and runs both
// cores on. It says what that changes.
func (p *pathProof) fork(core *pathCore, it *program.Item) string {
	regs, flags, status := p.paths.DeadRegs(it, 0x7fff), p.paths.DeadFlags(it, isa.NZCV), p.paths.DeadStatus(it, isa.AllStatus)
	if regs == 0 && flags == 0 && status == 0 {
		return ""
	}
	p.forks++
	a, b := core.clone(), core.clone()
	for r := isa.Reg(0); r < isa.PC; r++ {
		if regs.Has(r) {
			b.Regs[r] = b.Regs[r]&3 ^ p.rand.Uint32()&^3
		}
	}
	b.Flags ^= isa.Flags(p.rand.Uint32()) & flags
	if status&isa.Saturated != 0 {
		b.Q = p.rand.IntN(2) == 0
	}
	if status&isa.Greater != 0 {
		b.GE = uint8(p.rand.IntN(16))
	}
	last := it
	for range 60 {
		if a.Regs[isa.PC] != b.Regs[isa.PC] {
			return fmt.Sprintf("goes on at %#x and %#x", a.Regs[isa.PC], b.Regs[isa.PC])
		}
		if pc := a.Regs[isa.PC]; p.img.At(pc) == nil {
			// All registers count, and flags where nobody says that it is an interface.
			leaves := isa.FlowNext
			if last.Stmt.Mnemonic != nil {
				leaves = last.Stmt.Mnemonic.Evident(isa.A, p.img.Ops)
			}
			if d := a.alike(b, leaves != isa.FlowCall && pc != pathExit); d != "" {
				return d
			}
		}
		x, y := a.step(p.img), b.step(p.img)
		if x != nil {
			last = x
		}
		if x != y || a.over != b.over {
			return "one of them ends"
		}
		if d := a.otherAccesses(b); d != "" {
			return d
		}
		if a.over {
			break
		}
	}
	return ""
}

// otherAccesses says where the last steps of two cores have not accessed the same memory with the
// same values.
func (c *pathCore) otherAccesses(o *pathCore) string {
	if len(c.Log) != len(o.Log) {
		return "other accesses"
	}
	for i := range c.Log {
		if c.Log[i] != o.Log[i] {
			return fmt.Sprintf("accesses %+v and %+v", c.Log[i], o.Log[i])
		}
	}
	return ""
}

// TestDeadRuns holds that nothing depends on what is called dead: random programs are
// carried out, and at random lines of the way all registers and flags that are dead there
// get other values. From there on, the programs go the same way, access the same memory,
// and hand the same registers to other files.
func TestDeadRuns(t *testing.T) {
	t.Parallel()
	for i := range pathStyles {
		style := &pathStyles[i]
		t.Run(style.name, func(t *testing.T) {
			proof := reftest.Begin(t)
			rnd := reftest.Rand(61, uint64(i))
			var share liveShare
			forks := 0
			for range reftest.Count(30, 400, 60000) {
				w := &pathWriter{Rand: rnd, pathStyle: style}
				text := w.program()
				res, err := Analyze(context.Background(), &Input{Path: "paths.s", File: syntax.Parse(text)})
				if err != nil {
					t.Fatal(err)
				}
				for _, d := range res.Each() {
					if line := res.in.File.Line(res.in.File.LineAt(d.Span.Start)).Text; d.Severity == finding.Error && !strings.Contains(line, "@ wrong") {
						t.Fatalf("%s: %s\n%s", d.Message, line, text)
					}
				}
				share.add(res)
				p := &pathProof{img: image.New(eval.New(res.prog)), paths: flow.Paths{Evaluator: eval.New(res.prog)}, rand: rnd}
				if bad := p.run(res.prog); bad != "" {
					t.Fatalf("%s\n%s", bad, text)
				}
				forks += p.forks
			}
			proof.Counted("%s: %v; runs with other values: %d", style.name, &share, forks)
			if forks < reftest.Least(1000) {
				t.Error("too few runs")
			}
			if share.percent(share.regs, 15) < style.regs || share.percent(share.flags, 4) < style.flags || share.percent(share.status, 2) < style.status {
				t.Error("less is dead than once")
			}
		})
	}
}

// newCore is a core with the data of a program in its memory, and registers of no value yet.
func (p *pathProof) newCore(data map[uint32]byte) *pathCore {
	c := &pathCore{mem: &pathMemory{img: p.img, data: data, stored: map[uint32]byte{}, seed: p.rand.Uint32()}}
	c.Mem = c.mem
	return c
}

// enter puts a core at the beginning of a routine that is called from pathExit.
func (p *pathProof) enter(c *pathCore, main *program.Symbol, sp uint32) {
	w, _ := p.img.Word(main.Value)
	c.Regs[isa.PC], c.Regs[isa.SP], c.Regs[isa.LR] = w&^1, sp, pathExit
	if main.Mode == isa.T {
		c.Regs[isa.LR] |= 1
	}
}

// run carries a program out from main, a few times.
func (p *pathProof) run(prog *program.Program) string {
	main := p.img.SymbolOf("f0")
	data := dataOf(prog, p.img)
	for range 4 {
		c := p.newCore(data)
		for r := range 13 {
			switch c.Regs[r] = p.rand.Uint32() >> 1 &^ 3; p.rand.IntN(4) {
			case 0:
				c.Regs[r] &= 0xff
			case 1:
				c.Regs[r] |= 0x8000_0000
			}
			if !image.Invented(c.Regs[r]) {
				c.Regs[r] &= 0x7fff_ffff
			}
		}
		c.Flags = isa.Flags(p.rand.Uint32()) & isa.NZCV
		c.Q, c.GE = p.rand.IntN(2) == 0, uint8(p.rand.IntN(16))
		p.enter(c, main, 0x3000_8000)
		for range 300 {
			it := c.step(p.img)
			if c.over {
				break
			}
			if it == nil || p.rand.IntN(3) != 0 {
				continue
			}
			if bad := p.fork(c, it); bad != "" {
				return fmt.Sprintf("after line %d, %s: %s; dead are %v, %v, status %b", it.Line+1, p.img.LineText(it), bad, p.paths.DeadRegs(it, 0x7fff), p.paths.DeadFlags(it, isa.NZCV), p.paths.DeadStatus(it, isa.AllStatus))
			}
		}
	}
	return ""
}
