package rewrite

import (
	"fmt"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// olderRewrites are the rewrites that do without what an architecture does not have.
func olderRewrites() []Entry {
	return []Entry{
		{
			Name: "older-sequence", Title: "Use instructions that this architecture has",
			Before: UnifiedThumb + "\tuxtb r0, r1\n\tbx lr\n",
			After:  UnifiedThumb + "\tlsls r0, r1, #24\n\tlsrs r0, r0, #24\n\tbx lr\n",
			apply:  olderSequence,
		},
	}
}

// What older architectures, and A32 code, do in several instructions where later
// ones, or T32, have one. What the sequences do is common practice.

// shift writes a shift by a constant, as MOV where the divided syntax has it so.
func (c *rewriting) shift(kind, d, m string, n int64) string {
	if c.environment.Unified {
		return c.statementOf(kind, d, m, "#"+strconv.FormatInt(n, 10))
	}
	return c.statementOf("mov", d, m, fmt.Sprintf("%s #%d", c.inCase(kind), n))
}

// shiftsOf cuts bits lsb up to lsb+width out of m by two shifts; kind is that of
// the second, lsr or asr.
func (c *rewriting) shiftsOf(kind, d, m string, lsb, width int64) (st []string) {
	if !c.wide() {
		if up := 32 - lsb - width; up > 0 {
			st, m = append(st, c.statement(c.flagSetting("lsl"), d, m, "#"+strconv.FormatInt(up, 10))), d
		}
		return append(st, c.statement(c.flagSetting(kind), d, m, "#"+strconv.FormatInt(32-width, 10)))
	}
	if up := 32 - lsb - width; up > 0 {
		st, m = append(st, c.shift("lsl", d, m, up)), d
	}
	return append(st, c.shift(kind, d, m, 32-width))
}

// offer adds a candidate of statements that need no scratch register.
func (c *rewriting) offer(title string, st ...string) {
	c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
}

// through adds a candidate that works in a scratch register.
func (c *rewriting) through(title string, write func(s string) []string) {
	if regs, saved, ok := c.scratch(1, 0); ok {
		s := c.scratchName(regs[0])
		c.detour(title, 0, regs, saved, write(s)...)
	}
}

// allRegs says whether the first n operands are registers that an older
// instruction takes as well.
func (c *rewriting) allRegs(n int) bool {
	for i := range n {
		if i >= len(c.ops) || c.ops[i].Kind != isa.OpReg || c.ops[i].Reg > isa.LR || c.ops[i].Reg == isa.SP || c.ops[i].Writeback || !c.wide() && c.ops[i].Reg > 7 {
			return false
		}
	}
	return true
}

// olderSequence says the same in instructions that this architecture and state have.
func olderSequence(c *rewriting) {
	op, _, cond := c.operation()
	if c.item.Stmt.Mnemonic == nil || cond != isa.AL && !c.wide() {
		return // nothing narrow keeps the condition
	}
	switch op {
	case "cpy", "mov":
		olderCopy(c, op)
	case "uxtb", "uxth", "sxtb", "sxth":
		olderExtend(c, op)
	case "ubfx", "sbfx", "bfc", "bfi":
		olderField(c, op)
	case "rev", "rev16", "revsh":
		olderReverse(c, op)
	case "movw":
		joinHalves(c)
		moveOne(c)
	case "movt":
		joinHalves(c)
		olderTop(c)
	case "orn":
		olderOrn(c)
	case "mls":
		olderMls(c)
	case "addw", "subw":
		c.sumTwo()
	case "bx", "blx":
		olderBranch(c, op)
	case "ldrd", "strd":
		olderPair(c, op)
	case "stmfd", "stmdb", "ldm", "ldmia", "ldmfd":
		stackList(c, op)
	}
}

// stackList writes a multiple access of the stack by the name that T16 has for it.
func stackList(c *rewriting, op string) {
	if c.wide() || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg != isa.SP || !c.ops[0].Writeback || c.ops[1].Kind != isa.OpList || c.ops[1].Writeback {
		return
	}
	name := "push"
	if op[0] == 'l' {
		name = "pop"
	}
	if _, ok := c.matches(name, c.ops[1]); !ok {
		c.splitList(name, c.ops[1].List)
		return
	}
	c.offer("write "+c.inCase(name), c.statement(name, c.opText(1)))
}

func olderCopy(c *rewriting, op string) {
	if len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[1].Kind != isa.OpReg {
		return
	}
	d, m := c.opText(0), c.opText(1)
	switch {
	case !c.wide() && lowReg(&c.ops[0]) && lowReg(&c.ops[1]):
		c.offer("copy by "+c.flagSetting("mov"), c.statement(c.flagSetting("mov"), d, m))
	case op == "cpy":
		c.offer("write "+c.inCase("mov"), c.statementOf("mov", d, m))
	}
}

func olderExtend(c *rewriting, op string) {
	turn := int64(0)
	switch {
	case len(c.ops) == 3 && c.ops[2].Kind == isa.OpShift && c.ops[2].Shift == isa.ROR && c.ops[2].Known:
		turn = c.ops[2].Imm
	case len(c.ops) != 2:
		return
	}
	width := map[byte]int64{'b': 8, 'h': 16}[op[3]]
	if !c.allRegs(2) || turn%8 != 0 || turn < 0 || turn+width > 32 {
		return
	}
	d, m := c.opText(0), c.opText(1)
	if op == "uxtb" && turn == 0 && c.wide() {
		c.offer("mask the byte", c.statementOf("and", d, m, "#"+c.number(255)))
		return
	}
	kind := map[byte]string{'u': "lsr", 's': "asr"}[op[0]]
	st := c.shiftsOf(kind, d, m, turn, width)
	title := "extend by two shifts"
	if len(st) == 1 {
		title = "extend by a shift"
	}
	c.offer(title, st...)
}

func olderField(c *rewriting, op string) {
	regs := 2
	if op == "bfc" {
		regs = 1
	}
	if len(c.ops) != regs+2 || !c.allRegs(regs) || !c.ops[regs].Known || !c.ops[regs+1].Known {
		return
	}
	lsb, width := c.ops[regs].Imm, c.ops[regs+1].Imm
	if lsb < 0 || lsb > 31 || width < 1 || lsb+width > 32 {
		return
	}
	d := c.opText(0)
	mask := uint32(1<<width-1) << lsb
	by := func(kind string, n int64) string { return fmt.Sprintf("%s #%d", c.inCase(kind), n) }
	dr := c.ops[0]
	var m string
	if regs == 2 {
		m = c.opText(1)
	}
	switch op {
	case "ubfx", "sbfx":
		if op[0] == 'u' && lsb == 0 && c.wide() && c.can("and", dr, c.ops[1], immOp(int64(mask))) {
			c.offer("mask the field", c.statementOf("and", d, m, c.bits(mask)))
			return
		}
		c.offer("extract the field by shifts", c.shiftsOf(map[byte]string{'u': "lsr", 's': "asr"}[op[0]], d, m, lsb, width)...)
	case "bfc", "bfi":
		if !c.wide() {
			c.narrowField(op, lsb, width)
			return
		}
	}
	switch op {
	case "bfc":
		if st := c.clearBits(dr, d, mask); st != nil {
			c.offer("clear the field by "+c.inCase("bic"), st...)
		}
	case "bfi":
		st := c.clearBits(dr, d, mask)
		if st == nil || c.ops[0].Reg == c.ops[1].Reg {
			return
		}
		if lsb+width == 32 { // what does not belong to the field is shifted out
			if lsb == 0 {
				c.offer("write "+c.inCase("mov"), c.statementOf("mov", d, m))
				return
			}
			c.offer("clear the field, then put the bits in", append(st, c.statementOf("orr", d, d, m, by("lsl", lsb)))...)
			return
		}
		c.through("clear the field, then put the bits in", func(s string) []string {
			return append(append([]string{c.shift("lsl", s, m, 32-width)}, st...), c.statementOf("orr", d, d, s, by("lsr", 32-width-lsb)))
		})
	}
}

// clearBits clears the bits of mask in one or two steps; nil when that does not go.
func (c *rewriting) clearBits(dr isa.Operand, d string, mask uint32) []string {
	if !c.wide() {
		return nil
	}
	if c.can("bic", dr, dr, immOp(int64(mask))) {
		return []string{c.statementOf("bic", d, d, c.bits(mask))}
	}
	if x, y, ok := c.environment.Mode.Sum(mask); ok && c.can("bic", dr, dr, immOp(int64(x))) && c.can("bic", dr, dr, immOp(int64(y))) {
		return []string{c.statementOf("bic", d, d, c.bits(x)), c.statementOf("bic", d, d, c.bits(y))}
	}
	return nil
}

func olderReverse(c *rewriting, op string) {
	if len(c.ops) != 2 || !c.allRegs(2) || c.environment.Mode != isa.A && c.wide() {
		return
	}
	if !c.wide() {
		c.narrowReverse(op)
		return
	}
	d, m := c.opText(0), c.opText(1)
	by := func(kind string, n int) string { return fmt.Sprintf("%s #%d", c.inCase(kind), n) }
	switch op {
	case "rev":
		c.through("reverse the bytes by exclusive or", func(s string) []string {
			return []string{c.statementOf("eor", s, m, m, by("ror", 16)), c.statementOf("bic", s, s, c.bits(0xff0000)),
				c.statementOf("mov", d, m, by("ror", 8)), c.statementOf("eor", d, d, s, by("lsr", 8))}
		})
	case "rev16":
		c.through("exchange the bytes in two parts", func(s string) []string {
			return []string{c.statementOf("bic", s, m, c.bits(0xff000000)), c.statementOf("bic", s, s, c.bits(0xff00)),
				c.statementOf("eor", d, m, s), c.statementOf("mov", d, d, by("lsr", 8)), c.statementOf("orr", d, d, s, by("lsl", 8))}
		})
	case "revsh":
		c.through("exchange the bytes in two parts", func(s string) []string {
			return []string{c.statementOf("mov", s, m, by("lsl", 24)), c.statementOf("mov", s, s, by("asr", 16)),
				c.statementOf("and", d, m, c.bits(0xff00)), c.statementOf("orr", d, s, d, by("lsr", 8))}
		})
	}
}

// olderTop is MOVT: the upper half is cleared by shifts, and what it shall be put
// in by one or two ORRs. After MOVW to the same register one load does for both.
func olderTop(c *rewriting) {
	if len(c.ops) != 2 || !c.allRegs(1) || !c.ops[1].Known || c.ops[1].Imm>>16 != 0 || !c.wide() {
		return
	}
	top := uint32(c.ops[1].Imm) << 16
	dr, d := c.ops[0], c.opText(0)
	st := []string{c.shift("lsl", d, d, 16), c.shift("lsr", d, d, 16)}
	if x, y, ok := c.environment.Mode.Sum(top); top == 0 {
	} else if c.can("orr", dr, dr, immOp(int64(top))) {
		st = append(st, c.statementOf("orr", d, d, c.bits(top)))
	} else if ok {
		st = append(st, c.statementOf("orr", d, d, c.bits(x)), c.statementOf("orr", d, d, c.bits(y)))
	} else {
		return
	}
	c.offer("clear the upper half by shifts, then put "+"0x"+strconv.FormatUint(uint64(top), 16)+" in", st...)
}

// joinHalves makes one load of MOVW and MOVT that are below each other.
func joinHalves(c *rewriting) {
	op, _, cond := c.operation()
	other := map[string]string{"movw": "movt", "movt": "movw"}[op]
	if other == "" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.item.File != 0 || c.inBlock() {
		return
	}
	o := c.subject.Order[c.item.Section]
	k := c.subject.Position(c.item)
	if op == "movt" {
		k--
	} else {
		k++
	}
	if k < 0 || k >= len(o) {
		return
	}
	it := &c.subject.Items[o[k]]
	f := c.subject.File
	if it.File != 0 || it.Stmt.Kind != syntax.Instruction || it.Environment != c.item.Environment || it.Line == c.item.Line || c.subject.Changed(it) || c.subject.Changed(c.item) ||
		len(f.Line(int(it.Line)).Stmts) != 1 && op == "movw" || len(f.Line(int(c.item.Line)).Stmts) != 1 && op == "movt" {
		return
	}
	if op2, _, cond2 := it.Stmt.Mnemonic.Operation(); op2 != other || cond2 != cond {
		return
	}
	ops := c.subject.OperandsOf(it)
	if len(ops) != 2 || ops[0].Kind != isa.OpReg || ops[0].Reg != c.ops[0].Reg {
		return
	}
	first, second, lo, hi := c.item, it, &c.ops[1], &ops[1]
	if op == "movt" {
		first, second, lo, hi = it, c.item, &ops[1], &c.ops[1]
	}
	half := func(it *program.Item, mark string) (string, bool) {
		o := &it.Stmt.Ops[1]
		text := strings.TrimLeft(syntax.WithoutComments(c.subject.LineText(it)[o.Start:o.End]), "# ")
		if len(text) <= len(mark) || !strings.EqualFold(text[:len(mark)], mark) {
			return "", false
		}
		return strings.TrimSpace(text[len(mark):]), true
	}
	value := ""
	if low, ok := half(first, ":lower16:"); ok {
		high, ok := half(second, ":upper16:")
		if !ok || high != low || strings.ContainsAny(low, "()") {
			return
		}
		value = low
	} else if lo.Known && hi.Known && lo.Imm>>16 == 0 && hi.Imm>>16 == 0 {
		value = "0x" + strconv.FormatInt(hi.Imm<<16|lo.Imm, 16)
	} else {
		return
	}
	whole := func(it *program.Item) finding.Span {
		start := f.LineStart(int(it.Line))
		return finding.Span{Start: start + int(it.Stmt.Start), End: start + int(it.Stmt.End)}
	}
	gone := whole(second)
	if l := f.Line(int(second.Line)); strings.TrimSpace(l.Text) == l.Text[second.Stmt.Start:second.Stmt.End] && int(second.Line)+1 < f.NumLines() {
		gone = finding.Span{Start: f.LineStart(int(second.Line)), End: f.LineStart(int(second.Line) + 1)}
	}
	c.add(candidate{title: "load both halves at once", safe: true, edits: []finding.Edit{
		{Span: whole(first), New: c.statementOf("ldr", c.opText(0), "="+value)}, {Span: gone, New: ""}}})
}

func olderOrn(c *rewriting) {
	if len(c.ops) < 2 || !c.wide() {
		return
	}
	regs := 1
	for regs < len(c.ops) && c.ops[regs].Kind == isa.OpReg {
		regs++
	}
	at := 1 // the operand that is inverted
	if regs == 3 || regs == 2 && len(c.ops) > 2 && c.ops[2].Kind != isa.OpShift {
		at = 2
	}
	if at >= len(c.ops) || !c.allRegs(min(regs, at+1)) {
		return
	}
	n, d := c.opText(at-1), c.opText(0)
	nr := c.ops[at-1].Reg
	if o := &c.ops[at]; o.Kind == isa.OpImm && o.Known && c.can(c.letter("orr"), c.ops[0], regOp(nr), immOp(int64(^uint32(o.Imm)))) {
		c.offer("write "+c.inCase("orr")+" with the inverse", c.statementOf(c.letter("orr"), d, n, c.bits(^uint32(o.Imm))))
		return
	}
	title := "put the inverse into "
	if o := &c.ops[at]; o.Kind == isa.OpImm && o.Known && at == len(c.ops)-1 {
		inv := ^uint32(o.Imm)
		text := "0x" + strconv.FormatUint(uint64(inv), 16)
		if nr != c.ops[0].Reg {
			c.offer(title+d+" first", append(c.loads(c.ops[0].Reg, d, inv, text)[0], c.statementOf(c.letter("orr"), d, n, d))...)
		} else if regs, saved, ok := c.scratch(1, 0); ok {
			s := c.scratchName(regs[0])
			c.detour(title+s, 0, regs, saved, append(c.loads(regs[0], s, inv, text)[0], c.statementOf(c.letter("orr"), d, n, s))...)
		}
		return
	}
	var rest []string
	for i := at; i < len(c.ops); i++ {
		rest = append(rest, c.opText(i))
	}
	inv := append([]isa.Operand{c.ops[0]}, c.ops[at:]...)
	if !c.can("mvn", inv...) {
		return
	}
	if nr != c.ops[0].Reg {
		c.offer(title+d+" first", c.statementOf("mvn", append([]string{d}, rest...)...), c.statementOf(c.letter("orr"), d, n, d))
		return
	}
	c.through("invert first", func(s string) []string {
		return []string{c.statementOf("mvn", append([]string{s}, rest...)...), c.statementOf(c.letter("orr"), d, n, s)}
	})
}

// olderMls multiplies, then subtracts. Before ARMv6 the destination of MUL must
// not be its first source (DDI 0100, "MUL").
func olderMls(c *rewriting) {
	if len(c.ops) != 4 || !c.allRegs(4) || !c.wide() {
		return
	}
	d, n, m, a := c.opText(0), c.opText(1), c.opText(2), c.opText(3)
	title := "multiply, then subtract"
	if r := c.ops[0].Reg; r != c.ops[1].Reg && r != c.ops[2].Reg && r != c.ops[3].Reg {
		c.offer(title, c.statementOf("mul", d, n, m), c.statementOf("sub", d, a, d))
		return
	}
	c.through(title, func(s string) []string {
		return []string{c.statementOf("mul", s, n, m), c.statementOf("sub", d, a, s)}
	})
}

// olderBranch makes BX and BLX of what A32 has without them, and BL of a BLX that
// changes no state.
func olderBranch(c *rewriting, op string) {
	if i, v, ok := c.targetValue(); ok && op == "blx" && len(c.ops) == 1 {
		if _, mode, code := c.subject.CodeLabel(v); code && mode == c.environment.Mode || !code && !c.environment.Have.Has(isa.FeatA32) {
			c.offer("write "+c.inCase("bl"), c.statementOf("bl", c.opText(i)))
		}
		return
	}
	if c.environment.Mode != isa.A || len(c.ops) != 1 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg == isa.PC {
		return
	}
	m := c.opText(0)
	jump := c.statementOf("mov", c.inCase("pc"), m)
	if c.can("bx", c.ops[0]) {
		jump = c.statementOf("bx", m)
	}
	switch {
	case op == "bx":
		c.offer("branch by "+c.inCase("mov")+" to "+c.inCase("pc"), jump)
	case c.ops[0].Reg != isa.LR:
		// PC reads two instructions ahead: that is after the jump.
		c.offer("put the return address into "+c.inCase("lr")+" first", c.statementOf("mov", c.inCase("lr"), c.inCase("pc")), jump)
	}
}

// olderPair makes two accesses of LDRD and STRD.
func olderPair(c *rewriting, op string) {
	at := len(c.ops) - 1
	if at < 1 || at > 2 || c.ops[at].Kind != isa.OpMem || !c.allRegs(at) {
		return
	}
	m := c.ops[at]
	t := c.ops[0].Reg
	second := regOp(t + 1)
	st2 := c.inCase(second.Reg.String())
	if at == 2 {
		second, st2 = c.ops[1], c.opText(1)
	}
	if m.Reg > 14 || m.Off != isa.OffNone && (m.Off != isa.OffImm || !m.Known) || second.Reg > 14 || second.Reg == isa.SP || !c.wide() && (second.Reg > 7 || m.Reg > 7 && m.Reg != isa.SP) {
		return
	}
	one := op[:3]
	base := c.baseText()
	off := int64(0)
	if m.Off == isa.OffImm {
		off = m.Imm
	}
	access := func(r isa.Operand, rt string, mem isa.Operand, text string) string {
		if !c.can(one, r, mem) {
			return ""
		}
		return c.statementOf(one, rt, text)
	}
	at4 := func(off int64) (isa.Operand, string) { return memOp(m.Reg, off), c.memText(base, off) }
	load := op[0] == 'l'
	var first, next string
	switch {
	case m.Writeback || m.Post:
		if m.Reg == t || m.Reg == second.Reg {
			return // unpredictable as it is
		}
		moved := m // the access that moves the base
		first = access(c.ops[0], c.opText(0), moved, c.opText(at))
		o, text := at4(4)
		next = access(second, st2, o, text)
		if m.Post {
			first, next = next, first
		}
	default:
		o, text := at4(off)
		first = access(c.ops[0], c.opText(0), o, text)
		o, text = at4(off + 4)
		next = access(second, st2, o, text)
		if load && t == m.Reg {
			first, next = next, first // the base is needed to the end
		}
	}
	if first == "" || next == "" || load && t == second.Reg {
		return
	}
	c.offer(fmt.Sprintf("%s the words one by one", map[bool]string{true: "load", false: "store"}[load]), first, next)
}
