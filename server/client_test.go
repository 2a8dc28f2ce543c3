package server

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/analysis/syntax"
)

// patience is how long a test waits for what must happen. It is long because
// it only bounds a failure.
const patience = time.Minute

// client is the other end of a session, in the same process. It has its own
// framing, so that an error in the server's cannot hide in both.
type client struct {
	t    testing.TB
	in   io.WriteCloser
	code chan int

	mu    sync.Mutex
	cond  *sync.Cond
	log   []incoming
	ended bool
	next  int
	// answers gives the result for requests of the server, by method.
	answers map[string]any
}

type incoming struct {
	ID     json.RawMessage `json:"id"`
	Method string          `json:"method"`
	Params json.RawMessage `json:"params"`
	Result json.RawMessage `json:"result"`
	Error  *wireError      `json:"error"`
}

func dial(t testing.TB, opt Options) *client {
	t.Helper()
	if opt.answerWithin == 0 {
		opt.answerWithin = patience // the machine may be busy
	}
	inR, inW := io.Pipe()
	outR, outW := io.Pipe()
	c := &client{t: t, in: inW, code: make(chan int, 1), answers: map[string]any{}}
	c.cond = sync.NewCond(&c.mu)
	if opt.CacheDir == "" {
		opt.CacheDir = t.TempDir()
	}
	if opt.DependentsDelay == 0 {
		opt.DependentsDelay = -1
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{})
	go func() {
		c.code <- Serve(ctx, inR, outW, opt)
		outW.Close()
		close(done)
	}()
	read := make(chan struct{})
	go func() { defer close(read); c.read(outR) }()
	t.Cleanup(func() {
		cancel()
		inW.Close()
		<-done
		<-read
	})
	return c
}

func (c *client) read(r io.Reader) {
	in := bufio.NewReader(r)
	for {
		body, err := unframed(in)
		if err != nil {
			c.mu.Lock()
			c.ended = true
			c.mu.Unlock()
			c.cond.Broadcast()
			if errors.Is(err, io.ErrUnexpectedEOF) {
				panic(err)
			}
			return
		}
		var m incoming
		if err := json.Unmarshal(body, &m); err != nil {
			panic(err)
		}
		c.mu.Lock()
		c.log = append(c.log, m)
		answer, ok := c.answers[m.Method]
		c.mu.Unlock()
		c.cond.Broadcast()
		if m.ID != nil && m.Method != "" && ok {
			body, err := json.Marshal(map[string]any{"jsonrpc": "2.0", "id": m.ID, "result": answer})
			if err != nil {
				panic(err)
			}
			// The test may be over by now, and the server with it.
			go io.WriteString(c.in, frame(string(body)))
		}
	}
}

// unframed reads the body of the next frame. The error is io.ErrUnexpectedEOF for a frame
// that breaks off.
func unframed(in *bufio.Reader) ([]byte, error) {
	length := -1
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return nil, err
		}
		if line == "\r\n" {
			break
		}
		if v, ok := strings.CutPrefix(line, "Content-Length: "); ok {
			length, _ = strconv.Atoi(strings.TrimSpace(v))
		}
	}
	body := make([]byte, length)
	if _, err := io.ReadFull(in, body); err != nil {
		return nil, io.ErrUnexpectedEOF
	}
	return body, nil
}

func (c *client) raw(s string) {
	if _, err := io.WriteString(c.in, s); err != nil {
		c.t.Errorf("the server no longer reads: %v", err)
	}
}

func frame(body string) string { return fmt.Sprintf("Content-Length: %d\r\n\r\n%s", len(body), body) }

func (c *client) send(msg any) {
	body, err := json.Marshal(msg)
	if err != nil {
		panic(err)
	}
	c.raw(frame(string(body)))
}

func (c *client) notify(method string, params any) {
	c.send(map[string]any{"jsonrpc": "2.0", "method": method, "params": params})
}

// find waits for a message that pred accepts.
func (c *client) find(what string, pred func(m incoming) bool) incoming {
	c.t.Helper()
	timeout := time.AfterFunc(patience, func() {
		c.mu.Lock()
		c.ended = true
		c.mu.Unlock()
		c.cond.Broadcast()
	})
	defer timeout.Stop()
	c.mu.Lock()
	defer c.mu.Unlock()
	for i := 0; ; i++ {
		for i >= len(c.log) {
			if c.ended {
				c.t.Fatalf("no %s; got %s", what, show(c.log))
			}
			c.cond.Wait()
		}
		if pred(c.log[i]) {
			return c.log[i]
		}
	}
}

// heard are the messages of a method that have come so far.
func (c *client) heard(method string) (out []incoming) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, m := range c.log {
		if m.Method == method {
			out = append(out, m)
		}
	}
	return out
}

func show(log []incoming) string {
	var b strings.Builder
	for _, m := range log {
		j, _ := json.Marshal(m)
		b.WriteString("\n\t" + string(j))
	}
	return b.String()
}

// start sends a request and returns its id.
func (c *client) start(method string, params any) int {
	c.mu.Lock()
	c.next++
	id := c.next
	c.mu.Unlock()
	c.send(map[string]any{"jsonrpc": "2.0", "id": id, "method": method, "params": params})
	return id
}

func (c *client) reply(id any) incoming {
	c.t.Helper()
	want, _ := json.Marshal(id)
	return c.find("answer to "+string(want), func(m incoming) bool {
		return m.Method == "" && string(m.ID) == string(want)
	})
}

// call sends a request and decodes the result.
func call[T any](c *client, method string, params any) T {
	c.t.Helper()
	m := c.reply(c.start(method, params))
	if m.Error != nil {
		c.t.Fatalf("%s: error %d %s", method, m.Error.Code, m.Error.Message)
	}
	var out T
	if err := json.Unmarshal(m.Result, &out); err != nil {
		c.t.Fatalf("%s: %v in %s", method, err, m.Result)
	}
	return out
}

type obj = map[string]any

// allCaps is a client that can do everything we use.
func allCaps() obj {
	return obj{
		"general": obj{"positionEncodings": []string{"utf-16", "utf-8"}},
		"workspace": obj{
			"workspaceEdit": obj{"documentChanges": true},
		},
		"textDocument": obj{
			"hover":              obj{"contentFormat": []string{"markdown", "plaintext"}},
			"documentSymbol":     obj{"hierarchicalDocumentSymbolSupport": true},
			"publishDiagnostics": obj{"relatedInformation": true, "versionSupport": true, "codeDescriptionSupport": true, "tagSupport": obj{"valueSet": []int{1, 2}}},
			"codeAction": obj{
				"codeActionLiteralSupport": obj{"codeActionKind": obj{"valueSet": []string{"quickfix"}}},
				"isPreferredSupport":       true, "dataSupport": true,
				"resolveSupport": obj{"properties": []string{"edit"}},
			},
		},
	}
}

func (c *client) initialize(caps obj, more obj) initializeResult {
	c.t.Helper()
	params := obj{"processId": nil, "rootUri": nil, "capabilities": caps}
	for k, v := range more {
		params[k] = v
	}
	r := call[initializeResult](c, "initialize", params)
	c.notify("initialized", obj{})
	return r
}

func (c *client) open(uri string, version int, text string) {
	c.notify("textDocument/didOpen", obj{"textDocument": obj{"uri": uri, "languageId": "asm", "version": version, "text": text}})
}

func (c *client) replace(uri string, version int, text string) {
	c.notify("textDocument/didChange", obj{"textDocument": obj{"uri": uri, "version": version}, "contentChanges": []obj{{"text": text}}})
}

// findings waits for the findings of a version of a document; version 0 is
// any message without a version. n is the number of findings to wait for.
func (c *client) findings(uri string, version int, n int) publishParams {
	c.t.Helper()
	var p publishParams
	c.find(fmt.Sprintf("%d findings of %s version %d", n, uri, version), func(m incoming) bool {
		if m.Method != "textDocument/publishDiagnostics" {
			return false
		}
		p = publishParams{}
		if err := json.Unmarshal(m.Params, &p); err != nil {
			c.t.Fatal(err)
		}
		v := 0
		if p.Version != nil {
			v = int(*p.Version)
		}
		return p.URI == uri && v == version && len(p.Diagnostics) == n
	})
	return p
}

// forget drops the messages so far, so that find sees later ones only.
func (c *client) forget() {
	c.mu.Lock()
	c.log = nil
	c.mu.Unlock()
}

func pos(line, char int) obj { return obj{"line": line, "character": char} }

func rng(l0, c0, l1, c1 int) obj { return obj{"start": pos(l0, c0), "end": pos(l1, c1)} }

func at(uri string, line, char int) obj {
	return obj{"textDocument": obj{"uri": uri}, "position": pos(line, char)}
}

// toy is an analysis of a toy language, to test what surrounds the real one:
// the word "bad" is a finding with a safe rewrite to "good", "meh" one
// without; `include "x"` includes; every word has a hover; "word:" is a symbol
// and "boom" panics. Arch is reported where it says "show".
type toy struct {
	in       *analysis.Input
	diags    []analysis.Diagnostic
	includes []string
	texts    map[string]string // by path
}

var toyWord = regexp.MustCompile(`include "([^"]*)"|[^\s:]+:?`)

func toyAnalyze(ctx context.Context, in *analysis.Input) (facts, error) {
	t := &toy{in: in, texts: map[string]string{}}
	t.visit(in.Path, in.File, 0)
	return t, ctx.Err()
}

func (t *toy) visit(name string, f *syntax.File, depth int) {
	text := f.Text()
	t.texts[name] = text
	for _, m := range toyWord.FindAllStringSubmatchIndex(text, -1) {
		loc := analysis.Location{Path: name, Span: analysis.Span{Start: m[0], End: m[1]}}
		add := func(code, msg string, sev analysis.Severity) {
			t.diags = append(t.diags, analysis.Diagnostic{Location: loc, Code: code, Message: msg, Severity: sev,
				Related: []analysis.Related{{Location: loc, Message: "here"}}, Unneeded: true})
		}
		switch word := text[m[0]:m[1]]; {
		case m[2] >= 0 && depth < 5:
			p, inc, ok := t.in.Load(analysis.Wanted{From: name, Name: text[m[2]:m[3]]})
			if !ok {
				add("lost", "not found: "+path.Base(text[m[2]:m[3]]), analysis.Error)
				continue
			}
			t.includes = append(t.includes, p)
			t.visit(p, inc, depth+1)
		case word == "bad":
			add("bad", "this is bad", analysis.Warning)
		case word == "meh":
			add("meh", "this is meh", analysis.Hint)
		case word == "show":
			add("show", "cpu="+t.in.Set.CPU+" include="+strings.Join(t.in.Set.Include, ","), analysis.Information)
		case word == "boom":
			panic("boom")
		}
	}
}

func (t *toy) Diagnostics() []analysis.Diagnostic {
	var out []analysis.Diagnostic
	for _, root := range []bool{true, false} {
		for _, d := range t.diags {
			if (d.Path == t.in.Path) == root {
				out = append(out, d)
			}
		}
	}
	return out
}

func (t *toy) Includes() []string { return t.includes }

func (t *toy) Inactive() []analysis.Location { return nil }

func (t *toy) Actions(ctx context.Context, span analysis.Span) (out []analysis.Action) {
	if strings.Contains(t.in.File.Text(), "slow") {
		<-ctx.Done()
		return nil
	}
	for _, d := range t.Diagnostics() {
		if d.Path == t.in.Path && d.Code == "bad" && d.Span.Start <= span.End && span.Start <= d.Span.End {
			out = append(out, analysis.Action{Title: "make it good", Rewrite: "good", Code: "bad", Target: d.Span, Safe: true, Preferred: true,
				Edits: []analysis.Edit{{Span: d.Span, New: "good"}}})
		}
	}
	return out
}

func (t *toy) SafeFixes(_ context.Context, code string) (out []analysis.Edit) {
	if code != "" && code != "bad" {
		return nil
	}
	for _, a := range t.Actions(context.Background(), analysis.Span{End: len(t.in.File.Text())}) {
		out = append(out, a.Edits...)
	}
	return out
}

func (t *toy) word(path string, off int) (analysis.Span, string, bool) {
	text := t.texts[path]
	for _, m := range toyWord.FindAllStringIndex(text, -1) {
		if m[0] <= off && off <= m[1] {
			return analysis.Span{Start: m[0], End: m[1]}, text[m[0]:m[1]], true
		}
	}
	return analysis.Span{}, "", false
}

func (t *toy) HoverIn(path string, off int) (analysis.Hover, bool) {
	span, word, ok := t.word(path, off)
	if word == "panic" {
		panic("hover")
	}
	return analysis.Hover{Span: span, Markdown: "# " + word + "\n\nthe **word** `" + word + "`"}, ok
}

func (t *toy) TargetIn(path string, off int) analysis.TargetFact {
	return analysis.TargetFact{Name: "toy", Line: -1, From: analysis.ByDefault}
}

func (t *toy) FoldsIn(string) []analysis.Fold { return []analysis.Fold{{Last: 1}} }

func (t *toy) Around(path string) func(off int) []analysis.Span {
	return func(off int) []analysis.Span {
		span, _, _ := t.word(path, off)
		return []analysis.Span{span, {End: len(t.texts[path])}}
	}
}

func (t *toy) CompletionsAmong(path string, off int, _ func(func(analysis.Elsewhere))) ([]analysis.Completion, analysis.Span) {
	span, word, _ := t.word(path, off)
	return []analysis.Completion{{Text: word + "s", Kind: analysis.CompleteLabel, Detail: "more of them"}}, span
}

func (t *toy) IncludedIn(string, int) (analysis.Included, bool) { return analysis.Included{}, false }

func (t *toy) Documentation(name string) string { return "about " + name }

func (t *toy) ReferencesIn(path string, off int) []analysis.Location {
	return t.DefinitionIn(path, off)
}

func (t *toy) DefinitionIn(path string, off int) (out []analysis.Location) {
	_, word, _ := t.word(path, off)
	for _, in := range append([]string{t.in.Path}, t.includes...) {
		for _, s := range t.SymbolsIn(in) {
			if s.Name == word {
				out = append(out, analysis.Location{Path: in, Span: s.NameSpan})
			}
		}
	}
	return out
}

func (t *toy) SymbolsIn(path string) (out []analysis.DocSymbol) {
	text := t.texts[path]
	for _, m := range toyWord.FindAllStringIndex(text, -1) {
		if name, ok := strings.CutSuffix(text[m[0]:m[1]], ":"); ok {
			s := analysis.DocSymbol{Name: name, NameSpan: analysis.Span{Start: m[0], End: m[1] - 1}, Full: analysis.Span{Start: m[0], End: len(text)}}
			s.Children = []analysis.DocSymbol{{Name: name + ".child", NameSpan: s.NameSpan, Full: s.NameSpan, Kind: analysis.SymData}}
			out = append(out, s)
		}
	}
	return out
}
