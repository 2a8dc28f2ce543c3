package server

import (
	"strings"
	"testing"

	"narrowgauge/analysis"
)

// TestInlayHints asks for hints with settings, without, and after a change of the settings,
// which asks the client to ask again.
func TestInlayHints(t *testing.T) {
	const text = "\t.syntax unified\n\t.thumb\n\t.equ LAMP, 64\n😀:\tldr r0, =LAMP+2 @ x\n\tbx lr\n"
	c := dial(t, Options{})
	caps := allCaps()
	caps["workspace"] = obj{"inlayHint": obj{"refreshSupport": true}}
	caps["general"] = obj{"positionEncodings": []string{"utf-16"}}
	c.initialize(caps, nil)
	c.open(doc, 1, text)
	c.find("findings", func(m incoming) bool { return m.Method == "textDocument/publishDiagnostics" })
	ask := func() (out []string) {
		for _, h := range call[[]inlayHint](c, "textDocument/inlayHint", obj{"textDocument": obj{"uri": doc}, "range": rng(0, 0, 9, 0)}) {
			if h.Position.Line == 3 && h.Position.Character != 19 {
				t.Errorf("%+v", h)
			}
			out = append(out, h.Label[0].Value)
		}
		return out
	}
	for _, x := range []struct {
		setting []string
		want    string
	}{{nil, "= 66"}, {[]string{"none"}, ""}, {[]string{"code", "offset"}, "+0x0|00 48|+0x2|70 47"}, {[]string{"pool", "sorry"}, "pool +0"}} {
		if x.setting != nil {
			c.forget()
			c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"hints": x.setting}}})
			c.find("a refresh", func(m incoming) bool { return m.Method == "workspace/inlayHint/refresh" })
		}
		if got := strings.Join(ask(), "|"); got != x.want {
			t.Errorf("%v: %s, want %s", x.setting, got, x.want)
		}
	}
	c.find("a warning", func(m incoming) bool {
		return m.Method == "window/showMessage" && strings.Contains(string(m.Params), "sorry")
	})
	if len(analysis.HintsAtFirst) >= len(analysis.HintKinds) {
		t.Error("all are shown at first")
	}
}
