package layout

import (
	"context"
	"math/bits"
	"sort"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// lebLen is the number of bytes that a value takes, in groups of seven bits.
func lebLen(n int64, signed, unsigned bool) int64 {
	switch {
	case !signed:
		return int64(max(bits.Len64(uint64(n))+6, 7) / 7)
	case unsigned:
		return int64((bits.Len64(uint64(n)) + 7) / 7)
	}
	k := int64(1)
	for ; n > 63 || n < -64; n >>= 7 {
		k++
	}
	return k
}

// LebValue is the size of one argument of .uleb128 or .sleb128; known is false when
// it has to wait.
func (p *Layouter) LebValue(it *program.Item, o *syntax.Operand) (size int64, known bool) {
	signed := it.Stmt.Directive.Name == ".sleb128"
	if o.Kind == isa.OpNone {
		return 1, true
	}
	v := p.Value(o, it)
	switch v.Kind {
	case program.Number:
		// A plain number has no sign.
		unsigned := o.Known && v.N < 0 && p.LineText(it)[o.Start] != '-' && p.LineText(it)[o.Start] != '~'
		return lebLen(v.N, signed, unsigned), !v.Late
	case program.Big:
		if signed {
			return (v.N + 7) / 7, true
		}
		return (v.N + 6) / 7, true
	}
	return 1, false
}

// lebSize is the size of such a line at present.
func (p *Layouter) lebSize(it *program.Item) int64 {
	p.Gen++
	n := int64(0)
	for i := range it.Stmt.Ops {
		k, _ := p.LebValue(it, &it.Stmt.Ops[i])
		n += k
	}
	return n
}

// Most is the largest amount that one directive may add; larger ones are
// reported and count as nothing, so that sums stay far from overflow.
const Most = 1 << 32

func (p *Layouter) OrgBack(it *program.Item, o *syntax.Operand, at, to int64) {
	p.Report(p.Loc(it, o.Start, o.End), finding.CodeDirective, wording.OrgBackwards(at, to))
}

// Layouter lays out the sections.
type Layouter struct {
	wording.Reporter
	Ctx      context.Context
	since    int       // units of work since the context was looked at
	ended    bool      // it was cancelled
	Endless  int32     // the item with which the layout does not end, or -1
	sections []Section // by the number of the program's section
}

// layoutOrder lists the sections, the subsections of each in their order.
func (p *Layouter) layoutOrder() []int16 {
	order := make([]int16, 0, len(p.Sections))
	for s := range p.Sections {
		if m := &p.Sections[s]; int(m.Main) == s {
			order = append(order, int16(s))
			sort.Slice(m.Subsections, func(i, j int) bool {
				return p.Sections[m.Subsections[i]].Subsection < p.Sections[m.Subsections[j]].Subsection
			})
			before := int16(s)
			for _, i := range m.Subsections {
				p.sections[i].before = before
				before = i
			}
			order = append(order, m.Subsections...)
		}
	}
	return order
}

// base is where a subsection begins: at the end of the one before it.
func (p *Layouter) base(sec int16) int64 {
	before := p.sections[sec].before
	end := p.Sections[before].Size
	if points := p.sections[before].points; len(points) > 0 {
		end += points[len(points)-1].moved()
	}
	return end
}

// firstBases puts subsections where they begin as long as nothing has grown.
func (p *Layouter) firstBases(order []int16) {
	for _, s := range order {
		if p.Sections[s].Subsection == 0 {
			continue
		}
		points := p.sections[s].points
		t := &points[0]
		t.now = p.base(s)
		for k := 1; k < len(points); k++ {
			points[k].addr += t.now
		}
	}
}

// shared says whether a section has subsections, or is one: then what grows in one
// part moves the others, and distances between them change.
func (p *Layouter) shared(sec int16) bool {
	return len(p.Sections[p.Sections[sec].Main].Subsections) > 0
}

// joinSubsections makes one section of each with subsections. All places are
// known.
func (p *Layouter) joinSubsections() {
	any := false
	for s := range p.Sections {
		m := &p.Sections[s]
		if len(m.Subsections) == 0 {
			continue
		}
		any = true
		for _, i := range m.Subsections {
			sub := &p.Sections[i]
			for _, id := range p.Order[i] {
				p.Items[id].Section = int16(s)
			}
			p.Order[s] = append(p.Order[s], p.Order[i]...)
			p.Order[i] = nil
			m.Size = sub.Size
			m.Align = max(m.Align, sub.Align)
			m.Exact = m.Exact && sub.Exact
			m.Code = m.Code || sub.Code
			m.EndPool = sub.EndPool
			sub.Size, sub.EndPool = 0, -1
		}
		m.Place = make(map[int32]int, len(p.Order[s]))
		for k, id := range p.Order[s] {
			m.Place[id] = k
		}
	}
	if !any {
		return
	}
	to := func(v *program.Value) {
		if v.Kind == program.Address {
			v.Section = p.Sections[v.Section].Main
		}
	}
	p.EachSymbol(func(y *program.Symbol) { to(&y.Value) })
	for _, l := range p.Locals {
		for _, y := range l {
			to(&y.Value)
		}
	}
	for i := range p.Literals {
		to(&p.Literals[i].Value)
		p.Literals[i].Section = p.Sections[p.Literals[i].Section].Main
	}
	p.Gen++
}
