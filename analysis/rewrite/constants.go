package rewrite

import (
	"fmt"
	"math"
	"math/bits"
	"strconv"
	"strings"

	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// constantRewrites are the rewrites that move a constant into a register in another way.
func constantRewrites() []Entry {
	return []Entry{
		{
			Name: "literal-load", Title: "Load the constant from the literal pool",
			Before: UnifiedThumb + "\tmovs r0, #0x1234\n\tbx lr\n",
			After:  UnifiedThumb + "\tldr r0, =0x1234\n\tbx lr\n",
			apply:  byWidth(literalLoad, (*rewriting).poolMove),
		},
		{
			Name: "address-load", Title: "Load the address",
			Before: ".arch armv7-m\n" + UnifiedThumb + "\t.data\ntable:\t.word 0\n\t.text\n\tmov r0, #table\n\tbx lr\n",
			After:  ".arch armv7-m\n" + UnifiedThumb + "\t.data\ntable:\t.word 0\n\t.text\n\tldr r0, =table\n\tbx lr\n",
			apply:  addressLoad,
		},
		{
			Name: "move-shift", Title: "Build the constant by a move and a shift",
			Before: UnifiedThumb + "\tmovs r0, #0x1000\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, #1\n\tlsls r0, r0, #12\n\tbx lr\n",
			apply:  narrow(moveShift),
		},
		{
			Name: "move-negate", Title: "Build the constant by a move and a negation",
			Before: UnifiedThumb + "\tmovs r0, #-5\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, #5\n\trsbs r0, r0, #0\n\tbx lr\n",
			apply:  narrow(moveNegate),
		},
		{
			Name: "move-invert", Title: "Build the constant by a move and an inversion",
			Before: UnifiedThumb + "\tmovs r0, #0xffffff00\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, #0xff\n\tmvns r0, r0\n\tbx lr\n",
			apply:  narrow(moveInvert),
		},
		{
			Name: "move-add", Title: "Build the constant in two steps",
			Before: UnifiedThumb + "\tmovs r0, #301\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, #255\n\tadds r0, #46\n\tbx lr\n",
			apply:  byWidth(moveAdd, (*rewriting).moveTwo),
		},
		{
			Name: "move-halves", Title: "Build the constant from two halves",
			Before: ".arch armv7-a\n" + UnifiedThumb + "\tmov r0, #0x12345678\n\tbx lr\n",
			After:  ".arch armv7-a\n" + UnifiedThumb + "\tmovw r0, #0x5678\n\tmovt r0, #0x1234\n\tbx lr\n",
			apply:  moveHalves,
		},
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
	if b != "mov" && b != "mvn" && b != "movw" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].Writeback {
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
			edits: c.replace(c.statement("ldr", c.opText(0), "="+text))})
		return
	}
	if v >= 0 && v < 256 && b == "mov" || c.ops[0].Reg == isa.PC {
		return // a move of the constant does it
	}
	if regs, saved, ok := c.scratch(1, 0); ok {
		s := c.inCase(regs[0].String())
		c.detour("load "+text+" from the literal pool through "+s, 0, regs, saved,
			c.statement("ldr", s, "="+text), c.statement("mov", c.opText(0), s))
	}
}

// addressLoad makes a load of a move whose constant is an address: the linker knows
// it, and gives MOVW and MOVT a half of it each.
func addressLoad(c *rewriting) {
	op, _, _ := c.operation()
	if b := c.base(); op != "movw" && op != "movt" {
		op = b
	}
	if op == "add" && len(c.ops) == 3 && c.ops[0].Kind == isa.OpReg && c.ops[1].Kind == isa.OpReg && c.ops[1].Reg == isa.PC && (c.item.Stmt.Ops[2].Word != "" || c.item.Stmt.Ops[2].Expr != nil) {
		// ADR is this addition, with the distance as constant (DDI 0406, "ADR").
		c.add(candidate{title: "take the address of " + c.exprText(2) + " by " + c.inCase("adr"), edits: c.replace(c.statementOf("adr", c.opText(0), c.exprText(2)))})
		return
	}
	if len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].Writeback || c.item.Stmt.Ops[1].Expr == nil && c.item.Stmt.Ops[1].Word == "" {
		return
	}
	text := c.exprText(1)
	half := wording.HalfOperator[op]
	switch {
	case half != "" && !strings.HasPrefix(text, ":"):
		c.add(candidate{title: "write #" + half + text, safe: true, edits: c.replace(c.statement(c.name, c.opText(0), "#"+half+text))})
	case op == "mov" && strings.HasPrefix(strings.ToLower(text), ":lower16:"):
		c.add(candidate{title: "write " + c.mnemonic("movw"), safe: true, edits: c.replace(c.statementOf("movw", c.opText(0), c.opText(1)))})
	case op == "mov" && !strings.HasPrefix(text, ":"):
		k := candidate{title: "load the address of " + text, safe: true, edits: c.replace(c.statementOf("ldr", c.opText(0), "="+text))}
		if y := c.subject.Direct(&c.item.Stmt.Ops[1]); y == nil || !y.Defined && !y.Extern {
			k.safe, k.notes = false, []string{"takes it for a name of another file"}
		}
		c.add(k)
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
	c.add(candidate{title: fmt.Sprintf("build %s as %s << %d", c.number(int64(u)), c.number(int64(u>>uint(m))), m), safe: true,
		edits: c.replace(c.statement(c.flagSetting("mov"), reg, "#"+c.number(int64(u>>uint(m)))), c.statement(c.flagSetting("lsl"), reg, reg, "#"+strconv.Itoa(m)))})
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
	c.add(candidate{title: fmt.Sprintf("build %s as the negative of %s", c.number(-n), c.number(n)), safe: true, late: late,
		edits: c.replace(c.statement(c.flagSetting("mov"), reg, "#"+c.number(n)), c.negate(reg))})
}

func moveInvert(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	u := ^uint32(v)
	if !ok || u > 255 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build it as the inverse of %s", c.number(int64(u))), safe: true,
		edits: c.replace(c.statement(c.flagSetting("mov"), reg, "#"+c.number(int64(u))), c.statement(c.flagSetting("mvn"), reg, reg))})
}

func moveAdd(c *rewriting) {
	reg, v, _, ok := c.moveConst()
	if !ok || v < 256 || v > 510 {
		return
	}
	c.add(candidate{title: fmt.Sprintf("build it as %s + %s", c.number(255), c.number(v-255)), safe: true,
		edits: c.replace(c.statement(c.flagSetting("mov"), reg, "#"+c.number(255)), c.statement(c.flagSetting("add"), reg, "#"+c.lessText(v, 255)))})
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
		return c.statementOf("mov", name, "#"+text), true
	case c.can("mvn", regOp(reg), immOp(int64(^v))):
		return c.statementOf("mvn", name, c.hash(^v)), true
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
		what := c.number(int64(x))
		if op == "mvn" {
			what, sign = "the inverse of "+what, "+"
		}
		b = building{what + " " + sign + " " + c.number(int64(y)), []string{c.statementOf(op, name, c.hash(x)), c.statementOf(op2, name, name, c.hash(y))}}
		return true
	}
	s := c.environment.Mode
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
	if i, n, ok := c.constOp(); ok && uint32(n) == v && c.item.Stmt.Ops[i].Word != "" && !c.columns() {
		low, high = "#"+c.exprText(i)+"&0xffff", "#"+c.exprText(i)+">>16"
	}
	return []string{c.statementOf("movw", name, low), c.statementOf("movt", name, high)}, true
}

// moves reads the line as a move of a constant into a register.
func (c *rewriting) moves() (v uint32, i int, ok bool) {
	op, _, _ := c.operation()
	if op != "mov" && op != "mvn" && op != "movw" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].Writeback || c.ops[0].Reg == isa.PC {
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
		c.add(candidate{title: "build it from two halves by " + c.inCase("movw") + " and " + c.inCase("movt"), safe: true, edits: c.replace(st...)})
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
			c.add(candidate{title: "write " + c.flagSetting("mov"), safe: true, edits: c.replace(c.statement(c.flagSetting("mov"), c.opText(0), "#"+c.exprText(i)))})
		}
		return
	}
	if s, ok := c.inOne(c.ops[0].Reg, c.opText(0), v, c.exprText(i)); ok {
		c.add(candidate{title: "move it without " + c.inCase("movw"), safe: true, edits: c.replace(s)})
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
	c.add(candidate{title: "load " + text + " from the literal pool", safe: true, late: 1, edits: c.replace(c.statementOf("ldr", c.opText(0), "="+text))})
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
	c.addWithPool(candidate{title: "load " + c.exprText(1) + " (" + bits + ") from the literal pool", safe: true, edits: c.replace(c.statementOf("vldr", c.opText(0), "="+bits))})
	return true
}
