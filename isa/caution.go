package isa

import "strconv"

// Caution describes operands that an encoding holds but should not.
type Caution struct {
	// Rules are the conditions of which each one is enough by itself.
	Rules []Rule
	// Lacks restricts it to architectures that have none of these features.
	Lacks Features
	// Op is the operand at fault, counted from 0.
	Op int
	// Deprecated, else unpredictable or surprising.
	Deprecated bool
	// Refused: assemblers take no such line.
	Refused bool
	// Written: of a line with a label they look at the number that is added to it, not at
	// where the label is.
	Written bool
	// List: it is about the base register in the register list.
	List bool
	// Text is a sentence.
	Text string
}

// applies says whether the caution is about these values on an architecture
// with the features have.
func (c *Caution) applies(v Values, have Features) bool {
	if have&c.Lacks != 0 {
		return false
	}
	for i := range c.Rules {
		if c.Rules[i].holds(v) {
			return true
		}
	}
	return false
}

// Rule is a condition on the fields of an encoding, as a manual's "if … then
// UNPREDICTABLE" has them.
type Rule struct {
	// Says is the condition in the names of the fields: "Rt = Rt2".
	Says  string
	holds func(v Values) bool
}

// Holds says whether the values of the fields are such.
func (r Rule) Holds(v Values) bool { return r.holds(v) }

// and adds a condition.
func (r Rule) and(other Rule) Rule {
	return Rule{r.Says + ", " + other.Says, func(v Values) bool { return r.holds(v) && other.holds(v) }}
}

// regIs is about one register in a field.
func regIs(field string, reg Reg) Rule {
	return Rule{field + " = " + reg.String(), func(v Values) bool { return v.Get(field) == uint32(reg) }}
}

// isPC are the rules about pc in each of some fields.
func isPC(fields ...string) (rules []Rule) {
	for _, f := range fields {
		rules = append(rules, regIs(f, PC))
	}
	return rules
}

// same is about one register in two fields.
func same(a, b string) Rule {
	return Rule{a + " = " + b, func(v Values) bool { return v.Get(a) == v.Get(b) }}
}

// sameAsNext is about the register that follows the one in another field.
func sameAsNext(a, first string) Rule {
	return Rule{a + " = " + first + " + 1", func(v Values) bool { return v.Get(a) == v.Get(first)+1 }}
}

// isOdd is about the first register of a pair.
func isOdd(field string) Rule {
	return Rule{field + " odd", func(v Values) bool { return v.Get(field)&1 != 0 }}
}

// above is about the sum of two fields.
func above(a, b string, limit uint32) Rule {
	return Rule{a + " + " + b + " > " + strconv.Itoa(int(limit)), func(v Values) bool { return v.Get(a)+v.Get(b) > limit }}
}

// pairRules are about the first register of two that are moved together.
func pairRules(field string) []Rule { return []Rule{isOdd(field), regIs(field, LR)} }

var (
	// always is about the encoding itself.
	always = Rule{"always", func(Values) bool { return true }}
	// indexed: the base register of a load or store with the bits P and W changes.
	indexed = Rule{"written back", func(v Values) bool { return v.Get("P") == 0 || v.Get("W") != 0 }}
	// writtenBack is the same with the bit W only.
	writtenBack = Rule{"written back", func(v Values) bool { return v.Get("W") != 0 }}
	// conditional is about instructions that should be executed always: in A32 the
	// condition is a field, in T32 it comes from an IT block.
	conditional = Rule{"cond below al", func(v Values) bool { return v.inBlock || v.row.at.cond == 0 && Cond(v.vals[0]) < AL }}
	// emptyList is about lists of core registers.
	emptyList  = Rule{"list empty", func(v Values) bool { return v.Get("list") == 0 && v.Get("M") == 0 }}
	baseInList = Rule{"Rn in list", func(v Values) bool { return v.Get("list")>>v.Get("Rn")&1 != 0 }}
	// baseNotLowest is about stores that change the base before they come to it.
	baseNotLowest = Rule{"Rn in list, not lowest", func(v Values) bool {
		l, n := v.Get("list"), v.Get("Rn")
		return l>>n&1 != 0 && l&(1<<n-1) != 0
	}}
	// notWord is about loads and stores of a word relative to pc.
	notWord = Rule{"imm12 no multiple of 4", func(v Values) bool { return v.Get("imm12")&3 != 0 }}
	// noneInList and tooMany are about lists of floating-point registers.
	noneInList = Rule{"n = 0", func(v Values) bool { return v.Get("n") == 0 }}
	tooMany    = Rule{"n > 16", func(v Values) bool { return v.Get("n") > 16 }}
	// noPart is about MSR.
	noPart = Rule{"no part", func(v Values) bool { return v.Get("psr")&15 == 0 }}
	// beyondWord is about fields of bits whose width is held, pastFirst about
	// those whose last bit is.
	beyondWord = above("lsb", "widthm1", 31)
	pastFirst  = Rule{"msb < lsb", func(v Values) bool { return v.Get("msb") < v.Get("lsb") }}
)

// maskRules are about CPS with the letters of the mask bits.
var maskRules = []Rule{
	{"no mask bit", func(v Values) bool { return v.Get("iflags") == 0 }},
	{"M = 0 with a mode", func(v Values) bool { return v.Get("M") == 0 && v.Get("mode") != 0 }},
}

// pcHere is the caution about pc in one of some fields.
func pcHere(fields ...string) []Caution {
	return []Caution{{Op: 0, Rules: isPC(fields...), Text: "pc is unpredictable here"}}
}

// bitField is the caution about a field of bits that is larger than the
// register.
func bitField(r Rule) Caution {
	return Caution{Op: 2, Rules: []Rule{r}, Text: "the field of bits is larger than the register"}
}

// noMaskBit is the caution about CPS with letters.
var noMaskBit = []Caution{{Op: 0, Rules: maskRules, Text: "CPS without a mask bit to change is unpredictable"}}

// sameHalves is the caution about one register for both halves of a result.
var sameHalves = []Caution{{Op: 1, Rules: []Rule{same("RdLo", "RdHi")}, Text: "one register for both halves of the result is unpredictable"}}

// mulFactor and longFactors are the cautions about a result in the register of the
// first factor, which multipliers before ARMv6 do not keep until they are done.
var (
	mulFactor   = Caution{Op: 1, Lacks: FeatV6, Rules: []Rule{same("Rd", "Rm")}, Text: "before ARMv6, the result in the register of the first factor is unpredictable"}
	longFactors = Caution{Op: 2, Lacks: FeatV6, Rules: []Rule{same("RdLo", "Rm"), same("RdHi", "Rm")}, Text: "before ARMv6, a half of the result in the register of the first factor is unpredictable"}
)

// storedBase is the caution about a base register that is stored as well.
func storedBase(r Rule) Caution {
	return Caution{Op: 0, Deprecated: true, List: true, Rules: []Rule{r}, Text: "the base register is in the list but not its lowest register, so an unknown value is stored for it"}
}

// sameTwo is the caution about one register for both words of a transfer.
func sameTwo(op int, refused bool) Caution {
	return Caution{Op: op, Refused: refused, Rules: []Rule{same("Rt", "Rt2")}, Text: "one register for both halves is unpredictable"}
}

// conditionalHalf warns of a condition on arithmetic in half precision.
var conditionalHalf = Caution{Op: 0, Rules: []Rule{conditional}, Text: "a condition on arithmetic in half precision is unpredictable"}

// ofHalf is conditionalHalf where the row needs arithmetic in half precision.
func ofHalf(need Features) []Caution {
	if need&FeatFP16 == 0 {
		return nil
	}
	return []Caution{conditionalHalf}
}

// lastSingle warns of s31 as the first of two.
var lastSingle = Caution{Op: 0, Rules: []Rule{{"Sm = s31", func(v Values) bool { return v.Get("Sm") == 31 }}}, Text: "no single register follows s31"}

// pcTransfer warns of pc in a move between the register files.
func pcTransfer(op int, fields ...string) []Caution {
	return []Caution{{Op: op, Rules: isPC(fields...), Text: "pc in a move from or to floating-point registers is unpredictable"}}
}

// pcWrittenBack warns of pc as a base that changes.
func pcWrittenBack(op int, r Rule) Caution {
	return Caution{Op: op, Rules: []Rule{r}, Text: "pc as a base with writeback is unpredictable"}
}

// noSIMD warns where a floating-point unit lacks Advanced SIMD: assemblers take
// these instructions from VFPv3 with double precision on.
var noSIMD = Caution{Lacks: FeatNEON, Rules: []Rule{always}, Text: "this is an Advanced SIMD instruction, which the floating-point unit does not have"}

// beyond is about the list of registers that are moved as structures.
var beyond = Rule{"list beyond d31", func(v Values) bool {
	for _, f := range v.row.forms {
		if s, ok := f.ops[0].(*structureSpec); ok && f.holds(&v.vals) && s.last(&v.vals) > 31 {
			return true
		}
	}
	return false
}}

// Cautions about multiple loads and stores in divided syntax, without the '!'
// and with one too much. They are about the spelling, and no row has them.
var (
	bluntCaution = Caution{Op: 0, Deprecated: true, Rules: []Rule{{"no '!'", always.holds}}, Text: "the base register is written back although it has no '!': T16 has no other form"}
	vainCaution  = Caution{Op: 0, Deprecated: true, List: true, Rules: []Rule{{"'!' in vain", always.holds}}, Text: "the base register is in the list: it is loaded, and the '!' writes nothing back"}
)

// exclusiveRules are about the registers of exclusive loads, and of stores but
// for the outcome; a pair has the first one in Rt.
func exclusiveRules(pair bool) []Rule {
	if pair {
		return append(isPC("Rn"), pairRules("Rt")...)
	}
	return isPC("Rn", "Rt")
}

func exclusiveLoad(pair bool) []Caution {
	return []Caution{{Op: 0, Rules: exclusiveRules(pair), Text: "these registers are unpredictable"}}
}

func exclusiveStore(pair bool) []Caution {
	rules := append(exclusiveRules(pair), regIs("Rd", PC), same("Rd", "Rn"), same("Rd", "Rt"))
	if pair {
		rules = append(rules, sameAsNext("Rd", "Rt"))
	}
	return []Caution{{Op: 0, Refused: true, Rules: rules, Text: "the register for the outcome must differ from the others, and not be pc"}}
}
