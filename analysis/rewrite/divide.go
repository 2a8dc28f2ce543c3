package rewrite

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// block is the IT line of the block that the line is in, and the line's place
// in it, from 0. ok is false where the block is not one of the root file.
func (c *rewriting) block() (by *program.Item, k int, ok bool) {
	by = c.subject.BlockOf(c.item)
	if by.Index == c.item.Index {
		return nil, 0, false
	}
	if by = c.subject.written(by); by == nil {
		return nil, 0, false
	}
	for x := c.subject.Following(by); x != nil && x.Index != c.item.Index; x = c.subject.Following(x) {
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
	at := c.subject.File.LineStart(int(by.Line)) + int(by.Stmt.Start) + k + 2
	return finding.Edit{Span: finding.Span{Start: at, End: at}, New: strings.Repeat(letter, more)}, true
}

// divide puts statements in the place of a line whose IT block has no room for them:
// the block ends before or after them, and another one takes the rest. Each
// instruction asks for its condition by itself, so two blocks do what one does.
func (c *rewriting) divide(stmts []string) []finding.Edit {
	by, k, ok := c.block()
	if !ok {
		return nil
	}
	// The conditions of the slots, and in front of which item each is.
	first, n := by.Stmt.Name, codeCount(stmts)
	var conds []isa.Cond
	var heads []*program.Item
	x := c.subject.Following(by)
	for range len(first) - 1 {
		if x == nil || x.Slot&program.SlotIn == 0 || x.File != 0 {
			return nil
		}
		more := 1
		if x.Index == c.item.Index {
			more = n
		}
		for range more {
			conds, heads = append(conds, x.Slot.Unpack().Cond), append(heads, x)
		}
		x = c.subject.Following(x)
	}
	for _, cut := range []int{k, k + n} {
		if cut < 1 || cut > 4 || cut >= len(conds) || len(conds)-cut > 4 {
			continue
		}
		head := c.subject.written(heads[cut])
		if head == nil {
			return nil
		}
		line := c.subject.File.Line(int(head.Line)).Text
		if strings.TrimSpace(line[:head.Stmt.Start]) != "" || !c.lastInLine(c.item) {
			return nil
		}
		above := c.subject.File.Line(int(by.Line)).Text
		second := c.blockName(first, conds[cut:])
		gap := " "
		if had := int(by.Stmt.Ops[0].Start - by.Stmt.NameEnd); had > 1 {
			gap = strings.Repeat(" ", max(had+len(first)-len(second), 1))
		}
		c.divided = true
		return append(c.replaceHere(stmts), c.subject.rename(by, above, c.blockName(first, conds[:cut])),
			c.insertBefore(int(head.Line), line[:head.Stmt.Start]+second+gap+c.inCase(condWord(by, conds[cut]))))
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
// number only.
func codeCount(stmts []string) (n int) {
	for _, s := range stmts {
		if !strings.HasSuffix(s, ":") && strings.Trim(s, "0123456789") != "" {
			n++
		}
	}
	return n
}

// inBlock says whether the line is in an IT block that the text has a line for.
func (c *rewriting) inBlock() bool {
	return c.item.Slot&program.SlotIn != 0 && c.item.Slot&program.SlotInserted == 0 && c.item.Stmt.Kind == syntax.Instruction
}
