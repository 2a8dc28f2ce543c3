package rewrite

import (
	"slices"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// wideRewrites are the rewrites that change how the whole file is read, for findings that one
// mistake brings. What is right already has to come to the same code.
func wideRewrites() []Entry {
	return []Entry{
		{
			Name: "add-mode", Title: "Say which instruction set the code is of",
			Before: ".cpu cortex-m0\n.syntax unified\n\tmovs r0, #1\n\tbx lr\n",
			After:  ".cpu cortex-m0\n.syntax unified\n.thumb\n\tmovs r0, #1\n\tbx lr\n",
			apply:  addMode,
		},
		{
			Name: "add-unified", Title: "Say that the code is in the unified syntax",
			Before: ".cpu cortex-m0\n.thumb\n\tmovs r0, #1\n\tadds r0, r0, r1\n\tbx lr\n",
			After:  ".cpu cortex-m0\n.thumb\n.syntax unified\n\tmovs r0, #1\n\tadds r0, r0, r1\n\tbx lr\n",
			apply:  addUnified,
		},
		{
			Name: "comment-mark", Title: "Write the mark of comments",
			Before: UnifiedThumb + "\tmovs r0, #1 ; the first track\n\tbx lr @ done\n",
			After:  UnifiedThumb + "\tmovs r0, #1 @ the first track\n\tbx lr @ done\n",
			apply:  commentMark,
		},
	}
}

// toldSyntax are the directives below which the other ones about the whole file are written.
var toldSyntax = []syntax.Effect{syntax.EffArch, syntax.EffCPU, syntax.EffFPU, syntax.EffArchExt, syntax.EffSyntax}

// addMode writes the directive for the instruction set that the code is of above it, or in the
// place of what asks for A32 code.
func addMode(c *rewriting) {
	if c.onlySafe {
		return
	}
	dialect := c.subject.File.Dialect()
	thumb := syntax.Spelled(dialect, syntax.EffThumb)
	switch c.diagnostic.Cause {
	case finding.CauseStartArm:
		c.addAbove(candidate{whole: true}, syntax.Spelled(dialect, syntax.EffArm), toldSyntax...)
	case finding.CauseStartThumb:
		c.addAbove(candidate{whole: true}, thumb, toldSyntax...)
		if !c.environment.Unified && !dialect.Words() {
			c.addAbove(candidate{whole: true, fallback: true}, ".syntax unified\n"+thumb, toldSyntax...)
		}
	case finding.CauseThumb:
		if !c.insteadOfArm(thumb) {
			c.addAbove(candidate{wide: true}, thumb, toldSyntax...)
		}
	}
}

// insteadOfArm writes a directive in the place of the one that asks for A32 code: of another
// file's, below the line that brings it. It says whether there is one.
func (c *rewriting) insteadOfArm(name string) bool {
	p := c.subject.Program
	for i := c.item.Index; i >= 0; i-- {
		it := &p.Items[i]
		if it.Stmt.Kind != syntax.Directive || it.Stmt.Directive.Effect != syntax.EffArm && it.Stmt.Directive.Effect != syntax.EffCode {
			continue
		}
		if at := p.WrittenLoc(it.File, it.Line); at.Path != p.Path {
			for it.File != 0 {
				it = &p.Items[p.Sources[it.File].From]
			}
			c.add(candidate{title: "add " + name, wide: true, named: true, edits: []finding.Edit{c.insertAfter(int(it.Line), "\t"+name)}})
		} else if at := p.StmtLoc(it); at.Made == nil || strings.EqualFold(c.subject.File.Text()[at.Span.Start:at.Span.End], it.Stmt.Name) {
			c.add(candidate{title: "write " + name + " for " + it.Stmt.Name, wide: true, named: true, edits: []finding.Edit{{Span: at.Span, New: name}}})
		} else if body := p.WrittenLoc(it.File, it.Line).Span; strings.EqualFold(c.subject.File.Text()[body.Start:body.End], it.Stmt.Name) {
			c.add(candidate{title: "write " + name + " for " + it.Stmt.Name, wide: true, named: true, edits: []finding.Edit{{Span: body, New: name}}})
		}
		return true
	}
	return false
}

// addUnified writes .syntax unified above the code.
func addUnified(c *rewriting) {
	if c.diagnostic.Cause != finding.CauseDivided || c.onlySafe || c.subject.File.Dialect().Words() {
		return
	}
	c.addAbove(candidate{wide: true}, ".syntax unified", append(slices.Clip(toldSyntax), syntax.EffThumb, syntax.EffArm, syntax.EffCode)...)
}

// addAbove writes directives, by line, below the last of those above the code that have an
// effect, or above the first statement.
func (c *rewriting) addAbove(k candidate, text string, below ...syntax.Effect) {
	var first, last *program.Item
	for i := range c.subject.Items[:c.item.Index+1] {
		it := &c.subject.Items[i]
		if it.File != 0 {
			continue
		}
		if it.Stmt.Kind == syntax.Instruction {
			break
		}
		if first == nil {
			first = it
		}
		if it.Stmt.Kind == syntax.Directive && slices.Contains(below, it.Stmt.Directive.Effect) {
			last = it
		}
	}
	at := first
	switch {
	case last != nil:
		at = last
	case first == nil:
		at = c.item
	}
	line := c.subject.Sources[0].Written(int(at.Line))
	indent := line[:len(line)-len(strings.TrimLeft(line, " \t"))]
	if c.subject.File.Dialect().Words() && indent == "" {
		indent = "\t"
	}
	lines := indent + strings.ReplaceAll(text, "\n", "\n"+indent)
	edit := c.insertBefore(int(at.Line), lines)
	if last != nil {
		edit = c.insertAfter(int(at.Line), lines)
	}
	k.title, k.named, k.edits = "add "+strings.ReplaceAll(text, "\n", " and "), true, []finding.Edit{edit}
	c.add(k)
}

// commentMark writes '@' for ';' wherever prose is behind it that cannot be read.
func commentMark(c *rewriting) {
	if c.diagnostic.Cause != finding.CauseSemicolon || c.onlySafe {
		return
	}
	var edits []finding.Edit
	last := -1
	f := c.subject.File
	for i := range c.subject.diags {
		d := &c.subject.diags[i]
		if d.Cause != finding.CauseSemicolon || d.Path != c.subject.Path {
			continue
		}
		line := f.LineAt(d.Span.Start)
		if line == last {
			continue
		}
		if at, ok := f.Line(line).ProseFrom(true); ok {
			from := f.LineStart(line) + at
			edits, last = append(edits, finding.Edit{Span: finding.Span{Start: from, End: from + 1}, New: "@"}), line
		}
	}
	c.add(candidate{title: "write @ for ; in front of comments", whole: true, named: true, edits: edits})
}

// shared says whether other findings have the cause of one.
func (r *Subject) shared(d *finding.Diagnostic) bool {
	return slices.ContainsFunc(r.diags, func(o finding.Diagnostic) bool {
		return o.Cause == d.Cause && o.Path == d.Path && o.Span != d.Span
	})
}

// keepsCode says whether what was right before an edit comes to the same code after it.
func (t *trial) keepsCode() bool {
	for i := range t.before.Items {
		it := &t.before.Items[i]
		if it.Stmt.Kind != syntax.Instruction || it.Match.Form == nil || it.Flags&program.Refused != 0 {
			continue
		}
		at := i
		switch {
		case t.pairs != nil:
			at = int(t.pairs.After[i])
		case len(t.before.Items) != len(t.after.Items):
			return false // in a macro, line by line is what there is to compare
		}
		if at < 0 {
			continue
		}
		var a, b strings.Builder
		t.before.spell(&a, it)
		t.after.spell(&b, &t.after.Items[at])
		if a.String() != b.String() {
			return false
		}
	}
	return true
}
