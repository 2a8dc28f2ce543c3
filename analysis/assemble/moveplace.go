package assemble

import (
	"math"
	"slices"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// move says how far what is in a section from an item on moves.
type move struct {
	from int32 // its index now
	by   int64 // bytes
}

// index is that of an earlier item now; -1 is none.
func (m *mover) index(i int32) int32 {
	if i >= m.b && i < layout.SectionEnd-1 {
		return i + m.shift
	}
	return i
}

// at is which of the stretches that move together a place is in, by the item that it moves with,
// and how far that moves. What is in front of the edit, and in other sections, is in stretch -1.
func (m *mover) at(sec int16, now int32) (stretch int, by int64) {
	if sec != m.sec {
		return -1, 0
	}
	k := len(m.moves) - 1
	for k >= 0 && m.moves[k].from > now {
		k--
	}
	if k < 0 {
		return -1, 0
	}
	return k, m.moves[k].by
}

// word is at for a word in a pool of the earlier program, which is behind the padding of the pool.
func (m *mover) word(l *program.Literal) (stretch int, by int64) {
	if l.Item >= 0 && l.Item < m.b {
		return -1, 0
	}
	return m.at(l.Section, layout.AfterPool(m.index(l.Item)))
}

// relax lays the edit's section out, and finds what moves then.
func (m *mover) relax(x *pass) bool {
	was, n := &m.before.laid[m.sec], len(x.Diags)
	x.Goes(m.sec, was, m.b, m.index, func(at int32) int64 {
		_, by := m.at(m.sec, at)
		return by
	}, m.gaps)
	x.Table = eval.New(m.now).Table
	x.Relax()
	if x.Ctx.Err() != nil || len(x.Diags) > n || x.Endless >= 0 {
		return false
	}
	m.looked += x.Took(m.sec) - was.Steps
	now := x.Laid()[m.sec]
	now.Gaps = m.laid[m.sec].Gaps
	m.laid = slices.Clone(m.laid)
	m.laid[m.sec] = now
	m.moves = m.moves[:0]
	by := int64(0)
	for _, i := range m.old.Order[m.sec] {
		if i >= m.a && i < m.b {
			continue
		}
		at := m.index(i)
		if d := m.now.Items[at].Offset - m.old.Items[i].Offset; d != by {
			by = d
			m.moves = append(m.moves, move{at, by})
		}
	}
	if d := m.now.Sections[m.sec].Size - m.old.Sections[m.sec].Size; d != by {
		m.moves = append(m.moves, move{layout.SectionEnd - 1, d})
	}
	return true
}

// layOut finds how far what is below the edit moves.
func (m *mover) layOut() bool {
	s := &m.old.Sections[m.sec]
	was := &m.before.laid[m.sec]
	by := m.now.Sections[m.sec].Size - m.offset()
	for i := m.a; i < m.b; i++ {
		by -= was.First(i, m.old.Items[i].Size)
	}
	m.laid = m.before.laid
	if by == 0 && m.shift == 0 && !m.pool.changed && !m.grows {
		return true
	}
	if by != 0 {
		m.moves = append(m.moves, move{m.c, by})
	}
	gaps := was.Gaps
	if m.pool.changed {
		gaps = m.pool.within(was)
	}
	now := slices.Clone(gaps)
	for k := range gaps {
		g := &gaps[k]
		now[k].Item = m.index(g.Item)
		pool := m.pool.changed && g.Item == m.pool.place()
		if g.Item < m.b || by == 0 && !pool && !m.grows {
			continue
		}
		off, size := m.end(), int64(0)
		if g.Item < layout.SectionEnd-1 {
			it := &m.old.Items[g.Item]
			off, size = it.Offset-was.Shift(g.Item), was.First(g.Item, it.Size)
		} else if s.EndPool >= 0 {
			size = was.First(g.Item, s.Size-s.EndPool)
		}
		if pool {
			now[k].After = 4 * int64(m.pool.count)
		} else if size != g.Size(off) {
			return false
		}
		to := now[k].Size(off + by)
		if pool {
			if m.pool.count == 0 {
				to = 0
			}
			m.pool.before, m.pool.start = off+by, off+by+to-now[k].After
		}
		if to > 0 || !pool {
			m.gaps = append(m.gaps, layout.Placed{Gap: now[k], Off: off + by, Bytes: to})
		}
		if d := to - size; d != 0 {
			if (size == 0 || to == 0) && g.Item < layout.SectionEnd-1 {
				m.closed = append(m.closed, m.index(g.Item))
			}
			by += d
			m.moves = append(m.moves, move{m.index(g.Item) + 1, by})
		}
	}
	m.laid = slices.Clone(m.laid)
	if m.laid[m.sec].Gaps = now; m.pool.changed && !m.align(gaps) {
		return false
	}
	if m.shift != 0 {
		for k := range m.laid {
			if int16(k) == m.sec {
				continue
			}
			m.laid[k] = m.laid[k].Renumbered(m.index)
		}
	}
	return true
}

// stillEarly says whether what was computed from places when it was read is the same: all of
// them move together.
func (m *mover) stillEarly() bool {
	if len(m.moves) == 0 && m.shift == 0 {
		return true
	}
	for _, i := range m.was.early {
		it := &m.old.Items[i]
		own, by := m.at(it.Section, m.index(i))
		if !m.together(it, own, it.Section) || by != 0 && it.Stmt.Kind == syntax.Instruction && !m.nowhere(it.Stmt) {
			return false // the number that an address is counts from the start of the section
		}
	}
	return true
}

// together says whether all places that an item names are in its own stretch of a section.
func (m *mover) together(it *program.Item, own int, sec int16) bool {
	ok := true
	place := func(v program.Value) {
		if v.Kind == program.Address {
			k, _ := m.at(v.Section, m.index(v.At))
			ok = ok && k == own && (k < 0 || v.Section == sec)
		}
	}
	e := eval.New(m.old)
	for k := range it.Stmt.Ops {
		o := &it.Stmt.Ops[k]
		namesIn(o, func(name string) {
			if y := m.old.SymbolOf(name); y != nil && y.Defined {
				place(y.Value)
				for k := range y.Past {
					place(y.Past[k].Value)
				}
			}
		}, func(x *syntax.Expr) {
			if x.Op == syntax.ExprLocal {
				place(e.Local(int32(x.Val), x.Back, it.Index))
			}
		})
		if o.Kind == isa.OpLit && it.Literal >= 0 {
			ok = ok && m.wordStays(it, own)
		}
	}
	return ok
}

// wordStays says whether the word in a pool that an item asks for is in a stretch as before.
func (m *mover) wordStays(it *program.Item, own int) bool {
	l := &m.old.Literals[it.Literal]
	to, _ := m.word(l)
	return to == own && !(m.pool.changed && l.Section == m.sec && l.Item == m.pool.item)
}

// fill puts the rest of the earlier program where it is now, as the first pass has it.
func (m *mover) fill() {
	now, old, laid := m.now, m.old, &m.before.laid[m.sec]
	lines := int32(m.r.Now - m.r.To)
	grows, firsts := laid.Grows(), laid.Firsts()
	first := func(it *program.Item) {
		if grows && it.Section == m.sec {
			shift, size := firsts(it.Index, it.Size)
			it.Offset, it.Size = it.Offset-shift, size
			it.Flags &^= program.Wide
		}
	}
	if grows {
		for i := range now.Items[:m.a] {
			first(&now.Items[i])
		}
	}
	k := 0
	by := int64(0)
	for i := int(m.b); i < len(old.Items); i++ {
		now.Items = append(now.Items, old.Items[i])
		it := &now.Items[len(now.Items)-1]
		first(it)
		it.Index += m.shift
		if it.File == 0 {
			it.Line += lines
		}
		for k < len(m.moves) && m.moves[k].from <= it.Index {
			by = m.moves[k].by
			k++
		}
		if it.Section == m.sec {
			it.Offset += by
			if k < len(m.moves) && m.moves[k].from == it.Index+1 {
				it.Size += m.moves[k].by - by
			}
		}
	}
	last := int64(0)
	if n := len(m.moves); n > 0 {
		last = m.moves[n-1].by
	}
	s, was := &now.Sections[m.sec], &old.Sections[m.sec]
	s.Size = was.Size - laid.Shift(layout.SectionEnd) + last
	if s.EndPool = was.EndPool; s.EndPool >= 0 {
		_, by := m.at(m.sec, layout.SectionEnd-1)
		s.EndPool += by - laid.Shift(layout.SectionEnd-1)
	}
	if m.pool.changed {
		m.pool.end(s, was)
	}
	m.orders()
	m.symbols()
	now.Literals = slices.Clone(old.Literals)
	for k := range now.Literals {
		l := &now.Literals[k]
		if l.Offset >= 0 {
			_, by := m.word(l)
			if l.Offset += by; l.Section == m.sec {
				l.Offset -= laid.Shift(layout.AfterPool(l.Item))
			}
		}
		l.By, l.Item = m.index(l.By), m.index(l.Item)
		m.means(&l.Value)
		m.value(&l.Value)
	}
	if m.pool.changed {
		m.words()
	}
	for k := range now.Sources {
		now.Sources[k].From = m.index(now.Sources[k].From)
	}
	m.macros()
	if len(now.Taken) > 0 {
		now.Taken = slices.Clone(now.Taken)
		for k := range now.Taken {
			now.Taken[k].First = m.index(now.Taken[k].First)
		}
	}
	now.ModeSaid = m.index(now.ModeSaid)
	now.Excluded = slices.Clone(now.Excluded)
	for k := range now.Excluded {
		if x := &now.Excluded[k]; x.File == 0 {
			x.Span = m.r.Moved(x.Span)
		}
	}
}

// orders moves the order of the sections, and what labels name in it.
func (m *mover) orders() {
	now, old := m.now, m.old
	now.Ahead = slices.Clone(old.Ahead)
	for s := range now.Order {
		o, from := old.Order[s], 0
		if int16(s) == m.sec {
			from, _ = slices.BinarySearch(o, m.b)
		} else if m.shift == 0 || len(o) == 0 || o[len(o)-1] < m.b {
			continue // all of it is in front
		} else {
			from, _ = slices.BinarySearch(o, m.b)
			now.Order[s] = append(make([]int32, 0, len(o)), o[:from]...)
		}
		list := now.Order[s]
		at := len(list)
		for _, i := range o[from:] {
			list = append(list, i+m.shift)
		}
		now.Order[s] = list
		was := old.Ahead[s]
		ahead := make([]int32, len(list)+1)
		copy(ahead, was[:min(from, at)])
		copy(ahead[at:], was[from:])
		for k, i := range ahead {
			if i >= m.b {
				ahead[k] = i + m.shift
			}
		}
		now.Ahead[s] = ahead
		if int16(s) != m.sec {
			continue
		}
		for _, i := range m.closed {
			k, _ := slices.BinarySearch(list, i)
			m.lookAgain(list, ahead, k, math.MaxInt32)
		}
		m.lookAgain(list, ahead, at-1, m.a)
	}
}

// lookAgain finds what labels name from position k of a section's order upwards, to the first
// instruction in front of item to.
func (m *mover) lookAgain(list, ahead []int32, k int, to int32) {
	next := ahead[k+1]
	for ; k >= 0; k-- {
		it := &m.now.Items[list[k]]
		next = aheadOf(it, next)
		ahead[k] = next
		if next == it.Index && it.Index < to {
			return
		}
	}
}

// macros gives macros and what is made of them their items and lines now.
func (m *mover) macros() {
	now, old := m.now, m.old
	now.Macros = old.Macros
	if len(old.Macros) == 0 && !slices.ContainsFunc(old.Sources, func(s program.Source) bool { return s.Expansion != nil }) {
		return
	}
	line := func(file, l int32) int32 {
		if file == 0 && int(l) >= m.r.To {
			return l + int32(m.r.Now-m.r.To)
		}
		return l
	}
	lines := func(list []program.BodyLine) []program.BodyLine {
		list = slices.Clone(list)
		for k := range list {
			list[k].Line = line(list[k].File, list[k].Line)
		}
		return list
	}
	copies := make(map[*program.Macro]*program.Macro, len(old.Macros))
	now.Macros = make([]*program.Macro, len(old.Macros))
	for k, x := range old.Macros {
		y := *x
		y.Item, y.Calls, y.Lines = m.index(x.Item), slices.Clone(x.Calls), lines(x.Lines)
		y.Line, y.End, y.Spot.Line = line(x.File, x.Line), line(x.File, x.End), line(x.File, x.Spot.Line)
		for n := range y.Calls {
			y.Calls[n] = m.index(y.Calls[n])
		}
		now.Macros[k], copies[x] = &y, &y
	}
	for k := range now.Sources {
		if x := now.Sources[k].Expansion; x != nil {
			y := *x
			y.Line, y.Lines = line(x.File, x.Line), lines(x.Lines)
			if y.Macro != nil {
				y.Macro = copies[x.Macro]
			}
			now.Sources[k].Expansion = &y
		}
	}
}
