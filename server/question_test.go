package server

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
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

// TestMakesWay holds that who asks himself waits for longer than others, but not while another
// document waits for the processors.
func TestMakesWay(t *testing.T) {
	gate := make(chan struct{})
	shared := newSlots()
	c := dial(t, Options{analyze: held(gate), answerWithin: time.Millisecond, slots: shared})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, "ok")
	id := c.start("textDocument/references", obj{"textDocument": obj{"uri": doc}, "position": pos(0, 0), "context": obj{}})
	c.reached()
	time.Sleep(4 * askAgain)
	shared.mu.Lock()
	shared.waiting = append(shared.waiting, &waiter{key: "another", ready: make(chan struct{})})
	shared.mu.Unlock()
	if m := c.reply(id); m.Error == nil || m.Error.Message != errBusy.Error() {
		t.Errorf("the answer is %s, %v", m.Result, m.Error)
	}
	shared.mu.Lock()
	shared.waiting = nil
	shared.mu.Unlock()
	close(gate) // what it waited for goes on
	if m := c.reply(c.start("textDocument/references", obj{"textDocument": obj{"uri": doc}, "position": pos(0, 0), "context": obj{}})); m.Error != nil {
		t.Errorf("asked again, the answer is %v", m.Error)
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

// partly offers one action, and the rest once its context ends.
type partly struct{ toy }

func (p *partly) Actions(ctx context.Context, _ analysis.Span) []analysis.Action {
	if !strings.Contains(p.in.File.Text(), "quick") {
		<-ctx.Done()
	}
	if strings.Contains(p.in.File.Text(), "nothing") {
		return nil
	}
	return []analysis.Action{{Title: "make it good", Rewrite: "good", Code: "bad", Edits: []analysis.Edit{{New: "good"}}}}
}

// TestActionsInTime holds that code actions that an editor asks for by the way are those that are
// proven in time, or else none, and that somebody who asks himself waits as long as it takes.
func TestActionsInTime(t *testing.T) {
	shared := newSlots()
	c := dial(t, Options{answerWithin: 20 * time.Millisecond, slots: shared, analyze: func(_ context.Context, in *analysis.Input) (facts, error) {
		return &partly{toy{in: in, texts: map[string]string{}}}, nil
	}})
	c.initialize(allCaps(), nil)
	ask := func(uri string, kind int, only ...string) int {
		return c.start("textDocument/codeAction", obj{"textDocument": obj{"uri": uri}, "range": rng(0, 0, 1, 0), "context": obj{"triggerKind": kind, "only": only}})
	}
	for uri, want := range map[string]string{"file:///box/a.s": "make it good", "file:///box/b.s": "", "file:///box/c.s": "make it good"} {
		c.open(uri, 1, map[string]string{"file:///box/a.s": "slow", "file:///box/b.s": "slow nothing", "file:///box/c.s": "quick"}[uri])
		c.findings(uri, 1, 0)
		m := c.reply(ask(uri, 2))
		if got := m.Error == nil && strings.Contains(string(m.Result), "make it good"); got != (want != "") || !got && (m.Error == nil || m.Error.Message != errBusy.Error()) {
			t.Errorf("%s: the answer is %s, %v", uri, m.Result, m.Error)
		}
	}
	var patient int
	for _, id := range []int{ask("file:///box/a.s", invoked), ask("file:///box/b.s", 2, kindQuickFix)} {
		time.Sleep(60 * time.Millisecond)
		c.notify("$/cancelRequest", obj{"id": id})
		if m := c.reply(id); m.Error == nil || m.Error.Code != -32800 {
			t.Errorf("who asks himself, or for one kind, has the answer %s, %v before it is there", m.Result, m.Error)
		}
	}

	// All slots are taken: what is asked by the way is given up, the other has its answer later.
	var releases []func()
	for i := range shared.most + 1 {
		release, err := shared.acquire(context.Background(), docKey(fmt.Sprint(i)), false)
		if err != nil {
			t.Fatal(err)
		}
		releases = append(releases, release)
	}
	shared.mu.Lock()
	shared.spare = 0
	shared.mu.Unlock()
	patient = ask("file:///box/c.s", invoked)
	if m := c.reply(ask("file:///box/c.s", 2)); m.Error == nil || m.Error.Message != errBusy.Error() {
		t.Errorf("without a slot the answer is %s, %v", m.Result, m.Error)
	}
	for _, release := range releases {
		release()
	}
	if m := c.reply(patient); m.Error != nil || !strings.Contains(string(m.Result), "make it good") {
		t.Errorf("who asks himself has the answer %s, %v", m.Result, m.Error)
	}
}
