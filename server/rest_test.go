package server

import (
	"testing"
	"time"
)

// TestRest holds that a server rests in a pause and after it, and begins anew with each message; and
// that it tells how large the largest document is.
func TestRest(t *testing.T) {
	rests, sizes := make(chan time.Duration, 100), make(chan int, 10)
	c := dial(t, Options{Rest: func(quiet time.Duration) { rests <- quiet }, Largest: func(size int) { sizes <- size }, analyze: toyAnalyze})
	c.initialize(allCaps(), nil)
	expect := func(want time.Duration) {
		t.Helper()
		select {
		case got := <-rests:
			if got != want {
				t.Fatalf("it rests after %v, want %v", got, want)
			}
		case <-time.After(patience):
			t.Fatalf("it does not rest after %v", want)
		}
	}
	c.open(doc, 1, "ok")
	c.open("file:///box/short.s", 1, "-")
	c.notify("textDocument/didClose", obj{"textDocument": obj{"uri": doc}})
	c.open(doc, 1, "ok")
	for i, want := range []int{2, 2, 1, 2} {
		if got := <-sizes; got != want {
			t.Errorf("step %d: the largest document has %d bytes, want %d", i, got, want)
		}
	}
	for drained := false; !drained; { // what was between the messages so far
		select {
		case quiet := <-rests:
			drained = quiet == restAfter
		case <-time.After(patience):
			t.Fatal("it does not rest")
		}
	}
	for version := 2; version < 4; version++ {
		c.replace(doc, version, "bad")
		expect(pauseAfter)
		expect(restAfter)
	}
	select {
	case quiet := <-rests:
		t.Errorf("it rests again, after %v", quiet)
	case <-time.After(2 * restAfter):
	}
}
