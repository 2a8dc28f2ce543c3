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

// TestGivesBackIn holds when memory goes back to the system: at once without a document; with one
// not again soon; and not while something is computed.
func TestGivesBackIn(t *testing.T) {
	s := &Server{slots: newSlots(), snap: &snapshot{docs: map[docKey]*document{}}}
	s.gaveBack.Store(time.Now().UnixNano())
	within := func(when string, least, most time.Duration) {
		t.Helper()
		if wait := s.givesBackIn(); wait < least || wait > most {
			t.Errorf("%s: it waits for %v, want %v to %v", when, wait, least, most)
		}
	}
	release, err := s.slots.acquire(t.Context(), doc, false)
	if err != nil {
		t.Fatal(err)
	}
	within("no document, while something is computed", giveBackAfter, giveBackAfter)
	s.snap.docs[doc] = &document{}
	within("just done", giveBackAfter+1, giveBackEvery)
	s.gaveBack.Store(time.Now().Add(-giveBackEvery).UnixNano())
	within("while something is computed", giveBackAfter, giveBackAfter)
	release()
	within("long ago", 0, 0)
	s.gaveBack.Store(time.Now().Add(giveBackAfter/2 - giveBackEvery).UnixNano())
	within("nearly", 1, giveBackAfter/2)
	delete(s.snap.docs, doc)
	within("no document", 0, 0)
}
