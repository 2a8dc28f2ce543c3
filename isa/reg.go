package isa

import "strconv"

// Reg is a core register number, 0 to 15, or NoReg.
type Reg uint8

// The registers with a role of their own.
const (
	SP    Reg = 13
	LR    Reg = 14
	PC    Reg = 15
	NoReg Reg = 0xff
)

var regNames = [16]string{"r0", "r1", "r2", "r3", "r4", "r5", "r6", "r7", "r8", "r9", "r10", "r11", "r12", "sp", "lr", "pc"}

// String is the name that the architecture manuals use: r0 to r12, sp, lr, pc.
func (r Reg) String() string {
	if r > 15 {
		return "r?" + strconv.Itoa(int(r))
	}
	return regNames[r]
}

// Low says whether three bits can name the register: r0 to r7.
func (r Reg) Low() bool { return r < 8 }

// RegByName finds a core register by any of its names, in lower case: r0 to
// r15, sp, lr, pc, and the procedure call standard's names a1–a4, v1–v8, wr,
// sb, sl, fp, ip (AAPCS32, section 6.1.1, "Core registers").
func RegByName(s string) (Reg, bool) {
	if len(s) < 2 || len(s) > 3 {
		return NoReg, false
	}
	d := s[1] - '0'
	switch {
	case s[0] == 'r' && d <= 9:
		if len(s) == 2 {
			return Reg(d), true
		}
		if d == 1 && s[2] >= '0' && s[2] <= '5' {
			return Reg(10 + s[2] - '0'), true
		}
		return NoReg, false
	case len(s) == 3:
		return NoReg, false
	case s[0] == 'a' && d >= 1 && d <= 4:
		return Reg(d - 1), true
	case s[0] == 'v' && d >= 1 && d <= 8:
		return Reg(d + 3), true
	}
	switch s {
	case "sp":
		return SP, true
	case "lr":
		return LR, true
	case "pc":
		return PC, true
	case "ip":
		return 12, true
	case "fp":
		return 11, true
	case "sl":
		return 10, true
	case "sb":
		return 9, true
	case "wr":
		return 7, true
	}
	return NoReg, false
}

// RegRole is the register's part in a procedure call, in one sentence
// (AAPCS32, section 6.1.1, table 2).
func RegRole(r Reg) string {
	switch {
	case r < 2:
		return "argument, result and scratch register: a call may change it"
	case r < 4:
		return "argument and scratch register: a call may change it"
	case r < 9, r == 10, r == 11:
		return "variable register: a called routine hands it back unchanged"
	case r == 9:
		return "platform register: its use is set by the platform (variable register v6 where it has none)"
	case r == 12:
		return "ip, the intra-procedure-call scratch register: a call or a linker veneer may change it"
	case r == SP:
		return "the stack pointer: a multiple of 4 at all times, of 8 at a public call"
	case r == LR:
		return "the link register: BL and BLX put the return address here, bit 0 set when the caller is T16 code"
	case r == PC:
		return "the program counter: in T16 code it reads as this instruction's address + 4"
	}
	return ""
}

// RegList is a set of core registers, bit n for register n.
type RegList uint16

// Has says whether r is in the list.
func (l RegList) Has(r Reg) bool { return r < 16 && l>>r&1 != 0 }

// Count is the number of registers in the list.
func (l RegList) Count() (n int) {
	for ; l != 0; l &= l - 1 {
		n++
	}
	return n
}

// String writes the list in braces, runs of three or more low registers as
// ranges: {r0-r3, lr}.
func (l RegList) String() string {
	s := "{"
	for r := Reg(0); r < 16; r++ {
		if !l.Has(r) {
			continue
		}
		if len(s) > 1 {
			s += ", "
		}
		e := r
		for e+1 < 13 && l.Has(e+1) {
			e++
		}
		if e >= r+2 {
			s += r.String() + "-" + e.String()
			r = e
		} else {
			s += r.String()
		}
	}
	return s + "}"
}

// Flags is a set of condition flags of the APSR.
type Flags uint8

// The condition flags (Arm ARM, "The Application Program Status Register").
const (
	N Flags = 1 << iota
	Z
	C
	V
	NZ   = N | Z
	NZC  = N | Z | C
	NZCV = N | Z | C | V
)

// String lists the flags by letter, as in "NZC"; "none" when empty.
func (f Flags) String() string {
	if f == 0 {
		return "none"
	}
	s := ""
	for i, c := range "NZCV" {
		if f>>i&1 != 0 {
			s += string(c)
		}
	}
	return s
}

// Status is a set of what the APSR has besides the condition flags (DDI 0406C, A2.4): Q,
// and the four flags GE, which instructions set and read together.
type Status uint8

// Q is set where a result has been limited, and stays set; GE are set by parallel
// additions and subtractions, byte by byte.
const (
	Saturated Status = 1 << iota
	Greater
	AllStatus = Saturated | Greater
)

// Cond is a condition code as encoded, 0 (EQ) to 14 (AL).
type Cond uint8

// AL is the condition that always holds.
const AL Cond = 14

var condNames = [15]string{"eq", "ne", "cs", "cc", "mi", "pl", "vs", "vc", "hi", "ls", "ge", "lt", "gt", "le", "al"}

// String is the condition's suffix: eq, ne, cs, …. What the E of an IT block of the
// condition al has, 15, is no condition; it goes by its old name, nv (DDI 0100,
// A3.2, from memory), which no mnemonic has.
func (c Cond) String() string {
	if c > AL {
		return "nv"
	}
	return condNames[c]
}

// Invert is the opposite condition; AL has none and comes back unchanged.
func (c Cond) Invert() Cond {
	if c >= AL {
		return c
	}
	return c ^ 1
}

// Reads gives the flags that the condition looks at.
func (c Cond) Reads() Flags {
	return [...]Flags{Z, C, N, V, C | Z, N | V, N | V | Z, 0}[c>>1]
}

// CondByName finds a condition by its two-letter suffix, in lower case,
// hs and lo included.
func CondByName(s string) (Cond, bool) {
	switch s {
	case "hs":
		return 2, true
	case "lo", "ul":
		return 3, true
	}
	for i, n := range condNames {
		if n == s {
			return Cond(i), true
		}
	}
	return 0, false
}
