package rewrite

import (
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/values"
	"narrowgauge/isa"
)

// thumbFunction is what the examples begin with: a function for others, on ARMv6-M.
const thumbFunction = ".arch armv6-m\n" + UnifiedThumb + "\t.global lamp\n\t.thumb_func\nlamp:\n"

// runningRewrites are those that cure what goes wrong when a program runs. The line does
// something else afterwards, which is what they are for: none is safe.
func runningRewrites() []Entry {
	return []Entry{
		{
			Name: "return-by-bx", Title: "Go there by BX, which changes the state",
			Before: ".arch armv4t\n" + UnifiedThumb + "\t.global lamp\n\t.thumb_func\nlamp:\n\tpush {r4, lr}\n\tbl set\n\tpop {r4, pc}\n\t.arm\nset:\n\tbx lr\n",
			After:  ".arch armv4t\n" + UnifiedThumb + "\t.global lamp\n\t.thumb_func\nlamp:\n\tpush {r4, lr}\n\tbl set\n\tpop {r4}\n\tpop {r3}\n\tbx r3\n\t.arm\nset:\n\tbx lr\n",
			apply:  returnByBX,
		},
		{
			Name: "call-by-blx", Title: "Call by BLX, which makes the return address",
			Before: thumbFunction + "\tpush {r4, lr}\n\tmov lr, pc\n\tbx r1\n\tpop {r4, pc}\n",
			After:  thumbFunction + "\tpush {r4, lr}\n\tblx r1\n\tpop {r4, pc}\n",
			apply:  callByBLX,
		},
		{
			Name: "save-link", Title: "Save the return address in the routine",
			Before: thumbFunction + "\tmovs r0, #1\n\tbl set\n\tbx lr\n",
			After:  thumbFunction + "\tpush {r4, lr}\n\tmovs r0, #1\n\tbl set\n\tpop {r4, pc}\n",
			apply:  saveLink,
		},
		{
			Name: "save-register", Title: "Save the registers that a function keeps",
			Before: thumbFunction + "\tmovs r4, #1\n\tstrb r4, [r0]\n\tbx lr\n",
			After:  thumbFunction + "\tpush {r4}\n\tmovs r4, #1\n\tstrb r4, [r0]\n\tpop {r4}\n\tbx lr\n",
			apply:  saveRegisters,
		},
		{
			Name: "balance-stack", Title: "Give back what is on the stack",
			Before: thumbFunction + "\tpush {r4, lr}\n\tsub sp, #8\n\tbl set\n\tpop {r4, pc}\n",
			After:  thumbFunction + "\tpush {r4, lr}\n\tsub sp, #8\n\tbl set\n\tadd sp, #8\n\tpop {r4, pc}\n",
			apply:  balanceStack,
		},
		{
			Name: "compare-last", Title: "Compare right before the branch",
			Before: thumbFunction + "\tcmp r0, #4\n\tmovs r1, #0\n\tbhi 1f\n\tmovs r0, #0\n1:\tbx lr\n",
			After:  thumbFunction + "\tmovs r1, #0\n\tcmp r0, #4\n\tbhi 1f\n\tmovs r0, #0\n1:\tbx lr\n",
			apply:  compareLast,
		},
		{
			Name: "keep-flags", Title: "Keep the flags of the compare",
			Before: thumbFunction + "\tcmp r0, #4\n\tmovs r1, r2\n\tbhi 1f\n\tmovs r0, #0\n1:\tbx lr\n",
			After:  thumbFunction + "\tcmp r0, #4\n\tmov r1, r2\n\tbhi 1f\n\tmovs r0, #0\n1:\tbx lr\n",
			apply:  keepFlags,
		},
		{
			Name: "align-datum", Title: "Align the data that the line reads",
			Before: thumbFunction + "\tldr r1, =aspects\n\tldr r0, [r1]\n\tbx lr\n\t.section .rodata\n\t.balign 4\n\t.byte 1\naspects:\n\t.hword 2, 3\n",
			After:  thumbFunction + "\tldr r1, =aspects\n\tldr r0, [r1]\n\tbx lr\n\t.section .rodata\n\t.balign 4\n\t.byte 1\n\t.align 2\naspects:\n\t.hword 2, 3\n",
			apply:  alignDatum,
		},
	}
}

// at is the rewriting of another line for the same finding; nil where it is not in the text
// of the root file alone.
func (c *rewriting) at(it *program.Item) *rewriting {
	w := c.subject.written(it)
	if w == nil || it.Slot&program.SlotIn != 0 || !c.lastInLine(it) {
		return nil
	}
	x := c.subject.rewriting(it, c.diagnostic)
	x.item = w
	return x
}

// suffix is the condition in the name of the line.
func (c *rewriting) suffix() string {
	if _, _, cond := c.item.Stmt.Mnemonic.Operation(); cond != isa.AL {
		return cond.String()
	}
	return ""
}

// pops is the list that a line loads off the stack; ok is false for another line.
func (c *rewriting) pops() (list isa.RegList, ok bool) {
	op, _, _ := c.item.Stmt.Mnemonic.Operation()
	switch n := len(c.ops) - 1; {
	case n < 0 || c.ops[n].Kind != isa.OpList:
		return 0, false
	case n == 0:
		return c.ops[n].List, op == "pop"
	default:
		return c.ops[n].List, n == 1 && strings.HasPrefix(op, "ldm") && (op == "ldm" || strings.HasSuffix(op, "ia") || strings.HasSuffix(op, "fd")) && c.ops[0].Reg == isa.SP && strings.Contains(c.opText(0), "!")
	}
}

// pushes is the same for a line that stores.
func (c *rewriting) pushes() (list isa.RegList, ok bool) {
	op, _, _ := c.item.Stmt.Mnemonic.Operation()
	switch n := len(c.ops) - 1; {
	case n < 0 || c.ops[n].Kind != isa.OpList:
		return 0, false
	case n == 0:
		return c.ops[n].List, op == "push"
	default:
		return c.ops[n].List, n == 1 && (strings.HasSuffix(op, "db") || strings.HasSuffix(op, "fd")) && strings.HasPrefix(op, "stm") && c.ops[0].Reg == isa.SP && strings.Contains(c.opText(0), "!")
	}
}

// withList is a line that loads or stores a list with another one.
func (c *rewriting) withList(list isa.RegList) string {
	ops := []string{c.inCase(list.String())}
	if len(c.ops) == 2 {
		ops = append([]string{c.opText(0)}, ops...)
	}
	return c.statement(c.name, ops...)
}

// stackLine is a line that pushes or pops a list, in the words of the syntax in force.
func (c *rewriting) stackLine(name string, list isa.RegList) string {
	if c.environment.Mode == isa.A && !c.environment.Unified {
		return c.statement(map[string]string{"push": "stmfd", "pop": "ldmfd"}[name], "sp!", c.inCase(list.String()))
	}
	return c.statement(name, c.inCase(list.String()))
}

// loadsExchange says whether a load of pc changes the state on the target, or the core has
// one only.
func (c *rewriting) loadsExchange() bool {
	return c.environment.Have.Has(isa.FeatV5T) || c.environment.Have.Has(isa.FeatM)
}

// returnByBX goes to an address by BX that a line writes to pc.
func returnByBX(c *rewriting) {
	if len(c.ops) == 0 || c.inBlock() {
		return
	}
	bx := "bx" + c.suffix()
	op, _, _ := c.item.Stmt.Mnemonic.Operation()
	list, isPop := c.pops()
	switch {
	case isPop && list.Has(isa.PC) && c.environment.Mode == isa.A && !list.Has(isa.LR):
		c.add(candidate{title: "return by bx lr", named: true, edits: c.replace(c.withList(list&^(1<<isa.PC)|1<<isa.LR), c.statement(bx, c.inCase("lr")))})
	case isPop && list.Has(isa.PC) && c.environment.Mode == isa.T:
		for r := isa.Reg(3); r > 0; r-- {
			if !list.Has(r) {
				stmts := c.popAndBX(list&^(1<<isa.PC), r)
				c.add(candidate{title: "return by bx " + r.String(), named: true, notes: []string{"changes " + r.String()}, edits: c.replace(stmts...)})
				return
			}
		}
	case op == "mov" && len(c.ops) == 2 && c.ops[0].Reg == isa.PC && c.ops[1].Kind == isa.OpReg:
		c.add(candidate{title: "write bx", named: true, edits: c.replace(c.statement(bx, c.opText(1)))})
	case op == "ldr" && len(c.ops) == 2 && c.ops[0].Reg == isa.PC && c.ops[1].Kind == isa.OpMem && c.ops[1].Reg == isa.SP && c.ops[1].Post:
		c.add(candidate{title: "return by bx lr", named: true, edits: c.replace(c.statement(c.name, c.inCase("lr"), c.opText(1)), c.statement(bx, c.inCase("lr")))})
	case op == "ldr" && len(c.ops) == 2 && c.ops[0].Reg == isa.PC:
		r := c.scratchName(12)
		c.add(candidate{title: "load the address, then bx", named: true, notes: []string{"changes " + r}, edits: c.replace(c.statement(c.name, r, c.opText(1)), c.statement(bx, r))})
	}
}

// popAndBX is a return in T16 code on cores where POP keeps the state.
func (c *rewriting) popAndBX(list isa.RegList, r isa.Reg) (stmts []string) {
	if list != 0 {
		stmts = append(stmts, c.stackLine("pop", list))
	}
	return append(stmts, c.stackLine("pop", 1<<r), c.statement("bx", c.inCase(r.String())))
}

// callByBLX calls by BLX where a line above makes the return address.
func callByBLX(c *rewriting) {
	if !c.environment.Have.Has(isa.FeatV5T) || len(c.ops) != 1 || c.ops[0].Kind != isa.OpReg || len(c.diagnostic.Related) == 0 || c.inBlock() {
		return
	}
	l := c.diagnostic.Related[0].Location
	by := c.subject.ItemAt(l.Span.Start)
	if l.Path != c.subject.Path || by == nil || by.Section != c.item.Section {
		return
	}
	w := c.at(by)
	if w == nil || by.Match.Form == nil || by.Match.Effects().Writes != 1<<isa.LR || len(c.subject.File.Line(int(w.item.Line)).Stmts) != 1 {
		return
	}
	c.add(candidate{title: "call by blx", named: true, edits: append([]finding.Edit{w.remove()}, c.rename(c.inCase("blx"+c.suffix())))})
}

// remove takes the statement out, and its line if no comment is in it.
func (c *rewriting) remove() finding.Edit {
	f := c.subject.File
	n := int(c.item.Line)
	if at := f.LineStart(n); strings.TrimSpace(c.line[c.item.Stmt.End:]) != "" {
		return finding.Edit{Span: finding.Span{Start: at + int(c.item.Stmt.Start), End: at + int(c.item.Stmt.End)}}
	}
	return c.removeLine()
}

// removeLine takes the line out.
func (c *rewriting) removeLine() finding.Edit {
	f := c.subject.File
	n := int(c.item.Line)
	end := f.LineStart(n) + len(f.Line(n).Text)
	if n+1 < f.NumLines() {
		end = f.LineStart(n + 1)
	}
	return finding.Edit{Span: finding.Span{Start: f.LineStart(n), End: end}}
}

// saveLink saves the return address where the routine begins, and returns by it; where it is
// saved, it takes it off the stack.
func saveLink(c *rewriting) {
	if !c.returnBySaved() {
		c.saveAround(1<<isa.LR, "save lr in the routine")
	}
}

// returnBySaved takes what a routine still has on the stack off it where it returns, the return
// address among it: registers of the caller, as a push has put them there. It is false where
// something else is there.
func (c *rewriting) returnBySaved() bool {
	line, ok := c.subject.Known().At(c.item)
	if !ok || c.inBlock() || c.suffix() != "" {
		return false
	}
	sp, ok := line.Before.Regs[isa.SP].Is(isa.SP)
	if !ok || !line.Before.OnStack(isa.LR) {
		return false
	}
	list, all := saved(&line, sp)
	if !all || !list.Has(isa.LR) {
		return false
	}
	const title = "return by the address on the stack"
	if above := c.above(); above != nil {
		if popped, isPop := above.pops(); isPop && popped&^(1<<isa.PC) == popped && popped < list&-list {
			c.add(candidate{title: title, named: true, edits: above.popMore(c, list)})
			return true
		}
	}
	c.add(candidate{title: title, named: true, edits: c.replace(c.popReturn(list)...)})
	return true
}

// saved are the registers of the caller, LR and those that a function keeps, that the stack has
// from sp on as a push puts them there. all says that nothing else is there, up to where the
// routine began.
func saved(line *flow.Line, sp int32) (list isa.RegList, all bool) {
	next := sp
	line.Before.Slots(func(at int32, w values.Word) {
		if at == next && at < 0 && w.Base.Kind == values.Entry && w.Val == 0 && (w.Base.Reg >= 4 && w.Base.Reg < 12 || w.Base.Reg == isa.LR) && list>>w.Base.Reg == 0 {
			list |= 1 << w.Base.Reg
			next += 4
		}
	})
	return list, next == 0
}

// above is the instruction in the line above, without a condition; nil: there is none.
func (c *rewriting) above() *rewriting {
	order := c.subject.Order[c.item.Section]
	k := slices.Index(order, c.item.Index)
	if k < 1 {
		return nil
	}
	it := &c.subject.Items[order[k-1]]
	if it.File != c.item.File || it.Match.Form == nil || it.Match.Effects().Conditional {
		return nil
	}
	return c.at(it)
}

// saveRegisters saves what the function has to keep.
func saveRegisters(c *rewriting) {
	line, ok := c.subject.Known().At(c.item)
	if !ok || line.End == nil {
		return
	}
	var list isa.RegList
	for r := isa.Reg(4); r < 12; r++ {
		if w := line.End.Regs[r]; strings.Contains(c.diagnostic.Message, r.String()) && (w.Base.Kind != values.Entry || w.Base.Reg != r || w.Val != 0) {
			list |= 1 << r
		}
	}
	if list != 0 {
		c.saveAround(list, "save "+strings.Trim(list.String(), "{}")+" in the routine")
	}
}

// saveAround pushes more registers where the routine of the line begins, and pops them where
// it returns. Lines that count from sp, other than pushes and pops, may mean what the caller
// has on the stack: then nothing is offered.
func (c *rewriting) saveAround(list isa.RegList, title string) {
	line, ok := c.subject.Known().At(c.item)
	if !ok {
		return
	}
	base := line.Before.Regs[isa.SP].Base
	if base.Kind != values.Entry {
		return
	}
	first := c.subject.Known().Entry(base)
	sum, ok := c.subject.RoutineAt(first, true)
	if !ok || !sum.Known || len(sum.Items) == 0 || sum.Items[0] != first {
		return
	}
	start := c.at(first)
	if start == nil {
		return
	}
	had, pushes := start.pushes()
	edits, ok := c.popAll(sum.Items, list, had, pushes)
	if !ok {
		return
	}
	if pushes {
		edits = append(edits, start.replaceHere([]string{start.withList(had | list)})...)
	} else {
		if list == 1<<isa.LR {
			list |= 1 << 4 // an even number keeps the stack a multiple of 8 (AAPCS32, 6.2.1.2)
		}
		edits = append(edits, start.replaceHere([]string{start.stackLine("push", list), start.text()})...)
	}
	slices.SortFunc(edits, func(a, b finding.Edit) int { return a.Span.Start - b.Span.Start })
	c.add(candidate{title: title, named: true, edits: edits})
}

// text is the statement as written.
func (c *rewriting) text() string { return c.line[c.item.Stmt.Start:c.item.Stmt.End] }

// popAll are the edits by which each return of a routine takes more registers off the stack;
// had are those that it pushes, if it pushes some first.
func (c *rewriting) popAll(items []*program.Item, list, had isa.RegList, pushes bool) (edits []finding.Edit, ok bool) {
	n := 0
	for k, it := range items {
		w := c.at(it)
		if it.Match.Form == nil || w == nil {
			return nil, false
		}
		e := it.Match.Effects()
		popped, isPop := w.pops()
		_, isPush := w.pushes()
		back := e.Writes.Has(isa.PC) || e.Flow == isa.FlowReg && !e.Writes.Has(isa.LR)
		switch {
		case isPush && k == 0, isPop && !popped.Has(isa.PC) && k+1 < len(items) && pushes && popped == had:
			continue
		case (e.Reads | e.Writes).Has(isa.SP) && !(isPop && popped.Has(isa.PC)), back && e.Conditional:
			return nil, false
		case !back:
			continue
		}
		n++
		if isPop { // pop {…, pc}
			if !pushes || popped&^(1<<isa.PC) != had&^(1<<isa.LR) || list.Has(isa.LR) {
				return nil, false
			}
			edits = append(edits, w.replaceHere([]string{w.withList(popped | list)})...)
			continue
		}
		if !e.Reads.Has(isa.LR) || e.ReadsMem {
			return nil, false
		}
		all := list
		if pushes {
			above := c.at(items[max(k-1, 0)])
			if above == nil {
				return nil, false
			}
			if popped, isPop := above.pops(); !isPop || popped != had {
				return nil, false
			}
			edits = append(edits, above.popMore(w, list)...)
			continue
		}
		if list == 1<<isa.LR {
			all |= 1 << 4
		}
		edits = append(edits, w.replaceHere(w.popReturn(all))...)
	}
	return edits, n > 0
}

// popMore takes more registers off the stack by a pop and the return after it.
func (c *rewriting) popMore(back *rewriting, list isa.RegList) []finding.Edit {
	popped, _ := c.pops()
	lr := isa.RegList(1 << isa.LR)
	with := func(l isa.RegList) []finding.Edit { return c.replaceHere([]string{c.withList(popped | l)}) }
	switch {
	case !list.Has(isa.LR), c.environment.Mode == isa.A && !c.loadsExchange():
		return with(list)
	case c.loadsExchange() && len(c.subject.File.Line(int(back.item.Line)).Stmts) == 1:
		return append(with(list&^lr|1<<isa.PC), back.remove())
	}
	return append(with(list&^lr), back.replaceHere(back.popAndBX(0, 3))...)
}

// popReturn takes registers off the stack and returns, if LR is among them by what was in it.
func (c *rewriting) popReturn(list isa.RegList) []string {
	lr := isa.RegList(1 << isa.LR)
	switch {
	case !list.Has(isa.LR):
		return []string{c.stackLine("pop", list), c.text()}
	case c.loadsExchange():
		return []string{c.stackLine("pop", list&^lr|1<<isa.PC)}
	case c.environment.Mode == isa.A:
		return []string{c.stackLine("pop", list), c.statement("bx", c.inCase("lr"))}
	}
	return c.popAndBX(list&^lr, 3)
}

// balanceStack gives back, in front of a return, what the routine has on the stack.
func balanceStack(c *rewriting) {
	line, ok := c.subject.Known().At(c.item)
	if !ok || line.End == nil || c.inBlock() || c.suffix() != "" {
		return
	}
	off, ok := line.End.Regs[isa.SP].Is(isa.SP)
	sp, known := line.Before.Regs[isa.SP].Is(isa.SP)
	if !ok || !known || off >= 0 || off&3 != 0 {
		return
	}
	if _, isPop := c.pops(); !isPop { // what is there may be registers of the caller
		if list, all := saved(&line, sp); list != 0 && all && !list.Has(isa.LR) {
			c.add(candidate{title: "pop what is pushed", named: true, edits: c.replace(c.stackLine("pop", list), c.text())})
			return
		}
	}
	n := strconv.Itoa(int(-off))
	add := c.statement("add", c.inCase("sp"), "#"+n)
	if c.environment.Mode == isa.A {
		add = c.statement("add", c.inCase("sp"), c.inCase("sp"), "#"+n)
	}
	c.add(candidate{title: "give back " + n + " bytes of the stack", named: true, edits: c.replace(add, c.text())})
}

// flagged are a compare, the lines after it, and the branch that is to read its flags; nil
// where there is no such row of lines.
func (c *rewriting) flagged() (compare *program.Item, between []*program.Item, branch *program.Item) {
	compare = c.item
	if c.diagnostic.Code == finding.CodeFlagsOfTwo {
		if l := c.diagnostic.Related; len(l) == 0 || l[0].Path != c.subject.Path {
			return nil, nil, nil
		}
		compare = c.subject.ItemAt(c.diagnostic.Related[0].Span.Start)
	}
	if compare == nil || compare.Match.Form == nil {
		return nil, nil, nil
	}
	order := c.subject.Order[compare.Section]
	for _, i := range order[c.subject.Position(compare)+1:] {
		it := &c.subject.Items[i]
		if it.Stmt.Kind != syntax.Instruction || it.Match.Form == nil || it.Slot&program.SlotIn != 0 || len(between) > 8 {
			return nil, nil, nil
		}
		e := it.Match.Effects()
		if e.Flow == isa.FlowBranch && e.FlagsRead != 0 {
			return compare, between, it
		}
		if e.Flow != isa.FlowNext || e.Writes.Has(isa.PC) || e.FlagsRead != 0 {
			return nil, nil, nil
		}
		between = append(between, it)
	}
	return nil, nil, nil
}

// compareLast moves a compare down to its branch, past lines that keep what it compares.
func compareLast(c *rewriting) {
	compare, between, branch := c.flagged()
	if compare == nil || len(between) == 0 {
		return
	}
	reads := compare.Match.Effects().Reads
	if slices.ContainsFunc(between, func(it *program.Item) bool { return it.Match.Effects().Writes&reads != 0 }) {
		return
	}
	from, to := c.at(compare), c.at(branch)
	if from == nil || to == nil || len(c.subject.File.Line(int(from.item.Line)).Stmts) != 1 || len(c.subject.File.Line(int(to.item.Line)).Stmts) != 1 {
		return
	}
	text := c.subject.File.Line(int(from.item.Line)).Text
	c.add(candidate{title: "compare right before the branch", named: true, edits: []finding.Edit{from.removeLine(), c.insertBefore(int(to.item.Line), text)}})
}

// keepFlags writes the lines between a compare and its branch without the S that sets flags.
func keepFlags(c *rewriting) {
	compare, between, _ := c.flagged()
	if compare == nil || !c.environment.Unified {
		return
	}
	var edits []finding.Edit
	for _, it := range between {
		if it.Match.Effects().FlagsWritten == 0 {
			continue
		}
		w := c.at(it)
		if w == nil {
			return
		}
		name := strings.TrimSuffix(strings.TrimSuffix(w.name, "s"), "S")
		if _, letter, _ := it.Stmt.Mnemonic.Operation(); !letter || name == w.name {
			return
		}
		edits = append(edits, w.rename(name))
	}
	c.add(candidate{title: "keep the flags of the compare", named: true, edits: edits})
}

// alignDatum aligns the data at an address that a line accesses.
func alignDatum(c *rewriting) {
	line, ok := c.subject.Known().At(c.item)
	if !ok {
		return
	}
	for _, a := range line.Touches {
		if a.Addr.Base.Kind != values.Section {
			continue
		}
		for _, i := range c.subject.Order[a.Addr.Base.ID] {
			it := &c.subject.Items[i]
			if it.Stmt.Kind != syntax.Directive || it.Size == 0 || it.Offset != int64(int32(a.Addr.Val)) {
				continue
			}
			w := c.subject.written(it)
			if w == nil {
				return
			}
			at := int(w.Line)
			for at > 0 {
				if l := c.subject.File.Line(at - 1); len(l.Stmts) != 1 || l.Stmts[0].Kind != syntax.Label {
					break
				}
				at--
			}
			power := "2"
			if a.Size == 2 {
				power = "1"
			}
			align := c.alignDirective(power)
			c.add(candidate{title: "align the data with " + align, named: true, edits: []finding.Edit{c.insertBefore(at, c.subject.directiveIndent(at)+align)}})
			return
		}
	}
}
