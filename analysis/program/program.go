package program

import (
	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/preprocess"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Item is one statement in the order of assembly, with the place that the
// layout gives it.
type Item struct {
	Stmt        *syntax.Stmt
	Match       isa.Match // the encoding that fits; else Form is nil
	Offset      int64     // offset in its section, in bytes
	Size        int64     // bytes
	Index       int32     // its index
	Line        int32     // line in its file, from 0
	File        int32
	Literal     int32 // the literal's index, -1 without one
	Section     int16
	Environment int16 // index of the environment in force
	Slot        Slot  // its place in an IT block
	Flags       itemFlags
}

type itemFlags uint16

const (
	IsCode    itemFlags = 1 << iota // an instruction
	Waits                           // waits for symbols: look again when all are known
	Refused                         // an instruction that cannot exist; reported
	Unchecked                       // no row describes the name: taken as it is
	HasPool                         // a literal pool is placed here
	Calls                           // calls a macro: the items after come from it
	Opaque                          // an expansion or a file that is not, or not wholly, there
	Wide                            // has grown to full width
	AsWritten                       // its statement has the columns of the written line: see asWritten
)

// Source is one text that takes part: a file, or what a macro or repetition
// makes.
type Source struct {
	Path      string // of the file; for an expansion, where it was asked for
	File      *syntax.File
	From      int32      // item of the .include or call, -1 for the root
	Expansion *Expansion // nil for a file
	// Unit is the file as the preprocessor leaves it, or with statements of several lines in
	// one; nil for one that is read as it is.
	Unit *preprocess.Unit
}

// Preprocessed says whether the source went through the preprocessor.
func (s *Source) Preprocessed() bool { return s.Unit != nil && !s.Unit.Whole }

// AsWritten is the text as its author wrote it, before the preprocessor.
func (s *Source) AsWritten() *syntax.File {
	if s.Unit != nil {
		return s.Unit.Raw
	}
	return s.File
}

// Literal is one word of a literal pool.
type Literal struct {
	Value   Value
	Section int16
	Offset  int64 // its place, once the pool is placed
	Users   int
	Item    int32 // the item where the pool is, -1 for the end of the section
	By      int32 // the item that asked first
	// Padding: no literal, but a gap before one of eight bytes.
	Padding bool
}

// Program is an assembled program: plain data, which nothing writes to after
// assembly.
type Program struct {
	Path         string       // of the root file
	File         *syntax.File // its parsed text, as written
	Sources      []Source
	Items        []Item
	ModeSaid     int32 // the first item that says the instruction set, -1 for none
	Environments []Environment
	Last         int16 // the environment in force at the end
	Sections     []Section
	Symbols      map[string]*Symbol
	Slabs        [][]Symbol          // all that syms has
	Taken        []Taken             // has the others
	Locals       map[int32][]*Symbol // numeric local labels by number, in order
	Dollars      []int32             // the items where those as 55$ end; see syntax.DollarLabel
	Macros       []*Macro            // all definitions, in order
	Literals     []Literal
	Work         int  // how long the assembly took, in items
	Columns      bool // some source is in the column dialect
	registerNames
	columnNames
	// Scopes are those of the column dialect's local labels, in order, by section.
	Scopes   map[int16][]*Scope
	Order    [][]int32 // items of each section, in order of offset
	Excluded []Inactive
	// Scoped are the numeric local labels of the column dialect.
	Scoped  map[LocalScope][]*Symbol
	Defines []string // what the settings define for the preprocessor
	// Ahead has the items of instructions that labels name, by section and place
	// in its order; -1 where there is none.
	Ahead [][]int32
	// States are those that instructions have.
	States [2]bool
}

type Inactive struct {
	File int32
	Span finding.Span
}
