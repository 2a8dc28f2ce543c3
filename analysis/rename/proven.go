package rename

import (
	"errors"
	"strings"

	"narrowgauge/analysis/finding"
	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/analysis/wording"
)

// Proven says, by an error, in what the program differs from what becomes of it when the edits
// are made, other than by the name.
func (p *Program) Proven(after *Program, t Target, name string) error {
	m := renamed{t: t, name: name}
	for i := range p.Items {
		if i >= len(after.Items) || !m.sameItem(p, after, &p.Items[i], &after.Items[i]) {
			return errors.New(wording.WouldChange(t.Name, wording.Where(p.Evaluator.Program, p.StmtLoc(&p.Items[i]).Location, nil)))
		}
	}
	if len(p.Items) != len(after.Items) || !m.sameFindings(p.Found, after.Found) {
		return errors.New(wording.WouldChange(t.Name, ""))
	}
	if at := m.otherSymbol(p, after); at != "" {
		return errors.New(wording.MadeOf(at, t.Name))
	}
	return nil
}

// renamed compares what two programs have.
type renamed struct {
	t    Target
	name string
}

// is what a word becomes; words of registers and macros in each case.
func (m *renamed) is(word string) string {
	if m.t.Kind == Number {
		if len(word) > 1 && (word[len(word)-1] == 'f' || word[len(word)-1] == 'b') {
			return m.name + word[len(word)-1:]
		}
		return word
	}
	if word == m.t.Name || (m.t.Kind == Alias || m.t.Kind == Macro) && strings.EqualFold(word, m.t.Name) {
		return cased(m.t, m.name, word)
	}
	return word
}

// sameItem says whether two items are the same, but for the name.
func (m *renamed) sameItem(p, after *Program, a, b *program.Item) bool {
	if a.Stmt.Kind != b.Stmt.Kind || a.Stmt.Directive != b.Stmt.Directive || a.Stmt.Mnemonic != b.Stmt.Mnemonic ||
		a.Offset != b.Offset || a.Size != b.Size || a.Section != b.Section || a.Flags != b.Flags || a.Literal != b.Literal || len(a.Stmt.Ops) != len(b.Stmt.Ops) {
		return false
	}
	if (a.Match.Form == nil) != (b.Match.Form == nil) || a.Match.Form != nil && (a.Match.Form != b.Match.Form || a.Match.Encode() != b.Match.Encode()) {
		return false
	}
	if a.Flags&program.Calls != 0 || a.Stmt.Directive != nil && (a.Stmt.Directive.Effect == syntax.EffMacro || a.Stmt.Directive.Effect == syntax.EffMacroBelow) {
		return true // what it makes is compared
	}
	x, y := p.stmtText(a), after.stmtText(b)
	return x == y || m.sameText(x, y) && !keepsText(a.Stmt)
}

// stmtText is the text of a statement; of one that nobody wrote there, what is in its line.
func (p *Program) stmtText(it *program.Item) string {
	text := p.LineText(it)
	end := min(int(it.Stmt.End), len(text))
	return text[min(int(it.Stmt.Start), end):end]
}

// keepsText says whether the words of a statement are data or names that the linker goes by:
// another one would be other bytes.
func keepsText(s *syntax.Stmt) bool {
	if s.Directive == nil {
		return false
	}
	switch s.Directive.Effect {
	case syntax.EffString, syntax.EffWide, syntax.EffSection, syntax.EffPush, syntax.EffArea, syntax.EffInclude, syntax.EffIncbin:
		return true
	}
	return false
}

// sameText says whether two statements are the same text, but for words that are the name.
func (m *renamed) sameText(a, b string) bool {
	if m.t.Kind == Parameter || m.t.Kind == Define {
		return false // what macros make has no such names
	}
	x, y := words(a), words(b)
	if len(x) != len(y) {
		return false
	}
	for i := range x {
		if x[i] != y[i] && m.is(x[i]) != y[i] && !(m.t.Kind == Number && y[i] == m.name) {
			return false
		}
	}
	return true
}

// words splits a text in words and what is between them, without blanks.
func words(text string) (out []string) {
	for i := 0; i < len(text); {
		j := i
		for j < len(text) && program.IdentByte(text[j]) {
			j++
		}
		if j == i {
			if j++; text[i] != ' ' && text[i] != '\t' {
				out = append(out, text[i:j])
			}
		} else {
			out = append(out, text[i:j])
		}
		i = j
	}
	return out
}

// sameFindings says whether there are as many findings of each check and severity.
func (m *renamed) sameFindings(a, b []finding.Diagnostic) bool {
	type key struct {
		code     string
		severity finding.Severity
	}
	count := map[key]int{}
	for i := range a {
		count[key{a[i].Code, a[i].Severity}]++
	}
	for i := range b {
		count[key{b[i].Code, b[i].Severity}]--
	}
	for _, n := range count {
		if n != 0 {
			return false
		}
	}
	return true
}

// otherSymbol is the name of a symbol that one of the programs does not have, or has with
// another value; empty: there is none.
func (m *renamed) otherSymbol(p, after *Program) (name string) {
	n := 0
	p.EachSymbol(func(a *program.Symbol) {
		if !said(a) || name != "" {
			return
		}
		n++
		is := a.Name
		if m.t.Kind == Symbol {
			is = m.is(is)
		}
		b := after.SymbolOf(is)
		if b == nil || a.Defined != b.Defined || a.Label != b.Label || a.Function != b.Function || a.Object != b.Object || a.Global != b.Global || a.Weak != b.Weak || a.Extern != b.Extern ||
			a.Value.Kind != b.Value.Kind || a.Value.N != b.Value.N || a.Value.Section != b.Value.Section {
			name = a.Name
		}
	})
	after.EachSymbol(func(b *program.Symbol) {
		if said(b) {
			n--
		}
	})
	if n != 0 && name == "" {
		name = m.t.Name
	}
	return name
}

// said says whether a source says something of a symbol: names that are only looked up, as
// those of registers are, do not count, nor do numeric local labels.
func said(y *program.Symbol) bool {
	return y.Name != "" && (y.Name[0] < '0' || y.Name[0] > '9') && (y.Defined || y.Global || y.Weak || y.Extern || y.Common)
}
