package program

import (
	"narrowgauge/analysis/syntax"
)

// Constants is what such a file came to.
type Constants struct {
	File        *syntax.File
	Plain       bool // else it is something else, and has nothing of this
	Environment Environment
	Items       []Item             // none as long as it was not walked
	Symbols     map[string]*Symbol // their items count from the file's first one
	Steps       int
}

// Taken is the constants of a file in a program.
type Taken struct {
	*Constants
	First int32 // the first item
}

// AsTaken is the symbol of a name among the constants of files, nil without one. It
// is a copy, which belongs to nobody yet.
func (r *Program) AsTaken(name string) *Symbol {
	for _, t := range r.Taken {
		if c := t.Symbols[name]; c != nil {
			s := *c
			s.Item += t.First
			return &s
		}
	}
	return nil
}

// SymbolOf is the symbol of a name once the program is analysed, nil without one.
func (r *Program) SymbolOf(name string) *Symbol {
	if s := r.Symbols[name]; s != nil {
		return s
	}
	return r.AsTaken(name)
}

// Defined calls f for every name that is defined.
func (r *Program) Defined(f func(name string)) {
	for name, y := range r.Symbols {
		if y.Defined {
			f(name)
		}
	}
	for _, t := range r.Taken {
		for name := range t.Symbols {
			if r.Symbols[name] == nil {
				f(name)
			}
		}
	}
}

// Bytes is about what they take.
func (c *Constants) Bytes() int { return 100 + 600*len(c.Items) }
