package rewrite

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// code says what is assembled on the lines that an attempt changes: two offers for one
// finding with the same code are one, however they are written.
func (t *trial) code(i int) string {
	var b strings.Builder
	f := t.after.File
	last := -1
	t.each(i, func(_ *finding.Edit, from, to int) {
		first, end := f.LineAt(from), f.LineAt(to)
		if first = max(first, last+1); first > end {
			return
		}
		last = end
		t.after.between(f.LineStart(first), f.LineStart(end)+len(f.Line(end).Text)+1, func(it *program.Item) { t.after.spell(&b, it) })
		b.WriteByte('|')
	})
	return b.String()
}

// spell writes what an item comes to: its code, with the word that it loads, or its text.
func (r *Subject) spell(b *strings.Builder, it *program.Item) {
	if it.Stmt.Kind != syntax.Instruction || it.Match.Form == nil {
		fmt.Fprintf(b, "%d %s;", it.Size, strings.TrimSpace(r.StatementText(it)))
		return
	}
	fmt.Fprintf(b, "%d %x", it.Size, it.Match.Encode())
	if w, ok := it.Match.Second(); ok {
		fmt.Fprintf(b, " %x", w)
	}
	if it.Literal >= 0 {
		v := &r.Literals[it.Literal].Value
		fmt.Fprintf(b, " %d %d %d", v.Kind, v.Section, v.N)
		if v.Symbol != nil {
			b.WriteString(" " + v.Symbol.Name)
		}
	}
	b.WriteByte(';')
}
