package server

import (
	"strings"
	"testing"
)

// TestRefactorings asks for refactorings where nothing is wrong, with resolving and without, and
// makes one.
func TestRefactorings(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\tmovs r0, #200 @ é\n\tbx lr\n"
	for _, resolves := range []bool{true, false} {
		c := dial(t, Options{})
		caps := allCaps()
		if !resolves {
			caps["textDocument"] = obj{"codeAction": obj{"codeActionLiteralSupport": obj{}}}
		}
		c.initialize(caps, nil)
		c.open(doc, 1, text)
		ask := func(only ...string) (out []codeAction) {
			for _, a := range call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "range": rng(2, 11, 2, 11), "context": obj{"only": only}}) {
				if strings.HasPrefix(a.Kind, "refactor.") {
					out = append(out, a)
				}
			}
			return out
		}
		if n := len(ask()); resolves != (n == 3) {
			t.Errorf("%v: %d at once", resolves, n)
		}
		list := ask("refactor.extract")
		if len(list) != 1 || list[0].Title != "name the constant 200 VALUE_200" || resolves != (list[0].Edit == nil) {
			t.Fatalf("%v: %+v", resolves, list)
		}
		a := list[0]
		if resolves {
			a = call[codeAction](c, "codeAction/resolve", a)
		}
		if a.Edit == nil || len(a.Edit.DocumentChanges)+len(a.Edit.Changes) != 1 {
			t.Errorf("%v: %+v", resolves, a)
		}
		// Who opens the menu of a short text has them proven, with what they cost.
		for _, kind := range []int{1, 2} {
			at := rng(3, 2, 3, 2)
			for _, a := range call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "range": at, "context": obj{"only": []string{"refactor"}, "triggerKind": kind}}) {
				if want := kind == 1 || !resolves; want != (a.Edit != nil) {
					t.Errorf("%v, asked in way %d: %+v", resolves, kind, a)
				}
			}
		}
		if n := len(ask("quickfix")); n > 0 {
			t.Errorf("%v: %d among quick fixes", resolves, n)
		}
	}
}
