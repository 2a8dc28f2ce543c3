package server

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"go.lsp.dev/protocol"

	"narrowgauge/analysis"
	"narrowgauge/server/project"
)

const doc = "file:///box/points.s"

func toyClient(t testing.TB) *client {
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(allCaps(), nil)
	return c
}

func TestInitialize(t *testing.T) {
	for _, tt := range []struct {
		name string
		caps obj
		want encoding
	}{
		{"default", obj{}, utf16Columns},
		{"offers both", obj{"general": obj{"positionEncodings": []string{"utf-16", "utf-8"}}}, utf8Columns},
		{"offers another", obj{"general": obj{"positionEncodings": []string{"utf-32"}}}, utf16Columns},
		{"null", obj{"general": nil}, utf16Columns},
		{"range as an object", obj{"textDocument": obj{"semanticTokens": obj{"requests": obj{"range": obj{}}}}}, utf16Columns},
		{"tags as a flag", obj{"textDocument": obj{"publishDiagnostics": obj{"tagSupport": true}}}, utf16Columns},
	} {
		t.Run(tt.name, func(t *testing.T) {
			c := dial(t, Options{Version: "7"})
			r := c.initialize(tt.caps, nil)
			if r.Capabilities.PositionEncoding != tt.want {
				t.Errorf("encoding %q, want %q", r.Capabilities.PositionEncoding, tt.want)
			}
			if r.ServerInfo.Name != "narrowgauge" || r.ServerInfo.Version != "7" {
				t.Errorf("serverInfo %+v", r.ServerInfo)
			}
			if r.Capabilities.CodeActionProvider.ResolveProvider {
				t.Error("resolve without a client that can")
			}
		})
	}
}

func TestLifecycle(t *testing.T) {
	c := dial(t, Options{})
	code := func(m incoming) int32 {
		if m.Error == nil {
			return 0
		}
		return m.Error.Code
	}
	step := func(what string, method string, params any, want int32) {
		t.Helper()
		if got := code(c.reply(c.start(method, params))); got != want {
			t.Errorf("%s: code %d, want %d", what, got, want)
		}
	}
	step("before initialize", "textDocument/hover", at(doc, 0, 0), -32002)
	step("shutdown before initialize", "shutdown", nil, -32002)
	step("bad params", "initialize", obj{"capabilities": 7}, -32602)
	step("no params", "initialize", nil, -32602)
	step("initialize", "initialize", obj{"capabilities": obj{}}, 0)
	step("again", "initialize", obj{"capabilities": obj{}}, -32600)
	step("unknown", "no/such", obj{}, -32601)
	step("unknown $/", "$/no/such", obj{}, -32601)
	step("shutdown", "shutdown", obj{"anything": []int{1}}, 0)
	step("after shutdown", "textDocument/hover", at(doc, 0, 0), -32600)
	step("shutdown again", "shutdown", nil, -32600)
	c.notify("exit", obj{"x": 1})
	if got := <-c.code; got != 0 {
		t.Errorf("exit code %d", got)
	}
}

func TestExitWithoutShutdown(t *testing.T) {
	c := dial(t, Options{})
	c.initialize(obj{}, nil)
	c.notify("exit", nil)
	if got := <-c.code; got != 1 {
		t.Errorf("exit code %d, want 1", got)
	}
}

// The end of the input cancels what runs and ends the session.
func TestInputEnds(t *testing.T) {
	stopped := make(chan struct{})
	begun := make(chan struct{}, 10)
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		begun <- struct{}{}
		<-ctx.Done()
		close(stopped)
		return nil, ctx.Err()
	}})
	c.initialize(obj{}, nil)
	c.open(doc, 1, "x")
	<-begun
	c.in.Close()
	if got := <-c.code; got != 1 {
		t.Errorf("exit code %d, want 1", got)
	}
	<-stopped
}

// Whatever a client sends, the next request is answered.
func TestHostileFrames(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "word")
	for _, tt := range hostile {
		c.raw(tt.bytes + "\r\n\r\n")
		id := c.start("textDocument/hover", at(doc, 0, 1))
		if strings.HasPrefix(tt.name, "length too large") {
			id = c.start("textDocument/hover", at(doc, 0, 1)) // the first one was eaten
		}
		if m := c.reply(id); m.Error != nil {
			t.Fatalf("after %s: %+v", tt.name, m.Error)
		}
	}
}

func TestHostileParams(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "word")
	c.open("untitled:panic", 1, "panic")
	huge := float64(1 << 40)
	for _, tt := range []struct {
		method string
		params any
		code   int32
	}{
		{"textDocument/hover", nil, -32602},
		{"textDocument/hover", []int{1}, -32602},
		{"textDocument/hover", "x", -32602},
		{"textDocument/hover", obj{}, -32602},
		{"textDocument/hover", obj{"textDocument": obj{"uri": ""}, "position": pos(0, 0)}, -32602},
		{"textDocument/hover", obj{"textDocument": obj{"uri": 7}, "position": pos(0, 0)}, -32602},
		{"textDocument/hover", obj{"textDocument": obj{"uri": doc}}, -32602},
		{"textDocument/hover", at(doc, -1, 0), -32602},
		{"textDocument/hover", obj{"textDocument": obj{"uri": doc}, "position": obj{"line": huge, "character": 0}}, -32602},
		{"textDocument/hover", at("file:///other.s", 0, 0), -32602},
		{"textDocument/hover", at("%zz", 0, 0), -32602},
		{"textDocument/hover", at("file:///%00", 0, 0), -32602},
		{"textDocument/hover", at("file:///a%", 0, 0), -32602},
		{"textDocument/hover", at("git:", 0, 0), -32602},
		{"textDocument/hover", at("untitled:panic", 0, 0), -32603},
		{"textDocument/definition", nil, -32602},
		{"textDocument/documentSymbol", obj{}, -32602},
		{"textDocument/codeAction", obj{"textDocument": obj{"uri": doc}}, -32602},
		{"codeAction/resolve", obj{"title": "x", "data": 7}, -32602},
		{"codeAction/resolve", obj{"title": "x", "data": "{}"}, -32602},
		{"codeAction/resolve", []int{}, -32602},
		{"codeAction/resolve", obj{"title": "x"}, 0},
		{"textDocument/hover", at(doc, 1<<31-1, 1<<31-1), 0},
	} {
		m := c.reply(c.start(tt.method, tt.params))
		got := int32(0)
		if m.Error != nil {
			got = m.Error.Code
		}
		if got != tt.code {
			t.Errorf("%s %v: code %d, want %d", tt.method, tt.params, got, tt.code)
		}
	}
	// Notifications have no answer; they must only do no harm.
	for _, method := range []string{"textDocument/didOpen", "textDocument/didChange", "textDocument/didSave", "textDocument/didClose",
		"workspace/didChangeConfiguration", "workspace/didChangeWatchedFiles", "workspace/didChangeWorkspaceFolders", "$/cancelRequest", "$/setTrace", "initialized", "no/such"} {
		for _, params := range []any{nil, 7, "x", []int{}, obj{}, obj{"textDocument": nil}, obj{"textDocument": obj{"uri": "git:x"}}, obj{"settings": 7}, obj{"id": obj{}},
			obj{"changes": []obj{{"uri": "%"}}}, obj{"textDocument": obj{"uri": doc, "version": 2}, "contentChanges": []obj{{}}}} {
			c.notify(method, params)
		}
	}
	c.open(doc, 9, "word")
	if m := c.reply(c.start("textDocument/hover", at(doc, 0, 1))); m.Error != nil {
		t.Errorf("%+v", m.Error)
	}
}

// A finding of an unlucky analysis must not take the server along.
func TestPanicInAnalysis(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "boom")
	if m := c.reply(c.start("textDocument/hover", at(doc, 0, 0))); m.Error == nil || m.Error.Code != -32603 {
		t.Errorf("%+v", m.Error)
	}
	c.replace(doc, 2, "bad")
	c.findings(doc, 2, 1)
}

func TestCancel(t *testing.T) {
	for _, id := range []any{7, "seven", "", 0, -3} {
		t.Run(fmt.Sprint(id), func(t *testing.T) {
			hold := make(chan struct{})
			defer close(hold)
			c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
				select {
				case <-hold:
				case <-ctx.Done():
				}
				return toyAnalyze(ctx, in)
			}})
			c.initialize(obj{}, nil)
			c.open(doc, 1, "x")
			c.send(obj{"jsonrpc": "2.0", "id": id, "method": "textDocument/hover", "params": at(doc, 0, 0)})
			c.send(obj{"jsonrpc": "2.0", "id": id, "method": "textDocument/hover", "params": at(doc, 0, 0)})
			if m := c.reply(id); m.Error == nil || m.Error.Code != -32600 {
				t.Errorf("second use of an id: %+v", m.Error)
			}
			c.forget()
			c.notify("$/cancelRequest", obj{"id": id})
			if m := c.reply(id); m.Error == nil || m.Error.Code != -32800 {
				t.Errorf("%+v", m.Error)
			}
		})
	}
}

// A question about a text that has changed meanwhile is refused; a question
// about another document only waits longer.
func TestContentModified(t *testing.T) {
	begun := make(chan struct{}, 100)
	c := dial(t, Options{analyze: func(ctx context.Context, in *analysis.Input) (facts, error) {
		begun <- struct{}{}
		if in.File.Text() == "first" {
			<-ctx.Done()
		}
		return toyAnalyze(ctx, in)
	}})
	c.initialize(obj{}, nil)
	c.open(doc, 1, "first")
	<-begun
	stale := c.start("textDocument/hover", at(doc, 0, 0))
	c.open("file:///box/signals.s", 1, "other")
	other := c.start("textDocument/hover", at("file:///box/signals.s", 0, 0))
	c.replace(doc, 2, "second")
	if m := c.reply(stale); m.Error == nil || m.Error.Code != -32801 {
		t.Errorf("stale: %+v %s", m.Error, m.Result)
	}
	if m := c.reply(other); m.Error != nil || !strings.Contains(string(m.Result), "other") {
		t.Errorf("other: %+v %s", m.Error, m.Result)
	}
}

// Work on rewrites ends when the client or a change says so.
func TestSlowCodeAction(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "bad slow")
	c.findings(doc, 1, 1)
	ask := func() int {
		return c.start("textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "range": rng(0, 0, 0, 1), "context": obj{}})
	}
	first, second := ask(), ask()
	c.notify("$/cancelRequest", obj{"id": first})
	if m := c.reply(first); m.Error == nil || m.Error.Code != -32800 {
		t.Errorf("cancelled: %+v", m.Error)
	}
	c.replace(doc, 2, "bad")
	if m := c.reply(second); m.Error == nil || m.Error.Code != -32801 {
		t.Errorf("stale: %+v", m.Error)
	}
	if got := titles(actions(c, doc, "quickfix")); len(got) != 1 {
		t.Errorf("%q", got)
	}
}

// Changes are followed in order however many questions are under way.
func TestOrder(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 0, "")
	text := ""
	for v := 1; v <= 200; v++ {
		word := fmt.Sprintf("w%d ", v)
		text += word
		c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": doc, "version": v},
			"contentChanges": []obj{{"range": rng(0, len(text)-len(word), 0, len(text)-len(word)), "text": word}}})
		c.start("textDocument/hover", at(doc, 0, 0))
	}
	h := call[hover](c, "textDocument/hover", at(doc, 0, len(text)-1))
	if !strings.Contains(h.Contents.Value, "w200") {
		t.Errorf("hover %q", h.Contents.Value)
	}
	for id := 2; id <= 201; id++ {
		m := c.reply(id)
		if m.Error != nil && m.Error.Code != -32801 {
			t.Errorf("%d: %+v", id, m.Error)
		}
		if m.Error == nil && !strings.Contains(string(m.Result), "w1`") {
			t.Errorf("%d: %s", id, m.Result)
		}
	}
}

func TestDiagnostics(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 3, "ok\r\n\U0001F689 bad")
	p := c.findings(doc, 3, 1)
	d := p.Diagnostics[0]
	// utf-8 was negotiated: the station takes four bytes.
	if got := fmt.Sprint(d.Range.Start.Line, d.Range.Start.Character, d.Range.End.Character); got != "1 5 8" {
		t.Errorf("range %s", got)
	}
	if d.Severity != protocol.DiagnosticSeverityWarning || d.Source != "narrowgauge" || d.Code != "bad" || d.Message != "this is bad" {
		t.Errorf("%+v", d)
	}
	if len(d.Tags) != 1 || d.Tags[0] != protocol.DiagnosticTagUnnecessary || len(d.RelatedInformation) != 1 {
		t.Errorf("tags %v related %v", d.Tags, d.RelatedInformation)
	}
	if d.CodeDescription != nil {
		t.Errorf("a link to a check that nobody knows: %+v", d.CodeDescription)
	}
	c.replace(doc, 4, "ok")
	c.findings(doc, 4, 0)
	c.replace(doc, 5, "bad bad")
	c.findings(doc, 5, 2)
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": doc}})
	c.findings(doc, 0, 0)
}

// A client that announces nothing gets nothing that it may not understand.
func TestPlainClient(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(obj{}, nil)
	c.open(doc, 1, "\U0001F689 bad word:")
	d := c.findings(doc, 1, 1).Diagnostics[0]
	if d.Tags != nil || d.RelatedInformation != nil || d.CodeDescription != nil {
		t.Errorf("%+v", d)
	}
	if d.Range.Start.Character != 3 {
		t.Errorf("column %d, want 3: UTF-16 is the default", d.Range.Start.Character)
	}
	h := call[hover](c, "textDocument/hover", at(doc, 0, 4))
	if h.Contents != (markup{"plaintext", "bad\n\nthe word bad"}) {
		t.Errorf("hover %+v", h.Contents)
	}
	syms := call[[]protocol.SymbolInformation](c, "textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})
	if len(syms) != 2 || syms[1].ContainerName != "word" || string(syms[1].Location.URI) != doc {
		t.Errorf("%+v", syms)
	}
	if a := call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "range": rng(0, 0, 9, 0), "context": obj{"diagnostics": []any{}}}); len(a) != 0 {
		t.Errorf("%+v", a)
	}
}

func TestPlainMarkdown(t *testing.T) {
	const md = "## `add_to` **r0**\n\n---\nSee [the manual](https://x.invalid), *not* `*p_x*` and _start_of_it.\n\n\n| a | b |\n|---|---|\n| 1 | 2 |\n```asm\n# `kept` **so**\n```\n\\*star"
	const want = "add_to r0\n\nSee the manual, not *p_x* and _start_of_it.\n\n| a | b |\n| 1 | 2 |\n# `kept` **so**\n*star"
	if got := plain(md); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}

// What the client changes comes first, what depends on it later.
func TestTwoPhases(t *testing.T) {
	dir := t.TempDir()
	root, inc := fileURI(filepath.Join(dir, "a.s")), fileURI(filepath.Join(dir, "z.s"))
	c := dial(t, Options{analyze: toyAnalyze, DependentsDelay: time.Millisecond})
	c.initialize(allCaps(), nil)
	c.open(inc, 1, "ok")
	c.open(root, 1, `include "z.s" bad`)
	c.findings(root, 1, 1)
	c.findings(inc, 1, 0)
	c.replace(inc, 2, "bad meh")
	c.findings(inc, 2, 2)
	c.replace(inc, 3, "bad meh meh")
	c.findings(inc, 3, 3)
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": root}})
	c.findings(root, 0, 0)
	c.replace(inc, 4, "meh")
	c.findings(inc, 4, 1)
}

// Many documents, changes and questions at once: every request is answered,
// and the last findings are those of the last text. The race detector is the
// real judge here.
func TestStress(t *testing.T) {
	dir := t.TempDir()
	c := dial(t, Options{analyze: toyAnalyze, DependentsDelay: time.Microsecond})
	c.initialize(allCaps(), nil)
	const docs, rounds = 6, 60
	uri := func(i int) string { return fileURI(filepath.Join(dir, fmt.Sprintf("d%d.s", i%docs))) }
	for i := range docs {
		c.open(uri(i), 0, "")
	}
	var ids []int
	for v := 1; v <= rounds; v++ {
		for i := range docs {
			text := fmt.Sprintf("include \"d%d.s\" %s", (i+1)%docs, strings.Repeat("bad ", v%5))
			if v == rounds {
				text = "word " + strings.Repeat("meh ", i)
			}
			c.replace(uri(i), v, text)
			ids = append(ids, c.start("textDocument/hover", at(uri(i+v), 0, 3)))
			ids = append(ids, c.start("textDocument/documentSymbol", obj{"textDocument": obj{"uri": uri(v)}}))
			ids = append(ids, c.start("textDocument/codeAction", obj{"textDocument": obj{"uri": uri(i)}, "range": rng(0, 0, 9, 0), "context": obj{}}))
			c.notify("$/cancelRequest", obj{"id": ids[len(ids)-1-v%3]})
			switch v % 10 {
			case 3:
				c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": uri(i)}})
			case 7:
				c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"cpu": fmt.Sprint("c", v)}})
			}
		}
	}
	for i := range docs {
		c.findings(uri(i), rounds, i)
	}
	for _, id := range ids {
		if m := c.reply(id); m.Error != nil && m.Error.Code != -32800 && m.Error.Code != -32801 {
			t.Errorf("%d: %+v", id, m.Error)
		}
	}
}

// A change of a long file costs about what the analysis costs, not more.
func BenchmarkChange(b *testing.B) {
	var text strings.Builder
	text.WriteString("\t.syntax unified\n\t.thumb\n")
	for i := range 20_000 {
		fmt.Fprintf(&text, "f%d:\n\tmovs r0, #%d\n\tadds r1, r0, #%d\n\tstr r1, [r2]\n\tbx lr\n", i, i%256, i%8)
	}
	c := dial(b, Options{})
	c.initialize(allCaps(), nil)
	c.open(doc, 0, text.String())
	c.find("findings", func(m incoming) bool { return m.Method == "textDocument/publishDiagnostics" })
	v := 0
	for b.Loop() {
		v++
		c.forget()
		c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": doc, "version": v},
			"contentChanges": []obj{{"range": rng(50_002, 0, 50_002, 0), "text": " "}}})
		c.find("findings", func(m incoming) bool { return m.Method == "textDocument/publishDiagnostics" })
	}
}

func TestSymbolsAndDefinition(t *testing.T) {
	c := toyClient(t)
	c.open(doc, 1, "bell:\n\tword bell")
	syms := call[[]protocol.DocumentSymbol](c, "textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})
	if len(syms) != 1 || syms[0].Name != "bell" || len(syms[0].Children) != 1 || syms[0].Range.End.Line != 1 || syms[0].SelectionRange.End.Character != 4 {
		t.Errorf("%+v", syms)
	}
	locs := call[[]protocol.Location](c, "textDocument/definition", at(doc, 1, 7))
	if len(locs) != 1 || string(locs[0].URI) != doc || locs[0].Range.End.Character != 4 {
		t.Errorf("%+v", locs)
	}
	if locs := call[[]protocol.Location](c, "textDocument/definition", at(doc, 1, 2)); locs == nil || len(locs) != 0 {
		t.Errorf("%+v", locs)
	}
}

func TestReferences(t *testing.T) {
	const text = "\t.macro lamp number\n\t.byte \\number\n\t.endm\n\tlamp 1\n\tlamp 2\n"
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, text)
	for declared, want := range map[bool]int{true: 3, false: 2} {
		p := at(doc, 3, 2)
		p["context"] = obj{"includeDeclaration": declared}
		if locs := call[[]protocol.Location](c, "textDocument/references", p); len(locs) != want {
			t.Errorf("with the declaration %v: %+v", declared, locs)
		}
	}
}

func actions(c *client, uri string, only ...string) []codeAction {
	c.t.Helper()
	ctx := obj{"diagnostics": []any{}}
	if only != nil {
		ctx["only"] = only
	}
	return call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": uri}, "range": rng(0, 0, 0, 1), "context": ctx})
}

func titles(as []codeAction) (out []string) {
	for _, a := range as {
		out = append(out, a.Kind+" "+a.Title)
	}
	return out
}

func TestCodeActions(t *testing.T) {
	const (
		fix     = "quickfix make it good"
		fixCode = "quickfix Fix all 'bad' in this file (safe rewrites only)"
		all     = "source.fixAll.narrowgauge Apply all safe rewrites in this file"
	)
	c := toyClient(t)
	c.open(doc, 1, "bad meh bad")
	for _, tt := range []struct {
		only []string
		want []string
	}{
		{nil, []string{fix, fixCode, all}},
		{[]string{}, []string{fix, fixCode, all}},
		{[]string{"quickfix"}, []string{fix, fixCode}},
		{[]string{"quick"}, nil},
		{[]string{"quickfix.deep"}, nil},
		{[]string{"source"}, []string{all}},
		{[]string{"source.fixAll"}, []string{all}},
		{[]string{"source.fixAll.narrowgauge"}, []string{all}},
		{[]string{"source.fixAll.other"}, nil},
		{[]string{"refactor", "source"}, []string{all}},
	} {
		if got := titles(actions(c, doc, tt.only...)); fmt.Sprint(got) != fmt.Sprint(tt.want) {
			t.Errorf("only %v: %q, want %q", tt.only, got, tt.want)
		}
	}
	as := actions(c, doc)
	if a := as[0]; !a.IsPreferred || len(a.Diagnostics) != 1 || a.Diagnostics[0].Code != "bad" || a.Edit == nil ||
		len(a.Edit.DocumentChanges) != 1 || *a.Edit.DocumentChanges[0].TextDocument.Version != 1 || a.Edit.DocumentChanges[0].Edits[0].NewText != "good" {
		t.Errorf("%+v", a)
	}
	for _, a := range as[1:] {
		if a.Edit != nil || a.Data == "" {
			t.Errorf("not lazy: %+v", a)
		}
		r := call[codeAction](c, "codeAction/resolve", a)
		if r.Edit == nil || len(r.Edit.DocumentChanges[0].Edits) != 2 || r.Title != a.Title {
			t.Errorf("%+v", r)
		}
	}
	c.replace(doc, 2, "bad")
	if m := c.reply(c.start("codeAction/resolve", as[1])); m.Error == nil || m.Error.Code != int32(protocol.CodeContentModified) {
		t.Errorf("resolve of an old version: %+v", m)
	}
	if got := titles(actions(c, doc, "quickfix")); fmt.Sprint(got) != fmt.Sprint([]string{fix}) {
		t.Errorf("one finding: %q", got)
	}
}

func TestCodeActionsWithoutResolve(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(obj{"textDocument": obj{"codeAction": obj{"codeActionLiteralSupport": obj{}}}}, nil)
	c.open("untitled:Untitled-1", 1, "bad bad")
	as := actions(c, "untitled:Untitled-1", "quickfix", "source")
	if len(as) != 3 {
		t.Fatalf("%q", titles(as))
	}
	for _, a := range as[1:] {
		if a.Edit == nil || len(a.Edit.Changes["untitled:Untitled-1"]) != 2 || a.Edit.DocumentChanges != nil || a.Data != "" {
			t.Errorf("%+v", a)
		}
	}
}

func write(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestIncludes(t *testing.T) {
	dir := t.TempDir()
	inc, root := filepath.Join(dir, "sensors.inc"), filepath.Join(dir, "box.s")
	write(t, inc, "bad\n")
	c := toyClient(t)
	c.open(fileURI(root), 1, `include "sensors.inc"`)
	c.findings(fileURI(root), 1, 0)
	c.findings(fileURI(inc), 0, 1)

	// The disk changes, and the client says so.
	write(t, inc, "bad bad now\n")
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(inc), "type": 2}}})
	c.findings(fileURI(inc), 0, 2)

	// An open buffer wins over the disk, under the client's own spelling.
	odd := strings.Replace(fileURI(inc), "sensors", "%73ensors", 1)
	c.open(odd, 5, "bad bad bad")
	c.findings(odd, 5, 3)
	c.replace(odd, 6, "meh")
	if d := c.findings(odd, 6, 1).Diagnostics[0]; d.Code != "meh" {
		t.Errorf("%+v", d)
	}

	// Closed again, the disk counts.
	c.forget()
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": odd}})
	c.findings(fileURI(inc), 0, 2)
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": fileURI(root)}})
	c.findings(fileURI(inc), 0, 0)
}

// A file that appears where an include looked for one is found.
func TestIncludeAppears(t *testing.T) {
	dir := t.TempDir()
	root := fileURI(filepath.Join(dir, "box.s"))
	c := toyClient(t)
	c.open(root, 1, `include "later.inc"`)
	c.findings(root, 1, 1)
	write(t, filepath.Join(dir, "later.inc"), "fine")
	c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": root}})
	c.findings(root, 1, 0)
}

func TestSettings(t *testing.T) {
	dir := t.TempDir()
	root := fileURI(filepath.Join(dir, "src", "box.s"))
	show := func(c *client, want string) {
		t.Helper()
		c.find("cpu "+want, func(m incoming) bool {
			return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), want)
		})
	}
	c := dial(t, Options{analyze: toyAnalyze})
	caps := allCaps()
	c.initialize(caps, obj{"rootUri": fileURI(dir), "initializationOptions": obj{"cpu": "arm7tdmi", "include": []string{"lib"}}})
	c.open(root, 1, "show")
	show(c, "cpu=arm7tdmi include="+filepath.Join(dir, "lib"))
	c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"narrowgauge": obj{"cpu": "cortex-m0", "include": 7}}})
	show(c, "cpu=cortex-m0")
	c.find("complaint", func(m incoming) bool {
		return m.Method == "window/showMessage" && strings.Contains(string(m.Params), "include")
	})
	// The project file wins and the editor fills.
	write(t, filepath.Join(dir, project.FileName), `{"cpu":"cortex-m3","include":["inc"]}`)
	c.notify("workspace/didChangeWatchedFiles", obj{"changes": []obj{{"uri": fileURI(filepath.Join(dir, project.FileName)), "type": 1}}})
	show(c, "cpu=cortex-m3 include="+filepath.Join(dir, "inc"))
	write(t, filepath.Join(dir, project.FileName), `{"include":["inc2"]} x`)
	c.notify("textDocument/didSave", obj{"textDocument": obj{"uri": root}})
	c.find("complaint about the project file", func(m incoming) bool {
		return m.Method == "window/showMessage" && strings.Contains(string(m.Params), project.FileName)
	})
}

func TestPulledSettings(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	c.answers["workspace/configuration"] = []obj{{"cpu": "cortex-m4"}}
	c.answers["client/registerCapability"] = nil
	caps := allCaps()
	caps["workspace"] = obj{"configuration": true,
		"didChangeConfiguration": obj{"dynamicRegistration": true}, "didChangeWatchedFiles": obj{"dynamicRegistration": true}}
	c.initialize(caps, nil)
	c.open(doc, 1, "show")
	m := c.find("findings", func(m incoming) bool { return m.Method == "textDocument/publishDiagnostics" })
	if !strings.Contains(string(m.Params), "cpu=cortex-m4") {
		t.Errorf("the first findings came before the settings: %s", m.Params)
	}
	m = c.find("registration", func(m incoming) bool { return m.Method == "client/registerCapability" })
	if !strings.Contains(string(m.Params), "narrowgauge.json") || !strings.Contains(string(m.Params), "didChangeConfiguration") {
		t.Errorf("%s", m.Params)
	}
	c.mu.Lock()
	c.answers["workspace/configuration"] = []obj{{"cpu": "cortex-m7"}}
	c.mu.Unlock()
	c.notify("workspace/didChangeConfiguration", obj{"settings": nil})
	c.find("new settings", func(m incoming) bool {
		return m.Method == "textDocument/publishDiagnostics" && strings.Contains(string(m.Params), "cpu=cortex-m7")
	})
}

// A client that answers twice, or late, or oddly.
func TestHostileAnswers(t *testing.T) {
	c := dial(t, Options{analyze: toyAnalyze})
	c.initialize(obj{"workspace": obj{"configuration": true}}, nil)
	ask := c.find("question", func(m incoming) bool { return m.Method == "workspace/configuration" })
	for range 5 {
		c.send(obj{"jsonrpc": "2.0", "id": ask.ID, "result": obj{"not": "a list"}})
	}
	c.send(obj{"jsonrpc": "2.0", "id": ask.ID, "error": "odd"})
	c.open(doc, 1, "bad")
	c.findings(doc, 1, 1)
}

// The server works with the real analysis as well.
func TestRealAnalysis(t *testing.T) {
	c := dial(t, Options{})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "\t.syntax unified\n\t.cpu cortex-m0\n\t.thumb\nbell:\tadd r0, r1, r2\n\tadd r3, r4, r5\n\tcmp r0, #1\n\tbx lr\n")
	c.findings(doc, 1, 2)
	for _, method := range []string{"textDocument/hover", "textDocument/definition"} {
		if m := c.reply(c.start(method, at(doc, 3, 7))); m.Error != nil {
			t.Errorf("%s: %+v", method, m.Error)
		}
	}
	if m := c.reply(c.start("textDocument/documentSymbol", obj{"textDocument": obj{"uri": doc}})); m.Error != nil {
		t.Errorf("%+v", m.Error)
	}
	as := call[[]codeAction](c, "textDocument/codeAction", obj{"textDocument": obj{"uri": doc}, "range": rng(4, 3, 4, 3), "context": obj{}})
	if len(as) < 3 || as[0].Edit == nil || !as[0].IsPreferred || len(as[0].Diagnostics) != 1 {
		t.Fatalf("%+v", as)
	}
	all := call[codeAction](c, "codeAction/resolve", as[len(as)-1])
	if all.Kind != kindFixAll || all.Edit == nil || len(all.Edit.DocumentChanges[0].Edits) == 0 {
		t.Errorf("%+v", all)
	}
}
