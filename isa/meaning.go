package isa

import (
	"fmt"
	"strings"
)

// Text says what the instruction does, as an assignment or a sentence: Doc, or where
// there is none what Does says, in words.
func (r *Row) Text() string {
	if r.Doc != "" || r.does == nil {
		return r.Doc
	}
	var out []string
	for i := range r.does.acts {
		if s := r.does.sentence(r, i); s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, "; ")
}

// sentence is what an action does; empty for flags that come from a value that
// another sentence has.
func (p *program) sentence(r *Row, i int) string {
	a := &p.acts[i]
	if a.guard >= 0 && p.fixed(a.guard) {
		return "" // a base register that some codes write back
	}
	x := func(n int16) string { return p.text(r, n, 0) }
	s := ""
	switch a.kind {
	case ActReg:
		to := a.reg.String()
		if a.field >= 0 {
			to = r.fields[a.field].name
		}
		if a.next {
			to = "the register after " + to
		}
		switch {
		case a.list:
			s = "registers of list = words from " + x(a.addr) + " up, lowest first"
		default:
			s = to + " = " + x(a.value)
			if n := &p.nodes[a.value]; n.op == opLoad && n.n&0xff < 4 {
				s += ", zero-extended"
			}
		}
	case ActFlag:
		return p.flagSentence(r, i)
	case ActQ:
		s = "Q set where " + x(a.value)
	case ActGE:
		s = "GE = " + x(a.value)
	case ActStore:
		if a.list {
			s = "words from " + x(a.addr) + " up = registers of list, lowest first"
		} else {
			s = unitName(uint32(a.size)) + " at " + x(a.addr) + " = " + x(a.value)
		}
	case ActBranch:
		s = "go to " + x(a.addr)
	case ActExchange:
		s = "go to " + x(a.addr) + "; bit 0 chooses T16 (1) or A32 (0)"
	case ActToA32:
		s = "go to A32 code at " + x(a.addr)
	case ActToT16:
		s = "go to T16 code at " + x(a.addr)
	default:
		return ""
	}
	if a.guard >= 0 {
		s = "if " + x(a.guard) + ": " + s
	}
	return s
}

// flagSentence is about flags where no register gets the value, and about those that are
// not of a value.
func (p *program) flagSentence(r *Row, i int) string {
	a := &p.acts[i]
	switch {
	case a.flag == N: // the first of several
		v := p.nodes[a.value].x
		for k := range p.acts {
			if b := &p.acts[k]; b.kind == ActReg && b.value == v {
				if c := p.shiftedOut(i); c != "" {
					return c
				}
				return ""
			}
		}
		return "flags of " + p.text(r, v, 0)
	case a.flag == C && p.nodes[a.value].op == DoKept:
		return "C unknown before ARMv5"
	}
	return ""
}

// shiftedOut says where C comes from a shift.
func (p *program) shiftedOut(i int) string {
	for k := range p.acts[i:] {
		if b := &p.acts[i+k]; b.kind == ActFlag && b.flag == C {
			switch p.nodes[b.value].op {
			case DoLSLC, DoLSRC, DoASRC, DoRORC:
				return "C = last bit out"
			}
		}
	}
	return ""
}

// unitName is what so many bytes are called.
func unitName(size uint32) string {
	return map[uint32]string{0: "words", 1: "byte", 2: "halfword", 4: "word"}[size&0xff]
}

// text writes a value. outer is how tight the operation around it binds.
func (p *program) text(r *Row, i int16, outer int) string {
	n := &p.nodes[i]
	two := func(op string, bind int) string {
		s := p.text(r, n.x, bind) + op + p.text(r, n.y, bind+1)
		if bind < outer {
			return "(" + s + ")"
		}
		return s
	}
	call := func(name string, args ...int16) string {
		var out []string
		for _, a := range args {
			out = append(out, p.text(r, a, 0))
		}
		return name + "(" + strings.Join(out, ", ") + ")"
	}
	switch n.op {
	case opConst:
		if n.n > 0xffff {
			return fmt.Sprintf("0x%x", n.n)
		}
		return fmt.Sprint(n.n)
	case opField, opReg:
		return r.fields[n.n].name
	case opSField:
		return r.fields[n.n].name
	case opFixed:
		return Reg(n.n).String()
	case opFlag:
		return Flags(n.n).String()
	case opGE:
		return "GE"
	case opList:
		return "list"
	case opLink:
		if r.State == T {
			return "return address with bit 0 set"
		}
		return "return address"
	case opLoad:
		return unitName(n.n) + " at " + p.text(r, n.x, 0)
	case opHolds:
		return "the condition holds"
	case opSpecial:
		return "special register"
	case opRot, opRotC:
		return "const"
	case opNext:
		return "the register after " + r.fields[n.n].name
	case opAddSub:
		s := p.text(r, n.x, 4) + " ± " + p.text(r, n.z, 5)
		if outer > 4 {
			return "(" + s + ")"
		}
		return s
	case opPick:
		return p.text(r, n.y, outer)
	case opShift:
		return p.text(r, n.x, 9) + " shifted by " + p.text(r, n.z, 9)
	case opImmShift:
		return "shifted " + p.text(r, n.x, 9)
	case DoAdd:
		if y := &p.nodes[n.y]; y.op == opConst && y.n == 1 { // to32
			if and := &p.nodes[n.x]; and.op == DoAnd && p.nodes[and.x].op == DoSub && p.nodes[and.x].y >= 0 {
				return p.text(r, p.nodes[and.x].x, outer)
			}
		}
		return two(" + ", 4)
	case DoSub:
		return two(" - ", 4)
	case DoMul:
		if p.nodes[n.y].op == opConst {
			return two("*", 5)
		}
		return "low 32 bits of " + two(" * ", 5)
	case DoAnd:
		if y := &p.nodes[n.y]; y.op == opConst {
			switch x := p.text(r, n.x, 9); y.n {
			case 0xff:
				return x + "[7:0]"
			case 0xffff:
				return x + "[15:0]"
			case ^uint32(3):
				return "Align(" + strings.ToUpper(x) + ",4)"
			}
		}
		return two(" & ", 5)
	case DoOr:
		return two(" | ", 4)
	case DoXor:
		return two(" ^ ", 4)
	case DoNot:
		return "~" + p.text(r, n.x, 6)
	case DoZero:
		switch x := &p.nodes[n.x]; {
		case x.op == opFlag:
			return "!" + p.text(r, n.x, 6)
		case x.op == DoXor:
			return p.text(r, x.x, 3) + " == " + p.text(r, x.y, 3)
		case x.op == DoZero && p.nodes[x.x].op == DoXor:
			y := &p.nodes[x.x]
			return p.text(r, y.x, 3) + " != " + p.text(r, y.y, 3)
		}
		return p.text(r, n.x, 3) + " == 0"
	case DoLSL:
		return two(" << ", 3)
	case DoLSR:
		return two(" >> ", 3) + ", unsigned"
	case DoASR:
		return two(" >> ", 3) + ", signed"
	case DoROR:
		return p.text(r, n.x, 6) + " rotated right by " + p.text(r, n.y, 6)
	case DoSXB, DoSXH:
		if x := &p.nodes[n.x]; x.op == opLoad {
			return p.text(r, n.x, 0) + ", sign-extended"
		}
		return p.text(r, n.x, 9) + map[Operation]string{DoSXB: "[7:0]", DoSXH: "[15:0]"}[n.op] + ", signed"
	case DoRev:
		return p.text(r, n.x, 0) + " with its four bytes reversed"
	case DoRev16:
		return p.text(r, n.x, 0) + " with the bytes of each halfword reversed"
	case DoRBit:
		return p.text(r, n.x, 0) + " with its bits reversed"
	case DoCLZ:
		return "number of zeros above the highest one of " + p.text(r, n.x, 0)
	case DoCount:
		return call("count", n.x)
	case DoKept:
		return p.text(r, n.x, outer)
	case DoMulHi:
		return "upper word of " + two(" * ", 0)
	case DoSMulHi:
		return "upper word of " + two(" * ", 0) + ", signed"
	case DoCarry:
		return call("carry", n.x, n.y, n.z)
	}
	return "?"
}
