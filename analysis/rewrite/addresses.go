package rewrite

import (
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// addressRewrites are the rewrites that put places and addresses right.
func addressRewrites() []Entry {
	return []Entry{
		{
			Name: "align", Title: "Align the data or code",
			Before: "\t.byte 1\nt:\t.word 2\n",
			After:  "\t.byte 1\n\t.align 2\nt:\t.word 2\n",
			apply:  alignHere,
		},
		{
			Name: "set-state-bit", Title: "Set bit 0 of the address",
			Before: UnifiedThumb + "\tldr r0, =t\n\tbx r0\nt:\tbx lr\n",
			After:  UnifiedThumb + "\tldr r0, =t+1\n\tbx r0\nt:\tbx lr\n",
			apply:  setStateBit,
		},
		{
			Name: "mark-function", Title: "Mark the label as a T16 function",
			Before: UnifiedThumb + "\tldr r0, =t\n\tbx r0\nt:\tbx lr\n",
			After:  UnifiedThumb + "\tldr r0, =t\n\tbx r0\n\t.thumb_func\nt:\tbx lr\n",
			apply:  markFunction,
		},
		{
			Name: "clear-state-bit", Title: "Clear bit 0 of the address",
			Before: ".syntax unified\n\t.arm\nt:\tbx lr\n\t.thumb\nf:\tldr r0, =t+1\n\tbx r0\n",
			After:  ".syntax unified\n\t.arm\nt:\tbx lr\n\t.thumb\nf:\tldr r0, =t\n\tbx r0\n",
			apply:  clearStateBit,
		},
	}
}

// alignHere puts an alignment before the label, or before the line when no
// label is in front.
func alignHere(c *rewriting) {
	line := int(c.item.Line)
	f := c.subject.File
	n := "2"
	switch c.diagnostic.Code {
	case finding.CodeCodeAlign:
		if c.environment.Mode == isa.T && c.item.Offset%2 != 0 {
			n = "1"
		}
	case finding.CodeDataAlign:
		if c.item.Stmt.Kind == syntax.Directive && c.item.Stmt.Directive.Unit == 2 {
			n = "1"
		}
	case finding.CodeLitAlign:
		_, v, ok := c.targetValue()
		if !ok || v.Kind != program.Address || v.Symbol == nil || v.Symbol.Item < 0 || v.N != v.Symbol.Value.N {
			return
		}
		d := &c.subject.Items[v.Symbol.Item]
		if d.File != 0 || c.environment.Mode == isa.A && c.item.Branches() && v.Symbol.Mode == isa.T {
			return // that branch would run T16 code as A32 code
		}
		line = int(d.Line)
	}
	// Labels on lines of their own belong to what follows.
	for line > 0 && c.diagnostic.Code != finding.CodeLitAlign {
		l := f.Line(line - 1)
		if len(l.Stmts) == 1 && l.Stmts[0].Kind == syntax.Label {
			line--
			continue
		}
		break
	}
	in := c.subject.directiveIndent(line)
	align := c.alignDirective(n)
	c.add(candidate{title: "align with " + align, safe: true, edits: []finding.Edit{c.insertBefore(line, in+align)}})
}

// setStateBit adds 1 to an address of T16 code. Where the address has its 1 and a line
// below adds another, the first is one too many.
func setStateBit(c *rewriting) {
	o, text := c.address(finding.WantsSet)
	switch {
	case o == nil:
	case c.diagnostic.Odd && c.diagnostic.Added == 1:
		if e, rest, ok := c.lessOne(o); ok {
			c.add(candidate{title: "leave out the 1 that is added below, too: write \"" + rest + "\"", edits: []finding.Edit{e}})
		}
	case c.diagnostic.Odd:
		// What the lines below do to it is wrong, not the address.
	case strings.EqualFold(c.name, "adr") && c.environment.Mode == isa.T:
		c.add(candidate{title: "add 1 to the address", safe: !c.diagnostic.Shared,
			edits: c.replace(c.line[c.item.Stmt.Start:c.item.Stmt.End], c.statement(c.flagSetting("add"), c.opText(0), "#1"))})
	default:
		end := c.diagnostic.Span.End
		c.add(candidate{title: "set bit 0: write \"" + text + "+1\"", safe: !c.diagnostic.Shared, edits: []finding.Edit{{Span: finding.Span{Start: end, End: end}, New: "+1"}}})
	}
}

// markTarget marks the target of a branch of A32 code as a function: then the linker makes the
// change of state. What it comes back by has to change it, too.
func (c *rewriting) markTarget() {
	_, v, ok := c.targetValue()
	if !ok || c.environment.Mode != isa.A || !c.item.Branches() {
		return
	}
	s := v.Symbol
	if s == nil || !s.Label || s.Mode != isa.T || s.Item < 0 || c.subject.Items[s.Item].File != 0 || c.subject.File.Dialect().Words() {
		return
	}
	line := int(c.subject.Items[s.Item].Line)
	c.add(candidate{title: "mark " + s.Name + " by .thumb_func, and the linker changes the state", safe: false,
		edits: []finding.Edit{c.insertBefore(line, c.subject.directiveIndent(line)+".thumb_func")}})
}

// clearStateBit takes out the 1 in an address of A32 code.
func clearStateBit(c *rewriting) {
	o, _ := c.address(finding.WantsClear)
	if o == nil || !c.diagnostic.Odd {
		return
	}
	if e, rest, ok := c.lessOne(o); ok {
		c.add(candidate{title: "clear bit 0: write \"" + rest + "\"", safe: !c.diagnostic.Shared, edits: []finding.Edit{e}})
	}
}

// address is the operand, and its text, with the address that a finding about bit 0 is
// about; nil where the finding wants something else of it.
func (c *rewriting) address(want finding.StateBit) (o *syntax.Operand, text string) {
	if c.diagnostic.Bit != want {
		return nil, ""
	}
	start := c.subject.File.LineStart(int(c.item.Line))
	for i := range c.item.Stmt.Ops {
		if o = &c.item.Stmt.Ops[i]; start+int(o.Start) == c.diagnostic.Span.Start && start+int(o.End) == c.diagnostic.Span.End {
			return o, c.opText(i)
		}
	}
	return nil, ""
}

// lessOne is the edit that takes a 1 out of the sum that an operand is, and the
// operand's text then; ok is false where no 1 is written in it.
func (c *rewriting) lessOne(o *syntax.Operand) (e finding.Edit, rest string, ok bool) {
	sum := withOne(o.Expr)
	if sum == nil {
		return e, "", false
	}
	line := c.line[:o.Start] + syntax.Uncommented(c.line[o.Start:o.End])
	blank := func(at int32) bool { return at >= o.Start && at < o.End && strings.IndexByte(" \t", line[at]) >= 0 }
	from := sum.X.End
	for blank(from) || from < o.End && line[from] == ')' {
		from++
	}
	to := sum.End
	if isOne(sum.Y) {
		for blank(from - 1) {
			from--
		}
	} else { // the 1 is in front of the operator
		if to = from + 1; line[from] == ':' {
			to += int32(strings.IndexByte(line[to:], ':')) + 1
		}
		for from = sum.Start; blank(to); {
			to++
		}
	}
	start := c.subject.File.LineStart(int(c.item.Line))
	e = finding.Edit{Span: finding.Span{Start: start + int(from), End: start + int(to)}, New: commentsIn(c.line[from:to])}
	return e, syntax.WithoutComments(c.line[o.Start:from] + c.line[to:o.End]), true
}

// withOne finds the sum in an expression in which one side is the number 1. Setting
// bit 0 counts as adding it.
func withOne(e *syntax.Expr) *syntax.Expr {
	switch {
	case e == nil || e.Op != syntax.ExprAdd && e.Op != syntax.ExprSub && e.Op != syntax.ExprOr:
		return nil
	case e.Op != syntax.ExprSub && (isOne(e.X) || isOne(e.Y)):
		return e
	}
	if s := withOne(e.X); s != nil || e.Op != syntax.ExprAdd {
		return s
	}
	return withOne(e.Y)
}

func isOne(e *syntax.Expr) bool { return e.Op == syntax.ExprNum && e.Val == 1 }

func markFunction(c *rewriting) {
	if c.diagnostic.Code != finding.CodeStateBit {
		c.markTarget()
		return
	}
	if strings.EqualFold(c.name, "adr") && c.environment.Mode == isa.T || len(c.diagnostic.Related) == 0 {
		return
	}
	l := c.diagnostic.Related[len(c.diagnostic.Related)-1].Location // where the label is defined
	if l.Path != c.subject.Path || c.diagnostic.Bit != finding.WantsSet || c.subject.File.Dialect().Words() {
		return
	}
	line := c.subject.File.LineAt(l.Span.Start)
	if len(c.subject.File.Line(line).Stmts) == 0 {
		return
	}
	c.add(candidate{title: "mark the label by .thumb_func", safe: !c.diagnostic.Shared && !c.subject.namedElsewhere(line, c.item), edits: []finding.Edit{c.insertBefore(line, c.subject.directiveIndent(line)+".thumb_func")}})
}
