package rewrite

import (
	"narrowgauge/analysis/flow"
	"narrowgauge/isa"
)

// stackDetour goes through low registers that are saved for the time, where none is free
// and the line counts from the stack pointer: what is there is further up behind the push.
func stackDetour(c *rewriting) {
	if c.mayLeave() {
		return
	}
	if _, _, ok := c.scratch(1, 0); ok {
		return // others go through one that is free
	}
	switch op := c.base(); op {
	case "ldr", "str", "ldrb", "strb", "ldrh", "strh":
		c.stackAccess(op)
	case "add":
		c.stackAddress()
	}
}

// lifted picks n low registers to save, and says by how much the push moves the stack.
func (c *rewriting) lifted(n int) (regs []isa.Reg, saved isa.RegList, by int64) {
	for r := isa.Reg(7); len(regs) < n && r < 8; r-- {
		if !c.used().Has(r) {
			regs = append(regs, r)
			saved |= flow.RegBit(r)
		}
	}
	return regs, saved, 4 * int64(n)
}

// highest offset of what counts from the stack pointer in T16: eight bits, in words.
const stackReach = 1020

// stackAccess loads or stores at an offset from the stack pointer.
func (c *rewriting) stackAccess(op string) {
	if len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg > 14 || c.ops[0].Reg == isa.SP {
		return
	}
	m := &c.ops[1]
	if m.Kind != isa.OpMem || m.Reg != isa.SP || m.Writeback || m.Post || m.Off != isa.OffNone && (m.Off != isa.OffImm || !m.Known) || m.Imm < 0 {
		return
	}
	unit := map[byte]int64{'b': 1, 'h': 2}[op[len(op)-1]]
	word := unit == 0
	if word {
		unit = 4
	}
	load, high, need := op[0] == 'l', c.ops[0].Reg > 7, 1
	direct := word && m.Imm+4 <= stackReach
	switch {
	case m.Imm%unit != 0, load && !high:
		return // misaligned; or the destination serves
	case !load && high && !direct:
		need = 2
	}
	regs, saved, by := c.lifted(need)
	sp, off := c.inCase("sp"), m.Imm+by
	name := func(i int) string { return c.inCase(regs[i].String()) }
	var st []string
	value, mem := c.opText(0), c.memText(sp, off)
	if high {
		if value = name(need - 1); !load {
			st = append(st, c.statement("mov", value, c.opText(0)))
		}
	}
	if q := off &^ 3; !direct && q <= stackReach {
		st = append(st, c.statement("add", name(0), sp, "#"+c.number(q)))
		mem = c.memText(name(0), off-q)
	} else if !direct {
		st = append(st, c.statement("ldr", name(0), "="+c.number(off)), c.statement("add", name(0), sp))
		mem = c.memText(name(0), 0)
	}
	st = append(st, c.statement(op, value, mem))
	if high && load {
		st = append(st, c.statement("mov", c.opText(0), value))
	}
	c.detour("count the offset from below what is saved", 0, regs, saved, st...)
}

// stackAddress puts the address of something on the stack into a high register.
func (c *rewriting) stackAddress() {
	dest, src, op, n, ok := c.sum()
	if !ok || op != "add" || c.ops[src].Reg != isa.SP || c.ops[dest].Reg < 8 || c.ops[dest].Reg > 14 || c.ops[dest].Reg == isa.SP || n%4 != 0 {
		return
	}
	regs, saved, by := c.lifted(1)
	if n+by > stackReach {
		return
	}
	s := c.inCase(regs[0].String())
	c.detour("count the offset from below what is saved", 0, regs, saved,
		c.statement("add", s, c.inCase("sp"), "#"+c.number(n+by)), c.statement("mov", c.opText(dest), s))
}
