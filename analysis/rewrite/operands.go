package rewrite

import (
	"fmt"
	"strconv"
	"strings"

	"narrowgauge/analysis/flow"
	"narrowgauge/isa"
)

// operandRewrites are the rewrites that prepare an operand by an instruction of its own.
func operandRewrites() []Entry {
	return []Entry{
		{
			Name: "constant-register", Title: "Put the constant into a register first",
			Before: UnifiedThumb + "\tmvns r0, #5\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, #5\n\tmvns r0, r0\n\tbx lr\n",
			apply:  byWidth(constantRegister, (*rewriting).regForConst),
		},
		{
			Name: "multiply-shift", Title: "Multiply by a shift and a sum",
			Before: ".arch armv7-m\n" + UnifiedThumb + "\tmul r0, r1, #5\n\tbx lr\n",
			After:  ".arch armv7-m\n" + UnifiedThumb + "\tadd r0, r1, r1, lsl #2\n\tbx lr\n",
			apply:  multiplyShift,
		},
		{
			Name: "compare-negative", Title: "Compare with the negated constant",
			Before: UnifiedThumb + "\tcmp r0, #-5\n\tmovs r3, #0\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r3, #5\n\tcmn r0, r3\n\tmovs r3, #0\n\tbx lr\n",
			apply:  narrow(compareNegative),
		},
		{
			Name: "shift-first", Title: "Shift in a separate instruction",
			Before: ".arch armv7-m\n" + UnifiedThumb + "\tadd r0, r1, r2, lsl r3\n\tbx lr\n",
			After:  ".arch armv7-m\n" + UnifiedThumb + "\tlsl r0, r2, r3\n\tadd r0, r1, r0\n\tbx lr\n",
			apply:  byWidth(shiftBefore, shiftFirst),
		},
		{
			Name: "test-equal", Title: "Compare by EOR into a free register",
			Before: UnifiedThumb + "\tteq r0, r1\n\tbeq 1f\n\tmovs r2, #0\n1:\tmovs r3, #0\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r3, r0\n\teors r3, r1\n\tbeq 1f\n\tmovs r2, #0\n1:\tmovs r3, #0\n\tbx lr\n",
			apply:  narrow(testEqual),
		},
		{
			Name: "two-shifts", Title: "Shift in two steps",
			Before: UnifiedThumb + "\tlsls r0, r1, #33\n\tbx lr\n",
			After:  UnifiedThumb + "\tlsls r0, r1, #31\n\tlsls r0, r0, #2\n\tbx lr\n",
			apply:  twoShifts,
		},
	}
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
	for k := range i {
		if c.ops[k].Kind != isa.OpReg || c.ops[k].Writeback || c.ops[k].Reg == isa.PC {
			return
		}
	}
	text := c.exprText(i)
	a, _ := isa.ArithmeticOf(b)
	reads := a.Carries // the carry must come through, as it does to MOV of a constant
	d, dt := c.ops[0], c.opText(0)
	n, nt := c.ops[i-1], c.opText(i-1)
	compare := a.Compares
	if b == "mvn" {
		c.moveNotFirst(v, text)
		return
	}
	if !compare && lowReg(&d) && n.Reg != d.Reg && c.constantInDestination(b, v, text) {
		return
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok {
		return
	}
	s := c.inCase(regs[0].String())
	so := regOp(regs[0])
	title := "put " + text + " into " + s
	load := c.loadConst(s, v, text, false)
	switch {
	case compare:
		if name, keeps, ok := c.spelled(b, n, so); ok {
			c.detour(title, keeps, regs, saved, load, c.statement(name, nt, s))
			return
		}
		c.constantThroughLow(b, v, text)
		return
	case b == "rsb":
		if name, keeps, ok := c.spelled("sub", d, so, n); ok {
			c.detour(title, keeps, regs, saved, load, c.statement(name, dt, s, nt))
			return
		}
		c.constantThroughLow(b, v, text)
		return
	}
	if c.constantKeepingFlags(b, v, regs, saved) {
		return
	}
	ops, txt := []isa.Operand{d, n, so}, []string{dt, nt, s}
	if len(c.ops) == 2 || d.Reg == n.Reg && b != "add" && b != "sub" {
		ops, txt = []isa.Operand{d, so}, []string{dt, s}
	}
	if name, keeps, ok := c.spelled(b, ops...); ok {
		c.detour(title, keeps, regs, saved, load, c.statement(name, txt...))
		return
	}
	// Two operands: the first source is copied.
	name, keeps, ok := c.spelled(b, d, so)
	if !ok && b == "sub" {
		// High registers have no subtract.
		if name, keeps, ok = c.spelled("add", d, so); ok {
			neg := c.number(-v)
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
		cp := c.statement("mov", dt, nt)
		if d.Reg < 8 && n.Reg < 8 {
			cp = c.copyBefore(dt, nt, reads)
		}
		st = append(st, cp)
	}
	c.detour(title, keeps, regs, saved, append(st, c.statement(name, dt, s))...)
}

// constantKeepingFlags adds or subtracts the constant without a change of flags that are
// needed, and says whether it does: a load leaves them, and so does the ADD that takes
// all registers.
func (c *rewriting) constantKeepingFlags(b string, v int64, regs []isa.Reg, saved isa.RegList) bool {
	d, dt, s := c.ops[0], c.opText(0), c.inCase(regs[0].String())
	n := c.ops[len(c.ops)-2]
	if sets, _ := c.intent(); sets == yes || b != "add" && b != "sub" || d.Reg > 7 || n.Reg != d.Reg || c.subject.DeadFlags(c.item, isa.NZCV) == isa.NZCV {
		return false
	}
	text := c.exprText(len(c.ops) - 1)
	if b == "sub" {
		v, text = -v, c.number(-v)
	}
	m, ok := c.matches("add", d, regOp(regs[0]))
	if !ok || m.Effects().FlagsWritten != 0 {
		return false
	}
	keep := c.subject.DeadFlags(c.item, isa.NZ) != isa.NZ
	c.detour("put "+text+" into "+s, 0, regs, saved, c.loadConst(s, v, text, keep), c.statement("add", dt, s))
	return true
}

// moveNotFirst moves the constant of MVN to its destination first.
func (c *rewriting) moveNotFirst(v int64, text string) {
	d, dt := c.ops[0], c.opText(0)
	if len(c.ops) != 2 || !lowReg(&d) {
		return
	}
	if name, keeps, ok := c.spelled("mvn", d, d); ok {
		c.add(candidate{title: "move " + text + " to " + dt + " first", wrong: keeps, safe: true,
			edits: c.replace(c.loadConst(dt, v, text, false), c.statement(name, dt, dt))})
	}
}

// constantInDestination puts the constant into the destination itself, whose old value
// does not matter.
func (c *rewriting) constantInDestination(b string, v int64, text string) bool {
	d, dt := c.ops[0], c.opText(0)
	n, nt := c.ops[len(c.ops)-2], c.opText(len(c.ops)-2)
	op, ops, txt := b, []isa.Operand{d, n, d}, []string{dt, nt, dt}
	switch {
	case b == "sub" && n.Reg > 7:
		v, text = -v, c.number(-v)
		op, ops, txt = "add", []isa.Operand{d, n}, []string{dt, nt}
	case b == "rsb":
		op, ops, txt = "sub", []isa.Operand{d, d, n}, []string{dt, dt, nt}
	case commutes(b) && (b != "add" || n.Reg > 7):
		ops, txt = []isa.Operand{d, n}, []string{dt, nt}
	}
	name, keeps, ok := c.spelled(op, ops...)
	if ok {
		c.add(candidate{title: "put " + text + " into " + dt + " first", wrong: keeps, safe: true,
			edits: c.replace(c.loadConst(dt, v, text, false), c.statement(name, txt...))})
	}
	return ok
}

// constantThroughLow is constantRegister for operations that no high register
// takes part in: the value goes through a low register, too.
func (c *rewriting) constantThroughLow(b string, v int64, text string) {
	d, dt := c.ops[0], c.opText(0)
	n, nt := c.ops[len(c.ops)-2], c.opText(len(c.ops)-2)
	a, _ := isa.ArithmeticOf(b)
	reads := a.Carries
	compare := a.Compares
	need := 2
	own := !compare && d.Reg < 8 && d.Reg != n.Reg // the destination holds the value
	if own {
		need = 1
	}
	regs, saved, ok := c.scratch(need, 0)
	if !ok || d.Reg > 14 || n.Reg > 14 {
		return
	}
	s, h, ht := regs[0], d.Reg, dt
	if !own {
		h, ht = regs[1], c.inCase(regs[1].String())
	}
	st, so, ho := c.inCase(s.String()), regOp(s), regOp(h)
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
	cp := c.statement("mov", ht, nt)
	if n.Reg < 8 {
		cp = c.copyBefore(ht, nt, reads)
	}
	list := []string{cp, c.loadConst(st, v, text, false), c.statement(name, txt...)}
	if !own && !compare {
		back := c.statement("mov", dt, ht)
		if d.Reg < 8 {
			back = c.copyBefore(dt, ht, true)
		}
		list = append(list, back)
	}
	c.detour("put "+text+" into "+st+" and the value into "+ht, keeps, regs, saved, list...)
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
		c.add(candidate{title: "compare with " + c.number(n), safe: true, edits: c.replace(c.statement("cmp", c.opText(0), "#"+c.number(n)))})
	case "cmp":
		if regs, saved, ok := c.scratch(1, 0); ok {
			s := c.inCase(regs[0].String())
			c.detour("compare with the negative of "+c.number(n), 0, regs, saved,
				c.statement(c.flagSetting("mov"), s, "#"+c.number(n)), c.statement("cmn", c.opText(0), s))
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
		t = c.inCase(regs[0].String())
	}
	from := c.opText(i - 1)
	if s > 7 && !c.wide() {
		st, from = []string{c.statement("mov", t, from)}, t
	}
	for _, k := range by {
		if c.wide() {
			st = append(st, c.statementOf(c.letter(b), t, from, "#"+strconv.FormatInt(k, 10)))
		} else {
			st = append(st, c.statement(c.flagSetting(b), t, from, "#"+strconv.FormatInt(k, 10)))
		}
		from = t
	}
	if d > 7 && !c.wide() {
		st = append(st, c.statement("mov", c.opText(0), t))
		c.detour(title+" in "+t, 0, regs, saved, st...)
		return
	}
	c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
}

// loads lists the ways to put v into a register, the best first.
func (c *rewriting) loads(reg isa.Reg, name string, v uint32, text string) (out [][]string) {
	if s, ok := c.inOne(reg, name, v, text); ok {
		return append(out, []string{s})
	}
	if st, ok := c.inHalves(reg, name, v); ok {
		out = append(out, st)
	} else if b, ok := c.inTwo(reg, name, v, plain); ok {
		out = append(out, b.steps)
	}
	return append(out, []string{c.statementOf("ldr", name, "="+text)})
}

// regForConst is constantRegister for code of full width.
func (c *rewriting) regForConst() {
	op, _, _ := c.operation()
	i, v, ok := c.constOp()
	if !ok || i != len(c.ops)-1 || i < 1 || i > 2 || v < -1<<31 || v >= 1<<32 || !c.plainRegs() {
		return
	}
	compare := false
	switch op {
	case "and", "orr", "eor", "bic", "orn", "add", "sub", "rsb", "rsc", "adc", "sbc", "mul":
	case "cmp", "cmn", "tst", "teq":
		if i != 1 {
			return
		}
		compare = true
	default:
		return
	}
	d, n := c.ops[0].Reg, c.ops[i-1].Reg
	if d == isa.PC || n == isa.PC {
		return
	}
	text := c.exprText(i)
	emit := func(h isa.Reg, ht string, emit func(title string, st []string)) bool {
		ops, txt := []isa.Operand{c.ops[0], regOp(n), regOp(h)}, []string{c.opText(0), c.opText(i - 1), ht}
		if compare {
			ops, txt = ops[1:], txt[1:]
		} else if op == "mul" && d == n {
			// Before ARMv6 the destination must not be the first source (DDI 0100, "MUL").
			ops[1], ops[2], txt[1], txt[2] = ops[2], ops[1], txt[2], txt[1]
		}
		if !c.can(c.letter(op), ops...) {
			return false
		}
		for _, st := range c.loads(h, ht, uint32(v), text) {
			emit("put "+text+" into "+ht, append(st, c.statementOf(c.letter(op), txt...)))
		}
		return true
	}
	// The destination itself holds the constant, where its old value does not
	// matter.
	if !compare && d != n && d != isa.SP && emit(d, c.opText(0), func(title string, st []string) {
		c.add(candidate{title: title + " first", safe: true, edits: c.replace(st...)})
	}) {
		return
	}
	if regs, saved, ok := c.scratch(1, 0); ok {
		s := c.scratchName(regs[0])
		emit(regs[0], s, func(title string, st []string) { c.detour(title, 0, regs, saved, st...) })
	}
}

// shiftFirst takes a shift out of an operand that cannot have it there: one by a
// register, which T32 has in no other operation, or one by more than it takes.
// shiftBefore is shiftFirst for T16: the shift of an operand, or of an index, by a
// constant becomes an instruction of its own, which sets flags.
func shiftBefore(c *rewriting) {
	n := len(c.ops) - 1
	if n < 1 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg > 7 {
		return
	}
	if m := &c.ops[n]; m.Kind == isa.OpMem && m.Off == isa.OffShift && !m.Writeback && !m.Post && !m.Minus && m.Known && n == 1 {
		c.shiftIndex(m)
		return
	}
	op := c.base()
	sh := &c.ops[n]
	a, known := isa.ArithmeticOf(op)
	if n < 2 || sh.Kind != isa.OpShift || sh.Reg <= 15 || !sh.Known || c.ops[n-1].Kind != isa.OpReg || !c.plainRegs() || !known || op == "mov" || a.Carries {
		return // those that carry read the C that the shift sets
	}
	by, wrong := "#"+c.number(sh.Imm), isa.Flags(0)
	if a.Flags&isa.V == 0 {
		wrong = isa.C // which would be what is shifted out
	}
	c.shifted(sh.Shift, c.ops[n-1].Reg, c.opText(n-1), sh.Imm, by, n == 3 && c.ops[0].Reg != c.ops[1].Reg, wrong, func(reg isa.Reg, name string) string {
		ops, text := append(append([]isa.Operand{}, c.ops[:n-1]...), regOp(reg)), []string{}
		for i := range c.ops[:n-1] {
			text = append(text, c.opText(i))
		}
		spelt, _, ok := c.spelled(op, ops...)
		if !ok {
			return ""
		}
		return c.statement(spelt, append(text, name)...)
	})
}

// shiftIndex shifts the index of an access first.
func (c *rewriting) shiftIndex(m *isa.Operand) {
	load := c.item.Stmt.Mnemonic != nil && c.item.Stmt.Mnemonic.Writes(isa.T, 0)
	index := c.inCase(m.Index.String())
	c.shifted(m.Shift, m.Index, index, m.Imm, "#"+c.number(m.Imm), load && c.ops[0].Reg != m.Reg, 0, func(reg isa.Reg, name string) string {
		if _, ok := c.matches(c.name, c.ops[0], isa.Operand{Kind: isa.OpMem, Off: isa.OffReg, Reg: m.Reg, Index: reg}); !ok {
			return ""
		}
		return c.statement(c.name, c.opText(0), c.memory(c.inCase(m.Reg.String()), name))
	})
}

// shifted offers a shift of a register by a constant in front of what then writes: into
// the line's result where early says that nothing else needs that before, or another one.
func (c *rewriting) shifted(kind isa.Shift, of isa.Reg, ofText string, n int64, by string, early bool, wrong isa.Flags, then func(reg isa.Reg, name string) string) {
	shift := kind.String()
	write := func(reg isa.Reg, name string) []string {
		if _, ok := c.matches(c.flagSetting(shift), regOp(reg), regOp(of), immOp(n)); !ok {
			return nil
		}
		if second := then(reg, name); second != "" {
			return []string{c.statement(c.flagSetting(shift), name, ofText, by), second}
		}
		return nil
	}
	title := c.inCase(shift) + " into "
	if d := c.ops[0].Reg; early {
		if st := write(d, c.opText(0)); st != nil {
			c.add(candidate{title: title + c.opText(0) + " first", wrong: wrong, safe: true, edits: c.replace(st...)})
			return
		}
	}
	if regs, saved, ok := c.scratch(1, flow.RegBit(of)); ok {
		name := c.scratchName(regs[0])
		if st := write(regs[0], name); st != nil {
			c.detour(title+name+" first", wrong, regs, saved, st...)
		}
	}
}

// testEqual makes TEQ of two low registers, which T16 does not have, an EOR into a
// register that is free: N and Z are the same, and C and V stay.
func testEqual(c *rewriting) {
	if op, _, _ := c.operation(); op != "teq" || len(c.ops) != 2 || !lowReg(&c.ops[0]) || !lowReg(&c.ops[1]) {
		return
	}
	if regs, saved, ok := c.scratch(1, 0); ok {
		s := c.scratchName(regs[0])
		c.detour("compare by "+c.inCase("eor"), 0, regs, saved, c.copyBefore(s, c.opText(0), false), c.statement(c.flagSetting("eor"), s, c.opText(1)))
	}
}

func shiftFirst(c *rewriting) {
	op, _, _ := c.operation()
	n := len(c.ops) - 1
	a, known := isa.ArithmeticOf(op)
	if n < 2 || c.ops[n].Kind != isa.OpShift || c.ops[n-1].Kind != isa.OpReg || !known || op == "mov" || !c.plainRegs() {
		return
	}
	sh := &c.ops[n]
	by := regOp(sh.Reg)
	if sh.Reg > 14 {
		if !sh.Known {
			return
		}
		by = immOp(sh.Imm)
	}
	kind := sh.Shift.String()
	_, text, ok := strings.Cut(strings.TrimSpace(c.opText(n)), " ")
	m := c.ops[n-1]
	if !ok || m.Reg > 14 || c.ops[0].Reg == isa.PC {
		return
	}
	text = strings.TrimSpace(text)
	write := func(h isa.Reg, ht string) []string {
		ops, txt := append(append([]isa.Operand{}, c.ops[:n-1]...), regOp(h)), []string{}
		if !c.can(c.letter(op), ops...) || !c.can(kind, regOp(h), m, by) {
			return nil
		}
		for i := range c.ops[:n-1] {
			txt = append(txt, c.opText(i))
		}
		return []string{c.statementOf(kind, ht, c.opText(n-1), text), c.statementOf(c.letter(op), append(txt, ht)...)}
	}
	wrong := isa.Flags(0)
	if a.Flags&isa.V == 0 {
		wrong = isa.C // which would be what is shifted out
	}
	title := c.inCase(kind) + " into "
	if d := c.ops[0]; n == 3 && d.Reg != c.ops[1].Reg && d.Reg != isa.SP {
		if st := write(d.Reg, c.opText(0)); st != nil {
			c.add(candidate{title: title + c.opText(0) + " first", wrong: wrong, safe: true, edits: c.replace(st...)})
			return
		}
	}
	if regs, saved, ok := c.scratch(1, flow.RegBit(sh.Reg)); ok {
		s := c.scratchName(regs[0])
		if st := write(regs[0], s); st != nil {
			c.detour(title+s+" first", wrong, regs, saved, st...)
		}
	}
}
