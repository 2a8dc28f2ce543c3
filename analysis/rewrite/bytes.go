package rewrite

import "strconv"

// What T16 does by shifts where later architectures, or T32 and A32, move bytes and fields
// by one instruction. What the sequences do is common practice.

// low writes an operation of T16 that sets flags, with the last operand a number if n is
// not negative.
func (c *rewriting) low(op string, n int64, ops ...string) string {
	if n >= 0 {
		ops = append(ops, "#"+strconv.FormatInt(n, 10))
	}
	return c.statement(c.flagSetting(op), ops...)
}

// cutOut writes the bits lsb up to lsb+width of s into d, from bit to on, and nothing else:
// each shift that changes something.
func (c *rewriting) cutOut(d, s string, lsb, width, to int64) (st []string) {
	step := func(op string, n int64) {
		if n > 0 {
			st, s = append(st, c.low(op, n, d, s)), d
		}
	}
	if to+width == 32 { // what is above goes by itself
		step("lsr", lsb)
		step("lsl", to)
		return st
	}
	step("lsl", 32-lsb-width)
	step("lsr", 32-width)
	step("lsl", to)
	return st
}

// narrowReverse exchanges bytes.
func (c *rewriting) narrowReverse(op string) {
	d, m := c.opText(0), c.opText(1)
	same := c.ops[0].Reg == c.ops[1].Reg
	need := 1
	if same && op != "revsh" {
		need = 2
	}
	if op == "rev16" {
		need = 2
	}
	regs, saved, ok := c.scratch(need, 0)
	if !ok {
		return
	}
	u, sum := c.scratchName(regs[0]), d
	if len(regs) > 1 && same {
		sum = c.scratchName(regs[1])
	}
	var st []string
	add := func(more ...string) { st = append(st, more...) }
	switch op {
	case "rev":
		add(c.low("lsr", 24, sum, m), c.low("lsl", 24, u, m), c.low("orr", -1, sum, u))
		add(append(c.cutOut(u, m, 16, 8, 8), c.low("orr", -1, sum, u))...)
		if same { // the last byte is taken from the register itself
			add(append(c.cutOut(m, m, 8, 8, 16), c.low("orr", -1, d, sum))...)
		} else {
			add(append(c.cutOut(u, m, 8, 8, 16), c.low("orr", -1, sum, u))...)
		}
	case "rev16":
		mask := c.scratchName(regs[1])
		add(c.statement("ldr", mask, "="+c.bits(0x00ff00ff)[1:]))
		add(c.low("lsr", 8, u, m), c.low("and", -1, u, mask))
		if !same {
			add(c.copyLow(d, m))
		}
		add(c.low("and", -1, d, mask), c.low("lsl", 8, d, d), c.low("orr", -1, d, u))
	default:
		add(c.low("lsl", 24, u, m), c.low("asr", 16, u, u))
		add(append(c.cutOut(d, m, 8, 8, 0), c.low("orr", -1, d, u))...)
	}
	c.detour("move the bytes by shifts", 0, regs, saved, st...)
}

// narrowField clears a field of bits, or puts other bits into it.
func (c *rewriting) narrowField(op string, lsb, width int64) {
	d := c.opText(0)
	if op == "bfi" {
		c.narrowInsert(lsb, width)
		return
	}
	switch {
	case width == 32:
		c.offer("clear all bits", c.low("mov", 0, d))
	case lsb == 0:
		c.offer("shift the field out", c.low("lsr", width, d, d), c.low("lsl", width, d, d))
	case lsb+width == 32:
		c.offer("shift the field out", c.low("lsl", width, d, d), c.low("lsr", width, d, d))
	case width <= 8:
		c.through("clear the field by "+c.inCase(c.flagSetting("bic")), func(s string) []string {
			return []string{c.low("mov", 1<<width-1, s), c.low("lsl", lsb, s, s), c.low("bic", -1, d, s)}
		})
	default:
		c.through("clear the field by "+c.inCase(c.flagSetting("bic")), func(s string) []string {
			return append(c.cutOut(s, d, lsb, width, lsb), c.low("bic", -1, d, s))
		})
	}
}

// narrowInsert changes the bits of a field that are not those that it gets.
func (c *rewriting) narrowInsert(lsb, width int64) {
	d, m := c.opText(0), c.opText(1)
	if width == 32 {
		c.offer("copy all bits", c.copyLow(d, m))
		return
	}
	c.through("put the bits in where they differ", func(s string) []string {
		var st []string
		if lsb > 0 {
			st = append(st, c.low("lsr", lsb, s, d))
		} else {
			st = append(st, c.copyLow(s, d))
		}
		st = append(st, c.low("eor", -1, s, m), c.low("lsl", 32-width, s, s))
		if n := 32 - width - lsb; n > 0 {
			st = append(st, c.low("lsr", n, s, s))
		}
		return append(st, c.low("eor", -1, d, s))
	})
}

// multiplyShift multiplies by a power of two, or by one more or less, without a register
// for the constant.
func multiplyShift(c *rewriting) {
	op, _, _ := c.operation()
	if !c.wide() {
		op = c.base()
	}
	i, v, ok := c.constOp()
	if op != "mul" || !ok || i != len(c.ops)-1 || i < 1 || i > 2 || !c.plainRegs() || !c.allRegs(i) {
		return
	}
	d, n := c.ops[0].Reg, c.ops[i-1].Reg
	dt, nt := c.opText(0), c.opText(i-1)
	power := func(v int64) (by int64, ok bool) {
		for by = 1; by < 32 && 1<<by <= v; by++ {
			if 1<<by == v {
				return by, true
			}
		}
		return 0, false
	}
	more, isMore := power(v - 1)
	less, isLess := power(v + 1)
	switch by, ok := power(v); {
	case ok && c.wide():
		c.offer("shift by "+strconv.FormatInt(by, 10), c.shift(c.letter("lsl"), dt, nt, by))
	case ok:
		c.offer("shift by "+strconv.FormatInt(by, 10), c.low("lsl", by, dt, nt))
	case isMore && c.wide():
		c.offer("add the register shifted", c.statementOf(c.letter("add"), dt, nt, nt, c.inCase("lsl")+" #"+strconv.FormatInt(more, 10)))
	case isLess && c.wide():
		c.offer("subtract the register from itself shifted", c.statementOf(c.letter("rsb"), dt, nt, nt, c.inCase("lsl")+" #"+strconv.FormatInt(less, 10)))
	case d == n: // the constant takes no more than this would
	case isMore:
		c.offer("shift, then add", c.low("lsl", more, dt, nt), c.low("add", -1, dt, dt, nt))
	case isLess:
		c.offer("shift, then subtract", c.low("lsl", less, dt, nt), c.low("sub", -1, dt, dt, nt))
	}
}
