package preprocess

import (
	"hash/maphash"
	"math/bits"
)

// table has macros by name. A copy of its root is the table as it was
// at that time: nodes that a copy may share are not changed any more. Two tables
// with a common past are compared in the time of what differs.
type table struct {
	root *node
	mine *owner // of the nodes that no copy has

	changes int // how often a name has got or lost its macro
}

type owner struct{ _ byte }

// node has up to 32 slots, those for which a bit is set.
type node struct {
	mine  *owner
	bits  uint32
	slots []slot
}

// slot is a node below, or a macro.
type slot struct {
	n *node
	m *Macro
}

const (
	nodeBits = 5
	lastBits = 60 // behind them, macros of one hash lie side by side
)

var seed = maphash.MakeSeed()

func nameHash(name string) uint64 { return maphash.String(seed, name) }

// freeze gives the table as it is now.
func (t *table) freeze() *node {
	t.mine = nil
	return t.root
}

func (n *node) get(name string) *Macro {
	if n == nil {
		return nil
	}
	h := nameHash(name)
	for shift := 0; shift < lastBits; shift += nodeBits {
		bit := uint32(1) << (h >> shift & 31)
		if n.bits&bit == 0 {
			return nil
		}
		s := &n.slots[bits.OnesCount32(n.bits&(bit-1))]
		if s.n == nil {
			if s.m.Name == name {
				return s.m
			}
			return nil
		}
		n = s.n
	}
	for k := range n.slots {
		if n.slots[k].m.Name == name {
			return n.slots[k].m
		}
	}
	return nil
}

// set gives a name its macro.
func (t *table) set(m *Macro) {
	if t.mine == nil {
		t.mine = &owner{}
	}
	t.changes++
	t.root = t.put(t.root, m, nameHash(m.Name), 0)
}

// own is a node that may be changed.
func (t *table) own(n *node) *node {
	switch {
	case n == nil:
		return &node{mine: t.mine}
	case n.mine == t.mine:
		return n
	}
	return &node{t.mine, n.bits, append(make([]slot, 0, len(n.slots)+1), n.slots...)}
}

func (t *table) put(n *node, m *Macro, h uint64, shift int) *node {
	n = t.own(n)
	if shift >= lastBits {
		for k := range n.slots {
			if n.slots[k].m.Name == m.Name {
				n.slots[k].m = m
				return n
			}
		}
		n.slots = append(n.slots, slot{m: m})
		return n
	}
	bit := uint32(1) << (h >> shift & 31)
	k := bits.OnesCount32(n.bits & (bit - 1))
	if n.bits&bit == 0 {
		n.bits |= bit
		n.slots = append(n.slots, slot{})
		copy(n.slots[k+1:], n.slots[k:])
		n.slots[k] = slot{m: m}
		return n
	}
	s := &n.slots[k]
	switch {
	case s.n != nil:
		s.n = t.put(s.n, m, h, shift+nodeBits)
	case s.m.Name == m.Name:
		s.m = m
	default:
		down := t.put(nil, s.m, nameHash(s.m.Name), shift+nodeBits)
		*s = slot{n: t.put(down, m, h, shift+nodeBits)}
	}
	return n
}

// del takes a name away.
func (t *table) del(name string) {
	if t.root.get(name) == nil {
		return
	}
	if t.mine == nil {
		t.mine = &owner{}
	}
	t.changes++
	t.root = t.cut(t.root, name, nameHash(name), 0)
}

// cut takes a name that is there away. Nodes may stay that have nothing.
func (t *table) cut(n *node, name string, h uint64, shift int) *node {
	n = t.own(n)
	k := 0
	if shift >= lastBits {
		for n.slots[k].m.Name != name {
			k++
		}
	} else {
		bit := uint32(1) << (h >> shift & 31)
		k = bits.OnesCount32(n.bits & (bit - 1))
		if s := &n.slots[k]; s.n != nil {
			s.n = t.cut(s.n, name, h, shift+nodeBits)
			return n
		}
		n.bits &^= bit
	}
	n.slots = append(n.slots[:k], n.slots[k+1:]...)
	return n
}

// diff calls f for every name that has not the same macro in both tables, with
// nil where it has none, until f is false.
func diff(a, b *node, shift int, f func(a, b *Macro) bool) bool {
	if a == b {
		return true
	}
	if a == nil {
		return each(b, func(m *Macro) bool { return f(nil, m) })
	}
	if b == nil {
		return each(a, func(m *Macro) bool { return f(m, nil) })
	}
	if shift >= lastBits {
		return diffLists(a.slots, b.slots, f)
	}
	for all := a.bits | b.bits; all != 0; all &= all - 1 {
		bit := all & -all
		var x, y slot
		if a.bits&bit != 0 {
			x = a.slots[bits.OnesCount32(a.bits&(bit-1))]
		}
		if b.bits&bit != 0 {
			y = b.slots[bits.OnesCount32(b.bits&(bit-1))]
		}
		switch {
		case x == y:
			continue
		case x.m == nil && y.m == nil:
			if !diff(x.n, y.n, shift+nodeBits, f) {
				return false
			}
		case !diffLists(x.macros(), y.macros(), f):
			return false
		}
	}
	return true
}

// macros lists the macros in a slot.
func (s slot) macros() (out []slot) {
	if s.m != nil {
		return []slot{s}
	}
	each(s.n, func(m *Macro) bool { out = append(out, slot{m: m}); return true })
	return out
}

// diffLists is diff for lists, one of which is short.
func diffLists(a, b []slot, f func(a, b *Macro) bool) bool {
	find := func(list []slot, name string) *Macro {
		for _, s := range list {
			if s.m.Name == name {
				return s.m
			}
		}
		return nil
	}
	for _, s := range a {
		if m := find(b, s.m.Name); m != s.m && !f(s.m, m) {
			return false
		}
	}
	for _, s := range b {
		if find(a, s.m.Name) == nil && !f(nil, s.m) {
			return false
		}
	}
	return true
}

// each calls f for every macro until it is false.
func each(n *node, f func(m *Macro) bool) bool {
	if n == nil {
		return true
	}
	for _, s := range n.slots {
		if s.m != nil && !f(s.m) || s.n != nil && !each(s.n, f) {
			return false
		}
	}
	return true
}
