package flow

import (
	"strings"

	"narrowgauge/isa"
)

// HasWord says whether text has w where no letter or digit is beside it.
func HasWord(text, w string) bool {
	wordy := func(b byte) bool {
		return b == '_' || b >= '0' && b <= '9' || b|0x20 >= 'a' && b|0x20 <= 'z'
	}
	for at := 0; ; at++ {
		i := strings.Index(text[at:], w)
		if i < 0 {
			return false
		}
		at += i
		end := at + len(w)
		if (at == 0 || !wordy(text[at-1])) && (end == len(text) || !wordy(text[end]) || w[len(w)-1] == ':') {
			return true
		}
	}
}

// Mentioned is the set of registers in operands.
func Mentioned(ops []isa.Operand) (l isa.RegList) {
	for i := range ops {
		o := &ops[i]
		switch o.Kind {
		case isa.OpReg:
			l |= RegBit(o.Reg)
		case isa.OpMem:
			l |= RegBit(o.Reg)
			if o.Off == isa.OffReg || o.Off == isa.OffShift {
				l |= RegBit(o.Index)
			}
		case isa.OpList:
			l |= o.List
		}
	}
	return l
}

// AddressRegs are the registers that the address is made of to which a line stores.
func AddressRegs(ops []isa.Operand) (l isa.RegList) {
	for i := range ops {
		switch o := &ops[i]; {
		case o.Kind == isa.OpMem:
			l |= Mentioned(ops[i : i+1])
		case o.Kind == isa.OpList && i == 1 && ops[0].Kind == isa.OpReg:
			l |= RegBit(ops[0].Reg)
		}
	}
	return l
}

func RegBit(r isa.Reg) isa.RegList {
	if r > 15 {
		return 0
	}
	return 1 << r
}
