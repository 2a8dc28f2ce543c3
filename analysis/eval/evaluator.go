package eval

import (
	"narrowgauge/analysis/program"
	"narrowgauge/isa"
)

// phase is how far the assembly of a program is, as far as values depend on it.
type phase uint8

const (
	walking   phase = iota // statements are read one after the other
	Moving                 // the layout moves; all symbols are known that will be
	Resolving              // every place is known, and what waited gets its value
	done                   // nothing changes any more
)

// Evaluator computes the values of expressions and operands of a program's
// statements: the only way to a value, while the program is assembled and
// afterwards.
type Evaluator struct {
	*program.Program
	Table SymbolTable
	// Layout knows what moves, while the program is assembled; nil after that.
	Layout Layout
	Phase  phase
	columnVariables
	Ops []isa.Operand
	At  int32 // the item whose operands are read
	Gen int32 // counts, from 1, what may change a value that waits
	// Shifting: the last value depends on a distance.
	Shifting bool
	Steps    int // symbols looked up, and what else the layout does
	Doubts   []doubt
	doubted  map[[2]int32]bool // parts of expressions with a doubt, by item and column
	memos    map[memoOf]*memo
	busy     map[*program.Symbol]bool // whose values are being computed
}

// SymbolTable finds and makes symbols.
type SymbolTable interface {
	// Find is the symbol of a name, nil as long as nothing has asked for it.
	Find(name string) *program.Symbol
	// Symbol is the same, and makes the symbol where there is none.
	Symbol(name string) *program.Symbol
	// Settle is told the value of a symbol that had to wait for it.
	Settle(s *program.Symbol, v program.Value)
}

// Layout is what values depend on while things may still move. A section is given by
// its number.
type Layout interface {
	// MayMove says whether something in a section may still move.
	MayMove(sec int16) bool
	// Apart says whether something between two places of a section, given by
	// their items, may still grow.
	Apart(sec int16, a, b int32) bool
	// Present is the offset in its section that an address has at the moment.
	Present(v program.Value) int64
}

// doubt is something that may be meant otherwise than assemblers take it.
type doubt struct {
	At    program.Place
	Value program.Value // whose Why says what
}

// known is the symbol table of a program that is assembled.
type known struct{ *program.Program }

func (k known) Find(name string) *program.Symbol { return k.SymbolOf(name) }

func (k known) Symbol(name string) *program.Symbol {
	if s := k.SymbolOf(name); s != nil {
		return s
	}
	return &program.Symbol{Name: name, Item: -1}
}

func (known) Settle(*program.Symbol, program.Value) {} // nothing waits any more

// New is the evaluator of a program that is assembled.
func New(r *program.Program) *Evaluator {
	return &Evaluator{Program: r, Table: known{r}, Phase: done}
}

// Settled says whether all symbols are known that will be.
func (p *Evaluator) Settled() bool { return p.Phase >= Moving }
