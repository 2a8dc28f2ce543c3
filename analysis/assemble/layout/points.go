package layout

import (
	"math"
	"math/bits"
	"slices"
	"sort"

	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// The first pass lays a section out as if no instruction grew, and notes the points
// where something may move; Relax lays the points out until nothing moves any more.
// How far an instruction looks ahead, when it stays wide, and what else decides is as
// the reference assembler has it: the places of all labels depend on it. The cost is
// one step for each point in each round.

// Section is what may move in a section of the program.
type Section struct {
	breaks []int32 // the items that may grow, or pad
	points []point // those that are to be laid out again
	laid   bool    // has been laid out at least once
	odd    bool    // a point may grow by an odd number of bytes
	before int16   // the section in front of a subsection, once the layout begins
	kept   *kept   // what there is to know of it after the layout; nil: nothing
}

// point is a place of a section whose size may change.
type point struct {
	item      int32 // the item, SectionEnd-1 for the pool at the section's end
	kind      PointKind
	op        int8 // the operand that it depends on
	frozen    bool // it is wide and stays so
	fixed     bool // target does not change but with the layout
	wide      bool // whatever the distance is
	off, size int64
	addr, now int64     // the same at present
	align     int64     // PointAlign: boundary
	after     int64     // PointAlign: what follows the gap; PointSpace: bytes of a unit
	limit     int64     // most that it pads, 0 for all
	last      int64     // where it was at the end of the last layout
	target    int64     // offset as the first pass has it
	reached   int32     // the last point before the target, -1 for none
	form      *isa.Form // of an instruction, as long as it is a halfword
}

// PointKind is what may change the size of a point.
type PointKind uint8

const (
	PointAlign  PointKind = iota
	PointFar              // isa.GrowsFar
	PointAhead            // isa.GrowsAhead
	PointNumber           // is wide in the end
	PointBase             // where a subsection begins; see subsections.go
	PointLEB              // .uleb128 or .sleb128 of a distance
	PointSpace            // .space by a distance
	PointOrg
)

// SectionEnd is an item's number after that of every item.
const SectionEnd = math.MaxInt32

// moved is how far what follows the point is from where the first pass has it.
func (t *point) moved() int64 { return t.addr + t.now - t.off - t.size }

// pad is what an alignment takes at its present place.
func (t *point) pad() int64 {
	return padding(t.addr, t.align, t.limit)
}

// padding is what an alignment takes at an offset: up to a boundary, or nothing where that is more
// than a limit, which is 0 for none.
func padding(off, align, limit int64) int64 {
	n := -off & (align - 1)
	if limit > 0 && n > limit {
		return 0
	}
	return n
}

// pointBefore is the last point in front of an item, -1 for none.
func pointBefore(s []point, at int32) int32 {
	return int32(sort.Search(len(s), func(i int) bool { return s[i].item >= at })) - 1
}

// boundaries are the alignments among points, by their boundary: those of 1<<n are the
// n-th list, in order.
type boundaries [][]int32

func boundariesOf(pts []point) (b boundaries) {
	for k := range pts {
		if t := &pts[k]; t.kind == PointAlign {
			n := bits.TrailingZeros64(uint64(t.align))
			for len(b) <= n {
				b = append(b, nil)
			}
			b[n] = append(b[n], int32(k))
		}
	}
	return b
}

// largest is the largest boundary of the points behind after, up to last; 1 without one.
func (b boundaries) largest(after, last int32) int64 {
	for n := len(b) - 1; n > 0; n-- {
		if k, _ := slices.BinarySearch(b[n], after+1); k < len(b[n]) && b[n][k] <= last {
			return 1 << n
		}
	}
	return 1
}

// Begin makes the layout know of a section that the program has got.
func (p *Layouter) Begin() { p.sections = append(p.sections, Section{}) }

// BeginSubsection is Begin for a subsection, which an item switches to: its point
// keeps the room of what is in front of it.
func (p *Layouter) BeginSubsection(item int32) {
	p.sections = append(p.sections, Section{points: []point{{item: item - 1, kind: PointBase, reached: -1}}, odd: true})
}

// BreakAt notes that no distance across the item is known before the end.
func (p *Layouter) BreakAt(it *program.Item) {
	s := &p.sections[it.Section]
	s.breaks = append(Room(s.breaks), it.Index)
}

// AddPoint notes a point at the item, whose size the first pass takes as size.
func (p *Layouter) AddPoint(it *program.Item, kind PointKind, op int) {
	s := &p.sections[it.Section]
	s.odd = s.odd || kind >= PointBase
	s.points = append(Room(s.points), point{item: it.Index, kind: kind, op: int8(op), off: it.Offset, size: it.Size, addr: it.Offset, now: it.Size, reached: -1, form: it.Match.Form})
}

// Room makes room for one more in a list that gets as long as a program: twice as much where
// there is none, as what is left behind on the way takes memory too.
func Room[T any](list []T) []T {
	if len(list) == cap(list) {
		return RoomFor(list, len(list)+64)
	}
	return list
}

// RoomFor makes room for n more. It is not slices.Grow, which under the race detector makes n
// items only to copy them, and nothing else runs meanwhile.
func RoomFor[T any](list []T, n int) []T {
	if cap(list)-len(list) >= n {
		return list
	}
	return append(make([]T, 0, len(list)+n), list...)
}

// AddSpace notes a point that takes a distance times a unit of bytes.
func (p *Layouter) AddSpace(it *program.Item, unit int64) {
	p.AddPoint(it, PointSpace, 0)
	s := &p.sections[it.Section]
	s.points[len(s.points)-1].after = unit
}

// Moving counts what may move in a section: the items that may grow, and the points.
func (p *Layouter) Moving(sec int16) int {
	s := &p.sections[sec]
	return len(s.breaks) + len(s.points)<<16
}

// AlignAt notes an alignment of a section, or a pool: one with something after it.
// Nothing moves it where no point is in front of it.
func (p *Layouter) AlignAt(sec int16, item int32, off, size, align, limit, after int64) {
	s := &p.sections[sec]
	s.breaks = append(s.breaks, item)
	g := Gap{item, align, limit, after}
	k := s.keeps()
	k.gaps = append(k.gaps, g)
	if len(s.points) > 0 && (align > 2 || align == 2 && (p.Sections[sec].Subsection != 0 || s.odd)) {
		s.points = append(s.points, g.point(off, size))
	}
}

// Restart forgets the points of a section that begins again.
func (p *Layouter) Restart(sec int16) {
	p.sections[sec].points, p.sections[sec].keeps().restarted = nil, true
}

// MayMove says whether something in a section may still move.
func (p *Layouter) MayMove(sec int16) bool { return len(p.sections[sec].points) > 0 }

// Apart says whether something between two places of a section, given by their
// items, may still grow.
func (p *Layouter) Apart(sec int16, a, b int32) bool {
	if a > b {
		a, b = b, a
	}
	s := &p.sections[sec]
	i := sort.Search(len(s.breaks), func(i int) bool { return s.breaks[i] >= a })
	return i < len(s.breaks) && s.breaks[i] < b
}

// Present is the offset that an address has at the moment. As long as a section has
// not been laid out, the assembler takes all of its pieces to begin at 0.
func (p *Layouter) Present(v program.Value) int64 {
	if !p.sections[v.Section].laid {
		return v.N - p.pieceStart(v.Section, v.At)
	}
	return v.N + p.shift(v.Section, v.At)
}

// shift is how far a place in a section is from where the first pass has it: that of
// an item, or the one after the pool of an item.
func (p *Layouter) shift(sec int16, at int32) int64 {
	s := p.sections[sec].points
	if len(s) == 0 {
		return 0
	}
	if i := pointBefore(s, at); i >= 0 {
		return s[i].moved()
	}
	return 0
}

// pieceStart is where the piece of a section begins that a place is in: after the
// last item that may grow or pad.
func (p *Layouter) pieceStart(sec int16, at int32) int64 {
	b := p.sections[sec].breaks
	i := sort.Search(len(b), func(i int) bool { return b[i] >= at }) - 1
	if i < 0 {
		return 0
	}
	it := &p.Items[b[i]]
	return it.Offset + it.Size
}

// AfterPool is the place after the pool of an item, in front of what follows.
func AfterPool(item int32) int32 {
	if item < 0 {
		return SectionEnd
	}
	return item + 1
}
