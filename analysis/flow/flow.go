package flow

import (
	"context"

	"narrowgauge/analysis/eval"
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// next is what execution does after an item.
type next uint8

const (
	GoesOn  next = iota // runs on to the next item
	Stops               // never does
	mayStop             // a call or trap that need not come back
	unknown             // nothing is known
)

// NextOf says where execution goes after an instruction.
func NextOf(r *program.Program, it *program.Item) next {
	if it.Flags&(program.Unchecked|program.Refused) != 0 {
		return unknown
	}
	if it.Match.Form == nil && r.Environments[it.Environment].Mode == isa.A {
		return evidentNext(it.Stmt)
	}
	if it.Match.Form == nil {
		return unknown
	}
	if it.Match.FallsThrough() {
		return GoesOn
	}
	l := matched(&it.Match)
	return l.next()
}

// next is what execution does after a line with such a way.
func (l *line) next() next {
	switch l.way {
	case goesOn:
		return GoesOn
	case calls, traps:
		return mayStop
	case unclear:
		return unknown
	}
	switch {
	case l.runsOn:
		return GoesOn // or elsewhere
	case l.way == callsBy:
		return mayStop
	}
	return Stops
}

// evidentNext judges an A32 line by its name and operands.
func evidentNext(s *syntax.Stmt) next {
	if s.Mnemonic == nil {
		return unknown
	}
	var buf [4]isa.Operand
	ops := buf[:0]
	for i := range s.Ops {
		ops = append(ops, s.Ops[i].Operand)
	}
	var l line
	_, _, cond := s.Mnemonic.Operation()
	l.runsOn = cond != isa.AL
	l.leave(s.Mnemonic.Evident(isa.A, ops), ops)
	return l.next()
}

// checker looks at what execution meets.
type checker struct {
	*wording.Reporter
	ctx   context.Context
	asked *Paths // where execution goes, once something asks
	// counted are the places that lines count to, once something asks, see comesTo; false
	// for those to which only BX pc does, in A32 state.
	counted map[program.Value]bool
	// oneState: all code that a label can name is of one state, so that only a branch that
	// exchanges can lead to another one.
	oneState bool
	followed Followed
}

func (p *checker) paths() *Paths {
	if p.asked == nil {
		p.asked = &Paths{Evaluator: eval.New(p.Program)}
	}
	return p.asked
}

// lookEvery is how many items there are between two looks at the context.
const lookEvery = 512

// Check looks at what execution meets in a program: modes, pools, alignment, state
// bits. It ends early when ctx is cancelled. What it gives says when it finds the same in a
// program that differs a little.
func Check(ctx context.Context, found *wording.Reporter) *Followed {
	p := &checker{Reporter: found, ctx: ctx}
	p.oneState = hasOneState(p.Program)
	for s := range p.Sections {
		p.flowSection(int16(s))
	}
	return &p.followed
}

func (p *checker) flowSection(sec int16) {
	var (
		state    = unknown     // what is known about reaching this point
		last     *program.Item // the last instruction
		oddCode  bool
		afterLab *program.Item // the label right before
	)
	s := &p.Sections[sec]
	for n, i := range p.Order[sec] {
		if n%lookEvery == 0 && p.ctx.Err() != nil {
			return
		}
		it := &p.Items[i]
		e := &p.Environments[it.Environment]
		switch {
		case it.Stmt.Kind == syntax.Label:
			if state != GoesOn {
				state = unknown
			}
			afterLab = it
			continue
		case it.Stmt.Kind == syntax.Instruction:
			if last != nil && state == GoesOn && p.Environments[last.Environment].Mode != e.Mode {
				p.Emit(p.NameLoc(it), finding.Diagnostic{Code: finding.CodeModeMix,
					Message: wording.RunsInto(p.Environments[last.Environment].Mode, e.Mode),
					Related: []finding.Related{{Location: p.NameLoc(last).Location, Message: wording.LastBefore()}}})
			}
			unit := int64(2)
			if e.Mode == isa.A {
				unit = 4
			}
			if odd := s.Exact && it.Offset%unit != 0; odd && !oddCode {
				p.Report(p.NameLoc(it), finding.CodeCodeAlign, wording.CodeMisaligned(e.Mode, unit, it.Offset))
				oddCode = true
			} else if !odd {
				oddCode = false
			}
			if state == Stops && afterLab == nil && !p.comesTo(it) {
				// Never reached: padding after bx pc, say.
				break
			}
			state = NextOf(p.Program, it)
			last = it
			if e.Mode == isa.T {
				p.branchMode(it, e)
				p.stateBit(it, e)
				p.jumpAhead(it, s)
			} else {
				p.branchModeA32(it)
				p.stateBit(it, e)
			}
		case it.Stmt.Kind == syntax.Directive:
			switch it.Stmt.Directive.Effect {
			case syntax.EffPool:
				if it.Flags&program.HasPool != 0 {
					p.poolPath(it, last, state, p.NameLoc(it))
					state = Stops
				}
			case syntax.EffData:
				if unit := int64(min(p.Unit(it), 4)); afterLab != nil && unit > 1 && s.Exact && !it.Stmt.Directive.Anywhere && it.Offset%unit != 0 && it.Size > 0 && s.Name != "*record*" {
					p.Report(p.NameLoc(it), finding.CodeDataAlign, wording.DataMisaligned(it.Stmt.Directive.Name, unit, afterLab.Stmt.Name, it.Offset))
				}
			}
			if forgets(it) {
				state, last = unknown, nil
			}
			if it.Size == 0 {
				continue
			}
			oddCode = oddCode && !program.Aligns(it.Stmt.Directive.Effect) && it.Stmt.Directive.Effect != syntax.EffEven
		case it.Stmt.Kind == syntax.Unknown:
			if it.Transparent() {
				continue
			}
			state, last = unknown, nil
		}
		afterLab = nil
	}
	if s.EndPool >= 0 && last != nil {
		p.poolPath(last, last, state, p.NameLoc(last))
	}
}

// forgets says whether nothing is known behind an item of how execution comes there, as behind
// data.
func forgets(it *program.Item) bool {
	switch it.Stmt.Kind {
	case syntax.Unknown:
		return !it.Transparent()
	case syntax.Directive:
		switch it.Stmt.Directive.Effect {
		case syntax.EffData, syntax.EffInclude, syntax.EffIncbin:
			return true
		case syntax.EffString, syntax.EffSpace, syntax.EffFill, syntax.EffInst, syntax.EffOrg:
			return it.Size > 0
		case syntax.EffRept:
			return it.Flags&program.Opaque != 0
		}
	}
	return false
}

// comesTo says whether a line counts the distance to an instruction that has no label: a
// branch to .+8, one to a label and some bytes, BX pc, an address made from pc.
func (p *checker) comesTo(it *program.Item) bool {
	if !p.Sections[it.Section].Exact {
		return false
	}
	if p.counted == nil {
		p.followed.counts = true
		p.counted = map[program.Value]bool{}
		for i := range p.Items {
			if x := &p.Items[i]; x.Stmt.Kind == syntax.Instruction && x.Stmt.Mnemonic != nil {
				p.countFrom(x)
			}
		}
	}
	any, ok := p.counted[program.Value{Kind: program.Address, Section: it.Section, N: it.Offset}]
	return ok && (any || p.Environments[it.Environment].Mode == isa.A)
}

// countFrom notes the places to which an instruction counts.
func (p *checker) countFrom(it *program.Item) {
	note := func(sec int16, off int64, any bool) {
		at := program.Value{Kind: program.Address, Section: sec, N: off &^ 1}
		p.counted[at] = p.counted[at] || any
	}
	ops := it.Stmt.Ops
	for k := range ops {
		switch o := &ops[k]; {
		case o.Kind == isa.OpExpr && o.Expr != nil:
			if v := p.Value(&ops[k], it); v.Kind == program.Address {
				note(v.Section, v.N, true)
			}
		case o.Kind == isa.OpReg && o.Reg == isa.PC && (k > 0 || len(ops) == 1):
			to := it.Offset + p.Environments[it.Environment].Mode.Ahead()
			switch last := p.operands(it)[len(ops)-1]; {
			case last.Kind == isa.OpImm && last.Known && opOf(it) == "add":
				to += last.Imm
			case len(ops) == 2 && opOf(it) != "mov":
				continue // a sum with another register
			}
			note(it.Section, to, len(ops) > 1)
		}
	}
}

// poolPath reports a pool that execution runs into.
func (p *checker) poolPath(it, last *program.Item, state next, at program.Place) {
	if last == nil || state == Stops || state == unknown {
		return
	}
	_, line, _ := p.Shown(last)
	d := finding.Diagnostic{Code: finding.CodePoolPath, Message: wording.RunsIntoPool(line+1, it == last, state == mayStop)}
	if state == mayStop {
		d.Severity = finding.Information
	}
	if it != last {
		d.Related = []finding.Related{{Location: p.StmtLoc(last).Location, Message: wording.LastBeforePool()}}
	}
	p.Emit(at, d)
}

// hasOneState says whether all code of a program is of one state, and no function outside of it
// is of another.
func hasOneState(r *program.Program) bool {
	if r.States[isa.A] && r.States[isa.T] {
		return false
	}
	for _, slab := range r.Slabs {
		for i := range slab {
			if s := &slab[i]; s.Function && !s.Label && !r.States[s.Mode] {
				return false
			}
		}
	}
	return true
}

// branchMode compares the mode of a T16 branch with its target's.
func (p *checker) branchMode(it *program.Item, e *program.Environment) {
	if it.Match.Form == nil {
		return
	}
	f := it.Match.Form.Row.Flow
	if !f.ToLabel() || p.oneState && !it.Match.Form.Row.Exchange {
		return
	}
	for i := range it.Stmt.Ops {
		o := &it.Stmt.Ops[i]
		if o.Kind != isa.OpExpr || o.Word == "" && o.Expr == nil {
			continue
		}
		s, mode, ok := p.CodeLabel(p.Value(o, it))
		if !ok {
			return
		}
		exchange := it.Match.Form.Row.Exchange
		if exchange == (mode == isa.A) {
			return
		}
		if f == isa.FlowCall && (s.Function || s.Auto) && (e.Have.Has(isa.FeatV5T) || mode == isa.A) {
			return // the assembler or the linker makes BLX or a veneer of it
		}
		p.modeMix(it, o, s, isa.T, mode, exchange)
		return
	}
}

func (p *checker) modeMix(it *program.Item, o *syntax.Operand, s *program.Symbol, from, to isa.State, exchange bool) {
	m := wording.StaysInState(it.Stmt.Name, from, s.Name, to)
	if exchange {
		m = wording.ChangesState(it.Stmt.Name, s.Name, to)
	}
	p.Emit(p.Loc(it, o.Start, o.End), finding.Diagnostic{Code: finding.CodeModeMix, Message: m,
		Related: []finding.Related{{Location: p.DefinedAt(s).Location, Message: wording.DefinedHere(s.Name)}}})
}

// branchModeA32 does the same for A32 lines.
func (p *checker) branchModeA32(it *program.Item) {
	exchange := it.Match.Form != nil && it.Match.Form.Row.Flow == isa.FlowCall && it.Match.Form.Row.Exchange
	if !exchange && (p.oneState || !it.Branches()) || len(it.Stmt.Ops) != 1 || it.Flags&program.Refused != 0 {
		return // what is refused because of its target says so
	}
	o := &it.Stmt.Ops[0]
	if o.Kind != isa.OpExpr || o.Word == "" && o.Expr == nil {
		return
	}
	s, mode, ok := p.CodeLabel(p.Value(o, it))
	if ok && exchange == (mode == isa.A) && !s.Function && !s.Auto {
		// A marked function gets BL, BLX or a veneer, a plain label none of them.
		p.modeMix(it, o, s, isa.A, mode, exchange)
	}
}

// jumpAhead checks a change to A32 state that goes to the place PC reads, 4 ahead: BX
// PC between words is unpredictable (DDI 0406, "BX").
func (p *checker) jumpAhead(it *program.Item, s *program.Section) {
	if it.Match.Form == nil || it.Match.FallsThrough() || it.Match.Form.Row.Flow.ToLabel() {
		return
	}
	switch e := it.Match.Effects(); {
	case e.Flow != isa.FlowReg || !e.Reads.Has(isa.PC) || e.ReadsMem:
	case !p.Environments[it.Environment].Have.Has(isa.FeatA32):
		p.Report(p.StmtLoc(it), finding.CodeUnpredictable, wording.NoA32State(it.Stmt.Name, p.Environments[it.Environment].Target))
	case s.Exact && s.Align >= 4 && it.Offset%4 != 0:
		p.Report(p.StmtLoc(it), finding.CodeCodeAlign, wording.EntersMisaligned(it.Stmt.Name, it.Offset, it.Offset+4))
	}
}

// stateBit follows the register of a branch-exchange back to where its value
// comes from, along the straight line above, and checks bit 0 of it. From ARMv5T on, a
// load of pc exchanges as well (DDI 0406C, A8.8.63 "LDR (literal)", LoadWritePC).
func (p *checker) stateBit(it *program.Item, e *program.Environment) {
	if it.Match.Form == nil || len(it.Stmt.Ops) == 0 || it.Match.FallsThrough() {
		return
	}
	op, _, _ := it.Stmt.Mnemonic.Operation()
	reg := isa.NoReg
	switch {
	case op == "ldr":
		if m, known := p.source(it, isa.PC); known && m.src == isa.NoReg && e.Have.Has(isa.FeatV5T) {
			p.checkBit(it, it, isa.NoReg, making{}, false)
		}
		return
	case it.Match.Form.Row.Flow == isa.FlowReg && it.Match.Form.Row.Exchange && len(it.Stmt.Ops) == 1:
		reg = p.operands(it)[0].Reg
	default:
		return
	}
	to, flags := reg, false // flags: they have changed on the way
	var after making        // what is done to the value after the place that is looked at
	shared := false         // lines in between use the address, too
	o := p.Order[it.Section]
	k := p.Position(it)
	first := it.Index
	defer func() { p.followed.stretches = append(p.followed.stretches, [2]int32{first, it.Index}) }()
	for k--; k >= 0; k-- {
		w := &p.Items[o[k]]
		first = w.Index
		switch w.Stmt.Kind {
		case syntax.Label:
			return
		case syntax.Directive:
			if w.Size > 0 {
				return
			}
			continue
		case syntax.Instruction:
		default:
			continue
		}
		if p.Environments[w.Environment].Mode != e.Mode || NextOf(p.Program, w) != GoesOn || w.Match.Form == nil {
			return
		}
		ef := w.Match.Effects()
		flags = flags || ef.FlagsWritten != 0
		if !ef.Writes.Has(reg) {
			shared = shared || ef.Reads.Has(reg)
			continue
		}
		m, known := p.source(w, reg)
		if !known || ef.Conditional && (flags || w.Match.Condition() != it.Match.Condition()) {
			return
		}
		after = m.then(after)
		if reg = m.src; reg == isa.NoReg {
			p.checkBit(it, w, to, after, shared)
			return
		}
	}
}

// making is how a value comes from another one: from that of register src, or, with
// src NoReg, from the second operand of its line; n is added. With ored, bit 0 is
// set whatever it was, and n is what bit 0 comes to.
type making struct {
	src  isa.Reg
	n    int64
	ored bool
}

// then is what comes of both, one after the other.
func (m making) then(next making) making {
	if next.ored {
		return making{m.src, next.n, true}
	}
	return making{m.src, m.n + next.n, m.ored}
}

// source explains how an instruction makes the value of a register that it writes.
func (p *checker) source(w *program.Item, reg isa.Reg) (m making, known bool) {
	ops, f := p.operands(w), w.Match.Form
	writes := len(ops) > 1 && ops[0].Kind == isa.OpReg && ops[0].Reg == reg
	if writes && len(ops) == 3 && ops[1].Kind == isa.OpReg && ops[1].Reg != isa.PC && ops[2].Kind == isa.OpImm && ops[2].Known {
		op, _, _ := w.Stmt.Mnemonic.Operation()
		switch n := ops[2].Imm; op {
		case "add":
			return making{ops[1].Reg, n, false}, true
		case "sub":
			return making{ops[1].Reg, -n, false}, true
		case "orr":
			return making{ops[1].Reg, n & 1, n&1 != 0}, true
		}
	}
	if src, n, ok := w.Match.Sum(); ok && src != isa.PC {
		return making{src, n, false}, true
	}
	// ADR, or a load from a label or by a distance from pc
	known = writes && len(ops) == 2 && f.Row.Flow == isa.FlowNext && (f.Address(1) && f.Row.Access == 0 || f.Row.Access == 4 && (f.Address(1) || fromPC(&ops[1])))
	return making{isa.NoReg, 0, false}, known
}

// operands are the operands of an item with the registers that names mean.
func (p *checker) operands(it *program.Item) []isa.Operand {
	return (&Paths{Evaluator: &p.Evaluator}).OperandsOf(it)
}

// fromPC says whether a memory operand is at a distance from pc.
func fromPC(o *isa.Operand) bool {
	return o.Kind == isa.OpMem && o.Reg == isa.PC && (o.Off == isa.OffImm && o.Known || o.Off == isa.OffNone) && !o.Writeback && !o.Post
}

// checkBit compares bit 0 of what w makes for bx, in whose register reg it is then,
// with the state of the code there. shared: the address is used for other things as
// well.
func (p *checker) checkBit(bx, w *program.Item, reg isa.Reg, after making, shared bool) {
	o := &w.Stmt.Ops[1]
	v := p.Value(o, w)
	if m := &p.operands(w)[1]; fromPC(m) {
		pc := (w.Offset + p.Environments[w.Environment].Mode.Ahead()) &^ 3
		if !p.Sections[w.Section].Exact {
			return
		}
		v = program.Value{Kind: program.Address, Section: w.Section, N: pc + m.Imm}
	}
	viaAdr := w.Match.Form.Row.Access == 0
	at := p.Loc(w, o.Start, o.End)
	if !viaAdr && o.Kind != isa.OpLit {
		// ldr rX, label: the word at the label counts.
		d, arg := p.WordAt(v)
		if d == nil {
			return
		}
		v, o = p.Value(arg, d), arg
		shared = true
		at = p.Loc(d, arg.Start, arg.End)
	}
	s, mode, ok := p.CodeLabel(v)
	if !ok {
		return
	}
	bit := v.N - s.Value.N
	if viaAdr {
		bit += p.FunctionBit(w, o, v)
	}
	marked := s.Function || s.Auto
	if y := p.Direct(o); y != nil && y.ThumbFn && s.Item <= y.Item {
		marked = true // by .thumb_set, and what it means was known there
	}
	if marked && mode == isa.T && !viaAdr {
		bit = 1 // by the linker; ADR knows of no marks but in T32, see functionBit
	}
	odd := bit&1 != 0
	if after.ored {
		bit = 0
	}
	bit = (bit + after.n) & 1
	_, line, _ := p.Shown(bx)
	m, what := "", wording.TheBranch()
	if bx == w {
		what = wording.TheLoadOfPC()
	}
	want := finding.WantsSet
	switch {
	case mode == isa.T && bit == 0:
		m = wording.BitClear(bx.Stmt.Name, line+1, s.Name)
	case mode == isa.A && bit == 1:
		want = finding.WantsClear
		m = wording.BitSet(bx.Stmt.Name, line+1, s.Name)
	default:
		return
	}
	p.Emit(at, finding.Diagnostic{Code: finding.CodeStateBit, Message: m, Bit: want, Odd: odd, Added: after.n, Shared: shared || p.readsAt(s, reg), Related: []finding.Related{
		{Location: p.StmtLoc(bx).Location, Message: what}, {Location: p.DefinedAt(s).Location, Message: wording.DefinedHere(s.Name)}}})
}

// readsAt says whether the code at a label reads a register as far as it is followed.
func (p *checker) readsAt(s *program.Symbol, r isa.Reg) bool {
	if s.Item < 0 {
		return true
	}
	g := p.paths().graphOf()
	return g.readsFirst(g.stepAt[s.Item], setOf(RegBit(r), 0))
}
