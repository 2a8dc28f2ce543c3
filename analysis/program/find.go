package program

import (
	"slices"
	"sort"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// CodeLabel finds the label that a target operand names, with the distance
// from it, when instructions are there.
func (p *Program) CodeLabel(v Value) (s *Symbol, mode isa.State, ok bool) {
	if v.Kind != Address || v.Symbol == nil || !v.Symbol.Defined {
		return nil, 0, false
	}
	s = v.Symbol
	if !s.Label {
		return s, s.Mode, s.Function
	}
	if i := p.Ahead[v.Section][p.Position(&p.Items[s.Item])+1]; i >= 0 {
		return s, p.Environments[p.Items[i].Environment].Mode, true
	}
	return nil, 0, false
}

// Aligns says whether a directive moves to a boundary and no farther.
func Aligns(e syntax.Effect) bool {
	switch e {
	case syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffAlignFrom, syntax.EffArm, syntax.EffCode:
		return true
	}
	return false
}

// WordAt finds the data argument that makes the word at an address.
func (p *Program) WordAt(v Value) (*Item, *syntax.Operand) {
	if v.Kind != Address {
		return nil, nil
	}
	for _, i := range p.Order[v.Section] {
		it := &p.Items[i]
		if it.Offset > v.N {
			break
		}
		if it.Stmt.Kind == syntax.Directive && it.Stmt.Directive.Effect == syntax.EffData && p.Unit(it) == 4 && v.N < it.Offset+it.Size {
			k := (v.N - it.Offset) / 4
			if (v.N-it.Offset)%4 == 0 && int(k) < len(it.Stmt.Ops) {
				return it, &it.Stmt.Ops[k]
			}
		}
	}
	return nil, nil
}

// InsertedBlock is the IT line, as text, of the inserted block that the item
// is in, and the block's first instruction; "" for an item in none.
func (r *Program) InsertedBlock(it *Item) (text string, first *Item) {
	if it.Slot&SlotInserted == 0 {
		return "", nil
	}
	list := r.Order[it.Section]
	k := r.Position(it)
	for k > 0 && r.Items[list[k]].Slot&SlotFirst == 0 {
		k--
	}
	first = &r.Items[list[k]]
	c := first.Slot.Unpack().Cond
	text = "i"
	for ; k < len(list); k++ {
		x := &r.Items[list[k]]
		if x.Flags&IsCode == 0 {
			continue
		}
		if x.Slot&SlotInserted == 0 || x != first && x.Slot&SlotFirst != 0 {
			break
		}
		if x.Slot.Unpack().Cond == c {
			text += "t"
		} else {
			text += "e"
		}
	}
	return text + " " + c.String(), first
}

// BlockOf is the IT line of the block that the item is in.
func (p *Program) BlockOf(it *Item) *Item {
	if it.Slot&SlotInserted != 0 {
		return it
	}
	for k := p.Position(it) - 1; k >= 0; k-- {
		if x := &p.Items[p.Order[it.Section][k]]; x.Slot == 0 && x.Stmt.Mnemonic != nil && x.Stmt.Mnemonic.OpensBlock() {
			return x
		}
	}
	return it
}

// Following is the item after k in its section, labels and empty lines left
// out, if it is an instruction.
func (r *Program) Following(k *Item) *Item {
	o := r.Order[k.Section]
	for i := r.Position(k) + 1; i < len(o); i++ {
		it := &r.Items[o[i]]
		if it.Stmt.Kind == syntax.Instruction {
			return it
		}
		if it.Size > 0 {
			return nil
		}
	}
	return nil
}

// Position is an item's index in its section's order.
func (r *Program) Position(it *Item) int {
	if m := r.Sections[it.Section].Place; m != nil {
		return m[it.Index]
	}
	o := r.Order[it.Section]
	lo, hi := 0, len(o)
	for lo < hi {
		m := (lo + hi) / 2
		if o[m] < it.Index {
			lo = m + 1
		} else {
			hi = m
		}
	}
	return lo
}

// ComesFrom says whether an item is made by the expansion that another one
// asks for.
func (r *Program) ComesFrom(it *Item, call int32) bool {
	for it.File != 0 {
		from := r.Sources[it.File].From
		if from == call {
			return true
		}
		it = &r.Items[from]
	}
	return false
}

// ItemAt finds the statement at a byte offset of the root file.
func (r *Program) ItemAt(off int) *Item { return r.ItemIn(0, off) }

// ItemIn finds the statement at a byte offset of a file.
func (r *Program) ItemIn(file int32, off int) *Item {
	line, col := r.Place(file, off)
	return r.ItemAtColumn(file, line, col)
}

// ItemAtColumn is the item at a column of a line of the text that the
// assembler sees.
func (r *Program) ItemAtColumn(file int32, line int, col int32) *Item {
	// What a file comes to is together, after the item that includes it.
	items := r.Items[r.Sources[file].From+1:]
	if file != 0 {
		from := r.Sources[file].From
		items = items[:sort.Search(len(items), func(k int) bool { return !r.ComesFrom(&items[k], from) })]
	}
	// A line may have very many statements, in the order of their columns.
	k := sort.Search(len(items), func(k int) bool {
		at, end := r.endIn(file, items[k:])
		return at > line || at == line && end >= col
	})
	var best *Item
	for ; k < len(items); k++ {
		it := &items[k]
		if it.File != file {
			continue
		}
		if int(it.Line) != line {
			break
		}
		if it.Stmt.Directive == syntax.AutoAlign {
			continue // nobody wrote it
		}
		if it.Stmt.Start > col {
			break
		}
		if it.Stmt.Start <= col && col <= it.Stmt.End {
			if best == nil || best.Stmt.Kind == syntax.Label {
				best = it
			}
		}
	}
	return best
}

// endIn is the line of a file that the first of items is in or was included from, and the
// column where its statement ends there.
func (r *Program) endIn(file int32, items []Item) (line int, end int32) {
	it := &items[0]
	for i := range items {
		if items[i].Stmt.Directive != syntax.AutoAlign {
			it = &items[i] // one that nobody wrote has no column
			break
		}
	}
	for it.File != file {
		it = &r.Items[r.Sources[it.File].From]
	}
	return int(it.Line), it.Stmt.End
}

// LineIn is the line of a file that an item of it is in or was included
// from.
func (r *Program) LineIn(file int32, it *Item) int {
	for it.File != file {
		it = &r.Items[r.Sources[it.File].From]
	}
	return int(it.Line)
}

// ExpansionsOf lists the expansions of the innermost body that a line of a file is in, in order
// and not more than most: those of a macro's body, or of what is repeated.
func (r *Program) ExpansionsOf(file, line int32, most int) (out []int32) {
	best := int32(-1) // how many lines the body has
	for i := range r.Sources {
		x := r.Sources[i].Expansion
		if x == nil || x.Joined || best >= 0 && x.N > best {
			continue
		}
		id := int32(i)
		if n := int32(len(x.Lines)); n > 0 {
			if !slices.ContainsFunc(x.Lines, func(l BodyLine) bool { return l == BodyLine{file, line} }) {
				continue
			}
		} else if first, from := r.written(id, 0); first != file || line < from || line >= from+x.N {
			continue
		}
		if best < 0 || x.N < best {
			best, out = x.N, out[:0]
		}
		if len(out) < most {
			out = append(out, id)
		}
	}
	return out
}

// AroundIn finds what an expansion made, the first time, of a line of a file that is in its body
// and of those beside it: the last item at or above the line, whether it is of the line itself,
// and the first item below, also below the whole expansion; -1 where there is none.
func (r *Program) AroundIn(id, file, line int32) (at int32, exact bool, next int32) {
	from, n := r.Sources[id].From, r.Sources[id].Expansion.N
	at, next = -1, -1
	for k := from + 1; int(k) < len(r.Items); k++ {
		it := &r.Items[k]
		if !r.ComesFrom(it, from) {
			return at, exact, k
		}
		in := int32(r.LineIn(id, it))
		switch f, l := r.written(id, in); {
		case in >= n || l > line || f != file:
			return at, exact, k
		default:
			at, exact = k, l == line && it.File == id
		}
	}
	return at, exact, next
}
