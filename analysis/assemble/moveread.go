package assemble

import (
	"maps"
	"slices"
	"sort"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// offset is where the edit is in its section, as the first pass has it.
func (m *mover) offset() int64 {
	o, l := m.old.Order[m.sec], &m.before.laid[m.sec]
	if k, _ := slices.BinarySearch(o, m.a); k < len(o) {
		return m.old.Items[o[k]].Offset - l.Shift(o[k])
	}
	return m.end()
}

// end is where the last item of the edit's section ends, as the first pass has it.
func (m *mover) end() int64 {
	s, l := &m.old.Sections[m.sec], &m.before.laid[m.sec]
	if s.EndPool >= 0 {
		return s.EndPool - l.Shift(layout.SectionEnd-1)
	}
	return s.Size - l.Shift(layout.SectionEnd)
}

// macrosAbove are the macros that are defined above the edit.
func (m *mover) macrosAbove() []*program.Macro {
	k := sort.Search(len(m.old.Macros), func(k int) bool { return m.old.Macros[k].Item >= m.a })
	return m.old.Macros[:k:k]
}

// above are the numeric local labels above the edit.
func (m *mover) above() map[int32][]*program.Symbol {
	out := make(map[int32][]*program.Symbol, len(m.old.Locals))
	for n, list := range m.old.Locals {
		k := sort.Search(len(list), func(k int) bool { return list[k].Item >= m.a })
		out[n] = list[:k:k]
	}
	return out
}

// read is a pass that reads the statements of lines from line a to line b into the items, which
// have those in front. It is nil where they leave something behind.
func (m *mover) read(prog *program.Program, f *syntax.File, a, b int, used map[string]bool) *pass {
	prog.File, prog.Sources, prog.Sections, prog.Order = f, slices.Clone(prog.Sources), slices.Clone(prog.Sections), slices.Clone(prog.Order)
	m.cut(prog)
	prog.Sources[0].File = f
	prog.Macros = m.macrosAbove()
	prog.Literals, prog.Environments = slices.Clip(prog.Literals), slices.Clip(prog.Environments)
	x := passOver(m.ctx, m.in, prog)
	x.Table = &asOf{prog, m, map[string]*program.Symbol{}, used}
	prog.Locals = m.above()
	x.current, x.envID, x.currentSection = prog.Environments[m.env], m.env, m.sec
	for range prog.Sections {
		x.Begin()
	}
	x.pools.byKey = map[literalKey]int32{}
	x.Phase = 0
	prog.Sections[m.sec].Size = m.offset()
	x.Begins(m.sec, &m.before.laid[m.sec], m.a)
	for i := a; i < b; i++ {
		l := f.Line(i)
		for k := range l.Stmts {
			x.statement(0, int32(i), l, &l.Stmts[k])
		}
	}
	w := &x.waiting
	if len(w.countLater)+len(w.sizeLater)+len(w.lebLater)+len(w.fillLater) > 0 || !x.Added(m.sec) ||
		x.envID != m.env || x.currentSection != m.sec || x.funcTag || x.Ended || x.Full() || x.Lacking || len(x.macroBy) > 0 {
		return nil
	}
	for k := m.a; int(k) < len(prog.Items); k++ {
		if it := &prog.Items[k]; it.Section != m.sec || it.Environment != m.env {
			return nil
		}
		if _, number := targetsOf(prog, &prog.Items[k]); number && !m.nowhere(prog.Items[k].Stmt) {
			return nil
		}
	}
	for k := range x.blockBySec {
		if x.blockBySec[k].written.Left() > 0 || x.blockBySec[k].inserted.n > 0 {
			m.open = below
			return nil
		}
	}
	return x
}

// asOf is the symbol table as it is where the edit is read: symbols that are defined below are
// not defined yet.
type asOf struct {
	*program.Program
	m      *mover
	hidden map[string]*program.Symbol
	used   map[string]bool
}

func (t *asOf) Find(name string) *program.Symbol {
	if y := t.m.names[name]; y != nil {
		return y
	}
	y := t.SymbolOf(name)
	if y == nil || y.Item < t.m.a {
		return y
	}
	h := t.hidden[name]
	if h == nil {
		h = &program.Symbol{Name: name, Item: -1, Global: y.Global, Weak: y.Weak, Extern: y.Extern, Function: y.Function && !y.ThumbFn, Object: y.Object, Local: y.Local}
		t.hidden[name] = h
	}
	return h
}

func (t *asOf) Symbol(name string) *program.Symbol {
	t.used[name] = true
	if y := t.Find(name); y != nil {
		return y
	}
	y := &program.Symbol{Name: name, Item: -1}
	if t.m.names != nil {
		t.m.names[name] = y
	}
	return y
}

func (*asOf) Settle(*program.Symbol, program.Value) {}

// inEnd is the symbol table in the end, which notes what is asked for and makes what is not there.
type inEnd struct {
	*program.Program
	m    *mover
	used map[string]bool
	adds bool
}

func (t *inEnd) Find(name string) *program.Symbol { return t.SymbolOf(name) }

func (t *inEnd) Symbol(name string) *program.Symbol {
	t.used[name] = true
	y := t.SymbolOf(name)
	if y == nil {
		y = &program.Symbol{Name: name, Item: -1}
		if t.adds {
			if t.m.shared {
				t.m.shared = false
				t.Symbols, t.Slabs = maps.Clone(t.Symbols), slices.Clip(t.Slabs)
			}
			slab := []program.Symbol{*y}
			y = &slab[0]
			t.Slabs = append(t.Slabs, slab)
			t.Symbols[name] = y
		}
	}
	return y
}

func (*inEnd) Settle(*program.Symbol, program.Value) {}

// cut leaves of the order of the edit's section what is in front of it.
func (m *mover) cut(prog *program.Program) {
	o := prog.Order[m.sec]
	k, _ := slices.BinarySearch(o, m.a)
	prog.Order[m.sec] = append(make([]int32, 0, len(o)+int(m.c-m.a)+1), o[:k]...)
}

// leave looks at the earlier statements as the new ones are looked at; false where what they come
// to is not known, so that it cannot be taken away.
func (m *mover) leave(items []program.Item) bool {
	var gone []finding.Diagnostic
	for _, d := range m.before.Found {
		if m.r.Differs(d.Location, m.old.Path) {
			gone = append(gone, d)
		}
		if d.Path == m.old.Path {
			line := m.r.old.LineAt(d.Span.Start)
			m.said[line] = append(m.said[line], d)
		}
	}
	m.looked = m.before.looked
	if m.a == m.b {
		return len(gone) == 0
	}
	f := m.r.old
	if !m.steady(f, m.r.From, m.r.To) {
		return false
	}
	old := *m.old
	old.Items = items
	x := m.read(&old, f, m.r.From, m.r.To, m.usedOld)
	if x == nil || len(old.Items) != int(m.b) {
		return false
	}
	l := &m.before.laid[m.sec]
	for i := m.a; i < m.b; i++ {
		if a, b := &old.Items[i], &m.old.Items[i]; a.Slot != b.Slot || a.Size != l.First(i, b.Size) || a.Offset != b.Offset-l.Shift(i) || a.Flags&program.Waits != b.Flags&program.Waits {
			return false
		}
	}
	whole := *m.old
	y := scratch(m.ctx, m.in, &whole)
	y.Table = &inEnd{&whole, m, m.usedOld, false}
	y.Phase = eval.Resolving
	y.Diags = slices.Clip(x.Diags)
	y.Doubts = x.Doubts
	if !m.suppliedBefore(y) {
		return false
	}
	y.Steps = 0
	left := slices.Clone(old.Items[m.a:])
	for k := range left {
		it := &m.old.Items[int(m.a)+k]
		left[k].Literal, left[k].Offset, left[k].Size = it.Literal, it.Offset, it.Size
		left[k].Flags |= it.Flags & program.Wide
	}
	for _, i := range x.unresolved {
		y.resolveItem(&left[i-m.a])
	}
	y.earlyOps = x.earlyOps
	y.resolveEarly()
	for _, w := range x.dataLater {
		y.resolveArgument(&left[w.item-m.a], int(w.op))
	}
	m.looked -= y.Steps
	for k := range left {
		y.caution(&left[k])
	}
	y.TellDoubts()
	return sameFindings(gone, y.Diags)
}

// sameFindings says whether two lists have the same findings.
func sameFindings(a, b []finding.Diagnostic) bool {
	if len(a) != len(b) {
		return false
	}
	for k := range a {
		if !slices.ContainsFunc(b, func(d finding.Diagnostic) bool { return equal(a[k], d) }) {
			return false
		}
	}
	return true
}

// steady says whether what lines name is the same here as at the end: nothing gives the symbols
// other values, or makes something else of them, further below.
func (m *mover) steady(f *syntax.File, a, b int) bool {
	var marked []string
	ok := true
	for s := range statementsIn(f, a, b) {
		eachName(s, func(name string) {
			y := m.old.SymbolOf(name)
			if y == nil {
				return
			}
			ok = ok && len(y.Past) == 0 && y.Expr == nil && (y.Label || !y.Defined || firm(m.old, y, m.a, 0)) && !y.Common
			if y.Global || y.Weak || y.Function || y.Object || y.Local || y.Extern || y.Refers != "" {
				marked = append(marked, name)
			}
		})
	}
	return ok && (len(marked) == 0 || !m.markedBelow(marked))
}

// markedBelow says whether a directive below says something of one of the symbols.
func (m *mover) markedBelow(names []string) bool {
	for i := int(m.b); i < len(m.old.Items); i++ {
		s := m.old.Items[i].Stmt
		if s.Kind != syntax.Directive {
			continue
		}
		switch s.Directive.Effect {
		case syntax.EffGlobal, syntax.EffExtern, syntax.EffType, syntax.EffThumbSet, syntax.EffComm, syntax.EffCheck:
			if slices.ContainsFunc(names, func(name string) bool { return m.says(&m.old.Items[i], name) }) {
				return true
			}
		}
	}
	return false
}

// nowhere says whether what a statement names are constants, or nothing that the program has.
func (m *mover) nowhere(s *syntax.Stmt) bool {
	ok := true
	for k := range s.Ops {
		namesIn(&s.Ops[k], func(name string) {
			y := m.old.SymbolOf(name)
			ok = ok && (y == nil || !y.Defined || firm(m.old, y, m.a, 0))
		}, func(e *syntax.Expr) { ok = ok && !ofPlace(e) })
	}
	return ok
}
