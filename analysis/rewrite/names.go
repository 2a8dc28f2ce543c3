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
			Before: UnifiedThumb + "\tadd r0, r1, #1\n\tbx lr\n",
			After:  UnifiedThumb + "\tadds r0, r1, #1\n\tbx lr\n",
			apply:  flagSpelling,
		},
		{
			Name: "drop-width", Title: "Leave the width to the assembler",
			Before: ".arch armv7-m\n" + UnifiedThumb + "\tldr.n r0, [r1, #200]\n\tbx lr\n",
			After:  ".arch armv7-m\n" + UnifiedThumb + "\tldr r0, [r1, #200]\n\tbx lr\n",
			apply:  dropWidth,
		},
		{
			Name: "near-name", Title: "Correct the name",
			Before: UnifiedThumb + "\tmvoes r0, r1\n\tbx lr\n",
			After:  UnifiedThumb + "\tmovs r0, r1\n\tbx lr\n",
			apply:  nearName,
		},
		{
			Name: "add-colon", Title: "Add a colon after the label",
			Before: UnifiedThumb + "loop b loop\n",
			After:  UnifiedThumb + "loop: b loop\n",
			apply:  addColon,
		},
	}
}

func flagSpelling(c *rewriting) {
	n := strings.ToLower(c.name)
	if m := c.item.Stmt.Mnemonic; c.environment.Mode == isa.A && m != nil {
		other := m.OtherOrder(c.environment.Unified)
		if _, ok := c.matches(other, c.ops...); ok && other != n {
			c.add(candidate{title: "write " + c.inCase(other), safe: true, edits: []finding.Edit{c.rename(c.inCase(other))}})
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
		c.add(candidate{title: "write " + c.inCase(other), safe: true, edits: []finding.Edit{c.rename(c.inCase(other) + c.name[len(rest):])}})
	}
}

func nearName(c *rewriting) {
	s := c.item.Stmt
	start := c.subject.File.LineStart(int(c.item.Line))
	var names []string
	from, to := s.Start, s.NameEnd
	switch c.diagnostic.Code {
	case finding.CodeNoForm:
		c.missingType()
		return
	}
	if c.onlySafe || c.diagnostic.Code == finding.CodeMnemonic && (wording.OtherNames[strings.ToLower(c.name)] != "" || c.bareLabel()) {
		return // a name that is near in letters is far in meaning
	}
	switch c.diagnostic.Code {
	case finding.CodeUnknownDir:
		names = wording.NearDirectives(s.Name)
	case finding.CodeMnemonic:
		names = wording.NamesNear(c.subject.Program, &c.subject.Environments[c.item.Environment], s.Name)
	default:
		from, to = int32(c.diagnostic.Span.Start-start), int32(c.diagnostic.Span.End-start)
		if int(to) > len(c.line) || from < 0 {
			return
		}
		have := c.line[from:to]
		// A constant is no address, however near its name is.
		constant := c.diagnostic.Code == finding.CodeUndefined && strings.HasSuffix(strings.TrimRight(c.line[:from], " \t"), "#")
		// Names differ in case, and are near in spite of it.
		byLower := map[string]string{}
		var all []string
		c.subject.Defined(func(n string) {
			if s := c.subject.Symbols[n]; constant && s != nil && s.Label {
				return
			}
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
		if c.diagnostic.Code == finding.CodeMnemonic {
			n = c.inCase(n)
			e = c.rename(n)
		}
		c.add(candidate{title: "write " + n, named: true, edits: []finding.Edit{e}})
	}
}

// missingType writes the type after a name of floating point, where only one fits.
func (c *rewriting) missingType() {
	if c.item.Stmt.Mnemonic == nil || !c.item.Stmt.Mnemonic.Vector() || strings.Contains(c.name, ".") {
		return
	}
	fits := ""
	for _, t := range []string{".f32", ".f64"} {
		if _, ok := c.matches(c.name+t, c.ops...); ok {
			if fits != "" {
				return
			}
			fits = c.name + c.inCase(t)
		}
	}
	if fits != "" {
		c.add(candidate{title: "write " + fits, safe: true, edits: []finding.Edit{c.rename(fits)}})
	}
}

// bareLabel says whether an unknown word is a line by itself, and branches or data elsewhere
// name it as a symbol that is not defined.
func (c *rewriting) bareLabel() bool {
	s := c.item.Stmt
	if s.Kind != syntax.Unknown || len(s.Ops) > 0 || strings.TrimSpace(c.line[s.NameEnd:s.End]) != "" {
		return false
	}
	y := c.subject.SymbolOf(s.Name)
	return y != nil && !y.Defined && !y.Extern
}

func addColon(c *rewriting) {
	if c.bareLabel() {
		at := c.subject.File.LineStart(int(c.item.Line)) + int(c.item.Stmt.NameEnd)
		c.add(candidate{title: "add a colon after " + c.name, named: true, edits: []finding.Edit{{Span: finding.Span{Start: at, End: at}, New: ":"}}})
		return
	}
	for _, s := range c.subject.File.Line(int(c.item.Line)).Stmts {
		if s.Kind == syntax.Label && s.NoColon {
			at := c.subject.File.LineStart(int(c.item.Line)) + int(s.NameEnd)
			c.add(candidate{title: "add a colon after " + s.Name, safe: true, edits: []finding.Edit{{Span: finding.Span{Start: at, End: at}, New: ":"}}})
			return
		}
	}
}

// dropWidth takes .n or .w off a name that has no encoding of that width.
func dropWidth(c *rewriting) {
	if c.item.Stmt.Width == 0 {
		return
	}
	name := c.name[:len(c.name)-2]
	if _, ok := c.matches(name, c.ops...); !ok {
		return
	}
	c.add(candidate{title: "leave out " + c.name[len(name):], safe: true, edits: []finding.Edit{c.rename(name)}})
}
