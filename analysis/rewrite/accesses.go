package rewrite

import (
	"slices"
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// accessRewrites are the rewrites that load and store with another address.
func accessRewrites() []Entry {
	return []Entry{
		{
			Name: "offset-register", Title: "Access with the offset in a register",
			Before: UnifiedThumb + "\tldr r0, [r1, #200]\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, #200\n\tldr r0, [r1, r0]\n\tbx lr\n",
			apply:  byWidth(offsetRegister, (*rewriting).offsetIn),
		},
		{
			Name: "address-first", Title: "Compute the address first",
			Before: UnifiedThumb + "\tldrb r0, [sp, #5]\n\tbx lr\n",
			After:  UnifiedThumb + "\tadd r0, sp, #4\n\tldrb r0, [r0, #1]\n\tbx lr\n",
			apply:  byWidth(addressFirst, (*rewriting).addressOf),
		},
		{
			Name: "extend-after", Title: "Load unsigned, then sign-extend",
			Before: ".arch armv6\n" + UnifiedThumb + "\tldrsb r0, [r1, #4]\n\tbx lr\n",
			After:  ".arch armv6\n" + UnifiedThumb + "\tldrb r0, [r1, #4]\n\tsxtb r0, r0\n\tbx lr\n",
			apply:  narrow(extendAfter),
		},
		{
			Name: "step-base", Title: "Change the base register in a separate instruction",
			Before: UnifiedThumb + "\tldr r0, [r1], #4\n\tbx lr\n",
			After:  UnifiedThumb + "\tldmia r1!, {r0}\n\tbx lr\n",
			apply:  byWidth(stepBase, (*rewriting).stepApart),
		},
	}
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
	if m.Writeback || m.Post || m.Reg > 15 || m.Off != isa.OffImm && m.Off != isa.OffNone || m.Off == isa.OffImm && !m.Known {
		return nil, false, false
	}
	return m, load, true
}

// offsetAndData are the offset of an access, and the register that is loaded or stored; ok
// says that the rewrites can do with both.
func (c *rewriting) offsetAndData(m *isa.Operand) (v int64, data isa.Reg, ok bool) {
	if m.Off != isa.OffNone {
		v = m.Imm
	}
	data = c.ops[0].Reg
	return v, data, v >= -1<<31 && v < 1<<32 && data <= 14 && data != isa.SP
}

// offsetText is the offset as written.
func (c *rewriting) offsetText() string {
	o := &c.item.Stmt.Ops[1]
	loc := c.subject.PartLoc(c.item, 1, isa.PartOffset)
	start := c.subject.File.LineStart(int(c.item.Line))
	if o.Off == isa.OffNone {
		return "0"
	}
	return strings.TrimSpace(strings.TrimLeft(syntax.WithoutComments(c.line[loc.Span.Start-start:loc.Span.End-start]), "#$ "))
}

func (c *rewriting) baseText() string {
	loc := c.subject.PartLoc(c.item, len(c.item.Stmt.Ops)-1, isa.PartBase)
	start := c.subject.File.LineStart(int(c.item.Line))
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
	v, data, ok := c.offsetAndData(m)
	if !ok {
		return
	}
	text, base, dt := c.offsetText(), c.baseText(), c.opText(0)
	if _, plain := c.matches(c.name, regOp(0), isa.Operand{Kind: isa.OpMem, Reg: m.Reg}); plain && v == 0 {
		return
	}
	emit := func(regs []isa.Reg, saved isa.RegList, s string, keep bool) {
		var st []string
		if n := -v; n >= 1 && n <= 255 && !keep {
			st = []string{c.statement(c.flagSetting("mov"), s, "#"+c.number(n)), c.negate(s)}
		} else {
			st = []string{c.loadConst(s, v, text, keep)}
		}
		t, move := dt, []string(nil)
		if data > 7 {
			t = s
			if load {
				move = []string{c.statement("mov", dt, s)}
			} else {
				t = c.inCase(regs[1].String())
				st = append(st, c.statement("mov", t, dt))
			}
		}
		st = append(append(st, c.statement(c.name, t, c.memory(base, s))), move...)
		title := "access with the offset in " + s
		if regs == nil {
			c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
			return
		}
		c.detour(title, 0, regs, saved, st...)
	}
	// A load from the literal pool keeps the flags, a move does not.
	keep := v > -256 && v < 256 && c.subject.DeadFlags(c.item, isa.NZCV) != isa.NZCV
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
		s := c.inCase(regs[0].String())
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
		return // only the address does, which is addressFirst
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	v, d, s := int64(0), c.opText(0), c.inCase(regs[0].String())
	if m.Off == isa.OffImm {
		v = m.Imm
	}
	st := []string{c.statement("mov", d, c.baseText())}
	if v < 0 && v > -256 {
		st = append(st, c.statement(c.flagSetting("mov"), s, "#"+c.number(-v)), c.negate(s))
	} else {
		st = append(st, c.loadConst(s, v, c.offsetText(), false))
	}
	c.detour("access with the offset in "+s+" and the base in "+d, 0, regs, saved, append(st, c.statement(c.name, d, c.memory(d, s)))...)
}

// addressFirst computes an address that no offset reaches into a register: the
// destination of a load, else a scratch register. From the stack pointer and
// the high registers that is the only way.
func addressFirst(c *rewriting) {
	m, load, ok := c.access()
	if !ok || m.Reg == isa.PC {
		return
	}
	v, data, ok := c.offsetAndData(m)
	if !ok {
		return
	}
	text, base, dt := c.offsetText(), c.baseText(), c.opText(0)
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
				value = c.inCase(regs[n-1].String())
			}
		}
	}
	tt := dt
	if regs != nil {
		tt = c.inCase(regs[0].String())
	}
	vo := c.ops[0]
	if data > 7 && regs != nil {
		vo = regOp(regs[len(regs)-1])
	}
	at := func(n int64) (isa.Operand, string) {
		if n == 0 {
			return isa.Operand{Kind: isa.OpMem, Reg: t.Reg}, c.memory(tt, "")
		}
		return isa.Operand{Kind: isa.OpMem, Off: isa.OffImm, Reg: t.Reg, Imm: n, Known: true}, c.memory(tt, "#"+c.number(n))
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
			st = append(st, c.statement("mov", value, dt))
		}
		st = append(st, c.statement(c.name, value, mem))
		if data > 7 && load {
			st = append(st, c.statement("mov", dt, value))
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
			emit(v&3, c.statement("add", tt, base, "#"+c.number(v&^3)))
		case m.Reg == isa.SP && v > 1020 && v-1020 <= most && fits(v-1020):
			emit(v-1020, c.statement("add", tt, base, "#"+c.number(1020)))
		case m.Reg > 7:
			emit(0, c.loadConst(tt, v, text, false), c.statement("add", tt, base))
			if v >= 0 && v < 256 && c.subject.DeadFlags(c.item, isa.NZ) != isa.NZ {
				emit(0, c.loadConst(tt, v, text, true), c.statement("add", tt, base))
			}
		case n > 0 && n < 8 && m.Reg != t.Reg:
			emit(0, c.statement(c.flagSetting(op), tt, base, "#"+c.number(n)))
		case n > 0 && n < 256 && m.Reg == t.Reg:
			emit(0, c.statement(c.flagSetting(op), tt, "#"+c.number(n)))
		case v > 255 && v <= 255+most && m.Reg == t.Reg && fits(most):
			emit(most, c.statement(c.flagSetting("add"), tt, "#"+c.number(v-most)))
		}
	}
	// There and back leaves no scratch register behind.
	back := map[string]string{"add": "sub", "sub": "add"}[op]
	if !load && n > 0 && n < 256 && m.Reg < 8 && data < 8 && data != m.Reg {
		t, tt, vo = regOp(m.Reg), base, c.ops[0]
		if fits(0) {
			_, mem := at(0)
			c.add(candidate{title: "step " + base + " there and back", safe: true,
				edits: c.replace(c.statement(c.flagSetting(op), base, "#"+c.number(n)), c.statement(c.name, dt, mem), c.statement(c.flagSetting(back), base, "#"+c.number(n)))})
		}
	}
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
		st = []string{c.statement("mov", d, c.baseText())}
		o.Reg, mem = c.ops[0].Reg, "["+d+"]"
		if o.Off == isa.OffImm {
			mem = c.memory(d, "#"+c.offsetText())
		}
		if rest := m.Imm & 3; m.Reg == isa.SP && m.Off == isa.OffImm && m.Imm > 3 && m.Imm <= 1023 {
			st = []string{c.statement("add", d, c.baseText(), "#"+c.number(m.Imm-rest))}
			o.Imm, mem = rest, c.memory(d, "#"+c.number(rest))
		}
	}
	if _, ok := c.matches(plain, c.ops[0], o); !ok {
		if m.Reg < 8 || m.Off != isa.OffImm || m.Imm < -1<<31 || m.Imm >= 1<<32 {
			return
		}
		st = []string{c.loadConst(d, m.Imm, c.offsetText(), false), c.statement("add", d, c.baseText())}
		mem = "[" + d + "]"
	}
	st = append(st, c.statement(plain, d, mem))
	if _, ok := c.matches(ext, c.ops[0], c.ops[0]); ok {
		c.add(candidate{title: "load unsigned, then sign-extend by " + ext, safe: true, edits: c.replace(append(st, c.statement(ext, d, d))...)})
		return
	}
	c.add(candidate{title: "load unsigned, then sign-extend by two shifts", safe: true,
		edits: c.replace(append(st, c.statement(c.flagSetting("lsl"), d, d, "#"+n), c.statement(c.flagSetting("asr"), d, d, "#"+n))...)})
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
	if !m.Writeback && !m.Post || !byReg && (m.Off != isa.OffImm || !m.Known) || m.Reg > 7 || m.Reg == c.ops[0].Reg {
		return
	}
	b := strings.ToLower(c.name)
	load := strings.HasPrefix(b, "ldr")
	base, data := c.baseText(), c.opText(0)
	if m.Post && m.Imm == 4 && !byReg && (b == "ldr" || b == "str") {
		mult := map[string]string{"ldr": "ldmia", "str": "stmia"}[b]
		c.add(candidate{title: "use " + c.inCase(mult) + ", which steps by 4", safe: true,
			edits: c.replace(c.statement(mult, base+"!", "{"+data+"}"))})
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
		step = c.statement(c.flagSetting(op), base, base, c.stepText())
	case n > 255:
		return
	default:
		step = c.statement(c.flagSetting(op), base, "#"+c.number(n))
	}
	plain := isa.Operand{Kind: isa.OpMem, Reg: m.Reg}
	st := []string{c.statement(c.name, data, "["+base+"]")}
	if _, ok := c.matches(c.name, c.ops[0], plain); !ok {
		// A signed load has a register offset only: the destination is 0.
		plain.Off, plain.Index = isa.OffReg, c.ops[0].Reg
		if _, ok := c.matches(c.name, c.ops[0], plain); !ok || !load {
			return
		}
		st = []string{c.statement(c.flagSetting("mov"), data, "#0"), c.statement(c.name, data, c.memory(base, data))}
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
	with.Writeback = true
	if _, ok := c.matches(c.name, with, c.ops[1]); !ok {
		return true
	}
	st := []string{c.statement(c.name, base+"!", c.opText(1))}
	if c.subject.DeadRegs(c.item, flow.RegBit(with.Reg)) != 0 {
		c.add(candidate{title: "put the '!' after " + base + ", which is dead here", safe: true, edits: c.replace(st...)})
		return true
	}
	n := int64(4 * c.ops[1].List.Count())
	c.add(candidate{title: "step " + base + " and back by " + c.number(n), safe: true, edits: c.replace(st[0], c.statement(c.flagSetting("sub"), base, "#"+c.number(n)))})
	c.add(candidate{title: "put the '!' after " + base, notes: []string{"steps " + base + " by " + c.number(n)}, late: 4, edits: c.replace(st...)})
	return true
}

// stepText is the offset register after or in the brackets, without sign.
func (c *rewriting) stepText() string {
	t := c.opText(1)
	if i := strings.LastIndexByte(t, ','); i >= 0 {
		return strings.Trim(t[i+1:], " \t]!-+")
	}
	return ""
}

// reaching is a line that accesses memory at an offset from a register.
type reaching struct {
	operation string
	operand   *isa.Operand
	at        int   // operand index of the memory operand, the last
	offset    int64 // in bytes
	index     bool  // the offset is a register, perhaps shifted
	load      bool
	into      isa.Reg // the first register that a load writes and that can hold an address, else NoReg
}

// reach reads the line as such an access.
func (c *rewriting) reach() (x reaching, ok bool) {
	x.operation, _, _ = c.operation()
	x.at = len(c.ops) - 1
	x.into = isa.NoReg
	if x.at < 1 {
		return x, false
	}
	x.operand = &c.ops[x.at]
	switch {
	case x.operand.Kind != isa.OpMem || x.operand.Reg > 14 || x.operand.Vec.Count != 0:
		return x, false
	case x.operand.Off == isa.OffReg || x.operand.Off == isa.OffShift:
		x.index = true
	case x.operand.Off != isa.OffImm || !x.operand.Known || x.operand.Imm < -1<<31 || x.operand.Imm >= 1<<31:
		return x, false
	}
	switch {
	case strings.HasPrefix(x.operation, "vldr"):
		x.load = true
	case strings.HasPrefix(x.operation, "vstr"), strings.HasPrefix(x.operation, "str"):
	case strings.HasPrefix(x.operation, "ldr"):
		x.load = true
		if r := &c.ops[0]; r.Kind == isa.OpReg && r.Reg < isa.LR && r.Reg != isa.SP {
			x.into = r.Reg
		}
	default:
		return x, false
	}
	if x.operation[0] != 'v' && !c.plainRegs() || strings.HasSuffix(x.operation, "t") {
		return x, false
	}
	x.offset = x.operand.Imm
	return x, true
}

// with writes the access with another memory operand; ok is false where there is no
// such form.
func (c *rewriting) with(x *reaching, m isa.Operand, text string) (string, bool) {
	ops := append([]isa.Operand{}, c.ops...)
	ops[x.at] = m
	if !c.can(x.operation, ops...) {
		return "", false
	}
	txt := make([]string, len(ops))
	for i := range txt {
		txt[i] = c.opText(i)
	}
	txt[x.at] = text
	name := c.name
	if c.item.Stmt.Width != 0 {
		name = name[:len(name)-2]
	}
	return c.statement(name, txt...), true
}

// parts lists ways to write an offset as a step of the base and a rest, the
// simplest first.
func (c *rewriting) parts(off int64) (steps []int64) {
	add := func(v int64) { steps = append(steps, v) }
	sign, n := int64(1), off
	if off < 0 {
		sign, n = -1, -off
	}
	masks := []int64{0xfff, 0x3ff, 0xff}
	for _, m := range masks {
		add(sign * (n &^ m))
	}
	add(off)
	below, above := c.environment.Mode.NearConstants(uint32(n))
	add(sign * int64(below))
	add(sign * int64(above))
	for _, m := range masks {
		add(sign * ((n + m) &^ m))
	}
	return steps
}

// addressOf is addressFirst for code of full width.
func (c *rewriting) addressOf() {
	x, ok := c.reach()
	if !ok || x.operand.Writeback || x.operand.Post {
		return
	}
	base := c.baseText()
	write := func(t isa.Reg, tt string) (st []string, step int64) {
		if x.index {
			sum, ok := c.indexed(&x, t, tt)
			access, ok2 := c.with(&x, memOp(t, 0), c.memory(tt, ""))
			if !ok || !ok2 {
				return nil, 0
			}
			return []string{sum, access}, 0
		}
		for _, step := range c.parts(x.offset) {
			op, n := "add", step
			if step < 0 {
				op, n = "sub", -step
			}
			if step == 0 || !c.can(op, regOp(t), regOp(x.operand.Reg), immOp(n)) {
				continue
			}
			if access, ok := c.with(&x, memOp(t, x.offset-step), c.memText(tt, x.offset-step)); ok {
				text := c.number(n)
				if step == x.offset && x.offset > 0 {
					text = c.partText(&x)
				}
				return []string{c.statementOf(op, tt, base, "#"+text), access}, step
			}
		}
		return nil, 0
	}
	title := func(tt string) string { return "compute the address in " + tt + " first" }
	if x.into != isa.NoReg {
		if st, _ := write(x.into, c.opText(0)); st != nil {
			c.add(candidate{title: title(c.opText(0)), safe: true, edits: c.replace(st...)})
			return
		}
	}
	regs, saved, ok := c.scratch(1, 0)
	if ok {
		s := c.scratchName(regs[0])
		if st, _ := write(regs[0], s); st != nil {
			c.detour(title(s), 0, regs, saved, st...)
		}
	}
	if ok && saved == 0 || x.load || x.operand.Reg == isa.SP || slices.ContainsFunc(c.ops[:x.at], func(o isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg == x.operand.Reg }) {
		return
	}
	// There and back leaves no scratch register behind.
	if st, step := write(x.operand.Reg, base); st != nil && !x.index {
		if back, _, ok := c.addConst(x.operand.Reg, x.operand.Reg, base, base, -step, plain); ok && len(back) == 1 {
			c.add(candidate{title: "step " + base + " there and back", safe: true, edits: c.replace(append(st, back...)...)})
		}
	}
}

// indexed is the sum of base and index register, put into t.
func (c *rewriting) indexed(x *reaching, t isa.Reg, tt string) (string, bool) {
	op := "add"
	text := strings.TrimLeft(c.partText(x), "+")
	if x.operand.Minus {
		op, text = "sub", strings.TrimSpace(strings.TrimPrefix(text, "-"))
	}
	ops := []isa.Operand{regOp(t), regOp(x.operand.Reg), regOp(x.operand.Index)}
	if x.operand.Off == isa.OffShift {
		ops = append(ops, isa.Operand{Kind: isa.OpShift, Shift: x.operand.Shift, Reg: isa.NoReg, Imm: x.operand.Imm, Known: true})
	}
	if x.operand.Reg == isa.PC || x.operand.Index == isa.PC || t == isa.PC || !c.can(op, ops...) {
		return "", false
	}
	return c.statementOf(op, tt, c.baseText(), text), true
}

// partText is the offset as written.
func (c *rewriting) partText(x *reaching) string {
	loc := c.subject.PartLoc(c.item, x.at, isa.PartOffset)
	start := c.subject.File.LineStart(int(c.item.Line))
	return strings.TrimSpace(strings.TrimLeft(syntax.WithoutComments(c.line[loc.Span.Start-start:loc.Span.End-start]), "#$ "))
}

// offsetIn is offsetRegister for code of full width.
func (c *rewriting) offsetIn() {
	x, ok := c.reach()
	if !ok || x.operand.Writeback || x.operand.Post || x.index {
		return
	}
	write := func(t isa.Reg, tt string) []string {
		m := isa.Operand{Kind: isa.OpMem, Off: isa.OffReg, Reg: x.operand.Reg, Index: t}
		access, ok := c.with(&x, m, c.memory(c.baseText(), tt))
		if !ok {
			return nil
		}
		return append(c.loads(t, tt, uint32(x.offset), c.partText(&x))[0], access)
	}
	// A pair must not be loaded over its own index.
	if x.into != isa.NoReg && x.into != x.operand.Reg && !strings.HasSuffix(x.operation, "d") {
		if st := write(x.into, c.opText(0)); st != nil {
			c.add(candidate{title: "access with the offset in " + c.opText(0), safe: true, late: 1, edits: c.replace(st...)})
		}
		return
	}
	if regs, saved, ok := c.scratch(1, 0); ok {
		s := c.scratchName(regs[0])
		if st := write(regs[0], s); st != nil {
			had := len(c.out)
			c.detour("access with the offset in "+s, 0, regs, saved, st...)
			for k := range c.out[had:] {
				c.out[had+k].late = 1
			}
		}
	}
}

// stepApart is stepBase for code of full width.
func (c *rewriting) stepApart() {
	x, ok := c.reach()
	if !ok || !x.operand.Writeback && !x.operand.Post || x.operand.Post && c.mayLeave() {
		return
	}
	for i := range c.ops[:x.at] {
		if c.ops[i].Kind == isa.OpReg && c.ops[i].Reg == x.operand.Reg {
			return // unpredictable as it is
		}
	}
	base := c.baseText()
	access, ok := c.with(&x, memOp(x.operand.Reg, 0), c.memory(base, ""))
	if !ok {
		return
	}
	var st []string
	if x.index {
		if x.load && x.operand.Post && slices.ContainsFunc(c.ops[:x.at], func(o isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg == x.operand.Index }) {
			return // the load overwrites the step
		}
		one, can := c.indexed(&x, x.operand.Reg, base)
		st, ok = []string{one}, can
	} else {
		st, _, ok = c.addConst(x.operand.Reg, x.operand.Reg, base, base, x.offset, plain)
	}
	if !ok {
		return
	}
	title := "step " + base + " in a separate instruction"
	if x.operand.Post {
		st = append([]string{access}, st...)
	} else {
		st = append(st, access)
	}
	c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
}
