package program

import (
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// SymbolKind tells what a document symbol names.
type SymbolKind uint8

const (
	SymCode     SymbolKind = iota // label in front of instructions
	SymFunction                   // label marked as a function (.thumb_func, .type)
	SymData                       // label in front of data
	SymConstant                   // .equ, .set, =
	SymRegister                   // .req
	SymSection                    // section change
	SymMacro                      // .macro
)

// Symbol is a name of the program.
type Symbol struct {
	Name     string
	Kind     SymbolKind
	Defined  bool
	Label    bool // marks a place
	Function bool // marked as a function: bit 0 is set for T16 code
	Auto     bool // bit 0 is set by itself where it names T16 code
	ThumbFn  bool // .thumb_func
	Object   bool // .type %object
	Global   bool // or weak
	Weak     bool
	Extern   bool
	Mode     isa.State
	Value    Value
	Expr     *syntax.Operand // .equ with a value that is not known yet
	Item     int32           // the defining item, -1
	Columns  [2]int32        // of the name there; see Program.DefinedAt
	Once     bool            // .equiv and the like: the value stays
	Local    bool            // .local
	Common   bool            // .comm
	Refers   string          // .weakref: what it means
	Past     []PastValue
}

// PastValue is a value that .set has given and then replaced. What uses the symbol
// has the value of its own place; what is before all of them has the first.
type PastValue struct {
	Item  int32
	Value Value
	Expr  *syntax.Operand // what Val is the value of, where that had to wait
}

type ValueKind uint8

const (
	Undefined ValueKind = iota // depends on a symbol that is not defined (sym)
	Number                     // a number
	Address                    // an offset in a section
	Unknown                    // only the linker, or nobody, knows
	Bad                        // cannot be computed; sym or reason says why
	Big                        // a number of more than 64 bits; n is how many
)

// Value is what an expression comes to.
type Value struct {
	Kind    ValueKind
	Section int16
	N       int64
	Symbol  *Symbol // the symbol it depends on
	Why     Trouble // vBad: what is wrong with it
	Name    string  // vBad by OtherRoutine: the routine that is named
	Mild    bool    // vBad: assemblers go on with 0
	Num     int32   // vUndef by a numeric local label: its number + 1
	Back    bool
	// Mixed: vUndef by more than a symbol and a number added to it, which no
	// linker can supply.
	Mixed bool
	// Reloc is the relocation operator that a vUnknown comes from, in lower case,
	// or what is in parentheses after the symbol.
	Reloc string
	At    int32 // vRel: the item that it moves with
	// Apart: vUndef by a distance across something that may still grow.
	Apart bool
	// Late: vAbs, and the assembler computes it at the end only.
	Late bool
	// Dist: vUnknown, a distance that the linker computes.
	Distance bool
	// Firm: vBad, and no later definition changes that.
	Firm bool
}

// Waits says whether the value stays unknown whatever is defined, but for the symbol
// that it depends on: without an end of the program a distance across what may grow is
// not known either.
func (v *Value) Waits() bool {
	return v.Kind == Undefined && (v.Apart || v.Symbol != nil && !v.Symbol.Defined)
}

// ASlab is how many symbols are made at once.
const ASlab = 256

// EachSymbol calls f for every symbol that has a name.
func (p *Program) EachSymbol(f func(s *Symbol)) {
	for _, slab := range p.Slabs {
		for k := range slab {
			f(&slab[k])
		}
	}
}
