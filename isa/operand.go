package isa

// OpKind is the written shape of an operand.
type OpKind uint8

// The operand shapes that the source language has.
const (
	OpNone  OpKind = iota
	OpReg          // r3, or r3! with WB
	OpImm          // #5
	OpExpr         // a bare expression: a branch target, a label, a bare number, a word such as SY
	OpMem          // [r1], [r1, #4], [r1, r2], with WB [r1, #4]!, with Post [r1], #4
	OpList         // {r0, r4-r7}
	OpLit          // =value
	OpOther        // well-formed, but of no shape that an instruction here takes
)

// OffKind is what stands behind the base register of a memory operand.
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
	Kind  OpKind
	Off   OffKind // OpMem
	Reg   Reg     // OpReg: the register; OpMem: the base
	Index Reg     // OpMem with OffReg or OffShift
	WB    bool    // a '!' behind the register or the brackets
	Post  bool    // OpMem: the offset stands behind the brackets
	Minus bool    // OpMem: the index register is subtracted
	Known bool    // Imm holds
	Bare  bool    // OpImm: written without '#'
	List  RegList // OpList
	Imm   int64   // constant, offset, or target address in its section
	Word  string  // OpExpr that is a single identifier, in lower case
}

// Part says which part of an operand a refusal is about.
type Part uint8

// The parts of an operand.
const (
	PartAll Part = iota
	PartBase
	PartOffset // index register or constant
	PartList
)
