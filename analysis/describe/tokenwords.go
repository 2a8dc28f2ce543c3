package describe

import (
	"strings"
	"sync"

	"narrowgauge/analysis/program"
	"narrowgauge/analysis/syntax"
	"narrowgauge/isa"
)

// What the words of a source are, for tokens.

// useAt says whether the name of a macro of the preprocessor is at a column.
func (t *tokens) useAt(col int) bool {
	return t.unit != nil && t.unit.MacroAt(t.start+col) != nil && program.IdentByte(t.text[col])
}

// ident adds the word in columns a to b.
func (t *tokens) ident(a, b int, w *words) {
	if t.useAt(a) {
		t.add(a, b, TokenMacro, 0)
		return
	}
	word := t.text[a:b]
	if w == nil { // beside statements, or in a line of the preprocessor
		t.at = b
		return
	}
	if strings.Trim(word, ".") == "" { // this place, or what separates ranges
		t.at = b
		return
	}
	w.read++
	if x, ok := t.argument(word, a, w); ok {
		t.add(a, b, x.Kind, x.Marks)
		return
	}
	if x, ok := t.word(word, w); ok {
		if x.Kind == TokenVariable || !w.lit {
			t.add(a, b, x.Kind, x.Marks)
		} else {
			t.add(a, b, x.Kind, x.Marks|TokenLiteral)
		}
		return
	}
	t.at = b
}

// argument says what a word is that only its directive gives a meaning.
func (t *tokens) argument(word string, at int, w *words) (x Token, ok bool) {
	s := w.stmt
	if s.Kind != syntax.Directive {
		return Token{}, false
	}
	d := s.Directive
	if d.NameFirst && strings.EqualFold(word, d.Name) || d.NameFirst && w.read == 1 && word[0] != '.' && d.Effect != syntax.EffMacro && t.file.Dialect() == syntax.Columns && strings.ToUpper(word) == word && int(s.NameEnd) <= at && !t.isSymbol(word) {
		return Token{Kind: TokenDirective}, true
	}
	switch d.Effect {
	case syntax.EffMacro, syntax.EffMacroBelow:
		switch m := t.body; {
		case m != nil && strings.EqualFold(word, m.Name) && w.read == 1 && !d.NameFirst:
			return Token{Kind: TokenMacro, Marks: TokenDefinition}, true
		case m != nil:
			for i := range m.Parameters {
				if m.Parameters[i].Name == word {
					return Token{Kind: TokenParameter, Marks: TokenDefinition}, true
				}
			}
		case w.read == 1 && !d.NameFirst:
			return Token{Kind: TokenMacro, Marks: TokenDefinition}, true
		}
	case syntax.EffSet, syntax.EffThumbSet, syntax.EffEqv, syntax.EffComm, syntax.EffCommon:
		if x, ok := t.word(word, w); ok && w.read == 1 && !d.NameFirst {
			x.Marks |= TokenDefinition
			return x, true
		}
	case syntax.EffPurgem:
		return Token{Kind: TokenMacro}, true
	case syntax.EffSection, syntax.EffPush, syntax.EffArea:
		if w.read == 1 {
			return Token{Kind: TokenSection}, true
		}
	case syntax.EffSyntax, syntax.EffCPU, syntax.EffArch, syntax.EffArchExt, syntax.EffFPU:
		return Token{Kind: TokenVariable, Marks: TokenReadonly | TokenLibrary}, true
	case syntax.EffType:
		if typeWords[strings.ToLower(word)] != "" && w.read > 1 {
			return Token{Kind: TokenVariable, Marks: TokenReadonly | TokenLibrary}, true
		}
	}
	return Token{}, false
}

func (t *tokens) isSymbol(word string) bool { return t.SymbolOf(word) != nil }

// word says what a name is, whoever names it.
func (t *tokens) word(word string, w *words) (Token, bool) {
	if w == nil || w.stmt.Kind == syntax.Instruction || w.call || namesRegister(w.stmt) {
		if x, ok := t.register(word, w); ok {
			return x, true
		}
	}
	key := word
	x, known := t.known[key]
	if !known {
		x = t.symbol(word)
		t.known[key] = x
	}
	if x.Kind == TokenComment || x.Marks&TokenExternal != 0 {
		if y, ok := t.libraryWord(word, w); ok {
			return y, true
		}
	}
	return x, x.Kind != TokenComment
}

// register says whether a word is a register where it stands.
func (t *tokens) register(word string, w *words) (Token, bool) {
	low := strings.ToLower(word)
	reg, ok := isa.RegByName(low)
	if w == nil {
		ok = false // where it is defined
	}
	if !ok {
		x := t.LastRegister(word)
		if reg = x.Core; x.Vector != "" {
			return Token{Kind: TokenVariable}, true
		}
		ok = reg != isa.NoReg
	}
	switch {
	case ok && reg.Low():
		return Token{Kind: TokenVariable, Marks: TokenLow}, true
	case ok:
		return Token{Kind: TokenVariable, Marks: TokenHigh}, true
	}
	if w != nil && w.stmt.Kind == syntax.Instruction && w.stmt.Mnemonic.Vector() && !t.isSymbol(word) {
		base, _, _ := strings.Cut(low, ".")
		if _, _, ok := isa.VectorReg(base); ok {
			return Token{Kind: TokenVariable}, true
		}
	}
	return Token{}, false
}

// symbol says what a symbol of the program is; a comment: there is none.
func (t *tokens) symbol(word string) Token {
	y := t.SymbolOf(word)
	switch {
	case y == nil:
		return Token{Kind: TokenComment}
	case y.Function || y.ThumbFn || t.called()[y]:
		if !y.Defined {
			return Token{Kind: TokenFunction, Marks: TokenExternal}
		}
		return Token{Kind: TokenFunction}
	case !y.Defined:
		return Token{Kind: TokenLabel, Marks: TokenExternal}
	case y.Value.Kind == program.Number, !y.Label && y.Value.Kind != program.Address:
		return Token{Kind: TokenConstant, Marks: TokenReadonly}
	}
	if _, _, ok := t.CodeLabel(y.Value); ok {
		return Token{Kind: TokenLabel}
	}
	return Token{Kind: TokenVariable, Marks: TokenStatic}
}

// builtIn are the words that operands may be in some instruction.
var builtIn = sync.OnceValue(func() map[string]bool {
	all := map[string]bool{}
	for _, w := range isa.Words() {
		all[w] = true
	}
	return all
})

// libraryWord says whether a word of an instruction is built in: a shift, a condition, a
// special register, a barrier.
func (t *tokens) libraryWord(word string, w *words) (Token, bool) {
	if w == nil || w.stmt.Kind != syntax.Instruction {
		return Token{}, false
	}
	low := strings.ToLower(word)
	if isa.ShiftByName(low) != isa.NoShift {
		return Token{Kind: TokenMnemonic}, true
	}
	if w.stmt.Mnemonic.OpensBlock() {
		if _, ok := isa.CondByName(low); ok {
			return Token{Kind: TokenMnemonic, Marks: TokenConditional}, true
		}
	}
	if specialText(low) != "" || builtIn()[low] {
		return Token{Kind: TokenVariable, Marks: TokenReadonly | TokenLibrary}, true
	}
	return Token{}, false
}
