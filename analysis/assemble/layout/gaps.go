package layout

import "slices"

// What an edit moves is moved by the same number of bytes up to the next alignment, which
// takes up some of it, or adds to it. A section in which nothing can grow needs no more to be
// laid out again. In others the points do: those of the first pass, moved as the edit has it,
// are laid out anew.

// Gap is an alignment of a section, or a pool, which aligns itself.
type Gap struct {
	Item  int32 // the item, SectionEnd-1 for the pool at the section's end
	Align int64 // boundary in bytes
	Limit int64 // most bytes that it pads, 0 for all
	After int64 // bytes of what follows the padding, as the words of a pool
}

// Size is what the gap takes at an offset, with what follows the padding.
func (g *Gap) Size(off int64) int64 {
	return padding(off, g.Align, g.Limit) + g.After
}

// point is the gap as one that is laid out again, where the first pass has it.
func (g *Gap) point(off, size int64) point {
	return point{item: g.Item, kind: PointAlign, off: off, size: size, addr: off, now: size, align: g.Align, limit: g.Limit, after: g.After, reached: -1}
}

// Placed is a gap where the first pass has it.
type Placed struct {
	Gap
	Off, Bytes int64
}

// Laid is what a layout leaves of a section, for one of nearly the same section.
type Laid struct {
	Gaps   []Gap // in order
	Steps  int   // what the layout took
	Again  bool  // it can be laid out again
	points []point
}

// kept is what a section keeps for that. Most sections of a program with very many have nothing.
type kept struct {
	gaps      []Gap
	laidOut   []point // as the layout leaves them
	steps     int
	restarted bool // it began again
}

func (s *Section) keeps() *kept {
	if s.kept == nil {
		s.kept = &kept{}
	}
	return s.kept
}

// Laid gives that for each section of the program.
func (p *Layouter) Laid() []Laid {
	out := make([]Laid, len(p.sections))
	for s := range p.sections {
		x := &p.sections[s]
		out[s] = Laid{Again: !x.odd}
		if k := x.kept; k != nil {
			out[s] = Laid{k.gaps, k.steps, !x.odd && !k.restarted, k.laidOut}
		}
	}
	return out
}

// Renumbered is the same where items have other numbers.
func (l Laid) Renumbered(index func(int32) int32) Laid {
	l.Gaps, l.points = slices.Clone(l.Gaps), slices.Clone(l.points)
	for k := range l.Gaps {
		l.Gaps[k].Item = index(l.Gaps[k].Item)
	}
	for k := range l.points {
		l.points[k].item = index(l.points[k].item)
	}
	return l
}

// Gap is where the gap of an item is among those of the section, and whether there is one.
func (l *Laid) Gap(item int32) (k int, ok bool) {
	return slices.BinarySearchFunc(l.Gaps, item, func(g Gap, at int32) int { return int(g.Item) - int(at) })
}

// Grows says whether something in the section can.
func (l *Laid) Grows() bool { return len(l.points) > 0 }

// Shift is how far a place, given by its item, is from where the first pass has it.
func (l *Laid) Shift(at int32) int64 {
	if i := pointBefore(l.points, at); i >= 0 {
		return l.points[i].moved()
	}
	return 0
}

// First is the size of an item in the first pass, if it is now as given.
func (l *Laid) First(item int32, size int64) int64 {
	if i := pointBefore(l.points, item+1); i >= 0 && l.points[i].item == item {
		return l.points[i].size
	}
	return size
}

// Begins puts the points in front of an item into a section that is read again from there on.
func (p *Layouter) Begins(sec int16, l *Laid, item int32) {
	p.sections[sec].points = slices.Clone(l.points[:pointBefore(l.points, item)+1])
	for k := range p.sections[sec].points {
		p.sections[sec].points[k].anew()
	}
}

// anew is a point as it is before the layout.
func (t *point) anew() {
	*t = point{item: t.item, kind: t.kind, op: t.op, off: t.off, size: t.size, addr: t.off, now: t.size, align: t.align, limit: t.limit, after: t.after, reached: -1, form: t.form}
}

// Added says whether points that have been added since Begins can be laid out again.
func (p *Layouter) Added(sec int16) bool { return !p.sections[sec].odd }

// Goes puts the points from an earlier item on behind those of a section. index gives the items
// their numbers now, by how far a place is moved in the first pass, and gaps are those behind.
func (p *Layouter) Goes(sec int16, l *Laid, item int32, index func(int32) int32, by func(int32) int64, gaps []Placed) {
	s := &p.sections[sec]
	align := func(to int32) {
		for len(gaps) > 0 && gaps[0].Item < to {
			g := &gaps[0]
			gaps = gaps[1:]
			if len(s.points) > 0 && g.Align > 2 {
				s.points = append(s.points, g.point(g.Off, g.Bytes))
			}
		}
	}
	for _, t := range l.points[pointBefore(l.points, item)+1:] {
		if t.kind == PointAlign {
			continue // one of the gaps
		}
		t.item = index(t.item)
		align(t.item)
		t.off += by(t.item)
		t.anew()
		s.points = append(s.points, t)
	}
	align(SectionEnd)
}

// Firsts is Shift and First for one item after the other, in order.
func (l *Laid) Firsts() func(item int32, size int64) (shift, first int64) {
	k, shift := 0, int64(0)
	return func(item int32, size int64) (int64, int64) {
		for ; k < len(l.points) && l.points[k].item < item; k++ {
			shift = l.points[k].moved()
		}
		if k < len(l.points) && l.points[k].item == item {
			size = l.points[k].size
		}
		return shift, size
	}
}

// Took says what the layout of a section has taken.
func (p *Layouter) Took(sec int16) int { return p.sections[sec].keeps().steps }

// Points says whether something in a section can grow, while the program is read.
func (p *Layouter) Points(sec int16) bool { return len(p.sections[sec].points) > 0 }
