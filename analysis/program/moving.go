package program

import (
	"math"
	"sort"

	"narrowgauge/isa"
)

// IT blocks that the assembler inserts, with the setting implicitIT. Which
// statements share a block is as the reference assembler has it; the architecture
// manual says nothing of it. A block goes on over data, alignment and pools, and
// ends at a label, before a statement without a condition or with another one,
// behind what goes elsewhere, and after four statements.

// Inserted is the block of a section that may go on.
type Inserted struct {
	N     uint8    // instructions so far, 0 for no block
	Cond  isa.Cond // of the first
	Loads int32    // an instruction that loads pc without ending the block, -1 for none
}

func (b *Inserted) Close() { b.N = 0 }

// Takes says whether the open block takes one more instruction, on condition c.
func (b *Inserted) Takes(c isa.Cond) bool {
	return b.N > 0 && b.N < 4 && c|1 == b.Cond|1
}

// The layout of a section in which instructions may grow. The first pass lays
// it out as if none did, and notes the points where something may move; here
// the points are laid out until nothing moves any more. How far an instruction
// looks ahead, when it stays wide, and what else decides is as the reference
// assembler has it: the places of all labels hang on it. The cost is one step
// for each point in each round.

// Point is a place of a section whose size may change.
type Point struct {
	Item      int32 // the item, sectionEnd-1 for the pool at the section's end
	Kind      PointKind
	Op        int8 // the operand that it hangs on
	Frozen    bool // it is wide and stays so
	Fixed     bool // target does not change but with the layout
	Wide      bool // whatever the distance is
	Off, size int64
	Addr, Now int64 // the same at present
	Align     int64 // pointAlign: boundary, and what stands behind it
	Behind    int64
	limit     int64 // most that it pads, 0 for all
	Last      int64 // where it was at the end of the last layout
	Target    int64 // offset as the first pass has it
	After     int32 // the last point before the target, -1 for none
}

type PointKind uint8

const (
	PointAlign  PointKind = iota
	PointFar              // isa.GrowsFar
	PointAhead            // isa.GrowsAhead
	PointNumber           // is wide in the end
	PointBase             // where a subsection begins; see sections.go
	PointLEB              // .uleb128 or .sleb128 of a distance
	PointSpace            // .space by a distance
	PointOrg
)

const SectionEnd = math.MaxInt32

// Moved is how far what stands behind the point is from where the first pass
// has it.
func (t *Point) Moved() int64 { return t.Addr + t.Now - t.Off - t.size }

// breaks notes that no distance across the item is known before the end.
func (s *Section) BreakAt(item int32) { s.breaks = append(s.breaks, item) }

// AddPoint notes a point at the item, whose size the first pass takes as size.
func (s *Section) AddPoint(it *Item, kind PointKind, op int) *Point {
	s.odd = s.odd || kind >= PointBase
	s.Points = append(s.Points, Point{Item: it.Id, Kind: kind, Op: int8(op), Off: it.Off, size: it.Size, Addr: it.Off, Now: it.Size, After: -1})
	return &s.Points[len(s.Points)-1]
}

// AlignAt notes an alignment, or a pool: one with something behind it. Nothing
// moves it where no point stands before.
func (s *Section) AlignAt(item int32, off, size, align, limit, behind int64) {
	s.BreakAt(item)
	if len(s.Points) > 0 && (align > 2 || align == 2 && (s.Sub != 0 || s.odd)) {
		s.Points = append(s.Points, Point{Item: item, Kind: PointAlign, Off: off, size: size, Addr: off, Now: size, Align: align, limit: limit, Behind: behind, After: -1})
	}
}

// Apart says whether something between two places, given by their items, may
// still grow.
func (s *Section) Apart(a, b int32) bool {
	if a > b {
		a, b = b, a
	}
	i := sort.Search(len(s.breaks), func(i int) bool { return s.breaks[i] >= a })
	return i < len(s.breaks) && s.breaks[i] < b
}

// Shift is how far a place in a section stands from where the first pass has
// it: that of an item, or the one behind the pool of an item.
func (r *Program) Shift(sec int16, at int32) int64 {
	s := r.Secs[sec].Points
	if len(s) == 0 {
		return 0
	}
	if i := PointBefore(s, at); i >= 0 {
		return s[i].Moved()
	}
	return 0
}

// PointBefore is the last point that stands before an item, -1 for none.
func PointBefore(s []Point, at int32) int32 {
	return int32(sort.Search(len(s), func(i int) bool { return s[i].Item >= at })) - 1
}

// PieceStart is where the piece of a section begins that a place stands in: behind
// the last item that may grow or pad. As long as a section has not been laid out,
// the assembler takes all of its pieces to begin at 0.
func (p *Program) PieceStart(sec int16, at int32) int64 {
	b := p.Secs[sec].breaks
	i := sort.Search(len(b), func(i int) bool { return b[i] >= at }) - 1
	if i < 0 {
		return 0
	}
	it := &p.Items[b[i]]
	return it.Off + it.Size
}

// Pad is what an alignment takes at its present place.
func (t *Point) Pad() int64 {
	n := -t.Addr & (t.Align - 1)
	if t.limit > 0 && n > t.limit {
		return 0
	}
	return n
}

// BehindPool is a place behind the pool of an item, before what follows.
func BehindPool(item int32) int32 {
	if item < 0 {
		return SectionEnd
	}
	return item + 1
}

// SectionDecl is what the first .section that gave flags said.
type SectionDecl struct {
	Flags   string // sorted
	Typ     string
	Entsize int64
	Given   bool
	Nobits  bool // holds no bytes in the file
}
