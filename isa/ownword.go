package isa

import (
	"strings"
	"sync"
)

// OwnWord says whether a word by itself, as operand i, from 0, has a meaning that the
// instruction gives it: a barrier's option, a special register, a coprocessor. Assemblers look
// there before they look for a symbol, so such a word is none, whatever labels there are.
func (mnemonic *Mnemonic) OwnWord(i int, word string) bool {
	if mnemonic == nil || !mayBeOwn(word) {
		return false
	}
	op, q := wordOperand(word), Query{}
	for _, s := range []State{T, A} {
		for _, f := range mnemonic.FormsOf(s) {
			if i >= len(f.ops) || !f.ops[i].facts().named {
				continue
			}
			var m binding
			switch x := f.ops[i].(type) {
			case *wordSpec, *lettersSpec, *statusSpec, *numberedSpec:
				if bad := x.check(f, &q, &op, &m); bad.Reason == OK {
					return true
				}
			default:
				if isVector(word) {
					return true
				}
			}
		}
	}
	return false
}

// mayBeOwn says whether a word has such a meaning in some instruction: most have none, and are asked
// about often.
func mayBeOwn(word string) bool {
	low := strings.ToLower(word)
	if ownWords()[low] || isVector(low) {
		return true
	}
	for _, letter := range []byte("pc") {
		if _, ok := numbered(low, letter); ok {
			return true
		}
	}
	return false
}

var ownWords = sync.OnceValue(func() map[string]bool {
	all := map[string]bool{}
	for _, w := range Words() {
		all[w] = true
	}
	return all
})
