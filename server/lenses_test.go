package server

import (
	"strings"
	"testing"
)

// TestLenses asks for lenses and resolves them, with the kinds that a setting chooses.
func TestLenses(t *testing.T) {
	const text = "\t.syntax unified\n\t.cpu cortex-m3\n\t.thumb\n\t.thumb_func\nring:\tmovs r0, #1\n\tbx lr\n"
	c := dial(t, Options{})
	caps := allCaps()
	caps["workspace"] = obj{"codeLens": obj{"refreshSupport": true}}
	r := c.initialize(caps, nil)
	if !r.Capabilities.LensProvider.ResolveProvider {
		t.Error("cannot resolve")
	}
	c.open(doc, 1, text)
	c.find("findings", func(m incoming) bool { return m.Method == "textDocument/publishDiagnostics" })
	ref := obj{"textDocument": obj{"uri": doc}}
	ask := func() string {
		var out []string
		for _, l := range call[[]codeLens](c, "textDocument/codeLens", ref) {
			if l.Command == nil {
				l = call[codeLens](c, "codeLens/resolve", l)
			}
			if l.Command.Command != "" {
				t.Errorf("%+v", l)
			}
			out = append(out, l.Command.Title)
		}
		return strings.Join(out, "|")
	}
	if got, want := ask(), "4 bytes · not called here|3–5 cycles on Cortex-M3"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	c.forget()
	c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"lenses": []string{"budget", "other"}, "budget": obj{".text": 16}}}})
	c.find("a refresh", func(m incoming) bool { return m.Method == "workspace/codeLens/refresh" })
	if got, want := ask(), "no counterpart in the other instruction set|.text: 4 of 16 bytes, 25 %"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	lens := call[[]codeLens](c, "textDocument/codeLens", ref)[0]
	c.replace(doc, 2, text+"\n")
	if m := c.reply(c.start("codeLens/resolve", lens)); m.Error == nil || m.Error.Code != -32801 {
		t.Errorf("a lens of another version: %+v", m)
	}
}
