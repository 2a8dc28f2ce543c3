package rename

import (
	"errors"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
	"narrowgauge/isa"
)

// shifts and the like are words of operands.
var operandWords = map[string]bool{"lsl": true, "lsr": true, "asr": true, "ror": true, "rrx": true, "asl": true, "uxtw": true, "sxtw": true}

// reserved says whether a name has a meaning that no source gives it: that of a register, an
// instruction, a directive or a word of operands.
func reserved(name string) bool {
	low := strings.ToLower(name)
	if _, ok := isa.RegByName(low); ok {
		return true
	}
	if _, _, ok := isa.VectorReg(low); ok {
		return true
	}
	m, _ := isa.Find(low)
	return m != nil || operandWords[low] || syntax.FindDirective(low) != nil || syntax.ColumnDirective(name) != nil || syntax.ModuleDirective(name) != nil
}

// isName says whether a text can be a name in a dialect: letters, digits and underscores; dots
// and dollars only in the dialects with dots, and never alone. What begins as one of the
// mapping symbols does ($a, $t, $d; AAELF32, "Mapping symbols") is none.
func isName(name string, d syntax.Dialect) bool {
	if name == "" || name == "." || name[0] >= '0' && name[0] <= '9' {
		return false
	}
	for i := range len(name) {
		switch c := name[i]; {
		case c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9' || c == '_':
		case (c == '.' || c == '$') && !d.Words():
		default:
			return false
		}
	}
	return len(name) < 2 || name[0] != '$' || strings.IndexByte("atdpbfm", name[1]) < 0 || len(name) > 2 && name[2] != '.'
}

// Valid says, by an error, why a target of the program cannot have another name.
func (p *Program) Valid(t Target, name string) error {
	d := p.File.Dialect()
	switch {
	case t.Kind == Number:
		if name == "" || len(name) > 5 || strings.Trim(name, "0123456789") != "" || len(name) > 1 && name[0] == '0' {
			return errors.New(wording.OnlyNumber(name))
		}
		return nil
	case !isName(name, d):
		return errors.New(wording.NoName(name))
	case t.Kind == Alias && d == syntax.Dots && !program.NamesRegister(name):
		return errors.New(wording.NoWordOfRegister(name))
	case (t.Kind == Define || t.Kind == Parameter) && strings.ContainsAny(name, ".$"):
		return errors.New(wording.NoName(name))
	case reserved(name):
		return errors.New(wording.NameTaken(name))
	case t.Kind == Symbol && strings.HasPrefix(name, ".L") != strings.HasPrefix(t.Name, ".L"):
		return errors.New(wording.NameOfObject(name, t.Name))
	case t.Kind != Parameter && p.isAlias(name), (t.Kind == Alias) && p.SymbolOf(name) != nil:
		return errors.New(wording.NameTaken(name))
	}
	if at, ok := p.mention(t, name); ok {
		return errors.New(wording.NameThere(name, wording.Where(p.Evaluator.Program, at, nil)))
	}
	return nil
}

// mention is the first place that has a name as a word already.
func (p *Program) mention(t Target, name string) (at finding.Location, ok bool) {
	fold := t.Kind == Macro || t.Kind == Alias
	p.files(func(path string, f *syntax.File, _ bool) {
		first, last := 0, f.NumLines()-1
		if t.macro != nil {
			if first, last = t.macro.first, t.macro.last; path != t.macro.path {
				return
			}
		}
		if !fold && !strings.Contains(f.Text(), name) {
			return
		}
		for i := first; i <= last && !ok; i++ {
			f.Words(i, func(w syntax.Word) {
				if !ok && (w.Text == name || fold && strings.EqualFold(w.Text, name)) && (!w.Quoted || w.Param) {
					start := f.LineStart(i)
					at, ok = finding.Location{Path: path, Span: finding.Span{Start: start + int(w.Start), End: start + int(w.End)}}, true
				}
			})
		}
	})
	if y := p.SymbolOf(name); !ok && y != nil && (y.Defined || y.Global) {
		return p.DefinedAt(y).Location, t.Kind != Parameter
	}
	return at, ok
}
