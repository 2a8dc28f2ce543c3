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
	if s := p.inputText(r, n, outer); s != "" {
		return s
	}
	if s := p.sumText(r, n, outer); s != "" {
		return s
	}
	return p.functionText(r, n, outer)
}

// pair writes an operation on two values with its sign between them, which binds so tight.
func (p *program) pair(r *Row, n *node, sign string, bind, outer int) string {
	s := p.text(r, n.x, bind) + sign + p.text(r, n.y, bind+1)
	if bind < outer {
		return "(" + s + ")"
	}
	return s
}

// inputText writes what is no operation on other values, "" for one.
func (p *program) inputText(r *Row, n *node, outer int) string {
	switch n.op {
	case opConst:
		if n.n > 0xffff {
			return fmt.Sprintf("0x%x", n.n)
		}
		return fmt.Sprint(n.n)
	case opField, opReg, opSField:
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
	case opPick:
		return p.text(r, n.y, outer)
	case opShift:
		return p.text(r, n.x, 9) + " shifted by " + p.text(r, n.z, 9)
	case opImmShift:
		return "shifted " + p.text(r, n.x, 9)
	}
	return ""
}

// sumText writes an operation with a sign between its values, "" for others.
func (p *program) sumText(r *Row, n *node, outer int) string {
	pair := func(sign string, bind int) string { return p.pair(r, n, sign, bind, outer) }
	switch n.op {
	case opAddSub:
		s := p.text(r, n.x, 4) + " ± " + p.text(r, n.z, 5)
		if outer > 4 {
			return "(" + s + ")"
		}
		return s
	case DoAdd:
		if y := &p.nodes[n.y]; y.op == opConst && y.n == 1 { // to32
			if and := &p.nodes[n.x]; and.op == DoAnd && p.nodes[and.x].op == DoSub && p.nodes[and.x].y >= 0 {
				return p.text(r, p.nodes[and.x].x, outer)
			}
		}
		return pair(" + ", 4)
	case DoSub:
		return pair(" - ", 4)
	case DoMul:
		if p.nodes[n.y].op == opConst {
			return pair("*", 5)
		}
		return "low 32 bits of " + pair(" * ", 5)
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
		return pair(" & ", 5)
	case DoOr:
		return pair(" | ", 4)
	case DoXor:
		return pair(" ^ ", 4)
	case DoLSL:
		return pair(" << ", 3)
	case DoLSR:
		return pair(" >> ", 3) + ", unsigned"
	case DoASR:
		return pair(" >> ", 3) + ", signed"
	case DoMulHi:
		return "upper word of " + pair(" * ", 0)
	case DoSMulHi:
		return "upper word of " + pair(" * ", 0) + ", signed"
	}
	return ""
}

// functionText writes an operation in words.
func (p *program) functionText(r *Row, n *node, outer int) string {
	x := func(outer int) string { return p.text(r, n.x, outer) }
	switch n.op {
	case DoNot:
		return "~" + x(6)
	case DoZero:
		switch of := &p.nodes[n.x]; {
		case of.op == opFlag:
			return "!" + x(6)
		case of.op == DoXor:
			return p.text(r, of.x, 3) + " == " + p.text(r, of.y, 3)
		case of.op == DoZero && p.nodes[of.x].op == DoXor:
			y := &p.nodes[of.x]
			return p.text(r, y.x, 3) + " != " + p.text(r, y.y, 3)
		}
		return x(3) + " == 0"
	case DoROR:
		return x(6) + " rotated right by " + p.text(r, n.y, 6)
	case DoSXB, DoSXH:
		if p.nodes[n.x].op == opLoad {
			return x(0) + ", sign-extended"
		}
		return x(9) + map[Operation]string{DoSXB: "[7:0]", DoSXH: "[15:0]"}[n.op] + ", signed"
	case DoRev:
		return x(0) + " with its four bytes reversed"
	case DoRev16:
		return x(0) + " with the bytes of each halfword reversed"
	case DoRBit:
		return x(0) + " with its bits reversed"
	case DoCLZ:
		return "number of zeros above the highest one of " + x(0)
	case DoCount:
		return "count(" + x(0) + ")"
	case DoKept:
		return x(outer)
	case DoCarry:
		return "carry(" + x(0) + ", " + p.text(r, n.y, 0) + ", " + p.text(r, n.z, 0) + ")"
	}
	return "?"
}
