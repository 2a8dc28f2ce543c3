package server

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"go.uber.org/zap"
	"go.uber.org/zap/zaptest/observer"

	"narrowgauge/analysis"
)

// What is wrong with a request is said in words.
func TestErrorMessages(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "bad")
	c.findings(doc, 1, 1)
	for _, tt := range []struct {
		method string
		params any
		want   string
	}{
		{"textDocument/hover", at("file:///box/gone.s", 0, 0), "-32602 not an open document: file:///box/gone.s"},
		{"textDocument/documentSymbol", obj{"textDocument": obj{"uri": "file:///box/gone.s"}}, "-32602 not an open document: file:///box/gone.s"},
		{"textDocument/codeAction", obj{"textDocument": obj{"uri": "file:///box/gone.s"}, "range": rng(0, 0, 0, 0), "context": obj{}}, "-32602 not an open document: file:///box/gone.s"},
		{"textDocument/hover", at("", 0, 0), "-32602 a document needs a URI"},
		{"textDocument/hover", nil, "-32602 params are missing"},
		{"textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "context": obj{}}, "-32602 range is missing"},
		{"codeAction/resolve", obj{"title": "x", "data": "no"}, "-32602 data is not what codeAction has sent"},
		{"codeAction/resolve", obj{"title": "x", "data": `{"uri":"` + doc + `","version":2,"code":"bad"}`}, "-32801 the document has changed"},
		{"codeAction/resolve", obj{"title": "x", "data": `{"uri":"` + doc + `","version":0,"code":"bad"}`}, "-32801 the document has changed"},
		{"initialize", obj{"capabilities": obj{}}, "-32600 initialize was sent twice"},
		{"yard/light", obj{}, `-32601 no method "yard/light"`},
		{"shutdown", nil, ""},
		{"textDocument/hover", at(doc, 0, 0), "-32600 the server has been shut down"},
	} {
		got := ""
		if m := c.reply(c.start(tt.method, tt.params)); m.Error != nil {
			got = fmt.Sprintf("%d %s", m.Error.Code, m.Error.Message)
		}
		if got != tt.want {
			t.Errorf("%s %v: %q, want %q", tt.method, tt.params, got, tt.want)
		}
	}
}

// An id is free again when its request has been answered.
func TestIDAgain(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "word")
	for range 3 {
		c.forget()
		c.send(obj{"jsonrpc": "2.0", "id": "lamp", "method": "textDocument/hover", "params": at(doc, 0, 0)})
		if m := c.reply("lamp"); m.Error != nil {
			t.Fatalf("%+v", m.Error)
		}
	}
}

// A document may have any name that the client likes.
func TestOddNames(t *testing.T) {
	c := toyClient(t)
	for _, uri := range []string{"points.s", "git:a%4", "git:a%", "git:%zz", "untitled:Box 1", "file:///a%20b.s", "FILE:///c.s"} {
		c.open(uri, 1, "bad")
		c.findings(uri, 1, 1)
		if h := call[hover](c, "textDocument/hover", at(uri, 0, 1)); !strings.Contains(h.Contents.Value, "bad") {
			t.Errorf("%s: %+v", uri, h)
		}
	}
	// Spellings of one name are one document (RFC 3986, section 6.2.2).
	for _, tt := range [][2]string{{"git:a%7eb", "git:a~b"}, {"git:%41%5A%30%2d", "GIT:AZ0-"}, {"git:%c3%a4", "git:%C3%A4"}, {"file://localhost/x/../y.s", "file:///y.s"}} {
		c.open(tt[0], 1, "word")
		if m := c.reply(c.start("textDocument/hover", at(tt[1], 0, 1))); m.Error != nil {
			t.Errorf("%s is not %s: %+v", tt[1], tt[0], m.Error)
		}
	}
	// Others are not: an escape may be for a character that means something.
	for _, tt := range [][2]string{{"git:x%2fy", "git:x/y"}, {"git:p%40q", "git:p@q"}, {"git:r%60s", "git:r`s"}, {"git:u%5bv", "git:u[v"}, {"git:w%3aw", "git:w:w"}, {"file://host/v.s", "file:///v.s"}} {
		c.open(tt[0], 1, "word")
		if m := c.reply(c.start("textDocument/hover", at(tt[1], 0, 1))); m.Error == nil {
			t.Errorf("%s is %s", tt[1], tt[0])
		}
	}
}

// A client is asked to watch for changes if it can, and only then; if it
// refuses, the log says so.
func TestRegistration(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "bad")
	c.findings(doc, 1, 1)
	call[hover](c, "textDocument/hover", at(doc, 0, 1))
	c.mu.Lock()
	for _, m := range c.log {
		if m.Method != "" && m.ID != nil {
			t.Errorf("asked: %s", m.Method)
		}
	}
	c.mu.Unlock()
	core, logs := observer.New(zap.WarnLevel)
	c = dial(t, Options{analyze: toyAnalyze, Log: zap.New(core)})
	caps := allCaps()
	caps["workspace"] = obj{"didChangeWatchedFiles": obj{"dynamicRegistration": true}}
	c.initialize(caps, nil)
	ask := c.find("registration", func(m incoming) bool { return m.Method == "client/registerCapability" })
	if s := string(ask.Params); strings.Count(s, `"method"`) != 1 || !strings.Contains(s, "workspace/didChangeWatchedFiles") || !strings.Contains(s, "compile_commands.json") {
		t.Errorf("%s", s)
	}
	c.send(obj{"jsonrpc": "2.0", "id": ask.ID, "error": obj{"code": -32601, "message": "no"}})
	for i := 0; logs.FilterMessage("no dynamic registration").Len() == 0; i++ {
		if i > 2000 {
			t.Fatalf("nothing in the log: %v", logs.All())
		}
		c.reply(c.start("yard/light", nil))
	}
}

// What another root says of a document decides which of its rewrites are
// offered: those of findings that the client sees.
func TestActionsOfShownFindings(t *testing.T) {
	dir := t.TempDir()
	const text = "\t.ifndef LAMPS\n\tadd r0, r1, r2\n\t.endif\n\tadd r3, r4, r5\n\tcmp r0, #1\n"
	part, main := fileURI(filepath.Join(dir, "part.s")), fileURI(filepath.Join(dir, "main.s"))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	const head = "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\n"
	c.open(main, 1, head+"\t.equ LAMPS, 1\n\t.include \"part.s\"\n\tbx lr\n")
	c.open(part, 1, head+text)
	c.find("the root's findings", func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), "part.s") && strings.Count(string(m.Params), "flags-form") == 1+1 // code and link
	})
	on := func(line int) []string {
		return titles(call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": part}, "range": rng(line, 2, line, 2), "context": obj{"only": []string{"quickfix"}}}))
	}
	if got := on(4); len(got) != 0 {
		t.Errorf("a finding that is not shown: %q", got)
	}
	if got := on(6); len(got) == 0 {
		t.Error("nothing for a finding that is shown")
	}
}

// Fix all is for two findings of one kind, and for safe rewrites.
func TestFixAllOfOneKind(t *testing.T) {
	c := toyClient(t)
	for v, tt := range []struct {
		text string
		want int
	}{{"bad meh meh", 1}, {"bad bad meh", 2}, {"meh meh", 0}} {
		uri := fmt.Sprintf("file:///box/%d.s", v)
		c.open(uri, 1, tt.text)
		got := actions(c, uri, "quickfix")
		if len(got) != tt.want {
			t.Errorf("%s: %q", tt.text, titles(got))
		}
		for _, a := range got {
			if len(a.Diagnostics) != 1 || a.Diagnostics[0].Code != "bad" {
				t.Errorf("%s: %s: %+v", tt.text, a.Title, a.Diagnostics)
			}
		}
	}
	// Two findings whose rewrites need a look have none.
	c = dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		f, err := toyAnalyze(ctx, in)
		return unsafeToy{f.(*toy)}, err
	}})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "bad bad")
	if got := fmt.Sprint(titles(actions(c, doc, "quickfix"))); got != "[quickfix make it good]" {
		t.Errorf("%s", got)
	}
}

// unsafeToy has rewrites that need a look.
type unsafeToy struct{ *toy }

func (t unsafeToy) Actions(ctx context.Context, span analysis.Span) []analysis.Action {
	out := t.toy.Actions(ctx, span)
	for i := range out {
		out[i].Safe = false
	}
	return out
}

// A setting with a value that nobody knows is reported, with what is close to
// it if anything is.
func TestUnknownSettings(t *testing.T) {
	for _, tt := range []struct{ cpu, want, not string }{
		{"cortex-m00", "cortex-m0", ""},
		{"signal-box-with-many-levers", "signal-box-with-many-levers", "similar names"},
	} {
		c := dial(t, Options{analyze: toyAnalyze})
		c.initialize(allCaps(), obj{"initializationOptions": obj{"cpu": tt.cpu}})
		c.open(doc, 1, "bad")
		m := c.find("a message about "+tt.cpu, func(m incoming) bool {
			return m.Method == "window/showMessage" && strings.Contains(string(m.Params), tt.cpu)
		})
		if s := string(m.Params); !strings.Contains(s, tt.want) || tt.not != "" && strings.Contains(s, tt.not) {
			t.Errorf("%s: %s", tt.cpu, s)
		}
		c.findings(doc, 1, 1)
	}
}
