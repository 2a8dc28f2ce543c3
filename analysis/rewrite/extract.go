package rewrite

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// extract is a program without what has nothing to do with some lines: in the place of
// what is left out is room of its size. What is said of its lines, and where they are, is
// the same as in the whole program, or it is not used.
type extract struct {
	*Subject
	whole  *Subject
	index  []int32        // by item of the whole: the item of the extract, -1 for one that is left out
	origin []int32        // the other way round
	line   []int32        // by line of the whole: the line of the extract, -1 for one that is left out
	kept   []bool         // by item of the whole
	unit   int64          // what moves by a multiple of it, stays aligned
	room   map[int32]bool // the lines of the extract that make room
}

// extractFor makes an extract for edits, nil where none would show the same.
func (r *Subject) extractFor(ctx context.Context, edits []finding.Edit) *extract {
	if r.cut == nil {
		r.cut = r.newCut()
	}
	c := r.cut
	if c.unfit || len(edits) == 0 || r.onWhole {
		return nil
	}
	x := &extract{whole: r, kept: slices.Clone(c.needed), unit: 2}
	first, ok := x.window(edits)
	if !ok {
		return nil
	}
	var work []int32
	for i := range x.kept {
		if x.kept[i] && !c.needed[i] {
			work = append(work, int32(i))
		}
	}
	// A new literal goes to the next pool.
	order := r.Order[first.Section]
	for k := r.Position(first); k < len(order); k++ {
		if it := &r.Items[order[k]]; it.Flags&program.HasPool != 0 || it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffPool {
			if !x.kept[it.Index] {
				x.kept[it.Index] = true
				work = append(work, it.Index)
			}
			if k > x.last(edits) {
				break
			}
		}
	}
	c.closeFrom(r, x.kept, work)
	file := x.text(first)
	if file == nil {
		return nil
	}
	var err error
	if x.Subject, err = r.again(ctx, file); err != nil || !x.same() {
		return nil
	}
	x.stretches, x.measured = r.counted(), true
	return x
}

// last is the position, in the section of the last edit, of what is edited last.
func (x *extract) last(edits []finding.Edit) int {
	at := 0
	for _, e := range edits {
		at = max(at, e.Span.End)
	}
	if it := x.whole.ItemAt(at); it != nil {
		return x.whole.Position(it)
	}
	return 0
}

// window marks what is around edits: the straight line in which each is, and some more.
// It gives the first item of them.
func (x *extract) window(edits []finding.Edit) (first *program.Item, ok bool) {
	const margin, longest = 6, 400
	r := x.whole
	for _, e := range edits {
		var it *program.Item
		for line := r.File.LineAt(e.Span.Start); line >= 0 && it == nil; line-- {
			r.between(r.File.LineStart(line), r.File.LineStart(line)+len(r.File.Line(line).Text)+1, func(i *program.Item) { it = i })
		}
		if it == nil || first != nil && it.Section != first.Section {
			return nil, false
		}
		if first == nil || it.Index < first.Index {
			first = it
		}
		order := r.Order[it.Section]
		from := r.Position(it)
		for _, step := range []int{-1, 1} {
			n := 0
			for k := from; k >= 0 && k < len(order); k += step {
				i := &r.Items[order[k]]
				x.kept[i.Index] = true
				if n++; n > longest {
					return nil, false
				}
				if n > margin && (i.Stmt.Kind == syntax.Label || i.Size > 0 && i.Stmt.Kind == syntax.Directive) {
					break
				}
			}
		}
	}
	return first, first != nil
}

// text makes the file of the extract, in which first is the first item that is edited.
func (x *extract) text(first *program.Item) *syntax.File {
	r := x.whole
	root := r.File
	parser := root.LineParser()
	x.line, x.room = make([]int32, root.NumLines()), map[int32]bool{}
	var lines []*syntax.Line
	var text strings.Builder // of what is left out
	size := int64(0)
	flush := func() {
		if size > 0 {
			if text.Len() > 0 {
				text.WriteString("; ")
			}
			text.WriteString(".space ")
			text.WriteString(strconv.FormatInt(size, 10))
			size = 0
		}
	}
	k := 0
	for i := range x.line {
		l := root.Line(i)
		from := k
		for k < len(r.Items) && (r.Items[k].File != 0 || int(r.Items[k].Line) <= i) {
			k++
		}
		if x.line[i] = -1; len(l.Stmts) == 0 {
			continue
		}
		if items := r.Items[from:k]; !x.shown(items, len(l.Stmts)) {
			for j := range items {
				it := &items[j]
				if r.Environments[it.Environment].Mode == isa.A && it.Size > 0 {
					x.unit = 4
				}
				if it.Flags&program.HasPool != 0 && it.Section == first.Section && it.Offset > first.Offset {
					words := it.Size &^ 3
					flush()
					if text.Len() > 0 {
						text.WriteString("; ")
					}
					text.WriteString(".balign 4")
					size = words
					continue
				}
				size += it.Size
			}
			continue
		}
		if l.StartsInComment() || l.EndsInComment() {
			return nil // the lines next to it matter
		}
		if flush(); text.Len() > 0 {
			x.room[int32(len(lines))] = true
			lines = append(lines, parser.Parse(text.String(), false))
			text.Reset()
		}
		x.line[i] = int32(len(lines))
		lines = append(lines, l)
	}
	if flush(); text.Len() > 0 {
		x.room[int32(len(lines))] = true
		lines = append(lines, parser.Parse(text.String(), false))
	}
	if len(lines) == 0 || len(lines) > root.NumLines()*2/3 {
		return nil
	}
	return root.Assembled(lines)
}

// shown says whether a line with items and statements is in the extract.
func (x *extract) shown(items []program.Item, statements int) bool {
	if len(items) != statements {
		return true
	}
	for i := range items {
		if x.kept[items[i].Index] {
			return true
		}
	}
	return false
}

// same says whether the extract shows of its lines what the whole program does.
func (x *extract) same() bool {
	r, e := x.whole, x.Subject
	if len(e.Sections) != len(r.Sections) || len(e.Sources) != len(r.Sources) {
		return false
	}
	for i := range r.Sections {
		a, b := &r.Sections[i], &e.Sections[i]
		if a.Name != b.Name || a.Size != b.Size || a.Exact != b.Exact {
			return false
		}
	}
	k := 0
	x.index, x.origin = make([]int32, len(r.Items)), make([]int32, len(e.Items))
	for i := range x.origin {
		x.origin[i] = -1
	}
	for i := range r.Items {
		a := &r.Items[i]
		if x.index[i] = -1; a.File == 0 && x.line[a.Line] < 0 {
			continue
		}
		for k < len(e.Items) && e.Items[k].File == 0 && x.room[e.Items[k].Line] {
			k++
		}
		if k == len(e.Items) {
			return false
		}
		b := &e.Items[k]
		x.index[i], x.origin[k] = int32(k), int32(i)
		k++
		if a.File != b.File || a.File == 0 && x.line[a.Line] != b.Line || a.Offset != b.Offset || a.Size != b.Size || a.Section != b.Section || a.Match.Form != b.Match.Form || a.Flags != b.Flags {
			return false
		}
	}
	// Hints are at the first place of many, as where a name of another file is met.
	said := e.diags
	next := func() *finding.Diagnostic {
		for len(said) > 0 && said[0].Severity > finding.Warning {
			said = said[1:]
		}
		if len(said) == 0 {
			return nil
		}
		said = said[1:]
		return &e.diags[len(e.diags)-len(said)-1]
	}
	for i := range r.diags {
		d := &r.diags[i]
		at, shown := d.Span.Start, true
		if d.Path == r.Path {
			at, shown = x.place(at)
		}
		if !shown || d.Severity > finding.Warning {
			continue
		}
		if o := next(); o == nil || o.Code != d.Code || o.Span.Start != at || o.Path != d.Path {
			return false
		}
	}
	return next() == nil
}

// place is where a byte of the whole text is in the extract.
func (x *extract) place(at int) (int, bool) {
	f := x.whole.File
	line := f.LineAt(at)
	if x.line[line] < 0 {
		return 0, false
	}
	return x.File.LineStart(int(x.line[line])) + at - f.LineStart(line), true
}

// diagnostic is the extract's own copy of a finding.
func (x *extract) diagnostic(d *finding.Diagnostic) *finding.Diagnostic {
	at, ok := x.place(d.Span.Start)
	for i := range x.diags {
		if e := &x.diags[i]; ok && e.Code == d.Code && e.Span.Start == at && e.Path == d.Path && e.Message == d.Message {
			return e
		}
	}
	return nil
}

// shows says whether the trial of an attempt in the extract shows what one in the whole
// program would: what is left out moves by a little and stays aligned, and the edits write
// nothing that it takes notice of.
func (x *extract) shows(t *trial) bool {
	k := 0
	for i := range x.Items {
		a := &x.Items[i]
		if a.File != 0 || !x.room[a.Line] {
			continue
		}
		line := int32(t.after.File.LineAt(t.moved(x.File.LineStart(int(a.Line)))))
		for k < len(t.after.Items) && (t.after.Items[k].File != 0 || t.after.Items[k].Line != line || t.after.Items[k].Stmt.Start != a.Stmt.Start) {
			k++
		}
		if k == len(t.after.Items) {
			return false
		}
		by := t.after.Items[k].Offset - a.Offset
		if by < -slack || by > slack || by%x.unit != 0 {
			return false
		}
	}
	ok := true
	for i, e := range t.edits {
		from := t.start(i)
		t.before.between(e.Span.Start, e.Span.End, func(it *program.Item) { ok = ok && it.Stmt.Kind == syntax.Instruction })
		t.after.between(from, from+len(e.New), func(it *program.Item) { ok = ok && x.harmless(it) })
		if strings.HasPrefix(e.New, "\n") || strings.HasPrefix(e.New, "\r") {
			continue // further lines after one that stays
		}
		// A part of a statement may be written.
		if it := t.before.ItemAt(e.Span.Start); it != nil && e.Span.End > e.Span.Start {
			ok = ok && it.Stmt.Kind == syntax.Instruction
		}
		if it := t.after.ItemAt(from); it != nil {
			ok = ok && x.harmless(it)
		}
	}
	return ok
}

// harmless says whether a written statement is one that nothing takes notice of that is
// left out.
func (x *extract) harmless(it *program.Item) bool {
	s := it.Stmt
	switch s.Kind {
	case syntax.Instruction:
		ok := true
		name := func(n string) {
			if y := x.whole.SymbolOf(n); y != nil && y.Label && y.Item >= 0 && !x.kept[y.Item] {
				ok = false
			}
		}
		for i := range s.Ops {
			if o := &s.Ops[i]; o.Word != "" {
				name(o.Word)
			} else {
				o.Expr.Walk(func(e *syntax.Expr) {
					if e.Op == syntax.ExprSym {
						name(e.Name)
					}
				})
			}
		}
		return ok
	case syntax.Label:
		return s.Number >= 0 && len(x.whole.Locals[s.Number]) == 0
	case syntax.Directive:
		switch s.Directive.Effect {
		case syntax.EffPool, syntax.EffAlignByte, syntax.EffAlignPow:
			return true
		}
	}
	return false
}
