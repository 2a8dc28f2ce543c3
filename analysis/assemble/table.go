package assemble

import (
	"narrowgauge/analysis/program"
)

// symbols is the symbol table: it makes the program's symbols.
type symbols struct {
	prog     *program.Program
	last     *program.Symbol // that Find found last: one line asks for its target several times
	numbered int             // labels that are numbers, counted
	dollars  bool            // some as 55$ have been seen since the last label with a name
	funcTag  bool            // .thumb_func seen: the next label is a function
}

// Find is the symbol of a name, nil as long as nothing has asked for it.
func (p *symbols) Find(name string) *program.Symbol {
	if p.last != nil && p.last.Name == name {
		return p.last
	}
	s := p.prog.Symbols[name]
	if s != nil {
		p.last = s
	}
	if s != nil || len(p.prog.Taken) == 0 {
		return s
	}
	if s = p.prog.AsTaken(name); s != nil {
		x := p.newSymbol(name)
		*x = *s
		return x
	}
	return s
}

func (p *symbols) Symbol(name string) *program.Symbol {
	s, _ := p.defining(name)
	return s
}

// newSymbol makes the symbol of a name that has none. All of them are walked in the
// end, which takes far less time in slabs than in the map.
func (p *symbols) newSymbol(name string) *program.Symbol {
	n := len(p.prog.Slabs) - 1
	if n < 0 || len(p.prog.Slabs[n]) == cap(p.prog.Slabs[n]) {
		size := program.ASlab
		if n < 0 {
			size = 16
		}
		p.prog.Slabs = append(p.prog.Slabs, make([]program.Symbol, 0, size))
		n++
	}
	p.prog.Slabs[n] = append(p.prog.Slabs[n], program.Symbol{Name: name, Item: -1})
	s := &p.prog.Slabs[n][len(p.prog.Slabs[n])-1]
	p.prog.Symbols[name] = s
	return s
}

// defining is the symbol of a name that gets a value now. fresh says that nothing has
// asked for it yet, so that no value that waits depends on it.
func (p *symbols) defining(name string) (s *program.Symbol, fresh bool) {
	if s = p.Find(name); s != nil {
		return s, false
	}
	return p.newSymbol(name), true
}

// Settle gives a symbol the value that it had to wait for.
func (p *symbols) Settle(s *program.Symbol, v program.Value) {
	s.Value, s.Expr = v, nil
	if v.Kind == program.Address && v.Symbol != nil {
		s.Function, s.Mode = s.Function || v.Symbol.Function, v.Symbol.Mode
	}
}
