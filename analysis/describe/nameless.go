package describe

import (
	"fmt"
	"strings"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// Names by themselves, without the line that has them: nothing is said of how far away they are
// or whether they fit.

// nowhere is a statement that is none, at the index of an item; -1: at that of none.
func nowhere(index int32) *program.Item {
	return &program.Item{Index: index, Stmt: &syntax.Stmt{Number: -1}, Literal: -1}
}

// SymbolText describes a label or a constant; empty for what is none.
func (r *View) SymbolText(name string) string {
	s := r.SymbolOf(name)
	if s == nil {
		return ""
	}
	return r.hoverSymbol(&token{it: nowhere(s.Item), op: -1, text: name}, s)
}

// MacroText describes a macro; of several of one name the last.
func (r *View) MacroText(name string) string {
	for i := len(r.Macros) - 1; i >= 0; i-- {
		if m := r.Macros[i]; strings.EqualFold(m.Name, name) {
			return r.hoverMacro(m, nowhere(-1))
		}
	}
	return ""
}

// ParameterText describes a parameter of a macro.
func (r *View) ParameterText(m *program.Macro, name string) string {
	for i := range m.Parameters {
		q := &m.Parameters[i]
		if q.Name != name {
			continue
		}
		more := ""
		switch {
		case q.Need:
			more = " Each call has to give it."
		case q.Rest:
			more = " It takes all that is left of a call's arguments."
		case q.Default != "":
			more = fmt.Sprintf(" Where a call does not give it, it is `%s`.", q.Default)
		}
		return fmt.Sprintf("**%s** — parameter of the macro `%s`.%s", name, header(m), more)
	}
	return ""
}

// AliasText describes a name that .req or its like has given to a register.
func (r *View) AliasText(name string) string {
	switch reg := r.LastRegister(name); {
	case reg.Core != isa.NoReg:
		text := regText(name, reg.Core, nil)
		if s := r.definedText(name); s != "" {
			text += "\n\n" + s
		}
		return text
	case reg.Vector != "":
		return hoverVector(name, reg.Vector)
	}
	return ""
}
