package server

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"narrowgauge/analysis"
	"narrowgauge/isa/reftest"
)

// One document never has all slots, and those that wait come in turns.
func TestSlots(t *testing.T) {
	s := newSlots()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	var mine []func()
	for range s.most {
		release, err := s.acquire(ctx, "a.s", false)
		if err != nil {
			t.Fatal(err)
		}
		mine = append(mine, release)
	}
	const more = 50
	order := make(chan string, 2*more)
	turn := func(key docKey) {
		release, err := s.acquire(ctx, key, false)
		if err == nil {
			order <- string(key)
			release()
		}
	}
	waits := func(n int) {
		for len(s.queue()) < n {
			time.Sleep(time.Millisecond)
		}
	}
	for range more {
		go turn("a.s")
	}
	waits(more)
	// All that a.s may have is taken, and one slot is left for others.
	turn("b.s")
	if got := <-order; got != "b.s" {
		t.Errorf("%s was served, though it has all it may have", got)
	}
	blocked, stop := context.WithCancel(ctx)
	end := make(chan error)
	go func() { _, err := s.acquire(blocked, "a.s", false); end <- err }()
	waits(more + 1)
	stop()
	if err := <-end; err == nil || len(s.queue()) != more {
		t.Errorf("cancelled while it waited: %v, and %d still wait", err, len(s.queue()))
	}
	for _, release := range mine {
		release()
		release() // once more does nothing
	}
	for range more {
		<-order
	}
	for len(s.queue()) > 0 || s.left() != s.most+1 {
		time.Sleep(time.Millisecond)
	}
}

// TestQuestionsFirst holds that what a question waits for is served before the rest, that the
// rest is not kept waiting for ever, and that no document has more than its share.
func TestQuestionsFirst(t *testing.T) {
	s := newSlots()
	s.free, s.most = 2, 1
	ctx := context.Background()
	byTheWay := &question{deadline: true}
	asked := context.WithValue(ctx, questionKey{}, byTheWay)
	first, err := s.acquire(ctx, "a.s", false)
	if err != nil {
		t.Fatal(err)
	}
	second, err := s.acquire(ctx, "b.s", false)
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var order []docKey
	queued := func(ctx context.Context, key docKey) {
		before := len(s.queue())
		go func() {
			release, err := s.acquire(ctx, key, false)
			if err == nil {
				mu.Lock()
				order = append(order, key)
				mu.Unlock()
				release()
			}
		}()
		for len(s.queue()) == before {
			time.Sleep(time.Millisecond)
		}
	}
	for i := range 12 {
		queued(ctx, docKey(fmt.Sprintf("rest%d.s", i)))
	}
	queued(ctx, "waited for.s")
	end := s.hurry("waited for.s", byTheWay)
	queued(asked, "asked.s")
	for i := range 30 {
		queued(asked, docKey(fmt.Sprintf("more%02d.s", i)))
	}
	queued(context.WithValue(ctx, questionKey{}, &question{}), "put.s")
	queued(ctx, "put for.s")
	endPut := s.hurry("put for.s", &question{})
	second() // the other slot stays taken: one after the other is served
	for len(s.queue()) > 0 {
		time.Sleep(time.Millisecond)
	}
	end()
	endPut()
	first()
	mu.Lock()
	defer mu.Unlock()
	at := func(key docKey) int { return slices.Index(order, key) }
	if at("put.s") != 0 || at("put for.s") != 1 {
		t.Errorf("what somebody has asked for himself comes %d and %d", at("put.s"), at("put for.s"))
	}
	if at("waited for.s") != 2 || at("asked.s") != 3 {
		t.Errorf("what questions wait for comes %d and %d", at("waited for.s"), at("asked.s"))
	}
	if n := at("rest0.s"); n != maxPassed {
		t.Errorf("the first of the rest comes %d, want %d", n, maxPassed)
	}
	if n := at("more29.s"); n != len(order)-1 {
		t.Errorf("the last question comes %d of %d", n, len(order))
	}
	if len(s.hurried)+len(s.pressed) > 0 {
		t.Errorf("%v and %v are hurried", s.hurried, s.pressed)
	}
}

// slotsFor is for tests: two slots and a spare one, which is kept that long at most. got takes one,
// wait has another one wait, and next is the one of these that is served next.
func slotsFor(t *testing.T, briefly time.Duration) (s *slots, got func(key docKey, brief bool) (release func()), wait func(key docKey, brief bool), next func() docKey) {
	s = newSlots()
	s.free, s.spare, s.most, s.briefly = 2, 1, 1, briefly
	served := make(chan docKey, 10)
	next = func() docKey {
		t.Helper()
		select {
		case key := <-served:
			return key
		case <-time.After(patience):
			t.Fatal("none is served")
			return ""
		}
	}
	got = func(key docKey, brief bool) func() {
		release, err := s.acquire(context.Background(), key, brief)
		if err != nil {
			t.Fatal(err)
		}
		return release
	}
	wait = func(key docKey, brief bool) {
		n := len(s.queue())
		go func() { got(key, brief); served <- key }()
		for len(s.queue()) == n {
			time.Sleep(time.Millisecond)
		}
	}
	return s, got, wait, next
}

// TestBrief holds that what is brief does not wait for what takes long, and that there is never
// more at once than there are slots.
func TestBrief(t *testing.T) {
	s, got, wait, next := slotsFor(t, time.Hour)
	first, second, third := got("a.s", false), got("b.s", true), got("c.s", true)
	wait("long.s", false)
	wait("d.s", true)
	wait("e.s", true)
	for _, x := range []struct {
		end  func()
		next docKey
	}{{third, "d.s"}, {first, "long.s"}, {second, "e.s"}} {
		waiting := len(s.queue())
		x.end()
		if key := next(); key != x.next || len(s.queue()) != waiting-1 {
			t.Errorf("%s is served, and %d wait; want %s and %d", key, len(s.queue()), x.next, waiting-1)
		}
	}
	if n := len(s.queue()); n > 0 {
		t.Errorf("%d wait", n)
	}
}

// TestOverrun holds that what takes longer than expected has its slot from those for all: the spare
// one is free for others, but not for more at once than there are slots.
func TestOverrun(t *testing.T) {
	s, got, wait, next := slotsFor(t, time.Nanosecond)
	overrun := func() {
		t.Helper()
		start := time.Now()
		for spare := 0; spare == 0; time.Sleep(time.Millisecond) {
			s.mu.Lock()
			spare = s.spare
			s.mu.Unlock()
			if time.Since(start) > patience {
				t.Fatal("what takes long keeps the spare slot")
			}
		}
	}
	waits := func(want int, when string) {
		t.Helper()
		if n := len(s.queue()); n != want {
			t.Errorf("%s %d wait, want %d", when, n, want)
		}
	}
	first, second, third := got("a.s", false), got("b.s", false), got("c.s", true)
	overrun()
	wait("d.s", true)
	first()
	waits(0, "with two that take long")
	next()
	overrun()
	wait("long.s", false)
	second()
	waits(1, "with two that take long, one of them not expected to,")
	third()
	waits(0, "with one")
	next()
}

func (s *slots) queue() []*waiter { s.mu.Lock(); defer s.mu.Unlock(); return s.waiting }
func (s *slots) left() int        { s.mu.Lock(); defer s.mu.Unlock(); return s.free }

// A document whose analysis takes long keeps no other one waiting: neither findings nor
// answers.
func TestSlowNeighbour(t *testing.T) {
	g := newGate("hold")
	c := g.client(t)
	slow, quick := "file:///box/a.s", "file:///box/b.s"
	c.open(slow, 1, "hold bad")
	<-g.began
	c.open(quick, 1, "bad bad")
	c.findings(quick, 1, 2)
	for version := range int32(20) {
		c.replace(quick, int(version)+2, "bad")
		c.findings(quick, int(version)+2, 1)
		c.reply(c.start("textDocument/hover", at(quick, 0, 1)))
	}
	g.set("")
	c.findings(slow, 1, 1)
}

// A client is sent so many findings of a document, errors first, and how many are left
// out.
func TestManyFindings(t *testing.T) {
	c := dial(t, Options{analyze: func(_ context.Context, in *analysis.Input) (facts, error) {
		n := strings.Count(in.File.Text(), "\n")
		return &listed{toy: toy{in: in, texts: map[string]string{}}, n: n}, nil
	}})
	c.initialize(allCaps(), nil)
	c.open(doc, 1, strings.Repeat("\n", maxPublished))
	c.findings(doc, 1, maxPublished)
	c.open("file:///other.s", 1, strings.Repeat("\n", 3*maxPublished))
	p := c.findings("file:///other.s", 1, maxPublished+1)
	errors := 0
	for _, d := range p.Diagnostics {
		if d.Severity == 1 {
			errors++
		}
	}
	last := p.Diagnostics[maxPublished]
	if want := (3*maxPublished + 9) / 10; errors != want {
		t.Errorf("%d errors are shown, want all %d", errors, want)
	}
	if !strings.Contains(last.Message, fmt.Sprint(2*maxPublished)) {
		t.Errorf("the last one says %q", last.Message)
	}
	for i := 1; i < maxPublished; i++ {
		if a, b := p.Diagnostics[i-1].Range.Start.Line, p.Diagnostics[i].Range.Start.Line; a >= b {
			t.Fatalf("line %d comes before line %d", a, b)
		}
	}
}

// listed has a finding in every line, an error in every tenth.
type listed struct {
	toy
	n int
}

func (l *listed) Diagnostics() (out []analysis.Diagnostic) {
	for i := range l.n {
		d := analysis.Diagnostic{Code: "x", Message: "a finding", Severity: analysis.Warning}
		if i%10 == 0 {
			d.Severity = analysis.Error
		}
		d.Location = analysis.Location{Path: l.in.Path, Span: analysis.Span{Start: i, End: i}}
		out = append(out, d)
	}
	return out
}

// When documents are closed, the process gives their memory back.
func TestGiveBack(t *testing.T) {
	dir := t.TempDir()
	write(t, filepath.Join(dir, "lamps.inc"), strings.Repeat("\t.equ LAMP, 1\n", 2_000))
	c := dial(t, Options{})
	c.initialize(allCaps(), obj{"rootUri": fileURI(dir)})
	heap := func() int {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return int(m.HeapAlloc)
	}
	uri := func(i int) string { return fileURI(filepath.Join(dir, fmt.Sprintf("p%d.s", i))) }
	text := "\t.syntax unified\n\t.thumb\n\t.include \"lamps.inc\"\n" + strings.Repeat("\tadds r0, #1\n\tadds r1, r0\n", 300)
	before := heap()
	files := reftest.Size(100, 300, 300)
	for i := range files {
		c.open(uri(i), 1, text)
		c.findings(uri(i), 1, 0)
	}
	c.mu.Lock()
	c.log = nil // ours
	c.mu.Unlock()
	open := heap()
	for i := range files {
		c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": uri(i)}})
	}
	c.reached()
	const most = 10 << 20
	for start := time.Now(); heap() > before+most; time.Sleep(100 * time.Millisecond) {
		if time.Since(start) > patience {
			t.Fatalf("%d MB before, %d MB with %d documents, %d MB after they are closed", before>>20, open>>20, files, heap()>>20)
		}
	}
	t.Logf("%d MB before, %d MB with %d documents, %d MB after they are closed", before>>20, open>>20, files, heap()>>20)
}
