package rewrite

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// itRewrites are the rewrites about IT blocks.
func itRewrites() []Entry {
	const code = ".arch armv7-a\n" + UnifiedThumb
	return []Entry{
		{
			Name: "it-insert", Title: "Put the line into an IT block",
			Before: code + "\tcmp r0, #0\n\tmoveq r0, r1\n\tmovne r0, r2\n\tbx lr\n",
			After:  code + "\tcmp r0, #0\n\tite eq\n\tmoveq r0, r1\n\tmovne r0, r2\n\tbx lr\n",
			apply:  itInsert,
		},
		{
			Name: "it-condition", Title: "Use the condition of its place in the IT block",
			Before: code + "\tcmp r0, #0\n\tite eq\n\tmoveq r0, r1\n\tmov r0, r2\n\tbx lr\n",
			After:  code + "\tcmp r0, #0\n\tite eq\n\tmoveq r0, r1\n\tmovne r0, r2\n\tbx lr\n",
			apply:  itCondition,
		},
		{
			Name: "it-close", Title: "Close the IT block before it",
			Before: code + "\tcmp r0, #0\n\titt eq\n\tmoveq r0, r1\n\tcbz r0, 1f\n\tnop\n1:\tbx lr\n",
			After:  code + "\tcmp r0, #0\n\tit eq\n\tmoveq r0, r1\n\tcbz r0, 1f\n\tnop\n1:\tbx lr\n",
			apply:  itClose,
		},
		{
			Name: "it-last", Title: "Close the IT block after it",
			Before: code + "\tcmp r0, #0\n\titt eq\n\tbxeq lr\n\tnop\n\tbx lr\n",
			After:  code + "\tcmp r0, #0\n\tit eq\n\tbxeq lr\n\tnop\n\tbx lr\n",
			apply:  itLast,
		},
	}
}

// itInsert opens a block for the line and for those like it after.
func itInsert(c *rewriting) {
	cond, spelt := c.item.Stmt.Mnemonic.Cond()
	if !spelt || cond == isa.AL || c.item.Slot != 0 || c.item.File != 0 {
		return
	}
	name := "it"
	for n := c.subject.Following(c.item); n != nil && len(name) < 5 && n.Flags&program.Refused != 0 && n.Slot == 0 && n.Environment == c.item.Environment; n = c.subject.Following(n) {
		switch g, spelt := n.Stmt.Mnemonic.Cond(); {
		case spelt && g == cond:
			name += "t"
			continue
		case spelt && g == cond.Invert():
			name += "e"
			continue
		}
		break
	}
	s := c.item.Stmt
	if !c.lastInLine(c.item) || strings.TrimSpace(c.line[:s.Start]) != "" {
		c.add(candidate{title: "put it into an IT block", safe: true, named: true, edits: c.replace(c.inCase("it "+cond.String()), c.line[s.Start:s.End])})
		return
	}
	c.add(candidate{title: "put it into an IT block", safe: true, named: true,
		edits: []finding.Edit{c.insertBefore(int(c.item.Line), c.line[:s.Start]+c.inCase(name+" "+cond.String()))}})
}

// itCondition writes the condition of the slot into the name. The line may have been
// meant as it is, so that is never safe.
func itCondition(c *rewriting) {
	if n, ok := c.conditionedName(); ok {
		c.add(candidate{title: "write " + n, edits: []finding.Edit{c.rename(n)}})
	}
}

// conditionedName is the line's name with the condition of its slot in an IT block; ok
// is false where there is none that takes the operands.
func (c *rewriting) conditionedName() (name string, ok bool) {
	if c.item.Slot == 0 || c.item.Stmt.Mnemonic.OpensBlock() {
		return "", false
	}
	want := c.slotCond()
	low := strings.ToLower(c.name)
	width := ""
	if c.item.Stmt.Width != 0 {
		low, width = low[:len(low)-2], low[len(low)-2:]
	}
	if _, spelt := c.item.Stmt.Mnemonic.Cond(); spelt {
		low = low[:len(low)-2]
	}
	for _, n := range []string{low + want, strings.TrimSuffix(low, "s") + want} {
		if _, ok := c.matches(n+width, c.ops...); ok {
			return c.inCase(n + width), true
		}
	}
	return "", false
}

// meantInBlock says whether a line without a condition was most likely meant to have
// that of its slot: an IT line is written for the line below it, an E for another way
// to go. Where a T is left, a line that goes elsewhere, compares or saves registers
// looks like what comes after the block, and so does one with a label. (From
// experience, no source.)
func (c *rewriting) meantInBlock() bool {
	if _, spelt := c.item.Stmt.Mnemonic.Cond(); spelt {
		return false
	}
	if _, ok := c.conditionedName(); !ok {
		return false
	}
	by := c.subject.BlockOf(c.item)
	if x := c.subject.Following(by); x != nil && x.Index == c.item.Index || by.Match.Form == nil {
		return true
	}
	if block, ok := by.Match.Block(); ok && c.item.Slot.Unpack().Cond != block.Slot().Cond {
		return true
	}
	o := c.subject.Order[c.item.Section]
	if k := c.subject.Position(c.item); k > 0 && c.subject.Items[o[k-1]].Stmt.Kind == syntax.Label {
		return false
	}
	op, _, _ := c.operation()
	return !c.mayLeave() && !slices.Contains([]string{"cmp", "cmn", "tst", "teq", "push"}, op)
}

// slotCond is the condition of the line's slot, in the author's words: hs and lo
// where the IT line has one of them.
func (c *rewriting) slotCond() string {
	return condWord(c.subject.BlockOf(c.item), c.item.Slot.Unpack().Cond)
}

// secondWord has the other words for CS and CC (Arm ARM, "Conditional execution").
var secondWord = map[isa.Cond]string{2: "hs", 3: "lo"}

// condWord is the word for a condition beside an IT line.
func condWord(by *program.Item, cond isa.Cond) string {
	if cond>>1 == 1 && len(by.Stmt.Ops) == 1 {
		if w := strings.ToLower(by.Stmt.Ops[0].Word); w == "hs" || w == "lo" {
			return secondWord[cond]
		}
	}
	return cond.String()
}

func itClose(c *rewriting) {
	before := len(c.out)
	c.shorten(0, "close the IT block before it")
	if len(c.out) > before && c.meantInBlock() {
		k := &c.out[before]
		k.safe, k.late = false, 8
	}
}

func itLast(c *rewriting) { c.shorten(1, "close the IT block after it") }

// shorten ends the block of the line before it, or with keep = 1 after it.
func (c *rewriting) shorten(keep int, title string) {
	by := c.subject.BlockOf(c.item)
	if c.item.Slot == 0 || by.Index == c.item.Index {
		return
	}
	if by = c.subject.written(by); by == nil {
		return
	}
	n := keep
	for x := c.subject.Following(by); x != nil && x.Index != c.item.Index; x = c.subject.Following(x) {
		n++
	}
	start := c.subject.File.LineStart(int(by.Line))
	span := finding.Span{Start: start + int(by.Stmt.Start), End: start + int(by.Stmt.NameEnd)}
	name := by.Stmt.Name
	if n+1 >= len(name) {
		return
	}
	k := candidate{title: title, named: true, safe: true, edits: []finding.Edit{{Span: span, New: name[:n+1]}}}
	if n == 0 {
		// Nothing is left of it.
		k.title = "remove the IT line"
		k.edits[0] = finding.Edit{Span: finding.Span{Start: span.Start, End: start + int(by.Stmt.End)}, New: ""}
		f := c.subject.File
		l := f.Line(int(by.Line))
		if strings.TrimSpace(l.Text) == strings.TrimSpace(l.Text[by.Stmt.Start:by.Stmt.End]) && int(by.Line)+1 < f.NumLines() {
			k.edits[0].Span = finding.Span{Start: start, End: f.LineStart(int(by.Line) + 1)}
		}
	}
	c.add(k)
}
