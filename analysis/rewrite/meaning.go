package rewrite

import (
	"slices"
	"sort"

	"narrowgauge/analysis/flow"
	"narrowgauge/analysis/image"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
	"narrowgauge/isa/exec"
)

// A rewrite keeps its promise when the text before it and the text after it do the
// same. Both are carried out here, from a number of states, from each place where
// execution may come into what the edits changed to the place where it leaves that.
// There the two have to be at the same statement, with the same in all registers and
// flags that are still needed, and with the same in memory, but below the stack pointer.
// The line with the finding does what it evidently means.

// comparison compares a program with the result of what was attempted.
type comparison struct {
	*trial
	was, is *image.Image
	// owned are the items of the program that are the same statement, and yet changed, with
	// the attempt that each belongs to.
	owned map[int32]int
	// owner is the attempt whose line the runs are about, and sets whether lines that
	// are refused mean to set flags where that may be.
	owner *attempt
	sets  bool
	begin []exec.State // see states
}

// proofs says of each attempt whether the result does what the program means.
func (t *trial) proofs() []Proof {
	if t.proved != nil {
		return t.proved
	}
	t.proved = make([]Proof, len(t.attempts))
	m := &comparison{trial: t, was: image.New(t.before.Evaluator), is: image.New(t.after.Evaluator), owned: map[int32]int{}}
	if len(m.was.Order) != len(m.is.Order) {
		return t.proved
	}
	for i, e := range m.edits {
		// What begins before an edit that changes it.
		if it := t.before.ItemAt(e.Span.Start); it != nil && e.Span.Start < t.before.Span(0, int(it.Line), it.Stmt.Start, it.Stmt.End).End {
			m.owned[it.Index] = m.of[i]
		}
	}
	for i, at := range m.attempts {
		m.owned[at.item.Index] = i
	}
	worst, decided := make([]Proof, len(t.attempts)), make([]bool, len(t.attempts))
	for i := range worst {
		worst[i] = Same
	}
	for sec := range m.was.Order {
		ok := m.walk(int16(sec), func(owners []int, own bool, proof Proof) {
			for _, i := range owners {
				if worst[i] != Differs && proof != Same {
					worst[i] = proof
				}
				decided[i] = decided[i] || own && proof == Same
			}
		})
		if !ok {
			for i := range worst {
				worst[i] = Differs
			}
		}
	}
	for i := range worst {
		if worst[i] == Differs || decided[i] {
			t.proved[i] = worst[i]
		}
	}
	return t.proved
}

// attemptOf is the attempt that an item of the program belongs to.
func (m *comparison) attemptOf(item int32) (i int, ok bool) {
	if i, ok = m.owned[item]; !ok && m.pairs.Edit[item] >= 0 {
		return m.of[m.pairs.Edit[item]], true
	}
	return i, ok
}

// newAttemptOf says the same of an item of the result.
func (m *comparison) newAttemptOf(item int32) (i int, ok bool) {
	if was := m.pairs.Before[item]; was >= 0 {
		i, ok = m.owned[was]
		return i, ok
	}
	return m.of[m.pairs.NewEdit[item]], true
}

// region says whether an item of the program is one of what changed.
func (m *comparison) region(it *program.Item) bool {
	_, ok := m.attemptOf(it.Index)
	return ok
}

// newRegion says the same of an item of the result.
func (m *comparison) newRegion(it *program.Item) bool {
	_, ok := m.newAttemptOf(it.Index)
	return ok
}

// stretch is a part of a section that changed, as the items that are in it. above is
// the item before it, -1 at the start of a section, and next the offset of what follows it.
type stretch struct {
	items []int32
	above int32
	next  int64
}

// walk goes along a section and tells of each part that changed: which attempts it
// belongs to, whether the line of one of them is in it, and what comes out of the
// comparison. ok is false where the rest of both sections is not the same.
func (m *comparison) walk(sec int16, tell func(owners []int, own bool, proof Proof)) (ok bool) {
	o, p := m.was.Order[sec], m.is.Order[sec]
	above := int32(-1)
	var owners []int
	for {
		a, b := stretch{above: above}, stretch{above: -1}
		for len(o) > 0 && m.region(&m.was.Items[o[0]]) {
			a.items, o = append(a.items, o[0]), o[1:]
		}
		for len(p) > 0 && m.newRegion(&m.is.Items[p[0]]) {
			b.items, p = append(b.items, p[0]), p[1:]
		}
		a.next, b.next = m.was.Sections[sec].Size, m.is.Sections[sec].Size
		if len(o) > 0 {
			a.next = m.was.Items[o[0]].Offset
		}
		if len(p) > 0 {
			b.next = m.is.Items[p[0]].Offset
		}
		if len(a.items)+len(b.items) > 0 {
			var own bool
			owners, own = m.owners(&a, &b)
			tell(owners, own, m.compared(sec, &a, &b, owners))
		}
		if len(o) == 0 || len(p) == 0 {
			return len(o) == len(p)
		}
		if m.pairs.After[o[0]] != p[0] {
			return false
		}
		if !m.alike(&m.was.Items[o[0]], &m.is.Items[p[0]]) {
			if len(owners) == 0 {
				return false
			}
			tell(owners, false, Differs)
		}
		if it := &m.was.Items[o[0]]; it.Size > 0 {
			above = it.Index
		}
		o, p = o[1:], p[1:]
	}
}

// owners are the attempts that a part belongs to; own says whether it has the line of one.
func (m *comparison) owners(a, b *stretch) (owners []int, own bool) {
	add := func(i int, ok bool) {
		if ok && !slices.Contains(owners, i) {
			owners = append(owners, i)
		}
	}
	for _, k := range a.items {
		i, ok := m.attemptOf(k)
		add(i, ok)
		own = own || ok && m.attempts[i].item.Index == k
	}
	for _, k := range b.items {
		i, ok := m.newAttemptOf(k)
		add(i, ok)
	}
	return owners, own
}

// compared compares a part with what it became, for the attempts that it belongs to.
func (m *comparison) compared(sec int16, a, b *stretch, owners []int) Proof {
	if !instructions(m.was.Program, a.items) && !instructions(m.is.Program, b.items) {
		return Same
	}
	if !slices.ContainsFunc(owners, func(i int) bool { return m.attempts[i].k.safe && m.attempts[i].refused() }) {
		return Unproven // nobody asks
	}
	m.owner = m.attempts[owners[0]]
	m.begin = m.states()
	sets, _ := m.owner.intent()
	m.sets = sets != no
	proof := m.stretches(sec, a, b)
	if sets == either && proof != Same {
		m.sets = false
		if second := m.stretches(sec, a, b); second == Same {
			return Same
		}
	}
	return proof
}

// refused says whether no instruction is at the line with the finding, so that its words
// are all that says what it means.
func (c *rewriting) refused() bool {
	return c.item.Match.Form == nil || c.item.Flags&program.Refused != 0
}

// alike says whether a statement that no edit touches still is the same instruction,
// under the same condition, in the same state of the core. Where it leads, its label says.
func (m *comparison) alike(x, y *program.Item) bool {
	if x.Stmt.Kind != syntax.Instruction {
		return true
	}
	if m.was.Environments[x.Environment].Mode != m.is.Environments[y.Environment].Mode {
		return false
	}
	if f := x.Match.Form; f != nil && f.Row.IT >= isa.ITNeutral {
		return true // whatever the condition
	}
	return condition(x) == condition(y)
}

// condition is what has to hold for an instruction: by its name, where that says it.
func condition(it *program.Item) isa.Cond {
	if it.Stmt.Mnemonic == nil {
		return isa.AL
	}
	_, _, cond := it.Stmt.Mnemonic.Operation()
	if slot := it.Slot.Unpack(); cond == isa.AL && slot.In && it.Match.Form != nil && it.Flags&program.Refused == 0 {
		return slot.Cond
	}
	return cond
}

// instructions says whether some item is one.
func instructions(r *program.Program, items []int32) bool {
	for _, k := range items {
		if r.Items[k].Stmt.Kind == syntax.Instruction {
			return true
		}
	}
	return false
}

// stretches compares one part of a section with what it became, from its start and from
// each label in it.
func (m *comparison) stretches(sec int16, a, b *stretch) Proof {
	var froms, tos []uint32
	add := func(from, to int64) bool {
		x, ok := image.Address(sec, from)
		y, ok2 := image.Address(sec, to)
		froms, tos = append(froms, x), append(tos, y)
		return ok && ok2
	}
	from, to := a.next, b.next
	if len(a.items) > 0 {
		from = m.was.Items[a.items[0]].Offset
	}
	if len(b.items) > 0 {
		to = m.is.Items[b.items[0]].Offset
	}
	reached := len(a.items) > 0 || a.above < 0 || flow.NextOf(m.was.Program, &m.was.Items[a.above]) != flow.Stops
	if reached && !add(from, to) {
		return Unproven
	}
	for _, k := range a.items {
		it := &m.was.Items[k]
		if it.Stmt.Kind != syntax.Label {
			continue
		}
		found := false
		for _, n := range b.items {
			if x := &m.is.Items[n]; x.Stmt.Kind == syntax.Label && x.Stmt.Name == it.Stmt.Name {
				if found = true; !add(it.Offset, x.Offset) {
					return Unproven
				}
				break
			}
		}
		if !found {
			return Unproven
		}
	}
	out := Unproven
	if len(froms) == 0 {
		return Same // only what changed elsewhere leads here
	}
	for k := range froms {
		for n := range m.begin {
			switch v := m.run(n, k, froms, tos); v {
			case Differs:
				return Differs
			case Same:
				out = Same
			}
		}
	}
	return out
}

// origin is where an address of the result was before the edits, and the address itself
// where it was nowhere.
func (m *comparison) origin(addr uint32) uint32 {
	sec, off, ok := image.Place(addr &^ 1)
	if !ok || int(sec) >= len(m.is.Order) {
		return addr
	}
	if size := m.is.Sections[sec].Size; off > size {
		return addr
	} else if off == size {
		return addr + uint32(m.was.Sections[sec].Size-size)
	}
	order := m.is.Order[sec]
	k := sort.Search(len(order), func(k int) bool { return m.is.Items[order[k]].Offset > off }) - 1
	for ; k >= 0; k-- {
		it := &m.is.Items[order[k]]
		if it.Offset+it.Size <= off && it.Offset != off {
			break
		}
		if was := m.pairs.Before[it.Index]; was >= 0 {
			return addr + uint32(m.was.Items[was].Offset-it.Offset)
		}
	}
	return addr
}
