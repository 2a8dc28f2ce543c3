package rewrite

import (
	"fmt"
	"math"
	"math/bits"
	"strings"

	"narrowgauge/isa"
)

// sumRewrites are the rewrites that add, subtract or mask in steps.
func sumRewrites() []Entry {
	return []Entry{
		{
			Name: "two-adds", Title: "Add, subtract or mask in two steps",
			Before: UnifiedThumb + "\tadds r0, #300\n\tbx lr\n",
			After:  UnifiedThumb + "\tadds r0, #255\n\tadds r0, #45\n\tbx lr\n",
			apply:  byWidth(twoAdds, (*rewriting).sumTwo),
		},
		{
			Name: "round-stack", Title: "Move the stack pointer by the next multiple of 4",
			Before: UnifiedThumb + "\tsub sp, #10\n\tbx lr\n",
			After:  UnifiedThumb + "\tsub sp, #12\n\tbx lr\n",
			apply:  roundStack,
		},
		{
			Name: "mask-field", Title: "Extract the field, or clear it",
			Before: ".arch armv7-m\n" + UnifiedThumb + "\tand r0, r1, #0x1fff\n\tbx lr\n",
			After:  ".arch armv7-m\n" + UnifiedThumb + "\tubfx r0, r1, #0, #13\n\tbx lr\n",
			apply:  maskField,
		},
		{
			Name: "move-then-add", Title: "Copy the register, then add with two operands",
			Before: UnifiedThumb + "\tadds r0, r1, #20\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, r1\n\tadds r0, #20\n\tbx lr\n",
			apply:  narrow(moveThenAdd),
		},
	}
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
	if n > math.MaxInt32 && n <= math.MaxUint32 {
		n -= 1 << 32 // a negative one, as a word
	}
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
			st = append(st, c.statement(op, d, "#"+c.number(min(n, 508))))
		}
		c.add(candidate{title: op + " in " + []string{2: "two", 3: "three", 4: "four"}[len(st)] + " steps of at most " + c.number(508), safe: true, edits: c.replace(st...)})
		return
	}
	if !lowReg(&c.ops[dest]) || !lowReg(&c.ops[src]) {
		return
	}
	// The last step's carry and overflow are not those of the whole sum.
	if c.ops[dest].Reg == c.ops[src].Reg {
		if n > 255 && n <= 510 {
			c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.number(255), c.number(n-255)), wrong: isa.C | isa.V, safe: true,
				edits: c.replace(c.statement(c.flagSetting(op), d, "#"+c.number(255)), c.statement(c.flagSetting(op), d, "#"+c.lessText(n, 255)))})
		}
		return
	}
	if n > 7 && n <= 7+255 {
		c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.number(7), c.number(n-7)), wrong: isa.C | isa.V, safe: true,
			edits: c.replace(c.statement(c.flagSetting(op), d, s, "#7"), c.statement(c.flagSetting(op), d, "#"+c.lessText(n, 7)))})
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
		return m.Imm, m.Kind == isa.OpMem && m.Reg == isa.SP && (m.Writeback || m.Post) && m.Off == isa.OffImm && m.Imm%4 != 0
	}
	return 0, false
}

// roundStack moves the stack pointer by the next multiple of 4: it has to stay one at
// all times (AAPCS32, "Universal stack constraints"). What takes the step back, and
// what is counted from it, is the author's to see to.
func roundStack(c *rewriting) {
	_, uneven := c.unevenStack()
	if _, src, op, n, ok := c.sum(); ok && uneven && c.ops[src].Reg == isa.SP {
		c.roundTo(op, (n+3)&^3)
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
	c.add(candidate{title: op + " " + c.number(n) + ", the next multiple of 4", edits: c.replace(c.statementOf(op, append(ops, "#"+c.number(n))...)),
		notes: []string{"change the step back to match"}})
}

func moveThenAdd(c *rewriting) {
	dest, src, op, n, ok := c.sum()
	if !ok || n > 255 || !lowReg(&c.ops[dest]) || c.ops[dest].Reg == c.ops[src].Reg {
		return
	}
	d, s := c.opText(dest), c.opText(src)
	cp := c.copyLow(d, s)
	if c.ops[src].Reg > 7 {
		cp = c.statement("mov", d, s)
	}
	c.add(candidate{title: fmt.Sprintf("copy %s to %s, then %s %s", s, d, op, c.number(n)), safe: true,
		edits: c.replace(cp, c.statement(c.flagSetting(op), d, "#"+c.constText(n)))})
}

// addConst writes dest = src + v in one or two steps; letter writes the flag letter
// of the last. Through sp both steps go the same way, as what an interrupt saves
// must not come to lie on what is in use.
func (c *rewriting) addConst(dest, src isa.Reg, dt, st string, v int64, letter func(string) string) (steps []string, title string, ok bool) {
	op, back, n := "add", "sub", v
	if v < 0 {
		op, back, n = "sub", "add", -v
	}
	if n >= 1<<32 || dest == isa.PC || src == isa.PC {
		return nil, "", false
	}
	d, s := regOp(dest), regOp(src)
	// In an IT block assemblers take a plain constant by another name only, see grownAdd.
	named := func(op string, n int64) string {
		if _, ok := c.environment.Mode.Constant(uint32(n)); !ok && c.item.Slot != 0 && c.environment.Mode == isa.T && !strings.HasSuffix(op, "s") {
			return op + "w"
		}
		return op
	}
	if op := named(letter(op), n); n != 0 && c.can(op, d, s, immOp(n)) {
		if strings.HasSuffix(op, "w") {
			title = "write " + c.mnemonic(op)
		}
		return []string{c.statementOf(op, dt, st, "#"+c.constText(n))}, title, true
	}
	two := func(x, y int64, op2 string) bool {
		first, last := named(op, x), named(letter(op2), y)
		if x == 0 || y == 0 || !c.can(first, d, s, immOp(x)) || !c.can(last, d, d, immOp(y)) {
			return false
		}
		steps = []string{c.statementOf(first, dt, st, "#"+c.number(x)), c.statementOf(last, dt, dt, "#"+c.number(y))}
		title = fmt.Sprintf("%s in two steps, %s and %s", op, c.number(x), c.number(y))
		if op2 != op {
			title = fmt.Sprintf("%s %s, then %s %s", op, c.number(x), op2, c.number(y))
		}
		return true
	}
	if two(n&^0xfff, n&0xfff, op) {
		return steps, title, true
	}
	if x, y, ok := c.environment.Mode.Sum(uint32(n)); ok && two(int64(x), int64(y), op) {
		return steps, title, true
	}
	if x, y, ok := c.environment.Mode.Difference(uint32(n)); ok && dest != isa.SP && two(int64(x), int64(y), back) {
		return steps, title, true
	}
	return nil, "", false
}

// plain writes no flag letter.
func plain(op string) string { return op }

// sumTwo is twoAdds for code of full width: sums, and the logical operations that
// can be done in two steps.
func (c *rewriting) sumTwo() {
	op, _, _ := c.operation()
	i, v, ok := c.constOp()
	if !ok || i != len(c.ops)-1 || i < 1 || i > 2 || v < -1<<31 || v >= 1<<32 || !c.plainRegs() {
		return
	}
	d, n := c.ops[0].Reg, c.ops[i-1].Reg
	dt, nt := c.opText(0), c.opText(i-1)
	if d == isa.PC || n == isa.PC {
		return
	}
	switch op {
	case "add", "sub", "addw", "subw":
		if op[:3] == "sub" {
			v = -v
		}
		if st, title, ok := c.addConst(d, n, dt, nt, v, c.letter); ok {
			if title == "" && len(op) == 3 {
				return // it is not the constant that is wrong
			} else if title == "" {
				title = "write " + c.inCase(op[:3])
			}
			// The last step's carry and overflow are not those of the whole sum.
			c.add(candidate{title: title, wrong: isa.C | isa.V, safe: true, edits: c.replace(st...)})
		}
		return
	case "orr", "eor", "bic", "and":
	default:
		return
	}
	u := uint32(v)
	if op == "and" {
		op, u = "bic", ^u
	}
	x, y, ok := c.environment.Mode.Sum(u)
	if !ok || !c.can(op, regOp(d), regOp(n), immOp(int64(x))) || !c.can(c.letter(op), regOp(d), regOp(d), immOp(int64(y))) {
		return
	}
	c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.number(int64(x)), c.number(int64(y))), safe: true,
		edits: c.replace(c.statementOf(op, dt, nt, c.hash(x)), c.statementOf(c.letter(op), dt, dt, c.hash(y)))})
}

// maskField masks by the instructions that extend, cut out or clear a field of bits.
func maskField(c *rewriting) {
	op, sets, _ := c.operation()
	i, v, ok := c.constOp()
	if !ok || sets || i != len(c.ops)-1 || i < 1 || i > 2 || op != "and" && op != "bic" || v < -1<<31 || v >= 1<<32 || !c.plainRegs() {
		return
	}
	d, n, u := c.ops[0], c.ops[i-1], uint32(v)
	dt, nt := c.opText(0), c.opText(i-1)
	if op == "bic" {
		u = ^u
	}
	clear := ^u
	lsb, width := bits.TrailingZeros32(clear), bits.OnesCount32(clear)
	switch keep := bits.OnesCount32(u); {
	case u == 0xffff && c.can("uxth", d, n):
		c.offer("write "+c.mnemonic("uxth"), c.statementOf("uxth", dt, nt))
	case u&(u+1) == 0 && u != 0 && c.can("ubfx", d, n, immOp(0), immOp(int64(keep))):
		c.offer(fmt.Sprintf("extract the lowest %d bits by %s", keep, c.mnemonic("ubfx")), c.statementOf("ubfx", dt, nt, "#0", fmt.Sprintf("#%d", keep)))
	case d.Reg == n.Reg && clear>>lsb == 1<<width-1 && c.can("bfc", d, immOp(int64(lsb)), immOp(int64(width))):
		c.offer(fmt.Sprintf("clear the %d bits by %s", width, c.mnemonic("bfc")), c.statementOf("bfc", dt, fmt.Sprintf("#%d", lsb), fmt.Sprintf("#%d", width)))
	}
}
