package assemble

import (
	"slices"

	"narrowgauge/analysis/assemble/layout"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
)

// poolEdit is what an edit makes of the literal pool that its statements ask for words.
type poolEdit struct {
	changed bool
	item    int32 // the earlier item where it is, -1 for the end of the section
	was     int   // words before,
	count   int   // and now
	start   int64 // offset of the first one now
	before  int64 // where the pool of a section's end begins now, with its padding
	users   map[int32]int
	by      map[int32]int32 // who asks first for words that another line asked for, by index now
	added   []program.Literal
	to      map[int32]int32 // what the words of the new statements are: earlier ones, or ^k for added[k]
}

// place is the item that the layout has for the pool.
func (e *poolEdit) place() int32 {
	if e.item < 0 {
		return layout.SectionEnd - 1
	}
	return e.item
}

// within are the gaps of a section with one for the pool among them.
func (e *poolEdit) within(l *layout.Laid) []layout.Gap {
	k, ok := l.Gap(e.place())
	if ok {
		return l.Gaps
	}
	return slices.Insert(slices.Clone(l.Gaps), k, layout.Gap{Item: e.place(), Align: 4})
}

// end gives a section the pool at its end, if it is that one.
func (e *poolEdit) end(now, was *program.Section) {
	if e.item >= 0 {
		return
	}
	if now.EndPool = e.before; e.count == 0 {
		now.EndPool = -1
	}
}

// pooled finds what becomes of the words that the statements of an edit ask for; false where
// that is not plain.
func (m *mover) pooled() bool {
	e, old := &m.pool, m.old
	e.item = -1
	lit := func(it program.Item) bool { return it.Literal >= 0 }
	gone, come := old.Items[m.a:m.b], m.now.Items[m.a:m.c]
	if !slices.ContainsFunc(gone, lit) && !slices.ContainsFunc(come, lit) {
		return true
	}
	e.changed, e.users, e.by, e.to = true, map[int32]int{}, map[int32]int32{}, map[int32]int32{}
	o := old.Order[m.sec]
	k, _ := slices.BinarySearch(o, m.b)
	below := o[k:]
	for k, i := range below {
		if s := old.Items[i].Stmt; s.Kind == syntax.Directive && s.Directive.Effect == syntax.EffPool && s.Err == nil && len(s.Ops) == 0 {
			e.item, below = i, below[:k]
			break
		}
	}
	var words []int32
	for k := range old.Literals {
		if l := &old.Literals[k]; l.Section == m.sec && l.Item == e.item {
			words = append(words, int32(k))
		}
	}
	if e.was = len(words); e.was > 0 {
		l := &m.before.laid[m.sec]
		if k, ok := l.Gap(e.place()); !ok || l.Gaps[k].Align != 4 || l.Gaps[k].After != 4*int64(e.was) {
			return false
		}
	}
	for k := range gone {
		if i := gone[k].Literal; i >= 0 {
			e.users[i]--
			if old.Literals[i].Item != e.item || old.Literals[i].Section != m.sec {
				return false
			}
		}
	}
	count := e.was
	for i := range e.users {
		l := &old.Literals[i]
		switch {
		case l.Users+e.users[i] == 0:
			count--
		case l.By >= m.a && l.By < m.b:
			next := slices.IndexFunc(below, func(k int32) bool { return old.Items[k].Literal == i })
			if next < 0 {
				return false
			}
			e.by[i] = below[next] + m.shift
		}
	}
	for k := range come {
		it := &come[k]
		if it.Literal < 0 {
			continue
		}
		if to, ok := e.to[it.Literal]; ok {
			if to >= 0 {
				e.users[to]++
			}
			continue
		}
		made := m.now.Literals[it.Literal]
		if made.Value.Kind != program.Number {
			return false
		}
		same := slices.IndexFunc(words, func(i int32) bool {
			l := &old.Literals[i]
			return l.Users+e.users[i] > 0 && l.Value.Kind == program.Number && l.Value.N == made.Value.N && signedIn(old, &old.Items[l.By]) == signedIn(m.now, it)
		})
		if same < 0 {
			e.to[it.Literal] = ^int32(len(e.added))
			e.added = append(e.added, made)
			count++
			continue
		}
		i := words[same]
		e.to[it.Literal] = i
		e.users[i]++
		by, ok := e.by[i]
		if !ok {
			by = m.index(old.Literals[i].By)
		}
		e.by[i] = min(by, it.Index)
	}
	e.count = count
	return true
}

// align sets the alignment of the edit's section, which a pool may be the only reason for; false
// where it has another one.
func (m *mover) align(gaps []layout.Gap) bool {
	most := func(gaps []layout.Gap, words int) int64 {
		n := int64(1)
		for k := range gaps {
			if g := &gaps[k]; words > 0 || g.Item != m.pool.place() {
				n = max(n, g.Align)
			}
		}
		return n
	}
	if m.old.Sections[m.sec].Align != most(gaps, m.pool.was) {
		return false
	}
	m.now.Sections[m.sec].Align = most(gaps, m.pool.count)
	if m.pool.count == 0 {
		l := &m.laid[m.sec]
		l.Gaps = slices.DeleteFunc(l.Gaps, func(g layout.Gap) bool { return g.Item == m.index(m.pool.place()) })
	}
	return true
}

// words puts the words of the pool where they are now, in the order in which they are asked for.
func (m *mover) words() {
	e, now := &m.pool, m.now
	if e.item >= 0 {
		it := &now.Items[m.index(e.item)]
		if it.Flags |= program.HasPool; e.count == 0 {
			it.Flags &^= program.HasPool
		}
	}
	type word struct {
		program.Literal
		was int32 // its earlier index, or ^k for added[k]
	}
	list := make([]word, 0, len(now.Literals)+len(e.added))
	for k := range now.Literals {
		i := int32(k)
		l := now.Literals[k]
		if by, ok := e.by[i]; ok {
			l.By = by
		}
		if l.Users += e.users[i]; l.Users > 0 {
			list = append(list, word{l, i})
		}
	}
	for k := range e.added {
		l := e.added[k]
		l.Section, l.Item = m.sec, m.index(e.item)
		list = append(list, word{l, ^int32(k)})
	}
	slices.SortStableFunc(list, func(a, b word) int { return int(a.By) - int(b.By) })
	at := make(map[int32]int32, len(list))
	now.Literals = make([]program.Literal, len(list))
	off, item := e.start, m.index(e.item)
	for k := range list {
		l := &list[k].Literal
		if l.Section == m.sec && l.Item == item {
			l.Offset = off
			off += 4
		}
		now.Literals[k] = *l
		at[list[k].was] = int32(k)
	}
	for k := range now.Items {
		it := &now.Items[k]
		if it.Literal < 0 {
			continue
		}
		i := it.Literal
		if int32(k) >= m.a && int32(k) < m.c {
			i = e.to[i]
		}
		it.Literal = at[i]
	}
}

// signedIn says whether the number of the literal that an item asks for is written with a sign.
func signedIn(r *program.Program, it *program.Item) bool {
	o := &it.Stmt.Ops[1]
	return signed(r.LineText(it)[o.Start:o.End])
}
