package isa

import (
	"slices"
	"sync"
)

// State is the instruction set that the core executes.
type State uint8

// The instruction sets. T is Thumb state: T16, and T32 where the
// architecture has it.
const (
	A State = iota
	T
)

// String is A32 or T16.
func (s State) String() string { return [...]string{"A32", "T16"}[s] }

// Flow is what an instruction does to the order of execution.
type Flow uint8

// Flows. An instruction that writes PC otherwise (pop {pc}, mov pc, r0)
// has FlowNext here; Effects tells.
const (
	FlowNext   Flow = iota // goes on with the next instruction
	FlowJump               // always goes to its target
	FlowBranch             // goes to its target or on
	FlowCall               // to its target, and comes back
	FlowReg                // always to the address in a register
	FlowTrap               // to an exception handler, and comes back
	FlowStop               // does not go on: permanently undefined
)

// ToLabel says whether it goes to a label.
func (f Flow) ToLabel() bool { return f == FlowJump || f == FlowBranch || f == FlowCall }

// Row describes one encoding, and is the only place that does. Everything
// else (matching, refusing, encoding, decoding, effects, hover text) reads it.
type Row struct {
	State State  // the instruction set that the encoding belongs to
	ID    string // unique, as in "add-imm3"
	Name  string // the manual's name, as in "ADD (immediate)"
	Enc   string // the manual's encoding name, as in "T1"
	Title string // what it does, a few words
	Doc   string // what it does, as one sentence, where Does does not say it; see Text

	// Bits is the layout, most significant bit first: digits mean
	// themselves, "(0)" and "(1)" should be so, "Rd:3" is a field of three
	// bits, "Rd[3]" and "Rd[2:0]" are parts of a field. A field named again as a
	// whole has to be the same there.
	Bits string
	// Not lists patterns (0, 1, x) that belong to other rows; with [Sec] after it
	// where the feature is there.
	Not string
	// Need are the features without which the encoding does not exist.
	Need Features
	// Lack are features that took the encoding away.
	Lack Features
	// Rest: of the codes that fit, the row has those that no other row takes.
	Rest bool
	// Second gives the second word of what assembles to two instructions, of
	// which Bits is the first; nil where there is one. The decoder reads such
	// words apart, so it never gives the row. Fields after a '|' in Bits are in
	// no bit of the first word.
	Second func(v Values) uint32
	// Forms are the spellings, a line each; the first of a syntax is the one
	// that the decoder writes. See compile.go for the notation.
	Forms string

	// InThumb is what becomes of a form of A32 in T32, where the rest of the row is the same
	// there; empty for a form that T32 does not have. nil: all are the same.
	InThumb func(form string) string

	// Does says what the instruction does, in the notation at the top of does.go:
	// what it reads and computes, and what gets it. Reads, Writes, FlagsRead, FlagsWritten, Flow, Exchange
	// and Access follow from it, and are not written in a row that has it.
	Does string

	// Reads and Writes name the registers, by field or by name. "list" is
	// the register list, "mem" is memory. For registers of floating point see floatRef.
	Reads, Writes string
	// FlagsRead and FlagsWritten are the flags read and written.
	FlagsRead, FlagsWritten Flags
	// kept are those of them that are unknown afterwards before ARMv5, and stay from then on.
	kept Flags
	Flow Flow
	// Exchange: a branch that goes to code of the other instruction set, or lets bit
	// 0 of the address choose.
	Exchange bool
	// Access is the size in bytes of the unit that a load or store moves.
	Access uint8 // 8 for a pair of words
	// Timing is the class of cycle counts, where it does not follow from the
	// fields above.
	Timing Timing
	// LateToPC: it takes longer than an addition where the result goes to PC.
	LateToPC bool
	// Adjust completes the effects where they depend on a field's value.
	Adjust func(v Values, e Effects) Effects
	// IT is what an IT block means for the encoding, in Thumb state.
	IT InIT
	// Last says whether it has to be the last of an IT block.
	Last LastRule
	// Grows is how an encoding of a halfword grows in the unified syntax; those of
	// other instructions are chosen at once (checked against the reference
	// assembler by the layout tests of package analysis).
	Grows Growth
	// Widens are features besides T32 that bring an encoding of full width.
	Widens Features
	// NotGrown: an encoding of full width that assemblers take where they choose at
	// once, but not for a halfword that grows.
	NotGrown bool
	// Late says when its constant, if it is a plain one, has to be known.
	Late LateRule
	// Reloc says what a linker can put into the encoding, targets of branches apart.
	Reloc Relocation
	// Cautions lists what assembles and is deprecated or unpredictable.
	Cautions []Caution

	// later gives Does where that is worked out: not before the row is compiled.
	later func() string

	once                    *sync.Once // compiles what is below; see ready
	fields                  []field
	size                    uint8
	mask                    uint32 // bits that decide, should-be bits included
	value                   uint32
	should                  uint32 // the should-be bits of mask
	not                     []exclusion
	forms                   []*Form
	at                      fieldsA32 // A32: where the fields of common use are
	strict                  bool      // the encoding holds operands that no form has
	vector                  bool      // floating point or vectors
	exact                   bool      // codes that no form writes are undefined
	high                    uint32    // the highest bits of double registers: 0 without FeatD32
	twice                   bool      // a field is twice in the layout, and has to be the same
	reads                   []regRef
	writes                  []regRef
	floatReads, floatWrites []floatRef
	sum                     sum
	does                    *program // Does, compiled
	// statusRead and statusWritten are as in Effects.
	statusRead, statusWritten Status
	varies                    bool    // the effects depend on more fields than those with registers
	pairs                     bool    // it may write the register after that of a field
	more                      RegList // what a list of low registers can have besides
}

// sum is what the only result is where that is another register, or one plus or minus
// a constant: the fields with them, -1 where there is none.
type sum struct {
	reg, imm int8
	minus    bool
	shifted  bool // a register, where the fields imm5 and type ask for no shift
}

// exclusion is a pattern that belongs to another row, where the feature is
// there.
type exclusion struct {
	mask, value uint32
	where       Features
}

// InIT is what an IT block means for an encoding.
type InIT uint8

// Encodings in IT blocks. What writes PC has to be last in any case.
const (
	ITAny     InIT = iota // takes the condition of its slot
	ITNever               // must not be in an IT block
	ITNeutral             // may, and is executed whatever the condition
	ITFree                // takes the condition of its slot, whatever is written; outside, none
)

// LateRule says whether assemblers take a constant that only a line below the
// instruction gives a value. They do where their object format has a fixup for
// it, which no manual lists; the tests hold it against the reference assembler.
type LateRule uint8

// The rules for plain constants.
const (
	LateBySize LateRule = iota // in a halfword, and not in a word
	LateNever
	LateAlways
)

// Relocation says what a linker can put into the constant, or the offset, of an
// encoding (AAELF32, "Static ARM relocations" and "Static Thumb relocations").
type Relocation uint8

// The relocations.
const (
	RelocNone   Relocation = iota
	RelocLower             // the lower half of an address: MOVW_*
	RelocUpper             // the upper half: MOVT_*
	RelocByte              // a byte of it: THM_ALU_ABS_*
	RelocSum               // a part of it, as a rotated constant: ALU_*
	RelocOffset            // what is left of it, as an offset: LDR_*, LDRS_*, LDC_*
)

// LastRule says whether an encoding has to be the last of an IT block.
type LastRule uint8

// Rules on the last place.
const (
	LastIfLeaves LastRule = iota // if it goes elsewhere
	LastNever                    // assemblers let it pass
	LastAlways
)

// full says whether the encoding is one of full width: it has the operands of
// such.
func (r *Row) full() bool { return r.State == A || r.size == 4 }

// hasResult says whether the encoding writes a core register.
func (r *Row) hasResult() bool {
	return slices.ContainsFunc(r.writes, func(w regRef) bool { return !w.mem })
}

// LoadsList says whether the encoding loads the registers of a list.
func (r *Row) LoadsList() bool {
	for _, w := range r.writes {
		if w.list {
			return true
		}
	}
	return false
}

// Size of the encoding in bytes.
func (r *Row) Size() int { return int(r.size) }

// AllForms lists the spellings in order.
func (r *Row) AllForms() []*Form { return r.forms }

// Values gives the field values of one instruction by name.
type Values struct {
	row     *Row
	vals    [maxFields]uint32
	inBlock bool // in an IT block, under another condition than AL
}

// Get is the raw value of a field; 0 when the row has no such field.
func (v Values) Get(name string) uint32 {
	for i := range v.row.fields {
		if v.row.fields[i].name == name {
			return v.vals[i]
		}
	}
	return 0
}

const maxFields = 10

const maxOperands = 8

// field is a named set of bits, possibly split.
type field struct {
	name  string
	width uint8
	whole bool // it is one run of bits, which first has
	first seg
	segs  []seg
}

// seg is one run of a field's bits: width bits from bit lo of the field's
// value are at bit at of the word.
type seg struct{ lo, width, at uint8 }

func (f *field) get(w uint32) (v uint32) {
	if f.whole {
		return w >> f.first.at & (1<<f.first.width - 1)
	}
	for _, s := range f.segs {
		v |= w >> s.at & (1<<s.width - 1) << s.lo
	}
	return v
}

func (f *field) put(v uint32) (w uint32) {
	if f.whole {
		return v & (1<<f.first.width - 1) << f.first.at
	}
	for _, s := range f.segs {
		w |= v >> s.lo & (1<<s.width - 1) << s.at
	}
	return w
}

// Form is one spelling of a row.
type Form struct {
	Row *Row
	// Text is the spelling as the table has it, as in "adds Rd, Rn, #imm3".
	Mnemonic         string // with flags set, as in "adds"; divided: "add"
	Unified, Divided bool   // in which syntax it may be written
	Alias            bool   // assembled, never written by the decoder
	Need             Features
	Lack             Features // the form is not there with any of these
	hi               bool     // at least one register field must be r8–r15
	base             baseRule // multiple loads and stores: base register and list
	// Rare spellings, with the condition AL written out or with a list of one
	// register for a plain load or store, are assembled and never proposed.
	Rare bool
	ops  []spec
	// shapes are those that the operands must have, 0 where that is not sure: a look
	// at them spares most checks.
	shapes [maxOperands]OpKind
	fixed  []fixedField
	// cut is where the older order of the A32 syntax puts the condition, 0 for
	// the end.
	cut   int8
	order order
	it    itRule // of Thumb state
	own   bool   // the condition of the name is in the encoding, as in BEQ
	onlyN bool   // where there is T32, only with the suffix .n
	// anyType: any type of such a size may be after the name.
	anyType sizes
	grows   Growth
}

// itRule says whether a form may be in an IT block.
type itRule uint8

const (
	itAny itRule = iota
	itIn         // there only: no flags are set
	itOut        // outside only
)

// baseRule ties the base register of a multiple load or store to its list.
type baseRule uint8

const (
	baseAny   baseRule = iota
	baseIn             // in the list
	baseOut            // not in the list
	baseBlunt          // without '!' although it is written back, unless it is in the list
	baseVain           // with a '!' that writes nothing back if it is in the list
	baseApart          // not in the list when written back
)

type fixedField struct {
	field int8
	val   uint32
}

type regRef struct {
	field int8 // -1: fixed
	reg   Reg
	list  bool
	mem   bool
}

// Pattern is the layout as bits: those of mask are fixed, and are as in value.
// Codes that belong to other rows fit it too; see Not.
func (r *Row) Pattern() (value, mask uint32) { return r.value, r.mask }

// Has says whether the layout has a field of that name.
func (r *Row) Has(field string) bool { return r.fieldIndex(field) >= 0 }
