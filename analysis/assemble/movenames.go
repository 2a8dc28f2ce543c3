package assemble

import (
	"maps"
	"slices"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// means gives a value the copy of the symbol that it depends on.
func (m *mover) means(v *program.Value) {
	if v.Symbol != nil && !m.shared {
		if y := m.old.Symbols[v.Symbol.Name]; y == v.Symbol {
			v.Symbol = m.now.Symbols[y.Name]
		}
	}
}

// value moves a value.
func (m *mover) value(v *program.Value) {
	if v.Kind == program.Address {
		shift := int64(0)
		if v.Section == m.sec {
			shift = m.before.laid[m.sec].Shift(v.At)
		}
		v.At = m.index(v.At)
		_, by := m.at(v.Section, v.At)
		v.N += by - shift
	}
}

// symbols copies the symbols with their places now.
func (m *mover) symbols() {
	now, old := m.now, m.old
	if m.shared = m.sameSymbols(); m.shared {
		now.Symbols, now.Slabs, now.Locals = old.Symbols, old.Slabs, old.Locals
		return
	}
	now.Symbols = make(map[string]*program.Symbol, len(old.Symbols)+len(m.names))
	now.Slabs = make([][]program.Symbol, 0, len(old.Slabs)+1)
	for _, slab := range old.Slabs {
		list := make([]program.Symbol, 0, len(slab))
		for k := range slab {
			y := &slab[k]
			if m.unnamed(y) {
				continue
			}
			list = append(list, *y)
			z := &list[len(list)-1]
			if y.Value.Symbol == y {
				z.Value.Symbol = z
			}
			now.Symbols[y.Name] = z
		}
		if len(list) > 0 {
			now.Slabs = append(now.Slabs, list)
		}
	}
	added := make([]program.Symbol, 0, len(m.names))
	for _, name := range slices.Sorted(maps.Keys(m.names)) {
		added = append(added, *m.names[name])
		now.Symbols[name] = &added[len(added)-1]
	}
	if len(added) > 0 {
		now.Slabs = append(now.Slabs, added)
	}
	move := func(y *program.Symbol) {
		y.Item = m.index(y.Item)
		if y.Value.Symbol != y {
			m.means(&y.Value)
		}
		m.value(&y.Value)
		if len(y.Past) > 0 {
			y.Past = slices.Clone(y.Past)
			for k := range y.Past {
				y.Past[k].Item = m.index(y.Past[k].Item)
				m.means(&y.Past[k].Value)
				m.value(&y.Past[k].Value)
			}
		}
	}
	now.EachSymbol(move)
	now.Locals = make(map[int32][]*program.Symbol, len(old.Locals))
	for n, list := range old.Locals {
		copies, out := make([]program.Symbol, len(list)), make([]*program.Symbol, len(list))
		for k, y := range list {
			copies[k] = *y
			out[k] = &copies[k]
			move(out[k])
		}
		now.Locals[n] = out
	}
}

// sameSymbols says whether the symbols are those of the earlier program, at the same places.
func (m *mover) sameSymbols() bool {
	if m.shift != 0 || len(m.moves) > 0 || m.grows || len(m.names) > 0 {
		return false
	}
	for name := range m.usedOld {
		if y := m.old.Symbols[name]; y != nil && m.unnamed(y) {
			return false
		}
	}
	return true
}

// unnamed says whether a symbol is there only because the earlier statements named it.
func (m *mover) unnamed(y *program.Symbol) bool {
	if y.Defined || y.Item >= 0 || !m.usedOld[y.Name] || m.usedNew[y.Name] || y.Function || y.Object || y.Global || y.Weak || y.Extern || y.Local || y.Common || y.Refers != "" || y.Kind != 0 {
		return false
	}
	read, unread := m.namedIn(m.r.old, m.r.From, m.r.To, y.Name)
	if m.was.absent[y.Name] > read {
		return false
	}
	m.unsure = m.unsure || m.was.unread[y.Name] > unread || m.textual(y.Name)
	return true
}

// textual says whether a directive whose arguments are no operands may name a symbol, or a
// statement that gives it no value that can be read.
func (m *mover) textual(name string) bool {
	for i := range m.old.Items {
		it := &m.old.Items[i]
		s := it.Stmt
		if s.Kind == syntax.Directive && s.Directive.Args >= syntax.ArgsText && m.says(it, name) {
			return true
		}
		if (s.Kind == syntax.Assign || s.Err != nil) && program.WordIn(m.old.LineText(it)[s.Start:s.End], name, 0) >= 0 {
			return true
		}
	}
	return false
}

// says says whether a name is in what an earlier directive says.
func (m *mover) says(it *program.Item, name string) bool {
	return program.WordIn(m.old.LineText(it)[it.Stmt.NameEnd:it.Stmt.End], name, 0) >= 0
}

// unsupplied are the symbols that lines name and that are not defined, and the linker may supply,
// with whether data names them first.
func (m *mover) unsupplied(f *syntax.File, a, b int) map[string]bool {
	out := map[string]bool{}
	for s := range statementsIn(f, a, b) {
		eachName(s, func(name string) {
			if y := m.old.Symbols[name]; y == nil || y.Defined || y.Extern || y.Global {
				return
			}
			if data, ok := out[name]; !ok || data {
				out[name] = s.Kind == syntax.Directive
			}
		})
	}
	return out
}

// saidOf is the finding that says that the linker supplies a name, which only the first line gets
// that is bound, and whether that is one of data; -1 without one.
func (m *mover) saidOf(name string) (at int, data bool) {
	at = slices.IndexFunc(m.before.Found, func(d finding.Diagnostic) bool {
		return d.Code == finding.CodeExternal && d.Cause == finding.CauseName+name
	})
	if at >= 0 && m.before.Found[at].Path == m.old.Path {
		it := m.old.ItemAt(m.before.Found[at].Span.Start)
		data = it != nil && it.Stmt.Kind == syntax.Directive
	}
	return at, data
}

// suppliedBefore notes for the earlier statements what other lines say.
func (m *mover) suppliedBefore(y *pass) bool {
	now := m.unsupplied(m.r.file, m.r.From, m.r.Now)
	for name, data := range m.unsupplied(m.r.old, m.r.From, m.r.To) {
		at, _ := m.saidOf(name)
		if at < 0 {
			continue
		}
		if line := m.r.old.LineAt(m.before.Found[at].Span.Start); m.before.Found[at].Path != m.old.Path || line < m.r.From || line >= m.r.To {
			y.Supplied(m.old.Symbols[name])
			continue
		}
		// It was said here: another line may have to say it now.
		if m.others(name) {
			if d, ok := now[name]; !ok || d != data {
				return false
			}
			m.must[name] = true
		}
	}
	return true
}

// suppliedNow notes for the new statements what other lines say, or have said.
func (m *mover) suppliedNow(x *pass) bool {
	for name, data := range m.unsupplied(m.r.file, m.r.From, m.r.Now) {
		at, by := m.saidOf(name)
		if at < 0 {
			continue // none of the others says it
		}
		d := &m.before.Found[at]
		line := m.r.old.LineAt(d.Span.Start)
		switch {
		case d.Path != m.old.Path:
			return false
		case line >= m.r.From && line < m.r.To:
			// It was said here, and is.
		case by == data && line < m.r.From, data && !by:
			x.Supplied(m.now.Symbols[name])
		default:
			m.taken[name] = at // if the new one says it
		}
	}
	return true
}

// others says whether other lines name a symbol.
func (m *mover) others(name string) bool {
	read, not := m.namedIn(m.r.old, m.r.From, m.r.To, name)
	return m.was.absent[name]+m.was.unread[name] > read+not
}

// namedIn is how often statements of some lines name a symbol, in those that can be read and
// in others.
func (m *mover) namedIn(f *syntax.File, a, b int, name string) (read, not int32) {
	for s := range statementsIn(f, a, b) {
		eachName(s, func(x string) {
			switch {
			case x != name:
			case unread(s):
				not++
			default:
				read++
			}
		})
	}
	return read, not
}
