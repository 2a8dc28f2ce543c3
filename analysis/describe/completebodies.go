package describe

import (
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Completions in bodies of macros and repetitions, and in what a condition leaves out: what is in
// force there is that of an expansion, if there is one, and else not known.

// maxExpansions is how many expansions of a body are looked at for one that has the line.
const maxExpansions = 64

// maxBody bounds the lines of a body that are read for its labels, on each side of the place.
const maxBody = 2000

// place finds what is in force: that of a statement in the line, or what the last one
// above has left.
func (c *completing) place() {
	c.inMacro()
	at, exact, next, in := c.around()
	environment := c.Last
	if next >= 0 {
		environment = c.Items[next].Environment
	}
	c.item = itemOf(&syntax.Stmt{}, program.Item{}, environment)
	if at >= 0 {
		it := c.Items[at]
		if exact && it.Stmt.Kind != syntax.Label {
			c.item = itemOf(it.Stmt, it, it.Environment)
		} else {
			after := program.Item{File: it.File, Line: it.Line, Index: it.Index, Section: it.Section, Offset: it.Offset + int64(it.Size)}
			c.item = itemOf(it.Stmt, after, environment)
		}
	}
	c.environment = &c.Environments[c.item.Environment]
	if !exact || c.item.Stmt.Kind != syntax.Instruction {
		there := c.item
		there.Slot = c.slotAfter(at, exact)
		c.item = there
	}
	c.unsure = c.macro != nil && !in || c.left(exact, in)
}

// slotAfter is the place in an IT block of an instruction behind the one at an item, or in its
// place, where that is one that has still to be written.
func (c *completing) slotAfter(at int32, exact bool) program.Slot {
	if exact {
		at--
	}
	for n := 0; at >= 0 && n <= maxBlock; at-- {
		it := &c.Items[at]
		if b, ok := it.Match.Block(); ok {
			for ; n > 0; n-- {
				b.Next()
			}
			return program.PackSlot(b.Slot())
		}
		if it.Stmt.Kind == syntax.Instruction || it.Flags&program.Calls != 0 {
			n++
		}
	}
	return 0
}

// maxBlock is how many instructions an IT block has at most.
const maxBlock = 4

// around finds the items around the line: in the first expansion that has it, where it is in a
// body, and else in the file. in says which of the two it is.
func (c *completing) around() (at int32, exact bool, next int32, in bool) {
	line := int32(c.line)
	for i, id := range c.ExpansionsOf(c.file, line, maxExpansions) {
		if a, x, n := c.AroundIn(id, c.file, line); i == 0 || x {
			if at, exact, next, in = a, x, n, true; x {
				break
			}
		}
	}
	if in {
		return at, exact, next, true
	}
	at, next = -1, -1
	for i := range c.Items {
		it := &c.Items[i]
		if it.File != c.file {
			continue
		}
		if c.LineIn(c.file, it) > c.line {
			next = int32(i)
			break
		}
		at, exact = int32(i), c.LineIn(c.file, it) == c.line
	}
	return at, exact, next, false
}

// inMacro finds the macro that the line is in the body of, the innermost one.
func (c *completing) inMacro() {
	for _, m := range c.Macros {
		if m.File == c.file && int(m.Line) < c.line && c.line < int(m.End) && (c.macro == nil || c.macro.Line < m.Line) {
			c.macro, c.first, c.last = m, int(m.Line)+1, int(m.End)-1
		}
	}
}

// left says whether a condition leaves the line out.
func (c *completing) left(exact, in bool) bool {
	f := c.Sources[c.file].AsWritten()
	if in && !exact { // an expansion has all lines with statements but those
		l := f.Line(c.line)
		return len(l.Stmts) > 0 && l.Stmts[0].Kind == syntax.Instruction
	}
	start := f.LineStart(c.line)
	for _, x := range c.Excluded {
		if x.File == c.file && x.Span.Start <= start && start < x.Span.End {
			if c.macro == nil {
				c.first, c.last = f.LineAt(x.Span.Start), f.LineAt(x.Span.End)
			}
			return true
		}
	}
	return false
}

// states are the ones that the place may be in: that in force, and where that is not known the
// other instruction set, and that of IT blocks.
func (c *completing) states(width byte) []*isa.Query {
	q := c.query(width)
	out := []*isa.Query{q}
	if !c.unsure {
		return out
	}
	other := *q
	other.A32, other.IT = !q.A32, isa.Slot{}
	divided, unified := *q, other
	divided.Unified, unified.Unified = !q.Unified, !q.Unified
	thumb := q
	if q.A32 {
		thumb = &other
	}
	if thumb.Have.Has(isa.FeatT32) && !thumb.IT.In {
		for cond := isa.Cond(0); cond < isa.AL; cond++ {
			block := *thumb
			block.IT = isa.Slot{In: true, Last: true, Cond: cond}
			out = append(out, &block)
		}
	}
	return append(out, &other, &divided, &unified)
}

// unread says whether nobody knows what an operand will be: it has a macro's parameter, or a name
// that has no meaning where the place is not read.
func (c *completing) unread(o *syntax.Operand, text string) bool {
	if int(o.End) > len(text) || o.Start > o.End {
		return true
	}
	written := text[o.Start:o.End]
	return c.dialect == syntax.Columns && strings.ContainsRune(written, '$') ||
		c.bare(written) || strings.ContainsRune(written, '&') && c.alternate() || c.unsure && o.Kind == isa.OpExpr && o.Word != ""
}

// bare says whether a text is the name of a parameter of the macro around, where it needs no mark.
func (c *completing) bare(text string) bool {
	if c.macro == nil || !c.alternate() {
		return false
	}
	for _, p := range c.macro.Parameters {
		if strings.EqualFold(p.Name, text) {
			return true
		}
	}
	return false
}

// alternate says whether macros of the program may have parameters without a mark.
func (c *completing) alternate() bool {
	for i := range c.Items {
		if d := c.Items[i].Stmt.Directive; d != nil && d.Effect == syntax.EffAltmacro {
			return true
		}
	}
	return false
}

// parameters lists those of the macro around that need no backslash, as they are written.
func (c *completing) parameters() {
	mark := ""
	switch {
	case c.macro == nil:
		return
	case c.macro.Columns:
		mark = "$"
	case !c.alternate():
		return
	}
	for _, p := range c.macro.Parameters {
		c.offer(mark+p.Name, CompleteConstant, "parameter of "+c.macro.Name, rankLegal)
	}
}

// bodyLines visits the lines of the body around, or of what a condition leaves out, those that
// are near.
func (c *completing) bodyLines(visit func(n int, l *syntax.Line)) {
	if c.last == 0 {
		return
	}
	f := c.Sources[c.file].AsWritten()
	for n := max(c.first, c.line-maxBody); n <= min(c.last, c.line+maxBody, f.NumLines()-1); n++ {
		visit(n, f.Line(n))
	}
}

// bodyLabels lists the labels of the body as they are written.
func (c *completing) bodyLabels() {
	c.bodyLines(func(n int, l *syntax.Line) {
		if name := labelOf(l.Text); name != "" && n != c.line {
			c.offer(name, CompleteLabel, "", rankLegal)
		}
	})
}

// bodyRegisters lists the names that lines which are not read give to registers that are taken.
func (c *completing) bodyRegisters(takes func(isa.Reg) bool) {
	if !c.unsure {
		return
	}
	c.bodyLines(func(_ int, l *syntax.Line) {
		for i := range l.Stmts {
			s := &l.Stmts[i]
			if s.Kind != syntax.Directive || s.Directive.Effect != syntax.EffReq {
				continue
			}
			of := strings.Fields(l.Text[s.NameEnd:s.End])
			if len(of) == 0 {
				continue
			}
			if reg, ok := isa.RegByName(strings.ToLower(of[len(of)-1])); !ok || takes(reg) {
				c.offer(s.Name, CompleteRegister, of[len(of)-1], rankLegal)
			}
		}
	})
}

// labelOf is the name of the label that a line of a body begins with, also one that is made of
// parameters; "" without one.
func labelOf(text string) string {
	text = strings.TrimLeft(text, " \t")
	for i := 0; i < len(text); i++ {
		switch b := text[i]; {
		case program.IdentByte(b):
		case b == '\\' && i+1 < len(text):
			i++ // whatever is behind it
		case b == ')' && i > 0 && text[i-1] == '(':
		case b == ':' && i > 0 && (text[0] < '0' || text[0] > '9'):
			return text[:i]
		default:
			return ""
		}
	}
	return ""
}
