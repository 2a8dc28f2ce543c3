package server

import (
	"testing"
	"time"
)

// TestRest holds that a server rests in a pause and after it, and begins anew with each message; and
// that it tells the sizes of documents that are opened.
func TestRest(t *testing.T) {
	rests, sizes := make(chan time.Duration, 100), make(chan int, 10)
	c := dial(t, Options{Rest: func(quiet time.Duration) { rests <- quiet }, Opened: func(size int) { sizes <- size }, analyze: toyAnalyze})
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
	if got := <-sizes; got != len("ok") {
		t.Errorf("a document of %d bytes is opened", got)
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
