package server

import (
	"context"
	"testing"
	"time"
)

// TestReadingHurried holds that a question which waits for a source that is being read hurries
// that one, and waits no longer than it has patience.
func TestReadingHurried(t *testing.T) {
	s := &Server{slots: newSlots()}
	hurried := func(key docKey) int {
		s.slots.mu.Lock()
		defer s.slots.mu.Unlock()
		return s.slots.hurried[key]
	}
	if !s.takeReading(context.Background(), "a") {
		t.Fatal("the first one waits")
	}
	within, stop := context.WithCancel(context.Background())
	others := make(chan bool, 1)
	go func() { others <- s.takeReading(within, "b") }()
	asked, end := context.WithCancel(context.WithValue(context.Background(), questionKey{}, &question{}))
	questions := make(chan bool, 1)
	go func() { questions <- s.takeReading(asked, "c") }()
	for began := time.Now(); hurried("a") != 1; time.Sleep(time.Millisecond) {
		if time.Since(began) > patience {
			t.Fatalf("%d questions hurry what they wait for", hurried("a"))
		}
	}
	stop()
	if <-others {
		t.Error("one that has been given up reads")
	}
	if hurried("a") != 1 {
		t.Error("somebody else than the question hurries it")
	}
	end()
	if <-questions {
		t.Error("a question that has ended reads")
	}
	if hurried("a") != 0 {
		t.Error("nobody waits any more, and it is hurried")
	}
	<-s.catalog.busy
	if !s.takeReading(context.Background(), "d") || s.catalog.reading != "d" {
		t.Error("nobody reads, and one waits")
	}
}
