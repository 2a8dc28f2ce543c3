package program

import (
	"sort"
	"strings"

	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Register is what a name that .req or one of its like gives means.
type Register struct {
	Core   isa.Reg // NoReg for none
	Vector string  // a register of floating point and vectors
	Word   string  // a coprocessor, or a register of one
}

// NoRegister is what a name means that nothing gives.
var NoRegister = Register{Core: isa.NoReg}

// RegisterSpan is where a name was for a register: from an item to another, where
// .unreq took it back.
type RegisterSpan struct {
	From, To int32
	Register
}

// registerNames are the names that .req and its like give to registers.
type registerNames struct {
	Registers map[string]Register // in force where the program is read now, or at its end
	Unreqs    map[string][]RegisterSpan
}

// RegisterOf is what a name means where the program is read now, or at its end.
func (n *registerNames) RegisterOf(name string) Register {
	if r, ok := n.Registers[name]; ok {
		return r
	}
	return NoRegister
}

// LastRegister is what a name was for last, even if .unreq took it back: editors
// show it still.
func (n *registerNames) LastRegister(name string) Register {
	if r, ok := n.Registers[name]; ok {
		return r
	}
	if l := n.Unreqs[name]; len(l) > 0 {
		return l[len(l)-1].Register
	}
	return NoRegister
}

// Spellings are the ways in which a register's name can be written.
func Spellings(name string) [3]string {
	return [3]string{name, strings.ToLower(name), strings.ToUpper(name)}
}

// NamesRegister says whether the assembler of the dialect with dots finds a register by a name in
// the operands of instructions: it reads a letter, and letters, digits and underscores. It takes
// .req of any other name, which is then none of a register anywhere.
func NamesRegister(name string) bool {
	for i := range len(name) {
		c := name[i] | 0x20
		if letter := c >= 'a' && c <= 'z'; !letter && (i == 0 || name[i] != '_' && (name[i] < '0' || name[i] > '9')) {
			return false
		}
	}
	return name != ""
}

// Names of the column dialect that mean no number and no address: registers
// of coprocessors, lists of registers, and what counts from the register of a
// MAP; the instructions that the assembler makes of others; and the scopes of
// numeric local labels. All from memory of the armasm manual.

// columnNames are the names.
type columnNames struct {
	Lists   map[string]syntax.Operand // RLIST
	Related map[string]Relative       // FIELD below a MAP with a register
}

// Relative is an address that counts from a register, or a number with NoReg.
type Relative struct {
	Register isa.Reg
	N        int64
}

// Scope is where ROUT begins one.
type Scope struct {
	Item int32
	Name string
}

// ScopeAt is the scope that an item of a section is in, nil before the first ROUT
// there.
func (r *Program) ScopeAt(id int32, sec int16) *Scope {
	list := r.Scopes[sec]
	if k := sort.Search(len(list), func(k int) bool { return list[k].Item > id }); k > 0 {
		return list[k-1]
	}
	return nil
}

// Named is the routine that a scope is that of, empty for none.
func (s *Scope) Named() string {
	if s == nil {
		return ""
	}
	return s.Name
}

// LocalScope is where a number names one label after the other: in a section, after
// a ROUT of it, and there in one expansion of a macro or outside of all.
type LocalScope struct {
	Number, Level int32
	Section       int16
	Routine       *Scope
}

// Begun is the symbol at which an item says that a function begins, by PROC in the dialect of
// columns; nil for others.
func (p *Program) Begun(it *Item) *Symbol {
	s := it.Stmt
	if s.Kind != syntax.Directive || s.Directive.Effect != syntax.EffProc || it.Index == 0 {
		return nil
	}
	if b := &p.Items[it.Index-1]; b.Stmt.Kind == syntax.Label && b.File == it.File && b.Line == it.Line {
		return p.SymbolOf(b.Stmt.Name)
	}
	return nil
}

// SourceOf is the source of an item, or of the statement that is read now.
func (p *Program) SourceOf(id int32) int32 {
	if int(id) < len(p.Items) {
		return p.Items[id].File
	}
	return p.Items[len(p.Items)-1].File
}

// Level is the expansion of a macro, or the root, that a source belongs to.
func (p *Program) Level(file int32) int32 {
	for file > 0 {
		s := &p.Sources[file]
		if s.Expansion != nil && s.Expansion.Macro != nil {
			return file
		}
		file = p.Items[s.From].File
	}
	return 0
}
