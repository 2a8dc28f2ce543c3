package rewrite

import (
	"strings"

	"narrowgauge/analysis/syntax"
)

// How rewrites spell labels and directives: as the dialect of the file has them.

// columns says whether the file is in the column dialect.
func (c *rewriting) columns() bool { return c.subject.File.Dialect() == syntax.Columns }

// modules says whether the file is in the dialect of modules, which has no numeric labels.
func (c *rewriting) modules() bool { return c.subject.File.Dialect() == syntax.Modules }

// ahead refers to the next numeric local label n.
func (c *rewriting) ahead(n string) string {
	if c.modules() {
		return "local" + n
	}
	if c.columns() {
		return "%F" + n
	}
	return n + "f"
}

// behind refers to the last numeric local label n.
func (c *rewriting) behind(n string) string {
	if c.columns() {
		return "%B" + n
	}
	return n + "b"
}

// labelled is the label n in front of a statement, or by itself in its line.
func (c *rewriting) labelled(n string) string {
	if c.modules() {
		return "local" + n + ":"
	}
	if c.columns() {
		return n
	}
	return n + ":"
}

// word writes a directive of the column dialect in the case that the file has.
func (c *rewriting) word(name string) string {
	f := c.subject.File
	for i := range f.NumLines() {
		for _, s := range f.Line(i).Stmts {
			if s.Kind == syntax.Directive && s.Name != "" && s.Name == strings.ToLower(s.Name) && s.Directive.Word && s.Name[0] >= 'a' {
				return strings.ToLower(name)
			}
		}
	}
	return name
}

// poolDirective places a literal pool.
func (c *rewriting) poolDirective() string {
	switch {
	case c.columns(), c.modules():
		return c.word("LTORG")
	case strings.Contains(c.subject.File.Text(), ".pool"):
		return ".pool"
	}
	return ".ltorg"
}

// alignDirective aligns to two to the power of power.
func (c *rewriting) alignDirective(power string) string {
	bytes := map[string]string{"1": "2", "2": "4"}[power]
	switch {
	case c.columns():
		return c.word("ALIGN") + " " + bytes
	case c.modules():
		return c.word("ALIGNROM") + " " + power
	case c.subject.Environments[0].AlignBytes:
		return ".balign " + bytes
	}
	return ".align " + power
}

// hasNumber says whether the digits d are in a text as a number of their own,
// or after the marks of a local label of the column dialect.
func hasNumber(text, d string) bool {
	digit := func(i int) bool { return i >= 0 && i < len(text) && text[i] >= '0' && text[i] <= '9' }
	for at := 0; ; at++ {
		i := strings.Index(text[at:], d)
		if i < 0 {
			return false
		}
		if at += i; !digit(at-1) && !digit(at+len(d)) {
			return true
		}
	}
}
