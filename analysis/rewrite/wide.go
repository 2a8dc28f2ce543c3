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
			Name: "add-thumb", Title: "Say that the code is Thumb code",
			Before: ".cpu cortex-m0\n.syntax unified\n\tmovs r0, #1\n\tbx lr\n",
			After:  ".cpu cortex-m0\n.syntax unified\n.thumb\n\tmovs r0, #1\n\tbx lr\n",
			apply:  addThumb,
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

// addThumb writes .thumb above the code, or in the place of what asks for A32 code.
func addThumb(c *rewriting) {
	if c.diagnostic.Cause != finding.CauseThumb || c.onlySafe {
		return
	}
	name := syntax.Spelled(c.subject.File.Dialect(), syntax.EffThumb)
	for i := c.item.Index; i >= 0; i-- {
		it := &c.subject.Items[i]
		if it.File != 0 || it.Stmt.Kind != syntax.Directive {
			continue
		}
		if e := it.Stmt.Directive.Effect; e == syntax.EffArm || e == syntax.EffCode {
			start := c.subject.File.LineStart(int(it.Line))
			c.add(candidate{title: "write " + name + " for " + it.Stmt.Name, wide: true, named: true, edits: []finding.Edit{{
				Span: finding.Span{Start: start + int(it.Stmt.Start), End: start + int(it.Stmt.End)}, New: name}}})
			return
		}
	}
	c.addWide(name, toldSyntax...)
}

// addUnified writes .syntax unified above the code.
func addUnified(c *rewriting) {
	if c.diagnostic.Cause != finding.CauseDivided || c.onlySafe || c.subject.File.Dialect().Words() {
		return
	}
	c.addWide(".syntax unified", append(slices.Clip(toldSyntax), syntax.EffThumb, syntax.EffArm, syntax.EffCode)...)
}

// addWide writes a directive below the last of those above the code that have an effect, or
// above the first statement.
func (c *rewriting) addWide(text string, below ...syntax.Effect) {
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
	edit := c.insertBefore(int(at.Line), indent+text)
	if last != nil {
		edit = c.insertAfter(int(at.Line), indent+text)
	}
	c.add(candidate{title: "add " + text, wide: true, named: true, edits: []finding.Edit{edit}})
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
	if t.pairs == nil {
		return false
	}
	for i := range t.before.Items {
		it := &t.before.Items[i]
		if it.Stmt.Kind != syntax.Instruction || it.Match.Form == nil || it.Flags&program.Refused != 0 || t.pairs.After[i] < 0 {
			continue
		}
		var a, b strings.Builder
		t.before.spell(&a, it)
		t.after.spell(&b, &t.after.Items[t.pairs.After[i]])
		if a.String() != b.String() {
			return false
		}
	}
	return true
}
