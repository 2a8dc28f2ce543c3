package analysis

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// The layout of a section in which instructions may grow. The first pass lays
// it out as if none did, and notes the points where something may move; here
// the points are laid out until nothing moves any more. How far an instruction
// looks ahead, when it stays wide, and what else decides is as the reference
// assembler has it: the places of all labels hang on it. The cost is one step
// for each point in each round.

// point is a place of a section whose size may change.
type point struct {
	item      int32 // the item, sectionEnd-1 for the pool at the section's end
	kind      pointKind
	op        int8 // the operand that it hangs on
	frozen    bool // it is wide and stays so
	fixed     bool // target does not change but with the layout
	wide      bool // whatever the distance is
	off, size int64
	addr, now int64 // the same at present
	align     int64 // pointAlign: boundary, and what stands behind it
	behind    int64
	limit     int64 // most that it pads, 0 for all
	last      int64 // where it was at the end of the last layout
	target    int64 // offset as the first pass has it
	after     int32 // the last point before the target, -1 for none
}

type pointKind uint8

const (
	pointAlign  pointKind = iota
	pointFar              // isa.GrowsFar
	pointAhead            // isa.GrowsAhead
	pointNumber           // is wide in the end
	pointBase             // where a subsection begins; see sections.go
	pointLEB              // .uleb128 or .sleb128 of a distance
	pointSpace            // .space by a distance
	pointOrg
)

const sectionEnd = math.MaxInt32

// maxLayout bounds the work of the layout: points laid out, and symbols looked up for
// it. A program that needs more has no exact offsets.
const maxLayout = 10_000_000

// moved is how far what stands behind the point is from where the first pass
// has it.
func (t *point) moved() int64 { return t.addr + t.now - t.off - t.size }

// breaks notes that no distance across the item is known before the end.
func (s *section) breakAt(item int32) { s.breaks = append(s.breaks, item) }

// addPoint notes a point at the item, whose size the first pass takes as size.
func (s *section) addPoint(it *item, kind pointKind, op int) *point {
	s.odd = s.odd || kind >= pointBase
	s.points = append(s.points, point{item: it.id, kind: kind, op: int8(op), off: it.off, size: it.size, addr: it.off, now: it.size, after: -1})
	return &s.points[len(s.points)-1]
}

// alignAt notes an alignment, or a pool: one with something behind it. Nothing
// moves it where no point stands before.
func (s *section) alignAt(item int32, off, size, align, limit, behind int64) {
	s.breakAt(item)
	if len(s.points) > 0 && (align > 2 || align == 2 && (s.sub != 0 || s.odd)) {
		s.points = append(s.points, point{item: item, kind: pointAlign, off: off, size: size, addr: off, now: size, align: align, limit: limit, behind: behind, after: -1})
	}
}

// apart says whether something between two places, given by their items, may
// still grow.
func (s *section) apart(a, b int32) bool {
	if a > b {
		a, b = b, a
	}
	i := sort.Search(len(s.breaks), func(i int) bool { return s.breaks[i] >= a })
	return i < len(s.breaks) && s.breaks[i] < b
}

// grow notes an instruction whose size may hang on what is not known yet. m is
// what it is for now, and stays its size until the end. It says whether it is one.
func (p *layouter) grow(it *item, q *isa.Query, known bool) bool {
	m, sec := &it.match, &p.secs[it.sec]
	how := m.Form.Grows()
	if known && !m.Deferred {
		if m.Form.Row.Size() == 2 {
			if how != isa.GrowsNot && q.Unified && q.Width == 0 && (q.Have.Has(isa.FeatT32) || m.Form.Row.ID == "mov-imm") {
				sec.breakAt(it.id)
			}
			return false
		}
		// Was it a halfword as long as its constant was not looked at?
		if q.Width != 0 || !q.Unified {
			return false
		}
		any := false
		for i := range p.ops {
			if o := &p.ops[i]; o.Known && (o.Kind == isa.OpImm || o.Kind == isa.OpExpr && o.Bare || o.Kind == isa.OpMem && o.Off == isa.OffImm) {
				o.Known, any = false, true
			}
		}
		if !any {
			return false
		}
		n, ok := it.stmt.Mnem.Match(q, p.ops)
		if !ok || n.Form.Row.Size() != 2 || n.Form.Grows() != isa.GrowsNumber {
			return false
		}
		it.size = 2
		p.growNumber(it)
		p.grownAdd(it)
		return true
	}
	how = it.stmt.Mnem.Grows(m, q, p.ops)
	if how == isa.GrowsNot {
		return false
	}
	kind := map[isa.Growth]pointKind{isa.GrowsFar: pointFar, isa.GrowsAhead: pointAhead, isa.GrowsNumber: pointNumber}[how]
	op := len(it.stmt.Ops) - 1
	if kind != pointNumber {
		if o := &it.stmt.Ops[op]; o.Kind == isa.OpImm {
			return false
		}
		sec.breakAt(it.id)
		sec.addPoint(it, kind, op)
		return true
	}
	if e := it.stmt.Ops[op].Expr; e != nil && e.Op == syntax.ExprReloc {
		return false // for which a halfword has room
	}
	// What is not known when the line is read takes full width, whatever it is.
	p.growNumber(it)
	return true
}

// grownAdd reports an ADD or SUB that keeps the flags in an IT block and needs the
// encoding with a plain constant of twelve bits: when assemblers let a halfword
// grow, they take the one with a modified constant alone. (The architecture has
// both.) It says whether it is one.
func (p *layouter) grownAdd(it *item) bool {
	f := it.match.Form
	if it.slot == 0 || it.stmt.Width != 0 || f.Row.ID != "t-addw" && f.Row.ID != "t-subw" || strings.HasSuffix(it.stmt.Mnem.Stem(), "w") {
		return false
	}
	v := it.match.Values()
	if v.Get("Rd") > 7 || v.Get("Rn") > 7 {
		return false
	}
	op := len(it.stmt.Ops) - 1
	p.report(p.loc(it, it.stmt.Ops[op].Start, it.stmt.Ops[op].End), codeConstRange, fmt.Sprintf("Assemblers take %s in an IT block for the encoding with a modified constant, and %s is none; %sw takes it.", it.stmt.Name, p.opText(it, op), it.stmt.Mnem.Stem()))
	it.flags |= fRefused
	return true
}

func (p *layouter) growNumber(it *item) {
	sec := &p.secs[it.sec]
	sec.breakAt(it.id)
	sec.addPoint(it, pointNumber, 0)
}

// shift is how far a place in a section stands from where the first pass has
// it: that of an item, or the one behind the pool of an item.
func (r *Program) shift(sec int16, at int32) int64 {
	s := r.secs[sec].points
	if len(s) == 0 {
		return 0
	}
	if i := pointBefore(s, at); i >= 0 {
		return s[i].moved()
	}
	return 0
}

// pointBefore is the last point that stands before an item, -1 for none.
func pointBefore(s []point, at int32) int32 {
	return int32(sort.Search(len(s), func(i int) bool { return s[i].item >= at })) - 1
}

// relax lays out the sections with points. All symbols are known that will be.
func (p *layouter) relax() {
	p.phase = moving
	order := p.layoutOrder()
	p.steps = 0
	for pass, changed := 0, true; changed && p.endless < 0 && p.steps < maxLayout; pass++ {
		changed = false
		for _, s := range order {
			p.secs[s].laid = true
			if pts := p.secs[s].points; len(pts) == 0 || pass > 0 && !restart(pts) {
				continue
			}
			p.relaxSection(int16(s))
			if p.ctx.Err() != nil {
				return
			}
			pts := p.secs[s].points
			for k := range pts {
				t := &pts[k]
				changed = changed || t.last != t.addr
				t.last = t.addr
			}
		}
	}
	for _, s := range order {
		if len(p.secs[s].points) > 0 {
			p.gen++
			p.settle(int16(s))
			if p.endless >= 0 || p.steps >= maxLayout {
				p.secs[s].exact = false
			}
		}
	}
	if p.endless >= 0 {
		it := &p.items[p.endless]
		p.report(p.stmtLoc(it), codeDirective, "The size of this line hangs on places that move with it, and the layout finds no end.")
	}
	p.phase = resolving
	p.gen++
	move := func(y *symbol) {
		if y.expr == nil && y.val.kind == vRel {
			y.val.n += p.shift(y.val.sec, y.val.at)
		}
	}
	p.eachSymbol(move)
	for _, l := range p.locals {
		for _, y := range l {
			move(y)
		}
	}
	for i := range p.lits {
		l := &p.lits[i]
		if l.val.kind == vRel {
			l.val.n += p.shift(l.val.sec, l.val.at)
		}
		if l.off >= 0 {
			l.off += p.shift(l.sec, behindPool(l.item))
		}
	}
	for s := range p.secs {
		p.secs[s].points = nil
	}
	p.joinSubsections()
}

// pieceStart is where the piece of a section begins that a place stands in: behind
// the last item that may grow or pad. As long as a section has not been laid out,
// the assembler takes all of its pieces to begin at 0.
func (p *Program) pieceStart(sec int16, at int32) int64 {
	b := p.secs[sec].breaks
	i := sort.Search(len(b), func(i int) bool { return b[i] >= at }) - 1
	if i < 0 {
		return 0
	}
	it := &p.items[b[i]]
	return it.off + it.size
}

// restart lays a section out anew from what is sure to be wide, as the assembler
// does until two such layouts are the same: spaces by a distance and .org take no
// room at first. It says whether there is one of them; without, the layout would
// be the same again.
func restart(pts []point) bool {
	any := false
	for k := range pts {
		any = any || pts[k].kind >= pointSpace
	}
	if !any {
		return false
	}
	by := int64(0)
	for k := range pts {
		t := &pts[k]
		t.addr = t.off + by
		switch {
		case t.kind == pointAlign:
			t.now = t.pad() + t.behind
		case t.kind >= pointSpace:
			t.now = 0
		case t.kind == pointBase || t.kind == pointLEB:
		case !t.frozen:
			t.now = 2
		}
		by = t.moved()
	}
	return true
}

// pad is what an alignment takes at its present place.
func (t *point) pad() int64 {
	n := -t.addr & (t.align - 1)
	if t.limit > 0 && n > t.limit {
		return 0
	}
	return n
}

// behindPool is a place behind the pool of an item, before what follows.
func behindPool(item int32) int32 {
	if item < 0 {
		return sectionEnd
	}
	return item + 1
}

// look finds what a point hangs on.
func (p *layouter) look(s int16, t *point) {
	it := &p.items[t.item]
	o := &it.stmt.Ops[t.op]
	pts := p.secs[s].points
	t.wide = false
	if o.Kind == isa.OpLit {
		if it.lit < 0 || p.lits[it.lit].off < 0 || p.lits[it.lit].sec != s {
			t.wide, t.fixed = true, true
			return
		}
		l := &p.lits[it.lit]
		t.target, t.fixed = l.off, true
		t.after = pointBefore(pts, behindPool(l.item))
		return
	}
	p.gen++
	p.shifting = false
	v := p.eval(o, it)
	t.fixed = !p.shifting
	if v.kind == vRel && v.sec != s && p.secs[v.sec].main == p.secs[s].main {
		// In another subsection: where it stands now.
		t.fixed, t.target, t.after = false, v.n, -1
		return
	}
	if v.kind != vRel || v.sec != s {
		t.wide = true
		return
	}
	// The assembler leaves a branch to what another file may replace to the
	// linker, and so one to a function in A32 code; a function's address has bit
	// 0 set, which a load or ADR of a halfword cannot hold.
	if y := p.direct(o); y != nil && y.defined {
		t.wide = y.weak || t.kind == pointFar && (y.global || y.fn && y.mode == isa.A) || t.kind == pointAhead && y.fn && y.mode == isa.T
	}
	t.target = v.n - p.shift(s, v.at)
	t.after = pointBefore(pts, v.at)
}

// relaxSection moves the points until all stand still.
func (p *layouter) relaxSection(sec int16) {
	pts := p.secs[sec].points
	for k := range pts {
		if t := &pts[k]; t.kind == pointFar || t.kind == pointAhead {
			p.look(sec, t)
		}
	}
	for round := 0; ; round++ {
		stretch, changed, last := int64(0), false, int32(-1)
		p.steps += len(pts)
		for k := range pts {
			t := &pts[k]
			t.addr += stretch
			if t.frozen {
				continue
			}
			now := t.now
			switch t.kind {
			case pointAlign:
				now = t.pad() + t.behind
			case pointNumber:
				now = 4
			case pointBase:
				now = p.base(sec)
			case pointLEB:
				now = p.lebSize(&p.items[t.item])
			case pointSpace:
				it := &p.items[t.item]
				p.gen++
				if v := p.eval(&it.stmt.Ops[0], it); v.kind == vAbs && v.n >= 0 && v.n < most {
					now = v.n * t.behind
				} else if v.kind == vAbs && v.n >= most && round > 0 {
					p.endless = t.item // it doubles
					return
				}
			case pointOrg:
				it := &p.items[t.item]
				p.gen++
				if v := p.eval(&it.stmt.Ops[t.op], it); v.kind == vAbs || v.kind == vRel && v.sec == sec {
					now = max(v.n-t.addr, 0)
					t.target = v.n
				}
			default:
				if !t.fixed {
					p.look(sec, t)
				}
				now = 2
				if t.wide || p.far(pts, k, stretch) {
					now = 4
				}
			}
			growth := now - t.now
			t.now = now
			// What is wide stays so, unless it may be wide only because what
			// stands before it has just moved.
			if t.kind != pointAlign && t.kind < pointBase && now > 2 && stretch <= 0 {
				t.frozen = true
			}
			if growth != 0 {
				stretch += growth
				changed = true
				if t.kind == pointLEB || t.kind == pointSpace {
					last = t.item
				}
			}
		}
		if !changed || p.ctx.Err() != nil || p.steps > maxLayout {
			return
		}
		// What is wide stays so, and each round has some that is new to it: only
		// sizes by distances can go on for ever, and the assembler gives up on them.
		if round > 100+10*len(pts) {
			if p.endless = last; last < 0 {
				p.steps = maxLayout
			}
			return
		}
	}
}

// far says whether the target of point k is out of reach of its halfword, in a
// round that has moved the point by stretch so far. What the round has not come
// to yet is taken to move as far, less what alignments between swallow.
func (p *layouter) far(pts []point, k int, stretch int64) bool {
	t := &pts[k]
	val := t.target
	if t.after >= 0 {
		val += pts[t.after].moved()
	}
	if int(t.after) == k {
		val -= stretch // what stands behind the point has not been moved yet
	}
	out := func(val int64) bool {
		if t.kind == pointFar {
			limit := int64(2048)
			if f := p.items[t.item].match.Form; f.Row.ID == "b-cond" {
				limit = 256
			}
			d := val - t.addr - 4
			return d >= limit || d < -limit
		}
		base := (t.addr + 4) &^ 3
		return val&3 != 0 || val < base || val-base > 1020
	}
	if stretch == 0 || int(t.after) < k {
		return out(val)
	}
	if d := val - t.addr; d > 4096+stretch && d > 4096 {
		return true
	}
	for j := k + 1; j <= int(t.after) && stretch != 0; j++ {
		p.steps++
		if a := &pts[j]; a.kind == pointAlign {
			if stretch < 0 {
				stretch = -(-stretch &^ (a.align - 1))
			} else {
				stretch &^= a.align - 1
			}
		}
	}
	return out(val + stretch)
}

// settle puts the items of a section where its points have moved them.
func (p *layouter) settle(sec int16) {
	s := &p.secs[sec]
	k, by := 0, int64(0)
	if s.points[0].kind == pointBase {
		k, by = 1, s.points[0].moved()
	}
	for _, id := range p.order[sec] {
		it := &p.items[id]
		for ; k < len(s.points) && s.points[k].item < id; k++ {
			by = s.points[k].moved() // of an item that stands in another section
		}
		it.off += by
		for ; k < len(s.points) && s.points[k].item == id; k++ {
			t := &s.points[k]
			it.size = t.now
			if t.kind == pointOrg && t.target < t.addr {
				p.orgBack(it, &it.stmt.Ops[t.op], t.addr, t.target)
			}
			if t.kind == pointSpace && p.eval(&it.stmt.Ops[0], it).kind != vAbs {
				s.exact = false
			}
			if t.now == 4 && it.stmt.Kind == syntax.Instruction {
				it.flags |= fWide
			}
			by = t.moved()
		}
	}
	if s.endPool >= 0 {
		s.endPool += by
	}
	s.size += s.points[len(s.points)-1].moved()
}
