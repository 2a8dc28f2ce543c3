package server

import (
	"context"
	"path/filepath"
	"slices"
	"sync/atomic"
	"testing"
	"time"

	"narrowgauge/analysis"
)

// held is an analysis that waits for a channel of its own at each of its first calls, whatever
// its context says.
func held(gates ...chan struct{}) func(ctx context.Context, in *analysis.Input) (facts, error) {
	var calls atomic.Int32
	return func(_ context.Context, in *analysis.Input) (facts, error) {
		if n := int(calls.Add(1)); n <= len(gates) {
			<-gates[n-1]
		}
		t := &toy{in: in, texts: map[string]string{}}
		t.visit(in.Path, in.File, 0)
		return t, nil
	}
}

func asking(c *client, uri string) int {
	return c.start("textDocument/documentSymbol", obj{"textDocument": obj{"uri": uri}})
}

// TestAnswerOfThen holds that a question is answered from the state that it has found, however
// often files change that its document includes: it does not wait for the analyses of after that.
func TestAnswerOfThen(t *testing.T) {
	first, later := make(chan struct{}), make(chan struct{})
	dir := t.TempDir()
	root, part := fileURI(filepath.Join(dir, "a.s")), fileURI(filepath.Join(dir, "b.inc"))
	shared := newSlots()
	c := dial(t, Options{analyze: held(first, later, later, later, later, later), answerWithin: time.Hour, slots: shared})
	t.Cleanup(func() { close(later) })
	c.initialize(allCaps(), nil)
	c.open(root, 1, `include "b.inc"`)
	id := asking(c, root)
	for waiting := false; !waiting; time.Sleep(time.Millisecond) {
		shared.mu.Lock()
		waiting = len(shared.hurried) > 0
		shared.mu.Unlock()
	}
	for range 3 {
		c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"cpu": "cortex-m0"}})
		c.notify("workspace/didChangeConfiguration", obj{"settings": obj{"cpu": "cortex-m3"}})
	}
	c.open(part, 1, "bad")
	c.reached()
	close(first)
	if m := c.reply(id); m.Error != nil {
		t.Errorf("the answer is error %d %s", m.Error.Code, m.Error.Message)
	}
}

// TestOwnChange holds that a question ends at once when its document changes or is closed,
// whether or not the analysis notices.
func TestOwnChange(t *testing.T) {
	for _, change := range []func(c *client){
		func(c *client) { c.replace(doc, 2, "bad") },
		func(c *client) { c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": doc}}) },
	} {
		gate := make(chan struct{})
		c := dial(t, Options{analyze: held(gate, gate, gate), answerWithin: time.Hour})
		c.initialize(allCaps(), nil)
		c.open(doc, 1, "ok")
		id := asking(c, doc)
		c.reached()
		change(c)
		if m := c.reply(id); m.Error == nil || m.Error.Code != -32801 {
			t.Errorf("the answer is %s, %v", m.Result, m.Error)
		}
		close(gate)
	}
}

// TestGivenUp holds that a question that is asked by the way is given up when its document takes
// too long, that one that somebody waits for is not, and that the client is told to ask again
// once there is an answer.
func TestGivenUp(t *testing.T) {
	gate := make(chan struct{})
	c := dial(t, Options{analyze: held(gate), answerWithin: time.Millisecond})
	caps := allCaps()
	caps["workspace"] = obj{"semanticTokens": obj{"refreshSupport": true}}
	c.initialize(caps, nil)
	c.open(doc, 1, "ok")
	patient := c.start("textDocument/diagnostic", obj{"textDocument": obj{"uri": doc}})
	for _, method := range []string{"textDocument/documentSymbol", "textDocument/foldingRange", "textDocument/semanticTokens/full"} {
		if m := c.reply(c.start(method, obj{"textDocument": obj{"uri": doc}})); m.Error == nil || m.Error.Code != -32801 {
			t.Errorf("%s: the answer is %s, %v", method, m.Result, m.Error)
		}
	}
	close(gate)
	if m := c.reply(patient); m.Error != nil {
		t.Errorf("error %d %s for the one that waits", m.Error.Code, m.Error.Message)
	}
	c.find("a request to ask again", func(m incoming) bool { return m.Method == "workspace/semanticTokens/refresh" })
	for method := range unhurried {
		if requests[method] == nil {
			t.Errorf("no request %s", method)
		}
	}
}

// TestPatience holds that a large text has its time.
func TestPatience(t *testing.T) {
	gate := make(chan struct{})
	c := dial(t, Options{analyze: held(gate), answerWithin: time.Nanosecond})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "ok"+string(slices.Repeat([]byte(" "), 8<<20))) // 16 s
	id := asking(c, doc)
	c.reached()
	time.AfterFunc(20*time.Millisecond, func() { close(gate) })
	if m := c.reply(id); m.Error != nil {
		t.Errorf("error %d %s", m.Error.Code, m.Error.Message)
	}
}
