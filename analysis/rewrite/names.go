package rewrite

import (
	"sort"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// nameRewrites are the rewrites that spell what is meant.
func nameRewrites() []Entry {
	return []Entry{
		{
			Name: "flag-spelling", Title: "Use the spelling that exists",
			Before: CodeT + "\tadd r0, r1, #1\n\tbx lr\n",
			After:  CodeT + "\tadds r0, r1, #1\n\tbx lr\n",
			apply:  flagSpelling,
		},
		{
			Name: "drop-width", Title: "Leave the width to the assembler",
			Before: ".arch armv7-m\n" + CodeT + "\tldr.n r0, [r1, #200]\n\tbx lr\n",
			After:  ".arch armv7-m\n" + CodeT + "\tldr r0, [r1, #200]\n\tbx lr\n",
			apply:  dropWidth,
		},
		{
			Name: "near-name", Title: "Correct the name",
			Before: CodeT + "\tmvoes r0, r1\n\tbx lr\n",
			After:  CodeT + "\tmovs r0, r1\n\tbx lr\n",
			apply:  nearName,
		},
		{
			Name: "add-colon", Title: "Add a colon after the label",
			Before: CodeT + "loop b loop\n",
			After:  CodeT + "loop: b loop\n",
			apply:  addColon,
		},
	}
}

func flagSpelling(c *rewriting) {
	n := strings.ToLower(c.name)
	if m := c.it.Stmt.Mnem; c.env.Mode == isa.A && m != nil {
		other := m.OtherOrder(c.env.Unified)
		if _, ok := c.matches(other, c.ops...); ok && other != n {
			c.add(candidate{title: "write " + c.cs(other), safe: true, edits: []finding.Edit{c.rename(c.cs(other))}})
		}
		return
	}
	if rest := strings.TrimSuffix(n, ".n"); true {
		other := rest + "s"
		if strings.HasSuffix(rest, "s") {
			other = rest[:len(rest)-1]
		}
		if _, ok := c.matches(other, c.ops...); !ok || len(other) > len(rest) && !setsFlags(other) {
			return
		}
		c.add(candidate{title: "write " + c.cs(other), safe: true, edits: []finding.Edit{c.rename(c.cs(other) + c.name[len(rest):])}})
	}
}

func nearName(c *rewriting) {
	s := c.it.Stmt
	start := c.r.File.LineStart(int(c.it.Line))
	var names []string
	from, to := s.Start, s.NameEnd
	switch c.d.Code {
	case finding.CodeNoForm:
		c.missingType()
		return
	case finding.CodeUnknownDir:
		names = wording.NearDirectives(s.Name)
	case finding.CodeMnemonic:
		names = wording.NamesNear(c.r.Program, s.Name)
	default:
		from, to = int32(c.d.Span.Start-start), int32(c.d.Span.End-start)
		if int(to) > len(c.line) || from < 0 {
			return
		}
		have := c.line[from:to]
		// Names differ in case, and are near in spite of it.
		byLower := map[string]string{}
		var all []string
		c.r.Defined(func(n string) {
			if low := strings.ToLower(n); n != have && (byLower[low] == "" || n < byLower[low]) {
				byLower[low] = n
			}
		})
		for low := range byLower {
			all = append(all, low)
		}
		sort.Strings(all)
		for _, low := range finding.Near(have, all) {
			if len(names) < 3 {
				names = append(names, byLower[low])
			}
		}
	}
	for _, n := range names {
		e := finding.Edit{Span: finding.Span{Start: start + int(from), End: start + int(to)}, New: n}
		if c.d.Code == finding.CodeMnemonic {
			n = c.cs(n)
			e = c.rename(n)
		}
		c.add(candidate{title: "write " + n, named: true, edits: []finding.Edit{e}})
	}
}

// missingType writes the type after a name of floating point, where only one fits.
func (c *rewriting) missingType() {
	if c.it.Stmt.Mnem == nil || !c.it.Stmt.Mnem.Vector() || strings.Contains(c.name, ".") {
		return
	}
	fits := ""
	for _, t := range []string{".f32", ".f64"} {
		if _, ok := c.matches(c.name+t, c.ops...); ok {
			if fits != "" {
				return
			}
			fits = c.name + c.cs(t)
		}
	}
	if fits != "" {
		c.add(candidate{title: "write " + fits, safe: true, edits: []finding.Edit{c.rename(fits)}})
	}
}

func addColon(c *rewriting) {
	for i := range c.r.Items {
		it := &c.r.Items[i]
		if it.File == 0 && it.Line == c.it.Line && it.Stmt.Kind == syntax.Label && it.Stmt.NoColon {
			at := c.r.File.LineStart(int(it.Line)) + int(it.Stmt.NameEnd)
			c.add(candidate{title: "add a colon after " + it.Stmt.Name, safe: true, edits: []finding.Edit{{Span: finding.Span{Start: at, End: at}, New: ":"}}})
			return
		}
	}
}

// dropWidth takes .n or .w off a name that has no encoding of that width.
func dropWidth(c *rewriting) {
	if c.it.Stmt.Width == 0 {
		return
	}
	name := c.name[:len(c.name)-2]
	if _, ok := c.matches(name, c.ops...); !ok {
		return
	}
	c.add(candidate{title: "leave out " + c.name[len(name):], safe: true, edits: []finding.Edit{c.rename(name)}})
}
