package analysis

import (
	"fmt"
	"math/bits"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

const codeT = ".syntax unified\n.thumb\n"

// rewrites registers the rewrites. before and after are whole sources; the
// documented after is what the tests expect as first or later offer.
func rewrites() []rewrite {
	return []rewrite{
		{"literal-load", "Load the constant from the literal pool",
			codeT + "\tmovs r0, #0x1234\n\tbx lr\n", codeT + "\tldr r0, =0x1234\n\tbx lr\n", literalLoad},
		{"move-shift", "Build the constant by a move and a shift",
			codeT + "\tmovs r0, #0x1000\n\tbx lr\n", codeT + "\tmovs r0, #1\n\tlsls r0, r0, #12\n\tbx lr\n", moveShift},
		{"move-negate", "Build the constant by a move and a negation",
			codeT + "\tmovs r0, #-5\n\tbx lr\n", codeT + "\tmovs r0, #5\n\trsbs r0, r0, #0\n\tbx lr\n", moveNegate},
		{"move-invert", "Build the constant by a move and an inversion",
			codeT + "\tmovs r0, #0xffffff00\n\tbx lr\n", codeT + "\tmovs r0, #0xff\n\tmvns r0, r0\n\tbx lr\n", moveInvert},
		{"move-add", "Build the constant by a move and an add",
			codeT + "\tmovs r0, #301\n\tbx lr\n", codeT + "\tmovs r0, #255\n\tadds r0, #46\n\tbx lr\n", moveAdd},
		{"two-adds", "Add or subtract in two steps",
			codeT + "\tadds r0, #300\n\tbx lr\n", codeT + "\tadds r0, #255\n\tadds r0, #45\n\tbx lr\n", twoAdds},
		{"move-then-add", "Copy the register, then add with two operands",
			codeT + "\tadds r0, r1, #20\n\tbx lr\n", codeT + "\tmovs r0, r1\n\tadds r0, #20\n\tbx lr\n", moveThenAdd},
		{"constant-register", "Put the constant into a register first",
			codeT + "\tmvns r0, #5\n\tbx lr\n", codeT + "\tmovs r0, #5\n\tmvns r0, r0\n\tbx lr\n", constantRegister},
		{"compare-negative", "Compare with the negated constant",
			codeT + "\tcmp r0, #-5\n\tmovs r3, #0\n\tbx lr\n", codeT + "\tmovs r3, #5\n\tcmn r0, r3\n\tmovs r3, #0\n\tbx lr\n", compareNegative},
		{"offset-register", "Access with the offset in a register",
			codeT + "\tldr r0, [r1, #200]\n\tbx lr\n", codeT + "\tmovs r0, #200\n\tldr r0, [r1, r0]\n\tbx lr\n", offsetRegister},
		{"extend-after", "Load without sign, then extend",
			".arch armv6\n" + codeT + "\tldrsb r0, [r1, #4]\n\tbx lr\n", ".arch armv6\n" + codeT + "\tldrb r0, [r1, #4]\n\tsxtb r0, r0\n\tbx lr\n", extendAfter},
		{"via-low", "Go through a low register",
			codeT + "\tsubs r8, r8, #1\n\tmovs r0, #0\n\tbx lr\n", codeT + "\tmov r0, r8\n\tsubs r0, r0, #1\n\tmov r8, r0\n\tmovs r0, #0\n\tbx lr\n", viaLow},
		{"two-operand", "Copy the first source, then use two operands",
			codeT + "\tands r0, r1, r2\n\tbx lr\n", codeT + "\tmovs r0, r1\n\tands r0, r2\n\tbx lr\n", twoOperand},
		{"step-base", "Change the base register by an instruction of its own",
			codeT + "\tldr r0, [r1], #4\n\tbx lr\n", codeT + "\tldmia r1!, {r0}\n\tbx lr\n", stepBase},
		{"skip-branch", "Branch around the line on the opposite condition",
			codeT + "\taddseq r0, r0, #1\n\tbx lr\n", codeT + "\tbne 1f\n\tadds r0, r0, #1\n1:\n\tbx lr\n", skipBranch},
		{"flag-spelling", "Spell the form that exists",
			codeT + "\tadd r0, r1, #1\n\tbx lr\n", codeT + "\tadds r0, r1, #1\n\tbx lr\n", flagSpelling},
		{"pool-copy", "Load the same word from the literal pool",
			codeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, w\n\tbx lr\n", codeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, =7\n\tbx lr\n", poolCopy},
		{"pool-address", "Take the address from the literal pool",
			codeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tadr r0, w\n\tbx lr\n", codeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, =w\n\tbx lr\n", poolAddress},
		{"insert-pool", "Place a literal pool within reach",
			codeT + "\tldr r0, =0x12345678\n\tbx lr\n\t.space 1100\n", codeT + "\tldr r0, =0x12345678\n\tbx lr\n\t.ltorg\n\t.space 1100\n", insertPool},
		{"invert-branch", "Branch around a far branch on the opposite condition",
			codeT + "\tbeq far\n\t.space 300\nfar:\tbx lr\n", codeT + "\tbne 1f\n\tb far\n1:\n\t.space 300\nfar:\tbx lr\n", invertBranch},
		{"far-call", "Go there by BL",
			codeT + "\tb far\n\t.space 3000\nfar:\tbx lr\n", codeT + "\tbl far\n\t.space 3000\nfar:\tbx lr\n", farCall},
		{"even-target", "Take the odd byte off the target",
			codeT + "\tb next+1\nnext:\tbx lr\n", codeT + "\tb next\nnext:\tbx lr\n", evenTarget},
		{"list-high", "Push or pop the high registers through a low one",
			codeT + "\tpush {r4, r8}\n\tmovs r0, #0\n\tbx lr\n", codeT + "\tmov r0, r8\n\tpush {r0}\n\tpush {r4}\n\tmovs r0, #0\n\tbx lr\n", listHigh},
		{"older-sequence", "Use instructions that this architecture has",
			codeT + "\tuxtb r0, r1\n\tbx lr\n", codeT + "\tlsls r0, r1, #24\n\tlsrs r0, r0, #24\n\tbx lr\n", olderSequence},
		{"near-name", "Use the name that is meant",
			codeT + "\tmvoes r0, r1\n\tbx lr\n", codeT + "\tmovs r0, r1\n\tbx lr\n", nearName},
		{"align", "Align what stands here",
			"\t.byte 1\nt:\t.word 2\n", "\t.byte 1\n\t.align 2\nt:\t.word 2\n", alignHere},
		{"set-state-bit", "Set bit 0 of the address",
			codeT + "\tldr r0, =t\n\tbx r0\nt:\tbx lr\n", codeT + "\tldr r0, =t+1\n\tbx r0\nt:\tbx lr\n", setStateBit},
		{"mark-function", "Mark the label as a T16 function",
			codeT + "\tldr r0, =t\n\tbx r0\nt:\tbx lr\n", codeT + "\tldr r0, =t\n\tbx r0\n\t.thumb_func\nt:\tbx lr\n", markFunction},
		{"clear-state-bit", "Clear bit 0 of the address",
			".syntax unified\n\t.arm\nt:\tbx lr\n\t.thumb\nf:\tldr r0, =t+1\n\tbx r0\n", ".syntax unified\n\t.arm\nt:\tbx lr\n\t.thumb\nf:\tldr r0, =t\n\tbx r0\n", clearStateBit},
		{"branch-over-pool", "Branch over the pool",
			codeT + "\tldr r0, =0x12345678\n\t.ltorg\n\tbx lr\n", codeT + "\tldr r0, =0x12345678\n\tb 1f\n\t.ltorg\n1:\n\tbx lr\n", branchOverPool},
		{"add-colon", "Put the colon behind the label",
			codeT + "loop b loop\n", codeT + "loop: b loop\n", addColon},
	}
}

// constOp is the operand with the constant, and its value.
func (c *rewriting) constOp() (i int, v int64, ok bool) {
	for i := len(c.ops) - 1; i >= 0; i-- {
		if o := &c.ops[i]; (o.Kind == isa.OpImm || o.Kind == isa.OpExpr && o.Bare) && o.Known {
			return i, o.Imm, true
		}
	}
	return 0, 0, false
}

// exprText is the constant as written, without '#'.
func (c *rewriting) exprText(i int) string {
	return strings.TrimSpace(strings.TrimLeft(c.opText(i), "#$ "))
}

// base is the operation's name without the flag letter.
func (c *rewriting) base() string {
	n := strings.TrimSuffix(strings.ToLower(c.name), ".n")
	if c.env.unified && strings.HasSuffix(n, "s") && len(n) > 3 {
		n = n[:len(n)-1]
	}
	return n
}

func lowReg(o *isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg < 8 && !o.WB }

// moveConst says whether the line moves a constant into a low register.
func (c *rewriting) moveConst() (reg string, v int64, i int, ok bool) {
	b := c.base()
	if b != "mov" && b != "mvn" || len(c.ops) != 2 || !lowReg(&c.ops[0]) {
		return
	}
	i, v, ok = c.constOp()
	if ok && b == "mvn" {
		v = int64(^int32(v))
	}
	return c.opText(0), v, i, ok && v >= -1<<31 && v < 1<<32
}

func (c *rewriting) flagNZ() isa.Flags {
	if c.setsFlags() {
		return isa.NZ
	}
	return 0
}

// spoils is what flag-setting code differs in from what the line meant:
// want when the line sets flags itself, all that are written otherwise.
func (c *rewriting) spoils(want, written isa.Flags) isa.Flags {
	if c.setsFlags() {
		return want
	}
	return written
}

func literalLoad(c *rewriting) {
	reg, v, i, ok := c.moveConst()
	if !ok {
		return
	}
	text := c.exprText(i)
	if c.base() == "mvn" {
		text = "0x" + strconv.FormatUint(uint64(uint32(v)), 16)
	}
	c.add(candidate{title: "load " + text + " from the literal pool", flags: c.flagNZ(), safe: true,
		edits: c.replace(c.stmt("ldr", reg, "="+text))})
}

func moveShift(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	u := uint32(v)
	if !ok || u == 0 {
		return
	}
	// 0x1000 reads as 1 << 12 and 0xab00 as 0xab << 8: shift by whole digits
	// where the author counts in hexadecimal, else as far as it goes.
	m := bits.TrailingZeros32(u)
	if c.hexStyle() && u>>uint(m&^3) < 256 {
		m &^= 3
	}
	if m == 0 || u>>uint(m) > 255 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build %s as %s << %d", c.num(v), c.num(int64(u>>uint(m))), m), flags: c.spoils(isa.C, isa.NZC), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(int64(u>>uint(m)))), c.stmt(c.mn("lsl"), reg, reg, "#"+strconv.Itoa(m)))})
}

func moveNegate(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	n := -int64(int32(v))
	if !ok || n < 1 || n > 255 {
		return
	}
	second := c.stmt("neg", reg, reg)
	if c.env.unified {
		second = c.stmt("rsbs", reg, reg, "#0")
	}
	c.add(candidate{title: fmt.Sprintf("build %s as the negative of %s", c.num(-n), c.num(n)), flags: c.spoils(isa.C|isa.V, isa.NZCV), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(n)), second)})
}

func moveInvert(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	u := ^uint32(v)
	if !ok || u > 255 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build it as the inverse of %s", c.num(int64(u))), flags: c.spoils(0, isa.NZ), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(int64(u))), c.stmt(c.mn("mvn"), reg, reg))})
}

func moveAdd(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	if !ok || v < 256 || v > 510 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build it as %s + %s", c.num(255), c.num(v-255)), flags: c.spoils(isa.C|isa.V, isa.NZCV), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(255)), c.stmt(c.mn("add"), reg, "#"+c.num(v-255)))})
}

// sum reads the line as dest = src ± n.
func (c *rewriting) sum() (dest, src int, op string, n int64, ok bool) {
	b := c.base()
	i, v, ok := c.constOp()
	if !ok || b != "add" && b != "sub" || i != len(c.ops)-1 || len(c.ops) < 2 || len(c.ops) > 3 {
		return 0, 0, "", 0, false
	}
	dest, src = 0, len(c.ops)-2
	if c.ops[dest].Kind != isa.OpReg || c.ops[src].Kind != isa.OpReg {
		return 0, 0, "", 0, false
	}
	op, n = b, v
	if n < 0 {
		n = -n
		op = map[string]string{"add": "sub", "sub": "add"}[b]
	}
	return dest, src, op, n, true
}

func twoAdds(c *rewriting) {
	dest, src, op, n, ok := c.sum()
	if !ok {
		return
	}
	d, s := c.opText(dest), c.opText(src)
	if c.ops[dest].Reg == isa.SP && c.ops[src].Reg == isa.SP {
		if n > 508 && n <= 1016 && n%4 == 0 {
			c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.num(508), c.num(n-508)), safe: true,
				edits: c.replace(c.stmt(op, d, "#"+c.num(508)), c.stmt(op, d, "#"+c.num(n-508)))})
		}
		return
	}
	if !lowReg(&c.ops[dest]) || !lowReg(&c.ops[src]) {
		return
	}
	flags := c.spoils(isa.C|isa.V, isa.NZCV)
	if c.ops[dest].Reg == c.ops[src].Reg {
		if n > 255 && n <= 510 {
			c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.num(255), c.num(n-255)), flags: flags, safe: true,
				edits: c.replace(c.stmt(c.mn(op), d, "#"+c.num(255)), c.stmt(c.mn(op), d, "#"+c.num(n-255)))})
		}
		return
	}
	if n > 7 && n <= 7+255 {
		c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.num(7), c.num(n-7)), flags: flags, safe: true,
			edits: c.replace(c.stmt(c.mn(op), d, s, "#7"), c.stmt(c.mn(op), d, "#"+c.num(n-7)))})
	}
}

// copyLow is the copy of a low register into another.
func (c *rewriting) copyLow(d, s string) string { return c.stmt(c.mn("mov"), d, s) }

func moveThenAdd(c *rewriting) {
	dest, src, op, n, ok := c.sum()
	if !ok || n > 255 || !lowReg(&c.ops[dest]) || c.ops[dest].Reg == c.ops[src].Reg {
		return
	}
	d, s := c.opText(dest), c.opText(src)
	if c.ops[src].Reg < 8 {
		c.add(candidate{title: fmt.Sprintf("copy %s to %s, then %s %s", s, d, op, c.num(n)), flags: c.spoils(0, isa.NZCV), safe: true,
			edits: c.replace(c.copyLow(d, s), c.stmt(c.mn(op), d, "#"+c.constText(n)))})
		return
	}
	// From sp or another high register: the copy keeps the flags.
	c.add(candidate{title: fmt.Sprintf("copy %s to %s, then %s %s", s, d, op, c.num(n)), flags: c.spoils(0, isa.NZCV), safe: true,
		edits: c.replace(c.stmt("mov", d, s), c.stmt(c.mn(op), d, "#"+c.constText(n)))})
}

// constText keeps the author's expression where it has the value n.
func (c *rewriting) constText(n int64) string {
	if i, v, ok := c.constOp(); ok && v == n {
		return c.exprText(i)
	}
	return c.num(n)
}

// loadConst writes the statements that put v into the low register reg, and
// the flags that they change. Without keep the shortest way is taken.
func (c *rewriting) loadConst(reg string, v int64, text string, keepFlags bool) (stmts []string, flags isa.Flags) {
	if !keepFlags && v >= 0 && v < 256 {
		return []string{c.stmt(c.mn("mov"), reg, "#"+text)}, isa.NZ
	}
	return []string{c.stmt("ldr", reg, "="+text)}, 0
}

var commutes = map[string]bool{"and": true, "orr": true, "eor": true, "add": true, "adc": true, "mul": true, "tst": true, "cmn": true}

// constantRegister replaces the constant of a data-processing line by a
// register that gets it first.
func constantRegister(c *rewriting) {
	i, v, ok := c.constOp()
	b := c.base()
	if !ok || i != len(c.ops)-1 || len(c.ops) < 2 || v < -1<<31 || v >= 1<<32 {
		return
	}
	switch b {
	case "mov":
		return
	case "and", "orr", "eor", "bic", "adc", "sbc", "mul", "tst", "cmp", "cmn", "mvn", "add", "sub", "ror":
	default:
		return
	}
	for k := 0; k < i; k++ {
		if c.ops[k].Kind != isa.OpReg {
			return
		}
	}
	text := c.exprText(i)
	mnemonic := c.name
	if !c.env.unified {
		mnemonic = b
	} else if b != "tst" && b != "cmp" && b != "cmn" && !strings.HasSuffix(strings.ToLower(c.name), "s") {
		mnemonic = c.cs(b + "s")
	}
	final := func(m isa.Match) isa.Flags {
		ef := m.Effects()
		if c.setsFlags() {
			return 0
		}
		return ef.FlagsWritten
	}
	// Flags that are inputs must not be spoilt before they are read.
	reads := b == "adc" || b == "sbc"
	// What the load of the constant changes and the operation does not set
	// itself.
	used := func(load isa.Flags, m isa.Match) isa.Flags {
		return final(m) | load&^m.Effects().FlagsWritten
	}
	d := 0
	compare := b == "tst" || b == "cmp" || b == "cmn"
	// The destination itself holds the constant, where its old value does
	// not matter.
	if !compare && lowReg(&c.ops[d]) {
		dr := c.ops[d].Reg
		switch {
		case b == "mvn" && len(c.ops) == 2:
			if m, ok := c.matches(mnemonic, c.ops[0], c.ops[0]); ok {
				st, fl := c.loadConst(c.opText(0), v, text, false)
				c.add(candidate{title: "move " + text + " to " + c.opText(0) + " first", flags: used(fl, m), safe: true,
					edits: c.replace(append(st, c.stmt(mnemonic, c.opText(0), c.opText(0)))...)})
			}
			return
		case len(c.ops) == 3 && c.ops[1].Kind == isa.OpReg && c.ops[1].Reg != dr:
			ops := []isa.Operand{c.ops[0], c.ops[1], c.ops[0]}
			txt := []string{c.opText(0), c.opText(1), c.opText(0)}
			if commutes[b] && b != "add" && b != "sub" {
				ops, txt = []isa.Operand{c.ops[0], c.ops[1]}, []string{c.opText(0), c.opText(1)}
			}
			if m, ok := c.matches(mnemonic, ops...); ok {
				st, fl := c.loadConst(c.opText(0), v, text, reads)
				c.add(candidate{title: "put " + text + " into " + c.opText(0) + " first", flags: used(fl, m), safe: true,
					edits: c.replace(append(st, c.stmt(mnemonic, txt...))...)})
				return
			}
		}
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	s := c.cs(regs[0].String())
	ops := append([]isa.Operand{}, c.ops[:i]...)
	var txt []string
	for k := 0; k < i; k++ {
		txt = append(txt, c.opText(k))
	}
	if len(ops) == 2 && ops[0].Reg == ops[1].Reg && b != "add" && b != "sub" {
		ops, txt = ops[:1], txt[:1]
	}
	pre := []string{}
	if len(ops) == 2 && b != "add" && b != "sub" && lowReg(&ops[0]) && lowReg(&ops[1]) {
		pre = append(pre, c.copyLow(txt[0], txt[1]))
		ops, txt = ops[:1], txt[:1]
	}
	ops, txt = append(ops, regOp(regs[0])), append(txt, s)
	m, ok := c.matches(mnemonic, ops...)
	if !ok {
		return
	}
	st, fl := c.loadConst(s, v, text, reads)
	if len(pre) > 0 {
		fl |= isa.NZ
		if reads {
			fl &^= isa.C
		}
	}
	st = append(append(st, pre...), c.stmt(mnemonic, txt...))
	c.detour("put "+text+" into "+s, used(fl, m), regs, saved, st...)
}

func compareNegative(c *rewriting) {
	i, v, ok := c.constOp()
	b := c.base()
	n := -int64(int32(v))
	if !ok || i != 1 || len(c.ops) != 2 || !lowReg(&c.ops[0]) || n < 1 || n > 255 {
		return
	}
	other := map[string]string{"cmp": "cmn", "cmn": "cmp"}[b]
	if other == "" {
		return
	}
	if other == "cmp" {
		c.add(candidate{title: "compare with " + c.num(n), safe: true, edits: c.replace(c.stmt("cmp", c.opText(0), "#"+c.num(n)))})
		return
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	s := c.cs(regs[0].String())
	c.detour("compare with the negative of "+c.num(n), 0, regs, saved,
		c.stmt(c.mn("mov"), s, "#"+c.num(n)), c.stmt("cmn", c.opText(0), s))
}

// access reads the line as a load or store with a constant offset.
func (c *rewriting) access() (m *isa.Operand, load, ok bool) {
	if len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[1].Kind != isa.OpMem {
		return nil, false, false
	}
	b := strings.TrimSuffix(strings.ToLower(c.name), ".n")
	switch b {
	case "ldr", "ldrb", "ldrh", "ldrsb", "ldrsh":
		load = true
	case "str", "strb", "strh":
	default:
		return nil, false, false
	}
	m = &c.ops[1]
	if m.WB || m.Post || m.Reg > 15 || m.Off != isa.OffImm && m.Off != isa.OffNone || m.Off == isa.OffImm && !m.Known {
		return nil, false, false
	}
	return m, load, true
}

// offsetText is the offset as written.
func (c *rewriting) offsetText() string {
	o := &c.it.stmt.Ops[1]
	loc := c.r.partLoc(c.it, 1, isa.PartOffset)
	start := c.r.in.File.LineStart(int(c.it.line))
	if o.Off == isa.OffNone {
		return "0"
	}
	return strings.TrimSpace(strings.TrimLeft(c.line[loc.Span.Start-start:loc.Span.End-start], "#$ "))
}

func (c *rewriting) baseText() string {
	loc := c.r.partLoc(c.it, 1, isa.PartBase)
	start := c.r.in.File.LineStart(int(c.it.line))
	return c.line[loc.Span.Start-start : loc.Span.End-start]
}

func offsetRegister(c *rewriting) {
	m, load, ok := c.access()
	if !ok || !lowReg(&c.ops[0]) {
		return
	}
	v := m.Imm
	if m.Off == isa.OffNone {
		v = 0
	}
	text, base := c.offsetText(), c.baseText()
	if v < -1<<31 || v >= 1<<32 {
		return
	}
	baseReg := m.Reg
	mem := func(s string) string { return "[" + base + ", " + s + "]" }
	if baseReg > 7 {
		return
	}
	emit := func(s string, regs []isa.Reg, saved isa.RegList, keep bool) {
		var st []string
		var fl isa.Flags
		if n := -v; n >= 1 && n <= 255 && !keep {
			st = []string{c.stmt(c.mn("mov"), s, "#"+c.num(n)), c.negate(s)}
			fl = isa.NZCV
		} else {
			st, fl = c.loadConst(s, v, text, keep)
		}
		st = append(st, c.stmt(c.name, c.opText(0), mem(s)))
		if regs == nil {
			c.add(candidate{title: "access with the offset in " + s, flags: fl, safe: true, edits: c.replace(st...)})
			return
		}
		c.detour("access with the offset in "+s, fl, regs, saved, st...)
	}
	if load && c.ops[0].Reg != baseReg {
		s := c.opText(0)
		emit(s, nil, 0, false)
		if v >= 0 && v < 256 || v < 0 && v >= -255 {
			emit(s, nil, 0, true)
		}
		return
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	s := c.cs(regs[0].String())
	emit(s, regs, saved, false)
	if v >= 0 && v < 256 || v < 0 && v >= -255 {
		emit(s, regs, saved, true)
	}
}

// negate writes the negation of a low register in place.
func (c *rewriting) negate(reg string) string {
	if c.env.unified {
		return c.stmt("rsbs", reg, reg, "#0")
	}
	return c.stmt("neg", reg, reg)
}

func extendAfter(c *rewriting) {
	m, _, ok := c.access()
	if !ok || !lowReg(&c.ops[0]) || m.Reg > 7 {
		return
	}
	b := strings.ToLower(c.name)
	plain, ext, n := "ldrb", "sxtb", "24"
	switch b {
	case "ldrsb":
	case "ldrsh":
		plain, ext, n = "ldrh", "sxth", "16"
	default:
		return
	}
	if _, ok := c.matches(plain, c.ops[0], c.ops[1]); !ok {
		return
	}
	d := c.opText(0)
	first := c.stmt(plain, d, c.opText(1))
	if _, ok := c.matches(ext, c.ops[0], c.ops[0]); ok {
		c.add(candidate{title: "load without sign, then extend by " + ext, safe: true, edits: c.replace(first, c.stmt(ext, d, d))})
		return
	}
	c.add(candidate{title: "load without sign, then extend by two shifts", flags: isa.NZC, safe: true,
		edits: c.replace(first, c.stmt(c.mn("lsl"), d, d, "#"+n), c.stmt(c.mn("asr"), d, d, "#"+n))})
}

// viaLow puts low registers in the place of the high ones: copied in when
// they are read, copied back when they are written.
func viaLow(c *rewriting) {
	var high []isa.Reg
	seen := isa.RegList(0)
	note := func(r isa.Reg) {
		if r > 7 && r < 16 && !seen.Has(r) {
			seen |= regBit(r)
			high = append(high, r)
		}
	}
	for i := range c.ops {
		o := &c.ops[i]
		switch o.Kind {
		case isa.OpReg:
			note(o.Reg)
		case isa.OpMem:
			note(o.Reg)
			if o.Off == isa.OffReg {
				note(o.Index)
			}
		case isa.OpList:
			return
		}
	}
	if len(high) == 0 || len(high) > 2 || seen.Has(isa.PC) {
		return
	}
	mnemonic := strings.ToLower(c.name)
	try := func(regs []isa.Reg, saved isa.RegList, own bool) bool {
		sub := map[isa.Reg]isa.Reg{}
		for i, h := range high {
			sub[h] = regs[i]
		}
		ops := append([]isa.Operand{}, c.ops...)
		txt := make([]string, len(ops))
		for i := range ops {
			txt[i] = c.opText(i)
			o := &ops[i]
			if s, ok := sub[o.Reg]; ok && o.Kind == isa.OpReg {
				o.Reg = s
				txt[i] = c.cs(s.String())
				if o.WB {
					txt[i] += "!"
				}
			}
			if o.Kind == isa.OpMem {
				b := c.baseText()
				if s, ok := sub[o.Reg]; ok {
					o.Reg = s
					b = c.cs(s.String())
				}
				t := "[" + b
				switch o.Off {
				case isa.OffImm:
					t += ", #" + c.offsetText()
				case isa.OffReg:
					x := c.offsetText()
					if s, ok := sub[o.Index]; ok {
						o.Index = s
						x = c.cs(s.String())
					}
					t += ", " + x
				}
				txt[i] = t + "]"
			}
		}
		name := mnemonic
		m, ok := c.matches(name, ops...)
		if !ok {
			// The low registers may have the flag-setting form only.
			if c.env.unified && !strings.HasSuffix(name, "s") {
				name += "s"
			} else if !c.env.unified {
				name = strings.TrimSuffix(name, "s")
			}
			if m, ok = c.matches(name, ops...); !ok {
				return false
			}
		}
		ef := m.Effects()
		var pre, post []string
		for i, h := range high {
			if ef.Reads.Has(regs[i]) {
				pre = append(pre, c.stmt("mov", c.cs(regs[i].String()), c.regText(h)))
			}
			if ef.Writes.Has(regs[i]) && !own {
				post = append(post, c.stmt("mov", c.regText(h), c.cs(regs[i].String())))
			}
		}
		fl := isa.Flags(0)
		if !c.setsFlags() {
			fl = ef.FlagsWritten
		}
		st := append(append(pre, c.stmt(name, txt...)), post...)
		title := "go through " + c.cs(regs[0].String())
		if len(regs) > 1 {
			title += " and " + c.cs(regs[1].String())
		}
		if own {
			c.add(candidate{title: title, flags: fl, safe: true, edits: c.replace(st...)})
			return true
		}
		c.detour(title, fl, regs, saved, st...)
		return true
	}
	// A low destination that is not a source can carry a high source.
	if len(high) == 1 && len(c.ops) > 1 && lowReg(&c.ops[0]) && c.ops[0].Reg != high[0] {
		d := c.ops[0].Reg
		reads := false
		for i := range c.ops[1:] {
			o := &c.ops[i+1]
			reads = reads || o.Kind == isa.OpReg && o.Reg == d || o.Kind == isa.OpMem && (o.Reg == d || o.Off == isa.OffReg && o.Index == d)
		}
		if m, ok := c.matchesSub(mnemonic, high[0], d); ok && !reads {
			ef := m.Effects()
			if ef.Writes.Has(d) && len(c.ops) > 2 || strings.HasPrefix(mnemonic, "ldr") {
				if try([]isa.Reg{d}, 0, true) {
					return
				}
			}
		}
	}
	regs, saved, ok := c.scratch(len(high), 0)
	if !ok || seen.Has(isa.SP) && saved != 0 {
		return
	}
	try(regs, saved, false)
}

// matchesSub tries the statement with low in the place of high.
func (c *rewriting) matchesSub(mn string, high, low isa.Reg) (isa.Match, bool) {
	ops := append([]isa.Operand{}, c.ops...)
	for i := range ops {
		if ops[i].Kind != isa.OpNone && ops[i].Reg == high {
			ops[i].Reg = low
		}
		if ops[i].Off == isa.OffReg && ops[i].Index == high {
			ops[i].Index = low
		}
	}
	if m, ok := c.matches(mn, ops...); ok {
		return m, true
	}
	if c.env.unified {
		return c.matches(mn+"s", ops...)
	}
	return c.matches(strings.TrimSuffix(mn, "s"), ops...)
}

// regText names a register as the statement does.
func (c *rewriting) regText(r isa.Reg) string {
	for i := range c.ops {
		if c.ops[i].Kind == isa.OpReg && c.ops[i].Reg == r {
			return strings.TrimSuffix(c.opText(i), "!")
		}
		if c.ops[i].Kind == isa.OpMem && c.ops[i].Reg == r {
			return c.baseText()
		}
	}
	return c.cs(r.String())
}

func twoOperand(c *rewriting) {
	if len(c.ops) != 3 || !lowReg(&c.ops[0]) || !lowReg(&c.ops[1]) || !lowReg(&c.ops[2]) {
		return
	}
	b := c.base()
	d, x, y := c.ops[0], c.ops[1], c.ops[2]
	mn := c.name
	if c.env.unified && !strings.HasSuffix(strings.ToLower(mn), "s") {
		mn = c.cs(b + "s")
	} else if !c.env.unified {
		mn = c.cs(b)
	}
	if d.Reg == y.Reg {
		if !commutes[b] {
			return
		}
		if m, ok := c.matches(mn, d, x); ok {
			c.add(candidate{title: "exchange the operands", flags: c.spoils(0, m.Effects().FlagsWritten), safe: true, edits: c.replace(c.stmt(mn, c.opText(0), c.opText(1)))})
		}
		return
	}
	m, ok := c.matches(mn, d, y)
	if !ok {
		return
	}
	stmts := []string{c.stmt(mn, c.opText(0), c.opText(2))}
	if d.Reg != x.Reg {
		if m.Effects().FlagsRead != 0 && !c.env.unified {
			return // the divided copy (ADD #0) would spoil the carry
		}
		stmts = append([]string{c.copyLow(c.opText(0), c.opText(1))}, stmts...)
	}
	fl := c.spoils(0, m.Effects().FlagsWritten)
	if !c.env.unified {
		fl |= (isa.C | isa.V) &^ m.Effects().FlagsWritten // the copy is an add of 0
	}
	c.add(candidate{title: "copy " + c.opText(1) + " to " + c.opText(0) + ", then use two operands", flags: fl, safe: true, edits: c.replace(stmts...)})
}

func stepBase(c *rewriting) {
	if len(c.ops) != 2 || !lowReg(&c.ops[0]) || c.ops[1].Kind != isa.OpMem {
		return
	}
	m := c.ops[1]
	if !m.WB && !m.Post || m.Off != isa.OffImm || !m.Known || m.Reg > 7 || m.Reg == c.ops[0].Reg {
		return
	}
	b := strings.ToLower(c.name)
	base := c.baseText()
	if m.Post && m.Imm == 4 && (b == "ldr" || b == "str") {
		mult := map[string]string{"ldr": "ldmia", "str": "stmia"}[b]
		c.add(candidate{title: "use " + c.cs(mult) + ", which steps by 4", safe: true,
			edits: c.replace(c.stmt(mult, base+"!", "{"+c.opText(0)+"}"))})
	}
	op, n := "add", m.Imm
	if n < 0 {
		op, n = "sub", -n
	}
	if n > 255 {
		return
	}
	step := c.stmt(c.mn(op), base, "#"+c.num(n))
	plain := m
	plain.WB, plain.Post, plain.Off, plain.Imm, plain.Known = false, false, isa.OffNone, 0, false
	acc := c.stmt(c.name, c.opText(0), "["+base+"]")
	if _, ok := c.matches(c.name, c.ops[0], plain); !ok {
		return
	}
	st := []string{step, acc}
	if m.Post {
		st = []string{acc, step}
	}
	c.add(candidate{title: "step " + base + " by an instruction of its own", flags: isa.NZCV, safe: true, edits: c.replace(st...)})
}

// condSplit reads a name as operation and condition; the flag letter may
// stand before or behind the condition.
func condSplit(name string) (base string, cond isa.Cond, ok bool) {
	n := len(name)
	for _, cut := range []int{n - 2, n - 3} {
		if cut < 1 {
			continue
		}
		c, ok := isa.CondByName(name[cut : cut+2])
		if !ok || c == isa.AL {
			continue
		}
		rest := name[:cut] + name[cut+2:]
		if m, _ := isa.Find(rest); m != nil && len(m.Forms) > 0 {
			return rest, c, true
		}
	}
	return "", 0, false
}

func skipBranch(c *rewriting) {
	base, cond, ok := condSplit(strings.ToLower(c.name))
	if !ok {
		return
	}
	m, fits := c.matches(base, c.ops...)
	if !fits && c.env.unified {
		base += "s"
		m, fits = c.matches(base, c.ops...)
	} else if !fits {
		base = strings.TrimSuffix(base, "s")
		m, fits = c.matches(base, c.ops...)
	}
	if !fits {
		return
	}
	var txt []string
	for i := range c.ops {
		txt = append(txt, c.opText(i))
	}
	fl := isa.Flags(0)
	if !strings.HasSuffix(strings.ToLower(strings.TrimSuffix(c.name, cond.String())), "s") {
		fl = m.Effects().FlagsWritten
	}
	l := c.freeLocal()
	e := c.replace(c.stmt("b"+cond.Invert().String(), l+"f"), c.stmt(base, txt...))
	start := c.r.in.File.LineStart(int(c.it.line)) + len(c.line)
	if len(e) != 2 {
		return
	}
	e[1] = Edit{Span{start, start}, e[1].New + c.eol() + l + ":"}
	c.add(candidate{title: "branch around it on " + strings.ToUpper(cond.Invert().String()), flags: fl, safe: true, edits: e})
}

func flagSpelling(c *rewriting) {
	n := strings.ToLower(c.name)
	if rest := strings.TrimSuffix(n, ".n"); true {
		other := rest + "s"
		if strings.HasSuffix(rest, "s") {
			other = rest[:len(rest)-1]
		}
		m, ok := c.matches(other, c.ops...)
		if !ok {
			return
		}
		fl := isa.Flags(0)
		if c.env.unified && strings.HasSuffix(other, "s") {
			fl = m.Effects().FlagsWritten
		}
		s := c.it.stmt
		start := c.r.in.File.LineStart(int(c.it.line))
		c.add(candidate{title: "write " + c.cs(other), flags: fl, safe: true,
			edits: []Edit{{Span{start + int(s.Start), start + int(s.NameEnd)}, c.cs(other) + c.name[len(rest):]}}})
	}
}

// targetValue evaluates the operand that names an address.
func (c *rewriting) targetValue() (i int, v value, ok bool) {
	for i := range c.it.stmt.Ops {
		o := &c.it.stmt.Ops[i]
		if o.Kind == isa.OpExpr && c.ops[i].Kind == isa.OpExpr && (o.Word != "" || o.Expr != nil) {
			p := pass{Result: c.r, quiet: true}
			return i, p.evalAt(o, c.it, 0), true
		}
	}
	return 0, value{}, false
}

func poolCopy(c *rewriting) {
	if strings.ToLower(c.name) != "ldr" {
		return
	}
	_, v, ok := c.targetValue()
	if !ok {
		return
	}
	p := pass{Result: c.r, quiet: true}
	d, arg := p.wordAt(v)
	if d == nil || arg.IsStr || c.r.stored(v) {
		return
	}
	text := c.r.lineText(d)[arg.Start:arg.End]
	if arg.Expr != nil && strings.Contains(text, ".") && arg.Expr.Op != syntax.ExprSym {
		return // hangs on its place
	}
	c.add(candidate{title: "load " + text + " from the literal pool", safe: true,
		edits: c.replace(c.stmt(c.name, c.opText(0), "="+text)), notes: []string{"a copy: later changes of the word are not seen"}})
}

// stored says whether some store may change the word: it stands in a section
// for data.
func (r *Result) stored(v value) bool {
	return v.kind != vRel || strings.HasPrefix(r.secs[v.sec].name, ".data") || strings.HasPrefix(r.secs[v.sec].name, ".bss")
}

func poolAddress(c *rewriting) {
	i, v, ok := c.targetValue()
	if !ok || v.kind == vAbs {
		return
	}
	text := c.opText(i)
	d := c.opText(0)
	switch strings.ToLower(c.name) {
	case "adr":
		c.add(candidate{title: "take the address of " + text + " from the literal pool", safe: !(v.sym != nil && v.sym.fn),
			edits: c.replace(c.stmt("ldr", d, "="+text))})
	case "ldr":
		c.add(candidate{title: "take the address of " + text + " from the literal pool, then load", safe: true,
			edits: c.replace(c.stmt(c.name, d, "="+text), c.stmt(c.name, d, "["+d+"]"))})
	}
}

// insertPool looks for the last point within reach of the load that execution
// never falls into.
func insertPool(c *rewriting) {
	if c.it.lit < 0 || c.it.file != 0 {
		return
	}
	o := c.r.order[c.it.sec]
	best := int32(-1)
	reach := c.it.off + 1000
	for k := c.r.position(c.it); k < len(o); k++ {
		it := &c.r.items[o[k]]
		if it.off+it.size > reach {
			break
		}
		if it.file == 0 && it.stmt.Kind == syntax.Instruction && c.r.after(it) == stops {
			best = it.id
			// A nop that pads bx pc and the like must stay next to it.
		}
	}
	directive := ".ltorg"
	if strings.Contains(c.r.in.File.Text(), ".pool") {
		directive = ".pool"
	}
	if best >= 0 {
		it := &c.r.items[best]
		c.add(candidate{title: fmt.Sprintf("place a literal pool behind line %d", it.line+1), safe: true,
			edits: []Edit{c.insertAfter(int(it.line), c.lineIndent(int(it.line))+directive)}})
		return
	}
	// Nothing in reach ends: branch over a pool right behind the load.
	l := c.freeLocal()
	in := c.indent()
	c.add(candidate{title: "branch over a literal pool placed here", safe: true,
		edits: []Edit{c.insertAfter(int(c.it.line), in+c.stmt("b", l+"f")+c.eol()+in+directive+c.eol()+l+":")}})
}

// lineIndent is the white space that a further line next to line n gets.
func (c *rewriting) lineIndent(n int) string {
	l := c.r.in.File.Line(n)
	t := l.Text
	k := len(t) - len(strings.TrimLeft(t, " \t"))
	if k == 0 && len(l.Stmts) > 1 {
		return c.indent()
	}
	return t[:k]
}

func invertBranch(c *rewriting) {
	n := strings.ToLower(c.name)
	if len(n) != 3 || n[0] != 'b' {
		return
	}
	cond, ok := isa.CondByName(n[1:])
	if !ok || cond == isa.AL {
		return
	}
	i, v, ok := c.targetValue()
	if !ok {
		return
	}
	far, note := "b", []string(nil)
	if d := v.n - c.it.off - 6; v.kind == vRel && (d > 2046-4 || d < -2048) {
		far, note = "bl", []string{"changes lr"}
	}
	l := c.freeLocal()
	e := c.replace(c.stmt("b"+cond.Invert().String(), l+"f"), c.stmt(far, c.opText(i)))
	if len(e) != 2 {
		return
	}
	e[1].New += c.eol() + l + ":"
	c.add(candidate{title: "branch around a far branch on " + strings.ToUpper(cond.Invert().String()), safe: note == nil, notes: note, edits: e})
}

func farCall(c *rewriting) {
	if strings.ToLower(c.name) != "b" {
		return
	}
	if i, _, ok := c.targetValue(); ok {
		c.add(candidate{title: "go there by " + c.cs("bl"), notes: []string{"changes lr"}, edits: c.replace(c.stmt("bl", c.opText(i)))})
	}
}

func evenTarget(c *rewriting) {
	i, _, ok := c.targetValue()
	if !ok {
		return
	}
	t := strings.TrimSpace(c.opText(i))
	cut := strings.TrimSpace(strings.TrimSuffix(t, "1"))
	if cut == t || !strings.HasSuffix(cut, "+") {
		return
	}
	t = strings.TrimSpace(strings.TrimSuffix(cut, "+"))
	o := &c.it.stmt.Ops[i]
	start := c.r.in.File.LineStart(int(c.it.line))
	c.add(candidate{title: "branch to " + t, safe: true, edits: []Edit{{Span{start + int(o.Start), start + int(o.End)}, t}}})
}

// listHigh splits a push or pop: the order in memory stays, lowest register
// at the lowest address.
func listHigh(c *rewriting) {
	n := strings.ToLower(c.name)
	if n != "push" && n != "pop" || len(c.ops) != 1 || c.ops[0].Kind != isa.OpList {
		return
	}
	list := c.ops[0].List
	low := list & 0xff
	last := isa.LR
	if n == "pop" {
		last = isa.PC
	}
	if list.Has(isa.SP) || list.Has(isa.PC) && n == "push" {
		return
	}
	var high []isa.Reg
	for r := isa.Reg(8); r < 16; r++ {
		if list.Has(r) && r != last {
			high = append(high, r)
		}
	}
	if len(high) == 0 || len(high) > 5 {
		return
	}
	// The low ones are pushed last and popped first: only a register that is
	// dead and not among them can carry.
	s := isa.NoReg
	if dead := c.r.deadRegs(c.it, 0xff&^low); dead != 0 {
		for s = 0; !dead.Has(s); s++ {
		}
	}
	if s == isa.NoReg {
		return
	}
	t := c.cs(s.String())
	one := func(l isa.RegList) string { return c.stmt(c.name, c.cs(l.String())) }
	var st []string
	if n == "push" {
		if list.Has(last) {
			st = append(st, one(regBit(last)))
		}
		for i := len(high) - 1; i >= 0; i-- {
			st = append(st, c.stmt("mov", t, c.cs(high[i].String())), one(regBit(s)))
		}
		if low != 0 {
			st = append(st, one(low))
		}
	} else {
		if low != 0 {
			st = append(st, one(low))
		}
		for _, h := range high {
			st = append(st, one(regBit(s)), c.stmt("mov", c.cs(h.String()), t))
		}
		if list.Has(last) {
			st = append(st, one(regBit(last)))
		}
	}
	c.detour(n+" the high registers through "+t, 0, []isa.Reg{s}, 0, st...)
}

func olderSequence(c *rewriting) {
	n := strings.ToLower(c.name)
	if len(c.ops) != 2 || !lowReg(&c.ops[0]) || !lowReg(&c.ops[1]) {
		if n == "cpy" && len(c.ops) == 2 {
			c.add(candidate{title: "write " + c.cs("mov"), safe: true, edits: c.replace(c.stmt("mov", c.opText(0), c.opText(1)))})
		}
		return
	}
	d, m := c.opText(0), c.opText(1)
	shifts := map[string][2]string{"uxtb": {"lsr", "24"}, "uxth": {"lsr", "16"}, "sxtb": {"asr", "24"}, "sxth": {"asr", "16"}}
	if x, ok := shifts[n]; ok {
		c.add(candidate{title: "extend by two shifts", flags: isa.NZC, safe: true,
			edits: c.replace(c.stmt(c.mn("lsl"), d, m, "#"+x[1]), c.stmt(c.mn(x[0]), d, d, "#"+x[1]))})
	}
	if n == "mov" || n == "cpy" {
		c.add(candidate{title: "copy by " + c.mn("mov"), flags: isa.NZ, safe: true, edits: c.replace(c.stmt(c.mn("mov"), d, m))})
	}
}

func nearName(c *rewriting) {
	s := c.it.stmt
	start := c.r.in.File.LineStart(int(c.it.line))
	var names []string
	from, to := s.Start, s.NameEnd
	switch c.d.Code {
	case codeUnknownDir:
		names = nearDirectives(s.Name)
	case codeMnemonic:
		names = nearMnemonics(s.Name)
	default:
		from, to = int32(c.d.Span.Start-start), int32(c.d.Span.End-start)
		if int(to) > len(c.line) || from < 0 {
			return
		}
		have := c.line[from:to]
		var all []string
		for n, y := range c.r.syms {
			if y.defined && n != have {
				all = append(all, n)
			}
		}
		sort.Strings(all)
		names = near(have, all)
		if len(names) > 3 {
			names = names[:3]
		}
	}
	for _, n := range names {
		if c.d.Code == codeMnemonic {
			n = c.cs(n)
		}
		c.add(candidate{title: "write " + n, edits: []Edit{{Span{start + int(from), start + int(to)}, n}}})
	}
}

// alignHere puts an alignment before the label, or before the line when no
// label stands in front.
func alignHere(c *rewriting) {
	line := int(c.it.line)
	f := c.r.in.File
	n := "2"
	switch c.d.Code {
	case codeCodeAlign:
		if c.env.mode == isa.T {
			n = "1"
		}
	case codeDataAlign:
		if c.it.stmt.Kind == syntax.Directive && c.it.stmt.Dir.Unit == 2 {
			n = "1"
		}
	case codeLitAlign:
		_, v, ok := c.targetValue()
		if !ok || v.kind != vRel || v.sym == nil || v.sym.item < 0 || v.n != v.sym.val.n {
			return
		}
		d := &c.r.items[v.sym.item]
		if d.file != 0 {
			return
		}
		line = int(d.line)
	}
	// Labels on lines of their own belong to what follows.
	for line > 0 && c.d.Code != codeLitAlign {
		l := f.Line(line - 1)
		if len(l.Stmts) == 1 && l.Stmts[0].Kind == syntax.Label {
			line--
			continue
		}
		break
	}
	in := c.r.directiveIndent(line)
	c.add(candidate{title: "align with .align " + n, safe: true, edits: []Edit{c.insertBefore(line, in+".align "+n)}})
}

// directiveIndent is the white space in front of statements near a line.
func (r *Result) directiveIndent(line int) string {
	f := r.in.File
	for d := 0; d < 40; d++ {
		for _, i := range []int{line + d, line - d} {
			if i < 0 || i >= f.NumLines() {
				continue
			}
			l := f.Line(i)
			if len(l.Stmts) > 0 && l.Stmts[0].Kind != syntax.Label {
				return l.Text[:l.Stmts[0].Start]
			}
		}
	}
	return "\t"
}

func setStateBit(c *rewriting) {
	start := c.r.in.File.LineStart(int(c.it.line))
	at := c.d.Span
	if at.End-start > len(c.line) || at.Start < start {
		return
	}
	text := c.line[at.Start-start : at.End-start]
	if strings.EqualFold(c.name, "adr") && c.env.mode == isa.T {
		d := c.opText(0)
		c.add(candidate{title: "add 1 to the address", flags: isa.NZCV, safe: true, edits: c.replace(c.line[c.it.stmt.Start:c.it.stmt.End], c.stmt(c.mn("add"), d, "#1"))})
		return
	}
	c.add(candidate{title: "set bit 0: write " + text + "+1", safe: true, edits: []Edit{{Span{at.End, at.End}, "+1"}}})
}

func markFunction(c *rewriting) {
	if strings.EqualFold(c.name, "adr") && c.env.mode == isa.T || len(c.d.Related) < 2 {
		return
	}
	l := c.d.Related[1].Location
	if l.Path != c.r.in.Path || !strings.Contains(c.d.Message, "is T16 code") {
		return
	}
	line := c.r.in.File.LineAt(l.Span.Start)
	if len(c.r.in.File.Line(line).Stmts) == 0 {
		return
	}
	c.add(candidate{title: "mark the label by .thumb_func", safe: true, edits: []Edit{c.insertBefore(line, c.r.directiveIndent(line)+".thumb_func")}})
}

func clearStateBit(c *rewriting) {
	start := c.r.in.File.LineStart(int(c.it.line))
	at := c.d.Span
	if at.End-start > len(c.line) || at.Start < start {
		return
	}
	text := c.line[at.Start-start : at.End-start]
	for _, tail := range []string{"+1", "+ 1", " + 1", "|1", " | 1"} {
		if strings.HasSuffix(text, tail) {
			cut := strings.TrimRight(strings.TrimSuffix(text, tail), " ")
			c.add(candidate{title: "clear bit 0: write " + cut, safe: true, edits: []Edit{{at, cut}}})
			return
		}
	}
}

func branchOverPool(c *rewriting) {
	if c.it.flags&fPool == 0 {
		return
	}
	l := c.freeLocal()
	line := int(c.it.line)
	if len(c.r.in.File.Line(line).Stmts) != 1 {
		return
	}
	in := c.indent()
	c.add(candidate{title: "branch over the pool", safe: true, edits: []Edit{
		c.insertBefore(line, in+c.cs("b")+" "+l+"f"), c.insertAfter(line, l+":")}})
}

func addColon(c *rewriting) {
	if c.it.stmt.Kind != syntax.Label || !c.it.stmt.NoColon {
		for i := range c.r.items {
			it := &c.r.items[i]
			if it.file == 0 && it.line == c.it.line && it.stmt.Kind == syntax.Label && it.stmt.NoColon {
				c.it = it
			}
		}
	}
	if c.it.stmt.Kind != syntax.Label || !c.it.stmt.NoColon {
		return
	}
	at := c.r.in.File.LineStart(int(c.it.line)) + int(c.it.stmt.NameEnd)
	c.add(candidate{title: "write " + c.it.stmt.Name + ":", safe: true, edits: []Edit{{Span{at, at}, ":"}}})
}
