package rewrite

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// branchRewrites are the rewrites that branch and call in another way.
func branchRewrites() []Entry {
	return []Entry{
		{
			Name: "skip-branch", Title: "Branch around the line on the opposite condition",
			Before: UnifiedThumb + "\taddseq r0, r0, #1\n\tbx lr\n",
			After:  UnifiedThumb + "\tbne 1f\n\tadds r0, r0, #1\n1:\n\tbx lr\n",
			apply:  skipBranch,
		},
		{
			Name: "invert-branch", Title: "Branch around a far branch on the opposite condition",
			Before: UnifiedThumb + "\tbeq far\n\t.space 300\nfar:\tbx lr\n",
			After:  UnifiedThumb + "\tbne 1f\n\tb far\n1:\n\t.space 300\nfar:\tbx lr\n",
			apply:  invertBranch,
		},
		{
			Name: "compare-branch", Title: "Compare with 0, then branch",
			Before: ".arch armv6-m\n" + UnifiedThumb + "f:\tcbz r0, f\n\tbx lr\n",
			After:  ".arch armv6-m\n" + UnifiedThumb + "f:\tcmp r0, #0\n\tbeq f\n\tbx lr\n",
			apply:  compareBranch,
		},
		{
			Name: "call-exchange", Title: "Call by BLX, which changes the state",
			Before: ".arch armv5te\n" + UnifiedThumb + "f:\tbl g\n\tbx lr\n\t.arm\ng:\tbx lr\n",
			After:  ".arch armv5te\n" + UnifiedThumb + "f:\tblx g\n\tbx lr\n\t.arm\ng:\tbx lr\n",
			apply:  callExchange,
		},
		{
			Name: "far-call", Title: "Branch by BL, which reaches further",
			Before: UnifiedThumb + "\tb far\n\t.space 3000\nfar:\tbx lr\n",
			After:  UnifiedThumb + "\tbl far\n\t.space 3000\nfar:\tbx lr\n",
			apply:  farCall,
		},
		{
			Name: "even-target", Title: "Make the target even",
			Before: UnifiedThumb + "\tb next+1\nnext:\tbx lr\n",
			After:  UnifiedThumb + "\tb next\nnext:\tbx lr\n",
			apply:  evenTarget,
		},
		{
			Name: "call-through", Title: "Call through a BX nearby",
			Before: UnifiedThumb + "\tpush {lr}\n\tblx r3\n\tpop {pc}\n",
			After:  UnifiedThumb + "\tpush {lr}\n\tbl 1f\n\tpop {pc}\n1:\tbx r3\n",
			apply:  narrow(callThrough),
		},
		{
			Name: "jump-through", Title: "Load the address, then jump by BX",
			Before: ".cpu arm7tdmi\n" + UnifiedThumb + "\tldr pc, =g\n",
			After:  ".cpu arm7tdmi\n" + UnifiedThumb + "\tldr r7, =g\n\tbx r7\n",
			apply:  narrow(jumpThrough),
		},
	}
}

func skipBranch(c *rewriting) {
	base, cond, ok := CondSplit(strings.ToLower(c.name))
	if !ok {
		return
	}
	_, fits := c.matches(base, c.ops...)
	if !fits && c.environment.Unified && setsFlags(base+"s") {
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
	c.add(candidate{title: "branch around it on " + strings.ToUpper(c.opposite(cond)), safe: true,
		edits: c.replace(c.statement("b"+c.opposite(cond), c.ahead(l)), c.statement(base, txt...), c.labelled(l))})
}

// opposite is the name of a condition's opposite, in the words of the line: who writes HS for CS
// writes LO for CC.
func (c *rewriting) opposite(cond isa.Cond) string { return oppositeOf(c.name, cond) }

func oppositeOf(name string, cond isa.Cond) string {
	other := cond.Invert().String()
	if name = strings.ToLower(name); strings.Contains(name, "hs") || strings.Contains(name, "lo") {
		switch other {
		case "cc":
			return "lo"
		case "cs":
			return "hs"
		}
	}
	return other
}

// targetValue evaluates the operand that names an address.
func (c *rewriting) targetValue() (i int, v program.Value, ok bool) {
	for i := range c.item.Stmt.Ops {
		o := &c.item.Stmt.Ops[i]
		if o.Kind == isa.OpExpr && c.ops[i].Kind == isa.OpExpr && (o.Word != "" || o.Expr != nil) {
			return i, c.subject.Value(o, c.item), true
		}
	}
	return 0, program.Value{}, false
}

func invertBranch(c *rewriting) {
	n := strings.ToLower(c.name)
	if other := map[string]string{"cbz": "cbnz", "cbnz": "cbz"}[n]; other != "" && len(c.ops) == 2 && !c.inBlock() {
		l := c.freeLocal()
		c.add(candidate{title: "branch around a far branch by " + c.inCase(other), safe: true, late: 1,
			edits: c.replace(c.statement(other, c.opText(0), c.ahead(l)), c.statement("b", c.opText(1)), c.labelled(l))})
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
	if d := v.N - c.item.Offset - 6; !c.wide() && v.Kind == program.Address && (d > 2046-4 || d < -2048) {
		far, note = "bl", []string{"changes lr"}
	}
	l := c.freeLocal()
	e := c.replace(c.statement("b"+c.opposite(cond), c.ahead(l)), c.statement(far, c.opText(i)), c.labelled(l))
	c.add(candidate{title: "branch around a far branch on " + strings.ToUpper(c.opposite(cond)), safe: note == nil, notes: note, edits: e})
}

func farCall(c *rewriting) {
	if strings.ToLower(c.name) != "b" {
		return
	}
	if i, _, ok := c.targetValue(); ok {
		c.add(candidate{title: "branch by " + c.inCase("bl"), notes: []string{"changes lr"}, edits: c.replace(c.statement("bl", c.opText(i)))})
	}
}

func callExchange(c *rewriting) {
	if i, _, ok := c.targetValue(); ok && strings.EqualFold(c.name, "bl") {
		c.add(candidate{title: "write " + c.inCase("blx"), safe: c.comesBackByExchange(), edits: c.replace(c.statement("blx", c.opText(i)))})
	}
}

// comesBackByExchange says whether the routine that a call names comes back by what
// changes the state: BX, or a load of PC. A move to PC stays in the routine's state
// before ARMv7 (DDI 0406, "BXWritePC").
func (c *rewriting) comesBackByExchange() bool {
	back, ok := c.subject.Returns(c.item)
	for _, it := range back {
		op, _, _ := it.Stmt.Mnemonic.Operation()
		ok = ok && op != "mov"
	}
	return ok
}

func evenTarget(c *rewriting) {
	i, _, ok := c.targetValue()
	if !ok {
		return
	}
	if e, rest, ok := c.lessOne(&c.item.Stmt.Ops[i]); ok {
		c.add(candidate{title: "branch to " + rest, safe: true, edits: []finding.Edit{e}})
	}
}

// callThrough makes of BLX, which came with ARMv5T, a BL to a BX of its own:
// BL leaves the return address in lr with bit 0 set, as BLX would. The BX
// is after the next instruction that never goes on. (Common practice.)
func callThrough(c *rewriting) {
	if n := strings.ToLower(c.name); n != "blx" && n != "bl" || len(c.ops) != 1 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg >= isa.LR || c.item.File != 0 {
		return
	}
	if _, ok := c.matches("blx", c.ops...); ok {
		c.add(candidate{title: "write " + c.inCase("blx"), safe: true, edits: []finding.Edit{c.rename(c.inCase("blx"))}})
		return
	}
	o := c.subject.Order[c.item.Section]
	for k := c.subject.Position(c.item) + 1; k < len(o); k++ {
		it := &c.subject.Items[o[k]]
		if it.File != 0 || it.Stmt.Kind != syntax.Instruction || flow.NextOf(c.subject.Program, it) != flow.Stops || !c.lastInLine(it) {
			continue
		}
		l := c.freeLocal()
		gap := "\t"
		if in := c.indent(); in != "" && len(l)+1 < len(in) && strings.Trim(in, " ") == "" {
			gap = in[len(l)+1:]
		}
		e := c.replace(c.statement("bl", c.ahead(l)))
		c.add(candidate{title: fmt.Sprintf("call through a BX after line %d", it.Line+1), safe: true,
			edits: append(e, c.insertAfter(int(it.Line), c.labelled(l)+gap+c.statement("bx", c.opText(0))))})
		return
	}
}

// jumpThrough makes a load of PC from the literal pool a load of a register that is free,
// and BX. The linker sets bit 0 of the address of a Thumb function; that of another label
// would leave Thumb state, so that it is not safe.
func jumpThrough(c *rewriting) {
	if c.base() != "ldr" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.ops[0].Reg != isa.PC || c.ops[1].Kind != isa.OpLit {
		return
	}
	regs, saved, ok := c.scratch(1, 0)
	if !ok || saved != 0 {
		// Nobody gives back after a jump what a push has saved.
		regs = []isa.Reg{7}
	}
	s := c.scratchName(regs[0])
	k := candidate{title: "load the address into " + s + ", then jump by " + c.inCase("bx"),
		edits: c.replace(c.statement("ldr", s, c.opText(1)), c.statement("bx", s))}
	if saved != 0 || !ok {
		k.notes = []string{"changes " + s}
	}
	v := c.subject.Value(&c.item.Stmt.Ops[1], c.item)
	k.safe = k.notes == nil && v.Kind == program.Address && v.Symbol != nil && v.Symbol.Function
	if !k.safe && k.notes == nil {
		k.notes = []string{"goes where bit 0 of the address says"}
	}
	c.add(k)
}

// compareBranch makes of CBZ a comparison and a branch, which set the flags.
func compareBranch(c *rewriting) {
	op, _, _ := c.operation()
	if op != "cbz" && op != "cbnz" || len(c.ops) != 2 || c.ops[0].Kind != isa.OpReg || c.inBlock() {
		return
	}
	cond := map[string]string{"cbz": "eq", "cbnz": "ne"}[op]
	c.offer("compare with 0, then branch", c.statement("cmp", c.opText(0), "#0"), c.statement("b"+cond, strings.TrimSpace(c.opText(1))))
}
