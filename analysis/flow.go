package analysis

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// next is what execution does behind an item.
type next uint8

const (
	goesOn  next = iota // runs on to the next item
	stops               // never does
	mayStop             // a call or trap that need not come back
	unknown             // nothing is known
)

// nextOf says where execution goes behind an instruction.
func nextOf(r *Program, it *item) next {
	if it.flags&(fUnchecked|fRefused) != 0 {
		return unknown
	}
	if it.match.Form == nil && r.envs[it.env].mode == isa.A {
		return afterA(it.stmt)
	}
	if it.match.Form == nil {
		return unknown
	}
	e := it.match.Effects()
	if e.Conditional && e.Flow != isa.FlowCall && e.Flow != isa.FlowTrap {
		return goesOn // or elsewhere
	}
	switch e.Flow {
	case isa.FlowJump, isa.FlowStop:
		return stops
	case isa.FlowCall, isa.FlowTrap:
		return mayStop
	case isa.FlowReg:
		if e.Writes.Has(isa.LR) {
			return mayStop
		}
		return stops
	}
	if e.Writes.Has(isa.PC) {
		return stops
	}
	return goesOn
}

// afterA judges an A32 line by its name and operands.
func afterA(s *syntax.Stmt) next {
	n := strings.ToLower(s.Name)
	has := func(list ...string) bool {
		for _, x := range list {
			if n == x {
				return true
			}
		}
		return false
	}
	switch {
	case has("b", "bal", "bx", "bxj", "udf", "eret", "rfe", "rfeia", "rfefd", "rfedb"):
		return stops
	case strings.HasPrefix(n, "bl") && n != "bls" && n != "blt" && n != "ble" && n != "blo", has("svc", "swi", "bkpt", "hvc", "smc"):
		return mayStop
	case len(s.Ops) == 0:
		return goesOn
	}
	first := &s.Ops[0]
	pc := first.Kind == isa.OpReg && first.Reg == isa.PC
	for i := range s.Ops {
		if s.Ops[i].Kind == isa.OpList && s.Ops[i].List.Has(isa.PC) && (strings.HasPrefix(n, "ldm") || strings.HasPrefix(n, "pop")) {
			pc = true
		}
	}
	if !pc || has("cmp", "cmn", "tst", "teq", "str") {
		return goesOn
	}
	if len(n) > 2 {
		if _, cond := isa.CondByName(n[len(n)-2:]); cond && !has("mul", "mls", "adcs", "sbcs", "bics", "movs") {
			return unknown
		}
	}
	return stops
}

// checker looks at what execution meets.
type checker struct{ *reporter }

// checkFlow looks at what execution meets in a program: modes, pools, alignment, state
// bits.
func checkFlow(found *reporter) {
	p := &checker{found}
	for s := range p.secs {
		p.flowSection(int16(s))
	}
}

func (p *checker) flowSection(sec int16) {
	var (
		state    = unknown // what is known about reaching this point
		last     *item     // the last instruction
		oddCode  bool
		afterLab *item // the label right before
	)
	s := &p.secs[sec]
	for _, i := range p.order[sec] {
		it := &p.items[i]
		e := &p.envs[it.env]
		switch {
		case it.stmt.Kind == syntax.Label:
			if state != goesOn {
				state = unknown
			}
			afterLab = it
			continue
		case it.stmt.Kind == syntax.Instruction:
			if last != nil && state == goesOn && p.envs[last.env].mode != e.mode {
				p.emit(p.nameLoc(it), Diagnostic{Code: codeModeMix,
					Message: fmt.Sprintf("Execution runs on from %s code into %s code here; only BX, BLX and loads of pc change the state.", p.envs[last.env].mode, e.mode),
					Related: []Related{{p.nameLoc(last).Location, "the last instruction before"}}})
			}
			unit := int64(2)
			if e.mode == isa.A {
				unit = 4
			}
			if odd := s.exact && it.off%unit != 0; odd && !oddCode {
				p.report(p.nameLoc(it), codeCodeAlign, fmt.Sprintf("%s code stands at multiples of %d bytes; this is offset 0x%x.", e.mode, unit, it.off))
				oddCode = true
			} else if !odd {
				oddCode = false
			}
			if state == stops && afterLab == nil {
				// Never reached: padding behind bx pc, say.
				break
			}
			state = nextOf(p.Program, it)
			last = it
			if e.mode == isa.T {
				p.branchMode(it, e)
				p.stateBit(it, e)
				p.jumpAhead(it, s)
			} else {
				p.branchModeA(it, e)
				p.stateBit(it, e)
			}
		case it.stmt.Kind == syntax.Directive:
			switch it.stmt.Dir.Effect {
			case syntax.EffPool:
				if it.flags&fPool != 0 {
					p.poolPath(it, last, state, p.nameLoc(it))
					state = stops
				}
			case syntax.EffData:
				if unit := int64(min(p.unit(it), 4)); afterLab != nil && unit > 1 && s.exact && !unaligned(it) && it.off%unit != 0 && it.size > 0 && s.name != "*record*" {
					p.report(p.nameLoc(it), codeDataAlign, fmt.Sprintf("%s data stands at multiples of %d bytes; %s is at offset 0x%x.", it.stmt.Dir.Name, unit, afterLab.stmt.Name, it.off))
				}
				state, last = unknown, nil
			case syntax.EffString, syntax.EffSpace, syntax.EffFill, syntax.EffInst, syntax.EffOrg, syntax.EffIncbin:
				if it.size > 0 || it.stmt.Dir.Effect == syntax.EffIncbin {
					state, last = unknown, nil
				}
			case syntax.EffInclude:
				state = unknown
			case syntax.EffRept:
				if it.flags&fOpaque != 0 {
					state = unknown
				}
			}
			if it.size == 0 {
				continue
			}
		case it.stmt.Kind == syntax.Unknown:
			if it.transparent() {
				continue
			}
			state, last = unknown, nil
		}
		afterLab = nil
	}
	if s.endPool >= 0 && last != nil {
		p.poolPath(last, last, state, p.nameLoc(last))
	}
}

// poolPath reports a pool that execution runs into.
func (p *checker) poolPath(it, last *item, state next, at place) {
	if last == nil || state == stops || state == unknown {
		return
	}
	what := "the literal pool placed here"
	if it == last {
		what = "the literal pool at the end of the section"
	}
	_, line, _ := p.shown(last)
	d := Diagnostic{Code: codePoolPath, Message: fmt.Sprintf("Execution runs from line %d into %s.", line+1, what)}
	if state == mayStop {
		d.Severity = Information
		d.Message = fmt.Sprintf("If the call in line %d comes back, execution runs into %s.", line+1, what)
	}
	if it != last {
		d.Related = []Related{{p.stmtLoc(last).Location, "the last instruction before the pool"}}
	}
	p.emit(at, d)
}

// codeLabel finds the label that a target operand names, with the distance
// from it, when instructions stand there.
func (p *Program) codeLabel(v value) (s *symbol, mode isa.State, ok bool) {
	if v.kind != vRel || v.sym == nil || !v.sym.defined {
		return nil, 0, false
	}
	s = v.sym
	if !s.label {
		return s, s.mode, s.fn
	}
	if i := p.ahead[v.sec][p.position(&p.items[s.item])+1]; i >= 0 {
		return s, p.envs[p.items[i].env].mode, true
	}
	return nil, 0, false
}

// lookAhead finds for each place in the sections what a label there names: the
// instruction behind it, past other labels and alignment.
func (p *pass) lookAhead() {
	p.ahead = make([][]int32, len(p.order))
	for s, order := range p.order {
		ahead, next := make([]int32, len(order)+1), int32(-1)
		ahead[len(order)] = next
		for k := len(order) - 1; k >= 0; k-- {
			it := &p.items[order[k]]
			switch {
			case it.stmt.Kind == syntax.Instruction:
				next = it.id
			case it.stmt.Kind == syntax.Label, it.size == 0, it.stmt.Kind == syntax.Directive && aligns(it.stmt.Dir.Effect):
			default:
				next = -1
			}
			ahead[k] = next
		}
		p.ahead[s] = ahead
	}
}

// aligns says whether a directive moves to a boundary and no farther.
func aligns(e syntax.Effect) bool {
	switch e {
	case syntax.EffAlignPow, syntax.EffAlignByte, syntax.EffArm, syntax.EffCode:
		return true
	}
	return false
}

// branchMode compares the mode of a T16 branch with its target's.
func (p *checker) branchMode(it *item, e *env) {
	if it.match.Form == nil {
		return
	}
	f := it.match.Form.Row.Flow
	if f != isa.FlowJump && f != isa.FlowBranch && f != isa.FlowCall {
		return
	}
	for i := range it.stmt.Ops {
		o := &it.stmt.Ops[i]
		if o.Kind != isa.OpExpr || o.Word == "" && o.Expr == nil {
			continue
		}
		s, mode, ok := p.codeLabel(p.eval(o, it))
		if !ok {
			return
		}
		exchange := it.match.Form.Mnemonic == "blx" // near or far
		if exchange == (mode == isa.A) {
			return
		}
		if f == isa.FlowCall && (s.fn || s.auto) && (e.have.Has(isa.FeatV5T) || mode == isa.A) {
			return // the assembler or the linker makes BLX or a veneer of it
		}
		p.modeMix(it, o, s, isa.T, mode, exchange)
		return
	}
}

func (p *checker) modeMix(it *item, o *syntax.Operand, s *symbol, from, to isa.State, exchange bool) {
	m := fmt.Sprintf("%s stays in %s state, and %s is %s code.", it.stmt.Name, from, s.name, to)
	if exchange {
		m = fmt.Sprintf("%s changes the state, and %s is %s code as this line.", it.stmt.Name, s.name, to)
	}
	p.emit(p.loc(it, o.Start, o.End), Diagnostic{Code: codeModeMix, Message: m,
		Related: []Related{{s.at.Location, s.name + " is defined here"}}})
}

// branchModeA does the same for A32 lines.
func (p *checker) branchModeA(it *item, e *env) {
	n := strings.ToLower(it.stmt.Name)
	cond := strings.TrimPrefix(strings.TrimPrefix(n, "b"), "l")
	if n == "" || n[0] != 'b' {
		return
	}
	if cond != "" {
		// b or bl with a condition: beq, but also bleq and blt.
		_, a := isa.CondByName(n[1:])
		_, b := isa.CondByName(strings.TrimPrefix(n, "bl"))
		if !a && !b {
			return
		}
	}
	if len(it.stmt.Ops) != 1 {
		return
	}
	o := &it.stmt.Ops[0]
	if o.Kind != isa.OpExpr || o.Word == "" && o.Expr == nil {
		return
	}
	s, mode, ok := p.codeLabel(p.eval(o, it))
	if ok && mode == isa.T && !s.fn && !s.auto {
		// A marked function gets BLX or a veneer, a plain label neither.
		p.modeMix(it, o, s, isa.A, mode, false)
	}
}

// jumpAhead checks a change to A32 state that goes to the place PC reads, 4 ahead: BX
// PC between words is unpredictable (DDI 0406, "BX").
func (p *checker) jumpAhead(it *item, s *section) {
	if it.match.Form == nil {
		return
	}
	switch e := it.match.Effects(); {
	case e.Flow != isa.FlowReg || !e.Reads.Has(isa.PC) || e.ReadsMem:
	case !p.envs[it.env].have.Has(isa.FeatA32):
		p.report(p.stmtLoc(it), codeUnpredictable, fmt.Sprintf("%s pc changes to A32 state, which %s does not have.", it.stmt.Name, p.envs[it.env].target))
	case s.exact && s.align >= 4 && it.off%4 != 0:
		p.report(p.stmtLoc(it), codeCodeAlign, fmt.Sprintf("%s pc at offset 0x%x goes to offset 0x%x; A32 code stands at multiples of 4 bytes.", it.stmt.Name, it.off, it.off+4))
	}
}

// stateBit follows the register of a branch-exchange back to where its value
// comes from, along the straight line above, and checks bit 0 of it.
func (p *checker) stateBit(it *item, e *env) {
	n := strings.ToLower(it.stmt.Name)
	if n != "bx" && n != "blx" || len(it.stmt.Ops) != 1 || it.stmt.Ops[0].Kind != isa.OpReg {
		return
	}
	reg := it.stmt.Ops[0].Reg
	var after making // what is done to the value behind the place that is looked at
	shared := false  // lines in between use the address, too
	o := p.order[it.sec]
	k := p.position(it)
	for k--; k >= 0; k-- {
		w := &p.items[o[k]]
		switch w.stmt.Kind {
		case syntax.Label:
			return
		case syntax.Directive:
			if w.size > 0 {
				return
			}
			continue
		case syntax.Instruction:
		default:
			continue
		}
		if p.envs[w.env].mode != e.mode || nextOf(p.Program, w) != goesOn || w.match.Form == nil {
			return
		}
		ef := w.match.Effects()
		if !ef.Writes.Has(reg) {
			shared = shared || ef.Reads.Has(reg)
			continue
		}
		m, known := p.source(w, reg)
		if !known || ef.Conditional {
			return
		}
		after = m.then(after)
		if reg = m.src; reg == isa.NoReg {
			p.checkBit(it, w, after, shared)
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
func (p *checker) source(w *item, reg isa.Reg) (m making, known bool) {
	ops, f := w.stmt.Ops, w.match.Form
	if len(ops) == 3 && ops[0].Kind == isa.OpReg && ops[0].Reg == reg && ops[1].Kind == isa.OpReg && ops[1].Reg != isa.PC && ops[2].Kind == isa.OpImm && ops[2].Known {
		op, _, _ := w.stmt.Mnem.Operation()
		switch n := ops[2].Imm; op {
		case "add":
			return making{ops[1].Reg, n, false}, true
		case "sub":
			return making{ops[1].Reg, -n, false}, true
		case "orr":
			return making{ops[1].Reg, n & 1, n&1 != 0}, true
		}
	}
	if src, n, ok := w.match.Sum(); ok && src != isa.PC {
		return making{src, n, false}, true
	}
	// ADR, or a load from a label
	known = len(ops) == 2 && ops[0].Kind == isa.OpReg && ops[0].Reg == reg && f.Address(1) && f.Row.Flow == isa.FlowNext && (f.Row.Access == 0 || f.Row.Access == 4)
	return making{isa.NoReg, 0, false}, known
}

// StateBit is what bit 0 of an address should be.
type StateBit uint8

const (
	_          StateBit = iota
	wantsSet            // set, for T16 code
	wantsClear          // clear, for A32 code
)

// checkBit compares bit 0 of what w makes with the state of the code there. shared:
// the address is used for other things as well.
func (p *checker) checkBit(bx, w *item, after making, shared bool) {
	o := &w.stmt.Ops[1]
	v := p.eval(o, w)
	viaAdr := strings.HasPrefix(strings.ToLower(w.stmt.Name), "adr")
	at := p.loc(w, o.Start, o.End)
	if !viaAdr && o.Kind != isa.OpLit {
		// ldr rX, label: the word at the label counts.
		d, arg := p.wordAt(v)
		if d == nil {
			return
		}
		v = p.eval(arg, d)
		shared = true
		at = p.loc(d, arg.Start, arg.End)
	}
	s, mode, ok := p.codeLabel(v)
	if !ok {
		return
	}
	bit := v.n - s.val.n
	if viaAdr {
		bit += p.functionBit(w, o, v)
	}
	marked := s.fn || s.auto
	if y := p.direct(o); y != nil && y.thumbFn && s.item <= y.item {
		marked = true // by .thumb_set, and what it stands for was known there
	}
	if marked && mode == isa.T && !viaAdr {
		bit = 1 // by the linker; ADR knows of no marks but in T32, see functionBit
	}
	if after.ored {
		bit = 0
	}
	bit = (bit + after.n) & 1
	_, line, _ := p.shown(bx)
	var m string
	want := wantsSet
	switch {
	case mode == isa.T && bit == 0:
		m = fmt.Sprintf("%s in line %d takes %s for A32 code: bit 0 of its address is clear, and it is T16 code.", bx.stmt.Name, line+1, s.name)
	case mode == isa.A && bit == 1:
		want = wantsClear
		m = fmt.Sprintf("%s in line %d takes %s for T16 code: bit 0 of its address is set, and it is A32 code.", bx.stmt.Name, line+1, s.name)
	default:
		return
	}
	p.emit(at, Diagnostic{Code: codeStateBit, Message: m, Bit: want, Shared: shared || p.readsAt(s, bx.stmt.Ops[0].Reg), Related: []Related{
		{p.stmtLoc(bx).Location, "the branch"}, {s.at.Location, s.name + " is defined here"}}})
}

// readsAt says whether the code at a label reads a register as far as it is followed.
func (p *checker) readsAt(s *symbol, r isa.Reg) bool {
	if s.item < 0 {
		return true
	}
	w := walker{r: &paths{newEvaluator(p.Program)}, sec: p.items[s.item].sec, self: -1, seen: map[int]needs{}, readsOnly: true}
	w.walk(p.position(&p.items[s.item]), needs{regs: regBit(r)})
	return w.live != needs{}
}

// wordAt finds the data argument that makes the word at an address.
func (p *Program) wordAt(v value) (*item, *syntax.Operand) {
	if v.kind != vRel {
		return nil, nil
	}
	for _, i := range p.order[v.sec] {
		it := &p.items[i]
		if it.off > v.n {
			break
		}
		if it.stmt.Kind == syntax.Directive && it.stmt.Dir.Effect == syntax.EffData && p.unit(it) == 4 && v.n < it.off+it.size {
			k := (v.n - it.off) / 4
			if (v.n-it.off)%4 == 0 && int(k) < len(it.stmt.Ops) {
				return it, &it.stmt.Ops[k]
			}
		}
	}
	return nil, nil
}
