package syntax

import "narrowgauge/isa"

// Kind of a statement.
type Kind uint8

// The statements that a line can hold.
const (
	Empty       Kind = iota
	Label            // name: or 1: — a label is a statement of its own
	Instruction      // mnemonic operands
	Directive        // .name arguments
	Assign           // name = expression
	Unknown          // a word that is neither mnemonic nor directive
	Bad              // no statement at all; Err says why
)

// Line is one parsed source line. All columns in it are bytes from its start,
// so that a line keeps its meaning when lines above it change. It is
// immutable.
type Line struct {
	Text  string // without the line end
	Stmts []Stmt
	// Comment is the column of the first comment, -1 without one.
	Comment int32
	in, out lexState
	across  across
}

// lexState is what the end of a line hands to the next one.
type lexState uint8

const (
	inCode      lexState = iota
	inComment            // inside /* … */
	inStatement          // the same, and a statement above began that may go on behind it
)

func (s lexState) comment() bool { return s == inComment || s == inStatement }

// across says that a line is no line of its own to assemblers; see joined.go.
type across uint8

const (
	joined     across = 1 << iota // the statement goes on that was open above
	openString                    // a string is open where the line ends
)

// Stmt is a statement.
type Stmt struct {
	Kind    Kind
	Width   byte // 'n' or 'w' after an instruction's mnemonic
	NoColon bool // Label: written without ':'
	Once    bool // Assign: by "==", which holds for good
	// Align is what the statement aligns itself to, in bytes; AlignCode: as
	// instructions do.
	Align      uint8
	Start, End int32
	// NameEnd is where the name ends: label, mnemonic, directive or symbol;
	// it starts at Start.
	NameEnd int32
	// Number is that of a numeric local label, with DollarLabel of one as 55$, -1 for others.
	Number    int32
	Name      string         // as written
	Mnemonic  *isa.Mnemonic  // Instruction
	Directive *DirectiveInfo // Directive
	Ops       []Operand      // operands or arguments; Assign: the expression
	Err       *Error         // the first thing that could not be read
}

// DollarLabel is part of the number of a local label whose scope ends at the next label with a
// name: 55$ has the number 55 and this.
const DollarLabel = 1 << 30

// maxDollar bounds the numbers of such labels.
const maxDollar = 1 << 24

// Error is something that the parser could not read, at columns of the line.
type Error struct {
	Start, End int32
	Message    string
	// Mild: assemblers go on with a guess.
	Mild bool
}

// Operand is an operand of an instruction or an argument of a directive.
type Operand struct {
	isa.Operand
	Start, End int32
	// Expr is the operand's expression when it is neither a plain number
	// (then Known) nor a single identifier (then Word).
	Expr *Expr
	// Names are register aliases in it that only .req can explain, or nil.
	Names *Names
	// IsStr: a string argument; Str is its decoded value.
	IsStr bool
	// Marked: a '#' is in front of an expression that is read as a label.
	Marked bool
}

// Names holds identifiers that are where a register is expected.
type Names struct {
	Base, Index string
	List        []string
	// Lanes has the elements of List that are no plain numbers, each at its
	// place; shorter where none is left.
	Lanes []*Expr
	// Str is a string argument's value.
	Str string
}

// ExprOp is the operator of an expression node.
type ExprOp uint8

// Operators. Binary ones have both sides, unary ones only X.
const (
	ExprNum ExprOp = iota
	ExprSym
	ExprLocal // 1f, 1b, 55$: Val is the number as a label has it, Back the direction
	ExprDot   // the location counter
	ExprNeg
	ExprNot  // ~
	ExprLNot // !
	ExprMul
	ExprDiv
	ExprMod
	ExprShl
	ExprShr
	ExprOr
	ExprAnd
	ExprXor
	ExprOrNot
	ExprAdd
	ExprSub
	ExprEq
	ExprNe
	ExprLt
	ExprLe
	ExprGt
	ExprGe
	ExprLAnd
	ExprLOr
	ExprBig   // a number of more than 64 bits: Val is how many
	ExprReloc // :lower16:x, or Back: x(GOT): a value that only the linker knows
)

// Expr is a node of an expression.
type Expr struct {
	Op         ExprOp
	Back       bool
	Hash       bool // ExprReloc: a '#' is after the operator, too
	Start, End int32
	Val        int64
	Name       string
	X, Y       *Expr
}

// Walk calls f for the expression and all its parts; nil has none.
func (e *Expr) Walk(f func(e *Expr)) {
	for ; e != nil; e = e.Y {
		f(e)
		e.X.Walk(f)
	}
}
