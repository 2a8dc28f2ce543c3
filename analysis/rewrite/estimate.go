package rewrite

import (
	"slices"
	"sort"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// estimate says what a candidate costs in bytes, padding apart, and which flags the
// instructions that it writes set; known is false where one of them has no encoding as
// long as nobody has laid it out.
func (c *rewriting) estimate(k *candidate) (bytes int, flags isa.Flags, known bool) {
	f := c.subject.File
	edits := slices.Clone(k.edits)
	sort.SliceStable(edits, func(i, j int) bool { return edits[i].Span.Start < edits[j].Span.Start })
	parser := f.LineParser()
	known = true
	for i := 0; i < len(edits); {
		// The lines that these edits touch, before and after.
		a, b := f.LineAt(edits[i].Span.Start), 0
		at, text := f.LineStart(a), ""
		var written []finding.Span
		for first := i; i < len(edits) && (i == first || f.LineAt(edits[i].Span.Start) <= b); i++ {
			e := &edits[i]
			b = f.LineAt(e.Span.End)
			if e.Span.Start < at {
				return 0, 0, false
			}
			text += f.Text()[at:e.Span.Start]
			written = append(written, finding.Span{Start: len(text), End: len(text) + len(e.New)})
			text += e.New
			at = e.Span.End
		}
		end := f.LineStart(b) + len(f.Line(b).Text)
		text += f.Text()[at:max(at, end)]
		c.subject.between(f.LineStart(a), end+1, func(it *program.Item) {
			if it.Stmt.Kind == syntax.Instruction {
				bytes -= int(it.Size)
			}
		})
		g := parseLines(parser, text)
		for _, l := range g {
			for s := range l.Stmts {
				stmt := &l.Stmts[s]
				if stmt.Kind != syntax.Instruction {
					continue
				}
				size, m, ok := c.sizeOf(stmt)
				bytes += size
				at := l.at + int(stmt.Start)
				if !slices.ContainsFunc(written, func(s finding.Span) bool { return s.Start <= at && at < s.End }) {
					continue
				}
				if known = known && ok; ok {
					flags |= m.Effects().FlagsWritten
				}
			}
		}
	}
	return bytes, flags, known
}

// lineAt is a line with the byte of a text at which it begins.
type lineAt struct {
	*syntax.Line
	at int
}

// parseLines reads the lines of a text.
func parseLines(p *syntax.LineParser, text string) (out []lineAt) {
	open := false
	for at := 0; at <= len(text); {
		end := at
		for end < len(text) && text[end] != '\n' {
			end++
		}
		l := p.Parse(text[at:end], open)
		open = l.EndsInComment()
		out = append(out, lineAt{l, at})
		at = end + 1
	}
	return out
}

// sizeOf is how many bytes a statement takes in the place of the line, with the word that
// it puts into a literal pool.
func (c *rewriting) sizeOf(s *syntax.Stmt) (bytes int, m isa.Match, ok bool) {
	it := *c.item
	it.Stmt = s
	it.Match = isa.Match{}
	ops := c.subject.OperandsOf(&it)
	q := c.subject.Query(&it, c.environment)
	m, ok = s.Mnemonic.Match(&q, ops)
	switch {
	case ok:
		bytes = m.Form.Row.Size()
	case c.environment.Mode == isa.A:
		bytes = 4
	default:
		bytes = 2
	}
	if len(ops) > 0 && ops[len(ops)-1].Kind == isa.OpLit {
		bytes += 4
	}
	return bytes, m, ok
}
