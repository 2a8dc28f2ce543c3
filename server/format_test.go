package server

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"go.lsp.dev/protocol"
)

// TestFormatting asks for the three ways to lay out lines, with line ends of both kinds.
func TestFormatting(t *testing.T) {
	for _, end := range []string{"\n", "\r\n"} {
		c := dial(t, Options{})
		c.initialize(allCaps(), nil)
		text := strings.Join([]string{"\tmov\tr0, r1\t@ \U0001F600", " mov r2, r3 @ \u00e9", "\tmov\tr4, r5\t@ one", "  box:  "}, end)
		c.open(doc, 1, text)
		ask := func(method string, more obj) []protocol.TextEdit {
			params := obj{"textDocument": obj{"uri": doc}, "options": obj{"tabSize": 4, "insertSpaces": true}}
			for k, v := range more {
				params[k] = v
			}
			return call[[]protocol.TextEdit](c, "textDocument/"+method, params)
		}
		lines := func(edits []protocol.TextEdit) (out []uint32) {
			for _, e := range edits {
				if e.Range.Start.Line != e.Range.End.Line || strings.ContainsAny(e.NewText, "\r\n") {
					t.Errorf("an edit reaches over a line: %+v", e)
				}
				out = append(out, e.Range.Start.Line)
			}
			return slices.Compact(out)
		}
		for _, tt := range []struct {
			method string
			more   obj
			want   []uint32
		}{
			{"formatting", nil, []uint32{1, 3}},
			{"rangeFormatting", obj{"range": rng(1, 3, 2, 0)}, []uint32{1}},
			{"rangeFormatting", obj{"range": rng(2, 0, 3, 2)}, []uint32{3}},
			{"rangeFormatting", obj{"range": rng(0, 0, 0, 0)}, nil},
			{"onTypeFormatting", obj{"position": pos(2, 0), "ch": "\n"}, []uint32{1}},
			{"onTypeFormatting", obj{"position": pos(0, 0), "ch": "\n"}, nil},
			{"onTypeFormatting", obj{"position": pos(3, 6), "ch": ":"}, []uint32{3}},
		} {
			if got := lines(ask(tt.method, tt.more)); !slices.Equal(got, tt.want) {
				t.Errorf("%s %v: edits in lines %v, want %v", tt.method, tt.more, got, tt.want)
			}
		}
		for method, params := range map[string]obj{"rangeFormatting": {"textDocument": obj{"uri": doc}}, "onTypeFormatting": {"textDocument": obj{"uri": doc}, "ch": ":"}, "formatting": {}} {
			if m := c.reply(c.start("textDocument/"+method, params)); m.Error == nil || m.Error.Code != -32602 {
				t.Errorf("%s %v: %+v", method, params, m.Error)
			}
		}
		// What is set wins over what the file has.
		c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"format": []string{"case=upper"}}}})
		if edits := ask("formatting", nil); !strings.Contains(asJSON(edits), `"MOV"`) {
			t.Errorf("the setting does not count: %s", asJSON(edits))
		}
	}
}

func asJSON(v any) string {
	data, _ := json.Marshal(v)
	return string(data)
}
