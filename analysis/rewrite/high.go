package rewrite

import (
	"math/bits"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/isa"
)

// highRewrites are the rewrites that do without high registers and third operands.
func highRewrites() []Entry {
	return []Entry{
		{
			Name: "via-low", Title: "Go through a low register",
			Before: UnifiedThumb + "\tsubs r8, r8, #1\n\tmovs r0, #0\n\tbx lr\n",
			After:  UnifiedThumb + "\tmov r0, r8\n\tsubs r0, r0, #1\n\tmov r8, r0\n\tmovs r0, #0\n\tbx lr\n",
			apply:  viaLow,
		},
		{
			Name: "compute-aside", Title: "Compute in other registers, then copy",
			Before: UnifiedThumb + "\tands r8, r8, r9\n\tmovs r0, #0\n\tmovs r1, #0\n\tbx lr\n",
			After:  UnifiedThumb + "\tmov r1, r9\n\tmov r0, r8\n\tands r0, r1\n\tmov r8, r0\n\tmovs r0, #0\n\tmovs r1, #0\n\tbx lr\n",
			apply:  narrow(computeAside),
		},
		{
			Name: "two-operand", Title: "Copy the first source, then use two operands",
			Before: UnifiedThumb + "\tands r0, r1, r2\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, r1\n\tands r0, r2\n\tbx lr\n",
			apply:  narrow(twoOperand),
		},
		{
			Name: "list-high", Title: "Push or pop the high registers through a low one",
			Before: UnifiedThumb + "\tpush {r4, r8}\n\tmovs r0, #0\n\tbx lr\n",
			After:  UnifiedThumb + "\tmov r0, r8\n\tpush {r0}\n\tpush {r4}\n\tmovs r0, #0\n\tbx lr\n",
			apply:  narrow(listHigh),
		},
	}
}

// viaLow puts low registers in the place of the high ones: copied in when
// they are read, copied back when they are written.
func viaLow(c *rewriting) {
	if c.environment.Mode == isa.A {
		return
	}
	high, ok := c.highRegisters()
	if !ok || len(high) == 0 || len(high) > 2 {
		return
	}
	if len(high) == 1 && c.carries(high[0]) && c.throughLow(high, []isa.Reg{c.ops[0].Reg}, 0, true) {
		return
	}
	regs, saved, ok := c.scratch(len(high), 0)
	if !ok || saved != 0 && slices.Contains(high, isa.SP) {
		return
	}
	c.throughLow(high, regs, saved, false)
}

// highRegisters are the high registers among the operands, each once. ok is false where
// none of them may be another one.
func (c *rewriting) highRegisters() (high []isa.Reg, ok bool) {
	note := func(r isa.Reg) {
		if r > 7 && r < 16 && !slices.Contains(high, r) {
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
			return nil, false
		}
	}
	return high, !slices.Contains(high, isa.PC)
}

// carries says whether the destination, a low register that is no source, can carry the
// high source.
func (c *rewriting) carries(high isa.Reg) bool {
	if len(c.ops) < 2 || !lowReg(&c.ops[0]) || c.ops[0].Reg == high {
		return false
	}
	d := c.ops[0].Reg
	for i := range c.ops[1:] {
		if o := &c.ops[i+1]; o.Kind == isa.OpReg && o.Reg == d || o.Kind == isa.OpMem && (o.Reg == d || o.Off == isa.OffReg && o.Index == d) {
			return false
		}
	}
	mnemonic := strings.ToLower(c.name)
	m, ok := c.matchesSub(mnemonic, high, d)
	return ok && (m.Effects().Writes.Has(d) && len(c.ops) > 2 || strings.HasPrefix(mnemonic, "ldr"))
}

// throughLow offers the statement with registers regs in the place of the high ones. own
// says that they are the statement's destination: nothing is copied back.
func (c *rewriting) throughLow(high, regs []isa.Reg, saved isa.RegList, own bool) bool {
	sub := map[isa.Reg]isa.Reg{}
	for i, h := range high {
		sub[h] = regs[i]
	}
	ops, txt := c.substituted(sub)
	name, ef, ok := c.narrowName(ops)
	if !ok {
		return false
	}
	var pre, post []string
	for i, h := range high {
		if ef.Reads.Has(regs[i]) {
			pre = append(pre, c.statement("mov", c.inCase(regs[i].String()), c.regText(h)))
		}
		if ef.Writes.Has(regs[i]) && !own {
			post = append(post, c.statement("mov", c.regText(h), c.inCase(regs[i].String())))
		}
	}
	st := append(append(pre, c.statement(name, txt...)), post...)
	title := "go through " + c.inCase(regs[0].String())
	if len(regs) > 1 {
		title += " and " + c.inCase(regs[1].String())
	}
	if own {
		c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
		return true
	}
	c.detour(title, 0, regs, saved, st...)
	return true
}

// substituted are the operands with other registers, and their texts.
func (c *rewriting) substituted(sub map[isa.Reg]isa.Reg) ([]isa.Operand, []string) {
	ops := append([]isa.Operand{}, c.ops...)
	txt := make([]string, len(ops))
	for i := range ops {
		txt[i] = c.opText(i)
		o := &ops[i]
		if s, ok := sub[o.Reg]; ok && o.Kind == isa.OpReg {
			o.Reg = s
			txt[i] = c.inCase(s.String())
			if o.Writeback {
				txt[i] += "!"
			}
		}
		if o.Kind != isa.OpMem {
			continue
		}
		b := c.baseText()
		if s, ok := sub[o.Reg]; ok {
			o.Reg = s
			b = c.inCase(s.String())
		}
		off := ""
		switch o.Off {
		case isa.OffImm:
			off = "#" + c.offsetText()
		case isa.OffReg:
			off = c.offsetText()
			if s, ok := sub[o.Index]; ok {
				o.Index = s
				off = c.inCase(s.String())
			}
		}
		txt[i] = c.memory(b, off)
	}
	return ops, txt
}

// narrowName is the spelling of the name that takes the operands, with what it does: low
// registers may have the flag-setting form only.
func (c *rewriting) narrowName(ops []isa.Operand) (name string, ef isa.Effects, ok bool) {
	name = strings.ToLower(c.name)
	m, ok := c.matches(name, ops...)
	if !ok {
		if c.environment.Unified && setsFlags(name+"s") {
			name += "s"
		} else if !c.environment.Unified {
			name = strings.TrimSuffix(name, "s")
		}
		if m, ok = c.matches(name, ops...); !ok {
			return name, ef, false
		}
	}
	return name, m.Effects(), true
}

// computeAside works in low registers that are not the statement's own: high
// sources are copied in, and the result is copied back, which changes no flag
// that the operation did not set itself.
func computeAside(c *rewriting) {
	if len(c.ops) != 3 && len(c.ops) != 2 {
		return
	}
	for i := range c.ops {
		if o := &c.ops[i]; o.Kind != isa.OpReg || o.Writeback || o.Reg > 14 || o.Reg == isa.SP {
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
	if d == m && n != d && commutes(b) {
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
		t, tt = regs[0], c.inCase(regs[0].String())
	}
	u, ut := m, mt
	if m > 7 {
		u, ut = regs[need-1], c.inCase(regs[need-1].String())
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
		st = append(st, c.statement("mov", ut, mt))
	}
	switch {
	case t == n:
	case n > 7:
		st = append(st, c.statement("mov", tt, nt))
	default:
		st = append(st, c.copyBefore(tt, nt, reads))
	}
	st = append(st, c.statement(name, txt...))
	switch {
	case t == d:
	case d > 7:
		st = append(st, c.statement("mov", dt, tt))
	case c.environment.Unified:
		st = append(st, c.statement("movs", dt, tt))
	default:
		st = append(st, c.statement("lsl", dt, tt, "#0"))
	}
	title := "compute in " + tt
	if u != m {
		title += ", with " + mt + " copied to " + ut
	}
	c.detour(title, keeps, regs, saved, st...)
}

func twoOperand(c *rewriting) {
	if len(c.ops) != 3 || !lowReg(&c.ops[0]) || !lowReg(&c.ops[1]) || !lowReg(&c.ops[2]) {
		return
	}
	b := c.base()
	d, x, y := c.ops[0], c.ops[1], c.ops[2]
	mn := c.name
	if c.environment.Unified && !strings.HasSuffix(strings.ToLower(mn), "s") {
		mn = c.inCase(b + "s")
	} else if !c.environment.Unified {
		mn = c.inCase(b)
	}
	if d.Reg == y.Reg {
		if !commutes(b) {
			return
		}
		if _, ok := c.matches(mn, d, x); ok {
			c.add(candidate{title: "exchange the operands", safe: true, edits: c.replace(c.statement(mn, c.opText(0), c.opText(1)))})
		}
		return
	}
	m, ok := c.matches(mn, d, y)
	if !ok {
		return
	}
	stmts := []string{c.statement(mn, c.opText(0), c.opText(2))}
	if d.Reg != x.Reg {
		cp := c.copyBefore(c.opText(0), c.opText(1), m.Effects().FlagsRead != 0)
		stmts = append([]string{cp}, stmts...)
	}
	c.add(candidate{title: "copy " + c.opText(1) + " to " + c.opText(0) + ", then use two operands", safe: true, edits: c.replace(stmts...)})
}

// listHigh splits a push or pop: the order in memory stays, lowest register
// at the lowest address.
func listHigh(c *rewriting) {
	if n := strings.ToLower(c.name); (n == "push" || n == "pop") && len(c.ops) == 1 && c.ops[0].Kind == isa.OpList {
		c.splitList(n, c.ops[0].List)
	}
}

// splitList pushes or pops a list of which some registers are high.
func (c *rewriting) splitList(n string, list isa.RegList) {
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
	one := func(l isa.RegList) string { return c.statement(n, c.inCase(l.String())) }
	// The low ones are pushed last and popped first: only a register that is
	// dead and not among them can carry.
	s := isa.NoReg
	if dead := c.subject.DeadRegs(c.item, 0xff&^low); dead != 0 {
		for s = 0; !dead.Has(s); s++ {
		}
	}
	if s == isa.NoReg {
		c.listByStores(n, one, low, high, list.Has(last), last)
		return
	}
	t := c.inCase(s.String())
	var st []string
	if n == "push" {
		if list.Has(last) {
			st = append(st, one(flow.RegBit(last)))
		}
		for i := len(high) - 1; i >= 0; i-- {
			st = append(st, c.statement("mov", t, c.inCase(high[i].String())), one(flow.RegBit(s)))
		}
		if low != 0 {
			st = append(st, one(low))
		}
	} else {
		if low != 0 {
			st = append(st, one(low))
		}
		for _, h := range high {
			st = append(st, one(flow.RegBit(s)), c.statement("mov", c.inCase(h.String()), t))
		}
		if list.Has(last) {
			st = append(st, one(flow.RegBit(last)))
		}
	}
	c.detour(n+" the high registers through "+t, 0, []isa.Reg{s}, 0, st...)
}

// listByStores moves the high registers of a push or pop by stores and loads
// into room made for them, through a low register that the list itself saves.
func (c *rewriting) listByStores(n string, one func(isa.RegList) string, low isa.RegList, high []isa.Reg, has bool, last isa.Reg) {
	saves := low
	if saves == 0 {
		saves = 1 << 7
	}
	t := isa.Reg(bits.TrailingZeros16(uint16(saves)))
	tt, sp := c.inCase(t.String()), c.inCase("sp")
	slot := func(i int) string {
		return c.memory(sp, "#"+strconv.Itoa(4*(saves.Count()+i)))
	}
	var st []string
	room := "#" + strconv.Itoa(4*len(high))
	if n == "push" {
		if has {
			st = append(st, one(flow.RegBit(last)))
		}
		st = append(st, c.statement("sub", sp, room), one(saves))
		for i, h := range high {
			st = append(st, c.statement("mov", tt, c.inCase(h.String())), c.statement("str", tt, slot(i)))
		}
		if low == 0 {
			st = append(st, c.statement("pop", c.inCase(saves.String())))
		} else {
			st = append(st, c.statement("ldr", tt, "["+sp+"]"))
		}
	} else {
		if low == 0 {
			st = append(st, c.statement("push", c.inCase(saves.String())))
		}
		for i, h := range high {
			st = append(st, c.statement("ldr", tt, slot(i)), c.statement("mov", c.inCase(h.String()), tt))
		}
		st = append(st, c.statement("pop", c.inCase(saves.String())), c.statement("add", sp, room))
		if has {
			st = append(st, one(flow.RegBit(last)))
		}
	}
	c.add(candidate{title: n + " the high registers through " + tt + " into room made for them", safe: true, edits: c.replace(st...)})
}
