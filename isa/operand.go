package isa

// OpKind is the written shape of an operand.
type OpKind uint8

// The operand shapes that the source language has.
const (
	OpNone   OpKind = iota
	OpReg           // r3, or r3! with Writeback
	OpImm           // #5
	OpExpr          // a bare expression: a branch target, a label, a bare number, a word such as SY
	OpMem           // [r1], [r1, #4], [r1, r2], with Writeback [r1, #4]!, with Post [r1], #4
	OpList          // {r0, r4-r7}
	OpLit           // =value
	OpOption        // {5}: a number in braces
	OpShift         // lsl #2 or lsl r2: Shift, and Reg or Imm after it
	OpOther         // well-formed, but of no shape that an instruction here takes
	OpFloat         // #1.5: Imm holds the bits of it as a number of single precision; Bare without the '#'
	OpLane          // d0[1] or d0[]: Word is the register, Vec.Lane the element
	OpVList         // {s0-s3}, {d0, d2}, {d1[2], d2[2]}: Reg is the first register, Vec the rest
)

// OffKind is what is after the base register of a memory operand.
type OffKind uint8

// The offsets of a memory operand.
const (
	OffNone  OffKind = iota // [r1]
	OffImm                  // [r1, #4]
	OffReg                  // [r1, r2]
	OffShift                // [r1, r2, lsl #2]
)

// Operand is one operand as written, with its symbols resolved as far as they
// are known. It knows nothing of source positions: the parser keeps those.
type Operand struct {
	Kind      OpKind
	Off       OffKind // OpMem
	Reg       Reg     // OpReg: the register; OpMem: the base
	Index     Reg     // OpMem with OffReg or OffShift
	Writeback bool    // a '!' after the register, the constant or the brackets
	Post      bool    // OpMem: the offset is after the brackets
	Minus     bool    // OpMem: the index register is subtracted; or, with OffImm, the offset is -0; OpVList: not in order
	Known     bool    // Imm holds
	// Bare: OpExpr that is a plain number, not an address; OpMem with OffImm
	// and OpShift: the number is written without '#'; OpVList: a range in it ends
	// where it begins.
	Bare bool
	// Digits: OpExpr that is decimal digits and nothing else.
	Digits bool
	Shift  Shift   // OpShift
	List   RegList // OpList
	Vec    Vec     // OpLane, OpVList; OpMem: the alignment
	Imm    int64   // constant, offset, or target address in its section
	Word   string  // OpExpr that is a single identifier, in lower case; OpVList: the type after the registers
}

// Vec is what operands of the floating-point and vector registers have besides
// a name.
type Vec struct {
	Letter byte  // OpVList: 's' or 'd', or 'q' for double registers written as quadword ones
	Lane   int8  // the element counted from 1, AllLanes for [], 0 where none is written
	Count  uint8 // OpVList: how many registers; OpMem: the alignment in bytes, 0 where none is written
	Step   uint8 // OpVList: from one register's number to the next one's
}

// AllLanes is the lane of d0[].
const AllLanes = -1

// NoLane is the lane of an element whose number none has.
const NoLane = 127

// SomeAlignment is an alignment whose value is not known.
const SomeAlignment = 254

// Shift is the kind of shift of an OpShift operand.
type Shift uint8

// The shifts; NoShift when there is none.
const (
	NoShift Shift = iota
	LSL
	LSR
	ASR
	ROR
	RRX
)

var shiftNames = [...]string{"", "lsl", "lsr", "asr", "ror", "rrx"}

// String is the shift's name in lower case.
func (s Shift) String() string { return shiftNames[s] }

// ShiftByName finds a shift by its name in lower case; asl is another name of
// lsl. NoShift when there is none.
func ShiftByName(name string) Shift {
	switch name {
	case "lsl", "asl":
		return LSL
	case "lsr":
		return LSR
	case "asr":
		return ASR
	case "ror":
		return ROR
	case "rrx":
		return RRX
	}
	return NoShift
}

// Part says which part of an operand a refusal is about.
type Part uint8

// The parts of an operand.
const (
	PartAll Part = iota
	PartBase
	PartOffset // index register or constant
	PartShift  // the amount of a shift, in brackets that of the index register
	PartList
)
