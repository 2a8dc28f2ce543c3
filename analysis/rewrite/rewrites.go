package rewrite

import (
	"fmt"
	"math/bits"
	"sort"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

const CodeT = ".syntax unified\n.thumb\n"

// Registered registers the rewrites. before and after are whole sources; the
// documented after is what the tests expect as first or later offer.
func Registered() []Entry {
	return append([]Entry{
		{"literal-load", "Load the constant from the literal pool",
			CodeT + "\tmovs r0, #0x1234\n\tbx lr\n", CodeT + "\tldr r0, =0x1234\n\tbx lr\n", byWidth(literalLoad, (*rewriting).poolMove)},
		{"address-load", "Load the address",
			".arch armv7-m\n" + CodeT + "\t.data\ntable:\t.word 0\n\t.text\n\tmov r0, #table\n\tbx lr\n", ".arch armv7-m\n" + CodeT + "\t.data\ntable:\t.word 0\n\t.text\n\tldr r0, =table\n\tbx lr\n", addressLoad},
		{"move-shift", "Build the constant by a move and a shift",
			CodeT + "\tmovs r0, #0x1000\n\tbx lr\n", CodeT + "\tmovs r0, #1\n\tlsls r0, r0, #12\n\tbx lr\n", narrow(moveShift)},
		{"move-negate", "Build the constant by a move and a negation",
			CodeT + "\tmovs r0, #-5\n\tbx lr\n", CodeT + "\tmovs r0, #5\n\trsbs r0, r0, #0\n\tbx lr\n", narrow(moveNegate)},
		{"move-invert", "Build the constant by a move and an inversion",
			CodeT + "\tmovs r0, #0xffffff00\n\tbx lr\n", CodeT + "\tmovs r0, #0xff\n\tmvns r0, r0\n\tbx lr\n", narrow(moveInvert)},
		{"move-add", "Build the constant in two steps",
			CodeT + "\tmovs r0, #301\n\tbx lr\n", CodeT + "\tmovs r0, #255\n\tadds r0, #46\n\tbx lr\n", byWidth(moveAdd, (*rewriting).moveTwo)},
		{"move-halves", "Build the constant from two halves",
			".arch armv7-a\n" + CodeT + "\tmov r0, #0x12345678\n\tbx lr\n", ".arch armv7-a\n" + CodeT + "\tmovw r0, #0x5678\n\tmovt r0, #0x1234\n\tbx lr\n", moveHalves},
		{"two-adds", "Add, subtract or mask in two steps",
			CodeT + "\tadds r0, #300\n\tbx lr\n", CodeT + "\tadds r0, #255\n\tadds r0, #45\n\tbx lr\n", byWidth(twoAdds, (*rewriting).sumTwo)},
		{"round-stack", "Move the stack pointer by the next multiple of 4",
			CodeT + "\tsub sp, #10\n\tbx lr\n", CodeT + "\tsub sp, #12\n\tbx lr\n", roundStack},
		{"mask-field", "Extract the field, or clear it",
			".arch armv7-m\n" + CodeT + "\tand r0, r1, #0x1fff\n\tbx lr\n", ".arch armv7-m\n" + CodeT + "\tubfx r0, r1, #0, #13\n\tbx lr\n", maskField},
		{"move-then-add", "Copy the register, then add with two operands",
			CodeT + "\tadds r0, r1, #20\n\tbx lr\n", CodeT + "\tmovs r0, r1\n\tadds r0, #20\n\tbx lr\n", narrow(moveThenAdd)},
		{"constant-register", "Put the constant into a register first",
			CodeT + "\tmvns r0, #5\n\tbx lr\n", CodeT + "\tmovs r0, #5\n\tmvns r0, r0\n\tbx lr\n", byWidth(constantRegister, (*rewriting).regForConst)},
		{"compare-negative", "Compare with the negated constant",
			CodeT + "\tcmp r0, #-5\n\tmovs r3, #0\n\tbx lr\n", CodeT + "\tmovs r3, #5\n\tcmn r0, r3\n\tmovs r3, #0\n\tbx lr\n", narrow(compareNegative)},
		{"offset-register", "Access with the offset in a register",
			CodeT + "\tldr r0, [r1, #200]\n\tbx lr\n", CodeT + "\tmovs r0, #200\n\tldr r0, [r1, r0]\n\tbx lr\n", byWidth(offsetRegister, (*rewriting).offsetIn)},
		{"address-first", "Compute the address first",
			CodeT + "\tldrb r0, [sp, #5]\n\tbx lr\n", CodeT + "\tadd r0, sp, #4\n\tldrb r0, [r0, #1]\n\tbx lr\n", byWidth(addressFirst, (*rewriting).addressOf)},
		{"shift-first", "Shift in a separate instruction",
			".arch armv7-m\n" + CodeT + "\tadd r0, r1, r2, lsl r3\n\tbx lr\n", ".arch armv7-m\n" + CodeT + "\tlsl r0, r2, r3\n\tadd r0, r1, r0\n\tbx lr\n", shiftFirst},
		{"two-shifts", "Shift in two steps",
			CodeT + "\tlsls r0, r1, #33\n\tbx lr\n", CodeT + "\tlsls r0, r1, #31\n\tlsls r0, r0, #2\n\tbx lr\n", twoShifts},
		{"extend-after", "Load unsigned, then sign-extend",
			".arch armv6\n" + CodeT + "\tldrsb r0, [r1, #4]\n\tbx lr\n", ".arch armv6\n" + CodeT + "\tldrb r0, [r1, #4]\n\tsxtb r0, r0\n\tbx lr\n", narrow(extendAfter)},
		{"via-low", "Go through a low register",
			CodeT + "\tsubs r8, r8, #1\n\tmovs r0, #0\n\tbx lr\n", CodeT + "\tmov r0, r8\n\tsubs r0, r0, #1\n\tmov r8, r0\n\tmovs r0, #0\n\tbx lr\n", viaLow},
		{"compute-aside", "Compute in other registers, then copy",
			CodeT + "\tands r8, r8, r9\n\tmovs r0, #0\n\tmovs r1, #0\n\tbx lr\n", CodeT + "\tmov r1, r9\n\tmov r0, r8\n\tands r0, r1\n\tmov r8, r0\n\tmovs r0, #0\n\tmovs r1, #0\n\tbx lr\n", narrow(computeAside)},
		{"two-operand", "Copy the first source, then use two operands",
			CodeT + "\tands r0, r1, r2\n\tbx lr\n", CodeT + "\tmovs r0, r1\n\tands r0, r2\n\tbx lr\n", narrow(twoOperand)},
		{"step-base", "Change the base register in a separate instruction",
			CodeT + "\tldr r0, [r1], #4\n\tbx lr\n", CodeT + "\tldmia r1!, {r0}\n\tbx lr\n", byWidth(stepBase, (*rewriting).stepApart)},
		{"skip-branch", "Branch around the line on the opposite condition",
			CodeT + "\taddseq r0, r0, #1\n\tbx lr\n", CodeT + "\tbne 1f\n\tadds r0, r0, #1\n1:\n\tbx lr\n", skipBranch},
		{"flag-spelling", "Use the spelling that exists",
			CodeT + "\tadd r0, r1, #1\n\tbx lr\n", CodeT + "\tadds r0, r1, #1\n\tbx lr\n", flagSpelling},
		{"pool-copy", "Load the same word from the literal pool",
			CodeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, w\n\tbx lr\n", CodeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, =7\n\tbx lr\n", poolCopy},
		{"pool-address", "Take the address from the literal pool",
			CodeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tadr r0, w\n\tbx lr\n", CodeT + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, =w\n\tbx lr\n", poolAddress},
		{"insert-pool", "Place a literal pool within reach",
			CodeT + "\tldr r0, =0x12345678\n\tbx lr\n\t.space 1100\n", CodeT + "\tldr r0, =0x12345678\n\tbx lr\n\t.ltorg\n\t.space 1100\n", insertPool},
		{"invert-branch", "Branch around a far branch on the opposite condition",
			CodeT + "\tbeq far\n\t.space 300\nfar:\tbx lr\n", CodeT + "\tbne 1f\n\tb far\n1:\n\t.space 300\nfar:\tbx lr\n", invertBranch},
		{"compare-branch", "Compare with 0, then branch",
			".arch armv6-m\n" + CodeT + "f:\tcbz r0, f\n\tbx lr\n", ".arch armv6-m\n" + CodeT + "f:\tcmp r0, #0\n\tbeq f\n\tbx lr\n", compareBranch},
		{"call-exchange", "Call by BLX, which changes the state",
			".arch armv5te\n" + CodeT + "f:\tbl g\n\tbx lr\n\t.arm\ng:\tbx lr\n", ".arch armv5te\n" + CodeT + "f:\tblx g\n\tbx lr\n\t.arm\ng:\tbx lr\n", callExchange},
		{"far-call", "Branch by BL, which reaches further",
			CodeT + "\tb far\n\t.space 3000\nfar:\tbx lr\n", CodeT + "\tbl far\n\t.space 3000\nfar:\tbx lr\n", farCall},
		{"even-target", "Make the target even",
			CodeT + "\tb next+1\nnext:\tbx lr\n", CodeT + "\tb next\nnext:\tbx lr\n", evenTarget},
		{"list-high", "Push or pop the high registers through a low one",
			CodeT + "\tpush {r4, r8}\n\tmovs r0, #0\n\tbx lr\n", CodeT + "\tmov r0, r8\n\tpush {r0}\n\tpush {r4}\n\tmovs r0, #0\n\tbx lr\n", narrow(listHigh)},
		{"older-sequence", "Use instructions that this architecture has",
			CodeT + "\tuxtb r0, r1\n\tbx lr\n", CodeT + "\tlsls r0, r1, #24\n\tlsrs r0, r0, #24\n\tbx lr\n", olderSequence},
		{"drop-width", "Leave the width to the assembler",
			".arch armv7-m\n" + CodeT + "\tldr.n r0, [r1, #200]\n\tbx lr\n", ".arch armv7-m\n" + CodeT + "\tldr r0, [r1, #200]\n\tbx lr\n", dropWidth},
		{"call-through", "Call through a BX nearby",
			CodeT + "\tpush {lr}\n\tblx r3\n\tpop {pc}\n", CodeT + "\tpush {lr}\n\tbl 1f\n\tpop {pc}\n1:\tbx r3\n", narrow(callThrough)},
		{"near-name", "Correct the name",
			CodeT + "\tmvoes r0, r1\n\tbx lr\n", CodeT + "\tmovs r0, r1\n\tbx lr\n", nearName},
		{"align", "Align the data or code",
			"\t.byte 1\nt:\t.word 2\n", "\t.byte 1\n\t.align 2\nt:\t.word 2\n", alignHere},
		{"set-state-bit", "Set bit 0 of the address",
			CodeT + "\tldr r0, =t\n\tbx r0\nt:\tbx lr\n", CodeT + "\tldr r0, =t+1\n\tbx r0\nt:\tbx lr\n", setStateBit},
		{"mark-function", "Mark the label as a T16 function",
			CodeT + "\tldr r0, =t\n\tbx r0\nt:\tbx lr\n", CodeT + "\tldr r0, =t\n\tbx r0\n\t.thumb_func\nt:\tbx lr\n", markFunction},
		{"clear-state-bit", "Clear bit 0 of the address",
			".syntax unified\n\t.arm\nt:\tbx lr\n\t.thumb\nf:\tldr r0, =t+1\n\tbx r0\n", ".syntax unified\n\t.arm\nt:\tbx lr\n\t.thumb\nf:\tldr r0, =t\n\tbx r0\n", clearStateBit},
		{"branch-over-pool", "Branch over the pool",
			CodeT + "\tldr r0, =0x12345678\n\t.ltorg\n\tbx lr\n", CodeT + "\tldr r0, =0x12345678\n\tb 1f\n\t.ltorg\n1:\n\tbx lr\n", branchOverPool},
		{"add-colon", "Add a colon after the label",
			CodeT + "loop b loop\n", CodeT + "loop: b loop\n", addColon},
	}, itRewrites()...)
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
	if c.wide() && c.it.Stmt.Mnem != nil {
		op, _, _ := c.it.Stmt.Mnem.Operation()
		return op
	}
	n := strings.TrimSuffix(strings.ToLower(c.name), ".n")
	if c.env.Unified && strings.HasSuffix(n, "s") && len(n) > 3 {
		n = n[:len(n)-1]
	}
	return n
}

func lowReg(o *isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg < 8 && !o.WB }

// moveConst says whether the line moves a constant into a low register.
func (c *rewriting) moveConst() (reg string, v int64, i int, ok bool) {
	b := c.base()
	if b != "mov" && b != "mvn" && b != "movw" || len(c.ops) != 2 || !lowReg(&c.ops[0]) {
		return
	}
	i, v, ok = c.constOp()
	if ok && b == "mvn" {
		v = int64(^int32(v))
	}
	return c.opText(0), v, i, ok && v >= -1<<31 && v < 1<<32
}

func literalLoad(c *rewriting) {
	b := c.base()
	if b != "mov" && b != "mvn" && b != "movw" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].WB {
		return
	}
	i, v, ok := c.constOp()
	if !ok || v < -1<<31 || v >= 1<<32 {
		return
	}
	text := c.exprText(i)
	if b == "mvn" {
		text = "0x" + strconv.FormatUint(uint64(^uint32(v)), 16)
	}
	if c.ops[0].Reg < 8 {
		c.add(candidate{title: "load " + text + " from the literal pool", safe: true,
			edits: c.replace(c.stmt("ldr", c.opText(0), "="+text))})
		return
	}
	if v >= 0 && v < 256 && b == "mov" || c.ops[0].Reg == isa.PC {
		return // a move of the constant does it
	}
	if regs, saved, ok := c.scratch(1, 0); ok {
		s := c.cs(regs[0].String())
		c.detour("load "+text+" from the literal pool through "+s, 0, regs, saved,
			c.stmt("ldr", s, "="+text), c.stmt("mov", c.opText(0), s))
	}
}

// addressLoad makes a load of a move whose constant is an address: the linker knows
// it, and gives MOVW and MOVT a half of it each.
func addressLoad(c *rewriting) {
	op, _, _ := c.operation()
	if b := c.base(); op != "movw" && op != "movt" {
		op = b
	}
	if len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].WB || c.it.Stmt.Ops[1].Expr == nil && c.it.Stmt.Ops[1].Word == "" {
		return
	}
	text := c.exprText(1)
	half := wording.HalfOperator[op]
	switch {
	case half != "" && !strings.HasPrefix(text, ":"):
		c.add(candidate{title: "write #" + half + text, safe: true, edits: c.replace(c.stmt(c.name, c.opText(0), "#"+half+text))})
	case op == "mov" && strings.HasPrefix(strings.ToLower(text), ":lower16:"):
		c.add(candidate{title: "write " + c.ins("movw"), safe: true, edits: c.replace(c.do("movw", c.opText(0), c.opText(1)))})
	case op == "mov" && !strings.HasPrefix(text, ":"):
		c.add(candidate{title: "load the address of " + text, named: true, safe: true, edits: c.replace(c.do("ldr", c.opText(0), "="+text))})
	}
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
	if c.hexStyle() && u>>uint(m) > 15 && u>>uint(m&^3) < 256 {
		m &^= 3
	}
	if m == 0 || u>>uint(m) > 255 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build %s as %s << %d", c.num(int64(u)), c.num(int64(u>>uint(m))), m), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(int64(u>>uint(m)))), c.stmt(c.mn("lsl"), reg, reg, "#"+strconv.Itoa(m)))})
}

func moveNegate(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	n := -int64(int32(v))
	if !ok || n < 1 || n > 255 {
		return
	}
	late := 0
	if n == 1 {
		late = 1 // MVN of 0 is what everybody writes
	}
	c.add(candidate{title: fmt.Sprintf("build %s as the negative of %s", c.num(-n), c.num(n)), safe: true, late: late,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(n)), c.negate(reg))})
}

func moveInvert(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	u := ^uint32(v)
	if !ok || u > 255 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build it as the inverse of %s", c.num(int64(u))), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(int64(u))), c.stmt(c.mn("mvn"), reg, reg))})
}

func moveAdd(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	if !ok || v < 256 || v > 510 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build it as %s + %s", c.num(255), c.num(v-255)), safe: true,
		edits: c.replace(c.stmt(c.mn("mov"), reg, "#"+c.num(255)), c.stmt(c.mn("add"), reg, "#"+c.lessText(v, 255)))})
}

// sum reads the line as dest = src ± n.
func (c *rewriting) sum() (dest, src int, op string, n int64, ok bool) {
	b := c.base()
	i, v, ok := c.constOp()
	if !ok || b != "add" && b != "sub" || i != len(c.ops)-1 || len(c.ops) < 2 || len(c.ops) > 3 {
		return 0, 0, "", 0, false
	}
	dest, src = 0, len(c.ops)-2
	if c.ops[dest].Kind != isa.OpReg || c.ops[src].Kind != isa.OpReg || c.ops[src].Reg == isa.PC {
		return 0, 0, "", 0, false // PC reads otherwise a line below, or in another instruction
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
		if n <= 508 || n > 4*508 || n%4 != 0 {
			return
		}
		var st []string
		for ; n > 0; n -= min(n, 508) {
			st = append(st, c.stmt(op, d, "#"+c.num(min(n, 508))))
		}
		c.add(candidate{title: op + " in " + []string{2: "two", 3: "three", 4: "four"}[len(st)] + " steps of at most " + c.num(508), safe: true, edits: c.replace(st...)})
		return
	}
	if !lowReg(&c.ops[dest]) || !lowReg(&c.ops[src]) {
		return
	}
	// The last step's carry and overflow are not those of the whole sum.
	if c.ops[dest].Reg == c.ops[src].Reg {
		if n > 255 && n <= 510 {
			c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.num(255), c.num(n-255)), wrong: isa.C | isa.V, safe: true,
				edits: c.replace(c.stmt(c.mn(op), d, "#"+c.num(255)), c.stmt(c.mn(op), d, "#"+c.lessText(n, 255)))})
		}
		return
	}
	if n > 7 && n <= 7+255 {
		c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.num(7), c.num(n-7)), wrong: isa.C | isa.V, safe: true,
			edits: c.replace(c.stmt(c.mn(op), d, s, "#7"), c.stmt(c.mn(op), d, "#"+c.lessText(n, 7)))})
	}
}

// unevenStack says whether the line moves the stack pointer by a known amount that is
// no multiple of 4, and by how much.
func (c *rewriting) unevenStack() (n int64, ok bool) {
	if len(c.ops) > 0 && c.ops[0].Kind == isa.OpReg && c.ops[0].Reg == isa.SP {
		op, _, _ := c.operation()
		if i, v, ok := c.constOp(); ok && i == len(c.ops)-1 && (strings.HasPrefix(op, "add") || strings.HasPrefix(op, "sub")) {
			return v, v%4 != 0
		}
	}
	if len(c.ops) > 1 {
		m := &c.ops[len(c.ops)-1]
		return m.Imm, m.Kind == isa.OpMem && m.Reg == isa.SP && (m.WB || m.Post) && m.Off == isa.OffImm && m.Imm%4 != 0
	}
	return 0, false
}

// roundStack moves the stack pointer by the next multiple of 4: it has to stay one at
// all times (AAPCS32, "Universal stack constraints"). What takes the step back, and
// what is counted from it, is the author's to see to.
func roundStack(c *rewriting) {
	n, ok := c.unevenStack()
	if _, _, op, _, sum := c.sum(); !ok || !sum || c.ops[len(c.ops)-2].Reg != isa.SP {
		return
	} else {
		c.roundTo(op, (max(n, -n)+3)&^3)
	}
}

// roundTo writes the step of the stack pointer anew.
func (c *rewriting) roundTo(op string, n int64) {
	if !c.can(op, c.ops[0], c.ops[len(c.ops)-2], immOp(n)) {
		return
	}
	ops := []string{c.opText(0)}
	if len(c.ops) == 3 {
		ops = append(ops, c.opText(1))
	}
	c.add(candidate{title: op + " " + c.num(n) + ", the next multiple of 4", edits: c.replace(c.do(op, append(ops, "#"+c.num(n))...)),
		notes: []string{"change the step back to match"}})
}

// copyLow is the copy of a low register into another.
func (c *rewriting) copyLow(d, s string) string { return c.stmt(c.mn("mov"), d, s) }

func moveThenAdd(c *rewriting) {
	dest, src, op, n, ok := c.sum()
	if !ok || n > 255 || !lowReg(&c.ops[dest]) || c.ops[dest].Reg == c.ops[src].Reg {
		return
	}
	d, s := c.opText(dest), c.opText(src)
	cp := c.copyLow(d, s)
	if c.ops[src].Reg > 7 {
		cp = c.stmt("mov", d, s)
	}
	c.add(candidate{title: fmt.Sprintf("copy %s to %s, then %s %s", s, d, op, c.num(n)), safe: true,
		edits: c.replace(cp, c.stmt(c.mn(op), d, "#"+c.constText(n)))})
}

// constText keeps the author's expression where it has the value n.
func (c *rewriting) constText(n int64) string {
	if i, v, ok := c.constOp(); ok && v == n {
		return c.exprText(i)
	}
	return c.num(n)
}

// lessText writes n-k, by the author's name for n where there is one.
func (c *rewriting) lessText(n, k int64) string {
	if i, v, ok := c.constOp(); ok && v == n {
		switch o := &c.it.Stmt.Ops[i]; {
		case o.Word != "" || o.Expr != nil && o.Expr.Op == syntax.ExprSym:
			return c.exprText(i) + "-" + c.num(k)
		case o.Expr != nil:
			return "(" + c.exprText(i) + ")-" + c.num(k)
		}
	}
	return c.num(n - k)
}

// loadConst writes the statement that puts v into the low register reg: a move
// where that goes and the flags may change, else a load from the literal pool.
func (c *rewriting) loadConst(reg string, v int64, text string, keepFlags bool) string {
	if !keepFlags && v >= 0 && v < 256 {
		return c.stmt(c.mn("mov"), reg, "#"+text)
	}
	return c.stmt("ldr", reg, "="+text)
}

var commutes = map[string]bool{"and": true, "orr": true, "eor": true, "add": true, "adc": true, "mul": true, "tst": true, "cmn": true}

// spelled finds the spelling of an operation that takes the operands: as the
// author has it, with the flag letter, without. keeps are the flags that the
// operation should set and does not, as ADD with a high register.
func (c *rewriting) spelled(base string, ops ...isa.Operand) (name string, keeps isa.Flags, ok bool) {
	list := []string{base}
	if c.env.Unified {
		list = []string{base + "s", base}
	}
	if c.base() == base {
		list = append([]string{c.name}, list...)
	}
	for _, n := range list {
		if m, ok := c.matches(n, ops...); ok {
			if m.Effects().FlagsWritten == 0 {
				keeps = isa.NZCV
			}
			return n, keeps, true
		}
	}
	return "", 0, false
}

// constantRegister replaces the constant of a data-processing line by a
// register that gets it first.
func constantRegister(c *rewriting) {
	i, v, ok := c.constOp()
	b := c.base()
	if !ok || i != len(c.ops)-1 || len(c.ops) < 2 || v < -1<<31 || v >= 1<<32 {
		return
	}
	switch b {
	case "and", "orr", "eor", "bic", "adc", "sbc", "rsb", "mul", "tst", "cmp", "cmn", "mvn", "add", "sub", "ror":
	default:
		return
	}
	for k := 0; k < i; k++ {
		if c.ops[k].Kind != isa.OpReg || c.ops[k].WB || c.ops[k].Reg == isa.PC {
			return
		}
	}
	text := c.exprText(i)
	reads := b == "adc" || b == "sbc" // the carry must come through, as it does to MOV of a constant
	d, dt := c.ops[0], c.opText(0)
	n, nt := c.ops[i-1], c.opText(i-1)
	compare := b == "tst" || b == "cmp" || b == "cmn"
	if b == "mvn" {
		if len(c.ops) == 2 && lowReg(&d) {
			if name, keeps, ok := c.spelled(b, d, d); ok {
				c.add(candidate{title: "move " + text + " to " + dt + " first", wrong: keeps, safe: true,
					edits: c.replace(c.loadConst(dt, v, text, false), c.stmt(name, dt, dt))})
			}
		}
		return
	}
	// The destination itself holds the constant, where its old value does
	// not matter.
	if !compare && lowReg(&d) && n.Reg != d.Reg {
		op, ops, txt := b, []isa.Operand{d, n, d}, []string{dt, nt, dt}
		v, text := v, text
		switch {
		case b == "sub" && n.Reg > 7:
			v, text = -v, c.num(-v)
			op, ops, txt = "add", []isa.Operand{d, n}, []string{dt, nt}
		case b == "rsb":
			op, ops, txt = "sub", []isa.Operand{d, d, n}, []string{dt, dt, nt}
		case commutes[b] && (b != "add" || n.Reg > 7):
			ops, txt = []isa.Operand{d, n}, []string{dt, nt}
		}
		if name, keeps, ok := c.spelled(op, ops...); ok {
			c.add(candidate{title: "put " + text + " into " + dt + " first", wrong: keeps, safe: true,
				edits: c.replace(c.loadConst(dt, v, text, false), c.stmt(name, txt...))})
			return
		}
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	s := c.cs(regs[0].String())
	so := regOp(regs[0])
	title := "put " + text + " into " + s
	load := c.loadConst(s, v, text, false)
	switch {
	case compare:
		if name, keeps, ok := c.spelled(b, n, so); ok {
			c.detour(title, keeps, regs, saved, load, c.stmt(name, nt, s))
			return
		}
		c.constantThroughLow(b, v, text)
		return
	case b == "rsb":
		if name, keeps, ok := c.spelled("sub", d, so, n); ok {
			c.detour(title, keeps, regs, saved, load, c.stmt(name, dt, s, nt))
			return
		}
		c.constantThroughLow(b, v, text)
		return
	}
	ops, txt := []isa.Operand{d, n, so}, []string{dt, nt, s}
	if len(c.ops) == 2 || d.Reg == n.Reg && b != "add" && b != "sub" {
		ops, txt = []isa.Operand{d, so}, []string{dt, s}
	}
	if name, keeps, ok := c.spelled(b, ops...); ok {
		c.detour(title, keeps, regs, saved, load, c.stmt(name, txt...))
		return
	}
	// Two operands: the first source is copied.
	name, keeps, ok := c.spelled(b, d, so)
	if !ok && b == "sub" {
		// High registers have no subtract.
		if name, keeps, ok = c.spelled("add", d, so); ok {
			neg := c.num(-v)
			title = "put " + neg + " into " + s
			load = c.loadConst(s, -v, neg, false)
		}
	}
	if !ok {
		c.constantThroughLow(b, v, text)
		return
	}
	st := []string{load}
	if n.Reg != d.Reg {
		cp := c.stmt("mov", dt, nt)
		if d.Reg < 8 && n.Reg < 8 {
			cp = c.copyBefore(dt, nt, reads)
		}
		st = append(st, cp)
	}
	c.detour(title, keeps, regs, saved, append(st, c.stmt(name, dt, s))...)
}

// constantThroughLow is constantRegister for operations that no high register
// takes part in: the value goes through a low register, too.
func (c *rewriting) constantThroughLow(b string, v int64, text string) {
	d, dt := c.ops[0], c.opText(0)
	n, nt := c.ops[len(c.ops)-2], c.opText(len(c.ops)-2)
	reads := b == "adc" || b == "sbc"
	compare := b == "tst" || b == "cmp" || b == "cmn"
	need := 2
	own := !compare && d.Reg < 8 && d.Reg != n.Reg // the destination holds the value
	if own {
		need = 1
	}
	regs, saved, ok := c.scratch(need, 0)
	if !ok || d.Reg > 14 || n.Reg > 14 || !own && saved != 0 && (saved.Has(d.Reg) || saved.Has(n.Reg)) {
		return
	}
	s, h, ht := regs[0], d.Reg, dt
	if !own {
		h, ht = regs[1], c.cs(regs[1].String())
	}
	st, so, ho := c.cs(s.String()), regOp(s), regOp(h)
	ops, txt := []isa.Operand{ho, so}, []string{ht, st}
	op := b
	switch b {
	case "rsb":
		op, ops, txt = "sub", []isa.Operand{ho, so, ho}, []string{ht, st, ht}
	case "add", "sub":
		ops, txt = []isa.Operand{ho, ho, so}, []string{ht, ht, st}
	}
	name, keeps, ok := c.spelled(op, ops...)
	if !ok {
		return
	}
	cp := c.stmt("mov", ht, nt)
	if n.Reg < 8 {
		cp = c.copyBefore(ht, nt, reads)
	}
	list := []string{cp, c.loadConst(st, v, text, false), c.stmt(name, txt...)}
	if !own && !compare {
		back := c.stmt("mov", dt, ht)
		if d.Reg < 8 {
			back = c.copyBefore(dt, ht, true)
		}
		list = append(list, back)
	}
	c.detour("put "+text+" into "+st+" and the value into "+ht, keeps, regs, saved, list...)
}

// copyBefore is the copy of a low register in front of an operation. The
// divided syntax's MOV is an add of 0, which spoils C and V: where they matter,
// a shift by 0 copies. So it does in front of an operation that reads C.
func (c *rewriting) copyBefore(d, s string, reads bool) string {
	if c.env.Unified || !reads && c.r.DeadFlags(c.it, isa.C|isa.V) == isa.C|isa.V {
		return c.copyLow(d, s)
	}
	return c.stmt("lsl", d, s, "#0")
}

func compareNegative(c *rewriting) {
	i, v, ok := c.constOp()
	b := c.base()
	n := -int64(int32(v))
	if !ok || i != 1 || len(c.ops) != 2 || !lowReg(&c.ops[0]) || n < 1 || n > 255 {
		return
	}
	// x - (-n) and x + n are the same sum, with the same carry and overflow.
	switch b {
	case "cmn":
		c.add(candidate{title: "compare with " + c.num(n), safe: true, edits: c.replace(c.stmt("cmp", c.opText(0), "#"+c.num(n)))})
	case "cmp":
		if regs, saved, ok := c.scratch(1, 0); ok {
			s := c.cs(regs[0].String())
			c.detour("compare with the negative of "+c.num(n), 0, regs, saved,
				c.stmt(c.mn("mov"), s, "#"+c.num(n)), c.stmt("cmn", c.opText(0), s))
		}
	}
}

// twoShifts makes shifts by 32 and more, which leave nothing or the sign, out
// of two shifts: the carry comes out right as well.
func twoShifts(c *rewriting) {
	i, n, ok := c.constOp()
	b := c.base()
	if !ok || i != len(c.ops)-1 || len(c.ops) < 2 || c.ops[0].Kind != isa.OpReg || c.ops[i-1].Kind != isa.OpReg || n < 32 || n > 255 {
		return
	}
	var by []int64
	title := "shift twice, "
	switch {
	case b == "lsl":
		by = []int64{31, min(n-31, 31)}
	case b == "lsr" && n > 32:
		by = []int64{32, min(n-32, 32)}
	case b == "asr" && n > 32:
		by, title = []int64{32}, "shift by 32, with the same result"
	default:
		return
	}
	if len(by) > 1 {
		title += fmt.Sprintf("by %d and %d", by[0], by[1])
	}
	d, s := c.ops[0].Reg, c.ops[i-1].Reg
	if d > 14 || s > 14 || d == isa.SP || s == isa.SP {
		return
	}
	t, st := c.opText(0), []string(nil)
	var regs []isa.Reg
	var saved isa.RegList
	if d > 7 && !c.wide() {
		if regs, saved, ok = c.scratch(1, 0); !ok {
			return
		}
		t = c.cs(regs[0].String())
	}
	from := c.opText(i - 1)
	if s > 7 && !c.wide() {
		st, from = []string{c.stmt("mov", t, from)}, t
	}
	for _, k := range by {
		if c.wide() {
			st = append(st, c.do(c.letter(b), t, from, "#"+strconv.FormatInt(k, 10)))
		} else {
			st = append(st, c.stmt(c.mn(b), t, from, "#"+strconv.FormatInt(k, 10)))
		}
		from = t
	}
	if d > 7 && !c.wide() {
		st = append(st, c.stmt("mov", c.opText(0), t))
		c.detour(title+" in "+t, 0, regs, saved, st...)
		return
	}
	c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
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
	o := &c.it.Stmt.Ops[1]
	loc := c.r.PartLoc(c.it, 1, isa.PartOffset)
	start := c.r.File.LineStart(int(c.it.Line))
	if o.Off == isa.OffNone {
		return "0"
	}
	return strings.TrimSpace(strings.TrimLeft(syntax.WithoutComments(c.line[loc.Span.Start-start:loc.Span.End-start]), "#$ "))
}

func (c *rewriting) baseText() string {
	loc := c.r.PartLoc(c.it, len(c.it.Stmt.Ops)-1, isa.PartBase)
	start := c.r.File.LineStart(int(c.it.Line))
	return syntax.WithoutComments(c.line[loc.Span.Start-start : loc.Span.End-start])
}

func offsetRegister(c *rewriting) {
	m, load, ok := c.access()
	if !ok {
		return
	}
	if m.Reg > 7 {
		c.offsetAndBase(m, load)
		return
	}
	v, text, base := m.Imm, c.offsetText(), c.baseText()
	if m.Off == isa.OffNone {
		v = 0
	}
	data, dt := c.ops[0].Reg, c.opText(0)
	if v < -1<<31 || v >= 1<<32 || data > 14 || data == isa.SP {
		return
	}
	if _, plain := c.matches(c.name, regOp(0), isa.Operand{Kind: isa.OpMem, Reg: m.Reg}); plain && v == 0 {
		return
	}
	emit := func(regs []isa.Reg, saved isa.RegList, s string, keep bool) {
		var st []string
		if n := -v; n >= 1 && n <= 255 && !keep {
			st = []string{c.stmt(c.mn("mov"), s, "#"+c.num(n)), c.negate(s)}
		} else {
			st = []string{c.loadConst(s, v, text, keep)}
		}
		t, move := dt, []string(nil)
		if data > 7 {
			t = s
			if load {
				move = []string{c.stmt("mov", dt, s)}
			} else {
				t = c.cs(regs[1].String())
				st = append(st, c.stmt("mov", t, dt))
			}
		}
		st = append(append(st, c.stmt(c.name, t, c.mem(base, s))), move...)
		title := "access with the offset in " + s
		if regs == nil {
			c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
			return
		}
		c.detour(title, 0, regs, saved, st...)
	}
	// A load from the literal pool keeps the flags, a move does not.
	keep := v > -256 && v < 256 && c.r.DeadFlags(c.it, isa.NZCV) != isa.NZCV
	if load && data < 8 && data != m.Reg {
		emit(nil, 0, dt, false)
		if keep {
			emit(nil, 0, dt, true)
		}
		return
	}
	n := 1
	if data > 7 && !load {
		n = 2
	}
	if regs, saved, ok := c.scratch(n, 0); ok {
		s := c.cs(regs[0].String())
		emit(regs, saved, s, false)
		if keep {
			emit(regs, saved, s, true)
		}
	}
}

// offsetAndBase is offsetRegister for a load whose base register is a high one:
// the destination carries the base.
func (c *rewriting) offsetAndBase(m *isa.Operand, load bool) {
	if !load || !lowReg(&c.ops[0]) || m.Reg > 14 || m.Imm < -1<<31 || m.Imm >= 1<<32 {
		return
	}
	if _, ok := c.matches(c.name, c.ops[0], isa.Operand{Kind: isa.OpMem, Reg: c.ops[0].Reg}); ok {
		return // the address alone does, which is addressFirst
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	v, d, s := int64(0), c.opText(0), c.cs(regs[0].String())
	if m.Off == isa.OffImm {
		v = m.Imm
	}
	st := []string{c.stmt("mov", d, c.baseText())}
	if v < 0 && v > -256 {
		st = append(st, c.stmt(c.mn("mov"), s, "#"+c.num(-v)), c.negate(s))
	} else {
		st = append(st, c.loadConst(s, v, c.offsetText(), false))
	}
	c.detour("access with the offset in "+s+" and the base in "+d, 0, regs, saved, append(st, c.stmt(c.name, d, c.mem(d, s)))...)
}

// addressFirst computes an address that no offset reaches into a register: the
// destination of a load, else a scratch register. From the stack pointer and
// the high registers that is the only way.
func addressFirst(c *rewriting) {
	m, load, ok := c.access()
	if !ok || m.Reg == isa.PC {
		return
	}
	v, text, base := m.Imm, c.offsetText(), c.baseText()
	if m.Off == isa.OffNone {
		v = 0
	}
	data, dt := c.ops[0].Reg, c.opText(0)
	if v < -1<<31 || v >= 1<<32 || data > 14 || data == isa.SP {
		return
	}
	var regs []isa.Reg
	var saved isa.RegList
	t, value := c.ops[0], dt // where the address goes, and the value
	if !load || data > 7 {
		n := 1
		if !load && data > 7 {
			n = 2
		}
		if regs, saved, ok = c.scratch(n, 0); ok {
			t = regOp(regs[0])
			if data > 7 {
				value = c.cs(regs[n-1].String())
			}
		}
	}
	tt := dt
	if regs != nil {
		tt = c.cs(regs[0].String())
	}
	vo := c.ops[0]
	if data > 7 && regs != nil {
		vo = regOp(regs[len(regs)-1])
	}
	at := func(n int64) (isa.Operand, string) {
		if n == 0 {
			return isa.Operand{Kind: isa.OpMem, Reg: t.Reg}, c.mem(tt, "")
		}
		return isa.Operand{Kind: isa.OpMem, Off: isa.OffImm, Reg: t.Reg, Imm: n, Known: true}, c.mem(tt, "#"+c.num(n))
	}
	fits := func(n int64) bool {
		o, _ := at(n)
		_, ok := c.matches(c.name, vo, o)
		return ok
	}
	emit := func(rest int64, address ...string) {
		_, mem := at(rest)
		st := address
		if data > 7 && !load {
			st = append(st, c.stmt("mov", value, dt))
		}
		st = append(st, c.stmt(c.name, value, mem))
		if data > 7 && load {
			st = append(st, c.stmt("mov", dt, value))
		}
		title := "compute the address in " + tt + " first"
		if regs == nil {
			c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
			return
		}
		c.detour(title, 0, regs, saved, st...)
	}
	op, n := "add", v
	if v < 0 {
		op, n = "sub", -v
	}
	if ok && fits(0) {
		most := int64(0)
		for most < 124 && fits(most+4) {
			most += 4
		}
		switch {
		case m.Reg == isa.SP && v >= 0 && v <= 1020 && fits(v&3):
			emit(v&3, c.stmt("add", tt, base, "#"+c.num(v&^3)))
		case m.Reg == isa.SP && v > 1020 && v-1020 <= most && fits(v-1020):
			emit(v-1020, c.stmt("add", tt, base, "#"+c.num(1020)))
		case m.Reg > 7:
			emit(0, c.loadConst(tt, v, text, false), c.stmt("add", tt, base))
			if v >= 0 && v < 256 && c.r.DeadFlags(c.it, isa.NZ) != isa.NZ {
				emit(0, c.loadConst(tt, v, text, true), c.stmt("add", tt, base))
			}
		case n > 0 && n < 8 && m.Reg != t.Reg:
			emit(0, c.stmt(c.mn(op), tt, base, "#"+c.num(n)))
		case n > 0 && n < 256 && m.Reg == t.Reg:
			emit(0, c.stmt(c.mn(op), tt, "#"+c.num(n)))
		case v > 255 && v <= 255+most && m.Reg == t.Reg && fits(most):
			emit(most, c.stmt(c.mn("add"), tt, "#"+c.num(v-most)))
		}
	}
	// There and back leaves no scratch register behind.
	back := map[string]string{"add": "sub", "sub": "add"}[op]
	if !load && n > 0 && n < 256 && m.Reg < 8 && data < 8 && data != m.Reg {
		t, tt, vo = regOp(m.Reg), base, c.ops[0]
		if fits(0) {
			_, mem := at(0)
			c.add(candidate{title: "step " + base + " there and back", safe: true,
				edits: c.replace(c.stmt(c.mn(op), base, "#"+c.num(n)), c.stmt(c.name, dt, mem), c.stmt(c.mn(back), base, "#"+c.num(n)))})
		}
	}
}

// negate writes the negation of a low register in place.
func (c *rewriting) negate(reg string) string {
	if c.env.Unified {
		return c.stmt("rsbs", reg, reg, "#0")
	}
	return c.stmt("neg", reg, reg)
}

func extendAfter(c *rewriting) {
	m, _, ok := c.access()
	if !ok || !lowReg(&c.ops[0]) || m.Reg > 14 {
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
	d, mem := c.opText(0), c.opText(1)
	var st []string
	o := c.ops[1]
	if m.Reg > 7 {
		// The destination carries the base.
		st = []string{c.stmt("mov", d, c.baseText())}
		o.Reg, mem = c.ops[0].Reg, "["+d+"]"
		if o.Off == isa.OffImm {
			mem = c.mem(d, "#"+c.offsetText())
		}
		if rest := m.Imm & 3; m.Reg == isa.SP && m.Off == isa.OffImm && m.Imm > 3 && m.Imm <= 1023 {
			st = []string{c.stmt("add", d, c.baseText(), "#"+c.num(m.Imm-rest))}
			o.Imm, mem = rest, c.mem(d, "#"+c.num(rest))
		}
	}
	if _, ok := c.matches(plain, c.ops[0], o); !ok {
		if m.Reg < 8 || m.Off != isa.OffImm || m.Imm < -1<<31 || m.Imm >= 1<<32 {
			return
		}
		st = []string{c.loadConst(d, m.Imm, c.offsetText(), false), c.stmt("add", d, c.baseText())}
		mem = "[" + d + "]"
	}
	st = append(st, c.stmt(plain, d, mem))
	if _, ok := c.matches(ext, c.ops[0], c.ops[0]); ok {
		c.add(candidate{title: "load unsigned, then sign-extend by " + ext, safe: true, edits: c.replace(append(st, c.stmt(ext, d, d))...)})
		return
	}
	c.add(candidate{title: "load unsigned, then sign-extend by two shifts", safe: true,
		edits: c.replace(append(st, c.stmt(c.mn("lsl"), d, d, "#"+n), c.stmt(c.mn("asr"), d, d, "#"+n))...)})
}

// viaLow puts low registers in the place of the high ones: copied in when
// they are read, copied back when they are written.
func viaLow(c *rewriting) {
	if c.env.Mode == isa.A {
		return
	}
	var high []isa.Reg
	seen := isa.RegList(0)
	note := func(r isa.Reg) {
		if r > 7 && r < 16 && !seen.Has(r) {
			seen |= flow.RegBit(r)
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
				off := ""
				switch o.Off {
				case isa.OffImm:
					off = "#" + c.offsetText()
				case isa.OffReg:
					off = c.offsetText()
					if s, ok := sub[o.Index]; ok {
						o.Index = s
						off = c.cs(s.String())
					}
				}
				txt[i] = c.mem(b, off)
			}
		}
		name := mnemonic
		m, ok := c.matches(name, ops...)
		if !ok {
			// The low registers may have the flag-setting form only.
			if c.env.Unified && setsFlags(name+"s") {
				name += "s"
			} else if !c.env.Unified {
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
		st := append(append(pre, c.stmt(name, txt...)), post...)
		title := "go through " + c.cs(regs[0].String())
		if len(regs) > 1 {
			title += " and " + c.cs(regs[1].String())
		}
		if own {
			c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
			return true
		}
		c.detour(title, 0, regs, saved, st...)
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

// computeAside works in low registers that are not the statement's own: high
// sources are copied in, and the result is copied back, which changes no flag
// that the operation did not set itself.
func computeAside(c *rewriting) {
	if len(c.ops) != 3 && len(c.ops) != 2 {
		return
	}
	for i := range c.ops {
		if o := &c.ops[i]; o.Kind != isa.OpReg || o.WB || o.Reg > 14 || o.Reg == isa.SP {
			return
		}
	}
	b := c.base()
	switch b {
	case "add", "sub", "and", "orr", "eor", "bic", "adc", "sbc", "lsl", "lsr", "asr", "ror", "mul":
	default:
		return
	}
	d, n, m := c.ops[0].Reg, c.ops[len(c.ops)-2].Reg, c.ops[len(c.ops)-1].Reg
	dt, nt, mt := c.opText(0), c.opText(len(c.ops)-2), c.opText(len(c.ops)-1)
	if d == m && n != d && commutes[b] {
		n, m, nt, mt = m, n, mt, nt
	}
	own := d < 8 && d != m // the destination itself can hold the value
	need := 0
	if !own {
		need++
	}
	if m > 7 {
		need++
	}
	if need == 0 {
		return // two-operand does it
	}
	regs, saved, ok := c.scratch(need, 0)
	if !ok {
		return
	}
	t, tt := d, dt
	if !own {
		t, tt = regs[0], c.cs(regs[0].String())
	}
	u, ut := m, mt
	if m > 7 {
		u, ut = regs[need-1], c.cs(regs[need-1].String())
	}
	ops, txt := []isa.Operand{regOp(t), regOp(u)}, []string{tt, ut}
	if b == "add" || b == "sub" {
		ops, txt = []isa.Operand{regOp(t), regOp(t), regOp(u)}, []string{tt, tt, ut}
	}
	name, keeps, ok := c.spelled(b, ops...)
	if !ok {
		return
	}
	reads := b == "adc" || b == "sbc"
	var st []string
	if u != m {
		st = append(st, c.stmt("mov", ut, mt))
	}
	switch {
	case t == n:
	case n > 7:
		st = append(st, c.stmt("mov", tt, nt))
	default:
		st = append(st, c.copyBefore(tt, nt, reads))
	}
	st = append(st, c.stmt(name, txt...))
	switch {
	case t == d:
	case d > 7:
		st = append(st, c.stmt("mov", dt, tt))
	case c.env.Unified:
		st = append(st, c.stmt("movs", dt, tt))
	default:
		st = append(st, c.stmt("lsl", dt, tt, "#0"))
	}
	title := "compute in " + tt
	if u != m {
		title += ", with " + mt + " copied to " + ut
	}
	c.detour(title, keeps, regs, saved, st...)
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
	if !c.env.Unified {
		return c.matches(strings.TrimSuffix(mn, "s"), ops...)
	}
	if !setsFlags(mn + "s") {
		return isa.Match{}, false
	}
	return c.matches(mn+"s", ops...)
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
	if c.env.Unified && !strings.HasSuffix(strings.ToLower(mn), "s") {
		mn = c.cs(b + "s")
	} else if !c.env.Unified {
		mn = c.cs(b)
	}
	if d.Reg == y.Reg {
		if !commutes[b] {
			return
		}
		if _, ok := c.matches(mn, d, x); ok {
			c.add(candidate{title: "exchange the operands", safe: true, edits: c.replace(c.stmt(mn, c.opText(0), c.opText(1)))})
		}
		return
	}
	m, ok := c.matches(mn, d, y)
	if !ok {
		return
	}
	stmts := []string{c.stmt(mn, c.opText(0), c.opText(2))}
	if d.Reg != x.Reg {
		cp := c.copyBefore(c.opText(0), c.opText(1), m.Effects().FlagsRead != 0)
		stmts = append([]string{cp}, stmts...)
	}
	c.add(candidate{title: "copy " + c.opText(1) + " to " + c.opText(0) + ", then use two operands", safe: true, edits: c.replace(stmts...)})
}

func stepBase(c *rewriting) {
	if c.listStep() {
		return
	}
	if len(c.ops) != 2 || !lowReg(&c.ops[0]) || c.ops[1].Kind != isa.OpMem {
		return
	}
	m := c.ops[1]
	byReg := m.Off == isa.OffReg
	if !m.WB && !m.Post || !byReg && (m.Off != isa.OffImm || !m.Known) || m.Reg > 7 || m.Reg == c.ops[0].Reg {
		return
	}
	b := strings.ToLower(c.name)
	load := strings.HasPrefix(b, "ldr")
	base, data := c.baseText(), c.opText(0)
	if m.Post && m.Imm == 4 && !byReg && (b == "ldr" || b == "str") {
		mult := map[string]string{"ldr": "ldmia", "str": "stmia"}[b]
		c.add(candidate{title: "use " + c.cs(mult) + ", which steps by 4", safe: true,
			edits: c.replace(c.stmt(mult, base+"!", "{"+data+"}"))})
	}
	op, n := "add", m.Imm
	if n < 0 || byReg && m.Minus {
		op, n = "sub", -n
	}
	var step string
	switch {
	case byReg && (m.Index > 7 || load && m.Post && m.Index == c.ops[0].Reg):
		return // no sum with the flags, or the load overwrites the step
	case byReg:
		step = c.stmt(c.mn(op), base, base, c.stepText())
	case n > 255:
		return
	default:
		step = c.stmt(c.mn(op), base, "#"+c.num(n))
	}
	plain := isa.Operand{Kind: isa.OpMem, Reg: m.Reg}
	st := []string{c.stmt(c.name, data, "["+base+"]")}
	if _, ok := c.matches(c.name, c.ops[0], plain); !ok {
		// A signed load has a register offset only: the destination is 0.
		plain.Off, plain.Index = isa.OffReg, c.ops[0].Reg
		if _, ok := c.matches(c.name, c.ops[0], plain); !ok || !load {
			return
		}
		st = []string{c.stmt(c.mn("mov"), data, "#0"), c.stmt(c.name, data, c.mem(base, data))}
	}
	if m.Post {
		st = append(st, step)
	} else {
		st = append([]string{step}, st...)
	}
	c.add(candidate{title: "step " + base + " in a separate instruction", safe: true, edits: c.replace(st...)})
}

// listStep gives a multiple access of T16 the '!' that it has to have, and takes the
// step back where the base register is still needed. It says whether the line is one.
func (c *rewriting) listStep() bool {
	if len(c.ops) != 2 || !lowReg(&c.ops[0]) || c.ops[1].Kind != isa.OpList {
		return false
	}
	base := c.opText(0)
	with := c.ops[0]
	with.WB = true
	if _, ok := c.matches(c.name, with, c.ops[1]); !ok {
		return true
	}
	st := []string{c.stmt(c.name, base+"!", c.opText(1))}
	if c.r.DeadRegs(c.it, flow.RegBit(with.Reg)) != 0 {
		c.add(candidate{title: "put the '!' after " + base + ", which is dead here", safe: true, edits: c.replace(st...)})
		return true
	}
	n := int64(4 * c.ops[1].List.Count())
	c.add(candidate{title: "step " + base + " and back by " + c.num(n), safe: true, edits: c.replace(st[0], c.stmt(c.mn("sub"), base, "#"+c.num(n)))})
	c.add(candidate{title: "put the '!' after " + base, notes: []string{"steps " + base + " by " + c.num(n)}, late: 4, edits: c.replace(st...)})
	return true
}

// stepText is the offset register behind or in the brackets, without sign.
func (c *rewriting) stepText() string {
	t := c.opText(1)
	if i := strings.LastIndexByte(t, ','); i >= 0 {
		return strings.Trim(t[i+1:], " \t]!-+")
	}
	return ""
}

// CondSplit reads a name as operation and condition; the flag letter may
// stand before or behind the condition.
func CondSplit(name string) (base string, cond isa.Cond, ok bool) {
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

// setsFlags says whether a name ends in the flag letter: LDRHS does not, it is LDR
// on the condition HS.
func setsFlags(name string) bool {
	m, _ := isa.Find(name)
	if m == nil {
		return false
	}
	_, sets, _ := m.Operation()
	return sets
}

func skipBranch(c *rewriting) {
	base, cond, ok := CondSplit(strings.ToLower(c.name))
	if !ok {
		return
	}
	_, fits := c.matches(base, c.ops...)
	if !fits && c.env.Unified && setsFlags(base+"s") {
		base += "s"
		_, fits = c.matches(base, c.ops...)
	} else if !fits {
		base = strings.TrimSuffix(base, "s")
		_, fits = c.matches(base, c.ops...)
	}
	if !fits {
		return
	}
	var txt []string
	for i := range c.ops {
		txt = append(txt, c.opText(i))
	}
	l := c.freeLocal()
	c.add(candidate{title: "branch around it on " + strings.ToUpper(cond.Invert().String()), safe: true,
		edits: c.replace(c.stmt("b"+cond.Invert().String(), c.ahead(l)), c.stmt(base, txt...), c.labelled(l))})
}

func flagSpelling(c *rewriting) {
	n := strings.ToLower(c.name)
	if m := c.it.Stmt.Mnem; c.env.Mode == isa.A && m != nil {
		other := m.OtherOrder(c.env.Unified)
		if _, ok := c.matches(other, c.ops...); ok && other != n {
			c.add(candidate{title: "write " + c.cs(other), safe: true, edits: []finding.Edit{c.rename(c.cs(other))}})
		}
		return
	}
	if rest := strings.TrimSuffix(n, ".n"); true {
		other := rest + "s"
		if strings.HasSuffix(rest, "s") {
			other = rest[:len(rest)-1]
		}
		if _, ok := c.matches(other, c.ops...); !ok || len(other) > len(rest) && !setsFlags(other) {
			return
		}
		c.add(candidate{title: "write " + c.cs(other), safe: true, edits: []finding.Edit{c.rename(c.cs(other) + c.name[len(rest):])}})
	}
}

// targetValue evaluates the operand that names an address.
func (c *rewriting) targetValue() (i int, v program.Value, ok bool) {
	for i := range c.it.Stmt.Ops {
		o := &c.it.Stmt.Ops[i]
		if o.Kind == isa.OpExpr && c.ops[i].Kind == isa.OpExpr && (o.Word != "" || o.Expr != nil) {
			return i, c.r.Value(o, c.it), true
		}
	}
	return 0, program.Value{}, false
}

func poolCopy(c *rewriting) {
	if strings.ToLower(c.name) != "ldr" {
		return
	}
	_, v, ok := c.targetValue()
	if !ok {
		return
	}
	d, arg := c.r.WordAt(v)
	if d == nil || arg.IsStr || c.r.stored(v) {
		return
	}
	text := c.r.LineText(d)[arg.Start:arg.End]
	if arg.Expr != nil && strings.Contains(text, ".") && arg.Expr.Op != syntax.ExprSym {
		return // hangs on its place
	}
	c.addWithPool(candidate{title: "load " + text + " from the literal pool",
		edits: c.replace(c.stmt(c.name, c.opText(0), "="+text)), notes: []string{"a copy that does not follow later changes of the word"}})
}

// addWithPool adds a candidate that loads from the literal pool, and, where
// the pool that there is stands too far away, one that places another.
func (c *rewriting) addWithPool(k candidate) {
	c.add(k)
	if title, e := c.placePool(); e != nil {
		k.title += "; " + title
		k.edits = append(append([]finding.Edit{}, k.edits...), e...)
		k.fallback = true
		c.add(k)
	}
}

// stored says whether some store may change the word: it stands in a section
// for data.
func (r *Subject) stored(v program.Value) bool {
	return v.Kind != program.Address || strings.HasPrefix(r.Secs[v.Sec].Name, ".data") || strings.HasPrefix(r.Secs[v.Sec].Name, ".bss")
}

func poolAddress(c *rewriting) {
	i, v, ok := c.targetValue()
	if !ok || v.Kind == program.Number {
		return
	}
	text := c.opText(i)
	d := c.opText(0)
	switch strings.ToLower(c.name) {
	case "adr":
		if c.env.Mode == isa.A {
			c.add(candidate{title: "take the address of " + text + " in two steps by " + c.cs("adrl"), safe: true, edits: c.replace(c.stmt("adrl", d, text))})
		}
		c.addWithPool(candidate{title: "take the address of " + text + " from the literal pool", safe: !(v.Sym != nil && (v.Sym.Fn || v.Sym.Auto)),
			edits: c.replace(c.stmt("ldr", d, "="+text))})
	case "ldr":
		var notes []string
		if c.d.Code == finding.CodeLitAlign {
			notes = []string{"misaligned"}
		}
		c.addWithPool(candidate{title: "take the address of " + text + " from the literal pool, then load", safe: notes == nil, notes: notes,
			edits: c.replace(c.stmt(c.name, d, "="+text), c.stmt(c.name, d, "["+d+"]"))})
	}
}

// insertPool places a literal pool within reach of the load.
func insertPool(c *rewriting) {
	if c.it.Lit < 0 {
		return
	}
	if title, e := c.placePool(); e != nil {
		c.add(candidate{title: title, safe: true, edits: e})
	}
}

// placePool is the edit that places a pool at the last point within reach of
// the statement that execution never falls into, or right behind it with a
// branch around.
func (c *rewriting) placePool() (title string, edits []finding.Edit) {
	if c.it.File != 0 {
		return "", nil
	}
	o := c.r.Order[c.it.Sec]
	best := int32(-1)
	reach := c.it.Off + 1000
	if c.wide() {
		reach = c.it.Off + 4000
	}
	for k := c.r.Position(c.it); k < len(o); k++ {
		it := &c.r.Items[o[k]]
		if it.Off+it.Size > reach {
			break
		}
		if it.File == 0 && it.Stmt.Kind == syntax.Instruction && flow.NextOf(c.r.Program, it) == flow.Stops && c.lastInLine(it) {
			best = it.Id
		}
	}
	directive := c.poolDirective()
	if best >= 0 {
		it := &c.r.Items[best]
		return fmt.Sprintf("place a literal pool after line %d", it.Line+1),
			[]finding.Edit{c.insertAfter(int(it.Line), c.lineIndent(int(it.Line))+directive)}
	}
	if !c.lastInLine(c.it) {
		return "", nil
	}
	l := c.freeLocal()
	in := c.indent()
	return "branch over a literal pool placed here",
		[]finding.Edit{c.insertAfter(int(c.it.Line), in+c.stmt("b", c.ahead(l))+c.eol()+in+directive+c.eol()+c.labelled(l))}
}

// lastInLine says whether a new line can follow the item's statement at once:
// it is the last of its line, and no comment goes on.
func (c *rewriting) lastInLine(it *program.Item) bool {
	l := c.r.File.Line(int(it.Line))
	for i := range l.Stmts {
		if l.Stmts[i].Start > it.Stmt.Start {
			return false
		}
	}
	rest := l.Text[it.Stmt.End:]
	i := strings.LastIndex(rest, "/*")
	return i < 0 || strings.Contains(rest[i:], "*/")
}

// lineIndent is the white space that a further line next to line n gets.
func (c *rewriting) lineIndent(n int) string {
	l := c.r.File.Line(n)
	t := l.Text
	k := len(t) - len(strings.TrimLeft(t, " \t"))
	if k == 0 && (len(l.Stmts) > 1 || c.columns()) {
		return c.indent()
	}
	return t[:k]
}

func invertBranch(c *rewriting) {
	n := strings.ToLower(c.name)
	if other := map[string]string{"cbz": "cbnz", "cbnz": "cbz"}[n]; other != "" && len(c.ops) == 2 && !c.inBlock() {
		l := c.freeLocal()
		c.add(candidate{title: "branch around a far branch by " + c.cs(other), safe: true, late: 1,
			edits: c.replace(c.stmt(other, c.opText(0), c.ahead(l)), c.stmt("b", c.opText(1)), c.labelled(l))})
		return
	}
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
	if d := v.N - c.it.Off - 6; !c.wide() && v.Kind == program.Address && (d > 2046-4 || d < -2048) {
		far, note = "bl", []string{"changes lr"}
	}
	l := c.freeLocal()
	e := c.replace(c.stmt("b"+cond.Invert().String(), c.ahead(l)), c.stmt(far, c.opText(i)), c.labelled(l))
	c.add(candidate{title: "branch around a far branch on " + strings.ToUpper(cond.Invert().String()), safe: note == nil, notes: note, edits: e})
}

func farCall(c *rewriting) {
	if strings.ToLower(c.name) != "b" {
		return
	}
	if i, _, ok := c.targetValue(); ok {
		c.add(candidate{title: "branch by " + c.cs("bl"), notes: []string{"changes lr"}, edits: c.replace(c.stmt("bl", c.opText(i)))})
	}
}

func callExchange(c *rewriting) {
	if i, _, ok := c.targetValue(); ok && strings.EqualFold(c.name, "bl") {
		c.add(candidate{title: "write " + c.cs("blx"), safe: c.comesBackByExchange(), edits: c.replace(c.stmt("blx", c.opText(i)))})
	}
}

// comesBackByExchange says whether the routine that a call names comes back by what
// changes the state: BX, or a load of PC. A move to PC stays in the routine's state
// before ARMv7 (DDI 0406, "BXWritePC").
func (c *rewriting) comesBackByExchange() bool {
	w := flow.Walker{R: &c.r.Paths, Sec: c.it.Sec}
	k, ok := w.Target(c.it)
	if !ok {
		return false
	}
	for o := c.r.Order[c.it.Sec]; k < len(o); k++ {
		it := &c.r.Items[o[k]]
		if it.Stmt.Kind != syntax.Instruction || it.Stmt.Mnem == nil {
			continue
		}
		if leaves, back, runsOn := c.r.EvidentFlow(it); leaves != isa.FlowNext && leaves != isa.FlowCall && !runsOn {
			op, _, _ := it.Stmt.Mnem.Operation()
			return back && op != "mov"
		}
	}
	return false
}

func evenTarget(c *rewriting) {
	i, _, ok := c.targetValue()
	if !ok {
		return
	}
	if e, rest, ok := c.lessOne(&c.it.Stmt.Ops[i]); ok {
		c.add(candidate{title: "branch to " + rest, safe: true, edits: []finding.Edit{e}})
	}
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
	one := func(l isa.RegList) string { return c.stmt(c.name, c.cs(l.String())) }
	// The low ones are pushed last and popped first: only a register that is
	// dead and not among them can carry.
	s := isa.NoReg
	if dead := c.r.DeadRegs(c.it, 0xff&^low); dead != 0 {
		for s = 0; !dead.Has(s); s++ {
		}
	}
	if s == isa.NoReg {
		c.listByStores(n, one, low, high, last)
		return
	}
	t := c.cs(s.String())
	var st []string
	if n == "push" {
		if list.Has(last) {
			st = append(st, one(flow.RegBit(last)))
		}
		for i := len(high) - 1; i >= 0; i-- {
			st = append(st, c.stmt("mov", t, c.cs(high[i].String())), one(flow.RegBit(s)))
		}
		if low != 0 {
			st = append(st, one(low))
		}
	} else {
		if low != 0 {
			st = append(st, one(low))
		}
		for _, h := range high {
			st = append(st, one(flow.RegBit(s)), c.stmt("mov", c.cs(h.String()), t))
		}
		if list.Has(last) {
			st = append(st, one(flow.RegBit(last)))
		}
	}
	c.detour(n+" the high registers through "+t, 0, []isa.Reg{s}, 0, st...)
}

// listByStores moves the high registers of a push or pop by stores and loads
// into room made for them, through a low register that the list itself saves.
func (c *rewriting) listByStores(n string, one func(isa.RegList) string, low isa.RegList, high []isa.Reg, last isa.Reg) {
	saves := low
	if saves == 0 {
		saves = 1 << 7
	}
	t := isa.Reg(bits.TrailingZeros16(uint16(saves)))
	tt, sp := c.cs(t.String()), c.cs("sp")
	slot := func(i int) string {
		return c.mem(sp, "#"+strconv.Itoa(4*(saves.Count()+i)))
	}
	var st []string
	room := "#" + strconv.Itoa(4*len(high))
	has := c.ops[0].List.Has(last)
	if n == "push" {
		if has {
			st = append(st, one(flow.RegBit(last)))
		}
		st = append(st, c.stmt("sub", sp, room), one(saves))
		for i, h := range high {
			st = append(st, c.stmt("mov", tt, c.cs(h.String())), c.stmt("str", tt, slot(i)))
		}
		if low == 0 {
			st = append(st, c.stmt("pop", c.cs(saves.String())))
		} else {
			st = append(st, c.stmt("ldr", tt, "["+sp+"]"))
		}
	} else {
		if low == 0 {
			st = append(st, c.stmt("push", c.cs(saves.String())))
		}
		for i, h := range high {
			st = append(st, c.stmt("ldr", tt, slot(i)), c.stmt("mov", c.cs(h.String()), tt))
		}
		st = append(st, c.stmt("pop", c.cs(saves.String())), c.stmt("add", sp, room))
		if has {
			st = append(st, one(flow.RegBit(last)))
		}
	}
	c.add(candidate{title: n + " the high registers through " + tt + " into room made for them", safe: true, edits: c.replace(st...)})
}

// callThrough makes of BLX, which came with ARMv5T, a BL to a BX of its own:
// BL leaves the return address in lr with bit 0 set, as BLX would. The BX
// stands behind the next instruction that never goes on. (Common practice.)
func callThrough(c *rewriting) {
	if strings.ToLower(c.name) != "blx" || len(c.ops) != 1 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg >= isa.LR || c.it.File != 0 {
		return
	}
	o := c.r.Order[c.it.Sec]
	for k := c.r.Position(c.it) + 1; k < len(o); k++ {
		it := &c.r.Items[o[k]]
		if it.File != 0 || it.Stmt.Kind != syntax.Instruction || flow.NextOf(c.r.Program, it) != flow.Stops || !c.lastInLine(it) {
			continue
		}
		l := c.freeLocal()
		gap := "\t"
		if in := c.indent(); in != "" && len(l)+1 < len(in) && strings.Trim(in, " ") == "" {
			gap = in[len(l)+1:]
		}
		e := c.replace(c.stmt("bl", c.ahead(l)))
		c.add(candidate{title: fmt.Sprintf("call through a BX after line %d", it.Line+1), safe: true,
			edits: append(e, c.insertAfter(int(it.Line), c.labelled(l)+gap+c.stmt("bx", c.opText(0))))})
		return
	}
}

func nearName(c *rewriting) {
	s := c.it.Stmt
	start := c.r.File.LineStart(int(c.it.Line))
	var names []string
	from, to := s.Start, s.NameEnd
	switch c.d.Code {
	case finding.CodeNoForm:
		c.missingType()
		return
	case finding.CodeUnknownDir:
		names = wording.NearDirectives(s.Name)
	case finding.CodeMnemonic:
		names = wording.NamesNear(c.r.Program, s.Name)
	default:
		from, to = int32(c.d.Span.Start-start), int32(c.d.Span.End-start)
		if int(to) > len(c.line) || from < 0 {
			return
		}
		have := c.line[from:to]
		// Names differ in case, and are near in spite of it.
		byLower := map[string]string{}
		var all []string
		c.r.Defined(func(n string) {
			if low := strings.ToLower(n); n != have && (byLower[low] == "" || n < byLower[low]) {
				byLower[low] = n
			}
		})
		for low := range byLower {
			all = append(all, low)
		}
		sort.Strings(all)
		for _, low := range finding.Near(have, all) {
			if len(names) < 3 {
				names = append(names, byLower[low])
			}
		}
	}
	for _, n := range names {
		e := finding.Edit{Span: finding.Span{Start: start + int(from), End: start + int(to)}, New: n}
		if c.d.Code == finding.CodeMnemonic {
			n = c.cs(n)
			e = c.rename(n)
		}
		c.add(candidate{title: "write " + n, named: true, edits: []finding.Edit{e}})
	}
}

// missingType writes the type behind a name of floating point, where one alone fits.
func (c *rewriting) missingType() {
	if c.it.Stmt.Mnem == nil || !c.it.Stmt.Mnem.Vector() || strings.Contains(c.name, ".") {
		return
	}
	fits := ""
	for _, t := range []string{".f32", ".f64"} {
		if _, ok := c.matches(c.name+t, c.ops...); ok {
			if fits != "" {
				return
			}
			fits = c.name + c.cs(t)
		}
	}
	if fits != "" {
		c.add(candidate{title: "write " + fits, safe: true, edits: []finding.Edit{c.rename(fits)}})
	}
}

// alignHere puts an alignment before the label, or before the line when no
// label stands in front.
func alignHere(c *rewriting) {
	line := int(c.it.Line)
	f := c.r.File
	n := "2"
	switch c.d.Code {
	case finding.CodeCodeAlign:
		if c.env.Mode == isa.T && c.it.Off%2 != 0 {
			n = "1"
		}
	case finding.CodeDataAlign:
		if c.it.Stmt.Kind == syntax.Directive && c.it.Stmt.Dir.Unit == 2 {
			n = "1"
		}
	case finding.CodeLitAlign:
		_, v, ok := c.targetValue()
		if !ok || v.Kind != program.Address || v.Sym == nil || v.Sym.Item < 0 || v.N != v.Sym.Val.N {
			return
		}
		d := &c.r.Items[v.Sym.Item]
		if d.File != 0 {
			return
		}
		line = int(d.Line)
	}
	// Labels on lines of their own belong to what follows.
	for line > 0 && c.d.Code != finding.CodeLitAlign {
		l := f.Line(line - 1)
		if len(l.Stmts) == 1 && l.Stmts[0].Kind == syntax.Label {
			line--
			continue
		}
		break
	}
	in := c.r.directiveIndent(line)
	align := c.alignDirective(n)
	c.add(candidate{title: "align with " + align, safe: true, edits: []finding.Edit{c.insertBefore(line, in+align)}})
}

// directiveIndent is the white space in front of statements near a line.
func (r *Subject) directiveIndent(line int) string {
	f := r.File
	for d := 0; d < 40; d++ {
		for _, i := range []int{line + d, line - d} {
			if i < 0 || i >= f.NumLines() {
				continue
			}
			l := f.Line(i)
			if len(l.Stmts) > 0 && l.Stmts[0].Kind != syntax.Label && strings.TrimSpace(l.Text[:l.Stmts[0].Start]) == "" {
				return l.Text[:l.Stmts[0].Start]
			}
		}
	}
	return "\t"
}

// setStateBit adds 1 to an address of T16 code. Where the address has its 1 and a line
// below adds another, the first is one too many.
func setStateBit(c *rewriting) {
	o, text := c.address(finding.WantsSet)
	switch {
	case o == nil:
	case c.d.Odd && c.d.Added == 1:
		if e, rest, ok := c.lessOne(o); ok {
			c.add(candidate{title: "leave out the 1 that is added below, too: write \"" + rest + "\"", edits: []finding.Edit{e}})
		}
	case c.d.Odd:
		// What the lines below do to it is wrong, not the address.
	case strings.EqualFold(c.name, "adr") && c.env.Mode == isa.T:
		c.add(candidate{title: "add 1 to the address", safe: !c.d.Shared,
			edits: c.replace(c.line[c.it.Stmt.Start:c.it.Stmt.End], c.stmt(c.mn("add"), c.opText(0), "#1"))})
	default:
		end := c.d.Span.End
		c.add(candidate{title: "set bit 0: write \"" + text + "+1\"", safe: !c.d.Shared, edits: []finding.Edit{{Span: finding.Span{Start: end, End: end}, New: "+1"}}})
	}
}

// clearStateBit takes out the 1 in an address of A32 code.
func clearStateBit(c *rewriting) {
	o, _ := c.address(finding.WantsClear)
	if o == nil || !c.d.Odd {
		return
	}
	if e, rest, ok := c.lessOne(o); ok {
		c.add(candidate{title: "clear bit 0: write \"" + rest + "\"", safe: !c.d.Shared, edits: []finding.Edit{e}})
	}
}

// address is the operand, and its text, with the address that a finding about bit 0 is
// about; nil where the finding wants something else of it.
func (c *rewriting) address(want finding.StateBit) (o *syntax.Operand, text string) {
	if c.d.Bit != want {
		return nil, ""
	}
	start := c.r.File.LineStart(int(c.it.Line))
	for i := range c.it.Stmt.Ops {
		if o = &c.it.Stmt.Ops[i]; start+int(o.Start) == c.d.Span.Start && start+int(o.End) == c.d.Span.End {
			return o, c.opText(i)
		}
	}
	return nil, ""
}

// lessOne is the edit that takes a 1 out of the sum that an operand is, and the
// operand's text then; ok is false where no 1 is written in it.
func (c *rewriting) lessOne(o *syntax.Operand) (e finding.Edit, rest string, ok bool) {
	sum := withOne(o.Expr)
	if sum == nil {
		return e, "", false
	}
	line := c.line[:o.Start] + syntax.Uncommented(c.line[o.Start:o.End])
	blank := func(at int32) bool { return at >= o.Start && at < o.End && strings.IndexByte(" \t", line[at]) >= 0 }
	from := sum.X.End
	for blank(from) || from < o.End && line[from] == ')' {
		from++
	}
	to := sum.End
	if isOne(sum.Y) {
		for blank(from - 1) {
			from--
		}
	} else { // the 1 is in front of the operator
		if to = from + 1; line[from] == ':' {
			to += int32(strings.IndexByte(line[to:], ':')) + 1
		}
		for from = sum.Start; blank(to); {
			to++
		}
	}
	start := c.r.File.LineStart(int(c.it.Line))
	e = finding.Edit{Span: finding.Span{Start: start + int(from), End: start + int(to)}, New: commentsIn(c.line[from:to])}
	return e, syntax.WithoutComments(c.line[o.Start:from] + c.line[to:o.End]), true
}

// withOne finds the sum in an expression in which one side is the number 1. Setting
// bit 0 counts as adding it.
func withOne(e *syntax.Expr) *syntax.Expr {
	switch {
	case e == nil || e.Op != syntax.ExprAdd && e.Op != syntax.ExprSub && e.Op != syntax.ExprOr:
		return nil
	case e.Op != syntax.ExprSub && (isOne(e.X) || isOne(e.Y)):
		return e
	}
	if s := withOne(e.X); s != nil || e.Op != syntax.ExprAdd {
		return s
	}
	return withOne(e.Y)
}

func isOne(e *syntax.Expr) bool { return e.Op == syntax.ExprNum && e.Val == 1 }

func markFunction(c *rewriting) {
	if strings.EqualFold(c.name, "adr") && c.env.Mode == isa.T || len(c.d.Related) < 2 {
		return
	}
	l := c.d.Related[1].Location
	if l.Path != c.r.Path || c.d.Bit != finding.WantsSet || c.columns() {
		return
	}
	line := c.r.File.LineAt(l.Span.Start)
	if len(c.r.File.Line(line).Stmts) == 0 {
		return
	}
	c.add(candidate{title: "mark the label by .thumb_func", safe: !c.d.Shared && !c.r.namedElsewhere(line, c.it), edits: []finding.Edit{c.insertBefore(line, c.r.directiveIndent(line)+".thumb_func")}})
}

// namedElsewhere says whether anything but the item and branches counts on the address
// of the label in a line of the root file: a mark changes it for all of them.
func (r *Subject) namedElsewhere(line int, but *program.Item) bool {
	name := ""
	for _, s := range r.File.Line(line).Stmts {
		if s.Kind == syntax.Label && name == "" {
			name = s.Name
		}
	}
	y := r.SymbolOf(name)
	if y == nil || y.Global {
		return true
	}
	for i := range r.Items {
		it := &r.Items[i]
		if it.Id == but.Id || it.Stmt.Kind == syntax.Label || it.Stmt.Mnem != nil && flow.NextOf(r.Program, it) != flow.GoesOn && len(it.Stmt.Ops) == 1 {
			continue
		}
		if text := r.LineText(it); int(it.Stmt.End) <= len(text) && flow.HasWord(text[it.Stmt.NameEnd:it.Stmt.End], name) {
			return true
		}
	}
	return false
}

func branchOverPool(c *rewriting) {
	if c.it.Flags&program.HasPool == 0 {
		return
	}
	l := c.freeLocal()
	line := int(c.it.Line)
	if len(c.r.File.Line(line).Stmts) != 1 {
		return
	}
	in := c.indent()
	c.add(candidate{title: "branch over the pool", safe: true, edits: []finding.Edit{
		c.insertBefore(line, in+c.cs("b")+" "+c.ahead(l)), c.insertAfter(line, c.labelled(l))}})
}

func addColon(c *rewriting) {
	for i := range c.r.Items {
		it := &c.r.Items[i]
		if it.File == 0 && it.Line == c.it.Line && it.Stmt.Kind == syntax.Label && it.Stmt.NoColon {
			at := c.r.File.LineStart(int(it.Line)) + int(it.Stmt.NameEnd)
			c.add(candidate{title: "add a colon after " + it.Stmt.Name, safe: true, edits: []finding.Edit{{Span: finding.Span{Start: at, End: at}, New: ":"}}})
			return
		}
	}
}
