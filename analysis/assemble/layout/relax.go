package layout

import (
	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// maxLayout bounds the work of the layout: points laid out, and symbols looked up for
// it. A program that needs more has no exact offsets.
const maxLayout = 10_000_000

// beyond is more than a halfword reaches, whatever moves: the reference assembler looks
// no further.
const beyond = 4096

// Grow notes an instruction whose size may depend on what is not known yet. m is
// what it is for now, and stays its size until the end. It says whether it is one.
func (p *Layouter) Grow(it *program.Item, q *isa.Query, known bool) bool {
	m := &it.Match
	how := m.Form.Grows()
	if known && !m.Deferred() {
		if m.Form.Row.Size() == 2 {
			if how != isa.GrowsNot && q.Unified && q.Width == 0 && q.Have&(isa.FeatT32|m.Form.Row.Widens) != 0 {
				p.BreakAt(it)
			}
			return false
		}
		// Was it a halfword as long as its constant was not looked at?
		if q.Width != 0 || !q.Unified {
			return false
		}
		any := false
		for i := range p.Ops {
			if o := &p.Ops[i]; o.Known && (o.Kind == isa.OpImm || o.Kind == isa.OpExpr && o.Bare || o.Kind == isa.OpMem && o.Off == isa.OffImm) {
				o.Known, any = false, true
			}
		}
		if !any {
			return false
		}
		n, ok := it.Stmt.Mnemonic.Match(q, p.Ops)
		if !ok || n.Form.Row.Size() != 2 || n.Form.Grows() != isa.GrowsNumber {
			return false
		}
		it.Size = 2
		p.growNumber(it)
		p.GrownAdd(it)
		return true
	}
	how = it.Stmt.Mnemonic.Grows(m, q, p.Ops)
	if how == isa.GrowsNot {
		return false
	}
	kind := [...]PointKind{isa.GrowsFar: PointFar, isa.GrowsAhead: PointAhead, isa.GrowsNumber: PointNumber}[how]
	op := len(it.Stmt.Ops) - 1
	if kind != PointNumber {
		if o := &it.Stmt.Ops[op]; o.Kind == isa.OpImm {
			return false
		}
		p.BreakAt(it)
		p.AddPoint(it, kind, op)
		return true
	}
	if e := it.Stmt.Ops[op].Expr; e != nil && e.Op == syntax.ExprReloc {
		return false // for which a halfword has room
	}
	// What is not known when the line is read takes full width, whatever it is.
	p.growNumber(it)
	return true
}

// GrownAdd reports an ADD or SUB that keeps the flags in an IT block and needs the
// encoding with a plain constant of twelve bits: when assemblers let a halfword
// grow, they take the one with a modified constant alone. (The architecture has
// both.) It says whether it is one.
func (p *Layouter) GrownAdd(it *program.Item) bool {
	if it.Slot == 0 || it.Stmt.Width != 0 || !it.Match.Form.Row.NotGrown || it.Stmt.Mnemonic.T32Only() {
		return false
	}
	v := it.Match.Values()
	if v.Get("Rd") > 7 || v.Get("Rn") > 7 {
		return false
	}
	op := len(it.Stmt.Ops) - 1
	p.Report(p.Loc(it, it.Stmt.Ops[op].Start, it.Stmt.Ops[op].End), finding.CodeConstRange, wording.NoModifiedConstant(it.Stmt.Name, p.OpText(it, op), it.Stmt.Mnemonic.Stem()))
	it.Flags |= program.Refused
	return true
}

func (p *Layouter) growNumber(it *program.Item) {
	p.BreakAt(it)
	p.AddPoint(it, PointNumber, 0)
}

// lookEvery is how many units of work there are between two looks at the context: a
// statement, a point or a value is one, which takes a few microseconds at most.
const lookEvery = 1024

// Cancelled counts work, and says whether the result is not wanted any more.
func (p *Layouter) Cancelled(units int) bool {
	if p.since += units; p.since >= lookEvery {
		p.since = 0
		p.ended = p.ended || p.Ctx.Err() != nil
	}
	return p.ended
}

// Relax lays out the sections with points. All symbols are known that will be.
func (p *Layouter) Relax() {
	p.Phase = eval.Moving
	order := p.layoutOrder()
	p.Steps = 0
	p.firstBases(order)
	for pass, changed := 0, true; changed && p.Endless < 0 && p.Steps < maxLayout; pass++ {
		changed = false
		for _, s := range order {
			p.sections[s].laid = true
			for _, sub := range p.Sections[s].Subsections { // which the assembler lays out with it
				p.sections[sub].laid = true
			}
			if pts := p.sections[s].points; len(pts) == 0 || pass > 0 && !restart(pts) && !p.shared(s) {
				continue
			}
			before := p.Steps
			p.relaxSection(int16(s))
			p.sections[s].keeps().steps += p.Steps - before
			if p.ended {
				return
			}
			pts := p.sections[s].points
			for k := range pts {
				t := &pts[k]
				changed = changed || t.last != t.addr
				t.last = t.addr
			}
		}
	}
	first := int32(-1) // the item with the first point
	for _, s := range order {
		if pts := p.sections[s].points; len(pts) > 0 {
			if i := pts[min(1, len(pts)-1)].item; first < 0 || i < first { // one may be the base
				first = i
			}
			p.Gen++
			p.settle(int16(s))
			if p.Endless >= 0 || p.Steps >= maxLayout {
				p.Sections[s].Exact = false
			}
		}
	}
	switch {
	case p.Endless >= 0:
		it := &p.Items[p.Endless]
		p.Report(p.StmtLoc(it), finding.CodeDirective, wording.NoConvergence())
	case p.Steps >= maxLayout && first >= 0:
		p.Warn(p.StmtLoc(&p.Items[first]), finding.CodeMacroSize, wording.LayoutTooLarge())
	}
	p.Phase = eval.Resolving
	p.Gen++
	move := func(y *program.Symbol) {
		if y.Expr == nil && y.Value.Kind == program.Address {
			y.Value.N += p.shift(y.Value.Section, y.Value.At)
		}
	}
	p.EachSymbol(move)
	for _, l := range p.Locals {
		for _, y := range l {
			move(y)
		}
	}
	for i := range p.Literals {
		l := &p.Literals[i]
		if l.Value.Kind == program.Address {
			l.Value.N += p.shift(l.Value.Section, l.Value.At)
		}
		if l.Offset >= 0 {
			l.Offset += p.shift(l.Section, AfterPool(l.Item))
		}
	}
	for s := range p.sections {
		if x := &p.sections[s]; len(x.points) > 0 {
			x.keeps().laidOut, x.points = x.points, nil
		}
	}
	p.joinSubsections()
}

// restart lays a section out anew from what is sure to be wide, as the assembler
// does until two such layouts are the same: spaces by a distance and .org take no
// room at first. It says whether there is one of them; without, the layout would
// be the same again.
func restart(pts []point) bool {
	any := false
	for k := range pts {
		any = any || pts[k].kind >= PointSpace
	}
	if !any {
		return false
	}
	by := int64(0)
	for k := range pts {
		t := &pts[k]
		t.addr = t.off + by
		switch {
		case t.kind == PointAlign:
			t.now = t.pad() + t.after
		case t.kind >= PointSpace:
			t.now = 0
		case t.kind == PointBase || t.kind == PointLEB:
		case !t.frozen:
			t.now = 2
		}
		by = t.moved()
	}
	return true
}

// look finds what a point depends on.
func (p *Layouter) look(s int16, t *point) {
	it := &p.Items[t.item]
	o := &it.Stmt.Ops[t.op]
	pts := p.sections[s].points
	t.wide = false
	if o.Kind == isa.OpLit {
		if it.Literal < 0 || p.Literals[it.Literal].Offset < 0 || p.Literals[it.Literal].Section != s {
			t.wide, t.fixed = true, true
			return
		}
		l := &p.Literals[it.Literal]
		t.target, t.fixed = l.Offset, true
		t.reached = pointBefore(pts, AfterPool(l.Item))
		return
	}
	p.Gen++
	p.Shifting = false
	v := p.Value(o, it)
	t.fixed = !p.Shifting
	if v.Kind == program.Address && v.Section != s && p.Sections[v.Section].Main == p.Sections[s].Main {
		// In another subsection: where it is now.
		t.fixed, t.target, t.reached = false, v.N, -1
		return
	}
	if v.Kind != program.Address || v.Section != s {
		t.wide = true
		return
	}
	// The assembler leaves a branch to what another file may replace to the
	// linker, and so one to a function in A32 code; a function's address has bit
	// 0 set, which a load or ADR of a halfword cannot hold.
	if y := p.Direct(o); y != nil && y.Defined {
		t.wide = y.Weak || t.kind == PointFar && (y.Global || y.Function && y.Mode == isa.A) || t.kind == PointAhead && y.Function && y.Mode == isa.T
	}
	t.target = v.N - p.shift(s, v.At)
	t.reached = pointBefore(pts, v.At)
}

// relaxSection moves the points until none moves any more.
func (p *Layouter) relaxSection(sec int16) {
	pts := p.sections[sec].points
	bounds := boundariesOf(pts)
	for k := range pts {
		if t := &pts[k]; t.kind == PointFar || t.kind == PointAhead {
			p.look(sec, t)
		}
		if p.Cancelled(1) {
			return
		}
	}
	for round := 0; ; round++ {
		stretch, changed, last := int64(0), false, int32(-1)
		p.Steps += len(pts)
		for k := range pts {
			if p.Cancelled(1) {
				return
			}
			t := &pts[k]
			t.addr += stretch
			if t.frozen {
				continue
			}
			now := t.now
			switch t.kind {
			case PointAlign:
				now = t.pad() + t.after
			case PointNumber:
				now = 4
			case PointBase:
				now = p.base(sec)
			case PointLEB:
				now = p.lebSize(&p.Items[t.item])
			case PointSpace:
				it := &p.Items[t.item]
				p.Gen++
				if v := p.Value(&it.Stmt.Ops[0], it); v.Kind == program.Number && v.N >= 0 && v.N < Most {
					now = v.N * t.after
				} else if v.Kind == program.Number && v.N >= Most && round > 0 {
					p.Endless = t.item // it doubles
					return
				}
			case PointOrg:
				it := &p.Items[t.item]
				p.Gen++
				if v := p.Value(&it.Stmt.Ops[t.op], it); v.Kind == program.Number || v.Kind == program.Address && v.Section == sec {
					now = max(v.N-t.addr, 0)
					t.target = v.N
				}
			default:
				if !t.fixed {
					p.look(sec, t)
				}
				now = 2
				if t.wide || p.far(pts, bounds, k, stretch) {
					now = 4
				}
			}
			growth := now - t.now
			t.now = now
			// What is wide stays so, unless it may be wide only because what
			// is before it has just moved.
			if t.kind != PointAlign && t.kind < PointBase && now > 2 && stretch <= 0 {
				t.frozen = true
			}
			if growth != 0 {
				stretch += growth
				changed = true
				if t.kind == PointLEB || t.kind == PointSpace {
					last = t.item
				}
			}
		}
		if !changed || p.Steps > maxLayout {
			return
		}
		// What is wide stays so, and each round has some that is new to it: only
		// sizes by distances can go on for ever, and the assembler gives up on them.
		if round > 100+10*len(pts) {
			if p.Endless = last; last < 0 {
				p.Steps = maxLayout
			}
			return
		}
	}
}

// far says whether the target of point k is out of reach of its halfword, in a
// round that has moved the point by stretch so far. What the round has not come
// to yet is taken to move as far, less what alignments between swallow.
func (p *Layouter) far(pts []point, bounds boundaries, k int, stretch int64) bool {
	t := &pts[k]
	val := t.target
	if t.reached >= 0 {
		val += pts[t.reached].moved()
	}
	if int(t.reached) == k {
		val -= stretch // what is after the point has not been moved yet
	}
	out := func(val int64) bool { return !t.form.Reaches(int(t.op), t.addr, val) }
	if stretch == 0 || int(t.reached) < k {
		return out(val)
	}
	if d := val - t.addr; d > beyond+stretch && d > beyond {
		return true
	}
	// Each boundary between leaves a multiple of itself, so the largest decides.
	mask := bounds.largest(int32(k), t.reached) - 1
	if stretch < 0 {
		return out(val + -(-stretch &^ mask))
	}
	return out(val + stretch&^mask)
}

// settle puts the items of a section where its points have moved them.
func (p *Layouter) settle(sec int16) {
	s, points := &p.Sections[sec], p.sections[sec].points
	k, by := 0, int64(0)
	if points[0].kind == PointBase {
		k, by = 1, points[0].moved()
	}
	for _, id := range p.Order[sec] {
		if p.Cancelled(1) {
			return
		}
		it := &p.Items[id]
		for ; k < len(points) && points[k].item < id; k++ {
			by = points[k].moved() // of an item that is in another section
		}
		it.Offset += by
		for ; k < len(points) && points[k].item == id; k++ {
			t := &points[k]
			it.Size = t.now
			if t.kind == PointOrg && t.target < t.addr {
				p.OrgBack(it, &it.Stmt.Ops[t.op], t.addr, t.target)
			}
			if t.kind == PointSpace && p.Value(&it.Stmt.Ops[0], it).Kind != program.Number {
				s.Exact = false
			}
			if t.now == 4 && it.Stmt.Kind == syntax.Instruction {
				it.Flags |= program.Wide
			}
			by = t.moved()
		}
	}
	if s.EndPool >= 0 {
		s.EndPool += by
	}
	s.Size += points[len(points)-1].moved()
}
