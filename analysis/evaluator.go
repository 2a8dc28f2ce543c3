package analysis

import "narrowgauge/isa"

// phase is how far the assembly of a program is, as far as values depend on it.
type phase uint8

const (
	walking   phase = iota // statements are read one after the other
	moving                 // the layout moves; all symbols are known that will be
	resolving              // every place is known, and what waited gets its value
	done                   // nothing changes any more
)

// evaluator computes the values of expressions and operands of a program's
// statements: the only way to a value, while the program is assembled and
// afterwards.
type evaluator struct {
	*Program
	table symbolTable
	phase phase
	columnVariables
	ops []isa.Operand
	at  int32 // the item whose operands are read
	gen int32 // counts, from 1, what may change a value that waits
	// shifting: the last value depends on a distance.
	shifting bool
	steps    int // symbols looked up, and what else the layout does
	doubts   []doubt
	doubted  map[[2]int32]bool // parts of expressions with a doubt, by item and column
}

// symbolTable finds and makes symbols.
type symbolTable interface {
	// find is the symbol of a name, nil as long as nothing has asked for it.
	find(name string) *symbol
	// symbol is the same, and makes the symbol where there is none.
	symbol(name string) *symbol
}

// doubt is something that may be meant otherwise than assemblers take it.
type doubt struct {
	at      place
	message string
}

// known is the symbol table of a program that is assembled.
type known struct{ *Program }

func (k known) find(name string) *symbol { return k.symbolOf(name) }

func (k known) symbol(name string) *symbol {
	if s := k.symbolOf(name); s != nil {
		return s
	}
	return &symbol{name: name, item: -1}
}

// newEvaluator is the evaluator of a program that is assembled.
func newEvaluator(r *Program) *evaluator {
	return &evaluator{Program: r, table: known{r}, phase: done}
}

// settled says whether all symbols are known that will be.
func (p *evaluator) settled() bool { return p.phase >= moving }
