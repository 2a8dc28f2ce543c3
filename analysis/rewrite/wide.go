package rewrite

import (
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// The rewrites for A32 code and for the compact state where it has encodings of
// full width: any register, the flags only where the name says so, and conditions
// on every line. Each is a part of a registration in rewrites.go.

// wide says whether the line is of such code.
func (c *rewriting) wide() bool {
	return c.env.Mode == isa.A || c.env.Full() && c.env.Have.Has(isa.FeatT32)
}

// byWidth is a rewrite that goes another way where instructions are wide.
func byWidth(t16, wide func(*rewriting)) func(*rewriting) {
	return func(c *rewriting) {
		if c.wide() {
			wide(c)
		} else {
			t16(c)
		}
	}
}

// narrow is a rewrite for T16 code alone.
func narrow(t16 func(*rewriting)) func(*rewriting) {
	return byWidth(t16, func(*rewriting) {})
}

// operation takes the line's name apart, see [isa.Mnemonic.Operation].
func (c *rewriting) operation() (op string, sets bool, cond isa.Cond) {
	if c.it.Stmt.Mnem == nil {
		return c.base(), false, isa.AL
	}
	return c.it.Stmt.Mnem.Operation()
}

// ins spells an operation, with its flag letter, under the line's condition.
func (c *rewriting) ins(op string) string {
	if !c.wide() {
		return op
	}
	_, _, cond := c.operation()
	m, _ := isa.Find(op)
	if m == nil {
		return op
	}
	with := m.With(cond, c.env.Unified)
	if other := secondWord[cond]; other != "" && c.saysCond(other, cond) {
		if i := strings.LastIndex(with, cond.String()); i >= 0 {
			with = with[:i] + other + with[i+len(other):]
		}
	}
	return with
}

// saysCond says whether the line's name has another word for its condition than the
// first one.
func (c *rewriting) saysCond(word string, cond isa.Cond) bool {
	op, sets, _ := c.operation()
	if sets {
		op += "s"
	}
	low := strings.ToLower(c.name)
	if c.it.Stmt.Width != 0 {
		low = low[:len(low)-2]
	}
	m, _ := isa.Find(op)
	return m != nil && strings.Contains(low, word) && low != m.With(cond, c.env.Unified)
}

// do writes a statement of an operation under the line's condition.
func (c *rewriting) do(op string, ops ...string) string { return c.stmt(c.ins(op), ops...) }

// can says whether an operation takes the operands here, under the line's condition.
func (c *rewriting) can(op string, ops ...isa.Operand) bool {
	_, ok := c.matches(c.ins(op), ops...)
	return ok
}

// letter is the operation with the flag letter that the line has.
func (c *rewriting) letter(op string) string {
	if _, sets, _ := c.operation(); sets {
		return op + "s"
	}
	return op
}

func immOp(v int64) isa.Operand { return isa.Operand{Kind: isa.OpImm, Imm: v, Known: true} }

// memOp is a memory operand without index, at an offset from a base register.
func memOp(base isa.Reg, off int64) isa.Operand {
	if off == 0 {
		return isa.Operand{Kind: isa.OpMem, Reg: base}
	}
	return isa.Operand{Kind: isa.OpMem, Off: isa.OffImm, Reg: base, Imm: off, Known: true}
}

// memText writes what memOp is.
func (c *rewriting) memText(base string, off int64) string {
	if off == 0 {
		return c.mem(base, "")
	}
	return c.mem(base, "#"+c.num(off))
}

// hash writes a constant as an operand.
func (c *rewriting) hash(v uint32) string { return "#" + c.num(int64(v)) }

// scratchName names a register that is not in the line.
func (c *rewriting) scratchName(r isa.Reg) string {
	if t := c.r.File.Text(); r == 12 && !flow.HasWord(t, "r12") && !flow.HasWord(t, "R12") {
		return c.cs("ip")
	}
	return c.cs(r.String())
}

// bits writes a constant whose bits matter.
func (c *rewriting) bits(v uint32) string { return "#0x" + strconv.FormatUint(uint64(v), 16) }

// plainRegs says whether all operands but the last are registers without '!'.
func (c *rewriting) plainRegs() bool {
	for i := range c.ops[:len(c.ops)-1] {
		if c.ops[i].Kind != isa.OpReg || c.ops[i].WB {
			return false
		}
	}
	return true
}

// building is a way to put a constant into a register.
type building struct {
	title string // "as 0x100 + 1"
	steps []string
}

// inOne is the single instruction that puts v into a register.
func (c *rewriting) inOne(reg isa.Reg, name string, v uint32, text string) (string, bool) {
	switch {
	case c.can("mov", regOp(reg), immOp(int64(v))):
		return c.do("mov", name, "#"+text), true
	case c.can("mvn", regOp(reg), immOp(int64(^v))):
		return c.do("mvn", name, c.hash(^v)), true
	}
	return "", false
}

// inTwo builds v by two constants of data processing. Where the line sets flags,
// so does the last step.
func (c *rewriting) inTwo(reg isa.Reg, name string, v uint32, letter func(string) string) (b building, ok bool) {
	r := regOp(reg)
	try := func(op string, x uint32, op2 string, y uint32, sign string) bool {
		op2 = letter(op2)
		if !c.can(op, r, immOp(int64(x))) || !c.can(op2, r, r, immOp(int64(y))) {
			return false
		}
		what := c.num(int64(x))
		if op == "mvn" {
			what, sign = "the inverse of "+what, "+"
		}
		b = building{what + " " + sign + " " + c.num(int64(y)), []string{c.do(op, name, c.hash(x)), c.do(op2, name, name, c.hash(y))}}
		return true
	}
	s := c.env.Mode
	if x, y, ok := s.Sum(v); ok && try("mov", x, "orr", y, "+") {
		return b, true
	}
	if x, y, ok := s.Difference(v); ok && try("mov", x, "sub", y, "-") {
		return b, true
	}
	if x, y, ok := s.Sum(^v); ok && try("mvn", x, "bic", y, "-") {
		return b, true
	}
	return b, false
}

// inHalves builds v by MOVW and MOVT, where they exist.
func (c *rewriting) inHalves(reg isa.Reg, name string, v uint32) (steps []string, ok bool) {
	r := regOp(reg)
	lo, hi := v&0xffff, v>>16
	if !c.can("movw", r, immOp(int64(lo))) || !c.can("movt", r, immOp(int64(hi))) {
		return nil, false
	}
	low, high := c.bits(lo), c.bits(hi)
	if i, n, ok := c.constOp(); ok && uint32(n) == v && c.it.Stmt.Ops[i].Word != "" && !c.columns() {
		low, high = "#"+c.exprText(i)+"&0xffff", "#"+c.exprText(i)+">>16"
	}
	return []string{c.do("movw", name, low), c.do("movt", name, high)}, true
}

// moves reads the line as a move of a constant into a register.
func (c *rewriting) moves() (v uint32, i int, ok bool) {
	op, _, _ := c.operation()
	if op != "mov" && op != "mvn" && op != "movw" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].WB || c.ops[0].Reg == isa.PC {
		return 0, 0, false
	}
	i, n, ok := c.constOp()
	if !ok || i != 1 || n < -1<<31 || n >= 1<<32 {
		return 0, 0, false
	}
	v = uint32(n)
	if op == "mvn" {
		v = ^v
	}
	return v, i, true
}

// moveTwo is moveAdd for code of full width.
func (c *rewriting) moveTwo() {
	v, _, ok := c.moves()
	if !ok {
		return
	}
	if b, ok := c.inTwo(c.ops[0].Reg, c.opText(0), v, c.letter); ok {
		late := 0
		if _, ok := c.inHalves(c.ops[0].Reg, c.opText(0), v); ok {
			late = 1
		}
		c.add(candidate{title: "build it as " + b.title, safe: true, late: late, edits: c.replace(b.steps...)})
	}
}

// moveHalves builds the constant of a move by MOVW and MOVT.
func moveHalves(c *rewriting) {
	v, _, ok := c.moves()
	if !ok {
		return
	}
	if st, ok := c.inHalves(c.ops[0].Reg, c.opText(0), v); ok {
		c.add(candidate{title: "build it from two halves by " + c.cs("movw") + " and " + c.cs("movt"), safe: true, edits: c.replace(st...)})
	}
}

// moveOne writes a move that needs no other instruction, but another name: MOVW
// with a constant that MOV has as well.
func moveOne(c *rewriting) {
	v, i, ok := c.moves()
	if op, _, _ := c.operation(); !ok || op != "movw" {
		return
	}
	if !c.wide() {
		if lowReg(&c.ops[0]) && v < 256 {
			c.add(candidate{title: "write " + c.mn("mov"), safe: true, edits: c.replace(c.stmt(c.mn("mov"), c.opText(0), "#"+c.exprText(i)))})
		}
		return
	}
	if s, ok := c.inOne(c.ops[0].Reg, c.opText(0), v, c.exprText(i)); ok {
		c.add(candidate{title: "move it without " + c.cs("movw"), safe: true, edits: c.replace(s)})
	}
}

// poolMove is literalLoad for code of full width.
func (c *rewriting) poolMove() {
	if c.floatMove() {
		return
	}
	v, i, ok := c.moves()
	if !ok {
		return
	}
	text := c.exprText(i)
	if op, _, _ := c.operation(); op == "mvn" {
		text = "0x" + strconv.FormatUint(uint64(v), 16)
	}
	c.add(candidate{title: "load " + text + " from the literal pool", safe: true, late: 1, edits: c.replace(c.do("ldr", c.opText(0), "="+text))})
}

// floatMove is poolMove for a constant of floating point. It says whether the line
// moves one.
func (c *rewriting) floatMove() bool {
	op, _, _ := c.operation()
	op, kind, _ := strings.Cut(op, ".")
	if op != "vmov" || len(c.ops) != 2 || c.ops[1].Kind != isa.OpFloat {
		return false
	}
	x, err := strconv.ParseFloat(c.exprText(1), 64)
	letter, _, ok := isa.VectorReg(c.ops[0].Word)
	if err != nil || !ok {
		return true
	}
	bits := ""
	switch {
	case letter == 's' && (kind == "f32" || kind == ""):
		bits = fmt.Sprintf("0x%x", math.Float32bits(float32(x)))
	case letter == 'd' && kind == "f64":
		bits = fmt.Sprintf("0x%x", math.Float64bits(x))
	default:
		return true
	}
	c.addWithPool(candidate{title: "load " + c.exprText(1) + " (" + bits + ") from the literal pool", safe: true, edits: c.replace(c.do("vldr", c.opText(0), "="+bits))})
	return true
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
	// In an IT block assemblers take a plain constant by another name alone, see grownAdd.
	named := func(op string, n int64) string {
		if _, ok := c.env.Mode.Constant(uint32(n)); !ok && c.it.Slot != 0 && c.env.Mode == isa.T && !strings.HasSuffix(op, "s") {
			return op + "w"
		}
		return op
	}
	if op := named(letter(op), n); n != 0 && c.can(op, d, s, immOp(n)) {
		if strings.HasSuffix(op, "w") {
			title = "write " + c.ins(op)
		}
		return []string{c.do(op, dt, st, "#"+c.constText(n))}, title, true
	}
	two := func(x, y int64, op2 string) bool {
		first, last := named(op, x), named(letter(op2), y)
		if x == 0 || y == 0 || !c.can(first, d, s, immOp(x)) || !c.can(last, d, d, immOp(y)) {
			return false
		}
		steps = []string{c.do(first, dt, st, "#"+c.num(x)), c.do(last, dt, dt, "#"+c.num(y))}
		title = fmt.Sprintf("%s in two steps, %s and %s", op, c.num(x), c.num(y))
		if op2 != op {
			title = fmt.Sprintf("%s %s, then %s %s", op, c.num(x), op2, c.num(y))
		}
		return true
	}
	if two(n&^0xfff, n&0xfff, op) {
		return steps, title, true
	}
	if x, y, ok := c.env.Mode.Sum(uint32(n)); ok && two(int64(x), int64(y), op) {
		return steps, title, true
	}
	if x, y, ok := c.env.Mode.Difference(uint32(n)); ok && dest != isa.SP && two(int64(x), int64(y), back) {
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
				title = "write " + c.cs(op[:3])
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
	x, y, ok := c.env.Mode.Sum(u)
	if !ok || !c.can(op, regOp(d), regOp(n), immOp(int64(x))) || !c.can(c.letter(op), regOp(d), regOp(d), immOp(int64(y))) {
		return
	}
	c.add(candidate{title: fmt.Sprintf("%s in two steps, %s and %s", op, c.num(int64(x)), c.num(int64(y))), safe: true,
		edits: c.replace(c.do(op, dt, nt, c.hash(x)), c.do(c.letter(op), dt, dt, c.hash(y)))})
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
		c.offer("write "+c.ins("uxth"), c.do("uxth", dt, nt))
	case u&(u+1) == 0 && u != 0 && c.can("ubfx", d, n, immOp(0), immOp(int64(keep))):
		c.offer(fmt.Sprintf("extract the lowest %d bits by %s", keep, c.ins("ubfx")), c.do("ubfx", dt, nt, "#0", fmt.Sprintf("#%d", keep)))
	case d.Reg == n.Reg && clear>>lsb == 1<<width-1 && c.can("bfc", d, immOp(int64(lsb)), immOp(int64(width))):
		c.offer(fmt.Sprintf("clear the %d bits by %s", width, c.ins("bfc")), c.do("bfc", dt, fmt.Sprintf("#%d", lsb), fmt.Sprintf("#%d", width)))
	}
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
	return append(out, []string{c.do("ldr", name, "="+text)})
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
			emit("put "+text+" into "+ht, append(st, c.do(c.letter(op), txt...)))
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

// reaching is a line that accesses memory at an offset from a register.
type reaching struct {
	op    string
	m     *isa.Operand
	at    int   // operand index of the memory operand, the last
	off   int64 // in bytes
	index bool  // the offset is a register, perhaps shifted
	load  bool
	into  isa.Reg // the first register that a load writes and that can hold an address, else NoReg
}

// reach reads the line as such an access.
func (c *rewriting) reach() (x reaching, ok bool) {
	x.op, _, _ = c.operation()
	x.at = len(c.ops) - 1
	x.into = isa.NoReg
	if x.at < 1 {
		return x, false
	}
	x.m = &c.ops[x.at]
	switch {
	case x.m.Kind != isa.OpMem || x.m.Reg > 14 || x.m.Vec.Count != 0:
		return x, false
	case x.m.Off == isa.OffReg || x.m.Off == isa.OffShift:
		x.index = true
	case x.m.Off != isa.OffImm || !x.m.Known || x.m.Imm < -1<<31 || x.m.Imm >= 1<<31:
		return x, false
	}
	switch {
	case strings.HasPrefix(x.op, "vldr"):
		x.load = true
	case strings.HasPrefix(x.op, "vstr"), strings.HasPrefix(x.op, "str"):
	case strings.HasPrefix(x.op, "ldr"):
		x.load = true
		if r := &c.ops[0]; r.Kind == isa.OpReg && r.Reg < isa.LR && r.Reg != isa.SP {
			x.into = r.Reg
		}
	default:
		return x, false
	}
	if x.op[0] != 'v' && !c.plainRegs() || strings.HasSuffix(x.op, "t") {
		return x, false
	}
	x.off = x.m.Imm
	return x, true
}

// with writes the access with another memory operand; ok is false where there is no
// such form.
func (c *rewriting) with(x *reaching, m isa.Operand, text string) (string, bool) {
	ops := append([]isa.Operand{}, c.ops...)
	ops[x.at] = m
	if !c.can(x.op, ops...) {
		return "", false
	}
	txt := make([]string, len(ops))
	for i := range txt {
		txt[i] = c.opText(i)
	}
	txt[x.at] = text
	name := c.name
	if c.it.Stmt.Width != 0 {
		name = name[:len(name)-2]
	}
	return c.stmt(name, txt...), true
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
	below, above := c.env.Mode.NearConstants(uint32(n))
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
	if !ok || x.m.WB || x.m.Post {
		return
	}
	base := c.baseText()
	write := func(t isa.Reg, tt string) (st []string, step int64) {
		if x.index {
			sum, ok := c.indexed(&x, t, tt)
			access, ok2 := c.with(&x, memOp(t, 0), c.mem(tt, ""))
			if !ok || !ok2 {
				return nil, 0
			}
			return []string{sum, access}, 0
		}
		for _, step := range c.parts(x.off) {
			op, n := "add", step
			if step < 0 {
				op, n = "sub", -step
			}
			if step == 0 || !c.can(op, regOp(t), regOp(x.m.Reg), immOp(n)) {
				continue
			}
			if access, ok := c.with(&x, memOp(t, x.off-step), c.memText(tt, x.off-step)); ok {
				text := c.num(n)
				if step == x.off && x.off > 0 {
					text = c.partText(&x)
				}
				return []string{c.do(op, tt, base, "#"+text), access}, step
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
	if ok && saved == 0 || x.load || x.m.Reg == isa.SP || slices.ContainsFunc(c.ops[:x.at], func(o isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg == x.m.Reg }) {
		return
	}
	// There and back leaves no scratch register behind.
	if st, step := write(x.m.Reg, base); st != nil && !x.index {
		if back, _, ok := c.addConst(x.m.Reg, x.m.Reg, base, base, -step, plain); ok && len(back) == 1 {
			c.add(candidate{title: "step " + base + " there and back", safe: true, edits: c.replace(append(st, back...)...)})
		}
	}
}

// indexed is the sum of base and index register, put into t.
func (c *rewriting) indexed(x *reaching, t isa.Reg, tt string) (string, bool) {
	op := "add"
	text := strings.TrimLeft(c.partText(x), "+")
	if x.m.Minus {
		op, text = "sub", strings.TrimSpace(strings.TrimPrefix(text, "-"))
	}
	ops := []isa.Operand{regOp(t), regOp(x.m.Reg), regOp(x.m.Index)}
	if x.m.Off == isa.OffShift {
		ops = append(ops, isa.Operand{Kind: isa.OpShift, Shift: x.m.Shift, Reg: isa.NoReg, Imm: x.m.Imm, Known: true})
	}
	if x.m.Reg == isa.PC || x.m.Index == isa.PC || t == isa.PC || !c.can(op, ops...) {
		return "", false
	}
	return c.do(op, tt, c.baseText(), text), true
}

// partText is the offset as written.
func (c *rewriting) partText(x *reaching) string {
	loc := c.r.PartLoc(c.it, x.at, isa.PartOffset)
	start := c.r.File.LineStart(int(c.it.Line))
	return strings.TrimSpace(strings.TrimLeft(syntax.WithoutComments(c.line[loc.Span.Start-start:loc.Span.End-start]), "#$ "))
}

// offsetIn is offsetRegister for code of full width.
func (c *rewriting) offsetIn() {
	x, ok := c.reach()
	if !ok || x.m.WB || x.m.Post || x.index {
		return
	}
	write := func(t isa.Reg, tt string) []string {
		m := isa.Operand{Kind: isa.OpMem, Off: isa.OffReg, Reg: x.m.Reg, Index: t}
		access, ok := c.with(&x, m, c.mem(c.baseText(), tt))
		if !ok {
			return nil
		}
		return append(c.loads(t, tt, uint32(x.off), c.partText(&x))[0], access)
	}
	// A pair must not be loaded over its own index.
	if x.into != isa.NoReg && x.into != x.m.Reg && !strings.HasSuffix(x.op, "d") {
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
	if !ok || !x.m.WB && !x.m.Post || x.m.Post && c.mayLeave() {
		return
	}
	for i := range c.ops[:x.at] {
		if c.ops[i].Kind == isa.OpReg && c.ops[i].Reg == x.m.Reg {
			return // unpredictable as it stands
		}
	}
	base := c.baseText()
	access, ok := c.with(&x, memOp(x.m.Reg, 0), c.mem(base, ""))
	if !ok {
		return
	}
	var st []string
	if x.index {
		if x.load && x.m.Post && slices.ContainsFunc(c.ops[:x.at], func(o isa.Operand) bool { return o.Kind == isa.OpReg && o.Reg == x.m.Index }) {
			return // the load overwrites the step
		}
		one, can := c.indexed(&x, x.m.Reg, base)
		st, ok = []string{one}, can
	} else {
		st, _, ok = c.addConst(x.m.Reg, x.m.Reg, base, base, x.off, plain)
	}
	if !ok {
		return
	}
	title := "step " + base + " in a separate instruction"
	if x.m.Post {
		st = append([]string{access}, st...)
	} else {
		st = append(st, access)
	}
	c.add(candidate{title: title, safe: true, edits: c.replace(st...)})
}

// dropWidth takes .n or .w off a name that has no encoding of that width.
func dropWidth(c *rewriting) {
	if c.it.Stmt.Width == 0 {
		return
	}
	name := c.name[:len(c.name)-2]
	if _, ok := c.matches(name, c.ops...); !ok {
		return
	}
	c.add(candidate{title: "leave out " + c.name[len(name):], safe: true, edits: []finding.Edit{c.rename(name)}})
}

// block is the IT line of the block that the line stands in, and the line's place
// in it, from 0. ok is false where the block is not one of the root file.
func (c *rewriting) block() (by *program.Item, k int, ok bool) {
	by = c.r.BlockOf(c.it)
	if by.Id == c.it.Id || by.File != 0 {
		return nil, 0, false
	}
	for x := c.r.Following(by); x != nil && x.Id != c.it.Id; x = c.r.Following(x) {
		k++
	}
	return by, k, k <= len(by.Stmt.Name)-2
}

// widen makes room in the IT block of the line for more instructions in its place.
// ok is false where that does not go: four is the most.
func (c *rewriting) widen(more int) (e finding.Edit, ok bool) {
	by, k, ok := c.block()
	if !ok || len(by.Stmt.Name)-1+more > 4 {
		return finding.Edit{}, false
	}
	name := by.Stmt.Name
	letter := "t"
	if k > 0 {
		letter = name[k+1 : k+2]
	} else if strings.ToUpper(name) == name {
		letter = "T"
	}
	at := c.r.File.LineStart(int(by.Line)) + int(by.Stmt.Start) + k + 2
	return finding.Edit{Span: finding.Span{Start: at, End: at}, New: strings.Repeat(letter, more)}, true
}

// divide puts statements in the place of a line whose IT block has no room for them:
// the block ends before or behind them, and another one takes the rest. Each
// instruction asks for its condition by itself, so two blocks do what one does.
func (c *rewriting) divide(stmts []string) []finding.Edit {
	by, k, ok := c.block()
	if !ok {
		return nil
	}
	// The conditions of the slots, and in front of which item each stands.
	first, n := by.Stmt.Name, codeCount(stmts)
	var conds []isa.Cond
	var heads []*program.Item
	x := c.r.Following(by)
	for range len(first) - 1 {
		if x == nil || x.Slot&program.SlotIn == 0 || x.File != 0 {
			return nil
		}
		more := 1
		if x.Id == c.it.Id {
			more = n
		}
		for range more {
			conds, heads = append(conds, x.Slot.Unpack().Cond), append(heads, x)
		}
		x = c.r.Following(x)
	}
	for _, cut := range []int{k, k + n} {
		if cut < 1 || cut > 4 || cut >= len(conds) || len(conds)-cut > 4 {
			continue
		}
		head := heads[cut]
		line := c.r.File.Line(int(head.Line)).Text
		if strings.TrimSpace(line[:head.Stmt.Start]) != "" || !c.lastInLine(c.it) {
			return nil
		}
		above := c.r.File.Line(int(by.Line)).Text
		second := c.blockName(first, conds[cut:])
		gap := " "
		if had := int(by.Stmt.Ops[0].Start - by.Stmt.NameEnd); had > 1 {
			gap = strings.Repeat(" ", max(had+len(first)-len(second), 1))
		}
		c.divided = true
		return append(c.replaceHere(stmts), c.r.rename(by, above, c.blockName(first, conds[:cut])),
			c.insertBefore(int(head.Line), line[:head.Stmt.Start]+second+gap+c.cs(condWord(by, conds[cut]))))
	}
	return nil
}

// blockName is the name of an IT line for the conditions, in the case of another.
func (c *rewriting) blockName(like string, conds []isa.Cond) string {
	name := "it"
	for _, x := range conds[1:] {
		if x == conds[0] {
			name += "t"
		} else {
			name += "e"
		}
	}
	if strings.ToUpper(like) == like {
		return strings.ToUpper(name)
	}
	return name
}

// codeCount counts the statements that are instructions: a label ends in ':', or is the
// number alone.
func codeCount(stmts []string) (n int) {
	for _, s := range stmts {
		if !strings.HasSuffix(s, ":") && strings.Trim(s, "0123456789") != "" {
			n++
		}
	}
	return n
}

// inBlock says whether the line stands in an IT block that the text has a line for.
func (c *rewriting) inBlock() bool {
	return c.it.Slot&program.SlotIn != 0 && c.it.Slot&program.SlotInserted == 0 && c.it.Stmt.Kind == syntax.Instruction
}

// shiftFirst takes a shift out of an operand that cannot have it there: one by a
// register, which T32 has in no other operation, or one by more than it takes.
func shiftFirst(c *rewriting) {
	op, _, _ := c.operation()
	n := len(c.ops) - 1
	if !c.wide() || n < 2 || c.ops[n].Kind != isa.OpShift || c.ops[n-1].Kind != isa.OpReg || flow.SetBy(op) == 0 || op == "mov" || !c.plainRegs() {
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
		return []string{c.do(kind, ht, c.opText(n-1), text), c.do(c.letter(op), append(txt, ht)...)}
	}
	wrong := isa.Flags(0)
	if flow.SetBy(op)&isa.V == 0 {
		wrong = isa.C // which would be what is shifted out
	}
	title := c.cs(kind) + " into "
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
