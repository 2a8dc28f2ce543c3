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

// poolRewrites are the rewrites that are about literal pools and words near the code.
func poolRewrites() []Entry {
	return []Entry{
		{
			Name: "pool-copy", Title: "Load the same word from the literal pool",
			Before: UnifiedThumb + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, w\n\tbx lr\n",
			After:  UnifiedThumb + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, =7\n\tbx lr\n",
			apply:  poolCopy,
		},
		{
			Name: "pool-address", Title: "Take the address from the literal pool",
			Before: UnifiedThumb + "\tnop\n\tnop\nw:\t.word 7\nf:\tadr r0, w\n\tbx lr\n",
			After:  UnifiedThumb + "\tnop\n\tnop\nw:\t.word 7\nf:\tldr r0, =w\n\tbx lr\n",
			apply:  poolAddress,
		},
		{
			Name: "insert-pool", Title: "Place a literal pool within reach",
			Before: UnifiedThumb + "\tldr r0, =0x12345678\n\tbx lr\n\t.space 1100\n",
			After:  UnifiedThumb + "\tldr r0, =0x12345678\n\tbx lr\n\t.ltorg\n\t.space 1100\n",
			apply:  insertPool,
		},
		{
			Name: "branch-over-pool", Title: "Branch over the pool",
			Before: UnifiedThumb + "\tldr r0, =0x12345678\n\t.ltorg\n\tbx lr\n",
			After:  UnifiedThumb + "\tldr r0, =0x12345678\n\tb 1f\n\t.ltorg\n1:\n\tbx lr\n",
			apply:  branchOverPool,
		},
	}
}

func poolCopy(c *rewriting) {
	if strings.ToLower(c.name) != "ldr" {
		return
	}
	_, v, ok := c.targetValue()
	if !ok {
		return
	}
	d, arg := c.subject.WordAt(v)
	if d == nil || arg.IsStr || c.subject.stored(v) {
		return
	}
	text := c.subject.LineText(d)[arg.Start:arg.End]
	if arg.Expr != nil && strings.Contains(text, ".") && arg.Expr.Op != syntax.ExprSym {
		return // depends on its place
	}
	c.addWithPool(candidate{title: "load " + text + " from the literal pool",
		edits: c.replace(c.statement(c.name, c.opText(0), "="+text)), notes: []string{"a copy that does not follow later changes of the word"}})
}

// addWithPool adds a candidate that loads from the literal pool, and, where
// the pool that there is lies too far away, one that places another.
func (c *rewriting) addWithPool(k candidate) {
	c.add(k)
	if title, e := c.placePool(); e != nil {
		k.title += "; " + title
		k.edits = append(append([]finding.Edit{}, k.edits...), e...)
		k.fallback = true
		c.add(k)
	}
}

// stored says whether some store may change the word: it is in a section
// for data.
func (r *Subject) stored(v program.Value) bool {
	return v.Kind != program.Address || strings.HasPrefix(r.Sections[v.Section].Name, ".data") || strings.HasPrefix(r.Sections[v.Section].Name, ".bss")
}

func poolAddress(c *rewriting) {
	i, v, ok := c.targetValue()
	if !ok || v.Kind == program.Number {
		return
	}
	text := c.opText(i)
	d := c.opText(0)
	// A name that nothing here has may be misspelt, and only the linker would find out.
	known := v.Kind == program.Address || v.Symbol != nil && (v.Symbol.Defined || v.Symbol.Extern)
	// The linker sets bit 0 of the address of a Thumb function: nothing to load from.
	function := v.Symbol != nil && (v.Symbol.Function || v.Symbol.Auto)
	switch strings.ToLower(c.name) {
	case "adr":
		if c.environment.Mode == isa.A {
			c.add(candidate{title: "take the address of " + text + " in two steps by " + c.inCase("adrl"), safe: true, edits: c.replace(c.statement("adrl", d, text))})
		}
		c.addWithPool(candidate{title: "take the address of " + text + " from the literal pool", safe: known && !function,
			edits: c.replace(c.statement("ldr", d, "="+text))})
	case "ldr":
		var notes []string
		if c.diagnostic.Code == finding.CodeLitAlign {
			notes = []string{"misaligned"}
		} else if function {
			notes = []string{"misaligned where bit 0 of the address is set"}
		}
		c.addWithPool(candidate{title: "take the address of " + text + " from the literal pool, then load", safe: known && notes == nil, notes: notes,
			edits: c.replace(c.statement(c.name, d, "="+text), c.statement(c.name, d, "["+d+"]"))})
	}
}

// insertPool places a literal pool within reach of the load.
func insertPool(c *rewriting) {
	if c.item.Literal < 0 {
		return
	}
	if title, e := c.placePool(); e != nil {
		c.add(candidate{title: title, safe: true, edits: e})
	}
}

// placePool is the edit that places a pool at the last point within reach of
// the statement that execution never falls into, or right after it with a
// branch around.
func (c *rewriting) placePool() (title string, edits []finding.Edit) {
	if c.item.File != 0 {
		return "", nil
	}
	o := c.subject.Order[c.item.Section]
	best := int32(-1)
	reach := c.item.Offset + 1000
	if c.wide() {
		reach = c.item.Offset + 4000
	}
	for k := c.subject.Position(c.item); k < len(o); k++ {
		it := &c.subject.Items[o[k]]
		if it.Offset+it.Size > reach {
			break
		}
		if it.File == 0 && it.Stmt.Kind == syntax.Instruction && flow.NextOf(c.subject.Program, it) == flow.Stops && c.lastInLine(it) {
			best = it.Index
		}
	}
	directive := c.poolDirective()
	if best >= 0 {
		it := &c.subject.Items[best]
		return fmt.Sprintf("place a literal pool after line %d", it.Line+1),
			[]finding.Edit{c.insertAfter(int(it.Line), c.lineIndent(int(it.Line))+directive)}
	}
	if !c.lastInLine(c.item) {
		return "", nil
	}
	l := c.freeLocal()
	in := c.indent()
	return "branch over a literal pool placed here",
		[]finding.Edit{c.insertAfter(int(c.item.Line), in+c.statement("b", c.ahead(l))+c.lineEnd()+in+directive+c.lineEnd()+c.labelled(l))}
}

func branchOverPool(c *rewriting) {
	if c.item.Flags&program.HasPool == 0 {
		return
	}
	l := c.freeLocal()
	line := int(c.item.Line)
	if len(c.subject.File.Line(line).Stmts) != 1 {
		return
	}
	in := c.indent()
	c.add(candidate{title: "branch over the pool", safe: true, edits: []finding.Edit{
		c.insertBefore(line, in+c.inCase("b")+" "+c.ahead(l)), c.insertAfter(line, c.labelled(l))}})
}
